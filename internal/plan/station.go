package plan

import (
	"fmt"
	"strings"

	"fettle/internal/body"
)

// station is what has to stand ready to handle a part: the tool in hand, the
// side of the vehicle one stands at, the height of the lift. An empty word means
// that any will do.
type station struct{ tool, side, lift string }

func stationOf(p body.Part) station { return station{p.Tool, p.Side, p.Lift} }

// Changes counts what is changed between the parts of an order.
type Changes struct {
	Tool    int     `json:"tool"`
	Side    int     `json:"side"`
	Lift    int     `json:"lift"`
	Minutes float64 `json:"minutes"`        // by the shop's minutes for each, zero when it gives none
	Least   float64 `json:"leastMinutes"`   // no order takes less
	Proven  bool    `json:"proven"`         // no order changes less, by those minutes
	Counted bool    `json:"minutesCounted"` // the shop gives minutes; else every change counts as one
}

// weights are what a change costs, in thousandths of a minute; each counts as
// one when the shop gives none.
func (b *builder) weights() (tool, side, lift int64, given bool) {
	c := b.in.Shop.Changes
	if c == nil {
		return 1000, 1000, 1000, false
	}
	return milli(float64(c.Tool)), milli(float64(c.Side)), milli(float64(c.Lift)), true
}

// arrange puts parts into the order with the least changes of tool, side and
// lift in which each is ready when its turn comes. Setting up for the first part
// is no change.
func (b *builder) arrange(ids []body.PartID, ready func(i int, done set) bool) (sequenced, Changes) {
	wt, ws, wl, given := b.weights()
	states, index := []station{{}}, map[station]int{{}: 0}
	change := func(was, want string, w int64) (string, int64) {
		switch {
		case want == "" || want == was:
			return was, 0
		case was == "":
			return want, 0
		}
		return want, w
	}
	stations := make([]station, len(ids))
	for i, id := range ids {
		stations[i] = stationOf(b.part(id))
	}
	type way struct {
		cost int64
		to   int // state and 1; 0: not gone yet
	}
	var gone [][]way // by state and part
	move := func(state, i int) (int64, int) {
		for len(gone) <= state {
			gone = append(gone, make([]way, len(ids)))
		}
		if g := gone[state][i]; g.to > 0 {
			return g.cost, g.to - 1
		}
		s, p := states[state], stations[i]
		var a, c, d int64
		s.tool, a = change(s.tool, p.tool, wt)
		s.side, c = change(s.side, p.side, ws)
		s.lift, d = change(s.lift, p.lift, wl)
		k, ok := index[s]
		if !ok {
			k = len(states)
			index[s] = k
			states = append(states, s)
		}
		gone[state][i] = way{a + c + d, k + 1}
		return a + c + d, k
	}
	q := sequencing{work: b.in.Work, n: len(ids), ready: ready, move: move, calm: true, limit: sequenceLimit}
	q.least = b.leastChanges(ids)
	r := q.solve()
	c := Changes{Minutes: float64(r.cost) / 1000, Least: float64(r.bound) / 1000, Proven: r.proven, Counted: given}
	if !given {
		c.Minutes, c.Least = 0, 0
	}
	for _, words := range b.changes(ids, r.order) {
		for k, n := range []*int{&c.Tool, &c.Side, &c.Lift} {
			if words[k] != "" {
				*n++
			}
		}
	}
	return r, c
}

// sequenceLimit is the number of states the search for an order looks at before
// it is narrowed.
const sequenceLimit = 60000

// leastChanges is what no order of parts changes less than, in the weights of changes: each
// different tool, side and height but the first is changed to once.
func (b *builder) leastChanges(ids []body.PartID) int64 {
	wt, ws, wl, _ := b.weights()
	least := int64(0)
	for k, w := range []int64{wt, ws, wl} {
		least += w * int64(max(0, b.distinct(ids, k)-1))
	}
	return least
}

// distinct is how many different tools (0), sides (1) or heights (2) are needed.
func (b *builder) distinct(ids []body.PartID, k int) int {
	seen := map[string]struct{}{}
	for _, id := range ids {
		s := stationOf(b.part(id))
		if w := [3]string{s.tool, s.side, s.lift}[k]; w != "" {
			seen[w] = struct{}{}
		}
	}
	return len(seen)
}

// changes is by place in the order what has to be changed before that part: tool,
// side and lift, each empty when nothing.
func (b *builder) changes(ids []body.PartID, order []int) [][3]string {
	var now station
	out := make([][3]string, len(order))
	for k, i := range order {
		s := stationOf(b.part(ids[i]))
		for f, x := range []struct {
			now  *string
			want string
		}{{&now.tool, s.tool}, {&now.side, s.side}, {&now.lift, s.lift}} {
			if x.want == "" || x.want == *x.now {
				continue
			}
			if *x.now != "" {
				out[k][f] = x.want
			}
			*x.now = x.want
		}
	}
	return out
}

// changeWords says what is changed: "lift half, tool ratchet".
func changeWords(c [3]string) string {
	var out []string
	for _, k := range []int{2, 1, 0} {
		if c[k] != "" {
			out = append(out, fmt.Sprintf("%s %s", [3]string{"tool:", "side:", "lift:"}[k], c[k]))
		}
	}
	return strings.Join(out, ", ")
}
