package sched

// Path is what the lags alone say, as if there were always a free worker and
// place. Times are working minutes.
type Path struct {
	Earliest []int // earliest start of each activity
	Latest   []int // latest start that keeps the finish
	Slack    []int
	Finish   int
}

// arc says that start(to) >= g(start(from) + k) - back, where g adds the lag on
// its clock.
type arc struct {
	from, to int
	k        int
	lag      int
	clock    Clock
	begin    bool // counted from the moment work begins, not from when it has ended
	back     int
}

// after is the least start of to when from starts at s.
func (a *arc) after(c *clock, s int) int {
	x := s + a.k
	if a.clock == Working {
		return x + a.lag - a.back
	}
	if a.begin {
		return c.work(c.begin(x)+a.lag) - a.back
	}
	return c.work(c.end(x)+a.lag) - a.back
}

// before is the greatest start of from when to starts at s.
func (a *arc) before(c *clock, s int) int {
	y := s + a.back
	if a.clock == Working {
		return y - a.lag - a.k
	}
	e := c.begin(y) - a.lag
	x := c.work(e)
	if a.begin && c.begin(x) > e {
		x--
	}
	return x - a.k
}

// activityArcs are the lags between activities; chains add that nothing comes
// between their members.
func (p *Problem) activityArcs() []arc {
	var arcs []arc
	for i, a := range p.Activities {
		for _, l := range a.After {
			d := p.Activities[l.Pred].Minutes
			x := arc{from: l.Pred, to: i, k: d, lag: l.Minutes, clock: l.Clock, begin: l.From == Start || d == 0}
			if l.From == Start {
				x.k = 0
			}
			arcs = append(arcs, x)
		}
	}
	for _, c := range p.Chains {
		for i := 1; i < len(c.Members); i++ {
			a, b := c.Members[i-1], c.Members[i]
			d := p.Activities[a].Minutes
			arcs = append(arcs, arc{from: a, to: b, k: d}, arc{from: b, to: a, lag: -d})
		}
	}
	return arcs
}

// CriticalPath finds the longest paths through the lags (Bellman and Ford), so
// that lags of either sign are taken. A cycle that would push its activities
// later for ever is an error that names it.
//
// Source: Kelley & Walker 1959 for the two passes; Bartusch, Moehring &
// Radermacher 1988 for lags of both signs.
func CriticalPath(p Problem) (Path, error) {
	if err := p.check(); err != nil {
		return Path{}, err
	}
	c := newClock(p.Calendar, p.Start)
	arcs := p.activityArcs()
	n := len(p.Activities)
	out := Path{Earliest: make([]int, n), Latest: make([]int, n), Slack: make([]int, n)}
	parent := make([]int, n)
	for i, a := range p.Activities {
		out.Earliest[i], parent[i] = c.work(a.Release), none
	}
	rounds := n
	if p.greatest() { // nights and days off may push a pair on for a while before it fits
		rounds = 400 * (n + 1)
	}
	for round := 0; ; round++ {
		changed := none
		for _, a := range arcs {
			if s := a.after(c, out.Earliest[a.from]); s > out.Earliest[a.to] {
				out.Earliest[a.to], parent[a.to], changed = s, a.from, a.to
			}
		}
		if changed < 0 {
			break
		}
		if round > rounds {
			return Path{}, p.cycleError(parent, changed)
		}
	}
	for i, a := range p.Activities {
		out.Finish = max(out.Finish, out.Earliest[i]+a.Minutes)
	}
	for i, a := range p.Activities {
		out.Latest[i] = out.Finish - a.Minutes
	}
	for changed := true; changed; {
		changed = false
		for _, a := range arcs {
			if s := a.before(c, out.Latest[a.to]); s < out.Latest[a.from] {
				out.Latest[a.from], changed = s, true
			}
		}
	}
	for i := range out.Slack {
		out.Slack[i] = out.Latest[i] - out.Earliest[i]
	}
	return out, nil
}

// cycleError names the cycle that is found by walking back from i.
func (p *Problem) cycleError(parent []int, i int) error {
	for range parent {
		i = parent[i]
	}
	text := p.Activities[i].ID
	for j := parent[i]; ; j = parent[j] {
		text = p.Activities[j].ID + " > " + text
		if j == i {
			break
		}
	}
	return refuse(p.Activities[i].ID, "these wait for one another for ever: %s", text)
}
