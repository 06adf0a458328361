package body

import (
	"cmp"
	"slices"
	"strings"
)

// FactType is the type of a fact.
type FactType int

// Types of fact.
const (
	FactText   FactType = iota // one word
	FactSet                    // several words, such as the zones a crack crosses
	FactNumber                 // a number with a unit and a standard uncertainty
	FactBool                   // yes or no
)

// Names of facts: the only place where they are written.
const (
	FactBoltOn     = "bolt_on"
	FactBorder     = "border_clearance"
	FactBore       = "bore_clearance"
	FactCast       = "casting_date"
	FactInZone     = "count_in_zone"
	FactCount      = "count_on_casting"
	FactLengthHere = "crack_length_in_zone"
	FactLengthAll  = "crack_length_on_casting"
	FactDepth      = "depth"
	FactEarlier    = "earlier_clearance"
	FactEdge       = "edge_clearance"
	FactEquipment  = "equipment"
	FactJoint      = "joint_clearance"
	FactKind       = "kind"
	FactKinked     = "kinked"
	FactLength     = "length"
	FactOnCasting  = "on_casting"
	FactShape      = "out_of_shape"
	FactOutboard   = "outboard_of"
	FactPart       = "part"
	FactAge        = "part_age"
	FactQualified  = "qualifications"
	FactMargin     = "section_margin"
	FactShift      = "shift"
	FactSpacing    = "spacing"
	FactStraight   = "straightened_before"
	FactTemp       = "temperature"
	FactThrough    = "through"
	FactTips       = "tips"
	FactZones      = "zones"
)

// FactDef defines a fact that a condition may name.
type FactDef struct {
	Name string
	Kind FactType
	Unit string // "mm", "C", "months", "date"; "" for a count
	Help string // what it means
	Get  string // how a person gets it when it is unknown
	Tape string // the same on a casting without a mesh; empty: as Get

	Asked string // in a sentence: "find out ..."; empty: as its name
	Bare  string // before its value, without an article; empty: as its name
	More  string // what a larger number is, and a smaller one; empty: more and less
	Less  string

	OnDemand bool // it is looked up only for a table with a condition on it: of no use to anybody else
	Distance bool // a limit on it says how closely a distance along the surface has to be known
	Fixed    bool // nobody can change it
	Signed   bool // it may lie below zero
	Open     bool // a set of words that nobody has a list of
	Sort     bool // it says what sort of defect it is, or of part: another treatment is another trade

	words func(*Body, CastingID) []string // the list of its words; nil: there is none

	// data is what of a casting's data the fact rests on, in words, and whether the body lacks it;
	// nil: it rests on none.
	data func(*Body, Casting, Procedure) (what string, lacks bool)
}

// Lacks is what data of a casting the body has to have before the fact can be known there, and has
// not, whatever is measured; empty when it lacks none.
func (d FactDef) Lacks(b *Body, c Casting, p Procedure) string {
	if d.data == nil {
		return ""
	}
	if what, lacks := d.data(b, c, p); lacks {
		return what
	}
	return ""
}

// ByHand says that on this casting the fact is measured by hand, as there is no mesh.
func (d FactDef) ByHand(c Casting) bool { return d.Tape != "" && !c.HasMesh() }

// Data that facts rest on. Distances on a casting without a mesh rest on the hand.
func joints(b *Body, c Casting, _ Procedure) (string, bool) {
	all := b.JointsOf(c.Part)
	if len(all) == 0 {
		return "joints", c.HasMesh()
	}
	return "the places of all joints", c.HasMesh() && slices.ContainsFunc(all, func(j Joint) bool { return len(j.Along) == 0 })
}

func bores(_ *Body, c Casting, _ Procedure) (string, bool) {
	return "bores", c.HasMesh() && c.Bores == nil
}

func lines(b *Body, c Casting, _ Procedure) (string, bool) {
	return "section lines", len(linesOf(b, c.ID)) == 0
}

func lookedAt(b *Body, c Casting, p Procedure) (string, bool) {
	return "areas of it to be inspected", len(p.Areas) == 0 && !slices.ContainsFunc(b.Inspect, func(a Area) bool { return a.Casting == c.ID })
}

// InSentence is the fact in a sentence, with its article.
func (d FactDef) InSentence() string {
	if d.Asked != "" {
		return d.Asked
	}
	return "the " + strings.ReplaceAll(d.Name, "_", " ")
}

// HowToGet is how a person gets the fact of something on a casting; nil: on none.
func (d FactDef) HowToGet(c *Casting) string {
	if d.Tape != "" && c != nil && !c.HasMesh() {
		return d.Tape
	}
	return d.Get
}

// BeforeValue is the fact as it stands before its value or limit.
func (d FactDef) BeforeValue() string {
	if d.Bare != "" {
		return d.Bare
	}
	return strings.ReplaceAll(d.Name, "_", " ")
}

// Words is every word that the fact can have on a casting; false when nobody has a list.
func (d FactDef) Words(b *Body, c CastingID) ([]string, bool) {
	if d.words == nil {
		return nil, false
	}
	return d.words(b, c), true
}

// plain is words of a closed set as what a fact can have.
func plain[W ~string](words []W) []string {
	out := make([]string, len(words))
	for i, w := range words {
		out[i] = string(w)
	}
	return out
}

func zonesOf(b *Body, c CastingID) []string {
	out := []string{}
	k, _ := b.Casting(c)
	for _, z := range k.Zones {
		out = append(out, string(z.ID))
	}
	return out
}

func partIDs(b *Body) []string {
	out := make([]string, len(b.Parts))
	for i, p := range b.Parts {
		out[i] = string(p.ID)
	}
	return out
}

func linesOf(b *Body, c CastingID) []string {
	out := []string{}
	for _, l := range b.Lines {
		if l.Casting == c {
			out = append(out, string(l.ID))
		}
	}
	return out
}

// MoreOrLess is what a larger number of the fact is, or a smaller one: "longer", "shorter".
func (d FactDef) MoreOrLess(up bool) string {
	if up {
		return cmp.Or(d.More, "more")
	}
	return cmp.Or(d.Less, "less")
}

// Fact is the definition of a fact; of a name that is none, one with that name alone.
func Fact(name string) FactDef {
	if d, ok := factNamed[name]; ok {
		return d
	}
	return FactDef{Name: name}
}

// IsFact says that a condition may name it.
func IsFact(name string) bool {
	_, ok := factNamed[name]
	return ok
}

// FactDefs is the vocabulary of conditions, in alphabetical order: what a procedure may name,
// what is evaluated, explained, compared and documented.
func FactDefs() []FactDef { return slices.Clone(factDefs) }

var factDefs = vocabulary()

// factNamed is the same by name.
var factNamed = func() map[string]FactDef {
	out := map[string]FactDef{}
	for _, d := range factDefs {
		out[d.Name] = d
	}
	return out
}()

func vocabulary() []FactDef {
	return []FactDef{
		{Name: FactBoltOn, Kind: FactBool,
			Help: "the damaged part can be changed without welding, cutting or bonding", Get: "say in parts.csv whether the part is bolted on",
			Asked: "whether the part is bolted on", Sort: true},
		{Name: FactBorder, Kind: FactNumber, Unit: "mm",
			Help: "least distance from the finding to the border of its zone", Get: "enter the trace of the crack", Tape: "measure the least distance along the surface to the border of its zone",
			Distance: true},
		{Name: FactBore, Kind: FactNumber, Unit: "mm",
			Help: "least distance from the finding to a bore", Get: "enter the trace of the crack", Tape: "measure the least distance along the surface to a bore",
			Distance: true,
			data:     bores},
		{Name: FactCast, Kind: FactNumber, Unit: "date",
			Help: "day the casting was cast", Get: "read the date mark on the casting and enter it under 'castings'",
			OnDemand: true, Fixed: true, Signed: true},
		{Name: FactInZone, Kind: FactNumber,
			Help: "cracks in the zone, this one included, those that surely are one counted once", Get: "inspect the whole zone, and say under 'castings' in the job that repairs were looked for",
			Asked: "the number of cracks in the zone", Bare: "cracks in the zone",
			data: lookedAt},
		{Name: FactCount, Kind: FactNumber,
			Help: "cracks on the casting, this one included, those that surely are one counted once", Get: "inspect the whole casting, and say under 'castings' in the job that repairs were looked for",
			Asked: "the number of cracks on the casting", Bare: "cracks on the casting",
			data: lookedAt},
		{Name: FactLengthHere, Kind: FactNumber, Unit: "mm",
			Help: "length of the cracks in the zone together, this one and repairs done before included", Get: "inspect the whole zone and enter the trace of every crack, and say under 'castings' in the job that repairs were looked for", Tape: "inspect the whole zone, measure every crack, and say under 'castings' in the job that repairs were looked for",
			OnDemand: true,
			data:     lookedAt},
		{Name: FactLengthAll, Kind: FactNumber, Unit: "mm",
			Help: "length of the cracks on the casting together, this one and repairs done before included", Get: "inspect the whole casting and enter the trace of every crack, and say under 'castings' in the job that repairs were looked for", Tape: "inspect the whole casting, measure every crack, and say under 'castings' in the job that repairs were looked for",
			OnDemand: true,
			data:     lookedAt},
		{Name: FactDepth, Kind: FactNumber, Unit: "mm",
			Help: "depth of the defect from the surface", Get: "measure the depth"},
		{Name: FactEarlier, Kind: FactNumber, Unit: "mm",
			Help: "least distance along the surface from the finding to a repair done before this job", Get: "enter where each earlier repair lies, and say under 'castings' in the job that repairs were looked for", Tape: "measure the least distance along the surface to the nearest earlier repair, and say under 'castings' in the job that repairs were looked for",
			Distance: true},
		{Name: FactEdge, Kind: FactNumber, Unit: "mm",
			Help: "least distance along the surface from the finding to a free edge of the casting", Get: "enter the edges of the casting in the body", Tape: "measure the least distance along the surface to a free edge",
			Distance: true},
		{Name: FactEquipment, Kind: FactSet,
			Help: "what the shop has and whose test has not run out, with hyphens for spaces", Get: "enter it under 'equipment' in the shop file",
			OnDemand: true, Open: true},
		{Name: FactJoint, Kind: FactNumber, Unit: "mm",
			Help: "least distance along the surface from the finding to a joint of the casting", Get: "enter where each joint of the casting lies", Tape: "measure the least distance along the surface to a joint of the casting",
			Distance: true,
			data:     joints},
		{Name: FactKind, Kind: FactText,
			Help: "crack, break, bend, dent, torn", Get: "say what the defect is",
			Sort: true, words: func(*Body, CastingID) []string { return plain(FindingKinds()) }},
		{Name: FactKinked, Kind: FactBool,
			Help: "the part is folded sharply, and the fold stays", Get: "look at the bend from both sides, and say under 'kinked' of the finding whether a sharp fold stays",
			Asked: "whether the part is kinked", OnDemand: true},
		{Name: FactLength, Kind: FactNumber, Unit: "mm",
			Help: "decision length along the surface: the crack, or its group, with the allowance for tips seen by eye only", Get: "penetrant inspection at both tips", Tape: "measure it along the surface from tip to tip, with penetrant at both tips",
			Asked: "the decision length", Bare: "decision length", More: "longer", Less: "shorter"},
		{Name: FactOnCasting, Kind: FactBool,
			Help: "the defect is on a casting", Get: "say which part it is on",
			Asked: "whether it is on a casting", Sort: true},
		{Name: FactShape, Kind: FactNumber, Unit: "mm",
			Help: "how far the part stands off its shape where it does most: of a bend or a dent, read with a gauge, or the depth of a dent", Get: "read it with a gauge or a template where it is most, and enter it under 'measured' of the finding, as 'what: shape'",
			Asked: "how far it is out of shape", Bare: "out of shape by", OnDemand: true},
		{Name: FactOutboard, Kind: FactSet,
			Help: "section lines the whole finding lies outboard of, by the margin", Get: "enter the trace of the crack", Tape: "measure how far all of it lies outboard of each section line",
			Asked: "the side of the section lines", Bare: "outboard of section lines", words: linesOf},
		{Name: FactPart, Kind: FactText,
			Help: "the damaged part, by its identity in the body", Get: "say which part it is on",
			Asked: "which part it is on", OnDemand: true, Sort: true, words: func(b *Body, _ CastingID) []string { return partIDs(b) }},
		{Name: FactAge, Kind: FactNumber, Unit: "months",
			Help: "age of the part: of the vehicle, unless the part was changed", Get: "enter the day the vehicle was built",
			OnDemand: true, Fixed: true},
		{Name: FactQualified, Kind: FactSet,
			Help: "qualifications that somebody of the shop holds on the day, with hyphens for spaces", Get: "enter them with their last day under 'qualifications' of a person in the shop file",
			OnDemand: true, Open: true},
		{Name: FactMargin, Kind: FactNumber, Unit: "mm",
			Help: "how far all of the finding lies outboard of the section line; below zero when it does not", Get: "enter the trace of the crack", Tape: "measure how far all of it lies outboard of the section line",
			OnDemand: true, Signed: true,
			data: lines},
		{Name: FactShift, Kind: FactNumber, Unit: "mm",
			Help: "largest shift of a control point of the part, through space; not known unless every one of its points was measured and its shift is firm", Get: "measure every control point of the part",
			Asked: "how far the part has moved", Bare: "moved by", OnDemand: true},
		{Name: FactSpacing, Kind: FactNumber, Unit: "mm",
			Help: "least distance to the next finding that weakens the wall, as far as was looked", Get: "inspect all of the casting that lies nearer than the limit, and enter the trace of every finding", Tape: "inspect all of the casting that lies nearer than the limit, and measure the distance along the surface to the next finding",
			Asked: "the distance to the next crack", Bare: "distance to the next crack", Distance: true,
			data: lookedAt},
		{Name: FactStraight, Kind: FactNumber,
			Help: "how often the part was straightened before this job", Get: "look for marks of it and ask, and enter the number under 'straightened_before' of the finding; 0 for never",
			Asked: "how often the part was straightened before", Bare: "straightened before, times", OnDemand: true},
		{Name: FactTemp, Kind: FactNumber, Unit: "C",
			Help: "temperature where the work is done", Get: "measure it on the day and enter it under 'workplace'",
			More: "warmer", Less: "colder", OnDemand: true, Signed: true},
		{Name: FactThrough, Kind: FactBool,
			Help: "the crack goes through the wall", Get: "look at the other face, with penetrant",
			Asked: "whether it goes through the wall", Bare: "through the wall"},
		{Name: FactTips, Kind: FactText,
			Help: "how the tips were found: visual, penetrant, stop-hole; the weaker of the two", Get: "penetrant inspection at both tips",
			Asked: "how the tips were found", words: func(*Body, CastingID) []string { return plain(TipMethods()) }},
		{Name: FactZones, Kind: FactSet,
			Help: "every zone the finding lies in or comes within its uncertainty of", Get: "enter the trace of the crack", Tape: "name every zone it was seen in",
			Asked: "the zone", words: zonesOf},
	}
}
