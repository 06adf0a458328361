package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/right"
)

// At is the service for jobs as they were at an event, and as somebody outside the shop is shown them. A reader from outside has no other.
func (s *As) At(event int64) *As {
	own := *s
	own.at = event
	return &own
}

// Sealing is what a link to a job as it stands is made of.
type Sealing struct {
	On   right.On // the job as the matrix is asked about it
	To   int64    // number of its newest event
	Day  string   // on which it is judged
	Seal string   // hash of what is shown of it
}

// Seal is a job as it stands now, for a link to it. How far it is, is that of the event that is shown.
func (s *As) Seal(ctx context.Context, id string) (Sealing, error) {
	on, stored, err := s.standing(ctx, id)
	if err != nil {
		return Sealing{}, err
	}
	if _, err := s.may(right.MakeLink, on); err != nil { // before anything is computed
		return Sealing{}, err
	}
	out := Sealing{On: on, To: stored, Day: s.Now().UTC().Format(time.DateOnly)}
	_, _, r, err := s.At(out.To).shown(ctx, id, right.ReadReport, out.Day)
	if err != nil {
		return Sealing{}, err
	}
	out.Seal, err = sealOf(r)
	return out, err
}

// OnJob is a job of the shop as the matrix is asked about it; what is not there and what is another's are the same.
func (s *As) OnJob(ctx context.Context, id string) (right.On, error) {
	on, _, err := s.standing(ctx, id)
	return on, err
}

func (s *As) standing(ctx context.Context, id string) (right.On, int64, error) {
	owner, err := s.In.OwnerOf(ctx, id)
	if err == nil && !s.owns(owner) {
		err = nothing()
	}
	if err != nil {
		return right.On{}, 0, hidden(err)
	}
	chain, err := s.In.Load(ctx, id, 0)
	if err != nil {
		return right.On{}, 0, hidden(err)
	}
	stored, err := s.App.bodies.chains().Read(chain)
	if err != nil {
		return right.On{}, 0, err
	}
	on := s.onJob(id)
	on.Stage = StageOf(stored)
	head, _ := stored.Head()
	return on, head, nil
}

// sealOf is the hash of an assessment, whichever release of the program made it.
func sealOf(r Assessment) (string, error) {
	r.Version, r.Build = "", Build{}
	text, err := json.Marshal(r)
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:]), err
}

// shown opens a revision as somebody outside is shown it, and assesses it as of a day.
func (s *As) shown(ctx context.Context, id string, a right.Act, day string) (*App, *Opened, Assessment, error) {
	if _, err := s.job(ctx, id, a, right.OnlyRolesAndIDs); err != nil {
		return nil, nil, Assessment{}, err
	}
	if s.at < 1 {
		return nil, nil, Assessment{}, nothing()
	}
	made, err := s.Day(day)
	if err != nil {
		return nil, nil, Assessment{}, err
	}
	app := s.reading(nil, id)
	c, err := while(ctx, func(w *halt.Work) (*Opened, error) {
		c, err := app.openParts(w, &Opened{From: id, store: s.from(), storeID: id, alone: true}, newShelf())
		if err == nil {
			err = c.cutDown()
		}
		if err != nil {
			return nil, err
		}
		return c, app.crossCheck(w, c)
	})
	if err != nil {
		return nil, nil, Assessment{}, s.unshown(err)
	}
	r, err := app.AssessOpened(ctx, c, made)
	return app, c, r, err
}

// unshown is why a revision cannot be opened, for a reader from outside: faults of documents say what stands in them.
func (s *As) unshown(err error) error {
	if s.who.Link.ID == "" || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	switch diag.KindOf(err) {
	case diag.NotFound:
		return nothing()
	case diag.Unavailable:
		return &diag.Error{Kind: diag.Unavailable, Op: "open", Msg: "the store does not answer now", Hint: "try again"}
	}
	return notAsSealed()
}

func notAsSealed() error {
	return &diag.Error{Kind: diag.Conflict, Op: "open", Msg: "what this link was made for cannot be shown any more as it was", Hint: "ask the shop for a new link"}
}

// opened is what a reader is shown; it has to be what the link was made for.
func (s *As) opened(ctx context.Context, id string, a right.Act) (*App, *Opened, Assessment, error) {
	app, c, r, err := s.shown(ctx, id, a, s.day())
	if err == nil && s.who.Link.ID != "" {
		var seal string
		if seal, err = sealOf(r); err == nil && seal != s.who.Link.Seal {
			err = notAsSealed()
		}
	}
	return app, c, r, err
}

// day is the day that a revision is judged on: the one of the link, and for people of the shop today.
func (s *As) day() string {
	if s.who.Link.ID != "" && s.who.Link.Day != "" {
		return s.who.Link.Day
	}
	return s.Now().UTC().Format(time.DateOnly)
}

// OutsideAssessment is what is computed of a revision, as it is shown outside.
func (s *As) OutsideAssessment(ctx context.Context, id string) (Assessment, error) {
	_, _, r, err := s.opened(ctx, id, right.ReadReport)
	return r, err
}

// OutsideReport is the report of a revision, as it is shown outside.
func (s *As) OutsideReport(ctx context.Context, id string) ([]byte, error) {
	a, c, r, err := s.opened(ctx, id, right.ReadReport)
	if err != nil {
		return nil, err
	}
	return a.Report(ctx, c, r, true)
}

// OutsideOwner is the page of a revision for whom the vehicle belongs to.
func (s *As) OutsideOwner(ctx context.Context, id string) ([]byte, error) {
	a, c, r, err := s.opened(ctx, id, right.ReadReport)
	if err != nil {
		return nil, err
	}
	return a.OwnerPage(ctx, c, r)
}

// OutsideEvent is an event of a revision: when, of what kind, by whom, and its hash.
type OutsideEvent struct {
	Seq  int64  `json:"seq"`
	At   string `json:"at"`
	What string `json:"what"`
	By   string `json:"by"` // somebody, by a number
	Hash string `json:"hash"`
}

// OutsideHistory is the events of a revision, without what stands in them.
func (s *As) OutsideHistory(ctx context.Context, id string) ([]OutsideEvent, error) {
	if _, err := s.job(ctx, id, right.ReadHistory, right.OnlyRolesAndIDs, right.OnlyNoContents); err != nil {
		return nil, err
	}
	if s.at < 1 {
		return nil, nothing()
	}
	chain, err := s.from().Load(ctx, id, 0)
	if err == nil {
		_, err = s.App.bodies.chains().Read(chain)
	}
	if err != nil {
		return nil, s.unshown(err)
	}
	people, out := map[string]string{}, make([]OutsideEvent, len(chain))
	for i, e := range chain {
		if people[e.By] == "" {
			people[e.By] = fmt.Sprintf("somebody-%d", len(people)+1)
		}
		out[i] = OutsideEvent{e.Seq, e.At, e.What, people[e.By], e.Hash}
	}
	return out, nil
}

// OutsideProof is what a revision is held against.
type OutsideProof struct {
	Head   Head   `json:"head"`   // its newest event; the hash holds all before
	Newer  bool   `json:"newer"`  // the job has events behind it
	Day    string `json:"day"`    // on which it is judged
	Seal   string `json:"seal"`   // hash of what is shown of it
	Holds  bool   `json:"holds"`  // the events are whole, and what is shown is what the link was made for
	Signed string `json:"signed"` // what the log is, signed
	Key    string `json:"key"`    // to hold that against
}

// OutsideVerify reads a revision anew, and says whether it is what it was.
func (s *As) OutsideVerify(ctx context.Context, id string) (OutsideProof, error) {
	_, _, r, err := s.shown(ctx, id, right.ReadReport, s.day())
	if err != nil {
		return OutsideProof{}, err
	}
	now, err := s.In.Head(ctx, id)
	if err != nil {
		return OutsideProof{}, hidden(err)
	}
	out := OutsideProof{Head: r.LastEvent.orNone(), Day: s.day()}
	out.Newer = now.Seq > out.Head.Seq
	if out.Seal, err = sealOf(r); err != nil {
		return OutsideProof{}, err
	}
	out.Holds = s.who.Link.ID == "" || out.Seal == s.who.Link.Seal
	if s.Keeping != nil {
		out.Signed, out.Key, err = s.Checkpoint(ctx, 0)
	}
	return out, err
}

// OutsideFiles is all that is shown of a revision in one file, with its pictures; where the link gives files.
func (s *As) OutsideFiles(ctx context.Context, id string) ([]byte, error) {
	a, c, r, err := s.opened(ctx, id, right.DownloadJob)
	if err != nil {
		return nil, err
	}
	report, err := a.Report(ctx, c, r, true)
	if err != nil {
		return nil, err
	}
	owner, err := a.OwnerPage(ctx, c, r)
	if err != nil {
		return nil, err
	}
	history, err := s.OutsideHistory(ctx, id)
	if err != nil {
		return nil, err
	}
	files := map[string][]byte{"report.html": report, "owner.html": owner}
	for name, v := range map[string]any{"history.json": history, AssessmentFile: r} {
		text, err := json.MarshalIndent(v, "", "  ")
		if err != nil {
			return nil, err
		}
		files[name] = append(text, '\n')
	}
	for i, p := range a.pictures(ctx, c) {
		if len(p.Data) > 0 {
			files[fmt.Sprintf("picture-%02d.jpg", i+1)] = p.Data
		}
	}
	return zipped(files, r.Made)
}
