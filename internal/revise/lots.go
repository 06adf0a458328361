package revise

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/rule"
)

// mostRefuted bounds how often a search meets facts that contradict one another before it is given up.
const mostRefuted = 100

// lot is findings of one kind on parts that no row tells apart. What the body says of the parts is
// the same for all of them, and no other value of it is an example of anything.
type lot struct {
	kind  body.FindingKind
	parts []body.PartID
	onIt  bool // on the casting of the procedure
	cell  rule.Cell
	sp    rule.Space
	rows  []*rule.Row // of the table, in its order; nil: what it looks at can never be known there
}

// on is the parts in words.
func (l lot) on() string {
	words := make([]string, len(l.parts))
	for i, p := range l.parts {
		words[i] = string(p)
	}
	return strings.Join(words, " or ")
}

// able is the rows that may apply there.
func (l lot) able() []rule.Row {
	var out []rule.Row
	for _, r := range l.rows {
		if r != nil {
			out = append(out, *r)
		}
	}
	return out
}

// allLots is every finding that the procedure may have to judge: on its casting, and on each part
// that is on the vehicle and is no casting.
func (g *gaps) allLots() []lot {
	k, _ := g.b.Casting(g.p.Casting)
	out := g.lotsOn([]body.PartID{k.Part}, true)
	for _, parts := range g.alike() {
		out = append(out, g.lotsOn(parts, false)...)
	}
	return out
}

// alike is the parts off the castings, those together that no row tells apart.
func (g *gaps) alike() [][]body.PartID {
	var keys []string
	var out [][]body.PartID
	for _, p := range g.b.Parts {
		if p.Kind == body.PartPiece || slices.ContainsFunc(g.b.Castings, func(k body.Casting) bool { return k.Part == p.ID }) {
			continue // a service piece is on no vehicle yet
		}
		key := fmt.Sprint(p.BoltOn && g.rs.Table.Names(body.FactBoltOn))
		for _, r := range g.rs.Table.Rows() {
			for _, c := range r.Conds {
				if c.Fact == body.FactPart {
					key += fmt.Sprint(slices.Contains(c.Words, string(p.ID)))
				}
			}
		}
		i := slices.Index(keys, key)
		if i < 0 {
			keys, out, i = append(keys, key), append(out, nil), len(keys)
		}
		out[i] = append(out[i], p.ID)
	}
	return out
}

func (g *gaps) lotsOn(parts []body.PartID, onIt bool) []lot {
	var out []lot
	for _, k := range body.FindingKinds() {
		if l, ok := g.lot(k, parts, onIt); ok {
			out = append(out, l)
		}
	}
	return out
}

// lot is what is known of such findings before anyone looks at them.
func (g *gaps) lot(kind body.FindingKind, parts []body.PartID, onIt bool) (lot, bool) {
	l := lot{kind: kind, parts: parts, onIt: onIt, cell: rule.Cell{}, sp: g.sp}
	l.sp.NotEmpty = map[string]bool{body.FactZones: onIt} // what is on the casting lies in a zone
	known := []string{body.FactKind, string(kind), body.FactOnCasting, yesNo(onIt)}
	if p, ok := g.b.Part(parts[0]); ok && g.rs.Table.Names(body.FactBoltOn) {
		known = append(known, body.FactBoltOn, yesNo(p.BoltOn))
	}
	if g.rs.Table.Names(body.FactPart) {
		known = append(known, body.FactPart, l.on())
	}
	for _, fact := range []string{body.FactInZone, body.FactCount} {
		if onIt && g.rs.Table.Names(fact) {
			known = append(known, fact, ">= 1") // itself is one
		}
	}
	for _, fact := range []string{body.FactZones, body.FactOutboard} {
		if words := g.sp.Words[fact]; !onIt && len(words) > 0 && g.rs.Table.Names(fact) {
			known = append(known, fact, "none of "+strings.Join(words, ", "))
		}
	}
	for i := 0; i < len(known); i += 2 {
		var ok bool
		if l.cell, ok = l.cell.Narrow(condOn(known[i], known[i+1]), l.sp); !ok {
			return lot{}, false
		}
	}
	rows := g.rs.Table.Rows()
	l.rows = make([]*rule.Row, len(rows))
	for i := range rows {
		if !slices.ContainsFunc(rows[i].Conds, func(c rule.Cond) bool { return !decide.CanKnow(c.Fact, kind, onIt) }) {
			l.rows[i] = &rows[i]
		}
	}
	return l, true
}

func yesNo(yes bool) string {
	if yes {
		return "yes"
	}
	return "no"
}

// condOn is a condition on a fact of the vocabulary; one that cannot be written is met by nothing.
func condOn(fact, text string) rule.Cond {
	d := body.Fact(fact)
	c, err := rule.ParseCond(fact, rule.Kind(d.Kind), d.Unit, text)
	if err != nil {
		return rule.Unreadable(fact, text)
	}
	return c
}

// find looks for a part of a cell in which none of some rows applies, and of which there can be a
// finding; complete is false when the search was given up.
func (g *gaps) find(l lot, cell rule.Cell, beside []rule.Row) (found rule.Cell, complete bool) {
	beside = slices.Clone(beside)
	for range mostRefuted {
		out, complete := rule.Uncovered(cell, beside, l.sp, g.steps)
		if out == nil || !complete {
			return nil, complete
		}
		joined, never := g.touching(l, out)
		if never == nil {
			never = outnumbered(joined.Example(l.sp))
		}
		if never == nil {
			return joined, true
		}
		beside = append(beside, *never)
	}
	return nil, false
}

// outnumbered is a row for facts that no finding has: more in a zone than on the whole casting.
func outnumbered(f rule.Facts) *rule.Row {
	for _, pair := range [][2]string{{body.FactInZone, body.FactCount}, {body.FactLengthHere, body.FactLengthAll}} {
		part, some := f[pair[0]]
		whole, all := f[pair[1]]
		if some && all && part.Number > whole.Number {
			at, unit := fmt.Sprint(part.Number), body.Fact(pair[0]).Unit
			return &rule.Row{Conds: []rule.Cond{condOn(pair[0], ">= "+at+" "+unit), condOn(pair[1], "< "+at+" "+unit)}}
		}
	}
	return nil
}

// touching adds to the zones of a cell those that lie between them: a finding is in one piece. Where
// none do, it gives a row for zones that no finding lies in together. Zones of which the body does not
// say what they border on may all touch.
func (g *gaps) touching(l lot, cell rule.Cell) (rule.Cell, *rule.Row) {
	zones := cell.Example(l.sp)[body.FactZones].Words
	k, _ := g.b.Casting(g.p.Casting)
	if len(zones) < 2 || k.HasMesh() || slices.ContainsFunc(k.Zones, func(z body.Zone) bool { _, said := k.Beside(z.ID); return !said }) {
		return cell, nil
	}
	var may []string
	for _, z := range k.Zones {
		if _, ok := cell.Narrow(condOn(body.FactZones, "includes "+string(z.ID)), l.sp); ok {
			may = append(may, string(z.ID))
		}
	}
	from := reach(k, zones[0], may)
	for _, z := range zones[1:] {
		if _, ok := from[z]; !ok {
			return cell, &rule.Row{Conds: []rule.Cond{condOn(body.FactZones, "includes "+zones[0]+", "+z), condOn(body.FactZones, "only "+strings.Join(may, ", "))}}
		}
		for ; z != zones[0]; z = from[z] {
			cell, _ = cell.Narrow(condOn(body.FactZones, "includes "+z), l.sp)
		}
	}
	return cell, nil
}

// reach is each of some zones that can be reached from one through others of them, with the one
// before it on the way.
func reach(k body.Casting, start string, may []string) map[string]string {
	from := map[string]string{start: start}
	for queue := []string{start}; len(queue) > 0; queue = queue[1:] {
		next, _ := k.Beside(body.ZoneID(queue[0]))
		for _, z := range next {
			if _, seen := from[string(z)]; !seen && slices.Contains(may, string(z)) {
				from[string(z)] = queue[0]
				queue = append(queue, string(z))
			}
		}
	}
	return from
}

// together is a cell of one lot in which two rows apply, and an example of what they look at.
func (g *gaps) together(a, b rule.Row) (rule.Cell, rule.Facts, bool) {
	for _, l := range g.lots {
		cell, ok := l.where(a, b)
		if !ok {
			continue
		}
		if cell, _ = g.find(l, cell, nil); cell == nil {
			continue
		}
		facts := cell.Example(l.sp)
		for name := range facts {
			if !slices.ContainsFunc(slices.Concat(a.Conds, b.Conds), func(c rule.Cond) bool { return c.Fact == name }) {
				delete(facts, name)
			}
		}
		return cell, facts, true
	}
	return nil, nil, false
}

// where is the part of a lot in which two rows apply.
func (l lot) where(a, b rule.Row) (rule.Cell, bool) {
	for _, c := range slices.Concat(a.Conds, b.Conds) {
		if !decide.CanKnow(c.Fact, l.kind, l.onIt) {
			return nil, false
		}
	}
	return rule.Both(l.cell, a, b, l.sp)
}

// asked tells on which parts what is found is asked whatever else is known of it, and names the rows
// that ask: rows speak of it, and none allows what would put it right. What no row speaks of is a gap.
func (g *gaps) asked() {
	type always struct {
		on, rows string
		kinds    []body.FindingKind
	}
	var found []always
	for _, l := range g.lots {
		asks, only := g.onlyAsked(l)
		if !only {
			continue
		}
		i := slices.IndexFunc(found, func(o always) bool { return o.on == l.on() && o.rows == asks })
		if i < 0 {
			found = append(found, always{l.on(), asks, nil})
			i = len(found) - 1
		}
		found[i].kinds = append(found[i].kinds, l.kind)
	}
	for _, f := range found {
		g.note(diag.Info, f.rows, diag.Say("decide.asked", "whatever else is known, the manufacturer is asked about {kinds} on {on}: no row allows what would put it right", decide.JoinWords(f.kinds), f.on), "")
	}
}

// onlyAsked says that nothing that puts a finding of the lot right is allowed under any
// circumstances; asks is the rows that ask about it.
func (g *gaps) onlyAsked(l lot) (asks string, only bool) {
	var ids []string
	speaks := false
	for i, r := range l.rows {
		if r == nil {
			continue
		}
		cell, ok := l.where(*r, rule.Row{})
		if !ok {
			continue
		}
		speaks = true
		if g.p.Rows[i].Ask != "" {
			ids = append(ids, r.ID)
		}
		if slices.ContainsFunc(g.p.Rows[i].Allow, func(k body.TreatmentKind) bool { return g.heals(l, k) && g.mayAllow(l, cell, i, k) }) {
			return "", false
		}
	}
	return decide.JoinWords(ids), speaks
}

// heals says that a treatment of the kind puts right what is found, or that it is right already.
func (g *gaps) heals(l lot, k body.TreatmentKind) bool {
	all := slices.DeleteFunc(slices.Clone(g.b.Treatments), func(t body.Treatment) bool { return t.Kind != k })
	if len(all) == 0 {
		all = []body.Treatment{{Kind: k}}
	}
	return k == body.Leave || slices.ContainsFunc(all, func(t body.Treatment) bool { return t.Cure(l.kind, l.onIt) })
}

// mayAllow says that row i allows a kind of treatment in some part of the cell, no other row being
// against it.
func (g *gaps) mayAllow(l lot, cell rule.Cell, i int, k body.TreatmentKind) bool {
	if !decide.Says(g.p.Rows[i], k).Permits {
		return false
	}
	var against []rule.Row
	for j, r := range l.rows {
		if s := decide.Says(g.p.Rows[j], k); r != nil && (s.Forbids || s.Asks) {
			against = append(against, *r)
		}
	}
	found, complete := g.find(l, cell, against)
	return found != nil || !complete
}
