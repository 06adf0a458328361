package release

import (
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/job"
)

// conditions wants a penetrant record to have been made in an inspection that
// counts: on its own day, under the conditions that the procedure asks for
// (light, temperature, times), by somebody qualified where it asks for that.
// Without them the acceptance is undecided, whatever was indicated.
func (r *gate) conditions(p body.Procedure, id job.FindingID, x job.Record, cite string) {
	if why := r.notUnder(p, x); why != "" {
		r.missing(string(id), "undecided (record "+x.ID+"): "+why,
			"inspect again under the conditions asked for, or complete the record ('inspection' of the record, and that under 'inspections')", cite)
	}
}

// notUnder says why a penetrant record was not made under the conditions of the
// procedure; empty when it was.
func (r *gate) notUnder(p body.Procedure, x job.Record) string {
	if x.Look == "" {
		return "it does not say in which inspection: light, temperature and times are not on record"
	}
	for _, j := range r.in.Inspect.Inspections {
		if j.ID != x.Look || j.Casting != p.Casting {
			continue
		}
		switch {
		case j.Method != body.Penetrant:
			return "inspection " + j.ID + " was " + string(j.Method) + ", not penetrant"
		case j.On != x.On:
			return "inspection " + j.ID + " was on " + j.On.String() + ", the record is of " + x.On.String()
		case !j.Counts:
			return "inspection " + j.ID + " does not count: " + strings.Join(j.Why, "; ")
		}
		return r.readWith(j.ID)
	}
	return "inspection " + x.Look + " is not on record"
}

// readWith says why light and temperature of an inspection are not known to have been
// read with a device that was right; empty when they are.
func (r *gate) readWith(look string) string {
	for _, l := range r.in.Job.Looks {
		if l.ID == look {
			if why := job.Uncalibrated(l.Device, l.Calibrated, l.On); why != "" {
				return "light and temperature of inspection " + look + " do not count: " + why
			}
			return ""
		}
	}
	return "inspection " + look + " is not on record"
}

// withoutLevel judges a penetrant inspection that a row asks for and for which
// the procedure gives no level: only "nothing was indicated" needs none.
func (r *gate) withoutLevel(p body.Procedure, c Chosen, cite string) {
	for _, x := range r.shownOf(c, body.ShowPenetrant, "") {
		if key := "penetrant " + x.ID; !r.asked[key] {
			r.asked[key] = true
			r.conditions(p, x.Finding, x, cite)
			if !x.None {
				r.missing(string(x.Finding), "undecided (record "+x.ID+"): something was indicated, and the procedure gives no level for it after "+decide.OptionName(c.Kind, c.Line), "ask the manufacturer", cite)
			}
		}
	}
}
