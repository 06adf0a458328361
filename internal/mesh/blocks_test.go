package mesh

import "fettle/internal/geom"

// blocks is the surface of the cells of a grid that are solid, two triangles a
// side of a cell, normals outward; x, y and z are the planes of the grid.
func blocks(x, y, z []float64, solid func(i, j, k int) bool) *Mesh {
	m := &Mesh{}
	at := map[[3]int]int32{}
	point := func(i, j, k int) int32 {
		v, ok := at[[3]int{i, j, k}]
		if !ok {
			v = int32(len(m.Points))
			at[[3]int{i, j, k}] = v
			m.Points = append(m.Points, geom.Vec{x[i], y[j], z[k]})
		}
		return v
	}
	in := func(i, j, k int) bool {
		return i >= 0 && j >= 0 && k >= 0 && i < len(x)-1 && j < len(y)-1 && k < len(z)-1 && solid(i, j, k)
	}
	quad := func(a, b, c, d int32) {
		m.Faces = append(m.Faces, [3]int32{a, b, c}, [3]int32{a, c, d})
	}
	for i := range len(x) - 1 {
		for j := range len(y) - 1 {
			for k := range len(z) - 1 {
				if !in(i, j, k) {
					continue
				}
				p := func(a, b, c int) int32 { return point(i+a, j+b, k+c) }
				if !in(i-1, j, k) {
					quad(p(0, 0, 0), p(0, 0, 1), p(0, 1, 1), p(0, 1, 0))
				}
				if !in(i+1, j, k) {
					quad(p(1, 0, 0), p(1, 1, 0), p(1, 1, 1), p(1, 0, 1))
				}
				if !in(i, j-1, k) {
					quad(p(0, 0, 0), p(1, 0, 0), p(1, 0, 1), p(0, 0, 1))
				}
				if !in(i, j+1, k) {
					quad(p(0, 1, 0), p(0, 1, 1), p(1, 1, 1), p(1, 1, 0))
				}
				if !in(i, j, k-1) {
					quad(p(0, 0, 0), p(0, 1, 0), p(1, 1, 0), p(1, 0, 0))
				}
				if !in(i, j, k+1) {
					quad(p(0, 0, 1), p(1, 0, 1), p(1, 1, 1), p(0, 1, 1))
				}
			}
		}
	}
	return m
}

// steps is the planes from lo to hi in n steps.
func steps(lo, hi float64, n int) []float64 {
	out := make([]float64, n+1)
	for i := range out {
		out[i] = lo + (hi-lo)*float64(i)/float64(n)
	}
	return out
}

// windowWall is a wall 4 mm thick, 100 mm long and 60 mm high, with a window of
// 10 x 10 mm at y = 40 and z = 20, in cells of 5 mm.
func windowWall() *Mesh {
	return blocks([]float64{0, 4}, steps(0, 100, 20), steps(0, 60, 12), func(_, j, k int) bool {
		return !((j == 8 || j == 9) && (k == 4 || k == 5))
	})
}
