package plan

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// ruleInput draws a job on the test body with tasks that have rules on their order and states.
func ruleInput(seed uint64) Input {
	rng := rand.New(rand.NewPCG(seed, 1818))
	var items []Item
	for _, it := range []Item{weldF1, weldF2, swapF3} {
		if rng.IntN(3) > 0 {
			items = append(items, it)
		}
	}
	if len(items) == 0 || rng.IntN(5) == 0 {
		items = []Item{newCast, swapF3}
	}
	in := input(items...)
	in.Shop.Rates = append(in.Shop.Rates, shop.Rate{Skill: "any", Name: "any", Hour: eur(5000)})
	for k := range in.Shop.People {
		in.Shop.People[k].Skills = append(in.Shop.People[k].Skills, "any")
	}
	b := in.Body
	times := []body.TaskTime{body.TaskFirst, body.TaskStart, body.TaskOpen, body.TaskClose, body.TaskEnd, body.TaskLast}
	n := 4 + rng.IntN(6)
	when := make([]int, n)
	for i := range when {
		when[i] = rng.IntN(6)
	}
	whenOf := when
	some := func(most int, may func(i int) bool) []body.TaskID {
		var out []body.TaskID
		for range rng.IntN(most + 1) {
			if k := rng.IntN(n); may(k) && !slices.Contains(out, ruleID(k)) {
				out = append(out, ruleID(k))
			}
		}
		return out
	}
	var makes []int
	for i := range n {
		t := body.Task{ID: ruleID(i), Cite: fmt.Sprintf("page %d", i), When: times[when[i]],
			Step: body.Step{ID: "r", Name: fmt.Sprintf("Task R%d", i), Skill: []body.SkillID{"any", "body", "alu"}[rng.IntN(3)], Fixed: unit.Minutes(5 + rng.IntN(90))}}
		if rng.IntN(4) == 0 {
			t.Step.Wait = &body.Wait{Name: "rest", Elapsed: unit.Minutes(rng.IntN(900))}
		}
		before := func(k int) bool {
			return when[k] <= when[i] && k != i && (rng.IntN(10) == 0 || when[k] < when[i] || k < i)
		}
		t.Needs, t.Follows = some(1, before), some(2, before)
		t.Precedes = some(1, func(k int) bool { return when[k] > when[i] || when[k] == when[i] && k > i })
		if t.When == body.TaskEnd && rng.IntN(2) == 0 {
			t.Refitted = []body.PartID{[]body.PartID{"bumper", "skin", "bracket"}[rng.IntN(3)]}
		}
		if when[i] < 3 && rng.IntN(2) == 0 {
			u := fmt.Sprintf("U%d", i)
			t.UndoneBy = []body.TaskID{body.TaskID(u)}
			at := []int{3, 4, 4, 4, 5}[rng.IntN(5)]
			b.Tasks = append(b.Tasks, body.Task{ID: body.TaskID(u), When: times[at], Precedes: some(1, func(k int) bool { return when[k] >= at }), Step: body.Step{ID: "u", Name: "Task " + u, Skill: "any", Fixed: unit.Minutes(5 + rng.IntN(60))}})
			makes = append(makes, i)
		}
		b.Tasks = append(b.Tasks, t)
	}
	state := func(s *body.Step, when int) {
		if len(makes) == 0 {
			return
		}
		if k := makes[rng.IntN(len(makes))]; rng.IntN(3) == 0 && whenOf[k] <= when {
			s.While = []body.TaskID{ruleID(k)}
		}
		if id := ruleID(makes[rng.IntN(len(makes))]); rng.IntN(3) == 0 && !slices.Contains(s.While, id) && !strings.HasSuffix(s.Name, strings.TrimPrefix(string(id), "R")) {
			s.NotWhile = []body.TaskID{id}
		}
	}
	for i := range b.Tasks {
		if t := &b.Tasks[i]; rng.IntN(2) == 0 {
			state(&t.Step, timeOfRule(t.When))
		}
	}
	for i := range b.Treatments {
		t := &b.Treatments[i]
		t.Requires = append(slices.Clone(t.Requires), some(2, func(k int) bool { return when[k] < 3 })...)
		for k := range t.Steps {
			state(&t.Steps[k], 2)
		}
		t.After = append(slices.Clone(t.After), some(1, func(k int) bool { return when[k] > 2 })...)
	}
	for _, p := range []body.PartID{"bumper", "bracket"} {
		if rng.IntN(2) == 0 {
			b.Triggers = append(b.Triggers, body.Trigger{Part: p, Before: some(2, func(k int) bool { return when[k] < 2 })})
		}
	}
	return in
}

func ruleID(i int) body.TaskID { return body.TaskID(fmt.Sprintf("R%d", i)) }

func timeOfRule(w body.TaskTime) int {
	return slices.Index([]body.TaskTime{body.TaskFirst, body.TaskStart, body.TaskOpen, body.TaskClose, body.TaskEnd, body.TaskLast}, w)
}

// ruleCheck holds the steps of a plan, each with when it begins and ends, against the rules as
// the body has them, one after the other. It knows nothing of how the plan was made.
type ruleCheck struct {
	in    Input
	p     Plan
	begin map[string]time.Time // by Ref; none: it is done, or has no date
	end   map[string]time.Time
	tried int
	bad   []string
}

func (c *ruleCheck) before(x, y Step, rule string) {
	bx, by := c.end[x.Ref], c.begin[y.Ref]
	if bx.IsZero() || by.IsZero() {
		return
	}
	c.tried++
	if by.Before(bx.Add(time.Duration(x.WaitMin) * time.Minute)) {
		c.bad = append(c.bad, fmt.Sprintf("%s: %q ends %s, %q begins %s", rule, x.Ref, bx.Format("Mon 15:04"), y.Ref, by.Format("Mon 15:04")))
	}
}

func (c *ruleCheck) task(id body.TaskID) (Step, bool) {
	k := slices.IndexFunc(c.p.Steps, func(s Step) bool { return s.Ref == "task "+string(id) })
	if k < 0 {
		return Step{}, false
	}
	return c.p.Steps[k], true
}

func (c *ruleCheck) must(id body.TaskID, rule string) Step {
	s, ok := c.task(id)
	if !ok {
		c.bad = append(c.bad, fmt.Sprintf("%s: %s is not in the plan", rule, id))
	}
	return s
}

// inState: a step lies after the task and before all that undoes it.
func (c *ruleCheck) inState(id body.TaskID, s Step, rule string) {
	t, _ := c.in.Body.Task(id)
	c.before(c.must(id, rule), s, rule)
	for _, u := range t.UndoneBy {
		c.before(s, c.must(u, rule), rule)
	}
}

// states holds a step against what its data say of states.
func (c *ruleCheck) states(st body.Step, s Step) {
	for _, id := range st.While {
		c.inState(id, s, string(id)+" lasts")
	}
	for _, id := range st.NotWhile {
		m, ok := c.task(id)
		if !ok {
			continue
		}
		t, _ := c.in.Body.Task(id)
		early := *c
		early.before(s, m, "")
		late := *c
		for _, u := range t.UndoneBy {
			late.before(c.must(u, ""), s, "")
		}
		c.tried++
		if len(early.bad) > len(c.bad) && len(late.bad) > len(c.bad) {
			c.bad = append(c.bad, fmt.Sprintf("%q lies in the state of %s", s.Ref, id))
		}
	}
}

func (c *ruleCheck) all() {
	b := c.in.Body
	for _, t := range b.Tasks {
		s, ok := c.task(t.ID)
		if !ok {
			continue
		}
		for _, id := range t.Needs {
			c.before(c.must(id, "needs"), s, string(t.ID)+" needs "+string(id))
		}
		for _, id := range t.Follows {
			if o, ok := c.task(id); ok {
				c.before(o, s, string(t.ID)+" follows "+string(id))
			}
		}
		for _, id := range t.Precedes {
			if o, ok := c.task(id); ok {
				c.before(s, o, string(t.ID)+" precedes "+string(id))
			}
		}
		for _, u := range t.UndoneBy {
			c.before(s, c.must(u, string(t.ID)+" is undone"), "undone")
		}
		c.states(t.Step, s)
		for _, x := range c.p.Steps {
			if slices.Contains(t.Refitted, x.Part) && (strings.HasPrefix(x.Ref, "on ") || strings.HasPrefix(x.Ref, "close ") || strings.HasPrefix(x.Ref, "bond ")) {
				c.before(x, s, "parts first")
			}
			o, isTask := b.Task(body.TaskID(strings.TrimPrefix(x.Ref, "task ")))
			if t.When == body.TaskFirst && !(isTask && o.When == body.TaskFirst) {
				c.before(s, x, "first")
			}
			if t.When == body.TaskLast && !(isTask && o.When == body.TaskLast) && x.Move == nil {
				c.before(x, s, "last")
			}
		}
	}
	for _, tr := range b.Triggers {
		for _, x := range c.p.Steps {
			if x.Part == tr.Part {
				for _, id := range tr.Before {
					if t, _ := b.Task(id); len(t.UndoneBy) > 0 {
						c.inState(id, x, "part off")
					}
				}
			}
		}
	}
	for _, it := range c.in.Choice.Items {
		t, _ := b.Treatment(it.Treatment)
		for _, st := range t.Steps {
			ref := fmt.Sprintf("%s/%s ", it.Treatment, st.ID)
			k := slices.IndexFunc(c.p.Steps, func(s Step) bool { // one that is done once is for others too
				return strings.HasPrefix(s.Ref, ref) && !slices.ContainsFunc(it.Findings, func(f job.FindingID) bool { return !slices.Contains(s.For, f) })
			})
			if k < 0 {
				c.bad = append(c.bad, "no step "+ref)
				continue
			}
			c.states(st, c.p.Steps[k])
			for _, id := range t.Requires {
				c.before(c.must(id, "required"), c.p.Steps[k], "required")
				if m, _ := b.Task(id); len(m.UndoneBy) > 0 {
					c.inState(id, c.p.Steps[k], "required state")
				}
			}
		}
	}
}

func ruleChecked(in Input, p Plan) *ruleCheck {
	c := &ruleCheck{in: in, p: p, begin: map[string]time.Time{}, end: map[string]time.Time{}}
	for _, s := range p.Steps {
		c.begin[s.Ref], c.end[s.Ref] = s.From, s.To
	}
	return c
}

// Drawn tasks with rules: what precedes, follows and undoes what, what is done in which state and
// what never. Every plan that is not refused keeps all of them, in its dates and in those of a
// week with two people, part of it on record; and it ends with nothing drained. Expected: the
// checker above, from the words of the data page.
func TestRulesOfOrderAreKept(t *testing.T) {
	planned, refused, tried, inWeek, sides := 0, 0, 0, 0, 0
	for seed := range uint64(draws(160, 20000)) {
		in := ruleInput(seed)
		p, notes := Build(in)
		if strings.Contains(blocking(notes), "plan.circle") || strings.Contains(blocking(notes), "plan.task-twice") {
			refused++
			continue
		}
		if bl := blocking(notes); bl != "" {
			t.Fatalf("seed %d: %s", seed, bl)
		}
		planned++
		c := ruleChecked(in, p)
		c.all()
		tried += c.tried
		for _, s := range p.Steps {
			if s.From.IsZero() {
				t.Fatalf("seed %d: %q has no date", seed, s.Name)
			}
		}
		for _, t := range in.Body.Tasks {
			if _, ok := c.task(t.ID); ok && len(t.Step.NotWhile) > 0 {
				sides++
			}
		}
		if len(c.bad) > 0 {
			t.Errorf("seed %d: %s", seed, strings.Join(c.bad, "\n"))
		}
		if seed%4 == 0 {
			inWeek += weekKeepsRules(t, seed, in, p)
		}
	}
	if planned < refused/3 || planned < 50 || tried < 15*planned || inWeek < planned || sides < planned/8 {
		t.Errorf("planned %d, refused %d, tried %d, in weeks %d, never in a state %d", planned, refused, tried, inWeek, sides)
	}
	t.Logf("planned %d, refused %d, tried %d, in weeks %d, never in a state %d", planned, refused, tried, inWeek, sides)
}

// weekKeepsRules plans a week of the job beside another like it, the first steps done.
func weekKeepsRules(t *testing.T, seed uint64, in Input, p Plan) int {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 77))
	one, other := *in.Job, *in.Job
	one.ID, other.ID = "A", "B"
	for _, s := range p.Steps[:rng.IntN(len(p.Steps)/2)] {
		one.Actuals = append(one.Actuals, job.Actual{Step: s.Ref, By: s.Person, On: one.Start, Minutes: unit.Minutes(s.Minutes)})
	}
	w, _ := WeekOf(in.Shop, []InShop{{Job: &one, Plan: p}, {Job: &other, Plan: p}}, in.Job.Start.AddDays(1))
	tried := 0
	for _, id := range []string{"A", "B"} {
		c := &ruleCheck{in: in, p: p, begin: map[string]time.Time{}, end: map[string]time.Time{}}
		for _, s := range w.Steps {
			k := slices.IndexFunc(p.Steps, func(x Step) bool { return x.ID == s.Step })
			if s.Job == id && k >= 0 {
				c.begin[p.Steps[k].Ref], c.end[p.Steps[k].Ref] = s.From, s.To
			}
		}
		c.all()
		tried += c.tried
		if len(c.bad) > 0 {
			t.Errorf("seed %d, week of %s: %s", seed, id, strings.Join(c.bad, "\n"))
		}
	}
	return tried
}

// acInput is a job that takes the bumper off, with a cooling circuit, a refrigerant circuit, a
// 12 V supply and a fault memory. Constructed; the order is common practice, no source.
func acInput(change func(b *body.Body)) Input {
	in := input(weldF1)
	b := in.Body
	task := func(id body.TaskID, when body.TaskTime, undo ...body.TaskID) *body.Task {
		b.Tasks = append(b.Tasks, body.Task{ID: id, When: when, UndoneBy: undo, Cite: "page of " + string(id), Step: body.Step{ID: "s", Name: string(id), Skill: "hv", Fixed: 10}})
		return &b.Tasks[len(b.Tasks)-1]
	}
	b.Triggers = []body.Trigger{{Part: "bumper", Before: []body.TaskID{"drain", "evacuate"}}}
	task("fill", body.TaskEnd)
	task("charge", body.TaskEnd).Follows = []body.TaskID{"fill"}
	task("drain", body.TaskStart, "fill")
	task("evacuate", body.TaskStart, "charge")
	task("12v-on", body.TaskEnd)
	task("12v-off", body.TaskStart, "12v-on").Safe = true
	task("read", body.TaskFirst).Step.NotWhile = []body.TaskID{"12v-off"}
	task("read-again", body.TaskLast).Step.NotWhile = []body.TaskID{"12v-off"}
	calibrate := task("calibrate", body.TaskEnd)
	calibrate.Step.NotWhile, calibrate.Refitted, calibrate.Follows = []body.TaskID{"12v-off"}, []body.PartID{"bumper"}, []body.TaskID{"measure"}
	for i := range b.Treatments {
		if t := &b.Treatments[i]; t.ID == "weld" {
			t.Steps[1].While = []body.TaskID{"12v-off"}
			t.Requires = append(t.Requires, "read")
			t.After = append(t.After, "read-again", "calibrate")
		}
	}
	if change != nil {
		change(b)
	}
	return in
}

func indexOfTask(b *body.Body, id body.TaskID) *body.Task {
	return &b.Tasks[slices.IndexFunc(b.Tasks, func(t body.Task) bool { return t.ID == id })]
}

// What is drained, evacuated and disconnected comes with what undoes it, and everything lies where
// its state allows it.
func TestStatesAreUndone(t *testing.T) {
	in := acInput(nil)
	p, notes := Build(in)
	if blocking(notes) != "" {
		t.Fatal(notes)
	}
	c := ruleChecked(in, p)
	c.all()
	if len(c.bad) > 0 || c.tried < 60 {
		t.Errorf("%d tried: %s", c.tried, strings.Join(c.bad, "\n"))
	}
	var order []string
	for _, s := range p.Steps {
		if strings.HasPrefix(s.Ref, "task ") {
			order = append(order, strings.TrimPrefix(s.Ref, "task "))
		}
	}
	for _, id := range []string{"fill", "charge", "12v-off", "12v-on", "read", "read-again", "drain", "evacuate"} {
		if !slices.Contains(order, id) {
			t.Errorf("%s is not in the plan: %v", id, order)
		}
	}
	if order[0] != "read" || order[1] != "12v-off" || order[len(order)-1] != "read-again" {
		t.Errorf("order %v", order)
	}
	if s := step(t, p, "fill"); s.Because != "once for undoing task drain" || s.Cite != "page of fill" {
		t.Errorf("fill: %q, %q", s.Because, s.Cite)
	}
}

// Rules that contradict one another are named, with where they stand. By hand.
func TestContradictingRulesAreNamed(t *testing.T) {
	for name, k := range map[string]struct {
		change func(b *body.Body)
		want   []string
	}{
		"undone before what needs it": {func(b *body.Body) { indexOfTask(b, "fill").Precedes = []body.TaskID{"measure"} },
			[]string{`"fill" before "Measure": fill precedes measure (page of fill)`, `one is done before parts go back on, the other when everything is back on`}},
		"in a state and never in it": {func(b *body.Body) {
			indexOfTask(b, "calibrate").Step.While = []body.TaskID{"drain"}
			indexOfTask(b, "12v-on").Follows = []body.TaskID{"fill"}
		}, []string{"it is done while drain lasts (page of drain)", "it is never done while 12v-off lasts (page of 12v-off)", "12v-on follows fill (page of 12v-on)"}},
		"two states crossed": {func(b *body.Body) {
			indexOfTask(b, "charge").Precedes = []body.TaskID{"fill"}
		}, []string{"charge follows fill (page of charge)", "charge precedes fill (page of charge)"}},
	} {
		_, notes := Build(acInput(k.change))
		text := ""
		for _, n := range notes {
			if n.Code == "plan.circle" {
				text = n.Text
			}
		}
		for _, w := range k.want {
			if !strings.Contains(text, w) {
				t.Errorf("%s: %q is not told in %q", name, w, text)
			}
		}
	}
}

// A step that is never done in a state takes the other side where its own time allows none: here a
// task when everything is open, which has to be done on a live vehicle and has 12 V put back before.
func TestOtherSideOfAState(t *testing.T) {
	in := acInput(func(b *body.Body) {
		b.Tasks = append(b.Tasks, body.Task{ID: "probe", When: body.TaskClose, Step: body.Step{ID: "p", Name: "probe", Skill: "hv", Fixed: 5, NotWhile: []body.TaskID{"hoist"}}},
			body.Task{ID: "hoist", When: body.TaskClose, UndoneBy: []body.TaskID{"lower"}, Precedes: []body.TaskID{"probe"}, Step: body.Step{ID: "h", Name: "hoist", Skill: "hv", Fixed: 5}},
			body.Task{ID: "lower", When: body.TaskClose, Step: body.Step{ID: "l", Name: "lower", Skill: "hv", Fixed: 5}})
		t := &b.Treatments[slices.IndexFunc(b.Treatments, func(t body.Treatment) bool { return t.ID == "weld" })]
		t.After = append(t.After, "probe", "hoist")
	})
	p, notes := Build(in)
	if blocking(notes) != "" {
		t.Fatal(notes)
	}
	c := ruleChecked(in, p)
	c.all()
	if probe, lower := step(t, p, "probe"), step(t, p, "lower"); len(c.bad) > 0 || probe.From.Before(lower.To) {
		t.Errorf("probe %v, lowered %v: %v", probe.From, lower.To, c.bad)
	}
}

// Where more ways of laying steps beside a state than are tried do not lead to an order, nobody knows
// whether one exists: the plan blocks, says of which steps the side is open and what to enter, and has
// no steps, days or proof. Of 14 probes each may come before or after the hoist, which makes 2^14
// ways; the last step can come on neither side. With what it asks to be entered for the probes the
// contradiction itself is found and named.
func TestSidesThatAreLeftOpen(t *testing.T) {
	const probes = 14
	made := func(said bool) Input {
		return acInput(func(b *body.Body) {
			task := func(id body.TaskID, change func(*body.Task)) {
				x := body.Task{ID: id, When: body.TaskClose, Step: body.Step{ID: "s", Name: string(id), Skill: "hv", Fixed: 5}}
				change(&x)
				b.Tasks = append(b.Tasks, x)
				t := &b.Treatments[slices.IndexFunc(b.Treatments, func(t body.Treatment) bool { return t.ID == "weld" })]
				t.After = append(t.After, id)
			}
			task("hoist", func(x *body.Task) { x.UndoneBy = []body.TaskID{"lower"} })
			task("lower", func(*body.Task) {})
			for k := range probes {
				task(body.TaskID(fmt.Sprintf("probe%02d", k)), func(x *body.Task) {
					if x.Step.NotWhile = []body.TaskID{"hoist"}; said {
						x.Precedes = []body.TaskID{"hoist"}
					}
				})
			}
			task("torn", func(x *body.Task) {
				x.Step.NotWhile, x.Follows, x.Precedes = []body.TaskID{"hoist"}, []body.TaskID{"hoist"}, []body.TaskID{"lower"}
			})
		})
	}
	for said, code := range map[bool]string{false: "plan.sides-open", true: "plan.circle"} {
		p, notes := Build(made(said))
		if len(p.Steps) > 0 || p.Proven || p.OpeningProven || !p.Finish.IsZero() || p.Unplanned == "" {
			t.Errorf("%s: %d steps until %s, proven %v, %q", code, len(p.Steps), p.Finish, p.Proven, p.Unplanned)
		}
		if !strings.Contains(blocking(notes), code) {
			t.Fatalf("blocked by %s, want %s", blocking(notes), code)
		}
		k := slices.IndexFunc(notes, func(n diag.Note) bool { return n.Code == code })
		for _, want := range map[bool][]string{false: {`"probe00" before "hoist" or after "lower"`, "4096 ways", "'precedes'", "'follows'"}, true: {`"hoist" before "torn"`, `"torn" before "hoist"`}}[said] {
			if !strings.Contains(notes[k].Text+notes[k].Hint, want) {
				t.Errorf("%s: %q is not in %q (%s)", code, want, notes[k].Text, notes[k].Hint)
			}
		}
	}
}
