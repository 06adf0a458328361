// Command mutants asks what the tests are worth: it changes one small place of a package
// at a time (a comparison, a sign, a condition, a line left out) and runs the tests of the
// package that come to this place, the short ones first. A change that no test notices
// survives, and is printed with its line.
//
//	go run -C tools ./mutants -n 200
//
// The changes are drawn by their names: file, function, kind and number. What is drawn in a
// function stays the same when another function is changed. A change that does not build is
// no change, and the next is drawn. Nothing in the tree is touched: each runs with an overlay.
// Changes that make no difference anyone could see stand in same.txt, each with its reason:
// they are not tried, and counted apart. A list is written as the run goes: one that was
// stopped goes on with -resume.
package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"maps"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
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

func main() {
	n := flag.Int("n", 200, "how many changes")
	seed := flag.Uint64("seed", 1, "of the draw")
	under := flag.String("in", "internal", "folders, with commas between")
	at := flag.Int("j", 2, "how many at once")
	again := flag.String("again", "", "a list of an earlier run: try what survived there once more")
	list := flag.String("list", "", "write all fates to this file")
	resume := flag.Bool("resume", false, "go on with the list of a run that was stopped")
	flag.Parse()
	if err := all(*n, *seed, *under, *at, *again, *list, *resume); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func all(n int, seed uint64, under string, at int, again, list string, resume bool) error {
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
		before, err := fatesOf(again)
		if err != nil {
			return err
		}
		drawn = slices.DeleteFunc(drawn, func(m mutant) bool { return !before[m.name].lives() })
		n = len(drawn)
	}
	known := map[string]fate{}
	if resume {
		if known, err = fatesOf(list); err != nil {
			return err
		}
	}
	fates, err := r.tryAll(drawn, known, alike, n, at, list)
	if err != nil {
		return err
	}
	return tell(drawn, fates)
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

// tryAll tries changes in the order drawn until so many were built. What is known of an
// earlier run is not tried again.
func (r *run) tryAll(drawn []mutant, known map[string]fate, alike map[string]bool, n, at int, list string) ([]fate, error) {
	fates := make([]fate, len(drawn))
	var to io.Writer = io.Discard
	if list != "" {
		f, err := os.Create(list)
		if err != nil {
			return nil, err
		}
		defer f.Close()
		to = f
	}
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
				f, err := known[drawn[k].name], error(nil)
				if f == "" {
					f, err = r.try(drawn[k])
				}
				mu.Lock()
				running--
				_, unwritten := fmt.Fprintf(to, "%s\t%s\t%s\n", drawn[k].name, f, drawn[k])
				fates[k], failed = f, errors.Join(failed, err, unwritten)
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

// try runs the tests of the package that come to the changed place.
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
	binary := filepath.Join(dir, "changed.test")
	if text, err := r.command(r.root, "go", "test", "-c", "-vet=off", "-overlay", overlay, "-o", binary, "./"+path.Dir(m.file)); err != nil {
		if bytes.Contains(text, []byte("/changed.go:")) {
			return unbuilt, nil
		}
		return "", fmt.Errorf("%s: %w\n%s", m, err, text)
	}
	short, long := p.reaching(m, src)
	if len(short)+len(long) == 0 {
		return unseen, nil
	}
	for _, tests := range [][]test{short, long} {
		if f := r.notice(path.Dir(m.file), binary, tests); f != survived {
			return f, nil
		}
	}
	return survived, nil
}

// notice runs some tests of a package.
func (r *run) notice(dir, binary string, tests []test) fate {
	if len(tests) == 0 {
		return survived
	}
	var names []string
	limit := 30 * time.Second
	for _, t := range tests {
		names = append(names, t.name)
		limit += 20 * t.took
	}
	text, err := r.command(filepath.Join(r.root, dir), binary, "-test.failfast", "-test.timeout", limit.String(), "-test.run", "^("+strings.Join(names, "|")+")$")
	switch {
	case bytes.Contains(text, []byte("panic: test timed out after")): // the tests end themselves: none of them runs on
		return late
	case err != nil:
		return killed
	}
	return survived
}

func (r *run) command(dir, name string, args ...string) ([]byte, error) {
	c := exec.Command(name, args...)
	c.Dir = dir
	c.Env = append(os.Environ(), "GOGC=400", "GOCOVERDIR="+r.scratch)
	return c.CombinedOutput()
}

// fatesOf are the fates that a list tells, by the names of the changes.
func fatesOf(list string) (map[string]fate, error) {
	data, err := os.ReadFile(list)
	if err != nil {
		return nil, err
	}
	out := map[string]fate{}
	for line := range strings.Lines(string(data)) {
		if f := strings.Split(line, "\t"); len(f) == 3 && strings.HasSuffix(line, "\n") {
			out[f[0]] = fate(f[1])
		}
	}
	return out, nil
}

// tell prints what survived, how many of each package, and of all.
func tell(drawn []mutant, fates []fate) error {
	type count struct{ tried, lived int }
	of := map[string]count{}
	var all count
	alike := 0
	fmt.Println()
	for k, f := range fates {
		if f == same {
			alike++
		}
		if f == "" || f == unbuilt || f == same {
			continue
		}
		c := of[path.Dir(drawn[k].file)]
		c.tried++
		all.tried++
		if f.lives() {
			c.lived++
			all.lived++
			fmt.Printf("%s: %s\n", f, drawn[k])
		}
		of[path.Dir(drawn[k].file)] = c
	}
	if all.tried == 0 {
		return errors.New("no change was tried")
	}
	for _, dir := range slices.Sorted(maps.Keys(of)) {
		fmt.Printf("%-24s %3d changes, %2d survived\n", dir, of[dir].tried, of[dir].lived)
	}
	fmt.Printf("%d changes, %d survived (%.1f %%); %d more cannot be noticed\n", all.tried, all.lived, 100*float64(all.lived)/float64(all.tried), alike)
	return nil
}
