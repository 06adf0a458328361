package job

import (
	"reflect"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"

	"fettle/internal/body"
	"fettle/internal/demo"
	"fettle/internal/golden/broken"
)

// TestEveryFieldBroken: every field of a job has at least five broken texts, made by its type, and
// each is refused where it stands, with what would be right.
func TestEveryFieldBroken(t *testing.T) {
	kinds := map[reflect.Type]broken.Kind{}
	for _, x := range []reflect.Type{reflect.TypeFor[string](), reflect.TypeFor[body.PartID](), reflect.TypeFor[body.PointID](), reflect.TypeFor[body.ZoneID](), reflect.TypeFor[body.LineID](), reflect.TypeFor[body.JointID](), reflect.TypeFor[body.CastingID](),
		reflect.TypeFor[body.TreatmentID](), reflect.TypeFor[body.MaterialID](), reflect.TypeFor[body.MapID](), reflect.TypeFor[body.SkillID](), reflect.TypeFor[body.ProcedureID](), reflect.TypeFor[body.TaskID]()} {
		kinds[x] = broken.Words // held against the body where that is read
	}
	kinds[reflect.TypeFor[FindingID]()], kinds[reflect.TypeFor[RecordName]()] = broken.Ref, broken.Ref
	archive, err := txtar.ParseFile("testdata/every.txt")
	if err != nil {
		t.Fatal(err)
	}
	every, _ := edit(t, goodFiles(t), archive)
	broken.Document{Of: State{}, Beside: map[string][]byte{}, Kinds: kinds, Taken: noFaultOfAJob,
		Fields: map[string]broken.Kind{"AgreedLine.id": broken.Words, "PartUsed.id": broken.Words, // by a name, where there is no identity
			"Agreed.findings": broken.Words, "AgreedStep.findings": broken.Words}, // a finding may be gone since
		Sound: []broken.Sound{{File: MainFile, Files: every}, {File: MainFile, Files: below("job")}, {File: MainFile, Files: below("rear-job")}},
		Decode: func(files map[string][]byte) (bool, error) {
			s, err := Decode(files)
			return s != nil, err
		},
	}.Run(t)
}

// below is the files of a folder of the demonstrations, by their path in it.
func below(folder string) map[string][]byte {
	out := map[string][]byte{}
	for name, data := range demo.Files() {
		if rest, ok := strings.CutPrefix(name, folder+"/"); ok {
			out[rest] = data
		}
	}
	return out
}

const (
	eitherSide = "a coordinate may lie on either side of the origin"
	sameDay    = "on one day somebody may choose, look, review, send or agree again, after something else has changed"
	twiceThere = "a line may come to a point twice: it is as long as without"
	oneOfAll   = "every other amount is told: nobody can say which of them is in the wrong currency"
	withBody   = "a condition is held against the body: TestCheckAgainst"
	cold       = "it may be colder than water freezes"
)

var noFaultOfAJob = map[string]string{
	"State.search_seed: a slip of the keyboard": "any whole number starts a search",
	"Vehicle.value: another currency":           oneOfAll,
	"Impact.at_mm: negative in the list":        eitherSide, "Finding.trace_mm: negative in the list": eitherSide, "Earlier.trace_mm: negative in the list": eitherSide,
	"Indication.ends_mm: negative in the list": eitherSide,
	"Finding.trace_mm: the last twice":         twiceThere, "Earlier.trace_mm: the last twice": twiceThere, "Pin.at_map: the last twice": twiceThere,
	"Inspection.temperature_c: negative":    cold,
	"Figure.value: negative":                "a figure may lie below zero; what is told is that its uncertainty has another unit",
	"Answer.when: a condition that is none": withBody, "Answer.when: an unknown name": withBody,
	"Actual.id: an empty text":      "an empty name is none, and none is needed",
	"State.choices: the last twice": sameDay, "State.procedure_checks: the last twice": sameDay, "State.reviews: the last twice": sameDay,
	"State.sendings: the last twice": sameDay, "State.erasure_agreements: the last twice": sameDay,
	"Told.repairs: the last twice": "repairs are told without words, so that two may read alike",
}
