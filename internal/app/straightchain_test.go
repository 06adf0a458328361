package app

import (
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/demo"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// bentJob is the vehicle of testdata/release with its left lamp bracket bent. The bracket carries a
// control point, and testdata/straighten lets it be straightened cold, pulled twice at most.
func bentJob(t *testing.T, finding string) (*App, *Opened, Assessment) {
	t.Helper()
	m := damagedFiles(t)
	read := func(name string) string {
		text, err := os.ReadFile("testdata/" + name)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	put := func(file, text, old, fresh string) {
		if n := strings.Count(text, old); n != 1 {
			t.Fatalf("%q occurs %d times in %s, want once", old, n, file)
		}
		m[file] = []byte(strings.Replace(text, old, fresh, 1))
	}
	procedure := "body/procedures/br-fc-d.yaml"
	put(procedure, string(m[procedure]), "\nlevels:\n", "\n"+read("straighten/row.yaml")+"\nlevels:\n")
	put(procedure, string(m[procedure]), "\ntests:\n", "\ntests:\n"+read("straighten/test.yaml"))
	put("body/body.yaml", read("release/body.yaml"), "\ntreatments:\n", "\ntreatments:\n"+read("straighten/treatment.yaml"))
	put("shop.yaml", read("release/shop.yaml"), "accepts: [leave, dress, ", "accepts: [leave, dress, straighten, ")
	m["body/parts.csv"] = []byte(read("release/parts.csv"))
	points := strings.Split(string(m["body/points.csv"]), "\n")
	for i, row := range points {
		if strings.HasPrefix(row, "F06L,") {
			points[i] = strings.Replace(row, "P-CASTING", "P-LAMPBR-L", 1)
		}
	}
	m["body/points.csv"] = []byte(strings.Join(points, "\n"))
	file := demo.SoundJob + "/job.yaml"
	put(file, string(m[file]), "findings:\n", "findings:\n  - {id: F1, kind: bend, part: P-LAMPBR-L, "+finding+"seen: visual, by: T1, on: 2026-11-25}\n")
	a := New(m, "test")
	c, err := a.Open(t.Context(), demo.SoundJob)
	if err != nil {
		t.Fatal(err)
	}
	return a, c, assessedOf(t, a, c, time.Date(2026, time.November, 26, 10, 0, 0, 0, time.UTC))
}

// TestABentBracketThroughTheChain: what is known of the bend lets it be straightened, what is not
// does not. The route pulls it on the fixed vehicle and measures it after; done as planned it may be
// handed back, without a measurement of its point after the pull, or pulled more often, not.
func TestABentBracketThroughTheChain(t *testing.T) {
	const known = "kinked: no, straightened_before: 0, measured: [{what: shape, value: 4 mm, std: 0.5 mm}], "
	for finding, want := range map[string]decide.Verdict{known: decide.Allowed, "": decide.Undecided,
		strings.Replace(known, "kinked: no", "kinked: yes", 1): decide.Ask, strings.Replace(known, "kinked: no, ", "", 1): decide.Undecided,
		strings.Replace(known, "before: 0", "before: 1", 1): decide.Ask, strings.Replace(known, "4 mm", "5.8 mm", 1): decide.Undecided} {
		_, _, r := bentJob(t, finding)
		if o, _ := r.Decide.Option("F1", body.Straighten, ""); o.Verdict != want {
			t.Errorf("%q: straighten is %s (%s), want %s", finding, o.Verdict, o.Because, want)
		}
	}
	a, c, r := bentJob(t, known)
	i := slices.IndexFunc(takeable(r), func(x compare.Route) bool {
		return strings.Contains(strings.ToLower(x.Name), "straighten what is bent")
	})
	if i < 0 {
		t.Fatalf("no route straightens: %v", r.Compare.Routes)
	}
	way := takeable(r)[i]
	at := func(name string) int {
		return slices.IndexFunc(way.Plan.Steps, func(s plan.Step) bool { return s.Name == name })
	}
	pull := at("Pull the bracket back")
	if bench := at("Fix the vehicle on the bench and set up the measuring device"); pull < 0 || bench < 0 || bench > pull {
		t.Fatalf("fixed at %d, pulled at %d", bench, pull)
	}
	document, err := a.Report(t.Context(), c, r, true)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"traighten what is bent", "Out of shape", "Straightened before", "Kinked"} {
		if !strings.Contains(string(document), want) {
			t.Errorf("the report does not say %q", want)
		}
	}
	s, day := follow(t, c, r, way)
	if _, _, got := releasedAfter(a, c, s, day); !got.Ready() {
		t.Errorf("done as planned:\n%s", a.ReleaseText(got, Column{Width: 200}))
	}
	for name, change := range map[string]func(s *job.State){
		"not measured after": func(s *job.State) {
			s.Readings = slices.DeleteFunc(s.Readings, func(x job.Reading) bool { return x.Setup == "B" && x.From == "F06L" })
		},
		"pulled three times": func(s *job.State) {
			for i := range s.Figures {
				if s.Figures[i].Reading == "pulls" {
					s.Figures[i].Value = unit.Amount{Value: 3, Unit: "times"}
				}
			}
		},
	} {
		x := cloneJob(&s)
		x.Figures, x.Readings = slices.Clone(s.Figures), slices.Clone(s.Readings)
		change(&x)
		if _, _, got := releasedAfter(a, c, x, day); got.Ready() {
			t.Errorf("%s: it may be handed back", name)
		}
	}
}
