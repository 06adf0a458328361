package cli

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/diag"
)

// What strangers send: a folder whose files lead elsewhere, are no files, or
// say what they should not.

const secret = "of another customer, not of this job"

// patience is far above what any command takes on these folders; without it a
// pipe would keep the tests waiting.
const patience = 30 * time.Minute

// stranger is a demonstration in a folder of its own, with a secret beside it.
type stranger struct {
	t      *testing.T
	home   string // holds everything
	job    string
	secret string // file outside the job
}

func newStranger(t *testing.T) stranger {
	t.Helper()
	home := demoFolder(t)
	s := stranger{t, home, filepath.Join(home, "fettle-demo", "job"), filepath.Join(home, "secret.txt")}
	s.put(s.secret, secret)
	return s
}

func (s stranger) put(file, text string) {
	s.t.Helper()
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		s.t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		s.t.Fatal(err)
	}
}

// edit replaces one text in a file of the demonstration.
func (s stranger) edit(file, old, fresh string) {
	s.t.Helper()
	file = filepath.Join(s.home, "fettle-demo", filepath.FromSlash(file))
	data, err := os.ReadFile(file)
	if err != nil || strings.Count(string(data), old) != 1 {
		s.t.Fatalf("%s: %v, %q occurs %d times", file, err, old, strings.Count(string(data), old))
	}
	s.put(file, strings.Replace(string(data), old, fresh, 1))
}

// evidence adds a piece of evidence of finding D8.
func (s stranger) evidence(file string) {
	s.t.Helper()
	s.edit("job/job.yaml", "\nquestions:\n", "\n  - {id: E9, file: "+fmt.Sprintf("%q", file)+", text: Sent by a stranger, on: 2026-11-24, by: technician T2}\nquestions:\n")
	s.edit("job/job.yaml", "text: Short crack on top of the left tower, beside the strut bearing.", "text: Short crack on top of the left tower.\n    evidence: [E9]")
}

// fettle runs a command and fails when it never ends or prints what is not plain.
func (s stranger) fettle(args ...string) (code int, printed string) {
	s.t.Helper()
	type done struct {
		code     int
		out, err string
	}
	end := make(chan done, 1)
	s.t.Chdir(s.home)
	go func() {
		var out, errs bytes.Buffer
		code := Run(args, Env{Stdout: &out, Stderr: &errs, Now: noon, Version: "test", Bodies: &bodies})
		end <- done{code, out.String(), errs.String()}
	}()
	select {
	case d := <-end:
		if i := strings.IndexFunc(d.out+d.err, func(r rune) bool { return r != '\n' && r != '\t' && diag.Hidden(r) }); i >= 0 {
			s.t.Errorf("%q prints %q", args, (d.out + d.err)[max(0, i-40):])
		}
		return d.code, d.out + d.err
	case <-time.After(patience):
		s.t.Fatalf("%q does not end", args)
		return 0, ""
	}
}

func noon() time.Time { return time.Date(2026, 11, 26, 12, 0, 0, 0, time.UTC) }

// tree is every file below a folder with its hash, links as what they are.
func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		fi, err := d.Info()
		if err != nil || !fi.Mode().IsRegular() {
			out[p] = fi.Mode().String()
			return err
		}
		if fi.Size() == 0 || fi.Size() > 1<<18 { // it was not written to
			out[p] = fmt.Sprint(fi.Size(), fi.ModTime().UnixNano())
			return nil
		}
		data, err := os.ReadFile(p)
		out[p] = sumOf(string(data))
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func sumOf(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// readers are the commands that open a job with its evidence; here none of them
// writes into it. A replay opens no evidence (docs/methods/decision.md).
var readers = [][]string{{"check", "fettle-demo/job"}, {"explain", "fettle-demo/job", "D8"}, {"release", "fettle-demo/job"}, {"plan", "fettle-demo/job"},
	{"ask", "fettle-demo/job", "D8", "--out", "q"}, {"week", "fettle-demo/job"}, {"history", "fettle-demo/job"},
	{"assess", "fettle-demo/job", "--earlier", "fettle-demo/job"},
	{"answer", "fettle-demo/job", "Q-D10", "--document", "fettle-demo/job/evidence/answer-d10.txt", "--vin", "ZZZBPVL4XTN000317", "--forbid", "leave", "--by", "desk", "--dated", "2026-11-25", "--expires", "2027-02-01", "--recorded-by", "P1"}}

// refusedBy wants commands to refuse the folder, to say why, to say nothing of
// the secret, and to leave every file of the folder as it was.
func (s stranger) refusedBy(commands [][]string, why string) {
	s.t.Helper()
	before := tree(s.t, s.home)
	for _, args := range commands {
		code, printed := s.fettle(append(args, onDay(args)...)...)
		switch {
		case code != Refused:
			s.t.Errorf("%q: exit code %d\n%s", args, code, printed)
		case !regexp.MustCompile(why).MatchString(printed):
			s.t.Errorf("%q does not say %q: %s", args, why, printed)
		case strings.Contains(printed, secret) || strings.Contains(printed, sumOf(secret)):
			s.t.Errorf("%q tells the secret: %s", args, printed)
		}
	}
	after := tree(s.t, s.home)
	for p, was := range before {
		if after[p] != was {
			s.t.Errorf("%s was %s, is %s", p, was, after[p])
		}
	}
	for p := range after {
		if _, ok := before[p]; !ok {
			s.t.Errorf("%s was written", p)
		}
	}
}

// onDay gives a command the day of the demonstration where it takes one.
func onDay(args []string) []string {
	if args[0] == "history" {
		return nil
	}
	return []string{"--on", "2026-11-26"}
}

// TestEvidenceNamesStayInTheFolder: a name that any computer takes for a way out
// of the folder, a device or a hidden file is refused with its place.
func TestEvidenceNamesStayInTheFolder(t *testing.T) {
	s := newStranger(t)
	file := filepath.Join(s.job, "job.yaml")
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for i, name := range []string{"../../secret.txt", "../secret.txt", "evidence/../../../secret.txt", "evidence/..", "..", ".", "/etc/passwd", "//server/share", s.secret,
		`..\..\secret.txt`, `C:\secret.txt`, "C:secret.txt", "evidence/a.txt:stream", "evidence//a.txt", "evidence/", "./a.txt", ".ssh/id", "evidence/.hidden", "-rf", "evidence/ a",
		"a.", "a ", "CON", "nul.txt", "evidence/AUX", "com1.jpg", "LPT¹", "CONIN$", "a*b", "a?b", `a"b`, "a<b", "a|b"} {
		s.put(file, string(data))
		s.evidence(name)
		for _, args := range readers[:1+i/30] { // the names are judged in one place
			code, printed := s.fettle(append(args, onDay(args)...)...)
			if code != Refused || !regexp.MustCompile(`job\.yaml:\d+:\d+: evidence\[2\]\.file: .* is not the name of a file in the job's folder: `).MatchString(printed) {
				t.Errorf("%q: exit code %d, %s", name, code, printed)
			}
			if strings.Contains(printed, secret) || strings.Contains(printed, sumOf(secret)) {
				t.Errorf("%q tells the secret: %s", name, printed)
			}
		}
	}
}

// foreign is files that are no document of the program, in the forms in which secrets
// lie about, each with words that must not be printed.
var foreign = map[string]string{
	"lines":              "SECRET: hunter2\nAPI_KEY=abcdef\n",
	"fields":             "hunter2: abcdef\nname: hunter2\ncurrency: hunter2\n",
	"broken":             "hunter2: \"abcdef\n  - x\n",
	"a list":             "- hunter2\n- abcdef\n",
	"one value":          "hunter2 abcdef",
	"a format of others": "format: hunter2 1\npassword: abcdef\n",
	"a mesh, nearly":     "v hunter2 1 abcdef\nf hunter2 2 3\n",
	"another mesh":       "solid hunter2\nfacet abcdef\n",
	"a table of a mesh":  "ply\nformat ascii 1.0\nelement hunter2 3\nproperty abcdef x\n",
	"a format in a text": "note: |\n  format: fettle-shop 1\n  format: fettle-body 1\nhunter2: abcdef\n",
	"hidden characters":  "hunter2\x00abcdef\x1b[2J",
	"nothing":            "",
}

// TestForeignFilesAreNotPrinted: whatever file a job names as its shop or its body, and
// a recipe as its mesh, nothing of one that is no such document gets into an error, not
// even the name of a field or of another file of its folder.
func TestForeignFilesAreNotPrinted(t *testing.T) {
	for name, text := range foreign {
		t.Run(name, func(t *testing.T) {
			s := newStranger(t)
			none := func(args ...string) string {
				t.Helper()
				code, printed := s.fettle(args...)
				if code != Refused || strings.Contains(printed, "hunter2") || strings.Contains(printed, "abcdef") {
					t.Errorf("%q: exit code %d, %s", args, code, printed)
				}
				if strings.Contains(printed, "inner-name") {
					t.Errorf("%q names a file of the folder: %s", args, printed)
				}
				return printed
			}
			away := filepath.Join(s.home, "away")
			s.put(filepath.Join(away, "body.yaml"), text)
			s.put(filepath.Join(away, "inner-name.csv"), text)
			s.put(filepath.Join(away, "INNER-NAME.csv"), text)
			for _, e := range []string{"", ".yaml", ".ply", ".obj", ".stl", ".glb"} {
				s.put(filepath.Join(s.home, "plain"+e), text)
			}
			for _, field := range []string{"shop: ../../plain", "shop: ../../plain.yaml", "body: ../../away"} {
				word, _, _ := strings.Cut(field, ":")
				was := map[string]string{"shop": "shop: ../shop.yaml", "body": "body: ../body"}[word]
				s.edit("job/job.yaml", "\n"+was+"\n", "\n"+field+"\n")
				for _, args := range readers[:2] {
					none(append(args, onDay(args)...)...)
				}
				s.edit("job/job.yaml", "\n"+field+"\n", "\n"+was+"\n")
			}
			for _, e := range []string{"", ".yaml", ".ply", ".obj", ".stl", ".glb"} {
				s.put(filepath.Join(s.home, "recipes", "r.yaml"), "format: fettle-zones 1\nmesh: ../plain"+e+"\nmesh_unit: mm\nsharp: 30 deg\nrest: A\nzones: [{id: A, label: 1, name: A}, {id: B, label: 2, name: B}]\nsteps: [{do: grow, zone: B, from_mm: [[1, 1, 1]]}]\n")
				if printed := none("zones", "make", filepath.Join("recipes", "r.yaml")); !strings.Contains(printed, "plain"+e) {
					t.Errorf("the mesh plain%s is not what is refused: %s", e, printed)
				}
			}
		})
	}
	s := newStranger(t) // a shop with a fault is told with its place all the same
	s.edit("shop.yaml", "currency: EUR", "currency: euro")
	if code, printed := s.fettle("check", "fettle-demo/job", "--on", "2026-11-26"); code != Refused || !strings.Contains(printed, `"euro" is not a currency`) {
		t.Errorf("exit code %d, %s", code, printed)
	}
}

// TestEvidenceOfOneName: two pieces of evidence of one file name lie beside a
// question as two files, each with the hash that the text names.
func TestEvidenceOfOneName(t *testing.T) {
	s := newStranger(t)
	var lines strings.Builder
	names := []string{"evidence/left/photo.txt", "evidence/right/photo.txt", "evidence/low/PHOTO.TXT", "evidence/photo-2.txt", "evidence/left/photo.txt"}
	for i, n := range names {
		s.put(filepath.Join(s.job, filepath.FromSlash(n)), "photo of "+n)
		fmt.Fprintf(&lines, "  - {id: E1%d, file: %s, text: View %d, on: 2026-11-24, by: technician T2}\n", i, n, i)
	}
	s.edit("job/job.yaml", "\nquestions:\n", "\n"+lines.String()+"questions:\n")
	s.edit("job/job.yaml", "text: Short crack on top of the left tower, beside the strut bearing.", "text: Short crack.\n    evidence: [E10, E11, E12, E13, E14]")
	ask := []string{"ask", "fettle-demo/job", "D8", "--out", "q", "--on", "2026-11-26"}
	if code, printed := s.fettle(ask...); code != Done {
		t.Fatal(code, printed)
	}
	text, err := os.ReadFile(filepath.Join(s.home, "q", "Q-D8.txt"))
	if err != nil {
		t.Fatal(err)
	}
	told := regexp.MustCompile(`(?m)^- (E1\d), .*: (evidence/\S+), SHA-256 ([0-9a-f]{64})$`).FindAllStringSubmatch(string(text), -1)
	if len(told) != len(names) {
		t.Fatalf("%d pieces are told:\n%s", len(told), text)
	}
	lies := map[string]string{}
	for i, m := range told {
		data, err := os.ReadFile(filepath.Join(s.home, "q", filepath.FromSlash(m[2])))
		if err != nil || string(data) != "photo of "+names[i] || sumOf(string(data)) != m[3] {
			t.Errorf("%s: %q, %v", m[0], data, err)
		}
		if was, ok := lies[strings.ToLower(m[2])]; ok && was != names[i] {
			t.Errorf("%s and %s both lie at %s", was, names[i], m[2])
		}
		lies[strings.ToLower(m[2])] = names[i]
	}
	// Again is the same; another file in the place of one is not written over.
	if code, printed := s.fettle(ask...); code != Done {
		t.Error(code, printed)
	}
	s.put(filepath.Join(s.home, "q", "evidence", "photo.txt"), "of another question")
	if code, printed := s.fettle(ask...); code != Refused || !strings.Contains(printed, "is there already and is another file") {
		t.Error(code, printed)
	}
	if data, _ := os.ReadFile(filepath.Join(s.home, "q", "evidence", "photo.txt")); string(data) != "of another question" {
		t.Errorf("it was written over: %q", data)
	}
}

// TestSizesAreNamed: a file beyond the limit of its kind is refused before it is
// read, and the limit named. The files are sparse.
func TestSizesAreNamed(t *testing.T) {
	for _, c := range []struct {
		name, file string
		size       int64
		why        string
	}{
		{"evidence", "job/evidence/inspection-sheet.txt", 3 << 30, `inspection-sheet\.txt has 3 GB; a piece of evidence has 256 MB at most`},
		{"job", "job/job.yaml", 8<<20 + 1, `job\.yaml: has 8\.0 MB; a document or table has 8 MB at most`},
		{"readings", "job/readings.csv", 3 << 30, `a document or table has 8 MB at most`},
		{"shop", "shop.yaml", 3 << 30, `a document or table has 8 MB at most`},
		{"mesh", "body/front-casting.ply", 3 << 30, `a mesh has 256 MB at most`},
		{"procedure", "body/procedures/br-fc-d.yaml", 9 << 20, `a document or table has 8 MB at most`},
		{"something in a body", "body/notes.bin", 65 << 20, `another file of a body has 64 MB at most`},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newStranger(t)
			full := filepath.Join(s.home, "fettle-demo", filepath.FromSlash(c.file))
			f, err := os.OpenFile(full, os.O_WRONLY|os.O_CREATE, 0o644)
			if err == nil {
				err = f.Truncate(c.size)
			}
			if err != nil {
				t.Fatal(err)
			}
			if err := f.Close(); err != nil {
				t.Fatal(err)
			}
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			s.refusedBy(readers[:1], c.why)
			runtime.ReadMemStats(&after)
			if got := after.TotalAlloc - before.TotalAlloc; got > 512<<20 {
				t.Errorf("%d MB were taken", got>>20)
			}
		})
	}
	t.Run("files of a body", func(t *testing.T) {
		s := newStranger(t)
		more := filepath.Join(s.home, "fettle-demo", "body", "more")
		s.put(filepath.Join(more, "0"), "")
		for i := range 10_000 { // links: making so many files anew takes seconds
			if err := os.Link(filepath.Join(more, "0"), filepath.Join(more, fmt.Sprint(i+1))); err != nil {
				t.Fatal(err)
			}
		}
		s.refusedBy([][]string{{"check", "fettle-demo/job"}}, `a body has 10000 at most`)
	})
}

// TestLargeEvidenceTakesNoMemory: evidence is streamed into its hash.
func TestLargeEvidenceTakesNoMemory(t *testing.T) {
	s := newStranger(t)
	const size = 200 << 20
	if code, printed := s.fettle("check", "fettle-demo/job", "--on", "2026-11-26"); code != Done {
		t.Fatal(printed)
	}
	measure := func() uint64 {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		if code, printed := s.fettle("check", "fettle-demo/job", "--on", "2026-11-26"); code != Done {
			t.Fatal(printed)
		}
		runtime.ReadMemStats(&after)
		return after.TotalAlloc - before.TotalAlloc
	}
	plain := measure()
	s.evidence("evidence/film.bin")
	film := filepath.Join(s.job, "evidence", "film.bin")
	s.put(film, "")
	if err := os.Truncate(film, size); err != nil {
		t.Fatal(err)
	}
	if large := measure(); large > plain+size/10 {
		t.Errorf("%d MB were taken, %d MB without it", large>>20, plain>>20)
	}
}

// TestNothingHiddenGetsOut: control sequences and direction marks in documents,
// written as escapes, on the command line and in evidence never reach the
// terminal; documents with them are refused with their place.
func TestNothingHiddenGetsOut(t *testing.T) {
	attack := `\e[2J\e[HJob DEMO-0317: nothing is missing.`
	for _, c := range []struct{ file, old, fresh string }{
		{"job/job.yaml", "text: Front sensor torn off its seat", `text: "` + attack + `"`},
		{"job/job.yaml", "text: Front sensor torn off its seat", `text: "turned \u202Etxet\u202C"`},
		{"job/job.yaml", "text: Front sensor torn off its seat", `text: "\x9b2J"`},
		{"job/job.yaml", "text: Front sensor torn off its seat", `text: "one\nsound: job x"`},
		{"job/job.yaml", "author: planner P1", `author: "planner P1` + attack + `"`},
		{"job/job.yaml", "id: DEMO-0317", `"id` + attack + `": DEMO-0317`},
		{"job/job.yaml", "body: ../body", `body: "../body` + attack + `"`},
		{"job/job.yaml", "file: evidence/answer-d10.txt", `file: "evidence/answer` + attack + `"`},
		{"body/body.yaml", "\nload_state:", "\n\"load\x1b_state\": x\nload_state:"},
	} {
		t.Run(c.fresh, func(t *testing.T) {
			s := newStranger(t)
			s.edit(c.file, c.old, c.fresh)
			s.refusedBy(readers[:3], `\.yaml:\d+:\d+: .*a character that is not shown \(U\+`)
		})
	}
	t.Run("command line", func(t *testing.T) {
		s := newStranger(t)
		for _, args := range [][]string{{"check", "a\x1b[2J\u202eb"}, {"explain", "fettle-demo/job", "F\x1b[2J"}, {"\x1b[2J"}, {"schema", "a\x9bb\r"}, {"check", "fettle-demo/job", "--on", "\x1b[2J"}} {
			if code, printed := s.fettle(args...); code == Done {
				t.Errorf("%q: %s", args, printed)
			}
		}
		before := tree(t, s.job)
		answer := readers[len(readers)-1]
		for _, given := range [][]string{{"--by", "desk\x1b[2J"}, {"--conditions", "a\u202eb"}, {"--by", "a\nb"}} {
			args := append(append([]string{}, answer...), given...)
			if code, printed := s.fettle(append(args, "--on", "2026-11-26")...); code == Done {
				t.Errorf("%q: %s", given, printed)
			}
		}
		if after := tree(t, s.job); fmt.Sprint(after) != fmt.Sprint(before) {
			t.Errorf("something was written: %v", after)
		}
	})
}

// TestEvidenceWithoutHash: it is hashed as it is read, the result names the hash
// and changes with the file, and it stays missing for a release.
func TestEvidenceWithoutHash(t *testing.T) {
	s := newStranger(t)
	s.evidence("evidence/note.txt")
	results := map[string]bool{}
	for _, text := range []string{"one", "two"} {
		s.put(filepath.Join(s.job, "evidence", "note.txt"), text)
		code, data := s.fettle("assess", "fettle-demo/job", "--on", "2026-11-26", "--json", "--no-report")
		if code == Refused {
			t.Fatal(data)
		}
		m := regexp.MustCompile(`"evidence": "([0-9a-f]{64})"`).FindStringSubmatch(data)
		if m == nil || results[m[1]] {
			t.Errorf("%q: the hash of all evidence is %s", text, m)
		} else {
			results[m[1]] = true
		}
		if !strings.Contains(data, `"sha256": "`+sumOf(text)+`"`) || !strings.Contains(data, "write into the job: sha256: "+sumOf(text)) {
			t.Errorf("%q: the hash is not in the result", text)
		}
	}
	if code, printed := s.fettle("assess", "fettle-demo/job", "--on", "2026-11-26"); code == Refused {
		t.Fatal(printed)
	}
	page, err := os.ReadFile(filepath.Join(s.job, "result", "report.html"))
	if err != nil || !strings.Contains(string(page), sumOf("two")) {
		t.Errorf("the hash is not in the report, %v", err)
	}
	code, printed := s.fettle("release", "fettle-demo/job", "--on", "2026-11-26", "--json")
	if code != Blocked || !regexp.MustCompile(`"where": "E9",\s+"text": [^\n]*still what was recorded`).MatchString(printed) {
		t.Errorf("exit code %d: %s", code, printed)
	}
}

// TestWritersAtOnce: of answers and questions recorded at once each is in the job
// when it was said done, with its document, and only then.
func TestWritersAtOnce(t *testing.T) {
	s := newStranger(t)
	var wait sync.WaitGroup
	var lock sync.Mutex
	said := map[string]bool{} // conditions of the answers that were said done
	at := func(args ...string) (int, string) {
		var out bytes.Buffer
		return Run(args, Env{Stdout: &out, Stderr: &out, Now: noon, Version: "test", Bodies: &bodies}), out.String()
	}
	for i := range 5 {
		doc := filepath.Join(s.home, fmt.Sprintf("from-%d", i), "reply.txt") // five documents of one name
		s.put(doc, fmt.Sprintf("reply %d", i))
		wait.Go(func() {
			code, printed := at("answer", s.job, "Q-D10", "--document", doc, "--vin", "ZZZBPVL4XTN000317", "--forbid", "leave", "--conditions", fmt.Sprintf("answer %d", i),
				"--by", "desk", "--dated", "2026-11-25", "--expires", "2027-02-01", "--recorded-by", "P1", "--on", "2026-11-26")
			lock.Lock()
			defer lock.Unlock()
			if said[fmt.Sprint(i)] = code == Done; code != Done && !strings.Contains(printed, "nothing was ") {
				t.Errorf("answer %d: exit code %d without a word that nothing was written: %s", i, code, printed)
			}
		})
		if i == 3 {
			wait.Go(func() {
				if code, printed := at("assess", s.job, "--on", "2026-11-26", "--no-report"); code == Refused {
					t.Errorf("a reader was disturbed: %s", printed)
				}
			})
		}
	}
	wait.Wait()
	data, err := os.ReadFile(filepath.Join(s.job, "job.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	done := 0
	for i, yes := range said {
		if n := strings.Count(string(data), "answer "+i+","); yes && n != 1 || !yes && n != 0 {
			t.Errorf("answer %s: said done %v, %d times in the job", i, yes, n)
		}
		if yes {
			done++
			if !strings.Contains(string(data), sumOf("reply "+i)) {
				t.Errorf("answer %s: its document is not in the job", i)
			}
		}
	}
	if done == 0 {
		t.Error("none was recorded")
	}
	if code, printed := s.fettle("check", "fettle-demo/job", "--on", "2026-11-26"); code != Done { // hashes and all
		t.Errorf("%s\n%s", printed, data)
	}
	files, err := filepath.Glob(filepath.Join(s.job, "evidence", "*"))
	if err != nil || len(files) != 2+done {
		t.Errorf("%d answers, files %q, %v", done, files, err)
	}
	for p := range tree(t, s.job) {
		if strings.HasPrefix(filepath.Base(p), ".fettle") {
			t.Errorf("%s was left behind", p)
		}
	}
}

// TestChangedInTheMeantime: what another program wrote while the job was read is
// not written over, and the document is taken back.
func TestChangedInTheMeantime(t *testing.T) {
	s := newStranger(t)
	f, err := lockedFolder(s.job)
	if err != nil {
		t.Fatal(err)
	}
	main := filepath.Join(s.job, "job.yaml")
	data, err := os.ReadFile(main)
	if err != nil {
		t.Fatal(err)
	}
	s.put(main, string(data)+"# by an editor\n")
	before := tree(t, s.job)
	err = f.within(func() error { return writeRecorded(f, recorded("evidence/new.txt", data)) })
	if diag.KindOf(err) != diag.Conflict || !strings.Contains(err.Error(), "nothing was recorded") {
		t.Error(err)
	}
	if after := tree(t, s.job); fmt.Sprint(after) != fmt.Sprint(before) {
		t.Errorf("something was written: %v", after)
	}
	// A file that lies where the document would go is not written over either.
	s.put(main, string(data))
	s.put(filepath.Join(s.job, "evidence", "new.txt"), "mine")
	before = tree(t, s.job)
	if f, err = lockedFolder(s.job); err != nil {
		t.Fatal(err)
	}
	err = f.within(func() error { return writeRecorded(f, recorded("evidence/new.txt", data)) })
	if diag.KindOf(err) != diag.Conflict {
		t.Error(err)
	}
	if after := tree(t, s.job); fmt.Sprint(after) != fmt.Sprint(before) {
		t.Errorf("something was written: %v", after)
	}
}

// recorded is a document and a new job.yaml in place of the one that was read.
func recorded(name string, was []byte) app.Recorded {
	return app.Recorded{Was: was, Files: []app.NewFile{{Name: name, Data: []byte("reply")}, {Name: "job.yaml", Data: append(bytes.Clone(was), "# new\n"...)}}}
}

// TestResultsSpareOthersFiles: a folder that holds files of the names of a
// result, and no result, is somebody's own.
func TestResultsSpareOthersFiles(t *testing.T) {
	for _, name := range []string{"report.html", "order.csv", "order.xlsx", "sheets.html"} {
		s := newStranger(t)
		mine := filepath.Join(s.home, "mine")
		s.put(filepath.Join(mine, name), "mine")
		before := tree(t, mine)
		code, printed := s.fettle("assess", "fettle-demo/job", "--on", "2026-11-26", "--out", "mine")
		if after := tree(t, mine); code != Refused || !strings.Contains(printed, "no result of fettle beside it") || fmt.Sprint(after) != fmt.Sprint(before) {
			t.Errorf("%s: exit code %d, %s, %v", name, code, printed, after)
		}
	}
}

// TestPlainOut: a character may come in two pieces, and half of one is told.
func TestPlainOut(t *testing.T) {
	text := "a é ↦ 😀 \x1b[2J\u202e\xff\tend\n" + "\xe2\x80"
	want := diag.PlainLines(text)
	for cut := 1; cut <= 5; cut++ {
		var b bytes.Buffer
		w := &plainOut{to: &b}
		for i := 0; i < len(text); i += cut {
			if n, err := w.Write([]byte(text[i:min(i+cut, len(text))])); err != nil || n == 0 {
				t.Fatal(n, err)
			}
		}
		if err := w.end(); err != nil || b.String() != want {
			t.Errorf("in pieces of %d: %q, want %q, %v", cut, b.String(), want, err)
		}
	}
}
