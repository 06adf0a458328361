package plan

import (
	"fmt"
	"slices"
	"sort"

	"fettle/internal/body"
	"fettle/internal/diag"
)

// taskWant is a task with everything that asks for it.
type taskWant struct {
	id     body.TaskID
	by     []string
	items  []Item
	times  int // how often it was asked for by items
	phase  int
	before []body.PartID // comes before these parts come off
	after  []body.PartID // comes after these parts are back on
	first  bool          // some treatment needs it before its steps
	last   bool          // some treatment needs it after its steps
	node   *node
	coat   *coating // it is a task of that coating
}

// treatment is the body's treatment of an item; leaving a finding needs none.
func (b *builder) treatment(it Item) body.Treatment {
	if it.Treatment == "" && (it.Kind == body.Leave || it.Kind == body.ReplacePart) {
		return body.Treatment{Kind: it.Kind, Name: string(it.Kind)}
	}
	t, ok := b.in.Body.Treatment(it.Treatment)
	if !ok {
		b.block(string(it.Treatment), diag.Say("plan.unknown-treatment", "treatment {treatment:q} is not in the body's data", it.Treatment), "check the body folder")
	}
	return t
}

// wantTasks collects the tasks of treatments and of parts that come off, with
// all they need in turn. Each is done once, whoever asks for it.
func (b *builder) wantTasks() map[body.TaskID]*taskWant {
	wants := map[body.TaskID]*taskWant{}
	var ask func(id body.TaskID, by string) *taskWant
	ask = func(id body.TaskID, by string) *taskWant {
		w := wants[id]
		if w == nil {
			t, ok := b.tasks[id]
			if !ok {
				b.block(string(id), diag.Say("plan.unknown-task", "task {task} is not in the body's data", id), "check the body folder")
			}
			w = &taskWant{id: id, phase: whenPhase(t.When)}
			wants[id] = w
			for _, n := range slices.Concat(t.Needs, t.Step.While) {
				ask(n, "task "+string(id))
			}
			for _, n := range t.UndoneBy {
				ask(n, "undoing task "+string(id))
			}
		}
		if !slices.Contains(w.by, by) {
			w.by = append(w.by, by)
		}
		return w
	}
	for _, it := range b.items {
		t, who := b.treatment(it), findingsText(it.Findings)
		for _, id := range t.Requires {
			w := ask(id, who)
			w.first, w.times, w.items = true, w.times+1, append(w.items, it)
		}
		for _, id := range t.After {
			w := ask(id, who)
			w.last, w.times, w.items = true, w.times+1, append(w.items, it)
		}
		for _, st := range t.Steps {
			for _, id := range st.While {
				ask(id, who).first = true
			}
		}
	}
	for _, id := range b.in.safe {
		ask(id, "what is off already")
	}
	b.triggered(ask)
	b.findCoatings()
	b.askCoats(ask)
	b.settlePhases(wants)
	return wants
}

// triggered asks for the tasks that taking a part off brings with it.
func (b *builder) triggered(ask func(body.TaskID, string) *taskWant) {
	off := map[body.PartID]bool{}
	for _, r := range b.removals() {
		for _, p := range b.whole(r.Part) {
			off[p] = true
		}
	}
	for _, tr := range b.in.Body.Triggers {
		if !off[tr.Part] {
			continue
		}
		by, holder := "taking off "+b.part(tr.Part).Name, b.mapped([]body.PartID{tr.Part})[0]
		for _, id := range tr.Before {
			w := ask(id, by)
			w.before = append(w.before, holder)
		}
		for _, id := range tr.After {
			w := ask(id, by)
			w.after = append(w.after, holder)
		}
	}
}

func whenPhase(when body.TaskTime) int {
	switch when {
	case body.TaskFirst:
		return first
	case body.TaskLast:
		return last
	case body.TaskStart:
		return prepare
	case body.TaskOpen:
		return ready
	case body.TaskClose:
		return check
	}
	return finish
}

// settlePhases moves a task to where what asks for it puts it: before a part
// comes off, before or after a treatment, and never later than a task that
// needs it.
func (b *builder) settlePhases(wants map[body.TaskID]*taskWant) {
	for _, id := range sortedWants(wants) {
		w := wants[id]
		if (w.first || len(w.before) > 0) && (w.last || len(w.after) > 0) {
			b.block(string(id), diag.Say("plan.task-twice", "task {task} is asked for both before and after the work, but a task is done once", id), "make two tasks of it in the body folder")
		}
		switch {
		case w.coat != nil:
			w.phase = closeUp
		case b.tasks[id].MakesSafe():
			w.phase = safe
		case b.tasks[id].Measures:
			w.phase = closeUp
		case len(w.before) > 0:
			w.phase = min(w.phase, prepare)
		case len(w.after) > 0:
			w.phase = max(w.phase, finish)
		case w.first:
			w.phase = min(w.phase, ready)
		case w.last:
			w.phase = max(w.phase, check)
		}
	}
	for changed := true; changed; {
		changed = false
		for _, w := range wants {
			for _, id := range slices.Concat(b.tasks[w.id].Needs, b.tasks[w.id].Step.While) {
				if n := wants[id]; n != nil && n.phase > w.phase {
					n.phase, changed = w.phase, true
				}
			}
		}
	}
}

// addTasks makes the steps of the tasks. It returns those that are tied to one
// part's removal or refit only, not to the phase.
func (b *builder) addTasks(wants map[body.TaskID]*taskWant) map[*node]bool {
	ids := make([]body.TaskID, 0, len(wants))
	for id := range wants {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	tied := map[*node]bool{}
	for _, id := range ids {
		w := wants[id]
		st := b.tasks[id].Step
		m := b.taskLength(id, st, w)
		surface := b.taskAreas(id, st, w)
		m.m2, _, m.over = surface.sum()
		s := fromStep(st)
		s.Minutes, s.Sum = minutes(st, m, 0, "rivets")
		sort.Strings(w.by)
		s.Because, s.Ref, s.Cite = "once for "+list(w.by), "task "+string(id), b.tasks[id].Cite
		w.node = b.add(w.phase, s)
		w.node.rolls, w.node.while, w.node.never = st.Rolls, st.While, st.NotWhile
		b.readings(w.node, coatReadings(st, surface), string(id))
		b.dry(w.node, st, string(id), surface, w.coat)
		for _, m := range b.in.Body.Bonds(st) {
			w.node.step.Bonds = append(w.node.step.Bonds, m)
			b.openTime(w.node, b.mats[m])
			b.cureWait(w.node, m, false, string(id))
		}
		b.bondAlone(w.node)
		b.onOneDay(w.node, st)
		b.stepUses(w.node, st.Uses, m.mm, string(id))
		b.onSurface(w.node, st, surface, string(id))
		late := b.in.expose != nil && len(w.before) > 0 // it waits for the stage that needs it
		if w.times == 0 && w.phase != safe && (late || whenPhase(b.tasks[id].When) != w.phase) && !b.tasks[id].Measures {
			tied[w.node] = true
		}
		if w.coat != nil {
			tied[w.node] = true
		}
	}
	b.taskRules(wants)
	return tied
}

// measureLast lets what measures the result follow every step after which an
// adhesive cures: what is measured before it holds is not shown.
func (b *builder) measureLast(wants map[body.TaskID]*taskWant) {
	for _, id := range sortedWants(wants) {
		if !b.tasks[id].Measures {
			continue
		}
		for _, n := range b.nodes {
			if len(n.step.Bonds) > 0 {
				wants[id].node.after = append(wants[id].node.after, n)
			}
		}
	}
}

// noMeasuring tells when the procedure wants the control points shown after a
// treatment, or a part that has some is straightened, and no step of the plan measures them: the route could be followed to
// its end and never be released.
func (b *builder) noMeasuring(wants map[body.TaskID]*taskWant) {
	for id := range wants {
		if b.tasks[id].Measures {
			return
		}
	}
	for _, it := range b.items {
		if b.pulls(it) {
			b.note(diag.Caution, findingsText(it.Findings), diag.Say("plan.no-measuring", "after {kind} of {findings} its control points have to be shown, and no step of the plan measures them", it.Kind, findingsText(it.Findings)),
				"give the treatment a task with 'measures: yes' in the body folder")
			return
		}
		for _, p := range b.in.Body.Procedures {
			for _, a := range p.Acceptance {
				if a.Show == body.ShowDimensions && slices.Contains(a.For, it.Kind) {
					b.note(diag.Caution, findingsText(it.Findings), diag.Say("plan.no-measuring", "after {kind} the procedure asks for the control points, and no step of the plan measures them once everything is bonded", it.Kind),
						"give the treatment a task with 'measures: yes' in the body folder")
					return
				}
			}
		}
	}
}

// taskLength is the length of everything that asks for the task: a coat covers
// all welds of a job at once. A task that needs a length nobody knows, or that
// nothing with a length asks for, blocks.
func (b *builder) taskLength(id body.TaskID, st body.Step, w *taskWant) measure {
	if st.PerRivet != 0 {
		b.block(string(id), diag.Say("plan.task-length", "task {task} asks for time by rivets, but a task has none", id), "give it a fixed time")
	}
	if st.PerMetre == 0 && !perMetre(st.Uses) {
		return measure{}
	}
	if len(w.items) == 0 {
		b.block(string(id), diag.Say("plan.task-length", "task {task-by-length} asks for time or materials by length, but no treatment asks for it", id), "give it fixed ones")
	}
	sum := measure{known: true, from: "all that asks for it"}
	for _, it := range w.items {
		m := b.length(it)
		if !m.known {
			b.block(string(id), diag.Say("plan.no-length", "{flaw}; times and materials of task {task} by length are left out", m.flaw, id), "")
		}
		sum.mm += m.mm
	}
	return sum
}

// saved says which tasks several treatments share.
func (b *builder) saved(wants map[body.TaskID]*taskWant) []Saved {
	var out []Saved
	for _, w := range wants {
		if w.times > 1 {
			fixed := float64(b.tasks[w.id].Step.Fixed) // what goes by length is done for all of it
			out = append(out, Saved{Task: w.id, Name: w.node.step.Name, Times: w.times, Minutes: fixed * float64(w.times-1)})
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Task < out[j].Task })
	for _, s := range out {
		n := wants[s.Task].node
		n.step.Because += fmt.Sprintf("; asked for %d times, done once: %s min saved", s.Times, num(s.Minutes))
	}
	return out
}
