package plan

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// A step under way by somebody who is away on the first day of work goes on with somebody else who
// is there and does such work, however busy, or waits (docs/formats/shop.md, absences). Constructed,
// by hand: A has begun "Open" and 60 minutes are left; it is Tuesday morning.
func TestWhoGoesOnWithAStepUnderWay(t *testing.T) {
	until := func(who string, from, to int) shop.Absence {
		return shop.Absence{Person: who, From: monday(from), To: monday(to), Reason: "ill"}
	}
	left := func(who string) shop.Absence { return shop.Absence{Person: who, From: monday(1), Reason: "left"} }
	busy := bayJob("J2", Step{Name: "Paint", Minutes: 2000})
	busy.Job.Actuals = []job.Actual{{Step: "Paint", Minutes: 10, Going: true, Left: 960, On: monday(0), By: "B"}}
	busy.Promise = monday(1) // so that it comes first
	for name, c := range map[string]struct {
		by     string
		away   []shop.Absence
		second bool
		change func(*shop.Shop)
		day    unit.Date
		other  []InShop
		want   string // who and when
		told   string
	}{
		"there":                          {want: "A Tue 08:00"},
		"signed with a word":             {by: "technician A", want: "A Tue 08:00", other: []InShop{busy}},
		"away":                           {away: []shop.Absence{until("A", 1, 1)}, want: "B Tue 08:00", told: "somebody else goes on with it"},
		"away, the other busy":           {away: []shop.Absence{until("A", 1, 1)}, other: []InShop{busy}, want: "B Thu 08:00", told: "somebody else goes on"},
		"both away":                      {away: []shop.Absence{until("A", 1, 2), until("B", 1, 1)}, want: "A Thu 08:00", told: "it waits"},
		"left":                           {away: []shop.Absence{left("A")}, want: "B Tue 08:00", told: "somebody else goes on"},
		"left, the other comes back":     {away: []shop.Absence{left("A"), until("B", 1, 2)}, want: "B Thu 08:00", told: "it waits, and somebody else goes on"},
		"away until the week begins":     {away: []shop.Absence{until("A", 5, 6)}, day: monday(5), want: "A Mon 08:00"},
		"away when the work begins":      {away: []shop.Absence{until("A", 7, 7)}, day: monday(5), want: "B Mon 08:00", told: "somebody else goes on"},
		"nobody passes the other":        {away: []shop.Absence{until("A", 1, 1)}, second: true, change: func(sh *shop.Shop) { sh.People[1].May = []shop.Authority{shop.MayInspect} }, want: "A Wed 08:00", told: "it waits"},
		"who would be passed has left":   {away: []shop.Absence{left("A")}, second: true, change: func(sh *shop.Shop) { sh.People[1].May = []shop.Authority{shop.MayInspect} }, want: "B Tue 08:00", told: "somebody else goes on"},
		"the other does no such work":    {away: []shop.Absence{until("A", 1, 1)}, change: func(sh *shop.Shop) { sh.People[1].Skills = nil }, want: "A Wed 08:00", told: "it waits"},
		"another firm does it":           {by: "B", change: func(sh *shop.Shop) { subletBody(sh) }, want: "X Tue 08:00"},
		"left, and another firm does it": {away: []shop.Absence{left("A")}, change: func(sh *shop.Shop) { subletBody(sh); sh.People[0].Skills = []body.SkillID{"body"} }, want: "X Tue 08:00", told: "somebody else goes on"},
	} {
		sh := weekShop()
		sh.Absences = c.away
		if c.change != nil {
			c.change(sh)
		}
		if c.by == "" {
			c.by = "A"
		}
		if c.day.IsZero() {
			c.day = monday(1)
		}
		in := bayJob("J1", Step{Name: "Open", Minutes: 100, Second: c.second})
		in.Job.Actuals = []job.Actual{{Step: "Open", Minutes: 40, Going: true, Left: 60, On: monday(0), By: c.by}}
		w, notes := WeekOf(sh, append([]InShop{in}, c.other...), c.day)
		got := ""
		for _, s := range w.Steps {
			if s.Job == "J1" {
				got = s.Person + " " + s.From.Format("Mon 15:04")
			}
		}
		if text := noted(notes, "week.handed-over"); got != c.want || (text == "") != (c.told == "") || !strings.Contains(text, c.told) {
			t.Errorf("%s: %q, want %q; told %q; %v", name, got, c.want, text, notes)
		}
	}
}

// subletBody has another firm do the work.
func subletBody(sh *shop.Shop) {
	for k := range sh.People {
		sh.People[k].Skills = nil
	}
	sh.Sublets = []shop.Sublet{{ID: "X", Skill: "body", Name: "Panel work"}}
}
