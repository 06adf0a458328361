package decide

import (
	"slices"

	"fettle/internal/diag"
	"fettle/internal/job"
)

// Codes of the notes that Acceptances gives.
const (
	CodeAcceptedUnreasoned = "decide.accepted-without-reason"
	CodeAcceptedForbidden  = "decide.accepted-not-allowed"
)

// AcceptanceFault is what is wrong with one acceptance of a job.
type AcceptanceFault struct {
	At   int // place in the job's list
	Note diag.Note
}

// Acceptances says which treatments were accepted against the decisions: one
// that is not allowed, and one that rests on an answer, or is harsher than
// another that is allowed, without saying why. Every override has a reason.
func Acceptances(j *job.State, r Result) []AcceptanceFault {
	var out []AcceptanceFault
	for i, a := range j.Accepted {
		o, _ := r.Option(a.Finding, a.Kind, a.Line)
		name := OptionName(a.Kind, a.Line)
		switch {
		case o.Verdict != Allowed:
			out = append(out, AcceptanceFault{i, blocks(string(a.Finding),
				diag.Say(CodeAcceptedForbidden, "{by} accepted {treatment}, which is not allowed: it is {verdict}", a.By, name, o.Verdict), "accept a treatment that is allowed, or settle what keeps this one back: "+o.Because, o.Cite)})
		case !a.Reasoned() && o.Answer != "":
			out = append(out, AcceptanceFault{i, blocks(string(a.Finding),
				diag.Say(CodeAcceptedUnreasoned, "{by} accepted {treatment} without a reason, though it rests on answer {answer} and not on the procedure", a.By, name, o.Answer), "say why in 'reason'", o.Cite)})
		case !a.Reasoned() && milderAllowed(r, a):
			out = append(out, AcceptanceFault{i, blocks(string(a.Finding),
				diag.Say(CodeAcceptedUnreasoned, "{by} accepted {treatment} without a reason, though a milder treatment is allowed", a.By, name), "say why in 'reason'", o.Cite)})
		}
	}
	return out
}

func milderAllowed(r Result, a job.Accepted) bool {
	for _, f := range r.Findings {
		if f.ID == a.Finding {
			return slices.ContainsFunc(f.Options, func(o Option) bool { return o.Verdict == Allowed && Milder(o.Kind, a.Kind) })
		}
	}
	return false
}
