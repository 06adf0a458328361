package cost

import (
	"slices"
	"strings"

	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Way is a route with its plan and bill.
type Way struct {
	Route string
	Name  string
	Plan  plan.Plan
	Bill  Bill
	Bar   string // why it cannot be taken; empty: it can
}

// Supplement is how a bill differs from the one that was agreed last.
type Supplement struct {
	Number   int             `json:"number"`  // of this supplement
	Against  int             `json:"against"` // number of the agreed bill
	Route    string          `json:"route"`
	Before   string          `json:"agreedRoute"`
	NoBill   string          `json:"noBill,omitempty"` // why there is no bill to be held against it: no figure below is one
	Possible []Possible      `json:"possible,omitempty"`
	Agreed   unit.Minor      `json:"agreedMinor"`
	Now      unit.Minor      `json:"nowMinor"`
	Lines    []Difference    `json:"lines"`                      // only those that differ
	Away     []Moved         `json:"away,omitempty"`             // steps and parts that the agreed plan had
	New      []Moved         `json:"new,omitempty"`              // and those that it had not
	Findings []job.FindingID `json:"findings,omitempty"`         // that the agreed bill was not made for: of a later day, or not in its list
	Unsure   []job.FindingID `json:"findingsOfTheDay,omitempty"` // of its own day, where it does not say what it was made for
	Days     int             `json:"days"`                       // calendar days the finish moves
	Undated  bool            `json:"undated,omitempty"`          // the plan has no finish, so that nobody knows the days
	Changed  []string        `json:"changed,omitempty"`          // value, salvage, rules and rates, as they were agreed and as they are
	Was      Judged          `json:"lossAsAgreed"`               // the agreed bill by what was agreed
	Would    Judged          `json:"lossAgreedToday"`            // the agreed bill by today's value and rules
	Is       Judged          `json:"lossNow"`                    // this bill by today's
	Because  string          `json:"because"`
}

// Judged is what the total-loss rules say of a bill.
type Judged struct {
	Known  bool   `json:"known"` // by a rule that applies
	IsLoss bool   `json:"isTotalLoss"`
	Rules  []Loss `json:"rules"`
}

// judgedBy sums up what rules say: the one that applies decides.
func judgedBy(rules []Loss) Judged {
	out := Judged{Rules: rules}
	for _, l := range rules {
		out.Known = out.Known || l.Applies
		out.IsLoss = out.IsLoss || l.Applies && l.IsLoss
	}
	return out
}

// BecameLoss says that by the rules that apply it is a total loss, and that nobody knows it
// to have been one when the bill was agreed: an agreement to repair does not cover that.
func (s Supplement) BecameLoss() bool { return s.Is.IsLoss && !(s.Was.Known && s.Was.IsLoss) }

// Possible is a route that can be taken now, with its bill.
type Possible struct {
	Route string     `json:"route"`
	Name  string     `json:"name"`
	Total unit.Minor `json:"totalMinor"`
}

// Difference is one line of a supplement. Its difference is what falls away, what is new,
// and of what stays what its price makes and what its amount makes.
type Difference struct {
	ID      string     `json:"id"`
	Text    string     `json:"text"`
	Was     unit.Minor `json:"wasMinor"`
	Is      unit.Minor `json:"isMinor"`
	Away    unit.Minor `json:"awayMinor"` // zero or less
	New     unit.Minor `json:"newMinor"`
	ByPrice unit.Minor `json:"byPriceMinor"`
	Rest    unit.Minor `json:"byAmountMinor"`
	Why     string     `json:"why,omitempty"`
}

// By is what the line adds.
func (d Difference) By() unit.Minor { return d.Is - d.Was }

// Held is what a supplement is made from: the route that is taken, the one that was agreed
// as it is now (nil: there is none of its name), and the others that have a plan.
type Held struct {
	Now    Way
	Agreed *Way
	Others []Way
}

// SupplementOf holds the bill of a route against the last agreed one, and judges each by the
// total-loss rules: the agreed one by what was agreed, both by what holds today. False says
// that nothing was agreed, or that nothing is different.
func SupplementOf(h Held, s *shop.Shop, j *job.State) (Supplement, bool) {
	n := len(j.Agreed)
	if n == 0 {
		return Supplement{}, false
	}
	last := j.Agreed[n-1]
	out := Supplement{Number: n, Against: last.Number, Route: h.Now.Route, Before: last.Route, Agreed: last.Total.Minor}
	out.Findings, out.Unsure = foundSince(last, j.Findings)
	out.Was = asAgreed(last, s, j)
	today, _ := LossOf(last.Net.Minor, last.Total.Minor, s, j)
	out.Would = judgedBy(today)
	out.Changed = changes(last, s, j)
	switch {
	case h.Now.Bar != "":
		out.NoBill = h.Now.Bar
	case !h.Now.Bill.Complete:
		out.NoBill = "a price of it is not known, or a date that a price depends on"
	default:
		out.hold(last, h.Now)
	}
	if out.NoBill != "" || h.Now.Route != last.Route {
		out.Possible = possible(h)
	}
	out.Because = out.words(last, h, s.Currency) + unsureWords(out.Unsure)
	differs := len(out.Unsure) > 0 || unlisted(last, j.Findings, out.Findings) || len(out.Lines) > 0 || out.Days != 0 || out.NoBill != "" || h.Now.Route != last.Route
	return out, differs || len(out.Changed) > 0 || out.BecameLoss()
}

// foundSince is the findings that an agreed bill was not made for, and those of its own day
// of which nobody can tell: a day has no hour. The list of the bill decides, or else a step
// of it that is for the finding. What is of a later day is not what was agreed, whatever the
// list says of its name.
func foundSince(last job.Agreed, all []job.Finding) (since, unsure []job.FindingID) {
	for _, f := range all {
		listed := slices.Contains(last.Findings, f.ID)
		worked := slices.ContainsFunc(last.Work, func(w job.AgreedStep) bool { return slices.Contains(w.Findings, f.ID) })
		switch {
		case last.On.Before(f.On), len(last.Findings) > 0 && !listed:
			since = append(since, f.ID)
		case len(last.Findings) == 0 && !worked && f.On == last.On:
			unsure = append(unsure, f.ID)
		}
	}
	return since, unsure
}

// unlisted says that a finding is new only by the list of a bill: its day does not show it.
func unlisted(last job.Agreed, all []job.Finding, since []job.FindingID) bool {
	return slices.ContainsFunc(all, func(f job.Finding) bool { return !last.On.Before(f.On) && slices.Contains(since, f.ID) })
}

// hold holds a bill that there is against the agreed one.
func (s *Supplement) hold(last job.Agreed, now Way) {
	s.Now, s.Is = now.Bill.Total, judgedBy(now.Bill.Loss)
	s.Undated = now.Plan.Finish.IsZero() || last.Finish.IsZero()
	if !s.Undated {
		s.Days = int(now.Plan.Finish.Time().Sub(last.Finish.Time()).Hours() / 24)
	}
	was := map[string]job.AgreedLine{}
	for _, l := range last.Lines {
		was[l.ID] = l
	}
	work := stepsApart(last.Work, now.Plan)
	for _, l := range now.Bill.Lines {
		a, there := was[l.ID]
		if a.Sum.Minor == l.Sum && (a.Price.Minor == l.Price || a.Price == (unit.Money{})) {
			continue
		}
		s.Lines = append(s.Lines, apart(a, there, l, work))
	}
	for _, l := range last.Lines {
		if !slices.ContainsFunc(now.Bill.Lines, func(x Line) bool { return x.ID == l.ID }) && l.Sum.Minor != 0 {
			s.Lines = append(s.Lines, Difference{ID: l.ID, Text: "no longer needed", Was: l.Sum.Minor, Away: -l.Sum.Minor})
		}
	}
	slices.SortFunc(s.Lines, func(a, b Difference) int { return strings.Compare(a.ID, b.ID) })
	s.Away, s.New = work.moved(last, now)
}

// asAgreed judges the agreed bill by the value and the rules that it was agreed with; rules
// that are not on record are taken to be those of today. Without the value nothing is known.
func asAgreed(last job.Agreed, s *shop.Shop, j *job.State) Judged {
	if last.Value == (unit.Money{}) {
		return Judged{}
	}
	then, by := *j, *s
	then.Vehicle.Value, then.Vehicle.Salvage = last.Value, last.Salvage
	if len(last.Rules) > 0 {
		by.TotalLoss = last.Rules
	}
	rules, _ := LossOf(last.Net.Minor, last.Total.Minor, &by, &then)
	return judgedBy(rules)
}

// possible is the routes that can be taken and have a bill, the cheapest first.
func possible(h Held) []Possible {
	var out []Possible
	for _, w := range h.Others {
		if w.Bar == "" && w.Bill.Complete && len(w.Plan.Steps) > 0 && w.Route != h.Now.Route {
			out = append(out, Possible{w.Route, w.Name, w.Bill.Total})
		}
	}
	slices.SortStableFunc(out, func(a, b Possible) int { return int(a.Total - b.Total) })
	return out
}
