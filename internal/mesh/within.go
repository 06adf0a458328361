package mesh

import "math/bits"

// Within lists the faces that may lie where n.x >= d for all of the planes, ascending:
// all that reach there, and some beside them. Where the whole mesh may, it is nil.
func (s *Surface) Within(planes []Plane) []int32 {
	t := &s.faces.tree
	if in, _ := t.nodes[0].beside(planes); in {
		return nil
	}
	all := newFlags(len(s.m.Faces))
	var store [64]int32
	stack := append(store[:0], 0)
	for len(stack) > 0 {
		n := &t.nodes[stack[len(stack)-1]]
		stack = stack[:len(stack)-1]
		switch _, out := n.beside(planes); {
		case out:
		case n.count > 0:
			for _, f := range t.items[n.first : n.first+n.count] {
				all.set(f)
			}
		default:
			stack = append(stack, n.first+1, n.first)
		}
	}
	list := []int32{}
	for i, word := range all {
		for ; word != 0; word &= word - 1 {
			list = append(list, int32(64*i+bits.TrailingZeros64(word)))
		}
	}
	return list
}

// beside says that all of a node's box lies where n.x >= d for all of the planes, or that
// for one of them nothing does. On a plane it may be neither.
func (n *node) beside(planes []Plane) (in, out bool) {
	in = true
	for i := range planes {
		p := &planes[i]
		least, most := 0.0, 0.0
		for k := range 3 {
			a, b := float64(p.Normal[k]*float64(n.lo[k])), float64(p.Normal[k]*float64(n.hi[k]))
			least, most = least+min(a, b), most+max(a, b)
		}
		if most < p.OffsetMM {
			return false, true
		}
		in = in && least >= p.OffsetMM
	}
	return in, false
}
