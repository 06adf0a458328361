package plan

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/sched"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// awayFrom is the absences of a list as minutes after the midnight of a day.
func awayFrom(s *shop.Shop, first unit.Date, of func(shop.Absence) bool) []sched.Away {
	var out []sched.Away
	day0 := midnight(first, s.Location())
	minute := func(d unit.Date) int { return int(midnight(d, s.Location()).Sub(day0) / time.Minute) }
	for _, a := range s.Absences {
		if !of(a) || !a.To.IsZero() && a.To.Before(first) {
			continue
		}
		x := sched.Away{From: max(0, minute(a.From))}
		if !a.To.IsZero() {
			x.To = minute(a.To.AddDays(1))
		}
		out = append(out, x)
	}
	return out
}

// hasBay says that the shop has a bay of a kind that is not closed for good by a day.
func hasBay(s *shop.Shop, kind body.BayKind, day unit.Date) bool {
	return slices.ContainsFunc(s.Bays, func(y shop.Bay) bool { return y.Kind == kind && !s.Closed(y.ID, day) })
}

// forGood names who and what is away for good, where no schedule was found: nothing that needs
// them can be planned after that.
func forGood(s *shop.Shop) string {
	var out []string
	for _, a := range s.Absences {
		if a.To.IsZero() {
			out = append(out, fmt.Sprintf("%s is %s", a.Person+a.Bay, a.Words()))
		}
	}
	if len(out) == 0 {
		return ""
	}
	return "; " + strings.Join(out, ", ")
}

// goesOn is the skill that a step under way asks for: that of the person who began it, as long
// as that person does such work and is there on the first day of work of the week. Else it is
// that of somebody else who is there then; of somebody else who comes back, where who began it has
// left for good; and without one it waits for who began it. It is told. What another firm does is
// signed for by somebody of the shop, and the firm goes on.
func (w *week) goesOn(in *InShop, s Step, by, skill string) string {
	p, ok := w.sh.Signer(by)
	if skill == "" || !ok || !slices.Contains(p.Skills, s.Skill) {
		return skill
	}
	first := unit.DateOf(w.day0.Add(time.Duration(w.first) * time.Minute))
	away, ok := w.sh.PersonAway(p.ID, first)
	if !ok {
		return own(p.ID)
	}
	to, then := insteadOf(p.ID, skill), "somebody else goes on with it"
	switch {
	case w.instead(p.ID, skill, func(id string) bool { _, out := w.sh.PersonAway(id, first); return !out }):
	case w.sh.Left(p.ID, first) && w.instead(p.ID, skill, func(id string) bool { return !w.sh.Left(id, first) }):
		then = "nobody is there who does such work: it waits, and somebody else goes on with it"
	default:
		to, then = own(p.ID), "nobody else is there who does such work: it waits"
	}
	w.notes = append(w.notes, diag.Say("week.handed-over", "{job}: {person} has {step:q} under way and is {away}; {then}", in.Job.ID, p.ID, s.Name, away.Words(), then).Note(diag.Note{Severity: diag.Caution, Where: in.Job.ID, Hint: "see that whoever goes on knows how far it is, and that it is safe meanwhile"}))
	return to
}

// insteadOf is the skill of those who go on with what somebody began.
func insteadOf(person, skill string) string { return skill + ", instead of " + person }

// instead gives that skill to everybody else who has the skill and may; false when nobody does.
func (w *week) instead(person, skill string, may func(id string) bool) bool {
	any, name := false, insteadOf(person, skill)
	for k := range w.prob.Workers {
		o := &w.prob.Workers[k]
		if o.ID == person || !slices.Contains(o.Skills, skill) || !may(o.ID) {
			continue
		}
		if any = true; !slices.Contains(o.Skills, name) {
			o.Skills = append(o.Skills, name)
		}
	}
	return any
}
