package explain

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// explainRemoval is why a part comes off, down to what has to be reached, what
// had to be off before it, and how it goes back on.
func explainRemoval(route compare.Route, p plan.Removal) Reason {
	t := because(p.Name + " comes off. " + p.Because)
	if len(p.Parts) > 0 {
		t.Under = append(t.Under, because("As one piece, nothing between them is opened: "+Joined(p.Parts)))
	}
	for _, r := range route.Plan.Reached {
		if slices.Contains(r.Needs, p.Part) {
			t.Under = append(t.Under, because(fmt.Sprintf("Has to be off to reach %s for %s", r.Name, r.For)))
		}
	}
	for _, q := range route.Plan.Removal {
		if slices.Contains(q.Needs, p.Part) {
			t.Under = append(t.Under, because("Has to be off before "+q.Name+", which leads to: "+strings.Join(leadsTo(route.Plan, q.Part, nil), ", ")))
		}
	}
	if len(p.Needs) > 0 {
		t.Under = append(t.Under, because("After "+Joined(p.Needs)))
	}
	if len(p.Joints) > 0 {
		t.Under = append(t.Under, because("Joints opened: "+Joined(p.Joints)))
	}
	if p.Change != "" {
		t.Under = append(t.Under, because("Before it, when one person keeps this order: "+p.Change))
	}
	for _, r := range route.Plan.Refit {
		if r.Part == p.Part {
			t.Under = append(t.Under, because("Back on: "+r.Because))
		}
	}
	for _, o := range route.Plan.Nearly {
		if slices.Contains(o.Stay, p.Part) {
			t.Under = append(t.Under, because("Could stay on, nearly as cheap: "+o.Text))
		}
	}
	return t
}

// leadsTo is everything that is reached, or comes off for its own sake, through
// a part.
func leadsTo(p plan.Plan, id body.PartID, seen []body.PartID) []string {
	var out []string
	add := func(names ...string) {
		for _, n := range names {
			if !slices.Contains(out, n) {
				out = append(out, n)
			}
		}
	}
	for _, r := range p.Reached {
		if slices.Contains(r.Needs, id) {
			add(r.Name)
		}
	}
	seen = append(seen, id)
	for _, q := range p.Removal {
		if slices.Contains(q.Needs, id) && !slices.Contains(seen, q.Part) {
			add(leadsTo(p, q.Part, seen)...)
		}
	}
	if len(out) == 0 {
		for _, q := range p.Removal {
			if q.Part == id {
				add(q.Because)
			}
		}
	}
	return out
}

// stepDetails is what was checked at a step and what is written down.
func stepDetails(s plan.Step) []Reason {
	out := each(s.Notes)
	for _, r := range s.Awaits {
		text := fmt.Sprintf("Waits for %s: %.1f days from the start", r.Name, r.Minutes/1440)
		if !r.Arrived.IsZero() {
			text += fmt.Sprintf(", on record as there on %s (%s)", r.Arrived, r.Record)
		}
		if !r.Promised.IsZero() {
			text += fmt.Sprintf(", promised for %s (%s)", r.Promised, r.Record)
		}
		if r.Spent > 0 {
			text += fmt.Sprintf(", %d that came may not be used any more", r.Spent)
		}
		if r.High > 0 {
			text += fmt.Sprintf(", %.1f to %.1f", r.Low/1440, r.High/1440)
		}
		out = append(out, because(text))
	}
	if l := s.Laid; l != nil {
		out = append(out, because(fmt.Sprintf("Rivets: %d in %s, %.1f mm apart; a check and a takeoff, the manufacturer's drawing rules", l.Count, unit.Count(l.Rows, "row"), l.PitchMM), each(l.Checks)...))
	}
	if s.Hold != "" {
		out = append(out, because("Hold point: "+s.Hold))
	}
	for _, r := range s.Readings {
		text := "Written down: " + r.Name
		if limits := r.Limits(); limits != "" {
			text += ", " + limits
		}
		out = append(out, Reason{Text: text, Source: r.Cite})
	}
	return out
}

// layoutsOf is how the rivets of a kind are laid out, step by step.
func layoutsOf(route compare.Route, id body.MaterialID) []Reason {
	var out []Reason
	for _, s := range route.Plan.Steps {
		if l := s.Laid; l != nil && l.Rivet == id {
			text := fmt.Sprintf("%s: %d in %s", s.ID, l.Count, unit.Count(l.Rows, "row"))
			if l.DrillMM > 0 {
				text += fmt.Sprintf(", drill %.1f mm", l.DrillMM)
			}
			if l.RivetMM > 0 {
				text += fmt.Sprintf(", rivet %.1f mm long", l.RivetMM)
			}
			out = append(out, because(text, each(l.Checks)...))
		}
	}
	return out
}
