package body

import (
	"maps"
	"reflect"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"

	"fettle/internal/demo"
	"fettle/internal/golden/broken"
)

// TestEveryFieldBroken: every field of a body and of a procedure has at least five broken texts, made by its
// type, and each is refused where it stands, with what would be right.
func TestEveryFieldBroken(t *testing.T) {
	decode := func(files map[string][]byte) (bool, error) {
		b, err := Decode(files)
		return b != nil, err
	}
	kinds := map[reflect.Type]broken.Kind{
		reflect.TypeFor[string]():  broken.Words,
		reflect.TypeFor[SkillID](): broken.Words,
		reflect.TypeFor[BayKind](): broken.Words,
	}
	for _, t := range []reflect.Type{reflect.TypeFor[PointID](), reflect.TypeFor[PartID](), reflect.TypeFor[JointID](), reflect.TypeFor[CastingID](), reflect.TypeFor[ZoneID](), reflect.TypeFor[MapID](),
		reflect.TypeFor[LineID](), reflect.TypeFor[TreatmentID](), reflect.TypeFor[MaterialID](), reflect.TypeFor[TaskID](), reflect.TypeFor[SectionID](), reflect.TypeFor[ProcedureID]()} {
		kinds[t] = broken.Ref
	}
	good := goodFiles(t)
	archive, err := txtar.ParseFile("testdata/every.txt")
	if err != nil {
		t.Fatal(err)
	}
	every, _ := edit(t, goodFiles(t), archive)
	front, rear := below(demo.Files(), "body"), below(demo.Files(), "rear-body")
	alone := func(files map[string][]byte) map[string][]byte { // without procedures, which takes less time
		out := maps.Clone(files)
		maps.DeleteFunc(out, func(name string, _ []byte) bool { return strings.HasPrefix(name, procedureDir) })
		return out
	}
	t.Run("body", func(t *testing.T) {
		broken.Document{Of: Body{}, Beside: map[string][]byte{}, Decode: decode, Kinds: kinds, More: contradictions, Taken: noFaultOfABody,
			Fields: map[string]broken.Kind{"Body.currency": broken.Code, "Access.to": broken.Ref, "Layout.bounds": broken.Ref},
			Sound:  []broken.Sound{{File: MainFile, Files: good}, {File: MainFile, Files: every}, {File: MainFile, Files: alone(rear)}, {File: MainFile, Files: alone(front)}},
		}.Run(t)
	})
	t.Run("procedure", func(t *testing.T) {
		broken.Document{Of: Procedure{}, Beside: map[string][]byte{MainFile: []byte("a: 1")}, Decode: decode, Kinds: kinds, More: contradictions, Taken: noFaultOfAProcedure,
			Fields: map[string]broken.Kind{"RowExpect.rows": broken.Ref, "Acceptance.level": broken.Ref},
			Sound:  []broken.Sound{{File: "procedures/tb-1.yaml", Files: good}, {File: "procedures/tb-1.yaml", Files: every}, {File: "procedures/th-r-b.yaml", Files: rear}, {File: "procedures/br-fc-d.yaml", Files: front}},
		}.Run(t)
	})
}

// What a text says against the rest of its document, in the first sound one that has the field.
var contradictions = map[string][]string{
	"Access.needs":        {"[[P-COVER]]"},                                        // itself
	"Access.to":           {"DRESS", "J-SKIN"},                                    // no part, zone or line
	"Apart.of":            {"[steel]", "[steel, steel]", "[steel, none]"},         // no pair
	"Assembly.parts":      {"[P-SKIN]", "[P-BLOCK, P-SKIN]", "[P-COVER, P-SKIN]"}, // one, a casting, one that is lost
	"Blend.beside":        {"[P-COVER]", "[]"},                                    // itself, nobody
	"Casting.part":        {"P-FLAP"},                                             // no casting
	"HeatLimit.part":      {"M-GLUE"},                                             // a material
	"HeatLimit.high":      {"20 C", "310 C"},                                      // no heat, too much
	"Joint.cures":         {"M-RIVET", "M-CLIP"},                                  // nothing that cures
	"Joint.layers":        {"[P-SKIN]", "[P-SKIN, P-SKIN]", "[M-CLIP, P-SKIN]"},   // one part, twice, a material
	"Layout.adhesive":     {"M-RIVET"},                                            // of another kind
	"Layout.rivet":        {"M-GLUE"},                                             // of another kind
	"Line.piece":          {"P-FLAP"},                                             // no piece
	"Line.treatment":      {"DRESS"},                                              // cuts nothing
	"Manner.heated_to":    {"110 C"},                                              // the treatment heats it more
	"Material.grip_high":  {"0.1 mm"},                                             // below its least
	"Refit.after":         {"[P-FLAP]", "[P-SKIN, P-SKIN]"},                       // itself, twice
	"Step.not_while":      {"[DRAIN]", "[SAFE]"},                                  // also 'while', no end
	"Step.while":          {"[SAFE]", "[FILL]"},                                   // nothing undoes it
	"Task.needs":          {"[LOOK]", "[SAFE, SAFE]", "[P-SKIN]"},                 // itself, twice, a part
	"Task.undone_by":      {"[DRAIN]", "[FILL, FILL]"},                            // itself, twice
	"Trigger.before":      {"[SAFE, SAFE]", "[P-SKIN]"},                           // twice, a part
	"Treatment.requires":  {"[SAFE, SAFE]", "[DRESS]"},                            // twice, a treatment
	"Wait.cure":           {"M-RIVET"},                                            // nothing that cures
	"Procedure.casting":   {"P-BLOCK"},                                            // a part
	"Procedure.effective": {"2026-01-31"},                                         // before it is issued
	"Row.forbid":          {"[dress, dress]"},                                     // twice
	"RowExpect.rows":      {"[R2]"},                                               // does not apply
	"Row.when":            {"{length: banana}", "{length: <= 16 kg}", "{zones: only X}", "{kinked: perhaps}", "{shift: <= 3}", "{straightened_before: <= 1 mm}", "{out_of_shape: 3}"},
}

const (
	eitherSide = "a coordinate may lie on either side of the origin"
	direction  = "a direction has any length and any sign"
	twiceThere = "a line may come to a point twice: it is as long as without"
	inTheMesh  = "the mesh says which numbers its faces carry: what it lacks is told when both are read"
	saidThere  = "a list without anything may be meant; what misses something of it says so"
)

var noFaultOfABody = map[string]string{
	"Body.castings: an empty list": saidThere, "Body.treatments: an empty list": saidThere, "Repaint.surfaces: an empty list": saidThere,
	"Access.needs: an empty list": "it says that nothing has to be off",
	"Zone.label: negative":        inTheMesh, "Zone.label: a slip of the keyboard": inTheMesh,
	"Section.about_mm: negative in the list": eitherSide, "Bore.at_mm: negative in the list": eitherSide, "Edge.along_mm: negative in the list": eitherSide,
	"Line.curve_mm: negative in the list": eitherSide, "Line.taken_off_mm: negative in the list": eitherSide, "Box.min_mm: negative in the list": eitherSide,
	"Joint.along_mm: negative in the list": eitherSide, "Line.offset: negative": eitherSide, "LinePlane.offset: negative": eitherSide,
	"Bore.axis: negative in the list": direction, "Bore.axis: a slip of the keyboard in the list": direction, "Line.normal: negative in the list": direction,
	"Line.normal: a slip of the keyboard in the list": direction, "LinePlane.normal: negative in the list": direction, "LinePlane.normal: a slip of the keyboard in the list": direction,
	"Edge.along_mm: the last twice": twiceThere, "Line.curve_mm: the last twice": twiceThere, "Joint.along_mm: the last in the list twice": twiceThere,
}

var noFaultOfAProcedure = map[string]string{
	"Procedure.rows: an empty list": saidThere, "Procedure.tests: an empty list": saidThere,
	"Bound.least: negative": "a part may be colder than water freezes",
}

// below is the files of a folder, by their path in it.
func below(files map[string][]byte, folder string) map[string][]byte {
	out := map[string][]byte{}
	for name, data := range files {
		if rest, ok := strings.CutPrefix(name, folder+"/"); ok {
			out[rest] = data
		}
	}
	return out
}
