package plan

import (
	"crypto/sha256"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"reflect"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the golden file anew")

// TestPlansStayAsTheyAre: plans of the test body, of that body and its shop with one field
// after the other taken away or put in, and of random jobs on whole bodies, each with its
// figures and a fingerprint of all of it, notes included. What is right in them the laws and
// the enumerations hold; this holds the rest: no step, word, amount or moment changes without
// somebody looking at why, who then runs the test with -update.
func TestPlansStayAsTheyAre(t *testing.T) {
	var b strings.Builder
	tell := func(name string, in Input) {
		text, figures := built(in)
		fmt.Fprintf(&b, "%s\t%s\t%.4x\n", name, figures, sha256.Sum256([]byte(text)))
	}
	items := map[string][]Item{"welds": {weldF1, weldF2, swapF3}, "plate": {weldF1, plateF2}, "cut": {cutS1, plateF2, swapF3}, "casting": {newCast, swapF3}}
	for _, name := range []string{"welds", "plate", "cut", "casting"} {
		tell(name, input(items[name]...))
	}
	in := input(cutS1, plateF2, swapF3)
	plain, _ := built(in)
	for _, of := range []any{in.Body, in.Shop, in.Job, &in.Inspect, &in.Choice} {
		v := reflect.ValueOf(of).Elem()
		eachField(v, v.Type().String(), func(name string) {
			if text, figures := built(in); text != plain {
				fmt.Fprintf(&b, "%s\t%s\t%.4x\n", name, figures, sha256.Sum256([]byte(text)))
			}
		})
	}
	for _, v := range lawVehicles(t) {
		for seed := range uint64(4) {
			tell(fmt.Sprintf("%s %d", v.name, seed), lawJob(v, seed))
		}
	}
	sameAs(t, "testdata/plans.tsv", b.String())
}

// built is a plan and its notes whole, and in short.
func built(in Input) (text, figures string) {
	defer func() {
		if recover() != nil { // no document like this is read
			text, figures = "", "contradicts itself"
		}
	}()
	p, notes := Build(in)
	out, err := json.Marshal([]any{p, notes})
	if err != nil {
		return err.Error(), "no JSON"
	}
	return string(out), fmt.Sprintf("%d steps, %d off, %d lost, %s to %s, %g min of work, %g in all, notes: %d, blocking: %s",
		len(p.Steps), len(p.Removal), len(p.Lost), p.Start, p.Finish, p.WorkMin, p.SpanMin, len(notes), blocking(notes))
}

// eachField empties each field of a value that says something, puts something into each that
// says nothing, tells, and puts it back.
func eachField(v reflect.Value, name string, tell func(name string)) {
	was := reflect.New(v.Type()).Elem()
	was.Set(v)
	try := func(set func()) {
		set()
		tell(name)
		v.Set(was)
	}
	empty := func() { v.SetZero() }
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Field(i).CanSet() {
				eachField(v.Field(i), name+"."+v.Type().Field(i).Name, tell)
			}
		}
	case reflect.Slice:
		if v.Len() > 0 {
			try(func() { v.Set(v.Slice(0, v.Len()-1)) })
		}
		for i := range v.Len() {
			eachField(v.Index(i), fmt.Sprintf("%s[%d]", name, i), tell)
		}
	case reflect.Pointer:
		if !v.IsNil() {
			try(empty)
			eachField(v.Elem(), name, tell)
		}
	case reflect.Bool:
		try(func() { v.SetBool(!v.Bool()) })
	case reflect.Float64:
		try(func() { v.SetFloat(2.5*v.Float() + 7) })
	case reflect.Int, reflect.Int64:
		try(func() { v.SetInt(3*v.Int() + 1) })
	case reflect.String:
		if v.Len() > 0 {
			try(empty)
		}
	}
}

// sameAs compares with a file that was looked at, line by line.
func sameAs(t *testing.T, file, text string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	was, is := strings.Split(string(want), "\n"), strings.Split(text, "\n")
	for i := range max(len(was), len(is)) {
		if i >= len(was) || i >= len(is) || was[i] != is[i] {
			t.Fatalf("%s:%d: %q, was %q; when it is meant, run the test with -update", file, i+1, is[min(i, len(is)-1)], was[min(i, len(was)-1)])
		}
	}
}
