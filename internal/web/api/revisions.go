package api

import (
	"context"
	"net/http"

	"fettle/internal/app"
)

// OfRevision is the revision that a route is about: a job as it was at an event.
type OfRevision struct {
	OfJob
	Event int64 `path:"event" minimum:"1" doc:"Number of the newest event that is shown."`
}

// Proof is what a revision is held against.
type Proof struct {
	Head   Head   `json:"head" doc:"Its newest event; the hash holds all events before."`
	Newer  bool   `json:"newer" doc:"The job has events behind it, which this does not show."`
	Day    string `json:"day" doc:"The day it is judged on." format:"date"`
	Seal   string `json:"seal" doc:"SHA-256 of what is shown of it."`
	Holds  bool   `json:"holds" doc:"The events are whole, and what is shown is what the link was made for."`
	Signed string `json:"signed" doc:"What the log is, signed, to be kept; empty where nothing signs it."`
	Key    string `json:"key" doc:"To hold that against."`
}

// Past is the events of a revision.
type Past struct {
	Events []app.OutsideEvent `json:"events"`
}

// OutsidePolicy is what a page may load that is shown to a reader from outside: its own style and pictures. It runs nothing.
const OutsidePolicy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'self'; sandbox"

// shownFile is a page or a file for a reader from outside.
type shownFile struct {
	ContentType string `header:"Content-Type"`
	Policy      string `header:"Content-Security-Policy"`
	Name        string `header:"Content-Disposition"`
	Robots      string `header:"X-Robots-Tag"`
	Body        []byte
}

func (s *service) revisions() {
	shows := func(id, path, says, kind, name string, do func(*app.As, context.Context, string) ([]byte, error)) {
		serve(s, route{id: id, method: http.MethodGet, path: "/jobs/{job}/revisions/{event}/" + path, group: "revisions", says: says, gives: kind, refuses: []int{http.StatusConflict},
			more: "As somebody outside the shop is shown it: no names of people, no remarks, nothing that is internal."},
			func(ctx context.Context, as *app.As, in *OfRevision) (*shownFile, error) {
				body, err := do(as.At(in.Event), ctx, in.Job)
				return &shownFile{kind, OutsidePolicy, name, "noindex, nofollow", body}, err
			})
	}
	shows("revision-report", "report", "The report of a job as it was at an event, as a page.", "text/html; charset=utf-8", "inline", (*app.As).OutsideReport)
	shows("revision-owner", "owner", "The page for whom the vehicle belongs to, of a job as it was at an event.", "text/html; charset=utf-8", "inline", (*app.As).OutsideOwner)
	shows("revision-files", "files", "All that is shown of a job as it was at an event in one file, with its pictures.", "application/zip", `attachment; filename="revision.zip"`, (*app.As).OutsideFiles)
	told := route{method: http.MethodGet, group: "revisions", refuses: []int{http.StatusConflict}}
	told.id, told.path, told.says = "revision-assessment", "/jobs/{job}/revisions/{event}/assessment", "Everything that is computed of a job as it was at an event, as somebody outside the shop is shown it."
	serve(s, told, func(ctx context.Context, as *app.As, in *OfRevision) (*plain[Computed[app.Assessment]], error) {
		r, err := as.At(in.Event).OutsideAssessment(ctx, in.Job)
		return &plain[Computed[app.Assessment]]{Computed[app.Assessment]{r}}, err
	})
	told.refuses, told.known = nil, true
	told.id, told.path, told.says = "revision-history", "/jobs/{job}/revisions/{event}/history", "The events up to one: when, of what kind, by whom by a number, and their hashes."
	serve(s, told, func(ctx context.Context, as *app.As, in *OfRevision) (*plain[Past], error) {
		all, err := as.At(in.Event).OutsideHistory(ctx, in.Job)
		return &plain[Past]{Past{append([]app.OutsideEvent{}, all...)}}, err
	})
	told.known = false
	told.id, told.path, told.says = "revision-proof", "/jobs/{job}/revisions/{event}/proof", "Reads a job as it was at an event anew, and says whether it is what it was and whether there is a newer one."
	serve(s, told, func(ctx context.Context, as *app.As, in *OfRevision) (*plain[Proof], error) {
		p, err := as.At(in.Event).OutsideVerify(ctx, in.Job)
		return &plain[Proof]{Proof{Head(p.Head), p.Newer, p.Day, p.Seal, p.Holds, p.Signed, p.Key}}, err
	})
}
