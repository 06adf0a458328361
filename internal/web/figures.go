package web

import (
	"bufio"
	"fmt"
	"io"
	"maps"
	"net/http"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"
)

// Figures are what a server counts, written as the text format of Prometheus has it (version 0.0.4).
type Figures struct {
	running, conns, panics atomic.Int64

	mu      sync.Mutex
	routes  map[routeKey]*timed
	refuses map[string]int64
	more    []func(io.Writer)
}

// routeKey is what requests are counted by: the route as it is declared, so that there are no more than routes.
type routeKey struct {
	method, route string
	class         int
}

type timed struct {
	below []int64
	n     int64
	sum   float64
}

// bounds of times, in seconds.
var bounds = []float64{0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10}

func newFigures() *Figures {
	return &Figures{routes: map[routeKey]*timed{}, refuses: map[string]int64{}}
}

func (f *Figures) began() { f.running.Add(1) }

func (f *Figures) ended(method, route string, status int, took time.Duration) {
	f.running.Add(-1)
	f.mu.Lock()
	defer f.mu.Unlock()
	k := routeKey{methodOf(method), route, status / 100}
	t := f.routes[k]
	if t == nil {
		t = &timed{below: make([]int64, len(bounds))}
		f.routes[k] = t
	}
	t.n++
	t.sum += took.Seconds()
	for i, b := range bounds {
		if took.Seconds() <= b {
			t.below[i]++
		}
	}
}

func (f *Figures) refused(why string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.refuses[why]++
}

// Add has more figures written behind those of the server.
func (f *Figures) Add(write func(io.Writer)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.more = append(f.more, write)
}

// Gauge writes a figure that goes up and down.
func Gauge(w io.Writer, name, help string, value float64) { figure(w, "gauge", name, help, value) }

// Counter writes a figure that only grows.
func Counter(w io.Writer, name, help string, value float64) { figure(w, "counter", name, help, value) }

func figure(w io.Writer, kind, name, help string, value float64) {
	fmt.Fprintf(w, "# HELP %s %s\n# TYPE %s %s\n%s %s\n", name, help, name, kind, name, number(value))
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

var labelText = strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`)

// ServeHTTP writes all figures.
func (f *Figures) ServeHTTP(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "text/plain; version=0.0.4; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	out := bufio.NewWriter(w)
	f.write(out)
	_ = out.Flush() // whoever asked has left
}

func (f *Figures) write(w io.Writer) {
	Gauge(w, "fettle_requests_running", "Requests that are being answered.", float64(f.running.Load()))
	Gauge(w, "fettle_connections", "Connections that are open.", float64(f.conns.Load()))
	Counter(w, "fettle_faults_total", "Requests that met a fault of the program.", float64(f.panics.Load()))
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	Gauge(w, "go_goroutines", "Goroutines.", float64(runtime.NumGoroutine()))
	Gauge(w, "go_memstats_heap_inuse_bytes", "Bytes of the heap in use.", float64(m.HeapInuse))
	Gauge(w, "go_memstats_sys_bytes", "Bytes that were taken from the system.", float64(m.Sys))
	f.mu.Lock()
	defer f.mu.Unlock()
	fmt.Fprint(w, "# HELP fettle_requests_refused_total Requests that were too much.\n# TYPE fettle_requests_refused_total counter\n")
	for _, why := range slices.Sorted(maps.Keys(f.refuses)) {
		fmt.Fprintf(w, "fettle_requests_refused_total{code=\"%s\"} %d\n", labelText.Replace(why), f.refuses[why])
	}
	f.writeTimes(w)
	for _, more := range f.more {
		more(w)
	}
}

func (f *Figures) writeTimes(w io.Writer) {
	const name = "fettle_request_seconds"
	fmt.Fprintf(w, "# HELP %s How long requests took.\n# TYPE %s histogram\n", name, name)
	keys := slices.SortedFunc(maps.Keys(f.routes), func(a, b routeKey) int {
		return strings.Compare(a.labels(), b.labels())
	})
	for _, k := range keys {
		t := f.routes[k]
		for i, b := range bounds {
			fmt.Fprintf(w, "%s_bucket{%s,le=\"%s\"} %d\n", name, k.labels(), number(b), t.below[i])
		}
		fmt.Fprintf(w, "%s_bucket{%s,le=\"+Inf\"} %d\n%s_sum{%s} %s\n%s_count{%s} %d\n", name, k.labels(), t.n, name, k.labels(), number(t.sum), name, k.labels(), t.n)
	}
}

func (k routeKey) labels() string {
	return fmt.Sprintf(`method="%s",route="%s",status="%dxx"`, k.method, labelText.Replace(k.route), k.class)
}
