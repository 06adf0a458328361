package api

import (
	"context"
	"encoding/json"
	"net/http"

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
