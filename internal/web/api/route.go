package api

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humago"

	"fettle/internal/app"
)

// answer is what a route answers with, and the tag of it.
type answer[T any] struct {
	ETag string `header:"ETag" doc:"What the answer was made from, by hash."`
	Body T
}

// plain is an answer that no tag is given for.
type plain[T any] struct{ Body T }

// page is an answer that is not JSON.
type file struct {
	ETag        string `header:"ETag" doc:"What the answer was made from, by hash."`
	ContentType string `header:"Content-Type"`
	Body        []byte
}

// route is one route.
type route struct {
	id, method, path, group, says string
	more                          string // what else the description says of it
	status                        int    // of the answer; 200 unless given
	gives                         string // media type of an answer that is not JSON
	takes                         string // likewise of a body
	streams                       bool   // the body is read as it comes
	refuses                       []int  // beside what every route of its sort may refuse with
	limit                         int64  // bytes of its body; 0: the usual one, of a route that has a body
	makes                         bool   // what is not there is made
	parts                         bool   // it answers with a part, where one is asked for
	tagged                        bool   // its answer has a tag, and is not sent to who has it
	known                         bool   // whoever may know of the job may ask it: others are told that there is none, and nobody is refused
}

// Limits of bodies.
const (
	usualBody = 1 << 20
	tableBody = 16 << 20 // documents and tables
	fileBody  = 48 << 20 // a mesh or a body, in base64
	pieceBody = 9 << 20  // a piece of an upload: 8 MiB and what goes with it
)

// operation is a route as it is described.
func (s *service) operation(r route, public bool) huma.Operation {
	s.routes = append(s.routes, Route{r.method, Prefix + r.path, r.id, r.limit})
	op := huma.Operation{OperationID: r.id, Method: r.method, Path: Prefix + r.path, Summary: r.says, Description: r.more, Tags: []string{r.group},
		DefaultStatus: r.status, MaxBodyBytes: r.limit, Responses: map[string]*huma.Response{},
		BodyReadTimeout: -1} // the shell says how slow a body may be: a deadline from here would end what takes longer to compute, and all that comes over the connection after
	refuses := append([]int{http.StatusBadRequest}, r.refuses...)
	if !public {
		refuses = append(refuses, http.StatusUnauthorized)
		if !r.known {
			refuses = append(refuses, http.StatusForbidden)
		}
		op.Security = []map[string][]string{{"token": {}}, {"session": {}}}
		op.Middlewares = huma.Middlewares{s.knows(r.id)}
	}
	if !r.makes && strings.Contains(r.path, "{job}") || strings.Contains(r.path, "{hash}") || strings.Contains(r.path, "{task}") {
		refuses = append(refuses, http.StatusNotFound)
	}
	if r.limit > 0 {
		refuses = append(refuses, http.StatusRequestEntityTooLarge)
		if r.takes == "" {
			refuses = append(refuses, http.StatusUnsupportedMediaType)
		}
	}
	if r.streams {
		refuses = append(refuses, http.StatusRequestTimeout)
		op.RequestBody = &huma.RequestBody{Required: true, Content: map[string]*huma.MediaType{r.takes: {Schema: &huma.Schema{Type: huma.TypeString, Format: "binary"}}}}
	}
	for _, status := range refuses {
		op.Responses[statusText(status)] = s.refusal(http.StatusText(status))
	}
	op.Responses["default"] = s.refusal("The request could not be carried out, through no fault of it.")
	if r.gives != "" {
		op.Responses["200"] = &huma.Response{Description: "OK", Content: map[string]*huma.MediaType{r.gives: {Schema: &huma.Schema{Type: huma.TypeString, Format: "binary"}}}}
	}
	if r.parts {
		op.Responses["206"] = &huma.Response{Description: "A part", Content: op.Responses["200"].Content}
		op.Responses["416"] = s.refusal("There are no bytes there")
	}
	if r.tagged {
		op.Responses["304"] = &huma.Response{Description: "The answer is the one of the tag that was sent."}
	}
	return op
}

type asKey struct{}

// knows finds out who asks, before anything of the request is read.
func (s *service) knows(id string) func(huma.Context, func(huma.Context)) {
	return func(ctx huma.Context, next func(huma.Context)) {
		r, w := humago.Unwrap(ctx)
		if s.Who == nil {
			signedOut.write(w)
			return
		}
		who, of, err := s.Who(r)
		if err != nil {
			p := problemOf(err)
			if p.Status < 500 {
				p = signedOut
			}
			p.write(w)
			return
		}
		if s.Noted != nil {
			s.Noted(r.Context(), id, who.Person)
		}
		next(huma.WithValue(huma.WithContext(ctx, app.AskedBy(ctx.Context(), who.Person)), asKey{}, s.Service.As(who, of)))
	}
}

// signedOut is the answer to who is not signed in.
var signedOut = shaped(http.StatusUnauthorized, "signed-out", "nobody is signed in", "sign in, or send a token that has not expired")

// open makes a route that anybody may ask.
func open[I, O any](s *service, r route, do func(context.Context, *I) (*O, error)) {
	huma.Register(s.api, s.operation(r, true), func(ctx context.Context, in *I) (*O, error) {
		out, err := do(ctx, in)
		return out, refused(err)
	})
}

// serve makes a route for who is signed in.
func serve[I, O any](s *service, r route, do func(context.Context, *app.As, *I) (*O, error)) {
	huma.Register(s.api, s.operation(r, false), func(ctx context.Context, in *I) (*O, error) {
		as, is := ctx.Value(asKey{}).(*app.As)
		if !is {
			return nil, signedOut
		}
		out, err := do(ctx, as, in)
		return out, refused(err)
	})
}

// OfJob is the job that a route is about.
type OfJob struct {
	Job string `path:"job" doc:"The job, by its name in the store." maxLength:"100"`
}

// OnDay is the day that an answer is for.
type OnDay struct {
	On string `query:"on" doc:"Judge as of this day (year-month-day); today unless given." maxLength:"10"`
}

// Has is the tag of what the asker has.
type Has struct {
	IfNoneMatch string `header:"If-None-Match" doc:"Tag of an answer that one has: it is not sent again."`
}

// Keyed is the key of a change.
type Keyed struct {
	Key string `header:"Idempotency-Key" required:"true" minLength:"1" maxLength:"200" doc:"Of this change alone: sent again with it, the change is made once."`
}

// day is the day that is meant: the answers of a day are the same.
func (s *service) day(on string) string {
	if on == "" {
		return s.Now().UTC().Format("2006-01-02")
	}
	return on
}

// fresh is the tag of an answer about jobs as they stand, made of more; an error where the asker has it.
func (s *service) fresh(ctx context.Context, as *app.As, h Has, ids []string, more ...any) (string, error) {
	sum := sha256.New()
	fmt.Fprintf(sum, "%q", s.Version)
	for _, id := range ids {
		head, err := as.Standing(ctx, id)
		if err != nil {
			return "", err
		}
		fmt.Fprintf(sum, " %q %s", id, head.Hash)
	}
	for _, x := range more {
		fmt.Fprintf(sum, " %q", fmt.Sprint(x))
	}
	made := tag(hex.EncodeToString(sum.Sum(nil)))
	return made, had(h, made)
}

// had is the answer to who has a tag.
func had(h Has, made string) error {
	if !matches(h.IfNoneMatch, made) {
		return nil
	}
	return &Problem{Status: http.StatusNotModified, headers: http.Header{"ETag": {made}}}
}
