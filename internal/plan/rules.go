package plan

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
)

// Rules of the body on the order of work: what comes before what, and in which state of the
// vehicle something is done. A task that drains, evacuates, disconnects or disarms makes a
// state, which lasts from its end until the tasks that undo it begin; those come with it.
// All that is done in a state lies between; what is never done in it comes before or after.

// comesBefore lets a step come before another, and keeps the rule that says so.
func (b *builder) comesBefore(p, n *node, rule string) {
	n.after = append(n.after, p)
	if b.rules[[2]*node{p, n}] == "" {
		b.rules[[2]*node{p, n}] = rule
	}
}

// cited is a rule of a task with where it stands.
func (b *builder) cited(id body.TaskID, format string, args ...any) string {
	text := fmt.Sprintf(format, args...)
	if c := b.tasks[id].Cite; c != "" {
		text += " (" + c + ")"
	}
	return text
}

// taskRules lets each task come after what it needs, and before and after the tasks that it
// names, where the job has them.
func (b *builder) taskRules(wants map[body.TaskID]*taskWant) {
	for _, id := range sortedWants(wants) {
		t, n := b.tasks[id], wants[id].node
		for _, x := range t.Needs {
			b.comesBefore(wants[x].node, n, b.cited(id, "%s needs %s", id, x))
		}
		for _, x := range t.Follows {
			if w := wants[x]; w != nil {
				b.comesBefore(w.node, n, b.cited(id, "%s follows %s", id, x))
			}
		}
		for _, x := range t.Precedes {
			if w := wants[x]; w != nil {
				b.comesBefore(n, w.node, b.cited(id, "%s precedes %s", id, x))
			}
		}
	}
}

// refittedFirst lets tasks come after parts are back on, of those that come off.
func (b *builder) refittedFirst(wants map[body.TaskID]*taskWant, on map[body.PartID][]*node) {
	for _, id := range sortedWants(wants) {
		for _, p := range b.tasks[id].Refitted {
			for _, n := range on[b.mapped([]body.PartID{p})[0]] {
				b.comesBefore(n, wants[id].node, b.cited(id, "%s follows the refit of %s", id, p))
			}
		}
	}
}

// keepStates puts all that is done in the state of a task after it, and before what undoes
// it: steps that ask for it, treatments that require it, and parts for which it is done,
// from when they come off until they are back on.
func (b *builder) keepStates(wants map[body.TaskID]*taskWant, off, on map[body.PartID][]*node) {
	for _, id := range sortedWants(wants) {
		w := wants[id]
		if len(b.tasks[id].UndoneBy) == 0 {
			continue
		}
		for _, u := range b.tasks[id].UndoneBy {
			b.comesBefore(w.node, wants[u].node, b.cited(id, "%s undoes %s", u, id))
		}
		for _, n := range b.nodes {
			if slices.Contains(n.while, id) {
				b.inState(wants, id, n, b.cited(id, "it is done while %s lasts", id))
			}
		}
		for k, it := range b.items {
			if slices.Contains(b.treatment(it).Requires, id) {
				for _, n := range b.own[k] {
					b.inState(wants, id, n, b.cited(id, "%s requires %s", it.Treatment, id))
				}
			}
		}
		for _, p := range w.before {
			for _, n := range slices.Concat(off[p], on[p]) {
				b.inState(wants, id, n, b.cited(id, "%s is off only while %s lasts", p, id))
			}
		}
	}
}

// inState puts a step after a task and before what undoes it.
func (b *builder) inState(wants map[body.TaskID]*taskWant, id body.TaskID, n *node, rule string) {
	b.comesBefore(wants[id].node, b.begins(n), rule)
	for _, u := range b.tasks[id].UndoneBy {
		b.comesBefore(n, wants[u].node, rule)
	}
}

// begins is the first step of those that a step is done in one go with: nothing else leads
// to the others.
func (b *builder) begins(n *node) *node {
	if b.inner(n) {
		return b.chain[n.step.Together].nodes[0]
	}
	return n
}

// side is a step that is never done in the state of a task: it comes before that, or after
// what undoes it.
type side struct {
	n      *node
	make   *node
	undo   []*node
	rule   string
	before bool // what the time of its own says
}

// mostSides is how many choices of sides are tried.
const mostSides = 4096

// noOrder blocks the plan, which has no steps then.
func (b *builder) noOrder(said diag.Said, hint string) {
	b.block("steps", said, hint)
	b.unplanned = said.Text
}

// outsideStates decides for each step that is never done in a state on which side of it it
// comes: that of its own time in the work, else the other one, where all rules can be kept. It is
// false where the search ended before it knew.
func (b *builder) outsideStates(wants map[body.TaskID]*taskWant) bool {
	var sides []side
	for _, n := range b.nodes {
		for _, id := range n.never {
			w := wants[id]
			if w == nil {
				continue
			}
			s := side{n: n, make: w.node, rule: b.cited(id, "it is never done while %s lasts", id), before: n.phase <= w.node.phase}
			for _, u := range b.tasks[id].UndoneBy {
				s.undo = append(s.undo, wants[u].node)
			}
			sides = append(sides, s)
		}
	}
	tries := 0
	if len(sides) == 0 || b.chooseSides(sides, &tries) {
		return true
	}
	if tries > mostSides {
		b.noOrder(diag.Say("plan.sides-open", "of {rules} nobody says whether it is done before or after the state that it must not be done in: {sides}; {tries} ways were tried and none keeps all rules, so whether an order of work exists is not known",
			diag.Counted(len(sides), "rule"), sidesText(sides), mostSides),
			"say it in the body folder, of tasks: 'precedes' with the task that makes the state, or 'follows' with the one that undoes it; the fewer are left open, the fewer ways there are to try")
		return false
	}
	for _, s := range sides { // the circle is told
		b.put(s, s.before)
	}
	return true
}

// sidesText names steps with the tasks between which they are not done.
func sidesText(sides []side) string {
	var out []string
	for _, s := range sides {
		var undo []string
		for _, u := range s.undo {
			undo = append(undo, fmt.Sprintf("%q", u.step.Name))
		}
		out = append(out, fmt.Sprintf("%q before %q or after %s", s.n.step.Name, s.make.step.Name, list(undo)))
	}
	if many := len(out) - 6; many > 0 {
		out = append(out[:6], fmt.Sprintf("and %d more", many))
	}
	return strings.Join(out, "; ")
}

// chooseSides is true when sides were found with which an order exists.
func (b *builder) chooseSides(sides []side, tries *int) bool {
	if *tries++; *tries > mostSides || !b.ordered() {
		return false
	}
	if len(sides) == 0 {
		return true
	}
	for _, before := range []bool{sides[0].before, !sides[0].before} {
		undo := b.put(sides[0], before)
		if b.chooseSides(sides[1:], tries) {
			return true
		}
		undo()
	}
	return false
}

// put lays a step before or after a state; what it returns takes that back.
func (b *builder) put(s side, before bool) func() {
	var laid [][2]*node
	lay := func(p, n *node) {
		b.comesBefore(p, n, s.rule)
		laid = append(laid, [2]*node{p, n})
	}
	if before {
		lay(s.n, s.make)
	} else {
		for _, u := range s.undo {
			lay(u, b.begins(s.n))
		}
	}
	return func() {
		for _, e := range laid {
			e[1].after = e[1].after[:len(e[1].after)-1]
			if b.rules[e] == s.rule {
				delete(b.rules, e)
			}
		}
	}
}

// ordered says that an order of all steps exists.
func (b *builder) ordered() bool { return len(b.stuckSteps()) == 0 }

// stuckSteps is the steps that no order reaches: those of a circle, and all that follows one.
func (b *builder) stuckSteps() map[*node]bool {
	left := map[*node]bool{}
	waits, next := map[*node]int{}, map[*node][]*node{}
	var free []*node
	for _, n := range b.nodes {
		left[n], waits[n] = true, len(n.after)
		for _, p := range n.after {
			next[p] = append(next[p], n)
		}
		if len(n.after) == 0 {
			free = append(free, n)
		}
	}
	for len(free) > 0 {
		n := free[0]
		free = free[1:]
		delete(left, n)
		for _, m := range next[n] {
			if waits[m]--; waits[m] == 0 {
				free = append(free, m)
			}
		}
	}
	return left
}

// circle names the shortest circle of steps that wait for one another, each with the rule that
// puts it before the next.
func (b *builder) circle() string {
	stuck := b.stuckSteps()
	var best []*node
	for _, n := range b.nodes {
		if stuck[n] {
			if c := shortestBack(n, stuck); c != nil && (best == nil || len(c) < len(best)) {
				best = c
			}
		}
	}
	var out []string
	for i, p := range best {
		n := best[(i+1)%len(best)]
		why := b.rules[[2]*node{p, n}]
		if why == "" && p.phase != n.phase {
			why = fmt.Sprintf("one is done %s, the other %s", phaseWords[p.phase], phaseWords[n.phase])
		}
		if why == "" {
			why = "the order of its own work, of taking off or of refit"
		}
		out = append(out, fmt.Sprintf("%q before %q: %s", p.step.Name, n.step.Name, why))
	}
	return strings.Join(out, "; ")
}

// shortestBack is a shortest way from a step through those that wait for it back to it.
func shortestBack(from *node, among map[*node]bool) []*node {
	to := map[*node]*node{} // what it leads to, on the way to from
	queue := []*node{from}
	for len(queue) > 0 {
		n := queue[0]
		queue = queue[1:]
		for _, p := range n.after {
			if p == from {
				out := []*node{from}
				for x := n; x != from; x = to[x] {
					out = append(out, x)
				}
				return out
			}
			if _, seen := to[p]; !seen && among[p] {
				to[p] = n
				queue = append(queue, p)
			}
		}
	}
	return nil
}
