package measure

import (
	"math"

	"fettle/internal/body"
	"fettle/internal/geom"
)

// located is where the readings of a stage put the points, before anything is
// said about which of them moved.
type located struct {
	p    *problem
	e    *epoch
	body geom.Rigid // epoch from body, under the best hypothesis
	best *candidate
}

// changes is how the points changed between two stages.
type changes struct {
	of  map[body.PointID]change
	why string // why nothing can be said; empty otherwise
}

// change is how one point changed, against those that did not; vehicle axes.
type change struct {
	by    geom.Vec
	cov   geom.Mat3
	t2    float64
	known bool
}

// lambdaChange is the non-centrality for the level of one change and the power
// of the test.
var lambdaChange = geom.Noncentrality3(geom.AlphaPoint, power)

// changesBetween holds the readings of two stages against one another.
//
// The nominal places have no part in it: a point that nobody touched is where it
// was, wherever it was built, so that its manufacturing spread is in neither side
// and nothing has to be subtracted. The points that did not change are found as
// the points that did not move are, one stage standing for the nominal places;
// then the readings of both stages are adjusted together, an unchanged point
// being one point and a changed one two. A change is the distance of the two,
// for an unchanged point what it would be if it were two (geom.NetResult.Untie):
// no point vouches for itself, and every covariance is positive by construction.
// It is widened by the variance factor where that is above 1.
func changesBetween(a, b *located, steady []body.PointID) changes {
	if a == nil || b == nil {
		return changes{why: "the readings of the stages are not at hand"}
	}
	if copied(a.p, b.p) {
		return changes{why: "the coordinates of both stages are the same to the last digit: the readings of one were copied"}
	}
	w := newPair(a, b, steady)
	if why := w.unchanged(); why != "" {
		return changes{why: why}
	}
	for range maxRounds {
		if err := w.adjust(); err != nil {
			return changes{why: err.Error()}
		}
		if !w.retie() {
			break
		}
	}
	if 2*w.tied.Common(&w.steady) <= w.steady.Len() {
		return changes{why: "fewer than half of the points that were steady at both stages kept their places against one another"}
	}
	out := changes{of: map[body.PointID]change{}}
	for k, c := range w.change {
		out.of[w.ids[k]] = c
	}
	return out
}

// copied says that the second stage has no coordinates of its own: three or more,
// and most of them, stand at the first as well.
func copied(a, b *problem) bool {
	type row struct {
		id body.PointID
		at geom.Vec
	}
	first := map[row]bool{}
	for i := range a.coords {
		first[row{a.id(a.coords[i].point), a.coords[i].at}] = true
	}
	n := 0
	for i := range b.coords {
		if first[row{b.id(b.coords[i].point), b.coords[i].at}] {
			n++
		}
	}
	return mostlyCopied(n, len(b.coords))
}

// pair is two stages being held against one another. Slices are by the points
// that both stages have.
type pair struct {
	a, b         *located
	ids          []body.PointID
	slotA, slotB []int // place in the epochs
	steady, refs geom.Set
	tied, barred geom.Set   // unchanged; changed with others as one
	move         geom.Rigid // epoch b from body
	seen         map[geom.Set]bool
	change       []change
}

func newPair(a, b *located, steady []body.PointID) *pair {
	w := &pair{a: a, b: b, seen: map[geom.Set]bool{}}
	inBoth := map[body.PointID]bool{}
	for _, id := range steady {
		inBoth[id] = true
	}
	for i, pt := range a.e.points {
		id := a.p.id(pt)
		at, ok := b.p.index[id]
		if !ok || !b.e.has(at) {
			continue
		}
		k := len(w.ids)
		w.ids, w.slotA, w.slotB = append(w.ids, id), append(w.slotA, i), append(w.slotB, b.e.slot[at])
		if inBoth[id] {
			w.steady.Put(k)
		}
		if a.p.in.Points[pt].Reference {
			w.refs.Put(k)
		}
	}
	return w
}

// unchanged finds the points that kept their places against one another between
// the stages; it returns why not when it does not.
func (w *pair) unchanged() string {
	back := w.a.body.Inverse()
	m, to := w.a.p.matches(w.a.e), w.b.p.matches(w.b.e)
	var both geom.Matches
	for k := range w.ids {
		i, j := w.slotA[k], w.slotB[k]
		both.From, both.CovFrom = append(both.From, back.Apply(m.To[i])), append(both.CovFrom, m.CovTo[i].Turn(back.R))
		both.To, both.CovTo = append(both.To, to.To[j]), append(both.CovTo, to.CovTo[j])
	}
	x, err := geom.NewMatcher(both)
	if err != nil {
		return err.Error()
	}
	x.Work = w.a.p.in.Work
	found := x.Partitions(minBlock, w.a.p.in.Seed, w.steady)
	if len(found.Partitions) == 0 {
		return "no four points kept their places against one another"
	}
	blocks := found.Partitions[0].Blocks
	best, decided := w.choose(blocks)
	if !decided {
		return "two groups of points changed against one another, and it is not known which of them was left alone"
	}
	for k := range blocks {
		if k != best {
			w.barred.Join(&blocks[k].Set)
		}
	}
	w.tied, w.move = blocks[best].Set, blocks[best].Fit.Motion
	return ""
}

// choose is the block that was left alone: the one with more than half of three
// or more nominated reference points, otherwise the one with most points that
// were steady at both stages, when no other block has more than half as many.
func (w *pair) choose(blocks []geom.Block) (best int, decided bool) {
	most, second := 0, 0
	for k := range blocks {
		if w.refs.Len() >= minReferences && 2*blocks[k].Set.Common(&w.refs) > w.refs.Len() {
			return k, true
		}
		switch n := blocks[k].Set.Common(&w.steady); {
		case n > most:
			best, most, second = k, n, most
		case n > second:
			second = n
		}
	}
	return best, most > 0 && 2*second <= most
}

// adjust works out every change with the present ties.
func (w *pair) adjust() error {
	w.seen[w.tied] = true
	nw, node, rows := w.network()
	r, err := nw.Adjust()
	if err != nil {
		return err
	}
	w.change = w.change[:0]
	wide := 1.0 // changes too small to show, of points taken as unchanged, misfit
	if r.DOF > 0 {
		wide = math.Max(1, r.VtPV/float64(r.DOF))
	}
	for k := range w.ids {
		var c change
		if w.tied.Has(k) {
			c.by, c.cov, c.known = r.Untie(nw, node[k][1], rows[k])
		} else {
			a, b := node[k][0], node[k][1]
			c.by = r.Points[b].Sub(r.Points[a])
			c.cov = r.PointCov(a, a).Add(r.PointCov(b, b)).Sub(r.PointCov(a, b)).Sub(r.PointCov(b, a)).Symmetric()
			c.known = true
		}
		if c.known {
			c.cov = c.cov.Scale(wide)
			c.t2, c.known = geom.Mahalanobis(c.by, c.cov)
		}
		w.change = append(w.change, c)
	}
	return nil
}

// retie takes the points apart that changed and ties those that did not; false
// when nothing is new.
func (w *pair) retie() bool {
	var next geom.Set
	for k, c := range w.change {
		if !w.barred.Has(k) && (!c.known || c.t2 <= criticalPoint) {
			next.Put(k)
		}
	}
	if w.seen[next] || next.Len() < 3 {
		return false
	}
	w.tied = next
	return true
}

// network is the readings of both stages: the points of the first, then those of
// the second that are not tied to one of them; one pose is fixed, since
// only what lies between the stages is asked. rows are the readings of each
// point at the second stage.
func (w *pair) network() (out *geom.Network, node [][2]int, rows [][]int) {
	nw, later := w.a.p.network(w.a.e, allSpans), w.b.p.network(w.b.e, allSpans)
	out = &nw.Network
	back := w.a.body.Inverse()
	for k := range out.Points {
		out.Points[k].At = back.Apply(out.Points[k].At)
	}
	for k := range out.Poses {
		out.Poses[k].Motion = out.Poses[k].Motion.Compose(w.a.body)
		out.Poses[k].Fixed = k == 0
	}
	place := make([]int, len(later.Points)) // node of each point of the second stage
	for i := range place {
		place[i] = none
	}
	node, rows = make([][2]int, len(w.ids)), make([][]int, len(w.ids))
	for k := range w.ids {
		if w.tied.Has(k) {
			place[w.slotB[k]] = w.slotA[k]
		}
	}
	back = w.move.Inverse()
	for i, pt := range later.Points {
		if place[i] == none {
			place[i] = len(out.Points)
			out.Points = append(out.Points, geom.NetPoint{At: back.Apply(pt.At)})
		}
	}
	of := make([]int, len(later.Points))
	for i := range of {
		of[i] = none
	}
	for k := range w.ids {
		node[k] = [2]int{w.slotA[k], place[w.slotB[k]]}
		of[w.slotB[k]] = k
	}
	poses := len(out.Poses)
	for k, p := range later.Poses {
		out.Poses = append(out.Poses, geom.NetPose{Motion: p.Motion.Compose(w.move), Fixed: poses == 0 && k == 0})
	}
	out.Free = len(out.Poses) == 0 // lengths alone at both stages
	for _, o := range later.Obs {
		ends := []int{o.A}
		if o.Kind != geom.NetCoordinate {
			ends = append(ends, o.B)
		}
		for _, i := range ends {
			if of[i] != none {
				rows[of[i]] = append(rows[of[i]], len(out.Obs))
			}
		}
		o.A, o.B = place[o.A], place[o.B]
		if o.Pose != geom.PointFrame {
			o.Pose += poses
		}
		out.Obs = append(out.Obs, o)
	}
	return out, node, rows
}
