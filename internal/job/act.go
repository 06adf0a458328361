package job

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Act is something that a person did on a day and that is to permit something:
// an inspection, an area that was looked at, a record, a hazard that was made
// safe, a signature. An act that does not stand permits nothing; what it says
// against the vehicle counts all the same.
type Act struct {
	By    string
	On    unit.Date
	At    string         // hh:mm; empty: not on record
	May   shop.Authority // what the shop file has to let the person sign for, as shop.MayInspect; empty: whoever is in it
	After []Mark         // what it cannot be older than, beside the impact and the opening of the job
}

// Mark is a day, and what happened on it.
type Mark struct {
	On   unit.Date
	At   string // hh:mm; empty: not on record
	What string // goes on after "before": "the treatment was accepted"
}

// Falls says why an act does not stand on a day; empty when it does. This is
// the one rule for everything in a job that is dated and signed:
//
//   - the person is in the shop file, may sign for such a thing, and was not away that day;
//   - the day is known and not after today;
//   - nothing was done to this vehicle, or seen on it, before the impact and
//     before the job was opened;
//   - nothing proves what was only done after it. A day that is not on record
//     is one that nobody can say it was not before. On one day the times count,
//     where both are on record.
func (s *State) Falls(a Act, sh *shop.Shop, today unit.Date) string {
	if all := s.Faults(a, sh, today); len(all) > 0 {
		return all[0]
	}
	return ""
}

// Faults is every reason why an act does not stand on a day; see Falls.
func (s *State) Faults(a Act, sh *shop.Shop, today unit.Date) []string {
	var out []string
	if why := signer(a, sh); why != "" {
		out = append(out, why)
	}
	if a.On.IsZero() {
		return append(out, "it does not say on which day it was")
	}
	if today.Before(a.On) {
		out = append(out, fmt.Sprintf("it is dated %s, after today, %s", a.On, today))
	}
	if !s.Impact.On.IsZero() && a.On.Before(s.Impact.On) {
		out = append(out, fmt.Sprintf("it is dated %s, before the impact of %s", a.On, s.Impact.On))
	}
	if !s.Opened.IsZero() && a.On.Before(s.Opened) {
		out = append(out, fmt.Sprintf("it is dated %s, before the job was opened on %s", a.On, s.Opened))
	}
	for _, m := range a.After {
		switch {
		case m.On.IsZero():
			out = append(out, fmt.Sprintf("it is dated %s, and the day is not on record on which %s", a.On, m.What))
		case a.On.Before(m.On):
			out = append(out, fmt.Sprintf("it is dated %s, before %s on %s", a.On, m.What, m.On))
		case a.On == m.On && earlier(a.At, m.At):
			out = append(out, fmt.Sprintf("it is of %s on %s, before %s at %s", a.At, a.On, m.What, m.At))
		}
	}
	return out
}

// earlier says that two times of one day are both on record, and the first is the
// earlier. Of two acts on one day without their times nobody can say that: they are
// taken in the order they had to be done in.
func earlier(a, b string) bool {
	x, ok := clockMinutes(a)
	y, also := clockMinutes(b)
	return ok && also && x < y
}

// Stands says that an act stands; see Falls.
func (s *State) Stands(a Act, sh *shop.Shop, today unit.Date) bool {
	return s.Falls(a, sh, today) == ""
}

func signer(a Act, sh *shop.Shop) string {
	if strings.TrimSpace(a.By) == "" {
		return "it does not say who did it"
	}
	if sh == nil {
		return fmt.Sprintf("nobody can tell who %q is without the shop file", a.By)
	}
	p, ok := sh.Signer(a.By)
	switch {
	case !ok:
		return fmt.Sprintf("%q names no person of the shop file", a.By)
	case a.May != "" && !p.MaySign(a.May):
		return fmt.Sprintf("%s may not sign for it (%q under 'may' in the shop file)", p.ID, a.May)
	}
	if away, ok := sh.PersonAway(p.ID, a.On); ok && a.May != shop.MayAnswers { // an answer has the day it was given, not the one it was recorded on
		return fmt.Sprintf("%s is %s by the shop file", p.ID, away.Words())
	}
	return ""
}

// Whenever is the last day of acts when one does not ask when they were done:
// a replay takes what is on record as it stands.
var Whenever = unit.Date{Year: 9999, Month: 12, Day: 31}

// DatedAfter says that something seen on the vehicle is dated after a day.
func (s *State) DatedAfter(day unit.Date) bool {
	var days []unit.Date
	for _, f := range s.Findings {
		days = append(days, f.On)
	}
	for _, l := range s.Looks {
		days = append(days, l.On)
	}
	for _, a := range s.Areas {
		days = append(days, a.On)
	}
	for _, a := range s.Access {
		days = append(days, a.On)
	}
	for _, k := range s.Castings {
		days = append(days, k.On)
	}
	return slices.ContainsFunc(days, day.Before)
}

// Claims is a finding as far as its own signature carries it, and why that is
// not all of it. What was seen stays: where it lies and what it is. What speaks
// for it does not: that it does not go through, how deep it is, that its tips
// were found by anything surer than the eye, that it is no kink, how often its part was
// straightened before.
func (s *State) Claims(f Finding, sh *shop.Shop, today unit.Date) (Finding, string) {
	why := s.Falls(Act{By: f.By, On: f.On}, sh, today)
	if why == "" {
		return f, ""
	}
	if f.Through == body.No {
		f.Through = body.Unknown
	}
	if f.Kinked == body.No {
		f.Kinked = body.Unknown
	}
	f.Straight = unit.Maybe[int]{}
	f.Depth, f.DepthStd = unit.Maybe[unit.MM]{}, 0
	tips := make([]body.TipMethod, len(f.Tips))
	for i := range tips {
		tips[i] = body.TipVisual
	}
	f.Tips = tips
	f.Zones, f.Pins, f.Measured = nil, nil, nil // where it lies and how long it is rests on the signature alone
	return f, why
}
