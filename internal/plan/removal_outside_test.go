//go:build outside

package plan

import (
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// removalProgram is the question as an integer program in CPLEX LP form, written from
// its words alone: x a part is off, o its place in the order, a an alternative that is
// off before, z a joint that is open, l a part that is lost, t a task.
func removalProgram(r *removal) string {
	n := len(r.ids)
	var rows []string
	cost := map[string]int64{}
	var names []string
	use := func(name string, c int64) string {
		if _, ok := cost[name]; !ok {
			names = append(names, name)
		}
		cost[name] += c
		return name
	}
	row := func(format string, args ...any) {
		rows = append(rows, fmt.Sprintf(" r%d: "+format, append([]any{len(rows)}, args...)...))
	}
	for i := range n {
		use(fmt.Sprintf("x%d", i), r.partCost[i])
		use(fmt.Sprintf("l%d", i), r.lossCost[i])
		if r.oneTime.has(i) {
			row("l%d - x%d >= 0", i, i)
		}
		if r.targets.has(i) {
			row("x%d >= 1", i)
		}
		for k, c := range r.taskCost {
			if r.tasks != nil && r.tasks[i]>>k&1 == 1 {
				use(fmt.Sprintf("t%d", k), 0)
				cost[fmt.Sprintf("t%d", k)] = c
				row("t%d - x%d >= 0", k, i)
			}
		}
	}
	entry := func(who string, part int, e []set, needed string) {
		var alts []string
		for k, alt := range e {
			a := use(fmt.Sprintf("%s_%d", who, k), 0)
			alts = append(alts, a)
			for p := range n {
				if alt.has(p) {
					row("x%d - %s >= 0", p, a)
					if part >= 0 {
						row("o%d - o%d - %d %s >= %d", part, p, n+1, a, -n)
					}
				}
			}
		}
		row("%s%s", strings.Join(alts, " + "), needed)
	}
	for i := range n {
		for e, alts := range r.entries[i] {
			entry(fmt.Sprintf("a%d_%d", i, e), i, alts, fmt.Sprintf(" - x%d >= 0", i))
		}
	}
	for g, alts := range r.goals {
		entry(fmt.Sprintf("g%d", g), -1, alts, " >= 1")
	}
	for j, x := range r.joints {
		z, w := use(fmt.Sprintf("z%d", j), x.cost), use(fmt.Sprintf("w%d", j), x.fresh)
		for i := range n {
			if x.layers.has(i) {
				row("%s - x%d >= 0", z, i)
				row("%s - l%d >= 0", w, i) // a part of it is new
				if r.renewed.has(i) {
					row("%s - x%d >= 0", w, i)
				}
			}
			if x.destroys.has(i) {
				row("x%d - %s >= 0", i, z)
				row("l%d - %s >= 0", i, z)
			}
		}
	}
	var obj, order []string
	for _, name := range names {
		obj = append(obj, fmt.Sprintf("%d %s", cost[name], name))
	}
	for i := range n {
		order = append(order, fmt.Sprintf(" 0 <= o%d <= %d", i, n-1))
		row("o%d >= 0", i)
	}
	return "Minimize\n obj: " + strings.Join(obj, "\n + ") + "\nSubject To\n" + strings.Join(rows, "\n") +
		"\nBounds\n" + strings.Join(order, "\n") + "\nBinary\n " + strings.Join(names, "\n ") + "\nEnd\n"
}

// TestOutsideOpeningGLPKSeeds: the least cost of an opening by itself is the one GLPK
// finds for the integer program, and there is none where GLPK finds none.
func TestOutsideOpeningGLPKSeeds(t *testing.T) {
	dir, solved, none := t.TempDir(), 0, 0
	value := regexp.MustCompile(`Objective:\s+obj = (-?[0-9.e+]+)`)
	for seed := range uint64(240) {
		rng := rand.New(rand.NewPCG(seed, 61))
		r := randomRemoval(rng, 10+rng.IntN(8))
		lp, sol := filepath.Join(dir, "q.lp"), filepath.Join(dir, "q.sol")
		if err := os.WriteFile(lp, []byte(removalProgram(r)), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command("glpsol", "--lp", lp, "-o", sol).CombinedOutput()
		if err != nil {
			t.Fatalf("seed %d: %v\n%s", seed, err, out)
		}
		text, err := os.ReadFile(sol)
		if err != nil {
			t.Fatal(err)
		}
		f := r.solve()
		optimal := strings.Contains(string(text), "INTEGER OPTIMAL")
		if f.ok != optimal || !f.proven {
			t.Errorf("seed %d: found %v, proven %v; GLPK finds a set: %v", seed, f.ok, f.proven, optimal)
			continue
		}
		if !f.ok {
			none++
			continue
		}
		solved++
		want, err := strconv.ParseFloat(value.FindStringSubmatch(string(text))[1], 64)
		if err != nil || float64(f.cost) != want {
			t.Errorf("seed %d: %d, GLPK finds %v (%v)", seed, f.cost, want, err)
		}
	}
	t.Logf("%d solved alike, %d without a set", solved, none)
	if solved < 40 || none == 0 {
		t.Errorf("the instances do not exercise it: %d solved, %d without a set", solved, none)
	}
}
