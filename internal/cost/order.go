package cost

import (
	"slices"
	"strings"

	"fettle/internal/plan"
	"fettle/internal/unit"
)

// OrderKind is what a row of an order is: OrderPart, or the kind of a material.
type OrderKind string

// OrderPart is the kind of a row that is a part.
const OrderPart OrderKind = "part"

// OrderRow is one thing to be ordered for a plan: a part by the piece, a
// material by the pack.
type OrderRow struct {
	ID       string     `json:"id"`
	Kind     OrderKind  `json:"kind"` // part, or the kind of material
	Name     string     `json:"name"`
	Count    int        `json:"count"` // pieces or packs
	Holds    string     `json:"holds"` // what one of them holds: "1 piece", "195 ml"
	Used     string     `json:"used"`  // without waste
	WithLoss string     `json:"withWaste"`
	Each     unit.Minor `json:"eachMinor"`
	Sum      unit.Minor `json:"sumMinor"`
	Priced   bool       `json:"priced"`   // false: no price is known in this currency, and sums are zero
	NeededBy unit.Date  `json:"neededBy"` // first day a step takes it; zero when no step has a date
	Steps    []string   `json:"steps"`
	Because  string     `json:"because"`

	Arrived    int       `json:"arrived,omitempty"`    // so many came, by the record
	ArrivedOn  unit.Date `json:"arrivedOn,omitzero"`   // the day the last of them came
	Expected   unit.Date `json:"expected,omitzero"`    // the day what is missing is promised for
	Unpromised int       `json:"unpromised,omitempty"` // so many are promised for no day, though others are
	Record     string    `json:"record,omitempty"`     // the delivery or promise that decides it
	UseBefore  unit.Date `json:"useBefore,omitzero"`   // first of the last days of use of what came
}

// Order lists what has to be ordered for a plan, parts before materials, each
// in the order of its identity. Sums agree with the lines of the bill.
func Order(p plan.Plan, bill Bill) []OrderRow {
	lines := map[string]Line{}
	for _, l := range bill.Lines {
		lines[l.ID] = l
	}
	var out []OrderRow
	for _, l := range p.Lost {
		r := OrderRow{ID: string(l.Part), Kind: OrderPart, Name: l.Name, Count: l.Quantity, Holds: "1 piece",
			Used: unit.Count(l.Quantity, "piece"), WithLoss: unit.Count(l.Quantity, "piece"), Because: l.Because}
		for _, s := range p.Steps {
			if slices.Contains(s.Takes, l.Part) {
				r.Steps = append(r.Steps, s.ID)
			}
		}
		out = append(out, r.finish(p, lines["P-"+r.ID]))
	}
	slices.SortStableFunc(out, func(a, b OrderRow) int { return strings.Compare(a.ID, b.ID) })
	for _, t := range p.Takeoff {
		r := OrderRow{ID: string(t.Material), Kind: OrderKind(t.Kind), Name: t.Name, Count: t.Packs, Holds: amountOf(t.Pack, t.Unit),
			Used: amountOf(t.Net, t.Unit), WithLoss: amountOf(t.Gross, t.Unit)}
		var why []string
		for _, l := range t.Lines {
			if !slices.Contains(r.Steps, l.Step) {
				r.Steps = append(r.Steps, l.Step)
			}
			why = append(why, l.Step+": "+l.Formula)
		}
		r.Because = strings.Join(why, "; ")
		out = append(out, r.finish(p, lines["M-"+r.ID]))
	}
	return out
}

// amountOf is an amount of a material in words.
func amountOf(v float64, of string) string {
	return unit.Pieces(decimal(thousandths(v)), v, of)
}

// finish adds the price of the bill's line and the first day of the steps.
func (r OrderRow) finish(p plan.Plan, l Line) OrderRow {
	if l.ID != "" {
		r.Each, r.Sum, r.Priced = l.Price, l.Sum, true
	}
	for _, s := range p.Steps {
		if d := unit.DateOf(s.From); slices.Contains(r.Steps, s.ID) && !s.From.IsZero() && (r.NeededBy.IsZero() || d.Before(r.NeededBy)) {
			r.NeededBy = d
		}
	}
	return r
}
