package geom

import (
	"fmt"
	"math"
	"math/rand"
	"strings"
	"testing"

	"fettle/internal/diag"
)

// Source: Umeyama, Least-squares estimation of transformation parameters
// between two point patterns, IEEE PAMI 13(4), 1991 (its example, from memory);
// the rigid solution recomputed with numpy. A fit without the determinant
// factor returns a reflection here.
func TestUmeyamaExample(t *testing.T) {
	x := []Vec{{0, 0, 0}, {1, 0, 0}, {0, 2, 0}}
	y := []Vec{{0, 0, 0}, {-1, 0, 0}, {0, 2, 0}}
	f, ok := planar(x, y)
	if !ok {
		t.Fatal("refused")
	}
	want := Mat3{{0.832050, 0.554700, 0}, {-0.554700, 0.832050, 0}, {0, 0, 1}}
	for i := range want {
		for j := range want[i] {
			near(t, "rotation", f.Motion.R[i][j], want[i][j], 5e-7)
		}
	}
	near(t, "det", f.Motion.R.Det(), 1, 1e-14)
	near(t, "tx", f.Motion.T[0], -0.980484, 5e-7)
	near(t, "ty", f.Motion.T[1], 0.296867, 5e-7)
	near(t, "mean squared residual", f.SS/3, 0.619755, 5e-7)
	near(t, "scale", f.Scale, 0.721110, 5e-7)
}

// planar keeps a fit of points in the plane z = 0 in that plane, as the
// example is two-dimensional: heavy twins above and below every point add the
// same to both sets.
func planar(x, y []Vec) (Fit, bool) {
	var a, b []Vec
	for i := range x {
		for _, h := range []float64{-10, 10} {
			a, b = append(a, x[i].Add(Vec{0, 0, h})), append(b, y[i].Add(Vec{0, 0, h}))
		}
	}
	f, err := FitRigid(a, b, nil)
	if err != nil {
		return f, false
	}
	// Undo what the twins do to the sums: half the squares, no heights.
	f.SS /= 2
	s := sumSets(x, y, nil)
	f.Scale = f.Motion.R.Transpose().Mul(s.c).Trace() / s.aa
	return f, true
}

// In three dimensions the example is a half turn about y without residuals,
// not a reflection. Constructed, exact.
func TestUmeyamaExampleInSpace(t *testing.T) {
	x := []Vec{{0, 0, 0}, {1, 0, 0}, {0, 2, 0}}
	y := []Vec{{0, 0, 0}, {-1, 0, 0}, {0, 2, 0}}
	f, err := FitRigid(x, y, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "det", f.Motion.R.Det(), 1, 1e-14)
	near(t, "residual", f.SS, 0, 1e-14)
	near(t, "half turn", RotationVector(f.Motion.R).Norm(), math.Pi, 1e-12)
}

// Source: Ghilani and Wolf, Adjustment Computations, chapter 18 (data of the
// three-dimensional conformal transformation; in metres). The similarity has
// scale 0.94995694; a rigid fit leaves residuals up to 63.8 m (recomputed with
// SciPy), so the scale has to show.
func TestConformalExampleShowsItsScale(t *testing.T) {
	c := readConformal(t)
	from, to, w := c.from, c.to, c.want["unit"]
	f, err := FitRigid(from, to, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "scale", f.Scale, w[0], 5.1e-9)
	worst := 0.0
	for i := range from {
		for _, v := range to[i].Sub(f.Motion.Apply(from[i])) {
			worst = math.Max(worst, math.Abs(v))
		}
	}
	near(t, "largest residual in a coordinate", worst, 63.8, 0.05)
	// Rotation of the similarity fit: the same matrix. Angles of the book,
	// R = R3(kappa) R2(phi) R1(omega), X = S R' x + T.
	r := book(dms(w[1:4]), -dms(w[4:7]), dms(w[7:10]))
	for i := 0; i < 3; i++ {
		for j := 0; j < 3; j++ {
			near(t, "rotation", f.Motion.R[i][j], r[j][i], 5e-8)
		}
	}
	// The similarity's own translation follows from the same sums.
	tr := f.Motion.Apply(f.Centroid).Sub(f.Motion.R.MulVec(f.Centroid).Scale(f.Scale))
	for k, want := range w[10:13] {
		near(t, "translation of the similarity", tr[k], want, 5e-5)
	}
}

func book(omega, phi, kappa float64) Mat3 {
	d := math.Pi / 180
	so, co := math.Sincos(omega * d)
	sp, cp := math.Sincos(phi * d)
	sk, ck := math.Sincos(kappa * d)
	r1 := Mat3{{1, 0, 0}, {0, co, so}, {0, -so, co}}
	r2 := Mat3{{cp, 0, -sp}, {0, 1, 0}, {sp, 0, cp}}
	r3 := Mat3{{ck, sk, 0}, {-sk, ck, 0}, {0, 0, 1}}
	return r3.Mul(r2).Mul(r1)
}

func TestFitRefuses(t *testing.T) {
	line := []Vec{{0, 0, 0}, {1000, 10, 0}, {2000, 20, 0}, {3000, 30, 0}}
	bent := []Vec{{0, 0, 0}, {1000, 10, 0}, {2000, 20, 0}, {3000, 32, 0}}
	for _, c := range []struct {
		name     string
		from, to []Vec
		w        []float64
		says     string
	}{
		{"collinear", line, line, nil, "ratio of singular values"},
		{"nearly collinear", bent, bent, nil, "ratio of singular values"},
		{"two points", line[:2], line[:2], nil, "at least 3"},
		{"one place", []Vec{{1, 1, 1}, {1, 1, 1}, {1, 1, 1}}, line[:3], nil, "ratio of singular values"},
		{"lengths", line, line[:3], nil, "4 and 3 points"},
		{"NaN", []Vec{{math.NaN(), 0, 0}, {0, 1, 0}, {1, 0, 0}}, line[:3], nil, "not finite"},
		{"negative weight", line, line, []float64{1, 1, -1, 1}, "weight 3"},
		{"no weight at all", line, line, []float64{0, 0, 0, 0}, "ratio of singular values"},
	} {
		_, err := FitRigid(c.from, c.to, c.w)
		if err == nil || diag.KindOf(err) != diag.Invalid || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want a refusal with %q", c.name, err, c.says)
		}
	}
}

// Law: exact motions of any size come back exactly. Seed in the name.
func TestFitFindsExactMotionSeed7(t *testing.T) {
	rng := rand.New(rand.NewSource(7))
	for trial := 0; trial < 500; trial++ {
		m := randomMotion(rng)
		from := cloud(rng, 3+trial%20)
		to := make([]Vec, len(from))
		for i := range from {
			to[i] = m.Apply(from[i])
		}
		f, err := FitRigid(from, to, nil)
		if err != nil {
			t.Fatalf("trial %d: %v", trial, err)
		}
		for i := range from {
			near(t, fmt.Sprintf("trial %d residual", trial), f.Motion.Apply(from[i]).Dist(to[i]), 0, 2e-11)
		}
		near(t, "det", f.Motion.R.Det(), 1, 1e-13)
		near(t, "scale", f.Scale, 1, 1e-12)
	}
}

// Law: a reflected set never gives a reflection.
func TestFitNeverReflectsSeed8(t *testing.T) {
	rng := rand.New(rand.NewSource(8))
	for trial := 0; trial < 500; trial++ {
		from := cloud(rng, 4+trial%9)
		to := make([]Vec, len(from))
		for i, p := range from {
			to[i] = Vec{p[0], -p[1], p[2]}
		}
		f, err := FitRigid(from, to, nil)
		if err == nil && f.Motion.R.Det() < 0.999 {
			t.Fatalf("trial %d: determinant %v", trial, f.Motion.R.Det())
		}
	}
}

// Laws: the motion is unchanged by reordering; moving the target set along
// composes with the fit. Seed in the name.
func TestFitLawsSeed9(t *testing.T) {
	rng := rand.New(rand.NewSource(9))
	for trial := 0; trial < 200; trial++ {
		from, to, a, b := noisy(rng, 4+trial%20)
		f, err := FitRigidCov(from, to, a, b)
		if err != nil {
			t.Fatal(err)
		}
		perm := rng.Perm(len(from))
		pf, pt, pa, pb := make([]Vec, len(from)), make([]Vec, len(from)), make([]Mat3, len(from)), make([]Mat3, len(from))
		for i, k := range perm {
			pf[i], pt[i], pa[i], pb[i] = from[k], to[k], a[k], b[k]
		}
		g, err := FitRigidCov(pf, pt, pa, pb)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "chi2 after reordering", g.Chi2, f.Chi2, 1e-9*(1+f.Chi2))
		m := randomMotion(rng)
		for i := range to {
			pt[i], pf[i], pa[i], pb[i] = m.Apply(to[i]), from[i], a[i], b[i].Turn(m.R)
		}
		h, err := FitRigidCov(pf, pt, pa, pb)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "chi2 after moving", h.Chi2, f.Chi2, 1e-8*(1+f.Chi2))
		for i := range from {
			near(t, "moved along", h.Motion.Apply(from[i]).Dist(m.Apply(f.Motion.Apply(from[i]))), 0, 1e-9)
		}
	}
}

// The statistics must be true: over many draws chi2 has mean dof, the shifts of
// points left out of the fit have the covariance stated, and so have those of
// points in it. Seed in the name.
func TestFitCovarianceIsTrueSeed10(t *testing.T) {
	rng := rand.New(rand.NewSource(10))
	const n, draws = 8, 4000
	p := cloud(rng, n)
	m := randomMotion(rng)
	a, b := make([]Mat3, n), make([]Mat3, n)
	la, lb := make([]Mat3, n), make([]Mat3, n)
	for i := range p {
		a[i] = Isotropic(0.3)
		b[i] = randomCov(rng, 0.7)
		la[i], _ = Chol3(a[i])
		lb[i], _ = Chol3(b[i])
	}
	var chi, tUsed, tFree float64
	from, to := make([]Vec, n), make([]Vec, n)
	var ws Workspace
	for k := 0; k < draws; k++ {
		for i := range p {
			from[i] = p[i].Add(la[i].MulVec(gauss3(rng)))
			to[i] = m.Apply(p[i]).Add(lb[i].MulVec(gauss3(rng)))
		}
		f, err := ws.FitRigidCov(from[:n-1], to[:n-1], a[:n-1], b[:n-1])
		if err != nil {
			t.Fatal(err)
		}
		chi += f.Chi2
		tUsed += t2(f.Shift(from[0], to[0], a[0], b[0], true))
		tFree += t2(f.Shift(from[n-1], to[n-1], a[n-1], b[n-1], false))
	}
	// A chi-square with k degrees of freedom has variance 2k: 4 sigma bands.
	for _, c := range []struct {
		name string
		sum  float64
		dof  float64
	}{{"chi2", chi, 3*(n-1) - 6}, {"used point", tUsed, 3}, {"free point", tFree, 3}} {
		near(t, "mean of "+c.name, c.sum/draws, c.dof, 4*math.Sqrt(2*c.dof/draws))
	}
}

// Fast against plain: the eigenvector by Newton's method and by rotations, on
// noisy, exact, flat and nearly collinear sets. Seed in the name.
func TestEigenvectorTwoWaysSeed12(t *testing.T) {
	rng := rand.New(rand.NewSource(12))
	fell := 0
	for trial := 0; trial < 2000; trial++ {
		from, m := cloud(rng, 3+trial%7), randomMotion(rng)
		to := make([]Vec, len(from))
		for i := range from {
			if trial%4 == 1 {
				from[i][2] = 0
			}
			if trial%4 == 2 {
				from[i][1], from[i][2] = 8*rng.Float64(), 8*rng.Float64()
			}
			to[i] = m.Apply(from[i])
			if trial%3 != 0 {
				to[i] = to[i].Add(gauss3(rng))
			}
		}
		s := sumSets(from, to, nil)
		fast := polishRotation(fromQuaternion(hornQuaternion(s.c, (s.aa+s.bb)/2)), s.c)
		n := hornMatrix(&s.c)
		if _, ok := newtonEigenvector4(&n, &s.c, (s.aa+s.bb)/2); !ok {
			fell++
		}
		plain := polishRotation(fromQuaternion(largestEigenvector4(n)), s.c)
		for k := range fast {
			near(t, fmt.Sprintf("trial %d", trial), fast[k].Dist(plain[k]), 0, 1e-9)
		}
	}
	if fell > 1200 {
		t.Errorf("%d of 2000 fell back to the slow way", fell)
	}
	t.Logf("%d of 2000 fell back", fell)
}

func t2(d Vec, c Mat3) float64 { v, _ := Mahalanobis(d, c); return v }

func gauss3(rng *rand.Rand) Vec {
	return Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
}

func randomMotion(rng *rand.Rand) Rigid {
	return Rigid{R: FromRotationVector(gauss3(rng).Unit().Scale(rng.Float64() * math.Pi)), T: gauss3(rng).Scale(500)}
}

func randomCov(rng *rand.Rand, std float64) Mat3 {
	s := Vec{std * (0.5 + rng.Float64()), std * (0.5 + rng.Float64()), 2 * std}
	return Diag3(Vec{s[0] * s[0], s[1] * s[1], s[2] * s[2]}).Turn(randomMotion(rng).R)
}

func cloud(rng *rand.Rand, n int) []Vec {
	p := make([]Vec, n)
	for i := range p {
		p[i] = Vec{rng.Float64() * 4500, rng.Float64()*1600 - 800, rng.Float64() * 700}
	}
	return p
}

func noisy(rng *rand.Rand, n int) (from, to []Vec, a, b []Mat3) {
	from, m := cloud(rng, n), randomMotion(rng)
	for _, p := range from {
		to = append(to, m.Apply(p).Add(gauss3(rng)))
		a, b = append(a, Isotropic(0.2)), append(b, randomCov(rng, 1))
	}
	return from, to, a, b
}

func BenchmarkFitRigid(b *testing.B) {
	for _, n := range []int{20, 100000} {
		rng := rand.New(rand.NewSource(1))
		from, to, _, _ := noisy(rng, n)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				if _, err := FitRigid(from, to, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkFitRigidCov(b *testing.B) {
	rng := rand.New(rand.NewSource(1))
	from, to, ca, cb := noisy(rng, 20)
	var ws Workspace
	for b.Loop() {
		if _, err := ws.FitRigidCov(from, to, ca, cb); err != nil {
			b.Fatal(err)
		}
	}
}
