package vehicle

import (
	"sync"
	"testing"
	"unsafe"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// What is kept is bounded, is forgotten oldest first, and may be changed by who asked.
func TestAskedIsBounded(t *testing.T) {
	var a asked
	far := mesh.Path{Points: make([]geom.Vec, 10_000), Faces: make([]int, 9_999)}
	times := 0
	ways := func(k int) mesh.Path {
		p, err := a.way(ask('w', float64(k)), func() (mesh.Path, error) {
			times++
			p := far
			p.LengthMM = float64(k)
			return p, nil
		})
		if err != nil || p.LengthMM != float64(k) {
			t.Fatalf("way %d has %g mm and error %v", k, p.LengthMM, err)
		}
		return p
	}
	for k := range 500 {
		ways(0).Points[0] = geom.Vec{1, 2, 3} // asked for all the time: never forgotten
		ways(k)
	}
	if p := ways(0); p.Points[0] != (geom.Vec{}) {
		t.Errorf("what one was given and changed is what the next is given: %v", p.Points[0])
	}
	if times != 500 {
		t.Errorf("%d ways were sought, want each of 500 once", times)
	}
	if n := len(a.young) + len(a.old); n > 2*(mostAskedBytes/300_000+2) || n < 20 {
		t.Errorf("%d ways of some 0.3 MB are kept", n)
	}
	ways(1)
	if times != 501 {
		t.Errorf("way 1, asked for long ago, is still kept")
	}
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			for k := range 50 {
				p, err := a.way(ask('x', float64(k)), func() (mesh.Path, error) { return mesh.Path{LengthMM: float64(k)}, nil })
				if err != nil || p.LengthMM != float64(k) {
					t.Errorf("way %d has %g mm and error %v", k, p.LengthMM, err)
				}
			}
		})
	}
	all.Wait()
}

// Questions that differ in any bit differ.
func TestQuestionsDiffer(t *testing.T) {
	a, b := mesh.Site{Face: 1, Bary: [3]float64{1, 0, 0}, At: geom.Vec{1, 2, 3}}, mesh.Site{Face: 1, Bary: [3]float64{1, 0, 0}, At: geom.Vec{1, 2, 4}}
	seen := map[string]bool{}
	for _, q := range []*question{
		ask('w').of(a, b), ask('s').of(a, b), ask('w').of(b, a), ask('c', 1).of(a).of(b), ask('c', 2).of(a).of(b), ask('c', 1).of(b).of(a),
		ask('c', 1).of(a, b).of(), ask('c', 1).of().of(a, b), ask('d', 1).of(a).of(b), ask('c', 1).of(a).of(b, b),
	} {
		if seen[string(q.bits)] {
			t.Errorf("%x was asked before", q.bits)
		}
		seen[string(q.bits)] = true
	}
}

// What an answer takes is counted by the sizes of what it holds.
func TestBytesOfAnAnswer(t *testing.T) {
	var none, some answer
	some.path = mesh.Path{Points: make([]geom.Vec, 7), Faces: make([]int, 6)}
	want := 7*int(unsafe.Sizeof(geom.Vec{})) + 6*int(unsafe.Sizeof(0))
	if got := some.bytes() - none.bytes(); got != want {
		t.Errorf("7 points and 6 faces are %d bytes, want %d", got, want)
	}
	far := answer{distances: mesh.Distances{}}
	far.distances.Targets = append(far.distances.Targets, make([]float64, 5)...)
	if got := far.bytes() - none.bytes(); got != 5*int(unsafe.Sizeof(0.0)) {
		t.Errorf("5 distances are %d bytes", got)
	}
}

// Numbers are found once for a question, and another name, other numbers or as many of them
// cut elsewhere are another question.
func TestKeptNumbersAreOfOneQuestion(t *testing.T) {
	c := &Casting{worked: &worked{}}
	times := 0
	ask := func(what string, of ...float64) float64 {
		return c.Kept(what, of, func() []float64 { times++; return []float64{float64(times)} })[0]
	}
	first := ask("a", 1, 2)
	for _, other := range []float64{ask("b", 1, 2), ask("a", 1), ask("a", 1, 2, 0), ask("a", 2, 1), ask("", 1, 2)} {
		if other == first {
			t.Error("another question has the same answer")
		}
	}
	if again := ask("a", 1, 2); again != first || times != 6 {
		t.Errorf("the same question is answered %g, then %g, sought %d times", first, again, times)
	}
}
