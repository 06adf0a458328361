package release

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/decide/fixture"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/unit"
)

func day(y, m, d int) unit.Date { return fixture.Day(y, m, d) }

// world is a small body and job around the check procedure, constructed.
type world struct{ in decide.Input }

func newWorld() *world {
	w := &world{decide.Input{Today: day(2030, 3, 2)}}
	w.in.Body, w.in.Job, w.in.Shop, w.in.Inspect = fixture.World()
	return w
}

// crack adds a crack on the casting.
func (w *world) crack(id job.FindingID, length, std float64, zones ...body.ZoneID) *inspect.Finding {
	return fixture.Crack(w.in.Job, &w.in.Inspect, id, length, std, zones...)
}

// answers gives the job answers for its findings as they are.
func (w *world) answers(all ...job.Answer) { fixture.Answer(w.in.Job, all...) }

// draws is how many times over a law is drawn: more when FETTLE_ORACLE is set.
func draws(few, many int) int {
	if n, _ := strconv.Atoi(os.Getenv("FETTLE_ORACLE")); n > 0 {
		return many
	}
	return few
}

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
