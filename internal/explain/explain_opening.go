package explain

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/diag"
	"fettle/internal/plan"
)

// explainRemoval is why a part comes off, down to what has to be reached, what
// had to be off before it, and how it goes back on.
func explainRemoval(route compare.Route, p plan.Removal) Reason {
	t := because(diag.Say("explain.part-off", "{part} comes off. {because}", p.Name, p.Because))
	if len(p.Parts) > 0 {
		t.Under = append(t.Under, because(diag.Say("explain.part-off-as-one", "As one piece, nothing between them is opened: {parts}", Joined(p.Parts))))
	}
	for _, r := range route.Plan.Reached {
		if slices.Contains(r.Needs, p.Part) {
			t.Under = append(t.Under, because(diag.Say("explain.part-off-to-reach", "Has to be off to reach {what} for {for}", r.Name, r.For)))
		}
	}
	for _, q := range route.Plan.Removal {
		if slices.Contains(q.Needs, p.Part) {
			t.Under = append(t.Under, because(diag.Say("explain.part-off-before", "Has to be off before {part}, which leads to: {leads}", q.Name, strings.Join(leadsTo(route.Plan, q.Part, nil), ", "))))
		}
	}
	if len(p.Needs) > 0 {
		t.Under = append(t.Under, because(diag.Say("explain.part-off-after", "After {needs}", Joined(p.Needs))))
	}
	if len(p.Joints) > 0 {
		t.Under = append(t.Under, because(diag.Say("explain.part-off-joints", "Joints opened: {joints}", Joined(p.Joints))))
	}
	if p.Change != "" {
		t.Under = append(t.Under, because(diag.Say("explain.part-off-change", "Before it, when one person keeps this order: {change}", p.Change)))
	}
	for _, r := range route.Plan.Refit {
		if r.Part == p.Part {
			t.Under = append(t.Under, because(diag.Say("explain.part-on", "Back on: {because}", r.Because)))
		}
	}
	for _, o := range route.Plan.Nearly {
		if slices.Contains(o.Stay, p.Part) {
			t.Under = append(t.Under, because(diag.Say("explain.part-could-stay", "Could stay on, nearly as cheap: {choice}", o.Text)))
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
	out := each("explain.step-note", "{sentence}", s.Notes)
	for _, r := range s.Awaits {
		out = append(out, because(waitsFor(r)))
	}
	if l := s.Laid; l != nil {
		out = append(out, because(diag.Say("explain.step-rivets", "Rivets: {count} in {rows}, {pitch:.1f mm} apart; a check and a takeoff, the manufacturer's drawing rules", l.Count, diag.Counted(l.Rows, "row"), l.PitchMM), each("explain.rivet-check", "{sentence}", l.Checks)...))
	}
	if s.Hold != "" {
		out = append(out, because(diag.Say("explain.step-hold", "Hold point: {hold}", s.Hold)))
	}
	for _, r := range s.Readings {
		down := diag.Say("explain.step-figure", "Written down: {figure}", r.Name)
		if limits := r.Limits(); limits != "" {
			down = diag.Say("explain.step-figure-within", "Written down: {figure}, {limits}", r.Name, limits)
		}
		out = append(out, Reason{Said: down, Source: r.Cite})
	}
	return out
}

// waitsFor is what a step waits for, and what is known of when it is there.
func waitsFor(r plan.Awaited) diag.Said {
	s := diag.Say("explain.waits-for", "Waits for {what}: {days:.1f days} from the start", r.Name, r.Minutes/1440)
	if !r.Arrived.IsZero() {
		s = diag.Say("explain.waits-for-arrived", "{wait}, on record as there on {on} ({record})", s, r.Arrived, r.Record)
	}
	if !r.Promised.IsZero() {
		s = diag.Say("explain.waits-for-promised", "{wait}, promised for {on} ({record})", s, r.Promised, r.Record)
	}
	if r.Spent > 0 {
		s = diag.Say("explain.waits-for-spent", "{wait}, {spent} that came may not be used any more", s, r.Spent)
	}
	if r.High > 0 {
		s = diag.Say("explain.waits-for-spread", "{wait}, {low:.1f} to {high:.1f}", s, r.Low/1440, r.High/1440)
	}
	return s
}

// layoutsOf is how the rivets of a kind are laid out, step by step.
func layoutsOf(route compare.Route, id body.MaterialID) []Reason {
	var out []Reason
	for _, s := range route.Plan.Steps {
		if l := s.Laid; l != nil && l.Rivet == id {
			text := diag.Say("explain.layout", "{step}: {count} in {rows}", s.ID, l.Count, diag.Counted(l.Rows, "row"))
			if l.DrillMM > 0 {
				text = diag.Say("explain.layout-drill", "{layout}, drill {drill:.1f mm}", text, l.DrillMM)
			}
			if l.RivetMM > 0 {
				text = diag.Say("explain.layout-rivet", "{layout}, rivet {rivet:.1f mm} long", text, l.RivetMM)
			}
			out = append(out, because(text, each("explain.rivet-check", "{sentence}", l.Checks)...))
		}
	}
	return out
}
