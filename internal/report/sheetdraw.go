package report

import (
	"html/template"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/plan"
)

// sheetDrawing is a drawing that steps point to.
type sheetDrawing struct {
	ID, Box string // Box: its viewBox
	SVG     template.HTML
}

// sheetDrawings makes every drawing once.
type sheetDrawings struct {
	in  Input
	all []sheetDrawing
	box map[string]string
}

// add gives a step its drawing: one finding close up, or the casting with all
// that the step is for. Tasks for the whole job have none.
func (d *sheetDrawings) add(c *sheetStep, s plan.Step) error {
	if strings.HasPrefix(s.Ref, "task ") {
		return nil
	}
	on := map[body.CastingID]int{}
	var casting body.CastingID
	for _, id := range s.For {
		if f := findingByID(d.in.Inspect, id); f.Located && d.drawn(f) {
			if on[f.Casting]++; casting == "" {
				casting = f.Casting
			}
		}
	}
	if casting == "" {
		return nil
	}
	part := d.in
	part.Inspect.Findings = nil
	for _, f := range d.in.Inspect.Findings {
		if slices.Contains(s.For, f.ID) {
			part.Inspect.Findings = append(part.Inspect.Findings, f)
		}
	}
	id := "d-" + string(casting)
	for _, f := range part.Inspect.Findings {
		id += "-" + string(f.ID)
	}
	id += "-" + string(s.Line)
	c.Drawing, c.DrawingOf = id, list(findingNames(s.For), 12)
	if box, ok := d.box[id]; ok {
		c.Box = box
		return nil
	}
	svg, err := stepSVG(part, casting, s.Line)
	if err != nil {
		return err
	}
	c.Box = viewBox(svg)
	if d.box == nil {
		d.box = map[string]string{}
	}
	d.box[id] = c.Box
	d.all = append(d.all, sheetDrawing{id, c.Box, template.HTML(svg)})
	return nil
}

// drawn says that a finding can be drawn: on the mesh of its casting or on a zone map.
func (d *sheetDrawings) drawn(f inspect.Finding) bool {
	if d.in.Vehicle.Surface(f.Casting) != nil {
		return len(f.Path) > 0
	}
	k, _ := d.in.Body.Casting(f.Casting)
	return slices.ContainsFunc(k.Maps, func(m body.ZoneMap) bool {
		return slices.ContainsFunc(mapPins(d.in, k, m), func(p mapPin) bool { return p.id == f.ID })
	})
}

// stepSVG is the drawing of some findings of a casting, with a section line.
func stepSVG(in Input, id body.CastingID, line body.LineID) (string, error) {
	casting, _ := in.Body.Casting(id)
	s := in.Vehicle.Surface(id)
	if s == nil {
		m, pins, _ := bestMap(in, casting) // one of them is drawn
		return string(mapDrawing{in, m, pins, frontWide, frontWide * 3 / 4, closeUpRoom}.draw(allOf(m))), nil
	}
	p := castingPicture{surface: s, frame: frameOf(in.Body.Axes), zoneOf: zoneHatches(s.Mesh(), casting.Zones), names: map[int32]string{}, wide: frontWide, close: closeBeside, album: in.Vehicle.Album}
	p.marks = findingMarks(in, id)
	if len(p.marks) == 1 && line == "" {
		for _, z := range casting.Zones {
			p.names[int32(z.Label)] = z.Name
		}
		return p.closeUp(p.marks[0], "")
	}
	for _, l := range partedLines(in) {
		if l.line.ID == line && l.line.Casting == id && l.err == nil {
			p.lines = append(p.lines, lineMark{string(l.line.ID), l.loops()})
		}
	}
	if len(p.lines) > 0 {
		return p.view(p.lineView())
	}
	return p.view(mostSeen(in.Vehicle.Album, s.Mesh(), s.Solid(), p.frame, p.marks))
}

// viewBox is the viewBox of a drawing made here.
func viewBox(svg string) string {
	_, rest, _ := strings.Cut(svg, `viewBox="`)
	box, _, _ := strings.Cut(rest, `"`)
	return box
}
