package casting

import "math"

// A cell is a cube of eight nodes; corner c is offset by bits 4, 2, 1 of c along
// x, y, z. Its mask has bit c set where corner c is inside.

// tidy says for each mask that the inside corners hang together along edges of
// the cube and the outside corners do too. Where all cells are tidy, one vertex
// per cell gives a closed surface in which every edge has two faces.
var tidy = tidyMasks()

func tidyMasks() [256]bool {
	var t [256]bool
	for m := range t {
		t[m] = connected(uint8(m)) && connected(^uint8(m))
	}
	return t
}

// connected says that the corners in m form one piece (or none) along edges.
func connected(m uint8) bool {
	if m == 0 {
		return true
	}
	seen := m & -m
	for {
		grown := seen
		for c := range 8 {
			if seen&(1<<c) != 0 {
				grown |= m & (1<<(c^1) | 1<<(c^2) | 1<<(c^4))
			}
		}
		if grown == seen {
			return seen == m
		}
		seen = grown
	}
}

// mask reads the signs at the corners of the cell whose lowest node is at.
func (g *grid) mask(at int) uint8 {
	sx, sy := g.n[1]*g.n[2], g.n[2]
	var m uint8
	for c, o := range [8]int{0, 1, sy, sy + 1, sx, sx + 1, sx + sy, sx + sy + 1} {
		if g.value[at+o] < 0 {
			m |= 1 << c
		}
	}
	return m
}

// active lists the lowest nodes of the cells the surface passes through, in
// ascending order.
func (g *grid) active() []int {
	rows := make([][]int, g.n[0]-1)
	inParallel(len(rows), func(i int) {
		for j := range g.n[1] - 1 {
			for k := range g.n[2] - 1 {
				at := g.index(i, j, k)
				if m := g.mask(at); m != 0 && m != 255 {
					rows[i] = append(rows[i], at)
				}
			}
		}
	})
	var all []int
	for _, r := range rows {
		all = append(all, r...)
	}
	return all
}

// fix adds specks of material until every cell is tidy and returns the active
// cells. It only ever turns outside into inside, so it comes to an end.
func (g *grid) fix() []int {
	for {
		cells := g.active()
		changed := false
		for _, at := range cells {
			if m := g.mask(at); m != 0 && m != 255 && !tidy[m] {
				g.plug(at, m)
				changed = true
			}
		}
		if !changed {
			return cells
		}
		g.mirrorLayer()
	}
}

// plug turns the outside corner nearest to the surface into inside.
func (g *grid) plug(at int, m uint8) {
	sx, sy := g.n[1]*g.n[2], g.n[2]
	best, where := float32(math.Inf(1)), at
	for c, o := range [8]int{0, 1, sy, sy + 1, sx, sx + 1, sx + sy, sx + sy + 1} {
		if m&(1<<c) != 0 {
			continue
		}
		// Beyond y = 0 the corner is the image of the one before it.
		if (at/sy)%g.n[1] == g.n[1]-2 && c&2 != 0 {
			o -= sy
		}
		if v := g.value[at+o]; v < best {
			best, where = v, at+o
		}
	}
	g.value[where] = -step / 100
}
