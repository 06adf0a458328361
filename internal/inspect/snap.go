package inspect

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// A wall has two sides 4 to 6 mm apart, so the point of the surface nearest to
// a trace point may lie on the wrong one. All points of one trace are put on
// sides that the surface connects: of the nearest place and the nearest ones that
// face back, ahead and to the four sides, for each trace point, the chain is taken that
// has the least
//
//	sum over points (d/s)^2 + sum over pairs of neighbours ((p - e)/w)^2
//
// and 1 for every place that is not the nearest, with d the distance from the trace
// point to the surface, s its standard uncertainty, p the path along the surface
// between neighbours, e the straight distance between them and w the wall, all in mm.
// A pair with p > 3 e + 4 w is a jump and is taken only when nothing else is left.
//
// The form and the numbers, with those of package vehicle, are our choice, common
// practice, no source.
const (
	gateStds       = 3.0
	jumpWalls      = 4.0
	jumpCost       = 1e9
	elsewhereCost  = 1.0 // of a place that is not the nearest: a point is not moved for a little way
	sharpTurnLimit = 0.0 // cosine between normals of neighbours below which the other side is considered
)

// candidate is one place a trace point may belong to.
type candidate struct {
	site mesh.Site
	mm   float64 // from the trace point
}

// snap puts every point of the trace on the surface, and says in a note why it
// cannot be done.
func (t *trace) snap(f *Finding) *diag.Note {
	points := distinct(t.in.Trace)
	nearest := t.nearest(points)
	chain, raw, jump := t.chain(points, nearest)
	if n := t.offSurface(points, chain); n != nil {
		for _, c := range chain {
			f.SnapMM = max(f.SnapMM, c.mm)
		}
		return n
	}
	f.SnapMM = 0
	for _, c := range chain {
		t.sites = append(t.sites, c.site)
		f.SnapMM = max(f.SnapMM, c.mm)
	}
	t.raw = raw
	off := t.std // as felt, off the surface
	t.believe(points, chain)
	if jump > 0 {
		return diag.Say("inspect.trace-jumps", "the surface does not lead from point {from-point} to point {to-point} of the trace in a reasonable way", jump, jump+1).Noted(diag.Note{Severity: diag.Blocking, Hint: "enter more points between them, or check that they are on one side of the wall"})
	}
	if n := t.findDetours(points, nearest, chain, off); n != nil {
		return n
	}
	f.because("%s on the surface of %s, the farthest %s from it", unit.Count(len(points), "point"), t.at.Of.ID, mm(f.SnapMM))
	return nil
}

// chain is the places of the points, the ways between them, and the number of the
// first point after which they jump. Sides hang on the noise of the points and that
// on the sides, so both are looked for twice where the nearest places do not do.
func (t *trace) chain(points []geom.Vec, nearest []candidate) (chain []candidate, raw []mesh.Path, jump int) {
	t.feel(points, nearest)
	chain = nearest
	raw, jump = t.connect(chain)
	for again := 0; again < 2 && (jump > 0 || t.turnsBack(chain)); again++ {
		chain = t.bestChain(points, nearest)
		raw, jump = t.connect(chain)
		before := t.std
		if t.feel(points, chain); t.std == before {
			break // the same places would be found again
		}
	}
	return chain, raw, jump
}

// distinct drops points that repeat the one before.
func distinct(points []geom.Vec) []geom.Vec {
	var out []geom.Vec
	for i, p := range points {
		if i == 0 || p != points[i-1] {
			out = append(out, p)
		}
	}
	return out
}

// nearest is the nearest place of the surface to every point.
func (t *trace) nearest(points []geom.Vec) []candidate {
	out := make([]candidate, len(points))
	for i, p := range points {
		site, mm := t.at.Surface.Closest(p)
		out[i] = candidate{site, mm}
	}
	return out
}

// meshStd is the standard uncertainty of where the surface lies against the trace: that of the mesh,
// and of the pose of the set-up that the trace was taken in.
func (t *trace) meshStd() float64 {
	return elem.Hypot(max(0, float64(t.at.Of.MeshStd)), t.placed)
}

// offSurface says which points are farther off the surface than their noise, as
// stated or as they show it, explains.
func (t *trace) offSurface(points []geom.Vec, chain []candidate) *diag.Note {
	var far []string
	off := t.off(points, chain)
	for i, c := range chain {
		if gate := t.gateFor(i, off); !(c.mm <= gate) {
			by, most := toldApart(c.mm, gate)
			far = append(far, fmt.Sprintf("point %d by %s (at most %s)", i+1, by, most))
		}
	}
	if far == nil {
		return nil
	}
	return diag.Say("inspect.off-surface", "the trace is off the surface of {casting}: {points}", t.at.Of.ID, strings.Join(far, ", ")).Noted(diag.Note{Severity: diag.Blocking, Hint: "check the coordinates, their axes and the part"})
}

// connect is the paths between neighbours of a chain, and the number of the
// first point (from 1) after which the chain jumps; 0 when it does not.
func (t *trace) connect(chain []candidate) (raw []mesh.Path, jump int) {
	for i := 0; i+1 < len(chain); i++ {
		p, err := t.at.Way(chain[i].site, chain[i+1].site)
		if jump == 0 && (err != nil || t.jumps(p)) {
			jump = i + 1
		}
		raw = append(raw, p)
	}
	return raw, jump
}

// jumps says that a path between neighbours is unreasonably long.
func (t *trace) jumps(p mesh.Path) bool {
	return p.LengthMM > float64(vehicle.JumpTimes*p.ChordMM)+float64(jumpWalls*float64(t.at.Of.Wall))
}

// turnsBack says that the normals of two neighbours are more than a right
// angle apart, as they are when one is on the wrong side.
func (t *trace) turnsBack(chain []candidate) bool {
	for i := 0; i+1 < len(chain); i++ {
		if t.normal(chain[i]).Dot(t.normal(chain[i+1])) < sharpTurnLimit {
			return true
		}
	}
	return false
}

func (t *trace) normal(c candidate) geom.Vec { return t.at.Surface.Mesh().FaceNormal(c.site.Face) }

// bestChain chooses a place for every point together: its nearest one, or the nearest
// that faces one of six ways about it, so that the other side of a wall, the foot of a
// rib and the far side of a groove are among them.
func (t *trace) bestChain(points []geom.Vec, nearest []candidate) []candidate {
	layers := make([][]candidate, len(points))
	for i := range points {
		layers[i] = t.elsewhere([]candidate{nearest[i]}, points, nearest, i, t.gateMM)
	}
	cost, from := t.chainCosts(layers)
	last := len(layers) - 1
	k := least(cost[last])
	chain := make([]candidate, len(layers))
	for i := last; i >= 0; i-- {
		chain[i] = layers[i][k]
		k = from[i][k]
	}
	return chain
}

// elsewhere adds to the places that point i may be of those that face other ways, within
// so many millimetres.
func (t *trace) elsewhere(layer []candidate, points []geom.Vec, nearest []candidate, i int, mostMM float64) []candidate {
	for _, d := range t.ways(points, nearest, i) {
		site, mm, ok := t.at.Surface.ClosestFacing(points[i], d, vehicle.OppositeRad, mostMM)
		if ok && !slices.ContainsFunc(layer, func(c candidate) bool { return c.site.Face == site.Face }) {
			layer = append(layer, candidate{site, mm})
		}
	}
	return layer
}

// ways is six directions: back from the surface nearest to a point, ahead, and to the
// four sides of the trace.
func (t *trace) ways(points []geom.Vec, nearest []candidate, i int) []geom.Vec {
	n := t.normal(nearest[i])
	along := points[min(i+1, len(points)-1)].Sub(points[max(i-1, 0)])
	along = along.Sub(n.Scale(along.Dot(n))).Unit()
	if n == (geom.Vec{}) || along == (geom.Vec{}) {
		return []geom.Vec{n.Scale(-1)}
	}
	side := n.Cross(along)
	return []geom.Vec{n.Scale(-1), n, along, along.Scale(-1), side, side.Scale(-1)}
}

// chainCosts is the least cost of a chain that ends in each candidate, and the
// candidate before it on that chain.
func (t *trace) chainCosts(layers [][]candidate) (cost [][]float64, from [][]int) {
	s := elem.Hypot(t.std, t.meshStd())
	for i, layer := range layers {
		costs, froms := make([]float64, len(layer)), make([]int, len(layer))
		for k, c := range layer {
			costs[k] = float64((c.mm / s) * (c.mm / s))
			if k > 0 { // not the nearest
				costs[k] += elsewhereCost
			}
			if i > 0 {
				step, j := t.leastStep(cost[i-1], layers[i-1], c)
				costs[k] += step
				froms[k] = j
			}
		}
		cost, from = append(cost, costs), append(from, froms)
	}
	return cost, from
}

// leastStep is the least cost of a chain up to and on to a candidate, and the one
// before it. A way costs nothing at best, so those before are tried cheapest first.
func (t *trace) leastStep(cost []float64, before []candidate, c candidate) (least float64, from int) {
	order := make([]int, len(cost))
	for j := range order {
		order[j] = j
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(cost[a], cost[b]) })
	least = math.Inf(1)
	for _, j := range order {
		if cost[j] >= least {
			break
		}
		if v := cost[j] + t.stepCost(before[j], c); v < least {
			least, from = v, j
		}
	}
	return least, from
}

func (t *trace) stepCost(a, b candidate) float64 {
	p, err := t.at.Way(a.site, b.site)
	if err != nil || t.jumps(p) {
		return jumpCost
	}
	return t.excess(p)
}

// least is the index of the smallest value, the first of equals.
func least(v []float64) int {
	k := 0
	for i, x := range v {
		if x < v[k] {
			k = i
		}
	}
	return k
}
