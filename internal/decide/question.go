package decide

import (
	"slices"
	"strconv"
	"strings"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/rule"
)

// question is what has to be asked about a finding: when nothing is left but
// to ask, when a row asks (a milder treatment may come back), or when only the
// manufacturer can settle a doubt. With a valid answer it is kept as a question
// that is no longer open.
func (d *decider) question(f Finding) (Question, bool) {
	before, asked, answered := Best(d.table), d.asked(), d.lastAnswer()
	if asked.ID == "" && answered.ID == "" && before != Ask && f.Verdict != Ask && !d.rowAsks() && !(before == Undecided && d.onlyTheManufacturer()) {
		return Question{}, false
	}
	return d.made(), true
}

// mayAsk says that a question may be sent although none has to be: a treatment that
// is milder than what is allowed, and that the procedure has for findings of this
// sort, waits for the manufacturer alone.
func (d *decider) mayAsk(f Finding) bool {
	return d.rs != nil && slices.ContainsFunc(f.Options, func(o Option) bool {
		return o.Verdict == Ask && d.suits(o) && !slices.ContainsFunc(f.Options, func(a Option) bool { return a.Verdict == Allowed && Milder(a.Kind, o.Kind) })
	})
}

// made is the question about a finding and how far it has got.
func (d *decider) made() Question {
	asked, answered := d.asked(), d.lastAnswer()
	q := Question{Finding: d.sub.f.ID, Text: d.questionText(), Open: !d.current(), State: ToBeSent}
	settled := answered.ID != "" && !answered.On.Before(asked.On)
	q.ID, q.Asked = asked.ID, asked.On
	if settled {
		q.Answer, q.Expires, q.By = answered.On, answered.Expires, answered.By
	}
	switch {
	case !q.Open:
		q.State = Answered
	case settled && d.in.Today.Before(answered.Expires) && d.scene.outgrown(answered) != "":
		q.State = Outgrown
	case settled:
		q.State = AnswerExpired
	case d.in.Job.ToldWith(asked) != nil && d.scene.worse(d.in.Job.ToldWith(asked), d.sub.f.ID) != "":
		q.State = Outgrown
	case asked.ID != "":
		q.State = Waiting
	}
	if q.ID == "" || q.State == AnswerExpired || q.State == Outgrown {
		q.ID = freeQuestion(d.in.Job, string(d.sub.f.ID))
	}
	return q
}

// asked is the last question about the finding that was sent.
func (d *decider) asked() job.Asked {
	var last job.Asked
	for _, q := range d.in.Job.Questions {
		if q.Finding == d.sub.f.ID && (last.ID == "" || !q.On.Before(last.On)) {
			last = q
		}
	}
	return last
}

// lastAnswer is the last answer about the finding that was for this vehicle and
// is not of the future.
func (d *decider) lastAnswer() job.Answer {
	var last job.Answer
	for _, a := range d.in.Job.Answers {
		if a.Finding == d.sub.f.ID && a.VIN == d.in.Job.Vehicle.VIN && !d.in.Today.Before(a.On) && (last.ID == "" || !a.On.Before(last.On)) {
			last = a
		}
	}
	return last
}

// onlyTheManufacturer says that the doubt will not go away by measuring: all
// that is undecided is a length whose tips were already found by penetrant or
// stop-hole, or a value exactly on a limit.
func (d *decider) onlyTheManufacturer() bool {
	t := d.view.facts[body.FactTips]
	sharp := t.Known && len(t.Words) == 1 && body.TipMethod(t.Words[0]) != body.TipVisual
	doubts := 0
	for i, r := range d.view.Whole {
		if !r.State.Open() {
			continue
		}
		for j, c := range d.rs.Table.Rows()[i].Conds {
			switch r.Conds[j].State {
			case rule.CondUnknown:
				return false
			case rule.CondUndecided:
				onLimit := c.Need(d.view.facts[c.Fact], d.rs.Confidence).Std == 0
				if !onLimit && !(sharp && c.Fact == body.FactLength) {
					return false
				}
				doubts++
			}
		}
	}
	return doubts > 0
}

// questionText is complete: the reader needs nothing else but the drawing and
// the photos that go with it.
func (d *decider) questionText() string {
	lines := []string{d.vehicleLine(), d.procedureLine(), d.findingLine()}
	lines = append(lines, d.factLines()...)
	if t := d.sub.f.Text; t != "" {
		lines = append(lines, "Remark: "+t)
	}
	if len(d.sub.f.Photos) > 0 {
		lines = append(lines, "Evidence: "+strings.Join(d.sub.f.Photos, ", ")+".")
	}
	lines = append(lines, d.tableLines()...)
	lines = append(lines, d.more...)
	return strings.Join(append(lines, d.proposal()), "\n")
}

func (d *decider) vehicleLine() string {
	v, b := d.in.Job.Vehicle, d.in.Body
	t := "Vehicle " + v.VIN
	if !v.Built.IsZero() {
		t += ", built " + v.Built.String()
	}
	if v.Odometer > 0 {
		t += ", " + strconv.FormatFloat(v.Odometer, 'f', -1, 64) + " km"
	}
	return t + "; body " + b.Name + " (" + b.ID + "), data revision " + b.Revision + "; job " + d.in.Job.ID + "."
}

func (d *decider) procedureLine() string {
	if d.rs == nil {
		return "We hold no procedure that is in force for this part."
	}
	p := d.rs.Proc
	return "Procedure " + string(p.ID) + " (" + p.Title + "), revision " + p.Revision + ", effective " + p.Effective.String() + "."
}

func (d *decider) findingLine() string {
	f := d.sub.f
	t := "Finding " + string(f.ID) + ": " + string(f.Kind) + " on part " + string(f.Part)
	if d.sub.part != nil {
		t += " (" + d.sub.part.Name + ")"
	}
	if g := d.sub.g.Group; g != "" {
		t += ", one of group " + g + " that counts as one"
	}
	return t + "; found by " + string(f.Seen) + " inspection on " + f.On.String() + "."
}

// factLines is what is known, lengths with their expanded uncertainty, and
// what is not.
func (d *decider) factLines() []string {
	var out, unknown []string
	facts, list := d.scene.factsOf(d.sub, d.rs)
	for _, l := range list {
		v := facts[l.Name]
		switch {
		case l.Name == body.FactKind:
		case v.Known:
			out = append(out, "- "+body.Fact(l.Name).BeforeValue()+": "+expanded(v))
		default:
			unknown = append(unknown, body.Fact(l.Name).BeforeValue())
		}
	}
	if len(unknown) > 0 {
		out = append(out, "- not known: "+strings.Join(unknown, ", "))
	}
	return out
}

// expanded writes a measured number and says what stands after the ±.
func expanded(v rule.Value) string {
	if v.Kind != rule.Number || v.Std == 0 {
		return v.String()
	}
	return v.String() + " (expanded uncertainty, k = 2)"
}

// tableLines is what the table says about every kind.
func (d *decider) tableLines() []string {
	var out []string
	for _, o := range d.table {
		out = append(out, "- "+KindText(o)+": "+o.Verdict.String()+", "+o.Because)
	}
	if len(out) > 0 {
		out = slices.Insert(out, 0, "By the rows we hold:")
	}
	return out
}

// rowAsks says that a row that applies asks the manufacturer.
func (d *decider) rowAsks() bool {
	for i, r := range d.view.Whole {
		if r.State == rule.Applies && d.rs.Proc.Rows[i].Ask != "" {
			return true
		}
	}
	return false
}

// proposal is the mildest treatment that the procedure has for findings of
// this sort and that the manufacturer could permit here.
func (d *decider) proposal() string {
	const ending = " Please answer with the document, the conditions and the day until which the answer holds."
	for _, fits := range []func(Option) bool{
		func(o Option) bool { return o.Verdict == Ask },
		d.forbiddenUntilAnswered,
		func(o Option) bool { return o.Verdict == Undecided },
	} {
		for _, o := range d.table {
			if fits(o) && d.suits(o) {
				return "We propose: " + string(o.Kind) + ". May this be done?" + ending
			}
		}
	}
	return "Which treatment is permitted?" + ending
}

// forbiddenUntilAnswered says that only rows that ask forbid it.
func (d *decider) forbiddenUntilAnswered(o Option) bool {
	for _, r := range d.rs.Proc.Rows {
		if slices.Contains(o.Rows, r.ID) && r.Ask == "" {
			return false
		}
	}
	return o.Verdict == Forbidden
}

// suits says that some row allows the treatment for this kind of defect and
// this kind of part: a crack is not dressed, a casting is no bolt-on part.
func (d *decider) suits(o Option) bool {
	for i, r := range d.rs.Proc.Rows {
		if !slices.Contains(r.Allow, o.Kind) {
			continue
		}
		ok := true
		for j, c := range d.rs.Table.Rows()[i].Conds {
			ok = ok && !(body.Fact(c.Fact).Sort && d.view.Whole[i].Conds[j].State == rule.NotMet)
		}
		if ok {
			return true
		}
	}
	return false
}
