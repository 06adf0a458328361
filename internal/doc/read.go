package doc

import (
	"cmp"
	"encoding"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"fettle/internal/diag"
)

// reader fills a Go value from a tree and collects every fault.
type reader struct {
	file     string
	marks    map[string]mark
	shapes   shapes
	problems diag.Problems
}

func (r *reader) fault(m mark, path, msg, hint string) {
	r.problems = append(r.problems, diag.Problem{
		File: r.file, Line: m.line, Col: m.col, Field: path, Msg: msg, Hint: hint})
}

// read fills v from n; f describes the field the value belongs to.
func (r *reader) read(path string, n *node, v reflect.Value, f field) {
	r.marks[path] = n.mark
	if n.kind == refused {
		return
	}
	s := shapeOf(v.Type())
	if n.kind == nothing {
		r.fault(n.mark, path, "no value is given", nothingHint(s))
		return
	}
	if want := wantKind(s); n.kind != want {
		r.fault(n.mark, path, fmt.Sprintf("%s is expected here, not %s", want, n.kind), kindHint(s))
		return
	}
	switch s {
	case maybeShape:
		before := len(r.problems)
		r.read(path, n, v.Field(0), f)
		v.Field(1).SetBool(len(r.problems) == before)
	case pointerShape:
		v.Set(reflect.New(v.Type().Elem()))
		r.read(path, n, v.Elem(), f)
	case structShape:
		r.readStruct(path, n, v)
	case listShape, arrayShape:
		r.readList(path, n, v, f)
	case mapShape:
		r.readMap(path, n, v)
	default:
		if s == stringShape && f.required && strings.TrimSpace(n.text) == "" {
			r.fault(n.mark, path, "no value is given", cmp.Or(f.help, "write a value"))
			return
		}
		if msg, hint := setScalar(v, s, n.text, f.words); msg != "" {
			r.fault(n.mark, path, msg, hint)
		}
	}
}

// wantKind is the kind of node a shape is read from. What may be unknown is
// always written as a single value.
func wantKind(s shape) kind {
	switch s {
	case structShape, pointerShape, mapShape:
		return mapping
	case listShape, arrayShape:
		return list
	}
	return scalar
}

func nothingHint(s shape) string {
	switch s {
	case listShape:
		return "write [] for an empty list, or leave the line out"
	case stringShape, textShape:
		return `write a value, or leave the line out; put text such as "null" or "~" in quotes`
	}
	return "write a value, or leave the line out"
}

func kindHint(s shape) string {
	switch s {
	case listShape, arrayShape:
		return "write [a, b] or one line '- a' for each"
	case structShape, pointerShape, mapShape:
		return "write 'name: value' lines, indented"
	}
	return "write one value behind the name"
}

// seen finds fields written twice; the first counts.
func (r *reader) seen(path string, entries []entry) []entry {
	first := map[string]mark{}
	var out []entry
	for _, e := range entries {
		if m, twice := first[e.key]; twice {
			r.fault(e.mark, join(path, e.key), "this field is given twice",
				fmt.Sprintf("the first is in line %d", m.line))
			continue
		}
		first[e.key] = e.mark
		out = append(out, e)
	}
	return out
}

func (r *reader) readStruct(path string, n *node, v reflect.Value) {
	fields := r.shapes.of(v.Type())
	given := make([]bool, len(fields))
	var misspelt []string // fields that are there under a wrong name, so not missing
	for _, e := range r.seen(path, n.entries) {
		i := slices.IndexFunc(fields, func(f field) bool { return f.name == e.key })
		if i < 0 {
			r.fault(e.mark, path, fmt.Sprintf("unknown field %s", quote(e.key)), DidYouMean(e.key, names(fields)))
			meant, _ := Nearest(e.key, names(fields))
			misspelt = append(misspelt, meant)
			continue
		}
		given[i] = true
		r.read(join(path, e.key), e.value, v.Field(fields[i].index), fields[i])
	}
	for i, f := range fields {
		if f.required && !given[i] && !slices.Contains(misspelt, f.name) {
			r.fault(n.mark, path, fmt.Sprintf("the field %q is missing", f.name), cmp.Or(f.help, "add it to this group of fields"))
		}
	}
}

func names(fields []field) []string {
	out := make([]string, len(fields))
	for i, f := range fields {
		out[i] = f.name
	}
	return out
}

// readList reads slices and arrays; an empty list is a nil slice.
func (r *reader) readList(path string, n *node, v reflect.Value, f field) {
	if v.Kind() == reflect.Array && len(n.items) != v.Len() {
		r.fault(n.mark, path, fmt.Sprintf("exactly %d values are expected, not %d", v.Len(), len(n.items)), cmp.Or(f.help, "write every one of them, and no more"))
		return
	}
	if v.Kind() == reflect.Slice && len(n.items) > 0 {
		v.Set(reflect.MakeSlice(v.Type(), len(n.items), len(n.items)))
	}
	for i, item := range n.items {
		r.read(fmt.Sprintf("%s[%d]", path, i), item, v.Index(i), f)
	}
}

// readMap reads names to scalars as written; an empty mapping is a nil map.
func (r *reader) readMap(path string, n *node, v reflect.Value) {
	if len(n.entries) > 0 {
		v.Set(reflect.MakeMap(v.Type()))
	}
	for _, e := range r.seen(path, n.entries) {
		value := reflect.New(v.Type().Elem()).Elem()
		r.read(join(path, e.key), e.value, value, field{})
		v.SetMapIndex(reflect.ValueOf(e.key).Convert(v.Type().Key()), value)
	}
}

// setScalar reads text into a value that is a single scalar; msg is empty when
// it could.
func setScalar(v reflect.Value, s shape, text string, words []string) (msg, hint string) {
	switch s {
	case textShape:
		if err := v.Addr().Interface().(encoding.TextUnmarshaler).UnmarshalText([]byte(text)); err != nil {
			msg, hint, _ := strings.Cut(err.Error(), "; ") // what would be right stands behind what is wrong
			return clip(msg, 200), clip(cmp.Or(hint, "write it as the schema of the document says"), 200)
		}
	case stringShape:
		if words != nil && !slices.Contains(words, text) {
			return wrongWord(text, words)
		}
		v.SetString(text)
	case boolShape:
		return setBool(v, text)
	case intShape:
		return setInt(v, text)
	case floatShape:
		return setFloat(v, text)
	default:
		panic(fmt.Sprintf("doc: %s is not a scalar", v.Type()))
	}
	return "", ""
}

func wrongWord(text string, words []string) (msg, hint string) {
	msg = fmt.Sprintf("%s is not one of %s", quote(text), strings.Join(words, ", "))
	if w, ok := Nearest(text, words); ok {
		return msg, fmt.Sprintf("did you mean %q?", w)
	}
	return msg, "write one of them"
}
