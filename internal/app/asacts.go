package app

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/right"
)

// actOf is which act an event is, by its kind.
var actOf = map[job.EventKind]right.Act{
	job.JobOpened:         right.BeginJob,
	job.BodyNamed:         right.OpenRevision,
	job.ShopNamed:         right.OpenRevision,
	job.JobHandedOver:     right.HandOver,
	job.StartSet:          right.Plan,
	job.VehicleRecorded:   right.DescribeVehicle,
	job.ImpactRecorded:    right.DescribeVehicle,
	job.HazardRecorded:    right.DescribeVehicle,
	job.SetupRecorded:     right.RecordReadings,
	job.ReadingsTaken:     right.RecordReadings,
	job.WorkplaceMeasured: right.RecordReadings,
	job.FaultsRead:        right.RecordReadings,
	job.EvidenceAdded:     right.AddEvidence,
	job.InspectionMade:    right.RecordInspection,
	job.FindingRecorded:   right.EnterFindings,
	job.AreaInspected:     right.RecordInspection,
	job.AccessFound:       right.EnterFindings,
	job.EarlierRecorded:   right.EnterFindings,
	job.CastingRead:       right.EnterFindings,
	job.ProcedureChecked:  right.FileAnswer,
	job.QuestionAsked:     right.AskManufacturer,
	job.AnswerRecorded:    right.FileAnswer,
	job.FactsTold:         right.AskManufacturer,
	job.RiskGiven:         right.Plan,
	job.ChoiceMade:        right.Choose,
	job.TreatmentAccepted: right.Choose,
	job.DecisionsReviewed: right.Approve,
	job.BillAgreed:        right.Plan,
	job.StepDone:          right.RecordWork,
	job.FigureRead:        right.RecordWork,
	job.DeliveryRecorded:  right.RecordWork,
	job.PromiseRecorded:   right.Plan,
	job.RecordMade:        right.RecordInspection,
	job.VehicleHandedBack: right.Release,
	job.RecordWithdrawn:   right.WithdrawEntry,
	job.SentToReview:      right.SendToReview,
	job.RecordProposed:    right.EnterFindings,
	job.ErasureAgreedTo:   right.AgreeErasure,
	job.TextsErased:       right.CarryOutErasure,
}

// findingWord and erasureWord begin the names of findings and of agreements to an erasure.
const (
	findingWord = "finding/"
	erasureWord = "erasure-agreement/"
)

// doing is an act, and the limits that an event keeps of it.
type doing struct {
	act   right.Act
	keeps []right.Limit
}

// doingOf is which act an event is; false of a kind that is read and not written any more.
func doingOf(e job.Event) (doing, bool) {
	if e.Kind == job.RecordWithdrawn {
		for begins, a := range map[string]right.Act{findingWord: right.WithdrawFinding, job.OfHandBacks: right.Release, erasureWord: right.AgreeErasure} {
			if strings.HasPrefix(string(e.Of), begins) {
				return doing{act: a}, true
			}
		}
	}
	switch d := e.Data.(type) {
	case job.HandBack:
		if d.Reopened() {
			return doing{act: right.OpenRevision}, true
		}
	case job.Sending:
		switch {
		case d.Back():
			return doing{act: right.SendBack}, true
		case d.Part == job.Measurements:
			return doing{right.SendToReview, []right.Limit{right.OnlyMeasurements}}, true
		}
	case job.Proposal:
		return doingOfProposal(d), true
	}
	a, is := actOf[e.Kind]
	return doing{act: a}, is
}

// doingOfProposal: who proposes may do no more than that; who settles it has to be let enter what was proposed.
func doingOfProposal(p job.Proposal) doing {
	out := doing{act: right.EnterFindings}
	kind, is := p.ProposedKind()
	if is {
		out.act = actOf[kind]
	}
	if is && p.Open() {
		out.keeps = []right.Limit{right.OnlyProposals}
	}
	return out
}

// judged says whether they may make each of some events of a job, as it was before them. It is asked in the moment in which they are
// written: what it hangs on is so then.
func (s *As) judged(events []job.Event, before *job.Stored) error {
	if _, there := before.Record(job.OfOpening); there && !s.owns(before.Owner()) {
		return nothing()
	}
	on := s.onStored(before)
	for _, e := range events {
		d, is := doingAmong(e, events)
		if !is {
			return notWritten("write", e)
		}
		on := on
		on.Stage = stageOfRecord(before, on.Stage, about(e))
		on.Author = before.AuthorOf(about(e))
		if e.Kind == job.TextsErased {
			on.Agreed = agreedBy(before, e.Of, s.who.Person)
		}
		if _, err := s.may(d.act, on, d.keeps...); err != nil {
			return err
		}
	}
	if err := keepsReview(stateID(before), events, before); err != nil {
		return err
	}
	return keepsProposals(events, before, s.who.Person)
}

// onStored is what is known of a job as it stands.
func (s *As) onStored(of *job.Stored) right.On {
	on := s.onJob(stateID(of))
	on.Authors, on.Inspectors = authors(of, false), authors(of, true)
	on.Stage = StageOf(of)
	return on
}

func notWritten(op string, e job.Event) error {
	return &diag.Error{Kind: diag.Invalid, Op: op, Subject: string(e.Kind), Msg: "events of this kind are not written any more"}
}

// agreedBy is who has agreed to an erasure from a record: somebody else, where there is one.
func agreedBy(s *job.Stored, of job.RecordName, who string) string {
	all := s.ErasureAgreedBy(of)
	for _, by := range all {
		if by != who {
			return by
		}
	}
	return strings.Join(all, "")
}

// doingAmong is which act an event is among those that are written with it.
func doingAmong(e job.Event, events []job.Event) (doing, bool) {
	d, is := doingOf(e)
	if d.act == right.AddEvidence && holdsAnswer(e, events) {
		d.act = right.FileAnswer
	}
	return d, is
}

// holdsAnswer says whether a piece of evidence is the document of an answer that is filed with it: that is a part of filing it.
func holdsAnswer(e job.Event, events []job.Event) bool {
	doc, is := e.Data.(job.Evidence)
	return is && slices.ContainsFunc(events, func(x job.Event) bool {
		a, is := x.Data.(job.Answer)
		return is && a.Document == doc.ID && doc.ID != ""
	})
}

func about(e job.Event) job.RecordName {
	if e.Of != "" {
		return e.Of
	}
	return e.About()
}

// stateID is a name of a job for the matrix, which asks for one; which one was found out before.
func stateID(s *job.Stored) string {
	if d, ok := s.Record(job.OfOpening); ok {
		if o, is := d.(job.Opening); is && o.ID != "" {
			return o.ID
		}
	}
	return "new"
}

// authors are who has written anything of a job but what only reviews it: of its inspections, or of all else too. Who sent it to review is
// one, and who sent it back is not.
func authors(s *job.Stored, inspections bool) []string {
	var out []string
	for _, x := range s.Written() {
		of := actOf[x.Kind]
		if of == right.Approve || of == right.AgreeErasure || inspections && of != right.RecordInspection {
			continue
		}
		all := x.All
		if x.Kind == job.SentToReview {
			all = all[:1]
		}
		for _, by := range all {
			if !slices.Contains(out, by) {
				out = append(out, by)
			}
		}
	}
	return out
}

// StageOf is how far a job is, as its records say. What was sent to review is in review until it is approved, sent back or changed, and
// what was approved is so until it is changed or sent back: an approval counts where it names what it approves.
func StageOf(s *job.Stored) right.Stage {
	state := s.State()
	if _, is := state.HandedBack(); is {
		return right.Released
	}
	stage, worked, inspected := right.Draft, int64(0), int64(0)
	for _, x := range s.Written() {
		switch {
		case x.Gone:
		case x.Kind == job.ChoiceMade, x.Kind == job.TreatmentAccepted, x.Kind == job.BillAgreed:
			stage = right.Planned
		case x.Kind == job.StepDone:
			worked = max(worked, x.At)
		case x.Kind == job.RecordMade:
			inspected = max(inspected, x.At)
		}
	}
	_, sent := state.Sent(job.Whole)
	_, approved := state.Approved()
	switch {
	case sent && !approved:
		return right.InReview
	case worked > 0 && inspected > worked:
		return right.Inspected
	case worked > 0:
		return right.InRepair
	case approved:
		return right.Approved
	}
	return stage
}

// stageOfRecord is how far a record of a job is: what was measured may be in review before the rest.
func stageOfRecord(s *job.Stored, stage right.Stage, of job.RecordName) right.Stage {
	word, _, _ := strings.Cut(string(of), "/")
	if _, sent := s.State().Sent(job.Measurements); sent && (word == "setup" || word == "readings") && (stage == right.Draft || stage == right.Planned) {
		return right.InReview
	}
	return stage
}

// mayName says whether the shop may know of all that events name by its hash. A body is for the whole group.
func (s *As) mayName(ctx context.Context, events []job.Event) error {
	for _, e := range events {
		var err error
		switch d := e.Data.(type) {
		case job.Evidence:
			err = s.knows(ctx, d.SHA256)
		case job.Named:
			err = s.knowsContent(ctx, d.SHA256)
		case job.Opening:
			for _, name := range []string{d.Body, d.Shop} {
				if hash, is := job.NamedHash(name); is && err == nil {
					err = s.knowsContent(ctx, hash)
				}
			}
		case job.HandedOver:
			err = s.hasShop(ctx, d.To)
		}
		if diag.KindOf(err) == diag.NotFound {
			err = &diag.Error{Kind: diag.Invalid, Op: "write", Subject: string(e.About()), Msg: "it names something by a hash or a name that the shop does not have", Hint: "put the file or the body into the store first"}
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (s *As) hasShop(ctx context.Context, id string) error {
	if id == s.of.ID {
		return nil
	}
	if s.IsShop == nil {
		return nothing()
	}
	is, err := s.IsShop(ctx, id)
	if err == nil && !is {
		err = nothing()
	}
	return err
}

// Changing is a change as a person sends it.
type Changing struct {
	Key    string // of the change, for this alone
	Events []job.Event
	Files  []NewFile // evidence that comes with it
	Wants  []Wanted

	judged *Head // of a hand-back: the newest event that the gate had seen
}

// Change writes events into a job. They are judged one by one: what the person may, what the shop may know of, what body and shop allow.
func (s *As) Change(ctx context.Context, id string, c Changing) (Head, error) {
	if len(c.Events) == 0 {
		return Head{}, &diag.Error{Kind: diag.Invalid, Op: "write", Msg: "there are no events to write"}
	}
	if head, was, err := s.handedOverBefore(ctx, id, c); was || err != nil {
		return head, err
	}
	for _, e := range c.Events {
		if d, is := doingAmong(e, c.Events); is { // what hangs on nothing in the job is refused before it is read
			if v, err := s.job(ctx, id, d.act, d.keeps...); err != nil && len(v.Lacks) == 0 {
				return Head{}, err
			}
		}
	}
	if _, err := s.job(ctx, id, right.SeeJob); err != nil {
		return Head{}, err
	}
	for _, f := range c.Files {
		if err := s.bring(ctx, f); err != nil {
			return Head{}, err
		}
	}
	if err := s.mayName(ctx, c.Events); err != nil {
		return Head{}, err
	}
	a := s.reading(nil, id)
	opened, err := while(ctx, func(w *halt.Work) (*Opened, error) {
		return a.openFor(w, &Opened{From: id, store: s.In, storeID: id, alone: true}, c.Events)
	})
	if err != nil {
		return Head{}, err
	}
	return a.appendIf(ctx, opened, Recorded{Events: c.Events, Files: c.Files, Wants: c.Wants, judged: c.judged}, s.who.Person, c.Key, func(before, after *job.Stored) error {
		if err := s.judged(c.Events, before); err != nil {
			return err
		}
		if now := after.State(); now.Body != opened.Job.Body || now.Shop != opened.Job.Shop {
			return &diag.Error{Kind: diag.Conflict, Op: "write", Subject: id, Msg: "the job was given another body or shop meanwhile", Hint: "try again"}
		}
		return nil
	})
}

// handedOverBefore answers somebody who hands a job over once more, with the key by which they have: they are told what they were told then.
func (s *As) handedOverBefore(ctx context.Context, id string, c Changing) (Head, bool, error) {
	over := func(e job.Event) bool { return e.Kind == job.JobHandedOver }
	if c.Key == "" || !slices.ContainsFunc(c.Events, over) {
		return Head{}, false, nil
	}
	owner, err := s.In.OwnerOf(ctx, id)
	if err != nil || s.owns(owner) {
		return Head{}, false, hidden(err)
	}
	lines, err := s.In.Lines(ctx, id)
	if err != nil {
		return Head{}, false, hidden(err)
	}
	if !slices.ContainsFunc(lines, func(l job.Line) bool { return l.Change == c.Key && l.By == s.who.Person }) {
		return Head{}, false, nothing()
	}
	if _, err := s.may(right.HandOver, s.onJob(id)); err != nil {
		return Head{}, false, err
	}
	head, err := s.In.Append(ctx, id, Change{Key: c.Key, By: s.who.Person, Events: c.Events}, func(_, _ *job.Stored) error { return nothing() })
	return head, true, err
}

// bring keeps a file that comes with a change, and notes that the shop has it.
func (s *As) bring(ctx context.Context, f NewFile) error {
	hash, err := s.putBytes(ctx, f.Data)
	if err == nil {
		err = s.In.NoteBrought(ctx, s.of.ID, hash)
	}
	return err
}

// openFor reads a job with the body and the shop that it has after some events.
func (a *App) openFor(w *halt.Work, c *Opened, events []job.Event) (*Opened, error) {
	w.Begin(ReadingJob)
	if err := a.readJob(w, c); err != nil {
		return nil, err
	}
	next := *c.Job
	for _, e := range events {
		if d, is := e.Data.(job.Named); is {
			name := job.HashName(d.SHA256)
			if e.Kind == job.BodyNamed {
				next.Body = name
			} else {
				next.Shop = name
			}
		}
	}
	c.Job = &next
	w.Begin(ReadingBody)
	shelf := newShelf()
	if err := a.bodyOf(w, shelf, c, c.From); err != nil {
		return nil, err
	}
	return c, a.shopOf(w, shelf, c, c.From)
}

// newJobName says how jobs of a shop of several are called: by its name, and by no longer one that another shop has.
func (s *As) newJobName(ctx context.Context, id string) error {
	if !s.of.Several {
		return nil
	}
	own := strings.HasPrefix(id, s.of.ID+"-")
	for i := len(s.of.ID) + 1; own && i < len(id); i++ {
		if id[i] != '-' || s.IsShop == nil {
			continue
		}
		other, err := s.IsShop(ctx, id[:i])
		if err != nil {
			return err
		}
		own = !other
	}
	if !own {
		return &diag.Error{Kind: diag.Invalid, Op: "begin", Subject: id, Msg: fmt.Sprintf("the names of jobs begin with the name of their shop, here %s-", s.of.ID), Hint: "call it " + s.of.ID + "-" + id}
	}
	return nil
}
