package doc

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// A document may nest as deep as the limit, in every way of writing, and not one deeper; where
// it does, the place is told. The depths are counted by hand: a list in the document's only
// field is the first level.
func TestNestingEndsAtTheLimit(t *testing.T) {
	brackets := func(n int) string { return "either: " + strings.Repeat("[", n) + strings.Repeat("]", n) }
	dashes := func(n int) string { return "either:\n" + strings.Repeat("- ", n) + "[]" }
	indents := func(n int) string {
		var b strings.Builder
		for i := range n {
			b.WriteString(strings.Repeat(" ", i) + "a:\n")
		}
		return b.String() + strings.Repeat(" ", n) + "x"
	}
	json := func(n int) string { return `{"either":` + "\n" + strings.Repeat("[", n) + strings.Repeat("]", n) + "}" }
	for name, c := range map[string]struct {
		text  func(n int) string
		last  int // that is taken
		place string
	}{
		"brackets":    {brackets, MaxDepth, fmt.Sprintf("r:1:%d: ", 9+MaxDepth)},
		"dashes":      {dashes, MaxDepth - 1, fmt.Sprintf("r:2:%d: ", 1+2*MaxDepth)},
		"indentation": {indents, MaxDepth, fmt.Sprintf("r:%d:%d: ", MaxDepth+2, MaxDepth+2)},
		"json":        {json, MaxDepth, "r:2: "},
	} {
		want := c.place + "the document nests deeper than 64 levels"
		for n, taken := range map[int]bool{1: true, c.last - 1: true, c.last: true, c.last + 1: false, c.last + 2: false} {
			_, problems := Decode("r", []byte(c.text(n)), new(recipe))
			if told := strings.Contains(problems.Error(), "nests deeper"); told == taken {
				t.Errorf("%s, %d levels: %s", name, n, problems.Error())
			}
			if n == c.last+1 && !strings.Contains(problems.Error(), want) {
				t.Errorf("%s: %s, want %s", name, problems.Error(), want)
			}
		}
	}
	// Brackets that are closed again nest nothing, nor do list signs on other lines.
	if _, problems := Decode("r", []byte("name: x\ncount: 1\neither: ["+strings.Repeat("[], ", 100)+"]\nwords:\n"+strings.Repeat("- red\n", 100)), new(recipe)); len(problems) > 0 {
		t.Error(problems)
	}
}

// A table may have as many rows as the limit.
func TestRowsEndAtTheLimit(t *testing.T) {
	type row struct {
		ID string `doc:"id,required"`
	}
	for n, want := range map[int]string{MaxRows: "", MaxRows + 1: "t.csv: the table has more than 20000 rows"} {
		rows, lines, problems := DecodeCSV[row]("t.csv", []byte("id\n"+strings.Repeat("a\n", n)))
		if len(rows) != MaxRows || len(lines) != MaxRows || problems.Error() != want {
			t.Errorf("%d rows: %d read, %q", n, len(rows), problems.Error())
		}
	}
}

// As many known words are listed as a line takes: twelve.
func TestKnownWordsAreListedWhileTheyAreFew(t *testing.T) {
	var known []string
	for range 12 {
		known = append(known, "word")
	}
	if got := DidYouMean("quite other", known); got != "known: "+strings.Join(known, ", ") {
		t.Errorf("twelve: %q", got)
	}
	if got := DidYouMean("quite other", append(known, "last")); got != "known are "+strings.Join(known, ", ")+" and 1 more" {
		t.Errorf("thirteen: %q", got)
	}
	if got := DidYouMean("quite other", nil); got != "" {
		t.Errorf("none: %q", got)
	}
}

// TestDistanceByItsDefinitionSeed51: the distance of two texts by its recursive definition
// (optimal string alignment: the cheapest of taking a letter out, putting one in, changing one,
// and swapping two neighbours), and the nearest word as the first of those at the least
// distance that differ in no more than a third of their letters and one.
func TestDistanceByItsDefinitionSeed51(t *testing.T) {
	var plain func(x, y []rune) int
	plain = func(x, y []rune) int {
		m, n := len(x), len(y)
		if m == 0 || n == 0 {
			return m + n
		}
		change := 1
		if x[m-1] == y[n-1] {
			change = 0
		}
		d := min(plain(x[:m-1], y)+1, plain(x, y[:n-1])+1, plain(x[:m-1], y[:n-1])+change)
		if m > 1 && n > 1 && x[m-1] == y[n-2] && x[m-2] == y[n-1] {
			d = min(d, plain(x[:m-2], y[:n-2])+1)
		}
		return d
	}
	rng := rand.New(rand.NewPCG(51, 0))
	text := func() string {
		r := make([]rune, rng.IntN(6))
		for i := range r {
			r[i] = []rune("abcé")[rng.IntN(4)]
		}
		return string(r)
	}
	for range 1500 {
		word := text()
		known := []string{text(), text(), strings.ToUpper(text())}
		best, least := "", 99
		for _, k := range known {
			d := plain([]rune(word), []rune(strings.ToLower(k)))
			if got := distance(word, strings.ToLower(k)); got != d {
				t.Fatalf("%q and %q: %d, want %d", word, k, got, d)
			}
			if longest := max(len([]rune(word)), len([]rune(k))); d <= longest/3+1 && d < min(least, len(word)/3+2) {
				best, least = k, d
			}
		}
		if got, ok := Nearest(word, known); got != best || ok != (best != "") {
			t.Fatalf("nearest to %q of %q: %q, want %q", word, known, got, best)
		}
	}
	long := strings.Repeat("a", 80)
	if distance(long, long) != 0 || distance(long+"a", "a") != 80 || distance("a", long+"a") != 80 || distance(long, "") != 80 {
		t.Error("words of more than 80 letters are compared, or of 80 are not")
	}
	if w, ok := Nearest(long+"ab", []string{long + "ac"}); ok {
		t.Errorf("a word of 82 letters is near to %q", w)
	}
}

// A text in a message is cut to its length, which counts letters, and not before.
func TestLongTextsAreCut(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{strings.Repeat("é", 60), `"` + strings.Repeat("é", 60) + `"`}, {strings.Repeat("é", 61), `"` + strings.Repeat("é", 57) + `..."`}, {"", `""`},
	} {
		if got := quote(c.text); got != c.want {
			t.Errorf("%s, want %s", got, c.want)
		}
	}
}

// A list is written on one line while that is no longer than 90 letters, or cannot be otherwise.
func TestListsOnOneLine(t *testing.T) {
	for n, on1 := range map[int]bool{89: true, 90: true, 91: false} {
		words := []any{strings.Repeat("w", 40), strings.Repeat("w", n-44)}
		if line, ok := flowList(words); len(line) != n || ok != on1 {
			t.Errorf("%d letters: %v, %q", n, ok, line)
		}
	}
	if line, ok := flowList([]any{strings.Repeat("w", 200)}); !ok || len(line) != 202 {
		t.Errorf("one long word: %v, %q", ok, line)
	}
	for _, c := range []struct {
		item any
		ok   bool
	}{{Object{}, true}, {Object{{"a", "b"}}, false}, {[]any{"a", Object{{"a", "b"}}}, false}, {true, true}, {int64(3), true}} {
		if line, ok := flowList([]any{c.item}); ok != c.ok || ok && line == "" {
			t.Errorf("%v: %v, %q", c.item, ok, line)
		}
	}
}

type bare struct {
	Note string `doc:"note"`
}

type holder struct {
	Empty bare     `doc:"empty,required"`
	Also  []bare   `doc:"also"`
	Long  []string `doc:"long"`
	Deep  [][]bare `doc:"deep"`
	Yes   []bool   `doc:"yes"`
}

// Groups without a field, alone and in lists, long lists, lists of lists of groups and yes and
// no are written so that they read back.
func TestRareGroupsReadBack(t *testing.T) {
	was := holder{Also: []bare{{}, {"x"}, {}}, Long: slices.Repeat([]string{"a word", "yes"}, 12), Deep: [][]bare{{{"a"}, {}}, {{"b"}}}, Yes: []bool{true, false}}
	text := EncodeYAML(was)
	var is holder
	if _, problems := Decode("h", text, &is); len(problems) > 0 || fmt.Sprint(is) != fmt.Sprint(was) {
		t.Errorf("%v\n%s\n%+v", problems, text, is)
	}
	if !strings.HasPrefix(string(text), "empty: {}\nalso:\n  - {}\n  - note: x\n  - {}\nlong:\n  - a word\n  - \"yes\"\n") || !strings.HasSuffix(string(text), "\"yes\": [yes, no]\n") {
		t.Errorf("%s", text)
	}
}

// JSON is read by its own rules, with the place of every value: tabs may stand between its
// values, which YAML does not take, and columns count letters.
func TestJSONByItsOwnRules(t *testing.T) {
	const text = "\n{\t\"name\"\t:\t\"é\\/\",\n\t\"notes\": {\"é\": \"é\", \"b\": true}, \"guess\":null,\t\"count\"  : 1.5,\n\"steps\":[]\t}\n"
	var r recipe
	pos, problems := Decode("r", []byte(text), &r)
	if want := "r:3:42: guess: no value is given; write a value, or leave the line out\nr:3:59: count: \"1.5\" is not a whole number; write for example 12"; problems.Error() != want {
		t.Errorf("got\n%s\nwant\n%s", problems.Error(), want)
	}
	if r.Name != "é/" || r.Notes["b"] != "true" {
		t.Errorf("%+v", r)
	}
	for path, want := range map[string][2]int{"": {2, 1}, "name": {2, 12}, "notes": {3, 11}, "notes.é": {3, 17}, "notes.b": {3, 27}, "steps": {4, 9}, "none": {2, 1}} {
		if line, col := pos.At(path); [2]int{line, col} != want {
			t.Errorf("%q is at %d:%d, want %v", path, line, col, want)
		}
	}
	if pos.File() != "r" {
		t.Errorf("the file is %q", pos.File())
	}
	if line, col := (Positions{}).At("a.b[3]"); line != 0 || col != 0 {
		t.Errorf("of no document: %d:%d", line, col)
	}
	_, problems = Decode("r", []byte(`{"name": "x", "count": 1, "count": 2, "kind": "red", "nme": "y"}`), &r)
	if want := "r:1:27: count: this field is given twice; the first is in line 1\nr:1:54: unknown field \"nme\"; did you mean \"name\"?"; problems.Error() != want {
		t.Errorf("got\n%s\nwant\n%s", problems.Error(), want)
	}
}

// The table's header in one column says that it is not separated by commas only where it
// looks so; a cell too many is no cell of a column.
func TestHeadersOfOneColumn(t *testing.T) {
	type row struct {
		ID string `doc:"id,required" help:"its name"`
	}
	for text, want := range map[string]string{
		"id;x\na;1\n":   "t.csv:1: the cells are not separated by commas; save the table with commas",
		"id\tx\na\t1\n": "t.csv:1: the cells are not separated by commas; save the table with commas",
		"id,x;y\na,1\n": "t.csv:1: column x;y: unknown column; known: id",
		"\"id\na\n":     `t.csv:1: a quote stands in the wrong place; put the whole cell in quotes, and write "" for a quote inside it`,
		"id\nb\"c\n\"d\n": `t.csv:2:2: a quote stands in the wrong place; put the whole cell in quotes, and write "" for a quote inside it` + "\n" +
			`t.csv:3:4: a quote stands in the wrong place; put the whole cell in quotes, and write "" for a quote inside it`,
		"id\nab,c\td\n":     "t.csv:2: the row has 2 cells, the header has 1; a cell with a comma in it needs quotes\nt.csv:2:4: the text holds a character that is not shown (U+0009, tab); write a space",
		"id\na\n b\tc\n":    "t.csv:3:1: column id: the text holds a character that is not shown (U+0009, tab); write a space",
		"id\n\"\"\n":        "t.csv:2: the row is empty; take it out",
		"id\n\" \"\n":       "t.csv:2: the row is empty; take it out",
		"other\na\n":        "t.csv:1: column other: unknown column; known: id\nt.csv:1: column id: this column is missing; its name",
		"id\n\"a\nb\"\nc\n": "",
	} {
		_, _, problems := DecodeCSV[row]("t.csv", []byte(text))
		if got := problems.Error(); got != want {
			t.Errorf("%q: got %q, want %q", text, got, want)
		}
	}
}

// The fields of a type are found once in a run.
func TestFieldsAreFoundOnce(t *testing.T) {
	s := shapes{}
	a, b := s.of(reflect.TypeFor[recipe]()), s.of(reflect.TypeFor[recipe]())
	if len(a) < 10 || &a[0] != &b[0] {
		t.Error("the fields of a type are looked for again")
	}
}
