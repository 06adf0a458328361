package broken

import (
	"encoding"
	"reflect"
	"strconv"
	"strings"

	"fettle/internal/unit"
)

// Kind is what a text is, where its type does not say so.
type Kind int

// Kinds of text.
const (
	Words Kind = iota + 1 // anything a person may write
	Name                  // the identity of a thing, by which others speak of it
	Ref                   // the identity of another thing of the document
	Code                  // text of one form, such as a currency
	Clock                 // a time of the day
)

// identities are the fields that a thing has its own name in.
var identities = map[string]bool{"id": true}

// value is a broken text of a single value, and what is broken.
type value struct{ why, text string }

// quantities are the types that are written as a number and a unit: one that is right, and one
// of something else.
var quantities = map[reflect.Type][2]string{
	reflect.TypeFor[unit.MM]():          {"mm", "kg"},
	reflect.TypeFor[unit.Minutes]():     {"min", "mm"},
	reflect.TypeFor[unit.Kilogram]():    {"kg", "mm"},
	reflect.TypeFor[unit.SquareMetre](): {"m2", "m"},
	reflect.TypeFor[unit.Micrometre]():  {"um", "mm"},
	reflect.TypeFor[unit.NewtonMetre](): {"Nm", "N"},
	reflect.TypeFor[unit.Rad]():         {"deg", "mm"},
	reflect.TypeFor[unit.Celsius]():     {"C", "F"},
	reflect.TypeFor[unit.Kelvin]():      {"K", "C"},
	reflect.TypeFor[unit.PerKelvin]():   {"ppm/K", "K"},
	reflect.TypeFor[unit.Frac]():        {"%", "mm"},
}

var textType = reflect.TypeFor[encoding.TextUnmarshaler]()

// scalar says that a type is written as one value.
func scalar(t reflect.Type) bool {
	if reflect.PointerTo(t).Implements(textType) {
		return true
	}
	switch t.Kind() {
	case reflect.Struct, reflect.Pointer, reflect.Slice, reflect.Array, reflect.Map:
		return false
	}
	return true
}

// values are broken texts for a type; nil where nobody knows what is broken.
func values(t reflect.Type, words []string, kind Kind) []value {
	if u, ok := quantities[t]; ok {
		return quantity(u[0], u[1])
	}
	switch t {
	case reflect.TypeFor[unit.Amount]():
		return quantity("ml", "")
	case reflect.TypeFor[unit.Money]():
		return []value{{"words", "much"}, {"no currency", "12"}, {"a thousandth", "12.345 EUR"}, {"no number", "NaN EUR"}, {"decimal comma", "12,50 EUR"},
			{"too many digits", "99999999999999999999 EUR"}, {"negative", "-1.00 EUR"}, {"another currency", "12.00 XTS"}}
	case reflect.TypeFor[unit.Date]():
		return []value{{"words", "today"}, {"no such day", "2026-02-30"}, {"no such month", "2026-13-01"}, {"day first", "30.01.2026"}, {"two digits of a year", "26-01-30"}, {"one digit of a day", "2026-1-3"}}
	}
	switch t.Kind() {
	case reflect.Bool:
		return []value{{"another word", "perhaps"}, {"a number", "1"}, {"capitals", "YES"}, {"a letter", "y"}, {"two words", "yes and no"}}
	case reflect.Int, reflect.Int64:
		return append(numbers(), value{"a part", "1.5"})
	case reflect.Float64:
		return numbers()
	case reflect.String:
		if words != nil {
			return wrongWords(words)
		}
		return texts(kind)
	}
	return nil
}

func quantity(right, wrong string) []value {
	out := []value{{"words", "much " + right}, {"no unit", "12"}, {"no number", "NaN " + right}, {"no end", "Inf " + right},
		{"beyond all numbers", "1e999 " + right}, {"a slip of the keyboard", "1e300 " + right}, {"decimal comma", "12,5 " + right}, {"two numbers", "1 2 " + right}}
	if wrong != "" {
		out = append(out, value{"unit of something else", "12 " + wrong}, value{"unknown unit", "12 furlongs"})
	}
	if right == "C" {
		return append(out, value{"colder than can be", "-300 C"}, value{"hotter than any work", "9000 C"})
	}
	return append(out, value{"negative", "-1 " + right})
}

func numbers() []value {
	return []value{{"words", "many"}, {"no number", "NaN"}, {"no end", ".inf"}, {"octal", "012"}, {"hexadecimal", "0x1F"}, {"an exponent", "1e2"}, {"a unit", "12 mm"},
		{"decimal comma", "1,5"}, {"underscore", "1_000"}, {"plus", "+1"}, {"negative", "-1"}, {"a slip of the keyboard", "999999999"}, {"beyond all numbers", "1" + strings.Repeat("0", 400)}}
}

func wrongWords(words []string) []value {
	out := []value{{"another word", "nothing-of-these"}, {"a number", "7"}, {"a space before", strconv.Quote(" " + words[0])}, {"an end too many", strconv.Quote(words[0] + ".")},
		{"an empty word", `""`}, {"two words", strconv.Quote(strings.Join([]string{words[0], words[len(words)-1]}, ", "))}}
	if up := strings.ToUpper(words[0]); up != words[0] {
		out = append(out, value{"capitals", strconv.Quote(up)})
	}
	return out
}

// unseen are texts that hold what nobody sees, and what is no plain text.
func unseen() []value {
	return []value{{"turns the text", `"a\u202eb"`}, {"clears a screen", `"a\u001b[2Jb"`}, {"a tag", "!secret a"}, {"an anchor", "&a b"}, {"an alias", "*a"}}
}

func texts(kind Kind) []value {
	switch kind {
	case Words:
		return unseen()
	case Name:
		return append(unseen(), value{"a space", "two words"}, value{"a dash before", `"-x"`}, value{"a path", "../x"}, value{"an empty text", `""`}, value{"a letter of no code", "ä"})
	case Ref:
		return append(unseen(), value{"nobody", "nobody-has-this-name"}, value{"a space", "two words"}, value{"a path", "../x"}, value{"a letter of no code", "ä"}, value{"a number", "0"})
	case Code:
		return append(unseen(), value{"words", "two words"}, value{"one letter", "x"}, value{"a path", "../x"}, value{"far too long", strings.Repeat("A", 200)})
	case Clock:
		return []value{{"words", "noon"}, {"no such hour", `"24:30"`}, {"no such minute", `"12:60"`}, {"no minutes", `"12"`}, {"a point", `"12.30"`}, {"seconds", `"12:30:00"`}, {"negative", `"-1:00"`}}
	}
	return nil
}
