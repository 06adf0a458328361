package plan

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/shop"
)

// What is to be done in one go is done in one go in the week too, whatever else is to be done
// and whenever a part comes: by one person, one step after the other, within the time in which
// the adhesive may be worked. Drawn: two or three jobs, the steps, who can do them, a delivery
// for a step of the go, and what is left of the window.
func TestOneGoStaysOneGoInTheWeekSeeds(t *testing.T) {
	gos := 0
	for seed := range uint64(draws(25, 500)) {
		rng := rand.New(rand.NewPCG(seed, 329))
		sh := weekShop()
		sh.People = append(sh.People, shop.Person{ID: "C", Skills: []body.SkillID{"glue"}}, shop.Person{ID: "D", Skills: []body.SkillID{"glue", "body"}})
		var jobs []InShop
		for k := range 2 + rng.IntN(2) {
			var steps []Step
			for i := range 4 {
				s := Step{Name: fmt.Sprint("step ", i+1), Minutes: float64(20 + rng.IntN(100))}
				if i == 1 || i == 2 {
					s.Together, s.Minutes = "glue", float64(20+rng.IntN(40))
				}
				if i == 2 && rng.IntN(2) == 0 {
					s.Awaits = []Awaited{{Kind: Delivery, Name: "delivery", Minutes: float64(rng.IntN(2 * 1440))}}
				}
				steps = append(steps, s)
			}
			in := bayJob(fmt.Sprint("J", k+1), steps...)
			window := steps[1].Minutes + steps[2].Minutes + float64(rng.IntN(30))
			for i := range in.Plan.Steps {
				s := &in.Plan.Steps[i]
				if s.Together != "" {
					s.Window = window
				}
				if rng.IntN(2) == 0 {
					s.Skill = "glue"
				}
			}
			jobs = append(jobs, in)
		}
		w, notes := WeekOf(sh, jobs, monday(0))
		for _, in := range jobs {
			var of []WeekStep
			for _, s := range w.Steps {
				if s.Job == in.Job.ID && (s.Name == "step 2" || s.Name == "step 3") {
					of = append(of, s)
				}
			}
			if len(of) != 2 {
				t.Fatalf("seed %d: %s has no dates: %v", seed, in.Job.ID, notes)
			}
			if of[0].Name == "step 3" {
				of[0], of[1] = of[1], of[0]
			}
			if took := of[1].To.Sub(of[0].From); of[1].From.Before(of[0].To) || of[0].Person != of[1].Person || took > time.Duration(in.Plan.Steps[1].Window)*time.Minute {
				t.Errorf("seed %d: %s is to be done in one go of %g min, and is done\n%s to %s by %s\n%s to %s by %s", seed, in.Job.ID, in.Plan.Steps[1].Window,
					of[0].From, of[0].To, of[0].Person, of[1].From, of[1].To, of[1].Person)
			}
			gos++
		}
	}
	if gos < 40 {
		t.Errorf("only %d", gos)
	}
}

// A plan says between which steps the vehicle does not roll: from when the part is off that it
// does not roll without until it is on, and from a step that says so until the one that gives it
// back. Constructed, as the moves by hand are.
func TestPlanSaysWhenTheVehicleStands(t *testing.T) {
	for name, tc := range map[string]struct {
		change func(*Input)
		want   []Still // by the names of the steps
	}{
		"a part":  {func(*Input) {}, []Still{{"bumper is off", []string{"Take off bumper"}, []string{"Refit bumper"}}}},
		"nothing": {func(in *Input) { in.Body.Parts[0].Rolls = "" }, nil},
		"a step":  {func(in *Input) { in.Body.Parts[0].Rolls = ""; in.Body.Tasks[1].Step.Rolls = "no" }, []Still{{`since "Set up on bench"`, []string{"Set up on bench"}, nil}}},
		"a step and its end": {func(in *Input) {
			in.Body.Parts[0].Rolls = ""
			in.Body.Tasks[1].Step.Rolls, in.Body.Tasks[2].Step.Rolls = "no", "yes"
		}, []Still{{`since "Set up on bench"`, []string{"Set up on bench"}, []string{"Measure"}}}},
		"a part and a step": {func(in *Input) { in.Body.Tasks[1].Step.Rolls = "no" }, []Still{{"bumper is off", []string{"Take off bumper"}, []string{"Refit bumper"}}, {`since "Set up on bench"`, []string{"Set up on bench"}, nil}}},
	} {
		in := movedInput()
		tc.change(&in)
		p, _ := Build(in)
		names := func(ids []string) (out []string) {
			for _, id := range ids {
				out = append(out, p.Steps[slices.IndexFunc(p.Steps, func(s Step) bool { return s.ID == id })].Name)
			}
			return out
		}
		var got []Still
		for _, s := range p.Stills {
			got = append(got, Still{s.Name, names(s.From), names(s.To)})
		}
		if fmt.Sprint(got) != fmt.Sprint(tc.want) {
			t.Errorf("%s: %q, want %q", name, got, tc.want)
		}
	}
}

// By what is recorded a vehicle stands from when one of the first steps is begun until all of the
// last are done; begun is not done, and what has no last step is never over. Every record of two
// first and two last steps.
func TestVehicleStandsByWhatIsRecorded(t *testing.T) {
	for n := range 81 {
		seen := map[string]job.Actual{}
		var at [4]int // of each step: nothing, under way, done
		for k, rest := 0, n; k < 4; k, rest = k+1, rest/3 {
			if at[k] = rest % 3; at[k] > 0 {
				seen[fmt.Sprint("S-", k+1)] = job.Actual{Going: at[k] == 1}
			}
		}
		for _, last := range [][]string{{"S-3", "S-4"}, nil} {
			want := ""
			if (at[0] > 0 || at[1] > 0) && !(last != nil && at[2] == 2 && at[3] == 2) {
				want = "it stands"
			}
			if got := notRolling(Plan{Stills: []Still{{"it stands", []string{"S-1", "S-2"}, last}}}, seen); got != want {
				t.Errorf("%v, last %v: %q, want %q", at, last, got, want)
			}
		}
	}
}
