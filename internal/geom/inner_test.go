package geom

import (
	"math/rand/v2"
	"testing"
)

// cloud30 is 30 points over a car, of which the last ten moved by 12 mm, with 1
// mm of noise. Seed 30.
func cloud30(tb testing.TB) *Matcher {
	tb.Helper()
	rng := rand.New(rand.NewPCG(30, 1))
	var m Matches
	for i := 0; i < 30; i++ {
		p := Vec{float64(i) * 150, 600 * float64(2*(i%2)-1), 700 * rng.Float64()}
		q := p.Add(Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()})
		if i >= 20 {
			q = q.Add(Vec{0, 12, 0})
		}
		m.From, m.To = append(m.From, p), append(m.To, q)
		m.CovFrom, m.CovTo = append(m.CovFrom, Mat3{}), append(m.CovTo, Isotropic(1))
	}
	x, err := NewMatcher(m)
	if err != nil {
		tb.Fatal(err)
	}
	return x
}

// The loop over all triples (pose, score, list of the best) and the growing of
// a set into a block allocate nothing.
func TestInnerLoopAllocatesNothing(t *testing.T) {
	x := cloud30(t)
	s := newTripleSearch(x)
	s.all()
	if len(s.triples) < 500 {
		t.Fatalf("%d triples", len(s.triples))
	}
	if n := testing.AllocsPerRun(5, func() { s.collect(nil, true) }); n != 0 {
		t.Errorf("the loop over the triples allocates %v times", n)
	}
	scratch := make([]float64, x.Len())
	start := s.inliers(&s.best[0])
	if n := testing.AllocsPerRun(5, func() { x.Settle(start, nil, scratch) }); n != 0 {
		t.Errorf("growing a block allocates %v times", n)
	}
}

func BenchmarkTriples(b *testing.B) {
	s := newTripleSearch(cloud30(b))
	s.all()
	b.ReportAllocs()
	for b.Loop() {
		s.collect(nil, true)
	}
}

func BenchmarkSettle(b *testing.B) {
	x := cloud30(b)
	t := make([]float64, x.Len())
	start := SetOf(0, 5, 11, 16)
	b.ReportAllocs()
	for b.Loop() {
		x.Settle(start, nil, t)
	}
}
