package format

import (
	"archive/zip"
	"bytes"
	"io"
	"math"
	"testing"
	"time"

	"fettle/internal/geom"
)

// Turns by unit quaternions. The quaternion of a turn by an angle about an axis has half the
// angle's cosine as w and the axis times half the angle's sine as x, y, z (W. R. Hamilton 1844;
// glTF 2.0, section 3.5.3, from memory).
func TestRotateTurns(t *testing.T) {
	x, y, z := geom.Vec{1, 0, 0}, geom.Vec{0, 1, 0}, geom.Vec{0, 0, 1}
	for _, c := range []struct {
		axis    geom.Vec
		deg     float64
		v, want geom.Vec
	}{
		{z, 90, x, y}, {z, 90, y, x.Scale(-1)}, {z, 90, z, z}, {x, 90, y, z}, {y, 90, z, x}, {z, 180, x, x.Scale(-1)},
		{z, 60, x, geom.Vec{0.5, math.Sqrt(3) / 2, 0}}, {x.Add(y).Add(z).Unit(), 120, x, y},
	} {
		sin, cos := math.Sincos(c.deg / 2 * math.Pi / 180)
		if got := rotate(c.axis[0]*sin, c.axis[1]*sin, c.axis[2]*sin, cos, c.v); got.Dist(c.want) > 1e-12 {
			t.Errorf("%v turned by %v degrees about %v is %v, want %v", c.v, c.deg, c.axis, got, c.want)
		}
	}
}

// However the library orders the members of a workbook and whatever the time is, the file has
// them by name and without times.
func TestWorkbookMembersAreInOrder(t *testing.T) {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, name := range []string{"c.xml", "a.xml", "d.xml", "b.xml"} {
		f, err := w.CreateHeader(&zip.FileHeader{Name: name, Modified: time.Date(2030, 1, 2, 3, 4, 5, 0, time.UTC)})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(f, "in "+name); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	out, err := steadyZip(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	r, err := zip.NewReader(bytes.NewReader(out), int64(len(out)))
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{"a.xml", "b.xml", "c.xml", "d.xml"} {
		f, err := r.File[i].Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(f)
		if r.File[i].Name != want || string(text) != "in "+want || r.File[i].Modified.Year() == 2030 || err != nil {
			t.Errorf("member %d is %s of %v with %q (%v)", i, r.File[i].Name, r.File[i].Modified, text, err)
		}
	}
}
