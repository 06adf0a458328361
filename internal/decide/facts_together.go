package decide

import (
	"maps"
	"slices"

	"fettle/internal/body"
	"fettle/internal/rule"
)

// lengthInZone is the length of all cracks of a zone together; a finding in
// several zones has the largest of theirs, whichever that is. A crack that only
// touches the zone counts with its whole length.
func (s *scene) lengthInZone(sub *subject) known {
	if u := s.unlocated(sub); u != "" {
		return known{from: "crack " + string(u) + " on the casting has no trace"}
	}
	zones := s.zones(sub)
	if !zones.value.Known {
		return known{from: zones.from}
	}
	var most known
	var all []rule.Value
	for i, w := range zones.value.Words {
		k := s.lengthTogether(sub, body.ZoneID(w))
		if !k.value.Known {
			return k
		}
		if i == 0 || k.value.Number > most.value.Number {
			most = k
		}
		all = append(all, k.value)
	}
	most.value = rule.MostOf(all...)
	return most
}

// lengthTogether adds up the decision lengths of the cracks on the casting, or
// in one zone of it, and the repairs done there before. Cracks that count as
// one are added once, with every length that they may have: all the sums have to keep
// a limit. The uncertainties are added as they stand: what makes one length too short
// may make all of them so.
func (s *scene) lengthTogether(sub *subject, z body.ZoneID) known {
	if a := s.uncovered(sub.casting.ID, z); a != "" {
		return known{from: a + " has not been inspected as the body asks"}
	}
	if why := s.in.Job.RepairsUnknown(sub.casting.ID, s.in.Shop, s.in.acts()); why != "" {
		return known{from: why}
	}
	roots := s.counts[sub.casting.ID]
	if z != "" {
		roots = s.inZone[zoneKey{sub.casting.ID, z}]
	}
	own := s.root[sub.place]
	list := slices.Sorted(maps.Keys(roots))
	if !roots[own] {
		list = append(list, own)
	}
	var each [][]rule.Value
	sum := 0.0
	for _, r := range list {
		l := s.length(s.members[r][0])
		if !l.value.Known {
			return known{from: "the length of " + string(s.members[r][0].f.ID) + " is not known: " + l.from}
		}
		sum += l.value.Number
		each = append(each, elementsOf(l.value))
	}
	earlier := 0.0
	for i, e := range s.in.Job.Earlier {
		if z != "" && s.earlierIn(i, z) || z == "" && s.earlierOn(i, sub.casting) {
			earlier += float64(e.Length)
		}
	}
	from := tenth(sum) + " now"
	if earlier > 0 {
		from += " and " + tenth(earlier) + " repaired before"
	}
	if z != "" {
		from += " in " + string(z)
	}
	return known{rule.MostOf(sums(each, earlier)...), from}
}

// elementsOf is the numbers that a value may be: itself, or those it is the largest
// of.
func elementsOf(v rule.Value) []rule.Value {
	if len(v.Of) > 0 {
		return v.Of
	}
	return []rule.Value{v}
}

// sums is every sum of one element of each, and of something that is certain.
func sums(each [][]rule.Value, certain float64) []rule.Value {
	return rule.Choices(each, rule.NumberValue(certain, 0, "mm"),
		func(a, b rule.Value) rule.Value { return rule.NumberValue(a.Number+b.Number, a.Std+b.Std, "mm") },
		func(a, b rule.Value) rule.Value {
			a.Number, a.Std = max(a.Number, b.Number), max(a.Std, b.Std)
			return a
		})
}
