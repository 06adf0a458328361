package cost

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// pricing holds what one call of Price works with.
type pricing struct {
	plan  plan.Plan
	body  *body.Body
	shop  *shop.Shop
	job   *job.State
	bill  Bill
	notes []diag.Note
}

// Price prices a plan: labour by skill, parts, materials by the pack, sublet work,
// storage by the calendar day, and taxes; then every total-loss rule of the shop. A
// price that is missing blocks and leaves the bill incomplete.
func Price(p plan.Plan, b *body.Body, s *shop.Shop, j *job.State) (Bill, []diag.Note) {
	x := &pricing{plan: p, body: b, shop: s, job: j, bill: Bill{Currency: s.Currency, Complete: true}}
	if p.Unplanned != "" { // the sum of what is known of it would pass for the price of all
		x.missing("plan", diag.Say("cost.no-steps", "there is no price of all of it: the plan has no steps"), "see what blocks the plan")
	}
	x.labour()
	x.parts()
	x.materials()
	x.storage()
	x.sum()
	x.taxes()
	x.bill.Loss = x.losses(x.bill.Net, x.bill.Total)
	for _, l := range x.bill.Loss {
		x.bill.IsLoss = x.bill.IsLoss || l.Applies && l.IsLoss
	}
	return x.bill, x.notes
}

// missing says that a price cannot be told.
func (x *pricing) missing(where string, said diag.Said, hint string) {
	x.bill.Complete = false
	x.notes = append(x.notes, said.Note(diag.Note{Severity: diag.Blocking, Where: where, Hint: hint}))
}

// price is an amount in the shop's currency; another currency is not converted.
func (x *pricing) price(m unit.Money, where string) (unit.Minor, bool) {
	if m.Currency != x.shop.Currency && !(m.Currency == "" && m.Minor == 0) {
		x.missing(where, diag.Say("cost.currency", "{what} is priced in {priced}, the shop reckons in {currency}", where, m.Currency, x.shop.Currency), "give all prices in one currency")
		return 0, false
	}
	return m.Minor, true
}

// mostSum is the most that a line of a bill comes to; sums of such lines fit whole numbers.
const mostSum = unit.Minor(1e15)

func (x *pricing) add(l Line) {
	if l.Sum > mostSum || l.Sum < -mostSum {
		x.missing(l.Text, diag.Say("cost.beyond", "{line} comes to more than {most} {currency}, which is no sum of a bill", l.Text, diag.Paid(mostSum, x.shop.Currency), x.shop.Currency), "see whether a digit is wrong in its price, rate, times or amounts")
		l.Sum = 0
	}
	x.bill.Lines = append(x.bill.Lines, l)
}

// labour is one line for each skill: the sum of its minutes, each step rounded
// to a thousandth of a minute, times the rate, divided by 60, rounded once.
func (x *pricing) labour() {
	milli := map[body.SkillID]int64{}
	steps := map[body.SkillID][]string{}
	var skills []body.SkillID
	for _, s := range x.plan.Steps {
		if s.Unpriced {
			x.missing(s.Ref, diag.Say("cost.area", "{step} has no price: an area it is reckoned by is not known", s.Name), "fill in the area in parts.csv, or measure the finding")
		}
		m := thousandths(s.Minutes)
		if m == 0 {
			continue
		}
		if steps[s.Skill] == nil {
			skills = append(skills, s.Skill)
		}
		milli[s.Skill] += m
		steps[s.Skill] = append(steps[s.Skill], s.ID)
	}
	slices.Sort(skills)
	for _, k := range skills {
		if s, ok := x.shop.Sublet(k); ok {
			x.sublet(s, milli[k], steps[k])
			continue
		}
		rate, ok := x.shop.Rate(k)
		if !ok {
			x.missing(string(k), diag.Say("cost.rate", "the shop has no rate for the skill {skill:q}", k), "add it to the rates in shop.yaml")
			continue
		}
		hour, ok := x.price(rate.Hour, "rate "+string(k))
		if !ok {
			continue
		}
		sum := hour.Times(milli[k], 60000)
		x.add(Line{ID: "L-" + string(k), Kind: LineLabour, Text: rate.Name, Amount: hours(milli[k]), Price: hour, Sum: sum, Steps: steps[k],
			Because: fmt.Sprintf("%s x %s %s an hour = %s", hours(milli[k]), hour.Grouped(), x.shop.Currency, sum.Grouped())})
	}
}

// sublet is one line for the work of a skill that another firm does: the visit and
// the hours, rounded once.
func (x *pricing) sublet(s shop.Sublet, milli int64, steps []string) {
	visit, ok1 := x.price(s.Visit, "sublet "+s.ID)
	hour, ok2 := x.price(s.Hour, "sublet "+s.ID)
	if !ok1 || !ok2 {
		return
	}
	sum := visit + hour.Times(milli, 60000)
	x.add(Line{ID: "S-" + s.ID, Kind: LineSublet, Text: s.Name, Amount: hours(milli), Price: hour, Sum: sum, Steps: steps,
		Because: fmt.Sprintf("sublet: visit %s + %s x %s %s an hour = %s", visit.Grouped(), hours(milli), hour.Grouped(), x.shop.Currency, sum.Grouped())})
}

// hours is thousandths of a minute as hours and minutes: prices are by the hour.
func hours(milli int64) string { return unit.Minutes(float64(milli) / 1000).Hours() }

// thousandths rounds half away from zero; minutes are never negative.
func thousandths(min float64) int64 { return unit.Whole(float64(min*1000) + 0.5) }

// decimal prints thousandths without zeros to spare.
func decimal(milli int64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%d.%03d", milli/1000, milli%1000), "0"), ".")
}

func (x *pricing) parts() {
	lost := slices.Clone(x.plan.Lost)
	slices.SortStableFunc(lost, func(a, b plan.Lost) int { return cmp.Compare(a.Part, b.Part) })
	for _, l := range lost {
		p, ok := x.body.Part(l.Part)
		if !ok {
			x.missing(string(l.Part), diag.Say("cost.part", "part {part} has no price", l.Part), "add it to parts.csv")
			continue
		}
		each, ok := x.price(p.Price, "part "+string(l.Part))
		if !ok {
			continue
		}
		sum := each.Times(int64(l.Quantity), 1)
		x.add(Line{ID: "P-" + string(l.Part), Kind: LineParts, Text: l.Name, Amount: fmt.Sprint(l.Quantity), Price: each, Sum: sum,
			Because: fmt.Sprintf("%d x %s %s: %s", l.Quantity, each.Grouped(), x.shop.Currency, l.Because)})
	}
}

func (x *pricing) materials() {
	for _, t := range x.plan.Takeoff {
		m, ok := x.body.Material(t.Material)
		if !ok || t.Pack <= 0 {
			x.missing(string(t.Material), diag.Say("cost.material", "material {material} has no price or pack", t.Material), "add it to the body folder")
			continue
		}
		each, ok := x.price(m.Price, "material "+string(t.Material))
		if !ok {
			continue
		}
		var steps []string
		for _, l := range t.Lines {
			steps = append(steps, l.Step)
		}
		sum := each.Times(int64(t.Packs), 1)
		x.add(Line{ID: "M-" + string(t.Material), Kind: LineMaterials, Text: t.Name, Amount: fmt.Sprintf("%s of %s", unit.Count(t.Packs, "pack"), amountOf(m.Pack.Value, m.Pack.Unit)), Price: each, Sum: sum, Steps: steps,
			Because: fmt.Sprintf("%s used, with waste %s: %s of %s x %s %s", amountOf(t.Net, t.Unit), decimal(thousandths(t.Gross)), unit.Count(t.Packs, "pack"), amountOf(m.Pack.Value, m.Pack.Unit), each.Grouped(), x.shop.Currency)})
	}
}

func (x *pricing) storage() {
	each, ok := x.price(x.shop.Storage, "storage")
	if !ok || each == 0 || len(x.plan.Steps) == 0 {
		return
	}
	if x.plan.Calendar == 0 {
		x.missing("storage", diag.Say("cost.storage", "the plan has no finish, so the days of storage cannot be counted"), "see what keeps the plan from having dates")
		return
	}
	sum := each.Times(int64(x.plan.Calendar), 1)
	x.add(Line{ID: "D-storage", Kind: LineStorage, Text: "Storage", Amount: fmt.Sprintf("%d calendar days", x.plan.Calendar), Price: each, Sum: sum,
		Because: fmt.Sprintf("%d calendar days from %s to %s x %s %s", x.plan.Calendar, x.plan.Start, x.plan.Finish, each.Grouped(), x.shop.Currency)})
}

// sum adds up the lines by kind.
func (x *pricing) sum() {
	b := &x.bill
	to := map[shop.AmountKind]*unit.Minor{LineLabour: &b.Labour, LineParts: &b.Parts, LineMaterials: &b.Material, LineSublet: &b.Sublet, LineStorage: &b.Storage}
	for _, l := range b.Lines {
		*to[l.Kind] += l.Sum
		b.Net += l.Sum
	}
	b.Total = b.Net
}

// taxes adds one line for each tax: its rate on the sum of its kinds of line,
// rounded once.
func (x *pricing) taxes() {
	b := &x.bill
	of := map[shop.AmountKind]unit.Minor{LineLabour: b.Labour, LineParts: b.Parts, LineMaterials: b.Material, LineSublet: b.Sublet, LineStorage: b.Storage}
	for _, t := range x.shop.Taxes {
		base := unit.Minor(0)
		for i, k := range t.On {
			v, ok := of[k]
			if !ok {
				x.missing(t.ID, diag.Say("cost.tax", "tax {tax} is on {kind:q}, which is no kind of line", t.ID, k), "write labour, parts, materials, sublet or storage")
			}
			if !slices.Contains(t.On[:i], k) {
				base += v
			}
		}
		num, den := exact(t.Rate)
		tax := base.Times(num, den)
		b.Tax += tax
		b.Total += tax
		x.add(Line{ID: "T-" + t.ID, Kind: LineTax, Text: t.Name, Amount: t.Rate.String(), Price: base, Sum: tax,
			Because: fmt.Sprintf("%s x %s %s of %v = %s", t.Rate, base.Grouped(), x.shop.Currency, t.On, tax.Grouped())})
	}
}
