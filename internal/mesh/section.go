package mesh

import (
	"fmt"
	"slices"

	"fettle/internal/geom"
)

// Piece is what a section leaves on one side.
type Piece struct {
	Faces     []int32 // of the split mesh
	AreaMM2   float64 // of the surface, without the cut faces
	VolumeMM3 float64 // closed by the cut faces; meaningless unless the mesh is closed
}

// MassKg is the mass of the piece at a density in grams per cubic centimetre.
func (p *Piece) MassKg(gramsPerCM3 float64) float64 { return p.VolumeMM3 * gramsPerCM3 * 1e-6 }

// Section is a casting divided by planes in two: the part where all n.x >= d
// (the outer one), and the rest.
type Section struct {
	Split    Split
	Loops    []Loop  // the section line, on the surface
	LengthMM float64 // of all loops
	Rest     Piece
	Outer    Piece
	// Divides says that the line is proven to part the surface in two: every
	// loop is closed, and each side is one piece. Reasons says why not.
	Divides bool
	Reasons []string
}

// Section divides a mesh that passes Check by the planes: one plane, or several
// that meet in corners. Points within snapMM of a plane count as on it.
//
// The proof walks the split mesh: the line is the edges between the two parts,
// and a flood fill that does not cross it must find exactly one piece on each
// side. A line that leaves the surface open, touches a border, or cuts it in
// more pieces is not refused with an error but told in Reasons.
func (m *Mesh) Section(planes []Plane, snapMM float64) (Section, error) {
	if len(planes) == 0 {
		return Section{}, invalid("no cutting plane is given", "give at least one plane")
	}
	sp, err := m.SplitByPlanes(planes, snapMM)
	if err != nil {
		return Section{}, err
	}
	out := Section{Split: sp}
	side := make([]int32, len(sp.Mesh.Faces))
	for f := range side {
		side[f] = 1
		for _, above := range sp.Above {
			if !above[f] {
				side[f] = 0
			}
		}
		p := &out.Rest
		if side[f] == 1 {
			p = &out.Outer
		}
		p.Faces = append(p.Faces, int32(f))
		p.AreaMM2 += sp.Mesh.FaceAreaMM2(f)
	}
	out.prove(side)
	out.volumes(planes)
	return out, nil
}

// prove finds the line and counts the pieces on each side.
func (c *Section) prove(side []int32) {
	m := c.Split.Mesh
	byside := &Mesh{Points: m.Points, Faces: m.Faces, Label: side}
	pieces := newPieces(len(m.Faces))
	ends := map[int32]int{} // edges of the line at each point
	open, seams := 0, 0
	var edges []borderEdge
	m.edgeGroups(func(u, v int32, halves []int32) {
		cut := false
		for _, h := range halves {
			cut = cut || side[h/3] != side[halves[0]/3]
		}
		switch {
		case cut && len(halves) > 2:
			seams++
		case len(halves) == 1:
			open++
		}
		if cut {
			ends[u]++
			ends[v]++
			edges = append(edges, borderEdge{u, v, 0, 1})
			return
		}
		for _, h := range halves[1:] {
			pieces.join(halves[0]/3, h/3)
		}
	})
	c.loops(byside, edges)
	if len(edges) == 0 {
		c.Reasons = append(c.Reasons, "the planes do not cut the surface")
	}
	loose := 0
	for _, l := range c.Loops {
		if !l.Closed {
			loose++
		}
	}
	if loose > 0 {
		c.Reasons = append(c.Reasons, fmt.Sprintf("%d parts of the line do not close: they end at a border of the surface, or meet in one point", loose))
	}
	if seams > 0 {
		c.Reasons = append(c.Reasons, fmt.Sprintf("the line runs along %d edges of three or more faces", seams))
	}
	if open > 0 {
		c.Reasons = append(c.Reasons, fmt.Sprintf("the surface has %d open edges, so it has no inside", open))
	}
	count := [2]int{}
	for f, t := range m.Faces {
		if !collapsed(t) && pieces.root(int32(f)) == int32(f) {
			count[side[f]]++
		}
	}
	for k, name := range [2]string{"the rest", "the outer part"} {
		if len(edges) > 0 && count[k] != 1 {
			c.Reasons = append(c.Reasons, fmt.Sprintf("%s is in %d pieces", name, count[k]))
		}
	}
	c.Divides = len(c.Reasons) == 0
}

// loops chains the edges of the line.
func (c *Section) loops(m *Mesh, edges []borderEdge) {
	s := Surface{m: m, borders: borderIndex{edges: edges}}
	for _, line := range s.LabelBorders() {
		closed := len(line) > 2 && line[0] == line[len(line)-1]
		l := Loop{line, closed, polylineMM(line)}
		if closed {
			l.Points = slices.Clip(line[:len(line)-1])
		}
		c.Loops = append(c.Loops, l)
		c.LengthMM += l.LengthMM
	}
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
				x := p.Lerp(q, hp/(hp-hq))
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
