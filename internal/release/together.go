package release

import (
	"fmt"
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// oneIndication is one or more indications that count as one.
type oneIndication struct {
	job.Indication
	members []job.Indication
}

// together unites indications that are nearer to each other than the level
// allows for two: the distance between them, less the expanded uncertainties, is
// less than so many times the length of the smaller one. An indication is as wide
// across its length, not along it: off the way between the nearest points of two
// goes half of each width as far as it lies across that indication. In line with
// each other they keep the whole way between their ends, side by side both half
// widths go off. One that is surely smaller than the level counts is left out
// first, when it surely is no crack. What has been united is held against the others again, so that the order
// does not matter. A united indication is as long as its farthest ends are apart
// and as wide as its widest member, which is the stricter way to read it; it is
// a crack if one is, and its uncertainty is the sum of theirs. Its length is
// rounded up to a tenth of a millimetre.
//
// why says what is missing when several cannot be told apart.
func together(l body.Level, r job.Record) (out []oneIndication, why string) {
	for _, x := range r.Indications {
		if !tooSmall(l, x) {
			out = append(out, oneIndication{x, []job.Indication{x}})
		}
	}
	switch {
	case len(out) < 2 || r.Apart:
		return out, ""
	case l.Together <= 0:
		return out, "level " + l.ID + " does not say how near two indications have to be to count as one"
	}
	for _, x := range out {
		if len(x.Ends) != 2 {
			return out, "it is not known where the indications end, so it is open which of them count as one"
		}
	}
	for i, k, ok := nearPair(l, out); ok; i, k, ok = nearPair(l, out) {
		out[i] = united(out[i], out[k])
		out = slices.Delete(out, k, k+1)
	}
	return out, ""
}

// nearPair is the first two that count as one.
func nearPair(l body.Level, all []oneIndication) (i, k int, ok bool) {
	for i := range all {
		for k := i + 1; k < len(all); k++ {
			if near(l, all[i], all[k]) {
				return i, k, true
			}
		}
	}
	return 0, 0, false
}

// near says that two indications count as one.
func near(l body.Level, a, b oneIndication) bool {
	limit := float64(l.Together * float64(min(a.Length, b.Length)))
	for _, x := range a.members {
		for _, y := range b.members {
			if between(x, y)-float64(2*(x.Std+y.Std)) < limit {
				return true
			}
		}
	}
	return false
}

// between is the least distance between two indications: of the nearest points p, q
// of their middle lines, less what the widths take off. With u the direction from p
// to q and a, b those of the lines, no point of either lies farther along u than
//
//	w/2 √(1 − (u·a)²)
//
// beyond p, or before q, so that the distance is at least
//
//	|q − p| − w₁/2 √(1 − (u·a)²) − w₂/2 √(1 − (u·b)²)
//
// and just that for two side by side or in line.
func between(x, y job.Indication) float64 {
	p, q := geom.NearestOnSegments(x.Ends[0], x.Ends[1], y.Ends[0], y.Ends[1])
	gap := q.Sub(p)
	if gap.Norm() == 0 {
		return 0
	}
	return gap.Norm() - float64(float64(x.Width)/2*across(x, gap)) - float64(float64(y.Width)/2*across(y, gap))
}

// across is how far a direction lies across an indication: 0 along it, 1 square to it,
// and for one whose ends are one point.
func across(x job.Indication, way geom.Vec) float64 {
	along := x.Ends[1].Sub(x.Ends[0])
	if along.Norm() == 0 {
		return 1
	}
	return along.Unit().Cross(way.Unit()).Norm()
}

// tooSmall says that an indication is surely smaller than those that the level
// counts, with its expanded uncertainty (k = 2), and surely no crack.
func tooSmall(l body.Level, x job.Indication) bool {
	return l.CountsFrom > 0 && x.Crack == body.No && float64(x.Length)+float64(2*x.Std) < float64(l.CountsFrom)-roundingMM
}

// united is two as one.
func united(a, b oneIndication) oneIndication {
	out := a
	out.members = append(append([]job.Indication{}, a.members...), b.members...)
	out.Length, out.Width = max(a.Length, b.Length), max(a.Width, b.Width)
	out.Std = a.Std + b.Std
	for _, x := range out.members {
		for _, y := range out.members {
			for _, p := range x.Ends {
				for _, q := range y.Ends {
					if d := p.Dist(q); d > float64(out.Length) {
						out.Length = unit.MM(math.Ceil(float64(d*10)-roundingMM) / 10)
					}
				}
			}
		}
	}
	out.Crack = worseCrack(a.Crack, b.Crack)
	return out
}

func worseCrack(a, b body.YesNo) body.YesNo {
	for _, w := range []body.YesNo{body.Yes, body.Unknown, "", body.No} {
		if a == w || b == w {
			return w
		}
	}
	return body.Unknown
}

// count says of how many one is made, in words.
func (o oneIndication) count() string {
	if len(o.members) == 1 {
		return ""
	}
	return fmt.Sprintf("%d indications that count as one: ", len(o.members))
}
