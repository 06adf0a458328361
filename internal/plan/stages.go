package plan

import (
	"cmp"
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/doc"
)

// stage divides what comes off into stages: each brings at least one area more into sight, and
// of all that could be next costs least beyond what is off. Together they are the opening.
func (b *builder) stage() {
	e, m := b.in.expose, b.open.model
	e.groups, e.sets = nil, nil
	gone, left := set(0), make([]int, len(e.see))
	for k := range left {
		left[k] = k
	}
	for len(left) > 0 {
		gone = b.nextStage(gone, left)
		var now, later []int
		for _, k := range left {
			if _, ok := met(b.entriesOfArea(e.see[k]), gone); ok {
				now = append(now, k)
			} else {
				later = append(later, k)
			}
		}
		slices.SortStableFunc(now, func(i, j int) int { return cmp.Compare(e.see[i].impact, e.see[j].impact) })
		e.groups, e.sets, left = append(e.groups, now), append(e.sets, gone), later
	}
	if gone != b.open.found.set { // only where the search was cut short
		b.open.found.set, b.open.found.cost = gone, m.cost(gone)
		b.open.found.bound = min(b.open.found.bound, b.open.found.cost)
	}
}

// nextStage is what is off when the next area is in sight.
func (b *builder) nextStage(gone set, left []int) set {
	e, m := b.in.expose, b.open.model
	best, at := set(0), -1
	known := map[string]set{}
	for _, k := range left {
		key := fmt.Sprint(e.see[k].Zones)
		s, ok := known[key]
		if !ok {
			s = m.beyond(b.open.found.set, gone, b.entriesOfArea(e.see[k]))
			known[key] = s
		}
		if at < 0 || cmp.Or(cmp.Compare(m.cost(s), m.cost(best)), cmp.Compare(s.count(), best.count()), cmp.Compare(e.see[k].impact, e.see[at].impact), doc.Natural(e.see[k].Area, e.see[at].Area)) < 0 {
			best, at = s, k
		}
	}
	return best
}

// entriesOfArea is the entries of the zones of an area, as sets of the model.
func (b *builder) entriesOfArea(x ToInspect) [][]set {
	at := map[body.PartID]int{}
	for i, id := range b.open.model.ids {
		at[id] = i
	}
	var out [][]set
	for _, z := range x.Zones {
		out = append(out, b.entriesOf(string(z), at)...)
	}
	return out
}

// beyond is the cheapest set within whole that holds gone and reaches the goals. Whole is
// feasible and reaches them.
func (r *removal) beyond(whole, gone set, goals [][]set) set {
	within := func(entries [][]set) [][]set {
		var out [][]set
		for _, e := range entries {
			out = append(out, slices.DeleteFunc(slices.Clone(e), func(a set) bool { return !a.in(whole) }))
		}
		return out
	}
	x := *r
	x.targets, x.goals, x.entries = gone, within(goals), make([][][]set, len(r.entries))
	for i, e := range r.entries {
		if whole.has(i) {
			x.entries[i] = within(e)
		}
	}
	if f := x.solve(); f.ok {
		return f.set
	}
	return whole
}

// stageOf is in which stage a part of the model comes off.
func (e *exposing) stageOf(i int) int {
	return slices.IndexFunc(e.sets, func(s set) bool { return s.has(i) })
}

// before is the parts of the stages before that of a part, none where there are no stages.
func (b *builder) before(i int) set {
	e := b.in.expose
	if e == nil {
		return 0
	}
	if k := e.stageOf(i); k > 0 {
		return e.sets[k-1]
	}
	return 0
}

// inspectSteps makes a step for every area that is brought into sight, after what comes off
// for its stage; what comes off later waits for it, with the tasks that only that needs.
func (b *builder) inspectSteps(wants map[body.TaskID]*taskWant, off map[body.PartID][]*node) {
	e := b.in.expose
	if e == nil {
		return
	}
	e.looks, e.works = make([][]*node, len(e.groups)), make([][]*node, len(e.groups))
	for i, id := range b.open.model.ids {
		if k := e.stageOf(i); k >= 0 {
			e.works[k] = append(e.works[k], off[id]...)
		}
	}
	for _, id := range sortedWants(wants) {
		w, first := wants[id], len(e.groups)
		for _, p := range w.before {
			if i, ok := slices.BinarySearch(b.open.model.ids, p); ok {
				first = min(first, e.stageOf(i))
			}
		}
		if first < len(e.groups) && w.phase > safe {
			e.works[first] = append(e.works[first], w.node)
		}
	}
	for k, group := range e.groups {
		for _, n := range e.works[k] {
			for _, l := range e.looks[:k] {
				n.after = append(n.after, l...)
			}
		}
		for _, at := range group {
			n := b.inspectStep(e.see[at])
			n.after = append(n.after, e.works[k]...)
			e.looks[k] = append(e.looks[k], n)
		}
	}
}

// inspectStep is the inspection of one area.
func (b *builder) inspectStep(x ToInspect) *node {
	how := "by eye"
	if x.Method == body.Penetrant {
		how = "with penetrant"
	}
	n := b.add(openUp, Step{Name: fmt.Sprintf("Inspect %s %s", x.Area, how), Text: x.Name, Ref: "inspect " + x.Area, Sum: "nobody gives a time for it",
		Because: "what was not inspected is not known to be sound", Records: []string{"what was seen", "light and distance", "by whom"}})
	if t, ok := b.in.Shop.Inspects(x.Method); ok {
		n.step.Skill, n.step.Minutes, n.step.Sum = t.Skill, float64(t.Minutes), fmt.Sprintf("%s for one area, by the shop", t.Minutes)
		if t.Wait > 0 {
			n.step.WaitMin, n.step.WaitName = float64(t.Wait), "penetrant and developer act"
		}
	}
	n.step.Phase, n.looks = PhaseCheck, true
	return n
}

// staged tells the stages once the steps have their numbers.
func (b *builder) staged() {
	e := b.in.expose
	if e == nil {
		return
	}
	e.stages = nil
	var cost int64
	var was set
	for k, group := range e.groups {
		var s Stage
		for _, n := range e.works[k] {
			s.Steps, s.Minutes = append(s.Steps, n.step.ID), s.Minutes+n.step.Minutes
		}
		slices.SortFunc(s.Steps, doc.Natural)
		for _, i := range b.open.order {
			if id := b.open.model.ids[i]; e.sets[k].has(i) && !was.has(i) {
				s.Off = append(s.Off, id)
				if _, lost := b.whyLost(id); lost {
					s.Lost = append(s.Lost, id)
				}
			}
		}
		now := b.open.model.cost(e.sets[k])
		s.Cost, cost, was = minor(now)-minor(cost), now, e.sets[k]
		for i, at := range group {
			x := e.see[at]
			x.Step = e.looks[k][i].step.ID
			s.Areas = append(s.Areas, x)
		}
		e.stages = append(e.stages, s)
	}
}
