package rule

import "strings"

// reserved words have a meaning in conditions and values and are no names.
var reserved = []string{"and", "any", "includes", "neither", "no", "none", "nor", "not", "of", "only", "or", "unknown", "yes"}

// ParseValue reads a value as a planner writes it: "round", "RAIL-L, KNEE-L",
// "none" (an empty set), "20 mm", "2026-03-01" (a date), "20 +- 2 mm" (the second number is the
// expanded uncertainty, k = 2), "none near" (a distance to something that is not
// there), "yes", "no", and "unknown" for every kind.
func ParseValue(kind Kind, unitName, text string) (Value, error) {
	s := strings.TrimSpace(text)
	if s == "unknown" {
		return Value{Kind: kind, Unit: unitName}, nil
	}
	if s == "" {
		return Value{}, bad("value", "nothing is written", "write the value, or \"unknown\"")
	}
	switch kind {
	case Text:
		w, err := word("value", s)
		if err != nil {
			return Value{}, err
		}
		return TextValue(w), nil
	case Set:
		return parseSetValue(s)
	case Number:
		return parseNumberValue(unitName, s)
	case Bool:
		yes, err := yesNo("value", s)
		if err != nil {
			return Value{}, err
		}
		return BoolValue(yes), nil
	}
	return Value{}, bad("value", "the fact has no kind this program knows", "")
}

func parseSetValue(s string) (Value, error) {
	if s == "none" {
		return SetValue(), nil
	}
	words, err := wordList("value", s, nil)
	if err != nil {
		return Value{}, err
	}
	return SetValue(words...), nil
}

func parseNumberValue(unitName, s string) (Value, error) {
	if s == "none near" && unitName != "" {
		return NoneNear(unitName), nil
	}
	if unitName == UnitDate {
		v, err := quantity("value", s, unitName, false)
		return NumberValue(v, 0, unitName), err
	}
	at, std, found := strings.Cut(s, "±")
	if !found {
		at, std, found = strings.Cut(s, "+-")
	}
	if !found {
		v, err := quantity("value", s, unitName, false)
		if err != nil {
			return Value{}, err
		}
		return NumberValue(v, 0, unitName), nil
	}
	u, err := quantity("value", std, unitName, false)
	if err != nil {
		return Value{}, err
	}
	at = strings.TrimSpace(at)
	if bare := strings.Trim(at, "+-.0123456789") == ""; bare {
		at += " " + lastWord(std) // "2 +- 0.1 cm": the unit is for both
	}
	v, err := quantity("value", at, unitName, false)
	if err != nil {
		return Value{}, err
	}
	if u < 0 {
		return Value{}, bad("value", "the uncertainty in "+quote(s)+" is negative", "write \"20 +- 2\" and the unit")
	}
	return NumberValue(v, u/Coverage, unitName), nil
}

// lastWord is the unit at the end of "2 mm".
func lastWord(s string) string { return strings.TrimLeft(strings.TrimSpace(s), "+-.0123456789 ") }

func yesNo(subject, s string) (bool, error) {
	switch s {
	case "yes":
		return true, nil
	case "no":
		return false, nil
	}
	return false, bad(subject, quote(s)+" is neither yes nor no", "write \"yes\" or \"no\"")
}

// word reads one name: letters, digits, '-', '_' and '.'.
func word(subject, s string) (string, error) {
	s = strings.TrimSpace(s)
	if s == "" {
		return "", bad(subject, "a word is missing", "write one word")
	}
	for _, r := range reserved {
		if s == r {
			return "", bad(subject, quote(s)+" has a meaning of its own here and cannot be a name", "")
		}
	}
	for _, r := range s {
		if !nameRune(r) {
			return "", bad(subject, quote(s)+" is not one word", "use letters, digits, '-', '_' and '.'")
		}
	}
	return s, nil
}

func nameRune(r rune) bool {
	switch {
	case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9':
		return true
	}
	return r == '-' || r == '_' || r == '.'
}

// wordList reads names separated by commas or by one of the words in seps.
func wordList(subject, s string, seps []string) ([]string, error) {
	var out []string
	for _, part := range splitWords(s, seps) {
		w, err := word(subject, part)
		if err != nil {
			return nil, err
		}
		for _, o := range out {
			if o == w {
				return nil, bad(subject, quote(w)+" is written twice", "leave one out")
			}
		}
		out = append(out, w)
	}
	return out, nil
}

// splitWords cuts at commas and at the separating words. "A, and B" counts as
// one separator.
func splitWords(s string, seps []string) []string {
	var out []string
	var cur []string
	flush := func() { out, cur = append(out, strings.Join(cur, " ")), nil }
	fields := strings.Fields(strings.ReplaceAll(s, ",", " , "))
	for i, f := range fields {
		sep := f == ","
		for _, w := range seps {
			if f == w {
				sep = true
				if i > 0 && fields[i-1] == "," {
					sep, f = false, ""
				}
			}
		}
		switch {
		case sep:
			flush()
		case f != "":
			cur = append(cur, f)
		}
	}
	flush()
	return out
}
