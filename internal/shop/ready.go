package shop

import (
	"fmt"
	"slices"

	"fettle/internal/unit"
)

// Qualification is the proof that a person was tested for something: for a way
// to inspect, or for any work a procedure names.
type Qualification struct {
	For      string    `doc:"for,required" help:"'penetrant' or 'visual' for inspecting that way; otherwise the name procedures use, for example 'welder castings'"`
	Until    unit.Date `doc:"until,required" help:"last day it holds"`
	Document string    `doc:"document,required" help:"the certificate: standard, level and number"`
}

// QualifiedFor is the person's qualification for something on a day; false when
// there is none, or it had run out.
func (p Person) QualifiedFor(what string, on unit.Date) (Qualification, bool) {
	for _, q := range p.Qualified {
		if q.For == what && !on.IsZero() && !q.Until.Before(on) {
			return q, true
		}
	}
	return Qualification{}, false
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

// Qualifications is those that at least one person who has not left holds on a day, and those
// that nobody holds any more, in the order of the file.
func (s *Shop) Qualifications(on unit.Date) (have, out []string) {
	add := func(list *[]string, name string) {
		if !slices.Contains(*list, name) {
			*list = append(*list, name)
		}
	}
	for _, p := range s.People {
		for _, q := range p.Qualified {
			if !q.Until.Before(on) && !s.Left(p.ID, on) {
				add(&have, q.For)
			}
		}
	}
	for _, p := range s.People {
		for _, q := range p.Qualified {
			if !slices.Contains(have, q.For) {
				add(&out, q.For)
			}
		}
	}
	return have, out
}

// mostTempStd keeps a slip of the keyboard out: nobody knows the temperature of a shop worse.
const mostTempStd = 30

// ready checks qualifications and tests of equipment.
func (c *checker) ready() {
	for i, p := range c.shop.People {
		for j, q := range p.Qualified {
			if slices.ContainsFunc(p.Qualified[:j], func(o Qualification) bool { return o.For == q.For }) {
				c.fault(fmt.Sprintf("people[%d].qualifications[%d].for", i, j), fmt.Sprintf("%q is there twice", q.For), "keep the one that holds")
			}
		}
	}
	for i, t := range c.shop.Tested {
		at := fmt.Sprintf("equipment_tests[%d].equipment", i)
		if !slices.Contains(c.shop.Equipment, t.Equipment) {
			c.fault(at, fmt.Sprintf("%q is not under 'equipment'", t.Equipment), "list it there, or take the test out")
		}
		if slices.ContainsFunc(c.shop.Tested[:i], func(o Tested) bool { return o.Equipment == t.Equipment }) {
			c.fault(at, fmt.Sprintf("%q is there twice", t.Equipment), "keep the one that holds")
		}
	}
	switch std := c.shop.TempStd; {
	case std < 0:
		c.fault("temperature_std", fmt.Sprintf("%s is negative", std), "write it without the sign, or leave it out")
	case std > mostTempStd:
		c.fault("temperature_std", fmt.Sprintf("%s is out of range", std), "write how far the temperature is off, for example 2 C")
	}
}

// Hours is when a working day begins and ends, in minutes from midnight. Without a
// calendar that can be read it is the whole day.
func (k Calendar) Hours() (from, to unit.Minutes) {
	from, ok := clock(k.Start)
	to, okTo := clock(k.End)
	if !ok || !okTo || from >= to {
		return 0, 24 * 60
	}
	return from, to
}
