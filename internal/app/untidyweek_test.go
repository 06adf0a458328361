package app

import (
	"cmp"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"fettle/internal/demo"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Untidy reality, the side of the days: several jobs on the routes of the demonstration share a
// shop in which people and bays are away, parts come late, early, in parts or are promised anew,
// findings turn up, and work is recorded well, wrongly, again, out of order and not at all. The
// judge (untidyweekjudge_test.go) is a program of its own.

// untidyWeek is a drawn week.
type untidyWeek struct {
	shop *shop.Shop
	from unit.Date
	jobs []*weekJob
	log  []string

	claims bool     // other weeks are made beside it
	plain  bool     // of a plan by itself, nothing is on record
	lost   []string // records that are not as they were entered last
}

// weekJob is one job of it.
type weekJob struct {
	u  *untidyJob // its records, as the judge of money reads them too
	in plan.InShop
}

func (x *untidyWeek) note(format string, args ...any) {
	x.log = append(x.log, fmt.Sprintf(format, args...))
}

// untidyShop draws who and what is there, and when.
func (x *untidyWeek) untidyShop(base *shop.Shop, start unit.Date, rng *rand.Rand) {
	s := *base
	s.People, s.Bays, s.Absences, s.Calendar.Holidays = slices.Clone(s.People), slices.Clone(s.Bays), nil, nil
	s.Rates = slices.Clone(s.Rates)
	s.Rates[rng.IntN(len(s.Rates))].Hour = eur(5000 + rng.Int64N(9000)) // no day may come from money
	switch rng.IntN(4) {
	case 0:
		for _, p := range base.People {
			p.ID += "-2"
			s.People = append(s.People, p)
		}
		for _, b := range base.Bays {
			b.ID += "-2"
			s.Bays = append(s.Bays, b)
		}
		s.Equipment = append(slices.Clone(s.Equipment), base.Equipment...)
		x.note("two of everything")
	case 1:
		all := shop.Person{ID: "T1", May: []shop.Authority{shop.MayInspect}}
		for _, r := range s.Rates {
			all.Skills = append(all.Skills, r.Skill)
		}
		s.People = []shop.Person{all, {ID: "P1", May: []shop.Authority{shop.MayInspect}}}
		x.note("one person")
	}
	if rng.IntN(4) == 0 {
		s.Moving = nil
		x.note("nobody moves")
	}
	if rng.IntN(3) == 0 {
		s.Calendar.LastStart = unit.Minutes(pick(rng, []int{0, 45, 90}))
	}
	for range rng.IntN(3) {
		s.Calendar.Holidays = append(s.Calendar.Holidays, start.AddDays(rng.IntN(12)))
	}
	away := func(a shop.Absence) {
		a.From, a.Reason = start.AddDays(rng.IntN(16)-2), "ill"
		a.To = a.From.AddDays(rng.IntN(5))
		if strings.HasSuffix(a.Person+a.Bay, "-2") && rng.IntN(3) == 0 {
			a.To = unit.Date{}
		}
		s.Absences = append(s.Absences, a)
		x.note("%s%s away %s to %s", a.Person, a.Bay, a.From, a.To)
	}
	if rng.IntN(3) > 0 {
		for _, p := range s.People {
			if rng.IntN(3) == 0 {
				away(shop.Absence{Person: p.ID})
			}
		}
		for _, b := range s.Bays {
			if rng.IntN(4) == 0 {
				away(shop.Absence{Bay: b.ID})
			}
		}
	}
	x.shop = &s
}

// untidySupply puts deliveries and promises on record as events: early, late, in parts, anew,
// with another count, corrected and taken back.
func (x *untidyWeek) untidySupply(t *testing.T, j *job.State, p plan.Plan, rng *rand.Rand) {
	if rng.IntN(3) == 0 {
		return
	}
	events, n := job.FromState(*j), 0
	id := func(kind string) string { n++; return fmt.Sprintf("%s-%d", kind, n) }
	last := x.from // nothing is recorded of days to come
	day := func() unit.Date {
		d := j.Start.AddDays(rng.IntN(12) - 3)
		if last.Before(d) {
			d = last
		}
		if d.Before(j.Opened) {
			d = j.Opened
		}
		return d
	}
	came := func(item string, count int) {
		a := job.Arrival{ID: id("D"), Item: item, Count: count, On: day(), At: pick(rng, []string{"", "", "07:45", "12:20", "15:50"}), By: "T1"}
		if rng.IntN(5) == 0 { // entered wrongly before
			wrong := a
			wrong.Count, wrong.On = count+1, j.Opened
			events = append(events, job.Event{Kind: job.DeliveryRecorded, Data: wrong})
		}
		events = append(events, job.Event{Kind: job.DeliveryRecorded, Data: a})
		if rng.IntN(8) == 0 {
			events = append(events, job.Event{Kind: job.DeliveryDropped, Data: job.Withdrawn{ID: a.ID, By: "T1", On: a.On, Reason: "Another vehicle"}})
		}
	}
	promised := func(item string, count int) {
		on := day()
		a := job.Promised{ID: id("PR"), Item: item, Count: count, On: on, Expected: on.AddDays(rng.IntN(14)), By: "T1"}
		events = append(events, job.Event{Kind: job.PromiseRecorded, Data: a})
		switch rng.IntN(8) {
		case 0:
			events = append(events, job.Event{Kind: job.PromiseDropped, Data: job.Withdrawn{ID: a.ID, By: "T1", On: a.On, Reason: "Sold out"}})
		case 1:
			a.Expected = a.Expected.AddDays(3)
			events = append(events, job.Event{Kind: job.PromiseRecorded, Data: a})
		}
	}
	for _, l := range p.Lost {
		item := string(l.Part)
		switch rng.IntN(6) {
		case 0: // all of it, sometimes in two parts
			if l.Quantity > 1 && rng.IntN(2) == 0 {
				came(item, 1)
				came(item, l.Quantity-1)
			} else {
				came(item, l.Quantity)
			}
		case 1: // some came, and the rest is promised
			came(item, 1)
			promised(item, pick(rng, []int{0, 1, max(1, l.Quantity-1)}))
		case 2:
			promised(item, 0)
			promised(item, 0)
		case 3:
			promised(item, 1)
			if rng.IntN(2) == 0 {
				promised(item, max(1, l.Quantity-1))
			}
		case 4:
			promised(item, 0)
			came(item, 1)
			came(item, l.Quantity)
		}
	}
	s, err := job.Fold(events)
	if err != nil {
		t.Fatal(err)
	}
	x.judgeRecords(events, s)
	j.Deliveries, j.Promises = s.Deliveries, s.Promises
	rng.Shuffle(len(j.Deliveries), func(a, b int) { j.Deliveries[a], j.Deliveries[b] = j.Deliveries[b], j.Deliveries[a] })
}

// untidyWork records work on a plan: up to some step, with gaps, out of order, wrongly, again.
func (x *untidyWeek) untidyWork(t *testing.T, u *untidyJob, p plan.Plan, rng *rand.Rand) {
	events, n := job.FromState(*u.c.Job), 0
	add := func(a job.Actual) { events = append(events, job.Event{Kind: job.StepDone, Data: a}) }
	upTo := rng.IntN(len(p.Steps) + 1)
	if rng.IntN(5) == 0 {
		upTo = 0
	}
	var waits []int
	for k, s := range p.Steps {
		if s.WaitMin > 0 {
			waits = append(waits, k+1)
		}
	}
	cures := len(waits) > 0 && rng.IntN(2) == 0
	leaveOut := pick(rng, []float64{0, 0, 0.05, 0.3, 0.8})
	if cures { // the evening before the week, and all before it is done
		upTo, leaveOut = pick(rng, waits), 0
	}
	steps, late := p.Steps[:upTo], p.Steps[upTo:]
	if len(late) > 0 && rng.IntN(4) == 0 { // out of order
		steps = append(slices.Clone(steps), pick(rng, late))
	}
	day := u.c.Job.Start
	for k, s := range steps {
		if k >= upTo-2 || rng.IntN(6) == 0 && day.Before(x.from) { // the last ones just now
			day = day.AddDays(1)
			if last := x.from.AddDays(-rng.IntN(2)); k >= upTo-2 && !last.Before(u.c.Job.Start) {
				day = last
			}
		}
		if s.From.IsZero() || rng.Float64() < leaveOut {
			continue
		}
		n++
		a := job.Actual{ID: fmt.Sprintf("W-%d", n), Step: s.Name, Planned: unit.Minutes(s.Minutes), Minutes: unit.Minutes(1 + rng.IntN(90)), By: whoDoes(u.c.Shop, s.Skill), On: day}
		if len(s.For) > 0 && rng.IntN(9) > 0 {
			a.Finding = pick(rng, s.For)
		}
		if cures {
			if k == upTo-1 {
				a.On = x.from.AddDays(-1)
			}
			u.way(a, rng, add, &events)
			continue
		}
		if k > upTo-3 && rng.IntN(3) == 0 {
			a.Going, a.Left = true, unit.Minutes(1+rng.IntN(90))
		}
		if rng.IntN(3) == 0 {
			u.spoil(&a, s, rng)
		}
		u.way(a, rng, add, &events)
	}
	s, err := job.Fold(events)
	if err != nil {
		t.Fatal(err)
	}
	x.judgeRecords(events, s)
	u.c.Job.Actuals = s.Actuals
	rng.Shuffle(len(s.Actuals), func(i, j int) {
		if rng.IntN(6) == 0 && s.Actuals[i].On != s.Actuals[j].On {
			s.Actuals[i], s.Actuals[j] = s.Actuals[j], s.Actuals[i]
		}
	})
}

// asPlanned records work as the plan has it, up to a wait or to something that a step takes, and
// has the week begin on the morning that decides: nothing else keeps what comes next. Sometimes
// the last step is begun again, somebody is away that morning, or only a step with a wait was
// forgotten. False: the plan has no such step.
func (x *untidyWeek) asPlanned(t *testing.T, u *untidyJob, p plan.Plan, rng *rand.Rand) bool {
	var at []int
	for k, s := range p.Steps {
		if !s.From.IsZero() && (s.WaitMin > 400 || len(s.Takes) > 0) {
			at = append(at, k)
		}
	}
	if len(at) == 0 {
		return false
	}
	last := pick(rng, at)
	upTo := p.Steps[last].From
	from := unit.DateOf(upTo)
	if p.Steps[last].WaitMin > 400 {
		upTo = p.Steps[last].To
		from = unit.DateOf(upTo).AddDays(1)
	}
	if from.Before(x.from) {
		return false
	}
	forgotten := p.Steps[last].WaitMin > 700 && rng.IntN(2) == 0
	x.from, u.today = from, from
	x.note("%s: as planned up to %q", u.c.Job.ID, p.Steps[last].Name)
	events, n := job.FromState(*u.c.Job), 0
	for k, s := range p.Steps {
		if s.From.IsZero() || s.Move != nil || !forgotten && upTo.Before(s.To) || forgotten && k == last {
			continue
		}
		n++
		a := job.Actual{ID: fmt.Sprintf("W-%d", n), Step: s.Ref, Planned: unit.Minutes(s.Minutes), Minutes: unit.Minutes(s.Minutes), By: cmp.Or(s.Person, whoDoes(u.c.Shop, s.Skill)), On: unit.DateOf(s.To)}
		if forgotten && from.Before(a.On) {
			a.On = from
		}
		events = append(events, job.Event{Kind: job.StepDone, Data: a})
		if k != last || rng.IntN(3) > 0 {
			continue
		}
		a.ID, a.Again, a.Going, a.Left = a.ID+"-again", "Pores", true, unit.Minutes(30+rng.IntN(90))
		events = append(events, job.Event{Kind: job.StepDone, Data: a})
		if who, ok := u.c.Shop.Signer(a.By); ok && rng.IntN(2) == 0 {
			ill := shop.Absence{Person: who.ID, From: from, To: from.AddDays(1 + rng.IntN(3)), Reason: "ill"}
			if slices.ContainsFunc(x.shop.Absences, func(o shop.Absence) bool {
				return o.Person == ill.Person && !ill.To.Before(o.From) && (o.To.IsZero() || !o.To.Before(ill.From))
			}) {
				continue // the absences of one person lie apart
			}
			x.shop.Absences = append(x.shop.Absences, ill)
			x.note("%s away from %s", who.ID, from)
		}
	}
	s, err := job.Fold(events)
	if err != nil {
		t.Fatal(err)
	}
	x.judgeRecords(events, s)
	u.c.Job.Actuals = s.Actuals
	return true
}

// built is the plan of a route with other findings, parts, people and days.
func built(u *untidyJob, items []plan.Item) plan.Plan {
	p, _ := plan.Build(plan.Input{Body: u.c.Body, Shop: u.c.Shop, Job: u.c.Job, Inspect: u.r.Inspect, Vehicle: u.c.Vehicle, Choice: plan.Choice{Items: items}})
	return p
}

// before is the items of a route before the last of its findings turned up.
func before(items []plan.Item, rng *rand.Rand) []plan.Item {
	out := slices.Clone(items)
	k := rng.IntN(len(out))
	if n := len(out[k].Findings); n > 1 {
		out[k].Findings = slices.Delete(slices.Clone(out[k].Findings), n-1, n)
	} else if len(out) > 1 {
		out = slices.Delete(out, k, k+1)
	}
	return out
}

// untidyWeekDraw draws a week from its seed.
func untidyWeekDraw(t *testing.T, a *App, c *Opened, r Assessment, seed uint64) *untidyWeek {
	rng := rand.New(rand.NewPCG(seed, 1617))
	x := &untidyWeek{}
	start := pick(rng, []unit.Date{{Year: 2026, Month: 11, Day: 30}, {Year: 2026, Month: 10, Day: 21}, {Year: 2027, Month: 3, Day: 24}}).AddDays(rng.IntN(5))
	x.from = start.AddDays(rng.IntN(10))
	x.untidyShop(c.Shop, start, rng)
	morning := rng.IntN(2) == 0 // the week begins where the first job stands as planned
	if morning {
		x.from = start.AddDays(rng.IntN(3))
	}
	for k := range pick(rng, []int{1, 1, 2, 2, 3}) {
		u := untidyBase(a, c, r)
		u.c.Shop, u.today = x.shop, x.from
		j := u.c.Job
		j.Vehicle.VIN = fmt.Sprintf("ZZZBPVL4XTN00%04d", 1000+k) // each its own vehicle
		j.ID, j.Start, j.Opened, j.Deliveries, j.Promises = fmt.Sprintf("J%d", k+1), start.AddDays(rng.IntN(5)), start.AddDays(-7), nil, nil
		if k > 0 && rng.IntN(4) == 0 {
			j.Start = x.from.AddDays(1 + rng.IntN(3))
		}
		u.taken = pick(rng, u.planned())
		items := u.route(u.taken).Items
		u.r.Inspect = r.Inspect
		was := items
		if rng.IntN(3) == 0 {
			was = before(items, rng)
			x.note("%s: a finding turned up", j.ID)
		}
		then := built(u, was)
		x.untidySupply(t, j, then, rng)
		if morning && k == 0 && x.asPlanned(t, u, built(u, was), rng) {
			then = built(u, items)
		} else if len(was) != len(items) || len(j.Deliveries)+len(j.Promises) > 0 || rng.IntN(2) == 0 {
			x.untidyWork(t, u, then, rng)
			then = built(u, items)
		} else {
			x.untidyWork(t, u, then, rng)
		}
		if &was[0] != &items[0] {
			then = built(u, items)
		}
		in := plan.InShop{Job: j, Route: u.taken, Plan: then}
		if rng.IntN(2) == 0 {
			in.Promise = start.AddDays(5 + rng.IntN(20))
		}
		x.jobs = append(x.jobs, &weekJob{u, in})
		x.note("%s by %s from %s", j.ID, u.taken, j.Start)
	}
	return x
}

func (x *untidyWeek) inShop() []plan.InShop {
	var out []plan.InShop
	for _, j := range x.jobs {
		out = append(out, j.in)
	}
	return out
}

// Nothing dangerous is planned too early, nothing is planned twice or lost, nobody works while
// away, no part is used before it is there, nothing waits for nothing, and no claim that a week is
// the best is beaten by another one of the program's own.
func TestUntidyWeeksSeeds(t *testing.T) {
	a, c, r := demonstrated(t, demo.Job)
	first, seeds := uint64(3), 2 // two that find faults of waits, records, absences, days off and the clock
	if os.Getenv("FETTLE_CAMPAIGN") != "" {
		first, seeds = 0, 500
	}
	seen, told := map[string]int{}, 0
	for k := range seeds {
		seed := first + uint64(k)
		x := untidyWeekDraw(t, a, c, r, seed)
		x.claims = seed%4 == 0
		w, notes := plan.WeekOf(x.shop, x.inShop(), x.from)
		for _, why := range x.judged(w, notes, seen) {
			if told++; told < 15 {
				t.Errorf("seed %d (%s): %s", seed, strings.Join(x.log, ", "), why)
			}
		}
	}
	if told >= 15 {
		t.Errorf("and %d more", told-14)
	}
	if os.Getenv("FETTLE_CAMPAIGN") != "" {
		for _, what := range []string{"done", "under way", "handed over", "again", "unrecorded", "delivered", "promised", "overdue", "usual", "cures", "aside", "no way"} {
			if seen[what] == 0 {
				t.Errorf("no draw has %q: %v", what, slices.Sorted(maps.Keys(seen)))
			}
		}
	}
	t.Logf("%v", seen)
}
