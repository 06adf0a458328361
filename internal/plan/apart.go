package plan

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
)

// Two metals that touch and are wet corrode. Which pairs have to be kept apart is in the data of
// the body, and how: what is joined without an answer to either is told, never closed in silence.

// joined is what is joined with one another, and what keeps it apart.
type joined struct {
	where   string // identity
	deed    string // in a sentence: "closing joint J-ROOF (Roof bond)"
	members []body.Member
	layers  bool // something lies between the layers
	all     bool // done as it is written, everything is kept apart
}

// add takes what is used into account: a fastener or plate touches the others, all else may
// lie between the layers.
func (x *joined) add(m body.Material) {
	if m.Fastener() {
		x.members = append(x.members, body.MemberOf(m))
	} else {
		x.layers = x.layers || m.Isolates
	}
}

// touch is two of what is joined that touch, and what the body says of them.
type touch struct {
	a, b  body.Member
	pair  body.Apart
	known bool
}

// touching is every two that touch and that nothing keeps apart, as far as they are of a pair or
// may be.
func (x joined) touching(b *body.Body) []touch {
	var out []touch
	for i, m := range x.members {
		for _, o := range x.members[:i] {
			if x.all || m.Own || o.Own || !m.Layer && !o.Layer || m.Layer && o.Layer && x.layers {
				continue
			}
			if m.Metal == o.Metal && m.Metal != "" && m.Metal != body.OtherMetal {
				continue
			}
			if pair, known := b.Touching(o.Metal, m.Metal); !known || len(pair.Of) > 0 {
				out = append(out, touch{o, m, pair, known})
			}
		}
	}
	return out
}

// closedJoint is what is joined where a joint is closed.
func (b *builder) closedJoint(id body.JointID) joined {
	j, ok := b.in.Body.Joint(id) // with the parts of assemblies
	if !ok {
		return joined{all: true}
	}
	x := joined{where: string(id), deed: fmt.Sprintf("closing joint %s (%s)", id, j.Name), members: b.in.Body.InJoint(j), all: j.Isolates}
	uses, fresh := j.Uses, b.fresh(b.mappedJoint(j))
	for _, st := range slices.Concat(j.Before, j.After) {
		if stepDone(st, fresh) {
			uses = append(slices.Clone(uses), st.Uses...)
			x.all = x.all || st.Isolates
		}
	}
	for _, u := range uses {
		if m := b.mats[u.Material]; !m.Fastener() {
			x.add(m)
		}
	}
	return x
}

// mappedJoint is a joint with assemblies in the place of their parts.
func (b *builder) mappedJoint(j body.Joint) body.Joint {
	j.Layers = b.mapped(j.Layers)
	return j
}

// joinedBy is what a treatment joins: a piece, a plate, or a part that it works on, with what it
// uses. A new part is joined at its joints too.
func (b *builder) joinedBy(it Item) joined {
	t := b.treatment(it)
	x := joined{where: string(it.Treatment), deed: fmt.Sprintf("%s of %s", t.Name, findingsText(it.Findings))}
	for _, id := range b.worksOn(it) {
		if p, ok := b.parts[id]; ok { // what nobody knows is told elsewhere
			x.members = append(x.members, body.Member{Name: p.Name, Metal: p.Metal, Layer: true})
		}
	}
	for _, st := range t.Steps {
		x.all = x.all || st.Isolates
		for _, u := range st.Uses {
			x.add(b.mats[u.Material])
		}
		if l := st.Layout; l != nil {
			for _, id := range []body.MaterialID{l.Rivet, l.Plate, l.Adhesive} {
				if m, ok := b.mats[id]; ok {
					x.add(m)
				}
			}
		}
	}
	return x
}

// worksOn is the parts that a treatment joins something to.
func (b *builder) worksOn(it Item) []body.PartID {
	if it.Kind == body.SectionOff {
		if line, ok := b.in.Body.Line(it.Line); ok {
			k, _ := b.in.Body.Casting(line.Casting)
			return []body.PartID{k.Part, line.Piece}
		}
	}
	if bought := b.boughtBy(it); len(bought) > 0 {
		return bought[:1] // several new parts are not joined to one another here
	}
	for _, f := range it.Findings {
		if p := b.findings[f].Part; p != "" {
			return []body.PartID{p}
		}
	}
	return nil
}

// open is the pairs that touch and have to be kept apart, and what touches and may be of one, in words.
func (x joined) open(b *body.Body) (pairs, unknown []string) {
	for _, t := range x.touching(b) {
		if t.known {
			pairs = append(pairs, fmt.Sprintf("%s (%s) and %s (%s), by %s", t.a.Name, t.a.Metal, t.b.Name, t.b.Metal, t.pair.Cite))
			continue
		}
		for _, m := range []body.Member{t.a, t.b} {
			if (m.Metal == "" || m.Metal == body.OtherMetal) && !slices.Contains(unknown, m.Name) {
				unknown = append(unknown, m.Name)
			}
		}
	}
	return pairs, unknown
}

// lacksApart says that there is something which apartGaps tells: that does not hang on the order in
// which parts go back on.
func (b *builder) lacksApart() bool {
	if b.in.Body.Apart == nil {
		return false
	}
	lacks := func(x joined) bool {
		pairs, unknown := x.open(b.in.Body)
		return len(pairs)+len(unknown) > 0
	}
	return slices.ContainsFunc(b.joints, func(j body.Joint) bool { return len(b.comesOff(j)) > 0 && lacks(b.closedJoint(j.ID)) }) ||
		slices.ContainsFunc(b.items, func(it Item) bool { return lacks(b.joinedBy(it)) })
}

// apartGaps is what nobody knows of keeping apart what is closed and what treatments join. Where no
// pairs are listed nothing is asked.
func (b *builder) apartGaps() []Gap {
	if b.in.Body.Apart == nil {
		return nil
	}
	var out []Gap
	add := func(x joined, id body.PartID, name string, who []job.FindingID) {
		var lacks []string
		pairs, unknown := x.open(b.in.Body)
		for _, p := range pairs {
			lacks = append(lacks, "what keeps apart "+p)
		}
		for _, u := range unknown {
			lacks = append(lacks, fmt.Sprintf("what %s is made of, which touches other metal", u))
		}
		if len(lacks) > 0 {
			out = append(out, Gap{Part: id, Name: name, Lacks: lacks, For: who})
		}
	}
	for _, i := range b.open.on {
		id := b.open.model.ids[i]
		for _, j := range b.open.closes[id] {
			add(b.closedJoint(j.ID), id, b.part(id).Name, b.comesOffFor(i))
		}
	}
	for _, it := range b.items {
		x := b.joinedBy(it)
		add(x, "", x.deed, it.Findings)
	}
	return out
}

// apart tells of what is joined and touches: a pair that has to be kept apart, or what may be
// one. Where the body has no list of pairs, all of it is told at once.
func (b *builder) apart(x joined) {
	if b.in.Body.Apart == nil {
		said := func(t touch) bool { return !t.known && (t.a.Metal != "" || t.b.Metal != "") } // a body that says nothing of metals lacks them: that is told of the body
		if slices.ContainsFunc(x.touching(b.in.Body), said) && !slices.Contains(b.unlisted, x.where) {
			b.unlisted = append(b.unlisted, x.where)
		}
		return
	}
	pairs, unknown := x.open(b.in.Body)
	if len(pairs) > 0 {
		b.block(x.where, diag.Say("plan.not-kept-apart", "{deed}: these have to be kept apart, and the body does not say how; nobody may close it before that is known: {pairs}", x.deed, strings.Join(pairs, "; ")),
			"ask the manufacturer, and give the steps and materials with 'isolates' in the body folder")
	}
	if len(unknown) > 0 {
		b.block(x.where, diag.Say("plan.metal-unknown", "{deed}: what {parts} is made of is not known, nor whether it has to be kept apart from what it touches; nobody may close it before that is known", x.deed, list(unknown)),
			"ask the manufacturer, and give its 'metal' in the body folder, or what isolates it")
	}
}

// tellUnlisted tells once of everything that is joined though nobody says which metals have to
// be kept apart.
func (b *builder) tellUnlisted() {
	if len(b.unlisted) == 0 {
		return
	}
	slices.Sort(b.unlisted)
	b.note(diag.Caution, "joints", diag.Say("plan.pairs-unknown", "the body does not say which metals have to be kept apart: whether unlike ones touch in {joints} is not known, and nothing is planned against it beyond what the data hold", strings.Join(b.unlisted, ", ")),
		"ask the manufacturer; give 'keep_apart' and the metals in the body folder")
}
