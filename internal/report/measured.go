package report

import (
	"cmp"
	"fmt"
	"html/template"
	"strings"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/picture"
	"fettle/internal/unit"
)

// measuredPart is section 1: the control points.
type measuredPart struct {
	Measured   bool
	Lead       string
	Plan, Side template.HTML
	Scale      string
	Legend     []legendItem
	RefDraw    template.HTML
	Points     []pointRow
	Missing    string
	Rare       string // how often a length as published would read as one that differs
	Answer     []hypothesis
	Ambiguous  bool
	Why        []string
	Suspects   []string
	References []string
	Certain    []string
	RivalHeads []string
	Rivals     []rivalRow
	Next       []string
	Holes      []string
	Heat       []string
	Stages     *stagePart
	Lengths    []lengthRow
	Disagree   []string
	Form       []string
	Weak       string
	Search     string
	Confidence string
	Setups     []setupRow
	Fit        string
	Axes       string
}

type legendItem struct {
	Draw template.HTML
	Text string
}

type pointRow struct {
	ID, Name, Nominal, Shift, U, Limit string
	Moved, Verdict                     word
	Prob, Because, T2, Shows, From     string
}

type lengthRow struct {
	What, Measured, Nominal, Diff, Allowed string
	Word, Tolerance                        word
	Because                                string
}

type setupRow struct{ ID, Stage, Device, Calibrated, Std, Temp, When, Readings string }

type hypothesis struct {
	Title, Because, Fit string
	Held, Moved         string
	Moves               []string
	Stations            []stationRow
}

type stationRow struct{ Section, Where, Mash, Sway, Sag, Twist, Diamond string }

func buildMeasured(in Input) measuredPart {
	r := in.Measure
	m := measuredPart{Ambiguous: r.Ambiguous, Why: sentences(r.Why), Setups: setupRows(in), Lengths: lengthRows(r), Disagree: disagreeing(r), Form: formSays(r.Form),
		Axes: fmt.Sprintf("x %s, y %s, z %s", or(string(in.Body.Axes.X), "rearward"), or(string(in.Body.Axes.Y), "right"), or(string(in.Body.Axes.Z), "up"))}
	words := measuredOf(in)
	m.Suspects, m.Next, m.Holes, m.Heat = words.suspects(), words.next(), words.holes(), words.heat()
	m.Stages = buildStages(in)
	m.Missing = list(pointNames(in.Body, missingPoints(in.Body, r)), 60)
	best, ok := r.Best()
	if !ok {
		return m
	}
	m.Measured = true
	m.Rare = percent(geom.AlphaPoint)
	m.Confidence = percent(r.Confidence)
	m.Weak = uncontrolled(r.Adjustment)
	m.Search = fmt.Sprintf("%s search over %s of points, seed %d", r.Search.Method, unit.Count(r.Search.Triples, "triple"), r.Search.Seed)
	m.Fit = fitText("Adjustment of all readings", r.Adjustment.VtPV, r.Adjustment.DOF, r.Adjustment.P)
	axes := wordsOf(in.Body.Axes)
	for i := range r.Hypotheses {
		m.Answer = append(m.Answer, words.hypothesisOf(i))
	}
	m.Lead = words.claim(0)
	m.References, m.Certain = sentences(words.disagreeing()), words.certainty().lines()
	m.RivalHeads, m.Rivals = words.rivals()
	for _, p := range in.Body.Points {
		m.Points = append(m.Points, pointRowOf(p, best, axes, r.Confidence))
	}
	m.drawings(in, best)
	return m
}

// missingPoints is every point of the body that the best hypothesis has no
// result for, whether the stage before named it or not.
func missingPoints(b *body.Body, r measure.Result) []body.PointID {
	best, _ := r.Best()
	var out []body.PointID
	for _, p := range b.Points {
		if _, ok := best.Point(p.ID); !ok {
			out = append(out, p.ID)
		}
	}
	return out
}

func pointNames(b *body.Body, ids []body.PointID) []string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = string(id)
	}
	return out
}

// stateOf is what may be said of a point's movement. What does not hold under
// every surviving reading of the evidence is not certain.
func stateOf(p measure.PointResult) moveState {
	switch {
	case !p.Firm:
		return mayHaveMoved
	case p.Moved:
		return hasMoved
	}
	return stands
}

// unmoved is what "not moved" says of a point: the size that could have been missed.
func unmoved(p measure.PointResult) string {
	if !(p.Detectable > 0) {
		return "a move of any size could have been missed"
	}
	return "no move larger than " + mm(p.Detectable) + " would have been missed"
}

func movedWord(s moveState, p measure.PointResult) word {
	switch s {
	case hasMoved:
		return word{"moved", toneBad}
	case stands:
		return word{unmoved(p), toneGood}
	case mayHaveMoved:
		return word{"not certain", toneOpen}
	}
	return word{"not measured", toneOpen}
}

func pointRowOf(p body.Point, h measure.Hypothesis, axes axisWords, confidence float64) pointRow {
	at := p.At()
	row := pointRow{ID: string(p.ID), Name: p.Name, Limit: limitOf(p),
		Nominal: fixed(at[0], 1) + " / " + fixed(at[1], 1) + " / " + fixed(at[2], 1)}
	r, ok := h.Point(p.ID)
	if !ok {
		row.Moved, row.Verdict = movedWord(unmeasured, r), word{"undecided", toneOpen}
		row.Shift, row.U, row.Prob = "not measured", "", ""
		row.Because = "No usable reading: nothing can be said about this point."
		return row
	}
	row.Shift = along(p, r.ShiftMM)
	row.U = "± " + fixed(r.ExpandedMM[0], 1) + " / " + fixed(r.ExpandedMM[1], 1) + " / " + fixed(r.ExpandedMM[2], 1)
	row.Moved, row.Verdict = movedWord(stateOf(r), r), toleranceWord(r.Tolerance.String())
	row.Prob = percentBeside(r.Probability, confidence)
	row.Because, row.T2, row.Shows = pointBecause(r, axes), fixed(r.T2, 1), mm(r.Detectable)
	row.From = list(r.Readings, 4)
	if p.Reference {
		row.Name = strings.TrimSpace(row.Name + " (reference point)")
	}
	if r.Limit != "" {
		row.Limit = r.Limit
	}
	return row
}

// along is a shift along the three axes beside the tolerance that the point has along each.
func along(p body.Point, shift geom.Vec) string {
	var out [3]string
	for k, tol := range []unit.Maybe[float64]{p.TolX, p.TolY, p.TolZ} {
		out[k] = signed(shift[k])
		if tol.Known {
			out[k] = signedBeside(shift[k], tol.Value, -tol.Value)
		}
	}
	return strings.Join(out[:], " / ")
}

// shownDifference, in millimetres, is from where the place a tolerance was judged
// by is printed beside the shift: below it both read alike.
const shownDifference = 0.15

// pointBecause is what has to be said about a point beside its figures; nothing
// about one that stands where it should and is sure.
func pointBecause(r measure.PointResult, axes axisWords) string {
	var s []string
	if dir := axes.direction(r.ShiftMM); dir != "" && r.Moved {
		s = append(s, dir)
	}
	if r.FromNominal.Sub(r.ShiftMM).Norm() >= shownDifference {
		s = append(s, "judged at "+signed(r.FromNominal[0])+" / "+signed(r.FromNominal[1])+" / "+signed(r.FromNominal[2])+
			" ± "+fixed(2*r.FromNominalStd[0], 1)+" / "+fixed(2*r.FromNominalStd[1], 1)+" / "+fixed(2*r.FromNominalStd[2], 1)+
			thin+"mm against the other steady points")
	}
	if !r.Firm {
		s = append(s, "not certain: "+r.Doubt())
	}
	out := sentence(strings.Join(s, "; "))
	if r.Needs != "" {
		out += " " + sentence(r.Needs)
	}
	return out
}

// limitOf is the tolerance of a point in words.
func limitOf(p body.Point) string {
	if p.Tol.Known {
		return besideMM(p.Tol.Value, p.Tol.Value) + " all round"
	}
	var s []string
	for k, t := range []unit.Maybe[float64]{p.TolX, p.TolY, p.TolZ} {
		if t.Known {
			s = append(s, string("xyz"[k])+" ± "+besideMM(t.Value, t.Value))
		}
	}
	if len(s) == 0 {
		return "none given"
	}
	return strings.Join(s, ", ")
}

// hypothesisOf puts the i-th reading of the evidence in plain words.
func (m measured) hypothesisOf(i int) hypothesis {
	h := m.r.Hypotheses[i]
	v := hypothesis{Title: m.claim(i), Because: sentence(h.Because), Fit: fitText("Fit of the points that held", h.Chi2, h.DOF, h.P),
		Held: list(texts(h.Steady), 60), Moved: list(texts(h.Moved), 60)}
	for _, g := range h.Sections {
		v.Moves = append(v.Moves, m.groupMove(g))
		for _, s := range g.Stations {
			v.Stations = append(v.Stations, stationOf(g, s))
		}
	}
	return v
}

func texts[T ~string](ids []T) []string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = string(id)
	}
	return out
}

func (m measured) groupMove(g measure.Section) string {
	name := "a group of points"
	if g.ID != "" {
		name = "the " + m.sectionName(g.ID)
	}
	dir := or(m.axes.direction(g.TranslationMM), "by less than can be printed")
	how := "moved as one piece"
	if !g.Rigid() {
		how = "moved, but not as one piece; its best rigid motion is"
	}
	return sentence(fmt.Sprintf("%s (%s) %s: %s at x %s, y %s, z %s mm, and turned by %s° ± %s° (k = 2) about its three axes",
		name, list(texts(g.Points), 20), how, dir,
		fixed(g.AboutMM[0], 0), fixed(g.AboutMM[1], 0), fixed(g.AboutMM[2], 0),
		triple(g.RotationDeg, 2), triple(g.RotationStd.Scale(2), 2)))
}

// rivals is the points about which the surviving readings of the evidence say
// different things, with what each of them says.
func (m measured) rivals() (heads []string, rows []rivalRow) {
	var kept []measure.Hypothesis
	for i, h := range m.r.Hypotheses {
		if h.Survives && len(kept) < 3 {
			kept = append(kept, h)
			heads = append(heads, fmt.Sprintf("Answer %d", i+1))
		}
	}
	if len(kept) < 2 {
		return nil, nil
	}
	for _, p := range m.points {
		row := rivalRow{ID: string(p.ID)}
		differs := false
		for i, h := range kept {
			r, ok := h.Point(p.ID)
			cell := stageCell{"not measured", word{"undecided", toneOpen}}
			if ok {
				cell = stageCell{signed(r.ShiftMM[0]) + " / " + signed(r.ShiftMM[1]) + " / " + signed(r.ShiftMM[2]), toleranceWord(r.Tolerance.String())}
			}
			first, _ := kept[0].Point(p.ID)
			differs = differs || i > 0 && ok && (r.Moved != first.Moved || r.Tolerance != first.Tolerance)
			row.Cells = append(row.Cells, cell)
		}
		if differs {
			rows = append(rows, row)
		}
	}
	return heads, rows
}

// rivalRow is a point under every surviving reading of the evidence.
type rivalRow struct {
	ID    string
	Cells []stageCell
}

func triple(v geom.Vec, n int) string {
	return fixed(v[0], n) + " / " + fixed(v[1], n) + " / " + fixed(v[2], n)
}

func stationOf(g measure.Section, s measure.Station) stationRow {
	val := func(v measure.Value, n int) string { return fixed(v.Value, n) + " ± " + fixed(2*v.Std, n) }
	row := stationRow{Section: string(g.ID), Where: s.Of + ", x " + fixed(s.XMM, 0), Mash: val(s.Mash, 1), Sway: val(s.Sidesway, 1),
		Sag: val(s.Sag, 1), Twist: val(s.Twist, 2), Diamond: "the points cannot tell"}
	if s.MashMeans != "" {
		row.Mash += " (" + s.MashMeans + ")"
	}
	if s.DiamondMM != nil {
		row.Diamond = val(*s.DiamondMM, 1)
	}
	return row
}

func fitText(what string, chi2 float64, dof int, p float64) string {
	if dof <= 0 {
		return what + ": no reading is left over to check it."
	}
	return fmt.Sprintf("%s: weighted squares %s with %s of freedom; readings as good as stated give more than that in %s of cases.",
		what, fixed(chi2, 1), unit.Count(dof, "degree"), percent(p))
}

// uncontrolled names the readings in which a gross error would not show.
func uncontrolled(a measure.Adjustment) string {
	var s []string
	for _, o := range a.Observations {
		if !o.Controlled {
			t := o.Setup + " " + string(o.From)
			if o.To != "" {
				t += "–" + string(o.To)
			}
			s = append(s, t+" "+o.Kind)
		}
	}
	return list(s, 12)
}

func lengthRows(r measure.Result) []lengthRow {
	var out []lengthRow
	for _, l := range r.Lengths {
		w := word{"as published", toneGood}
		if l.Differs {
			w = word{"differs", toneBad}
		}
		out = append(out, lengthRow{What: fmt.Sprintf("%s %s–%s (%s)", l.Kind, l.From, l.To, l.Setup),
			Measured: mm(l.MeasuredMM), Nominal: mm(l.NominalMM), Diff: signed(l.DiffMM) + " ± " + fixed(expanded(l.StdMM), 1), Word: w,
			Allowed: leeway(l), Tolerance: lengthWord(l.Limit.Verdict), Because: sentence(l.Limit.Because)})
	}
	return out
}

// leeway is how far a length may differ while both of its points keep their tolerance.
func leeway(l measure.LengthCheck) string {
	if !l.Limit.Known() {
		return "no limit"
	}
	low, high := l.Limit.LowMM-l.NominalMM, l.Limit.HighMM-l.NominalMM
	if fixed(-low, 1) == fixed(high, 1) {
		return "± " + fixed(high, 1)
	}
	return signed(low) + " to " + signed(high)
}

// lengthWord is the answer to whether a length is within what the tolerance of its points allows.
func lengthWord(v measure.Verdict) word {
	switch v {
	case measure.Met:
		return word{"within", toneGood}
	case measure.NotMet:
		return word{"not within", toneBad}
	}
	return word{"cannot be said", toneOpen}
}

// disagreeing is what lengths contradict, in sentences.
func disagreeing(r measure.Result) []string {
	var out []string
	for _, d := range r.Disagree {
		out = append(out, sentence(d.Text))
	}
	return out
}

func setupRows(in Input) []setupRow {
	var out []setupRow
	for _, s := range in.Job.Setups {
		n := 0
		for _, r := range in.Job.Readings {
			if r.Setup == s.ID {
				n++
			}
		}
		cal := "not given"
		if !s.Calibrated.IsZero() {
			cal = "until " + day(s.Calibrated)
			if s.Calibrated.Before(s.On) {
				cal = "EXPIRED " + day(s.Calibrated)
			}
		}
		out = append(out, setupRow{ID: s.ID, Stage: string(cmp.Or(s.Stage, job.StageBefore)) + " the repair", Device: s.Device, Calibrated: cal,
			Std: fixed(float64(s.Std), 2) + thin + "mm", Temp: temperatureText(s, in.Measure),
			When: day(s.On) + ", " + s.By, Readings: unit.Count(n, "reading")})
	}
	return out
}

// temperatureText is how warm the body was in a set-up, and what that did to its
// readings.
func temperatureText(s job.Setup, r measure.Result) string {
	text := "not measured"
	if s.Temp.Known {
		text = fixed(float64(s.Temp.Value), 1) + thin + "°C"
	}
	for _, t := range r.Thermal {
		switch {
		case t.Setup != s.ID:
		case t.Corrected == 0 && t.StdPPM == 0:
			text += ", not corrected"
		default:
			text += fmt.Sprintf(", corrected by %s ± %s ppm", signed(t.Corrected), fixed(expanded(t.StdPPM), 0))
		}
	}
	return text
}

// drawings makes the plan and the side view of the points.
func (m *measuredPart) drawings(in Input, h measure.Hypothesis) {
	pts := drawnPoints(in.Body, h)
	var hulls [][]geom.Vec
	for _, c := range in.Body.Castings {
		if s := in.Vehicle.Surface(c.ID); s != nil {
			hulls = append(hulls, s.Mesh().Points)
		}
	}
	key := picture.NewDrawing("key", "reference point", 28, 36)
	drawReference(key, 14, 18)
	drawMarker(key, stands, 14, 18)
	m.RefDraw = template.HTML(key.Done())
	factor := exaggeration(pts)
	views := standardViews(frameOf(in.Body.Axes))
	m.Plan = template.HTML(pointsView(views[0], pts, hulls, factor))
	m.Side = template.HTML(pointsView(views[1], pts, hulls, factor))
	m.Scale = "Shifts and tolerance circles are drawn " + fixed(factor, 0) + " times their size."
	if factor == 1 {
		m.Scale = "Shifts and tolerance circles are drawn to scale."
	}
	for _, l := range []struct {
		s    moveState
		text string
	}{{hasMoved, "moved"}, {stands, "no move found"}, {mayHaveMoved, "not certain"}, {unmeasured, "not measured"}} {
		d := picture.NewDrawing("key", l.text, 28, 24)
		drawMarker(d, l.s, 14, 12)
		m.Legend = append(m.Legend, legendItem{template.HTML(d.Done()), l.text})
	}
}

func drawnPoints(b *body.Body, h measure.Hypothesis) []drawnPoint {
	var out []drawnPoint
	for _, p := range b.Points {
		d := drawnPoint{id: string(p.ID), at: p.At(), tolMM: p.Tol.Value, tol: geom.Vec{p.TolX.Value, p.TolY.Value, p.TolZ.Value}, reference: p.Reference}
		if r, ok := h.Point(p.ID); ok {
			d.shift, d.state = r.ShiftMM, stateOf(r)
		}
		out = append(out, d)
	}
	return out
}

// or is a, or b when a is empty.
func or(a, b string) string {
	if a == "" {
		return b
	}
	return a
}

func sentences(in []string) []string {
	var out []string
	for _, s := range in {
		out = append(out, sentence(s))
	}
	return out
}
