package release

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
)

// A look that found something bad speaks against the weld however it is named: by the words of a
// quality, or by none. Only one of the same name that was made afterwards takes it back; what
// was looked for beside the qualities is none of them. With one quality and with two, by every
// name, before and after the good ones.
func TestABadLookIsNotHiddenByItsName(t *testing.T) {
	for _, qualities := range [][]string{{"no undercut"}, {"no undercut", "no pores"}} {
		for _, what := range []string{"", "no undercut", "no pores", "the plate"} {
			for _, met := range []bool{true, false} {
				for _, first := range []bool{true, false} {
					w, in := repaired()
					p := &w.in.Body.Procedures[0]
					p.Acceptance = slices.DeleteFunc(p.Acceptance, func(a body.Acceptance) bool { return a.Show == body.ShowVisual })
					var looks []job.Record
					good := []string{""}
					if len(qualities) > 1 {
						good = qualities
					}
					for _, q := range qualities {
						p.Acceptance = append(p.Acceptance, body.Acceptance{ID: q, Cite: "CP 9", For: []body.TreatmentKind{body.Weld}, Show: body.ShowVisual, Quality: q})
					}
					look := func(what string, met bool) {
						looks = append(looks, job.Record{ID: "look" + string(rune('0'+len(looks))), Show: body.ShowVisual, Finding: "F1", What: what, By: "I1", On: day(2030, 3, 2), Met: met})
					}
					if first {
						look(what, met)
					}
					for _, q := range good {
						look(q, true)
					}
					if !first {
						look(what, met)
					}
					w.in.Job.Records = append(slices.DeleteFunc(w.in.Job.Records, func(x job.Record) bool { return x.Show == body.ShowVisual }), looks...)
					bad := !met && (what == "" || slices.Contains(qualities, what)) && !(first && slices.Contains(good, what))
					if got := missingTexts(w, in); strings.Contains(got, "F1: the visual quality is not met") != bad || strings.Contains(got, "F1: visual inspection") {
						t.Errorf("%d qualities, a look named %q, met %v, first %v: bad %v\n%s", len(qualities), what, met, first, bad, got)
					}
				}
			}
		}
	}
}

// A look that found one quality wanting shows no other one: that is still to be looked for. By every
// subset of two qualities that were looked at, each met or not.
func TestALookShowsOnlyItsOwnQuality(t *testing.T) {
	qualities := []string{"no undercut", "no pores"}
	for k := range 9 { // of each: not looked at, met, not met
		w, in := repaired()
		p := &w.in.Body.Procedures[0]
		p.Acceptance = slices.DeleteFunc(p.Acceptance, func(a body.Acceptance) bool { return a.Show == body.ShowVisual })
		w.in.Job.Records = slices.DeleteFunc(w.in.Job.Records, func(x job.Record) bool { return x.Show == body.ShowVisual })
		how := []int{k % 3, k / 3}
		for i, q := range qualities {
			p.Acceptance = append(p.Acceptance, body.Acceptance{ID: q, Cite: "CP 9", For: []body.TreatmentKind{body.Weld}, Show: body.ShowVisual, Quality: q})
			if how[i] > 0 {
				w.in.Job.Records = append(w.in.Job.Records, job.Record{ID: "look " + q, Show: body.ShowVisual, Finding: "F1", What: q, By: "I1", On: day(2030, 3, 2), Met: how[i] == 1})
			}
		}
		got := missingTexts(w, in)
		for i, q := range qualities {
			if wanted := strings.Contains(got, "is not on record ("+q+")"); wanted != (how[i] == 0) {
				t.Errorf("%s, looked at %v: asked for %v\n%s", q, how, wanted, got)
			}
			if bad := strings.Contains(got, "(record look "+q+")"); bad != (how[i] == 2) {
				t.Errorf("%s, looked at %v: bad %v\n%s", q, how, bad, got)
			}
		}
	}
}

// A finding lies, or may lie, in the zones that something is asked for: one without zones is
// asked for everywhere, one of which no zone or nothing is known may lie in each. Every set of
// two zones asked for and known.
func TestWhereAFindingMayLie(t *testing.T) {
	sets := [][]body.ZoneID{nil, {"OPEN-1"}, {"OPEN-2"}, {"OPEN-1", "OPEN-2"}}
	for a, asked := range sets {
		for k, known := range sets {
			w := newWorld()
			w.crack("F1", 9, 1, known...)
			w.crack("F2", 9, 1, "OPEN-1", "OPEN-2")
			r := &gate{in: Input{Input: w.in}}
			if got, want := r.touches("F1", asked), a == 0 || k == 0 || a&k != 0; got != want {
				t.Errorf("asked for in %v, lies in %v: %v, want %v", asked, known, got, want)
			}
			if !r.touches("F9", asked) {
				t.Errorf("a finding nobody knows does not lie in %v", asked)
			}
		}
	}
}
