package revise

import (
	"maps"
	"slices"
	"sort"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/rule"
)

// searchSteps is how much work a search for facts that no row covers may be; a
// table of five hundred rows needs far less. When it is not enough, the note
// says that the search was given up.
const searchSteps = 200_000

// Gaps says what a planner should know of a table before relying on it, found
// by working with the intervals and words of its conditions: facts that no row
// speaks of, holes between two limits, rows that overrule one another, rows
// that never permit anything, and rows that say nothing new. None of it is a
// fault: forbidding beats allowing and no row means ask. Each note has an
// example.
func Gaps(b *body.Body, p body.Procedure) []diag.Note {
	g := newGaps(b, p)
	g.uncovered()
	g.asked()
	g.holes()
	g.overruled()
	g.idle()
	return g.notes
}

type gaps struct {
	b     *body.Body
	p     body.Procedure
	rs    *decide.Ruleset
	sp    rule.Space
	lots  []lot
	steps int // that each search for a gap may take
	notes []diag.Note
}

func newGaps(b *body.Body, p body.Procedure) *gaps {
	g := &gaps{b: b, p: p, rs: decide.Compile(p, float64(b.Confidence)), sp: spaceOf(b, p), steps: searchSteps}
	g.lots = g.allLots()
	return g
}

func (g *gaps) note(s diag.Severity, row string, said diag.Said, hint string) {
	where := decide.Title(&g.p)
	if row != "" {
		where += ", row " + row
	}
	g.notes = append(g.notes, said.Note(diag.Note{Severity: s, Where: where, Hint: hint, Source: g.p.Source}))
}

// spaceOf is every word that a fact of the procedure can have.
func spaceOf(b *body.Body, p body.Procedure) rule.Space {
	sp := rule.Space{Words: map[string][]string{}, Whole: map[string]bool{}, NotEmpty: map[string]bool{}, Signed: map[string]bool{}}
	for _, d := range body.FactDefs() {
		if words, listed := d.Words(b, p.Casting); listed && len(words) > 0 {
			sp.Words[d.Name] = words
		}
		sp.Whole[d.Name] = d.Kind == body.FactNumber && (d.Unit == "" || d.Unit == rule.UnitDate)
		sp.Signed[d.Name] = d.Signed
	}
	for _, r := range decide.Compile(p, 0).Table.Rows() {
		for _, c := range r.Conds {
			if body.Fact(c.Fact).Open { // any word may be there, even one nobody names
				sp.Words[c.Fact] = append(sp.Words[c.Fact], c.Words...)
			}
		}
	}
	return sp
}

// uncovered looks for facts that hit no row at all, for every kind of defect on every sort of part.
// Kinds whose example differs in nothing but the kind are told together.
func (g *gaps) uncovered() {
	type gap struct {
		text  string
		kinds []body.FindingKind
	}
	var found []gap
	for _, l := range g.lots {
		out, complete := g.find(l, l.cell, l.able())
		if !complete {
			g.note(diag.Caution, "", diag.Say("decide.gap-unknown", "it could not be settled whether every {kind} on {on} hits a row: the search was given up", l.kind, l.on()), "fewer rows that overlap")
		}
		if out == nil {
			continue
		}
		text := g.gapText(l, out)
		i := slices.IndexFunc(found, func(o gap) bool { return o.text == text })
		if i < 0 {
			found = append(found, gap{text, nil})
			i = len(found) - 1
		}
		found[i].kinds = append(found[i].kinds, l.kind)
	}
	for _, f := range found {
		g.note(diag.Info, "", diag.Say("decide.gap", "no row speaks of this, so the manufacturer is asked: {kinds} with {facts}", decide.JoinWords(f.kinds), f.text), "add a row if the document has one")
	}
}

// gapText is the facts of a gap without which no row applies either. Which part it is says whether it
// is bolted on; parts that no row tells apart are named together.
func (g *gaps) gapText(l lot, cell rule.Cell) string {
	for _, d := range body.FactDefs() {
		if _, ok := cell[d.Name]; !ok || d.Name == body.FactKind || d.Name == body.FactOnCasting {
			continue
		}
		trial := maps.Clone(cell)
		delete(trial, d.Name)
		if !slices.ContainsFunc(g.rs.Table.Rows(), func(r rule.Row) bool { _, meets := rule.Both(trial, r, rule.Row{}, g.sp); return meets }) {
			cell = trial
		}
	}
	facts := cell.Example(l.sp)
	if _, named := facts[body.FactPart]; named {
		delete(facts, body.FactBoltOn)
		facts[body.FactPart] = rule.TextValue(l.on())
	}
	return g.facts(facts, body.FactKind)
}

// facts writes an example, leaving out one fact.
func (g *gaps) facts(f rule.Facts, without string) string {
	names := make([]string, 0, len(f))
	for n := range f {
		if n != without {
			names = append(names, n)
		}
	}
	sort.Strings(names)
	parts := make([]string, len(names))
	for i, n := range names {
		parts[i] = body.Fact(n).BeforeValue() + " " + f[n].String()
	}
	return strings.Join(parts, ", ")
}

// holes looks for a number between the limits of two rows that allow
// something, where nothing as mild is allowed: "up to 20 mm" and "over 25 mm".
func (g *gaps) holes() {
	told := map[string]bool{}
	rows := g.rs.Table.Rows()
	for i := range rows {
		for j := range rows {
			for _, hole := range g.holesBetween(i, j) {
				if text := hole.text; !told[text] {
					told[text] = true
					g.note(diag.Caution, "", diag.Say("decide.hole", "{sentence}", text), "is a limit misread?")
				}
			}
		}
	}
}

type hole struct{ text string }

func (g *gaps) holesBetween(i, j int) []hole {
	a, b := g.rs.Table.Rows()[i], g.rs.Table.Rows()[j]
	if len(g.p.Rows[i].Allow) == 0 || len(g.p.Rows[j].Allow) == 0 {
		return nil
	}
	var out []hole
	for _, c := range a.Conds {
		for _, d := range b.Conds {
			between, ok := gapBetween(c, d)
			if !ok {
				continue
			}
			if h, ok := g.holeAt(i, j, between); ok {
				out = append(out, h)
			}
		}
	}
	return out
}

// gapBetween is the interval above the upper limit of c and below the lower
// limit of d.
func gapBetween(c, d rule.Cond) (rule.Cond, bool) {
	if c.Fact != d.Fact || c.Kind != rule.Number || !c.High.Set || !d.Low.Set || c.High.At > d.Low.At {
		return rule.Cond{}, false
	}
	if c.High.At == d.Low.At && !(c.High.Strict && d.Low.Strict) {
		return rule.Cond{}, false
	}
	out := c
	out.Low = rule.Bound{Set: true, At: c.High.At, Strict: !c.High.Strict}
	out.High = rule.Bound{Set: true, At: d.Low.At, Strict: !d.Low.Strict}
	return out, true
}

// holeAt takes facts that meet both rows but for the one number, and looks
// whether what is allowed in between is as mild as what either row allows.
func (g *gaps) holeAt(i, j int, between rule.Cond) (hole, bool) {
	rows := g.rs.Table.Rows()
	a, b := without(rows[i], between.Fact), without(rows[j], between.Fact)
	a.Conds = append(a.Conds, between)
	cell, facts, ok := g.together(a, b)
	if !ok {
		return hole{}, false
	}
	most := max(rankOf(g.p.Rows[i].Allow), rankOf(g.p.Rows[j].Allow))
	for k, r := range g.rs.Table.Eval(facts, g.rs.Confidence) {
		if r.State == rule.Applies && len(g.p.Rows[k].Allow) > 0 && rankOf(g.p.Rows[k].Allow) <= most {
			return hole{}, false
		}
	}
	return hole{"between row " + rows[i].ID + " and row " + rows[j].ID + " nothing as mild is allowed for " + body.Fact(between.Fact).BeforeValue() + " " +
		cell.Between(between.Fact) + ", for example " + g.facts(facts, "")}, true
}

func without(r rule.Row, fact string) rule.Row {
	out := rule.Row{ID: r.ID}
	for _, c := range r.Conds {
		if c.Fact != fact {
			out.Conds = append(out.Conds, c)
		}
	}
	return out
}

// rankOf is the mildest of some kinds.
func rankOf(ks []body.TreatmentKind) int {
	best := decide.Rank("")
	for _, k := range ks {
		best = min(best, decide.Rank(k))
	}
	return best
}

// overruled says for each row that forbids or asks which rows that allow it
// overrules, with facts that hit it and one of them; and which rows never
// permit anything because of it.
func (g *gaps) overruled() {
	rows := g.rs.Table.Rows()
	for i := range rows {
		var some, always []string
		var example string
		for j := range rows {
			if i == j || !g.contradict(i, j) {
				continue
			}
			_, facts, ok := g.together(rows[i], rows[j])
			if !ok {
				continue
			}
			if rows[j].Within(rows[i], g.sp) && g.allOf(i, j) {
				always = append(always, rows[j].ID)
				continue
			}
			some = append(some, rows[j].ID)
			if example == "" {
				example = g.facts(facts, "")
			}
		}
		if len(always) > 0 {
			g.note(diag.Caution, decide.JoinWords(always), diag.Say("decide.never-permits", "it never permits anything: row {row} overrules it wherever it applies", rows[i].ID), "one of the two rows may be misread")
		}
		if len(some) > 0 {
			g.note(diag.Info, rows[i].ID, diag.Say("decide.overlap", "where both apply it overrules {rows}, for example {example}", decide.JoinWords(some), example), "forbidding and asking beat allowing; make the rows exclude each other if the document does")
		}
	}
}

// contradict says that row i forbids, or asks about, something row j allows.
func (g *gaps) contradict(i, j int) bool {
	return slices.ContainsFunc(g.p.Rows[j].Allow, func(k body.TreatmentKind) bool { s := decide.Says(g.p.Rows[i], k); return s.Forbids || s.Asks })
}

// allOf says that row i forbids, or asks about, everything row j allows.
func (g *gaps) allOf(i, j int) bool {
	return !slices.ContainsFunc(g.p.Rows[j].Allow, func(k body.TreatmentKind) bool { s := decide.Says(g.p.Rows[i], k); return !s.Forbids && !s.Asks })
}

// idle names rows that say nothing that another does not say already.
func (g *gaps) idle() {
	rows := g.rs.Table.Rows()
	for i, r := range g.p.Rows {
		for j, q := range g.p.Rows {
			if i == j || r.Ask != "" || len(decide.MissingFrom(r.Allow, q.Allow))+len(decide.MissingFrom(r.Forbid, q.Forbid))+len(decide.MissingFrom(r.After, q.After)) > 0 {
				continue
			}
			if rows[i].Within(rows[j], g.sp) && !(rows[j].Within(rows[i], g.sp) && j > i) {
				g.note(diag.Info, r.ID, diag.Say("decide.idle-row", "it says nothing that row {row} does not say wherever it applies", q.ID), "")
				break
			}
		}
	}
}
