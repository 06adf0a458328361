package inspect

import (
	"fmt"
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// area is a region to be inspected: one of the body's own list, or one that
// was found from the zones, ribs, bores and joints of a casting.
type area struct {
	id, name string
	casting  body.CastingID
	zone     body.ZoneID
	of       string // body.AreaZone, ...; written for one of the body's list
	sizeMM   float64
	method   string
	finds    float64 // 0: as the procedure says of the method used
	because  string
	cite     string
	within   string  // the area whose entry stands for this one unless it has its own
	reachMM  float64 // from the place of the impact; +Inf: not known to be near
}

const writtenArea = "written"

// areas is every area: those of the body's list first, then those found for
// every casting whose procedure says which method is asked for where. A zone
// or joint that the list has an area for under the same identity is not found
// again.
func (r *run) areas() []area {
	var out []area
	for _, a := range r.in.Body.Inspect {
		out = append(out, area{id: a.ID, name: a.Name, casting: a.Casting, zone: a.Zone, of: writtenArea, method: a.Method, finds: float64(a.Finds), cite: a.Cite})
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
	a.method = penetrant
	a.because = fmt.Sprintf("no rule of %s speaks of it, so the surest method is asked for", p.rule.ID)
}

// areasOf is the areas of a casting: every zone, the ribs and bores in it, and
// every joint that holds it.
func (r *run) areasOf(p *place) []area {
	feet := p.ribFeet()
	ribs := ", feet of the ribs"
	if !feet.sure {
		ribs = ", sharp edges (its mesh does not say on which side the metal is, so which are feet of ribs)"
	}
	var out []area
	for _, z := range p.casting.Zones {
		whole := area{id: body.AreaOfZone(z.ID), name: z.Name, of: body.AreaZone, casting: p.casting.ID, zone: z.ID, reachMM: r.reachOf(p, p.regionOf(z))}
		out = append(out, whole)
		part := whole
		part.within = whole.id
		if f := feet.by[int32(z.Label)]; f.lengthMM > 0 {
			part.id, part.name, part.of, part.sizeMM = body.AreaOfRibs(z.ID), z.Name+ribs, body.AreaRibs, f.lengthMM
			part.reachMM = r.reach(p, f.points)
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

// jointAreas is an area for every joint of the casting. One whose place is not
// in the body's data may be anywhere: it is asked for like the nearest.
func (r *run) jointAreas(p *place) []area {
	var out []area
	for _, j := range r.in.Body.JointsOf(p.casting.Part) {
		a := area{id: body.AreaOfJoint(j.ID), name: j.Name, of: body.AreaJoints, casting: p.casting.ID}
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
				}
			}
		}
		a.reachMM = r.reach(p, all)
		if len(zones) == 1 {
			a.zone = zones[0]
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
	if p.surf == nil {
		return ""
	}
	site, d := p.surf.Closest(at)
	if d > leastGateMM+float64(p.casting.Wall) || p.surf.Mesh().Label == nil {
		return ""
	}
	for _, z := range p.casting.Zones {
		if int32(z.Label) == p.surf.Mesh().Label[site.Face] {
			return z.ID
		}
	}
	return ""
}

// boresIn is the centres of the bores in a zone.
func (r *run) boresIn(p *place, z body.Zone) []geom.Vec {
	var out []geom.Vec
	for _, b := range p.casting.Bores {
		// the centre of a bore lies in the air: look at its rim
		at := b.At
		if across := b.Axis.Cross(geom.Vec{1, 0, 0}); across.Norm() > 0.1*b.Axis.Norm() && b.Axis.Norm() > 0 {
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

// region is a point of every face of a label.
type region struct {
	label  int32
	points []geom.Vec
	near   *geom.Segments // the same
}

// regionOf is a point of every face of a zone; none without a mesh.
func (g *grounded) regionOf(z body.Zone) region {
	for _, r := range g.regions.get(g.findRegions) {
		if int(r.label) == z.Label {
			return r
		}
	}
	return region{}
}

func (g *grounded) findRegions() []region {
	out := []region{}
	if g.surf == nil || g.surf.Mesh().Label == nil {
		return out
	}
	m := g.surf.Mesh()
	at := map[int32]int{}
	last := make([]int32, len(m.Points)) // label a point was last taken for, plus one
	for f, l := range m.Label {
		i, ok := at[l]
		if !ok {
			i = len(out)
			at[l], out = i, append(out, region{label: l})
		}
		if v := m.Faces[f][0]; last[v] != l+1 {
			last[v] = l + 1
			out[i].points = append(out[i].points, m.Points[v])
		}
	}
	for i, r := range out {
		ends := make([][2]geom.Vec, len(r.points))
		for k, q := range r.points {
			ends[k] = [2]geom.Vec{q, q}
		}
		out[i].near = geom.NewSegments(ends)
	}
	return out
}

// reachOf is reach of the points of a region.
func (r *run) reachOf(p *place, of region) float64 {
	hit := r.in.Job.Impact.At
	if len(hit) == 0 || len(of.points) == 0 {
		return r.reach(p, of.points)
	}
	best := math.Inf(1)
	for _, q := range hit {
		best = of.near.Nearer(best, q, q)
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
	if p.surf == nil {
		return nil
	}
	lo, hi := p.surf.Mesh().Bounds()
	axes := r.in.Body.Axes
	side := func(axis int, low bool) func(geom.Vec) float64 {
		if low {
			return func(q geom.Vec) float64 { return q[axis] - lo[axis] }
		}
		return func(q geom.Vec) float64 { return hi[axis] - q[axis] }
	}
	front, rear := side(0, axes.X != "forward"), side(0, axes.X == "forward")
	left, right := side(1, axes.Y != "left"), side(1, axes.Y == "left")
	both := func(a, b func(geom.Vec) float64) func(geom.Vec) float64 {
		return func(q geom.Vec) float64 { return elem.Hypot(a(q), b(q)) }
	}
	switch r.in.Job.Impact.From {
	case "front":
		return front
	case "rear":
		return rear
	case "left":
		return left
	case "right":
		return right
	case "front-left":
		return both(front, left)
	case "front-right":
		return both(front, right)
	case "rear-left":
		return both(rear, left)
	case "rear-right":
		return both(rear, right)
	}
	return nil
}

// foot is the inner edges of a zone, where ribs stand on walls.
type foot struct {
	lengthMM float64
	points   []geom.Vec
}

// ribFootRad is how far the surface has to turn inward along an edge for a rib
// to stand there. Our choice, no source: rounds in the feet of ribs are split
// into facets of 15 to 30 degrees by usual mesh tolerances.
const ribFootRad = 35 * math.Pi / 180

// ribFeet is, by label, the edges at which the surface turns inward by more
// than ribFootRad: the feet of ribs and gussets. An edge counts for the label
// of its first face. Where the mesh does not say on which side its metal is, all
// edges count at which it turns so far, either way, and they are not sure.
func (g *grounded) ribFeet() feet {
	return g.feet.get(func() feet {
		out := feet{by: map[int32]foot{}, sure: true}
		if g.surf != nil {
			m := g.surf.Mesh()
			out.sure = g.surf.SidesDoubt() == ""
			findFeet(m, !out.sure, out.by)
			g.seamFeet(&out)
		}
		return out
	})
}

// feet is the inner edges by label, or all sharp ones where it is not sure which are inner.
type feet struct {
	by   map[int32]foot
	sure bool
}

func findFeet(m *mesh.Mesh, either bool, out map[int32]foot) {
	of, n := m.EdgeOf()
	first := [2][]int32{make([]int32, n), make([]int32, n)} // corner an edge was met from, plus one: from its smaller end and from its larger
	for f, t := range m.Faces {
		for k := range 3 {
			u, v := t[k], t[(k+1)%3]
			e, way := of[3*f+k], 0
			if u > v {
				way = 1
			}
			back := way // the other way round
			if u != v {
				back = 1 - way
			}
			h := first[back][e]
			against := false // turned against one another
			if h == 0 && either {
				h = first[way][e]
				against = h != 0
			}
			if h == 0 {
				first[way][e] = int32(3*f+k) + 1
				continue
			}
			on := int(h-1) / 3
			turn := inwardRad(m, on, f, m.Faces[on][(h+1)%3])
			if either {
				turn = math.Abs(turn)
			}
			if against {
				turn = math.Pi - turn
			}
			if turn <= ribFootRad {
				continue
			}
			label := int32(0)
			if m.Label != nil {
				label = m.Label[on]
			}
			o := out[label]
			o.lengthMM += m.Points[u].Dist(m.Points[v])
			o.points = append(o.points, m.Points[u])
			out[label] = o
		}
	}
}

// inwardRad is the angle by which the surface turns inward from one face to
// the next; negative at an outer edge. far is the corner of the first face
// that is not on the edge.
func inwardRad(m *mesh.Mesh, a, b int, far int32) float64 {
	n, o := m.FaceNormal(a), m.FaceNormal(b)
	angle := elem.Atan2(n.Cross(o).Norm(), n.Dot(o))
	t := m.Faces[b]
	// the corner of the second face that is not on the edge lies in front of the
	// first face where the surface turns inward
	for _, v := range t {
		if v != far && !slices.Contains(m.Faces[a][:], v) {
			if m.Points[v].Sub(m.Points[far]).Dot(n) < 0 {
				return -angle
			}
		}
	}
	return angle
}

// unknownAreas notes entries of the job for areas that were not found.
func (r *run) unknownAreas(all []area) {
	for _, s := range r.in.Job.Areas {
		if !slices.ContainsFunc(all, func(a area) bool { return a.id == s.Area }) {
			r.note(diag.Note{Code: "inspect.no-such-area", Severity: diag.Caution, Where: s.Area,
				Text: fmt.Sprintf("an entry says that area %s was looked at (%s), but the casting has no such area", s.Area, s.State),
				Hint: "enter it for the area it was"})
		}
	}
}
