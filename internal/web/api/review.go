package api

import (
	"context"
	"net/http"

	"fettle/internal/app"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// ReviewState is how far a job is.
type ReviewState struct {
	Stage    string   `json:"stage" enum:"draft,planned,in review,approved,in repair,inspected,released"`
	Sent     []string `json:"sent" doc:"Parts that were sent to review and are as they were sent: measurements, whole."`
	Approved bool     `json:"approved" doc:"The job as it is was approved after it was sent."`
	Void     bool     `json:"void" doc:"It was approved, and was changed or sent back since."`
	Head     Head     `json:"head" doc:"The newest event: an approval names it by its hash."`
}

// Proposal is a record that somebody proposes.
type Proposal struct {
	ID        string `json:"id"`
	Of        string `json:"of" doc:"The record that is proposed."`
	Record    string `json:"record" doc:"As it would be entered, in YAML."`
	By        string `json:"by"`
	On        string `json:"on"`
	Reason    string `json:"reason,omitempty"`
	Settled   string `json:"settled,omitempty" doc:"What became of it: taken over, declined; nothing while it is open."`
	SettledBy string `json:"settledBy,omitempty"`
	SettledOn string `json:"settledOn,omitempty"`
}

// Proposals is what was proposed in a job.
type Proposals struct {
	Proposals []Proposal `json:"proposals"`
}

// SignedDay is who takes a deed and when.
type SignedDay struct {
	By string `json:"by" minLength:"1" maxLength:"200" doc:"Person of the shop file."`
	On string `json:"on" format:"date" doc:"The day (year-month-day)."`
}

// review is the routes by which a job is sent to review, sent back and approved, and opened again.
func (s *service) review() {
	serve(s, route{id: "review", method: http.MethodGet, path: "/jobs/{job}/review", group: "records", says: "How far a job is, and what of it was sent to review."},
		func(ctx context.Context, as *app.As, in *struct{ OfJob }) (*plain[ReviewState], error) {
			r, err := as.ReviewState(ctx, in.Job)
			out := &plain[ReviewState]{ReviewState{Stage: string(r.Stage), Sent: []string{}, Approved: r.Approved, Void: r.Void, Head: Head(r.Head)}}
			for _, p := range r.Sent {
				out.Body.Sent = append(out.Body.Sent, string(p))
			}
			return out, err
		})
	serve(s, route{id: "send-to-review", method: http.MethodPost, path: "/jobs/{job}/review/send", group: "records", says: "Sends a job, or what was measured of it, to review as it is.", limit: usualBody, refuses: writes},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Keyed
			Body struct {
				SignedDay
				Part string `json:"part" enum:"measurements,whole"`
				Text string `json:"text,omitempty" maxLength:"2000"`
			}
		}) (*answer[Written], error) {
			day, err := dayOf(as, in.Body.On)
			if err != nil {
				return nil, err
			}
			return written(as.SendToReview(ctx, in.Job, in.Key, job.Sending{Part: job.Part(in.Body.Part), By: in.Body.By, On: day, Text: in.Body.Text}))
		})
	serve(s, route{id: "send-back", method: http.MethodPost, path: "/jobs/{job}/review/back", group: "records", says: "Sends back what was sent to review; what was approved of it is not any more.", limit: usualBody, refuses: writes},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Keyed
			Body struct {
				Signed
				Part string `json:"part" enum:"measurements,whole"`
			}
		}) (*answer[Written], error) {
			day, err := dayOf(as, in.Body.On)
			if err != nil {
				return nil, err
			}
			return written(as.SendBack(ctx, in.Job, in.Key, job.Part(in.Body.Part), in.Body.By, in.Body.Reason, day))
		})
	serve(s, route{id: "approve", method: http.MethodPost, path: "/jobs/{job}/review/approve", group: "records", says: "Approves a job as it was sent to review.", limit: usualBody, refuses: writes,
		more: "The approval names the event that the reviewer has seen; where what was sent was changed since, nothing is written."},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Keyed
			Body struct {
				SignedDay
				Seen string `json:"seen" pattern:"^[0-9a-f]{64}$" doc:"Hash of the newest event that the reviewer has seen."`
				Text string `json:"text,omitempty" maxLength:"2000"`
			}
		}) (*answer[Written], error) {
			day, err := dayOf(as, in.Body.On)
			if err != nil {
				return nil, err
			}
			return written(as.Approve(ctx, in.Job, in.Key, in.Body.Seen, job.Review{By: in.Body.By, On: day, Text: in.Body.Text}))
		})
	serve(s, route{id: "reopen-job", method: http.MethodPost, path: "/jobs/{job}/reopen", group: "records", says: "Opens a job again whose vehicle was handed back.", limit: usualBody, refuses: writes},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Keyed
			Body struct {
				By     string `json:"by" minLength:"1" maxLength:"200" doc:"Person of the shop file."`
				Reason string `json:"reason" minLength:"1" maxLength:"2000"`
			}
		}) (*answer[Written], error) {
			return written(as.Reopen(ctx, in.Job, in.Key, in.Body.By, in.Body.Reason))
		})
	s.proposals()
}

// proposals is the routes of what somebody proposes who may not enter it.
func (s *service) proposals() {
	serve(s, route{id: "proposals", method: http.MethodGet, path: "/jobs/{job}/proposals", group: "records", says: "What was proposed in a job; none of it counts before it is taken over."},
		func(ctx context.Context, as *app.As, in *struct{ OfJob }) (*plain[Proposals], error) {
			all, err := as.Proposals(ctx, in.Job)
			out := &plain[Proposals]{Proposals{[]Proposal{}}}
			for _, p := range all {
				x := Proposal{ID: p.ID, Of: string(p.Of), Record: p.Record, By: p.By, On: p.On.String(), Reason: p.Reason, Settled: string(p.Settled), SettledBy: p.SettledBy}
				if !p.Open() {
					x.SettledOn = p.SettledOn.String()
				}
				out.Body.Proposals = append(out.Body.Proposals, x)
			}
			return out, err
		})
	serve(s, route{id: "propose", method: http.MethodPost, path: "/jobs/{job}/proposals", group: "records", says: "Proposes a record to those who may enter it.", limit: tableBody, refuses: writes},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Keyed
			Body struct {
				SignedDay
				Of     string `json:"of" minLength:"1" maxLength:"200" doc:"The record: finding/D4, acceptance/D1, or the sort alone, as choice." example:"choice"`
				Record string `json:"record" minLength:"1" doc:"As it would be entered, in YAML or JSON."`
				Reason string `json:"reason,omitempty" maxLength:"2000"`
			}
		}) (*answer[Written], error) {
			b := in.Body
			day, err := dayOf(as, b.On)
			if err != nil {
				return nil, err
			}
			return written(as.Propose(ctx, in.Job, in.Key, job.Proposal{Of: job.RecordName(b.Of), Record: b.Record, By: b.By, On: day, Reason: b.Reason}))
		})
	settle := func(id, says string, how func(as *app.As, ctx context.Context, job, key, proposal, by string, on unit.Date) (app.Recorded, app.Head, error)) {
		serve(s, route{id: id + "-proposal", method: http.MethodPost, path: "/jobs/{job}/proposals/{proposal}/" + id, group: "records", says: says, limit: usualBody, refuses: writes},
			func(ctx context.Context, as *app.As, in *struct {
				OfJob
				Keyed
				Proposal string `path:"proposal" maxLength:"200"`
				Body     SignedDay
			}) (*answer[Written], error) {
				day, err := dayOf(as, in.Body.On)
				if err != nil {
					return nil, err
				}
				return written(how(as, ctx, in.Job, in.Key, in.Proposal, in.Body.By, day))
			})
	}
	settle("take-over", "Enters what was proposed, signed by whoever takes it over.", (*app.As).TakeOver)
	settle("decline", "Declines what was proposed.", (*app.As).Decline)
}

// agreeErasure is the route of the first of the two persons whom an erasure needs.
func (s *service) agreeErasure() {
	serve(s, route{id: "agree-erasure", method: http.MethodPost, path: "/jobs/{job}/erase/agree", group: "records", says: "Agrees to names and remarks being erased, which another person carries out.", limit: usualBody, refuses: writes},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Keyed
			Body struct {
				Signed
				Record string `json:"record,omitempty" maxLength:"200" doc:"The record; none where a person is to be erased."`
				Person string `json:"person,omitempty" maxLength:"200" doc:"Every record that names this person."`
				Wrote  string `json:"wrote,omitempty" maxLength:"200" doc:"Every record that this opaque name has written a text of."`
			}
		}) (*answer[Written], error) {
			b := in.Body
			day, err := dayOf(as, b.On)
			if err != nil {
				return nil, err
			}
			who := job.Person{Wrote: b.Wrote}
			if b.Person != "" {
				who.Names = []string{b.Person}
			}
			return written(as.AgreeErasure(ctx, in.Job, in.Key, job.RecordName(b.Record), who, job.ErasureAgreed{By: b.By, On: day, Reason: b.Reason}))
		})
}
