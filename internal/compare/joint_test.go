package compare

import (
	"fmt"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// Against full enumeration: the treatments chosen together with what comes off
// weigh what the cheapest mix costs. No line is rounded and no parts wait for one
// another here, so the bound is met.
func TestTogetherAgainstEnumerationSeeds(t *testing.T) {
	for seed := range uint64(draws(5, 40)) {
		f := newFinder(randomShared(seed, 4))
		c := f.candidate(nil)
		if len(c.slots) == 0 || c.excluded != "" {
			continue
		}
		var want unit.Minor = -1
		for _, r := range everyMix(f, nil) {
			if want < 0 || r.Bill.Net < want {
				want = r.Bill.Net
			}
		}
		h := f.hunt(c)
		bound, picks := h.together(true)
		if got := unit.Minor((h.fixed + bound) / plan.WeightScale); got != want || len(picks) != len(c.slots) {
			t.Errorf("seed %d: together %d, by enumeration %d", seed, got, want)
		}
	}
}

// A search by findings stops after 300 plans at 1066.00 for this job, 1019.96
// being its bound. The treatments chosen together cost 1020.00, proven, after two plans;
// TestOutsideChosenTogether has CBC and GLPK say so too.
func TestTreatmentsChosenTogetherAreCheaper(t *testing.T) {
	f := newFinder(randomShared(24, 12))
	c := f.candidate(nil)
	h := f.hunt(c)
	if !h.proven || h.front[0].Bill.Total != 102000 || h.plans > 2 {
		t.Errorf("%s, proven %t, after %d plans", h.front[0].Bill.Total.Decimal(), h.proven, h.plans)
	}
	for _, n := range h.notes(c) {
		if n.Code == "compare.mix-not-proven" {
			t.Error(n.Text)
		}
	}
}

// manyLines has ten section lines that serve one finding each and two, the last
// in the order of names, that serve three each.
func manyLines() Input {
	in := input(verdicts{}, verdicts{}, verdicts{}, verdicts{}, verdicts{}, verdicts{})
	in.Body.Lines = nil
	for k := range 12 {
		id := body.LineID(fmt.Sprintf("S%02d", k+1))
		in.Body.Lines = append(in.Body.Lines, body.Line{ID: id, Casting: "front", Piece: "horn", Treatment: "section"})
		for i := range in.Decide.Findings {
			if k < 10 && i == k%6 || k == 10 && i < 3 || k == 11 && i >= 3 {
				in.Decide.Findings[i].Options = append(in.Decide.Findings[i].Options, decide.Option{Kind: body.SectionOff, Line: id, Verdict: yes})
			}
		}
	}
	return in
}

// Constructed: two cuts that serve three findings each cost less than six, though
// ten other lines come first by name.
func TestLinesThatServeManyFindingsAreFound(t *testing.T) {
	r, notes := Routes(manyLines())
	if r.Best != "section-S11+S12" {
		t.Errorf("best is %s of %v", r.Best, ids(r))
	}
	if !slices.ContainsFunc(notes, func(n diag.Note) bool { return n.Code == "compare.too-many-actions" }) {
		t.Error("nothing says that lines were left out")
	}
}
