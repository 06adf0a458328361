package format

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/geom"
)

// matrix4 is a matrix by rows; times is the product as schoolbooks have it. Nothing of the
// reader is used to reckon what it should read.
type matrix4 [4][4]float64

func (a matrix4) times(b matrix4) (c matrix4) {
	for i := range 4 {
		for j := range 4 {
			for k := range 4 {
				c[i][j] += a[i][k] * b[k][j]
			}
		}
	}
	return c
}

func (a matrix4) moves(p geom.Vec) (q geom.Vec) {
	for i := range 3 {
		q[i] = a[i][0]*p[0] + a[i][1]*p[1] + a[i][2]*p[2] + a[i][3]
	}
	return q
}

func (a matrix4) mirrors() bool {
	return a[0][0]*(a[1][1]*a[2][2]-a[1][2]*a[2][1])-a[0][1]*(a[1][0]*a[2][2]-a[1][2]*a[2][0])+a[0][2]*(a[1][0]*a[2][1]-a[1][1]*a[2][0]) < 0
}

// drawnNode is a node that is placed by a matrix, or by some of translation, rotation (glTF 2.0,
// section 5.25, and the matrix of a unit quaternion, from memory) and scale.
func drawnNode(rng *rand.Rand) (obj, matrix4) {
	place := matrix4{{1, 0, 0, 0}, {0, 1, 0, 0}, {0, 0, 1, 0}, {0, 0, 0, 1}}
	number := func() float64 { return float64(rng.IntN(17)-8) / 4 }
	if rng.IntN(3) == 0 {
		for i := range 3 {
			for j := range 4 {
				place[i][j] += number() / []float64{8, 8, 8, 64}[j]
			}
		}
		var columns []float64
		for j := range 4 {
			for i := range 4 {
				columns = append(columns, place[i][j])
			}
		}
		return obj{"matrix": columns}, place
	}
	node := obj{}
	if rng.IntN(2) == 0 {
		t := []float64{number() / 64, number() / 64, number() / 64}
		node["translation"] = t
		place = place.times(matrix4{{1, 0, 0, t[0]}, {0, 1, 0, t[1]}, {0, 0, 1, t[2]}, {0, 0, 0, 1}})
	}
	if rng.IntN(2) == 0 {
		x, y, z, w := number(), number(), number(), number()+3
		n := math.Sqrt(x*x + y*y + z*z + w*w)
		x, y, z, w = x/n, y/n, z/n, w/n
		node["rotation"] = []float64{x, y, z, w}
		place = place.times(matrix4{
			{1 - 2*(y*y+z*z), 2 * (x*y - z*w), 2 * (x*z + y*w), 0},
			{2 * (x*y + z*w), 1 - 2*(x*x+z*z), 2 * (y*z - x*w), 0},
			{2 * (x*z - y*w), 2 * (y*z + x*w), 1 - 2*(x*x+y*y), 0}, {0, 0, 0, 1}})
	}
	if rng.IntN(2) == 0 {
		s := []float64{number() + 2.5, -number() - 2.5, number() + 2.5}
		node["scale"] = s
		place = place.times(matrix4{{s[0], 0, 0, 0}, {0, s[1], 0, 0}, {0, 0, s[2], 0}, {0, 0, 0, 1}})
	}
	return node, place
}

// drawnPiece is a primitive of so many points in a buffer, its numbers packed in any of the ways
// that are allowed: with bytes before, between and behind them, and indices of one, two or four
// bytes or none.
type drawnPiece struct {
	points  []geom.Vec
	corners [][3]int // as glTF 2.0, section 3.7.2.1, has them
	zone    int
	prim    obj
	skipped bool // points or lines
}

// scene collects what a file holds.
type scene struct {
	rng       *rand.Rand
	bin       []byte
	views     []obj
	accessors []obj
}

// numbers packs elements of so many bytes and answers the number of their accessor.
func (s *scene) numbers(elements [][]byte, kind int, typ string, stride bool) int {
	before, offset, step := 4*s.rng.IntN(3), 0, len(elements[0])
	view := obj{"buffer": 0}
	if stride {
		offset, step = 4*s.rng.IntN(3), step+4*s.rng.IntN(4)
		view["byteStride"] = step
	}
	s.bin = append(s.bin, make([]byte, before+(4-len(s.bin)%4)%4)...)
	view["byteOffset"] = len(s.bin)
	block := make([]byte, offset+(len(elements)-1)*step+len(elements[0])) // not one byte more than is needed
	for i, e := range elements {
		copy(block[offset+i*step:], e)
	}
	s.bin, view["byteLength"] = append(s.bin, block...), len(block)
	s.views = append(s.views, view)
	s.accessors = append(s.accessors, obj{"bufferView": len(s.views) - 1, "byteOffset": offset, "componentType": kind, "count": len(elements), "type": typ})
	return len(s.accessors) - 1
}

func (s *scene) piece() drawnPiece {
	p := drawnPiece{zone: s.rng.IntN(7) - 1}
	var packed [][]byte
	for range 3 * (1 + s.rng.IntN(3)) {
		q := geom.Vec{float64(s.rng.IntN(64)) / 4096, float64(s.rng.IntN(64)) / 4096, float64(s.rng.IntN(64)) / 4096}
		p.points = append(p.points, q)
		packed = append(packed, putFloat32(putFloat32(putFloat32(nil, q[0]), q[1]), q[2]))
	}
	p.prim = obj{"attributes": obj{"POSITION": s.numbers(packed, 5126, "VEC3", s.rng.IntN(2) == 0)}, "extras": obj{"zone": p.zone}}
	list := make([]int, len(p.points))
	for i := range list {
		list[i] = i
	}
	if kind := s.rng.IntN(4); kind > 0 {
		list = make([]int, 3*(1+s.rng.IntN(4)))
		var packed [][]byte
		for i := range list {
			list[i] = s.rng.IntN(len(p.points))
			e := binary.LittleEndian.AppendUint32(nil, uint32(list[i]))
			packed = append(packed, e[:[]int{0, 1, 2, 4}[kind]])
		}
		p.prim["indices"] = s.numbers(packed, []int{0, 5121, 5123, 5125}[kind], "SCALAR", false)
	}
	mode := []int{4, 4, 5, 6, s.rng.IntN(4)}[s.rng.IntN(5)]
	if mode != 4 || s.rng.IntN(2) == 0 {
		p.prim["mode"] = mode
	}
	p.skipped = mode < 4
	for i := range list {
		switch {
		case mode == 4 && i%3 == 0:
			p.corners = append(p.corners, [3]int{list[i], list[i+1], list[i+2]})
		case mode == 5 && i+2 < len(list):
			p.corners = append(p.corners, [3]int{list[i], list[i+1+i%2], list[i+2-i%2]})
		case mode == 6 && i+2 < len(list):
			p.corners = append(p.corners, [3]int{list[i+1], list[i+2], list[0]})
		}
	}
	return p
}

// TestScenesStandWhereTheyArePlacedSeed71: whatever trees of nodes with whatever placings carry
// whatever pieces, packed in whatever way, the triangles that are read lie where a product of
// matrices puts them, outside where the placing leaves it, in the order of the trees, with their zones.
func TestScenesStandWhereTheyArePlacedSeed71(t *testing.T) {
	rng := rand.New(rand.NewPCG(71, 0))
	empty := 0
	for range 250 {
		s := &scene{rng: rng}
		var nodes, meshes []obj
		type corner struct {
			at   [3]geom.Vec
			zone int
		}
		var want []corner
		skipped := 0
		var grow func(depth int, place matrix4) int
		grow = func(depth int, place matrix4) int {
			node, local := drawnNode(rng)
			here, at := place.times(local), len(nodes)
			nodes = append(nodes, node)
			if rng.IntN(3) > 0 {
				var prims []obj
				for range 1 + rng.IntN(2) {
					p := s.piece()
					prims = append(prims, p.prim)
					if p.skipped {
						skipped++
						continue
					}
					for _, c := range p.corners {
						a, b, d := here.moves(p.points[c[0]]), here.moves(p.points[c[1]]), here.moves(p.points[c[2]])
						if here.mirrors() {
							b, d = d, b
						}
						if c[0] != c[1] && c[1] != c[2] && c[2] != c[0] && p.points[c[0]] != p.points[c[1]] && p.points[c[1]] != p.points[c[2]] && p.points[c[2]] != p.points[c[0]] {
							want = append(want, corner{[3]geom.Vec{a, b, d}, p.zone})
						}
					}
				}
				meshes = append(meshes, obj{"primitives": prims})
				node["mesh"] = len(meshes) - 1
			}
			if depth < 3 {
				var children []int
				for range rng.IntN(3) {
					children = append(children, grow(depth+1, here))
				}
				if children != nil {
					node["children"] = children
				}
			}
			return at
		}
		var roots []int
		for range 1 + rng.IntN(2) {
			roots = append(roots, grow(0, matrix4{{1, 0, 0, 0}, {0, 1, 0, 0}, {0, 0, 1, 0}, {0, 0, 0, 1}}))
		}
		file := obj{"asset": obj{"version": "2.0"}, "nodes": nodes, "meshes": meshes, "accessors": s.accessors, "bufferViews": s.views, "buffers": []obj{{"byteLength": len(s.bin)}}}
		if rng.IntN(2) == 0 { // without a scene it is the nodes that are no child
			file["scene"], file["scenes"] = 1, []obj{{"nodes": []int{}}, {"nodes": roots}}
		}
		text, err := json.Marshal(file)
		if err != nil {
			t.Fatal(err)
		}
		m, notes, err := ReadMeshWith("p", glbOf(string(text), s.bin), MeshOptions{Axes: AxesAsFile})
		if len(want) == 0 {
			if empty++; err == nil {
				t.Fatalf("no triangle, and %v is read from\n%s", m, text)
			}
			continue
		}
		if err != nil || len(m.Faces) != len(want) {
			t.Fatalf("%v, %v, want %d triangles from\n%s", err, m, len(want), text)
		}
		for f, c := range want {
			for k, v := range m.Faces[f] {
				if m.Points[v].Dist(c.at[k].Scale(1000)) > 1e-6*(1+1000*c.at[k].Norm()) {
					t.Fatalf("corner %d of triangle %d is %v, want %v mm, from\n%s", k, f, m.Points[v], c.at[k].Scale(1000), text)
				}
			}
			if m.Label[f] != int32(c.zone) {
				t.Fatalf("zone %d of triangle %d, want %d, from\n%s", m.Label[f], f, c.zone, text)
			}
		}
		told := ""
		for _, n := range notes {
			if n.Code == "mesh.left-out" {
				told = n.Text
			}
		}
		if want := fmt.Sprintf("%d primitives of points or lines were left out", skipped); (told == want) != (skipped > 0) {
			t.Fatalf("told %q, want %q", told, want)
		}
	}
	if empty > 100 {
		t.Errorf("%d of 250 scenes have no triangle", empty)
	}
}

// A zone is read only where every piece has one, as a whole number.
func TestZonesOfScenesAreAllOrNone(t *testing.T) {
	one := `{"attributes":{"POSITION":0},"indices":1%s}`
	for extras, want := range map[[2]string]string{
		{`,"extras":{"zone":3}`, `,"extras":{"zone":-4}`}:  "[3 3 3 3 -4 -4 -4 -4]",
		{`,"extras":{"zone":3}`, ``}:                       "[]",
		{``, `,"extras":{"zone":3}`}:                       "[]",
		{`,"extras":{"zone":3}`, `,"extras":{"zone":1.5}`}: "[]",
		{`,"extras":{"zone":3}`, `,"extras":{"zone":"x"}`}: "[]",
		{`,"extras":{"zone":3}`, `,"extras":[1]`}:          "[]",
	} {
		text := strings.Replace(glbScene(`{"mesh":0}`), fmt.Sprintf(one, ""), fmt.Sprintf(one, extras[0])+","+fmt.Sprintf(one, extras[1]), 1)
		m, _, err := ReadMesh("p", glbOf(text, glbNumbersOfTetra()), "")
		if err != nil || fmt.Sprint(m.Label) != want {
			t.Errorf("%q: %v, %v", extras, m, err)
		}
	}
}

// Where the numbers of an accessor lie is checked to the byte: each length that is one too small,
// or offset one too large, is refused, with the accessor; as they are they are read. 252 bytes
// from one element to the next are the most (glTF 2.0, section 5.11.5).
func TestNumbersOfAccessorsLieInTheirView(t *testing.T) {
	good := glbScene(`{"mesh":0}`)
	apart := func(stride int) []byte { // the points so many bytes apart
		bin := make([]byte, 3*stride+12)
		for i, p := range tetra().Points {
			for k, v := range p {
				binary.LittleEndian.PutUint32(bin[i*stride+4*k:], math.Float32bits(float32(v/1000)))
			}
		}
		return append(bin, glbNumbersOfTetra()[48:]...)
	}
	stretched := func(stride, length int) []byte {
		text := strings.NewReplacer(`"byteOffset":0,"byteLength":48`, fmt.Sprintf(`"byteOffset":0,"byteLength":%d,"byteStride":%d`, length, stride),
			`"byteOffset":48`, fmt.Sprintf(`"byteOffset":%d`, 3*stride+12), `"byteLength":60`, fmt.Sprintf(`"byteLength":%d`, 3*stride+24)).Replace(good)
		return glbOf(text, apart(stride))
	}
	swap := func(old, new string) []byte { return glbOf(strings.Replace(good, old, new, 1), glbNumbersOfTetra()) }
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"as it is":                {swap("", ""), ""},
		"12 bytes apart":          {stretched(12, 48), ""},
		"16 bytes apart":          {stretched(16, 60), ""},
		"252 bytes apart":         {stretched(252, 768), ""},
		"253 bytes apart":         {stretched(253, 771), "accessors[0]: promises 4 elements of 12 bytes, which its view of 771 bytes does not hold"},
		"11 bytes apart":          {stretched(11, 45), "accessors[0]: promises 4 elements of 12 bytes, which its view of 45 bytes does not hold"},
		"one byte too few":        {stretched(16, 59), "accessors[0]: promises 4 elements of 12 bytes, which its view of 59 bytes does not hold"},
		"one element too many":    {swap(`"count":12`, `"count":13`), "accessors[1]: promises 13 elements of 1 bytes, which its view of 12 bytes does not hold"},
		"one byte of offset":      {swap(`"count":12`, `"byteOffset":1,"count":12`), "accessors[1]: promises 12 elements of 1 bytes"},
		"offset beyond the view":  {swap(`"count":12`, `"byteOffset":13,"count":0`), "accessors[1]: a count, length or offset is out of range"},
		"no element":              {swap(`"count":12`, `"count":0`), "accessors[1]: a count, length or offset is out of range"},
		"view of nothing":         {swap(`"byteLength":12`, `"byteLength":0`), "accessors[1]: a count, length or offset is out of range"},
		"negative step":           {swap(`"byteLength":12`, `"byteLength":12,"byteStride":-1`), "accessors[1]: a count, length or offset is out of range"},
		"view of another buffer":  {swap(`{"buffer":0,"byteOffset":48`, `{"buffer":1,"byteOffset":48`), "accessors[1]: its view lies outside the file"},
		"view behind the end":     {swap(`"byteOffset":48`, `"byteOffset":61`), "accessors[1]: its view lies outside the file"},
		"view one byte too far":   {swap(`"byteOffset":48`, `"byteOffset":49`), "accessors[1]: its view lies outside the file"},
		"view that is not there":  {swap(`"bufferView":1`, `"bufferView":2`), "accessors[1]: names view 2 of 2"},
		"view before the first":   {swap(`"bufferView":1`, `"bufferView":-1`), "accessors[1]: names view -1 of 2"},
		"accessor below none":     {swap(`"indices":1`, `"indices":-1`), "meshes[0].primitives[0]: names accessor -1 of 2"},
		"points for indices":      {swap(`"indices":1`, `"indices":0`), `accessors[0]: is "VEC3" where SCALAR is needed`},
		"no buffer":               {swap(`"buffers":[{"byteLength":60}]`, `"buffers":[]`), "accessors[0]: its view lies outside the file"},
		"negative buffer":         {swap(`[{"byteLength":60}]`, `[{"byteLength":-1}]`), "buffers[0]: promises -1 bytes, but the chunk has 60"},
		"two buffers":             {swap(`[{"byteLength":60}]`, `[{"byteLength":60},{"byteLength":0}]`), "buffers[1]: only the first buffer can lie in the file"},
		"buffer shorter than all": {swap(`"byteLength":60`, `"byteLength":59`), "accessors[1]: its view lies outside the file"},
	} {
		_, _, err := ReadMesh("p", c.data, "")
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}

// A piece may be placed often, as long as that makes no more than 131,072 points or triangles, or
// a quarter of the bytes of the file (limits of our own).
func TestPiecesAreNotRepeatedTooOften(t *testing.T) {
	scene := func(n int) []byte {
		nodes := strings.TrimSuffix(strings.Repeat(`{"mesh":0},`, n), ",")
		text := strings.Replace(glbScene(nodes), `"scene":0,"scenes":[{"nodes":[0]}],`, "", 1)
		return glbOf(strings.Replace(text, `"primitives":[`, `"primitives":[`+strings.Repeat(`{"attributes":{"POSITION":0},"indices":1},`, 63), 1), glbNumbersOfTetra())
	}
	// 64 primitives of 4 triangles and 4 points in each node: 512 nodes make 131,072 of both.
	if g, err := openGLB("p", scene(512)); err != nil || len(g.nodes) != 512 {
		t.Fatal(err)
	}
	if _, _, err := readGLB("p", scene(512)); err != nil {
		t.Errorf("as many as are read: %v", err)
	}
	if _, _, err := readGLB("p", scene(513)); err == nil || !strings.Contains(err.Error(), "131328 points and 131328 triangles from a file of") || diag.KindOf(err) != diag.Invalid {
		t.Errorf("one too many: %v", err)
	}
	// Points alone are too many, with one triangle for each four of them; so are triangles alone, with
	// eight of them for each four points; and in a file of 540,000 bytes 135,000 of both are not.
	few := func(data []byte) []byte {
		text, bin, err := glbChunks("p", data)
		if err != nil {
			t.Fatal(err)
		}
		return glbOf(strings.Replace(string(text), `"count":12`, `"count":3`, 1), bin)
	}
	if _, _, err := readGLB("p", few(scene(513))); err == nil || !strings.Contains(err.Error(), "131328 points and 32832 triangles") {
		t.Errorf("too many points: %v", err)
	}
	many := func(data []byte) []byte {
		text, bin, err := glbChunks("p", data)
		if err != nil {
			t.Fatal(err)
		}
		return glbOf(strings.NewReplacer(`"count":12`, `"count":24`, `"byteLength":12`, `"byteLength":24`, `"byteLength":60`, `"byteLength":72`).Replace(string(text)), append(bytes.Clone(bin), bin[48:60]...))
	}
	if _, _, err := readGLB("p", many(scene(256))); err != nil {
		t.Errorf("as many triangles: %v", err)
	}
	if _, _, err := readGLB("p", many(scene(257))); err == nil || !strings.Contains(err.Error(), "65792 points and 131584 triangles") {
		t.Errorf("too many triangles: %v", err)
	}
	for length, taken := range map[int]bool{4*131328 - 4: false, 4 * 131328: true} {
		text, bin, err := glbChunks("p", scene(513))
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err := readGLB("p", glbOf(string(text), append(bytes.Clone(bin), make([]byte, length-28-len(text)-len(bin))...))); (err == nil) != taken {
			t.Errorf("in %d bytes: %v", length, err)
		}
	}
}

// TestWrittenGLBSaysWhereItLiesSeed81: the least and the greatest position a written file tells are
// those of its numbers, to the bit, and its primitives are the faces of each label in their order.
func TestWrittenGLBSaysWhereItLiesSeed81(t *testing.T) {
	rng := rand.New(rand.NewPCG(81, 0))
	for range 50 {
		m := drawnMesh(rng)
		for i := range m.Points {
			m.Points[i] = m.Points[i].Add(geom.Vec{rng.Float64() - 3, rng.Float64() + 2, rng.Float64()}.Scale(100))
		}
		data, err := WriteGLB(m)
		if err != nil {
			t.Fatal(err)
		}
		n := binary.LittleEndian.Uint32(data[12:])
		var got struct {
			Accessors []struct{ Min, Max []float32 }
			Meshes    []struct {
				Name       string
				Primitives []struct {
					Indices int
					Extras  struct{ Zone int32 }
				}
			}
			BufferViews []struct{ ByteOffset, ByteLength int }
		}
		if err := json.Unmarshal(data[20:20+n], &got); err != nil {
			t.Fatal(err)
		}
		bin := data[28+n:]
		lo, hi := []float32{math.MaxFloat32, math.MaxFloat32, math.MaxFloat32}, []float32{-math.MaxFloat32, -math.MaxFloat32, -math.MaxFloat32}
		for i := range 3 * len(m.Points) {
			v := math.Float32frombits(binary.LittleEndian.Uint32(bin[4*i:]))
			lo[i%3], hi[i%3] = min(lo[i%3], v), max(hi[i%3], v)
		}
		if fmt.Sprint(got.Accessors[0].Min, got.Accessors[0].Max) != fmt.Sprint(lo, hi) {
			t.Fatalf("from %v to %v, want %v to %v", got.Accessors[0].Min, got.Accessors[0].Max, lo, hi)
		}
		last := int32(math.MinInt32)
		for _, p := range got.Meshes[0].Primitives {
			var want []uint32
			for f, l := range m.Label {
				if l == p.Extras.Zone {
					want = append(want, uint32(m.Faces[f][0]), uint32(m.Faces[f][1]), uint32(m.Faces[f][2]))
				}
			}
			v := got.BufferViews[p.Indices]
			is := make([]uint32, v.ByteLength/4)
			for i := range is {
				is[i] = binary.LittleEndian.Uint32(bin[v.ByteOffset+4*i:])
			}
			if fmt.Sprint(is) != fmt.Sprint(want) || p.Extras.Zone <= last {
				t.Fatalf("zone %d after %d has corners %v, want %v", p.Extras.Zone, last, is, want)
			}
			last = p.Extras.Zone
		}
		if got.Meshes[0].Name != fmt.Sprintf("%d triangles", len(m.Faces)) {
			t.Errorf("the mesh is called %q", got.Meshes[0].Name)
		}
	}
}
