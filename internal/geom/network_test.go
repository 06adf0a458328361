package geom

import (
	"errors"
	"math"
	"math/rand"
	"testing"
)

// exampleNetwork is a constructed network of six points with coordinates (1.0
// mm), tram lengths (0.5 mm), height differences (0.4 mm) and left/right rows
// (1.5 mm). The length BL-CR was made 6 mm too long.
func exampleNetwork() (*Network, map[string]int) {
	names := []string{"AL", "AR", "BL", "BR", "CL", "CR"}
	at := []Vec{{0.4, -600.7, 199.2}, {-0.6, 599.1, 200.9}, {1500.8, -549.3, 350.5}, {1499.2, 550.9, 349.6}, {3000.3, -699.2, 249.1}, {2999.5, 700.8, 250.6}}
	id := map[string]int{}
	nw := &Network{}
	for i, p := range at {
		id[names[i]] = i
		nw.Points = append(nw.Points, NetPoint{At: p})
		for k := 0; k < 3; k++ {
			nw.Obs = append(nw.Obs, NetObs{Kind: NetCoordinate, Pose: -1, A: i, Axis: k, Value: p[k], Std: 1})
		}
	}
	for _, l := range []struct {
		a, b string
		v    float64
	}{
		{"AL", "AR", 1200.3}, {"BL", "BR", 1099.6}, {"CL", "CR", 1400.2}, {"AL", "BL", 1508.0}, {"AR", "BR", 1508.8},
		{"BL", "CL", 1510.9}, {"BR", "CR", 1510.6}, {"AL", "BR", 1896.4}, {"AR", "BL", 1895.9}, {"BL", "CR", 1961.1}, {"BR", "CL", 1955.3},
	} {
		nw.Obs = append(nw.Obs, NetObs{Kind: NetLength, Pose: -1, A: id[l.a], B: id[l.b], Value: l.v, Std: 0.5})
	}
	for _, h := range []struct {
		a, b string
		v    float64
	}{{"BL", "AL", 150.3}, {"CL", "BL", -99.6}, {"BR", "AR", 149.5}, {"CR", "BR", -100.4}} {
		nw.Obs = append(nw.Obs, NetObs{Kind: NetHeight, Pose: -1, A: id[h.a], B: id[h.b], Axis: 2, Value: h.v, Std: 0.4})
	}
	for i := 0; i < 6; i += 2 {
		for _, axis := range []int{0, 2} {
			nw.Obs = append(nw.Obs, NetObs{Kind: NetMirror, Pose: -1, A: i + 1, B: i, Axis: axis, Sign: -1, Std: 1.5})
		}
	}
	return nw, id
}

// Source: constructed; vtpv, w, redundancy and coordinates recomputed with
// scipy.optimize.least_squares; 46.80 is the 99.9 % point of chi-square with
// 21 degrees of freedom.
func TestNetworkFindsTheGrossError(t *testing.T) {
	nw, id := exampleNetwork()
	r, err := nw.Adjust()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "vtpv", r.VtPV, 62.824, 5e-4)
	if r.DOF != 21 || len(nw.Obs) != 39 {
		t.Errorf("dof %d of %d rows, want 21 of 39", r.DOF, len(nw.Obs))
	}
	const first = 18 // lengths start here
	for _, c := range []struct {
		name   string
		row    int
		w      float64
		digits float64
	}{{"BL-CR", 9, 7.583, 5e-4}, {"BR-CR", 6, 4.682, 5e-4}, {"BL-BR", 1, 4.025, 5e-4}, {"CL-CR", 2, 3.977, 5e-4}} {
		near(t, "|w| of "+c.name, math.Abs(r.Rows[first+c.row].W), c.w, c.digits)
	}
	bad := r.Rows[first+9]
	near(t, "redundancy", bad.Redundancy, 0.353, 5e-4)
	near(t, "detectable", math.Sqrt(Noncentrality1(0.001, 0.8))*0.5/math.Sqrt(bad.Redundancy), 3.48, 5e-3)
	near(t, "estimated error", -bad.Residual/bad.Redundancy, 6.38, 5e-3)
	sum := 0.0
	for _, row := range r.Rows {
		sum += row.Redundancy
	}
	near(t, "sum of redundancy numbers", sum, 21, 1e-9)

	nw.Obs = append(nw.Obs[:first+9:first+9], nw.Obs[first+10:]...)
	r, err = nw.Adjust()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "vtpv without it", r.VtPV, 5.3149, 5e-5)
	worst := 0.0
	for _, row := range r.Rows {
		worst = math.Max(worst, math.Abs(row.W))
	}
	near(t, "largest |w| without it", worst, 1.146, 5e-4)
	for k, want := range []float64{0.4405, -600.8052, 199.5280} {
		near(t, "AL", r.Points[id["AL"]][k], want, 5e-5)
	}
	for k, want := range []float64{2999.6134, 700.8832, 249.8483} {
		near(t, "CR", r.Points[id["CR"]][k], want, 5e-5)
	}
}

// Lengths alone: inner constraints give the form; its trace is the smallest of
// all datums and the lengths are met. Constructed, exact lengths.
func TestFreeNetworkFromLengths(t *testing.T) {
	full, _ := exampleNetwork()
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
