package measure

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/job"
)

// A reading that is wrong in itself looks just like a point that moved by itself.
// Only a second reading, or neighbours that moved too, can tell.

const (
	// neighbours is how many of the nearest points speak for a point that moved
	// alone: all of them must have moved alone as well, or corroborating of them in
	// nearly its direction, with a cosine of sameWay or more: one in twenty of all
	// directions. Two misread points of three that agree with a third, or three, are
	// less than one vehicle in ten thousand where one reading in a hundred is misread.
	neighbours, corroborating = 3, 2
	sameWay                   = 0.9
)

// lone says for every point that it moved by itself, out of a neighbourhood that
// did not, and was read once.
func (p *problem) lone(e *epoch, c *candidate) []bool {
	out := make([]bool, len(e.points))
	var times []int
	for i := range e.points {
		if !c.moved[i] || p.wentAlong(e, c, i) {
			continue
		}
		if times == nil {
			times = p.timesRead(e)
		}
		out[i] = times[i] < 2 && !p.borneOutNear(e, c, i) && !p.spanShows(e, c, i)
	}
	return out
}

// wentAlong says that a point is one of a block that moved, which chance does not
// explain, and which one of the nearest points belongs to: a reading that is wrong
// makes one of a few points that happen to fit together, or puts a point of the still
// front among those of the rear.
func (p *problem) wentAlong(e *epoch, c *candidate, i int) bool {
	for k := range c.groups {
		if g := &c.groups[k]; g.set.Has(i) && g.gain > unlikelyBIC {
			return slices.ContainsFunc(p.nearTo(e, i), func(j int) bool { return g.set.Has(j) })
		}
	}
	return false
}

// shows is how many standard uncertainties the shift of a point must make of a
// length or height for this to bear it out: a point that stayed would have left it
// as it was, and then the length would disagree with the coordinates.
const shows = 8

// spanShows says that a length or height to a point that did not move shows the
// shift of point i as well; one that disagrees is a suspect of its own.
func (p *problem) spanShows(e *epoch, c *candidate, i int) bool {
	for k := range p.spans {
		s := &p.spans[k]
		if !p.spanUsable(e, s) {
			continue
		}
		a, b := e.slot[s.from], e.slot[s.to]
		if b == i {
			a, b = b, a
		}
		if a != i || c.moved[b] {
			continue
		}
		along := p.in.Points[e.points[a]].At().Sub(p.in.Points[e.points[b]].At()).Unit()
		if s.kind == job.ReadHeight {
			along = geom.Vec{0, 0, 1}
		}
		if math.Abs(along.Dot(c.shift[i])) > shows*elem.Hypot(s.std, p.std0[e.points[i]]) {
			return true
		}
	}
	return false
}

// timesRead is how often the coordinates of each point were read; a copy of a row
// says nothing new. Three lengths or heights are one reading.
func (p *problem) timesRead(e *epoch) []int {
	n, spans := make([]int, len(e.points)), make([]int, len(e.points))
	seen := map[coord]bool{}
	for _, c := range p.coords {
		if i := e.slot[c.point]; e.has(c.point) && e.linked[c.setup] && !seen[c] {
			seen[c] = true
			n[i]++
		}
	}
	for k := range p.spans {
		s := &p.spans[k]
		if p.spanUsable(e, s) {
			spans[e.slot[s.from]]++
			spans[e.slot[s.to]]++
		}
	}
	for i := range n {
		n[i] += spans[i] / 3
	}
	return n
}

// nearTo are the nearest points to a point, by their nominal places.
func (p *problem) nearTo(e *epoch, i int) []int {
	if e.near == nil {
		e.near = make([][]int, len(e.points))
	}
	if e.near[i] == nil {
		e.near[i] = p.nearestTo(e, i)
	}
	return e.near[i]
}

func (p *problem) nearestTo(e *epoch, i int) []int {
	at := p.in.Points[e.points[i]].At()
	var others []int
	dist := make([]float64, len(e.points))
	for j, pt := range e.points {
		if j != i {
			others = append(others, j)
			dist[j] = p.in.Points[pt].At().Dist(at)
		}
	}
	slices.SortStableFunc(others, func(a, b int) int { return cmp.Compare(dist[a], dist[b]) })
	return others[:min(neighbours, len(others))]
}

// borneOutNear says that the nearest points speak for a point that moved alone.
// What moved as one piece says nothing about a point that did not go along.
func (p *problem) borneOutNear(e *epoch, c *candidate, i int) bool {
	moved, alike := 0, 0
	for _, j := range p.nearTo(e, i) {
		if c.moved[j] && !c.inGroup(j) {
			moved++
			if c.shift[j].Dot(c.shift[i]) >= sameWay*c.shift[i].Norm()*c.shift[j].Norm() {
				alike++
			}
		}
	}
	return moved == neighbours || alike >= corroborating && !alongOneAxis(c.shift[i]) && !alongOneAxis(c.fit.Motion.R.MulVec(c.shift[i]))
}

// alongOneAxis says that a shift lies almost along one axis, of the vehicle or of
// the device, as a slip in one published or read coordinate does: its direction says
// nothing then.
func alongOneAxis(d geom.Vec) bool { return alongAxis(d) != none }

// Misread says that the point moved by itself and was read once, so that a wrong
// reading explains it as well.
func (p PointResult) Misread() bool { return p.need.Kind == NeedsReadingAgain }
