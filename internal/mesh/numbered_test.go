package mesh

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/geom"
)

// renumbered is a mesh whose face k comes first, whose corners begin elsewhere and whose points
// have other numbers.
func renumbered(m *Mesh, k int) *Mesh {
	n := len(m.Points)
	out := &Mesh{Points: make([]geom.Vec, n)}
	at := func(v int32) int32 { return int32((int(v) + n - k%n) % n) }
	for v, p := range m.Points {
		out.Points[at(int32(v))] = p
	}
	for f := range m.Faces {
		from := (f + k) % len(m.Faces)
		t := m.Faces[from]
		out.Faces = append(out.Faces, [3]int32{at(t[k%3]), at(t[(k+1)%3]), at(t[(k+2)%3])})
		if m.Label != nil {
			out.Label = append(out.Label, m.Label[from])
		}
	}
	return out
}

// answers is what is said of a mesh that does not hang on the numbers of its points and faces.
func answers(t *testing.T, m *Mesh, places []geom.Vec) map[string]string {
	t.Helper()
	out := map[string]string{}
	say := func(what string, x ...any) {
		for i := range x {
			switch v := x[i].(type) {
			case float64:
				x[i] = fmt.Sprintf("%.6g", math.Round(v*1e7)/1e7+0)
			case []float64:
				slices.Sort(v)
				x[i] = fmt.Sprintf("%.6g", v)
			case []string:
				slices.Sort(v)
				x[i] = strings.Join(v, "; ")
			}
		}
		out[what] = fmt.Sprintln(x...)
	}
	s := surfaceOf(t, m)
	lo, hi := m.Bounds()
	_, contacts, _ := m.Contacts(0)
	say("measures", m.AreaMM2(), m.VolumeMM3(), lo, hi, m.Faults(), contacts, m.SidesDoubt() == "", m.Cavities())
	var sites []Site
	for _, p := range places {
		site, d := s.Closest(p)
		sites = append(sites, site)
		say(fmt.Sprint("nearest to ", p), d)
	}
	d, err := s.ExactDistances(sites[:1], sites[1:], math.Inf(1))
	say("distances", append([]float64{}, d.Points...), d.Targets, d.Proven, err == nil)
	graph, err := s.GraphDistances(sites[1:2], 1e9)
	say("along edges", graph, err == nil)
	for k, b := range sites[1:] {
		p, err := s.ShortestPath(sites[0], b)
		say(fmt.Sprint("way to ", k), p.LengthMM, p.EdgeGraphMM, p.ChordMM, p.Proven, err == nil)
	}
	mid := lo.Lerp(hi, 0.47)
	for k, planes := range [][]Plane{{{geom.Vec{1, 0.1, 0.05}, mid[0] + 0.1*mid[1] + 0.05*mid[2]}}, {{geom.Vec{1, 0.1, 0.2}, mid[0] + 0.1*mid[1] + 0.2*mid[2]}, {geom.Vec{0.1, 1, 0.3}, 0.1*mid[0] + mid[1] + 0.3*mid[2]}}} {
		for _, w := range []*Window{nil, {lo.Sub(geom.Vec{1, 1, 1}), hi.Add(geom.Vec{1, 1, -0.2 * (hi[2] - lo[2])})}} {
			c, err := s.SectionWithin(planes, w, 1e-9)
			say(fmt.Sprint("section ", k, w != nil), c.LengthMM, len(c.Loops), c.FacesCrossed, c.Outer.AreaMM2, c.Rest.AreaMM2, c.Outer.VolumeMM3, c.Rest.VolumeMM3, c.VolumesExact, c.VolumesWithinMM3, c.Divides, c.Reasons, err == nil)
		}
	}
	gaps := s.Gaps()
	seams := []string{}
	for _, g := range gaps.Seams {
		seams = append(seams, fmt.Sprintf("%.6g long, %.6g to %.6g, %d %v", g.LengthMM, g.LeastMM, g.WidestMM, g.TJoints, g.Disagree))
	}
	say("openings", seams, len(gaps.TJoints), len(gaps.Edges), gaps.Whole)
	for _, tol := range []float64{0.05, 0.25} {
		mended, err := m.Mend(tol)
		if err != nil {
			t.Fatal(err)
		}
		why := []string{}
		for _, l := range mended.Left {
			why = append(why, l.Why)
		}
		moved := []float64{}
		for _, j := range mended.Joined {
			moved = append(moved, j.ApartMM, j.MovedMM())
		}
		say(fmt.Sprint("mended within ", tol), moved, len(mended.Divided), why, mended.After, mended.Mesh.AreaMM2(), len(mended.Still.Seams))
	}
	mm, ok := s.WallMM()
	ends := []string{}
	for _, e := range s.WallEnds(4, nil) {
		ends = append(ends, fmt.Sprintf("%.6g long, %.6g, %d faces", e.LengthMM, e.ThickMM, len(e.Faces)))
	}
	holes := []string{}
	for _, h := range s.Holes(30, 0.1) {
		holes = append(holes, fmt.Sprintf("radius %.5g and %.5g, %.5g deep, %d", h.RadiusMM, h.NarrowMM, h.DepthMM, h.N))
	}
	say("walls", mm, ok, ends, holes)
	rims := []string{}
	for _, r := range s.Rims(0.6, 0.01) {
		rims = append(rims, fmt.Sprintf("%.6g %v %v %v %d", r.LengthMM, r.Closed, r.Free, r.Hole, len(r.Points)))
	}
	regions := map[int32]int{}
	for _, l := range s.Regions(0.6) {
		regions[l]++
	}
	sizes := []float64{}
	for _, n := range regions {
		sizes = append(sizes, float64(n))
	}
	say("rims and regions", rims, sizes)
	borders := []float64{}
	for _, b := range s.LabelBorders() {
		borders = append(borders, geom.PolylineLength(b))
	}
	far, _ := s.DistanceToBorder(sites[0])
	say("labels", borders, far)
	c, err := s.CurveDistance(sites[:1], sites[1:2], 5)
	say("clearance", c.AtLeast, c.Below, err == nil)
	return out
}

// Whatever number a point or a face has, also the first, the same is said of the mesh: of
// small ones every face comes first once, of others some, in a campaign all.
func TestNumbersMeanNothing(t *testing.T) {
	r := rand.New(rand.NewPCG(121, 0))
	box := splitInFourFlat(boxMesh(6, 5, 4))
	for name, m := range map[string]*Mesh{
		"a box cut open": cutOpen(r, box, drawnCuts(r, box, 3, 6), 0.04, 0.2, 0.5),
		"a saw cut":      bluntSawCut(),
		"a wedge":        sawCut(func(x float64) float64 { return max(0, 6-x) / 10 }),
		"a hole":         stepped(8, 12, 0),
		"a void":         joined(boxMesh(8, 7, 6), insideOut(shifted(boxMesh(2, 2, 2), geom.Vec{1, 1.5, 2}))),
		"a book":         {Points: []geom.Vec{{0, 0, 0}, {9, 0, 0}, {4, 5, 0}, {4, -5, 1}, {4, -5, -1}, {12, 3, 2}}, Faces: [][3]int32{{0, 1, 2}, {1, 0, 3}, {1, 0, 4}, {1, 5, 2}}},
		"two that touch": {Points: []geom.Vec{{0, 0, 0}, {4, 0, 1}, {4, 3, 0}, {-3, 1, 2}, {-4, -3, 1}, {2, 5, 3}}, Faces: [][3]int32{{0, 1, 2}, {0, 3, 4}, {1, 5, 2}}},
	} {
		for f := range m.Faces {
			a, b, c := m.corners(f)
			if m.Label = append(m.Label, 1); a[0]+b[0]+c[0] > 9 {
				m.Label[f] = 2
			}
		}
		places := []geom.Vec{{0.6, 0.3, 0.2}, {5.1, 3.1, 3.9}, {3.2, 0.9, 1.1}}
		want := answers(t, m, places)
		for k := 1; k < len(m.Faces); k += 1 + len(m.Faces)/int(draws(16, 1000)) {
			got := answers(t, renumbered(m, k), places)
			for what, say := range want {
				if got[what] != say {
					t.Fatalf("%s from face %d on, %s: %s, want %s", name, k, what, got[what], say)
				}
			}
		}
	}
}
