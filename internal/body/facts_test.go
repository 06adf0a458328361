package body

import (
	"slices"
	"strings"
	"testing"

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
		{"sort", func(d FactDef) bool { return d.Sort }, []string{FactBoltOn, FactKind, FactOnCasting}},
		{"open", func(d FactDef) bool { return d.Open }, []string{FactEquipment, FactQualified}},
		{"on demand", func(d FactDef) bool { return d.OnDemand }, []string{FactCast, FactLengthHere, FactLengthAll, FactEquipment, FactAge, FactQualified, FactMargin, FactTemp}},
	} {
		for _, d := range FactDefs() {
			if k.of(d) != slices.Contains(k.facts, d.Name) {
				t.Errorf("%s: %s is %v", d.Name, k.trait, k.of(d))
			}
		}
	}
}
