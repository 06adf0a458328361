package app

import (
	"fmt"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// SendToReview records that a part of a job, as it is, was sent to review.
func (a *App) SendToReview(c *Opened, x job.Sending) (Recorded, error) {
	if err := c.signs("send to review", x.By, x.On, ""); err != nil {
		return Recorded{}, err
	}
	if _, is := c.Job.Sent(x.Part); is {
		return Recorded{}, sentAlready(c.Job.ID)
	}
	under, err := c.Job.ToReview(x.Part)
	if err != nil {
		return Recorded{}, err
	}
	x.Under, x.BackOn, x.BackBy, x.Because = under, unit.Date{}, "", ""
	out, err := a.record(c, asAsked, x)
	out.Text = fmt.Sprintf("Sent to review: %s of job %s.", x.Part, c.Job.ID)
	return out, err
}

// SendBack records that what was sent to review last was sent back, and why.
func (a *App) SendBack(c *Opened, part job.Part, by, because string, on unit.Date) (Recorded, error) {
	if err := c.signs("send back", by, on, shop.MayReview); err != nil {
		return Recorded{}, err
	}
	if strings.TrimSpace(because) == "" {
		return Recorded{}, &diag.Error{Kind: diag.Usage, Op: "send back", Subject: c.Job.ID, Msg: "it does not say why it is sent back", Hint: "give the reason"}
	}
	if _, is := c.Job.Sent(part); !is {
		return Recorded{}, notSent("send back", c.Job.ID)
	}
	i := len(c.Job.Sendings) - 1
	for c.Job.Sendings[i].Part != part {
		i--
	}
	x := c.Job.Sendings[i]
	x.BackOn, x.BackBy, x.Because = on, by, because
	out, err := a.record(c, asAsked, job.Changed{List: job.ListOf(x), At: i, Item: x})
	out.Text = fmt.Sprintf("Sent back: %s of job %s.", part, c.Job.ID)
	return out, err
}

// Approve records that a job is approved as it was sent to review. A change of it makes that void.
func (a *App) Approve(c *Opened, r job.Review) (Recorded, error) {
	if err := c.signs("approve", r.By, r.On, shop.MayReview); err != nil {
		return Recorded{}, err
	}
	if _, is := c.Job.Sent(job.Whole); !is {
		return Recorded{}, notSent("approve", c.Job.ID)
	}
	under, err := c.Job.ToApprove()
	if err != nil {
		return Recorded{}, err
	}
	r.Under = under
	out, err := a.record(c, asAsked, r)
	out.Text = fmt.Sprintf("Approved: job %s as it was sent to review.", c.Job.ID)
	return out, err
}

// signs refuses who may not sign on a day.
func (c *Opened) signs(op, by string, on unit.Date, may shop.Authority) error {
	if why := c.Job.Falls(job.Act{By: by, On: on, May: may}, c.Shop, on); why != "" {
		return &diag.Error{Kind: diag.Invalid, Op: op, Subject: c.Job.ID, Msg: why, Hint: "name a person of the shop file who may and was there that day"}
	}
	return nil
}

func sentAlready(id string) error {
	return &diag.Error{Kind: diag.Conflict, Op: "send to review", Subject: id, Msg: "it was sent to review already, as it is", Hint: "wait until it is approved or sent back"}
}

func notSent(op, id string) error {
	return &diag.Error{Kind: diag.Conflict, Op: op, Subject: id, Msg: "it was not sent to review, was sent back, or was changed since: only what was sent is approved", Hint: "have it sent to review as it is", Remedy: diag.Do(job.ToSeeHistory, "job", id)}
}

// keepsReview holds events of a review against the job in the moment in which they are written: what is sent is the job as it is, what is
// sent back was sent, and what is approved is what was sent and nothing that came after it. Each of them is written alone.
func keepsReview(id string, events []job.Event, before *job.Stored) error {
	for _, e := range events {
		sent := e.Kind == job.SentToReview
		taken := e.Kind == job.RecordWithdrawn && strings.HasPrefix(string(e.Of), job.OfSendings)
		if taken {
			return &diag.Error{Kind: diag.Invalid, Op: "write", Subject: id, Msg: "what was sent to review is sent back, and not withdrawn", Hint: "have it sent back, with the reason"}
		}
		if !sent && e.Kind != job.DecisionsReviewed {
			continue
		}
		if len(events) != 1 {
			return &diag.Error{Kind: diag.Invalid, Op: "write", Subject: id, Msg: "what is sent to review, sent back or approved is written alone", Hint: "write the rest first"}
		}
		switch d := e.Data.(type) {
		case job.Sending:
			return keepsSending(id, e.Of, d, before)
		case job.Review:
			return keepsApproval(id, e.Of, d, before)
		}
	}
	return nil
}

func keepsSending(id string, of job.RecordName, x job.Sending, before *job.Stored) error {
	s := before.State()
	if was, is := before.Record(of); is {
		had := was.(job.Sending)
		now := x
		now.BackOn, now.BackBy, now.Because = had.BackOn, had.BackBy, had.Because
		if had.Back() || !x.Back() || now != had {
			return &diag.Error{Kind: diag.Invalid, Op: "write", Subject: string(of), Msg: "what was sent to review stays as it was sent; it is sent back once", Hint: "send it to review anew"}
		}
		if last, sent := s.Sent(x.Part); !sent || last != had {
			return notSent("send back", id)
		}
		return nil
	}
	now, err := s.ToReview(x.Part)
	if err != nil {
		return err
	}
	if _, is := s.Sent(x.Part); is {
		return sentAlready(id)
	}
	if x.Back() || x.Under != now {
		return &diag.Error{Kind: diag.Conflict, Op: "send to review", Subject: id, Msg: "the job is not what is sent: somebody has changed it", Hint: "see what was written, and send it anew", Remedy: diag.Do(job.ToSeeHistory, "job", id)}
	}
	return nil
}

func keepsApproval(id string, of job.RecordName, r job.Review, before *job.Stored) error {
	s := before.State()
	if _, is := before.Record(of); is {
		return &diag.Error{Kind: diag.Invalid, Op: "approve", Subject: string(of), Msg: "an approval stays as it was given", Hint: "give one of its own"}
	}
	if _, is := s.Sent(job.Whole); !is {
		return notSent("approve", id)
	}
	now, err := s.ToApprove()
	if err == nil && r.Under != now {
		err = &diag.Error{Kind: diag.Conflict, Op: "approve", Subject: id, Msg: "it does not name what was sent to review, or not as it is", Hint: "see the job as it was sent, and approve that", Remedy: diag.Do(job.ToSeeHistory, "job", id)}
	}
	return err
}

// keepsBeginning refuses to begin a job that was sent to review or approved already: there was nothing yet that anybody could have seen.
func keepsBeginning(id string, events []job.Event) error {
	for _, e := range events {
		r, reviewed := e.Data.(job.Review)
		if e.Kind == job.SentToReview || reviewed && r.Under != "" {
			return &diag.Error{Kind: diag.Invalid, Op: "begin", Subject: id, Msg: "a job is sent to review and approved once it is there", Hint: "begin it first"}
		}
	}
	return nil
}
