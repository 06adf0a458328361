package plan

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
)

// Drying with heat is permitted where everything that gets warm is known to take it: parts,
// adhesives that were there before, and those of the job. What nobody gives a limit for must
// not be heated. The high-voltage battery is in the vehicle unless the job says that it is out, or that
// there is none; what holds for all the rest does not hold for it. Else the coat dries at the shop's temperature, and where the data know no such
// way the plan blocks.

// baking is a step that dries with heat.
type baking struct {
	node  *node
	step  body.Step
	where string
	parts []body.PartID // that are worked on
	coat  *coating      // nil: a step of a treatment
}

// dry puts the wait on a step; one that dries with heat gets it when its place is known.
func (b *builder) dry(n *node, st body.Step, where string, l *areas, c *coating) {
	if st.Bake == nil {
		b.setWait(n, st.Wait, where)
		return
	}
	k := baking{node: n, step: st, where: where, coat: c}
	for _, a := range l.list {
		k.parts = append(k.parts, a.Part)
	}
	b.bakes = append(b.bakes, k)
}

// heatAll decides for each step that would dry with heat whether it does.
func (b *builder) heatAll(on map[body.PartID][]*node) {
	for _, k := range b.bakes {
		h := &heating{b: b, baking: k, on: on}
		h.local = k.step.Bake.Local || k.coat != nil && !k.coat.onCar
		if !h.permitted() {
			b.noBake(k, h.against)
			continue
		}
		h.order()
		n, bake := k.node, k.step.Bake
		n.step.Bake = bake
		n.step.WaitMin, n.step.WaitName = float64(bake.Hold), fmt.Sprintf("drying at %s", bake.Temp)
		n.step.Notes = append(n.step.Notes, fmt.Sprintf("Dry at %s for %s; all that gets warm may take that.", bake.Temp, bake.Hold.Words()))
		if !h.local {
			n.warn([]body.Caution{body.BatteryHeat})
		}
	}
}

// noBake dries at the shop's temperature, or blocks.
func (b *builder) noBake(k baking, against []string) {
	why := diag.Say("plan.no-bake", "{step:q} must not dry at {temperature} for {time}: {against}", k.node.step.Name, k.step.Bake.Temp, k.step.Bake.Hold.Words(), list(against))
	remedy := "take out what must not get warm, dry at air temperature, or wait until adhesives have their full strength; a limit is written under 'heat_limits' with its source, that of the high-voltage battery beside its part (kind 'battery'); 'battery' of the job says whether it is in"
	if k.step.Wait == nil {
		b.block(k.where, why, remedy)
		return
	}
	b.note(diag.Caution, k.where, why.And(diag.Say("plan.dries-by-its-wait", "; it dries by its wait instead")), remedy)
	b.setWait(k.node, k.step.Wait, k.where)
}

// heating is what one step that dries with heat would warm.
type heating struct {
	baking
	b       *builder
	on      map[body.PartID][]*node
	local   bool     // only the parts worked on
	against []string // why it is not permitted
	wait    []*node  // steps that go on after it, so that they are not heated
	full    []*node  // bonds whose full strength is awaited first
	ready   []*node  // bonds that are to be handled first
}

// permitted says that everything that gets warm may; it notes what has to be put in order.
func (h *heating) permitted() bool {
	soon, late := before([]*node{h.node}), h.b.following([]*node{h.node})
	warm := map[body.PartID]bool{}
	for _, p := range h.b.in.Body.Parts {
		if h.warms(p, soon, late) {
			warm[p.ID] = true
		}
	}
	h.battery()
	h.oldBonds(warm)
	h.freshBonds(warm, late)
	return len(h.against) == 0
}

// warms says whether a part gets warm, and holds it against its limit. One that is off and that
// could not take it goes back on afterwards.
func (h *heating) warms(p body.Part, soon, late map[*node]bool) bool {
	worked := slices.Contains(h.parts, p.ID)
	if h.local && !worked {
		return false
	}
	fits := h.b.fittedBy(p.ID, h.on)
	if p.Kind == body.PartPiece && len(fits) == 0 && !worked { // a service piece that is not used
		return false
	}
	if !worked && len(fits) > 0 && slices.ContainsFunc(fits, func(n *node) bool { return late[n] }) {
		return false // it is off meanwhile
	}
	if p.Kind == body.PartBattery && !worked && len(fits) == 0 && h.b.in.Job.Vehicle.Battery == job.BatteryOut {
		return false
	}
	l, ok := h.b.in.Body.HeatLimitOf(p.ID)
	if ok && l.Takes(*h.step.Bake) {
		return true
	}
	if !worked && len(fits) > 0 && !slices.ContainsFunc(fits, func(n *node) bool { return soon[n] }) {
		h.wait = append(h.wait, fits...)
		return false
	}
	if !ok {
		h.against = append(h.against, "nobody says how warm "+p.Name+" may get")
	} else {
		h.against = append(h.against, p.Name+" may get "+limitWords(l))
	}
	return true
}

// battery refuses what would warm a battery that the vehicle may have and the body does not know.
func (h *heating) battery() {
	known := slices.ContainsFunc(h.b.in.Body.Parts, func(p body.Part) bool { return p.Kind == body.PartBattery })
	said := h.b.in.Job.Vehicle.Battery
	if !h.local && !known && said != job.BatteryOut && said != job.BatteryNone {
		h.against = append(h.against, "nobody says how warm the high-voltage battery may get, and that the vehicle has none in it is not on record")
	}
}

func limitWords(l body.HeatLimit) string {
	out := fmt.Sprintf("at most %s", l.High)
	if l.Longest > 0 {
		out += " for " + l.Longest.Words()
	}
	return out + " (" + l.Cite + ")"
}

// oldBonds holds adhesives of joints that the job does not close against their limit.
func (h *heating) oldBonds(warm map[body.PartID]bool) {
	var seen []body.MaterialID
	for _, j := range h.b.allJoints {
		closed := slices.ContainsFunc(h.b.nodes, func(n *node) bool { return slices.Contains(n.step.Closes, j.ID) })
		if closed || !slices.ContainsFunc(j.Layers, func(p body.PartID) bool { return warm[p] }) {
			continue
		}
		for _, m := range h.b.gluesOf(j) {
			if l, ok := h.b.in.Body.HeatLimitOfOld(m); !slices.Contains(seen, m) && (!ok || !l.Takes(*h.step.Bake)) {
				h.refuse(m, l, ok)
			}
			seen = append(seen, m)
		}
	}
}

func (h *heating) refuse(m body.MaterialID, l body.HeatLimit, ok bool) {
	name := h.b.mats[m].Name
	if !ok {
		h.against = append(h.against, "nobody says how warm "+name+" may get")
		return
	}
	h.against = append(h.against, name+" may get "+limitWords(l))
}

// gluesOf is the adhesives that hold a joint.
func (b *builder) gluesOf(j body.Joint) []body.MaterialID {
	var out []body.MaterialID
	if j.Cures != "" {
		out = append(out, j.Cures)
	}
	for _, u := range j.Uses {
		if b.mats[u.Material].Kind == body.Adhesive && !slices.Contains(out, u.Material) {
			out = append(out, u.Material)
		}
	}
	return out
}

// freshBonds holds adhesives of the job against their limits. What is not bonded after the heat
// anyway is bonded before it.
func (h *heating) freshBonds(warm map[body.PartID]bool, late map[*node]bool) {
	for _, n := range h.b.nodes {
		if len(n.step.Bonds) == 0 || n == h.node || late[n] || h.local && !h.b.bondsOn(n, warm) {
			continue
		}
		full := false
		for _, m := range n.step.Bonds {
			l, ok := h.b.in.Body.HeatLimitOfFresh(m)
			if !ok || !l.Takes(*h.step.Bake) {
				h.refuse(m, l, ok)
			}
			full = full || l.From != body.CuredHandling
		}
		if full {
			h.full = append(h.full, n)
		} else {
			h.ready = append(h.ready, n)
		}
	}
}

// bondsOn says that what a step bonds may touch one of some parts.
func (b *builder) bondsOn(n *node, parts map[body.PartID]bool) bool {
	if len(n.step.Closes) == 0 { // of a treatment or a task: nobody knows
		return true
	}
	for _, j := range b.allJoints {
		if slices.Contains(n.step.Closes, j.ID) && slices.ContainsFunc(j.Layers, func(p body.PartID) bool { return parts[p] }) {
			return true
		}
	}
	return false
}

// order puts what goes on again after the heat, and bonds before it.
func (h *heating) order() {
	for _, n := range h.wait {
		n.after = append(n.after, h.node)
	}
	late := h.b.following([]*node{h.node}) // with what was put after it just now
	for _, n := range slices.Concat(h.ready, h.full) {
		switch last := h.b.lastOf(n); {
		case late[n] || late[last]: // it is bonded afterwards
		case slices.Contains(h.full, n):
			h.node.after = append(h.node.after, h.b.hard(n, h.where))
		default:
			h.node.after = append(h.node.after, last)
		}
	}
}

// lastOf is the last step of what is done in one go with a step.
func (b *builder) lastOf(n *node) *node {
	if c := b.chain[n.step.Together]; c != nil {
		return c.nodes[len(c.nodes)-1]
	}
	return n
}

// hard is a step of no minutes after which the adhesives of a bond get their full strength:
// it comes once they can be handled, and what is left of the time is waited for.
func (b *builder) hard(n *node, where string) *node {
	ref := "hard " + n.step.Ref
	if k := slices.IndexFunc(b.nodes, func(o *node) bool { return o.step.Ref == ref }); k >= 0 {
		return b.nodes[k]
	}
	last := b.lastOf(n)
	out := b.add(n.phase, Step{Name: "Leave until full strength: " + n.step.Name, Ref: ref, Skill: n.step.Skill, Sum: "0 min", Because: "what is bonded is heated only at full strength"})
	out.step.Phase = PhaseCheck
	out.after = append(out.after, last)
	for _, m := range n.step.Bonds {
		t, ok := b.curing(m, where)
		if out.step.WaitName = "full strength of " + b.mats[m].Name; !ok {
			out.undated = true
			continue
		}
		out.step.WaitMin = max(out.step.WaitMin, t.full-last.step.WaitMin)
	}
	return out
}
