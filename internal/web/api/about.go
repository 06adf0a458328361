package api

import (
	"context"
	"encoding/json"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"fettle/internal/app"
)

// about is the routes that say what the program is; anybody may ask.
func (s *service) about() {
	open(s, route{id: "version", method: http.MethodGet, path: "/version", group: "about", says: "The version of the program."},
		func(context.Context, *struct{}) (*answer[Version], error) {
			return &answer[Version]{Body: Version{s.Version}}, nil
		})
	open(s, route{id: "schema", method: http.MethodGet, path: "/schemas/{document}", group: "about", says: "The JSON Schema of a document that people write, or of assessment.json."},
		func(_ context.Context, in *struct {
			Document string `path:"document" enum:"body,procedure,shop,job,zones,assessment"`
		}) (*answer[json.RawMessage], error) {
			text, err := app.Schema(in.Document)
			return &answer[json.RawMessage]{ETag: tagOf(text), Body: text}, err
		})
}

// Version is which program answers.
type Version struct {
	Version string `json:"version" doc:"Release, with the commit where it is known."`
}

// answer is what a route answers with, and the tag of it.
type answer[T any] struct {
	ETag string `header:"ETag" doc:"What the answer was made from, by hash."`
	Body T
}

// route is one route.
type route struct {
	id, method, path, group, says string
	more                          string // what else the description says of it
	status                        int    // of the answer; 200 unless given
	refuses                       []int  // beside what every route of its sort may refuse with
	limit                         int64  // bytes of its body
}

// operation is a route as it is described.
func (s *service) operation(r route, public bool) huma.Operation {
	s.routes = append(s.routes, Route{r.method, Prefix + r.path, r.id})
	op := huma.Operation{OperationID: r.id, Method: r.method, Path: Prefix + r.path, Summary: r.says, Description: r.more, Tags: []string{r.group},
		DefaultStatus: r.status, MaxBodyBytes: r.limit, Responses: map[string]*huma.Response{}}
	refuses := append([]int{http.StatusBadRequest}, r.refuses...)
	if !public {
		refuses = append(refuses, http.StatusUnauthorized)
		op.Security = []map[string][]string{{"token": {}}, {"session": {}}}
	}
	for _, status := range refuses {
		op.Responses[statusText(status)] = s.refusal(http.StatusText(status))
	}
	op.Responses["default"] = s.refusal("The request could not be carried out, through no fault of it.")
	return op
}

// open makes a route that anybody may ask.
func open[I, O any](s *service, r route, do func(context.Context, *I) (*O, error)) {
	huma.Register(s.api, s.operation(r, true), func(ctx context.Context, in *I) (*O, error) {
		out, err := do(ctx, in)
		return out, refused(err)
	})
}
