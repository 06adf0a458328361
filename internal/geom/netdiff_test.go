package geom

import (
	"errors"
	"math"
	"math/rand"
	"strings"
	"testing"

	"fettle/internal/diag"
)

// mixedNetwork is a network with every kind of observation: three set-ups of six points, of which
// the first of both is fixed, coordinates along axes and along given directions, lengths, heights in the frame of a
// set-up and in that of the points, and mirrored pairs; with so many times the errors stated. Constructed.
func mixedNetwork(seed int64, errors float64) *Network {
	rng := rand.New(rand.NewSource(seed))
	at := cloud(rng, 6)
	nw := &Network{Poses: []NetPose{{Motion: Still(), Fixed: true}, {Motion: randomMotion(rng)}, {Motion: randomMotion(rng)}}}
	add := func(o NetObs, truth float64) {
		o.Value = truth + float64(errors*o.Std*rng.NormFloat64())
		nw.Obs = append(nw.Obs, o)
	}
	for i, p := range at {
		nw.Points = append(nw.Points, NetPoint{At: p, Fixed: i == 0})
		for pose, m := range nw.Poses {
			turn := randomMotion(rng).R
			for k := range p {
				o := NetObs{Kind: NetCoordinate, Pose: pose, A: i, Axis: k, Std: 0.3 + 0.2*float64(k)}
				if truth := m.Motion.Apply(p); (i+pose)%3 == 0 {
					o.Axis, o.Dir = 0, turn[k]
					add(o, truth.Dot(turn[k]))
				} else {
					add(o, truth[k])
				}
			}
		}
	}
	for k, pair := range [][2]int{{0, 1}, {2, 5}, {3, 1}, {5, 4}} {
		a, b := at[pair[0]], at[pair[1]]
		add(NetObs{Kind: NetLength, Pose: -1, A: pair[0], B: pair[1], Std: 0.4}, a.Dist(b))
		m := nw.Poses[1].Motion
		add(NetObs{Kind: NetHeight, Pose: 1, A: pair[0], B: pair[1], Axis: k % 3, Std: 0.5}, m.Apply(a)[k%3]-m.Apply(b)[k%3])
		add(NetObs{Kind: NetHeight, Pose: -1, A: pair[0], B: pair[1], Axis: 2, Std: 0.5}, a[2]-b[2])
		sign := float64(1 - 2*(k%2))
		add(NetObs{Kind: NetMirror, Pose: -1, A: pair[1], B: pair[0], Axis: (k + 1) % 3, Sign: sign, Std: 0.6}, at[pair[1]][(k+1)%3]+sign*at[pair[0]][(k+1)%3])
	}
	return nw
}

func adjusted(t *testing.T, nw *Network) *NetResult {
	t.Helper()
	r, err := nw.Adjust()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// by is the derivative of f by every observation, by differences of a thousandth of it.
func by(t *testing.T, nw *Network, f func(r *NetResult) []float64) [][]float64 {
	t.Helper()
	out := make([][]float64, len(nw.Obs))
	for i := range nw.Obs {
		h, was := 1e-3*nw.Obs[i].Std, nw.Obs[i].Value
		nw.Obs[i].Value = was + h
		up := f(adjusted(t, nw))
		nw.Obs[i].Value = was - h
		down := f(adjusted(t, nw))
		nw.Obs[i].Value = was
		for k := range up {
			out[i] = append(out[i], (up[k]-down[k])/(2*h))
		}
	}
	return out
}

// The derivatives of every kind of observation are those that differences give: an unknown is
// moved by a little, and what is left of the observation changes by so much.
func TestRowsAreTheirDerivatives(t *testing.T) {
	nw := mixedNetwork(51, 1)
	s, err := nw.start()
	if err != nil {
		t.Fatal(err)
	}
	for i := range nw.Obs {
		row := nw.row(s, &nw.Obs[i])
		dense := make([]float64, s.q.n)
		for k := range row.n {
			dense[row.idx[k]] += row.val[k]
		}
		for k, want := range dense {
			const h = 1e-4
			var l [2]float64
			for way, sign := range []float64{1, -1} {
				b := make([]float64, s.q.n)
				b[k] = sign * h
				moved := *s
				moved.Points, moved.Poses = append([]Vec(nil), s.Points...), append([]Rigid(nil), s.Poses...)
				moved.move(b, 1)
				l[way] = nw.row(&moved, &nw.Obs[i]).l
			}
			if got := (l[1] - l[0]) / (2 * h); math.Abs(got-want) > 1e-5*(1+math.Abs(want)) {
				t.Errorf("observation %d, %+v: derivative by unknown %d is %g, by differences %g", i, nw.Obs[i], k, want, got)
			}
		}
	}
}

// The covariances are those that the propagation of the errors of all observations gives, with
// derivatives by differences: of a point, between points, of a pose; what is fixed has none. The redundancy number of a row
// is by how much its residual follows its own observation, w the residual over its standard
// deviation, which is that of what is observed by the root of it.
func TestNetworkCovariancesByDifferences(t *testing.T) {
	nw := mixedNetwork(52, 0) // without errors what is left does not bend the derivatives
	s := adjusted(t, nw)
	unknowns := func(r *NetResult) (out []float64) {
		for _, p := range r.Points {
			out = append(out, p[:]...)
		}
		for k, m := range r.Poses {
			d := m.Apply(r.Centres[k]).Sub(s.Poses[k].Apply(r.Centres[k]))
			w := RotationVector(m.R.Mul(s.Poses[k].R.Transpose()))
			out = append(append(out, d[:]...), w[:]...)
		}
		for _, row := range r.Rows {
			out = append(out, row.Residual)
		}
		return out
	}
	d := by(t, nw, unknowns)
	cov := func(i, j int) float64 {
		sum := 0.0
		for k := range nw.Obs {
			sum += nw.Obs[k].Std * nw.Obs[k].Std * d[k][i] * d[k][j]
		}
		return sum
	}
	points := len(nw.Points)
	for a := range points {
		for b := range points {
			got := s.PointCov(a, b)
			for i := range 3 {
				for j := range 3 {
					if want := cov(3*a+i, 3*b+j); math.Abs(got[i][j]-want) > 1e-5*(math.Abs(want)+0.01) {
						t.Errorf("points %d and %d, %d %d: %g, by differences %g", a, b, i, j, got[i][j], want)
					}
				}
			}
		}
	}
	for k := range nw.Poses {
		got := s.PoseCov(k)
		for i := range 6 {
			for j := range 6 {
				want, size := cov(3*points+6*k+i, 3*points+6*k+j), math.Sqrt(got[i][i]*got[j][j])
				if math.Abs(got[i][j]-want) > 1e-4*size+1e-15 {
					t.Errorf("pose %d, %d %d: %g, by differences %g", k, i, j, got[i][j], want)
				}
			}
		}
	}
	if s.PoseCov(1) == (Mat6{}) || s.PoseCov(0) != (Mat6{}) || s.PointCov(0, 1) != (Mat3{}) {
		t.Error("what is fixed has a covariance, or what is not has none")
	}
	for i := range nw.Obs {
		got := s.Rows[i]
		if want := -d[i][6*len(nw.Poses)+3*points+i]; math.Abs(got.Redundancy-want) > 1e-5 {
			t.Errorf("row %d: redundancy %g, by differences %g", i, got.Redundancy, want)
		}
	}
	if want := len(nw.Obs) - 5*3 - 2*6; s.DOF != want {
		t.Errorf("%d degrees of freedom, want %d", s.DOF, want)
	}
	nw = mixedNetwork(52, 1)
	s = adjusted(t, nw)
	sum := 0.0
	for i, row := range s.Rows {
		near(t, "w", row.W, row.Residual/(nw.Obs[i].Std*math.Sqrt(row.Redundancy)), 1e-6*(1+math.Abs(row.W)))
		sum += row.Residual * row.Residual / (nw.Obs[i].Std * nw.Obs[i].Std)
	}
	near(t, "sum of squares", s.VtPV, sum, 1e-9*sum)
}

// What a point's own observations alone leave open is the covariance of a network in which it is
// the only unknown; two directions do not fix it. What an adjustment with two points in place of
// one gives is what Untie says beforehand; of rows that are all there is of a point it says
// nothing.
func TestOwnAndUntieByAnotherAdjustment(t *testing.T) {
	nw := mixedNetwork(53, 0.01)
	s := adjusted(t, nw)
	for p := range nw.Points {
		var rows, all []int
		for i, o := range nw.Obs {
			if o.A == p || o.Kind != NetCoordinate && o.B == p {
				if all = append(all, i); o.Pose == 1 || o.Kind == NetLength {
					rows = append(rows, i)
				}
			}
		}
		alone, apart := &Network{}, &Network{Points: append([]NetPoint(nil), nw.Points...), Poses: nw.Poses, Obs: append([]NetObs(nil), nw.Obs...)}
		for i := range nw.Points {
			alone.Points = append(alone.Points, NetPoint{At: s.Points[i], Fixed: i != p})
		}
		for k := range nw.Poses {
			alone.Poses = append(alone.Poses, NetPose{Motion: s.Poses[k], Fixed: true})
		}
		twin := len(apart.Points)
		apart.Points = append(apart.Points, NetPoint{At: s.Points[p]})
		for _, i := range rows {
			o := nw.Obs[i]
			o.Value -= float64(o.Std * s.jac[i].l) // as adjusted, so that the point stays
			alone.Obs = append(alone.Obs, o)
			o = nw.Obs[i]
			if o.A == p {
				o.A = twin
			} else {
				o.B = twin
			}
			apart.Obs[i] = o
		}
		want := adjusted(t, alone).PointCov(p, p)
		got := s.OwnCov(nw, p, rows)
		for k := range want {
			near(t, "own covariance", got[k].Dist(want[k]), 0, 1e-6)
		}
		if c := s.OwnCov(nw, p, rows[:2]); !math.IsInf(c[0][0], 1) || !math.IsInf(c[2][2], 1) {
			t.Errorf("point %d: two rows leave it %v", p, c)
		}
		d, cov, ok := s.Untie(nw, p, rows)
		if !ok {
			t.Fatalf("point %d: not to be told", p)
		}
		two := adjusted(t, apart)
		near(t, "how far apart", d.Dist(two.Points[twin].Sub(two.Points[p])), 0, 1e-6)
		wide := two.PointCov(p, p).Add(two.PointCov(twin, twin)).Sub(two.PointCov(p, twin)).Sub(two.PointCov(twin, p))
		for k := range wide {
			near(t, "how surely", cov[k].Dist(wide[k]), 0, 1e-4)
		}
		if _, _, ok := s.Untie(nw, p, all); ok && p > 0 {
			t.Errorf("point %d: all its rows are elsewhere than none", p)
		}
		if _, _, ok := s.Untie(nw, p, rows[:2]); ok {
			t.Errorf("point %d: two rows put it elsewhere", p)
		}
		if _, _, ok := s.Replace(nw, p, rows[:2], nil, s.Points[p]); ok {
			t.Errorf("point %d: two rows replace it", p)
		}
	}
}

// What a network does not fix is named by its number, and what is no observation is refused.
func TestNetworkRefuses(t *testing.T) {
	square := func() *Network {
		nw := &Network{}
		for i, p := range []Vec{{0, 0, 0}, {100, 0, 0}, {100, 100, 0}, {0, 100, 50}} {
			nw.Points = append(nw.Points, NetPoint{At: p, Fixed: i < 3})
			for k := range p {
				nw.Obs = append(nw.Obs, NetObs{Kind: NetCoordinate, Pose: -1, A: i, Axis: k, Value: p[k], Std: 1})
			}
		}
		return nw
	}
	for _, c := range []struct {
		name   string
		change func(nw *Network)
		says   string
		u      *Undetermined
	}{
		{"whole", func(*Network) {}, "", nil},
		{"no uncertainty", func(nw *Network) { nw.Obs[1].Std = 0 }, "observation 2 has value 0 and standard uncertainty 0", nil},
		{"infinite uncertainty", func(nw *Network) { nw.Obs[0].Std = math.Inf(1) }, "observation 1 has value 0 and standard uncertainty +Inf", nil},
		{"no number", func(nw *Network) { nw.Obs[2].Value = math.NaN() }, "observation 3 has value NaN", nil},
		{"infinite", func(nw *Network) { nw.Obs[2].Value = math.Inf(-1) }, "observation 3 has value -Inf", nil},
		{"a point with two coordinates", func(nw *Network) { nw.Obs = nw.Obs[:11] }, "the position of point 4 is not determined by the readings", &Undetermined{3, -1}},
		{"the first point free", func(nw *Network) { nw.Points[0].Fixed, nw.Obs = false, nw.Obs[1:] }, "the position of point 1 is not determined", &Undetermined{0, -1}},
		{"a pose of one point", func(nw *Network) {
			nw.Poses = []NetPose{{Motion: Still(), Fixed: true}, {Motion: Still()}}
			for k := range 3 {
				nw.Obs = append(nw.Obs, NetObs{Kind: NetCoordinate, Pose: 1, A: 0, Axis: k, Std: 1})
			}
		}, "the pose of placement 2 is not determined by the readings", &Undetermined{-1, 1}},
		{"the first pose without readings", func(nw *Network) { nw.Poses = []NetPose{{Motion: Still()}} }, "the pose of placement 1 is not determined", &Undetermined{-1, 0}},
		{"free with two points on their own", func(nw *Network) {
			nw.Free = true
			for i := range nw.Points {
				nw.Points[i].Fixed = false
			}
			nw.Obs = []NetObs{{Kind: NetLength, Pose: -1, A: 0, B: 1, Value: 100, Std: 1}}
		}, "is not determined by the readings", &Undetermined{}},
	} {
		nw := square()
		c.change(nw)
		_, err := nw.Adjust()
		if c.says == "" {
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
			}
			continue
		}
		if err == nil || diag.KindOf(err) != diag.Invalid || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", c.name, err, c.says)
		}
		var u *Undetermined
		if is := errors.As(err, &u); is != (c.u != nil) || is && *c.u != (Undetermined{}) && *u != *c.u {
			t.Errorf("%s: %+v, want %+v", c.name, u, c.u)
		}
	}
}

// An orthonormal basis of the motions of a cloud has six, of a line five, of a point three; added
// and taken away again they leave nothing of a movement of the whole.
func TestInnerConstraintsAreOrthonormal(t *testing.T) {
	for want, points := range map[int][]Vec{6: {{0, 0, 0}, {900, 0, 10}, {0, 700, 0}, {50, 60, 500}}, 5: {{0, 0, 0}, {1, 2, 3}, {2, 4, 6}}, 3: {{5, 6, 7}}} {
		nw := &Network{}
		for _, p := range points {
			nw.Points = append(nw.Points, NetPoint{At: p})
		}
		s, err := nw.start()
		if err != nil {
			t.Fatal(err)
		}
		basis := s.inner()
		if len(basis) != want {
			t.Errorf("%d points: %d motions, want %d", len(points), len(basis), want)
		}
		for i, a := range basis {
			for j, b := range basis {
				one := 0.0
				if i == j {
					one = 1
				}
				near(t, "product", dot(a, b), one, 1e-12)
			}
			for p := range points { // a motion keeps the distances to first order
				for q := range points {
					d := points[p].Sub(points[q])
					u := Vec(a[3*p : 3*p+3]).Sub(Vec(a[3*q : 3*q+3]))
					near(t, "stretch", d.Dot(u), 0, 1e-9*(1+d.Dot(d)))
				}
			}
		}
	}
}
