package inspect

import (
	"math"

	"fettle/internal/diag"
	"fettle/internal/mesh"
)

// seamDoubt is why a distance is not known any better.
const seamDoubt = "a way over a seam of the mesh may be shorter, and none leads over it: mend the seam; straight to the seam and on counts"

// cautious lowers an interval to what ways over seams leave sure.
func (p *place) cautious(x span, straight float64, a, b []mesh.Site) span {
	if over := max(straight, p.OverSeams(a, b)); over < x.lo {
		x.lo = over
		x.doubt = seamDoubt
	}
	return x
}

// overSeam says that between two neighbouring points a way over a seam may be shorter than
// the one there is, or nil: then nobody knows where the crack runs, nor how long it is. A
// seam can also be what made the other side of the wall look the likelier.
func (t *trace) overSeam() *diag.Note {
	if t.at.Seams() == nil {
		return nil // no way leads over one
	}
	points := distinct(t.in.Trace)
	for i, p := range t.raw {
		a, _ := t.at.Surface.Closest(points[i])
		b, _ := t.at.Surface.Closest(points[i+1])
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
	return diag.Say("inspect.over-a-seam", "between point {from} and point {to} of the trace the mesh is open along a seam or at a T-joint, and no way along the surface leads straight on", i+1, i+2).Noted(diag.Note{Severity: diag.Blocking, Hint: "enter points nearer to one another where the opening is meant, or mend the mesh", Remedy: diag.Do(mesh.ToMend)})
}

// parted says that a way over a seam may be shorter than one of so many millimetres.
func (t *trace) parted(a, b mesh.Site, wayMM float64) bool {
	return t.at.OverSeams([]mesh.Site{a}, []mesh.Site{b}) < wayMM-tinyMM
}

// wayMM is the way along the surface; infinite where there is none.
func (t *trace) wayMM(a, b mesh.Site) float64 {
	p, err := t.at.Way(a, b)
	if err != nil {
		return math.Inf(1)
	}
	return p.LengthMM
}
