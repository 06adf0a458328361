package decide

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/rule"
	"fettle/internal/unit"
)

// An acceptance is told when its treatment is not allowed, whatever reason is given, and without
// a reason when it rests on an answer or when a milder treatment is allowed; a harsher one that
// is allowed, a milder one that is not, and what is allowed of another finding ask for none. Every
// combination, in the words of docs/methods/decision.md.
func TestAcceptancesAgainstTheDecision(t *testing.T) {
	for _, v := range []Verdict{Allowed, Undecided, Ask, Forbidden} {
		for k := range 64 {
			has := func(bit int) bool { return k>>bit&1 == 1 }
			if has(0) && v != Allowed {
				continue // an answer that decides it
			}
			o := Option{Kind: body.WeldBacking, Verdict: v, Because: "so it is", Cite: "C 1"}
			if has(0) {
				o.Answer = "A1"
			}
			verdict := func(bit int) Verdict {
				if has(bit) {
					return Allowed
				}
				return Ask
			}
			r := Result{Findings: []Finding{{ID: "F2", Options: []Option{{Kind: body.Leave, Verdict: verdict(1)}}},
				{ID: "F1", Options: []Option{{Kind: body.Weld, Verdict: verdict(2)}, o, {Kind: body.ReplaceCasting, Verdict: verdict(3)}}}}}
			a := job.Accepted{Finding: "F1", Kind: body.WeldBacking, By: "T1"}
			if has(4) {
				a.Reason = "the part is short"
			}
			if has(5) {
				a.Finding = "F3" // nobody decided it
			}
			want := ""
			switch {
			case has(5) || v != Allowed:
				want = CodeAcceptedForbidden
			case !has(4) && (has(0) || has(2)):
				want = CodeAcceptedUnreasoned
			}
			got := Acceptances(&job.State{Accepted: []job.Accepted{{Finding: "F2", Kind: body.Leave, By: "T1"}, a}}, r)
			got = slices.DeleteFunc(got, func(f AcceptanceFault) bool { return f.At == 0 })
			if len(got) > 1 || (len(got) == 1) != (want != "") || want != "" && (got[0].Note.Code != want || !got[0].Note.Blocks() || got[0].Note.Where != string(a.Finding) || got[0].At != 1) {
				t.Fatalf("%s, %b: %+v, want %q", v, k, got, want)
			}
			if want == CodeAcceptedUnreasoned && strings.Contains(got[0].Note.Text, "answer A1") != has(0) {
				t.Fatalf("%s, %b: %s", v, k, got[0].Note.Text)
			}
		}
	}
}

// A finding has a treatment of one kind and one line, and no other's; of none the option permits
// nothing.
func TestOptionOfAFinding(t *testing.T) {
	r := Result{Findings: []Finding{{ID: "F1", Options: []Option{{Kind: body.Weld, Verdict: Forbidden}, {Kind: body.SectionOff, Line: "L1", Verdict: Allowed}, {Kind: body.SectionOff, Line: "L2", Verdict: Ask, Cite: "2"}}},
		{ID: "F2", Options: []Option{{Kind: body.Weld, Verdict: Allowed}}}}}
	for _, k := range []struct {
		id   job.FindingID
		kind body.TreatmentKind
		line body.LineID
		want Verdict
		ok   bool
	}{
		{"F1", body.Weld, "", Forbidden, true}, {"F2", body.Weld, "", Allowed, true}, {"F1", body.SectionOff, "L1", Allowed, true}, {"F1", body.SectionOff, "L2", Ask, true},
		{"F1", body.SectionOff, "", Ask, false}, {"F1", body.Weld, "L1", Ask, false}, {"F2", body.SectionOff, "L1", Ask, false}, {"F3", body.Weld, "", Ask, false},
	} {
		if o, ok := r.Option(k.id, k.kind, k.line); o.Verdict != k.want || ok != k.ok || !ok && o.Because == "" {
			t.Errorf("%s, %s, %s: %+v %v", k.id, k.kind, k.line, o, ok)
		}
	}
}

// pointed is a world whose control point Q1 was asked about on 1 March 2030, answered on the 2nd
// until the 20th, by somebody who may, in a document that is kept. Today is the 5th.
func pointed() *world {
	w := newWorld()
	w.in.Body.Points = []body.Point{{ID: "Q1"}, {ID: "Q2"}}
	w.in.Today = day(2030, 3, 5)
	j := w.in.Job
	j.Questions = []job.Asked{{ID: "Q-Q1", Point: "Q1", On: day(2030, 3, 1), By: "planner"}}
	j.Answers = []job.Answer{{ID: "A1", Point: "Q1", Question: "Q-Q1", VIN: j.Vehicle.VIN, Allow: []body.TreatmentKind{body.Leave}, By: "desk", RecordedBy: "T1", On: day(2030, 3, 2), Expires: day(2030, 3, 20), Document: "E1"}}
	j.Readings = []job.Reading{{Setup: "S1", From: "Q1"}}
	return w
}

// How far a question about a control point has got, and under which number the next one goes.
// Source: docs/methods/decision.md.
func TestQuestionsAboutAPoint(t *testing.T) {
	for _, k := range []struct {
		name   string
		change func(*world)
		id     string
		state  QuestionState
		open   bool
		by     string
	}{
		{"nothing sent", func(w *world) { w.in.Job.Questions, w.in.Job.Answers = nil, nil }, "Q-Q1", ToBeSent, true, ""},
		{"sent", func(w *world) { w.in.Job.Answers = nil }, "Q-Q1", Waiting, true, ""},
		{"sent, measured before", func(w *world) {
			w.in.Job.Answers = nil
			w.in.Job.Setups = []job.Setup{{ID: "S1", On: day(2030, 3, 1)}}
		}, "Q-Q1", Waiting, true, ""},
		{"sent, measured again since", func(w *world) {
			w.in.Job.Answers = nil
			w.in.Job.Setups = []job.Setup{{ID: "S1", On: day(2030, 3, 2)}}
		}, "Q-Q1-2", AnswerExpired, true, ""},
		{"answered", func(*world) {}, "Q-Q1", Answered, false, "desk"},
		{"answered, another vehicle", func(w *world) { w.in.Job.Answers[0].VIN = "X" }, "Q-Q1-2", AnswerExpired, true, "desk"},
		{"answered, expired", func(w *world) { w.in.Today = day(2030, 3, 20) }, "Q-Q1-2", AnswerExpired, true, "desk"},
		{"answered, the last day", func(w *world) { w.in.Today = day(2030, 3, 19) }, "Q-Q1", Answered, false, "desk"},
		{"answered, measured again", func(w *world) { w.in.Job.Setups = []job.Setup{{ID: "S1", On: day(2030, 3, 2)}} }, "Q-Q1-2", AnswerExpired, true, "desk"},
		{"forbidden", func(w *world) {
			w.in.Job.Answers[0].Allow, w.in.Job.Answers[0].Forbid = nil, []body.TreatmentKind{body.Leave}
		}, "Q-Q1-2", AnswerExpired, true, "desk"},
		{"asked again", func(w *world) {
			w.in.Job.Questions = append(w.in.Job.Questions, job.Asked{ID: "Q-Q1-2", Point: "Q1", On: day(2030, 3, 3)})
			w.in.Job.Answers[0].Expires = day(2030, 3, 3)
		}, "Q-Q1-2", Waiting, true, ""},
		{"two numbers given", func(w *world) {
			w.in.Job.Questions = append(w.in.Job.Questions, job.Asked{ID: "Q-Q1-2", Point: "Q1", On: day(2030, 3, 2)})
			w.in.Job.Answers[0].Expires = day(2030, 3, 3)
		}, "Q-Q1-3", AnswerExpired, true, "desk"},
		{"another point", func(w *world) { w.in.Job.Questions[0].Point, w.in.Job.Answers[0].Point = "Q2", "Q2" }, "Q-Q1-2", ToBeSent, true, ""},
	} {
		w := pointed()
		k.change(w)
		q := AskPoint(w.in, "Q1", "may it stay?")
		if q.ID != k.id || q.State != k.state || q.Open != k.open || q.By != k.by || q.Point != "Q1" || q.Text != "may it stay?" || q.Finding != "" {
			t.Errorf("%s: %+v, want %s %q open %v", k.name, q, k.id, k.state, k.open)
		}
		if left := LeftByAnswer(w.in); slices.Contains(left, "Q1") != (k.state == Answered) || slices.Contains(left, "Q2") != (k.name == "another point") {
			t.Errorf("%s: %v may stay", k.name, left)
		}
		if k.by != "" && (q.Answer != w.in.Job.Answers[0].On || q.Expires != w.in.Job.Answers[0].Expires) || k.by == "" && (!q.Answer.IsZero() || !q.Expires.IsZero()) {
			t.Errorf("%s: answered %s until %s", k.name, q.Answer, q.Expires)
		}
	}
}

// The kinds are in their order from the mildest, kinds that nobody knows behind them, by name.
func TestOrderOfKinds(t *testing.T) {
	all := append(body.TreatmentKinds(), "aaa", "zzz")
	for i, a := range all {
		for k, b := range all {
			if Milder(a, b) != (i < k) {
				t.Errorf("%s is milder than %s: %v", a, b, Milder(a, b))
			}
		}
		if want := min(i, len(body.TreatmentKinds())); Rank(a) != want {
			t.Errorf("%s has rank %d, want %d", a, Rank(a), want)
		}
		if got := staysInVehicle(a); got == slices.Contains([]body.TreatmentKind{body.SectionOff, body.Exchange, body.ReplacePart, body.ReplaceCasting}, a) {
			t.Errorf("%s leaves the spot in the vehicle: %v", a, got)
		}
	}
	for a, want := range map[Verdict]string{Allowed: "allowed", Ask: "ask", Undecided: "undecided", Forbidden: "forbidden", Verdict(9): "ask"} {
		if text, err := a.MarshalText(); a.String() != want || err != nil || string(text) != want {
			t.Errorf("%d: %s, %s, %v", a, a, text, err)
		}
	}
	strictest := []Verdict{Allowed, Undecided, Ask, Forbidden}
	for i := 1; i < len(strictest); i++ {
		if strictest[i].strictness() <= strictest[i-1].strictness() {
			t.Errorf("%s is no stricter than %s", strictest[i], strictest[i-1])
		}
	}
	if Verdict(9).strictness() < Ask.strictness() {
		t.Error("a verdict nobody knows is milder than asking")
	}
}

// The verdict on a finding is the best of its options: forbidden only when every kind of treatment
// is, but for a new part where no row speaks of it. Every combination of verdicts on three kinds,
// the others forbidden.
func TestVerdictOfAFinding(t *testing.T) {
	verdicts := []Verdict{Allowed, Undecided, Ask, Forbidden}
	for n := range 4 * 4 * 5 {
		of := map[body.TreatmentKind]Verdict{}
		for _, k := range body.TreatmentKinds() {
			of[k] = Forbidden
		}
		of[body.Weld], of[body.Leave] = verdicts[n%4], verdicts[n/4%4]
		if n/16 < 4 {
			of[body.ReplacePart] = verdicts[n/16]
		} else {
			delete(of, body.ReplacePart)
		}
		var options []Option
		want := Forbidden
		for k, v := range of {
			options = append(options, Option{Kind: k, Verdict: v})
			if v == Allowed || v == Undecided && want != Allowed || v == Ask && want == Forbidden {
				want = v
			}
		}
		if got := Best(options); got != want {
			t.Fatalf("%v: %s, want %s", of, got, want)
		}
	}
	if Best(nil) != Ask || Best([]Option{{Kind: body.Weld, Verdict: Forbidden}}) != Ask {
		t.Error("what nobody speaks of is not to be asked about")
	}
}

// Of the revisions of a procedure the one that took effect last is used; on one day the one that
// takes the place of the other, then the one issued later, then the last by name. Two of one day of
// which neither takes the other's place, and two procedures, are told. Each pair, in both orders.
func TestWhichRevisionIsUsed(t *testing.T) {
	base := func(id, rev string) body.Procedure {
		p := checkProcedure()
		p.ID, p.Revision, p.Supersedes = body.ProcedureID(id), rev, ""
		return p
	}
	for name, k := range map[string]struct {
		change func(a, b *body.Procedure)
		note   string
	}{
		"later effect":             {func(a, b *body.Procedure) { a.Effective = b.Effective.AddDays(-1) }, ""},
		"superseded that day":      {func(a, b *body.Procedure) { a.Revision, b.Revision, b.Supersedes = "Z", "B", "Z" }, ""},
		"later issue":              {func(a, b *body.Procedure) { a.Revision, b.Revision, a.Issued = "Z", "B", b.Issued.AddDays(-1) }, "took effect on the same day"},
		"by name of the revision":  {func(a, b *body.Procedure) { a.Revision, b.Revision = "A", "B" }, "took effect on the same day"},
		"by name of the procedure": {func(a, b *body.Procedure) { a.ID, b.ID = "A", "B" }, "has two procedures in effect"},
		"two procedures":           {func(a, b *body.Procedure) { a.ID, a.Effective = "Z", b.Effective.AddDays(-1) }, "has two procedures in effect"},
	} {
		a, b := base("CHECK", "A"), base("CHECK", "B")
		k.change(&a, &b)
		for _, order := range [][]body.Procedure{{a, b}, {b, a}} {
			w := newWorld()
			w.in.Body.Procedures = order
			w.crack("F1", 20, 1, "OPEN-1")
			res, notes := Run(w.in)
			if p := res.Procedures[0]; p.Procedure != b.ID || p.Revision != b.Revision || p.Title != b.Title || p.Effective != b.Effective || p.Recheck != b.Recheck {
				t.Errorf("%s: %+v is used", name, p)
			}
			n := code(notes, "decide.procedure-ambiguous")
			if (n != nil) != (k.note != "") || n != nil && !strings.Contains(n.Text, k.note) {
				t.Errorf("%s: %+v, want %q", name, n, k.note)
			}
		}
	}
	for _, k := range []struct {
		a, b body.Procedure
		want bool
	}{{body.Procedure{ID: "P", Supersedes: "1"}, body.Procedure{ID: "P", Revision: "1"}, true}, {body.Procedure{ID: "Q", Supersedes: "1"}, body.Procedure{ID: "P", Revision: "1"}, false},
		{body.Procedure{ID: "P"}, body.Procedure{ID: "P"}, false}, {body.Procedure{ID: "P", Supersedes: "2"}, body.Procedure{ID: "P", Revision: "1"}, false}} {
		if replaces(&k.a, &k.b) != k.want {
			t.Errorf("%+v takes the place of %+v: %v", k.a, k.b, !k.want)
		}
	}
}

// Everything that keeps a revision from being relied on is told: both reasons where there are two.
func TestWhyARevisionIsNotRelied(t *testing.T) {
	w := newWorld()
	w.crack("F1", 20, 1, "OPEN-1")
	w.in.Today, w.in.Job.Checks = day(2030, 9, 1), nil
	res, notes := Run(w.in)
	const looked, checked = "CHECK revision B had to be looked up again before 2030-09-01", "nobody has looked up whether CHECK revision B is the current revision since it took effect on 2030-02-01"
	if got := res.Procedures[0].Why; got != looked+"; "+checked {
		t.Errorf("%q", got)
	}
	if n := code(notes, "decide.procedure-expired"); n == nil || n.Text != "check the current revision: "+looked || n.Where != "FRONT" || n.Hint == "" || n.Source != w.in.Body.Procedures[0].Source {
		t.Errorf("%+v", n)
	}
	if n := code(notes, "decide.revision-unchecked"); n == nil || n.Text != "check the current revision: "+checked {
		t.Errorf("%+v", n)
	}
}

// A month is a calendar month: from any day to any later one there are as many as can be walked,
// and the rest is a share of the next. Every day of two years from each of some days.
func TestMonthsByTheCalendar(t *testing.T) {
	for _, from := range []unit.Date{day(2027, 12, 31), day(2028, 1, 30), day(2028, 2, 29), day(2028, 3, 15), day(2028, 11, 1)} {
		last := -1.0
		for n := range 730 {
			to := from.AddDays(n)
			got := months(from, to)
			if got <= last {
				t.Fatalf("from %s to %s: %v, the day before %v", from, to, got, last)
			}
			last = got
			whole := int(got)
			if start, end := monthsLater(from, whole), monthsLater(from, whole+1); to.Before(start) || !to.Before(end) {
				t.Fatalf("from %s to %s: %v months", from, to, got)
			}
			if later := monthsLater(from, whole); to == later && got != float64(whole) || later.Day != min(from.Day, lastDay(later)) || (later.Year*12+int(later.Month))-(from.Year*12+int(from.Month)) != whole {
				t.Fatalf("%d months after %s is %s", whole, from, later)
			}
		}
	}
}

func lastDay(d unit.Date) int {
	for n := 31; ; n-- {
		if x := (unit.Date{Year: d.Year, Month: d.Month, Day: n}); unit.DateOf(x.Time()) == x {
			return n
		}
	}
}

// What would change a number is said with the words of its fact, rounded up so that it holds, with
// the limit that is crossed: the nearer one of two. Constructed.
func TestDifferencesInWords(t *testing.T) {
	for _, k := range []struct {
		fact   string
		by     float64
		beyond bool
		unit   string
		want   string
	}{
		{body.FactLength, -3.71, false, "mm", "3.8 mm shorter"}, {body.FactLength, 3.7, false, "mm", "3.7 mm longer"}, {body.FactTemp, 0.61, false, "C", "0.7 C warmer"}, {body.FactTemp, -2, true, "C", "more than 2 C colder"},
		{body.FactBore, 0.01, false, "mm", "0.1 mm more"}, {body.FactDepth, -0.01, true, "mm", "more than 0.1 mm less"}, {"nothing", -1, false, "", "1 less"},
	} {
		if got := difference(k.fact, rule.Flip{By: k.by, Beyond: k.beyond}, k.unit); got != k.want {
			t.Errorf("%s by %v: %q, want %q", k.fact, k.by, got, k.want)
		}
	}
	for _, k := range []struct {
		text string
		at   float64
		want string
	}{{"<= 24 mm", 24, "24 mm"}, {">= 10 mm", 12, "10 mm"}, {">= 10 mm and <= 24 mm", 12, "10 mm"}, {">= 10 mm and <= 24 mm", 22, "24 mm"}, {">= 10 mm and <= 24 mm", 17, "10 mm"}} {
		c, err := rule.ParseCond("length", rule.Number, "mm", k.text)
		if err != nil {
			t.Fatal(err)
		}
		if got := limitOf(c, rule.Flip{At: k.at}); got != k.want {
			t.Errorf("%s at %v: %q, want %q", k.text, k.at, got, k.want)
		}
	}
	d := &decider{rs: &Ruleset{Proc: body.Procedure{TipVisual: 3}}}
	for add, want := range map[float64]string{3: "1 × 3 mm", 6: "2 × 3 mm", 4: "4 mm", 1.4: "1.4 mm", 6.0000001: "2 × 3 mm"} {
		if got := d.allowance(add); got != want {
			t.Errorf("%v: %q, want %q", add, got, want)
		}
	}
	d.rs.Proc.TipVisual = 0
	if got := d.allowance(6); got != "6 mm" {
		t.Errorf("%q", got)
	}
	if atThis(rule.NumberValue(3, 0, "mm")) != "" || atThis(rule.NumberValue(3, 1, "mm")) == "" {
		t.Error("the uncertainty is not told")
	}
}

// What is tried for a fact that is missing meets, or misses, each condition that rows have on it,
// and is said in the words of the condition. Each form of condition.
func TestTrialsMeetAndMiss(t *testing.T) {
	for _, k := range []struct {
		kind       rule.Kind
		unit, text string
		both       bool
	}{
		{rule.Bool, "", "yes", true}, {rule.Bool, "", "no", true}, {rule.Text, "", "visual or penetrant", true}, {rule.Text, "", "not visual", true}, {rule.Set, "", "any of A, B", false},
		{rule.Number, "mm", "<= 24 mm", true}, {rule.Number, "mm", "< 24 mm", true}, {rule.Number, "mm", ">= 24 mm", true}, {rule.Number, "mm", "> 24 mm", true}, {rule.Number, "", "= 2", true},
		{rule.Number, "mm", ">= 0 mm", false}, {rule.Number, "mm", "<= 0 mm", true}, {rule.Number, "mm", ">= 3 mm and <= 9 mm", true},
	} {
		c, err := rule.ParseCond("f", k.kind, k.unit, k.text)
		if err != nil {
			t.Fatal(err)
		}
		ends := map[rule.CondState]int{}
		for _, x := range trials(c) {
			s := c.Eval(x.value, 0.95).State
			ends[s]++
			if x.text == "" || x.value.Kind != k.kind || k.kind == rule.Number && (x.text == "not "+c.Text) != (s == rule.NotMet) || x.value.Number < 0 {
				t.Errorf("%s: %+v ends %v", k.text, x, s)
			}
		}
		if k.both && (ends[rule.Met] == 0 || ends[rule.NotMet] == 0) || len(ends) > 2 || ends[rule.CondUnknown]+ends[rule.CondUndecided] > 0 {
			t.Errorf("%s: %v", k.text, ends)
		}
	}
}

// answered is the texts of an answer: what it says, on what condition and until when.
func TestAnswersInWords(t *testing.T) {
	a := job.Answer{ID: "A1", By: "desk", On: day(2030, 3, 1), Expires: day(2030, 4, 1), Document: "E1"}
	const name = "answer A1 of 2030-03-01 by desk"
	for _, k := range []struct {
		change func(*job.Answer)
		today  unit.Date
		want   string
	}{
		{func(*job.Answer) {}, day(2030, 3, 31), name + ", valid until the day before 2030-04-01"},
		{func(a *job.Answer) { a.Allow = []body.TreatmentKind{body.Weld, body.Dress} }, day(2030, 4, 1), name + ", allows weld, dress, expired on 2030-04-01"},
		{func(a *job.Answer) { a.Forbid = []body.TreatmentKind{body.Weld} }, day(2030, 3, 1), name + ", forbids weld, valid until the day before 2030-04-01"},
		{func(a *job.Answer) { a.When = map[string]string{"length": "<= 5 mm", "through": "no"} }, day(2030, 3, 1), name + ", when decision length <= 5 mm, through the wall no, valid until the day before 2030-04-01"},
		{func(a *job.Answer) { a.Conditions = "cold"; a.Expires = unit.Date{} }, day(2030, 3, 1), name + ", conditions: cold, expired on an unknown day"},
	} {
		x := a
		k.change(&x)
		if got := answerText([]job.Answer{x}, k.today); got != k.want {
			t.Errorf("%q, want %q", got, k.want)
		}
		if got := answerText([]job.Answer{x, x}, k.today); got != k.want+"; "+k.want {
			t.Errorf("two: %q", got)
		}
	}
	for _, k := range []struct {
		before, v Verdict
		change    func(*job.Answer)
		today     unit.Date
		want      string
	}{
		{Allowed, Allowed, func(*job.Answer) {}, day(2030, 3, 2), name + " allows it for this vehicle"},
		{Ask, Allowed, func(*job.Answer) {}, day(2030, 3, 2), name + " allows it for this vehicle; it overrides the table (ask: so)"},
		{Allowed, Forbidden, func(a *job.Answer) { a.Conditions = "cold" }, day(2030, 5, 2), name + " forbids it for this vehicle, under conditions: cold; it overrides the table (allowed: so)"},
		{Allowed, Allowed, func(a *job.Answer) { a.When = map[string]string{"through": "no"} }, day(2030, 4, 1), name + " allows it for this vehicle, when through the wall no; it has expired since, on 2030-04-01, after this was carried out"},
	} {
		x := a
		k.change(&x)
		o := overridden(Option{Kind: body.Weld, Verdict: k.before, Because: "so", Cite: "old"}, k.v, x, k.today)
		if o.Because != k.want || o.Verdict != k.v || o.Answer != "A1" || o.Cite != "answer A1, document E1" || o.Kind != body.Weld {
			t.Errorf("%+v, want %q", o, k.want)
		}
	}
	if got := CiteOf(job.Answer{ID: "A2"}); got != "answer A2, no document" {
		t.Errorf("%q", got)
	}
	if quoted("") == "" || quoted("V") != "V" {
		t.Error("a vehicle that is not named")
	}
}

// What is open whether an answer says it stays what it is when the answer would say the same, and
// becomes undecided otherwise: nothing is permitted by what may be said.
func TestOpenAnswersPermitNothing(t *testing.T) {
	a := job.Answer{ID: "A1", By: "desk", On: day(2030, 3, 1), When: map[string]string{"through": "no"}}
	for _, word := range []string{"allows", "forbids"} {
		for _, v := range []Verdict{Allowed, Undecided, Ask, Forbidden} {
			o := open(Option{Verdict: v, Because: "so"}, a, word)
			if same := v == Allowed && word == "allows" || v == Forbidden && word == "forbids"; same && (o.Verdict != v || o.Because != "so") || !same && (o.Verdict != Undecided || !strings.Contains(o.Because, word+" it, when through the wall no ("+v.String()+": so)")) {
				t.Errorf("%s, %s: %+v", v, word, o)
			}
		}
	}
}

// Of the answers that say something about a kind the last one by its day is taken, of one day the
// last by its number; the order of the list has no say.
func TestTheLastAnswerSpeaks(t *testing.T) {
	mk := func(id string, on int, allow, forbid body.TreatmentKind) job.Answer {
		return job.Answer{ID: id, On: day(2030, 3, on), Allow: []body.TreatmentKind{allow}, Forbid: []body.TreatmentKind{forbid}}
	}
	all := []job.Answer{mk("A1", 2, body.Weld, body.Leave), mk("A2", 1, body.Weld, body.Dress), mk("A3", 2, body.Weld, body.Leave), mk("A4", 9, body.Leave, body.Exchange)}
	for _, order := range [][]int{{0, 1, 2, 3}, {3, 2, 1, 0}, {1, 3, 0, 2}, {2, 0, 3, 1}} {
		var list []job.Answer
		for _, i := range order {
			list = append(list, all[i])
		}
		for _, k := range []struct {
			kind   body.TreatmentKind
			forbid bool
			want   string
		}{{body.Weld, false, "A3"}, {body.Weld, true, ""}, {body.Leave, true, "A3"}, {body.Leave, false, "A4"}, {body.Dress, true, "A2"}, {body.SectionOff, false, ""}} {
			if got := answerFor(list, k.kind, k.forbid); got.ID != k.want {
				t.Errorf("%v, %s, forbids %v: %q, want %q", order, k.kind, k.forbid, got.ID, k.want)
			}
		}
		if got := fmt.Sprint(answeredKinds(list)); got != fmt.Sprint([]body.TreatmentKind{body.Leave, body.Dress, body.Weld, body.Exchange}) {
			t.Errorf("%s", got)
		}
	}
}
