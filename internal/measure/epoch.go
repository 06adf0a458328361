package measure

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
)

// epoch is where the points are now, in the frame of one set-up, before
// anything is said about which of them have moved.
type epoch struct {
	points []int // control points that have a position
	slot   []int // control point -> place in points, or -1
	at     []geom.Vec
	cov    []geom.Mat3
	// linked says for each set-up that its pose follows from the others.
	linked []bool
	motion []geom.Rigid // set-up frame from the frame of the epoch
	base   int
	// simple: one set-up with one coordinate reading per point, and no other
	// reading.
	simple bool
	// together is the covariance of the places of two points, in the frame of the
	// epoch; nil when they are independent.
	together func(i, j int) geom.Mat3
	near     [][]int // nearest points of each point, once asked for
}

// locate finds the positions. Set-ups are linked by at least three common
// points that are not on one line; a point without coordinates is located by
// three or more lengths or heights.
func (p *problem) locate() *epoch {
	e := &epoch{slot: make([]int, len(p.in.Points)), linked: make([]bool, len(p.setups)), motion: make([]geom.Rigid, len(p.setups)), base: none}
	for i := range e.slot {
		e.slot[i] = none
	}
	means := p.means()
	for k := range p.setups {
		if len(means[k]) >= 3 && (e.base == none || p.baseBefore(means, k, e.base)) {
			e.base = k
		}
	}
	if e.base == none {
		p.locateByLengths(e)
		return e
	}
	e.linked[e.base], e.motion[e.base] = true, geom.Still()
	for _, m := range means[e.base] {
		e.put(m.point, m.at, m.cov)
	}
	p.link(e, means)
	e.simple = p.countLinked(e) == 1 && len(p.spans) == 0 && p.setups[e.base].coords == len(means[e.base])
	if !e.simple {
		p.adjustEpoch(e)
	}
	return e
}

// baseBefore says that set-up a is the better one to start from: more points,
// and of two with as many the one whose name comes first, so that the order of
// the readings says nothing.
func (p *problem) baseBefore(means [][]mean, a, b int) bool {
	if n, m := len(means[a]), len(means[b]); n != m {
		return n > m
	}
	return p.setups[a].id < p.setups[b].id
}

func (e *epoch) put(point int, at geom.Vec, cov geom.Mat3) {
	e.slot[point] = len(e.points)
	e.points, e.at, e.cov = append(e.points, point), append(e.at, at), append(e.cov, cov)
}

// has says that a point has a position.
func (e *epoch) has(point int) bool { return e.slot[point] != none }

func (p *problem) countLinked(e *epoch) int {
	n := 0
	for k := range p.setups {
		if e.linked[k] {
			n++
		}
	}
	return n
}

// mean is the weighted mean of the repeated coordinates of a point in one
// set-up.
type mean struct {
	point int
	at    geom.Vec
	cov   geom.Mat3
}

func (p *problem) means() [][]mean {
	out := make([][]mean, len(p.setups))
	place := map[[2]int]int{}
	for i := range p.coords {
		c := &p.coords[i]
		key := [2]int{c.setup, c.point}
		at, again := place[key]
		if !again {
			place[key] = len(out[c.setup])
			out[c.setup] = append(out[c.setup], mean{point: c.point, at: c.at, cov: c.cov()})
			continue
		}
		out[c.setup][at].improve(c)
	}
	return out
}

// improve takes in one more reading of the point: the weighted mean of both
// with K = M (M + C)^-1, M and C their covariances.
func (m *mean) improve(c *coord) {
	inv, ok := m.cov.Add(c.cov()).Inverse()
	if !ok { // both as good as exact: the first one stands
		return
	}
	k := m.cov.Mul(inv)
	m.at = m.at.Add(k.MulVec(c.at.Sub(m.at)))
	m.cov = m.cov.Sub(k.Mul(m.cov)).Symmetric()
}

// link adds set-ups that share enough points, best connected first.
func (p *problem) link(e *epoch, means [][]mean) {
	for {
		best, common := none, 2
		var fit geom.Fit
		for k := range means {
			if e.linked[k] {
				continue
			}
			f, n := linkFit(e, means[k])
			if n > common {
				best, common, fit = k, n, f
			}
		}
		if best == none {
			break
		}
		e.linked[best], e.motion[best] = true, fit.Motion
		back := fit.Motion.Inverse()
		for _, m := range means[best] {
			if !e.has(m.point) {
				e.put(m.point, back.Apply(m.at), m.cov.Turn(back.R))
			}
		}
	}
	for k := range means {
		if !e.linked[k] && len(means[k]) > 0 {
			p.note(diag.Blocking, "set-up "+p.setups[k].id,
				diag.Say("measure.setup-unlinked", "its {points} points share fewer than three well spread points with the other set-ups; it is left out", len(means[k])),
				"measure at least three common points, better four, in both set-ups")
		}
	}
}

func linkFit(e *epoch, means []mean) (geom.Fit, int) {
	var from, to []geom.Vec
	for _, m := range means {
		if e.has(m.point) {
			from, to = append(from, e.at[e.slot[m.point]]), append(to, m.at)
		}
	}
	f, err := geom.FitRigid(from, to, nil)
	if err != nil {
		return f, 0
	}
	return f, len(from)
}

// spanUsable says that both points of a length or height have a position; a
// height needs the pose of its set-up too.
func (p *problem) spanUsable(e *epoch, s *span) bool {
	if !e.has(s.from) || !e.has(s.to) {
		return false
	}
	return s.kind == job.ReadLength || e.linked[s.setup]
}

// allSpans uses every length and height.
func allSpans(*span) bool { return true }

// network is the adjustment of the usable readings, with the points of the
// epoch numbered as in e.points and every linked set-up as a pose.
type network struct {
	geom.Network
	setupOf []int // pose -> set-up
	poseOf  []int // set-up -> pose, or -1
	source  []rowSource
}

// rowSource says which reading a row belongs to.
type rowSource struct {
	setup, from, to int
	kind            string
	std             float64
}

var axisName = [3]string{"x", "y", "z"}

// axisName is what the a-th component of the reading is called.
func (c *coord) axisName(a int) string {
	if c.turned {
		return "centre " + string(rune('1'+a))
	}
	return axisName[a]
}

func (p *problem) network(e *epoch, use func(*span) bool) *network {
	nw := &network{poseOf: make([]int, len(p.setups))}
	for k := range p.setups {
		nw.poseOf[k] = none
		if e.linked[k] {
			nw.poseOf[k] = len(nw.Poses)
			nw.setupOf = append(nw.setupOf, k)
			nw.Poses = append(nw.Poses, geom.NetPose{Motion: e.motion[k]})
		}
	}
	for i := range e.points {
		nw.Points = append(nw.Points, geom.NetPoint{At: e.at[i]})
	}
	for _, c := range p.coords {
		if !e.linked[c.setup] {
			continue
		}
		at := c.along(c.at)
		for a := range at {
			o := geom.NetObs{Kind: geom.NetCoordinate, Pose: nw.poseOf[c.setup], A: e.slot[c.point], Axis: a, Value: at[a], Std: c.std[a]}
			if c.turned {
				o.Dir = geom.Vec{c.axes[0][a], c.axes[1][a], c.axes[2][a]}
			}
			nw.Obs = append(nw.Obs, o)
			nw.source = append(nw.source, rowSource{c.setup, c.point, none, c.axisName(a), c.std[a]})
		}
	}
	for i := range p.spans {
		s := &p.spans[i]
		if !p.spanUsable(e, s) || !use(s) {
			continue
		}
		o := geom.NetObs{Kind: geom.NetLength, Pose: geom.PointFrame, A: e.slot[s.from], B: e.slot[s.to], Value: s.value, Std: s.std}
		if s.kind == job.ReadHeight {
			o.Kind, o.Pose, o.Axis = geom.NetHeight, nw.poseOf[s.setup], 2
		}
		nw.Obs = append(nw.Obs, o)
		nw.source = append(nw.source, rowSource{s.setup, s.from, s.to, string(s.kind), s.std})
	}
	return nw
}

// adjustEpoch improves the positions with the coordinates of all set-ups, and
// takes in points known by lengths and heights only. Between points that have
// coordinates lengths and heights are left for the adjustment under a
// hypothesis, so that a wrong one does not bend the positions that the search
// for blocks starts from.
func (p *problem) adjustEpoch(e *epoch) {
	p.locateRest(e)
	measured := map[int]bool{}
	for _, c := range p.coords {
		if e.linked[c.setup] {
			measured[c.point] = true
		}
	}
	needed := func(s *span) bool { return !measured[s.from] || !measured[s.to] }
	for range p.in.Points {
		nw := p.network(e, needed)
		nw.Poses[nw.poseOf[e.base]].Fixed = true
		r, err := nw.Adjust()
		if err == nil {
			for i := range e.points {
				e.at[i], e.cov[i] = r.Points[i], r.PointCov(i, i)
			}
			e.together = r.PointCov
			for pose, k := range nw.setupOf {
				e.motion[k] = r.Poses[pose]
			}
			return
		}
		var u *geom.Undetermined
		if !errors.As(err, &u) || u.Point < 0 {
			p.note(diag.Blocking, "readings", diag.Say("measure.adjustment", "the readings cannot be adjusted together: {fault}", err.Error()), "look for a gross error")
			return
		}
		e.remove(u.Point)
	}
}

func (e *epoch) remove(i int) {
	e.slot[e.points[i]] = none
	e.points = append(e.points[:i], e.points[i+1:]...)
	e.at = append(e.at[:i], e.at[i+1:]...)
	e.cov = append(e.cov[:i], e.cov[i+1:]...)
	for k := i; k < len(e.points); k++ {
		e.slot[e.points[k]] = k
	}
}

// locateRest starts points that have at least three lengths or heights to
// located points where the best block says their nominal place is.
func (p *problem) locateRest(e *epoch) {
	if !p.anyLeft(e) {
		return
	}
	x, err := geom.NewMatcher(p.matches(e))
	if err != nil {
		return
	}
	x.Work = p.in.Work
	found := x.Partitions(3, p.in.Seed)
	if len(found.Partitions) == 0 {
		return
	}
	body := found.Partitions[0].Blocks[0].Fit.Motion
	for again := true; again; {
		again = false
		for i := range p.in.Points {
			if e.has(i) || p.index[p.id(i)] != i {
				continue
			}
			n := 0
			for s := range p.spans {
				sp := &p.spans[s]
				other := none
				if sp.from == i {
					other = sp.to
				} else if sp.to == i {
					other = sp.from
				}
				if other != none && e.has(other) && (sp.kind == job.ReadLength || e.linked[sp.setup]) {
					n++
				}
			}
			if n >= 3 {
				e.put(i, body.Apply(p.in.Points[i].At()), geom.Isotropic(1e6))
				again = true
			}
		}
	}
}

// anyLeft says that a length or height goes to a point without a position.
func (p *problem) anyLeft(e *epoch) bool {
	return slices.ContainsFunc(p.spans, func(s span) bool { return !e.has(s.from) || !e.has(s.to) })
}

// locateByLengths adjusts lengths alone as a free network that starts from the
// nominal coordinates: the form is known, the place is not.
func (p *problem) locateByLengths(e *epoch) {
	for _, s := range p.spans {
		if s.kind != job.ReadLength {
			continue
		}
		for _, i := range []int{s.from, s.to} {
			if !e.has(i) {
				e.put(i, p.in.Points[i].At(), geom.Mat3{})
			}
		}
	}
	p.form = &Form{Left: []Unheld{}, Folds: []Fold{}}
	defer p.describeForm(e)
	for len(e.points) >= 4 {
		nw := p.network(e, allSpans)
		nw.Free = true
		if weak := weakest(len(e.points), nw.Obs); weak != none {
			p.leave(e, weak, "fewer than three lengths hold it")
			continue
		}
		before := len(e.points)
		if p.keepRigid(e); len(e.points) < before {
			continue
		}
		r, err := nw.Adjust()
		if err == nil {
			for i := range e.points {
				e.at[i], e.cov[i] = r.Points[i], r.PointCov(i, i)
			}
			loose, u := loosest(e, nw.Obs)
			if loose == none {
				return
			}
			p.leave(e, loose, fmt.Sprintf("the lengths hold it too loosely (± %.0f mm, k = 2), so that another form may be as near", coverage*u))
			for i := range e.points {
				e.at[i] = p.in.Points[e.points[i]].At()
			}
			continue
		}
		var u *geom.Undetermined
		if !errors.As(err, &u) || u.Point < 0 {
			p.note(diag.Blocking, "readings", diag.Say("measure.adjustment", "the lengths cannot be adjusted together: {fault-of-lengths}", err.Error()), "look for a gross error")
			break
		}
		p.leave(e, u.Point, "the lengths do not determine its place")
	}
	for len(e.points) > 0 {
		p.leave(e, 0, "the lengths hold no four points against one another")
	}
}

// weakest is a point with fewer than three lengths, or -1.
func weakest(n int, obs []geom.NetObs) int {
	count := make([]int, n)
	for _, o := range obs {
		count[o.A]++
		count[o.B]++
	}
	for i, c := range count {
		if c < 3 {
			return i
		}
	}
	return none
}

// matches pairs the nominal positions with those of the epoch.
func (p *problem) matches(e *epoch) geom.Matches {
	m := geom.Matches{To: e.at}
	for i, pt := range e.points {
		m.From = append(m.From, p.in.Points[pt].At())
		m.CovFrom = append(m.CovFrom, geom.Isotropic(p.std0[pt]))
		c := e.cov[i]
		if floor := 1e-12 * math.Max(1, c.Trace()); c[0][0] < floor || c[1][1] < floor || c[2][2] < floor {
			c = c.Add(geom.Isotropic(math.Sqrt(floor)))
		}
		m.CovTo = append(m.CovTo, c)
	}
	return m
}
