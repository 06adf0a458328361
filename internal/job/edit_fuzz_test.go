package job

import (
	"bytes"
	"errors"
	"reflect"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
)

// FuzzAdded changes job.yaml and the words of an answer: whatever is added to,
// no byte of what the person wrote is lost, and the result reads as the old
// answers and one more. What cannot be added to is refused with a reason.
func FuzzAdded(f *testing.F) {
	good := goodFiles(f)
	text := string(good[MainFile])
	for _, seed := range []string{text, strings.ReplaceAll(text, "\n", "\r\n"), strings.TrimRight(text, "\n"), text + "\n\n  \n# last words",
		"\ufeff" + text, strings.Replace(text, "answers:", "answers: # kept\n", 1), text + "\n...\n"} {
		f.Add([]byte(seed), "one run: \"no more\" # really", "engineering desk")
	}
	f.Add([]byte(text), "lines\nand\ttabs, [brackets], {braces}: '\\'", "- desk")
	f.Fuzz(func(t *testing.T, main []byte, conditions, by string) {
		files := map[string][]byte{MainFile: main, ReadingsFile: good[ReadingsFile]}
		before, err := Decode(files)
		if err != nil || len(before.Findings) == 0 {
			return
		}
		a := Answer{ID: "AN-NEW", Finding: before.Findings[0].ID, VIN: before.Vehicle.VIN, Forbid: []body.TreatmentKind{body.Weld},
			Conditions: conditions, By: by, On: before.Opened, Expires: before.Opened.AddDays(30)}
		was := bytes.Clone(main)
		got, err := Added(files, a)
		if !bytes.Equal(was, main) {
			t.Fatal("the bytes that were handed in were changed")
		}
		if err != nil {
			var ps diag.Problems
			var e *diag.Error
			if !errors.As(err, &ps) && !errors.As(err, &e) {
				t.Fatalf("refused by %v", err)
			}
			return
		}
		if !inserted(main, got) {
			t.Fatalf("bytes were lost:\n%s\nbecame\n%s", main, got)
		}
		after, err := Decode(map[string][]byte{MainFile: got, ReadingsFile: good[ReadingsFile]})
		if err != nil {
			t.Fatal(err)
		}
		if n := len(before.Answers); len(after.Answers) != n+1 || !reflect.DeepEqual(after.Answers[n], a) {
			t.Fatalf("answers %+v", after.Answers)
		}
		after.Answers = after.Answers[:len(before.Answers)]
		if len(after.Answers) == 0 {
			after.Answers = before.Answers
		}
		after.at, before.at = doc.Positions{}, doc.Positions{}
		if !reflect.DeepEqual(before, after) {
			t.Fatal("something else changed")
		}
	})
}

// inserted says that the longer text is the shorter one with something put in
// at one place.
func inserted(short, long []byte) bool {
	n := 0
	for n < len(short) && n < len(long) && short[n] == long[n] {
		n++
	}
	return len(long) > len(short) && bytes.HasSuffix(long, short[n:])
}
