package geom

import "math"

// Misfit is a sum of squares with its degrees of freedom.
type Misfit struct {
	Chi2 float64
	DOF  int
}

// Scatter is the misfit of a split within its blocks, and with the points outside
// them whose misfit against the nearest block is at most apart.
func (x *Matcher) Scatter(part *Partition, apart float64) (inside, all Misfit) {
	least := x.leastMisfits(part)
	var held Set
	for k := range part.Blocks {
		inside.Chi2 += part.Blocks[k].Fit.Chi2
		inside.DOF += part.Blocks[k].Fit.DOF
		held.Join(&part.Blocks[k].Set)
	}
	all = inside
	for i, v := range least {
		if !held.Has(i) && v <= apart {
			all.Chi2 += v
			all.DOF += 3
		}
	}
	return inside, all
}

// leastMisfits is r' W r of every point against the block it fits best.
func (x *Matcher) leastMisfits(part *Partition) []float64 {
	least, v := make([]float64, x.Len()), make([]float64, x.Len())
	for i := range least {
		least[i] = math.Inf(1)
	}
	for k := range part.Blocks {
		for i, w := range x.plain(&part.Blocks[k].Fit, v) {
			least[i] = math.Min(least[i], w)
		}
	}
	return least
}

// MedianScatter is the median misfit of the points in blocks over that of
// chi-square, raised for the parameters of the blocks, and how many they are.
func (x *Matcher) MedianScatter(part *Partition) (factor float64, n int) {
	var in []float64
	least := x.leastMisfits(part)
	dof := 0
	for k := range part.Blocks {
		for _, i := range part.Blocks[k].Set.Members() {
			in = append(in, least[i])
		}
		dof += part.Blocks[k].Fit.DOF
	}
	if len(in) == 0 {
		return 0, 0
	}
	return median(in) / medianChi3 * float64(3*len(in)) / float64(dof), len(in)
}
