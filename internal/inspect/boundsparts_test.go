package inspect

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/vehicle"
)

// placeOn is a casting of a mesh that no rule is for.
func placeOn(t *testing.T, m *mesh.Mesh) *place {
	t.Helper()
	s, err := mesh.NewSurface(m)
	if err != nil {
		t.Fatal(err)
	}
	return &place{Casting: vehicle.Alone(&body.Casting{ID: "C", Wall: 5}, s)}
}

// siteOf is the place on the surface nearest to a point.
func (p *place) siteOf(x geom.Vec) []mesh.Site {
	s, _ := p.Surface.Closest(x)
	return []mesh.Site{s}
}

// A distance along the surface is bounded on both sides by what is true: it is decided at every limit
// that it may reach, narrowed to a tenth of a millimetre below the largest of them, and not asked for
// where its lower bound is a limit already. On a fold the true distance is that of the sheet laid flat.
func TestIntervalOfADistanceSeed41(t *testing.T) {
	p, r := placeOn(t, fold()), rng(41)
	decided := map[bool]int{}
	for range 60 {
		y := 2 + 16*r.Float64()
		flat, up := 1+17*r.Float64(), 1+17*r.Float64()                        // from the fold, along the sheet
		a, b := geom.Vec{20 - flat, y, 0}, geom.Vec{20 + 0.8*up, y, 0.6 * up} // 9 on 12: 0.6 and 0.8 of the way
		want, straight := flat+up, a.Dist(b)
		var needs []float64
		for range 1 + r.IntN(3) {
			needs = append(needs, want*(0.7+0.6*r.Float64()))
		}
		for i := range needs { // ascending
			needs[i] += float64(i) * want * 0.3
		}
		g := p.interval(p.siteOf(a), p.siteOf(b), straight-1e-9, needs)
		if g.doubt != "" || g.lo > want+1e-6 || g.hi < want-1e-6 {
			t.Fatalf("%.4f mm: %+v", want, g)
		}
		last := needs[len(needs)-1]
		for _, need := range needs {
			if g.lo < need-1e-9 && g.hi >= need+1e-9 {
				t.Errorf("%.4f mm, limit %.4f: %+v", want, need, g)
			}
		}
		if below := g.hi < last; below && g.hi-g.lo > closeMM {
			t.Errorf("%.4f mm, below %.4f: %+v", want, last, g)
		} else {
			decided[below]++
		}
	}
	if decided[true] < 10 || decided[false] < 10 {
		t.Errorf("%v", decided)
	}
	a, b := p.siteOf(geom.Vec{5, 10, 0}), p.siteOf(geom.Vec{32, 10, 9})
	for _, needs := range [][]float64{nil, {3}, {3, 7}} {
		if g := p.interval(a, b, 7, needs); g.lo != 7 || !math.IsInf(g.hi, 1) || g.doubt != "" {
			t.Errorf("limits %v, 7 mm are sure: %+v", needs, g)
		}
	}
}

// Ways over a seam lower what is sure to the straight way to the seam and on, never below the straight
// distance, and raise nothing. Two points 10 mm to either side of a slit of 0.3 mm, whose ends are far.
func TestSeamsLowerWhatIsSure(t *testing.T) {
	p := placeOn(t, slit(plate(), 100, 10, 90, 0, 0.3))
	a, b := p.siteOf(geom.Vec{90, 50, 0}), p.siteOf(geom.Vec{110, 50, 0})
	over := p.OverSeams(a, b)
	if over < 19 || over > 20 {
		t.Fatalf("over the seam %.3f mm, want 20 less the gap at most", over)
	}
	for _, k := range []struct{ lo, straight, want float64 }{{60, 10, over}, {over, 10, over}, {15, 10, 15}, {60, 40, 40}, {40, 40, 40}, {60, 60, 60}, {over + 0.1, 0, over}} {
		g := p.cautious(span{lo: k.lo, hi: 70}, k.straight, a, b)
		if g.lo != k.want || g.hi != 70 || (g.doubt != "") != (k.want < k.lo) {
			t.Errorf("from %g mm, straight %g: %+v, want %g", k.lo, k.straight, g, k.want)
		}
	}
	if whole := placeOn(t, plate()); whole.cautious(span{lo: 60, hi: 70}, 20, whole.siteOf(geom.Vec{90, 50, 0}), whole.siteOf(geom.Vec{110, 50, 0})) != (span{lo: 60, hi: 70}) {
		t.Error("without a seam less is sure")
	}
}

// A trace over a slit is told between the two points at which it leads over it, whichever they are, and
// a trace beside it is not; neither is any without a slit.
func TestSeamBetweenTwoPoints(t *testing.T) {
	p, whole := placeOn(t, slit(plate(), 100, 10, 90, 0, 0.3)), placeOn(t, plate())
	for k := range 5 { // the slit lies behind point k of six; behind none for 0
		var points []geom.Vec
		for i := range 6 {
			points = append(points, geom.Vec{100 + 8*(float64(i-k)+0.5), 50, 0})
			if k == 0 {
				points[i][0] += 8
			}
		}
		for _, at := range []*place{p, whole} {
			tr := &trace{in: &job.Finding{Trace: points}, at: at}
			for _, x := range points {
				tr.sites = append(tr.sites, at.siteOf(x)...)
			}
			if _, err := tr.walk(); err != nil {
				t.Fatal(err)
			}
			n := tr.overSeam()
			if want := k > 0 && at == p; (n != nil) != want || want && !strings.Contains(n.Text, fmt.Sprintf("between point %d and point %d ", k, k+1)) {
				t.Errorf("slit behind point %d, %v: %+v", k, at == p, n)
			}
		}
	}
}

// Pairs that nothing hangs on are left out: of four cracks in a row that are too far apart to count as
// one, only those next to each other are measured, each pair once, the nearest first.
func TestPairsThatMatter(t *testing.T) {
	b := newBench(plate())
	for i, x := range []float64{170, 20, 110, 60} { // gaps of 40, 50 and 60 mm
		b.crack([]job.FindingID{"a", "b", "c", "d"}[i], 0.3, geom.Vec{x, 40, 0}, geom.Vec{x, 60, 0})
	}
	r := &run{in: b.input(t), confidence: 0.95}
	r.prepare()
	r.judge()
	for i := range b.job.Findings {
		f, tr := r.locate(r.claims(b.job.Findings[i]))
		r.found, r.traces = append(r.found, f), append(r.traces, tr)
	}
	r.linkFaces()
	r.linkForks()
	r.hang()
	for i, tr := range r.traces {
		r.measure(&r.found[i], tr)
	}
	var got []string
	for _, d := range r.distances() {
		got = append(got, fmt.Sprintf("%s %s %.0f", r.found[d.i].ID, r.found[d.j].ID, d.seen))
	}
	if s := strings.Join(got, ", "); s != "b d 40, c d 50, a c 60" {
		t.Errorf("%s", s)
	}
}

// What a finding says of its place: how much of it lies in which zone, what it may reach, and how near
// the border is. The plate has two zones that meet at x = 100 mm; figures constructed.
func TestPlaceInWords(t *testing.T) {
	for want, trace := range map[string][]geom.Vec{
		"at least 30.0 mm to the border to zone B|30.0 mm of it in zone A":                                           {{40, 50, 0}, {70, 50, 0}},
		"at least 20.0 mm to the border to zone A|30.0 mm of it in zone B":                                           {{120, 50, 0}, {150, 50, 0}},
		"20.0 mm of it in zone A|10.0 mm of it in zone B":                                                            {{80, 50, 0}, {110, 50, 0}},
		"at least 0.1 mm to the border to zone B|29.9 mm of it in zone A|it may reach zone B, whose rules count too": {{70, 50, 0}, {99.9, 50, 0}},
	} {
		b := newBench(plate())
		b.crack("F", 0.3, trace...)
		r, _ := Run(b.input(t))
		var got []string
		for _, s := range find(t, r, "F").Because {
			if strings.Contains(s, "zone") && !strings.Contains(s, "next finding") {
				got = append(got, s)
			}
		}
		if s := strings.Join(got, "|"); s != want {
			t.Errorf("%v: %q, want %q", trace, s, want)
		}
	}
}

// A trace of no job tells where the surface leads far round between two of its points, and which two;
// of places as of points, with the name of the surface.
func TestTraceThatLeadsRoundTheEdge(t *testing.T) {
	s, err := mesh.NewSurface(slab(5))
	if err != nil {
		t.Fatal(err)
	}
	points := []geom.Vec{{60, 50, 0}, {80, 50, 0}, {80, 50, -5}, {60, 50, -5}}
	var sites []mesh.Site
	for _, x := range points {
		site, _ := s.Closest(x)
		sites = append(sites, site)
	}
	for name, in := range map[string]TraceInput{"points": {Points: points}, "places": {Sites: sites}} {
		in.Name = "slab"
		r, notes, err := MeasureTrace(s, in)
		if err != nil {
			t.Fatal(err)
		}
		told := 0
		for _, n := range notes {
			if n.Where != "slab" {
				t.Errorf("%s: %+v", name, n)
			}
			if n.Code == "inspect.trace-jumps" {
				told++
				if !strings.HasPrefix(n.Text, "from point 2 to point 3 the surface leads 105.0 mm round for a straight 5.0 mm") { // 50 + 5 + 50
					t.Errorf("%s: %s", name, n.Text)
				}
			}
		}
		if told != 1 || len(r.Sites) != 4 {
			t.Errorf("%s: told %d times, %v", name, told, notes)
		}
		near(t, name+": through all", r.RawMM, 20+105+20, 1e-6)
		near(t, name+": from end to end", r.EndsMM, 105, 1e-6)
		near(t, name+": straight", r.ChordMM, 5, 1e-9)
	}
}
