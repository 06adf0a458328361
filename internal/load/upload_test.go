//go:build linux

package load

import (
	"archive/zip"
	"bytes"
	"compress/zlib"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"fettle/internal/golden/folders"
	"fettle/internal/web/api"
)

// forger makes files that lie, of whole ones.
type forger struct {
	*rand.Rand
	whole map[string][]byte // by their endings
	files map[string][]byte // of the demonstration
}

// forged is a class of files that lie: of which whole file they are made, and where they are sent.
type forged struct {
	class string
	whole string // ending of the file that is accepted
	to    string // way it is sent
	make  func(f *forger, b []byte) []byte
}

// spoilt is a file with something altered that no class is about: bits, lengths, parts that are gone, twice, or from elsewhere.
func (f *forger) spoilt(b []byte) []byte {
	b = slices.Clone(b)
	for range 1 + f.IntN(3) {
		if len(b) < 8 {
			return append(b, byte(f.IntN(256)))
		}
		at := f.IntN(len(b) - 4)
		switch f.IntN(7) {
		case 0:
			b[at] ^= 1 << f.IntN(8)
		case 1:
			b = b[:at]
		case 2:
			copy(b[at:], [][]byte{{255, 255, 255, 255}, {0, 0, 0, 0}, {255, 255, 255, 127}, {0, 0, 0, 128}}[f.IntN(4)])
		case 3:
			b = slices.Insert(b, at, b[at:min(len(b), at+1+f.IntN(200))]...)
		case 4:
			b = slices.Delete(b, at, min(len(b), at+1+f.IntN(200)))
		case 5:
			b = slices.Insert(b, at, []byte{0, 10, 13, 0xff, 0xfe}[:1+f.IntN(5)]...)
		case 6:
			from := f.IntN(len(b))
			copy(b[at:], b[from:min(len(b), from+1+f.IntN(64))])
		}
	}
	return b
}

// one is one of several texts.
func (f *forger) one(texts ...string) string { return texts[f.IntN(len(texts))] }

// inText is a text in which a number or word is another.
func (f *forger) inText(b []byte, with ...string) []byte {
	words := strings.FieldsFunc(string(b), func(r rune) bool { return strings.ContainsRune(" ,\n\t:[]{}", r) })
	if len(words) == 0 {
		return b
	}
	was := words[f.IntN(len(words))]
	return bytes.Replace(b, []byte(was), []byte(f.one(with...)), 1+f.IntN(3))
}

func u32(n uint32) []byte { return binary.LittleEndian.AppendUint32(nil, n) }

// gltf is a GLB with the JSON of a whole one, altered.
func (f *forger) gltf(b []byte, alter func(doc map[string]any)) []byte {
	var doc map[string]any
	n := binary.LittleEndian.Uint32(b[12:])
	if json.Unmarshal(b[20:20+n], &doc) != nil {
		return b
	}
	alter(doc)
	text, _ := json.Marshal(doc) // of what was read
	return glb(text, b[20+n:])
}

func glb(text, rest []byte) []byte {
	for len(text)%4 != 0 {
		text = append(text, ' ')
	}
	return slices.Concat([]byte("glTF\x02\x00\x00\x00"), u32(uint32(20+len(text)+len(rest))), u32(uint32(len(text))), []byte("JSON"), text, rest)
}

// first is the first of a list of a glTF document, as something to be altered.
func first(doc map[string]any, list string) map[string]any {
	all, _ := doc[list].([]any)
	if len(all) == 0 {
		return map[string]any{}
	}
	out, _ := all[0].(map[string]any)
	return out
}

func pngOf(w, h uint32, data []byte) []byte {
	chunk := func(kind string, body []byte) []byte {
		all := append([]byte(kind), body...)
		return slices.Concat(binary.BigEndian.AppendUint32(nil, uint32(len(body))), all, binary.BigEndian.AppendUint32(nil, crc32.ChecksumIEEE(all)))
	}
	head := append(binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h), 8, 2, 0, 0, 0)
	return slices.Concat([]byte("\x89PNG\r\n\x1a\n"), chunk("IHDR", head), chunk("IDAT", data), chunk("IEND", nil))
}

// zeros is a stream of so many bytes, deflated.
func zeros(n int) []byte {
	var out bytes.Buffer
	w := zlib.NewWriter(&out)
	_, _ = w.Write(make([]byte, n)) // into memory
	_ = w.Close()
	return out.Bytes()
}

// bomb is a stream that becomes 48 MB.
var bomb = sync.OnceValue(func() []byte { return zeros(48 << 20) })

// book is a workbook of a table in CSV; more is put in after it is whole.
func book(table string, more func(w *zip.Writer)) []byte {
	var rows strings.Builder
	for line := range strings.Lines(table) {
		rows.WriteString("<row>")
		for cell := range strings.SplitSeq(strings.TrimSpace(line), ",") {
			if _, err := strconv.ParseFloat(cell, 64); err == nil {
				fmt.Fprintf(&rows, `<c><v>%s</v></c>`, cell)
			} else {
				fmt.Fprintf(&rows, `<c t="inlineStr"><is><t>%s</t></is></c>`, cell)
			}
		}
		rows.WriteString("</row>")
	}
	return zipped(map[string]string{"xl/worksheets/sheet1.xml": `<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>` + rows.String() + `</sheetData></worksheet>`}, more)
}

// zipped is the parts of a workbook (ECMA-376-1, 12.2), with some others in their place.
func zipped(other map[string]string, more func(w *zip.Writer)) []byte {
	parts := [][2]string{
		{"[Content_Types].xml", `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>`},
		{"_rels/.rels", `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="a" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>`},
		{"xl/workbook.xml", `<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="A" sheetId="1" r:id="a"/></sheets></workbook>`},
		{"xl/_rels/workbook.xml.rels", `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="a" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/></Relationships>`},
		{"xl/worksheets/sheet1.xml", ""},
	}
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, p := range parts {
		text, is := other[p[0]]
		if !is {
			text = p[1]
		}
		part, err := w.Create(p[0])
		if err == nil {
			_, err = part.Write([]byte(text))
		}
		if err != nil {
			panic(err) // into memory
		}
	}
	if more != nil {
		more(w)
	}
	if err := w.Close(); err != nil {
		panic(err)
	}
	return out.Bytes()
}

// nested is a text in another, so many times.
func nested(open, middle, end string, n int) []byte {
	return []byte(strings.Repeat(open, n) + middle + strings.Repeat(end, n))
}

// laughs is a YAML text of which each line names the one before ten times.
func laughs(lines int) []byte {
	var out strings.Builder
	out.WriteString("a0: &a0 [x,x]\n")
	for i := range lines {
		fmt.Fprintf(&out, "a%d: &a%d [%s]\n", i+1, i+1, strings.TrimSuffix(strings.Repeat(fmt.Sprintf("*a%d,", i), 10), ","))
	}
	return []byte(out.String())
}

var uploadClasses = []forged{
	{"STL: a count that is not so", "stl", "mesh", func(f *forger, b []byte) []byte {
		b = slices.Clone(b)
		copy(b[80:], u32([]uint32{math.MaxUint32, 1 << 31, 1, 0, 11_000_000}[f.IntN(5)]))
		return b[:max(84, len(b)-f.IntN(3)*50)]
	}},
	{"STL: cut, or with a tail", "stl", "mesh", func(f *forger, b []byte) []byte {
		if f.IntN(2) == 0 {
			return b[:f.IntN(len(b))]
		}
		return append(slices.Clone(b), b[:1+f.IntN(60)]...)
	}},
	{"STL: text or not", "stl", "mesh", func(f *forger, b []byte) []byte {
		switch f.IntN(4) {
		case 0:
			return append([]byte("solid "), b[6:]...)
		case 1:
			return append([]byte("solid x\n"), bytes.Repeat([]byte("facet normal 0 0 1 "), 1+f.IntN(60000))...)
		case 2:
			return []byte("solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 0 " + f.one("nan", "inf", "1e999", "x", "") + "\n")
		}
		return []byte("solid x\nendsolid x\n")
	}},
	{"STL: numbers that are none", "stl", "mesh", func(f *forger, b []byte) []byte {
		b = slices.Clone(b)
		for range 1 + f.IntN(20) {
			at := 84 + f.IntN((len(b)-84)/50)*50 + 12 + f.IntN(9)*4
			copy(b[at:], u32(math.Float32bits([]float32{float32(math.NaN()), float32(math.Inf(1)), float32(math.Inf(-1)), 1e38, 1e-45, 0}[f.IntN(6)])))
		}
		return b
	}},
	{"PLY: head", "ply", "mesh", func(f *forger, b []byte) []byte {
		head, rest, _ := bytes.Cut(b, []byte("end_header"))
		head = f.inText(head, "9223372036854775808", "-1", "4294967295", "list", "uchar", "", "element", "\x00", strings.Repeat("property float x\n", 3000))
		return slices.Concat(head, []byte("end_header"), rest)
	}},
	{"PLY: lists and indices", "ply", "mesh", func(f *forger, b []byte) []byte {
		head, rest, _ := bytes.Cut(b, []byte("end_header\n"))
		rest = slices.Clone(rest)
		for range 1 + f.IntN(8) {
			at := len(rest)/2 + f.IntN(len(rest)/2-4)
			copy(rest[at:], u32([]uint32{math.MaxUint32, 1 << 31, 255, 0}[f.IntN(4)]))
		}
		if f.IntN(4) == 0 {
			head = bytes.Replace(head, []byte("little"), []byte("big"), 1)
		}
		return slices.Concat(head, []byte("end_header\n"), rest)
	}},
	{"OBJ", "obj", "mesh", func(f *forger, b []byte) []byte {
		return append(slices.Clone(b), f.one("f 1 2 99999999\n", "f -1 -2 -99\n", "f 0 0 0\n", "v nan inf 1e999\n", "f 1 1 1\n", "v 1 2\n", "f "+strings.Repeat("1 ", 20000)+"\n", strings.Repeat("v", 200000), "f 1/2/3/4 2 3\n", "f 9223372036854775808 1 2\n", "\x00\x00", "mtllib /etc/passwd\nmtllib ../../x\n")...)
	}},
	{"GLB: frame", "glb", "mesh", func(f *forger, b []byte) []byte {
		b = slices.Clone(b)
		switch f.IntN(5) {
		case 0:
			copy(b[4*f.IntN(5):], u32([]uint32{math.MaxUint32, 0, 3, 1, 1 << 31}[f.IntN(5)]))
		case 1:
			return b[:f.IntN(40)]
		case 2:
			return append(b, b[12:]...)
		case 3:
			return glb(nil, nil)
		case 4:
			b[16] = 'X'
		}
		return b
	}},
	{"GLB: views and accessors", "glb", "mesh", func(f *forger, b []byte) []byte {
		return f.gltf(b, func(doc map[string]any) {
			of := first(doc, f.one("bufferViews", "accessors", "buffers"))
			of[f.one("byteOffset", "byteLength", "byteStride", "count", "componentType", "bufferView", "buffer", "type", "sparse", "max")] = []any{-1, 9007199254740991, 4294967295, 1e308, "x", nil, map[string]any{"count": 1e9}, 3, 11_000_000}[f.IntN(9)]
		})
	}},
	{"GLB: addresses", "glb", "mesh", func(f *forger, b []byte) []byte {
		return f.gltf(b, func(doc map[string]any) {
			first(doc, "buffers")["uri"] = f.one("file:///etc/passwd", "http://127.0.0.1:1/x", "../../x", "data:application/octet-stream;base64,AAAA", "data:,"+strings.Repeat("A", 100000), "//host/share", "\\\\host\\share")
		})
	}},
	{"GLB: graph", "glb", "mesh", func(f *forger, b []byte) []byte {
		if f.IntN(4) == 0 {
			return glb(nested(`{"a":`, "1", "}", 100+f.IntN(100000)), nil)
		}
		return f.gltf(b, func(doc map[string]any) {
			var nodes []any
			for i := range 3 + f.IntN(2000) {
				nodes = append(nodes, map[string]any{"children": []any{i + 1}, "mesh": 0, "matrix": []any{1e308, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1}})
			}
			nodes = append(nodes, map[string]any{"children": []any{f.IntN(len(nodes)), -1}})
			doc["nodes"], doc["scenes"], doc["scene"] = nodes, []any{map[string]any{"nodes": []any{0}}}, 0
		})
	}},
	{"meshes altered by chance", "glb", "mesh", func(f *forger, b []byte) []byte { return f.spoilt(b) }},
	{"PNG", "png", "photo", func(f *forger, b []byte) []byte {
		switch f.IntN(6) {
		case 0:
			return pngOf(65535, 65535, bomb()[:60000])
		case 1:
			return pngOf(uint32(f.IntN(3)), uint32(f.IntN(3)), []byte("x"))
		case 2:
			return pngOf(math.MaxUint32, 1, nil)
		case 3:
			return pngOf(4000, 4000, bomb())
		}
		return f.spoilt(b)
	}},
	{"JPEG", "jpg", "photo", func(f *forger, b []byte) []byte {
		switch f.IntN(5) {
		case 0:
			return slices.Concat(b[:2], bytes.Repeat([]byte("\xff\xef\x00\x06 abc"), 1+f.IntN(10_000)), b[2:])
		case 1:
			b = slices.Clone(b)
			if at := bytes.Index(b, []byte{0xff, 0xc0}); at > 0 {
				copy(b[at+5:], "\xff\xff\xff\xff")
			}
			return b
		case 2:
			exif := slices.Concat([]byte("Exif\x00\x00II*\x00\x08\x00\x00\x00\xff\xff"), bytes.Repeat(slices.Concat([]byte("\x12\x01\x03\x00"), u32(math.MaxUint32), u32(8)), 100), u32(8))
			return slices.Concat(b[:2], []byte{0xff, 0xe1}, binary.BigEndian.AppendUint16(nil, uint16(len(exif)+2)), exif, b[2:])
		}
		return f.spoilt(b)
	}},
	{"WebP", "webp", "photo", func(f *forger, b []byte) []byte {
		if f.IntN(3) == 0 {
			return []byte("RIFF\x14\x00\x00\x00WEBPVP8L\x08\x00\x00\x00\x2f\xff\xff\xff\x0f\x00\x00\x00")
		}
		return f.spoilt(b)
	}},
	{"HEIC", "heic", "photo", func(f *forger, b []byte) []byte {
		if f.IntN(3) == 0 {
			return slices.Concat(b[:24], bytes.Repeat([]byte("\x00\x00\x00\x00moov"), 1+f.IntN(1000)), b[24:])
		}
		return f.spoilt(b)
	}},
	{"a disguise", "jpg", "photo", func(f *forger, b []byte) []byte {
		inside := f.one("<html><script>x</script>", "<svg xmlns='http://www.w3.org/2000/svg' onload='x'/>", "PK\x03\x04", "MZ\x90\x00", "#!/bin/sh\n", "GIF89a", "II*\x00", "\x1f\x8b\x08")
		if f.IntN(2) == 0 {
			return []byte(inside + strings.Repeat(" ", f.IntN(300)))
		}
		return append([]byte(inside), b...)
	}},
	{"PDF", "pdf", "photo", func(f *forger, b []byte) []byte {
		return append(slices.Clone(b), f.one("/JavaScript (x)", "/Launch /F (cmd)", "/Encrypt 1 0 R", strings.Repeat("1 0 obj\n", 50000), "startxref\n0\n%%EOF", "\x00")...)
	}},
	{"workbook: paths", "xlsx", "points", func(f *forger, _ []byte) []byte {
		return book("id,x,y,z\nA,1,2,3\n", func(w *zip.Writer) {
			for range 1 + f.IntN(5) {
				h := &zip.FileHeader{Name: f.one("../../x", "/etc/passwd", `C:\x`, `..\..\x`, "a//b", "xl/worksheets/sheet1.xml", "xl/../../y", "\x00", "con", strings.Repeat("a/", 4000))}
				if f.IntN(3) == 0 {
					h.SetMode(os.ModeSymlink | 0o777)
				}
				if part, err := w.CreateHeader(h); err == nil {
					_, _ = part.Write([]byte("/etc/passwd")) // into memory
				}
			}
		})
	}},
	{"workbook: bombs", "xlsx", "points", func(f *forger, b []byte) []byte {
		switch f.IntN(4) {
		case 0:
			return zipped(map[string]string{"xl/worksheets/sheet1.xml": "<worksheet><sheetData>" + strings.Repeat("<row><c><v>1</v></c></row>", 60000+f.IntN(200_000))}, nil)
		case 1:
			return book("id\n", func(w *zip.Writer) {
				for i := range 100 + f.IntN(5000) {
					_, _ = w.Create(fmt.Sprint("x", i)) // into memory
				}
			})
		case 2:
			return zipped(map[string]string{"xl/worksheets/sheet1.xml": `<!DOCTYPE a [<!ENTITY a "` + strings.Repeat("x", 5000) + `"><!ENTITY b "&a;&a;&a;&a;">]><worksheet><sheetData><row><c><v>&b;</v></c></row></sheetData></worksheet>`}, nil)
		}
		b = slices.Clone(b)
		if at := bytes.LastIndex(b, []byte("PK\x01\x02")); at > 0 {
			copy(b[at+20:], u32([]uint32{math.MaxUint32, 1, 0}[f.IntN(3)]))
			copy(b[at+24:], u32([]uint32{math.MaxUint32, 1, 0}[f.IntN(3)]))
		}
		return b
	}},
	{"workbook: XML", "xlsx", "points", func(f *forger, _ []byte) []byte {
		return zipped(map[string]string{f.one("xl/worksheets/sheet1.xml", "xl/workbook.xml", "_rels/.rels", "xl/_rels/workbook.xml.rels", "[Content_Types].xml"): f.one(string(nested("<a>", "", "</a>", 1+f.IntN(50000))), "<worksheet>", "\x00", "",
			`<!DOCTYPE a SYSTEM "file:///etc/passwd"><a/>`, `<worksheet><sheetData><row r="99999999999"><c r="ZZZZZZZZ99999999"><v>1</v></c></row></sheetData></worksheet>`, `<worksheet><sheetData><row><c t="s"><v>-1</v></c><c t="s"><v>99999999</v></c></row></sheetData></worksheet>`,
			`<Relationships><Relationship Id="a" Type="x/worksheet" Target="../../../etc/passwd"/></Relationships>`, strings.Repeat("\xff", 5000))}, nil)
	}},
	{"table: text", "csv", "points", func(f *forger, b []byte) []byte {
		switch f.IntN(4) {
		case 0:
			return append(slices.Clone(b), f.one(strings.Repeat("a", 3<<20), "\"", "\"a\n\"b\",", "\x00,\x00\n", "\xff\xfeA\x00", "A;1,5;2,5;3,5\n", strings.Repeat(",", 200000), "=cmd(),+1,-1,@x\n", strings.Repeat("\n", 200000), strings.Repeat("A,1,2,3\n", 50000))...)
		case 1:
			return f.inText(b, "nan", "1e999", "-0", "1,5", "", "\"", "\u202e", "9223372036854775808", "0x10", "1_000", "٣")
		}
		return f.spoilt(b)
	}},
	{"readings", "readings", "readings", func(f *forger, b []byte) []byte {
		if f.IntN(2) == 0 {
			return f.inText(b, "nan", "1e308", "-1e308", "1e-308", "", "x", "\x1b[2J", "inf")
		}
		return f.spoilt(b)
	}},
	{"YAML: bombs", "shop", "check", func(f *forger, b []byte) []byte {
		switch f.IntN(6) {
		case 0:
			return laughs(3 + f.IntN(12))
		case 1:
			return nested(f.one("[", "{a: ", "- "), "x", "", 1+f.IntN(100000))
		case 2:
			return []byte("a: &a\n  b: *a\n")
		case 3:
			return append(slices.Clone(b), f.one("\n<<: *x\n", "\n? [a]\n: b\n", "\n--- \nx\n", "\n!!python/object x\n", "\n%YAML 9.9\n", "\n\t\n", "\nid: &x !!binary =\n", "\nk: |\n"+strings.Repeat(" x\n", 100000))...)
		}
		return f.spoilt(b)
	}},
	{"procedures", "procedure", "procedure", func(f *forger, b []byte) []byte {
		switch f.IntN(3) {
		case 0:
			return f.inText(b, "null", "[]", "{}", "1e999 mm", "-1 mm", "*x", "&x", "true", "", "'", ">", strings.Repeat("(", 5000), "9999-99-99")
		case 1:
			return append(slices.Clone(b), b...)
		}
		return f.spoilt(b)
	}},
	{"tables of rules", "rules", "rules", func(f *forger, b []byte) []byte {
		if f.IntN(2) == 0 {
			return f.inText(b, "<= 1e999 mm", "in (", ">", "", "\"", "*", strings.Repeat("or ", 3000), "\x00")
		}
		return f.spoilt(b)
	}},
	{"records", "record", "record", func(f *forger, b []byte) []byte {
		switch f.IntN(3) {
		case 0:
			return f.inText(b, "null", "[]", "2026-13-45", "*x", "NOBODY", "", "\u202e", "!!int x", "1e999")
		case 1:
			return laughs(2 + f.IntN(10))
		}
		return f.spoilt(b)
	}},
	{"lines of another store", "lines", "lines", func(f *forger, b []byte) []byte {
		if f.IntN(3) == 0 {
			return f.inText(b, `"seq"`, "9223372036854775807", "-1", "null", `"x"`, strings.Repeat("a", 64), "1e999")
		}
		return f.spoilt(b)
	}},
	{"bodies", "body", "library", func(f *forger, b []byte) []byte {
		if f.IntN(2) == 0 {
			return f.inText(b, "null", "../../x", "/etc/passwd", "", "[]", "1e999", "*x", "\x00")
		}
		return f.spoilt(b)
	}},
}

// sender sends forged files to a server, as the people that may.
type sender struct {
	g     *group
	files folders.Files
	last  atomic.Pointer[[]byte] // what was answered, for who asks one by one
}

func (s *sender) ask(p *person, method, to string, body any, into any) (int, error) {
	var got answered
	var err error
	text, raw := body.([]byte)
	if !raw && body != nil {
		if text, err = json.Marshal(body); err != nil {
			return 0, err
		}
	}
	q := request{method: method, path: to, key: "up" + unique(), body: body}
	for range 50 {
		ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
		if raw {
			got, err = s.g.sendRaw(ctx, p, to, text)
		} else {
			got, err = s.g.send(ctx, p, s.g.servers[0], q, text)
		}
		cancel()
		if err != nil || got.status != http.StatusServiceUnavailable && got.status != http.StatusTooManyRequests {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	if err == nil && into != nil && got.status/100 == 2 {
		err = json.Unmarshal(got.body, into)
	}
	s.last.Store(&got.body)
	if err == nil && got.status >= 500 {
		err = fmt.Errorf("%d: %.500s", got.status, got.body)
	}
	return got.status, err
}

// sendRaw sends bytes that are no JSON.
func (g *group) sendRaw(ctx context.Context, p *person, to string, text []byte) (answered, error) {
	q, err := http.NewRequestWithContext(ctx, http.MethodPut, "http://"+g.servers[0].address+api.Prefix+to, bytes.NewReader(text))
	if err != nil {
		return answered{}, err
	}
	q.Header.Set("Authorization", "Bearer "+p.secret)
	q.Header.Set("Content-Type", "application/octet-stream")
	got, err := p.client.Do(q)
	if err != nil {
		return answered{}, err
	}
	var body bytes.Buffer
	_, err = body.ReadFrom(got.Body)
	_ = got.Body.Close() // it was read
	return answered{got.StatusCode, body.Bytes(), g.servers[0]}, err
}

func named(pairs ...any) (out []api.File) {
	for i := 0; i+1 < len(pairs); i += 2 {
		out = append(out, api.File{Name: pairs[i].(string), Data: pairs[i+1].([]byte)})
	}
	return out
}

// send sends a file the way that its class goes, and is the status that says whether it was taken.
func (s *sender) send(c forged, data []byte) (int, error) {
	boss, plan := s.g.all[4], s.g.all[2]
	ext := path.Base(c.whole)
	switch c.to {
	case "mesh":
		unit := "mm"
		if ext == "glb" {
			unit = "" // metres, by its specification
		}
		return s.ask(plan, "POST", "/tools/mesh", map[string]any{"files": named("m."+ext, data), "file": "m." + ext, "unit": unit}, nil)
	case "points", "readings":
		points, readings, name := data, s.files["job/readings.csv"], "p."+ext
		if c.to == "readings" {
			points, readings, name = s.files["body/points.csv"], data, "p.csv"
		}
		if ext == "xlsx" {
			return s.ask(plan, "POST", "/tools/body", map[string]any{"files": named(name, points), "id": "van", "points": name, "unit": "mm", "tol": "3 mm", "references": []string{"A", "B", "C"}, "currency": "EUR", "name": "Van", "revision": "1", "source": "s", "loadState": "loaded"}, nil)
		}
		return s.ask(plan, "POST", "/tools/measure", map[string]any{"files": named(name, points, "r.csv", readings), "points": name, "readings": "r.csv", "stdMm": 0.5}, nil)
	case "check":
		return s.ask(plan, "POST", "/tools/check", map[string]any{"files": named("shop.yaml", data)}, nil)
	case "procedure":
		return s.ask(plan, "POST", "/tools/may-table", map[string]any{"files": named("p.yaml", data), "file": "p.yaml", "known": []string{"zones=RAIL-L"}, "on": "2026-11-26"}, nil)
	case "rules":
		return s.ask(plan, "POST", "/tools/take-rows", map[string]any{"files": named("p.yaml", s.files["body/procedures/br-fc-d.yaml"], "r.csv", data), "file": "p.yaml", "table": "r.csv"}, nil)
	case "record":
		id := "F" + strings.ToUpper(unique()[:8])
		return s.ask(s.g.all[0], "PUT", "/jobs/"+s.g.shops[0].jobs[0]+"/record?name=finding/"+id, map[string]any{"text": strings.ReplaceAll(string(data), "FX", id), "seen": 0}, nil)
	case "lines":
		var lines any
		if err := json.Unmarshal(data, &lines); err != nil {
			lines = string(data)
		}
		return s.ask(boss, "PUT", "/jobs/s01-forged"+unique()[:8]+"/lines", map[string]any{"lines": lines}, nil)
	case "library":
		files := named("body.yaml", data)
		for name, text := range s.files {
			if rest, is := strings.CutPrefix(name, "body/"); is && rest != "body.yaml" {
				files = append(files, api.File{Name: rest, Data: text})
			}
		}
		return s.ask(plan, "POST", "/library", map[string]any{"files": files}, nil)
	}
	return s.photo(s.g.all[0], ext, data)
}

// photo sends a file in pieces, and has it put on record.
func (s *sender) photo(p *person, ext string, data []byte) (int, error) {
	if len(data) == 0 {
		data = []byte{0}
	}
	sum := sha256.Sum256(data)
	sha := hex.EncodeToString(sum[:])
	var up api.Computed[struct{ ID string }]
	to := "/jobs/" + s.g.shops[0].jobs[0] + "/uploads"
	if got, err := s.ask(p, "POST", to, map[string]any{"name": "a." + ext, "sha256": sha, "size": len(data), "text": "t", "by": "T1", "on": time.Now().Format(time.DateOnly)}, &up); err != nil || got != 201 {
		return got, err
	}
	to += "/" + url.PathEscape(up.Of.ID)
	got, err := s.ask(p, "PUT", to+"/piece?offset=0&sha256="+sha, data, nil)
	if err == nil && got == 200 {
		got, err = s.ask(p, "POST", to+"/seal", nil, nil)
	}
	if err == nil && got != 200 {
		if dropped, bad := s.ask(p, "DELETE", to, nil, nil); bad != nil || dropped/100 != 2 && dropped != 404 {
			err = fmt.Errorf("not dropped: %d %w", dropped, bad)
		}
	}
	return got, err
}

// count is so many of what a store has.
func (g *group) count(what string) (n int64, err error) {
	err = g.store.Read(context.Background(), "select count(*) from "+what, nil, func(scan func(...any) error) error { return scan(&n) })
	return n, err
}

// wholes are files that are taken, one for each ending.
func (s *sender) wholes(t *testing.T) map[string][]byte {
	t.Helper()
	var picture bytes.Buffer
	im := image.NewRGBA(image.Rect(0, 0, 640, 480))
	for i := range im.Pix {
		im.Pix[i] = byte(i * 7)
	}
	im.Set(1, 1, color.White)
	out := map[string][]byte{"csv": s.files["body/points.csv"], "readings": s.files["job/readings.csv"], "shop": s.files["shop.yaml"], "procedure": s.files["body/procedures/br-fc-d.yaml"], "body": s.files["body/body.yaml"],
		"ply": s.files["body/front-casting.ply"], "record": []byte("{id: FX, kind: dent, part: P-FENDER-L, seen: visual, by: technician T1, on: 2026-11-26, text: x}"), "xlsx": book("id,x,y,z\nA,0,0,0\nB,1000,0,0\nC,0,1000,0\nD,0,0,1000\n", nil),
		"pdf": []byte("%PDF-1.4\n1 0 obj\n<</Type/Catalog>>\nendobj\ntrailer<</Root 1 0 R>>\nstartxref\n9\n%%EOF\n")}
	if err := jpeg.Encode(&picture, im, nil); err != nil {
		t.Fatal(err)
	}
	out["jpg"] = bytes.Clone(picture.Bytes())
	picture.Reset()
	if err := png.Encode(&picture, im); err != nil {
		t.Fatal(err)
	}
	out["png"] = bytes.Clone(picture.Bytes())
	for ext, file := range map[string]string{"webp": "lossy.webp", "heic": "colour.heic"} {
		var err error
		if out[ext], err = os.ReadFile(filepath.Join("../photo/testdata", file)); err != nil {
			t.Fatal(err)
		}
	}
	out["obj"] = []byte("v 0 0 0\nv 100 0 0\nv 0 100 0\nv 0 0 100\nf 1 3 2\nf 1 2 4\nf 2 3 4\nf 1 4 3\n")
	stl := append(make([]byte, 80), u32(4)...)
	for _, face := range [][9]float32{{0, 0, 0, 0, 100, 0, 100, 0, 0}, {0, 0, 0, 100, 0, 0, 0, 0, 100}, {100, 0, 0, 0, 100, 0, 0, 0, 100}, {0, 0, 0, 0, 0, 100, 0, 100, 0}} {
		stl = append(stl, make([]byte, 12)...) // normals are not believed
		for _, x := range face {
			stl = append(stl, u32(math.Float32bits(x))...)
		}
		stl = append(stl, 0, 0)
	}
	out["stl"] = stl
	var shown api.Computed[api.Made]
	if got, err := s.ask(s.g.all[2], "POST", "/tools/mesh-glb", map[string]any{"files": named("m.obj", out["obj"]), "file": "m.obj", "unit": "mm"}, &shown); err != nil || got != 200 {
		t.Fatal(got, err)
	}
	out["glb"] = shown.Of.Files[0].Data
	var rows api.Computed[api.Rows]
	if got, err := s.ask(s.g.all[2], "POST", "/tools/rows", map[string]any{"files": named("p.yaml", out["procedure"]), "file": "p.yaml"}, &rows); err != nil || got != 200 {
		t.Fatal(got, err)
	}
	out["rules"] = []byte(rows.Of.Table)
	lines, err := s.g.store.Lines(t.Context(), s.g.shops[0].jobs[0])
	if err != nil {
		t.Fatal(err)
	}
	if out["lines"], err = json.Marshal(lines); err != nil {
		t.Fatal(err)
	}
	return out
}

// TestMalformedUploads sends files that lie in 29 ways to a server that runs: three of each, or as FETTLE_FAULTS says up to 1,000. Nothing of the program fails, each is
// answered soon, memory is bounded, what is refused leaves nothing behind, and the whole file that each is made of is taken before and after.
func TestMalformedUploads(t *testing.T) {
	each := 3
	if n, err := strconv.Atoi(os.Getenv("FETTLE_FAULTS")); err == nil {
		each = min(n, 1000)
	}
	g := newGroup(t, size{shops: 2, jobs: 6, worked: 2, servers: 1, thinks: time.Second})
	if err := g.startAll(); err != nil {
		t.Fatal(err)
	}
	s := &sender{g: g, files: folders.Coarse()}
	wholes := s.wholes(t)
	taken := func(when string) {
		for _, c := range uploadClasses {
			data := wholes[c.whole]
			if c.to == "photo" && when == "after" {
				continue // it is on record
			}
			got, err := s.send(c, data)
			if err != nil || got/100 != 2 && (c.to != "photo" || got != http.StatusConflict) {
				t.Errorf("%s: the whole one is not taken %s: %d %v %.600s", c.class, when, got, err, *s.last.Load())
			}
		}
	}
	taken("before")
	before := left(t, g.servers[0])
	type sum struct {
		statuses map[int]int
		longest  time.Duration
	}
	tally := map[string]*sum{}
	var mu sync.Mutex
	var all sync.WaitGroup
	queue := make(chan forged)
	counts := func() (out [4]int64) {
		for i, what := range []string{"jobs", "events", "library", "accounts"} {
			n, err := g.count(what)
			if err != nil {
				t.Fatal(err)
			}
			out[i] = n
		}
		return out
	}
	was, accepted := counts(), map[string]int64{}
	for n := range 2 * runtime.GOMAXPROCS(0) {
		f := &forger{Rand: rand.New(rand.NewPCG(uint64(n), 9)), whole: wholes, files: s.files}
		all.Go(func() {
			for c := range queue {
				data := c.make(f, wholes[c.whole])
				began := time.Now()
				got, err := s.send(c, data)
				took := time.Since(began)
				mu.Lock()
				if tally[c.class] == nil {
					tally[c.class] = &sum{statuses: map[int]int{}}
				}
				tally[c.class].statuses[got]++
				tally[c.class].longest = max(tally[c.class].longest, took)
				if got/100 == 2 {
					accepted[c.to]++
				}
				mu.Unlock()
				if err != nil {
					t.Errorf("%s: %v\n%.300q", c.class, err, data)
				}
			}
		})
	}
	for range each {
		for _, c := range uploadClasses {
			queue <- c
		}
	}
	close(queue)
	all.Wait()
	for _, c := range uploadClasses {
		t.Logf("%-30s %v, longest %v", c.class, tally[c.class].statuses, tally[c.class].longest.Round(time.Millisecond))
	}
	is := counts()
	if is[0]-was[0] != accepted["lines"] || is[1]-was[1] < accepted["photo"]+accepted["record"] || is[2]-was[2] > accepted["library"] || accepted["photo"]+accepted["record"]+accepted["lines"] == 0 && is[1] != was[1] || is[3] != was[3] {
		t.Errorf("jobs, events, bodies, people were %v and are %v; taken were %v", was, is, accepted)
	}
	u, err := g.servers[0].used()
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d files; %d MB at most; taken, because they were whole all the same: %v", each*len(uploadClasses), u.peak>>20, accepted)
	if len(uploadClasses) < 24 || u.peak > 600<<20 {
		t.Errorf("%d classes, %d MB", len(uploadClasses), u.peak>>20)
	}
	if text, err := os.ReadFile(g.servers[0].log.Name()); err != nil || bytes.Contains(text, []byte("fault of the program")) || bytes.Contains(text, []byte("panic")) {
		t.Errorf("the program failed: %v %.2000s", err, g.servers[0].said())
	}
	var after leftover
	for began := time.Now(); ; time.Sleep(100 * time.Millisecond) {
		if after = left(t, g.servers[0]); after.goroutines <= before.goroutines+12 && after.files <= before.files+20 || time.Since(began) > 10*time.Second {
			break
		}
	}
	if after.goroutines > before.goroutines+12 || after.files > before.files+20 || after.outside != before.outside {
		t.Errorf("left are %+v, and before there were %+v", after, before)
	}
	taken("after")
}
