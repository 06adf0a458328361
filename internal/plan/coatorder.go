package plan

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
)

// A coating has no phase of its own. Off the vehicle it comes before its parts are fitted; on the
// vehicle after everything that is repaired and after its parts are fitted, and whatever is not
// needed for that is fitted when it is dry. Outside paint comes after the structural work, and
// dust before it.

// fittedBy is the steps that fit a part: those that use it, that put it back on and that close
// its joints.
func (b *builder) fittedBy(id body.PartID, on map[body.PartID][]*node) []*node {
	out := slices.Clone(on[b.mapped([]body.PartID{id})[0]])
	for _, n := range b.nodes {
		if slices.Contains(n.step.Takes, id) && !slices.Contains(out, n) && b.coats.of(n) == nil {
			out = append(out, n)
		}
	}
	return out
}

// coatings is every coating of the job.
type coatings []*coating

// of is the coating that a step belongs to; nil: to none.
func (l coatings) of(n *node) *coating {
	if k := slices.IndexFunc(l, func(c *coating) bool { return slices.Contains(c.nodes, n) }); k >= 0 {
		return l[k]
	}
	return nil
}

// workOn is the steps of the treatments that work on a part which is no new one.
func (b *builder) workOn(id body.PartID) []*node {
	var out []*node
	for k, it := range b.items {
		if !renews(it.Kind) && slices.ContainsFunc(it.Findings, func(f job.FindingID) bool { return b.findings[f].Part == id }) {
			out = append(out, b.own[k]...)
		}
	}
	return out
}

// tieCoats puts the steps of each coating after one another, after the work on its parts, and
// before or after those are fitted.
func (b *builder) tieCoats(wants map[body.TaskID]*taskWant, off, on map[body.PartID][]*node) {
	for _, c := range b.coats {
		b.coatNodes(c, wants)
	}
	fresh := b.newParts()
	for _, c := range b.coats {
		for _, a := range slices.Concat(c.painted, c.blended) {
			fits := b.fittedBy(a.Part, on)
			before := slices.Concat(b.workOn(a.Part), off[b.mapped([]body.PartID{a.Part})[0]])
			c.onCar = c.onCar || len(fits) == 0 || c.of.When == body.CoatFitted
			if c.of.When == body.CoatFitted {
				before = append(before, fits...)
			} else {
				for _, n := range fits {
					n.after = append(n.after, c.nodes...)
				}
				if slices.Contains(fresh, a.Part) {
					for _, n := range c.nodes[:1] {
						n.step.Takes = append(n.step.Takes, a.Part)
						b.awaits(n, b.part(a.Part))
					}
				}
			}
			for _, n := range c.nodes {
				n.after = append(n.after, before...)
			}
		}
	}
}

// coatNodes are the steps of a coating in the order of its lists.
func (b *builder) coatNodes(c *coating, wants map[body.TaskID]*taskWant) {
	for _, ids := range [][]body.TaskID{c.of.Tasks, c.of.Blend} {
		var last *node
		for _, id := range ids {
			w := wants[id]
			if w == nil || w.coat != c {
				continue
			}
			if last != nil {
				w.node.after = append(w.node.after, last)
			}
			w.node.step.Phase = PhaseCheck // it neither treats a finding nor closes anything
			if last = w.node; !slices.Contains(c.nodes, last) {
				c.nodes = append(c.nodes, last)
			}
		}
	}
}

// before is every step that some steps come after, themselves included.
func before(nodes []*node) map[*node]bool {
	out := map[*node]bool{}
	var walk func(n *node)
	walk = func(n *node) {
		if out[n] {
			return
		}
		out[n] = true
		for _, p := range n.after {
			walk(p)
		}
	}
	for _, n := range nodes {
		walk(n)
	}
	return out
}

// following is every step that comes after one of some steps, these included.
func (b *builder) following(nodes []*node) map[*node]bool {
	next := map[*node][]*node{}
	for _, n := range b.nodes {
		for _, p := range n.after {
			next[p] = append(next[p], n)
		}
	}
	out := map[*node]bool{}
	var walk func(n *node)
	walk = func(n *node) {
		if out[n] {
			return
		}
		out[n] = true
		for _, x := range next[n] {
			walk(x)
		}
	}
	for _, n := range nodes {
		walk(n)
	}
	return out
}

// orderCoats gives each coating its place among all other steps.
func (b *builder) orderCoats() {
	for _, c := range b.coats {
		if len(c.nodes) == 0 {
			continue
		}
		late := b.following(c.nodes)
		var early []*node
		for _, n := range b.nodes {
			switch o := b.coats.of(n); {
			case late[n] || o == c:
			case o != nil && o.place < c.place || o == nil && (b.structural(c, n) || c.dusty(n)):
				early = append(early, n)
			}
		}
		for _, n := range c.nodes {
			n.after = append(n.after, early...)
		}
		b.dustAfter(c, late)
		if !c.onCar {
			continue
		}
		soon := before(c.nodes)
		for _, n := range b.nodes {
			if n.phase >= closeUp && !soon[n] {
				n.after = append(n.after, c.nodes...)
			}
		}
	}
}

// structural says that a step comes before a coating where nothing asks for the contrary: on the
// vehicle all that is not refit, off it the repair before the outside is painted.
func (b *builder) structural(c *coating, n *node) bool {
	if c.onCar {
		return n.phase < closeUp
	}
	return c.of.Surface == body.OuterSurface && n.phase == repair
}

// dusty says that a step makes dust where the outside is painted, as far as the data show.
func (c *coating) dusty(n *node) bool {
	return c.of.Surface == body.OuterSurface && slices.Contains(n.step.Cautions, body.Dust) &&
		slices.ContainsFunc(c.nodes, func(p *node) bool { return p.step.Bay == "" || n.step.Bay == "" || p.step.Bay == n.step.Bay })
}

// dustAfter tells of dust that cannot but come after the paint, in the same kind of bay.
func (b *builder) dustAfter(c *coating, late map[*node]bool) {
	for _, n := range b.nodes {
		if late[n] && b.coats.of(n) == nil && c.dusty(n) {
			b.note(diag.Caution, n.step.Name, diag.Say("plan.dust-after-paint", "{step:q} makes dust after {parts} was painted, and no data say that it is done elsewhere", n.step.Name, list(names(c.painted))),
				"give the painting or the step a bay of another kind, or cover what is painted")
		}
	}
}

func names(l []Area) []string {
	var out []string
	for _, a := range l {
		out = append(out, a.Name)
	}
	return out
}
