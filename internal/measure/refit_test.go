package measure

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// TestRefitWithSciPy has an independent program adjust the same readings:
// testdata/refit.py with numpy and SciPy. Set FETTLE_PYTHON to a Python that
// has them.
func TestRefitWithSciPy(t *testing.T) {
	python := os.Getenv("FETTLE_PYTHON")
	if python == "" {
		t.Skip("FETTLE_PYTHON is not set to a Python with numpy and SciPy")
	}
	cases := map[string]Input{
		"two single points":          readExample(t, "two-single-points.txt").in,
		"rear section":               readExample(t, "rear-section.txt").in,
		"uneven noise and spread":    unevenInput(),
		"repeats":                    repeatedInput(),
		"two set-ups, lengths, more": mixedInput(0),
		"mixed with spread":          mixedInput(0.3),
	}
	for name, in := range cases {
		t.Run(name, func(t *testing.T) {
			r, _ := Run(in)
			if len(r.Hypotheses) == 0 {
				t.Fatalf("no hypothesis: %+v", r.Notes)
			}
			dir := t.TempDir()
			points, readings, result := filepath.Join(dir, "points.csv"), filepath.Join(dir, "readings.csv"), filepath.Join(dir, "result.json")
			writePoints(t, points, in.Points)
			writeReadings(t, readings, in.Readings)
			out, err := json.Marshal(map[string]any{"measure": r})
			if err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(result, out, 0o600); err != nil {
				t.Fatal(err)
			}
			text, err := exec.Command(python, "testdata/refit.py", points, readings, result).CombinedOutput()
			if err != nil {
				t.Errorf("%v\n%s", err, text)
			}
			t.Logf("%s", text)
		})
	}
}

// unevenInput has more noise along z, a manufacturing spread and one moved
// point; seed 21.
func unevenInput() Input {
	c := newCar(14, 21)
	c.shift[3] = geom.Vec{0, 9, 0}
	in := c.measure(0.5)
	for i := range in.Readings {
		in.Readings[i].StdZ = unit.Some(1.2)
		in.Points[i].Std = unit.Some(0.2 + 0.05*float64(i%3))
	}
	return in
}

// repeatedInput reads some points twice in the same set-up; seed 22.
func repeatedInput() Input {
	c := newCar(10, 22)
	c.shift[5] = geom.Vec{7, 0, 0}
	in := c.measure(0.5)
	rng := rand.New(rand.NewPCG(22, 1))
	for i := 0; i < 6; i++ {
		r := in.Readings[i]
		for _, v := range []*unit.Maybe[float64]{&r.X, &r.Y, &r.Z} {
			v.Value += rng.NormFloat64() * 0.5
		}
		in.Readings = append(in.Readings, r)
	}
	return in
}

// mixedInput has two set-ups that share some points, tram lengths and heights;
// the rear has moved. Seed 23.
func mixedInput(spread float64) Input {
	c := newCar(14, 23)
	c.moveRear(0.3, 15)
	m2 := geom.Rigid{R: geom.FromRotationVector(geom.Vec{0.3, -0.2, 1.9}), T: geom.Vec{900, -400, 250}}
	all := c.measure(0.6)
	in := Input{Impact: "rear", Points: all.Points}
	for i := range in.Points {
		in.Points[i].Std = unit.Some(spread)
	}
	spot := func(i int) geom.Vec {
		return c.at[i].Add(c.shift[i]).Add(geom.Vec{1, 1, 1}.Scale(spread * c.rng.NormFloat64()))
	}
	now := make([]geom.Vec, len(c.at))
	for i := range now {
		now[i] = spot(i)
	}
	for i := range c.at {
		if i < 10 {
			in.Readings = append(in.Readings, xyz("S1", in.Points[i].ID, now[i].Add(c.gauss().Scale(0.6)), 0.6))
		}
		if i >= 4 {
			in.Readings = append(in.Readings, xyz("S2", in.Points[i].ID, m2.Apply(now[i]).Add(c.gauss().Scale(0.8)), 0.8))
		}
	}
	for _, s := range [][2]int{{0, 13}, {1, 12}, {2, 11}, {0, 1}, {3, 8}} {
		in.Readings = append(in.Readings, spanReading("T", "length", in.Points[s[0]].ID, in.Points[s[1]].ID, now[s[0]].Dist(now[s[1]])+0.4*c.rng.NormFloat64(), 0.4))
	}
	for _, s := range [][2]int{{0, 9}, {2, 5}} {
		in.Readings = append(in.Readings, spanReading("S1", "height", in.Points[s[0]].ID, in.Points[s[1]].ID, now[s[0]][2]-now[s[1]][2]+0.3*c.rng.NormFloat64(), 0.3))
	}
	return in
}

func spanReading(setup, kind string, from, to body.PointID, value, std float64) job.Reading {
	return job.Reading{Setup: setup, Kind: job.ReadingKind(kind), From: from, To: to, Value: unit.Some(value), Std: unit.Some(std)}
}

func writePoints(t *testing.T, path string, points []body.Point) {
	t.Helper()
	out := [][]string{{"id", "x_mm", "y_mm", "z_mm", "tol_mm", "std_mm"}}
	for _, p := range points {
		out = append(out, []string{string(p.ID), full(p.X), full(p.Y), full(p.Z), maybe(p.Tol), maybe(p.Std)})
	}
	writeCSV(t, path, out)
}

func writeReadings(t *testing.T, path string, readings []job.Reading) {
	t.Helper()
	out := [][]string{{"setup", "kind", "from", "to", "x_mm", "y_mm", "z_mm", "value_mm", "std_mm", "std_x_mm", "std_y_mm", "std_z_mm"}}
	for _, r := range readings {
		out = append(out, []string{r.Setup, string(r.Kind), string(r.From), string(r.To), maybe(r.X), maybe(r.Y), maybe(r.Z), maybe(r.Value), maybe(r.Std), maybe(r.StdX), maybe(r.StdY), maybe(r.StdZ)})
	}
	writeCSV(t, path, out)
}

func full(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

func maybe(m unit.Maybe[float64]) string {
	if !m.Known {
		return ""
	}
	return full(m.Value)
}

func writeCSV(t *testing.T, path string, rows [][]string) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	w := csv.NewWriter(f)
	err = w.WriteAll(rows)
	if e := f.Close(); err == nil {
		err = e
	}
	if err != nil {
		t.Fatal(fmt.Errorf("%s: %w", path, err))
	}
}
