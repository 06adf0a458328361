package decide

import (
	"fettle/internal/body"
	"fettle/internal/decide/fixture"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// checkProcedure is the procedure every test here runs on.
func checkProcedure() body.Procedure { return fixture.Procedure() }

func day(y, m, d int) unit.Date { return fixture.Day(y, m, d) }

// world is a small body and job around the check procedure, constructed.
type world struct{ in Input }

func newWorld() *world {
	w := &world{Input{Today: day(2030, 3, 2)}}
	w.in.Body, w.in.Job, w.in.Shop, w.in.Inspect = fixture.World()
	return w
}

// crack adds a crack on the casting.
func (w *world) crack(id job.FindingID, length, std float64, zones ...body.ZoneID) *inspect.Finding {
	return fixture.Crack(w.in.Job, &w.in.Inspect, id, length, std, zones...)
}

// answers gives the job answers for its findings as they are.
func (w *world) answers(all ...job.Answer) { fixture.Answer(w.in.Job, all...) }

// other adds a finding on a part that is no casting.
func (w *world) other(id job.FindingID, part body.PartID, kind body.FindingKind) {
	w.in.Job.Findings = append(w.in.Job.Findings, job.Finding{ID: id, Kind: kind, Part: part, Seen: "visual"})
	w.in.Inspect.Findings = append(w.in.Inspect.Findings, inspect.Finding{ID: id, Kind: kind, Part: part})
}

func option(f Finding, k body.TreatmentKind) Verdict {
	for _, o := range f.Options {
		if o.Kind == k {
			return o.Verdict
		}
	}
	return Ask
}

func allowedKinds(options []Option) map[string]bool {
	out := map[string]bool{}
	for _, o := range options {
		if o.Verdict == Allowed {
			out[KindText(o)] = true
		}
	}
	return out
}
