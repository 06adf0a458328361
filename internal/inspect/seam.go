package inspect

import (
	"fmt"
	"math"

	"fettle/internal/diag"
	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// No way along the surface leads over a seam of the mesh, though on the part there is
// none: what lies beyond is nearer than the ways say. What a mesh with seams is asked
// for is therefore never farther than straight to a seam and straight on from it.

// seamsOf is the free edges beside seams and T-joints of the casting's mesh.
func (g *grounded) seamsOf() []mesh.SeamEdge {
	return g.seams.get(func() []mesh.SeamEdge { return g.surf.Gaps().Edges })
}

// overSeams is a lower bound on the ways between two lines that lead over a seam [mm];
// infinite without seams.
func (g *grounded) overSeams(a, b []mesh.Site) float64 {
	edges := g.seamsOf()
	if len(edges) == 0 {
		return math.Inf(1)
	}
	from, to := geom.NewLines([][]geom.Vec{placesOf(a)}), geom.NewLines([][]geom.Vec{placesOf(b)})
	least := math.Inf(1)
	for _, e := range edges {
		if d := from.Nearer(math.Inf(1), e.Ends[0], e.Ends[1]); d < least {
			least = min(least, d+to.Nearer(math.Inf(1), e.Ends[0], e.Ends[1]))
		}
	}
	return least
}

func placesOf(sites []mesh.Site) []geom.Vec {
	out := make([]geom.Vec, len(sites))
	for i, s := range sites {
		out[i] = s.At
	}
	return out
}

// seamDoubt is why a distance is not known any better.
const seamDoubt = "a way over a seam of the mesh may be shorter, and none leads over it: mend the seam ('fettle mesh' with --mend); straight to the seam and on counts"

// cautious lowers an interval to what ways over seams leave sure.
func (g *grounded) cautious(x span, straight float64, a, b []mesh.Site) span {
	if over := max(straight, g.overSeams(a, b)); over < x.lo {
		x.lo = over
		x.doubt = seamDoubt
	}
	return x
}

// overSeam says that between two neighbouring points a way over a seam may be shorter than
// the one there is, or nil: then nobody knows where the crack runs, nor how long it is. A
// seam can also be what made the other side of the wall look the likelier.
func (t *trace) overSeam() *diag.Note {
	if len(t.at.seamsOf()) == 0 {
		return nil
	}
	points := distinct(t.in.Trace)
	for i, p := range t.raw {
		a, _ := t.at.surf.Closest(points[i])
		b, _ := t.at.surf.Closest(points[i+1])
		if t.parted(t.sites[i], t.sites[i+1], p.LengthMM) || (a != t.sites[i] || b != t.sites[i+1]) && t.parted(a, b, t.wayMM(a, b)) {
			return seamNote(i)
		}
	}
	for _, d := range t.detours {
		for k, p := range d.ways {
			if t.parted(d.sites[k], d.sites[k+1], p.LengthMM) {
				return seamNote(d.from + k)
			}
		}
	}
	return nil
}

// seamNote says that a way over a seam may lead from point i, counted from 0, to the next.
func seamNote(i int) *diag.Note {
	return &diag.Note{Code: "inspect.over-a-seam", Severity: diag.Blocking,
		Text: fmt.Sprintf("between point %d and point %d of the trace the mesh is open along a seam or at a T-joint, and no way along the surface leads straight on", i+1, i+2),
		Hint: "mend the mesh ('fettle mesh' with --mend), or enter points nearer to one another where the opening is meant"}
}

// parted says that a way over a seam may be shorter than one of so many millimetres.
func (t *trace) parted(a, b mesh.Site, wayMM float64) bool {
	return t.at.overSeams([]mesh.Site{a}, []mesh.Site{b}) < wayMM-tinyMM
}

// wayMM is the way along the surface; infinite where there is none.
func (t *trace) wayMM(a, b mesh.Site) float64 {
	p, err := t.at.way(a, b)
	if err != nil {
		return math.Inf(1)
	}
	return p.LengthMM
}

// seamBorders is the edges beside seams as borders between the labels of their two
// sides; where it is not known what lies across, it is every label.
func (g *grounded) seamBorders() []borderEdge {
	m := g.surf.Mesh()
	if m.Label == nil {
		return nil
	}
	var out []borderEdge
	gaps := g.surf.Gaps()
	for _, e := range g.seamsOf() {
		labels := map[int32]bool{m.Label[e.Face]: true}
		across := e.Across
		if !gaps.Whole {
			across = g.oneOfEach()
		}
		for _, f := range across {
			if l := m.Label[f]; !labels[l] {
				labels[l] = true
				out = append(out, borderEdge{e.Ends[0], e.Ends[1], m.Label[e.Face], l})
			}
		}
	}
	return out
}

// oneOfEach is the first face of each label.
func (g *grounded) oneOfEach() []int {
	seen := map[int32]bool{}
	var out []int
	for f, l := range g.surf.Mesh().Label {
		if !seen[l] {
			seen[l], out = true, append(out, f)
		}
	}
	return out
}

// seamFeet adds the feet of ribs that lie along a seam: edges from which what lies across
// turns inward by more than ribFootRad; either way, where it is not sure which are inner.
func (g *grounded) seamFeet(out *feet) {
	m := g.surf.Mesh()
	for _, e := range g.seamsOf() {
		for _, f := range e.Across {
			n, o := m.FaceNormal(e.Face), m.FaceNormal(f)
			t := m.Faces[f]
			middle := m.Points[t[0]].Add(m.Points[t[1]]).Add(m.Points[t[2]]).Scale(1. / 3)
			turn := elem.Atan2(n.Cross(o).Norm(), n.Dot(o))
			if turn <= ribFootRad || out.sure && middle.Sub(e.Ends[0]).Dot(n) < 0 {
				continue
			}
			label := int32(0)
			if m.Label != nil {
				label = m.Label[e.Face]
			}
			x := out.by[label]
			x.lengthMM += e.Ends[0].Dist(e.Ends[1]) / 2 // the other side is there as well
			x.points = append(x.points, e.Ends[0])
			out.by[label] = x
			break
		}
	}
}
