package job

import (
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/ledger"
	"fettle/internal/unit"
)

const morning = "2026-03-02T08:00:00Z"

func goodState(t testing.TB) State {
	t.Helper()
	s, err := Decode(goodFiles(t))
	if err != nil {
		t.Fatalf("\n%v", err)
	}
	return *s
}

// stamp is who writes in a test, and when; the salts are counted.
func stamp(at, by string) Stamp {
	n := 0
	return Stamp{At: at, By: by, Salt: func() string { n++; return fmt.Sprintf("%064x", n) }}
}

// stored is a state as a stored job has it: body and shop by their content.
func stored(s State) State {
	s.Body, s.Shop = HashName(strings.Repeat("b", 64)), HashName(strings.Repeat("5", 64))
	return s
}

// chainOf is the chain of a job that is opened as it is.
func chainOf(t testing.TB, s State) (ledger.Chain, *Stored) {
	t.Helper()
	chain, job, err := (&Stored{}).Write(FromState(stored(s)), stamp(morning, "T1"))
	if err != nil {
		t.Fatal(err)
	}
	return chain, job
}

// bare is the state without what only a file has: places and lines.
func bare(s State) State {
	s.at, s.places, s.later = State{}.at, nil, nil
	s.Readings = slices.Clone(s.Readings)
	for i := range s.Readings {
		s.Readings[i].Line = 0
	}
	return s
}

// TestFoldOfFromState is the law Fold(FromState(s)) = s, with and without the
// way through a chain.
func TestFoldOfFromState(t *testing.T) {
	s := goodState(t)
	got, err := Fold(FromState(s))
	if err != nil || !reflect.DeepEqual(bare(got), bare(s)) {
		t.Errorf("%v\ngot  %+v\nwant %+v", err, got, s)
	}
	chain, _ := chainOf(t, s)
	if err := chain.Verify(); err != nil {
		t.Error(err)
	}
	text, err := json.Marshal(chain)
	if err != nil {
		t.Fatal(err)
	}
	var back ledger.Chain
	if err := json.Unmarshal(text, &back); err != nil {
		t.Fatal(err)
	}
	events, err := Events(back)
	if err != nil {
		t.Fatal(err)
	}
	got, err = Fold(events)
	if err != nil || !reflect.DeepEqual(bare(got), bare(stored(s))) {
		t.Errorf("through the chain: %v\ngot  %+v\nwant %+v", err, got, bare(s))
	}
	if p := got.Validate(); len(p) > 0 {
		t.Error(p)
	}
}

// TestEveryFieldOfTheStateIsAnEvent: a field added to State and forgotten in
// FromState would be lost in the chain.
func TestEveryFieldOfTheStateIsAnEvent(t *testing.T) {
	s := bare(goodState(t))
	v := reflect.ValueOf(s)
	for i := range v.NumField() {
		if f := v.Type().Field(i); f.IsExported() && v.Field(i).IsZero() {
			t.Errorf("testdata/good does not use %s, so TestFoldOfFromState does not test it", f.Name)
		}
	}
}

func TestEveryKindHasAType(t *testing.T) {
	for _, k := range Kinds() {
		if eventType(k) == nil {
			t.Errorf("%s has no type", k)
		}
	}
	used := map[EventKind]bool{RecordWithdrawn: true, TextsErased: true, BodyNamed: true, ShopNamed: true, StartSet: true, JobHandedOver: true, // made by people only
		ReadingsRecorded: true, ReadingsDropped: true, FindingDropped: true, StepDropped: true, DeliveryDropped: true, PromiseDropped: true} // read only
	for _, e := range FromState(goodState(t)) {
		used[e.Kind] = true
	}
	for _, k := range Kinds() {
		if !used[k] {
			t.Errorf("%s is never made", k)
		}
	}
}

// TestStartIsSetAnew: the day and the seed of a job's opening are shown, and set by later
// events; everything else stays, and so does what the opening said.
func TestStartIsSetAnew(t *testing.T) {
	s := stored(goodState(t))
	s.Seed = 3
	_, now, err := (&Stored{}).Write(FromState(s), stamp(morning, "T1"))
	if err != nil {
		t.Fatal(err)
	}
	if was, ok := now.Record(OfStart); !ok || was != (Beginning{s.Start, 3}) || now.Newest(OfStart) != 0 {
		t.Errorf("from its opening: %+v %v, event %d", was, ok, now.Newest(OfStart))
	}
	want := bare(*now.State())
	for i, next := range []Beginning{{s.Start.AddDays(28), 5}, {s.Start.AddDays(1), 0}} {
		seen := now.Newest(OfStart)
		if _, now, err = now.Write([]Event{{Kind: StartSet, Data: next, Seen: seen}}, stamp(morning, "T1")); err != nil {
			t.Fatal(err)
		}
		want.Start, want.Seed = next.Start, next.Seed
		if got := bare(*now.State()); !reflect.DeepEqual(got, want) {
			t.Errorf("%d: %+v, want %+v", i, got, want)
		}
		if is, _ := now.Record(OfStart); is != next {
			t.Errorf("%d: shown as %+v", i, is)
		}
		if _, _, err := now.Write([]Event{{Kind: StartSet, Data: next, Seen: seen}}, stamp(morning, "T1")); diag.KindOf(err) != diag.Conflict {
			t.Errorf("%d: set over what was not seen: %v", i, err)
		}
	}
	if _, _, err := now.Write([]Event{dropped(now, OfStart)}, stamp(morning, "T1")); err == nil {
		t.Error("the start was withdrawn")
	}
	if _, ok := (&Stored{}).Record(OfStart); ok {
		t.Error("a job without events has a start")
	}
}

func TestLaterRecordTakesThePlace(t *testing.T) {
	s := goodState(t)
	events := FromState(s)
	longer := s.Findings[0]
	longer.Trace = append(slices.Clone(longer.Trace), longer.Trace[0])
	longer.Through = ""
	hazard := s.Hazards[1]
	hazard.Cleared = true
	events = append(events,
		Event{Kind: FindingRecorded, Data: longer},
		Event{Kind: HazardRecorded, Data: hazard},
		Event{Kind: AreaInspected, Data: AreaSeen{Area: "A-ROOT", State: "not-reachable"}},
		Event{Kind: AnswerRecorded, Data: Answer{ID: "AN-2", Finding: "F2", Allow: []body.TreatmentKind{body.Weld}}},
		Event{Kind: ReadingsDropped, Data: Withdrawn{ID: "S1", Reason: "wrong vehicle"}},
		Event{Kind: FindingDropped, Data: Withdrawn{ID: "F3", Reason: "old"}})
	got, err := Fold(events)
	if err != nil {
		t.Fatal(err)
	}
	switch {
	case len(got.Findings) != 2 || len(got.Findings[0].Trace) != 3:
		t.Errorf("findings %+v", got.Findings)
	case got.Findings[0].Through != "unknown":
		t.Error("what is not given is not unknown")
	case len(got.Hazards) != 2 || !got.Hazards[1].Cleared:
		t.Errorf("hazards %+v", got.Hazards)
	case len(got.Areas) != 1 || got.Areas[0].State != "not-reachable":
		t.Errorf("areas %+v", got.Areas)
	case len(got.Answers) != 2 || len(got.Readings) != 0:
		t.Errorf("answers %+v, readings %+v", got.Answers, got.Readings)
	}
	if again, err := Fold(FromState(s)); err != nil || !reflect.DeepEqual(bare(again), bare(s)) {
		t.Error("folding changed the events")
	}
}

func TestFoldRefuses(t *testing.T) {
	good := FromState(goodState(t))
	for name, c := range map[string]struct {
		events []Event
		want   string
	}{
		"no events":    {nil, "it has no events"},
		"not opened":   {good[1:], "event 1 (vehicle-recorded): a job is opened by its first event"},
		"opened twice": {append(slices.Clip(good), good[0]), "(job-opened): a job is opened by its first event"},
		"unknown kind": {append(slices.Clip(good), Event{Kind: "job-painted", Data: nil}), "(job-painted): this program does not know"},
		"wrong data":   {append(slices.Clip(good), Event{Kind: FindingRecorded, Data: Vehicle{}}), "(finding-recorded): its data are job.Vehicle"},
		"nothing to drop": {append(slices.Clip(good), Event{Kind: FindingDropped, Data: Withdrawn{ID: "F9"}}),
			`(finding-withdrawn): nothing is recorded under "finding/F9"`},
	} {
		t.Run(name, func(t *testing.T) {
			if _, err := Fold(c.events); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
	_, open := chainOf(t, goodState(t))
	if _, _, err := open.Write([]Event{{Kind: FindingRecorded, Data: Vehicle{}}}, stamp(morning, "T1")); err == nil {
		t.Error("a chain took data of another kind")
	}
	if _, _, err := open.Write([]Event{{Kind: ChoiceMade, Data: goodState(t).Choices[0]}}, stamp("now", "T1")); err == nil {
		t.Error("a chain took a time that is none")
	}
}

func TestEventsNamesTheBadEvent(t *testing.T) {
	chain, _ := chainOf(t, goodState(t))
	for name, c := range map[string]struct {
		what, payload, want string
		kind                diag.Kind
	}{
		"unknown kind": {"job-painted", "{}", "event 2 (job-painted): job-painted: this program does not know events of this kind", diag.Unsupported},
		"bad payload":  {"vehicle-recorded", `{"vin":5,"valu":"1 EUR"}`, `unknown field "valu"; did you mean "value"?`, diag.Invalid},
		"not JSON":     {"vehicle-recorded", "{", "event 2 (vehicle-recorded): vehicle-recorded", diag.Invalid},
	} {
		t.Run(name, func(t *testing.T) {
			bad := slices.Clone(chain)
			bad[1] = ledger.Entry{Seq: 2, What: c.what, Payload: c.payload}
			_, err := Events(bad)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Fatalf("got %v, want %q", err, c.want)
			}
			var e *diag.Error
			if errors.As(err, &e); e == nil || e.Kind != c.kind {
				t.Errorf("kind %v, want %v", e, c.kind)
			}
		})
	}
}

func TestWritingGoesOn(t *testing.T) {
	chain, first := chainOf(t, goodState(t))
	day := unit.Date{Year: 2026, Month: 3, Day: 9}
	more, _, err := first.Write([]Event{{Kind: ChoiceMade, Data: Choice{"R-2", "T2", day, "The first one is sold out"}}}, stamp("2026-03-09T10:00:00Z", "T2"))
	if err != nil {
		t.Fatal(err)
	}
	all, err := Read(slices.Concat(chain, more))
	if err != nil || len(more) != 1 {
		t.Fatal(err)
	}
	if s := all.State(); len(s.Choices) != 2 || s.Choices[1].Route != "R-2" || s.Choices[1].By != "T2" {
		t.Errorf("%+v", s.Choices)
	}
}

// TestSetupTemperatureThroughChain: what a set-up says of temperature, and what
// it does not say, comes back out of the chain.
func TestSetupTemperatureThroughChain(t *testing.T) {
	s := goodState(t)
	s.Setups = append(slices.Clone(s.Setups), Setup{ID: "S2", Stage: "after", Device: "D", Std: 0.3, TempStd: 0.5, Temp: unit.Some(unit.Celsius(0)), On: s.Opened, By: "T1",
		Growth: &DeviceGrowth{Expansion: 11.5, Std: 1, Reference: 20, Temp: unit.Some(unit.Celsius(21)), TempStd: 0.5, Low: 10, High: 30}})
	s.Setups[0].Temp = unit.Maybe[unit.Celsius]{}
	chain, _ := chainOf(t, s)
	events, err := Events(chain)
	if err != nil {
		t.Fatal(err)
	}
	got, err := Fold(events)
	if err != nil || !reflect.DeepEqual(got.Setups, s.Setups) {
		t.Errorf("%v\ngot  %+v\nwant %+v", err, got.Setups, s.Setups)
	}
}
