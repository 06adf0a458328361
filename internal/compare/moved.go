package compare

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/vehicle"
)

// pending is what has to be settled beside the findings before the items may be
// done: control points, and areas that nobody has inspected.
func (f *finder) pending(items []plan.Item) (ask, first []string) {
	ask, first = f.leftAsMeasured(items)
	return ask, append(first, f.uninspected(items)...)
}

// leftAsMeasured are the control points that the items leave as they are and
// that are not shown to be in tolerance: those out of it, about which only the
// manufacturer can be asked, and those that a better measurement settles.
//
// A point that the manufacturer lets stay as it was measured is settled.
//
// A point is dealt with when what it is on is cut off, replaced or straightened. A casting is
// straightened where a row says so, and nowhere else. Where a point stands after the work is
// shown when it is measured again. Unknown never permits: a
// point that was not measured, or whose verdict is not firm, is still open.
func (f *finder) leftAsMeasured(items []plan.Item) (ask, again []string) {
	h, ok := f.in.Measure.Best()
	for _, p := range f.in.Body.Points {
		if f.renewed(p, items) {
			continue
		}
		if slices.Contains(f.in.Left, p.ID) {
			continue
		}
		k := slices.IndexFunc(h.Points, func(q measure.PointResult) bool { return q.ID == p.ID })
		switch {
		case !ok || k < 0 || !h.Points[k].Firm && h.Points[k].Tolerance != measure.Met || h.Points[k].Tolerance == measure.Undecided:
			again = append(again, string(p.ID))
		case h.Points[k].Tolerance == measure.NotMet:
			ask = append(ask, string(p.ID))
		case !h.Points[k].Firm:
			again = append(again, string(p.ID))
		}
	}
	return ask, again
}

// renewed says that the point is on something the items replace or straighten.
func (f *finder) renewed(p body.Point, items []plan.Item) bool {
	for _, c := range f.in.Body.Castings {
		if c.Part != p.Part {
			continue
		}
		for _, it := range items {
			if it.Kind == body.ReplaceCasting && it.Part == c.Part {
				return true
			}
			if line, ok := f.in.Body.Line(it.Line); ok && it.Kind == body.SectionOff && line.Casting == c.ID && f.takesOff(line, p.At()) {
				return true
			}
		}
	}
	return p.Part != "" && slices.ContainsFunc(items, func(it plan.Item) bool {
		return it.Kind.NewPart() && it.Part == p.Part || it.Kind == body.Straighten && f.on(it, p.Part)
	})
}

// on says that an item treats a finding on a part.
func (f *finder) on(it plan.Item, part body.PartID) bool {
	return slices.ContainsFunc(f.in.Job.Findings, func(x job.Finding) bool { return x.Part == part && slices.Contains(it.Findings, x.ID) })
}

// takesOff says that a point of the casting lies on what the line takes off.
func (f *finder) takesOff(l body.Line, p geom.Vec) bool {
	if len(l.Curve) == 0 {
		return l.TakesOff(p)
	}
	d := f.parted(l)
	return d != nil && d.Outboard(p)
}

// parted is the casting as a curve divides it; nil when it does not, or nobody
// knows.
func (f *finder) parted(l body.Line) *vehicle.Parted {
	p, err := f.in.Vehicle.Part(l)
	if err != nil || !p.Section.Divides {
		return nil // plan tells the error where the line is used
	}
	return p
}

// uninspected are the areas that nobody has inspected as the body asks and that
// the items leave on the vehicle: what was not looked at is not sound.
func (f *finder) uninspected(items []plan.Item) []string {
	var out []string
	for _, c := range f.in.Inspect.Open() {
		if !f.zoneRenewed(c.Casting, c.Zone, items) {
			out = append(out, c.Area)
		}
	}
	return out
}

// zoneRenewed says that all of a zone is replaced by the items.
func (f *finder) zoneRenewed(id body.CastingID, zone body.ZoneID, items []plan.Item) bool {
	casting, ok := f.in.Body.Casting(id)
	if !ok {
		return false
	}
	for _, it := range items {
		if it.Kind == body.ReplaceCasting && it.Part == casting.Part {
			return true
		}
		line, ok := f.in.Body.Line(it.Line)
		if ok && it.Kind == body.SectionOff && line.Casting == id && f.zoneOutboard(casting, zone, line) {
			return true
		}
	}
	return false
}

// zoneOutboard says that every face of the zone lies on what the line takes
// off. Without a mesh nobody knows.
func (f *finder) zoneOutboard(c body.Casting, zone body.ZoneID, l body.Line) bool {
	k := slices.IndexFunc(c.Zones, func(z body.Zone) bool { return z.ID == zone })
	s := f.in.Vehicle.Surface(c.ID)
	if k < 0 || s == nil {
		return false
	}
	m, stays := s.Mesh(), func(p geom.Vec) bool { return !l.TakesOff(p) }
	if len(l.Curve) > 0 {
		d := f.parted(l)
		if d == nil {
			return false
		}
		return d.TakesOffAll(int32(c.Zones[k].Label))
	}
	found := false
	for i, label := range m.Label {
		if label != int32(c.Zones[k].Label) {
			continue
		}
		found = true
		for _, v := range m.Faces[i] {
			if stays(m.Points[v]) {
				return false
			}
		}
	}
	return found
}

// findNested finds lines whose whole cut lies on what another line of the same
// casting takes off: to cut along both makes no sense.
func (f *finder) findNested(acts []action) {
	for _, a := range acts {
		line, ok := f.in.Body.Line(a.line)
		if !ok {
			continue
		}
		cut, err := f.in.Vehicle.Part(line)
		if err != nil || len(cut.Section.Loops) == 0 {
			continue // plan tells the error where the line is used
		}
		for _, b := range acts {
			if other, ok := f.in.Body.Line(b.line); ok && b.line != a.line && b.casting == a.casting {
				inside := true
				for _, loop := range cut.Section.Loops {
					for _, p := range loop.Points {
						inside = inside && f.takesOff(other, p)
					}
				}
				f.nested[[2]body.LineID{a.line, b.line}] = inside
			}
		}
	}
}
