package api

import (
	"context"
	"net/http"

	"fettle/internal/app"
	"fettle/internal/cost"
)

// several is the routes of answers about several jobs.
func (s *service) several() {
	type some struct {
		OnDay
		Jobs []string `query:"jobs" required:"true" minItems:"1" maxItems:"200" doc:"Jobs of the shop, commas between."`
	}
	no := []int{http.StatusNotFound}
	serve(s, route{id: "week", method: http.MethodGet, path: "/week", group: "answers", says: "Several jobs in one schedule: the same people, bays and equipment.", refuses: no},
		func(ctx context.Context, as *app.As, in *some) (*plain[Computed[app.WeekView]], error) {
			v, err := as.Week(ctx, in.Jobs, s.day(in.On))
			return &plain[Computed[app.WeekView]]{Computed[app.WeekView]{v}}, err
		})
	serve(s, route{id: "times", method: http.MethodGet, path: "/times", group: "answers", says: "What steps really took over several jobs.", refuses: no},
		func(ctx context.Context, as *app.As, in *some) (*plain[Computed[[]cost.History]], error) {
			v, err := as.History(ctx, in.Jobs, s.day(in.On))
			return &plain[Computed[[]cost.History]]{Computed[[]cost.History]{v}}, err
		})
	serve(s, route{id: "replay", method: http.MethodPost, path: "/replay", group: "answers", says: "Decides jobs under a new revision of a procedure, or compares two revisions.", limit: tableBody, refuses: []int{http.StatusNotFound, http.StatusUnprocessableEntity}},
		func(ctx context.Context, as *app.As, in *struct {
			OnDay
			Body struct {
				Older string   `json:"older,omitempty" doc:"The older revision, as YAML; that in force for each job unless given."`
				Newer string   `json:"newer" minLength:"1" doc:"The newer revision, as YAML."`
				Jobs  []string `json:"jobs,omitempty" maxItems:"200"`
			}
		}) (*plain[Computed[app.Replayed]], error) {
			var older []byte
			if in.Body.Older != "" {
				older = []byte(in.Body.Older)
			}
			v, err := as.Replay(ctx, older, []byte(in.Body.Newer), in.Body.Jobs, s.day(in.On))
			return &plain[Computed[app.Replayed]]{Computed[app.Replayed]{v}}, err
		})
	serve(s, route{id: "recompute", method: http.MethodPost, path: "/jobs/{job}/recompute", group: "answers", says: "Computes an assessment that was kept again, and says what is the same and what changed.", limit: tableBody, refuses: toolRefuses},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Body struct {
				Assessment []byte   `json:"assessment" doc:"assessment.json as it was written."`
				Earlier    []string `json:"earlier,omitempty" maxItems:"200" doc:"Earlier jobs whose times it shows, in its order."`
			}
		}) (*plain[Computed[app.Recomputed]], error) {
			v, err := as.Recompute(ctx, in.Job, in.Body.Assessment, in.Body.Earlier)
			return &plain[Computed[app.Recomputed]]{Computed[app.Recomputed]{v}}, err
		})
}
