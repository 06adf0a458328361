package measure

import (
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// Two stages held against one another are one network: the points of both, an unchanged one once and a
// changed one twice, one pose fixed. A change is how far its two places lie apart, of an
// unchanged one how far they would; written down here once more, with a set-up in common of two, and
// a length at the later stage.
func TestChangesByANetwork(t *testing.T) {
	_, in, _ := pulled(14, 4, 0.2, true, 3) // two set-ups after the work
	in.Readings = append(in.Readings, spanReading("S2", "length", "P01", "P09", in.Points[0].At().Dist(in.Points[8].At()), 0.3))
	before, _ := Run(in)
	in.Stage = "after"
	after, _ := Run(in)
	a, _ := before.Best()
	b, _ := after.Best()
	var steady []body.PointID
	for _, id := range a.Steady {
		if slices.Contains(b.Steady, id) {
			steady = append(steady, id)
		}
	}
	w := newPair(before.located, after.located, steady)
	if len(w.ids) != 14 || w.steady.Len() != len(steady) || w.unchanged() != "" {
		t.Fatalf("%d points, %d steady", len(w.ids), w.steady.Len())
	}
	if w.barred.Len() < 3 || w.barred.Common(&w.tied) > 0 {
		t.Errorf("the rear was pulled as one: %v are barred beside %v", w.barred.Members(), w.tied.Members())
	}
	for k, id := range w.ids {
		if before.located.p.id(before.located.e.points[w.slotA[k]]) != id || after.located.p.id(after.located.e.points[w.slotB[k]]) != id || w.steady.Has(k) != slices.Contains(steady, id) {
			t.Errorf("%s is at %d and %d", id, w.slotA[k], w.slotB[k])
		}
	}
	if err := w.adjust(); err != nil {
		t.Fatal(err)
	}
	place := func(k int, later bool) int { // of point k in the network below
		if later && !w.tied.Has(k) {
			return len(w.ids) + k
		}
		return k
	}
	nw := &geom.Network{Points: make([]geom.NetPoint, 2*len(w.ids))}
	for k := range w.ids {
		at := in.Points[slices.IndexFunc(in.Points, func(p body.Point) bool { return p.ID == w.ids[k] })].At()
		nw.Points[k].At, nw.Points[len(w.ids)+k].At = at, at
		nw.Points[len(w.ids)+k].Fixed = w.tied.Has(k) // not there
	}
	pose := map[string]int{}
	rows := map[int][]int{}
	for _, l := range []*located{before.located, after.located} {
		later := l == after.located
		for _, rd := range in.Readings {
			if (rd.Setup == "S1") == later {
				continue
			}
			k := slices.Index(w.ids, rd.From)
			if rd.Kind == job.ReadLength {
				m := slices.Index(w.ids, rd.To)
				rows[k], rows[m] = append(rows[k], len(nw.Obs)), append(rows[m], len(nw.Obs))
				nw.Obs = append(nw.Obs, geom.NetObs{Kind: geom.NetLength, Pose: geom.PointFrame, A: place(k, later), B: place(m, later), Value: rd.Value.Value, Std: rd.Std.Value})
				continue
			}
			if _, ok := pose[rd.Setup]; !ok {
				pose[rd.Setup] = len(nw.Poses)
				s := slices.IndexFunc(l.p.setups, func(s setup) bool { return s.id == rd.Setup })
				nw.Poses = append(nw.Poses, geom.NetPose{Motion: l.e.motion[s].Compose(l.body), Fixed: len(nw.Poses) == 0})
			}
			for c, v := range []float64{rd.X.Value, rd.Y.Value, rd.Z.Value} {
				if later {
					rows[k] = append(rows[k], len(nw.Obs))
				}
				nw.Obs = append(nw.Obs, geom.NetObs{Kind: geom.NetCoordinate, Pose: pose[rd.Setup], A: place(k, later), Axis: c, Value: v, Std: l.p.coords[0].std[0]})
			}
		}
	}
	want, err := nw.Adjust()
	if err != nil {
		t.Fatal(err)
	}
	wide := max(1, want.VtPV/float64(want.DOF))
	for k := range w.ids {
		c := w.change[k]
		var by geom.Vec
		var cov geom.Mat3
		if w.tied.Has(k) {
			var ok bool
			if by, cov, ok = want.Untie(nw, k, rows[k]); !ok {
				t.Fatalf("%s cannot be told", w.ids[k])
			}
		} else {
			i, j := place(k, false), place(k, true)
			by = want.Points[j].Sub(want.Points[i])
			cov = want.PointCov(i, i).Add(want.PointCov(j, j)).Sub(want.PointCov(i, j)).Sub(want.PointCov(j, i))
		}
		v, _ := geom.Mahalanobis(by, cov.Scale(wide))
		if near(t, "change", c.by.Dist(by), 0, 1e-5); !c.known || c.cov.Sub(cov.Scale(wide)).MulVec(geom.Vec{1, 2, 3}).Norm() > 1e-5 {
			t.Errorf("%s: %v, want %v", w.ids[k], c.cov, cov.Scale(wide))
		}
		near(t, "test value", c.t2, v, 1e-4*(1+v))
	}
	// tied are those that did not change beyond one in a thousand, or of which nothing is known
	var next geom.Set
	for k := range w.ids {
		w.change[k] = change{t2: criticalPoint + float64(k%3-1), known: k%5 != 0}
		if k%3 < 2 || k%5 == 0 {
			next.Put(k)
		}
	}
	w.barred = geom.SetOf(1)
	next.Drop(1)
	if !w.retie() || w.tied != next {
		t.Errorf("tied %v, want %v", w.tied.Members(), next.Members())
	}
	if w.seen[next] = true; w.retie() {
		t.Error("what was tied before is tied again")
	}
	for k := range w.ids {
		w.change[k] = change{t2: 99, known: k > 1}
	}
	if w.barred = (geom.Set{}); w.retie() {
		t.Error("two points are tied")
	}
}

// Lengths alone at both stages are a free network; a point that the later stage did not locate has no
// part in it, and stages of which nothing is at hand cannot be held against one another.
func TestStagesOfLengthsAlone(t *testing.T) {
	c := newCar(8, 66)
	in := Input{Points: c.measure(1).Points, Setups: []job.Setup{{ID: "T", Std: 0.3}, {ID: "U", Stage: "after", Std: 0.3}}}
	read := func(setup string, n int) {
		for i := range n {
			for j := range i {
				d := c.at[i].Add(c.shift[i]).Dist(c.at[j].Add(c.shift[j]))
				in.Readings = append(in.Readings, spanReading(setup, "length", in.Points[i].ID, in.Points[j].ID, d+0.2*c.rng.NormFloat64(), 0.3))
			}
		}
	}
	read("T", 8)
	c.shift[2] = geom.Vec{0, 6, 5}
	read("U", 7)
	before, _ := Run(in)
	in.Stage = "after"
	after, _ := Run(in)
	p := Compare(in.Points, before, after)
	if !p.Comparable || len(p.Points) != 7 || len(p.Notes) != 0 {
		t.Fatalf("%+v", p.Notes)
	}
	for i, q := range p.Points {
		if q.Open || q.Changed != (i == 2) || i == 2 && math.Abs(q.ChangeMM.Norm()-math.Sqrt(61)) > 4 {
			t.Errorf("%s: changed %v by %v, open %v", q.ID, q.Changed, q.ChangeMM, q.Open)
		}
	}
	if got := changesBetween(nil, after.located, nil); got.why != "the readings of the stages are not at hand" {
		t.Errorf("%q", got.why)
	}
	if got := changesBetween(before.located, nil, nil); got.why == "" {
		t.Error("without a stage there are changes")
	}
	if p := Compare(in.Points, before, Result{Stage: "after"}); p.Comparable || len(p.Notes) != 1 || p.Notes[0].Text != "one of the two stages has no steady block" || p.Notes[0].Where != "before and after" {
		t.Errorf("%+v", p)
	}
	if p := Compare(in.Points, Result{}, after); p.Comparable || len(p.Notes) != 1 {
		t.Errorf("%+v", p)
	}
}

// Two stages are comparable over three points that are steady at both, and more than half of those of
// the stage that has fewer.
func TestWhatStagesHaveInCommon(t *testing.T) {
	ids := func(n ...string) (out []body.PointID) {
		for _, x := range n {
			out = append(out, body.PointID(x))
		}
		return out
	}
	for _, c := range []struct {
		a, b   []body.PointID
		common int
		want   bool
	}{
		{ids("A", "B", "C", "D"), ids("A", "B", "C", "X"), 3, true}, {ids("A", "B", "C", "D"), ids("A", "B", "X", "Y"), 2, false}, {ids("A", "B", "C", "D", "E", "F"), ids("A", "B", "C", "X", "Y", "Z"), 3, false},
		{ids("A", "B", "C", "D", "E", "F", "G", "H"), ids("C", "B", "A", "X", "Y"), 3, true}, {ids("A", "B"), ids("A", "B"), 2, false},
	} {
		points := func(list []body.PointID) (h Hypothesis) {
			h.Steady = list
			for _, id := range list {
				h.Points = append(h.Points, PointResult{ID: id})
			}
			return h
		}
		p := Compare([]body.Point{{ID: "A"}, {ID: "X"}, {ID: "nowhere"}}, Result{Hypotheses: []Hypothesis{points(c.a)}}, Result{Hypotheses: []Hypothesis{points(c.b)}})
		if len(p.Common) != c.common || p.Comparable != c.want || len(p.Notes) != 1 {
			t.Errorf("%v and %v: %v, %+v", c.a, c.b, p.Comparable, p)
		}
		if want := "which points changed between the two stages is open: the readings of the stages are not at hand"; c.want && p.Notes[0].Text != want || !c.want && !strings.Contains(p.Notes[0].Text, "share only") {
			t.Errorf("%q", p.Notes[0].Text)
		}
		if x := slices.Contains(c.b, "X"); len(p.Points) != 1+map[bool]int{true: 1}[x] {
			t.Errorf("%d points are compared", len(p.Points))
		}
	}
}

// Rim points in their own words: the most uncertain of them counts for all, an oval hole is as much
// wider as it fits worse, a short arc and a centre that leans on too little are said.
func TestRimsByTheirNumbers(t *testing.T) {
	hole := func(n int, arc, oval, std float64) (*problem, []job.Reading) {
		in := Input{Points: []body.Point{{ID: "H", X: 1}}, Setups: []job.Setup{{ID: "S1"}}}
		for k := range n {
			s, c := math.Sincos(arc * math.Pi / 180 * float64(k) / float64(n-1))
			r := xyz("S1", "H", geom.Vec{100 + (10+oval)*c, 200 + (10-oval)*s, 30}, std)
			r.Kind = job.ReadRim
			in.Readings = append(in.Readings, r)
		}
		return prepare(in), in.Readings
	}
	codes := func(p *problem) (out []string) {
		for _, n := range p.notes {
			if strings.Contains(n.Code, "rim") || strings.Contains(n.Code, "reading") {
				out = append(out, strings.TrimPrefix(n.Code, "measure."))
			}
		}
		return out
	}
	p, _ := hole(8, 315, 0, 0.1)
	h := p.holes[0]
	if len(p.coords) != 1 || !h.Used || h.RimPoints != 8 || h.DOF != 10 || len(codes(p)) != 0 || p.setups[0].coords != 1 {
		t.Errorf("%+v, %v", h, codes(p))
	}
	near(t, "radius", h.RadiusMM, 10, 1e-6)
	near(t, "arc", h.ArcDeg, 315, 1e-6)
	near(t, "probability", h.P, 1, 1e-9)
	// of eight points all round each direction of the centre in the plane has the variance s^2/4, the radius s^2/8, across s^2/8
	near(t, "centre in the plane", h.StdMM[0], 0.1/2, 1e-6)
	near(t, "across", h.StdMM[2], 0.1/math.Sqrt(8), 1e-6)
	near(t, "radius", h.RadiusStd, 0.1/math.Sqrt(8), 1e-6)
	c := p.coords[0]
	near(t, "the centre", c.at.Dist(geom.Vec{100, 200, 30}), 0, 1e-6)
	for k := range c.std {
		dir := geom.Vec{c.axes[0][k], c.axes[1][k], c.axes[2][k]}
		near(t, "along its direction", c.std[k]*c.std[k], dir.Dot(c.cov().MulVec(dir)), 1e-12)
	}
	near(t, "of all", c.cov().Trace(), 0.0025+0.0025+0.00125, 1e-9)
	if p, _ = hole(3, 240, 0, 0.1); !slices.Equal(codes(p), []string{"rim-unchecked"}) || p.holes[0].P != 1 || p.holes[0].DOF != 0 {
		t.Errorf("three points: %v, %+v", codes(p), p.holes[0])
	}
	if p, _ = hole(8, 119, 0, 0.02); !slices.Equal(codes(p), []string{"rim-short-arc"}) || !p.holes[0].Used {
		t.Errorf("a short arc: %v", codes(p))
	}
	if p, _ = hole(8, 121, 0, 0.02); len(codes(p)) != 0 {
		t.Errorf("an arc that is long enough: %v", codes(p))
	}
	if p, _ = hole(8, 60, 0, 0.5); !slices.Equal(codes(p), []string{"reading-unusable", "rim-short-arc"}) || p.holes[0].Used || len(p.coords) != 0 {
		t.Errorf("an arc too short: %v", codes(p))
	}
	p, _ = hole(8, 315, 0.5, 0.1)
	h = p.holes[0]
	if !slices.Equal(codes(p), []string{"rim-misfit"}) {
		t.Errorf("oval: %v", codes(p))
	}
	near(t, "wider", h.StdMM[2], 0.1/math.Sqrt(8)*math.Sqrt(h.Chi2/10), 1e-6)
	near(t, "wider radius", h.RadiusStd, h.StdMM[2], 1e-2*h.StdMM[2])
	in := Input{Points: []body.Point{{ID: "H"}, {ID: "I"}}, Setups: []job.Setup{{ID: "A"}, {ID: "B"}}}
	for k, x := range []struct {
		setup string
		id    body.PointID
		std   float64
	}{{"A", "H", 0.1}, {"A", "H", 0.4}, {"A", "I", 0.2}, {"B", "H", 0.3}, {"A", "H", 0.2}} {
		r := xyz(x.setup, x.id, geom.Vec{float64(k), float64(k * k), 0}, x.std)
		r.Kind = job.ReadRim
		in.Readings = append(in.Readings, r)
	}
	p = prepare(in)
	if len(p.rims) != 3 || p.rims[0].std != 0.4 || len(p.rims[0].at) != 3 || len(p.rims[1].at) != 1 || p.rims[2].setup != 1 || p.rims[2].std != 0.3 {
		t.Errorf("%+v", p.rims)
	}
}

// Before it is made a measurement shows what its covariances allow: within is where the limit is just
// met in the direction in which that is soonest over, nothing where not even the place itself is shown.
func TestWithinALimit(t *testing.T) {
	point := body.Point{Tol: unit.Some(3.0)}
	cov := geom.Diag3(geom.Vec{0.25, 1, 0.04}).Turn(geom.FromRotationVector(geom.Vec{0.3, 0.2, 0.9}))
	got := within(point, cov, 0.95)
	_, axes := geom.SymEigen(cov)
	least := math.Inf(1)
	for k := range 3 {
		var unitVec geom.Vec
		unitVec[k] = 1
		for _, dir := range []geom.Vec{unitVec, {axes[0][k], axes[1][k], axes[2][k]}} {
			d := 0.0
			for step := 1.0; step > 1e-7; step /= 2 {
				for Conform(point, dir.Scale(d+step), cov, 0.95).Verdict == Met {
					d += step
				}
			}
			least = min(least, d)
		}
	}
	near(t, "within", got, least, 2e-4)
	if within(point, geom.Isotropic(2), 0.95) != 0 || within(body.Point{}, geom.Isotropic(0.1), 0.95) != 0 {
		t.Error("what is not shown in its place is shown beside it")
	}
	near(t, "without errors", within(point, geom.Mat3{}, 0.95), 3, 2e-4)
	near(t, "along one axis alone", within(body.Point{TolY: unit.Some(2.0)}, geom.Mat3{}, 0.95), 2, 2e-4)
	in := reachInput()
	if x := imagined(in, job.Setup{ID: "A", Std: 0.35}, 2); len(x.Setups) != 2 || len(x.Readings) != 40 || x.Setups[1].ID != "imagined-2" || x.Setups[0].Stage != "after" || x.Readings[39].Setup != "imagined-2" || x.Readings[39].X.Value != in.Points[19].X+2 || x.Readings[39].Y.Value != in.Points[19].Y || x.Impact != "" {
		t.Errorf("%d set-ups, %+v", len(x.Setups), x.Readings[39])
	}
	in.Points = in.Points[:3]
	if _, ok := Reaches(in, job.Setup{Std: 0.3}, 1); ok {
		t.Error("of three points something is predicted")
	}
	in = reachInput()
	in.Points = append(in.Points, body.Point{ID: "N", X: math.NaN()})
	if _, ok := Reaches(in, job.Setup{Std: 0.3}, 1); ok {
		t.Error("a point without a place is predicted")
	}
	in = reachInput()
	said, ok := Reaches(in, job.Setup{Std: 0.35}, 2)
	if !ok || len(said) != 2 || said[1].Setups != 2 {
		t.Fatalf("%v", ok)
	}
	sum := 0.0
	for i, x := range said[0].Points {
		r, _ := Run(imagined(in, job.Setup{Std: 0.35}, 1))
		q := r.Hypotheses[0].Points[i]
		near(t, "within", x.WithinMM, within(in.Points[i], q.FromNominalCov, 0.95), 1e-9)
		near(t, "chance", x.Chance, 1-geom.BallProbability(geom.Vec{}, q.FromNominalCov.Add(geom.Isotropic(0.3)), x.WithinMM), 1e-9)
		if sum += x.Chance; i == 3 {
			break
		}
	}
}
