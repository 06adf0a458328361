package measure

import (
	"fmt"
	"math"

	"fettle/internal/diag"
	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/job"
)

// Temperature says what temperature did to the readings of one set-up.
type Temperature struct {
	Setup     string  `json:"setup"`
	Corrected float64 `json:"correctedPpm"` // parts per million by which its readings were made longer
	StdPPM    float64 `json:"stdPpm"`       // standard uncertainty of that, charged to the readings
	Text      string  `json:"text"`
}

// warmth is what a set-up says of temperature.
type warmth struct {
	known  bool
	bodyC  float64
	std    float64
	device *job.DeviceGrowth
}

func warmthOf(s job.Setup) warmth {
	return warmth{known: s.Temp.Known, bodyC: float64(s.Temp.Value), std: float64(s.TempStd), device: s.Growth}
}

const ppm = 1e-6

// share is a relative growth with its standard uncertainty.
type share struct {
	value, std float64
	text       string
	ok         bool
}

// grown is the growth a (t - ref), with
//
//	u^2 = (a u(t))^2 + ((t - ref) u(a))^2
//
// a the expansion per kelvin, t the temperature. A temperature that is not
// given lies somewhere from low to high: the middle, with the standard deviation
// (high - low)/sqrt(12) of a rectangular distribution (JCGM 100:2008, clause
// 4.3.7).
func grown(what string, perK, perKStd, refC float64, known bool, tempC, tempStd, low, high float64) share {
	text := fmt.Sprintf("%s %s °C", what, num(tempC))
	if !known {
		if !(high > low) {
			return share{}
		}
		tempC, tempStd = (low+high)/2, (high-low)/math.Sqrt(12)
		text = fmt.Sprintf("%s not measured, between %s and %s °C", what, num(low), num(high))
	} else if tempStd > 0 {
		text += " ± " + num(2*tempStd) + " (k = 2)"
	}
	dt := tempC - refC
	return share{float64(perK * dt), elem.Hypot(perK*tempStd, perKStd*dt), text, true}
}

// temperature undoes thermal growth. With g_b = a_b (t_b - t_ref) of the body
// and g_d = a_d (t_d - t_ref,d) of the device's scale a reading is multiplied by
//
//	(1 + g_d)/(1 + g_b)
//
// Source: definition of linear expansion; reference temperature: ISO 1 lets a
// drawing state its own. Limits: the body is as warm everywhere.
func (p *problem) temperature() {
	th := p.in.Thermal
	if th == (Thermal{}) {
		if len(p.setups) > 0 {
			p.note(diag.Info, "temperature", diag.Say("measure.no-expansion", "it is not known how the body grows with temperature; the readings are used as they are"), "give its expansion and reference temperature ('thermal' in body.yaml)")
		}
		return
	}
	for _, v := range []float64{th.BodyPerK, th.DevicePerK, th.PerKStd, th.ReferenceC, th.LowC, th.HighC} {
		if !finite(v) {
			p.note(diag.Blocking, "temperature", diag.Say("measure.thermal-unusable", "the expansion data {fault}; nothing is corrected", "are no finite numbers"), "")
			return
		}
	}
	for k := range p.setups {
		p.warm(&p.setups[k])
	}
	p.correctCoords()
	for i := range p.spans {
		s := &p.spans[i]
		s.value *= p.setups[s.setup].factor
		// the common factor's uncertainty is charged to each length
		u := p.setups[s.setup].scaleU * s.value
		s.std = math.Sqrt(float64(s.std*s.std) + float64(u*u))
	}
}

// warm works out the factor of one set-up.
func (p *problem) warm(s *setup) {
	th, w := p.in.Thermal, s.warm
	where := "set-up " + s.id
	b := grown("body", th.BodyPerK-th.DevicePerK, th.PerKStd, th.ReferenceC, w.known, w.bodyC, w.std, th.LowC, th.HighC)
	out := Temperature{Setup: s.id}
	switch {
	case !b.ok:
		p.note(diag.Caution, where, diag.Say("measure.no-temperature", "no temperature is given; its readings are not corrected for expansion"), "measure the temperature of the body")
		out.Text = "body not measured, and nothing says how warm it may have been: not corrected"
		p.heat = append(p.heat, out)
		return
	case !w.known:
		p.note(diag.Caution, where, diag.Say("measure.no-temperature", "no temperature is given: it may be anything from {low} to {high} °C, which makes every length uncertain by {std:.0f} parts per million (k = 2)", num(th.LowC), num(th.HighC), 2*b.std/ppm), "measure the temperature of the body")
	case w.std == 0:
		p.note(diag.Info, where, diag.Say("measure.temperature-exact", "no uncertainty is given for the temperature of the {of}; it is taken as exact", "body"), "give 'temperature_std'")
	}
	d := share{ok: true}
	if g := w.device; g != nil {
		d = grown("device", float64(g.Expansion)*ppm, float64(g.Std)*ppm, float64(g.Reference), g.Temp.Known, float64(g.Temp.Value), float64(g.TempStd), float64(g.Low), float64(g.High))
		switch {
		case !d.ok:
			p.note(diag.Caution, where, diag.Say("measure.no-device-temperature", "the device grows with temperature and nothing says how warm it was; not corrected for"), "give the temperature of the device")
		case !g.Temp.Known:
			p.note(diag.Caution, where, diag.Say("measure.no-device-temperature", "no temperature of the device is given: it may be anything from {low} to {high} °C, which makes every length uncertain by {std:.0f} parts per million (k = 2)", num(float64(g.Low)), num(float64(g.High)), 2*d.std/ppm), "measure the temperature of the device")
		case g.TempStd == 0:
			p.note(diag.Info, where, diag.Say("measure.temperature-exact", "no uncertainty is given for the temperature of the {of}; it is taken as exact", "device"), "give 'temperature_std'")
		}
	}
	if !(1+b.value > 0.5) || !(1+d.value > 0.5) {
		p.note(diag.Blocking, where, diag.Say("measure.thermal-unusable", "the expansion data {fault}; nothing is corrected", "make no sense"), "")
		return
	}
	s.factor, s.scaleU = (1+d.value)/(1+b.value), elem.Hypot(b.std, d.std)
	out.Corrected, out.StdPPM = roundMM((s.factor-1)/ppm), roundMM(s.scaleU/ppm)
	out.Text = b.text
	if d.text != "" {
		out.Text += "; " + d.text
	}
	p.heat = append(p.heat, out)
}

// correctCoords scales the coordinates and charges the uncertainty of the
// common factor to each of them, by its distance from the middle of its set-up:
// the middle one of all values on each axis, which one slip does not carry away.
func (p *problem) correctCoords() {
	middle := make([]geom.Vec, len(p.setups))
	for k := range p.setups {
		var mine []geom.Vec
		for i := range p.coords {
			if p.coords[i].setup == k {
				mine = append(mine, p.coords[i].at)
			}
		}
		middle[k], _ = geom.Extent(mine)
	}
	for i := range p.coords {
		c := &p.coords[i]
		s := &p.setups[c.setup]
		far := c.along(c.at.Sub(middle[c.setup]))
		for a := range far {
			u := s.scaleU * far[a]
			c.std[a] = math.Sqrt(float64(c.std[a]*c.std[a]) + float64(u*u))
		}
		c.at = c.at.Scale(s.factor)
	}
}
