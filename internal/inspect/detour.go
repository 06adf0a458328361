package inspect

import (
	"cmp"
	"math"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// Where a wall is thin, points are rough or ways lead round an edge, more than one
// chain of places fits the points of a trace, and more than one way leads from one place
// to the next. None of them is known to be the crack, so it is judged by all of them: it
// lies in every zone that one of them touches, is as near to everything as the nearest of
// them, and may be as long as the longest.
//
// A chain counts that costs no more than detourCost above the cheapest, by the cost that
// chains are chosen by (snap.go), jumps included at their length. Taken as minus twice
// the logarithm of how likely a chain is, that is one a hundredth as likely or more. The
// chain of the nearest places always counts where its ways do not jump: it is the trace
// as it was clicked. Our choice, no source.
const (
	detourCost = 9.21 // -2 ln(1/100)
	// mostDetours is how many other ways a trace may take before nothing is said of its
	// place: the points then show none. Our choice.
	mostDetours = 24
	// detourStds is how many standard uncertainties cover what the longest way is longer:
	// the one-sided 95 % bound. Source: tables of the normal distribution.
	detourStds = 1.645
)

// detour is another way that a trace may take for a while.
type detour struct {
	likely bool        // it counts by its cost, not only as the trace as it was clicked
	from   int         // the point that its first place is of
	sites  []mesh.Site // one for each point
	ways   []mesh.Path // between them
	ends   [2]bool     // its first place may be the first of the crack, its last one the last
}

// lattice is every place that a point may be of, and the ways between those of
// neighbouring points.
type lattice struct {
	layers [][]candidate
	cost   [][]float64 // of each place alone
	taken  []int       // the chain taken
	steps  [][]step    // from each point on: of every place before with every place after
	before [][]float64 // least cost of a chain up to each place, its own included
	after  [][]float64 // and from it on, its own left out
}

type step struct {
	way  mesh.Path
	cost float64 // infinite where there is no way
}

// at is the step from place a of point i to place b of the next.
func (l *lattice) at(i, a, b int) *step { return &l.steps[i][a*len(l.layers[i+1])+b] }

// through is the least cost of a chain that takes a step.
func (l *lattice) through(i, a, b int) float64 {
	return l.before[i][a] + l.at(i, a, b).cost + l.cost[i+1][b] + l.after[i+1][b]
}

// findDetours finds the other ways that the trace may take, of points that are off the
// surface by the standard uncertainty std. The note says why nothing is known of its place.
func (t *trace) findDetours(points []geom.Vec, nearest, chain []candidate, std float64) *diag.Note {
	if !(t.said > 0) {
		return nil // exact points are where they are
	}
	if l := t.lattice(points, nearest, chain, max(std, t.std)); l != nil {
		t.detours = l.detours(t, l.search())
	}
	t.findRivals()
	if n := t.likelyDetours(); n > mostDetours {
		return diag.Say("inspect.way-unclear", "the points of the trace fit {ways} ways along the surface of {casting}, and do not show which of them the crack takes", n+1, t.at.Of.ID).Noted(diag.Note{Severity: diag.Blocking, Hint: "enter more points between them, or say how well each is known"})
	}
	return nil
}

// lattice is nil when no point may be anywhere but where it was put.
func (t *trace) lattice(points []geom.Vec, nearest, chain []candidate, std float64) *lattice {
	s := elem.Hypot(std, t.meshStd())
	own := func(c candidate) float64 { return float64((c.mm / s) * (c.mm / s)) }
	budget := detourCost
	for i, c := range chain {
		budget += own(c) - own(nearest[i])
		if c != nearest[i] {
			budget += elsewhereCost
		}
	}
	for _, w := range t.raw {
		budget += t.excess(w)
	}
	l := &lattice{}
	more := false
	for i := range points {
		layer := []candidate{nearest[i]}
		if chain[i] != nearest[i] {
			layer = append(layer, chain[i])
		}
		l.taken = append(l.taken, len(layer)-1)
		layer = t.elsewhere(layer, points, nearest, i, float64(s*math.Sqrt(max(0, budget+own(nearest[i])-elsewhereCost))))
		costs := make([]float64, len(layer))
		for k, c := range layer {
			if costs[k] = own(c); k > 0 {
				costs[k] += elsewhereCost
			}
		}
		more = more || len(layer) > 1
		l.layers, l.cost = append(l.layers, layer), append(l.cost, costs)
	}
	if !more {
		return nil
	}
	l.fill(t, budget)
	return l
}

// excess is what a way between neighbours costs.
func (t *trace) excess(p mesh.Path) float64 {
	x := max(0, p.LengthMM-p.ChordMM) / t.wall()
	return float64(x * x)
}

func (t *trace) wall() float64 { return max(1, float64(t.at.Of.Wall)) }

// fill finds the ways between the places of neighbouring points, as far as a chain over
// both may count.
func (l *lattice) fill(t *trace, budget float64) {
	for i := 0; i+1 < len(l.layers); i++ {
		steps := make([]step, 0, len(l.layers[i])*len(l.layers[i+1]))
		for a, p := range l.layers[i] {
			for b, q := range l.layers[i+1] {
				s := step{cost: math.Inf(1)}
				above := l.cost[i][a] - l.cost[i][0] + l.cost[i+1][b] - l.cost[i+1][0]
				if a == l.taken[i] && b == l.taken[i+1] {
					s = step{t.raw[i], t.excess(t.raw[i])}
				} else if above <= budget || a == 0 && b == 0 {
					if w, err := t.at.Way(p.site, q.site); err == nil {
						s = step{w, t.excess(w)}
					}
				}
				steps = append(steps, s)
			}
		}
		l.steps = append(l.steps, steps)
	}
}

// search finds the least costs; the least of all is returned.
func (l *lattice) search() float64 {
	n := len(l.layers)
	l.before, l.after = make([][]float64, n), make([][]float64, n)
	l.before[0] = slices.Clone(l.cost[0])
	for i := 1; i < n; i++ {
		for b := range l.layers[i] {
			least := math.Inf(1)
			for a := range l.layers[i-1] {
				least = min(least, l.before[i-1][a]+l.at(i-1, a, b).cost)
			}
			l.before[i] = append(l.before[i], least+l.cost[i][b])
		}
	}
	l.after[n-1] = make([]float64, len(l.layers[n-1]))
	for i := n - 2; i >= 0; i-- {
		for a := range l.layers[i] {
			least := math.Inf(1)
			for b := range l.layers[i+1] {
				least = min(least, l.at(i, a, b).cost+l.cost[i+1][b]+l.after[i+1][b])
			}
			l.after[i] = append(l.after[i], least)
		}
	}
	return slices.Min(l.before[n-1])
}

// back is the place before place b of point i on the cheapest chain up to it, and on is
// the one after place a on the cheapest chain from it on.
func (l *lattice) back(i, b int) int {
	cost := make([]float64, len(l.layers[i-1]))
	for a := range cost {
		cost[a] = l.before[i-1][a] + l.at(i-1, a, b).cost
	}
	return least(cost)
}

func (l *lattice) on(i, a int) int {
	cost := make([]float64, len(l.layers[i+1]))
	for b := range cost {
		cost[b] = l.at(i, a, b).cost + l.cost[i+1][b] + l.after[i+1][b]
	}
	return least(cost)
}

// detours is the ways of all chains that count, as stretches beside the chain taken.
func (l *lattice) detours(t *trace, cheapest float64) []detour {
	out, covered := l.asClicked(t)
	if len(l.layers) == 1 {
		for k, c := range l.layers[0] {
			if k != l.taken[0] && (l.cost[0][k] <= cheapest+detourCost || k == 0) {
				out = append(out, detour{likely: true, sites: []mesh.Site{c.site}, ends: [2]bool{true, true}})
			}
		}
		return out
	}
	type open struct {
		i, a, b int
		cost    float64
	}
	var list []open
	for i := range l.steps {
		for a := range l.layers[i] {
			for b := range l.layers[i+1] {
				if cost := l.through(i, a, b); cost <= cheapest+detourCost && !(a == l.taken[i] && b == l.taken[i+1]) {
					list = append(list, open{i, a, b, cost})
				}
			}
		}
	}
	slices.SortStableFunc(list, func(x, y open) int { return cmp.Compare(x.cost, y.cost) })
	for _, x := range list {
		if covered[[3]int{x.i, x.a, x.b}] {
			continue
		}
		from, places := x.i, []int{x.a, x.b}
		for from > 0 && places[0] != l.taken[from] {
			places = append([]int{l.back(from, places[0])}, places...)
			from--
		}
		for to := x.i + 1; to+1 < len(l.layers) && places[to-from] != l.taken[to]; to++ {
			places = append(places, l.on(to, places[to-from]))
		}
		if d := l.stretch(from, places, covered); !t.alike(d.ways, t.known(d, out)) {
			d.likely = true
			out = append(out, d)
		}
	}
	return out
}

// known is the ways beside a detour: the one taken, and those of other detours.
func (t *trace) known(d detour, others []detour) []mesh.Path {
	out := slices.Clone(t.raw[d.from : d.from+len(d.ways)])
	for _, o := range others {
		if o.likely {
			out = append(out, o.ways...)
		}
	}
	return out
}

func (t *trace) likelyDetours() (n int) {
	for _, d := range t.detours {
		if d.likely {
			n++
		}
	}
	return n
}

// alike says that all of some ways lies beside others, within what noise of a point
// explains: then they are the same way, clicked elsewhere.
func (t *trace) alike(ways, others []mesh.Path) bool {
	for _, w := range ways {
		for k, f := range w.Faces {
			x := t.at.Surface.SiteAt(w.Points[k].Lerp(w.Points[k+1], 0.5), f)
			if !slices.ContainsFunc(others, func(o mesh.Path) bool { return t.onWay(x, o) }) {
				return false
			}
		}
	}
	return true
}

// onWay says that a place lies beside a way, within what noise of a point explains, and
// faces the same way: on the other side of a wall it does not.
func (t *trace) onWay(x mesh.Site, w mesh.Path) bool {
	gate, n := float64(nearStds*t.std), t.normalOf(x.Face)
	for k, f := range w.Faces {
		if x.At.Dist(geom.NearestOnSegment(x.At, w.Points[k], w.Points[k+1])) <= gate && n.Dot(t.normalOf(f)) >= 0 {
			return true
		}
	}
	return false
}

// asClicked is where the chain of the nearest places leaves the one taken and its ways do
// not jump; covered is the steps that are in it.
func (l *lattice) asClicked(t *trace) (out []detour, covered map[[3]int]bool) {
	covered = map[[3]int]bool{}
	for i := 0; i+1 < len(l.layers); {
		if l.taken[i] == 0 && l.taken[i+1] == 0 {
			i++
			continue
		}
		from, jumps := i, false
		for ; i+1 < len(l.layers) && (i == from || l.taken[i] != 0); i++ {
			s := l.at(i, 0, 0)
			jumps = jumps || math.IsInf(s.cost, 1) || t.jumps(s.way)
		}
		if !jumps {
			out = append(out, l.stretch(from, make([]int, i-from+1), covered))
		}
	}
	return out, covered
}

// stretch is the way over some places, from a point on.
func (l *lattice) stretch(from int, places []int, covered map[[3]int]bool) detour {
	d := detour{from: from}
	for k, a := range places {
		d.sites = append(d.sites, l.layers[from+k][a].site)
		if k > 0 {
			d.ways = append(d.ways, l.at(from+k-1, places[k-1], a).way)
			covered[[3]int{from + k - 1, places[k-1], a}] = true
		}
	}
	last := from + len(places) - 1
	d.ends = [2]bool{from == 0 && places[0] != l.taken[0], last == len(l.layers)-1 && places[len(places)-1] != l.taken[last]}
	return d
}

// longerBy is how much longer than the way taken the longest is that the trace may take
// [mm].
func (t *trace) longerBy() float64 {
	if len(t.detours) == 0 {
		return 0
	}
	most := make([]float64, len(t.sites)) // up to each point
	taken := 0.0
	for i := range t.sites {
		if i > 0 {
			taken += t.raw[i-1].LengthMM
			most[i] = most[i-1] + t.raw[i-1].LengthMM
		}
		for _, d := range t.detours {
			if len(d.ways) > 0 && d.from+len(d.ways) == i {
				long := most[d.from]
				for _, w := range d.ways {
					long += w.LengthMM
				}
				most[i] = max(most[i], long)
			}
		}
	}
	return most[len(most)-1] - taken
}

// maybeCrossed is the labels of the ways that the trace may take besides those that it
// crosses.
func (t *trace) maybeCrossed() []int32 {
	var out []int32
	crossed := t.crossed()
	add := func(label int32) {
		if !slices.Contains(out, label) && !slices.ContainsFunc(crossed, func(l mesh.LabelLength) bool { return l.Label == label }) {
			out = append(out, label)
		}
	}
	for _, d := range t.detours {
		for _, s := range d.sites {
			add(t.label(s.Face))
		}
		for _, w := range d.ways {
			for _, l := range t.at.Surface.LabelLengths(w) {
				if l.LengthMM > 0 {
					add(l.Label)
				}
			}
		}
	}
	slices.Sort(out)
	return out
}

// detourNote asks for more points where the trace may take more than one way.
func (t *trace) detourNote() *diag.Note {
	if len(t.detours) == 0 {
		return nil
	}
	if len(t.sites) == 1 {
		return diag.Say("inspect.way-in-doubt", "the point may lie on either side of the wall: its place is judged by both").Noted(diag.Note{Severity: diag.Caution, Hint: "say how well the point is known, or enter one that is clearly on its side"})
	}
	from, to := len(t.sites), 0
	for _, d := range t.detours {
		from, to = min(from, d.from), max(to, d.from+len(d.ways))
	}
	said := diag.Say("inspect.way-in-doubt", "between point {from} and point {to} the trace may take {ways} along the surface: its place is judged by all of them", from+1, to+1, diag.Counted(len(t.detours), "other way"))
	if longer := t.longerBy(); longer >= closeMM {
		said = said.And(diag.Say("inspect.may-be-longer", ", and it may be {length} longer", long(longer)))
	}
	return said.Noted(diag.Note{Severity: diag.Caution, Hint: "enter more points where it passes an edge, or say how well each is known"})
}
