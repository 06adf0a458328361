package measure

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// car makes invented measurements: n points over 4.5 x 1.6 x 0.7 m, of which
// some really moved.
type car struct {
	rng   *rand.Rand
	at    []geom.Vec // nominal
	shift []geom.Vec // true motion
	block []int      // of the points that moved as one, from 1 on; 0 of all others
	built []geom.Vec // not nil: the points were built with a spread, which is no motion
}

func newCar(n int, seed uint64) *car {
	c := &car{rng: rand.New(rand.NewPCG(seed, 77)), shift: make([]geom.Vec, n), block: make([]int, n)}
	for i := 0; i < n; i++ {
		side := float64(1 - 2*(i%2))
		x := (float64(i/2) + 0.2*c.rng.Float64()) / float64((n+1)/2) * 4500
		c.at = append(c.at, geom.Vec{x, side * (550 + 250*c.rng.Float64()), 700 * c.rng.Float64()})
	}
	return c
}

func (c *car) gauss() geom.Vec {
	return geom.Vec{c.rng.NormFloat64(), c.rng.NormFloat64(), c.rng.NormFloat64()}
}

// moveRear moves the rear share of the points as one: a random motion whose
// mean displacement is size.
func (c *car) moveRear(share, size float64) {
	order := make([]int, len(c.at))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(a, b int) bool { return c.at[order[a]][0] > c.at[order[b]][0] })
	k := int(math.Round(share * float64(len(order))))
	c.moveTogether(order[:k], size)
}

func (c *car) moveTogether(points []int, size float64) {
	if len(points) == 0 {
		return
	}
	var mid geom.Vec
	for _, i := range points {
		mid = mid.Add(c.at[i].Scale(1 / float64(len(points))))
	}
	number := 1 + slices.Max(c.block)
	hinge := mid.Add(geom.Vec{-600, 0, 0})
	turn := geom.FromRotationVector(c.gauss().Unit().Scale(size / 1500))
	move := c.gauss().Unit().Scale(size * 0.7)
	sum := 0.0
	d := make([]geom.Vec, len(points))
	for k, i := range points {
		d[k] = turn.MulVec(c.at[i].Sub(hinge)).Add(hinge).Add(move).Sub(c.at[i])
		sum += d[k].Norm() / float64(len(points))
	}
	for k, i := range points {
		c.shift[i] = c.shift[i].Add(d[k].Scale(size / sum))
		c.block[i] = number
	}
}

// moveAlone moves k points that have not moved yet, each its own way.
func (c *car) moveAlone(k int, size float64) {
	for _, i := range c.rng.Perm(len(c.at)) {
		if k == 0 {
			return
		}
		if c.shift[i] == (geom.Vec{}) {
			c.shift[i] = c.gauss().Unit().Scale(size)
			k--
		}
	}
}

// measure reads every point once in a frame of its own.
func (c *car) measure(std float64) Input {
	m := geom.Rigid{R: geom.FromRotationVector(c.gauss().Unit().Scale(3 * c.rng.Float64())), T: c.gauss().Scale(800)}
	in := Input{Impact: "unknown"}
	for i, p := range c.at {
		id := body.PointID(fmt.Sprintf("P%02d", i+1))
		in.Points = append(in.Points, body.Point{ID: id, X: p[0], Y: p[1], Z: p[2], Tol: unit.Some(3.0), Std: unit.Some(0.0)})
		q := m.Apply(p.Add(c.shift[i])).Add(c.gauss().Scale(std))
		in.Readings = append(in.Readings, xyz("S1", id, q, std))
	}
	return in
}

func xyz(setup string, id body.PointID, q geom.Vec, std float64) job.Reading {
	return job.Reading{Setup: setup, Kind: "xyz", From: id, X: unit.Some(q[0]), Y: unit.Some(q[1]), Z: unit.Some(q[2]), Std: unit.Some(std)}
}
