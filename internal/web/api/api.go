// Package api owns the routes of /api/v1: what they take, what they answer, and the description of both that is
// made from them. A handler decides nothing and computes nothing: it calls one use case of package app and
// writes what that said.
//
// It refuses to know who somebody is: whoever mounts it says so, by a function of the request.
package api

import (
	"context"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humago"

	"fettle/internal/app"
	"fettle/internal/right"
	"fettle/internal/web"
)

// Prefix is where all routes lie.
const Prefix = "/api/v1"

// Config is what the routes stand on.
type Config struct {
	Version string
	Now     func() time.Time
	Service app.Service
	Who     Who                                             // nil: nobody is known, and only what anybody may ask is answered
	Stream  http.Handler                                    // tells what has happened; nil: nothing does
	Ways    []web.Way                                       // routes that others answer under the same prefix
	Noted   func(ctx context.Context, route, person string) // is told of each request for the log; nil: nobody is
}

// Who says who a request is from and in which shop they work now: by its token or session, read anew each time. An error is of somebody who is
// not signed in.
type Who func(*http.Request) (right.Who, app.Shop, error)

// API is the routes and their description.
type API struct {
	http.Handler
	description []byte
	routes      []Route
}

// Route is a route as it stands in the description.
type Route struct {
	Method, Path, ID string
	Limit            int64 // bytes of its body
}

// Description is the OpenAPI description of all routes.
func (a *API) Description() []byte { return a.description }

// Routes is all of them, in the order in which they are described.
func (a *API) Routes() []Route { return a.routes }

// New makes the routes.
func New(c Config) (*API, error) {
	mux := http.NewServeMux()
	s := &service{Config: c}
	s.api = humago.New(mux, described())
	s.about()
	s.jobs()
	s.revisions()
	s.records()
	s.answers()
	s.several()
	s.tools()
	s.kept()
	s.uploads()
	s.tasks()
	s.keeping()
	s.stream(mux)
	for _, w := range c.Ways {
		s.describe(w)
	}
	text, err := description(s.api.OpenAPI())
	if err != nil {
		return nil, err
	}
	page, err := page(text)
	if err != nil {
		return nil, err
	}
	mux.HandleFunc("GET "+Prefix+"/openapi.json", given("application/json", text))
	read, policy := given("text/html; charset=utf-8", page), pagePolicy()
	mux.HandleFunc("GET "+Prefix+"/{$}", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", policy)
		read(w, r)
	})
	mux.HandleFunc("/", nothingHere(mux))
	return &API{Handler: mux, description: text, routes: s.routes}, nil
}

// service is the routes while they are made.
type service struct {
	Config
	api    huma.API
	routes []Route
}

// described is how routes are described and bodies are read.
func described() huma.Config {
	c := huma.DefaultConfig("fettle", "1")
	c.Info.Description = "Everything the program can do, over HTTP. Errors are problem documents (RFC 9457) with a stable code; see docs/api."
	c.CreateHooks, c.SchemasPath, c.DocsPath, c.OpenAPIPath = nil, "", "", ""
	c.RejectUnknownQueryParameters = true
	asJSON := huma.Format{Marshal: writeJSON, Unmarshal: readJSON}
	c.Formats = map[string]huma.Format{"application/json": asJSON, "json": asJSON}
	c.Components.SecuritySchemes = map[string]*huma.SecurityScheme{
		"token":   {Type: "http", Scheme: "bearer", Description: "A token of a program."},
		"session": {Type: "apiKey", In: "cookie", Name: "__Host-fettle", Description: "A session of a person. Without TLS, on this machine, the cookie is called fettle."},
	}
	return c
}

// given answers with the same bytes each time.
func given(kind string, text []byte) http.HandlerFunc {
	tag := tagOf(text)
	return func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("ETag", tag)
		w.Header().Set("Content-Type", kind)
		if matches(r.Header.Get("If-None-Match"), tag) {
			w.WriteHeader(http.StatusNotModified)
			return
		}
		_, _ = w.Write(text) // the reader is gone: nobody is left to be told
	}
}

// nothingHere answers where there is no route, and where there is one of another method.
func nothingHere(mux *http.ServeMux) http.HandlerFunc {
	methods := []string{http.MethodGet, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete}
	return func(w http.ResponseWriter, r *http.Request) {
		allowed := ""
		for _, m := range methods {
			other := r.Clone(r.Context())
			other.Method = m
			if _, pattern := mux.Handler(other); pattern != "/" {
				allowed += ", " + m
			}
		}
		p := problemOf(nothing)
		if allowed != "" {
			w.Header().Set("Allow", allowed[2:])
			p = shaped(http.StatusMethodNotAllowed, "request.method", "this route has other methods", "use one of "+allowed[2:])
		}
		p.write(w)
	}
}
