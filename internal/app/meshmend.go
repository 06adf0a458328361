package app

import (
	"context"
	"fmt"
	"path"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/format"
	"fettle/internal/geom"
	"fettle/internal/halt"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// MendResult is what was done to a mesh file whose seams were closed; its JSON names
// are a contract.
type MendResult struct {
	File        string      `json:"file"`
	Written     string      `json:"written"`
	ToleranceMM float64     `json:"toleranceMm"`
	Before      MendCounts  `json:"before"`
	After       MendCounts  `json:"after"`
	VolumeMM3   *float64    `json:"volumeMm3"` // of the mended mesh; none when it is not closed
	Joined      []MendJoin  `json:"joined"`
	Divided     []MendSplit `json:"divided"`
	LeftOpen    []MendLeft  `json:"leftOpen"` // within the tolerance
	Wider       []MeshSeam  `json:"wider"`    // narrow openings that are still there
}

// MendCounts are the faults of a mesh.
type MendCounts struct {
	Points           int `json:"points"`
	Triangles        int `json:"triangles"`
	Pieces           int `json:"pieces"`
	OpenEdges        int `json:"openEdges"`
	NonManifoldEdges int `json:"nonManifoldEdges"`
	FlippedEdges     int `json:"flippedEdges"`
}

// MendJoin is points that became one.
type MendJoin struct {
	At      geom.Vec   `json:"atMm"`
	From    []geom.Vec `json:"fromMm"`
	ApartMM float64    `json:"apartMm"` // the two that were farthest apart
	MovedMM float64    `json:"movedMm"` // the one that was moved farthest
}

// MendSplit is an edge that was divided at a T-joint.
type MendSplit struct {
	At    geom.Vec    `json:"atMm"`
	OffMM float64     `json:"offMm"` // of the corner from the edge
	Edge  [2]geom.Vec `json:"edgeMm"`
}

// MendLeft is a place that was not closed.
type MendLeft struct {
	At  geom.Vec `json:"atMm"`
	Why string   `json:"why"`
}

// MendFile closes the seams of a mesh file up to a width, and gives the bytes of the
// mended file, of the kind its name says.
func (a *App) MendFile(ctx context.Context, file, lengthUnit string, toleranceMM float64, written string) (r MendResult, data []byte, err error) {
	stopped := halt.Do(ctx, func(w *halt.Work) { r, data, err = a.mendFile(w, file, lengthUnit, toleranceMM, written) })
	if stopped != nil {
		return MendResult{}, nil, stopped
	}
	return r, data, err
}

func (a *App) mendFile(w *halt.Work, file, lengthUnit string, toleranceMM float64, written string) (MendResult, []byte, error) {
	m, _, err := a.readMeshFile(file, lengthUnit)
	if err != nil {
		return MendResult{}, nil, err
	}
	made, err := m.MendWhile(w, toleranceMM)
	if err != nil {
		return MendResult{}, nil, named(file, err)
	}
	if len(made.Joined)+len(made.Divided) == 0 {
		return MendResult{}, nil, nothingMended(file, toleranceMM, made)
	}
	data, err := mendedBytes(made.Mesh, written)
	if err != nil {
		return MendResult{}, nil, err
	}
	return mendResult(file, written, toleranceMM, m, made), data, nil
}

// nothingMended says why there is nothing to write.
func nothingMended(file string, tol float64, made *mesh.Mended) error {
	e := &diag.Error{Kind: diag.NotFound, Op: "mend", Subject: file, Msg: fmt.Sprintf("nothing can be closed within %s; no file was written", unit.MM(tol))}
	switch {
	case len(made.Left) > 0:
		at := made.Left[0].At
		e.Hint = fmt.Sprintf("at %.2f, %.2f, %.2f: %s", at[0], at[1], at[2], made.Left[0].Why)
	case len(made.Still.Seams) > 0:
		e.Hint = fmt.Sprintf("%v", seamPlaces(made.Still.Seams[:1])[0])
	default:
		e.Hint = "the mesh has no seams"
	}
	return e
}

// mendedBytes writes a mesh in the kind that a name says, and reads it back: what a
// kind cannot hold is refused.
func mendedBytes(m *mesh.Mesh, name string) ([]byte, error) {
	refuse := func(msg string) error {
		return &diag.Error{Kind: diag.Usage, Op: "mend", Subject: name, Msg: msg, Hint: "write a file whose name ends in .ply: it holds everything"}
	}
	var data []byte
	o, err := format.MeshOptions{Unit: "mm"}, error(nil)
	switch strings.ToLower(path.Ext(name)) {
	case ".ply":
		data = format.WritePLYFull(m)
	case ".stl":
		if m.Label != nil {
			return nil, refuse("the mesh has zones, and an STL file holds none")
		}
		data = format.WriteSTL(m)
	case ".glb":
		o.Unit = ""
		if data, err = format.WriteGLB(m); err != nil {
			return nil, err
		}
	default:
		return nil, refuse("its name does not say what kind of mesh it is: .ply, .stl or .glb")
	}
	back, _, err := format.ReadMeshWith(path.Base(name), data, o)
	if err != nil {
		return nil, err
	}
	if len(back.Points) != len(m.Points) || len(back.Faces) != len(m.Faces) || back.Faults() != m.Faults() {
		return nil, refuse("the numbers of this kind of file are too coarse for the mended mesh")
	}
	return data, nil
}

func mendResult(file, written string, tol float64, m *mesh.Mesh, made *mesh.Mended) MendResult {
	out := MendResult{File: file, Written: written, ToleranceMM: tol, Before: mendCounts(m, made.Before), After: mendCounts(made.Mesh, made.After),
		Joined: []MendJoin{}, Divided: []MendSplit{}, LeftOpen: []MendLeft{}, Wider: seamPlaces(made.Still.Seams)}
	if made.After.Closed() && made.Mesh.SidesDoubt() == "" {
		v := made.Mesh.VolumeMM3()
		out.VolumeMM3 = &v
	}
	for _, j := range made.Joined {
		out.Joined = append(out.Joined, MendJoin{j.At, j.From, j.ApartMM, j.MovedMM()})
	}
	for _, d := range made.Divided {
		out.Divided = append(out.Divided, MendSplit{d.At, d.OffMM, d.Ends})
	}
	for _, l := range made.Left {
		out.LeftOpen = append(out.LeftOpen, MendLeft{l.At, l.Why})
	}
	return out
}

func mendCounts(m *mesh.Mesh, f mesh.Faults) MendCounts {
	return MendCounts{len(m.Points), len(m.Faces), f.Components, f.OpenEdges, f.NonManifoldEdges, f.FlippedEdges}
}

// mendShown is how many lines of a kind are printed; JSON has all.
const mendShown = 20

// String is what was done, for a terminal.
func (r MendResult) Text(col Column) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: closed what lies within %s; the mended mesh is %s, in %s\n", r.File, unit.MM(r.ToleranceMM), r.Written,
		map[bool]string{true: "metres, as this kind of file always is", false: "millimetres"}[strings.EqualFold(path.Ext(r.Written), ".glb")])
	fmt.Fprintf(&b, "before %s\nafter  %s", r.Before, r.After)
	if r.VolumeMM3 != nil {
		fmt.Fprintf(&b, ", closed, volume %.2f cm3", *r.VolumeMM3/1000)
	}
	b.WriteString("\n")
	if r.After.Pieces < r.Before.Pieces {
		b.WriteString("pieces that shared no edge are one now: where a gap between them is meant, keep the file that was read\n")
	}
	apart, moved, off := 0.0, 0.0, 0.0
	for _, j := range r.Joined {
		apart, moved = max(apart, j.ApartMM), max(moved, j.MovedMM)
	}
	for _, d := range r.Divided {
		off = max(off, d.OffMM)
	}
	fmt.Fprintf(&b, "points joined at %s, at most %s apart and moved by at most %s\n", unit.Count(len(r.Joined), "place"), unit.MM(apart).Short(), unit.MM(moved).Short())
	listed(&b, col, len(r.Joined), func(i int) string {
		j := r.Joined[i]
		return fmt.Sprintf("%d points at %s, %s apart, moved by %s", len(j.From), placeText(j.At), unit.MM(j.ApartMM).Short(), unit.MM(j.MovedMM).Short())
	})
	fmt.Fprintf(&b, "edges divided at T-joints: %d, the corner at most %s off\n", len(r.Divided), unit.MM(off).Short())
	listed(&b, col, len(r.Divided), func(i int) string {
		d := r.Divided[i]
		return fmt.Sprintf("at %s, the corner %s off the edge from %s to %s", placeText(d.At), unit.MM(d.OffMM).Short(), placeText(d.Edge[0]), placeText(d.Edge[1]))
	})
	b.WriteString("no triangle was dropped or turned over\n")
	fmt.Fprintf(&b, "not closed within the tolerance: %s\n", unit.Count(len(r.LeftOpen), "place"))
	listed(&b, col, len(r.LeftOpen), func(i int) string { return "at " + placeText(r.LeftOpen[i].At) + ": " + r.LeftOpen[i].Why })
	fmt.Fprintf(&b, "still open: %s, %d open edges in all\n", unit.Count(len(r.Wider), "seam"), r.After.OpenEdges)
	listed(&b, col, len(r.Wider), func(i int) string { return r.Wider[i].String() })
	return b.String()
}

// listed prints the first of a list, and how many more there are.
func listed(b *strings.Builder, col Column, n int, line func(i int) string) {
	for i := range min(n, mendShown) {
		fmt.Fprintf(b, "  %s\n", line(i))
	}
	if n > mendShown {
		fmt.Fprintf(b, "  %s\n", more(col, n-mendShown))
	}
}

func placeText(p geom.Vec) string { return fmt.Sprintf("%.2f, %.2f, %.2f", p[0], p[1], p[2]) }

// String is the counts for a terminal.
func (c MendCounts) String() string {
	return fmt.Sprintf("%s, %s, %s, %s, %s of three or more triangles, %s", unit.Count(c.Points, "point"), unit.Count(c.Triangles, "triangle"),
		unit.Count(c.Pieces, "piece"), unit.Count(c.OpenEdges, "open edge"), unit.Count(c.NonManifoldEdges, "edge"), unit.Count(c.FlippedEdges, "flipped edge"))
}
