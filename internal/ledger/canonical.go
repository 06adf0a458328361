// Package ledger owns the bytes a record is hashed over and the chain that
// makes a later change of it visible. It is short so that an auditor can read
// the whole of it.
//
// Canonical bytes are JSON after RFC 8785 (JSON Canonicalization Scheme): no
// white space, members sorted by the UTF-16 code units of their names, the
// shortest escapes, UTF-8. Of numbers only whole ones up to 2^53 are taken:
// they print the same everywhere. Decimal numbers are text. What cannot be
// written without doubt is refused.
//
// The chain shows that entries were edited, left out, added or swapped. It
// does not show that the newest ones were cut off, nor that all of it was made
// anew: for that, keep the last hash (Chain.Head) somewhere else, or a signed
// checkpoint of the log that has a leaf for every entry of every chain.
package ledger

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// Members is a set of named values that is not a map, such as doc.Object.
type Members interface {
	Each(func(name string, value any))
}

// maxExact is the largest whole number every JSON reader keeps (from memory).
const maxExact = 1 << 53
const maxDepth = 200 // nesting of a record

// Canonical writes a tree of Members, map[string]any, []any, string, bool,
// int, int64 and nil.
func Canonical(v any) ([]byte, error) { return appendValue(nil, v, 0) }

func appendValue(b []byte, v any, depth int) ([]byte, error) {
	if depth > maxDepth {
		return nil, fmt.Errorf("the record nests deeper than %d levels", maxDepth)
	}
	switch v := v.(type) {
	case nil:
		return append(b, "null"...), nil
	case bool:
		return strconv.AppendBool(b, v), nil
	case int:
		return appendValue(b, int64(v), depth)
	case int64:
		if v > maxExact || v < -maxExact {
			return nil, fmt.Errorf("not every reader keeps the number %d exactly; write it as text", v)
		}
		return strconv.AppendInt(b, v, 10), nil
	case string:
		return appendString(b, v)
	case []any:
		return appendList(b, v, depth)
	case map[string]any:
		return appendMembers(b, v, depth)
	case Members:
		members, twice := map[string]any{}, ""
		v.Each(func(name string, value any) {
			if _, there := members[name]; there {
				twice = name
			}
			members[name] = value
		})
		if twice != "" {
			return nil, fmt.Errorf("the member %q is there twice", twice)
		}
		return appendMembers(b, members, depth)
	}
	return nil, fmt.Errorf("a value of type %T has no canonical form", v)
}

func appendList(b []byte, items []any, depth int) (_ []byte, err error) {
	b = append(b, '[')
	for i, item := range items {
		if i > 0 {
			b = append(b, ',')
		}
		if b, err = appendValue(b, item, depth+1); err != nil {
			return nil, err
		}
	}
	return append(b, ']'), nil
}

func appendMembers(b []byte, members map[string]any, depth int) (_ []byte, err error) {
	names := slices.SortedFunc(maps.Keys(members), func(a, b string) int {
		return slices.Compare(utf16.Encode([]rune(a)), utf16.Encode([]rune(b)))
	})
	b = append(b, '{')
	for i, name := range names {
		if i > 0 {
			b = append(b, ',')
		}
		if b, err = appendString(b, name); err != nil {
			return nil, err
		}
		if b, err = appendValue(append(b, ':'), members[name], depth+1); err != nil {
			return nil, err
		}
	}
	return append(b, '}'), nil
}

// appendString writes the escapes of RFC 8785 section 3.2.2.2 (as in
// ECMAScript's JSON.stringify; from memory): \b \t \n \f \r \" \\ and \u00xx
// in lower case for the other control characters; nothing else is escaped.
func appendString(b []byte, s string) ([]byte, error) {
	if !utf8.ValidString(s) {
		return nil, fmt.Errorf("the text %q is not UTF-8", s)
	}
	b = append(b, '"')
	for i := range len(s) {
		c := s[i]
		if k := strings.IndexByte("\b\t\n\f\r\"\\", c); k >= 0 {
			b = append(b, '\\', "btnfr\"\\"[k])
		} else if c < ' ' {
			b = fmt.Appendf(b, `\u%04x`, c)
		} else {
			b = append(b, c)
		}
	}
	return append(b, '"'), nil
}
