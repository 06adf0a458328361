package measure

import (
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/normal"
)

// suspects lists gross errors that would explain what is seen. Nothing is
// corrected; the person who measured decides.
func (p *problem) suspects(e *epoch, best *candidate, r *Result) {
	if best == nil || 2*best.steady.Len() <= len(e.points) {
		if !p.suspectUnit(r) {
			p.suspectScale(e, best, r)
		}
		p.suspectMirror(e, best, r)
	}
	if best != nil {
		explained := p.suspectLabels(e, best, r)
		p.suspectValues(e, best, explained, r)
		p.suspectNominals(e, best, explained, r)
		p.suspectRows(e, best, r)
		p.suspectEvery(r)
		p.suspectTurned(e, best, r)
	}
	for _, s := range r.Suspects {
		where, severity := joinIDs(s.Points), diag.Caution
		if s.wholeSetup() {
			severity = diag.Blocking
		}
		if where == "" {
			where = "all lengths" // without a set-up that has coordinates
			if s.Setup != "" {
				where = "set-up " + s.Setup
			}
		}
		p.note(severity, where, s.Said, "check the record; nothing was corrected")
	}
}

// wholeSetup says that the suspicion is about every reading of a set-up: its
// unit, its scale or its frame. Nothing measured with it is certain then.
func (s Suspect) wholeSetup() bool {
	return len(s.Points) == 0 && (s.Kind == SuspectUnit || s.Kind == SuspectScale || s.Kind == SuspectMirror)
}

// unitFactors are the factors between units of length that get mixed up:
// inch, centimetre and metre against millimetre.
var unitFactors = []struct {
	factor float64
	text   string
}{
	{1 / 25.4, "inches"}, {0.1, "centimetres"}, {0.001, "metres"}, {25.4, "millimetres, and the control points in inches"},
	{10, "tenths of a millimetre, or the control points in centimetres"}, {1000, "micrometres, or the control points in metres"},
}

// suspectUnit compares the distances between readings with the nominal ones:
// the median ratio of a set-up in another unit is that unit's factor.
func (p *problem) suspectUnit(r *Result) bool {
	found := false
	for k := range p.setups {
		m := p.medianRatio(k)
		for _, u := range unitFactors {
			if math.Abs(m/u.factor-1) < 0.03 {
				found = true
				r.Suspects = append(r.Suspects, Suspect{Kind: SuspectUnit, Setup: p.setups[k].id, Points: []body.PointID{},
					Said: diag.Say("measure.suspect-unit", "the distances of set-up {setup} are {ratio} times the nominal ones: its readings look like {unit}", p.setups[k].id, diag.Figure{Text: strconv.FormatFloat(m, 'g', 3, 64), Value: m}, u.text)})
				break
			}
		}
	}
	return found
}

// medianRatio is the median of measured over nominal distance in one set-up,
// or 0 when there are too few.
func (p *problem) medianRatio(k int) float64 {
	var ratio []float64
	var mine []coord
	for _, c := range p.coords {
		if c.setup == k {
			mine = append(mine, c)
		}
	}
	for i, a := range mine {
		for _, b := range mine[:i] {
			if d := p.in.Points[a.point].At().Dist(p.in.Points[b.point].At()); d > 0 {
				ratio = append(ratio, a.at.Dist(b.at)/d)
			}
		}
	}
	if len(ratio) < 3 {
		return 0
	}
	sort.Float64s(ratio)
	return ratio[len(ratio)/2]
}

// suspectScale tries the readings with their median stretch undone: when many
// more points then fit, it is no damage.
func (p *problem) suspectScale(e *epoch, best *candidate, r *Result) {
	if len(e.points) < 2*minBlock || e.base == none {
		return
	}
	s := p.medianRatio(e.base)
	if !(s > 0) || math.Abs(s-1) <= scalePPM*1e-6 {
		return
	}
	m := p.matches(e)
	m.To = append([]geom.Vec(nil), m.To...)
	for i := range m.To {
		m.To[i] = m.To[i].Scale(1 / s)
	}
	if b, ok := p.tryOther(m, e, best); ok {
		r.Suspects = append(r.Suspects, Suspect{Kind: SuspectScale, Setup: p.setups[e.base].id, Points: []body.PointID{}, Chi2Now: chi2Of(best), Chi2If: roundP(b.Fit.Chi2),
			Said: diag.Say("measure.suspect-scale", "{points} points fit when all distances are divided by {scale}: unit or frame error", b.Set.Len(), diag.Figure{Text: strconv.FormatFloat(s, 'f', 5, 64), Value: s})})
	}
}

func chi2Of(c *candidate) float64 {
	if c == nil {
		return 0
	}
	return roundP(c.chi2)
}

// tryOther is the best block of changed matches, when it is larger than the
// steady block by more than chance and holds most points.
func (p *problem) tryOther(m geom.Matches, e *epoch, best *candidate) (*geom.Block, bool) {
	x, err := geom.NewMatcher(m)
	if err != nil {
		return nil, false
	}
	x.Work = p.in.Work
	found := x.Partitions(minBlock, p.in.Seed)
	if len(found.Partitions) == 0 {
		return nil, false
	}
	b := &found.Partitions[0].Blocks[0]
	had := 0
	if best != nil {
		had = best.steady.Len()
	}
	return b, b.Set.Len() > had+3 && 2*b.Set.Len() > len(e.points)
}

// suspectMirror tries the nominal points with left and right exchanged.
func (p *problem) suspectMirror(e *epoch, best *candidate, r *Result) {
	if len(e.points) < 2*minBlock {
		return
	}
	m := p.matches(e)
	for i := range m.From {
		m.From[i][1] = -m.From[i][1]
	}
	b, ok := p.tryOther(m, e, best)
	if !ok {
		if b, ok = p.tryOther(p.exchanged(e), e, best); !ok {
			return
		}
	}
	r.Suspects = append(r.Suspects, Suspect{Kind: SuspectMirror, Setup: p.setupName(e), Points: []body.PointID{}, Chi2Now: chi2Of(best), Chi2If: roundP(b.Fit.Chi2),
		Said: diag.Say("measure.suspect-mirror", "with left and right exchanged {points} points fit: a left-handed frame, or all labels exchanged", b.Set.Len())})
}

// mostTurn is the angle from which a block that moved lies nearer to a mirror image of
// itself than to its place.
const mostTurn = math.Pi / 2

// suspectTurned names the points of a block that turned over: no section of a vehicle
// does, but readings with one axis reversed may, when they lie near a plane.
func (p *problem) suspectTurned(e *epoch, c *candidate, r *Result) {
	for k := range c.groups {
		g := &c.groups[k]
		turn := geom.RotationVector(c.fit.Motion.Inverse().Compose(g.fit.Motion).R).Norm()
		if turn <= mostTurn {
			continue
		}
		points := []body.PointID{}
		for _, i := range g.set.Members() {
			points = append(points, p.id(e.points[i]))
		}
		r.Suspects = append(r.Suspects, Suspect{Kind: SuspectMirror, Setup: p.setupName(e), Points: points,
			Said: diag.Say("measure.suspect-mirror", "{points} fit together when they are turned by {turned:.0f degrees}, which no section of a vehicle does: an axis reversed, or labels exchanged", joinIDs(points), turn*degree)})
	}
}

// exchanged are the matches with the labels of twins exchanged: each point is
// looked for where its twin was read. A body whose sides differ does not fit its
// mirror image then, but its own other side. A point without a named twin has the
// one nearest to its mirror image, if that has it in turn.
func (p *problem) exchanged(e *epoch) geom.Matches {
	m := p.matches(e)
	out := m
	out.To, out.CovTo = append([]geom.Vec(nil), m.To...), append([]geom.Mat3(nil), m.CovTo...)
	twin := make([]int, len(e.points))
	for i, pt := range e.points {
		twin[i] = i
		if j, ok := p.index[p.in.Points[pt].Mirror]; ok && j != pt && e.has(j) {
			twin[i] = e.slot[j]
			continue
		}
		at := m.From[i]
		at[1] = -at[1]
		for j := range m.From {
			if m.From[j].Dist(at) < m.From[twin[i]].Dist(at) {
				twin[i] = j
			}
		}
	}
	for i, j := range twin {
		if twin[j] == i {
			out.To[i], out.CovTo[i] = m.To[j], m.CovTo[j]
		}
	}
	return out
}

// setupName is the set-up whose frame the epoch is in; lengths alone have none.
func (p *problem) setupName(e *epoch) string {
	if e.base == none {
		return ""
	}
	return p.setups[e.base].id
}

// clearlyOff is the test value above which a label or typing error is looked
// for: a point further off than ten standard deviations.
const clearlyOff = 100

// suspectLabels looks for readings that fit another point: two labels
// exchanged, or one wrong. It returns the points explained.
func (p *problem) suspectLabels(e *epoch, c *candidate, r *Result) map[int]bool {
	done := map[int]bool{}
	fits := func(i, pt int) float64 {
		d := p.in.Points[e.points[i]].At().Add(c.shift[i]).Sub(p.in.Points[pt].At())
		t, ok := geom.Mahalanobis(d, c.cov[i])
		if !ok {
			return inf
		}
		return t
	}
	for i, pt := range e.points {
		if done[i] || c.steady.Has(i) || c.t2[i] < clearlyOff {
			continue
		}
		for other := range p.in.Points {
			if other == pt || p.index[p.id(other)] != other || fits(i, other) > criticalPoint {
				continue
			}
			j := e.slot[other]
			s := Suspect{Kind: "label", Points: []body.PointID{p.id(pt), p.id(other)}, Chi2Now: roundP(c.t2[i]), Chi2If: roundP(fits(i, other)),
				Said: diag.Say("measure.suspect-label", "the reading of {point} fits the nominal place of {other}: a wrong label", p.id(pt), p.id(other))}
			if j != none && c.t2[j] > clearlyOff && fits(j, pt) <= criticalPoint {
				s.Kind, s.Chi2Now, s.Chi2If = "swap", roundP(c.t2[i]+c.t2[j]), roundP(fits(i, other)+fits(j, pt))
				s.Said = diag.Say("measure.suspect-swap", "{point} and {other} fit when their readings are exchanged: two labels mixed up, in the readings or among the control points", p.id(min(pt, other)), p.id(max(pt, other)))
				done[j] = true
				if other < pt {
					s.Points[0], s.Points[1] = s.Points[1], s.Points[0]
				}
			} else if j != none && c.steady.Has(j) {
				s.Said = s.And(diag.Say("measure.read-twice", "; that point was read too, so one of the readings is double"))
			}
			done[i] = true
			r.Suspects = append(r.Suspects, s)
			break
		}
	}
	return done
}

func (c *candidate) inGroup(i int) bool {
	for k := range c.groups {
		if c.groups[k].set.Has(i) {
			return true
		}
	}
	return false
}

// alike is the share of the largest standardised residual from which another
// reading counts as just as suspect: where little controls them, two readings
// share one error between them.
const alike = 0.97

// suspectRows is data snooping: the reading with the largest standardised
// residual, when that is too large for the largest of so many, with the error
// that would explain it (-v/r), and every reading that is as suspect. Single
// coordinates count only when several set-ups or lengths control them;
// otherwise the test of the point as a whole, which does not depend on the
// frame of the device, says it all. Readings that nothing controls are named,
// but for the coordinates of points outside the steady block, which are always
// the only word on where such a point is.
func (p *problem) suspectRows(e *epoch, best *candidate, r *Result) {
	rows := r.Adjustment.Observations
	largest := 0.0
	var loose []string
	for _, o := range rows {
		largest = math.Max(largest, math.Abs(o.W))
		switch name := string(o.From); {
		case o.Controlled:
		case o.To != "":
			loose = append(loose, o.Kind+" "+name+"-"+string(o.To))
		case best.steady.Has(e.slot[p.index[o.From]]) && !slices.Contains(loose, "coordinates "+name):
			loose = append(loose, "coordinates "+name)
		}
	}
	if len(loose) > 0 {
		p.note(diag.Info, strings.Join(loose, ", "), diag.Say("measure.uncontrolled", "a gross error in these readings would not show: nothing else controls them"), "repeat them, or add readings that cross them")
	}
	critical := normal.Quantile(1 - geom.AlphaPoint/float64(2*len(rows)))
	if e.simple || largest <= critical {
		return
	}
	for _, o := range rows {
		if math.Abs(o.W) < alike*largest {
			continue
		}
		points, what := []body.PointID{o.From}, o.Kind+" of "+string(o.From)
		if o.To != "" {
			points, what = append(points, o.To), o.Kind+" "+string(o.From)+"-"+string(o.To)
		}
		r.Suspects = append(r.Suspects, Suspect{Kind: "reading", Setup: o.Setup, Points: points,
			Chi2Now: r.Adjustment.VtPV, Chi2If: roundP(r.Adjustment.VtPV - float64(o.W*o.W)),
			Said: diag.Say("measure.suspect-reading", "{reading} in set-up {setup} disagrees with the other readings (w = {w:.1f}, at most {most:.1f} expected); an error of {error:+.1f mm} would explain it",
				what, o.Setup, math.Abs(o.W), critical, -o.ResidualMM/o.Redundancy)})
	}
}
