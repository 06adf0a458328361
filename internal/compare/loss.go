package compare

import (
	"fmt"
	"slices"

	"fettle/internal/cost"
	"fettle/internal/shop"
)

const lossID = "total-loss"

// totalLoss is the route on which nothing is repaired. Its bill has no line; it
// shows what the rules say of the cheapest repair.
func (f *finder) totalLoss(routes []Route) Route {
	v := f.in.Job.Vehicle
	r := Route{ID: lossID, Name: "Total loss", Bill: cost.Bill{Currency: f.in.Shop.Currency, Complete: true}}
	r.Feasible = slices.ContainsFunc(f.in.Shop.TotalLoss, func(l shop.LossRule) bool { return l.Applies })
	if !r.Feasible {
		r.Excluded = "no total-loss rule of the shop is marked as the one that applies"
	}
	r.Because = fmt.Sprintf("value %s less salvage %s: %s %s are at stake; law and insurer decide", v.Value.Minor.Grouped(), v.Salvage.Minor.Grouped(),
		(v.Value.Minor - v.Salvage.Minor).Grouped(), f.in.Shop.Currency)
	var cheapest *Route
	for i := range routes {
		if routes[i].Feasible && (cheapest == nil || before(routes[i], *cheapest)) {
			cheapest = &routes[i]
		}
	}
	if cheapest != nil {
		r.Bill.Loss, r.Bill.IsLoss = cheapest.Bill.Loss, cheapest.Bill.IsLoss
		r.Because += fmt.Sprintf("; the rules are shown for the repair %q", cheapest.Name)
	}
	return r
}
