package assess

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/diag"
	"fettle/internal/plan"
)

// metalsUnnamed tells once, whatever the routes close, that a body whose joints they close names neither
// metals nor pairs to be kept apart. Where it names some, each plan tells which of its joints are open.
func metalsUnnamed(b *body.Body, routes []compare.Route) []diag.Note {
	closes := func(r compare.Route) bool {
		return slices.ContainsFunc(r.Plan.Steps, func(s plan.Step) bool { return len(s.Closes) > 0 })
	}
	if b.Apart != nil || b.NamesMetal() || !slices.ContainsFunc(routes, closes) {
		return nil
	}
	return []diag.Note{diag.Say("assess.metals-unnamed", "the body says neither what its parts and fasteners are made of nor which metals have to be kept apart: whether unlike ones touch where joints are closed is not known, and nothing is planned against it").
		Note(diag.Note{Severity: diag.Caution, Where: "joints", Hint: "ask the manufacturer; give 'keep_apart' and the metals in the body folder"})}
}
