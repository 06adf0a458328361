package remote

import (
	"context"
	"net/http"
	"net/url"
	"strconv"

	"fettle/internal/app"
	"fettle/internal/store"
)

type hold struct {
	ID     string `json:"id"`
	Job    string `json:"job"`
	By     string `json:"by"`
	Reason string `json:"reason"`
	Begun  string `json:"begun"`
	Ended  string `json:"ended"`
}

type holds struct {
	Holds []hold `json:"holds"`
}

// Holds is the holds of a job, or of all jobs of the shop with no name.
func (s *Store) Holds(ctx context.Context, id string) (out []app.Hold, err error) {
	path := "/holds"
	if id != "" {
		path = ofJob(id, path)
	}
	var got holds
	if err = s.get(ctx, "hold", path, nil, &got); err == nil && got.Holds == nil {
		err = s.strange("there are no holds in it")
	}
	for _, h := range got.Holds {
		out = append(out, app.Hold(h))
	}
	return out, noJob(id, err)
}

// BeginHold puts a job on hold.
func (s *Store) BeginHold(ctx context.Context, id, by, reason string) (app.Hold, error) {
	if err := s.writes(ctx, by); err != nil {
		return app.Hold{}, err
	}
	var got hold
	in := struct {
		Reason string `json:"reason"`
	}{reason}
	err := s.send(ctx, call{op: "hold", method: http.MethodPost, path: ofJob(id, "/holds"), repeats: true}, in, &got)
	return app.Hold(got), noJob(id, err)
}

// EndHold ends a hold.
func (s *Store) EndHold(ctx context.Context, id string) (app.Hold, error) {
	all, err := s.Holds(ctx, "")
	if err != nil {
		return app.Hold{}, err
	}
	for _, h := range all {
		if h.ID == id {
			var got hold
			err := s.send(ctx, call{op: "hold", method: http.MethodPost, path: ofJob(h.Job, "/holds/", url.PathEscape(id), "/end"), repeats: true}, nil, &got)
			return app.Hold(got), err
		}
	}
	return app.Hold{}, store.NoHold(id)
}

// Checkpoint is what the log of the server is, or was with so many leaves, signed; and the key to hold it against. Less than none is now.
func (s *Store) Checkpoint(ctx context.Context, leaves int64) (note, key string, err error) {
	var q url.Values
	if leaves >= 0 {
		q = url.Values{"leaves": {strconv.FormatInt(leaves, 10)}}
	}
	var got struct {
		Note string `json:"note"`
		Key  string `json:"key"`
	}
	err = s.get(ctx, "checkpoint", "/checkpoint", q, &got)
	return got.Note, got.Key, err
}
