package release

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"fettle/internal/job"
	"fettle/internal/unit"
)

// TestNothingSpoiltPermitsSeeds: whatever came, on whichever day and to be used until whichever
// day, a repair of which everything else is in order is released only when no batch on record
// was used after its last day, and a step whose batch nobody wrote down had something to use
// where what came of it is on record. Judged in other words, delivery by delivery.
func TestNothingSpoiltPermitsSeeds(t *testing.T) {
	var n [2]int
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 9))
		w, in := repaired()
		in.Steps[0].Uses, in.Steps[1].Uses = []string{"WIRE"}, []string{"GLUE", "P-SKIN"}
		j := w.in.Job
		for i := range rng.IntN(5) {
			d := job.Arrival{ID: fmt.Sprint("D-", i), Item: []string{"WIRE", "GLUE", "P-SKIN", "OTHER"}[rng.IntN(4)], Count: 1, On: day(2030, 2, 20+rng.IntN(8)), Batch: []string{"", "B7", "b7 ", "B8"}[rng.IntN(4)]}
			if rng.IntN(4) > 0 {
				d.UseBefore = day(2030, 2, 25).AddDays(rng.IntN(9))
			}
			j.Deliveries = append(j.Deliveries, d)
		}
		done := day(2030, 3, 2) // all steps and bonds are of this day
		spoilt := func(d job.Arrival) bool {
			return d.UseBefore != (unit.Date{}) && d.UseBefore.Time().Before(done.Time())
		}
		bad := false
		for _, d := range j.Deliveries {
			bad = bad || d.Item == "GLUE" && strings.ToUpper(strings.TrimSpace(d.Batch)) == "B7" && spoilt(d)
		}
		for _, item := range []string{"WIRE", "P-SKIN"} {
			any, good := false, false
			for _, d := range j.Deliveries {
				if d.Item == item {
					any, good = any || spoilt(d), good || !spoilt(d)
				}
			}
			bad = bad || any && !good
		}
		got := missingTexts(w, in)
		if (got != "") != bad {
			t.Errorf("seed %d: spoilt %v, missing %q\n%+v", seed, bad, got, j.Deliveries)
		}
		if bad {
			n[1]++
		} else {
			n[0]++
		}
	}
	if n[0] < 10 || n[1] < 10 {
		t.Errorf("%d sound, %d spoilt", n[0], n[1])
	}
}
