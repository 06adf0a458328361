package body

import (
	"fmt"
	"slices"

	"fettle/internal/unit"
)

// readings: limits are in the unit the figure is read in, and in order.
func (c *checker) readings(path string, readings []Reading) {
	note(c, "reading of "+path, path, readings, func(r Reading) string { return r.ID })
	for i, r := range readings {
		at := fmt.Sprintf("%s[%d]", path, i)
		for _, x := range []struct {
			field string
			limit unit.Amount
		}{{".low", r.Low}, {".high", r.High}} {
			if x.limit != (unit.Amount{}) && x.limit.Unit != r.Unit {
				c.fault(at+x.field, fmt.Sprintf("the limit is in %s, the figure is read in %s", x.limit.Unit, r.Unit), "use one unit for both")
			}
		}
		c.inOrder(at+".low", r.Low, r.High)
	}
}

func (c *checker) inOrder(path string, low, high unit.Amount) {
	if low != (unit.Amount{}) && high != (unit.Amount{}) && low.Unit == high.Unit && low.Value > high.Value {
		c.fault(path, fmt.Sprintf("the least value, %s, is over the greatest, %s", low, high), "are the two swapped?")
	}
}

// maxHeat keeps a slip of the unit out: no hand weld on such a wall takes as
// much.
const maxHeat = 10 // kJ/mm

func (c *checker) heat(path string, h *Heat) {
	if h == nil {
		return
	}
	if !(h.Factor > 0 && h.Factor <= 1) {
		c.fault(path+".factor", fmt.Sprintf("%g is no share of the arc's energy", h.Factor), "more than 0 and at most 1, as the cited document has it")
	}
	for _, x := range []struct {
		field  string
		amount unit.Amount
		units  []string
	}{{".voltage", h.Voltage, []string{"V"}}, {".current", h.Current, []string{"A"}},
		{".speed", h.Speed, []string{"mm/s", "mm/min", "cm/min", "m/min"}},
		{".low", h.Low, []string{"kJ/mm"}}, {".high", h.High, []string{"kJ/mm"}}} {
		switch {
		case x.amount == unit.Amount{}:
		case !slices.Contains(x.units, x.amount.Unit):
			c.fault(path+x.field, fmt.Sprintf("%q is not one of %v", x.amount.Unit, x.units), "write it in that unit")
		case x.amount.Value <= 0:
			c.fault(path+x.field, fmt.Sprintf("%s is given; more than zero is needed", x.amount), moreThanZero)
		}
	}
	c.inOrder(path+".low", h.Low, h.High)
	if h.High.Unit == "kJ/mm" && h.High.Value > maxHeat {
		c.fault(path+".high", fmt.Sprintf("%s is no heat input of a hand weld", h.High), "heat input is in kJ/mm")
	}
}

// warmestWork keeps a slip of the unit out: nobody works on what is warmer than boiling water.
const warmestWork unit.Celsius = 100

func (c *checker) environment(path string, e *Environment) {
	if e == nil {
		return
	}
	if !e.Low.Known && !e.High.Known && e.Humidity == 0 {
		c.fault(path, "no limit is given", "give a temperature or 'humidity_high', or leave it out")
	}
	for _, x := range []struct {
		field string
		at    unit.Maybe[unit.Celsius]
	}{{".temperature_low", e.Low}, {".temperature_high", e.High}} {
		if x.at.Known && (x.at.Value < coldest || x.at.Value > warmestWork) {
			c.fault(path+x.field, fmt.Sprintf("%s is no temperature of a bay or of work in it", x.at.Value), "write degrees Celsius, for example 15 C")
		}
	}
	if e.Low.Known && e.High.Known && e.Low.Value > e.High.Value {
		c.fault(path+".temperature_low", fmt.Sprintf("the least temperature, %s, is over the greatest, %s", e.Low.Value, e.High.Value), "are the two swapped?")
	}
	if e.Humidity < 0 || e.Humidity > 1 {
		c.fault(path+".humidity_high", fmt.Sprintf("%s is no relative humidity", e.Humidity), "write for example 70 %")
	}
}

func (c *checker) rivetBounds() {
	for i, r := range c.b.Bounds {
		path := at("rivet_bounds", i)
		for _, x := range []struct {
			field string
			times float64
			least bool
		}{{".end", r.End, true}, {".pitch", r.Pitch, true}, {".rows", r.Rows, false}} {
			if x.times < 0 || x.times > 20 || x.least && x.times < 1 {
				c.fault(path+x.field, fmt.Sprintf("%g is no multiple of a diameter that rivets can stand at", x.times), "write how many diameters, for example 3; at most 20 are taken")
			}
		}
	}
}
