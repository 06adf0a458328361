package doc

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"fettle/internal/unit"
)

// TestEncodedReadsBack is the law Decode(Encode(x)) = x, through YAML, through
// JSON, and through JSON from another writer.
func TestEncodedReadsBack(t *testing.T) {
	const seed = 7
	t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
		rng := rand.New(rand.NewPCG(seed, 1))
		for range 2000 {
			x := randomRecipe(rng)
			y := EncodeYAML(x)
			checkSame(t, "yaml", y, x)
			if !bytes.Equal(EncodeYAML(x), y) {
				t.Fatal("two runs wrote different bytes")
			}
			var b strings.Builder
			writeJSON(&b, Encode(x), "")
			checkSame(t, "json", []byte(b.String()), x)
		}
	})
}

func checkSame(t *testing.T, what string, text []byte, want recipe) {
	t.Helper()
	var got recipe
	_, problems := Decode(what, text, &got)
	if len(problems) > 0 || !reflect.DeepEqual(got, want) {
		t.Fatalf("%s:\n%s\n%v\ngot  %+v\nwant %+v", what, text, problems.Error(), got, want)
	}
}

// randomRecipe draws values that are awkward to write: empty lists inside
// lists, words other readers take for numbers, text with every sign.
func randomRecipe(rng *rand.Rand) recipe {
	word := func() string { return awkward[rng.IntN(len(awkward))] }
	number := func() float64 {
		return []float64{0, 1, -1.5, 0.1, 1e-7, 123456789.125, 2.0 / 3, -1e15}[rng.IntN(8)]
	}
	steps := func() []step {
		var out []step
		for range rng.IntN(3) {
			out = append(out, step{word(), unit.MM(max(-1e9, min(number(), 1e9))), word()})
		}
		return out
	}
	r := recipe{Name: word(), Count: rng.IntN(100) - 50, Weight: number(), Sweet: rng.IntN(2) == 0,
		At: [3]float64{number(), number(), number()}, Steps: steps()}
	if rng.IntN(2) == 0 {
		r.Kind, r.Rest, r.Price = "blue", unit.Minutes(max(-1e7, min(number(), 1e7))), unit.Money{Minor: unit.Minor(rng.IntN(1e6)), Currency: "EUR"}
		r.Guess, r.Depth = unit.Some(number()), unit.Some(unit.MM(max(-1e9, min(number(), 1e9))))
		r.Maybe = &step{word(), 3, word()}
		r.Notes = map[string]string{word(): word(), word(): word()}
		r.On = unit.Date{Year: 2000 + rng.IntN(99), Month: 2, Day: 1 + rng.IntN(28)}
	}
	for range rng.IntN(3) {
		var inner []string
		for range rng.IntN(3) {
			inner = append(inner, word())
		}
		r.Either = append(r.Either, inner)
		r.Words = append(r.Words, "red")
		r.Trace = append(r.Trace, r.At)
	}
	return r
}

var awkward = []string{"x", "yes", "no", "on", "null", "~", "012", "1e3", "0x10", "1_0", ".5", "+1", "-", "- a", "a: b", "a #b", "#a",
	"  lead", "trail ", `"`, `'`, `\`, `\n`, "[a]", "{a}", "&a", "*a", "!a", "|", ">", "%a", "@a", "`a", "?", "? a", ":", ": a",
	"ä ö ü", "漢字", "\U0001F600", "a,b", "<<", "=", "2026-11-25", "12:30", "60 % of it", "<= 24 mm", ">= 9 and < 12", "a  b", "---", "...", "", "café\u0301", "long " + strings.Repeat("word ", 40) + "end"}

func init() {
	// A required text is never empty or blank: Decode refuses it.
	for i, w := range awkward {
		if strings.TrimSpace(w) == "" {
			awkward[i] = "blank"
		}
	}
}

func TestEncodeLeavesOutWhatIsNotGiven(t *testing.T) {
	r := recipe{Name: "x", Guess: unit.Some(0.0)}
	want := "name: x\ncount: 0\nguess: 0\n"
	if got := string(EncodeYAML(r)); got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got := string(EncodeYAML(recipe{Name: "x", Weight: math.Copysign(0, -1)})); strings.Contains(got, "-0") {
		t.Errorf("minus zero is written: %q", got)
	}
}

func TestEncodeYAMLIsReadable(t *testing.T) {
	want := `name: Bread
kind: green
rest: 90 min
price: 3.20 EUR
on: 2026-11-25
count: 0
weight: -0.5
sweet: yes
depth: 2 mm
at: [1, 2.5, -3]
trace: [[0, 0, 0], [1, 1, 1]]
words: [red, blue]
either: [[a, b], [c]]
notes:
  a: "no"
  b: "012"
  c: "x: y"
steps:
  - id: mix
    long: 0 mm
    text: two lines
  - id: "007"
    long: 25.4 mm
first:
  id: "it's"
  long: 20 mm
maybe:
  id: "yes"
  long: 3 mm
`
	if got := string(EncodeYAML(fullRecipe())); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func compiled(t *testing.T, v any) *jsonschema.Schema {
	t.Helper()
	text := Schema(v, "a recipe")
	if !bytes.Equal(text, Schema(v, "a recipe")) {
		t.Fatal("two runs wrote different schemas")
	}
	tree, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	if err := c.AddResource("recipe.json", tree); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("recipe.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestSchemaAgreesWithDecode: what Decode accepts the schema accepts, and the
// slips a schema can see it refuses. The validator is an independent one.
func TestSchemaAgreesWithDecode(t *testing.T) {
	schema := compiled(t, recipe{})
	valid := func(text string) error {
		var v any
		if err := yaml.Unmarshal([]byte(text), &v); err != nil {
			t.Fatalf("%v in %s", err, text)
		}
		return schema.Validate(v)
	}
	// Text that YAML takes for an octal number, an anchor or a tag is left out
	// here: the schema sees what the YAML reader made of it.
	if err := valid(strings.Replace(full, "id: 007", "id: seven", 1)); err != nil {
		t.Error(err)
	}
	for _, text := range []string{"name: 5\ncount: 1", "name: x\ncount: '1'\nweight: '0.5'\nsweet: 'no'"} {
		if err := valid(text); err != nil {
			t.Errorf("%q: %v", text, err)
		}
		if _, p := Decode("r", []byte(text), new(recipe)); len(p) > 0 {
			t.Errorf("%q: %v", text, p)
		}
	}
	for name, text := range map[string]string{
		"missing field": "name: x",
		"unknown field": "name: x\ncount: 1\ncolor: red",
		"word":          "name: x\ncount: 1\nkind: purple",
		"missing unit":  "name: x\ncount: 1\nrest: 90",
		"wrong unit":    "name: x\ncount: 1\nrest: 90 mm",
		"decimal comma": "name: x\ncount: 1\nweight: '1,5'",
		"two of three":  "name: x\ncount: 1\nat: [1, 2]",
		"inside":        "name: x\ncount: 1\nsteps: [{id: a}]",
		"not yes or no": "name: x\ncount: 1\nsweet: maybe",
		"half a piece":  "name: x\ncount: 1.5",
	} {
		t.Run(name, func(t *testing.T) {
			if valid(text) == nil {
				t.Error("the schema accepts it")
			}
			if _, p := Decode("r", []byte(text), new(recipe)); len(p) == 0 {
				t.Error("Decode accepts it")
			}
		})
	}
}

func TestSchemaDescribesFields(t *testing.T) {
	var s struct {
		Properties map[string]struct {
			Description string
			Enum        []any
			Pattern     string
		}
		Required []string
	}
	if err := json.Unmarshal(Schema(recipe{}, "t"), &s); err != nil {
		t.Fatal(err)
	}
	if s.Properties["name"].Description != "what it is called" || len(s.Properties["kind"].Enum) != 3 || s.Properties["rest"].Pattern == "" {
		t.Errorf("%+v", s.Properties)
	}
	if !reflect.DeepEqual(s.Required, []string{"name", "count"}) {
		t.Errorf("required: %v", s.Required)
	}
}
