package rule

import (
	"math"
	"math/big"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/unit"
)

// unitScale is a unit and what one of it is in the unit of the fact.
type unitScale struct {
	name string
	per  *big.Rat
}

// mmPer has the length units a planner may write for a fact in millimetres, as
// exact fractions.
var mmPer = []unitScale{
	{"mm", big.NewRat(1, 1)},
	{"cm", big.NewRat(10, 1)},
	{"m", big.NewRat(1000, 1)},
	{"in", big.NewRat(254, 10)},
}

// monthsPer has the spans of time a planner may write for a fact in months.
var monthsPer = []unitScale{
	{"months", big.NewRat(1, 1)},
	{"month", big.NewRat(1, 1)},
	{"years", big.NewRat(12, 1)},
	{"year", big.NewRat(12, 1)},
}

// UnitDate is the unit of a fact that is a calendar day: a number of days,
// written year-month-day.
const UnitDate = "date"

// Day is a calendar day as a number: days since 1 January 1970.
func Day(d unit.Date) float64 {
	return math.Round(d.Time().Sub(unit.Date{Year: 1970, Month: 1, Day: 1}.Time()).Hours() / 24)
}

// dayText is the calendar day of a number of days.
func dayText(days float64) string {
	return unit.Date{Year: 1970, Month: 1, Day: 1}.AddDays(int(unit.Whole(math.Round(days)))).String()
}

func calendarDay(subject, s string) (float64, error) {
	var d unit.Date
	if err := d.UnmarshalText([]byte(s)); err != nil {
		return 0, bad(subject, quote(s)+" is not a date", "write year-month-day, for example \"2026-03-01\"")
	}
	return Day(d), nil
}

// longestNumber keeps the exact arithmetic small whatever a file says.
const longestNumber = 30

func bad(subject, msg, hint string) error {
	return &diag.Error{Kind: diag.Invalid, Op: "rule.Parse", Subject: subject, Msg: msg, Hint: hint}
}

// quantity reads "24 mm" for a fact with the unit unitName. Decimals are
// converted exactly and rounded once, so that "2.4 cm" is the same limit as
// "24 mm". unitless allows the unit to be left out.
func quantity(subject, s, unitName string, unitless bool) (float64, error) {
	s = strings.TrimSpace(s)
	if unitName == UnitDate {
		return calendarDay(subject, s)
	}
	end := 0
	for end < len(s) && strings.IndexByte("+-.0123456789", s[end]) >= 0 {
		end++
	}
	num, name := s[:end], strings.TrimSpace(s[end:])
	r, err := decimal(subject, s, num, name)
	if err != nil {
		return 0, err
	}
	per, err := perUnit(subject, num, name, unitName, unitless)
	if err != nil {
		return 0, err
	}
	f, _ := r.Mul(r, per).Float64()
	if math.IsInf(f, 0) {
		return 0, bad(subject, "the number "+num+" is too large", "")
	}
	return f, nil
}

func decimal(subject, whole, num, rest string) (*big.Rat, error) {
	switch {
	case num == "":
		return nil, bad(subject, quote(whole)+" is not a number", "write for example \"24\" and the unit")
	case strings.HasPrefix(rest, ","):
		return nil, bad(subject, "a comma in the number "+quote(whole), "write a decimal point: 24.5")
	case len(num) > longestNumber:
		return nil, bad(subject, "the number has more than 30 characters", "")
	}
	r, ok := new(big.Rat).SetString(num)
	if !ok {
		return nil, bad(subject, quote(num)+" is not a number", "write for example \"24\" or \"24.5\"")
	}
	return r, nil
}

func perUnit(subject, num, name, unitName string, unitless bool) (*big.Rat, error) {
	one := big.NewRat(1, 1)
	switch {
	case name == "" && (unitName == "" || unitless):
		return one, nil
	case name == "":
		return nil, bad(subject, "the unit is missing after "+num, "write "+quote(num+" "+unitName))
	case unitName == "":
		return nil, bad(subject, quote(name)+" after a number that has no unit", "write "+quote(num))
	case name == unitName:
		return one, nil
	case unitName == "mm":
		return scaleOf(mmPer, name, bad(subject, "the unit "+quote(name)+" is not a length", "write mm, cm, m or in"))
	case unitName == "months":
		return scaleOf(monthsPer, name, bad(subject, "the unit "+quote(name)+" is no span of time", "write months or years"))
	}
	return nil, bad(subject, "the unit "+quote(name)+" does not fit", "write "+quote(num+" "+unitName))
}

func scaleOf(units []unitScale, name string, otherwise error) (*big.Rat, error) {
	for _, u := range units {
		if u.name == name {
			return u.per, nil
		}
	}
	return nil, otherwise
}

func quote(s string) string {
	if len(s) > 60 {
		cut := 57
		for cut > 0 && s[cut]&0xC0 == 0x80 { // not inside a character
			cut--
		}
		s = s[:cut] + "..."
	}
	return "\"" + s + "\""
}
