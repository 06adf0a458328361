// Package broken plants broken texts into sound documents, for tests: several into every field
// that a document may have, made by the type of the field. Each has to be refused at the place
// where it stands, with what is wrong and what would be right.
package broken

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/doc"
)

// least is how many broken texts every field has.
const least = 5

// Document is a kind of document.
type Document struct {
	Of     any // of the type that it is read into
	Sound  []Sound
	Beside map[string][]byte // the least that a document is read with
	Decode func(files map[string][]byte) (read bool, err error)
	Kinds  map[reflect.Type]Kind // what texts of a type are
	Fields map[string]Kind       // what the text of a field is, "Type.field"
	More   map[string][]string   // broken by what else the document says, in the field as it is written
	Taken  map[string]string     // what is no fault, "Type.field: what", and why
}

// Sound is a document without a fault, beside the files that it is read with.
type Sound struct {
	File  string
	Files map[string][]byte
}

// place is where a field stands in a sound document.
type place struct {
	sound  int
	way    []step // from the document to the group that it is in
	parent *node
	index  int
}

// step goes into a list or group.
type step struct {
	of    *node
	index int
}

// alone is the group of the field with nothing beside the way to it.
func (p place) alone() *node {
	n := p.parent
	for _, s := range slices.Backward(p.way) {
		up := &node{sort: s.of.sort, nodes: []*node{n}}
		if s.of.sort == group {
			up.keys = s.of.keys[s.index : s.index+1]
		}
		n = up
	}
	return n
}

// walk is one run over all fields.
type walk struct {
	Document
	t     *testing.T
	roots []*node
	where map[string]place
	used  map[string]bool // of Taken
	tried int
}

// Run plants, and tells what was not refused as it has to be.
func (d Document) Run(t *testing.T) {
	w := &walk{Document: d, t: t, where: map[string]place{}, used: map[string]bool{}}
	for i, s := range d.Sound {
		root, err := parse(s.Files[s.File])
		if err != nil {
			t.Fatal(err)
		}
		w.roots = append(w.roots, root)
		if read, err := w.decode(i, s.Files, write(root).b.String()); err != nil || !read {
			t.Fatalf("%s is not sound:\n%v", s.File, err)
		}
		w.find(place{sound: i}, reflect.TypeOf(d.Of), root)
	}
	fields := fieldsOf(reflect.TypeOf(d.Of))
	w.published(fields)
	for _, f := range fields {
		w.field(f)
	}
	for k := range d.Taken {
		if !w.used[k] {
			t.Errorf("%s is listed as no fault, and is refused or was not tried", k)
		}
	}
	t.Logf("%d fields, %d broken texts", len(fields), w.tried)
}

// published: the fields are those of the published schema, and no others.
func (w *walk) published(fields []field) {
	var schema struct {
		Properties map[string]any
		Defs       map[string]struct{ Properties map[string]any } `json:"$defs"`
	}
	root := reflect.TypeOf(w.Of).Name()
	if err := json.Unmarshal(doc.Schema(w.Of, root), &schema); err != nil {
		w.t.Fatal(err)
	}
	var want, got []string
	for name := range schema.Properties {
		want = append(want, root+"."+name)
	}
	for of, d := range schema.Defs {
		for name := range d.Properties {
			want = append(want, of+"."+name)
		}
	}
	for _, f := range fields {
		got = append(got, f.path())
	}
	slices.Sort(want)
	slices.Sort(got)
	if !slices.Equal(got, want) {
		w.t.Errorf("the fields walked are\n%v\nthe schema has\n%v", got, want)
	}
}

// find notes the first place of every field in a sound document.
func (w *walk) find(at place, t reflect.Type, n *node) {
	below := func(t reflect.Type, i int) {
		deeper := at
		deeper.way = append(slices.Clone(at.way), step{n, i})
		w.find(deeper, t, n.nodes[i])
	}
	switch t = bare(t); {
	case scalar(t) || t.Kind() == reflect.Map:
	case t.Kind() == reflect.Slice || t.Kind() == reflect.Array:
		for i := range n.nodes {
			below(t.Elem(), i)
		}
	default:
		for _, f := range fieldsIn(t) {
			i := slices.Index(n.keys, f.name)
			if i < 0 {
				continue
			}
			if _, ok := w.where[f.path()]; !ok {
				at.parent, at.index = n, i
				w.where[f.path()] = at
			}
			below(f.typ, i)
		}
	}
}

// decode reads a sound document with another text in place of its own.
func (w *walk) decode(sound int, beside map[string][]byte, text string) (read bool, err error) {
	defer func() {
		if p := recover(); p != nil {
			read, err = false, fmt.Errorf("panic: %v", p)
		}
	}()
	files := maps.Clone(beside)
	files[w.Sound[sound].File] = []byte(text)
	return w.Decode(files)
}

// field plants everything into one field.
func (w *walk) field(f field) {
	p, ok := w.where[f.path()]
	if !ok {
		w.t.Errorf("%s: no sound document has it", f.path())
		return
	}
	n := 0
	for _, in := range w.inputs(f, p.parent.nodes[p.index]) {
		at, fault := w.plant(in, p)
		key := f.path() + ": " + in.why
		reason, taken := w.Taken[key]
		switch {
		case taken && fault != "" && reason != "":
			w.used[key] = true
			continue
		case fault != "":
			w.t.Errorf("%s: %s at %d:%d", key, fault, at.line, at.col)
			continue
		}
		w.tried++
		if in.inPlace {
			n++
		}
	}
	if n < least {
		w.t.Errorf("%s: %d broken texts are refused, at least %d are needed", f.path(), n, least)
	}
}

// plant puts a broken text into a sound document, and tells where, and what is wrong with how
// it is refused. What the reader of documents refuses it refuses wherever it stands: such a text is
// tried with nothing beside it first, which takes less time.
func (w *walk) plant(in input, p place) (at span, fault string) {
	undo, want := in.plant(p)
	defer undo()
	for _, x := range []struct {
		root   *node
		beside map[string][]byte
	}{{p.alone(), w.Beside}, {w.roots[p.sound], w.Sound[p.sound].Files}} {
		text := write(x.root)
		at = want(text)
		read, err := w.decode(p.sound, x.beside, text.b.String())
		if fault = w.fault(p.sound, at, read, err); fault == "" {
			break
		}
	}
	return at, fault
}

// refusal is the faults that a broken text was refused with, or why it was not refused with any.
func refusal(read bool, err error) (problems diag.Problems, why string) {
	switch {
	case err == nil:
		why = "is taken"
	case read:
		why = "is read all the same"
	case !errors.As(err, &problems):
		why = fmt.Sprintf("is refused with %T: %v", err, err)
	}
	return problems, why
}

// fault is what is wrong with how a broken text was refused.
func (w *walk) fault(sound int, at span, read bool, err error) string {
	problems, why := refusal(read, err)
	if why != "" {
		return why
	}
	hint := true
	for _, p := range problems {
		if p.File != w.Sound[sound].File || !at.holds(p.Line, p.Col) {
			continue
		}
		if p.Msg != "" && p.Hint != "" {
			return ""
		}
		hint = false
	}
	if !hint {
		return "is refused without what would be right:\n" + problems.Error() + "\n"
	}
	return "is refused elsewhere:\n" + string(firstLines([]byte(problems.Error()), 6)) + "\n"
}

func firstLines(text []byte, n int) []byte {
	return bytes.Join(slices.Collect(func(yield func([]byte) bool) {
		for i, l := range bytes.Split(text, []byte("\n")) {
			if i == n || !yield(l) {
				return
			}
		}
	}), []byte("\n"))
}

// field is one documented field of a type.
type field struct {
	of, name string
	required bool
	words    []string
	typ      reflect.Type
}

func (f field) path() string { return f.of + "." + f.name }

// bare is the type that is written: without pointers, and what may be unknown as its value.
func bare(t reflect.Type) reflect.Type {
	switch {
	case reflect.PointerTo(t).Implements(textType):
		return t
	case t.Kind() == reflect.Pointer:
		return bare(t.Elem())
	case t.Kind() == reflect.Struct && t.NumField() == 2 && t.Field(1).Name == "Known":
		return bare(t.Field(0).Type)
	}
	return t
}

func fieldsIn(t reflect.Type) []field {
	var out []field
	for i := range t.NumField() {
		x := t.Field(i)
		tag, ok := x.Tag.Lookup("doc")
		if !ok || tag == "-" || !x.IsExported() {
			continue
		}
		f := field{of: t.Name(), typ: x.Type}
		f.name, _, f.required = strings.Cut(tag, ",")
		if words, ok := x.Tag.Lookup("oneof"); ok {
			f.words = strings.Split(words, "|")
		}
		out = append(out, f)
	}
	return out
}

// fieldsOf is the fields of a type and of all types in it, each once.
func fieldsOf(t reflect.Type) []field {
	var out []field
	seen := map[reflect.Type]bool{}
	var in func(t reflect.Type)
	in = func(t reflect.Type) {
		switch t = bare(t); {
		case scalar(t) || seen[t] || t.Kind() == reflect.Map:
		case t.Kind() == reflect.Slice || t.Kind() == reflect.Array:
			in(t.Elem())
		default:
			seen[t] = true
			fields := fieldsIn(t)
			out = append(out, fields...)
			for _, f := range fields {
				in(f.typ)
			}
		}
	}
	in(t)
	return out
}
