package plan

import (
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// A vehicle is in one place at a time, and what one job takes off another one may want on.
// Jobs of one vehicle that both have something left are one piece of planning, which nobody
// has made: they have no dates, keep the bays they stand in, and the others are planned.

// sameVehicle is the jobs whose vehicle another job of the week is about too, as far as each
// has something left, by the number of the vehicle.
func sameVehicle(sh *shop.Shop, jobs []InShop, from unit.Date) (places []int, groups [][]int) {
	of := map[string]int{}
	for k := range jobs {
		vin := strings.ToUpper(strings.Join(strings.Fields(jobs[k].Job.Vehicle.VIN), ""))
		if vin == "" || !anyLeft(sh, jobs[k], from) {
			continue
		}
		g, met := of[vin]
		if !met {
			g = len(groups)
			of[vin], groups = g, append(groups, nil)
		}
		groups[g] = append(groups[g], k)
	}
	groups = slices.DeleteFunc(groups, func(g []int) bool { return len(g) < 2 })
	for _, g := range groups {
		places = append(places, g...)
	}
	return places, groups
}

// anyLeft says that a step of a job is not on record as done.
func anyLeft(sh *shop.Shop, in InShop, from unit.Date) bool {
	seen, _ := progress(in.Plan, in.Job, sh, from)
	return slices.ContainsFunc(in.Plan.Steps, func(s Step) bool { a, ok := seen[s.ID]; return !ok || a.Going })
}

// tellTwins tells of jobs of one vehicle.
func (w *week) tellTwins(jobs []InShop, groups [][]int) {
	for _, g := range groups {
		var ids []string
		for _, k := range g {
			ids = append(ids, jobs[k].Job.ID)
		}
		w.block(strings.Join(ids, ", "), diag.Say("week.one-vehicle", "{jobs} are jobs of one vehicle (VIN {vin}), and each has work left: it cannot be in two places, and nobody has planned their work as one; they have no dates, keep the bays they stand in, and the others are planned", list(ids), jobs[g[0]].Job.Vehicle.VIN), "name one of them, with all that is to be done to the vehicle in it; or correct the VIN ("+jobs[g[0]].Job.Place("vehicle")+") of the one that is another vehicle")
	}
}
