package inspect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// extruded is a wall whose section is a closed line in x and z, drawn out along y:
// it can be laid out in the plane (way along the section, y) without any error.
type extruded struct {
	name    string
	surf    *mesh.Surface
	section []geom.Vec // y = 0
	so      []float64  // way along the section to each point
	from    float64    // cracks lie on this part of the section
	to      float64
	long    float64 // along y
}

// draw makes the mesh of a section whose first n points are the face that cracks lie on.
func drawOut(t testing.TB, name string, section []geom.Vec, n int, long, cell float64) *extruded {
	t.Helper()
	var fine []geom.Vec
	e := &extruded{name: name, long: long}
	for i, p := range section {
		q := section[(i+1)%len(section)]
		parts := max(1, int(math.Ceil(p.Dist(q)/cell)))
		if i == n-1 {
			e.to = float64(len(fine))
		}
		for k := range parts {
			fine = append(fine, p.Lerp(q, float64(k)/float64(parts)))
		}
	}
	rows := int(math.Ceil(long / cell))
	m := &mesh.Mesh{}
	for _, p := range fine {
		for j := range rows + 1 {
			m.Points = append(m.Points, geom.Vec{p[0], long * float64(j) / float64(rows), p[2]})
		}
	}
	for i := range fine {
		a0, b0 := i*(rows+1), (i+1)%len(fine)*(rows+1)
		for j := range rows {
			a, b := int32(a0+j), int32(b0+j)
			m.Faces = append(m.Faces, [3]int32{a, b, b + 1}, [3]int32{a, b + 1, a + 1})
			m.Label = append(m.Label, 1, 1)
		}
	}
	end := int(e.to)
	e.section = append(fine[:len(fine):len(fine)], fine[0])
	e.so = make([]float64, len(e.section))
	for i := 1; i < len(e.section); i++ {
		e.so[i] = e.so[i-1] + e.section[i-1].Dist(e.section[i])
	}
	e.from, e.to = 10, e.so[end]-10
	s, err := mesh.NewSurface(m)
	if err != nil {
		t.Fatal(err)
	}
	e.surf = s
	return e
}

// at is the place so mm along the section and y mm along the wall.
func (e *extruded) at(so, y float64) geom.Vec {
	i := 1
	for i < len(e.so)-1 && e.so[i] < so {
		i++
	}
	p := e.section[i-1].Lerp(e.section[i], (so-e.so[i-1])/(e.so[i]-e.so[i-1]))
	p[1] = y
	return p
}

// walls is a flat wall, a curved one and one with ribs 4 mm thick and 25 mm high.
func walls(t testing.TB) []*extruded {
	t.Helper()
	const wall = 5.0
	flat := []geom.Vec{{0, 0, 0}, {450, 0, 0}, {450, 0, -wall}, {0, 0, -wall}}
	var bow, ribbed []geom.Vec
	for k := range 46 {
		sin, cos := math.Sincos(math.Pi * (1 - float64(k)/45))
		bow = append(bow, geom.Vec{140 * cos, 0, 140 * sin})
	}
	for k := range 46 {
		sin, cos := math.Sincos(math.Pi * float64(k) / 45)
		bow = append(bow, geom.Vec{135 * cos, 0, 135 * sin})
	}
	for x := 0.0; x < 360; x += 60 {
		ribbed = append(ribbed, geom.Vec{x, 0, 0}, geom.Vec{x + 28, 0, 0}, geom.Vec{x + 28, 0, 25}, geom.Vec{x + 32, 0, 25}, geom.Vec{x + 32, 0, 0})
	}
	ribbed = append(ribbed, geom.Vec{360, 0, 0}, geom.Vec{360, 0, -wall}, geom.Vec{0, 0, -wall})
	return []*extruded{
		drawOut(t, "flat", flat, 2, 320, 10),
		drawOut(t, "curved", bow, 46, 320, 10),
		drawOut(t, "ribbed", ribbed, len(ribbed)-2, 320, 10),
	}
}

// long draws a crack of 100 to 400 mm on the wall, straight, on an arc or wavy, as
// places of the layout every 0.5 mm.
func (e *extruded) crack(r *rand.Rand, kind string) [][2]float64 {
	for {
		x, y := e.from+(e.to-e.from)*r.Float64(), 10+(e.long-20)*r.Float64()
		head, long := 2*math.Pi*r.Float64(), 100+300*r.Float64()
		bend := (r.Float64() - 0.5) / 60
		wave, phase := 60+60*r.Float64(), 2*math.Pi*r.Float64()
		var out [][2]float64
		so := 0.0
		for ; so <= long && x > e.from && x < e.to && y > 10 && y < e.long-10; so += 0.5 {
			out = append(out, [2]float64{x, y})
			h := head
			switch kind {
			case "arc":
				head += 0.5 * bend
			case "wavy":
				h += 0.35 * math.Sin(2*math.Pi*so/wave+phase)
			}
			x, y = x+0.5*math.Cos(h), y+0.5*math.Sin(h)
		}
		if so > long {
			return out
		}
	}
}

// noise moves a click: by std in all directions, or within the surface by within and
// off it by off.
type noise struct {
	name        string
	off, within float64
	said        float64
}

var noises = []noise{
	{"2 mm, stated", 2, 2, 2},
	{"2 mm, 0.6 stated", 2, 2, 0.6},
	{"2 mm off the surface only, 0.6 stated", 2, 0.6, 0.6},
	{"0.6 mm, stated", 0.6, 0.6, 0.6},
}

// clicked is points about step mm apart along a line of the layout, moved by noise.
func (e *extruded) clicked(r *rand.Rand, line [][2]float64, step float64, by noise) []geom.Vec {
	n := max(2, int(math.Round(0.5*float64(len(line)-1)/step)))
	var out []geom.Vec
	for k := range n + 1 {
		p := line[(len(line)-1)*k/n]
		at := e.at(p[0], p[1])
		right := e.at(p[0]+0.01, p[1]).Sub(at).Unit()
		up := right.Cross(geom.Vec{0, -1, 0})
		move := right.Scale(by.within * r.NormFloat64()).Add(up.Scale(by.off * r.NormFloat64()))
		out = append(out, at.Add(move).Add(geom.Vec{0, by.within * r.NormFloat64(), 0}))
	}
	return out
}

// Long traces are measured whatever their noise is: of cracks of 100 to 400 mm on a
// flat, a curved and a ribbed wall, clicked every 5 to 20 mm with 2 mm of noise, no more
// than one in a hundred is refused, then with a sentence that names the points; and
// whatever noise was stated, the one-sided 95 % bound of the length is too short in at
// most 8 %. Constructed: the walls can be laid out in the plane.
func TestNoisyTracesAreMeasured(t *testing.T) {
	each, steps, some := 50, []float64{5, 10, 20}, noises
	if os.Getenv("FETTLE_CAMPAIGN") == "" { // what was refused most often
		each, steps, some = 1, steps[:1], noises[1:2]
	}
	for _, e := range walls(t) {
		for _, by := range some {
			t.Run(e.name+" "+by.name, func(t *testing.T) {
				drawn, refused, short, long, told, u, miss := 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
				for _, step := range steps {
					for k, kind := range []string{"straight", "arc", "wavy"} {
						r := rand.New(rand.NewPCG(uint64(step)+100*uint64(k), uint64(len(e.name)+100*len(by.name))))
						for range each {
							line := e.crack(r, kind)
							drawn++
							res, notes, err := MeasureTrace(e.surf, TraceInput{Name: "F", Points: e.clicked(r, line, step, by), StdMM: by.said, WallMM: 5})
							if err != nil {
								refused++
								t.Logf("every %g mm, %s: %v", step, kind, err)
								if !strings.Contains(err.Error(), "point") {
									t.Errorf("refused without a point: %v", err)
								}
								continue
							}
							if has(notes, "inspect.points-rougher", "F") != nil {
								told++
							}
							truth := 0.5 * float64(len(line)-1)
							if res.Length.MM+1.645*res.Length.Std < truth {
								short++
							}
							if res.Length.MM-1.645*res.Length.Std > truth {
								long++
							}
							u += res.Length.Std
							miss += res.Length.MM - truth
						}
					}
				}
				n := drawn - refused
				t.Logf("%.0f traces: refused %.1f %%, too short %.1f %%, too long %.1f %%, mean error %.1f, mean u %.1f, told to be rougher %.0f %%",
					drawn, 100*refused/drawn, 100*short/n, 100*long/n, miss/n, u/n, 100*told/n)
				if refused > 0.02*drawn+3*math.Sqrt(0.02*drawn) {
					t.Errorf("%.0f of %.0f are refused", refused, drawn)
				}
				if short > 0.08*n+3*math.Sqrt(0.08*0.92*n) {
					t.Errorf("the bound is too short in %.0f of %.0f", short, n)
				}
			})
		}
	}
}

// One click that contradicts the others is refused, and named: it does not pass as noise.
func TestOneWildPointIsNamed(t *testing.T) {
	e := walls(t)[0]
	for seed := range uint64(campaign(40, 2000)) {
		r := rng(seed)
		clicks := e.clicked(r, e.crack(r, "arc"), 5+15*r.Float64(), noise{"", 0.6, 0.6, 0.6})
		k := r.IntN(len(clicks))
		clicks[k][2] += 8 + 30*r.Float64()
		_, _, err := MeasureTrace(e.surf, TraceInput{Name: "F", Points: clicks, StdMM: 0.6, WallMM: 5})
		if want := fmt.Sprintf("point %d by", k+1); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("seed %d: of %d points one is %.1f mm off: %v, want it named: %s", seed, len(clicks), clicks[k][2], err, want)
		}
	}
}
