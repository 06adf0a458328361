package decide

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
)

// slim is what Run found, without the reasons.
func slim(r Result) []FindingVerdict {
	out := []FindingVerdict{}
	for _, f := range r.Findings {
		v := FindingVerdict{ID: f.ID, Verdict: f.Verdict, Options: []OptionVerdict{}}
		for _, o := range f.Options {
			v.Options = append(v.Options, OptionVerdict{o.Kind, o.Line, o.Verdict})
		}
		out = append(out, v)
	}
	return out
}

// The verdicts without reasons are those of Run, on random tables and jobs with
// groups, answers and missing facts: seed 17.
func TestVerdictsAreThoseOfRunSeed17(t *testing.T) {
	rng := rand.New(rand.NewPCG(17, 17))
	seen := map[Verdict]int{}
	for range draws(60, 150) {
		w := newWorld()
		p := randomTable(rng)
		p.Casting, p.Effective, p.Recheck = "FRONT", day(2030, 1, 1), day(2031, 1, 1)
		w.in.Body.Procedures = []body.Procedure{p}
		for i := range 6 {
			g := w.crack(job.FindingID(fmt.Sprint("F", i)), rng.Float64()*60, rng.Float64()*2, body.ZoneID(zonesOfCheck[rng.IntN(5)]), body.ZoneID(zonesOfCheck[rng.IntN(5)]))
			g.Sides[0].Outboard, g.Sides[1].Outboard = rng.IntN(2) == 0, rng.IntN(2) == 0
			if rng.IntN(3) == 0 {
				g.Bore = nil
			}
			if rng.IntN(3) == 0 {
				g.Group = "G1"
			}
		}
		a := answer()
		a.Allow, a.Forbid = []body.TreatmentKind{body.SectionOff}, []body.TreatmentKind{body.Weld}
		w.answers(a)
		full, _ := Run(w.in)
		want, got := slim(full), NewReady(w.in.Body).Verdicts(w.in)
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("got\n%+v\nRun says\n%+v\nof %+v", got, want, p.Rows)
		}
		for _, f := range got {
			for _, o := range f.Options {
				seen[o.Verdict]++
			}
		}
	}
	if len(seen) != 4 {
		t.Errorf("only these verdicts were tried: %v", seen)
	}
}

// BenchmarkVerdicts200Findings500Rows: the procedure is compiled each time.
func BenchmarkVerdicts200Findings500Rows(b *testing.B) {
	w := big(200, 500)
	for b.Loop() {
		NewReady(w.in.Body).Verdicts(w.in)
	}
}

// BenchmarkVerdictsReady200Findings500Rows: the procedure is ready.
func BenchmarkVerdictsReady200Findings500Rows(b *testing.B) {
	w := big(200, 500)
	r := NewReady(w.in.Body)
	for b.Loop() {
		r.Verdicts(w.in)
	}
}
