package app

import (
	"context"
	"fmt"
	"path"
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/format"
	"fettle/internal/geom"
	"fettle/internal/halt"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/rule"
	"fettle/internal/unit"
)

// TraceOptions say where a trace lies on a mesh file.
type TraceOptions struct {
	Unit      string
	At        []geom.Vec // near the surface [mm]
	Vertices  []int      // or vertices of the file, from 0 in its order
	StdMM     float64    // standard uncertainty of each point along the surface
	WallMM    float64    // nominal wall, 0 when not known
	MeshStdMM float64    // of the mesh against the part
}

// TraceResult is a trace on a mesh; its JSON names are a contract.
type TraceResult struct {
	LengthMM    float64     `json:"lengthMm"` // as a finding is measured: freed of the bias of noisy points
	StdMM       float64     `json:"stdMm"`
	LowerMM     float64     `json:"lowerMm"`
	UpperMM     float64     `json:"upperMm"`
	ChordMM     float64     `json:"chordMm"`     // straight from the first point to the last
	RawMM       float64     `json:"rawMm"`       // along the surface through every point as walked
	ExactMM     float64     `json:"exactMm"`     // shortest ways along the surface through every point
	EndsMM      float64     `json:"endsMm"`      // shortest way along the surface from the first point to the last
	ExactProven bool        `json:"exactProven"` // no shorter ways than those exist on this mesh
	PointsKept  int         `json:"pointsKept"`  // that lengthMm goes through
	OffMM       []float64   `json:"offMm"`       // of each point from the surface
	Path        []geom.Vec  `json:"path"`
	Zones       []TraceZone `json:"zones"`
	Notes       []diag.Note `json:"notes"`
	Sites       []geom.Vec  `json:"points"` // where the points lie on the surface
}

// TraceZone is the length in one zone of the mesh.
type TraceZone struct {
	ID       int32   `json:"id"` // number on the faces
	LengthMM float64 `json:"lengthMm"`
}

// TraceFile measures a trace on a mesh file as a finding is measured.
func (a *App) TraceFile(ctx context.Context, file string, o TraceOptions) (TraceResult, error) {
	return computing(ctx, a, func(w *halt.Work) (TraceResult, error) { return a.traceFile(w, file, o) })
}

func (a *App) traceFile(w *halt.Work, file string, o TraceOptions) (TraceResult, error) {
	data, err := a.read("", file, aMesh, "check the path")
	if err != nil {
		return TraceResult{}, err
	}
	m, order, told, err := format.ReadMeshOrder(path.Base(file), data, format.MeshOptions{Unit: o.Unit})
	if err != nil {
		return TraceResult{}, named(file, err)
	}
	s, err := mesh.NewSurface(m)
	if err != nil {
		return TraceResult{}, named(file, err)
	}
	in := inspect.TraceInput{Name: path.Base(file), Points: o.At, StdMM: o.StdMM, WallMM: o.WallMM, MeshStdMM: o.MeshStdMM}
	for _, v := range o.Vertices {
		site, err := vertexSite(s, order, v, in.Name)
		if err != nil {
			return TraceResult{}, err
		}
		in.Sites = append(in.Sites, site)
	}
	r, notes, err := inspect.MeasureTrace(s.While(w), in)
	if err != nil {
		return TraceResult{}, named(file, err)
	}
	for _, n := range told { // what a way along the surface cannot cross
		if n.Code == format.NoteSeams || n.Code == format.NoteTJoints || n.Code == format.NoteGaps {
			notes = append(notes, n)
		}
	}
	if o.StdMM == 0 && len(o.At) > 2 {
		notes = append(notes, diag.Say("trace.no-std", "no standard uncertainty is given: the points are taken as exact, and the length goes through every one of them").Note(diag.Note{Severity: diag.Info, Where: in.Name, Hint: "clicked by hand, noise makes a length through every point too long; say how well each point is known", Remedy: job.Give(job.GiveStd)}))
	}
	return traceResult(r, notes), nil
}

// vertexSite is the place of a vertex of the file.
func vertexSite(s *mesh.Surface, order []int32, v int, name string) (mesh.Site, error) {
	if v < 0 || v >= len(order) {
		return mesh.Site{}, &diag.Error{Kind: diag.Invalid, Op: "trace", Subject: name,
			Msg: fmt.Sprintf("there is no vertex %d", v), Hint: fmt.Sprintf("vertices are numbered from 0 to %d in the order of the file", len(order)-1)}
	}
	site, ok := s.PointSite(int(order[v]))
	if !ok {
		return mesh.Site{}, &diag.Error{Kind: diag.Invalid, Op: "trace", Subject: name,
			Msg: fmt.Sprintf("no triangle uses vertex %d", v), Hint: "choose a vertex on the surface"}
	}
	return site, nil
}

// noStdMM is below what rounding leaves of exact points.
const noStdMM = 1e-9

func traceResult(r inspect.TraceResult, notes []diag.Note) TraceResult {
	out := TraceResult{LengthMM: r.Length.MM, StdMM: r.Length.Std, LowerMM: r.LowerMM, UpperMM: r.UpperMM,
		ChordMM: r.ChordMM, RawMM: r.RawMM, ExactMM: r.ExactMM, EndsMM: r.EndsMM, ExactProven: r.ExactProven,
		PointsKept: r.Kept, OffMM: r.OffMM, Path: r.Path, Zones: []TraceZone{}, Notes: notes, Sites: r.Sites}
	if out.StdMM < noStdMM {
		out.StdMM = 0
	}
	if out.Notes == nil {
		out.Notes = []diag.Note{}
	}
	for _, l := range r.Labels {
		out.Zones = append(out.Zones, TraceZone{l.Label, l.LengthMM})
	}
	return out
}

// String is the trace for a terminal.
func (t TraceResult) Text(col Column) string {
	var b strings.Builder
	length, within, _ := strings.Cut(unit.Spread(t.LengthMM, rule.Coverage*t.StdMM), " ± ")
	fmt.Fprintf(&b, "length along the surface %s mm ± %s mm (k = 2, through %d of %d points)\n", length, within, t.PointsKept, len(t.OffMM))
	fmt.Fprintf(&b, "at least %.1f mm (straight), at most %.1f mm\n", t.LowerMM, t.UpperMM)
	proven := "proven"
	if !t.ExactProven {
		proven = "not proven"
	}
	fmt.Fprintf(&b, "through every point %.1f mm, shortest %.1f mm; from end to end %.1f mm (%s the shortest)\n", t.RawMM, t.ExactMM, t.EndsMM, proven)
	if off := slices.Max(t.OffMM); off > 1e-6 {
		fmt.Fprintf(&b, "points were put on the surface, the farthest by %s (point %d)\n", unit.MM(off).Short(), 1+slices.Index(t.OffMM, off))
	}
	for _, z := range t.Zones {
		fmt.Fprintf(&b, "zone %d: %.1f mm\n", z.ID, z.LengthMM)
	}
	for _, n := range t.Notes {
		b.WriteString(col.Wrap(fmt.Sprintf("%s: %s; %s", n.Severity, n.Text, col.How.Hint(n.Hint, n.Remedy)), "", "  "))
	}
	return b.String()
}
