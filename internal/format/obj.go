package format

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// An OBJ file is text: lines "v x y z" are points, lines "f i j k ..." are
// polygons. Points are numbered from 1 in order; a negative number counts back
// from the last point read so far. The format carries no unit and no axes.
// Everything else (normals, texture, groups, materials, lines) says nothing
// about the surface and is left out with a note.
//
// Source: Wavefront OBJ specification, appendix B1 of the Advanced Visualizer
// manual, as commonly read; from memory.

// objLeftOut are the statements that do not change the surface.
var objLeftOut = []string{"vn", "vt", "vp", "g", "o", "s", "mg", "usemtl", "mtllib", "usemap", "maplib",
	"l", "p", "lod", "bevel", "c_interp", "d_interp", "shadow_obj", "trace_obj"}

// objReader collects the mesh; counts come from a first pass, so that memory
// is taken once and is bounded by the lines that are there.
type objReader struct {
	name    string
	m       *mesh.Mesh
	line    int
	leftOut map[string]int
	polys   []plyPolygon
	corners []int64
	points  int // in the whole file
}

// isOBJ says that the first line with a word on it begins with a word of OBJ.
func isOBJ(data []byte) bool {
	if bytes.IndexByte(data[:min(len(data), 1024)], 0) >= 0 {
		return false
	}
	for rest := data; len(rest) > 0; {
		var key []byte
		key, _, rest = objLine(rest)
		if key == nil {
			continue
		}
		k := string(key)
		return k == "v" || k == "f" || objKnows(k)
	}
	return false
}

func objKnows(key string) bool {
	for _, k := range objLeftOut {
		if k == key {
			return true
		}
	}
	return false
}

// objLine cuts the next line off: its first word, and what follows it. A line
// without a word, or a comment, has a nil key.
func objLine(data []byte) (key, args, rest []byte) {
	row, rest, _ := bytes.Cut(data, []byte("\n"))
	if i := bytes.IndexByte(row, '#'); i >= 0 {
		row = row[:i]
	}
	row = bytes.TrimSpace(row)
	if len(row) == 0 {
		return nil, nil, rest
	}
	if i := bytes.IndexAny(row, " \t"); i >= 0 {
		return row[:i], bytes.TrimSpace(row[i:]), rest
	}
	return row, nil, rest
}

// word cuts the next word off.
func word(args []byte) (w, rest []byte) {
	i := 0
	for i < len(args) && args[i] != ' ' && args[i] != '\t' {
		i++
	}
	w, rest = args[:i], args[i:]
	for len(rest) > 0 && (rest[0] == ' ' || rest[0] == '\t') {
		rest = rest[1:]
	}
	return w, rest
}

// tooLarge says that points, or corners of triangles, have no numbers of 32 bits.
func tooLarge(points, triangles int) bool {
	return points > math.MaxInt32 || triangles > math.MaxInt32/3
}

func readOBJ(name string, data []byte) (*mesh.Mesh, []diag.Note, error) {
	r := &objReader{name: name, m: &mesh.Mesh{}, leftOut: map[string]int{}}
	points, triangles := countOBJ(data)
	if tooLarge(points, triangles) {
		return nil, nil, badMesh(name, "", "too many points or faces", "reduce the mesh")
	}
	r.points = points
	r.m.Points = make([]geom.Vec, 0, points)
	r.m.Faces = make([][3]int32, 0, triangles)
	for rest := data; len(rest) > 0; {
		var key, args []byte
		key, args, rest = objLine(rest)
		r.line++
		if key == nil {
			continue
		}
		if err := r.statement(string(key), args); err != nil {
			return nil, nil, err
		}
	}
	if len(r.m.Points) == 0 || len(r.m.Faces) == 0 {
		return nil, nil, badMesh(name, "", "the file has no surface", "lines v (points) and f (faces) are needed")
	}
	if err := (&plyReader{name: r.name, m: r.m, polys: r.polys}).checkPolygons(); err != nil {
		return nil, nil, err
	}
	return r.m, r.notes(), nil
}

// countOBJ is the number of points and of triangles, polygons cut into a fan.
func countOBJ(data []byte) (points, triangles int) {
	for rest := data; len(rest) > 0; {
		var key, args []byte
		key, args, rest = objLine(rest)
		switch string(key) {
		case "v":
			points++
		case "f":
			n := 0
			for len(args) > 0 {
				_, args = word(args)
				n++
			}
			triangles += max(0, n-2)
		}
	}
	return points, triangles
}

func (r *objReader) fail(msg, hint string) error { return badMesh(r.name, atLine(r.line), msg, hint) }

func (r *objReader) statement(key string, args []byte) error {
	if n := len(args); n > 0 && args[n-1] == '\\' {
		return r.fail("the line goes on after a backslash, which is not read", "write each statement on one line")
	}
	switch {
	case key == "v":
		return r.vertex(args)
	case key == "f":
		return r.face(args)
	case objKnows(key):
		r.leftOut[key]++
		return nil
	}
	return r.fail(fmt.Sprintf("statement %q is not read", shorten(key)), "export a polygon mesh, without curves or free-form surfaces")
}

// vertex reads x y z, and passes over a weight (4 numbers) or a colour (6 or 7).
func (r *objReader) vertex(args []byte) error {
	var p geom.Vec
	n := 0
	for ; len(args) > 0; n++ {
		var w []byte
		w, args = word(args)
		v, err := strconv.ParseFloat(string(w), 64)
		if err != nil {
			return r.fail(fmt.Sprintf("%q is not a number", shorten(string(w))), "expected a number such as 12.5")
		}
		if n < 3 {
			p[n] = v
		}
	}
	if n != 3 && n != 4 && n != 6 && n != 7 {
		return r.fail(fmt.Sprintf("a point of %d numbers", n), "expected v and three coordinates")
	}
	r.m.Points = append(r.m.Points, p)
	return finiteVec(r.name, atLine(r.line), p)
}

// face reads one polygon; more than three corners become a fan. A number may
// name a point that comes later in the file.
func (r *objReader) face(args []byte) error {
	r.corners = r.corners[:0]
	for len(args) > 0 {
		var w []byte
		w, args = word(args)
		if err := r.corner(string(w)); err != nil {
			return err
		}
	}
	n := len(r.corners)
	if n < 3 {
		return r.fail(fmt.Sprintf("a face of %d corners", n), "a face has at least three corners")
	}
	if n > 3 {
		r.polys = append(r.polys, plyPolygon{len(r.m.Faces), n - 2, filePlace{"line", r.line}})
	}
	c := r.corners
	for i := 1; i+1 < n; i++ {
		r.m.Faces = append(r.m.Faces, [3]int32{int32(c[0]), int32(c[i]), int32(c[i+1])})
	}
	return nil
}

// corner takes one corner "i", "i/t", "i//n" or "i/t/n" as the number of its point from zero.
func (r *objReader) corner(w string) error {
	first, _, _ := strings.Cut(w, "/")
	i, err := strconv.ParseInt(first, 10, 64)
	switch {
	case err != nil:
		return r.fail(fmt.Sprintf("%q names no point", shorten(w)), "expected a whole number such as 12 or 12/3/4")
	case i == 0:
		return r.fail("a face names point 0", "points are numbered from 1, or from -1 backwards")
	case i < 0 && -i > int64(len(r.m.Points)):
		return r.fail(fmt.Sprintf("a face names point %d, but only %d were read before", i, len(r.m.Points)),
			"a negative number counts back from the last point so far")
	case i < 0:
		i += int64(len(r.m.Points)) + 1
	case i > int64(r.points):
		return r.fail(fmt.Sprintf("a face names point %d of %d", i, r.points), "points are numbered from 1")
	}
	r.corners = append(r.corners, i-1)
	return nil
}

func (r *objReader) notes() []diag.Note {
	out := splitNotes(r.name, len(r.polys))
	var words []string
	for _, k := range objLeftOut {
		if n := r.leftOut[k]; n > 0 {
			words = append(words, unit.Count(n, "line")+" "+strconv.Quote(k))
		}
	}
	if len(words) > 0 {
		out = append(out, diag.Say("mesh.left-out", "lines that say nothing about the surface were left out: {lines}", strings.Join(words, ", ")).Note(diag.Note{Severity: diag.Info, Where: r.name}))
	}
	return out
}
