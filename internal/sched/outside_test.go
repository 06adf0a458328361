//go:build outside

package sched

import (
	"encoding/json"
	"math/rand/v2"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// longest has networkx find earliest starts: the longest path to each activity
// over edges that weigh the duration of the first and the lag.
const longest = `
import json, sys
import networkx as nx
out = []
for p in json.load(sys.stdin):
    g = nx.DiGraph()
    g.add_nodes_from(range(p["n"] + 1))
    for i, j, w in p["arcs"]:
        if not g.has_edge(i, j) or g[i][j]["weight"] < w:
            g.add_edge(i, j, weight=w)
    early = [0] * (p["n"] + 1)
    for v in nx.topological_sort(g):
        for u, _, w in g.in_edges(v, data="weight"):
            early[v] = max(early[v], early[u] + w)
    assert early[p["n"]] == nx.dag_longest_path_length(g)
    out.append(early)
print(json.dumps(out))
`

// TestOutsideCriticalPathNetworkxSeeds: earliest starts and the finish of 200
// random networks are those networkx finds.
func TestOutsideCriticalPathNetworkxSeeds(t *testing.T) {
	type net struct {
		N    int      `json:"n"`
		Arcs [][3]int `json:"arcs"`
	}
	var nets []net
	var want [][]int
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 31))
		n := 2 + rng.IntN(40)
		p := Problem{Calendar: always()}
		x := net{N: n}
		for i := range n {
			a := Activity{ID: "A", Minutes: rng.IntN(20)}
			for j := range i {
				if rng.IntN(4) == 0 {
					l := Lag{Pred: j, Minutes: rng.IntN(6), From: Edge(rng.IntN(2))}
					a.After = append(a.After, l)
					w := l.Minutes
					if l.From == Finish {
						w += p.Activities[j].Minutes
					}
					x.Arcs = append(x.Arcs, [3]int{j, i, w})
				}
			}
			p.Activities = append(p.Activities, a)
			x.Arcs = append(x.Arcs, [3]int{i, n, a.Minutes})
		}
		path, err := CriticalPath(p)
		if err != nil {
			t.Fatal(err)
		}
		nets = append(nets, x)
		want = append(want, append(path.Earliest, path.Finish))
	}
	in, err := json.Marshal(nets)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("/usr/bin/python3", "-c", longest)
	cmd.Stdin = strings.NewReader(string(in))
	raw, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var got [][]int
	if err := json.Unmarshal(raw, &got); err != nil {
		t.Fatal(err)
	}
	for i := range want {
		if !slices.Equal(got[i], want[i]) {
			t.Errorf("seed %d: %v, networkx finds %v", i, want[i], got[i])
		}
	}
}
