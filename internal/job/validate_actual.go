package job

import (
	"fmt"

	"fettle/internal/unit"
)

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
		var ids []string
		for k, l := range a.Lines {
			c.currency(fmt.Sprintf("%s.lines[%d].sum", at, k), l.Sum)
			sum += l.Sum.Minor
			for _, id := range ids {
				if id == l.ID {
					c.fault(fmt.Sprintf("%s.lines[%d].id", at, k), fmt.Sprintf("line %q is there twice", l.ID), "")
				}
			}
			ids = append(ids, l.ID)
		}
		c.currency(at+".net", a.Net)
		c.currency(at+".total", a.Total)
		if sum != a.Total.Minor {
			c.fault(at+".total", fmt.Sprintf("the lines add up to %s, not to %s", sum.Decimal(), a.Total.Minor.Decimal()), "copy the bill as 'fettle plan --agree' prints it")
		}
	}
}

func (c *checker) currency(at string, m unit.Money) {
	if want := c.s.Vehicle.Value.Currency; m.Currency != want {
		c.fault(at, fmt.Sprintf("the amount is in %s, the value of the vehicle in %s", m.Currency, want), "")
	}
}
