package app

import (
	"os"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

// checkScenario is the demonstration with the small check procedure in place of
// its own, read from its file with the tests inside it.
func checkScenario(t *testing.T) memory {
	t.Helper()
	text, err := os.ReadFile("testdata/check-procedure.yaml")
	if err != nil {
		t.Fatal(err)
	}
	m := scenario(t, "", "", "")
	delete(m, "body/procedures/br-fc-c.yaml")
	delete(m, "body/procedures/br-fc-d.yaml")
	m["body/procedures/check.yaml"] = text
	m["job/job.yaml"] = []byte(strings.Replace(string(m["job/job.yaml"]), "procedure: BR-FC, revision: D", `procedure: CHECK, revision: "1"`, 1))
	return m
}

// decideCheck goes from the files to the decisions.
func decideCheck(t *testing.T, m memory) decide.Result {
	t.Helper()
	c, err := New(m, "test").WithBodies(&bodies).Open(t.Context(), demo.Job)
	if err != nil {
		t.Fatal(err)
	}
	day := unit.DateOf(demo.Day)
	r, _ := decide.Run(decide.Input{Body: c.Body, Shop: c.Shop, Job: c.Job, Inspect: seen(nil, c, c.Body, day), Today: day})
	return r
}

// The small check procedure (common practice, no source) on the casting of the
// demonstration, from files to decisions: D1 and D2 lie in a rail and are under
// 50 mm, D6 in a rail and over, D3 goes from a rail into a knee and is under 30
// mm, D8 lies in a crown. The traces are the demonstration's.
func TestCheckProcedureFromFilesToDecisions(t *testing.T) {
	m := checkScenario(t)
	want := map[string][3]decide.Verdict{ // weld, with backing plate, the finding
		"D1": {decide.Allowed, decide.Allowed, decide.Allowed},
		"D2": {decide.Allowed, decide.Allowed, decide.Allowed},
		"D3": {decide.Ask, decide.Allowed, decide.Allowed},
		"D6": {decide.Ask, decide.Ask, decide.Ask},
		"D8": {decide.Ask, decide.Ask, decide.Ask},
	}
	r := decideCheck(t, m)
	for _, f := range r.Findings {
		w, ok := want[string(f.ID)]
		if !ok {
			continue
		}
		if got := [3]decide.Verdict{verdictOf(f, body.Weld), verdictOf(f, body.WeldBacking), f.Verdict}; got != w {
			t.Errorf("%s: %v, want %v: %s", f.ID, got, w, f.Because)
		}
		delete(want, string(f.ID))
	}
	if len(want) > 0 {
		t.Errorf("not decided: %v", want)
	}
	if r.Permits {
		t.Error("a repair can start though D8 is for the desk")
	}
	// D3 made longer than 30 mm loses its plate; D2 less certain is undecided.
	m["job/job.yaml"] = []byte(strings.NewReplacer("[846, -515.5, 389]", "[862, -515.5, 395]", "[704, -515, 404.1]]\n    trace_std: 0.5 mm", "[716, -515, 407]]\n    trace_std: 2.5 mm").Replace(string(m["job/job.yaml"])))
	for _, f := range decideCheck(t, m).Findings {
		if f.ID == "D3" && verdictOf(f, body.WeldBacking) != decide.Ask {
			t.Errorf("D3, longer: %s", f.Because)
		}
		if f.ID == "D2" && verdictOf(f, body.Weld) != decide.Undecided {
			t.Errorf("D2, longer and less certain: %s", f.Because)
		}
	}
	// A test of the procedure that does not come out refuses the whole body.
	m["body/procedures/check.yaml"] = []byte(strings.Replace(string(m["body/procedures/check.yaml"]), "length: < 50 mm", "length: <= 50 mm", 1))
	if _, err := New(m, "test").WithBodies(&bodies).Open(t.Context(), demo.Job); err == nil || !strings.Contains(err.Error(), "permissive, at the limit") || diag.KindOf(err) == diag.Internal {
		t.Errorf("a procedure whose own test fails is accepted: %v", err)
	}
}

func verdictOf(f decide.Finding, k body.TreatmentKind) decide.Verdict {
	for _, o := range f.Options {
		if o.Kind == k {
			return o.Verdict
		}
	}
	return decide.Ask
}
