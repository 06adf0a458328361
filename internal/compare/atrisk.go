package compare

import (
	"fmt"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/plan"
)

// What a mix of treatments costs is one side of it, what may happen on it the other. A mix
// that another beats in money, days and questions is kept all the same where a risk of the
// other does not concern it: a draw in which that risk turns out bad goes on by it, and a look
// may change to it.

// Effort of the search for mixes that avoid risks, for each subset of the actions.
const (
	spareSets  = 64 // sets of risks to avoid, the smallest first
	sparePlans = 10 // plans for each of them
	largeSets  = 8  // sets where there are too many mixes to search them one by one
	largeTotal = 48 // and over all subsets of such jobs
)

// atRisk says that a risk of a finding matters where it is treated by the item; one of the
// whole job matters unless an item spares it.
func atRisk(k job.Risk, it plan.Item) bool {
	if spared := slices.Contains(k.Spared, it.Kind); k.About == "" || spared && !it.Open {
		return !spared
	}
	return slices.Contains(it.Findings, job.FindingID(k.About))
}

// noMoreAtRisk says that no risk matters with a that does not with b.
func (f *finder) noMoreAtRisk(a, b plan.Item) bool {
	return !slices.ContainsFunc(f.risks(), func(k job.Risk) bool { return atRisk(k, a) && !atRisk(k, b) })
}

// risks are those that are reckoned with: open ones, and those that turned out badly and bar
// what they concern.
func (f *finder) risks() []job.Risk {
	var out []job.Risk
	for _, k := range f.in.Job.Risks {
		if k.Open() && len(out) < spreadRisks || k.Blocks() {
			out = append(out, k)
		}
	}
	return out
}

// refused is a treatment that a risk which turned out badly bars.
func refused(in Input, ids []job.FindingID, o option) (string, bool) {
	for _, k := range in.Job.Risks {
		if k.Blocks() && slices.Contains(ids, job.FindingID(k.About)) && !slices.Contains(k.Spared, o.kind) {
			return fmt.Sprintf("%s turned out badly by %s", k.ID, k.SettledBy), true
		}
	}
	return "", false
}

// exclude takes out the routes that a risk which turned out badly bars.
func (f *finder) exclude(routes []Route) {
	for i := range routes {
		r := &routes[i]
		for _, k := range f.in.Job.Risks {
			if r.Feasible && k.Blocks() && concerns(k, *r) {
				r.Feasible, r.Excluded = false, fmt.Sprintf("%s turned out badly by %s: %s", k.ID, k.SettledBy, k.Text)
			}
		}
	}
}

// lookNotes say that a look was taken whose risk still counts.
func (f *finder) lookNotes() []diag.Note {
	var out []diag.Note
	for _, k := range f.in.Job.Risks {
		if x, ok := f.in.Job.LookTaken(k); ok {
			out = append(out, diag.Say("compare.risk-not-settled", "{about} was looked at in {inspection} on {on}, after the risk was given, and the risk still counts in full", k.About, x.ID, x.On).Note(diag.Note{Severity: diag.Caution, Where: k.ID, Hint: "say how it turned out: settled: well or badly, and settled_by"}))
		}
	}
	return out
}

// dread is what may go wrong with some treatments of a candidate: a risk, or that the finding
// they wait for is not settled. Without a finding one item to which it does not matter is enough.
type dread struct {
	without string // what can be said of a route without it
	finding job.FindingID
	at      func(plan.Item) bool
}

// spare seeks the cheapest mix for every set of risks and open findings that can be avoided.
func (h *hunt) spare() {
	if len(h.f.risks()) == 0 {
		return
	}
	all, most := h.avoidable(), spareSets
	if h.c.large() {
		most = min(largeSets, largeTotal-h.f.spared)
	}
	var sets [][]int
	for size := 1; size <= len(all) && len(sets) <= most; size++ {
		sets = subsets(sets, nil, 0, len(all), size, most)
	}
	if len(sets) > most {
		sets, h.unspared = sets[:most], true
	}
	h.sought = len(sets)
	if h.c.large() {
		h.f.spared += len(sets)
	}
	for _, s := range sets {
		var avoid []dread
		for _, i := range s {
			avoid = append(avoid, all[i])
		}
		for _, c := range h.avoiding(avoid) {
			x := h.f.search(c, mixProofs-sparePlans)
			for _, r := range x.front {
				h.keep(r, x, avoid)
			}
		}
	}
}

// subsets adds every subset of a size of 0 to n-1 that goes on from one; they stop after one more
// than most.
func subsets(sets [][]int, from []int, next, n, size, most int) [][]int {
	if size == 0 {
		return append(sets, slices.Clone(from))
	}
	for i := next; i < n && len(sets) <= most; i++ {
		sets = subsets(sets, append(from, i), i+1, n, size-1, most)
	}
	return sets
}

// keep adds a mix that avoids something, unless one that is known is no worse in money, days
// and questions, waits for nothing else and is concerned by no other risk.
func (h *hunt) keep(r Route, from *hunt, avoid []dread) {
	worse := func(q Route) bool {
		return noWorse(q, r) && !slices.ContainsFunc(q.OpenFor(), func(x string) bool { return !slices.Contains(r.OpenFor(), x) }) &&
			!slices.ContainsFunc(h.f.risks(), func(k job.Risk) bool { return concerns(k, q) && !concerns(k, r) })
	}
	if slices.ContainsFunc(h.front, worse) || slices.ContainsFunc(h.spares, worse) {
		return
	}
	for _, x := range avoid {
		r.avoids = append(r.avoids, x.without)
	}
	h.spares = append(h.spares, r)
	h.said[key(r.Items)] = from.said[key(r.Items)]
}

// avoidable is what some treatment of the candidate avoids and another does not.
func (h *hunt) avoidable() []dread {
	var all []dread
	for _, k := range h.f.risks() {
		all = append(all, dread{k.ID + " cannot happen", job.FindingID(k.About), func(it plan.Item) bool { return atRisk(k, it) }})
	}
	for _, w := range h.f.wards {
		all = append(all, dread{list(names(w.findings)) + " need not be settled first", w.findings[0], func(it plan.Item) bool { return it.Open && slices.Contains(it.Findings, w.findings[0]) }})
	}
	return slices.DeleteFunc(all, func(x dread) bool {
		at, not := false, false
		for _, s := range h.c.slots {
			for _, o := range s.options {
				if x.finding == "" || slices.Contains(o.item.Findings, x.finding) {
					at, not = at || x.at(o.item), not || !x.at(o.item)
				}
			}
		}
		return !at || !not
	})
}

// avoiding are the candidates left where these are to be avoided: one for each way to do it.
func (h *hunt) avoiding(avoid []dread) []candidate {
	out := []candidate{h.c}
	for _, x := range avoid {
		safe := func(it plan.Item) bool { return !x.at(it) }
		var next []candidate
		for _, c := range out {
			switch {
			case x.finding != "":
				for i := range c.slots {
					c = c.only(i, safe)
				}
				next = append(next, c)
			case slices.ContainsFunc(c.items, safe):
				next = append(next, c)
			default:
				for i := range c.slots {
					next = append(next, c.only(i, safe))
				}
			}
		}
		out = slices.DeleteFunc(next, func(c candidate) bool {
			return slices.ContainsFunc(c.slots, func(s slot) bool { return len(s.options) == 0 })
		})
	}
	return out
}

// only is the candidate with none but these options in one slot.
func (c candidate) only(i int, fits func(plan.Item) bool) candidate {
	c.slots = slices.Clone(c.slots)
	var left []choice
	for _, o := range c.slots[i].options {
		if fits(o.item) {
			left = append(left, o)
		}
	}
	c.slots[i] = slot{left}
	return c
}
