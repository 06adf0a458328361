package release

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// The bond of the plate cures as long as the body says for the coldest that is on record: the
// shop's usual temperature, that of its record where it has one, and what was read at its step
// while it cured, less twice the uncertainty. It cures as well where nothing asks for a record
// of it: then from the end of its step. GLUE takes three days from 15 C, two from 20 C, one
// from 30 C; below nobody knows. Drawn: every temperature, and what there is of records.
func TestABondCuresByTheColdestOnRecordSeeds(t *testing.T) {
	days := map[string]int{}
	for seed := range uint64(draws(120, 4000)) {
		rng := rand.New(rand.NewPCG(seed, 353))
		warm := func() unit.Celsius { return unit.Celsius(13 + 20*rng.Float64()) }
		w, in := repaired()
		j := w.in.Job
		w.in.Today = day(2030, 3, 3)
		w.in.Shop.Temp = warm()
		coldest := w.in.Shop.Temp
		x := &j.Records[6]
		switch rng.IntN(3) {
		case 0:
			x.Temp = unit.Some(warm())
			coldest = min(coldest, x.Temp.Value)
		case 1:
			x.Temp = unit.Maybe[unit.Celsius]{}
		case 2:
			j.Records = j.Records[:6]
			if rng.IntN(2) == 0 { // and nothing asks for one
				p := &w.in.Body.Procedures[0]
				p.Acceptance = slices.DeleteFunc(p.Acceptance, func(a body.Acceptance) bool { return a.Show == body.ShowAdhesive })
			}
		}
		for range rng.IntN(3) {
			f := job.Figure{Step: "Plate", Finding: []job.FindingID{"", "F2"}[rng.IntN(2)], Reading: "cure-GLUE", Value: unit.Amount{Value: 13 + 20*rng.Float64(), Unit: "C"}, Std: unit.Amount{Value: rng.Float64(), Unit: "K"}, By: "W1", On: day(2030, 3, 2)}
			switch rng.IntN(4) {
			case 0:
				f.Finding = "F1"
			case 1:
				f.Reading = "cure-PASTE"
			case 2:
				f.Step = "Grind"
			default:
				coldest = min(coldest, unit.Celsius(f.Value.Value-2*f.Std.Value))
			}
			j.Figures = append(j.Figures, f)
		}
		want := "F2: whether the adhesive of weld with backing plate has cured is not known: the body does not say how long"
		for _, row := range []struct {
			from unit.Celsius
			days int
		}{{15, 3}, {20, 2}, {30, 1}} {
			if coldest >= row.from { // made during the second of March, so it is for the morning after
				want = fmt.Sprintf("F2: the adhesive of weld with backing plate has not cured: it has its full strength on 2030-03-%02d", 3+row.days)
			}
		}
		days[want]++
		if got := missingTexts(w, in); !strings.Contains(got, want) {
			t.Fatalf("seed %d: coldest %s, shop %s, figures %+v:\n%s\nwant %q", seed, coldest, w.in.Shop.Temp, j.Figures, got, want)
		}
	}
	if len(days) != 4 {
		t.Errorf("%v", days)
	}
}

// The condition of the answer that allows a treatment has to be seen as met, in its own words,
// by a record that says so; that of another answer has not, nor has one without a condition.
func TestOnlyTheConditionsOfTheAnswerThatAllows(t *testing.T) {
	for _, conditions := range []string{"", "two layers"} {
		for _, seen := range []string{"", "two layers", "three layers"} {
			for _, met := range []bool{true, false} {
				for _, other := range []string{"", "by night"} {
					w, in := repaired()
					answer := func(id string, f job.FindingID, k body.TreatmentKind, conditions string) job.Answer {
						return job.Answer{ID: id, Finding: f, VIN: w.in.Job.Vehicle.VIN, Allow: []body.TreatmentKind{k}, On: day(2030, 3, 1), Expires: day(2030, 6, 1), Document: "E1", Conditions: conditions}
					}
					// The other answer is about a treatment that nobody chose.
					w.answers(answer("A1", "F1", body.Weld, conditions), answer("A2", "F1", body.Dress, other))
					w.in.Job.Accepted[0].Reason = "A1"
					if seen != "" {
						w.in.Job.Records = append(w.in.Job.Records, job.Record{ID: "r9", By: "I1", Show: body.ShowVisual, Finding: "F1", What: seen, Met: met, On: day(2030, 3, 2)})
					}
					got := missingTexts(w, in)
					open := conditions != "" && (seen != conditions || !met)
					if strings.Contains(got, "that the condition of answer A1 is met is not on record") != open || strings.Contains(got, "answer A2") {
						t.Errorf("condition %q, seen %q, met %v, of the other %q: %s", conditions, seen, met, other, got)
					}
				}
			}
		}
	}
}
