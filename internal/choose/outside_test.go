//go:build outside

package choose

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// program is a selection as an integer program in CPLEX LP form.
func (s *Selection) program() string {
	sum := func(list []int, times func(j int) string) string {
		var out []string
		for _, j := range list {
			out = append(out, times(j)+"x"+strconv.Itoa(j))
		}
		return strings.Join(out, "\n + ")
	}
	once := func(int) string { return "" }
	all := make([]int, len(s.Cost))
	for j := range all {
		all[j] = j
	}
	var rows []string
	for _, r := range s.Cover {
		rows = append(rows, sum(r, once)+" >= 1")
	}
	for _, e := range s.Apart {
		rows = append(rows, sum(e[:], once)+" <= 1")
	}
	for _, n := range s.Needs {
		rows = append(rows, fmt.Sprintf("%s - x%d >= 0", sum(n.oneOf, once), n.who))
	}
	out := "Minimize\n obj: " + sum(all, func(j int) string { return fmt.Sprint(s.Cost[j], " ") }) + "\nSubject To\n"
	for i, r := range rows {
		out += fmt.Sprintf(" r%d: %s\n", i, r)
	}
	return out + "Binary\n " + strings.ReplaceAll(sum(all, once), "+", "") + "\nEnd\n"
}

// solve has a solver find the least cost.
func (s *Selection) solve(t *testing.T, solver string) int64 {
	t.Helper()
	dir := t.TempDir()
	file, out := filepath.Join(dir, "p.lp"), filepath.Join(dir, "p.out")
	if err := os.WriteFile(file, []byte(s.program()), 0o644); err != nil {
		t.Fatal(err)
	}
	args, form := []string{"--lp", file, "-o", out}, regexp.MustCompile(`Objective:\s+obj = ([0-9.e+]+)`)
	if solver == "cbc" {
		args, form = []string{file, "ratio", "0", "solve", "solution", out, "quit"}, regexp.MustCompile(`objective value\s+([0-9.e+]+)`)
	}
	if msg, err := exec.Command(solver, args...).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, msg)
	}
	text, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	m := form.FindSubmatch(text)
	if m == nil {
		t.Fatalf("%s says nothing:\n%s", solver, text)
	}
	v, err := strconv.ParseFloat(string(m[1]), 64)
	if err != nil {
		t.Fatal(err)
	}
	return int64(v + 0.5)
}

// spent is the processor time of this process, or of its children.
func spent(t *testing.T, who int) time.Duration {
	t.Helper()
	var r syscall.Rusage
	if err := syscall.Getrusage(who, &r); err != nil {
		t.Fatal(err)
	}
	return time.Duration(r.Utime.Nano() + r.Stime.Nano())
}

// TestOutsideSelections: the small questions and one large one against GLPK and CBC,
// all ten with FETTLE_DRAWS or FETTLE_MEDIANS; GLPK is asked the small ones only, as
// it takes minutes for the others. Processor times are told and
// not judged: of one run of each, or with FETTLE_MEDIANS the medians of five.
func TestOutsideSelections(t *testing.T) {
	runs, questions := 1, strategies[:draws(6, len(strategies))]
	if os.Getenv("FETTLE_MEDIANS") != "" {
		runs, questions = 5, strategies
	}
	median := func(f func() time.Duration) time.Duration {
		var all []time.Duration
		for range runs {
			all = append(all, f())
		}
		slices.Sort(all)
		return all[runs/2]
	}
	var own, other []time.Duration
	for _, x := range questions {
		s := strategy(x.rows, x.options, x.seed)
		var r Selected
		a := median(func() time.Duration {
			before := spent(t, syscall.RUSAGE_SELF)
			r = s.Choose(2000)
			return spent(t, syscall.RUSAGE_SELF) - before
		})
		solvers := []string{"cbc"}
		if x.rows == 40 {
			solvers = append(solvers, "glpsol")
		}
		var b time.Duration
		for k, solver := range solvers {
			var want int64
			run := func() time.Duration {
				before := spent(t, syscall.RUSAGE_CHILDREN)
				want = s.solve(t, solver)
				return spent(t, syscall.RUSAGE_CHILDREN) - before
			}
			if k == 0 {
				b = median(run)
			} else {
				b = max(b, run())
			}
			if !r.Proven || r.Cost != want || want != x.least {
				t.Errorf("%dx%d, seed %d: %d, proven %t; %s finds %d", x.rows, x.options, x.seed, r.Cost, r.Proven, solver, want)
			}
		}
		t.Logf("%3d rows, %3d options, seed %d: least %6d.%d, %3d nodes, %6.3f s; cbc %6.3f s", x.rows, x.options, x.seed, r.Cost/10, r.Cost%10, r.nodes, a.Seconds(), b.Seconds())
		if x.rows == 200 {
			own, other = append(own, a), append(other, b)
		}
	}
	slices.Sort(own)
	slices.Sort(other)
	t.Logf("median of the %d large ones: %.3f s; cbc %.3f s", len(own), own[len(own)/2].Seconds(), other[len(own)/2].Seconds())
}
