package body

import (
	"fmt"
	"slices"
	"strings"
)

// wait is something that comes before a task, and the words for why.
type wait struct {
	before TaskID
	why    string
}

// waits is what comes before a task by the data of all tasks. What undoes another follows all
// that is done in the state of that.
func (c *checker) waits(id TaskID) []wait {
	var out []wait
	add := func(before TaskID, format string, args ...any) {
		out = append(out, wait{before, fmt.Sprintf(format, args...)})
	}
	t, _ := c.b.Task(id)
	for _, x := range t.Needs {
		add(x, "%s needs %s", id, x)
	}
	for _, x := range t.Follows {
		add(x, "%s follows %s", id, x)
	}
	for _, x := range t.Step.While {
		add(x, "%s is done while %s lasts", id, x)
	}
	for _, o := range c.b.Tasks {
		if slices.Contains(o.Precedes, id) {
			add(o.ID, "%s precedes %s", o.ID, id)
		}
		if !slices.Contains(o.UndoneBy, id) {
			continue
		}
		add(o.ID, "%s undoes %s", id, o.ID)
		for _, u := range c.b.Tasks {
			if slices.Contains(u.Step.While, o.ID) {
				add(u.ID, "%s undoes %s, in whose state %s is done", id, o.ID, u.ID)
			}
		}
	}
	return out
}

// taskOrder: no task waits for itself, and none precedes what is done at an earlier time.
func (c *checker) taskOrder() {
	for i, t := range c.b.Tasks {
		if walk := c.taskCircle(t.ID); walk != "" {
			c.fault(at("tasks", i, "needs"), fmt.Sprintf("task %q needs itself", t.ID), walk)
		}
		for j, id := range t.Precedes {
			if n, ok := c.b.Task(id); ok && timeOf(n) < timeOf(t) {
				c.fault(fmt.Sprintf("tasks[%d].precedes[%d]", i, j), fmt.Sprintf("task %q is done at %q, before this one at %q", id, n.When, t.When), "write a later 'when' there")
			}
		}
		if len(t.Refitted) > 0 && timeOf(t) < slices.Index(taskTimes, TaskEnd) {
			c.fault(at("tasks", i, "when"), fmt.Sprintf("task %q comes after parts are back on, and is done at %q", t.ID, t.When), "write 'when: end'")
		}
	}
}

// taskCircle is a walk along what comes before from a task back to it, in words; empty
// when there is none.
func (c *checker) taskCircle(from TaskID) string {
	seen := map[TaskID]bool{}
	var walk func(at TaskID, words []string) string
	walk = func(at TaskID, words []string) string {
		for _, w := range c.waits(at) {
			step := append(words[:len(words):len(words)], w.why)
			if w.before == from {
				return strings.Join(step, ", ")
			}
			if !seen[w.before] {
				seen[w.before] = true
				if found := walk(w.before, step); found != "" {
					return found
				}
			}
		}
		return ""
	}
	return walk(from, nil)
}

// taskStates: what drains, disconnects or disarms is undone after all that needs its state,
// and what is done in a state, or never in it, knows its end.
func (c *checker) taskStates() {
	for i, t := range c.b.Tasks {
		for j, id := range t.UndoneBy {
			u, ok := c.b.Task(id)
			path := fmt.Sprintf("tasks[%d].undone_by[%d]", i, j)
			switch {
			case !ok:
			case id == t.ID:
				c.fault(path, fmt.Sprintf("task %q would undo itself", id), "name what puts it back")
			case timeOf(u) < timeOf(t):
				c.fault(path, fmt.Sprintf("task %q is done at %q, before this one at %q, so it cannot undo it", id, u.When, t.When), "write a later 'when' there")
			case t.MakesSafe() && timeOf(u) < slices.Index(taskTimes, TaskEnd):
				c.fault(path, fmt.Sprintf("task %q makes the vehicle safe until everything is back on, and %q undoes it at %q", t.ID, id, u.When), "write 'when: end' there")
			}
		}
		path := at("tasks", i, "step")
		for j, id := range c.states(path, t.Step) {
			c.lasts(fmt.Sprintf("%s.while[%d]", path, j), id, t.When, t.When)
		}
	}
	for i, t := range c.b.Treatments {
		for j, id := range t.Requires {
			if m, ok := c.b.Task(id); ok && len(m.UndoneBy) > 0 {
				c.lasts(fmt.Sprintf("treatments[%d].requires[%d]", i, j), id, TaskOpen, TaskClose)
			}
		}
		for k, s := range t.Steps {
			path := at("treatments", i, "steps", k)
			for j, id := range c.states(path, s) {
				c.lasts(fmt.Sprintf("%s.while[%d]", path, j), id, TaskOpen, TaskClose)
			}
		}
	}
	for i, t := range c.b.Triggers {
		for j, id := range t.Before {
			if m, ok := c.b.Task(id); ok && len(m.UndoneBy) > 0 {
				c.lasts(fmt.Sprintf("triggers[%d].before[%d]", i, j), id, TaskLast, TaskEnd)
			}
		}
	}
	c.firstAndLast()
}

// states checks what a step says of states; it returns those that it is done in.
func (c *checker) states(path string, s Step) []TaskID {
	for _, x := range []struct {
		path string
		ids  []TaskID
	}{{path + ".while", s.While}, {path + ".not_while", s.NotWhile}} {
		refs(c, x.path, aTask, x.ids)
		for j, id := range x.ids {
			if t, ok := c.b.Task(id); ok && len(t.UndoneBy) == 0 {
				c.fault(fmt.Sprintf("%s[%d]", x.path, j), fmt.Sprintf("nothing undoes task %q, so that its state has no end", id), "write 'undone_by' there")
			}
		}
	}
	for j, id := range s.NotWhile {
		if slices.Contains(s.While, id) {
			c.fault(fmt.Sprintf("%s.not_while[%d]", path, j), fmt.Sprintf("the step is done while %q lasts and never while it does", id), "take one of them out")
		}
	}
	return s.While
}

// lasts: a task is done by one time of the work, and undone no earlier than another.
func (c *checker) lasts(path string, id TaskID, by, until TaskTime) {
	t, ok := c.b.Task(id)
	if !ok {
		return
	}
	if timeOf(t) > slices.Index(taskTimes, by) {
		c.fault(path, fmt.Sprintf("its state is needed at %q, and task %q is done at %q", by, id, t.When), "write an earlier 'when' there")
	}
	for _, x := range t.UndoneBy {
		if u, ok := c.b.Task(x); ok && timeOf(u) < slices.Index(taskTimes, until) {
			c.fault(path, fmt.Sprintf("the state of task %q is needed until %q, and task %q undoes it at %q", id, until, x, u.When), "write a later 'when' there")
		}
	}
}

// firstAndLast: what comes before anything else follows no work, and what comes last is
// before none.
func (c *checker) firstAndLast() {
	never := func(path string, ids []TaskID, when TaskTime, word string) {
		for j, id := range ids {
			if t, ok := c.b.Task(id); ok && t.When == when {
				c.fault(fmt.Sprintf("%s[%d]", path, j), fmt.Sprintf("task %q is done at %q, and is asked for %s this", id, when, word), "name a task of another time")
			}
		}
	}
	for i, t := range c.b.Treatments {
		never(at("treatments", i, "requires"), t.Requires, TaskLast, "before")
		never(at("treatments", i, "after"), t.After, TaskFirst, "after")
	}
	for i, t := range c.b.Triggers {
		never(at("triggers", i, "before"), t.Before, TaskLast, "before")
		never(at("triggers", i, "after"), t.After, TaskFirst, "after")
	}
}
