package job

import (
	"fmt"
	"reflect"

	"fettle/internal/diag"
	"fettle/internal/unit"
)

// EventKind is the kind of an event. The list is append-only: chains written
// by earlier releases are read for ever.
type EventKind string

// Kinds of event. Recording something again under the same identity takes the
// place of the earlier record in the state; both stay in the chain.
const (
	JobOpened         EventKind = "job-opened"
	VehicleRecorded   EventKind = "vehicle-recorded"
	ImpactRecorded    EventKind = "impact-recorded"
	HazardRecorded    EventKind = "hazard-recorded"
	SetupRecorded     EventKind = "setup-recorded"
	ReadingsRecorded  EventKind = "readings-recorded"
	ReadingsDropped   EventKind = "readings-withdrawn"
	FindingRecorded   EventKind = "finding-recorded"
	FindingDropped    EventKind = "finding-withdrawn"
	AreaInspected     EventKind = "area-inspected"
	AccessFound       EventKind = "access-found"
	EarlierRecorded   EventKind = "earlier-repair-recorded"
	EvidenceAdded     EventKind = "evidence-added"
	AnswerRecorded    EventKind = "answer-recorded"
	ChoiceMade        EventKind = "choice-made"
	ProcedureChecked  EventKind = "procedure-checked"
	QuestionAsked     EventKind = "question-asked"
	TreatmentAccepted EventKind = "treatment-accepted"
	DecisionsReviewed EventKind = "decisions-reviewed"
	RecordMade        EventKind = "record-made"
	RiskGiven         EventKind = "risk-given"
	BillAgreed        EventKind = "bill-agreed"
	StepDone          EventKind = "step-done"
	InspectionMade    EventKind = "inspection-made"
	CastingRead       EventKind = "casting-read"
	WorkplaceMeasured EventKind = "workplace-measured"
	FactsTold         EventKind = "facts-told"
	FigureRead        EventKind = "figure-read"
	FaultsRead        EventKind = "faults-read"
	StepDropped       EventKind = "step-withdrawn"
	DeliveryRecorded  EventKind = "delivery-recorded"
	DeliveryDropped   EventKind = "delivery-withdrawn"
	PromiseRecorded   EventKind = "promise-recorded"
	PromiseDropped    EventKind = "promise-withdrawn"
	ReadingsTaken     EventKind = "readings-taken"
	BodyNamed         EventKind = "body-named"
	ShopNamed         EventKind = "shop-named"
	StartSet          EventKind = "start-set"
	JobHandedOver     EventKind = "job-handed-over"
	RecordWithdrawn   EventKind = "withdrawn"
	TextsErased       EventKind = "texts-erased"
	VehicleHandedBack EventKind = "vehicle-handed-back"
	RecordProposed    EventKind = "record-proposed"
	SentToReview      EventKind = "sent-to-review"
	ErasureAgreedTo   EventKind = "erasure-agreed"
)

// Kinds is every kind of event this program knows.
func Kinds() []EventKind {
	var out []EventKind
	for _, s := range sorts {
		out = append(out, s.kind)
	}
	return append(append(out, RecordWithdrawn, TextsErased, ReadingsRecorded),
		ReadingsDropped, FindingDropped, StepDropped, DeliveryDropped, PromiseDropped)
}

// Event is one thing that happened to a job. Data is the value type that belongs to the
// kind: that of a record, Withdrawal or Erasure; Taken and Withdrawn are of kinds that
// earlier releases wrote.
type Event struct {
	Kind EventKind
	Data any
	Of   RecordName // the record it is about, where the data do not say it: one without identity, one withdrawn
	Seen int64      // number of the newest event about that record that its author had before them; 0: none
}

// Opening is the data of job-opened.
type Opening struct {
	Format   string    `doc:"format,required" help:"the line 'fettle-job 1'" oneof:"fettle-job 1"`
	ID       string    `doc:"id,required"`
	Invented bool      `doc:"invented"`
	Body     string    `doc:"body,required" help:"of a stored job: 'sha256:' and the hash of its content"`
	Shop     string    `doc:"shop,required" help:"likewise"`
	Opened   unit.Date `doc:"opened,required"`
	Start    unit.Date `doc:"start,required"`
	Author   string    `doc:"author,required" personal:"yes"`
	Seed     int       `doc:"search_seed"`
}

// Taken is the data of readings-recorded, which earlier releases wrote: readings added to
// those there are.
type Taken struct {
	Readings []Reading `doc:"readings,required"`
}

// Withdrawn is the data of the kinds of earlier releases that end on -withdrawn.
type Withdrawn struct {
	ID     string    `doc:"id,required" help:"the set-up, the finding, or the record of work, of a delivery or of a promise"`
	By     string    `doc:"by,required" personal:"yes"`
	On     unit.Date `doc:"on,required"`
	Reason string    `doc:"reason,required" personal:"yes"`
}

// eventType is the type of an event's data; nil for an unknown kind.
func eventType(k EventKind) reflect.Type {
	if i, ok := byKind[string(k)]; ok {
		return sorts[i].data
	}
	switch _, earlier := earlierKinds[k]; {
	case earlier:
		return reflect.TypeFor[Withdrawn]()
	case k == ReadingsRecorded:
		return reflect.TypeFor[Taken]()
	case k == RecordWithdrawn:
		return reflect.TypeFor[Withdrawal]()
	case k == TextsErased:
		return reflect.TypeFor[Erasure]()
	}
	return nil
}

// FromState makes the events that add up to a state. A state has no history: who recorded
// each thing, and when, is not in it.
func FromState(s State) []Event {
	out := []Event{
		{Kind: JobOpened, Data: Opening{s.Format, s.ID, s.Invented, s.Body, s.Shop, s.Opened, s.Start, s.Author, s.Seed}},
		{Kind: VehicleRecorded, Data: s.Vehicle},
		{Kind: ImpactRecorded, Data: s.Impact},
	}
	v := reflect.ValueOf(s)
	for _, k := range sorts {
		if k.kind == ReadingsTaken {
			out = append(out, bySetup(s.Readings)...)
			continue
		}
		if k.list == "" {
			continue
		}
		list, n := v.Field(fieldOf(k.list)), 0
		for i := range list.Len() {
			e := Event{Kind: k.kind, Data: list.Index(i).Interface()}
			if e.About() == "" {
				n++
				e.Of = k.numbered(n)
			}
			out = append(out, e)
		}
	}
	return out
}

// bySetup is an event for the readings of each set-up, in the order of their first ones.
func bySetup(all []Reading) []Event {
	var of []Readings
	at := map[string]int{}
	for _, r := range all {
		k, ok := at[r.Setup]
		if !ok {
			k, of = len(of), append(of, Readings{Setup: r.Setup})
			at[r.Setup] = k
		}
		r.Line = 0 // of a file, which an event has not
		of[k].Readings = append(of[k].Readings, r)
	}
	out := make([]Event, len(of))
	for i, x := range of {
		out[i] = Event{Kind: ReadingsTaken, Data: x}
	}
	return out
}

// Fold adds the events up to the state of the job.
func Fold(events []Event) (State, error) {
	var s Stored
	for i, e := range events {
		if err := s.apply(e, int64(i)+1); err != nil {
			return State{}, &diag.Error{Kind: diag.Invalid, Op: "job.Fold",
				Subject: fmt.Sprintf("event %d (%s)", i+1, e.Kind), Msg: err.Error(), Err: err}
		}
	}
	if len(events) == 0 {
		return State{}, &diag.Error{Kind: diag.Invalid, Op: "job.Fold", Subject: "job", Msg: "it has no events"}
	}
	return *s.State(), nil
}
