package measure

import (
	"fmt"
	"math"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/normal"
)

// Run answers the question for one stage of a job. The notes are those of the
// result.
func Run(in Input) (Result, []diag.Note) {
	p := prepare(in)
	e := p.locate()
	p.estimateSpread(e)
	r := p.emptyResult()
	r.Test = p.pointTest(len(e.points))
	p.listMissing(e, &r)
	p.checkLengths(&r)
	p.disagreements(e, &r)
	cs, near, x := p.search(e, &r)
	bent := p.bent(x, near, &r)
	stretch := p.stretched(e, x, near, &r)
	if len(cs) == 0 || bent {
		p.suspects(e, nil, &r)
		if x == nil && len(e.points) >= minBlock { // the note of the search says why
			r.Why = append(r.Why, "the search for a steady block could not be made")
		} else {
			why := p.noBlock(len(e.points))
			if bent {
				why = "the body is bent as a whole: no part of it kept its form against another, so that none can be called steady"
			}
			p.note(diag.Blocking, "control points", diag.Say("measure.no-steady-block", "{why}", why),
				"look for a gross error (unit, labels, frame) and measure more points")
			r.Why = append(r.Why, "there is no steady block")
		}
	} else {
		ch := p.choose(e, cs)
		for rank, i := range ch.order {
			h := p.hypothesis(e, x, cs[i])
			h.Datum, h.Because, h.Survives = ch.datum[rank], ch.because[rank], ch.survives[rank]
			r.Hypotheses = append(r.Hypotheses, h)
		}
		p.explainDoubt(e, cs, &ch, &r)
		p.scatter(x, &near[0], &r)
		p.repeats(cs[ch.order[0]], &r)
		p.firm(e, x, cs, &ch, near, stretch, &r)
		best := cs[ch.order[0]]
		r.located = &located{p, e, best.fit.Motion, best}
		r.Adjustment = p.adjustment(e, best)
		p.checkFit(best)
		p.checkScale(best)
		p.suspects(e, best, &r)
		p.symmetry(e, best, &r.Adjustment)
		p.folds(e)
		p.unfirm(&r)
	}
	r.Form = p.form
	r.Ambiguous = len(r.Why) > 0
	r.Notes = append(r.Notes, p.notes...)
	return r, r.Notes
}

func (p *problem) emptyResult() Result {
	return Result{
		Stage: p.in.Stage, Confidence: p.conf,
		Why: []string{}, Hypotheses: []Hypothesis{}, Missing: []body.PointID{}, Lengths: []LengthCheck{}, Disagree: []Disagreement{},
		Thermal: append([]Temperature{}, p.heat...), Holes: append([]Hole{}, p.holes...),
		Suspects: []Suspect{}, Notes: []diag.Note{}, Adjustment: Adjustment{Observations: []Observation{}},
	}
}

// search finds how the points split into rigid blocks and works out each block
// as the one that stood still. near are splits that fit almost as well; they
// count for what is firm.
func (p *problem) search(e *epoch, r *Result) (cs []*candidate, near []geom.Partition, x *geom.Matcher) {
	if len(e.points) < 3 {
		return nil, nil, nil
	}
	x, err := geom.NewMatcher(p.matches(e))
	if err != nil {
		p.note(diag.Blocking, "control points", diag.Say("measure.search", "{fault}", err.Error()), "")
		return nil, nil, nil
	}
	x.Work = p.in.Work
	if e.together != nil && len(e.points) <= togetherUpTo {
		own := x.Own
		x.Correlated(func(i, j int) geom.Mat3 {
			if i == j {
				return own(i)
			}
			return e.together(i, j)
		})
	}
	refs := p.references(e)
	found := x.Partitions(minBlock, p.in.Seed, refs...)
	r.Search = Search{Method: "exhaustive", Triples: found.Triples}
	if !found.Exhaustive {
		r.Search.Method, r.Search.Seed = "sampled", found.Seed
		p.note(diag.Info, "search", diag.Say("measure.sampled", "more than {most} control points: {triples} triples of them were drawn, starting from seed {seed}", geom.ExhaustiveUpTo, found.Triples, found.Seed), "another seed ('search_seed') must give the same answer")
	}
	parts := found.Partitions
	if only, ok := p.onlyReferences(x, refs, parts); ok {
		parts = append(parts, only)
	}
	for n := range parts {
		for k := range parts[n].Blocks {
			if !worthShowing(parts, n, k, cs) {
				continue
			}
			if c, ok := p.examine(e, x, &parts[n], k); ok && (n == 0 || p.differs(e, c, cs)) {
				cs = append(cs, c)
			}
		}
	}
	return cs, parts, x
}

// togetherUpTo is the number of points up to which splits are weighed by the whole
// covariance of the places; with more it would take longer than the search.
const togetherUpTo = 120

// shownBIC is the difference of BIC up to which a block of another split is shown
// as a hypothesis: above 10 the evidence counts as very strong (Kass and Raftery
// 1995, from memory).
const shownBIC = 10

// worthShowing says that block k of split n may be shown as a hypothesis beside others: all of the
// first split, of another one that comes near it those that are no chance and another set of points.
func worthShowing(parts []geom.Partition, n, k int, cs []*candidate) bool {
	b := &parts[n].Blocks[k]
	return len(cs) < maxHypotheses && (n == 0 || parts[n].BIC < parts[0].BIC+shownBIC && b.Gain >= -unlikelyBIC && distinct(&b.Set, cs))
}

// differs says that a candidate of another split contradicts every one before it
// in something: otherwise it is the same story about other points.
func (p *problem) differs(e *epoch, c *candidate, cs []*candidate) bool {
	v := p.rival(e, c, 1)
	lambda := p.pointTest(len(e.points)).Noncentrality
	for _, o := range cs {
		same := true
		for i := range e.points {
			same = same && !v.contradicts(o, i, o.detectable(i, lambda)) && !opposite(p.verdict(e, c, i).Verdict, p.verdict(e, o, i).Verdict)
		}
		if same {
			return false
		}
	}
	return true
}

// distinct says that the set differs from the steady block of every candidate:
// fewer than half of the points of both together are in both.
func distinct(set *geom.Set, cs []*candidate) bool {
	for _, c := range cs {
		common := set.Common(&c.steady)
		if 2*common >= set.Len()+c.steady.Len()-common {
			return false
		}
	}
	return true
}

// references is the set of nominated reference points that have a position,
// as a list of none or one.
func (p *problem) references(e *epoch) []geom.Set {
	var set geom.Set
	for i, pt := range e.points {
		if p.in.Points[pt].Reference {
			set.Put(i)
		}
	}
	if set.Len() < minReferences {
		return nil
	}
	return []geom.Set{set}
}

// onlyReferences is the split in which the nominated reference points are the
// steady block, when they are congruent but too few to be found by themselves.
func (p *problem) onlyReferences(x *geom.Matcher, refs []geom.Set, parts []geom.Partition) (geom.Partition, bool) {
	if len(refs) == 0 {
		return geom.Partition{}, false
	}
	for n := range parts {
		for k := range parts[n].Blocks {
			if 2*parts[n].Blocks[k].Set.Common(&refs[0]) > refs[0].Len() {
				return geom.Partition{}, false
			}
		}
	}
	b, err := x.Evaluate(refs[0])
	if err != nil || b.Fit.P() < geom.AlphaBlock {
		return geom.Partition{}, false
	}
	out := geom.Partition{Blocks: []geom.Block{b}}
	if len(parts) > 0 {
		out.BIC = parts[0].BIC // one more block that the readings do not ask for
	}
	return out, true
}

func (p *problem) listMissing(e *epoch, r *Result) {
	for i, pt := range p.in.Points {
		if p.index[pt.ID] == i && !e.has(i) {
			r.Missing = append(r.Missing, pt.ID)
		}
	}
	if len(r.Missing) > 0 {
		p.note(diag.Caution, joinIDs(r.Missing),
			diag.Say(CodePointsMissing, "{points} control points have no usable position; nothing is known about them", len(r.Missing)), "measure them, or say why they cannot be reached")
	}
}

// checkLengths compares tram lengths and heights with the nominal ones. A
// height compares along the vehicle's z axis, which is right to first order
// only when the device is levelled to the vehicle.
func (p *problem) checkLengths(r *Result) {
	for _, s := range p.spans {
		a, b := p.in.Points[s.from].At(), p.in.Points[s.to].At()
		nominal := a.Dist(b)
		if s.kind == job.ReadHeight {
			nominal = a[2] - b[2]
		}
		v := float64(s.std*s.std) + float64(p.std0[s.from]*p.std0[s.from]) + float64(p.std0[s.to]*p.std0[s.to])
		c := LengthCheck{Setup: p.setups[s.setup].id, Kind: s.kind, From: p.id(s.from), To: p.id(s.to),
			MeasuredMM: roundMM(s.value), NominalMM: roundMM(nominal), DiffMM: roundMM(s.value - nominal), StdMM: roundMM(math.Sqrt(v))}
		c.W = roundP((s.value - nominal) / math.Sqrt(v))
		c.Differs = math.Abs(c.W) > criticalNormal
		c.Limit = p.lengthLimit(&s)
		r.Lengths = append(r.Lengths, c)
	}
}

// checkFit says when the readings disagree with one another by more than
// their stated uncertainty, which makes every verdict doubtful.
func (p *problem) checkFit(c *candidate) {
	if geom.ChiSquareTail(c.chi2, c.dof) >= geom.AlphaBlock { // always where nothing is left over
		return
	}
	p.note(diag.Blocking, "readings",
		diag.Say("measure.readings-disagree", "the readings disagree by more than their stated uncertainty (chi-square {chi2:.1f} with {freedom} degrees of freedom): a gross error, or an uncertainty stated too small", c.chi2, c.dof),
		"see the suspects; repeat the readings in question")
}

// unfirm takes "firm" from the points of a suspected reading, and from all
// points when the result is ambiguous, the readings as a whole disagree or a
// whole set-up is suspected.
func (p *problem) unfirm(r *Result) {
	all := len(r.Why) > 0 || (r.Adjustment.DOF > 0 && r.Adjustment.P < geom.AlphaBlock)
	doubtful := map[body.PointID]bool{}
	for _, s := range r.Suspects {
		all = all || s.wholeSetup()
		for _, id := range s.Points {
			doubtful[id] = true
		}
	}
	if p.form != nil { // what fits the lengths in another place too is certain nowhere
		for _, f := range p.form.Folds {
			for _, id := range f.Points {
				doubtful[id] = true
			}
		}
	}
	for h := range r.Hypotheses {
		for i := range r.Hypotheses[h].Points {
			if pt := &r.Hypotheses[h].Points[i]; all || doubtful[pt.ID] {
				pt.Firm = false
			}
		}
	}
}

// criticalNormal is the border for one standardised value: 0.1 %, two-sided.
var criticalNormal = normal.Quantile(1 - geom.AlphaPoint/2)

// scalePPM is the deviation of the scale from 1, in parts per million, from
// which a scale that is also significant is called an error of unit or frame.
const scalePPM = 100

func (p *problem) checkScale(c *candidate) {
	f := &c.fit
	off := f.Scale - 1
	if math.Abs(off) <= scalePPM*1e-6 || math.Abs(off) <= criticalNormal*f.ScaleStd {
		return
	}
	p.note(diag.Caution, "readings",
		diag.Say("measure.scale", "the readings fit best with lengths stretched by {stretch:.0f} parts per million (standard uncertainty {std:.0f}): a unit or frame error, or the wrong temperature", off*1e6, f.ScaleStd*1e6),
		"check the unit, the frame and the temperature of the device")
}

// noBlock says why nothing can be said about what moved. points are those that
// have a position; more may have been measured.
func (p *problem) noBlock(points int) string {
	const end = "; nothing can be said about what moved"
	seen := map[int]bool{}
	for i := range p.coords {
		seen[p.coords[i].point] = true
	}
	alone := len(seen) == 0
	for i := range p.spans {
		seen[p.spans[i].from], seen[p.spans[i].to] = true, true
	}
	switch {
	case len(seen) == 0:
		return "no control point was measured" + end
	case len(seen) < minBlock:
		return fmt.Sprintf("control points measured: %d, at least %d are needed%s", len(seen), minBlock, end)
	case points == 0 && alone:
		return fmt.Sprintf("the lengths and heights between %d control points do not fix their form%s", len(seen), end)
	case points == 0:
		return fmt.Sprintf("control points measured: %d, but no set-up has three of them%s", len(seen), end)
	case points < minBlock:
		return fmt.Sprintf("control points measured: %d, of which %d have a position against the others; at least %d are needed%s", len(seen), points, minBlock, end)
	}
	return fmt.Sprintf("no %d of the %d measured control points kept their places against one another%s", minBlock, points, end)
}
