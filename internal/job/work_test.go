package job

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

func workDay(d int) unit.Date { return unit.Date{Year: 2026, Month: 3, Day: d} }

func workPlan() []WorkStep {
	return []WorkStep{{"T/grind F1", "Grind", []FindingID{"F1"}, "a"}, {"T/grind F2", "Grind", []FindingID{"F2", "F3"}, "a"}, {"T/weld", "Weld", nil, "b"}, {"task RADAR", "Radar", nil, "radar"}}
}

func workShop() *shop.Shop {
	return &shop.Shop{People: []shop.Person{{ID: "A", Skills: []body.SkillID{"a"}}, {ID: "B", Skills: []body.SkillID{"a", "b"}}},
		Rates: []shop.Rate{{Skill: "a"}, {Skill: "b"}}, Sublets: []shop.Sublet{{ID: "R", Skill: "radar"}}}
}

// Constructed, one record each: what counts, and for what does not the field that is
// wrong. The job was opened on 2 March, the vehicle hit on 3 March; today is 9 March.
func TestWhatWorkCounts(t *testing.T) {
	for name, c := range map[string]struct {
		a    Actual
		want string
	}{
		"by its name":                  {Actual{Step: "weld", By: "B", On: workDay(5)}, "step 2"},
		"by its finding":               {Actual{Step: "Grind", Finding: "F3", By: "technician A", On: workDay(5)}, "step 1"},
		"by what it is in every plan":  {Actual{Step: "T/grind F1", By: "A", On: workDay(9)}, "step 0"},
		"sublet work":                  {Actual{Step: "Radar", By: "A", On: workDay(5)}, "step 3"},
		"unplanned, and priced":        {Actual{Step: "Tow", By: "A", On: workDay(5), Unplanned: "It broke down", Skill: "a"}, "beyond"},
		"no such step":                 {Actual{Step: "Wield", By: "B", On: workDay(5)}, "step"},
		"two of its name":              {Actual{Step: "Grind", By: "A", On: workDay(5)}, "step"},
		"not for that finding":         {Actual{Step: "Grind", Finding: "F9", By: "A", On: workDay(5)}, "finding"},
		"for a finding that has none":  {Actual{Step: "Weld", Finding: "F1", By: "B", On: workDay(5)}, "finding"},
		"signed by nobody":             {Actual{Step: "Weld", By: " ", On: workDay(5)}, "by"},
		"signed by nobody of the shop": {Actual{Step: "Weld", By: "C", On: workDay(5)}, "by"},
		"signed by two":                {Actual{Step: "Weld", By: "A B", On: workDay(5)}, "by"},
		"does not work in it":          {Actual{Step: "Weld", By: "A", On: workDay(5)}, "by"},
		"unplanned, does not work":     {Actual{Step: "Tow", By: "A", On: workDay(5), Unplanned: "It broke down", Skill: "b"}, "by"},
		"unplanned, without a rate":    {Actual{Step: "Tow", By: "A", On: workDay(5), Unplanned: "It broke down", Skill: "tow"}, "by,skill"},
		"tomorrow":                     {Actual{Step: "Weld", By: "B", On: workDay(10)}, "on"},
		"before the impact":            {Actual{Step: "Weld", By: "B", On: workDay(2)}, "on"},
		"before the job":               {Actual{Step: "Weld", By: "B", On: workDay(1)}, "on,on"},
		"without a day":                {Actual{Step: "Weld", By: "B"}, "on"},
		"again, and never before":      {Actual{Step: "Weld", By: "B", On: workDay(5), Again: "Pores"}, "again"},
		"all at once":                  {Actual{Step: "Wield", By: "C", On: workDay(10)}, "by,on,step"},
	} {
		s := State{Opened: workDay(2), Impact: Impact{On: workDay(3)}, Actuals: []Actual{c.a}}
		w := s.Work(workPlan(), workShop(), workDay(9))
		got := ""
		for k, d := range w.Steps {
			if len(d) > 0 {
				got += fmt.Sprintf("step %d", k)
			}
		}
		if len(w.Beyond) > 0 {
			got += "beyond"
		}
		for k, f := range w.Faults {
			if k > 0 {
				got += ","
			}
			got += f.Field
			if f.Text == "" {
				t.Errorf("%s: nothing is said of %s", name, f.Field)
			}
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q: %+v", name, got, c.want, w.Faults)
		}
	}
	if w := (&State{Actuals: []Actual{{Step: "Weld", By: "B", On: workDay(5)}}}).Work(workPlan(), nil, workDay(9)); len(w.Faults) == 0 || len(w.Steps[2]) > 0 {
		t.Error("work counts without a shop file")
	}
}

// Constructed: minutes and parts of a step under way are those so far. What has less of
// them than before, and what is on record already, does not count.
func TestWorkOnRecordAlready(t *testing.T) {
	disc := func(n int) []PartUsed { return []PartUsed{{ID: "disc", Count: n}} }
	going := Actual{Step: "Weld", By: "B", On: workDay(5), Going: true, Left: 5, Minutes: 20, Parts: disc(2)}
	done := Actual{Step: "Weld", By: "B", On: workDay(6), Minutes: 25}
	less, fewer, again := done, done, done
	less.Minutes, fewer.Parts = 19, disc(1)
	again.On, again.Again, again.Minutes = workDay(7), "Pores", 3
	for name, c := range map[string]struct {
		records []Actual
		minutes unit.Minutes
		parts   int
		times   int
		fault   string
	}{
		"goes on":               {[]Actual{going, done}, 25, 2, 1, ""},
		"written the other way": {[]Actual{done, going}, 25, 2, 1, ""},
		"less":                  {[]Actual{going, less}, 20, 2, 1, "minutes"},
		"fewer":                 {[]Actual{going, fewer}, 20, 2, 1, "parts[0].count"},
		"twice":                 {[]Actual{done, done}, 25, 0, 1, "step"},
		"again":                 {[]Actual{done, again}, 28, 0, 2, ""},
		"again, twice":          {[]Actual{done, again, again}, 31, 0, 3, ""},
		"begun over":            {[]Actual{going, again}, 23, 2, 2, ""},
	} {
		s := State{Actuals: c.records}
		w := s.Work(workPlan(), workShop(), workDay(9))
		parts, fault := 0, ""
		for _, d := range w.Steps[2] {
			parts += countOf(d.Parts, "disc")
		}
		if len(w.Faults) > 0 {
			fault = w.Faults[0].Field
		}
		if w.Steps[2].Minutes() != c.minutes || parts != c.parts || len(w.Steps[2]) != c.times || fault != c.fault {
			t.Errorf("%s: %v minutes, %d discs, %d times, fault %q: %+v", name, w.Steps[2].Minutes(), parts, len(w.Steps[2]), fault, w)
		}
	}
}

// Law: every record is in one place, either counted or told, and one that does not stand
// changes nothing of what the others say.
func TestNoRecordOfWorkIsLostSeeds(t *testing.T) {
	names := []string{"Grind", "Weld", "weld", "Radar", "Wield", "Tow"}
	people := []string{"A", "B", "C", "", "technician B"}
	for seed := range uint64(400) {
		rng := rand.New(rand.NewPCG(seed, 77))
		var s State
		for range 1 + rng.IntN(9) {
			a := Actual{Step: names[rng.IntN(len(names))], By: people[rng.IntN(len(people))], On: workDay(1 + rng.IntN(12)), Minutes: unit.Minutes(rng.IntN(60))}
			a.Finding = []FindingID{"", "F1", "F2", "F9"}[rng.IntN(4)]
			if a.Going = rng.IntN(3) == 0; a.Going {
				a.Left = 5
			}
			if rng.IntN(3) == 0 {
				a.Again = "Pores"
			}
			if rng.IntN(4) == 0 {
				a.Unplanned, a.Skill = "It broke down", "a"
			}
			s.Actuals = append(s.Actuals, a)
		}
		w := s.Work(workPlan(), workShop(), workDay(9))
		in := make([]int, len(s.Actuals))
		all := slices.Clone(w.Steps)
		for _, b := range w.Beyond {
			all = append(all, b.Doings)
		}
		for _, d := range all {
			for _, x := range d {
				for _, i := range x.Records {
					in[i]++
				}
			}
		}
		fallen := map[int]bool{}
		for _, f := range w.Faults {
			fallen[f.At] = true
		}
		var sound State
		for i, n := range in {
			if want := 1; fallen[i] == (n == want) {
				t.Fatalf("seed %d: record %d is in %d places, told: %v\n%+v", seed, i, n, fallen[i], s.Actuals)
			}
			if !fallen[i] {
				sound.Actuals = append(sound.Actuals, s.Actuals[i])
			}
			if a := s.Actuals[i]; !fallen[i] && (workDay(9).Before(a.On) || a.By == "C" || a.By == "" || a.Step == "Wield" && a.Unplanned == "") {
				t.Fatalf("seed %d: %+v counts", seed, a)
			}
		}
		for k, d := range sound.Work(workPlan(), workShop(), workDay(9)).Steps {
			if again := slices.ContainsFunc(s.Actuals, func(a Actual) bool { return a.Again != "" }); !again && (d.Minutes() != w.Steps[k].Minutes() || d.Done() != w.Steps[k].Done()) {
				t.Fatalf("seed %d, step %d: %v with the unsound ones, %v without", seed, k, w.Steps[k].Minutes(), d.Minutes())
			}
		}
	}
}

// Constructed: under one identity the last record counts; without one each is its own; and
// one can be withdrawn.
func TestWorkIsReplacedAndWithdrawn(t *testing.T) {
	s := goodState(t)
	n := len(s.Actuals)
	record := func(id string, m unit.Minutes) Event {
		return Event{Kind: StepDone, Data: Actual{ID: id, Step: "Weld", Minutes: m}}
	}
	got, err := Fold(append(FromState(s), record("W-1", 10), record("W-2", 20), record("W-1", 30), record("", 1), record("", 2),
		Event{Kind: StepDropped, Data: Withdrawn{ID: "W-2", By: "T1", On: workDay(9), Reason: "Another vehicle"}}))
	if err != nil {
		t.Fatal(err)
	}
	var minutes []unit.Minutes
	for _, a := range got.Actuals[n:] {
		minutes = append(minutes, a.Minutes)
	}
	if fmt.Sprint(minutes) != fmt.Sprint([]unit.Minutes{30, 1, 2}) {
		t.Errorf("%v", minutes)
	}
	if _, err := Fold(append(FromState(s), Event{Kind: StepDropped, Data: Withdrawn{ID: ""}})); err == nil {
		t.Error("records without an identity were withdrawn")
	}
}

// What a bill was agreed with, and every field of a record of work, comes back out of files
// and out of the chain.
func TestAgreedAndWorkComeBack(t *testing.T) {
	s := goodState(t)
	eur := func(m unit.Minor) unit.Money { return unit.Money{Minor: m, Currency: "EUR"} }
	s.Agreed[0].Value, s.Agreed[0].Salvage = s.Vehicle.Value, eur(0)
	s.Agreed[0].Rules = []shop.LossRule{{ID: "share", Name: "Share", Kind: "percentage", Operator: ">=", Percent: 0.685, Applies: true, WithTax: true}}
	s.Agreed[0].Lines[0].Price, s.Agreed[0].Lines[0].Amount = eur(10000), "6 h 0 min"
	s.Agreed[0].Work = []AgreedStep{{"T-WELD/weld F1 and F2", []FindingID{"F1", "F2"}, "weld", 31.125}}
	s.Actuals = append(s.Actuals, Actual{ID: "W-1", Step: "Weld", Finding: "F1", Planned: 1, Minutes: 2, By: "W1", On: s.Actuals[0].On, Again: "Pores"},
		Actual{ID: "W-2", Step: "Tow", Minutes: 2, By: "W1", On: s.Actuals[0].On, Unplanned: "It broke down", Skill: "weld"})
	got, err := Decode(Encode(&s))
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got.Agreed, s.Agreed) || !reflect.DeepEqual(got.Actuals, s.Actuals) {
		t.Errorf("from files\n%+v\n%+v\nwant\n%+v\n%+v", got.Agreed, got.Actuals, s.Agreed, s.Actuals)
	}
	chain, _ := chainOf(t, s)
	events, err := Events(chain)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := Fold(events); err != nil || !reflect.DeepEqual(got.Agreed, s.Agreed) || !reflect.DeepEqual(got.Actuals, s.Actuals) {
		t.Errorf("from the chain: %v\n%+v\n%+v", err, got.Agreed, got.Actuals)
	}
}
