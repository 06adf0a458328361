package report

import (
	"fmt"

	"fettle/internal/compare"
)

// spreadPart is how far the money of the routes may turn out off.
type spreadPart struct {
	Told    bool
	Head    string
	Routes  []spreadRow
	Drivers []driverRow
	Of      string
	Looks   []lookRow
	Left    []string

	DaysHead string
	Days     []dayRow
	DayMoves []dayMoveRow
}

// dayRow is the calendar days of a route.
type dayRow struct{ Name, ID, Planned, Mean, P10, P50, P90 string }

type dayMoveRow struct{ Name, Low, High string }

type spreadRow struct{ Name, ID, Mean, P10, P50, P90, Loss, Best string }

type driverRow struct{ Name, Low, High string }

type lookRow struct {
	Text string
	Word word
}

func buildSpread(in Input) spreadPart {
	s := in.Compare.Spread
	if s == nil {
		return spreadPart{}
	}
	cur := currencyOf(in)
	out := spreadPart{Told: true, Left: s.Left,
		Head: fmt.Sprintf("%d draws with seed %x, by the spreads of the shop and the risks of the job; %s, tax included.", s.Draws, s.Seed, cur)}
	names := map[string]string{}
	for _, r := range in.Compare.Routes {
		names[r.ID] = r.Name
	}
	for _, r := range s.Routes {
		out.Routes = append(out.Routes, spreadRow{names[r.Route], r.Route, r.Mean.Grouped(), r.P10.Grouped(), r.P50.Grouped(), r.P90.Grouped(),
			oftenText(r.Loss, r.LossStd), oftenText(r.Best, r.BestStd)})
	}
	if len(s.Routes) > 0 {
		out.Of = names[s.Routes[0].Route]
	}
	for _, d := range s.Drivers {
		out.Drivers = append(out.Drivers, driverRow{driverName(in, d), d.Low.Grouped(), d.High.Grouped()})
	}
	out.days(in, s, names)
	for _, l := range s.Looks {
		w := word{"not worth it", toneFlat}
		if l.Worth {
			w = word{"look first", toneGood}
		}
		out.Looks = append(out.Looks, lookRow{l.Text, w})
	}
	return out
}

// days adds how far the days may turn out off.
func (p *spreadPart) days(in Input, s *compare.Spread, names map[string]string) {
	planned := map[string]string{}
	for _, r := range in.Compare.Routes {
		planned[r.ID] = fmt.Sprint(r.Plan.Calendar)
	}
	for _, r := range s.Routes {
		if d := r.Days; d != nil {
			p.DaysHead = fmt.Sprintf("%d draws: deliveries and answers by their spreads, hours by those of the shop; every person, bay and piece of equipment keeps to the planned order, and nothing is planned anew.", d.Draws)
			p.Days = append(p.Days, dayRow{names[r.Route], r.Route, planned[r.Route], fixed(d.Mean, 1), fmt.Sprint(d.P10), fmt.Sprint(d.P50), fmt.Sprint(d.P90)})
		}
	}
	for _, d := range s.Days {
		p.DayMoves = append(p.DayMoves, dayMoveRow{driverName(in, compare.Driver{Name: d.Name}), fixed(d.Low, 1), fixed(d.High, 1)})
	}
}

// oftenText is a chance found by draws with twice its standard error.
func oftenText(p, std float64) string {
	switch {
	case p == 0:
		return "in no draw"
	case p == 1:
		return "in every draw"
	case p < 0.0005 || p >= 0.9995:
		return percent(p) + " of draws"
	}
	return fmt.Sprintf("%.1f %% ± %.1f", 100*p, 200*std)
}

// driverName is the text of the bill line or the risk.
func driverName(in Input, d compare.Driver) string {
	for _, r := range in.Job.Risks {
		if r.ID == d.Name {
			return r.ID + ": " + r.Text
		}
	}
	for _, r := range in.Compare.Routes {
		for _, l := range r.Bill.Lines {
			if l.ID == d.Name {
				return l.Text
			}
		}
	}
	return d.Name
}
