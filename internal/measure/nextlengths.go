package measure

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
)

// NextLengths is which lengths to take next with one tape or tram gauge, and what they
// would settle if each were read as published.
type NextLengths struct {
	StdMM   float64        `json:"stdMm"` // standard uncertainty of one reading
	Rows    []NextLength   `json:"rows"`
	Placed  []body.PointID `json:"placed"`  // points that would get a place, and have none
	Decided []body.PointID `json:"decided"` // points whose tolerance is open and would be shown to be met on four of five sound vehicles
	Open    []body.PointID `json:"open"`    // points that would stay open all the same
}

// NextLength is one length to be taken.
type NextLength struct {
	From      body.PointID `json:"from"`
	To        body.PointID `json:"to"`
	NominalMM float64      `json:"nominalMm"`
	Limit     LengthLimit  `json:"limit"` // no verdict: it is not read yet
	For       body.PointID `json:"for"`   // the point that it serves; empty: several
	Why       NextWhy      `json:"why"`
}

// NextWhy is why a length is to be taken.
type NextWhy string

// Reasons to take a length.
const (
	NextAgain NextWhy = "again" // it was read and contradicts others
	NextFrame NextWhy = "frame" // it holds the first four points together
	NextPlace NextWhy = "place" // it places a point, or makes its place surer
	NextCheck NextWhy = "check" // a wrong reading of another length would show
)

// lengthsOfPoint is how many lengths a point needs to have a place that is no mirror image
// and in which a wrong reading shows, and how many more than are had are suggested at most.
const (
	lengthsOfPoint  = 4
	mostMoreLengths = 6
)

// Next finds at most so many lengths to be taken next: what contradicts others again, then
// for one point after another, those that need fewest first, lengths to points that have a
// place, each in the direction where the point is least known. What they would settle is
// worked out by the whole analysis with every length read as published; on a vehicle that
// moved it comes out otherwise.
//
// A point with the lengths k to known points, directions u_k and uncertainties s_k, is
// known with
//
//	C = (sum u_k u_k' / (s_k^2 + u_k' C_k u_k))^-1,
//
// C_k that of the known point; the next length is the one with the largest u' C u over its
// variance, which makes det C smallest.
func Next(in Input, gauge Gauge, most int) NextLengths {
	r, _ := Run(in)
	g := planner{p: prepare(in), in: in, std: gauge.StdMM, longest: gauge.LongestMM, most: most, had: map[[2]int]int{}, cov: map[int]geom.Mat3{}, decided: map[int]bool{}}
	for k := range g.p.spans {
		if s := &g.p.spans[k]; s.kind == job.ReadLength {
			g.had[pairOf(s.from, s.to)]++
		}
	}
	g.known(r)
	g.again(r)
	if len(g.cov) < minBlock {
		g.frame()
	}
	for g.nextPoint() {
	}
	after := r
	if len(g.rows) > 0 {
		after, _ = Run(g.imagined())
		if g.checks(after); len(g.rows) > 0 {
			after, _ = Run(g.imagined())
		}
	}
	return g.settled(r, after)
}

// Gauge is what lengths are to be taken with.
type Gauge struct {
	StdMM     float64 // standard uncertainty of one reading
	LongestMM float64 // the longest length that it reads; 0: any
}

// planner is the search for the next lengths.
type planner struct {
	p       *problem
	in      Input
	std     float64
	longest float64
	most    int
	had     map[[2]int]int    // lengths that were read or are planned, by their points
	cov     map[int]geom.Mat3 // of points with a place
	decided map[int]bool
	rows    []NextLength
}

func pairOf(a, b int) [2]int { return [2]int{min(a, b), max(a, b)} }

// usable says that a point has a published place of its own.
func (g *planner) usable(i int) bool { return g.p.index[g.p.id(i)] == i }

// free says that the length between two points was not read and can be.
func (g *planner) free(i, j int) bool {
	return i != j && g.had[pairOf(i, j)] == 0 && (g.longest == 0 || g.p.in.Points[i].At().Dist(g.p.in.Points[j].At()) <= g.longest)
}

func (g *planner) known(r Result) {
	best, _ := r.Best()
	for _, pt := range best.Points {
		if i := g.p.index[pt.ID]; pt.CovMM2.Trace() > 0 {
			g.cov[i] = pt.CovMM2
			g.decided[i] = pt.settled()
		}
	}
}

// settled says that the tolerance of a point is decided. Whether that is certain hangs on
// all readings together and is not foretold.
func (p PointResult) settled() bool { return p.Tolerance != Undecided }

func (g *planner) add(from, to int, serves body.PointID, why NextWhy) {
	if len(g.rows) >= g.most {
		return
	}
	a, b := g.p.in.Points[from], g.p.in.Points[to]
	n := NextLength{From: a.ID, To: b.ID, NominalMM: roundMM(a.At().Dist(b.At())), For: serves, Why: why}
	if len(leeways(a)) > 0 && len(leeways(b)) > 0 {
		low, high := lengthBounds(a, b)
		n.Limit.LowMM, n.Limit.HighMM = roundMM(low), roundMM(high)
	}
	g.rows = append(g.rows, n)
	g.had[pairOf(from, to)]++
}

// again plans the lengths once more that contradict themselves or one another.
func (g *planner) again(r Result) {
	done := map[[2]int]bool{}
	for _, d := range r.Disagree {
		if d.Kind == DisagreePublished {
			continue
		}
		for k := range d.Points {
			for j := range k {
				a, b := g.p.index[d.Points[j]], g.p.index[d.Points[k]]
				if pair := pairOf(a, b); g.had[pair] > 0 && !done[pair] {
					done[pair] = true
					g.add(a, b, "", NextAgain)
				}
			}
		}
	}
}

// frame plans the lengths between four points to begin with: those between which most
// lengths were read, and of several those that span most.
func (g *planner) frame() {
	var set []int
	most, far := -1, 0.0
	for i := range g.p.in.Points {
		if !g.usable(i) {
			continue
		}
		if s, n, d := g.frameFrom(i); len(s) == minBlock && (n > most || n == most && d > far) {
			set, most, far = s, n, d
		}
	}
	if set == nil {
		return
	}
	nw := &geom.Network{Free: true}
	for k, i := range set {
		nw.Points = append(nw.Points, geom.NetPoint{At: g.p.in.Points[i].At()})
		for j := range k {
			nw.Obs = append(nw.Obs, geom.NetObs{Kind: geom.NetLength, Pose: geom.PointFrame, A: j, B: k, Value: g.p.in.Points[i].At().Dist(g.p.in.Points[set[j]].At()), Std: g.std})
		}
	}
	fit, err := nw.Adjust()
	if err != nil {
		return
	}
	for k, i := range set {
		for j := range k {
			if g.had[pairOf(i, set[j])] == 0 {
				g.add(set[j], i, "", NextFrame)
			}
		}
		g.cov[i] = fit.PointCov(k, k).Add(geom.Isotropic(g.p.std0[i]))
	}
}

// frameFrom is four points beginning with one, each next one with the most lengths to those
// before, and of several the farthest from their line or plane; with the number of those
// lengths, and the product of the three distances.
func (g *planner) frameFrom(start int) (set []int, had int, span float64) {
	set, span = []int{start}, 1
	for len(set) < minBlock {
		best, most, far := none, -1, 0.0
		for i := range g.p.in.Points {
			if !g.usable(i) || slices.Contains(set, i) || !g.inReach(set, i) {
				continue
			}
			n := 0
			for _, j := range set {
				n += min(1, g.had[pairOf(i, j)])
			}
			if d := g.outside(set, i); d > 0 && (n > most || n == most && d > far) {
				best, most, far = i, n, d
			}
		}
		if best == none {
			return nil, 0, 0
		}
		set, had, span = append(set, best), had+most, span*far
	}
	return set, had, span
}

// inReach says that the lengths from a point to all of a set were read or can be.
func (g *planner) inReach(set []int, i int) bool {
	return !slices.ContainsFunc(set, func(j int) bool { return g.had[pairOf(i, j)] == 0 && !g.free(i, j) })
}

// leastOutside is the distance from a line or plane [mm] below which a point is no fourth
// point to begin with: its height above the others would hardly be known.
const leastOutside = 50

// outside is how far a point lies from the point, line or plane of a set; 0 when too little.
func (g *planner) outside(set []int, i int) float64 {
	at := func(k int) geom.Vec { return g.p.in.Points[k].At() }
	var d float64
	switch len(set) {
	case 1:
		d = at(i).Dist(at(set[0]))
	case 2:
		dir := at(set[1]).Sub(at(set[0])).Unit()
		d = at(i).Sub(at(set[0])).Cross(dir).Norm()
	default:
		normal := at(set[1]).Sub(at(set[0])).Cross(at(set[2]).Sub(at(set[0]))).Unit()
		d = math.Abs(at(i).Sub(at(set[0])).Dot(normal))
	}
	if d < leastOutside {
		return 0
	}
	return d
}

// proposal is the lengths that would place one point.
type proposal struct {
	point int
	to    []int
	cov   geom.Mat3
}

// nextPoint plans the lengths of the point that needs fewest; false when no room or no
// point is left.
func (g *planner) nextPoint() bool {
	var all []proposal
	for i := range g.p.in.Points {
		if !g.usable(i) || g.decided[i] {
			continue
		}
		if x, ok := g.propose(i); ok && len(g.rows)+len(x.to) <= g.most {
			all = append(all, x)
		}
	}
	if len(all) == 0 {
		return false
	}
	x := slices.MinFunc(all, func(a, b proposal) int {
		return cmp.Or(cmp.Compare(len(a.to), len(b.to)), cmp.Compare(a.cov.Trace(), b.cov.Trace()), cmp.Compare(a.point, b.point))
	})
	for _, to := range x.to {
		g.add(to, x.point, g.p.id(x.point), NextPlace)
	}
	g.cov[x.point] = x.cov
	g.decided[x.point] = true // no more for it
	return true
}

// propose is what would place a point that has no place, or decide one that has; false when
// the points with a place do not suffice, or no length would help.
func (g *planner) propose(i int) (proposal, bool) {
	x := proposal{point: i}
	info := geom.Isotropic(1e-6) // no more than a metre is known of it
	lengths := 0
	old, placed := g.cov[i]
	if inv, ok := old.Inverse(); placed && ok {
		info, lengths = inv, lengthsOfPoint
	} else if placed {
		return x, false
	}
	var free []int
	for j := range g.p.in.Points {
		if _, there := g.cov[j]; there && j != i {
			if g.free(i, j) {
				free = append(free, j)
			} else if g.had[pairOf(i, j)] > 0 && !placed {
				info, lengths = info.Add(g.informs(i, j)), lengths+1
			}
		}
	}
	var short proposal
	for len(x.to) <= mostMoreLengths {
		var ok bool
		if x.cov, ok = info.Inverse(); !ok {
			return x, false
		}
		if lengths >= lengthsOfPoint && Conform(g.p.in.Points[i], geom.Vec{}, x.cov, g.p.conf).Verdict == Met {
			return x, len(x.to) > 0
		}
		if lengths == lengthsOfPoint && short.to == nil {
			short = proposal{i, slices.Clone(x.to), x.cov}
		}
		if len(free) == 0 {
			break
		}
		k := bestIn(free, func(j int) float64 { return g.gain(i, j, x.cov) })
		info, lengths = info.Add(g.informs(i, free[k])), lengths+1
		x.to = append(x.to, free[k])
		free = slices.Delete(free, k, k+1)
	}
	return short, !placed && len(short.to) > 0 // a place, though it does not decide
}

// informs is what a length from point i to a known point j tells of i.
func (g *planner) informs(i, j int) geom.Mat3 {
	u := g.p.in.Points[i].At().Sub(g.p.in.Points[j].At()).Unit()
	v := float64(g.std*g.std) + u.Dot(g.cov[j].MulVec(u))
	return geom.Outer(u, u).Scale(1 / v)
}

// gain is how much the length from point i, known with cov, to a known point j would tell.
func (g *planner) gain(i, j int, cov geom.Mat3) float64 {
	u := g.p.in.Points[i].At().Sub(g.p.in.Points[j].At()).Unit()
	return u.Dot(cov.MulVec(u)) / (float64(g.std*g.std) + u.Dot(g.cov[j].MulVec(u)))
}

// bestIn is the place in a list of what has the largest value, the first of several.
func bestIn(of []int, value func(int) float64) int {
	best := 0
	for k := range of {
		if value(of[k]) > value(of[best]) {
			best = k
		}
	}
	return best
}

// checks plans a length for each in which a wrong reading would not show: another one of
// its points, to where that is least known.
func (g *planner) checks(after Result) {
	for _, o := range after.Adjustment.Observations {
		if o.Controlled || o.Kind != string(job.ReadLength) {
			continue
		}
		var pairs [][2]int
		for _, id := range []body.PointID{o.From, o.To} {
			i := g.p.index[id]
			for j := range g.p.in.Points {
				if _, there := g.cov[j]; there && g.free(i, j) {
					pairs = append(pairs, pairOf(i, j))
				}
			}
		}
		if len(pairs) == 0 {
			continue
		}
		x := slices.MaxFunc(pairs, func(a, b [2]int) int {
			return cmp.Compare(g.gain(a[0], a[1], g.cov[a[0]]), g.gain(b[0], b[1], g.cov[b[0]]))
		})
		g.add(x[0], x[1], "", NextCheck)
	}
}

// imagined is the readings with every planned length read as published.
func (g *planner) imagined() Input {
	in := g.in
	const id = "planned lengths"
	in.Setups = append(slices.Clone(in.Setups), job.Setup{ID: id, Stage: stageIn(in)})
	in.Readings = slices.Clone(in.Readings)
	for _, n := range g.rows {
		if n.Why == NextAgain {
			continue
		}
		r := job.Reading{Setup: id, Kind: job.ReadLength, From: n.From, To: n.To}
		r.Value.Known, r.Value.Value = true, n.NominalMM
		r.Std.Known, r.Std.Value = true, g.std
		in.Readings = append(in.Readings, r)
	}
	return in
}

func stageIn(in Input) job.Stage { return stageOf(job.Setup{Stage: in.Stage}) }

// likelyShown is the share of sound vehicles on which a point has to be decided for
// that to be said beforehand: the power that is customary for a test.
const likelyShown = 0.8

// likely says that a point built to its usual spread would be shown within its limit by
// readings with errors of the usual size, as in Reaches.
func (g *planner) likely(i int, would PointResult) bool {
	p := g.p.in.Points[i]
	most := within(p, would.FromNominalCov, g.p.conf)
	return most > 0 && geom.BallProbability(geom.Vec{}, would.FromNominalCov.Add(geom.Isotropic(g.p.std0[i])), most) >= likelyShown
}

// settled compares what is known now with what would be known.
func (g *planner) settled(now, after Result) NextLengths {
	out := NextLengths{StdMM: g.std, Rows: append([]NextLength{}, g.rows...), Placed: []body.PointID{}, Decided: []body.PointID{}, Open: []body.PointID{}}
	had, _ := now.Best()
	then, _ := after.Best()
	for i := range g.p.in.Points {
		if !g.usable(i) {
			continue
		}
		id := g.p.id(i)
		old, placed := had.Point(id)
		would, there := then.Point(id)
		if there && !placed {
			out.Placed = append(out.Placed, id)
		}
		switch {
		case placed && old.settled():
		case there && would.settled() && g.likely(i, would):
			out.Decided = append(out.Decided, id)
		default:
			out.Open = append(out.Open, id)
		}
	}
	return out
}
