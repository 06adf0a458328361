package web

import (
	"encoding/json"
	"net/http"
	"strconv"
	"time"
)

// Problem is an error as it is answered: RFC 9457, with what fettle adds. Detail is for people and says nothing of the
// inside; Code is stable, and whoever reads it by program reads that.
type Problem struct {
	Type   string `json:"type,omitempty"`
	Title  string `json:"title"`
	Status int    `json:"status"`
	Detail string `json:"detail,omitempty"`
	Code   string `json:"code"`
	Hint   string `json:"hint,omitempty"`
	ID     string `json:"id,omitempty"` // of the request: the log has it too

	After time.Duration `json:"-"` // when to ask again; zero: nothing is said of it
}

const problemType = "application/problem+json"

// Tell answers a request with an error.
func Tell(w http.ResponseWriter, r *http.Request, p Problem) {
	if p.Title == "" {
		p.Title = http.StatusText(p.Status)
	}
	p.ID = RequestID(r.Context())
	body, err := json.Marshal(p)
	if err != nil { // a struct of texts and numbers
		panic(err)
	}
	h := w.Header()
	h.Set("Content-Type", problemType)
	h.Del("Content-Encoding")
	h.Del("Etag")
	h.Set("Cache-Control", "no-store")
	h.Set("Content-Length", strconv.Itoa(len(body)+1))
	if p.After > 0 {
		h.Set("Retry-After", strconv.Itoa(int((p.After+time.Second-1)/time.Second)))
	}
	w.WriteHeader(p.Status)
	if r.Method != http.MethodHead {
		_, _ = w.Write(append(body, '\n')) // whoever asked has left
	}
}

func crossSite(w http.ResponseWriter, r *http.Request) {
	Tell(w, r, Problem{Status: http.StatusForbidden, Code: "web.cross-site", Detail: "a page of another site sent this", Hint: "send it from a page of this server"})
}
