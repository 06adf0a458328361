package format

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
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

// A mesh is too large where the number of a point or of a corner has no place in 32 bits.
func TestTooLarge(t *testing.T) {
	for _, c := range []struct {
		points, triangles int
		want              bool
	}{{0, 0, false}, {1<<31 - 1, 715827882, false}, {1 << 31, 1, true}, {1, 715827883, true}} { // 3 x 715,827,882 = 2^31 - 2
		if got := tooLarge(c.points, c.triangles); got != c.want {
			t.Errorf("%d points, %d triangles: %v", c.points, c.triangles, got)
		}
	}
}

// longPLY has so many bytes left, of which none can be read.
type longPLY struct{ plySource }

var errLongPLY = errors.New("reading begins")

func (longPLY) left() int        { return math.MaxInt / 2 }
func (longPLY) startRow() error  { return errLongPLY }
func (longPLY) where() filePlace { return filePlace{} }

// As many elements as have numbers are begun to be read, and not one more, however long the file.
func TestPLYHasNumbersForItsElements(t *testing.T) {
	for count, want := range map[int64]bool{715827882: true, 715827883: false} {
		e := &plyElement{name: "note", count: count, props: []plyProperty{{typ: plyType{size: 1}}}}
		r := &plyReader{name: "p", src: longPLY{}}
		if err := r.element(e, true); errors.Is(err, errLongPLY) != want || err == nil {
			t.Errorf("%d elements: %v", count, err)
		}
	}
}

// The numbers of a written GLB by glTF 2.0, section 5: 5126 is float, 5125 unsigned int, 34962 an
// array of what belongs to points, 34963 of their numbers, mode 4 triangles.
func TestNumbersOfAWrittenGLB(t *testing.T) {
	m := tetra()
	m.Label = []int32{1, 1, 2, 2}
	data, err := WriteGLB(m)
	if err != nil {
		t.Fatal(err)
	}
	n := binary.LittleEndian.Uint32(data[12:])
	var got struct {
		Accessors   []struct{ ComponentType, Count int }
		BufferViews []struct{ ByteOffset, ByteLength, Target int }
		Meshes      []struct {
			Primitives []struct{ Indices, Mode int }
		}
		Buffers []struct{ ByteLength int }
	}
	if err := json.Unmarshal(data[20:20+n], &got); err != nil {
		t.Fatal(err)
	}
	const want = "{[{5126 4} {5125 6} {5125 6}] [{0 48 34962} {48 24 34963} {72 24 34963}] [{[{1 4} {2 4}]}] [{96}]}"
	if fmt.Sprint(got) != want {
		t.Errorf("%v, want %s", got, want)
	}
}
