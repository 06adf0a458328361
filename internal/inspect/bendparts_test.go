package inspect

import (
	"math"
	"slices"
	"testing"
)

// How many times more than arcs a crack may hide that turns so: once, times 1 + sqrt(2/n), for n turns
// that are alike, to the last rounding too; five times for turns to and fro; and never less than a
// sine with these turns hides, by its own length (the series is beside the function).
func TestWhatTurnsMayHide(t *testing.T) {
	few := func(n int) float64 { return 1 + math.Sqrt(2/float64(n)) }
	for _, c := range []struct {
		turns []float64
		want  float64
	}{
		{nil, few(1)}, {[]float64{0.3}, few(1)}, {[]float64{0, 0}, few(2)}, {[]float64{0.3, 0.3, 0.3, 0.3}, few(4)}, {[]float64{0.3, 0.3, math.Nextafter(0.3, 1), 0.3}, few(4)},
		{[]float64{0.3, -0.3, 0.3, -0.3}, 5 * few(4)}, {[]float64{0.2, -0.2}, 5 * few(2)},
		{[]float64{0.2, 0.1}, few(2) * (1 + 4*0.01/0.025)}, // difference 0.1; mean square 0.025
		{[]float64{0.1, 0.2, 0.3}, few(3) * (1 + 4*0.01/(0.14/3))},
	} {
		near(t, "turns", waveFactor(c.turns), c.want, 1e-9)
	}
	for q := 0.05; q < math.Pi/2; q += 0.05 { // half of what the phase goes on by
		var turns []float64
		for k := range 4000 {
			turns = append(turns, 0.01*math.Sin(2*q*float64(k)))
		}
		s2 := math.Sin(q) * math.Sin(q)
		if got, sine := waveFactor(turns)/few(4000), 3*(q*q-s2)/(s2*s2); got < sine*(1-1e-3) {
			t.Errorf("half a step of %g: %g, a sine hides %g", q, got, sine)
		}
	}
}

// The ends and every m-th point between, from an offset on, none within half of m of an end. Against
// every point of small traces.
func TestEveryOtherPoint(t *testing.T) {
	for n := 2; n < 14; n++ {
		var x []flat
		for k := range n {
			x = append(x, flat{float64(k), 0})
		}
		for _, m := range []int{1, 2, 4} {
			for o := range m {
				want := []flat{x[0]}
				for k := 1; k+1 < n; k++ {
					if k%m == o && 2*k >= m && 2*(n-1-k) >= m {
						want = append(want, x[k])
					}
				}
				want = append(want, x[n-1])
				if got := every(x, m, o); !slices.Equal(got, want) {
					t.Errorf("%d points, each %d from %d: %v, want %v", n, m, o, got, want)
				}
			}
		}
	}
}

// arc is n points on a circle of radius 50 mm, so many radians from one to the next.
func arc(n int, step float64) (out []flat) {
	for k := range n {
		sin, cos := math.Sincos(step * float64(k))
		out = append(out, flat{50 * sin, 50 * (1 - cos)})
	}
	return out
}

// What points show: on a line their ways, each less what noise adds to it, s²/c, and never less than
// nothing; on an arc with exact points the ways and arcs over them, 1 + sqrt(2/n) times, so that of
// the arc nothing is missing; of ways to and fro no more than a tenth more.
func TestLengthThatPointsShow(t *testing.T) {
	line := []flat{{0, 0}, {10, 0}, {14, 0}, {14, 0}, {20, 0}}
	near(t, "exact points on a line", shown(line, 0), 20, 1e-12)
	near(t, "noisy points on a line", shown([]flat{{0, 0}, {10, 0}, {14, 0}}, 2), (10-0.4)+(4-1), 1e-12)
	near(t, "nothing but noise", shown([]flat{{0, 0}, {10, 0}, {11, 0}}, 2), 10-0.4, 1e-12)
	near(t, "two points", shown([]flat{{0, 0}, {10, 0}}, 1), 9.9, 1e-12)
	for _, n := range []int{4, 9, 30} {
		x := arc(n, 0.1)
		ways := float64(n-1) * 100 * math.Sin(0.05)
		arcs := float64(n-1) * math.Pow(100*math.Sin(0.05), 3) * math.Pow(0.1/(100*math.Sin(0.05)), 2) / 24
		near(t, "an arc", shown(x, 0), ways+(1+math.Sqrt(2/float64(n-2)))*arcs, 1e-9)
		if whole := 50 * 0.1 * float64(n-1); shown(x, 0) < whole-1e-4*whole/float64(n) {
			t.Errorf("%d points of an arc of %g mm show %g", n, whole, shown(x, 0))
		}
		near(t, "missing of an arc", missing(x, ways, 0, 0.001), (1+math.Sqrt(2/float64(n-2)))*arcs, 1e-9)
	}
	x := arc(9, 0.5)
	if all, again := shown(x, 0), shown(append(x[:1:1], x...), 0); again < all-0.5*all/8 || again < 1.008*400*math.Sin(0.25) {
		t.Errorf("an arc shows %g, with its first point twice %g", all, again)
	}
	zigzag := []flat{{0, 0}, {3, 4}, {6, 0}, {9, 4}, {12, 0}}
	near(t, "to and fro", shown(zigzag, 0), 20*1.1, 1e-12)
	near(t, "nothing is missing of what is longer", missing(zigzag, 30, 0, 1), 0, 0)
	near(t, "nothing of two points", missing([]flat{{0, 0}, {9, 0}}, 1, 0, 1), 0, 0)
	// With noise a turn counts less by what noise adds to its square: here 0.1 rad and s = 0.1 mm at
	// ways of 5 mm, s² (1/25 + 1/25 + 4/25).
	x = arc(3, 0.1)
	c := 100 * math.Sin(0.05)
	noise := 0.01 * (6 / (c * c))
	near(t, "a noisy turn", shown(x, 0.1), 2*(c-0.01/c)+2*(1+math.Sqrt2)*c*c*c*(0.01-noise)*4/(4*c*c)/24, 1e-9)
}

// Where noise would hide what every point shows, every second or fourth serves: when what it adds
// varies by more than half of the uncertainty of the length, and there are points enough.
func TestWhichPointsShowWhatIsMissing(t *testing.T) {
	wave := make([]flat, 17) // a zigzag of 1 mm from point to point, 2 mm apart
	for k := range wave {
		wave[k] = flat{2 * float64(k), float64(k % 2)}
	}
	all, second := shown(wave, 0.2), (shown(every(wave, 2, 0), 0.2)+shown(every(wave, 2, 1), 0.2))/2
	total := 16 * math.Sqrt(5)
	varies := 2 * math.Sqrt(16) * 0.04 / (total / 16) // mm
	near(t, "every point", missing(wave, 30, 0.2, 2*varies+1e-9), all-30, 1e-9)
	near(t, "every second point", missing(wave, 30, 0.2, 2*varies-1e-9), max(0, second-30), 1e-9)
	if all-second < 1 {
		t.Errorf("every point shows %g mm, every second %g", all, second)
	}
	few := wave[:4] // too few for every second one
	near(t, "few points", missing(few, 1, 0.2, 0.001), shown(few, 0.2)-1, 1e-9)
}
