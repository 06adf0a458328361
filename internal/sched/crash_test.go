package sched

import (
	"container/heap"
	"testing"
)

// crashed is the activity list "Reliable Construction" with some weeks bought.
type crashed struct {
	weeks [14]int8 // bought of each activity
	cost  int      // in 1000
}

type byCost []crashed

func (h byCost) Len() int           { return len(h) }
func (h byCost) Less(i, j int) bool { return h[i].cost < h[j].cost }
func (h byCost) Swap(i, j int)      { h[i], h[j] = h[j], h[i] }
func (h *byCost) Push(x any)        { *h = append(*h, x.(crashed)) }
func (h *byCost) Pop() any {
	old := *h
	x := old[len(old)-1]
	*h = old[:len(old)-1]
	return x
}

// Least weeks of each activity, and what one week less costs, in 1000.
var (
	crashLeast = [14]int{1, 2, 7, 4, 3, 3, 4, 6, 5, 6, 3, 3, 1, 3}
	crashWeek  = [14]int{100, 50, 80, 40, 160, 40, 40, 60, 30, 30, 40, 50, 100, 60}
)

// With everything crashed the network takes 28 weeks and costs 6150: no plan takes 27,
// and 250 of it buy nothing (Hillier & Lieberman, as below; TestOutsideTimeCostFrontSciPy).
func TestAllCrashed(t *testing.T) {
	p, cost := reliable(), 4550
	for i := range p.Activities {
		cost += (p.Activities[i].Minutes - crashLeast[i]) * crashWeek[i]
		p.Activities[i].Minutes = crashLeast[i]
	}
	if path, err := CriticalPath(p); err != nil || path.Finish != 28 || cost != 6150 {
		t.Errorf("%d weeks for %d, want 28 for 6150 (%v)", path.Finish, cost, err)
	}
}

// Crash data of "Reliable Construction": Hillier & Lieberman, Introduction to
// Operations Research, project management, time-cost trade-off: least weeks, cost of
// one week, in 1000. Normal cost 4550. The least total for each finish is theirs,
// recomputed by linear programming with SciPy: 44 weeks 4550, 40 weeks 4690.
//
// Cheapest first, one week more of some activity on a longest path: whatever reaches
// a shorter finish has to buy one there, so the first to reach a finish is the
// cheapest.
func TestTimeCostFront(t *testing.T) {
	least, week := crashLeast, crashWeek
	want := map[int]int{44: 4550, 43: 4580, 42: 4610, 41: 4650, 40: 4690, 39: 4740, 38: 4790, 37: 4870, 36: 4950, 35: 5030, 34: 5120}
	p := reliable()
	normal := make([]int, len(p.Activities))
	for i, a := range p.Activities {
		normal[i] = a.Minutes
	}
	open := &byCost{{cost: 4550}}
	seen := map[[14]int8]bool{}
	reached := 45
	for reached > 34 && open.Len() > 0 {
		x := heap.Pop(open).(crashed)
		if seen[x.weeks] {
			continue
		}
		seen[x.weeks] = true
		for i := range p.Activities {
			p.Activities[i].Minutes = normal[i] - int(x.weeks[i])
		}
		path, err := CriticalPath(p)
		if err != nil {
			t.Fatal(err)
		}
		for ; reached > path.Finish; reached-- {
			if x.cost != want[reached-1] {
				t.Errorf("%d weeks for %d, want %d", reached-1, x.cost, want[reached-1])
			}
		}
		for _, i := range longestPath(p, path) {
			if p.Activities[i].Minutes > least[i] {
				y := x
				y.weeks[i]++
				y.cost += week[i]
				heap.Push(open, y)
			}
		}
	}
	t.Logf("%d crashed networks looked at", len(seen))
	if reached > 34 {
		t.Errorf("34 weeks were not reached: %d", reached)
	}
}

// longestPath is one chain of activities that decides the finish.
func longestPath(p Problem, path Path) []int {
	last := -1
	for i, a := range p.Activities {
		if path.Earliest[i]+a.Minutes == path.Finish {
			last = i
		}
	}
	out := []int{last}
	for {
		i, before := out[len(out)-1], -1
		for _, l := range p.Activities[i].After {
			if path.Earliest[l.Pred]+p.Activities[l.Pred].Minutes == path.Earliest[i] {
				before = l.Pred
			}
		}
		if before < 0 {
			return out
		}
		out = append(out, before)
	}
}
