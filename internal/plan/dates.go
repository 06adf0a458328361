package plan

import (
	"math"
	"slices"
	"sort"
	"time"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/sched"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Effort of the schedule search: samples drawn and nodes of the exact search.
const (
	schedSamples = 20
	schedNodes   = 4000
	movedNodes   = 1000 // once the moves are laid down, whose order the bound knows nothing of
)

// dates schedules the steps in the shop and orders them by their start.
func (b *builder) dates(p *Plan) {
	cal, day0, ok := b.calendar()
	if !ok {
		return
	}
	dated := b.dated()
	if b.endless(dated) {
		return
	}
	first := startOfWork(cal)
	mv := b.mover(dated)
	moving := mv != nil && b.in.Shop.Moving != nil
	all := dated
	if moving {
		all = mv.open(dated)
	}
	prob, runOf := b.problem(cal, all, first, mv)
	sol, least, err := b.solve(prob, all)
	unmoved := false
	if mv != nil && err == nil {
		for i, n := range all {
			b.date(n, sol.Slots[i], day0)
		}
		vs := mv.visits(dated, runOf)
		b.tellRolling(len(vs) - 1)
		if moving {
			mv.close(dated)
			mv.insert(vs, dated, !slices.ContainsFunc(b.nodes, func(n *node) bool { return b.inBay(n) && n.step.From.IsZero() }))
			for _, n := range b.nodes {
				n.undate()
			}
			if !b.sortNodes() {
				b.block("moves", diag.Say("plan.circle", "no order was found in which the vehicle can be moved"), "report this as a fault of the program")
				return
			}
			dated = b.dated()
			prob, _ = b.problem(cal, dated, first, nil)
			prob.Floor, prob.Nodes = sol.WorkBound, movedNodes
			sol, _, err = b.solve(prob, dated)
		} else {
			unmoved = mv.unmoved(vs)
		}
	}
	if err != nil {
		b.block("steps", diag.Say("plan.schedule", "no schedule was made: {why}{left-out}", err.Error(), forGood(b.in.Shop)), "")
		return
	}
	sol = b.inOrder(prob, dated, sol)
	if beyondDates(sol) {
		b.block("steps", diag.Say("plan.endless", "the plan would end more than a hundred years from now"), "see whether a digit or a unit is wrong in the times of body and shop, and in the calendar")
		for _, n := range dated {
			n.undate()
		}
		return
	}
	b.tellBroken(sol, prob.Chains)
	for i, n := range dated {
		b.date(n, sol.Slots[i], day0)
		b.stillQualified(n)
	}
	sort.SliceStable(b.nodes, func(i, j int) bool {
		x, y := b.nodes[i], b.nodes[j]
		if x.step.From.IsZero() != y.step.From.IsZero() {
			return y.step.From.IsZero()
		}
		return x.step.From.Before(y.step.From)
	})
	b.span(p, sol, least, dated, first, day0, cal)
	p.Proven = p.Proven && !unmoved
}

// problem is the schedule of the steps. With mv the minutes between bays lie between their
// steps. The second result is which of the runs, for which a bay is kept, a step belongs to.
func (b *builder) problem(cal sched.Calendar, dated []*node, first int, mv *mover) (sched.Problem, map[*node]int) {
	prob := sched.Problem{Calendar: cal, Samples: schedSamples, Nodes: schedNodes, Seed: 1, Least: whole(float64(b.in.Shop.Calendar.LastStart))}
	b.staff(&prob, b.licenses())
	pools := b.pools(&prob)
	at := map[*node]int{}
	for i, n := range dated {
		at[n] = i
	}
	for _, n := range dated {
		prob.Activities = append(prob.Activities, b.activity(n, at, pools, &cal, first, prob.Workers))
	}
	runOf := b.standing(&prob, dated, at, mv)
	prob.Chains = b.chains(at)
	return prob, runOf
}

// does says that somebody who has not left the shop by a day, or another firm for it, does
// the work of a skill.
func does(s *shop.Shop, skill body.SkillID, day unit.Date) bool {
	_, sublet := s.Sublet(skill)
	return sublet || slices.ContainsFunc(s.People, func(p shop.Person) bool { return slices.Contains(p.Skills, skill) && !s.Left(p.ID, day) })
}

// workerID names a worker of the schedule: the people, then those who do sublet work.
func workerID(s *shop.Shop, k int) string {
	if k < len(s.People) {
		return s.People[k].ID
	}
	return s.Sublets[k-len(s.People)].ID
}

// watched is the skill of somebody whose work another person may pass at a hold point
// that asks for a second one.
func watched(s body.SkillID) string { return string(s) + ", passed by somebody else" }

// someoneWatched says that somebody has the skill whose work another person may pass.
func someoneWatched(workers []sched.Worker, s body.SkillID) bool {
	return slices.ContainsFunc(workers, func(w sched.Worker) bool { return slices.Contains(w.Skills, watched(s)) })
}

// passedByOther says that somebody else of the shop may pass what a person did.
func (b *builder) passedByOther(id string) bool {
	return slices.ContainsFunc(b.in.Shop.People, func(p shop.Person) bool {
		return p.ID != id && p.MaySign(shop.MayInspect) && !b.in.Shop.Left(p.ID, b.in.Job.Start)
	})
}

// secondPerson gives a step whose hold point asks for a second person to somebody whom
// another one can pass: else the plan could be followed and never be shown.
func (b *builder) secondPerson(n *node, a *sched.Activity, workers []sched.Worker) {
	if !n.step.Second || a.Skill == "" {
		return
	}
	if does := body.SkillID(a.Skill); someoneWatched(workers, does) {
		a.Skill = watched(does)
		return
	}
	b.note(diag.Caution, n.step.Name, diag.Say("plan.nobody-passes", "the hold point of {step:q} asks for a second person, and nobody but who does the step may pass it", n.step.Name), "let somebody else inspect ('may: [inspect]' in the shop file)")
}

// staff are the shop's people and bays; another firm comes with one person for each
// kind of sublet work.
func (b *builder) staff(prob *sched.Problem, licenses []string) {
	for _, per := range b.in.Shop.People {
		w := sched.Worker{ID: per.ID, Skills: []string{own(per.ID)}, Away: awayFrom(b.in.Shop, b.in.Job.Start, func(a shop.Absence) bool { return a.Person == per.ID })}
		for _, s := range per.Skills {
			w.Skills = append(w.Skills, string(s))
			if b.passedByOther(per.ID) && !b.in.Shop.Left(per.ID, b.in.Job.Start) {
				w.Skills = append(w.Skills, watched(s))
			}
			for _, q := range per.Qualified {
				if _, held := per.QualifiedFor(q.For, b.in.Job.Start); held && slices.Contains(licenses, q.For) {
					as := qualifiedAs(s, q.For)
					w.Skills = append(w.Skills, string(as))
					if b.passedByOther(per.ID) && !b.in.Shop.Left(per.ID, b.in.Job.Start) {
						w.Skills = append(w.Skills, watched(as))
					}
				}
			}
		}
		prob.Workers = append(prob.Workers, w)
	}
	for _, x := range b.in.Shop.Sublets {
		w := sched.Worker{ID: x.ID, Skills: []string{own(x.ID), string(x.Skill)}}
		if b.passedByOther(x.ID) {
			w.Skills = append(w.Skills, watched(x.Skill))
		}
		prob.Workers = append(prob.Workers, w)
	}
	for _, y := range b.in.Shop.Bays {
		prob.Places = append(prob.Places, sched.Place{ID: y.ID, Kind: string(y.Kind), Away: awayFrom(b.in.Shop, b.in.Job.Start, func(a shop.Absence) bool { return a.Bay == y.ID })})
	}
}

// dated is every step whose date can be told: not those that follow a wait of
// unknown length.
func (b *builder) dated() []*node {
	unknown := map[*node]bool{}
	var out []*node
	for _, n := range b.nodes {
		if c := b.chain[n.step.Together]; c != nil && n.unbegun {
			c.unknown = true // what is done in one go with it cannot begin either
		}
	}
	for _, n := range b.nodes {
		unknown[n] = n.unbegun
		for _, p := range n.after {
			unknown[n] = unknown[n] || p.undated || unknown[p]
		}
		if c := b.chain[n.step.Together]; c != nil {
			unknown[n] = unknown[n] || c.unknown
		}
		if !unknown[n] {
			out = append(out, n)
		}
	}
	return out
}

// activity is the step for the schedule: whole minutes, rounded up.
func (b *builder) activity(n *node, at map[*node]int, pools map[string]int, cal *sched.Calendar, first int, workers []sched.Worker) sched.Activity {
	a := sched.Activity{ID: n.step.Name, Minutes: whole(n.step.Minutes), Skill: string(n.step.Skill), Place: string(n.step.Bay)}
	if r := n.awaited(); r.Minutes > 0 { // so many days, by the clock
		a.Release = cal.Since(cal.Wall(first) + whole(r.Minutes))
	}
	if (!n.looks || n.step.Skill != "") && !does(b.in.Shop, n.step.Skill, b.in.Job.Start) {
		b.block(n.step.Name, diag.Say("plan.no-person", "nobody in the shop has the skill {skill:q}", n.step.Skill), "add a person with it, or sublet it ('sublets' in the shop file)")
		a.Skill = ""
	}
	b.licensed(n, &a, workers)
	b.secondPerson(n, &a, workers)
	if n.step.Bay != "" && !hasBay(b.in.Shop, n.step.Bay, b.in.Job.Start) {
		b.block(n.step.Name, diag.Say("plan.no-bay", "the shop has no bay of the kind {bay:q}", n.step.Bay), "add one, or sublet the step")
		a.Place = ""
	}
	for i, e := range n.step.Equipment {
		k, ok := pools[e]
		switch {
		case !ok:
			b.block(n.step.Name, diag.Say("plan.no-equipment", "the shop has no {equipment:q}", e), "add it to the shop's equipment, or sublet the step")
		case !slices.Contains(n.step.Equipment[:i], e):
			a.Draws = append(a.Draws, sched.Draw{Pool: k, Amount: 1})
		}
	}
	for _, p := range n.after {
		a.After = append(a.After, sched.Lag{Pred: at[p], Minutes: whole(p.step.WaitMin), Clock: sched.Elapsed})
	}
	return a
}

// mostWork is the most minutes that one step, wait or delivery takes, and all work together:
// a plan beyond it is none, and the search would lay out millennia.
const mostWork = 5_000_000

// lastMinute is the last minute that has a date, a hundred years from the first.
const lastMinute = 52_596_000

// endless says, and tells, that the steps take longer than anything does.
func (b *builder) endless(dated []*node) bool {
	sum := 0
	for _, n := range dated {
		took, wait, release := whole(n.step.Minutes), whole(n.step.WaitMin), whole(n.awaited().Minutes)
		if sum += took; max(took, wait, release) > mostWork || sum > mostWork {
			b.block(n.step.Name, diag.Say("plan.endless", "{step:q} would take {minutes}, with a wait of {wait}, and {before} of waiting before it, which no work does", n.step.Name, unit.Minutes(n.step.Minutes).Words(), unit.Minutes(n.step.WaitMin).Words(), unit.Minutes(n.awaited().Minutes).Words()), "see whether a digit or a unit is wrong in its times")
			return true
		}
	}
	return false
}

// beyondDates says that a schedule ends where no dates are told.
func beyondDates(sol sched.Solution) bool {
	return slices.ContainsFunc(sol.Slots, func(s sched.Slot) bool { return s.To > lastMinute })
}

func whole(min float64) int { return int(unit.Whole(math.Ceil(min - 1e-9))) }

// pools are the shop's equipment: as many of each as it is listed.
func (b *builder) pools(p *sched.Problem) map[string]int {
	out := map[string]int{}
	for _, e := range b.in.Shop.Equipment {
		k, ok := out[e]
		if !ok {
			k = len(p.Pools)
			out[e] = k
			p.Pools = append(p.Pools, sched.Pool{ID: e})
		}
		p.Pools[k].Capacity++
	}
	return out
}

// chains are the steps to be done in one go, those that have dates.
func (b *builder) chains(at map[*node]int) []sched.Chain {
	var ids []string
	for id := range b.chain {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	var out []sched.Chain
	for _, id := range ids {
		c := sched.Chain{ID: id, Window: int(b.chain[id].window)}
		for _, n := range b.chain[id].nodes {
			if !b.chain[id].loose {
				n.step.Window = float64(c.Window)
			}
			if i, ok := at[n]; ok {
				c.Members = append(c.Members, i)
			}
		}
		if len(c.Members) > 0 {
			out = append(out, c)
		}
	}
	return out
}

// tellBroken says which adhesive cannot be worked within its time.
func (b *builder) tellBroken(sol sched.Solution, chains []sched.Chain) {
	for _, x := range sol.Broken {
		c := b.chain[x.Chain]
		var names []string
		for _, n := range c.nodes {
			names = append(names, n.step.Name)
		}
		if x.TooLong && !c.loose { // that a loose one takes long was told
			b.block(list(names), diag.Say("plan.working-time", "{steps}: {minutes} min; {material} can be worked for {window} min at {temperature}: two people or two stages are needed", list(names), x.Minutes, c.glue, x.Window, b.in.Shop.Temp), "plan the joint in two stages, or work at a lower temperature of the table")
		}
		if x.NoWorker {
			b.note(diag.Caution, list(names), diag.Say("plan.hand-over", "nobody has all the skills for {steps}: the work changes hands in between", list(names)), "")
		}
	}
}

// undate takes the dates out of a step.
func (n *node) undate() {
	n.step.Person, n.step.BayID, n.step.From, n.step.To = "", "", time.Time{}, time.Time{}
}

// date puts the slot into the step.
func (b *builder) date(n *node, s sched.Slot, day0 time.Time) {
	n.undate()
	n.step.From = day0.Add(time.Duration(s.From) * time.Minute)
	n.step.To = day0.Add(time.Duration(s.To) * time.Minute)
	n.step.SlackMin = float64(s.Slack)
	n.critical = s.Critical
	if s.Worker >= 0 {
		n.step.Person = workerID(b.in.Shop, s.Worker)
	}
	if s.Place >= 0 {
		n.step.BayID = b.in.Shop.Bays[s.Place].ID
	}
}

// span sets the plan's dates: with the last wait, and none at all when a step
// has none.
func (b *builder) span(p *Plan, sol sched.Solution, least int, dated []*node, first int, day0 time.Time, cal sched.Calendar) {
	if len(dated) < len(b.nodes) || len(dated) == 0 {
		return
	}
	end, lastWork := day0, day0
	for _, n := range b.nodes {
		if n.undated { // its own last wait is unknown
			return
		}
		lastWork = latest(lastWork, n.step.To)
		end = latest(end, n.step.To.Add(time.Duration(whole(n.step.WaitMin))*time.Minute))
	}
	p.Finish = unit.DateOf(end)
	p.SpanMin = end.Sub(day0).Minutes() - float64(first)
	p.BoundMin = min(float64(least-first), p.SpanMin)
	p.Proven = p.BoundMin == p.SpanMin
	p.WorkDays = workDays(cal, p.Start, unit.DateOf(b.nodes[0].step.From), unit.DateOf(lastWork))
	p.Calendar = int(p.Finish.Time().Sub(p.Start.Time()).Hours()/24) + 1
}

func latest(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// workDays counts the days with working time from one to another, both
// included.
func workDays(cal sched.Calendar, first unit.Date, from, to unit.Date) int {
	n := 0
	for d := from; !to.Before(d); d = d.AddDays(1) {
		k := daysBetween(first, d)
		if len(cal.Week[k%7]) > 0 && !slices.Contains(cal.Off, k) {
			n++
		}
	}
	return n
}
