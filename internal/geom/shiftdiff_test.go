package geom

import (
	"math"
	"math/rand"
	"testing"
)

// The covariances of shifts, and those between the shifts of two points, are what the propagation
// of the errors of all readings gives, with derivatives by differences: of points that took part in
// the fit, of points that did not, and of one of each.
func TestShiftCovariancesByDifferences(t *testing.T) {
	rng := rand.New(rand.NewSource(61))
	const fitted, n = 6, 8 // the last two take no part
	from, m := cloud(rng, n), randomMotion(rng)
	to, a, b := make([]Vec, n), make([]Mat3, n), make([]Mat3, n)
	for i, p := range from {
		to[i], a[i], b[i] = m.Apply(p), randomCov(rng, 0.3), randomCov(rng, 0.8)
	}
	shifts := func() (CovFit, []float64) {
		f, err := FitRigidCov(from[:fitted], to[:fitted], a[:fitted], b[:fitted])
		if err != nil {
			t.Fatal(err)
		}
		var out []float64
		for i := range from {
			d, _ := f.Shift(from[i], to[i], a[i], b[i], i < fitted)
			out = append(out, d[:]...)
		}
		return f, out
	}
	f, _ := shifts()
	const h = 1e-3
	var cov [3 * n][3 * n]float64
	for j := range to {
		var d [3][3 * n]float64
		was := to[j]
		for k := range 3 {
			to[j][k] = was[k] + h
			_, up := shifts()
			to[j][k] = was[k] - h
			_, down := shifts()
			to[j] = was
			for i := range up {
				d[k][i] = (up[i] - down[i]) / (2 * h)
			}
		}
		own := a[j].Turn(f.Motion.R).Add(b[j]) // an error of from is one of to, turned
		for r := range cov {
			for c := range cov {
				for k := range 3 {
					for l := range 3 {
						cov[r][c] += d[k][r] * own[k][l] * d[l][c]
					}
				}
			}
		}
	}
	for i := range n {
		for j := range n {
			var got Mat3
			if i == j {
				_, got = f.Shift(from[i], to[i], a[i], b[i], i < fitted)
			} else {
				got = f.ShiftCross(from[i], from[j], i < fitted, j < fitted)
			}
			for r := range 3 {
				for c := range 3 {
					near(t, "covariance", got[r][c], cov[3*i+r][3*j+c], 1e-6)
				}
			}
		}
	}
	p := f.PredictCov(from[7])
	cross := MotionCross(f.Pose, f.Motion.R.MulVec(from[7].Sub(f.Centroid)), f.Motion.R.MulVec(from[7].Sub(f.Centroid)))
	for k := range p {
		near(t, "of one arm", p[k].Dist(cross[k]), 0, 1e-12)
	}
}

// Covariances that are multiples of the unit matrix are a special case, taken by a shorter way. An
// entry beside the diagonal too small to change a digit sends the same points the general way: both
// say the same.
func TestGeneralWayMeetsTheScalarOne(t *testing.T) {
	for seed := uint64(1); seed <= 2; seed++ {
		m, part := threeParts([3]int{9, 8, 6}, seed)
		for i := range m.CovFrom {
			m.CovFrom[i], m.CovTo[i] = Isotropic(0.2*float64(i%3)), Isotropic(0.6+0.1*float64(i%4))
		}
		scalar, err := NewMatcher(m)
		if err != nil {
			t.Fatal(err)
		}
		m.CovTo = append([]Mat3(nil), m.CovTo...)
		m.CovTo[0][0][1], m.CovTo[0][1][0] = 1e-300, 1e-300
		general, err := NewMatcher(m)
		if err != nil || general.isotropic || !scalar.isotropic {
			t.Fatalf("%v; ways %v and %v", err, general.isotropic, scalar.isotropic)
		}
		for k := range part {
			want, err := scalar.Evaluate(part[k])
			if err != nil {
				t.Fatal(err)
			}
			got, err := general.Evaluate(part[k])
			if err != nil {
				t.Fatal(err)
			}
			near(t, "misfit", got.Fit.Chi2, want.Fit.Chi2, 1e-8*want.Fit.Chi2)
			near(t, "score", got.Score, want.Score, 1e-8*want.Score)
			p, q := general.plain(&got.Fit, make([]float64, general.Len())), scalar.plain(&want.Fit, make([]float64, scalar.Len()))
			for i := range got.T {
				near(t, "misfit of a point", got.T[i], want.T[i], 1e-7*(1+want.T[i]))
				near(t, "plain misfit", p[i], q[i], 1e-8*(1+q[i]))
				d, c := general.Shift(&got.Fit, i, part[k].Has(i))
				e, o := scalar.Shift(&want.Fit, i, part[k].Has(i))
				near(t, "shift", d.Dist(e), 0, 1e-9)
				near(t, "its covariance", c.Sub(o).MulVec(Vec{1, 2, 3}).Norm(), 0, 1e-9)
				own := general.Own(i)
				near(t, "own", own[1][1], m.CovFrom[i][1][1]+m.CovTo[i][1][1], 0)
			}
		}
		a, b := scalar.Partitions(4, 1), general.Partitions(4, 1)
		if len(a.Partitions) != len(b.Partitions) || a.Triples != b.Triples {
			t.Fatalf("seed %d: %d and %d splits, %d and %d triples", seed, len(a.Partitions), len(b.Partitions), a.Triples, b.Triples)
		}
		for k := range a.Partitions {
			near(t, "cost", b.Partitions[k].BIC, a.Partitions[k].BIC, 1e-6)
			for i := range a.Partitions[k].Blocks {
				if a.Partitions[k].Blocks[i].Set != b.Partitions[k].Blocks[i].Set {
					t.Errorf("seed %d: split %d has other blocks", seed, k)
				}
			}
		}
	}
}

// Every entry makes a matrix more than a multiple of the unit matrix.
func TestScalarMatrices(t *testing.T) {
	if !scalar(Isotropic(2)) || !scalar(Mat3{}) {
		t.Error("a multiple of the unit matrix is none")
	}
	for i := range 3 {
		for j := range 3 {
			m := Isotropic(2)
			m[i][j] += 0.1
			if scalar(m) {
				t.Errorf("%v is a multiple of the unit matrix", m)
			}
		}
	}
}

// The scatter of a split from its definition: the squares of what is left within the blocks, then
// also of the points in none, each against the block it fits best, where that is at most the limit.
// The median of all in blocks over that of chi-square with 3 degrees of freedom, 2.36597, is raised
// by the parameters.
func TestScatterFromItsDefinition(t *testing.T) {
	m, part := threeParts([3]int{9, 10, 8}, 3)
	x, err := NewMatcher(m)
	if err != nil {
		t.Fatal(err)
	}
	m.To[4] = m.To[4].Add(Vec{0, 40, 0}) // apart from all blocks
	var p Partition
	for k := range part {
		set := part[k]
		if k == 0 {
			set.Drop(4)
			set.Drop(3)
		}
		b, err := x.Evaluate(set)
		if err != nil {
			t.Fatal(err)
		}
		p.Blocks = append(p.Blocks, b)
	}
	misfit := func(k, i int) float64 {
		d := m.To[i].Sub(p.Blocks[k].Fit.Motion.Apply(m.From[i]))
		return d.Dot(d) / (0.7 * 0.7)
	}
	least := func(i int) float64 { return min(misfit(0, i), misfit(1, i), misfit(2, i)) }
	limit := func(i int) float64 { // to the last digit
		v := math.Inf(1)
		for k := range p.Blocks {
			v = min(v, x.plain(&p.Blocks[k].Fit, make([]float64, x.Len()))[i])
		}
		return v
	}
	inside, dof := 0.0, 0
	var middle []float64
	for k := range p.Blocks {
		for _, i := range p.Blocks[k].Set.Members() {
			inside += misfit(k, i)
			middle = append(middle, least(i))
		}
		dof += 3*p.Blocks[k].Set.Len() - 6
	}
	for _, c := range []struct {
		apart float64
		with  []int
	}{{limit(3), []int{3}}, {limit(3) - 1e-6, nil}, {limit(4), []int{3, 4}}} {
		in, all := x.Scatter(&p, c.apart)
		near(t, "within blocks", in.Chi2, inside, 1e-8)
		want := inside
		for _, i := range c.with {
			want += least(i)
		}
		if near(t, "with those beside", all.Chi2, want, 1e-7); in.DOF != dof || all.DOF != dof+3*len(c.with) {
			t.Errorf("up to %g: %d and %d degrees of freedom, want %d and %d", c.apart, in.DOF, all.DOF, dof, dof+3*len(c.with))
		}
	}
	f, n := x.MedianScatter(&p)
	if want := median(middle) / 2.365973884375338 * float64(3*len(middle)) / float64(dof); n != 25 || math.Abs(f-want) > 1e-9 {
		t.Errorf("factor %g of %d points, want %g of 25", f, n, want)
	}
	if f, n := x.MedianScatter(&Partition{}); f != 0 || n != 0 {
		t.Errorf("of no blocks: %g of %d", f, n)
	}
	three, err := x.Evaluate(SetOf(10, 12, 15)) // nine coordinates, six parameters
	if err != nil {
		t.Fatal(err)
	}
	if _, n := x.MedianScatter(&Partition{Blocks: []Block{three}}); n != 3 {
		t.Errorf("of three points: %d", n)
	}
}
