package report

import (
	"crypto/sha256"
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/plan"
)

var update = flag.Bool("update", false, "write the golden file anew")

// TestDocumentsStayAsTheyAre: every chapter of what the fixtures print is fingerprinted, with
// the drawings, in which hardly any figure could be tested by itself. Whoever changes one
// looks at the page and runs the test with -update.
func TestDocumentsStayAsTheyAre(t *testing.T) {
	in := fixture(t)
	twice, _ := startable(t)
	steps := &twice.Compare.Routes[0].Plan
	steps.Steps = append([]plan.Step(nil), steps.Steps...)
	steps.Steps[3].Awaits = []plan.Awaited{{Kind: plan.Delivery, Part: "WING", Name: "Left wing"}, {Kind: "answer", Name: "Answer Q1"}}
	question, err := QuestionHTML(in, decide.Question{ID: "Q1", Finding: "F2", Text: "May F2 be welded?"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, page := range []struct{ name, text string }{
		{"report", render(t, in)}, {"report to begin with", render(t, toBegin(t))}, {"report of twice", render(t, twice)},
		{"owner", owner(t, in)}, {"owner to begin with", owner(t, toBegin(t))},
		{"sheets", sheets(t, in, in.Compare.Routes[0])}, {"sheets to begin with", sheets(t, twice, twice.Compare.Routes[0])},
		{"question", string(question)}, {"summary", Summary(in, 80)},
		{"measure", MeasureText(in.Body.Points, in.Body.Sections, body.Axes{X: "rearward", Y: "right", Z: "up"}, in.Measure, 80)},
	} {
		for i, part := range strings.Split(page.text, "<h2") {
			fmt.Fprintf(&b, "%s\t%d\t%.6x\n", page.name, i, sha256.Sum256([]byte(part)))
		}
	}
	for _, says := range [][]string{MeasurementSays(in), JobSays(in), RouteSays(in, in.Compare.Routes[0]), DoneSays(in, in.Compare.Routes[0]), StepSays(in, steps.Steps[3])} {
		b.WriteString(strings.Join(says, "\t") + "\n")
	}
	const file = "testdata/pages.tsv"
	if *update {
		if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	was := strings.Split(string(want), "\n")
	for i, line := range strings.Split(b.String(), "\n") {
		if i >= len(was) || line != was[i] {
			t.Errorf("%q differs; when it is meant, run 'go test ./internal/report -update'", line)
		}
	}
}

// A report says what it was not given.
func TestReportNamesWhatItNeeds(t *testing.T) {
	for name, take := range map[string]func(*Input){"body": func(in *Input) { in.Body = nil }, "shop": func(in *Input) { in.Shop = nil }, "job": func(in *Input) { in.Job = nil }} {
		in := fixture(t)
		take(&in)
		if _, err := HTML(in); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("without %s: %v", name, err)
		}
	}
}
