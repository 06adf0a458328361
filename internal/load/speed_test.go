//go:build linux

package load

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// TestSpeed is fifty people at one server among so many thousand jobs, with nothing else on the machine: what is to be held is that it is ready within
// 300 ms, that 99 of a hundred reads are answered within 60 ms and changes within 100 ms, and that it has less than 300 MB with three bodies. Figures are
// told and not held: other programs may keep the machine, so the time of processors that each sort of request costs is told too, one after the other.
func TestSpeed(t *testing.T) {
	text := os.Getenv("FETTLE_LOAD")
	if text == "" {
		t.Skip("FETTLE_LOAD is not set: make load does it")
	}
	thousands, err := strconv.Atoi(text)
	if err != nil {
		t.Fatal(err)
	}
	g := newGroup(t, size{shops: 10, jobs: 1000 * thousands, worked: 20, span: time.Minute, thinks: 2 * time.Second, fine: true, copied: true, servers: 1})
	s := g.servers[0]
	for range 5 {
		s.kill()
		if err := s.start(); err != nil {
			t.Fatal(err)
		}
	}
	g.fifty(g.size.span / 2) // the bodies are made ready meanwhile
	g.tally = newTally()
	before := s.uses(t)
	busy := loadOf(t)
	g.fifty(g.size.span)
	after := s.uses(t)
	t.Logf("the machine had %s to do before and %s after", busy, loadOf(t))
	g.print()
	answers := g.tally.printSorts(t)
	t.Logf("in %v: %v of processors, %v for each of %d answers with what is done in the background", g.size.span, after.cpu-before.cpu, ((after.cpu - before.cpu) / time.Duration(max(1, answers))).Round(10*time.Microsecond), answers)
	g.costs()
}

// fifty has everybody work for a while.
func (g *group) fifty(span time.Duration) {
	g.t.Helper()
	ctx, stop := context.WithTimeout(g.t.Context(), span)
	defer stop()
	faults := make([]error, len(g.all))
	var all sync.WaitGroup
	for n, p := range g.all {
		all.Go(func() { faults[n] = g.works(ctx, n, p) })
	}
	all.Wait()
	if err := errors.Join(errors.Join(faults...), g.tally.found()); err != nil {
		g.t.Error(err)
	}
}

func (s *server) uses(t testing.TB) usage {
	t.Helper()
	u, err := s.used()
	if err != nil {
		t.Fatal(err)
	}
	return u
}

// loadOf is how many programs wanted a processor in the last minute.
func loadOf(t testing.TB) string {
	t.Helper()
	text, err := os.ReadFile("/proc/loadavg")
	if err != nil {
		t.Fatal(err)
	}
	first, _, _ := strings.Cut(string(text), " ")
	return first
}

// costs tells what each sort of request costs that one person sends alone, once the work in the background that is due is done.
func (g *group) costs() {
	t, ctx := g.t, g.t.Context()
	t.Helper()
	p, s := g.reviewer(g.shops[0]), g.servers[0]
	planner := g.shops[0]
	r := rand.New(rand.NewPCG(5, 5))
	var who *person
	for _, x := range g.all {
		if x.shop == planner && x.token != "" && may(x, "change") {
			who = x
		}
	}
	get := func(path string) func(int) error {
		return func(n int) error {
			q := request{kind: "alone", method: http.MethodGet, path: strings.ReplaceAll(path, "JOB", planner.jobs[n%len(planner.jobs)])}
			got, err := g.ask(ctx, p, q)
			if err == nil && got.status != http.StatusOK {
				err = fmt.Errorf("%s: %d: %.200s", q.path, got.status, got.body)
			}
			return err
		}
	}
	for _, x := range []struct {
		what string
		n    int
		do   func(int) error
	}{
		{"job", 400, get("/jobs/JOB")}, {"record", 200, get("/jobs/JOB/record?name=finding/D1")}, {"events", 200, get("/jobs/JOB/events?after=5")}, {"history", 200, get("/jobs/JOB/history")},
		{"list", 200, get("/jobs?most=50")}, {"find", 100, get("/jobs?most=50&text=P-COWL")},
		{"assessment", 20, get("/jobs/JOB/assessment")}, {"assessment again", 100, func(int) error { return get("/jobs/JOB/assessment")(0) }},
		{"change", 100, func(n int) error {
			return g.change(ctx, who, planner, planner.jobs[n%len(planner.jobs)], r.IntN(2), nil)
		}},
	} {
		before, began := s.uses(t), time.Now()
		for n := range x.n {
			if err := x.do(n); err != nil {
				t.Error(err)
				break
			}
		}
		cpu := s.uses(t).cpu - before.cpu
		t.Logf("alone, %-18s %4d: %6.2f ms of processors each, %6.2f ms by the clock", x.what, x.n, float64(cpu.Microseconds())/1000/float64(x.n), float64(time.Since(began).Microseconds())/1000/float64(x.n))
	}
}

// may says that somebody is a technician, who records findings.
func may(p *person, _ string) bool { return p.was[0] == "technician" }
