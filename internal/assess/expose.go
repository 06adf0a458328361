package assess

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/diag"
	"fettle/internal/inspect"
	"fettle/internal/plan"
	"fettle/internal/sched"
	"fettle/internal/unit"
)

// Exposed is how the vehicle is opened up to inspect it, with its bill.
type Exposed struct {
	plan.Exposed
	Bill  cost.Bill  `json:"bill"`
	First unit.Minor `json:"untilSeenMinor"` // labour and sublet work until the last area is inspected, without tax
	Least bool       `json:"cheapest"`       // no cheaper way to all of the areas in the stages exists, by the prices known
	Sums  cost.First `json:"firstEstimate"`
	Stop  []string   `json:"stop,omitempty"` // why nobody may start: dangers of this vehicle that are not made safe
}

// Expose plans how the vehicle is opened up so that all that is not inspected yet can be, where
// some parts are off already.
func Expose(in Input, off []body.PartID, known *sched.Known) (Exposed, []diag.Note) {
	var out Exposed
	in.Work.Begin(Inspecting)
	found, all := inspect.Run(inspect.Input{Body: in.Body, Job: in.Job, Vehicle: in.Vehicle, Shop: in.Shop, Today: in.Today, Axes: in.Axes(), Work: in.Work})
	notes := slices.DeleteFunc(all, func(n diag.Note) bool { return !inspect.AboutAreas(n) })
	in.Work.Begin(Comparing)
	opened, more := plan.Expose(plan.Input{Body: in.Body, Shop: in.Shop, Job: in.Job, Vehicle: in.Vehicle, Inspect: found, Known: known, Work: in.Work}, off)
	out.Exposed, notes = opened, append(notes, more...)
	out.Bill, more = cost.Price(opened.Plan, in.Body, in.Shop, in.Job)
	notes = append(notes, more...)
	out.First, out.Sums = untilSeen(in, opened), cost.FirstOf(opened, out.Bill, in.Shop, in.Job)
	out.Least = opened.Plan.OpeningProven && out.Bill.Complete && len(Stopping(notes)) == 0
	for _, h := range in.Job.Hazards {
		if why := in.Job.Unsafe(h, in.Body, in.Shop, in.Today); why != "" {
			out.Stop = append(out.Stop, strings.TrimRight(h.Text, ". ")+": "+why)
		}
	}
	return out, Once(notes)
}

// untilSeen prices the work up to the last inspection.
func untilSeen(in Input, x plan.Exposed) unit.Minor {
	last := -1
	for i, s := range x.Plan.Steps {
		if strings.HasPrefix(s.Ref, "inspect ") {
			last = i
		}
	}
	free := *in.Shop
	free.Storage = unit.Money{}
	bill, _ := cost.Price(plan.Plan{Steps: x.Plan.Steps[:last+1]}, in.Body, &free, in.Job)
	return bill.Labour + bill.Sublet
}

// Earlier says what was found in other jobs of the same body, in the areas that are to be
// inspected in this one; of how many jobs it does not speak, since their body is another one.
func (x *Exposed) Earlier(in Input, others []Input) (left int) {
	before := make([]cost.Before, 0, len(x.Open()))
	for _, a := range x.Open() {
		before = append(before, cost.Before{Area: a.Area})
	}
	for _, o := range others {
		if o.Body.ID != in.Body.ID {
			left++
			continue
		}
		found, _ := inspect.Run(inspect.Input{Body: o.Body, Job: o.Job, Vehicle: o.Vehicle, Shop: o.Shop, Today: o.Today, Work: in.Work})
		for i, a := range x.Open() {
			seen := slices.ContainsFunc(found.Coverage, func(c inspect.Coverage) bool { return c.Area == a.Area && c.Covered })
			if !seen {
				continue
			}
			before[i].Of++
			if slices.ContainsFunc(a.Zones, func(z body.ZoneID) bool { return found.CracksInZone(z) > 0 }) {
				before[i].Found++
			}
		}
	}
	x.Sums.Before = slices.DeleteFunc(before, func(b cost.Before) bool { return b.Of == 0 })
	return left
}
