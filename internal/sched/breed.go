package sched

import (
	"math/rand/v2"
	"slices"
	"sort"
)

// Effort of breeding: how many schedules are kept to breed from, and how often
// two neighbours of an order change places.
const (
	herd   = 16
	mutate = 0.05
)

// bred is an order of the blocks with what came of it and what that is worth: the
// smaller the better, the first figure before the second.
type bred struct {
	order []int
	bd    *board
	worth [3]int
}

func (b bred) better(c bred) bool { return slices.Compare(b.worth[:], c.worth[:]) < 0 }

// heuristic is the best schedule of the priority rule, of biased samples, and of
// orders bred from the best of those: a child takes the first part of its order
// from one parent, the middle as the other has it, the rest from the first again,
// so that no lag is turned round.
//
// Source: Hartmann 1998 (two-point crossover of activity lists), Kolisch &
// Hartmann 2006.
func (m *model) heuristic(bound int) *board {
	prio := m.latestFinish()
	rng := rand.New(rand.NewPCG(m.p.Seed, 0x5ced))
	var best *board
	var kept []bred
	take := func(next *board) {
		if next == nil {
			return
		}
		kept = keep(kept, m.ordered(next))
		if best == nil || next.end < best.end {
			best, next = next, best
		}
		m.drop(next) // of those kept only the orders are looked at
	}
	take(m.improve(m.serial(byPriority(prio), nil)))
	set := len(m.p.States) > 0
	if set {
		take(m.improve(m.soon(prio)))
	}
	first := max(m.p.Samples/3, min(m.p.Samples, herd/2))
	for k := range max(m.p.Samples, m.tries(best)) {
		if best != nil && best.end <= bound {
			break
		}
		switch {
		case set && k%2 == 1 && (k < first || len(kept) < 2):
			take(m.improve(m.soon(shaken(prio, rng))))
		case k < first || len(kept) < 2:
			take(m.improve(m.serial(biased(prio, rng), nil)))
		case set && k%3 == 0:
			take(m.improve(m.soon(m.child(kept, rng))))
		default:
			take(m.improve(m.serial(byPriority(m.child(kept, rng)), nil)))
		}
	}
	return best
}

// shaken is a priority rule with each figure off by up to a fifth of their range.
func shaken(prio []int, rng *rand.Rand) []int {
	out := slices.Clone(prio)
	reach := (slices.Max(prio)-slices.Min(prio))/5 + 1
	for i := range out {
		out[i] += rng.IntN(2*reach) - reach
	}
	return out
}

// tries is how many schedules are drawn at least: some, where the plain rule has found
// none.
func (m *model) tries(best *board) int {
	if best == nil {
		return 4 * herd
	}
	return 0
}

// ordered is a schedule with the order of its starts.
func (m *model) ordered(bd *board) bred {
	place := make([]int, len(m.blocks))
	for k, i := range m.order {
		place[i] = k
	}
	order := slices.Clone(m.order)
	sort.SliceStable(order, func(a, b int) bool {
		x, y := order[a], order[b]
		if bd.start[x] != bd.start[y] {
			return bd.start[x] < bd.start[y]
		}
		return place[x] < place[y]
	})
	return bred{order, bd, [3]int{bd.end}}
}

// keep adds one to those kept, the best first, each order once.
func keep(kept []bred, b bred) []bred {
	at := sort.Search(len(kept), func(i int) bool { return b.better(kept[i]) })
	for _, k := range kept[:at] {
		if k.worth == b.worth && slices.Equal(k.order, b.order) {
			return kept
		}
	}
	kept = slices.Insert(kept, at, b)
	return kept[:min(len(kept), herd)]
}

// child is the rank of each block in an order bred from two of those kept.
func (m *model) child(kept []bred, rng *rand.Rand) []int {
	a := rng.IntN(len(kept))
	b := rng.IntN(len(kept) - 1)
	if b >= a {
		b++
	}
	n := len(m.blocks)
	from, to := rng.IntN(n+1), rng.IntN(n+1)
	from, to = min(from, to), max(from, to)
	order, taken := make([]int, 0, n), make([]bool, n)
	take := func(list []int, until int) {
		for _, i := range list {
			if len(order) == until {
				return
			}
			if !taken[i] {
				taken[i] = true
				order = append(order, i)
			}
		}
	}
	take(kept[a].order, from)
	take(kept[b].order, to)
	take(kept[a].order, n)
	for k := 1; k < n; k++ {
		if rng.Float64() < mutate {
			order[k-1], order[k] = order[k], order[k-1]
		}
	}
	rank := make([]int, n)
	for k, i := range order {
		rank[i] = k
	}
	return rank
}
