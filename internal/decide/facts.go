package decide

import (
	"strconv"
	"strings"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/rule"
)

// Words of facts, and where facts come from.
const (
	notOnACasting  = "the part is not a casting"
	noTraceOnMesh  = "no trace was found on the casting's surface"
	saysNothing    = "nothing was entered"
	fromTheTrace   = "from the trace on the casting's surface"
	fromTheTape    = "measured by hand along the surface"
	noZoneSaid     = "it is not said in which zones it lies"
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

// byHand says that there is no mesh of the casting: what is known was measured by hand.
func (sub *subject) byHand() bool { return sub.casting != nil && !sub.casting.HasMesh() }

// notFound is why nothing is known of where it lies.
func (sub *subject) notFound() string {
	if sub.byHand() {
		return noZoneSaid
	}
	return noTraceOnMesh
}

// wanted is the facts that a table needs, and those that people want to see
// whatever the table, in the order of the vocabulary.
func wanted(rs *Ruleset) []body.FactDef {
	var out []body.FactDef
	for _, d := range body.FactDefs() {
		if !d.OnDemand || (rs != nil && rs.Table.Names(d.Name)) {
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
			f.From = strings.TrimSuffix(k.from, ".") + ": " + d.HowToGet(sub.casting)
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

// source is where a fact comes from.
type source struct {
	of    func(*scene, *subject) known
	needs place
	off   rule.Value // what it is of a part that is no casting, where it needs one; unknown unless said
}

// place is what has to be known of where a finding lies.
type place int

const (
	anywhere     place = iota
	onACasting         // the part is a casting
	onItsSurface       // and the finding was found on its surface
)

// sources is where each fact of the vocabulary comes from. A part that is no casting lies in no
// zone and outboard of no line; everything else measured on a casting's surface is missing.
func sources() map[string]source {
	none := rule.SetValue()
	out := map[string]source{
		body.FactKind:      {of: func(_ *scene, sub *subject) known { return known{oneWord(string(sub.f.Kind)), fromTheFinding} }},
		body.FactOnCasting: {of: (*scene).onCasting},
		body.FactBoltOn:    {of: func(_ *scene, sub *subject) known { return boltOn(sub) }},
		body.FactTips:      {of: (*scene).tips},
		body.FactThrough:   {of: (*scene).through},
		body.FactDepth:     {of: (*scene).depth},
		body.FactPart:      {of: func(_ *scene, sub *subject) known { return partName(sub) }},
		body.FactKinked:    {of: (*scene).kinked},
		body.FactShape:     {of: (*scene).outOfShape},
		body.FactShift:     {of: (*scene).shift},
		body.FactStraight:  {of: (*scene).straightenedBefore},
		body.FactAge:       {of: (*scene).age},
		body.FactCast:      {of: (*scene).castOn},
		body.FactTemp:      {of: func(s *scene, _ *subject) known { return s.temperature() }},
		body.FactEquipment: {of: func(s *scene, _ *subject) known { return s.equipment() }},
		body.FactQualified: {of: func(s *scene, _ *subject) known { return s.qualifications() }},

		body.FactCount:     {of: (*scene).countOnCasting, needs: onACasting},
		body.FactLength:    {of: (*scene).length, needs: onACasting},
		body.FactLengthAll: {of: func(s *scene, sub *subject) known { return s.lengthTogether(sub, "") }, needs: onACasting},

		body.FactZones:      {of: (*scene).zones, needs: onItsSurface, off: none},
		body.FactOutboard:   {of: (*scene).outboard, needs: onItsSurface, off: none},
		body.FactInZone:     {of: (*scene).countInZone, needs: onItsSurface},
		body.FactSpacing:    {of: (*scene).spacing, needs: onItsSurface},
		body.FactLengthHere: {of: (*scene).lengthInZone, needs: onItsSurface},
		body.FactMargin:     {of: (*scene).margin, needs: onItsSurface},
	}
	for name, c := range clearances {
		out[name] = source{of: func(s *scene, sub *subject) known {
			return s.nearest(sub, c.of, c.none != nil && c.none(s, sub), c.why)
		}, needs: onItsSurface}
	}
	return out
}

var sourceOf = sources()

func (s *scene) fact(name string, sub *subject) known {
	from, ok := sourceOf[name]
	switch {
	case !ok:
		return known{from: "this program has no source for it"}
	case from.needs != anywhere && sub.casting == nil:
		return known{from.off, notOnACasting}
	case from.needs == onItsSurface && !sub.g.Located:
		return known{from: sub.notFound()}
	}
	return from.of(s, sub)
}

// CanKnow says that the fact can be known of a finding of a kind, on a casting or on another part,
// whatever anyone measures: what lies on no casting has no length along one, and only what is bent is
// kinked.
func CanKnow(fact string, kind body.FindingKind, onCasting bool) bool {
	from, ok := sourceOf[fact]
	switch {
	case !ok:
		return false
	case from.needs != anywhere && !onCasting:
		return from.off.Known
	case fact == body.FactKinked || fact == body.FactShape:
		return isBent(kind)
	}
	return true
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
	var weakest body.TipMethod
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
			case t != body.TipVisual && t != body.TipPenetrant && t != body.TipStopHole:
				return known{from: strconv.Quote(string(t)) + " is no way to find a tip" + about(o, sub)}
			case weakest == "" || tipRank(t) < tipRank(weakest):
				weakest = t
			}
		}
	}
	return known{rule.TextValue(string(weakest)), fromTheFinding + ", the weaker of the tips"}
}

func tipRank(t body.TipMethod) int {
	switch t {
	case body.TipPenetrant:
		return 1
	case body.TipStopHole:
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
