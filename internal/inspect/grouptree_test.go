package inspect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// trees is every way to hang n things together by n - 1 gaps (H. Pruefer, Neuer Beweis
// eines Satzes ueber Permutationen, 1918: one for every list of n - 2 of them).
func trees(n int) (all [][][2]int) {
	code := make([]int, max(0, n-2))
	for {
		degree := make([]int, n)
		for i := range degree {
			degree[i] = 1
		}
		for _, c := range code {
			degree[c]++
		}
		var tree [][2]int
		for _, c := range code {
			for i := range degree {
				if degree[i] == 1 {
					tree = append(tree, [2]int{i, c})
					degree[i]--
					degree[c]--
					break
				}
			}
		}
		var last []int
		for i, d := range degree {
			if d == 1 {
				last = append(last, i)
			}
		}
		all = append(all, append(tree, [2]int{last[0], last[1]}))
		k := 0
		for k < len(code) && code[k] == n-1 {
			code[k] = 0
			k++
		}
		if k == len(code) {
			return all
		}
		code[k]++
	}
}

// lineDist is the least distance of two lines in the plane.
func lineDist(a, b []geom.Vec) float64 {
	best := math.Inf(1)
	for i := 0; i+1 < len(a); i++ {
		for k := 0; k+1 < len(b); k++ {
			best = min(best, geom.SegmentsDist(a[i], a[i+1], b[k], b[k+1]))
		}
	}
	return best
}

// A group is as long as its cracks and the shortest gaps that connect them: against
// every tree of gaps over groups of 2 to 6 random cracks, with the rule of a gap and with
// rules of lengths, on a flat plate and over the edge of a roof, where distances are those
// of the unfolded plane. Which cracks a gap joins is held against every chain of them.
func TestGroupLengthAgainstEveryTree(t *testing.T) {
	made := map[int]int{}
	for seed := range uint64(campaign(24, 1500)) {
		r := rand.New(rand.NewPCG(seed, 21))
		over := seed%2 == 1
		b := newBench(plate())
		flat := func(p geom.Vec) geom.Vec { return p }
		place := func(x, y float64) geom.Vec { return geom.Vec{60 + x, 30 + y, 0} }
		if over {
			b = newBench(roof())
			flat = unfolded
			place = func(x, y float64) geom.Vec {
				if y -= 16; y >= 0 {
					return geom.Vec{20 + x, y, 0}
				}
				return geom.Vec{20 + x, 0, -y}
			}
		}
		rule := &b.body.Procedures[0]
		byGap := seed%3 > 0
		if byGap {
			rule.GroupGap = unit.MM(3 + 9*r.Float64())
		} else {
			rule.GroupGap, rule.Grouping = 0, &body.Grouping{HalfSum: 1, Again: r.IntN(2) == 0}
		}
		var lines [][]geom.Vec // unfolded
		ids := map[job.FindingID]int{}
		for i := range 2 + r.IntN(5) {
			x, y, head := 40*r.Float64(), 32*r.Float64(), 2*math.Pi*r.Float64()
			trace := []geom.Vec{place(x, y)}
			line := []geom.Vec{flat(trace[0])}
			for range 1 + r.IntN(2) {
				x, y, head = x+(2+5*r.Float64())*math.Cos(head), y+(2+5*r.Float64())*math.Sin(head), head+0.6*r.Float64()
				y = min(32, max(0, y))
				trace = append(trace, place(x, y))
				line = append(line, flat(trace[len(trace)-1]))
			}
			id := job.FindingID(fmt.Sprintf("F%d", i))
			ids[id] = i
			lines = append(lines, line)
			b.crack(id, 1e-7, trace...)
		}
		res, _ := Run(b.input(t))
		group := make([]string, len(lines)) // of each
		for _, f := range res.Findings {
			group[ids[f.ID]] = f.Group
		}
		for _, g := range res.Groups {
			want := math.Inf(1)
			for _, tree := range trees(len(g.Findings)) {
				sum := 0.0
				for _, e := range tree {
					sum += lineDist(lines[ids[g.Findings[e[0]]]], lines[ids[g.Findings[e[1]]]])
				}
				want = min(want, sum)
			}
			for _, id := range g.Findings {
				l := lines[ids[id]]
				for i := 1; i < len(l); i++ {
					want += l[i].Dist(l[i-1])
				}
			}
			made[len(g.Findings)]++
			slack := 1e-4
			if over { // a way over the edge is told to closeMM, never too short
				slack = closeMM * float64(len(g.Findings))
			}
			if g.LengthMM < want-1e-4 || g.LengthMM > want+slack {
				t.Errorf("seed %d: %v of %d, over the edge %v: %.4f mm, the shortest of all trees %.4f", seed, g.Findings, len(lines), over, g.LengthMM, want)
			}
		}
		if !byGap {
			continue
		}
		joined := make([]int, len(lines))
		for i := range joined {
			joined[i] = i
		}
		for range lines {
			for i := range lines {
				for k := range lines {
					if lineDist(lines[i], lines[k]) <= float64(rule.GroupGap) {
						m := min(joined[i], joined[k])
						joined[i], joined[k] = m, m
					}
				}
			}
		}
		for i := range lines {
			for k := range i {
				if (joined[i] == joined[k]) != (group[i] != "" && group[i] == group[k]) {
					t.Errorf("seed %d: cracks %d and %d, gap %v: in one group %v", seed, k, i, rule.GroupGap, group[i] == group[k])
				}
			}
		}
	}
	if made[2] == 0 || made[3] == 0 || made[4]+made[5]+made[6] == 0 {
		t.Errorf("groups by size: %v", made)
	}
	t.Logf("groups by size: %v", made)
}
