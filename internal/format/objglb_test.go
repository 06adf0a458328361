package format

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// objText is tetra's mesh with every form of a corner, negative numbers, a
// weight, a colour, and statements that are left out.
const objText = `# made for a test
mtllib none.mtl
o part
v 0 0 0
v 10 0 0 1.0
v 0 10 0 0.5 0.5 0.5
v 0 0 10
vn 0 0 1
g side
f 1 3 2
f 1/1 2/1 -1/1
f 1//1 4//1 3//1
s off
f -3/1/1 -2/1/1 -1/1/1
`

// glbOf packs a description and numbers into a GLB container.
func glbOf(text string, bin []byte) []byte {
	for len(text)%4 != 0 {
		text += " "
	}
	for len(bin)%4 != 0 {
		bin = append(bin, 0)
	}
	out := putUint32(putUint32(putUint32(nil, glbMagic), 2), uint32(28+len(text)+len(bin)))
	out = append(putUint32(putUint32(out, uint32(len(text))), glbJSON), text...)
	return append(putUint32(putUint32(out, uint32(len(bin))), glbBIN), bin...)
}

// glbNumbersOfTetra is four points of 10 mm in metres, and indices in bytes.
func glbNumbersOfTetra() []byte {
	var b []byte
	for _, p := range tetra().Points {
		for _, v := range p {
			b = putFloat32(b, v/1000)
		}
	}
	return append(b, 0, 2, 1, 0, 1, 3, 0, 3, 2, 1, 2, 3)
}

// glbScene is a description of those numbers; nodes is the content of the list.
func glbScene(nodes string) string {
	return `{"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[0]}],"nodes":[` + nodes + `],
"meshes":[{"primitives":[{"attributes":{"POSITION":0},"indices":1}]}],
"accessors":[{"bufferView":0,"componentType":5126,"count":4,"type":"VEC3","min":[0,0,0],"max":[0.01,0.01,0.01]},
{"bufferView":1,"componentType":5121,"count":12,"type":"SCALAR"}],
"bufferViews":[{"buffer":0,"byteOffset":0,"byteLength":48},{"buffer":0,"byteOffset":48,"byteLength":12}],
"buffers":[{"byteLength":60}]}`
}

// Expected: a corner of a cube of edge a has volume a^3/6 (closed form).
func TestReadMeshReadsOBJ(t *testing.T) {
	for name, text := range map[string]string{
		"plain": objText, "CR LF": strings.ReplaceAll(objText, "\n", "\r\n"),
		"tabs":        strings.ReplaceAll(objText, " ", "\t "),
		"faces first": "f 1 3 2\nf 1 2 4\nf 1 4 3\nf 2 3 4\nv 0 0 0\nv 10 0 0\nv 0 10 0\nv 0 0 10",
	} {
		m := readOK(t, []byte(text), "cm")
		if len(m.Points) != 4 || len(m.Faces) != 4 || math.Abs(m.VolumeMM3()-1e6/6) > 1e-6 || !m.Faults().Closed() {
			t.Errorf("%s: %v", name, m)
		}
	}
	// What is no mesh is told so before its unit is asked for.
	for name, text := range map[string]string{"a.glb": "no mesh at all\n", "b.glb": "", "c.stl": "\x00\x01"} {
		if _, _, err := ReadMesh(name, []byte(text), ""); err == nil || strings.Contains(err.Error(), "unit") {
			t.Errorf("%s: %v", name, err)
		}
	}
	_, notes, err := ReadMesh("part", []byte(objText), "mm")
	if err != nil || len(notes) != 1 || notes[0].Code != "mesh.left-out" || !strings.Contains(notes[0].Text, `1 line "g", 1 line "o", 1 line "s"`) {
		t.Errorf("%v %v", notes, err)
	}
	square := "v 0 0 0\nv 2 0 0\nv 2 2 0\nv 0 2 0\nf 1 2 3 4\n"
	if m, _, err := ReadMesh("p", []byte(square), "mm"); err != nil || m.AreaMM2() != 4 {
		t.Errorf("polygon: %v %v", m, err)
	}
	m, notes, err := ReadMesh("p", []byte("v 0 0 0\nv 1 0 0\nv 0 1 0\nv 1 0 0\nv 0 1 0\nv 1 1 0\nf 1 2 3\nf 4 6 5\n"), "mm")
	if err != nil || len(m.Points) != 4 || m.Faults().Components != 1 || notes[0].Code != "mesh.points-merged" {
		t.Errorf("repeated points: %v %v %v", m, notes, err)
	}
	up, _, err := ReadMeshWith("p", []byte(square), MeshOptions{Unit: "mm", Axes: AxesYUp})
	if err != nil || up.Points[2] != (geom.Vec{0, -2, 2}) {
		t.Errorf("axes: %v %v", up, err)
	}
}

// The corner (x, y, z) of a glTF file, left, up, front, is (-z, -x, y) rearward,
// right, up: glTF 2.0 section 3.4 fixes the first, the words themselves the rest.
func TestReadMeshReadsGLBScenes(t *testing.T) {
	const v = 1000. / 6
	for _, c := range []struct {
		name, nodes string
		volume      float64
		at          geom.Vec // of the first point
	}{
		{"plain", `{"mesh":0}`, v, geom.Vec{}},
		{"translated", `{"mesh":0,"translation":[1,2,3]}`, v, geom.Vec{-3000, -1000, 2000}},
		{"scaled", `{"mesh":0,"scale":[2,3,4]}`, 24 * v, geom.Vec{}},
		{"mirrored", `{"mesh":0,"scale":[-1,1,1]}`, v, geom.Vec{}},
		{"mirrored by a matrix", `{"mesh":0,"matrix":[0,1,0,0, 1,0,0,0, 0,0,1,0, 1,0,0,1]}`, v, geom.Vec{0, -1000, 0}},
		// half a turn about Y takes (1, 0, 0) to (-1, 0, 0)
		{"parent turned", `{"children":[1],"rotation":[0,1,0,0]},{"mesh":0,"translation":[1,0,0]}`, v, geom.Vec{0, 1000, 0}},
		{"parent scaled", `{"children":[1],"scale":[2,2,2]},{"mesh":0,"translation":[1,0,0]}`, 8 * v, geom.Vec{0, -2000, 0}},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := readOK(t, glbOf(glbScene(c.nodes), glbNumbersOfTetra()), "m")
			if len(m.Points) != 4 || len(m.Faces) != 4 || !m.Faults().Closed() {
				t.Fatalf("%v", m)
			}
			if math.Abs(m.VolumeMM3()-c.volume) > 1e-4*c.volume {
				t.Errorf("volume %g, want %g", m.VolumeMM3(), c.volume)
			}
			if m.Points[0].Dist(c.at) > 1e-3 {
				t.Errorf("first point at %v, want %v", m.Points[0], c.at)
			}
		})
	}
	kept, _, err := ReadMeshWith("p", glbOf(glbScene(`{"mesh":0,"translation":[1,2,3]}`), glbNumbersOfTetra()), MeshOptions{Axes: AxesAsFile})
	if err != nil || kept.Points[0].Dist(geom.Vec{1000, 2000, 3000}) > 1e-3 {
		t.Errorf("axes of the file: %v %v", kept, err)
	}
}

// A strip and a fan of four points are the two triangles of glTF 2.0 section 3.7.2.1.
func TestReadGLBReadsStripsAndFans(t *testing.T) {
	base := strings.NewReplacer(`"indices":1`, `"mode":%d`, `"max":[0.01,0.01,0.01]`, `"max":[1,1,1]`).Replace(glbScene(`{"mesh":0}`))
	for mode, want := range map[int]string{5: "[[0 1 2] [1 3 2]]", 6: "[[1 2 0] [2 3 0]]"} {
		m, _, err := ReadMesh("p", glbOf(fmt.Sprintf(base, mode), glbNumbersOfTetra()), "")
		if err != nil || fmt.Sprint(m.Faces) != want {
			t.Errorf("mode %d: %v %v, want %s", mode, m, err, want)
		}
	}
}

// Longer ones by the formulas of that section: triangle i of a strip is v(i), v(i+1+i%2),
// v(i+2-i%2), of a fan v(i+1), v(i+2), v(0); here of the twelve indices of the file. Triangles
// with a corner twice are left out.
func TestReadGLBReadsLongStripsAndFans(t *testing.T) {
	v := []int32{0, 2, 1, 0, 1, 3, 0, 3, 2, 1, 2, 3}
	var strip, fan [][3]int32
	for i := range len(v) - 2 {
		strip = append(strip, [3]int32{v[i], v[i+1+i%2], v[i+2-i%2]})
		fan = append(fan, [3]int32{v[i+1], v[i+2], v[0]})
	}
	for mode, want := range map[int][][3]int32{5: strip, 6: fan} {
		want = slices.DeleteFunc(want, func(f [3]int32) bool { return f[0] == f[1] || f[1] == f[2] || f[2] == f[0] }) // without area
		text := strings.Replace(glbScene(`{"mesh":0}`), `"indices":1`, fmt.Sprintf(`"indices":1,"mode":%d`, mode), 1)
		m, _, err := ReadMesh("p", glbOf(text, glbNumbersOfTetra()), "")
		if err != nil || !slices.Equal(m.Faces, want) {
			t.Errorf("mode %d: %v %v, want %v", mode, err, m, want)
		}
	}
}

func TestWriteGLBRoundTrip(t *testing.T) {
	m := tetra()
	m.Points[1] = geom.Vec{1400.123, -0.001, 2399.999}
	m.Label = []int32{2, -3, 2, 7}
	data, err := WriteGLB(m)
	if err != nil {
		t.Fatal(err)
	}
	got := readOK(t, data, "")
	if fmt.Sprint(got.Label) != "[-3 2 2 7]" || fmt.Sprint(got.Faces) != "[[0 1 3] [0 2 1] [0 3 2] [1 2 3]]" {
		t.Errorf("labels %v, faces %v", got.Label, got.Faces)
	}
	for i := range m.Points {
		if m.Points[i].Dist(got.Points[i]) > 0.0005 {
			t.Errorf("point %d moved from %v to %v", i, m.Points[i], got.Points[i])
		}
	}
	m.Label = nil
	data, err = WriteGLB(m)
	if err != nil || readOK(t, data, "m").Label != nil {
		t.Errorf("labels came from nowhere (%v)", err)
	}
	if _, err := WriteGLB(&mesh.Mesh{}); err == nil {
		t.Error("an empty mesh was written")
	}
}

func TestReadMeshRefusesBadOBJAndGLB(t *testing.T) {
	good := glbScene(`{"mesh":0}`)
	swap := func(old, new string) []byte {
		if !strings.Contains(good, old) {
			t.Fatalf("%s is not in the scene", old)
		}
		return glbOf(strings.Replace(good, old, new, 1), glbNumbersOfTetra())
	}
	nodes := func(n string) []byte { return glbOf(glbScene(n), glbNumbersOfTetra()) }
	whole := nodes(`{"mesh":0}`)
	patch := func(at int, v uint32) []byte {
		out := bytes.Clone(whole)
		binary.LittleEndian.PutUint32(out[at:], v)
		return out
	}
	nan := glbNumbersOfTetra()
	binary.LittleEndian.PutUint32(nan[16:], math.Float32bits(float32(math.NaN())))
	index := glbNumbersOfTetra()
	index[50] = 4
	for _, c := range []struct {
		name string
		data []byte
		unit string
		kind diag.Kind
		msg  string
	}{
		{"OBJ no unit", []byte(objText), "", diag.Invalid, "unit of the mesh is not given"},
		{"OBJ index zero", []byte("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 0 2\n"), "mm", diag.Invalid, "line 4: a face names point 0"},
		{"OBJ index too large", []byte("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 4 2\n"), "mm", diag.Invalid, "line 4: a face names point 4 of 3"},
		{"OBJ index beyond 64 bits", []byte("v 0 0 0\nf 1 99999999999999999999 2\n"), "mm", diag.Invalid, "names no point"},
		{"OBJ negative too far", []byte("v 0 0 0\nv 1 0 0\nf 1 -3 2\nv 0 1 0\n"), "mm", diag.Invalid, "line 3: a face names point -3, but only 2"},
		{"OBJ two corners", []byte("v 0 0 0\nf 1 1\n"), "mm", diag.Invalid, "a face of 2 corners"},
		{"OBJ two coordinates", []byte("v 0 0\n"), "mm", diag.Invalid, "a point of 2 numbers"},
		{"OBJ NaN", []byte("v nan 0 0\n"), "mm", diag.Invalid, "line 1: a coordinate is not a finite number"},
		{"OBJ word", []byte("v a 0 0\n"), "mm", diag.Invalid, `"a" is not a number`},
		{"OBJ curve", []byte("v 0 0 0\ncurv 0 1 1\n"), "mm", diag.Invalid, `statement "curv"`},
		{"OBJ continued line", []byte("v 0 0 0\nf 1 \\\n2 3\n"), "mm", diag.Invalid, "backslash"},
		{"OBJ no face", []byte("v 0 0 0\n"), "mm", diag.Invalid, "no surface"},
		{"OBJ dart", []byte("v 0 0 0\nv 0.5 0.5 0\nv 2 0 0\nv 0 2 0\nf 1 2 3 4\n"), "mm", diag.Invalid, "not convex"},
		{"OBJ odd axes", []byte(objText), "mm axes", diag.Invalid, "not a length unit"},
		{"GLB in millimetres", whole, "mm", diag.Invalid, "metres by its specification"},
		{"GLB cut off", whole[:len(whole)-4], "", diag.Invalid, "the header promises"},
		{"GLB too short", whole[:10], "", diag.Invalid, "shorter than a GLB header"},
		{"GLB version 1", patch(4, 1), "", diag.Unsupported, "GLB version 1"},
		{"GLB chunk beyond the end", patch(12, 0xfffffff0), "", diag.Invalid, "a chunk promises 4294967280 bytes"},
		{"GLB chunk of another kind first", patch(16, 7), "", diag.Invalid, "the first chunk is not JSON"},
		{"GLB chunk header cut", patch(12, uint32(len(whole)-20-4)), "", diag.Invalid, "a chunk header is cut off"},
		{"GLB bad JSON", swap(`{"asset"`, `["asset"`), "", diag.Invalid, "JSON chunk"},
		{"GLB version 3", swap(`"2.0"`, `"3.0"`), "", diag.Invalid, "is not 2.x"},
		{"GLB compressed", swap(`"scene":0`, `"scene":0,"extensionsRequired":["KHR_draco_mesh_compression"]`), "", diag.Unsupported, "KHR_draco"},
		{"GLB outside buffer", swap(`"buffers":[{`, `"buffers":[{"uri":"a.bin",`), "", diag.Unsupported, "outside the file"},
		{"GLB buffer too long", swap(`"byteLength":60`, `"byteLength":64`), "", diag.Invalid, "promises 64 bytes"},
		{"GLB view too long", swap(`"byteLength":12`, `"byteLength":13`), "", diag.Invalid, "outside the file"},
		{"GLB view wraps", swap(`"byteOffset":48,"byteLength":12`, `"byteOffset":9223372036854775807,"byteLength":12`), "", diag.Invalid, "out of range"},
		{"GLB offset negative", swap(`"byteOffset":48`, `"byteOffset":-48`), "", diag.Invalid, "out of range"},
		{"GLB count of gigabytes", swap(`"count":12`, `"count":4000000000000`), "", diag.Invalid, "promises 4000000000000 elements"},
		{"GLB count beyond 64 bits", swap(`"count":12`, `"count":99999999999999999999`), "", diag.Invalid, "accessors[1]"},
		{"GLB count not whole", swap(`"count":12`, `"count":1.5`), "", diag.Invalid, "accessors[1]"},
		{"GLB broken triangle", swap(`"count":12`, `"count":11`), "", diag.Invalid, "no whole number of triangles"},
		{"GLB stride too small", swap(`"byteLength":48`, `"byteLength":48,"byteStride":4`), "", diag.Invalid, "does not hold"},
		{"GLB quantised", swap(`"componentType":5126`, `"componentType":5122`), "", diag.Unsupported, "quantisation"},
		{"GLB signed indices", swap(`"componentType":5121`, `"componentType":5120`), "", diag.Invalid, "unsigned"},
		{"GLB unknown type", swap(`"componentType":5121`, `"componentType":1`), "", diag.Invalid, "not known"},
		{"GLB sparse", swap(`"type":"SCALAR"`, `"type":"SCALAR","sparse":{}`), "", diag.Unsupported, "sparse"},
		{"GLB no view", swap(`"bufferView":1,`, ``), "", diag.Unsupported, "has no data"},
		{"GLB accessor missing", swap(`"indices":1`, `"indices":2`), "", diag.Invalid, "accessor 2 of 2"},
		{"GLB no positions", swap(`"POSITION"`, `"NORMAL"`), "", diag.Invalid, "no POSITION"},
		{"GLB lines only", swap(`"indices":1`, `"indices":1,"mode":1`), "", diag.Invalid, "no triangles"},
		{"GLB unknown mode", swap(`"indices":1`, `"indices":1,"mode":9`), "", diag.Invalid, "mode 9"},
		{"GLB morph", swap(`"indices":1`, `"indices":1,"targets":[{}]`), "", diag.Unsupported, "morph"},
		{"GLB scene missing", swap(`"scene":0`, `"scene":1`), "", diag.Invalid, "scene 1 of 1"},
		{"GLB cycle", nodes(`{"children":[1]},{"mesh":0,"children":[0]}`), "", diag.Invalid, "reached a second time"},
		{"GLB own child", nodes(`{"mesh":0,"children":[0]}`), "", diag.Invalid, "reached a second time"},
		{"GLB two parents", nodes(`{"children":[1,2]},{"children":[2]},{"mesh":0}`), "", diag.Invalid, "reached a second time"},
		{"GLB child missing", nodes(`{"mesh":0,"children":[7]}`), "", diag.Invalid, "node 7 of 1"},
		{"GLB mesh missing", nodes(`{"mesh":-1}`), "", diag.Invalid, "mesh -1 of 1"},
		{"GLB skin", nodes(`{"mesh":0,"skin":0}`), "", diag.Unsupported, "skin"},
		{"GLB flat", nodes(`{"mesh":0,"scale":[1,0,1]}`), "", diag.Invalid, "flattens"},
		{"GLB matrix short", nodes(`{"mesh":0,"matrix":[1]}`), "", diag.Invalid, "matrix has 1 numbers"},
		{"GLB projective", nodes(`{"mesh":0,"matrix":[1,0,0,1, 0,1,0,0, 0,0,1,0, 0,0,0,1]}`), "", diag.Invalid, "last row"},
		{"GLB no rotation", nodes(`{"mesh":0,"rotation":[1,1,0,0]}`), "", diag.Invalid, "unit quaternion"},
		{"GLB overflow", nodes(`{"children":[1],"scale":[1e300,1e300,1e300]},{"mesh":0,"scale":[1e300,1e300,1e300]}`), "", diag.Invalid, "not finite"},
		{"GLB NaN", glbOf(good, nan), "", diag.Invalid, "position 1 is not finite"},
		{"GLB index out of range", glbOf(good, index), "", diag.Invalid, "point 4 of 4"},
		{"GLB empty scene", nodes(`{}`), "", diag.Invalid, "no triangles"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, _, err := ReadMesh("part.file", c.data, c.unit)
			var e *diag.Error
			if !errors.As(err, &e) || e.Kind != c.kind || e.Subject != "part.file" || e.Hint == "" {
				t.Fatalf("got %#v", err)
			}
			if !strings.Contains(err.Error(), c.msg) {
				t.Errorf("got %q, want it to say %q", err, c.msg)
			}
		})
	}
	if _, _, err := ReadMeshWith("p", []byte(objText), MeshOptions{Unit: "mm", Axes: "z"}); err == nil {
		t.Error("unknown axes were accepted")
	}
}

// The bound ReadMeshWith states: 64 MB and 48 times the file, over everything
// allocated on the way, on files made to cost much.
func TestReadMeshMemoryIsBounded(t *testing.T) {
	repeat := func(head, body, tail string, n int) string { return head + strings.Repeat(body, n) + tail }
	g := grid(100)
	var objFlat, objFan strings.Builder
	for _, p := range g.Points {
		fmt.Fprintf(&objFlat, "v %g %g 0\n", p[0], p[1])
	}
	for _, f := range g.Faces {
		fmt.Fprintf(&objFlat, "f %d %d %d\n", f[0]+1, f[1]+1, f[2]+1)
	}
	objFan.WriteString("v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3" + strings.Repeat(" 3", 1_000_000) + "\n")
	glb, err := WriteGLB(g)
	if err != nil {
		t.Fatal(err)
	}
	list := func(name, entry string) []byte {
		return glbOf(`{"asset":{"version":"2.0"},"`+name+`":[`+strings.TrimSuffix(strings.Repeat(entry+",", 300_000), ",")+`]}`, nil)
	}
	numbers := glbNumbersOfTetra()
	shared := repeat(`{"asset":{"version":"2.0"},"nodes":[`, `{"mesh":0},`, `{"mesh":0}],`, 16_000) +
		strings.TrimPrefix(glbScene(""), `{"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[0]}],"nodes":[],`)
	promise := make([]byte, 84)
	binary.LittleEndian.PutUint32(promise[80:], math.MaxUint32)
	for name, data := range map[string][]byte{
		"STL": WriteSTL(g), "STL promise": promise, "text STL": []byte(textSTLOf(g)), "PLY": WritePLY(g), "GLB": glb,
		"PLY promise":      []byte("ply\nformat binary_little_endian 1.0\nelement vertex 4000000000\nproperty uchar x\nproperty uchar y\nproperty uchar z\nend_header\n"),
		"OBJ":              []byte(objFlat.String()),
		"OBJ one polygon":  []byte(objFan.String()),
		"OBJ short points": []byte(strings.Repeat("v 0 0 0\n", 300_000) + "f 1 2 3\n"),
		"GLB nodes":        list("nodes", "{}"), "GLB accessors": list("accessors", "{}"), "GLB views": list("bufferViews", "{}"),
		"GLB primitives": list("meshes", `{"primitives":[{},{},{},{},{},{}]}`), "GLB children": list("nodes", `{"children":[0,0,0,0,0,0,0,0]}`),
		"GLB shared mesh": glbOf(shared, numbers),
		"GLB deep JSON":   glbOf(repeat(`{"asset":{"version":"2.0"},"nodes":`, "[", strings.Repeat("]", 9000)+"}", 9000), nil),
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, _, err := ReadMesh("big", data, map[bool]string{true: "", false: "mm"}[isGLB(data)])
		runtime.ReadMemStats(&after)
		got, limit := after.TotalAlloc-before.TotalAlloc, uint64(64<<20+48*len(data))
		t.Logf("%-16s %9d bytes, %9d allocated, %5.1f times; %v", name, len(data), got, float64(got)/float64(len(data)), err)
		if got > limit {
			t.Errorf("%s: %d bytes allocated for a file of %d, more than %d", name, got, len(data), limit)
		}
	}
}

func FuzzReadMeshOBJ(f *testing.F) {
	f.Add([]byte(objText))
	f.Add([]byte("v 0 0 0\nv 2 0 0\nv 2 2 0\nv 0 2 0\nf 1 2 3 4\n"))
	f.Add([]byte("v 1e999 nan -inf\nf 0 -9223372036854775808 9223372036854775807\n"))
	fuzzMesh(f)
}

// FuzzReadMeshGLB varies the description and the numbers; the container is
// made right around them, and once left as it is.
func FuzzReadMeshGLB(f *testing.F) {
	bin := glbNumbersOfTetra()
	for _, nodes := range []string{`{"mesh":0}`, `{"children":[1]},{"mesh":0,"children":[0]}`,
		`{"mesh":0,"matrix":[0,1,0,0,1,0,0,0,0,0,1,0,1,0,0,1]}`, `{"children":[1],"rotation":[0,1,0,0]},{"mesh":0,"scale":[1,-2,1]}`} {
		f.Add([]byte(glbScene(nodes)), bin)
	}
	if glb, err := WriteGLB(tetra()); err == nil {
		f.Add(glb, []byte(nil))
	}
	f.Fuzz(func(t *testing.T, text, bin []byte) {
		data := text
		if !isGLB(text) {
			data = glbOf(string(text), bytes.Clone(bin))
		}
		m, _, err := ReadMesh("fuzz", data, "")
		if err != nil {
			if diag.KindOf(err) == diag.Internal {
				t.Fatalf("error without a kind: %v", err)
			}
			return
		}
		if err := m.Check(); err != nil {
			t.Fatalf("accepted, but %v", err)
		}
		once, err := WriteGLB(m)
		if err != nil {
			t.Fatal(err)
		}
		if !json.Valid(once[20 : 20+binary.LittleEndian.Uint32(once[12:])]) {
			t.Fatal("the description is not JSON")
		}
		if again, _, err := ReadMesh("again", once, "m"); err == nil {
			if twice, err := WriteGLB(again); err != nil || len(again.Points) == len(m.Points) && !bytes.Equal(once, twice) {
				t.Fatalf("reading what was written changed it (%v)", err)
			}
		}
	})
}
