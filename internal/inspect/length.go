package inspect

import (
	"fmt"
	"math"

	"fettle/internal/diag"
	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// length measures a trace along the surface.
//
// Every click adds noise across the crack, and a zigzag is always longer than
// the line it was meant to follow. So the trace is first simplified: see
// corridor.go. The simplified way serves the length only; where the finding lies
// is judged by the way through all points.
func (r *run) length(f *Finding, t *trace) {
	l := t.length()
	f.Length, f.LowerMM, f.UpperMM = &Length{MM: l.mm, Std: l.std}, l.chord, l.upper()
	f.because("%s along the surface through %d of %s (chord %s, through every point %s); standard uncertainty %s from %s per point%s",
		mm(l.mm), l.kept, unit.Count(len(t.sites), "point"), mm(l.chord), mm(f.UpperMM), mm(l.std), mm(t.std), l.bendText())
	for _, n := range l.notes() {
		n.Where = string(f.ID)
		r.note(n)
	}
}

// traceLength is the length of a trace of two points or more, in mm.
type traceLength struct {
	mm, std    float64
	bend       float64 // the part of std for bends that the points show
	raw, chord float64 // through every point; straight from end to end
	said, each float64 // standard uncertainty of a point as stated, and as taken
	kept       int     // points the value goes through
	points     int
	longer     float64 // by how much another way may be longer
}

// upper is the longest that the crack may be by the ways through its points [mm].
func (l *traceLength) upper() float64 { return max(l.raw+l.longer, l.mm) }

func (t *trace) length() traceLength {
	l := traceLength{chord: t.sites[0].At.Dist(t.sites[len(t.sites)-1].At), points: len(t.sites), said: t.said, each: t.std}
	for _, p := range t.raw {
		l.raw += p.LengthMM // the upper bound stays that of the ways first found
	}
	t.shorten()
	longer := t.longerBy()
	t.simplify(0, len(t.sites)-1)
	l.kept = len(t.legs) + 1
	for _, g := range t.legs {
		l.mm += g.LengthMM
	}
	t.join()
	l.std = lengthStd(t.paths(), t.std, t.meshStd())
	l.bend = float64(bendStds * missing(t.develop(), l.mm, t.std, l.std))
	l.std = elem.Hypot(elem.Hypot(l.std, longer/detourStds), elem.Hypot(l.bend, l.unseen()))
	l.longer = longer
	return l
}

// shorten takes the shortest way between neighbouring points, so that neither the
// length nor the place hangs on how the surface was cut into triangles: where
// nothing was clicked between two points, nothing speaks for a longer way.
func (t *trace) shorten() {
	for i := range t.raw {
		t.raw[i] = t.shortest(t.sites[i], t.sites[i+1], t.raw[i])
	}
}

// shortest is the shortest way between two places between which a way is known.
func (t *trace) shortest(a, b mesh.Site, known mesh.Path) mesh.Path {
	if known.Proven {
		return known
	}
	if p, err := t.at.ShortestWay(a, b); err == nil && p.LengthMM <= known.LengthMM {
		return p
	}
	return known
}

// bendText says what bends between the points add to the uncertainty.
func (l *traceLength) bendText() string {
	all := elem.Hypot(l.bend, l.unseen())
	if all < closeMM {
		return ""
	}
	return fmt.Sprintf(", of which %s for bends between the points", mm(all))
}

const (
	// bendShare is the share of a length above which an uncertainty that comes
	// mostly from bends between the points comes with the advice to give more
	// points. Our choice, no source.
	bendShare = 0.03
	// farApartMM is the mean distance between the points of a trace above which
	// bends between them may not show at all: found by trial, see bend.go.
	farApartMM = 16.0
	// Points farther apart get a standard uncertainty for what they do not show: this
	// share of the length for every millimetre above unseenFrom, a further one for every
	// one above unseenWide, and no more than half of it. Found by trial over the families
	// of TestBentCracksAreCovered, clicked every 18 to 60 mm; no source.
	unseenFrom, unseenShare = 14.0, 0.006
	unseenWide, unseenSteep = 25.0, 0.02
	unseenMost              = 0.5
)

// unseen is the standard uncertainty for bends that do not show, because the points
// of the trace are far apart [mm]. Of exact points too: it is not their noise. Of
// two points nobody claims that they show a bend: who clicks the two ends only says
// that the crack is straight.
func (l *traceLength) unseen() float64 {
	each := l.apart()
	if l.points < 3 || each <= unseenFrom {
		return 0
	}
	return float64(l.raw * min(unseenMost, float64(unseenShare*(each-unseenFrom))+float64(unseenSteep*max(0, each-unseenWide))))
}

// apart is how far the points are from one another on average.
func (l *traceLength) apart() float64 { return l.raw / float64(l.points-1) }

// notes asks for more points where the points may not, or do not, show the crack
// well enough.
func (l *traceLength) notes() []diag.Note {
	var out []diag.Note
	if l.each > l.said {
		out = append(out, roughNote(l.said, l.each))
	}
	if l.bend >= float64(bendShare*l.mm) && float64(2*l.bend*l.bend) >= float64(l.std*l.std) {
		out = append(out, diag.Say("inspect.bends-between-points", "the crack bends between the points of the trace: its length of {length} may be short by {short}", long(l.mm), long(l.bend)).Note(diag.Note{Severity: diag.Caution, Hint: "give more points where it bends; the uncertainty then falls"}))
	}
	if each := l.apart(); l.points > 2 && each > farApartMM {
		out = append(out, diag.Say("inspect.points-far-apart", "the points of the trace are {apart} apart on average: bends shorter than {bends} do not show, and the crack may be longer", long(each), long(2*each)).Note(diag.Note{Severity: diag.Caution, Hint: fmt.Sprintf("give points no more than %s apart, more where the crack bends", mm(farApartMM))}))
	}
	return out
}

// leg is the simplified way between two points of the trace.
type leg struct {
	mesh.Path
	from, to int // points
}

func (t *trace) paths() []mesh.Path {
	out := make([]mesh.Path, len(t.legs))
	for i := range t.legs {
		out[i] = t.legs[i].Path
	}
	return out
}

// join makes one curve of the ways between all points, and of the other ways that it
// may take, by which places are judged, and one line of the simplified way.
func (t *trace) join() {
	t.curve.line = lineOf(t.sites, t.raw)
	for _, d := range t.detours {
		t.curve.otherWays = append(t.curve.otherWays, otherWay{lineOf(d.sites, d.ways), d.ends})
	}
	for i, g := range t.legs {
		if i == 0 {
			t.way = append(t.way, g.Points[0])
		}
		t.way = append(t.way, g.Points[1:]...)
	}
}

// lineOf is the ways between places as one line; one place is a line too.
func lineOf(sites []mesh.Site, ways []mesh.Path) line {
	if len(ways) == 0 {
		return line{[]geom.Vec{sites[0].At}, []int{sites[0].Face}}
	}
	out := line{pts: []geom.Vec{ways[0].Points[0]}}
	for _, p := range ways {
		out.pts = append(out.pts, p.Points[1:]...)
		out.faces = append(out.faces, p.Faces...)
	}
	return out
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
			b := elem.Atan2(before.Cross(seg).Norm(), before.Dot(seg))
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
