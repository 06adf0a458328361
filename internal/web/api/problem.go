package api

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"reflect"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"fettle/internal/app"
	"fettle/internal/diag"
)

// Problem is an error as RFC 9457 has it, with what a program or a person needs beside it.
type Problem struct {
	Type   string  `json:"type" required:"false" doc:"Where its code is explained, from the folder of the documentation." example:"codes.md#not-found"`
	Title  string  `json:"title" doc:"The status in words."`
	Status int     `json:"status" doc:"The status of the answer."`
	Detail string  `json:"detail" required:"false" doc:"What is wrong, in plain English."`
	Code   string  `json:"code" doc:"Stable name of what is wrong: docs/api/codes.md."`
	Doing  string  `json:"doing,omitempty" doc:"What was being done."`
	Record string  `json:"record,omitempty" doc:"What it is about: a job, a record, a file."`
	File   string  `json:"file,omitempty" doc:"The document with the first fault."`
	Field  string  `json:"field,omitempty" doc:"The field with the first fault, as a path in the document or the request."`
	Line   int     `json:"line,omitempty" doc:"Of the first fault, from 1."`
	Column int     `json:"column,omitempty" doc:"Likewise."`
	Hint   string  `json:"hint,omitempty" doc:"What would be right."`
	Faults []Fault `json:"faults,omitempty" doc:"Every fault of the documents, or of the request."`

	headers http.Header

	ID      string       `json:"id,omitempty" doc:"Of the request, as the log has it; of what is refused before a route is reached, and by the ways in."`
	Clashes []Clash      `json:"clashes,omitempty" doc:"Records that somebody else has written since, in all versions."`
	Remedy  *diag.Remedy `json:"remedy,omitempty" doc:"What the program does about it."`
	Kind    string       `json:"kind,omitempty" enum:"internal,invalid,not-found,conflict,denied,unsupported,integrity,unavailable,usage" doc:"What sort of error it is, whatever its code; none of faults alone."`
	Causes  []Cause      `json:"causes,omitempty" doc:"What it comes of."`
	Beside  []Cause      `json:"beside,omitempty" doc:"Other errors that came with it."`
}

// Fault is one fault of a document or a request.
type Fault struct {
	File   string `json:"file,omitempty"`
	Line   int    `json:"line,omitempty" doc:"From 1."`
	Column int    `json:"column,omitempty" doc:"From 1."`
	Field  string `json:"field,omitempty" doc:"Path in the document or the request."`
	Detail string `json:"detail" doc:"What is wrong."`
	Hint   string `json:"hint,omitempty" doc:"What would be right."`

	Remedy *diag.Remedy `json:"remedy,omitempty" doc:"What the program does about it."`
}

// Clash is a record that two people have written at once.
type Clash struct {
	Record string       `json:"record"`
	Seen   int64        `json:"seen" doc:"Number of the event that its author had seen; 0: none."`
	Now    int64        `json:"now" doc:"Number of the newest event about it."`
	By     string       `json:"by" doc:"Who has written since, by the opaque name."`
	At     string       `json:"at" doc:"When."`
	Fields []ClashField `json:"fields" doc:"The fields that differ."`
}

// ClashField is a field of a record in which its versions differ; empty where a version has none.
type ClashField struct {
	Name   string `json:"name"`
	Base   string `json:"base" doc:"What both had seen."`
	Theirs string `json:"theirs" doc:"What was written since."`
	Mine   string `json:"mine" doc:"What was to be written."`
}

func (p *Problem) Error() string { return p.Detail }

// GetStatus is the status of the answer.
func (p *Problem) GetStatus() int { return p.Status }

// ContentType is that of problem documents.
func (p *Problem) ContentType(string) string { return "application/problem+json" }

// GetHeaders says when to try again, where that helps.
func (p *Problem) GetHeaders() http.Header {
	if p.headers != nil {
		return p.headers
	}
	if p.Status == http.StatusServiceUnavailable {
		return http.Header{"Retry-After": {"2"}}
	}
	return http.Header{}
}

// write answers with the problem where no route does.
func (p *Problem) write(w http.ResponseWriter) {
	for name, values := range p.GetHeaders() {
		w.Header()[name] = values
	}
	w.Header().Set("Content-Type", p.ContentType(""))
	w.WriteHeader(p.Status)
	_ = json.NewEncoder(w).Encode(p) // the reader is gone: nobody is left to be told
}

// kinds is the status and the code of each kind of error.
var kinds = map[diag.Kind]struct {
	status int
	code   string
}{
	diag.Internal:    {http.StatusInternalServerError, "internal"},
	diag.Invalid:     {http.StatusUnprocessableEntity, "invalid"},
	diag.NotFound:    {http.StatusNotFound, "not-found"},
	diag.Conflict:    {http.StatusConflict, "conflict"},
	diag.Denied:      {http.StatusForbidden, "denied"},
	diag.Unsupported: {http.StatusUnprocessableEntity, "unsupported"},
	diag.Integrity:   {http.StatusInternalServerError, "integrity"},
	diag.Unavailable: {http.StatusServiceUnavailable, "unavailable"},
	diag.Usage:       {http.StatusBadRequest, "usage"},
}

// nothing is the error for what is not there, and for what nobody may know of who asks.
var nothing = &diag.Error{Kind: diag.NotFound, Op: "open", Msg: "there is no such thing"}

// refused is an error as a route answers with it.
func refused(err error) error {
	if err == nil {
		return nil
	}
	return problemOf(err)
}

// problemOf is an error as a problem. Of what only the log may know it says nothing.
func problemOf(err error) *Problem {
	var own *Problem
	if errors.As(err, &own) {
		return own
	}
	kind := kinds[diag.KindOf(err)]
	p := &Problem{Status: kind.status, Code: kind.code}
	p.titled()
	all := causesOf(err)
	switch {
	case kind.code != "invalid" && (errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded)):
		p.Status, p.Code, p.Detail = http.StatusServiceUnavailable, "stopped", "it was stopped before its end"
		p.titled()
	case len(all) > 0:
		p.ofCauses(all)
	default:
		p.Kind, p.Detail = kinds[diag.Internal].code, told["internal"]
	}
	if kind.code == "integrity" && sentWrong(err) {
		p.Status = http.StatusUnprocessableEntity
		p.titled()
	}
	if r := (*app.Refusal)(nil); errors.As(err, &r) {
		p.Code = string(r.Code)
		p.titled()
	}
	if c := (*app.Clashing)(nil); errors.As(err, &c) {
		p.ofClashes(c)
	}
	return p
}

// doing is what an error says was done.
type doing string

const uploading doing = "upload" // a file came in pieces

// sentWrong says that it is what was sent that does not fit its hashes, and nothing that is kept.
func sentWrong(err error) bool {
	var e *diag.Error
	return errors.As(err, new(*app.SentWrong)) || errors.As(err, &e) && doing(e.Op) == uploading
}

// told is what is said of what only the log may know.
var told = map[string]string{
	"internal":    "the program has a fault; the log says which",
	"integrity":   "something that is kept is not what it was; the log says what",
	"unavailable": "the store cannot be reached now; what was sent with a key may be sent again",
}

func (p *Problem) titled() {
	p.Title, p.Type = http.StatusText(p.Status), "codes.md#"+strings.ReplaceAll(p.Code, ".", "")
}

func faultOf(f diag.Problem) Fault {
	return Fault{diag.Plain(f.File), f.Line, f.Col, diag.Plain(f.Field), diag.Plain(f.Msg), diag.Plain(f.Hint), remedyOf(f.Remedy)}
}

func (p *Problem) ofClashes(c *app.Clashing) {
	p.Code = "conflict.written-since"
	p.titled()
	for _, x := range c.Clashes {
		out := Clash{Record: string(x.Of), Seen: x.Seen, Now: x.Now, By: x.By, At: x.At, Fields: []ClashField{}}
		for _, f := range x.Fields() {
			out.Fields = append(out.Fields, ClashField{f.Name, f.Base, f.Theirs, f.Mine})
		}
		p.Clashes = append(p.Clashes, out)
	}
}

// shaped is a problem of a request as it was sent.
func shaped(status int, code, detail, hint string) *Problem {
	p := &Problem{Status: status, Code: code, Detail: detail, Hint: hint}
	p.titled()
	return p
}

// shapes are the codes of requests that no use case was asked about, by their status.
var shapes = map[int]string{
	http.StatusBadRequest:            "request.malformed",
	http.StatusUnsupportedMediaType:  "request.media-type",
	http.StatusRequestEntityTooLarge: "request.too-large",
	http.StatusRequestTimeout:        "request.timeout",
	http.StatusUnauthorized:          "signed-out",
	http.StatusInternalServerError:   "internal",
}

// misshapen is the problem of a request that does not have the form it is described with.
func misshapen(status int, msg string, errs ...error) *Problem {
	if status == http.StatusUnprocessableEntity {
		status = http.StatusBadRequest
	}
	code, known := shapes[status]
	if !known || status == http.StatusInternalServerError {
		return problemOf(errors.New(msg))
	}
	p := shaped(status, code, msg, "the description at "+Prefix+"/openapi.json says what this route takes")
	for _, err := range errs {
		var d huma.ErrorDetailer
		if errors.As(err, &d) {
			x := d.ErrorDetail()
			p.Faults = append(p.Faults, Fault{Field: diag.Plain(x.Location), Detail: diag.Plain(x.Message)})
		}
	}
	if len(p.Faults) > 0 {
		p.Detail, p.Field = p.Faults[0].Detail, p.Faults[0].Field
	}
	if strings.Contains(p.Detail, "unexpected property") || strings.Contains(p.Detail, "unknown query parameter") {
		p.Code = "request.unknown-field"
		p.titled()
	}
	return p
}

func init() {
	huma.NewError = func(status int, msg string, errs ...error) huma.StatusError { return misshapen(status, msg, errs...) }
}

// refusal describes an answer that is a problem.
func (s *service) refusal(says string) *huma.Response {
	schema := s.api.OpenAPI().Components.Schemas.Schema(reflect.TypeFor[Problem](), true, "Problem")
	return &huma.Response{Description: says, Content: map[string]*huma.MediaType{"application/problem+json": {Schema: schema}}}
}
