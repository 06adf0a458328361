package inspect

import (
	"fmt"
	"math"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// TraceInput is a trace on a surface that belongs to no job: points near the
// surface, or places on it.
type TraceInput struct {
	Name   string      // of the surface, for messages
	Points []geom.Vec  // near the surface [mm]
	Sites  []mesh.Site // on the surface; used when there are no Points
	// StdMM is the standard uncertainty of each point along the surface, 0 for
	// points that are exact: then the length goes through every one of them.
	StdMM float64
	// WallMM is the nominal wall. When it is given, each point is put on the
	// side of the wall that the others lie on, and a trace that jumps from side
	// to side is refused; else every point goes to the nearest place.
	WallMM    float64
	MeshStdMM float64 // of the mesh against the part
}

// TraceResult is the length of a trace along the surface. The figures mean what
// they mean in a Finding.
type TraceResult struct {
	Length           Length
	LowerMM, UpperMM float64
	ChordMM          float64 // straight from the first point to the last
	RawMM            float64 // locally shortest ways through every point
	ExactMM          float64 // shortest ways through every point
	EndsMM           float64 // shortest way from the first point to the last
	ExactProven      bool    // no shorter ways than those of ExactMM and EndsMM exist
	Path             []geom.Vec
	Labels           []mesh.LabelLength // length in every label; nil when the mesh carries none
	Sites            []geom.Vec         // where the points lie on the surface
	OffMM            []float64          // of each point from the surface
	Kept             int                // points that Length goes through
}

// MeasureTrace measures a trace as Run measures a finding.
func MeasureTrace(s *mesh.Surface, in TraceInput) (TraceResult, []diag.Note, error) {
	if err := in.check(); err != nil {
		return TraceResult{}, nil, err
	}
	c := &body.Casting{ID: body.CastingID(in.Name), Wall: unit.MM(in.WallMM), MeshStd: unit.MM(in.MeshStdMM)}
	t := &trace{in: &job.Finding{Kind: body.Crack, Trace: in.Points}, at: &place{Casting: vehicle.Alone(c, s)}, said: in.StdMM, std: in.StdMM}
	var out TraceResult
	notes, err := t.settle(&in, &out)
	if err != nil {
		return TraceResult{}, nil, err
	}
	l := t.length()
	out.Length, out.LowerMM, out.UpperMM = Length{MM: l.mm, Std: l.std}, l.chord, l.upper()
	out.ChordMM, out.RawMM, out.Kept, out.Path = l.chord, l.raw, l.kept, t.way
	for _, site := range t.sites {
		out.Sites = append(out.Sites, site.At)
	}
	if s.Mesh().Label != nil {
		out.Labels = t.crossed()
	}
	all := l.notes()
	if n := t.detourNote(); n != nil {
		all = append(all, *n)
	}
	for _, n := range all {
		n.Where = in.Name
		notes = append(notes, n)
	}
	more, err := t.exact(&out)
	return out, append(notes, more...), err
}

func (in *TraceInput) check() error {
	wrong := func(msg, hint string) error {
		return &diag.Error{Kind: diag.Invalid, Op: "trace", Subject: in.Name, Msg: msg, Hint: hint}
	}
	var places []geom.Vec
	for _, site := range in.Sites {
		places = append(places, site.At)
	}
	if len(distinct(in.Points)) < 2 && len(distinct(places)) < 2 {
		return wrong("a trace needs two different points", "give the points along it, from one end to the other")
	}
	for i, p := range in.Points {
		if !p.Finite() {
			return wrong(fmt.Sprintf("point %d is not a number", i+1), "give three finite millimetre values")
		}
	}
	for _, v := range [3]float64{in.StdMM, in.WallMM, in.MeshStdMM} {
		if !(v >= 0) || v >= maxStdMM {
			return wrong("a standard uncertainty or wall is not usable", "give millimetres, 0 or more and below 1000")
		}
	}
	return nil
}

// settle puts the points on the surface.
func (t *trace) settle(in *TraceInput, out *TraceResult) (notes []diag.Note, err error) {
	if in.Points == nil {
		for i, site := range in.Sites {
			if i == 0 || site.At != in.Sites[i-1].At {
				t.sites = append(t.sites, site)
			}
		}
		out.OffMM = make([]float64, len(t.sites))
		return t.walk()
	}
	if in.WallMM > 0 && in.StdMM > 0 {
		var f Finding
		if n := t.snap(&f); n != nil {
			return nil, refused(in.Name, n)
		}
	} else {
		points := distinct(in.Points)
		near := t.nearest(points)
		t.feel(points, near)
		if n := t.offSurface(points, near); n != nil {
			return nil, refused(in.Name, n)
		}
		for _, c := range near {
			t.sites = append(t.sites, c.site)
		}
		if notes, err = t.walk(); err == nil && t.said > 0 {
			t.believe(points, near)
		}
	}
	for i, p := range distinct(in.Points) {
		out.OffMM = append(out.OffMM, p.Dist(t.sites[i].At))
	}
	return notes, err
}

func refused(name string, n *diag.Note) error {
	return &diag.Error{Kind: diag.Invalid, Op: "trace", Subject: name, Msg: n.Text, Hint: n.Hint}
}

// walk finds the ways between neighbours, and notes those that are long for
// the distance they bridge.
func (t *trace) walk() ([]diag.Note, error) {
	var notes []diag.Note
	for i := 0; i+1 < len(t.sites); i++ {
		p, err := t.at.Way(t.sites[i], t.sites[i+1])
		if err != nil {
			return nil, err
		}
		if t.jumps(p) {
			notes = append(notes, diag.Say("inspect.trace-jumps", "from point {from} to point {to} the surface leads {length} round for a straight {straight}", i+1, i+2, long(p.LengthMM), long(p.ChordMM)).Note(diag.Note{Severity: diag.Caution, Where: string(t.at.Of.ID), Hint: "check that both lie on one side of the wall, or give more points between them"}))
		}
		t.raw = append(t.raw, p)
	}
	return notes, nil
}

// exact fills in the shortest ways.
func (t *trace) exact(out *TraceResult) ([]diag.Note, error) {
	out.ExactProven = true
	var notes []diag.Note
	way := func(a, b mesh.Site, what string) (float64, error) {
		p, err := t.at.ShortestWay(a, b)
		if err == nil && !p.Proven {
			out.ExactProven = false
			notes = append(notes, diag.Say("inspect.not-exact", "{what} is not proven the shortest: {doubt}", what, p.Doubt).Note(diag.Note{Severity: diag.Caution, Where: string(t.at.Of.ID), Hint: "give more points between them"}))
		}
		return p.LengthMM, err
	}
	last := len(t.sites) - 1
	for i := range last {
		mm, err := way(t.sites[i], t.sites[i+1], fmt.Sprintf("the way from point %d to point %d", i+1, i+2))
		if err != nil {
			return nil, err
		}
		out.ExactMM += mm
	}
	if out.EndsMM = out.ExactMM; last == 1 {
		return notes, nil
	}
	mm, err := way(t.sites[0], t.sites[last], "the way from the first point to the last")
	out.EndsMM = math.Min(mm, out.ExactMM)
	return notes, err
}
