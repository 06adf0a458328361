package doc

import (
	"fmt"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"

	"fettle/internal/unit"
)

// recipe stands for any document: it has a field of every shape.
type recipe struct {
	Name    string              `doc:"name,required" help:"what it is called"`
	Kind    colour              `doc:"kind" oneof:"red|green|blue"`
	Rest    unit.Minutes        `doc:"rest"`
	Price   unit.Money          `doc:"price"`
	On      unit.Date           `doc:"on"`
	Count   int                 `doc:"count,required"`
	Weight  float64             `doc:"weight"`
	Sweet   bool                `doc:"sweet"`
	Depth   unit.Maybe[unit.MM] `doc:"depth"`
	Guess   unit.Maybe[float64] `doc:"guess"`
	At      [3]float64          `doc:"at"`
	Trace   [][3]float64        `doc:"trace"`
	Words   []colour            `doc:"words" oneof:"red|green|blue"`
	Either  [][]string          `doc:"either"`
	Notes   map[string]string   `doc:"notes"`
	Steps   []step              `doc:"steps"`
	First   step                `doc:"first"`
	Maybe   *step               `doc:"maybe"`
	Skipped string              `doc:"-"`
}

type colour string

type step struct {
	ID   string  `doc:"id,required"`
	Long unit.MM `doc:"long,required"`
	Text string  `doc:"text"`
}

const full = `# a comment
name: Bread   # another
kind: green
rest: 1.5 h
price: 3.20 EUR
on: 2026-11-25
count: 0
weight: -0.50
sweet: yes
depth: 2 mm
at: [1, 2.5, -3]
trace: [[0, 0, 0], [1, 1, 1]]
words: [red, blue]
either: [[a, b], [c]]
notes: {a: no, b: 012, c: "x: y"}
steps:
  - id: mix
    long: 0 mm
    text: |
      two
      lines
  - {id: 007, long: 1 in}
first: {id: 'it''s', long: 2 cm}
maybe:
  id: "yes"
  long: 3 mm
`

func fullRecipe() recipe {
	return recipe{
		Name: "Bread", Kind: "green", Rest: 90, Price: unit.Money{Minor: 320, Currency: "EUR"},
		On: unit.Date{Year: 2026, Month: 11, Day: 25}, Weight: -0.5, Sweet: true,
		Depth: unit.Some(unit.MM(2)), At: [3]float64{1, 2.5, -3}, Trace: [][3]float64{{0, 0, 0}, {1, 1, 1}},
		Words: []colour{"red", "blue"}, Either: [][]string{{"a", "b"}, {"c"}},
		Notes: map[string]string{"a": "no", "b": "012", "c": "x: y"},
		Steps: []step{{"mix", 0, "two lines"}, {"007", 25.4, ""}},
		First: step{"it's", 20, ""}, Maybe: &step{"yes", 3, ""},
	}
}

func TestDecodeReadsEveryShape(t *testing.T) {
	var got recipe
	_, problems := Decode("r.yaml", []byte(full), &got)
	if len(problems) > 0 {
		t.Fatal(problems.Error())
	}
	if want := fullRecipe(); !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
	for _, change := range []string{"\r\n", "\uFEFF"} {
		data := strings.ReplaceAll(full, "\n", "\r\n")
		if change == "\uFEFF" {
			data = change + full
		}
		var again recipe
		if _, problems := Decode("r.yaml", []byte(data), &again); len(problems) > 0 || !reflect.DeepEqual(again, got) {
			t.Errorf("with %q: %v %+v", change, problems, again)
		}
	}
}

// TestZeroWrittenIsGiven: a required number may be zero when it is written.
func TestZeroWrittenIsGiven(t *testing.T) {
	var r recipe
	if _, p := Decode("r", []byte("name: x\ncount: 0"), &r); len(p) != 0 {
		t.Error(p)
	}
	if _, p := Decode("r", []byte("name: x"), &r); len(p) != 1 || p[0].Msg != `the field "count" is missing` {
		t.Error(p)
	}
}

func TestUnknownIsNotZero(t *testing.T) {
	var r recipe
	if _, p := Decode("r", []byte("name: x\ncount: 1\nguess: 0"), &r); len(p) != 0 {
		t.Fatal(p)
	}
	if !r.Guess.Known || r.Guess.Value != 0 || r.Depth.Known {
		t.Errorf("guess %+v, depth %+v", r.Guess, r.Depth)
	}
}

func TestPositions(t *testing.T) {
	var r recipe
	pos, problems := Decode("r.yaml", []byte(full), &r)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	for _, c := range []struct {
		path      string
		line, col int
	}{
		{"", 2, 1}, // the first key of the document
		{"name", 2, 7},
		{"at[2]", 11, 14},
		{"notes.c", 15, 27},
		{"steps[0].long", 18, 11},
		{"steps[0].text", 19, 11},
		{"steps[1]", 22, 5},
		{"steps[1].id", 22, 10},
		{"steps[1].text", 22, 5}, // not given: its parent
		{"maybe.nothing.deeper", 25, 3},
		{"skipped", 2, 1},
	} {
		if line, col := pos.At(c.path); line != c.line || col != c.col {
			t.Errorf("%s is at %d:%d, want %d:%d", c.path, line, col, c.line, c.col)
		}
	}
	if !pos.Has("maybe") || pos.Has("guess") {
		t.Error("Has does not say which fields are written")
	}
	if got := pos.Problem("steps[1].id", "is odd", "use a word").String(); got != "r.yaml:22:10: steps[1].id: is odd; use a word" {
		t.Error(got)
	}
}

func TestJSONIsReadAlike(t *testing.T) {
	text := `{"name": "Bread", "count": 3, "sweet": true, "weight": "1.25",
  "at": [1, 2, "3"], "notes": {"a": "\ud83d\ude00 \u003c"},
  "steps": [{"id": "a", "long": "1 mm"}]}`
	var r recipe
	pos, problems := Decode("r.json", []byte(text), &r)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	want := recipe{Name: "Bread", Count: 3, Sweet: true, Weight: 1.25, At: [3]float64{1, 2, 3},
		Notes: map[string]string{"a": "\U0001F600 <"}, Steps: []step{{"a", 1, ""}}}
	if !reflect.DeepEqual(r, want) {
		t.Errorf("got %+v", r)
	}
	if line, col := pos.At("steps[0].long"); line != 3 || col != 33 {
		t.Errorf("steps[0].long is at %d:%d, want 3:33", line, col)
	}
}

// TestBroken runs every file of testdata/broken: a document, and the exact
// problems it must be told. A new file is a new test.
func TestBroken(t *testing.T) {
	files, err := filepath.Glob("testdata/broken/*.txt")
	if err != nil || len(files) < 10 {
		t.Fatalf("%d broken documents, %v", len(files), err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txt"), func(t *testing.T) {
			a, err := txtar.ParseFile(file)
			if err != nil || len(a.Files) != 2 || a.Files[1].Name != "want" {
				t.Fatal("a file has two sections, the document and 'want'", err)
			}
			in := a.Files[0]
			got := decodeAny(in.Name, in.Data) + "\n"
			if want := string(a.Files[1].Data); got != want {
				t.Errorf("%s\ngot:\n%swant:\n%s", a.Comment, got, want)
			}
		})
	}
}

// decodeAny reads a YAML document as a recipe or a table as steps.
func decodeAny(name string, data []byte) string {
	if strings.HasSuffix(name, ".csv") {
		_, _, problems := DecodeCSV[cell](name, data)
		return problems.Error()
	}
	_, problems := Decode(name, data, new(recipe))
	return problems.Error()
}

func TestLimits(t *testing.T) {
	var r recipe
	if _, p := Decode("r", make([]byte, MaxBytes+1), &r); len(p) != 1 || !strings.Contains(p[0].Msg, "the limit is") {
		t.Error(p)
	}
	if _, p := Decode("r", []byte("name: \xff"), &r); len(p) != 1 || p[0].Msg != "the file is not UTF-8 text" || p[0].Line != 1 || p[0].Col != 7 {
		t.Error(p)
	}
	// Nesting by brackets, by list signs, by key signs and by indentation.
	deep := map[string]string{
		"brackets": "either: " + strings.Repeat("[", 100_000),
		"dashes":   "either:\n" + strings.Repeat("- ", 100_000) + "x",
		"keys":     strings.Repeat("? ", 100_000) + "x",
	}
	var b strings.Builder
	for i := range 200 {
		b.WriteString(strings.Repeat(" ", i) + "a:\n")
	}
	deep["indentation"] = b.String()
	deep["json"] = `{"a":` + strings.Repeat("[", 200) + strings.Repeat("]", 200) + `}`
	for name, text := range deep {
		t.Run(name, func(t *testing.T) {
			_, p := Decode("r", []byte(text), new(recipe))
			if len(p) == 0 || !strings.Contains(p.Error(), fmt.Sprintf("nests deeper than %d levels", MaxDepth)) {
				t.Errorf("got %.300s", p.Error())
			}
		})
	}
}

func TestProgrammersMistakesPanic(t *testing.T) {
	for name, f := range map[string]func(){
		"not a pointer": func() { Decode("r", nil, recipe{}) },
		"unknown option": func() {
			Decode("r", []byte("a: 1"), &struct {
				A int `doc:"a,optional"`
			}{})
		},
		"unreadable type": func() {
			Decode("r", []byte("a: 1"), &struct {
				A chan int `doc:"a"`
			}{})
		},
	} {
		t.Run(name, func(t *testing.T) {
			defer func() {
				if recover() == nil {
					t.Error("no panic")
				}
			}()
			f()
		})
	}
}

func TestDidYouMean(t *testing.T) {
	known := []string{"length", "zones", "kind", "depth"}
	for word, want := range map[string]string{
		"lenght": `did you mean "length"?`, // two letters swapped
		"Zone":   `did you mean "zones"?`,
		"dept":   `did you mean "depth"?`,
		"colour": "known: length, zones, kind, depth",
	} {
		if got := DidYouMean(word, known); got != want {
			t.Errorf("%s: got %q, want %q", word, got, want)
		}
	}
}
