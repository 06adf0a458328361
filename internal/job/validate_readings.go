package job

import (
	"fmt"

	"fettle/internal/diag"
	"fettle/internal/unit"
)

// CheckReadings judges the rows of a table of readings that belongs to no job:
// each set-up it names exists, and a device may have its axes anywhere.
func CheckReadings(rs []Reading) diag.Problems {
	s := &State{Readings: rs}
	setups := names(rs, func(r Reading) string { return r.Setup })
	c := &checker{s: s, anyFrame: true}
	for i, r := range rs {
		c.reading(fmt.Sprintf("readings[%d]", i), r, setups)
	}
	return c.problems
}

// roughest keeps slips of the unit out: no device measures so badly.
const roughest = 1000 // [mm]

// reading checks one row of readings.csv by its kind.
func (c *checker) reading(at string, r Reading, setups known) {
	c.ref(at+".setup", "set-up", r.Setup, setups)
	if r.Kind == ReadXYZ || r.Kind == ReadRim {
		c.xyz(at, r)
	} else {
		c.distance(at, r)
	}
	for _, v := range []struct {
		column string
		std    unit.Maybe[float64]
	}{{".std_mm", r.Std}, {".std_x_mm", r.StdX}, {".std_y_mm", r.StdY}, {".std_z_mm", r.StdZ}} {
		if v.std.Known && v.std.Value <= 0 {
			c.fault(at+v.column, "the standard uncertainty is not more than zero", "leave the cell empty to use that of the set-up")
		}
		if v.std.Known && v.std.Value > roughest && !c.anyFrame {
			c.slip(at+v.column, fmt.Sprintf("%s is no uncertainty of a device", unit.MM(v.std.Value)), "uncertainties are in millimetres")
		}
	}
}

func (c *checker) xyz(at string, r Reading) {
	for _, v := range []struct {
		column string
		value  unit.Maybe[float64]
	}{{".x_mm", r.X}, {".y_mm", r.Y}, {".z_mm", r.Z}} {
		if !v.value.Known {
			c.fault(at+v.column, "the coordinate is missing", "a reading of the kind "+string(r.Kind)+" has all three")
		}
		if !c.anyFrame && (v.value.Value > farMM || v.value.Value < -farMM) {
			c.fault(at+v.column, fmt.Sprintf("%s is further than any device reaches", unit.MM(v.value.Value)), "coordinates are in millimetres")
		}
	}
	c.empty(at+".to", r.To != "", r.Kind)
	c.empty(at+".value_mm", r.Value.Known, r.Kind)
	if r.Kind == ReadRim {
		for _, v := range []struct {
			column string
			given  bool
		}{{".std_x_mm", r.StdX.Known}, {".std_y_mm", r.StdY.Known}, {".std_z_mm", r.StdZ.Known}} {
			c.empty(at+v.column, v.given, r.Kind)
		}
		return
	}
	each := r.StdX.Known || r.StdY.Known || r.StdZ.Known
	if each && (r.Std.Known || !r.StdX.Known || !r.StdY.Known || !r.StdZ.Known) {
		c.fault(at, "the standard uncertainty is not clear", "give std_mm, or std_x_mm, std_y_mm and std_z_mm, or neither")
	}
}

// distance checks a tram length or a height difference.
func (c *checker) distance(at string, r Reading) {
	switch {
	case r.To == "":
		c.fault(at+".to", "the second point is missing", fmt.Sprintf("a %s goes from one point to another", r.Kind))
	case r.To == r.From:
		c.fault(at+".to", fmt.Sprintf("both points are %q", r.To), "name the point at the other end")
	}
	switch {
	case !r.Value.Known:
		c.fault(at+".value_mm", "the value is missing", "give what was read, in millimetres")
	case r.Kind == ReadLength && r.Value.Value <= 0:
		c.fault(at+".value_mm", "a length is more than zero", "give what was read, in millimetres")
	case !c.anyFrame && (r.Value.Value > farMM || r.Value.Value < -farMM):
		c.fault(at+".value_mm", fmt.Sprintf("%s is longer than any vehicle", unit.MM(r.Value.Value)), "values are in millimetres")
	}
	for _, v := range []struct {
		column string
		given  bool
	}{{".x_mm", r.X.Known}, {".y_mm", r.Y.Known}, {".z_mm", r.Z.Known},
		{".std_x_mm", r.StdX.Known}, {".std_y_mm", r.StdY.Known}, {".std_z_mm", r.StdZ.Known}} {
		c.empty(at+v.column, v.given, r.Kind)
	}
}

// empty demands that a cell is not filled in.
func (c *checker) empty(at string, given bool, kind ReadingKind) {
	if given {
		c.fault(at, fmt.Sprintf("a reading of the kind %s has no value here", kind), "leave the cell empty")
	}
}
