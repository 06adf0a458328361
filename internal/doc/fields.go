package doc

import (
	"encoding"
	"fmt"
	"reflect"
	"strings"
)

// field is one documented field of a struct.
type field struct {
	index    int
	name     string
	required bool
	help     string
	words    []string // the allowed words of a closed set, when not nil
	typ      reflect.Type
}

// shapes keeps the documented fields of each struct type for one run.
type shapes map[reflect.Type][]field

// of lists the documented fields of a struct type in their order.
func (s shapes) of(t reflect.Type) []field {
	if known, ok := s[t]; ok {
		return known
	}
	var out []field
	for i := range t.NumField() {
		f := t.Field(i)
		tag, ok := f.Tag.Lookup("doc")
		if !ok || tag == "-" || !f.IsExported() {
			continue
		}
		name, option, _ := strings.Cut(tag, ",")
		if name == "" || option != "" && option != "required" {
			panic(fmt.Sprintf("%s.%s: doc tag %q is not a name with an optional ,required", t, f.Name, tag))
		}
		d := field{index: i, name: name, required: option == "required", help: f.Tag.Get("help"), typ: f.Type}
		if words, ok := f.Tag.Lookup("oneof"); ok {
			d.words = strings.Split(words, "|")
		}
		out = append(out, d)
	}
	s[t] = out
	return out
}

// shape is how a Go type is written in a document.
type shape int

const (
	textShape   shape = iota // a scalar its type reads itself
	maybeShape               // struct{Value; Known}
	structShape              // fields
	pointerShape
	listShape
	arrayShape
	mapShape
	stringShape
	intShape
	floatShape
	boolShape
)

var textType = reflect.TypeFor[encoding.TextUnmarshaler]()

// shapeOf panics on a type the package does not read.
func shapeOf(t reflect.Type) shape {
	if reflect.PointerTo(t).Implements(textType) {
		return textShape
	}
	switch t.Kind() {
	case reflect.Struct:
		if isMaybe(t) {
			return maybeShape
		}
		return structShape
	case reflect.Pointer:
		if t.Elem().Kind() == reflect.Struct {
			return pointerShape
		}
	case reflect.Slice:
		return listShape
	case reflect.Array:
		return arrayShape
	case reflect.Map:
		if t.Key().Kind() == reflect.String && t.Elem().Kind() == reflect.String {
			return mapShape
		}
	case reflect.String:
		return stringShape
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		return intShape
	case reflect.Float64:
		return floatShape
	case reflect.Bool:
		return boolShape
	}
	panic(fmt.Sprintf("doc: type %s cannot be read from a document", t))
}

// isMaybe recognises a value that may be unknown by its two fields.
func isMaybe(t reflect.Type) bool {
	return t.NumField() == 2 && t.Field(0).Name == "Value" &&
		t.Field(1).Name == "Known" && t.Field(1).Type.Kind() == reflect.Bool
}
