package revise

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"fettle/internal/body"
)

// What the worded comparison of two revisions does not name is told field by field.
// The list of fields is the type of the procedure itself, so that a new field is told
// from the day it is there. Only these are left out:

// unsaid is the fields of which a difference is none: what names a revision, and where
// in its document a thing stands.
var unsaid = []string{"format", "revision", "issued", "supersedes", "cite"}

// Fields that have words of their own: the fields of a procedure, of a row and of a
// level that are compared elsewhere, by what they mean.
var (
	wordedProcedure = []string{"id", "casting", "effective", "recheck before", "tip allowance visual", "group gap", "rows", "tests", "levels", "acceptance"}
	wordedRow       = []string{"id", "when", "allow", "forbid", "ask", "after", "with, plate", "with, plate thickness", "with, plate overlap", "with, filler", "with, text",
		"with, most in zone", "with, most on casting", "with, most length in zone", "with, most length on casting"}
	wordedLevel = []string{"linear", "non linear", "linear over"}
)

// differences is what two values of one type differ in, but for what is worded or
// unsaid.
func differences(old, fresh any, worded []string) []string {
	d := fieldDiff{worded: worded}
	d.values("", reflect.ValueOf(old), reflect.ValueOf(fresh))
	return d.texts
}

// diffTests names the tests inside a procedure that are new, gone or other: they decide
// nothing, so which is enough.
func diffTests(old, fresh []body.RowTest) []Change {
	at := func(list []body.RowTest, name string) int {
		return slices.IndexFunc(list, func(t body.RowTest) bool { return t.Name == name })
	}
	var out []Change
	for _, x := range []struct {
		words    string
		of, than []body.RowTest
		differ   bool
	}{{"new tests inside it: ", fresh, old, false}, {"tests inside it dropped: ", old, fresh, false}, {"tests inside it changed: ", fresh, old, true}} {
		var names []string
		for _, t := range x.of {
			k := at(x.than, t.Name)
			if k < 0 != x.differ && (k < 0 || !reflect.DeepEqual(x.than[k], t)) {
				names = append(names, t.Name)
			}
		}
		if len(names) > 0 {
			out = append(out, Change{Text: x.words + strings.Join(names, "; ")})
		}
	}
	if len(out) == 0 && !reflect.DeepEqual(old, fresh) {
		out = append(out, Change{Text: "the tests inside it stand in another order"})
	}
	return out
}

type fieldDiff struct {
	worded []string
	texts  []string
}

func (d *fieldDiff) add(at, format string, args ...any) {
	d.texts = append(d.texts, at+": "+fmt.Sprintf(format, args...))
}

func (d *fieldDiff) values(at string, old, fresh reflect.Value) {
	if reflect.DeepEqual(old.Interface(), fresh.Interface()) {
		return
	}
	switch t := old.Type(); {
	case t.Kind() == reflect.Pointer && !old.IsNil() && !fresh.IsNil():
		d.values(at, old.Elem(), fresh.Elem())
	case isGroup(t):
		for i := range t.NumField() {
			name := fieldName(t.Field(i))
			if name == "" || slices.Contains(unsaid, name) || slices.Contains(d.worded, joinPath(at, name)) {
				continue
			}
			d.values(joinPath(at, name), old.Field(i), fresh.Field(i))
		}
	case t.Kind() == reflect.Slice:
		d.lists(at, old, fresh)
	case t.Kind() == reflect.Map:
		for _, k := range keys(old, fresh) {
			d.values(joinPath(at, k.String()), orZero(old.MapIndex(k), t.Elem()), orZero(fresh.MapIndex(k), t.Elem()))
		}
	default:
		d.add(at, "%s in place of %s", valueText(fresh), valueText(old))
	}
}

// lists compares the items of two lists: those of the same name with each other.
func (d *fieldDiff) lists(at string, old, fresh reflect.Value) {
	was, is := byName(old), byName(fresh)
	var order [2][]string
	for _, x := range is {
		if y, ok := x.in(was); ok {
			order[1] = append(order[1], x.name)
			d.values(joinPath(at, x.name), y, x.value)
		} else {
			d.add(at, "now also %s", valueText(x.value))
		}
	}
	for _, x := range was {
		if _, ok := x.in(is); ok {
			order[0] = append(order[0], x.name)
		} else {
			d.add(at, "no longer %s", valueText(x.value))
		}
	}
	if !slices.Equal(order[0], order[1]) {
		d.add(at, "in another order: %s in place of %s", strings.Join(order[1], ", "), strings.Join(order[0], ", "))
	}
}

// item is an item of a list and its name: its identity, or its place among those of
// the same words.
type item struct {
	name  string
	value reflect.Value
}

func (x item) in(list []item) (reflect.Value, bool) {
	for _, y := range list {
		if y.name == x.name {
			return y.value, true
		}
	}
	return reflect.Value{}, false
}

func byName(list reflect.Value) []item {
	var out []item
	for i := range list.Len() {
		v := list.Index(i)
		name := identity(v)
		for n := 2; ; n++ {
			if _, twice := (item{name: name}).in(out); !twice {
				break
			}
			name = fmt.Sprintf("%s (%d)", identity(v), n)
		}
		out = append(out, item{name, v})
	}
	return out
}

// identity is what an item is called by: the first of these fields that it has, and
// for what it is.
func identity(v reflect.Value) string {
	if !isGroup(v.Type()) {
		return valueText(v)
	}
	var parts []string
	for _, want := range []string{"id", "name", "method", "what", "for"} {
		for i := range v.NumField() {
			if fieldName(v.Type().Field(i)) == want && !v.Field(i).IsZero() && (len(parts) == 0 || want == "for") {
				parts = append(parts, valueText(v.Field(i)))
			}
		}
	}
	return strings.Join(parts, " ")
}

// valueText is a value in words.
func valueText(v reflect.Value) string {
	switch t := v.Type(); {
	case v.IsZero() && t.Kind() != reflect.Bool:
		return "nothing"
	case t.Kind() == reflect.Pointer:
		return valueText(v.Elem())
	case isMaybe(t):
		return valueOf(v.FieldByName("Value"))
	case isGroup(t):
		var parts []string
		for i := range t.NumField() {
			if name := fieldName(t.Field(i)); name != "" && !slices.Contains(unsaid, name) && !v.Field(i).IsZero() {
				parts = append(parts, strings.ReplaceAll(name, "_", " ")+" "+valueText(v.Field(i)))
			}
		}
		return strings.Join(parts, ", ")
	case t.Kind() == reflect.Slice:
		parts := make([]string, v.Len())
		for i := range parts {
			parts[i] = valueText(v.Index(i))
		}
		return strings.Join(parts, ", ")
	case t.Kind() == reflect.Map:
		var parts []string
		for _, k := range keys(v, v) {
			parts = append(parts, k.String()+" "+valueText(v.MapIndex(k)))
		}
		return strings.Join(parts, ", ")
	}
	return valueOf(v)
}

func valueOf(v reflect.Value) string {
	if v.Kind() == reflect.Bool {
		return map[bool]string{true: "yes", false: "no"}[v.Bool()]
	}
	return fmt.Sprint(v.Interface())
}

// isGroup says that a type is a group of fields of a document.
func isGroup(t reflect.Type) bool {
	return t.Kind() == reflect.Struct && t.NumField() > 0 && slices.ContainsFunc(reflect.VisibleFields(t), func(f reflect.StructField) bool { return fieldName(f) != "" })
}

// isMaybe says that a type is one of unit.Maybe.
func isMaybe(t reflect.Type) bool {
	if t.Kind() != reflect.Struct {
		return false
	}
	_, known := t.FieldByName("Known")
	return known
}

// fieldName is the name of a field in its document; empty when it is in none.
func fieldName(f reflect.StructField) string {
	name, _, _ := strings.Cut(f.Tag.Get("doc"), ",")
	return strings.TrimPrefix(name, "-")
}

func joinPath(at, name string) string {
	name = strings.ReplaceAll(name, "_", " ")
	if at == "" {
		return name
	}
	return at + ", " + name
}

func keys(a, b reflect.Value) []reflect.Value {
	out := a.MapKeys()
	for _, k := range b.MapKeys() {
		if !a.MapIndex(k).IsValid() {
			out = append(out, k)
		}
	}
	slices.SortFunc(out, func(x, y reflect.Value) int { return strings.Compare(x.String(), y.String()) })
	return out
}

func orZero(v reflect.Value, t reflect.Type) reflect.Value {
	if v.IsValid() {
		return v
	}
	return reflect.Zero(t)
}
