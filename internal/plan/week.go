package plan

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"time"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/sched"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Effort of the shared schedule.
const (
	weekSamples = 200
	weekNodes   = 20000
)

// InShop is one job of the shop with the plan of its route.
type InShop struct {
	Job     *job.State
	Route   string
	Plan    Plan
	Promise unit.Date // last day of the agreed bill; zero: nothing was agreed
}

// Week is the shop's schedule: what is left of several jobs on the same people,
// bays and equipment, from the morning of a day on.
type Week struct {
	From   unit.Date  `json:"from"`
	Jobs   []WeekJob  `json:"jobs"`  // in the order they were given
	Steps  []WeekStep `json:"steps"` // in order of time
	Proven bool       `json:"proven"`
	Left   []string   `json:"leftOut,omitempty"` // jobs that cannot be planned: nothing of them is in it
	// What a better schedule could save at most, in minutes of the clock.
	LateGapMin int `json:"lateGapMinutes"` // of the sum of the lateness
	GapMin     int `json:"gapMinutes"`     // of the sum of the jobs' finishes, at the same lateness
}

// WeekJob is one job in it.
type WeekJob struct {
	ID      string    `json:"id"`
	Route   string    `json:"route"`
	Done    int       `json:"doneSteps"`
	Left    int       `json:"leftSteps"`
	Minutes float64   `json:"leftMinutes"`
	Planned unit.Date `json:"planned"`          // finish of its own plan, as if nothing had happened
	Alone   unit.Date `json:"alone"`            // it cannot be done earlier, even with the shop to itself
	Finish  unit.Date `json:"finish"`           // in this schedule
	Promise unit.Date `json:"promised"`         // zero: nothing was agreed
	Late    int       `json:"lateDays"`         // calendar days after the promise
	Because string    `json:"because"`          // in a sentence
	Undated bool      `json:"undated"`          // a wait of unknown length: no finish is told
	Waiting []string  `json:"heldUp,omitempty"` // steps that another job holds up, and by whom
	Bays    []WeekBay `json:"bays,omitempty"`   // what it keeps, and how long
	Stands  []Stand   `json:"stands,omitempty"` // where its vehicle stands, one after the other
}

// WeekBay is a bay that a job keeps: from its first step there to its last, and
// until what was done there has cured.
type WeekBay struct {
	Bay  string    `json:"bay"`
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// WeekStep is a step that is left, with its dates.
type WeekStep struct {
	Job    string    `json:"job"`
	Step   string    `json:"step"`
	Name   string    `json:"name"`
	Person string    `json:"person"`
	Bay    string    `json:"bay"`
	At     string    `json:"standsIn,omitempty"` // where the vehicle stands meanwhile: a bay, or the yard
	Move   *Move     `json:"move,omitempty"`     // it is moved there
	From   time.Time `json:"from"`
	To     time.Time `json:"to"`
	Going  bool      `json:"underWay,omitempty"`
}

// week makes a shared schedule.
type week struct {
	sh    *shop.Shop
	from  unit.Date
	cal   sched.Calendar
	day0  time.Time
	first int // first working minute
	prob  sched.Problem
	share sched.Shared
	pools map[string]int
	refs  []weekRef
	holds []int // job of each hold of the problem

	late     map[string]bool // what was told once: overdue deliveries, what is spent, what the shop lacks
	behind   []int           // jobs with steps in a bay that their vehicles have left, by what is recorded
	ways     ways
	asideMin int // minutes of moving vehicles aside
	out      Week
	notes    []diag.Note
}

// weekRef is which step of which job an activity is.
type weekRef struct {
	job   int
	step  Step
	going bool
}

// WeekOf schedules what is left of the jobs from the morning of a day on. A step
// with a record is done, at the end of the working day of the record at the
// latest; one under way goes on first, with whoever does it; everything else is
// free to move. Jobs are never begun before their own first day.
func WeekOf(sh *shop.Shop, jobs []InShop, from unit.Date) (Week, []diag.Note) {
	return WeekWhile(nil, sh, jobs, from)
}

// WeekWhile is WeekOf as part of some work: when that is stopped, so is this.
func WeekWhile(work *halt.Work, sh *shop.Shop, jobs []InShop, from unit.Date) (Week, []diag.Note) {
	twins, groups := sameVehicle(sh, jobs, from)
	u := used{}
	for {
		w := weekOnce(sh, jobs, from, ways{twins: twins, used: u, work: work})
		if !w.laterUse(sh, jobs, u) { // a day is only moved on beyond the last day of one delivery more
			w.tellTwins(jobs, groups)
			w.tellUnplanned(jobs)
			return w.out, w.notes
		}
	}
}

// tellUnplanned blocks where a job has no steps to schedule: it is left out, not done.
func (w *week) tellUnplanned(jobs []InShop) {
	for k, j := range jobs {
		if j.Plan.Unplanned == "" {
			continue
		}
		w.out.Proven, w.out.Left = false, append(w.out.Left, j.Job.ID)
		if k < len(w.out.Jobs) {
			w.out.Jobs[k].Because = "it cannot be planned, so nothing of it is in this schedule"
		}
		w.notes = append(w.notes, diag.Say("week.not-planned", "{job} cannot be planned, so nothing of it is in this schedule: {why}", j.Job.ID, j.Plan.Unplanned).Note(diag.Note{Severity: diag.Blocking, Where: j.Job.ID, Hint: "settle what blocks its plan"}))
	}
}

// weekOnce makes the schedule, in the other ways where it cannot be made as it is.
func weekOnce(sh *shop.Shop, jobs []InShop, from unit.Date, some ways) *week {
	w, err := newWeek(sh, jobs, from, some)
	behind := w.behind
	if err != nil && len(behind) > 0 { // where those vehicles stand is not known
		some.loose = behind
		w, err = newWeek(sh, jobs, from, some)
	}
	done := err == nil
	if !done {
		w, done = unblocked(sh, jobs, from, w, behind)
	}
	if !done {
		w, done = unplaced(sh, jobs, from, w, behind)
	}
	if !done {
		w.block("jobs", diag.Say("week.schedule", "no schedule was made: {why}{left-out}", err.Error(), forGood(sh)), "")
	}
	return w
}

// newWeek makes the schedule. Jobs that are loose keep no bays: nobody can tell from what is
// recorded where their vehicles stand; see ways for the others.
func newWeek(sh *shop.Shop, jobs []InShop, from unit.Date, some ways) (*week, error) {
	w := &week{sh: sh, from: from, ways: some, late: map[string]bool{}, out: Week{From: from}}
	b := newBuilder(Input{Shop: sh, Job: &job.State{Start: from}, Body: &body.Body{}})
	cal, day0, ok := b.calendar()
	w.notes = append(w.notes, b.notes...)
	if !ok {
		return w, nil
	}
	w.cal, w.day0, w.first = cal, day0, startOfWork(cal)
	w.prob = sched.Problem{Calendar: cal, Samples: weekSamples, Nodes: weekNodes, Seed: 1, Least: whole(float64(sh.Calendar.LastStart))}.While(some.work)
	b.staff(&w.prob, licensesOf(jobs))
	w.pools = b.pools(&w.prob)
	for k := range jobs {
		w.add(k, &jobs[k])
	}
	w.twoUnderWay(jobs)
	sol, ends, ok := w.asPlanned(jobs)
	if !ok {
		var err error
		if sol, ends, err = sched.SolveShared(w.prob, w.share); err != nil {
			return w, err
		}
	}
	if err := sched.Verify(w.prob, sol); err != nil {
		w.block("jobs", diag.Say("week.schedule", "the schedule does not stand its check: {fault}", err.Error()), "report this as a fault of the program")
		return w, nil
	}
	if beyondDates(sol) {
		w.block("jobs", diag.Say("week.schedule", "the week would end more than a hundred years from now"), "see whether a digit or a unit is wrong in the times on record, of bodies and of the shop, and in the calendar")
		return w, nil
	}
	w.tell(jobs, sol, ends)
	return w, nil
}

// asPlanned is the plan of the only job that has anything left, when nothing of it is on
// record and it does not begin before the week: one order everywhere, and the same times.
func (w *week) asPlanned(jobs []InShop) (sched.Solution, []sched.JobEnd, bool) {
	only := -1
	for _, r := range w.refs {
		if only < 0 {
			only = r.job
		}
		if r.job != only {
			return sched.Solution{}, nil, false
		}
	}
	if only < 0 || len(jobs[only].Job.Actuals) > 0 || jobs[only].Job.Start.Before(w.from) {
		return sched.Solution{}, nil, false
	}
	p := jobs[only].Plan
	minute := func(t time.Time) int { return int(t.Sub(w.day0).Minutes()) }
	sol := sched.Solution{Proven: p.Proven}
	over, wait := 0, 0 // when the last wait is over, and the longest of all
	for i, r := range w.refs {
		x := sched.Slot{Worker: -1, Place: -1, From: minute(r.step.From), To: minute(r.step.To)}
		if w.prob.Activities[i].Skill != "" {
			x.Worker = slices.IndexFunc(w.prob.Workers, func(o sched.Worker) bool { return o.ID == r.step.Person })
		}
		if w.prob.Activities[i].Place != "" {
			x.Place = slices.IndexFunc(w.prob.Places, func(o sched.Place) bool { return o.ID == r.step.BayID })
		}
		sol.Slots = append(sol.Slots, x)
		sol.FinishMin = max(sol.FinishMin, x.To)
		over = max(over, x.To+whole(r.step.WaitMin))
		wait = max(wait, whole(r.step.WaitMin))
	}
	if over == sol.FinishMin {
		wait = 0
	}
	sol.Broken = w.broken()
	sol.BoundMin = sol.FinishMin
	if !p.Proven {
		sol.BoundMin = min(sol.FinishMin, over-int(unit.Whole(math.Ceil(p.SpanMin-p.BoundMin)))-wait) // the bound of a plan is from its own start
	}
	if sched.Verify(w.prob, sol) != nil {
		return sched.Solution{}, nil, false
	}
	end := sched.JobEnd{FinishMin: sol.FinishMin, BoundMin: sol.BoundMin, Alone: p.Proven}
	sol.Together = sched.Together{SumMin: sol.FinishMin, SumBound: sol.BoundMin}
	if due := w.share.Due[only]; due > 0 {
		end.LateMin = max(0, sol.FinishMin-due)
		sol.Together.LateMin, sol.Together.LateBound = end.LateMin, max(0, sol.BoundMin-due)
	}
	ends := make([]sched.JobEnd, len(jobs))
	ends[only] = end
	return sol, ends, true
}

// broken are the steps in one go that take longer than they may: the plan told of them.
func (w *week) broken() []sched.Broken {
	var out []sched.Broken
	for _, c := range w.prob.Chains {
		sum, skills := 0, []string{}
		for _, i := range c.Members {
			sum += w.prob.Activities[i].Minutes
			skills = append(skills, w.prob.Activities[i].Skill)
		}
		all := slices.ContainsFunc(w.prob.Workers, func(o sched.Worker) bool {
			return !slices.ContainsFunc(skills, func(s string) bool { return s != "" && !slices.Contains(o.Skills, s) })
		})
		if long := c.Window > 0 && sum > c.Window; long || !all {
			out = append(out, sched.Broken{Chain: c.ID, Minutes: sum, Window: c.Window, TooLong: long, NoWorker: !all})
		}
	}
	return out
}

func (w *week) block(where string, said diag.Said, hint string) {
	w.notes = append(w.notes, said.Note(diag.Note{Severity: diag.Blocking, Where: where, Hint: hint}))
}

// minute is a day as a minute of the schedule.
func (w *week) minute(d unit.Date) int {
	return int(midnight(d, w.day0.Location()).Sub(w.day0).Minutes())
}

// moved takes a move as done, with the day of the record, when something that comes after it
// is recorded: the vehicle is there.
func moved(p Plan, seen map[string]job.Actual) {
	at := map[string]*Step{}
	for i := range p.Steps {
		at[p.Steps[i].ID] = &p.Steps[i]
	}
	done := map[string]bool{}
	var back func(id string, a job.Actual)
	back = func(id string, a job.Actual) {
		if s := at[id]; s != nil && !done[id] {
			done[id] = true
			if _, ok := seen[id]; !ok && s.Move != nil {
				a.Going = false
				seen[id] = a
			}
			for _, before := range s.After {
				back(before, a)
			}
		}
	}
	for i := range p.Steps {
		if a, ok := seen[p.Steps[i].ID]; ok {
			back(p.Steps[i].ID, a)
		}
	}
}

// add puts what is left of a job into the problem.
func (w *week) add(k int, in *InShop) {
	p := in.Plan
	wj := WeekJob{ID: in.Job.ID, Route: in.Route, Planned: p.Finish, Promise: in.Promise, Undated: p.Finish.IsZero()}
	due := 0
	if !in.Promise.IsZero() {
		due = max(1, w.minute(in.Promise.AddDays(1)))
	}
	w.share.Due = append(w.share.Due, due)
	seen, faults := progress(p, in.Job, w.sh, w.from)
	w.unsound(in, faults)
	at, none := map[string]int{}, w.without(k, in, seen)
	chains := map[string]*sched.Chain{}
	var words []string
	for _, s := range p.Steps {
		a, begun := seen[s.ID]
		if begun && !a.Going {
			wj.Done++
			continue
		}
		if w.ways.undated(k) {
			continue
		}
		if none[s.ID] || s.From.IsZero() { // what follows a wait of unknown length has no date here either
			wj.Undated = true
			continue
		}
		if s.Together != "" {
			if chains[s.Together] == nil {
				chains[s.Together] = &sched.Chain{ID: in.Job.ID + " " + s.Together, Window: int(s.Window)}
				words = append(words, s.Together)
			}
			chains[s.Together].Members = append(chains[s.Together].Members, len(w.prob.Activities))
		}
		at[s.ID] = len(w.prob.Activities)
		x := w.activity(in, s, a, begun, seen, at)
		if due, _ := w.again(k, in, s); !begun {
			x.Release = max(x.Release, due)
		}
		wj.Left++
		wj.Minutes += float64(x.Minutes)
		w.prob.Activities = append(w.prob.Activities, x)
		w.share.Of = append(w.share.Of, k)
		w.refs = append(w.refs, weekRef{k, s, begun})
	}
	for _, word := range words {
		c := chains[word]
		if torn(p, word, seen) {
			c.Window = 0
			w.notes = append(w.notes, diag.Say("week.torn", "{job}: only some of the steps {steps:q}, which are to be done in one go, are recorded as done", in.Job.ID, word).Note(diag.Note{Severity: diag.Caution, Where: in.Job.ID, Hint: "see whether the adhesive may still be worked, or record the rest"}))
		}
		w.prob.Chains = append(w.prob.Chains, *c)
	}
	if w.leftBehind(in, seen) {
		w.behind = append(w.behind, k)
	}
	w.notes = append(w.notes, UnrecordedNotes(p, in.Job, w.sh, w.from)...)
	if slices.Contains(w.ways.loose, k) {
		w.notes = append(w.notes, diag.Say("week.bays-open", "{job}: by what is recorded nobody can tell where the vehicle stands: its steps are planned as if a bay were there when one is free, and other jobs are planned past it", in.Job.ID).Note(diag.Note{Severity: diag.Blocking, Where: in.Job.ID, Hint: "record what was done, and see where it stands"}))
	}
	w.stand(k, in, seen, at)
	if w.ways.undated(k) {
		wj.Undated = true
	}
	w.out.Jobs = append(w.out.Jobs, wj)
}

// leftBehind tells of steps in a bay that are not recorded though the vehicle has left it;
// true when there are any.
func (w *week) leftBehind(in *InShop, seen map[string]job.Actual) bool {
	at, gone := map[string]*Step{}, map[string]bool{}
	for i := range in.Plan.Steps {
		at[in.Plan.Steps[i].ID] = &in.Plan.Steps[i]
	}
	var back func(id string)
	back = func(id string) {
		if s := at[id]; s != nil && !gone[id] {
			gone[id] = true
			for _, before := range s.After {
				back(before)
			}
		}
	}
	for i := range in.Plan.Steps {
		if s := &in.Plan.Steps[i]; s.Move != nil {
			if _, ok := seen[s.ID]; ok {
				back(s.ID)
			}
		}
	}
	any := false
	for i := range in.Plan.Steps {
		s := &in.Plan.Steps[i]
		if a, ok := seen[s.ID]; gone[s.ID] && s.BayID != "" && (!ok || a.Going) {
			w.notes = append(w.notes, diag.Say("week.left-behind", "{job}: {step:q} is not recorded as done, and by what is recorded the vehicle has left its bay since", in.Job.ID, s.Name).Note(diag.Note{Severity: diag.Caution, Where: in.Job.ID, Hint: "record it, or plan anew"}))
			any = true
		}
	}
	return any
}

// torn says that some steps of a chain are recorded and some are not.
func torn(p Plan, word string, seen map[string]job.Actual) bool {
	n, done := 0, 0
	for _, s := range p.Steps {
		if s.Together == word {
			n++
			if _, ok := seen[s.ID]; ok {
				done++
			}
		}
	}
	return done > 0 && done < n
}

// activity is a step for the shared schedule.
func (w *week) activity(in *InShop, s Step, a job.Actual, going bool, seen map[string]job.Actual, at map[string]int) sched.Activity {
	x := sched.Activity{ID: in.Job.ID + " " + s.Name, Minutes: whole(s.Minutes), Skill: string(s.Skill), Place: string(s.Bay)}
	if !does(w.sh, s.Skill, w.from) {
		w.lacks(in, x.Skill, diag.Say("week.no-person", "{job}: nobody is in the shop who has the skill {skill:q}, which {step:q} and maybe other steps need", in.Job.ID, s.Skill, s.Name), "add a person with it, or sublet it ('sublets' in the shop file)")
		x.Skill = ""
	}
	if as := qualifiedAs(s.Skill, s.Qualified); s.Qualified != "" && x.Skill != "" {
		if x.Skill = string(as); !someoneDoes(w.prob.Workers, as) {
			w.lacks(in, x.Skill, diag.Say("week.nobody-qualified", "{job}: nobody is in the shop who does {skill:q} work and is qualified for {for:q}, which {step:q} and maybe other steps need", in.Job.ID, s.Skill, s.Qualified, s.Name), "add a person, or a certificate that holds, in the shop file")
			x.Skill = ""
		}
	}
	if does := body.SkillID(x.Skill); s.Second && x.Skill != "" && someoneWatched(w.prob.Workers, does) {
		x.Skill = watched(does)
	}
	if !hasBay(w.sh, s.Bay, w.from) {
		w.lacks(in, x.Place, diag.Say("week.no-bay", "{job}: the shop has no bay of the kind {kind:q} any more, which {step:q} and maybe other steps need", in.Job.ID, s.Bay, s.Name), "add one, or sublet the step")
		x.Place = ""
	}
	for i, e := range s.Equipment {
		if k, ok := w.pools[e]; ok && !slices.Contains(s.Equipment[:i], e) {
			x.Draws = append(x.Draws, sched.Draw{Pool: k, Amount: 1})
		}
	}
	x.After = w.waitsFor(in, s, at)
	if going {
		x.Minutes = whole(float64(a.Left))
		x.Skill = w.goesOn(in, s, a.By, x.Skill)
		return x
	}
	start := w.minute(in.Job.Start)
	x.Release = max(0, start)
	for _, r := range s.Awaits {
		due := w.cal.Since(w.cal.Wall(w.begins(in)) + whole(r.Minutes))
		if !r.Ready.IsZero() {
			due = int(r.Ready.Sub(w.day0) / time.Minute)
		}
		if w.overdue(in, s, r, due) {
			due = w.endOfDay(w.from)
		}
		x.Release = max(x.Release, due)
	}
	for _, id := range s.After {
		if done, ok := seen[id]; ok && !done.Going {
			x.Release = max(x.Release, w.endOfDay(done.On)+whole(w.waitAfter(in.Plan, id)))
		}
	}
	return x
}

// lacks blocks what is left of a job since nobody, or no bay, is there for it. A plan says so
// of the day on which its job begins; since then somebody may have left, or a bay have closed.
func (w *week) lacks(in *InShop, what string, said diag.Said, hint string) {
	if key := in.Job.ID + " " + said.Code + " " + what; what != "" && !w.late[key] {
		w.late[key] = true
		w.block(in.Job.ID, said, hint)
	}
}

// waitsFor are the steps that are left and come before a step, through those that are on
// record: what was done too early does not make what follows it safe.
func (w *week) waitsFor(in *InShop, s Step, at map[string]int) []sched.Lag {
	var out []sched.Lag
	index, met := indexed(in.Plan), map[string]bool{}
	var back func(ids []string)
	back = func(ids []string) {
		for _, id := range ids {
			k, known := index[id]
			if met[id] || !known {
				continue
			}
			met[id] = true
			if i, ok := at[id]; ok {
				out = append(out, sched.Lag{Pred: i, Minutes: whole(w.waitAfter(in.Plan, id)), Clock: sched.Elapsed})
				continue
			}
			back(in.Plan.Steps[k].After)
		}
	}
	back(s.After)
	return out
}

// begins is the first minute of work of a job by itself, from which its deliveries and answers
// are counted, as a minute of the schedule: before its first one where the job began before.
func (w *week) begins(in *InShop) int {
	b := newBuilder(Input{Shop: w.sh, Job: &job.State{Start: in.Job.Start}, Body: &body.Body{}})
	cal, day0, ok := b.calendar()
	if !ok {
		return w.minute(in.Job.Start)
	}
	return int(day0.Sub(w.day0)/time.Minute) + startOfWork(cal)
}

// own is the skill that only one person has, to keep a step with them.
func own(person string) string { return "only " + person }

func (w *week) waitAfter(p Plan, id string) float64 {
	for _, s := range p.Steps {
		if s.ID == id {
			return s.WaitMin
		}
	}
	return 0
}

// endOfDay is when work ends on a day, as a minute of the schedule; negative when
// that is past.
func (w *week) endOfDay(d unit.Date) int {
	windows, err := dayWindows(w.sh.Calendar)
	if err != nil || len(windows) == 0 { // the calendar was read before
		return w.minute(d.AddDays(1))
	}
	return w.cal.Since(w.cal.Wall(w.minute(d)) + windows[len(windows)-1].To)
}

// tell turns the schedule into dates and words.
func (w *week) tell(jobs []InShop, sol sched.Solution, ends []sched.JobEnd) {
	w.out.Proven = sol.Proven
	w.out.LateGapMin = sol.Together.LateMin - sol.Together.LateBound
	if w.out.GapMin = sol.Together.SumMin - sol.Together.SumBound; sol.Proven {
		w.out.GapMin = 0
	}
	for i, s := range sol.Slots {
		r := w.refs[i]
		x := WeekStep{Job: jobs[r.job].Job.ID, Step: r.step.ID, Name: r.step.Name, Going: r.going, Move: r.step.Move,
			From: w.day0.Add(time.Duration(s.From) * time.Minute), To: w.day0.Add(time.Duration(s.To) * time.Minute)}
		if s.Worker >= 0 {
			x.Person = workerID(w.sh, s.Worker)
		}
		if s.Place >= 0 {
			x.Bay = w.sh.Bays[s.Place].ID
		}
		w.out.Steps = append(w.out.Steps, x)
	}
	sort.SliceStable(w.out.Steps, func(i, j int) bool { return w.out.Steps[i].From.Before(w.out.Steps[j].From) })
	for k := range w.out.Jobs {
		w.stoodIn(k, &jobs[k])
	}
	for k := range w.out.Jobs {
		w.tellJob(&w.out.Jobs[k], k, sol, ends[k])
	}
	for i, r := range w.refs { // the order was chosen by when the work is done: a wait after it may end sooner in another
		w.out.Proven = w.out.Proven && sol.Slots[i].To+whole(r.step.WaitMin) <= ends[r.job].FinishMin
	}
}

// tellJob sets the dates of a job, with the wait after its last step.
func (w *week) tellJob(j *WeekJob, k int, sol sched.Solution, e sched.JobEnd) {
	finish, alone := e.FinishMin, e.BoundMin
	for i, r := range w.refs {
		if r.job == k {
			finish = max(finish, sol.Slots[i].To+whole(r.step.WaitMin))
		}
	}
	if e.Alone && finish == e.FinishMin { // with a wait after its last step, less is known than when its work can be done
		alone = finish
	}
	date := func(m int) unit.Date { return unit.DateOf(w.day0.Add(time.Duration(m) * time.Minute)) }
	switch {
	case slices.Contains(w.ways.twins, k):
		j.Because = "another job of this week is about the same vehicle, so it has no dates"
		return
	case slices.Contains(w.ways.out, k):
		j.Because = "its vehicle and others stand in one another's way, so it has no dates"
		return
	case j.Undated && j.Left == 0:
		j.Because = "no step that is left has a date in its own plan, so none has one here"
		return
	case j.Undated:
		j.Because = "a step follows a wait of unknown length, so no finish is told"
		return
	case j.Left == 0 && j.Done == 0:
		j.Because = "nothing is to be done"
		return
	case j.Left == 0:
		j.Because = "every step is recorded as done"
		return
	}
	j.Finish, j.Alone = date(finish), date(alone)
	if !j.Promise.IsZero() {
		j.Late = max(0, int(j.Finish.Time().Sub(j.Promise.Time()).Hours()/24))
	}
	j.Because = w.words(j, e)
	w.keeps(j, k, sol)
	w.waits(j, k, sol)
}

func (w *week) words(j *WeekJob, e sched.JobEnd) string {
	s := "done on " + j.Finish.String()
	switch {
	case j.Promise.IsZero():
		s += "; nothing was promised"
	case j.Late > 0:
		s += fmt.Sprintf(", %d calendar days after the day promised (%s)", j.Late, j.Promise)
	default:
		s += fmt.Sprintf(", as promised (%s)", j.Promise)
	}
	if e.Alone {
		return s + "; no other job holds it up"
	}
	return s + fmt.Sprintf("; by itself no earlier than %s", j.Alone)
}

// waits names up to three steps that could begin earlier if another job were not
// at work: their person or bay serves that job until they begin.
func (w *week) waits(j *WeekJob, k int, sol sched.Solution) {
	for i, r := range w.refs {
		if r.job != k || len(j.Waiting) == 3 {
			continue
		}
		if text := w.waitsForBay(k, i, sol); text != "" {
			j.Waiting = append(j.Waiting, text)
			continue
		}
		for n, o := range w.refs {
			a, b := sol.Slots[i], sol.Slots[n]
			if o.job == k || b.To != a.From || b.From == b.To {
				continue
			}
			switch {
			case a.Worker >= 0 && a.Worker == b.Worker:
				j.Waiting = append(j.Waiting, fmt.Sprintf("%s begins when %s is done with %q of %s", r.step.Name, workerID(w.sh, a.Worker), o.step.Name, w.out.Jobs[o.job].ID))
			default:
				continue
			}
			break
		}
	}
}
