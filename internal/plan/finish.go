package plan

import (
	"slices"

	"fettle/internal/sched"
)

// A plan is over when its last wait is: a step after which an adhesive cures is not the
// end of it. The schedule takes what follows nothing and waits into account by one more
// activity of no minutes that follows it; and since that begins in working time only,
// waits that end in a night are compared to the minute afterwards.

// lasting are the activities that nothing follows, with their waits; true when one has one.
func lasting(p *sched.Problem, dated []*node) ([]sched.Lag, bool) {
	followed := make([]bool, len(p.Activities))
	for _, a := range p.Activities {
		for _, l := range a.After {
			followed[l.Pred] = true
		}
	}
	var out []sched.Lag
	waits := false
	for i, n := range dated {
		if !followed[i] {
			out = append(out, sched.Lag{Pred: i, Minutes: whole(n.step.WaitMin), Clock: sched.Elapsed})
			waits = waits || n.step.WaitMin > 0
		}
	}
	return out, waits
}

// solve schedules the steps so that the last of them, and of the waits after them, ends as
// soon as may be. The second result is a minute before which no schedule ends.
func (b *builder) solve(p sched.Problem, dated []*node) (sched.Solution, int, error) {
	last, waits := lasting(&p, dated)
	if !waits {
		sol, err := b.in.Known.Solve(p.While(b.in.Work))
		return sol, sol.LeastEnd, err
	}
	p.Activities = append(p.Activities, sched.Activity{ID: "end", After: last})
	sol, err := b.in.Known.Solve(p.While(b.in.Work))
	if err != nil {
		return sol, 0, err
	}
	least, proven := sol.LeastEnd, sol.Proven
	for proven && least < ends(sol, last) { // it ends in no working minute: is it the first such end?
		by := ends(sol, last) - 1
		next, err := b.in.Known.Solve(endingBy(p, last, by).While(b.in.Work))
		switch {
		case err != nil: // the schedule that is known keeps everything
			proven = false
		case ends(next, last) <= by:
			next.WorkMin, next.WorkBound = sol.WorkMin, sol.WorkBound
			sol = next
		case next.WorkBound > p.Calendar.Worked(by):
			least = by + 1
		default:
			proven = false
		}
	}
	sol.Proven = proven
	return sol, least, nil
}

// ends is when the last wait of a schedule is over.
func ends(s sched.Solution, last []sched.Lag) int {
	out := 0
	for _, l := range last {
		out = max(out, s.Slots[l.Pred].To+l.Minutes)
	}
	return out
}

// endingBy is the problem in which a schedule takes no more working minutes than there are
// before an elapsed one if, and only if, all waits are over by then: each keeps the working
// minutes free that its wait covers before it.
func endingBy(p sched.Problem, last []sched.Lag, by int) sched.Problem {
	p.Activities = slices.Clone(p.Activities)
	end := &p.Activities[len(p.Activities)-1]
	end.After = nil
	for _, l := range last {
		end.After = append(end.After, sched.Lag{Pred: l.Pred, Minutes: p.Calendar.Worked(by) - p.Calendar.Worked(by-l.Minutes), Clock: sched.Working})
	}
	return p
}
