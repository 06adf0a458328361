package app

import (
	"context"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/right"
	"fettle/internal/unit"
)

// ReviewState is how far a job is, and what of it was sent to review.
type ReviewState struct {
	Stage    right.Stage
	Sent     []job.Part // parts that are in review, or were approved, as they are
	Approved bool
	Void     bool // it was approved, and is not any more
	Head     Head
}

// ReviewState is how far a job is.
func (s *As) ReviewState(ctx context.Context, id string) (ReviewState, error) {
	_, c, err := s.read(ctx, id, right.SeeJob)
	if err != nil {
		return ReviewState{}, err
	}
	out := ReviewState{Stage: StageOf(c.stored), Head: headOf(c.stored)}
	for _, p := range job.Parts() {
		if _, is := c.Job.Sent(p); is {
			out.Sent = append(out.Sent, p)
		}
	}
	_, out.Approved = c.Job.Approved()
	for _, r := range c.Job.Reviews {
		out.Void = out.Void || r.Under != "" && !out.Approved
	}
	return out, nil
}

// SendToReview sends a part of a job to review as it is.
func (s *As) SendToReview(ctx context.Context, id, key string, x job.Sending) (Recorded, Head, error) {
	d, _ := doingOf(job.Event{Kind: job.SentToReview, Data: job.Sending{Part: x.Part}})
	return s.doing(ctx, id, key, d, func(c *Opened) (Recorded, error) { return s.App.SendToReview(c, x) })
}

// SendBack sends back what was sent to review.
func (s *As) SendBack(ctx context.Context, id, key string, part job.Part, by, because string, on unit.Date) (Recorded, Head, error) {
	return s.doing(ctx, id, key, doing{act: right.SendBack}, func(c *Opened) (Recorded, error) { return s.App.SendBack(c, part, by, because, on) })
}

// Approve approves a job as it was at the event that the reviewer has seen. What was written since and changes what was sent is in the way.
func (s *As) Approve(ctx context.Context, id, key, seen string, r job.Review) (Recorded, Head, error) {
	return s.doing(ctx, id, key, doing{act: right.Approve}, func(c *Opened) (Recorded, error) {
		chain, err := s.from().Load(ctx, id, 0)
		if err != nil {
			return Recorded{}, err
		}
		i := slices.IndexFunc(chain, func(e ledger.Entry) bool { return e.Hash == seen })
		if i < 0 {
			return Recorded{}, &diag.Error{Kind: diag.Conflict, Op: "approve", Subject: id, Msg: "the job has no event of that hash", Hint: "name the newest event of the job as it was seen"}
		}
		was, err := s.asOf(c, chain[:i+1])
		if err != nil {
			return Recorded{}, err
		}
		return s.App.Approve(was, r)
	})
}

// Propose records a proposal.
func (s *As) Propose(ctx context.Context, id, key string, p job.Proposal) (Recorded, Head, error) {
	return s.doing(ctx, id, key, doingOfProposal(job.Proposal{Of: p.Of}), func(c *Opened) (Recorded, error) { return s.App.Propose(c, p) })
}

// TakeOver enters what was proposed.
func (s *As) TakeOver(ctx context.Context, id, key, proposal, by string, on unit.Date) (Recorded, Head, error) {
	return s.settling(ctx, id, key, proposal, func(c *Opened) (Recorded, error) { return s.App.TakeOver(c, proposal, by, on) })
}

// Decline says of a proposal that it is not taken over.
func (s *As) Decline(ctx context.Context, id, key, proposal, by string, on unit.Date) (Recorded, Head, error) {
	return s.settling(ctx, id, key, proposal, func(c *Opened) (Recorded, error) { return s.App.Decline(c, proposal, by, on) })
}

// settling is for those who may enter what a proposal proposes.
func (s *As) settling(ctx context.Context, id, key, proposal string, make func(*Opened) (Recorded, error)) (Recorded, Head, error) {
	return s.changing(ctx, id, key, func(c *Opened) (Recorded, error) {
		i, err := openProposal(c, proposal)
		if err != nil {
			return Recorded{}, err
		}
		if _, err := s.may(doingOfProposal(job.Proposal{Of: c.Job.Proposals[i].Of, Settled: job.TakenOver}).act, s.onStored(c.stored)); err != nil {
			return Recorded{}, err
		}
		return make(c)
	})
}

// doing is changing for those who may do an act about the job as it stands; it is asked again when it is written.
func (s *As) doing(ctx context.Context, id, key string, d doing, make func(*Opened) (Recorded, error)) (Recorded, Head, error) {
	return s.changing(ctx, id, key, func(c *Opened) (Recorded, error) {
		if _, err := s.may(d.act, s.onStored(c.stored), d.keeps...); err != nil {
			return Recorded{}, err
		}
		return make(c)
	})
}

// Proposals is what was proposed in a job.
func (s *As) Proposals(ctx context.Context, id string) ([]job.Proposal, error) {
	_, c, err := s.read(ctx, id, right.SeeJob)
	if err != nil {
		return nil, err
	}
	return c.Job.Proposals, nil
}
