package cost

import (
	"cmp"
	"slices"

	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// First is the first estimate for whoever pays: what opening up to inspect costs, and sums over
// what may turn out beyond that. The chances and sums are those that somebody entered, for nothing
// else is one reckoned. What is known to be damaged is not in it.
type First struct {
	Opening   unit.Minor `json:"openingMinor"` // opened, inspected and closed again, tax included
	Complete  bool       `json:"complete"`     // no price of it is missing
	May       []MayBe    `json:"mayBe"`
	Mean      unit.Minor `json:"meanMinor"`          // on average for all of those
	Most      unit.Minor `json:"mostMinor"`          // when all of them turn out bad and as dear as was entered
	NoneLeast float64    `json:"noneLeast"`          // the chance that none turns out bad is no less, however they hang together
	NoneMost  float64    `json:"noneMost"`           // and no more
	Foreign   []string   `json:"foreign,omitempty"`  // risks in another currency than the shop reckons in: in no sum
	Silent    []string   `json:"noChance,omitempty"` // areas for which nobody gave a chance
	Before    []Before   `json:"before,omitempty"`   // what earlier jobs found in areas that are to be inspected
}

// MayBe is a risk that is open.
type MayBe struct {
	Risk   string     `json:"risk"`
	About  string     `json:"about,omitempty"`
	Text   string     `json:"text"`
	Looked bool       `json:"lookedFor"` // in an area that this opening brings into sight
	Chance unit.Frac  `json:"chance"`
	Low    unit.Minor `json:"lowMinor"`
	Likely unit.Minor `json:"likelyMinor"`
	High   unit.Minor `json:"highMinor"`
	Mean   unit.Minor `json:"meanMinor"` // chance times the mean of a triangle over low, likely and high
	Bars   bool       `json:"bars"`      // another way of repair is then taken, which is not in the sum
	By     string     `json:"by"`
	On     unit.Date  `json:"on"`
}

// Before is in how many earlier jobs of the same body an area was inspected, and in how many of
// those a crack or break lay, or may have lain, in a zone of it.
type Before struct {
	Area  string `json:"area"`
	Found int    `json:"found"`
	Of    int    `json:"of"`
}

// FirstOf is the first estimate of an opening with its bill.
func FirstOf(x plan.Exposed, bill Bill, s *shop.Shop, j *job.State) First {
	out := First{Opening: bill.Total, Complete: bill.Complete, NoneMost: 1}
	staged, told := map[string]bool{}, map[string]bool{}
	for _, g := range x.Stages {
		for _, a := range g.Areas {
			for _, id := range append(slices.Clone(a.WithIDs), a.Area) {
				staged[id] = true
			}
		}
	}
	sum := 0.0
	for _, k := range j.Risks {
		if !k.Open() {
			continue
		}
		if k.Low.Currency != s.Currency {
			out.Foreign = append(out.Foreign, k.ID)
			continue
		}
		told[k.About] = true
		num, den := exact(k.Chance)
		m := MayBe{k.ID, k.About, k.Text, staged[k.About], k.Chance, k.Low.Minor, k.Likely.Minor, k.High.Minor, (k.Low.Minor + k.Likely.Minor + k.High.Minor).Times(num, 3*den), k.Bars, k.By, k.On}
		out.May, out.Mean, out.Most = append(out.May, m), out.Mean+m.Mean, out.Most+m.High
		sum += float64(k.Chance)
		out.NoneMost = min(out.NoneMost, 1-float64(k.Chance))
	}
	out.NoneLeast = max(0, 1-sum)
	slices.SortStableFunc(out.May, func(a, b MayBe) int { return cmp.Compare(b.Mean, a.Mean) })
	for _, a := range x.Open() {
		if !told[a.Area] && !slices.ContainsFunc(a.WithIDs, func(id string) bool { return told[id] }) {
			out.Silent = append(out.Silent, a.Area)
		}
	}
	return out
}
