package plan

import (
	"math"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/unit"
)

// Weigher weighs choices without planning them, for comparing very many. Its
// weights are in minor units times WeightScale and never more than what the
// plan of the same choice costs without storage and tax, to the rounding of its
// lines: packs are not rounded up, and what tasks use by length is left out.
type Weigher struct {
	in      Input
	tasks   map[body.TaskID]int
	once    map[string]int // steps done once, by what they are done once for: counted on from the tasks
	steps   []body.Step    // of those, without what goes by length
	cost    []int64        // of the tasks, then of those steps
	brought wide           // tasks that taking off some part brings
	opens   map[string]int
	example []Item // by identity of what it opens
	opened  map[Demand]int64
	crew    crew
}

// wide is a set of at most 256 things; what does not fit is left out, which
// only lowers a weight.
type wide [4]uint64

func (b *wide) add(i int) {
	if i < 256 {
		b[i/64] |= 1 << (i % 64)
	}
}

func (b wide) has(i int) bool { return i < 256 && b[i/64]>>(i%64)&1 == 1 }

func (b wide) or(c wide) wide {
	for i := range b {
		b[i] |= c[i]
	}
	return b
}

func (b wide) and(c wide) wide {
	for i := range b {
		b[i] &= c[i]
	}
	return b
}

// Demand is what an item asks of others: what has to be reached or come off, and
// the tasks it needs.
type Demand struct{ opens, tasks wide }

// With is what both ask for.
func (d Demand) With(e Demand) Demand { return Demand{d.opens.or(e.opens), d.tasks.or(e.tasks)} }

// Common is what each of both asks for.
func (d Demand) Common(e Demand) Demand { return Demand{d.opens.and(e.opens), d.tasks.and(e.tasks)} }

// WeightScale is minor units of money to weights.
const WeightScale = costScale

// NewWeigher weighs choices for the vehicle of the input, whose own choice does
// not matter.
func NewWeigher(in Input) *Weigher {
	w := &Weigher{in: in, tasks: map[body.TaskID]int{}, once: map[string]int{}, opens: map[string]int{}, opened: map[Demand]int64{}}
	b := w.builder(nil)
	w.crew = b.crew()
	for i, t := range in.Body.Tasks {
		w.tasks[t.ID] = i
		w.cost = append(w.cost, b.handling(t.Step.Skill, t.Step.Fixed)+b.supplies(t.Step.Uses, 0))
	}
	brought := map[body.TaskID]bool{}
	for _, t := range in.Body.Triggers {
		b.withNeeds(brought, t.Before...)
		b.withNeeds(brought, t.After...)
	}
	w.brought = w.taskSet(brought)
	return w
}

func (w *Weigher) taskSet(ids map[body.TaskID]bool) wide {
	var out wide
	for id := range ids {
		if i, ok := w.tasks[id]; ok {
			out.add(i)
		}
	}
	return out
}

func (w *Weigher) builder(items []Item) *builder {
	in := w.in
	in.Choice = Choice{Items: items}
	return newBuilder(in)
}

// Own is what an item costs by itself whatever else is done: its steps, their
// materials and the parts it buys. Of steps that are done once only what goes by length.
func (w *Weigher) Own(it Item) int64 {
	b := w.builder([]Item{it})
	b.each = true
	it = b.items[0]
	sum := int64(0)
	for _, n := range b.ownSteps(it) {
		sum += b.labour(n.step.Minutes, n.step.Skill)
	}
	for _, u := range b.uses {
		m := b.mats[u.mat]
		if m.Pack.Value > 0 {
			sum += b.weight(math.Floor(u.amount * (1 + float64(m.Waste)) / m.Pack.Value * float64(m.Price.Minor) * costScale))
		}
	}
	for _, p := range b.boughtBy(it) {
		sum += b.weight(float64(b.part(p).Price.Minor) * costScale)
	}
	return sum
}

func (b *builder) ownSteps(it Item) []*node {
	t, m := b.treatment(it), b.length(it)
	for _, st := range t.Steps {
		if b.each && b.onceKey(it, st) != "" {
			st = byLength(st)
		}
		b.itemStep(it, t, st, m)
	}
	return b.nodes
}

// boughtBy is the parts an item replaces for its own sake.
func (b *builder) boughtBy(it Item) []body.PartID {
	switch it.Kind {
	case body.Exchange, body.ReplacePart:
		return b.exchanged(it)
	case body.ReplaceCasting:
		return []body.PartID{it.Part}
	case body.SectionOff:
		if line, ok := b.in.Body.Line(it.Line); ok {
			return []body.PartID{line.Piece}
		}
	}
	return nil
}

// Demand is what an item asks of the others.
func (w *Weigher) Demand(it Item) Demand {
	b := w.builder([]Item{it})
	targets, _, goals := b.targets()
	var d Demand
	ask := func(to string, alone Item) {
		i, ok := w.opens[to]
		if !ok {
			i = len(w.opens)
			w.opens[to] = i
			w.example = append(w.example, alone)
		}
		d.opens.add(i)
	}
	for p := range targets {
		if it.Kind == body.ReplaceCasting {
			ask("casting "+string(p), it)
		} else {
			ask("off "+string(p), it)
		}
	}
	for _, g := range goals {
		ask("to "+g.to, it)
	}
	need := map[body.TaskID]bool{}
	b.needs(need)
	d.tasks = w.taskSet(need)
	for _, i := range w.doneOnce(b, b.items[0]) {
		d.tasks.add(i)
	}
	return d
}

// needs adds the tasks of all items.
func (b *builder) needs(to map[body.TaskID]bool) {
	b.withNeeds(to, b.in.safe...)
	for _, it := range b.items {
		t := b.treatment(it)
		b.withNeeds(to, t.Requires...)
		b.withNeeds(to, t.After...)
		for _, st := range t.Steps {
			b.withNeeds(to, st.While...)
		}
	}
}

// Shared is the least cost of what is asked for: the opening, and the tasks,
// each once. False says that it cannot be opened.
func (w *Weigher) Shared(d Demand) (int64, bool) {
	k := Demand{d.opens, d.tasks.and(w.brought)}
	c, ok := w.opened[k]
	if !ok {
		c = w.opening(k)
		w.opened[k] = c
	}
	if c < 0 {
		return 0, false
	}
	for i, t := range w.cost {
		if d.tasks.has(i) {
			c += t
		}
	}
	return c, true
}

// opening is the least cost of reaching what is asked for, -1 when it cannot be
// reached.
func (w *Weigher) opening(d Demand) int64 {
	b, targets, goals := w.asked(d)
	b.lax = true // one more demand may leave no other way, and cost less then
	for id, i := range w.tasks {
		b.anyway[id] = d.tasks.has(i)
	}
	q, _ := b.cheapest(targets, goals)
	f := q.found
	switch {
	case q.model == nil || !f.ok && f.proven:
		return -1
	case !f.proven:
		return f.bound
	}
	return f.cost
}

// asked is what a demand asks to open, with a builder for it.
func (w *Weigher) asked(d Demand) (*builder, map[body.PartID]bool, []goal) {
	targets := map[body.PartID]bool{}
	var goals []goal
	var items []Item
	for to, i := range w.opens {
		if !d.opens.has(i) {
			continue
		}
		kind, id, _ := strings.Cut(to, " ")
		if kind == "to" {
			goals = append(goals, goal{to: id})
			continue
		}
		targets[body.PartID(id)] = true
		if kind == "casting" {
			items = append(items, w.example[i])
		}
	}
	slices.SortFunc(goals, func(a, b goal) int { return strings.Compare(a.to, b.to) })
	b := w.builder(items)
	b.anyway = map[body.TaskID]bool{}
	return b, targets, goals
}

// LeastDays is a number of calendar days no plan with the item can do without:
// a piece or an answer that has to come first, then the item's own work and
// waits one after the other.
func (w *Weigher) LeastDays(it Item) int {
	b := w.builder([]Item{it})
	it = b.items[0]
	nodes := b.ownSteps(it)
	if len(nodes) == 0 {
		return 0
	}
	b.itemAwaits(it, nodes)
	end := 0.0
	for _, n := range nodes {
		end = max(end, n.awaited().Minutes) + n.step.Minutes + n.step.WaitMin
	}
	return int(unit.Whole(math.Ceil(end/1440 - 1e-9)))
}

// NoWorse says that every plan with item b can be turned into one with item a
// that costs no more and needs no more of anybody or anything at any time: a
// asks for nothing that b does not, buys and uses up nothing that b does not,
// and its steps are some of b's, in order, none of them longer, with waits that
// are not longer. False says nothing.
func (w *Weigher) NoWorse(a, b Item) bool {
	if a.Ask && !b.Ask || a.Open && !b.Open || !w.Demand(a).in(w.Demand(b)) {
		return false
	}
	x, y := w.builder([]Item{a}), w.builder([]Item{b})
	if x.hasOnce(a) || y.hasOnce(b) { // what it saves hangs on the other items
		return false
	}
	if !x.coatedAlike(a, y, b) {
		return false
	}
	p, q := x.ownSteps(a), y.ownSteps(b)
	if x.length(a).mm > y.length(b).mm && w.tasksByLength(a) {
		return false
	}
	for _, part := range x.boughtBy(a) {
		if !slices.Contains(y.boughtBy(b), part) {
			return false
		}
	}
	used := map[body.MaterialID]float64{}
	for _, u := range y.uses {
		used[u.mat] += u.amount
	}
	for _, u := range x.uses {
		if used[u.mat] -= u.amount; used[u.mat] < 0 {
			return false
		}
	}
	return embedded(x, a, p, q)
}

// tasksByLength says that a task the item asks for takes longer, or uses more,
// the longer the item is.
func (w *Weigher) tasksByLength(it Item) bool {
	b := w.builder([]Item{it})
	t := b.treatment(it)
	return slices.ContainsFunc(slices.Concat(t.Requires, t.After), func(id body.TaskID) bool {
		st := b.tasks[id].Step
		return st.PerMetre != 0 || perMetre(st.Uses)
	})
}

// embedded says that the steps p of item a can each be done where one of q was.
func embedded(x *builder, a Item, p, q []*node) bool {
	k := 0
	for i, n := range p {
		for k < len(q) && !covers(q[k], n) {
			k++
		}
		if k == len(q) || n.undated || x.treatment(a).Steps[i].Together != "" || len(n.step.Bonds) > 0 { // chains are not compared
			return false
		}
		k++
	}
	return true
}

func (d Demand) in(e Demand) bool { return d.Common(e) == d }

// covers says that step n can be done wherever step q was.
func covers(q, n *node) bool {
	a, b := n.step, q.step
	return a.Skill == b.Skill && (a.Qualified == "" || a.Qualified == b.Qualified) && subset(a.Takes, b.Takes) && subset(n.while, q.while) && subset(n.never, q.never) && (a.Bay == "" || a.Bay == b.Bay) && a.Minutes <= b.Minutes && a.WaitMin <= b.WaitMin &&
		!slices.ContainsFunc(a.Equipment, func(e string) bool { return !slices.Contains(b.Equipment, e) })
}
