package geom

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
)

// Segments is a set of segments that is asked often how near it is: a tree of
// boxes over them. It is only read once it is built.
type Segments struct {
	ends  [][2]Vec
	nodes []segmentNode
}

// segmentNode is a box over the segments from first to last; inner nodes have
// their halves at the next place and at other.
type segmentNode struct {
	lo, hi      Vec
	first, last int32
	other       int32 // 0: a leaf
}

// leafSegments is how many segments are looked at one by one.
const leafSegments = 4

// slackMM keeps a box that is as near as the best so far: far above the
// rounding of coordinates, so that the tree finds the very least.
const slackMM = 1e-9

// NewSegments makes the set; a segment may be a point.
func NewSegments(ends [][2]Vec) *Segments {
	s := &Segments{ends: slices.Clone(ends)}
	if len(ends) > 0 {
		s.build(0, int32(len(ends)))
	}
	return s
}

// NewLines is the set of the segments of some lines; a line of one point is that
// point.
func NewLines(lines [][]Vec) *Segments {
	var ends [][2]Vec
	for _, l := range lines {
		for i := range l {
			if i+1 < len(l) || len(l) == 1 {
				ends = append(ends, [2]Vec{l[i], l[min(i+1, len(l)-1)]})
			}
		}
	}
	return NewSegments(ends)
}

// Bytes is about the memory that the set takes.
func (s *Segments) Bytes() int { return 48*cap(s.ends) + 64*cap(s.nodes) }

func (s *Segments) build(first, last int32) int32 {
	n := segmentNode{lo: Vec{math.Inf(1), math.Inf(1), math.Inf(1)}, hi: Vec{math.Inf(-1), math.Inf(-1), math.Inf(-1)}, first: first, last: last}
	for _, e := range s.ends[first:last] {
		for k := range 3 {
			n.lo[k], n.hi[k] = min(n.lo[k], e[0][k], e[1][k]), max(n.hi[k], e[0][k], e[1][k])
		}
	}
	at := int32(len(s.nodes))
	s.nodes = append(s.nodes, n)
	if last-first <= leafSegments {
		return at
	}
	axis := 0
	for k := range 3 {
		if n.hi[k]-n.lo[k] > n.hi[axis]-n.lo[axis] {
			axis = k
		}
	}
	mid := (first + last) / 2
	selectAlong(s.ends[first:last], int(mid-first), axis)
	s.build(first, mid)
	s.nodes[at].other = s.build(mid, last)
	return at
}

// selectAlong puts the segments whose middles are least along an axis first, so many of
// them. In which order they lie beside that changes no distance.
//
// Source: C. A. R. Hoare, Algorithm 65: Find, 1961; sorted where the halving goes on
// for too long.
func selectAlong(ends [][2]Vec, n, axis int) {
	of := func(e *[2]Vec) float64 { return e[0][axis] + e[1][axis] }
	for rounds := 2 * bits.Len(uint(len(ends))); len(ends) > 1; rounds-- {
		if rounds == 0 {
			slices.SortFunc(ends, func(a, b [2]Vec) int { return cmp.Compare(of(&a), of(&b)) })
			return
		}
		a, b, c := of(&ends[0]), of(&ends[len(ends)/2]), of(&ends[len(ends)-1])
		pivot := max(min(a, b), min(max(a, b), c))
		i, k := 0, len(ends)-1
		for i <= k {
			for of(&ends[i]) < pivot {
				i++
			}
			for of(&ends[k]) > pivot {
				k--
			}
			if i <= k {
				ends[i], ends[k] = ends[k], ends[i]
				i, k = i+1, k-1
			}
		}
		switch {
		case n <= k:
			ends = ends[:k+1]
		case n >= i:
			ends, n = ends[i:], n-i
		default:
			return
		}
	}
}

// Nearer is the distance of segment pq from the nearest of the set where that is
// below best, otherwise best.
func (s *Segments) Nearer(best float64, p, q Vec) float64 {
	if len(s.nodes) == 0 {
		return best
	}
	var lo, hi Vec
	for k := range 3 {
		lo[k], hi[k] = min(p[k], q[k]), max(p[k], q[k])
	}
	var todo [64]int32 // deeper than any tree of halves
	depth := 1
	for depth > 0 {
		depth--
		at := todo[depth]
		n := &s.nodes[at]
		if n.gap(&lo, &hi) > best+slackMM {
			continue
		}
		if n.other == 0 {
			for _, e := range s.ends[n.first:n.last] {
				best = NearerSegments(best, p, q, e[0], e[1])
			}
			continue
		}
		near, far := at+1, n.other
		if s.nodes[far].gap(&lo, &hi) < s.nodes[near].gap(&lo, &hi) {
			near, far = far, near
		}
		todo[depth], todo[depth+1] = far, near
		depth += 2
	}
	return best
}

// gap is the distance of two boxes.
func (n *segmentNode) gap(lo, hi *Vec) float64 {
	sum := 0.0
	for k := range 3 {
		if d := max(n.lo[k]-hi[k], lo[k]-n.hi[k]); d > 0 {
			sum += float64(d * d)
		}
	}
	return math.Sqrt(sum)
}
