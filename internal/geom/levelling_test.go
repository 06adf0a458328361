package geom

import (
	"math"
	"os"
	"strings"
	"testing"
)

// level is a line of height differences of the levelling example.
type level struct {
	from, to string
	mm       [2]float64 // both epochs
	std      float64    // of unit weight 1 mm
}

// readLevelling reads the example; want has the expected lines by their first
// one or two words.
func readLevelling(t *testing.T) (lines []level, points []string, want map[string][]float64) {
	t.Helper()
	raw, err := os.ReadFile("testdata/levelling-two-epochs.txt")
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	want = map[string][]float64{}
	for _, line := range strings.Split(string(raw), "\n")[1:] {
		f := strings.Fields(line)
		switch {
		case len(f) < 2 || f[0] == "#":
		case f[0] == "diff":
			v := floats(t, f[3:])
			lines = append(lines, level{f[1], f[2], [2]float64{1000 * v[0], 1000 * v[1]}, math.Sqrt(v[2])})
			for _, p := range f[1:3] {
				if !seen[p] {
					seen[p], points = true, append(points, p)
				}
			}
		case f[0] == "d" || f[0] == "falls" || f[0] == "moved":
			want[f[0]+" "+f[1]] = floats(t, f[2:])
		default:
			want[f[0]] = floats(t, f[1:])
		}
	}
	return lines, points, want
}

// heights adjusts the epochs as one network in which every point has one height
// but those that may have moved have one in each epoch. Heights alone leave x
// and y open: they are tied to a place, which adds as many rows as unknowns; the
// first point, whose height is then free, is tied too.
func heights(t *testing.T, lines []level, points []string, epochs []int, may map[string]bool) *NetResult {
	t.Helper()
	nw := &Network{}
	id := map[string]int{}
	at := func(p string, epoch int) int {
		if may[p] && epoch == 1 {
			return id[p+"'"]
		}
		return id[p]
	}
	add := func(name string, k int) {
		id[name] = len(nw.Points)
		nw.Points = append(nw.Points, NetPoint{At: Vec{float64(100 * k), float64(k * k), 0}})
		for axis := 0; axis < 2; axis++ {
			nw.Obs = append(nw.Obs, NetObs{Kind: NetCoordinate, Pose: -1, A: id[name], Axis: axis, Value: nw.Points[id[name]].At[axis], Std: 1})
		}
	}
	for k, p := range points {
		add(p, k)
		if may[p] && len(epochs) == 2 {
			add(p+"'", k)
		}
	}
	nw.Obs = append(nw.Obs, NetObs{Kind: NetCoordinate, Pose: -1, A: 0, Axis: 2, Value: 100000, Std: 1})
	for _, e := range epochs {
		for _, l := range lines {
			nw.Obs = append(nw.Obs, NetObs{Kind: NetHeight, Pose: -1, A: at(l.to, e), B: at(l.from, e), Axis: 2, Value: l.mm[e], Std: l.std})
		}
	}
	r, err := nw.Adjust()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Source: see the file. The sum over the differences of all points that the
// method asks for is what the common adjustment of both epochs leaves more than
// the two for themselves.
func TestTwoLevellingEpochs(t *testing.T) {
	lines, points, want := readLevelling(t)
	first := heights(t, lines, points, []int{0}, nil)
	second := heights(t, lines, points, []int{1}, nil)
	apart := first.VtPV + second.VtPV
	s2 := apart / float64(first.DOF+second.DOF)
	if first.DOF != 4 || second.DOF != 4 {
		t.Fatalf("%d and %d degrees of freedom", first.DOF, second.DOF)
	}
	for k, v := range []float64{math.Sqrt(first.VtPV / 4), math.Sqrt(second.VtPV / 4), math.Sqrt(s2)} {
		near(t, "s0", v, want["s0"][k], 5.1e-6)
	}
	mean := 0.0
	for i := range points {
		mean += (second.Points[i][2] - first.Points[i][2]) / float64(len(points))
	}
	for i, p := range points { // the free network: corrections that add up to nothing
		near(t, "difference of "+p, second.Points[i][2]-first.Points[i][2]-mean, want["d "+p][0], 5.1e-5)
	}
	together := heights(t, lines, points, []int{0, 1}, nil)
	omega := together.VtPV - apart
	near(t, "omega", omega, want["omega"][0], 5.1e-4)
	near(t, "F", omega/6/s2, want["omega"][1], 0.0051)
	for _, p := range points {
		r := heights(t, lines, points, []int{0, 1}, map[string]bool{p: true})
		fall := together.VtPV - r.VtPV
		if w := want["falls "+p]; w != nil {
			near(t, "fall at "+p, fall, w[0], 5.1e-4)
		} else if fall >= 0.3 {
			t.Errorf("fall at %s = %.4f, want less than 0.3", p, fall)
		}
	}
	without := heights(t, lines, points, []int{0, 1}, map[string]bool{"R3": true})
	rest := without.VtPV - apart
	near(t, "omega of the rest", rest, want["rest"][0], 5.1e-5)
	near(t, "F of the rest", rest/5/s2, want["rest"][1], 5.1e-5)
	moved, variance := againstTheRest(first, second, points, "R3")
	near(t, "R3", moved, want["moved R3"][0], 5.1e-5)
	near(t, "its std", math.Sqrt(s2*variance), want["moved R3"][1], 5.1e-5)
}

// againstTheRest is the change of height of a point against the mean of all
// others, and its variance for unit weight: both epochs have the same weights.
func againstTheRest(first, second *NetResult, points []string, moved string) (change, variance float64) {
	weight := make([]float64, len(points))
	for i, p := range points {
		weight[i] = -1 / float64(len(points)-1)
		if p == moved {
			weight[i] = 1
		}
		change += weight[i] * (second.Points[i][2] - first.Points[i][2])
	}
	for i := range points {
		for j := range points {
			variance += 2 * weight[i] * weight[j] * first.PointCov(i, j)[2][2]
		}
	}
	return change, variance
}
