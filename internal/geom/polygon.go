package geom

import (
	"math"

	"fettle/internal/elem"
)

// Flat is a place in a plane, or a step there.
type Flat [2]float64

func (a Flat) minus(b Flat) Flat { return Flat{a[0] - b[0], a[1] - b[1]} }

// cross is the area of the parallelogram of a and b; positive where b is to the left of a,
// y upwards.
func (a Flat) cross(b Flat) float64 { return float64(a[0]*b[1]) - float64(a[1]*b[0]) }

func (a Flat) dot(b Flat) float64 { return float64(a[0]*b[0]) + float64(a[1]*b[1]) }

// Dist is the distance of two places.
func (a Flat) Dist(b Flat) float64 { return elem.Hypot(a[0]-b[0], a[1]-b[1]) }

// fromSide is the distance of a place from the side that goes from a to b.
func (q Flat) fromSide(a, b Flat) float64 {
	along := b.minus(a)
	square := along.dot(along)
	if square == 0 {
		return q.Dist(a)
	}
	t := min(max(q.minus(a).dot(along)/square, 0), 1)
	return q.Dist(Flat{a[0] + float64(t*along[0]), a[1] + float64(t*along[1])})
}

// Polygon is a figure in a plane by its corners in their order; the last is joined to the
// first.
type Polygon []Flat

// Depth is how deep a place lies in the polygon: its distance from the border, below zero
// where it lies outside. Inside is where a way to infinity crosses the border an odd number
// of times.
func (p Polygon) Depth(q Flat) float64 {
	near, inside := math.Inf(1), false
	for i, b := range p {
		a := p[(i+len(p)-1)%len(p)]
		near = min(near, q.fromSide(a, b))
		if (a[1] > q[1]) == (b[1] > q[1]) {
			continue
		}
		side := b.minus(a).cross(q.minus(a)) // above zero: q is to the left of the way up from a to b
		if side > 0 == (b[1] > a[1]) {
			inside = !inside
		}
	}
	if inside {
		return near
	}
	return -near
}

// Area is what the border encloses; that of a border which crosses itself has no meaning.
func (p Polygon) Area() float64 {
	sum := 0.0
	for i := range p {
		if i >= 2 {
			sum += p[i-1].minus(p[0]).cross(p[i].minus(p[0]))
		}
	}
	return math.Abs(sum) / 2
}

// Crossing is two sides of the border that have a place in common which is not the corner
// between them; each is named by the corner at which it begins.
func (p Polygon) Crossing() (i, j int, crosses bool) {
	n := len(p)
	for j := range p {
		for i := range j {
			a, b, c, d := p[i], p[(i+1)%n], p[j], p[(j+1)%n]
			switch {
			case j == i+1: // they share b
				crosses = foldsBack(a, b, d)
			case i == 0 && j == n-1: // they share a
				crosses = foldsBack(c, a, b)
			default:
				crosses = meet(a, b, c, d)
			}
			if crosses {
				return i, j, true
			}
		}
	}
	return 0, 0, false
}

// foldsBack says that the way from a over b to c goes back the way it came.
func foldsBack(a, b, c Flat) bool {
	in, out := b.minus(a), c.minus(b)
	return in.cross(out) == 0 && in.dot(out) <= 0
}

// meet says that the sides ab and cd have a place in common.
func meet(a, b, c, d Flat) bool {
	ab, cd := b.minus(a), d.minus(c)
	left, right := ab.cross(c.minus(a)), ab.cross(d.minus(a))
	above, below := cd.cross(a.minus(c)), cd.cross(b.minus(c))
	if left == 0 && right == 0 { // all on one line
		return onSide(a, b, c) || onSide(a, b, d) || onSide(c, d, a)
	}
	return (left <= 0) != (right <= 0) && (above <= 0) != (below <= 0) ||
		left == 0 && onSide(a, b, c) || right == 0 && onSide(a, b, d) || above == 0 && onSide(c, d, a) || below == 0 && onSide(c, d, b)
}

// onSide says that q, which lies on the line through a and b, lies between them.
func onSide(a, b, q Flat) bool {
	return min(a[0], b[0]) <= q[0] && q[0] <= max(a[0], b[0]) && min(a[1], b[1]) <= q[1] && q[1] <= max(a[1], b[1])
}

// roomSteps is how many places across and down are looked at for the roomiest.
const roomSteps = 48

// offMiddle is how much less a place is worth for each unit that it lies off the middle.
const offMiddle = 1e-3

// Roomiest is a place inside with about the most room around it, and how much: the best of a
// grid over the figure, then of finer ones about the best. Of places with about as much the one
// nearest to the middle of the figure's box counts. From one place to the next the depth changes by no
// more than they are apart, so that most places need not be looked at.
func (p Polygon) Roomiest() (at Flat, room float64) {
	if len(p) == 0 {
		return Flat{}, 0
	}
	low, high := p.bounds()
	middle := Flat{(low[0] + high[0]) / 2, (low[1] + high[1]) / 2}
	at, room = middle, p.Depth(middle)
	best := room
	for range 3 {
		step := Flat{(high[0] - low[0]) / roomSteps, (high[1] - low[1]) / roomSteps}
		var above [roomSteps + 1]float64 // the most that the depths of the row before can be
		for k := range above {
			above[k] = math.Inf(1)
		}
		for row := range roomSteps + 1 {
			most := math.Inf(1)
			for k := range above {
				if most = min(most+step[0], above[k]+step[1]); most >= best {
					q := Flat{low[0] + float64(step[0]*float64(k)), low[1] + float64(step[1]*float64(row))}
					most = p.Depth(q)
					if worth := most - float64(offMiddle*q.Dist(middle)); worth > best {
						at, room, best = q, most, worth
					}
				}
				above[k] = most
			}
		}
		low, high = Flat{at[0] - step[0], at[1] - step[1]}, Flat{at[0] + step[0], at[1] + step[1]}
	}
	return at, room
}

func (p Polygon) bounds() (low, high Flat) {
	low, high = p[0], p[0]
	for _, q := range p {
		for k := range q {
			low[k], high[k] = min(low[k], q[k]), max(high[k], q[k])
		}
	}
	return low, high
}
