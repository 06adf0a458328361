package plan

import (
	"fettle/internal/body"
	"fettle/internal/diag"
)

// While an adhesive is open the work goes on: a step that bonds is not torn apart by a
// break or a night, be it of a joint, of a treatment or a task. Steps that the body wants
// in one go are a chain; each other one that bonds is a chain of its own.

// alone makes a chain of one step that bonds. Where it is not said that the adhesives are
// open all the time the step takes, it may be longer than they can be worked; it is then
// kept in one go all the same.
func (b *builder) alone(n *node, id string, adhesives []body.MaterialID, exact bool) *chainWant {
	c := &chainWant{id: id, nodes: []*node{n}}
	for _, m := range adhesives {
		t, ok := timesAt(b.mats[m], b.in.Shop.Temp) // the wait for its cure tells what is wrong
		if !ok {
			c.unknown = true
			continue
		}
		c.limit(t, b.mats[m].Name)
	}
	c.works = c.window
	if c.loose = !exact && c.window > 0 && n.step.Minutes > c.window; c.loose {
		c.window = float64(whole(n.step.Minutes))
	}
	n.step.Together = c.id
	b.chain[c.id] = c
	return c
}

// limit takes the shortest time that an adhesive of the chain can be worked.
func (c *chainWant) limit(t times, name string) {
	if c.window == 0 || t.working < c.window {
		c.window, c.glue = t.working, name
	}
}

// onOneDay keeps a step from being left over a night where the body says so. One that takes
// longer than the shop's day cannot be kept so, which is told.
func (b *builder) onOneDay(n *node, st body.Step) {
	if !st.OneDay || n.step.Together != "" || n.step.Minutes <= 0 {
		return
	}
	windows, err := dayWindows(b.in.Shop.Calendar)
	if err != nil {
		return // the calendar itself is told
	}
	work, span := 0, windows[len(windows)-1].To-windows[0].From
	for _, w := range windows {
		work += w.To - w.From
	}
	if need := whole(n.step.Minutes); need > work {
		b.note(diag.Caution, n.step.Name, diag.Say("plan.over-night", "{step:q} is to be done on one day and takes {minutes} min; the shop's day has {day}: it goes on the next day", n.step.Name, figure(n.step.Minutes), work), "make two steps of it in the body folder")
		return
	}
	c := &chainWant{id: "day " + n.step.Ref, nodes: []*node{n}, window: float64(whole(n.step.Minutes) + span - work), loose: true}
	n.step.Together = c.id
	b.chain[c.id] = c
}

// bondAlone keeps a step of a treatment or a task in one go while its adhesives are open.
// What it does before the first bead counts too, since nobody says how long that is; where
// it takes longer than they can be worked, that is told.
func (b *builder) bondAlone(n *node) {
	if len(n.step.Bonds) == 0 {
		return
	}
	if c := b.alone(n, "bond "+n.step.Ref, n.step.Bonds, false); c.loose {
		b.note(diag.Caution, n.step.Name, diag.Say("plan.bond-working-time", "{step:q} takes {minutes} min; {material} can be worked for {window} min at {temperature}: from the first bead to the last fastener no more may pass, else two people or two stages are needed", n.step.Name, figure(n.step.Minutes), c.glue, figure(c.works), b.in.Shop.Temp), "make what is done before the first bead a step of its own")
	}
}
