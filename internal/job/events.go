package job

import (
	"fmt"
	"reflect"
	"slices"

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
	StepDropped       EventKind = "step-withdrawn"
	DeliveryRecorded  EventKind = "delivery-recorded"
	DeliveryDropped   EventKind = "delivery-withdrawn"
	PromiseRecorded   EventKind = "promise-recorded"
	PromiseDropped    EventKind = "promise-withdrawn"
)

// Kinds is every kind of event this program knows.
func Kinds() []EventKind {
	return []EventKind{JobOpened, VehicleRecorded, ImpactRecorded, HazardRecorded, SetupRecorded,
		ReadingsRecorded, ReadingsDropped, FindingRecorded, FindingDropped, AreaInspected,
		EarlierRecorded, EvidenceAdded, AnswerRecorded, ChoiceMade, ProcedureChecked,
		QuestionAsked, TreatmentAccepted, DecisionsReviewed, RecordMade, RiskGiven, BillAgreed, StepDone, InspectionMade,
		CastingRead, WorkplaceMeasured, FactsTold, FigureRead, StepDropped,
		DeliveryRecorded, DeliveryDropped, PromiseRecorded, PromiseDropped}
}

// Event is one thing that happened to a job. Data is the value type that
// belongs to the kind: Opening, Vehicle, Impact, Hazard, Setup, Taken,
// Withdrawn, Finding, AreaSeen, Earlier, Evidence, Answer, Choice, Check, Asked,
// Accepted, Review, Record, Risk, Agreed, Actual, Inspection, Cast,
// Climate, Told, Figure, Arrival or Promised.
type Event struct {
	Kind EventKind
	Data any
}

// Opening is the data of job-opened.
type Opening struct {
	Format   string    `doc:"format,required" help:"the line 'fettle-job 1'" oneof:"fettle-job 1"`
	ID       string    `doc:"id,required"`
	Invented bool      `doc:"invented"`
	Body     string    `doc:"body,required"`
	Shop     string    `doc:"shop,required"`
	Opened   unit.Date `doc:"opened,required"`
	Start    unit.Date `doc:"start,required"`
	Author   string    `doc:"author,required"`
	Seed     int       `doc:"search_seed"`
}

// Taken is the data of readings-recorded: readings added to those there are.
type Taken struct {
	Readings []Reading `doc:"readings,required"`
}

// Withdrawn is the data of the kinds that end on -withdrawn: all readings of a set-up, a
// finding, a record of work, a delivery or a promise were wrong and no longer count.
type Withdrawn struct {
	ID     string    `doc:"id,required" help:"the set-up, the finding, or the record of work, of a delivery or of a promise"`
	By     string    `doc:"by,required"`
	On     unit.Date `doc:"on,required"`
	Reason string    `doc:"reason,required"`
}

// eventType is the type of an event's data; nil for an unknown kind.
func eventType(k EventKind) reflect.Type {
	switch k {
	case JobOpened:
		return reflect.TypeFor[Opening]()
	case VehicleRecorded:
		return reflect.TypeFor[Vehicle]()
	case ImpactRecorded:
		return reflect.TypeFor[Impact]()
	case HazardRecorded:
		return reflect.TypeFor[Hazard]()
	case SetupRecorded:
		return reflect.TypeFor[Setup]()
	case ReadingsRecorded:
		return reflect.TypeFor[Taken]()
	case ReadingsDropped, FindingDropped, StepDropped, DeliveryDropped, PromiseDropped:
		return reflect.TypeFor[Withdrawn]()
	case FindingRecorded:
		return reflect.TypeFor[Finding]()
	case AreaInspected:
		return reflect.TypeFor[AreaSeen]()
	case EarlierRecorded:
		return reflect.TypeFor[Earlier]()
	case EvidenceAdded:
		return reflect.TypeFor[Evidence]()
	case AnswerRecorded:
		return reflect.TypeFor[Answer]()
	case ChoiceMade:
		return reflect.TypeFor[Choice]()
	case ProcedureChecked:
		return reflect.TypeFor[Check]()
	case RiskGiven:
		return reflect.TypeFor[Risk]()
	case BillAgreed:
		return reflect.TypeFor[Agreed]()
	case StepDone:
		return reflect.TypeFor[Actual]()
	case QuestionAsked:
		return reflect.TypeFor[Asked]()
	case TreatmentAccepted:
		return reflect.TypeFor[Accepted]()
	case DecisionsReviewed:
		return reflect.TypeFor[Review]()
	case RecordMade:
		return reflect.TypeFor[Record]()
	case InspectionMade:
		return reflect.TypeFor[Inspection]()
	case CastingRead:
		return reflect.TypeFor[Cast]()
	case WorkplaceMeasured:
		return reflect.TypeFor[Climate]()
	case FactsTold:
		return reflect.TypeFor[Told]()
	case FigureRead:
		return reflect.TypeFor[Figure]()
	case DeliveryRecorded:
		return reflect.TypeFor[Arrival]()
	case PromiseRecorded:
		return reflect.TypeFor[Promised]()
	}
	return nil
}

// FromState makes the events that add up to a state.
func FromState(s State) []Event {
	out := []Event{
		{JobOpened, Opening{s.Format, s.ID, s.Invented, s.Body, s.Shop, s.Opened, s.Start, s.Author, s.Seed}},
		{VehicleRecorded, s.Vehicle},
		{ImpactRecorded, s.Impact},
	}
	out = appendEach(out, HazardRecorded, s.Hazards)
	out = appendEach(out, SetupRecorded, s.Setups)
	if len(s.Readings) > 0 {
		out = append(out, Event{ReadingsRecorded, Taken{s.Readings}})
	}
	out = appendEach(out, EvidenceAdded, s.Evidence)
	out = appendEach(out, InspectionMade, s.Looks)
	out = appendEach(out, FindingRecorded, s.Findings)
	out = appendEach(out, AreaInspected, s.Areas)
	out = appendEach(out, EarlierRecorded, s.Earlier)
	out = appendEach(out, CastingRead, s.Castings)
	out = appendEach(out, WorkplaceMeasured, s.Workplace)
	out = appendEach(out, ProcedureChecked, s.Checks)
	out = appendEach(out, QuestionAsked, s.Questions)
	out = appendEach(out, AnswerRecorded, s.Answers)
	out = appendEach(out, FactsTold, s.Told)
	out = appendEach(out, RiskGiven, s.Risks)
	out = appendEach(out, ChoiceMade, s.Choices)
	out = appendEach(out, TreatmentAccepted, s.Accepted)
	out = appendEach(out, DecisionsReviewed, s.Reviews)
	out = appendEach(out, BillAgreed, s.Agreed)
	out = appendEach(out, StepDone, s.Actuals)
	out = appendEach(out, FigureRead, s.Figures)
	out = appendEach(out, DeliveryRecorded, s.Deliveries)
	out = appendEach(out, PromiseRecorded, s.Promises)
	return appendEach(out, RecordMade, s.Records)
}

func appendEach[T any](out []Event, k EventKind, items []T) []Event {
	for _, item := range items {
		out = append(out, Event{k, item})
	}
	return out
}

// Fold adds the events up to the state of the job.
func Fold(events []Event) (State, error) {
	var s State
	for i, e := range events {
		if err := s.apply(e, i); err != nil {
			return State{}, &diag.Error{Kind: diag.Invalid, Op: "job.Fold",
				Subject: fmt.Sprintf("event %d (%s)", i+1, e.Kind), Msg: err.Error(), Err: err}
		}
	}
	if len(events) == 0 {
		return State{}, &diag.Error{Kind: diag.Invalid, Op: "job.Fold", Subject: "job", Msg: "it has no events"}
	}
	return s, nil
}

// apply changes the state by one event; i is its place in the chain.
func (s *State) apply(e Event, i int) error {
	want := eventType(e.Kind)
	switch {
	case want == nil:
		return fmt.Errorf("this program does not know events of this kind")
	case reflect.TypeOf(e.Data) != want:
		return fmt.Errorf("its data are %T, not %s", e.Data, want)
	case (e.Kind == JobOpened) != (i == 0):
		return fmt.Errorf("a job is opened by its first event, and by no other")
	}
	switch d := e.Data.(type) {
	case Opening:
		s.Format, s.ID, s.Invented, s.Body, s.Shop = d.Format, d.ID, d.Invented, d.Body, d.Shop
		s.Opened, s.Start, s.Author, s.Seed = d.Opened, d.Start, d.Author, d.Seed
	case Vehicle:
		s.Vehicle = d
	case Impact:
		s.Impact = d
	case Withdrawn:
		return s.withdraw(e.Kind, d)
	default:
		s.add(d)
	}
	return nil
}

// add puts a record into its list.
func (s *State) add(data any) {
	switch d := data.(type) {
	case Hazard:
		s.Hazards = put(s.Hazards, d, func(h Hazard) any { return [2]string{string(h.Kind), h.Text} })
	case Setup:
		s.Setups = put(s.Setups, d.withDefaults(), func(x Setup) any { return x.ID })
	case Taken:
		s.Readings = append(slices.Clip(s.Readings), d.Readings...)
	case Finding:
		s.Findings = put(s.Findings, d.withDefaults(), func(x Finding) any { return x.ID })
	case AreaSeen:
		s.Areas = put(s.Areas, d, func(x AreaSeen) any { return x.Area })
	case Earlier:
		s.Earlier = append(s.Earlier, d)
	case Cast:
		s.Castings = put(s.Castings, d, func(x Cast) any { return x.Casting })
	case Climate:
		s.Workplace = append(s.Workplace, d)
	case Evidence:
		s.Evidence = put(s.Evidence, d, func(x Evidence) any { return x.ID })
	case Answer:
		s.Answers = put(s.Answers, d, func(x Answer) any { return x.ID })
	case Choice:
		s.Choices = append(s.Choices, d)
	case Check:
		s.Checks = append(s.Checks, d)
	case Agreed:
		s.Agreed = append(s.Agreed, d)
	case Actual:
		s.Actuals = putNamed(s.Actuals, d, func(x Actual) string { return x.ID })
	case Risk:
		s.Risks = put(s.Risks, d, func(x Risk) any { return x.ID })
	case Arrival:
		s.Deliveries = put(s.Deliveries, d, func(x Arrival) any { return x.ID })
	case Promised:
		s.Promises = put(s.Promises, d, func(x Promised) any { return x.ID })
	case Figure:
		s.Figures = append(s.Figures, d)
	case Told:
		s.Told = put(s.Told, d.withDefaults(), func(x Told) any { return [2]string{x.Question, x.Answer} })
	case Asked:
		s.Questions = put(s.Questions, d, func(x Asked) any { return x.ID })
	case Accepted:
		s.Accepted = put(s.Accepted, d, func(x Accepted) any { return x.Finding })
	case Review:
		s.Reviews = append(s.Reviews, d)
	case Inspection:
		s.Looks = put(s.Looks, d, func(x Inspection) any { return x.ID })
	case Record:
		s.Records = put(s.Records, d.withDefaults(), func(x Record) any { return x.ID })
	}
}

// put adds an item, or takes the place of the one with the same identity.
func put[T any](items []T, item T, id func(T) any) []T {
	for i := range items {
		if id(items[i]) == id(item) {
			items[i] = item
			return items
		}
	}
	return append(items, item)
}

// putNamed is put for records that may be without an identity: those take nobody's
// place.
func putNamed[T any](items []T, item T, id func(T) string) []T {
	if id(item) == "" {
		return append(items, item)
	}
	return put(items, item, func(x T) any { return id(x) })
}

// withdrawable is how many records there are that can be withdrawn.
func (s *State) withdrawable() int {
	return len(s.Readings) + len(s.Findings) + len(s.Actuals) + len(s.Deliveries) + len(s.Promises)
}

func (s *State) withdraw(k EventKind, w Withdrawn) error {
	before := s.withdrawable()
	switch k {
	case ReadingsDropped:
		s.Readings = slices.DeleteFunc(s.Readings, func(r Reading) bool { return r.Setup == w.ID })
	case FindingDropped:
		s.Findings = slices.DeleteFunc(s.Findings, func(f Finding) bool { return string(f.ID) == w.ID })
	case StepDropped:
		s.Actuals = slices.DeleteFunc(s.Actuals, func(a Actual) bool { return a.ID != "" && a.ID == w.ID })
	case DeliveryDropped:
		s.Deliveries = slices.DeleteFunc(s.Deliveries, func(a Arrival) bool { return a.ID == w.ID })
	case PromiseDropped:
		s.Promises = slices.DeleteFunc(s.Promises, func(p Promised) bool { return p.ID == w.ID })
	}
	if s.withdrawable() == before {
		return fmt.Errorf("nothing is recorded under %q", w.ID)
	}
	return nil
}
