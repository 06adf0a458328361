// Command mutants asks what the tests are worth: it changes one small place of a package
// at a time (a comparison, a sign, a condition, a line left out) and runs the package's own
// tests. A change that no test notices survives, and is printed with its line.
//
//	go run -C tools ./mutants -n 200
//
// The changes are drawn by their names: file, function, kind and number. What is drawn in a
// function stays the same when another function is changed. A change that does not build is
// no change, and the next is drawn. Nothing in the tree is touched: each runs with an overlay.
// Changes that make no difference anyone could see stand in same.txt, each with its reason:
// they are not tried, and counted apart.
package main

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
)

// fate is what became of a mutant.
type fate string

const (
	killed   fate = "killed"
	late     fate = "killed: the tests did not end"
	survived fate = "survived"
	unseen   fate = "survived: no test of the package comes here"
	unbuilt  fate = "does not build"
	same     fate = "cannot be noticed"
)

func (f fate) lives() bool { return f == survived || f == unseen }

type run struct {
	root, scratch string
	mu            sync.Mutex
	packs         map[string]*pack
}

// pack is what is known of a package before any change: what its tests do not reach, and how
// long they take.
type pack struct {
	once   sync.Once
	err    error
	unseen map[string][]block // by the base name of a file: what they never come to
	took   time.Duration
}

// block is lines and columns of a file.
type block struct{ fromLine, fromCol, toLine, toCol int }

func main() {
	n := flag.Int("n", 200, "how many changes")
	seed := flag.Uint64("seed", 1, "of the draw")
	under := flag.String("in", "internal", "folders, with commas between")
	at := flag.Int("j", 2, "how many at once")
	again := flag.String("again", "", "a list of an earlier run: try what survived there once more")
	list := flag.String("list", "", "write all fates to this file")
	flag.Parse()
	if err := all(*n, *seed, *under, *at, *again, *list); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func all(n int, seed uint64, under string, at int, again, list string) error {
	out, err := exec.Command("go", "env", "GOMOD").Output()
	if err != nil {
		return err
	}
	r := &run{root: filepath.Dir(filepath.Dir(strings.TrimSpace(string(out)))), packs: map[string]*pack{}}
	if r.scratch, err = os.MkdirTemp("", "mutants"); err != nil {
		return err
	}
	defer os.RemoveAll(r.scratch)
	var drawn []mutant
	for dir := range strings.SplitSeq(under, ",") {
		found, err := r.draw(dir, seed)
		if err != nil {
			return err
		}
		drawn = append(drawn, found...)
	}
	slices.SortFunc(drawn, func(a, b mutant) int { return cmp.Or(cmp.Compare(a.order, b.order), cmp.Compare(a.name, b.name)) })
	alike, err := r.same(strings.Split(under, ","), drawn)
	if err != nil {
		return err
	}
	if again != "" {
		if drawn, err = survivorsOf(again, drawn); err != nil {
			return err
		}
		n = len(drawn)
	}
	fates, err := r.tryAll(drawn, alike, n, at)
	if err != nil {
		return err
	}
	return tell(drawn, fates, list)
}

// draw is every change of every file below a folder that has tests.
func (r *run) draw(dir string, seed uint64) ([]mutant, error) {
	var out []mutant
	err := filepath.WalkDir(filepath.Join(r.root, dir), func(p string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() && d.Name() == "testdata" {
			return cmp.Or(err, filepath.SkipDir)
		}
		if d.IsDir() || !strings.HasSuffix(p, ".go") || strings.HasSuffix(p, "_test.go") {
			return nil
		}
		if tests, _ := filepath.Glob(filepath.Join(filepath.Dir(p), "*_test.go")); len(tests) == 0 {
			return nil
		}
		src, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(r.root, p)
		if err != nil {
			return err
		}
		found, err := mutantsOf(filepath.ToSlash(rel), src, seed)
		out = append(out, found...)
		return err
	})
	return out, err
}

// tryAll tries changes in the order drawn until so many were built.
func (r *run) tryAll(drawn []mutant, alike map[string]bool, n, at int) ([]fate, error) {
	fates := make([]fate, len(drawn))
	var mu sync.Mutex
	var failed error
	next, built, running := 0, 0, 0
	wake := sync.NewCond(&mu)
	var wait sync.WaitGroup
	for range at {
		wait.Go(func() {
			mu.Lock()
			defer mu.Unlock()
			for {
				for built+running >= n && running > 0 && built < n && failed == nil {
					wake.Wait() // one that runs may turn out not to build
				}
				if failed != nil || built >= n || built+running >= n || next == len(drawn) {
					return
				}
				k := next
				next++
				if alike[drawn[k].name] {
					fates[k] = same
					continue
				}
				running++
				mu.Unlock()
				f, err := r.try(drawn[k])
				mu.Lock()
				running--
				fates[k], failed = f, errors.Join(failed, err)
				if f != unbuilt {
					built++
					fmt.Printf("%3d of %d  %-10s %s\n", built, n, strings.SplitN(string(f), ":", 2)[0], drawn[k])
				}
				wake.Broadcast()
			}
		})
	}
	wait.Wait()
	return fates, failed
}

// same is the names of the changes that cannot be noticed. One that names no change any more
// has to leave the list: its reason may not hold for what stands there now.
func (r *run) same(under []string, drawn []mutant) (map[string]bool, error) {
	data, err := os.ReadFile(filepath.Join(r.root, "tools", "mutants", "same.txt"))
	if err != nil {
		return nil, err
	}
	out := map[string]bool{}
	for line := range strings.Lines(string(data)) {
		name, why, _ := strings.Cut(strings.TrimSpace(line), "\t")
		if why == "" {
			return nil, fmt.Errorf("same.txt: %q has no reason: write the name, a tab and why nobody can notice it", name)
		}
		here := slices.ContainsFunc(under, func(dir string) bool { return strings.HasPrefix(name, strings.TrimSuffix(dir, "/")+"/") })
		if here && !slices.ContainsFunc(drawn, func(m mutant) bool { return m.name == name }) {
			return nil, fmt.Errorf("same.txt: there is no change %q", name)
		}
		out[name] = true
	}
	return out, nil
}

// try runs the tests of the package with one change.
func (r *run) try(m mutant) (fate, error) {
	src, err := os.ReadFile(filepath.Join(r.root, m.file))
	if err != nil {
		return "", err
	}
	p, err := r.pack(path.Dir(m.file))
	if err != nil {
		return "", err
	}
	dir, err := os.MkdirTemp(r.scratch, "one")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(dir)
	changed := slices.Concat(src[:m.from], []byte(m.with), src[m.to:])
	file, overlay := filepath.Join(dir, "changed.go"), filepath.Join(dir, "overlay.json")
	names, err := json.Marshal(map[string]map[string]string{"Replace": {filepath.Join(r.root, m.file): file}})
	if err := errors.Join(err, os.WriteFile(file, changed, 0o644), os.WriteFile(overlay, names, 0o644)); err != nil {
		return "", err
	}
	seen := p.reaches(path.Base(m.file), src, m.from)
	args := []string{"test", "-overlay", overlay, "-vet=off", "-failfast", "-timeout", (2*time.Minute + 10*p.took).String(), "./" + path.Dir(m.file)}
	if !seen {
		args = slices.Insert(args, 1, "-run", "^$")
	}
	text, err := r.command(args...)
	switch {
	case bytes.Contains(text, []byte("panic: test timed out after")): // the tests end themselves: none of them runs on
		return late, nil
	case bytes.Contains(text, []byte("[build failed]")) || bytes.Contains(text, []byte("[setup failed]")):
		return unbuilt, nil
	case err != nil:
		return killed, nil
	case !seen:
		return unseen, nil
	}
	return survived, nil
}

func (r *run) command(args ...string) ([]byte, error) {
	c := exec.Command("go", args...)
	c.Dir = r.root
	c.Env = append(os.Environ(), "GOGC=400")
	return c.CombinedOutput()
}

// pack is a package as it is; its tests have to pass.
func (r *run) pack(dir string) (*pack, error) {
	r.mu.Lock()
	p := r.packs[dir]
	if p == nil {
		p = &pack{unseen: map[string][]block{}}
		r.packs[dir] = p
	}
	r.mu.Unlock()
	p.once.Do(func() { p.err = r.learn(dir, p) })
	return p, p.err
}

func (r *run) learn(dir string, p *pack) error {
	profile := filepath.Join(r.scratch, strings.ReplaceAll(dir, "/", "-")+".cover")
	began := time.Now()
	text, err := r.command("test", "-vet=off", "-timeout", "6h", "-coverprofile", profile, "./"+dir)
	if err != nil {
		return fmt.Errorf("%s: its tests fail without any change:\n%s", dir, text)
	}
	p.took = time.Since(began)
	data, err := os.ReadFile(profile)
	if err != nil {
		return err
	}
	for line := range strings.Lines(string(data)) {
		// fettle/internal/unit/money.go:12.34,15.2 3 1
		file, rest, ok := strings.Cut(line, ".go:")
		f := strings.FieldsFunc(rest, func(c rune) bool { return strings.ContainsRune(".,: \n", c) })
		if !ok || len(f) != 6 || f[5] != "0" {
			continue
		}
		var b block
		for i, to := range []*int{&b.fromLine, &b.fromCol, &b.toLine, &b.toCol} {
			if *to, err = strconv.Atoi(f[i]); err != nil {
				return err
			}
		}
		name := path.Base(file) + ".go"
		p.unseen[name] = append(p.unseen[name], b)
	}
	return nil
}

// reaches: the tests come to this byte of a file. The conditions of cases are in no block.
func (p *pack) reaches(file string, src []byte, at int) bool {
	line := bytes.Count(src[:at], []byte("\n")) + 1
	col := at - bytes.LastIndexByte(src[:at], '\n')
	return !slices.ContainsFunc(p.unseen[file], func(b block) bool {
		return (line > b.fromLine || line == b.fromLine && col >= b.fromCol) && (line < b.toLine || line == b.toLine && col <= b.toCol)
	})
}

// survivorsOf are the changes that an earlier list says survived.
func survivorsOf(list string, drawn []mutant) ([]mutant, error) {
	f, err := os.Open(list)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	lived := map[string]bool{}
	lines := bufio.NewScanner(f)
	for lines.Scan() {
		if name, what, ok := strings.Cut(lines.Text(), "\t"); ok && fate(strings.SplitN(what, "\t", 2)[0]).lives() {
			lived[name] = true
		}
	}
	return slices.DeleteFunc(drawn, func(m mutant) bool { return !lived[m.name] }), lines.Err()
}

func tell(drawn []mutant, fates []fate, list string) error {
	var all strings.Builder
	var lived, tried, alike int
	fmt.Println()
	for k, f := range fates {
		if f == "" || f == unbuilt {
			continue
		}
		if f == same {
			alike++
			continue
		}
		tried++
		fmt.Fprintf(&all, "%s\t%s\t%s\n", drawn[k].name, f, drawn[k])
		if f.lives() {
			lived++
			fmt.Printf("%s: %s\n", f, drawn[k])
		}
	}
	if tried == 0 {
		return errors.New("no change was tried")
	}
	fmt.Printf("%d changes, %d survived (%.1f %%); %d more cannot be noticed\n", tried, lived, 100*float64(lived)/float64(tried), alike)
	if list == "" {
		return nil
	}
	return os.WriteFile(list, []byte(all.String()), 0o644)
}
