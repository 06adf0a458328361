package sched

import (
	"strings"
	"testing"
)

// By hand: each figure of a problem at the end of its range, which is taken, and one beyond,
// which is refused with what it belongs to.
func TestProblemsWithoutMeaningAreRefused(t *testing.T) {
	plain := func() Problem {
		return Problem{Calendar: always(), Workers: []Worker{{ID: "w", Skills: []string{"s"}}}, Places: []Place{{ID: "P", Kind: "x"}}, Pools: []Pool{{"pool", 3}}, States: []string{"lift"},
			Activities: []Activity{{ID: "a", Minutes: 1, Place: "x"}, {ID: "b", Minutes: 1, Place: "x"}, {ID: "c", Minutes: 1}, {ID: "d", Minutes: 1}}}
	}
	const limit = limitMin
	for _, c := range []struct {
		name, told string
		change     func(p *Problem, n int) // 0: taken, 1: refused
	}{
		{"start", "minute -1 is out of range", func(p *Problem, n int) { p.Start = -n }},
		{"start, late", "is out of range", func(p *Problem, n int) { p.Start = limit + n }},
		{"minutes", "a: -1 minutes, released at 0", func(p *Problem, n int) { p.Activities[0].Minutes = -n }},
		{"minutes, many", "is out of range", func(p *Problem, n int) { p.Activities[0].Minutes = limit + n }},
		{"release", "released at -1", func(p *Problem, n int) { p.Activities[0].Release = -n }},
		{"release, late", "is out of range", func(p *Problem, n int) { p.Activities[0].Release = limit + n }},
		{"before it", "a: the activity -1 before it does not exist", func(p *Problem, n int) { p.Activities[0].After = []Lag{{Pred: 1 - 2*n}} }},
		{"before it, beyond", "the activity 4 before it", func(p *Problem, n int) { p.Activities[0].After = []Lag{{Pred: 3 + n}} }},
		{"lag", "after b cannot be kept", func(p *Problem, n int) { p.Activities[0].After = []Lag{{Pred: 1, Minutes: limit + n}} }},
		{"lag, negative", "after b cannot be kept", func(p *Problem, n int) { p.Activities[0].After = []Lag{{Pred: 1, Minutes: -limit - n}} }},
		{"pool", "from pool -1", func(p *Problem, n int) { p.Activities[0].Draws = []Draw{{-n, 1}} }},
		{"pool, beyond", "from pool 1", func(p *Problem, n int) { p.Activities[0].Draws = []Draw{{n, 1}} }},
		{"draw", "it draws -1", func(p *Problem, n int) { p.Activities[0].Draws = []Draw{{0, -n}} }},
		{"draw, more than there is", "it draws 4", func(p *Problem, n int) { p.Activities[0].Draws = []Draw{{0, 3 + n}} }},
		{"stay", "a stay of -1", func(p *Problem, n int) { p.Activities[0].Stay = -n }},
		{"stay, long", "is out of range", func(p *Problem, n int) { p.Activities[0].Stay = limit + n }},
		{"state", "it sets state -1", func(p *Problem, n int) { p.Activities[0].Sets = []Setting{{State: -n}} }},
		{"state, beyond", "it sets state 1", func(p *Problem, n int) { p.Activities[0].Sets = []Setting{{State: n}} }},
		{"state, stay", "it sets state 0", func(p *Problem, n int) { p.Activities[0].Sets = []Setting{{Stay: -n}} }},
		{"state, long stay", "it sets state 0", func(p *Problem, n int) { p.Activities[0].Sets = []Setting{{Stay: limit + n}} }},
		{"state, out", "it sets state 0", func(p *Problem, n int) { p.Activities[0].Sets = []Setting{{Out: -n}} }},
		{"state, long out", "it sets state 0", func(p *Problem, n int) { p.Activities[0].Sets = []Setting{{Out: limit + n}} }},
		{"state, in", "it sets state 0", func(p *Problem, n int) { p.Activities[0].Sets = []Setting{{In: -n}} }},
		{"state, long in", "it sets state 0", func(p *Problem, n int) { p.Activities[0].Sets = []Setting{{In: limit + n}} }},
		{"state, more", "it sets state 0", func(p *Problem, n int) { p.Activities[0].Sets = []Setting{{More: -n}} }},
		{"state, much more", "it sets state 0", func(p *Problem, n int) { p.Activities[0].Sets = []Setting{{More: limit + n}} }},
		{"state, twice", "it sets lift twice", func(p *Problem, n int) { p.Activities[0].Sets = []Setting{{Value: "u"}, {Value: "v"}}[:1+n] }},
		{"skill", "a: no worker has the skill \"t\"", func(p *Problem, n int) { p.Activities[0].Skill = []string{"s", "t"}[n] }},
		{"place", "a: there is no place of the kind \"y\"", func(p *Problem, n int) { p.Activities[0].Place = []string{"x", "y"}[n] }},
		{"chain", "c: member -1 does not exist", func(p *Problem, n int) { p.Chains = []Chain{{ID: "c", Members: []int{-n}}} }},
		{"chain, beyond", "c: member 4 does not exist", func(p *Problem, n int) { p.Chains = []Chain{{ID: "c", Members: []int{3 + n}}} }},
		{"chain, twice", "a: is in two chains, c and d", func(p *Problem, n int) {
			p.Chains = []Chain{{ID: "c", Members: []int{0}}, {ID: "d", Members: []int{1 - n}}}
		}},
		{"window", "c: a window of -1", func(p *Problem, n int) { p.Chains = []Chain{{ID: "c", Window: -n}} }},
		{"hold", "h: member -1 does not exist", func(p *Problem, n int) { p.Holds = []Hold{{ID: "h", Kind: "x", Members: []int{-n}}} }},
		{"hold, beyond", "h: member 4 does not exist", func(p *Problem, n int) { p.Holds = []Hold{{ID: "h", Kind: "x", Members: []int{1 + 3*n}}} }},
		{"hold, no place", "h: c is not done in the kind", func(p *Problem, n int) {
			p.Holds = []Hold{{ID: "h", Kind: []string{"x", ""}[n], Members: []int{2 * n}}}
		}},
		{"hold, another kind", "h: a is not done in the kind", func(p *Problem, n int) { p.Holds = []Hold{{ID: "h", Kind: []string{"x", "y"}[n], Members: []int{0}}} }},
		{"hold, twice", "a: is in two holds, h and i", func(p *Problem, n int) {
			p.Holds = []Hold{{ID: "h", Kind: "x", Members: []int{0}}, {ID: "i", Kind: "x", Members: []int{1 - n}}}
		}},
		{"hold, until", "h: activity -1 does not exist", func(p *Problem, n int) {
			p.Holds = []Hold{{ID: "h", Kind: "x", Members: []int{0}, Until: []int{2 - 3*n}}}
		}},
		{"hold, until beyond", "h: activity 4 does not exist", func(p *Problem, n int) {
			p.Holds = []Hold{{ID: "h", Kind: "x", Members: []int{0}, Until: []int{3 + n}}}
		}},
		{"hold, until the same kind", "h: b, which ends it, is done in a place of the same kind", func(p *Problem, n int) {
			p.Holds = []Hold{{ID: "h", Kind: "x", Members: []int{0}, Until: []int{2 - n}}}
		}},
		{"hold, open", "h: there is no place of the kind \"y\"", func(p *Problem, n int) { p.Holds = []Hold{{ID: "h", Kind: []string{"x", "y"}[n], Open: true}} }},
		{"hold of a part of a chain", "c: only some of its activities", func(p *Problem, n int) {
			p.Chains, p.Holds = []Chain{{ID: "c", Members: []int{0, 1}}}, []Hold{{ID: "h", Kind: "x", Members: []int{0, 1}[:2-n]}}
		}},
		{"away", "w: it is away from minute -1", func(p *Problem, n int) { p.Workers[0].Away = []Away{{-n, 5}} }},
		{"away, late", "w: it is away", func(p *Problem, n int) { p.Workers[0].Away = []Away{{limit + n, 0}} }},
		{"away, the end", "w: it is away from minute 5 to 5", func(p *Problem, n int) { p.Workers[0].Away = []Away{{5, 6 - n}} }},
		{"away, a late end", "w: it is away", func(p *Problem, n int) { p.Workers[0].Away = []Away{{5, limit + n}} }},
		{"away, a place", "P: it is away from minute 7 to 3", func(p *Problem, n int) { p.Places[0].Away = []Away{{7, 8 - 5*n}} }},
		{"greatest and away", "w: greatest distances", func(p *Problem, n int) {
			p.Activities[0].After, p.Workers[0].Away = []Lag{{Pred: 1, Minutes: -5 * n}}, []Away{{5, 6}}
		}},
		{"greatest and away, a place", "P: greatest distances", func(p *Problem, n int) {
			p.Activities[0].After, p.Places[0].Away = []Lag{{Pred: 1, Minutes: -5 * n}}, []Away{{5, 6}}
		}},
		{"greatest and a hold", "greatest distances", func(p *Problem, n int) {
			p.Activities[0].After, p.Holds = []Lag{{Pred: 1, Minutes: -5 * n}}, []Hold{{ID: "h", Kind: "x", Members: []int{0}}}
		}},
		{"greatest and a state", "b: greatest distances", func(p *Problem, n int) {
			p.Activities[0].After, p.Activities[1].Sets = []Lag{{Pred: 1, Minutes: -5 * n}}, []Setting{{}}
		}},
		{"greatest and a stay", "b: greatest distances", func(p *Problem, n int) {
			p.Activities[0].After, p.Activities[1].Stay = []Lag{{Pred: 1, Minutes: -5 * n}}, 1
		}},
		{"window of a day, the other way", "window 10 to 9 of day 2", func(p *Problem, n int) { p.Calendar.Week[2] = []Window{{8 + 2*n, 9}} }},
		{"window of a day, of nothing", "window 10 to 10 of day 2", func(p *Problem, n int) { p.Calendar.Week[2] = []Window{{10, 11 - n}} }},
		{"window of a day, after its end", "window 5 to 1441 of day 2", func(p *Problem, n int) { p.Calendar.Week[2] = []Window{{5, 1440 + n}} }},
		{"window of a day, before it", "window -1 to 5 of day 2", func(p *Problem, n int) { p.Calendar.Week[2] = []Window{{-n, 5}} }},
		{"windows that meet", "window 4 to 9 of day 2", func(p *Problem, n int) { p.Calendar.Week[2] = []Window{{0, 5}, {5 - n, 9}} }},
		{"no work", "nobody works on any day", func(p *Problem, n int) {
			p.Calendar.Week = [7][]Window{{{0, 1}}}
			p.Calendar.Week[0] = p.Calendar.Week[0][:1-n]
		}},
		{"clock", "forward by 5 at 0", func(p *Problem, n int) { p.Calendar.Shifts = []Shift{{1 - n, 5}} }},
		{"clock, order", "at 7", func(p *Problem, n int) { p.Calendar.Shifts = []Shift{{7, 5}, {8 - n, 5}} }},
		{"clock, far", "by 721 minutes", func(p *Problem, n int) { p.Calendar.Shifts = []Shift{{7, dayMin/2 + n}} }},
		{"clock, far back", "by -721 minutes", func(p *Problem, n int) { p.Calendar.Shifts = []Shift{{7, -dayMin/2 - n}} }},
		{"day off", "is out of range", func(p *Problem, n int) { p.Calendar.Off = []int{-5, limit/dayMin + n} }},
	} {
		for n := range 2 {
			p := plain()
			c.change(&p, n)
			err := p.check()
			if n == 0 && err != nil {
				t.Errorf("%s: refused at the end of its range: %v", c.name, err)
			}
			if n == 1 && (err == nil || !strings.Contains(strings.ReplaceAll(err.Error(), "forward by 5 minutes", "forward by 5"), c.told)) {
				t.Errorf("%s: %v, want %q", c.name, err, c.told)
			}
		}
	}
}

// By hand: jobs of a shared problem that do not fit it are refused.
func TestJobsThatDoNotFitAreRefused(t *testing.T) {
	for _, c := range []struct {
		name, told string
		change     func(p *Problem, s *Shared, n int)
	}{
		{"a job for each", "3 activities belong to a job, of 4", func(p *Problem, s *Shared, n int) { s.Of = s.Of[:4-n] }},
		{"a job that is", "a: belongs to job 2", func(p *Problem, s *Shared, n int) { s.Of[0], s.Of[1] = 2*n, 0 }},
		{"a job that is, below", "a: belongs to job -1", func(p *Problem, s *Shared, n int) { s.Of[0] = -n }},
		{"one job waits for another", "b: waits for c of another job", func(p *Problem, s *Shared, n int) { p.Activities[1].After = []Lag{{Pred: 2 * n}} }},
		{"a chain of two", "x: is a chain over two jobs", func(p *Problem, s *Shared, n int) { p.Chains = []Chain{{ID: "x", Members: []int{0, 1 + n}}} }},
		{"a hold of two", "h: is a hold of two jobs", func(p *Problem, s *Shared, n int) { p.Holds = []Hold{{ID: "h", Kind: "x", Members: []int{0, 1 + n}}} }},
		{"a hold until another", "h: is a hold of two jobs", func(p *Problem, s *Shared, n int) {
			p.Activities[1].Place, p.Activities[2].Place = "", ""
			p.Holds = []Hold{{ID: "h", Kind: "x", Members: []int{0}, Until: []int{1 + n}}}
		}},
		{"places that are kept", "2 places are kept by a job or by none, of 1", func(p *Problem, s *Shared, n int) { s.Keeps = make([]int, 1+n) }},
		{"greatest distances", "for one job at a time", func(p *Problem, s *Shared, n int) { p.Activities[1].After = []Lag{{Pred: 0, Minutes: -9 * n}} }},
	} {
		for n := range 2 {
			p := Problem{Calendar: always(), Places: []Place{{ID: "P", Kind: "x"}}, Activities: []Activity{{ID: "a", Minutes: 1, Place: "x"}, {ID: "b", Minutes: 1, Place: "x"}, {ID: "c", Minutes: 1, Place: "x"}, {ID: "d", Minutes: 1}}}
			s := Shared{Of: []int{0, 0, 1, 1}, Due: []int{0, 0}}
			c.change(&p, &s, n)
			_, _, err := SolveShared(p, s)
			if (err != nil) != (n == 1) || n == 1 && !strings.Contains(err.Error(), c.told) {
				t.Errorf("%s, %d: %v, want %q", c.name, n, err, c.told)
			}
		}
	}
}
