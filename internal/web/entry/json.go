package entry

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"time"

	"fettle/internal/account"
	"fettle/internal/diag"
	"fettle/internal/web"
)

// mostBody is how long what is sent here may be: a name, a password and little more.
const mostBody = 16 << 10

// take reads what was sent, strictly; what it cannot read is answered.
func take(w http.ResponseWriter, r *http.Request, into any) bool {
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "application/json" {
		web.Tell(w, r, web.Problem{Status: http.StatusUnsupportedMediaType, Code: "entry.no-json", Detail: "the body is not said to be JSON", Hint: "send application/json"})
		return false
	}
	text, err := io.ReadAll(http.MaxBytesReader(w, r.Body, mostBody))
	if e := (*http.MaxBytesError)(nil); errors.As(err, &e) {
		web.Tell(w, r, web.Problem{Status: http.StatusRequestEntityTooLarge, Code: "entry.too-large", Detail: "the body is too long"})
		return false
	}
	if err != nil || !strict(text, into) {
		web.Tell(w, r, web.Problem{Status: http.StatusBadRequest, Code: "entry.unreadable", Detail: "the body is not the JSON that this takes", Hint: "send one object with the members that it has, each once"})
		return false
	}
	return true
}

// tell answers with JSON.
func tell(w http.ResponseWriter, v any) {
	text, err := json.Marshal(v)
	if err != nil { // of types of this package, which have no such value
		panic(err)
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(append(text, '\n')) // whoever asked has left
}

// refuse answers with what went wrong, and nothing of the inside.
func refuse(w http.ResponseWriter, r *http.Request, err error) {
	p := web.Problem{Status: http.StatusInternalServerError, Code: "web.fault", Detail: "the program has a fault"}
	var e *diag.Error
	if errors.As(err, &e) {
		p.Detail, p.Hint = e.Msg, e.Hint
	}
	wait := (*account.Wait)(nil)
	switch kind := diag.KindOf(err); {
	case errors.As(err, &wait):
		p.Status, p.Code, p.After = http.StatusTooManyRequests, "entry.wait", wait.For+time.Second
		p.Detail, p.Hint = wait.Error(), "or use a passkey, or a device on which you have signed in before"
	case errors.Is(err, account.ErrNobody):
		p.Status, p.Code = http.StatusUnauthorized, "signed-out"
	case errors.Is(err, account.ErrChanged):
		p.Status, p.Code = http.StatusPreconditionFailed, "entry.changed"
	case kind == diag.Denied:
		p.Status, p.Code = http.StatusForbidden, "entry.refused"
	case kind == diag.Invalid:
		p.Status, p.Code = http.StatusUnprocessableEntity, "entry.invalid"
	case kind == diag.NotFound:
		p.Status, p.Code = http.StatusNotFound, "entry.not-found"
	case kind == diag.Unsupported: // this server has none
		p.Status, p.Code = http.StatusNotFound, "entry.unsupported"
	case kind == diag.Conflict:
		p.Status, p.Code = http.StatusConflict, "entry.conflict"
	case kind == diag.Unavailable, errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded): // of the last two nobody waits for it any more
		p = web.Problem{Status: http.StatusServiceUnavailable, Code: "web.not-ready", Detail: "the server is not ready", After: time.Second}
	default:
		p.Detail, p.Hint = "the program has a fault", ""
	}
	web.Tell(w, r, p)
}
