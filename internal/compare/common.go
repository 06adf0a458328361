package compare

import (
	"math"
	"slices"

	"fettle/internal/elem"
	"fettle/internal/normal"
)

// common are the risks and lines of one factor, seen together: how likely each set
// of its risks is to be what turns out bad, and what its lines then are on average.
// The factor is integrated over; what is left of each risk and line is independent.
type common struct {
	risks  []int
	lines  []int
	weight []float64   // by the set of its risks that is bad
	mean   [][]float64 // by that set, of each line
}

const (
	factorReach = 9.0 // of the integral over the factor, in standard deviations
	factorCell  = 0.1 // widest cell, with three nodes each (Gauss and Legendre)
	ownNodes    = 64
)

// node is a value of the factor and its weight.
type node struct{ z, weight float64 }

// nodes are those of the factor for risks: no cell goes across the value at which a risk that
// follows the factor alone turns bad.
func (d *drawing) nodes(risks []int) []node {
	ends := []float64{-factorReach, factorReach}
	for _, k := range risks {
		if z := -normal.Quantile(float64(d.risks[k].Chance)); d.risks[k].Together >= 1 && math.Abs(z) < factorReach {
			ends = append(ends, z)
		}
	}
	slices.Sort(ends)
	var out []node
	sum := 0.0
	for i, a := range ends[:len(ends)-1] {
		n := math.Ceil((ends[i+1] - a) / factorCell)
		half := (ends[i+1] - a) / n / 2
		for c := 0.0; c < n; c++ {
			mid := a + float64((2*c+1)*half)
			for k, at := range []float64{-math.Sqrt(0.6), 0, math.Sqrt(0.6)} {
				z := mid + float64(half*at)
				w := float64(half * []float64{5, 8, 5}[k] / 9 * elem.Exp(-z*z/2))
				out, sum = append(out, node{z, w}), sum+w
			}
		}
	}
	for i := range out {
		out[i].weight /= sum
	}
	return out
}

// midpoints are normal numbers in the middle of cells of equal probability.
func midpoints(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = normal.Quantile((float64(i) + 0.5) / float64(n))
	}
	return out
}

// commons are the factors that some risk goes by.
func (d *drawing) commons() []common {
	var out []common
	for f, name := range d.factors {
		c := common{}
		for k, r := range d.risks {
			if r.Factor == name && r.Together > 0 {
				c.risks = append(c.risks, k)
			}
		}
		if len(c.risks) == 0 {
			continue
		}
		for i, l := range d.lines {
			if slices.ContainsFunc(l.loads, func(x loading) bool { return x.factor == f }) {
				c.lines = append(c.lines, i)
			}
		}
		d.fill(&c, f)
		out = append(out, c)
	}
	return out
}

func (d *drawing) fill(c *common, factor int) {
	sets := 1 << len(c.risks)
	c.weight, c.mean = make([]float64, sets), make([][]float64, sets)
	for s := range sets {
		c.mean[s] = make([]float64, len(c.lines))
	}
	own := midpoints(ownNodes)
	for _, at := range d.nodes(c.risks) {
		z := at.z
		values := make([]float64, len(c.lines))
		for i, l := range c.lines {
			values[i] = d.lines[l].meanAt(factor, z, own)
		}
		for s := range sets {
			p := at.weight
			for i, k := range c.risks {
				bad := d.badAt(k, z)
				if s>>i&1 == 0 {
					bad = 1 - bad
				}
				p *= bad
			}
			c.weight[s] += p
			for i, v := range values {
				c.mean[s][i] += float64(p * v)
			}
		}
	}
	for s := range sets {
		for i := range c.mean[s] {
			if c.weight[s] > 0 {
				c.mean[s][i] /= c.weight[s]
			}
		}
	}
}

// badAt is the chance of a risk where its factor is known.
func (d *drawing) badAt(k int, z float64) float64 {
	rho := float64(d.risks[k].Together)
	gap := float64(math.Sqrt(rho)*z) + normal.Quantile(float64(d.risks[k].Chance))
	if rho >= 1 {
		if gap > 0 {
			return 1
		}
		return 0
	}
	return normal.CDF(gap / math.Sqrt(1-rho))
}

// meanAt is the line's mean where its factor is known.
func (l *line) meanAt(factor int, z float64, own []float64) float64 {
	common := 0.0
	for _, x := range l.loads {
		if x.factor == factor {
			common = float64(x.weight * z)
		}
	}
	sum := 0.0
	for _, e := range own {
		sum += l.at(min(max(common+float64(l.own*e), -reach), reach-1e-9)) / float64(len(own))
	}
	return sum
}

// set is the part of a state that belongs to a factor.
func (c *common) set(state int) int {
	out := 0
	for i, k := range c.risks {
		out |= state >> k & 1 << i
	}
	return out
}
