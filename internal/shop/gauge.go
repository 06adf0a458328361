package shop

import (
	"fmt"

	"fettle/internal/unit"
)

// Gauge is something that the shop measures lengths with by hand: a tape, a thread and a rule,
// a calliper, a photograph beside a scale.
type Gauge struct {
	ID   string  `doc:"id,required"`
	Name string  `doc:"name,required"`
	Std  unit.MM `doc:"std,required" help:"standard uncertainty of a length of a hand's breadth measured with it, by the shop's own trials"`
}

// Gauge is what the shop measures with under that name; false when it has no such gauge.
func (s *Shop) Gauge(id string) (Gauge, bool) {
	if s != nil {
		for _, m := range s.Gauges {
			if m.ID == id && id != "" {
				return m, true
			}
		}
	}
	return Gauge{}, false
}

func (c *checker) gauges() {
	seen := map[string]bool{}
	for i, m := range c.shop.Gauges {
		at := fmt.Sprintf("gauges[%d]", i)
		if seen[m.ID] {
			c.fault(at+".id", fmt.Sprintf("%q is there twice", m.ID), "give each its own")
		}
		if !idForm.MatchString(m.ID) {
			c.fault(at+".id", fmt.Sprintf("%q is not an identity", m.ID), "use letters, digits, '-', '_' and '.', beginning with a letter or digit")
		}
		seen[m.ID] = true
		if m.Std <= 0 {
			c.fault(at+".std", fmt.Sprintf("%s is given; more than zero is needed", m.Std), "nothing measures without error")
		}
	}
}
