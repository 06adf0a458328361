// Package golden holds answers against files that were looked at, for tests.
//
// It is for what has no formula to be checked by: words, drawings, orders. Whoever changes an
// answer reads the lines that differ and runs the test with -update.
package golden

import (
	"crypto/sha256"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the golden files anew")

// Same compares a text with a file, and tells the first line that differs.
func Same(t testing.TB, file, text string) {
	t.Helper()
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if why := differs(text, string(want)); why != "" {
		t.Errorf("%s:%s; when it is meant, run the test with -update", file, why)
	}
}

// differs is the first line that differs, and what it was; empty where none does.
func differs(text, before string) string {
	is, was := strings.Split(text, "\n"), strings.Split(before, "\n")
	for i := range max(len(is), len(was)) {
		switch {
		case i == len(is):
			return fmt.Sprintf("%d: nothing, was %q", i+1, was[i])
		case i == len(was):
			return fmt.Sprintf("%d: %q, was nothing", i+1, is[i])
		case is[i] != was[i]:
			return fmt.Sprintf("%d: %q, was %q", i+1, is[i], was[i])
		}
	}
	return ""
}

// EachField empties each field of a value that says something, changes each number and each
// yes or no, shortens each list by its last, tells the name of what it changed, and puts it
// back. The value has to be one that can be set.
func EachField(v reflect.Value, name string, tell func(name string)) {
	was := reflect.New(v.Type()).Elem()
	was.Set(v)
	now := func(name string) {
		tell(name)
		v.Set(was)
	}
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Field(i).CanSet() {
				EachField(v.Field(i), name+"."+v.Type().Field(i).Name, tell)
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			EachField(v.Index(i), fmt.Sprintf("%s[%d]", name, i), tell)
		}
		if v.Len() > 0 {
			v.Set(v.Slice(0, v.Len()-1))
			now(name)
		}
	case reflect.Pointer:
		if !v.IsNil() {
			EachField(v.Elem(), name, tell)
			v.SetZero()
			now(name)
		}
	case reflect.Bool:
		v.SetBool(!v.Bool())
		now(name)
	case reflect.Float64:
		v.SetFloat(float64(2.5*v.Float()) + 7)
		now(name)
	case reflect.Int, reflect.Int64:
		v.SetInt(3*v.Int() + 1)
		now(name)
	case reflect.String:
		if v.Len() > 0 {
			v.SetString("")
			now(name)
		}
	}
}

// Answers is what is said to one question after the other: a line for each, with its figures and a
// fingerprint of all that is said.
type Answers struct{ text strings.Builder }

// Say answers a question: with all that is said, to be told apart by its JSON, and its figures.
type Say func() (all any, figures string)

// Tell adds what is said under a name.
func (a *Answers) Tell(name string, say Say) {
	whole, figures := say.whole()
	a.line(name, whole, figures)
}

// TellFields adds what is said with each field changed that EachField changes of some values, which are
// given as pointers, where something else is said than before.
func (a *Answers) TellFields(say Say, of ...any) {
	before, _ := say.whole()
	for _, x := range of {
		v := reflect.ValueOf(x).Elem()
		EachField(v, v.Type().String(), func(name string) {
			if whole, figures := say.whole(); whole != before {
				a.line(name, whole, figures)
			}
		})
	}
}

// Same compares all of it with a file.
func (a *Answers) Same(t testing.TB, file string) {
	t.Helper()
	Same(t, file, a.text.String())
}

func (a *Answers) line(name, whole, figures string) {
	fmt.Fprintf(&a.text, "%s\t%s\t%.4x\n", name, figures, sha256.Sum256([]byte(whole)))
}

// whole is what is said as text. A question that is answered by a panic contradicts itself: no
// document like it is read.
func (say Say) whole() (text, figures string) {
	defer func() {
		if recover() != nil {
			text, figures = "", "contradicts itself"
		}
	}()
	all, figures := say()
	out, err := json.Marshal(all)
	if err != nil {
		return err.Error(), "no JSON"
	}
	return string(out), figures
}
