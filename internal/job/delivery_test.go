package job

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"fettle/internal/unit"
)

// What is there of something, and by when the rest, against a second way to work it out: piece by
// piece, from docs/formats/job.md. Early, late and partial deliveries, promises for all that is
// missing and for some of it, in any order.
func TestSupplySeeds(t *testing.T) {
	seeds := uint64(3000)
	if os.Getenv("FETTLE_CAMPAIGN") != "" {
		seeds = 300000
	}
	day := func(n int) unit.Date { return unit.Date{Year: 2026, Month: 3, Day: 2}.AddDays(n) }
	var n [4]int
	for seed := range seeds {
		rng := rand.New(rand.NewPCG(seed, 1607))
		var s State
		for i := range rng.IntN(5) {
			s.Deliveries = append(s.Deliveries, Arrival{ID: fmt.Sprint("D-", i), Item: []string{"P", "P", "Q"}[rng.IntN(3)], Count: 1 + rng.IntN(2), On: day(rng.IntN(9))})
			if rng.IntN(3) == 0 {
				s.Deliveries[i].UseBefore = day(rng.IntN(16))
			}
		}
		for i := range rng.IntN(4) {
			on := rng.IntN(9)
			s.Promises = append(s.Promises, Promised{ID: fmt.Sprint("PR-", i), Item: []string{"P", "P", "Q"}[rng.IntN(3)], Count: max(0, rng.IntN(5)-2), On: day(on), Expected: day(on + rng.IntN(8))})
		}
		need := 1 + rng.IntN(4)
		var used unit.Date // on which day; on none in particular
		if rng.IntN(2) == 0 {
			used = day(rng.IntN(16))
		}
		got := s.SupplyOn("P", need, used)
		if used.IsZero() && got != s.SupplyOf("P", need) {
			t.Fatalf("seed %d: %+v, and %+v", seed, got, s.SupplyOf("P", need))
		}
		arrived, on, expected, unnamed, promised := pieceByPiece(s, need, used)
		if got.Arrived != arrived || got.On != on || got.Expected != expected || got.Unnamed != unnamed || got.Promised != promised {
			t.Fatalf("seed %d, %d needed: %+v, piece by piece %d on %s, expected %s, %d unnamed, promised %v\n%+v\n%+v", seed, need, got, arrived, on, expected, unnamed, promised, s.Deliveries, s.Promises)
		}
		switch {
		case !got.On.IsZero():
			n[0]++
		case got.Unnamed > 0:
			n[1]++
		case got.Promised:
			n[2]++
		default:
			n[3]++
		}
	}
	if slices.Min(n[:]) < 100 {
		t.Errorf("there, promised for no day, promised, nothing: %v", n)
	}
}

// pieceByPiece goes through the days: on each what was promised for it then, what came, what was
// promised for later.
func pieceByPiece(s State, need int, used unit.Date) (arrived int, on, expected unit.Date, unnamed int, promised bool) {
	var single []unit.Date // of pieces promised one by one
	var rest unit.Date     // of all else
	all := false
	spent := 0 // came since all the rest was promised, and cannot be used any more
	promise := func(p Promised) {
		if p.Count == 0 {
			single, rest, all, spent = nil, p.Expected, true, 0
			return
		}
		for range p.Count {
			single = append(single, p.Expected)
		}
		slices.SortFunc(single, func(a, b unit.Date) int { return a.Time().Compare(b.Time()) })
	}
	first := unit.Date{Year: 2026, Month: 3, Day: 2}
	for d := range 40 {
		day := first.AddDays(d)
		for _, p := range s.Promises {
			if p.Item == "P" && p.On == day && p.Expected == day {
				promise(p)
			}
		}
		for _, a := range s.Deliveries {
			if a.Item != "P" || a.On != day {
				continue
			}
			for range a.Count {
				if len(single) > 0 {
					single = single[1:]
				}
				if !used.IsZero() && !a.UseBefore.IsZero() && a.UseBefore.Before(used) {
					spent++
					continue
				}
				if arrived++; arrived == need {
					on = day
				}
			}
		}
		for _, p := range s.Promises {
			if p.Item == "P" && p.On == day && p.Expected != day {
				promise(p)
			}
		}
	}
	if arrived >= need {
		return need, on, unit.Date{}, 0, false
	}
	if promised = all || len(single) > 0; !promised {
		return arrived, on, unit.Date{}, 0, false
	}
	for missing := need - arrived; missing > 0; missing-- {
		switch {
		case len(single) > 0:
			if expected.Before(single[0]) {
				expected = single[0]
			}
			single = single[1:]
		case all && missing > spent:
			if expected.Before(rest) {
				expected = rest
			}
		default:
			unnamed++
		}
	}
	if unnamed > 0 {
		expected = unit.Date{}
	}
	return arrived, on, expected, unnamed, promised
}

// A delivery and a promise are recorded anew under their identity, and taken back.
func TestDeliveriesAreReplacedAndWithdrawn(t *testing.T) {
	s := goodState(t)
	a, p := s.Deliveries[0], s.Promises[0]
	a.Count, p.Expected = 3, p.Expected.AddDays(4)
	got, err := Fold(append(FromState(s), Event{Kind: DeliveryRecorded, Data: a}, Event{Kind: PromiseRecorded, Data: p}))
	if err != nil || len(got.Deliveries) != 1 || got.Deliveries[0].Count != 3 || len(got.Promises) != 1 || got.Promises[0].Expected != p.Expected {
		t.Errorf("%v: %+v %+v", err, got.Deliveries, got.Promises)
	}
	got, err = Fold(append(FromState(s), Event{Kind: DeliveryDropped, Data: Withdrawn{ID: a.ID}}, Event{Kind: PromiseDropped, Data: Withdrawn{ID: p.ID}}))
	if err != nil || len(got.Deliveries)+len(got.Promises) != 0 {
		t.Errorf("%v: %+v %+v", err, got.Deliveries, got.Promises)
	}
	if _, err := Fold(append(FromState(s), Event{Kind: PromiseDropped, Data: Withdrawn{ID: "PR-9"}})); err == nil {
		t.Error("a promise that nobody made was withdrawn")
	}
}
