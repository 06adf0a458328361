package inspect

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
)

// States of an inspection area.
const (
	seen         = "seen"
	penetrant    = "penetrant"
	notReachable = "not-reachable"
	notYet       = "not-yet"
)

// cover says for every inspection area of the body what has been looked at.
func (r *run) cover() {
	for _, a := range r.in.Body.Inspect {
		r.res.Coverage = append(r.res.Coverage, r.coverage(a))
	}
	for _, c := range r.in.Body.Castings {
		r.zonesWithoutArea(c)
	}
}

func (r *run) coverage(a body.Area) Coverage {
	state, by := r.stateOf(a.ID)
	c := Coverage{Area: a.ID, Name: a.Name, Casting: a.Casting, Zone: a.Zone, Needs: a.Method, State: state, FindsMM: float64(a.Finds)}
	c.Covered = state == penetrant || (state == seen && a.Method == "visual")
	ids := r.inZone(a.Zone)
	if c.Covered {
		c.Text = coveredText(c, ids, by)
		return c
	}
	c.Text = fmt.Sprintf("%s: %s; nothing is said of it", a.Name, why(state, a.Method))
	n := diag.Note{Code: "inspect.not-covered", Severity: diag.Caution, Where: a.ID,
		Text: fmt.Sprintf("%s (zone %s): %s", a.Name, a.Zone, why(state, a.Method)), Source: a.Cite}
	if a.Method == penetrant {
		n.Hint = "penetrant inspection of the area"
	} else {
		n.Hint = "inspect the area with good light"
	}
	if state == notReachable {
		n.Hint = "make it accessible, then inspect it (" + a.Method + ")"
	}
	if len(ids) > 0 {
		n.Severity = diag.Blocking
		n.Text += fmt.Sprintf("; its zone carries %s", names(ids))
	}
	r.note(n)
	return c
}

// stateOf is the last state entered for an area, not-yet when there is none or
// the word is not known, and who entered it.
func (r *run) stateOf(area string) (state, by string) {
	state = notYet
	for _, s := range r.in.Job.Areas {
		if s.Area != area {
			continue
		}
		state, by = notYet, s.By
		if s.State == seen || s.State == penetrant || s.State == notReachable {
			state = s.State
		}
	}
	return state, by
}

func why(state, method string) string {
	switch state {
	case seen:
		return "looked at by eye only, " + method + " inspection is asked for"
	case notReachable:
		return "could not be reached"
	}
	return "not inspected yet"
}

func coveredText(c Coverage, ids []job.FindingID, by string) string {
	how := "by eye"
	if c.State == penetrant {
		how = "with penetrant"
	}
	if by != "" {
		how += " by " + by
	}
	what := "no damage found"
	if len(ids) > 0 {
		what = "no damage found in zone " + string(c.Zone) + " beyond " + names(ids)
	}
	return fmt.Sprintf("%s: %s, inspected %s; a crack shorter than %s may have been missed", c.Name, what, how, mm(c.FindsMM))
}

// inZone is the findings that lie or may lie in a zone, by name.
func (r *run) inZone(z body.ZoneID) []job.FindingID {
	var ids []job.FindingID
	for i := range r.found {
		if r.found[i].in(z) {
			ids = append(ids, r.found[i].ID)
		}
	}
	slices.Sort(ids)
	return ids
}

// zonesWithoutArea notes the zones of a casting that no inspection area is in.
func (r *run) zonesWithoutArea(c body.Casting) {
	var missing []job.FindingID
	for _, z := range c.Zones {
		if !slices.ContainsFunc(r.in.Body.Inspect, func(a body.Area) bool { return a.Zone == z.ID }) {
			missing = append(missing, job.FindingID(z.ID))
		}
	}
	if missing == nil {
		return
	}
	r.note(diag.Note{Code: "inspect.zone-without-area", Severity: diag.Caution, Where: string(c.ID),
		Text: fmt.Sprintf("the body has no inspection area in %s: nothing is said of what was not found there", zoneWords(missing)),
		Hint: "add inspection areas to the body"})
}

func zoneWords(ids []job.FindingID) string {
	if len(ids) == 1 {
		return "zone " + names(ids)
	}
	return "zones " + names(ids)
}
