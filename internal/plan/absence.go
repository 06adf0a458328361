package plan

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
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

// handedOver says that somebody else goes on with a step under way, since who began it is away
// on the first day and another one is there who does such work; and tells of it. Without one it
// waits.
func (w *week) handedOver(in *InShop, s Step, a job.Actual) bool {
	away, ok := w.sh.PersonAway(a.By, w.from)
	if !ok {
		return false
	}
	other := slices.ContainsFunc(w.sh.People, func(p shop.Person) bool {
		_, out := w.sh.PersonAway(p.ID, w.from)
		return !out && p.ID != a.By && slices.Contains(p.Skills, s.Skill)
	})
	then := "nobody else is there who does such work: it waits"
	if other {
		then = "somebody else goes on with it"
	}
	w.notes = append(w.notes, diag.Note{Code: "week.handed-over", Severity: diag.Caution, Where: in.Job.ID,
		Text: fmt.Sprintf("%s: %s has %q under way and is %s; %s", in.Job.ID, a.By, s.Name, away.Words(), then),
		Hint: "see that whoever goes on knows how far it is, and that it is safe meanwhile"})
	return other
}
