package revise

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/doc"
	"fettle/internal/rule"
)

// Change is one difference between two revisions of a procedure, in words.
type Change struct {
	Row  string    `json:"row,omitempty"` // empty: about the procedure as a whole
	Text string    `json:"text"`
	Way  Direction `json:"way"` // what it does to what may be done
	Cite string    `json:"cite,omitempty"`
}

// Direction says which way a change goes. The zero value claims nothing.
type Direction int

// Directions of a change.
const (
	Unclear  Direction = iota // it can go either way, or is about something else
	Stricter                  // nothing more may be done, and something less
	Milder                    // nothing less may be done, and something more
)

// String is the word shown to people.
func (d Direction) String() string {
	switch d {
	case Stricter:
		return "stricter"
	case Milder:
		return "milder"
	}
	return "changed"
}

// MarshalText writes the word.
func (d Direction) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// opposite is the direction for a row that forbids.
func (d Direction) opposite() Direction {
	switch d {
	case Stricter:
		return Milder
	case Milder:
		return Stricter
	}
	return Unclear
}

// Diff says what changed from one revision to another: first about the
// procedure as a whole, then row by row in the order of the newer one, then the
// rows that are gone, then every other field, and the tests. A row is the same row
// when it has the same identity. A citation alone is no change: the pages move with
// every revision.
func Diff(old, fresh body.Procedure) []Change {
	out := diffHead(old, fresh)
	for _, r := range fresh.Rows {
		i := slices.IndexFunc(old.Rows, func(o body.Row) bool { return o.ID == r.ID })
		if i < 0 {
			out = append(out, Change{r.ID, "new row: when " + decide.WhenText(r.Conditions()) + ", it " + addedEffect(r) + decide.AfterText(r.After), added(r), r.Cite})
			continue
		}
		out = append(out, diffRow(old.Rows[i], r)...)
	}
	if a, b := order(old.Rows), order(fresh.Rows); !slices.Equal(keptOf(a, b), keptOf(b, a)) {
		out = append(out, Change{Text: "the rows stand in another order: " + strings.Join(b, ", ")})
	}
	for _, r := range old.Rows {
		if !slices.ContainsFunc(fresh.Rows, func(o body.Row) bool { return o.ID == r.ID }) {
			out = append(out, Change{r.ID, "row dropped: when " + decide.WhenText(r.Conditions()) + ", it " + droppedEffect(r), added(r).opposite(), r.Cite})
		}
	}
	for _, t := range differences(old, fresh, wordedProcedure) {
		out = append(out, Change{Text: t})
	}
	return append(out, diffTests(old.Tests, fresh.Tests)...)
}

func order(rows []body.Row) []string {
	out := make([]string, len(rows))
	for i, r := range rows {
		out[i] = r.ID
	}
	return out
}

// keptOf is those of a that b has too, in the order of a.
func keptOf(a, b []string) []string {
	return slices.DeleteFunc(slices.Clone(a), func(id string) bool { return !slices.Contains(b, id) })
}

func addedEffect(r body.Row) string {
	return strings.Replace(decide.Effect(r), "ask the manufacturer", "asks the manufacturer", 1)
}

func droppedEffect(r body.Row) string {
	return strings.NewReplacer("allows", "allowed", "forbids", "forbade", "ask the manufacturer", "asked the manufacturer").Replace(decide.Effect(r))
}

// added is what a new row does: one that only allows makes milder, one that
// only forbids or asks makes stricter.
func added(r body.Row) Direction {
	restricts := len(r.Forbid) > 0 || r.Ask != ""
	switch {
	case restricts && len(r.Allow) == 0:
		return Stricter
	case !restricts && len(r.Allow) > 0:
		return Milder
	}
	return Unclear
}

func diffHead(old, fresh body.Procedure) []Change {
	var out []Change
	add := func(way Direction, format string, args ...any) {
		out = append(out, Change{Text: fmt.Sprintf(format, args...), Way: way})
	}
	if old.ID != fresh.ID {
		add(Unclear, "these are two procedures: %s and %s", old.ID, fresh.ID)
	}
	if old.Casting != fresh.Casting {
		add(Unclear, "for casting %s in place of %s", fresh.Casting, old.Casting)
	}
	if old.Effective != fresh.Effective {
		add(Unclear, "in effect from %s (revision %s: from %s)", fresh.Effective, old.Revision, old.Effective)
	}
	if old.Recheck != fresh.Recheck {
		add(Unclear, "to be looked up again before %s (revision %s: before %s)", fresh.Recheck, old.Revision, old.Recheck)
	}
	if a, b := old.TipVisual, fresh.TipVisual; a != b {
		add(moreIs(b > a), "for each tip seen by eye only %s is added to a crack in place of %s", b, a)
	}
	if a, b := old.GroupGap, fresh.GroupGap; a != b {
		add(moreIs(b > a), "cracks nearer to each other than %s count as one (revision %s: %s)", b, old.Revision, a)
	}
	out = append(out, diffAcceptance(old, fresh)...)
	return out
}

func moreIs(stricter bool) Direction {
	if stricter {
		return Stricter
	}
	return Milder
}

// diffRow is what changed in a row that both revisions have.
func diffRow(old, fresh body.Row) []Change {
	var out []Change
	add := func(way Direction, text string) { out = append(out, Change{fresh.ID, text, way, fresh.Cite}) }
	reach := added(fresh) // a condition that is met more often makes milder when the row allows
	if added(old) != reach {
		reach = Unclear
	}
	before, after := old.Conditions(), fresh.Conditions()
	for _, name := range doc.Keys(before, after) {
		was, had := before[name]
		is, has := after[name]
		switch {
		case same(was, is):
		case !had:
			add(narrower(reach), body.Fact(name).BeforeValue()+" now has to be "+is)
		case !has:
			add(wider(reach), body.Fact(name).BeforeValue()+" no longer matters (it had to be "+was+")")
		default:
			add(conditionWay(body.Fact(name), was, is, reach), conditionText(body.Fact(name), was, is))
		}
	}
	diffKinds(old.Allow, fresh.Allow, "allows", "no longer allows", Milder, add)
	diffKinds(old.Forbid, fresh.Forbid, "forbids", "no longer forbids", Stricter, add)
	switch {
	case old.Ask == fresh.Ask:
	case old.Ask == "":
		add(Stricter, "now asks the manufacturer: "+fresh.Ask)
	case fresh.Ask == "":
		add(Milder, "no longer asks the manufacturer ("+old.Ask+")")
	default:
		add(Unclear, "asks the manufacturer for another reason: "+fresh.Ask)
	}
	for _, a := range decide.MissingFrom(fresh.After, old.After) {
		add(Stricter, "afterwards also: "+a.String())
	}
	for _, a := range decide.MissingFrom(old.After, fresh.After) {
		add(Milder, "afterwards no longer: "+a.String())
	}
	was, is := old.With.Words(nil), fresh.With.Words(nil)
	for _, w := range decide.MissingFrom(is, was) {
		add(Unclear, "now has to be done with: "+w)
	}
	for _, w := range decide.MissingFrom(was, is) {
		add(Unclear, "no longer has to be done with: "+w)
	}
	for _, t := range differences(old, fresh, wordedRow) {
		add(Unclear, t)
	}
	return out
}

func narrower(reach Direction) Direction { return reach.opposite() }
func wider(reach Direction) Direction    { return reach }

func diffKinds(old, fresh []body.TreatmentKind, gains, loses string, way Direction, add func(Direction, string)) {
	for _, k := range decide.MissingFrom(fresh, old) {
		add(way, "now "+gains+" "+string(k))
	}
	for _, k := range decide.MissingFrom(old, fresh) {
		add(way.opposite(), loses+" "+string(k))
	}
}

func same(a, b string) bool {
	return strings.Join(strings.Fields(a), " ") == strings.Join(strings.Fields(b), " ")
}

// conditionText says how a condition changed: a limit as two limits, a list by
// what was added and left out.
func conditionText(def body.FactDef, was, is string) string {
	a, errA := rule.ParseCond(def.Name, rule.Kind(def.Kind), def.Unit, was)
	b, errB := rule.ParseCond(def.Name, rule.Kind(def.Kind), def.Unit, is)
	name := def.BeforeValue()
	if errA != nil || errB != nil || a.Op != b.Op || len(a.Words)+len(b.Words) == 0 {
		return name + " " + is + " in place of " + was
	}
	var parts []string
	if more := decide.MissingFrom(b.Words, a.Words); len(more) > 0 {
		parts = append(parts, "now also names "+strings.Join(more, ", "))
	}
	if less := decide.MissingFrom(a.Words, b.Words); len(less) > 0 {
		parts = append(parts, "no longer names "+strings.Join(less, ", "))
	}
	if len(parts) == 0 {
		return name + " " + is + " in place of " + was
	}
	return name + " " + strings.Join(parts, " and ") + " (" + is + ")"
}

// conditionWay says whether a condition is met more often or less often than
// before, turned into milder or stricter by what the row says.
func conditionWay(def body.FactDef, was, is string, reach Direction) Direction {
	a, errA := rule.ParseCond(def.Name, rule.Kind(def.Kind), def.Unit, was)
	b, errB := rule.ParseCond(def.Name, rule.Kind(def.Kind), def.Unit, is)
	if errA != nil || errB != nil {
		return Unclear
	}
	sp := rule.Space{Signed: map[string]bool{def.Name: def.Signed}}
	inside, outside := a.Implies(b, sp), b.Implies(a, sp)
	switch {
	case inside && !outside:
		return wider(reach)
	case outside && !inside:
		return narrower(reach)
	}
	return Unclear
}
