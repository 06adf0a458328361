package app

import (
	"fmt"
	"strings"

	"fettle/internal/explain"
	"fettle/internal/release"
	"fettle/internal/unit"
)

// Release is what is still missing before the vehicle may be handed back.
type Release struct {
	Job     string            `json:"job"`
	Route   string            `json:"route"` // the chosen one; empty: none
	Missing []release.Missing `json:"missing"`
	Handed  *HandedBack       `json:"handedBack,omitempty"` // the hand-back on record; what is missing is then what speaks against it
}

// Ready says that nothing is missing.
func (r Release) Ready() bool { return len(r.Missing) == 0 }

// Release says what is still missing.
func (a *App) Release(c *Opened, r Assessment) Release {
	g := gate(c, r)
	if h := a.handedBack(nil, c, unit.DateOf(r.Made)); h != nil {
		return Release{c.Job.ID, g.Route, h.Against, h}
	}
	return Release{Job: c.Job.ID, Route: g.Route, Missing: append([]release.Missing{}, g.Missing...)}
}

// gate is the gate run over an assessment.
func gate(c *Opened, r Assessment) release.Gate {
	return release.Check(release.Assessed{Input: c.of(r).Decide(r.Measure, r.Inspect), Decide: r.Decide, Compare: r.Compare, After: r.After, Notes: r.Notes})
}

// missingGroups are the headings of the list.
var missingGroups = map[release.Group]string{
	release.GroupBlocks: "What blocks", release.GroupRoute: "The route", release.GroupSafe: "Made safe", release.GroupDecided: "Decided and accepted",
	release.GroupReviewed: "Reviewed", release.GroupWork: "Done", release.GroupFigures: "Written down", release.GroupShown: "Shown", release.GroupHanded: "The hand-back",
}

// ReleaseText is the list for a terminal.
func (a *App) ReleaseText(r Release, col Column) string {
	var b strings.Builder
	if r.Ready() && r.Handed != nil {
		return col.Wrap(fmt.Sprintf("Job %s: %s; nothing was missing, and nothing was changed since.", r.Job, r.Handed.words()), "", "")
	}
	if r.Ready() {
		return fmt.Sprintf("Job %s, route %s: nothing is missing.\n", r.Job, r.Route)
	}
	if r.Handed != nil {
		b.WriteString(col.Wrap(fmt.Sprintf("Job %s: %s. That does not stand.", r.Job, r.Handed.words()), "", ""))
	}
	b.WriteString(col.Wrap(fmt.Sprintf("Job %s may not be released yet. Missing: %d.", r.Job, len(r.Missing)), "", ""))
	group := release.Group("")
	for _, m := range r.Missing {
		if m.Group != group {
			group = m.Group
			b.WriteString(missingGroups[group] + ":\n")
		}
		t := m.Text
		if m.Where != "" {
			t = m.Where + ": " + t
		}
		if hint := col.How.Hint(m.Hint, m.Remedy); hint != "" {
			t += "; " + hint
		}
		b.WriteString(col.Wrap(t+explain.Source(m.Cite), "- ", "  "))
	}
	return b.String()
}
