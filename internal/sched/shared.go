package sched

import (
	"math/rand/v2"
	"slices"
)

// Shared says which activities belong to which job, and by when each job is
// promised.
type Shared struct {
	Of  []int // job of each activity, 0 and up
	Due []int // minute each job is promised for; 0: not promised
	// Keeps is by place the job that keeps it until it is free, or all the time, counted
	// from 1; 0: none does. By itself another job has the place at once. Nil: none keeps any.
	Keeps []int
}

// JobEnd is when a job of a shared schedule is done.
type JobEnd struct {
	FinishMin int
	LateMin   int  // elapsed minutes after its promise
	BoundMin  int  // it is not done earlier even if it had everything to itself
	Alone     bool // nothing of the other jobs holds it up: FinishMin equals BoundMin
}

// maxOrders is up to how many jobs every order of them is tried: its factorial.
const maxOrders = 5

// sharedNodes is up to how many nodes of the exact search a shared schedule is given.
const sharedNodes = 10000

// SolveShared schedules several jobs on the same workers, places and pools, for
// which the last finish of all says little: the fewest minutes late against what
// was promised, then the least sum of the finishes, then the earliest last one.
// Jobs are placed one after the other in every order, most urgent activities
// first, and mixed by how little time their promise leaves them; then orders are
// bred from the best; and where there are few blocks an exact search goes on from there. The bound is what each job would need by itself, and what all of
// them want of the same people and places: where lateness, sum and last finish reach
// it, the schedule is proven, else the distance is told.
func SolveShared(p Problem, s Shared) (Solution, []JobEnd, error) {
	if err := p.check(); err != nil {
		return Solution{}, nil, err
	}
	if err := s.check(&p); err != nil {
		return Solution{}, nil, err
	}
	if k, ok := s.only(); ok {
		return s.solveOnly(p, k)
	}
	m, err := newModel(&p)
	if err != nil {
		return Solution{}, nil, err
	}
	x := &sharing{m: m, s: s, of: make([]int, len(m.blocks)), bounds: make([]int, len(s.Due)), alone: make([]int, len(m.blocks))}
	for i, b := range m.blocks {
		x.of[i] = s.Of[b.acts[0]]
	}
	if err := x.each(&p); err != nil {
		return Solution{}, nil, err
	}
	best, ok := x.search()
	if !ok {
		return Solution{}, nil, m.heldUp()
	}
	away := m.trim(best.bd.end)
	next, sure := x.exact(best, min(p.Nodes, sharedNodes))
	if sure = sure && !away; m.keepsAway(next.bd) {
		best = next
	} else {
		sure = false
	}
	out := m.solution(best.bd)
	ends := x.ends(best.bd)
	out.Together = x.together(ends)
	for _, e := range ends {
		out.BoundMin = max(out.BoundMin, e.BoundMin)
	}
	out.WorkBound = min(max(m.clock.work(out.BoundMin), m.bound(m.loads())), out.WorkMin)
	out.BoundMin = min(max(out.BoundMin, m.clock.end(out.WorkBound)), out.FinishMin)
	out.Proven = out.Together.proven() && (x.proven(best) || out.WorkBound == out.WorkMin)
	if sure { // nothing is less late, nor as late with an earlier sum, nor as early with an earlier last finish
		out.Proven, out.Together.LateBound = true, out.Together.LateMin
	}
	return out, ends, nil
}

func (s Shared) check(p *Problem) error {
	if len(s.Of) != len(p.Activities) {
		return refuse("jobs", "%d activities belong to a job, of %d", len(s.Of), len(p.Activities))
	}
	if len(s.Keeps) != 0 && len(s.Keeps) != len(p.Places) {
		return refuse("jobs", "%d places are kept by a job or by none, of %d", len(s.Keeps), len(p.Places))
	}
	for i, k := range s.Of {
		if k < 0 || k >= len(s.Due) {
			return refuse(p.Activities[i].ID, "belongs to job %d, which does not exist", k)
		}
		for _, l := range p.Activities[i].After {
			if s.Of[l.Pred] != k {
				return refuse(p.Activities[i].ID, "waits for %s of another job", p.Activities[l.Pred].ID)
			}
		}
	}
	for _, c := range p.Chains {
		for _, a := range c.Members {
			if s.Of[a] != s.Of[c.Members[0]] {
				return refuse(c.ID, "is a chain over two jobs")
			}
		}
	}
	for _, h := range p.Holds {
		all := slices.Concat(h.Members, h.Until)
		for _, a := range all {
			if s.Of[a] != s.Of[all[0]] {
				return refuse(h.ID, "is a hold of two jobs")
			}
		}
	}
	if p.greatest() {
		return refuse("jobs", "greatest distances are scheduled for one job at a time")
	}
	return nil
}

// only is the one job that has activities, if there is just one.
func (s Shared) only() (int, bool) {
	if len(s.Of) == 0 || slices.ContainsFunc(s.Of, func(k int) bool { return k != s.Of[0] }) {
		return 0, false
	}
	return s.Of[0], true
}

// solveOnly schedules the only job as one by itself.
func (s Shared) solveOnly(p Problem, k int) (Solution, []JobEnd, error) {
	sol, err := Solve(p)
	if err != nil {
		return Solution{}, nil, err
	}
	ends := make([]JobEnd, len(s.Due))
	ends[k] = JobEnd{FinishMin: sol.FinishMin, BoundMin: sol.BoundMin, Alone: sol.Proven}
	if slices.ContainsFunc(s.Keeps, func(job int) bool { return job != 0 && job != k+1 }) {
		q, _ := s.part(&p, k)
		free, err := Solve(q)
		if err != nil {
			return Solution{}, nil, err
		}
		ends[k].BoundMin = min(free.BoundMin, sol.FinishMin)
		ends[k].Alone = ends[k].BoundMin == sol.FinishMin
	}
	sol.Together = Together{SumMin: sol.FinishMin, SumBound: sol.BoundMin}
	if s.Due[k] > 0 {
		ends[k].LateMin = max(0, sol.FinishMin-s.Due[k])
		sol.Together.LateMin, sol.Together.LateBound = ends[k].LateMin, max(0, sol.BoundMin-s.Due[k])
	}
	return sol, ends, nil
}

// part is one job of the problem, and which activity each of its own is.
func (s Shared) part(p *Problem, k int) (Problem, []int) {
	q := *p
	q.Activities, q.Chains, q.Holds = nil, nil, nil
	q.Places = slices.Clone(p.Places)
	for i, job := range s.Keeps {
		if job != 0 && job != k+1 {
			q.Places[i].Free, q.Places[i].Away = 0, slices.DeleteFunc(slices.Clone(q.Places[i].Away), func(a Away) bool { return a == Away{} })
		}
	}
	var from []int
	at := make([]int, len(p.Activities))
	for i := range p.Activities {
		if s.Of[i] == k {
			at[i] = len(from)
			from = append(from, i)
		}
	}
	for _, i := range from {
		a := p.Activities[i]
		a.After = slices.Clone(a.After)
		for j := range a.After {
			a.After[j].Pred = at[a.After[j].Pred]
		}
		q.Activities = append(q.Activities, a)
	}
	for _, c := range p.Chains {
		if len(c.Members) > 0 && s.Of[c.Members[0]] == k {
			c.Members = slices.Clone(c.Members)
			for j := range c.Members {
				c.Members[j] = at[c.Members[j]]
			}
			q.Chains = append(q.Chains, c)
		}
	}
	for _, h := range p.Holds {
		if all := slices.Concat(h.Members, h.Until); len(all) > 0 && s.Of[all[0]] == k {
			h.Members = slices.Clone(h.Members)
			for j := range h.Members {
				h.Members[j] = at[h.Members[j]]
			}
			h.Until = slices.Clone(h.Until)
			for j := range h.Until {
				h.Until[j] = at[h.Until[j]]
			}
			q.Holds = append(q.Holds, h)
		}
	}
	return q, from
}

// sharing is the search for a shared schedule.
type sharing struct {
	m      *model
	s      Shared
	of     []int // job of each block
	bounds []int // of each job by itself
	alone  []int // working minute at which each block begins when its job is by itself
	held   []heldPlace
}

// each schedules every job by itself.
func (x *sharing) each(p *Problem) error {
	for k := range x.bounds {
		q, from := x.s.part(p, k)
		if len(q.Activities) == 0 {
			continue
		}
		sol, err := Solve(q)
		if err != nil {
			return err
		}
		x.bounds[k] = sol.BoundMin
		for i, slot := range sol.Slots {
			if b := x.m.of[from[i]]; x.m.blocks[b].acts[0] == from[i] {
				x.alone[b] = x.m.clock.work(slot.From)
			}
		}
	}
	return nil
}

// ends is when each job is done.
func (x *sharing) ends(bd *board) []JobEnd {
	out := make([]JobEnd, len(x.s.Due))
	for i, k := range x.of {
		out[k].FinishMin = max(out[k].FinishMin, x.m.clock.end(bd.start[i]+x.m.blocks[i].dur))
	}
	for k := range out {
		e := &out[k]
		if x.s.Due[k] > 0 {
			e.LateMin = max(0, e.FinishMin-x.s.Due[k])
		}
		e.BoundMin = min(x.bounds[k], e.FinishMin)
		e.Alone = e.FinishMin == e.BoundMin
	}
	return out
}

func (x *sharing) bred(bd *board) bred {
	b := x.m.ordered(bd)
	b.worth = [3]int{0, 0, bd.end}
	for _, e := range x.ends(bd) {
		b.worth[0] += e.LateMin
		b.worth[1] += e.FinishMin
	}
	return b
}

// try places by priority and keeps what comes of it.
func (x *sharing) try(kept []bred, prio []int) []bred {
	bd := x.m.serial(byPriority(prio), nil)
	if bd == nil { // the jobs wait for one another's places
		return kept
	}
	return keep(kept, x.bred(bd))
}

// jobApart sets the jobs apart in a priority: no minute of a schedule comes near it.
const jobApart = 1 << 40

// search is the best schedule found; false where none was.
func (x *sharing) search() (bred, bool) {
	var kept []bred
	base := x.m.latestFinish()
	inOrder := func(place, within []int) []int {
		prio := make([]int, len(base))
		for i := range prio {
			prio[i] = place[x.of[i]]*jobApart + within[i]
		}
		return prio
	}
	kept = x.try(kept, base)
	kept = x.try(kept, x.alone)
	kept = x.try(kept, x.urgency(base))
	for _, place := range x.orders() {
		kept = x.try(kept, inOrder(place, base))
		kept = x.try(kept, inOrder(place, x.alone))
	}
	rng := rand.New(rand.NewPCG(x.m.p.Seed, 0x5a4ed))
	for range x.m.p.Samples {
		if len(kept) < 2 || x.proven(kept[0]) {
			break
		}
		kept = x.try(kept, x.m.child(kept, rng))
	}
	if len(kept) == 0 {
		return bred{}, false
	}
	return kept[0], true
}

func (x *sharing) proven(b bred) bool {
	return !slices.ContainsFunc(x.ends(b.bd), func(e JobEnd) bool { return !e.Alone })
}

// urgency is the latest finish of each block that keeps its job's promise; a job
// without one is taken as promised when all are done one after the other.
func (x *sharing) urgency(base []int) []int {
	horizon := 0
	for _, b := range x.m.blocks {
		horizon += b.dur
	}
	out := slices.Clone(base)
	for i, k := range x.of {
		if due := x.s.Due[k]; due > 0 {
			out[i] += x.m.clock.work(due)
		} else {
			out[i] += horizon
		}
	}
	return out
}

// orders are the places of the jobs in every order of them, when they are few;
// else by promise, and with every two neighbours changed over.
func (x *sharing) orders() [][]int {
	n := len(x.s.Due)
	jobs := make([]int, n)
	for k := range jobs {
		jobs[k] = k
	}
	promise := func(k int) int {
		if x.s.Due[k] == 0 {
			return 1 << 60
		}
		return x.s.Due[k]
	}
	slices.SortStableFunc(jobs, func(a, b int) int { return promise(a) - promise(b) })
	var out [][]int
	add := func(order []int) {
		place := make([]int, n)
		for at, k := range order {
			place[k] = at
		}
		out = append(out, place)
	}
	if n > maxOrders {
		add(jobs)
		for k := 1; k < n; k++ {
			swapped := slices.Clone(jobs)
			swapped[k-1], swapped[k] = swapped[k], swapped[k-1]
			add(swapped)
		}
		return out
	}
	var rec func(done, left []int)
	rec = func(done, left []int) {
		if len(left) == 0 {
			add(done)
		}
		for i, k := range left {
			rec(append(slices.Clone(done), k), slices.Delete(slices.Clone(left), i, i+1))
		}
	}
	rec(nil, jobs)
	return out
}
