package plan

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
)

// What a body does not say of a part that comes off is not taken for nothing: a part of which no
// minutes or no joint is known would be the cheapest way to everything. Among openings those with
// the fewest such parts are taken, and what is missing is told.

// Gap is what is not known of a part that comes off, or of what a treatment joins.
type Gap struct {
	Part  body.PartID     `json:"part"` // empty: of a treatment
	Name  string          `json:"name"`
	Lacks []string        `json:"lacks"` // in words: minutes, joints, what they are closed with
	For   []job.FindingID `json:"for"`   // findings for which it comes off

	// Zones and section lines of a casting that have to be reached, and nobody knows how.
	To      []string       `json:"accessTo,omitempty"`
	Casting body.CastingID `json:"accessOn,omitempty"`
}

// Text is the gap in a sentence.
func (g Gap) Text() string { return g.said().Text }

func (g Gap) said() diag.Said {
	if len(g.To) > 0 {
		return diag.Say("plan.access-unknown", "{sentence}", g.reachText())
	}
	return diag.Say("plan.opening-unknown", "{name} ({part}) comes off for {findings}, and nobody knows: {lacks}", g.Name, g.Part, findingsText(g.For), list(g.Lacks))
}

// lacks is what is not known of a part, or of parts as one piece.
func (b *builder) lacks(id body.PartID) []string {
	var holding []body.Joint
	for _, j := range b.joints {
		if slices.Contains(j.Layers, id) {
			holding = append(holding, j)
		}
	}
	out := body.OpeningLacks(b.part(id), holding, b.brings)
	if _, reached := b.outside(id); !reached && !b.hasAccess(string(id)) && b.renewed(id) && b.part(id).Comes != body.Never {
		out = append(out, "what has to be off before it (access)")
	}
	return out
}

// renewed says that a part is exchanged, or replaced, for its own sake.
func (b *builder) renewed(id body.PartID) bool {
	return slices.ContainsFunc(b.items, func(it Item) bool { return it.Kind.NewPart() && slices.Contains(b.exchanged(it), id) })
}

// brings says that a treatment that fits a new layer of a joint holds what the joint is closed with.
func (b *builder) brings(j body.Joint) bool {
	return slices.ContainsFunc(b.items, func(it Item) bool {
		fitted := slices.ContainsFunc(b.boughtBy(it), func(p body.PartID) bool { return slices.Contains(j.Layers, p) })
		return fitted && slices.ContainsFunc(b.treatment(it).Steps, func(s body.Step) bool {
			return len(s.Uses) > 0 || s.Layout != nil || s.Heat != nil || slices.Contains(s.Cautions, body.Welding)
		})
	})
}

// unknownIn puts into the model which parts nobody knows how to take off, and which never come off.
func (b *builder) unknownIn(m *removal) {
	for i, id := range m.ids {
		if b.part(id).Comes == body.Never {
			m.never |= 1 << i
		} else if !b.lax && len(b.lacks(id)) > 0 {
			m.vague |= 1 << i
		}
	}
}

// gaps is what is not known of the parts of the opening, and for which findings they come off.
func (b *builder) gaps() []Gap {
	m := b.open.model
	var out []Gap
	for _, i := range (b.open.found.set & m.vague).items() {
		out = append(out, Gap{Part: m.ids[i], Name: b.part(m.ids[i]).Name, Lacks: b.lacks(m.ids[i]), For: b.comesOffFor(i)})
	}
	return out
}

// comesOffFor is the findings for which a part of the opening comes off.
func (b *builder) comesOffFor(i int) []job.FindingID {
	var out []job.FindingID
	for _, it := range b.items {
		if b.reachedFor(it).has(i) {
			out = append(out, it.Findings...)
		}
	}
	if len(out) == 0 {
		return b.allFindings()
	}
	slices.SortFunc(out, byName)
	return out
}

func (b *builder) allFindings() []job.FindingID {
	var out []job.FindingID
	for _, it := range b.items {
		if it.Kind != body.Leave {
			out = append(out, it.Findings...)
		}
	}
	slices.SortFunc(out, byName)
	return out
}

// reachedFor is the parts of the opening that come off for an item: its own, what is in its way,
// what is in the way of that, and what is lost with it.
func (b *builder) reachedFor(it Item) set {
	o := &b.open
	alone := *b
	alone.items = []Item{it}
	targets, _, goals := alone.targets()
	var s set
	for i, id := range o.model.ids {
		if slices.ContainsFunc(b.whole(id), func(p body.PartID) bool { return targets[p] }) {
			s |= 1 << i
		}
	}
	for _, g := range goals {
		for _, entry := range b.accessTo(g.to) {
			s |= firstIn(o.model.maskAll(entry), o.found.set)
		}
	}
	for {
		t := s | o.model.destroyed(s)
		for _, i := range (t & o.found.set).items() {
			t |= o.after[i]
		}
		if t &= o.found.set; t == s {
			return s
		}
		s = t
	}
}

// noWay is what is told where nothing can come off: parts that never do, or that wait for one
// another.
func (b *builder) noWay() []Gap {
	m, who := b.open.model, b.allFindings()
	if m == nil || len(who) == 0 {
		return nil
	}
	var out []Gap
	for _, id := range neverOff(m) {
		out = append(out, Gap{Part: id, Name: b.part(id).Name, Lacks: b.lacks(id), For: who})
	}
	if len(out) > 0 {
		return out
	}
	for _, id := range b.stuckParts(m) {
		out = append(out, Gap{Part: id, Name: b.part(id).Name, Lacks: []string{"what has to be off before it, without going in a circle"}, For: who})
	}
	return out
}

// tellGaps says what is not known of the opening.
func (b *builder) tellGaps(gaps []Gap) {
	for _, g := range gaps {
		if len(g.To) > 0 {
			b.note(diag.Caution, string(g.Casting), g.said(), reachHint)
			continue
		}
		b.note(diag.Caution, string(g.Part), g.said(), "ask the manufacturer, and write the answer into the body folder (parts.csv, 'joints', 'access')")
	}
}

// Gaps is what is not known of what has to come off for an item alone.
func (w *Weigher) Gaps(it Item) []Gap {
	b := w.builder([]Item{it})
	if it.Kind == body.Leave {
		return nil
	}
	goals, ok := b.chooseParts()
	switch {
	case !ok:
		return b.noWay()
	case b.open.found.set&b.open.model.vague == 0 && !b.lacksApart():
		return nil // in whatever order
	}
	b.orderParts(goals)
	return append(b.gaps(), b.apartGaps()...)
}
