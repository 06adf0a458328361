package plan

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/shop"
)

// TestOneVehicleIsInOnePlaceSeeds: weeks of jobs whose vehicles have few numbers, or none, some
// of them done or begun. No vehicle has steps of two jobs; whoever shares one and has work left
// is named, with the number, and the others have their dates. Judged by the numbers drawn.
func TestOneVehicleIsInOnePlaceSeeds(t *testing.T) {
	vins := []string{"", "TEST1111111111111", "TEST2222222222222", "test2222222222222", " TEST2222222222222"}
	met := 0
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 5))
		var jobs []InShop
		left, vin := map[string][]string{}, map[string]string{}
		for k := range 2 + rng.IntN(3) {
			in := weekJob(fmt.Sprint("J", k+1), monday(0))
			in.Job.Vehicle.VIN = vins[rng.IntN(len(vins))]
			vin[in.Job.ID] = strings.ToUpper(strings.TrimSpace(in.Job.Vehicle.VIN))
			records := rng.IntN(4)
			for i, s := range in.Plan.Steps[:records] {
				in.Job.Actuals = append(in.Job.Actuals, job.Actual{Step: s.Name, Minutes: 20, On: monday(0), By: []string{"A", "B"}[i%2]})
			}
			if v := vin[in.Job.ID]; records < 3 {
				left[v] = append(left[v], in.Job.ID)
			}
			jobs = append(jobs, in)
		}
		week, notes := WeekOf(weekShop(), jobs, monday(2))
		for v, ids := range left {
			twins := v != "" && len(ids) > 1
			told := slices.ContainsFunc(notes, func(n diag.Note) bool {
				return n.Code == "week.one-vehicle" && n.Severity == diag.Blocking && n.Where == strings.Join(ids, ", ") && strings.Contains(strings.ToUpper(n.Text), v)
			})
			if told != twins {
				t.Fatalf("seed %d: %q of %v: told %v\n%v", seed, v, ids, told, notes)
			}
			for _, id := range ids {
				dated := slices.ContainsFunc(week.Steps, func(s WeekStep) bool { return s.Job == id })
				if dated == twins {
					t.Fatalf("seed %d: %s of %q %v has dates: %v\n%v", seed, id, v, ids, dated, notes)
				}
			}
			if twins {
				met++
			}
		}
	}
	if met < 10 {
		t.Errorf("only %d vehicles with two jobs were drawn", met)
	}
}

// The vehicle of jobs that have no dates stands where it stands: nobody is planned into its bay.
func TestJobsOfOneVehicleKeepTheirBay(t *testing.T) {
	a, b, other := weekJob("J1", monday(0)), weekJob("J2", monday(0)), weekJob("J3", monday(0))
	for _, x := range []*InShop{&a, &b} {
		x.Job.Vehicle.VIN = "TEST1111111111111"
	}
	a.Job.Actuals = []job.Actual{{Step: "Open", Minutes: 60, On: monday(0), By: "A"}, {Step: "Bond", Minutes: 100, Going: true, Left: 100, On: monday(0), By: "B"}}
	sh := weekShop()
	sh.Bays = append(sh.Bays, shop.Bay{ID: "B2", Kind: "bench"})
	w, notes := WeekOf(sh, []InShop{a, b, other}, monday(1))
	if len(w.Steps) != 3 || w.Steps[1].Bay != "B1" { // the last bay of the kind is taken
		t.Errorf("%+v %v", w.Steps, notes)
	}
	if !strings.Contains(w.Jobs[0].Because, "same vehicle") || w.Jobs[0].Finish != w.Jobs[1].Finish || !w.Jobs[0].Finish.IsZero() {
		t.Errorf("%+v", w.Jobs)
	}
}
