package plan

import (
	"cmp"
	"slices"
	"sort"

	"fettle/internal/body"
	"fettle/internal/diag"
)

// Parts that come off as one assembly are one node of the question (the AND/OR
// graph of Homem de Mello & Sanderson has them so): it takes the place of its
// parts in joints and access, and what joins its parts to one another stays
// closed. Every choice of assemblies that share no part is one question; the
// cheapest answer of all of them is taken.

// maxAssemblies is how many assemblies are weighed against one another: every
// subset of them is a question of its own.
const maxAssemblies = 6

// gather makes each of the assemblies one node of the model.
func (b *builder) gather(as []body.Assembly) {
	b.inside, b.members = map[body.PartID]body.PartID{}, map[body.PartID][]body.PartID{}
	for _, a := range as {
		whole := body.Part{ID: a.ID, Name: a.Name, Kind: "module", BoltOn: true, Off: a.Off, On: a.On, Skill: a.Skill, Tool: a.Tool, Side: a.Side, Lift: a.Lift}
		known, free := true, true
		for _, id := range a.Parts {
			b.inside[id] = a.ID
			whole.Mass += b.part(id).Mass
			known = known && b.part(id).Mass > 0
			free = free && b.part(id).Comes == body.Freely
			if b.part(id).Comes == body.Never {
				whole.Comes = body.Never
			}
		}
		if free {
			whole.Comes = body.Freely
		}
		if !known {
			whole.Mass = 0
		}
		b.members[a.ID] = a.Parts
		b.parts[a.ID] = whole
	}
	b.joints = nil
	for _, j := range b.allJoints {
		layers := b.mapped(j.Layers)
		if len(layers) == 1 && len(j.Layers) > 1 {
			continue // inside an assembly: it stays closed
		}
		j.Layers, j.Destroys = layers, b.mapped(j.Destroys)
		b.joints = append(b.joints, j)
	}
}

// mapped is parts with those inside an assembly replaced by it, each once.
func (b *builder) mapped(ids []body.PartID) []body.PartID {
	var out []body.PartID
	for _, id := range ids {
		if a, ok := b.inside[id]; ok {
			id = a
		}
		if !slices.Contains(out, id) {
			out = append(out, id)
		}
	}
	return out
}

// whole is the parts of an assembly, or the part itself.
func (b *builder) whole(id body.PartID) []body.PartID {
	if ps, ok := b.members[id]; ok {
		return ps
	}
	return []body.PartID{id}
}

// assemblies that may be used for an opening: no part of them has to come off
// for its own sake, a part of them can be in the way, and no joint that they open
// destroys one. More than maxAssemblies are left out, and the second
// result says so.
func (b *builder) assemblies(targets map[body.PartID]bool, ids []body.PartID) ([]body.Assembly, bool) {
	var out []body.Assembly
	for _, a := range b.in.Body.Assemblies {
		target := slices.ContainsFunc(a.Parts, func(p body.PartID) bool { return targets[p] })
		near := slices.ContainsFunc(a.Parts, func(p body.PartID) bool { return slices.Contains(ids, p) })
		torn := slices.ContainsFunc(b.allJoints, func(j body.Joint) bool {
			inner := !slices.ContainsFunc(j.Layers, func(p body.PartID) bool { return !slices.Contains(a.Parts, p) })
			opened := slices.ContainsFunc(j.Layers, func(p body.PartID) bool { return slices.Contains(a.Parts, p) })
			return opened && !inner && slices.ContainsFunc(a.Parts, func(p body.PartID) bool { return slices.Contains(j.Destroys, p) })
		})
		once := slices.ContainsFunc(a.Parts, func(p body.PartID) bool { return b.part(p).OneTime })
		if near && !target && !torn && !once {
			out = append(out, a)
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].ID < out[j].ID })
	if len(out) > maxAssemblies {
		return out[:maxAssemblies], false
	}
	return out, true
}

// question is one choice of assemblies with its model and answer.
type question struct {
	use   []body.Assembly
	model *removal
	found found
}

// questions asks for every choice of assemblies that share no part; the first
// is without any. The second result is false when some were left out, the
// third when a question has too many parts.
func (b *builder) questions(targets map[body.PartID]bool, goals []goal) (out []question, all bool, many int) {
	b.gather(nil)
	as, all := b.assemblies(targets, b.relevant(targets, goals))
	for pick := range 1 << len(as) {
		var use []body.Assembly
		used := map[body.PartID]bool{}
		clash := false
		for k, a := range as {
			if pick>>k&1 == 1 {
				use = append(use, a)
				for _, p := range a.Parts {
					clash = clash || used[p]
					used[p] = true
				}
			}
		}
		if clash {
			continue
		}
		b.gather(use)
		ids := b.relevant(targets, goals)
		if len(ids) > maxParts {
			if many = max(many, len(ids)); pick == 0 {
				return nil, all, many
			}
			all = false
			continue
		}
		out = append(out, question{use: use, model: b.removalModel(ids, targets, goals)})
	}
	return out, all, 0
}

// cheapest answers the questions and leaves the builder with the cheapest: of
// equal ones that with fewer assemblies, which comes first.
func (b *builder) cheapest(targets map[body.PartID]bool, goals []goal) (question, int) {
	qs, all, many := b.questions(targets, goals)
	var best question
	proven, bound, nodes := all, int64(-1), 0
	for _, q := range qs {
		q.found = q.model.solve()
		proven, nodes = proven && q.found.proven, nodes+q.found.nodes
		if bound < 0 || q.found.bound < bound {
			bound = q.found.bound
		}
		if best.model == nil || q.found.ok && (!best.found.ok || cmp.Or(cmp.Compare(q.found.vague, best.found.vague), cmp.Compare(q.found.cost, best.found.cost)) < 0) {
			best = q
		}
	}
	if best.model == nil {
		return best, many
	}
	if !all {
		bound = 0 // of what was not asked nothing is known
	}
	best.found.proven, best.found.bound, best.found.nodes = proven, bound, nodes
	b.gather(best.use)
	return best, 0
}

// unopened blocks the plan, for which no opening was found.
func (b *builder) unopened(said diag.Said, hint string) {
	b.unplanned = said.Text
	b.block("opening", said, hint)
}

// chooseOpening takes the cheapest opening, or says why there is none.
func (b *builder) chooseOpening(targets map[body.PartID]bool, goals []goal) bool {
	q, many := b.cheapest(targets, goals)
	if q.model == nil {
		b.unopened(diag.Say("plan.too-many-parts", "{parts} parts could be in the way; the search takes {most}", many, maxParts), "treat the findings in two jobs")
		return false
	}
	b.open.model, b.open.found = q.model, q.found
	f := q.found
	if !f.proven && f.ok {
		b.note(diag.Caution, "opening", diag.Say("plan.opening-not-proven", "the opening was chosen after {sets} sets of parts; a cheaper one may exist, none for less than {least}", f.nodes, diag.Paid(minor(f.bound), b.in.Shop.Currency)), "")
	}
	if !f.ok {
		if never := neverOff(q.model); len(never) > 0 {
			b.unopened(diag.Say("plan.no-opening", "what has to come off cannot be taken out of the vehicle: {parts}", join(never)), "ask the manufacturer for another way, and give it as 'access'")
			return false
		}
		b.unopened(diag.Say("plan.no-opening", "no order exists in which everything in the way can come off: parts wait for one another"), "check the access lists of "+b.stuck(q.model))
		return false
	}
	return true
}
