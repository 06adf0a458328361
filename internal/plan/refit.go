package plan

import (
	"fmt"

	"fettle/internal/body"
	"fettle/internal/diag"
)

// refitSteps makes one step for every part that goes back on, in the order of
// refit. A joint is closed with the last of its parts; its cure is a wait after
// that step. A casting that is replaced goes in at the end of its own item.
func (b *builder) refitSteps(casting map[body.PartID]*node, off map[body.PartID][]*node) map[body.PartID][]*node {
	out := map[body.PartID][]*node{}
	r := &backOn{casting: casting, off: off, out: out, meets: map[body.PartID][]body.Joint{}, ready: map[body.JointID]*node{}}
	var order []body.PartID
	for _, i := range b.open.on {
		order = append(order, b.open.model.ids[i])
	}
	for _, j := range b.joints {
		if p := b.meets(j, order); p != "" {
			r.meets[p] = append(r.meets[p], j)
		}
	}
	for k, id := range order {
		out[id] = b.refitPart(id, r, b.open.onWay[k])
	}
	for _, i := range b.open.on {
		id := b.open.model.ids[i]
		follow := func(other body.PartID) {
			for _, n := range out[id] {
				n.after = append(n.after, out[other]...)
			}
		}
		for _, p := range b.open.onAfter[id] {
			follow(p)
		}
		for _, j := range b.open.closes[id] {
			b.tieJoint(j, id, follow)
		}
	}
	return out
}

// refitPart makes the steps of one part: putting it on, closing its joints,
// bonding.
func (b *builder) refitPart(id body.PartID, r *backOn, change [3]string) []*node {
	p := b.part(id)
	phase := closeUp
	if _, ok := r.casting[id]; ok {
		phase = repair
	}
	nodes := b.prepared(id, phase, r)
	why, lost := b.whyLost(id)
	name, because := "Refit "+p.Name, "it was taken off"
	if lost {
		name, because = "Fit new "+p.Name, "the old one is lost: "+why
		b.lost = append(b.lost, Lost{id, p.Name, why, 1})
	}
	main := b.partStep(phase, p, name, because, float64(p.On), "handling")
	main.step.Ref, main.step.Change = "on "+string(id), changeWords(change)
	b.afterPrepared(main, id, r)
	nodes = append(nodes, main)
	for _, j := range b.open.closes[id] {
		n := b.jointNode(main, p, j, "Close "+j.Name, float64(j.Refit))
		n.warn(closeCautions(j))
		if n != main {
			n.step.Ref = "close " + string(j.ID)
			n.after = append(n.after, main)
			nodes = append(nodes, n)
		}
		if g := b.glueStep(n, j); g != nil {
			nodes = append(nodes, g)
			n = g
		}
		b.closeJoint(n, j)
		for _, s := range b.jointSteps(j.After, j, id, phase, "after it is closed") {
			s.after = append(s.after, n)
			nodes = append(nodes, s)
		}
	}
	if lost {
		main.step.Takes = []body.PartID{id}
		b.awaits(main, p)
	}
	if last := r.casting[id]; last != nil {
		main.after = append(main.after, last)
	}
	return nodes
}

// closeJoint adds what closing a joint uses, cures and is tightened to.
func (b *builder) closeJoint(n *node, j body.Joint) {
	b.stepUses(n, j.Uses, float64(j.Length), "joint "+string(j.ID))
	if j.Cures != "" {
		b.cureWait(n, j.Cures, false, "joint "+string(j.ID))
		n.step.Bonds = append(n.step.Bonds, j.Cures)
		b.joinTime(j)
		b.openTime(n, b.mats[j.Cures])
	}
	b.apart(b.closedJoint(j.ID))
	n.torque(j)
	n.step.Closes = append(n.step.Closes, j.ID)
	for _, r := range j.Readings {
		r.ID += "-" + string(j.ID)
		n.read(r)
	}
	if j.Hold != "" {
		if n.step.Hold != "" {
			n.step.Hold += "; "
		}
		n.step.Hold += j.Hold
		n.step.Second = n.step.Second || j.AsksSecond()
	}
}

// glueStep takes the time in which the adhesive is open out of the closing of a joint and
// makes a step of it, which is not torn apart by a break or a night. Where the data do not
// say how long the adhesive is open, all of the closing is taken for it.
func (b *builder) glueStep(n *node, j body.Joint) *node {
	min := float64(j.GlueOpen)
	if j.Cures == "" {
		return nil
	}
	if min == 0 {
		min = float64(j.Refit)
	}
	if n.step.Minutes <= min { // nothing else is done in it
		b.alone(n, "joint "+string(j.ID), []body.MaterialID{j.Cures}, j.GlueOpen > 0)
		return nil
	}
	n.step.Minutes -= min
	n.step.Sum += fmt.Sprintf(" - %s min with the adhesive open, in a step of its own", num(min))
	g := b.partStep(n.phase, b.part(n.step.Part), "Apply adhesive and set the last fastener: "+j.Name, n.step.Because, min, "adhesive of joint "+string(j.ID)+" open")
	g.step.Ref = "bond " + string(j.ID)
	g.step.Skill, g.step.Bay, g.step.Cite = j.Skill, n.step.Bay, j.Cite
	g.warn(closeCautions(j))
	g.after = append(g.after, n)
	b.alone(g, "joint "+string(j.ID), []body.MaterialID{j.Cures}, j.GlueOpen > 0)
	return g
}

// joinTime warns when closing a joint takes longer than its adhesive can be
// worked and the data do not say how much of that time the adhesive is open.
func (b *builder) joinTime(j body.Joint) {
	t, ok := timesAt(b.mats[j.Cures], b.in.Shop.Temp)
	if ok && j.GlueOpen == 0 && float64(j.Refit) > t.working {
		b.note(diag.Caution, "joint "+string(j.ID), diag.Say("plan.joint-working-time", "closing joint {joint} takes {time}; {material} can be worked for {window} min at {temperature}: from the first bead to the last fastener no more may pass, else two people or two stages are needed", j.ID, j.Refit, b.mats[j.Cures].Name, figure(t.working), b.in.Shop.Temp), "give 'glue_open' of the joint in the body folder")
	}
}
