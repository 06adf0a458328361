package doc

import (
	"errors"
	"fmt"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"

	"fettle/internal/diag"
)

// parseYAML reads one YAML document into a tree. Only the plain part of YAML
// is taken; the rest is refused with its position.
func parseYAML(file, text string) (root *node, problems diag.Problems) {
	// The parser is foreign code: whatever it stumbles over is a fault of the
	// document, not of the program.
	defer func() {
		if p := recover(); p != nil {
			root, problems = nil, diag.Problems{{File: file, Msg: "the file is not YAML that can be read"}}
		}
	}()
	tokens := lexer.Tokenize(text)
	c := &converter{file: file}
	if c.refuseEarly(tokens) {
		return nil, c.problems
	}
	tree, err := parser.Parse(tokens, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		return nil, diag.Problems{syntaxProblem(file, err)}
	}
	return c.document(tree), c.problems
}

func tooDeepMsg() string { return fmt.Sprintf("the document nests deeper than %d levels", MaxDepth) }

// refuseEarly finds what the recursive parser must not meet, or says little
// about: directives, and nesting that costs few bytes a level (brackets, list
// or key signs side by side). Nesting by indentation is bounded by the size of
// the file and is checked later.
func (c *converter) refuseEarly(tokens token.Tokens) bool {
	flow, row, line := 0, 0, 0
	for _, t := range tokens {
		switch t.Type {
		case token.DirectiveType:
			c.refuse(markOf(t), "YAML directives are not taken", "leave out the line that begins with %, and the line '---'")
			return true
		case token.SequenceStartType, token.MappingStartType:
			flow++
		case token.SequenceEndType, token.MappingEndType:
			flow = max(0, flow-1)
		case token.SequenceEntryType, token.MappingKeyType:
			if t.Position.Line != line {
				row, line = 0, t.Position.Line
			}
			row++
		}
		if flow > MaxDepth || row > MaxDepth {
			c.refuse(markOf(t), tooDeepMsg(), "")
			return true
		}
	}
	return false
}

func markOf(t *token.Token) mark {
	if t == nil || t.Position == nil {
		return mark{}
	}
	return mark{t.Position.Line, max(1, t.Position.Column)}
}

// startOf is where a node begins. The parser names a mapping by its first
// colon; it begins with its brace or its first key.
func startOf(n ast.Node) mark {
	m, ok := n.(*ast.MappingNode)
	if ok && len(m.Values) > 0 && m.Start.Type != token.MappingStartType {
		return markOf(m.Values[0].Key.GetToken())
	}
	return markOf(n.GetToken())
}

func syntaxProblem(file string, err error) diag.Problem {
	p := diag.Problem{File: file, Msg: "not valid YAML"}
	var y yaml.Error
	if errors.As(err, &y) {
		m := markOf(y.GetToken())
		p.Line, p.Col, p.Msg = m.line, m.col, "not valid YAML: "+y.GetMessage()
	}
	p.Hint = "look at the indentation, the quotes and the colons here and in the line before"
	return p
}

// converter turns the parser's tree into nodes and notes what is refused.
type converter struct {
	file     string
	problems diag.Problems
}

func (c *converter) refuse(m mark, msg, hint string) {
	c.problems = append(c.problems, diag.Problem{File: c.file, Line: m.line, Col: m.col, Msg: msg, Hint: hint})
}

func (c *converter) document(tree *ast.File) *node {
	var bodies []ast.Node
	for _, d := range tree.Docs {
		if d != nil && d.Body != nil {
			bodies = append(bodies, d.Body)
		}
	}
	switch len(bodies) {
	case 0:
		c.refuse(mark{}, "there is nothing in the file", "")
		return nil
	case 1:
		return c.convert(bodies[0], 0)
	}
	c.refuse(startOf(bodies[1]), "a second document begins here", "one file holds one document; take out the line '---'")
	return nil
}

// convert never returns nil: what was refused stays as a node of its own kind,
// so that it is not called missing as well.
func (c *converter) convert(n ast.Node, depth int) *node {
	if depth > MaxDepth {
		c.refuse(markOf(n.GetToken()), tooDeepMsg(), "")
		return &node{kind: refused}
	}
	switch n := n.(type) {
	case *ast.MappingNode:
		return c.mapping(startOf(n), n.Values, depth)
	case *ast.MappingValueNode:
		return c.mapping(markOf(n.Key.GetToken()), []*ast.MappingValueNode{n}, depth)
	case *ast.SequenceNode:
		return c.list(n, depth)
	case *ast.NullNode:
		return &node{mark: markOf(n.Token), kind: nothing}
	case *ast.LiteralNode:
		return &node{mark: markOf(n.Start), text: oneParagraph(n.Value.Value), quoted: true}
	case *ast.StringNode:
		q := n.Token.Type == token.SingleQuoteType || n.Token.Type == token.DoubleQuoteType
		text := n.Value
		if !q {
			text = oneParagraph(text)
		}
		return &node{mark: markOf(n.Token), text: text, quoted: q}
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.NanNode, *ast.InfinityNode:
		return &node{mark: markOf(n.GetToken()), text: n.GetToken().Value}
	}
	what, hint := refusal(n)
	c.refuse(markOf(n.GetToken()), what, hint)
	return &node{mark: markOf(n.GetToken()), kind: refused}
}

// refusal names a part of YAML that is not taken.
func refusal(n ast.Node) (msg, hint string) {
	switch n.(type) {
	case *ast.AnchorNode:
		return "anchors (&name) are not taken", "write the value out; put text that begins with & in quotes"
	case *ast.AliasNode:
		return "aliases (*name) are not taken", "write the value out; put text that begins with * in quotes"
	case *ast.TagNode:
		return "tags (!name) are not taken", "write the value without it; put text that begins with ! in quotes"
	case *ast.MergeKeyNode:
		return "merge keys (<<) are not taken", "write the fields out"
	}
	return "this kind of YAML is not taken", "write a value, a list or a group of fields"
}

func (c *converter) mapping(m mark, values []*ast.MappingValueNode, depth int) *node {
	out := &node{mark: m, kind: mapping}
	for _, v := range values {
		if e, ok := c.entry(v, depth); ok {
			out.entries = append(out.entries, e)
		}
	}
	return out
}

// entry is one field; a key that is not a plain word is refused.
func (c *converter) entry(v *ast.MappingValueNode, depth int) (entry, bool) {
	e := entry{mark: markOf(v.Key.GetToken())}
	switch k := v.Key.(type) {
	case *ast.StringNode:
		e.key = k.Value
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.NullNode, *ast.NanNode, *ast.InfinityNode:
		e.key = v.Key.GetToken().Value
	case *ast.MergeKeyNode:
		what, hint := refusal(k)
		c.refuse(e.mark, what, hint)
		return e, false
	default:
		c.refuse(e.mark, "this is not the name of a field", "write name: value")
		return e, false
	}
	if e.value = c.convert(v.Value, depth+1); e.value.kind == nothing {
		e.value.mark = e.mark // nothing stands where its name stands
	}
	return e, true
}

func (c *converter) list(n *ast.SequenceNode, depth int) *node {
	out := &node{mark: markOf(n.Start), kind: list}
	for _, v := range n.Values {
		out.items = append(out.items, c.convert(v, depth+1))
	}
	return out
}
