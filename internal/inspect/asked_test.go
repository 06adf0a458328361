package inspect

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// edited is one finding changed, added or taken out: a point moved, another uncertainty, a
// tip seen otherwise, the points the other way round.
func edited(r *rand.Rand, all []job.Finding, place func() geom.Vec) []job.Finding {
	all = slices.Clone(all)
	fresh := func() job.Finding {
		return job.Finding{ID: job.FindingID(fmt.Sprintf("N%d", r.IntN(1000))), Kind: "crack", Part: "P", Trace: []geom.Vec{place(), place()},
			Std: unit.MM(0.1 + r.Float64()), Tips: []body.TipMethod{"penetrant", "visual"}, Through: "yes", Look: "PT", By: "T", On: benchDay}
	}
	if len(all) == 0 {
		return append(all, fresh())
	}
	i := r.IntN(len(all))
	f := &all[i]
	f.Trace = slices.Clone(f.Trace)
	switch k := r.IntN(8); {
	case k < 4:
		f.Trace[r.IntN(len(f.Trace))] = place()
	case k == 4:
		f.Std = unit.MM(0.05 + r.Float64())
	case k == 5:
		f.Tips = []body.TipMethod{[]body.TipMethod{"visual", "penetrant"}[r.IntN(2)], "penetrant"}
	case k == 6:
		slices.Reverse(f.Trace)
	case len(all) < 4:
		return append(all, fresh())
	default:
		return slices.Delete(all, i, i+1)
	}
	return all
}

// Changed again and again on one vehicle a job is judged as on a vehicle, and a surface, that
// nobody has asked for anything: whatever is kept of earlier questions changes no answer.
func TestAfterAnyEditAllIsAsFoundAnew(t *testing.T) {
	edits := campaign(20, 5000)
	r := rng(11)
	b := newBench(roof())
	b.body.Procedures[0].Rows = []body.Row{{ID: "R1", When: map[string]string{body.FactSpacing: ">= 30 mm", body.FactBorder: ">= 6 mm", body.FactEdge: ">= 12 mm"}, Cite: "test"}}
	place := func() geom.Vec {
		p := geom.Vec{5 + 70*r.Float64(), 0, 0}
		p[1+r.IntN(2)] = 2 + 50*r.Float64()
		return p
	}
	for range 3 {
		b.job.Findings = edited(r, b.job.Findings, place)
	}
	kept := b.input(t)
	far := 0
	for n := range edits {
		state := b.job
		state.Findings = edited(r, b.job.Findings, place)
		again, anew := kept, b.input(t)
		again.Job, anew.Job = &state, &state
		got, said := Run(again)
		want, says := Run(anew)
		if !reflect.DeepEqual(got, want) || !reflect.DeepEqual(said, says) {
			t.Fatalf("edit %d: %+v\nfound anew:\n%+v", n, got, want)
		}
		for _, f := range got.Findings {
			if f.Spacing != nil && f.Spacing.To != None {
				far++
			}
		}
		b.job = state
	}
	if far < edits {
		t.Errorf("%d distances between findings in %d edits: the edits show little", far, edits)
	}
}
