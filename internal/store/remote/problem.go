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

	"fettle/internal/diag"
)

// problem is a problem document as a server answers with it.
type problem struct {
	Status int          `json:"status"`
	Detail string       `json:"detail"`
	Code   string       `json:"code"`
	Doing  string       `json:"doing"`
	Record string       `json:"record"`
	Hint   string       `json:"hint"`
	Remedy *diag.Remedy `json:"remedy"`
	Faults []struct {
		File   string       `json:"file"`
		Line   int          `json:"line"`
		Column int          `json:"column"`
		Field  string       `json:"field"`
		Detail string       `json:"detail"`
		Hint   string       `json:"hint"`
		Remedy *diag.Remedy `json:"remedy"`
	} `json:"faults"`
}

// problem reads the answer to what was refused.
func (s *Store) problem(r *http.Response, body io.Reader) (problem, error) {
	if r.StatusCode/100 == 3 {
		return problem{}, &diag.Error{Kind: diag.Denied, Op: "ask", Subject: s.URL(), Msg: fmt.Sprintf("the answer points to %s, and the token is for this server alone", elsewhere(r)), Hint: "where that is right, name that server"}
	}
	p := problem{}
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err == nil && kind == "application/problem+json" {
		var data []byte
		if data, err = io.ReadAll(io.LimitReader(body, mostFault)); err == nil {
			err = json.Unmarshal(data, &p)
		}
	}
	p.Status = r.StatusCode
	if err == nil && p.Code != "" {
		return p, nil
	}
	if r.StatusCode >= 500 || r.StatusCode == http.StatusTooManyRequests { // whoever stands before the server says so
		return problem{Status: r.StatusCode}, &diag.Error{Kind: diag.Unavailable, Op: "ask", Subject: s.URL(), Msg: fmt.Sprintf("the server cannot be asked now (status %d)", r.StatusCode), Hint: "try again"}
	}
	return p, s.strange(fmt.Sprintf("status %d without a reason", r.StatusCode))
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
var kinds = map[string]diag.Kind{
	"internal": diag.Internal, "invalid": diag.Invalid, "not-found": diag.NotFound, "conflict": diag.Conflict, "denied": diag.Denied,
	"unsupported": diag.Unsupported, "integrity": diag.Integrity, "unavailable": diag.Unavailable, "stopped": diag.Unavailable, "usage": diag.Usage,
}

// passes says that it may be over in a moment.
func (p problem) passes() bool {
	return p.Status == http.StatusServiceUnavailable || p.Status == http.StatusTooManyRequests
}

// undone says that nothing of the request was done.
func (p problem) undone() bool { return strings.HasPrefix(p.Code, "web.") }

// err is the error that a store beside the data would have given.
func (p problem) err(s *Store, c call) error {
	first, _, _ := strings.Cut(p.Code, ".")
	kind, known := kinds[first]
	e := &diag.Error{Kind: kind, Op: p.Doing, Subject: p.Record, Msg: p.Detail, Hint: p.Hint, Remedy: p.Remedy}
	switch {
	case kind == diag.Invalid && known && len(p.Faults) > 0:
		var all diag.Problems
		for _, f := range p.Faults {
			all = append(all, diag.Problem{File: f.File, Line: f.Line, Col: f.Column, Field: f.Field, Msg: f.Detail, Hint: f.Hint, Remedy: f.Remedy})
		}
		return all
	case known:
		if e.Subject == "" && kind != diag.NotFound {
			e.Subject = s.URL()
		}
	case p.Status == http.StatusUnauthorized:
		e.Kind, e.Op, e.Subject, e.Msg, e.Hint = diag.Denied, c.op, s.URL(), "the token is none that the server knows, or it has expired", "have a new one made"
	case p.Status == http.StatusRequestEntityTooLarge:
		e.Kind, e.Op, e.Subject, e.Msg, e.Hint = diag.Denied, c.op, s.URL(), "that is more than the server takes at once", "make it smaller"
	case p.passes():
		e.Kind, e.Op, e.Subject = diag.Unavailable, c.op, s.URL()
	case p.Status >= 500:
		e.Kind, e.Op, e.Subject = diag.Internal, c.op, s.URL()
	default:
		return s.strange(p.Code + ": " + p.Detail)
	}
	return e
}

// tlsFault says that a server could not show who it is.
func tlsFault(err error) bool {
	var bad *tls.CertificateVerificationError
	return errors.As(err, &bad)
}
