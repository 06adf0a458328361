package api

import (
	"net/http"

	"github.com/danielgtaylor/huma/v2"
)

// stream is the route of what happens while one listens. Who listens is asked by whoever tells, again and again.
func (s *service) stream(mux *http.ServeMux) {
	r := route{id: "stream", method: http.MethodGet, path: "/stream", group: "jobs", says: "Tells of jobs of the shop that moved, as server-sent events, until the asker goes.",
		more: "Each event has an id; with Last-Event-ID it goes on there. It ends when one is signed out."}
	s.routes = append(s.routes, Route{r.method, Prefix + r.path, r.id, 0})
	op := huma.Operation{OperationID: r.id, Method: r.method, Path: Prefix + r.path, Summary: r.says, Description: r.more, Tags: []string{r.group},
		Security:   []map[string][]string{{"token": {}}, {"session": {}}},
		Parameters: []*huma.Param{{Name: "Last-Event-ID", In: "header", Description: "Id of the last event that one has.", Schema: &huma.Schema{Type: huma.TypeString}}},
		Responses: map[string]*huma.Response{
			"200":     {Description: "OK", Content: map[string]*huma.MediaType{"text/event-stream": {Schema: &huma.Schema{Type: huma.TypeString}}}},
			"401":     s.refusal(http.StatusText(http.StatusUnauthorized)),
			"default": s.refusal("The request could not be carried out, through no fault of it."),
		}}
	s.api.OpenAPI().AddOperation(&op)
	mux.HandleFunc(r.method+" "+Prefix+r.path, func(w http.ResponseWriter, q *http.Request) {
		if s.Stream == nil {
			signedOut.write(w)
			return
		}
		s.Stream.ServeHTTP(w, q)
	})
}
