package assess

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// leavePoint has the manufacturer let a control point stay as it is, until a day.
func leavePoint(in Input, id body.PointID, until unit.Date) {
	j := in.Job
	n := fmt.Sprint(len(j.Answers) + 1)
	j.Questions = append(j.Questions, job.Asked{ID: "Q" + n, Point: id, On: day(time.March, 4)})
	j.Evidence = append(j.Evidence, job.Evidence{ID: "E" + n, File: "answer.txt", SHA256: "0123"})
	j.Answers = append(j.Answers, job.Answer{ID: "P-A" + n, Point: id, Question: "Q" + n, VIN: j.Vehicle.VIN, Allow: []body.TreatmentKind{body.Leave},
		On: day(time.March, 5), Expires: until, Document: "E" + n, By: "the desk", RecordedBy: "W1"})
}

// What a route rests on is told finding by finding, by the very treatment and line, and point
// by point where it takes an answer to leave it. Constructed; the answers have to do with one
// finding each, so that any mixing of two would show.
func TestWhatARouteRestsOn(t *testing.T) {
	option := func(k body.TreatmentKind, l body.LineID, answer string) decide.Option {
		return decide.Option{Kind: k, Line: l, Verdict: decide.Allowed, Answer: answer}
	}
	in, v := world()
	in.Job.Answers = []job.Answer{{ID: "A1"}, {ID: "A2"}, {ID: "A3"}, {ID: ""}}
	leavePoint(in, "P1", day(time.June, 1))
	v.Decide.Findings = []decide.Finding{
		{ID: "F1", Options: []decide.Option{option(body.Weld, "", "A1"), option(body.SectionOff, "S1", "A2"), option(body.SectionOff, "S2", ""), option(body.Leave, "", "A3")}},
		{ID: "F2", Options: []decide.Option{option(body.Weld, "", ""), option(body.SectionOff, "S1", "gone"), option(body.Leave, "", "A3")}},
		{ID: "F3", Options: []decide.Option{option(body.Weld, "", "A2")}},
	}
	item := func(k body.TreatmentKind, l body.LineID, ids ...job.FindingID) plan.Item {
		return plan.Item{Kind: k, Line: l, Findings: ids}
	}
	undecided := measure.Result{Hypotheses: []measure.Hypothesis{{Points: []measure.PointResult{{ID: "P1", Tolerance: measure.Undecided}}}}}
	met := measure.Result{Hypotheses: []measure.Hypothesis{{Points: []measure.PointResult{{ID: "P1", Tolerance: measure.Met, Firm: true}}}}}
	out := measure.Result{Hypotheses: []measure.Hypothesis{{Points: []measure.PointResult{{ID: "P2", Tolerance: measure.NotMet, Firm: true}, {ID: "P1", Tolerance: measure.NotMet, Firm: true}}}}}
	missing := met
	missing.Missing = []body.PointID{"P1"}
	point := "P-A5 leaving control point P1 as it is, all of it"
	for _, c := range []struct {
		name  string
		id    string
		items []plan.Item
		m     measure.Result
		want  []string
	}{
		{"one finding", "x", []plan.Item{item(body.Weld, "", "F1")}, met, []string{"A1 weld of F1 for F1"}},
		{"a treatment without an answer", "x", []plan.Item{item(body.SectionOff, "S2", "F1"), item(body.Weld, "", "F2")}, met, nil},
		{"an answer that is not there", "x", []plan.Item{item(body.SectionOff, "S1", "F2")}, met, nil},
		{"a treatment nobody decided", "x", []plan.Item{item(body.Dress, "", "F1"), item(body.Weld, "", "F9")}, met, nil},
		{"by its line", "x", []plan.Item{item(body.SectionOff, "S1", "F1")}, met, []string{"A2 section of F1 for F1"}},
		{"several", "x", []plan.Item{item(body.Weld, "", "F2", "F1", "F3")}, met, []string{"A1 weld of F1 for F1", "A2 weld of F3 for F3"}},
		{"left as they are", "x", []plan.Item{item(body.Leave, "", "F1", "F2")}, met, []string{"A3 leave of F1 for F1, all of it", "A3 leave of F2 for F2, all of it"}},
		{"a point nobody knows", "x", []plan.Item{item(body.Weld, "", "F2")}, undecided, []string{point}},
		{"a point out of tolerance", "x", []plan.Item{item(body.Weld, "", "F1")}, out, []string{"A1 weld of F1 for F1", point}},
		{"a point that was not measured", "x", []plan.Item{item(body.Weld, "", "F2")}, missing, []string{point}},
		{"nothing measured", "x", []plan.Item{item(body.Weld, "", "F2")}, measure.Result{}, []string{point}},
		{"nothing is repaired", "x", nil, out, nil},
		{"no route", "", []plan.Item{item(body.Weld, "", "F1")}, out, []string{"A1 weld of F1 for F1"}},
	} {
		r := Result{Verdicts: v}
		r.Measure = c.m
		route := routed("x").Compare.Routes[0]
		route.ID, route.Items = c.id, c.items
		var got []string
		for _, x := range RestsOn(in, r, route) {
			text := x.Answer.ID + " " + x.What
			for _, f := range x.For {
				text += " for " + string(f)
			}
			if x.Whole {
				text += ", all of it"
			}
			got = append(got, text)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// A point that stays by an answer stops the route that lasts longer than the answer, whatever
// the route welds; the day before the last day of the work is too short, the day after will do.
func TestRouteIsStoppedByWhatExpires(t *testing.T) {
	for _, c := range []struct {
		until unit.Date
		stops int
	}{{today.AddDays(1), 0}, {today, 1}} {
		in, v := world()
		v.Measure = measure.Result{Missing: []body.PointID{"P1"}}
		leavePoint(in, "P1", c.until)
		in.Job.Choices = []job.Choice{{Route: "weld", By: "W1", On: day(time.March, 6)}} // while it held
		r, notes := Routes(in, v, nil)
		route := routeNamed(t, r.Compare, "weld")
		all, stops := RouteNotes(in, r, route), RouteStops(in, r, route)
		if route.Plan.Finish != today || len(all) != c.stops || len(stops) != c.stops || strings.Contains(fmt.Sprint(codes(notes)), "answer-expires") != (c.stops > 0) {
			t.Errorf("until %s, work until %s: %v", c.until, route.Plan.Finish, all)
		}
	}
}

// Of what is told of a route only what blocks stops it: a step that is not on record is asked
// about, and one about which something is dangerous stops work.
func TestRouteIsAskedAboutAndStopped(t *testing.T) {
	for _, dangerous := range []bool{false, true} {
		in, v := world()
		if dangerous {
			in.Body.Treatments[0].Steps[0].Cautions = []body.Caution{"fire"}
		}
		in.Body.Treatments[0].Steps = append(in.Body.Treatments[0].Steps, body.Step{ID: "s2", Name: "Grind", Skill: "alu", Fixed: 5})
		in.Job.Actuals = []job.Actual{{Step: "Grind", By: "W1", On: today, Minutes: 5}}
		r, _ := Routes(in, v, nil)
		route := routeNamed(t, r.Compare, "weld")
		all, stops, want := RouteNotes(in, r, route), RouteStops(in, r, route), 0
		if dangerous {
			want = 1
		}
		if len(all) == 0 || len(stops) != want || len(pickedStops(in, r)) != want {
			t.Errorf("dangerous %v: %v, of which stop %v", dangerous, codes(all), codes(stops))
		}
		r.Compare.Best = ""
		if got := pickedStops(in, r); got != nil {
			t.Errorf("no route is taken, and %v", got)
		}
	}
}
