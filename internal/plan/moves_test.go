package plan

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// printed is what the judge of moves reads of a plan, or of one job of a week: nothing but
// what is printed.
type printed struct {
	Steps []struct {
		ID, Job, Step, Ref, Name, Part, Person, Bay, BayID, StandsIn string
		Minutes, WaitMinutes                                         float64
		From, To                                                     printedTime
		Equipment                                                    []string
		Move                                                         *struct {
			From, To string
			Rolls    bool
		}
	}
	Stands []struct {
		Place    string
		From, To printedTime
	}
}

// printedTime is a time as it is printed, with an offset or without.
type printedTime struct{ time.Time }

func (t *printedTime) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		return nil
	}
	at, err := time.Parse(`"2006-01-02T15:04:05"`, string(b))
	if err != nil {
		at, err = time.Parse(`"`+time.RFC3339+`"`, string(b))
	}
	t.Time = at
	return err
}

// standsRight judges where a vehicle stands: in one place at a time, changed by moves alone,
// that take somebody the shop's minutes, with nothing else done on the vehicle; never on its
// wheels while what it rolls on is off; and every step where it stands.
func standsRight(p printed, sh *shop.Shop, b *body.Body) []string {
	var bad []string
	fail := func(format string, args ...any) { bad = append(bad, fmt.Sprintf(format, args...)) }
	bay := func(id string) (shop.Bay, bool) {
		k := slices.IndexFunc(sh.Bays, func(y shop.Bay) bool { return y.ID == id })
		if k < 0 {
			return shop.Bay{}, false
		}
		return sh.Bays[k], true
	}
	changes := 0
	for k, s := range p.Stands {
		if _, ok := bay(s.Place); !ok && s.Place != "yard" {
			fail("stands in %q", s.Place)
		}
		if last := k == len(p.Stands)-1; last != s.To.IsZero() || !last && !s.To.Equal(p.Stands[k+1].From.Time) {
			fail("stands in %s until %v", s.Place, s.To)
		}
	}
	place := func(at time.Time) int {
		k := 0
		for i, s := range p.Stands {
			if !s.From.After(at) {
				k = i
			}
		}
		return k
	}
	off := map[string][2]time.Time{} // parts without which it does not roll: when
	for _, s := range p.Steps {
		word, _, _ := strings.Cut(s.Ref, " ")
		part, ok := b.Part(body.PartID(s.Part))
		if !ok || part.Rolls != "no" || s.From.IsZero() {
			continue
		}
		x, known := off[s.Part]
		switch word {
		case "off", "open":
			if !known || s.From.Before(x[0]) {
				x[0] = s.From.Time
			}
		case "on", "close", "bond":
			if end := s.To.Add(time.Duration(s.WaitMinutes) * time.Minute); end.After(x[1]) {
				x[1] = end
			}
		}
		off[s.Part] = x
	}
	for _, s := range p.Steps {
		if s.From.IsZero() {
			continue
		}
		at := place(s.From.Time)
		if p.Stands[at].Place != s.StandsIn {
			fail("%s: stands in %s, by the list in %s", s.Name, s.StandsIn, p.Stands[at].Place)
		}
		if s.BayID != "" && s.BayID != s.StandsIn {
			fail("%s is done in %s, the vehicle stands in %s", s.Name, s.BayID, s.StandsIn)
		}
		if s.Move == nil {
			end := s.To.Time
			if s.BayID != "" {
				end = end.Add(time.Duration(s.WaitMinutes) * time.Minute)
			}
			if end.After(s.From.Time) && place(end.Add(-time.Second)) != at {
				fail("%s: the vehicle is moved meanwhile", s.Name)
			}
			continue
		}
		changes++
		if at == 0 || !p.Stands[at].From.Equal(s.From.Time) {
			fail("%s changes nothing", s.Name)
			continue
		}
		need, of := 0.0, p.Stands[at-1].Place
		if y, ok := bay(of); ok {
			need += float64(y.Out)
		}
		if y, ok := bay(s.StandsIn); ok {
			need += float64(y.In)
		}
		if !s.Move.Rolls {
			if sh.Moving.Carry == nil {
				fail("%s: carried by nothing", s.Name)
				continue
			}
			need += float64(sh.Moving.Carry.More)
			for _, e := range sh.Moving.Carry.Equipment {
				if !slices.Contains(s.Equipment, e) {
					fail("%s without %s", s.Name, e)
				}
			}
		}
		who, ok := sh.Person(s.Person)
		if s.Minutes < need || s.Minutes <= 0 || s.To.Sub(s.From.Time).Minutes() < need || !ok || !slices.Contains(who.Skills, sh.Moving.Skill) {
			fail("%s by %q in %v min of %v", s.Name, s.Person, s.Minutes, need)
		}
		for _, o := range p.Steps {
			if o.ID != s.ID && o.From.Before(s.To.Time) && s.From.Before(o.To.Time) {
				fail("%s is done while %s", o.Name, s.Name)
			}
		}
		for part, x := range off {
			if s.Move.Rolls && !x[0].IsZero() && x[0].Before(s.To.Time) && (x[1].IsZero() || x[1].After(s.From.Time)) {
				fail("%s rolls while %s is off", s.Name, part)
			}
		}
	}
	if changes != len(p.Stands)-1 {
		fail("%d moves, %d changes of place", changes, len(p.Stands)-1)
	}
	return bad
}

// movingShop is a shop that moves vehicles, with or without something to carry them.
func movingShop(s *shop.Shop, rng *rand.Rand) *shop.Shop {
	out := *s
	out.Bays = slices.Clone(s.Bays)
	for k := range out.Bays {
		y := &out.Bays[k]
		y.In, y.Out = unit.Minutes(1+rng.IntN(30)), unit.Minutes(1+rng.IntN(20))
		if y.RollOut = 0; rng.IntN(3) == 0 {
			y.RollOut = y.In + y.Out
		}
	}
	out.Moving = &shop.Moving{Skill: s.Rates[rng.IntN(len(s.Rates))].Skill}
	if !slices.ContainsFunc(out.People, func(p shop.Person) bool { return slices.Contains(p.Skills, out.Moving.Skill) }) {
		out.Moving.Skill = out.People[0].Skills[0]
	}
	if rng.IntN(3) > 0 {
		out.Equipment = append(slices.Clone(s.Equipment), "vehicle dollies")
		out.Moving.Carry = &shop.Carry{More: unit.Minutes(1 + rng.IntN(20)), Equipment: []string{"vehicle dollies"}}
	}
	return &out
}

// rollingBody is a body of which some parts keep the vehicle from rolling while they are off.
func rollingBody(b *body.Body, rng *rand.Rand) *body.Body {
	out := *b
	out.Parts = slices.Clone(b.Parts)
	for k := range out.Parts {
		out.Parts[k].Rolls = []body.YesNo{"", "yes", "no", ""}[rng.IntN(4)]
	}
	return &out
}

// anyBay is a body of which joints are opened, and tasks done, in any bay.
func anyBay(b *body.Body, sh *shop.Shop, rng *rand.Rand) *body.Body {
	out := *b
	draw := func(bay *body.BayKind) {
		if *bay != "" {
			*bay = sh.Bays[rng.IntN(len(sh.Bays))].Kind
		}
	}
	out.Joints, out.Tasks = slices.Clone(b.Joints), slices.Clone(b.Tasks)
	for k := range out.Joints {
		draw(&out.Joints[k].Bay)
	}
	for k := range out.Tasks {
		draw(&out.Tasks[k].Step.Bay)
	}
	return &out
}

func printedPlan(t *testing.T, p Plan) printed {
	t.Helper()
	text, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	var out printed
	if err := json.Unmarshal(text, &out); err != nil {
		t.Fatal(err)
	}
	return out
}

// Law: a vehicle stands in one place at a time, no step is done in a bay it does not stand
// in, no move is free, and it does not roll while it cannot. Judged by what is printed.
func TestVehicleIsMovedByStepsSeeds(t *testing.T) {
	moves, carried, blocked, rolledOut := 0, 0, 0, 0
	for _, v := range lawVehicles(t) {
		for seed := range uint64(draws(4, 400)) {
			in := lawJob(v, seed)
			rng := rand.New(rand.NewPCG(seed, 2611))
			in.Shop, in.Body = movingShop(in.Shop, rng), rollingBody(in.Body, rng)
			in.Body = anyBay(in.Body, in.Shop, rng)
			p, notes := Build(in)
			impossible := slices.ContainsFunc(notes, func(n note) bool { return n.Code == "plan.cannot-roll" })
			if impossible {
				blocked++
				if !p.Finish.IsZero() || in.Shop.Moving.Carry != nil {
					t.Errorf("%s seed %d: a vehicle that cannot be moved is done on %v", v.name, seed, p.Finish)
				}
			}
			if len(p.Stands) == 0 {
				if slices.ContainsFunc(p.Steps, func(s Step) bool { return s.BayID != "" }) {
					t.Errorf("%s seed %d: stands nowhere: %v", v.name, seed, notes)
				}
				continue
			}
			for _, bad := range standsRight(printedPlan(t, p), in.Shop, in.Body) {
				t.Errorf("%s seed %d: %s", v.name, seed, bad)
			}
			for _, s := range p.Steps {
				if s.Move == nil || s.From.IsZero() {
					continue
				}
				moves++
				if !s.Move.Rolls {
					carried++
				}
				if s.Move.From == Yard && s.Ref != "move 1" {
					rolledOut++
				}
			}
			if !impossible && !p.Finish.IsZero() && p.Stands[len(p.Stands)-1].Place != Yard {
				t.Errorf("%s seed %d: is left in %v", v.name, seed, p.Stands[len(p.Stands)-1])
			}
		}
	}
	t.Logf("%d moves, %d carried, %d brought in again, %d jobs impossible", moves, carried, rolledOut, blocked)
	if moves < draws(20, 2000) || carried < draws(5, 500) || blocked < draws(0, 50) {
		t.Errorf("too few cases: %d moves, %d carried, %d jobs impossible", moves, carried, blocked)
	}
}

// Law: the same for all vehicles of a week, of which no two stand in one bay.
func TestVehiclesOfAWeekStandApartSeeds(t *testing.T) {
	met, planned := 0, 0
	v := lawVehicles(t)[0]
	for seed := range uint64(draws(2, 60)) {
		rng := rand.New(rand.NewPCG(seed, 2612))
		sh, b := movingShop(v.shop, rng), rollingBody(v.body, rng)
		var jobs []InShop
		for k := range 2 + rng.IntN(2) {
			in := lawJob(v, 7*seed+uint64(k))
			in.Shop, in.Body, in.Job.ID = sh, b, fmt.Sprintf("J%d", k)
			p, _ := Build(in)
			if p.Finish.IsZero() {
				continue
			}
			begun := p.Steps[:rng.IntN(len(p.Steps))/2]
			if k > 0 { // one vehicle may have been begun
				begun = nil
			}
			for _, s := range begun {
				a := job.Actual{Step: s.Ref, On: in.Job.Start, By: sh.People[0].ID}
				for _, p := range sh.People {
					if slices.Contains(p.Skills, s.Skill) {
						a.By = p.ID
					}
				}
				if len(s.For) > 0 {
					a.Finding = s.For[0]
				}
				if s.Move != nil && rng.IntN(2) == 0 { // where it stands is seen from what is done there
					continue
				}
				in.Job.Actuals = append(in.Job.Actuals, a)
			}
			jobs = append(jobs, InShop{Job: in.Job, Route: "r", Plan: p})
		}
		if len(jobs) < 2 {
			continue
		}
		w, notes := WeekOf(sh, jobs, unit.Date{Year: 2026, Month: time.March, Day: 9})
		if len(w.Steps) == 0 {
			t.Logf("seed %d: %v", seed, notes)
			continue
		}
		planned++
		text, err := json.Marshal(w)
		if err != nil {
			t.Fatal(err)
		}
		var all struct {
			printed
			Jobs []struct {
				ID     string
				Stands []struct {
					Place    string
					From, To printedTime
				}
			}
		}
		if err := json.Unmarshal(text, &all); err != nil {
			t.Fatal(err)
		}
		for k, j := range all.Jobs {
			var p printed
			for _, s := range all.Steps {
				if s.Job != j.ID {
					continue
				}
				of := jobs[k].Plan.Steps[slices.IndexFunc(jobs[k].Plan.Steps, func(x Step) bool { return x.ID == s.Step })]
				s.ID, s.BayID, s.Ref, s.Part, s.Minutes, s.WaitMinutes, s.Equipment = s.Step, s.Bay, of.Ref, string(of.Part), of.Minutes, of.WaitMin, of.Equipment
				p.Steps = append(p.Steps, s)
			}
			if p.Stands = j.Stands; len(j.Stands) == 0 {
				continue
			}
			for _, bad := range standsRight(p, sh, b) {
				if len(jobs[k].Job.Actuals) == 0 || !strings.Contains(bad, "rolls while") { // what is recorded as done is not printed
					t.Errorf("seed %d: %s: %s", seed, j.ID, bad)
				}
			}
			for _, o := range all.Jobs[:k] {
				for _, x := range j.Stands {
					for _, y := range o.Stands {
						met++
						if x.Place == y.Place && x.Place != "yard" && (y.To.IsZero() || x.From.Before(y.To.Time)) && (x.To.IsZero() || y.From.Before(x.To.Time)) {
							t.Errorf("seed %d: %s and %s stand in %s", seed, j.ID, o.ID, x.Place)
						}
					}
				}
			}
		}
	}
	if t.Logf("%d weeks, %d stands compared", planned, met); planned < draws(1, 30) {
		t.Errorf("%d weeks were planned", planned)
	}
}

// movedBody has a weld at the bench and a coat in a bay of its own, with the bumper, which the
// vehicle does not roll without, off in between.
func movedBody() *body.Body {
	b := testBody()
	b.Parts[0].Rolls = "no"
	b.Access = []body.Access{{To: "Z1", Needs: [][]body.PartID{{"bumper"}}}}
	b.Tasks = append(b.Tasks, body.Task{ID: "coat", When: "close", Step: body.Step{Name: "Coat", Skill: "alu", Fixed: 20, Bay: "booth"}})
	b.Treatments[0].After = []body.TaskID{"measure", "coat"}
	return b
}

func movedInput() Input {
	in := input(weldF1)
	in.Body = movedBody()
	in.Shop.Bays = []shop.Bay{{ID: "b1", Kind: "bench", Name: "Bench", In: 11, Out: 7}, {ID: "b2", Kind: "booth", Name: "Booth", In: 5, Out: 3}}
	in.Shop.Moving = &shop.Moving{Skill: "mech", Carry: &shop.Carry{More: 9, Equipment: []string{"trolley"}}}
	in.Shop.Equipment = append(in.Shop.Equipment, "trolley")
	return in
}

// By hand: yard to bench 11 min, on its wheels; bench to booth 7 + 5 + 9 min, carried, the
// bumper being off; booth to yard 3 min when the bumper is back on.
func TestMovesByHand(t *testing.T) {
	p, notes := Build(movedInput())
	if n := blocking(notes); n != "" {
		t.Fatal(n)
	}
	var got []string
	for _, s := range p.Steps {
		if s.Move != nil {
			got = append(got, fmt.Sprintf("%s %v %v", s.Name, s.Minutes, s.Move.Rolls))
		}
	}
	want := []string{"Move 1: from the yard to Bench 11 true", "Move 2: from Bench to Booth 21 false", "Move 3: from Booth to the yard 3 true"}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	on, out := step(t, p, "Refit bumper"), step(t, p, want[2][:len("Move 3: from Booth to the yard")])
	if out.From.Before(on.To) || on.At != "b2" {
		t.Errorf("out at %v, the bumper is on at %v in %s", out.From, on.To, on.At)
	}
	if work := p.WorkMin; work != 11+21+3+func() float64 {
		in := movedInput()
		in.Shop.Moving = nil
		q, _ := Build(in)
		return q.WorkMin
	}() {
		t.Errorf("%v min of work", work)
	}
}

// A move that is impossible blocks, says why, and nothing that follows has a date; where the
// vehicle could be moved before or after, it is.
func TestMoveThatIsImpossibleBlocks(t *testing.T) {
	in := movedInput()
	in.Shop.Moving.Carry = nil
	p, notes := Build(in)
	k := slices.IndexFunc(notes, func(n note) bool { return n.Code == "plan.cannot-roll" })
	if k < 0 || !strings.Contains(notes[k].Text, "from Bench to Booth") || !strings.Contains(notes[k].Text, "bumper is off") {
		t.Fatalf("%v", notes)
	}
	if c := step(t, p, "Coat"); !c.From.IsZero() || !p.Finish.IsZero() || p.Proven {
		t.Errorf("coated on %v, done on %v", c.From, p.Finish)
	}
	in.Body.Parts[0].Rolls = ""
	if _, notes := Build(in); blocking(notes) != "" {
		t.Errorf("rolls without it: %s", blocking(notes))
	}
	in = movedInput()
	in.Shop.Moving = nil
	if _, notes := Build(in); !strings.Contains(blocking(notes), "plan.cannot-roll") {
		t.Errorf("a shop that says nothing of moves: %s", blocking(notes))
	}
	in.Body.Parts[0].Rolls = ""
	p, notes = Build(in)
	if !slices.ContainsFunc(notes, func(n note) bool { return n.Code == "plan.moves-unknown" }) || p.Proven {
		t.Errorf("moves that nobody gives minutes for: proven %v, %v", p.Proven, notes)
	}
}

// A body that says of nothing whether the vehicle rolls is taken to roll, and that is told
// where it is moved, and only there (constructed).
func TestMovesOfABodySilentAboutRollingAreTold(t *testing.T) {
	told := func(in Input) bool {
		_, notes := Build(in)
		return slices.ContainsFunc(notes, func(n note) bool { return n.Code == "plan.rolls-unknown" })
	}
	in := movedInput()
	if told(in) {
		t.Error("a body that says it is told about")
	}
	in.Body.Parts[0].Rolls = ""
	if !told(in) {
		t.Error("a body that says nothing is not told about")
	}
	in.Body.Tasks[1].Step.Rolls = "no"
	if told(in) {
		t.Error("a body that says it of a step is told about")
	}
}

// A step that says so keeps the vehicle from rolling until another gives it back.
func TestStepsSayWhatKeepsItFromRolling(t *testing.T) {
	in := movedInput()
	in.Body.Parts[0].Rolls = ""
	in.Body.Tasks[1].Step.Rolls = "no" // set up on the bench
	p, _ := Build(in)
	if m := step(t, p, "Move 2: from Bench to Booth"); m.Move.Rolls || !strings.Contains(m.Because, "Set up on bench") {
		t.Errorf("%+v, %s", m.Move, m.Because)
	}
	in.Body.Tasks[2].Step.Rolls = "yes" // measured, it is let go
	p, _ = Build(in)
	if m := step(t, p, "Move 2: from Bench to Booth"); !m.Move.Rolls || m.From.Before(step(t, p, "Measure").To) {
		t.Errorf("%+v at %v", m.Move, m.From)
	}
}
