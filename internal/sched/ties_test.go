package sched

import (
	"reflect"
	"testing"
)

// By hand: one worker, a job of 10 minutes and one of 5 beside one that has nothing to do. The
// short one goes first, and the long one would be done by 10 if it had the worker to itself.
func TestJobBesideOneWithNothingToDo(t *testing.T) {
	p := Problem{Calendar: always(), Samples: 5, Nodes: 100, Workers: []Worker{{ID: "w", Skills: []string{"s"}}},
		Activities: []Activity{{ID: "a", Minutes: 10, Skill: "s"}, {ID: "b", Minutes: 5, Skill: "s"}}}
	_, ends, err := SolveShared(p, Shared{Of: []int{1, 2}, Due: []int{0, 0, 0}})
	if want := []JobEnd{{Alone: true}, {FinishMin: 15, BoundMin: 10}, {FinishMin: 5, BoundMin: 5, Alone: true}}; err != nil || !reflect.DeepEqual(ends, want) {
		t.Errorf("%+v, %v, want %+v", ends, err, want)
	}
}

// By hand: a chain of 10 and 10 minutes takes 20 though two workers are there, by itself too, and
// another job of 5 has the second of them.
func TestJobOfAChainByItself(t *testing.T) {
	p := Problem{Calendar: always(), Samples: 5, Nodes: 100, Workers: []Worker{{ID: "v", Skills: []string{"s"}}, {ID: "w", Skills: []string{"s"}}},
		Activities: []Activity{{ID: "a", Minutes: 10, Skill: "s"}, {ID: "b", Minutes: 10, Skill: "s"}, {ID: "c", Minutes: 5, Skill: "s"}}, Chains: []Chain{{"k", []int{0, 1}, 0}}}
	_, ends, err := SolveShared(p, Shared{Of: []int{0, 0, 1}, Due: []int{0, 0}})
	if want := []JobEnd{{FinishMin: 20, BoundMin: 20, Alone: true}, {FinishMin: 5, BoundMin: 5, Alone: true}}; err != nil || !reflect.DeepEqual(ends, want) {
		t.Errorf("%+v, %v, want %+v", ends, err, want)
	}
}

// A resource can be exchanged for another where every load that is not a state takes both or
// neither, and both are free at once, or before the time asked about.
func TestResourcesThatCanBeExchanged(t *testing.T) {
	group := func(state bool, which ...int) load {
		l := load{state: state, which: make([]bool, 2)}
		for _, r := range which {
			l.which[r] = true
		}
		return l
	}
	busy := func(until ...int) *board {
		bd := &board{m: &model{p: &Problem{Workers: make([]Worker, len(until))}}}
		for _, u := range until {
			bd.busy = append(bd.busy, []span{{to: u, until: u, hold: none}})
		}
		return bd
	}
	for name, c := range map[string]struct {
		loads []load
		bd    *board
		t     int
		want  bool
	}{
		"nothing asks for them":          {nil, busy(0, 0), 0, true},
		"both in one group":              {[]load{group(false, 0, 1)}, busy(0, 0), 0, true},
		"one in a group of its own":      {[]load{group(false, 0, 1), group(false, 1)}, busy(0, 0), 0, false},
		"a state asks for nobody":        {[]load{group(true, 1)}, busy(0, 0), 0, true},
		"behind a state":                 {[]load{group(true), group(false, 1)}, busy(0, 0), 0, false},
		"free one after the other":       {[]load{group(false, 0, 1)}, busy(3, 5), 3, false},
		"both free by then":              {[]load{group(false, 0, 1)}, busy(3, 5), 5, true},
		"the first is never free again":  {[]load{group(false, 0, 1)}, busy(never, 5), 5, false},
		"the second is never free again": {[]load{group(false, 0, 1)}, busy(5, never), 5, false},
		"neither is free again":          {[]load{group(false, 0, 1)}, busy(never, never), 5, false},
	} {
		if got := (&search{loads: c.loads}).alike(c.bd, 0, 1, c.t); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
}

// By hand: two blocks of 4 and 6 minutes that a load of one resource wants, and a third that waits
// for both to end, the second a minute longer. It begins after all their work, and not before
// minute 0 where nothing comes before it; the other way round they end before it begins.
func TestWorkBeforeAndBehindABlock(t *testing.T) {
	l := load{num: 1, jobs: []job{{block: 0, d: 4, amount: 1}, {block: 1, d: 6, amount: 1}, {block: 2, d: 0, amount: 1}}}
	w := window{early: []int{2, 3, 0}, late: []int{20, 20, 20},
		back: [][]int{{none, none, none}, {none, none, none}, {4, 7, 0}},
		far:  [][]int{{none, none, none}, {none, none, none}, {5, 5, 0}}}
	last := []rank{{by: -3, job: 1}, {by: -2, job: 0}, {by: 0, job: 2}}
	if got := l.before(&w, last, 2, 0); got != 12 { // 2 + 4 + 6, and no lag behind the first one
		t.Errorf("begins at %d", got)
	}
	if got := l.before(&w, last, 0, 0); got != 0 {
		t.Errorf("nothing comes before it: %d", got)
	}
	if got := l.before(&w, nil, 2, 0); got != 0 {
		t.Errorf("of no work: %d", got)
	}
	if got := l.before(&w, last, 2, 13); got != 13 {
		t.Errorf("no sooner than at 13 anyway: %d", got)
	}
	first := []rank{{by: 24, job: 0}, {by: 26, job: 1}}
	if got := l.behind(&w, first, 2, never); got != 11 { // 26 - 4 - 6, and 5 from start to start
		t.Errorf("begins by %d", got)
	}
	if got := l.behind(&w, first, 2, 10); got != 10 {
		t.Errorf("by 10 anyway: %d", got)
	}
	if got := l.behind(&w, first, 0, never); got != never {
		t.Errorf("nothing comes after it: %d", got)
	}
}

// A pair of blocks is settled where one begins no sooner than the other ends by the lags, to the
// minute, whichever of the two it is.
func TestPairsThatLagsOrder(t *testing.T) {
	blocks := []block{{dur: 5}, {dur: 3}}
	arcs := func(k int) []arc { return []arc{{k: k}} }
	for _, c := range []struct {
		ij, ji int
		want   []arc
	}{{5, none, arcs(1)}, {4, none, nil}, {none, 3, arcs(2)}, {none, 2, nil}, {6, none, arcs(1)}, {none, none, nil}} {
		r := &refuter{m: &model{blocks: blocks, head: []int{1, 2}}, t: 20, far: [][]int{{0, c.ij}, {c.ji, 0}}, pairs: []pair{{0, 1, arcs(1), arcs(2)}}}
		w := r.open()
		if w.settled[0] != (c.want != nil) || !reflect.DeepEqual(w.more, c.want) || !reflect.DeepEqual(w.late, []int{15, 17}) || !reflect.DeepEqual(w.early, []int{1, 2}) || w.back[0][1] != c.ji || w.back[1][0] != c.ij {
			t.Errorf("%d and %d: %+v", c.ij, c.ji, w)
		}
	}
}
