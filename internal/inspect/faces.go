package inspect

import (
	"math"
	"slices"

	"fettle/internal/rule"
)

// total is a length with the tips seen by eye only that it has.
type total struct {
	mm, variance float64
	tips         int
}

// otherLengths gives the members of a group every length that the group may have:
// of two faces of one crack either may be the longer, whichever was measured
// longer. A limit holds when all of them keep it.
func (r *run) otherLengths(g Group, members []int, gaps []apart, inner map[int]int) {
	p := r.placeOf(r.found[members[0]].Part)
	if g.Unknown || p.rule == nil {
		return
	}
	all := r.choices(members, inner)
	if len(all) < 2 {
		return
	}
	var between total
	for _, d := range gaps {
		if slices.Contains(members, d.i) {
			a, b := r.traces[d.i].std, r.traces[d.j].std
			between.mm += d.seen
			between.variance += float64(a*a) + float64(b*b)
		}
	}
	for _, c := range all {
		l, _ := p.withTips(Length{c.mm + between.mm, math.Sqrt(c.variance + between.variance)}, c.tips)
		for _, i := range members {
			f := &r.found[i]
			if f.Decision != nil && *f.Decision != l && !slices.Contains(f.Lengths, l) {
				f.Lengths = append(f.Lengths, l)
			}
		}
	}
}

// choices is the sums over the cracks of a group for every choice of one finding of
// each.
func (r *run) choices(members []int, inner map[int]int) []total {
	faces := [][]total{}
	var roots []int
	for _, i := range members {
		l := r.found[i].Length
		if l == nil {
			continue
		}
		x := total{l.MM, float64(l.Std * l.Std), r.traces[i].tipCount() - inner[i]}
		if k := slices.Index(roots, r.crack.of(i)); k >= 0 {
			faces[k] = append(faces[k], x)
		} else {
			roots, faces = append(roots, r.crack.of(i)), append(faces, []total{x})
		}
	}
	return rule.Choices(faces, total{},
		func(a, b total) total { return total{a.mm + b.mm, a.variance + b.variance, a.tips + b.tips} },
		func(a, b total) total {
			return total{max(a.mm, b.mm), max(a.variance, b.variance), max(a.tips, b.tips)}
		})
}
