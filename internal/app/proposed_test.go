package app

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"fettle/internal/demo"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// TestNothingCountsThatIsProposed: all that can be proposed in each demonstration (each finding, acceptance and choice that it has, and others of its sorts),
// for every reader of records: verdicts, routes, plans with their bills, and what is missing before the hand-back are the bytes they were; only notes say that it is
// proposed.
func TestNothingCountsThatIsProposed(t *testing.T) {
	for _, dir := range []string{"job", demo.RearJob} {
		a, c, r := demonstrated(t, dir)
		day := unit.DateOf(r.Made)
		bare := *c.Job
		bare.Choices, bare.Accepted = nil, nil
		for name, base := range map[string]job.State{"whole": *c.Job, "without choices": bare} {
			n, kinds := 0, map[job.EventKind]bool{}
			with := base
			for _, e := range job.FromState(*c.Job) {
				of := e.About()
				if word, rest, _ := strings.Cut(string(of), "/"); strings.HasPrefix(rest, "#") {
					of = job.RecordName(word)
				}
				p := job.Proposal{ID: fmt.Sprint("PP-", n+1), Of: of, Record: string(job.EncodeRecord(e.Data)), By: "P1", On: day}
				if kind, is := p.ProposedKind(); is {
					n, kinds[kind] = n+1, true
					with.Proposals = append(with.Proposals, p)
				}
			}
			if n < 5 || !kinds[job.FindingRecorded] || dir == demo.RearJob && !(kinds[job.ChoiceMade] && kinds[job.TreatmentAccepted]) {
				t.Fatalf("%s %s: %d proposals of %v", dir, name, n, kinds)
			}
			if problems := with.Fresh(c.Job); len(problems) > 0 {
				t.Fatal(problems)
			}
			was, now := handedState(c, &base, c.Shop), handedState(c, &with, c.Shop)
			x, y := a.assess(nil, was, r.Made), a.assess(nil, now, r.Made)
			same := func(what string, p, q any) {
				t.Helper()
				one, err := json.Marshal(p)
				two, also := json.Marshal(q)
				if err != nil || also != nil || string(one) != string(two) {
					t.Errorf("%s %s: %s is another with proposals %v %v", dir, name, what, err, also)
				}
			}
			same("the result", x.Result, y.Result)
			same("what is missing", a.Release(was, x), a.Release(now, y))
			for _, route := range x.Compare.Routes {
				same("the plan and bill of "+route.ID, a.PlanView(was, x, route), a.PlanView(now, y, route))
			}
			if got := len(y.Notes) - len(x.Notes); got != n || x.Blocked != y.Blocked {
				t.Errorf("%s %s: %d notes more, want %d", dir, name, got, n)
			}
		}
	}
}
