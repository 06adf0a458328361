package plan

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/unit"
)

// The dangers of taking parts off and putting them back follow from what the
// body says of parts and joints (common practice, no source): a treatment's
// step names its own.

// partCautions are the dangers of handling a part: those of the tasks it may
// only come off after, such as isolating the high-voltage system, and lifting
// where it is heavy.
func partCautions(b *body.Body, p body.Part, whole []body.PartID, limit unit.Kilogram) []body.Caution {
	var out []body.Caution
	for _, t := range b.Triggers {
		if !slices.Contains(whole, t.Part) {
			continue
		}
		for _, id := range t.Before {
			if task, ok := b.Task(id); ok {
				out = append(out, task.Step.Cautions...)
			}
		}
	}
	if heavy(p, limit) {
		out = append(out, body.Lifting)
	}
	return ordered(out)
}

// heavy says that lifting the part is dangerous: it is heavier than one person
// lifts in this shop. Where the shop gives no limit or the body no mass, a
// casting, a piece of one or a module is taken as heavy.
func heavy(p body.Part, limit unit.Kilogram) bool {
	if limit > 0 && p.Mass > 0 {
		return p.Mass > limit
	}
	return p.Kind == body.PartCasting || p.Kind == body.PartPiece || p.Kind == body.PartModule
}

// liftNote says what the part weighs against what one person lifts.
func liftNote(p body.Part, limit unit.Kilogram) []string {
	switch {
	case p.Mass <= 0 && heavy(p, limit):
		return []string{"Its mass is not given: weigh it before it is lifted."}
	case limit > 0 && p.Mass > limit:
		return []string{fmt.Sprintf("It weighs %s; one person lifts at most %s here: lifting gear or more people.", p.Mass, limit)}
	}
	return nil
}

// openCautions are the dangers of opening a joint: drilling, grinding and
// scraping make dust and chips.
func openCautions(j body.Joint) []body.Caution {
	for _, m := range []body.JoinMethod{body.JoinSelfPiercing, body.JoinBlindRivet, body.JoinAdhesive, body.JoinWeld, body.JoinHem} {
		if slices.Contains(j.Methods, m) {
			return []body.Caution{body.Dust, body.Eyes}
		}
	}
	return nil
}

// closeCautions are the dangers of closing a joint.
func closeCautions(j body.Joint) []body.Caution {
	var out []body.Caution
	if slices.Contains(j.Methods, body.JoinAdhesive) || j.Cures != "" {
		out = append(out, body.Chemical, body.Eyes)
	}
	if slices.Contains(j.Methods, body.JoinSelfPiercing) || slices.Contains(j.Methods, body.JoinBlindRivet) {
		out = append(out, body.Eyes)
	}
	if slices.Contains(j.Methods, body.JoinWeld) {
		out = append(out, body.Welding, body.BatteryHeat, body.Eyes)
	}
	return ordered(out)
}

// warn adds cautions to a step, each once.
func (n *node) warn(more []body.Caution) {
	n.step.Cautions = ordered(append(slices.Clone(n.step.Cautions), more...))
}

// ordered is the cautions in the order of body.Cautions, each once.
func ordered(in []body.Caution) []body.Caution {
	var out []body.Caution
	for _, c := range body.Cautions() {
		if slices.Contains(in, c) {
			out = append(out, c)
		}
	}
	return out
}
