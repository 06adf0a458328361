package format

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"strings"
	"testing"

	"fettle/internal/diag"
)

// triangle is the least PLY file, with more lines in its header before the elements, behind
// their properties, and other rows.
func triangle(before, vertex, face, rows string) []byte {
	return []byte("ply\nformat ascii 1.0\n" + before + "element vertex 3\nproperty float x\nproperty float y\nproperty float z\n" + vertex +
		"element face 1\nproperty list uchar int vertex_indices\n" + face + "end_header\n" + rows)
}

const triangleRows = "0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n"

// properties is so many lines of the header.
func properties(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "property float p%d\n", i)
	}
	return b.String()
}

// What a stranger's file may hold, each with the exact place and what is told; "" is read. The
// lines are counted by hand.
func TestHostileMeshesAreToldWithTheirPlace(t *testing.T) {
	short, long := strings.Repeat("w", 60), strings.Repeat("w", 61)
	numbers := strings.TrimSuffix(strings.Repeat("0 ", 252), " ")
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"PLY": {triangle("", "", "", triangleRows), ""},
		"PLY with blank lines and signs of white": {triangle("", "", "", "\n 0 0\t0 \r\n\n1\v0\f0\n0 1 0\n\n3  0 1 2"), ""},
		"PLY with a word too long":                {triangle("", "", "", "0 "+short+" 0\n"), `line 10: "` + short + `" is not a number`},
		"PLY with a longer word":                  {triangle("", "", "", "0 "+long+" 0\n"), `line 10: "` + short + `..." is not a number`},
		"PLY with too few values":                 {triangle("", "", "", "0 0 0\n\n1 0\n0 1 0\n3 0 1 2\n"), "line 12: too few values; give one value for every property of the header"},
		"PLY that ends early":                     {triangle("", "", "", "0 0 0\n1 0 0\n0 1 0\n\n\n"), "line 14: the file ends before all elements came"},
		"PLY with a blank line in its header":     {triangle("\n", "", "", triangleRows), "line 3: empty line in the header; remove it"},
		"PLY of another version":                  {bytes.Replace(triangle("", "", "", triangleRows), []byte("1.0"), []byte("1.1"), 1), `line 2: found "format ascii 1.1"; expected format NAME 1.0 (once)`},
		"PLY in an unknown format":                {bytes.Replace(triangle("", "", "", triangleRows), []byte("ascii"), []byte("utf8"), 1), `line 2: format "utf8"; expected ascii, binary_little_endian or binary_big_endian`},
		"PLY with two formats":                    {triangle("format ascii 1.0\n", "", "", triangleRows), `line 3: found "format ascii 1.0"`},
		"PLY without a format":                    {bytes.Replace(triangle("", "", "", triangleRows), []byte("format ascii 1.0\n"), nil, 1), "line 8: the format line is missing"},
		"PLY with a property of nothing":          {triangle("property float x\n", "", "", triangleRows), `line 3: found "property float x"`},
		"PLY with a property too many":            {triangle("", properties(253), "", triangleRows), "line 261: too many properties; at most 256 are read"},
		"PLY with as many as are read":            {triangle("", properties(252), "", "0 0 0 "+numbers+"\n1 0 0 "+numbers+"\n0 1 0 "+numbers+"\n3 0 1 2\n"), ""},
		"PLY with a list of fractions":            {triangle("", "", "property list float int l\n", triangleRows), `line 9: property "list float int l"; expected property TYPE NAME or property list TYPE TYPE NAME`},
		"PLY with a list of words":                {triangle("", "", "property list uchar text l\n", triangleRows), `line 9: property "list uchar text l"`},
		"PLY with half a list":                    {triangle("", "", "property list uchar l\n", triangleRows), `line 9: property "list uchar l"`},
		"PLY with half an element":                {triangle("element note\n", "", "", triangleRows), `line 3: found "element note"`},
		"PLY with an element of a word":           {triangle("element note many\n", "", "", triangleRows), `line 3: count "many" of element note`},
		"PLY with an element of nothing":          {triangle("element note 0\n", "", "", triangleRows), ""},
		"PLY with an element without properties":  {triangle("element note 1\n", "", "", triangleRows), "element note has no properties; declare its properties, or leave it out"},
		"PLY with comments":                       {triangle("comment any word\nobj_info more\n", "comment\n", "", triangleRows), ""},
		"PLY without an end of its header":        {[]byte("ply\nformat ascii 1.0\ncomment"), "line 2: the header has no end_header line"},
		"PLY with a word behind its header":       {bytes.Replace(triangle("", "", "", triangleRows), []byte("end_header"), []byte("end_header now"), 1), `line 9: found "end_header now"`},
		"PLY with points as lists":                {bytes.Replace(triangle("", "", "", triangleRows), []byte("float x"), []byte("list uchar float x"), 1), "element vertex has no single property x; properties x, y and z are needed"},
		"PLY with corners as one value":           {bytes.Replace(triangle("", "", "", triangleRows), []byte("list uchar int vertex"), []byte("int vertex"), 1), "element face has no list of whole numbers vertex_indices"},
		"PLY with corners as fractions":           {bytes.Replace(triangle("", "", "", triangleRows), []byte("list uchar int vertex"), []byte("list uchar float vertex"), 1), "element face has no list of whole numbers vertex_indices"},
		"PLY with zones as lists":                 {triangle("", "", "property list uchar int zone\n", "0 0 0\n1 0 0\n0 1 0\n3 0 1 2 0\n"), "property zone is not a whole number; expected property int zone"},
		"PLY with the largest zone":               {triangle("", "", "property uint zone\n", "0 0 0\n1 0 0\n0 1 0\n3 0 1 2 2147483647\n"), ""},
		"PLY with a zone too large":               {triangle("", "", "property uint zone\n", "0 0 0\n1 0 0\n0 1 0\n3 0 1 2 2147483648\n"), "line 14: zone 2147483648 is too large; zones are numbered up to 2147483647"},
		"PLY with a list of less than nothing":    {bytes.Replace(triangle("", "", "", "0 0 0\n1 0 0\n0 1 0\n-1 0 1 2\n"), []byte("list uchar"), []byte("list char"), 1), "line 13: a list of -1 values does not fit"},
		"PLY with a list longer than the rest":    {triangle("", "", "", "0 0 0\n1 0 0\n0 1 0\n9 0 1 2\n"), "line 13: a list of 9 values does not fit into the 5 bytes that follow"},
		"PLY with no face":                        {bytes.Replace(triangle("", "", "", "0 0 0\n1 0 0\n0 1 0\n"), []byte("face 1"), []byte("face 0"), 1), "the file has no surface; elements vertex and face are needed"},
		"PLY with a tail":                         {triangle("", "", "", triangleRows+"\n \nx"), "line 13: the file goes on after its last element"},
		"PLY with a long head":                    {triangle("comment "+strings.Repeat("c", 1<<16)+"\n", "", "", triangleRows), "line 2: the header has no end_header line; the file is cut off, or its header is longer than 64 kB"},
		"text STL without a triangle":             {[]byte("solid x\n\nendsolid x\n"), "line 3: the file has no triangles"},
		"text STL outside its solid":              {[]byte("solid x\nendsolid\nfacet normal 0 0 0\n"), `line 3: found "facet normal 0 0 0"; expected solid, facet or endsolid`},
		"text STL with a solid in another":        {[]byte("solid x\n solid y\n"), `line 2: found "solid y"; expected solid, facet or endsolid`},
		"text STL that ends at its loop":          {[]byte("solid x\nfacet normal 0 0 0\n\n"), "line 3: the file ends inside a triangle"},
		"text STL with another loop":              {[]byte("solid x\nfacet\nouter space\n"), `line 3: found "outer space"; expected outer loop`},
		"text STL that ends at a corner":          {[]byte("solid x\nfacet\nouter loop\nvertex 0 0 0\n"), "line 4: the file ends inside a triangle"},
		"text STL with another word":              {[]byte("solid x\nfacet\nouter loop\npoint 0 0 0\n"), `line 4: found "point 0 0 0"; expected vertex and three numbers`},
		"text STL with a fourth number":           {[]byte("solid x\nfacet\nouter loop\nvertex 0 0 0 0\n"), `line 4: found "vertex 0 0 0 0"; expected vertex and three numbers`},
		"text STL that ends at its facet":         {[]byte("solid x\nfacet\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendloop"), "line 7: the file ends inside a triangle"},
		"text STL with two solids":                {[]byte(textSTLOf(tetra()) + textSTLOf(tetra())), ""},
		"shorter than any":                        {make([]byte, 83), "byte 83: the file is neither STL, PLY, OBJ nor GLB"},
		"as long as the shortest":                 {append(make([]byte, 83), 1), "byte 80: as binary STL the header promises 16777216 triangles, which take 838860884 bytes, but the file has 84"},
		"OBJ with five numbers":                   {[]byte("v 0 0 0\nv 0 0 0 1 1\n"), "line 2: a point of 5 numbers; expected v and three coordinates"},
		"OBJ with eight numbers":                  {[]byte("v 0 0 0 1 1 1 1 1\n"), "line 1: a point of 8 numbers"},
		"OBJ with a weight and a colour":          {[]byte("v 0 0 0 1 1 1 1\nv 1 0 0 1\nv 0 1 0 1 1 1\nf 1 2 3\n"), ""},
		"OBJ with a bad weight":                   {[]byte("# c\nv 0 0 0 heavy\n"), `line 2: "heavy" is not a number`},
		"OBJ with a statement of another kind":    {[]byte("v 0 0 0\n\n# c\nsurf 0 1 # x\n"), `line 4: statement "surf" is not read`},
		"OBJ that goes on":                        {[]byte("v 0 0 0\nv 1 \\\n"), "line 2: the line goes on after a backslash"},
		"OBJ of no point":                         {[]byte("f 1 2 3\n"), "line 1: a face names point 1 of 0; points are numbered from 1"},
		"OBJ with the last point":                 {[]byte("v 0 0 0\nv 1 0 0\nf 1 2 3\nv 0 1 0"), ""},
		"OBJ with one more":                       {[]byte("v 0 0 0\nv 1 0 0\nf 1 2 4\nv 0 1 0"), "line 3: a face names point 4 of 3"},
		"OBJ counted back to the first":           {[]byte("v 0 0 0\nv 1 0 0\nv 0 1 0\nf -3 -2 -1"), ""},
		"OBJ counted back too far":                {[]byte("v 0 0 0\nv 1 0 0\nv 0 1 0\nf -4 -2 -1"), "line 4: a face names point -4, but only 3 were read before"},
		"OBJ that begins with a zero byte":        {[]byte("v 0 0 0\x00"), "byte 8: the file is neither STL, PLY, OBJ nor GLB"},
		"OBJ of groups":                           {[]byte("trace_obj x\no y\nv 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"), ""},
	} {
		m, _, err := ReadMesh("p", c.data, "mm")
		var e *diag.Error
		switch {
		case c.want == "" && err != nil:
			t.Errorf("%s: %v", name, err)
		case c.want != "" && (!errors.As(err, &e) || e.Kind != diag.Invalid || e.Subject != "p" || !strings.HasPrefix(e.Msg+"; "+e.Hint, c.want)):
			t.Errorf("%s: %v, %v, want %q", name, m, err, c.want)
		}
	}
}

// Every type of a PLY file takes its least and its greatest number and none beyond, in text; in
// bytes it takes the same numbers as encoding/binary writes. Names and sizes: G. Turk 1994, and
// the names with a size in them.
func TestEveryTypeOfPLY(t *testing.T) {
	for _, c := range []struct {
		names    []string
		least    string
		below    string
		greatest string
		above    string
		values   any // as encoding/binary writes them: 0, 1 and the least
	}{
		{[]string{"char", "int8"}, "-128", "-129", "127", "128", []int8{0, 1, -128}},
		{[]string{"uchar", "uint8"}, "0", "-1", "255", "256", []uint8{0, 1, 255}},
		{[]string{"short", "int16"}, "-32768", "-32769", "32767", "32768", []int16{0, 1, -32768}},
		{[]string{"ushort", "uint16"}, "0", "-1", "65535", "65536", []uint16{0, 1, 65535}},
		{[]string{"int", "int32"}, "-2147483648", "-2147483649", "2147483647", "2147483648", []int32{0, 1, -70000}},
		{[]string{"uint", "uint32"}, "0", "-1", "4294967295", "4294967296", []uint32{0, 1, 90000}},
		{[]string{"float", "float32"}, "-1e9", "-x", "1e9", "1e", []float32{0, 1, -2.5}},
		{[]string{"double", "float64"}, "-1e9", "-x", "1e9", "1e", []float64{0, 1, -2.0625}},
	} {
		for _, name := range c.names {
			header := strings.Replace(string(triangle("", "property "+name+" more\n", "", "")), "format ascii", "format %s", 1)
			for value, taken := range map[string]bool{c.least: true, c.below: false, c.greatest: true, c.above: false} {
				text := fmt.Sprintf(header, "ascii") + "0 0 0 0\n1 0 0 1\n0 1 0 " + value + "\n3 0 1 2\n"
				if _, _, err := ReadMesh("p", []byte(text), "mm"); (err == nil) != taken || !taken && !strings.Contains(err.Error(), `line 13: "`+value+`" is not`) {
					t.Errorf("%s %s: %v", name, value, err)
				}
			}
			for format, order := range map[string]binary.ByteOrder{"binary_little_endian": binary.LittleEndian, "binary_big_endian": binary.BigEndian} {
				head := strings.Replace(fmt.Sprintf(header, format), "property "+name+" more\n", "", 1)
				b := bytes.NewBufferString(strings.Replace(head, "float x", name+" x", 1))
				rows := fmt.Sprint(c.values)
				var want [3]float64
				if _, err := fmt.Sscanf(rows, "[%g %g %g]", &want[0], &want[1], &want[2]); err != nil {
					t.Fatal(err)
				}
				for i := range 3 {
					for _, v := range []any{element(c.values, i), float32(i % 2), float32(i)} {
						if err := binary.Write(b, order, v); err != nil {
							t.Fatal(err)
						}
					}
				}
				if err := errors.Join(binary.Write(b, order, uint8(3)), binary.Write(b, order, [3]int32{0, 1, 2})); err != nil {
					t.Fatal(err)
				}
				whole := b.Bytes()
				m, _, err := ReadMesh("p", whole, "mm")
				if err != nil {
					t.Errorf("%s %s: %v", format, name, err)
					continue
				}
				for i, p := range m.Points {
					if p[0] != want[i] || p[1] != float64(i%2) || p[2] != float64(i) {
						t.Errorf("%s %s: point %d is %v, want %v", format, name, i, p, want[i])
					}
				}
				for less := range 12 { // the file ends inside its face
					if _, _, err := ReadMesh("p", whole[:len(whole)-1-less], "mm"); err == nil {
						t.Errorf("%s %s without its last %d bytes is read", format, name, less+1)
					}
				}
				if _, _, err := ReadMesh("p", append(bytes.Clone(whole), " \n"...), "mm"); err != nil {
					t.Errorf("white space behind the end: %v", err)
				}
				if _, _, err := ReadMesh("p", append(bytes.Clone(whole), 'x'), "mm"); err == nil || !strings.Contains(err.Error(), fmt.Sprintf("byte %d: the file goes on after its last element", len(whole))) {
					t.Errorf("one byte too many: %v", err)
				}
			}
		}
	}
}

// element is one of a list.
func element(list any, i int) any {
	switch l := list.(type) {
	case []int8:
		return l[i]
	case []uint8:
		return l[i]
	case []int16:
		return l[i]
	case []uint16:
		return l[i]
	case []int32:
		return l[i]
	case []uint32:
		return l[i]
	case []float32:
		return l[i]
	}
	return list.([]float64)[i]
}

// What of a GLB file is no list, or longer than is read, is told with its name; chunks of other
// kinds are passed over.
func TestListsOfGLB(t *testing.T) {
	good := glbScene(`{"mesh":0}`)
	many := func(n int, entry string) string {
		return "[" + strings.TrimSuffix(strings.Repeat(entry+",", n), ",") + "]"
	}
	of := func(old, new string) []byte {
		if !strings.Contains(good, old) {
			t.Fatalf("%s is not in the scene", old)
		}
		return glbOf(strings.Replace(good, old, new, 1), glbNumbersOfTetra())
	}
	chunk := append(putUint32(putUint32(nil, 4), 7), 1, 2, 3, 4)
	whole := glbOf(good, glbNumbersOfTetra())
	withChunk := func(at int) []byte {
		out := append(append(bytes.Clone(whole[:at]), chunk...), whole[at:]...)
		binary.LittleEndian.PutUint32(out[8:], uint32(len(out)))
		return out
	}
	afterText := 20 + int(binary.LittleEndian.Uint32(whole[12:]))
	for name, c := range map[string]struct {
		data []byte
		want string
		kind diag.Kind
	}{
		"a chunk between":    {withChunk(afterText), "", 0},
		"a chunk behind":     {withChunk(len(whole)), "", 0},
		"a chunk before":     {withChunk(12), "byte 16: the first chunk is not JSON", diag.Invalid},
		"scenes":             {of(`"scenes":[{"nodes":[0]}]`, `"scenes":{}`), "scenes: is not a list", diag.Invalid},
		"scenes of words":    {of(`"scenes":[{"nodes":[0]}]`, `"scenes":[{"nodes":"x"}]`), "scenes[0]: json: cannot unmarshal", diag.Invalid},
		"nodes":              {of(`"nodes":[{"mesh":0}]`, `"nodes":5`), "nodes: is not a list", diag.Invalid},
		"nodes of words":     {of(`"nodes":[{"mesh":0}]`, `"nodes":[{"mesh":0},"x"]`), "nodes[1]: json: cannot unmarshal", diag.Invalid},
		"accessors":          {of(`"accessors":[`, `"accessors":"","more":[`), "accessors: is not a list", diag.Invalid},
		"views":              {of(`"bufferViews":[`, `"bufferViews":"","more":[`), "bufferViews: is not a list", diag.Invalid},
		"buffers":            {of(`"buffers":[{"byteLength":60}]`, `"buffers":{}`), "buffers: is not a list", diag.Invalid},
		"meshes":             {of(`"meshes":[`, `"meshes":"","more":[`), "meshes: is not a list", diag.Invalid},
		"primitives":         {of(`"primitives":[`, `"primitives":7,"more":[`), "meshes[0].primitives: is not a list", diag.Invalid},
		"nodes too many":     {of(`[{"mesh":0}]`, many(16385, `{}`)), "nodes: more than 16384 entries", diag.Invalid},
		"nodes as many":      {of(`[{"mesh":0}]`, many(16384, `{}`)), "the scene has no triangles", diag.Invalid},
		"primitives as many": {of(`"meshes":[`, `"meshes":[`+strings.Trim(many(2, `{"primitives":`+many(8191, "{}")+`}`), "[]")+`,{"primitives":[{}]},`), "meshes[0].primitives[0]: has no POSITION", diag.Invalid},
		"primitives more":    {of(`"meshes":[`, `"meshes":[`+strings.Trim(many(2, `{"primitives":`+many(8192, "{}")+`}`), "[]")+`,`), "meshes: more than 16384 primitives", diag.Invalid},
		"a later version":    {of(`"version":"2.0"`, `"version":"2.9","minVersion":"2.1"`), `the file needs glTF "2.1"`, diag.Unsupported},
		"the same version":   {of(`"version":"2.0"`, `"version":"2.9","minVersion":"2.0"`), "", 0},
		"no version":         {of(`"version":"2.0"`, `"version":"2"`), `asset: version "2" is not 2.x`, diag.Invalid},
		"a buffer outside":   {of(`"buffers":[{`, `"buffers":[{},{"uri":"x",`), "", diag.Unsupported},
	} {
		_, _, err := ReadMesh("p", c.data, "")
		var e *diag.Error
		if c.want == "" && c.kind == 0 && err != nil || c.kind != 0 && (!errors.As(err, &e) || e.Kind != c.kind || e.Hint == "" || !strings.HasPrefix(e.Msg, c.want)) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
	for n := range len(whole) { // cut off anywhere
		if _, _, err := ReadMesh("p", whole[:n], ""); err == nil {
			t.Fatalf("the first %d of %d bytes are read", n, len(whole))
		}
	}
}

// What kind a file is, is found in its first 1024 bytes: a zero byte there is in no text, one behind
// them is no matter.
func TestTextIsFoundInTheFirstBytes(t *testing.T) {
	for at, text := range map[int]bool{0: false, 1023: false, 1024: true, 2000: true} {
		for head, is := range map[string]func([]byte) bool{"solid x\n": isTextSTL, "v 0 0 0\n": isOBJ} {
			data := []byte(head + strings.Repeat(" ", 3000))
			if at == 0 {
				data[len(head)-1] = 0
			} else {
				data[at] = 0
			}
			if is(data) != text {
				t.Errorf("%q with a zero byte at %d is text: %v", head, at, !text)
			}
		}
	}
	for head, want := range map[string]bool{"solid": true, "SoLiD x": true, " \t\r\nsolid": true, "soli": false, "xsolid": false, "": false} {
		if isTextSTL([]byte(head)) != want {
			t.Errorf("%q begins a text STL file: %v", head, !want)
		}
	}
	for head, want := range map[string]bool{"v": true, "f 1": true, "# c\n\n  vn 0 0 1": true, "vx 1": false, "# v": false, "": false, "\n\n": false, "solid x\nv 0 0 0": false, "usemtl": true, "p 1": true} {
		if isOBJ([]byte(head)) != want {
			t.Errorf("%q begins an OBJ file: %v", head, !want)
		}
	}
	for head, want := range map[string]bool{"ply\n": true, "ply\r\n": true, "ply": false, "ply x": false, "Ply\n": false} {
		if isPLY([]byte(head)) != want {
			t.Errorf("%q begins a PLY file: %v", head, !want)
		}
	}
}

// The points and triangles of an OBJ file are counted before they are read: n corners are n - 2
// triangles, and fewer than three are none.
func TestCountsOfOBJ(t *testing.T) {
	for text, want := range map[string][2]int{
		"": {0, 0}, "v 1\nvn 2\nv 3\n#v 4\n": {2, 0}, "f 1 2\n": {0, 0}, "f 1\nf\n": {0, 0}, "f 1 2 3\n": {0, 1}, "f\t1  2\t3 4/5 # 6\nf 1 2 3 4 5 6\nv": {1, 6},
	} {
		if points, triangles := countOBJ([]byte(text)); points != want[0] || triangles != want[1] {
			t.Errorf("%q: %d points, %d triangles, want %v", text, points, triangles, want)
		}
	}
	for text, want := range map[string]string{"a": "a||", "  a\tb  c ": "a|b  c|", "\n x": "|| x", "a #b\nc": "a||c", "#a": "||", "a\r\nb": "a||b", "": "||"} {
		key, args, rest := objLine([]byte(text))
		if got := string(key) + "|" + string(args) + "|" + string(rest); got != want || (key == nil) != strings.HasPrefix(want, "|") {
			t.Errorf("%q is cut into %q, want %q", text, got, want)
		}
	}
}
