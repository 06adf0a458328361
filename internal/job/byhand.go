package job

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// ByHand is what a reading by hand is of.
type ByHand string

// What is measured by hand, along the surface. Distances are the least ones from the finding as
// it was seen.
const (
	HandLength  ByHand = "length"  // of a crack, from tip to tip
	HandNext    ByHand = "next"    // distance to the next finding
	HandBorder  ByHand = "border"  // to the border of the finding's zone
	HandBore    ByHand = "bore"    // to a bore
	HandEdge    ByHand = "edge"    // to a free edge
	HandJoint   ByHand = "joint"   // to a joint of the casting
	HandEarlier ByHand = "earlier" // to a repair done before
	HandLine    ByHand = "line"    // outboard of a section line; below zero where part of it is not
	HandShape   ByHand = "shape"   // how far a bent or dented part stands off its shape, not along the surface
)

// AllByHand is everything that is measured by hand.
func AllByHand() []ByHand {
	return []ByHand{HandLength, HandNext, HandBorder, HandBore, HandEdge, HandJoint, HandEarlier, HandLine, HandShape}
}

// HandReading is a length that was measured by hand. It is signed with the finding that it
// is of.
type HandReading struct {
	What  ByHand              `doc:"what,required" help:"length (of the crack along the surface, from tip to tip), or the least distance along the surface to the next finding (next), to the border of its zone (border), a bore, an edge, a joint, an earlier repair (earlier), or how far all of it lies outboard of a section line (line), below zero when it does not; or how far a bent or dented part stands off its shape where it does most (shape)" oneof:"length|next|border|bore|edge|joint|earlier|line|shape"`
	Value unit.Maybe[unit.MM] `doc:"value" help:"as it was read; with 'none': nothing of the kind is nearer than this"`
	Std   unit.MM             `doc:"std" help:"its standard uncertainty; that of the gauge in the shop file when left out"`
	Gauge string              `doc:"gauge" help:"what it was measured with: a gauge of the shop file"`
	To    string              `doc:"to" help:"for next: the finding; for line: the section line; otherwise a name, for people"`
	None  bool                `doc:"none" help:"yes when there is nothing of the kind nearer than 'value', or without it nothing of the kind at all"`
}

// Uncertainty is the standard uncertainty of a reading, and false when nobody states it: the
// reading then counts for nothing.
func (h HandReading) Uncertainty(sh *shop.Shop) (float64, bool) {
	if h.Std > 0 {
		return float64(h.Std), true
	}
	m, ok := sh.Gauge(h.Gauge)
	return float64(m.Std), ok && m.Std > 0
}

// measured checks what was measured of a finding by hand.
func (c *checker) measured(at string, f Finding, findings known) {
	seen := map[body.ZoneID]bool{}
	for j, z := range f.Zones {
		if seen[z] {
			c.fault(fmt.Sprintf("%s.zones[%d]", at, j), fmt.Sprintf("zone %q is there twice", z), nameOnce)
		}
		seen[z] = true
	}
	for j, h := range f.Measured {
		c.handReading(fmt.Sprintf("%s.measured[%d]", at, j), f, h, findings)
	}
	twice(c, at+".measured", f.Measured, "give it once; of several readings each has its own value")
}

func (c *checker) handReading(at string, f Finding, h HandReading, findings known) {
	aLength := h.What == HandLength
	switch {
	case aLength && h.None:
		c.fault(at+".none", "a length is not nothing", "leave the reading out")
	case h.What == HandShape && h.None:
		c.fault(at+".none", "a part stands off its shape by some length", "give the reading, 0 mm where nothing is seen")
	case h.What == HandShape && f.Kind != body.Bend && f.Kind != body.Dent:
		c.fault(at+".what", fmt.Sprintf("a %s is not measured by how far the part is out of shape", f.Kind), "enter the bend or the dent as a finding of its own")
	case h.What == HandLine && h.None:
		c.fault(at+".none", "a section line is there", "give the distance outboard of it")
	case !h.Value.Known && !h.None:
		c.fault(at+".value", "no value is given", "write for example 'value: 34 mm', or 'none: yes'")
	case h.Value.Known && (h.Value.Value < 0 && h.What != HandLine || aLength && h.Value.Value == 0):
		c.fault(at+".value", fmt.Sprintf("%s is out of range", h.Value.Value), "a length along the surface is more than zero")
	case h.Value.Known && (h.Value.Value > farMM || h.Value.Value < -farMM):
		c.fault(at+".value", fmt.Sprintf("%s is longer than any vehicle", h.Value.Value), "see whether the unit is right")
	}
	if h.Std < 0 || h.Std > farMM {
		c.fault(at+".std", fmt.Sprintf("%s is out of range", h.Std), "give how well the gauge measures, for example 'std: 0.5 mm'")
	}
	if h.Std == 0 && h.Gauge == "" && h.Value.Known {
		c.fault(at+".gauge", "it is not said how well it was measured", "name what it was measured with (a gauge of the shop file), or give 'std'")
	}
	switch {
	case h.What == HandNext && !h.None:
		c.nextTo(at+".to", f, h, findings)
	case h.What == HandLine && h.To == "":
		c.fault(at+".to", "the section line is not named", "name the section line of the body")
	}
}

func (c *checker) nextTo(at string, f Finding, h HandReading, findings known) {
	to, there := c.byName[FindingID(h.To)]
	switch {
	case h.To == "":
		c.fault(at, "the other finding is not named", "name the finding that is next, or say 'none: yes'")
	case FindingID(h.To) == f.ID:
		c.fault(at, "a finding is not next to itself", "name the other finding")
	default:
		c.ref(at, "finding", h.To, findings)
		if there && to.Part != f.Part {
			c.fault(at, fmt.Sprintf("finding %q is on another part", h.To), "the next finding is one on the same part")
		}
	}
}

// withMesh is the castings on which a trace says where something lies.
func withMesh(b *body.Body) []body.Casting {
	return slices.DeleteFunc(slices.Clone(b.Castings), func(k body.Casting) bool { return !k.HasMesh() })
}

// handAgainst holds what was measured by hand against the body and the shop.
func (c *checker) handAgainst(at string, f Finding, b *body.Body, sh *shop.Shop) {
	gauges := names(sh.Gauges, func(m shop.Gauge) string { return m.ID })
	for j, h := range f.Measured {
		c.ref(fmt.Sprintf("%s.measured[%d].gauge", at, j), "gauge", h.Gauge, gauges)
	}
	i := slices.IndexFunc(b.Castings, func(k body.Casting) bool { return k.Part == f.Part })
	if i < 0 {
		along := slices.ContainsFunc(f.Measured, func(h HandReading) bool { return h.What != HandShape })
		if len(f.Zones)+len(f.Pins) > 0 || along {
			c.fault(at+".zones", fmt.Sprintf("part %s is no casting: it has neither zones nor lengths that are held against a procedure", f.Part), "leave 'zones', 'pins' and all of 'measured' but 'shape' out")
		}
		return
	}
	k := b.Castings[i]
	zones := names(k.Zones, func(z body.Zone) string { return string(z.ID) })
	for j, z := range f.Zones {
		c.ref(fmt.Sprintf("%s.zones[%d]", at, j), "zone", string(z), zones)
	}
	lines := known{in: map[string]bool{}}
	for _, l := range b.Lines {
		if l.Casting == k.ID {
			lines.list, lines.in[string(l.ID)] = append(lines.list, string(l.ID)), true
		}
	}
	for j, h := range f.Measured {
		if h.What == HandLine {
			c.ref(fmt.Sprintf("%s.measured[%d].to", at, j), "section line", h.To, lines)
		}
	}
	c.pinsAgainst(at, f, k)
	if f.Kind == body.Crack && !k.HasMesh() && len(f.Zones)+len(f.Pins) == 0 {
		c.fault(at+".zones", "it is not said in which zones the crack lies", "name every zone it was seen in, or pin it on a zone map: the casting has no mesh that would show it")
	}
}

// otherByHand is what of what was measured by hand, or of the zones, is not as it was told;
// empty when all of it is. Of hand readings nobody can say from which on they are worse for what
// an answer permits: each counts.
func (f Finding) otherByHand(was Finding) string {
	switch {
	case !slices.Equal(f.Zones, was.Zones):
		return "lies in other zones than was told"
	case !slices.EqualFunc(f.Pins, was.Pins, Pin.equal):
		return "is pinned in other places than was told"
	case !slices.Equal(f.Measured, was.Measured):
		return "has other lengths measured by hand than was told"
	}
	return ""
}
