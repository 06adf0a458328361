package format

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"strconv"
	"strings"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// A binary STL file is an 80-byte header, a count n, and n records of 50 bytes:
// a normal (not used: it follows from the corners), three corners, and two
// bytes that have no agreed meaning.
const (
	stlHeader = 84
	stlRecord = 50
)

// readSTL reads either form, equal points merged. Binary is recognised by its size, 84 + 50 n: its
// header may begin with "solid" as well.
func readSTL(name string, data []byte) (*mesh.Mesh, error) {
	if isBinarySTL(data) {
		return readBinarySTL(name, data)
	}
	if isTextSTL(data) {
		return readTextSTL(name, data)
	}
	if len(data) < stlHeader {
		return nil, badMesh(name, atByte(len(data)), "the file is neither STL, PLY, OBJ nor GLB",
			"a PLY file begins with ply, a GLB file with glTF, an OBJ file with a line v, a text STL file with solid, and a binary STL file has at least 84 bytes")
	}
	n := int64(binary.LittleEndian.Uint32(data[80:]))
	return nil, badMesh(name, atByte(80),
		fmt.Sprintf("as binary STL the header promises %d triangles, which take %d bytes, but the file has %d",
			n, stlHeader+stlRecord*n, len(data)),
		"the file is cut off, has a tail, or is no mesh file: copy or export it again")
}

// isBinarySTL says that the size is the one the count at byte 80 asks for.
func isBinarySTL(data []byte) bool {
	return len(data) >= stlHeader &&
		int64(len(data)) == stlHeader+stlRecord*int64(binary.LittleEndian.Uint32(data[80:]))
}

// isTextSTL says that the file begins like text STL and has no zero byte where
// a binary one would.
func isTextSTL(data []byte) bool {
	head := bytes.TrimLeft(data[:min(len(data), 1024)], " \t\r\n")
	return len(head) >= 5 && strings.EqualFold(string(head[:5]), "solid") && bytes.IndexByte(head, 0) < 0
}

func readBinarySTL(name string, data []byte) (*mesh.Mesh, error) {
	n := (len(data) - stlHeader) / stlRecord
	if n == 0 {
		return nil, badMesh(name, atByte(80), "the file has no triangles", "export the part again")
	}
	// a closed mesh has half as many points as triangles
	w := mesh.NewWelder(n/2 + 2)
	faces := make([][3]int32, n)
	var corners [stlTogether][3]geom.Vec
	for from := 0; from < n; from += stlTogether {
		now := faces[from:min(from+stlTogether, n)]
		for i := range now {
			at := stlHeader + stlRecord*(from+i) + 12
			if bad := readCorners((*[36]byte)(data[at:]), &corners[i]); bad >= 0 {
				return nil, badMesh(name, atByte(at+12*bad), "a coordinate is not a finite number", "every coordinate must be finite")
			}
		}
		w.AddFaces(corners[:len(now)], now)
	}
	return &mesh.Mesh{Points: w.Points, Faces: faces}, nil
}

// stlTogether is how many triangles are read before they are welded.
const stlTogether = 32

// readCorners reads three corners; the answer is the one that is not finite, -1
// if all are.
func readCorners(rec *[36]byte, to *[3]geom.Vec) int {
	for k := range 3 {
		x, y, z := binary.LittleEndian.Uint32(rec[12*k:]), binary.LittleEndian.Uint32(rec[12*k+4:]), binary.LittleEndian.Uint32(rec[12*k+8:])
		if notFinite32(x) || notFinite32(y) || notFinite32(z) {
			return k
		}
		to[k] = geom.Vec{float64(math.Float32frombits(x)), float64(math.Float32frombits(y)), float64(math.Float32frombits(z))}
	}
	return -1
}

// notFinite32 says that the bits are those of a NaN or an infinity.
func notFinite32(u uint32) bool { return u&0x7f800000 == 0x7f800000 }

// textSTL walks the words of a text STL file.
type textSTL struct {
	name string
	weld *mesh.Welder
	rest []byte
	line int
}

// words is the next line that is not empty, cut into words; nil at the end.
func (t *textSTL) words() []string {
	for len(t.rest) > 0 {
		var row []byte
		row, t.rest, _ = bytes.Cut(t.rest, []byte("\n"))
		t.line++
		if w := strings.Fields(string(row)); len(w) > 0 {
			return w
		}
	}
	return nil
}

func (t *textSTL) fail(msg, hint string) error { return badMesh(t.name, atLine(t.line), msg, hint) }

// expect reads a line that must consist of the given words.
func (t *textSTL) expect(want ...string) error {
	w := t.words()
	if w == nil {
		return t.fail("the file ends inside a triangle", "the file is cut off: copy or export it again")
	}
	if !strings.EqualFold(strings.Join(w, " "), strings.Join(want, " ")) {
		return t.fail(fmt.Sprintf("found %q", shorten(strings.Join(w, " "))), "expected "+strings.Join(want, " "))
	}
	return nil
}

func shorten(s string) string {
	if len(s) > 60 {
		return s[:60] + "..."
	}
	return s
}

func readTextSTL(name string, data []byte) (*mesh.Mesh, error) {
	t := &textSTL{name: name, rest: data, weld: mesh.NewWelder(0)}
	m := &mesh.Mesh{}
	open := false
	for w := t.words(); w != nil; w = t.words() {
		switch key := strings.ToLower(w[0]); {
		case key == "solid" && !open:
			open = true
		case key == "endsolid" && open:
			open = false
		case key == "facet" && open:
			if err := t.facet(m); err != nil {
				return nil, err
			}
		default:
			return nil, t.fail(fmt.Sprintf("found %q", shorten(strings.Join(w, " "))), "expected solid, facet or endsolid")
		}
	}
	if open {
		return nil, t.fail("endsolid is missing", "the file is cut off: copy or export it again")
	}
	if len(m.Faces) == 0 {
		return nil, t.fail("the file has no triangles", "export the part again")
	}
	m.Points = t.weld.Points
	return m, nil
}

// facet reads what follows a facet line. The normal is not used.
func (t *textSTL) facet(m *mesh.Mesh) error {
	if err := t.expect("outer", "loop"); err != nil {
		return err
	}
	var corners [3]int32
	for k := range corners {
		p, err := t.vertex()
		if err != nil {
			return err
		}
		corners[k] = t.weld.Add(p)
	}
	m.Faces = append(m.Faces, corners)
	if err := t.expect("endloop"); err != nil {
		return err
	}
	return t.expect("endfacet")
}

func (t *textSTL) vertex() (geom.Vec, error) {
	w := t.words()
	if w == nil {
		return geom.Vec{}, t.fail("the file ends inside a triangle", "the file is cut off: copy or export it again")
	}
	if !strings.EqualFold(w[0], "vertex") || len(w) != 4 {
		return geom.Vec{}, t.fail(fmt.Sprintf("found %q", shorten(strings.Join(w, " "))), "expected vertex and three numbers")
	}
	var p geom.Vec
	for k := range 3 {
		v, err := strconv.ParseFloat(w[k+1], 64)
		if err != nil {
			return geom.Vec{}, t.fail(fmt.Sprintf("%q is not a number", shorten(w[k+1])), "expected a number such as 12.5")
		}
		p[k] = v
	}
	return p, finiteVec(t.name, atLine(t.line), p)
}

// WriteSTL is the mesh as a binary STL file in millimetres, coordinates rounded
// to float32. STL holds no labels and no shared points.
func WriteSTL(m *mesh.Mesh) []byte {
	out := make([]byte, 80, stlHeader+stlRecord*len(m.Faces))
	copy(out, "binary STL, lengths in millimetres")
	out = putUint32(out, uint32(len(m.Faces)))
	for f, t := range m.Faces {
		for _, v := range m.FaceNormal(f) {
			out = putFloat32(out, v)
		}
		for _, i := range t {
			for _, v := range m.Points[i] {
				out = putFloat32(out, v)
			}
		}
		out = append(out, 0, 0)
	}
	return out
}
