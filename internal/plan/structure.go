package plan

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
)

// A part with control points is structure: it is not pulled on a vehicle that nothing holds, and
// its points have to be shown afterwards.

// What the vehicle stands on is not taken out of a vehicle that nothing holds: a casting
// that is replaced comes off when the tasks of its treatment are done and the vehicle is
// fixed, as a line is cut then. All other parts come off before.

// findInRepair finds the parts that come off as part of the repair.
func (b *builder) findInRepair() {
	o := &b.open
	for _, i := range o.order {
		if b.replaced(o.model.ids[i]) || o.after[i]&o.inRepair != 0 {
			o.inRepair |= 1 << i
		}
	}
}

// beforeCasting is, for a casting that is replaced, every part of the opening that can come off
// without it: what is opened with the casting in place is not left for the repair.
func (b *builder) beforeCasting(i int) set {
	m := b.open.model
	if !b.replaced(m.ids[i]) {
		return 0
	}
	late := set(0)
	for k, id := range m.ids {
		if b.replaced(id) {
			late |= 1 << k
		}
	}
	order, _, _ := m.off(b.open.found.set &^ late)
	early := set(0)
	for _, k := range order {
		early |= 1 << k
	}
	return early
}

// fixedFirst lets what takes a casting out follow the tasks its treatment requires, and
// every task that fixes the vehicle; what cuts one follows those too. Where none fixes it,
// that is told.
func (b *builder) fixedFirst(wants map[body.TaskID]*taskWant, off map[body.PartID][]*node) {
	for _, id := range sortedWants(wants) {
		if b.tasks[id].Fixes {
			b.fixing = append(b.fixing, wants[id].node)
		}
	}
	for _, it := range b.items {
		if it.Kind == body.Straighten && b.pulls(it) {
			b.notFixed(it, "the part is pulled")
			continue
		}
		if it.Kind != body.SectionOff && it.Kind != body.ReplaceCasting {
			continue
		}
		for _, id := range b.treatment(it).Requires {
			for _, n := range off[it.Part] {
				n.after = append(n.after, wants[id].node)
			}
		}
		b.notFixed(it, "the casting is cut or taken out")
	}
	for i, p := range b.open.model.ids {
		if b.open.inRepair.has(i) {
			for _, n := range off[p] {
				n.after = append(n.after, b.fixing...)
			}
		}
	}
}

// notFixed tells of an item that no task fixes the vehicle for.
func (b *builder) notFixed(it Item, before string) {
	if len(b.fixing) == 0 {
		b.note(diag.Caution, findingsText(it.Findings), diag.Say("plan.not-fixed", "{kind} of {findings}: no task of the plan says that it fixes the vehicle and measures it in before {before}", it.Kind, findingsText(it.Findings), before),
			"give the treatment a task with 'fixes: yes' in the body folder")
	}
}

// pulls says that an item straightens a part that has control points.
func (b *builder) pulls(it Item) bool {
	return it.Kind == body.Straighten && slices.ContainsFunc(it.Findings, func(id job.FindingID) bool {
		return b.in.Body.HasPoints(b.findings[id].Part)
	})
}

// openedFor is what has to be off before the first step of an item and comes off as part
// of the repair: its own part, and what is in the way.
func (b *builder) openedFor(it Item) []body.PartID {
	o := &b.open
	late := set(0)
	add := func(s set) { late |= s & o.inRepair }
	for i, id := range o.model.ids {
		if o.found.set.has(i) && (id == it.Part || it.Kind.NewPart() && slices.Contains(b.mapped(b.exchanged(it)), id)) {
			add(1 << i)
		}
	}
	alone := *b
	alone.items = []Item{it}
	_, _, goals := alone.targets()
	for _, g := range goals {
		for _, entry := range b.accessTo(g.to) {
			add(firstIn(o.model.maskAll(entry), o.found.set))
		}
	}
	var out []body.PartID
	for _, i := range late.items() {
		out = append(out, o.model.ids[i])
	}
	return out
}
