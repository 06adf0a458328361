package decide

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
// allows for two: the distance between them, less both half widths and the
// expanded uncertainties, is less than so many times the length of the smaller
// one. What has been united is held against the others again, so that the order
// does not matter. A united indication is as long as its farthest ends are apart
// and as wide as its widest member, which is the stricter way to read it; it is
// a crack if one is, and its uncertainty is the sum of theirs. Its length is
// rounded up to a tenth of a millimetre.
//
// why says what is missing when several cannot be told apart.
func together(l body.Level, r job.Record) (out []oneIndication, why string) {
	for _, x := range r.Indications {
		out = append(out, oneIndication{x, []job.Indication{x}})
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
			gap := geom.SegmentsDist(x.Ends[0], x.Ends[1], y.Ends[0], y.Ends[1])
			gap -= float64(x.Width+y.Width)/2 + float64(2*(x.Std+y.Std))
			if gap < limit {
				return true
			}
		}
	}
	return false
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
						out.Length = unit.MM(math.Ceil(d*10-roundingMM) / 10)
					}
				}
			}
		}
	}
	out.Crack = worseCrack(a.Crack, b.Crack)
	return out
}

func worseCrack(a, b string) string {
	for _, w := range []string{"yes", "unknown", "", "no"} {
		if a == w || b == w {
			return w
		}
	}
	return "unknown"
}

// count says of how many one is made, in words.
func (o oneIndication) count() string {
	if len(o.members) == 1 {
		return ""
	}
	return fmt.Sprintf("%d indications that count as one: ", len(o.members))
}
