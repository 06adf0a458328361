package sched

import (
	"fmt"
	"slices"
	"strings"
)

// never is a start that no block can have as long as the place it needs is held.
const never = 1 << 50

// hull is what a hold has taken so far: a place, and of it the time from the first to
// the last of its members. As long as some of them are not placed it has no end.
type hull struct {
	place    int // resource, or nowhere: not chosen yet
	from, to int
	left     int // needs that are not placed yet, and one more until what ends it begins
	waiting  bool
}

// none stands in place of an index or a minute where there is none.
const none = -1

// nowhere is the place of a hold for which none is chosen.
const nowhere = -1

// holdEnd says that a hold lasts at least until a part of the block begins.
type holdEnd struct{ hold, off int }

// untils says which holds each block ends.
func (m *model) untils() {
	m.ends = make([][]holdEnd, len(m.blocks))
	for h := range m.p.Holds {
		for _, a := range m.p.Holds[h].Until {
			b := &m.blocks[m.of[a]]
			for k := range b.acts {
				if b.acts[k] == a {
					m.ends[m.of[a]] = append(m.ends[m.of[a]], holdEnd{h, b.offs[k]})
				}
			}
		}
	}
}

// setSpan is the time a state is set to a value.
type setSpan struct {
	value    int
	from, to int
	change
}

// newHulls are the holds before anything is placed: those that are open at the start
// have their places, one after the other of their kind.
func (m *model) newHulls() []hull {
	out := make([]hull, len(m.p.Holds))
	given := map[string]int{}
	for h := range out {
		x := &m.p.Holds[h]
		out[h] = hull{place: nowhere, left: m.parts[h]}
		if len(x.Until) > 0 && (x.Open || m.parts[h] > 0) {
			out[h].left, out[h].waiting = m.parts[h]+1, true
		}
		if places := m.p.placesOf(x.Kind); x.Open && out[h].left > 0 && given[x.Kind] < len(places) {
			out[h].place = len(m.p.Workers) + places[given[x.Kind]]
			given[x.Kind]++
		}
	}
	return out
}

// settings are what the activities of a block set, while they are under way.
func (m *model) settings(b *block) {
	for k, i := range b.acts {
		a := &m.p.Activities[i]
		for _, s := range a.Sets {
			if a.Minutes > 0 {
				b.sets = append(b.sets, blockSet{s.State, m.value(s.Value), b.offs[k], b.offs[k] + a.Minutes, s.Stay, change{s.Out, s.In, s.More, s.Bits}})
			}
		}
	}
}

// value is the number of what states are set to.
func (m *model) value(name string) int {
	k := slices.Index(m.values, name)
	if k < 0 {
		k = len(m.values)
		m.values = append(m.values, name)
	}
	return k
}

// taken is until when a need keeps what it got when the block starts at t.
func (m *model) taken(b *block, n *need, t int) int {
	to := t + b.dur
	for _, x := range n.stays {
		to = max(to, m.clock.work(m.clock.end(t+x.to)+x.min))
	}
	return to
}

// setUntil is until when a state stays as it is set when the block starts at t.
func (m *model) setUntil(x *blockSet, t int) int {
	if x.min == 0 {
		return t + x.to
	}
	return max(t+x.to, m.clock.work(m.clock.end(t+x.to)+x.min))
}

// over is when nothing of what the block took is taken any more.
func (m *model) over(b *block, t int) int {
	to := t + b.dur
	for k := range b.needs {
		if b.needs[k].time(b) > 0 {
			to = max(to, m.taken(b, &b.needs[k], t))
		}
	}
	for k := range b.sets {
		x := &b.sets[k]
		to = max(to, m.setUntil(x, t)+x.out+x.more+m.most[x.state])
	}
	return to
}

// free is the first time from t on at which the resource is free for the need.
// What is taken ends the later the later a block starts, so that whatever is in the
// way at t is in the way until it ends.
func (bd *board) free(r int, b *block, n *need, t int) int {
	if n.time(b) == 0 {
		return t
	}
	if r < len(bd.m.p.Workers) {
		return firstFree(bd.busy[r], t, b.dur)
	}
	for {
		from, to := bd.asked(r, b, n, t)
		if from == never {
			return never
		}
		next := bd.past(r, n, span{from: t, to: t + b.dur}, from, to)
		if next == t || next == never {
			return next
		}
		t = next
	}
}

// past is the start of what is asked, or the end of what is in its way: of the same
// hold what is under way then, of others what they keep from one time to another.
func (bd *board) past(r int, n *need, ask span, from, to int) int {
	next := ask.from
	for _, s := range bd.busy[r] {
		switch {
		case s.closed:
			if s.from < ask.to && s.to > ask.from {
				next = max(next, s.to)
			}
		case s.amount == 0:
			next = max(next, s.until)
		case bd.m.same(n.hold, s.hold):
			if s.from < ask.to && s.to > ask.from {
				next = max(next, s.to)
			}
		case s.from < to && s.until > from:
			if s.until <= ask.from {
				return never
			}
			next = max(next, s.until)
		}
	}
	for h, x := range bd.hulls {
		if h == n.hold || x.place != r || x.from >= to || x.left == 0 && (x.to <= from || bd.m.same(n.hold, h)) {
			continue
		}
		if x.left > 0 || x.to <= ask.from {
			return never
		}
		next = max(next, x.to)
	}
	return next
}

// same says that two holds are one, or of one owner.
func (m *model) same(g, h int) bool {
	return g >= 0 && h >= 0 && (g == h || m.p.Holds[g].Owner != "" && m.p.Holds[g].Owner == m.p.Holds[h].Owner)
}

// asked is the time for which the resource has to be free of others: that of the
// need, or of its hold with it, which has no end before its last member. never when
// the hold has another place.
func (bd *board) asked(r int, b *block, n *need, t int) (int, int) {
	from, to := t, bd.m.taken(b, n, t)
	if n.hold < 0 {
		return from, to
	}
	h := &bd.hulls[n.hold]
	if h.place >= 0 {
		if h.place != r {
			return never, never
		}
		from = min(from, h.from)
	}
	to = max(to, h.to) // what ends it may have begun before it
	if h.left > bd.m.partsOf(b, n.hold) {
		to = never
	}
	return from, to
}

// partsOf is how many needs of the block belong to a hold.
func (m *model) partsOf(b *block, hold int) int {
	k := 0
	for i := range b.needs {
		if b.needs[i].hold == hold && b.needs[i].time(b) > 0 {
			k++
		}
	}
	return k
}

// keep takes the place for the hold of a need that is placed.
func (bd *board) keep(h, r int, s span) {
	if h < 0 {
		return
	}
	x := &bd.hulls[h]
	if x.place == nowhere {
		x.place, x.from = r, s.from
	}
	x.from, x.to, x.left = min(x.from, s.from), max(x.to, s.until), x.left-1
}

// leave ends the holds that last until the block begins.
func (bd *board) leave(i, t int) {
	for _, e := range bd.m.ends[i] {
		if x := &bd.hulls[e.hold]; x.waiting {
			x.waiting, x.left, x.to = false, x.left-1, max(x.to, t+e.off)
		}
	}
}

// settled is the first time from t on at which no other value of a state is set.
func (bd *board) settled(b *block, t int) int {
	for k := range b.sets {
		x := &b.sets[k]
		for i := range bd.sets[x.state] {
			y := &bd.sets[x.state][i]
			if y.value != x.value && y.to+y.gap(x.change) > t+x.from && y.from < bd.m.setUntil(x, t)+x.gap(y.change) {
				t = y.to + y.gap(x.change) - x.from
			}
		}
	}
	return t
}

// opens says that the block takes a place that is kept after it.
func (bd *board) opens(b *block) bool {
	for _, n := range b.needs {
		if n.hold >= 0 && n.time(b) > 0 && bd.hulls[n.hold].place < 0 && bd.hulls[n.hold].left > bd.m.partsOf(b, n.hold) {
			return true
		}
	}
	return false
}

// freeFrom is when the resource is free for good; never while it is held.
func (bd *board) freeFrom(r int) int {
	t := 0
	for _, s := range bd.busy[r] {
		t = max(t, s.until)
	}
	for _, x := range bd.hulls {
		if x.place == r {
			t = max(t, x.to)
			if x.left > 0 {
				return never
			}
		}
	}
	return t
}

// standing names the places of the holds that are not over.
func (bd *board) standing() string {
	var b strings.Builder
	for h, x := range bd.hulls {
		if x.place >= 0 && x.left > 0 {
			fmt.Fprintf(&b, "%d:%d ", h, x.place)
		}
	}
	return b.String()
}

// apart are the distances block i keeps to a later block j because a place or a
// setting stays with it.
func (m *model) apart(bd *board, i, j int) []arc {
	var out []arc
	b, c := &m.blocks[i], &m.blocks[j]
	for x := range b.needs {
		for y := range c.needs {
			if m.same(b.needs[x].hold, c.needs[y].hold) {
				continue
			}
			if bd.who[i][x] == bd.who[j][y] && b.needs[x].time(b) > 0 && c.needs[y].time(c) > 0 {
				for _, s := range b.needs[x].stays {
					out = append(out, arc{from: i, to: j, k: s.to, lag: s.min, clock: Elapsed})
				}
			}
		}
	}
	for _, e := range m.ends[i] {
		for y := range c.needs {
			if p := bd.hulls[e.hold].place; p >= 0 && p == bd.who[j][y] && !m.same(c.needs[y].hold, e.hold) && c.needs[y].time(c) > 0 && bd.start[i]+e.off <= bd.start[j] {
				out = append(out, arc{from: i, to: j, k: e.off})
			}
		}
	}
	for _, x := range b.sets {
		for _, y := range c.sets {
			if x.state == y.state && x.value != y.value {
				out = append(out, arc{from: i, to: j, k: x.to, lag: x.min, clock: Elapsed, back: y.from - x.gap(y.change)})
			}
		}
	}
	return out
}

// heldUp is the error for blocks that wait for one another's places.
func (m *model) heldUp() error {
	var ids []string
	for _, h := range m.p.Holds {
		ids = append(ids, h.ID)
	}
	return refuse(strings.Join(ids, ", "), "each of these keeps a place that another one needs, and no order of them was found in which all get theirs")
}

// shutsIn says that a place which closes for good would close on what it is to be kept for,
// if the block, which is the first of a hold, began there at t: by the lags alone, with nothing
// else in the way, part of the hold comes too late.
func (bd *board) shutsIn(i int, n *need, r, t int) bool {
	if n.hold < 0 || bd.hulls[n.hold].place >= 0 || r < len(bd.m.p.Workers) {
		return false
	}
	shut := never
	for _, s := range bd.busy[r] {
		if s.closed && s.to == never {
			shut = s.from
		}
	}
	if shut == never {
		return false
	}
	at := slices.Clone(bd.start)
	for _, j := range bd.m.order {
		b := &bd.m.blocks[j]
		if j == i {
			at[j] = t
		} else if at[j] < 0 {
			at[j] = max(b.release, 0)
			for k := range b.preds {
				at[j] = max(at[j], b.preds[k].after(bd.m.clock, at[b.preds[k].from]))
			}
		}
		if at[j]+b.dur > shut && slices.ContainsFunc(b.needs, func(x need) bool { return x.hold == n.hold && x.time(b) > 0 }) {
			return true
		}
	}
	return false
}
