package doc

import (
	"encoding"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"time"
)

// SchemaOfResult is the JSON Schema (draft 2020-12) of what encoding/json writes
// of a value's type, by its json tags. Every member has the description that
// describe gives for a type and a member; a list or pointer that may be empty may be null. A
// struct that writes itself is taken to keep its members.
func SchemaOfResult(v any, title string, describe func(of, member string) string) []byte {
	s := &resultSchemer{names: map[reflect.Type]string{}, describe: describe}
	root := s.object(reflect.TypeOf(v))
	return schemaText(title, root, s.defs)
}

// resultSchemer collects the definitions of the struct types met on the way.
type resultSchemer struct {
	names    map[reflect.Type]string
	defs     Object
	describe func(of, member string) string
}

func (s *resultSchemer) object(t reflect.Type) Object {
	properties, required := Object{}, []any{}
	for _, f := range reflect.VisibleFields(t) {
		if !f.IsExported() || f.Anonymous {
			continue
		}
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		if name == "-" {
			continue
		}
		if name == "" {
			name = f.Name
		}
		p := s.value(f.Type)
		if strings.Contains(options, "string") {
			p = Object{{"type", "string"}}
		}
		properties = append(properties, Member{name, append(p, Member{"description", s.describe(typeName(t), name)})})
		if !strings.Contains(options, "omitempty") && !strings.Contains(options, "omitzero") {
			required = append(required, name)
		}
	}
	out := Object{{"type", "object"}, {"additionalProperties", false}}
	if len(required) > 0 {
		out = append(out, Member{"required", required})
	}
	return append(out, Member{"properties", properties})
}

// typeName is a type with its package, as the descriptions have it.
func typeName(t reflect.Type) string {
	path := t.PkgPath()
	return path[strings.LastIndex(path, "/")+1:] + "." + t.Name()
}

var (
	jsonMarshaler = reflect.TypeFor[json.Marshaler]()
	textMarshaler = reflect.TypeFor[encoding.TextMarshaler]()
)

func (s *resultSchemer) value(t reflect.Type) Object {
	switch {
	case t == reflect.TypeFor[time.Time]():
		return Object{{"type", []any{"string", "null"}}, {"format", "date-time"}} // null: no time
	case t.Kind() == reflect.Pointer:
		return Object{{"anyOf", []any{s.value(t.Elem()), Object{{"type", "null"}}}}}
	case t.Implements(jsonMarshaler) && t.Kind() != reflect.Struct:
		panic(fmt.Sprintf("doc.SchemaOfResult: nobody knows what %s writes", t))
	case t.Implements(textMarshaler):
		return Object{{"type", "string"}}
	}
	switch t.Kind() {
	case reflect.Struct:
		return s.reference(t)
	case reflect.Slice:
		if t.Elem().Kind() == reflect.Uint8 {
			return Object{{"type", []any{"string", "null"}}, {"contentEncoding", "base64"}}
		}
		return Object{{"type", []any{"array", "null"}}, {"items", s.value(t.Elem())}}
	case reflect.Array:
		return Object{{"type", "array"}, {"items", s.value(t.Elem())}, {"minItems", int64(t.Len())}, {"maxItems", int64(t.Len())}}
	case reflect.Map:
		return Object{{"type", []any{"object", "null"}}, {"additionalProperties", s.value(t.Elem())}}
	case reflect.String:
		return Object{{"type", "string"}}
	case reflect.Bool:
		return Object{{"type", "boolean"}}
	case reflect.Float64:
		return Object{{"type", "number"}}
	case reflect.Int, reflect.Int64, reflect.Int32, reflect.Uint64:
		return Object{{"type", "integer"}}
	}
	panic(fmt.Sprintf("doc.SchemaOfResult: %s cannot be written", t))
}

// reference names the definition of a struct type, and makes it when it is met
// first.
func (s *resultSchemer) reference(t reflect.Type) Object {
	name, ok := s.names[t]
	if !ok {
		name = typeName(t)
		s.names[t] = name
		at := len(s.defs)
		s.defs = append(s.defs, Member{name, nil})
		s.defs[at].Value = s.object(t)
	}
	return Object{{"$ref", "#/$defs/" + name}}
}
