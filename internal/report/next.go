package report

import (
	"fmt"
	"slices"

	"fettle/internal/decide"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// unsafe says why a hazard does not count as made safe; empty when it does.
func unsafe(in Input, h job.Hazard) string {
	return in.Job.Unsafe(h, in.Body, in.Shop, unit.DateOf(in.Meta.Made))
}

// nextSteps is what to do before anything else, in the order in which it
// should be done: make safe, look up, inspect, measure, ask, order.
func nextSteps(in Input, p pick) []string {
	var out []string
	for _, h := range in.Job.Hazards {
		if unsafe(in, h) != "" {
			title, _ := cautionText(h.Kind)
			out = append(out, title+": have a qualified person make it safe and write down who and when.")
		}
	}
	for _, q := range in.Decide.Procedures {
		if q.Expired || q.CheckedOn.IsZero() {
			out = append(out, fmt.Sprintf("Look up the current revision of procedure %s; the one held is %s.", q.Procedure, q.Revision))
		}
	}
	if _, first := lookFirst(in, p); first {
		out = append(out, "Before deciding, look first, as 5 says: "+minutes(in.Compare.Spread.Looks[0].Minutes)+".")
	}
	if open := notCovered(in.Inspect); len(open) > 0 {
		out = append(out, "Inspect "+list(open, 12)+", as section 2 says.")
	}
	for _, f := range in.Inspect.Findings {
		for _, u := range f.Unknown {
			out = append(out, string(f.ID)+": "+sentence(u))
		}
	}
	out = append(out, measuredOf(in).next()...)
	for _, f := range in.Decide.Findings {
		out = append(out, decideNext(f)...)
		out = append(out, worthNext(in, f)...)
	}
	for _, q := range openQuestions(in.Decide) {
		out = append(out, fmt.Sprintf("Send question %s on %s to the manufacturer; its text is in section 3.", q.ID, q.Finding))
	}
	if p.Found && p.Choice.Route == "" && p.Word.Tone == toneGood {
		out = append(out, "Choose a route and write down who chose it; have a second person read the decisions.")
	}
	if len(p.Route.Plan.Lost) > 0 && p.Word.Tone == toneGood {
		out = append(out, orderNext(in, p)...)
	}
	return out
}

// orderNext is what is to be ordered yet: parts that have not come, and materials until work has begun.
func orderNext(in Input, p pick) []string {
	missing := 0
	for _, l := range p.Route.Plan.Lost {
		if in.Job.SupplyOf(string(l.Part), l.Quantity).On.IsZero() {
			missing++
		}
	}
	if missing == 0 && len(in.Job.Actuals) > 0 {
		return nil
	}
	what := "the materials of section 6."
	if missing > 0 {
		what = unit.Count(missing, "part") + " and " + what
	}
	var out []string
	if len(in.Compare.Worth) > 0 {
		out = append(out, "Settle the points above before ordering: a cheaper route may open.")
	}
	return append(out, "Order "+what)
}

// decideNext is what would decide the conditions of a finding that is not
// allowed yet, each once.
func decideNext(f decide.Finding) []string {
	if f.Verdict == decide.Allowed {
		return nil
	}
	var out []string
	seen := map[string]bool{}
	for _, r := range f.Rows {
		for _, c := range r.Conds {
			if c.Need != "" && c.State != decide.CondMet && c.State != decide.CondNotMet && !seen[c.Need] {
				seen[c.Need] = true
				out = append(out, string(f.ID)+": "+sentence(c.Need))
			}
		}
	}
	return out
}

// worthNext is what would open a cheaper route on which the finding waits for a
// better measurement.
func worthNext(in Input, f decide.Finding) []string {
	for _, w := range in.Compare.Worth {
		for _, r := range in.Compare.Routes {
			if r.ID == w.Route && slices.Contains(r.Measure, string(f.ID)) && len(f.Change) > 0 {
				return []string{string(f.ID) + ", for the cheaper route: " + sentence(f.Change[0])}
			}
		}
	}
	return nil
}
