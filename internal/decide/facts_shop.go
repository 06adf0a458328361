package decide

import (
	"strings"

	"fettle/internal/job"
	"fettle/internal/rule"
	"fettle/internal/unit"
)

// equipment is what the shop has and may use today.
func (s *scene) equipment() known {
	if s.in.Shop == nil || len(s.in.Shop.Equipment) == 0 {
		return known{from: "the shop file names none"}
	}
	have, out := s.in.Shop.Ready(s.in.Today)
	return known{rule.SetValue(hyphened(have)...), from(shopFile, "its test has run out", out)}
}

// qualifications is what at least one person of the shop holds today.
func (s *scene) qualifications() known {
	if s.in.Shop == nil {
		return known{from: "the shop is not known"}
	}
	have, out := s.in.Shop.Qualifications(s.in.Today)
	if len(have)+len(out) == 0 {
		return known{from: "the shop file names none"}
	}
	return known{rule.SetValue(hyphened(have)...), from(shopFile, "run out", out)}
}

const shopFile = "from the shop file"

func from(where, why string, out []string) string {
	if len(out) > 0 {
		where += "; " + why + ": " + strings.Join(out, ", ")
	}
	return where
}

// hyphened writes names as conditions do: a condition names one word.
func hyphened(names []string) []string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = strings.Join(strings.Fields(n), "-")
	}
	return out
}

// temperature is that of the work area: measured today, or the usual one of the
// shop if the shop says how far it may be off. Of several of today all have to
// keep a limit. One that nobody of the shop has signed for takes nobody's place,
// and has to keep it too.
func (s *scene) temperature() known {
	out := s.usualTemperature()
	var signed, others []rule.Value
	var by []string
	for _, w := range s.in.Job.Workplace {
		if w.On != s.in.Today {
			continue
		}
		v := rule.NumberValue(float64(w.Temp), float64(w.Std), "C")
		if s.in.Job.Stands(job.Act{By: w.By, On: w.On}, s.in.Shop, s.in.acts()) {
			signed = append(signed, v)
			by = append(by, v.String()+" measured by "+w.By+" on "+w.On.String())
		} else {
			others = append(others, v)
		}
	}
	if len(signed) > 0 {
		out = known{rule.Span(signed, s.confidence()), strings.Join(by, ", ")}
	}
	if len(others) > 0 && out.value.Known {
		out.value = rule.Span(append(others, out.value), s.confidence())
		out.from += "; not signed for by anybody of the shop, and held against the limits too: " + texts(others)
	}
	return out
}

func texts(values []rule.Value) string {
	out := make([]string, len(values))
	for i, v := range values {
		out[i] = v.String()
	}
	return strings.Join(out, ", ")
}

// confidence is the probability a limit has to be met with.
func (s *scene) confidence() float64 { return max(rule.LeastConfidence, float64(s.in.Body.Confidence)) }

func (s *scene) usualTemperature() known {
	switch sh := s.in.Shop; {
	case sh == nil:
		return known{from: "nobody measured it today"}
	case sh.TempStd <= 0:
		return known{from: "nobody measured it today, and the shop does not say how far its usual " + sh.Temp.String() + " may be off"}
	default:
		return known{rule.NumberValue(float64(sh.Temp), float64(sh.TempStd), "C"), "the usual temperature of the shop"}
	}
}

// casting is what is on record about the casting of a finding.
func (s *scene) casting(sub *subject) (job.Cast, bool) {
	for _, c := range s.in.Job.Castings {
		if sub.casting != nil && c.Casting == sub.casting.ID {
			return c, true
		}
	}
	return job.Cast{}, false
}

// castOn is the day the casting was cast.
func (s *scene) castOn(sub *subject) known {
	if sub.casting == nil {
		return known{from: notOnACasting}
	}
	c, _ := s.casting(sub)
	if c.CastOn.IsZero() {
		return known{from: saysNothing}
	}
	if why := s.in.Job.Unread(c, s.in.Shop, s.in.acts()); why != "" {
		return known{from: "what was read on the casting does not count: " + why}
	}
	return known{rule.NumberValue(rule.Day(c.CastOn), 0, rule.UnitDate), "read on the casting by " + c.By}
}

// age is how long the part has been in use: as long as the vehicle, unless it
// was changed.
func (s *scene) age(sub *subject) known {
	since, from := s.in.Job.Vehicle.Built, "the part is taken to be as old as the vehicle"
	if c, ok := s.casting(sub); ok && !c.FittedOn.IsZero() {
		if why := s.in.Job.Unread(c, s.in.Shop, s.in.acts()); why != "" {
			return known{from: "that the part was changed on " + c.FittedOn.String() + " does not count: " + why}
		}
		since, from = c.FittedOn, "fitted on "+c.FittedOn.String()
	}
	if since.IsZero() || s.in.Today.Before(since) {
		return known{from: "the day the vehicle was built was not entered, or lies ahead"}
	}
	return known{rule.NumberValue(months(since, s.in.Today), 0, "months"), from}
}

// months is the time from one day to another in calendar months: whole months,
// and the rest as a share of the month it runs into.
func months(from, to unit.Date) float64 {
	whole := (to.Year-from.Year)*12 + int(to.Month) - int(from.Month)
	for whole > 0 && to.Before(monthsLater(from, whole)) {
		whole--
	}
	start, end := monthsLater(from, whole), monthsLater(from, whole+1)
	return float64(whole) + (rule.Day(to)-rule.Day(start))/(rule.Day(end)-rule.Day(start))
}

// monthsLater is the same day so many months on, or the last day of a month
// that is too short for it.
func monthsLater(d unit.Date, n int) unit.Date {
	first := unit.DateOf(unit.Date{Year: d.Year, Month: d.Month, Day: 1}.Time().AddDate(0, n, 0))
	last := unit.DateOf(first.Time().AddDate(0, 1, -1))
	return unit.Date{Year: first.Year, Month: first.Month, Day: min(d.Day, last.Day)}
}
