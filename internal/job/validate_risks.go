package job

import (
	"fmt"

	"fettle/internal/unit"
)

// risks: chances are chances, and amounts are in order and in one currency.
func (c *checker) risks() {
	unique(c, "risks", "id", c.s.Risks, func(r Risk) string { return r.ID })
	cur := c.s.Vehicle.Value.Currency
	for i, r := range c.s.Risks {
		at := fmt.Sprintf("risks[%d]", i)
		c.chance(at+".chance", r.Chance)
		for _, m := range []unit.Money{r.Low, r.Likely, r.High} {
			if m.Currency != cur {
				c.fault(at, fmt.Sprintf("an amount is in %s, the value of the vehicle in %s", m.Currency, cur), "give all in one currency")
			}
		}
		if r.Low.Minor < 0 || r.Likely.Minor < r.Low.Minor || r.High.Minor < r.Likely.Minor {
			c.fault(at, fmt.Sprintf("%s, %s and %s are not in order", r.Low, r.Likely, r.High), "low is the least, high the most")
		}
		c.notBefore(at+".on", r.On, "the day the job was opened", c.s.Opened)
		c.chance(at+".together", r.Together)
		if (r.Factor == "") != (r.Together == 0) {
			c.fault(at+".together", "a factor and how far its risks go together belong to one another", "give both 'factor' and 'together', or neither")
		}
		if l := r.Look; l != nil {
			c.chance(at+".look.finds", l.Finds)
			c.chance(at+".look.false_calls", l.False)
			if l.Finds <= l.False {
				c.fault(at+".look.finds", fmt.Sprintf("finds %s, false calls %s: a look that shows no more where it is bad tells nothing", l.Finds, l.False), "")
			}
			if l.Minutes <= 0 {
				c.fault(at+".look.minutes", "looking takes time", "")
			}
			if l.Price != (unit.Money{}) && (l.Price.Currency != cur || l.Price.Minor < 0) {
				c.fault(at+".look.price", fmt.Sprintf("%s is no price in %s", l.Price, cur), "")
			}
		}
	}
}

func (c *checker) chance(at string, f unit.Frac) {
	if f < 0 || f > 1 {
		c.fault(at, fmt.Sprintf("%s is not from 0 %% to 100 %%", f), "")
	}
}
