package app

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/demo"
	"fettle/internal/unit"
)

// turned is a condition with its comparison turned, or its limit moved from
// included to excluded.
func turned(text string) []string {
	switch text {
	case "yes":
		return []string{"no"}
	case "no":
		return []string{"yes"}
	}
	for _, s := range [][3]string{{"<= ", "< ", "> "}, {">= ", "> ", "< "}, {"only ", "none of ", ""}, {"any of ", "none of ", ""}} {
		if rest, ok := strings.CutPrefix(text, s[0]); ok {
			out := []string{s[1] + rest}
			if s[2] != "" {
				out = append(out, s[2]+rest)
			}
			return out
		}
	}
	if strings.Contains(text, " or ") {
		return []string{"neither " + strings.ReplaceAll(text, " or ", " nor ")}
	}
	return []string{"not " + text}
}

// Turning any comparison of either revision of the demonstration's procedure
// makes one of its own tests fail.
func TestMutantsOfTheDemoProceduresFail(t *testing.T) {
	files := map[string][]byte{}
	for name, data := range demo.Files() {
		if rest, ok := strings.CutPrefix(name, "body/"); ok {
			files[rest] = data
		}
	}
	b, err := body.Decode(files)
	if err != nil {
		t.Fatal(err)
	}
	if len(b.Procedures) < 2 {
		t.Fatalf("%d revisions, want two", len(b.Procedures))
	}
	n := 0
	for _, p := range b.Procedures {
		for _, r := range p.Rows {
			for fact, text := range r.When {
				for _, m := range turned(text) {
					n++
					r.When[fact] = m
					if len(decide.TestProcedure(p, float64(b.Confidence))) == 0 {
						t.Errorf("revision %s, row %s, %s: %q in place of %q passes every test", p.Revision, r.ID, fact, m, text)
					}
					r.When[fact] = text
				}
			}
		}
	}
	if n < 120 {
		t.Errorf("only %d mutants", n)
	}
}

// The newer revision allows what the older one refused, and a job that fails is
// never counted among those that do not change.
func TestReplayOfTheDemo(t *testing.T) {
	m := scenario(t, "sound-job/job.yaml", "format: fettle-job 1", "format: fettle-job 9")
	r, err := New(m, "test").Replay("body/procedures/br-fc-d.yaml", []string{"."}, unit.Date{Year: 2026, Month: 9, Day: 1}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Jobs) != 2 || r.Failed() != 1 {
		t.Fatalf("%d jobs, %d failed; want 2 and 1", len(r.Jobs), r.Failed())
	}
	got := r.Jobs[0].Turned
	if len(got) != 1 || got[0].Finding != "F3" || got[0].Way != decide.Milder {
		t.Errorf("turned %+v, want F3 alone, milder", got)
	}
	if text := New(m, "test").ReplayText(r, 96); !strings.Contains(text, "1 could not be decided") {
		t.Errorf("the failed job is not told:\n%s", text)
	}
}
