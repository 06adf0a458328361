package app

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/format"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

const demoProcedure = "body/procedures/br-fc-d.yaml"

// errorKind is the kind of an error; Internal for one of another sort.
func errorKind(err error) diag.Kind {
	var e *diag.Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return diag.Internal
}

// The rows of a procedure file as a table, put back as they are, are the rows there were. One row
// less is one row less, and nothing else; a table that is not there or cannot be read is told.
func TestRowsOfAFileAndBack(t *testing.T) {
	m := files()
	a := New(m, "test")
	table, err := a.RowTable(demoProcedure)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(strings.TrimRight(string(table), "\n"), "\n")
	m["all.csv"], m["less.csv"], m["broken.csv"] = table, []byte(strings.Join(lines[:len(lines)-1], "")), []byte("id,what\nx,y\n")
	all, err := a.TakeRowTable(demoProcedure, "./all.csv")
	if err != nil || !all.Same || all.Rows != len(lines)-1 || len(all.Faults) > 0 {
		t.Errorf("all: same %v, %d rows of %d, %v, %v", all.Same, all.Rows, len(lines)-1, all.Faults, err)
	}
	less, err := a.TakeRowTable(demoProcedure, "less.csv")
	if err != nil || less.Same || less.Rows != len(lines)-2 || bytes.Equal(less.Text, all.Text) {
		t.Errorf("less: same %v, %d rows, %v", less.Same, less.Rows, err)
	}
	for _, c := range [][3]string{{demoProcedure, "none.csv", "none.csv"}, {"none.yaml", "all.csv", "none.yaml"}, {demoProcedure, "broken.csv", "broken.csv:1"}, {"all.csv", "all.csv", "all.csv"}} {
		if got, err := a.TakeRowTable(c[0], c[1]); err == nil || !strings.Contains(err.Error(), c[2]) || got.Text != nil {
			t.Errorf("%v: %v", c, err)
		}
	}
	if _, err := a.RowTable("none.yaml"); err == nil {
		t.Error("rows of a file that is not there")
	}
}

// A single question takes NAME=VALUE, around which blanks mean nothing, and names what it cannot take.
func TestSingleQuestionOfAFile(t *testing.T) {
	a := New(files(), "test")
	on := unit.Date{Year: 2026, Month: 11, Day: 26}
	r, err := a.May(t.Context(), demoProcedure, []string{" kind =crack", "zones=RAIL-L", "length=10 +- 1 mm"}, on)
	if err != nil || r.On != on || len(r.Options) == 0 || len(r.Facts) < 3 {
		t.Errorf("%+v, %v", r, err)
	}
	if text := a.MayText(r, Column{Width: 90}); !strings.Contains(text, "\nTreatments\n") || !strings.Contains(text, "RAIL-L") {
		t.Errorf("%s", text)
	}
	table, err := a.MayTable(t.Context(), demoProcedure, []string{"zones=RAIL-L"}, on)
	if err != nil || len(table.Kinds) == 0 || !strings.Contains(a.MayTableText(table, Column{Width: 90}), "Forbidding beats asking") {
		t.Errorf("%+v, %v", table, err)
	}
	if _, err := a.May(t.Context(), demoProcedure, []string{"crack"}, on); errorKind(err) != diag.Usage || !strings.Contains(err.Error(), "crack") {
		t.Errorf("without '=': %v", err)
	}
	if _, err := a.May(t.Context(), "none.yaml", []string{"kind=crack"}, on); err == nil || !strings.Contains(err.Error(), "none.yaml") {
		t.Errorf("no file: %v", err)
	}
}

// sheet is two squares of 10 mm beside one another, so far apart.
func sheet(apart float64) *mesh.Mesh {
	return &mesh.Mesh{Points: []geom.Vec{{0, 0, 0}, {10, 0, 0}, {10, 10, 0}, {0, 10, 0}, {10 + apart, 0, 0}, {20, 0, 0}, {20, 10, 0}, {10 + apart, 10, 0}},
		Faces: [][3]int32{{0, 1, 2}, {0, 2, 3}, {4, 5, 6}, {4, 6, 7}}}
}

// A seam is closed up to the width that is asked for; by hand: two points become one at two
// places, 0.1 mm apart. Where nothing is closed it is told why, and a kind of file that cannot hold
// the mesh is refused.
func TestSeamsOfAFileAreClosed(t *testing.T) {
	m := memory{"sheet.ply": format.WritePLYFull(sheet(0.1)), "whole.ply": format.WritePLYFull(&mesh.Mesh{Points: sheet(0).Points[:4], Faces: sheet(0).Faces[:2]})}
	a := New(m, "test")
	r, data, err := a.MendFile(t.Context(), "sheet.ply", "mm", 0.2, "made.ply")
	if err != nil || len(r.Joined) != 2 || r.Before.Pieces != 2 || r.After.Pieces != 1 || r.Before.Points != 8 || r.After.Points != 6 || r.After.Triangles != 4 || r.VolumeMM3 != nil || r.Written != "made.ply" || r.ToleranceMM != 0.2 {
		t.Fatalf("%+v, %v", r, err)
	}
	for _, j := range r.Joined {
		if len(j.From) != 2 || j.ApartMM < 0.0999 || j.ApartMM > 0.1001 || j.MovedMM < 0.0499 || j.MovedMM > 0.1001 {
			t.Errorf("joined %+v", j)
		}
	}
	if back, _, err := format.ReadMesh("made.ply", data, "mm"); err != nil || len(back.Points) != 6 {
		t.Errorf("%v", err)
	}
	for _, c := range []struct {
		file, written string
		tolerance     float64
		kind          diag.Kind
		want          string
	}{
		{"sheet.ply", "made.ply", 0.05, diag.NotFound, "seam 10.00 mm long"},
		{"whole.ply", "made.ply", 0.05, diag.NotFound, "the mesh has no seams"},
		{"sheet.ply", "made.obj", 0.2, diag.Usage, "made.obj"},
		{"sheet.ply", "made", 0.2, diag.Usage, ".ply, .stl or .glb"},
		{"none.ply", "made.ply", 0.2, diag.Internal, "none.ply"},
	} {
		if _, data, err := a.MendFile(t.Context(), c.file, "mm", c.tolerance, c.written); err == nil || data != nil || c.kind != diag.Internal && errorKind(err) != c.kind || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v", c, err)
		}
	}
	labelled := &mesh.Mesh{Points: sheet(0).Points[:4], Faces: sheet(0).Faces[:2], Label: []int32{1, 2}}
	if _, err := mendedBytes(labelled, "a.STL"); errorKind(err) != diag.Usage {
		t.Errorf("zones in an STL file: %v", err)
	}
	for _, name := range []string{"a.PLY", "a.glb"} {
		if data, err := mendedBytes(labelled, name); err != nil || len(data) == 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
}
