package plan

import (
	"slices"

	"fettle/internal/body"
)

// The dangers of taking parts off and putting them back follow from what the
// body says of parts and joints (common practice, no source): a treatment's
// step names its own.

// partCautions are the dangers of handling a part: those of the tasks it may
// only come off after, such as isolating the high-voltage system, and lifting
// where it is a casting, a piece of one, or a module.
func partCautions(b *body.Body, p body.Part) []body.Caution {
	var out []body.Caution
	for _, t := range b.Triggers {
		if t.Part != p.ID {
			continue
		}
		for _, id := range t.Before {
			if task, ok := b.Task(id); ok {
				out = append(out, task.Step.Cautions...)
			}
		}
	}
	if p.Kind == "casting" || p.Kind == "piece" || p.Kind == "module" {
		out = append(out, body.Lifting)
	}
	return ordered(out)
}

// openCautions are the dangers of opening a joint: drilling, grinding and
// scraping make dust and chips.
func openCautions(j body.Joint) []body.Caution {
	for _, m := range []string{"self-piercing rivet", "blind rivet", "adhesive", "weld", "hem"} {
		if slices.Contains(j.Methods, m) {
			return []body.Caution{body.Dust, body.Eyes}
		}
	}
	return nil
}

// closeCautions are the dangers of closing a joint.
func closeCautions(j body.Joint) []body.Caution {
	var out []body.Caution
	if slices.Contains(j.Methods, "adhesive") || j.Cures != "" {
		out = append(out, body.Chemical, body.Eyes)
	}
	if slices.Contains(j.Methods, "self-piercing rivet") || slices.Contains(j.Methods, "blind rivet") {
		out = append(out, body.Eyes)
	}
	if slices.Contains(j.Methods, "weld") {
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
