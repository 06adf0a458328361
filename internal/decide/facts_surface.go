package decide

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/rule"
	"fettle/internal/unit"
)

// length is what inspect holds against a limit: of cracks that count as one,
// the longest decision length.
func (s *scene) length(sub *subject) known {
	if !sub.g.Located {
		return known{from: sub.notFound()}
	}
	var all []rule.Value
	for _, o := range s.asOne(sub) {
		d := o.g.Decision
		if d == nil {
			return known{from: "inspect found no decision length" + about(o, sub)}
		}
		for _, l := range append([]inspect.Length{*d}, o.g.Lengths...) {
			if v := positive(l.MM, l.Std); !slices.ContainsFunc(all, func(o rule.Value) bool { return o.Number == v.Number && o.Std == v.Std }) {
				all = append(all, v)
			}
		}
	}
	from := fromTheTrace
	if sub.byHand() {
		from = fromTheTape
	}
	if sub.g.TipAddMM > 0 {
		from += ", with " + tenth(sub.g.TipAddMM) + " for tips seen by eye only"
	}
	if g := sub.g.Group; g != "" {
		from += "; group " + g + " counts as one"
	}
	return known{rule.MostOf(all...), from}
}

// zones is every zone of all that counts as one.
func (s *scene) zones(sub *subject) known {
	var words []string
	for _, o := range s.asOne(sub) {
		if !o.g.Located || len(o.g.Zones) == 0 {
			return known{from: "the trace lies in no zone of the casting's data" + about(o, sub)}
		}
		for _, z := range o.g.Zones {
			words = append(words, string(z.Zone))
		}
	}
	from := "every zone crossed or nearer than the uncertainty"
	if len(s.asOne(sub)) > 1 {
		from += ", of all cracks that count as one"
	}
	return known{rule.SetValue(words...), from}
}

// outboard is the lines that all of it lies outboard of, with everything that
// counts as one.
func (s *scene) outboard(sub *subject) known {
	lines := s.linesOf(sub.casting.ID)
	members := s.asOne(sub)
	outside := map[body.LineID][]inspect.LineSide{}
	for _, o := range members {
		if len(o.g.Sides) < lines {
			return known{from: "the side of every section line is not known" + about(o, sub)}
		}
		for _, l := range o.g.Sides {
			if l.Outboard {
				outside[l.Line] = append(outside[l.Line], l)
			}
		}
	}
	var words []string
	for _, l := range sub.g.Sides {
		all := outside[l.Line]
		if len(all) == len(members) && (len(all) == 1 || inspect.Outboard(s.confidence(), all...)) {
			words = append(words, string(l.Line))
		}
	}
	return known{rule.SetValue(words...), "all of it outboard by the margin, with the uncertainty"}
}

// nearest is the least clearance of all that counts as one: every one of them, to
// everything that may be nearest, has to keep a limit.
func (s *scene) nearest(sub *subject, of func(inspect.Finding) *inspect.Clearance, none bool, why string) known {
	best := known{from: sub.unmeasured()}
	var all []rule.Value
	for i, o := range s.asOne(sub) {
		k := o.clearance(of(o.g), none, why)
		if !k.value.Known {
			return known{from: k.from + about(o, sub)}
		}
		same := k.value.Number == best.value.Number
		if i == 0 || k.value.Number < best.value.Number || same && (k.value.Std > best.value.Std || o == sub && k.value.Std == best.value.Std) {
			best = k // of equals what is nearest to the finding itself
		}
		all = append(all, k.value)
	}
	best.value = rule.LeastOf(all...)
	return best
}

func (sub *subject) clearance(c *inspect.Clearance, none bool, why string) known {
	switch {
	case c != nil && c.To == inspect.None:
		return known{rule.LeastOf(append(others(c), rule.NoneNear(""))...), c.To}
	case c != nil:
		return known{rule.LeastOf(append(others(c), positive(c.MM, c.Std))...), "to " + c.To}
	case none:
		return known{rule.NoneNear(""), why}
	}
	return known{from: sub.unmeasured()}
}

// unmeasured is why a distance is not known.
func (sub *subject) unmeasured() string {
	if sub.byHand() {
		return "nobody measured it"
	}
	return "it was not found on the surface"
}

// others is every element of a clearance beside the nearest.
func others(c *inspect.Clearance) []rule.Value {
	var out []rule.Value
	lead := false
	for _, e := range c.Of {
		if !lead && !e.Maybe && e.MM == c.MM && e.Std == c.Std {
			lead = true
			continue
		}
		v := positive(e.MM, e.Std)
		v.Maybe = e.Maybe
		out = append(out, v)
	}
	return out
}

// spacing is that of all that counts as one: the other face of a crack has
// neighbours of its own.
func (s *scene) spacing(sub *subject) known {
	if u := s.unlocated(sub); u != "" {
		return known{from: "crack " + string(u) + " on the casting has no trace"}
	}
	return s.nearest(sub, func(g inspect.Finding) *inspect.Clearance { return g.Spacing }, s.alone(sub), "nothing else that weakens the wall is on the casting")
}

// tenth is a computed length, as it stands beside those with an uncertainty.
func tenth(v float64) string { return unit.Fixed(v, 1) + " mm" }

// mm is a length as it was entered.
func mm(v float64) string { return rule.NumberValue(v, 0, "mm").String() }
