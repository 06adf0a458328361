package shop

import (
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/unit"
)

func day(t testing.TB, text string) unit.Date {
	t.Helper()
	var d unit.Date
	if err := d.UnmarshalText([]byte(text)); err != nil {
		t.Fatal(err)
	}
	return d
}

// dated is a shop of three people and two bays: W1 is ill for three days and leaves later, B1 is
// out of order for a day, B2 is closed for good.
func dated(t *testing.T) *Shop {
	on := func(text string) unit.Date { return day(t, text) }
	return &Shop{
		People: []Person{
			{ID: "W1", Qualified: []Qualification{{For: "visual", Until: on("2026-03-10"), Document: "A"}}},
			{ID: "W2", Qualified: []Qualification{{For: "visual", Until: on("2026-03-06"), Document: "B"}, {For: "weld", Until: on("2026-03-06"), Document: "C"}}},
			{ID: "W3", Qualified: []Qualification{{For: "weld", Until: on("2026-03-05"), Document: "D"}}},
		},
		Bays:      []Bay{{ID: "B1"}, {ID: "B2"}},
		Equipment: []string{"saw", "lamp", "probe"},
		Tested:    []Tested{{"lamp", on("2026-03-04")}, {"probe", on("2026-03-05")}},
		Absences: []Absence{
			{Person: "W1", From: on("2026-03-02"), To: on("2026-03-04"), Reason: "ill"},
			{Bay: "B1", From: on("2026-03-03"), To: on("2026-03-03"), Reason: "out of order"},
			{Bay: "B2", From: on("2026-03-04"), Reason: "closed"},
			{Person: "W1", From: on("2026-03-08"), Reason: "has left"},
		},
	}
}

// Who and what is away on each day, first and last ones of an absence included, by hand from the
// absences above. Nobody is away on no day, and the one without a name is nobody.
func TestWhoIsAway(t *testing.T) {
	s := dated(t)
	for _, c := range []struct{ day, w1, b1, b2 string }{
		{"2026-03-01", "", "", ""},
		{"2026-03-02", "away from 2026-03-02 to 2026-03-04 (ill)", "", ""},
		{"2026-03-03", "away from 2026-03-02 to 2026-03-04 (ill)", "away on 2026-03-03 (out of order)", ""},
		{"2026-03-04", "away from 2026-03-02 to 2026-03-04 (ill)", "", "away from 2026-03-04 on (closed)"},
		{"2026-03-05", "", "", "away from 2026-03-04 on (closed)"},
		{"2026-03-07", "", "", "away from 2026-03-04 on (closed)"},
		{"2026-03-08", "away from 2026-03-08 on (has left)", "", "away from 2026-03-04 on (closed)"},
		{"2031-01-01", "away from 2026-03-08 on (has left)", "", "away from 2026-03-04 on (closed)"},
	} {
		d := day(t, c.day)
		check := func(what, want string, a Absence, away, gone, wantGone bool) {
			if away != (want != "") || away && a.Words() != want || gone != wantGone {
				t.Errorf("%s, %s: away %v %q, for good %v; want %q, %v", c.day, what, away, a.Words(), gone, want, wantGone)
			}
		}
		a, away := s.PersonAway("W1", d)
		check("W1", c.w1, a, away, s.Left("W1", d), c.day >= "2026-03-08")
		a, away = s.PersonAway("W2", d)
		check("W2", "", a, away, s.Left("W2", d), false)
		a, away = s.BayAway("B1", d)
		check("B1", c.b1, a, away, s.Closed("B1", d), false)
		a, away = s.BayAway("B2", d)
		check("B2", c.b2, a, away, s.Closed("B2", d), c.b2 != "")
		_, person := s.PersonAway("", d)
		_, bay := s.BayAway("", d)
		if person || bay {
			t.Errorf("%s: the one without a name is away: %v %v", c.day, person, bay)
		}
	}
	_, person := s.PersonAway("W1", unit.Date{})
	_, bay := s.BayAway("B2", unit.Date{})
	if person || bay || s.Left("W1", unit.Date{}) || s.Closed("B2", unit.Date{}) {
		t.Error("somebody is away on no day")
	}
	if !s.leaves("W1") || s.leaves("W2") || s.leaves("B2") {
		t.Error("W1 leaves some day, and nobody else")
	}
}

// What holds on its last day holds no more the day after; somebody who has left holds nothing for
// the shop. The lists keep the order of the file.
func TestWhatHoldsOnADay(t *testing.T) {
	s := dated(t)
	for _, c := range []struct {
		day                  string
		w1, w2weld, w3weld   bool
		have, out, ready, no []string
	}{
		{"2026-03-04", true, true, true, []string{"visual", "weld"}, nil, []string{"saw", "lamp", "probe"}, nil},
		{"2026-03-05", true, true, true, []string{"visual", "weld"}, nil, []string{"saw", "probe"}, []string{"lamp"}},
		{"2026-03-06", true, true, false, []string{"visual", "weld"}, nil, []string{"saw"}, []string{"lamp", "probe"}},
		{"2026-03-07", true, false, false, []string{"visual"}, []string{"weld"}, []string{"saw"}, []string{"lamp", "probe"}},
		{"2026-03-08", true, false, false, nil, []string{"visual", "weld"}, []string{"saw"}, []string{"lamp", "probe"}},
		{"2026-03-11", false, false, false, nil, []string{"visual", "weld"}, []string{"saw"}, []string{"lamp", "probe"}},
	} {
		d := day(t, c.day)
		q, w1 := s.People[0].QualifiedFor("visual", d)
		_, w2 := s.People[1].QualifiedFor("weld", d)
		_, w3 := s.People[2].QualifiedFor("weld", d)
		if w1 != c.w1 || w1 != (q.Document == "A") || w2 != c.w2weld || w3 != c.w3weld {
			t.Errorf("%s: W1 visual %v (%q), W2 weld %v, W3 weld %v", c.day, w1, q.Document, w2, w3)
		}
		if have, out := s.Qualifications(d); !slices.Equal(have, c.have) || !slices.Equal(out, c.out) {
			t.Errorf("%s: qualifications %q, out %q", c.day, have, out)
		}
		if have, out := s.Ready(d); !slices.Equal(have, c.ready) || !slices.Equal(out, c.no) {
			t.Errorf("%s: ready %q, out %q", c.day, have, out)
		}
	}
	if _, ok := s.People[0].QualifiedFor("weld", day(t, "2026-03-01")); ok {
		t.Error("W1 is qualified for what the file does not say")
	}
	if _, ok := s.People[0].QualifiedFor("visual", unit.Date{}); ok {
		t.Error("W1 is qualified on no day")
	}
}

// Hours of a calendar; one that cannot be read is open all day, so that nothing is said to lie
// outside of it.
func TestHoursOfACalendar(t *testing.T) {
	for _, c := range []struct {
		start, end string
		from, to   unit.Minutes
	}{
		{"07:20", "16:31", 440, 991}, {"00:00", "23:59", 0, 1439}, {"", "16:30", 0, 1440}, {"07:00", "25:00", 0, 1440}, {"7", "16:30", 0, 1440},
		{"08:00", "08:00", 0, 1440}, {"09:00", "08:00", 0, 1440}, {"08:00", "08:01", 480, 481},
	} {
		if from, to := (Calendar{Start: c.start, End: c.end}).Hours(); from != c.from || to != c.to {
			t.Errorf("%s to %s: %g to %g, want %g to %g", c.start, c.end, float64(from), float64(to), float64(c.from), float64(c.to))
		}
	}
}

// Who signs: one person, named once or more, among other words; two are nobody.
func TestWhoSigns(t *testing.T) {
	s := &Shop{People: []Person{{ID: "T1", May: []Authority{MayReview}}, {ID: "T2"}}}
	for by, want := range map[string]string{"T1": "T1", "technician T2": "T2", "T1 T1": "T1", "T1 T2": "", "T2 and T1": "", "": "", "technician": "", "t1": "", "T1,": ""} {
		if p, ok := s.Signer(by); ok != (want != "") || p.ID != want {
			t.Errorf("%q is signed by %q, %v; want %q", by, p.ID, ok, want)
		}
	}
	if p := s.People[0]; !p.MaySign(MayReview) || p.MaySign(MayInspect) || s.People[1].MaySign(MayReview) {
		t.Error("T1 may review, nothing else, and T2 nothing")
	}
}

// What is asked of a shop by a name is found by that name alone.
func TestFoundByName(t *testing.T) {
	s := &Shop{People: []Person{{ID: "A"}, {ID: "B"}}, Rates: []Rate{{Skill: "a", Name: "x"}, {Skill: "b", Name: "y"}}, Sublets: []Sublet{{ID: "1", Skill: "c"}, {ID: "2", Skill: "d"}}}
	for _, c := range []struct {
		name         string
		person, rate string
		sublet       string
	}{{"A", "A", "", ""}, {"B", "B", "", ""}, {"a", "", "x", ""}, {"b", "", "y", ""}, {"c", "", "", "1"}, {"d", "", "", "2"}, {"e", "", "", ""}} {
		p, ok1 := s.Person(c.name)
		r, ok2 := s.Rate(body.SkillID(c.name))
		x, ok3 := s.Sublet(body.SkillID(c.name))
		if p.ID != c.person || ok1 != (c.person != "") || r.Name != c.rate || ok2 != (c.rate != "") || x.ID != c.sublet || ok3 != (c.sublet != "") {
			t.Errorf("%s: person %q %v, rate %q %v, sublet %q %v", c.name, p.ID, ok1, r.Name, ok2, x.ID, ok3)
		}
	}
}

// The zone of a shop is that of the zone database; without one, and with a name that was never
// read from a file and is none, it is what its clock shows.
func TestLocationOfAShop(t *testing.T) {
	read, err := Decode("shop.yaml", []byte(changed(t, temp, temp+"zone: Europe/Berlin\n")))
	if err != nil {
		t.Fatal(err)
	}
	if read.Location() != read.zone || read.zone == nil {
		t.Errorf("the zone that was read is not the one in use: %v, %v", read.Location(), read.zone)
	}
	for _, name := range []string{"America/New_York", "Europe/Nowhere", ""} { // a zone that is changed afterwards is not the one read
		read.Zone = name
		want := map[string]string{"America/New_York": name}[name]
		if want == "" {
			want = WallClock.String()
		}
		if got := read.Location().String(); got != want {
			t.Errorf("%q: %s, want %s", name, got, want)
		}
	}
}
