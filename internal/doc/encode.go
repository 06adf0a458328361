package doc

import (
	"encoding"
	"fmt"
	"reflect"
	"sort"
	"strconv"
)

// Member is one named value of an Object.
type Member struct {
	Name  string
	Value any
}

// Object is a mapping in the order of its Go fields.
type Object []Member

// Each calls f for every member in order.
func (o Object) Each(f func(name string, value any)) {
	for _, m := range o {
		f(m.Name, m.Value)
	}
}

// Encode turns a document into a tree of Object, []any, string, int64 and
// bool, from which Decode makes an equal value. Optional fields that were not
// given are left out; quantities and decimal numbers are text.
func Encode(v any) any {
	e := encoder{shapes: shapes{}}
	return e.value(reflect.ValueOf(v))
}

type encoder struct{ shapes shapes }

func (e encoder) value(v reflect.Value) any {
	switch shapeOf(v.Type()) {
	case maybeShape:
		return e.value(v.Field(0))
	case pointerShape:
		return e.value(v.Elem())
	case structShape:
		out := Object{}
		for _, f := range e.shapes.of(v.Type()) {
			if fv := v.Field(f.index); f.required || given(fv) {
				out = append(out, Member{f.name, e.value(fv)})
			}
		}
		return out
	case listShape, arrayShape:
		out := make([]any, v.Len())
		for i := range out {
			out[i] = e.value(v.Index(i))
		}
		return out
	case mapShape:
		return mapObject(v)
	case intShape:
		return v.Int()
	case boolShape:
		return v.Bool()
	}
	return scalarText(v)
}

// mapObject orders a map by its keys.
func mapObject(v reflect.Value) Object {
	out := make(Object, 0, v.Len())
	for _, k := range v.MapKeys() {
		out = append(out, Member{k.String(), v.MapIndex(k).String()})
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out
}

// given says that an optional value is worth writing.
func given(v reflect.Value) bool {
	switch shapeOf(v.Type()) {
	case maybeShape:
		return v.Field(1).Bool()
	case listShape, mapShape:
		return v.Len() > 0
	}
	return !v.IsZero()
}

// scalarText writes a scalar as Decode reads it.
func scalarText(v reflect.Value) string {
	switch shapeOf(v.Type()) {
	case maybeShape:
		return scalarText(v.Field(0))
	case stringShape:
		return v.String()
	case intShape:
		return strconv.FormatInt(v.Int(), 10)
	case floatShape:
		return strconv.FormatFloat(v.Float()+0, 'f', -1, 64) // + 0 takes the sign off minus zero
	case boolShape:
		if v.Bool() {
			return "yes"
		}
		return "no"
	case textShape:
		return quantityText(v)
	}
	panic(fmt.Sprintf("doc: %s is not a scalar", v.Type()))
}

// quantityText writes a value that reads itself from text.
func quantityText(v reflect.Value) string {
	if m, ok := v.Interface().(encoding.TextMarshaler); ok {
		b, err := m.MarshalText()
		if err != nil {
			panic(fmt.Sprintf("doc: %s cannot be written: %v", v.Type(), err))
		}
		return string(b)
	}
	if s, ok := v.Interface().(fmt.Stringer); ok {
		return s.String()
	}
	panic(fmt.Sprintf("doc: %s is read from text but has no String method", v.Type()))
}
