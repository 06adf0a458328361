package sched

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
)

// Law: a board from which the block placed last is taken back is as it was before, down to every
// span, hold and setting, however deep the search stands.
func TestTakingBackLeavesTheBoardSeeds(t *testing.T) {
	takenBack, kept := 0, 0
	for seed := range uint64(draws(150, 600)) {
		rng := rand.New(rand.NewPCG(seed, 84))
		p := keptProblem(rng, 3+rng.IntN(9))
		m, err := newModel(&p)
		if err != nil || len(m.blocks) > 64 {
			continue
		}
		s := &search{m: m, loads: m.loads(), best: &board{m: m, end: never}, prio: m.latestFinish(), head: m.head, after: make([]uint64, len(m.blocks))}
		bd := m.newBoard()
		text := func() string {
			return fmt.Sprint(bd.busy, bd.hulls, bd.sets, bd.pools, bd.start, bd.who, bd.end)
		}
		var deeper func(done uint64, last int)
		deeper = func(done uint64, last int) {
			options := s.options(bd, done, last)
			was, end, before := slices.Clone(bd.hulls), bd.end, text()
			for n := range min(2, len(options)) {
				o := options[(n+rng.IntN(len(options)))%len(options)]
				bd.put(o.block, o.start, o.who)
				if n == 0 {
					deeper(done|1<<o.block, o.start)
				}
				bd.takeBack(o.block, was, end)
				takenBack++
				kept += len(bd.hulls)
				if after := text(); after != before {
					t.Fatalf("seed %d, block %d: the board was\n%s\nand is\n%s", seed, o.block, before, after)
				}
			}
		}
		deeper(0, 0)
	}
	if takenBack < 1000 || kept < 500 {
		t.Errorf("the instances do not exercise it: %d taken back, %d holds", takenBack, kept)
	}
}
