package casting

import (
	"math"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// trim cuts the faces along every border, so that no face lies in two zones,
// and labels the faces.
func trim(m *mesh.Mesh) {
	for _, b := range borders() {
		cutAlong(m, b)
	}
	m.Label = make([]int32, len(m.Faces))
	for i, f := range m.Faces {
		m.Label[i] = ZoneAt(centroid(m, f))
	}
}

func centroid(m *mesh.Mesh, f [3]int32) geom.Vec {
	return m.Points[f[0]].Add(m.Points[f[1]]).Add(m.Points[f[2]]).Scale(1.0 / 3)
}

// cutAlong splits every edge that crosses the border, and the faces beside it.
func cutAlong(m *mesh.Mesh, b border) {
	side := snap(m, b)
	made := map[[2]int32]int32{}
	// middle returns the point at which edge u-v crosses the border, or -1.
	middle := func(u, v int32) int32 {
		if side[u]*side[v] >= 0 {
			return -1
		}
		if u > v {
			u, v = v, u
		}
		if n, ok := made[[2]int32{u, v}]; ok {
			return n
		}
		t := side[u] / (side[u] - side[v])
		p := m.Points[u].Lerp(m.Points[v], min(0.95, max(0.05, t)))
		n := int32(-1)
		if b.where(p) {
			n = int32(len(m.Points))
			m.Points = append(m.Points, p)
		}
		made[[2]int32{u, v}] = n
		return n
	}
	for i, n := 0, len(m.Faces); i < n; i++ {
		f := m.Faces[i]
		mid := [3]int32{middle(f[0], f[1]), middle(f[1], f[2]), middle(f[2], f[0])}
		parts := splitFace(f, mid)
		m.Faces[i] = parts[0]
		m.Faces = append(m.Faces, parts[1:]...)
	}
}

// snap moves vertices that lie almost on the border onto it, along the surface,
// so that the cut leaves no slivers. It returns the side of every vertex, 0 for
// those on the border.
func snap(m *mesh.Mesh, b border) []float64 {
	side := make([]float64, len(m.Points))
	close := make([]bool, len(m.Points))
	for i, p := range m.Points {
		side[i] = b.side(p)
		close[i] = math.Abs(side[i]) < step/5 && p[1] != 0 && b.where(p)
	}
	thin(m, side, close)
	normal := make([]geom.Vec, len(m.Points))
	for _, f := range m.Faces {
		if close[f[0]] || close[f[1]] || close[f[2]] {
			n := areaNormal(m, f)
			for _, v := range f {
				normal[v] = normal[v].Add(n)
			}
		}
	}
	for i, p := range m.Points {
		if !close[i] {
			continue
		}
		up := b.slope(p)
		n := normal[i].Unit()
		along := up.Sub(n.Scale(n.Dot(up)))
		// Where the border runs along the surface there is no place to go to.
		if share := along.Dot(up); share > 0.3 {
			m.Points[i] = p.Sub(along.Scale(side[i] / share))
			side[i] = 0
		}
	}
	return side
}

// thin drops the farther of two close vertices that lie one behind the other,
// so that both do not end up in the same place.
func thin(m *mesh.Mesh, side []float64, close []bool) {
	for _, f := range m.Faces {
		for k := range 3 {
			u, v := f[k], f[(k+1)%3]
			if !close[u] || !close[v] || math.Abs(side[u]-side[v]) < 0.3*m.Points[u].Dist(m.Points[v]) {
				continue
			}
			if math.Abs(side[u]) > math.Abs(side[v]) {
				close[u] = false
			} else {
				close[v] = false
			}
		}
	}
}

// slope is the gradient of the side of a border.
func (b border) slope(p geom.Vec) geom.Vec {
	const e = 0.01
	var g geom.Vec
	for k := range g {
		q, r := p, p
		q[k], r[k] = q[k]+e, r[k]-e
		g[k] = (b.side(q) - b.side(r)) / (2 * e)
	}
	return g
}

// splitFace cuts a face at up to two of its edges; mid[i] is the point on edge
// i to i+1, or -1.
func splitFace(f, mid [3]int32) [][3]int32 {
	for r := range 3 {
		a, b, c := f[r], f[(r+1)%3], f[(r+2)%3]
		ab, bc, ca := mid[r], mid[(r+1)%3], mid[(r+2)%3]
		switch {
		case ab >= 0 && ca >= 0: // a alone on its side
			return [][3]int32{{a, ab, ca}, {ab, b, c}, {ab, c, ca}}
		case ab >= 0 && bc < 0 && ca < 0:
			return [][3]int32{{a, ab, c}, {ab, b, c}}
		}
	}
	return [][3]int32{f}
}
