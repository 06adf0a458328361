package geom

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// areaOf is the area of a triangle.
func areaOf(a, b, c Vec) float64 { return b.Sub(a).Cross(c.Sub(a)).Norm() / 2 }

// The triples that are looked at are all whose three sides changed by at most 4.5 standard
// deviations of their change, whose longest side is at least 0.12 of the size of the cloud, and whose
// area is at least 0.06 of the square of the longest side; those that are drawn are among them, with
// the corners in any order, and none has a corner twice.
func TestTriplesByTheirDefinition(t *testing.T) {
	m, _ := threeParts([3]int{10, 9, 7}, 4)
	for i := range m.CovTo {
		m.CovTo[i] = Isotropic(0.5 + 0.1*float64(i%5))
	}
	rng := rand.New(rand.NewPCG(81, 0)) // some close together, some on one line
	for i := 20; i < 26; i++ {
		m.From[i] = m.From[19].Add(Vec{30 * rng.Float64(), 400 * float64(i-20), 10 * rng.Float64()})
		m.To[i] = m.To[19].Add(m.From[i].Sub(m.From[19])).Add(Vec{0, 2 * rng.Float64(), 0})
	}
	x, err := NewMatcher(m)
	if err != nil {
		t.Fatal(err)
	}
	_, size := Extent(m.From)
	wanted := func(i, j, k int) bool {
		longest := 0.0
		for _, p := range [][2]int{{i, j}, {j, k}, {i, k}} {
			was, is := m.From[p[0]].Dist(m.From[p[1]]), m.To[p[0]].Dist(m.To[p[1]])
			if math.Abs(is-was)/math.Sqrt(m.CovTo[p[0]][0][0]+m.CovTo[p[1]][0][0]) > 4.5 {
				return false
			}
			longest = max(longest, was)
		}
		return longest >= 0.12*size.Norm() && areaOf(m.From[i], m.From[j], m.From[k]) >= 0.06*longest*longest
	}
	want := map[triple]bool{}
	for i := range x.Len() {
		for j := i + 1; j < x.Len(); j++ {
			for k := j + 1; k < x.Len(); k++ {
				if wanted(i, j, k) {
					want[triple{uint16(i), uint16(j), uint16(k)}] = true
				}
			}
		}
	}
	s := newTripleSearch(x)
	s.all()
	got := map[triple]bool{}
	for _, c := range s.triples {
		got[c] = true
	}
	if len(got) != len(s.triples) || len(got) != len(want) || len(want) < 100 || len(want) > 2000 {
		t.Fatalf("%d triples, %d of them different, want %d of 2600", len(s.triples), len(got), len(want))
	}
	for c := range want {
		if !got[c] {
			t.Errorf("%v is not looked at", c)
		}
	}
	d := newTripleSearch(x)
	d.draw(4000, 7)
	hit := map[triple]bool{}
	for _, c := range d.triples {
		if slices.Sort(c[:]); !want[c] {
			t.Fatalf("%v is drawn", c)
		}
		hit[c] = true
	}
	// of n^3 ordered draws each triple has six: the number drawn is binomial
	p := 6 * float64(len(want)) / (26 * 26 * 26)
	if n := float64(len(d.triples)); math.Abs(n-4000*p) > 4*math.Sqrt(4000*p) {
		t.Errorf("%g triples of 4000 draws, expected %.0f", n, 4000*p)
	}
	again := newTripleSearch(x)
	if again.draw(4000, 7); !slices.Equal(again.triples, d.triples) {
		t.Error("the same seed draws other triples")
	}
	again = newTripleSearch(x)
	if again.draw(4000, 8); slices.Equal(again.triples, d.triples) {
		t.Error("another seed draws the same triples")
	}
}

// Of a triple the pose is the rigid motion that lays centre on centre and plane on plane and fits
// best in the plane: on the very corners where they kept their distances, and where they did not, no
// turn in the plane does better.
func TestPoseOfATriple(t *testing.T) {
	m := Matches{}
	rng := rand.New(rand.NewPCG(82, 0))
	frame := Rigid{R: FromRotationVector(Vec{0.4, -1.1, 0.7}), T: Vec{30, 900, -80}}
	for i := range 6 {
		p := Vec{900 * rng.Float64(), 700 * rng.Float64(), 500 * rng.Float64()}
		q := frame.Apply(p)
		if i >= 3 {
			q = q.Add(Vec{5 * rng.NormFloat64(), 5 * rng.NormFloat64(), 5 * rng.NormFloat64()})
		}
		m.From, m.To, m.CovFrom, m.CovTo = append(m.From, p), append(m.To, q), append(m.CovFrom, Mat3{}), append(m.CovTo, Isotropic(1))
	}
	x, err := NewMatcher(m)
	if err != nil {
		t.Fatal(err)
	}
	s := newTripleSearch(x)
	exact := scored{t: triple{0, 1, 2}}
	s.pose(&exact)
	for i := range 3 {
		near(t, "a corner", exact.pose.Apply(m.From[i]).Dist(m.To[i]), 0, 1e-9)
	}
	c := scored{t: triple{3, 4, 5}}
	s.pose(&c)
	near(t, "a rotation", c.pose.R.Mul(c.pose.R.Transpose()).Sub(Identity3()).MulVec(Vec{1, 1, 1}).Norm(), 0, 1e-12)
	near(t, "no reflection", c.pose.R.Det(), 1, 1e-12)
	left := func(r Rigid) (sum float64) {
		for i := 3; i < 6; i++ {
			d := r.Apply(m.From[i]).Sub(m.To[i])
			sum += d.Dot(d)
		}
		return sum
	}
	mid := m.To[3].Add(m.To[4]).Add(m.To[5]).Scale(1. / 3)
	normal := m.To[4].Sub(m.To[3]).Cross(m.To[5].Sub(m.To[3])).Unit()
	near(t, "centre on centre", c.pose.Apply(m.From[3].Add(m.From[4]).Add(m.From[5]).Scale(1./3)).Dist(mid), 0, 1e-9)
	for i := 3; i < 6; i++ {
		near(t, "plane on plane", c.pose.Apply(m.From[i]).Sub(mid).Dot(normal), 0, 1e-9)
	}
	for _, turn := range []float64{-1e-3, 1e-3} {
		r := FromRotationVector(normal.Scale(turn))
		other := Rigid{R: r.Mul(c.pose.R), T: r.MulVec(c.pose.T.Sub(mid)).Add(mid)}
		if left(other) <= left(c.pose) {
			t.Errorf("turned by %g it fits better: %g, %g", turn, left(other), left(c.pose))
		}
	}
}

// The leverage of a triangle is what its uncertain pose adds to a point: the mean variance per
// coordinate, by the normal matrix of three corners with unit noise. The score of a triple bounds
// what each point adds by 11.345 times one more than that, and its inliers are the points below
// that bound, the corners besides.
func TestScoreOfATripleByItsDefinition(t *testing.T) {
	m, _ := threeParts([3]int{8, 7, 6}, 5)
	for i := range m.CovTo {
		m.CovTo[i] = Isotropic(0.5 + 0.1*float64(i%5))
	}
	x, err := NewMatcher(m)
	if err != nil {
		t.Fatal(err)
	}
	s := newTripleSearch(x)
	s.all()
	for at := 0; at < len(s.triples); at += 1 + len(s.triples)/40 {
		c := scored{t: s.triples[at]}
		s.pose(&c)
		var from []Vec
		var n Mat6
		mid := Vec{}
		for _, i := range c.t {
			from = append(from, m.From[i])
			mid = mid.Add(m.From[i].Scale(1. / 3))
		}
		for _, p := range from {
			var g Vec6
			addNormals(&n, &g, p.Sub(mid), Identity3(), Vec{})
		}
		for a := range n {
			for b := range a {
				n[b][a] = n[a][b]
			}
		}
		l, ok := Chol6(&n)
		if !ok {
			t.Fatal("no pose")
		}
		cov := l.InvertChol()
		sum := 0.0
		var inside Set
		for i, p := range m.From {
			w := 1 / m.CovTo[i][0][0]
			d := m.To[i].Sub(c.pose.Apply(p))
			bound := 11.345 * (1 + MotionCov(cov, p.Sub(mid)).Trace()/3)
			near(t, "leverage", s.x.weight[i], w, 1e-9)
			if v := w * d.Dot(d); v <= bound {
				inside.Put(i)
				sum += v
			} else {
				sum += bound
			}
		}
		for _, i := range c.t {
			inside.Put(int(i))
		}
		if !s.score(&c, math.Inf(1)) || math.Abs(c.score-sum) > 1e-6*sum {
			t.Errorf("%v: score %g, by its definition %g", c.t, c.score, sum)
		}
		if whole := c.score; s.score(&c, whole) || !s.score(&c, whole*(1+1e-12)) {
			t.Errorf("%v: given up at the wrong score", c.t)
		}
		if got := s.inliers(&c); got != inside {
			t.Errorf("%v: inliers %v, want %v", c.t, got.Members(), inside.Members())
		}
	}
}

// The best triples of a pass are the least of all scores, in order; with each, that of every point
// is the least of the triples it is in; triples that share two points with a block before are left out.
func TestBestTriplesOfAPass(t *testing.T) {
	x := cloud30(t)
	s := newTripleSearch(x)
	s.all()
	for _, before := range [][]Block{nil, {{Set: SetOf(0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11)}}} {
		var all []float64
		of := make([]float64, x.Len())
		for i := range of {
			of[i] = math.Inf(1)
		}
		for _, c := range s.triples {
			if before != nil {
				n := 0
				for _, i := range c {
					if i < 12 {
						n++
					}
				}
				if n > 1 {
					continue
				}
			}
			one := scored{t: c}
			s.pose(&one)
			s.score(&one, math.Inf(1))
			all = append(all, one.score)
			for _, i := range c {
				of[i] = min(of[i], one.score)
			}
		}
		slices.Sort(all)
		for _, each := range []bool{false, true} {
			s.collect(before, each)
			if len(s.best) != perPass {
				t.Fatalf("%d triples, want %d", len(s.best), perPass)
			}
			for k, c := range s.best {
				near(t, "score", c.score, all[k], 1e-9)
			}
		}
		for i, c := range s.perOne {
			if math.Abs(c.score-of[i]) > 1e-9 || !slices.Contains(c.t[:], uint16(i)) {
				t.Errorf("point %d: %v with %g, want %g", i, c.t, c.score, of[i])
			}
		}
	}
	if got := s.without(&Set{}); got.Len() != x.Len() {
		t.Errorf("without none %d points", got.Len())
	}
	held := SetOf(0, 3, 29)
	if got := s.without(&held); got.Len() != 27 || got.Common(&held) != 0 {
		t.Errorf("without three %v", got.Members())
	}
}
