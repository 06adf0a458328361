package decide

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
)

// published is a table of testdata by the names of its columns. Every line has
// its source and how that is known.
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
		if m["source"] == "" || m["how"] == "" {
			t.Errorf("%s: %s has no source", file, m["case"])
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

// Which cracks count as one, through the measuring on a mesh to the decision:
// testdata/grouping.csv. A weld is allowed under 50 mm (check procedure; common
// practice, no source).
func TestPublishedGroupingDecides(t *testing.T) {
	for _, r := range published(t, "grouping.csv") {
		f := func(name string) float64 { return float(t, r[name]) }
		p := newPlate(t)
		proc := &p.in.Body.Procedures[0]
		proc.GroupGap = 0
		proc.Grouping = &body.Grouping{Name: r["case"], Cite: r["source"], HalfSum: f("half_sum"), Shorter: f("shorter"), Longer: f("longer"), Deeper: f("deeper"), Again: r["again"] == "yes"}
		for i, span := range strings.Split(r["cracks_mm"], "; ") {
			a, b, _ := strings.Cut(span, "-")
			c := p.crack(fmt.Sprint(i+1), 1e-9, geom.Vec{20 + float(t, a), 11, 0}, geom.Vec{20 + float(t, b), 11, 0})
			c.Through = "yes"
		}
		res := p.decide()
		var groups []string
		longest, group := 0.0, ""
		for _, g := range res.in.Groups {
			var ids []string
			for _, m := range g.Findings {
				ids = append(ids, string(m))
			}
			groups = append(groups, strings.Join(ids, "+"))
		}
		for _, x := range res.in.Findings {
			if x.Decision.MM > longest {
				longest, group = x.Decision.MM, string(x.ID)
			}
		}
		if got := strings.Join(groups, " "); got != r["groups"] || math.Abs(longest-f("longest_mm")) > 1e-3 {
			t.Errorf("%s: groups %q, the longest %.3f mm; want %q, %s mm (%s)", r["case"], got, longest, r["groups"], r["longest_mm"], r["source"])
		}
		want := Allowed
		if f("longest_mm") >= 50 {
			want = Ask
		}
		for _, x := range res.out.Findings {
			if string(x.ID) == group && option(x, body.Weld) != want {
				t.Errorf("%s: a weld is %s, want %s: %s", r["case"], option(x, body.Weld), want, x.Because)
			}
		}
	}
}
