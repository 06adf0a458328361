package decide

import (
	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/rule"
)

// clearance says where a clearance comes from, and when there is surely nothing
// of the kind.
type clearanceFrom struct {
	of   func(inspect.Finding) *inspect.Clearance
	none func(*scene, *subject) bool // nil: that is never sure
	why  string
}

// clearances is the one place where the facts about distances are tied to what
// inspect measures. What inspect does not measure is unknown.
var clearances = map[string]clearanceFrom{
	body.FactBore: {func(g inspect.Finding) *inspect.Clearance { return g.Bore },
		func(_ *scene, sub *subject) bool { return sub.casting.Bores != nil && len(sub.casting.Bores) == 0 }, "the body says the casting has no bores"},
	body.FactBorder: {func(g inspect.Finding) *inspect.Clearance { return g.Border },
		func(_ *scene, sub *subject) bool { return len(sub.casting.Zones) == 1 }, "the casting is one zone"},
	body.FactEdge:    {func(g inspect.Finding) *inspect.Clearance { return g.Edge }, nil, ""},
	body.FactJoint:   {func(g inspect.Finding) *inspect.Clearance { return g.Joint }, nil, ""},
	body.FactEarlier: {func(g inspect.Finding) *inspect.Clearance { return g.Earlier }, nil, ""},
}

// margin is how far all that counts as one lies outboard of a section line: of
// several lines the one it lies farthest outboard of. Looked at with one line
// alone, the table sees that line's own; see forLine.
func (s *scene) margin(sub *subject) known {
	best := known{from: "the casting has no section line"}
	var all []rule.Value
	for i, l := range sub.g.Sides {
		k := s.marginTo(sub, l.Line)
		if !k.value.Known {
			return k
		}
		if i == 0 || k.value.Number > best.value.Number {
			best = k
		}
		all = append(all, k.value)
	}
	if len(all) > 0 {
		best.value = rule.MostOf(all...)
	}
	return best
}

// marginTo is the margin of one line: the least of all that counts as one.
func (s *scene) marginTo(sub *subject, line body.LineID) known {
	out, found := known{}, false
	var all []rule.Value
	for _, o := range s.asOne(sub) {
		side, ok := sideOf(o.g, line)
		if !ok {
			return known{from: "the side of section line " + string(line) + " is not known" + about(o, sub)}
		}
		if v := rule.NumberValue(side.MarginMM, side.Std, "mm"); !found || v.Number < out.value.Number {
			out, found = known{v, "to section line " + string(line) + about(o, sub)}, true
		}
		if len(side.Of) == 0 {
			all = append(all, rule.NumberValue(side.MarginMM, side.Std, "mm"))
		}
		for _, e := range side.Of {
			all = append(all, rule.NumberValue(e.MM, e.Std, "mm"))
		}
	}
	if len(all) > 0 {
		out.value = rule.LeastOf(all...)
	}
	return out
}

func sideOf(g inspect.Finding, line body.LineID) (inspect.LineSide, bool) {
	for _, l := range g.Sides {
		if l.Line == line {
			return l, true
		}
	}
	return inspect.LineSide{}, false
}

// marginsOf adds the margin of each line to the facts of a finding whose table
// looks at margins, under a name that no condition can have.
func (s *scene) marginsOf(sub *subject, facts rule.Facts) {
	if _, looked := facts[body.FactMargin]; !looked || sub.casting == nil || !sub.g.Located {
		return
	}
	for _, l := range sub.g.Sides {
		facts[marginKey(string(l.Line))] = s.marginTo(sub, l.Line).value
	}
}

func marginKey(line string) string { return body.FactMargin + " " + line }

// forLine is the facts as one section line alone sees them.
func forLine(facts rule.Facts, line string) rule.Facts {
	out := facts.With(body.FactOutboard, rule.SetValue(line))
	if v, ok := facts[marginKey(line)]; ok {
		out[body.FactMargin] = v
	}
	return out
}
