package inspect

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/rule"
	"fettle/internal/vehicle"
)

// Run finds out where every finding lies and what has been inspected. The
// notes come in the order of the findings, then groups, then areas.
func Run(in Input) (Result, []diag.Note) {
	in.Vehicle = in.Vehicle.While(in.Work)
	r := &run{in: in, confidence: max(rule.LeastConfidence, float64(in.Body.Confidence))}
	r.prepare()
	r.judge()
	for _, f := range in.Job.Findings {
		f, t := r.locate(r.claims(f))
		r.found = append(r.found, f)
		r.traces = append(r.traces, t)
	}
	r.linkFaces()
	r.linkForks()
	r.hang()
	r.placeEarlier()
	for i, t := range r.traces {
		in.Work.Part(i, len(r.traces))
		if t != nil {
			r.measure(&r.found[i], t)
		}
		if h := r.hands[i]; h != nil {
			r.measureByHand(&r.found[i], h)
		}
	}
	before := r.notes
	r.notes = nil
	r.cover() // first: how far a spacing is known hangs on what was inspected
	r.reachable()
	covered := r.notes
	r.notes = before
	r.relate()
	r.res.Findings = r.found
	return r.res, append(r.notes, covered...)
}

// run is one call of Run.
type run struct {
	in         Input
	confidence float64
	places     []place
	found      []Finding
	traces     []*trace       // nil: not located, or on a casting without a mesh
	hands      map[int]*trace // findings on castings without a mesh whose zones are said
	crack      sets           // findings that are one crack: its two faces
	whole      sets           // those and its branches, as far as the mesh bears it out
	res        Result
	notes      []diag.Note
}

// place is a casting as one job sees it.
type place struct {
	*vehicle.Casting
	rule    *body.Procedure
	repairs *vehicle.Fixtures // found when first asked for
}

// trace is a located finding on its way.
type trace struct {
	in      *job.Finding
	at      *place
	tips    []body.TipMethod // how each end was found, as far as that counts
	said    float64          // standard uncertainty of each point along the surface, as stated [mm]
	std     float64          // the same as the points bear it out, never less [mm]
	gateMM  float64          // how far a point may be from the surface
	fork    job.FindingID    // the crack it was found to fork off
	sites   []mesh.Site
	raw     []mesh.Path // between consecutive sites
	detours []detour    // other ways it may take
	placed  float64     // standard uncertainty of where all of it lies, by the pose of its set-up [mm]
	zones   []ZoneShare // that it is said to lie in, without a mesh
	legs    []leg       // the simplified way, for the length
	way     []geom.Vec  // the same as one line
	curve   curve       // the way through all sites, for the place, with the allowance at its ends
}

func (r *run) prepare() {
	for _, c := range r.in.Vehicle.For(r.in.Body).Castings {
		p := place{Casting: c}
		if f, ok := r.in.Body.ProcedureFor(c.Of.ID, r.in.today()); ok {
			p.rule = &f.Procedure
			r.res.Rules = append(r.res.Rules, RuleUsed{c.Of.ID, f.ID, f.Revision})
		}
		r.places = append(r.places, p)
	}
}

// placeOf is the casting a part is, or nil.
func (r *run) placeOf(part body.PartID) *place {
	for i := range r.places {
		if p := &r.places[i]; p.Of.Part == part {
			return p
		}
	}
	return nil
}

// placeNamed is the casting of that identity, or nil.
func (r *run) placeNamed(id body.CastingID) *place {
	for i := range r.places {
		if r.places[i].Of.ID == id {
			return &r.places[i]
		}
	}
	return nil
}

func (r *run) note(n diag.Note) { r.notes = append(r.notes, n) }

// locate puts the trace of a finding on the surface. The trace is nil when it
// has no place, and the finding then says why.
func (r *run) locate(in *job.Finding) (Finding, *trace) {
	f := Finding{ID: in.ID, Kind: in.Kind, Part: in.Part, Through: through(in)}
	p := r.placeOf(in.Part)
	if p == nil {
		f.because("%s is not a casting: the finding has no length, zone or clearance", in.Part)
		return f, nil
	}
	f.Casting = p.Of.ID
	in, placed, n := r.carried(in)
	t := &trace{in: in, at: p, said: float64(in.Std), std: float64(in.Std), placed: placed}
	r.countTips(&f, t)
	if p.Surface == nil && !p.Of.HasMesh() {
		return r.byHand(f, t), nil
	}
	if n == nil {
		n = t.refusal()
	}
	if n == nil {
		n = t.snap(&f)
	}
	if n == nil {
		n = t.overSeam()
	}
	if n != nil {
		n.Where = string(in.ID)
		r.note(*n)
		f.lost(p, n)
		return f, nil
	}
	f.Located = true
	if in.Setup != "" {
		f.because("carried from the axes of set-up %s, by a pose that is known to %s there", in.Setup, expandedMM(placed))
	}
	return f, t
}

// claims is a finding with what its signature carries.
func (r *run) claims(f job.Finding) *job.Finding {
	out, why := r.in.Job.Claims(f, r.in.Shop, r.in.acts())
	if why != "" {
		r.note(diag.Say("inspect.finding-falls", "what was entered in favour of the finding (how its tips were found, its depth, that it does not go through) does not count: {why}", why).Note(diag.Note{Severity: diag.Caution, Where: string(f.ID), Hint: "have it looked at by a person of the shop file, and enter who and when"}))
	}
	return &out
}

// lost makes a finding that has no known place: it may lie anywhere on the
// casting.
func (f *Finding) lost(p *place, n *diag.Note) {
	f.Unknown = append(f.Unknown, "length, zones and clearances: "+n.Text+"; "+n.Hint)
	for _, z := range p.Of.Zones {
		f.MayLieIn = append(f.MayLieIn, z.ID)
	}
}

// refusal says why a trace cannot be used at all, or nil.
func (t *trace) refusal() *diag.Note {
	blocking := func(said diag.Said, hint string) *diag.Note {
		return said.Noted(diag.Note{Severity: diag.Blocking, Hint: hint})
	}
	switch {
	case t.at.Surface == nil:
		return blocking(diag.Say("inspect.no-surface", "the mesh of casting {casting} has not been read", t.at.Of.ID),
			"put the mesh file into the body folder")
	case len(t.in.Trace) == 0:
		n := blocking(diag.Say("inspect.no-trace", "the finding has no trace"), "enter points along it in vehicle axes (trace_mm)")
		if !isCrack(t.in.Kind) {
			n.Severity = diag.Caution
		}
		return n
	case !(t.std > 0) || !(t.std < maxStdMM):
		return blocking(diag.Say("inspect.no-uncertainty", "the trace has no usable standard uncertainty"),
			"say how well each point is known (trace_std), for example 0.6 mm")
	}
	for i, p := range t.in.Trace {
		if !p.Finite() {
			return blocking(diag.Say("inspect.not-a-number", "point {point} of the trace is not a number", i+1),
				"enter three finite millimetre values")
		}
	}
	return nil
}

// maxStdMM keeps infinities out; a trace known to no better than a metre says
// nothing about a casting. Our choice, no source.
const maxStdMM = 1000

// through is what the job says, and unknown for anything but yes and no.
func through(in *job.Finding) body.YesNo {
	if in.Through == body.Yes || in.Through == body.No {
		return in.Through
	}
	return body.Unknown
}

// isCrack says that a finding is a crack, with ends that may run on unseen: a break
// is one that has gone all the way.
func isCrack(kind body.FindingKind) bool { return kind == body.Crack || kind == body.Break }

// weakens says that a finding weakens the wall for the procedure of its casting:
// others have to keep their distance from it. Every kind does unless the procedure
// names those that do.
func (r *run) weakens(i int) bool {
	f := &r.found[i]
	if p := r.placeNamed(f.Casting); p != nil && p.rule != nil && len(p.rule.Neighbours) > 0 {
		return slices.Contains(p.rule.Neighbours, f.Kind)
	}
	return f.Casting != ""
}

// parts says that a finding parts the wall and can count as one with others: a
// crack, a break or a torn mount that weakens it. A dent or a bend has no end to
// run on from.
func (r *run) parts(i int) bool {
	k := r.found[i].Kind
	return (isCrack(k) || k == body.Torn) && (k == body.Crack || r.weakens(i))
}

// measure fills in what can be said of one finding alone.
func (r *run) measure(f *Finding, t *trace) {
	r.askAboutTips(f, t)
	if len(t.sites) > 1 {
		r.length(f, t)
	} else {
		t.join()
		t.way = t.curve.pts
		if isCrack(f.Kind) {
			r.note(diag.Say("inspect.one-point", "the {kind} has one point: it has a place but no length", f.Kind).Note(diag.Note{Severity: diag.Caution, Where: string(f.ID), Hint: "enter points along it (trace_mm)"}))
			f.Unknown = append(f.Unknown, "length: the trace has one point; enter points along the "+string(f.Kind))
		}
	}
	f.Path = t.way
	if n := t.detourNote(); n != nil {
		n.Where = string(f.ID)
		r.note(*n)
	}
	r.zones(f, t)
	r.clearances(f, t)
	r.sides(f, t)
}

func (f *Finding) because(format string, args ...any) {
	f.Because = append(f.Because, fmt.Sprintf(format, args...))
}
