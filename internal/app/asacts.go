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
	job.TextsErased:       right.CarryOutErasure,
}

// findingWord begins the names of findings.
const findingWord = "finding/"

// actFor is which act an event is; false of a kind that is read and not written any more.
func actFor(e job.Event) (right.Act, bool) {
	if e.Kind == job.RecordWithdrawn && strings.HasPrefix(string(e.Of), findingWord) {
		return right.WithdrawFinding, true
	}
	if e.Kind == job.RecordWithdrawn && strings.HasPrefix(string(e.Of), job.OfHandBacks) {
		return right.Release, true
	}
	if h, is := e.Data.(job.HandBack); is && h.Reopened() {
		return right.OpenRevision, true
	}
	a, is := actOf[e.Kind]
	return a, is
}

// judged says whether they may make each of some events of a job, as it was before them. It is asked in the moment in which they are
// written: what it hangs on is so then.
func (s *As) judged(events []job.Event, before *job.Stored) error {
	if _, there := before.Record(job.OfOpening); there && !s.owns(before.Owner()) {
		return nothing()
	}
	for _, e := range events {
		a, is := actAmong(e, events)
		if !is {
			return &diag.Error{Kind: diag.Invalid, Op: "write", Subject: string(e.Kind), Msg: "events of this kind are not written any more"}
		}
		on := s.onJob(stateID(before))
		on.Stage = StageOf(before)
		on.Authors, on.Inspectors = authors(before, false), authors(before, true)
		on.Author = before.AuthorOf(about(e))
		if _, err := s.may(a, on); err != nil {
			return err
		}
	}
	return nil
}

// actAmong is which act an event is among those that are written with it.
func actAmong(e job.Event, events []job.Event) (right.Act, bool) {
	a, is := actFor(e)
	if a == right.AddEvidence && holdsAnswer(e, events) {
		a = right.FileAnswer
	}
	return a, is
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

// authors are who has written anything of a job but what only reviews it: of its inspections, or of all else too.
func authors(s *job.Stored, inspections bool) []string {
	var out []string
	for _, x := range s.Written() {
		if of := actOf[x.Kind]; of == right.Approve || inspections && of != right.RecordInspection {
			continue
		}
		for _, by := range x.All {
			if !slices.Contains(out, by) {
				out = append(out, by)
			}
		}
	}
	return out
}

// StageOf is how far a job is, as far as its records say. That a job was sent to review is no event yet, and
// never taken for so; that its vehicle was handed back is.
func StageOf(s *job.Stored) right.Stage {
	stage := right.Draft
	if _, is := s.State().HandedBack(); is {
		return right.Released
	}
	for _, x := range s.Written() {
		switch x.Kind {
		case job.ChoiceMade, job.TreatmentAccepted, job.BillAgreed:
			stage = further(stage, right.Planned)
		case job.DecisionsReviewed:
			stage = further(stage, right.Approved)
		case job.StepDone:
			stage = further(stage, right.InRepair)
		}
	}
	return stage
}

func further(a, b right.Stage) right.Stage {
	all := right.Stages()
	if slices.Index(all, b) > slices.Index(all, a) {
		return b
	}
	return a
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
	for _, e := range c.Events {
		if a, is := actAmong(e, c.Events); is { // what hangs on nothing in the job is refused before it is read
			if v, err := s.job(ctx, id, a); err != nil && len(v.Lacks) == 0 {
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
