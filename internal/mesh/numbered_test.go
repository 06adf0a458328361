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

// answers is what is said of a mesh that does not hang on the numbers of its points and faces, nor
// on how large it is: it and the places are so many times as large, and lengths are told in that unit.
func answers(t *testing.T, m *Mesh, places []geom.Vec, unit float64) map[string]string {
	t.Helper()
	out := map[string]string{}
	mm := func(v float64) float64 { return v / unit }
	mm2 := func(v float64) float64 { return v / (unit * unit) }
	mm3 := func(v float64) float64 { return v / (unit * unit * unit) }
	every := func(v []float64) (out []float64) {
		for _, x := range v {
			out = append(out, mm(x))
		}
		return out
	}
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
	say("measures", mm2(m.AreaMM2()), mm3(m.VolumeMM3()), lo.Scale(1/unit), hi.Scale(1/unit), m.Faults(), contacts, m.SidesDoubt() == "", m.Cavities())
	var sites []Site
	for _, p := range places {
		site, d := s.Closest(p.Scale(unit))
		sites = append(sites, site)
		say(fmt.Sprint("nearest to ", p), mm(d))
	}
	d, err := s.ExactDistances(sites[:1], sites[1:], math.Inf(1))
	say("distances", every(d.Points), every(d.Targets), d.Proven, err == nil)
	graph, err := s.GraphDistances(sites[1:2], 1e9)
	say("along edges", every(graph), err == nil)
	for k, b := range sites[1:] {
		p, err := s.ShortestPath(sites[0], b)
		say(fmt.Sprint("way to ", k), mm(p.LengthMM), mm(p.EdgeGraphMM), mm(p.ChordMM), p.Proven, err == nil)
	}
	mid := lo.Lerp(hi, 0.47)
	for k, planes := range [][]Plane{{{geom.Vec{1, 0.1, 0.05}, mid[0] + 0.1*mid[1] + 0.05*mid[2]}}, {{geom.Vec{1, 0.1, 0.2}, mid[0] + 0.1*mid[1] + 0.2*mid[2]}, {geom.Vec{0.1, 1, 0.3}, 0.1*mid[0] + mid[1] + 0.3*mid[2]}}} {
		for _, w := range []*Window{nil, {lo.Sub(geom.Vec{unit, unit, unit}), hi.Add(geom.Vec{unit, unit, -0.2 * (hi[2] - lo[2])})}} {
			c, err := s.SectionWithin(planes, w, 1e-9*unit)
			say(fmt.Sprint("section ", k, w != nil), mm(c.LengthMM), len(c.Loops), c.FacesCrossed, mm2(c.Outer.AreaMM2), mm2(c.Rest.AreaMM2), mm3(c.Outer.VolumeMM3), mm3(c.Rest.VolumeMM3), c.VolumesExact, mm3(c.VolumesWithinMM3), c.Divides, c.Reasons, err == nil)
		}
	}
	gaps := s.Gaps()
	seams := []string{}
	for _, g := range gaps.Seams {
		seams = append(seams, fmt.Sprintf("%.6g long, %.6g to %.6g, %d %v", mm(g.LengthMM), mm(g.LeastMM), mm(g.WidestMM), g.TJoints, g.Disagree))
	}
	say("openings", seams, len(gaps.TJoints), len(gaps.Edges), gaps.Whole)
	for _, tol := range []float64{0.05, 0.25} {
		mended, err := m.Mend(tol * unit)
		if err != nil {
			t.Fatal(err)
		}
		why := []string{}
		for _, l := range mended.Left {
			why = append(why, l.Why)
		}
		moved := []float64{}
		for _, j := range mended.Joined {
			moved = append(moved, mm(j.ApartMM), mm(j.MovedMM()))
		}
		say(fmt.Sprint("mended within ", tol), moved, len(mended.Divided), why, mended.After, mm2(mended.Mesh.AreaMM2()), len(mended.Still.Seams))
	}
	wall, ok := s.WallMM()
	ends := []string{}
	for _, e := range s.WallEnds(4*unit, nil) {
		ends = append(ends, fmt.Sprintf("%.6g long, %.6g, %d faces", mm(e.LengthMM), mm(e.ThickMM), len(e.Faces)))
	}
	holes := []string{}
	for _, h := range s.Holes(30*unit, 0.1*unit) {
		holes = append(holes, fmt.Sprintf("radius %.5g and %.5g, %.5g deep, %d", mm(h.RadiusMM), mm(h.NarrowMM), mm(h.DepthMM), h.N))
	}
	say("walls", mm(wall), ok, ends, holes)
	rims := []string{}
	for _, r := range s.Rims(0.6, 0.01*unit) {
		round := ""
		if c := r.Circle; c != nil {
			round = fmt.Sprintf("radius %.6g", mm(c.RadiusMM))
		}
		rims = append(rims, fmt.Sprintf("%.6g %v %v %v %d %s", mm(r.LengthMM), r.Closed, r.Free, r.Hole, len(r.Points), round))
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
	say("labels", every(borders), mm(far))
	c, err := s.CurveDistance(sites[:1], sites[1:2], 5*unit)
	say("clearance", c.AtLeast, c.Below, err == nil)
	return out
}

// Whatever number a point or a face has, also the first, the same is said of the mesh: of
// small ones every face comes first once, of others some, in a campaign all.
func TestNumbersMeanNothing(t *testing.T) {
	for name, m := range awkwardOnes() {
		want := answers(t, m, threePlaces, 1)
		for k := 1; k < len(m.Faces); k += 1 + len(m.Faces)/int(draws(16, 1000)) {
			sameSaid(t, fmt.Sprintf("%s from face %d on", name, k), answers(t, renumbered(m, k), threePlaces, 1), want)
		}
	}
}

// Nor does the size, in powers of two: no length is held against a number of millimetres, but
// those that are given.
func TestSizeMeansNothing(t *testing.T) {
	for name, m := range awkwardOnes() {
		want, detail := answers(t, m, threePlaces, 1), details(t, m, 1)
		for _, unit := range []float64{0x1p-6, 0x1p6} {
			of := fmt.Sprintf("%s, %g times as large", name, unit)
			sameSaid(t, of, answers(t, scaled(m, unit), threePlaces, unit), want)
			sameSaid(t, of, details(t, scaled(m, unit), unit), detail)
		}
	}
}

func sameSaid(t *testing.T, of string, got, want map[string]string) {
	t.Helper()
	for what, say := range want {
		if got[what] != say {
			t.Errorf("%s, %s: %s, want %s", of, what, got[what], say)
		}
	}
}

var threePlaces = []geom.Vec{{0.6, 0.3, 0.2}, {5.1, 3.1, 3.9}, {3.2, 0.9, 1.1}}

// awkwardOnes are small meshes with seams, holes, voids and edges of three faces, labelled.
func awkwardOnes() map[string]*Mesh {
	r := rand.New(rand.NewPCG(121, 0))
	box := splitInFourFlat(boxMesh(6, 5, 4))
	all := map[string]*Mesh{
		"a box cut open": cutOpen(r, box, drawnCuts(r, box, 3, 6), 0.04, 0.2, 0.5),
		"a saw cut":      bluntSawCut(),
		"a wedge":        sawCut(func(x float64) float64 { return max(0, 6-x) / 10 }),
		"a hole":         stepped(8, 12, 0),
		"a washer":       washer(9, 2, 1, geom.Vec{4, 3, 2}),
		"a void":         joined(boxMesh(8, 7, 6), insideOut(shifted(boxMesh(2, 2, 2), geom.Vec{1, 1.5, 2}))),
		"a book":         {Points: []geom.Vec{{0, 0, 0}, {9, 0, 0}, {4, 5, 0}, {4, -5, 1}, {4, -5, -1}, {12, 3, 2}}, Faces: [][3]int32{{0, 1, 2}, {1, 0, 3}, {1, 0, 4}, {1, 5, 2}}},
		"two that touch": {Points: []geom.Vec{{0, 0, 0}, {4, 0, 1}, {4, 3, 0}, {-3, 1, 2}, {-4, -3, 1}, {2, 5, 3}}, Faces: [][3]int32{{0, 1, 2}, {0, 3, 4}, {1, 5, 2}}},
	}
	for _, m := range all {
		for f := range m.Faces {
			a, b, c := m.corners(f)
			if m.Label = append(m.Label, 1); a[0]+b[0]+c[0] > 9 {
				m.Label[f] = 2
			}
		}
	}
	return all
}

// details is what is said of a mesh to the bit, in units of its size: what hangs on the numbers
// of its points and faces too.
func details(t *testing.T, m *Mesh, unit float64) map[string]string {
	t.Helper()
	out := map[string]string{}
	s, back := surfaceOf(t, m), 1/unit
	say := func(what string, x ...any) { out[what] = fmt.Sprintln(x...) }
	places := func(list []geom.Vec) (out []geom.Vec) {
		for _, p := range list {
			out = append(out, p.Scale(back))
		}
		return out
	}
	var sites []Site
	for k, p := range threePlaces {
		site, _, ok := s.ClosestFacing(p.Scale(unit), geom.Vec{0.1, 0.2, 1}, 1.2, 8*unit)
		say(fmt.Sprint("facing ", k), site.Face, site.Bary, ok)
		site, _ = s.Closest(p.Scale(unit))
		sites = append(sites, site)
		hit, ok := s.FirstHit(p.Scale(unit), geom.Vec{0.1, -0.2, 0.3 - float64(k)})
		say(fmt.Sprint("met ", k), hit.Face, hit.Bary, hit.At.Scale(back), hit.DistMM*back, hit.Front, ok, len(s.Ray(p.Scale(unit), geom.Vec{1, 0.3, 0.2})))
	}
	var ways []Path
	for k, b := range sites[1:] {
		p, err := s.Path(sites[k], b)
		say(fmt.Sprint("path ", k), places(p.Points), p.Faces, p.LengthMM*back, p.Proven, err == nil)
		lengths := s.LabelLengths(p)
		for i := range lengths {
			lengths[i].LengthMM *= back
		}
		if ways = append(ways, p); err == nil {
			say(fmt.Sprint("labels of path ", k), lengths)
		}
	}
	if p, err := s.Through(ways); err == nil {
		say("through", places(p.Points), p.Faces, p.LengthMM*back)
	}
	smooth, err := s.SmoothLabels(0.6, 3*unit)
	say("smooth", smooth, err == nil)
	some := slices.Clone(m.Label)
	for f := range some {
		if f%3 > 0 {
			some[f] = 0
		}
	}
	say("filled", s.Fill(some, 0))
	for _, by := range []float64{1, -1} {
		region, err := s.ResizeRegion(chosen(s.of(1)), by*unit, 0.25*unit)
		say(fmt.Sprint("resized by ", by), region, err == nil)
	}
	patches, err := s.Patches(0.3, 0.6, 0.5*unit*unit)
	for i := range patches {
		patches[i].AreaMM2 *= back * back
	}
	say("patches", patches, err == nil)
	var walls []float64
	s.EachWall(func(f, opposite int32, mm float64) { walls = append(walls, float64(f), float64(opposite), mm*back) })
	say("walls", walls)
	c, err := m.Cut(geom.Vec{1, 0.5, 0.25}, 4*unit)
	for _, l := range c.Loops {
		say("cut", places(l.Points), l.Closed, l.LengthMM*back, c.FacesCrossed, c.Sides[0].AreaMM2*back*back, c.Sides[1].VolumeMM3*back*back*back, err == nil)
	}
	return out
}

// of marks the faces of a label.
func (s *Surface) of(label int32) []bool {
	in := make([]bool, len(s.m.Faces))
	for f := range in {
		in[f] = s.m.Label[f] == label
	}
	return in
}
