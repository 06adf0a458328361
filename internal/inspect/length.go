package inspect

import (
	"math"

	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// straightProbability is how surely a straight crack is taken for straight,
// however many points were clicked along it. Our choice, common practice.
const straightProbability = 0.95

// length measures a trace along the surface.
//
// Every click adds noise across the crack, and a zigzag is always longer than
// the line it was meant to follow. So the trace is first simplified: a stretch
// is replaced by the path along the surface between its ends, unless a point
// in between is surely off that path; then it is split at the point that is
// most surely off.
//
// Source: D. H. Douglas, T. K. Peucker, Algorithms for the reduction of the
// number of points required to represent a digitized line, 1973, with the
// surface path in place of the straight line and the tolerance of offBy.
func (r *run) length(f *Finding, t *trace) {
	l := t.length()
	f.Length, f.LowerMM, f.UpperMM = &Length{MM: l.mm, Std: l.std}, l.chord, max(l.raw, l.mm)
	f.because("%s along the surface through %d of %s (chord %s, through every point %s); standard uncertainty %s from %s per point",
		mm(l.mm), l.kept, unit.Count(len(t.sites), "point"), mm(l.chord), mm(f.UpperMM), mm(l.std), mm(t.std))
}

// traceLength is the length of a trace of two points or more, in mm.
type traceLength struct {
	mm, std    float64
	raw, chord float64 // through every point; straight from end to end
	kept       int     // points the value goes through
}

func (t *trace) length() traceLength {
	l := traceLength{chord: t.sites[0].At.Dist(t.sites[len(t.sites)-1].At)}
	l.kept = t.simplify(0, len(t.sites)-1) + 1
	for _, p := range t.raw {
		l.raw += p.LengthMM
	}
	for i := range t.legs {
		t.confirm(&t.legs[i])
		l.mm += t.legs[i].LengthMM
	}
	t.join()
	l.std = lengthStd(t.legs, t.std, t.meshStd())
	return l
}

// confirm replaces a leg that is only locally shortest by the shortest way, so
// that the length does not hang on how the surface was cut into triangles.
func (t *trace) confirm(p *mesh.Path) {
	if p.Proven || len(p.Points) < 2 {
		return
	}
	a, b := siteOf(t.at.surf, p.Points[0], p.Faces[0]), siteOf(t.at.surf, p.Points[len(p.Points)-1], p.Faces[len(p.Faces)-1])
	if q, err := t.at.surf.ShortestPath(a, b); err == nil && q.LengthMM < p.LengthMM {
		*p = q
	}
}

// simplify adds the legs from point i to point j and says how many.
func (t *trace) simplify(i, j int) int {
	if len(t.kept) == 0 {
		t.kept = append(t.kept, t.sites[i])
	}
	if j == i+1 {
		t.legs, t.kept = append(t.legs, t.raw[i]), append(t.kept, t.sites[j])
		return 1
	}
	split := i + (j-i)/2
	if t.std == 0 { // exact points: every one of them counts
		return t.simplify(i, split) + t.simplify(split, j)
	}
	if p, err := t.at.surf.Path(t.sites[i], t.sites[j]); err == nil {
		worst := -1.0
		for k := i + 1; k < j; k++ {
			if d := t.offBy(i, k, j, p.Points); d > worst {
				worst, split = d, k
			}
		}
		if worst <= 1 {
			t.legs, t.kept = append(t.legs, p), append(t.kept, t.sites[j])
			return 1
		}
	}
	return t.simplify(i, split) + t.simplify(split, j)
}

// offBy is how far point k is from a path between points i and j, as a share
// of the distance that noise alone explains:
//
//	d / (z s sqrt(1 + (1-q)^2 + q^2))
//
// d: distance of the point from the path [mm]; s: t.std, standard uncertainty
// of a point [mm]; q: where along the path the point is, 0 to 1, so that the
// root is the noise of the point together with that of the two ends; z: the
// value that the largest of j-i-1 standard normal variables exceeds in size
// with 5 % probability, by Bonferroni's bound. The tolerance is never below
// 2.4 s. A tolerance that does not grow with the number of points makes a
// densely clicked straight crack 10 % too long.
//
// Source: propagation of uncertainty, JCGM 100:2008 5.1.2; C. E. Bonferroni,
// Teoria statistica delle classi e calcolo delle probabilita, 1936.
func (t *trace) offBy(i, k, j int, path []geom.Vec) float64 {
	x := t.sites[k].At
	before, after := x.Dist(t.sites[i].At), x.Dist(t.sites[j].At)
	q := 0.5
	if before+after > 0 {
		q = before / (before + after)
	}
	points := float64(j - i - 1)
	z := quantile(1 - (1-straightProbability)/(2*points))
	return offPath(x, path) / (z * t.std * math.Sqrt(1+float64((1-q)*(1-q))+float64(q*q)))
}

// offPath is the distance of a point from a polyline [mm].
func offPath(x geom.Vec, line []geom.Vec) float64 {
	best := x.Dist(line[0])
	for i := 0; i+1 < len(line); i++ {
		best = min(best, x.Dist(geom.NearestOnSegment(x, line[i], line[i+1])))
	}
	return best
}

// join makes one curve of the legs.
func (t *trace) join() {
	t.curve.pts = []geom.Vec{t.legs[0].Points[0]}
	for _, p := range t.legs {
		for i, face := range p.Faces {
			t.curve.pts = append(t.curve.pts, p.Points[i+1])
			t.curve.faces = append(t.curve.faces, face)
		}
	}
}

// Angles between neighbouring segments of a path above this belong to an edge
// of the casting; below it they stand for a round that the mesh replaces by
// flats. Our choice, no source.
const roundRad = 50 * math.Pi / 180

// lengthStd is the standard uncertainty of a length along the surface: the
// points of the trace, each moved by its uncertainty along the surface, and the
// mesh.
//
//	u^2 = s^2 (2 + sum_k |e_k - e_k+1|^2) + (m T)^2 + (sum_i min(a_i, a_i+1) b_i^2 / 24)^2
//
// s: std [mm], of a trace point; e_k: direction of the path on either side of
// a kept point, so that the ends count 1 each and a point on a straight trace
// nothing; m: meshStd [mm], of the mesh against the casting; T: sum of the
// angles by which the path bends with the surface between kept points [rad]
// (moving a surface by m along its normal changes a path that turns by T by
// m T); a_i: lengths of neighbouring segments of the path [mm] and b_i: the
// angle between them [rad]: an arc is longer than its chord by b^2/24.
//
// Source: propagation of uncertainty, JCGM 100:2008 5.1.2. Valid while s is
// small against the distance between kept points.
func lengthStd(legs []mesh.Path, std, meshStd float64) float64 {
	gradient2, turn, sagitta := 2.0, 0.0, 0.0
	for i, p := range legs {
		if i > 0 {
			d := lastDir(legs[i-1].Points).Sub(firstDir(p.Points))
			gradient2 += d.Dot(d)
		}
		bend, flat := bending(p.Points)
		turn += bend
		sagitta += flat
	}
	clicks, offset := std*math.Sqrt(gradient2), float64(meshStd*turn)
	return math.Sqrt(float64(clicks*clicks) + float64(offset*offset) + float64(sagitta*sagitta))
}

// bending is the sum of the angles of a path [rad] and how much longer it
// would be on the round surface that the flats stand for [mm].
func bending(pts []geom.Vec) (turnRad, sagittaMM float64) {
	var before geom.Vec
	for i := 0; i+1 < len(pts); i++ {
		seg := pts[i+1].Sub(pts[i])
		if seg.Norm() < tinyMM {
			continue
		}
		if before != (geom.Vec{}) {
			b := math.Atan2(before.Cross(seg).Norm(), before.Dot(seg))
			turnRad += b
			if b < roundRad {
				sagittaMM += float64(min(before.Norm(), seg.Norm())*b*b) / 24
			}
		}
		before = seg
	}
	return turnRad, sagittaMM
}

// tinyMM is the length below which a segment has no direction worth the name:
// a millionth of a millimetre is a thousand times the rounding of a coordinate
// of several metres.
const tinyMM = 1e-6

func firstDir(pts []geom.Vec) geom.Vec {
	for i := 0; i+1 < len(pts); i++ {
		if d := pts[i+1].Sub(pts[i]); d.Norm() >= tinyMM {
			return d.Unit()
		}
	}
	return geom.Vec{}
}

func lastDir(pts []geom.Vec) geom.Vec {
	for i := len(pts) - 1; i > 0; i-- {
		if d := pts[i].Sub(pts[i-1]); d.Norm() >= tinyMM {
			return d.Unit()
		}
	}
	return geom.Vec{}
}
