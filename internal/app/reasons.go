package app

import (
	"fettle/internal/cost"
	"fettle/internal/explain"
)

// Explain is the reason tree of anything that is printed: by the name it is
// printed with, or a figure. Steps, parts, materials and price lines are those
// of the route that the report shows unless the name is written ROUTE/NAME. A
// name that means several things gives all of them; with its kind before it
// ("zone RAIL-L") it means that kind alone.
func (a *App) Explain(c *Opened, r Assessment, what string) (explain.Reason, error) {
	return a.namesOf(c, r).Explain(what)
}

// namesOf is everything that can be asked for in an assessment.
func (a *App) namesOf(c *Opened, r Assessment) *explain.Names {
	var read []explain.Read
	for _, e := range r.Evidence {
		read = append(read, explain.Read{ID: e.ID, Bytes: e.Bytes, SHA256: e.SHA256})
	}
	var took []cost.Sample
	if len(c.Job.Actuals) > 0 {
		took, _ = a.tookBy(c, r)
	}
	picked := r.Compare.Best
	if route, err := a.Picked(c, r, ""); err == nil {
		picked = route.ID
	}
	return explain.Of(reportInput(nil, c, r), read, took, picked)
}
