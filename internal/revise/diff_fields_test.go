package revise

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/unit"
)

// filled gives every field of a value something, and every list two items.
func filled(v reflect.Value, n *int) {
	*n++
	switch t := v.Type(); {
	case t == reflect.TypeFor[unit.Date]():
		v.Set(reflect.ValueOf(unit.Date{Year: 2030, Month: 1, Day: 1}.AddDays(*n)))
	case isMaybe(t):
		v.FieldByName("Known").SetBool(true)
		filled(v.FieldByName("Value"), n)
	case t.Kind() == reflect.Struct:
		for i := range t.NumField() {
			if v.Field(i).CanSet() {
				filled(v.Field(i), n)
			}
		}
	case t.Kind() == reflect.Pointer:
		v.Set(reflect.New(t.Elem()))
		filled(v.Elem(), n)
	case t.Kind() == reflect.Slice:
		v.Set(reflect.MakeSlice(t, 2, 2))
		filled(v.Index(0), n)
		filled(v.Index(1), n)
	case t.Kind() == reflect.Map:
		v.Set(reflect.MakeMap(t))
		for _, k := range []string{body.FactLength, body.FactSpacing} {
			*n++
			v.SetMapIndex(reflect.ValueOf(k), reflect.ValueOf(fmt.Sprintf("<= %d mm", *n)))
		}
	case t.Kind() == reflect.String:
		v.SetString(fmt.Sprint("w", *n))
	case t.Kind() == reflect.Bool:
		v.SetBool(true)
	case t.Kind() == reflect.Int:
		v.SetInt(int64(*n))
	case t.Kind() == reflect.Float64:
		v.SetFloat(float64(*n))
	default:
		panic(t.String())
	}
}

func fullProcedure() *body.Procedure {
	p, n := new(body.Procedure), 0
	filled(reflect.ValueOf(p).Elem(), &n)
	return p
}

// changes calls f for every single change of a value: another value of each field,
// nothing in it, one item less, items the other way round. The value is the same
// again afterwards.
func eachChange(at string, v reflect.Value, f func(at string)) {
	try := func(what string, to reflect.Value) {
		was := reflect.New(v.Type()).Elem()
		was.Set(v)
		v.Set(to)
		f(at + what)
		v.Set(was)
	}
	t := v.Type()
	try(" left out", reflect.Zero(t))
	n := 5000
	other := reflect.New(t).Elem()
	switch {
	case t == reflect.TypeFor[unit.Date](), isMaybe(t), t.Kind() == reflect.String, t.Kind() == reflect.Int, t.Kind() == reflect.Float64:
		filled(other, &n)
		try(" other", other)
	case t.Kind() == reflect.Struct:
		for i := range t.NumField() {
			if name := fieldName(t.Field(i)); name != "" {
				eachChange(at+"."+name, v.Field(i), f)
			}
		}
	case t.Kind() == reflect.Pointer:
		eachChange(at, v.Elem(), f)
	case t.Kind() == reflect.Slice:
		try(" shorter", v.Slice(0, 1))
		turned := reflect.MakeSlice(t, 2, 2)
		turned.Index(0).Set(v.Index(1))
		turned.Index(1).Set(v.Index(0))
		try(" turned", turned)
		for i := range 2 {
			eachChange(fmt.Sprintf("%s[%d]", at, i), v.Index(i), f)
		}
	case t.Kind() == reflect.Map:
		for _, k := range v.MapKeys() {
			was := v.MapIndex(k)
			v.SetMapIndex(k, reflect.ValueOf("> 7 mm"))
			f(at + "." + k.String())
			v.SetMapIndex(k, reflect.Value{})
			f(at + "." + k.String() + " left out")
			v.SetMapIndex(k, was)
		}
	}
}

// Every field of a procedure that differs is told, but for what names a revision and
// where a thing stands in its document. The fields are those of the type: a new one
// is tried from the day it is there.
func TestEveryFieldOfAProcedureIsTold(t *testing.T) {
	old, fresh := fullProcedure(), fullProcedure()
	if got := Diff(*old, *fresh); len(got) != 0 {
		t.Fatalf("the same twice: %+v", got)
	}
	tried, silent := 0, 0
	eachChange("", reflect.ValueOf(fresh).Elem(), func(at string) {
		at = strings.TrimPrefix(at, ".")
		if at == " left out" {
			return
		}
		tried++
		field, _, _ := strings.Cut(at, " ")
		field = field[strings.LastIndex(field, ".")+1:]
		told := len(Diff(*old, *fresh)) > 0
		if slices.Contains(unsaid, field) {
			silent++
			return
		}
		// the order of words in these lists is none
		if strings.HasSuffix(at, " turned") && !strings.HasPrefix(at, "areas") && !told {
			if strings.HasSuffix(field, "allow") || strings.HasSuffix(field, "forbid") || strings.HasSuffix(field, "after") {
				return
			}
		}
		if !told {
			t.Errorf("%s is not told", at)
		}
	})
	if tried < 300 || silent > tried/5 {
		t.Errorf("%d changes tried, %d of them of no matter", tried, silent)
	}
}

// What inspect looks at of a procedure is everything but what is named here: a new
// field makes what was found out under another revision count no more.
func TestInspectedByHasEveryField(t *testing.T) {
	old, fresh := fullProcedure(), fullProcedure()
	want := decide.InspectedBy(*old)
	v := reflect.ValueOf(fresh).Elem()
	not := []string{"format", "id", "title", "revision", "source", "issued", "effective", "recheck_before", "supersedes", "rows", "tests", "levels", "acceptance"}
	for i := range v.NumField() {
		was := reflect.New(v.Field(i).Type()).Elem()
		was.Set(v.Field(i))
		v.Field(i).SetZero()
		if name := fieldName(v.Type().Field(i)); (decide.InspectedBy(*fresh) == want) != slices.Contains(not, name) && name != "rows" {
			t.Errorf("%s left out: the same is %v", name, decide.InspectedBy(*fresh) == want)
		}
		v.Field(i).Set(was)
	}
	fresh.Rows[0].When[body.FactSpacing] = ">= 9 mm"
	if decide.InspectedBy(*fresh) == want {
		t.Error("another limit on a distance looks the same")
	}
}
