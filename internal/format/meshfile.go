// Package format owns foreign bytes in and out: it turns files that other
// programs write into plain values, and back. It refuses what it cannot read
// with the file's name, a line or byte, and a hint; it never guesses a unit.
package format

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// meshUnits are the length units a mesh file may be in, in millimetres.
// 1 in = 25.4 mm exactly (international yard and pound agreement, 1959).
var meshUnits = []struct {
	name   string
	factor float64
}{{"mm", 1}, {"cm", 10}, {"m", 1000}, {"in", 25.4}}

// ReadMesh reads a triangle mesh from the bytes of an STL file (binary or text)
// or a PLY file (text or binary, either byte order). The kind is found from the
// content, never from the name. unit is the length unit of the file's numbers,
// "mm", "cm", "m" or "in": the formats do not carry it and it is never guessed.
//
// The mesh passes Check. An STL mesh is welded. Notes tell what was changed and
// what is unusual about the surface. In PLY, an integer face property named
// zone becomes the label of the face.
//
// Counts are compared with the bytes available before memory is taken, so a
// false header costs nothing.
func ReadMesh(name string, data []byte, unit string) (*mesh.Mesh, []diag.Note, error) {
	factor, err := meshUnit(name, unit)
	if err != nil {
		return nil, nil, err
	}
	var m *mesh.Mesh
	var notes []diag.Note
	switch {
	case isPLY(data):
		m, notes, err = readPLY(name, data)
	case bytes.HasPrefix(data, []byte("glTF")):
		err = &diag.Error{Kind: diag.Unsupported, Op: "format.ReadMesh", Subject: name,
			Msg: "binary glTF is not read here", Hint: "export the mesh as PLY or STL"}
	default:
		m, err = readSTL(name, data)
	}
	if err != nil {
		return nil, nil, err
	}
	for i, p := range m.Points {
		m.Points[i] = p.Scale(factor)
	}
	if err := m.Check(); err != nil {
		bad := &diag.Error{Kind: diag.Invalid, Msg: err.Error()}
		errors.As(err, &bad)
		return nil, nil, badMesh(name, "", bad.Msg, bad.Hint)
	}
	if !isPLY(data) {
		var rep mesh.WeldReport
		m, rep = mesh.Weld(m)
		notes = append(notes, weldNotes(name, rep)...)
		if len(m.Faces) == 0 {
			return nil, nil, badMesh(name, "", "no triangle has three different corners", "export the part again")
		}
	}
	return m, append(notes, faultNotes(name, m.Faults())...), nil
}

func meshUnit(name, unit string) (float64, error) {
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
	return 0, badMesh(name, "", msg, "give one of "+strings.Join(names, ", "))
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

func weldNotes(name string, r mesh.WeldReport) []diag.Note {
	if r.FacesDropped == 0 {
		return nil
	}
	return []diag.Note{{Code: "mesh.faces-dropped", Severity: diag.Info, Where: name,
		Text: fmt.Sprintf("%d triangles with two equal corners were left out", r.FacesDropped)}}
}

func faultNotes(name string, f mesh.Faults) []diag.Note {
	var out []diag.Note
	add := func(n int, code string, severity diag.Severity, text, hint string) {
		if n > 0 {
			out = append(out, diag.Note{Code: code, Severity: severity, Where: name, Text: fmt.Sprintf(text, n), Hint: hint})
		}
	}
	add(f.OpenEdges, "mesh.open-edges", diag.Caution,
		"the surface has %d open edges: it encloses no volume, and paths end there", "close the holes, or expect this of a partial scan")
	add(f.NonManifoldEdges, "mesh.non-manifold", diag.Caution,
		"%d edges belong to three or more triangles; paths do not cross them", "repair the mesh there")
	add(f.FlippedEdges, "mesh.flipped", diag.Caution,
		"at %d edges the two triangles disagree about which side is outside", "make the orientation consistent")
	add(f.DegenerateFaces, "mesh.no-area", diag.Info, "%d triangles have no area", "")
	if f.Components > 1 {
		add(f.Components, "mesh.pieces", diag.Info, "the surface is in %d pieces that share no edge", "")
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
