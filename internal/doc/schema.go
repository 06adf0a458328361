package doc

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"

	"fettle/internal/unit"
)

// schemaDialect names the version of JSON Schema that is written.
const schemaDialect = "https://json-schema.org/draft/2020-12/schema"

// Schema is the JSON Schema (draft 2020-12) of a document, from the same tags
// Decode reads: help texts are descriptions, unknown fields are refused,
// quantities are texts with their unit. v is a value of the document's type.
// An editor that knows the schema helps while the document is written; Decode
// alone decides, and finds more.
func Schema(v any, title string) []byte {
	s := &schemer{shapes: shapes{}, names: map[reflect.Type]string{}}
	root := s.object(reflect.TypeOf(v))
	return schemaText(title, root, s.defs)
}

// schemaText is a schema as its file has it, with the definitions that it refers to.
func schemaText(title string, root, defs Object) []byte {
	out := append(Object{{"$schema", schemaDialect}, {"title", title}}, root...)
	if len(defs) > 0 {
		out = append(out, Member{"$defs", defs})
	}
	var b strings.Builder
	writeJSON(&b, out, "")
	b.WriteByte('\n')
	return []byte(b.String())
}

// schemer collects the definitions of the struct types met on the way.
type schemer struct {
	shapes shapes
	names  map[reflect.Type]string
	defs   Object
}

func (s *schemer) object(t reflect.Type) Object {
	properties, required := Object{}, []any{}
	for _, f := range s.shapes.of(t) {
		p := s.value(f.typ, f.words)
		if f.help != "" {
			p = append(p, Member{"description", f.help})
		}
		properties = append(properties, Member{f.name, p})
		if f.required {
			required = append(required, f.name)
		}
	}
	out := Object{{"type", "object"}, {"additionalProperties", false}}
	if len(required) > 0 {
		out = append(out, Member{"required", required})
	}
	return append(out, Member{"properties", properties})
}

// scalarTypes are what a YAML reader may take an unquoted text for.
var scalarTypes = []any{"string", "number", "boolean"}

func (s *schemer) value(t reflect.Type, words []string) Object {
	switch shapeOf(t) {
	case maybeShape:
		return s.value(t.Field(0).Type, words)
	case pointerShape:
		return s.reference(t.Elem())
	case structShape:
		return s.reference(t)
	case listShape:
		return Object{{"type", "array"}, {"items", s.value(t.Elem(), words)}}
	case arrayShape:
		return Object{{"type", "array"}, {"items", s.value(t.Elem(), words)},
			{"minItems", int64(t.Len())}, {"maxItems", int64(t.Len())}}
	case mapShape:
		return Object{{"type", "object"}, {"additionalProperties", Object{{"type", scalarTypes}}}}
	case boolShape:
		return Object{{"enum", []any{true, false, "yes", "no", "true", "false"}}}
	case intShape:
		return Object{{"type", []any{"integer", "string"}}, {"pattern", intPattern}}
	case floatShape:
		return Object{{"type", []any{"number", "string"}}, {"pattern", floatPattern}}
	case textShape:
		return Object{{"type", "string"}, {"pattern", textPattern(t)}}
	}
	if words == nil {
		return Object{{"type", scalarTypes}}
	}
	return Object{{"enum", anys(words)}}
}

func anys(words []string) []any {
	out := make([]any, len(words))
	for i, w := range words {
		out[i] = w
	}
	return out
}

// reference names the definition of a struct type, and makes it when it is
// met first.
func (s *schemer) reference(t reflect.Type) Object {
	name, ok := s.names[t]
	if !ok {
		name = t.Name()
		for _, taken := range s.names {
			if taken == name {
				panic(fmt.Sprintf("doc.Schema: two types are called %s", name))
			}
		}
		s.names[t] = name
		at := len(s.defs)
		s.defs = append(s.defs, Member{name, nil})
		s.defs[at].Value = s.object(t)
	}
	return Object{{"$ref", "#/$defs/" + name}}
}

// number is the part of a quantity before its unit.
const number = `^ *[-+]?([0-9]+[.]?[0-9]*|[.][0-9]+)([eE][-+]?[0-9]+)? *`

// textPattern is the form of a value that reads itself. Types this package
// does not know are any text that is not empty.
func textPattern(t reflect.Type) string {
	switch t {
	case reflect.TypeFor[unit.MM]():
		return number + `(mm|cm|m|in) *$`
	case reflect.TypeFor[unit.Minutes]():
		return number + `(min|h|d) *$`
	case reflect.TypeFor[unit.Kilogram]():
		return number + `(kg|g) *$`
	case reflect.TypeFor[unit.SquareMetre]():
		return number + `(m2|m²|dm2|cm2) *$`
	case reflect.TypeFor[unit.Micrometre]():
		return number + `(um|µm) *$`
	case reflect.TypeFor[unit.NewtonMetre]():
		return number + `Nm *$`
	case reflect.TypeFor[unit.Rad]():
		return number + `(deg|°|rad) *$`
	case reflect.TypeFor[unit.Celsius]():
		return number + `(C|°C) *$`
	case reflect.TypeFor[unit.Kelvin]():
		return number + `K *$`
	case reflect.TypeFor[unit.PerKelvin]():
		return number + `ppm/K *$`
	case reflect.TypeFor[unit.Frac]():
		return number + `% *$`
	case reflect.TypeFor[unit.Amount]():
		return number + `[^ 0-9.+-].*$`
	case reflect.TypeFor[unit.Money]():
		return `^ *-?[0-9]+([.][0-9]{0,2})? +[A-Z]{3} *$`
	case reflect.TypeFor[unit.Date]():
		return `^[0-9]{4}-[0-9]{2}-[0-9]{2}$`
	}
	return `.`
}

// writeJSON writes a tree with its members in order, indented by two spaces.
func writeJSON(b *strings.Builder, v any, indent string) {
	deeper := indent + "  "
	switch v := v.(type) {
	case Object:
		b.WriteString("{")
		for i, m := range v {
			if i > 0 {
				b.WriteString(",")
			}
			b.WriteString("\n" + deeper)
			writeJSON(b, m.Name, deeper)
			b.WriteString(": ")
			writeJSON(b, m.Value, deeper)
		}
		if len(v) > 0 {
			b.WriteString("\n" + indent)
		}
		b.WriteString("}")
	case []any:
		b.WriteString("[")
		for i, item := range v {
			if i > 0 {
				b.WriteString(", ")
			}
			writeJSON(b, item, deeper)
		}
		b.WriteString("]")
	default:
		b.WriteString(jsonText(v))
	}
}

// jsonText writes a scalar as JSON.
func jsonText(v any) string {
	var b strings.Builder
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		panic(err) // text, whole numbers and yes or no can always be written
	}
	return strings.TrimSuffix(b.String(), "\n")
}
