package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/right"
	"fettle/internal/unit"
)

// Kept is what a service for several people stands on.
type Kept interface {
	Store
	Lists
	Shops
	Tasks
}

// Service is everything that people of a group may have done. Whoever serves them reaches a use case through As alone.
type Service struct {
	App     *App
	In      Kept
	Keeping Keeping   // looks after the store; nil: nothing does
	Uploads *Uploader // nil: files are not taken in pieces
	Rights  right.Matrix
	Now     func() time.Time
	IsShop  func(ctx context.Context, id string) (bool, error) // says whether the group has a shop; nil: it has one alone
}

// Shop is the shop that somebody works in.
type Shop struct {
	ID        string
	First     bool // jobs that were never handed over are its
	Several   bool // the group has others
	Everybody bool // all its people see all its jobs
	Alone     bool // one person does what else two have to
}

// As is the service for one person in one shop. Every method asks first whether they may.
type As struct {
	Service
	who right.Who
	of  Shop
	at  int64 // number of the event up to which jobs are wanted; 0: as they stand
}

// As is the service for somebody in the shop they work in.
func (s Service) As(w right.Who, of Shop) *As { return &As{Service: s, who: w, of: of} }

// Who is whom it is the service for.
func (s *As) Who() right.Who { return s.who }

// nothing is the error for what is not there, and for what they may not know of: nobody can tell the one from the other.
func nothing() error {
	return &diag.Error{Kind: diag.NotFound, Op: "open", Msg: "there is no such thing, or it is not for you"}
}

// hidden makes what is not there, and names that nothing can have, the same error.
func hidden(err error) error {
	switch diag.KindOf(err) {
	case diag.NotFound, diag.Invalid:
		return nothing()
	}
	return err
}

// owners are those of the jobs of the shop.
func (s *As) owners() []string {
	if s.of.First {
		return []string{"", s.of.ID}
	}
	return []string{s.of.ID}
}

// owns says whether jobs of an owner are the shop's.
func (s *As) owns(owner string) bool { return slices.Contains(s.owners(), owner) }

// may says whether they may do something, within limits that whoever asks keeps. Others refuse.
func (s *As) may(a right.Act, on right.On, keeps ...right.Limit) (right.Verdict, error) {
	v := s.Rights.May(s.who, a, on)
	if err := v.Err(a, "", nothing()); err != nil {
		if v.Answer == right.Refused {
			err = &Refusal{err, v.Code()}
		}
		return v, err
	}
	for _, l := range v.Limits {
		if !slices.Contains(keeps, l) {
			return v, &Refusal{&diag.Error{Kind: diag.Denied, Op: string(a), Msg: fmt.Sprintf("one may %s here %s, and this is more", a, l), Hint: "ask an administrator who may"}, Limited}
		}
	}
	return v, nil
}

// Limited is the code of what is refused because it goes beyond a limit.
const Limited right.Code = "right.limited"

// Refusal is an error of kind diag.Denied with the code of what would have to hold.
type Refusal struct {
	Is   error
	Code right.Code
}

func (r *Refusal) Error() string { return r.Is.Error() }
func (r *Refusal) Unwrap() error { return r.Is }

// inShop is what an act is about that is about the shop, the group or nothing.
func (s *As) inShop() right.On { return right.On{Shop: s.of.ID, Person: s.who.Person} }

// onJob is what is known of a job of the shop before it is read.
func (s *As) onJob(id string) right.On {
	return right.On{Shop: s.of.ID, Job: id, To: s.at, Everybody: s.of.Everybody, Alone: s.of.Alone}
}

// job says whether they may do something about a job: which has to be one of the shop.
func (s *As) job(ctx context.Context, id string, a right.Act, keeps ...right.Limit) (right.Verdict, error) {
	owner, err := s.In.OwnerOf(ctx, id)
	if err != nil {
		return right.Verdict{}, hidden(err)
	}
	if !s.owns(owner) {
		return right.Verdict{}, nothing()
	}
	return s.may(a, s.onJob(id), keeps...)
}

// knows says whether the shop may know of bytes or a content: a job of it has named them, or it has brought them.
func (s *As) knows(ctx context.Context, hash string) error {
	named, err := s.In.Named(ctx, s.owners(), hash)
	if err != nil || named {
		return err
	}
	brought, err := s.In.HasBrought(ctx, s.of.ID, hash)
	if err == nil && !brought {
		err = nothing()
	}
	return err
}

// upTo is a store that shows a job as it was at an event.
type upTo struct {
	Store
	to int64
}

func (u upTo) Load(ctx context.Context, id string, after int64) (ledger.Chain, error) {
	c, err := u.Store.Load(ctx, id, 0)
	if err == nil && int64(len(c)) < u.to {
		err = nothing() // there is no such revision
	}
	if err != nil {
		return nil, err
	}
	return c[min(max(0, after), u.to):u.to], nil
}

func (u upTo) Head(ctx context.Context, id string) (Head, error) {
	c, err := u.Load(ctx, id, 0)
	if err != nil {
		return Head{}, err
	}
	seq, hash := c.Head()
	return Head{seq, hash}, nil
}

// from is the store as they see it.
func (s *As) from() Store {
	if s.at > 0 {
		return upTo{s.In, s.at}
	}
	return s.In
}

// reading is the service with files of a request, and jobs of the store by their names.
func (s *As) reading(files map[string][]byte, jobs ...string) *App {
	own := *s.App
	all := keptFiles{}
	for name, data := range files {
		all[name] = data
	}
	for _, id := range jobs {
		all[id+"/"+job.EventsFile] = nil
	}
	own.files, own.cache = all, nil
	own.stores = func(place string) (Store, string) { return s.from(), place }
	return &own
}

// open opens a job that they may do something about.
func (s *As) open(ctx context.Context, id string, a right.Act, keeps ...right.Limit) (*App, *Opened, error) {
	if _, err := s.job(ctx, id, a, keeps...); err != nil {
		return nil, nil, err
	}
	app := s.reading(nil, id)
	c, err := app.Open(ctx, id)
	return app, c, err
}

// Day is a day that is given as year-month-day, at noon; now unless given.
func (s *As) Day(given string) (time.Time, error) {
	if given == "" {
		return s.Now(), nil
	}
	t, err := time.Parse("2006-01-02", given)
	if err != nil {
		return t, &diag.Error{Kind: diag.Usage, Op: "read the day", Subject: given, Msg: "is not a date", Hint: "write year-month-day, for example 2026-11-26"}
	}
	return t.Add(12 * time.Hour), nil
}

// assessed opens a job and assesses it as of a day.
func (s *As) assessed(ctx context.Context, id, on string, a right.Act, keeps ...right.Limit) (*App, *Opened, Assessment, error) {
	made, err := s.Day(on)
	if err != nil {
		return nil, nil, Assessment{}, err
	}
	app, c, err := s.open(ctx, id, a, keeps...)
	if err != nil {
		return nil, nil, Assessment{}, err
	}
	r, err := app.AssessOpened(ctx, c, made)
	return app, c, r, err
}

// all says whether they may do something about each of some jobs.
func (s *As) all(ctx context.Context, ids []string, a right.Act) error {
	for _, id := range ids {
		if _, err := s.job(ctx, id, a); err != nil {
			return err
		}
	}
	return nil
}

// today is the day that a person means who gives none.
func (s *As) today(given string) (unit.Date, error) {
	t, err := s.Day(given)
	return unit.DateOf(t), err
}

var errNotServed = errors.New("nothing of it is served here")

// notServed refuses what whoever made the service has left out.
func notServed(op string) error {
	return &diag.Error{Kind: diag.Unsupported, Op: op, Msg: errNotServed.Error()}
}
