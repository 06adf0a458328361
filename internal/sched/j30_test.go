package sched

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// j30 reads an instance in the form of the repository MiniZinc/minizinc-benchmarks.
func j30(t *testing.T, file string) Problem {
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	field := func(name string) string {
		m := regexp.MustCompile(`(?s)` + name + `\s*=\s*\[(.*?)\];`).FindSubmatch(raw)
		if m == nil {
			t.Fatalf("%s has no %s", file, name)
		}
		return strings.ReplaceAll(string(m[1]), ",", " ")
	}
	p := Problem{Calendar: always(), Seed: 1}
	for k, c := range numbers(field("rc")) {
		p.Pools = append(p.Pools, Pool{string(rune('R' + k)), c})
	}
	for _, d := range numbers(field("\nd")) {
		p.Activities = append(p.Activities, Activity{Minutes: d})
	}
	for k, row := range strings.Split(strings.Trim(strings.TrimSpace(field("rr")), "|"), "|") {
		for i, u := range numbers(row) {
			if u > 0 {
				p.Activities[i].Draws = append(p.Activities[i].Draws, Draw{k, u})
			}
		}
	}
	for i, set := range regexp.MustCompile(`\{([^}]*)\}`).FindAllStringSubmatch(field("suc"), -1) {
		for _, s := range numbers(set[1]) {
			p.Activities[s-1].After = append(p.Activities[s-1].After, Lag{Pred: i})
		}
	}
	return p
}

// BenchmarkJ30 runs every instance of testdata/j30. "%over" is how far the schedules
// are above the published optima on average, each with as many samples as took a tenth
// of a second at most; "proven" is the share proven within two seconds; both of
// computing time.
func BenchmarkJ30(b *testing.B) {
	files, err := filepath.Glob("testdata/j30/*.txt")
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		over, proven, within := 0.0, 0.0, 0.0
		n := float64(len(files))
		for _, f := range files {
			p, optimum := published(b, f)
			p.Nodes = 0
			best := 0
			for p.Samples = 25; p.Samples <= 6400; p.Samples *= 2 {
				s, took := timed(b, p)
				if best == 0 || took <= 100*time.Millisecond {
					best = s.WorkMin
				}
				if took > 100*time.Millisecond {
					break
				}
			}
			over += float64(best-optimum) / float64(optimum) / n
			if float64(best) <= 1.01*float64(optimum) {
				within += 1 / n
			}
			p.Samples, p.Nodes = 450, 100000
			if s, took := timed(b, p); s.Proven && took <= 2*time.Second {
				proven += 1 / n
			}
		}
		b.ReportMetric(n, "instances")
		b.ReportMetric(100*over, "%over")
		b.ReportMetric(100*within, "%within1%")
		b.ReportMetric(100*proven, "%proven")
	}
}

func timed(b *testing.B, p Problem) (Solution, time.Duration) {
	begin := cpu()
	s, err := Solve(p)
	if err != nil {
		b.Fatal(err)
	}
	return s, cpu() - begin
}

var begun = time.Now()

// TestFolderOfJ30 runs a folder of instances when it is given one.
func TestFolderOfJ30(t *testing.T) {
	folder := os.Getenv("FETTLE_J30")
	if folder == "" {
		t.Skip("FETTLE_J30 names no folder; see scripts/bench-sched.sh")
	}
	files, err := filepath.Glob(filepath.Join(folder, "*.dzn"))
	if err != nil || len(files) == 0 {
		t.Fatal("no instance in ", folder, err)
	}
	gap, proven := 0.0, 0
	var quick, long time.Duration
	for _, f := range files {
		p := j30(t, f)
		p.Samples = 450
		begin := time.Now()
		s, err := Solve(p)
		if err != nil {
			t.Fatal(err)
		}
		quick += time.Since(begin)
		p.Nodes = 200000
		begin = time.Now()
		r, err := Solve(p)
		if err != nil {
			t.Fatal(err)
		}
		long += time.Since(begin)
		if err := Verify(p, r); err != nil {
			t.Error(f, err)
		}
		if r.Proven {
			proven++
		}
		gap += float64(s.WorkMin-r.WorkMin) / float64(r.WorkMin)
	}
	n := len(files)
	t.Logf("%d instances: quick schedules %.3f %% longer than those of the search, %v each; %d proven (%.1f %%), %v each", n,
		100*gap/float64(n), quick/time.Duration(n), proven, 100*float64(proven)/float64(n), long/time.Duration(n))
}
