package decide

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/job"
	"fettle/internal/rule"
	"fettle/internal/unit"
)

// validAnswers are the answers for a finding that are used today; the others
// are named in notes. An answer holds from its day until the day before it
// expires, for its own vehicle and its own finding only, and as long as nothing the
// manufacturer was told has become worse; and it allows only by the manufacturer's
// own words, kept with the job under their hash. What it forbids
// it forbids in any case: neither a lapse of time nor a paper that is missing
// ever permits.
func (s *scene) validAnswers(id job.FindingID) ([]job.Answer, []diag.Note) {
	in := s.in
	var out []job.Answer
	var notes []diag.Note
	for _, a := range in.Job.Answers {
		if a.Finding != id {
			continue
		}
		if a.VIN != in.Job.Vehicle.VIN {
			n := blocks(string(id), diag.Say("decide.answer-other-vehicle", "answer {answer} is for vehicle {vehicle}; it is not used", a.ID, quoted(a.VIN)), "ask for this vehicle: an answer never spreads to another", a.Document)
			notes = append(notes, n)
			continue
		}
		caution := func(said diag.Said) {
			notes = append(notes, said.Note(diag.Note{Severity: diag.Caution, Where: string(id), Source: a.Document}))
		}
		a, judged := s.judgedOn(a)
		if why := s.allowsNothing(a, judged); why.Text != "" {
			if len(a.Forbid) > 0 {
				why = why.And(diag.Say("decide.answer-still-forbids", ", what it forbids stays forbidden"))
			}
			caution(why)
			if a.Allow = nil; len(a.Forbid) == 0 {
				continue
			}
		}
		if a.Conditions != "" {
			caution(diag.Say("decide.answer-conditions", "answer {answer} holds under conditions: {conditions}", a.ID, a.Conditions))
		}
		out = append(out, a)
	}
	return out, notes
}

// allowsNothing says why an answer for this vehicle allows nothing on a day; nothing
// when it does.
func (s *scene) allowsNothing(a job.Answer, on unit.Date) diag.Said {
	if why := s.in.Job.Lapses(a, s.in.Shop, on, s.in.acts()); why.Text != "" {
		return why
	}
	if outgrown := s.outgrown(a); outgrown != "" {
		return diag.Say("decide.answer-outgrown", "answer {answer} allows nothing any more: it was given for other facts: {facts}; ask again", a.ID, outgrown)
	}
	return diag.Said{}
}

// current says that one of the answers has not expired, is for the facts as they are,
// and that its conditions are not surely missed.
func (d *decider) current() bool {
	return slices.ContainsFunc(d.answers, func(a job.Answer) bool {
		speaks := len(a.Allow) > 0 && d.scene.holds(a, d.facts, false) != rule.DoesNotApply || len(a.Forbid) > 0 && d.scene.holds(a, d.facts, true) != rule.DoesNotApply
		_, judged := d.scene.judgedOn(a)
		return speaks && judged.Before(a.Expires) && d.scene.outgrown(a) == ""
	})
}

func quoted(s string) string {
	if s == "" {
		return "that it does not name"
	}
	return s
}

// applyAnswers lets the manufacturer's answers for this finding speak over the
// table: that is their purpose. What an answer forbids is forbidden, whatever
// else allows it. Every override is said in the option's reason. An answer with
// conditions speaks only where they are met.
func (s *scene) applyAnswers(options []Option, answers []job.Answer, facts rule.Facts) []Option {
	out := slices.Clone(options)
	for _, k := range answeredKinds(answers) {
		forbids, mayForbid := s.speaking(answers, k, true, facts)
		allows, mayAllow := s.speaking(answers, k, false, facts)
		switch {
		case forbids.ID != "":
			out = replaceKind(out, k, func(o Option) Option { return overridden(o, Forbidden, forbids, s.in.Today) })
			continue
		case k == body.SectionOff && (allows.ID != "" || mayAllow.ID != ""):
			out = s.allowSection(out, answers, facts)
		case allows.ID != "":
			out = replaceKind(out, k, func(o Option) Option { return overridden(o, Allowed, allows, s.in.Today) })
		case mayAllow.ID != "":
			out = replaceKind(out, k, func(o Option) Option { return open(o, mayAllow, "allows") })
		}
		if mayForbid.ID != "" {
			out = replaceKind(out, k, func(o Option) Option { return open(o, mayForbid, "forbids") })
		}
	}
	sortOptions(out)
	return out
}

// speaking is the last answer that forbids, or allows, the kind and whose conditions
// are met; and the last of which that is open.
func (s *scene) speaking(answers []job.Answer, k body.TreatmentKind, forbid bool, facts rule.Facts) (does, may job.Answer) {
	var met, open []job.Answer
	for _, a := range answers {
		switch s.holds(a, facts, forbid) {
		case rule.Applies:
			met = append(met, a)
		case rule.RowUnknown, rule.RowUndecided:
			open = append(open, a)
		}
	}
	if !forbid { // of several that allow it, the one under which it was carried out
		if under := slices.DeleteFunc(slices.Clone(met), func(a job.Answer) bool { done, _, ok := s.carriedOut(a); return !ok || done != k }); len(under) > 0 {
			met = under
		}
	}
	return answerFor(met, k, forbid), answerFor(open, k, forbid)
}

// holds is whether the conditions of an answer are met, for the finding as a whole and
// for each of its zones alone: an answer allows only when all of that meets them, and
// forbids when any does.
func (s *scene) holds(a job.Answer, facts rule.Facts, forbid bool) rule.RowState {
	if len(a.When) == 0 {
		return rule.Applies
	}
	table := rule.NewTable([]rule.Row{{ID: a.ID, Conds: conditions(a.When)}})
	states := []rule.RowState{table.Eval(facts, s.confidence())[0].State}
	for _, z := range eachZone(facts) {
		states = append(states, table.Eval(facts.With(body.FactZones, rule.SetValue(z)), s.confidence())[0].State)
	}
	decisive, other := rule.DoesNotApply, rule.Applies
	if forbid {
		decisive, other = other, decisive
	}
	out := other
	for _, x := range states {
		switch {
		case x == decisive:
			return decisive
		case x.Open():
			out = x
		}
	}
	return out
}

// conditions reads conditions, in the order of their facts. One that cannot be read is
// always unknown.
func conditions(when map[string]string) []rule.Cond {
	var out []rule.Cond
	for _, n := range doc.Keys(when) {
		def := body.Fact(n)
		c, err := rule.ParseCond(n, rule.Kind(def.Kind), def.Unit, when[n])
		if !body.IsFact(n) || err != nil {
			c = rule.Unreadable(n, when[n])
		}
		out = append(out, c)
	}
	return out
}

// withAnswers adds the facts that conditions of answers look at and the table does
// not.
func (s *scene) withAnswers(sub *subject, facts rule.Facts, answers []job.Answer) rule.Facts {
	out := facts
	for _, d := range body.FactDefs() {
		named := slices.ContainsFunc(answers, func(a job.Answer) bool { _, ok := a.When[d.Name]; return ok })
		if _, have := out[d.Name]; named && !have {
			v := s.fact(d.Name, sub).value
			v.Kind, v.Unit = rule.Kind(d.Kind), d.Unit
			out = out.With(d.Name, v)
			s.marginsOf(sub, out)
		}
	}
	return out
}

// open makes an option undecided when it is open whether an answer speaks.
func open(o Option, a job.Answer, word string) Option {
	if o.Verdict == Forbidden && word == "forbids" || o.Verdict == Allowed && word == "allows" {
		return o
	}
	o.Because = "it is open whether " + answerName(a) + " " + word + " it, when " + WhenText(a.When) + " (" + o.Verdict.String() + ": " + o.Because + ")"
	o.Verdict, o.Cite = Undecided, CiteOf(a)
	return o
}

func answeredKinds(answers []job.Answer) []body.TreatmentKind {
	var out []body.TreatmentKind
	for _, a := range answers {
		for _, k := range append(append([]body.TreatmentKind(nil), a.Allow...), a.Forbid...) {
			if !slices.Contains(out, k) {
				out = append(out, k)
			}
		}
	}
	sortKinds(out)
	return out
}

// answerFor is the last answer that forbids, or allows, the kind.
func answerFor(answers []job.Answer, k body.TreatmentKind, forbid bool) job.Answer {
	var last job.Answer
	for _, a := range answers {
		list := a.Allow
		if forbid {
			list = a.Forbid
		}
		if slices.Contains(list, k) && (last.ID == "" || last.On.Before(a.On) || (last.On == a.On && last.ID < a.ID)) {
			last = a
		}
	}
	return last
}

// replaceKind changes the options of a kind, adding one when there is none.
func replaceKind(options []Option, k body.TreatmentKind, change func(Option) Option) []Option {
	found := false
	for i, o := range options {
		if o.Kind == k {
			options[i], found = change(o), true
		}
	}
	if !found {
		options = append(options, change(Option{Kind: k, Rows: []string{}, Because: "no row speaks of it"}))
	}
	return options
}

func overridden(o Option, v Verdict, a job.Answer, today unit.Date) Option {
	word := "allows"
	if v == Forbidden {
		word = "forbids"
	}
	text := answerName(a) + " " + word + " it for this vehicle"
	if len(a.When) > 0 {
		text += ", when " + WhenText(a.When)
	}
	if a.Conditions != "" {
		text += ", under conditions: " + a.Conditions
	}
	if v == Allowed && !lasts(a, today) {
		text += "; it has expired since, on " + a.Until() + ", after this was carried out"
	}
	if o.Verdict != v {
		text += "; it overrides the table (" + o.Verdict.String() + ": " + o.Because + ")"
	}
	o.Verdict, o.Because, o.Cite, o.Answer = v, text, CiteOf(a), a.ID
	return o
}

func answerName(a job.Answer) string {
	return "answer " + a.ID + " of " + a.On.String() + " by " + a.By
}

func CiteOf(a job.Answer) string {
	if a.Document == "" {
		return "answer " + a.ID + ", no document"
	}
	return "answer " + a.ID + ", document " + a.Document
}

// allowSection needs a line to cut along: the answers allow those the finding lies
// outboard of, each looked at alone.
func (s *scene) allowSection(options []Option, answers []job.Answer, facts rule.Facts) []Option {
	lines := facts[body.FactOutboard]
	first := Option{Kind: body.SectionOff, Rows: []string{}, Because: "no row speaks of it"}
	rest := options[:0:0]
	per := map[body.LineID]Option{}
	for _, o := range options {
		if o.Kind != body.SectionOff {
			rest = append(rest, o)
			continue
		}
		first, per[o.Line] = o, o
	}
	if !lines.Known || len(lines.Words) == 0 {
		a, may := s.speaking(answers, body.SectionOff, false, facts)
		if a.ID == "" {
			a = may
		}
		first.Because = answerName(a) + " allows a section, but the finding is not known to lie outboard of a section line"
		first.Verdict, first.Line, first.Cite = Ask, "", CiteOf(a)
		return append(rest, first)
	}
	for _, l := range lines.Words {
		o, ok := per[body.LineID(l)]
		if !ok {
			o = first
		}
		o.Line = body.LineID(l)
		a, may := s.speaking(answers, body.SectionOff, false, forLine(facts, l))
		switch {
		case a.ID != "":
			o = overridden(o, Allowed, a, s.in.Today)
		case may.ID != "":
			o = open(o, may, "allows")
		}
		rest = append(rest, o)
	}
	return rest
}

// sortOptions puts the mildest kind first, sections by line.
func sortOptions(options []Option) {
	slices.SortStableFunc(options, func(a, b Option) int {
		switch {
		case Milder(a.Kind, b.Kind):
			return -1
		case Milder(b.Kind, a.Kind):
			return 1
		}
		return strings.Compare(string(a.Line), string(b.Line))
	})
}

// answerText is the answers that were used, for people.
func answerText(answers []job.Answer, today unit.Date) string {
	parts := make([]string, len(answers))
	for i, a := range answers {
		t := answerName(a)
		if len(a.Allow) > 0 {
			t += ", allows " + JoinKinds(a.Allow)
		}
		if len(a.Forbid) > 0 {
			t += ", forbids " + JoinKinds(a.Forbid)
		}
		if len(a.When) > 0 {
			t += ", when " + WhenText(a.When)
		}
		if a.Conditions != "" {
			t += ", conditions: " + a.Conditions
		}
		parts[i] = t + ", " + validity(a, today)
	}
	return strings.Join(parts, "; ")
}

// lasts says that an answer has not expired by a day.
func lasts(a job.Answer, today unit.Date) bool { return today.Before(a.Expires) }

func validity(a job.Answer, today unit.Date) string {
	if lasts(a, today) {
		return "valid until the day before " + a.Expires.String()
	}
	return "expired on " + a.Until()
}
