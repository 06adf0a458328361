package plan

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Untidy reality: steps are recorded late, twice, out of order or not at all. The judge is a
// program of its own, written from docs/formats and docs/methods/schedule.md: it reads the
// plan and the schedule, and shares no code with what made them.

// untidyCase is a job with records, and the day on which what is left of it is planned.
type untidyCase struct {
	in   Input
	plan Plan
	job  InShop
	from unit.Date

	there map[string]time.Time // from when on each part is there, where something is on record
}

// untidyRecords writes records of a plan: those of a run of the work up to a moment, with
// some left out, some twice, some under way, and some out of order.
func untidyRecords(p Plan, rng *rand.Rand) []job.Actual {
	var out []job.Actual
	upTo := rng.IntN(len(p.Steps) + 1)
	leaveOut := []float64{0, 0.1, 0.5, 0.9}[rng.IntN(4)]
	for k, s := range p.Steps {
		if s.Move != nil || s.From.IsZero() || k >= upTo && rng.IntN(12) > 0 || rng.Float64() < leaveOut {
			continue
		}
		a := job.Actual{Step: s.Name, Planned: unit.Minutes(s.Minutes), Minutes: unit.Minutes(s.Minutes), By: s.Person, On: unit.DateOf(s.To)}
		if len(s.For) > 0 && rng.IntN(5) > 0 {
			a.Finding = s.For[0]
		}
		switch rng.IntN(8) {
		case 0:
			a.Going, a.Left = true, unit.Minutes(1+rng.IntN(90))
		case 1:
			a.Step = strings.ToUpper(a.Step)
		case 2:
			out = append(out, a)
		}
		out = append(out, a)
	}
	rng.Shuffle(len(out), func(i, j int) {
		if rng.IntN(4) == 0 {
			out[i], out[j] = out[j], out[i]
		}
	})
	return out
}

// recordedBy is, by the documents, which steps the records are about: a name that several
// steps have needs its finding; a part that is back on was taken off; what lies in the future
// or is signed by nobody counts for nothing.
func recordedBy(p Plan, records []job.Actual, today unit.Date) (done, begun map[string]job.Actual) {
	done, begun = map[string]job.Actual{}, map[string]job.Actual{}
	for _, a := range records {
		if a.By == "" || today.Before(a.On) {
			continue
		}
		var about []Step
		for _, s := range p.Steps {
			if strings.EqualFold(s.Name, a.Step) {
				about = append(about, s)
			}
		}
		if a.Finding == "" && len(about) > 1 {
			continue
		}
		for _, s := range about {
			if a.Finding != "" && !slices.Contains(s.For, a.Finding) {
				continue
			}
			if _, ok := done[s.ID]; ok {
				continue
			}
			if a.Going {
				begun[s.ID] = a
			} else {
				done[s.ID] = a
				delete(begun, s.ID)
			}
			break
		}
	}
	for _, s := range p.Steps {
		for _, on := range p.Steps {
			if _, ok := begun[on.ID]; ok || len(done) > 0 {
				a, fitted := done[on.ID]
				if !fitted {
					a, fitted = begun[on.ID]
				}
				if _, have := done[s.ID]; fitted && !have && strings.HasPrefix(on.Ref, "on ") && s.Phase == "open" && s.Part == on.Part {
					done[s.ID] = a
					delete(begun, s.ID)
				}
			}
		}
	}
	return done, begun
}

// untidyJudge holds a week against the documents, and says what is wrong with it.
func untidyJudge(c untidyCase, w Week, notes []diag.Note) []string {
	var bad []string
	fault := func(format string, args ...any) { bad = append(bad, fmt.Sprintf(format, args...)) }
	done, begun := recordedBy(c.plan, c.job.Job.Actuals, c.from)
	steps, planned := map[string]Step{}, map[string]WeekStep{}
	for _, s := range c.plan.Steps {
		steps[s.ID] = s
	}
	for _, s := range w.Steps {
		if _, twice := planned[s.Step]; twice {
			fault("%s is planned twice", s.Step)
		}
		planned[s.Step] = s
		if _, ok := done[s.Step]; ok {
			fault("%s is on record as done and planned", s.Step)
		}
	}
	later := map[string]bool{} // comes before something that is on record
	for _, s := range c.plan.Steps {
		_, isDone := done[s.ID]
		_, isBegun := begun[s.ID]
		var before func(id string, f func(Step))
		met := map[string]bool{}
		before = func(id string, f func(Step)) {
			for _, a := range steps[id].After {
				if !met[a] {
					met[a] = true
					f(steps[a])
					before(a, f)
				}
			}
		}
		if isDone || isBegun {
			before(s.ID, func(a Step) {
				_, d := done[a.ID]
				later[a.ID] = later[a.ID] || !d && a.Move == nil
			})
		}
		x, ok := planned[s.ID]
		if !ok {
			if !isDone && !s.From.IsZero() && s.Move == nil {
				fault("%s %s is lost: neither on record nor planned", s.ID, s.Name)
			}
			continue
		}
		met = map[string]bool{}
		before(s.ID, func(a Step) {
			if _, d := done[a.ID]; d || a.Move != nil {
				return
			}
			y, ok := planned[a.ID]
			if over := y.To.Add(time.Duration(a.WaitMin * float64(time.Minute))); !ok || x.From.Before(over) && x.From.Before(y.To.Add(time.Duration(directWait(s, a))*time.Minute)) {
				fault("%s %q begins %s, before %s %q, which it comes after and which is not on record, is over (%s)", s.ID, s.Name, x.From.Format(time.DateTime), a.ID, a.Name, over.Format(time.DateTime))
			}
		})
		for _, id := range s.After {
			if a, d := done[id]; d && !isBegun {
				h, m := 0, 0
				fmt.Sscanf(c.in.Shop.Calendar.End, "%d:%d", &h, &m)
				over := time.Date(a.On.Year, a.On.Month, a.On.Day, h, m, 0, 0, c.in.Shop.Location()).Add(time.Duration(steps[id].WaitMin) * time.Minute)
				if x.From.Before(over) && steps[id].Move == nil {
					fault("%s begins %s, before the wait after %s is over (%s)", s.ID, x.From, id, over)
				}
			}
		}
	}
	for _, s := range c.plan.Steps {
		for _, id := range s.Takes {
			part, _ := c.in.Body.Part(id)
			d := c.job.Job.SupplyOf(string(id), 1)
			if d.On.IsZero() && !d.Promised && part.Delivery.Known && !s.From.IsZero() && s.From.Sub(time.Date(c.plan.Start.Year, c.plan.Start.Month, c.plan.Start.Day, 0, 0, 0, 0, s.From.Location())).Minutes() < float64(part.Delivery.Value) {
				fault("in the plan %s begins %s, before the usual time of %s", s.Name, s.From, id)
			}
			if on := d.On; (!on.IsZero() || d.Promised && d.Unnamed == 0) && !s.From.IsZero() {
				if on.IsZero() {
					on = d.Expected
				}
				if unit.DateOf(s.From).Before(on.AddDays(1)) && c.plan.Start.Before(on) {
					fault("in the plan %s begins %s, and %s is there on the evening of %s", s.Name, s.From, id, on)
				}
			}
		}
		bad = append(bad, awayJudge(c.in.Shop, "in the plan "+s.Name, s.Person, s.BayID, s.From, s.To)...)
	}
	for _, s := range w.Steps {
		for _, id := range steps[s.Step].Takes {
			taken := slices.ContainsFunc(c.plan.Steps, func(o Step) bool { // then it must have come
				_, d := done[o.ID]
				_, b := begun[o.ID]
				return slices.Contains(o.Takes, id) && (d || b)
			})
			if t, ok := c.there[string(id)]; ok && s.From.Before(t) && !s.Going && !taken {
				fault("%s takes %s, begins %s, and that is there on %s: %+v %+v", s.Name, id, s.From, t, c.job.Job.Deliveries, c.job.Job.Promises)
			}
		}
		bad = append(bad, awayJudge(c.in.Shop, s.Name, s.Person, s.Bay, s.From, s.To)...)
	}
	asked := ""
	for _, n := range notes {
		if strings.HasPrefix(n.Code, "plan.unrecorded") {
			asked += n.Text
		}
	}
	for _, s := range c.plan.Steps {
		if later[s.ID] && len(s.Needs) > 0 && workFollows(c.plan, s.ID, done, begun) && !strings.Contains(asked, fmt.Sprintf("%s %q", s.ID, s.Name)) {
			fault("nobody asks about %s %q, after which work is on record", s.ID, s.Name)
		}
	}
	return bad
}

// directWait is the wait of a step before another, where that comes right after it.
func directWait(s, a Step) float64 {
	if slices.Contains(s.After, a.ID) {
		return a.WaitMin
	}
	return 0
}

// workFollows says that what is on record comes after a step by what the work asks for.
func workFollows(p Plan, id string, done, begun map[string]job.Actual) bool {
	after := map[string]bool{id: true}
	for _, s := range p.Steps {
		before := s.Needs
		if len(before) == 0 {
			before = s.After
		}
		if slices.ContainsFunc(before, func(a string) bool { return after[a] }) {
			after[s.ID] = true
		}
	}
	for _, s := range p.Steps {
		_, d := done[s.ID]
		_, b := begun[s.ID]
		if s.ID != id && after[s.ID] && (d || b) && s.Move == nil {
			return true
		}
	}
	return false
}

// untidyAbsences sends people and bays away for days, some for good where another is left.
func untidyAbsences(s *shop.Shop, start unit.Date, rng *rand.Rand) *shop.Shop {
	out := *s
	out.Absences = nil
	spell := func(a shop.Absence) {
		a.From, a.Reason = start.AddDays(rng.IntN(14)-2), "ill"
		a.To = a.From.AddDays(rng.IntN(6))
		if strings.HasSuffix(a.Person+a.Bay, "-2") && rng.IntN(3) == 0 {
			a.To = unit.Date{}
		}
		out.Absences = append(out.Absences, a)
	}
	for _, p := range s.People {
		if rng.IntN(3) == 0 {
			spell(shop.Absence{Person: p.ID})
		}
	}
	for _, b := range s.Bays {
		if rng.IntN(4) == 0 {
			spell(shop.Absence{Bay: b.ID})
		}
	}
	return &out
}

// awayJudge says where somebody works, or work is done in a bay, on a day away: it goes
// through the working hours of every day between the ends of a step.
func awayJudge(s *shop.Shop, what, person, bay string, from, to time.Time) []string {
	var bad []string
	clock := func(d unit.Date, hhmm string) time.Time {
		h, m := 0, 0
		fmt.Sscanf(hhmm, "%d:%d", &h, &m)
		return time.Date(d.Year, d.Month, d.Day, h, m, 0, 0, s.Location())
	}
	if from.IsZero() || !from.Before(to) {
		return nil
	}
	for d := unit.DateOf(from); !unit.DateOf(to).Before(d); d = d.AddDays(1) {
		if !slices.Contains(s.Calendar.Days, strings.ToLower(d.Time().Weekday().String()[:3])) || slices.Contains(s.Calendar.Holidays, d) {
			continue
		}
		if !from.Before(clock(d, s.Calendar.End)) || !clock(d, s.Calendar.Start).Before(to) {
			continue
		}
		for _, a := range s.Absences {
			if (a.Person == person && person != "" || a.Bay == bay && bay != "") && !d.Before(a.From) && (a.To.IsZero() || !a.To.Before(d)) {
				bad = append(bad, fmt.Sprintf("%s by %s in %s lies from %s to %s, and %s%s is away on %s", what, person, bay, from, to, a.Person, a.Bay, d))
			}
		}
	}
	return bad
}

// untidySupply puts deliveries and promises of the parts to be bought on record: early, late, in
// parts, promised anew; and says from when on each part is there at the earliest.
func untidySupply(p Plan, s *shop.Shop, j *job.State, from unit.Date, rng *rand.Rand) map[string]time.Time {
	out := map[string]time.Time{}
	evening := func(d unit.Date) time.Time {
		h, m := 0, 0
		fmt.Sscanf(s.Calendar.End, "%d:%d", &h, &m)
		return time.Date(d.Year, d.Month, d.Day, h, m, 0, 0, s.Location())
	}
	keeps := rng.IntN(4) > 0
	for _, l := range p.Lost {
		id, on := string(l.Part), j.Start.AddDays(rng.IntN(8))
		switch kind := rng.IntN(6); {
		case !keeps || kind == 0:
		case kind == 1: // all of it came
			j.Deliveries = append(j.Deliveries, job.Arrival{ID: "D-" + id, Item: id, Count: l.Quantity, On: on})
			out[id] = evening(on)
		case kind == 2: // in two parts, or one is missing and promised
			j.Deliveries = append(j.Deliveries, job.Arrival{ID: "D-" + id, Item: id, Count: 1, On: on})
			if out[id] = evening(on); l.Quantity > 1 {
				rest := on.AddDays(1 + rng.IntN(9))
				j.Promises = append(j.Promises, job.Promised{ID: "PR-" + id, Item: id, Count: l.Quantity - 1, On: on, Expected: rest})
				out[id] = evening(rest)
			}
		case kind == 3: // promised
			j.Promises = append(j.Promises, job.Promised{ID: "PR-" + id, Item: id, On: j.Start, Expected: on})
			out[id] = evening(on)
		default: // promised, and promised anew
			last := on.AddDays(rng.IntN(20) - 4)
			j.Promises = append(j.Promises, job.Promised{ID: "PR-" + id + "-2", Item: id, On: j.Start.AddDays(1), Expected: last},
				job.Promised{ID: "PR-" + id, Item: id, On: j.Start, Expected: on})
			out[id] = evening(last)
		}
	}
	for id, t := range out { // what was promised for days gone by and is not on record has not come
		came := slices.ContainsFunc(j.Deliveries, func(a job.Arrival) bool {
			return a.Item == id && !from.Before(a.On) && !slices.ContainsFunc(j.Promises, func(p job.Promised) bool { return p.Item == id })
		})
		if !came && t.Before(evening(from)) {
			out[id] = evening(from)
		}
	}
	return out
}

// untidy draws a job with records.
func untidy(v lawVehicle, seed uint64) (untidyCase, bool) {
	rng := rand.New(rand.NewPCG(seed, 1601))
	in := lawJob(v, seed)
	in.Job.ID = "J"
	if rng.IntN(2) == 0 {
		in.Shop = untidyAbsences(in.Shop, in.Job.Start, rng)
	}
	p, _ := Build(in)
	if len(p.Steps) == 0 {
		return untidyCase{}, false
	}
	c := untidyCase{in: in, plan: p, from: in.Job.Start.AddDays(rng.IntN(12))}
	j := *in.Job
	c.there = untidySupply(p, in.Shop, &j, c.from, rng)
	in.Job, c.in.Job = &j, &j
	c.plan, _ = Build(in)
	p = c.plan
	j.Actuals = untidyRecords(p, rng)
	c.job = InShop{Job: &j, Route: "r", Plan: p}
	return c, true
}

// Nothing dangerous is planned too early, nothing is counted twice or lost, and what is not on
// record though later work is, is asked about.
func TestUntidyRealitySeeds(t *testing.T) {
	judged, told := 0, 0
	for _, v := range lawVehicles(t) {
		for seed := range uint64(draws(3, 170)) {
			c, ok := untidy(v, 4000+seed)
			if !ok {
				continue
			}
			w, notes := WeekOf(c.in.Shop, []InShop{c.job}, c.from)
			judged++
			for _, why := range untidyJudge(c, w, notes) {
				if told++; told < 12 {
					t.Errorf("%s seed %d: %s", v.name, seed, why)
				}
			}
			if len(w.Steps) == 0 && len(c.plan.Steps) > len(c.job.Job.Actuals)+3 {
				t.Errorf("%s seed %d: no week: %v", v.name, seed, notes)
			}
		}
	}
	if judged < 8 {
		t.Errorf("only %d weeks were judged", judged)
	}
	if told >= 12 {
		t.Errorf("and %d more", told-11)
	}
}
