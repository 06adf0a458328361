package inspect

import (
	"fmt"
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// What a person says of how two findings hang together is held against the mesh.
// A relation that makes two cracks one lowers a number and takes a distance away,
// so it counts only when it is surely so: with the uncertainty of both traces no
// farther than relationWalls walls. Otherwise both keep their own number and
// their distance, their lengths count together, and a note blocks.

// relationWalls is how far, in walls, the two faces of a crack or a branch and the
// crack it forks off may surely be from each other: a crack that goes through the
// wall at 60 degrees comes out two walls from where it went in. Our choice, no
// source.
const relationWalls = 2.0

// linkFaces joins the findings that are the two faces of one crack.
func (r *run) linkFaces() {
	r.crack = newSets(len(r.found))
	for i := range r.in.Job.Findings {
		other := r.in.Job.Findings[i].SameAs
		if other == "" {
			continue
		}
		j := slices.IndexFunc(r.found, func(f Finding) bool { return f.ID == other })
		why := "they are not two cracks on one casting"
		if j >= 0 && j != i && isCrack(r.found[i].Kind) && isCrack(r.found[j].Kind) &&
			r.found[i].Casting != "" && r.found[i].Casting == r.found[j].Casting {
			why = r.noFaces(i, j)
		}
		if why != "" {
			r.found[i].NoFace = true
			r.note(diag.Say("inspect.other-face", "{finding} is said to be the other face of {other}, but {why}", r.found[i].ID, other, why).Note(diag.Note{Severity: diag.Blocking, Where: string(r.found[i].ID), Hint: "correct other_face_of, or the traces"}))
			for _, k := range []int{i, j} {
				if k >= 0 && r.found[k].Through == body.No {
					r.found[k].Through = "unknown"
				}
			}
			continue
		}
		r.crack.join(i, j)
		r.found[i].Through, r.found[j].Through = "yes", "yes"
		r.found[i].because("the other face of %s: one crack through the wall", other)
		r.found[j].because("%s is its other face: one crack through the wall", r.found[i].ID)
	}
}

// noFaces says why two cracks are surely not, or not surely, the two faces of one;
// empty when they are: all of one lies behind the other, through the metal.
func (r *run) noFaces(i, j int) string {
	a, b := r.traces[i], r.traces[j]
	if a == nil || b == nil {
		return "it is not known where both lie"
	}
	limit := float64(relationWalls*float64(a.at.Of.Wall)) - float64(r.closeStds()*elem.Hypot(a.std, b.std))
	over := func(a, b *trace) (far float64, behind bool) {
		behind = true
		for _, s := range a.rawSites() {
			q, face, d := b.nearestTo(s.At)
			n, m := a.normalOf(s.Face), b.normalOf(face)
			far = max(far, d)
			behind = behind && n.Dot(m) < 0 && q.Sub(s.At).Dot(n) < 0
		}
		return far, behind
	}
	farA, behindA := over(a, b)
	farB, behindB := over(b, a)
	switch {
	case behindA && farA <= limit, behindB && farB <= limit:
		return ""
	case !behindA && !behindB:
		return "they do not lie on the two faces of one wall"
	default:
		away, most := toldApart(min(farA, farB), max(0, limit))
		return fmt.Sprintf("neither lies all behind the other: as much as %s apart, at most %s with the uncertainty of the traces", away, most)
	}
}

// linkForks finds which branches begin at the crack they are said to fork off; the
// fork of those is no tip.
func (r *run) linkForks() {
	for i, t := range r.traces {
		other := r.in.Job.Findings[i].BranchOf
		if other == "" || r.found[i].Casting == "" {
			continue
		}
		j := slices.IndexFunc(r.found, func(f Finding) bool { return f.ID == other })
		why := "they are not two cracks on one casting whose places are known"
		if t != nil && j >= 0 && j != i && r.traces[j] != nil && r.traces[j].at == t.at {
			why = r.noFork(t, r.traces[j])
		}
		if why != "" {
			r.note(diag.Say("inspect.branch-apart", "{finding} is said to fork off {other}, but {why}; the lengths and the gap count together, and both are counted", r.found[i].ID, other, why).Note(diag.Note{Severity: diag.Blocking, Where: string(r.found[i].ID), Hint: "begin the trace of the branch at the fork, or correct branch_of"}))
			continue
		}
		t.fork = other
		if len(t.tips) > 0 {
			t.tips[0] = body.TipFork
			r.found[i].Fork = true
		}
		r.found[i].because("a branch of %s: both lengths count together", other)
		r.found[j].because("%s is a branch of it: both lengths count together", r.found[i].ID)
	}
}

// hang makes one of every crack with its other face and its branches. Between them
// there is no spacing: there is no sound metal to be kept between two cracks.
func (r *run) hang() {
	r.whole = r.crack.clone()
	for i, a := range r.traces {
		for j := range i {
			if b := r.traces[j]; a != nil && b != nil && a.at == b.at && r.surelyForks(i, j) {
				r.whole.join(i, j)
			}
		}
	}
}

// noFork says why a branch does not surely begin at the other crack; empty when it
// does: the way along the surface from its first point is surely short enough.
func (r *run) noFork(branch, stem *trace) string {
	if len(branch.tips) != 2 || len(branch.in.Tips) != 1 {
		return "a branch has one tip, its last point"
	}
	limit := float64(relationWalls*float64(stem.at.Of.Wall)) - float64(r.closeStds()*elem.Hypot(branch.std, stem.std))
	d := 0.0
	for _, first := range branch.firstSites() {
		q, face, straight := stem.nearestTo(first.At)
		if w, err := stem.at.Way(first, stem.at.Surface.SiteAt(q, face)); err == nil {
			d = max(d, straight, w.LengthMM)
		} else {
			d = math.Inf(1)
		}
	}
	if !(d <= limit) {
		away, most := toldApart(d, max(0, limit))
		return fmt.Sprintf("its first point is %s from it along the surface, at most %s with the uncertainty of the traces", away, most)
	}
	return ""
}

// firstSites is where the first point of a trace may lie.
func (t *trace) firstSites() []mesh.Site {
	out := []mesh.Site{t.sites[0]}
	for _, d := range t.detours {
		if d.ends[0] {
			out = append(out, d.sites[0])
		}
	}
	return out
}

// rawSites is places along a trace as it was clicked: its points and the middles of
// the ways between them, of every way it may take.
func (t *trace) rawSites() []mesh.Site {
	out := slices.Clone(t.sites)
	along := func(ways []mesh.Path) {
		for _, p := range ways {
			for k, face := range p.Faces {
				out = append(out, mesh.Site{Face: int(face), At: p.Points[k].Lerp(p.Points[k+1], 0.5)})
			}
		}
	}
	along(t.raw)
	for _, d := range t.detours {
		out = append(out, d.sites...)
		along(d.ways)
	}
	return out
}

// nearestTo is the point of a trace nearest to a place, through space.
func (t *trace) nearestTo(at geom.Vec) (q geom.Vec, face int, d float64) {
	q, face, d = t.sites[0].At, t.sites[0].Face, t.sites[0].At.Dist(at)
	for _, p := range t.raw {
		for k, f := range p.Faces {
			if x := geom.NearestOnSegment(at, p.Points[k], p.Points[k+1]); x.Dist(at) < d {
				q, face, d = x, int(f), x.Dist(at)
			}
		}
	}
	return q, face, d
}

func (t *trace) normalOf(face int) geom.Vec { return t.at.Surface.Mesh().FaceNormal(face) }
