package plan

import (
	"fmt"
	"slices"

	"fettle/internal/body"
)

// A joint has steps of its own around its closing: before, while its parts are off, what cleans,
// primes and isolates; after, what seals it and coats its fasteners, before anything covers it.

// stepDone says that a step of a joint is done when the joint is closed: always, or only where a
// part of it is a new one.
func stepDone(st body.Step, fresh bool) bool { return fresh || st.NewPart != body.Yes }

// fresh says that a part of a joint is a new one, or a casting of which a piece is.
func (b *builder) fresh(j body.Joint) bool {
	return b.isCut(j) || slices.ContainsFunc(b.comesOff(j), func(p body.PartID) bool { _, lost := b.whyLost(p); return lost })
}

// isCut says that a part of a joint is a casting of which a piece is renewed.
func (b *builder) isCut(j body.Joint) bool {
	return slices.ContainsFunc(b.items, func(it Item) bool {
		line, ok := b.in.Body.Line(it.Line)
		if !ok || it.Kind != body.SectionOff {
			return false
		}
		k, _ := b.in.Body.Casting(line.Casting)
		return slices.Contains(j.Layers, k.Part) || slices.Contains(j.Layers, line.Piece)
	})
}

// comesOff is the parts of a joint that come off.
func (b *builder) comesOff(j body.Joint) []body.PartID {
	var out []body.PartID
	for _, p := range j.Layers {
		if k, ok := slices.BinarySearch(b.open.model.ids, p); ok && b.open.found.set.has(k) {
			out = append(out, p)
		}
	}
	return out
}

// jointCost is what some steps of a joint cost, in cost units: those that are always done, or
// those that are done where a part is new.
func (b *builder) jointCost(j body.Joint, fresh bool) int64 {
	sum := int64(0)
	for _, list := range [][]body.Step{j.Before, j.After} {
		for _, st := range list {
			if (st.NewPart == body.Yes) == fresh {
				sum += b.labour(minutesOf(st, float64(j.Length), j.Count), st.Skill) + b.supplies(st.Uses, float64(j.Length))
			}
		}
	}
	return sum
}

// meets is the part with which a joint is first brought together when its parts go back on in
// an order: from then on something of it is covered.
func (b *builder) meets(j body.Joint, order []body.PartID) body.PartID {
	off := b.comesOff(j)
	on := func(k int) bool { return k >= 0 && k < len(j.Layers) && !slices.Contains(off, j.Layers[k]) }
	for _, p := range order {
		at := slices.Index(j.Layers, p)
		if at < 0 {
			continue
		}
		if on(at-1) || on(at+1) {
			return p
		}
		off = slices.DeleteFunc(off, func(o body.PartID) bool { return o == p })
	}
	return ""
}

// coversJoint says that a part had to be off before a joint with steps after its closing could
// be opened, of which the other part is a layer that comes off: it goes back on after that.
func (b *builder) coversJoint(id, layer body.PartID) bool {
	k, ok := slices.BinarySearch(b.open.model.ids, id)
	for with, joints := range b.open.joints {
		i, _ := slices.BinarySearch(b.open.model.ids, with)
		if !ok || !b.open.after[i].has(k) {
			continue
		}
		if slices.ContainsFunc(joints, func(j body.Joint) bool {
			return len(j.After) > 0 && slices.Contains(j.Layers, layer) && !slices.Contains(j.Layers, id)
		}) {
			return true
		}
	}
	return false
}

// backOn is what refitSteps knows of the parts that are on so far.
type backOn struct {
	casting map[body.PartID]*node        // last step of the item that replaces it
	off     map[body.PartID][]*node      // what takes it off
	out     map[body.PartID][]*node      // what puts it back
	meets   map[body.PartID][]body.Joint // joints that are first brought together with a part
	ready   map[body.JointID]*node       // the last step before a joint is closed
}

// prepared makes the steps before joints are closed that are brought together with a part.
func (b *builder) prepared(id body.PartID, phase int, r *backOn) []*node {
	var out []*node
	for _, j := range r.meets[id] {
		own := b.jointSteps(j.Before, j, id, phase, "before it is closed")
		if len(own) == 0 {
			continue
		}
		for _, p := range b.comesOff(j) { // what is on already is on, what is not is off
			own[0].after = append(own[0].after, r.off[p]...)
			own[0].after = append(own[0].after, r.out[p]...)
			if last := r.casting[p]; last != nil {
				own[0].after = append(own[0].after, last)
			}
		}
		r.ready[j.ID] = own[len(own)-1]
		out = append(out, own...)
	}
	return out
}

// afterPrepared lets a part go on when the joints of it that are prepared are.
func (b *builder) afterPrepared(main *node, id body.PartID, r *backOn) {
	for _, j := range b.joints {
		if n := r.ready[j.ID]; n != nil && slices.Contains(j.Layers, id) {
			main.after = append(main.after, n)
		}
	}
}

// jointSteps makes the steps of a list of a joint that are done, one after the other.
func (b *builder) jointSteps(list []body.Step, j body.Joint, id body.PartID, phase int, when string) []*node {
	fresh, p := b.fresh(j), b.part(id)
	m := measure{mm: float64(j.Length), known: true, from: "joint " + string(j.ID)}
	var out []*node
	var last *node
	for _, st := range list {
		if !stepDone(st, fresh) {
			continue
		}
		s := fromStep(st)
		s.Name, s.Ref, s.Part, s.For, s.Cite = st.Name+": "+j.Name, "joint "+string(j.ID)+"/"+st.ID, id, b.whose(id), j.Cite
		s.Side, s.Lift = p.Side, p.Lift
		s.Minutes, s.Sum = minutes(st, m, j.Count, "fasteners")
		if st.PerMetre != 0 || perMetre(st.Uses) {
			s.LengthMM = m.mm
		}
		s.Because = fmt.Sprintf("joint %s, %s", j.ID, when)
		if st.NewPart == body.Yes {
			s.Because += "; a part of it is new"
		}
		n := b.add(phase, s)
		where := string(j.ID) + "/" + st.ID
		b.readings(n, st, where)
		b.setWait(n, st.Wait, where)
		b.stepUses(n, st.Uses, m.mm, where)
		if st.NewPart == body.Yes {
			b.takesNew(n, j)
		}
		if st.Together != "" {
			b.join(n, last, st.Together+"-"+string(j.ID), st)
		} else {
			b.onOneDay(n, st)
		}
		if last != nil {
			n.after = append(n.after, last)
		}
		out, last = append(out, n), n
	}
	return out
}

// takesNew keeps a step of a joint back until the new parts of the joint are delivered.
func (b *builder) takesNew(n *node, j body.Joint) {
	for _, p := range b.comesOff(j) {
		if _, lost := b.whyLost(p); lost {
			n.step.Takes = append(n.step.Takes, p)
			b.awaits(n, b.part(p))
		}
	}
}
