package body

import (
	"fmt"
	"slices"

	"fettle/internal/geom"
)

func (c *checker) parts() {
	for i, p := range c.b.Parts {
		c.price(at("parts", i, "price"), p.Price)
		notNegative(c, at("parts", i, "mass"), p.Mass)
		notNegative(c, at("parts", i, "off"), p.Off)
		notNegative(c, at("parts", i, "on"), p.On)
		notNegative(c, at("parts", i, "delivery"), p.Delivery.Value)
		c.delivery(at("parts", i), p)
		notNegative(c, at("parts", i, "outer_area"), p.Outer.Value)
		notNegative(c, at("parts", i, "inner_area"), p.Inner.Value)
	}
}

// delivery: the shortest, the likely and the longest time are in order, and a
// spread has both ends.
func (c *checker) delivery(path string, p Part) {
	switch {
	case p.DeliveryLow == 0 && p.DeliveryHigh == 0:
	case p.DeliveryHigh <= 0:
		c.fault(path+".delivery_high", "the spread of a delivery has two ends", "give both delivery_low and delivery_high, or neither")
	case p.DeliveryLow <= 0:
		c.fault(path+".delivery_low", "the spread of a delivery has two ends", "give both delivery_low and delivery_high, or neither")
	case p.DeliveryLow > p.Delivery.Value || p.Delivery.Value > p.DeliveryHigh:
		c.fault(path+".delivery", fmt.Sprintf("%s does not lie between %s and %s", p.Delivery.Value.Words(), p.DeliveryLow.Words(), p.DeliveryHigh.Words()), "shortest, likely and longest time, in this order")
	}
}

func (c *checker) joints() {
	for i, j := range c.b.Joints {
		refs(c, at("joints", i, "layers"), aPart, j.Layers)
		if len(j.Layers) < 2 {
			c.fault(at("joints", i, "layers"), "a joint holds at least two parts together", "name them, the outermost first")
		}
		refs(c, at("joints", i, "destroys"), aPart, j.Destroys)
		c.methods(i, j)
		notNegative(c, at("joints", i, "open"), j.Open)
		notNegative(c, at("joints", i, "refit"), j.Refit)
		c.glueOpen(at("joints", i, "glue_open"), j)
		notNegative(c, at("joints", i, "torque"), j.Torque)
		c.uses(at("joints", i), j.Uses, "")
		c.along(at("joints", i, "along_mm"), j.Along)
		c.cures(at("joints", i, "cures"), j.Cures)
		c.readings(at("joints", i, "readings"), j.Readings)
		c.jointSteps(i, j)
	}
}

// along: where a joint lies, near the vehicle.
func (c *checker) along(path string, lines [][]geom.Vec) {
	same(c, path, lines)
	for i, line := range lines {
		for k, p := range line {
			c.near(fmt.Sprintf("%s[%d][%d]", path, i, k), p)
		}
	}
}

// methods: what is fastened needs a number, what is joined along a line needs
// a length.
func (c *checker) methods(i int, j Joint) {
	path := at("joints", i, "methods")
	if len(j.Methods) == 0 {
		c.fault(path, "no method is given", "write for example [bolt]")
	}
	once(c, path, j.Methods)
	along, fastened := slices.ContainsFunc(j.Methods, func(m JoinMethod) bool { return !m.fastens() }), j.fasteners() > 0
	switch {
	case j.Length < 0 || along && j.Length == 0:
		c.fault(at("joints", i, "length"), "the length of a bonded, welded or hemmed joint is needed", "write for example 'length: 640 mm'")
	case j.Count > mostCounted:
		c.fault(at("joints", i, "count"), fmt.Sprintf("%d fasteners are out of range", j.Count), fmt.Sprintf("at most %d are taken; see whether a digit is wrong", mostCounted))
	case j.Count < 0 || fastened && j.Count == 0:
		c.fault(at("joints", i, "count"), "the number of fasteners is needed", "write for example 'count: 8'")
	}
}

// mostCounted is the most fasteners of a joint, and the most rows of a layout.
const mostCounted = 10_000

func (c *checker) triggers() {
	same(c, "triggers", c.b.Triggers)
	for i, t := range c.b.Triggers {
		c.ref(at("triggers", i, "part"), aPart, string(t.Part))
		refs(c, at("triggers", i, "before"), aTask, t.Before)
		refs(c, at("triggers", i, "after"), aTask, t.After)
		if len(t.Before)+len(t.After) == 0 {
			c.fault(at("triggers", i), "the trigger brings no task with it", "name tasks in 'before' or 'after'")
		}
	}
}

func (c *checker) castings() {
	for i, k := range c.b.Castings {
		c.castingPart(at("castings", i, "part"), k.Part, "casting")
		c.castingMesh(i, k)
		positive(c, at("castings", i, "wall"), k.Wall)
		if len(k.Zones) == 0 {
			c.fault(at("castings", i, "zones"), "the casting has no zones", "the procedure speaks of zones; one for the whole casting will do")
		}
		for j, z := range k.Zones {
			if k.HasMesh() && slices.ContainsFunc(k.Zones[:j], func(o Zone) bool { return o.Label == z.Label }) {
				c.fault(at("castings", i, "zones", j, "label"), fmt.Sprintf("the label %d is used twice", z.Label), "each zone of a casting has its own")
			}
			c.neighbours(i, j, k)
			c.knows(i, j, z)
		}
		c.bores(at("castings", i), k.Bores)
		c.edges(at("castings", i), k.Edges)
		c.zoneMaps(i, k)
	}
}

func (c *checker) bores(path string, bores []Bore) {
	note(c, "bore of "+path, path+".bores", bores, func(b Bore) string { return b.ID })
	for i, b := range bores {
		c.near(at(path, "bores", i, "at_mm"), b.At)
		positive(c, at(path, "bores", i, "radius"), b.Radius)
		notNegative(c, at(path, "bores", i, "std"), b.Std)
	}
}

// edges: where the wall ends, as lines near the vehicle.
func (c *checker) edges(path string, edges []Edge) {
	note(c, "edge of "+path, path+".edges", edges, func(e Edge) string { return e.ID })
	for i, e := range edges {
		if len(e.Along) == 0 {
			c.fault(at(path, "edges", i, "along_mm"), "the edge has no points", "give the points along it, or leave the edge out")
		}
		for k, p := range e.Along {
			c.near(fmt.Sprintf("%s[%d]", at(path, "edges", i, "along_mm"), k), p)
		}
	}
}

// castingPart checks a part that must be of one kind.
func (c *checker) castingPart(path string, id PartID, kind PartKind) {
	if !c.ref(path, aPart, string(id)) {
		return
	}
	if p, _ := c.b.Part(id); p.Kind != kind {
		c.fault(path, fmt.Sprintf("part %q is of the kind %q, not %q", id, p.Kind, kind), "name a part of that kind, or mend its kind in parts.csv")
	}
}

func (c *checker) lines() {
	for i, l := range c.b.Lines {
		c.ref(at("section_lines", i, "casting"), aCasting, string(l.Casting))
		c.lineShape(fmt.Sprintf("section_lines[%d]", i), l)
		c.box(at("section_lines", i, "within"), l.Within)
		notNegative(c, at("section_lines", i, "margin"), l.Margin)
		positive(c, at("section_lines", i, "flange_width"), l.FlangeWidth)
		c.castingPart(at("section_lines", i, "piece"), l.Piece, PartPiece)
		path := at("section_lines", i, "treatment")
		if c.ref(path, aTreatment, string(l.Treatment)) {
			if t, _ := c.b.Treatment(l.Treatment); t.Kind != SectionOff {
				c.fault(path, fmt.Sprintf("treatment %q is of the kind %q, not %q", t.ID, t.Kind, SectionOff), "name a treatment that cuts")
			}
		}
	}
}

// lineShape checks that a line is said in exactly one way.
func (c *checker) lineShape(path string, l Line) {
	has := func(field string) bool { return c.b.at.main.Has(path + "." + field) }
	ways := 0
	for _, is := range []bool{has("normal") || has("offset"), has("planes"), has("curve_mm")} {
		if is {
			ways++
		}
	}
	if k, ok := c.b.Casting(l.Casting); ways == 0 && ok && !k.HasMesh() {
		return // its place is in the manufacturer's drawing
	}
	if ways != 1 {
		c.fault(path, "the line is not said in one way", "give 'normal' and 'offset', or 'planes', or 'curve_mm'")
		return
	}
	switch {
	case has("curve_mm"):
		c.lineCurve(path, l)
		return
	case has("planes"):
		same(c, path+".planes", l.Planes)
		for k, p := range l.Planes {
			c.linePlane(fmt.Sprintf("%s.planes[%d]", path, k), p)
		}
		if len(l.Planes) == 0 {
			c.fault(path+".planes", "there is no plane", "write for example [{normal: [1, 0, 0], offset: 210 mm}]")
		}
	case !has("normal") || !has("offset"):
		c.fault(path, "the plane needs 'normal' and 'offset'", "the plane is n·x = offset")
	default:
		c.linePlane(path, LinePlane{l.Normal, l.Offset})
	}
	if has("taken_off_mm") {
		c.fault(path+".taken_off_mm", "only a line with 'curve_mm' takes this field", "the normals of planes say what is taken off")
	}
}

func (c *checker) linePlane(path string, p LinePlane) {
	if p.Normal.Norm() == 0 {
		c.fault(path+".normal", "the normal has no direction", "write for example [1, 0, 0]")
	}
	if p.Offset > farMM || p.Offset < -farMM {
		c.fault(path+".offset", fmt.Sprintf("%s lies outside any vehicle", p.Offset), "offsets are lengths from the origin of the vehicle axes")
	}
}

func (c *checker) lineCurve(path string, l Line) {
	if len(l.Curve) < 3 {
		c.fault(path+".curve_mm", "a closed curve needs at least three points", "give the points round the casting, in order")
	}
	for k, p := range l.Curve {
		c.near(fmt.Sprintf("%s.curve_mm[%d]", path, k), p)
	}
	if !c.b.at.main.Has(path + ".taken_off_mm") {
		c.fault(path, "which side is taken off is not said", "give 'taken_off_mm', a point on the surface of that side")
	}
	c.near(path+".taken_off_mm", l.TakenOff)
	if !l.Within.Unlimited() {
		c.fault(path+".within", "a curve is where it is: it takes no box", "leave 'within' out")
	}
}

func (c *checker) box(path string, b Box) {
	c.near(path+".min_mm", b.Min)
	c.near(path+".max_mm", b.Max)
	for i := range b.Min {
		if !b.Unlimited() && b.Min[i] >= b.Max[i] {
			c.fault(path+".max_mm", fmt.Sprintf("the box is empty along %c", "xyz"[i]), "give both corners, min_mm and max_mm")
			return
		}
	}
}

func (c *checker) areas() {
	for i, a := range c.b.Inspect {
		c.ref(at("inspection", i, "casting"), aCasting, string(a.Casting))
		path := at("inspection", i, "zone")
		if c.ref(path, aZone, string(a.Zone)) {
			if k, _ := c.b.CastingOf(a.Zone); k.ID != a.Casting {
				c.fault(path, fmt.Sprintf("zone %q lies on casting %q", a.Zone, k.ID), "name a zone of the casting of this area")
			}
		}
		positive(c, at("inspection", i, "finds"), a.Finds)
	}
}

// glueOpen: the adhesive is open during the refit, not longer, and only where
// there is one.
func (c *checker) glueOpen(path string, j Joint) {
	switch {
	case j.GlueOpen == 0:
	case j.GlueOpen < 0 || j.GlueOpen > j.Refit:
		c.fault(path, fmt.Sprintf("%s is not within the refit, %s", j.GlueOpen, j.Refit), "it is the part of the refit from the first bead until the last fastener is set")
	case j.Cures == "":
		c.fault(path, "the joint has no adhesive that cures", "name it in 'cures'")
	}
}
