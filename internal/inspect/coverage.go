package inspect

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/job"
)

// Notes about which areas there are.
const (
	noZoneArea = "inspect.zone-without-area"
	noSuchArea = "inspect.no-such-area"
)

// AboutAreas says that a note is about which areas there are, not about what was seen.
func AboutAreas(n diag.Note) bool {
	return slices.Contains([]string{noZoneArea, noSuchArea, noAccess}, n.Code)
}

// cover says for every inspection area what has been looked at.
func (r *run) cover() {
	all := r.areas()
	for _, a := range all {
		r.res.Coverage = append(r.res.Coverage, r.coverage(a))
	}
	r.unknownAreas(all)
	for _, c := range r.in.Body.Castings {
		r.zonesWithoutArea(c, all)
	}
}

func (r *run) coverage(a area) Coverage {
	c := Coverage{Area: a.id, Name: a.name, Casting: a.casting, Zone: a.zone, Of: a.of, SizeMM: a.sizeMM, Needs: a.method, Because: a.because, FindsMM: a.finds}
	if c.Zones, c.ImpactMM = a.zones, a.reachMM; a.zones == nil && a.zone != "" {
		c.Zones = []body.ZoneID{a.zone}
	}
	c.Keep, c.Trained = r.keeps(a)
	e, own := r.entryFor(a)
	c.State, c.By, c.On, c.Look = e.State, e.By, e.On, e.Look
	c.Part, c.Own = a.within, own
	r.settle(&c, a)
	ids := r.inZone(a.casting, a.zone)
	if c.Covered {
		c.Text = coveredText(c, ids)
		return c
	}
	c.Text = fmt.Sprintf("%s: %s; nothing is said of it", a.name, c.why())
	said := diag.Say("inspect.not-covered", "{place}: {why}", placeText(a), c.why())
	n := diag.Note{Severity: diag.Caution, Where: a.id, Source: a.cite}
	n.Hint = "inspect the area with good light"
	if a.method == body.Penetrant {
		n.Hint = "penetrant inspection of the area"
	}
	if c.State == job.StateNotReachable {
		n.Hint = "make it accessible, then inspect it (" + string(a.method) + ")"
	}
	if len(ids) > 0 {
		n.Severity = diag.Blocking
		said = diag.Say("inspect.not-covered", "{place}: {why}; its zone carries {findings}", placeText(a), c.why(), names(ids))
		if a.zone == "" {
			said = diag.Say("inspect.not-covered", "{place}: {why}; where it lies is not known, and the casting carries {on-casting}", placeText(a), c.why(), names(ids))
		}
	}
	if !r.res.toldBy(c) {
		r.note(said.Note(n))
	}
	return c
}

func placeText(a area) string {
	if a.zone == "" {
		return a.name
	}
	return fmt.Sprintf("%s (zone %s)", a.name, a.zone)
}

// settle says whether what was entered covers the area: with the method asked
// for or a surer one, in an inspection that counts.
func (r *run) settle(c *Coverage, a area) {
	if c.State != job.StateSeen && c.State != job.StatePenetrant {
		return
	}
	p := r.placeNamed(a.casting)
	if p == nil {
		c.Fails = "the body has no casting " + string(a.casting)
		return
	}
	method := body.Visual
	if c.State == job.StatePenetrant {
		method = body.Penetrant
	}
	j, why := r.counts(c.Look, p, method)
	fallen := r.in.Job.Falls(job.Act{By: c.By, On: c.On, After: []job.Mark{{On: j.On, What: "inspection " + c.Look + " was made"}}}, r.in.Shop, r.in.acts())
	switch {
	case c.State == job.StateSeen && a.method != body.Visual:
		c.Fails = "looked at by eye only, " + string(a.method) + " inspection is asked for"
	case why != "":
		c.Fails = why
	case fallen != "":
		c.Fails = "the entry does not count: " + fallen
	default:
		c.Covered = true
		if c.FindsMM == 0 {
			c.FindsMM = j.FindsMM
		}
	}
}

// entryFor is the last entry for an area, or for the area it lies in; not-yet
// when there is none or the word is not known.
func (r *run) entryFor(a area) (e job.AreaSeen, own bool) {
	if e, own = r.lastEntry(a.id); own {
		return e, true
	}
	if e, ok := r.lastEntry(a.within); ok && a.within != "" {
		return e, false
	}
	return job.AreaSeen{Area: a.id, State: job.StateNotYet}, false
}

func (r *run) lastEntry(id string) (job.AreaSeen, bool) {
	var out job.AreaSeen
	found := false
	for _, s := range r.in.Job.Areas {
		if s.Area != id {
			continue
		}
		out, found = s, true
		if s.State != job.StateSeen && s.State != job.StatePenetrant && s.State != job.StateNotReachable {
			out.State = job.StateNotYet
		}
	}
	return out, found
}

// why says why an area is not covered.
func (c Coverage) why() string {
	switch {
	case c.Fails != "" && c.State == job.StatePenetrant:
		return "inspected with penetrant, but that does not count: " + c.Fails
	case c.Fails != "":
		return "looked at, but that does not count: " + c.Fails
	case c.State == job.StateNotReachable:
		return "could not be reached"
	}
	return "not inspected yet"
}

func coveredText(c Coverage, ids []job.FindingID) string {
	how := "by eye"
	if c.State == job.StatePenetrant {
		how = "with penetrant"
	}
	if c.By != "" {
		how += " by " + c.By
	}
	what := "no damage found"
	if len(ids) > 0 {
		what = "no damage found in zone " + string(c.Zone) + " beyond " + names(ids)
	}
	return fmt.Sprintf("%s: %s, inspected %s; a crack shorter than %s may have been missed", c.Name, what, how, mm(c.FindsMM))
}

// inZone is the findings that lie or may lie in a zone of a casting, by name;
// in any zone when it is not known which.
func (r *run) inZone(casting body.CastingID, z body.ZoneID) []job.FindingID {
	var ids []job.FindingID
	for i := range r.found {
		if f := &r.found[i]; f.in(z) || z == "" && f.Casting == casting {
			ids = append(ids, f.ID)
		}
	}
	slices.SortFunc(ids, byName)
	return ids
}

// byName orders findings as people count them.
func byName(a, b job.FindingID) int { return doc.Natural(string(a), string(b)) }

// zonesWithoutArea notes the zones of a casting that no inspection area is in.
func (r *run) zonesWithoutArea(c body.Casting, all []area) {
	var missing []job.FindingID
	for _, z := range c.Zones {
		if !slices.ContainsFunc(all, func(a area) bool { return a.zone == z.ID }) {
			missing = append(missing, job.FindingID(z.ID))
		}
	}
	if missing == nil {
		return
	}
	r.note(diag.Say(noZoneArea, "there is no inspection area in {zones}: nothing is said of what was not found there", zoneWords(missing)).Note(diag.Note{Severity: diag.Caution, Where: string(c.ID), Hint: "add 'areas' to the procedure, or inspection areas to the body"}))
}

func zoneWords(ids []job.FindingID) string {
	if len(ids) == 1 {
		return "zone " + names(ids)
	}
	return "zones " + names(ids)
}
