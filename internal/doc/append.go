package doc

import (
	"fmt"
	"regexp"
	"strings"

	"fettle/internal/diag"
)

// AppendItem adds an item to the end of a list at the top level of a YAML
// document that a person keeps, and leaves every other byte as it is. A list
// that is not there is begun at the end of the document. The item is a struct
// as Decode reads it.
//
// It works on lines and understands no more than it has to: read the result
// with Decode and compare it before it takes the place of the document.
func AppendItem(text []byte, list string, item any) ([]byte, error) {
	o, ok := Encode(item).(Object)
	if !ok || len(o) == 0 {
		panic(fmt.Sprintf("doc.AppendItem: %T is not a struct with something in it", item))
	}
	end := "\n"
	if strings.Contains(string(text), "\r\n") {
		end = "\r\n"
	}
	if strings.HasPrefix(strings.TrimLeft(string(text), " \r\n\t\uFEFF"), "{") {
		return nil, &diag.Error{Kind: diag.Conflict, Op: "append", Subject: list, Msg: "the document is written as JSON", Hint: "add it by hand: {" + flowMembers(o) + "}"}
	}
	lines := strings.SplitAfter(string(text), "\n")
	at := topLevel(lines, list)
	if at < 0 {
		out := string(text)
		if !strings.HasSuffix(out, "\n") {
			out += end
		}
		return []byte(out + list + ":" + end + "  - {" + flowMembers(o) + "}" + end), nil
	}
	if rest := valueText(lines[at], list); rest != "" {
		return appendFlow(lines, at, list, o)
	}
	last, indent := at, "  "
	for i := at + 1; i < len(lines); i++ {
		bare := strings.TrimRight(lines[i], "\r\n")
		trimmed := strings.TrimLeft(bare, " ")
		if trimmed == "" || strings.HasPrefix(trimmed, "#") {
			continue
		}
		if trimmed == bare && !strings.HasPrefix(bare, "-") {
			break
		}
		if last == at {
			indent = bare[:len(bare)-len(trimmed)]
		}
		last = i
	}
	if !strings.HasSuffix(lines[last], "\n") {
		lines[last] += end
	}
	lines[last] += indent + "- {" + flowMembers(o) + "}" + end
	return []byte(strings.Join(lines, "")), nil
}

// FlowItem is a struct on one line, as AppendItem adds it to a list.
func FlowItem(item any) string {
	o, ok := Encode(item).(Object)
	if !ok {
		panic(fmt.Sprintf("doc.FlowItem: %T is not a struct", item))
	}
	return "{" + flowMembers(o) + "}"
}

// topLevel is the line on which a field of the document begins; -1 when it has
// none.
func topLevel(lines []string, name string) int {
	for i, l := range lines {
		if strings.HasPrefix(strings.TrimPrefix(l, "\uFEFF"), name+":") {
			return i
		}
	}
	return -1
}

var comment = regexp.MustCompile(`(^|\s)#.*$`)

// valueText is what stands behind the name of a field on its own line.
func valueText(line, name string) string {
	rest := strings.TrimPrefix(strings.TrimPrefix(line, "\uFEFF"), name+":")
	return strings.TrimSpace(comment.ReplaceAllString(strings.TrimRight(rest, "\r\n"), ""))
}

// appendFlow adds to a list written in brackets, on one line or several.
func appendFlow(lines []string, at int, list string, o Object) ([]byte, error) {
	start := len(strings.Join(lines[:at], ""))
	text := strings.Join(lines, "")
	open := start + strings.Index(lines[at], "[")
	closing := -1
	if strings.HasPrefix(valueText(lines[at], list), "[") {
		closing = closingBracket(text, open)
	}
	if closing < 0 {
		return nil, &diag.Error{Kind: diag.Conflict, Op: "append", Subject: list, Msg: "the list is written in a way that cannot be added to", Hint: "write it with one item on each line, or add by hand: {" + flowMembers(o) + "}"}
	}
	before := strings.TrimRight(text[:closing], " \r\n")
	sep := ", "
	if strings.HasSuffix(before, "[") || strings.HasSuffix(before, ",") {
		sep = ""
	}
	return []byte(text[:len(before)] + sep + "{" + flowMembers(o) + "}" + text[len(before):]), nil
}

// closingBracket is the place of the bracket that closes the one at open; -1
// when there is none, or a comment stands between them.
func closingBracket(text string, open int) int {
	depth, quote := 0, byte(0)
	for i := open; i < len(text); i++ {
		c := text[i]
		switch {
		case quote == '"' && c == '\\', quote == '\'' && strings.HasPrefix(text[i:], "''"):
			i++
		case quote != 0:
			if c == quote {
				quote = 0
			}
		case (c == '"' || c == '\'') && strings.ContainsRune(" [{,:\n", rune(text[i-1])):
			quote = c
		case c == '#' && (text[i-1] == ' ' || text[i-1] == '\n'):
			return -1
		case c == '[' || c == '{':
			depth++
		case c == ']' || c == '}':
			if depth--; depth == 0 {
				return i
			}
		}
	}
	return -1
}

// flowMembers writes an item on one line, as people write short records.
func flowMembers(o Object) string {
	parts := make([]string, len(o))
	for i, m := range o {
		parts[i] = yamlKey(m.Name) + ": " + flowValue(m.Value)
	}
	return strings.Join(parts, ", ")
}

func flowValue(v any) string {
	switch v := v.(type) {
	case Object:
		return "{" + flowMembers(v) + "}"
	case []any:
		parts := make([]string, len(v))
		for i, item := range v {
			parts[i] = flowValue(item)
		}
		return "[" + strings.Join(parts, ", ") + "]"
	}
	line, _ := oneLine(v)
	return line
}
