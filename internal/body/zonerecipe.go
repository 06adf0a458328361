package body

import (
	"fmt"
	"math"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/geom"
	"fettle/internal/unit"
)

// ZoneFormat is the first line of a zone recipe.
const ZoneFormat = "fettle-zones 1"

// ZoneRecipe says how the faces of a casting's mesh get their zones: step by
// step, so that it can be read, reviewed and repeated.
type ZoneRecipe struct {
	Format        string     `doc:"format,required" help:"the line 'fettle-zones 1'" oneof:"fettle-zones 1"`
	Mesh          string     `doc:"mesh,required" help:"mesh file, relative to this file: STL, PLY, OBJ or GLB"`
	MeshUnit      string     `doc:"mesh_unit,required" help:"mm, cm, m or in: never guessed" oneof:"mm|cm|m|in"`
	Sharp         unit.Rad   `doc:"sharp" help:"an edge at which the normals differ by more is sharp: regions stop there and borders settle there; 30 deg when left out"`
	BoreTolerance unit.MM    `doc:"bore_tolerance" help:"a closed sharp edge within this distance of one circle is the rim of a hole; holes are listed when it is given"`
	Rest          ZoneID     `doc:"rest" help:"zone of every face until a step gives it to another"`
	Zones         []Zone     `doc:"zones,required"`
	Steps         []ZoneStep `doc:"steps" help:"done one after another"`
	pos           doc.Positions
}

// ZoneAction is what a step of a recipe for zones does.
type ZoneAction string

// Actions of steps.
const (
	ZoneGrow   ZoneAction = "grow"
	ZoneCut    ZoneAction = "cut"
	ZoneWiden  ZoneAction = "widen"
	ZoneShrink ZoneAction = "shrink"
	ZoneMerge  ZoneAction = "merge"
	ZoneFill   ZoneAction = "fill"
	ZoneSmooth ZoneAction = "smooth"
)

// ZoneStep is one step of a recipe.
type ZoneStep struct {
	Do     ZoneAction  `doc:"do,required" help:"grow: from points to the next sharp edges; cut: what lies above planes; widen, shrink: move the border of a zone; merge: give zones to another; fill: give faces without a zone to the nearest; smooth: shorten borders" oneof:"grow|cut|widen|shrink|merge|fill|smooth"`
	Zone   ZoneID      `doc:"zone" help:"zone that gets faces; for shrink the one that loses them"`
	From   []geom.Vec  `doc:"from_mm" help:"grow: points on the surface"`
	Angle  unit.Rad    `doc:"angle" help:"grow: largest angle between the normals of neighbours; the recipe's 'sharp' when left out"`
	Spread unit.Rad    `doc:"spread" help:"grow: largest angle from the normal where it starts; no bound when left out"`
	Planes []ZonePlane `doc:"planes" help:"cut: the faces on the side the normals point to, of all planes; the mesh is cut along them"`
	Only   []ZoneID    `doc:"only" help:"grow, cut, widen: take faces of these zones only; 'none' stands for faces without a zone"`
	By     unit.MM     `doc:"by" help:"widen, shrink: so far along the surface"`
	To     ZoneID      `doc:"to" help:"shrink: zone that gets the faces"`
	Merge  []ZoneID    `doc:"merge" help:"merge: zones that are given up"`
	Reach  unit.MM     `doc:"reach" help:"smooth: how far a border may move"`
}

// ZonePlane is n·x = offset.
type ZonePlane struct {
	Normal geom.Vec `doc:"normal,required"`
	Offset unit.MM  `doc:"offset,required"`
}

// NoZone is the word for faces that no step has given to a zone.
const NoZone = "none"

const defaultSharp = 30 * math.Pi / 180

// DecodeZoneRecipe reads a recipe; the error is diag.Problems.
func DecodeZoneRecipe(file string, data []byte) (*ZoneRecipe, error) {
	r := &ZoneRecipe{}
	pos, problems := doc.Decode(file, data, r)
	r.pos = pos
	if len(problems) == 0 {
		if !pos.Has("sharp") {
			r.Sharp = defaultSharp
		}
		problems = r.validate()
	}
	problems.Sort()
	if err := problems.OrNil(); err != nil {
		return nil, err
	}
	return r, nil
}

// EncodeZoneRecipe writes what DecodeZoneRecipe reads.
func EncodeZoneRecipe(r *ZoneRecipe) []byte { return doc.EncodeYAML(*r) }

// recipeChecker collects the faults of one recipe.
type recipeChecker struct {
	r        *ZoneRecipe
	problems diag.Problems
}

func (c *recipeChecker) fault(path, msg, hint string) {
	c.problems = append(c.problems, c.r.pos.Problem(path, msg, hint))
}

func (r *ZoneRecipe) validate() diag.Problems {
	c := &recipeChecker{r: r}
	if !(r.Sharp > 0 && r.Sharp < math.Pi) {
		c.fault("sharp", "the angle is not usable", "write an angle above 0 and below 180 deg")
	}
	if r.pos.Has("bore_tolerance") && !(r.BoreTolerance > 0) {
		c.fault("bore_tolerance", "the tolerance is not above 0 mm", "write how far the rim of a hole may be from a circle, for example 0.5 mm, or leave it out")
	}
	seenID, seenLabel := map[ZoneID]bool{}, map[int]bool{}
	for i, z := range r.Zones {
		switch {
		case !idForm.MatchString(string(z.ID)) || z.ID == NoZone:
			c.fault(at("zones", i, "id"), fmt.Sprintf("%q is not an identity", z.ID), "use letters, digits, '-', '_' and '.', beginning with a letter or digit; 'none' is taken")
		case seenID[z.ID]:
			c.fault(at("zones", i, "id"), fmt.Sprintf("the zone %q is there twice", z.ID), "give each its own identity")
		}
		if z.Label < 1 || z.Label > math.MaxInt32 || seenLabel[z.Label] {
			c.fault(at("zones", i, "label"), fmt.Sprintf("%d cannot be the number of this zone", z.Label), "numbers are whole, 1 or more, and each only once")
		}
		seenID[z.ID], seenLabel[z.Label] = true, true
	}
	if len(r.Zones) == 0 {
		c.fault("zones", "there are no zones", "list at least one")
	}
	c.zone("rest", r.Rest, false)
	for i, s := range r.Steps {
		c.step(fmt.Sprintf("steps[%d].", i), s)
	}
	return c.problems
}

// zone checks a reference to a zone.
func (c *recipeChecker) zone(path string, id ZoneID, needed bool) {
	if id == "" {
		if needed {
			c.fault(path, "the zone is missing", "name one of the zones")
		}
		return
	}
	var known []string
	for _, z := range c.r.Zones {
		if z.ID == id {
			return
		}
		known = append(known, string(z.ID))
	}
	c.fault(path, fmt.Sprintf("zone %q does not exist", id), doc.DidYouMean(string(id), known))
}

// stepFields are the fields each kind of step takes besides 'do'.
var stepFields = map[ZoneAction]string{ZoneGrow: "zone from_mm angle spread only", ZoneCut: "zone planes only", ZoneWiden: "zone by only",
	ZoneShrink: "zone by to", ZoneMerge: "zone merge", ZoneFill: "", ZoneSmooth: "reach"}

// step checks one step.
func (c *recipeChecker) step(path string, s ZoneStep) {
	c.fields(path, s.Do)
	c.zone(path+"zone", s.Zone, s.Do != ZoneSmooth && s.Do != ZoneFill)
	for k, z := range s.Only {
		if z != NoZone {
			c.zone(fmt.Sprintf("%sonly[%d]", path, k), z, true)
		}
	}
	switch s.Do {
	case ZoneGrow:
		if len(s.From) == 0 {
			c.fault(path+"from_mm", "no point is given to start from", "write for example [[120, -300, 410]]")
		}
		for _, x := range [2]struct {
			name string
			v    unit.Rad
		}{{"angle", s.Angle}, {"spread", s.Spread}} {
			if c.r.pos.Has(path+x.name) && !(x.v > 0 && x.v <= math.Pi) {
				c.fault(path+x.name, "the angle is not usable", "write an angle above 0 and up to 180 deg")
			}
		}
	case ZoneCut:
		if len(s.Planes) == 0 {
			c.fault(path+"planes", "no plane is given", "write for example [{normal: [1, 0, 0], offset: 210 mm}]")
		}
		for k, p := range s.Planes {
			if !(p.Normal.Norm() > 0) {
				c.fault(fmt.Sprintf("%splanes[%d].normal", path, k), "the normal has no direction", "write for example [1, 0, 0]")
			}
		}
	case ZoneWiden, ZoneShrink:
		if !(s.By > 0) {
			c.fault(path+"by", "the distance is not above 0 mm", "write how far the zone grows or shrinks, for example 5 mm")
		}
		if s.Do == ZoneShrink {
			c.zone(path+"to", s.To, true)
		}
	case ZoneMerge:
		if len(s.Merge) == 0 {
			c.fault(path+"merge", "no zone is given up", "name the zones that become "+string(s.Zone))
		}
		for k, z := range s.Merge {
			c.zone(fmt.Sprintf("%smerge[%d]", path, k), z, true)
			if z == s.Zone {
				c.fault(fmt.Sprintf("%smerge[%d]", path, k), "the zone would be merged into itself", "name the zones that are given up, without "+string(s.Zone))
			}
		}
	case ZoneSmooth:
		if !(s.Reach > 0) {
			c.fault(path+"reach", "the reach is not above 0 mm", "write over how far the border is smoothed, for example 3 mm")
		}
	}
}

// fields refuses fields that the kind of step does not take: they would be
// read and do nothing.
func (c *recipeChecker) fields(path string, do ZoneAction) {
	takes := map[string]bool{}
	for _, f := range words(stepFields[do]) {
		takes[f] = true
	}
	for _, f := range words("zone from_mm angle spread planes only by to merge reach") {
		if c.r.pos.Has(path+f) && !takes[f] {
			c.fault(path+f, fmt.Sprintf("a step %q does not take this field", do), "it takes "+strings.Join(words(stepFields[do]), ", "))
		}
	}
}
