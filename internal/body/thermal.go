package body

import (
	"fmt"
	"math"
	"slices"

	"fettle/internal/unit"
)

// Thermal says at which temperature the point data hold and how the structure
// grows with it.
type Thermal struct {
	Reference unit.Celsius `doc:"reference,required" help:"temperature the nominal coordinates are for"`
	Low       unit.Celsius `doc:"low,required" help:"lowest temperature the structure may have while it is measured"`
	High      unit.Celsius `doc:"high,required" help:"highest; a set-up without a temperature lies somewhere from low to high"`
	Materials []Growth     `doc:"materials,required" help:"what the structure between the control points is made of"`
	Source    string       `doc:"source,required" help:"document, revision and page"`
}

// Growth is the linear expansion of one material of the structure.
type Growth struct {
	Material  string         `doc:"material,required" help:"in words"`
	Expansion unit.PerKelvin `doc:"expansion,required" help:"for example 22.5 ppm/K"`
	Std       unit.PerKelvin `doc:"std,required" help:"standard uncertainty of the expansion"`
}

// Mean is the expansion of the whole structure and its standard uncertainty,
// both in parts per million per kelvin.
//
// Materials that are bonded and riveted together hold one another: the whole
// grows by something between the least and the largest expansion. The middle of
// both is taken, with half their difference as a rectangular distribution
// beside the largest uncertainty of a single material:
//
//	u^2 = ((high - low)/2)^2 / 3 + max(std)^2
//
// Source: rectangular distribution, JCGM 100:2008, clause 4.3.7. Limits: how
// the parts force one another to bend is not modelled.
func (t Thermal) Mean() (perK, std float64) {
	low, high, own := math.Inf(1), math.Inf(-1), 0.0
	for _, m := range t.Materials {
		low, high = math.Min(low, float64(m.Expansion)), math.Max(high, float64(m.Expansion))
		own = math.Max(own, float64(m.Std))
	}
	if len(t.Materials) == 0 {
		return 0, 0
	}
	half := float64((high - low) / 2)
	return low + half, math.Sqrt(float64(half*half)/3 + float64(own*own))
}

// Bounds of what is taken for a slip of the unit: no workshop is outside them,
// and no structural material grows more. Common knowledge, no source.
const (
	coldest    = unit.Celsius(-30)
	warmest    = unit.Celsius(60)
	mostGrowth = unit.PerKelvin(100)
)

func (c *checker) thermal() {
	t := c.b.Thermal
	if t == nil {
		return
	}
	for _, v := range []struct {
		field string
		at    unit.Celsius
	}{{"thermal.reference", t.Reference}, {"thermal.low", t.Low}, {"thermal.high", t.High}} {
		if v.at < coldest || v.at > warmest {
			c.fault(v.field, fmt.Sprintf("%s is no temperature people measure at", v.at), "write degrees Celsius, for example 20 C")
		}
	}
	if t.High <= t.Low {
		c.fault("thermal.high", fmt.Sprintf("%s is not above the lowest temperature, %s", t.High, t.Low), "are the two swapped?")
	}
	if len(t.Materials) == 0 {
		c.fault("thermal.materials", "no material is named", "name what the structure is made of, and how it grows")
	}
	for i, m := range t.Materials {
		if slices.ContainsFunc(t.Materials[:i], func(o Growth) bool { return o.Material == m.Material }) {
			c.fault(at("thermal.materials", i, "material"), fmt.Sprintf("%q is there twice", m.Material), "name each material once")
		}
		path := at("thermal.materials", i)
		if m.Expansion <= 0 || m.Expansion > mostGrowth {
			c.fault(path+".expansion", fmt.Sprintf("%s is given; more than zero and at most %s is needed", m.Expansion, mostGrowth), "write parts per million per kelvin, for example 22.5 ppm/K")
		}
		positive(c, path+".std", m.Std)
	}
}
