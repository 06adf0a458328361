// Package format owns foreign bytes in and out: it turns files that other
// programs write into plain values, and back. It refuses what it cannot read
// with the file's name, a line or byte, and a hint; it never guesses a unit.
package format

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// meshUnits are the length units a mesh file may be in, in millimetres.
// 1 in = 25.4 mm exactly (international yard and pound agreement, 1959).
var meshUnits = []struct {
	name   string
	factor float64
}{{"mm", 1}, {"cm", 10}, {"m", 1000}, {"in", 25.4}}

// MeshOptions say what a mesh file does not.
type MeshOptions struct {
	// Unit is the length unit of the file's numbers: "mm", "cm", "m" or "in".
	// STL, PLY and OBJ do not carry it and it is never guessed. glTF fixes
	// metres: "" and "m" are allowed there, anything else is refused.
	Unit string
	// Axes is AxesAsFile, AxesYUp or "". "" keeps the coordinates of STL, PLY
	// and OBJ, which have no axes of their own, and turns those of glTF, which
	// fixes Y up, like AxesYUp.
	Axes MeshAxes
}

// ReadMesh is ReadMeshWith for a file whose axes need no saying.
func ReadMesh(name string, data []byte, unit string) (*mesh.Mesh, []diag.Note, error) {
	return ReadMeshWith(name, data, MeshOptions{Unit: unit})
}

// ReadMeshWith reads a triangle mesh from the bytes of an STL file (binary or
// text), a PLY file (text or binary, either byte order), an OBJ file or a GLB
// file (binary glTF 2.0). The kind is found from the content, never from the
// name.
//
// The mesh passes Check. Points that are exactly equal are merged: many
// programs write every triangle with points of its own. Notes tell what was changed and what is
// unusual about the surface. In PLY, an integer face property named zone
// becomes the label of the face; in GLB, a whole number zone in the extras of
// every primitive.
//
// Counts are compared with the bytes available before memory is taken, so a
// false header costs nothing: reading takes at most 64 MB and 48 times the
// size of the file.
func ReadMeshWith(name string, data []byte, o MeshOptions) (*mesh.Mesh, []diag.Note, error) {
	m, _, notes, err := readWelded(name, data, &o)
	return m, notes, err
}

// ReadMeshOrder is ReadMeshWith, and for every vertex of the file, in the
// file's order from 0, the point of the mesh it became; -1 for a vertex that no
// triangle uses. In an STL file, which has no list of vertices, vertex
// 3 f + k is corner k of triangle f. In a GLB file they are numbered through
// the parts of the scene in the order they are placed.
func ReadMeshOrder(name string, data []byte, o MeshOptions) (*mesh.Mesh, []int32, []diag.Note, error) {
	m, raw, notes, err := readWelded(name, data, &o)
	if err != nil {
		return nil, nil, nil, err
	}
	used := make([]bool, len(m.Points))
	for _, t := range m.Faces {
		used[t[0]], used[t[1]], used[t[2]] = true, true, true
	}
	order := fileOrder(m, raw, isSTL(data))
	for i, v := range order {
		if int(v) >= len(used) || !used[v] {
			order[i] = -1
		}
	}
	return m, order, notes, nil
}

// fileOrder is the point of m that each vertex of the file became; a number
// beyond the points of m where it became none.
func fileOrder(m, raw *mesh.Mesh, corners bool) []int32 {
	var order []int32
	if raw == m && !corners {
		for i := range m.Points {
			order = append(order, int32(i))
		}
		return order
	}
	w := mesh.NewWelder(len(m.Points))
	for _, p := range m.Points {
		w.Add(p)
	}
	if !corners {
		for _, p := range raw.Points {
			order = append(order, w.Add(p))
		}
		return order
	}
	for _, t := range raw.Faces {
		for _, v := range t {
			order = append(order, w.Add(raw.Points[v]))
		}
	}
	return order
}

// readWelded reads, checks and welds: the mesh, and as it was before welding.
func readWelded(name string, data []byte, o *MeshOptions) (m, raw *mesh.Mesh, notes []diag.Note, err error) {
	m, notes, err = readAny(name, data, o)
	if err != nil {
		return nil, nil, nil, err
	}
	if err := m.Check(); err != nil {
		bad := &diag.Error{Kind: diag.Invalid, Msg: err.Error()}
		errors.As(err, &bad)
		return nil, nil, nil, badMesh(name, "", bad.Msg, bad.Hint)
	}
	raw = m
	var rep mesh.WeldReport
	if m, rep = weld(m, !isSTL(data)); len(m.Faces) == 0 {
		return nil, nil, nil, badMesh(name, "", "no triangle has three different corners", "export the part again")
	}
	notes = append(notes, weldNotes(name, rep)...)
	f := m.Faults()
	notes = append(notes, faultNotes(name, f)...)
	if f.OpenEdges > 0 {
		notes = append(notes, gapNotes(name, m.Gaps())...)
	}
	if f.Closed() && (f.Components > 1 || m.VolumeMM3() <= 0) { // of one piece whose volume is positive there is no doubt
		if doubt := m.SidesDoubt(); doubt != "" {
			notes = append(notes, diag.Say("mesh.inside-out", "{doubt}", doubt).Note(diag.Note{Severity: diag.Caution, Where: name, Hint: "turn the triangles of the file so that all normals point out of the metal, and into closed voids"}))
		}
	}
	return m, raw, notes, nil
}

// readAny reads the file and turns its numbers into millimetres in the axes
// asked for.
func readAny(name string, data []byte, o *MeshOptions) (m *mesh.Mesh, notes []diag.Note, err error) {
	switch {
	case isPLY(data):
		m, notes, err = readPLY(name, data)
	case isGLB(data):
		m, notes, err = readGLB(name, data)
	case isSTL(data):
		m, err = readSTL(name, data)
	default:
		m, notes, err = readOBJ(name, data)
	}
	if err != nil {
		return nil, nil, err
	}
	// what is no mesh is refused as such, before its unit is asked for
	factor, turned, err := o.check(name, isGLB(data))
	if err != nil {
		return nil, nil, err
	}
	for i, p := range m.Points {
		if turned {
			p = fromYUp(p)
		}
		m.Points[i] = p.Scale(factor)
	}
	if turned {
		notes = append(notes, diag.Say("mesh.axes-turned", "the file has Y up; it was turned to X rearward, Y to the right, Z up").Note(diag.Note{Severity: diag.Info, Where: name}))
	}
	return m, notes, nil
}

// isSTL says that the file is to be read as STL: what is nothing else is
// refused as STL.
func isSTL(data []byte) bool {
	return !isPLY(data) && !isGLB(data) && (isBinarySTL(data) || !isOBJ(data))
}

// check gives the factor to millimetres and whether the axes are turned.
func (o *MeshOptions) check(name string, glb bool) (factor float64, turned bool, err error) {
	switch o.Axes {
	case "":
		turned = glb
	case AxesAsFile:
	case AxesYUp:
		turned = true
	default:
		return factor, turned, badMesh(name, "", fmt.Sprintf("%q names no axes of a mesh", shorten(string(o.Axes))), "give "+string(AxesAsFile)+" or "+string(AxesYUp))
	}
	if !glb {
		factor, err = meshUnit(name, o.Unit)
		return factor, turned, err
	}
	if o.Unit != "" && o.Unit != "m" {
		return factor, turned, badMesh(name, "", fmt.Sprintf("unit %q is given, but glTF is in metres by its specification", shorten(o.Unit)),
			"give no unit or m; if the numbers are not metres, export the part again")
	}
	return 1000, turned, nil
}

func meshUnit(name, unit string) (factor float64, err error) {
	names := make([]string, len(meshUnits))
	for i, u := range meshUnits {
		if u.name == unit {
			return u.factor, nil
		}
		names[i] = u.name
	}
	msg := fmt.Sprintf("%q is not a length unit of a mesh", unit)
	if unit == "" {
		msg = "the length unit of the mesh is not given"
	}
	return factor, badMesh(name, "", msg, "give one of "+strings.Join(names, ", "))
}

// badMesh is an Invalid error; where is a line or a byte, or "".
func badMesh(name, where, msg, hint string) error {
	if where != "" {
		msg = where + ": " + msg
	}
	return &diag.Error{Kind: diag.Invalid, Op: "format.ReadMesh", Subject: name, Msg: msg, Hint: hint}
}

func atByte(offset int) string { return fmt.Sprintf("byte %d", offset) }
func atLine(line int) string   { return fmt.Sprintf("line %d", line) }

// weld merges equal points. STL is read merged: there it only drops faces with
// two equal corners.
func weld(m *mesh.Mesh, always bool) (*mesh.Mesh, mesh.WeldReport) {
	for _, t := range m.Faces {
		always = always || t[0] == t[1] || t[1] == t[2] || t[2] == t[0]
	}
	if !always {
		return m, mesh.WeldReport{}
	}
	return mesh.Weld(m)
}

// weldNotes tells what welding changed.
func weldNotes(name string, r mesh.WeldReport) []diag.Note {
	var out []diag.Note
	if r.PointsMerged > 0 {
		out = append(out, diag.Say("mesh.points-merged", "{points} points that equal an earlier one were merged with it: later points have other numbers than in the file", r.PointsMerged).Note(diag.Note{Severity: diag.Info, Where: name}))
	}
	if r.FacesDropped > 0 {
		out = append(out, diag.Say("mesh.faces-dropped", "{triangles} triangles with two equal corners were left out", r.FacesDropped).Note(diag.Note{Severity: diag.Info, Where: name}))
	}
	return out
}

func faultNotes(name string, f mesh.Faults) []diag.Note {
	var out []diag.Note
	add := func(n int, severity diag.Severity, said diag.Said, hint string) {
		if n > 0 {
			out = append(out, said.Note(diag.Note{Severity: severity, Where: name, Hint: hint}))
		}
	}
	add(f.OpenEdges, diag.Caution, diag.Say("mesh.open-edges",
		"the surface has {edges}: it encloses no volume, and paths end there", diag.Counted(f.OpenEdges, "open edge")), "close the holes, or expect this of a partial scan")
	add(f.NonManifoldEdges, diag.Caution, diag.Say("mesh.non-manifold",
		"{edges} of three or more triangles: paths do not cross there", diag.Counted(f.NonManifoldEdges, "edge")), "repair the mesh there")
	add(f.FlippedEdges, diag.Caution, diag.Say("mesh.flipped",
		"at {edges} the two triangles disagree about the outside: there is no volume", diag.Counted(f.FlippedEdges, "edge")), "turn the triangles of the file so that all normals point out of the metal")
	add(f.DegenerateFaces, diag.Info, diag.Say("mesh.no-area", "{triangles} without area", diag.Counted(f.DegenerateFaces, "triangle")), "")
	if f.Components > 1 {
		add(f.Components, diag.Info, diag.Say("mesh.pieces", "the surface is in {pieces} that share no edge", diag.Counted(f.Components, "piece")), "")
	}
	return out
}

// Codes of the notes about narrow openings, across which no way leads.
const (
	NoteSeams   = "mesh.seams"
	NoteTJoints = "mesh.t-joints"
	NoteGaps    = "mesh.gaps-not-all"
)

// gapNotes tells of narrow openings: what is one surface on the part is not one for
// a way along it.
func gapNotes(name string, g mesh.Gaps) []diag.Note {
	var out []diag.Note
	add := func(said diag.Said, hint string, remedy *diag.Remedy) {
		out = append(out, said.Note(diag.Note{Severity: diag.Caution, Where: name, Hint: hint, Remedy: remedy}))
	}
	mend := diag.Do(mesh.ToMend, "file", name)
	if len(g.Seams) > 0 {
		at, n := g.Seams[0].At, 0
		for _, s := range g.Seams {
			if s.Disagree {
				n++
			}
		}
		hint := "mending closes seams up to a width that is given, into a new file"
		if n > 0 {
			hint = fmt.Sprintf("the sides of %d of them disagree about the outside: turn the triangles of one side first; %s", n, hint)
		}
		add(diag.Say(NoteSeams, "the surface is open along {seams}, together {length} long and up to {width} wide (the longest at {x:.2f}, {y:.2f}, {z:.2f}): a crack that crosses one is measured round it, or not at all",
			diag.Counted(len(g.Seams), "seam"), unit.MM(g.LengthMM()).Short(), unit.MM(g.WidestMM()).ShortUp(), at[0], at[1], at[2]), hint, mend)
	}
	if len(g.TJoints) > 0 {
		at := g.TJoints[0]
		add(diag.Say(NoteTJoints, "{joints}: a corner of one side lies within an edge of the other, which do not hang together there (the first at {x:.2f}, {y:.2f}, {z:.2f}): a crack that crosses is measured too long",
			diag.Counted(len(g.TJoints), "T-joint"), at[0], at[1], at[2]), "mending divides the edges there, into a new file", mend)
	}
	if !g.Whole {
		add(diag.Say(NoteGaps, "too many free edges lie near one another to look for all seams"), "take out triangles that are there more than once, or repair the mesh", nil)
	}
	return out
}

// finiteVec is a point from three numbers of a file, checked.
func finiteVec(name, where string, p geom.Vec) error {
	if p.Finite() {
		return nil
	}
	return badMesh(name, where, "a coordinate is not a finite number", "every coordinate must be finite")
}

// putFloat32 appends v as the nearest float32, least byte first: exact to
// 0.0001 mm up to 1.6 m, to 0.0005 mm up to 8 m.
func putFloat32(b []byte, v float64) []byte {
	u := math.Float32bits(float32(v))
	return append(b, byte(u), byte(u>>8), byte(u>>16), byte(u>>24))
}

func putUint32(b []byte, u uint32) []byte {
	return append(b, byte(u), byte(u>>8), byte(u>>16), byte(u>>24))
}
