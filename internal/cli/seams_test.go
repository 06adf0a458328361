package cli

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"fettle/internal/format"
)

// The mesh of a body gets one T-joint: a corner within an edge of its neighbour. The
// check of the body says so beside the faults that follow from it (with an opening the
// section lines divide nothing), and of the demonstration as it is nothing of the kind.
func TestCheckTellsOfTJoints(t *testing.T) {
	dir := demoFolder(t)
	file := filepath.Join(dir, "fettle-demo", "body", "front-casting.ply")
	check := func(want int) string {
		var out, errs bytes.Buffer
		code, err := inFolder(dir, "", []string{"check", "fettle-demo/body"}, &out, &errs)
		if err != nil || code != want {
			t.Fatal(code, err, errs.String())
		}
		return out.String()
	}
	if out := check(Done); strings.Contains(out, "T-joint") || strings.Contains(out, "seam") {
		t.Error(out)
	}
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	m, _, err := format.ReadMesh(file, data, "mm")
	if err != nil {
		t.Fatal(err)
	}
	// halfway along the first edge of the first triangle, in that triangle alone
	f := m.Faces[0]
	n := int32(len(m.Points))
	m.Points = append(m.Points, m.Points[f[0]].Lerp(m.Points[f[1]], 0.5))
	m.Faces[0] = [3]int32{f[0], n, f[2]}
	m.Faces = append(m.Faces, [3]int32{n, f[1], f[2]})
	m.Label = append(slices.Clone(m.Label), m.Label[0])
	if err := os.WriteFile(file, format.WritePLYFull(m), 0o600); err != nil {
		t.Fatal(err)
	}
	if out := strings.Join(strings.Fields(check(Refused)), " "); !strings.Contains(out, "1 T-joint: a corner of one side lies within an edge of the other") || !strings.Contains(out, "front-casting.ply") {
		t.Error(out)
	}
	// Nothing is assessed on such a body.
	var out, errs bytes.Buffer
	code, err := inFolder(dir, "", []string{"assess", "fettle-demo/job"}, &out, &errs)
	if err != nil || code != Refused || strings.Contains(out.String(), "ALLOWED") || !strings.Contains(errs.String(), "does not divide the casting in two") {
		t.Error(code, err, out.String(), errs.String())
	}
}
