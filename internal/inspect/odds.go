package inspect

import (
	"fmt"
	"strings"

	"fettle/internal/body"
	"fettle/internal/rule"
	"fettle/internal/unit"
)

// Odds says how surely the decision length of a finding is within each limit
// that the procedure used for its casting sets on lengths in its zones; empty
// without any. It is no part of what Run finds out, which does not hang on the
// limits of a procedure.
func (r Result) Odds(b *body.Body, f Finding) string {
	if f.Decision == nil {
		return ""
	}
	var s []string
	for _, u := range r.Rules {
		for i := range b.Procedures {
			if p := &b.Procedures[i]; u.Casting == f.Casting && p.ID == u.Procedure && p.Revision == u.Revision {
				for _, limit := range lengthLimits(p, f) {
					s = append(s, fmt.Sprintf("%s %s", full(limit), unit.Percent(rule.Below(limit, f.Decision.MM, f.Decision.Std))))
				}
			}
		}
	}
	if len(s) == 0 {
		return ""
	}
	return "probability that it is no longer than a limit of the procedure in its zones: " + strings.Join(s, ", ")
}

// lengthLimits is the limits on lengths of the rows that speak of all zones or
// of those of the finding, ascending.
func lengthLimits(p *body.Procedure, f Finding) []float64 {
	var zones []string
	for _, z := range f.Zones {
		zones = append(zones, string(z.Zone))
	}
	return limitsIn(p, body.FactLength, func(row body.Row) bool {
		in, ok := row.When[body.FactZones]
		if !ok {
			return true
		}
		c, err := rule.ParseCond(body.FactZones, rule.Set, "", in)
		return err == nil && c.Eval(rule.SetValue(zones...), rule.LeastConfidence).State == rule.Met
	})
}

// tipsText is how each tip was found, as far as that counts, and how much
// farther on it may lie.
func (t *trace) tipsText() string {
	var s []string
	for k := range max(2, len(t.tips)) {
		word := body.TipVisual
		if k < len(t.tips) {
			word = t.tips[k]
		}
		how := "seen by eye only"
		switch word {
		case body.TipPenetrant:
			how = "found with penetrant"
		case body.TipStopHole:
			how = "ends in a stop hole"
		case body.TipFork:
			how = "the fork it branches off at"
		default:
			if a := t.at.allowance(); a > 0 {
				how += ", may lie " + mm(a) + " farther on"
			}
		}
		s = append(s, fmt.Sprintf("tip %d %s", k+1, how))
	}
	return strings.Join(s, "; ")
}
