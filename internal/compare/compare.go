// Package compare makes every route worth showing out of what is allowed,
// plans and prices each, and ranks them. A route that is excluded is shown with
// the reason.
package compare

import (
	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/plan"
	"fettle/internal/shop"
)

// Input is what Routes takes.
type Input struct {
	Body     *body.Body
	Shop     *shop.Shop
	Job      *job.State
	Inspect  inspect.Result
	Decide   decide.Result
	Surfaces map[body.CastingID]*mesh.Surface
}

// Result is every route, best first, then those excluded.
type Result struct {
	Routes []Route `json:"routes"`
	Best   string  `json:"best"` // identity of the best feasible route; empty when none
}

// Route is one complete way from the damaged to the finished vehicle.
type Route struct {
	ID        string      `json:"id"`   // stable: "weld", "section-S1", "section-S1+S2", "new-casting", "total-loss", "nothing"
	Name      string      `json:"name"` // in words
	Items     []plan.Item `json:"items"`
	Feasible  bool        `json:"feasible"` // every finding has an allowed treatment on this route
	Open      int         `json:"openQuestions"`
	OpenFor   []string    `json:"openFor,omitempty"`  // findings whose treatment waits for an answer or a better measurement
	Excluded  string      `json:"excluded,omitempty"` // why it cannot be taken
	Plan      plan.Plan   `json:"plan"`
	Bill      cost.Bill   `json:"bill"`
	Rank      int         `json:"rank"`
	Dominated string      `json:"dominatedBy,omitempty"` // a route that is no worse in money, days and questions
	Because   string      `json:"because"`               // one sentence: why it stands where it stands
	Changes   []string    `json:"changes,omitempty"`     // what is treated differently from the route before it
}
