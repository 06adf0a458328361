//go:build outside

package sched

import (
	"encoding/json"
	"os/exec"
	"strings"
	"testing"
)

// cheapest has SciPy find, by mixed-integer programming, the cheapest whole weeks of
// each activity for every finish from 44 down to 27 weeks; null where there are none.
const cheapest = `
import json, sys
import numpy as np
from scipy.optimize import milp, LinearConstraint, Bounds
p = json.load(sys.stdin)
n = len(p["weeks"])
rows, lower = [], []
for i, after in enumerate(p["after"]):      # variables: weeks bought, then starts
    for j in after:
        r = np.zeros(2 * n)
        r[n + i], r[n + j], r[j] = 1, -1, 1  # start i >= start j + weeks j - bought j
        rows.append(r); lower.append(p["weeks"][j])
out = []
for t in range(44, 26, -1):
    a, b = list(rows), list(lower)
    for j in range(n):
        r = np.zeros(2 * n)
        r[n + j], r[j] = -1, 1
        a.append(r); b.append(p["weeks"][j] - t)
    most = np.array([w - l for w, l in zip(p["weeks"], p["least"])])
    res = milp(np.concatenate([p["week"], np.zeros(n)]), constraints=LinearConstraint(np.array(a), b, np.inf),
               bounds=Bounds(np.zeros(2 * n), np.concatenate([most, np.full(n, 100)])), integrality=np.ones(2 * n))
    out.append(None if res.status != 0 else [int(round(x)) for x in res.x[:n]])
print(json.dumps(out))
`

// TestOutsideTimeCostFrontSciPy: the whole front of "Reliable Construction" (Hillier &
// Lieberman, Introduction to Operations Research; from 33 weeks down the costs are
// those of an integer program): the weeks SciPy buys for each finish cost what the
// table says, the network then takes so long, and none takes 27.
func TestOutsideTimeCostFrontSciPy(t *testing.T) {
	want := []int{4550, 4580, 4610, 4650, 4690, 4740, 4790, 4870, 4950, 5030, 5120, 5220, 5320, 5420, 5520, 5650, 5900}
	p := reliable()
	in := struct {
		Weeks, Least, Week []int
		After              [][]int
	}{}
	for i, a := range p.Activities {
		in.Weeks, in.Least, in.Week = append(in.Weeks, a.Minutes), append(in.Least, crashLeast[i]), append(in.Week, crashWeek[i])
		after := []int{}
		for _, l := range a.After {
			after = append(after, l.Pred)
		}
		in.After = append(in.After, after)
	}
	raw, err := json.Marshal(map[string]any{"weeks": in.Weeks, "least": in.Least, "week": in.Week, "after": in.After})
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("/usr/bin/python3", "-c", cheapest)
	cmd.Stdin = strings.NewReader(string(raw))
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var bought [][]int
	if err := json.Unmarshal(out, &bought); err != nil {
		t.Fatal(err)
	}
	for k, weeks := range bought {
		finish := 44 - k
		if (weeks == nil) != (finish == 27) {
			t.Errorf("%d weeks: %v", finish, weeks)
		}
		if weeks == nil {
			continue
		}
		q, cost := reliable(), 4550
		for i := range q.Activities {
			q.Activities[i].Minutes -= weeks[i]
			cost += weeks[i] * crashWeek[i]
		}
		path, err := CriticalPath(q)
		if err != nil || path.Finish != finish || cost != want[k] {
			t.Errorf("%d weeks: the network takes %d and costs %d, want %d (%v)", finish, path.Finish, cost, want[k], err)
		}
	}
}
