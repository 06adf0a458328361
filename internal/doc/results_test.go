package doc

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"fettle/internal/unit"
)

// result has a member of every kind that an answer can have.
type result struct {
	Name    string             `json:"name"`
	Long    unit.MM            `json:"long_mm"`
	Count   int                `json:"count,omitempty"`
	Big     uint64             `json:"big,string"`
	Share   float64            `json:"share,omitzero"`
	Yes     bool               `json:"yes"`
	On      unit.Date          `json:"on"`
	At      time.Time          `json:"at"`
	Corner  [3]float64         `json:"corner"`
	Parts   []part             `json:"parts"`
	Of      map[string][]int32 `json:"of"`
	First   *part              `json:"first"`
	Same    part               `json:"same"`
	Plain   int64
	Skipped chan int `json:"-"`
	hidden  int
	shared
}

type part struct {
	ID    string `json:"id"`
	Inner *part  `json:"inner,omitempty"`
}

type shared struct {
	Note string `json:"note"`
}

// checker is the schema of results as an independent validator has it.
func checker(t *testing.T, v any) (*jsonschema.Schema, map[string]any) {
	t.Helper()
	text := SchemaOfResult(v, "a result", func(of, member string) string { return of + " has " + member })
	tree, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	if err := c.AddResource("result.json", tree); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("result.json")
	if err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	return s, tree.(map[string]any)
}

// TestSchemaOfResultAgreesWithEncoding: whatever encoding/json writes of a result the schema
// takes, empty or full, and no result with one member less, one more or one of another kind,
// but for those that may be left out.
func TestSchemaOfResultAgreesWithEncoding(t *testing.T) {
	schema, _ := checker(t, result{})
	full := result{Name: "n", Long: 2, Count: 3, Big: 1 << 60, Share: 0.5, Yes: true, On: unit.Date{Year: 2026, Month: 1, Day: 2}, At: time.Date(2026, 1, 2, 3, 4, 5, 0, time.UTC),
		Parts: []part{{ID: "a", Inner: &part{ID: "b"}}}, Of: map[string][]int32{"x": {1}, "y": nil}, First: &part{ID: "c"}, Plain: 4, hidden: 5, shared: shared{"z"}}
	for name, x := range map[string]result{"empty": {}, "full": full} {
		data, err := json.Marshal(x)
		if err != nil {
			t.Fatal(err)
		}
		var members map[string]any
		if err := json.Unmarshal(data, &members); err != nil {
			t.Fatal(err)
		}
		if err := schema.Validate(members); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		members["more"] = 1
		if schema.Validate(members) == nil {
			t.Errorf("%s: a member more is taken", name)
		}
		delete(members, "more")
		for member, was := range members {
			delete(members, member)
			if optional := member == "count" || member == "share"; (schema.Validate(members) == nil) != optional {
				t.Errorf("%s without %s: taken is %v", name, member, !optional)
			}
			members[member] = []any{[]any{}}
			if schema.Validate(members) == nil {
				t.Errorf("%s: a list of lists is taken for %s", name, member)
			}
			members[member] = was
		}
		for member, bad := range map[string]any{"count": 1.5, "Plain": "4", "big": 5, "share": "0.5", "yes": 1, "corner": []any{1, 2}, "name": nil, "on": nil, "same": nil,
			"parts": []any{map[string]any{"id": "a", "inner": map[string]any{}}}, "of": map[string]any{"x": []any{"1"}}, "first": map[string]any{"id": 1}} {
			was := members[member]
			members[member] = bad
			if schema.Validate(members) == nil {
				t.Errorf("%s: %s %v is taken", name, member, bad)
			}
			if members[member] = was; was == nil {
				delete(members, member)
			}
		}
		four := members["corner"]
		members["corner"] = []any{1, 2, 3, 4}
		if schema.Validate(members) == nil {
			t.Errorf("%s: four numbers are a corner", name)
		}
		members["corner"] = four
	}
}

// Every member is described by its type, with its package, and its name; a type that is met
// twice is one definition, under its name.
func TestSchemaOfResultDescribesMembers(t *testing.T) {
	_, tree := checker(t, result{})
	defs := tree["$defs"].(map[string]any)
	if len(defs) != 1 || tree["title"] != "a result" || tree["$schema"] != "https://json-schema.org/draft/2020-12/schema" {
		t.Errorf("%v", tree)
	}
	for of, object := range map[string]any{"doc.result": tree, "doc.part": defs["doc.part"]} {
		for name, p := range object.(map[string]any)["properties"].(map[string]any) {
			if got := p.(map[string]any)["description"]; got != of+" has "+name {
				t.Errorf("%s of %s is described as %v", name, of, got)
			}
		}
	}
	if got := tree["properties"].(map[string]any); len(got) != 15 || got["note"] == nil || got["Plain"] == nil || got["hidden"] != nil {
		t.Errorf("%d members: %v", len(got), got)
	}
	bare, _ := checker(t, struct{}{})
	if err := bare.Validate(map[string]any{}); err != nil {
		t.Error(err)
	}
}

type ownJSON []int

func (ownJSON) MarshalJSON() ([]byte, error) { return []byte("{}"), nil }

// panics is what a call panics with, as text; empty where it does not.
func panics(f func()) (why string) {
	defer func() {
		if p := recover(); p != nil {
			why = fmt.Sprint(p)
		}
	}()
	f()
	return ""
}

func TestMoreProgrammersMistakesPanic(t *testing.T) {
	type twin struct {
		A int `doc:"a"`
	}
	local := func() any {
		type twin struct {
			B int `doc:"b"`
		}
		return twin{}
	}()
	both := reflect.New(reflect.StructOf([]reflect.StructField{
		{Name: "One", Type: reflect.TypeOf(twin{}), Tag: `doc:"one"`}, {Name: "Two", Type: reflect.TypeOf(local), Tag: `doc:"two"`}})).Elem().Interface()
	for want, f := range map[string]func(){
		"nobody knows what doc.ownJSON writes":     func() { SchemaOfResult(struct{ X ownJSON }{}, "t", func(string, string) string { return "" }) },
		"chan int cannot be written":               func() { SchemaOfResult(struct{ X chan int }{}, "t", func(string, string) string { return "" }) },
		"two types are called twin":                func() { Schema(both, "t") },
		"doc.EncodeYAML: []string is not a struct": func() { EncodeYAML([]string{"a"}) },
		"doc.FlowItem: []int is not a struct":      func() { FlowItem([]int{1}) },
		"doc.AppendItem: []int is not a struct":    func() { _, _ = AppendItem(nil, "x", []int{1}) },
		"doc: []string is not a scalar": func() {
			EncodeCSV([]struct {
				L []string `doc:"l"`
			}{{L: []string{"a"}}})
		},
		"doc: doc.mute is read from text but has no ": func() {
			Encode(struct {
				M mute `doc:"m,required"`
			}{})
		},
		"doc: doc.refusing cannot be written: never": func() {
			Encode(struct {
				M refusing `doc:"m,required"`
			}{})
		},
		`doc tag ",required" is not a name`: func() {
			Encode(struct {
				M int `doc:",required"`
			}{})
		},
		"doc.Decode: dst is *doc.recipe, not a": func() { Decode("r", nil, (*recipe)(nil)) },
		"doc.Decode: dst is *int, not a":        func() { Decode("r", nil, new(int)) },
		"type map[int]string cannot be read": func() {
			Encode(struct {
				M map[int]string `doc:"m,required"`
			}{})
		},
		"type map[string]int cannot be read": func() {
			Encode(struct {
				M map[string]int `doc:"m,required"`
			}{})
		},
		"type *int cannot be read": func() {
			Encode(struct {
				M *int `doc:"m,required"`
			}{})
		},
		"doc.AppendItem: struct {} is not a struct with something": func() { _, _ = AppendItem(nil, "x", struct{}{}) },
	} {
		if why := panics(f); !strings.Contains(why, want) {
			t.Errorf("panics with %q, want %q", why, want)
		}
	}
}

type mute struct{}

func (*mute) UnmarshalText([]byte) error { return nil }

type refusing struct{}

func (*refusing) UnmarshalText([]byte) error  { return nil }
func (refusing) MarshalText() ([]byte, error) { return nil, fmt.Errorf("never") }

// quantities has every quantity that is written with its unit, and one that this package
// does not know.
type quantities struct {
	MM     unit.MM          `doc:"mm,required"`
	Min    unit.Minutes     `doc:"min,required"`
	Kg     unit.Kilogram    `doc:"kg,required"`
	Nm     unit.NewtonMetre `doc:"nm,required"`
	Rad    unit.Rad         `doc:"rad,required"`
	C      unit.Celsius     `doc:"c,required"`
	K      unit.Kelvin      `doc:"k,required"`
	PerK   unit.PerKelvin   `doc:"perk,required"`
	Frac   unit.Frac        `doc:"frac,required"`
	Amount unit.Amount      `doc:"amount,required"`
	Money  unit.Money       `doc:"money,required"`
	Date   unit.Date        `doc:"date,required"`
	Other  shout            `doc:"other,required"`
}

// shout is a text in capitals.
type shout string

func (s *shout) UnmarshalText(b []byte) error { *s = shout(strings.ToUpper(string(b))); return nil }
func (s shout) MarshalText() ([]byte, error)  { return []byte(s), nil }

// TestSchemaKnowsEveryQuantitySeed41: no text that Decode takes for a quantity is refused by
// the schema, and what has the unit of another quantity, or none, is refused by both. The texts
// are drawn from numbers in every writing and the units of all quantities.
func TestSchemaKnowsEveryQuantitySeed41(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 0))
	schema := compiled(t, quantities{})
	good := map[string]any{"mm": "1 mm", "min": "1 min", "kg": "1 kg", "nm": "1 Nm", "rad": "1 rad", "c": "1 C", "k": "1 K", "perk": "1 ppm/K", "frac": "1 %", "amount": "1 l", "money": "1.00 EUR", "date": "2026-11-25", "other": "x"}
	units := []string{"mm", "cm", "m", "in", "min", "h", "d", "kg", "g", "Nm", "deg", "°", "rad", "C", "°C", "K", "ppm/K", "%", "EUR", "l", ""}
	numbers := []string{"1", "-2", "+3", "0.5", ".5", "5.", "1e3", "1E-2", "07", "1.234", "1.2", "", "1,5", "x"}
	taken := map[string]int{}
	for range 2500 {
		name := []string{"mm", "min", "kg", "nm", "rad", "c", "k", "perk", "frac", "amount", "money", "date"}[rng.IntN(12)]
		was := good[name]
		good[name] = strings.Repeat(" ", rng.IntN(2)) + numbers[rng.IntN(len(numbers))] + []string{"", " ", "  "}[rng.IntN(3)] + units[rng.IntN(len(units))] + strings.Repeat(" ", rng.IntN(2))
		text, err := json.Marshal(good)
		if err != nil {
			t.Fatal(err)
		}
		_, problems := Decode("q", text, new(quantities))
		refused := schema.Validate(good)
		if len(problems) == 0 && refused != nil {
			t.Fatalf("Decode takes %s %q, the schema does not: %v", name, good[name], refused)
		}
		if len(problems) == 0 {
			taken[name]++
		}
		good[name] = was
	}
	for name, n := range taken {
		if n < 3 {
			t.Errorf("%d texts are a %s", n, name)
		}
	}
	own := map[string]string{"mm": "mm cm m in", "min": "min h d", "kg": "kg g", "nm": "Nm", "rad": "deg ° rad", "c": "C °C", "k": "K", "perk": "ppm/K", "frac": "%", "money": "EUR", "date": "-"}
	for name, of := range own {
		was := good[name]
		for _, u := range append(units, "2026-1-2") {
			good[name] = "1 " + u
			ours := u != "" && strings.Contains(" "+of+" ", " "+u+" ")
			if refused := schema.Validate(good) != nil; refused == ours {
				t.Errorf("%s: the schema refuses %q: %v", name, good[name], refused)
			}
		}
		good[name] = was
	}
	if good["other"] = ""; schema.Validate(good) == nil {
		t.Error("an empty text is taken for a value that reads itself")
	}
}

// TestQuantitiesReadBack: every quantity is written as it is read.
func TestQuantitiesReadBack(t *testing.T) {
	was := quantities{1.5, 90, 2, 30, 0.5, 21, 300, 23, 0.25, unit.Amount{Value: 2, Unit: "l"}, unit.Money{Minor: 105, Currency: "EUR"}, unit.Date{Year: 2026, Month: 2, Day: 3}, "LOUD"}
	var is quantities
	text := EncodeYAML(was)
	if _, problems := Decode("q", text, &is); len(problems) > 0 || is != was {
		t.Errorf("%v\n%s\n%+v", problems, text, is)
	}
}
