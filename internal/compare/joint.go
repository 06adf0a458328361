package compare

import (
	"math"
	"slices"

	"fettle/internal/choose"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// jointNodes bounds the search for the cheapest treatments of all findings
// together: branches, fewer where there are very many findings.
const jointNodes = 400

func branches(findings int) int { return min(jointNodes, max(jointWork/max(findings, 1), 20)) }

const jointWork = 8000

// A pack is told in so many parts, and at most so many packs of a material are chosen one
// by one; of more their price is taken by what is used up.
const (
	packParts = 1000000
	packsMost = 60
)

// jointly is a question of treatments with what they share: the things that come
// off and the tasks are options of their own, which the treatments need.
type jointly struct {
	choose.Selection
	sharing *plan.Sharing
}

func newJointly(sh *plan.Sharing) *jointly {
	q := &jointly{sharing: sh}
	q.Cost = slices.Clone(sh.Cost)
	for _, n := range sh.Needs {
		q.Need(n.Who, n.OneOf...)
	}
	return q
}

// treatment adds a treatment and what it needs.
func (q *jointly) treatment(own int64, d plan.Demand) int {
	j := q.Add(own)
	for _, list := range q.sharing.Of(d) {
		q.Need(j, list...)
	}
	return j
}

// stock makes packs of a material an option each, where the treatments that may be chosen take
// more or less of it. It answers what the packs cost that are bought whatever is chosen; false:
// there are too many.
func (q *jointly) stock(price int64, fixed float64, rows [][]int, use map[int]float64) (int64, bool) {
	parts := func(packs float64) int64 { return unit.Whole(math.Floor(float64(packs*packParts) - 1e-6)) }
	k := choose.Stock{Size: packParts}
	sure, least, most := max(parts(fixed), 0), int64(0), int64(0)
	for _, row := range rows {
		low, high := int64(math.MaxInt64), int64(0)
		for _, j := range row {
			n := max(parts(use[j]), 0)
			low, high = min(low, n), max(high, n)
			if n > 0 {
				k.Users, k.Use = append(k.Users, j), append(k.Use, int32(min(n, math.MaxInt32)))
			}
		}
		least, most = least+low, most+high
	}
	packs := func(n int64) int64 { return (n + packParts - 1) / packParts }
	bought := packs(sure + least)
	if packs(sure+most)-bought > packsMost || sure+most > math.MaxInt32 {
		return 0, false
	}
	k.Sure = int32(sure - bought*packParts)
	for range packs(sure+most) - bought {
		j := q.Add(price)
		if n := len(k.Packs); n > 0 {
			q.Need(j, k.Packs[n-1])
		}
		k.Packs = append(k.Packs, j)
	}
	q.Stocks = append(q.Stocks, k)
	return bought * price, true
}

// together is the least weight of one treatment for each slot with all they share
// and all that is sure, as a bound, and treatments that come near it; none: nothing
// is known. Open treatments are taken where asked for. Whole packs are reckoned with.
func (h *hunt) together(open bool) (int64, []choice) {
	all := h.sure
	for _, s := range h.c.slots {
		for _, o := range s.options {
			all = all.With(o.demand)
		}
	}
	bound, cost := int64(-1), int64(0)
	var picks []choice
	for _, sh := range h.f.weigh.Sharing(all) {
		q := newJointly(&sh)
		q.Work = h.f.in.Work
		q.Cover = append(q.Cover, sh.Of(h.sure)...)
		ids := map[int]choice{}
		var rows [][]int
		for _, s := range h.c.slots {
			var row []int
			for _, o := range s.options {
				if open || !o.item.Open {
					j := q.treatment(o.bare, o.demand)
					ids[j] = o
					row = append(row, j)
				}
			}
			rows = append(rows, row)
		}
		q.Cover = append(q.Cover, rows...)
		packs := h.packs(q, rows, ids)
		r := q.Choose(branches(len(h.c.slots)))
		if r.Proven && !r.Found {
			continue // with these assemblies nothing can be opened
		}
		if bound < 0 || r.Bound+packs < bound {
			bound = r.Bound + packs
		}
		if r.Found && (picks == nil || r.Cost+packs < cost) {
			cost, picks = r.Cost+packs, h.picked(q, r, ids)
		}
	}
	return bound, picks
}

// packs puts the packs into the question. It answers what has to be added to its price beside
// the weight of what is sure.
func (h *hunt) packs(q *jointly, rows [][]int, ids map[int]choice) int64 {
	sum := int64(0)
	for k, p := range h.f.packed {
		fixed, use := 0.0, map[int]float64{}
		for _, it := range h.c.items {
			fixed += h.f.choice(it).used[k]
		}
		for j, o := range ids {
			use[j] = o.used[k]
		}
		part := func(packs float64) int64 { return unit.Whole(math.Floor(packs * float64(p.Price))) }
		if bought, ok := q.stock(p.Price, fixed, rows, use); ok {
			sum += bought - part(fixed)
			continue
		}
		for j, packs := range use {
			q.Cost[j] += part(packs)
		}
	}
	return max(sum, 0)
}

// picked is one treatment for each slot out of those that were chosen: the
// cheapest.
func (h *hunt) picked(q *jointly, r choose.Selected, ids map[int]choice) []choice {
	var out []choice
	rows := q.Cover[len(q.Cover)-len(h.c.slots):]
	for _, row := range rows {
		best := -1
		for _, j := range row {
			if r.Chosen[j] && (best < 0 || q.Cost[j] < q.Cost[best]) {
				best = j
			}
		}
		out = append(out, ids[best])
	}
	return out
}

// reached says that a mix costs what the bound says, as near as the lines are rounded.
func (h *hunt) reached(r Route) bool {
	return dated(r) && r.Bill.Total <= h.leastMoney+h.rounding() && openItems(r) == h.waits
}

// prove goes on where the search left something that could cost less: it chooses
// the treatments together, plans what comes out, and raises the bound of what was
// left out. A bound that is as near as the lines are rounded counts as reached.
func (h *hunt) prove() {
	if h.proven || slices.ContainsFunc(h.front, h.reached) {
		h.proven = true
		return
	}
	bound, picks := h.together(true)
	if bound >= 0 {
		h.leastMoney = max(h.leastMoney, h.atLeast(h.fixed+bound, h.leastDaysOfAll()))
	}
	if slices.ContainsFunc(picks, func(o choice) bool { return o.item.Open }) {
		h.take(picks)
		_, picks = h.together(false)
	}
	if picks != nil {
		h.take(picks)
	}
	h.proven = slices.ContainsFunc(h.front, h.reached)
}

// leastDaysOfAll is a number of days that no mix can do without.
func (h *hunt) leastDaysOfAll() int {
	return max(h.days, h.f.weigh.Days(h.work.Plus(h.toCome[0]).Plus(h.f.weigh.WorkOf(h.sure))))
}

// largeMixes is the number of mixes of a candidate above which they are not searched one by
// one.
const largeMixes = 729

// quickPlans is how many plans are made over all candidates only because they may be quicker.
const quickPlans = 32

// large says that there are more mixes than are searched one by one.
func (c candidate) large() bool {
	n := 1
	for _, s := range c.slots {
		if n *= len(s.options); n > largeMixes {
			return true
		}
	}
	return false
}

// straight goes straight to the treatments chosen together: those of least money, with and
// without what is still open, and where nothing else was spent the quickest of each.
func (h *hunt) straight(quickToo bool) {
	waits := slices.ContainsFunc(h.c.slots, func(s slot) bool {
		return slices.ContainsFunc(s.options, func(o choice) bool { return o.item.Open })
	})
	days := h.leastDaysOfAll()
	h.proven = false
	bound, picks := h.together(false)
	if picks != nil {
		h.take(picks)
	}
	if bound >= 0 {
		h.leastMoney = h.atLeast(h.fixed+bound, days)
		h.proven = slices.ContainsFunc(h.front, h.reached)
	}
	if waits {
		bound, picks := h.together(true)
		if slices.ContainsFunc(picks, func(o choice) bool { return o.item.Open }) {
			r := h.take(picks)
			h.proven = h.proven && bound >= 0 && dated(r) && r.Bill.Total <= h.atLeast(h.fixed+bound, days)+h.rounding()
		}
	}
	if quickToo && h.f.quickly < quickPlans || len(h.front) == 0 {
		h.f.quickly++
		h.take(h.quickest())
	}
	h.leastDays = days
	h.quick = slices.ContainsFunc(h.front, func(r Route) bool { return dated(r) && r.Plan.Calendar <= days && h.proven && h.reached(r) })
}

// quickest is of each slot the treatment of fewest days that may be done now, then of least
// work, then of least money.
func (h *hunt) quickest() []choice {
	var out []choice
	for _, s := range h.c.slots {
		best := s.options[0]
		for _, o := range s.options[1:] {
			x, y := o.work.Sum(), best.work.Sum()
			if o.item.Open == best.item.Open && (o.days < best.days || o.days == best.days && (x < y || x == y && o.own < best.own)) {
				best = o
			}
		}
		out = append(out, best)
	}
	return out
}

// foremost is the section lines and castings that routes are made with when
// there are too many for every subset: those of the cheapest choice of
// treatments for all findings together, lines and castings included, then the
// first of the others.
func (f *finder) foremost(acts []action) []action {
	var all plan.Demand
	var open int64 // more than all treatments: what waits comes last
	covers := make([][]int, len(f.wards))
	choices := make([]choice, len(acts))
	refused := make([]bool, len(acts))
	own := make([][]choice, len(f.wards))
	for k, a := range acts {
		covered := map[int]int{}
		it, waits, refusal := f.cover(a, 0, covered)
		if refused[k] = refusal != "" || len(waits) > 0; refused[k] {
			continue
		}
		choices[k] = f.choice(it)
		all, open = all.With(choices[k].demand), open+choices[k].own
		for w := range f.wards {
			if _, ok := covered[w]; ok {
				covers[w] = append(covers[w], k)
			}
		}
	}
	for w := range f.wards {
		own[w], _ = f.own(&f.wards[w], nil)
		for _, o := range own[w] {
			all, open = all.With(o.demand), open+o.own
		}
	}
	sh := f.weigh.Sharing(all)[0]
	q := newJointly(&sh)
	q.Work = f.in.Work
	ids := make([]int, len(acts))
	for k, c := range choices {
		if !refused[k] {
			ids[k] = q.treatment(c.own, c.demand)
		}
	}
	for a := range acts {
		for b := range a {
			if !refused[a] && !refused[b] && f.conflicting([]action{acts[a], acts[b]}) {
				q.Apart = append(q.Apart, [2]int{ids[b], ids[a]})
			}
		}
	}
	for w := range f.wards {
		var row []int
		for _, k := range covers[w] {
			row = append(row, ids[k])
		}
		for _, o := range own[w] {
			c := o.own
			if o.item.Open {
				c += open
			}
			row = append(row, q.treatment(c, o.demand))
		}
		if len(row) > 0 {
			q.Cover = append(q.Cover, row)
		}
	}
	r := q.Choose(jointNodes)
	return first(acts, f.mostActions(), func(k int) bool { return r.Found && !refused[k] && r.Chosen[ids[k]] })
}

// first takes so many of the actions, in their order: those that are wanted
// before the others.
func first(acts []action, most int, wanted func(int) bool) []action {
	take := make([]bool, len(acts))
	n := 0
	for _, pass := range []bool{true, false} {
		for k := range acts {
			if n < most && !take[k] && wanted(k) == pass {
				take[k] = true
				n++
			}
		}
	}
	var out []action
	for k, a := range acts {
		if take[k] {
			out = append(out, a)
		}
	}
	return out
}
