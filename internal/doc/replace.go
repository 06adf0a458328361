package doc

import (
	"fmt"
	"strings"

	"fettle/internal/diag"
)

// ReplaceItem puts an item in the place of one of a list at the top level of a YAML document
// that a person keeps, and leaves every other byte as it is. It works on lines: the item has
// to stand on one of its own, in braces, with nothing behind it. Read the result with Decode
// and compare it before it takes the place of the document.
func ReplaceItem(text []byte, list string, at int, item any) ([]byte, error) {
	refused := &diag.Error{Kind: diag.Conflict, Op: "change", Subject: fmt.Sprintf("%s[%d]", list, at), Msg: "the entry does not stand on a line of its own, in braces", Hint: "change it by hand to: " + FlowItem(item)}
	lines := strings.SplitAfter(string(text), "\n")
	head := topLevel(lines, list)
	if head < 0 || valueText(lines[head], list) != "" {
		return nil, refused
	}
	n := -1
	for i := head + 1; i < len(lines); i++ {
		bare := strings.TrimRight(lines[i], "\r\n")
		trimmed := strings.TrimLeft(bare, " ")
		if trimmed == "" || strings.HasPrefix(trimmed, "#") {
			continue
		}
		if !strings.HasPrefix(trimmed, "- {") || !strings.HasSuffix(trimmed, "}") {
			return nil, refused
		}
		if n++; n == at {
			indent, end := bare[:len(bare)-len(trimmed)], lines[i][len(bare):]
			lines[i] = indent + "- " + FlowItem(item) + end
			return []byte(strings.Join(lines, "")), nil
		}
	}
	return nil, refused
}

// ReplaceList puts items in the place of a list at the top level of a YAML document that a
// person keeps, one on a line in braces, and leaves every other byte as it is; comments
// between the items go with them. A document without the list is an error.
func ReplaceList[T any](text []byte, list string, items []T) ([]byte, error) {
	lines := strings.SplitAfter(string(text), "\n")
	head := topLevel(lines, list)
	if head < 0 {
		return nil, &diag.Error{Kind: diag.Invalid, Op: "change", Subject: list, Msg: "the document has no such list", Hint: "begin a line with '" + list + ":'"}
	}
	end := head + 1
	for n := end; n < len(lines); n++ {
		if inList(lines[n]) {
			end = n + 1
		} else if !blankOrComment(lines[n]) {
			break
		}
	}
	newline := "\n"
	if strings.HasSuffix(lines[head], "\r\n") {
		newline = "\r\n"
	}
	var b strings.Builder
	b.WriteString(strings.Join(lines[:head], ""))
	if strings.HasPrefix(lines[head], "\uFEFF") {
		b.WriteString("\uFEFF")
	}
	b.WriteString(list + ":" + newline)
	for _, x := range items {
		b.WriteString("  - " + FlowItem(x) + newline)
	}
	b.WriteString(strings.Join(lines[end:], ""))
	return []byte(b.String()), nil
}

func blankOrComment(line string) bool {
	t := strings.TrimSpace(line)
	return t == "" || strings.HasPrefix(t, "#")
}

// inList says that a line belongs to the list above it: it is indented, or an item.
func inList(line string) bool {
	return !blankOrComment(line) && strings.ContainsAny(line[:1], " -]")
}
