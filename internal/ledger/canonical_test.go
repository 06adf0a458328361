package ledger

import (
	"encoding/json"
	"strings"
	"testing"
)

// ordered is a set of members in an order of its own.
type ordered []string

func (o ordered) Each(f func(string, any)) {
	for _, name := range o {
		f(name, int64(len(name)))
	}
}

func TestCanonical(t *testing.T) {
	for name, c := range map[string]struct {
		in   any
		want string
	}{
		"sorted members": {map[string]any{"b": 1, "a": int64(2), "aa": nil}, `{"a":2,"aa":null,"b":1}`},
		"lists keep their order, nothing is spaced": {[]any{true, "x y", []any{}, map[string]any{}}, `[true,"x y",[],{}]`},
		"own members": {ordered{"bb", "a"}, `{"a":1,"bb":2}`},
		// The order is that of UTF-16 code units: the emoji, a surrogate pair
		// that begins with D83D, comes before U+FB33. The seven names are those
		// of the example in RFC 8785 section 3.2.3, from memory.
		"names by UTF-16": {map[string]any{"\u20ac": 1, "\r": 2, "\ufb33": 3, "1": 4, "\U0001F600": 5, "\u0080": 6, "\u00f6": 7},
			"{\"\\r\":2,\"1\":4,\"\u0080\":6,\"\u00f6\":7,\"\u20ac\":1,\"\U0001F600\":5,\"\ufb33\":3}"},
		// RFC 8785 section 3.2.2.2 from memory: short escapes where there are
		// some, lower-case \u00xx for other control characters, nothing else.
		"escapes":  {"\u20ac$\u000f\nA'\u0042\u0022\u005c\\\"/\b\f\t<&>\u007f", `"€$\u000f\nA'B\"\\\\\"/\b\f\t<&>` + "\u007f\""},
		"largest":  {int64(maxExact), "9007199254740992"},
		"smallest": {int64(-maxExact), "-9007199254740992"},
		"the last control character, and the first that is none": {"\x1f ", `"\u001f "`},
		"no": {[]any{false, nil}, "[false,null]"},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := Canonical(c.in)
			if err != nil || string(got) != c.want {
				t.Errorf("got %s %v, want %s", got, err, c.want)
			}
			var back any
			if err := json.Unmarshal(got, &back); err != nil {
				t.Errorf("not JSON: %v", err)
			}
		})
	}
}

// A value may lie in so many lists or sets of members, and in no more.
func TestDepthOfARecord(t *testing.T) {
	for name, in := range map[string]func(any) any{
		"lists":   func(v any) any { return []any{v} },
		"members": func(v any) any { return map[string]any{"a": v} },
	} {
		v := any("x")
		for range maxDepth {
			v = in(v)
		}
		if _, err := Canonical(v); err != nil {
			t.Errorf("%d %s: %v", maxDepth, name, err)
		}
		if _, err := Canonical(in(v)); err == nil {
			t.Errorf("%d %s are taken", maxDepth+1, name)
		}
	}
}

func TestCanonicalRefuses(t *testing.T) {
	deep := any("x")
	for range maxDepth + 2 {
		deep = []any{deep}
	}
	for name, c := range map[string]struct {
		in   any
		want string
	}{
		"a decimal number":      {1.5, "float64"},
		"a number too large":    {int64(maxExact + 1), "write it as text"},
		"a number too small":    {int64(-maxExact - 1), "write it as text"},
		"text that is not UTF8": {"\xff", "not UTF-8"},
		"a name that is not":    {map[string]any{"\xff": 1}, "not UTF-8"},
		"a member twice":        {ordered{"a", "b", "a"}, `"a" is there twice`},
		"a struct":              {struct{}{}, "struct {}"},
		"inside a list":         {[]any{map[string]any{"a": 1.5}}, "float64"},
		"endless nesting":       {deep, "nests deeper"},
	} {
		t.Run(name, func(t *testing.T) {
			if got, err := Canonical(c.in); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %s, %v; want an error with %q", got, err, c.want)
			}
		})
	}
}
