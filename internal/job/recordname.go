package job

import (
	"crypto/sha256"
	"encoding/hex"
	"reflect"
	"regexp"
	"strconv"
	"strings"

	"fettle/internal/unit"
)

// RecordName names a record of a job: what an event records anew, replaces or withdraws, and
// what two people who write at once must not both write. It is the sort of the record and
// its own identity ("finding/D2"), or, for what has none, the number it was given when it was
// first recorded ("review/#3"). What a job has once is its sort alone ("vehicle").
type RecordName string

// Names of what a job has once.
const (
	OfOpening RecordName = "job"
	OfStart   RecordName = "start"
	OfBody    RecordName = "body"
	OfShop    RecordName = "shop"
	OfVehicle RecordName = "vehicle"
	OfImpact  RecordName = "impact"
	OfOwner   RecordName = "owner"
)

// words of names that the program asks for by themselves.
const readingsWord = "readings"

// sort is one sort of record: its kind of event, the word its names begin with and the list
// of the state it belongs to.
type sort struct {
	kind EventKind
	word string
	list string // name in job.yaml; empty for what a job has once
	data reflect.Type
	name func(data any) string // its own identity; empty: it is numbered
	full func(data any) any    // with what may be left out

	ordered bool // the order of the list says something
}

// once is a sort that a job has one record of.
func once[T any](kind EventKind, of RecordName) sort {
	return sort{kind: kind, word: string(of), data: reflect.TypeFor[T]()}
}

// listed is a sort that a job has a list of.
func listed[T any](kind EventKind, word, list string, name func(T) string) sort {
	out := sort{kind: kind, word: word, list: list, data: reflect.TypeFor[T]()}
	out.name = func(any) string { return "" }
	if name != nil {
		out.name = func(data any) string { return name(data.(T)) }
	}
	return out
}

// filled is a sort with fields that may be left out.
func filled[T any](s sort, full func(T) T) sort {
	s.full = func(data any) any { return full(data.(T)) }
	return s
}

// inOrder is a sort whose list has an order: a later choice takes the place of an earlier
// one, work goes on from the record before it.
func inOrder(s sort) sort {
	s.ordered = true
	return s
}

// sorts is every sort of record, in the order in which FromState writes them.
var sorts = []sort{
	once[Opening](JobOpened, OfOpening),
	once[Named](BodyNamed, OfBody),
	once[Named](ShopNamed, OfShop),
	once[Beginning](StartSet, OfStart),
	once[HandedOver](JobHandedOver, OfOwner),
	once[Vehicle](VehicleRecorded, OfVehicle),
	once[Impact](ImpactRecorded, OfImpact),
	listed(HazardRecorded, "hazard", "hazards", hazardName),
	filled(listed(SetupRecorded, "setup", "setups", func(x Setup) string { return x.ID }), Setup.withDefaults),
	listed(ReadingsTaken, readingsWord, readingsWord, func(x Readings) string { return x.Setup }),
	listed(EvidenceAdded, "evidence", "evidence", func(x Evidence) string { return x.ID }),
	listed(InspectionMade, "inspection", "inspections", func(x Inspection) string { return x.ID }),
	filled(listed(FindingRecorded, "finding", "findings", func(x Finding) string { return string(x.ID) }), Finding.withDefaults),
	listed(AreaInspected, "area", "areas", func(x AreaSeen) string { return x.Area }),
	inOrder(listed[Accessible](AccessFound, "access", "access", nil)),
	inOrder(listed[Earlier](EarlierRecorded, "earlier-repair", "earlier_repairs", nil)),
	listed(CastingRead, "casting", "castings", func(x Cast) string { return string(x.Casting) }),
	inOrder(listed[Climate](WorkplaceMeasured, "workplace", "workplace", nil)),
	inOrder(listed[Check](ProcedureChecked, "procedure-check", "procedure_checks", nil)),
	listed(QuestionAsked, "question", "questions", func(x Asked) string { return x.ID }),
	listed(AnswerRecorded, "answer", "answers", func(x Answer) string { return x.ID }),
	filled(listed(FactsTold, "told", "told", func(x Told) string { return x.Question + "+" + x.Answer }), Told.withDefaults),
	inOrder(listed(RiskGiven, "risk", "risks", func(x Risk) string { return x.ID })), // draws are made in its order
	inOrder(listed[Choice](ChoiceMade, "choice", "choices", nil)),
	listed(TreatmentAccepted, "acceptance", "accepted", func(x Accepted) string { return string(x.Finding) }),
	inOrder(listed[Review](DecisionsReviewed, "review", "reviews", nil)),
	inOrder(listed(BillAgreed, "bill", "agreed", func(x Agreed) string { return strconv.Itoa(x.Number) })),
	inOrder(listed(StepDone, "work", "actuals", func(x Actual) string { return x.ID })),
	inOrder(listed[Figure](FigureRead, "figure", "figures", nil)),
	inOrder(listed(FaultsRead, "fault-reading", "fault_readings", func(x FaultReading) string { return x.ID })),
	inOrder(listed(DeliveryRecorded, "delivery", "deliveries", func(x Arrival) string { return x.ID })),
	inOrder(listed(PromiseRecorded, "promise", "promises", func(x Promised) string { return x.ID })),
	filled(listed(RecordMade, "record", "records", func(x Record) string { return x.ID }), Record.withDefaults),
	inOrder(listed[HandBack](VehicleHandedBack, "hand-back", "hand_backs", nil)),
	listed(RecordProposed, "proposal", "proposals", func(x Proposal) string { return x.ID }),
	inOrder(listed[Sending](SentToReview, "sending", "sendings", nil)),
	inOrder(listed[ErasureAgreed](ErasureAgreedTo, "erasure-agreement", "erasure_agreements", nil)),
}

// byKind, byWord and byList are where each sort stands in the table.
var (
	byKind = index(func(s sort) string { return string(s.kind) })
	byWord = index(func(s sort) string { return s.word })
	byList = index(func(s sort) string { return s.list })
)

func index(of func(sort) string) map[string]int {
	out := map[string]int{}
	for i, s := range sorts {
		out[of(s)] = i
	}
	return out
}

// hazardName: a hazard is told from others of its kind by its text.
func hazardName(h Hazard) string {
	sum := sha256.Sum256([]byte(h.Text))
	return string(h.Kind) + "-" + hex.EncodeToString(sum[:6])
}

// of is the name of a record of the sort; empty for one that is numbered.
func (s sort) of(data any) RecordName {
	if s.list == "" {
		return RecordName(s.word)
	}
	if name := s.name(data); name != "" {
		return RecordName(s.word + "/" + name)
	}
	return ""
}

// numbered is the name of the n-th record of a sort that has no identity of its own. The
// sign keeps it apart from identities.
func (s sort) numbered(n int) RecordName {
	return RecordName(s.word + "/#" + strconv.Itoa(n))
}

var numberForm = regexp.MustCompile(`^#[1-9][0-9]{0,8}$`)

// number is the number in a name; 0 when it has none.
func (s RecordName) number() int {
	_, name, _ := strings.Cut(string(s), "/")
	if !numberForm.MatchString(name) {
		return 0
	}
	n, _ := strconv.Atoi(name[1:]) // the form is that of a number
	return n
}

// sortOf is the sort that a name is of.
func (s RecordName) sortOf() (sort, bool) {
	word, _, _ := strings.Cut(string(s), "/")
	i, ok := byWord[word]
	if !ok || (sorts[i].list == "") != (word == string(s)) {
		return sort{}, false
	}
	return sorts[i], true
}

// sortOfData is the sort that a record is of. Body and shop, which share a type, are none.
func sortOfData(data any) (sort, bool) {
	for _, k := range sorts {
		if k.data == reflect.TypeOf(data) && k.data != reflect.TypeFor[Named]() {
			return k, true
		}
	}
	return sort{}, false
}

// earlierKinds are kinds of event that chains of earlier releases withdraw by, with the word
// of what they withdraw.
var earlierKinds = map[EventKind]string{
	ReadingsDropped: readingsWord, FindingDropped: "finding", StepDropped: "work",
	DeliveryDropped: "delivery", PromiseDropped: "promise",
}

// RecordName is the record that an event is about; empty for a new record without identity, which
// gets its number when the event is written, and for an event of an earlier release about several records.
func (e Event) About() RecordName {
	if e.Of != "" {
		return e.Of
	}
	switch d := e.Data.(type) {
	case Withdrawn:
		if word, ok := earlierKinds[e.Kind]; ok && d.ID != "" {
			return RecordName(word + "/" + d.ID)
		}
	case Taken, Withdrawal, Erasure:
	default:
		if i, ok := byKind[string(e.Kind)]; ok && reflect.TypeOf(d) == sorts[i].data {
			return sorts[i].of(d)
		}
	}
	return ""
}

// Readings is the data of readings-taken: all readings of a set-up. Recorded again they take
// the place of those there were.
type Readings struct {
	Setup    string    `doc:"setup,required"`
	Readings []Reading `doc:"readings,required"`
}

// Named is the data of body-named and shop-named: the body or shop that the job is worked
// with from now on, by its content.
type Named struct {
	SHA256 string `doc:"sha256,required" help:"hash of the content"`
}

// Beginning is the data of start-set: the day from which work is planned, and where the
// sampling starts. It takes the place of what the job was opened with.
type Beginning struct {
	Start unit.Date `doc:"start,required"`
	Seed  int       `doc:"search_seed"`
}

// startFields are the fields of a state that a Beginning sets.
var startFields = []string{"start", "search_seed"}

// Withdrawal is the data of withdrawn: a record was wrong and no longer counts.
type Withdrawal struct {
	By     string    `doc:"by,required" personal:"yes"`
	On     unit.Date `doc:"on,required"`
	Reason string    `doc:"reason,required" personal:"yes"`
}

// Erasure is the data of texts-erased: the names and remarks of a record were taken away, in
// every entry about it. The record itself stays.
type Erasure struct {
	On     unit.Date `doc:"on,required"`
	Reason string    `doc:"reason,required" help:"why, without a name"`
}
