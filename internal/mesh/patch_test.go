package mesh

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/geom"
)

// plainFill looks for the nearest label by going over all edges until nothing gets nearer,
// and says how near.
func plainFill(s *Surface, label []int32, none int32) (out []int32, far []float64) {
	mid := func(f int32) geom.Vec {
		a, b, c := s.m.corners(int(f))
		return a.Add(b).Add(c).Scale(1. / 3)
	}
	out, far = slices.Clone(label), make([]float64, len(label))
	for f, l := range label {
		if l == none {
			far[f] = math.Inf(1)
		}
	}
	for again := true; again; {
		again = false
		s.eachTwin(func(h, t int32) {
			for _, x := range [2][2]int32{{h / 3, t / 3}, {t / 3, h / 3}} {
				if d := far[x[0]] + mid(x[0]).Dist(mid(x[1])); d < far[x[1]] {
					far[x[1]], out[x[1]], again = d, out[x[0]], true
				}
			}
		})
	}
	return out, far
}

// Every face gets the label that is nearest over the middles of faces, as a plain search
// over all edges finds it; labels that were there stay; a piece without a label keeps none.
func TestFillMatchesPlainSearch(t *testing.T) {
	left, filled := 0, 0
	for seed := range draws(40, 1000) {
		r := rand.New(rand.NewPCG(seed, 31))
		m := joined(bumpyTorus(4+r.IntN(12), 3+r.IntN(9), seed), shifted(sheet(3), geom.Vec{1000, 0, 0}))
		s := surfaceOf(t, m)
		label := make([]int32, len(m.Faces))
		for f := range label {
			if label[f] = -7; r.IntN(12) == 0 {
				label[f] = int32(r.IntN(4)) - 1
			}
		}
		got := s.Fill(label, -7)
		_, far := plainFill(s, label, -7)
		of := map[int32][]float64{} // how near each label alone comes: on the sheet two may be equally near
		for l := int32(-1); l < 3; l++ {
			alone := slices.Clone(label)
			for f := range alone {
				if alone[f] != l {
					alone[f] = -7
				}
			}
			_, of[l] = plainFill(s, alone, -7)
		}
		for f := range got {
			if got[f] != -7 && of[got[f]][f] > far[f]*(1+1e-12) || label[f] != -7 && got[f] != label[f] || (got[f] == -7) != math.IsInf(far[f], 1) {
				t.Fatalf("seed %d, face %d: label %d, was %d, the nearest is %g mm off", seed, f, got[f], label[f], far[f])
			}
			if got[f] == -7 {
				left++
			} else if label[f] == -7 {
				filled++
			}
		}
	}
	if left == 0 || filled == 0 {
		t.Errorf("%d faces kept no label, %d got one: the draws show nothing", left, filled)
	}
}

// Each patch is what grows from its seed and was in none before it, of at least the least
// area, the sum of the areas of its faces; a face is in one at most. By hand: the sides of a
// box, the largest first, and none below the least area.
func TestPatchesCoverOnce(t *testing.T) {
	shared := 0
	for seed := range draws(30, 500) {
		r := rand.New(rand.NewPCG(seed, 32))
		m := bumpyTorus(6+r.IntN(14), 4+r.IntN(10), seed)
		s := surfaceOf(t, m)
		step, spread, least := (10+40*r.Float64())*deg, (20+60*r.Float64())*deg, 0.02*r.Float64()*m.AreaMM2()
		got, err := s.Patches(step, spread, least)
		if err != nil || len(got) == 0 {
			t.Fatalf("seed %d: %v, %d patches", seed, err, len(got))
		}
		taken := make([]bool, len(m.Faces))
		for i, p := range got {
			if taken[p.Seed] {
				t.Fatalf("seed %d: patch %d is grown from a face of another", seed, i)
			}
			region, err := s.GrowRegion([]int{int(p.Seed)}, step, spread)
			if err != nil {
				t.Fatal(err)
			}
			want := slices.DeleteFunc(slices.Clone(region), func(f int32) bool { return taken[f] })
			area := 0.0
			for _, f := range want {
				taken[f] = true
				area += m.FaceAreaMM2(int(f))
			}
			shared += len(region) - len(want)
			if !slices.Equal(p.Faces, want) || p.AreaMM2 != area || area < least {
				t.Fatalf("seed %d, patch %d: %d faces of %g mm2, want %d of %g, at least %g", seed, i, len(p.Faces), p.AreaMM2, len(want), area, least)
			}
		}
	}
	if shared == 0 {
		t.Error("no two patches met: the draws show nothing")
	}
	box := surfaceOf(t, splitInFourFlat(boxMesh(10, 6, 4)))
	for least, want := range map[float64][]float64{0: {60, 60, 40, 40, 24, 24}, 40: {60, 60, 40, 40}, 60.5: nil} {
		got, err := box.Patches(10*deg, 10*deg, least)
		var areas []float64
		for _, p := range got {
			areas = append(areas, math.Round(p.AreaMM2*1e6)/1e6)
		}
		if err != nil || !slices.Equal(areas, want) {
			t.Errorf("%v, at least %g mm2: %v, want %v", err, least, areas, want)
		}
	}
}

// The seeds are, for each part of faces that are nearest to the same way, the face that no
// other of the part is larger than; parts in the order of their areas. By a plain search.
func TestFlatSeedsMatchPlainSearch(t *testing.T) {
	ways := evenWays(flatWays)
	for i, w := range ways { // evenly spread: 200 ways have 200th parts of 4 pi, so none lies nearer than 10 degrees, or farther than 20 from the next
		next := math.Inf(1)
		for k, v := range ways {
			if k != i {
				next = min(next, angleRad(w, v)/deg)
			}
		}
		if math.Abs(w.Norm()-1) > 1e-12 || next < 10 || next > 20 {
			t.Errorf("way %d: length %g, %g degrees to the next", i, w.Norm(), next)
		}
	}
	for seed := range draws(20, 300) {
		m := bumpyTorus(8, 6, seed)
		s := surfaceOf(t, m)
		way := func(f int32) int {
			best := 0
			for k, w := range ways {
				if n := m.FaceNormal(int(f)); n.Dot(w) > n.Dot(ways[best]) {
					best = k
				}
			}
			return best
		}
		type part struct {
			area float64
			seed int32
		}
		var parts []part
		seen := map[int32]bool{}
		for f := range int32(len(m.Faces)) {
			if seen[f] {
				continue
			}
			seen[f] = true
			p := part{seed: f}
			for todo := []int32{f}; len(todo) > 0; {
				g := todo[0]
				todo = todo[1:]
				a := m.FaceAreaMM2(int(g))
				if p.area += a; a > m.FaceAreaMM2(int(p.seed)) {
					p.seed = g
				}
				for h := 3 * g; h < 3*g+3; h++ {
					if o := s.adj.twin[h]; o >= 0 && !seen[o/3] && way(o/3) == way(g) {
						seen[o/3] = true
						todo = append(todo, o/3)
					}
				}
			}
			parts = append(parts, p)
		}
		least := m.AreaMM2() / 200
		parts = slices.DeleteFunc(parts, func(p part) bool { return p.area < least })
		slices.SortStableFunc(parts, func(a, b part) int { return int(math.Copysign(1, b.area-a.area)) })
		var want []int32
		for _, p := range parts {
			want = append(want, p.seed)
		}
		if got := s.flatSeeds(least); !slices.Equal(got, want) || len(want) < 3 {
			t.Errorf("seed %d: %v, want %v", seed, got, want)
		}
	}
}
