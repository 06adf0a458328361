package diag

import (
	"errors"
	"fmt"
	"testing"
)

// A kind survives wrapping, and whatever is no error of ours is internal.
func TestKindOf(t *testing.T) {
	inner := &Error{Kind: NotFound, Subject: "job 7", Msg: "is not there", Hint: "give another number"}
	for _, c := range []struct {
		name string
		err  error
		want Kind
	}{
		{"own", inner, NotFound},
		{"wrapped", fmt.Errorf("open: %w", inner), NotFound},
		{"faults", fmt.Errorf("read: %w", Problems{{File: "a.yaml", Msg: "wrong"}}), Invalid},
		{"faults under an error", &Error{Kind: Conflict, Err: Problems{{File: "a.yaml", Msg: "wrong"}}}, Invalid},
		{"error under an error", &Error{Kind: Conflict, Err: inner}, Conflict},
		{"foreign", errors.New("disk on fire"), Internal},
	} {
		if got := KindOf(c.err); got != c.want {
			t.Errorf("%s: kind %d, want %d", c.name, got, c.want)
		}
	}
	if got, want := inner.Error(), "job 7: is not there; give another number"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// The zero verdicts of this package are the mild ones on purpose: a note is a
// remark until somebody says that it blocks; blocking is never the default of a
// typing slip, and never hidden once said.
func TestSeverityWords(t *testing.T) {
	for s, want := range map[Severity]string{Info: "note", Caution: "caution", Blocking: "blocks"} {
		if got, err := s.MarshalText(); err != nil || string(got) != want {
			t.Errorf("%d is %q", s, got)
		}
	}
}

// Faults are told in the order a person reads a file, with what would be right.
func TestProblemsAreSortedAndPrecise(t *testing.T) {
	ps := Problems{
		{File: "b.csv", Line: 3, Field: "column x_mm", Msg: "\"1,5\" is not a number", Hint: "write 1.5"},
		{File: "a.yaml", Line: 9, Col: 2, Field: "parts[1].id", Msg: "is there twice"},
		{File: "a.yaml", Line: 2, Col: 5, Msg: "unknown field"},
		{File: "a.yaml", Msg: "the file is empty"},
	}
	ps.Sort()
	want := "a.yaml: the file is empty\na.yaml:2:5: unknown field\na.yaml:9:2: parts[1].id: is there twice\nb.csv:3: column x_mm: \"1,5\" is not a number; write 1.5"
	if ps.Error() != want {
		t.Errorf("got\n%s\nwant\n%s", ps.Error(), want)
	}
	if err := (Problems{}).OrNil(); err != nil {
		t.Errorf("no fault is an error: %v", err)
	}
}
