package job

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// FaultReading is one reading of the fault memories of the vehicle: which systems were read,
// and what stood in them. Codes are those of the device, which no table here interprets.
type FaultReading struct {
	ID      string          `doc:"id,required"`
	Stage   body.FaultStage `doc:"stage,required" help:"before or after the repair" oneof:"before|after"`
	Systems []string        `doc:"systems,required" help:"every system that was read, as the device names it, also where nothing stood in it"`
	Codes   []FaultCode     `doc:"codes" help:"what stood in them; none where nothing did"`
	Device  string          `doc:"device" help:"what it was read with, with its version"`
	By      string          `doc:"by,required" personal:"yes"`
	On      unit.Date       `doc:"on,required"`
	At      string          `doc:"at" help:"hh:mm when it was read"`
	Photos  []string        `doc:"evidence" help:"identities of evidence: the device's own report"`
}

// FaultCode is one entry of a fault memory.
type FaultCode struct {
	System     string    `doc:"system,required" help:"one of 'systems'"`
	Code       string    `doc:"code,required" help:"as the device tells it"`
	Text       string    `doc:"text" help:"what the device says to it"`
	Harmless   string    `doc:"harmless" personal:"yes" help:"why the vehicle may be handed over with it; without, it blocks a release when it stands in the last reading"`
	HarmlessBy string    `doc:"harmless_by" personal:"yes" help:"who says so: a person of the shop file who may inspect"`
	HarmlessOn unit.Date `doc:"harmless_on"`
}

// Words is the code with its system and text.
func (c FaultCode) Words() string {
	out := c.System + ": " + c.Code
	if c.Text != "" {
		out += " (" + c.Text + ")"
	}
	return out
}

// LastFaults is the latest reading of a stage; of one day, where the times do not tell, the one
// entered last. False: there is none.
func (s *State) LastFaults(stage body.FaultStage) (FaultReading, bool) {
	k := -1
	for i, x := range s.Faulty {
		if x.Stage == stage && (k < 0 || !x.before(s.Faulty[k])) {
			k = i
		}
	}
	if k < 0 {
		return FaultReading{}, false
	}
	return s.Faulty[k], true
}

// before says that a reading was made before another one, as far as is known.
func (x FaultReading) before(o FaultReading) bool {
	return x.On.Before(o.On) || x.On == o.On && earlier(x.At, o.At)
}

// StandingFaults is the codes of a reading that nobody who may says to be harmless, each with why that
// does not count; empty: nobody says so.
func (s *State) StandingFaults(x FaultReading, sh *shop.Shop, today unit.Date) []StandingFault {
	var out []StandingFault
	for _, c := range x.Codes {
		f := StandingFault{FaultCode: c}
		if strings.TrimSpace(c.Harmless) != "" {
			f.Why = s.Falls(Act{By: c.HarmlessBy, On: c.HarmlessOn, May: shop.MayInspect, After: []Mark{{On: x.On, What: "the fault memories were read"}}}, sh, today)
			if f.Why == "" {
				continue
			}
		}
		out = append(out, f)
	}
	return out
}

// StandingFault is a code that keeps the vehicle from being handed over.
type StandingFault struct {
	FaultCode
	Why string // that it is harmless does not count
}

// faultReadings checks the readings of fault memories.
func (c *checker) faultReadings() {
	unique(c, "fault_readings", "id", c.s.Faulty, func(x FaultReading) string { return x.ID })
	evidence := c.evidenceIDs()
	for i, x := range c.s.Faulty {
		at := fmt.Sprintf("fault_readings[%d]", i)
		c.notBefore(at+".on", x.On, "the day the job was opened", c.s.Opened)
		c.clock(at+".at", x.At)
		if len(x.Systems) == 0 {
			c.fault(at+".systems", "it does not say which systems were read", "name them all, also those in which nothing stood")
		}
		for k, s := range x.Systems {
			if slices.Contains(x.Systems[:k], s) {
				c.fault(fmt.Sprintf("%s.systems[%d]", at, k), fmt.Sprintf("%q is named twice", s), "name it once")
			}
		}
		for k, e := range x.Photos {
			c.ref(fmt.Sprintf("%s.evidence[%d]", at, k), "evidence", e, evidence)
		}
		twice(c, at+".evidence", x.Photos, nameOnce)
		for k, f := range x.Codes {
			c.faultCode(fmt.Sprintf("%s.codes[%d]", at, k), x, f)
			if slices.ContainsFunc(x.Codes[:k], func(o FaultCode) bool { return o.System == f.System && o.Code == f.Code }) {
				c.fault(fmt.Sprintf("%s.codes[%d].code", at, k), fmt.Sprintf("%s of %s is there twice", f.Code, f.System), "name it once")
			}
		}
	}
}

// faultCode: a code stands in a system that was read, and what is said of it is signed.
func (c *checker) faultCode(at string, x FaultReading, f FaultCode) {
	if !slices.Contains(x.Systems, f.System) {
		c.fault(at+".system", fmt.Sprintf("%q is not among the systems that were read", f.System), "write it under 'systems' too")
	}
	said := f.Harmless != "" || f.HarmlessBy != "" || !f.HarmlessOn.IsZero()
	if said && (strings.TrimSpace(f.Harmless) == "" || f.HarmlessBy == "" || f.HarmlessOn.IsZero()) {
		c.fault(at+".harmless", "why it is harmless, who says so and when belong together", "give 'harmless', 'harmless_by' and 'harmless_on', or none of them")
	}
	c.notBefore(at+".harmless_on", f.HarmlessOn, "the day it was read", x.On)
}
