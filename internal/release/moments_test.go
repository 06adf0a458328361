package release

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// atMoments is the job that is in order, where the row of F2 asks for one method at two points
// of the work.
func atMoments(method body.ProofKind) (*world, *Input) {
	w, in := orderly()
	rowAsks(w, body.After{Method: method, When: "hot"}, body.After{Method: method, When: "cold"})
	return w, in
}

// seenAt puts a record of F2 at a point of the work on record.
func seenAt(w *world, id string, show body.ProofKind, what string, good bool) *job.Record {
	w.in.Job.Records = append(w.in.Job.Records, job.Record{ID: id, Show: show, Finding: "F2", What: what, By: "I1", On: day(2030, 3, 9), Met: good, None: good, Look: map[body.ProofKind]string{body.ShowPenetrant: "PT-9"}[show]})
	return &w.in.Job.Records[len(w.in.Job.Records)-1]
}

// TestInspectionsAtSeveralMoments: an inspection that a row asks for at two points of the work is
// two, each shown by a record with its own words, and judged: a look by what it says, penetrant by
// its conditions and by the levels that there are for the treatment, or else by nothing but that
// nothing was indicated.
func TestInspectionsAtSeveralMoments(t *testing.T) {
	mark := []job.Indication{indication(3, 2, 0, "no")} // within level 2
	big := []job.Indication{indication(7, 6, 0, "no")}  // beyond it
	level := func(w *world, zones ...body.ZoneID) {
		p := &w.in.Body.Procedures[0]
		p.Acceptance = append(p.Acceptance, body.Acceptance{ID: "a9", Cite: "CP 99", For: []body.TreatmentKind{body.WeldBacking}, Show: body.ShowPenetrant, Level: "2", Zones: zones})
	}
	const undecided = "F2: undecided (record c): something was indicated, and the procedure gives no level for it after weld with backing plate"
	for _, c := range []struct {
		name   string
		method body.ProofKind
		change func(*world)
		want   string
	}{
		{"no look", body.ShowVisual, func(*world) {}, "F2: not on record: visual hot\nF2: not on record: visual cold"},
		{"one look", body.ShowVisual, func(w *world) { seenAt(w, "c", body.ShowVisual, "cold", true) }, "F2: not on record: visual hot"},
		{"both looks", body.ShowVisual, func(w *world) {
			seenAt(w, "h", body.ShowVisual, "hot", true)
			seenAt(w, "c", body.ShowVisual, "cold", true)
		}, ""},
		{"a bad look", body.ShowVisual, func(w *world) {
			seenAt(w, "h", body.ShowVisual, "hot", true)
			seenAt(w, "c", body.ShowVisual, "cold", false)
		}, "F2: it is not met (record c): visual cold"},
		{"a look by nobody", body.ShowVisual, func(w *world) {
			seenAt(w, "h", body.ShowVisual, "hot", true)
			seenAt(w, "c", body.ShowVisual, "cold", true).By = ""
		}, "F2: record c (visual) does not count: it does not say who did it"},
		{"a look before it was decided", body.ShowVisual, func(w *world) {
			seenAt(w, "h", body.ShowVisual, "hot", true)
			seenAt(w, "c", body.ShowVisual, "cold", true).On = day(2030, 2, 25)
		}, "F2: record c (visual) does not count: it is dated 2030-02-25, before the treatment of F2 was accepted on 2030-02-26"},
		{"penetrant twice", body.ShowPenetrant, func(w *world) {
			seenAt(w, "h", body.ShowPenetrant, "hot", true)
			seenAt(w, "c", body.ShowPenetrant, "cold", true)
		}, ""},
		{"penetrant in no inspection", body.ShowPenetrant, func(w *world) {
			seenAt(w, "h", body.ShowPenetrant, "hot", true)
			seenAt(w, "c", body.ShowPenetrant, "cold", true).Look = ""
		}, "F2: undecided (record c): it does not say in which inspection: light, temperature and times are not on record"},
		{"something indicated, no level", body.ShowPenetrant, func(w *world) {
			seenAt(w, "h", body.ShowPenetrant, "hot", true)
			seenAt(w, "c", body.ShowPenetrant, "cold", false).Indications = mark
		}, undecided},
		{"something indicated, a level in other zones", body.ShowPenetrant, func(w *world) {
			level(w, "OPEN-1")
			seenAt(w, "h", body.ShowPenetrant, "hot", true)
			seenAt(w, "c", body.ShowPenetrant, "cold", false).Indications = mark
		}, undecided},
		{"something indicated within the level", body.ShowPenetrant, func(w *world) {
			level(w)
			seenAt(w, "h", body.ShowPenetrant, "hot", true)
			seenAt(w, "c", body.ShowPenetrant, "cold", false).Indications = mark
		}, ""},
		{"something indicated beyond the level", body.ShowPenetrant, func(w *world) {
			level(w)
			seenAt(w, "h", body.ShowPenetrant, "hot", true)
			seenAt(w, "c", body.ShowPenetrant, "cold", false).Indications = big
		}, "F2: refused (record c): the indication of 7 mm by 6 mm is non-linear; level 2 accepts up to 6 mm"},
	} {
		w, in := atMoments(c.method)
		c.change(w)
		if got := missingTexts(w, in); got != c.want {
			t.Errorf("%s: missing\n%s\nwant\n%s", c.name, got, c.want)
		}
	}
	// What is asked for has the words that the record has to have.
	w, in := atMoments(body.ShowPenetrant)
	missingTexts(w, in)
	want := []string{"inspection   penetrant", "penetrant  F2 hot", "penetrant  F2 cold"}
	if got := wantedOf(entries(in)); !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// TestStepsOfOneName: two steps of one name are told apart by a finding where only one has it, and
// else by what they are in every plan; a record that has the name alone is of neither.
func TestStepsOfOneName(t *testing.T) {
	step := func(id, name string, ids ...job.FindingID) PlannedStep {
		return PlannedStep{ID: id, Ref: "T/" + id, Name: name, For: ids}
	}
	for _, c := range []struct {
		steps []PlannedStep
		twins []bool
	}{
		{[]PlannedStep{step("1", "Grind", "F1")}, []bool{false}},
		{[]PlannedStep{step("1", "Grind", "F1"), step("2", "Weld", "F1")}, []bool{false, false}},
		{[]PlannedStep{step("1", "Grind", "F1"), step("2", "Grind", "F2")}, []bool{false, false}},
		{[]PlannedStep{step("1", "Grind", "F1"), step("2", "grind", "F2", "F1")}, []bool{true, true}},
		{[]PlannedStep{step("1", "Grind", "F1"), step("2", "Grind")}, []bool{false, true}},
		{[]PlannedStep{step("1", "Grind"), step("2", "Grind")}, []bool{true, true}},
		{[]PlannedStep{step("1", "Grind", "F1"), step("2", "Weld", "F1"), step("3", "GRIND", "F1")}, []bool{true, false, true}},
	} {
		r := &gate{in: Input{Steps: c.steps}}
		for i, s := range c.steps {
			if got := twins(c.steps, s); got != c.twins[i] {
				t.Errorf("%+v: %s has a twin: %v", c.steps, s.ID, got)
			}
			if want := map[bool]string{true: s.Ref, false: s.Name}[c.twins[i]]; called(c.steps, s) != want {
				t.Errorf("%+v: %s is called %q, want %q", c.steps, s.ID, called(c.steps, s), want)
			}
			unnamed := s
			unnamed.Ref = ""
			if got := called(c.steps, unnamed); got != s.Name {
				t.Errorf("%+v: %s without another name is called %q", c.steps, s.ID, got)
			}
			for _, f := range []job.FindingID{"", "F1", "F2", "F9"} {
				own := f == "" && len(s.For) == 0 || slices.Contains(s.For, f)
				loose := f == "" || slices.Contains(s.For, f)
				if got := r.names(s, strings.ToUpper(s.Name), f); got != (own && !c.twins[i]) {
					t.Errorf("%+v: %s is named by its name and %q: %v", c.steps, s.ID, f, got)
				}
				if got := r.either(s, strings.ToUpper(s.Name), f); got != (loose && c.twins[i]) {
					t.Errorf("%+v: %s may be named by its name and %q: %v", c.steps, s.ID, f, got)
				}
				if !r.names(s, s.Ref, f) || r.either(s, s.Ref, f) || r.names(s, "Paint", f) || r.either(s, "Paint", f) || r.names(unnamed, "", f) {
					t.Errorf("%+v: %s is not named by what it is, or by something else", c.steps, s.ID)
				}
			}
		}
	}
}

// TestRecordsOfOneStep: two records of work are about one step by the same words, or by the plan;
// records that are about no step, or about two, are about one step by their words alone.
func TestRecordsOfOneStep(t *testing.T) {
	r := &gate{in: Input{Steps: []PlannedStep{{ID: "1", Ref: "T/1", Name: "Grind", For: []job.FindingID{"F1"}}, {ID: "2", Ref: "T/2", Name: "Grind", For: []job.FindingID{"F2"}}, {ID: "3", Ref: "T/3", Name: "Weld", For: []job.FindingID{"F1", "F2"}}}}}
	rec := func(step string, f job.FindingID) job.Actual { return job.Actual{Step: step, Finding: f} }
	for _, c := range []struct {
		a, b job.Actual
		want bool
	}{
		{rec("Grind", "F1"), rec("grind", "F1"), true}, {rec("Grind", "F1"), rec("Grind", "F2"), false},
		{rec("Grind", "F1"), rec("T/1", ""), true}, {rec("Grind", "F1"), rec("T/2", ""), false},
		{rec("Grind", ""), rec("T/1", ""), false}, {rec("Grind", ""), rec("grind", ""), true},
		{rec("Weld", "F1"), rec("weld", "F2"), true}, {rec("Weld", ""), rec("Weld", "F2"), true},
		{rec("Paint", ""), rec("paint", ""), true}, {rec("Paint", ""), rec("Wash", ""), false}, {rec("Weld", ""), rec("Paint", ""), false},
	} {
		if r.sameStep(c.a, c.b) != c.want || r.sameStep(c.b, c.a) != c.want {
			t.Errorf("%+v and %+v: one step %v", c.a, c.b, !c.want)
		}
	}
}

// TestWhenAStepWasBegun: at the time on its record, or with the working day; on the day it was
// under way, unless it was done in between and this is another time; and so many days before as
// its minutes take that its day had not. Working days are from 07:00 to 15:00, eight hours.
func TestWhenAStepWasBegun(t *testing.T) {
	on := func(d int) unit.Date { return day(2030, 3, d) }
	going := func(d int, began string) job.Actual {
		return job.Actual{Step: "Fit", On: on(d), Going: true, Began: began}
	}
	done := func(d int) job.Actual { return job.Actual{Step: "Fit", On: on(d)} }
	for _, c := range []struct {
		name   string
		a      job.Actual
		others []job.Actual
		want   string
	}{
		{"no time", job.Actual{On: on(10)}, nil, "2030-03-10 07:00"},
		{"a time", job.Actual{On: on(10), Began: "13:30"}, nil, "2030-03-10 13:30"},
		{"a whole day", job.Actual{On: on(10), Minutes: 480}, nil, "2030-03-10 07:00"},
		{"a minute more than a day", job.Actual{On: on(10), Minutes: 481}, nil, "2030-03-09 07:00"},
		{"two days", job.Actual{On: on(10), Minutes: 960}, nil, "2030-03-09 07:00"},
		{"a minute more than two days", job.Actual{On: on(10), Minutes: 961}, nil, "2030-03-08 07:00"},
		{"an hour, ended at eight", job.Actual{On: on(10), Minutes: 60, Ended: "08:00"}, nil, "2030-03-10 07:00"},
		{"more than the hour that it had", job.Actual{On: on(10), Minutes: 61, Ended: "08:00"}, nil, "2030-03-09 07:00"},
		{"longer than its day, begun at a time", job.Actual{On: on(10), Minutes: 900, Began: "13:30"}, nil, "2030-03-10 13:30"},
		{"under way before", job.Actual{On: on(10)}, []job.Actual{going(8, "12:00")}, "2030-03-08 12:00"},
		{"under way before, and long", job.Actual{On: on(10), Minutes: 2000}, []job.Actual{going(8, "12:00")}, "2030-03-08 12:00"},
		{"under way twice", job.Actual{On: on(10)}, []job.Actual{going(9, ""), going(8, ""), going(9, "")}, "2030-03-08 07:00"},
		{"under way on the day, earlier", job.Actual{On: on(10), Began: "13:30"}, []job.Actual{going(10, "09:00")}, "2030-03-10 09:00"},
		{"under way after", job.Actual{On: on(10)}, []job.Actual{going(11, "")}, "2030-03-10 07:00"},
		{"another step under way", job.Actual{On: on(10)}, []job.Actual{{Step: "Paint", On: on(8), Going: true}}, "2030-03-10 07:00"},
		{"done in between, this time again", job.Actual{On: on(10), Again: "slipped"}, []job.Actual{going(7, ""), done(8)}, "2030-03-10 07:00"},
		{"done in between, not said to be again", job.Actual{On: on(10)}, []job.Actual{going(7, ""), done(8)}, "2030-03-07 07:00"},
		{"done on the day it was under way", job.Actual{On: on(10), Again: "slipped"}, []job.Actual{going(8, ""), done(8)}, "2030-03-10 07:00"},
		{"done before it was under way", job.Actual{On: on(10), Again: "slipped"}, []job.Actual{done(6), going(7, "")}, "2030-03-07 07:00"},
		{"done on the same day", job.Actual{On: on(10), Again: "slipped"}, []job.Actual{going(7, ""), done(10)}, "2030-03-07 07:00"},
		{"done again in between", job.Actual{On: on(10), Again: "slipped"}, []job.Actual{going(7, ""), {Step: "Fit", On: on(8), Again: "slipped"}}, "2030-03-07 07:00"},
		{"under way in between only", job.Actual{On: on(10), Again: "slipped"}, []job.Actual{going(7, ""), going(8, "")}, "2030-03-07 07:00"},
		{"another step done in between", job.Actual{On: on(10), Again: "slipped"}, []job.Actual{going(7, ""), {Step: "Paint", On: on(8)}}, "2030-03-07 07:00"},
	} {
		c.a.Step = "Fit"
		r := &gate{opens: 7 * 60, closes: 15 * 60}
		r.in.Job = &job.State{Actuals: append(c.others, c.a)}
		if got := r.began(c.a).words(); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// TestMomentsInWords: days and times of day are those of the calendar, a started minute counts,
// and a moment after work has begun is for the next day.
func TestMomentsInWords(t *testing.T) {
	for _, c := range []struct {
		m           moment
		words, work string
	}{
		{at(day(2030, 3, 10), "", 0), "2030-03-10 00:00", "2030-03-10"},
		{at(day(2030, 3, 10), "07:00", 0), "2030-03-10 07:00", "2030-03-10"},
		{at(day(2030, 3, 10), "07:00", 0) + 0.5, "2030-03-10 07:01", "2030-03-11"},
		{at(day(2030, 3, 10), "07:01", 0), "2030-03-10 07:01", "2030-03-11"},
		{at(day(2030, 3, 10), "23:59", 0), "2030-03-10 23:59", "2030-03-11"},
		{at(day(2030, 3, 10), "23:59", 0) + 1, "2030-03-11 00:00", "2030-03-11"},
		{at(day(1969, 12, 31), "08:15", 0), "1969-12-31 08:15", "1970-01-01"},
		{at(day(2028, 2, 28), "nonsense", 13*60+5), "2028-02-28 13:05", "2028-02-29"},
	} {
		if c.m.words() != c.words || c.m.workday(7*60).String() != c.work {
			t.Errorf("%s, for %s; want %s, for %s", c.m.words(), c.m.workday(7*60), c.words, c.work)
		}
	}
}

// TestWhatIsMeasuredAgain: what is asked for is a set-up and the points that are out of it; none
// that may stay, and none where measuring would show nothing.
func TestWhatIsMeasuredAgain(t *testing.T) {
	for _, c := range []struct {
		after *MeasuredAfter
		left  []body.PointID
		want  []string
	}{
		{nil, nil, []string{"setup   after", "reading P1  xyz", "reading P2  xyz"}},
		{nil, []body.PointID{"P1"}, []string{"setup   after", "reading P2  xyz"}},
		{nil, []body.PointID{"P1", "P2"}, nil},
		{&MeasuredAfter{NotMet: []body.PointID{"P1"}}, nil, nil},
		{&MeasuredAfter{Undecided: []body.PointID{"P1"}}, nil, []string{"setup   after", "reading P1  xyz"}},
		{&MeasuredAfter{Missing: []body.PointID{"P1", "P2"}}, []body.PointID{"P2"}, []string{"setup   after", "reading P1  xyz"}},
		{&MeasuredAfter{Undecided: []body.PointID{"P1"}, Missing: []body.PointID{"P1"}}, []body.PointID{"P1"}, nil},
	} {
		w, in := orderly()
		in.After, in.Left = c.after, c.left
		missingTexts(w, in)
		if got := wantedOf(entries(in)); !slices.Equal(got, c.want) {
			t.Errorf("after %+v, left %v: %q, want %q", c.after, c.left, got, c.want)
		}
	}
}

// TestFigureIsAskedForOnce: a figure that is not on record is asked for with its limits, one that
// breaks them is not, and one that a torque or a bond says too is asked for there.
func TestFigureIsAskedForOnce(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*world, *Input)
		want   []string // entries with what they have to be
	}{
		{"not on record", func(w *world, in *Input) {
			w.in.Job.Figures = nil
			in.Steps[1].Readings[0].High = unit.Amount{Value: 2, Unit: "mm"}
		}, []string{"figure Grind F1 gap: Gap: at most 2 mm"}},
		{"without limits", func(w *world, _ *Input) { w.in.Job.Figures = nil }, []string{"figure Grind F1 gap: Gap"}},
		{"beyond its limits", func(_ *world, in *Input) { in.Steps[1].Readings[0].High = unit.Amount{Value: 0.5, Unit: "mm"} }, nil},
		{"the torque of its joint", func(w *world, in *Input) {
			w.recordOf("r5").Joint = "J9"
			in.Steps[4].Readings = []body.Reading{{ID: "torque-J1", Name: "Torque", Unit: "Nm"}}
		}, []string{"torque J1: bolts: 24 Nm"}},
		{"the batch of its bond", func(w *world, in *Input) {
			w.recordOf("r7").Finding = "F9"
			in.Steps[2].Readings = []body.Reading{{ID: "batch-GLUE", Name: "Batch", Unit: body.TextUnit}, {ID: "open-GLUE", Name: "Open", Unit: "min"}, {ID: "batch-PASTE", Name: "Other batch", Unit: body.TextUnit}}
		}, []string{"bond F2 GLUE: weld with backing plate: temperature of the parts; mixed from, closed to; batch and last day", "figure Plate F2 batch-PASTE: Other batch"}},
		{"the batch of its joint", func(w *world, in *Input) {
			w.recordOf("r6").Joint = "J9"
			in.Steps[5].Readings = []body.Reading{{ID: "batch-GLUE", Name: "Batch", Unit: body.TextUnit}}
		}, []string{"bond J2 GLUE: bond: temperature of the parts; mixed from, closed to; batch and last day"}},
		{"the batch of another joint's bond", func(w *world, in *Input) {
			w.recordOf("r6").Joint = "J9"
			in.Steps[4].Readings = []body.Reading{{ID: "batch-GLUE", Name: "Batch", Unit: body.TextUnit}}
		}, []string{"bond J2 GLUE: bond: temperature of the parts; mixed from, closed to; batch and last day", "figure Close batch-GLUE: Batch"}},
	} {
		w, in := orderly()
		c.change(w, in)
		missingTexts(w, in)
		var got []string
		for _, x := range entries(in) {
			got = append(got, strings.Join(strings.Fields(fmt.Sprintf("%s %s %s %s: %s", x.Entry, x.About, x.Finding, x.What, x.Must)), " "))
		}
		slices.Sort(got)
		for i := range got {
			got[i] = strings.Replace(got[i], " : ", ": ", 1)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// TestWhatIsToldOnce: a procedure that the stages tell of already is not told again, by its words;
// and of those told here each may not be relied on for itself.
func TestWhatIsToldOnce(t *testing.T) {
	force := decide.InForce{Casting: "FRONT", Procedure: "CHECK", Revision: "B"}
	expired, unchecked, gone, good := force, force, force, force
	expired.Expired, expired.Why = true, "it has expired"
	unchecked.Unchecked, unchecked.Why = true, "nobody has looked it up"
	gone.Procedure, gone.Why = "", "there is none"
	for _, c := range []struct {
		name  string
		force decide.InForce
		told  []Missing
		want  int
	}{
		{"good", good, nil, 0}, {"expired", expired, nil, 1}, {"unchecked", unchecked, nil, 1}, {"gone", gone, nil, 1},
		{"told", expired, []Missing{{Where: "FRONT", Text: "stop: it has expired"}}, 1},
		{"told of another", expired, []Missing{{Where: "REAR", Text: "stop: it has expired"}}, 2},
		{"told of something else", expired, []Missing{{Where: "FRONT", Text: "stop"}}, 2},
		{"without a reason", decide.InForce{Casting: "FRONT", Expired: true}, []Missing{{Where: "FRONT", Text: "stop"}}, 2},
	} {
		w, in := orderly()
		r := &gate{in: *in, out: c.told, group: GroupBlocks}
		r.in.Input = w.in
		r.in.Job = &job.State{}
		r.in.Result.Procedures = []decide.InForce{c.force}
		r.blocks()
		if len(r.out) != c.want {
			t.Errorf("%s: %+v", c.name, r.out)
		}
		for _, m := range r.out[len(c.told):] {
			if m.Where != "FRONT" || !strings.Contains(m.Text, c.force.Why) || len(m.Wants) != 1 || m.Wants[0].About != string(c.force.Procedure) || !strings.HasSuffix(m.Wants[0].Must, c.force.Revision) {
				t.Errorf("%s: %+v", c.name, m)
			}
		}
	}
}

// TestUnitedIndications: what is united is as bad as the worst of its members in each way: as long
// as the farthest ends are apart, as wide as the widest, as unsure as all, and a crack where one is
// or may be. Every pair of words.
func TestUnitedIndications(t *testing.T) {
	words := []body.YesNo{"yes", "unknown", "", "no"} // the worst first
	for i, a := range words {
		for k, b := range words {
			x := oneIndication{Indication: job.Indication{Length: 2, Width: 1, Std: 0.1, Crack: a, Ends: []geom.Vec{{0, 0, 0}, {2, 0, 0}}}}
			y := oneIndication{Indication: job.Indication{Length: 1, Width: 0.5, Std: 0.2, Crack: b, Ends: []geom.Vec{{3, 0, 0}, {3, 1, 0}}}}
			x.members, y.members = []job.Indication{x.Indication}, []job.Indication{y.Indication}
			for _, got := range []oneIndication{united(x, y), united(y, x)} {
				// the farthest ends are (0,0) and (3,1): the root of 10, 3.16… mm, rounded up
				if got.Crack != words[min(i, k)] || got.Length != 3.2 || got.Width != 1 || got.Std < 0.3-1e-12 || got.Std > 0.3+1e-12 || got.count() != "2 indications that count as one: " {
					t.Errorf("%q and %q: %+v", a, b, got)
				}
			}
		}
	}
	if worseCrack("maybe", "maybe") != "unknown" {
		t.Error("a word that nobody knows is taken for one")
	}
	// One that is a point is as wide as it says every way: 3 mm from its middle to the end of the
	// other, less half of 1 mm.
	point := job.Indication{Width: 1, Ends: []geom.Vec{{0, 0, 0}, {0, 0, 0}}}
	line := job.Indication{Length: 2, Width: 1, Ends: []geom.Vec{{3, 0, 0}, {5, 0, 0}}}
	if got := between(point, line); got != 2.5 {
		t.Errorf("a point and a line are %g mm apart, want 2.5", got)
	}
}

// TestWhichBondARecordIsOf: a record of an adhesive is of a bond by the step that it names, or, where
// it names none, of the only bond of a finding that it could be of: not of one of several with its
// adhesive, and not of one whose treatment has its adhesive somewhere else. A task has no finding to
// be known by.
func TestWhichBondARecordIsOf(t *testing.T) {
	steps := []PlannedStep{{ID: "1", Name: "Plate", For: []job.FindingID{"F1"}}, {ID: "2", Name: "Seal"}}
	r := &gate{in: Input{Steps: steps}}
	own := bondOf{c: Chosen{Finding: "F1"}, material: "GLUE", step: &steps[0], others: []body.MaterialID{"PASTE"}}
	several, task, loose := own, bondOf{material: "GLUE", step: &steps[1]}, own
	several.several = true
	loose.step = nil
	for _, c := range []struct {
		name string
		b    bondOf
		x    job.Record
		want bool
	}{
		{"its own", own, job.Record{Finding: "F1", Material: "GLUE"}, true}, {"its own, by its step", own, job.Record{Finding: "F1", Material: "GLUE", Step: "plate"}, true},
		{"another step", own, job.Record{Finding: "F1", Material: "GLUE", Step: "Seal"}, false}, {"the other adhesive", own, job.Record{Finding: "F1", Material: "PASTE"}, false},
		{"the other adhesive at its step", own, job.Record{Finding: "F1", Material: "PASTE", Step: "Plate"}, false},
		{"an adhesive that nobody asked for", own, job.Record{Finding: "F1", Material: "TAPE"}, true},
		{"one of several", several, job.Record{Finding: "F1", Material: "GLUE"}, false}, {"one of several, by its step", several, job.Record{Finding: "F1", Material: "GLUE", Step: "Plate"}, true},
		{"an adhesive that nobody asked for, of several", several, job.Record{Finding: "F1", Material: "TAPE"}, true},
		{"of a task", task, job.Record{Material: "GLUE"}, false}, {"of a task, by its step", task, job.Record{Material: "GLUE", Step: "Seal"}, true}, {"of a task, another adhesive", task, job.Record{Material: "TAPE"}, false},
		{"no step in the plan", loose, job.Record{Finding: "F1", Material: "GLUE"}, true}, {"no step in the plan, and named", loose, job.Record{Finding: "F1", Material: "GLUE", Step: "Plate"}, false},
	} {
		c.x.Show = body.ShowAdhesive
		if got := r.ofBond(c.b, c.x); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
		c.x.Show = body.ShowTorque
		if r.ofBond(c.b, c.x) {
			t.Errorf("%s: a torque is of a bond", c.name)
		}
	}
}

// TestStepsUnderAnAnswer: only steps that treat the finding, done under the answer that its treatment
// rests on, are held against its days; a treatment that is not allowed, or rests on none, is not.
func TestStepsUnderAnAnswer(t *testing.T) {
	option := func(v decide.Verdict, answer string) decide.Option {
		return decide.Option{Kind: body.Weld, Verdict: v, Answer: answer}
	}
	did := job.Actual{Step: "Weld", On: day(2030, 3, 9)}
	going := did
	going.Going = true
	treats := PlannedStep{ID: "S", Name: "Weld", For: []job.FindingID{"F1"}, Treats: true}
	prepares, other := treats, treats
	prepares.Treats = false
	other.For = []job.FindingID{"F2"}
	for _, c := range []struct {
		name string
		o    decide.Option
		s    PlannedStep
		a    *job.Actual
		told bool
	}{
		{"allowed by it", option(decide.Allowed, "A1"), treats, &did, true}, {"by none", option(decide.Allowed, ""), treats, &did, false}, {"by another", option(decide.Allowed, "A9"), treats, &did, false},
		{"asked", option(decide.Ask, "A1"), treats, &did, false}, {"forbidden", option(decide.Forbidden, "A1"), treats, &did, false},
		{"prepares", option(decide.Allowed, "A1"), prepares, &did, false}, {"treats another", option(decide.Allowed, "A1"), other, &did, false},
		{"under way", option(decide.Allowed, "A1"), treats, &going, false}, {"not on record", option(decide.Allowed, "A1"), treats, nil, false},
	} {
		r := &gate{in: Input{Steps: []PlannedStep{c.s}}, done: map[string]job.Actual{}}
		r.in.Job = &job.State{Answers: []job.Answer{{ID: ""}, {ID: "A1", Finding: "F1", On: day(2030, 3, 1), Expires: day(2030, 3, 5)}}}
		r.in.Result = decide.Result{Findings: []decide.Finding{{ID: "F1", Options: []decide.Option{c.o}}}}
		if c.a != nil {
			r.done["S"] = *c.a
		}
		r.underAnswer(Chosen{Finding: "F1", Kind: body.Weld})
		if got := len(r.out) > 0; got != c.told {
			t.Errorf("%s: %+v", c.name, r.out)
		}
	}
}
