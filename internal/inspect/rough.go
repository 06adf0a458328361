package inspect

import (
	"math"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/normal"
	"fettle/internal/vehicle"
)

// What a trace says of its own noise. Points off the surface by a length that
// changes from one to the next were not clicked as surely as may be stated; a
// length that all of them share is the casting's or the alignment's, and is not
// noise. So noise is read from second differences of what the points are off the
// surface, d:
//
//	e_i = d_(i-1) - 2 d_i + d_(i+1),   variance 6 s^2
//
// First robustly, for how far a point may be off at all: the median of |e| over
// sqrt(6), and of |d_(i+1) - d_i| over sqrt(2), each over 0.6745, and the smaller of
// the two, since a drift stays in the one and a single bad point in more of the
// other. Then, when every point is on the surface, by their root mean square.
//
// Source: J. von Neumann, R. H. Kent, H. R. Bellinson, B. I. Hart, The mean square
// successive difference, 1941; that second differences of n points have the weight of
// 18 (n-2)/35 independent ones: the variance of their mean square, 2 (36 + 32 + 2)/36
// of its square over n-2; the median of |N(0,1)|, 0.6745: tables.
const (
	// roughPoints is how many points it takes to speak of their noise. Our choice.
	roughPoints = 5
	// mostRoughMM is the noise above which points are no trace of a wall of some
	// millimetres: what they are then is not known. Our choice, no source.
	mostRoughMM = 3.0
	// roughChance is how improbable it has to be that the points are as certain as
	// stated before they are not believed. Our choice.
	roughChance = 0.01
	// lostChance is how improbable one of the points of a trace may be before it is
	// said not to be on the surface. Our choice.
	lostChance = 0.002
	// fewRough over the root of the number of points is the part by which their noise
	// may be larger than its median shows: the standard deviation of a median is 1.17
	// over that root. Our choice.
	fewRough = 1.0
)

// gateOf is how far the points of a trace of n points may be from the surface they
// are said to be on, each with the standard uncertainty std.
func (t *trace) gateOf(n int, std float64) float64 {
	all := normal.Quantile(1 - lostChance/float64(2*max(1, n)))
	return max(vehicle.LeastGateMM, gateStds*(std+t.meshStd()), float64(all*elem.Hypot(std, t.meshStd())))
}

// feel takes the noise of most points from how far they are off the surface, and from
// it how far any of them may be.
func (t *trace) feel(points []geom.Vec, chain []candidate) {
	if t.said > 0 {
		t.std = max(t.said, t.std, min(mostRoughMM, robustNoise(t.off(points, chain))))
	}
	t.gateMM = t.gateOf(len(points), t.std)
}

// gateFor is how far point i may be off the surface, by the noise that the others show:
// a wild point does not speak for itself.
func (t *trace) gateFor(i int, off []float64) float64 {
	n := len(off)
	if gate := t.gateOf(n, t.said); t.said == 0 || math.Abs(off[i]) <= gate {
		return gate
	}
	others := slices.Delete(slices.Clone(off), i, i+1)
	return t.gateOf(n, max(t.said, min(mostRoughMM, robustNoise(others))))
}

// off is how far each point is from the surface, positive on its outer side.
func (t *trace) off(points []geom.Vec, chain []candidate) []float64 {
	out := make([]float64, len(chain))
	for i, c := range chain {
		out[i] = math.Copysign(c.mm, points[i].Sub(c.site.At).Dot(t.normal(c)))
	}
	return out
}

// robustNoise is the noise of most of the values, whatever a few of them are; 0 when
// there are too few to tell.
func robustNoise(d []float64) float64 {
	if len(d) < roughPoints {
		return 0
	}
	one, two := make([]float64, len(d)-1), secondDifferences(d)
	for i := range one {
		one[i] = math.Abs(d[i+1] - d[i])
	}
	for i := range two {
		two[i] = math.Abs(two[i])
	}
	slices.Sort(one)
	slices.Sort(two)
	few := 1 + fewRough/math.Sqrt(float64(len(d)))
	return few * min(one[len(one)/2]/math.Sqrt2, two[len(two)/2]/math.Sqrt(6)) / normal.Quantile(0.75) // the median of |N(0,1)|
}

func secondDifferences(d []float64) []float64 {
	out := make([]float64, len(d)-2)
	for i := range out {
		out[i] = d[i] - 2*d[i+1] + d[i+2]
	}
	return out
}

// roughness is the noise of values by their second differences, when that is more
// than the standard uncertainty std surely explains; otherwise 0.
func roughness(d []float64, std float64) float64 {
	if len(d) < roughPoints {
		return 0
	}
	sum := 0.0
	e := secondDifferences(d)
	for _, x := range e {
		sum += x * x / 6
	}
	mean := sum / float64(len(e))
	weight := 18 * len(e) / 35 // 1 of roughPoints
	if mean <= std*std*geom.ChiSquareQuantile(roughChance, weight)/float64(weight) {
		return 0
	}
	return math.Sqrt(mean)
}

// besides is the noise that points show within the surface at most: how far each is
// beside the straight way between its neighbours, in the layout of the trace, by root
// mean square. Bends are in it too.
func besides(x []flat) float64 {
	sum, n := 0.0, 0
	for i := 1; i+1 < len(x); i++ {
		c := flat{x[i+1].x - x[i-1].x, x[i+1].y - x[i-1].y}
		p := flat{x[i].x - x[i-1].x, x[i].y - x[i-1].y}
		c2 := float64(c.x*c.x) + float64(c.y*c.y)
		if c2 == 0 {
			continue
		}
		q := min(1, max(0, (float64(c.x*p.x)+float64(c.y*p.y))/c2))
		r := (float64(c.x*p.y) - float64(c.y*p.x))
		sum += r * r / c2 / (1 + ends2(q))
		n++
	}
	return math.Sqrt(sum / float64(max(1, n)))
}

// believe takes the points for less certain than stated when they show it: as
// uncertain as they are off the surface, but no more than they go to and fro within
// it. A crack that is smooth was clicked surely along the surface, whatever it is off.
func (t *trace) believe(points []geom.Vec, chain []candidate) {
	rough := min(mostRoughMM, roughness(t.off(points, chain), elem.Hypot(t.said, t.meshStd())))
	t.std = max(t.said, min(rough, besides(t.develop())))
}

// roughNote says that the points were not believed to be as certain as stated.
func roughNote(said, std float64) diag.Note {
	return diag.Say("inspect.points-rougher", "from one to the next the points of the trace are off the surface by more than their standard uncertainty of {given} explains: {taken} is taken for each", long(said), long(std)).Note(diag.Note{Severity: diag.Caution, Hint: "give the points anew with a steadier hand, or state how well each is known"})
}
