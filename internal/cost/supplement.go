package cost

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Supplement is how a bill differs from the one that was agreed last.
type Supplement struct {
	Number   int             `json:"number"`  // of this supplement
	Against  int             `json:"against"` // number of the agreed bill
	Route    string          `json:"route"`
	Agreed   unit.Minor      `json:"agreedMinor"`
	Now      unit.Minor      `json:"nowMinor"`
	Lines    []Difference    `json:"lines"`              // only those that differ
	Findings []job.FindingID `json:"findings,omitempty"` // recorded after the day of the agreed bill
	Days     int             `json:"days"`               // calendar days the finish moves
	Was      bool            `json:"wasTotalLoss"`
	Is       bool            `json:"isTotalLoss"` // by the rule that applies
	Loss     []Loss          `json:"totalLoss"`
	Because  string          `json:"because"`
}

// Difference is one line of a supplement.
type Difference struct {
	ID   string     `json:"id"`
	Text string     `json:"text"`
	Was  unit.Minor `json:"wasMinor"`
	Is   unit.Minor `json:"isMinor"`
}

// By is what the line adds.
func (d Difference) By() unit.Minor { return d.Is - d.Was }

// SupplementOf holds a bill against the last agreed one and judges the total-loss
// rules anew. False says that nothing was agreed, or that nothing differs.
func SupplementOf(route string, b Bill, finish unit.Date, s *shop.Shop, j *job.State) (Supplement, bool) {
	n := len(j.Agreed)
	if n == 0 {
		return Supplement{}, false
	}
	last := j.Agreed[n-1]
	out := Supplement{Number: n, Against: last.Number, Route: route, Agreed: last.Total.Minor, Now: b.Total, Loss: b.Loss, Is: b.IsLoss}
	was := map[string]unit.Minor{}
	for _, l := range last.Lines {
		was[l.ID] = l.Sum.Minor
	}
	for _, l := range b.Lines {
		if was[l.ID] != l.Sum {
			out.Lines = append(out.Lines, Difference{l.ID, l.Text, was[l.ID], l.Sum})
		}
	}
	for _, l := range last.Lines {
		if !slices.ContainsFunc(b.Lines, func(x Line) bool { return x.ID == l.ID }) && l.Sum.Minor != 0 {
			out.Lines = append(out.Lines, Difference{l.ID, "no longer needed", l.Sum.Minor, 0})
		}
	}
	slices.SortFunc(out.Lines, func(a, b Difference) int { return strings.Compare(a.ID, b.ID) })
	for _, f := range j.Findings {
		if last.On.Before(f.On) {
			out.Findings = append(out.Findings, f.ID)
		}
	}
	if !finish.IsZero() && !last.Finish.IsZero() {
		out.Days = int(finish.Time().Sub(last.Finish.Time()).Hours() / 24)
	}
	before, _ := LossOf(last.Net.Minor, last.Total.Minor, s, j)
	for _, l := range before {
		out.Was = out.Was || l.Applies && l.IsLoss
	}
	out.Because = out.words(last, b)
	return out, len(out.Lines) > 0 || out.Days != 0
}

func (s Supplement) words(last job.Agreed, b Bill) string {
	t := fmt.Sprintf("supplement %d to bill %d of %s: %s %s instead of %s, a difference of %s; the finish moves by %d days", s.Number, last.Number, last.On,
		s.Now.Grouped(), b.Currency, s.Agreed.Grouped(), (s.Now - s.Agreed).Grouped(), s.Days)
	switch {
	case !slices.ContainsFunc(s.Loss, func(l Loss) bool { return l.Applies }):
		t += "; whether it is a total loss is not known: no rule that applies was worked out; law and insurer decide"
	case s.Is && !s.Was:
		t += "; by the rule that applies it has become a total loss: stop, law and insurer decide"
	case s.Is:
		t += "; a total loss by the rule that applies, as before; law and insurer decide"
	default:
		t += "; not a total loss by the rule that applies; law and insurer decide"
	}
	return t
}
