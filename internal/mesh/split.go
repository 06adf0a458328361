package mesh

import (
	"math"

	"fettle/internal/geom"
	"fettle/internal/halt"
)

// Split is a mesh cut along planes: no face crosses one, so that labels can
// end there exactly.
type Split struct {
	Mesh   *Mesh
	Parent []int32  // by face: the face it is a part of
	Above  [][]bool // by plane, by face: it lies where n.x >= d
}

// Plane is n.x = d, n of any length but zero.
type Plane struct {
	Normal   geom.Vec
	OffsetMM float64
}

func (p *Plane) check() error {
	l := p.Normal.Norm()
	if !(l > 0) || !p.Normal.Finite() || !(geom.Vec{p.OffsetMM, l, 0}).Finite() {
		return invalid("the cutting plane is not defined", "give a finite normal that is not zero, and a finite offset")
	}
	return nil
}

// SplitByPlanes cuts the faces of a mesh that passes Check along the planes,
// one after another. Neighbouring faces get the same new points, so nothing
// opens. Labels follow their faces. Points nearer to a plane than snapMM count
// as lying on it, which keeps slivers away; the mesh is then cut up to snapMM
// off the plane.
func (m *Mesh) SplitByPlanes(planes []Plane, snapMM float64) (Split, error) {
	if err := m.Check(); err != nil {
		return Split{}, err
	}
	return m.splitChecked(nil, planes, snapMM)
}

// splitChecked is SplitByPlanes of a mesh that is known to pass Check.
func (m *Mesh) splitChecked(work *halt.Work, planes []Plane, snapMM float64) (Split, error) {
	out := Split{Mesh: &Mesh{Points: append([]geom.Vec(nil), m.Points...), Faces: append([][3]int32(nil), m.Faces...)}}
	if m.Label != nil {
		out.Mesh.Label = append([]int32(nil), m.Label...)
	}
	out.Parent = make([]int32, len(m.Faces))
	for f := range out.Parent {
		out.Parent[f] = int32(f)
	}
	for _, p := range planes {
		if err := p.check(); err != nil {
			return Split{}, err
		}
		work.Step()
		out.cut(&p, snapMM)
	}
	for _, p := range planes {
		work.Step()
		out.Above = append(out.Above, out.side(&p))
	}
	return out, nil
}

// height is the distance of every point above the plane, 0 within snap.
func (s *Split) height(p *Plane, snap float64) []float64 {
	n := p.Normal.Norm()
	out := make([]float64, len(s.Mesh.Points))
	for i, q := range s.Mesh.Points {
		if out[i] = (p.Normal.Dot(q) - p.OffsetMM) / n; math.Abs(out[i]) <= snap {
			out[i] = 0
		}
	}
	return out
}

func (s *Split) cut(p *Plane, snap float64) {
	m, h := s.Mesh, s.height(p, snap)
	mid := map[[2]int32]int32{} // new point of each crossed edge
	crossing := func(u, v int32) int32 {
		if !(h[u] < 0 && h[v] > 0 || h[u] > 0 && h[v] < 0) {
			return none
		}
		e := edgeOf(u, v)
		i, ok := mid[e]
		if !ok {
			i = int32(len(m.Points))
			m.Points = append(m.Points, m.Points[e[0]].Lerp(m.Points[e[1]], h[e[0]]/(h[e[0]]-h[e[1]])))
			mid[e] = i
		}
		return i
	}
	for f := range len(m.Faces) {
		t := m.Faces[f]
		if collapsed(t) {
			continue
		}
		x := [3]int32{crossing(t[0], t[1]), crossing(t[1], t[2]), crossing(t[2], t[0])}
		for k := range 3 {
			a, b, c := t[k], t[(k+1)%3], t[(k+2)%3]
			ab, bc, ca := x[k], x[(k+1)%3], x[(k+2)%3]
			switch {
			case ab >= 0 && ca >= 0: // corner a alone
				s.replace(f, [3]int32{a, ab, ca}, [3]int32{ab, b, c}, [3]int32{ab, c, ca})
			case ab >= 0 && bc < 0 && ca < 0: // through corner c
				s.replace(f, [3]int32{a, ab, c}, [3]int32{ab, b, c})
			}
		}
	}
}

// replace puts parts in the place of face f.
func (s *Split) replace(f int, first [3]int32, more ...[3]int32) {
	m := s.Mesh
	m.Faces[f] = first
	for _, t := range more {
		m.Faces = append(m.Faces, t)
		s.Parent = append(s.Parent, s.Parent[f])
		if m.Label != nil {
			m.Label = append(m.Label, m.Label[f])
		}
	}
}

// side says of every face whether its middle lies above the plane; a face that
// lies in the plane counts as above.
func (s *Split) side(p *Plane) []bool {
	h := make([]float64, len(s.Mesh.Points))
	for i, q := range s.Mesh.Points {
		h[i] = p.Normal.Dot(q) - p.OffsetMM
	}
	out := make([]bool, len(s.Mesh.Faces))
	for f, t := range s.Mesh.Faces {
		far := h[t[0]]
		for _, v := range t[1:] {
			if math.Abs(h[v]) > math.Abs(far) {
				far = h[v]
			}
		}
		out[f] = far >= 0
	}
	return out
}
