package plan

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
)

// opening order: what comes off when, and what goes back on when. Each has its
// own precedence; the second is not the first read backwards.

// orderOff puts the parts that come off into the order with the least changes
// of tool, side and lift, and notes for each what had to be off before.
func (b *builder) orderOff() {
	m, o := b.open.model, &b.open
	chosen, local := o.found.set.items(), map[int]int{}
	ids := make([]body.PartID, len(chosen))
	for k, i := range chosen {
		ids[k], local[i] = m.ids[i], k
	}
	entries, first := make([][][]set, len(chosen)), make([]set, len(chosen))
	for k, i := range chosen {
		first[k] = (b.before(i) | b.beforeCasting(i)).moved(local)
		for _, e := range m.entries[i] {
			var alts []set
			for _, a := range e {
				if a.in(o.found.set) {
					alts = append(alts, a.moved(local))
				}
			}
			entries[k] = append(entries[k], alts)
		}
	}
	r, changes := b.arrange(ids, func(i int, done set) bool {
		_, ok := met(entries[i], done)
		return ok && first[i].in(done)
	})
	o.off, o.offWay = changes, b.changes(ids, r.order)
	o.order, o.after = nil, make([]set, len(m.ids))
	var gone set
	for _, k := range r.order {
		i := chosen[k]
		o.after[i], _ = met(m.entries[i], gone)
		o.order = append(o.order, i)
		gone |= 1 << i
	}
}

// items are the members of a set in order.
func (s set) items() []int {
	var out []int
	for i := range 64 {
		if s.has(i) {
			out = append(out, i)
		}
	}
	return out
}

// moved is the set with its members numbered anew.
func (s set) moved(to map[int]int) set {
	var out set
	for _, i := range s.items() {
		out |= 1 << to[i]
	}
	return out
}

// orderOn puts the parts back into an order of their own: after what had to wait
// for them to come off, after what the body says, and after a casting that is
// replaced. A joint is closed with the last of its parts.
func (b *builder) orderOn() {
	m, o := b.open.model, &b.open
	n := len(o.order)
	ids := make([]body.PartID, n)
	before := make([]set, n) // by place in the order of removal
	for k, i := range o.order {
		ids[k] = m.ids[i]
	}
	for k, i := range o.order {
		for l, j := range o.order {
			if o.after[j].has(i) || b.refitAfter(ids[k], ids[l]) || b.coversJoint(ids[k], ids[l]) || b.replaced(ids[l]) && !b.replaced(ids[k]) {
				before[k] |= 1 << l
			}
		}
	}
	r, changes := b.arrange(ids, func(i int, done set) bool { return before[i].in(done) })
	if !r.ok {
		b.block("refit", diag.Say("plan.refit-circle", "no order exists in which everything can go back on: parts wait for one another"), "check 'refit' in the body folder")
		for k := range n {
			r.order = append(r.order, n-1-k)
		}
	}
	o.refit, o.onWay = changes, b.changes(ids, r.order)
	o.on, o.onAfter = nil, map[body.PartID][]body.PartID{}
	for _, k := range r.order {
		o.on = append(o.on, o.order[k])
		for _, l := range before[k].items() {
			o.onAfter[ids[k]] = append(o.onAfter[ids[k]], ids[l])
		}
	}
	b.lastClosed()
}

// refitAfter says that the body wants other back on before id.
func (b *builder) refitAfter(id, other body.PartID) bool {
	for _, r := range b.in.Body.Refits {
		if slices.Contains(b.mapped([]body.PartID{r.Part}), id) && id != other && slices.Contains(b.mapped(r.After), other) {
			return true
		}
	}
	return false
}

// replaced says that the part is a casting that a new one takes the place of.
func (b *builder) replaced(id body.PartID) bool {
	return slices.ContainsFunc(b.items, func(it Item) bool { return it.Kind == body.ReplaceCasting && it.Part == id })
}

// lastClosed gives every joint to the part with which it is closed: the last of
// its parts that goes back on.
func (b *builder) lastClosed() {
	b.open.closes = map[body.PartID][]body.Joint{}
	for _, j := range b.joints {
		for k := len(b.open.on) - 1; k >= 0; k-- {
			if id := b.open.model.ids[b.open.on[k]]; slices.Contains(j.Layers, id) {
				b.open.closes[id] = append(b.open.closes[id], j)
				break
			}
		}
	}
}

// Refitting is a part that goes back on.
type Refitting struct {
	Part    body.PartID    `json:"part"`
	Name    string         `json:"name"`
	New     bool           `json:"new"`    // the old one is lost
	Joints  []body.JointID `json:"joints"` // joints closed with it
	After   []body.PartID  `json:"after"`  // parts that have to be on before
	Change  string         `json:"change,omitempty"`
	Because string         `json:"because"`
}

// refittings is the order of refit in words.
func (b *builder) refittings() []Refitting {
	var out []Refitting
	for k, i := range b.open.on {
		id := b.open.model.ids[i]
		_, lost := b.whyLost(id)
		r := Refitting{Part: id, Name: b.part(id).Name, New: lost, After: b.open.onAfter[id], Change: changeWords(b.open.onWay[k])}
		for _, j := range b.open.closes[id] {
			r.Joints = append(r.Joints, j.ID)
		}
		var names []string
		for _, p := range r.After {
			names = append(names, b.part(p).Name)
		}
		r.Because = "nothing has to be on before it"
		if len(names) > 0 {
			r.Because = fmt.Sprintf("goes on after %s", list(names))
		}
		out = append(out, r)
	}
	return out
}
