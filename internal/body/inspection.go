package body

import (
	"fmt"
	"slices"

	"fettle/internal/doc"
	"fettle/internal/unit"
)

// InspectionMethod is a way to inspect a casting.
type InspectionMethod string

// Ways to inspect a casting.
const (
	Visual    InspectionMethod = "visual"
	Penetrant InspectionMethod = "penetrant"
)

// Method is when an inspection of one kind counts, and what it finds. The
// figures are those of the cited documents; none is in this program.
type Method struct {
	Method    InspectionMethod `doc:"method,required" help:"visual or penetrant" oneof:"visual|penetrant"`
	Finds     unit.MM          `doc:"finds,required" help:"shortest crack the method is relied on to find on this casting"`
	Cite      string           `doc:"cite,required" help:"document that asks for the method and says what it finds"`
	Qualified bool             `doc:"qualified" help:"yes: it counts only from a person whose qualification for the method is in the shop file and was valid on the day"`
	Bounds    []Bound          `doc:"conditions,required" help:"bounds that the conditions of the inspection have to keep; one that is not on record is not kept"`
}

// Bound is what one condition of an inspection has to keep.
type Bound struct {
	What   string              `doc:"what,required" help:"light_lx (white light at the surface), uv_w_m2 (UV-A at the surface), ambient_lx (visible light while looking under UV-A), distance_mm and angle_deg (of the eye to the surface), temperature_c (of the part), dwell_min (penetrant), development_min" oneof:"light_lx|uv_w_m2|ambient_lx|distance_mm|angle_deg|temperature_c|dwell_min|development_min"`
	For    string              `doc:"for" help:"only for this kind of penetrant" oneof:"colour contrast|fluorescent"`
	Least  unit.Maybe[float64] `doc:"least" help:"in the unit of the name"`
	Most   unit.Maybe[float64] `doc:"most"`
	Cite   string              `doc:"cite,required"`
	Status string              `doc:"status,required" help:"how sure the figure is: manufacturer (the procedure says so), standard (read in the standard), secondary (read elsewhere), memory (to be checked against the standard)" oneof:"manufacturer|standard|secondary|memory"`
}

// AreaKind is what of a casting an area to be inspected is.
type AreaKind string

// Kinds of inspection area that are found from the body's data and the mesh.
const (
	AreaZone   AreaKind = "zone"
	AreaRibs   AreaKind = "ribs"
	AreaBores  AreaKind = "bores"
	AreaJoints AreaKind = "joints"
)

// AreaRule says which method is asked for in which areas. The first rule that
// fits an area counts; an area that none fits is asked for with penetrant.
type AreaRule struct {
	ID       string              `doc:"id,required"`
	Cite     string              `doc:"cite,required"`
	Of       []AreaKind          `doc:"of,required" help:"zone (the whole of it), ribs (feet of the ribs in a zone), bores (rims of the bores in a zone), joints (where parts are joined to the casting)" oneof:"zone|ribs|bores|joints"`
	Zones    []ZoneID            `doc:"zones" help:"only in these zones; all when left out"`
	Within   unit.Maybe[unit.MM] `doc:"within_of_impact" help:"only areas that come nearer than this to the place of the impact"`
	LoadPath bool                `doc:"load_path" help:"yes: only in zones on the load path"`
	Method   InspectionMethod    `doc:"method,required" help:"visual or penetrant" oneof:"visual|penetrant"`
}

// Grouping is a rule by which neighbouring cracks count as one, from their
// lengths or depths. Two cracks do when their distance s keeps
//
//	s <= half_sum (L1+L2)/2 + shorter min(L1,L2) + longer max(L1,L2) + deeper max(a1,a2)
//
// L: lengths along the surface, a: depths, the wall for a crack that goes
// through or of unknown depth. The factors are the cited document's; those left
// out are 0. The bound is inclusive.
type Grouping struct {
	Name    string  `doc:"name,required" help:"what the rule is called"`
	Cite    string  `doc:"cite,required" help:"document and edition: codes differ"`
	HalfSum float64 `doc:"half_sum" help:"factor on half the sum of both lengths"`
	Shorter float64 `doc:"shorter" help:"factor on the shorter length"`
	Longer  float64 `doc:"longer" help:"factor on the longer length"`
	Deeper  float64 `doc:"deeper" help:"factor on the larger depth"`
	Again   bool    `doc:"again,required" help:"yes (stricter): cracks that count as one are held against their neighbours once more, as one crack"`
}

// Method is what the procedure says of a method.
func (p Procedure) Method(name InspectionMethod) (Method, bool) {
	return find(p.Methods, name, func(m *Method) InspectionMethod { return m.Method })
}

// AreaOfZone, AreaOfRibs, AreaOfBores and AreaOfJoint are the identities of
// the areas that are found by themselves.
func AreaOfZone(z ZoneID) string { return "A-" + string(z) }

// AreaOfRibs is the feet of the ribs in a zone.
func AreaOfRibs(z ZoneID) string { return AreaOfZone(z) + ".ribs" }

// AreaOfBores is the rims of the bores in a zone.
func AreaOfBores(z ZoneID) string { return AreaOfZone(z) + ".bores" }

// AreaOfJoint is where one joint lies on its casting.
func AreaOfJoint(j JointID) string { return "A-" + string(j) }

// AreaIDs is every inspection area a job may speak of: those written in the
// body, and those found by themselves where a procedure says how.
func (b *Body) AreaIDs() []string {
	var out []string
	for _, a := range b.Inspect {
		out = append(out, a.ID)
	}
	for i := range b.Castings {
		k := &b.Castings[i]
		if !slices.ContainsFunc(b.Procedures, func(p Procedure) bool { return p.Casting == k.ID && len(p.Areas) > 0 }) {
			continue
		}
		for _, z := range k.Zones {
			out = append(out, AreaOfZone(z.ID), AreaOfRibs(z.ID), AreaOfBores(z.ID))
		}
		for _, j := range b.JointsOf(k.Part) {
			out = append(out, AreaOfJoint(j.ID))
		}
	}
	return out
}

// JointsOf is the joints that hold a part, in the order of the body.
func (b *Body) JointsOf(part PartID) []Joint {
	var out []Joint
	for _, j := range b.Joints {
		if slices.Contains(j.Layers, part) {
			out = append(out, j)
		}
	}
	return out
}

// inspection checks what a procedure says of inspecting and grouping.
func (c *checker) inspection(i int, p Procedure) {
	path := at("procedures", i)
	for j, m := range p.Methods {
		where := at("procedures", i, "methods", j)
		positive(c, where+".finds", m.Finds)
		if slices.ContainsFunc(p.Methods[:j], func(o Method) bool { return o.Method == m.Method }) {
			c.fault(where+".method", fmt.Sprintf("%q is there twice", m.Method), "put its conditions together")
		}
		if len(m.Bounds) == 0 {
			c.fault(where+".conditions", "without conditions every inspection would count", "give the bounds of the standard that the procedure cites")
		}
		same(c, where+".conditions", m.Bounds)
		for k, b := range m.Bounds {
			c.bound(fmt.Sprintf("%s.conditions[%d]", where, k), m, b)
		}
	}
	note(c, "area rule of "+path, path+".areas", p.Areas, func(a AreaRule) string { return a.ID })
	for j, a := range p.Areas {
		c.areaRule(at("procedures", i, "areas", j), p, a)
	}
	if g := p.Grouping; g != nil {
		for _, f := range []struct {
			name  string
			value float64
		}{{"half_sum", g.HalfSum}, {"shorter", g.Shorter}, {"longer", g.Longer}, {"deeper", g.Deeper}} {
			if f.value < 0 || f.value > maxFactor {
				c.fault(path+".grouping."+f.name, fmt.Sprintf("%g is no factor", f.value), "codes use 0.5 to 2")
			}
		}
		if max(g.HalfSum, g.Shorter, g.Longer, g.Deeper) == 0 {
			c.fault(path+".grouping", "the rule joins nothing", "give at least one factor, or leave it out")
		}
	}
}

// maxFactor keeps a slip of the keyboard out of a grouping rule.
const maxFactor = 10

// mostBound keeps a slip of the keyboard out: no light, distance, angle, temperature or time
// of an inspection is larger in the unit of its name.
const mostBound = 100_000

// belowZero are the conditions that may lie below zero.
var belowZero = map[string]bool{"temperature_c": true}

func (c *checker) bound(path string, m Method, b Bound) {
	for _, x := range []struct {
		field string
		value unit.Maybe[float64]
	}{{".least", b.Least}, {".most", b.Most}} {
		if v := x.value; v.Known && (v.Value > mostBound || v.Value < 0 && !belowZero[b.What] || v.Value < float64(coldest)) {
			c.fault(path+x.field, fmt.Sprintf("%g is out of range", v.Value), "write it in the unit of the name")
		}
	}
	switch {
	case !b.Least.Known && !b.Most.Known:
		c.fault(path, "the condition has no bound", "give 'least', 'most' or both")
	case b.Least.Known && b.Most.Known && b.Least.Value > b.Most.Value:
		c.fault(path+".most", fmt.Sprintf("nothing is at least %g and at most %g", b.Least.Value, b.Most.Value), "are the two swapped?")
	}
	if m.Method == Visual && (b.For != "" || slices.Contains([]string{"uv_w_m2", "ambient_lx", "dwell_min", "development_min"}, b.What)) {
		c.fault(path+".what", fmt.Sprintf("%q is no condition of looking by eye", b.What), "put it under the method 'penetrant'")
	}
}

func (c *checker) areaRule(path string, p Procedure, a AreaRule) {
	once(c, path+".of", a.Of)
	if len(a.Of) == 0 {
		c.fault(path+".of", "no kind of area is named", "write for example [zone]")
	}
	once(c, path+".zones", a.Zones)
	zones := zonesOf(c.b, p.Casting)
	for k, z := range a.Zones {
		if !slices.Contains(zones, string(z)) {
			c.fault(fmt.Sprintf("%s.zones[%d]", path, k), fmt.Sprintf("casting %q has no zone %q", p.Casting, z), doc.DidYouMean(string(z), zones))
		}
	}
	if a.Within.Known {
		positive(c, path+".within_of_impact", a.Within.Value)
	}
	if _, ok := p.Method(a.Method); !ok {
		c.fault(path+".method", fmt.Sprintf("the procedure does not say when a %s inspection counts", a.Method), "add it to 'methods'")
	}
}
