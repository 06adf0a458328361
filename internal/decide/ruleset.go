package decide

import (
	"slices"
	"sort"
	"strings"

	"fettle/internal/body"
	"fettle/internal/rule"
)

// Ruleset is a procedure made ready for evaluation.
type Ruleset struct {
	Proc       body.Procedure
	body       *body.Body // names the materials; nil: they are named by identity
	Confidence float64
	Table      rule.Table
	kinds      []kindRows // every kind a row names, mildest first
	implied    []bool     // per row: the last condition was added, not written
	Faults     []rowFault

	getBy func(fact string) string // how a fact is had; nil: as the vocabulary says
}

// toGet is how a person gets a fact that is not known.
func (rs *Ruleset) toGet(fact string) string {
	if rs.getBy != nil {
		return rs.getBy(fact)
	}
	return body.Fact(fact).Get
}

// kindRows are the rows that have a say about one kind of treatment.
type kindRows struct {
	kind  body.TreatmentKind
	rows  []int      // places in the procedure
	says  []say      // what each of them says about the kind
	table rule.Table // the same rows alone
}

// rowFault is a condition that cannot be read. Its row can never permit.
type rowFault struct {
	Row, Fact string
	Err       error
}

// Compile makes a procedure ready. A condition that cannot be read is kept as
// one that is always unknown, and named in faults.
func Compile(p body.Procedure, confidence float64) *Ruleset {
	rs := &Ruleset{Proc: p, Confidence: confidence, implied: make([]bool, len(p.Rows))}
	rows := make([]rule.Row, len(p.Rows))
	for i, r := range p.Rows {
		rows[i] = rs.compileRow(r, i)
	}
	rs.Table = rule.NewTable(rows)
	for _, k := range namedKinds(p.Rows) {
		rs.kinds = append(rs.kinds, rs.rowsFor(k))
	}
	return rs
}

func (rs *Ruleset) compileRow(r body.Row, i int) rule.Row {
	when := r.Conditions()
	names := make([]string, 0, len(when))
	for n := range when {
		names = append(names, n)
	}
	sort.Strings(names)
	out := rule.Row{ID: r.ID}
	for _, n := range names {
		if !body.IsFact(n) {
			rs.Faults = append(rs.Faults, rowFault{r.ID, n, ErrUnknownFact(n)})
			out.Conds = append(out.Conds, rule.Unreadable(n, when[n]))
			continue
		}
		def := body.Fact(n)
		c, err := rule.ParseCond(n, rule.Kind(def.Kind), def.Unit, when[n])
		if err != nil {
			rs.Faults = append(rs.Faults, rowFault{r.ID, n, err})
		}
		out.Conds = append(out.Conds, c)
	}
	if _, says := when[body.FactOnCasting]; !says {
		out.Conds = append(out.Conds, onCasting())
		rs.implied[i] = true
	}
	return out
}

// onCasting is the condition of every row that does not mention it: a
// procedure speaks of its casting unless it says otherwise.
func onCasting() rule.Cond {
	c, err := rule.ParseCond(body.FactOnCasting, rule.Bool, "", "yes")
	if err != nil { // a fault in this file, still never met
		return rule.Unreadable(body.FactOnCasting, "yes")
	}
	return c
}

func (rs *Ruleset) rowsFor(k body.TreatmentKind) kindRows {
	kr := kindRows{kind: k}
	var rows []rule.Row
	for i, r := range rs.Proc.Rows {
		if what := Says(r, k); what != (say{}) {
			kr.rows = append(kr.rows, i)
			kr.says = append(kr.says, what)
			rows = append(rows, rs.Table.Rows()[i])
		}
	}
	kr.table = rule.NewTable(rows)
	return kr
}

// staysInVehicle says that the damaged spot is still in the vehicle after the
// treatment. An ask row is about such a spot; a kind this program does not
// know is taken to be of that sort.
func staysInVehicle(k body.TreatmentKind) bool {
	switch k {
	case body.SectionOff, body.Exchange, body.ReplacePart, body.ReplaceCasting:
		return false
	}
	return true
}

// namedKinds is every kind that a row allows or forbids, mildest first.
func namedKinds(rows []body.Row) []body.TreatmentKind {
	var out []body.TreatmentKind
	for _, r := range rows {
		for _, k := range append(append([]body.TreatmentKind(nil), r.Allow...), r.Forbid...) {
			if !slices.Contains(out, k) {
				out = append(out, k)
			}
		}
	}
	sortKinds(out)
	return out
}

// sortKinds puts the mildest first; kinds this program does not know come
// last, by name.
func sortKinds(ks []body.TreatmentKind) {
	sort.Slice(ks, func(i, j int) bool { return Milder(ks[i], ks[j]) })
}

func Milder(a, b body.TreatmentKind) bool {
	ra, rb := Rank(a), Rank(b)
	if ra != rb {
		return ra < rb
	}
	return a < b
}

func Rank(k body.TreatmentKind) int {
	all := body.TreatmentKinds()
	if i := slices.Index(all, k); i >= 0 {
		return i
	}
	return len(all)
}

// Effect is what a row says, in words.
func Effect(r body.Row) string {
	var parts []string
	if len(r.Allow) > 0 {
		parts = append(parts, "allows "+JoinKinds(r.Allow))
	}
	if len(r.Forbid) > 0 {
		parts = append(parts, "forbids "+JoinKinds(r.Forbid))
	}
	if r.Ask != "" {
		parts = append(parts, "ask the manufacturer: "+r.Ask)
	}
	if len(parts) == 0 {
		return "says nothing about a treatment"
	}
	return strings.Join(parts, "; ")
}

func JoinKinds(ks []body.TreatmentKind) string { return JoinWords(ks) }

func JoinWords[T ~string](ws []T) string {
	s := make([]string, len(ws))
	for i, w := range ws {
		s[i] = string(w)
	}
	return strings.Join(s, ", ")
}
