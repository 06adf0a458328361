package plan

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// makeSteps makes every step of the plan and what it waits for.
// It is false where no order of them is known.
func (b *builder) makeSteps() ([]Saved, bool) {
	wants := b.wantTasks()
	tied := b.addTasks(wants)
	off := b.openSteps()
	b.fixedFirst(wants, off)
	b.inspectSteps(wants, off)
	casting := b.repairSteps(wants, off)
	on := b.refitSteps(casting, off)
	for _, id := range sortedWants(wants) {
		w := wants[id]
		for _, p := range w.before {
			for _, n := range off[p] {
				n.after = append(n.after, w.node)
			}
		}
		for _, p := range w.after {
			w.node.after = append(w.node.after, on[p]...)
		}
	}
	b.tieCoats(wants, off, on)
	b.byRecord(mergeLost(b.lost))
	b.refittedFirst(wants, on)
	b.keepStates(wants, off, on)
	b.measureLast(wants)
	b.noMeasuring(wants)
	b.bareReplacement()
	b.tellUnlisted()
	b.orderPhases(tied)
	b.orderCoats()
	b.heatAll(on)
	laid := b.outsideStates(wants)
	saved := append(b.saved(wants), b.savedSteps()...)
	if laid && !b.sortNodes() {
		b.noOrder(diag.Say("plan.circle", "steps wait for one another; no order of work exists: {circle}", b.circle()), "one of these rules has to give way: check them in the body folder")
	}
	return saved, b.unplanned == ""
}

func sortedWants(wants map[body.TaskID]*taskWant) []body.TaskID {
	ids := make([]body.TaskID, 0, len(wants))
	for id := range wants {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	return ids
}

// openSteps makes one step for every part that comes off, with the joints
// opened for it; joints of another skill or bay are a step of their own before.
func (b *builder) openSteps() map[body.PartID][]*node {
	out, later := map[body.PartID][]*node{}, map[body.PartID][]*node{}
	m := b.open.model
	for k, i := range b.open.order {
		id := m.ids[i]
		p := b.part(id)
		phase := openUp
		if b.open.inRepair.has(i) {
			phase = repair
		}
		main := b.partStep(phase, p, "Take off "+p.Name, b.becauseOff(id), float64(p.Off), "handling")
		main.step.Phase = PhaseOpen
		main.step.Ref, main.step.Change = "off "+string(id), changeWords(b.open.offWay[k])
		for _, j := range b.open.joints[id] {
			n := b.jointNode(main, p, j, "Open "+j.Name, float64(j.Open))
			n.step.Phase = PhaseOpen
			n.warn(openCautions(j))
			if n != main {
				n.step.Ref = "open " + string(j.ID)
				main.after = append(main.after, n)
				out[id] = append(out[id], n)
			}
		}
		out[id] = append(out[id], main)
		for k := range m.ids {
			if b.open.after[i].has(k) {
				for _, n := range out[id] {
					n.after = append(n.after, out[m.ids[k]]...)
				}
			}
		}
		for _, j := range b.open.joints[id] {
			b.tieJoint(j, id, func(other body.PartID) { later[other] = append(later[other], out[id]...) })
		}
	}
	for p, before := range later {
		for _, n := range out[p] {
			n.after = append(n.after, before...)
		}
	}
	return out
}

// tieJoint calls f for every other part of the joint that comes off too: it
// waits until the joint is open, and is back on before the joint is closed.
func (b *builder) tieJoint(j body.Joint, first body.PartID, f func(body.PartID)) {
	for _, p := range j.Layers {
		if k, ok := slices.BinarySearch(b.open.model.ids, p); ok && p != first && b.open.found.set.has(k) {
			f(p)
		}
	}
}

// partStep is the handling of a part, off or on.
func (b *builder) partStep(phase int, p body.Part, name, because string, min float64, what string) *node {
	return b.add(phase, Step{Name: name, Part: p.ID, Skill: p.Skill, Minutes: min,
		Sum: fmt.Sprintf("%s %s min", what, num(min)), Because: because, For: b.whose(p.ID),
		Tool: p.Tool, Side: p.Side, Lift: p.Lift, Cautions: partCautions(b.in.Body, p, b.whole(p.ID), b.in.Shop.LiftLimit), Notes: liftNote(p, b.in.Shop.LiftLimit)})
}

// jointNode adds a joint's time to the part's step when skill and bay agree;
// else it makes a step of its own.
func (b *builder) jointNode(main *node, p body.Part, j body.Joint, name string, min float64) *node {
	s := &main.step
	same := j.Skill == p.Skill && (j.Bay == "" || s.Bay == "" || j.Bay == s.Bay)
	if !same {
		n := b.partStep(main.phase, p, name, s.Because, min, "joint "+string(j.ID))
		n.step.Skill, n.step.Bay, n.step.Cite = j.Skill, j.Bay, j.Cite
		return n
	}
	s.Minutes += min
	s.Sum += fmt.Sprintf(" + joint %s %s min", j.ID, num(min))
	if j.Bay != "" {
		s.Bay = j.Bay
	}
	if j.Cite != "" {
		s.Cite = j.Cite
	}
	return main
}

// whose is the findings a part comes off for.
func (b *builder) whose(id body.PartID) []job.FindingID {
	var out []job.FindingID
	for _, it := range b.items {
		if it.Part == id || it.Kind.NewPart() && slices.Contains(b.exchanged(it), id) {
			out = append(out, it.Findings...)
		}
	}
	return out
}

// repairSteps makes the steps of every item, one after the other. It returns
// the last step of the items that replace a casting, by its part.
func (b *builder) repairSteps(wants map[body.TaskID]*taskWant, off map[body.PartID][]*node) map[body.PartID]*node {
	casting := map[body.PartID]*node{}
	for k, it := range b.items {
		t := b.treatment(it)
		m := b.length(it)
		var last, first *node
		var own []*node
		for _, st := range t.Steps {
			n, made := b.stepOnce(it, t, st, m)
			own = append(own, n)
			switch {
			case !made: // for another item already
			case st.Together != "":
				b.join(n, last, fmt.Sprintf("%s-%d", st.Together, k+1), st)
				b.onOneDay(n, st)
			default:
				b.bondAlone(n)
				b.onOneDay(n, st)
			}
			if last != nil {
				n.after = append(n.after, last)
			} else {
				first = n
			}
			last = n
		}
		b.own = append(b.own, own)
		b.bondWaits(own, string(it.Treatment))
		b.apart(b.joinedBy(it))
		b.itemAwaits(it, own)
		for _, id := range t.Requires {
			if first != nil {
				first.after = append(first.after, wants[id].node)
			}
		}
		if first != nil {
			for _, p := range b.openedFor(it) {
				first.after = append(first.after, off[p]...)
			}
			if it.Kind == body.SectionOff || b.pulls(it) {
				first.after = append(first.after, b.fixing...)
			}
		}
		for _, id := range t.After {
			if last != nil && wants[id].phase > repair {
				wants[id].node.after = append(wants[id].node.after, last)
			}
		}
		if it.Kind == body.ReplaceCasting {
			casting[it.Part] = last
		}
	}
	return casting
}

// bondWaits lets nothing follow a bond before it may be handled, also where the body
// gives its step no wait; steps done in one go with it belong to the bonding.
func (b *builder) bondWaits(own []*node, where string) {
	for i, n := range own {
		k := i
		for n.step.Together != "" && k+1 < len(own) && own[k+1].step.Together == n.step.Together {
			k++
		}
		for _, m := range n.step.Bonds {
			b.cureWait(own[k], m, false, where)
		}
	}
}

// itemStep makes one step of a treatment.
func (b *builder) itemStep(it Item, t body.Treatment, st body.Step, m measure) *node {
	laid, formula := b.rivets(it, st, m)
	rivets := 0
	if laid != nil {
		rivets = laid.Count
	}
	if !m.known && (st.PerMetre != 0 || st.Layout != nil || perMetre(st.Uses)) {
		b.block(findingsText(it.Findings), diag.Say("plan.no-length", "{flaw}; times and materials by length are left out", m.flaw), "")
	}
	surface := b.itemAreas(it, st.Surface)
	m.m2, _, m.over = surface.sum()
	s := fromStep(st)
	s.For, s.Cite, s.Line = it.Findings, t.Cite, it.Line
	s.Minutes, s.Sum = minutes(st, m, rivets, "rivets")
	if m.known && (st.PerMetre != 0 || st.Layout != nil || perMetre(st.Uses)) {
		s.LengthMM = m.mm
	}
	s.Because = fmt.Sprintf("%s of %s", t.Name, findingsText(it.Findings)) + b.reached(it)
	where := string(it.Treatment) + "/" + st.ID
	s.Ref, s.Laid, s.Bonds = where+" "+findingsText(it.Findings), laid, b.in.Body.Bonds(st)
	if t.UsesNewPart(st) {
		s.Takes = b.boughtBy(it)
	}
	n := b.add(repair, s)
	n.rolls, n.while, n.never = st.Rolls, st.While, st.NotWhile
	b.readings(n, coatReadings(st, surface), where)
	b.dry(n, st, where, surface, nil)
	for _, id := range adhesives(st, b.mats) {
		b.openTime(n, b.mats[id])
	}
	b.onSurface(n, st, surface, where)
	if m.known {
		b.stepUses(n, st.Uses, m.mm, where)
		b.layoutUses(n, it, st, m, rivets, formula)
	} else {
		b.stepUses(n, eachOf(st.Uses), 0, where)
	}
	return n
}

func perMetre(uses []body.Use) bool {
	return slices.ContainsFunc(uses, func(u body.Use) bool { return u.PerMetre.Value != 0 || u.PerArea.Value != 0 && !u.BySurface() })
}

// join puts the step into the chain of the step before it when both carry the
// same word; the shortest working time of their adhesives limits the chain. The same word
// again after a break is another stage.
func (b *builder) join(n, last *node, word string, st body.Step) {
	var c *chainWant
	if last != nil {
		c = b.chain[last.step.Together]
	}
	if c == nil || c.word != word {
		c = &chainWant{id: word, word: word}
		for b.chain[c.id] != nil {
			c.id += "'"
		}
		b.chain[c.id] = c
	} else if last.step.WaitMin > 0 {
		b.block(last.step.Name, diag.Say("plan.wait-in-chain", "{step:q} is to be done in one go with the step after it, but a wait of {wait} min follows it", last.step.Name, figure(last.step.WaitMin)),
			"take the wait or the word 'together' out of the step")
		last.step.WaitMin, last.step.WaitName = 0, ""
	}
	n.step.Together = c.id
	c.nodes = append(c.nodes, n)
	for _, a := range adhesives(st, b.mats) {
		t, ok := b.curing(a, n.step.Name)
		if !ok {
			c.unknown = true
			continue
		}
		c.limit(t, b.mats[a].Name)
	}
}

// adhesives is every material of the step that has a working time.
func adhesives(st body.Step, mats map[body.MaterialID]body.Material) []body.MaterialID {
	var out []body.MaterialID
	add := func(id body.MaterialID) {
		if m := mats[id]; (m.Kind == body.Adhesive || len(m.Cure) > 0) && !slices.Contains(out, id) {
			out = append(out, id)
		}
	}
	if st.Layout != nil {
		add(st.Layout.Adhesive)
	}
	for _, u := range st.Uses {
		add(u.Material)
	}
	if st.Wait != nil {
		add(st.Wait.Cure)
	}
	return out
}

// itemAwaits keeps an item back until its answer is there, and the first of its steps
// that uses a new part until that is delivered.
func (b *builder) itemAwaits(it Item, own []*node) {
	if it.Kind == body.SectionOff {
		if line, ok := b.in.Body.Line(it.Line); ok {
			p := b.part(line.Piece)
			b.lost = append(b.lost, Lost{p.ID, p.Name, "replaces what is cut off", 1})
		}
	}
	for _, id := range b.boughtBy(it) {
		if k := slices.IndexFunc(own, func(n *node) bool { return slices.Contains(n.step.Takes, id) }); k >= 0 {
			b.awaits(own[k], b.part(id))
		}
	}
	if it.Open && !it.Ask {
		b.note(diag.Caution, findingsText(it.Findings), diag.Say("plan.measure-first", "the treatment of {findings} is assumed; a better measurement has to decide it before work starts", findingsText(it.Findings)), "see what would decide it")
	}
	if it.Ask {
		s := b.in.Shop
		if len(own) > 0 {
			awaitIn(own[0], Awaited{Kind: Answer, Name: "the manufacturer's answer", Minutes: float64(s.AnswerTime), Low: float64(s.AnswerLow), High: float64(s.AnswerHigh)})
		}
		b.note(diag.Caution, findingsText(it.Findings), diag.Say("plan.waits-for-answer", "the treatment of {findings} waits for an answer; {time} are reckoned for it", findingsText(it.Findings), b.in.Shop.AnswerTime.Words()), "")
	}
}

// awaits keeps a step back until a new part is delivered. Where nobody says how long that
// takes the part is not taken as in stock: see byRecord.
func (b *builder) awaits(n *node, p body.Part) {
	n.step.Awaits = append(n.step.Awaits, Awaited{Kind: Delivery, Name: "delivery of " + p.Name, Part: p.ID, Minutes: float64(p.Delivery.Value), Unknown: !p.Delivery.Known, Low: float64(p.DeliveryLow), High: float64(p.DeliveryHigh)})
}

// awaitIn keeps a step back until something has arrived.
func awaitIn(n *node, r Awaited) {
	if n != nil && (r.Minutes > 0 || r.Unknown) {
		n.step.Awaits = append(n.step.Awaits, r)
	}
}

// Words says what is waited for and how long, with the spread where one is
// given.
func (r Awaited) Words() string {
	if r.Unknown {
		return fmt.Sprintf("waits for %s; nobody says when it arrives%s", r.Name, r.spent())
	}
	switch {
	case !r.Arrived.IsZero():
		return fmt.Sprintf("waits for %s, on record as there on %s (%s)%s", r.Name, r.Arrived, r.Record, r.spent())
	case !r.Promised.IsZero():
		return fmt.Sprintf("waits for %s, promised for %s (%s)%s%s", r.Name, r.Promised, r.Record, r.part(), r.spent())
	}
	s := fmt.Sprintf("waits for %s, %s from the start of the job", r.Name, unit.Minutes(r.Minutes).Words())
	if r.High > 0 {
		s += fmt.Sprintf(" (%s to %s)", unit.Minutes(r.Low).Words(), unit.Minutes(r.High).Words())
	}
	return s
}

// spent says how much of what came may not be used any more.
func (r Awaited) spent() string {
	if r.Spent == 0 {
		return ""
	}
	return fmt.Sprintf("; %d that came may not be used any more", r.Spent)
}

// part says how much of it has come, where that is not all.
func (r Awaited) part() string {
	if r.Pieces < 2 {
		return ""
	}
	return fmt.Sprintf(", %d of %d have come", r.Came, r.Pieces)
}
