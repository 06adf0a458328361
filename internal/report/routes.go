package report

import (
	"fmt"
	"html/template"
	"strings"

	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// pick is the route the document is about: the one a person chose, or the best.
type pick struct {
	Route  compare.Route
	Found  bool
	Choice job.Choice // zero when nobody chose
	Status string     // how it came to be the one shown
	Word   word
}

// picked is the last choice of a person when it names a route there is, else
// the best feasible route, else the first that is a repair: shown so that the
// reader sees what is missing, never as released.
func picked(in Input) pick {
	p := pick{Status: "There is no route to show.", Word: word{"none", toneOpen}}
	gone, byID := "", map[string]compare.Route{}
	for _, r := range in.Compare.Routes {
		byID[r.ID] = r
	}
	if n := len(in.Job.Choices); n > 0 {
		c := in.Job.Choices[n-1]
		if r, ok := byID[c.Route]; ok {
			p.Route, p.Found, p.Choice = r, true, c
			p.Status = fmt.Sprintf("Chosen by %s on %s: %s", c.By, day(c.On), sentence(c.Reason))
			p.Word = routeWord(r, permitted(in))
			return p
		}
		gone = fmt.Sprintf("The chosen route %q is not among the routes. ", c.Route)
		p.Status = gone + p.Status
	}
	if r, ok := byID[in.Compare.Best]; ok && in.Compare.Best != "" {
		p.Route, p.Found = r, true
		p.Status = gone + "Best of the routes that can be taken."
		if gone == "" {
			p.Status += " Nobody has chosen a route yet."
		}
		p.Word = routeWord(r, permitted(in))
		return p
	}
	for _, r := range in.Compare.Routes {
		if len(r.Plan.Steps) > 0 {
			p.Route, p.Found = r, true
			p.Status = gone + "No route can be taken yet. This one is shown to see what is missing; it is not released."
			p.Word = word{"not released", toneOpen}
			return p
		}
	}
	return p
}

// totalLoss is the identity of the route on which nothing is repaired.
const totalLoss = "total-loss"

// permitted says that the decisions permit work and nothing else blocks it: an
// unusable reading, say, or a danger not made safe.
func permitted(in Input) bool { return in.Decide.Permits && len(blocks(in)) == 0 }

// routeWord is whether a route may be worked on, in a word.
func routeWord(r compare.Route, permits bool) word {
	switch {
	case r.Excluded != "":
		return word{"excluded", toneBad}
	case r.ID == totalLoss:
		return word{"law and insurer decide", toneFlat}
	case len(r.Plan.Steps) == 0 && r.Open == 0 && r.Feasible:
		return word{"no work to do", toneFlat}
	case r.Open > 0:
		return word{unit.Count(r.Open, "open point"), toneOpen}
	case !r.Feasible:
		return word{"not possible yet", toneOpen}
	case !permits:
		return word{"blocked", toneBad}
	}
	return word{"can be taken", toneGood}
}

// routePart is section 5: the comparison.
type routePart struct {
	Routes   []routeRow
	Money    template.HTML
	Days     template.HTML
	Pick     pick
	Loss     []lossRow
	LossNote string
	Bill     []billGroup
	Total    string
	Missing  bool   // a price is missing
	Agreed   string // which bill was agreed last
	Value    string
	Spread   spreadPart
	Reality  realityPart
}

type routeRow struct {
	Rank, ID, Name, Money, Days, Finish, Open, Because, Excluded string
	Changes, Items                                               []string
	Word, Loss                                                   word
	Picked                                                       bool
}

type lossRow struct {
	Name, Text, Because string
	Word                word
	Applies             bool
}

type billGroup struct {
	Name, Sum string
	Lines     []billLine
}

type billLine struct{ ID, Text, Amount, Price, Sum, Because string }

// agreedText is which bill was agreed last, by whom and why; that none was, otherwise.
func agreedText(in Input) string {
	n := len(in.Job.Agreed)
	if n == 0 {
		return "No bill has been agreed with anybody yet."
	}
	a := in.Job.Agreed[n-1]
	route := a.Route
	for _, r := range in.Compare.Routes {
		if r.ID == a.Route {
			route = "“" + r.Name + "”"
		}
	}
	return fmt.Sprintf("Agreed last: bill %d, %s for %s, to be finished on %s; by %s on %s, because: %s", a.Number, money(a.Total.Minor, a.Total.Currency), route, day(a.Finish), a.By, day(a.On), sentence(a.Reason))
}

func buildRoutes(in Input, p pick) routePart {
	out := routePart{Pick: p, Spread: buildSpread(in), Reality: buildReality(in, p), Value: in.Job.Vehicle.Value.Minor.Grouped() + thin + in.Job.Vehicle.Value.Currency,
		LossNote: "Whether a vehicle is a total loss is decided by law and by the insurer. This page only works out what each rule says."}
	out.Agreed = agreedText(in)
	for _, r := range in.Compare.Routes {
		out.Routes = append(out.Routes, routeRowOf(in, r, r.ID == p.Route.ID && p.Found))
	}
	out.Money = template.HTML(moneyChart(in.Compare.Routes, in.Job.Vehicle.Value.Minor, currencyOf(in)))
	out.Days = template.HTML(daysChart(in.Compare.Routes))
	if !p.Found {
		return out
	}
	bill := p.Route.Bill
	for _, l := range bill.Loss {
		out.Loss = append(out.Loss, lossOf(l, bill.Currency))
	}
	out.Bill = billGroups(bill)
	out.Total = money(bill.Total, bill.Currency)
	out.Missing = !bill.Complete
	return out
}

func currencyOf(in Input) string {
	for _, r := range in.Compare.Routes {
		if r.Bill.Currency != "" {
			return r.Bill.Currency
		}
	}
	return in.Shop.Currency
}

func routeRowOf(in Input, r compare.Route, isPicked bool) routeRow {
	row := routeRow{ID: r.ID, Name: r.Name, Because: sentence(r.Because), Excluded: sentence(r.Excluded), Rank: "–",
		Changes: r.Changes, Word: routeWord(r, permitted(in)), Picked: isPicked, Open: "none", Money: "–", Days: "–", Finish: "–"}
	if r.Rank > 0 {
		row.Rank = fmt.Sprint(r.Rank)
	}
	if r.Bill.Currency != "" && r.ID != totalLoss {
		row.Money = money(r.Bill.Total, r.Bill.Currency)
		if !r.Bill.Complete {
			row.Money = "at least " + row.Money
		}
	}
	if len(r.Plan.Steps) > 0 {
		row.Days, row.Finish = fmt.Sprint(r.Plan.WorkDays), day(r.Plan.Finish)
		if r.Plan.Finish.IsZero() {
			row.Days = "–"
		}
	}
	if r.Open > 0 {
		row.Open = openText(in, r)
	}
	row.Loss = lossWord(r.Bill)
	if r.ID == totalLoss {
		row.Loss = word{"–", toneFlat}
	}
	for _, it := range r.Items {
		t, _ := in.Body.Treatment(it.Treatment)
		does := or(t.Name, string(it.Kind))
		if len(it.Findings) > 0 {
			does += " for " + list(findingNames(it.Findings), 12)
		}
		row.Items = append(row.Items, does+assumedWord(it))
	}
	return row
}

// assumedWord is what a treatment of a route still waits for; nothing when it is permitted.
func assumedWord(it plan.Item) string {
	switch {
	case it.Ask:
		return " (assumed; waits for an answer)"
	case it.Open:
		return " (assumed; to be measured better first)"
	}
	return ""
}

func lossWord(b cost.Bill) word {
	if len(b.Loss) == 0 {
		return word{"–", toneFlat}
	}
	if b.IsLoss {
		return word{"total loss by the rule", toneBad}
	}
	if !b.Complete {
		return word{"not certain: a price is missing", toneOpen}
	}
	return word{"below the rule", toneGood}
}

// lossLimit is the limit of a rule as it is printed beside what is compared with it: where
// rounding to whole minor units would make the two read equal though they are not, it is
// rounded so that what is printed is true.
func lossLimit(l cost.Loss) unit.Minor {
	switch {
	case l.Left == l.Right && !l.IsLoss && l.Operator == shop.AtLeast:
		return l.Right + 1
	case l.Left == l.Right && l.IsLoss && l.Operator == shop.Above:
		return l.Right - 1
	}
	return l.Right
}

func lossOf(l cost.Loss, currency string) lossRow {
	left := "repair"
	if l.Kind == shop.LossFormula {
		left = "repair plus salvage"
	}
	row := lossRow{Name: l.Name, Because: sentence(l.Because), Applies: l.Applies,
		Text: fmt.Sprintf("total loss when %s %s limit: %s against %s", left, strings.NewReplacer(">=", "≥", "<=", "≤").Replace(string(l.Operator)), money(l.Left, currency), money(lossLimit(l), currency))}
	row.Word = word{"not a total loss by this rule", toneGood}
	if l.IsLoss {
		row.Word = word{"total loss by this rule", toneBad}
	} else if l.Unsure {
		row.Word = word{"not certain: a price is missing", toneOpen}
	}
	return row
}

var billKinds = []struct {
	kind shop.AmountKind
	name string
}{
	{cost.LineLabour, "Labour"}, {cost.LineParts, "Parts"}, {cost.LineMaterials, "Materials"}, {cost.LineSublet, "Sublet work"}, {cost.LineStorage, "Storage"}, {cost.LineTax, "Tax"},
}

// billGroups sorts the lines by kind; a kind not known to this page comes last
// and is never dropped.
func billGroups(b cost.Bill) []billGroup {
	sums := map[shop.AmountKind]unit.Minor{cost.LineLabour: b.Labour, cost.LineParts: b.Parts, cost.LineMaterials: b.Material, cost.LineSublet: b.Sublet, cost.LineStorage: b.Storage, cost.LineTax: b.Tax}
	var out []billGroup
	done := map[shop.AmountKind]bool{}
	add := func(kind shop.AmountKind, name, sum string) {
		g := billGroup{Name: name, Sum: sum}
		for _, l := range b.Lines {
			if l.Kind == kind || kind == "" && !done[l.Kind] {
				g.Lines = append(g.Lines, billLine{l.ID, l.Text, l.Amount, priceText(l.Price), l.Sum.Grouped(), sentence(l.Because)})
			}
		}
		done[kind] = true
		if len(g.Lines) > 0 {
			out = append(out, g)
		}
	}
	for _, k := range billKinds {
		add(k.kind, k.name, money(sums[k.kind], b.Currency))
	}
	add("", "Other", "")
	return out
}

// priceText is the price of one; a line without one has no figure there.
func priceText(m unit.Minor) string {
	if m == 0 {
		return "–"
	}
	return m.Grouped()
}
