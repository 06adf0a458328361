package cost

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// agreed is a bill as it is put on record when it is agreed.
func agreed(w Way, s *shop.Shop, j *job.State) job.Agreed {
	a := job.Agreed{Number: 1, Route: w.Route, Net: money(w.Bill.Net), Total: money(w.Bill.Total), Finish: w.Plan.Finish, On: march(5),
		Value: j.Vehicle.Value, Salvage: j.Vehicle.Salvage, Rules: s.TotalLoss, Work: AgreedWork(w.Plan)}
	for _, l := range w.Bill.Lines {
		a.Lines = append(a.Lines, job.AgreedLine{ID: l.ID, Sum: money(l.Sum), Price: money(l.Price), Amount: l.Amount})
	}
	return a
}

// drawnWork is steps of one kind each, for one finding or two, one of them now and then in two
// parts, beside some that take no time and one that is nothing by name.
func drawnWork(rng *rand.Rand, p plan.Plan) plan.Plan {
	p.Steps = nil
	for k := range 6 {
		if rng.IntN(3) == 0 {
			continue
		}
		of := [][]job.FindingID{{"F1"}, {"F1", "F2"}, {"F2"}, nil}[rng.IntN(4)]
		var names []string
		for _, f := range of {
			names = append(names, string(f))
		}
		s := plan.Step{Ref: strings.TrimSpace(fmt.Sprintf("T/k%d %s", k, strings.Join(names, " and "))), Name: fmt.Sprint("Work ", k), For: of, Skill: []body.SkillID{"alu", "body"}[rng.IntN(2)], Minutes: float64(rng.IntN(4) * 7)}
		p.Steps = append(p.Steps, s)
		if rng.IntN(3) == 0 {
			p.Steps = append(p.Steps, s)
		}
	}
	p.Steps = append(p.Steps, plan.Step{Skill: "alu", Minutes: float64(rng.IntN(2) * 5)})
	for i := range p.Steps {
		p.Steps[i].ID = fmt.Sprint("S-", i)
	}
	return p
}

// A bill that is held against its own plan differs in nothing, whatever its steps are.
func TestABillAgainstItselfIsNoSupplementSeeds(t *testing.T) {
	for seed := range uint64(100) {
		rng := rand.New(rand.NewPCG(seed, 24))
		b, s, j := setting(t)
		p := drawnWork(rng, drawnPlan(rng))
		bill, _ := Price(p, b, s, j)
		now := Way{Route: "weld", Plan: p, Bill: bill}
		j.Agreed = []job.Agreed{agreed(now, s, j)}
		if x, told := SupplementOf(Held{Now: now}, s, j); told || len(x.Lines)+len(x.Away)+len(x.New)+len(x.Changed) > 0 || x.Days != 0 || x.Undated || !x.Was.equals(x.Is) || !x.Was.equals(x.Would) {
			t.Errorf("seed %d: %+v", seed, x)
		}
	}
}

func (j Judged) equals(o Judged) bool { return j.Known == o.Known && j.IsLoss == o.IsLoss }

// What two plans share and what only one of them has, and what of each line that makes, by the
// definition of it: a step is the same where its kind and skill are and it is for one of the same
// findings; minutes that fall away count at the old rate, new ones at the new, those that stay at
// the difference. Drawn.
func TestSupplementsByTheirDefinitionSeeds(t *testing.T) {
	moved := 0
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 25))
		b, s, j := setting(t)
		before := drawnWork(rng, drawnPlan(rng))
		if len(worked(before)) == 0 {
			continue // no steps on record: nobody knows what is new
		}
		was, _ := Price(before, b, s, j)
		j.Agreed = []job.Agreed{agreed(Way{Route: "weld", Plan: before, Bill: was}, s, j)}
		for i := range s.Rates {
			s.Rates[i].Hour.Minor += unit.Minor(rng.IntN(3) * 100)
		}
		b.Parts[rng.IntN(2)].Price.Minor += unit.Minor(rng.IntN(3))
		b.Parts[1].Price.Minor *= unit.Minor(rng.IntN(2))
		after := drawnWork(rng, drawnPlan(rng))
		after.Finish = before.Finish.AddDays(rng.IntN(9) - 4)
		is, _ := Price(after, b, s, j)
		x, _ := SupplementOf(Held{Now: Way{Route: "weld", Plan: after, Bill: is}}, s, j)

		kind := func(ref string) string { k, _, _ := strings.Cut(ref, " "); return k }
		same := func(a, b plan.Step) bool {
			return a.Skill == b.Skill && kind(a.Ref) == kind(b.Ref) && (a.Ref == b.Ref || slices.ContainsFunc(a.For, func(f job.FindingID) bool { return slices.Contains(b.For, f) }))
		}
		var away, fresh []string
		gone, new, stays := map[string]int64{}, map[string]int64{}, map[string]int64{}
		only := func(of, other plan.Plan, tell func(plan.Step, bool)) {
			for _, a := range worked(of) {
				tell(a, slices.ContainsFunc(worked(other), func(b plan.Step) bool { return same(a, b) }))
			}
		}
		only(before, after, func(a plan.Step, shared bool) {
			if line := "L-" + string(a.Skill); shared {
				stays[line] += int64(a.Minutes)
			} else {
				gone[line] += int64(a.Minutes)
				away = append(away, fmt.Sprint(Moved{ID: a.Ref, Skill: a.Skill, Minutes: a.Minutes}))
			}
		})
		only(after, before, func(a plan.Step, shared bool) {
			if !shared {
				new["L-"+string(a.Skill)] += int64(a.Minutes)
				fresh = append(fresh, fmt.Sprint(Moved{ID: a.Ref, Name: a.Name, Skill: a.Skill, Minutes: a.Minutes}))
			}
		})
		old, now := map[string]Line{}, map[string]Line{}
		for _, l := range was.Lines {
			old[l.ID] = l
		}
		for _, l := range is.Lines {
			now[l.ID] = l
		}
		goods := func(list, other map[string]Line, name bool) (out []string) {
			for _, l := range slices.Concat(was.Lines, is.Lines) {
				_, there := other[l.ID]
				if _, mine := list[l.ID]; mine && !there && (l.Kind == "parts" || l.Kind == "materials") {
					m := Moved{ID: l.ID, Sum: l.Sum}
					if name {
						m.Name = l.Text
					}
					out = append(out, fmt.Sprint(m))
				}
			}
			return out
		}
		away, fresh = append(away, goods(old, now, false)...), append(fresh, goods(now, old, true)...)
		var want []string
		for _, id := range slices.Sorted(maps.Keys(union(old, now))) {
			a, there := old[id]
			l, here := now[id]
			d := Difference{ID: id, Text: l.Text, Was: a.Sum, Is: l.Sum}
			switch {
			case !here:
				d.Text, d.Away = "no longer needed", -a.Sum
			case !there:
				d.New = l.Sum
			case l.Kind == "labour":
				d.Away, d.New = -halfUp(gone[id]*int64(a.Price), 60), halfUp(new[id]*int64(l.Price), 60)
				d.ByPrice = halfUp(stays[id]*int64(l.Price-a.Price), 60)
			case l.Kind == "tax", a.Price == 0:
			default:
				d.ByPrice = (l.Price - a.Price) * (a.Sum / a.Price)
			}
			d.Rest = d.Is - d.Was - d.Away - d.New - d.ByPrice
			if a.Sum != l.Sum || there && here && a.Price != l.Price {
				want = append(want, fmt.Sprint(d))
			}
		}
		var got, gotAway, gotNew []string
		for _, d := range x.Lines {
			if d.Why != "" {
				moved++
			}
			d.Why = ""
			got = append(got, fmt.Sprint(d))
		}
		for _, m := range x.Away {
			gotAway = append(gotAway, fmt.Sprint(m))
		}
		for _, m := range x.New {
			gotNew = append(gotNew, fmt.Sprint(m))
		}
		days := int(after.Finish.Time().Sub(before.Finish.Time()).Hours() / 24)
		if !slices.Equal(got, want) || !slices.Equal(gotAway, away) || !slices.Equal(gotNew, fresh) || x.Days != days || x.Agreed != was.Total || x.Now != is.Total {
			t.Errorf("seed %d: %d days, from %d to %d; lines\n%s\nwant\n%s\naway %v, want %v\nnew %v, want %v", seed, x.Days, x.Agreed, x.Now, strings.Join(got, "\n"), strings.Join(want, "\n"), gotAway, away, gotNew, fresh)
		}
	}
	if moved < 300 {
		t.Errorf("%d lines say why: the draws show little", moved)
	}
}

func union(a, b map[string]Line) map[string]Line {
	out := maps.Clone(a)
	maps.Copy(out, b)
	return out
}
