package plan

import (
	"slices"

	"fettle/internal/body"
)

// explainOpening says for each part what it gives access to.
func (b *builder) explainOpening(goals []goal) {
	m := b.open.model
	say := func(s set, what string) {
		for i, id := range m.ids {
			if s.has(i) && !slices.Contains(b.open.forOf[id], what) {
				b.open.forOf[id] = append(b.open.forOf[id], what)
			}
		}
	}
	for _, g := range goals {
		for _, entry := range b.accessTo(g.to) {
			say(firstIn(m.maskAll(entry), b.open.found.set), g.name)
		}
	}
	for i := range m.ids {
		if b.open.found.set.has(i) {
			say(b.open.after[i], b.part(m.ids[i]).Name)
		}
	}
}

func (r *removal) maskAll(entry [][]body.PartID) []set {
	var out []set
	for _, alt := range entry {
		var s set
		for _, p := range alt {
			if i, ok := slices.BinarySearch(r.ids, p); ok {
				s |= 1 << i
			}
		}
		out = append(out, s)
	}
	return out
}

func firstIn(alts []set, s set) set {
	for _, a := range alts {
		if a.in(s) {
			return a
		}
	}
	return 0
}

// removals is the opening in words.
func (b *builder) removals() []Removal {
	var out []Removal
	m := b.open.model
	for k, i := range b.open.order {
		id := m.ids[i]
		r := Removal{Part: id, Name: b.part(id).Name, For: b.open.forOf[id], Because: b.becauseOff(id), Parts: b.members[id], Change: changeWords(b.open.offWay[k])}
		for _, n := range b.open.after[i].items() {
			r.Needs = append(r.Needs, m.ids[n])
		}
		for _, j := range b.open.joints[id] {
			r.Joints = append(r.Joints, j.ID)
		}
		_, r.Lost = b.whyLost(id)
		out = append(out, r)
	}
	return out
}

// reachedBy is what had to be reached, and what had to be off for it.
func (b *builder) reachedBy() []Reached {
	var out []Reached
	m := b.open.model
	_, _, goals := b.targets()
	for _, g := range goals {
		r := Reached{To: g.to, Name: g.name, For: g.why, Unknown: g.casting != "" && b.reachUnknown(g.to) != ""}
		for _, entry := range b.accessTo(g.to) {
			for _, i := range firstIn(m.maskAll(entry), b.open.found.set).items() {
				if !slices.Contains(r.Needs, m.ids[i]) {
					r.Needs = append(r.Needs, m.ids[i])
				}
			}
		}
		out = append(out, r)
	}
	return out
}

// becauseOff is one sentence: why the part comes off.
func (b *builder) becauseOff(id body.PartID) string {
	var why []string
	if w := b.open.why[id]; w != "" {
		why = append(why, w)
	}
	if f := b.open.forOf[id]; len(f) > 0 {
		why = append(why, "is in the way of "+list(f))
	}
	if j := b.destroyer(id); j != "" {
		why = append(why, "is destroyed when joint "+j+" is opened")
	}
	return b.part(id).Name + " " + list(why)
}

// destroyer is the first opened joint that destroys the part.
func (b *builder) destroyer(id body.PartID) string {
	for _, j := range b.joints {
		if !slices.Contains(j.Destroys, id) {
			continue
		}
		for _, l := range j.Layers {
			if k, ok := slices.BinarySearch(b.open.model.ids, l); ok && b.open.found.set.has(k) {
				return string(j.ID)
			}
		}
	}
	return ""
}

// whyLost says why a part that comes off cannot be put back.
func (b *builder) whyLost(id body.PartID) (string, bool) {
	for _, it := range b.items {
		if it.Kind == body.ReplaceCasting && it.Part == id {
			return "replaced", true
		}
		if it.Kind.NewPart() && slices.Contains(b.exchanged(it), id) {
			return "exchanged", true
		}
	}
	if j := b.destroyer(id); j != "" {
		return "destroyed by opening joint " + j, true
	}
	if b.part(id).OneTime {
		return "one-time part", true
	}
	return "", false
}

// reached says which of an item's goals need nothing to come off.
func (b *builder) reached(it Item) string {
	var free []string
	say := func(to, name string) {
		if len(b.accessTo(to)) == 0 && b.reachUnknown(to) == "" && !slices.Contains(free, name) {
			free = append(free, name)
		}
	}
	switch it.Kind {
	case body.Leave, body.Exchange, body.ReplacePart, body.ReplaceCasting:
	case body.SectionOff:
		say(string(it.Line), "section line "+string(it.Line))
	default:
		for _, f := range it.Findings {
			for _, z := range b.findings[f].Zones {
				say(string(z.Zone), "zone "+string(z.Zone))
			}
		}
	}
	if len(free) == 0 {
		return ""
	}
	return "; " + list(free) + ": reached without taking anything off"
}
