package report

import (
	"fmt"
	"strings"

	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/job"
)

// decisionPart is section 3: what may be done, and under which rule.
type decisionPart struct {
	Findings   []findingBlock
	Procedures []procedureRow
	Permits    bool
	Answers    []answerRow
}

type optionRow struct {
	Kind, Cite, Because string
	Word                word
	Manner              []string // how it is to be done, and what is inspected afterwards
}

type ruleRow struct {
	ID, Cite, Effect string
	Word             word
	Conds            []condRow
}

type condRow struct {
	Text, Value, State, Need string
	Clear                    bool // met: nothing more to say
}

type factRow struct{ Name, Value, From string }

type questionRow struct {
	ID, Dates string
	Word      word
}

type procedureRow struct {
	ID, Title, Casting, Revision, Effective, Recheck, Checked, Why string
	Word                                                           word
}

type answerRow struct{ ID, Finding, Says, Conditions, By, On, Expires, Document string }

func buildDecisions(in Input, p pick, c castingPart) decisionPart {
	out := decisionPart{Permits: in.Decide.Permits, Findings: findingBlocks(in, p, c)}
	for _, p := range in.Decide.Procedures {
		out.Procedures = append(out.Procedures, procedureOf(in, p))
	}
	for _, a := range in.Job.Answers {
		out.Answers = append(out.Answers, answerOf(a))
	}
	return out
}

// mannerOf is how a treatment has to be done and what is inspected afterwards.
func mannerOf(o decide.Option) []string {
	if o.Verdict == decide.Forbidden {
		return nil
	}
	out := sentences(o.Manner)
	if len(o.After) > 0 {
		out = append(out, sentence("afterwards: "+strings.Join(o.After, "; ")))
	}
	return out
}

// factName is the name of a fact without the underscores of the rule files.
func factName(s string) string { return strings.ReplaceAll(s, "_", " ") }

func ruleRowOf(r decide.RowResult, confidence float64) ruleRow {
	row := ruleRow{ID: r.Row, Cite: r.Cite, Effect: sentence(r.Effect), Word: stateWord(string(r.State))}
	for _, c := range r.Conds {
		state := string(c.State)
		if c.Prob > 0 && c.Prob < 1 {
			state += " (" + percentBeside(c.Prob, confidence) + ")"
		}
		row.Conds = append(row.Conds, condRow{conditionText(c), or(c.Value, "not known"), state, sentence(c.Need), c.State == decide.CondMet})
	}
	return row
}

// conditionText is a condition as people write it.
func conditionText(c decide.CondResult) string {
	return factName(c.Fact) + " " + strings.NewReplacer("<=", "≤", ">=", "≥").Replace(c.Text)
}

// silentText says why a row does not apply: its first condition not met.
func silentText(r decide.RowResult) string {
	for _, c := range r.Conds {
		if c.State == decide.CondNotMet {
			return fmt.Sprintf("%s (%s; it is %s)", r.Row, conditionText(c), or(c.Value, "not known"))
		}
	}
	return r.Row
}

// questionOf is one question. An answer does not settle it while data are missing that a question about the
// finding asks for: a route waits for them still.
func questionOf(in Input, q decide.Question) questionRow {
	r := questionRow{ID: q.ID, Word: word{or(string(q.State), "open"), toneOpen}}
	missing := missingOf(in, q)
	if !q.Open {
		r.Word = word{"answered", toneGood}
	}
	if len(missing) > 0 {
		r.Word = word{"answered, data missing", toneOpen}
	}
	if q.Asked.IsZero() && q.Open {
		r.Dates = "Not sent yet."
	} else if !q.Asked.IsZero() {
		r.Dates = "Sent " + day(q.Asked) + "."
	}
	if q.By != "" {
		r.Dates = strings.TrimSpace(r.Dates + " Answered by " + q.By + ", " + day(q.Answer) + ".")
	}
	r.Dates = strings.TrimSpace(r.Dates + " " + strings.Join(missing, " "))
	return r
}

// missingOf is what a question that was answered has to name still.
func missingOf(in Input, q decide.Question) []string {
	if q.Open || q.Finding == "" {
		return nil
	}
	return compare.AskLines(in.Compare, q.Finding)
}

func procedureOf(in Input, p decide.InForce) procedureRow {
	w := word{"in force", toneGood}
	if p.Expired {
		w = word{"expired: permits nothing", toneBad}
	}
	checked := "never looked up"
	if !p.CheckedOn.IsZero() {
		checked = day(p.CheckedOn)
	}
	return procedureRow{ID: string(p.Procedure), Title: p.Title, Casting: castingName(in.Body, p.Casting), Revision: p.Revision,
		Effective: day(p.Effective), Recheck: day(p.Recheck), Checked: checked, Why: sentence(p.Why), Word: w}
}

func answerOf(a job.Answer) answerRow {
	var says []string
	for _, k := range a.Allow {
		says = append(says, "may "+string(k))
	}
	for _, k := range a.Forbid {
		says = append(says, "must not "+string(k))
	}
	return answerRow{a.ID, string(a.Finding), strings.Join(says, "; "), a.Conditions, a.By, day(a.On), day(a.Expires), a.Document}
}

// openQuestions is the questions without an answer.
func openQuestions(r decide.Result) []decide.Question {
	var out []decide.Question
	for _, q := range r.Questions {
		if q.Open {
			out = append(out, q)
		}
	}
	return out
}
