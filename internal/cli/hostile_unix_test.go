//go:build unix

package cli

import (
	"fmt"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
)

func (s stranger) read(file string) string {
	s.t.Helper()
	data, err := os.ReadFile(filepath.Join(s.home, "fettle-demo", filepath.FromSlash(file)))
	if err != nil {
		s.t.Fatal(err)
	}
	return string(data)
}

func matches(form, text string) bool { return regexp.MustCompile(form).MatchString(text) }

// link makes a link, in place of what lies there.
func (s stranger) link(to, at string) {
	s.t.Helper()
	if err := os.RemoveAll(at); err != nil {
		s.t.Fatal(err)
	}
	if err := os.Symlink(to, at); err != nil {
		s.t.Fatal(err)
	}
}

// pipe makes a pipe that nobody writes to, in place of what lies there.
func (s stranger) pipe(at string) {
	s.t.Helper()
	if err := os.RemoveAll(at); err != nil {
		s.t.Fatal(err)
	}
	if err := syscall.Mkfifo(at, 0o644); err != nil {
		s.t.Fatal(err)
	}
}

// traps are what can lie where a file is expected.
var traps = []struct {
	name string
	set  func(s stranger, at string)
	why  string
}{
	{"link out", func(s stranger, at string) { s.link(s.secret, at) }, "link out of the folder"},
	{"relative link out", func(s stranger, at string) {
		to, err := filepath.Rel(filepath.Dir(at), s.secret)
		if err != nil {
			s.t.Fatal(err)
		}
		s.link(to, at)
	}, "link out of the folder"},
	{"link by a link", func(s stranger, at string) {
		s.link(s.secret, filepath.Join(filepath.Dir(at), "between"))
		s.link("between", at)
	}, "link out of the folder"},
	{"link to a device", func(s stranger, at string) { s.link("/dev/zero", at) }, "link out of the folder"},
	{"link to a process's own", func(s stranger, at string) { s.link("/proc/self/environ", at) }, "link out of the folder"},
	{"link that leads nowhere", func(s stranger, at string) { s.link("nowhere", at) }, "does not exist|cannot be read|link"},
	{"link to itself", func(s stranger, at string) { s.link(filepath.Base(at), at) }, "."},
	{"pipe", func(s stranger, at string) { s.pipe(at) }, "is a pipe, not a file"},
	{"link to a pipe", func(s stranger, at string) {
		s.pipe(filepath.Join(filepath.Dir(at), "a-pipe"))
		s.link("a-pipe", at)
	}, "is a pipe, not a file"},
	{"folder", func(s stranger, at string) {
		if err := os.RemoveAll(at); err != nil {
			s.t.Fatal(err)
		}
		if err := os.Mkdir(at, 0o755); err != nil {
			s.t.Fatal(err)
		}
	}, "is a folder, not a file"},
	{"socket", func(s stranger, at string) {
		if err := os.RemoveAll(at); err != nil {
			s.t.Fatal(err)
		}
		s.t.Chdir(filepath.Dir(at)) // the path of a socket is short
		l, err := net.Listen("unix", filepath.Base(at))
		if err != nil {
			s.t.Fatal(err)
		}
		s.t.Cleanup(func() { l.Close() })
	}, "is a socket, not a file"},
}

// TestTrapsForEvidence: no command reads, hashes, draws or copies what a trap in
// the place of evidence leads to, and none waits for it.
func TestTrapsForEvidence(t *testing.T) {
	for i, trap := range traps {
		t.Run(trap.name, func(t *testing.T) {
			s := newStranger(t)
			s.evidence("evidence/photo.jpg")
			trap.set(s, filepath.Join(s.job, "evidence", "photo.jpg"))
			some := readers
			if i%6 != 0 {
				some = readers[:2] // all of them open a job in one way
			}
			s.refusedBy(some, trap.why)
		})
	}
	t.Run("folder that is a link", func(t *testing.T) {
		s := newStranger(t)
		s.evidence("evidence/away/secret.txt")
		s.link(s.home, filepath.Join(s.job, "evidence", "away"))
		s.refusedBy(readers, "lies behind evidence/away, a link out of the folder")
	})
}

// TestTrapsForDocuments: the same for every document and table of a job and a
// body, and for the mesh.
func TestTrapsForDocuments(t *testing.T) {
	for _, file := range []string{"job/job.yaml", "job/readings.csv", "body/body.yaml", "body/points.csv", "body/procedures/br-fc-d.yaml", "body/front-casting.ply"} {
		for _, trap := range traps {
			if trap.name == "socket" || trap.name == "link that leads nowhere" {
				continue // as for evidence
			}
			t.Run(file+" "+trap.name, func(t *testing.T) {
				s := newStranger(t)
				trap.set(s, filepath.Join(s.home, "fettle-demo", filepath.FromSlash(file)))
				why := trap.why
				if trap.name == "folder" {
					why = "." // the document is missing, in the words for that
				}
				s.refusedBy(readers[:1], why)
			})
		}
	}
	t.Run("folder of procedures", func(t *testing.T) {
		s := newStranger(t)
		at := filepath.Join(s.home, "fettle-demo", "body", "procedures")
		if err := os.Rename(at, filepath.Join(s.home, "elsewhere")); err != nil {
			t.Fatal(err)
		}
		s.link(filepath.Join(s.home, "elsewhere"), at)
		s.refusedBy(readers[:1], "procedures.*link out of the folder")
	})
	for _, shop := range []string{"/dev/zero", "a-pipe"} {
		t.Run("shop "+shop, func(t *testing.T) {
			s := newStranger(t)
			at := filepath.Join(s.home, "fettle-demo", "shop.yaml")
			s.pipe(filepath.Join(filepath.Dir(at), "a-pipe"))
			s.link(shop, at)
			s.refusedBy(readers[:1], "shop.yaml.*is a (device|pipe), not a file")
		})
	}
}

// TestFilesNamedByHand: a person may name any file, but no pipe or device hangs
// a command or fills the memory.
func TestFilesNamedByHand(t *testing.T) {
	s := newStranger(t)
	s.pipe(filepath.Join(s.home, "pipe.ply"))
	s.link("/dev/zero", filepath.Join(s.home, "zero.ply"))
	for _, name := range []string{"pipe.ply", "zero.ply"} {
		for _, args := range [][]string{{"mesh", name}, {"measure", name, name}, {"zones", "find", name}, {"zones", "make", name}, {"cut", name, "--point", "0,0,0", "--normal", "1,0,0"},
			{"trace", name, "--at", "0,0,0", "--at", "1,1,1"}, {"procedure", "diff", name, name}, {"check", name}, {"assess", name}} {
			if code, printed := s.fettle(args...); code != Refused && code != Usage {
				t.Errorf("%q: exit code %d, %s", args, code, printed)
			}
		}
	}
}

// TestLinksInside: a link to another file of the same folder is that file, and a
// body elsewhere is taken and shown.
func TestLinksInside(t *testing.T) {
	s := newStranger(t)
	s.evidence("evidence/photo.txt")
	s.put(filepath.Join(s.job, "evidence", "inner", "really.txt"), "a photograph")
	s.link("inner/really.txt", filepath.Join(s.job, "evidence", "photo.txt"))
	elsewhere := filepath.Join(s.home, "elsewhere")
	body := filepath.Join(s.home, "fettle-demo", "body")
	if err := os.Rename(body, elsewhere); err != nil {
		t.Fatal(err)
	}
	s.link(elsewhere, body)
	code, printed := s.fettle("check", "fettle-demo/job", "--on", "2026-11-26")
	real, err := filepath.EvalSymlinks(elsewhere)
	if err != nil {
		t.Fatal(err)
	}
	if want := "sound: job fettle-demo/job, with body fettle-demo/body (a link to " + real + ") and shop fettle-demo/shop.yaml\n"; code != Done || !strings.HasPrefix(printed, want) {
		t.Errorf("exit code %d, %s, want %s", code, printed, want)
	}
}

// TestNothingIsWrittenThroughLinks: whatever is written, no link in its way is
// followed and nothing but a file is replaced.
func TestNothingIsWrittenThroughLinks(t *testing.T) {
	assess := []string{"assess", "fettle-demo/job", "--on", "2026-11-26"}
	ask := []string{"ask", "fettle-demo/job", "D8", "--out", "q", "--on", "2026-11-26"}
	outside := func(s stranger) string {
		dir := filepath.Join(s.home, "outside")
		s.put(filepath.Join(dir, "kept.txt"), "kept")
		return dir
	}
	for _, c := range []struct {
		name string
		set  func(s stranger)
		args []string
		why  string
	}{
		{"result folder", func(s stranger) { s.link(outside(s), filepath.Join(s.job, "result")) }, assess, "is a link, not a folder"},
		{"result file", func(s stranger) { s.link(s.secret, filepath.Join(s.job, "result", "report.html")) }, assess, "report.html.*is a link"},
		{"result file that leads nowhere", func(s stranger) {
			s.link(filepath.Join(outside(s), "new.html"), filepath.Join(s.job, "result", "report.html"))
		}, assess, "report.html.*is a link"},
		{"assessment", func(s stranger) { s.link(s.secret, filepath.Join(s.job, "result", "assessment.json")) }, assess, "assessment.json.*is a link"},
		{"order list to take away", func(s stranger) { s.link(s.secret, filepath.Join(s.job, "result", "order.csv")) }, assess, "order.csv.*is a link"},
		{"result that is a pipe", func(s stranger) { s.pipe(filepath.Join(s.job, "result", "report.html")) }, assess, "report.html.*is a pipe"},
		{"out", func(s stranger) { s.link(outside(s), filepath.Join(s.home, "out")) }, append(assess, "--out", "out"), "is a link"},
		{"out in the job", func(s stranger) { s.link(outside(s), filepath.Join(s.job, "mine")) }, append(assess, "--out", "fettle-demo/job/mine/r"), "is a link, not a folder"},
		{"question", func(s stranger) {
			s.put(filepath.Join(s.home, "q", "x"), "")
			s.link(s.secret, filepath.Join(s.home, "q", "Q-D8.txt"))
		}, ask, "Q-D8.txt.*is a link"},
		{"evidence of a question", func(s stranger) {
			s.evidence("evidence/answer-d10.txt")
			s.put(filepath.Join(s.home, "q", "x"), "")
			s.link(outside(s), filepath.Join(s.home, "q", "evidence"))
		}, ask, "is a link, not a folder|link out of the folder|is a link"},
		{"document of an answer", func(s stranger) {
			s.put(filepath.Join(s.home, "reply.txt"), "reply")
			s.put(filepath.Join(outside(s), "inspection-sheet.txt"), s.read("job/evidence/inspection-sheet.txt"))
			s.link(outside(s), filepath.Join(s.job, "evidence"))
		}, append(append([]string{}, readers[len(readers)-1]...), "--document", "reply.txt", "--on", "2026-11-26"), "link out of the folder"},
		{"demonstration", func(s stranger) { s.link(s.secret, filepath.Join(s.home, "fettle-demo", "shop.yaml")) }, []string{"demo", "--overwrite", "--no-report"}, "shop.yaml.*is a link"},
		{"folder of the demonstration", func(s stranger) { s.link(outside(s), filepath.Join(s.home, "demo2")) }, []string{"demo", "demo2", "--no-report"}, "demo2.*is a link"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newStranger(t)
			c.set(s)
			before := tree(t, s.home)
			code, printed := s.fettle(c.args...)
			if code != Refused || !matches(c.why, printed) {
				t.Errorf("exit code %d, %s", code, printed)
			}
			if data, err := os.ReadFile(s.secret); err != nil || string(data) != secret {
				t.Errorf("the file outside is %q, %v", data, err)
			}
			if after := tree(t, s.home); fmt.Sprint(before) != fmt.Sprint(after) && !strings.Contains(c.name, "demonstration") {
				t.Errorf("was %v\nis  %v", before, after)
			}
			if files, err := os.ReadDir(filepath.Join(s.home, "outside")); err == nil && len(files) > 2 {
				t.Errorf("written outside: %v", files)
			}
		})
	}
}
