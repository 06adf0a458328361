package body

import "slices"

// Metal is what a part or a material is made of, as far as it matters what it touches.
type Metal string

// What parts and fasteners are made of. NoMetal does not conduct; left out, it is not known.
const (
	Aluminium   Metal = "aluminium"
	Magnesium   Metal = "magnesium"
	Steel       Metal = "steel"
	ZincSteel   Metal = "zinc-coated steel"
	Stainless   Metal = "stainless steel"
	Titanium    Metal = "titanium"
	CarbonFibre Metal = "carbon fibre"
	OtherMetal  Metal = "other"
	NoMetal     Metal = "none"
)

// Metals is every word there is for what something is made of.
func Metals() []Metal {
	return []Metal{Aluminium, Magnesium, Steel, ZincSteel, Stainless, Titanium, CarbonFibre, OtherMetal, NoMetal}
}

// Apart is a pair that corrodes where it touches and is wet, as the manufacturer says.
type Apart struct {
	Of   []Metal `doc:"of,required" help:"the two of which the parts are made: aluminium, magnesium, steel, 'zinc-coated steel', 'stainless steel', titanium, 'carbon fibre' or other" oneof:"aluminium|magnesium|steel|zinc-coated steel|stainless steel|titanium|carbon fibre|other"`
	Cite string  `doc:"cite,required" help:"document, revision and page"`
}

// Is says that it is the pair of these two, in either order.
func (a Apart) Is(x, y Metal) bool {
	return len(a.Of) == 2 && (a.Of[0] == x && a.Of[1] == y || a.Of[0] == y && a.Of[1] == x)
}

// Touching is what the body says of two that touch: the pair that has to be kept apart, if it
// is one. False: it is not known, since nobody says what one of them is, or which pairs there are.
func (b *Body) Touching(x, y Metal) (Apart, bool) {
	switch {
	case x == NoMetal || y == NoMetal:
		return Apart{}, true
	case x == "" || y == "" || b.Apart == nil:
		return Apart{}, false
	}
	for _, a := range b.Apart {
		if a.Is(x, y) {
			return a, true
		}
	}
	return Apart{}, x != OtherMetal && y != OtherMetal // two things that have no word may be anything
}

// NamesMetal says that the body names what anything is made of.
func (b *Body) NamesMetal() bool {
	return slices.ContainsFunc(b.Parts, func(p Part) bool { return p.Metal != "" }) || slices.ContainsFunc(b.Materials, func(m Material) bool { return m.Metal != "" }) ||
		slices.ContainsFunc(b.Joints, func(j Joint) bool { return j.FastenerMetal != "" })
}

// fastens says that the way of joining has fasteners that are counted.
func (m JoinMethod) fastens() bool { return m != JoinAdhesive && m != JoinWeld && m != JoinHem }

// fasteners is the ways of joining of a joint that have fasteners.
func (j Joint) fasteners() int {
	n := 0
	for _, m := range j.Methods {
		if m.fastens() {
			n++
		}
	}
	return n
}

// Fastener says that the material is set in or laid over what is joined, and touches it.
func (m Material) Fastener() bool {
	return m.Kind == Rivet || m.Kind == Bolt || m.Kind == Plate || m.Metal != "" // a clip is of another kind
}

// Member is something in a joint that touches the others.
type Member struct {
	Name  string
	Metal Metal
	Layer bool // lies on the others; else it goes through them, and touches no other of its kind
	Own   bool // its own surface keeps it apart from what it touches
}

// InJoint is what lies in a joint: its parts, the fasteners it uses, and those that go back in.
func (b *Body) InJoint(j Joint) []Member {
	var out []Member
	for _, id := range j.Layers {
		p, _ := b.Part(id)
		out = append(out, Member{Name: p.Name, Metal: p.Metal, Layer: true})
	}
	set := 0
	for _, u := range j.Uses {
		m, _ := b.Material(u.Material)
		if !m.Fastener() {
			continue
		}
		out = append(out, MemberOf(m))
		if m.Kind != Plate {
			set++
		}
	}
	for _, s := range slices.Concat(j.Before, j.After) {
		for _, u := range s.Uses {
			if m, _ := b.Material(u.Material); m.Fastener() {
				out = append(out, MemberOf(m))
			}
		}
	}
	if j.FastenerMetal != "" || set < j.fasteners() {
		out = append(out, Member{Name: "fasteners", Metal: j.FastenerMetal})
	}
	return out
}

// MemberOf is a fastener or plate as it lies in a joint.
func MemberOf(m Material) Member {
	return Member{Name: m.Name, Metal: m.Metal, Layer: m.Kind == Plate, Own: m.Isolates}
}
