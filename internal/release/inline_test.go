package release

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// mark is an indication from one end to the other, as thin as it can be.
func mark(a, b geom.Vec, std float64) job.Indication {
	return job.Indication{Length: unit.MM(max(1e-9, a.Dist(b))), Width: 1e-9, Std: unit.MM(std), Crack: "no", Ends: []geom.Vec{a, b}}
}

// inLineLevel is a level whose figures are this test's: three or more marks, each within
// 2 mm of the next, 0.5 mm beside the line, accepted over up to 10 mm.
func inLineLevel() body.Level {
	l := level2()
	l.InLine = &body.InLine{Least: 3, Gap: 2, Beside: 0.5, Longest: 10}
	return l
}

// Marks in line at the bounds, which are inclusive. Constructed: marks of 1 mm on the
// x axis with 2 mm between.
func TestMarksInLineAtTheBounds(t *testing.T) {
	row := func(n int, gap, off, std float64) (r job.Record) {
		for k := range n {
			x := float64(k) * (1 + gap)
			y := 0.0
			if k == 1 {
				y = off
			}
			r.Indications = append(r.Indications, mark(geom.Vec{x, y, 0}, geom.Vec{x + 1, y, 0}, std))
		}
		return r
	}
	for _, c := range []struct {
		name string
		r    job.Record
		want Outcome
	}{
		{"two are no line", row(2, 2, 0, 0), OutcomeAccepted},
		{"three over 7 mm", row(3, 2, 0, 0), OutcomeAccepted},
		{"four over 10 mm", row(4, 2, 0, 0), OutcomeAccepted},
		{"five over 13 mm", row(5, 2, 0, 0), OutcomeRefused},
		{"five too far apart", row(5, 2.01, 0, 0), OutcomeAccepted},
		{"five that may be near enough", row(5, 2.01, 0, 0.01), OutcomeOpen},
		{"five, one just beside", row(5, 1.9, 0.5, 0), OutcomeRefused},
		{"five, one too far beside", row(5, 1.9, 0.51, 0), OutcomeAccepted},
		{"four that may be too long", row(4, 2, 0, 0.1), OutcomeOpen},
		{"without ends", job.Record{Apart: true, Indications: []job.Indication{indication(1, 1, 0, "no"), indication(1, 1, 0, "no"), indication(1, 1, 0, "no")}}, OutcomeOpen},
	} {
		if got, why := inLine(inLineLevel(), c.r, 0.95); got != c.want {
			t.Errorf("%s: %s (%s), want %s", c.name, got, why, c.want)
		}
	}
	l := inLineLevel()
	l.InLine.Longest = 0
	if got, _ := inLine(l, row(3, 2, 0, 0), 0.95); got != OutcomeRefused {
		t.Errorf("where no line is accepted three in line are %s", got)
	}
	l.CountsFrom = 1.5 // none of them counts
	if got, _ := inLine(l, row(5, 2, 0, 0), 0.95); got != OutcomeAccepted {
		t.Errorf("marks too small to count are %s", got)
	}
	l = inLineLevel()
	l.InLine.Gap, l.InLine.GapTimes = 0, 2
	if got, _ := inLine(l, row(5, 2, 0, 0), 0.95); got != OutcomeRefused {
		t.Errorf("each within twice the length of the longer: %s", got)
	}
	if got, _ := inLine(l, row(5, 2.1, 0, 0), 0.95); got != OutcomeAccepted {
		t.Errorf("each beyond twice the length of the longer: %s", got)
	}
}

// lines by trying every set of marks and every line through ends of two of them:
// distances by search, not by formula. It is how long the longest line is, 0 for none. With
// sign 1 everything stands nearer by its expanded uncertainty, twice the standard one (GUM,
// common practice), with -1 farther.
func longestLine(n *body.InLine, marks []job.Indication, sign float64) float64 {
	place := func(x job.Indication, s float64) geom.Vec { return x.Ends[0].Lerp(x.Ends[1], s) }
	least := func(f func(s float64) float64) float64 { // of a convex function over 0 to 1
		lo, hi := 0.0, 1.0
		for range 30 { // to a hundred-thousandth
			a, b := lo+(hi-lo)/3, hi-(hi-lo)/3
			if f(a) < f(b) {
				hi = b
			} else {
				lo = a
			}
		}
		return f((lo + hi) / 2)
	}
	gap := func(x, y job.Indication) float64 {
		return least(func(s float64) float64 {
			return least(func(q float64) float64 { return place(x, s).Dist(place(y, q)) })
		})
	}
	beside := func(x job.Indication, p, q geom.Vec) float64 {
		return least(func(s float64) float64 {
			d := place(x, s).Sub(p)
			return d.Cross(q.Sub(p)).Norm() / q.Dist(p)
		})
	}
	near := make([][]bool, len(marks))
	type axis struct{ i, k, p, q int }
	beyond := map[axis]int{} // marks, as bits, that lie too far beside a line
	for i, a := range marks {
		for m, b := range marks {
			if m < i {
				near[i] = append(near[i], near[m][i])
				continue
			}
			longer := slices.MaxFunc([]job.Indication{a, b}, func(x, y job.Indication) int { return cmp.Compare(x.Length, y.Length) })
			limit := max(float64(n.Gap), n.GapTimes*(float64(longer.Length)+sign*2*float64(longer.Std)))
			near[i] = append(near[i], gap(a, b) <= limit+sign*2*float64(a.Std+b.Std))
		}
		for k := i + 1; k < len(marks); k++ {
			for e := range 4 {
				x := axis{i, k, e / 2, e % 2}
				for m := range marks {
					if m != i && m != k && beside(marks[m], a.Ends[x.p], marks[k].Ends[x.q]) > float64(n.Beside)+sign*2*float64(marks[m].Std+a.Std+marks[k].Std) {
						beyond[x] |= 1 << m
					}
				}
				beyond[x] |= 0
			}
		}
	}
	best := 0.0
	for set := range 1 << len(marks) {
		reached, count, long := 0, 0, 0.0
		for i, a := range marks {
			if set>>i&1 == 0 {
				continue
			}
			if count++; count == 1 {
				reached = 1 << i
			}
			for k, b := range marks {
				if set>>k&1 == 1 {
					long = max(long, a.Ends[0].Dist(b.Ends[0]), a.Ends[0].Dist(b.Ends[1]), a.Ends[1].Dist(b.Ends[0]), a.Ends[1].Dist(b.Ends[1]))
				}
			}
		}
		for range marks {
			for i := range marks {
				for k := range marks {
					if set>>i&1 == 1 && set>>k&1 == 1 && reached>>i&1 == 1 && near[i][k] {
						reached |= 1 << k
					}
				}
			}
		}
		if count < n.Least || reached != set {
			continue
		}
		for x, out := range beyond {
			if set>>x.i&1 == 1 && set>>x.k&1 == 1 && set&out == 0 {
				best = max(best, long)
			}
		}
	}
	return best
}

// Marks that a line through two others passes by are in no line for that: the line has to
// be through ends of their own. Drawn at random: six marks of which no three are in line.
func TestMarksAreInLineByTheirOwnEnds(t *testing.T) {
	l := inLineLevel()
	l.InLine.Least, l.InLine.Gap, l.InLine.GapTimes, l.InLine.Beside = 3, 2, 0, 0.7842
	var marks []job.Indication
	for _, e := range [][2]geom.Vec{{{5.5808, 1.5286, 0.0879}, {5.5874, 2.7055, 0.0879}}, {{5.3510, 0.1155, 0.0402}, {5.0148, -0.7405, 0.0402}},
		{{11.5131, 0.6472, 0.1214}, {10.9764, 0.2275, 0.1214}}, {{0.1969, 1.3333, 0.2486}, {0.3703, 0.7976, 0.2486}},
		{{7.2920, 0.6301, 0.2823}, {7.0958, 1.7925, 0.2823}}, {{9.7659, 0.9206, 0.2734}, {10.1298, -0.9933, 0.2734}}} {
		marks = append(marks, mark(e[0], e[1], 0))
	}
	if want := longestLine(l.InLine, marks, 1); want != 0 {
		t.Fatalf("by trying every set %.3f mm", want)
	}
	if got := markLines(l, marks, 1); len(got) > 0 {
		t.Errorf("%+v", got)
	}
}

// Whatever stands in line by the rule's own words is found, and nothing else: against
// every set of up to six random marks. One more mark never makes the judgement milder,
// nor does less certainty, nor the order.
func TestMarksInLineAgainstEverySet(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 15))
	found := 0
	for k := range draws(8, 3000) {
		l := inLineLevel()
		l.InLine.Least = 2 + rng.IntN(3)
		l.InLine.Beside = unit.MM(rng.Float64())
		if rng.IntN(2) == 0 {
			l.InLine.Gap, l.InLine.GapTimes = 0, 1+rng.Float64()
		}
		var marks []job.Indication
		lean := rng.Float64()
		for range 2 + rng.IntN(5) {
			p := geom.Vec{14 * rng.Float64(), lean * 4 * rng.Float64(), rng.Float64() * 0.3}
			w := 6.3 * rng.Float64()
			marks = append(marks, mark(p, p.Add(geom.Vec{math.Cos(w), math.Sin(w), 0}.Scale(0.2+2*rng.Float64())), 0))
		}
		want := longestLine(l.InLine, marks, 1)
		got := unit.MM(0)
		for _, x := range markLines(l, marks, 1) {
			got = max(got, x.length)
		}
		if math.Abs(float64(got)-math.Ceil(want*10-1e-6)/10) > 1e-6 && math.Abs(float64(got)-want) > 0.11 || (got == 0) != (want == 0) {
			t.Fatalf("draw %d: the longest line is %v, by trying every set %.3f mm: %+v of %+v", k, got, want, *l.InLine, marks)
		}
		if want > 0 {
			found++
		}
		rank := map[Outcome]int{OutcomeAccepted: 0, OutcomeOpen: 1, OutcomeRefused: 2}
		before, _ := inLine(l, job.Record{Indications: marks[1:]}, 0.95)
		after, _ := inLine(l, job.Record{Indications: marks}, 0.95)
		if rank[after] < rank[before] {
			t.Fatalf("draw %d: with one more mark %s in place of %s", k, after, before)
		}
		rng.Shuffle(len(marks), func(i, j int) { marks[i], marks[j] = marks[j], marks[i] })
		if again, _ := inLine(l, job.Record{Indications: marks}, 0.95); again != after {
			t.Fatalf("draw %d: in another order %s in place of %s", k, again, after)
		}
		for i := range marks {
			marks[i].Std = 0.3
		}
		if rough, _ := inLine(l, job.Record{Indications: marks}, 0.95); rough == OutcomeAccepted && after != OutcomeAccepted {
			t.Fatalf("draw %d: less certain it is %s in place of %s", k, rough, after)
		}
	}
	if found == 0 {
		t.Errorf("only %d draws had a line", found)
	}
}

// Marks that are measured more or less well: whether they may stand in line, and whether they
// surely do, against every set. Where no line is accepted that is the judgement. A line is as
// long as its longest mark at the least, a mark may be longer than its ends are apart; its
// uncertainty is that of the two ends it hangs on, taken from the two worst. No line is told
// twice, nor within another.
func TestUncertainMarksInLineAgainstEverySet(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 15))
	seen := map[Outcome]int{}
	for k := range draws(24, 3000) {
		l := inLineLevel()
		l.InLine.Least, l.InLine.Longest = 2+rng.IntN(2), 0
		l.InLine.Beside = unit.MM(0.6 + rng.Float64())
		if rng.IntN(2) == 0 {
			l.InLine.Gap, l.InLine.GapTimes = 0, 1+rng.Float64()
		}
		var marks []job.Indication
		for i := range 3 + rng.IntN(2) {
			p := geom.Vec{3*float64(i) + 1.5*rng.Float64(), 1.6 * rng.Float64(), 0}
			x := mark(p, p.Add(geom.Vec{0.5 + rng.Float64(), 0.5 * rng.Float64(), 0}), 0.08*rng.Float64())
			if rng.IntN(3) == 0 {
				x.Length *= unit.MM(1 + 8*rng.Float64())
			}
			marks = append(marks, x)
		}
		may, surely := longestLine(l.InLine, marks, 1) > 0, longestLine(l.InLine, marks, -1) > 0
		want := map[bool]Outcome{true: OutcomeRefused, false: OutcomeOpen}[surely]
		if !may {
			want = OutcomeAccepted
		}
		if got, why := inLine(l, job.Record{Indications: marks}, 0.95); got != want {
			t.Fatalf("draw %d: %s (%s), by trying every set %s: %+v of %+v", k, got, why, want, *l.InLine, marks)
		}
		seen[want]++
		lines := markLines(l, marks, 1)
		for i, x := range lines {
			var long, far float64
			var stds []float64
			for _, m := range x.members {
				long = max(long, float64(marks[m].Length))
				stds = append(stds, float64(marks[m].Std))
				for _, o := range x.members {
					for e := range 4 {
						far = max(far, marks[m].Ends[e/2].Dist(marks[o].Ends[e%2]))
					}
				}
			}
			slices.Sort(stds)
			if n := len(stds); math.Abs(float64(x.std)-stds[n-1]-stds[n-2]) > 1e-12 || float64(x.length) < max(long, far)-1e-6 || float64(x.length) > max(long, far)+0.1 {
				t.Fatalf("draw %d: line %+v of marks up to %.3f mm over %.3f mm, uncertain by %v", k, x, long, far, stds)
			}
			for n, o := range lines {
				if n != i && !slices.ContainsFunc(x.members, func(m int) bool { return !slices.Contains(o.members, m) }) {
					t.Fatalf("draw %d: line %v and line %v", k, x.members, o.members)
				}
			}
		}
	}
	if len(seen) != 3 {
		t.Errorf("only %v were drawn", seen)
	}
}

// Marks that touch end to end stand in one line; 200 of a record are looked through, 201 are
// not (our choice).
func TestManyMarksInLine(t *testing.T) {
	l := inLineLevel()
	l.InLine.Longest = 2.9
	chain := []job.Indication{mark(geom.Vec{0, 0, 0}, geom.Vec{1, 0, 0}, 0), mark(geom.Vec{1, 0, 0}, geom.Vec{2, 0, 0}, 0), mark(geom.Vec{2, 0, 0}, geom.Vec{3, 0, 0}, 0)}
	if got, why := inLine(l, job.Record{Indications: chain}, 0.95); got != OutcomeRefused || !strings.Contains(why, "3 indications stand in line over 3 mm") {
		t.Errorf("three that touch: %s (%s)", got, why)
	}
	blind := make([]job.Indication, 201)
	for n, want := range map[int]string{200: "not known where the indications end", 201: "more than 200"} {
		if got, why := inLine(l, job.Record{Indications: blind[:n]}, 0.95); got != OutcomeOpen || !strings.Contains(why, want) {
			t.Errorf("%d marks: %s (%s), want %q", n, got, why, want)
		}
	}
}

// A line that the level refuses keeps the vehicle in the shop.
func TestLineOfMarksIsNotReleased(t *testing.T) {
	w, in := repaired()
	before := missingTexts(w, in)
	w.in.Body.Procedures[0].Levels[0].InLine = inLineLevel().InLine
	for i := range w.in.Job.Records {
		if r := &w.in.Job.Records[i]; r.Show == body.ShowPenetrant {
			r.None, r.Indications = false, nil
			for k := range 5 {
				x := 3 * float64(k)
				r.Indications = append(r.Indications, job.Indication{Length: 1, Width: 0.5, Crack: "no", Ends: []geom.Vec{{x, 0, 0}, {x + 1, 0, 0}}})
			}
		}
	}
	if got := missingTexts(w, in); strings.Contains(before, "stand in line") || !strings.Contains(got, "refused") || !strings.Contains(got, "5 indications stand in line over 13") {
		t.Errorf("before\n%s\nafter\n%s", before, got)
	}
}
