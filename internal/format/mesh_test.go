package format

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// tetra is a corner of a cube of edge 10, labels 1, 1, 2, -3; outward normals.
func tetra() *mesh.Mesh {
	return &mesh.Mesh{
		Points: []geom.Vec{{0, 0, 0}, {10, 0, 0}, {0, 10, 0}, {0, 0, 10}},
		Faces:  [][3]int32{{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}},
		Label:  []int32{1, 1, 2, -3},
	}
}

const plyText = `ply
format ascii 1.0
comment made for a test
element vertex 4
property float x
property double y
property short z
property uchar red
element face 4
property list uchar int vertex_indices
property short zone
property list uchar float extra
element note 1
property int a
end_header
0 0 0 255
10 0 0 255
0 10 0 255
0 0 10 255
3 0 2 1 1 0
3 0 1 3 1 2 0.5 0.5
3 0 3 2 2 0
3 1 2 3 -3 1 7
9
`

// plyBinary writes plyText's mesh with odd types in the given byte order.
func plyBinary(order binary.ByteOrder, format string) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "ply\nformat %s 1.0\nelement face 4\nproperty list ushort uint vertex_index\nproperty char zone\n"+
		"element vertex 4\nproperty double x\nproperty float y\nproperty int z\nend_header\n", format)
	put := func(v any) {
		if err := binary.Write(&b, order, v); err != nil {
			panic(err)
		}
	}
	m := tetra()
	for f, t := range m.Faces {
		put(uint16(3))
		put([3]uint32{uint32(t[0]), uint32(t[1]), uint32(t[2])})
		put(int8(m.Label[f]))
	}
	for _, p := range m.Points {
		put(p[0])
		put(float32(p[1]))
		put(int32(p[2]))
	}
	return b.Bytes()
}

func textSTLOf(m *mesh.Mesh) string {
	var b strings.Builder
	b.WriteString("solid tetra\n")
	for _, t := range m.Faces {
		b.WriteString("facet normal 0 0 0\n outer loop\n")
		for _, v := range t {
			p := m.Points[v]
			fmt.Fprintf(&b, "  vertex %g %g %g\n", p[0], p[1], p[2])
		}
		b.WriteString(" endloop\nendfacet\n")
	}
	return b.String() + "endsolid tetra\n"
}

func readOK(t *testing.T, data []byte, unit string) *mesh.Mesh {
	t.Helper()
	m, notes, err := ReadMesh("part", data, unit)
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range notes {
		if n.Severity != diag.Info {
			t.Errorf("unexpected note %+v", n)
		}
	}
	return m
}

// Expected: a corner of a cube of edge a has volume a^3/6 (closed form).
func TestReadMeshReadsEveryKind(t *testing.T) {
	binarySTL := WriteSTL(tetra())
	solid := append([]byte("solid "), binarySTL[6:]...) // a binary header may begin so
	for _, c := range []struct {
		name   string
		data   []byte
		unit   string
		labels bool
		edge   float64
	}{
		{"binary STL", binarySTL, "mm", false, 10},
		{"binary STL that begins with solid", solid, "cm", false, 100},
		{"text STL", []byte(textSTLOf(tetra())), "in", false, 254},
		{"text STL in capitals with CR LF", []byte(strings.ToUpper(strings.ReplaceAll(textSTLOf(tetra()), "\n", "\r\n"))), "mm", false, 10},
		{"text PLY", []byte(plyText), "mm", true, 10},
		{"text PLY with CR LF", []byte(strings.ReplaceAll(plyText, "\n", "\r\n")), "mm", true, 10},
		{"little-endian PLY, faces first", plyBinary(binary.LittleEndian, "binary_little_endian"), "m", true, 10000},
		{"big-endian PLY, faces first", plyBinary(binary.BigEndian, "binary_big_endian"), "mm", true, 10},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := readOK(t, c.data, c.unit)
			if len(m.Points) != 4 || len(m.Faces) != 4 {
				t.Fatalf("%d points, %d faces", len(m.Points), len(m.Faces))
			}
			if want := c.edge * c.edge * c.edge / 6; math.Abs(m.VolumeMM3()-want) > 1e-9*want {
				t.Errorf("volume %g, want %g", m.VolumeMM3(), want)
			}
			if !m.Faults().Closed() {
				t.Errorf("faults %+v", m.Faults())
			}
			if got := fmt.Sprint(m.Label); c.labels && got != "[1 1 2 -3]" || !c.labels && m.Label != nil {
				t.Errorf("labels %v", got)
			}
		})
	}
}

func TestReadMeshSplitsConvexPolygonsOnly(t *testing.T) {
	square := "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\n" +
		"element face 1\nproperty list uchar int vertex_indices\nproperty int zone\nend_header\n0 0 0\n2 0 0\n%s\n0 2 0\n4 0 1 2 3 7\n"
	m, notes, err := ReadMesh("p", fmt.Appendf(nil, square, "2 2 0"), "mm")
	if err != nil || m.AreaMM2() != 4 || fmt.Sprint(m.Label) != "[7 7]" {
		t.Errorf("%v %v", m, err)
	}
	if len(notes) < 2 || notes[0].Code != "mesh.polygons-split" || notes[1].Code != "mesh.open-edges" {
		t.Errorf("notes %v", notes)
	}
	// a dart whose reflex corner is the second one: the fan from the first covers too much
	dart := strings.Replace(square, "2 0 0", "0.5 0.5 0", 1)
	dart = strings.Replace(dart, "0 2 0", "0 2 0", 1)
	if _, _, err = ReadMesh("p", fmt.Appendf(nil, dart, "2 0 0"), "mm"); err == nil {
		t.Error("a polygon that is not convex was accepted")
	}
}

func TestReadMeshRefusesWithPositionAndHint(t *testing.T) {
	nan := WriteSTL(tetra())
	binary.LittleEndian.PutUint32(nan[84+50+12+12:], math.Float32bits(float32(math.NaN())))
	huge := make([]byte, 84)
	binary.LittleEndian.PutUint32(huge[80:], math.MaxUint32)
	ply := func(old, new string) []byte { return []byte(strings.Replace(plyText, old, new, 1)) }
	bigList := plyBinary(binary.LittleEndian, "binary_little_endian")
	at := bytes.Index(bigList, []byte("end_header\n")) + 11
	bigList[at], bigList[at+1] = 0xff, 0xff
	for _, c := range []struct {
		name string
		data []byte
		unit string
		msg  string // must occur in the error
	}{
		{"no unit", WriteSTL(tetra()), "", "unit of the mesh is not given"},
		{"unknown unit", WriteSTL(tetra()), "ft", `"ft" is not a length unit`},
		{"empty", nil, "mm", "neither STL, PLY"},
		{"binary STL cut off", WriteSTL(tetra())[:200], "mm", "promises 4 triangles, which take 284 bytes, but the file has 200"},
		{"binary STL with a tail", append(WriteSTL(tetra()), 0), "mm", "byte 80"},
		{"binary STL promising 4 G triangles", huge, "mm", "4294967295"},
		{"binary STL without triangles", make([]byte, 84), "mm", "no triangles"},
		{"binary STL with NaN", nan, "mm", "byte 158: a coordinate is not a finite number"},
		{"text STL cut off", []byte(textSTLOf(tetra())[:200]), "mm", "line 15: found \"endfa\""},
		{"text STL without end", []byte(strings.Replace(textSTLOf(tetra()), "endsolid tetra", "", 1)), "mm", "endsolid is missing"},
		{"text STL with a quad", []byte(strings.Replace(textSTLOf(tetra()), " endloop", "  vertex 1 1 1\n endloop", 1)), "mm", "line 7"},
		{"text STL with infinity", []byte(strings.Replace(textSTLOf(tetra()), "vertex 0 0 0", "vertex inf 0 0", 1)), "mm", "line 4: a coordinate"},
		{"text STL with a word", []byte(strings.Replace(textSTLOf(tetra()), "vertex 0 0 0", "vertex 0 zero 0", 1)), "mm", `line 4: "zero" is not a number`},
		{"text STL with two numbers", []byte(strings.Replace(textSTLOf(tetra()), "vertex 0 0 0", "vertex 0 0", 1)), "mm", `line 4: found "vertex 0 0"`},
		{"PLY cut off", []byte(plyText)[:len(plyText)-30], "mm", "line"},
		{"PLY promising too much", ply("element vertex 4", "element vertex 9223372036854775807"), "mm", "promises 9223372036854775807"},
		{"PLY count beyond 64 bits", ply("element vertex 4", "element vertex 92233720368547758070"), "mm", "line 4"},
		{"PLY negative count", ply("element face 4", "element face -4"), "mm", "line 9"},
		{"PLY too few vertices", ply("element vertex 4", "element vertex 3"), "mm", "line 19"},
		{"PLY index out of range", ply("3 0 2 1 1 0", "3 0 4 1 1 0"), "mm", "line 20: a face names vertex 4 of 4"},
		{"PLY negative index", ply("3 0 2 1 1 0", "3 0 -1 1 1 0"), "mm", "line 20: a face names vertex -1"},
		{"PLY list longer than the file", bigList, "mm", "a list of 65535 values does not fit"},
		{"PLY zone not whole", ply("property short zone", "property float zone"), "mm", "zone is not a whole number"},
		{"PLY zone out of range", ply("3 0 2 1 1 0", "3 0 2 1 40000 0"), "mm", `line 20: "40000"`},
		{"PLY word for a number of a point", ply("3 0 2 1 1 0", "3 0 two 1 1 0"), "mm", `line 20: "two" is not a whole number from -2147483648 to 2147483647`},
		{"PLY fraction for a number of a point", ply("3 0 2 1 1 0", "3 0 2.0 1 1 0"), "mm", `line 20: "2.0" is not a whole number`},
		{"PLY zone below its type", ply("3 0 2 1 1 0", "3 0 2 1 -32769 0"), "mm", `line 20: "-32769" is not a whole number from -32768 to 32767`},
		{"PLY colour above its type", ply("10 0 0 255", "10 0 0 256"), "mm", `line 17: "256" is not a whole number from 0 to 255`},
		{"PLY word for a coordinate", ply("10 0 0 255", "ten 0 0 255"), "mm", `line 17: "ten" is not a number`},
		{"PLY without z", ply("property short z\n", "property short w\n"), "mm", "no single property z"},
		{"PLY property twice", ply("property double y", "property double x"), "mm", "line 6: property x comes twice"},
		{"PLY element twice", ply("element note 1", "element face 1"), "mm", "line 13"},
		{"PLY unknown type", ply("property double y", "property quad y"), "mm", "line 6"},
		{"PLY infinite", ply("10 0 0 255", "1e999 0 0 255"), "mm", "line 17"},
		{"PLY not a number", ply("10 0 0 255", "nan 0 0 255"), "mm", "line 17: a coordinate"},
		{"PLY with a tail", []byte(plyText + "1\n"), "mm", "goes on after"},
		{"PLY value too many", ply("10 0 0 255", "10 0 0 255 1"), "mm", "line 17: too many values"},
		{"PLY no end_header", []byte(plyText)[:100], "mm", "no end_header"},
		{"PLY two-cornered face", ply("3 0 2 1 1 0", "2 0 2 1 0"), "mm", "line 20: a face of 2 corners"},
		{"PLY far away", ply("10 0 0 255", "1e12 0 0 255"), "mm", "1000 km"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, _, err := ReadMesh("part.file", c.data, c.unit)
			var e *diag.Error
			if !errors.As(err, &e) || e.Kind != diag.Invalid || e.Subject != "part.file" || e.Hint == "" {
				t.Fatalf("got %#v", err)
			}
			if !strings.Contains(err.Error(), c.msg) {
				t.Errorf("got %q, want it to say %q", err, c.msg)
			}
		})
	}
}

// What is written can be read: same faces, labels and order, coordinates
// rounded to float32 (exact to 0.001 mm on parts of a few metres).
func TestWriteReadRoundTrip(t *testing.T) {
	m := tetra()
	m.Points[1] = geom.Vec{1400.123, -0.001, 2399.999}
	for name, data := range map[string][]byte{"PLY": WritePLY(m), "STL": WriteSTL(m)} {
		got := readOK(t, data, "mm")
		if len(got.Points) != 4 || len(got.Faces) != 4 {
			t.Fatalf("%s: %d points, %d faces", name, len(got.Points), len(got.Faces))
		}
		for f := range m.Faces {
			for k := range 3 {
				a, b := m.Points[m.Faces[f][k]], got.Points[got.Faces[f][k]]
				if a.Dist(b) > 0.0005 {
					t.Errorf("%s: corner %d of face %d moved from %v to %v", name, k, f, a, b)
				}
			}
		}
		if name == "PLY" && fmt.Sprint(got.Label) != fmt.Sprint(m.Label) {
			t.Errorf("labels %v", got.Label)
		}
	}
	fine := tetra() // two points a nanometre apart, far from the origin
	fine.Points[0], fine.Points[1] = geom.Vec{4000, 0, 0}, geom.Vec{4000.000001, 0, 0}
	if got := readOK(t, WritePLY(fine), "mm"); fmt.Sprint(got.Points) != fmt.Sprint(fine.Points) {
		t.Errorf("points became %v", got.Points)
	}
	bare := tetra()
	bare.Label = nil
	if readOK(t, WritePLY(bare), "mm").Label != nil {
		t.Error("labels came from nowhere")
	}
}

func fuzzMesh(f *testing.F) {
	f.Fuzz(func(t *testing.T, data []byte) {
		m, _, err := ReadMesh("fuzz", data, "mm")
		if err != nil {
			if diag.KindOf(err) == diag.Internal {
				t.Fatalf("error without a kind: %v", err)
			}
			return
		}
		if err := m.Check(); err != nil {
			t.Fatalf("accepted, but %v", err)
		}
		again, _, err := ReadMesh("again", WritePLY(m), "mm")
		if err != nil {
			t.Fatalf("what was written is refused: %v", err)
		}
		if !bytes.Equal(WritePLY(again), WritePLY(m)) {
			t.Fatal("reading what was written changed it")
		}
	})
}

func FuzzReadMeshPLY(f *testing.F) {
	f.Add([]byte(plyText))
	f.Add(plyBinary(binary.LittleEndian, "binary_little_endian"))
	f.Add(plyBinary(binary.BigEndian, "binary_big_endian"))
	f.Add(WritePLY(tetra()))
	fuzzMesh(f)
}

func FuzzReadMeshSTL(f *testing.F) {
	f.Add([]byte(textSTLOf(tetra())))
	f.Add(WriteSTL(tetra()))
	fuzzMesh(f)
}

func BenchmarkReadPLY(b *testing.B) {
	data := WritePLY(grid(317))
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, _, err := ReadMesh("grid", data, "mm"); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkReadSTL(b *testing.B) {
	data := WriteSTL(grid(317))
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, _, err := ReadMesh("grid", data, "mm"); err != nil {
			b.Fatal(err)
		}
	}
}

// grid is a sheet of 2 n^2 triangles.
func grid(n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range n + 1 {
		for j := range n + 1 {
			m.Points = append(m.Points, geom.Vec{float64(i), float64(j), math.Sin(float64(i * j))})
		}
	}
	for i := range n {
		for j := range n {
			p := int32(i*(n+1) + j)
			q := p + int32(n+1)
			m.Faces = append(m.Faces, [3]int32{p, q, q + 1}, [3]int32{p, q + 1, p + 1})
		}
	}
	return m
}
