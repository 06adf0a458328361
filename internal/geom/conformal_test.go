package geom

import (
	"math"
	"os"
	"strings"
	"testing"
)

// conformal is the example of that name.
type conformal struct {
	from, to       []Vec
	covFrom, covTo []Mat3
	want           map[string][]float64
}

func readConformal(t *testing.T) conformal {
	t.Helper()
	raw, err := os.ReadFile("testdata/conformal.txt")
	if err != nil {
		t.Fatal(err)
	}
	c := conformal{want: map[string][]float64{}}
	for _, line := range strings.Split(string(raw), "\n")[1:] {
		f := strings.Fields(line)
		if len(f) < 2 || f[0] == "#" {
			continue
		}
		v := floats(t, f[1:])
		if f[0] != "point" {
			c.want[f[0]] = v
			continue
		}
		vec := func(k int) Vec { return Vec{v[k], v[k+1], v[k+2]} }
		square := func(s Vec) Mat3 { return Diag3(Vec{s[0] * s[0], s[1] * s[1], s[2] * s[2]}) }
		c.from, c.covFrom = append(c.from, vec(0)), append(c.covFrom, square(vec(3)))
		c.to, c.covTo = append(c.to, vec(6)), append(c.covTo, square(vec(9)))
	}
	return c
}

// Source: see the file. The scale is none of a rigid fit's unknowns: the points
// are stretched by S before, and S is where the misclosures no longer lean
// either way along the stretched points. That makes the fit with covariances on
// one or on both sides the general least squares solution of the book.
func TestConformalExampleWithCovariances(t *testing.T) {
	c := readConformal(t)
	for name, share := range map[string]float64{"X-only": 0, "both": 1} {
		lean := func(s float64) (CovFit, float64, float64) {
			var from []Vec
			var cov []Mat3
			for i := range c.from {
				from, cov = append(from, c.from[i].Scale(s)), append(cov, c.covFrom[i].Scale(share*s*s))
			}
			f, err := FitRigidCov(from, c.to, cov, c.covTo)
			if err != nil {
				t.Fatal(err)
			}
			sum, own := 0.0, 0.0
			var b Vec6
			for i := range from {
				w, _ := cov[i].Turn(f.Motion.R).Add(c.covTo[i]).Inverse()
				a := f.Motion.R.MulVec(c.from[i].Sub(f.Centroid.Scale(1 / s)))
				wa := w.MulVec(a)
				sum += wa.Dot(c.to[i].Sub(f.Motion.Apply(from[i])))
				own += wa.Dot(a)
				arm := f.Motion.R.MulVec(from[i].Sub(f.Centroid)).Cross(wa)
				for k := 0; k < 3; k++ {
					b[k] += wa[k]
					b[k+3] += arm[k]
				}
			}
			for k := range b {
				for l := range b {
					own -= b[k] * f.Pose[k][l] * b[l]
				}
			}
			return f, sum, 1 / math.Sqrt(own)
		}
		s0, s1 := 0.9499, 0.9501
		_, g0, _ := lean(s0)
		f, g1, std := lean(s1)
		for i := 0; i < 30 && s1 != s0 && g1 != g0; i++ {
			s0, g0, s1 = s1, g1, s1-g1*(s1-s0)/(g1-g0)
			f, g1, std = lean(s1)
		}
		w := c.want[name]
		digits := map[string]float64{"X-only": 5.1e-9, "both": 1.1e-10}
		near(t, name+" scale", s1, w[0], digits[name])
		r := book(dms(w[1:4]), -dms(w[4:7]), dms(w[7:10]))
		for i := 0; i < 3; i++ { // 0.005 seconds are 2.4e-8
			near(t, name+" rotation", f.Motion.R[i].Dist(r.Transpose()[i]), 0, 6e-8)
		}
		near(t, name+" translation", f.Motion.T.Dist(Vec{w[10], w[11], w[12]}), 0, 9e-4)
		unit := math.Sqrt(f.Chi2 / 5) // 12 equations, 7 unknowns
		near(t, name+" s0", unit, w[13], 5.1e-6)
		if name == "both" {
			near(t, "std of the scale", unit*std, c.want["scale-std"][0], 5.1e-9)
		}
	}
}

func dms(v []float64) float64 { return v[0] + v[1]/60 + v[2]/3600 }
