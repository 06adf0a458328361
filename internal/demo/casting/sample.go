package casting

import (
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"fettle/internal/geom"
)

// step is the grid spacing [mm]. It has to stay under about 0.7 of the thinnest
// wall (5 mm), else walls break up.
const step = 3.2

const (
	tileNodes = 32 // nodes along the edge of a tile, the unit of parallel work
	leafNodes = 4  // nodes along the edge of a leaf, the smallest skipped block
)

// grid holds the distance at the nodes around the left half. The last layer
// along y lies at +step/2 and mirrors the one before it.
type grid struct {
	low    geom.Vec
	n      [3]int
	value  []float32
	leaves [3]int
	leaf   []solid // simplified solid of each leaf block near the surface
}

func newGrid() *grid {
	lo, hi := geom.Vec{-16, -684, 298}, geom.Vec{1052, 0, 808}
	g := &grid{}
	for i := range g.n {
		g.n[i] = int((hi[i] - lo[i]) / step)
	}
	g.low = lo
	g.low[1] = float64(1.5-float64(g.n[1])) * step
	for i := range g.n {
		g.leaves[i] = (g.n[i] + leafNodes - 1) / leafNodes
	}
	g.value = make([]float32, g.n[0]*g.n[1]*g.n[2])
	g.leaf = make([]solid, g.leaves[0]*g.leaves[1]*g.leaves[2])
	return g
}

func (g *grid) index(i, j, k int) int { return (i*g.n[1]+j)*g.n[2] + k }

func (g *grid) node(i, j, k int) geom.Vec {
	return geom.Vec{
		g.low[0] + float64(float64(i)*step),
		g.low[1] + float64(float64(j)*step),
		g.low[2] + float64(float64(k)*step),
	}
}

// leafOf is the simplified solid for the cell whose lowest node is i, j, k.
func (g *grid) leafOf(i, j, k int) *solid {
	i, j, k = i/leafNodes, j/leafNodes, k/leafNodes
	return &g.leaf[(i*g.leaves[1]+j)*g.leaves[2]+k]
}

// inParallel calls work for 0 <= i < n. Every call writes only its own results,
// so that the outcome does not depend on the order.
func inParallel(n int, work func(i int)) {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				work(i)
			}
		})
	}
	wg.Wait()
}

// sample fills the grid with the distance to s, exactly near the surface and
// with the right sign elsewhere.
func (g *grid) sample(s solid) {
	var tiles [][3]int
	for i := 0; i < g.n[0]; i += tileNodes {
		for j := 0; j < g.n[1]; j += tileNodes {
			for k := 0; k < g.n[2]; k += tileNodes {
				tiles = append(tiles, [3]int{i, j, k})
			}
		}
	}
	inParallel(len(tiles), func(t int) { g.block(s, tiles[t], tileNodes) })
	g.mirrorLayer()
}

// block samples the nodes of a cube of the given size. Where the distance at
// the middle shows that the surface is out of reach it only sets the sign.
func (g *grid) block(s solid, at [3]int, size int) {
	end := at
	for i := range end {
		end[i] = min(at[i]+size, g.n[i])
		if at[i] >= g.n[i] {
			return
		}
	}
	// The ball covers the cells that start in this block.
	half := float64(size) / 2 * step
	middle := g.node(at[0], at[1], at[2]).Add(geom.Vec{half, half, half})
	radius := geom.Vec{half, half, half}.Norm()
	s = near(s, middle, radius)
	d := s.at(middle)
	if math.Abs(d) > radius+step/4 {
		g.fill(at, end, float32(d))
		return
	}
	if size > leafNodes {
		for c := range 8 {
			h := size / 2
			g.block(s, [3]int{at[0] + h*(c>>2), at[1] + h*(c>>1&1), at[2] + h*(c&1)}, h)
		}
		return
	}
	*g.leafOf(at[0], at[1], at[2]) = s
	for i := at[0]; i < end[0]; i++ {
		for j := at[1]; j < end[1]; j++ {
			for k := at[2]; k < end[2]; k++ {
				g.value[g.index(i, j, k)] = float32(s.at(g.node(i, j, k)))
			}
		}
	}
}

func (g *grid) fill(at, end [3]int, d float32) {
	for i := at[0]; i < end[0]; i++ {
		for j := at[1]; j < end[1]; j++ {
			row := g.value[g.index(i, j, at[2]):g.index(i, j, end[2])]
			for k := range row {
				row[k] = d
			}
		}
	}
}

// mirrorLayer makes the layer beyond y = 0 the image of the one before it.
func (g *grid) mirrorLayer() {
	for i := range g.n[0] {
		from, to := g.index(i, g.n[1]-2, 0), g.index(i, g.n[1]-1, 0)
		copy(g.value[to:to+g.n[2]], g.value[from:from+g.n[2]])
	}
}
