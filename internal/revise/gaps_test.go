package revise

import (
	"math/rand/v2"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide/fixture"
	"fettle/internal/diag"
	"fettle/internal/rule"
)

// gapsOf is the notes on the check procedure after a change.
func gapsOf(change func(*body.Procedure)) []diag.Note {
	b, _, _, _ := fixture.World()
	p := b.Procedures[0]
	change(&p)
	return Gaps(b, p)
}

// Each sort of gap and overlap is found, with an example. Source: constructed;
// the check procedure itself has what its rows say.
func TestGapsAndOverlaps(t *testing.T) {
	weld := []body.TreatmentKind{body.Weld}
	for _, tc := range []struct {
		name, code, want string
		change           func(*body.Procedure)
	}{
		{"no row for a dent", "decide.gap", "bend, dent, torn with", func(*body.Procedure) {}},
		{"hole between two limits", "decide.hole", "between row weld-open and row plate nothing as mild is allowed for decision length from 50 mm and under 55 mm", func(p *body.Procedure) {
			p.Rows[1].When["length"] = ">= 55 mm and <= 60 mm"
		}},
		{"hole on a single value", "decide.hole", "decision length from 50 mm and up to 50 mm", func(p *body.Procedure) {
			p.Rows[1].When["length"] = "> 50 mm"
		}},
		{"overlap", "decide.overlap", "overrules weld-open, plate, for example", func(*body.Procedure) {}},
		{"never permits", "decide.never-permits", "row no-open overrules it wherever it applies", func(p *body.Procedure) {
			p.Rows = append(p.Rows, body.Row{ID: "no-open", When: map[string]string{"zones": "any of OPEN-1, OPEN-2", "length": "< 60 mm"}, Forbid: []body.TreatmentKind{body.Weld, body.WeldBacking}})
		}},
		{"says nothing new", "decide.idle-row", "it says nothing that row weld-open does not say", func(p *body.Procedure) {
			p.Rows = append(p.Rows, body.Row{ID: "again", When: map[string]string{"kind": "crack", "zones": "only OPEN-1", "length": "<= 20 mm"}, Allow: weld})
		}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			notes := gapsOf(tc.change)
			for _, n := range notes {
				if n.Code == tc.code && strings.Contains(n.Text, tc.want) {
					return
				}
			}
			t.Errorf("no note %s with %q: %+v", tc.code, tc.want, notes)
		})
	}
	for _, n := range gapsOf(func(*body.Procedure) {}) {
		if n.Code == "decide.hole" || n.Code == "decide.never-permits" || n.Code == "decide.idle-row" {
			t.Errorf("the check procedure has no %s: %s", n.Code, n.Text)
		}
	}
}

// Every example of a gap does hit no row, on random tables: seed 18.
func TestGapExamplesHitNoRowSeed18(t *testing.T) {
	rng := rand.New(rand.NewPCG(18, 18))
	b, _, _, _ := fixture.World()
	found := 0
	for range 300 {
		p := fixture.RandomTable(rng)
		p.Casting = "FRONT"
		b.Confidence = 0.95
		g := newGaps(b, p)
		l := g.lots[0] // cracks on the casting
		out, complete := g.find(l, l.cell, l.able())
		if !complete {
			t.Fatal("given up")
		}
		if out == nil {
			continue
		}
		found++
		for _, r := range g.rs.Table.Eval(out.Example(l.sp), 0.95) {
			if r.State == rule.Applies {
				t.Fatalf("row %s applies to %v", r.Row, out.Example(l.sp))
			}
		}
	}
	if found < 100 {
		t.Errorf("only %d gaps", found)
	}
}
