package job

import (
	"fmt"
	"slices"
)

// condition checks what is on record about the castings and the work area.
func (c *checker) condition() {
	for i, k := range c.s.Castings {
		at := fmt.Sprintf("castings[%d]", i)
		if slices.ContainsFunc(c.s.Castings[:i], func(o Cast) bool { return o.Casting == k.Casting }) {
			c.fault(at+".casting", fmt.Sprintf("casting %q is there twice", k.Casting), "give each once")
		}
		if k.CastOn.IsZero() && k.FittedOn.IsZero() && !k.Looked {
			c.fault(at, "it says nothing of the casting", "give 'cast_on', 'fitted_on' or 'repairs_looked_for'")
		}
		if built := c.s.Vehicle.Built; k.FittedOn.IsZero() && !built.IsZero() && built.Before(k.CastOn) {
			c.fault(at+".cast_on", fmt.Sprintf("the casting was cast on %s, after the vehicle was built on %s", k.CastOn, built), "read the date mark again, or say when it was fitted ('fitted_on')")
		}
		c.notBefore(at+".fitted_on", k.FittedOn, "the day the casting was cast", k.CastOn)
		c.notBefore(at+".on", k.On, "the day the casting was cast", k.CastOn)
		c.notBefore(at+".on", k.On, "the day the casting was fitted", k.FittedOn)
	}
	twice(c, "workplace", c.s.Workplace, giveOnce)
	for i, w := range c.s.Workplace {
		at := fmt.Sprintf("workplace[%d]", i)
		if w.Temp < -40 || w.Temp > 60 {
			c.fault(at+".temperature", fmt.Sprintf("%s is no temperature people work at", w.Temp), "write degrees Celsius, for example 19 C")
		}
		switch {
		case w.Std < 0:
			c.fault(at+".std", fmt.Sprintf("%s is negative", w.Std), "give how well the temperature is known, for example 1 C")
		case w.Std > leastSure:
			c.slip(at+".std", fmt.Sprintf("%s is no uncertainty of a temperature that was read", w.Std), "give how well the temperature is known, for example 1 C")
		}
		c.notBefore(at+".on", w.On, "the day the job was opened", c.s.Opened)
	}
}
