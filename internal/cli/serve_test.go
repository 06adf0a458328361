package cli

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/right"
	"fettle/internal/store/datafolder"
	"fettle/internal/store/postgrestest"
	"fettle/internal/store/storetest"
)

// shared is a buffer that several write and read.
type shared struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *shared) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *shared) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// aTerminal among the variables has a person sit at it.
const aTerminal = "a terminal"

// servedBy runs a command that serves, until stop is called; said is what it printed once it serves.
func servedBy(t *testing.T, vars map[string]string, args ...string) (said string, log *shared, stop func() int) {
	t.Helper()
	return servedWhen(t, time.Now, vars, args...)
}

// servedWhen is servedBy by another clock.
func servedWhen(t *testing.T, now func() time.Time, vars map[string]string, args ...string) (said string, log *shared, stop func() int) {
	t.Helper()
	ctx, end := context.WithCancel(t.Context())
	out, log := &shared{}, &shared{}
	code := make(chan int, 1)
	go func() {
		code <- Run(args, Env{Stdout: out, Stderr: log, Now: now, Version: "test", Bodies: &bodies, Stop: ctx, Person: "p-31", Terminal: vars[aTerminal] != "",
			Lookup: func(name string) (string, bool) { v, is := vars[name]; return v, is }})
	}()
	stop = func() int {
		end()
		select {
		case c := <-code:
			return c
		case <-time.After(20 * time.Second):
			t.Error("it does not stop")
			return -1
		}
	}
	for until := time.Now().Add(20 * time.Second); !strings.Contains(out.String(), "Serving ") || !strings.HasSuffix(out.String(), "\n"); {
		select {
		case c := <-code:
			t.Fatalf("it ended with %d: %s%s", c, out, log)
		default:
		}
		if time.Now().After(until) {
			t.Fatalf("it does not serve: %s%s", out, log)
		}
		time.Sleep(time.Millisecond)
	}
	return out.String(), log, stop
}

func address(t *testing.T, said, before string) string {
	t.Helper()
	m := regexp.MustCompile(before + `(https?://\S+)`).FindStringSubmatch(said)
	if m == nil {
		t.Fatalf("no address behind %q in:\n%s", before, said)
	}
	return m[1]
}

func read(t *testing.T, c *http.Client, url string) (int, string) {
	t.Helper()
	a, err := c.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(a.Body)
	if err != nil {
		t.Fatal(err)
	}
	return a.StatusCode, string(text) + fmt.Sprint(a.Body.Close() != nil)
}

// An empty folder is served by one command, which says where; work is done in the background; stopped it is done.
func TestServeServesADataFolder(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	said, log, stop := servedBy(t, map[string]string{"FETTLE_LISTEN": "127.0.0.1:0", "FETTLE_METRICS": "127.0.0.1:0"}, "serve")
	at := address(t, said, "Serving fettle-data at ")
	for path, want := range map[string]string{"livez": "ok", "readyz": "ok", "api/v1/version": `{"version":"test"}`} {
		if status, text := read(t, http.DefaultClient, at+path); status != 200 || !strings.HasPrefix(text, want) {
			t.Errorf("%s: %d %s", path, status, text)
		}
	}
	if status, _ := read(t, http.DefaultClient, at+"authority"); status != 404 {
		t.Errorf("an authority where there is none: %d", status)
	}
	if code, out, errs := run(t, dir, "tasks", "ask", "sweep", "--by", "p-31", "--data", "fettle-data"); code != Done {
		t.Fatalf("%s%s", out, errs)
	}
	for until := time.Now().Add(20 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		_, out, _ := run(t, dir, "tasks", "--data", "fettle-data")
		if strings.Contains(out, "done") {
			break
		}
		if time.Now().After(until) {
			t.Fatalf("the work is not done: %s", out)
		}
	}
	if code := stop(); code != Done {
		t.Errorf("exit code %d: %s", code, log)
	}
	if a, err := http.Get(at + "livez"); err == nil {
		_ = a.Body.Close()
		t.Error("it answers still")
	}
	for _, want := range []string{`"msg":"work in the background"`, `"kind":"sweep"`} {
		if !strings.Contains(log.String(), want) {
			t.Errorf("the log has no %s: %s", want, log)
		}
	}
}

// A shop's network is served over TLS by an authority that the page on this machine gives; what it printed is the fingerprint of it.
func TestServeALan(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	said, _, stop := servedBy(t, nil, "serve", "--data", dir, "--lan", "workshop.local", "--listen", "127.0.0.1:0", "--local", "127.0.0.1:0", "--workers", "0")
	defer stop()
	at, local := address(t, said, "Serving .* at "), address(t, said, "On this machine: ")
	status, text := read(t, http.DefaultClient, local+"authority.crt")
	roots := x509.NewCertPool()
	if status != 200 || !roots.AppendCertsFromPEM([]byte(text)) {
		t.Fatalf("%d %s", status, text)
	}
	port := at[strings.LastIndex(at, ":")+1:]
	own := &http.Client{Transport: &http.Transport{ForceAttemptHTTP2: true, TLSClientConfig: &tls.Config{RootCAs: roots}, DialContext: func(ctx context.Context, network, _ string) (net.Conn, error) {
		return (&net.Dialer{}).DialContext(ctx, network, "127.0.0.1:"+strings.TrimSuffix(port, "/"))
	}}}
	if status, text := read(t, own, at+"api/v1/version"); status != 200 {
		t.Errorf("%d %s", status, text)
	}
	if a, err := own.Get("https://bank.example/"); err == nil {
		_ = a.Body.Close()
		t.Error("it passes for another name")
	}
	_, page := read(t, http.DefaultClient, local+"authority")
	shown := regexp.MustCompile(`(?:[0-9A-F]{2}:){31}[0-9A-F]{2}`).FindString(page)
	if shown == "" || !strings.Contains(said, shown) {
		t.Errorf("the console and the page show different fingerprints: %q\n%s", shown, said)
	}
	if fi, err := os.Stat(filepath.Join(dir, "keys", "authority.pem")); err != nil || fi.Size() == 0 {
		t.Errorf("the authority is not in the folder's keys: %v", err)
	}
}

// The command line is heard before the environment, and that before settings.yaml; what would not be safe is refused.
func TestServeSettings(t *testing.T) {
	file := datafolder.Serve{Listen: "127.0.0.1:1", Hosts: []string{"file.example"}, Workers: 3, Metrics: "127.0.0.1:9"}
	vars := map[string]string{"FETTLE_LISTEN": "127.0.0.1:2", "FETTLE_HOST": "a.example, b.example", "FETTLE_PROXY": "10.0.0.5"}
	settled := func(c serveCmd, vars map[string]string, file datafolder.Serve) (serveSet, error) {
		return c.settled(Env{Lookup: func(name string) (string, bool) { v, is := vars[name]; return v, is }, data: &datafolder.Store{Settings: datafolder.Settings{Serve: file}}})
	}
	none := serveCmd{Workers: -1}
	for _, c := range []struct {
		name string
		cmd  serveCmd
		vars map[string]string
		file datafolder.Serve
		want string
	}{
		{"nothing said", none, nil, datafolder.Serve{}, "127.0.0.1:8420 [] 1 [] "},
		{"the file", none, nil, file, "127.0.0.1:1 [file.example] 3 [] 127.0.0.1:9"},
		{"the environment", none, vars, file, "127.0.0.1:2 [a.example b.example] 3 [10.0.0.5/32] 127.0.0.1:9"},
		{"the command line", serveCmd{Listen: "127.0.0.1:3", Host: []string{"c.example"}, Workers: 0}, vars, file, "127.0.0.1:3 [c.example] 0 [10.0.0.5/32] 127.0.0.1:9"},
		{"no work", none, nil, datafolder.Serve{Workers: -1}, "127.0.0.1:8420 [] 0 [] "},
		{"a network", serveCmd{Workers: -1, Lan: []string{"a.local"}}, nil, datafolder.Serve{}, ":8443 [] 1 [] "},
		{"in the open", serveCmd{Workers: -1, Listen: ":80", InsecureHTTP: true}, nil, datafolder.Serve{}, ":80 [] 1 [] "},
	} {
		s, err := settled(c.cmd, c.vars, c.file)
		if got := fmt.Sprint(s.listen, s.hosts, s.workers, s.proxies, s.metrics); err != nil || strings.ReplaceAll(got, " ", "") != strings.ReplaceAll(c.want, " ", "") {
			t.Errorf("%s: %s, %v; want %s", c.name, got, err, c.want)
		}
	}
	for name, c := range map[string]serveCmd{
		"plain HTTP for all":         {Listen: ":8420"},
		"plain HTTP for a network":   {Listen: "192.168.7.20:80"},
		"plain HTTP, all of IPv6":    {Listen: "[::]:80"},
		"a name, whatever it is":     {Listen: "workshop.local:80"},
		"figures for all":            {Metrics: ":9420"},
		"figures for a network":      {Metrics: "192.168.7.20:9420"},
		"this machine alone is not":  {Lan: []string{"a.local"}, Local: ":8420"},
		"a certificate without key":  {Certificate: "c.pem"},
		"a key without certificate":  {Key: "k.pem"},
		"two kinds of certificate":   {Lan: []string{"a.local"}, Certificate: "c.pem", Key: "k.pem"},
		"no address":                 {Listen: "8420"},
		"every proxy":                {Proxy: []string{"0.0.0.0/0"}},
		"every proxy of IPv6":        {Proxy: []string{"::/0"}},
		"a proxy by its name":        {Proxy: []string{"proxy.example"}},
		"more workers than there is": {Workers: 65},
	} {
		if c.Workers == 0 {
			c.Workers = -1
		}
		if s, err := settled(c, nil, datafolder.Serve{}); diag.KindOf(err) != diag.Usage {
			t.Errorf("%s: %+v, %v", name, s, err)
		}
	}
	if _, err := settled(none, map[string]string{"FETTLE_WORKERS": "many"}, file); diag.KindOf(err) != diag.Usage {
		t.Errorf("many workers: %v", err)
	}
	lan, err := settled(serveCmd{Workers: -1, Lan: []string{"Workshop.Local", "192.168.7.20"}, Host: []string{"h.example"}}, nil, datafolder.Serve{})
	if want := []string{"localhost", "127.0.0.1", "::1", "workshop.local", "192.168.7.20", "h.example"}; err != nil || !slices.Equal(lan.answersTo(), want) {
		t.Errorf("it answers to %v, %v", lan.answersTo(), err)
	}
}

// A service manager hears that it serves, that it lives, and that it stops (sd_notify(3), sd_watchdog_enabled(3)).
func TestServiceManagerIsTold(t *testing.T) {
	dir := t.TempDir()
	socket := filepath.Join(dir, "n")
	l, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: socket, Net: "unixgram"})
	if err != nil {
		t.Skip(err)
	}
	defer l.Close()
	_, log, stop := servedBy(t, map[string]string{"NOTIFY_SOCKET": socket, "WATCHDOG_USEC": "100000", "WATCHDOG_PID": fmt.Sprint(os.Getpid())}, "serve", "--data", filepath.Join(dir, "data"), "--listen", "127.0.0.1:0")
	var told []string
	next := func() {
		t.Helper()
		b := make([]byte, 100)
		_ = l.SetReadDeadline(time.Now().Add(10 * time.Second))
		n, err := l.Read(b)
		if err != nil {
			t.Fatal(err, told)
		}
		told = append(told, string(b[:n]))
	}
	for range 4 {
		next()
	}
	if code := stop(); code != Done {
		t.Errorf("exit code %d: %s", code, log)
	}
	for told[len(told)-1] != "STOPPING=1" {
		next()
	}
	if told[0] != "READY=1" || told[1] != "WATCHDOG=1" || told[3] != "WATCHDOG=1" {
		t.Errorf("%v", told)
	}
	if n := (Env{Lookup: func(name string) (string, bool) {
		return map[string]string{"WATCHDOG_USEC": "100000", "WATCHDOG_PID": "1"}[name], true
	}}).notifier(); n.every != 0 {
		t.Error("it is the watchdog of another program")
	}
}

// A folder with so many jobs is served within a moment: nothing of them is read before somebody asks. FETTLE_JOBS jobs are tried, and FETTLE_BINARY, where
// it is given, is the program that serves them. The time is told and not held: other programs may keep the machine.
func TestServeIsReadySoon(t *testing.T) {
	jobs, err := strconv.Atoi(cmp.Or(os.Getenv("FETTLE_JOBS"), "40"))
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "data")
	s, err := datafolder.Open(t.Context(), dir, true, datafolder.World{Lookup: func(string) (string, bool) { return "", false }, Now: time.Now, Program: "test"})
	if err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	for n := range 64 {
		all.Go(func() {
			for i := n; i < jobs; i += 64 {
				id := fmt.Sprintf("J-%05d", i)
				if _, err := s.Create(t.Context(), id, app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State(id))}); err != nil {
					t.Error(err)
					return
				}
			}
		})
	}
	all.Wait()
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	var took []time.Duration
	for range 5 {
		began := time.Now()
		at, stop := begun(t, dir)
		if status, _ := read(t, http.DefaultClient, at+"readyz"); status != 200 {
			t.Errorf("not ready: %d", status)
		}
		took = append(took, time.Since(began))
		stop()
	}
	slices.Sort(took)
	t.Logf("%d jobs: ready after %v (median of %d, most %v)", jobs, took[len(took)/2].Round(time.Millisecond), len(took), took[len(took)-1].Round(time.Millisecond))
}

// begun serves a folder by the program that is given, or else by this one.
func begun(t *testing.T, dir string) (at string, stop func()) {
	t.Helper()
	args := []string{"serve", "--data", dir, "--listen", "127.0.0.1:0"}
	binary := os.Getenv("FETTLE_BINARY")
	if binary == "" {
		said, _, end := servedBy(t, nil, args...)
		return address(t, said, "Serving .* at "), func() { end() }
	}
	cmd := exec.Command(binary, args...)
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	for at == "" && lines.Scan() {
		if strings.HasPrefix(lines.Text(), "Serving ") {
			at = address(t, lines.Text(), "Serving .* at ")
		}
	}
	return at, func() {
		_ = cmd.Process.Signal(syscall.SIGTERM)
		for lines.Scan() { // until it has ended
		}
		if err := cmd.Wait(); err != nil {
			t.Error(err)
		}
	}
}

// Who is signed in is found by one cookie or by one token; both are read anew for each request, and a stream ends with them.
func TestServeKnowsWhoAsks(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	said, _, stop := servedBy(t, nil, "serve", "--data", dir, "--listen", "127.0.0.1:0")
	defer stop()
	at := address(t, said, "Serving .* at ")
	if !strings.Contains(said, "fettle people first --at "+strings.TrimSuffix(at, "/")) || strings.Contains(said, "#") {
		t.Errorf("it does not say how somebody becomes the first, or prints a secret where it is kept: %s", said)
	}
	none := func(string) (string, bool) { return "", false }
	s, err := datafolder.Open(t.Context(), dir, false, datafolder.World{Lookup: none, Now: time.Now, Program: "test"})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	people, err := s.Accounts(none, time.Now, account.Site{})
	if err != nil {
		t.Fatal(err)
	}
	link, err := people.FirstUse(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	in, err := people.ClaimFirst(t.Context(), link.Text, account.First{Shop: "north", ShopName: "North", Password: "seven quiet lathes turn",
		NewPerson: account.NewPerson{Name: "Ada", SignIn: "ada", Roles: []right.Role{right.Planner}}}, account.From{Address: "127.0.0.1"})
	if err != nil {
		t.Fatal(err)
	}
	who, err := people.Session(t.Context(), in.Session)
	if err != nil {
		t.Fatal(err)
	}
	_, token, err := people.MakeToken(t.Context(), who.Who, account.NewToken{Name: "export", For: time.Hour})
	if err != nil {
		t.Fatal(err)
	}
	ask := func(path string, h http.Header) *http.Response {
		t.Helper()
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, at+"api/v1/"+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header = h
		a, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = a.Body.Close() })
		return a
	}
	good := in.Session
	for _, c := range []struct {
		name string
		h    http.Header
		want int
	}{
		{"nobody", http.Header{}, 401},
		{"the session", http.Header{"Cookie": {"fettle=" + good}}, 200},
		{"one of TLS, without TLS", http.Header{"Cookie": {"__Host-fettle=" + good}}, 401},
		{"a second one that was planted", http.Header{"Cookie": {"fettle=x; fettle=" + good}}, 401},
		{"a second one behind it", http.Header{"Cookie": {"fettle=" + good, "fettle=x"}}, 401},
		{"another secret", http.Header{"Cookie": {"fettle=" + good[1:]}}, 401},
		{"the token", http.Header{"Authorization": {"Bearer " + token.Text}}, 200},
		{"the token, in another case", http.Header{"Authorization": {"bearer " + token.Text}}, 200},
		{"the session as a token", http.Header{"Authorization": {"Bearer " + good}}, 401},
		{"the token as a session", http.Header{"Cookie": {"fettle=" + token.Text}}, 401},
		{"a bad token beside the session", http.Header{"Authorization": {"Bearer x"}, "Cookie": {"fettle=" + good}}, 401},
		{"two tokens", http.Header{"Authorization": {"Bearer " + token.Text, "Bearer " + token.Text}}, 401},
		{"a password", http.Header{"Authorization": {"Basic YWRhOng="}}, 401},
		{"a proxy's word", http.Header{"X-Forwarded-Proto": {"https"}, "Cookie": {"__Host-fettle=" + good}}, 401},
	} {
		for _, path := range []string{"jobs", "stream"} {
			if a := ask(path, c.h); a.StatusCode != c.want {
				t.Errorf("%s: %s %d, want %d", c.name, path, a.StatusCode, c.want)
			}
		}
	}
	hears := bufio.NewScanner(ask("stream", http.Header{"Cookie": {"fettle=" + good}}).Body)
	next := func(want string) bool {
		for hears.Scan() {
			if strings.HasPrefix(hears.Text(), want) {
				return true
			}
		}
		return false
	}
	if !next("event: begin") {
		t.Fatal("the stream does not begin")
	}
	create := func(id string) {
		t.Helper()
		if _, err := s.Create(t.Context(), id, app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State(id))}); err != nil {
			t.Fatal(err)
		}
	}
	create("J-1") // by another opening of the folder: nobody tells the server
	if !next(`data: {"job":"J-1","seq":`) {
		t.Fatal("it is not told of a job")
	}
	if err := people.SignOut(t.Context(), good, account.From{}); err != nil {
		t.Fatal(err)
	}
	create("J-2")
	if next("data:") {
		t.Error("who is signed out is told of a job")
	}
	if a := ask("jobs", http.Header{"Cookie": {"fettle=" + good}}); a.StatusCode != 401 {
		t.Errorf("who is signed out is let in: %d", a.StatusCode)
	}
}

// The demonstration is served by one command: it says where, and who may sign in with which password, each drawn anew; a token that it prints is good, and
// all is gone when it ends. It is for this machine alone.
func TestDemoIsServed(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	t.Chdir(t.TempDir())
	said, _, stop := servedBy(t, nil, "demo", "--serve", "--listen", "127.0.0.1:0")
	at := address(t, said, "Serving .* at ")
	dir, _, _ := strings.Cut(strings.TrimPrefix(said, "Serving "), " at ")
	passwords := regexp.MustCompile(`(?m)^  (administrator|technician|reviewer|planner) +([0-9a-f]{20})$`).FindAllStringSubmatch(said, -1)
	drawn := map[string]bool{}
	for _, p := range passwords {
		drawn[p[2]] = true
	}
	if len(drawn) != 4 {
		t.Errorf("%d may sign in, with %d passwords: %s", len(passwords), len(drawn), said)
	}
	token := regexp.MustCompile(`Bearer (fettle_\S+)' (\S+)\n`).FindStringSubmatch(said)
	if token == nil || token[2] != at+"api/v1/jobs" {
		t.Fatalf("no token: %s", said)
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, token[2], nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+token[1])
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(a.Body)
	if err != nil || a.StatusCode != 200 || !strings.Contains(string(text), `"rear-job"`) {
		t.Errorf("%d %v: %s", a.StatusCode, err, text)
	}
	_ = a.Body.Close()
	if code := stop(); code != Done {
		t.Errorf("exit code %d", code)
	}
	if _, err := os.Stat(dir); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("%s stays: %v", dir, err)
	}
	if left, err := os.ReadDir("."); err != nil || len(left) > 0 {
		t.Errorf("it wrote %v: %v", left, err)
	}
	for _, args := range [][]string{{"demo", "--serve", "--listen", ":8420"}, {"demo", "--serve", "--listen", "192.168.7.20:80"}, {"demo", "--listen", "127.0.0.1:0"}} {
		if code, _, errs := run(t, t.TempDir(), args...); code != Usage {
			t.Errorf("%v: %d %s", args, code, errs)
		}
	}
}

// A person at a terminal is led through first use: the link that is printed makes them the first administrator, who is signed in and asked
// for nothing else; the next start prints none.
func TestServeLeadsThroughFirstUse(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	args := []string{"serve", "--data", dir, "--listen", "127.0.0.1:0"}
	said, _, stop := servedBy(t, map[string]string{aTerminal: "yes"}, args...)
	link := regexp.MustCompile(`(?m)^(http://127\.0\.0\.1:\d+/)first#(\S+)$`).FindStringSubmatch(said)
	if link == nil || link[1] != address(t, said, "Serving .* at ") {
		t.Fatalf("no link: %s", said)
	}
	a, err := http.Post(link[1]+"api/v1/first", "application/json", strings.NewReader(`{"secret":"`+link[2]+`","shop":"north","shop_name":"North","name":"Ada","sign_in":"ada","password":"seven quiet lathes turn","roles":["planner"]}`))
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(a.Body)
	if err != nil || a.Body.Close() != nil || a.StatusCode != 200 {
		t.Fatalf("%d %v: %s", a.StatusCode, err, text)
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, link[1]+"api/v1/jobs", nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range a.Cookies() {
		r.AddCookie(c)
	}
	jobs, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	if _ = jobs.Body.Close(); jobs.StatusCode != 200 {
		t.Errorf("the first administrator is not signed in: %d", jobs.StatusCode)
	}
	stop()
	said, _, stop = servedBy(t, map[string]string{aTerminal: "yes"}, args...)
	defer stop()
	if strings.Contains(said, "#") || strings.Contains(said, "first") {
		t.Errorf("there is a first administrator, and it says: %s", said)
	}
}

// Every route that is described, and what is none, answers with every header of a server of data (OWASP ASVS 5.0, 3.4), whoever asks and whatever is
// sent; no error says anything of the inside (16.5.1): no file, no words of the database, no version, no secret that was sent.
func TestEveryRouteHasTheHeaders(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "plantedfolder")
	said, _, stop := servedBy(t, nil, "demo", "--serve", "--listen", "127.0.0.1:0", "--data", dir)
	defer stop()
	at := address(t, said, "Serving .* at ")
	token := regexp.MustCompile(`Bearer (fettle_\S+)'`).FindStringSubmatch(said)
	if token == nil {
		t.Fatal(said)
	}
	var described struct{ Paths map[string]map[string]any }
	_, text := read(t, http.DefaultClient, at+"api/v1/openapi.json")
	if err := json.Unmarshal([]byte(strings.TrimSuffix(text, "false")), &described); err != nil || len(described.Paths) < 20 {
		t.Fatalf("%d paths: %v", len(described.Paths), err)
	}
	asks := map[string]http.Header{"nobody": {}, "the planner": {"Authorization": {"Bearer " + token[1]}}, "a forged token": {"Authorization": {"Bearer fettle_plantedtoken"}}}
	inside := regexp.MustCompile(`(?i)plantedfolder|plantedtoken|\.go:\d|goroutine|/internal/|\bselect .* from\b|sqlite|postgres|go1\.\d`)
	answers, errs := 0, 0
	for path, methods := range described.Paths {
		for method := range methods {
			if path == "/api/v1/stream" { // its answer has no end
				continue
			}
			for who, h := range asks {
				for _, body := range []string{"", `{"more":1}`} {
					name := regexp.MustCompile(`\{\w+\}`).ReplaceAllString(path, "none-such")
					r, err := http.NewRequestWithContext(t.Context(), strings.ToUpper(method), at+strings.TrimPrefix(name, "/"), strings.NewReader(body))
					if err != nil {
						t.Fatal(err)
					}
					r.Header = h.Clone()
					r.Header.Set("Content-Type", "application/json")
					a, err := http.DefaultClient.Do(r)
					if err != nil {
						t.Fatalf("%s %s: %v", method, path, err)
					}
					told, err := io.ReadAll(a.Body)
					if err = errors.Join(err, a.Body.Close()); err != nil {
						t.Fatal(err)
					}
					answers++
					for _, want := range []string{"X-Content-Type-Options", "Referrer-Policy", "Content-Security-Policy", "Cross-Origin-Opener-Policy", "Cross-Origin-Resource-Policy", "Permissions-Policy", "Cache-Control", "X-Request-Id"} {
						if a.Header.Get(want) == "" {
							t.Errorf("%s %s, %s: no %s", method, path, who, want)
						}
					}
					if a.StatusCode < 400 {
						continue
					}
					errs++
					if m := inside.Find(told); m != nil {
						t.Errorf("%s %s, %s: %d says %q: %.300s", method, path, who, a.StatusCode, m, told)
					}
					if a.StatusCode >= 500 || a.Header.Get("Content-Type") != "application/problem+json" {
						t.Errorf("%s %s, %s: %d %s: %.300s", method, path, who, a.StatusCode, a.Header.Get("Content-Type"), told)
					}
				}
			}
		}
	}
	if errs < 100 {
		t.Errorf("only %d of %d answers are errors", errs, answers)
	}
	t.Logf("%d answers, %d of them errors: 0 without a header, 0 with anything of the inside", answers, errs)
}

// Several servers on one database are one: who signs in on one is signed in on all and out likewise, streams of one hear at once of what another has
// written, all say that they are not ready while the database is away, and go on by themselves once it is back.
func TestSeveralServersPostgreSQL(t *testing.T) {
	db := postgrestest.Start(t)
	vars := map[string]string{"FETTLE_DATABASE": db.Database(t), "FETTLE_ACCOUNTS_KEY": strings.Repeat("07", 32), "FETTLE_WORKERS": "0"}
	var at []string
	for range 3 {
		said, _, stop := servedBy(t, vars, "serve", "--data", filepath.Join(t.TempDir(), "data"), "--listen", "127.0.0.1:0")
		defer stop()
		at = append(at, address(t, said, "Serving .* at "))
	}
	lookup := func(name string) (string, bool) { v, is := vars[name]; return v, is }
	s, err := datafolder.Open(t.Context(), filepath.Join(t.TempDir(), "data"), true, datafolder.World{Lookup: lookup, Now: time.Now, Program: "test"})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	people, err := s.Accounts(lookup, time.Now, account.Site{})
	if err != nil {
		t.Fatal(err)
	}
	link, err := people.FirstUse(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	send := func(method, url, body string, cookies []*http.Cookie) *http.Response {
		t.Helper()
		r, err := http.NewRequestWithContext(t.Context(), method, url, strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/json")
		for _, c := range cookies {
			r.AddCookie(c)
		}
		a, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = a.Body.Close() })
		return a
	}
	in := send("POST", at[0]+"api/v1/first", `{"secret":"`+link.Text+`","shop":"north","shop_name":"North","name":"Ada","sign_in":"ada","password":"seven quiet lathes turn","roles":["planner"]}`, nil)
	if in.StatusCode != 200 {
		t.Fatalf("first use: %d", in.StatusCode)
	}
	var streams []*bufio.Scanner
	for _, server := range at {
		if a := send("GET", server+"api/v1/session", "", in.Cookies()); a.StatusCode != 200 {
			t.Errorf("%s: %d", server, a.StatusCode)
		}
		streams = append(streams, bufio.NewScanner(send("GET", server+"api/v1/stream", "", in.Cookies()).Body))
	}
	hear := func(want string) {
		t.Helper()
		for i, x := range streams {
			for x.Scan() && !strings.HasPrefix(x.Text(), want) {
			}
			if !strings.HasPrefix(x.Text(), want) {
				t.Fatalf("stream %d does not hear of %s", i, want)
			}
		}
	}
	hear("event: begin")
	create := func(id string) {
		t.Helper()
		if _, err := s.Create(t.Context(), id, app.Change{Key: "k", By: "p-1", Events: job.FromState(storetest.State(id))}); err != nil {
			t.Fatal(err)
		}
	}
	create("J-1")
	began := time.Now()
	hear(`data: {"job":"J-1"`)
	t.Logf("all heard of it after %v", time.Since(began).Round(time.Millisecond))
	ready := func(want int) (took time.Duration) {
		t.Helper()
		began := time.Now()
		for _, server := range at {
			for send("GET", server+"readyz", "", nil).StatusCode != want {
				if time.Since(began) > 30*time.Second {
					t.Fatalf("%s does not say %d", server, want)
				}
				time.Sleep(10 * time.Millisecond)
			}
		}
		return time.Since(began)
	}
	db.StopAtOnce(t)
	ready(503)
	if a := send("GET", at[1]+"livez", "", nil); a.StatusCode != 200 {
		t.Errorf("without its database it does not live: %d", a.StatusCode)
	}
	if a := send("GET", at[1]+"api/v1/jobs", "", in.Cookies()); a.StatusCode != 503 {
		t.Errorf("without its database: %d", a.StatusCode)
	}
	db.Launch(t)
	db.Answers(t)
	t.Logf("ready again %v after the database", ready(200).Round(time.Millisecond))
	create("J-2")
	for i, server := range at { // a stream may have ended meanwhile: its client comes back
		streams[i] = bufio.NewScanner(send("GET", server+"api/v1/stream", "", in.Cookies()).Body)
	}
	hear("event: begin")
	create("J-3")
	hear(`data: {"job":"J-3"`)
	if a := send("DELETE", at[2]+"api/v1/session", "", in.Cookies()); a.StatusCode != http.StatusNoContent {
		t.Errorf("signing out: %d", a.StatusCode)
	}
	for _, server := range at {
		if a := send("GET", server+"api/v1/jobs", "", in.Cookies()); a.StatusCode != 401 {
			t.Errorf("%s: who is signed out is let in: %d", server, a.StatusCode)
		}
	}
}
