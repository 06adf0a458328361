package doc

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
)

type noted struct {
	ID   string   `doc:"id,required"`
	Text string   `doc:"text"`
	On   []string `doc:"on"`
}

type kept struct {
	Name  string  `doc:"name,required"`
	Notes []noted `doc:"notes"`
	Other []noted `doc:"other"`
}

// A record is added and every other byte stays: comments, order, styles of
// writing. Constructed.
func TestAppendItem(t *testing.T) {
	item := noted{ID: "N9", Text: "it's: a [tricky], one # here", On: []string{"yes", "b"}}
	const line = `{id: N9, text: "it's: a [tricky], one # here", on: ["yes", b]}`
	for name, c := range map[string][2]string{
		"one on each line": {"name: x\nnotes: # of the day\n  # first\n  - {id: N1}\n  # last words\n\nother:\n  - {id: O1}\n",
			"name: x\nnotes: # of the day\n  # first\n  - {id: N1}\n  - " + line + "\n  # last words\n\nother:\n  - {id: O1}\n"},
		"over several lines": {"notes:\n- id: N1\n  text: >-\n    long\n\n    text\nname: x\n", "notes:\n- id: N1\n  text: >-\n    long\n\n    text\n- " + line + "\nname: x\n"},
		"not there":          {"name: x # end", "name: x # end\nnotes:\n  - " + line + "\n"},
		"empty":              {"name: x\nnotes: []\n", "name: x\nnotes: [" + line + "]\n"},
		"in brackets":        {"name: x\nnotes: [{id: N1, text: \"]\"}] # c\n", "name: x\nnotes: [{id: N1, text: \"]\"}, " + line + "] # c\n"},
		"brackets over lines": {"name: x\nnotes: [\n  {id: N1, text: 'a ] b'},\n  {id: N2}\n]\n",
			"name: x\nnotes: [\n  {id: N1, text: 'a ] b'},\n  {id: N2}, " + line + "\n]\n"},
		"windows line ends": {"name: x\r\nnotes:\r\n  - {id: N1}\r\n", "name: x\r\nnotes:\r\n  - {id: N1}\r\n  - " + line + "\r\n"},
		"no line end":       {"name: x\nnotes:\n  - {id: N1}", "name: x\nnotes:\n  - {id: N1}\n  - " + line + "\n"},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := AppendItem([]byte(c[0]), "notes", item)
			if err != nil || string(got) != c[1] {
				t.Fatalf("%v, got\n%s\nwant\n%s", err, got, c[1])
			}
			var was, is kept
			if _, ps := Decode("x", []byte(c[0]), &was); len(ps) > 0 {
				t.Fatal(ps)
			}
			if _, ps := Decode("x", got, &is); len(ps) > 0 {
				t.Fatal(ps)
			}
			was.Notes = append(was.Notes, item)
			if !reflect.DeepEqual(was, is) {
				t.Errorf("reads as %+v, want %+v", is, was)
			}
		})
	}
	for _, odd := range []string{`{"name": "x", "notes": []}`, "name: x\nnotes: [{id: N1}, # c\n  {id: N2}]\n", "name: x\nnotes: [{id: N1}\n"} {
		if got, err := AppendItem([]byte(odd), "notes", item); err == nil {
			t.Errorf("%q becomes %q", odd, got)
		}
	}
}

// Whatever the text of a record, it reads back as it was given: seed 21.
func TestAppendedTextReadsBackSeed21(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 21))
	const signs = "ab Z9-:#,[]{}'\"\\&*!|>%@`?=<~.°é漢½"
	for range 3000 {
		var s strings.Builder
		for range rng.IntN(12) {
			r := []rune(signs)
			s.WriteRune(r[rng.IntN(len(r))])
		}
		item := noted{ID: fmt.Sprint("N", rng.IntN(9)), Text: s.String(), On: []string{s.String() + "x"}}
		got, err := AppendItem([]byte("name: x\nnotes:\n  - {id: A}\nother: []\n"), "notes", item)
		if err != nil {
			t.Fatal(err)
		}
		var is kept
		if _, ps := Decode("x", got, &is); len(ps) > 0 {
			t.Fatalf("%q: %v\n%s", s.String(), ps, got)
		}
		if len(is.Notes) != 2 || !reflect.DeepEqual(is.Notes[1], item) {
			t.Fatalf("%q reads back as %+v", s.String(), is.Notes)
		}
	}
}
