package measure

import (
	"fmt"
	"math"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
)

// stageOf is the stage of a set-up: before the repair when it names none.
func stageOf(s job.Setup) job.Stage {
	if s.Stage == "" {
		return job.StageBefore
	}
	return s.Stage
}

// problem is the input in the form the analysis works on.
type problem struct {
	in     Input
	conf   float64
	index  map[body.PointID]int
	std0   []float64 // manufacturing spread per point
	setups []setup
	coords []coord
	spans  []span
	rims   []rim
	holes  []Hole
	heat   []Temperature
	notes  []diag.Note
	form   *Form     // of lengths alone
	test   PointTest // of tested points
	tested int
	// unknown is how many points have no manufacturing spread of their own.
	unknown int
}

// setup is one placement of a device that has readings.
type setup struct {
	id     string
	std    float64 // 0 when not given
	warm   warmth
	factor float64 // what the readings are multiplied by to undo temperature
	scaleU float64 // standard uncertainty of that factor
	coords int
}

// coord is one coordinate reading of one point. Its errors are independent
// along the device axes or, for the centre of a hole, along the columns of
// axes: std is along those.
type coord struct {
	setup, point int
	at, std      geom.Vec
	turned       bool
	axes         geom.Mat3 // used when turned
}

// cov is the covariance of the reading in device axes.
func (c *coord) cov() geom.Mat3 {
	d := geom.Diag3(geom.Vec{c.std[0] * c.std[0], c.std[1] * c.std[1], c.std[2] * c.std[2]})
	if c.turned {
		return d.Turn(c.axes)
	}
	return d
}

// along is a vector in device axes as components along the axes of the reading.
func (c *coord) along(v geom.Vec) geom.Vec {
	if c.turned {
		return c.axes.TMulVec(v)
	}
	return v
}

// span is a tram length or a height difference.
type span struct {
	setup, from, to int
	kind            job.ReadingKind
	value, std      float64
}

// Codes of notes that other pages say in words of their own.
const (
	CodeReferenceMoved = "measure.reference-moved"
	CodePointsMissing  = "measure.points-missing"
)

func (p *problem) note(sev diag.Severity, where string, said diag.Said, hint string) {
	p.notes = append(p.notes, said.Note(diag.Note{Severity: sev, Where: where, Hint: hint}))
}

func prepare(in Input) *problem {
	p := &problem{in: in, conf: confidence(in.Confidence), index: map[body.PointID]int{}}
	if in.Stage == "" {
		p.in.Stage = job.StageBefore
	}
	p.preparePoints()
	byID := p.prepareSetups()
	copies := p.copies()
	for i := range in.Readings {
		if !copies[i] {
			p.take(&in.Readings[i], byID)
		}
	}
	p.fitHoles()
	p.temperature()
	return p
}

func (p *problem) preparePoints() {
	p.std0 = make([]float64, len(p.in.Points))
	for i, pt := range p.in.Points {
		if _, twice := p.index[pt.ID]; twice {
			p.note(diag.Blocking, string(pt.ID), diag.Say("measure.point-twice", "the control point is listed twice; only the first is used"), "remove one of the rows")
			continue
		}
		if !pt.At().Finite() {
			p.note(diag.Blocking, string(pt.ID), diag.Say("measure.point-unusable", "the nominal coordinates are no finite numbers"), "give numbers in millimetres")
			continue
		}
		p.index[pt.ID] = i
		if !pt.Std.Known {
			p.unknown++
		}
		p.std0[i] = math.Max(0, known(pt.Std))
	}
}

// prepareSetups makes the list of set-ups of this stage, in the order of the
// job. A set-up of another stage maps to -1.
func (p *problem) prepareSetups() map[string]int {
	byID := map[string]int{}
	for _, s := range p.in.Setups {
		if stageOf(s) != p.in.Stage {
			byID[s.ID] = none
			continue
		}
		byID[s.ID] = len(p.setups)
		p.setups = append(p.setups, setup{id: s.ID, std: float64(s.Std), warm: warmthOf(s), factor: 1})
	}
	return byID
}

// take turns a reading into an observation, or says why it cannot be used.
func (p *problem) take(r *job.Reading, byID map[string]int) {
	k, listed := byID[r.Setup]
	if !listed {
		if p.in.Stage != job.StageBefore {
			return // an unlisted set-up counts as before the repair
		}
		k = len(p.setups)
		byID[r.Setup] = k
		p.setups = append(p.setups, setup{id: r.Setup, factor: 1})
	}
	if k < 0 {
		return
	}
	from, ok := p.index[r.From]
	if !ok {
		p.refuseReading(r, "the body has no control point "+string(r.From), "check the label")
		return
	}
	if r.Kind == job.ReadXYZ {
		p.takeCoord(r, k, from)
		return
	}
	if r.Kind == job.ReadRim {
		p.takeRim(r, k, from)
		return
	}
	to, ok := p.index[r.To]
	std := p.stdOf(r, k)
	switch {
	case r.Kind != job.ReadLength && r.Kind != job.ReadHeight:
		p.refuseReading(r, fmt.Sprintf("kind %q is not xyz, rim, length or height", r.Kind), "correct the kind")
	case !ok || to == from:
		p.refuseReading(r, fmt.Sprintf("the second point %q is no other control point", r.To), "check the label")
	case !r.Value.Known || !finite(r.Value.Value) || (r.Kind == job.ReadLength && r.Value.Value <= 0):
		p.refuseReading(r, "the value is missing or no usable number", "give it in millimetres")
	case !(std > 0):
		p.refuseReading(r, "no standard uncertainty is given", "give std_mm, or the uncertainty of the set-up")
	default:
		p.spans = append(p.spans, span{setup: k, from: from, to: to, kind: r.Kind, value: r.Value.Value, std: std})
	}
}

func (p *problem) takeCoord(r *job.Reading, k, point int) {
	at := geom.Vec{r.X.Value, r.Y.Value, r.Z.Value}
	if !r.X.Known || !r.Y.Known || !r.Z.Known || !at.Finite() {
		p.refuseReading(r, "a coordinate is missing or no finite number", "a coordinate reading needs x_mm, y_mm and z_mm")
		return
	}
	base := p.stdOf(r, k)
	std := geom.Vec{base, base, base}
	for a, m := range []float64{known(r.StdX), known(r.StdY), known(r.StdZ)} {
		if m > 0 {
			std[a] = m
		}
	}
	for _, s := range std {
		if !(s > 0) {
			p.refuseReading(r, "no standard uncertainty is given", "give std_mm, or the uncertainty of the set-up")
			return
		}
	}
	p.setups[k].coords++
	p.coords = append(p.coords, coord{setup: k, point: point, at: at, std: std})
}

func (p *problem) stdOf(r *job.Reading, k int) float64 {
	if v := known(r.Std); v > 0 {
		return v
	}
	if v := p.setups[k].std; v > 0 && finite(v) {
		return v
	}
	return 0
}

// refuseReading notes a reading that takes no part. It blocks: a result with a
// reading silently left out must not pass as complete.
func (p *problem) refuseReading(r *job.Reading, why, hint string) {
	where := "reading " + string(r.From)
	if r.To != "" {
		where += "-" + string(r.To)
	}
	if r.Setup != "" {
		where += " in set-up " + r.Setup
	}
	if r.Line > 0 {
		where += fmt.Sprintf(" (row %d)", r.Line)
	}
	p.note(diag.Blocking, where, diag.Say("measure.reading-unusable", "{why}", why), hint)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func (p *problem) id(i int) body.PointID { return p.in.Points[i].ID }

func (p *problem) ids(points []int) []body.PointID {
	out := make([]body.PointID, 0, len(points))
	for _, i := range points {
		out = append(out, p.id(i))
	}
	return out
}

func joinIDs(ids []body.PointID) string {
	s := make([]string, len(ids))
	for i, id := range ids {
		s[i] = string(id)
	}
	return strings.Join(s, ", ")
}
