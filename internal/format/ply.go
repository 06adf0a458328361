package format

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// plyReader collects the mesh.
type plyReader struct {
	name     string
	src      plySource
	m        *mesh.Mesh
	vertices int64     // promised by the header
	list     []float64 // the list just read
	polys    []plyPolygon
}

// plyPolygon is a face of more than three corners, kept until all points are known.
type plyPolygon struct {
	first int // index of its first triangle
	n     int // triangles
	where filePlace
}

func readPLY(name string, data []byte) (*mesh.Mesh, []diag.Note, error) {
	h, err := parsePLYHeader(name, data)
	if err != nil {
		return nil, nil, err
	}
	r := &plyReader{name: name, m: &mesh.Mesh{}}
	if h.binary {
		r.src = &binaryPLY{name: name, data: data, at: h.size, order: h.order}
	} else {
		r.src = &textPLY{name: name, data: data[h.size:], line: h.lines}
	}
	for _, e := range h.elements {
		if e.name == "vertex" {
			r.vertices = e.count
		}
	}
	for i := range h.elements {
		if err := r.element(&h.elements[i], h.binary); err != nil {
			return nil, nil, err
		}
	}
	if r.src.rest() {
		return nil, nil, badMesh(name, r.src.where().String(), "the file goes on after its last element", "a count in the header is too small, or a type is wrong")
	}
	if len(r.m.Points) == 0 || len(r.m.Faces) == 0 {
		return nil, nil, badMesh(name, "", "the file has no surface", "elements vertex and face are needed")
	}
	if err := r.checkPolygons(); err != nil {
		return nil, nil, err
	}
	return r.m, r.notes(), nil
}

func (r *plyReader) notes() []diag.Note { return splitNotes(r.name, len(r.polys)) }

// splitNotes tells that polygons were cut into triangles.
func splitNotes(name string, polygons int) []diag.Note {
	if polygons == 0 {
		return nil
	}
	return []diag.Note{diag.Say("mesh.polygons-split", "{faces} faces of more than three corners were split into triangles from their first corner", polygons).Note(diag.Note{Severity: diag.Info, Where: name})}
}

// element reads all elements of one kind, after checking that they fit.
func (r *plyReader) element(e *plyElement, binary bool) error {
	if len(e.props) == 0 {
		if e.count == 0 {
			return nil
		}
		return badMesh(r.name, "", fmt.Sprintf("element %s has no properties", shorten(e.name)), "declare its properties, or leave it out")
	}
	// the last row of a text file may lack its line end
	if room := int64(r.src.left()) + 1; e.count > room/e.leastBytes(binary) || e.count > math.MaxInt32/3 {
		return badMesh(r.name, r.src.where().String(),
			fmt.Sprintf("the header promises %d of element %s, but only %d bytes follow", e.count, shorten(e.name), r.src.left()),
			"the file is cut off, or the count is wrong")
	}
	row, err := r.rowReader(e)
	if err != nil {
		return err
	}
	for range e.count {
		if err := r.src.startRow(); err != nil {
			return err
		}
		if err := row(); err != nil {
			return err
		}
		if err := r.src.endRow(); err != nil {
			return err
		}
	}
	return nil
}

func (r *plyReader) rowReader(e *plyElement) (func() error, error) {
	switch e.name {
	case "vertex":
		return r.vertexReader(e)
	case "face":
		return r.faceReader(e)
	}
	return func() error {
		for i := range e.props {
			if _, err := r.property(&e.props[i]); err != nil {
				return err
			}
		}
		return nil
	}, nil
}

// property reads one value, or a list into r.list.
func (r *plyReader) property(p *plyProperty) (float64, error) {
	if !p.list {
		return r.src.value(p.typ)
	}
	where := r.src.where()
	n, err := r.src.value(p.count)
	if err != nil {
		return n, err
	}
	least := float64(p.typ.size)
	if _, text := r.src.(*textPLY); text {
		least = 1
	}
	if n < 0 || n*least > float64(r.src.left()) {
		return n, badMesh(r.name, where.String(), fmt.Sprintf("a list of %.0f values does not fit into the %d bytes that follow", n, r.src.left()),
			"the file is cut off, or a type or the byte order is wrong")
	}
	r.list = r.list[:0]
	for range int(n) {
		v, err := r.src.value(p.typ)
		if err != nil {
			return v, err
		}
		r.list = append(r.list, v)
	}
	return n, nil
}

func (r *plyReader) vertexReader(e *plyElement) (func() error, error) {
	var axis [3]int
	for k, n := range []string{"x", "y", "z"} {
		axis[k] = e.property(n)
		if axis[k] < 0 || e.props[axis[k]].list {
			return nil, badMesh(r.name, "", "element vertex has no single property "+n, "properties x, y and z are needed")
		}
	}
	r.m.Points = make([]geom.Vec, 0, e.count)
	return func() error {
		where, p := r.src.where(), geom.Vec{}
		for i := range e.props {
			v, err := r.property(&e.props[i])
			if err != nil {
				return err
			}
			for k := range 3 {
				if axis[k] == i {
					p[k] = v
				}
			}
		}
		r.m.Points = append(r.m.Points, p)
		if !p.Finite() {
			return finiteVec(r.name, where.String(), p)
		}
		return nil
	}, nil
}

func (r *plyReader) faceReader(e *plyElement) (func() error, error) {
	corners, zone := e.property("vertex_indices", "vertex_index"), e.property("zone")
	if corners < 0 || !e.props[corners].list || e.props[corners].typ.floating {
		return nil, badMesh(r.name, "", "element face has no list of whole numbers vertex_indices", "expected property list uchar int vertex_indices")
	}
	if zone >= 0 && (e.props[zone].list || e.props[zone].typ.floating) {
		return nil, badMesh(r.name, "", "property zone is not a whole number", "expected property int zone")
	}
	r.m.Faces = make([][3]int32, 0, e.count)
	if zone >= 0 {
		r.m.Label = make([]int32, 0, e.count)
	}
	return func() error {
		where, before, label := r.src.where(), len(r.m.Faces), 0.0
		for i := range e.props {
			v, err := r.property(&e.props[i])
			if err != nil {
				return err
			}
			if i == zone {
				label = v
			}
			if i == corners {
				if err := r.addFace(where); err != nil {
					return err
				}
			}
		}
		if zone < 0 {
			return nil
		}
		if label > math.MaxInt32 {
			return badMesh(r.name, where.String(), fmt.Sprintf("zone %.0f is too large", label), "zones are numbered up to 2147483647")
		}
		for range len(r.m.Faces) - before {
			r.m.Label = append(r.m.Label, int32(label))
		}
		return nil
	}, nil
}

// addFace takes the corners in r.list; more than three become a fan.
func (r *plyReader) addFace(where filePlace) error {
	n := len(r.list)
	if n < 3 {
		return badMesh(r.name, where.String(), fmt.Sprintf("a face of %d corners", n), "a face has at least three corners")
	}
	for _, v := range r.list {
		if v < 0 || v >= float64(r.vertices) {
			return badMesh(r.name, where.String(), fmt.Sprintf("a face names vertex %.0f of %d", v, r.vertices), "vertices are numbered from 0")
		}
	}
	if n > 3 {
		r.polys = append(r.polys, plyPolygon{len(r.m.Faces), n - 2, where})
	}
	for i := 1; i+1 < n; i++ {
		r.m.Faces = append(r.m.Faces, [3]int32{int32(r.list[0]), int32(r.list[i]), int32(r.list[i+1])})
	}
	return nil
}

// checkPolygons refuses polygons that a fan from the first corner does not
// cover: those with a triangle turned against the polygon's own normal.
func (r *plyReader) checkPolygons() error {
	for _, p := range r.polys {
		var sum geom.Vec
		normal := func(f int) geom.Vec {
			t := r.m.Faces[f]
			a, b, c := r.m.Points[t[0]], r.m.Points[t[1]], r.m.Points[t[2]]
			return b.Sub(a).Cross(c.Sub(a))
		}
		for f := p.first; f < p.first+p.n; f++ {
			sum = sum.Add(normal(f))
		}
		for f := p.first; f < p.first+p.n; f++ {
			if normal(f).Dot(sum) < 0 {
				return badMesh(r.name, p.where.String(), "a face of more than three corners is not convex", "export triangles")
			}
		}
	}
	return nil
}

// WritePLY is the mesh as a binary PLY file, least byte first, in millimetres:
// coordinates rounded to float32, or in full where that would make two points
// one, triangles, and the label as property zone when the mesh carries labels.
func WritePLY(m *mesh.Mesh) []byte { return writePLY(m, tooFine(m.Points)) }

// WritePLYFull is WritePLY with all coordinates in full: what is read from it is the
// same mesh to the bit.
func WritePLYFull(m *mesh.Mesh) []byte { return writePLY(m, true) }

func writePLY(m *mesh.Mesh, full bool) []byte {
	kind, size, put := "float", 12, putFloat32
	if full {
		kind, size, put = "double", 24, putFloat64
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, "ply\nformat binary_little_endian 1.0\ncomment lengths in millimetres\n")
	fmt.Fprintf(&b, "element vertex %d\nproperty %s x\nproperty %[2]s y\nproperty %[2]s z\n", len(m.Points), kind)
	fmt.Fprintf(&b, "element face %d\nproperty list uchar int vertex_indices\n", len(m.Faces))
	if m.Label != nil {
		b.WriteString("property int zone\n")
	}
	b.WriteString("end_header\n")
	out := append(make([]byte, 0, b.Len()+size*len(m.Points)+17*len(m.Faces)), b.Bytes()...)
	for _, p := range m.Points {
		for _, v := range p {
			out = put(out, v)
		}
	}
	for f, t := range m.Faces {
		out = append(out, 3)
		for _, v := range t {
			out = putUint32(out, uint32(v))
		}
		if m.Label != nil {
			out = putUint32(out, uint32(m.Label[f]))
		}
	}
	return out
}

// tooFine says that rounding to float32 makes two different points one.
func tooFine(points []geom.Vec) bool {
	full, rounded := mesh.NewWelder(len(points)), mesh.NewWelder(len(points))
	for _, p := range points {
		var q geom.Vec
		for k, v := range p {
			q[k] = float64(float32(v))
		}
		if full.Add(p) != rounded.Add(q) {
			return true
		}
	}
	return false
}

func putFloat64(b []byte, v float64) []byte {
	return binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
}
