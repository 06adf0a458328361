package format

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// drawnMesh is a mesh of whole coordinates, with points that are there twice, points that no
// face uses, and now and then a face with a corner twice.
func drawnMesh(rng *rand.Rand) *mesh.Mesh {
	m := &mesh.Mesh{}
	for range 5 + rng.IntN(8) {
		m.Points = append(m.Points, geom.Vec{float64(rng.IntN(3)), float64(rng.IntN(3)), float64(rng.IntN(2))})
	}
	n := int32(len(m.Points))
	m.Faces = append(m.Faces, [3]int32{0, 1, 2})
	m.Points[0], m.Points[1], m.Points[2] = geom.Vec{9, 0, 0}, geom.Vec{0, 9, 0}, geom.Vec{0, 0, 9}
	for range rng.IntN(8) {
		m.Faces = append(m.Faces, [3]int32{rng.Int32N(n), rng.Int32N(n), rng.Int32N(n)})
	}
	m.Label = make([]int32, len(m.Faces))
	for f := range m.Label {
		m.Label[f] = rng.Int32N(9) - 2
	}
	return m
}

// objOf is a mesh as text of OBJ; numbers count from the front or from the back.
func objOf(m *mesh.Mesh, back bool) string {
	var b strings.Builder
	for _, p := range m.Points {
		fmt.Fprintf(&b, "v %g %g %g\n", p[0], p[1], p[2])
	}
	for _, t := range m.Faces {
		less := int32(-1)
		if back {
			less = int32(len(m.Points))
		}
		fmt.Fprintf(&b, "f %d %d %d\n", t[0]-less, t[1]-less, t[2]-less)
	}
	return b.String()
}

// TestReadMeshKeepsWhatStandsInTheFileSeed61: whatever mesh is written, in each kind of file,
// what is read has the same triangles in the same order, but for those with two equal corners,
// the labels beside them, no point twice, and says of each vertex of the file which point it
// became: the one that lies where it did, or none where no triangle has it.
func TestReadMeshKeepsWhatStandsInTheFileSeed61(t *testing.T) {
	rng := rand.New(rand.NewPCG(61, 0))
	for range 150 {
		m := drawnMesh(rng)
		glb, err := WriteGLB(&mesh.Mesh{Points: m.Points, Faces: m.Faces})
		if err != nil {
			t.Fatal(err)
		}
		var corners []geom.Vec
		for _, f := range m.Faces {
			corners = append(corners, m.Points[f[0]], m.Points[f[1]], m.Points[f[2]])
		}
		for _, c := range []struct {
			kind     string
			data     []byte
			o        MeshOptions
			vertices []geom.Vec
			labels   bool
		}{
			{"OBJ", []byte(objOf(m, false)), MeshOptions{Unit: "mm"}, m.Points, false},
			{"OBJ from the back", []byte(objOf(m, true)), MeshOptions{Unit: "mm"}, m.Points, false},
			{"PLY", WritePLY(m), MeshOptions{Unit: "mm"}, m.Points, true},
			{"PLY in full", WritePLYFull(m), MeshOptions{Unit: "mm"}, m.Points, true},
			{"STL", WriteSTL(m), MeshOptions{Unit: "mm"}, corners, false},
			{"text STL", []byte(textSTLOf(m)), MeshOptions{Unit: "mm"}, corners, false},
			{"GLB", glb, MeshOptions{}, m.Points, false},
		} {
			got, order, _, err := ReadMeshOrder("p", c.data, c.o)
			if err != nil {
				t.Fatalf("%s: %v", c.kind, err)
			}
			sameSurface(t, c.kind, m, got, c.labels)
			if len(order) != len(c.vertices) {
				t.Fatalf("%s: the order of %d vertices, want %d", c.kind, len(order), len(c.vertices))
			}
			used := map[geom.Vec]bool{}
			for _, f := range got.Faces {
				for _, v := range f {
					used[got.Points[v]] = true
				}
			}
			for i, v := range order {
				if near := used[c.vertices[i]] || c.kind == "GLB" && usedNear(used, c.vertices[i]); near != (v >= 0) || v >= 0 && got.Points[v].Dist(c.vertices[i]) > 1e-5 {
					t.Fatalf("%s: vertex %d at %v became point %d of %v", c.kind, i, c.vertices[i], v, got.Points)
				}
			}
		}
	}
}

// usedNear: metres as float32 are millimetres only nearly.
func usedNear(used map[geom.Vec]bool, p geom.Vec) bool {
	for q := range used {
		if q.Dist(p) < 1e-5 {
			return true
		}
	}
	return false
}

// sameSurface holds a mesh that was read against the one that was written.
func sameSurface(t *testing.T, kind string, m, got *mesh.Mesh, labels bool) {
	t.Helper()
	k := 0
	for i, f := range m.Faces {
		p, q, r := m.Points[f[0]], m.Points[f[1]], m.Points[f[2]]
		if p == q || q == r || r == p {
			continue
		}
		if k == len(got.Faces) {
			t.Fatalf("%s: face %d and what follows is not there", kind, i)
		}
		g := got.Faces[k]
		if got.Points[g[0]].Dist(p)+got.Points[g[1]].Dist(q)+got.Points[g[2]].Dist(r) > 1e-5 {
			t.Fatalf("%s: face %d of %v %v %v is %v", kind, i, p, q, r, got.Faces[k])
		}
		if labels != (got.Label != nil) || labels && got.Label[k] != m.Label[i] {
			t.Fatalf("%s: labels %v of %v", kind, got.Label, m.Label)
		}
		k++
	}
	if k != len(got.Faces) {
		t.Fatalf("%s: %d faces, want %d", kind, len(got.Faces), k)
	}
	at := map[geom.Vec]bool{}
	for _, f := range got.Faces {
		for _, v := range f {
			at[got.Points[v]] = true
		}
	}
	seen := map[int32]bool{}
	for _, f := range got.Faces {
		seen[f[0]], seen[f[1]], seen[f[2]] = true, true, true
	}
	if kind != "GLB" && len(seen) != len(at) {
		t.Fatalf("%s: %d points in %d places", kind, len(seen), len(at))
	}
}

// A mesh without points of one place keeps the numbers of the file; where triangles have two
// equal corners they are left out, and nothing else is touched. What was done is told.
func TestReadMeshOrderKeepsTheNumbersOfTheFile(t *testing.T) {
	square := "v 0 0 0\nv 2 0 0\nv 2 2 0\nv 0 2 0\nv 5 5 5\nf 1 2 3\nf 1 3 4\n"
	m, order, _, err := ReadMeshOrder("p", []byte(square), MeshOptions{Unit: "cm"})
	if err != nil || fmt.Sprint(order) != "[0 1 2 3 -1]" || m.Points[2] != (geom.Vec{20, 20, 0}) {
		t.Errorf("%v, %v, %v", m, order, err)
	}
	_, order, notes, err := ReadMeshOrder("p", []byte(square+"f 1 1 2\nf 3 3 3\n"), MeshOptions{Unit: "cm"})
	if err != nil || fmt.Sprint(order) != "[0 1 2 3 -1]" || !strings.Contains(fmt.Sprint(notes), "2 triangles with two equal corners were left out") {
		t.Errorf("%v, %v, %v", order, notes, err)
	}
	if _, order, _, err := ReadMeshOrder("p", []byte("f 1 2 3"), MeshOptions{Unit: "cm"}); err == nil || order != nil {
		t.Errorf("what cannot be read has the order %v", order)
	}
	if _, _, err := ReadMesh("p", []byte("v 0 0 0\nv 1 0 0\nf 1 1 2\n"), "mm"); err == nil || !strings.Contains(err.Error(), "no triangle has three different corners") {
		t.Errorf("only triangles with two equal corners: %v", err)
	}
	polygons := strings.Repeat("f 1 2 3 4\n", 3)
	if _, notes, err := ReadMesh("p", []byte(square+polygons), "mm"); err != nil || !strings.HasPrefix(notes[0].Text, "3 faces of more than three corners") {
		t.Errorf("%v %v", notes, err)
	}
}

// Each coordinate of each corner of each triangle of a binary STL file, when it is not finite,
// is told with the byte its corner begins at: 84 bytes of head, 50 a triangle, 12 the normal, 12
// a corner (the format's own figures). The largest number is finite.
func TestEveryCoordinateOfSTLHasItsByte(t *testing.T) {
	bad := []uint32{math.Float32bits(float32(math.NaN())), math.Float32bits(float32(math.Inf(1))), math.Float32bits(float32(math.Inf(-1))), 0x7f800001, 0xffffffff}
	g := grid(5) // 50 triangles: more than are read at once
	whole := WriteSTL(g)
	for _, f := range []int{0, 1, 31, 32, 49} {
		for at := range 9 {
			data := bytes.Clone(whole)
			binary.LittleEndian.PutUint32(data[84+50*f+12+4*at:], bad[at%len(bad)])
			_, _, err := ReadMesh("p", data, "mm")
			if want := fmt.Sprintf("byte %d: a coordinate is not a finite number", 84+50*f+12+12*(at/3)); err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("triangle %d, number %d: %v, want %s", f, at, err, want)
			}
		}
	}
	var to [3]geom.Vec
	var rec [36]byte
	binary.LittleEndian.PutUint32(rec[20:], math.Float32bits(math.MaxFloat32))
	if k := readCorners(&rec, &to); k != -1 || to[1][2] != math.MaxFloat32 {
		t.Errorf("the largest number: %d, %v", k, to)
	}
}

// The bytes of a written STL file by the format: 80 bytes of text, the count, and for each
// triangle its unit normal, its corners and two bytes of nothing.
func TestBytesOfAWrittenSTL(t *testing.T) {
	data := WriteSTL(tetra())
	if len(data) != 84+4*50 || binary.LittleEndian.Uint32(data[80:]) != 4 || isTextSTL(data) {
		t.Fatalf("%d bytes, %d triangles", len(data), binary.LittleEndian.Uint32(data[80:]))
	}
	number := func(f, k int) float64 {
		return float64(math.Float32frombits(binary.LittleEndian.Uint32(data[84+50*f+4*k:])))
	}
	m := tetra()
	third := 1 / math.Sqrt(3)
	for f, n := range []geom.Vec{{0, 0, -1}, {0, -1, 0}, {-1, 0, 0}, {third, third, third}} { // outward normals, by hand
		for k := range 12 {
			want := n[k%3]
			if k > 2 {
				want = m.Points[m.Faces[f][k/3-1]][k%3]
			}
			if math.Abs(number(f, k)-want) > 1e-7 {
				t.Errorf("number %d of triangle %d is %g, want %g", k, f, number(f, k), want)
			}
		}
		if data[84+50*f+48] != 0 || data[84+50*f+49] != 0 {
			t.Errorf("triangle %d has an attribute", f)
		}
	}
}
