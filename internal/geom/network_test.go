package geom

import (
	"errors"
	"math"
	"math/rand"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// exampleNetwork reads testdata/network-gross-error.txt. rows tells where each
// observation of two points is.
func exampleNetwork(t *testing.T) (nw *Network, id map[string]int, rows map[string]int, want map[string][]float64) {
	t.Helper()
	raw, err := os.ReadFile("testdata/network-gross-error.txt")
	if err != nil {
		t.Fatal(err)
	}
	head, tail, _ := strings.Cut(string(raw), "\n----\n")
	nw, id, rows, want = &Network{}, map[string]int{}, map[string]int{}, map[string][]float64{}
	for _, line := range strings.Split(head, "\n")[1:] {
		f := strings.Fields(line)
		if strings.HasPrefix(line, "#") {
			continue
		}
		v := floats(t, f[len(f)-1:])[0]
		std := map[string]float64{"at": 1, "length": 0.5, "height": 0.4, "mirror": 1.5}[f[0]]
		switch f[0] {
		case "at":
			p := floats(t, f[2:])
			id[f[1]] = len(nw.Points)
			nw.Points = append(nw.Points, NetPoint{At: Vec{p[0], p[1], p[2]}})
			for k := 0; k < 3; k++ {
				nw.Obs = append(nw.Obs, NetObs{Kind: NetCoordinate, Pose: -1, A: id[f[1]], Axis: k, Value: p[k], Std: std})
			}
		case "length", "height":
			kind, axis := NetLength, 0
			if f[0] == "height" {
				kind, axis = NetHeight, 2
			}
			rows[f[1]+"-"+f[2]] = len(nw.Obs)
			nw.Obs = append(nw.Obs, NetObs{Kind: kind, Pose: -1, A: id[f[1]], B: id[f[2]], Axis: axis, Value: v, Std: std})
		case "mirror":
			for _, axis := range []int{0, 2} {
				nw.Obs = append(nw.Obs, NetObs{Kind: NetMirror, Pose: -1, A: id[f[1]], B: id[f[2]], Axis: axis, Sign: -1, Value: v, Std: std})
			}
		}
	}
	for _, line := range strings.Split(strings.TrimSpace(tail), "\n") {
		f := strings.Fields(line)
		want[f[0]] = floats(t, f[1:])
	}
	return nw, id, rows, want
}

func floats(t *testing.T, f []string) []float64 {
	t.Helper()
	v := make([]float64, len(f))
	for i := range f {
		var err error
		if v[i], err = strconv.ParseFloat(f[i], 64); err != nil {
			t.Fatal(err)
		}
	}
	return v
}

// Source: see the file. Tolerances are half a unit of the last digit there.
func TestNetworkFindsTheGrossError(t *testing.T) {
	nw, id, rows, want := exampleNetwork(t)
	r, err := nw.Adjust()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "vtpv", r.VtPV, want["vtpv"][0], 5e-4)
	if r.DOF != 21 || len(nw.Obs) != 39 {
		t.Errorf("dof %d of %d rows, want 21 of 39", r.DOF, len(nw.Obs))
	}
	for name, row := range rows {
		if w := want["w:"+name]; w != nil {
			near(t, "|w| of "+name, math.Abs(r.Rows[row].W), w[0], 5e-4)
		} else if math.Abs(r.Rows[row].W) > want["others"][0] {
			t.Errorf("|w| of %s = %.3f", name, r.Rows[row].W)
		}
	}
	bad := r.Rows[rows["BL-CR"]]
	near(t, "redundancy", bad.Redundancy, want["redundancy"][0], 5e-4)
	near(t, "detectable", math.Sqrt(Noncentrality1(0.001, 0.8))*0.5/math.Sqrt(bad.Redundancy), want["detectable"][0], 5e-3)
	near(t, "estimated error", -bad.Residual/bad.Redundancy, want["error"][0], 5e-3)
	sum := 0.0
	for _, row := range r.Rows {
		sum += row.Redundancy
	}
	near(t, "sum of redundancy numbers", sum, 21, 1e-9)
	withoutGrossError(t, nw, rows["BL-CR"], id, want)
}

func withoutGrossError(t *testing.T, nw *Network, bad int, id map[string]int, want map[string][]float64) {
	t.Helper()
	nw.Obs = append(nw.Obs[:bad:bad], nw.Obs[bad+1:]...)
	r, err := nw.Adjust()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "vtpv without it", r.VtPV, want["then-vtpv"][0], 5e-5)
	worst := 0.0
	for _, row := range r.Rows {
		worst = math.Max(worst, math.Abs(row.W))
	}
	near(t, "largest |w| without it", worst, want["then-w"][0], 5e-4)
	for _, name := range []string{"AL", "CR"} {
		for k, v := range want["then-at:"+name] {
			near(t, name, r.Points[id[name]][k], v, 5e-5)
		}
	}
}

// Lengths alone: inner constraints give the form; its trace is the smallest of
// all datums and the lengths are met. Constructed, exact lengths.
func TestFreeNetworkFromLengths(t *testing.T) {
	full, _, _, _ := exampleNetwork(t)
	rng := rand.New(rand.NewSource(5))
	truth := make([]Vec, len(full.Points))
	for i := range truth {
		truth[i] = full.Points[i].At
		full.Points[i].At = truth[i].Add(gauss3(rng).Scale(4))
	}
	full.Obs, full.Free = nil, true
	for i := range truth {
		for j := 0; j < i; j++ {
			full.Obs = append(full.Obs, NetObs{Kind: NetLength, A: i, B: j, Pose: -1, Value: truth[i].Dist(truth[j]), Std: 0.5})
		}
	}
	r, err := full.Adjust()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "vtpv", r.VtPV, 0, 1e-15)
	if r.Steps < 2 {
		t.Errorf("%d steps from 4 mm off", r.Steps)
	}
	there := *full
	there.Points = slices.Clone(full.Points)
	for i := range truth {
		there.Points[i].At = truth[i]
	}
	if r, err := there.Adjust(); err != nil || r.Steps != 1 {
		t.Errorf("begun where it ends: %v, %+v, want one step", err, r)
	}
	if r.DOF != 15-18+6 {
		t.Errorf("dof %d, want 3", r.DOF)
	}
	var shift, turn Vec
	for i := range truth {
		d := r.Points[i].Sub(full.Points[i].At)
		shift, turn = shift.Add(d), turn.Add(full.Points[i].At.Cross(d))
	}
	near(t, "mean movement", shift.Norm(), 0, 1e-6)
	near(t, "mean turn", turn.Norm()/1e6, 0, 1e-4) // the constraint holds at the last point of linearisation
	full.Free = false
	if _, err := full.Adjust(); !asUndetermined(err) {
		t.Errorf("without a datum: %v, want an undetermined unknown", err)
	}
}

func asUndetermined(err error) bool { var u *Undetermined; return errors.As(err, &u) }

// The rigid fit is a network with one pose and fixed points: both must agree.
// Seed in the name.
func TestNetworkMeetsRigidFitSeed6(t *testing.T) {
	rng := rand.New(rand.NewSource(6))
	for trial := 0; trial < 50; trial++ {
		from, m := cloud(rng, 6+trial%6), randomMotion(rng)
		nw := &Network{}
		to, ca, cb := make([]Vec, len(from)), make([]Mat3, len(from)), make([]Mat3, len(from))
		for i := range from {
			s := Vec{0.4, 0.5, 0.9}
			cb[i] = Diag3(Vec{s[0] * s[0], s[1] * s[1], s[2] * s[2]})
			if trial%2 == 0 {
				ca[i] = Isotropic(0.3)
			}
			g := gauss3(rng)
			to[i] = m.Apply(from[i]).Add(Vec{s[0] * g[0], s[1] * g[1], s[2] * g[2]})
			nw.Points = append(nw.Points, NetPoint{At: from[i], Fixed: trial%2 != 0})
			for k := 0; k < 3; k++ {
				nw.Obs = append(nw.Obs, NetObs{Kind: NetCoordinate, Pose: 0, A: i, Axis: k, Value: to[i][k], Std: s[k]})
				if trial%2 == 0 {
					nw.Obs = append(nw.Obs, NetObs{Kind: NetCoordinate, Pose: -1, A: i, Axis: k, Value: from[i][k], Std: 0.3})
				}
			}
		}
		f, err := FitRigidCov(from, to, ca, cb)
		if err != nil {
			t.Fatal(err)
		}
		nw.Poses = []NetPose{{Motion: Rigid{R: FromRotationVector(gauss3(rng).Scale(0.01)).Mul(f.Motion.R), T: f.Motion.T.Add(gauss3(rng))}}}
		r, err := nw.Adjust()
		if err != nil {
			t.Fatal(err)
		}
		near(t, "chi2", r.VtPV, f.Chi2, 1e-9*(1+f.Chi2))
		for i := range from {
			near(t, "image", r.Poses[0].Apply(from[i]).Dist(f.Motion.Apply(from[i])), 0, 2e-8)
		}
		compareShift(t, nw, r, &f, from, to, ca, cb)
	}
}

func compareShift(t *testing.T, nw *Network, r *NetResult, f *CovFit, from, to []Vec, ca, cb []Mat3) {
	t.Helper()
	d, cov := f.Shift(from[1], to[1], ca[1], cb[1], true)
	var rows, prior []int
	for i, o := range nw.Obs {
		if o.A == 1 && o.Pose == 0 {
			rows = append(rows, i)
		} else if o.A == 1 {
			prior = append(prior, i)
		}
	}
	got, c, ok := r.Replace(nw, 1, rows, prior, from[1])
	if !ok {
		t.Fatal("the readings of a point must fix it")
	}
	near(t, "shift", got.Dist(d), 0, 1e-7)
	for k := range cov {
		// The network takes the lever arms at the adjusted points, the fit at
		// the nominal ones: about 1 mm in 1000.
		near(t, "covariance", c[k].Dist(cov[k]), 0, 2e-4)
	}
}
