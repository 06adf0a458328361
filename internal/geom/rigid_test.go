package geom

import (
	"math"
	"math/rand"
	"testing"
)

// Laws: a motion after its inverse is no motion; rotation vectors survive the
// way through the matrix, also near a half turn. Seed in the name.
func TestRigidLawsSeed3(t *testing.T) {
	rng := rand.New(rand.NewSource(3))
	for trial := 0; trial < 1000; trial++ {
		m, k := randomMotion(rng), randomMotion(rng)
		p := gauss3(rng).Scale(2000)
		near(t, "inverse", m.Inverse().Apply(m.Apply(p)).Dist(p), 0, 1e-11)
		near(t, "apply inverse", m.ApplyInverse(m.Apply(p)).Dist(p), 0, 1e-11)
		near(t, "compose", m.Compose(k).Apply(p).Dist(m.Apply(k.Apply(p))), 0, 1e-11)
		w := gauss3(rng).Unit().Scale([]float64{1e-9, 1e-5, 0.3, 2, math.Pi - 1e-7}[trial%5])
		near(t, "rotation vector", RotationVector(FromRotationVector(w)).Dist(w), 0, 1e-13*(1+w.Norm()))
	}
	near(t, "half turn", RotationVector(FromRotationVector(Vec{0, math.Pi, 0})).Norm(), math.Pi, 1e-15)
}

// Law: eigenvectors of a symmetric matrix rebuild it. Seed in the name.
func TestSymEigenRebuildsSeed4(t *testing.T) {
	rng := rand.New(rand.NewSource(4))
	for trial := 0; trial < 500; trial++ {
		m := randomCov(rng, 1)
		if trial%3 == 0 {
			m = Isotropic(2)
		}
		w, v := SymEigen(m)
		back := Diag3(w).Turn(v)
		for i := 0; i < 3; i++ {
			near(t, "element", back[i].Dist(m[i]), 0, 1e-13*w[0])
		}
		near(t, "det", v.Det(), 1, 1e-13)
		if w[0] < w[1] || w[1] < w[2] {
			t.Fatalf("not sorted: %v", w)
		}
		d := gauss3(rng)
		inv, _ := m.Inverse()
		got, ok := Mahalanobis(d, m)
		if !ok {
			t.Fatal("refused a covariance")
		}
		near(t, "Mahalanobis", got, d.Dot(inv.MulVec(d)), 1e-10*(1+got))
	}
	if _, ok := Chol3(Diag3(Vec{1, -1, 1})); ok {
		t.Error("an indefinite matrix has no Cholesky factor")
	}
}

func TestFinite(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		for k := 0; k < 3; k++ {
			p := Vec{1, -2, math.MaxFloat64}
			if !p.Finite() {
				t.Fatal("a finite vector is refused")
			}
			p[k] = v
			if p.Finite() {
				t.Errorf("%v counts as finite", p)
			}
		}
	}
}
