package inspect

import (
	"fmt"
	"math"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/elem"
	"fettle/internal/job"
)

// relateByHand finds out how findings on castings without a mesh lie to one another, as
// far as that was measured.
func (r *run) relateByHand() {
	var order []int
	for i := range r.found {
		if r.hands[i] != nil {
			order = append(order, i)
		}
	}
	for _, i := range order {
		r.spacingByHand(i)
	}
	r.groupsByHand(order)
}

// besideByHand is the other findings on the casting of one, whose place is known or not.
func (r *run) besideByHand(i int) []int {
	var out []int
	for j := range r.found {
		if j != i && r.found[j].Casting == r.found[i].Casting {
			out = append(out, j)
		}
	}
	return out
}

// spacingByHand is the distance of a finding to the next: as it was measured from it, and from
// any other to it; and as far as was looked.
func (r *run) spacingByHand(i int) {
	f, t := &r.found[i], r.hands[i]
	own := r.readings(f, t, job.HandNext)
	var weak []int
	for _, j := range r.besideByHand(i) {
		switch {
		case !r.weakens(j):
		case !r.found[j].Located:
			f.Unknown = append(f.Unknown, fmt.Sprintf("spacing: where %s lies is not known", r.found[j].ID))
			return
		default:
			weak = append(weak, j)
		}
	}
	if len(own) == 0 && len(weak) > 0 {
		f.Unknown = append(f.Unknown, "spacing: measure the distance along the surface to the next finding")
		return
	}
	all := append(slices.Clone(own), r.toItByHand(i, weak)...)
	if len(weak) > 0 && slices.ContainsFunc(own, func(x handReading) bool { return math.IsInf(x.mm, 1) }) {
		r.contradiction(f, diag.Say("inspect.not-alone", "nothing else is said to be on the casting, but there is {finding}", r.found[weak[0]].ID))
		return
	}
	if f.Spacing = clearanceOf(all, t.aheadOf()+r.aheadBeside(weak), "the next finding"); f.Spacing == nil {
		f.Spacing = &Clearance{To: None}
	}
	f.because("%s", byHandText(*f.Spacing, "the next finding"))
	r.lookedAroundByHand(f)
}

// aheadBeside is how far an end of another finding may lie nearer than it was seen.
func (r *run) aheadBeside(others []int) float64 {
	most := 0.0
	for _, j := range others {
		most = max(most, r.hands[j].aheadOf())
	}
	return most
}

// toItByHand is the readings from other findings to one. One that is nearer than what was
// measured from the finding itself contradicts it.
func (r *run) toItByHand(i int, others []int) []handReading {
	f := &r.found[i]
	own := r.quietReadings(r.hands[i], job.HandNext)
	var out []handReading
	for _, j := range others {
		for _, x := range r.quietReadings(r.hands[j], job.HandNext) {
			if x.to != string(f.ID) || x.none {
				continue
			}
			x.to = string(r.found[j].ID)
			out = append(out, x)
			for _, o := range own {
				if o.mm-x.mm > float64(r.closeStds()*elem.Hypot(o.std, x.std)) {
					r.contradiction(f, diag.Say("inspect.nearer-measured", "nothing is said to be nearer to it than {nearest}, but {what} was measured {far} from it", long(o.mm), x.to, long(x.mm)))
				}
			}
		}
	}
	return out
}

// quietReadings is readings that were told of before.
func (r *run) quietReadings(t *trace, what job.ByHand) []handReading {
	var f Finding
	notes := r.notes
	out := r.readings(&f, t, what)
	r.notes = notes
	return out
}

// lookedAroundByHand adds what has not been inspected to a spacing: beyond the border of the
// finding's zone, or anywhere when it may lie in that zone itself or nobody measured how far
// the border is.
func (r *run) lookedAroundByHand(f *Finding) {
	for _, z := range r.placeNamed(f.Casting).Of.Zones {
		area := r.openIn(f.Casting, z.ID)
		if area == "" {
			continue
		}
		name := "area " + area + ", which is not inspected"
		if f.in(z.ID) || f.Border == nil || len(f.Border.Of) == 0 {
			f.Spacing.Of = append(f.Spacing.Of, Element{To: name, Maybe: true, end: noEnd})
			continue
		}
		for _, e := range f.Border.Of {
			e.To, e.Maybe = name, true
			f.Spacing.Of = append(f.Spacing.Of, e)
		}
	}
}

// groupsByHand joins the findings that may count as one, and gives each its decision length.
func (r *run) groupsByHand(order []int) {
	may, known := newSets(len(r.found)), newSets(len(r.found))
	gaps := map[int][]handReading{} // by the root of the set, once all are joined
	type joined struct {
		i   int
		gap handReading
	}
	var all []joined
	for n, i := range order {
		limit := r.joinLimitByHand(i, order)
		for _, j := range order[:n] {
			if r.found[i].Casting != r.found[j].Casting || !r.parts(i) || !r.parts(j) {
				continue
			}
			apart, direct := r.apartByHand(i, j)
			if apart > limit {
				continue
			}
			may.join(i, j)
			if direct.mm < math.Inf(1) && known.join(i, j) {
				all = append(all, joined{i, direct})
			}
		}
	}
	for _, x := range all {
		gaps[may.of(x.i)] = append(gaps[may.of(x.i)], x.gap)
	}
	members := map[int][]int{}
	for _, i := range order {
		members[may.of(i)] = append(members[may.of(i)], i)
	}
	for _, i := range order {
		m := members[i]
		switch {
		case len(m) > 1:
			linked := r.lostByHand(i) == "" && !slices.ContainsFunc(m, func(j int) bool { return known.of(j) != known.of(m[0]) })
			r.groupByHand(m, gaps[i], linked)
		case len(m) == 1 && r.lostByHand(i) != "":
			r.found[i].Unknown = append(r.found[i].Unknown, fmt.Sprintf("decision length: %s may count as one with it, and where that lies is not known", r.lostByHand(i)))
		case len(m) == 1:
			r.aloneByHand(i)
		}
	}
}

// lostByHand is a finding that may count as one with another, because nobody knows where on the
// casting it lies; empty when there is none.
func (r *run) lostByHand(i int) job.FindingID {
	p := r.hands[i].at.rule
	if !r.parts(i) || p == nil || p.GroupGap <= 0 && p.Grouping == nil {
		return ""
	}
	for _, j := range r.besideByHand(i) {
		if r.hands[j] == nil && r.parts(j) {
			return r.found[j].ID
		}
	}
	return ""
}

// apartByHand is how far two findings surely are apart, and the distance that was measured
// between them (+Inf: none was). Nothing is nearer to a finding than the next one.
func (r *run) apartByHand(i, j int) (sure float64, direct handReading) {
	direct.mm = math.Inf(1)
	ahead := r.hands[i].aheadOf() + r.hands[j].aheadOf()
	for _, k := range [][2]int{{i, j}, {j, i}} {
		for _, x := range r.quietReadings(r.hands[k[0]], job.HandNext) {
			least := x.mm - float64(r.closeStds()*elem.Hypot(x.std, hiddenStd(ahead))) - ahead
			sure = max(sure, least)
			if !x.none && x.to == string(r.found[k[1]].ID) && (x.mm < direct.mm || x.mm == direct.mm && x.std > direct.std) {
				direct = x
			}
		}
	}
	if !math.IsInf(direct.mm, 1) { // it was measured: what follows from others does not make it more
		sure = min(sure, direct.mm-float64(r.closeStds()*elem.Hypot(direct.std, hiddenStd(ahead)))-ahead)
	}
	return sure, direct
}

// joinLimitByHand is the distance up to which cracks on the casting of a finding count as
// one. With a rule on lengths every one is taken to be as long as all of them together.
func (r *run) joinLimitByHand(i int, order []int) float64 {
	p := r.hands[i].at.rule
	if p == nil {
		return math.Inf(-1)
	}
	limit, g := float64(p.GroupGap), p.Grouping
	if g == nil {
		if limit <= 0 {
			return math.Inf(-1)
		}
		return limit + roundingMM
	}
	sum := 0.0
	for _, j := range order {
		if r.found[j].Casting != r.found[i].Casting || !r.parts(j) {
			continue
		}
		if r.found[j].Length == nil {
			return math.Inf(1)
		}
		sum += r.found[j].Length.MM + float64(2*r.hands[j].aheadOf())
		if next, ok := r.nextMM(j); ok {
			sum += next
		}
	}
	if g.Deeper > 0 { // how deep the others are nobody need have measured
		return math.Inf(1)
	}
	return max(limit, float64((g.HalfSum+g.Shorter+g.Longer)*sum)) + roundingMM
}

// nextMM is the distance to the next finding as it was measured.
func (r *run) nextMM(i int) (float64, bool) {
	for _, x := range r.quietReadings(r.hands[i], job.HandNext) {
		if !x.none {
			return x.mm, true
		}
	}
	return 0, false
}

// groupByHand is cracks that may count as one: their lengths and the gaps that were measured
// between them, all tips allowed for. Its length is unknown when the gaps do not link all
// of them.
func (r *run) groupByHand(members []int, gaps []handReading, linked bool) {
	slices.SortFunc(members, func(a, b int) int { return byName(r.found[a].ID, r.found[b].ID) })
	g := Group{ID: "G-" + string(r.found[members[0]].ID), Unknown: !linked}
	variance, tips := 0.0, 0
	for _, i := range members {
		f := &r.found[i]
		g.Findings, f.Group = append(g.Findings, f.ID), g.ID
		if f.Length == nil {
			g.Unknown = g.Unknown || isCrack(f.Kind)
			continue
		}
		g.LengthMM += f.Length.MM
		variance += float64(f.Length.Std * f.Length.Std)
		tips += r.hands[i].tipCount()
	}
	var between []string
	for _, x := range gaps {
		g.LengthMM += x.mm
		variance += float64(x.std * x.std)
		between = append(between, mm(x.mm))
	}
	g.StdMM = math.Sqrt(variance)
	if g.Unknown {
		r.unknownByHand(&g, members, linked)
		return
	}
	r.finish(&g, members, members, between, tips)
}

func (r *run) unknownByHand(g *Group, members []int, linked bool) {
	g.LengthMM, g.StdMM = 0, 0
	g.Because = names(g.Findings) + " count as one, and the length of one of them is unknown"
	if !linked {
		g.Because = names(g.Findings) + " may count as one: not all distances between them were measured"
	}
	r.res.Groups = append(r.res.Groups, *g)
	for _, i := range members {
		r.found[i].Unknown = append(r.found[i].Unknown, "decision length: "+g.Because)
	}
}

// aloneByHand gives a finding that is in no group its decision length: of several readings
// each is one that it may have.
func (r *run) aloneByHand(i int) {
	f, t := &r.found[i], r.hands[i]
	if f.Length == nil || isCrack(f.Kind) && t.at.rule == nil {
		return
	}
	r.decide(f, t.at, *f.Length, t.tipCount(), "")
	for _, x := range r.quietReadings(t, job.HandLength) {
		if l := (Length{x.mm, x.std}); l != *f.Length {
			with, _ := t.at.withTips(l, t.tipCount())
			f.Lengths = append(f.Lengths, with)
		}
	}
}
