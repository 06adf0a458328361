package shop

import (
	"fmt"
	"slices"

	"fettle/internal/unit"
)

// Certificate is something a person has been tested for.
type Certificate struct {
	Name     string    `doc:"name,required" help:"for example 'welder aluminium castings'"`
	Until    unit.Date `doc:"until,required" help:"last day it holds"`
	Document string    `doc:"document" help:"number of the certificate"`
}

// Tested says until when a piece of equipment may be used.
type Tested struct {
	Equipment string    `doc:"equipment,required" help:"as under 'equipment'"`
	Until     unit.Date `doc:"until,required" help:"last day of its test or calibration"`
}

// Ready is the equipment that may be used on a day, and that whose test has run
// out, in the order of the file.
func (s *Shop) Ready(on unit.Date) (have, out []string) {
	for _, e := range s.Equipment {
		if slices.ContainsFunc(s.Tested, func(t Tested) bool { return t.Equipment == e && t.Until.Before(on) }) {
			out = append(out, e)
		} else {
			have = append(have, e)
		}
	}
	return have, out
}

// Certified is the certificates that at least one person holds on a day, and
// those that nobody holds any more, in the order of the file.
func (s *Shop) Certified(on unit.Date) (have, out []string) {
	add := func(list *[]string, name string) {
		if !slices.Contains(*list, name) {
			*list = append(*list, name)
		}
	}
	for _, p := range s.People {
		for _, q := range p.Holds {
			if !q.Until.Before(on) {
				add(&have, q.Name)
			}
		}
	}
	for _, p := range s.People {
		for _, q := range p.Holds {
			if !slices.Contains(have, q.Name) {
				add(&out, q.Name)
			}
		}
	}
	return have, out
}

// ready checks certificates and tests of equipment.
func (c *checker) ready() {
	for i, p := range c.shop.People {
		for j, q := range p.Holds {
			if slices.ContainsFunc(p.Holds[:j], func(o Certificate) bool { return o.Name == q.Name }) {
				c.fault(fmt.Sprintf("people[%d].certificates[%d].name", i, j), fmt.Sprintf("%q is there twice", q.Name), "keep the one that holds")
			}
		}
	}
	for i, t := range c.shop.Tested {
		at := fmt.Sprintf("equipment_tests[%d].equipment", i)
		if !slices.Contains(c.shop.Equipment, t.Equipment) {
			c.fault(at, fmt.Sprintf("%q is not under 'equipment'", t.Equipment), "")
		}
		if slices.ContainsFunc(c.shop.Tested[:i], func(o Tested) bool { return o.Equipment == t.Equipment }) {
			c.fault(at, fmt.Sprintf("%q is there twice", t.Equipment), "keep the one that holds")
		}
	}
	if c.shop.TempStd < 0 {
		c.fault("temperature_std", fmt.Sprintf("%s is negative", c.shop.TempStd), "")
	}
}
