package diag

import (
	"errors"
	"fmt"
	"reflect"
	"testing"
)

// typed is how a remedy is done at a terminal that does not exist.
func typed(r Remedy) string {
	if r.Do == "nothing" {
		return ""
	}
	return fmt.Sprint("type ", r.Do, " ", r.All("file"))
}

// An error is told with its cause only where nothing else is said, a fault with as much of its
// place as is known, and both with how the remedy is done where there is a way.
func TestWhatIsTold(t *testing.T) {
	cause := errors.New("disk on fire")
	fix := Do("fix", "file", "a.csv", "row", "3", "file", "b.csv")
	for _, c := range []struct {
		of   interface{ Told(How) string }
		how  How
		want string
	}{
		{&Error{Msg: "cannot be read"}, nil, "cannot be read"},
		{&Error{Msg: "cannot be read", Err: cause}, nil, "cannot be read"},
		{&Error{Err: cause}, nil, "disk on fire"},
		{&Error{Subject: "job 7", Err: cause, Hint: "try again"}, nil, "job 7: disk on fire; try again"},
		{&Error{Subject: "job 7", Msg: "is gone", Hint: "mend it", Remedy: fix}, nil, "job 7: is gone; mend it"},
		{&Error{Msg: "is gone", Hint: "mend it", Remedy: fix}, typed, "is gone; mend it: type fix [a.csv b.csv]"},
		{&Error{Msg: "is gone", Remedy: fix}, typed, "is gone; type fix [a.csv b.csv]"},
		{&Error{Msg: "is gone", Hint: "mend it"}, typed, "is gone; mend it"},
		{&Error{Msg: "is gone", Hint: "mend it", Remedy: Do("nothing")}, typed, "is gone; mend it"},
		{&Error{Msg: "is gone", Remedy: Do("nothing")}, typed, "is gone"},
		{Problem{File: "a.yaml", Msg: "is empty"}, nil, "a.yaml: is empty"},
		{Problem{File: "a.yaml", Col: 5, Msg: "is empty"}, nil, "a.yaml: is empty"},
		{Problem{File: "a.yaml", Line: 1, Msg: "is empty"}, nil, "a.yaml:1: is empty"},
		{Problem{File: "a.yaml", Line: 1, Col: 1, Field: "id", Msg: "is empty", Hint: "give one", Remedy: fix}, typed, "a.yaml:1:1: id: is empty; give one: type fix [a.csv b.csv]"},
		{Problem{File: "a.yaml", Line: 2, Col: 3, Msg: "is empty", Hint: "give one"}, nil, "a.yaml:2:3: is empty; give one"},
	} {
		if got := c.of.Told(c.how); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	if e := (&Error{Err: cause}); !errors.Is(e, cause) {
		t.Error("the cause is lost")
	}
}

// A name without a value is no argument.
func TestArgumentsOfARemedy(t *testing.T) {
	for _, c := range []struct {
		with []string
		want []Arg
	}{{nil, nil}, {[]string{"file"}, nil}, {[]string{"file", "a"}, []Arg{{"file", "a"}}}, {[]string{"file", "a", "row"}, []Arg{{"file", "a"}}}, {[]string{"file", "a", "row", "2"}, []Arg{{"file", "a"}, {"row", "2"}}}} {
		if got := Do("fix", c.with...); !reflect.DeepEqual(got.With, c.want) {
			t.Errorf("%v: %v, want %v", c.with, got.With, c.want)
		}
	}
	if got := Do("fix", "file", "a").All("row"); got != nil {
		t.Errorf("what is not there is %v", got)
	}
}

// Whatever is neither a remark nor a caution blocks, and says so.
func TestWhatBlocks(t *testing.T) {
	for s, want := range map[Severity]bool{Info: false, Caution: false, Blocking: true, 3: true, -1: true} {
		if n := (Note{Severity: s}); n.Blocks() != want || (s.String() == "blocks") != want {
			t.Errorf("%d, %s: blocks %v", s, s, n.Blocks())
		}
	}
}

// Faults are in the order of file, line, column and text whatever order they came in, each
// told by the first of these that differs.
func TestOrderOfFaults(t *testing.T) {
	want := Problems{{File: "a", Line: 2, Col: 9, Msg: "z"}, {File: "a", Line: 3, Col: 1, Msg: "z"}, {File: "a", Line: 3, Col: 2, Msg: "b"}, {File: "a", Line: 3, Col: 2, Msg: "c", Hint: "first"}, {File: "a", Line: 3, Col: 2, Msg: "c", Hint: "then"}, {File: "b", Line: 1, Col: 1, Msg: "a"}}
	for _, order := range [][]int{{0, 1, 2, 3, 4, 5}, {5, 3, 2, 4, 1, 0}, {3, 4, 5, 0, 2, 1}, {2, 0, 3, 5, 1, 4}} {
		var ps Problems
		for _, i := range order {
			ps = append(ps, want[i])
		}
		ps.Sort()
		if !reflect.DeepEqual(ps, want) {
			t.Errorf("%v becomes %v", order, ps)
		}
	}
}
