package inspect

import (
	"fmt"
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// area is a region to be inspected: one of the body's own list, or one that
// was found from the zones, ribs, bores and joints of a casting.
type area struct {
	id, name string
	casting  body.CastingID
	zone     body.ZoneID
	zones    []body.ZoneID // of a joint: those it lies in; an empty one: part of it lies in none that is known
	of       body.AreaKind // body.AreaZone, ...; written for one of the body's list
	sizeMM   float64
	method   body.InspectionMethod
	finds    float64 // 0: as the procedure says of the method used
	because  string
	cite     string
	within   string  // the area whose entry stands for this one unless it has its own
	reachMM  float64 // from the place of the impact; +Inf: not known to be near
}

// WrittenArea is the kind of an area of the body's own list.
const WrittenArea body.AreaKind = "written"

// areas is every area: those of the body's list first, then those found for
// every casting whose procedure says which method is asked for where. A zone
// or joint that the list has an area for under the same identity is not found
// again.
func (r *run) areas() []area {
	var out []area
	for _, a := range r.in.Body.Inspect {
		out = append(out, area{id: a.ID, name: a.Name, casting: a.Casting, zone: a.Zone, of: WrittenArea, method: a.Method, finds: float64(a.Finds), cite: a.Cite})
	}
	for i := range r.places {
		p := &r.places[i]
		if p.rule == nil || len(p.rule.Areas) == 0 {
			continue
		}
		for _, a := range r.areasOf(p) {
			if !slices.ContainsFunc(out, func(o area) bool { return o.id == a.id }) {
				r.ask(p, &a)
				out = append(out, a)
			}
		}
	}
	return out
}

// ask says by which method an area is asked for: by the first rule of the
// procedure that fits, with penetrant when none does.
func (r *run) ask(p *place, a *area) {
	zone, known := r.in.Body.Zone(a.zone)
	for _, u := range p.rule.Areas {
		switch {
		case !slices.Contains(u.Of, a.of),
			len(u.Zones) > 0 && known && !slices.Contains(u.Zones, a.zone),
			u.LoadPath && known && !zone.LoadPath,
			u.Within.Known && !(a.reachMM <= float64(u.Within.Value)):
			continue
		}
		a.method, a.cite = u.Method, u.Cite
		a.because = fmt.Sprintf("%s asked for by %s, rule %s (%s)", u.Method, p.rule.ID, u.ID, u.Cite)
		if u.Within.Known {
			a.because += fmt.Sprintf(": %s from the impact, within %s", beside(a.reachMM, float64(u.Within.Value)), full(float64(u.Within.Value)))
		}
		if u.LoadPath {
			a.because += ", on the load path"
		}
		return
	}
	a.method = body.Penetrant
	a.because = fmt.Sprintf("no rule of %s speaks of it, so the surest method is asked for", p.rule.ID)
}

// areasOf is the areas of a casting: every zone, the ribs and bores in it, and
// every joint that holds it.
func (r *run) areasOf(p *place) []area {
	feet := p.RibFeet()
	ribs := ", feet of the ribs"
	if !feet.Sure {
		ribs = ", sharp edges (its mesh does not say on which side the metal is, so which are feet of ribs)"
	}
	var out []area
	for _, z := range p.Of.Zones {
		whole := area{id: body.AreaOfZone(z.ID), name: z.Name, of: body.AreaZone, casting: p.Of.ID, zone: z.ID, reachMM: r.reachOf(p, p.Region(z))}
		out = append(out, whole)
		part := whole
		part.within = whole.id
		if p.Surface == nil && !p.Of.HasMesh() {
			out = append(out, unseenParts(part)...)
			continue
		}
		if f := feet.By[int32(z.Label)]; f.LengthMM > 0 {
			part.id, part.name, part.of, part.sizeMM = body.AreaOfRibs(z.ID), z.Name+ribs, body.AreaRibs, f.LengthMM
			part.reachMM = r.reach(p, f.Points)
			out = append(out, part)
		}
		if rims := r.boresIn(p, z); len(rims) > 0 {
			part.id, part.name, part.of, part.sizeMM = body.AreaOfBores(z.ID), fmt.Sprintf("%s, %s", z.Name, unit.Count(len(rims), "bore")), body.AreaBores, 0
			part.reachMM = r.reach(p, rims)
			out = append(out, part)
		}
	}
	return append(out, r.jointAreas(p)...)
}

// unseenParts is the ribs and bores that a zone may have where no mesh shows them.
func unseenParts(whole area) []area {
	ribs, bores := whole, whole
	ribs.id, ribs.name, ribs.of = body.AreaOfRibs(whole.zone), whole.name+", feet of its ribs, if it has any", body.AreaRibs
	bores.id, bores.name, bores.of = body.AreaOfBores(whole.zone), whole.name+", its bores, if it has any", body.AreaBores
	return []area{ribs, bores}
}

// jointAreas is an area for every joint of the casting. One whose place is not
// in the body's data may be anywhere: it is asked for like the nearest.
func (r *run) jointAreas(p *place) []area {
	var out []area
	for _, j := range r.in.Body.JointsOf(p.Of.Part) {
		a := area{id: body.AreaOfJoint(j.ID), name: j.Name, of: body.AreaJoints, casting: p.Of.ID}
		var all []geom.Vec
		var zones []body.ZoneID
		for _, line := range j.Along {
			all = append(all, line...)
			for i, q := range line {
				if z := p.zoneAt(q); !slices.Contains(zones, z) {
					zones = append(zones, z)
				}
				if i > 0 {
					a.sizeMM += line[i-1].Dist(q)
					a.zones = p.zonesBetween(a.zones, line[i-1], q)
				}
			}
		}
		a.reachMM = r.reach(p, all)
		for _, z := range zones {
			if !slices.Contains(a.zones, z) {
				a.zones = append(a.zones, z)
			}
		}
		if len(a.zones) == 1 {
			a.zone = a.zones[0]
		}
		if a.zone != "" {
			a.within = body.AreaOfZone(a.zone)
		}
		out = append(out, a)
	}
	return out
}

// zoneAt is the zone of the surface nearest to a point; empty when that is too
// far away or no zone.
func (p *place) zoneAt(at geom.Vec) body.ZoneID {
	if p.Surface == nil {
		return ""
	}
	site, d := p.Surface.Closest(at)
	if d > vehicle.LeastGateMM+float64(p.Of.Wall) || p.Surface.Mesh().Label == nil {
		return ""
	}
	for _, z := range p.Of.Zones {
		if int32(z.Label) == p.Surface.Mesh().Label[site.Face] {
			return z.ID
		}
	}
	return ""
}

// alongMM is how far apart a joint is looked at between the points of its line.
const alongMM = 5

// zonesBetween adds the zones that the line of a joint comes through between two of its points;
// where it leaves the surface there, none.
func (p *place) zonesBetween(zones []body.ZoneID, from, to geom.Vec) []body.ZoneID {
	n := math.Ceil(from.Dist(to) / alongMM)
	for k := 1.0; k < n; k++ {
		if z := p.zoneAt(from.Add(to.Sub(from).Scale(k / n))); z != "" && !slices.Contains(zones, z) {
			zones = append(zones, z)
		}
	}
	return zones
}

// boresIn is a place on the rim of each bore whose rim lies in a zone.
func (r *run) boresIn(p *place, z body.Zone) []geom.Vec {
	var out []geom.Vec
	for _, b := range p.Of.Bores {
		// the centre of a bore lies in the air: look at its rim
		at := b.At
		if across := b.Axis.Cross(geom.Vec{1, 0, 0}); across.Norm() > 0.1*b.Axis.Norm() {
			at = at.Add(across.Unit().Scale(float64(b.Radius)))
		} else if across := b.Axis.Cross(geom.Vec{0, 1, 0}); across.Norm() > 0 {
			at = at.Add(across.Unit().Scale(float64(b.Radius)))
		}
		if p.zoneAt(at) == z.ID {
			out = append(out, at)
		}
	}
	return out
}

// reachOf is reach of the points of a region.
func (r *run) reachOf(p *place, of vehicle.Region) float64 {
	hit := r.in.Job.Impact.At
	if len(hit) == 0 || len(of.Points) == 0 {
		return r.reach(p, of.Points)
	}
	best := math.Inf(1)
	for _, q := range hit {
		best = of.Near.Nearer(best, q, q)
	}
	return best
}

// reach is how near the points come to the place of the impact [mm]. With a
// point of impact that is the distance from it; with only a side named, the
// distance from that side of the casting, measured along the named directions.
// When neither is known everything is near: 0.
func (r *run) reach(p *place, points []geom.Vec) float64 {
	distance := r.fromImpact(p)
	if distance == nil || len(points) == 0 {
		return 0
	}
	best := math.Inf(1)
	for _, q := range points {
		best = min(best, distance(q))
	}
	return best
}

// fromImpact is the distance of a point from the impact; nil when it is not
// known where that was.
func (r *run) fromImpact(p *place) func(geom.Vec) float64 {
	if hit := r.in.Job.Impact.At; len(hit) > 0 {
		return func(q geom.Vec) float64 {
			best := math.Inf(1)
			for _, p := range hit {
				best = min(best, p.Dist(q))
			}
			return best
		}
	}
	if p.Surface == nil {
		return nil
	}
	lo, hi := p.Surface.Mesh().Bounds()
	axes := r.in.Body.Axes
	side := func(axis int, low bool) func(geom.Vec) float64 {
		if low {
			return func(q geom.Vec) float64 { return q[axis] - lo[axis] }
		}
		return func(q geom.Vec) float64 { return hi[axis] - q[axis] }
	}
	front, rear := side(0, axes.X != body.Forward), side(0, axes.X == body.Forward)
	left, right := side(1, axes.Y != body.Left), side(1, axes.Y == body.Left)
	both := func(a, b func(geom.Vec) float64) func(geom.Vec) float64 {
		return func(q geom.Vec) float64 { return elem.Hypot(a(q), b(q)) }
	}
	switch r.in.Job.Impact.From {
	case job.FromFront:
		return front
	case job.FromRear:
		return rear
	case job.FromLeft:
		return left
	case job.FromRight:
		return right
	case job.FromFrontLeft:
		return both(front, left)
	case job.FromFrontRight:
		return both(front, right)
	case job.FromRearLeft:
		return both(rear, left)
	case job.FromRearRight:
		return both(rear, right)
	}
	return nil
}

// unknownAreas notes entries of the job for areas that were not found.
func (r *run) unknownAreas(all []area) {
	for _, s := range r.in.Job.Areas {
		if !slices.ContainsFunc(all, func(a area) bool { return a.id == s.Area }) {
			r.note(diag.Say(noSuchArea, "an entry says that area {area} was looked at ({state}), but the casting has no such area", s.Area, s.State).Note(diag.Note{Severity: diag.Caution, Where: s.Area, Hint: "enter it for the area it was"}))
		}
	}
}
