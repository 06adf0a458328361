package compare

import (
	"slices"

	"fettle/internal/plan"
)

// jointNodes bounds the search for the cheapest treatments of all findings
// together.
const jointNodes = 400

// jointly is a question of treatments with what they share: the things that come
// off and the tasks are options of their own, which the treatments need.
type jointly struct {
	selection
	sharing *plan.Sharing
}

func newJointly(sh *plan.Sharing) *jointly {
	q := &jointly{sharing: sh}
	q.cost = slices.Clone(sh.Cost)
	for _, n := range sh.Needs {
		q.need(n.Who, n.OneOf...)
	}
	return q
}

// treatment adds a treatment and what it needs.
func (q *jointly) treatment(own int64, d plan.Demand) int {
	j := q.add(own)
	for _, list := range q.sharing.Of(d) {
		q.need(j, list...)
	}
	return j
}

// together is the least weight of one treatment for each slot with all they share
// and all that is sure, as a bound, and treatments that come near it; none: nothing
// is known. Open treatments are taken where asked for.
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
		q.cover = append(q.cover, sh.Of(h.sure)...)
		ids := map[int]choice{}
		for _, s := range h.c.slots {
			var row []int
			for _, o := range s.options {
				if open || !o.item.Open {
					j := q.treatment(o.own, o.demand)
					ids[j] = o
					row = append(row, j)
				}
			}
			q.cover = append(q.cover, row)
		}
		r := q.choose(jointNodes)
		if r.proven && !r.found {
			continue // with these assemblies nothing can be opened
		}
		if bound < 0 || r.bound < bound {
			bound = r.bound
		}
		if r.found && (picks == nil || r.cost < cost) {
			cost, picks = r.cost, h.picked(q, r, ids)
		}
	}
	return bound, picks
}

// picked is one treatment for each slot out of those that were chosen: the
// cheapest.
func (h *hunt) picked(q *jointly, r selected, ids map[int]choice) []choice {
	var out []choice
	rows := q.cover[len(q.cover)-len(h.c.slots):]
	for _, row := range rows {
		best := -1
		for _, j := range row {
			if r.chosen[j] && (best < 0 || q.cost[j] < q.cost[best]) {
				best = j
			}
		}
		out = append(out, ids[best])
	}
	return out
}

// prove goes on where the search left something that could cost less: it chooses
// the treatments together, plans what comes out, and raises the bound of what was
// left out. A bound that is as near as the lines are rounded counts as reached.
func (h *hunt) prove() {
	reached := func(r Route) bool {
		return dated(r) && r.Bill.Total <= h.leastMoney+2*h.slack && openItems(r) == 0
	}
	if h.proven || slices.ContainsFunc(h.front, reached) {
		h.proven = true
		return
	}
	bound, picks := h.together(true)
	if bound >= 0 {
		days := max(h.days, h.f.weigh.Days(h.work.Plus(h.toCome[0]).Plus(h.f.weigh.WorkOf(h.sure))))
		h.leastMoney = max(h.leastMoney, h.atLeast(h.fixed+bound, days))
	}
	if slices.ContainsFunc(picks, func(o choice) bool { return o.item.Open }) {
		h.take(picks)
		_, picks = h.together(false)
	}
	if picks != nil {
		h.take(picks)
	}
	h.proven = slices.ContainsFunc(h.front, reached)
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
	ids := make([]int, len(acts))
	for k, c := range choices {
		if ids[k] = -1; !refused[k] {
			ids[k] = q.treatment(c.own, c.demand)
		}
	}
	for a := range acts {
		for b := range a {
			if ids[a] >= 0 && ids[b] >= 0 && f.conflicting([]action{acts[a], acts[b]}) {
				q.apart = append(q.apart, [2]int{ids[b], ids[a]})
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
			q.cover = append(q.cover, row)
		}
	}
	r := q.choose(jointNodes)
	return first(acts, func(k int) bool { return r.found && ids[k] >= 0 && r.chosen[ids[k]] })
}

// first takes maxActions of the actions, in their order: those that are wanted
// before the others.
func first(acts []action, wanted func(int) bool) []action {
	take := make([]bool, len(acts))
	n := 0
	for _, pass := range []bool{true, false} {
		for k := range acts {
			if n < maxActions && !take[k] && wanted(k) == pass {
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
