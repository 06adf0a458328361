package decide

import (
	"fmt"
	"slices"
	"strconv"

	"fettle/internal/body"
	"fettle/internal/doc"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/rule"
)

// scene is what the findings share: where each lies, which cracks count as
// one, and what has been inspected.
type scene struct {
	in       Input
	subjects []*subject                      // in the order of the job
	root     []int                           // per subject: the first of the cracks it counts as one with
	members  [][]*subject                    // per root: the cracks that count as one, by identity
	piece    []int                           // per subject: the first of the cracks it surely is one with
	counts   map[body.CastingID]map[int]bool // roots
	inZone   map[zoneKey]map[int]bool
	pieces   map[zoneKey]map[int]bool // the same by piece; without a zone: of the casting
	lost     []*subject               // cracks whose place is not known
	measured *measure.Result          // of the control points; nil: not asked for yet
}

type zoneKey struct {
	casting body.CastingID
	zone    body.ZoneID
}

func newScene(in Input) *scene {
	s := &scene{in: in, counts: map[body.CastingID]map[int]bool{}, inZone: map[zoneKey]map[int]bool{}, pieces: map[zoneKey]map[int]bool{}}
	seen := map[job.FindingID]inspect.Finding{}
	for _, g := range in.Inspect.Findings {
		seen[g.ID] = g
	}
	for _, f := range in.Job.Findings {
		claims, _ := in.Job.Claims(f, in.Shop, in.acts())
		s.subjects = append(s.subjects, s.subject(len(s.subjects), claims, seen[f.ID]))
	}
	s.unite()
	for i, sub := range s.subjects {
		s.count(i, sub)
		if isCrack(sub) && !sub.g.Located {
			s.lost = append(s.lost, sub)
		}
	}
	return s
}

func (s *scene) subject(i int, f job.Finding, g inspect.Finding) *subject {
	sub := &subject{place: i, f: f, g: g}
	for i := range s.in.Body.Parts {
		if s.in.Body.Parts[i].ID == f.Part {
			sub.part = &s.in.Body.Parts[i]
		}
	}
	for i := range s.in.Body.Castings {
		c := &s.in.Body.Castings[i]
		if c.Part == f.Part || c.ID == g.Casting {
			sub.casting = c
		}
	}
	return sub
}

// unite finds which findings are one crack to the procedure: the members of a
// group, and the two faces of one crack. A group is what may be one: its length
// and its zones count together. What surely is one counts as one in a number.
func (s *scene) unite() {
	s.root = s.joined(func(sub *subject) string { return sub.g.Group })
	s.piece = s.joined(func(sub *subject) string { return sub.g.Piece })
	s.members = make([][]*subject, len(s.subjects))
	for i, sub := range s.subjects {
		r := s.root[i]
		s.members[r] = append(s.members[r], sub)
	}
	for _, m := range s.members {
		slices.SortFunc(m, func(a, b *subject) int { return doc.Natural(string(a.f.ID), string(b.f.ID)) })
	}
}

// joined is, per subject, the first of those it is one with: by the same name,
// and as the other face of one crack, unless the mesh says otherwise.
func (s *scene) joined(name func(*subject) string) []int {
	root := make([]int, len(s.subjects))
	find := func(i int) int {
		for root[i] != i {
			i = root[i]
		}
		return i
	}
	join := func(a, b int) {
		a, b = find(a), find(b)
		root[max(a, b)] = min(a, b)
	}
	byID, byName := map[job.FindingID]int{}, map[string]int{}
	for i, sub := range s.subjects {
		root[i] = i
		byID[sub.f.ID] = i
	}
	for i, sub := range s.subjects {
		n := name(sub)
		if first, ok := byName[n]; n != "" && ok {
			join(i, first)
		} else if n != "" {
			byName[n] = i
		}
		if other, ok := byID[sub.f.SameAs]; ok && !sub.g.NoFace {
			join(i, other)
		}
	}
	for i := range root {
		root[i] = find(i)
	}
	return root
}

// isCrack says whether a finding counts among the cracks: a break is one that
// has gone all the way.
func isCrack(sub *subject) bool { return sub.f.Kind == body.Crack || sub.f.Kind == body.Break }

func (s *scene) count(i int, sub *subject) {
	if sub.casting == nil || !isCrack(sub) {
		return
	}
	add(s.counts, sub.casting.ID, s.root[i])
	add(s.pieces, zoneKey{casting: sub.casting.ID}, s.piece[i])
	for _, z := range sub.g.Zones {
		add(s.inZone, zoneKey{sub.casting.ID, z.Zone}, s.root[i])
		add(s.pieces, zoneKey{sub.casting.ID, z.Zone}, s.piece[i])
	}
}

// asOne is the findings that count as one crack with this one, itself
// included, by identity.
func (s *scene) asOne(sub *subject) []*subject { return s.members[s.root[sub.place]] }

func add[K comparable](m map[K]map[int]bool, k K, v int) {
	if m[k] == nil {
		m[k] = map[int]bool{}
	}
	m[k][v] = true
}

// countOnCasting is the cracks on the casting, this finding included, and the
// repairs done there before this job. It is not known before every area of the
// casting has been inspected.
func (s *scene) countOnCasting(sub *subject) known {
	if a := s.uncovered(sub.casting.ID, ""); a != "" {
		return known{from: a + " has not been inspected as the body asks"}
	}
	if why := s.in.Job.RepairsUnknown(sub.casting.ID, s.in.Shop, s.in.acts()); why != "" {
		return known{from: why}
	}
	n := len(s.pieces[zoneKey{casting: sub.casting.ID}]) + itself(sub)
	earlier := 0
	for i := range s.in.Job.Earlier {
		if s.earlierOn(i, sub.casting) {
			earlier++
		}
	}
	return known{rule.NumberValue(float64(n+earlier), 0, ""), countText(n, earlier, "")}
}

// countInZone is the same for a zone; a finding in several zones has the
// largest of their counts.
func (s *scene) countInZone(sub *subject) known {
	if u := s.unlocated(sub); u != "" {
		return known{from: "crack " + string(u) + " on the casting has no trace"}
	}
	zones := s.zones(sub)
	if !zones.value.Known {
		return known{from: zones.from}
	}
	if why := s.in.Job.RepairsUnknown(sub.casting.ID, s.in.Shop, s.in.acts()); why != "" {
		return known{from: why}
	}
	most, text := -1, ""
	for _, w := range zones.value.Words {
		z := body.ZoneID(w)
		if a := s.uncovered(sub.casting.ID, z); a != "" {
			return known{from: a + " has not been inspected as the body asks"}
		}
		n, earlier := len(s.pieces[zoneKey{sub.casting.ID, z}])+itself(sub), 0
		for i := range s.in.Job.Earlier {
			if s.earlierIn(i, z) {
				earlier++
			}
		}
		if n+earlier > most {
			most, text = n+earlier, countText(n, earlier, " in "+w)
		}
	}
	return known{rule.NumberValue(float64(most), 0, ""), text}
}

// earlierIn says that a repair done before counts in a zone: it was entered for it,
// or its trace lies there or may reach it.
func (s *scene) earlierIn(i int, z body.ZoneID) bool {
	return s.in.Job.Earlier[i].Zone == z || i < len(s.in.Inspect.Earlier) && slices.Contains(s.in.Inspect.Earlier[i].Zones, z)
}

// earlierOn is the same for a casting.
func (s *scene) earlierOn(i int, c *body.Casting) bool {
	return hasZone(c, s.in.Job.Earlier[i].Zone) || i < len(s.in.Inspect.Earlier) && slices.Contains(s.in.Inspect.Earlier[i].Castings, c.ID)
}

// itself is 1 for a finding that is not counted among the cracks: the count
// includes the finding it is asked for.
func itself(sub *subject) int {
	if isCrack(sub) {
		return 0
	}
	return 1
}

func countText(n, earlier int, where string) string {
	t := strconv.Itoa(n) + " now"
	if earlier > 0 {
		t += " and " + strconv.Itoa(earlier) + " repaired before"
	}
	return t + where + ", cracks that surely are one counted once"
}

func hasZone(c *body.Casting, z body.ZoneID) bool {
	for _, o := range c.Zones {
		if o.ID == z {
			return true
		}
	}
	return false
}

// uncovered names an area of a casting, or of one of its zones, that has not
// been inspected as the body asks, or a zone in which there is none; empty when there
// is neither.
func (s *scene) uncovered(c body.CastingID, z body.ZoneID) string {
	for _, a := range s.in.Body.Inspect {
		if a.Casting == c && (z == "" || a.Zone == z) && !s.inspected(a.ID) {
			return "area " + a.ID
		}
	}
	for _, a := range s.in.Inspect.Coverage {
		if a.Casting == c && (z == "" || a.Zone == z || a.Zone == "") && !a.Covered {
			return "area " + a.Area
		}
	}
	for _, k := range s.in.Body.Castings {
		for _, zone := range k.Zones {
			if k.ID == c && (z == "" || zone.ID == z) && !s.hasArea(c, zone.ID) {
				return "zone " + string(zone.ID) + ", in which there is no inspection area,"
			}
		}
	}
	return ""
}

// hasArea says that an inspection area lies in a zone. Where there is none nobody
// has been asked to look.
func (s *scene) hasArea(c body.CastingID, z body.ZoneID) bool {
	return slices.ContainsFunc(s.in.Body.Inspect, func(a body.Area) bool { return a.Casting == c && a.Zone == z }) ||
		slices.ContainsFunc(s.in.Inspect.Coverage, func(a inspect.Coverage) bool { return a.Casting == c && a.Zone == z })
}

// inspected says that an area was inspected as asked.
func (s *scene) inspected(area string) bool {
	return slices.ContainsFunc(s.in.Inspect.Coverage, func(c inspect.Coverage) bool { return c.Area == area && c.Covered })
}

// unlocated names another crack on the same casting whose place is not known.
func (s *scene) unlocated(sub *subject) job.FindingID {
	for _, o := range s.lost {
		if s.root[o.place] != s.root[sub.place] && sameCasting(o, sub) {
			return o.f.ID
		}
	}
	return ""
}

// alone says that no other finding is on the casting.
func (s *scene) alone(sub *subject) bool {
	for _, o := range s.subjects {
		if s.root[o.place] != s.root[sub.place] && sameCasting(o, sub) {
			return false
		}
	}
	return true
}

func sameCasting(a, b *subject) bool {
	return a.casting != nil && b.casting != nil && a.casting.ID == b.casting.ID
}

func (s *scene) linesOf(c body.CastingID) int {
	n := 0
	for _, l := range s.in.Body.Lines {
		if l.Casting == c {
			n++
		}
	}
	return n
}

// otherFace is the finding on the other face of the wall that is the same
// crack, if one was entered.
func (s *scene) otherFace(f job.Finding) job.FindingID {
	for _, o := range s.subjects {
		switch {
		case o.g.NoFace || o.f.SameAs == "":
		case o.f.ID == f.ID:
			return o.f.SameAs
		case o.f.SameAs == f.ID:
			return o.f.ID
		}
	}
	return ""
}

func ErrUnknownFact(name string) error {
	return fmt.Errorf("%q is no fact a condition may name", name)
}
