package remote

import (
	"crypto/tls"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"strings"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/right"
)

// mostFault is how many bytes a problem document has, and deepest how deep its causes lie.
const (
	mostFault = 32 << 20
	deepest   = 32
)

// sort is the sort of an error, and code the stable name of what is wrong.
type (
	sort string
	code string
)

const (
	internal  sort = "internal"          // a fault of the program
	malformed code = "request.malformed" // the request does not have its form
)

// problem is a problem document as a server answers with it.
type problem struct {
	Status int    `json:"status"`
	Code   code   `json:"code"`
	Field  string `json:"field"`
	cause
	Beside []cause `json:"beside"`
}

// cause is an error, or faults of documents, with what it comes of.
type cause struct {
	Kind   sort         `json:"kind"`
	Doing  string       `json:"doing"`
	Record string       `json:"record"`
	Detail string       `json:"detail"`
	Hint   string       `json:"hint"`
	Remedy *diag.Remedy `json:"remedy"`
	Faults []fault      `json:"faults"`
	Causes []cause      `json:"causes"`
}

type fault struct {
	File   string       `json:"file"`
	Line   int          `json:"line"`
	Column int          `json:"column"`
	Field  string       `json:"field"`
	Detail string       `json:"detail"`
	Hint   string       `json:"hint"`
	Remedy *diag.Remedy `json:"remedy"`
}

// err is the error that it was where it was made.
func (c cause) err(depth int) error {
	if c.Kind == "" {
		var all diag.Problems
		for _, f := range c.Faults {
			all = append(all, diag.Problem{File: f.File, Line: f.Line, Col: f.Column, Field: f.Field, Msg: f.Detail, Hint: f.Hint, Remedy: f.Remedy})
		}
		return all.OrNil()
	}
	kind, known := kinds[c.Kind]
	if !known {
		kind = diag.Unsupported
	}
	return &diag.Error{Kind: kind, Op: c.Doing, Subject: c.Record, Msg: c.Detail, Hint: c.Hint, Remedy: c.Remedy, Err: together(c.Causes, depth+1)}
}

// together is some causes as one error.
func together(all []cause, depth int) error {
	if depth > deepest {
		return nil
	}
	var out []error
	for _, c := range all {
		out = append(out, c.err(depth))
	}
	if len(out) == 1 {
		return out[0]
	}
	return errors.Join(out...)
}

// faultsIn is how many faults some causes have.
func faultsIn(all []cause) (n int) {
	for _, c := range all {
		n += len(c.Faults) + faultsIn(c.Causes)
	}
	return n
}

// problem reads the answer to what was refused, and says where it was lost.
func (s *Store) problem(r *http.Response, body io.Reader) (_ problem, lost bool, err error) {
	if r.StatusCode/100 == 3 {
		return problem{}, false, &diag.Error{Kind: diag.Denied, Op: "ask", Subject: s.URL(), Msg: fmt.Sprintf("the answer points to %s, and the token is for this server alone", elsewhere(r)), Hint: "where that is right, name that server"}
	}
	p := problem{}
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err == nil && kind == "application/problem+json" {
		var data []byte
		if data, err = io.ReadAll(io.LimitReader(body, mostFault)); err != nil {
			return p, true, err
		}
		err = json.Unmarshal(data, &p)
	}
	p.Status = r.StatusCode
	if err == nil && p.Code != "" {
		return p, false, nil
	}
	if r.StatusCode >= 500 || r.StatusCode == http.StatusTooManyRequests { // whoever stands before the server says so
		return problem{Status: r.StatusCode}, false, &diag.Error{Kind: diag.Unavailable, Op: "ask", Subject: s.URL(), Msg: fmt.Sprintf("the server cannot be asked now (status %d)", r.StatusCode), Hint: "try again"}
	}
	return p, false, s.strange(fmt.Sprintf("status %d without a reason", r.StatusCode))
}

// elsewhere is where an answer points, without what stands behind the address.
func elsewhere(r *http.Response) string {
	u, err := r.Location()
	if err != nil {
		return "nowhere"
	}
	return u.Scheme + "://" + u.Host
}

// kinds is the kind of error of each code.
var kinds = map[sort]diag.Kind{
	internal: diag.Internal, "invalid": diag.Invalid, "not-found": diag.NotFound, "conflict": diag.Conflict, "denied": diag.Denied,
	"unsupported": diag.Unsupported, "integrity": diag.Integrity, "unavailable": diag.Unavailable, "stopped": diag.Unavailable, "usage": diag.Usage,
}

// passes says that it may be over in a moment.
func (p problem) passes() bool {
	return p.Status == http.StatusServiceUnavailable || p.Status == http.StatusTooManyRequests
}

// undone says that nothing of the request was done.
func (p problem) undone() bool { return strings.HasPrefix(string(p.Code), "web.") }

// err is the error that a store beside the data would have given.
func (p problem) err(s *Store, c call) error {
	if strings.HasPrefix(string(p.Code), "right.") {
		return &app.Refusal{Is: p.made(s), Code: right.Code(p.Code)}
	}
	if _, known := kinds[p.sort()]; known || p.Kind != "" {
		return p.made(s)
	}
	e := &diag.Error{Op: c.op, Subject: s.URL(), Msg: p.Detail, Hint: p.Hint}
	switch {
	case p.Status == http.StatusUnauthorized:
		e.Kind, e.Msg, e.Hint = diag.Denied, "the token is none that the server knows, or it has expired", "have a new one made"
	case p.Status == http.StatusRequestEntityTooLarge:
		e.Kind, e.Msg, e.Hint = diag.Denied, "that is more than the server takes at once", "make it smaller"
	case p.passes():
		e.Kind = diag.Unavailable
	case p.Status >= 500:
		e.Kind = diag.Internal
	case p.Code == malformed:
		e.Kind = diag.Usage
		if p.Field != "" {
			e.Subject = p.Field
		}
	default:
		return s.strange(string(p.Code) + ": " + p.Detail)
	}
	return e
}

// sort is the sort of error that the code says.
func (p problem) sort() sort {
	first, _, _ := strings.Cut(string(p.Code), ".")
	return sort(first)
}

// made is the error that it was on the server, with all that came with it.
func (p problem) made(s *Store) error {
	own := p.cause
	switch {
	case own.Kind == "" && len(own.Faults) > 0:
		own.Faults = own.Faults[:max(0, len(own.Faults)-faultsIn(p.Beside))] // those of others stand there too
	case own.Kind == "":
		own.Kind = p.sort()
	}
	if own.Kind == internal && own.Record == "" {
		own.Record = s.URL() // whose log says more
	}
	return together(append([]cause{own}, p.Beside...), 0)
}

// tlsFault says that a server could not show who it is.
func tlsFault(err error) bool {
	var bad *tls.CertificateVerificationError
	return errors.As(err, &bad)
}
