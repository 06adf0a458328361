package inspect

import (
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/mesh"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// chains calls f for every chain of places, with its cost.
func (l *lattice) chains(f func(places []int, cost float64)) {
	var walk func(places []int, cost float64)
	walk = func(places []int, cost float64) {
		i := len(places)
		if i == len(l.layers) {
			f(places, cost)
			return
		}
		for k := range l.layers[i] {
			step := 0.0
			if i > 0 {
				step = l.at(i-1, places[i-1], k).cost
			}
			walk(append(slices.Clone(places), k), cost+step+l.cost[i][k])
		}
	}
	walk(nil, 0)
}

// TestChainsOfPlacesSeed31: the least cost of all, of the chains over each step, and the places before
// and after each, against every chain. Costs drawn; some steps lead nowhere.
func TestChainsOfPlacesSeed31(t *testing.T) {
	r := rng(31)
	for range 60 {
		l := &lattice{}
		for range 1 + r.IntN(5) {
			n := 1 + r.IntN(3)
			l.layers = append(l.layers, make([]candidate, n))
			var cost []float64
			for range n {
				cost = append(cost, 5*r.Float64())
			}
			l.cost, l.taken = append(l.cost, cost), append(l.taken, r.IntN(n))
		}
		for i := 0; i+1 < len(l.layers); i++ {
			var steps []step
			for k := range len(l.layers[i]) * len(l.layers[i+1]) {
				s := step{cost: 5 * r.Float64()}
				if k > 0 && r.IntN(6) == 0 {
					s.cost = math.Inf(1)
				}
				steps = append(steps, s)
			}
			l.steps = append(l.steps, steps)
		}
		cheapest := math.Inf(1)
		over := map[[3]int]float64{}   // of the chains over a step
		upTo := map[[2]int]float64{}   // up to a place
		onFrom := map[[2]int]float64{} // from a place on, its own left out
		note := func(m map[[2]int]float64, at [2]int, cost float64) {
			if was, ok := m[at]; !ok || cost < was {
				m[at] = cost
			}
		}
		l.chains(func(places []int, cost float64) {
			cheapest = min(cheapest, cost)
			sum := 0.0
			for i, k := range places {
				if i > 0 {
					s := [3]int{i - 1, places[i-1], k}
					if was, ok := over[s]; !ok || cost < was {
						over[s] = cost
					}
					sum += l.at(i-1, places[i-1], k).cost
				}
				sum += l.cost[i][k]
				note(upTo, [2]int{i, k}, sum)
				if rest := cost - sum; !math.IsNaN(rest) {
					note(onFrom, [2]int{i, k}, rest)
				}
			}
		})
		same := func(a, b float64) bool { return a == b || math.Abs(a-b) < 1e-9 }
		if got := l.search(); !same(got, cheapest) {
			t.Fatalf("the least is %g, want %g", got, cheapest)
		}
		for i := range l.layers {
			for k := range l.layers[i] {
				if at := [2]int{i, k}; !same(l.before[i][k], upTo[at]) {
					t.Fatalf("up to place %d of point %d: %g, want %g", k, i, l.before[i][k], upTo[at])
				}
			}
		}
		for s, want := range over {
			if got := l.through(s[0], s[1], s[2]); !same(got, want) {
				t.Fatalf("over step %v: %g, want %g", s, got, want)
			}
			if math.IsInf(want, 1) {
				continue
			}
			if i, b := s[0]+1, s[2]; !math.IsInf(l.before[i][b], 1) && !same(l.before[i-1][l.back(i, b)]+l.at(i-1, l.back(i, b), b).cost+l.cost[i][b], upTo[[2]int{i, b}]) {
				t.Fatalf("before place %d of point %d comes %d", b, i, l.back(i, b))
			}
			if i, a := s[0], s[1]; !same(l.at(i, a, l.on(i, a)).cost+l.cost[i+1][l.on(i, a)]+l.after[i+1][l.on(i, a)], l.after[i][a]) || !math.IsInf(upTo[[2]int{i, a}], 1) && !same(l.after[i][a], onFrom[[2]int{i, a}]) {
				t.Fatalf("after place %d of point %d: %g, want %g", a, i, l.after[i][a], onFrom[[2]int{i, a}])
			}
		}
	}
}

// lineLattice is a lattice of points on a line, two places each, of which the second was taken where
// said; every way between two places is as long as its number says.
func lineLattice(taken ...int) *lattice {
	l := &lattice{taken: taken}
	for i := range taken {
		l.layers = append(l.layers, []candidate{{site: mesh.Site{Face: 10 * i}}, {site: mesh.Site{Face: 10*i + 1}}})
		l.cost = append(l.cost, []float64{0, 1})
	}
	for i := 0; i+1 < len(taken); i++ {
		var steps []step
		for k := range 4 {
			steps = append(steps, step{way: mesh.Path{LengthMM: float64(100*i + k), ChordMM: float64(100*i + k)}})
		}
		l.steps = append(l.steps, steps)
	}
	return l
}

// TestTraceAsClicked: where the nearest places were not taken, the stretch over them is a way of its
// own, from the last point before on which it agrees to the next; its ends are those of the crack where
// they were not taken there. None where it jumps.
func TestTraceAsClicked(t *testing.T) {
	tr := &trace{at: &place{Casting: &vehicle.Casting{Of: &body.Casting{Wall: 5}}}}
	type way struct {
		from, to int
		ends     [2]bool
	}
	for _, c := range []struct {
		taken []int
		jumps int // the step that does, from 1; 0: none
		want  []way
	}{
		{[]int{0, 0, 0}, 0, nil},
		{[]int{0, 1, 0}, 0, []way{{0, 2, [2]bool{false, false}}}},
		{[]int{1, 0, 0}, 0, []way{{0, 1, [2]bool{true, false}}}},
		{[]int{0, 0, 1}, 0, []way{{1, 2, [2]bool{false, true}}}},
		{[]int{1, 1, 1}, 0, []way{{0, 2, [2]bool{true, true}}}},
		{[]int{1, 0, 0, 1, 1, 0, 0}, 0, []way{{0, 1, [2]bool{true, false}}, {2, 5, [2]bool{false, false}}}},
		{[]int{1, 0, 1}, 0, []way{{0, 1, [2]bool{true, false}}, {1, 2, [2]bool{false, true}}}},
		{[]int{1, 0, 0, 1, 1, 0, 0}, 4, []way{{0, 1, [2]bool{true, false}}}},
		{[]int{1, 0, 0, 1, 1, 0, 0}, 1, []way{{2, 5, [2]bool{false, false}}}},
	} {
		l := lineLattice(c.taken...)
		if c.jumps > 0 {
			l.steps[c.jumps-1][0].cost = math.Inf(1)
		}
		got, covered := l.asClicked(tr)
		steps := 0
		ok := len(got) == len(c.want)
		for k := 0; ok && k < len(got); k++ {
			w, d := c.want[k], got[k]
			ok = d.from == w.from && d.ends == w.ends && len(d.ways) == w.to-w.from && len(d.sites) == w.to-w.from+1 && !d.likely
			for i := 0; ok && i < len(d.sites); i++ {
				ok = d.sites[i].Face == 10*(w.from+i) && (i == 0 || d.ways[i-1].LengthMM == float64(100*(w.from+i-1)) && covered[[3]int{w.from + i - 1, 0, 0}])
			}
			steps += w.to - w.from
		}
		if !ok || len(covered) != steps {
			t.Errorf("taken %v: %+v, covered %v; want %+v", c.taken, got, covered, c.want)
		}
	}
}

// TestLongestOfTheWays: how much longer the longest is that a trace may take, against every choice of
// ways that do not overlap. Ways between points are 10 mm.
func TestLongestOfTheWaysSeed4(t *testing.T) {
	r := rng(4)
	longer := 0
	for range 80 {
		n := 2 + r.IntN(5)
		tr := &trace{sites: make([]mesh.Site, n)}
		for range n - 1 {
			tr.raw = append(tr.raw, mesh.Path{LengthMM: 10})
		}
		for range r.IntN(5) {
			d := detour{from: r.IntN(n - 1)}
			for range r.IntN(n - d.from) {
				d.ways = append(d.ways, mesh.Path{LengthMM: 6 + 10*r.Float64()})
			}
			tr.detours = append(tr.detours, d)
		}
		var most func(i int) float64
		most = func(i int) float64 { // from point i on
			if i == n-1 {
				return 0
			}
			best := 10 + most(i+1)
			for _, d := range tr.detours {
				if d.from == i && len(d.ways) > 0 {
					sum := most(i + len(d.ways))
					for _, w := range d.ways {
						sum += w.LengthMM
					}
					best = max(best, sum)
				}
			}
			return best
		}
		want := most(0) - 10*float64(n-1)
		near(t, "longer", tr.longerBy(), want, 1e-9)
		if want > 0 {
			longer++
		}
		note := tr.detourNote()
		if (note == nil) != (len(tr.detours) == 0) || note != nil && strings.Contains(note.Text, " longer") != (want >= 0.1) {
			t.Errorf("%g mm longer: %+v", want, note)
		}
	}
	if longer < 20 {
		t.Errorf("%d were longer", longer)
	}
}

// The note of several ways names the points between which they are; of one point it is about the side.
func TestNoteOfWaysInDoubt(t *testing.T) {
	way := mesh.Path{LengthMM: 10}
	tr := &trace{sites: make([]mesh.Site, 6), raw: []mesh.Path{way, way, way, way, way}, detours: []detour{{from: 3, ways: []mesh.Path{way}}, {from: 1, ways: []mesh.Path{way, {LengthMM: 10.1}}}}}
	if n := tr.detourNote(); n == nil || n.Text != "between point 2 and point 5 the trace may take 2 other ways along the surface: its place is judged by all of them, and it may be 0.1 mm longer" {
		t.Errorf("%+v", n)
	}
	tr = &trace{sites: make([]mesh.Site, 1), detours: []detour{{likely: true}, {}}}
	if n := tr.detourNote(); n == nil || !strings.Contains(n.Text, "either side of the wall") || tr.likelyDetours() != 1 {
		t.Errorf("%+v", n)
	}
	if tr.detours = nil; tr.detourNote() != nil || tr.longerBy() != 0 || tr.likelyDetours() != 0 {
		t.Error("without other ways a way is in doubt")
	}
}

// What a way costs is the square of how much longer it is than straight, in walls; a wall of less than
// a millimetre counts as one.
func TestCostOfAWay(t *testing.T) {
	for _, c := range []struct{ wall, length, chord, want float64 }{{5, 20, 10, 4}, {5, 10, 10, 0}, {5, 9, 10, 0}, {0.5, 12, 10, 4}, {0, 12, 10, 4}, {2, 13, 10, 2.25}} {
		tr := &trace{at: &place{Casting: &vehicle.Casting{Of: &body.Casting{Wall: unit.MM(c.wall)}}}}
		near(t, "cost", tr.excess(mesh.Path{LengthMM: c.length, ChordMM: c.chord}), c.want, 1e-12)
	}
}
