package api

import (
	"net/http"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"fettle/internal/web"
)

var inBraces = regexp.MustCompile(`\{(\w+)\}`)

// describe describes a route that others answer.
func (s *service) describe(w web.Way) {
	op := &huma.Operation{OperationID: w.ID, Method: w.Method, Path: Prefix + w.Path, Summary: w.Says, Tags: []string{w.Group}, Responses: map[string]*huma.Response{}}
	refuses := slices.Clone(w.Refuses)
	if !w.Anybody {
		op.Security = []map[string][]string{{"token": {}}, {"session": {}}}
		refuses = append(refuses, http.StatusUnauthorized)
	}
	if w.Takes != nil {
		op.RequestBody = &huma.RequestBody{Required: true, Content: s.jsonOf(w.Takes)}
		refuses = append(refuses, http.StatusBadRequest, http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType)
	}
	if w.Match {
		refuses = append(refuses, http.StatusPreconditionFailed)
		op.Parameters = append(op.Parameters, &huma.Param{Name: "If-Match", In: "header", Description: "Tag of what one has seen: what is not of it any more is not changed.", Schema: &huma.Schema{Type: huma.TypeString}})
	}
	if len(w.Query) > 0 || w.Takes == nil {
		refuses = append(refuses, http.StatusBadRequest)
	}
	for _, status := range refuses {
		op.Responses[statusText(status)] = s.refusal(http.StatusText(status))
	}
	op.Responses["default"] = s.refusal("The request could not be carried out, through no fault of it.")
	answer := &huma.Response{Description: http.StatusText(w.Status)}
	if w.Gives != nil {
		answer.Content = s.jsonOf(w.Gives)
	}
	if w.Tagged {
		answer.Headers = map[string]*huma.Param{"ETag": {Description: "What it is changed with, in If-Match.", Schema: &huma.Schema{Type: huma.TypeString}}}
	}
	op.Responses[statusText(w.Status)] = answer
	for _, m := range inBraces.FindAllStringSubmatch(w.Path, -1) {
		op.Parameters = append(op.Parameters, &huma.Param{Name: m[1], In: "path", Required: true, Schema: &huma.Schema{Type: huma.TypeString}})
	}
	for name, says := range w.Query {
		op.Parameters = append(op.Parameters, &huma.Param{Name: name, In: "query", Description: says, Schema: &huma.Schema{Type: huma.TypeString}})
	}
	slices.SortFunc(op.Parameters, func(a, b *huma.Param) int { return strings.Compare(a.In+a.Name, b.In+b.Name) })
	s.api.OpenAPI().AddOperation(op)
}

func (s *service) jsonOf(v any) map[string]*huma.MediaType {
	t := reflect.TypeOf(v)
	return map[string]*huma.MediaType{"application/json": {Schema: s.api.OpenAPI().Components.Schemas.Schema(t, true, t.Name())}}
}
