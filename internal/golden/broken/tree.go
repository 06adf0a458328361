package broken

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"
)

// sort is what a node of a document is.
type sort int

const (
	single sort = iota
	group
	list
)

// node is one value of a document.
type node struct {
	sort  sort
	text  string // of a single value, as it is written
	keys  []string
	nodes []*node // of a group by its keys, of a list in order

	vector bool // a list of numbers that are one value
}

// parse reads a sound document.
func parse(data []byte) (*node, error) {
	var v any
	if err := yaml.UnmarshalWithOptions(data, &v, yaml.UseOrderedMap()); err != nil {
		return nil, err
	}
	return nodeOf(v), nil
}

func nodeOf(v any) *node {
	switch v := v.(type) {
	case yaml.MapSlice:
		n := &node{sort: group}
		for _, m := range v {
			n.keys, n.nodes = append(n.keys, fmt.Sprint(m.Key)), append(n.nodes, nodeOf(m.Value))
		}
		return n
	case []any:
		n := &node{sort: list}
		for _, x := range v {
			n.nodes = append(n.nodes, nodeOf(x))
		}
		return n
	case string:
		return raw(strconv.Quote(strings.Join(strings.Fields(v), " ")))
	}
	return raw(fmt.Sprint(v))
}

// raw is a value as it is written.
func raw(text string) *node { return &node{text: text} }

// span is where a node stands: where it begins, and its last line. A loose one is a value of several.
type span struct {
	line, col, last int
	loose           bool
}

// holds says that a fault is told at the node: where it begins, or in one of several values at one of them.
func (s span) holds(line, col int) bool {
	if s.last == s.line && !s.loose {
		return line == s.line && col == s.col
	}
	return line == s.line && col >= s.col || line > s.line && line <= s.last
}

// writer writes a document and keeps where everything stands.
type writer struct {
	b    strings.Builder
	line int
	at   map[*node]span
	keys map[*node][]span // of a group, where its keys stand
}

func write(root *node) *writer {
	w := &writer{line: 1, at: map[*node]span{}, keys: map[*node][]span{}}
	w.block(root, 0)
	return w
}

func (w *writer) newLine() { w.b.WriteByte('\n'); w.line++ }

// block writes the lines of a group or a list that is not empty.
func (w *writer) block(n *node, indent int) {
	begin := span{line: w.line, col: indent + 1, loose: true}
	for i, x := range n.nodes {
		lead := "-"
		if n.sort == group {
			lead = n.keys[i] + ":"
		}
		w.keys[n] = append(w.keys[n], span{w.line, indent + 1, w.line, false})
		w.b.WriteString(strings.Repeat(" ", indent) + lead)
		w.value(x, indent+len([]rune(lead))+2, indent+2)
	}
	begin.last = w.line - 1
	w.at[n] = begin
}

// value writes what stands after a key or a dash, and the end of the line.
func (w *writer) value(n *node, col, indent int) {
	text := n.text
	if n.sort != single {
		if len(n.nodes) > 0 {
			w.newLine()
			w.block(n, indent)
			return
		}
		text = map[sort]string{group: "{}", list: "[]"}[n.sort]
	}
	w.at[n] = span{w.line, col, w.line, strings.HasPrefix(text, "[") || strings.HasPrefix(text, "{")}
	if text != "" {
		w.b.WriteString(" " + text)
	}
	w.newLine()
}

// copied is a node with all that is in it.
func copied(n *node) *node {
	out := *n
	out.nodes = nil
	for _, x := range n.nodes {
		out.nodes = append(out.nodes, copied(x))
	}
	return &out
}
