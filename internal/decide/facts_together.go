package decide

import (
	"maps"
	"slices"

	"fettle/internal/body"
	"fettle/internal/rule"
)

// lengthInZone is the length of all cracks of a zone together; a finding in
// several zones has the largest of theirs. A crack that only touches the zone
// counts with its whole length.
func (s *scene) lengthInZone(sub *subject) known {
	if u := s.unlocated(sub); u != "" {
		return known{from: "crack " + string(u) + " on the casting has no trace"}
	}
	zones := s.zones(sub)
	if !zones.value.Known {
		return known{from: zones.from}
	}
	var most known
	for i, w := range zones.value.Words {
		k := s.lengthTogether(sub, body.ZoneID(w))
		if !k.value.Known {
			return k
		}
		if i == 0 || k.value.Number > most.value.Number {
			most = k
		}
	}
	return most
}

// lengthTogether adds up the decision lengths of the cracks on the casting, or
// in one zone of it, and the repairs done there before. Cracks that count as
// one are added once. The uncertainties are added as they stand: what makes one
// length too short may make all of them so.
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
	sum, std := 0.0, 0.0
	own := s.root[sub.place]
	list := slices.Sorted(maps.Keys(roots))
	if !roots[own] {
		list = append(list, own)
	}
	for _, r := range list {
		l := s.length(s.members[r][0])
		if !l.value.Known {
			return known{from: "the length of " + string(s.members[r][0].f.ID) + " is not known: " + l.from}
		}
		sum, std = sum+l.value.Number, std+l.value.Std
	}
	earlier := 0.0
	for _, e := range s.in.Job.Earlier {
		if e.Zone == z || (z == "" && hasZone(sub.casting, e.Zone)) {
			earlier += float64(e.Length)
		}
	}
	from := mm(sum) + " now"
	if earlier > 0 {
		from += " and " + mm(earlier) + " repaired before"
	}
	if z != "" {
		from += " in " + string(z)
	}
	return known{rule.NumberValue(sum+earlier, std, "mm"), from}
}
