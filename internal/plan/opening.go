package plan

import (
	"slices"
	"sort"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
)

// goal is something that must be reached or come off, and for whom.
type goal struct {
	to   string
	name string // in a sentence: "zone Z2", "section line S1", "the fender"
	why  string

	casting body.CastingID // of a zone or section line
	finds   []job.FindingID
}

// opened is the opening of the plan.
type opened struct {
	model   *removal
	found   found
	order   []int       // of removal, in model.ids
	on      []int       // of refit
	offWay  [][3]string // by place in the order: what is changed before
	onWay   [][3]string
	off     Changes
	refit   Changes
	after   []set // by part: what was off before, and let it come off
	forOf   map[body.PartID][]string
	why     map[body.PartID]string       // targets: why it has to come off itself
	joints  map[body.PartID][]body.Joint // by the part with which they are opened
	closes  map[body.PartID][]body.Joint // and closed
	onAfter map[body.PartID][]body.PartID
	// inRepair are the parts that come off as part of the repair: a casting that is
	// replaced, and what can only come off after it.
	inRepair set
}

const maxParts = 64

// removalLimit is the number of sets the search for the opening may look at.
const removalLimit = 200000

// findOpening chooses the parts that come off and their order.
func (b *builder) findOpening() {
	if goals, ok := b.chooseParts(); ok {
		b.orderParts(goals)
	}
}

// chooseParts chooses the parts that come off, and says for what; false where nothing can.
func (b *builder) chooseParts() ([]goal, bool) {
	targets, why, goals := b.targets()
	b.open = opened{why: why, forOf: map[body.PartID][]string{}, joints: map[body.PartID][]body.Joint{}}
	return goals, b.chooseOpening(targets, goals)
}

// orderParts puts what comes off into an order, and what goes back on.
func (b *builder) orderParts(goals []goal) {
	if b.in.expose != nil {
		b.stage()
	}
	b.orderOff()
	b.findInRepair()
	b.explainOpening(goals)
	b.firstOpened()
	b.orderOn()
}

// stuck names the parts that cannot come off even when all others may.
func (b *builder) stuck(m *removal) string { return join(b.stuckParts(m)) }

func (b *builder) stuckParts(m *removal) []body.PartID {
	all := set(0)
	for i := range m.ids {
		all |= 1 << i
	}
	_, _, s := m.off(all)
	return m.named(s)
}

// neverOff is the parts that cannot be taken out and without which nothing else can be reached;
// none where there is no way even if they could be.
func neverOff(m *removal) []body.PartID {
	if m.never == 0 {
		return nil
	}
	any := *m
	any.never = 0
	return m.named(any.solve().set & m.never)
}

// named is the members of a set.
func (r *removal) named(s set) []body.PartID {
	var out []body.PartID
	for _, i := range s.items() {
		out = append(out, r.ids[i])
	}
	return out
}

func join(ids []body.PartID) string {
	names := make([]string, len(ids))
	for i, id := range ids {
		names[i] = string(id)
	}
	return strings.Join(names, ", ")
}

// targets lists the parts that come off for their own sake, and the goals that
// only have to be reached.
func (b *builder) targets() (map[body.PartID]bool, map[body.PartID]string, []goal) {
	parts, why := map[body.PartID]bool{}, map[body.PartID]string{}
	var goals []goal
	aim := func(x goal) {
		k := slices.IndexFunc(goals, func(g goal) bool { return g.to == x.to })
		if k < 0 {
			goals = append(goals, x)
			return
		}
		if !slices.Contains(strings.Split(goals[k].why, ", "), x.why) {
			goals[k].why += ", " + x.why
		}
		goals[k].finds = append(goals[k].finds, x.finds...)
	}
	for _, it := range b.items {
		who := findingsText(it.Findings)
		switch it.Kind {
		case body.Leave:
		case body.Exchange, body.ReplacePart:
			for _, p := range b.exchanged(it) {
				parts[p], why[p] = true, "is exchanged for "+who
			}
		case body.ReplaceCasting:
			parts[it.Part], why[it.Part] = true, "is replaced for "+who
		case body.SectionOff:
			line, _ := b.in.Body.Line(it.Line)
			aim(goal{string(it.Line), "section line " + string(it.Line), who, line.Casting, slices.Clone(it.Findings)})
		default:
			for _, f := range it.Findings {
				fd := b.findings[f]
				for _, z := range fd.Zones {
					aim(goal{string(z.Zone), "zone " + string(z.Zone), string(f), fd.Casting, []job.FindingID{f}})
				}
				if fd.Casting != "" && len(fd.Zones) == 0 {
					b.block(string(f), diag.Say("plan.no-zone", "{finding} lies on casting {casting} but in no known zone, so what is in the way cannot be told", f, fd.Casting), "enter its trace on the casting")
				}
				if fd.Casting == "" {
					aim(goal{to: string(fd.Part), name: b.part(fd.Part).Name, why: string(f), finds: []job.FindingID{f}})
				}
			}
		}
	}
	if b.in.expose != nil {
		for _, x := range b.in.expose.see {
			for _, g := range goalsOf(x) {
				aim(g)
			}
		}
	}
	sort.Slice(goals, func(i, j int) bool { return goals[i].to < goals[j].to })
	return parts, why, goals
}

// exchanged is the part an item exchanges: its own, or those of its findings.
func (b *builder) exchanged(it Item) []body.PartID {
	if it.Part != "" {
		return []body.PartID{it.Part}
	}
	var out []body.PartID
	for _, f := range it.Findings {
		if p := b.findings[f].Part; p != "" && !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	return out
}

func findingsText(ids []job.FindingID) string {
	s := make([]string, len(ids))
	for i, id := range ids {
		s[i] = string(id)
	}
	return list(s)
}

// list joins words as a sentence does.
func list(s []string) string {
	switch len(s) {
	case 0:
		return "nothing"
	case 1:
		return s[0]
	}
	return strings.Join(s[:len(s)-1], ", ") + " and " + s[len(s)-1]
}

// accessTo is every access entry of a part, zone or section line. A casting
// that is replaced has one more: what lies over it or is bolted to it.
func (b *builder) accessTo(to string) [][][]body.PartID {
	var out [][][]body.PartID
	for _, a := range b.in.Body.Access {
		if a.To == to && len(a.Needs) > 0 {
			out = append(out, b.needsOf(a.Needs, body.PartID(to))...)
		}
	}
	if ps, ok := b.members[body.PartID(to)]; ok && len(out) == 0 && !b.hasAccess(to) {
		for _, p := range ps { // what is in the way of its parts is in its way
			for _, a := range b.in.Body.Access {
				if a.To == string(p) {
					out = append(out, b.needsOf(a.Needs, body.PartID(to))...)
				}
			}
		}
	}
	for _, it := range b.items {
		var over []body.PartID
		switch {
		case it.Kind == body.ReplaceCasting && string(it.Part) == to:
			over = b.mapped(b.attached(it.Part))
		case it.Kind.NewPart() && !b.hasAccess(to) && slices.Contains(b.exchanged(it), body.PartID(to)):
			over, _ = b.outside(body.PartID(to))
			over = b.mapped(over)
		}
		if len(over) > 0 {
			out = append(out, [][]body.PartID{over})
		}
	}
	return out
}

// hasAccess says that the body gives an entry for it, even one that asks for
// nothing outside.
func (b *builder) hasAccess(to string) bool { return b.in.Body.SaysAccess(to) }

// needsOf is an entry with assemblies in the place of their parts; none when an
// alternative asks for nothing but the thing itself.
func (b *builder) needsOf(needs [][]body.PartID, to body.PartID) [][][]body.PartID {
	var entry [][]body.PartID
	for _, alt := range needs {
		ps := slices.DeleteFunc(b.mapped(alt), func(p body.PartID) bool { return p == to })
		if len(ps) == 0 {
			return nil
		}
		entry = append(entry, ps)
	}
	return [][][]body.PartID{entry}
}

// attached is what must be off before a casting is taken out of the vehicle:
// in every joint of it the layers outside it, and whatever is bolted on.
func (b *builder) attached(casting body.PartID) []body.PartID {
	var out []body.PartID
	for _, j := range b.allJoints {
		at := slices.Index(j.Layers, casting)
		if at < 0 {
			continue
		}
		for k, p := range j.Layers {
			if p != casting && (k < at || b.parts[p].BoltOn) && !slices.Contains(out, p) {
				out = append(out, p)
			}
		}
	}
	slices.Sort(out)
	return out
}

// outside is what lies over a part in its joints and comes off before it, where no list says what
// does. What is bolted on is reached beside what is not; over what is riveted, bonded or welded in
// lies all that is outside it. False: it lies under a casting, or under what never comes off, and
// nobody says how it is reached.
func (b *builder) outside(id body.PartID) ([]body.PartID, bool) {
	var out []body.PartID
	reached := true
	for _, j := range b.allJoints {
		for _, p := range j.Layers[:max(slices.Index(j.Layers, id), 0)] {
			q := b.parts[p]
			switch {
			case b.parts[id].BoltOn && !q.BoltOn || p == id || slices.Contains(out, p):
			case q.Kind == body.PartCasting || q.Comes == body.Never:
				reached = false
			default:
				out = append(out, p)
			}
		}
	}
	slices.Sort(out)
	return out, reached
}

// relevant is every part that can have to do with the opening, sorted.
func (b *builder) relevant(targets map[body.PartID]bool, goals []goal) []body.PartID {
	seen := map[body.PartID]bool{}
	var queue []body.PartID
	add := func(p body.PartID) {
		if !seen[p] {
			seen[p] = true
			queue = append(queue, p)
		}
	}
	reach := func(to string) {
		for _, entry := range b.accessTo(to) {
			for _, alt := range entry {
				for _, p := range alt {
					add(p)
				}
			}
		}
	}
	for p := range targets {
		add(p)
	}
	for _, g := range goals {
		reach(g.to)
	}
	for len(queue) > 0 {
		p := queue[0]
		queue = queue[1:]
		reach(string(p))
		for _, j := range b.joints {
			if slices.Contains(j.Layers, p) {
				for _, d := range j.Destroys {
					add(d)
				}
			}
		}
	}
	ids := make([]body.PartID, 0, len(seen))
	for p := range seen {
		ids = append(ids, p)
	}
	slices.Sort(ids)
	return ids
}

// firstOpened gives every joint to the part with which it is opened.
func (b *builder) firstOpened() {
	done := map[body.JointID]bool{}
	for _, i := range b.open.order {
		id := b.open.model.ids[i]
		for _, j := range b.joints {
			if !done[j.ID] && slices.Contains(j.Layers, id) {
				done[j.ID] = true
				b.open.joints[id] = append(b.open.joints[id], j)
			}
		}
	}
}
