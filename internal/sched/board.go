package sched

import "slices"

// board is a schedule in the making: what is taken when. Times are working
// minutes.
type board struct {
	m     *model
	busy  [][]span // by resource, in order of time
	hulls []hull   // by hold
	sets  [][]setSpan
	pools [][]span // by pool, as they were placed
	start []int    // by block
	who   [][]int  // by block: the resource of each need
	end   int
}

// span is a time in which something is taken. Others than its own hold keep away
// until the end of what stays after it.
type span struct {
	from, to, amount int
	until, hold      int  // of a resource
	closed           bool // the resource is away
}

// newBoard is a board on which nothing is placed.
func (m *model) newBoard() *board {
	if m.empty == nil {
		m.empty = m.emptyBoard()
	}
	bd := &board{}
	if n := len(m.spare); n > 0 {
		bd, m.spare = m.spare[n-1], m.spare[:n-1]
	}
	return bd.as(m.empty)
}

// drop gives a board back at which nobody looks any more: a new one is made of it.
func (m *model) drop(bd *board) {
	if bd != nil {
		m.spare = append(m.spare, bd)
	}
}

func (m *model) emptyBoard() *board {
	n := len(m.blocks)
	b := &board{m: m, busy: make([][]span, len(m.p.Workers)+len(m.p.Places)), hulls: m.newHulls(), sets: make([][]setSpan, len(m.p.States)),
		pools: make([][]span, len(m.p.Pools)), start: make([]int, n), who: make([][]int, n)}
	for i, p := range m.p.Places {
		if f := m.clock.work(p.Free); f > 0 {
			b.busy[len(m.p.Workers)+i] = []span{{to: f, until: f, hold: none}} // takes nothing, but nothing begins before it
		}
	}
	for r, spans := range m.away {
		b.busy[r] = append(b.busy[r], spans...)
	}
	for i := range b.start {
		b.start[i] = none
	}
	return b
}

// as makes the board like another one, in the room that it has, and returns it.
func (bd *board) as(o *board) *board {
	bd.m, bd.end = o.m, o.end
	bd.busy, bd.sets, bd.pools = like(bd.busy, o.busy), like(bd.sets, o.sets), like(bd.pools, o.pools)
	bd.hulls = append(bd.hulls[:0], o.hulls...)
	bd.start, bd.who = append(bd.start[:0], o.start...), append(bd.who[:0], o.who...)
	return bd
}

func (bd *board) clone() *board { return new(board).as(bd) }

// like makes rows equal to others, in the room that they have.
func like[T any](rows, others [][]T) [][]T {
	rows = slices.Grow(rows[:0], len(others))[:len(others)]
	for i, o := range others {
		rows[i] = append(rows[i][:0], o...)
	}
	return rows
}

// ready is the earliest start by the lags from what is placed already.
func (bd *board) ready(i int) int {
	b := &bd.m.blocks[i]
	s := max(b.release, 0)
	for j := range b.preds {
		s = max(s, b.preds[j].after(bd.m.clock, bd.start[b.preds[j].from]))
	}
	return s
}

// earliest is the first start from t on at which everything the block needs is
// free, with the resource chosen for each need. fixed, when not nil, gives the
// resources. It is never when a place it needs is held by what is not placed yet.
func (bd *board) earliest(i, t int, fixed []int) (int, []int) {
	who := make([]int, len(bd.m.blocks[i].needs))
	if t = bd.begins(i, t, fixed, who); t == never {
		return never, nil
	}
	return t, who
}

// begins is earliest with the resources put into who.
func (bd *board) begins(i, t int, fixed, who []int) int {
	b := &bd.m.blocks[i]
	for {
		t = bd.m.nextFit(b, t)
		next := t
		for k := range b.needs {
			options := b.needs[k].options
			if fixed != nil {
				options = fixed[k : k+1]
			}
			best := none
			for _, r := range options {
				at := bd.free(r, b, &b.needs[k], t)
				if at != never && bd.shutsIn(i, &b.needs[k], r, at) {
					at = never
				}
				if best < 0 || at < best {
					best, who[k] = at, r
				}
			}
			next = max(next, best)
		}
		if next == never {
			return never
		}
		next = max(next, bd.settled(b, t))
		for _, d := range b.draws {
			next = max(next, firstRoom(bd.pools[d.pool], bd.m.p.Pools[d.pool].Capacity-d.amount, t, b.dur))
		}
		if next == t {
			return t
		}
		t = next
	}
}

// time is how long the need keeps its resource: not at all when nothing in the
// block uses it for a minute.
func (n *need) time(b *block) int {
	if n.to == n.from {
		return 0
	}
	return b.dur
}

// firstFree is the first time from t on at which d minutes are free.
func firstFree(busy []span, t, d int) int {
	for _, s := range busy {
		if s.from >= t+d {
			break
		}
		t = max(t, s.to)
	}
	return t
}

// firstRoom is the first time from t on at which at most room is taken for d
// minutes.
func firstRoom(taken []span, room, t, d int) int {
	for {
		full, until := false, 0
		check := func(x int) {
			sum, least := 0, none
			for _, s := range taken {
				if s.from <= x && x < s.to {
					sum += s.amount
					if least < 0 || s.to < least {
						least = s.to
					}
				}
			}
			if sum > room && least > until {
				full, until = true, least
			}
		}
		check(t)
		for _, s := range taken {
			if s.from > t && s.from < t+d {
				check(s.from)
			}
		}
		if !full {
			return t
		}
		t = until
	}
}

// put places the block.
func (bd *board) put(i, t int, who []int) {
	b := &bd.m.blocks[i]
	bd.start[i], bd.who[i] = t, who
	bd.end = max(bd.end, t+b.dur)
	for k := range b.needs {
		n := &b.needs[k]
		if n.time(b) == 0 {
			continue
		}
		r := who[k]
		s := span{t, t + b.dur, 1, bd.m.taken(b, n, t), n.hold, false}
		bd.keep(n.hold, r, s)
		busy := append(bd.busy[r], span{})
		at := len(busy) - 1
		for ; at > 0 && busy[at-1].from >= s.from; at-- {
			busy[at] = busy[at-1]
		}
		busy[at] = s
		bd.busy[r] = busy
	}
	for _, d := range b.draws {
		bd.pools[d.pool] = append(bd.pools[d.pool], span{from: t, to: t + b.dur, amount: d.amount})
	}
	bd.leave(i, t)
	for k := range b.sets {
		x := &b.sets[k]
		bd.sets[x.state] = append(bd.sets[x.state], setSpan{x.value, t + x.from, bd.m.setUntil(x, t), x.change})
	}
}

// takeBack takes the block away that was placed last; the holds and the end were as given before.
func (bd *board) takeBack(i int, hulls []hull, end int) {
	b, t, who := &bd.m.blocks[i], bd.start[i], bd.who[i]
	for k := len(b.needs) - 1; k >= 0; k-- {
		if b.needs[k].time(b) == 0 {
			continue
		}
		busy := bd.busy[who[k]]
		at := len(busy) - 1
		for ; at > 0 && busy[at-1].from >= t; at-- { // put has it before all that begin no sooner
		}
		bd.busy[who[k]] = slices.Delete(busy, at, at+1)
	}
	for _, d := range b.draws {
		bd.pools[d.pool] = bd.pools[d.pool][:len(bd.pools[d.pool])-1]
	}
	for k := range b.sets {
		of := &bd.sets[b.sets[k].state]
		*of = (*of)[:len(*of)-1]
	}
	copy(bd.hulls, hulls)
	bd.start[i], bd.who[i], bd.end = none, nil, end
}
