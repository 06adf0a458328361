package release

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/cost"
)

// Open is every entry that would show something that is missing: what the gate asks for, then
// what is to come, to be inspected and to be made safe.
func (g Gate) Open() []Wanted {
	open := append(g.asked(), g.supplies()...)
	open = append(open, g.areas()...)
	open = append(open, g.hazards()...)
	for i, w := range open {
		if w.Entry == WantChoice {
			open[i].Must = "no route may be chosen"
			if routes := g.mayBeChosen(); len(routes) > 0 {
				open[i].Must = "under 'value' one of these, under 'text' why: " + strings.Join(routes, ", ")
			}
		}
	}
	return open
}

// mayBeChosen is the routes that a person may choose.
func (g Gate) mayBeChosen() []string {
	var out []string
	for _, x := range g.of.Compare.Routes {
		if x.Feasible && x.Excluded == "" {
			out = append(out, x.ID)
		}
	}
	return out
}

// asked is what the gate asks for, each entry once: what is missing in its order, then the steps that are planned and not on record though nothing
// depends on it. What an entry of a joint or bond says too is not asked for a second time.
func (g Gate) asked() []Wanted {
	in, out := g.in, []Wanted(nil)
	add := func(w Wanted) {
		if !slices.ContainsFunc(out, w.Same) {
			out = append(out, w)
		}
	}
	for _, m := range g.Missing {
		for _, w := range m.Wants {
			add(w)
		}
	}
	work := in.Job.Work(workSteps(in.Steps), in.Shop, in.Today)
	for i, s := range in.Steps {
		if !s.Asked && !work.Steps[i].Done() {
			add(stepWanted(in.Steps, s))
		}
	}
	return slices.DeleteFunc(out, func(w Wanted) bool { return w.Entry == WantFigure && saidElsewhere(w, in.Steps, out) })
}

// supplies is what is to be bought for the route of the job and has not come, by the
// record: each may come, in parts too, and may be promised for another day.
func (g Gate) supplies() []Wanted {
	route, why := ChosenRoute(g.of.Job, g.of.Compare)
	if why != "" {
		return nil
	}
	var out []Wanted
	for _, o := range cost.Supplied(cost.Order(route.Plan, route.Bill), g.of.Job) {
		if o.Kind != cost.OrderPart && !g.of.Job.Tracks(o.ID) || o.Arrived >= o.Count {
			continue
		}
		must := fmt.Sprintf("%s; %d of %d came", o.Name, o.Arrived, o.Count)
		out = append(out, Wanted{Entry: WantDelivery, About: o.ID, Must: must + "; how many came now; from: hh:mm"},
			Wanted{Entry: WantPromise, About: o.ID, Must: must + "; the day it is promised for, where one was named"})
	}
	return out
}

// areas is the inspection areas that are not covered. An entry that says that nobody
// looked, or that does not cover what is asked for, is changed where it stands.
func (g Gate) areas() []Wanted {
	var out []Wanted
	for _, x := range g.of.Inspect.Coverage {
		if x.Covered {
			continue
		}
		must := x.Name + ": seen, penetrant or not-reachable; inspection: which"
		if x.Own && x.Fails != "" {
			must += fmt.Sprintf("; on record is %q of %s, which does not do: %s", x.State, x.On, x.Fails)
		}
		out = append(out, Wanted{Entry: WantArea, About: x.Area, What: string(x.Needs), Must: must})
	}
	return out
}

// hazards is the hazards that nobody who may has made safe.
func (g Gate) hazards() []Wanted {
	var out []Wanted
	for _, h := range g.of.Job.Hazards {
		if why := g.of.Job.Unsafe(h, g.of.Body, g.of.Shop, g.of.Today); why != "" {
			out = append(out, Wanted{Entry: WantHazard, About: string(h.Kind), What: h.Text, Must: "made safe by somebody qualified; value: made safe"})
		}
	}
	return out
}
