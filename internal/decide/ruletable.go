package decide

import (
	"cmp"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/rule"
)

// RuleTable is all that a procedure says of a spot of which little is known, such as the zone
// alone: for each treatment the rows that may speak of it, each with the lengths at which it
// does and what else it takes.
type RuleTable struct {
	Procedure body.ProcedureID `json:"procedure"`
	Title     string           `json:"title"`
	Revision  string           `json:"revision"`
	Source    string           `json:"source"`
	Barred    string           `json:"barred,omitempty"` // why the revision permits nothing on the day
	Facts     []Fact           `json:"facts"`
	Changes   []string         `json:"changes"` // decision lengths at which a row that nothing always beats begins or ends
	Kinds     []KindTable      `json:"treatments"`
}

// KindTable is what the rows say of one treatment. Forbidding beats asking, asking beats
// allowing, and where no row allows it the manufacturer has to be asked.
type KindTable struct {
	Kind body.TreatmentKind `json:"kind"`
	Rows []RowTable         `json:"rows"`
}

// Unbeaten is the rows that can decide: where one always forbids, it alone; where one always
// asks, none that allow.
func (k KindTable) Unbeaten() []RowTable {
	asked := false
	for _, r := range k.Rows {
		if r.Says == RowForbids && r.Always() {
			return []RowTable{r}
		}
		asked = asked || r.Says == RowAsks && r.Always()
	}
	var out []RowTable
	for _, r := range k.Rows {
		if !(asked && r.Says == RowAllows) {
			out = append(out, r)
		}
	}
	return out
}

// RowTable is one row that may apply.
type RowTable struct {
	Row    string      `json:"row"`
	Cite   string      `json:"cite"`
	Says   RowSays     `json:"says"`
	Length string      `json:"length"` // decision lengths it speaks of; empty: any
	Rest   []CondTable `json:"conditions"`
	Ask    string      `json:"ask,omitempty"` // what it asks the manufacturer

	when []rule.Cond // all that is left open, lengths too
}

// Always says that nothing is left open: it applies at every length.
func (r RowTable) Always() bool { return len(r.when) == 0 }

// CondTable is a condition that is open.
type CondTable struct {
	Fact string `json:"fact"`
	Text string `json:"text"`
}

// RowSays is what a row says of a treatment.
type RowSays string

// What rows say.
const (
	RowForbids RowSays = "forbids"
	RowAsks    RowSays = "asks"
	RowAllows  RowSays = "allows"
)

// Table is the whole rule as it stands for what is known. A length is not said: the table
// shows all of them.
func (q Single) Table() (RuleTable, error) {
	rs, facts, list, _, err := q.known()
	if err != nil {
		return RuleTable{}, err
	}
	if _, said := facts[body.FactLength]; said {
		return RuleTable{}, diag.Problems{{File: whatIsSaid, Field: SaidMeasured, Msg: "is said, but a table shows every length", Hint: "leave it out"}}
	}
	if z := facts[body.FactZones]; !z.Known || len(z.Words) != 1 {
		return RuleTable{}, diag.Problems{{File: whatIsSaid, Field: body.FactZones, Msg: "a table is for one zone", Hint: "say zones=..., with one zone"}}
	}
	p := &rs.Proc
	out := RuleTable{Procedure: p.ID, Title: p.Title, Revision: p.Revision, Source: p.Source, Barred: barred(p, q.On), Facts: list, Changes: []string{}}
	results := rs.Table.Eval(facts, rs.Confidence)
	for _, kr := range rs.kinds {
		out.Kinds = append(out.Kinds, rs.kindTable(kr, results))
	}
	for _, at := range rs.lengthsOf(out.Kinds) {
		out.Changes = append(out.Changes, mm(at))
	}
	return out, nil
}

// kindTable is the rows about a kind that may apply: forbidding ones first, then those that
// ask, then those that allow.
func (rs *Ruleset) kindTable(kr kindRows, results []rule.RowResult) KindTable {
	out := KindTable{Kind: kr.kind, Rows: []RowTable{}}
	for _, says := range []RowSays{RowForbids, RowAsks, RowAllows} {
		for i, p := range kr.rows {
			s := kr.says[i]
			if is := map[RowSays]bool{RowForbids: s.Forbids, RowAsks: s.Asks, RowAllows: s.Permits}[says]; is && results[p].State != rule.DoesNotApply {
				out.Rows = append(out.Rows, rs.rowTable(p, says, results[p]))
			}
		}
	}
	return out
}

func (rs *Ruleset) rowTable(p int, says RowSays, result rule.RowResult) RowTable {
	row := rs.Proc.Rows[p]
	out := RowTable{Row: row.ID, Cite: row.Cite, Says: says, Rest: []CondTable{}}
	if says == RowAsks {
		out.Ask = row.Ask
	}
	for i, c := range rs.Table.Rows()[p].Conds {
		if result.Conds[i].State == rule.Met {
			continue
		}
		out.when = append(out.when, c)
		if c.Fact == body.FactLength && c.Readable() {
			out.Length = c.Text
			continue
		}
		out.Rest = append(out.Rest, CondTable{c.Fact, c.Text})
	}
	return out
}

// lengthsOf is every limit on the decision length in the rows that can decide, by size.
func (rs *Ruleset) lengthsOf(kinds []KindTable) []float64 {
	var out []float64
	for _, k := range kinds {
		for _, r := range k.Unbeaten() {
			for _, c := range r.when {
				for _, b := range []rule.Bound{c.Low, c.High} {
					if c.Fact == body.FactLength && b.Set && !slices.Contains(out, b.At) {
						out = append(out, b.At)
					}
				}
			}
		}
	}
	slices.SortFunc(out, cmp.Compare[float64])
	return out
}
