package body

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/geom"

	"fettle/internal/unit"
)

// What a fact is called in a sentence, before its value, and how it is got, is what its
// definition says, else its name.
func TestHowAFactIsCalled(t *testing.T) {
	plain := FactDef{Name: "bore_clearance", Get: "enter the trace"}
	own := FactDef{Name: "tips", Asked: "how the tips were found", Bare: "tip method", More: "longer", Less: "shorter", Get: "enter the trace", Tape: "measure it"}
	with, without := &Casting{Mesh: "a.ply"}, &Casting{}
	for _, k := range [][2]string{
		{plain.InSentence(), "the bore clearance"}, {own.InSentence(), "how the tips were found"},
		{plain.BeforeValue(), "bore clearance"}, {own.BeforeValue(), "tip method"},
		{plain.MoreOrLess(true), "more"}, {plain.MoreOrLess(false), "less"}, {own.MoreOrLess(true), "longer"}, {own.MoreOrLess(false), "shorter"},
		{plain.HowToGet(without), "enter the trace"}, {own.HowToGet(with), "enter the trace"}, {own.HowToGet(without), "measure it"}, {own.HowToGet(nil), "enter the trace"},
	} {
		if k[0] != k[1] {
			t.Errorf("%q, want %q", k[0], k[1])
		}
	}
}

// A row that asks for a plate is held against every treatment that lays one out, and no other.
func TestPlateOfARowAgainstTreatments(t *testing.T) {
	lays := func(kind TreatmentKind, over float64, plate MaterialID) Treatment {
		return Treatment{ID: "T", Kind: kind, Steps: []Step{{}, {Layout: &Layout{PlateOver: unit.MM(over), Plate: plate}}}}
	}
	ask := Row{With: Manner{Overlap: 30, Plate: "M-1"}}
	for _, k := range []struct {
		row    Row
		t      Treatment
		fields string
	}{
		{ask, lays(WeldBacking, 30, "M-1"), ""},
		{ask, lays(WeldBacking, 29.9, "M-1"), "p.with.plate_overlap"},
		{ask, lays(WeldBacking, 40, "M-2"), "p.with.plate"},
		{ask, lays(WeldBacking, 20, "M-2"), "p.with.plate_overlap p.with.plate"},
		{ask, lays(WeldBacking, 30, ""), ""},
		{ask, lays(SectionOff, 20, "M-2"), ""},
		{Row{}, lays(WeldBacking, 0, "M-2"), ""},
		{Row{With: Manner{Plate: "M-1"}}, lays(WeldBacking, 0, "M-1"), ""},
	} {
		c := &checker{b: &Body{Treatments: []Treatment{{ID: "other", Kind: Dress}, k.t}}}
		c.overlap("p", k.row)
		var got []string
		for _, p := range c.problems {
			got = append(got, p.Field)
		}
		if strings.Join(got, " ") != k.fields {
			t.Errorf("%+v against %+v: %q, want %q", k.row.With, k.t, got, k.fields)
		}
	}
}

// What a fact is like follows from what it is: a distance along the surface, one that lies below
// zero, one that nobody can change, what sort of thing it is, words that nobody has a list of, and
// what costs something to look up.
func TestTraitsOfFacts(t *testing.T) {
	for _, k := range []struct {
		trait string
		of    func(FactDef) bool
		facts []string
	}{
		{"distance", func(d FactDef) bool { return d.Distance }, []string{FactBorder, FactBore, FactEarlier, FactEdge, FactJoint, FactSpacing}},
		{"below zero", func(d FactDef) bool { return d.Signed }, []string{FactCast, FactMargin, FactTemp}},
		{"fixed", func(d FactDef) bool { return d.Fixed }, []string{FactCast, FactAge}},
		{"sort", func(d FactDef) bool { return d.Sort }, []string{FactBoltOn, FactKind, FactOnCasting, FactPart}},
		{"open", func(d FactDef) bool { return d.Open }, []string{FactEquipment, FactQualified}},
		{"on demand", func(d FactDef) bool { return d.OnDemand }, []string{FactCast, FactLengthHere, FactLengthAll, FactEquipment, FactAge, FactQualified, FactMargin, FactTemp, FactKinked, FactShape, FactPart, FactShift, FactStraight}},
	} {
		for _, d := range FactDefs() {
			if k.of(d) != slices.Contains(k.facts, d.Name) {
				t.Errorf("%s: %s is %v", d.Name, k.trait, k.of(d))
			}
		}
	}
}

// What a fact rests on, and what is measured by hand: on a casting with a mesh bores, once they are
// listed or there are said to be none, and the places of all its joints; on one without a mesh the
// hand. Section lines and what is to be inspected are needed on both.
func TestWhatAFactLacks(t *testing.T) {
	along := Joint{ID: "J1", Layers: []PartID{"P"}, Along: [][]geom.Vec{{{1}}}}
	bare := Joint{ID: "J2", Layers: []PartID{"P"}}
	meshed := Casting{ID: "k", Part: "P", Mesh: "m.ply"}
	listed := meshed
	listed.Bores = []Bore{}
	for _, c := range []struct {
		fact   string
		k      Casting
		joints []Joint
		want   string
		byHand bool
	}{
		{FactBore, meshed, nil, "bores", false}, {FactBore, listed, nil, "", false}, {FactBore, Casting{ID: "k", Part: "P"}, nil, "", true},
		{FactJoint, meshed, nil, "joints", false}, {FactJoint, meshed, []Joint{along}, "", false}, {FactJoint, meshed, []Joint{along, bare}, "the places of all joints", false},
		{FactJoint, Casting{ID: "k", Part: "P"}, []Joint{bare}, "", true}, {FactJoint, Casting{ID: "k", Part: "P"}, nil, "", true},
		{FactMargin, meshed, nil, "section lines", false}, {FactKind, meshed, nil, "", false}, {FactKind, Casting{ID: "k"}, nil, "", false},
	} {
		d := Fact(c.fact)
		b := &Body{Castings: []Casting{c.k}, Joints: c.joints}
		if got := d.Lacks(b, c.k, Procedure{}); got != c.want || d.ByHand(c.k) != c.byHand {
			t.Errorf("%s, mesh %q, %d joints: lacks %q, by hand %v", c.fact, c.k.Mesh, len(c.joints), got, d.ByHand(c.k))
		}
		if got := d.HowToGet(&c.k) == d.Tape && d.Tape != ""; got != c.byHand || d.HowToGet(nil) != d.Get {
			t.Errorf("%s: %q", c.fact, d.HowToGet(&c.k))
		}
	}
	for _, c := range []struct {
		areas   []AreaRule
		inspect []Area
		lacks   bool
	}{{nil, nil, true}, {[]AreaRule{{}}, nil, false}, {nil, []Area{{Casting: "k"}}, false}, {nil, []Area{{Casting: "o"}}, true}} {
		if _, lacks := lookedAt(&Body{Inspect: c.inspect}, Casting{ID: "k"}, Procedure{Areas: c.areas}); lacks != c.lacks {
			t.Errorf("%+v: lacks %v", c, lacks)
		}
	}
}
