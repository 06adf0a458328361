//go:build linux

package load

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// program is the program as it is built, once for all tests. FETTLE_BINARY is another one.
var program = sync.OnceValues(func() (string, error) {
	if given := os.Getenv("FETTLE_BINARY"); given != "" {
		return given, nil
	}
	dir, err := os.MkdirTemp("", "fettle-load-")
	if err != nil {
		return "", err
	}
	built = dir
	out := filepath.Join(dir, "fettle")
	said, err := exec.Command("go", "build", "-trimpath", "-o", out, "fettle/cmd/fettle").CombinedOutput()
	if err != nil {
		err = fmt.Errorf("%w: %s", err, said)
	}
	return out, err
})

// built is the folder of the program; empty until it is built.
var built string

func TestMain(m *testing.M) {
	code := m.Run()
	if built != "" {
		if err := os.RemoveAll(built); err != nil {
			fmt.Fprintln(os.Stderr, err)
			code = max(code, 1)
		}
	}
	os.Exit(code)
}

// server is a fettle serve of its own folder.
type server struct {
	t        testing.TB
	n        int
	dir      string
	address  string
	figures  string
	env      []string
	options  []string
	log      *os.File
	process  *exec.Cmd
	ended    chan struct{}
	past     usage // of processes that have ended
	took     []time.Duration
	mu       sync.Mutex
	up       time.Time     // when it was ready; zero: it is not
	answered time.Duration // from then to the first change that was acknowledged; zero: there was none yet
	waits    []time.Duration
}

// usage is what a process has used.
type usage struct {
	cpu       time.Duration
	rss, peak int64
	files     int
}

// newServer is one that does not run yet, with a folder, a folder for what is there for a while, and two addresses.
func newServer(t testing.TB, n int, env []string, options ...string) *server {
	t.Helper()
	s := &server{t: t, n: n, dir: t.TempDir(), address: freeAddress(t), figures: freeAddress(t), options: options}
	for _, d := range []string{"data", "tmp", "home"} {
		if err := os.Mkdir(filepath.Join(s.dir, d), 0o700); err != nil {
			t.Fatal(err)
		}
	}
	s.env = append([]string{"TMPDIR=" + filepath.Join(s.dir, "tmp"), "HOME=" + filepath.Join(s.dir, "home"), "PATH=/nowhere"}, env...)
	var err error
	if s.log, err = os.Create(filepath.Join(s.dir, "log")); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		s.kill()
		if err := s.log.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func freeAddress(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	return l.Addr().String()
}

// start starts it and waits until it is ready.
func (s *server) start() error {
	binary, err := program()
	if err != nil {
		return err
	}
	c := exec.Command(binary, append([]string{"serve", "--data", filepath.Join(s.dir, "data"), "--listen", s.address, "--metrics", s.figures}, s.options...)...)
	c.Env, c.Dir, c.Stdout, c.Stderr = s.env, filepath.Join(s.dir, "home"), s.log, s.log
	c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	began := time.Now()
	if err := c.Start(); err != nil {
		return err
	}
	ended := make(chan struct{})
	go func() {
		_ = c.Wait() // that it was killed
		close(ended)
	}()
	s.process, s.ended = c, ended
	for until := began.Add(time.Minute); ; time.Sleep(2 * time.Millisecond) {
		if s.ready() == nil {
			break
		}
		select {
		case <-ended:
			return fmt.Errorf("server %d ended: %s", s.n, s.said())
		default:
		}
		if time.Now().After(until) {
			return fmt.Errorf("server %d is not ready after a minute: %s", s.n, s.said())
		}
	}
	s.took = append(s.took, time.Since(began))
	s.mu.Lock()
	s.up, s.answered = time.Now(), 0
	s.mu.Unlock()
	return nil
}

// said is the end of its log.
func (s *server) said() string {
	text, err := os.ReadFile(s.log.Name())
	if err != nil {
		return err.Error()
	}
	return string(text[max(0, len(text)-2000):])
}

var plain = &http.Client{Timeout: 2 * time.Second, Transport: &http.Transport{DisableKeepAlives: true}}

func (s *server) ready() error {
	r, err := plain.Get("http://" + s.address + "/readyz")
	if err != nil {
		return err
	}
	if r.StatusCode != http.StatusOK {
		err = errors.New(r.Status)
	}
	return errors.Join(err, r.Body.Close())
}

// kill ends it as it is.
func (s *server) kill() {
	if s.process == nil {
		return
	}
	s.mu.Lock()
	s.up = time.Time{}
	s.mu.Unlock()
	u, err := s.used()
	if err == nil {
		s.past.cpu += u.cpu
		s.past.peak = max(s.past.peak, u.peak)
	}
	_ = s.process.Process.Signal(syscall.SIGKILL) // it may have ended
	<-s.ended
	s.process = nil
}

// acknowledged notes that it has acknowledged a change.
func (s *server) acknowledged() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.up.IsZero() && s.answered == 0 {
		s.answered = time.Since(s.up)
		s.waits = append(s.waits, s.answered)
	}
}

// used is what the process has used until now.
func (s *server) used() (usage, error) {
	dir := fmt.Sprintf("/proc/%d/", s.process.Process.Pid)
	status, err := os.ReadFile(dir + "status")
	if err != nil {
		return usage{}, err
	}
	u := usage{rss: kib(status, "VmRSS:"), peak: kib(status, "VmHWM:")}
	stat, err := os.ReadFile(dir + "stat")
	if err != nil {
		return u, err
	}
	_, rest, _ := bytes.Cut(stat, []byte(") "))
	fields := strings.Fields(string(rest)) // from the third on: proc(5)
	for _, i := range []int{14 - 3, 15 - 3} {
		ticks, err := strconv.ParseInt(fields[i], 10, 64)
		if err != nil {
			return u, err
		}
		u.cpu += time.Duration(ticks) * 10 * time.Millisecond // a hundred ticks in a second, as on every Linux
	}
	files, err := os.ReadDir(dir + "fd")
	u.files = len(files)
	return u, err
}

func kib(status []byte, name string) int64 {
	for line := range strings.Lines(string(status)) {
		if f := strings.Fields(line); len(f) == 3 && f[0] == name {
			n, _ := strconv.ParseInt(f[1], 10, 64) // written by the system
			return n << 10
		}
	}
	return 0
}

// figure is one of its figures.
func (s *server) figure(ctx context.Context, name string) (float64, error) {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+s.figures+"/metrics", nil)
	if err != nil {
		return 0, err
	}
	got, err := plain.Do(r)
	if err != nil {
		return 0, err
	}
	defer got.Body.Close() // it was read
	var text bytes.Buffer
	if _, err := text.ReadFrom(got.Body); err != nil {
		return 0, err
	}
	for line := range strings.Lines(text.String()) {
		if f := strings.Fields(line); len(f) == 2 && f[0] == name {
			return strconv.ParseFloat(f[1], 64)
		}
	}
	return 0, fmt.Errorf("there is no figure %s", name)
}
