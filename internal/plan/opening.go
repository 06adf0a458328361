package plan

import (
	"fmt"
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
}

// opened is the opening of the plan.
type opened struct {
	model  *removal
	found  found
	order  []int // of model.ids
	after  []set // by part: what was off before, and let it come off
	forOf  map[body.PartID][]string
	why    map[body.PartID]string // targets: why it has to come off itself
	joints map[body.PartID][]body.Joint
}

const maxParts = 64

// removalLimit is the number of sets the search for the opening may look at.
const removalLimit = 200000

// findOpening chooses the parts that come off and their order.
func (b *builder) findOpening() {
	targets, why, goals := b.targets()
	b.open = opened{why: why, forOf: map[body.PartID][]string{}, joints: map[body.PartID][]body.Joint{}}
	ids := b.relevant(targets, goals)
	if len(ids) > maxParts {
		b.block("plan.too-many-parts", "opening", fmt.Sprintf("%d parts could be in the way; the search takes %d", len(ids), maxParts), "treat the findings in two jobs")
		return
	}
	m := b.removalModel(ids, targets, goals)
	b.open.model, b.open.found = m, m.solve()
	f := b.open.found
	if !f.proven {
		b.note(diag.Caution, "plan.opening-not-proven", "opening", fmt.Sprintf("the opening was chosen after %d sets of parts; a cheaper one may exist", f.nodes), "")
	}
	if !f.ok {
		b.block("plan.no-opening", "opening", "no order exists in which everything in the way can come off: parts wait for one another", "check the access lists of "+b.stuck(m))
		return
	}
	b.open.order, b.open.after, _ = m.off(f.set)
	b.explainOpening(goals)
	b.firstOpened()
}

// stuck names the parts that cannot come off even when all others may.
func (b *builder) stuck(m *removal) string {
	all := set(0)
	for i := range m.ids {
		all |= 1 << i
	}
	_, _, s := m.off(all)
	var names []string
	for i, id := range m.ids {
		if s.has(i) {
			names = append(names, string(id))
		}
	}
	return strings.Join(names, ", ")
}

// targets lists the parts that come off for their own sake, and the goals that
// only have to be reached.
func (b *builder) targets() (map[body.PartID]bool, map[body.PartID]string, []goal) {
	parts, why := map[body.PartID]bool{}, map[body.PartID]string{}
	var goals []goal
	aim := func(to, name, why string) {
		if !slices.ContainsFunc(goals, func(g goal) bool { return g.to == to }) {
			goals = append(goals, goal{to, name, why})
		}
	}
	for _, it := range b.items {
		who := findingsText(it.Findings)
		switch it.Kind {
		case body.Leave:
		case body.Exchange:
			for _, p := range b.exchanged(it) {
				parts[p], why[p] = true, "is exchanged for "+who
			}
		case body.ReplaceCasting:
			parts[it.Part], why[it.Part] = true, "is replaced for "+who
		case body.SectionOff:
			aim(string(it.Line), "section line "+string(it.Line), who)
		default:
			for _, f := range it.Findings {
				fd := b.findings[f]
				for _, z := range fd.Zones {
					aim(string(z.Zone), "zone "+string(z.Zone), string(f))
				}
				if fd.Casting != "" && len(fd.Zones) == 0 {
					b.block("plan.no-zone", string(f), fmt.Sprintf("%s lies on casting %s but in no known zone, so what is in the way cannot be told", f, fd.Casting), "enter its trace on the casting")
				}
				if fd.Casting == "" {
					aim(string(fd.Part), b.part(fd.Part).Name, string(f))
				}
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
			out = append(out, a.Needs)
		}
	}
	for _, it := range b.items {
		if it.Kind == body.ReplaceCasting && string(it.Part) == to {
			if over := b.attached(it.Part); len(over) > 0 {
				out = append(out, [][]body.PartID{over})
			}
		}
	}
	return out
}

// attached is what must be off before a casting is taken out of the vehicle:
// in every joint of it the layers outside it, and whatever is bolted on.
func (b *builder) attached(casting body.PartID) []body.PartID {
	var out []body.PartID
	for _, j := range b.joints {
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
