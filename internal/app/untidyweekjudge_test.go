package app

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// The judge of untidy weeks, written from docs/methods/schedule.md and docs/formats. It takes
// plans, records, the shop and the week, and shares no code with what made the week.

// span is a stretch of time.
type span struct{ from, to time.Time }

func (s span) meets(o span) bool { return s.from.Before(o.to) && o.from.Before(s.to) }

// open is the hours of work of a day.
func (x *untidyWeek) open(d unit.Date) []span {
	c := x.shop.Calendar
	if !slices.Contains(c.Days, strings.ToLower(d.Time().Weekday().String()[:3])) || slices.Contains(c.Holidays, d) {
		return nil
	}
	if len(c.Break) == 2 {
		return []span{{x.clock(d, c.Start), x.clock(d, c.Break[0])}, {x.clock(d, c.Break[1]), x.clock(d, c.End)}}
	}
	return []span{{x.clock(d, c.Start), x.clock(d, c.End)}}
}

// clock is when the clock on the wall shows a time.
func (x *untidyWeek) clock(d unit.Date, hhmm string) time.Time {
	h, m := 0, 0
	if n, err := fmt.Sscanf(hhmm, "%d:%d", &h, &m); n != 2 || err != nil {
		panic(hhmm)
	}
	return time.Date(d.Year, d.Month, d.Day, h, m, 0, 0, x.shop.Location())
}

// closing is the end of the working day, of a day off as of others.
func (x *untidyWeek) closing(d unit.Date) time.Time { return x.clock(d, x.shop.Calendar.End) }

// worked is the minutes of work between two times.
func (x *untidyWeek) worked(from, to time.Time) int {
	n := 0.0
	for d := unit.DateOf(from); !unit.DateOf(to).Before(d); d = d.AddDays(1) {
		for _, w := range x.open(d) {
			if a, b := latestOf(w.from, from), earliestOf(w.to, to); a.Before(b) {
				n += b.Sub(a).Minutes()
			}
		}
	}
	return int(math.Round(n))
}

// next is the first minute of work from a time on.
func (x *untidyWeek) next(t time.Time) time.Time {
	for d := unit.DateOf(t); ; d = d.AddDays(1) {
		for _, w := range x.open(d) {
			if t.Before(w.to) {
				return latestOf(t, w.from)
			}
		}
	}
}

// until is the end of so many minutes of work from a minute of work on.
func (x *untidyWeek) until(t time.Time, minutes int) time.Time {
	if minutes == 0 {
		return t
	}
	left := time.Duration(minutes) * time.Minute
	for d := unit.DateOf(t); ; d = d.AddDays(1) {
		for _, w := range x.open(d) {
			a := latestOf(w.from, t)
			if !a.Before(w.to) {
				continue
			}
			if had := w.to.Sub(a); had < left {
				left -= had
				continue
			}
			return a.Add(left)
		}
	}
}

func latestOf(a, b time.Time) time.Time {
	if a.Before(b) {
		return b
	}
	return a
}

func earliestOf(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

func upward(minutes float64) int { return int(math.Ceil(minutes - 1e-9)) }

// gone says that somebody, or a bay, is away for a minute of work between two times.
func (x *untidyWeek) gone(person, bay string, s span) bool {
	for _, a := range x.shop.Absences {
		if (person == "" || a.Person != person) && (bay == "" || a.Bay != bay) {
			continue
		}
		for d := unit.DateOf(s.from); !unit.DateOf(s.to).Before(d); d = d.AddDays(1) {
			if d.Before(a.From) || !a.To.IsZero() && a.To.Before(d) {
				continue
			}
			for _, w := range x.open(d) {
				if w.meets(s) {
					return true
				}
			}
		}
	}
	return false
}

// standing is how each step of a job stands by its records.
type standing struct {
	done, going map[string]time.Time // closing of the day of the record
	left        map[string]int       // minutes of what is under way
	by          map[string]string
	on          map[string]unit.Date
}

func (j *weekJob) standing(x *untidyWeek, seen map[string]int) standing {
	out := standing{map[string]time.Time{}, map[string]time.Time{}, map[string]int{}, map[string]string{}, map[string]unit.Date{}}
	p, of := j.in.Plan, map[int][]int{}
	for i, a := range j.u.c.Job.Actuals {
		if k := aboutStep(p, a); a.Unplanned == "" && k >= 0 {
			of[k] = append(of[k], i)
		}
	}
	for k, s := range p.Steps {
		st, _ := j.u.stints(of[k], string(s.Skill))
		if len(st) == 0 {
			continue
		}
		last := st[len(st)-1]
		out.on[s.ID] = last.on
		if last.going {
			out.going[s.ID], out.left[s.ID] = x.closing(last.on), upward(float64(last.left)/1000)
			seen["under way"]++
			for _, w := range strings.Fields(j.u.c.Job.Actuals[last.last].By) {
				if slices.ContainsFunc(x.shop.People, func(p shop.Person) bool { return p.ID == w }) {
					out.by[s.ID] = w
				}
			}
		} else {
			out.done[s.ID] = x.closing(last.on)
			seen["done"]++
		}
		if len(st) > 1 {
			seen["again"]++
		}
	}
	for k := range j.u.doneSince(p, of) {
		id := p.Steps[k].ID
		if _, ok := out.done[id]; !ok {
			out.done[id] = time.Time{}
		}
		delete(out.going, id)
	}
	return out
}

// there is when a part that a step takes is there, written from docs/formats/job.md: "known"
// says that anybody knows, and "asked" that it was to be there and is not on record.
func (j *weekJob) there(x *untidyWeek, part body.PartID) (at time.Time, known bool, kind string) {
	need := 1
	for _, l := range j.in.Plan.Lost {
		if l.Part == part {
			need = max(need, l.Quantity)
		}
	}
	type entry struct {
		on    unit.Date
		at    string
		count int
		day   unit.Date // promised for
		all   bool
		came  bool
	}
	var list []entry
	for _, d := range j.u.c.Job.Deliveries {
		if d.Item == string(part) {
			list = append(list, entry{on: d.On, at: d.At, count: d.Count, came: true})
		}
	}
	for _, p := range j.u.c.Job.Promises {
		if p.Item == string(part) {
			list = append(list, entry{on: p.On, count: p.Count, day: p.Expected, all: p.Count == 0})
		}
	}
	minute := func(e entry) string {
		if e.at == "" {
			return "24:00"
		}
		return e.at
	}
	slices.SortStableFunc(list, func(a, b entry) int {
		if c := strings.Compare(a.on.String(), b.on.String()); c != 0 {
			return c
		}
		if a.came && b.came {
			return strings.Compare(minute(a), minute(b))
		}
		return 0
	})
	came := 0
	var open []entry
	for _, e := range list {
		switch {
		case e.came:
			if came < need && came+e.count >= need {
				at = x.closing(e.on)
				if e.at != "" {
					at = x.clock(e.on, e.at)
				}
			}
			came += e.count
			slices.SortStableFunc(open, func(a, b entry) int { return strings.Compare(a.day.String(), b.day.String()) })
			for i, n := 0, e.count; i < len(open); i++ {
				if !open[i].all {
					took := min(n, open[i].count)
					open[i].count, n = open[i].count-took, n-took
				}
			}
		case e.all:
			open = []entry{e}
		default:
			open = append(open, e)
		}
	}
	if came >= need {
		return at, true, "delivered"
	}
	missing, any := need-came, false
	slices.SortStableFunc(open, func(a, b entry) int { return strings.Compare(a.day.String(), b.day.String()) })
	var day unit.Date
	for _, e := range open { // those with a count first
		if !e.all && e.count > 0 {
			any = true
			if missing > 0 && day.Before(e.day) {
				day = e.day
			}
			missing -= min(missing, e.count)
		}
	}
	for _, e := range open {
		if e.all {
			any = true
			if missing > 0 && day.Before(e.day) {
				day = e.day
			}
			missing = 0
		}
	}
	if any {
		return x.closing(day), missing == 0, "promised"
	}
	p, _ := j.u.c.Body.Part(part)
	return x.wall(j.u.c.Job.Start, float64(p.Delivery.Value)), p.Delivery.Known, "usual"
}

// wall is so many minutes by the clock on the wall after the first minute of work from a day on.
func (x *untidyWeek) wall(d unit.Date, minutes float64) time.Time {
	t := x.next(x.clock(d, "00:00"))
	return time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute()+upward(minutes), 0, 0, x.shop.Location())
}

// judged holds a week against the documents.
func (x *untidyWeek) judged(w plan.Week, notes []diag.Note, seen map[string]int) []string {
	bad := slices.Clone(x.lost)
	fault := func(format string, args ...any) { bad = append(bad, fmt.Sprintf(format, args...)) }
	told := func(code, id string) bool {
		return slices.ContainsFunc(notes, func(n diag.Note) bool { return n.Code == code && strings.Contains(n.Where+n.Text, id) })
	}
	if told("week.schedule", "") {
		if len(x.shop.Absences) == 0 {
			fault("no schedule: %v", notes)
		}
		seen["no schedule"]++
		return bad
	}
	for k, j := range x.jobs {
		id := j.u.c.Job.ID
		if told("week.in-the-way", id) {
			seen["no way"]++
			continue
		}
		if told("week.move-aside", id) {
			seen["aside"]++
		}
		var mine []plan.WeekStep
		for _, s := range w.Steps {
			if s.Job == id {
				mine = append(mine, s)
			}
		}
		now := j.standing(x, seen)
		x.judgeJob(j, w.Jobs[k], mine, now, notes, seen, fault)
		x.judgePlan(j, fault)
		x.judgePlanIdle(j, fault)
		if !astray(notes, id) {
			x.judgePlaces(j, mine, w, notes, fault)
		}
	}
	x.judgeShared(w, fault)
	x.judgeIdle(w, notes, seen, fault)
	x.judgeClaims(w, notes, seen, fault)
	return bad
}

// judgeJob looks at one job: what is planned, when, and in what order.
func (x *untidyWeek) judgeJob(j *weekJob, wj plan.WeekJob, mine []plan.WeekStep, now standing, notes []diag.Note, seen map[string]int, fault func(string, ...any)) {
	id := j.u.c.Job.ID
	steps, planned := map[string]plan.Step{}, map[string]plan.WeekStep{}
	for _, s := range j.in.Plan.Steps {
		steps[s.ID] = s
	}
	left := 0
	for _, s := range mine {
		if s.Step == "OUT" || s.Step == "IN" {
			continue
		}
		left++
		if _, twice := planned[s.Step]; twice {
			fault("%s: %s is planned twice", id, s.Step)
		}
		planned[s.Step] = s
		if _, ok := now.done[s.Step]; ok {
			fault("%s: %s %s is done by what is on record, and planned", id, s.Step, s.Name)
		}
		p, known := steps[s.Step]
		if !known {
			fault("%s: %s is no step of the plan", id, s.Step)
			continue
		}
		want := upward(p.Minutes)
		if n, ok := now.left[s.Step]; ok {
			want = n
		}
		if got := x.worked(s.From, s.To); got != want || s.From.Before(s.To) && !x.next(s.From).Equal(s.From) {
			fault("%s: %s takes %d min of work from %s to %s, want %d", id, s.Step, got, s.From, s.To, want)
		}
		if _, ok := now.going[s.Step]; ok != s.Going {
			fault("%s: %s is under way: %v", id, s.Step, s.Going)
		}
		if by := now.by[s.Step]; s.Going && by != "" && s.From.Before(s.To) {
			x.judgeHands(id, p, s, by, seen, fault)
		}
	}
	if wj.Left != left || wj.Done != countIn(j.in.Plan, now.done) {
		fault("%s: %d steps are done and %d left, want %d and %d", id, wj.Done, wj.Left, countIn(j.in.Plan, now.done), left)
	}
	undated := false
	for _, s := range j.in.Plan.Steps {
		_, isDone := now.done[s.ID]
		_, ok := planned[s.ID]
		if undated = undated || !isDone && s.From.IsZero(); !ok && !isDone && !s.From.IsZero() {
			fault("%s: %s %q is lost: neither on record nor planned", id, s.ID, s.Name)
		}
	}
	for _, s := range j.in.Plan.Steps {
		if y, ok := planned[s.ID]; ok {
			if ready, why := x.ready(j, s, planned, now, seen); y.From.Before(ready) && !(s.Minutes == 0 && !x.next(y.From).Before(x.next(ready))) {
				fault("%s: %s %q begins %s, before %s (%s)", id, s.ID, s.Name, y.From, why, ready)
			}
		}
	}
	x.judgeSafe(j, planned, fault)
	x.judgeChains(j, planned, now, fault)
	x.judgeAsked(j, now, notes, seen, fault)
	var end time.Time
	for sid, s := range planned {
		end = latestOf(end, s.To.Add(time.Duration(upward(steps[sid].WaitMin))*time.Minute))
	}
	for _, s := range mine {
		end = latestOf(end, s.To)
	}
	var finish unit.Date
	if !undated && left > 0 {
		finish = unit.DateOf(end)
	}
	late := 0
	if !finish.IsZero() && !wj.Promise.IsZero() && wj.Promise.Before(finish) {
		late = int(math.Round(finish.Time().Sub(wj.Promise.Time()).Hours() / 24))
	}
	if wj.Finish != finish || wj.Late != late {
		fault("%s: ends on %s, %d days late; want %s, %d", id, wj.Finish, wj.Late, finish, late)
	}
}

// judgeHands: who has begun goes on, unless away on the first day of work while somebody is there
// who does such work, and whose work another one may pass where a second person is asked for. Of
// who has left, somebody goes on who comes back.
func (x *untidyWeek) judgeHands(id string, p plan.Step, s plan.WeekStep, by string, seen map[string]int, fault func(string, ...any)) {
	first := unit.DateOf(x.next(x.clock(x.from, "00:00")))
	gone := func(who string, left bool, day unit.Date) bool {
		return slices.ContainsFunc(x.shop.Absences, func(a shop.Absence) bool {
			return a.Person == who && !day.Before(a.From) && (a.To.IsZero() || !left && !a.To.Before(day))
		})
	}
	away := func(who string, left bool) bool { return gone(who, left, first) }
	watched := func(who string) bool {
		return !gone(who, true, x.from) && slices.ContainsFunc(x.shop.People, func(o shop.Person) bool {
			return o.ID != who && slices.Contains(o.May, shop.MayInspect) && !gone(o.ID, true, x.from)
		})
	}
	others := func(left, second bool) bool {
		return slices.ContainsFunc(x.shop.People, func(o shop.Person) bool {
			return o.ID != by && !away(o.ID, left) && slices.Contains(o.Skills, p.Skill) && (!second || watched(o.ID))
		})
	}
	second := p.Second && slices.ContainsFunc(x.shop.People, func(o shop.Person) bool {
		return slices.Contains(o.Skills, p.Skill) && watched(o.ID)
	})
	over := away(by, false) && (others(false, second) || away(by, true) && others(true, second))
	if over {
		seen["handed over"]++
	}
	if !over && s.Person != by {
		fault("%s: %q was begun by %s, and %s goes on", id, s.Name, by, s.Person)
	}
	if over && s.Person == by {
		fault("%s: %q was begun by %s, who is away, and waits for nobody else", id, s.Name, by)
	}
	if over && others(false, second) && away(s.Person, false) {
		fault("%s: %q was begun by %s, and waits for %s, who is away too", id, s.Name, by, s.Person)
	}
}

func countIn(p plan.Plan, done map[string]time.Time) int {
	n := 0
	for _, s := range p.Steps {
		if _, ok := done[s.ID]; ok {
			n++
		}
	}
	return n
}

// ready is when a step may begin by what comes before it, its parts and answers, and the
// first days of the week and of the job.
func (x *untidyWeek) ready(j *weekJob, s plan.Step, planned map[string]plan.WeekStep, now standing, seen map[string]int) (time.Time, string) {
	at, why := x.next(x.clock(x.from, "00:00")), "the week"
	not := func(t time.Time, text string) {
		if at.Before(t) {
			at, why = t, text
		}
	}
	steps := map[string]plan.Step{}
	for _, o := range j.in.Plan.Steps {
		steps[o.ID] = o
	}
	met := map[string]bool{}
	var back func(ids []string)
	back = func(ids []string) {
		for _, id := range ids {
			if met[id] {
				continue
			}
			met[id] = true
			if y, ok := planned[id]; ok {
				not(y.To.Add(time.Duration(upward(steps[id].WaitMin))*time.Minute), fmt.Sprintf("%s %q and its wait", id, steps[id].Name))
				continue
			}
			back(steps[id].After)
		}
	}
	back(s.After)
	if _, ok := now.going[s.ID]; ok {
		return at, why
	}
	not(x.next(x.clock(j.u.c.Job.Start, "00:00")), "the job")
	for _, id := range s.After {
		if t, ok := now.done[id]; ok && !t.IsZero() {
			if at.Before(t.Add(time.Duration(steps[id].WaitMin) * time.Minute)) {
				seen["cures"]++
			}
			not(t.Add(time.Duration(upward(steps[id].WaitMin))*time.Minute), "the wait after "+id)
		}
	}
	first := x.next(x.clock(x.from, "00:00"))
	keeps := !x.plain && len(j.u.c.Job.Deliveries)+len(j.u.c.Job.Promises) > 0
	for _, part := range s.Takes {
		if x.came(j, part, now) {
			continue
		}
		t, known, kind := j.there(x, part)
		if seen[kind]++; !known {
			not(t.AddDate(99, 0, 0), "nobody knows when "+string(part)+" comes")
			continue
		}
		if kind != "delivered" && keeps && !x.next(first).Before(t) && first.After(t.Add(-time.Minute)) {
			seen["overdue"]++
			t = x.closing(x.from)
		}
		not(t, fmt.Sprintf("%s, %s", part, kind))
	}
	for _, r := range s.Awaits {
		if r.Kind == plan.Answer {
			not(x.wall(j.u.c.Job.Start, float64(x.shop.AnswerTime)), "the answer")
		}
	}
	return at, why
}

// came says that work with a part is on record: then it must have come.
func (x *untidyWeek) came(j *weekJob, part body.PartID, now standing) bool {
	return slices.ContainsFunc(j.in.Plan.Steps, func(o plan.Step) bool {
		_, d := now.done[o.ID]
		_, g := now.going[o.ID]
		return slices.Contains(o.Takes, part) && (d || g)
	})
}

// judgeSafe: nothing is begun while the vehicle has still to be made safe, but what the body puts first.
func (x *untidyWeek) judgeSafe(j *weekJob, planned map[string]plan.WeekStep, fault func(string, ...any)) {
	safe, first := map[string]bool{}, map[string]bool{}
	for _, t := range j.u.c.Body.Tasks {
		live := slices.ContainsFunc(t.Step.Cautions, func(c body.Caution) bool { return c == "high-voltage" || c == "airbag" })
		safe["task "+string(t.ID)] = t.Safe || t.When == "start" && live
		first["task "+string(t.ID)] = t.When == "first"
	}
	for _, s := range j.in.Plan.Steps {
		y, ok := planned[s.ID]
		if !ok || !safe[s.Ref] {
			continue
		}
		for _, o := range j.in.Plan.Steps {
			if z, ok := planned[o.ID]; ok && !safe[o.Ref] && !first[o.Ref] && z.From.Before(y.To) {
				fault("%s: %q begins %s, and the vehicle is made safe by %q at %s", j.u.c.Job.ID, o.Name, z.From, s.Name, y.To)
			}
		}
	}
}

// judgeChains: what is done in one go has no gap and one person, within the time of its adhesive.
func (x *untidyWeek) judgeChains(j *weekJob, planned map[string]plan.WeekStep, now standing, fault func(string, ...any)) {
	words := map[string][]plan.WeekStep{}
	part, window := map[string]bool{}, map[string]float64{}
	sum := map[string]float64{}
	for _, s := range j.in.Plan.Steps {
		if s.Together == "" {
			continue
		}
		window[s.Together] = s.Window
		sum[s.Together] += float64(upward(s.Minutes))
		if y, ok := planned[s.ID]; ok && !y.Going {
			words[s.Together] = append(words[s.Together], y)
		} else {
			part[s.Together] = true
		}
	}
	for word, list := range words {
		slices.SortStableFunc(list, func(a, b plan.WeekStep) int { return a.From.Compare(b.From) })
		for i := range list[1:] {
			if n := x.worked(list[i].To, list[i+1].From); n > 0 || list[i+1].From.Before(list[i].To) {
				fault("%s: %d min lie between %q and %q, which are done in one go", j.u.c.Job.ID, n, list[i].Name, list[i+1].Name)
			}
		}
		if w := window[word]; w > 0 && sum[word] <= w && !part[word] && list[len(list)-1].To.Sub(list[0].From).Minutes() > w {
			fault("%s: %q takes from %s to %s, and no more than %g min are allowed", j.u.c.Job.ID, word, list[0].From, list[len(list)-1].To, w)
		}
	}
}

// judgeAsked: a step that is not on record though work after it is, is asked about.
func (x *untidyWeek) judgeAsked(j *weekJob, now standing, notes []diag.Note, seen map[string]int, fault func(string, ...any)) {
	text := map[bool]string{}
	for _, n := range notes {
		if strings.HasPrefix(n.Code, "plan.unrecorded") && n.Where == j.u.c.Job.ID {
			text[n.Severity == diag.Blocking] += n.Text
		}
	}
	needs := map[string][]string{}
	for _, s := range j.in.Plan.Steps {
		if needs[s.ID] = s.Needs; len(s.Needs) == 0 {
			needs[s.ID] = s.After
		}
	}
	before := map[string]bool{}
	var back func(id string)
	back = func(id string) {
		for _, b := range needs[id] {
			if !before[b] {
				before[b] = true
				back(b)
			}
		}
	}
	for _, s := range j.in.Plan.Steps {
		_, d := now.on[s.ID]
		if s.Move == nil && d {
			back(s.ID)
		}
	}
	for _, s := range j.in.Plan.Steps {
		if _, d := now.done[s.ID]; d || !before[s.ID] || s.Move != nil {
			continue
		}
		seen["unrecorded"]++
		if !strings.Contains(text[true]+text[false], fmt.Sprintf("%s %q", s.ID, s.Name)) {
			fault("%s: nobody asks about %s %q, after which work is on record", j.u.c.Job.ID, s.ID, s.Name)
		}
		if danger := len(s.Cautions) > 0 && s.Phase != plan.PhaseOpen; danger && !strings.Contains(text[true], fmt.Sprintf("%s %q", s.ID, s.Name)) {
			fault("%s: %s %q is dangerous, work after it is on record, and nothing blocks", j.u.c.Job.ID, s.ID, s.Name)
		}
	}
}

// judgePlan looks at the plan itself: parts and people.
func (x *untidyWeek) judgePlan(j *weekJob, fault func(string, ...any)) {
	id := j.u.c.Job.ID
	undated := map[string]bool{}
	for _, s := range j.in.Plan.Steps {
		for _, part := range s.Takes {
			at, known, kind := j.there(x, part)
			if !known {
				undated[s.ID] = true
			}
			if known != !s.From.IsZero() && !known {
				fault("%s: in its plan %q begins %s, and nobody knows when %s comes", id, s.Name, s.From, part)
			}
			if known && !s.From.IsZero() && s.From.Before(at) {
				fault("%s: in its plan %q begins %s, and %s (%s) is there at %s", id, s.Name, s.From, part, kind, at)
			}
		}
		if !s.From.IsZero() && s.From.Before(s.To) {
			if x.gone(s.Person, s.BayID, span{s.From, s.To}) {
				fault("%s: in its plan %q by %s in %s lies from %s to %s, and somebody is away", id, s.Name, s.Person, s.BayID, s.From, s.To)
			}
			if got := x.worked(s.From, s.To); got != upward(s.Minutes) {
				fault("%s: in its plan %q takes %d min, want %d", id, s.Name, got, upward(s.Minutes))
			}
		}
	}
	some := len(undated) > 0
	for _, s := range j.in.Plan.Steps {
		if s.From.IsZero() && !some {
			fault("%s: in its plan %s %q has no date, and nothing is unknown", id, s.ID, s.Name)
		}
	}
}

// stands is where a vehicle stands, by the moves, or by its steps where nobody moves it.
func (x *untidyWeek) stands(j *weekJob, mine []plan.WeekStep) []struct {
	bay string
	span
} {
	var out []struct {
		bay string
		span
	}
	waits := map[string]float64{}
	moved := x.shop.Moving != nil
	for _, s := range j.in.Plan.Steps {
		waits[s.ID] = s.WaitMin
	}
	add := func(bay string, s span) {
		out = append(out, struct {
			bay string
			span
		}{bay, s})
	}
	for _, s := range mine {
		cured := s.To.Add(time.Duration(upward(waits[s.Step])) * time.Minute)
		n := len(out) - 1
		switch {
		case s.Move != nil:
			if n >= 0 {
				out[n].to = s.From
			}
			add(s.Bay, span{s.From, s.To})
		case s.Bay == "":
			if moved && n >= 0 {
				out[n].to = latestOf(out[n].to, s.To)
			}
		case n >= 0 && out[n].bay == s.Bay:
			out[n].to = latestOf(out[n].to, cured)
		default:
			if from := s.From; from.Before(s.To) {
				if moved && n < 0 { // no move comes before: it is there already
					from = x.next(x.clock(x.from, "00:00"))
				}
				add(s.Bay, span{from, cured})
			}
		}
	}
	return out
}

// astray says that the records of a job contradict the bays, and that this is told: nobody
// knows where its vehicle stands.
func astray(notes []diag.Note, id string) bool {
	return slices.ContainsFunc(notes, func(n diag.Note) bool {
		return n.Where == id && (n.Code == "week.bays-open" || n.Code == "week.bays-full" || n.Code == "week.left-behind")
	})
}

// judgePlaces: a vehicle stands in one bay, what cures is not moved, and no other vehicle is there.
func (x *untidyWeek) judgePlaces(j *weekJob, mine []plan.WeekStep, w plan.Week, notes []diag.Note, fault func(string, ...any)) {
	id := j.u.c.Job.ID
	all := x.stands(j, mine)
	steps := map[string]plan.Step{}
	for _, s := range j.in.Plan.Steps {
		steps[s.ID] = s
	}
	for i, s := range mine {
		here := span{s.From, s.To}
		for _, o := range mine[i+1:] {
			apart := s.Move != nil || o.Move != nil || s.Bay != "" && o.Bay != "" && s.Bay != o.Bay || steps[s.Step].Lift != "" && steps[o.Step].Lift != "" && steps[s.Step].Lift != steps[o.Step].Lift
			if apart && here.meets(span{o.From, o.To}) {
				fault("%s: %q in %s is done beside %q in %s", id, s.Name, s.Bay, o.Name, o.Bay)
			}
		}
		if s.Move != nil {
			for _, o := range mine[:i] {
				if o.Bay != "" && o.Bay != s.Bay && o.Move == nil && s.From.Before(o.To.Add(time.Duration(upward(steps[o.Step].WaitMin))*time.Minute)) {
					fault("%s: it is moved at %s, and %q in %s has not cured", id, s.From, o.Name, o.Bay)
				}
			}
		}
	}
	for _, o := range x.jobs {
		oid := o.u.c.Job.ID
		if oid <= id || astray(notes, oid) {
			continue
		}
		var theirs []plan.WeekStep
		for _, s := range w.Steps {
			if s.Job == oid {
				theirs = append(theirs, s)
			}
		}
		for _, a := range all {
			for _, b := range x.stands(o, theirs) {
				if a.bay != "" && a.bay == b.bay && a.meets(b.span) {
					fault("%s and %s stand in %s at once: from %s to %s, and from %s to %s", id, oid, a.bay, a.from, a.to, b.from, b.to)
				}
			}
		}
	}
}

// judgeShared: nobody and nothing is at two things at once, or away.
func (x *untidyWeek) judgeShared(w plan.Week, fault func(string, ...any)) {
	for i, s := range w.Steps {
		here := span{s.From, s.To}
		if !s.From.Before(s.To) {
			continue
		}
		if x.gone(s.Person, s.Bay, here) {
			fault("%s %q by %s in %s lies from %s to %s, and somebody is away", s.Job, s.Name, s.Person, s.Bay, s.From, s.To)
		}
		for _, o := range w.Steps[i+1:] {
			if here.meets(span{o.From, o.To}) && (s.Person != "" && s.Person == o.Person || s.Bay != "" && s.Bay == o.Bay) {
				fault("%s %q by %s in %s is done beside %s %q", s.Job, s.Name, s.Person, s.Bay, o.Job, o.Name)
			}
		}
		for _, e := range x.equipment(s) {
			have, used := 0, 1
			for _, q := range x.shop.Equipment {
				if q == e {
					have++
				}
			}
			for k, o := range w.Steps {
				if k != i && !s.From.Before(o.From) && s.From.Before(o.To) && slices.Contains(x.equipment(o), e) {
					used++
				}
			}
			if have > 0 && used > have {
				fault("%s %q needs %s, of which %d are there and %d in use", s.Job, s.Name, e, have, used)
			}
		}
		p := x.step(s)
		if left := x.worked(s.From, x.closing(unit.DateOf(s.From))); s.Move == nil && left < min(x.worked(s.From, s.To), int(x.shop.Calendar.LastStart)) {
			fault("%s %q begins %s, with %d min left of the day", s.Job, s.Name, s.From, left)
		}
		if k := slices.IndexFunc(x.shop.People, func(p shop.Person) bool { return p.ID == s.Person }); k >= 0 && p.Skill != "" && !slices.Contains(x.shop.People[k].Skills, p.Skill) {
			fault("%s %q is %s, which %s does not do", s.Job, s.Name, p.Skill, s.Person)
		}
		if p.Bay != "" && s.Move == nil && s.Bay != "" && !slices.ContainsFunc(x.shop.Bays, func(b shop.Bay) bool { return b.ID == s.Bay && b.Kind == p.Bay }) {
			fault("%s %q is done in %s", s.Job, s.Name, s.Bay)
		}
	}
}

func (x *untidyWeek) step(s plan.WeekStep) plan.Step {
	for _, j := range x.jobs {
		for _, p := range j.in.Plan.Steps {
			if j.u.c.Job.ID == s.Job && p.ID == s.Step {
				return p
			}
		}
	}
	return plan.Step{}
}

func (x *untidyWeek) equipment(s plan.WeekStep) []string { return x.step(s).Equipment }

// judgeRecords: a record under the identity of another takes its place, and what is withdrawn is
// gone (docs/formats/job.md).
func (x *untidyWeek) judgeRecords(events []job.Event, s job.State) {
	want, loose := map[string]string{}, 0
	for _, e := range events {
		switch d := e.Data.(type) {
		case job.Actual:
			if want["work "+d.ID] = fmt.Sprintf("%+v", d); d.ID == "" {
				loose++
			}
		case job.Arrival:
			want["came "+d.ID] = fmt.Sprintf("%+v", d)
		case job.Promised:
			want["promised "+d.ID] = fmt.Sprintf("%+v", d)
		case job.Withdrawn:
			delete(want, map[job.EventKind]string{job.StepDropped: "work ", job.DeliveryDropped: "came ", job.PromiseDropped: "promised "}[e.Kind]+d.ID)
		}
	}
	delete(want, "work ")
	n := 0
	is := func(id string, r any) {
		n++
		if text := fmt.Sprintf("%+v", r); !strings.HasSuffix(id, " ") && want[id] != text {
			x.lost = append(x.lost, fmt.Sprintf("%s counts as %s, and last it was %q", id, text, want[id]))
		}
	}
	for _, r := range s.Actuals {
		is("work "+r.ID, r)
	}
	for _, r := range s.Deliveries {
		is("came "+r.ID, r)
	}
	for _, r := range s.Promises {
		is("promised "+r.ID, r)
	}
	if n != len(want)+loose {
		x.lost = append(x.lost, fmt.Sprintf("%d records count, want %d", n, len(want)+loose))
	}
}

// judgePlanIdle holds the plan of a job by itself, of which nothing is on record, against the
// same rule as judgeIdle, for parts and answers: what only comes after other steps may lie later
// in a plan whose end it does not move.
func (x *untidyWeek) judgePlanIdle(j *weekJob, fault func(string, ...any)) {
	y := *x
	y.from, y.jobs, y.plain = j.u.c.Job.Start, []*weekJob{j}, true
	w := plan.Week{}
	for _, s := range j.in.Plan.Steps {
		if !s.From.IsZero() {
			w.Steps = append(w.Steps, plan.WeekStep{Job: j.u.c.Job.ID, Step: s.ID, Name: s.Name, Person: s.Person, Bay: s.BayID, Move: s.Move, From: s.From, To: s.To})
		}
	}
	y.judgeIdle(w, nil, nil, func(format string, args ...any) { fault("in its plan "+format, args...) })
}

// judgeIdle: a step does not wait any longer for what comes before it, parts and answers than
// that takes, where everybody and everything it needs is free.
func (x *untidyWeek) judgeIdle(w plan.Week, notes []diag.Note, seen map[string]int, fault func(string, ...any)) {
	for _, j := range x.jobs {
		id := j.u.c.Job.ID
		if astray(notes, id) {
			continue
		}
		planned := map[string]plan.WeekStep{}
		for _, s := range w.Steps {
			if s.Job == id {
				planned[s.Step] = s
			}
		}
		now := standing{}
		if !x.plain {
			now = j.standing(x, map[string]int{})
		}
		for _, p := range j.in.Plan.Steps {
			s, ok := planned[p.ID]
			if !ok || s.Move != nil || p.Together != "" || s.Going || p.Bay != "" || !s.From.Before(s.To) {
				continue
			}
			ready, why := x.ready(j, p, planned, now, map[string]int{})
			t := x.next(ready)
			if why == "the week" || x.plain && (why == "the job" || strings.HasSuffix(why, "and its wait")) || !t.Before(s.From) {
				continue
			}
			if x.fits(j, p, s, span{t, x.until(t, upward(p.Minutes))}, w) {
				fault("%s: %q begins %s, and nothing keeps it from %s on, after %s", id, s.Name, s.From, t, why)
			}
		}
	}
}

// fits says that a step without a bay could lie there.
func (x *untidyWeek) fits(j *weekJob, p plan.Step, s plan.WeekStep, here span, w plan.Week) bool {
	if x.gone(s.Person, "", here) {
		return false
	}
	if left := x.worked(here.from, x.closing(unit.DateOf(here.from))); left < min(upward(p.Minutes), int(x.shop.Calendar.LastStart)) {
		return false
	}
	for _, o := range w.Steps {
		if o.Job == s.Job && o.Step == s.Step || !here.meets(span{o.From, o.To}) {
			continue
		}
		q := x.step(o)
		if o.Person == s.Person || o.Job == s.Job && (o.Move != nil || p.Lift != "" && q.Lift != "" && p.Lift != q.Lift) {
			return false
		}
		for _, e := range p.Equipment {
			if slices.Contains(q.Equipment, e) {
				return false
			}
		}
	}
	return true
}

// judgeClaims: no schedule of the program's own beats what it says of another one. A job by
// itself ends no earlier than "alone", and the jobs in another order no better than the gap.
func (x *untidyWeek) judgeClaims(w plan.Week, notes []diag.Note, seen map[string]int, fault func(string, ...any)) {
	in := x.inShop()
	if len(in) < 2 || !x.claims {
		return
	}
	for k, j := range in {
		one, _ := plan.WeekOf(x.shop, []plan.InShop{j}, x.from)
		if a, b := one.Jobs[0].Finish, w.Jobs[k].Alone; !a.IsZero() && !b.IsZero() && a.Before(b) {
			fault("%s cannot end before %s even alone, it says, and ends on %s", j.Job.ID, b, a)
		}
		if a, b := one.Jobs[0].Alone, w.Jobs[k].Finish; !a.IsZero() && !b.IsZero() && b.Before(a) {
			fault("%s ends on %s, and alone cannot end before %s", j.Job.ID, b, a)
		}
	}
	slices.Reverse(in)
	o, more := plan.WeekOf(x.shop, in, x.from)
	for _, n := range slices.Concat(notes, more) {
		if n.Severity == diag.Blocking && strings.HasPrefix(n.Code, "week.") || n.Code == "week.move-aside" {
			return
		}
		if n.Code == "week.bays-full" { // records that contradict the bays are read in the order of the jobs: another week
			return
		}
	}
	late, sum := x.sums(w)
	lateO, sumO := x.sums(o)
	better := func(late, sum, thanLate, thanSum, gapLate, gapSum int) bool {
		return late < thanLate-gapLate || late == thanLate && sum < thanSum-gapSum
	}
	if better(lateO, sumO, late, sum, w.LateGapMin, w.GapMin) || better(late, sum, lateO, sumO, o.LateGapMin, o.GapMin) {
		fault("late %d and ends %d, gaps %d and %d, proven %v; in another order late %d and ends %d, gaps %d and %d, proven %v",
			late, sum, w.LateGapMin, w.GapMin, w.Proven, lateO, sumO, o.LateGapMin, o.GapMin, o.Proven)
	}
	seen["claims"]++
	if w.Proven {
		seen["proven"]++
	}
}

// sums is the minutes late and the sum of the ends of work, from the morning of the week's day.
func (x *untidyWeek) sums(w plan.Week) (late, sum int) {
	zero := x.clock(x.from, "00:00")
	for _, j := range w.Jobs {
		var end time.Time
		for _, s := range w.Steps {
			if s.Job == j.ID {
				end = latestOf(end, s.To)
			}
		}
		if end.IsZero() {
			continue
		}
		sum += int(end.Sub(zero).Minutes())
		if !j.Promise.IsZero() {
			if due := x.clock(j.Promise.AddDays(1), "00:00"); due.Before(end) {
				late += int(end.Sub(latestOf(due, zero)).Minutes())
			}
		}
	}
	return late, sum
}

// awayThatDay says that the person who signs is away on a day.
func (u *untidyJob) awayThatDay(id string, on unit.Date) bool {
	return slices.ContainsFunc(u.c.Shop.Absences, func(a shop.Absence) bool {
		return a.Person == id && !on.Before(a.From) && (a.To.IsZero() || !a.To.Before(on))
	})
}
