package mesh

import (
	"slices"

	"fettle/internal/geom"
	"fettle/internal/halt"
)

// Piece is what a section leaves on one side.
type Piece struct {
	Faces     []int32 // of the split mesh
	AreaMM2   float64 // of the surface, without the cut faces
	VolumeMM3 float64 // closed by the cut faces; meaningless unless the mesh is closed
}

// MassKg is the mass of the piece at a density in grams per cubic centimetre.
func (p *Piece) MassKg(gramsPerCM3 float64) float64 { return float64(p.VolumeMM3 * gramsPerCM3 * 1e-6) }

// Section is a part divided in two by a line: the outer part, and the rest.
type Section struct {
	Split    Split
	Loops    []Loop  // the line, on the surface; open ones too
	LengthMM float64 // of all loops
	// FacesCrossed counts the faces of the mesh that the line passes through.
	FacesCrossed int
	Rest         Piece
	Outer        Piece
	// VolumesExact says that the cut faces are known, so that the volumes are
	// those of the parts. Else each loop is closed by the smallest cut face, and
	// the volumes are within VolumesWithinMM3 of those of any cut between the two
	// sides of the wall. VolumeDoubt says why they are not given at all.
	VolumesExact     bool
	VolumesWithinMM3 float64
	VolumeDoubt      string
	// Divides says that the line is proven to part the surface in two: every
	// loop is closed, and each side is one piece. Reasons says why not.
	Divides bool
	Reasons []string
}

// Window is a box with its corners; a nil Window is everywhere.
type Window struct{ Lo, Hi geom.Vec }

func (w *Window) holds(p geom.Vec) bool {
	if w == nil {
		return true
	}
	for k := range 3 {
		if p[k] < w.Lo[k] || p[k] > w.Hi[k] {
			return false
		}
	}
	return true
}

// Section is SectionWithin everywhere.
func (m *Mesh) Section(planes []Plane, snapMM float64) (Section, error) {
	return m.SectionWithin(planes, nil, snapMM)
}

// SectionWithin divides a mesh that passes Check by the planes: one plane, or
// several that meet in corners. The outer part is where all n.x >= d. With a
// window the planes cut only inside it, and the outer part is what hangs
// together with that side of the line. Points within snapMM of a plane count
// as on it.
//
// The proof walks the split mesh: the line is the edges between the two parts,
// and a flood fill that does not cross it must find exactly one piece on each
// side. A line that leaves the surface open, touches a border, or cuts it in
// more pieces is not refused with an error but told in Reasons.
func (m *Mesh) SectionWithin(planes []Plane, w *Window, snapMM float64) (Section, error) {
	return m.SectionWhile(nil, planes, w, snapMM)
}

// SectionWhile does so as part of some work: when that is stopped, it is.
func (m *Mesh) SectionWhile(work *halt.Work, planes []Plane, w *Window, snapMM float64) (Section, error) {
	if err := m.Check(); err != nil {
		return Section{}, err
	}
	return m.sectionWithin(work, planes, w, snapMM, m.SidesDoubt)
}

// SectionWithin is that of the mesh; what does not depend on the planes is found
// out once for all of them.
func (s *Surface) SectionWithin(planes []Plane, w *Window, snapMM float64) (Section, error) {
	return s.m.sectionWithin(s.work, planes, w, snapMM, s.SidesDoubt)
}

func (m *Mesh) sectionWithin(work *halt.Work, planes []Plane, w *Window, snapMM float64, sidesDoubt func() string) (Section, error) {
	if len(planes) == 0 {
		return Section{}, invalid("no cutting plane is given", "give at least one plane")
	}
	sp, err := m.splitChecked(work, planes, snapMM)
	if err != nil {
		return Section{}, err
	}
	side := make([]int32, len(sp.Mesh.Faces))
	for f := range side {
		side[f] = 1
		for _, above := range sp.Above {
			if !above[f] {
				side[f] = 0
			}
		}
	}
	p := parting{work: work, m: sp.Mesh, side: side, whole: w == nil, missing: "the planes do not cut the surface"}
	p.through = func(a, b geom.Vec) bool { return cutBetween(planes, w, a, b) }
	p.onLine = func(u, v int32, halves []int32) bool {
		for _, h := range halves[1:] {
			if side[h/3] != side[halves[0]/3] && w.holds(sp.Mesh.Points[u].Lerp(sp.Mesh.Points[v], 0.5)) {
				p.cut(u, v)
				return true
			}
		}
		return false
	}
	out := Section{Split: sp}
	p.prove(&out)
	work.Step()
	hub, common := commonPoint(planes, sp.Mesh)
	switch {
	case common: // every cut face lies in a plane through that point: cones from it have no volume
		out.VolumesExact = true
		out.Outer.VolumeMM3, out.Rest.VolumeMM3 = sp.Mesh.coneVolume(out.Outer.Faces, hub), sp.Mesh.coneVolume(out.Rest.Faces, hub)
	case w == nil:
		out.VolumesExact = true
		out.volumes(planes)
	default:
		p.capVolumes(&out)
	}
	if doubt := sidesDoubt(); doubt != "" {
		out.VolumesExact, out.VolumesWithinMM3, out.VolumeDoubt = false, 0, doubt
		out.Outer.VolumeMM3, out.Rest.VolumeMM3 = 0, 0
	}
	return out, nil
}

// cutBetween says that the planes divide two places from one another, in the window.
func cutBetween(planes []Plane, w *Window, a, b geom.Vec) bool {
	outer := func(x geom.Vec) bool {
		for _, p := range planes {
			if p.Normal.Dot(x) < p.OffsetMM {
				return false
			}
		}
		return true
	}
	for _, p := range planes {
		x, y := p.Normal.Dot(a)-p.OffsetMM, p.Normal.Dot(b)-p.OffsetMM
		if (x >= 0) == (y >= 0) {
			continue
		}
		t := x / (x - y)
		if w.holds(a.Lerp(b, t)) && outer(a.Lerp(b, t-1e-6)) != outer(a.Lerp(b, t+1e-6)) {
			return true
		}
	}
	return false
}

// commonPoint is the point of all of up to three planes that is nearest to the
// middle of the mesh; false when they have none, or meet at too sharp an angle
// to say where. The middle is put on one plane after another, each time along
// what of its normal lies in the planes before.
func commonPoint(planes []Plane, m *Mesh) (geom.Vec, bool) {
	lo, hi := m.Bounds()
	at := lo.Lerp(hi, 0.5)
	var free []geom.Vec // directions taken, square to one another
	for _, p := range planes {
		n := p.Normal.Unit()
		way := n
		for _, f := range free {
			way = way.Sub(f.Scale(way.Dot(f)))
		}
		if len(free) == 3 || way.Norm() < leastPlaneSine {
			return at, false
		}
		way = way.Unit()
		at = at.Sub(way.Scale((n.Dot(at) - p.OffsetMM/p.Normal.Norm()) / n.Dot(way)))
		free = append(free, way)
	}
	return at, true
}

// leastPlaneSine is the sine of the least angle between planes whose common
// point is worked out. Our choice: a hundredth keeps 12 digits.
const leastPlaneSine = 0.01

// coneVolume is the volume between some faces and a point.
func (m *Mesh) coneVolume(faces []int32, hub geom.Vec) float64 {
	sum := 0.0
	for _, f := range faces {
		sum += m.cone(int(f), &hub)
	}
	return sum / 6
}

// volumes closes the outer part: the triangles are clipped by one plane after
// another, and every clipped edge is joined to a point of that plane. Those fans
// overlap, but their signs add up to the cut faces, whatever their shape, and
// the next plane clips them like the rest. The remaining part is the difference.
func (c *Section) volumes(planes []Plane) {
	m := c.Split.Mesh
	lo, hi := m.Bounds()
	o := lo.Lerp(hi, 0.5)
	soup := make([][3]geom.Vec, len(m.Faces))
	for f := range m.Faces {
		a, b, d := m.corners(f)
		soup[f] = [3]geom.Vec{a.Sub(o), b.Sub(o), d.Sub(o)}
	}
	whole := soupVolume(soup)
	for _, p := range planes {
		soup = clipSoup(soup, p.Normal.Unit(), (p.OffsetMM-p.Normal.Dot(o))/p.Normal.Norm())
	}
	c.Outer.VolumeMM3 = soupVolume(soup)
	c.Rest.VolumeMM3 = whole - c.Outer.VolumeMM3
}

func soupVolume(soup [][3]geom.Vec) float64 {
	sum := 0.0
	for _, t := range soup {
		sum += t[0].Dot(t[1].Cross(t[2]))
	}
	return sum / 6
}

// crossingOf is where the line between two places at these heights is at height 0: to the bit
// the same whichever way the line is gone along. Else two triangles could have their common
// corner on different sides of the next plane, and the soup would be open.
func crossingOf(p, q geom.Vec, hp, hq float64) geom.Vec {
	if slices.Compare(p[:], q[:]) > 0 {
		p, q, hp, hq = q, p, hq, hp
	}
	return p.Lerp(q, hp/(hp-hq))
}

// clipSoup keeps what lies where n.x >= d, and closes it.
func clipSoup(soup [][3]geom.Vec, n geom.Vec, d float64) [][3]geom.Vec {
	var out [][3]geom.Vec
	hub := n.Scale(d)
	for _, t := range soup {
		var poly []geom.Vec
		var cut []geom.Vec // where the outline leaves, and where it comes back
		for k := range 3 {
			p, q := t[k], t[(k+1)%3]
			hp, hq := n.Dot(p)-d, n.Dot(q)-d
			if hp >= 0 {
				poly = append(poly, p)
			}
			if hp >= 0 != (hq >= 0) {
				x := crossingOf(p, q, hp, hq)
				poly = append(poly, x)
				if hp >= 0 {
					cut = append([]geom.Vec{x}, cut...)
				} else {
					cut = append(cut, x)
				}
			}
		}
		for i := 1; i+1 < len(poly); i++ {
			out = append(out, [3]geom.Vec{poly[0], poly[i], poly[i+1]})
		}
		if len(cut) == 2 { // the outline runs from cut[0] to cut[1] in the plane; the cut face runs back
			out = append(out, [3]geom.Vec{hub, cut[1], cut[0]})
		}
	}
	return out
}
