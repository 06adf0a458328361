package plan

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"fettle/internal/job"
	"fettle/internal/unit"
)

// A note names six steps that outlast an answer, and how many others there are where these are
// two or more; a seventh alone is named too.
func TestStepsThatOutlastAnAnswerAreNamedOrCounted(t *testing.T) {
	for n := 1; n < 12; n++ {
		p := Plan{}
		var names []string
		for k := range n {
			id := fmt.Sprintf("ST-%d", k+1)
			s := Step{ID: id, Name: "Weld", Phase: PhaseRepair, For: []job.FindingID{"F1"}}
			when := "no date is known"
			if k%2 == 0 {
				s.From = time.Date(2026, 3, 2+k, 8, 0, 0, 0, time.UTC)
				s.To, when = s.From.Add(time.Hour), unit.Date{Year: 2026, Month: 3, Day: 2 + k}.String()
			}
			p.Steps = append(p.Steps, s)
			if k < 6 || n == 7 {
				names = append(names, fmt.Sprintf("%s \"Weld\" (%s)", id, when))
			}
		}
		if n > 7 {
			names = append(names, fmt.Sprintf("and %d more", n-6))
		}
		r := Rests{Answer: job.Answer{ID: "AN-1", Expires: unit.Date{Year: 2026, Month: 3, Day: 2}}, For: []job.FindingID{"F1"}, What: "weld of F1"}
		notes := OutlastedNotes(p, &job.State{ID: "J"}, weekShop(), []Rests{r}, unit.Date{Year: 2026, Month: 3, Day: 1})
		if want := "planned for later: " + strings.Join(names, ", "); len(notes) != 1 || !strings.HasSuffix(notes[0].Text, want) {
			t.Errorf("of %d steps: %v, want %q", n, notes, want)
		}
	}
}

// Five records that do not count are named, and how many others there are where these are two
// or more; a sixth alone is named too.
func TestRecordsThatDoNotCountAreNamedOrCounted(t *testing.T) {
	for n := range 9 {
		w := &week{}
		in := &InShop{Job: &job.State{ID: "J"}}
		var faults []job.WorkFault
		for k := range n {
			in.Job.Actuals = append(in.Job.Actuals, job.Actual{Step: fmt.Sprint("step ", k), On: monday(0)})
			faults = append(faults, job.WorkFault{At: k, Text: fmt.Sprint("fault ", k)})
		}
		w.unsound(in, faults)
		named := n
		if n > 6 {
			named = 5
			if last := w.notes[len(w.notes)-1]; last.Text != fmt.Sprintf("J: %d more faults of records of work", n-5) {
				t.Errorf("%d faults: %q", n, last.Text)
			}
			w.notes = w.notes[:len(w.notes)-1]
		}
		if len(w.notes) != named {
			t.Fatalf("%d faults, %d named", n, len(w.notes))
		}
		for k, x := range w.notes {
			if want := fmt.Sprintf("the record of \"step %d\" of 2026-03-02 does not count, and the schedule does not rest on it: fault %d", k, k); !strings.HasSuffix(x.Text, want) && !strings.Contains(x.Text, fmt.Sprintf("fault %d", k)) {
				t.Errorf("%q, want %q", x.Text, want)
			}
		}
	}
}

// What a step of a week has nothing of is told once: with the last day on which any of it that
// came may be used, whatever the order in which it came, and the day on which it is wanted.
func TestWhatIsSpentIsToldWithItsLastDay(t *testing.T) {
	day := func(n int) unit.Date { return unit.Date{Year: 2026, Month: 3, Day: n} }
	arrivals := []job.Arrival{{Item: "glue", UseBefore: day(8)}, {Item: "glue", UseBefore: day(12)}, {Item: "glue"}, {Item: "glue", UseBefore: day(10)}, {Item: "wire", UseBefore: day(20)}}
	for range arrivals {
		arrivals = append(arrivals[1:], arrivals[0])
		in := &InShop{Job: &job.State{ID: "J", Deliveries: arrivals}}
		u := used{}
		u[u.key(2, "ST-4", "glue")] = day(15)
		w := &week{late: map[string]bool{}, ways: ways{used: u}}
		for range 2 {
			w.tellSpent(2, in, Step{ID: "ST-4", Name: "Bond"}, "glue")
		}
		want := `J: what came of glue may be used until 2026-03-12, "Bond" comes later, on 2026-03-15 at the earliest, and nobody has promised other glue for a day: it and what follows it have no date`
		if len(w.notes) != 1 || w.notes[0].Text != want {
			t.Errorf("%v, want %q", w.notes, want)
		}
		w.tellSpent(2, in, Step{ID: "ST-5", Name: "Seal"}, "glue")
		if len(w.notes) != 2 {
			t.Errorf("another step: %d notes", len(w.notes))
		}
	}
}
