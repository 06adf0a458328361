package sched

import (
	"crypto/sha256"
	"encoding/gob"
	"fmt"
	"slices"
	"sync"

	"fettle/internal/halt"
)

// mostKnown bounds how many solutions are kept: those of some fifty jobs with ten routes
// each, a few kilobytes for one.
const mostKnown = 512

// Known keeps the solutions of problems: the very same problem, asked again, is not
// solved anew. Goroutines may share it, and of many that ask for one problem at once one
// solves it. The zero value is ready; nil keeps nothing.
type Known struct {
	mu   sync.Mutex
	kept []*known // the one asked for last is the last
}

// known is a problem by its hash, and what came of it.
type known struct {
	of  [sha256.Size]byte
	sol halt.Once[solved]
}

// solved is what came of a problem.
type solved struct {
	sol Solution
	err error
}

// Solve is Solve. The caller may change what it is given.
func (k *Known) Solve(p Problem) (Solution, error) {
	if k == nil {
		return Solve(p)
	}
	got := k.find(hashOf(p)).sol.Get(p.work, func() solved {
		sol, err := Solve(p)
		return solved{sol, err}
	})
	out := got.sol
	out.Slots, out.Broken = slices.Clone(out.Slots), slices.Clone(out.Broken)
	return out, got.err
}

func (k *Known) find(of [sha256.Size]byte) *known {
	k.mu.Lock()
	defer k.mu.Unlock()
	i := slices.IndexFunc(k.kept, func(x *known) bool { return x.of == of })
	x := &known{of: of}
	switch {
	case i >= 0:
		x = k.kept[i]
		k.kept = slices.Delete(k.kept, i, i+1)
	case len(k.kept) == mostKnown:
		k.kept = slices.Delete(k.kept, 0, 1)
	}
	k.kept = append(k.kept, x)
	return x
}

// hashOf is of everything in a problem: all its fields are exported, and no two values of
// one are written alike (a test looks).
func hashOf(p Problem) [sha256.Size]byte {
	h := sha256.New()
	if err := gob.NewEncoder(h).Encode(p); err != nil {
		panic(fmt.Sprintf("sched: a problem cannot be written: %v", err)) // it holds whole numbers and text only
	}
	return [sha256.Size]byte(h.Sum(nil))
}
