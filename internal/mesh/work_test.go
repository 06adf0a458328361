package mesh

import (
	"math"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/halt"
)

// The filters of searches for ways and distances keep them small: so many windows, and steps of
// some windows each, as were counted when this was written, and no more than a fiftieth over.
// Counted, so that no clock is needed; the numbers have no other source. What the searches
// answer is held against other reckonings elsewhere.
func TestSearchesForWaysStaySmall(t *testing.T) {
	s := surfaceOf(t, bumpyTorus(48, 30, 7))
	frame := surfaceOf(t, cells([3][]float64{upTo(60, 4), upTo(40, 4), {0, 3, 7}}, func(p geom.Vec) bool { // with a window, and a step on one side of it
		return !(p[0] > 16 && p[0] < 40 && p[1] > 12 && p[1] < 28) && (p[2] < 3 || p[0] < 20)
	}))
	for name, c := range map[string]struct {
		s              *Surface
		windows, steps int
	}{"ring": {s, 42243, 4007}, "frame": {frame, 538, 597}} {
		s, windows, steps := c.s, 0, 0
		for k := range int32(5) {
			a, b := siteAtPoint(t, s, k*57), s.Site((int(k*131)+len(s.m.Faces)/2)%len(s.m.Faces), [3]float64{0.2, 0.3, 0.5})
			from, _ := s.anchor(a)
			to, _ := s.anchor(b)
			p, err := s.path(&from, &to)
			if err != nil {
				t.Fatal(err)
			}
			w := s.newWavefront(&from, &to, p.LengthMM)
			w.run(maxWindows)
			windows += int(w.windows.n)
			s.keepWays(w.ways)
			steps += asks(t, func(w *halt.Work) {
				_, _ = s.While(w).ExactDistances([]Site{a, b}, nil, math.Inf(1))
			})
			steps += asks(t, func(w *halt.Work) { _, _ = s.While(w).TargetDistances([]Site{a}, []Site{b}, math.Inf(1)) })
		}
		if windows > c.windows+c.windows/50 || steps > c.steps+c.steps/50 {
			t.Errorf("%s: %d windows and %d steps, were %d and %d", name, windows, steps, c.windows, c.steps)
		}
	}
}
