package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// lot is so many pieces or packs that came, or are promised.
type lot struct {
	left  float64
	there time.Time
	until unit.Date // last day of use; zero: none
	named bool      // promised, and not on record as there
}

// dayTime is a time of a day as the shop writes it.
func dayTime(sh *shop.Shop, d unit.Date, clock string) time.Time {
	h, m := 0, 0
	fmt.Sscanf(clock, "%d:%d", &h, &m)
	return time.Date(d.Year, d.Month, d.Day, h, m, 0, 0, sh.Location())
}

// supplyThatSpoils puts deliveries and promises of what a plan needs on record, of which some
// spoil, and says in other words what is there from when to when. fine says that what is
// needed is there or promised, whenever that is.
func supplyThatSpoils(p Plan, sh *shop.Shop, j *job.State, rng *rand.Rand) (lots map[string][]lot, fine bool) {
	lots, fine = map[string][]lot{}, true
	need := map[string]int{}
	var items []string
	for _, l := range p.Lost {
		items, need[string(l.Part)] = append(items, string(l.Part)), l.Quantity
	}
	for _, t := range p.Takeoff {
		items, need[string(t.Material)] = append(items, string(t.Material)), t.Packs
	}
	evening := func(d unit.Date) time.Time { return dayTime(sh, d, sh.Calendar.End) }
	for _, id := range items {
		n, on := need[id], j.Start.AddDays(rng.IntN(6))
		until, later := on.AddDays(rng.IntN(25)), on.AddDays(3+rng.IntN(30))
		came := func(count int, on, until unit.Date) {
			j.Deliveries = append(j.Deliveries, job.Arrival{ID: fmt.Sprint("D-", id, "-", len(j.Deliveries)), Item: id, Count: count, On: on, UseBefore: until})
			lots[id] = append(lots[id], lot{float64(count), evening(on), until, false})
		}
		promised := func(count int, made, day unit.Date) {
			j.Promises = append(j.Promises, job.Promised{ID: fmt.Sprint("PR-", id, "-", len(j.Promises)), Item: id, Count: count, On: made, Expected: day})
			lots[id] = append(lots[id], lot{float64(n), evening(day), unit.Date{}, true})
			if count > 0 {
				lots[id][len(lots[id])-1].left = float64(count)
			}
		}
		switch rng.IntN(8) {
		case 0: // it keeps
			came(n, on, unit.Date{})
		case 1: // it spoils
			came(n, on, until)
			fine = false
		case 2: // it spoils, and more comes
			came(n, on, until)
			came(n, later, unit.Date{})
		case 3: // it spoils, and all that is missing is promised
			came(n, on, until)
			promised(0, on.AddDays(1), later)
		case 4: // some spoils, and the rest was promised
			came(max(1, n-1), on, until)
			if n > 1 {
				promised(1, on, later)
			}
			fine = false
		case 5:
			promised(0, j.Start, later)
		case 6: // what was promised came, and spoils
			promised(0, j.Start, on)
			lots[id] = nil
			came(n, on, until)
			fine = false
		}
	}
	return lots, fine
}

// usedBy is a step that uses so much of something, in pieces or packs.
type usedBy struct {
	step     string
	from, to time.Time
	packs    float64
}

// stockJudge goes through the days with what is there, the soonest spoilt used first, and says
// which steps have nothing to use.
func stockJudge(p Plan, lots map[string][]lot, when func(Step) (from, to time.Time)) []string {
	var bad []string
	for id, all := range lots {
		stock := slices.Clone(all)
		var uses []usedBy
		add := func(s Step, packs float64) {
			if from, to := when(s); !from.IsZero() {
				uses = append(uses, usedBy{s.Name, from, to, packs})
			}
		}
		fitted := false // a part that several steps take is used up by the first
		for _, s := range p.Steps {
			for _, l := range p.Lost {
				if string(l.Part) == id && slices.Contains(s.Takes, l.Part) && !fitted {
					add(s, float64(l.Quantity))
					fitted = true
				}
			}
			for _, t := range p.Takeoff {
				for _, l := range t.Lines {
					if string(t.Material) == id && l.Step == s.ID {
						add(s, l.Amount*t.Gross/t.Net/t.Pack)
					}
				}
			}
		}
		slices.SortStableFunc(uses, func(a, b usedBy) int { return a.to.Compare(b.to) })
		end := func(l lot) int {
			if l.until.IsZero() {
				return math.MaxInt
			}
			return int(l.until.Time().Unix())
		}
		slices.SortStableFunc(stock, func(a, b lot) int {
			if end(a) != end(b) {
				if end(a) < end(b) {
					return -1
				}
				return 1
			}
			return a.there.Compare(b.there)
		})
		for _, u := range uses {
			want := u.packs
			for i := range stock {
				l := &stock[i]
				if l.there.After(u.from) || !l.until.IsZero() && l.until.Before(unit.DateOf(u.to)) {
					continue
				}
				took := min(l.left, want)
				l.left, want = l.left-took, want-took
			}
			if want > 1e-6 {
				bad = append(bad, fmt.Sprintf("%q from %s to %s has %.2f of %s too few: %+v", u.step, u.from.Format(time.DateTime), u.to.Format(time.DateTime), want, id, all))
			}
		}
	}
	slices.Sort(bad)
	return bad
}

// TestWhatIsUsedIsThereAndKeepsSeeds: no step of a plan or a week uses a part or a material
// before it came or after its last day of use, judged pack by pack; and where all of it is
// there or promised to stay, every step has its date.
func TestWhatIsUsedIsThereAndKeepsSeeds(t *testing.T) {
	judged, held, told := 0, 0, 0
	for _, v := range lawVehicles(t) {
		seeds := []uint64{0, 4} // 4: more comes, and later than what spoilt is needed
		for seed := uint64(1); seed < uint64(draws(1, 150)); seed++ {
			seeds = append(seeds, seed)
		}
		for _, seed := range seeds {
			in := lawJob(v, 9000+seed)
			in.Job.ID = "J"
			fresh, _ := Build(in)
			if fresh.Finish.IsZero() || len(fresh.Takeoff) == 0 {
				continue
			}
			rng := rand.New(rand.NewPCG(seed, 31))
			j := *in.Job
			lots, fine := supplyThatSpoils(fresh, in.Shop, &j, rng)
			in.Job = &j
			p, notes := Build(in)
			judged++
			bad := stockJudge(p, lots, func(s Step) (time.Time, time.Time) { return s.From, s.To })
			if p.Finish.IsZero() {
				held++
				if fine {
					bad = append(bad, fmt.Sprintf("all of it is there or promised, and there is no finish: %v", notes))
				}
			}
			from := j.Start.AddDays(rng.IntN(20))
			w, wnotes := WeekOf(in.Shop, []InShop{{Job: &j, Route: "r", Plan: p}}, from)
			for _, ls := range lots {
				for i := range ls {
					if evening := dayTime(in.Shop, from, in.Shop.Calendar.End); ls[i].named && ls[i].there.Before(evening) {
						ls[i].there = evening // promised for a day gone by, and not on record
					}
				}
			}
			bad = append(bad, stockJudge(p, lots, func(s Step) (time.Time, time.Time) {
				for _, x := range w.Steps {
					if x.Step == s.ID {
						return x.From, x.To
					}
				}
				return time.Time{}, time.Time{}
			})...)
			if fine && !p.Finish.IsZero() && len(w.Steps) == 0 {
				bad = append(bad, fmt.Sprintf("no week: %v", wnotes))
			}
			for _, why := range bad {
				if told++; told < 8 {
					t.Errorf("%s seed %d: %s", v.name, seed, why)
				}
			}
		}
	}
	if judged < 2 || held == 0 {
		t.Errorf("%d plans were judged, %d had something spoilt", judged, held)
	}
}
