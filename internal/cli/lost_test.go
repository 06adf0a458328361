package cli

import (
	"io"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// between is a proxy before a server that does what a test says with answers.
type between struct {
	*httptest.Server
	mu   sync.Mutex
	does func(*http.Request, *http.Response) bool // false: the answer is lost
	lost []string
}

// putBetween makes the environment go through a proxy.
func putBetween(t *testing.T, vars map[string]string) *between {
	t.Helper()
	to, err := url.Parse(vars[serverVar])
	if err != nil {
		t.Fatal(err)
	}
	b := &between{}
	p := &httputil.ReverseProxy{Rewrite: func(r *httputil.ProxyRequest) { r.SetURL(to) }}
	p.ModifyResponse = func(a *http.Response) error {
		b.mu.Lock()
		does := b.does
		b.mu.Unlock()
		if does == nil || does(a.Request, a) {
			return nil
		}
		if _, err := io.Copy(io.Discard, a.Body); err != nil { // the server has done it
			return err
		}
		b.mu.Lock()
		b.lost = append(b.lost, a.Request.Method+" "+a.Request.URL.Path)
		b.mu.Unlock()
		return http.ErrAbortHandler
	}
	p.ErrorHandler = func(http.ResponseWriter, *http.Request, error) { panic(http.ErrAbortHandler) }
	b.Server = httptest.NewServer(p)
	t.Cleanup(b.Close)
	vars[serverVar] = b.URL
	return b
}

// loses has the first answer to each request that changes something lost, after the server has done it, and is which were since the last time.
func (b *between) loses() (lost []string) {
	seen := map[string]bool{}
	b.mu.Lock()
	defer b.mu.Unlock()
	lost, b.lost = b.lost, nil
	b.does = func(r *http.Request, _ *http.Response) bool {
		if r.Method == http.MethodGet {
			return true
		}
		b.mu.Lock()
		defer b.mu.Unlock()
		what := r.Method + " " + r.URL.RequestURI()
		first := !seen[what]
		seen[what] = true
		return !first
	}
	return lost
}

var drawnNames = regexp.MustCompile(`[0-9a-f]{16,}`)

// Every command that writes to a server, whose answer is lost after the server has done it, asks again and it is done once: it says what the same
// command on a data folder says, and the job has as many events.
func TestLostAnswersAreDoneOnce(t *testing.T) {
	now := time.Date(2026, 11, 30, 9, 0, 0, 0, time.UTC)
	files, data, away := filepath.Join(demoFolder(t), "fettle-demo"), t.TempDir(), t.TempDir()
	for _, dir := range []string{data, away} {
		does(t, dir, now, "keep", filepath.Join(files, "job"), "--data", "d")
		does(t, dir, now, "keep", filepath.Join(files, "rear-job"), "--data", "d")
		if err := os.CopyFS(filepath.Join(dir, "in"), os.DirFS(files)); err != nil {
			t.Fatal(err)
		}
		sum, err := hashOfFile(filepath.Join(files, "job", "job.yaml"))
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, "e.yaml"), []byte("{id: E-NEW, file: in/job/job.yaml, sha256: "+sum+", text: A paper, by: T1, on: 2026-11-26}\n"), 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	vars, person := served(t, filepath.Join(away, "d"), now)
	b := putBetween(t, vars)
	b.loses()
	id := map[string]string{}
	for _, c := range []struct {
		line  string
		loses int    // requests whose answers were lost, at least
		keeps string // what is printed is an identity that lines after have under this name
	}{
		{"put job evidence/E-NEW e.yaml --seen 0", 2, ""},
		{"withdraw job evidence/E-NEW --reason Another --signed T1 --on 2026-11-26", 1, ""},
		{"ask job D8 --out q --sent-by P1 --on 2026-11-26", 1, ""},
		{"keep job --body in/body", 0, ""}, // it is that body already
		{"keep in/sound-job --as other", 2, ""},
		{"hold job --reason Claim", 1, "HOLD"},
		{"hold job", 0, ""},
		{"tasks ask files job --on 2026-11-26", 1, "TASK"},
		{"tasks stop TASK", 1, ""},
		{"tasks again TASK", 1, ""},
		{"tasks stop TASK", 1, ""},
		{"tasks ask scan", 1, ""},
		{"tasks --about job", 0, ""},
		{"events job --codes", 0, ""},
		{"events other --codes", 0, ""},
	} {
		var said [2]string
		for i, f := range []form{{"data folder", data, map[string]string{dataVar: "d"}}, {"server", away, vars}} {
			line := c.line
			for name, text := range id {
				if one, is := strings.CutPrefix(name, f.name+" "); is {
					line = strings.ReplaceAll(line, one, text)
				}
			}
			code, out, errs := atAs(t, f.dir, now, person, f.vars, strings.Fields(line)...)
			if code != Done {
				t.Errorf("%s: fettle %s: %d %s", f.name, line, code, errs)
			}
			if c.keeps != "" {
				id[f.name+" "+c.keeps] = drawnNames.FindString(out)
			}
			said[i] = drawnNames.ReplaceAllString(strings.ReplaceAll(out, vars[serverVar], "d"), "ID") // each place draws its own
			if all := strings.Split(said[i], "\n"); strings.HasPrefix(c.line, "tasks --about") {       // of one moment: in the order of those
				slices.Sort(all)
				said[i] = strings.Join(all, "\n")
			}
		}
		if lost := b.loses(); len(lost) < c.loses {
			t.Errorf("fettle %s: of %d answers that were to be lost there were %q", c.line, c.loses, lost)
		}
		if said[0] != said[1] {
			t.Errorf("fettle %s: the server:\n%s\nthe data folder:\n%s", c.line, said[1], said[0])
		}
	}
}
