package sched

import (
	"slices"
	"sort"
)

// block is what is placed at once: an activity, or a whole chain.
type block struct {
	acts    []int
	offs    []int // start of each activity within the block
	dur     int
	span    int // elapsed minutes it may take; 0: no limit
	needs   []need
	draws   []blockDraw
	sets    []blockSet
	release int
	preds   []arc // from and to are blocks
	succs   []arc
}

// need is one worker or place out of several, kept for the whole block.
type need struct {
	options     []int // resources: workers first, then places
	from, to    int   // the part of the block during which it is used
	first, last int   // activities of the block it serves
	hold        int   // the place is kept for this hold; -1: for the block only
	stays       []stay
}

// stay keeps something taken for elapsed minutes after a part of the block.
type stay struct{ to, min int }

// blockSet is a setting during a part of the block, and after it.
type blockSet struct {
	state    int
	value    int
	from, to int
	min      int // elapsed minutes after it
	change
}

// change is what lies between two settings of a state with different values.
type change struct {
	out, in, more int
	bits          uint64
}

// gap is the working minutes from one setting to another at least.
func (c change) gap(next change) int {
	if c.bits&next.bits != 0 {
		return c.out + next.in + c.more
	}
	return c.out + next.in
}

// blockDraw is the share of a pool kept for the whole block.
type blockDraw struct {
	pool, amount int
}

// model is a problem in blocks, in topological order of their lags.
type model struct {
	p      *Problem
	clock  *clock
	blocks []block
	of     []int // block of each activity
	order  []int
	broken []Broken
	tail   []int       // working minutes that follow the start of each block at least
	head   []int       // earliest start by the lags alone
	holdOf []int       // hold of each activity, -1: none
	parts  []int       // needs of each hold
	ends   [][]holdEnd // by block: the holds it ends
	values []string    // what states are set to
	least  int         // working minutes of a day that are left when something begins
	away   [][]span    // by resource: when it is not there
	lagged []bool      // by block: something waits after it, or stays taken
	most   []int       // by state: the most minutes to change to one of its settings

	// what is made once, when it is asked for first
	carried []load
	paired  []pair
	empty   *board

	// to be used again
	rounds []int
	spare  []*board
}

func newModel(p *Problem) (*model, error) {
	m := &model{p: p, clock: newClock(p.Calendar, p.Start), of: make([]int, len(p.Activities))}
	m.least = p.least()
	m.away = m.blanks()
	m.holdOf, m.parts, m.most = p.holdOf(), make([]int, len(p.Holds)), make([]int, len(p.States))
	for _, a := range p.Activities {
		for _, s := range a.Sets {
			m.most[s.State] = max(m.most[s.State], s.In)
		}
	}
	chainOf := map[int]int{}
	for ci, c := range p.Chains {
		for _, a := range c.Members {
			chainOf[a] = ci
		}
	}
	for i := range p.Activities {
		ci, chained := chainOf[i]
		switch {
		case !chained:
			m.add([]int{i}, nil)
		case p.Chains[ci].Members[0] == i:
			m.add(p.Chains[ci].Members, &p.Chains[ci])
		}
	}
	m.untils()
	if err := m.link(); err != nil {
		return nil, err
	}
	for i := range m.blocks {
		m.lagged = append(m.lagged, m.blocks[i].isLagged())
	}
	if p.greatest() {
		return m, nil
	}
	if err := m.sort(); err != nil {
		return nil, err
	}
	m.bounds()
	return m, nil
}

// least is Least, but no more than the shortest day of work has.
func (p *Problem) least() int {
	out := p.Least
	for _, day := range p.Calendar.Week {
		sum := 0
		for _, w := range day {
			sum += w.To - w.From
		}
		if sum > 0 {
			out = min(out, sum)
		}
	}
	return out
}

// add makes a block of activities that follow one another without a gap.
func (m *model) add(acts []int, c *Chain) {
	b := block{acts: acts}
	for _, a := range acts {
		m.of[a] = len(m.blocks)
		b.offs = append(b.offs, b.dur)
		b.dur += m.p.Activities[a].Minutes
		b.release = max(b.release, m.clock.work(m.p.Activities[a].Release)-b.offs[len(b.offs)-1])
	}
	noWorker := m.workerNeeds(&b)
	m.placeNeeds(&b)
	m.drawNeeds(&b)
	m.settings(&b)
	if c != nil {
		b.span = c.Window
		tooLong := b.span > 0 && !m.everFits(&b)
		if tooLong {
			b.span = 0
		}
		if tooLong || noWorker {
			m.broken = append(m.broken, Broken{c.ID, b.dur, c.Window, tooLong, noWorker})
		}
	}
	m.blocks = append(m.blocks, b)
}

// workerNeeds asks for one worker for the whole block, or one for each activity
// when nobody has all the skills; then it reports true.
func (m *model) workerNeeds(b *block) bool {
	var skills []string
	to := 0 // nobody is kept for what takes no time
	for _, a := range b.acts {
		if s := m.p.Activities[a].Skill; s != "" {
			skills = append(skills, s)
			if m.p.Activities[a].Minutes > 0 {
				to = b.dur
			}
		}
	}
	if len(skills) == 0 {
		return false
	}
	if who := m.p.workersWith(skills...); len(who) > 0 {
		b.needs = append(b.needs, need{m.leastSkilled(who), 0, to, 0, len(b.acts) - 1, none, nil})
		return false
	}
	for i, a := range b.acts {
		if s := m.p.Activities[a].Skill; s != "" {
			b.needs = append(b.needs, need{m.leastSkilled(m.p.workersWith(s)), b.offs[i], b.offs[i] + m.p.Activities[a].Minutes, i, i, none, nil})
		}
	}
	return true
}

// leastSkilled puts first those who can do the fewest other things.
func (m *model) leastSkilled(who []int) []int {
	sort.SliceStable(who, func(i, j int) bool {
		return len(m.p.Workers[who[i]].Skills) < len(m.p.Workers[who[j]].Skills)
	})
	return who
}

// placeNeeds asks for one place for each run of activities of the same kind and
// hold.
func (m *model) placeNeeds(b *block) {
	for i := 0; i < len(b.acts); {
		kind, hold, j := m.p.Activities[b.acts[i]].Place, m.holdOf[b.acts[i]], i
		for j < len(b.acts) && m.p.Activities[b.acts[j]].Place == kind && m.holdOf[b.acts[j]] == hold {
			j++
		}
		if kind != "" {
			last := b.acts[j-1]
			var options []int
			for _, pl := range m.p.placesOf(kind) {
				options = append(options, len(m.p.Workers)+pl)
			}
			n := need{options, b.offs[i], b.offs[j-1] + m.p.Activities[last].Minutes, i, j - 1, hold, nil}
			for k := i; k < j; k++ {
				if a := &m.p.Activities[b.acts[k]]; a.Stay > 0 && a.Minutes > 0 {
					n.stays = append(n.stays, stay{b.offs[k] + a.Minutes, a.Stay})
				}
			}
			b.needs = append(b.needs, n)
			if hold >= 0 && n.time(b) > 0 {
				m.parts[hold]++
			}
		}
		i = j
	}
}

// drawNeeds keeps, for the whole block, the most that any of its activities
// draws.
func (m *model) drawNeeds(b *block) {
	for pool := range m.p.Pools {
		most := 0
		for _, a := range b.acts {
			sum := 0
			for _, d := range m.p.Activities[a].Draws {
				if d.Pool == pool && m.p.Activities[a].Minutes > 0 {
					sum += d.Amount
				}
			}
			most = max(most, sum)
		}
		if most > 0 {
			b.draws = append(b.draws, blockDraw{pool, most})
		}
	}
}

// link turns the lags between activities into lags between blocks.
func (m *model) link() error {
	pos := make([]int, len(m.p.Activities))
	for _, b := range m.blocks {
		for i, a := range b.acts {
			pos[a] = b.offs[i]
		}
	}
	for i, a := range m.p.Activities {
		for _, l := range a.After {
			pred := m.p.Activities[l.Pred]
			k := pred.Minutes
			if l.From == Start {
				k = 0
			}
			from, to := m.of[l.Pred], m.of[i]
			if from == to {
				least := pos[l.Pred] + k
				if l.Clock == Working {
					least += l.Minutes
				}
				if l.Minutes > 0 || least > pos[i] || l.Pred == i {
					return refuse(a.ID, "the lag after %s cannot be kept inside their chain", pred.ID)
				}
				continue
			}
			x := arc{from: from, to: to, k: pos[l.Pred] + k, lag: l.Minutes, clock: l.Clock,
				begin: l.From == Start || pred.Minutes == 0, back: pos[i]}
			m.blocks[to].preds = append(m.blocks[to].preds, x)
			m.blocks[from].succs = append(m.blocks[from].succs, x)
		}
	}
	return nil
}

// sort puts the blocks in topological order, the first of the input first.
func (m *model) sort() error {
	left := make([]int, len(m.blocks))
	for i := range m.blocks {
		left[i] = len(m.blocks[i].preds)
	}
	done := make([]bool, len(m.blocks))
	for len(m.order) < len(m.blocks) {
		next := none
		for i := range m.blocks {
			if !done[i] && left[i] == 0 {
				next = i
				break
			}
		}
		if next < 0 {
			return m.knot(left, done)
		}
		done[next] = true
		m.order = append(m.order, next)
		for _, a := range m.blocks[next].succs {
			left[a.to]--
		}
	}
	return nil
}

// knot names blocks that wait for one another.
func (m *model) knot(left []int, done []bool) error {
	i := 0
	for done[i] {
		i++
	}
	parent := make([]int, len(m.blocks))
	for j := range m.blocks {
		for _, a := range m.blocks[j].preds {
			if !done[a.from] {
				parent[j] = a.from
			}
		}
	}
	for range m.blocks {
		i = parent[i]
	}
	text := m.p.Activities[m.blocks[i].acts[0]].ID
	first := text
	for j := parent[i]; ; j = parent[j] {
		text = m.p.Activities[m.blocks[j].acts[0]].ID + " > " + text
		if j == i {
			return refuse(first, "these wait for one another for ever: %s", text)
		}
	}
}

// bounds computes earliest starts and least tails by the lags alone.
func (m *model) bounds() {
	m.head = make([]int, len(m.blocks))
	m.tail = make([]int, len(m.blocks))
	for _, i := range m.order {
		b := &m.blocks[i]
		s := max(b.release, 0)
		for j := range b.preds {
			s = max(s, b.preds[j].after(m.clock, m.head[b.preds[j].from]))
		}
		m.head[i] = m.nextFit(b, s)
	}
	for k := len(m.order) - 1; k >= 0; k-- {
		i := m.order[k]
		t := m.blocks[i].dur
		for _, a := range m.blocks[i].succs {
			x := m.tail[a.to] + a.k - a.back
			if a.clock == Working {
				x += a.lag
			}
			t = max(t, x)
		}
		m.tail[i] = t
	}
}

// fits says that the block started at s keeps within its window, and is not begun for the
// last minutes of a day.
func (m *model) fits(b *block, s int) bool {
	if n := min(b.dur, m.least); n > 0 && m.clock.leftOfDay(s) < n {
		return false
	}
	return b.span == 0 || m.clock.end(s+b.dur)-m.clock.begin(s) <= b.span
}

// nextFit is the first start from s on that keeps within the window. Between
// two window starts the elapsed span only grows with the start, and what is left of the
// day only shrinks, so that the only later candidates are the starts of windows.
func (m *model) nextFit(b *block, s int) int {
	for !m.fits(b, s) {
		s = m.clock.nextWindow(s)
	}
	return s
}

// everFits says that some start keeps within the window, however late: it
// tries every working window of the two weeks after the last day off.
func (m *model) everFits(b *block) bool {
	if b.dur > b.span {
		return false
	}
	last := m.p.Start / dayMin
	for _, d := range m.p.Calendar.Off {
		last = max(last, d)
	}
	s := m.clock.work((last + 1) * dayMin)
	for m.clock.begin(s) < (last+15)*dayMin {
		if m.fits(b, s) && !m.nearShift(b, s) {
			return true
		}
		s = m.clock.nextWindow(s)
	}
	return false
}

// nearShift says that the clock is changed about when a block is under way: what fits
// then may never fit again.
func (m *model) nearShift(b *block, s int) bool {
	from, to := m.clock.begin(s)-dayMin, m.clock.end(s+b.dur)+dayMin
	return slices.ContainsFunc(m.p.Calendar.Shifts, func(x Shift) bool { return from < x.At && x.At < to })
}
