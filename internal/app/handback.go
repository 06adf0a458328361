package app

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/release"
	"fettle/internal/unit"
)

// HandedBack is the hand-back on record of a job, and what speaks against it.
type HandedBack struct {
	On      unit.Date         `json:"on"`
	To      job.Receiver      `json:"to"`
	By      string            `json:"by"`
	Second  string            `json:"second,omitempty"`
	Against []release.Missing `json:"against"` // empty: it stands
}

// handedBack is the hand-back on record, with the gate run anew for its day; nil without one.
func (a *App) handedBack(w *halt.Work, c *Opened, today unit.Date) *HandedBack {
	h, is := c.Job.HandedBack()
	if !is {
		return nil
	}
	r := a.assessOpened(w, c, noon(h.On))
	return &HandedBack{h.On, h.To, h.By, h.Second, gate(c, r).HandBack(h, today)}
}

func noon(day unit.Date) time.Time { return day.Time().Add(12 * time.Hour) }

// words is the hand-back in a line.
func (h HandedBack) words() string {
	out := fmt.Sprintf("handed back on %s to %s, signed by %s", h.On, h.To, h.By)
	if h.Second != "" {
		out += " and " + h.Second
	}
	return out
}

// HandBack records that the vehicle was handed back: only where the gate, judged on that day, has nothing missing, and on no day to come.
func (a *App) HandBack(c *Opened, r Assessment, h job.HandBack, today unit.Date) (Recorded, error) {
	if was, is := c.Job.HandedBack(); is {
		return Recorded{}, closed(c.Job.ID, was)
	}
	h.On = unit.DateOf(r.Made)
	under, err := c.Job.Under()
	if err != nil {
		return Recorded{}, err
	}
	h.Under = under
	after, err := c.Job.With(nil, h)
	if err == nil {
		err = asAsked(diag.Problems(after.Fresh(c.Job)).OrNil())
	}
	if err != nil {
		return Recorded{}, err
	}
	if not := gate(c, r).HandBack(h, today); len(not) > 0 {
		return Recorded{}, notHandedBack(c.Job.ID, not)
	}
	out, err := a.record(c, asAsked, h)
	out.judged = c.lastEvent()
	out.Text = fmt.Sprintf("Recorded: the vehicle of job %s was handed back on %s to %s.", c.Job.ID, h.On, h.To)
	return out, err
}

// Reopen opens a job again whose vehicle was handed back, with the reason.
func (a *App) Reopen(c *Opened, by, because string, on, today unit.Date) (Recorded, error) {
	i := slices.IndexFunc(c.Job.HandBacks, func(h job.HandBack) bool { return !h.Reopened() })
	if i < 0 {
		return Recorded{}, &diag.Error{Kind: diag.Conflict, Op: "reopen", Subject: c.Job.ID, Msg: "its vehicle was not handed back, or the job was opened again already"}
	}
	if why := c.Job.Falls(job.Act{By: by, On: on}, c.Shop, today); why != "" {
		return Recorded{}, &diag.Error{Kind: diag.Invalid, Op: "reopen", Subject: c.Job.ID, Msg: why, Hint: "name a person of the shop file who was there that day"}
	}
	h := c.Job.HandBacks[i]
	if h.ReopenedOn, h.ReopenedBy, h.Because = on, by, because; strings.TrimSpace(because) == "" {
		return Recorded{}, &diag.Error{Kind: diag.Usage, Op: "reopen", Subject: c.Job.ID, Msg: "it does not say why the job is opened again", Hint: "give the reason"}
	}
	out, err := a.record(c, asAsked, job.Changed{List: job.ListOf(h), At: i, Item: h})
	out.judged = c.lastEvent()
	out.Text = fmt.Sprintf("Recorded: job %s is open again.", c.Job.ID)
	return out, err
}

// notHandedBack is the refusal, with each reason.
func notHandedBack(id string, not []release.Missing) error {
	var all []error
	for _, m := range not {
		all = append(all, &diag.Error{Kind: diag.Invalid, Op: "hand back", Subject: m.Where, Msg: m.Text, Hint: m.Hint, Remedy: m.Remedy})
	}
	return &diag.Error{Kind: diag.Invalid, Op: "hand back", Subject: id, Msg: fmt.Sprintf("it may not be handed back: missing: %d", len(not)), Hint: "see what is missing", Remedy: diag.Do(job.ToSeeMissing, "job", id), Err: errors.Join(all...)}
}

// closed refuses what would write over the repair of a vehicle that was handed back.
func closed(id string, h job.HandBack) error {
	return &diag.Error{Kind: diag.Conflict, Op: "write", Subject: id, Msg: fmt.Sprintf("its vehicle was handed back on %s: nothing of the repair is written over", h.On), Hint: "open the job again first, with the reason", Remedy: diag.Do(job.ToReopen, "job", id)}
}

// keepsClosed refuses events that would write over the repair of a vehicle that was handed back, and a hand-back or reopening that did not come
// through the gate. Judged is the newest event that the gate had seen; nil: it was not asked.
func keepsClosed(id string, events []job.Event, judged *Head, before *job.Stored) error {
	h, handed := before.State().HandedBack()
	for _, e := range events {
		isHandBack := e.Kind == job.VehicleHandedBack
		taken := e.Kind == job.RecordWithdrawn && strings.HasPrefix(string(e.Of), job.OfHandBacks)
		switch {
		case isHandBack && judged == nil:
			return &diag.Error{Kind: diag.Invalid, Op: "write", Subject: id, Msg: "a hand-back is recorded by the gate alone, which says first what is missing", Hint: "hand the vehicle back where it is asked what is missing", Remedy: diag.Do(job.ToSeeMissing, "job", id)}
		case isHandBack && judged.Hash != headOf(before).Hash:
			return &diag.Error{Kind: diag.Conflict, Op: "hand back", Subject: id, Msg: "somebody has written into the job since it was judged; nothing was recorded", Hint: "see what was written, and try again", Remedy: diag.Do(job.ToSeeHistory, "job", id)}
		case isHandBack && len(events) != 1:
			return &diag.Error{Kind: diag.Invalid, Op: "hand back", Subject: id, Msg: "a hand-back is recorded alone", Hint: "record the rest first, and judge it"}
		case handed && !isHandBack && !taken && !job.AfterHandBack(e.Kind):
			return closed(id, h)
		}
	}
	return nil
}

func headOf(s *job.Stored) Head {
	seq, hash := s.Head()
	return Head{seq, hash}
}

// keepsFolderClosed is the same of a state written by hand.
func keepsFolderClosed(c *Opened, records []any, readings int) error {
	h, handed := c.Job.HandedBack()
	bill := func(r any) bool { _, is := r.(job.Agreed); return is }
	again := func(r any) bool {
		x, is := r.(job.Changed)
		_, of := x.Item.(job.HandBack)
		return is && of
	}
	if handed && (readings > 0 || slices.ContainsFunc(records, func(r any) bool { return !bill(r) && !again(r) })) {
		return closed(c.From, h)
	}
	return nil
}

// notToCome refuses a hand-back on a day that has not come where the newest event was written; it may be tomorrow already elsewhere.
func notToCome(id string, after *job.Stored) error {
	h, handed := after.State().HandedBack()
	at, err := time.Parse(time.RFC3339, after.At())
	if handed && (err != nil || unit.DateOf(at.UTC()).AddDays(1).Before(h.On)) {
		return &diag.Error{Kind: diag.Invalid, Op: "hand back", Subject: id, Msg: fmt.Sprintf("the day %s has not come yet", h.On), Hint: "record it when the vehicle was handed back"}
	}
	return nil
}
