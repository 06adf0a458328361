package rule

import (
	"testing"

	"fettle/internal/unit"
)

// Dates count from 1 January 1970; 1 March 2000 is day 11017 (Python,
// datetime.date(2000, 3, 1).toordinal() less that of 1970-01-01).
func TestDates(t *testing.T) {
	c, err := ParseCond("cast", Number, UnitDate, ">= 2000-03-01")
	if err != nil || c.Low.At != 11017 {
		t.Fatalf("%+v, %v; want day 11017", c, err)
	}
	for text, want := range map[string]CondState{"2000-02-29": NotMet, "2000-03-01": Met, "2031-12-24": Met} {
		v, err := ParseValue(Number, UnitDate, text)
		if err != nil {
			t.Fatal(err)
		}
		if got := c.Eval(v, 0.95).State; got != want || v.String() != text {
			t.Errorf("%s is %v as %q, want %v", text, got, v, want)
		}
	}
	if f, ok := c.Nearest(NumberValue(Day(unit.Date{Year: 2000, Month: 2, Day: 20}), 0, UnitDate), 0.95, Met); !ok || f.Limit(UnitDate) != "2000-03-01 or after" {
		t.Errorf("nearest %+v, %q", f, f.Limit(UnitDate))
	}
	for _, bad := range []string{"< 2000-13-01", "<= 24", "= 2000-03-01", "< 1 March"} {
		if _, err := ParseCond("cast", Number, UnitDate, bad); err == nil {
			t.Errorf("%q is read", bad)
		}
	}
}

// Years are twelve months each, exactly; a temperature has one unit and may lie
// below zero.
func TestMonthsAndDegrees(t *testing.T) {
	c, err := ParseCond("age", Number, "months", "< 1.5 years")
	if err != nil || c.High.At != 18 {
		t.Errorf("%+v, %v; want 18 months", c, err)
	}
	if _, err := ParseCond("age", Number, "months", "< 500 d"); err == nil {
		t.Error("days are read as months")
	}
	c, err = ParseCond("temperature", Number, "C", "< -5 C")
	if err != nil || c.Eval(NumberValue(-6, 0, "C"), 0.95).State != Met || c.Eval(NumberValue(-5, 0, "C"), 0.95).State != NotMet {
		t.Errorf("%+v, %v", c, err)
	}
	if _, err := ParseCond("temperature", Number, "C", "< 41 F"); err == nil {
		t.Error("Fahrenheit is read as Celsius")
	}
	sp := Space{Signed: map[string]bool{"temperature": true}}
	colder, err := ParseCond("temperature", Number, "C", "< -9 C")
	if err != nil || !colder.Implies(c, sp) || c.Implies(colder, sp) {
		t.Error("below -9 implies below -5, and not the other way round")
	}
}
