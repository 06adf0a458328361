package sched

import (
	"slices"
	"strings"
	"testing"
)

// By hand: one job that has activities, among others that have none. One worker does 10 and 5
// minutes of it one after the other; where its place is kept by another job it begins after
// that, and by itself it would not.
func TestOneJobWithActivities(t *testing.T) {
	for _, c := range []struct {
		name     string
		due      int
		keeps    int // the job that keeps the place, from 1
		free     int
		end      JobEnd
		together Together
	}{
		{name: "no promise", end: JobEnd{15, 0, 15, true}, together: Together{0, 0, 15, 15}},
		{name: "kept to the minute", due: 15, end: JobEnd{15, 0, 15, true}, together: Together{0, 0, 15, 15}},
		{name: "a minute late", due: 14, end: JobEnd{15, 1, 15, true}, together: Together{1, 1, 15, 15}},
		{name: "promised for the first minute", due: 1, end: JobEnd{15, 14, 15, true}, together: Together{14, 14, 15, 15}},
		{name: "a place that is free later, whoever has it", free: 40, end: JobEnd{55, 0, 55, true}, together: Together{0, 0, 55, 55}},
		{name: "its own place until then", free: 40, keeps: 2, end: JobEnd{55, 0, 55, true}, together: Together{0, 0, 55, 55}},
		{name: "the place of another job until then", free: 40, keeps: 1, due: 50, end: JobEnd{55, 5, 15, false}, together: Together{5, 5, 55, 55}},
		{name: "the place of another job that is free", keeps: 1, end: JobEnd{15, 0, 15, true}, together: Together{0, 0, 15, 15}},
	} {
		p := Problem{Calendar: always(), Samples: 5, Nodes: 100, Workers: []Worker{{ID: "w", Skills: []string{"s"}}}, Places: []Place{{ID: "P", Kind: "x", Free: c.free}},
			Activities: []Activity{{ID: "a", Minutes: 10, Skill: "s", Place: "x"}, {ID: "b", Minutes: 5, Skill: "s", Place: "x"}}}
		sol, ends, err := SolveShared(p, Shared{Of: []int{1, 1}, Due: []int{3, c.due, 7}, Keeps: []int{c.keeps}})
		if err != nil || len(ends) != 3 || ends[0] != (JobEnd{}) || ends[1] != c.end || ends[2] != (JobEnd{}) || sol.Together != c.together || !sol.Proven {
			t.Errorf("%s: %+v, %+v, proven %v, %v, want %+v, %+v", c.name, ends, sol.Together, sol.Proven, err, c.end, c.together)
		}
	}
	if sol, ends, err := SolveShared(Problem{Calendar: always()}, Shared{Due: []int{5, 0}}); err != nil || len(sol.Slots) != 0 || !slices.Equal(ends, []JobEnd{{Alone: true}, {Alone: true}}) {
		t.Errorf("no activities: %+v, %+v, %v", sol, ends, err)
	}
}

// By hand: several jobs of which there is no schedule are refused, and for the reason there is
// none; those that have one are not.
func TestJobsWithoutASchedule(t *testing.T) {
	for _, c := range []struct {
		name, told string
		change     func(p *Problem, s *Shared, n int)
	}{
		{"a problem without meaning", "minute -1 is out of range", func(p *Problem, s *Shared, n int) { p.Start = -n }},
		{"a problem of one job without meaning", "minute -1 is out of range", func(p *Problem, s *Shared, n int) { p.Start, s.Of = -n, []int{1, 1, 1, 1} }},
		{"a job that waits for itself", "wait for one another for ever", func(p *Problem, s *Shared, n int) {
			p.Activities[0].After = []Lag{{Pred: 1}}
			p.Activities[1].After = []Lag{{Pred: 0}}[:n]
		}},
		{"one job that waits for itself", "wait for one another for ever", func(p *Problem, s *Shared, n int) {
			s.Of = []int{1, 1, 1, 1}
			p.Activities[0].After = []Lag{{Pred: 1}}
			p.Activities[1].After = []Lag{{Pred: 0}}[:n]
		}},
		{"a job that has no place for good", "keeps a place", func(p *Problem, s *Shared, n int) {
			p.Places[0].Away = []Away{{0, 0}, {40, 50}}[1-n:]
		}},
		{"a place that another job keeps for good", "keeps a place", func(p *Problem, s *Shared, n int) {
			p.Places[0].Away, s.Keeps = []Away{{0, 0}}[:n], []int{1}
			p.Activities[0].Place = ""
		}},
		{"one job, and a place that another one keeps for good", "keeps a place", func(p *Problem, s *Shared, n int) {
			p.Places[0].Away, s.Of, s.Keeps = []Away{{0, 0}}[:n], []int{1, 1, 1, 1}, []int{1}
		}},
	} {
		for n := range 2 {
			p := Problem{Calendar: always(), Samples: 5, Nodes: 100, Places: []Place{{ID: "P", Kind: "x"}},
				Activities: []Activity{{ID: "a", Minutes: 1, Place: "x"}, {ID: "b", Minutes: 1}, {ID: "c", Minutes: 1, Place: "x"}, {ID: "d", Minutes: 1}}}
			s := Shared{Of: []int{0, 0, 1, 1}, Due: []int{0, 0}}
			c.change(&p, &s, n)
			sol, _, err := SolveShared(p, s)
			if (err != nil) != (n == 1) || n == 1 && !strings.Contains(err.Error(), c.told) {
				t.Errorf("%s, %d: %v, want %q", c.name, n, err, c.told)
			}
			if n == 0 && err == nil {
				if err := Verify(p, sol); err != nil {
					t.Errorf("%s: %v", c.name, err)
				}
			}
		}
	}
}

// By definition: up to five jobs stand in every order, more of them in that of the promises,
// those without one last, and with every two neighbours of it changed over.
func TestOrdersOfJobs(t *testing.T) {
	x := &sharing{s: Shared{Due: []int{0, 7, 7, 9, 0}}}
	seen := map[string]bool{}
	for _, place := range x.orders() {
		sorted := slices.Sorted(slices.Values(place))
		if !slices.Equal(sorted, []int{0, 1, 2, 3, 4}) {
			t.Fatalf("%v is no order", place)
		}
		seen[string([]byte{byte(place[0]), byte(place[1]), byte(place[2]), byte(place[3]), byte(place[4])})] = true
	}
	if len(seen) != 120 {
		t.Errorf("%d orders of five jobs, of 120", len(seen))
	}
	x.s.Due = []int{0, 7, 7, 9, 0, 8} // in the order 1, 2, 5, 3, 0, 4
	want := [][]int{{4, 0, 1, 3, 5, 2}, {4, 1, 0, 3, 5, 2}, {4, 0, 2, 3, 5, 1}, {4, 0, 1, 2, 5, 3}, {3, 0, 1, 4, 5, 2}, {5, 0, 1, 3, 4, 2}}
	if got := x.orders(); !slices.EqualFunc(got, want, slices.Equal) {
		t.Errorf("%v, want %v", got, want)
	}
}

// By definition: of up to six jobs every set of two and more is weighed, of more each pair and
// all together.
func TestSetsOfJobs(t *testing.T) {
	for n := range 9 {
		all := make([]int, n)
		for k := range all {
			all[k] = 10 + k
		}
		seen, sizes := map[string]bool{}, map[int]int{}
		for _, set := range sets(all) {
			key := ""
			for _, k := range all {
				if slices.Contains(set, k) {
					key += string(rune('a' + k))
				}
			}
			if len(key) != len(set) {
				t.Errorf("of %d jobs: the set %v", n, set)
			}
			seen[key] = true
			sizes[len(set)]++
		}
		pairs := n * (n - 1) / 2
		want := 1<<n - 1 - n
		if n > 6 {
			want = pairs + 1
		}
		if len(seen) != want || sizes[2] != pairs || n > 2 && sizes[n] != 1 {
			t.Errorf("of %d jobs %d sets, want %d: by size %v", n, len(seen), want, sizes)
		}
	}
}
