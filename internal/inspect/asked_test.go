package inspect

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"sync"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// edited is one finding changed, added or taken out: a point moved, another uncertainty, a
// tip seen otherwise, the points the other way round.
func edited(r *rand.Rand, all []job.Finding, place func() geom.Vec) []job.Finding {
	all = slices.Clone(all)
	fresh := func() job.Finding {
		return job.Finding{ID: job.FindingID(fmt.Sprintf("N%d", r.IntN(1000))), Kind: "crack", Part: "P", Trace: []geom.Vec{place(), place()},
			Std: unit.MM(0.1 + r.Float64()), Tips: []string{"penetrant", "visual"}, Through: "yes", Look: "PT", By: "T", On: benchDay}
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
		f.Tips = []string{[]string{"visual", "penetrant"}[r.IntN(2)], "penetrant"}
	case k == 6:
		slices.Reverse(f.Trace)
	case len(all) < 4:
		return append(all, fresh())
	default:
		return slices.Delete(all, i, i+1)
	}
	return all
}

// Changed again and again on one ground a job is judged as on a ground, and a surface, that
// nobody has asked for anything: whatever is kept of earlier questions changes no answer.
func TestAfterAnyEditAllIsAsFoundAnew(t *testing.T) {
	edits := campaign(20, 5000)
	r := rng(11)
	b := newBench(roof())
	b.body.Procedures[0].Rows = []body.Row{{ID: "R1", When: map[string]string{factSpacing: ">= 30 mm", factBorder: ">= 6 mm", factEdge: ">= 12 mm"}, Cite: "test"}}
	place := func() geom.Vec {
		p := geom.Vec{5 + 70*r.Float64(), 0, 0}
		p[1+r.IntN(2)] = 2 + 50*r.Float64()
		return p
	}
	for range 3 {
		b.job.Findings = edited(r, b.job.Findings, place)
	}
	kept := b.input(t)
	kept.Ground = NewGround(kept.Body, kept.Surfaces)
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

// What is kept is bounded, is forgotten oldest first, and may be changed by who asked.
func TestAskedIsBounded(t *testing.T) {
	var a asked
	far := mesh.Path{Points: make([]geom.Vec, 10_000), Faces: make([]int, 9_999)}
	times := 0
	ways := func(k int) mesh.Path {
		p, err := a.way(ask('w', float64(k)), func() (mesh.Path, error) {
			times++
			p := far
			p.LengthMM = float64(k)
			return p, nil
		})
		if err != nil || p.LengthMM != float64(k) {
			t.Fatalf("way %d has %g mm and error %v", k, p.LengthMM, err)
		}
		return p
	}
	for k := range 500 {
		ways(0).Points[0] = geom.Vec{1, 2, 3} // asked for all the time: never forgotten
		ways(k)
	}
	if p := ways(0); p.Points[0] != (geom.Vec{}) {
		t.Errorf("what one was given and changed is what the next is given: %v", p.Points[0])
	}
	if times != 500 {
		t.Errorf("%d ways were sought, want each of 500 once", times)
	}
	if n := len(a.young) + len(a.old); n > 2*(mostAskedBytes/300_000+2) || n < 20 {
		t.Errorf("%d ways of some 0.3 MB are kept", n)
	}
	ways(1)
	if times != 501 {
		t.Errorf("way 1, asked for long ago, is still kept")
	}
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			for k := range 50 {
				p, err := a.way(ask('x', float64(k)), func() (mesh.Path, error) { return mesh.Path{LengthMM: float64(k)}, nil })
				if err != nil || p.LengthMM != float64(k) {
					t.Errorf("way %d has %g mm and error %v", k, p.LengthMM, err)
				}
			}
		})
	}
	all.Wait()
}

// Questions that differ in any bit differ.
func TestQuestionsDiffer(t *testing.T) {
	a, b := mesh.Site{Face: 1, Bary: [3]float64{1, 0, 0}, At: geom.Vec{1, 2, 3}}, mesh.Site{Face: 1, Bary: [3]float64{1, 0, 0}, At: geom.Vec{1, 2, 4}}
	seen := map[string]bool{}
	for _, q := range []*question{
		ask('w').of(a, b), ask('s').of(a, b), ask('w').of(b, a), ask('c', 1).of(a).of(b), ask('c', 2).of(a).of(b), ask('c', 1).of(b).of(a),
		ask('c', 1).of(a, b).of(), ask('c', 1).of().of(a, b), ask('d', 1).of(a).of(b), ask('c', 1).of(a).of(b, b),
	} {
		if seen[string(q.bits)] {
			t.Errorf("%x was asked before", q.bits)
		}
		seen[string(q.bits)] = true
	}
}
