package main

import (
	"bytes"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
)

// pack is what is known of a package before any change: its tests, what they come to, and
// how long they take.
type pack struct {
	once  sync.Once
	err   error
	tests []test // the shortest first
	// blocks of each file, by its base name, and beside each the tests that come there
	blocks map[string]map[block][]int
}

type test struct {
	name string
	took time.Duration
}

// block is lines and columns of a file.
type block struct{ fromLine, fromCol, toLine, toCol int }

func (b block) holds(line, col int) bool {
	return (line > b.fromLine || line == b.fromLine && col >= b.fromCol) && (line < b.toLine || line == b.toLine && col <= b.toCol)
}

// pack is a package as it is; its tests have to pass.
func (r *run) pack(dir string) (*pack, error) {
	r.mu.Lock()
	p := r.packs[dir]
	if p == nil {
		p = &pack{blocks: map[string]map[block][]int{}}
		r.packs[dir] = p
	}
	r.mu.Unlock()
	p.once.Do(func() { p.err = r.learn(dir, p) })
	return p, p.err
}

// learn runs each test alone.
func (r *run) learn(dir string, p *pack) error {
	binary := filepath.Join(r.scratch, strings.ReplaceAll(dir, "/", "-")+".test")
	if text, err := r.command(r.root, "go", "test", "-c", "-cover", "-vet=off", "-o", binary, "./"+dir); err != nil {
		return fmt.Errorf("%s: its tests do not build:\n%s", dir, text)
	}
	names, err := r.command(filepath.Join(r.root, dir), binary, "-test.list", "^(Test|Fuzz|Example)")
	if err != nil {
		return fmt.Errorf("%s: %w\n%s", dir, err, names)
	}
	profiles := map[string][]byte{}
	for _, name := range strings.Fields(string(names)) {
		profile := binary + "." + name
		began := time.Now()
		if text, err := r.command(filepath.Join(r.root, dir), binary, "-test.timeout", "6h", "-test.coverprofile", profile, "-test.run", "^"+name+"$"); err != nil {
			return fmt.Errorf("%s: its tests fail without any change:\n%s", dir, text)
		}
		p.tests = append(p.tests, test{name, time.Since(began)})
		if profiles[name], err = os.ReadFile(profile); err != nil {
			return err
		}
	}
	slices.SortFunc(p.tests, func(a, b test) int { return int(a.took - b.took) })
	for i, t := range p.tests {
		if err := p.add(i, profiles[t.name]); err != nil {
			return err
		}
	}
	return nil
}

// add notes which blocks a test comes to.
func (p *pack) add(t int, profile []byte) error {
	for line := range strings.Lines(string(profile)) {
		// fettle/internal/unit/money.go:12.34,15.2 3 1
		file, rest, ok := strings.Cut(line, ".go:")
		f := strings.FieldsFunc(rest, func(c rune) bool { return strings.ContainsRune(".,: \n", c) })
		if !ok || len(f) != 6 {
			continue
		}
		var b block
		for i, to := range []*int{&b.fromLine, &b.fromCol, &b.toLine, &b.toCol} {
			var err error
			if *to, err = strconv.Atoi(f[i]); err != nil {
				return err
			}
		}
		name := path.Base(file) + ".go"
		if p.blocks[name] == nil {
			p.blocks[name] = map[block][]int{}
		}
		if reached := p.blocks[name][b]; f[5] != "0" {
			p.blocks[name][b] = append(reached, t)
		} else {
			p.blocks[name][b] = reached
		}
	}
	return nil
}

// reaching is the tests that come to a change, the short ones apart from the long ones. The
// conditions of cases are in no block: for them it is the tests that come to their function.
func (p *pack) reaching(m mutant, src []byte) (short, long []test) {
	line := bytes.Count(src[:m.from], []byte("\n")) + 1
	col := m.from - bytes.LastIndexByte(src[:m.from], '\n')
	tests, inside := map[int]bool{}, false
	note := func(which func(b block) bool) {
		for b, reached := range p.blocks[path.Base(m.file)] {
			if which(b) {
				inside = true
				for _, t := range reached {
					tests[t] = true
				}
			}
		}
	}
	note(func(b block) bool { return b.holds(line, col) })
	if !inside {
		note(func(b block) bool { return b.fromLine >= m.in[0] && b.toLine <= m.in[1] })
	}
	for i, t := range p.tests {
		switch {
		case !tests[i]:
		case t.took < 500*time.Millisecond:
			short = append(short, t)
		default:
			long = append(long, t)
		}
	}
	return short, long
}
