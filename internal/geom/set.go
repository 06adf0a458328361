package geom

import "math/bits"

// MaxMatches is the most points a search for rigid blocks takes.
const MaxMatches = 1024

// Set is a set of point numbers below MaxMatches. It is comparable.
type Set [MaxMatches / 64]uint64

// SetOf is the set of the numbers.
func SetOf(numbers ...int) Set {
	var s Set
	for _, i := range numbers {
		s.Put(i)
	}
	return s
}

// Put adds i.
func (s *Set) Put(i int) { s[i>>6] |= 1 << (i & 63) }

// Drop takes i out.
func (s *Set) Drop(i int) { s[i>>6] &^= 1 << (i & 63) }

// Has says that i is in the set.
func (s *Set) Has(i int) bool { return s[i>>6]>>(i&63)&1 != 0 }

// Len is the number of members.
func (s *Set) Len() int {
	n := 0
	for _, w := range s {
		n += bits.OnesCount64(w)
	}
	return n
}

// Common is the number of members that both sets have.
func (s *Set) Common(o *Set) int {
	n := 0
	for k, w := range s {
		n += bits.OnesCount64(w & o[k])
	}
	return n
}

// Join adds the members of o.
func (s *Set) Join(o *Set) {
	for k := range s {
		s[k] |= o[k]
	}
}

// Leave takes out the members of o.
func (s *Set) Leave(o *Set) {
	for k := range s {
		s[k] &^= o[k]
	}
}

// Members are the numbers in order.
func (s *Set) Members() []int { return s.AppendTo(nil) }

// AppendTo adds the members in order to dst.
func (s *Set) AppendTo(dst []int) []int {
	for k, w := range s {
		for ; w != 0; w &= w - 1 {
			dst = append(dst, k<<6+bits.TrailingZeros64(w))
		}
	}
	return dst
}
