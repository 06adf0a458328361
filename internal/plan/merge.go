package plan

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
)

// Merge joins items that renew one part in the same way, or cut along one line: the part is changed,
// the cut made, once for all that was found there. Where one of them waits for something, all of it
// does.
func Merge(items []Item) []Item {
	var out []Item
	for _, it := range items {
		k := -1
		if it.once() {
			k = slices.IndexFunc(out, func(o Item) bool {
				return o.Kind == it.Kind && o.Part == it.Part && o.Line == it.Line && o.Treatment == it.Treatment
			})
		}
		if k < 0 {
			out = append(out, it)
			continue
		}
		o := &out[k]
		o.Findings = slices.Clone(o.Findings)
		for _, f := range it.Findings {
			if !slices.Contains(o.Findings, f) {
				o.Findings = append(o.Findings, f)
			}
		}
		slices.SortFunc(o.Findings, byName)
		o.Open, o.Ask = o.Open || it.Open, o.Ask || it.Ask
	}
	return out
}

// once says that an item is done once for whatever it treats.
func (it Item) once() bool {
	return it.Part != "" && (it.Kind.NewPart() || it.Kind == body.ReplaceCasting) || it.Line != "" && it.Kind == body.SectionOff
}

// bareReplacement tells that a part is replaced for which the body has no treatment: then
// only what its data know is planned.
func (b *builder) bareReplacement() {
	for _, it := range b.items {
		if it.Kind == body.ReplacePart && it.Treatment == "" {
			b.note(diag.Caution, string(it.Part), diag.Say("plan.no-treatment", "the body has no treatment of the kind {kind:q}: a new {part} is fitted, and nothing else is planned for it", it.Kind, b.part(it.Part).Name), "write one with what the manufacturer asks for")
		}
	}
}
