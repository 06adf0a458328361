package job

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/shop"
)

// CheckAgainst says what of the job does not fit its body and its shop, and
// what of it deserves caution.
func CheckAgainst(s *State, b *body.Body, sh *shop.Shop) (diag.Problems, []diag.Note) {
	c := &checker{s: s}
	c.against(b, sh)
	parts, castings := names(b.Parts, func(p body.Part) string { return string(p.ID) }), names(withMesh(b), func(k body.Casting) string { return string(k.Part) })
	for i, f := range s.Findings {
		at := fmt.Sprintf("findings[%d]", i)
		c.findingAgainst(at, f, b, parts, castings)
		c.handAgainst(at, f, b, sh)
	}
	areas, zones := knownOf(b.AreaIDs()), []string{}
	for _, k := range b.Castings {
		for _, z := range k.Zones {
			zones = append(zones, string(z.ID))
		}
	}
	c.answersAgainst(b)
	for i, a := range s.Areas {
		c.ref(fmt.Sprintf("areas[%d].area", i), "inspection area", a.Area, areas)
	}
	inZones := knownOf(zones)
	for i, e := range s.Earlier {
		c.ref(fmt.Sprintf("earlier_repairs[%d].zone", i), "zone", string(e.Zone), inZones)
	}
	c.accessAgainst(b, parts, inZones)
	c.castingsAgainst(b)
	c.checksAgainst(b)
	c.readingsAgainst(b)
	c.pointsAgainst(b)
	c.repairAgainst(b, sh)
	c.suppliedAgainst(b, sh)
	c.problems.Sort()
	notes := append(calibrationNotes(s.Setups), warmthNotes(s.Setups, b.Thermal)...)
	return c.problems, append(notes, People(s, sh)...)
}

// accessAgainst: what was found to be reached, and what is off for it, is in the body.
func (c *checker) accessAgainst(b *body.Body, parts, zones known) {
	var all []string
	for to := range zones.in {
		all = append(all, to)
	}
	for _, l := range b.Lines {
		all = append(all, string(l.ID))
	}
	slices.Sort(all)
	places := knownOf(all)
	for i, a := range c.s.Access {
		for k, to := range a.To {
			c.ref(fmt.Sprintf("access[%d].to[%d]", i, k), "zone or section line", to, places)
		}
		for k, p := range a.Off {
			c.ref(fmt.Sprintf("access[%d].off[%d]", i, k), "part", string(p), parts)
		}
	}
}

// against compares the vehicle with what the body is for.
func (c *checker) against(b *body.Body, sh *shop.Shop) {
	v := c.s.Vehicle
	if v.LoadState != b.LoadState {
		c.fault("vehicle.load_state", fmt.Sprintf("the vehicle was measured %s, but the body's points are for the %s state", v.LoadState, b.LoadState),
			"the weight of the drive line bends the structure: measure in the state the data are for, or get data for this one")
	}
	if v.Value.Currency != b.Currency {
		c.fault("vehicle.value", fmt.Sprintf("the value is in %s, the body's prices in %s", v.Value.Currency, b.Currency), "give all amounts in the currency of the body")
	}
	if sh.Currency != b.Currency {
		c.fault("shop", fmt.Sprintf("the shop works in %s, the body's prices are in %s", sh.Currency, b.Currency), "take the shop file that has the rates in the currency of the body")
	}
	if fault, hint := VINFault(v.VIN); fault != "" {
		c.fault("vehicle.vin", fault, hint)
		return
	}
	if !strings.HasPrefix(v.VIN, b.VIN.StartsWith) {
		c.fault("vehicle.vin", fmt.Sprintf("the body is for vehicles whose number begins with %q", b.VIN.StartsWith), "is this the right body?")
	}
	if want := CheckDigit(v.VIN); b.VIN.CheckDigit && v.VIN[8] != want {
		c.fault("vehicle.vin", fmt.Sprintf("the check digit, character 9, is %c; the other characters give %c", v.VIN[8], want), "a character is misread or two are swapped")
	}
}

func (c *checker) findingAgainst(at string, f Finding, b *body.Body, parts, castings known) {
	c.ref(at+".part", "part", string(f.Part), parts)
	if p, ok := b.Part(f.Part); ok && p.Kind == body.PartPiece {
		c.fault(at+".part", fmt.Sprintf("%q is a service piece, which is bought and on no vehicle yet", p.ID), "name the casting: a piece that was joined is a part of it")
	}
	if f.Kind == body.Crack && castings.in[string(f.Part)] && onePlace(f.Trace) {
		c.fault(at+".trace_mm", "a crack on a casting needs a trace of at least two different points", "its length and zone are judged along the trace")
	}
}

// answersAgainst holds the conditions of the answers against the body.
func (c *checker) answersAgainst(b *body.Body) {
	of := map[body.PartID]body.CastingID{}
	for _, k := range b.Castings {
		of[k.Part] = k.ID
	}
	casting := map[FindingID]body.CastingID{}
	for _, f := range c.s.Findings {
		casting[f.ID] = of[f.Part]
	}
	for i, a := range c.s.Answers {
		for fact, p := range body.CheckWhen(b, casting[a.Finding], a.When) {
			c.fault(fmt.Sprintf("answers[%d].when.%s", i, fact), p.Msg, p.Hint)
		}
	}
}

func (c *checker) castingsAgainst(b *body.Body) {
	castings := names(b.Castings, func(k body.Casting) string { return string(k.ID) })
	for i, k := range c.s.Castings {
		c.ref(fmt.Sprintf("castings[%d].casting", i), "casting", string(k.Casting), castings)
	}
}

func (c *checker) checksAgainst(b *body.Body) {
	procedures := names(b.Procedures, func(p body.Procedure) string { return string(p.ID) })
	for i, k := range c.s.Checks {
		c.ref(fmt.Sprintf("procedure_checks[%d].procedure", i), "procedure", string(k.Procedure), procedures)
	}
}

func (c *checker) readingsAgainst(b *body.Body) {
	points := names(b.Points, func(p body.Point) string { return string(p.ID) })
	for i, r := range c.s.Readings {
		c.ref(fmt.Sprintf("readings[%d].from", i), "point", string(r.From), points)
		c.ref(fmt.Sprintf("readings[%d].to", i), "point", string(r.To), points)
	}
}

// calibrationNotes has a caution for every set-up whose device was not, or is
// not known to have been, within its calibration.
func calibrationNotes(setups []Setup) []diag.Note {
	var out []diag.Note
	for _, x := range setups {
		n := diag.Note{Severity: diag.Caution, Where: x.ID,
			Hint: "have the device checked, and measure again if it is off"}
		switch {
		case x.Calibrated.IsZero():
			n = diag.Say("job.calibration", "It is not known whether {device} was calibrated when set-up {setup} was measured.", x.Device, x.ID).Note(n)
		case x.Calibrated.Before(x.On):
			n = diag.Say("job.calibration", "The calibration of {device} ended on {ended}; set-up {setup} was measured on {on}.", x.Device, x.Calibrated, x.ID, x.On).Note(n)
		default:
			continue
		}
		out = append(out, n)
	}
	return out
}

// TipNotes has a caution for every finding whose tips are said to be found with
// penetrant, in no inspection that is named: they count as seen by eye only.
func TipNotes(findings []Finding) []diag.Note {
	var out []diag.Note
	for _, f := range findings {
		if f.Look == "" && slices.Contains(f.Tips, body.TipPenetrant) {
			out = append(out, diag.Say("job.tip-inspection", "The tips of {finding} are said to be found with penetrant, but it does not say in which inspection: they count as seen by eye only.", f.ID).Note(diag.Note{Severity: diag.Caution, Where: string(f.ID), Hint: "name it in 'inspection', with its conditions under 'inspections'"}))
		}
	}
	return out
}

// warmthNotes has a caution for every set-up in which the body was colder or
// warmer than its data allow for.
func warmthNotes(setups []Setup, th *body.Thermal) []diag.Note {
	var out []diag.Note
	for _, x := range setups {
		if th == nil || !x.Temp.Known || (x.Temp.Value >= th.Low && x.Temp.Value <= th.High) {
			continue
		}
		out = append(out, diag.Say("job.temperature-range", "The body was at {temperature} when set-up {setup} was measured; its data are for {low} to {high}.", x.Temp.Value, x.ID, th.Low, th.High).Note(diag.Note{Severity: diag.Caution, Where: x.ID, Hint: "let the vehicle come to the temperature of the workshop and measure again"}))
	}
	return out
}

// onePlace says that a trace has no two different points.
func onePlace(trace []geom.Vec) bool {
	return !slices.ContainsFunc(trace, func(p geom.Vec) bool { return p != trace[0] })
}
