package app

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// Propose records a proposal, with the next free name where it has none. It counts for nothing until somebody who may has taken it over.
func (a *App) Propose(c *Opened, p job.Proposal) (Recorded, error) {
	if p.ID == "" {
		for n := 1; p.ID == "" || hasProposal(c.Job, p.ID); n++ {
			p.ID = fmt.Sprintf("PP-%d", n)
		}
	}
	if hasProposal(c.Job, p.ID) {
		return Recorded{}, &diag.Error{Kind: diag.Conflict, Op: "propose", Subject: p.ID, Msg: "there is a proposal of that name already", Hint: "leave the name out"}
	}
	if why := c.Job.Falls(job.Act{By: p.By, On: p.On}, c.Shop, p.On); why != "" {
		return Recorded{}, &diag.Error{Kind: diag.Invalid, Op: "propose", Subject: string(p.Of), Msg: why, Hint: "name a person of the shop file who was there that day"}
	}
	p.Settled, p.SettledBy, p.SettledOn = "", "", unit.Date{}
	out, err := a.record(c, asAsked, p)
	out.Text = fmt.Sprintf("Proposed as %s: %s. It counts for nothing until somebody who may has taken it over.", p.ID, p.Of)
	return out, err
}

func hasProposal(s *job.State, id string) bool {
	return slices.ContainsFunc(s.Proposals, func(p job.Proposal) bool { return p.ID == id })
}

// openProposal is where an open proposal stands among all.
func openProposal(c *Opened, id string) (int, error) {
	i := slices.IndexFunc(c.Job.Proposals, func(p job.Proposal) bool { return p.ID == id })
	if i < 0 {
		return i, &diag.Error{Kind: diag.NotFound, Op: "settle", Subject: id, Msg: "the job has no such proposal"}
	}
	if p := c.Job.Proposals[i]; !p.Open() {
		return i, &diag.Error{Kind: diag.Conflict, Op: "settle", Subject: id, Msg: fmt.Sprintf("it was %s already, by %s on %s", p.Settled, p.SettledBy, p.SettledOn)}
	}
	return i, nil
}

// settling is a proposal that somebody settles.
func settling(c *Opened, id string, as job.Settlement, by string, on unit.Date) (job.Changed, error) {
	i, err := openProposal(c, id)
	if err != nil {
		return job.Changed{}, err
	}
	if why := c.Job.Falls(job.Act{By: by, On: on}, c.Shop, on); why != "" {
		return job.Changed{}, &diag.Error{Kind: diag.Invalid, Op: "settle", Subject: id, Msg: why, Hint: "name a person of the shop file who was there that day"}
	}
	p := c.Job.Proposals[i]
	p.Settled, p.SettledBy, p.SettledOn = as, by, on
	return job.Changed{List: job.ListOf(p), At: i, Item: p}, nil
}

// TakeOver enters what was proposed, signed by whoever takes it over, and says so of the proposal: both or neither.
func (a *App) TakeOver(c *Opened, id, by string, on unit.Date) (Recorded, error) {
	mark, err := settling(c, id, job.TakenOver, by, on)
	if err != nil {
		return Recorded{}, err
	}
	p := mark.Item.(job.Proposal)
	e, err := p.Proposed()
	if err != nil {
		return Recorded{}, &diag.Error{Kind: diag.Conflict, Op: "take over", Subject: id, Msg: "what was proposed is no record any more: " + err.Error(), Hint: "enter the record itself", Err: err}
	}
	out, err := a.record(c, asAsked, c.Job.Placed(job.SignedAnew(e.Data, by, on)), mark)
	out.Text = fmt.Sprintf("Taken over: %s, as %s proposed it (%s).", p.Of, p.By, id)
	return out, err
}

// Decline says of a proposal that it is not taken over.
func (a *App) Decline(c *Opened, id, by string, on unit.Date) (Recorded, error) {
	mark, err := settling(c, id, job.Declined, by, on)
	if err != nil {
		return Recorded{}, err
	}
	out, err := a.record(c, asAsked, mark)
	out.Text = "Declined: " + id + "."
	return out, err
}

// proposalNotes says of each open proposal that it is no more than that.
func proposalNotes(s *job.State) []diag.Note {
	var out []diag.Note
	for _, p := range s.OpenProposals() {
		out = append(out, diag.Say("job.proposed", "{by} proposes {record}: it counts for nothing yet", p.By, strings.ReplaceAll(string(p.Of), "/", " ")).Note(diag.Note{Severity: diag.Info, Where: p.ID, Hint: "have it taken over or declined by somebody who may"}))
	}
	return out
}

// keepsProposals holds proposals against the job in the moment in which they are written: one of somebody else stays as it is, and one is
// taken over together with the record that it proposes, by whoever may enter that.
func keepsProposals(events []job.Event, before *job.Stored, who string) error {
	for _, e := range events {
		p, is := e.Data.(job.Proposal)
		if !is {
			continue
		}
		was, there := before.Record(e.About())
		had, _ := was.(job.Proposal)
		refuse := func(msg, hint string) error {
			return &diag.Error{Kind: diag.Conflict, Op: "propose", Subject: p.ID, Msg: msg, Hint: hint}
		}
		switch same := p; {
		case there && !had.Open():
			return refuse("the proposal was settled already", "propose it anew, under another name")
		case there && p.Open() && before.AuthorOf(e.About()) != who:
			return refuse("the proposal is somebody else's", "make one of your own")
		case !there && !p.Open():
			return refuse("there is no such proposal to be settled", "")
		case p.Open():
			continue
		default:
			same.Settled, same.SettledBy, same.SettledOn = "", "", unit.Date{}
			if same != had {
				return refuse("what was proposed is changed by settling it", "settle it as it is")
			}
		}
		if p.Settled == job.TakenOver && !slices.ContainsFunc(events, p.EnteredBy) {
			return refuse("what is taken over has to be entered with it, as it was proposed", "take it over by the way that is made for it")
		}
	}
	return nil
}
