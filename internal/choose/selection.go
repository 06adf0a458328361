package choose

import (
	"math/bits"
	"slices"

	"fettle/internal/halt"
)

// Selection is a question of what to choose: options with a price, rows of which
// each has to be covered by a chosen option, pairs that exclude one another, and
// options that need another one. Prices are whole and not negative.
//
//	least sum of cost(j) x(j), x(j) chosen or not, where
//	  of every row of cover        at least one is chosen
//	  of every pair of apart       at most one is chosen
//	  of every need, if who is     one of oneOf is chosen too
//	  of every stock               what is used up is bought
type Selection struct {
	Cost   []int64
	Cover  [][]int
	Apart  [][2]int
	Needs  []Need
	Stocks []Stock

	Work *halt.Work // what choosing is part of; nil: it is not stopped
}

// Stock is something that is bought by the pack: size times the packs that are chosen is at
// least what the chosen options use up and what is used up anyway.
type Stock struct {
	Packs []int
	Size  int32
	Users []int
	Use   []int32
	Sure  int32 // used up anyway; below zero: bought anyway and left over
}

// Need says that option who needs one of others; of none: it cannot be chosen.
type Need struct {
	who   int
	oneOf []int
}

// Add is a new option.
func (s *Selection) Add(cost int64) int {
	s.Cost = append(s.Cost, cost)
	return len(s.Cost) - 1
}

// Need has option who need one of others.
func (s *Selection) Need(who int, oneOf ...int) { s.Needs = append(s.Needs, Need{who, oneOf}) }

// Selected is the answer. The zero value says nothing: neither found nor proven.
type Selected struct {
	Chosen []bool
	Cost   int64
	Bound  int64 // no choice costs less
	Found  bool  // chosen meets every condition
	Proven bool  // nothing costs less than chosen, or nothing was found and nothing can be
	nodes  int
}

// fits says that a choice meets every condition.
func (s *Selection) fits(x []bool) bool {
	one := func(list []int) bool { return slices.ContainsFunc(list, func(j int) bool { return x[j] }) }
	for _, r := range s.Cover {
		if !one(r) {
			return false
		}
	}
	for _, p := range s.Apart {
		if x[p[0]] && x[p[1]] {
			return false
		}
	}
	for _, n := range s.Needs {
		if x[n.who] && !one(n.oneOf) {
			return false
		}
	}
	for _, k := range s.Stocks {
		left := -int64(k.Sure)
		for _, j := range k.Packs {
			if x[j] {
				left += int64(k.Size)
			}
		}
		for i, j := range k.Users {
			if x[j] {
				left -= int64(k.Use[i])
			}
		}
		if left < 0 {
			return false
		}
	}
	return true
}

func (s *Selection) costOf(x []bool) int64 {
	sum := int64(0)
	for j, on := range x {
		if on {
			sum += s.Cost[j]
		}
	}
	return sum
}

// inequality is one condition as an inequality: the sum of coef over cols is at least
// rhs.
type inequality struct {
	cols []int
	coef []int32 // 1 or -1, but for stocks
	rhs  int32
	size float64 // of a pack of a stock, by which its numbers are divided for the simplex; else 0
}

// scaled is a number of the condition as the simplex has it.
func (q *inequality) scaled(v int32) float64 {
	if q.size != 0 {
		return float64(v) / q.size
	}
	return float64(v)
}

// bound is the least the condition asks for, as the simplex has it.
func (q *inequality) bound() float64 { return q.scaled(q.rhs) }

// inequalities are the conditions; the first are the rows to cover. An option
// that is listed twice in a row counts once.
func (s *Selection) inequalities() []inequality {
	var out []inequality
	once := func(list []int) []int {
		list = slices.Clone(list)
		slices.Sort(list)
		return slices.Compact(list)
	}
	for _, r := range s.Cover {
		q := inequality{cols: once(r), rhs: 1}
		for range q.cols {
			q.coef = append(q.coef, 1)
		}
		out = append(out, q)
	}
	for _, p := range s.Apart {
		q := inequality{cols: slices.Compact(slices.Clone(p[:]))} // one that excludes itself is out
		for range q.cols {
			q.coef = append(q.coef, -1)
		}
		q.rhs = 1 - int32(len(q.cols))
		out = append(out, q)
	}
	for _, n := range s.Needs {
		if slices.Contains(n.oneOf, n.who) {
			continue
		}
		q := inequality{cols: once(n.oneOf)}
		for range q.cols {
			q.coef = append(q.coef, 1)
		}
		q.cols, q.coef = append(q.cols, n.who), append(q.coef, -1)
		out = append(out, q)
	}
	for _, k := range s.Stocks {
		q := inequality{rhs: k.Sure, size: float64(k.Size)}
		for _, j := range k.Packs {
			q.cols, q.coef = append(q.cols, j), append(q.coef, k.Size)
		}
		for i, j := range k.Users {
			q.cols, q.coef = append(q.cols, j), append(q.coef, -k.Use[i])
		}
		out = append(out, q)
	}
	return out
}

// replaced marks the options that another one replaces at no more cost: it
// covers all that they cover, needs and excludes nothing that they do not, uses up no more,
// nobody needs them and they are no pack. Of equals the first stays.
func (s *Selection) replaced() []bool {
	n := len(s.Cost)
	wanted := make([]bool, n) // by an option or a stock
	used := make([]map[int]int32, len(s.Stocks))
	for i, k := range s.Stocks {
		used[i] = map[int]int32{}
		for u, j := range k.Users {
			used[i][j] += k.Use[u]
		}
		for _, j := range k.Packs {
			wanted[j] = true
		}
	}
	more := func(b, a int) bool {
		return slices.ContainsFunc(used, func(u map[int]int32) bool { return u[b] > u[a] })
	}
	rows, needs, apart := make([]bitset, n), make([][]string, n), make([]bitset, n)
	for j := range n {
		rows[j], apart[j] = newBitset(len(s.Cover)), newBitset(n)
	}
	for i, r := range s.Cover {
		for _, j := range r {
			rows[j].add(i)
		}
	}
	for _, p := range s.Apart {
		apart[p[0]].add(p[1])
		apart[p[1]].add(p[0])
	}
	for _, q := range s.Needs {
		needs[q.who] = append(needs[q.who], setKey(q.oneOf))
		for _, j := range q.oneOf {
			wanted[j] = true
		}
	}
	out := make([]bool, n)
	for a := range n {
		if wanted[a] {
			continue
		}
		for _, b := range s.rivals(a) {
			if b == a || out[b] || s.Cost[b] > s.Cost[a] || !rows[a].in(rows[b]) || !apart[b].inBut(apart[a], a) || more(b, a) {
				continue
			}
			if !slices.ContainsFunc(needs[b], func(k string) bool { return !slices.Contains(needs[a], k) }) {
				out[a] = true
				break
			}
		}
	}
	return out
}

// rivals are the options that could replace a: those of its shortest row.
func (s *Selection) rivals(a int) []int {
	var short []int
	for _, r := range s.Cover {
		if slices.Contains(r, a) && (short == nil || len(r) < len(short)) {
			short = r
		}
	}
	return short
}

// setKey is the same for the same set.
func setKey(list []int) string {
	list = slices.Clone(list)
	slices.Sort(list)
	var out []byte
	for _, j := range slices.Compact(list) {
		for ; j > 127; j >>= 7 {
			out = append(out, byte(j&127|128))
		}
		out = append(out, byte(j))
	}
	return string(out)
}

// bitset is a set of small numbers.
type bitset []uint64

func newBitset(n int) bitset { return make(bitset, (n+63)/64) }

func (b bitset) add(i int) { b[i/64] |= 1 << (i % 64) }

func (b bitset) in(c bitset) bool { return b.inBut(c, -1) }

// inBut says that all of b but one member is in c.
func (b bitset) inBut(c bitset, but int) bool {
	for k, w := range b {
		if but >= 0 && k == but/64 {
			w &^= 1 << (but % 64)
		}
		if w&^c[k] != 0 {
			return false
		}
	}
	return true
}

// gcd is the greatest common divisor of the prices, at least 1.
func (s *Selection) gcd() int64 {
	g := int64(0)
	for _, c := range s.Cost {
		for c != 0 {
			g, c = c, g%c
		}
	}
	return max(g, 1)
}

// spare is the number of binary digits behind the point with which multipliers
// fit into 64 bits; false: the prices are too large.
func spare(total int64) (uint, bool) {
	n := bits.Len64(uint64(total))
	if n > 48 {
		return 0, false
	}
	return uint(min(20, 48-n)), true
}
