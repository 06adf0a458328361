package doc

import (
	"encoding/json"
	"fmt"
	"strings"

	"fettle/internal/diag"
)

// kind is what a node of a document is.
type kind int

const (
	scalar kind = iota
	mapping
	list
	nothing // a null, or a field without a value
	refused // told already
)

func (k kind) String() string {
	return [...]string{"a single value", "a group of fields", "a list", "nothing", "refused"}[k]
}

// node is one value of a document, whatever it was written in.
type node struct {
	mark
	kind    kind
	text    string // of a scalar, as written, without its quotes
	quoted  bool   // a scalar in quotes or a block scalar
	entries []entry
	items   []*node
}

// entry is one field of a mapping.
type entry struct {
	mark
	key   string
	value *node
}

// parseJSON reads a document that is valid JSON and begins with a brace. Other
// text gives no node and no problem: it is left to the YAML reader, which can
// say more about it.
func parseJSON(file, text string) (*node, diag.Problems) {
	if !strings.HasPrefix(strings.TrimLeft(text, " \n\r\t"), "{") || !json.Valid([]byte(text)) {
		return nil, nil
	}
	j := &jsonReader{dec: json.NewDecoder(strings.NewReader(text)), text: text, line: 1}
	j.dec.UseNumber()
	root, err := j.value(0)
	if err != nil {
		return nil, diag.Problems{{File: file, Line: j.line, Msg: err.Error()}}
	}
	return root, nil
}

// jsonReader keeps the line and column of the next token.
type jsonReader struct {
	dec             *json.Decoder
	text            string
	at, line, begin int // offset read so far, its line, offset where that line begins
}

func (j *jsonReader) token() (json.Token, mark, error) {
	start := int(j.dec.InputOffset())
	for start < len(j.text) && strings.IndexByte(" \n\r\t,:", j.text[start]) >= 0 {
		start++
	}
	for ; j.at < start; j.at++ {
		if j.text[j.at] == '\n' {
			j.line, j.begin = j.line+1, j.at+1
		}
	}
	t, err := j.dec.Token()
	return t, mark{j.line, 1 + len([]rune(j.text[j.begin:start]))}, err
}

func (j *jsonReader) value(depth int) (*node, error) {
	t, m, err := j.token()
	switch {
	case err != nil:
		return nil, err
	case depth > MaxDepth:
		return nil, fmt.Errorf("the document nests deeper than %d levels", MaxDepth)
	}
	n := &node{mark: m, quoted: true}
	switch t := t.(type) {
	case json.Delim:
		return n, j.fill(n, t, depth)
	case string:
		n.text = t
	case json.Number:
		n.text, n.quoted = t.String(), false
	case bool:
		n.text, n.quoted = fmt.Sprint(t), false
	case nil:
		n.kind = nothing
	}
	return n, nil
}

// fill reads the inside of an object or array and its closing bracket.
func (j *jsonReader) fill(n *node, open json.Delim, depth int) error {
	n.kind = list
	if open == '{' {
		n.kind = mapping
	}
	for j.dec.More() {
		var e entry
		if n.kind == mapping {
			t, m, err := j.token()
			if err != nil {
				return err
			}
			e.mark, e.key = m, t.(string)
		}
		v, err := j.value(depth + 1)
		if err != nil {
			return err
		}
		e.value = v
		if n.kind == mapping {
			n.entries = append(n.entries, e)
		} else {
			n.items = append(n.items, v)
		}
	}
	_, _, err := j.token()
	return err
}
