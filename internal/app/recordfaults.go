package app

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/release"
)

// faultsRead is a reading of the fault memories, given as "airbag: none; radar: C1A67 not
// aligned": every system that was read, again for each of its codes.
func (t *taken) faultsRead(w release.Wanted, e Entry) (any, string, error) {
	x := job.FaultReading{ID: t.faultsID(), Stage: body.FaultStage(w.About), Device: e.Device, By: e.By, On: e.On, At: e.From}
	for _, pair := range strings.Split(e.Value, ";") {
		system, code, ok := strings.Cut(pair, ":")
		system, code = strings.TrimSpace(system), strings.TrimSpace(code)
		switch {
		case strings.TrimSpace(pair) == "":
			continue
		case !ok || system == "" || code == "":
			return nil, "value", fmt.Errorf("%q does not say what stood in which system; write 'system: code and text', or 'system: none', separated by semicolons", strings.TrimSpace(pair))
		}
		if !slices.Contains(x.Systems, system) {
			x.Systems = append(x.Systems, system)
		}
		if code == "none" {
			continue
		}
		code, text, _ := strings.Cut(code, " ")
		x.Codes = append(x.Codes, job.FaultCode{System: system, Code: code, Text: strings.TrimSpace(text)})
	}
	return x, "value", given(strings.Join(x.Systems, ""), "which systems were read")
}

// harmless is the last reading with a code of it said to be harmless.
func (t *taken) harmless(w release.Wanted, e Entry) (any, string, error) {
	k := slices.IndexFunc(t.c.Job.Faulty, func(x job.FaultReading) bool { return x.ID == w.About })
	if k < 0 || e.Value != "harmless" {
		return nil, "value", fmt.Errorf("%q is not 'harmless'; the reason goes under 'text'", e.Value)
	}
	if strings.TrimSpace(e.Text) == "" {
		return nil, "text", fmt.Errorf("it does not say why the vehicle may be handed over with it")
	}
	x := t.c.Job.Faulty[k]
	for i := range t.records { // of several codes of one reading each row goes on from the one before
		if c, ok := t.records[i].(job.Changed); ok && c.List == faultList && c.At == k {
			x = c.Item.(job.FaultReading)
		}
	}
	x.Codes = slices.Clone(x.Codes)
	for i := range x.Codes {
		if c := &x.Codes[i]; c.System+": "+c.Code == w.What {
			c.Harmless, c.HarmlessBy, c.HarmlessOn = e.Text, e.By, e.On
		}
	}
	for _, f := range t.c.Job.StandingFaults(x, t.c.Shop, e.On) {
		if f.System+": "+f.Code == w.What {
			return nil, "by", fmt.Errorf("that it is harmless does not count: %s", f.Why)
		}
	}
	return job.Changed{List: faultList, At: k, Item: x}, "by", nil
}

// faultList is the list of a job that holds readings of fault memories.
var faultList = job.ListOf(job.FaultReading{})

// faultsID is an identity that no reading of the job or the list has.
func (t *taken) faultsID() string {
	all := slices.Clone(t.c.Job.Faulty)
	for _, r := range t.records {
		if x, ok := r.(job.FaultReading); ok {
			all = append(all, x)
		}
	}
	return freeID("FM-", all, func(x job.FaultReading) string { return x.ID })
}
