// Package compare makes every route worth showing out of what is allowed,
// plans and prices each, and ranks them. A route that is excluded is shown with
// the reason.
package compare

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/halt"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/sched"
	"fettle/internal/shop"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// Input is what Routes takes.
type Input struct {
	Body    *body.Body
	Shop    *shop.Shop
	Job     *job.State
	Measure measure.Result
	Inspect inspect.Result
	Decide  decide.Result
	Left    []body.PointID   // control points that the manufacturer lets stay as they are
	Vehicle *vehicle.Vehicle // of Body; nil: no meshes
	Known   *sched.Known     // schedules that were made before; nil: none was
	Work    *halt.Work       // what this is part of; nil: it is not stopped
}

// Result is every route, best first, then those excluded.
type Result struct {
	Routes  []Route   `json:"routes"`
	Best    string    `json:"best"`              // identity of the best feasible route; empty when none
	Spread  *Spread   `json:"spread,omitempty"`  // nil: neither spreads nor risks were given
	Uncured []Uncured `json:"uncured,omitempty"` // what no route can treat
	Worth   []Worth   `json:"worthDeciding"`     // cheaper routes that only wait for something, the easiest to settle first
}

// Route is one complete way from the damaged to the finished vehicle.
type Route struct {
	ID        string      `json:"id"`   // stable: "weld", "section-S1", "section-S1+S2", "new-casting", "total-loss", "nothing"
	Name      string      `json:"name"` // in words
	Items     []plan.Item `json:"items"`
	Feasible  bool        `json:"feasible"`           // every finding has an allowed treatment on this route
	Open      int         `json:"openQuestions"`      // len(Ask) + len(Measure)
	Ask       []string    `json:"ask,omitempty"`      // findings and points only the manufacturer can settle
	Measure   []string    `json:"measure,omitempty"`  // findings, points and areas that have to be measured or inspected first
	Excluded  string      `json:"excluded,omitempty"` // why it cannot be taken
	Plan      plan.Plan   `json:"plan"`
	Bill      cost.Bill   `json:"bill"`
	Rank      int         `json:"rank"`
	Dominated string      `json:"dominatedBy,omitempty"` // a route that is no worse in money, days and questions
	Because   string      `json:"because"`               // one sentence: why it stands where it stands
	Changes   []string    `json:"changes,omitempty"`     // what is treated differently from the route before it

	avoids []string // risks for whose sake it is kept beside one that is no worse
}

// OpenFor is everything the route waits for.
func (r Route) OpenFor() []string { return append(slices.Clone(r.Ask), r.Measure...) }

// Worth is a route that would be better than the best one if what it waits for
// turned out well.
type Worth struct {
	Route  string     `json:"route"`
	Saves  unit.Minor `json:"savesMinor"`
	Days   int        `json:"savesDays"` // working days; negative when it takes longer
	Needs  []string   `json:"needs"`     // what has to be settled, one sentence each
	Inside bool       `json:"inside"`    // the shop can settle all of it itself
}
