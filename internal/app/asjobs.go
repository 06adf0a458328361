package app

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/right"
)

// lineFor is what somebody may know of a job in a list.
func lineFor(v right.Verdict, l JobLine) JobLine {
	if v.Limited(right.OnlyListed) {
		l.Vehicle, l.Title, l.Plate, l.Act = "", "", "", ""
	}
	return l
}

// Find is jobs of the shop, the one changed last first. Who may know only the list and the state of jobs finds none by what stands in them.
func (s *As) Find(ctx context.Context, q JobQuery) ([]JobLine, error) {
	v, err := s.may(right.SeeJobs, s.inShop(), right.OnlyListed)
	if err != nil {
		return nil, err
	}
	if v.Limited(right.OnlyListed) && q.Text != "" {
		return nil, &diag.Error{Kind: diag.Denied, Op: "find", Msg: "one may see which jobs there are here, and not look for what stands in them", Hint: "leave the words out"}
	}
	if q.After.ID != "" {
		if q.After.Changed, err = s.changed(ctx, q.After); err != nil {
			return nil, err
		}
	}
	q.Of = s.owners()
	return s.lines(v)(s.In.Find(ctx, q))
}

// changed is when the last job of a page was changed, as whoever asks says: that one job is not what they are told of.
func (s *As) changed(_ context.Context, l JobLine) (string, error) {
	if l.Changed == "" {
		return "", &diag.Error{Kind: diag.Usage, Op: "find", Subject: l.ID, Msg: "a page goes on behind a job and its time", Hint: "give both, as the page before has them"}
	}
	return l.Changed, nil
}

// List is jobs of the shop in the order of their names.
func (s *As) List(ctx context.Context, after string, most int) ([]JobLine, error) {
	v, err := s.may(right.SeeJobs, s.inShop(), right.OnlyListed)
	if err != nil {
		return nil, err
	}
	return s.lines(v)(s.In.ListOf(ctx, s.owners(), after, most))
}

func (s *As) lines(v right.Verdict) func([]JobLine, error) ([]JobLine, error) {
	return func(all []JobLine, err error) ([]JobLine, error) {
		for i := range all {
			all[i] = lineFor(v, all[i])
		}
		return all, err
	}
}

// Head is the newest event of a job.
func (s *As) Head(ctx context.Context, id string) (Head, error) {
	if _, err := s.job(ctx, id, right.ReadReport, right.OnlyRolesAndIDs); err != nil {
		return Head{}, err
	}
	return s.from().Head(ctx, id)
}

// Standing is Head for who may read all that is computed of a job.
func (s *As) Standing(ctx context.Context, id string) (Head, error) {
	if _, err := s.job(ctx, id, right.ReadReport); err != nil {
		return Head{}, err
	}
	return s.from().Head(ctx, id)
}

// Load is the events of a job after one of them, as they are kept.
func (s *As) Load(ctx context.Context, id string, after int64) (ledger.Chain, error) {
	if _, err := s.job(ctx, id, right.SeeJob); err != nil {
		return nil, err
	}
	return s.In.Load(ctx, id, after)
}

// Lines is the events of a job with the keys of the changes that wrote them.
func (s *As) Lines(ctx context.Context, id string) ([]job.Line, error) {
	if _, err := s.job(ctx, id, right.DownloadJob); err != nil {
		return nil, err
	}
	return s.In.Lines(ctx, id)
}

// Events is what happened to a job, in words; who may not know the contents is told who, when and what kind.
func (s *As) Events(ctx context.Context, id string) ([]EventLine, error) {
	v, err := s.job(ctx, id, right.ReadHistory, right.OnlyNoContents)
	if err != nil {
		return nil, err
	}
	all, err := s.reading(nil, id).Events(ctx, id)
	for i := range all {
		if v.Limited(right.OnlyNoContents) {
			all[i].Text, all[i].About = "", ""
		}
	}
	return all, err
}

// Begin begins a job with events that open it; it is the shop's.
func (s *As) Begin(ctx context.Context, id string, c Changing) (Head, error) {
	if _, err := s.may(right.BeginJob, s.inShop()); err != nil {
		return Head{}, err
	}
	if err := s.newJobName(ctx, id); err != nil {
		return Head{}, err
	}
	if len(c.Events) == 0 || c.Events[0].Kind != job.JobOpened {
		return Head{}, &diag.Error{Kind: diag.Invalid, Op: "begin", Subject: id, Msg: "a job begins with the event that opens it", Hint: "send job-opened first"}
	}
	if err := s.own(ctx, id); err != nil {
		return Head{}, err
	}
	events := c.Events
	if opened, is := events[0].Data.(job.Opening); is && !(s.of.First && !s.of.Several) {
		events = append(events[:len(events):len(events)], job.Event{Kind: job.JobHandedOver, Data: job.HandedOver{To: s.of.ID, By: s.who.Person, On: opened.Opened, Reason: "begun here"}})
	}
	for _, e := range c.Events {
		d, is := doingOf(e)
		on := s.onJob("new")
		on.Stage, on.Author, on.Authors = right.Draft, s.who.Person, []string{s.who.Person}
		if !is {
			return Head{}, notWritten("begin", e)
		}
		if _, err := s.may(d.act, on, d.keeps...); err != nil {
			return Head{}, err
		}
	}
	if err := errors.Join(keepsBeginning(id, c.Events), keepsProposals(c.Events, &job.Stored{}, s.who.Person)); err != nil {
		return Head{}, err
	}
	for _, f := range c.Files {
		if err := s.bring(ctx, f); err != nil {
			return Head{}, err
		}
	}
	if err := s.mayName(ctx, events); err != nil {
		return Head{}, err
	}
	if err := s.fitsNew(ctx, id, c); err != nil {
		return Head{}, err
	}
	return s.In.Create(ctx, id, Change{Key: c.Key, By: s.who.Person, Events: events, Wants: append(slices.Clone(c.Wants), s.App.wantsNext(s.In, id, s.who.Person)...)})
}

// own refuses a name that a job of another shop has: as one that nobody may give here.
func (s *As) own(ctx context.Context, id string) error {
	owner, err := s.In.OwnerOf(ctx, id)
	switch {
	case diag.KindOf(err) == diag.NotFound:
		return nil
	case err == nil && !s.owns(owner):
		return &diag.Error{Kind: diag.Conflict, Op: "begin", Subject: id, Msg: "there is a stored job of that name already", Hint: "give another name"}
	}
	return err
}

// fitsNew holds a job to be begun against the body and the shop it names.
func (s *As) fitsNew(ctx context.Context, id string, c Changing) error {
	state, err := job.Fold(c.Events)
	if err != nil {
		return err
	}
	if problems := state.Validate(); len(problems) > 0 {
		problems.Sort()
		return problems
	}
	a := s.reading(nil)
	_, err = while(ctx, func(w *halt.Work) (struct{}, error) {
		o := &Opened{From: id, store: s.In, storeID: id, alone: true, Job: &state}
		if err := o.standsAlone(&state); err != nil {
			return struct{}{}, err
		}
		shelf := newShelf()
		if err := a.bodyOf(w, shelf, o, id); err != nil {
			return struct{}{}, err
		}
		if err := a.shopOf(w, shelf, o, id); err != nil {
			return struct{}{}, err
		}
		return struct{}{}, a.fits(o, id)
	})
	if err == nil {
		err = s.App.keepEvidence(ctx, &Opened{From: id, store: s.In, storeID: id, alone: true}, Recorded{Events: c.Events, Files: c.Files})
	}
	return err
}

// SentWrong is an error of what somebody sent: where its hashes do not fit, nothing that is kept is damaged.
type SentWrong struct{ Is error }

func (s *SentWrong) Error() string { return s.Is.Error() }
func (s *SentWrong) Unwrap() error { return s.Is }

// Bring begins a job with the events of another store as they are. What stands in them was judged there, by others: so it is for whoever
// looks after the store.
func (s *As) Bring(ctx context.Context, id string, lines []job.Line) (Head, error) {
	if _, err := s.may(right.LookAfterStore, s.inShop()); err != nil {
		return Head{}, err
	}
	if err := s.newJobName(ctx, id); err != nil {
		return Head{}, err
	}
	if err := s.own(ctx, id); err != nil {
		return Head{}, err
	}
	c := job.ChainOf(lines)
	if _, err := job.Read(c); err != nil {
		return Head{}, &SentWrong{err}
	}
	owner, _, err := job.HandedTo(c)
	if err == nil && !s.owns(owner) {
		err = &diag.Error{Kind: diag.Invalid, Op: "bring", Subject: id, Msg: fmt.Sprintf("its events hand it over to %q, and this is shop %s", owner, s.of.ID), Hint: "hand it over there first"}
	}
	library, evidence, paths, bad := job.Contents(c)
	if err == nil {
		err = bad
	}
	for _, hash := range append(library, evidence...) {
		if err == nil {
			err = s.knowsContent(ctx, hash)
		}
	}
	if err == nil && len(paths) > 0 {
		err = &diag.Error{Kind: diag.Invalid, Op: "bring", Subject: id, Msg: "it names a body or shop by a path", Hint: "bring a stored job"}
	}
	if err != nil {
		return Head{}, err
	}
	return s.In.Bring(ctx, id, lines)
}

// SetAside keeps the files that a job of the shop was written in by hand, also before it is begun; and Aside is them.
func (s *As) SetAside(ctx context.Context, id string, files map[string][]byte) error {
	if err := s.setsAside(ctx, id); err != nil {
		return err
	}
	if _, err := s.may(right.BeginJob, s.inShop()); err != nil {
		return err
	}
	return s.In.SetAside(ctx, id, files)
}

// setsAside says whether a job is the shop's, or could be begun by it. Names that it could not give are not there, whoever has given them.
func (s *As) setsAside(ctx context.Context, id string) error {
	owner, err := s.In.OwnerOf(ctx, id)
	switch {
	case err == nil && s.owns(owner):
		_, err := s.may(right.SeeJob, s.onJob(id))
		return err
	case err == nil || diag.KindOf(err) == diag.NotFound:
		err = s.newJobName(ctx, id)
	}
	if diag.KindOf(err) == diag.Invalid && err != nil {
		return &diag.Error{Kind: diag.NotFound, Op: "open", Msg: "there is no such thing, or it is not for you", Hint: "names of jobs to be begun here begin with " + s.of.ID + "-"}
	}
	if err == nil {
		err = s.own(ctx, id)
	}
	return err
}

// Aside is the files that a job was written in by hand.
func (s *As) Aside(ctx context.Context, id string) (map[string][]byte, error) {
	if _, err := s.job(ctx, id, right.DownloadJob); err != nil {
		return nil, err
	}
	return s.In.Aside(ctx, id)
}

// Index changes what a list shows of a job beside its events; whoever plans it says so.
func (s *As) Index(ctx context.Context, id string, at int64, change func(was Shown) Shown) error {
	if _, err := s.job(ctx, id, right.DescribeVehicle); err != nil {
		return err
	}
	err := s.In.Index(ctx, id, at, func(was Shown) Shown {
		now := change(was)
		now.Waits, now.On, now.Act, now.Since, now.Judged = "", "", "", "", "" // of an older event, and would stand there as of this one
		return now
	})
	for _, w := range s.App.wantsNext(s.In, id, s.who.Person) {
		if err == nil {
			_, err = s.In.Want(ctx, w)
		}
	}
	return err
}

// Hears says whether they may be told that a job which belongs to a shop has moved: whoever sees it in the list may.
func (s *As) Hears(owner string) bool {
	_, err := s.may(right.SeeJobs, s.inShop(), right.OnlyListed)
	return err == nil && s.owns(owner)
}
