package measure

import (
	"math"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
)

// Sides is lengths of one side held against those of the other, where there are no
// published places. It says nothing of any point: damage that is the same on both sides,
// and a body built unlike on its sides, look like none.
type Sides struct {
	Pairs    []SidePair     `json:"pairs"`
	Alone    []SideLength   `json:"alone"` // lengths whose mirror image was not read
	Disagree []Disagreement `json:"disagreements"`
	Notes    []diag.Note    `json:"notes"`
}

// SideLength is a length or height as it was read, the weighted mean of several readings.
type SideLength struct {
	Kind       job.ReadingKind `json:"kind"`
	From       body.PointID    `json:"from"`
	To         body.PointID    `json:"to"`
	MeasuredMM float64         `json:"measuredMm"`
	StdMM      float64         `json:"stdMm"`

	from, to int
}

// SidePair is a length and its mirror image.
type SidePair struct {
	One        SideLength  `json:"one"`
	Other      SideLength  `json:"other"`
	DiffMM     float64     `json:"diffMm"`       // the one less the other
	StdMM      float64     `json:"stdMm"`        // of the difference, with how alike the sides are built; 0 when that is not known
	Detectable float64     `json:"detectableMm"` // a difference of this size shows four times of five; 0 when none does
	Verdict    SideVerdict `json:"verdict"`
	Because    string      `json:"because"`
}

// SideVerdict is the answer to whether two sides differ.
type SideVerdict string

// Verdicts on two sides. None of them says that a point stands in its place.
const (
	SidesDiffer  SideVerdict = "differ"         // beyond 0.1 %
	SidesNotTold SideVerdict = "not told apart" // no difference shows
	SidesOpen    SideVerdict = "cannot be said"
)

// CompareSides holds every length of one side against its mirror image: the length
// between the twins of its points; a point without a twin lies on the centre plane and is
// its own. The places of the points are not looked at.
//
// With u_1, u_2 the standard uncertainties of the two lengths, the difference has
//
//	u^2 = u_1^2 + u_2^2 + 2 s^2
//
// where s is the standard deviation of the left/right equality of one coordinate of twins
// (Input.Symmetry), once for each end; where that is not given, the manufacturing spread of
// all four points takes the place of 2 s^2. They differ beyond 3.29 u (0.1 %), and a
// difference of 4.13 u shows four times of five (Baarda 1968).
func CompareSides(in Input) Sides {
	p := prepare(in)
	out := Sides{Pairs: []SidePair{}, Alone: []SideLength{}, Notes: []diag.Note{}}
	p.note(diag.Blocking, "control points", diag.Say("measure.no-published-places", "there are no published places: nothing can be said of where a point stands or whether it has moved"), "get the places, or the lengths between them, from the manufacturer")
	places := 0
	for i := range in.Readings {
		if k := in.Readings[i].Kind; k == job.ReadXYZ || k == job.ReadRim {
			places++
		}
	}
	if places > 0 {
		p.note(diag.Caution, "readings", diag.Say("measure.coordinates-unused", "{places} coordinate and rim readings say nothing without published places; they are not used", places), "")
	}
	r := p.emptyResult()
	p.againDiffers(&r)
	p.noTriangle(&r)
	out.Disagree = append([]Disagreement{}, r.Disagree...)
	all, by := p.sideLengths()
	done := map[int]bool{}
	for k, l := range all {
		if done[k] {
			continue
		}
		from, to := p.twin(l.from), p.twin(l.to)
		j, ok := by[lengthKey(l.Kind, from, to)]
		if !ok || j == k {
			out.Alone = append(out.Alone, l.rounded())
			continue
		}
		done[j] = true
		other := all[j]
		if other.from != from { // a height the other way round
			other.from, other.to, other.From, other.To = other.to, other.from, other.To, other.From
			if l.Kind == job.ReadHeight {
				other.MeasuredMM = -other.MeasuredMM
			}
		}
		out.Pairs = append(out.Pairs, p.sidePair(l, other))
	}
	out.Notes = append(out.Notes, p.notes...)
	return out
}

// twin is the point on the other side; of a point on the centre plane the point itself.
func (p *problem) twin(i int) int {
	if j, ok := p.index[p.in.Points[i].Mirror]; ok && p.in.Points[i].Mirror != "" {
		return j
	}
	return i
}

type sideKey struct {
	kind job.ReadingKind
	a, b int
}

func lengthKey(kind job.ReadingKind, a, b int) sideKey { return sideKey{kind, min(a, b), max(a, b)} }

// sideLengths are the lengths and heights as they were read first, each the weighted mean
// of its readings.
func (p *problem) sideLengths() ([]SideLength, map[sideKey]int) {
	var out []SideLength
	by := map[sideKey]int{}
	for k := range p.spans {
		s := &p.spans[k]
		key := lengthKey(s.kind, s.from, s.to)
		at, again := by[key]
		if !again {
			by[key] = len(out)
			out = append(out, SideLength{Kind: s.kind, From: p.id(s.from), To: p.id(s.to), MeasuredMM: s.value, StdMM: s.std, from: s.from, to: s.to})
			continue
		}
		l, value := &out[at], s.value
		if s.kind == job.ReadHeight && s.from != l.from {
			value = -value
		}
		w, v := 1/(l.StdMM*l.StdMM), 1/(s.std*s.std)
		l.MeasuredMM = (float64(w*l.MeasuredMM) + float64(v*value)) / (w + v)
		l.StdMM = 1 / math.Sqrt(w+v)
	}
	return out, by
}

func (l SideLength) rounded() SideLength {
	l.MeasuredMM, l.StdMM = roundMM(l.MeasuredMM), roundMM(l.StdMM)
	return l
}

func (p *problem) sidePair(one, other SideLength) SidePair {
	off := one.MeasuredMM - other.MeasuredMM
	x := SidePair{One: one.rounded(), Other: other.rounded(), DiffMM: roundMM(off), Verdict: SidesOpen}
	if one.Kind == job.ReadHeight {
		x.Because = "nothing says how level the device stood to the vehicle"
		return x
	}
	alike, ok := p.alike(one, other)
	if !ok {
		x.Because = "it is not known how alike the two sides are built"
		return x
	}
	u := together(one.StdMM, other.StdMM, alike)
	x.StdMM, x.Detectable = roundMM(u), roundMM(math.Sqrt(lambdaRow)*u)
	x.Verdict = SidesNotTold
	if math.Abs(off) > criticalNormal*u {
		x.Verdict = SidesDiffer
		x.Because = "one side has moved, or was built unlike the other"
	}
	return x
}

// alike is the standard deviation of the difference of two lengths of a sound vehicle that
// mirror one another; false when nobody gives it.
func (p *problem) alike(one, other SideLength) (float64, bool) {
	if s := p.in.Symmetry; s > 0 && !math.IsInf(s, 1) {
		return float64(math.Sqrt2 * s), true
	}
	var std []float64
	for _, i := range []int{one.from, one.to, other.from, other.to} {
		if !(known(p.in.Points[i].Std) > 0) {
			return 0, false
		}
		std = append(std, known(p.in.Points[i].Std))
	}
	return together(std...), true
}
