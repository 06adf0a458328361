package app

import (
	"strconv"
	"strings"

	"fettle/internal/assess"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/format"
)

// OrderSheet is the order list of a route as a table. Its name says when the
// route is not released.
func (a *App) OrderSheet(c *Opened, r Assessment, route compare.Route) format.Sheet {
	cur := " [" + c.Shop.Currency + "]"
	s := format.Sheet{Name: "Order list", Columns: []format.Column{
		{Name: "what", Width: 34}, {Name: "identity", Width: 18}, {Name: "sort", Width: 10}, {Name: "how many", Number: true, Width: 10},
		{Name: "one holds", Width: 12}, {Name: "used", Width: 14}, {Name: "with waste", Width: 14},
		{Name: "price of one" + cur, Number: true, Money: true, Width: 16}, {Name: "together" + cur, Number: true, Money: true, Width: 16},
		{Name: "first needed on", Width: 14}, {Name: "on record", Width: 34}, {Name: "taken by steps", Width: 22}, {Name: "why", Width: 60}}}
	if r.Blocked || !route.Feasible || route.Open > 0 {
		s.Name = "Order list, not released"
	}
	for _, o := range cost.Supplied(cost.Order(route.Plan, route.Bill), c.Job) {
		each, sum, day := "", "", ""
		if o.Priced {
			each, sum = o.Each.Decimal(), o.Sum.Decimal()
		}
		if !o.NeededBy.IsZero() {
			day = o.NeededBy.String()
		}
		s.Rows = append(s.Rows, []string{o.Name, o.ID, string(o.Kind), strconv.Itoa(o.Count), o.Holds, o.Used, o.WithLoss, each, sum, day, o.Supply(), strings.Join(o.Steps, " "), o.Because})
	}
	return s
}

// Picked is the route a job is about: the one named; else the last choice of a
// person when it still exists, else the best.
func (a *App) Picked(c *Opened, r Assessment, id string) (compare.Route, error) {
	return assess.Picked(c.Job, r.Compare, id)
}
