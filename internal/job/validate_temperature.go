package job

import (
	"fmt"

	"fettle/internal/unit"
)

// Bounds of what is taken for a slip of the unit: no workshop is outside them,
// and no device grows more. Common knowledge, no source.
const (
	coldest    = unit.Celsius(-30)
	warmest    = unit.Celsius(60)
	mostGrowth = unit.PerKelvin(100)

	hottestBonded = unit.Celsius(250) // no adhesive stands more
	leastSure     = unit.Celsius(30)  // no thermometer is worse
)

// temperature checks how warm body and device of a set-up were.
func (c *checker) temperature(at string, x Setup) {
	c.warmth(at, x.Temp, x.TempStd)
	g := x.Growth
	if g == nil {
		return
	}
	at += ".device_growth"
	c.warmth(at, g.Temp, g.TempStd)
	if g.Expansion <= 0 || g.Expansion > mostGrowth {
		c.fault(at+".expansion", fmt.Sprintf("%s is given; more than zero and at most %s is needed", g.Expansion, mostGrowth), "leave device_growth out for a device that does not grow")
	}
	if g.Std <= 0 {
		c.fault(at+".std", fmt.Sprintf("%s is given; more than zero is needed", g.Std), "give how well the papers of the device state it, for example 0.5 ppm/K")
	}
	for _, v := range []struct {
		field string
		at    unit.Celsius
	}{{".reference", g.Reference}, {".low", g.Low}, {".high", g.High}} {
		c.bearable(at+v.field, v.at)
	}
	if g.High <= g.Low {
		c.fault(at+".high", fmt.Sprintf("%s is not above the lowest temperature, %s", g.High, g.Low), "give the lowest as 'low', the highest as 'high'")
	}
}

// warmth checks a temperature with its uncertainty: one without the other says
// too little.
func (c *checker) warmth(at string, temp unit.Maybe[unit.Celsius], std unit.Kelvin) {
	if temp.Known {
		c.bearable(at+".temperature", temp.Value)
	}
	switch {
	case std < 0:
		c.fault(at+".temperature_std", fmt.Sprintf("%s is negative", std), "give how well the temperature is known, for example 0.6 K")
	case std > 0 && !temp.Known:
		c.fault(at+".temperature_std", "there is no temperature it could belong to", "give 'temperature' too")
	}
}

func (c *checker) bearable(at string, t unit.Celsius) {
	if t < coldest || t > warmest {
		c.fault(at, fmt.Sprintf("%s is no temperature people measure at", t), "write degrees Celsius, for example 19 C")
	}
}
