package body

import (
	"slices"

	"fettle/internal/unit"
)

// find is the first item whose identity is id.
func find[T any, ID comparable](items []T, id ID, of func(*T) ID) (T, bool) {
	for i := range items {
		if of(&items[i]) == id {
			return items[i], true
		}
	}
	var zero T
	return zero, false
}

// Part is the part of that identity.
func (b *Body) Part(id PartID) (Part, bool) {
	return find(b.Parts, id, func(p *Part) PartID { return p.ID })
}

// Point is the control point of that identity.
func (b *Body) Point(id PointID) (Point, bool) {
	return find(b.Points, id, func(p *Point) PointID { return p.ID })
}

// Casting is the casting of that identity.
func (b *Body) Casting(id CastingID) (Casting, bool) {
	return find(b.Castings, id, func(c *Casting) CastingID { return c.ID })
}

// Zone is the zone of that identity; zone identities are unique in a body.
func (b *Body) Zone(id ZoneID) (Zone, bool) {
	c, ok := b.CastingOf(id)
	if !ok {
		return Zone{}, false
	}
	return find(c.Zones, id, func(z *Zone) ZoneID { return z.ID })
}

// CastingOf is the casting a zone lies on.
func (b *Body) CastingOf(id ZoneID) (Casting, bool) {
	for _, c := range b.Castings {
		for _, z := range c.Zones {
			if z.ID == id {
				return c, true
			}
		}
	}
	return Casting{}, false
}

// Line is the section line of that identity.
func (b *Body) Line(id LineID) (Line, bool) {
	return find(b.Lines, id, func(l *Line) LineID { return l.ID })
}

// Joint is the joint of that identity.
func (b *Body) Joint(id JointID) (Joint, bool) {
	return find(b.Joints, id, func(j *Joint) JointID { return j.ID })
}

// Material is the material of that identity.
func (b *Body) Material(id MaterialID) (Material, bool) {
	return find(b.Materials, id, func(m *Material) MaterialID { return m.ID })
}

// Treatment is the treatment of that identity.
func (b *Body) Treatment(id TreatmentID) (Treatment, bool) {
	return find(b.Treatments, id, func(t *Treatment) TreatmentID { return t.ID })
}

// Task is the task of that identity.
func (b *Body) Task(id TaskID) (Task, bool) {
	return find(b.Tasks, id, func(t *Task) TaskID { return t.ID })
}

// Section is the section of that identity.
func (b *Body) Section(id SectionID) (Section, bool) {
	return find(b.Sections, id, func(s *Section) SectionID { return s.ID })
}

// Area is the inspection area of that identity.
func (b *Body) Area(id string) (Area, bool) {
	return find(b.Inspect, id, func(a *Area) string { return a.ID })
}

// InForce is a procedure as it applies on a day.
type InForce struct {
	Procedure
	Expired bool // the day to look it up again has come: it permits nothing any more
}

// ProcedureFor is the revision of the casting's procedure that applies on the
// day: effective, and not superseded by another effective one; the latest of
// several. The second result is false when there is none.
func (b *Body) ProcedureFor(casting CastingID, today unit.Date) (InForce, bool) {
	effective := func(p Procedure) bool { return p.Casting == casting && !today.Before(p.Effective) }
	var best *Procedure
	for i := range b.Procedures {
		p := &b.Procedures[i]
		if !effective(*p) || b.superseded(*p, effective) {
			continue
		}
		if best == nil || best.Effective.Before(p.Effective) {
			best = p
		}
	}
	if best == nil {
		return InForce{}, false
	}
	return InForce{*best, !today.Before(best.Recheck)}, true
}

// superseded says that another revision that counts takes the place of p.
func (b *Body) superseded(p Procedure, counts func(Procedure) bool) bool {
	for _, q := range b.Procedures {
		if q.ID == p.ID && q.Supersedes == p.Revision && counts(q) {
			return true
		}
	}
	return false
}

// RivetBounds are the published least distances of that identity.
func (b *Body) RivetBounds(id string) (RivetBounds, bool) {
	return find(b.Bounds, id, func(r *RivetBounds) string { return r.ID })
}

// HasPoints says that a part has control points: it is structure.
func (b *Body) HasPoints(p PartID) bool {
	return p != "" && slices.ContainsFunc(b.Points, func(q Point) bool { return q.Part == p })
}
