package app

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/format"
	"fettle/internal/geom"
)

func codes(notes []diag.Note) (out []string) {
	for _, n := range notes {
		out = append(out, n.Code)
	}
	return out
}

// A trace on a flat sheet is as long as the straight way; on a block round an edge both ways are
// known by unfolding it. Vertices are those of the file, in its order.
func TestTraceOnAFile(t *testing.T) {
	flat := sheet(0)
	flat.Points, flat.Faces = append(flat.Points[:4:4], geom.Vec{5, 5, 5}), flat.Faces[:2]
	m := blockFiles()
	m["flat.ply"], m["seam.ply"] = format.WritePLYFull(flat), format.WritePLYFull(sheet(0.1))
	a := New(m, "test")
	diagonal := 10 * math.Sqrt2
	for name, c := range map[string]struct {
		file               string
		o                  TraceOptions
		length, chord, off float64
		kept               int
		notes              string
		says               string
	}{
		"from corner to corner": {"flat.ply", TraceOptions{Vertices: []int{0, 2}}, diagonal, diagonal, 0, 2, "", "14.1 mm"},
		"two points":            {"flat.ply", TraceOptions{At: []geom.Vec{{1, 2, 0}, {7, 10, 3}}}, 10, 10, 3, 2, "", "the farthest by 3 mm (point 2)"},
		"three points":          {"flat.ply", TraceOptions{At: []geom.Vec{{1, 2, 0}, {4, 6, 0}, {7, 10, 0}}}, 10, 10, 0, 3, "trace.no-std", "no standard uncertainty is given"},
		"three vertices":        {"flat.ply", TraceOptions{Vertices: []int{0, 1, 2}}, 20, diagonal, 0, 3, "inspect.bends-between-points", "through 3 of 3 points"},
		"beside a seam":         {"seam.ply", TraceOptions{At: []geom.Vec{{1, 2, 0}, {4, 6, 0}}}, 5, 5, 0, 2, format.NoteSeams, ""},
		// from the front round the right edge: 3 mm to it, 4 mm from it, 7 mm in height
		"round an edge": {"block.ply", TraceOptions{At: []geom.Vec{{7, 0, 10}, {10, 4, 17}}}, 7 * math.Sqrt2, math.Sqrt(9 + 16 + 49), 0, 2, "", "proven the shortest"},
	} {
		c.o.Unit = "mm"
		r, err := a.TraceFile(t.Context(), c.file, c.o)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		text := r.Text(Column{Width: 200})
		if !nearly(r.LengthMM, c.length) || !nearly(r.ChordMM, c.chord) || (r.StdMM == 0) != (name != "three vertices") || r.PointsKept != c.kept || len(r.OffMM) != len(c.o.At)+len(c.o.Vertices) || !nearly(r.OffMM[len(r.OffMM)-1], c.off) ||
			strings.Join(codes(r.Notes), " ") != c.notes || !strings.Contains(text, c.says) || (c.off == 0) == strings.Contains(text, "were put on the surface") {
			t.Errorf("%s: %+v\n%s", name, r, text)
		}
	}
	for name, c := range map[string]struct {
		file string
		o    TraceOptions
		want string
	}{
		"no file":       {"none.ply", TraceOptions{Unit: "mm", Vertices: []int{0, 1}}, "none.ply"},
		"no mesh":       {"broken.ply", TraceOptions{Unit: "mm", Vertices: []int{0, 1}}, "broken.ply"},
		"no unit":       {"flat.ply", TraceOptions{Vertices: []int{0, 1}}, "flat.ply"},
		"beyond":        {"flat.ply", TraceOptions{Unit: "mm", Vertices: []int{0, 5}}, "flat.ply: there is no vertex 5; vertices are numbered from 0 to 4 in the order of the file"},
		"before":        {"flat.ply", TraceOptions{Unit: "mm", Vertices: []int{-1, 1}}, "flat.ply: there is no vertex -1; vertices are numbered from 0 to 4"},
		"in the air":    {"flat.ply", TraceOptions{Unit: "mm", Vertices: []int{0, 4}}, "flat.ply: no triangle uses vertex 4; choose a vertex on the surface"},
		"a single one":  {"flat.ply", TraceOptions{Unit: "mm", Vertices: []int{0}}, "flat.ply: "},
		"between parts": {"seam.ply", TraceOptions{Unit: "mm", Vertices: []int{0, 5}}, "seam.ply: "},
	} {
		if _, err := a.TraceFile(t.Context(), c.file, c.o); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// A trace with a standard uncertainty says so, and tells no more that none is given.
func TestTraceSaysItsUncertainty(t *testing.T) {
	a := New(memory{"flat.ply": format.WritePLYFull(sheet(0))}, "test")
	r, err := a.TraceFile(t.Context(), "flat.ply", TraceOptions{Unit: "mm", StdMM: 0.1, At: []geom.Vec{{1, 2, 0}, {4, 6, 0}, {7, 10, 0}}})
	// both ends move by 0.1 mm along the way: the root of two times that
	if err != nil || r.StdMM < 0.14 || r.StdMM > 0.15 || strings.Contains(strings.Join(codes(r.Notes), " "), "trace.no-std") || !strings.Contains(r.Text(plain), "mm ± 0.") {
		t.Errorf("%v\n%s", err, r.Text(plain))
	}
}

// What a draft of zones is asked for has limits; at each it is refused or taken as the words say.
func TestLimitsOfFoundZones(t *testing.T) {
	a := New(blockFiles(), "test")
	nan := math.NaN()
	for _, c := range []struct {
		sharp, tol, wall, share float64
		want                    string
	}{
		{0, 1, 0, 0, "the angle must lie above 0"}, {180, 1, 0, 0, "the angle must"}, {nan, 1, 0, 0, "the angle must"},
		{30, 0, 0, 0, "the tolerance must lie above 0"}, {30, 1000, 0, 0, "the tolerance must"}, {30, nan, 0, 0, "the tolerance must"},
		{30, 1, -1e-9, 0, "the thickness must"}, {30, 1, 1000, 0, "the thickness must"}, {30, 1, nan, 0, "the thickness must"},
		{30, 1, 0, -1e-9, "the share must lie between 0 and 1"}, {30, 1, 0, 1.000001, "the share must"}, {30, 1, 0, nan, "the share must"},
		{179.9, 999.9, 999.9, 1, ""}, {30, 1, 0, 0, ""},
	} {
		_, err := a.FindZones(t.Context(), "block.ply", "block.ply", "mm", c.sharp, c.tol, c.wall, c.share)
		if c.want == "" && err != nil || c.want != "" && (errorKind(err) != diag.Usage || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%v: %v", c, err)
		}
	}
	for file, want := range map[string]string{"none.ply": "none.ply", "broken.ply": "broken.ply"} {
		if _, err := a.FindZones(t.Context(), file, file, "mm", 30, 1, 0, 0); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", file, err)
		}
	}
}

// The sides of a block are its zones: found, drafted, made as drafted, and drawn. A side is a zone
// from its share of the surface on.
func TestZonesOfABlock(t *testing.T) {
	m := blockFiles()
	a := New(m, "test")
	sides := []float64{600, 600, 300, 300, 200, 200} // mm2, the largest first; 2200 in all
	for share, n := range map[float64]int{0: 6, 200. / 2200: 6, 201. / 2200: 4, 300. / 2200: 4, 301. / 2200: 2, 601. / 2200: 0} {
		f, err := a.FindZones(t.Context(), "block.ply", "in/block.ply", "mm", 30, 1, 0, share)
		if err != nil {
			t.Fatal(err)
		}
		zones := 0
		for _, z := range f.Zones {
			if len(z.At) > 0 {
				zones++
			}
		}
		if zones != n || len(f.Regions) != 6 || len(f.Bores) != 0 || f.AreaMM2 != 2200 || (f.Draft != nil) != (n > 0) {
			t.Errorf("%v: %d zones, want %d; %d regions, draft of %d bytes", share, zones, n, len(f.Regions), len(f.Draft))
		}
		for i, r := range f.Regions {
			if r.AreaMM2 != sides[i] || r.Faces != 2 {
				t.Errorf("region %d: %+v", i, r)
			}
		}
		if n == 2 {
			svg, err := f.Picture()
			if drawn := wellFormed(t, svg, err); !strings.Contains(drawn, ">2 zones.<") || !strings.Contains(drawn, ">"+string(f.Zones[0].ID)+"<") {
				t.Errorf("drawn is %.3000s", drawn)
			}
		}
		if share != 0 {
			continue
		}
		m["draft.yaml"], m["in/block.ply"] = f.Draft, m["block.ply"]
		if text := f.Text(Column{Width: 100}, 2); !strings.Contains(text, "6 regions between sharp edges, 22.0 cm2 in all") || !strings.Contains(text, "and 4 more regions") {
			t.Errorf("told is\n%s", text)
		}
	}
	made, err := a.MakeZones(t.Context(), "draft.yaml", "zoned.ply", func(string) error { return nil })
	if err != nil || made.Mesh != "in/block.ply" || !IsMadeZones(made.YAML) || IsMadeZones(made.PLY) || !strings.Contains(string(made.YAML), "mesh: zoned.ply") {
		t.Fatalf("%s: %v", made.YAML, err)
	}
	back, _, err := format.ReadMesh("zoned.ply", made.PLY, "mm")
	if err != nil {
		t.Fatal(err)
	}
	var areas []float64
	for _, z := range labelAreas(back) {
		areas = append(areas, z.AreaMM2)
		if z.Triangles != 2 {
			t.Errorf("%+v", z)
		}
	}
	if !reflect.DeepEqual(sortedDown(areas), sides) {
		t.Errorf("zones of %v mm2", areas)
	}
	if text := made.String(); !strings.HasPrefix(text, "12 triangles, 6 zones, 0 holes\n") || strings.Count(text, "6.0 cm2, 2 triangles, 1 piece\n") != 2 || strings.Count(text, "\n") != 7 {
		t.Errorf("told is\n%s", text)
	}
}

// A recipe is refused with its place: a mesh that is none is told of only where it lies below the
// recipe, and what is not called like a mesh is not looked at.
func TestMeshOfARecipe(t *testing.T) {
	m := blockFiles()
	m["r/broken.ply"], m["r/secret.txt"] = m["broken.ply"], []byte("secret")
	recipe := func(file, unit string) []byte {
		return fmt.Appendf(nil, "format: fettle-zones 1\nmesh: %s\nmesh_unit: %s\nzones: [{id: A, label: 1, name: A}]\nrest: A\n", file, unit)
	}
	refused := &diag.Error{Kind: diag.Denied, Op: "write", Subject: "there", Msg: "may not be written"}
	a := New(m, "test")
	may := func(string) error { return nil }
	for name, c := range map[string]struct {
		text []byte
		kind diag.Kind
		want string
		may  func(string) error
	}{
		"beside":       {recipe("../block.ply", "mm"), 0, "", may},
		"the root":     {recipe("/block.ply", "mm"), diag.NotFound, "/block.ply: cannot be read; correct 'mesh' in r/z.yaml", may},
		"not there":    {recipe("none.ply", "mm"), diag.NotFound, "r/none.ply: cannot be read; correct 'mesh' in r/z.yaml", may},
		"no mesh":      {recipe("broken.ply", "mm"), diag.Invalid, "broken.ply", may},
		"outside":      {recipe("../broken.ply", "mm"), diag.Denied, "broken.ply: cannot be read as a mesh; as it does not lie beside the recipe nothing of it is told", may},
		"another kind": {recipe("secret.txt", "mm"), diag.Denied, "r/secret.txt: is not called like a mesh; nothing of it was looked at; correct 'mesh' in r/z.yaml: a mesh ends in .stl, .ply, .obj, .glb", may},
		"no unit":      {recipe("../block.ply", "ell"), diag.Internal, "r/z.yaml:3", may},
		"not to write": {recipe("../block.ply", "mm"), diag.Denied, "may not be written", func(file string) error {
			if file != "block.ply" {
				t.Errorf("asked for %s", file)
			}
			return refused
		}},
		"no zone there": {append(recipe("../block.ply", "mm"), "steps: [{do: grow, zone: A, from_mm: [[500, 0, 0]]}]\n"...), diag.Internal, "r/z.yaml:6", may},
	} {
		m["r/z.yaml"] = c.text
		made, err := a.MakeZones(t.Context(), "r/z.yaml", "zoned.ply", c.may)
		if c.want == "" {
			if err != nil || made.Mesh != "block.ply" || !strings.Contains(string(made.YAML), "from the zone recipe z.yaml (SHA-256 "+digest(c.text)+")\n# and block.ply (SHA-256 "+digest(m["block.ply"])+")") {
				t.Errorf("%s: %s, %v", name, made.YAML, err)
			}
			svg, err := made.Picture()
			if drawn := wellFormed(t, svg, err); !strings.Contains(drawn, ">1 zone.<") {
				t.Errorf("drawn is %.3000s", drawn)
			}
			continue
		}
		if err == nil || errorKind(err) != c.kind || !strings.Contains(err.Error(), c.want) || made.PLY != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := a.MakeZones(t.Context(), "none.yaml", "zoned.ply", may); errorKind(err) != diag.NotFound || !strings.Contains(err.Error(), "none.yaml") {
		t.Errorf("no recipe: %v", err)
	}
	for name, is := range map[string]bool{"a.STL": true, "a.ply": true, "a.Obj": true, "a.glb": true, "a.plyx": false, "ply": false, "": false} {
		if (meshNamed(name, "r") == nil) != is {
			t.Errorf("%q is a mesh: %v", name, !is)
		}
	}
}

// What a mesh file is: counts, sides and volume by hand, for a block, a shell and two zones.
func TestMeshOfAFile(t *testing.T) {
	m := blockFiles()
	zoned := block(10, 20, 30)
	zoned.Label = []int32{7, 7, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2}
	m["zoned.ply"] = format.WritePLYFull(zoned)
	a := New(m, "test")
	volume := func(v float64) *float64 { return &v }
	for file, want := range map[string]MeshResult{
		"block.ply": {Points: 8, Triangles: 12, Pieces: 1, Max: geom.Vec{10, 20, 30}, AreaMM2: 2200, Closed: true, VolumeMM3: volume(6000)},
		"open.ply":  {Points: 8, Triangles: 10, Pieces: 1, Max: geom.Vec{10, 20, 30}, AreaMM2: 2000, Holes: 1, OpenEdges: 4},
		"zoned.ply": {Points: 8, Triangles: 12, Pieces: 1, Max: geom.Vec{10, 20, 30}, AreaMM2: 2200, Closed: true, VolumeMM3: volume(6000), Zones: []MeshZone{{2, 10, 2000}, {7, 2, 200}}},
	} {
		want.File, want.SeamPlaces, want.ContactPlaces = file, []MeshSeam{}, []MeshContact{}
		if want.Zones == nil {
			want.Zones = []MeshZone{}
		}
		r, err := a.MeshFile(t.Context(), file, "mm")
		notes := r.Notes
		r.Notes = nil
		if err != nil || notes == nil || !reflect.DeepEqual(r, want) {
			t.Errorf("%+v, want %+v: %v", r, want, err)
		}
		glb, err := a.MeshGLB(t.Context(), file, "mm")
		if err != nil {
			t.Fatal(err)
		}
		if back, _, err := format.ReadMesh("b.glb", glb, ""); err != nil || math.Abs(back.AreaMM2()-want.AreaMM2) > 1e-3 || len(labelAreas(back)) != len(want.Zones) {
			t.Errorf("%s as GLB: %v mm2, %v: %v", file, back.AreaMM2(), labelAreas(back), err)
		}
	}
	for _, file := range []string{"none.ply", "broken.ply"} {
		if _, err := a.MeshFile(t.Context(), file, "mm"); err == nil || !strings.Contains(err.Error(), file) {
			t.Errorf("%v", err)
		}
		if _, err := a.MeshGLB(t.Context(), file, "mm"); err == nil || !strings.Contains(err.Error(), file) {
			t.Errorf("%v", err)
		}
	}
}

// An error of a mesh gets the name of the file, and keeps one that it has.
func TestErrorsNameTheFile(t *testing.T) {
	for subject, want := range map[string]string{"mesh": "f.ply", "surface": "f.ply", "other": "other"} {
		of := &diag.Error{Kind: diag.Denied, Op: "cut", Subject: subject, Msg: "m"}
		if got, ok := named("f.ply", of).(*diag.Error); !ok || got.Subject != want || got.Kind != diag.Denied || of.Subject != subject {
			t.Errorf("%s: %v", subject, got)
		}
	}
	if got, ok := named("f.ply", fmt.Errorf("short")).(*diag.Error); !ok || got.Subject != "f.ply" || got.Kind != diag.Invalid || got.Msg != "short" {
		t.Errorf("%v", got)
	}
}

// The first lines of a list are printed, and how many more there are, from one more on.
func TestLongListsAreCut(t *testing.T) {
	for n, rest := range map[int]string{mendShown - 1: "", mendShown: "", mendShown + 1: "1 more", mendShown + 30: "30 more"} {
		var b strings.Builder
		listed(&b, plain, n, func(i int) string { return fmt.Sprintf("line %d.", i) })
		if text := b.String(); strings.Count(text, "line ") != min(n, mendShown) || !strings.Contains(text, rest) || (rest == "") == strings.Contains(text, "more") {
			t.Errorf("%d: %s", n, text)
		}
	}
}

func sortedDown(v []float64) []float64 {
	for i := range v {
		for k := i; k > 0 && v[k] > v[k-1]; k-- {
			v[k], v[k-1] = v[k-1], v[k]
		}
	}
	return v
}
