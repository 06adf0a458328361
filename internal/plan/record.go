package plan

import (
	"fmt"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

// What is written down at a step follows from what is done there: readings the
// body asks for, heat input, how hot a part was made that is straightened and how often it was pulled, the air, the batch of what is used up, the time an
// adhesive is open, and torque. Each has its limits, so that a release can judge
// what was written.

// read adds a reading to the step, once.
func (n *node) read(r body.Reading) {
	for _, x := range n.step.Readings {
		if x.ID == r.ID {
			return
		}
	}
	n.step.Readings = append(n.step.Readings, r)
}

// readings adds what a step of the body has written down.
func (b *builder) readings(n *node, st body.Step, where string) {
	for _, r := range st.Readings {
		n.read(r)
	}
	if h := st.Heat; h != nil {
		b.heat(n, *h, where)
	}
	if st.HeatsTo > 0 {
		n.read(body.Reading{ID: "part-temperature", Name: "Highest temperature of the part", Unit: "C", High: unit.Amount{Value: float64(st.HeatsTo), Unit: "C"}})
	}
	if st.Pulls > 0 {
		n.read(body.Reading{ID: "pulls", Name: "Pulls", Unit: "times", High: unit.Amount{Value: float64(st.Pulls), Unit: "times"}})
	}
	if st.Air != nil {
		b.air(n, *st.Air, where)
	}
}

// heat checks the heat input at the set values and has the real ones written
// down. Q = k U I / (1000 v), kJ/mm (EN 1011-1): see body.HeatInput.
func (b *builder) heat(n *node, h body.Heat, where string) {
	for _, x := range []struct{ id, name, unit string }{{"voltage", "Voltage", "V"}, {"current", "Current", "A"}, {"speed", "Travel speed", h.Speed.Unit}} {
		n.read(body.Reading{ID: x.id, Name: x.name, Unit: x.unit})
	}
	r := body.Reading{ID: "heat-input", Name: fmt.Sprintf("Heat input, %s, factor %s", h.Process, num(h.Factor)), Unit: "kJ/mm", Low: h.Low, High: h.High, Cite: h.Cite}
	n.read(r)
	q, ok := h.Input()
	if !ok {
		b.block(where, diag.Say("plan.heat-input", "the heat input cannot be worked out from the set values"), "correct voltage, current and speed in the body folder")
		return
	}
	v, _ := body.MMPerSecond(h.Speed)
	heat := numBeside(q, r.Low.Value, r.High.Value)
	n.step.Notes = append(n.step.Notes, fmt.Sprintf("Heat input as set: %s x %s x %s / (1000 x %s mm/s) = %s kJ/mm; allowed %s (%s).",
		num(h.Factor), h.Voltage, h.Current, num(v), heat, r.Limits(), h.Cite))
	if !r.Keeps(q) {
		b.block(where, diag.Say("plan.heat-input", "the heat input at the set values is {heat} kJ/mm, allowed is {limits}", heat, r.Limits()), "set other values, or ask the manufacturer")
	}
}

// air checks temperature and humidity of the shop and has the real ones written
// down.
func (b *builder) air(n *node, e body.Environment, where string) {
	t := body.Reading{ID: "bay-temperature", Name: "Temperature of bay and work", Unit: "C", Cite: e.Cite}
	if e.Low.Known {
		t.Low = unit.Amount{Value: float64(e.Low.Value), Unit: "C"}
	}
	if e.High.Known {
		t.High = unit.Amount{Value: float64(e.High.Value), Unit: "C"}
	}
	if t.HasLimit() {
		n.read(t)
		if !t.Keeps(float64(b.in.Shop.Temp)) {
			b.block(where, diag.Say("plan.environment", "{step}: the bays are at {temperature}, allowed is {limits}", n.step.Name, b.in.Shop.Temp, t.Limits()), "heat or cool bay and work, and put the temperature into the shop file")
		}
	}
	if e.Humidity == 0 {
		return
	}
	h := body.Reading{ID: "humidity", Name: "Relative humidity of the bay", Unit: "%", High: unit.Amount{Value: 100 * float64(e.Humidity), Unit: "%"}, Cite: e.Cite}
	n.read(h)
	switch usual := b.in.Shop.Humidity; {
	case usual == 0:
		b.note(diag.Caution, where, diag.Say("plan.humidity-unknown", "{step}: the humidity may be {limits}; the shop file does not say what it usually is", n.step.Name, h.Limits()), "measure it before the step")
	case usual > e.Humidity:
		b.block(where, diag.Say("plan.environment", "{step}: the humidity of the bays is {humidity}, allowed is {limits}", n.step.Name, usual, h.Limits()), "dry the air, and put the humidity into the shop file")
	}
}

// batch has the number of a material's batch written down where it is used.
func (n *node) batch(m body.Material) {
	if m.Batch {
		n.read(body.Reading{ID: body.BatchReading(m.ID), Name: "Batch and last day of use: " + m.Name, Unit: body.TextUnit})
	}
}

// openTime has the time written down that an adhesive is open, and the
// temperature it cures at.
func (b *builder) openTime(n *node, m body.Material) {
	if m.Kind != body.Adhesive || len(m.Cure) == 0 {
		return
	}
	r := body.Reading{ID: body.OpenReading(m.ID), Name: "From mixing to the last fastener: " + m.Name, Unit: "min", Cite: m.Cite}
	if t, ok := timesAt(m, b.in.Shop.Temp); ok {
		r.High = unit.Amount{Value: t.working, Unit: "min"}
		r.Name += fmt.Sprintf(" (at %s)", b.in.Shop.Temp)
	}
	n.read(r)
	n.read(body.Reading{ID: body.CureReading(m.ID), Name: "Temperature while it cures: " + m.Name, Unit: "C", Cite: m.Cite,
		Low: unit.Amount{Value: float64(m.Cure[0].Temp), Unit: "C"}, High: unit.Amount{Value: float64(m.Cure[len(m.Cure)-1].Temp), Unit: "C"}})
}

// torque has the setting of the tool written down.
func (n *node) torque(j body.Joint) {
	if j.Torque > 0 {
		a := unit.Amount{Value: float64(j.Torque), Unit: "Nm"}
		n.read(body.Reading{ID: body.TorqueReading(j.ID), Name: "Tightening torque: " + j.Name, Unit: "Nm", Low: a, High: a, Cite: j.Cite})
	}
}
