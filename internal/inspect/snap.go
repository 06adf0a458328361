package inspect

import (
	"fmt"
	"math"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// A wall has two sides 4 to 6 mm apart, so the point of the surface nearest to
// a trace point may lie on the wrong one. All points of one trace are put on
// sides that the surface connects: of the nearest point and the nearest point
// of the opposite side, for each trace point, the chain is taken that has the
// least
//
//	sum over points (d/s)^2 + sum over pairs of neighbours ((p - e)/w)^2
//
// with d the distance from the trace point to the surface, s its standard
// uncertainty, p the path along the surface between neighbours, e the straight
// distance between them and w the wall, all in mm. A pair with
// p > 3 e + 4 w is a jump and is taken only when nothing else is left.
//
// The form and the numbers are our choice, common practice, no source.
const (
	leastGateMM    = 5.0
	gateStds       = 3.0
	jumpTimes      = 3.0
	jumpWalls      = 4.0
	jumpCost       = 1e9
	oppositeAngle  = 75 * math.Pi / 180 // from the reversed normal of the nearest face
	sharpTurnLimit = 0.0                // cosine between normals of neighbours below which the other side is considered
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
	nearest := make([]candidate, len(points))
	for i, p := range points {
		site, mm := t.at.surf.Closest(p)
		nearest[i] = candidate{site, mm}
		f.SnapMM = max(f.SnapMM, mm)
	}
	if n := t.offSurface(nearest); n != nil {
		return n
	}
	chain := nearest
	raw, jump := t.connect(chain)
	if jump > 0 || t.turnsBack(chain) {
		chain = t.bestChain(points, nearest)
		raw, jump = t.connect(chain)
	}
	f.SnapMM = 0
	for _, c := range chain {
		t.sites = append(t.sites, c.site)
		f.SnapMM = max(f.SnapMM, c.mm)
	}
	t.raw = raw
	if jump > 0 {
		return &diag.Note{Code: "inspect.trace-jumps", Severity: diag.Blocking,
			Text: fmt.Sprintf("the surface does not lead from point %d to point %d of the trace in a reasonable way", jump, jump+1),
			Hint: "enter more points between them, or check that they are on one side of the wall"}
	}
	f.because("%s on the surface of %s, the farthest %s from it", unit.Count(len(points), "point"), t.at.casting.ID, mm(f.SnapMM))
	return nil
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

// gateMM is how far a trace point may be from the surface it is said to be on.
func (t *trace) gateMM() float64 {
	return max(leastGateMM, gateStds*(t.std+t.meshStd()))
}

func (t *trace) meshStd() float64 { return max(0, float64(t.at.casting.MeshStd)) }

func (t *trace) offSurface(chain []candidate) *diag.Note {
	var far []string
	for i, c := range chain {
		if !(c.mm <= t.gateMM()) {
			far = append(far, fmt.Sprintf("point %d by %s", i+1, mm(c.mm)))
		}
	}
	if far == nil {
		return nil
	}
	return &diag.Note{Code: "inspect.off-surface", Severity: diag.Blocking,
		Text: fmt.Sprintf("the trace is off the surface of %s: %s (at most %s)", t.at.casting.ID, strings.Join(far, ", "), mm(t.gateMM())),
		Hint: "check the coordinates, their axes and the part"}
}

// connect is the paths between neighbours of a chain, and the number of the
// first point (from 1) after which the chain jumps; 0 when it does not.
func (t *trace) connect(chain []candidate) (raw []mesh.Path, jump int) {
	for i := 0; i+1 < len(chain); i++ {
		p, err := t.at.surf.Path(chain[i].site, chain[i+1].site)
		if jump == 0 && (err != nil || t.jumps(p)) {
			jump = i + 1
		}
		raw = append(raw, p)
	}
	return raw, jump
}

// jumps says that a path between neighbours is unreasonably long.
func (t *trace) jumps(p mesh.Path) bool {
	return p.LengthMM > float64(jumpTimes*p.ChordMM)+float64(jumpWalls*float64(t.at.casting.Wall))
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

func (t *trace) normal(c candidate) geom.Vec { return t.at.surf.Mesh().FaceNormal(c.site.Face) }

// bestChain chooses a side for every point together.
func (t *trace) bestChain(points []geom.Vec, nearest []candidate) []candidate {
	layers := make([][]candidate, len(points))
	for i, p := range points {
		layers[i] = []candidate{nearest[i]}
		back := t.normal(nearest[i]).Scale(-1)
		if site, mm, ok := t.at.surf.ClosestFacing(p, back, oppositeAngle); ok && mm <= t.gateMM() {
			layers[i] = append(layers[i], candidate{site, mm})
		}
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

// chainCosts is the least cost of a chain that ends in each candidate, and the
// candidate before it on that chain.
func (t *trace) chainCosts(layers [][]candidate) (cost [][]float64, from [][]int) {
	s := math.Hypot(t.std, t.meshStd())
	for i, layer := range layers {
		costs, froms := make([]float64, len(layer)), make([]int, len(layer))
		for k, c := range layer {
			own := (c.mm / s) * (c.mm / s)
			if i == 0 {
				costs[k] = own
				continue
			}
			step := make([]float64, len(layers[i-1]))
			for j, b := range layers[i-1] {
				step[j] = cost[i-1][j] + t.stepCost(b, c)
			}
			froms[k] = least(step)
			costs[k] = own + step[froms[k]]
		}
		cost, from = append(cost, costs), append(from, froms)
	}
	return cost, from
}

func (t *trace) stepCost(a, b candidate) float64 {
	p, err := t.at.surf.Path(a.site, b.site)
	if err != nil || t.jumps(p) {
		return jumpCost
	}
	excess := max(0, p.LengthMM-p.ChordMM) / max(1, float64(t.at.casting.Wall))
	return excess * excess
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
