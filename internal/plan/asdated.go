package plan

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/sched"
)

// The order in which parts come off and go back on is chosen for one person, with the
// fewest changes of tool, side and lift. Once the steps have dates the lists are told in
// their order, so that a reader finds one order everywhere, with the changes it takes.

// asDated puts the lists of removal and refit into the order in which their steps begin.
func (b *builder) asDated(p *Plan) {
	at := map[string]int{}
	for k, n := range b.nodes {
		at[n.step.Ref] = k
		if n.step.From.IsZero() {
			return
		}
	}
	was := make([]body.PartID, len(p.Removal))
	for k, r := range p.Removal {
		was[k] = r.Part
	}
	slices.SortStableFunc(p.Removal, func(x, y Removal) int { return at["off "+string(x.Part)] - at["off "+string(y.Part)] })
	ids := make([]body.PartID, len(p.Removal))
	for k, r := range p.Removal {
		ids[k] = r.Part
	}
	if !slices.Equal(was, ids) {
		words := b.recount(ids, &p.OffChanges)
		for k := range p.Removal {
			p.Removal[k].Change = words[k]
			b.nodes[at["off "+string(ids[k])]].step.Change = words[k]
		}
	}
	was = was[:0]
	for _, r := range p.Refit {
		was = append(was, r.Part)
	}
	slices.SortStableFunc(p.Refit, func(x, y Refitting) int { return at["on "+string(x.Part)] - at["on "+string(y.Part)] })
	ids = ids[:0]
	for _, r := range p.Refit {
		ids = append(ids, r.Part)
	}
	if !slices.Equal(was, ids) {
		words := b.recount(ids, &p.RefitChanges)
		for k := range p.Refit {
			p.Refit[k].Change = words[k]
			b.nodes[at["on "+string(ids[k])]].step.Change = words[k]
		}
	}
}

// recount counts the changes of an order anew, and says for each part what is changed
// before it. What no order takes less of stays.
func (b *builder) recount(ids []body.PartID, c *Changes) []string {
	order := make([]int, len(ids))
	for k := range order {
		order[k] = k
	}
	c.Tool, c.Side, c.Lift = 0, 0, 0
	var words []string
	for _, x := range b.changes(ids, order) {
		for k, n := range []*int{&c.Tool, &c.Side, &c.Lift} {
			if x[k] != "" {
				*n++
			}
		}
		words = append(words, changeWords(x))
	}
	wt, ws, wl, given := b.weights()
	took := float64(int64(c.Tool)*wt+int64(c.Side)*ws+int64(c.Lift)*wl) / 1000
	if given {
		c.Minutes = took
		c.Proven = took == c.Least
	} else {
		c.Proven = false
	}
	return words
}

// Effort of the search for a schedule that keeps the order of removal and refit.
const (
	orderSamples = 4
	orderNodes   = 200
)

// inOrder is a schedule in which parts come off and go back on in the order of fewest
// changes, where one is found that is over no later; else the one at hand.
func (b *builder) inOrder(p sched.Problem, dated []*node, sol sched.Solution) sched.Solution {
	at := map[string]int{}
	for i, n := range dated {
		at[n.step.Ref] = i
	}
	last, _ := lasting(&p, dated)
	q := p
	q.Samples, q.Nodes, q.Most = orderSamples, orderNodes, p.Calendar.Worked(ends(sol, last))
	q.Activities = slices.Clone(p.Activities)
	for _, way := range []struct {
		word  string
		order []int
	}{{"off ", b.open.order}, {"on ", b.open.on}} {
		before := -1
		for _, i := range way.order {
			k, ok := at[way.word+string(b.open.model.ids[i])]
			if !ok {
				continue
			}
			if before >= 0 {
				a := &q.Activities[k]
				a.After = append(slices.Clip(a.After), sched.Lag{Pred: before, From: sched.Start})
			}
			before = k
		}
	}
	next, err := b.in.Known.Solve(q.While(b.in.Work))
	if err != nil || len(next.Broken) > len(sol.Broken) || ends(next, last) > ends(sol, last) {
		return sol // no order was found that keeps everything
	}
	next.WorkBound, next.LeastEnd, next.Proven = sol.WorkBound, sol.LeastEnd, sol.Proven
	return next
}
