package picture

import (
	"cmp"
	"slices"

	"fettle/internal/mesh"
)

// Place is the place of a label with the most room around it.
type Place struct {
	Label int32
	X, Y  float64 // pixels of the picture
	Room  float64 // distance to the next other label [pixels]
}

// Roomiest finds, for every label that is seen, the place farthest from any
// other label and from what is taken, in order of label. Distances are in steps
// of cell fine pixels, counted square (eight neighbours).
func Roomiest(dm *DepthMap, m *mesh.Mesh, cell int, taken [][2]float64) []Place {
	w, h := dm.c.W/cell, dm.c.H/cell
	lab := make([]int32, w*h)
	for y := range h {
		for x := range w {
			lab[y*w+x] = -1
			if f := dm.At(x*cell+cell/2, y*cell+cell/2); f >= 0 {
				lab[y*w+x] = 0
				if m.Label != nil {
					lab[y*w+x] = m.Label[f]
				}
			}
		}
	}
	for _, q := range taken {
		if x, y := int(q[0])/cell, int(q[1])/cell; x >= 0 && y >= 0 && x < w && y < h {
			lab[y*w+x] = -1
		}
	}
	dist := borderSteps(lab, w, h)
	var out []Place
	best := central(lab, dist, w)
	s := float64(cell) / 2
	for l, i := range best {
		out = append(out, Place{l, (float64(i%w) + 0.5) * s, (float64(i/w) + 0.5) * s, float64(dist[i]) * s})
	}
	slices.SortFunc(out, func(a, b Place) int { return cmp.Compare(a.Label, b.Label) })
	return out
}

// central is, for every label, a cell with nearly the most room (at least
// 85 %) that is nearest to the middle of all cells of the label; ties go to the
// first.
func central(lab []int32, dist []int, w int) map[int32]int {
	type sum struct{ n, x, y, most int }
	sums := map[int32]sum{}
	for i, l := range lab {
		if s := sums[l]; l >= 0 {
			sums[l] = sum{s.n + 1, s.x + i%w, s.y + i/w, max(s.most, dist[i])}
		}
	}
	best := map[int32]int{}
	away := map[int32]int{}
	for i, l := range lab {
		s := sums[l]
		if l < 0 || 100*dist[i] < 85*s.most {
			continue
		}
		dx, dy := i%w-s.x/s.n, i/w-s.y/s.n
		if d, ok := away[l]; !ok || dx*dx+dy*dy < d {
			best[l], away[l] = i, dx*dx+dy*dy
		}
	}
	return best
}

// borderSteps is, for every cell, how many steps it is to another label or to
// the edge, by two sweeps over the grid.
func borderSteps(lab []int32, w, h int) []int {
	dist := make([]int, w*h)
	sweep := func(x, y int, back int) {
		i := y*w + x
		d := w + h
		if back > 0 {
			d = dist[i]
		}
		for _, n := range [4][2]int{{-1, 0}, {-1, -1}, {0, -1}, {1, -1}} {
			u, v := x+n[0], y+n[1]
			if back > 0 {
				u, v = x-n[0], y-n[1]
			}
			if u < 0 || v < 0 || u >= w || v >= h || lab[v*w+u] != lab[i] {
				d = min(d, 1)
				continue
			}
			d = min(d, dist[v*w+u]+1)
		}
		dist[i] = d
	}
	for i := range dist {
		sweep(i%w, i/w, 0)
	}
	for k := range dist {
		i := len(dist) - 1 - k
		sweep(i%w, i/w, 1)
	}
	return dist
}
