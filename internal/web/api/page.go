package api

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html/template"
	"maps"
	"slices"
	"strings"
)

//go:embed page.html
var pageText string

//go:embed page.css
var pageStyle string

// pageOf is what the page shows of the description.
type pageOf struct {
	Style   template.CSS
	Groups  []pageGroup
	Schemas []pageSchema
}

type pageGroup struct {
	Name   string
	Routes []pageRoute
}

type pageRoute struct {
	Method, Path, ID, Says, More string
	Takes                        []pageMember
	Body                         string // name of the schema of its body
	Answers                      []pageAnswer
}

type pageMember struct {
	Name, In, Type, Says string
	Needed               bool
}

type pageAnswer struct{ Status, Says, Schema string }

type pageSchema struct {
	Name    string
	Members []pageMember
}

// page is the description for people: no script, and nothing of another host.
func page(description []byte) ([]byte, error) {
	var d struct {
		Paths map[string]map[string]struct {
			OperationID, Summary, Description string
			Tags                              []string
			Parameters                        []struct {
				Name, In, Description string
				Required              bool
				Schema                schemaText
			}
			RequestBody struct {
				Content map[string]struct{ Schema schemaText }
			}
			Responses map[string]struct {
				Description string
				Content     map[string]struct{ Schema schemaText }
			}
		}
		Components struct{ Schemas map[string]schemaText }
	}
	if err := json.Unmarshal(description, &d); err != nil {
		return nil, err
	}
	groups := map[string][]pageRoute{}
	for _, path := range slices.Sorted(maps.Keys(d.Paths)) {
		for _, method := range slices.Sorted(maps.Keys(d.Paths[path])) {
			op := d.Paths[path][method]
			r := pageRoute{Method: strings.ToUpper(method), Path: path, ID: op.OperationID, Says: op.Summary, More: op.Description}
			for _, p := range op.Parameters {
				r.Takes = append(r.Takes, pageMember{p.Name, p.In, p.Schema.String(), p.Description, p.Required})
			}
			for kind, c := range op.RequestBody.Content {
				r.Body = kind + " " + c.Schema.String()
			}
			for _, status := range slices.Sorted(maps.Keys(op.Responses)) {
				a := pageAnswer{Status: status, Says: op.Responses[status].Description}
				for kind, c := range op.Responses[status].Content {
					a.Schema = kind + " " + c.Schema.String()
				}
				r.Answers = append(r.Answers, a)
			}
			groups[op.Tags[0]] = append(groups[op.Tags[0]], r)
		}
	}
	of := pageOf{Style: template.CSS(pageStyle)}
	for _, name := range slices.Sorted(maps.Keys(groups)) {
		of.Groups = append(of.Groups, pageGroup{name, groups[name]})
	}
	for _, name := range slices.Sorted(maps.Keys(d.Components.Schemas)) {
		s := d.Components.Schemas[name]
		x := pageSchema{Name: name}
		for _, member := range slices.Sorted(maps.Keys(s.Properties)) {
			p := s.Properties[member]
			x.Members = append(x.Members, pageMember{member, "", p.String(), p.Description, slices.Contains(s.Required, member)})
		}
		of.Schemas = append(of.Schemas, x)
	}
	t, err := template.New("page").Parse(pageText)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	err = t.Execute(&out, of)
	return out.Bytes(), err
}

// pagePolicy lets the page use its own style, and load nothing.
func pagePolicy() string {
	sum := sha256.Sum256([]byte(pageStyle))
	return "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
}

// schemaText is a schema as far as the page tells it.
type schemaText struct {
	Type        any
	Ref         string `json:"$ref"`
	Description string
	Items       *schemaText
	AnyOf       []schemaText
	Properties  map[string]schemaText
	Required    []string
	Enum        []any
}

// String is the schema in a few words.
func (s schemaText) String() string {
	switch {
	case s.Ref != "":
		return strings.TrimPrefix(s.Ref, "#/components/schemas/")
	case len(s.AnyOf) > 0:
		var out []string
		for _, x := range s.AnyOf {
			out = append(out, x.String())
		}
		return strings.Join(out, " or ")
	case s.Items != nil:
		return "list of " + s.Items.String()
	case len(s.Enum) > 0:
		var out []string
		for _, x := range s.Enum {
			out = append(out, fmt.Sprint(x))
		}
		return "one of " + strings.Join(out, ", ")
	}
	switch t := s.Type.(type) {
	case string:
		return t
	case []any:
		var out []string
		for _, x := range t {
			if word, is := x.(string); is {
				out = append(out, word)
			}
		}
		return strings.Join(out, " or ")
	}
	return "any"
}
