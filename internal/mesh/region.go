package mesh

import (
	"fmt"
	"math"
	"slices"

	"fettle/internal/elem"
	"fettle/internal/geom"
)

// A region is a set of faces, ascending and without repeats.

// Regions numbers the faces so that neighbours across an edge have the same
// number when their normals differ by at most maxAngleRad: flood fill, cut at
// sharp edges. Numbers run from 0 in the order of the smallest face. Nothing is
// joined across edges of three or more faces; a face without area is joined to
// all its neighbours.
func (s *Surface) Regions(maxAngleRad float64) []int32 {
	p := newPieces(len(s.m.Faces))
	s.eachTwin(func(h, t int32) {
		if s.edgeAngleRad(h, t) <= maxAngleRad {
			p.join(h/3, t/3)
		}
	})
	out := make([]int32, len(s.m.Faces))
	next := int32(0)
	for f := range out {
		if r := p.root(int32(f)); r == int32(f) {
			out[f] = next
			next++
		} else {
			out[f] = out[r]
		}
	}
	return out
}

// GrowRegion is the region reached from the seeds over edges at which the
// normals differ by at most stepRad, as far as the normal differs from that of
// the seed's face by at most totalRad (Pi: no bound).
func (s *Surface) GrowRegion(seeds []int, stepRad, totalRad float64) ([]int32, error) {
	in := make([]bool, len(s.m.Faces))
	for _, seed := range seeds {
		if seed < 0 || seed >= len(in) {
			return nil, invalid(fmt.Sprintf("no surface at face %d", seed), "take seeds from the surface they are used with")
		}
		n, own := s.m.FaceNormal(seed), make(map[int32]bool)
		own[int32(seed)] = true
		for todo := []int32{int32(seed)}; len(todo) > 0; {
			f := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			in[f] = true
			for k := range int32(3) {
				t := s.adj.twin[3*f+k]
				if t < 0 || own[t/3] || s.edgeAngleRad(3*f+k, t) > stepRad || angleRad(n, s.m.FaceNormal(int(t/3))) > totalRad {
					continue
				}
				own[t/3] = true
				todo = append(todo, t/3)
			}
		}
	}
	return chosen(in), nil
}

// eachTwin visits every edge of two faces once.
func (s *Surface) eachTwin(visit func(h, t int32)) {
	for h, t := range s.adj.twin {
		if t > int32(h) {
			visit(int32(h), t)
		}
	}
}

// edgeAngleRad is the angle between the normals of the two faces, the second
// turned over where the two disagree about the outside; 0 beside a face
// without area.
func (s *Surface) edgeAngleRad(h, t int32) float64 {
	a, b := s.m.FaceNormal(int(h/3)), s.m.FaceNormal(int(t/3))
	if p, _ := s.m.halfEnds(h); p == first(s.m.halfEnds(t)) {
		b = b.Scale(-1)
	}
	return angleRad(a, b)
}

func angleRad(a, b geom.Vec) float64 {
	if a == (geom.Vec{}) || b == (geom.Vec{}) {
		return 0
	}
	return elem.Atan2(a.Cross(b).Norm(), a.Dot(b))
}

// chosen lists the places that are set.
func chosen(in []bool) []int32 {
	var out []int32
	for f, is := range in {
		if is {
			out = append(out, int32(f))
		}
	}
	return out
}

// marks is the region as one flag per face.
func (s *Surface) marks(region []int32) ([]bool, error) {
	in := make([]bool, len(s.m.Faces))
	for _, f := range region {
		if f < 0 || int(f) >= len(in) {
			return nil, invalid(fmt.Sprintf("no surface at face %d", f), "take regions from the surface they are used with")
		}
		in[f] = true
	}
	return in, nil
}

// ResizeRegion moves the border of a region along the surface: outward by mm,
// or inward by -mm. Outward it takes every face whose three corners lie within
// mm of the border; inward it leaves every face that has a corner nearer. The
// new border follows the faces; cut the mesh first where it must be exact. The
// border is taken as points at most stepMM apart: distances are too long by at
// most sqrt(mm^2 + stepMM^2/4) - mm.
func (s *Surface) ResizeRegion(region []int32, mm, stepMM float64) ([]int32, error) {
	in, err := s.marks(region)
	if err != nil {
		return nil, err
	}
	if !(stepMM > 0) || math.IsNaN(mm) || math.IsInf(mm, 0) {
		return nil, invalid("the distance or the step is not usable", "give a finite distance and a step above 0")
	}
	var border []Site
	s.eachTwin(func(h, t int32) {
		if in[h/3] != in[t/3] {
			border = append(border, s.alongHalf(h, stepMM)...)
		}
	})
	if len(border) == 0 || mm == 0 {
		return chosen(in), nil
	}
	d, err := s.ExactDistances(border, nil, math.Abs(mm))
	if err != nil {
		return nil, err
	}
	for f, t := range s.m.Faces {
		far := max(d.Points[t[0]], d.Points[t[1]], d.Points[t[2]])
		near := min(d.Points[t[0]], d.Points[t[1]], d.Points[t[2]])
		switch {
		case mm > 0 && far <= mm:
			in[f] = true
		case mm < 0 && near < -mm:
			in[f] = false
		}
	}
	return chosen(in), nil
}

// alongHalf is sites on a half-edge, both ends and at most step apart.
func (s *Surface) alongHalf(h int32, step float64) []Site {
	u, v := s.m.halfEnds(h)
	n := max(1, int(math.Ceil(min(1e6, s.m.Points[u].Dist(s.m.Points[v])/step))))
	out := make([]Site, 0, n+1)
	for i := range n + 1 {
		var w [3]float64
		w[h%3], w[(h+1)%3] = 1-float64(i)/float64(n), float64(i)/float64(n)
		out = append(out, s.Site(int(h/3), w))
	}
	return out
}

// MergeLabels gives the faces labelled with any of from the label to. The mesh
// must carry labels; a Surface built from it before is no longer right.
func (m *Mesh) MergeLabels(from []int32, to int32) {
	for f, l := range m.Label {
		if slices.Contains(from, l) {
			m.Label[f] = to
		}
	}
}

// SmoothLabels is the labels with shorter borders: one after another, a face
// takes the label of a neighbour while that shortens the borders. Edges at
// which the normals differ by more than sharpRad cost nothing, so borders
// settle there; only faces whose point lies within reachMM of the border they
// began at may change. No label vanishes.
func (s *Surface) SmoothLabels(sharpRad, reachMM float64) ([]int32, error) {
	if s.m.Label == nil {
		return nil, invalid("the mesh carries no labels", "label the faces first")
	}
	label := slices.Clone(s.m.Label)
	free, err := s.nearBorders(reachMM)
	if err != nil {
		return nil, err
	}
	cost := make([]float64, 3*len(s.m.Faces)) // of a border at the half-edge
	s.eachTwin(func(h, t int32) {
		if s.edgeAngleRad(h, t) <= sharpRad {
			u, v := s.m.halfEnds(h)
			cost[h] = s.m.Points[u].Dist(s.m.Points[v])
			cost[t] = cost[h]
		}
	})
	count := map[int32]int{}
	for _, l := range label {
		count[l]++
	}
	for changed := true; changed; {
		changed = false
		for f := range label {
			if free[f] && count[label[f]] > 1 {
				if l := s.cheapest(label, cost, int32(f)); l != label[f] {
					count[label[f]]--
					count[l]++
					label[f], changed = l, true
				}
			}
		}
	}
	return label, nil
}

// nearBorders marks the faces within reach of a border between labels.
func (s *Surface) nearBorders(reachMM float64) ([]bool, error) {
	var border []Site
	s.eachTwin(func(h, t int32) {
		if s.m.Label[h/3] != s.m.Label[t/3] {
			border = append(border, s.alongHalf(h, math.Inf(1))...)
		}
	})
	free := make([]bool, len(s.m.Faces))
	if len(border) == 0 {
		return free, nil
	}
	d, err := s.ExactDistances(border, nil, reachMM)
	if err != nil {
		return nil, err
	}
	for f, t := range s.m.Faces {
		free[f] = min(d.Points[t[0]], d.Points[t[1]], d.Points[t[2]]) <= reachMM
	}
	return free, nil
}

// cheapest is the label among those of face f and its neighbours with the
// shortest border round f; the own one unless another is clearly shorter.
func (s *Surface) cheapest(label []int32, cost []float64, f int32) int32 {
	price := func(l int32) float64 {
		sum := 0.0
		for k := range int32(3) {
			if t := s.adj.twin[3*f+k]; t >= 0 && label[t/3] != l {
				sum += cost[3*f+k]
			}
		}
		return sum
	}
	best := label[f]
	least := price(best) * (1 - 1e-9)
	for k := range int32(3) {
		if t := s.adj.twin[3*f+k]; t >= 0 && label[t/3] != label[f] {
			if c := price(label[t/3]); c < least {
				best, least = label[t/3], c
			}
		}
	}
	return best
}
