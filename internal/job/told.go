package job

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"fettle/internal/body"
	"fettle/internal/geom"
)

// Told is what the manufacturer was told of a finding when a question was sent:
// the finding itself, everything else that was found on its part, and the
// repairs done before. An answer is for these facts. Once one of them is worse,
// or is another, it allows nothing any more.
type Told struct {
	Question string    `doc:"question" help:"the question that was sent with these facts"`
	Answer   string    `doc:"answer" help:"the answer that was given for these facts, where they are not on record with its question"`
	Findings []Finding `doc:"facts,required" help:"the findings on the part as they were, the one asked about among them"`
	Earlier  []Earlier `doc:"repairs" help:"repairs done before this job, as they were known"`
}

func (t Told) withDefaults() Told {
	t.Findings = slices.Clone(t.Findings)
	for i := range t.Findings {
		t.Findings[i] = t.Findings[i].withDefaults()
	}
	return t
}

// AsTold is what there is to tell of a finding: the facts alone, without words
// and pictures.
func (s *State) AsTold(id FindingID) *Told {
	of := slices.IndexFunc(s.Findings, func(f Finding) bool { return f.ID == id })
	if of < 0 {
		return nil
	}
	out := &Told{Earlier: append([]Earlier(nil), s.Earlier...)}
	axes := ""
	for _, f := range s.Findings {
		if f.Part == s.Findings[of].Part {
			if f.Setup != "" {
				axes = cmp.Or(axes, s.axesHash())
				f.Axes = axes
			}
			f.Text, f.Photos = "", nil
			f.Trace, f.Tips = append([]geom.Vec(nil), f.Trace...), append([]body.TipMethod(nil), f.Tips...)
			f.Zones, f.Measured = append([]body.ZoneID(nil), f.Zones...), append([]HandReading(nil), f.Measured...)
			f.Pins = clonePins(f.Pins)
			out.Findings = append(out.Findings, f)
		}
	}
	for i, e := range out.Earlier {
		out.Earlier[i].Text, out.Earlier[i].Trace = "", append([]geom.Vec(nil), e.Trace...)
	}
	return out
}

// ToldFor is what an answer was given for: what is on record of itself, or of the
// question it answers; nil when neither is.
func (s *State) ToldFor(a Answer) *Told {
	for i, t := range s.Told {
		if t.Answer == a.ID && a.ID != "" {
			return &s.Told[i]
		}
	}
	for _, q := range s.Questions {
		if q.ID == a.Question && q.Finding == a.Finding {
			return s.ToldWith(q)
		}
	}
	return nil
}

// ToldWith is what a question was sent with; nil when that is not on record.
func (s *State) ToldWith(q Asked) *Told {
	for i, t := range s.Told {
		if t.Question == q.ID && q.ID != "" {
			return &s.Told[i]
		}
	}
	return nil
}

// Touch is how another finding has a say in what may be done about one.
type Touch int

// Touches of another finding.
const (
	Away   Touch = iota // none
	Beside              // it is a neighbour: what it is, and how near it comes
	AsOne               // it may count as one with it: as a part of the finding itself
)

// Worse says what of the facts is worse now than the manufacturer was told, or is
// another fact, or was not told at all; empty when everything that was told still
// holds or has changed in favour of the finding alone: it is shorter along the
// same line, its place and its tips are better known, it does not go through. Of
// the other findings on its part those count that touch it.
func (t *Told) Worse(id FindingID, now *Told, touch func(FindingID) Touch) string {
	if t == nil {
		return "it is not on record for which facts it was given"
	}
	was, told := t.finding(id)
	is, there := now.finding(id)
	switch {
	case !there:
		return fmt.Sprintf("there is no finding %s any more", id)
	case !told:
		return fmt.Sprintf("the facts on record with it are not those of %s", id)
	}
	if why := t.otherAxes(now); why != "" {
		return why
	}
	if why := is.worseThan(was); why != "" {
		return fmt.Sprintf("%s %s", id, why)
	}
	for _, f := range now.Findings {
		how := touch(f.ID)
		if f.ID == id || how == Away {
			continue
		}
		then, told := t.finding(f.ID)
		why := "on the same part was not told"
		switch {
		case !told:
		case how == AsOne:
			why = f.worseThan(then)
		default:
			why = f.worseBeside(then, gap(f, is), gap(then, was))
		}
		if why != "" {
			return fmt.Sprintf("%s %s", f.ID, why)
		}
	}
	for _, e := range now.Earlier {
		if !slices.ContainsFunc(t.Earlier, func(was Earlier) bool { return !e.worseThan(was) }) {
			return fmt.Sprintf("the repair done before in zone %s was not told as it is on record", e.Zone)
		}
	}
	return ""
}

func (t *Told) finding(id FindingID) (Finding, bool) {
	if t == nil {
		return Finding{}, false
	}
	i := slices.IndexFunc(t.Findings, func(f Finding) bool { return f.ID == id })
	if i < 0 {
		return Finding{}, false
	}
	return t.Findings[i], true
}

// gap is how far two traces are apart, through space; none without a trace.
func gap(a, b Finding) float64 {
	best := math.Inf(1)
	for i := range a.Trace {
		for k := range b.Trace {
			best = min(best, geom.SegmentsDist(a.Trace[max(0, i-1)], a.Trace[i], b.Trace[max(0, k-1)], b.Trace[k]))
		}
	}
	return best
}

// worseBeside says what of a neighbour is worse than it was: it comes nearer, it is
// known less well, it is another thing.
func (f Finding) worseBeside(was Finding, gapMM, wasMM float64) string {
	switch {
	case f.Kind != was.Kind:
		return fmt.Sprintf("is a %s, told was a %s", f.Kind, was.Kind)
	case f.SameAs != was.SameAs || f.BranchOf != was.BranchOf:
		return "belongs to other findings than was told"
	case f.otherByHand(was) != "":
		return f.otherByHand(was)
	case f.Std > was.Std:
		return fmt.Sprintf("is traced to %s, told was %s", f.Std, was.Std)
	case (len(f.Trace) == 0) != (len(was.Trace) == 0), gapMM < wasMM-samePlaceMM:
		return "comes nearer than was told"
	case min(f.tipRank(0), f.tipRank(1)) < min(was.tipRank(0), was.tipRank(1)):
		return "has tips that are known less well than was told"
	}
	return ""
}

// worseThan says what of a finding is worse than it was, or is another thing.
func (f Finding) worseThan(was Finding) string {
	reversed, along := f.along(was)
	switch {
	case f.Kind != was.Kind:
		return fmt.Sprintf("is a %s, told was a %s", f.Kind, was.Kind)
	case f.Part != was.Part:
		return fmt.Sprintf("is on part %s, told was %s", f.Part, was.Part)
	case f.SameAs != was.SameAs || f.BranchOf != was.BranchOf:
		return "belongs to other findings than was told"
	case f.Std > was.Std:
		return fmt.Sprintf("is traced to %s, told was %s", f.Std, was.Std)
	case !along:
		return "has another trace, or a longer one, than was told"
	case f.otherByHand(was) != "":
		return f.otherByHand(was)
	case worseWord(f.Through, was.Through):
		return fmt.Sprintf("goes through the wall: %s; told was %s", cmp.Or(f.Through, body.Unknown), cmp.Or(was.Through, body.Unknown))
	case worseWord(f.Kinked, was.Kinked):
		return fmt.Sprintf("is kinked: %s; told was %s", cmp.Or(f.Kinked, body.Unknown), cmp.Or(was.Kinked, body.Unknown))
	case !f.Straight.Known && was.Straight.Known, f.Straight.Value > was.Straight.Value:
		return "is on a part that was straightened before more often than was told, or nobody says any more how often"
	case f.Depth.Known != was.Depth.Known || f.Depth.Known && (f.Depth.Value > was.Depth.Value || f.DepthStd > was.DepthStd):
		return "has another depth than was told"
	}
	for k := range 2 {
		end := k
		if reversed {
			end = 1 - k
		}
		if f.tipRank(k) < was.tipRank(end) {
			return fmt.Sprintf("has a tip that is known less well (%s) than was told (%s)", f.tip(k), was.tip(end))
		}
	}
	return ""
}

// worseWord says that what speaks against a finding is said of it now and was not told: unknown
// speaks against it more than no does.
func worseWord(is, was body.YesNo) bool {
	is, was = cmp.Or(is, body.Unknown), cmp.Or(was, body.Unknown)
	return is != body.No && is != was && was != body.Yes
}

// along says that the trace of a finding runs along what was the trace, all of
// it, and is no longer; reversed when it was entered from the other end.
func (f Finding) along(was Finding) (reversed, ok bool) {
	switch {
	case len(was.Trace) == 0 || len(f.Trace) == 0:
		return false, len(was.Trace) == len(f.Trace)
	case geom.PolylineLength(f.Trace) > geom.PolylineLength(was.Trace)+sameLengthMM:
		return false, false
	}
	for i, p := range f.Trace {
		_, d := nearestAlong(p, was.Trace)
		if !(d <= samePlaceMM) {
			return false, false
		}
		if i == 0 {
			continue
		}
		steps := math.Ceil(p.Dist(f.Trace[i-1]) / stepMM)
		if !(steps < maxSteps) {
			return false, false
		}
		for k := 1.0; k < steps; k++ {
			if _, d := nearestAlong(f.Trace[i-1].Lerp(p, k/steps), was.Trace); !(d <= samePlaceMM) {
				return false, false
			}
		}
	}
	first, _ := nearestAlong(f.Trace[0], was.Trace)
	last, _ := nearestAlong(f.Trace[len(f.Trace)-1], was.Trace)
	return first > last, true
}

// samePlaceMM is how far a point may be off a line it lies on: more than the
// rounding of a coordinate that is written to a tenth, less than anybody traces.
// sameLengthMM is the rounding of a sum. stepMM is how densely the way between two
// points is looked at, in at most maxSteps.
const (
	samePlaceMM  = 0.1
	sameLengthMM = 1e-6
	stepMM       = 0.5
	maxSteps     = 1e5
)

// nearestAlong is how far along a line the point of it is that is nearest to a
// place, and how far off [mm].
func nearestAlong(x geom.Vec, line []geom.Vec) (along, off float64) {
	off = x.Dist(line[0])
	sum := 0.0
	for i := 1; i < len(line); i++ {
		q := geom.NearestOnSegment(x, line[i-1], line[i])
		if d := x.Dist(q); d < off {
			along, off = sum+line[i-1].Dist(q), d
		}
		sum += line[i-1].Dist(line[i])
	}
	return along, off
}

// tip is how an end was found: 0 the first, 1 the last. A branch has a fork for its
// first end.
func (f Finding) tip(k int) body.TipMethod {
	tips := f.Tips
	if f.BranchOf != "" && len(tips) == 1 {
		tips = []body.TipMethod{body.TipFork, tips[0]}
	}
	if k < len(tips) {
		return tips[k]
	}
	return body.TipVisual
}

func (f Finding) tipRank(k int) int {
	switch t := f.tip(k); {
	case t == body.TipFork:
		return len(body.TipMethods())
	default:
		return slices.Index(body.TipMethods(), t)
	}
}

// worseThan says that an earlier repair is worse than it was, or another.
func (e Earlier) worseThan(was Earlier) bool {
	now, then := Finding{Trace: e.Trace}, Finding{Trace: was.Trace}
	_, along := now.along(then)
	return e.Zone != was.Zone || e.Length > was.Length || e.Std > was.Std || !along
}

// told: the facts belong to one question or one answer, and the finding it is
// about is among them.
func (c *checker) told() {
	about := map[[2]string]FindingID{}
	for _, q := range c.s.Questions {
		about[[2]string{q.ID, ""}] = q.Finding
	}
	for _, a := range c.s.Answers {
		about[[2]string{"", a.ID}] = a.Finding
	}
	seen := map[[2]string]bool{}
	for i, t := range c.s.Told {
		at := fmt.Sprintf("told[%d]", i)
		of := [2]string{t.Question, t.Answer}
		finding, known := about[of]
		switch {
		case (t.Question == "") == (t.Answer == ""):
			c.fault(at, "the facts belong to one question, or to one answer", "give 'question' or 'answer'")
		case !known:
			c.ref(at+".question", "question", t.Question, names(c.s.Questions, func(q Asked) string { return q.ID }))
			c.ref(at+".answer", "answer", t.Answer, names(c.s.Answers, func(a Answer) string { return a.ID }))
		case seen[of]:
			c.fault(at, "the facts of this question or answer are there twice", "leave one of them out")
		case !slices.ContainsFunc(t.Findings, func(f Finding) bool { return f.ID == finding }):
			c.fault(at+".facts", fmt.Sprintf("finding %q is not among what was told", finding), "give the finding that was asked about as it was then")
		}
		seen[of] = true
		unique(c, at+".facts", "id", t.Findings, func(f Finding) string { return string(f.ID) })
		for k, f := range t.Findings {
			c.points(fmt.Sprintf("%s.facts[%d]", at, k), f.Trace, f.Std)
		}
		for k, e := range t.Earlier {
			c.points(fmt.Sprintf("%s.repairs[%d]", at, k), e.Trace, e.Std)
		}
	}
}
