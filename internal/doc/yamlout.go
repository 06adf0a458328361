package doc

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// EncodeYAML writes a document as readable YAML that Decode reads back to an
// equal value. The same value gives the same bytes.
func EncodeYAML(v any) []byte {
	var b strings.Builder
	switch t := Encode(v).(type) {
	case Object:
		writeObject(&b, t, "")
	default:
		panic(fmt.Sprintf("doc.EncodeYAML: %T is not a struct", v))
	}
	return []byte(b.String())
}

// writeObject writes each member on its own line; the first line is not
// indented because a list sign may stand before it.
func writeObject(b *strings.Builder, o Object, indent string) {
	for i, m := range o {
		if i > 0 {
			b.WriteString(indent)
		}
		b.WriteString(yamlKey(m.Name) + ":")
		writeMember(b, m.Value, indent)
	}
}

func writeMember(b *strings.Builder, v any, indent string) {
	if line, ok := oneLine(v); ok {
		b.WriteString(" " + line + "\n")
		return
	}
	deeper := indent + "  "
	switch v := v.(type) {
	case Object:
		b.WriteString("\n" + deeper)
		writeObject(b, v, deeper)
	case []any:
		b.WriteString("\n")
		for _, item := range v {
			b.WriteString(deeper + "-")
			writeItem(b, item, deeper)
		}
	}
}

func writeItem(b *strings.Builder, v any, indent string) {
	if o, ok := v.(Object); ok && len(o) > 0 {
		b.WriteString(" ")
		writeObject(b, o, indent+"  ")
		return
	}
	writeMember(b, v, indent)
}

// oneLine writes scalars, and lists of scalars that fit into a line.
func oneLine(v any) (string, bool) {
	switch v := v.(type) {
	case string:
		return yamlText(v), true
	case bool:
		if v {
			return "yes", true
		}
		return "no", true
	case Object:
		return "{}", len(v) == 0
	case []any:
		return flowList(v)
	}
	return fmt.Sprint(v), true
}

// flowList writes [a, b] unless an item is a mapping or the line gets long.
func flowList(items []any) (string, bool) {
	words := make([]string, len(items))
	for i, item := range items {
		if o, ok := item.(Object); ok && len(o) > 0 {
			return "", false
		}
		word, ok := oneLine(item)
		if !ok {
			return "", false
		}
		words[i] = word
	}
	line := "[" + strings.Join(words, ", ") + "]"
	return line, len(line) <= 90 || len(items) == 1
}

var (
	// plainWord is text that every YAML reader takes as the same text without
	// quotes: it begins with a letter or digit and holds no sign of the language.
	plainWord = regexp.MustCompile(`^[A-Za-z0-9]([A-Za-z0-9 _./()%+°=<>-]*[A-Za-z0-9_./()%+°=<>-])?$|^-?[0-9]+(\.[0-9]+)?( [A-Za-z]+)?$`)
	// reserved words are not text to some readers.
	reserved = []string{"yes", "no", "true", "false", "null", "on", "off", "y", "n", "nan", "inf", "undefined"}
)

// yamlKey writes the name of a field: Decode takes "on" and "y" for what they
// are, so they need no quotes here.
func yamlKey(name string) string {
	if slices.Contains([]string{"on", "y", "n"}, name) {
		return name
	}
	return yamlText(name)
}

// yamlText writes text plainly when nobody can misread it, else in quotes.
func yamlText(s string) string {
	if plainWord.MatchString(s) && !slices.Contains(reserved, strings.ToLower(s)) && !oddNumber(s) {
		return s
	}
	return jsonText(s)
}

var (
	numberLike = regexp.MustCompile(`^[0-9][0-9_xXoObBeE.+-]*$`)
	dateForm   = regexp.MustCompile(`^[0-9]{4}-[0-9]{2}-[0-9]{2}$`)
)

// oddNumber says that text could be taken for a number of another kind.
func oddNumber(s string) bool {
	return numberLike.MatchString(s) && !floatForm.MatchString(s) && !dateForm.MatchString(s)
}
