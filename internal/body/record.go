package body

import (
	"strings"

	"fettle/internal/unit"
)

// Reading is a figure that is written down at a step, with the limits it has to
// keep. Without limits it is on record only.
type Reading struct {
	ID   string      `doc:"id,required" json:"id"`
	Name string      `doc:"name,required" json:"name" help:"what is read, for example 'Interpass temperature'"`
	Unit string      `doc:"unit,required" json:"unit" help:"unit it is read in, for example C, mm, kJ/mm, %; text when it is no number"`
	Low  unit.Amount `doc:"low" json:"low,omitzero" help:"least value, in the same unit"`
	High unit.Amount `doc:"high" json:"high,omitzero" help:"greatest value, in the same unit"`
	Cite string      `doc:"cite" json:"cite,omitempty"`
}

// Identities of the readings that follow from what is used and closed.

// BatchReading is the batch of a material.
func BatchReading(m MaterialID) string { return "batch-" + string(m) }

// OpenReading is how long an adhesive was open.
func OpenReading(m MaterialID) string { return "open-" + string(m) }

// CureReading is how warm it was while an adhesive cured.
func CureReading(m MaterialID) string { return "cure-" + string(m) }

// TorqueReading is what the tool was set to for a joint.
func TorqueReading(j JointID) string { return "torque-" + string(j) }

// HasLimit says that the reading has to keep a limit.
func (r Reading) HasLimit() bool { return r.Low != (unit.Amount{}) || r.High != (unit.Amount{}) }

// TextUnit is the unit of a reading that is no number.
const TextUnit = "text"

// ByDevice says that the reading is taken with a device that has to be in
// calibration: every number but a time, which any clock tells.
func (r Reading) ByDevice() bool { return r.Unit != TextUnit && !r.isTime() }

func (r Reading) isTime() bool {
	return r.Unit == "s" || r.Unit == "min" || r.Unit == "h" || r.Unit == "d"
}

// IsBatch says that the reading is the batch of a material, which has a last day.
func (r Reading) IsBatch() bool {
	return r.Unit == TextUnit && strings.HasPrefix(r.ID, BatchReading(""))
}

// Keeps says that a value, in the reading's unit, keeps its limits. A value that
// is no number keeps none.
func (r Reading) Keeps(value float64) bool {
	if !(value-value == 0) {
		return false
	}
	return (r.Low == (unit.Amount{}) || value >= r.Low.Value) && (r.High == (unit.Amount{}) || value <= r.High.Value)
}

// Limits is the limits in words: "at most 100 C", "60 to 120 C"; empty without.
func (r Reading) Limits() string {
	low, high := r.Low != (unit.Amount{}), r.High != (unit.Amount{})
	switch {
	case low && r.Low == r.High:
		return r.Low.String()
	case low && high:
		return r.Low.String() + " to " + r.High.String()
	case low:
		return "at least " + r.Low.String()
	case high:
		return "at most " + r.High.String()
	}
	return ""
}

// Heat is the heat that a weld run puts into the metal: what the procedure sets
// and the limits it gives. The factor is that of the process in the document
// cited (EN 1011-1 prints 0.8 for metal-arc welding with gas; from memory).
type Heat struct {
	Process string      `doc:"process,required" help:"welding process, for example '131 pulsed MIG'"`
	Factor  float64     `doc:"factor,required" help:"thermal efficiency of the process, as the cited document has it"`
	Voltage unit.Amount `doc:"voltage,required" help:"set voltage, for example 20.5 V"`
	Current unit.Amount `doc:"current,required" help:"set current, for example 110 A"`
	Speed   unit.Amount `doc:"speed,required" help:"travel speed: mm/s, mm/min, cm/min or m/min"`
	Low     unit.Amount `doc:"low" help:"least heat input, in kJ/mm"`
	High    unit.Amount `doc:"high,required" help:"greatest heat input, in kJ/mm"`
	Cite    string      `doc:"cite,required"`
}

// HeatInput is the heat input of a run in kJ/mm (EN 1011-1; ISO/TR 18491 gives
// the same without the factor as arc energy):
//
//	Q = k U I / (1000 v)
//
// with process factor k, voltage U in volts, current I in amperes and travel
// speed v in mm/s. A speed of zero or less has no answer.
func HeatInput(factor, volts, amperes, mmPerSecond float64) (float64, bool) {
	if !(mmPerSecond > 0) {
		return 0, false
	}
	return factor * volts * amperes / mmPerSecond / 1000, true
}

// speedUnits are units of travel speed in mm/s.
var speedUnits = map[string]float64{"mm/s": 1, "mm/min": 1.0 / 60, "cm/min": 10.0 / 60, "m/min": 1000.0 / 60}

// MMPerSecond is a travel speed in mm/s; false when its unit is none of speed.
func MMPerSecond(speed unit.Amount) (float64, bool) {
	f, ok := speedUnits[speed.Unit]
	return float64(speed.Value * f), ok
}

// Input is the heat input at the set values.
func (h Heat) Input() (float64, bool) {
	v, ok := MMPerSecond(h.Speed)
	if !ok {
		return 0, false
	}
	return HeatInput(h.Factor, h.Voltage.Value, h.Current.Value, v)
}

// Environment is the air a step may be done in.
type Environment struct {
	Low      unit.Maybe[unit.Celsius] `doc:"temperature_low" help:"least temperature of bay and work"`
	High     unit.Maybe[unit.Celsius] `doc:"temperature_high" help:"greatest temperature of bay and work"`
	Humidity unit.Frac                `doc:"humidity_high" help:"greatest relative humidity, for example 70 %"`
	Cite     string                   `doc:"cite"`
}

// RivetDiameter is the diameter that distances of rivets are multiples of.
type RivetDiameter string

// Diameters of a rivet.
const (
	OfHole  RivetDiameter = "hole"
	OfShank RivetDiameter = "shank"
)

// RivetBounds are least distances of rivets as a published document has them, in
// multiples of a diameter.
type RivetBounds struct {
	ID    string        `doc:"id,required"`
	Cite  string        `doc:"cite,required" help:"document, edition and table"`
	Of    RivetDiameter `doc:"of,required" help:"hole or shank: which diameter the multiples are of" oneof:"hole|shank"`
	End   float64       `doc:"end,required" help:"least distance of a rivet from an end or edge"`
	Pitch float64       `doc:"pitch,required" help:"least distance between rivets of a row"`
	Rows  float64       `doc:"rows" help:"least distance between rows; that of the pitch when left out"`
}
