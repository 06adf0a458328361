package job

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Figure is one figure that was written down at a step: heat input, preheat and
// interpass temperature, a voltage, a resistance, humidity, the temperature of a cure,
// a batch. The card of the step asks for it under the identity it has here, with its
// unit and its limits.
type Figure struct {
	Step       string      `doc:"step,required" help:"name of the step, as the plan has it"`
	Finding    FindingID   `doc:"finding" help:"for a step that several findings have"`
	Reading    string      `doc:"reading,required" help:"identity of the figure, as the card of the step has it, for example interpass"`
	Value      unit.Amount `doc:"value" help:"what was read, in the unit the card asks for, for example 80 C"`
	Std        unit.Amount `doc:"std" help:"standard uncertainty of the value, in the same unit; taken as exact when left out"`
	Text       string      `doc:"text" help:"for what is no number: a batch and its last day"`
	Device     string      `doc:"device" help:"what it was read with; for every number but a time"`
	Calibrated unit.Date   `doc:"calibrated_until" help:"last day of the device's calibration"`
	UseBefore  unit.Date   `doc:"use_before" help:"for a batch: last day it may be used"`
	By         string      `doc:"by,required" personal:"yes" help:"a person of the shop file"`
	On         unit.Date   `doc:"on,required"`
}

// AskedFigure is a figure that a step asks for.
type AskedFigure struct {
	Step    string
	Ref     string      // what the step is, in every plan; a figure may name it so where its name does not tell
	For     []FindingID // the findings of the step
	Alone   bool        // no other step has its name: a figure without a finding is its own
	Twin    bool        // another step has its name and a finding of it: only its Ref tells
	Reading body.Reading
	After   []Mark   // what it cannot be older than, beside the impact and the opening of the job
	Before  []Mark   // what it cannot be younger than
	Also    []Figure // the same figure as other records of the job have it
}

// about says that a figure is the one that is asked for.
func (a AskedFigure) about(f Figure) bool {
	mine := f.Finding == "" && a.Alone || slices.Contains(a.For, f.Finding)
	return f.Reading == a.Reading.ID && (mine && strings.EqualFold(f.Step, a.Step) || a.named(f))
}

// named says that a figure names its step by what it is in every plan.
func (a AskedFigure) named(f Figure) bool { return a.Ref != "" && f.Step == a.Ref }

// Called is how a figure names its step.
func (a AskedFigure) Called() string {
	if a.Twin && a.Ref != "" {
		return a.Ref
	}
	return a.Step
}

// FigureGap is a figure that is asked for and not shown to keep its limits.
type FigureGap struct {
	AskedFigure
	Why    string
	Breaks bool // what is on record does not keep the limits, which no other figure mends
}

// FigureGaps is every figure of those asked for that is not on record, is signed by
// nobody or in another time, was taken with a device out of calibration, or does not
// keep its limits, in the order they were asked for. Of several on record for one
// figure every one has to keep the limits, also one that does not stand: what speaks
// against a repair counts in any case.
func (s *State) FigureGaps(asked []AskedFigure, sh *shop.Shop, today unit.Date) []FigureGap {
	var out []FigureGap
	for _, a := range asked {
		if why, breaks := s.figureGap(a, sh, today); why != "" {
			out = append(out, FigureGap{a, why, breaks})
		}
	}
	return out
}

func (s *State) figureGap(a AskedFigure, sh *shop.Shop, today unit.Date) (why string, breaks bool) {
	fallen, stands := "", false
	for _, f := range slices.Concat(s.figuresOf(a), a.Also) {
		if why := f.misses(a.Reading); why != "" {
			return why, true
		}
		if why := s.figureFalls(a, f, sh, today); why != "" {
			fallen = why
		} else {
			stands = true
		}
	}
	switch {
	case stands:
		return "", false
	case fallen != "":
		return "what is on record does not count: " + fallen, false
	}
	return "it is not on record", false
}

// figuresOf is the figures on record that are the one asked for.
func (s *State) figuresOf(a AskedFigure) []Figure {
	var out []Figure
	for _, f := range s.Figures {
		if a.about(f) {
			out = append(out, f)
		}
	}
	return out
}

// figureFalls says why a figure does not stand; empty when it does.
func (s *State) figureFalls(a AskedFigure, f Figure, sh *shop.Shop, today unit.Date) string {
	if a.Twin && f.Step != "" && !a.named(f) { // what other records of the step say names no step
		return fmt.Sprintf("several steps are called %q, and nobody can tell of which it is", f.Step)
	}
	if why := s.Falls(Act{By: f.By, On: f.On, After: a.After}, sh, today); why != "" {
		return why
	}
	for _, m := range a.Before {
		if !m.On.IsZero() && m.On.Before(f.On) {
			return fmt.Sprintf("it is dated %s, after %s on %s", f.On, m.What, m.On)
		}
	}
	if a.Reading.ByDevice() {
		return Uncalibrated(f.Device, f.Calibrated, f.On)
	}
	return ""
}

// Uncalibrated says why a device is not known to be right on a day; empty when it
// is.
func Uncalibrated(device string, until, on unit.Date) string {
	switch {
	case strings.TrimSpace(device) == "":
		return "it does not say with which device"
	case until.IsZero():
		return "it is not known whether " + device + " was in calibration"
	case until.Before(on):
		return fmt.Sprintf("the calibration of %s ended on %s, it is dated %s", device, until, on)
	}
	return ""
}

// misses says why a figure does not keep what its step asks for; empty when it does.
// With its expanded uncertainty (k = 2, JCGM 100:2008 6.2) all of it has to lie within
// the limits.
func (f Figure) misses(r body.Reading) string {
	if r.Unit == body.TextUnit {
		if strings.TrimSpace(f.Text) == "" {
			return "it says nothing in words"
		}
		return f.tooOld(r)
	}
	switch {
	case f.Value.Unit == "":
		return "no value is given"
	case f.Value.Unit != r.Unit:
		return fmt.Sprintf("%s is not in %s", f.Value, r.Unit)
	case f.Std != (unit.Amount{}) && (f.Std.Unit != r.Unit || !(f.Std.Value >= 0)):
		return fmt.Sprintf("its uncertainty, %s, is not in %s", f.Std, r.Unit)
	case !r.Keeps(f.Value.Value):
		return fmt.Sprintf("%s is on record, asked for is %s", f.Value, r.Limits())
	case f.Std.Value > 0 && !(r.Keeps(f.Value.Value-float64(2*f.Std.Value)) && r.Keeps(f.Value.Value+float64(2*f.Std.Value))):
		return fmt.Sprintf("%s with a standard uncertainty of %s is on record, too uncertain for %s", f.Value, f.Std, r.Limits())
	}
	return ""
}

// tooOld says why a batch may not have been used; empty when it may, and of what is
// no batch.
func (f Figure) tooOld(r body.Reading) string {
	switch {
	case !r.IsBatch():
	case f.UseBefore.IsZero():
		return "it does not say until when the batch may be used"
	case f.UseBefore.Before(f.On):
		return fmt.Sprintf("the batch was used on %s, after its last day of use, %s", f.On, f.UseBefore)
	}
	return ""
}

// figures: each has a value or words, and an uncertainty in the value's unit.
func (c *checker) figures() {
	findings := c.findingIDs()
	twice(c, "figures", c.s.Figures, giveOnce)
	for i, f := range c.s.Figures {
		at := fmt.Sprintf("figures[%d]", i)
		c.ref(at+".finding", "finding", string(f.Finding), findings)
		c.notBefore(at+".on", f.On, "the day the job was opened", c.s.Opened)
		none := f.Value == unit.Amount{}
		switch {
		case none && strings.TrimSpace(f.Text) == "":
			c.fault(at, "it says nothing", "give 'value', for example 80 C, or 'text' for what is no number")
		case f.Std != (unit.Amount{}) && (none || f.Std.Unit != f.Value.Unit):
			c.fault(at+".std", fmt.Sprintf("the uncertainty %s has no value in its unit", f.Std), "give both in one unit")
		case f.Std.Value < 0:
			c.fault(at+".std", fmt.Sprintf("%s is negative", f.Std), "leave it out for a value without uncertainty")
		}
	}
}
