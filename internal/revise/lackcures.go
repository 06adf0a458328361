package revise

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
)

// onPlace are the kinds of treatment that put something right where it is, on any part.
var onPlace = []body.TreatmentKind{body.Dress, body.Straighten, body.Weld, body.WeldBacking}

// cures tells which kinds of finding on which parts no treatment of the body puts right: those
// are for the manufacturer to answer, whatever rows allow.
func (l *lacks) cures() {
	for _, k := range l.b.Castings {
		l.uncured([]string{string(k.ID)}, l.openKinds(func(t body.Treatment, kind body.FindingKind) bool {
			cut := slices.ContainsFunc(l.b.Lines, func(x body.Line) bool { return x.Casting == k.ID && x.Treatment == t.ID })
			return (slices.Contains(onPlace, t.Kind) || t.Kind == body.ReplaceCasting || t.Kind == body.SectionOff && cut) && t.Cure(kind, true)
		}))
	}
	parts := map[string][]string{} // by what nothing puts right on them
	kinds := map[string][]body.FindingKind{}
	var order []string
	for _, p := range l.b.Parts {
		if p.Kind == body.PartCasting || p.Kind == body.PartPiece {
			continue
		}
		open := l.openOn(p)
		key := kindWords(open)
		if parts[key] == nil {
			order, kinds[key] = append(order, key), open
		}
		parts[key] = append(parts[key], string(p.ID))
	}
	for _, key := range order {
		l.uncured(parts[key], kinds[key])
	}
}

// openOn are the kinds of finding on a part that nothing puts right. A part is changed without a
// treatment too, where the body has none of that kind: it is taken off, and a new one fitted.
func (l *lacks) openOn(p body.Part) []body.FindingKind {
	change, changed := p.Change(), p.Comes != body.Never
	if changed && !slices.ContainsFunc(l.b.Treatments, func(t body.Treatment) bool { return t.Kind == change }) {
		return nil
	}
	return l.openKinds(func(t body.Treatment, kind body.FindingKind) bool {
		return (slices.Contains(onPlace, t.Kind) || changed && t.Kind == change) && t.Cure(kind, false)
	})
}

// openKinds are the kinds of finding that no treatment cures.
func (l *lacks) openKinds(cures func(body.Treatment, body.FindingKind) bool) []body.FindingKind {
	return slices.DeleteFunc(body.FindingKinds(), func(kind body.FindingKind) bool {
		return slices.ContainsFunc(l.b.Treatments, func(t body.Treatment) bool { return cures(t, kind) })
	})
}

func (l *lacks) uncured(on []string, kinds []body.FindingKind) {
	if len(kinds) > 0 {
		l.note(strings.Join(on, ", "), "a treatment that puts right what is "+kindWords(kinds)+" there", "no route treats it: the manufacturer is asked", "write what the answer says under 'treatments'")
	}
}

// kindWords is kinds of finding as states: cracked, bent.
func kindWords(kinds []body.FindingKind) string {
	states := map[body.FindingKind]string{body.Crack: "cracked", body.Break: "broken", body.Bend: "bent", body.Dent: "dented", body.Torn: "torn"}
	words := make([]string, len(kinds))
	for i, k := range kinds {
		words[i] = states[k]
	}
	return decide.JoinWords(words)
}
