package decide

import (
	"slices"
	"strconv"
	"strings"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/rule"
)

// Names of facts, as body.FactDefs has them.
const (
	factAge        = "part_age"
	factBore       = "bore_clearance"
	factBoltOn     = "bolt_on"
	factBorder     = "border_clearance"
	FactCast       = "casting_date"
	factEarlier    = "earlier_clearance"
	factEdge       = "edge_clearance"
	FactEquipment  = "equipment"
	factInZone     = "count_in_zone"
	FactOnCasting  = "on_casting"
	factCount      = "count_on_casting"
	factDepth      = "depth"
	factJoint      = "joint_clearance"
	FactKind       = "kind"
	FactLength     = "length"
	factLengthHere = "crack_length_in_zone"
	factLengthAll  = "crack_length_on_casting"
	FactMargin     = "section_margin"
	FactOutboard   = "outboard_of"
	FactQualified  = "qualifications"
	FactSpacing    = "spacing"
	FactTemp       = "temperature"
	factThrough    = "through"
	FactTips       = "tips"
	FactZones      = "zones"
	tipVisual      = "visual"
	tipPenetrant   = "penetrant"
	tipStopHole    = "stop-hole"
	notOnACasting  = "the part is not a casting"
	noTraceOnMesh  = "no trace was found on the casting's surface"
	saysNothing    = "nothing was entered"
	fromTheTrace   = "from the trace on the casting's surface"
	fromTheFinding = "entered with the finding"
)

// known is a fact with where it comes from.
type known struct {
	value rule.Value
	from  string
}

// subject is one finding with everything the facts come from.
type subject struct {
	place   int // in the order of the job
	f       job.Finding
	g       inspect.Finding // zero when inspect does not have it
	casting *body.Casting   // nil when the part is not a casting
	part    *body.Part      // nil when the body does not have it
}

// onlyIfNamed are facts that are looked up only for a table with a condition on
// them: of no use to anybody else.
var onlyIfNamed = []string{factAge, FactCast, FactEquipment, factLengthHere, factLengthAll, FactMargin, FactQualified, FactTemp}

// wanted is the facts that a table needs, and those that people want to see
// whatever the table, in the order of the vocabulary.
func wanted(rs *Ruleset) []body.FactDef {
	var out []body.FactDef
	for _, d := range body.FactDefs() {
		if !slices.Contains(onlyIfNamed, d.Name) || (rs != nil && rs.Table.Names(d.Name)) {
			out = append(out, d)
		}
	}
	return out
}

// factsOf produces every fact that is wanted, in the order of the vocabulary. A
// fact that cannot be had is unknown and says why. Cracks that count as one
// have the facts of the one: every zone any of them lies in, the nearest bore,
// the weakest tip.
func (s *scene) factsOf(sub *subject, rs *Ruleset) (rule.Facts, []Fact) {
	facts := rule.Facts{}
	var list []Fact
	for _, d := range wanted(rs) {
		k := s.fact(d.Name, sub)
		k.value.Kind, k.value.Unit = rule.Kind(d.Kind), d.Unit
		facts[d.Name] = k.value
		f := Fact{Name: d.Name, Value: k.value.String(), Known: k.value.Known, From: k.from}
		if !f.Known {
			f.From = strings.TrimSuffix(k.from, ".") + ": " + d.Get
		}
		list = append(list, f)
	}
	s.marginsOf(sub, facts)
	return facts, list
}

// factValues is the facts without where they come from.
func (s *scene) factValues(defs []body.FactDef, sub *subject) rule.Facts {
	facts := make(rule.Facts, len(defs))
	for _, d := range defs {
		v := s.fact(d.Name, sub).value
		v.Kind, v.Unit = rule.Kind(d.Kind), d.Unit
		facts[d.Name] = v
	}
	s.marginsOf(sub, facts)
	return facts
}

func (s *scene) fact(name string, sub *subject) known {
	switch name {
	case FactKind:
		return known{oneWord(sub.f.Kind), fromTheFinding}
	case FactOnCasting:
		return s.onCasting(sub)
	case factBoltOn:
		return boltOn(sub)
	case FactTips:
		return s.tips(sub)
	case factThrough:
		return s.through(sub)
	case factDepth:
		return s.depth(sub)
	case factAge:
		return s.age(sub)
	case FactCast:
		return s.castOn(sub)
	case FactTemp:
		return s.temperature()
	case FactEquipment:
		return s.equipment()
	case FactQualified:
		return s.qualifications()
	}
	return s.surfaceFact(name, sub)
}

// surfaceFact are the facts that need the place of the finding on a casting.
func (s *scene) surfaceFact(name string, sub *subject) known {
	if sub.casting == nil {
		return offCasting(name)
	}
	switch name {
	case factCount:
		return s.countOnCasting(sub)
	case FactLength:
		return s.length(sub)
	case factLengthAll:
		return s.lengthTogether(sub, "")
	}
	if !sub.g.Located {
		return known{from: noTraceOnMesh}
	}
	switch name {
	case FactZones:
		return s.zones(sub)
	case FactOutboard:
		return s.outboard(sub)
	case factInZone:
		return s.countInZone(sub)
	case FactSpacing:
		return s.spacing(sub)
	case factLengthHere:
		return s.lengthInZone(sub)
	case FactMargin:
		return s.margin(sub)
	}
	if c, ok := clearances[name]; ok {
		return s.nearest(sub, c.of, c.none != nil && c.none(s, sub), c.why)
	}
	return known{from: "this program has no source for it"}
}

// offCasting: a part that is no casting lies in no zone and outboard of no
// line; everything else measured on a casting's surface is missing.
func offCasting(name string) known {
	switch name {
	case FactZones, FactOutboard:
		return known{rule.SetValue(), notOnACasting}
	}
	return known{from: notOnACasting}
}

func oneWord(w string) rule.Value {
	if w == "" {
		return rule.Value{}
	}
	return rule.TextValue(w)
}

// positive refuses a distance below zero as it refuses one that is no number.
func positive(v, std float64) rule.Value {
	if v < 0 {
		return rule.Value{}
	}
	return rule.NumberValue(v, std, "")
}

func (s *scene) onCasting(sub *subject) known {
	switch {
	case sub.casting != nil:
		return known{rule.BoolValue(true), "the part is casting " + string(sub.casting.ID)}
	case sub.part == nil:
		return known{from: "the body has no part " + strconv.Quote(string(sub.f.Part))}
	}
	return known{rule.BoolValue(false), "the part is no casting of the body"}
}

func boltOn(sub *subject) known {
	if sub.part == nil {
		return known{from: "the body has no part " + strconv.Quote(string(sub.f.Part))}
	}
	return known{rule.BoolValue(sub.part.BoltOn), "parts.csv, part " + string(sub.part.ID)}
}

// depth is the deepest of what counts as one.
func (s *scene) depth(sub *subject) known {
	var all []rule.Value
	for _, o := range s.asOne(sub) {
		if !o.f.Depth.Known {
			return known{from: saysNothing + about(o, sub)}
		}
		all = append(all, positive(float64(o.f.Depth.Value), float64(o.f.DepthStd)))
	}
	v := rule.MostOf(all...)
	if v.MostStd() == 0 {
		return known{v, fromTheFinding + ", taken as exact"}
	}
	return known{v, fromTheFinding}
}

// about names another finding that a fact comes from.
func about(o, sub *subject) string {
	if o.f.ID == sub.f.ID {
		return ""
	}
	return " for " + string(o.f.ID) + ", which counts as one with it"
}

// tips is the weakest of the tips. A tip that was not entered makes the fact
// unknown; a branch has one tip only when it surely forks off where it is said to.
func (s *scene) tips(sub *subject) known {
	weakest := ""
	for _, o := range s.asOne(sub) {
		tips := o.f.Tips
		if len(o.g.Tips) > 0 {
			tips = o.g.Tips // as far as the inspection that found them counts
		}
		if o != sub && o.f.Kind != body.Crack && o.f.Kind != body.Break {
			continue // it has no tips
		}
		if len(tips) < 2 && (!o.g.Fork || len(tips) < 1) {
			return known{from: "not entered for both tips" + about(o, sub)}
		}
		for _, t := range tips {
			switch {
			case t != tipVisual && t != tipPenetrant && t != tipStopHole:
				return known{from: strconv.Quote(t) + " is no way to find a tip" + about(o, sub)}
			case weakest == "" || tipRank(t) < tipRank(weakest):
				weakest = t
			}
		}
	}
	return known{rule.TextValue(weakest), fromTheFinding + ", the weaker of the tips"}
}

func tipRank(t string) int {
	switch t {
	case tipPenetrant:
		return 1
	case tipStopHole:
		return 2
	}
	return 0
}

// through: a crack that is also seen on the other face goes through, whatever
// else was entered; of several that count as one, one is enough.
func (s *scene) through(sub *subject) known {
	missing := ""
	for _, o := range s.asOne(sub) {
		if other := s.otherFace(o.f); other != "" {
			return known{rule.BoolValue(true), string(o.f.ID) + " and " + string(other) + " are the two faces of one crack"}
		}
		said := o.f.Through
		if o.g.Through == body.Unknown {
			said = o.g.Through // a relation that the mesh does not bear out leaves it open
		}
		switch {
		case said == body.Yes:
			return known{rule.BoolValue(true), fromTheFinding + about(o, sub)}
		case said != body.No && missing == "":
			missing = saysNothing + about(o, sub)
		}
	}
	if missing != "" {
		return known{from: missing}
	}
	return known{rule.BoolValue(false), fromTheFinding}
}
