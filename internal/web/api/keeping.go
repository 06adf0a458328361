package api

import (
	"context"
	"io"
	"net/http"

	"fettle/internal/app"
)

// closing closes what is not read, and is the error.
func closing(c io.Closer, err error) error {
	if other := c.Close(); other != nil {
		return other
	}
	return err
}

// Hold keeps anything of a job from being erased.
type Hold struct {
	ID     string `json:"id"`
	Job    string `json:"job"`
	By     string `json:"by" doc:"Who asked for it, by the opaque name."`
	Reason string `json:"reason"`
	Begun  string `json:"begun"`
	Ended  string `json:"ended,omitempty" doc:"Nothing while it stands."`
}

// Holds is the holds of a job.
type Holds struct {
	Holds []Hold `json:"holds"`
}

// Checkpoint is what the log is, signed.
type Checkpoint struct {
	Note string `json:"note" doc:"To be kept elsewhere."`
	Key  string `json:"key" doc:"What it is held against."`
}

func (s *service) keeping() {
	serve(s, route{id: "holds", known: true, method: http.MethodGet, path: "/jobs/{job}/holds", group: "keeping", says: "The holds of a job."},
		func(ctx context.Context, as *app.As, in *OfJob) (*plain[Holds], error) {
			all, err := as.Holds(ctx, in.Job)
			out := &plain[Holds]{Holds{[]Hold{}}}
			for _, h := range all {
				out.Body.Holds = append(out.Body.Holds, Hold(h))
			}
			return out, err
		})
	serve(s, route{id: "all-holds", method: http.MethodGet, path: "/holds", group: "keeping", says: "The holds of all jobs of the shop whose history one may read."},
		func(ctx context.Context, as *app.As, _ *struct{}) (*plain[Holds], error) {
			all, err := as.AllHolds(ctx)
			out := &plain[Holds]{Holds{[]Hold{}}}
			for _, h := range all {
				out.Body.Holds = append(out.Body.Holds, Hold(h))
			}
			return out, err
		})
	serve(s, route{id: "begin-hold", method: http.MethodPost, path: "/jobs/{job}/holds", group: "keeping", status: http.StatusCreated, says: "Puts a job on hold: nothing of it can be erased.", limit: usualBody},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Body struct {
				Reason string `json:"reason" minLength:"1" maxLength:"2000"`
			}
		}) (*plain[Hold], error) {
			h, err := as.BeginHold(ctx, in.Job, in.Body.Reason)
			return &plain[Hold]{Hold(h)}, err
		})
	serve(s, route{id: "end-hold", method: http.MethodPost, path: "/jobs/{job}/holds/{hold}/end", group: "keeping", says: "Ends a hold."},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Hold string `path:"hold" maxLength:"100"`
		}) (*plain[Hold], error) {
			h, err := as.EndHold(ctx, in.Job, in.Hold)
			return &plain[Hold]{Hold(h)}, err
		})
	serve(s, route{id: "checkpoint", method: http.MethodGet, path: "/checkpoint", group: "keeping", says: "What the log of all that is kept is now, signed."},
		func(ctx context.Context, as *app.As, in *struct {
			Leaves int64 `query:"leaves" default:"-1" minimum:"-1" doc:"As it was when it had so many leaves; -1: as it is now."`
		}) (*plain[Checkpoint], error) {
			note, key, err := as.Checkpoint(ctx, in.Leaves)
			return &plain[Checkpoint]{Checkpoint{note, key}}, err
		})
	serve(s, route{id: "sweep", method: http.MethodPost, path: "/sweep", group: "keeping", says: "Removes files that nothing has referred to for a day."},
		func(ctx context.Context, as *app.As, _ *struct{}) (*plain[Computed[app.Swept]], error) {
			v, err := as.Sweep(ctx)
			return &plain[Computed[app.Swept]]{Computed[app.Swept]{v}}, err
		})
}
