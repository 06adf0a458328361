package plan

import (
	"fmt"

	"fettle/internal/body"
	"fettle/internal/diag"
)

// refitSteps makes one step for every part that goes back on, in the reverse
// order of removal. A joint is opened with the first of its parts that comes off
// and so is closed with that part, the last to go back on; its cure is a wait
// after that step. A casting that is replaced goes in at the end of its
// own item.
func (b *builder) refitSteps(casting map[body.PartID]*node) map[body.PartID][]*node {
	out := map[body.PartID][]*node{}
	m := b.open.model
	if m == nil {
		return out
	}
	for k := len(b.open.order) - 1; k >= 0; k-- {
		i := b.open.order[k]
		id := m.ids[i]
		p := b.part(id)
		phase := closeUp
		if _, ok := casting[id]; ok {
			phase = repair
		}
		why, lost := b.whyLost(id)
		name, because := "Refit "+p.Name, "it was taken off"
		if lost {
			name, because = "Fit new "+p.Name, "the old one is lost: "+why
			b.lost = append(b.lost, Lost{id, p.Name, why, 1})
		}
		main := b.partStep(phase, p, name, because, float64(p.On), "handling")
		main.step.Ref = "on " + string(id)
		nodes := []*node{main}
		for _, j := range b.open.joints[id] {
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
		}
		if lost {
			releaseBy(main, delivery(p))
		}
		if last := casting[id]; last != nil {
			main.after = append(main.after, last)
		}
		out[id] = nodes
	}
	for _, i := range b.open.order {
		for k, id := range m.ids { // what i needed off goes back on after i
			if b.open.after[i].has(k) {
				for _, n := range out[id] {
					n.after = append(n.after, out[m.ids[i]]...)
				}
			}
		}
		for _, j := range b.open.joints[m.ids[i]] {
			b.tieJoint(j, m.ids[i], func(other body.PartID) {
				for _, n := range out[m.ids[i]] {
					n.after = append(n.after, out[other]...)
				}
			})
		}
	}
	return out
}

// closeJoint adds what closing a joint uses, cures and is tightened to.
func (b *builder) closeJoint(n *node, j body.Joint) {
	b.stepUses(n, j.Uses, float64(j.Length), "joint "+string(j.ID))
	if j.Cures != "" {
		b.cureWait(n, j.Cures, false, "joint "+string(j.ID))
		b.joinTime(j)
		b.openTime(n, b.mats[j.Cures])
	}
	n.torque(j)
	for _, r := range j.Readings {
		r.ID += "-" + string(j.ID)
		n.read(r)
	}
	if j.Hold != "" {
		if n.step.Hold != "" {
			n.step.Hold += "; "
		}
		n.step.Hold += j.Hold
	}
}

// glueStep takes the time in which the adhesive is open out of the closing of a
// joint and makes a step of it that fits its working time whole: it is not torn
// apart by a break or a night.
func (b *builder) glueStep(n *node, j body.Joint) *node {
	if j.GlueOpen == 0 || j.Cures == "" {
		return nil
	}
	min := float64(j.GlueOpen)
	n.step.Minutes -= min
	n.step.Sum += fmt.Sprintf(" - %s min with the adhesive open, in a step of its own", num(min))
	g := b.partStep(n.phase, b.part(n.step.Part), "Apply adhesive and set the last fastener: "+j.Name, n.step.Because, min, "adhesive of joint "+string(j.ID)+" open")
	g.step.Ref = "bond " + string(j.ID)
	g.step.Skill, g.step.Bay, g.step.Cite = j.Skill, n.step.Bay, j.Cite
	g.warn(closeCautions(j))
	g.after = append(g.after, n)
	c := &chainWant{id: "joint " + string(j.ID), nodes: []*node{g}, glue: b.mats[j.Cures].Name}
	if t, ok := b.curing(j.Cures, "joint "+string(j.ID)); ok {
		c.window = t.working
	} else {
		c.unknown = true
	}
	g.step.Together = c.id
	b.chain[c.id] = c
	return g
}

// joinTime warns when closing a joint takes longer than its adhesive can be
// worked and the data do not say how much of that time the adhesive is open.
func (b *builder) joinTime(j body.Joint) {
	t, ok := timesAt(b.mats[j.Cures], b.in.Shop.Temp)
	if ok && j.GlueOpen == 0 && float64(j.Refit) > t.working {
		b.note(diag.Caution, "plan.joint-working-time", "joint "+string(j.ID), fmt.Sprintf("closing joint %s takes %s; %s can be worked for %s min at %s: from the first bead to the last fastener no more may pass, else two people or two stages are needed",
			j.ID, j.Refit, b.mats[j.Cures].Name, num(t.working), b.in.Shop.Temp), "give 'glue_open' of the joint in the body folder")
	}
}
