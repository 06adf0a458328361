package measure

import (
	"fmt"
	"math"
	"slices"

	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// rareFamilies are damages, set-ups and records that hardly any vehicle shows and
// that try hardest to make something firm and wrong.
func rareFamilies() []family {
	return []family{
		{name: "three blocks moved", honest: true, made: threeBlocks},
		{name: "a block moved along one axis", honest: true, made: alongOne},
		{name: "blocks of three moved", honest: true, made: blocksOfThree},
		{name: "one side moved", honest: true, made: oneSide},
		{name: "the middle moved, impact at a side", honest: true, made: middleMoved},
		{name: "both ends moved alike", honest: true, bent: 0.01, made: endsAlike},
		{name: "some points of a moved end stood", honest: true, made: patchwork},
		{name: "mixed devices in linked set-ups", honest: true, made: mixedAndLinked},
		{name: "points in one plane or nearly on a line", honest: true, made: flat},
		{name: "points a millimetre apart", honest: true, made: pairs},
		{name: "a set-up knocked, its common points misread", made: knocked},
		{name: "spread given for half of the points", made: halfSpread},
		{name: "one axis of a set-up stretched", made: stretched},
		{name: "one axis mirrored", made: mirroredAxis},
		{name: "body 20 K warmer than written down", made: warm},
		{name: "labels exchanged across the border of a block", made: swappedAtBorder},
		{name: "a device that drifts", made: drifting},
	}
}

func threeBlocks(seed uint64) (*car, Input) {
	n := 26 + int(seed%12)
	c := newCar(n, seed)
	order := c.alongX()
	for k, at := range []int{0, n/2 - 3, n - 7} {
		size := 6
		if k == 1 {
			size = 5
		}
		c.moveTogether(order[at:at+size], 4+30*c.rng.Float64())
	}
	in := c.measure(0.7)
	in.Impact = []job.ImpactSide{"front", "rear", "left", "unknown"}[seed%4]
	return c, in
}

// alongOne slides the rear along one axis of the vehicle, without a turn.
func alongOne(seed uint64) (*car, Input) {
	n := 14 + int(seed%25)
	c := newCar(n, seed)
	size, axis := 3+57*math.Pow(c.rng.Float64(), 2), int(seed%3)
	for _, i := range c.alongX()[n-6-c.rng.IntN(n/2-6):] {
		c.shift[i][axis], c.block[i] = size, 1
	}
	in := c.measure(0.7)
	in.Impact = "rear"
	return c, in
}

func blocksOfThree(seed uint64) (*car, Input) {
	n := 14 + int(seed%25)
	c := newCar(n, seed)
	order := c.alongX()
	c.moveTogether(order[n-3:], 5+25*c.rng.Float64())
	if seed%2 == 1 {
		c.moveTogether(order[n-6:n-3], 5+25*c.rng.Float64())
	}
	if seed%4 > 1 {
		c.moveTogether(order[:3], 5+25*c.rng.Float64())
	}
	in := c.measure(0.7)
	in.Impact = []job.ImpactSide{"rear", "front", "unknown"}[seed%3]
	return c, in
}

func oneSide(seed uint64) (*car, Input) {
	n := 14 + int(seed%25)
	c := newCar(n, seed)
	var left []int
	for i, p := range c.at {
		if p[1] < 0 && (seed%2 == 0 || p[0] > 1500) {
			left = append(left, i)
		}
	}
	c.moveTogether(left, 4+26*c.rng.Float64())
	in := c.measure(0.7)
	in.Impact = []job.ImpactSide{"left", "rear-left", "rear", "unknown"}[seed%4]
	return c, in
}

// middleMoved is pushed in between its ends, on one side or on both.
func middleMoved(seed uint64) (*car, Input) {
	n := 20 + int(seed%20)
	c := newCar(n, seed)
	var mid []int
	for _, i := range c.alongX()[n/2-5 : n/2+5] {
		if seed%3 == 0 || c.at[i][1] < 0 {
			mid = append(mid, i)
		}
	}
	c.moveTogether(mid, 4+26*c.rng.Float64())
	in := c.measure(0.7)
	in.Impact = []job.ImpactSide{"left", "front-left", "rear-left", "unknown"}[seed%4]
	return c, in
}

// endsAlike moves both ends by the same motion, so that they stay one block: the
// middle has stood.
func endsAlike(seed uint64) (*car, Input) {
	front, mid, rear := 4+int(seed%9), 8+int(seed/9%5), 4+int(seed/45%9)
	c := newCar(front+mid+rear, seed)
	order := c.alongX()
	c.moveTogether(append(slices.Clone(order[:front]), order[front+mid:]...), 4+26*c.rng.Float64())
	in := c.measure(0.7)
	in.Impact = []job.ImpactSide{"front", "rear", "unknown"}[seed%3]
	return c, in
}

func patchwork(seed uint64) (*car, Input) {
	n := 18 + int(seed%20)
	c := newCar(n, seed)
	rear := c.alongX()[n-9:]
	c.rng.Shuffle(len(rear), func(i, j int) { rear[i], rear[j] = rear[j], rear[i] })
	c.moveTogether(rear[:6+int(seed%3)], 4+26*c.rng.Float64())
	in := c.measure(0.7)
	in.Impact = "rear"
	return c, in
}

// inTwo is a measurement in three set-ups that overlap in a few points.
func (c *car) inThree(shared int, std func() float64) Input {
	n := len(c.at)
	in, order := Input{Points: c.measure(1).Points, Impact: "rear"}, c.alongX()
	for k := range 3 {
		m := geom.Rigid{R: geom.FromRotationVector(c.gauss()), T: c.gauss().Scale(900)}
		for rank, i := range order {
			if rank >= k*n/3-shared && rank < (k+1)*n/3+shared {
				s := std()
				in.Readings = append(in.Readings, xyz(fmt.Sprint("S", k+1), in.Points[i].ID, m.Apply(c.at[i].Add(c.shift[i])).Add(c.gauss().Scale(s)), s))
			}
		}
	}
	return in
}

func mixedAndLinked(seed uint64) (*car, Input) {
	c := newCar(18+int(seed%20), seed)
	if seed%2 == 1 {
		c.moveRear(0.35, 5+float64(seed%30))
	}
	return c, c.inThree(2+int(seed%2), func() float64 { return 0.2 + 1.8*math.Pow(c.rng.Float64(), 3) })
}

func flat(seed uint64) (*car, Input) {
	c := newCar(12+int(seed%25), seed)
	for i := range c.at {
		if c.at[i][2] = 300; seed%2 == 1 {
			c.at[i][1] = 20 * c.rng.NormFloat64()
		}
	}
	if seed%4 > 1 {
		c.moveRear(0.35, 4+float64(seed%30))
	}
	in := c.measure(0.7)
	in.Impact = []job.ImpactSide{"rear", "unknown"}[seed%2]
	return c, in
}

func pairs(seed uint64) (*car, Input) {
	n := 14 + 2*int(seed%12)
	c := newCar(n, seed)
	for i := 1; i < n; i += 2 {
		c.at[i] = c.at[i-1].Add(c.gauss().Unit())
	}
	for i := 2; i < n; i += 4 { // every second pair on the other side
		c.at[i][1], c.at[min(i+1, n-1)][1] = -c.at[i][1], -c.at[min(i+1, n-1)][1]
	}
	switch seed % 3 {
	case 0:
		c.moveRear(0.35, 4+float64(seed%30))
	case 1:
		c.moveAlone(2, 8)
	}
	in := c.measure(0.7)
	in.Impact = "rear"
	return c, in
}

// knocked is measured in two set-ups; the device of the second was knocked after
// half of its readings, some of the points that both have are misread, and three points
// are read again at the end.
func knocked(seed uint64) (*car, Input) {
	n := 18 + int(seed%20)
	c := newCar(n, seed)
	one := c.measure(0.5)
	in := Input{Points: one.Points, Impact: "rear"}
	order := c.alongX()
	m := geom.Rigid{R: geom.FromRotationVector(c.gauss()), T: c.gauss().Scale(900)}
	by := c.gauss().Unit().Scale(1 + 9*c.rng.Float64())
	for rank, i := range order {
		if rank < n/2+3 {
			in.Readings = append(in.Readings, one.Readings[i])
		}
		if rank < n/2-3 {
			continue
		}
		q := m.Apply(c.at[i]).Add(c.gauss().Scale(0.5))
		if rank >= n*3/4 {
			q = q.Add(by)
		}
		if rank < n/2+3 && c.rng.IntN(6) < int(seed%3) {
			q = q.Add(c.gauss().Scale(8))
		}
		in.Readings = append(in.Readings, xyz("S2", in.Points[i].ID, q, 0.5))
	}
	for _, i := range order[n/2 : n/2+3] {
		in.Readings = append(in.Readings, xyz("S2", in.Points[i].ID, m.Apply(c.at[i]).Add(by).Add(c.gauss().Scale(0.5)), 0.5))
	}
	return c, in
}

func halfSpread(seed uint64) (*car, Input) {
	c, in := withSpread(seed, true)
	for i := range in.Points {
		if c.rng.IntN(2) == 0 {
			in.Points[i].Std = unit.Maybe[float64]{}
		}
	}
	return c, in
}

// stretched has one coordinate of the device in another unit, or a scale along it
// that is off.
func stretched(seed uint64) (*car, Input) {
	c := newCar(14+int(seed%25), seed)
	if seed%2 == 1 {
		c.moveRear(0.35, 4+float64(seed%30))
	}
	in := c.measure(0.7)
	in.Impact = "rear"
	axis, by := int(seed/2%3), []float64{1 / 25.4, 10, 1.01, 1.003, 0.999, 0.996}[seed/6%6]
	for i := range in.Readings {
		rd := &in.Readings[i]
		*[]*float64{&rd.X.Value, &rd.Y.Value, &rd.Z.Value}[axis] *= by
	}
	return c, in
}

// mirroredAxis writes one coordinate with the wrong sign: of every reading, or of
// those of one half.
func mirroredAxis(seed uint64) (*car, Input) {
	c := newCar(14+int(seed%25), seed)
	if seed%2 == 1 {
		c.moveRear(0.35, 4+float64(seed%30))
	}
	in := c.measure(0.7)
	in.Impact = "rear"
	for i := range in.Readings {
		if rd := &in.Readings[i]; seed%4 < 2 || c.at[i][0] > 2200 {
			v := []*float64{&rd.X.Value, &rd.Y.Value, &rd.Z.Value}[seed/4%3]
			*v = -*v
		}
	}
	return c, in
}

// warm is a body of aluminium 20 K warmer, or colder, than its nominal places are
// for, with a temperature written down that says otherwise.
func warm(seed uint64) (*car, Input) {
	c := newCar(14+int(seed%25), seed)
	if seed%2 == 1 {
		c.moveRear(0.35, 4+float64(seed%30))
	}
	moved := slices.Clone(c.shift)
	grow := 23e-6 * []float64{20, -20}[seed/2%2]
	for i := range c.shift {
		c.shift[i] = c.shift[i].Add(c.at[i].Add(c.shift[i]).Scale(grow))
	}
	in := c.measure([]float64{0.7, 0.2}[seed/4%2])
	c.shift = moved
	in.Impact = "rear"
	return c, in
}

func swappedAtBorder(seed uint64) (*car, Input) {
	n := 14 + int(seed%25)
	c := newCar(n, seed)
	k := 6 + c.rng.IntN(n/2-6)
	order := c.alongX()
	c.moveTogether(order[n-k:], 3+27*c.rng.Float64())
	in := c.measure(0.7)
	in.Impact = "rear"
	i, j := order[n-k-1-int(seed%2)], order[n-k+int(seed/2%2)]
	in.Readings[i].From, in.Readings[j].From = in.Readings[j].From, in.Readings[i].From
	return c, in
}

// drifting goes off by up to some millimetres from the first reading to the last, in
// one direction, evenly or at once; then three points are read again at the end.
func drifting(seed uint64) (*car, Input) {
	c := newCar(14+int(seed%25), seed)
	if seed%2 == 1 {
		c.moveRear(0.35, 4+float64(seed%30))
	}
	in := c.measure(0.7)
	in.Impact = "rear"
	by := c.gauss().Unit().Scale(3 + 6*c.rng.Float64())
	for k := range in.Readings {
		share := float64(k) / float64(len(in.Readings))
		if seed/2%2 == 1 {
			share = math.Round(share)
		}
		rd := &in.Readings[k]
		rd.X.Value, rd.Y.Value, rd.Z.Value = rd.X.Value+share*by[0], rd.Y.Value+share*by[1], rd.Z.Value+share*by[2]
	}
	if seed/2%2 == 1 {
		for _, rd := range in.Readings[:3] {
			g := by.Add(c.gauss().Scale(0.7))
			rd.X.Value, rd.Y.Value, rd.Z.Value = rd.X.Value+g[0], rd.Y.Value+g[1], rd.Z.Value+g[2]
			in.Readings = append(in.Readings, rd)
		}
	}
	return c, in
}
