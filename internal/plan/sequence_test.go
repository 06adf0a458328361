package plan

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// lines are the lines of a file of testdata that are no remarks.
func lines(t *testing.T, name string) []string {
	t.Helper()
	data, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, l := range strings.Split(string(data), "\n") {
		if l = strings.TrimSpace(l); l != "" && !strings.HasPrefix(l, "#") {
			out = append(out, l)
		}
	}
	return out
}

// The file has instance, source and optimum.
func TestSequencePublishedOptimum(t *testing.T) {
	var least int64
	var matrix [][]int64
	for _, l := range lines(t, "ESC07.sop") {
		if v, ok := strings.CutPrefix(l, "least "); ok {
			least, _ = strconv.ParseInt(v, 10, 64)
			continue
		}
		var row []int64
		for _, f := range strings.Fields(l) {
			v, err := strconv.ParseInt(f, 10, 64)
			if err != nil {
				t.Fatal(err)
			}
			row = append(row, v)
		}
		matrix = append(matrix, row)
	}
	q := sopOf(matrix)
	r := q.solve()
	if !r.ok || !r.proven || r.cost != least || r.bound != least {
		t.Errorf("%+v, want %d", r, least)
	}
	if c, ok := judge(q, r.order); !ok || c != least {
		t.Errorf("the order %v costs %d, %v", r.order, c, ok)
	}
}

// sopOf is a matrix with precedence as a sequence: the state is the last thing.
func sopOf(m [][]int64) sequencing {
	return sequencing{n: len(m), start: -1, limit: 1 << 20,
		ready: func(i int, done set) bool {
			for j, v := range m[i] {
				if v == -1 && !done.has(j) {
					return false
				}
			}
			return i == 0 || done.has(0)
		},
		move: func(last, i int) (int64, int) {
			if last < 0 {
				return 0, i
			}
			return m[last][i], i
		}}
}

// judge is the cost of an order, and whether it holds.
func judge(q sequencing, order []int) (int64, bool) {
	var done set
	cost, at := int64(0), q.start
	for _, i := range order {
		if done.has(i) || !q.ready(i, done) {
			return 0, false
		}
		c, to := q.move(at, i)
		cost, at = cost+c, to
		done |= 1 << i
	}
	return cost, done.count() == q.n
}

// everyOrder is the least cost of all orders there are.
func everyOrder(q sequencing) (int64, bool) {
	best, ok := int64(0), false
	var order []int
	var try func()
	try = func() {
		if len(order) == q.n {
			if c, holds := judge(q, order); holds && (!ok || c < best) {
				best, ok = c, true
			}
			return
		}
		for i := range q.n {
			if !slices.Contains(order, i) {
				order = append(order, i)
				try()
				order = order[:len(order)-1]
			}
		}
	}
	try()
	return best, ok
}

// Seven things with precedence and either free costs or the changes of tool,
// side and lift, against every order there is; also when the search is narrowed
// what it says holds.
func TestSequenceAgainstEnumerationSeeds(t *testing.T) {
	solved := 0
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 21))
		q := randomSequence(rng, 7, seed%2 == 0)
		best, ok := everyOrder(q)
		r := q.solve()
		if r.ok != ok || ok && (r.cost != best || !r.proven) {
			t.Errorf("seed %d: %+v, enumeration %v %d", seed, r, ok, best)
		}
		if ok {
			solved++
			if c, holds := judge(q, r.order); !holds || c != r.cost {
				t.Errorf("seed %d: the order %v costs %d, %v", seed, r.order, c, holds)
			}
		}
	}
	if solved < 30 {
		t.Errorf("only %d have an order", solved)
	}
}

// randomSequence has n things, some waiting for others; with places the cost is
// that of changes between random places, and calm steps are taken at once.
func randomSequence(rng *rand.Rand, n int, places bool) sequencing {
	before := make([]set, n)
	for i := range before {
		once, twice, thrice := set(rng.Uint64()), set(rng.Uint64()), set(rng.Uint64())
		before[i] = once & twice & thrice & (1<<n - 1) &^ (1 << i) // each with one chance in eight
	}
	q := sequencing{n: n, limit: 1 << 20, ready: func(i int, done set) bool { return before[i].in(done) }}
	if !places {
		m := make([][]int64, n+1)
		for i := range m {
			for range n {
				m[i] = append(m[i], int64(rng.IntN(50)))
			}
		}
		q.start, q.move = n, func(at, i int) (int64, int) { return m[at][i], i }
		return q
	}
	where := make([][2]int, n) // 0: any
	for i := range where {
		where[i] = [2]int{rng.IntN(4), rng.IntN(3)}
	}
	q.calm = true
	q.move = func(at, i int) (int64, int) {
		now, cost := [2]int{at / 8, at % 8}, int64(0)
		for k, w := range []int64{3, 5} {
			if want := where[i][k]; want != 0 && want != now[k] {
				if now[k] != 0 {
					cost += w
				}
				now[k] = want
			}
		}
		return cost, now[0]*8 + now[1]
	}
	return q
}

// A search that is cut short never claims a proof it does not have, and its
// bound holds. Constructed, seeded.
func TestSequenceCutShortSeeds(t *testing.T) {
	cut := 0
	for seed := range uint64(12) {
		rng := rand.New(rand.NewPCG(seed, 22))
		q := randomSequence(rng, 10, false)
		q.ready = func(int, set) bool { return true }
		whole := q.solve()
		q.limit = 1
		r := q.solve()
		if !r.ok || r.cost < whole.cost || r.bound > whole.cost || r.proven && r.cost != whole.cost {
			t.Errorf("seed %d: %d with bound %d, proven %v; least is %d", seed, r.cost, r.bound, r.proven, whole.cost)
		}
		if !r.proven {
			cut++
		}
	}
	if cut == 0 {
		t.Error("no search was cut short")
	}
}

func BenchmarkSequence30Parts(b *testing.B) {
	q := randomSequence(rand.New(rand.NewPCG(1, 23)), 30, true)
	q.ready = func(i int, done set) bool { return i < 4 || done.has(i-4) }
	q.limit = sequenceLimit
	for b.Loop() {
		if r := q.solve(); !r.ok {
			b.Fatal(fmt.Sprint(r))
		}
	}
}
