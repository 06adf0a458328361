package decide

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide/fixture"
	"fettle/internal/diag"
	"fettle/internal/rule"
	"fettle/internal/unit"
)

var singleDay = fixture.Day(2030, 3, 1)

// saidOf is a fact as somebody says it.
func saidOf(name string, v rule.Value) Said {
	if v.Kind == rule.Number && v.Unit == "mm" && !math.IsInf(v.Number, 1) {
		return Said{name, fmt.Sprintf("%.17g +- %.17g mm", v.Number, rule.Coverage*v.Std)}
	}
	return Said{name, v.String()}
}

// TestWhatIsAllowedStaysAllowed draws procedures whose rows have no order among them and says a
// part of what is true of a spot. What is allowed then is allowed by the whole truth, whatever
// the rest is: by the rows with every fact known, where a neighbour within the gap makes
// the decision length any longer one.
func TestWhatIsAllowedStaysAllowed(t *testing.T) {
	rng := rand.New(rand.NewPCG(18, 2))
	allowed := 0
	for range draws(1500, 20000) {
		p := randomTable(rng)
		p.Effective, p.Recheck, p.TipVisual, p.GroupGap = fixture.Day(2030, 1, 1), fixture.Day(2031, 1, 1), unit.MM(rng.IntN(4)), unit.MM(rng.IntN(40))
		truth := randomFacts(rng)
		if rng.IntN(2) == 0 { // a neighbour about as far away as counts
			truth[body.FactSpacing] = rule.NumberValue(float64(p.GroupGap)+rng.Float64()*6, rng.Float64()*4, "mm")
		}
		truth[body.FactOnCasting] = rule.BoolValue(true)
		var said []Said
		known := rule.Facts{}
		for _, name := range slices.Sorted(maps.Keys(truth)) {
			if rng.IntN(6) > 0 && name != body.FactOnCasting {
				known[name] = truth[name]
				said = append(said, saidOf(name, truth[name]))
			}
		}
		r, err := Single{Procedure: p, Said: said, On: singleDay}.Rule()
		var wrong diag.Problems
		if errors.As(err, &wrong) { // such as a zone that no row names, or counts that contradict one another
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		rs := Compile(p, 0)
		for range 6 {
			full := truthWith(rng, p, known)
			options := rs.Options(rs.Look(full))
			for _, o := range r.Options {
				if o.Verdict != Allowed {
					continue
				}
				allowed++
				if !slices.ContainsFunc(options, func(x Option) bool { return x.Kind == o.Kind && x.Line == o.Line && x.Verdict == Allowed }) {
					t.Fatalf("%s is allowed where little is known, and not with all of\n%v\nsaid %v\nrows %+v", KindText(o), full, said, p.Rows)
				}
			}
		}
	}
	if allowed < 300 {
		t.Errorf("only %d were allowed: the law was hardly tried", allowed)
	}
}

// truthWith is a truth that what was said is true of.
func truthWith(rng *rand.Rand, p body.Procedure, known rule.Facts) rule.Facts {
	full := randomFacts(rng)
	maps.Copy(full, known)
	full[body.FactOnCasting] = rule.BoolValue(true)
	if _, said := known[body.FactSpacing]; !said && rng.IntN(2) == 0 {
		full[body.FactSpacing] = rule.NumberValue(rng.Float64()*float64(p.GroupGap), 0, "mm")
	}
	l, measured := known[body.FactLength]
	if !measured {
		return full
	}
	kind := body.FindingKind(full[body.FactKind].Words[0])
	tips, saidTips := known[body.FactTips]
	if crack := kind == body.Crack || kind == body.Break; crack {
		if !saidTips || tips.Words[0] == string(body.TipVisual) {
			l = l.At(l.Number + 2*float64(p.TipVisual))
		}
		// By the glossary: cracks so near to one another that the procedure counts them as one,
		// which they surely do not when the gap lies below the 5 % quantile (z = 1.6449).
		if next := full[body.FactSpacing]; p.GroupGap > 0 && next.Number-float64(1.6449*next.Std) <= float64(p.GroupGap) {
			l = l.At(l.Number + float64(float64(rng.IntN(2))*rng.Float64())*60)
		}
	} else if _, said := known[body.FactKind]; !said {
		l = l.At(l.Number + 2*float64(p.TipVisual)) // nobody said that it has no tips
	}
	full[body.FactLength] = l
	return full
}

// TestNoDayPermitsOutsideItsSpan: a revision permits from the day it takes effect to the last
// one before it has to be looked up again.
func TestNoDayPermitsOutsideItsSpan(t *testing.T) {
	p := checkProcedure() // in force 2030-02-01, to be looked up before 2030-09-01
	for day, want := range map[unit.Date]Verdict{
		{}: Undecided, fixture.Day(2030, 1, 31): Undecided, fixture.Day(2030, 2, 1): Allowed, fixture.Day(2030, 8, 31): Allowed, fixture.Day(2030, 9, 1): Undecided, fixture.Day(2040, 1, 1): Undecided,
	} {
		r, err := Single{Procedure: p, Said: []Said{{"kind", "crack"}}, On: day}.Rule()
		if err != nil || r.Verdict != want || (r.Barred == "") != (want == Allowed) || r.Permits() != (want == Allowed) {
			t.Errorf("on %s: %v (%s) %v", day, r.Verdict, r.Barred, err)
		}
		for _, o := range r.Options {
			if want != Allowed && o.Verdict == Allowed {
				t.Errorf("on %s %s is allowed", day, KindText(o))
			}
		}
	}
}

// TestDecisionLengthFromWhatIsSaid: by the check procedure, 3 mm for each tip seen by eye and
// cracks within 20 mm as one.
func TestDecisionLengthFromWhatIsSaid(t *testing.T) {
	length := Said{"length", "30 +- 2 mm"}
	for _, c := range []struct {
		said []Said
		want string
	}{
		{[]Said{length}, "36.0 ± 2.0 mm or more"},
		{[]Said{length, {"spacing", "unknown"}}, "36.0 ± 2.0 mm or more"},
		{[]Said{length, {"spacing", "none near"}}, "36.0 ± 2.0 mm"},
		{[]Said{length, {"spacing", "none near"}, {"tips", "visual"}}, "36.0 ± 2.0 mm"},
		{[]Said{length, {"spacing", "none near"}, {"tips", "penetrant"}}, "30.0 ± 2.0 mm"},
		{[]Said{length, {"spacing", "none near"}, {"tips", "stop-hole"}}, "30.0 ± 2.0 mm"},
		{[]Said{length, {"spacing", "20 +- 0 mm"}, {"tips", "penetrant"}}, "30.0 ± 2.0 mm or more"},
		{[]Said{length, {"spacing", "20.1 +- 0 mm"}, {"tips", "penetrant"}}, "30.0 ± 2.0 mm"},
		{[]Said{length, {"spacing", "22 +- 4 mm"}, {"tips", "penetrant"}}, "30.0 ± 2.0 mm or more"}, // nearer than the gap with 16 %
		{[]Said{length, {"spacing", "24 +- 4 mm"}, {"tips", "penetrant"}}, "30.0 ± 2.0 mm"},         // with 2 %
		{[]Said{length, {"kind", "break"}}, "36.0 ± 2.0 mm or more"},
		{[]Said{length, {"kind", "dent"}}, "30.0 ± 2.0 mm"}, // has no tips, and is in no group
		{[]Said{{"decision_length", "30 +- 2 mm"}}, "30.0 ± 2.0 mm"},
	} {
		r, err := Single{Procedure: checkProcedure(), Said: c.said, On: singleDay}.Rule()
		i := slices.IndexFunc(r.Facts, func(f Fact) bool { return f.Name == body.FactLength })
		if err != nil || i < 0 || r.Facts[i].Value != c.want {
			t.Errorf("%v: %+v %v, want %s", c.said, r.Facts, err, c.want)
		}
	}
	p := checkProcedure() // with a rule beyond the gap only the absence of others settles it
	p.Grouping = &body.Grouping{Name: "half sum", HalfSum: 1}
	for spacing, more := range map[string]bool{"500 +- 1 mm": true, "none near": false} {
		r, err := Single{Procedure: p, Said: []Said{length, {"spacing", spacing}}, On: singleDay}.Rule()
		if err != nil || strings.HasSuffix(r.Facts[len(r.Facts)-2].Value, "or more") != more {
			t.Errorf("spacing %s: %+v %v", spacing, r.Facts, err)
		}
	}
}

// TestWhatIsSaidWrongly: each is refused with the name of the fact and what would be right.
func TestWhatIsSaidWrongly(t *testing.T) {
	for _, c := range []struct {
		said []Said
		want string
	}{
		{[]Said{{"lenght", "30 +- 2 mm"}}, `lenght: there is no such fact; did you mean "length"?`},
		{[]Said{{"length", "30 mm"}}, `length: is said without its uncertainty; say how well it was measured: length="30 +- 1 mm"`},
		{[]Said{{"temperature", "20 C"}}, `temperature="20 +- 1 C"`},
		{[]Said{{"length", "30"}}, `length: value: the unit is missing after 30; write "30 mm"`},
		{[]Said{{"length", "-30 +- 2 mm"}}, "length: lies below zero"},
		{[]Said{{"count_in_zone", "1.5"}}, "count_in_zone: is no whole number"},
		{[]Said{{"count_in_zone", "2 +- 1"}}, "count_in_zone: is no whole number"},
		{[]Said{{"count_in_zone", "3"}, {"count_on_casting", "2"}}, "count_in_zone: is more than count_on_casting"},
		{[]Said{{"kind", "hole"}}, `kind: there is no "hole"; `},
		{[]Said{{"zones", "OPEN-3"}}, `zones: no row of the procedure names "OPEN-3"; did you mean "OPEN-1"?`},
		{[]Said{{"outboard_of", "LINE-7"}}, `outboard_of: no row of the procedure names "LINE-7"`},
		{[]Said{{"zones", "OPEN-1"}, {"on_casting", "no"}}, "zones: a zone is said of what is on no casting"},
		{[]Said{{"through", "maybe"}}, `"maybe" is neither yes nor no`},
		{[]Said{{"through", "yes"}, {"through", "no"}}, "through: is said twice; say it once"},
		{[]Said{{"length", "30 +- 2 mm"}, {"decision_length", "30 +- 2 mm"}}, "decision_length: is said beside the length as measured"},
		{[]Said{{"outboard_of", "LINE-1, LINE-2"}, {"section_margin", "4 +- 1 mm"}}, "section_margin: it is not said of which line"},
	} {
		q := Single{Procedure: checkProcedure(), Said: c.said, On: singleDay}
		_, err := q.Rule()
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), whatIsSaid) {
			t.Errorf("%v: %v, want %q", c.said, err, c.want)
		}
		if _, err := q.Table(); err == nil {
			t.Errorf("%v: a table of it", c.said)
		}
	}
}

// TestMissingIsWhatAnswersHangOn: saying everything that is named as missing leaves nothing
// undecided for want of a fact.
func TestMissingIsWhatAnswersHangOn(t *testing.T) {
	rng := rand.New(rand.NewPCG(18, 3))
	named := 0
	for range draws(200, 5000) {
		p := randomTable(rng)
		p.Effective, p.Recheck = fixture.Day(2030, 1, 1), fixture.Day(2031, 1, 1)
		truth := randomFacts(rng)
		for name, v := range truth { // exact, so that nothing is too uncertain
			v.Std = 0
			truth[name] = v
		}
		truth[body.FactOnCasting] = rule.BoolValue(true)
		said := []Said{saidOf(body.FactZones, truth[body.FactZones])}
		for range 12 {
			r, err := Single{Procedure: p, Said: said, On: singleDay}.Rule()
			if err != nil {
				break // a zone that no row names
			}
			if len(r.Missing) == 0 {
				for _, o := range r.Options {
					if o.Verdict == Undecided {
						t.Fatalf("nothing is missing and %s is undecided: %s", KindText(o), o.Because)
					}
				}
				break
			}
			named++
			for _, m := range r.Missing {
				said = append(said, saidOf(m.Name, truth[m.Name]))
			}
		}
	}
	if named < 50 {
		t.Errorf("only %d answers named something missing", named)
	}
}

// TestTableSaysWhatTheRowsSay: for drawn procedures and spots the verdict that a reader of the
// table comes to (forbidding beats asking, asking beats allowing, what nothing allows is asked)
// is that of the rows with every fact known.
func TestTableSaysWhatTheRowsSay(t *testing.T) {
	rng := rand.New(rand.NewPCG(18, 4))
	read := 0
	for range draws(300, 5000) {
		p := randomTable(rng)
		truth := randomFacts(rng)
		for name, v := range truth {
			v.Std = 0
			truth[name] = v
		}
		truth[body.FactOnCasting], truth[body.FactZones] = rule.BoolValue(true), rule.SetValue(zonesOfCheck[rng.IntN(len(zonesOfCheck))])
		said := []Said{saidOf(body.FactZones, truth[body.FactZones])}
		if rng.IntN(2) == 0 {
			said = append(said, saidOf(body.FactKind, truth[body.FactKind]))
		}
		table, err := Single{Procedure: p, Said: said, On: singleDay}.Table()
		if err != nil {
			continue
		}
		rs := Compile(p, 0)
		for _, k := range table.Kinds {
			kr, _ := rs.findKind(k.Kind)
			want := rs.ruleOnce(kr, kr.table.Eval(truth, 0), truth).verdict
			if got := readTable(k, truth); got != want {
				t.Fatalf("%s: the table reads %s, the rows say %s\n%+v\n%+v", k.Kind, got, want, k, truth)
			}
			read++
		}
	}
	if read < 500 {
		t.Errorf("only %d tables were read", read)
	}
}

// readTable is what somebody who knows everything reads in a table, from its texts alone.
func readTable(k KindTable, truth rule.Facts) Verdict {
	says := map[RowSays]bool{}
	holds := func(fact, text string) bool {
		c, err := rule.ParseCond(fact, rule.Kind(body.Fact(fact).Kind), body.Fact(fact).Unit, text)
		return err == nil && c.Eval(truth[fact], 0).State == rule.Met
	}
	for _, r := range k.Rows {
		met := r.Length == "" || holds(body.FactLength, r.Length)
		for _, c := range r.Rest {
			met = met && holds(c.Fact, c.Text)
		}
		says[r.Says] = says[r.Says] || met
	}
	switch {
	case says[RowForbids]:
		return Forbidden
	case says[RowAsks] || !says[RowAllows]:
		return Ask
	}
	return Allowed
}

// TestTableOfOneZoneAtAllLengths: the lengths at which the check procedure changes, and what a
// table is not made of.
func TestTableOfOneZoneAtAllLengths(t *testing.T) {
	p := checkProcedure()
	table, err := Single{Procedure: p, Said: []Said{{"zones", "OPEN-1"}, {"kind", "crack"}}, On: fixture.Day(2031, 1, 1)}.Table()
	if err != nil || !slices.Equal(table.Changes, []string{"30 mm", "50 mm"}) || table.Barred == "" {
		t.Errorf("%+v %v", table, err)
	}
	for want, said := range map[string][]Said{
		"a table is for one zone": {{"kind", "crack"}}, "for one zone": {{"zones", "OPEN-1, OPEN-2"}},
		"length: is said, but a table shows every length": {{"zones", "OPEN-1"}, {"length", "3 +- 1 mm"}},
	} {
		if _, err := (Single{Procedure: p, Said: said, On: singleDay}).Table(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v: %v, want %q", said, err, want)
		}
	}
}

// TestBeatenRowsChangeNoRule: a length at which a row ends is no change of the rule where another
// row of the treatment forbids it at every length, or asks where the row would allow (constructed;
// forbidding beats asking, asking beats allowing).
func TestBeatenRowsChangeNoRule(t *testing.T) {
	welds := []body.TreatmentKind{body.Weld}
	row := func(id, length string) body.Row {
		return body.Row{ID: id, Cite: "c", When: map[string]string{body.FactLength: length}}
	}
	allow, forbid := row("allow", "<= 20 mm"), row("forbid", ">= 40 mm")
	allow.Allow, forbid.Forbid = welds, welds
	never := body.Row{ID: "never", Cite: "c", When: map[string]string{body.FactZones: "only A"}, Forbid: welds}
	desk := body.Row{ID: "desk", Cite: "c", When: map[string]string{body.FactZones: "only A"}, Ask: "ask the desk"}
	for name, c := range map[string]struct {
		rows []body.Row
		want []string
	}{
		"nothing always":   {[]body.Row{allow, forbid}, []string{"20 mm", "40 mm"}},
		"always forbidden": {[]body.Row{allow, forbid, never}, []string{}},
		"always asked":     {[]body.Row{allow, forbid, desk}, []string{"40 mm"}},
	} {
		p := body.Procedure{ID: "P", Revision: "B", Effective: fixture.Day(2026, 3, 1), Recheck: fixture.Day(2026, 3, 30), Rows: c.rows}
		table, err := Single{Procedure: p, Said: []Said{{body.FactZones, "A"}}, On: fixture.Day(2026, 3, 9)}.Table()
		if err != nil || !slices.Equal(table.Changes, c.want) {
			t.Errorf("%s: %v %v, want %v", name, table.Changes, err, c.want)
		}
	}
}
