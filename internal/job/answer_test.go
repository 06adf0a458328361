package job

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

func monthDay(m, d int) unit.Date {
	return unit.Date{Year: 2026, Month: 3, Day: d}.AddDays(31 * (m - 3))
}

// people of a shop: P1 records answers, T1 works on high voltage, T2 on nothing.
func people() *shop.Shop {
	return &shop.Shop{People: []shop.Person{{ID: "P1", May: []shop.Authority{shop.MayAnswers}}, {ID: "T1", Skills: []body.SkillID{"hv"}}, {ID: "T2"}}}
}

// pointJob has a control point that the manufacturer lets stay as it is.
func pointJob() *State {
	return &State{
		Opened: monthDay(3, 1), Vehicle: Vehicle{VIN: "V"},
		Setups:    []Setup{{ID: "A", On: monthDay(3, 2)}},
		Readings:  []Reading{{Setup: "A", From: "P1"}},
		Questions: []Asked{{ID: "Q1", Point: "P1", On: monthDay(3, 3)}, {ID: "Q2", Point: "P1", On: monthDay(3, 4)}},
		Evidence:  []Evidence{{ID: "E1", SHA256: "hash"}},
		Answers: []Answer{{ID: "A1", Point: "P1", VIN: "V", Question: "Q1", Forbid: []body.TreatmentKind{body.Leave}, On: monthDay(3, 4), Expires: monthDay(3, 20)},
			{ID: "A2", Point: "P1", VIN: "V", Question: "Q2", Allow: []body.TreatmentKind{body.Leave}, Document: "E1", On: monthDay(3, 5), Expires: monthDay(3, 20), RecordedBy: "planner P1"}},
	}
}

// Who relies on an answer has to have one that is valid, in writing, signed for, about
// this vehicle, this point and the figures that were asked about: every one of these is
// taken away in turn.
func TestPointStays(t *testing.T) {
	last := func(s *State) *Answer { return &s.Answers[1] }
	for _, c := range []struct {
		name string
		do   func(s *State, sh *shop.Shop)
		want string // empty: it stays
	}{
		{"as it is", func(*State, *shop.Shop) {}, ""},
		{"no answer", func(s *State, _ *shop.Shop) { s.Answers = nil }, "the manufacturer has not answered"},
		{"forbidden later", func(s *State, _ *shop.Shop) { s.Answers[0].On = monthDay(3, 6) }, "answer A1 does not allow to leave it"},
		{"allowed and forbidden", func(s *State, _ *shop.Shop) { last(s).Forbid = last(s).Allow }, "does not allow to leave it"},
		{"of another vehicle", func(s *State, _ *shop.Shop) { last(s).VIN = "W" }, `is for vehicle "W"`},
		{"without a question", func(s *State, _ *shop.Shop) { last(s).Question = "" }, "names no question about P1"},
		{"to another question", func(s *State, _ *shop.Shop) { s.Questions[1].Point = "P2" }, "names no question about P1"},
		{"of tomorrow", func(s *State, _ *shop.Shop) { last(s).On = monthDay(3, 11) }, "is dated 2026-03-11, after today"},
		{"expired today", func(s *State, _ *shop.Shop) { last(s).Expires = monthDay(3, 10) }, "expired on 2026-03-10"},
		{"without a last day", func(s *State, _ *shop.Shop) { last(s).Expires = unit.Date{} }, "expired on an unknown day"},
		{"expired, chosen while it held", func(s *State, _ *shop.Shop) {
			last(s).Expires, s.Choices = monthDay(3, 9), []Choice{{By: "T1", On: monthDay(3, 8)}}
		}, ""},
		{"expired, chosen too late", func(s *State, _ *shop.Shop) {
			last(s).Expires, s.Choices = monthDay(3, 9), []Choice{{By: "T1", On: monthDay(3, 9)}}
		}, "expired on 2026-03-09"},
		{"expired, chosen before it", func(s *State, _ *shop.Shop) {
			last(s).Expires, s.Choices = monthDay(3, 9), []Choice{{By: "T1", On: monthDay(3, 4)}}
		}, "expired on 2026-03-09"},
		{"expired, chosen by nobody", func(s *State, _ *shop.Shop) {
			last(s).Expires, s.Choices = monthDay(3, 9), []Choice{{By: "X", On: monthDay(3, 8)}}
		}, "expired on 2026-03-09"},
		{"by word of mouth", func(s *State, _ *shop.Shop) { last(s).Document = "" }, "has no document"},
		{"in a document without a hash", func(s *State, _ *shop.Shop) { s.Evidence[0].SHA256 = "" }, "whose hash nobody recorded"},
		{"in a document that is not there", func(s *State, _ *shop.Shop) { s.Evidence = nil }, "whose hash nobody recorded"},
		{"signed for by nobody", func(s *State, _ *shop.Shop) { last(s).RecordedBy = " " }, "it does not say who did it"},
		{"signed for by who may not", func(s *State, _ *shop.Shop) { last(s).RecordedBy = "T2" }, "T2 may not sign for it"},
		{"signed for by somebody else", func(_ *State, sh *shop.Shop) { sh.People = sh.People[1:] }, "names no person of the shop file"},
		{"before the question was sent", func(s *State, _ *shop.Shop) { s.Questions[1].On = monthDay(3, 6) }, "before the question was sent on 2026-03-06"},
		{"before the job was opened", func(s *State, _ *shop.Shop) { s.Opened = monthDay(3, 6) }, "before the job was opened"},
		{"before the impact", func(s *State, _ *shop.Shop) { s.Impact.On = monthDay(3, 6) }, "before the impact"},
		{"measured again", func(s *State, _ *shop.Shop) {
			s.Setups = append(s.Setups, Setup{ID: "B", On: monthDay(3, 7)})
			s.Readings = append(s.Readings, Reading{Setup: "B", To: "P1"})
		}, "it was measured again on 2026-03-07 (set-up B)"},
		{"another point measured again", func(s *State, _ *shop.Shop) {
			s.Setups = append(s.Setups, Setup{ID: "B", On: monthDay(3, 7)})
			s.Readings = append(s.Readings, Reading{Setup: "B", To: "P2"})
		}, ""},
	} {
		s, sh := pointJob(), people()
		c.do(s, sh)
		got := s.PointStays("P1", sh, monthDay(3, 10))
		if c.want == "" && got != "" || c.want != "" && !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	s := pointJob()
	if got := s.PointStays("P1", nil, monthDay(3, 10)); !strings.Contains(got, "without the shop file") {
		t.Errorf("without a shop: %q", got)
	}
	if q, ok := s.PointQuestion("P1"); !ok || q.ID != "Q2" {
		t.Errorf("the last question is %v %v", q.ID, ok)
	}
	if _, ok := s.PointQuestion("P2"); ok {
		t.Error("a question about another point is one about this")
	}
	if _, ok := s.PointAnswer(""); ok {
		t.Error("an answer about no point was found")
	}
	if s.MeasuredAfter("P1", monthDay(3, 2)) || !s.MeasuredAfter("P1", monthDay(3, 1)) || s.MeasuredAfter("P2", monthDay(3, 1)) {
		t.Error("P1 was measured on 2 March only, and P2 never")
	}
}

// A hazard is made safe by somebody of the shop who does such work, on a day that has been.
func TestUnsafe(t *testing.T) {
	b := &body.Body{Tasks: []body.Task{{Step: body.Step{Skill: "hv", Cautions: []body.Caution{"high-voltage"}}}, {Step: body.Step{Skill: "srs", Cautions: []body.Caution{"airbag"}}}}}
	for _, c := range []struct {
		h    Hazard
		want string
	}{
		{Hazard{Kind: "high-voltage"}, "not made safe yet"},
		{Hazard{Kind: "high-voltage", Cleared: true, By: "T1", On: monthDay(3, 5)}, ""},
		{Hazard{Kind: "high-voltage", Cleared: true, By: "T2", On: monthDay(3, 5)}, "T2 does not work as hv"},
		{Hazard{Kind: "airbag", Cleared: true, By: "T1", On: monthDay(3, 5)}, "T1 does not work as srs"},
		{Hazard{Kind: "chemical", Cleared: true, By: "T2", On: monthDay(3, 5)}, ""}, // no task of the body carries it
		{Hazard{Kind: "high-voltage", Cleared: true, By: "T1", On: monthDay(3, 11)}, "after today"},
		{Hazard{Kind: "high-voltage", Cleared: true, By: "T1"}, "on which day"},
		{Hazard{Kind: "high-voltage", Cleared: true}, "who did it"},
	} {
		got := (&State{}).Unsafe(c.h, b, people(), monthDay(3, 10))
		if c.want == "" && got != "" || c.want != "" && !strings.Contains(got, c.want) {
			t.Errorf("%+v: %q, want %q", c.h, got, c.want)
		}
	}
}

// What a signature does not carry is taken from a finding: it stays where it is.
func TestClaims(t *testing.T) {
	f := Finding{ID: "F1", Kind: "crack", Part: "P", Through: "no", Tips: []body.TipMethod{"stop-hole", "penetrant"}, Depth: unit.Some(unit.MM(1)), DepthStd: 0.1, By: "T1", On: monthDay(3, 5)}
	s := &State{Opened: monthDay(3, 1)}
	if got, why := s.Claims(f, people(), monthDay(3, 10)); why != "" || got.Through != "no" || !got.Depth.Known || got.Tips[0] != "stop-hole" {
		t.Errorf("signed by T1: %q, %+v", why, got)
	}
	f.By = "X"
	got, why := s.Claims(f, people(), monthDay(3, 10))
	if why == "" || got.Through != "unknown" || got.Depth.Known || got.DepthStd != 0 || got.Tips[0] != "visual" || got.Tips[1] != "visual" || got.Kind != "crack" || got.Part != "P" {
		t.Errorf("signed by nobody of the shop: %q, %+v", why, got)
	}
	if f.Tips[0] != "stop-hole" {
		t.Error("the finding itself was changed")
	}
	f.Through = "yes"
	if got, _ := s.Claims(f, people(), monthDay(3, 10)); got.Through != "yes" {
		t.Errorf("what speaks against it does not stay: %q", got.Through)
	}
}

// That a casting was looked over counts by who did it and when; who looked at another one
// has said nothing of it.
func TestRepairsUnknown(t *testing.T) {
	good := Cast{Casting: "C", Looked: true, By: "T1", On: monthDay(3, 5)}
	for _, c := range []struct {
		name string
		do   func(k *Cast)
		want string
	}{
		{"as it is", func(*Cast) {}, ""},
		{"of another", func(k *Cast) { k.Casting = "D" }, "nobody has said"},
		{"not looked over", func(k *Cast) { k.Looked = false }, "nobody has said"},
		{"by nobody", func(k *Cast) { k.By = "" }, "does not count"},
		{"before the impact", func(k *Cast) { k.On = monthDay(3, 2) }, "before the impact"},
		{"in the future", func(k *Cast) { k.On = monthDay(3, 11) }, "after today"},
	} {
		k := good
		c.do(&k)
		s := &State{Impact: Impact{On: monthDay(3, 3)}, Castings: []Cast{k}}
		got := s.RepairsUnknown("C", people(), monthDay(3, 10))
		if c.want == "" && got != "" || c.want != "" && !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
		if why := s.Unread(k, people(), monthDay(3, 10)); (why == "") != (c.want == "" || strings.HasPrefix(c.want, "nobody has said")) {
			t.Errorf("%s: what is on record of it: %q", c.name, why)
		}
	}
}

// The inspection that a risk waits for counts from the day on which the risk was given.
func TestLookTaken(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(s *State, r *Risk)
		want bool
	}{
		{"of the finding", func(*State, *Risk) {}, true},
		{"of the area", func(s *State, r *Risk) { r.About = "A1" }, true},
		{"the area not reached", func(s *State, r *Risk) { r.About, s.Areas[0].State = "A1", "not-reachable" }, false},
		{"before the risk was given", func(s *State, _ *Risk) { s.Looks[0].On = monthDay(3, 4) }, false},
		{"of another finding", func(s *State, r *Risk) { r.About = "F2" }, false},
		{"about nothing", func(s *State, r *Risk) { r.About = "" }, false},
		{"settled", func(s *State, r *Risk) { r.Settled = "well" }, false},
		{"without a look", func(s *State, r *Risk) { r.Look = nil }, false},
	} {
		s := &State{Findings: []Finding{{ID: "F1", Look: "L1"}}, Areas: []AreaSeen{{Area: "A1", State: "seen", Look: "L1"}}, Looks: []Inspection{{ID: "L1", On: monthDay(3, 5)}}}
		r := Risk{About: "F1", Look: &Look{}, On: monthDay(3, 5)}
		c.do(s, &r)
		if x, ok := s.LookTaken(r); ok != c.want || ok && x.ID != "L1" {
			t.Errorf("%s: %v %v, want %v", c.name, x.ID, ok, c.want)
		}
	}
	if !(Risk{Settled: "badly", Bars: true}).Blocks() || (Risk{Settled: "badly"}).Blocks() || (Risk{Settled: "well", Bars: true}).Blocks() || (Risk{Bars: true}).Blocks() {
		t.Error("a risk blocks when it turned out badly and bars what it concerns, and only then")
	}
}

// What is dated after a day is found wherever it stands.
func TestDatedAfter(t *testing.T) {
	for name, s := range map[string]State{
		"finding": {Findings: []Finding{{On: monthDay(3, 5)}}}, "inspection": {Looks: []Inspection{{On: monthDay(3, 5)}}},
		"area": {Areas: []AreaSeen{{On: monthDay(3, 5)}}}, "casting": {Castings: []Cast{{On: monthDay(3, 5)}}},
	} {
		if !s.DatedAfter(monthDay(3, 4)) || s.DatedAfter(monthDay(3, 5)) {
			t.Errorf("a %s of the 5th is after the 4th and not after the 5th", name)
		}
	}
}

// Acts of one day are in the order of their times where both are on record.
func TestFallsByTheClock(t *testing.T) {
	for _, c := range []struct {
		at, mark string
		on       int
		want     string
	}{
		{"10:00", "09:59", 5, ""}, {"10:00", "10:00", 5, ""}, {"", "12:00", 5, ""}, {"10:00", "", 5, ""}, {"10:00", "25:00", 5, ""},
		{"10:00", "10:01", 5, "it is of 10:00 on 2026-03-05, before the weld at 10:01"}, {"10:00", "09:00", 6, "before the weld on 2026-03-06"}, {"10:00", "11:00", 4, ""},
	} {
		a := Act{By: "T1", On: monthDay(3, 5), At: c.at, After: []Mark{{On: monthDay(3, c.on), At: c.mark, What: "the weld"}}}
		got := (&State{}).Falls(a, people(), monthDay(3, 10))
		if c.want == "" && got != "" || c.want != "" && !strings.Contains(got, c.want) {
			t.Errorf("%+v: %q, want %q", c, got, c.want)
		}
		if (&State{}).Stands(a, people(), monthDay(3, 10)) != (c.want == "") {
			t.Errorf("%+v: stands and does not", c)
		}
	}
	unknown := Act{By: "T1", On: monthDay(3, 5), After: []Mark{{What: "the weld was made"}}}
	if got := (&State{}).Falls(unknown, people(), monthDay(3, 10)); !strings.Contains(got, "not on record on which the weld was made") {
		t.Errorf("a day that nobody knows: %q", got)
	}
}

// Rows of readings that belong to no job are judged like those of one.
func TestCheckReadings(t *testing.T) {
	good := Reading{Setup: "A", Kind: "xyz", From: "P1", X: unit.Some(1.), Y: unit.Some(2.), Z: unit.Some(3.)}
	if ps := CheckReadings([]Reading{good}); len(ps) > 0 {
		t.Errorf("%v", ps)
	}
	bad := good
	bad.Std = unit.Some(0.)
	if ps := CheckReadings([]Reading{good, bad}); len(ps) != 1 || !strings.Contains(ps.Error(), "reading 2 column std_mm: the standard uncertainty is not more than zero") {
		t.Errorf("%v", ps)
	}
	bad = good
	bad.X = unit.Maybe[float64]{}
	if ps := CheckReadings([]Reading{bad}); len(ps) != 1 {
		t.Errorf("a point without x: %v", ps)
	}
}

// Times of day, and what is left of a step under way.
func TestClockAndLeft(t *testing.T) {
	for s, want := range map[string]int{"00:00": 0, "09:05": 545, "23:59": 1439, "24:00": -1, "9:05": -1, "": -1, "aa:bb": -1, "09.05": -1, "-1:00": -1, "10:60": -1} {
		m, ok := Clock(s)
		if ok != (want >= 0) || ok && int(m) != want {
			t.Errorf("%q: %v %v, want %d", s, m, ok, want)
		}
		if got, yes := (Record{Closed: s}).ClosedAt(); got != m || yes != ok {
			t.Errorf("closed at %q: %v %v", s, got, yes)
		}
	}
	d := Doings{{Last: Actual{Minutes: 20, Left: 9, Going: true}}, {Last: Actual{Minutes: 5, Left: 3, Going: true}}}
	if d.Left() != 3 || d.Minutes() != 25 || d.Done() || (Doings{}).Left() != 0 {
		t.Errorf("left %v of %v, done %v", d.Left(), d.Minutes(), d.Done())
	}
}

// Every record goes to the list that bears its name in the file, and nothing else does.
func TestListOf(t *testing.T) {
	lengths := Lengths(&State{Answers: []Answer{{}, {}}})
	for _, record := range []any{Evidence{}, Asked{}, Answer{}, Figure{}, Told{}, Accepted{}, Review{}, Record{}, Check{}, Choice{}, Actual{}, Inspection{},
		Finding{}, Hazard{}, Setup{}, AreaSeen{}, Earlier{}, Cast{}, Climate{}, Risk{}, Agreed{}, Arrival{}, Promised{}} {
		list := ListOf(record)
		n, ok := lengths[list]
		if want := 2 * map[string]int{"answers": 1}[list]; list == "" || !ok || n != want {
			t.Errorf("%T goes to %q of %d records", record, list, n)
		}
	}
	if ListOf(Vehicle{}) != "" || ListOf(Readings{}) != "" || ListOf(nil) != "" {
		t.Error("what cannot be added has a list")
	}
}
