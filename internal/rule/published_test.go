package rule

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"fettle/internal/normal"
)

// published is a table of testdata by the names of its columns.
func published(t *testing.T, file string) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/" + file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			m[name] = r[i]
		}
		out = append(out, m)
	}
	return out
}

func float(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// The cases of testdata/conformance.csv, each with its source and how that is
// known; probabilities recomputed with Python's statistics.NormalDist.
func TestPublishedConformance(t *testing.T) {
	seen := map[string]int{}
	for _, r := range published(t, "conformance.csv") {
		c, err := ParseCond("f", Number, r["unit"], r["condition"])
		if err != nil {
			t.Fatal(err)
		}
		got := c.Eval(NumberValue(float(t, r["value"]), float(t, r["std"]), r["unit"]), float(t, r["confidence"]))
		if math.Abs(got.Prob-float(t, r["probability"])) > 1e-7 || got.State.String() != r["state"] {
			t.Errorf("%s: p %.7f, %s; want %s, %s (%s)", r["case"], got.Prob, got.State, r["probability"], r["state"], r["source"])
		}
		seen[r["state"]]++
	}
	if seen["met"] < 8 || seen["undecided"] < 8 || seen["not met"] < 6 {
		t.Errorf("only %v", seen)
	}
}

// A rectangular distribution of the same standard uncertainty needs less
// distance from a limit, √3 (2c − 1) in place of z(c) times u (GUM 4.3.7; as
// quoted by a public formalisation of JCGM 106), at every confidence that is
// accepted: taking the normal one is never the milder way.
func TestNormalIsNeverMilderThanRectangular(t *testing.T) {
	for c := LeastConfidence; c < 0.999999; c += (1 - c) / 50 {
		if flat := math.Sqrt(3) * (2*c - 1); normal.Quantile(c) < flat {
			t.Errorf("at %v: %v u in place of %v u", c, normal.Quantile(c), flat)
		}
	}
}
