package job

import (
	"fmt"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/unit"
)

// The order of a list says something where a later record takes the place of an earlier one, goes
// on from it, or is drawn or numbered after it; everywhere else records may change places, and the
// hash of the state stays as it is.
func TestInWhichListsTheOrderSaysSomething(t *testing.T) {
	want := []string{"access", "actuals", "agreed", "choices", "deliveries", "earlier_repairs", "erasure_agreements", "fault_readings", "figures", "hand_backs", "procedure_checks", "promises", "reviews", "risks", "sendings", "workplace"}
	var got []string
	for _, k := range sorts {
		if k.ordered {
			got = append(got, k.list)
		}
	}
	if slices.Sort(got); !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	for name, k := range map[string]struct {
		swap func(*State)
		same bool
	}{
		"findings":       {func(s *State) { s.Findings[0], s.Findings[2] = s.Findings[2], s.Findings[0] }, true},
		"hazards":        {func(s *State) { s.Hazards[0], s.Hazards[1] = s.Hazards[1], s.Hazards[0] }, true},
		"records":        {func(s *State) { s.Records[0], s.Records[1] = s.Records[1], s.Records[0] }, true},
		"figures":        {func(s *State) { s.Figures[0], s.Figures[1] = s.Figures[1], s.Figures[0] }, false},
		"fault readings": {func(s *State) { s.Faulty[0], s.Faulty[1] = s.Faulty[1], s.Faulty[0] }, false},
		"deliveries":     {func(s *State) { s.Deliveries[0], s.Deliveries[1] = s.Deliveries[1], s.Deliveries[0] }, false},
	} {
		s := goodJob(t)
		s.Deliveries = append(s.Deliveries, Arrival{ID: "D-2", Item: "P-SKIN", Count: 2, On: s.Opened, By: "W1"})
		before, err := s.Hash()
		if err != nil {
			t.Fatal(err)
		}
		k.swap(s)
		if after, err := s.Hash(); err != nil || (after == before) != k.same {
			t.Errorf("%s change places: the hash stays %v, want %v", name, !k.same, k.same)
		}
	}
}

// A fault of a stored job is told at the event of its record, by the record's name and field; one
// of what is in no record at the first. A fault of a folder is told in its files.
func TestWhereFaultsAreTold(t *testing.T) {
	s := &State{places: map[string][]place{"findings": {{seq: 4, of: "finding/F1"}, {seq: 9, of: "finding/F2"}}, "vehicle": {{seq: 2, of: "vehicle"}}}}
	for path, want := range map[string]string{
		"findings[1].trace_mm[0]": "events.jsonl:9: finding/F2.trace_mm[0]: odd", "findings[0]": "events.jsonl:4: finding/F1: odd", "vehicle.vin": "events.jsonl:2: vehicle.vin: odd",
		"findings[2].kind": "events.jsonl:1: findings[2].kind: odd", "findings[x].kind": "events.jsonl:1: findings[x].kind: odd", "id": "events.jsonl:1: id: odd",
	} {
		if got := s.Problem(path, "odd", "").String(); got != want {
			t.Errorf("%s: %q, want %q", path, got, want)
		}
	}
	s.places["start"] = []place{{seq: 7, of: "start"}}
	for path, want := range map[string]string{"start": "events.jsonl:7: start.start: odd", "search_seed": "events.jsonl:7: start.search_seed: odd"} {
		if got := s.Problem(path, "odd", "").String(); got != want {
			t.Errorf("%s: %q, want %q", path, got, want)
		}
		if got := s.Place(path); got != "record 'start'" {
			t.Errorf("%s is entered in %s", path, got)
		}
	}
	good := goodJob(t)
	for path, want := range map[string]string{
		"vehicle.vin": "job.yaml:11:8: vehicle.vin: odd", "readings[0].x_mm": "readings.csv:2: column x_mm: odd", "readings[2]": "readings.csv:4: odd", "readings[99].x_mm": "readings.csv: column x_mm: odd",
		fmt.Sprintf("readings[%d].x_mm", len(good.Readings)): "readings.csv: column x_mm: odd", "readings[x].x_mm": "readings.csv: column x_mm: odd",
	} {
		if got := good.Problem(path, "odd", "").String(); got != want {
			t.Errorf("%s: %q, want %q", path, got, want)
		}
	}
}

// Work beyond the plan is one piece of work when step, finding and skill are the same, whatever
// the case of the letters; any of the three makes another.
func TestWorkBeyondThePlanIsKeptApart(t *testing.T) {
	w := &working{s: &State{}}
	for _, k := range []struct {
		step    string
		finding FindingID
		skill   body.SkillID
		want    int
	}{{"Fill", "F1", "body", 0}, {"fill", "F1", "body", 0}, {"Fill", "F2", "body", 1}, {"Fill", "F1", "paint", 2}, {"Sand", "F1", "body", 3}, {"Fill", "", "body", 4}, {"FILL", "F2", "body", 1}, {"Sand", "F1", "body", 3}} {
		if got := w.beyond(Actual{Step: k.step, Finding: k.finding, Skill: k.skill, Unplanned: "it broke"}); got != k.want {
			t.Errorf("%+v is piece %d, want %d", k, got, k.want)
		}
	}
	if b := w.out.Beyond; len(b) != 5 || b[2].Step != "Fill" || b[2].Finding != "F1" || b[2].Skill != "paint" || b[2].Why != "it broke" {
		t.Errorf("%+v", b)
	}
}

// What came may be used up to its last day; without one, or on no day in particular, it may.
func TestDeliveriesKeep(t *testing.T) {
	on := unit.Date{Year: 2026, Month: 3, Day: 9}
	for _, k := range []struct {
		last, on unit.Date
		want     bool
	}{{on, on, true}, {on, on.AddDays(-1), true}, {on, on.AddDays(1), false}, {unit.Date{}, on, true}, {on.AddDays(-9), unit.Date{}, true}} {
		if got := (Arrival{UseBefore: k.last}).Keeps(k.on); got != k.want {
			t.Errorf("until %s, on %s: %v", k.last, k.on, got)
		}
	}
	s := &State{Deliveries: []Arrival{{Item: "A"}}, Promises: []Promised{{Item: "B"}}}
	for item, want := range map[string]bool{"A": true, "B": true, "C": false} {
		if s.Tracks(item) != want {
			t.Errorf("%s is on record: %v", item, !want)
		}
	}
}

// A time of day has two digits of hours, up to 23, and two of minutes, up to 59.
func TestTimesOfDay(t *testing.T) {
	for text, want := range map[string]int{"00:00": 0, "08:05": 485, "23:59": 1439, "24:00": -1, "12:60": -1, "-1:00": -1, "1:000": -1, "8:05": -1, "08.05": -1, "08:5": -1, "": -1, "0a:00": -1, "00:-1": -1, "00:0b": -1} {
		if m, ok := Clock(text); ok != (want >= 0) || ok && int(m) != want {
			t.Errorf("%q: %v %v, want %d", text, m, ok, want)
		}
		r := Record{Mixed: "00:00", Closed: text}
		if m, ok := r.OpenMinutes(); ok != (want >= 0) || ok && int(m) != want {
			t.Errorf("open until %q: %v %v", text, m, ok)
		}
		if m, ok := r.ClosedAt(); ok != (want >= 0) || ok && int(m) != want {
			t.Errorf("closed at %q: %v %v", text, m, ok)
		}
	}
	if _, ok := (Record{Mixed: "09:00", Closed: "08:59"}).OpenMinutes(); ok {
		t.Error("closed before it was mixed")
	}
}
