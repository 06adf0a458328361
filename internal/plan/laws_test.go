package plan

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
)

// lawPlan is a plan with what a law has to know of it.
type lawPlan struct {
	v     lawVehicle
	in    Input
	p     Plan
	notes []diag.Note
	bad   []string
	tried int
}

func (c *lawPlan) dated(s *Step) bool { return !s.From.IsZero() }

// steps are those whose reference begins with a word.
func (c *lawPlan) steps(prefix string) []*Step {
	var out []*Step
	for i := range c.p.Steps {
		if strings.HasPrefix(c.p.Steps[i].Ref, prefix) {
			out = append(out, &c.p.Steps[i])
		}
	}
	return out
}

// task is the step of a task.
func (c *lawPlan) task(id body.TaskID) []*Step {
	return slices.DeleteFunc(c.steps("task "+string(id)), func(s *Step) bool { return s.Ref != "task "+string(id) })
}

// of are the steps at a part: "off" with the joints opened for it, "on" with those closed.
func (c *lawPlan) of(way string, id body.PartID) []*Step {
	var out []*Step
	for i := range c.p.Steps {
		s := &c.p.Steps[i]
		word, _, _ := strings.Cut(s.Ref, " ")
		off := word == "off" || word == "open"
		if s.Part == id && (off || word == "on" || word == "close" || word == "bond") && off == (way == "off") {
			out = append(out, s)
		}
	}
	return out
}

// before: every step of a ends, and its wait, before one of b begins.
func (c *lawPlan) before(a, b []*Step) {
	for _, x := range a {
		for _, y := range b {
			if x == y || !c.dated(x) || !c.dated(y) {
				continue
			}
			c.tried++
			if y.From.Before(x.To.Add(time.Duration(x.WaitMin) * time.Minute)) {
				c.bad = append(c.bad, fmt.Sprintf("%s (%s) begins %s, %s (%s) is over %s", y.ID, y.Ref, y.From.Format("Mon 15:04"), x.ID, x.Ref, x.To.Add(time.Duration(x.WaitMin)*time.Minute).Format("Mon 15:04")))
			}
		}
	}
}

// all are the steps that a test picks.
func (c *lawPlan) all(pick func(*Step) bool) []*Step {
	var out []*Step
	for i := range c.p.Steps {
		if pick(&c.p.Steps[i]) {
			out = append(out, &c.p.Steps[i])
		}
	}
	return out
}

// item are the steps of a treatment of an item, in order of the body.
func (c *lawPlan) item(it Item) [][]*Step {
	t, _ := c.in.Body.Treatment(it.Treatment)
	var out [][]*Step
	for _, st := range t.Steps {
		ref := string(it.Treatment) + "/" + st.ID + " "
		out = append(out, c.all(func(s *Step) bool {
			return strings.HasPrefix(s.Ref, ref) && subset(it.Findings, s.For)
		}))
	}
	return out
}

func (c *lawPlan) fail(format string, args ...any) {
	c.bad = append(c.bad, fmt.Sprintf(format, args...))
}

func flat(x [][]*Step) []*Step { return slices.Concat(x...) }

// at says that two steps overlap in time.
func overlap(x, y *Step) bool { return x.From.Before(y.To) && y.From.Before(x.To) }

func warned(s *Step, c ...body.Caution) bool {
	return slices.ContainsFunc(c, func(k body.Caution) bool { return slices.Contains(s.Cautions, k) })
}

// laws are rules of order that a master of the trade checks a plan by. All of them are
// common practice, no source.
var laws = []struct {
	name string
	hold func(c *lawPlan)
}{
	{"made safe first", func(c *lawPlan) {
		for _, t := range c.in.Body.Tasks {
			if t.MakesSafe() {
				c.before(c.task(t.ID), c.all(func(s *Step) bool {
					o, ok := c.in.Body.Task(body.TaskID(strings.TrimPrefix(s.Ref, "task ")))
					return !ok || !o.MakesSafe() && o.When != body.TaskFirst
				}))
			}
		}
	}},
	{"before, after and in the state of what the body says", func(c *lawPlan) {
		r := ruleChecked(c.in, c.p)
		r.all()
		c.tried, c.bad = c.tried+r.tried, append(c.bad, r.bad...)
	}},
	{"live again only when everything is back on", func(c *lawPlan) {
		live := c.all(func(s *Step) bool {
			t, ok := c.in.Body.Task(body.TaskID(strings.TrimPrefix(s.Ref, "task ")))
			return ok && t.When == "end" && warned(s, body.HighVoltage, body.Airbag)
		})
		c.before(c.all(func(s *Step) bool { return s.Phase != PhaseFinish }), live)
		for _, x := range live {
			for i := range c.p.Steps {
				if y := &c.p.Steps[i]; x != y && c.dated(x) && c.dated(y) {
					if c.tried++; overlap(x, y) {
						c.fail("%s is done beside %s", y.Ref, x.Ref)
					}
				}
			}
		}
	}},
	{"fixed and measured in before the casting is cut or taken out", func(c *lawPlan) {
		for _, t := range c.in.Body.Tasks {
			if !t.Fixes {
				continue
			}
			for _, it := range c.in.Choice.Items {
				switch it.Kind {
				case body.ReplaceCasting:
					c.before(c.task(t.ID), append(c.of("off", it.Part), flat(c.item(it))...))
				case body.SectionOff:
					c.before(c.task(t.ID), flat(c.item(it)))
				}
			}
		}
	}},
	{"what a part brings with it comes before it comes off, or when it is back on", func(c *lawPlan) {
		for _, r := range c.p.Removal {
			whole := append([]body.PartID{r.Part}, r.Parts...)
			for _, tr := range c.in.Body.Triggers {
				if slices.Contains(whole, tr.Part) {
					for _, id := range tr.Before {
						c.before(c.task(id), c.of("off", r.Part))
					}
					for _, id := range tr.After {
						c.before(c.of("on", r.Part), c.task(id))
					}
				}
			}
		}
	}},
	{"drained before opened, and filled when closed", func(c *lawPlan) {
		c.before(c.task("K-DRAIN"), c.of("off", "P-COOLER"))
		c.before(append(c.of("on", "P-COOLER"), c.task("K-DRAIN")...), c.task("K-BLEED"))
		if len(c.of("off", "P-COOLER")) > 0 && (len(c.task("K-DRAIN")) == 0 || len(c.task("K-BLEED")) == 0) {
			c.fail("the cooler comes off, and the circuit is not drained and filled")
		}
	}},
	{"what lies over a part comes off before it", func(c *lawPlan) {
		for _, r := range c.p.Removal {
			for _, n := range r.Needs {
				c.before(c.of("off", n), c.of("off", r.Part))
			}
		}
	}},
	{"joints are opened before the part comes off, closed when it is on", func(c *lawPlan) {
		for _, j := range c.in.Body.Joints {
			for _, s := range c.steps("open " + string(j.ID)) {
				c.before([]*Step{s}, c.steps("off "+string(s.Part)))
			}
			for _, s := range append(c.steps("close "+string(j.ID)), c.steps("bond "+string(j.ID))...) {
				c.before(c.steps("on "+string(s.Part)), []*Step{s})
			}
		}
	}},
	{"reached before it is repaired", func(c *lawPlan) {
		for _, r := range c.p.Reached {
			var at []*Step
			for _, it := range c.in.Choice.Items {
				if string(it.Line) == r.To || slices.ContainsFunc(it.Findings, func(f job.FindingID) bool { return slices.Contains(strings.Split(r.For, ", "), string(f)) }) && it.Line == "" {
					at = append(at, flat(c.item(it))...)
				}
			}
			for _, n := range r.Needs {
				c.before(c.of("off", n), at)
			}
		}
	}},
	{"the old part is off before its seat is worked on, and that before the new one is on", func(c *lawPlan) {
		for _, it := range c.in.Choice.Items {
			if it.Kind == body.Exchange || it.Kind == body.ReplaceCasting {
				c.before(c.of("off", it.Part), flat(c.item(it)))
				c.before(flat(c.item(it)), c.of("on", it.Part))
			}
		}
	}},
	{"a treatment goes in its order, each step after the wait before it", func(c *lawPlan) {
		for _, it := range c.in.Choice.Items {
			x := c.item(it)
			for i := 1; i < len(x); i++ {
				c.before(x[i-1], x[i])
			}
		}
	}},
	{"nothing goes back on before what it lies over is repaired", func(c *lawPlan) {
		var repairs []*Step
		for _, it := range c.in.Choice.Items {
			repairs = append(repairs, flat(c.item(it))...)
		}
		c.before(repairs, c.all(func(s *Step) bool { return s.Phase == PhaseClose && s.Part != "" }))
	}},
	{"bonded in one go within the adhesive's working time", func(c *lawPlan) {
		for i := range c.p.Steps {
			s := &c.p.Steps[i]
			for _, m := range s.Bonds {
				mat, _ := c.in.Body.Material(m)
				w, ok := mat.WorkingAt(c.in.Shop.Temp)
				if !c.dated(s) || !ok {
					continue
				}
				c.tried++
				if long := s.To.Sub(s.From).Minutes(); long > float64(w) && !c.told(s.Name) {
					c.fail("%s takes from %v to %v, its adhesive works %v", s.Ref, s.From, s.To, w)
				}
			}
		}
	}},
	{"cured before anything follows that is joined to it", func(c *lawPlan) {
		for _, s := range c.all(func(s *Step) bool { return len(s.Bonds) > 0 && len(s.Closes) > 0 }) {
			for _, id := range s.Closes {
				k := slices.IndexFunc(c.in.Body.Joints, func(j body.Joint) bool { return j.ID == id })
				for _, r := range c.p.Refit {
					if r.Part != s.Part && slices.Contains(r.After, s.Part) && slices.Contains(c.in.Body.Joints[k].Layers, s.Part) {
						c.before([]*Step{s}, c.of("on", r.Part))
					}
				}
			}
		}
		for _, s := range c.all(func(s *Step) bool { return len(s.Bonds) > 0 && s.WaitMin == 0 && s.Together == "" && c.dated(s) }) {
			c.fail("nothing waits for the cure of %s", s.Ref)
		}
	}},
	{"measured last, with all that is bonded hard", func(c *lawPlan) {
		for _, t := range c.in.Body.Tasks {
			if t.Measures {
				c.before(c.all(func(s *Step) bool { return len(s.Bonds) > 0 }), c.task(t.ID))
			}
		}
	}},
	{"measured when all repairs are done and before parts hide them", func(c *lawPlan) {
		var repairs []*Step
		for _, it := range c.in.Choice.Items {
			if it.Kind != body.Exchange {
				repairs = append(repairs, flat(c.item(it))...)
			}
		}
		c.before(repairs, c.task("K-MEASURE"))
		c.before(c.task("K-MEASURE"), c.all(func(s *Step) bool { return s.Phase == PhaseClose && strings.HasPrefix(s.Ref, "on ") }))
	}},
	{"coated when every weld is accepted", func(c *lawPlan) {
		for _, it := range c.in.Choice.Items {
			c.before(flat(c.item(it)), c.task("K-COAT"))
		}
	}},
	{"a new casting is in and cured before anything is fitted to it", func(c *lawPlan) {
		for _, it := range c.in.Choice.Items {
			if it.Kind == body.ReplaceCasting {
				c.before(c.of("on", it.Part), c.all(func(s *Step) bool { return strings.HasPrefix(s.Ref, "on ") && s.Part != it.Part }))
			}
		}
	}},
	{"aligned before calibrated, and both on a live vehicle", func(c *lawPlan) {
		c.before(slices.Concat(c.task("K-ALIGN"), c.task("K-HV-ON"), c.task("K-AIRBAG-ON")), c.task("K-SENSORS"))
		c.before(append(c.task("K-HV-ON"), c.task("K-AIRBAG-ON")...), c.task("K-ALIGN"))
	}},
	{"high voltage before the airbags, cooling before high voltage", func(c *lawPlan) {
		c.before(c.task("K-HV-ON"), c.task("K-AIRBAG-ON"))
		c.before(c.task("K-BLEED"), c.task("K-HV-ON"))
	}},
	{"what is isolated or disarmed is put back, and what is put back was isolated", func(c *lawPlan) {
		for _, x := range [][2]body.TaskID{{"K-HV-OFF", "K-HV-ON"}, {"K-AIRBAG-OFF", "K-AIRBAG-ON"}, {"K-DRAIN", "K-BLEED"}} {
			c.tried++
			if len(c.task(x[0])) != len(c.task(x[1])) {
				c.fail("%d times %s, %d times %s", len(c.task(x[0])), x[0], len(c.task(x[1])), x[1])
			}
			c.before(c.task(x[0]), c.task(x[1]))
		}
	}},
	{"a new part is there before it is used, an answer before the treatment", func(c *lawPlan) {
		for i := range c.p.Steps {
			s := &c.p.Steps[i]
			for _, r := range s.Awaits {
				if c.tried++; c.dated(s) && s.From.Sub(c.p.Start.Time()).Minutes() < r.Minutes {
					c.fail("%s begins %v, before %s", s.Ref, s.From, r.Name)
				}
			}
			for _, id := range s.Takes {
				p, _ := c.in.Body.Part(id)
				if c.tried++; c.dated(s) && (!p.Delivery.Known || s.From.Sub(c.p.Start.Time()).Minutes() < float64(p.Delivery.Value)) {
					c.fail("%s begins %v, before %s is there", s.Ref, s.From, id)
				}
			}
		}
	}},
	{"every lost part is taken by a step, and once", func(c *lawPlan) {
		for _, l := range c.p.Lost {
			if c.tried++; l.Quantity != 1 || len(c.all(func(s *Step) bool { return slices.Contains(s.Takes, l.Part) })) == 0 {
				c.fail("%d of %s", l.Quantity, l.Part)
			}
		}
		for i := range c.p.Steps {
			for j := range i {
				if c.p.Steps[i].Ref == c.p.Steps[j].Ref || c.p.Steps[i].Part != "" && c.p.Steps[i].Part == c.p.Steps[j].Part && c.p.Steps[i].Name == c.p.Steps[j].Name {
					c.fail("%s is done twice", c.p.Steps[i].Ref)
				}
			}
		}
	}},
	{"a vehicle is in one bay at one height, and stays while something cures", func(c *lawPlan) {
		for i := range c.p.Steps {
			for j := range i {
				x, y := &c.p.Steps[i], &c.p.Steps[j]
				if !c.dated(x) || !c.dated(y) {
					continue
				}
				c.tried++
				till := func(s *Step) time.Time { return s.To.Add(time.Duration(s.WaitMin) * time.Minute) }
				if x.BayID != "" && y.BayID != "" && x.BayID != y.BayID && x.From.Before(till(y)) && y.From.Before(till(x)) {
					c.fail("%s in %s and %s in %s", x.Ref, x.BayID, y.Ref, y.BayID)
				}
				if x.Lift != "" && y.Lift != "" && x.Lift != y.Lift && overlap(x, y) {
					c.fail("%s at %s and %s at %s", x.Ref, x.Lift, y.Ref, y.Lift)
				}
			}
		}
	}},
	{"a person does one thing at a time, and can do it", func(c *lawPlan) {
		for i := range c.p.Steps {
			x := &c.p.Steps[i]
			if who, ok := c.in.Shop.Person(x.Person); c.dated(x) && x.Person != "" && (!ok || !slices.Contains(who.Skills, x.Skill)) {
				c.fail("%s has not the skill of %s", x.Person, x.Ref)
			}
			for j := range i {
				y := &c.p.Steps[j]
				if c.tried++; c.dated(x) && c.dated(y) && x.Person != "" && x.Person == y.Person && overlap(x, y) {
					c.fail("%s does %s and %s", x.Person, x.Ref, y.Ref)
				}
			}
		}
	}},
	{"nothing is ground or welded beside an open adhesive", func(c *lawPlan) {
		for _, x := range c.all(func(s *Step) bool { return len(s.Bonds) > 0 }) {
			for _, y := range c.all(func(s *Step) bool { return warned(s, body.Dust, body.Welding) }) {
				if c.tried++; c.dated(x) && c.dated(y) && x != y && overlap(x, y) {
					c.fail("%s beside %s", y.Ref, x.Ref)
				}
			}
		}
	}},
	{"what is off goes back on, in the order the body says", func(c *lawPlan) {
		for _, r := range c.p.Removal {
			if c.tried++; len(c.of("on", r.Part)) == 0 {
				c.fail("%s stays off", r.Part)
			}
		}
		for _, r := range c.p.Refit {
			for _, id := range r.After {
				c.before(c.of("on", id), c.of("on", r.Part))
			}
		}
	}},
	{"nothing is begun for the last minutes of a day", func(c *lawPlan) {
		end, _ := time.Parse("15:04", c.in.Shop.Calendar.End)
		last := map[string]bool{}
		for i := range c.p.Steps {
			s := &c.p.Steps[i]
			inner := s.Together != "" && last[s.Together]
			last[s.Together] = true
			if !c.dated(s) || inner || s.Minutes == 0 {
				continue
			}
			c.tried++
			left := time.Date(s.From.Year(), s.From.Month(), s.From.Day(), end.Hour(), end.Minute(), 0, 0, s.From.Location()).Sub(s.From).Minutes()
			if left < min(s.Minutes, float64(c.in.Shop.Calendar.LastStart)) {
				c.fail("%s begins %s, with %.0f minutes left of the day", s.Ref, s.From.Format("15:04"), left)
			}
		}
	}},
	{"the lists of removal and refit are in the order of the steps", func(c *lawPlan) {
		last := -1
		for _, r := range c.p.Removal {
			for i := range c.p.Steps {
				if s := &c.p.Steps[i]; s.Ref == "off "+string(r.Part) && c.dated(s) {
					if c.tried++; i < last {
						c.fail("%s comes off after one that is named later", r.Part)
					}
					last = i
				}
			}
		}
		last = -1
		for _, r := range c.p.Refit {
			for i := range c.p.Steps {
				if s := &c.p.Steps[i]; s.Ref == "on "+string(r.Part) && c.dated(s) {
					if c.tried++; i < last {
						c.fail("%s goes on after one that is named later", r.Part)
					}
					last = i
				}
			}
		}
	}},
}

// told says that a note names the step.
func (c *lawPlan) told(name string) bool {
	return slices.ContainsFunc(c.notes, func(n diag.Note) bool { return strings.Contains(n.Where+n.Text, name) })
}

// Laws over generated jobs: random findings, treatments and shops on three vehicles. Each
// law is common practice, no source; a plan that breaks one would not be signed.
func TestLawsOfOrderSeeds(t *testing.T) {
	seeds := uint64(12)
	if os.Getenv("FETTLE_CAMPAIGN") != "" {
		seeds = 400
	}
	tried := make([]int, len(laws))
	broken := map[string]int{}
	for _, v := range lawVehicles(t) {
		for seed := range seeds {
			in := lawJob(v, seed)
			p, notes := Build(in)
			if len(p.Steps) == 0 {
				t.Fatalf("%s seed %d: no steps: %v", v.name, seed, notes)
			}
			for k, l := range laws {
				c := &lawPlan{v: v, in: in, p: p, notes: notes}
				l.hold(c)
				tried[k] += c.tried
				if broken[l.name] += len(c.bad); len(c.bad) > 0 && broken[l.name] < 8 {
					t.Errorf("%s seed %d: %s: %s", v.name, seed, l.name, c.bad[0])
				}
			}
		}
	}
	for k, l := range laws {
		if tried[k] < int(seeds)/2 {
			t.Errorf("%s: tried %d times", l.name, tried[k])
		}
		if broken[l.name] > 0 {
			t.Logf("%s: broken %d times of %d", l.name, broken[l.name], tried[k])
		}
	}
}
