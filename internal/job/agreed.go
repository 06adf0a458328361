package job

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Agreed is a bill as it was agreed on a day, and what it was agreed with: what later
// plans are held against, by the value, rules and rates of that day.
type Agreed struct {
	Number   int             `doc:"number,required" help:"1 for the first bill, 2 for the first supplement, and so on"`
	Route    string          `doc:"route,required"`
	Net      unit.Money      `doc:"net,required"`
	Total    unit.Money      `doc:"total,required" help:"tax included"`
	Finish   unit.Date       `doc:"finish,required"`
	Value    unit.Money      `doc:"value" help:"of the vehicle before the damage, as it was agreed"`
	Salvage  unit.Money      `doc:"salvage" help:"of the damaged vehicle, as it was agreed"`
	Rules    []shop.LossRule `doc:"rules" help:"total-loss rules of the shop as they were"`
	Lines    []AgreedLine    `doc:"lines,required"`
	Work     []AgreedStep    `doc:"work" help:"steps of the plan that was agreed; they tell apart what falls away and what is new"`
	Findings []FindingID     `doc:"findings" help:"findings that the bill was made for, those that are left alone too; one of its own day that is not among them was made after it"`
	By       string          `doc:"by,required" personal:"yes"`
	On       unit.Date       `doc:"on,required"`
	Reason   string          `doc:"reason,required" personal:"yes"`
}

// AgreedLine is one line of an agreed bill.
type AgreedLine struct {
	ID     string     `doc:"id,required" help:"identity of the price line"`
	Sum    unit.Money `doc:"sum,required"`
	Price  unit.Money `doc:"price" help:"of one: an hour, a piece, a pack, a day"`
	Amount string     `doc:"amount" help:"how much of it, in words; of a tax its rate"`
}

// AgreedStep is one step of the plan of an agreed bill.
type AgreedStep struct {
	Step     string       `doc:"step,required" help:"what it is in every plan, as the data of a plan has it under 'ref'"`
	Findings []FindingID  `doc:"findings"`
	Skill    body.SkillID `doc:"skill,required"`
	Minutes  unit.Minutes `doc:"minutes,required"`
}

// agreed: bills are numbered without a gap, in the order of their days, and each
// is the sum of its lines.
func (c *checker) agreed() {
	last := c.s.Opened
	for i, a := range c.s.Agreed {
		at := fmt.Sprintf("agreed[%d]", i)
		if a.Number != i+1 {
			c.fault(at+".number", fmt.Sprintf("number %d stands in place %d", a.Number, i+1), "bills are numbered from 1 without a gap, in the order they were agreed")
		}
		c.notBefore(at+".on", a.On, "the day of the bill before it or the day the job was opened", last)
		last = a.On
		sum := unit.Minor(0)
		ids := map[string]bool{}
		if len(a.Lines) == 0 {
			c.slip(at+".lines", "the bill has no line", "give the lines that were agreed, with their sums")
		}
		for k, l := range a.Lines {
			c.currency(fmt.Sprintf("%s.lines[%d].sum", at, k), l.Sum)
			if l.Price != (unit.Money{}) {
				c.currency(fmt.Sprintf("%s.lines[%d].price", at, k), l.Price)
			}
			if l.Sum.Minor < 0 {
				c.slip(fmt.Sprintf("%s.lines[%d].sum", at, k), fmt.Sprintf("%s is negative", l.Sum), "a bill takes nothing off: leave a line out that was not agreed")
			}
			if l.Price.Minor < 0 {
				c.slip(fmt.Sprintf("%s.lines[%d].price", at, k), fmt.Sprintf("%s is negative", l.Price), "give the price of one, zero or more")
			}
			sum += l.Sum.Minor
			if ids[l.ID] {
				c.fault(fmt.Sprintf("%s.lines[%d].id", at, k), fmt.Sprintf("line %q is there twice", l.ID), "give it once, with the sum of all of it")
			}
			ids[l.ID] = true
		}
		if a.Net.Minor < 0 {
			c.slip(at+".net", fmt.Sprintf("%s is negative", a.Net), "give the sum of the lines without tax")
		}
		c.currency(at+".net", a.Net)
		c.currency(at+".total", a.Total)
		if sum != a.Total.Minor {
			c.fault(at+".total", fmt.Sprintf("the lines add up to %s, not to %s", sum.Decimal(), a.Total.Minor.Decimal()), "copy the bill as the plan gives it to be agreed")
			c.problems[len(c.problems)-1].Remedy = diag.Do(ToAgree)
		}
		c.agreedWith(at, a)
	}
}

// agreedWith: value and salvage are given together, and rules and steps once each.
func (c *checker) agreedWith(at string, a Agreed) {
	value, salvage := a.Value != (unit.Money{}), a.Salvage != (unit.Money{})
	switch {
	case value != salvage:
		c.fault(at, "the value and the salvage value that it was agreed with belong to one another", "give both, or neither")
	case value && a.Value.Minor <= 0:
		c.fault(at+".value", fmt.Sprintf("%s is given; more than zero is needed", a.Value), "give the value before the damage, or leave both out")
	case value && (a.Salvage.Minor < 0 || a.Salvage.Minor > a.Value.Minor):
		c.fault(at+".salvage", fmt.Sprintf("%s is not from zero to the value of the vehicle, %s", a.Salvage, a.Value), "see which of the two is wrong")
	}
	if value {
		c.currency(at+".value", a.Value)
	}
	if salvage {
		c.currency(at+".salvage", a.Salvage)
	}
	if len(a.Rules) > 0 {
		unique(c, at+".rules", "id", a.Rules, func(r shop.LossRule) string { return r.ID })
		for k, r := range a.Rules {
			if r.Percent < 0 {
				c.slip(fmt.Sprintf("%s.rules[%d].percent", at, k), fmt.Sprintf("%s is negative", r.Percent), "copy the rule as the shop file had it")
			}
		}
	}
	for k, f := range a.Findings {
		if slices.Contains(a.Findings[:k], f) {
			c.fault(fmt.Sprintf("%s.findings[%d]", at, k), fmt.Sprintf("finding %q is there twice", f), "name it once")
		}
	}
	seen := map[string]bool{}
	for k, w := range a.Work {
		if seen[w.Step] {
			c.fault(fmt.Sprintf("%s.work[%d].step", at, k), fmt.Sprintf("step %q is there twice", w.Step), "give it once, with all of its minutes")
		}
		seen[w.Step] = true
		if w.Minutes < 0 {
			c.fault(fmt.Sprintf("%s.work[%d].minutes", at, k), "the minutes are negative", "a step takes no time or more")
		}
		twice(c, fmt.Sprintf("%s.work[%d].findings", at, k), w.Findings, nameOnce)
	}
}

func (c *checker) currency(at string, m unit.Money) {
	if want := c.s.Vehicle.Value.Currency; m.Currency != want {
		c.fault(at, fmt.Sprintf("the amount is in %s, the value of the vehicle in %s", m.Currency, want), "give all amounts in one currency")
	}
}
