package golden

import (
	"crypto/sha256"
	"fmt"
	"reflect"
	"slices"
	"testing"
)

// A text that differs in a line, is longer or shorter, is told with its line.
func TestDiffersTellsTheLine(t *testing.T) {
	for _, c := range []struct{ is, was, want string }{
		{"a\nb\n", "a\nb\n", ""}, {"a\nc\n", "a\nb\n", `2: "c", was "b"`}, {"a", "a\nb", `2: nothing, was "b"`}, {"a\nb", "a", `2: "b", was nothing`}, {"", "x", `1: "", was "x"`},
	} {
		if got := differs(c.is, c.was); got != c.want {
			t.Errorf("%q after %q: %q, want %q", c.is, c.was, got, c.want)
		}
	}
}

// Each field that can be changed is, by itself, and is as it was afterwards.
func TestEachFieldIsChangedAndPutBack(t *testing.T) {
	type in struct {
		N int
		F float64
		S string
		E string // empty: nothing can be taken away
		B bool
		L []int
		O []int // of one: it is emptied
		M []int // of none: nothing can be taken away
		P *struct{ Q int64 }
		Z *int
		u int
	}
	x := in{1, 2, "s", "", true, []int{3, 4}, []int{9}, []int{}, &struct{ Q int64 }{5}, nil, 6}
	whole := func() string { return fmt.Sprint(x.N, x.F, x.S, x.E, x.B, x.L, x.O, x.P != nil && x.P.Q > 0, x.Z, x.u) }
	before := whole()
	var got []string
	EachField(reflect.ValueOf(&x).Elem(), "in", func(name string) {
		q := "nil"
		if x.P != nil {
			q = fmt.Sprint(x.P.Q)
		}
		got = append(got, fmt.Sprintf("%s %d %g%s %v %v%v%s", name, x.N, x.F, x.S, x.B, x.L, x.O, q))
	})
	want := []string{"in.N 4 2s true [3 4][9]5", "in.F 1 12s true [3 4][9]5", "in.S 1 2 true [3 4][9]5", "in.B 1 2s false [3 4][9]5",
		"in.L[0] 1 2s true [10 4][9]5", "in.L[1] 1 2s true [3 13][9]5", "in.L 1 2s true [3][9]5", "in.O[0] 1 2s true [3 4][28]5", "in.O 1 2s true [3 4][]5",
		"in.P.Q 1 2s true [3 4][9]16", "in.P 1 2s true [3 4][9]nil"}
	if !slices.Equal(got, want) || whole() != before || x.P.Q != 5 {
		t.Errorf("%q\nwant %q, and afterwards %s, before %s", got, want, whole(), before)
	}
}

// Answers are told in their order, those with a field changed where they are others; one that panics and one
// that is no JSON are told as such. Fingerprints are the first 4 bytes of a SHA-256.
func TestAnswersAreTold(t *testing.T) {
	x := struct {
		N    int
		Deaf string
		Loud bool
	}{1, "x", false}
	say := func() (any, string) {
		if x.Loud {
			panic("no")
		}
		return x.N, fmt.Sprint("is ", x.N)
	}
	var a Answers
	a.Tell("first", say)
	a.TellFields(say, &x)
	a.Tell("odd", func() (any, string) { return func() {}, "?" })
	print := func(text string) string { return fmt.Sprintf("%.4x", sha256.Sum256([]byte(text))) }
	lead := "struct { N int; Deaf string; Loud bool }"
	want := "first\tis 1\t" + print("1") + "\n" + lead + ".N\tis 4\t" + print("4") + "\n" + lead + ".Loud\tcontradicts itself\t" + print("") + "\nodd\tno JSON\t" + print("json: unsupported type: func()") + "\n"
	if got := a.text.String(); got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
}
