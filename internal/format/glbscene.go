package format

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// affine is x -> A x + t, columns of A first.
type affine struct {
	col [3]geom.Vec
	t   geom.Vec
}

func (a *affine) turn(v geom.Vec) geom.Vec {
	return a.col[0].Scale(v[0]).Add(a.col[1].Scale(v[1])).Add(a.col[2].Scale(v[2]))
}

func (a *affine) apply(v geom.Vec) geom.Vec { return a.turn(v).Add(a.t) }

func (a *affine) then(b *affine) affine { // a after b
	return affine{[3]geom.Vec{a.turn(b.col[0]), a.turn(b.col[1]), a.turn(b.col[2])}, a.apply(b.t)}
}

func (a *affine) det() float64 { return a.col[0].Dot(a.col[1].Cross(a.col[2])) }

func identity() affine { return affine{col: [3]geom.Vec{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}} }

// placing is a node's matrix, or its translation after rotation (a unit
// quaternion x, y, z, w) after scale.
func (g *glbFile) placing(i int) (affine, error) {
	n, at := &g.nodes[i], fmt.Sprintf("nodes[%d]", i)
	for _, l := range []struct {
		name string
		v    []float64
		want int
	}{{"matrix", n.Matrix, 16}, {"translation", n.Translation, 3}, {"rotation", n.Rotation, 4}, {"scale", n.Scale, 3}} {
		if l.v != nil && len(l.v) != l.want {
			return affine{}, badMesh(g.name, at, fmt.Sprintf("%s has %d numbers", l.name, len(l.v)), fmt.Sprintf("%d are needed", l.want))
		}
	}
	if m := n.Matrix; m != nil {
		if m[3] != 0 || m[7] != 0 || m[11] != 0 || m[15] != 1 {
			return affine{}, badMesh(g.name, at, "the matrix is not a placing in space", "its last row must be 0 0 0 1")
		}
		return affine{[3]geom.Vec{{m[0], m[1], m[2]}, {m[4], m[5], m[6]}, {m[8], m[9], m[10]}}, geom.Vec{m[12], m[13], m[14]}}, nil
	}
	out := identity()
	if q := n.Rotation; q != nil {
		l := math.Sqrt(float64(q[0]*q[0]) + float64(q[1]*q[1]) + float64(q[2]*q[2]) + float64(q[3]*q[3]))
		if !(math.Abs(l-1) < 1e-3) {
			return affine{}, badMesh(g.name, at, "the rotation is not a unit quaternion", "export the scene again")
		}
		for k := range out.col {
			out.col[k] = rotate(q[0]/l, q[1]/l, q[2]/l, q[3]/l, out.col[k])
		}
	}
	for k, s := range n.Scale {
		out.col[k] = out.col[k].Scale(s)
	}
	if t := n.Translation; t != nil {
		out.t = geom.Vec{t[0], t[1], t[2]}
	}
	return out, nil
}

// rotate turns v by a unit quaternion: v + 2 w (u x v) + 2 u x (u x v).
func rotate(x, y, z, w float64, v geom.Vec) geom.Vec {
	u := geom.Vec{x, y, z}
	c := u.Cross(v)
	return v.Add(c.Scale(2 * w)).Add(u.Cross(c).Scale(2))
}

// glbPiece is one primitive in its place.
type glbPiece struct {
	place   affine
	prim    *gltfPrimitive
	where   string
	points  glbNumbers
	indices *glbNumbers // nil: the points in order
	corners int64
}

// pieces walks the nodes of the scene. A node that is reached twice (a cycle,
// or two parents) is refused: the specification asks for trees. The walk keeps
// its own stack, so a deep tree costs no more than a wide one.
func (g *glbFile) pieces() (out []glbPiece, otherModes int, err error) {
	roots, err := g.roots()
	if err != nil {
		return nil, 0, err
	}
	type visit struct {
		node  int
		place affine
	}
	seen := make([]bool, len(g.nodes))
	var stack []visit
	push := func(list []int, place affine, from string) error {
		for i := len(list) - 1; i >= 0; i-- {
			n := list[i]
			if n < 0 || n >= len(g.nodes) {
				return badMesh(g.name, from, fmt.Sprintf("names node %d of %d", n, len(g.nodes)), "export the scene again")
			}
			if seen[n] {
				return badMesh(g.name, from, fmt.Sprintf("node %d is reached a second time", n), "nodes must form trees, without cycles")
			}
			seen[n] = true
			stack = append(stack, visit{n, place})
		}
		return nil
	}
	if err := push(roots, identity(), "scene"); err != nil {
		return nil, 0, err
	}
	for len(stack) > 0 {
		v := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		local, err := g.placing(v.node)
		if err != nil {
			return nil, 0, err
		}
		at := fmt.Sprintf("nodes[%d]", v.node)
		here := v.place.then(&local)
		if !here.t.Finite() || !here.col[0].Finite() || !here.col[1].Finite() || !here.col[2].Finite() {
			return nil, 0, badMesh(g.name, at, "the placing is not finite", "export the scene again")
		}
		n := &g.nodes[v.node]
		if n.Mesh != nil {
			if err := g.meshPieces(*n.Mesh, at, n.Skin != nil, here, &out, &otherModes); err != nil {
				return nil, 0, err
			}
		}
		if err := push(n.Children, here, at); err != nil {
			return nil, 0, err
		}
	}
	return out, otherModes, nil
}

// roots are the nodes of the chosen scene; without scenes, all that are no child.
func (g *glbFile) roots() ([]int, error) {
	if len(g.scenes) > 0 {
		i := 0
		if g.root.Scene != nil {
			i = *g.root.Scene
		}
		if i < 0 || i >= len(g.scenes) {
			return nil, badMesh(g.name, "scene", fmt.Sprintf("names scene %d of %d", i, len(g.scenes)), "export the scene again")
		}
		return g.scenes[i].Nodes, nil
	}
	child := make([]bool, len(g.nodes))
	for _, n := range g.nodes {
		for _, c := range n.Children {
			if c >= 0 && c < len(child) {
				child[c] = true
			}
		}
	}
	var out []int
	for i, c := range child {
		if !c {
			out = append(out, i)
		}
	}
	return out, nil
}

func (g *glbFile) meshPieces(i int, at string, skinned bool, place affine, out *[]glbPiece, otherModes *int) error {
	if i < 0 || i >= len(g.meshes) {
		return badMesh(g.name, at, fmt.Sprintf("names mesh %d of %d", i, len(g.meshes)), "export the scene again")
	}
	if skinned {
		return g.unsupported(at+": the mesh is bent by a skin", "export the part in its final shape")
	}
	if d := place.det(); d == 0 || math.IsInf(d, 0) || math.IsNaN(d) {
		return badMesh(g.name, at, "the placing flattens the mesh", "the scale must not be zero")
	}
	for k := range g.meshes[i] {
		p := glbPiece{place: place, prim: &g.meshes[i][k], where: fmt.Sprintf("meshes[%d].primitives[%d]", i, k)}
		if m := p.prim.Mode; m != nil && *m >= 0 && *m < 4 {
			*otherModes++
			continue
		}
		if len(p.prim.Targets) > 0 {
			return g.unsupported(p.where+": the mesh has morph targets", "export the part in its final shape")
		}
		if err := g.openPiece(&p); err != nil {
			return err
		}
		*out = append(*out, p)
	}
	return nil
}

// openPiece finds the numbers of a primitive and checks that they are there.
func (g *glbFile) openPiece(p *glbPiece) error {
	if p.prim.Attributes.Position == nil {
		return badMesh(g.name, p.where, "has no POSITION", "export the scene again")
	}
	var err error
	if p.points, err = g.numbers(*p.prim.Attributes.Position, "VEC3", p.where); err != nil {
		return err
	}
	if p.points.kind != 5126 {
		return g.unsupported(p.where+": positions are not 32-bit floating", "export without quantisation")
	}
	p.corners = p.points.count
	if p.prim.Indices != nil {
		n, err := g.numbers(*p.prim.Indices, "SCALAR", p.where)
		if err != nil {
			return err
		}
		if n.kind != 5121 && n.kind != 5123 && n.kind != 5125 {
			return badMesh(g.name, p.where, "indices are not unsigned whole numbers", "export the scene again")
		}
		p.indices, p.corners = &n, n.count
	}
	if m := p.prim.Mode; m != nil && (*m < 4 || *m > 6) {
		return badMesh(g.name, p.where, fmt.Sprintf("mode %d is not known", *m), "export triangles")
	}
	if (p.prim.Mode == nil || *p.prim.Mode == 4) && p.corners%3 != 0 {
		return badMesh(g.name, p.where, fmt.Sprintf("%d corners make no whole number of triangles", p.corners), "export the scene again")
	}
	return nil
}

func (p *glbPiece) triangles() int64 {
	if p.prim.Mode == nil || *p.prim.Mode == 4 {
		return p.corners / 3
	}
	return max(0, p.corners-2)
}

// glbNumbers is an accessor whose last byte is known to be in the file.
type glbNumbers struct {
	data   []byte
	stride int64
	count  int64
	kind   int
}

var gltfSizes = map[int]int64{5120: 1, 5121: 1, 5122: 2, 5123: 2, 5125: 4, 5126: 4}

// numbers checks an accessor. All sums are of values below 2^53, in 64 bits.
func (g *glbFile) numbers(i int, typ, from string) (glbNumbers, error) {
	bad := func(msg string) (glbNumbers, error) {
		return glbNumbers{}, badMesh(g.name, fmt.Sprintf("accessors[%d]", i), msg, "export the scene again")
	}
	if i < 0 || i >= len(g.accessors) {
		return glbNumbers{}, badMesh(g.name, from, fmt.Sprintf("names accessor %d of %d", i, len(g.accessors)), "export the scene again")
	}
	a := &g.accessors[i]
	size := gltfSizes[a.ComponentType]
	if typ == "VEC3" {
		size *= 3
	}
	const limit = 1 << 50
	switch {
	case size == 0:
		return bad(fmt.Sprintf("component type %d is not known", a.ComponentType))
	case a.Type != typ:
		return bad(fmt.Sprintf("is %q where %s is needed", shorten(a.Type), typ))
	case len(a.Sparse) > 0 || a.BufferView == nil:
		return glbNumbers{}, g.unsupported(fmt.Sprintf("accessors[%d] is sparse or has no data", i), "export without sparse accessors")
	case *a.BufferView < 0 || *a.BufferView >= len(g.views):
		return bad(fmt.Sprintf("names view %d of %d", *a.BufferView, len(g.views)))
	}
	v := &g.views[*a.BufferView]
	for _, n := range []int64{a.Count - 1, a.ByteOffset, v.ByteOffset, v.ByteLength - 1, v.ByteStride} {
		if n < 0 || n > limit {
			return bad("a count, length or offset is out of range")
		}
	}
	if v.Buffer != 0 || v.ByteOffset > int64(len(g.bin)) || v.ByteLength > int64(len(g.bin))-v.ByteOffset {
		return bad("its view lies outside the file")
	}
	stride := v.ByteStride
	if stride == 0 {
		stride = size
	}
	if stride < size || stride > 252 || a.ByteOffset > v.ByteLength-size || a.Count-1 > (v.ByteLength-size-a.ByteOffset)/stride {
		return bad(fmt.Sprintf("promises %d elements of %d bytes, which its view of %d bytes does not hold", a.Count, size, v.ByteLength))
	}
	from64 := v.ByteOffset + a.ByteOffset
	return glbNumbers{g.bin[from64 : v.ByteOffset+v.ByteLength], stride, a.Count, a.ComponentType}, nil
}

func (n *glbNumbers) index(i int64) int64 {
	b := n.data[i*n.stride:]
	switch n.kind {
	case 5121:
		return int64(b[0])
	case 5123:
		return int64(binary.LittleEndian.Uint16(b))
	}
	return int64(binary.LittleEndian.Uint32(b))
}

func (n *glbNumbers) point(i int64) geom.Vec {
	b := n.data[i*n.stride:]
	var p geom.Vec
	for k := range p {
		p[k] = float64(math.Float32frombits(binary.LittleEndian.Uint32(b[4*k:])))
	}
	return p
}

// readGLB puts all triangles of the scene into one mesh, in the file's own
// axes and metres.
func readGLB(name string, data []byte) (*mesh.Mesh, []diag.Note, error) {
	g, err := openGLB(name, data)
	if err != nil {
		return nil, nil, err
	}
	pieces, otherModes, err := g.pieces()
	if err != nil {
		return nil, nil, err
	}
	var points, triangles int64
	for i := range pieces {
		points += pieces[i].points.count
		triangles += pieces[i].triangles()
	}
	// a piece used many times must not fill the memory
	if limit := max(1<<17, int64(g.size)/4); points > limit || triangles > limit {
		return nil, nil, badMesh(name, "", fmt.Sprintf("%d points and %d triangles from a file of %d bytes: pieces are repeated too often", points, triangles, g.size),
			"export the part alone")
	}
	if triangles == 0 {
		return nil, nil, badMesh(name, "", "the scene has no triangles", "export the part as a triangle mesh")
	}
	m := &mesh.Mesh{Points: make([]geom.Vec, 0, points), Faces: make([][3]int32, 0, triangles)}
	for i := range pieces {
		if err := pieces[i].addTo(m, name); err != nil {
			return nil, nil, err
		}
	}
	setZones(m, pieces)
	var notes []diag.Note
	if otherModes > 0 {
		notes = append(notes, diag.Say("mesh.left-out", "{count} primitives of points or lines were left out", otherModes).Note(diag.Note{Severity: diag.Info, Where: name}))
	}
	return m, notes, nil
}

// addTo appends the piece. A placing that mirrors turns the corners round, so
// that outside stays outside.
func (p *glbPiece) addTo(m *mesh.Mesh, name string) error {
	first := int64(len(m.Points))
	for i := range p.points.count {
		q := p.place.apply(p.points.point(i))
		if !q.Finite() {
			return badMesh(name, p.where, fmt.Sprintf("position %d is not finite", i), "every coordinate must be finite")
		}
		m.Points = append(m.Points, q)
	}
	mirrored := p.place.det() < 0
	corner := func(i int64) int64 {
		if p.indices == nil {
			return i
		}
		return p.indices.index(i)
	}
	for i := range p.triangles() {
		at := [3]int64{3 * i, 3*i + 1, 3*i + 2}
		if mode := p.prim.Mode; mode != nil && *mode == 5 { // strip: every second one is turned
			at = [3]int64{i, i + 1 + i%2, i + 2 - i%2}
		} else if mode != nil && *mode == 6 { // fan
			at = [3]int64{i + 1, i + 2, 0}
		}
		var t [3]int32
		for k, c := range at {
			v := corner(c)
			if v >= p.points.count {
				return badMesh(name, p.where, fmt.Sprintf("a triangle names point %d of %d", v, p.points.count), "export the scene again")
			}
			t[k] = int32(first + v)
		}
		if mirrored {
			t[1], t[2] = t[2], t[1]
		}
		m.Faces = append(m.Faces, t)
	}
	return nil
}

// setZones labels the faces when every primitive carries a whole number
// extras.zone, as WriteGLB leaves it; otherwise the mesh has no labels.
func setZones(m *mesh.Mesh, pieces []glbPiece) {
	label := make([]int32, 0, len(m.Faces))
	for i := range pieces {
		var extras struct {
			Zone *int32 `json:"zone"`
		}
		if json.Unmarshal(pieces[i].prim.Extras, &extras) != nil || extras.Zone == nil {
			return
		}
		for range pieces[i].triangles() {
			label = append(label, *extras.Zone)
		}
	}
	m.Label = label
}
