//go:build linux

package load

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// tally is what is counted.
type tally struct {
	mu     sync.Mutex
	took   map[string][]time.Duration // of each kind, from being sent to its answer
	whole  map[string][]time.Duration // and from when it was first sent
	status map[string]map[int]int
	tolds  map[string]map[string]int // what was told of requests that had to be sent again
	judges map[int]int               // answers that were held against the matrix, by what it wants
	beside map[string][]time.Duration
	faults []string
}

func newTally() *tally {
	return &tally{took: map[string][]time.Duration{}, whole: map[string][]time.Duration{}, status: map[string]map[int]int{}, tolds: map[string]map[string]int{}, judges: map[int]int{}, beside: map[string][]time.Duration{}}
}

func (y *tally) answered(kind string, status int, took, whole time.Duration) {
	y.mu.Lock()
	defer y.mu.Unlock()
	y.took[kind] = append(y.took[kind], took)
	y.whole[kind] = append(y.whole[kind], whole)
	if y.status[kind] == nil {
		y.status[kind] = map[int]int{}
	}
	y.status[kind][status]++
}

func (y *tally) told(kind, what string) {
	y.mu.Lock()
	defer y.mu.Unlock()
	if y.tolds[kind] == nil {
		y.tolds[kind] = map[string]int{}
	}
	y.tolds[kind][what]++
}

func (y *tally) judged(want int) {
	y.mu.Lock()
	defer y.mu.Unlock()
	y.judges[want]++
}

// noted is how long something else took.
func (y *tally) noted(what string, d time.Duration) {
	y.mu.Lock()
	defer y.mu.Unlock()
	y.beside[what] = append(y.beside[what], d)
}

// fault notes something that may not be.
func (g *group) fault(form string, args ...any) {
	g.tally.mu.Lock()
	defer g.tally.mu.Unlock()
	g.tally.faults = append(g.tally.faults, fmt.Sprintf(form, args...))
}

// found is what may not be, as an error; nil where nothing is.
func (y *tally) found() error {
	y.mu.Lock()
	defer y.mu.Unlock()
	if len(y.faults) == 0 {
		return nil
	}
	return fmt.Errorf("%d faults: %s", len(y.faults), strings.Join(y.faults[:min(10, len(y.faults))], "\n"))
}

// of is the duration that so many of a hundred took at most.
func of(all []time.Duration, hundredths int) time.Duration {
	s := slices.Sorted(slices.Values(all))
	if len(s) == 0 {
		return 0
	}
	return s[min(len(s)-1, len(s)*hundredths/100)]
}

// others is how long all answers together took, from when each was first asked for.
func (y *tally) others() string {
	y.mu.Lock()
	defer y.mu.Unlock()
	var all []time.Duration
	for _, took := range y.whole {
		all = append(all, took...)
	}
	return fmt.Sprintf("others: %d requests, p50 %v, p99 %v, longest %v", len(all), of(all, 50).Round(time.Millisecond), of(all, 99).Round(time.Millisecond), of(all, 100).Round(time.Millisecond))
}

// sorts are what the limits of docs/server.md are about.
var sorts = map[string][]string{
	"reads":       {"job", "events", "record", "history", "list", "list by name", "find"},
	"appends":     {"change"},
	"assessments": {"assessment"},
}

// printSorts prints reads, appends and assessments, and how many answers there were.
func (y *tally) printSorts(t testing.TB) (answers int) {
	t.Helper()
	y.mu.Lock()
	defer y.mu.Unlock()
	for _, took := range y.took {
		answers += len(took)
	}
	for _, sort := range slices.Sorted(maps.Keys(sorts)) {
		var all []time.Duration
		for _, kind := range sorts[sort] {
			all = append(all, y.took[kind]...)
		}
		t.Logf("%-12s %6d: p50 %v, p99 %v, max %v", sort, len(all), of(all, 50).Round(100*time.Microsecond), of(all, 99).Round(100*time.Microsecond), of(all, 100).Round(100*time.Microsecond))
	}
	return answers
}

func (y *tally) print(t testing.TB) {
	t.Helper()
	y.mu.Lock()
	defer y.mu.Unlock()
	ms := func(d time.Duration) string { return fmt.Sprintf("%.1f", float64(d.Microseconds())/1000) }
	n := 0
	t.Logf("%-20s %8s %8s %8s %9s   %8s %9s  %s", "ms", "requests", "p50", "p99", "max", "p99", "max", "answers; sent again because of")
	for _, kind := range slices.Sorted(maps.Keys(y.took)) {
		a, w := y.took[kind], y.whole[kind]
		n += len(a)
		t.Logf("%-20s %8d %8s %8s %9s   %8s %9s  %v %v", kind, len(a), ms(of(a, 50)), ms(of(a, 99)), ms(of(a, 100)), ms(of(w, 99)), ms(of(w, 100)), y.status[kind], y.tolds[kind])
	}
	t.Logf("%d requests answered; held against the matrix, by what it wants: %v", n, y.judges)
	for _, what := range slices.Sorted(maps.Keys(y.beside)) {
		a := y.beside[what]
		t.Logf("%s: %d times, p50 %s ms, p99 %s ms, max %s ms", what, len(a), ms(of(a, 50)), ms(of(a, 99)), ms(of(a, 100)))
	}
}
