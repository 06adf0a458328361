package job

import (
	"fmt"
	"slices"

	"fettle/internal/unit"
)

// risks: chances are chances, and amounts are in order and in one currency.
func (c *checker) risks() {
	unique(c, "risks", "id", c.s.Risks, func(r Risk) string { return r.ID })
	cur := c.s.Vehicle.Value.Currency
	for i, r := range c.s.Risks {
		at := fmt.Sprintf("risks[%d]", i)
		c.chance(at+".chance", r.Chance)
		c.currency(at+".low", r.Low)
		c.currency(at+".likely", r.Likely)
		c.currency(at+".high", r.High)
		order := fmt.Sprintf("%s, %s and %s are not in order", r.Low, r.Likely, r.High)
		switch {
		case r.Low.Minor < 0:
			c.fault(at+".low", order, "low is the least, zero or more")
		case r.Likely.Minor < r.Low.Minor:
			c.fault(at+".likely", order, "low is the least, high the most")
		case r.High.Minor < r.Likely.Minor:
			c.fault(at+".high", order, "low is the least, high the most")
		}
		twice(c, at+".spared_by", r.Spared, nameOnce)
		c.notBefore(at+".on", r.On, "the day the job was opened", c.s.Opened)
		c.chance(at+".together", r.Together)
		if (r.Factor == "") != (r.Together == 0) {
			c.fault(at+".together", "a factor and how far its risks go together belong to one another", "give both 'factor' and 'together', or neither")
		}
		c.settled(at, r)
		if l := r.Look; l != nil {
			c.chance(at+".look.finds", l.Finds)
			c.chance(at+".look.false_calls", l.False)
			if l.Finds <= l.False {
				c.fault(at+".look.finds", fmt.Sprintf("finds %s, false calls %s: a look that shows no more where it is bad tells nothing", l.Finds, l.False), "'finds' is more than 'false_calls'")
			}
			if l.Minutes <= 0 {
				c.fault(at+".look.minutes", "looking takes time", "give how long it takes, for example 20 min")
			}
			if l.Price != (unit.Money{}) && (l.Price.Currency != cur || l.Price.Minor < 0) {
				c.fault(at+".look.price", fmt.Sprintf("%s is no price in %s", l.Price, cur), "give what it uses beside the work, in the currency of the vehicle's value")
			}
		}
	}
}

// settled: a risk is closed by a record of its own day or later, and what turned out badly by
// one that enters the plan.
func (c *checker) settled(at string, r Risk) {
	if (r.Settled == "") != (r.SettledBy == "") {
		c.fault(at+".settled", "how it turned out and what shows it belong to one another", "give both 'settled' and 'settled_by', or neither")
		return
	}
	if r.Open() {
		return
	}
	by := c.s.settling(r.SettledBy)
	switch {
	case by.what == "":
		c.fault(at+".settled_by", fmt.Sprintf("there is no inspection, finding or answer %s", r.SettledBy), "name the record that shows it, or enter it first")
	case r.Settled == SettledBadly && by.what == byInspection:
		c.fault(at+".settled_by", fmt.Sprintf("%s is an inspection: what it showed is not in the plan", r.SettledBy), "enter what was found as a finding, and name that")
	case by.on.Before(r.On):
		c.fault(at+".settled_by", fmt.Sprintf("the %s %s is of %s, before the risk was given on %s", by.what, r.SettledBy, by.on, r.On), "what was known then is in the chance already")
	}
}

// settler is the kind of record that settles a risk.
type settler string

const (
	byInspection settler = "inspection"
	byFinding    settler = "finding"
	byAnswer     settler = "answer"
)

// settlement is a record that can settle a risk.
type settlement struct {
	what settler // empty: there is none
	on   unit.Date
}

func (s *State) settling(id string) settlement {
	for _, x := range s.Looks {
		if x.ID == id {
			return settlement{byInspection, x.On}
		}
	}
	for _, x := range s.Findings {
		if string(x.ID) == id {
			return settlement{byFinding, x.On}
		}
	}
	for _, x := range s.Answers {
		if x.ID == id {
			return settlement{byAnswer, x.On}
		}
	}
	return settlement{}
}

// LookTaken is the inspection of what a risk is about that was made after the risk was given,
// though nobody said how it turned out.
func (s *State) LookTaken(r Risk) (Inspection, bool) {
	if !r.Open() || r.Look == nil || r.About == "" {
		return Inspection{}, false
	}
	var made []string
	for _, f := range s.Findings {
		if string(f.ID) == r.About {
			made = append(made, f.Look)
		}
	}
	for _, a := range s.Areas {
		if a.Area == r.About && (a.State == StateSeen || a.State == StatePenetrant) {
			made = append(made, a.Look)
		}
	}
	for _, x := range s.Looks {
		if slices.Contains(made, x.ID) && !x.On.Before(r.On) {
			return x, true
		}
	}
	return Inspection{}, false
}

func (c *checker) chance(at string, f unit.Frac) {
	if f < 0 || f > 1 {
		c.fault(at, fmt.Sprintf("%s is not from 0 %% to 100 %%", f), "give a chance, for example 30 %")
	}
}
