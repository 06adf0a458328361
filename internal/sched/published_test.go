package sched

import (
	"slices"
	"strings"
	"testing"
)

// always is a calendar on which minutes are plain time units.
func always() Calendar {
	var c Calendar
	for d := range c.Week {
		c.Week[d] = []Window{{0, 1440}}
	}
	return c
}

// reliable is the activity list "Reliable Construction": Hillier & Lieberman,
// Introduction to Operations Research, chapter on project management.
func reliable() Problem {
	rows := []struct {
		id    string
		weeks int
		after string
	}{
		{"A", 2, ""}, {"B", 4, "A"}, {"C", 10, "B"}, {"D", 6, "C"}, {"E", 4, "C"}, {"F", 5, "E"}, {"G", 7, "D"},
		{"H", 9, "EG"}, {"I", 7, "C"}, {"J", 8, "FI"}, {"K", 4, "J"}, {"L", 5, "J"}, {"M", 2, "H"}, {"N", 6, "KL"},
	}
	p := Problem{Calendar: always()}
	for _, r := range rows {
		a := Activity{ID: r.id, Minutes: r.weeks}
		for _, x := range r.after {
			a.After = append(a.After, Lag{Pred: int(x - 'A')})
		}
		p.Activities = append(p.Activities, a)
	}
	return p
}

// Expected: 44 weeks; critical A B C E F J L N; slack D 4, G 4, H 4, I 2, K 1,
// M 4 (Hillier & Lieberman, as above).
func TestCriticalPathReliableConstruction(t *testing.T) {
	p := reliable()
	path, err := CriticalPath(p)
	if err != nil {
		t.Fatal(err)
	}
	if path.Finish != 44 {
		t.Errorf("finish %d, want 44", path.Finish)
	}
	want := map[string]int{"D": 4, "G": 4, "H": 4, "I": 2, "K": 1, "M": 4}
	s, err := Solve(p)
	if err != nil {
		t.Fatal(err)
	}
	if s.FinishMin != 44 || !s.Proven {
		t.Errorf("schedule %d, proven %v; want 44, proven", s.FinishMin, s.Proven)
	}
	for i, a := range p.Activities {
		if path.Slack[i] != want[a.ID] || s.Slots[i].Slack != want[a.ID] {
			t.Errorf("%s: slack %d by the lags and %d in the schedule, want %d", a.ID, path.Slack[i], s.Slots[i].Slack, want[a.ID])
		}
	}
}

// instance reads the table "job duration requirements > successors".
func instance(capacities []int, table string) Problem {
	p := Problem{Calendar: always(), Samples: 200, Nodes: 200000, Seed: 1}
	for i, c := range capacities {
		p.Pools = append(p.Pools, Pool{string(rune('R' + i)), c})
	}
	lines := strings.Split(strings.TrimSpace(table), "\n")
	p.Activities = make([]Activity, len(lines))
	for i, line := range lines {
		left, right, _ := strings.Cut(line, ">")
		f := numbers(left)
		a := &p.Activities[i]
		a.ID, a.Minutes = strings.Fields(left)[0], f[1]
		for k, n := range f[2:] {
			if n > 0 {
				a.Draws = append(a.Draws, Draw{k, n})
			}
		}
		for _, s := range numbers(right) {
			p.Activities[s-1].After = append(p.Activities[s-1].After, Lag{Pred: i})
		}
	}
	return p
}

func numbers(s string) []int {
	var out []int
	for _, f := range strings.Fields(s) {
		n := 0
		for _, c := range f {
			n = 10*n + int(c-'0')
		}
		out = append(out, n)
	}
	return out
}

const pat11 = `
1 0 0 0 > 2
2 2 0 3 > 3 5 6
3 4 1 2 > 4 6
4 2 2 0 > 6 7
5 8 1 0 > 7
6 4 3 0 > 8
7 4 1 2 > 8
8 0 0 0 >`

const pat2 = `
1 0 0 0 0 > 2 3
2 1 2 2 1 > 4 5
3 2 0 2 1 > 6
4 2 3 3 3 > 7
5 3 2 1 3 > 6
6 2 1 1 0 > 7
7 0 0 0 0 >`

// Known optima: Patterson's set (Patterson 1984) pat11 18, pat2 7, pat10 14.
func TestPublishedOptima(t *testing.T) {
	for _, c := range []struct {
		name       string
		capacities []int
		table      string
		want, path int
	}{
		{"pat11", []int{3, 3}, pat11, 18, 14},
		{"pat10", []int{4, 3}, pat11, 14, 14},
		{"pat2", []int{5, 5, 3}, pat2, 7, 6},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := instance(c.capacities, c.table)
			s, err := Solve(p)
			if err != nil {
				t.Fatal(err)
			}
			if err := Verify(p, s); err != nil {
				t.Error(err)
			}
			if s.WorkMin != c.want || s.CriticalMin != c.path || !s.Proven {
				t.Errorf("finish %d by lags %d bound %d proven %v after %d nodes, want %d by lags %d proven",
					s.WorkMin, s.CriticalMin, s.WorkBound, s.Proven, s.Nodes, c.want, c.path)
			}
			t.Logf("%d nodes", s.Nodes)
		})
	}
}

// Constructed: B begins at least 5 after A, and at most 4 after A: the cycle is
// A > B > A. With at most 5 it just fits.
func TestCycleIsNamed(t *testing.T) {
	p := Problem{Calendar: always(), Activities: []Activity{
		{ID: "A", Minutes: 1, After: []Lag{{Pred: 1, Minutes: -4, From: Start}}},
		{ID: "B", Minutes: 1, After: []Lag{{Pred: 0, Minutes: 5, From: Start}}},
		{ID: "C", Minutes: 1},
	}}
	_, err := CriticalPath(p)
	if err == nil || !strings.Contains(err.Error(), "A > B > A") && !strings.Contains(err.Error(), "B > A > B") {
		t.Errorf("the cycle is not named: %v", err)
	}
	p.Activities[0].After[0].Minutes = -5
	path, err := CriticalPath(p)
	if err != nil || !slices.Equal(path.Earliest, []int{0, 5, 0}) {
		t.Errorf("lags that just fit: %v %v", path.Earliest, err)
	}
	knot := Problem{Calendar: always(), Activities: []Activity{
		{ID: "A", Minutes: 1, After: []Lag{{Pred: 1}}}, {ID: "B", Minutes: 1, After: []Lag{{Pred: 0}}}}}
	if _, err := Solve(knot); err == nil || !strings.Contains(err.Error(), "wait for one another for ever") {
		t.Errorf("a knot of two was not found: %v", err)
	}
}
