package mesh

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/elem"
	"fettle/internal/geom"
)

// Patch is a part of a surface that faces one way.
type Patch struct {
	Seed    int32 // face it was grown from
	Faces   []int32
	AreaMM2 float64
}

// flatWays is how many directions are told apart to find where a surface is flat:
// 16 degrees from one to the next. Our choice, no source.
const flatWays = 200

// seedShare is how much larger a patch may be than the flat place it is grown from.
// Our choice, no source.
const seedShare = 20

// Patches covers a surface with patches, beginning where it is flat: each is what
// GrowRegion reaches from its seed and no patch before it has. Those below
// leastMM2 are left out, so that faces between them belong to none.
func (s *Surface) Patches(stepRad, spreadRad, leastMM2 float64) ([]Patch, error) {
	var out []Patch
	taken := make([]bool, len(s.m.Faces))
	for _, seed := range s.flatSeeds(leastMM2 / seedShare) {
		if taken[seed] {
			continue
		}
		s.work.Step()
		region, err := s.GrowRegion([]int{int(seed)}, stepRad, spreadRad)
		if err != nil {
			return nil, err
		}
		p := Patch{Seed: seed}
		for _, f := range region {
			if !taken[f] {
				p.Faces = append(p.Faces, f)
				p.AreaMM2 += s.m.FaceAreaMM2(int(f))
			}
		}
		if p.AreaMM2 < leastMM2 {
			continue
		}
		for _, f := range p.Faces {
			taken[f] = true
		}
		out = append(out, p)
	}
	return out, nil
}

// flatSeeds is the largest face of each part of the surface whose normals are
// nearest to the same of flatWays directions, of those of at least leastMM2, the
// largest first.
func (s *Surface) flatSeeds(leastMM2 float64) []int32 {
	ways := evenWays(flatWays)
	way := make([]int32, len(s.m.Faces))
	for f := range way {
		n, best := s.m.FaceNormal(f), math.Inf(-1)
		for k, w := range ways {
			if d := n.Dot(w); d > best {
				way[f], best = int32(k), d
			}
		}
	}
	parts := newPieces(len(way))
	s.eachTwin(func(h, t int32) {
		if way[h/3] == way[t/3] {
			parts.join(h/3, t/3)
		}
	})
	area, seed := make([]float64, len(way)), make([]int32, len(way))
	var roots []int32
	for f := range way {
		r := parts.root(int32(f))
		if area[r] == 0 {
			roots, seed[r] = append(roots, r), int32(f)
		}
		area[r] += s.m.FaceAreaMM2(f)
		if s.m.FaceAreaMM2(f) > s.m.FaceAreaMM2(int(seed[r])) {
			seed[r] = int32(f)
		}
	}
	slices.SortStableFunc(roots, func(a, b int32) int { return cmp.Compare(area[b], area[a]) })
	var out []int32
	for _, r := range roots {
		if area[r] > 0 && area[r] >= leastMM2 {
			out = append(out, seed[r])
		}
	}
	return out
}

// evenWays is directions spread evenly: on a spiral from pole to pole that turns by
// the golden angle from one to the next (A. Gonzalez, Measurement of areas on a
// sphere using Fibonacci and latitude-longitude lattices, 2010).
func evenWays(n int) []geom.Vec {
	out := make([]geom.Vec, n)
	for k := range out {
		z := 1 - (2*float64(k)+1)/float64(n)
		sin, cos := elem.Sincos(float64(k) * math.Pi * (3 - math.Sqrt(5)))
		r := math.Sqrt(1 - float64(z*z))
		out[k] = geom.Vec{r * cos, r * sin, z}
	}
	return out
}

// Fill is the labels with every face of the label none given to the nearest label,
// from the middle of one face to that of the next. Pieces that hang together with
// no labelled face keep none.
func (s *Surface) Fill(label []int32, none int32) []int32 {
	out := slices.Clone(label)
	mid := func(f int32) geom.Vec { // three times the middle: ways are only held against one another
		a, b, c := s.m.corners(int(f))
		return a.Add(b).Add(c)
	}
	far := make([]float64, len(out))
	var todo queue
	for f, l := range label {
		if l != none {
			todo.push(queued{0, int32(f)})
			continue
		}
		far[f] = math.Inf(1)
	}
	for len(todo) > 0 {
		x := todo.pop()
		if x.key > far[x.id] {
			continue
		}
		at := mid(x.id)
		for h := 3 * x.id; h < 3*x.id+3; h++ {
			t := s.adj.twin[h]
			if t < 0 {
				continue
			}
			if mm := x.key + mid(t/3).Dist(at); mm < far[t/3] {
				far[t/3], out[t/3] = mm, out[x.id]
				todo.push(queued{mm, t / 3})
			}
		}
	}
	return out
}
