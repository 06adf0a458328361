package web

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// many is how often something is tried: few times, or as the environment says.
func many(t *testing.T, name string, few int) int {
	t.Helper()
	n, err := strconv.Atoi(os.Getenv(name))
	if err != nil || n <= 0 {
		return few
	}
	return n
}

// Stopped under load a server cuts nothing off: every request that a handler has begun on is answered whole, it says that it is not ready
// before it takes no more, and it ends within its time.
func TestStopFinishesWhatRuns(t *testing.T) {
	stops := many(t, "FETTLE_STOPS", 4)
	var requests, slowest = 0, time.Duration(0)
	for n := range stops {
		took, of := stopUnderLoad(t, n)
		requests += of
		slowest = max(slowest, took)
	}
	if requests == 0 {
		t.Fatal("there was no load")
	}
	t.Logf("%d stops, %d requests, 0 cut, the slowest stop %v", stops, requests, slowest.Round(time.Millisecond))
}

// marks is which requests have begun, and which were answered whole.
type marks struct {
	mu           sync.Mutex
	begun, whole map[string]bool
}

func (m *marks) set(in map[string]bool, id string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	in[id] = true
}

const wholeAnswer = 5000 // bytes, more than one write of the library

func stopUnderLoad(t *testing.T, n int) (time.Duration, int) {
	m := &marks{begun: map[string]bool{}, whole: map[string]bool{}}
	draw := rand.New(rand.NewPCG(uint64(n), 14))
	until := time.Duration(20+draw.IntN(60)) * time.Millisecond
	pages := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		id := r.URL.Query().Get("id")
		m.set(m.begun, id)
		k, _ := strconv.Atoi(id)
		time.Sleep(time.Duration(k%40) * time.Millisecond)
		fmt.Fprint(w, strings.Repeat("x", wholeAnswer))
	})
	var address string
	var stop func() error
	ready := 0
	told := func(is Stage) {
		if is == Stopping {
			ready = readiness(address)
		}
	}
	address, _, stop = running(t, Config{Pages: pages, Stages: told, Limits: Limits{Drain: 100 * time.Millisecond, Stop: 10 * time.Second}})
	var clients sync.WaitGroup
	over := make(chan struct{})
	for c := range 8 {
		clients.Go(func() { ask(address, c, m, over) })
	}
	time.Sleep(until)
	began := time.Now()
	if err := stop(); err != nil {
		t.Error(err)
	}
	took := time.Since(began)
	close(over)
	clients.Wait()
	if ready != http.StatusServiceUnavailable {
		t.Errorf("stopping, it does not say that it is not ready: %d", ready)
	}
	if took > 10*time.Second {
		t.Errorf("it took %v to stop", took)
	}
	for id := range m.begun {
		if !m.whole[id] {
			t.Errorf("stop %d: request %s was cut off", n, id)
		}
	}
	return took, len(m.begun)
}

func readiness(address string) int {
	own := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	a, err := own.Get("http://" + address + "/readyz")
	if err != nil {
		return 0
	}
	_ = a.Body.Close()
	return a.StatusCode
}

// ask asks until the server is gone.
func ask(address string, client int, m *marks, over chan struct{}) {
	own := &http.Client{Transport: &http.Transport{}}
	for k := 0; ; k++ {
		select {
		case <-over:
			return
		default:
		}
		id := fmt.Sprint(client*100000 + k)
		a, err := own.Get("http://" + address + "/?id=" + id)
		if err != nil {
			time.Sleep(time.Millisecond)
			continue
		}
		text, err := io.ReadAll(a.Body)
		if a.Body.Close() == nil && err == nil && len(text) == wholeAnswer {
			m.set(m.whole, id)
		}
	}
}

// A request that does not end keeps no server from its end.
func TestStopDoesNotWaitForEver(t *testing.T) {
	begun, held := make(chan struct{}), make(chan struct{})
	defer close(held)
	address, _, stop := running(t, Config{Pages: http.HandlerFunc(func(http.ResponseWriter, *http.Request) {
		close(begun)
		<-held
	}), Limits: Limits{Drain: 10 * time.Millisecond, Stop: 200 * time.Millisecond}})
	go func() {
		if a, err := http.Get("http://" + address); err == nil {
			_ = a.Body.Close()
		}
	}()
	<-begun
	began := time.Now()
	if err := stop(); err != nil {
		t.Error(err)
	}
	if took := time.Since(began); took > 2*time.Second {
		t.Errorf("it took %v", took)
	}
}

// Not ready is whoever has not begun, stops, or stands on something that cannot be used.
func TestReadyOnlyWhileItServes(t *testing.T) {
	var fault error
	s, err := New(Config{Ready: func(context.Context) error {
		return fault
	}})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		stage Stage
		fault error
		want  int
	}{{Starting, nil, 503}, {Serving, nil, 200}, {Serving, io.ErrUnexpectedEOF, 503}, {Serving, nil, 200}, {Stopping, nil, 503}, {Stopped, nil, 503}} {
		fault = c.fault
		s.become(c.stage)
		if got := asked(t, s, newGet("/readyz")).StatusCode; got != c.want {
			t.Errorf("stage %d, %v: %d, want %d", c.stage, c.fault, got, c.want)
		}
		if got := asked(t, s, newGet("/livez")).StatusCode; got != 200 {
			t.Errorf("stage %d: it does not live: %d", c.stage, got)
		}
	}
}
