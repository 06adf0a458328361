//go:build linux

package load

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"fettle/internal/web/api"
)

// besiege is a way to have a server do nothing for others. It lasts until the context ends, and says what came of it.
type besiege struct {
	name string
	how  func(ctx context.Context, g *group, n int) string
	n    int // as many in the cut
	all  int
}

// dialled is a connection from one of some hundred addresses of this machine: a server takes only so many from one.
func dialled(ctx context.Context, address string, i int) (net.Conn, error) {
	d := &net.Dialer{Timeout: 10 * time.Second, LocalAddr: &net.TCPAddr{IP: net.IPv4(127, 9, byte(i/100%100), byte(1+i%100))}}
	return d.DialContext(ctx, "tcp", address)
}

// each does something so many times at once, until the context ends.
func each(ctx context.Context, n int, do func(i int)) {
	var all sync.WaitGroup
	for i := range n {
		all.Go(func() { do(i) })
	}
	all.Wait()
	<-ctx.Done()
}

// trickles begins a request again and again, and goes on with a byte now and then.
func trickles(begin, more string) func(context.Context, *group, int) string {
	return func(ctx context.Context, g *group, n int) string {
		var begun, ended atomic.Int64
		each(ctx, n, func(i int) {
			for ctx.Err() == nil {
				c, err := dialled(ctx, g.servers[0].address, i)
				if err != nil {
					return
				}
				begun.Add(1)
				_, err = io.WriteString(c, begin)
				for ctx.Err() == nil && err == nil {
					select {
					case <-ctx.Done():
					case <-time.After(time.Second):
						_, err = io.WriteString(c, more)
					}
				}
				if err != nil {
					ended.Add(1)
				}
				_ = c.Close() // it is over
			}
		})
		return fmt.Sprintf("%d connections, of which it ended %d", begun.Load(), ended.Load())
	}
}

// asks sends whole requests, one after another from each of n.
func asks(pause time.Duration, make func(g *group, i, k int) *http.Request) func(context.Context, *group, int) string {
	return func(ctx context.Context, g *group, n int) string {
		var mu sync.Mutex
		statuses := map[int]int{}
		each(ctx, n, func(i int) {
			t := &http.Transport{DialContext: func(ctx context.Context, _, address string) (net.Conn, error) { return dialled(ctx, address, i) }}
			defer t.CloseIdleConnections()
			client := &http.Client{Transport: t, Timeout: time.Minute}
			for k := 0; ctx.Err() == nil; k++ {
				got, err := client.Do(make(g, i, k).WithContext(ctx))
				status := 0
				if err == nil {
					status = got.StatusCode
					_, _ = io.Copy(io.Discard, got.Body)
					_ = got.Body.Close() // it was read, or is cut off
				}
				mu.Lock()
				statuses[status]++
				mu.Unlock()
				select {
				case <-ctx.Done():
				case <-time.After(pause):
				}
			}
		})
		return fmt.Sprint("answers ", statuses, " (0: none any more)")
	}
}

func asked(method, to, secret, body string) *http.Request {
	r, err := http.NewRequest(method, to, strings.NewReader(body))
	if err != nil {
		panic(err) // of constants
	}
	if secret != "" {
		r.Header.Set("Authorization", "Bearer "+secret)
	}
	if body != "" {
		r.Header.Set("Content-Type", "application/json")
	}
	return r
}

// listens opens streams, and takes what comes or nothing.
func listens(ctx context.Context, g *group, n int) string {
	var open, refused atomic.Int64
	listen := func(i int) bool {
		c, err := dialled(ctx, g.servers[0].address, i)
		if err != nil {
			return false
		}
		defer c.Close() // it is over
		_, err = fmt.Fprintf(c, "GET %s/stream HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer %s\r\n\r\n", api.Prefix, g.all[2].secret)
		head := make([]byte, 64)
		if err == nil {
			_ = c.SetReadDeadline(time.Now().Add(30 * time.Second))
			_, err = io.ReadFull(c, head)
		}
		if err != nil || !strings.Contains(string(head), " 200 ") {
			return false
		}
		open.Add(1)
		<-ctx.Done()
		return true
	}
	each(ctx, n, func(i int) {
		for ctx.Err() == nil && !listen(i) {
			refused.Add(1)
			select {
			case <-ctx.Done():
			case <-time.After(500 * time.Millisecond):
			}
		}
	})
	return fmt.Sprintf("%d streams are open; %d times one was told to come again", open.Load(), refused.Load())
}

// Attacks, and how many clients each has. The figures of the whole are those of the promise: 1,000 slow clients, 10,000 streams, 100 reports, 500 sign-ins in a second.
var attacks = []besiege{
	{"nothing", func(ctx context.Context, _ *group, _ int) string { <-ctx.Done(); return "" }, 0, 0},
	{"sign-ins, 500 in a second", asks(time.Second/2, func(g *group, i, k int) *http.Request {
		return asked(http.MethodPost, "http://"+g.servers[0].address+api.Prefix+"/session", "", fmt.Sprintf(`{"name":"nobody%d-%d","password":"whatever it is that one says"}`, i, k))
	}), 50, 250},
	{"headers that do not end", trickles("GET / HTTP/1.1\r\nHost: localhost\r\nX: ", "a"), 100, 1000},
	{"bodies that trickle", trickles("POST "+api.Prefix+"/session HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: 60000\r\n\r\n{", " "), 100, 1000},
	{"half-open connections", trickles("", ""), 100, 1000},
	{"streams", listens, 200, 10000},
	{"reports at once", asks(0, func(g *group, i, k int) *http.Request {
		day := time.Now().AddDate(0, 0, (i*31+k)%300).Format(time.DateOnly)
		return asked(http.MethodGet, "http://"+g.servers[0].address+api.Prefix+"/jobs/"+g.shops[0].jobs[i%2]+"/report?on="+day, g.all[2].secret, "")
	}), 10, 100},
	{"routes that are none, as fast as it goes", asks(0, func(g *group, i, k int) *http.Request {
		return asked(http.MethodGet, fmt.Sprintf("http://%s%s/%d/%d", g.servers[0].address, api.Prefix, i, k), "", "")
	}), 20, 200},
}

// TestUnderAttack has people of another shop read and write while others besiege the server, one way after another: a short while with few, or with FETTLE_LOAD half a minute with as many as was promised. All of what
// they send is answered, as the matrix wants it; how long that took and what memory it cost is printed.
func TestUnderAttack(t *testing.T) {
	span, whole := time.Second/2, os.Getenv("FETTLE_LOAD") != ""
	if whole {
		span = 30 * time.Second
	}
	g := newGroup(t, size{shops: 2, jobs: 40, worked: 4, servers: 1, thinks: 200 * time.Millisecond})
	if err := g.startAll(); err != nil {
		t.Fatal(err)
	}
	for _, a := range attacks {
		g.tally = newTally()
		ctx, stop := context.WithTimeout(t.Context(), span)
		said := make(chan string, 1)
		n := a.n
		if whole {
			n = a.all
		}
		go func() { said <- a.how(ctx, g, n) }()
		var all sync.WaitGroup
		faults := make([]error, 5)
		for i, p := range g.all[5:] { // of the second shop
			all.Go(func() { faults[i] = g.works(ctx, i, p) })
		}
		all.Wait()
		stop()
		came := <-said
		u, err := g.servers[0].used()
		if err := errors.Join(err, errors.Join(faults...), g.tally.found()); err != nil {
			t.Errorf("%s: %v", a.name, err)
		}
		t.Logf("%s (%d clients): %s; %s; %d MB, %d at most so far", a.name, n, came, g.tally.others(), u.rss>>20, u.peak>>20)
	}
	if text, err := os.ReadFile(g.servers[0].log.Name()); err != nil || strings.Contains(string(text), "fault of the program") {
		t.Errorf("the program failed: %v", err)
	}
}
