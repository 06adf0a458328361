package geom

import (
	"math"
	"math/rand"
	"os"
	"strconv"
	"strings"
	"testing"
)

// Source: NIST Statistical Reference Datasets; see the files. Tolerance as
// their first line says.
func TestLeastSquaresNIST(t *testing.T) {
	models := map[string]func(x float64, b, d []float64) float64{
		"nist-misra1a.txt": func(x float64, b, d []float64) float64 {
			e := math.Exp(-b[1] * x)
			d[0], d[1] = 1-e, b[0]*x*e
			return b[0] * (1 - e)
		},
		"nist-thurber.txt": func(x float64, b, d []float64) float64 {
			x2, x3 := x*x, x*x*x
			num, den := b[0]+b[1]*x+b[2]*x2+b[3]*x3, 1+b[4]*x+b[5]*x2+b[6]*x3
			for k, v := range []float64{1, x, x2, x3} {
				d[k] = v / den
			}
			for k, v := range []float64{x, x2, x3} {
				d[4+k] = -num / den / den * v
			}
			return num / den
		},
	}
	for name, model := range models {
		t.Run(name, func(t *testing.T) {
			y, x, starts, want := readNIST(t, "testdata/"+name)
			for _, start := range starts {
				f := func(b, r, jac []float64) {
					n := len(b)
					for i := range x {
						r[i] = model(x[i], b, jac[i*n:(i+1)*n]) - y[i]
					}
				}
				s, err := LeastSquares(f, start, len(x))
				if err != nil {
					t.Fatal(err)
				}
				near(t, "rss", s.SS, want["rss"][0], 1e-6*want["rss"][0])
				for k, b := range want["b"] {
					near(t, "parameter", s.X[k], b, 1e-6*math.Abs(b))
					near(t, "its sd", s.Std(k), want["sd"][k], 1e-6*want["sd"][k])
				}
			}
		})
	}
}

func readNIST(t *testing.T, path string) (y, x []float64, starts [][]float64, want map[string][]float64) {
	t.Helper()
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	head, tail, _ := strings.Cut(string(raw), "\n----\n")
	parse := func(f []string) []float64 {
		v := make([]float64, len(f))
		for i := range f {
			if v[i], err = strconv.ParseFloat(f[i], 64); err != nil {
				t.Fatal(err)
			}
		}
		return v
	}
	for _, line := range strings.Split(head, "\n")[1:] {
		f := strings.Fields(line)
		switch {
		case strings.HasPrefix(line, "#"):
		case f[0] == "start":
			starts = append(starts, parse(f[1:]))
		default:
			v := parse(f)
			y, x = append(y, v[0]), append(x, v[1])
		}
	}
	want = map[string][]float64{}
	for _, line := range strings.Split(strings.TrimSpace(tail), "\n") {
		f := strings.Fields(line)
		want[f[0]] = parse(f[1:])
	}
	return y, x, starts, want
}

// Source: Gander, Golub and Strebel, Least-squares fitting of circles and
// ellipses, BIT 34 (1994), example of six points (from memory); residual norm
// and the algebraic circle recomputed with numpy.
func TestCircleOfSixPoints(t *testing.T) {
	u, v := []float64{1, 2, 5, 7, 9, 3}, []float64{7, 6, 8, 7, 5, 7}
	k, err := kasa(u, v)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{4.742331, 3.835123, 4.108762} {
		near(t, "algebraic circle", k[i], want, 5e-7)
	}
	c, err := FitCircle(u, v)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "x", c.X, 4.739782, 5e-7)
	near(t, "y", c.Y, 2.983533, 5e-7)
	near(t, "r", c.R, 4.714226, 5e-7)
	near(t, "residual norm", math.Sqrt(c.SS), 1.107971, 5e-7)
}

// The statistics of a hole must be true: over many draws the centre's error
// has the covariance stated. Seed in the name.
func TestHoleCovarianceIsTrueSeed13(t *testing.T) {
	rng := rand.New(rand.NewSource(13))
	m := randomMotion(rng)
	const std, radius, draws = 0.05, 12.0, 3000
	sum, chi, rad := 0.0, 0.0, 0.0
	rim := make([]Vec, 8)
	for k := 0; k < draws; k++ {
		for i := range rim {
			s, c := math.Sincos(4.5 * float64(i) / 7) // three quarters of the rim
			rim[i] = m.Apply(Vec{radius * c, radius * s, 0}).Add(gauss3(rng).Scale(std))
		}
		h, err := FitHole(rim, std)
		if err != nil {
			t.Fatal(err)
		}
		v, ok := Mahalanobis(h.Centre.Sub(m.T), h.Cov)
		if !ok {
			t.Fatal("no covariance")
		}
		sum, chi = sum+v, chi+h.Chi2
		rad += (h.Radius - radius) * (h.Radius - radius) / (h.RadiusStd * h.RadiusStd)
		near(t, "arc", h.Arc, 4.5, 0.05)
	}
	near(t, "mean of the centre's test value", sum/draws, 3, 4*math.Sqrt(6./draws))
	near(t, "mean of chi2", chi/draws, 10, 4*math.Sqrt(20./draws))
	near(t, "mean of the radius' test value", rad/draws, 1, 4*math.Sqrt(2./draws))
}

func TestHoleRefuses(t *testing.T) {
	line := []Vec{{0, 0, 0}, {1, 0, 0}, {2, 0, 0}, {3, 0, 0}}
	for _, c := range []struct {
		name string
		rim  []Vec
		std  float64
	}{{"line", line, 0.1}, {"two points", line[:2], 0.1}, {"no uncertainty", []Vec{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}}, 0}, {"NaN", []Vec{{math.NaN(), 0, 0}, {1, 0, 0}, {0, 1, 0}}, 1}} {
		if _, err := FitHole(c.rim, c.std); err == nil {
			t.Errorf("%s: accepted", c.name)
		}
	}
	if _, err := LeastSquares(func(x, r, jac []float64) { r[0], jac[0], jac[1] = 1, 1, 1; r[1], jac[2], jac[3] = 2, 1, 1 }, []float64{0, 0}, 2); err == nil {
		t.Error("two unknowns that only appear as a sum: accepted")
	}
}
