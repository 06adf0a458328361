package app

import (
	"fmt"
	"math"
	"math/big"
	"slices"
	"strconv"
	"strings"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// The judge of untidy reality, written from docs/methods/cost.md and docs/formats/job.md. It
// takes plans, prices and records, and nothing that was reckoned from them.

// cents rounds half away from zero.
func cents(r *big.Rat) int64 {
	n, d := new(big.Int).Set(r.Num()), new(big.Int).Set(r.Denom())
	neg := n.Sign() < 0
	n.Abs(n).Lsh(n, 1).Add(n, d).Quo(n, d.Lsh(d, 1))
	if neg {
		n.Neg(n)
	}
	return n.Int64()
}

// milli is minutes to a thousandth.
func milli(m float64) int64 { return int64(math.Round(m * 1000)) }

// hourly is thousandths of a minute at a rate by the hour.
func hourly(rate unit.Minor, thousandths int64) int64 {
	return cents(new(big.Rat).Mul(big.NewRat(int64(rate), 1), big.NewRat(thousandths, 60000)))
}

// percent is a share as it is written.
func percent(f unit.Frac) *big.Rat {
	r, _ := new(big.Rat).SetString(strconv.FormatFloat(float64(f)*100, 'f', 6, 64))
	return r.Quo(r, big.NewRat(100, 1))
}

// sums is the lines of a bill, its net and its total, from plan and prices.
func (u *untidyJob) sums(p plan.Plan) (lines map[string]int64, net, total int64) {
	lines = map[string]int64{}
	work := map[string]int64{}
	for _, s := range p.Steps {
		work[string(s.Skill)] += milli(s.Minutes)
	}
	for _, r := range u.c.Shop.Rates {
		if work[string(r.Skill)] > 0 {
			lines["L-"+string(r.Skill)] = hourly(r.Hour.Minor, work[string(r.Skill)])
		}
	}
	for _, l := range p.Lost {
		x, _ := u.c.Body.Part(l.Part)
		lines["P-"+string(l.Part)] += int64(x.Price.Minor) * int64(l.Quantity)
	}
	for _, t := range p.Takeoff {
		x, _ := u.c.Body.Material(t.Material)
		lines["M-"+string(t.Material)] += int64(x.Price.Minor) * int64(t.Packs)
	}
	if u.c.Shop.Storage.Minor > 0 {
		lines["D-storage"] = int64(u.c.Shop.Storage.Minor) * int64(p.Calendar)
	}
	for _, v := range lines {
		net += v
	}
	total = net
	for _, t := range u.c.Shop.Taxes { // on everything in the demonstration
		x := cents(new(big.Rat).Mul(percent(t.Rate), big.NewRat(net, 1)))
		lines["T-"+t.ID], total = x, total+x
	}
	return lines, net, total
}

// isLoss says what the rule that applies makes of a repair.
func isLoss(net, total int64, value, salvage unit.Money, rules []shop.LossRule) (known, loss bool) {
	for _, r := range rules {
		if !r.Applies {
			continue
		}
		left, right := big.NewRat(net, 1), big.NewRat(int64(value.Minor), 1)
		if r.WithTax {
			left = big.NewRat(total, 1)
		}
		if r.Kind == "percentage" {
			right.Mul(right, percent(r.Percent))
		} else {
			left.Add(left, big.NewRat(int64(salvage.Minor), 1))
		}
		c := left.Cmp(right)
		known, loss = true, loss || c > 0 || c == 0 && r.Operator == ">="
	}
	return known, loss
}

// judged holds what the program says against the documents.
func (u *untidyJob) judged(seen map[string]int) []string {
	var bad []string
	fault := func(format string, args ...any) { bad = append(bad, fmt.Sprintf(format, args...)) }
	u.judgeSupplement(seen, fault)
	u.judgeReality(seen, fault)
	return bad
}

// foundSince is, by docs/formats/job.md, the findings that a bill was not made for, and those
// of its own day of which nobody knows; early: one of the first is not of a later day.
func (u *untidyJob) foundSince(last job.Agreed) (since, unsure []job.FindingID, early bool) {
	made := map[job.FindingID]bool{}
	for _, f := range last.Findings {
		made[f] = true
	}
	worked := map[job.FindingID]bool{}
	for _, w := range last.Work {
		for _, f := range w.Findings {
			worked[f] = true
		}
	}
	for _, f := range u.c.Job.Findings {
		later, same := f.On.String() > last.On.String(), f.On == last.On
		switch {
		case later || len(made) > 0 && !made[f.ID]:
			since, early = append(since, f.ID), early || !later
		case len(made) == 0 && same && !worked[f.ID]:
			unsure = append(unsure, f.ID)
		}
	}
	return since, unsure, early
}

func (u *untidyJob) judgeSupplement(seen map[string]int, fault func(string, ...any)) {
	now := u.route(u.taken)
	s, told := compare.SupplementOf(u.r.Compare, *now, u.c.Shop, u.c.Job)
	n := len(u.c.Job.Agreed)
	if n == 0 {
		if told {
			fault("a supplement to nothing")
		}
		return
	}
	last := u.c.Job.Agreed[n-1]
	lines, net, total := u.sums(now.Plan)
	wasKnown, was := isLoss(int64(last.Net.Minor), int64(last.Total.Minor), last.Value, last.Salvage, last.Rules)
	wouldKnown, would := isLoss(int64(last.Net.Minor), int64(last.Total.Minor), u.c.Job.Vehicle.Value, u.c.Job.Vehicle.Salvage, u.c.Shop.TotalLoss)
	isKnown, is := isLoss(net, total, u.c.Job.Vehicle.Value, u.c.Job.Vehicle.Salvage, u.c.Shop.TotalLoss)
	value := last.Value != u.c.Job.Vehicle.Value || last.Salvage != u.c.Job.Vehicle.Salvage
	rules := !slices.Equal(last.Rules, u.c.Shop.TotalLoss)
	rates := false
	for _, l := range last.Lines {
		for _, r := range u.c.Shop.Rates {
			rates = rates || l.ID == "L-"+string(r.Skill) && l.Price != r.Hour
		}
	}
	agreed := map[string]int64{}
	for _, l := range last.Lines {
		agreed[l.ID] = int64(l.Sum.Minor)
	}
	days := int(now.Plan.Finish.Time().Sub(last.Finish.Time()).Hours() / 24)
	differs := now.Excluded != "" || u.taken != last.Route || days != 0
	for id := range lines {
		differs = differs || lines[id] != agreed[id]
	}
	for id := range agreed {
		differs = differs || lines[id] != agreed[id]
	}
	since, unsure, early := u.foundSince(last)
	if (differs || value || rules || rates || early || len(unsure) > 0) && !told {
		fault("nothing is told: differs %v, value %v, rules %v, rates %v, findings %v, of the day %v", differs, value, rules, rates, since, unsure)
		return
	}
	if !told {
		return
	}
	seen["supplement"]++
	for what, is := range map[string]bool{"value changed": value, "rate changed": rates, "rule changed": rules, "another route": u.taken != last.Route} {
		if is {
			seen[what]++
		}
	}
	for _, x := range []struct {
		is   bool
		word string
	}{{last.Value != u.c.Job.Vehicle.Value, "the value of the vehicle is " + u.c.Job.Vehicle.Value.Minor.Grouped() + " instead of " + last.Value.Minor.Grouped()}, {last.Salvage != u.c.Job.Vehicle.Salvage, "the salvage value is " + u.c.Job.Vehicle.Salvage.Minor.Grouped()},
		{rates, "the rate of "}, {rules, "total-loss rule"}} {
		if x.is != strings.Contains(s.Because, x.word) {
			fault("%q: told %v, is %v: %s", x.word, !x.is, x.is, s.Because)
		}
	}
	if !slices.Equal(s.Findings, since) || !slices.Equal(s.Unsure, unsure) {
		fault("found since %v, of the day %v; want %v, %v", s.Findings, s.Unsure, since, unsure)
	}
	for what, n := range map[string]int{"found since": len(since), "found that day": len(unsure)} {
		if n > 0 {
			seen[what]++
		}
	}
	if s.Was.Known != wasKnown || s.Was.IsLoss != was || s.Would.Known != wouldKnown || s.Would.IsLoss != would {
		fault("as agreed %v %v, today %v %v; want %v %v, %v %v", s.Was.Known, s.Was.IsLoss, s.Would.Known, s.Would.IsLoss, wasKnown, was, wouldKnown, would)
	}
	if strings.Contains(s.Because, "as before") || strings.Contains(s.Because, "as when it was agreed") && !was {
		fault("as before: %s", s.Because)
	}
	if now.Excluded != "" {
		seen["no bill"]++
		if s.NoBill == "" || len(s.Lines) > 0 || !strings.Contains(s.Because, now.Excluded) || strings.Contains(s.Because, "0.00 EUR instead") || s.BecameLoss() {
			fault("a route that is not possible: %+v", s)
		}
		for _, x := range u.r.Compare.Routes {
			open := x.Feasible && x.Excluded == "" && len(x.Plan.Steps) > 0
			if open != slices.ContainsFunc(s.Possible, func(p cost.Possible) bool { return p.Route == x.ID }) {
				fault("%s is possible: %v", x.ID, open)
			}
		}
		return
	}
	if s.Is.Known != isKnown || s.Is.IsLoss != is || s.BecameLoss() != (is && !(wasKnown && was)) {
		fault("now %v %v, became %v; want %v %v", s.Is.Known, s.Is.IsLoss, s.BecameLoss(), isKnown, is)
	}
	if s.BecameLoss() {
		seen["became a loss"]++
	}
	if int64(s.Now) != total || int64(s.Agreed) != int64(last.Total.Minor) || s.Days != days || u.taken != last.Route != strings.Contains(s.Because, "another route than was agreed") {
		fault("%d instead of %d, %d days; want %d, %d, %d: %s", s.Now, s.Agreed, s.Days, total, last.Total.Minor, days, s.Because)
	}
	sum := int64(0)
	for _, l := range s.Lines {
		sum += int64(l.By())
		if int64(l.Was) != agreed[l.ID] || int64(l.Is) != lines[l.ID] || l.By() != l.Away+l.New+l.ByPrice+l.Rest {
			fault("line %+v, agreed %d, now %d", l, agreed[l.ID], lines[l.ID])
		}
		delete(agreed, l.ID)
		delete(lines, l.ID)
	}
	if sum != total-int64(last.Total.Minor) {
		fault("the lines differ by %d, the totals by %d", sum, total-int64(last.Total.Minor))
	}
	for id, v := range lines {
		if agreed[id] != v {
			fault("line %s is lost: %d, %d", id, agreed[id], v)
		}
	}
	for id, v := range agreed {
		if lines[id] != v {
			fault("line %s is lost: %d, %d", id, v, lines[id])
		}
	}
	u.judgeMoved(s, last, now.Plan, fault)
}

// judgeMoved looks at the steps: each of both plans is in both, falls away, or is new.
func (u *untidyJob) judgeMoved(s cost.Supplement, last job.Agreed, p plan.Plan, fault func(string, ...any)) {
	away, fresh := map[string]bool{}, map[string]bool{}
	for _, m := range s.Away {
		away[m.ID] = true
	}
	for _, m := range s.New {
		fresh[m.ID] = true
	}
	kept := func(m map[string]bool, skill string, minutes func(string) int64) int64 {
		sum := int64(0)
		for id := range m {
			sum += minutes(id)
		}
		return sum
	}
	for _, r := range u.c.Shop.Rates {
		gone := kept(away, string(r.Skill), func(id string) int64 {
			for _, w := range last.Work {
				if w.Step == id && w.Skill == r.Skill {
					return milli(float64(w.Minutes))
				}
			}
			return 0
		})
		came := kept(fresh, string(r.Skill), func(id string) int64 {
			for _, x := range p.Steps {
				if x.Ref == id && x.Skill == r.Skill {
					return milli(x.Minutes)
				}
			}
			return 0
		})
		for _, l := range s.Lines {
			for _, a := range last.Lines {
				if l.ID == "L-"+string(r.Skill) && a.ID == l.ID && (int64(l.Away) != -hourly(a.Price.Minor, gone) || l.Is > 0 && int64(l.New) != hourly(r.Hour.Minor, came)) {
					fault("%s: %d falls away and %d is new; want %d and %d", l.ID, l.Away, l.New, -hourly(a.Price.Minor, gone), hourly(r.Hour.Minor, came))
				}
			}
		}
	}
	for _, w := range last.Work { // one that is the same in both plans does not move
		if same := slices.ContainsFunc(p.Steps, func(x plan.Step) bool { return x.Ref == w.Step }); same && (away[w.Step] || fresh[w.Step]) {
			fault("%s is in both plans", w.Step)
		}
	}
	for _, x := range p.Steps {
		shared := slices.ContainsFunc(last.Work, func(w job.AgreedStep) bool {
			a, _, _ := strings.Cut(w.Step, " ")
			b, _, _ := strings.Cut(x.Ref, " ")
			return w.Step == x.Ref || a == b && slices.ContainsFunc(w.Findings, func(f job.FindingID) bool { return slices.Contains(x.For, f) })
		})
		if !shared && x.Minutes > 0 && !fresh[x.Ref] {
			fault("%s is new and not told", x.Ref)
		}
	}
}

// soundRecord says that a record may count, as docs/formats/job.md has it, whatever it is about.
func (u *untidyJob) soundRecord(a job.Actual, skill string) bool {
	var who []shop.Person
	for _, p := range u.c.Shop.People {
		if slices.Contains(strings.Fields(a.By), p.ID) {
			who = append(who, p)
		}
	}
	if len(who) != 1 || u.awayThatDay(who[0].ID, a.On) || u.today.Before(a.On) || a.On.Before(u.c.Job.Opened) || !u.c.Job.Impact.On.IsZero() && a.On.Before(u.c.Job.Impact.On) {
		return false
	}
	priced := a.Unplanned == "" || slices.ContainsFunc(u.c.Shop.Rates, func(r shop.Rate) bool { return r.Skill == a.Skill })
	return priced && slices.ContainsFunc(who[0].Skills, func(s body.SkillID) bool { return string(s) == skill })
}

// stint is one time that something was done.
type stint struct {
	minutes, left int64
	again         string
	going         bool
	parts         map[string][]job.PartUsed // by identity
	last          int                       // place of its last record
	on            unit.Date
}

// stints adds the records of one step up, in the order of days, and says which do not count.
func (u *untidyJob) stints(at []int, skill string) (out []stint, not []int) {
	at = slices.Clone(at)
	slices.SortStableFunc(at, func(a, b int) int {
		return strings.Compare(u.c.Job.Actuals[a].On.String(), u.c.Job.Actuals[b].On.String())
	})
	met := false
	for _, i := range at {
		a := u.c.Job.Actuals[i]
		before := met
		met = true
		if !u.soundRecord(a, skill) || a.Again != "" && !before {
			not = append(not, i)
			continue
		}
		parts := map[string][]job.PartUsed{}
		for _, p := range a.Parts {
			parts[p.ID] = append(parts[p.ID], p)
		}
		if k := len(out) - 1; k >= 0 && out[k].going && (a.Again == "" || a.Again == out[k].again) {
			s := &out[k]
			less := milli(float64(a.Minutes)) < s.minutes
			for id := range parts {
				less = less || pieces(parts[id]) < pieces(s.parts[id])
			}
			if less {
				not = append(not, i)
				continue
			}
			for id := range parts {
				s.parts[id] = parts[id]
			}
			s.minutes, s.left, s.going, s.last, s.on = milli(float64(a.Minutes)), milli(float64(a.Left)), a.Going, i, a.On
			continue
		}
		if len(out) > 0 && a.Again == "" {
			not = append(not, i)
			continue
		}
		out = append(out, stint{milli(float64(a.Minutes)), milli(float64(a.Left)), a.Again, a.Going, parts, i, a.On})
	}
	return out, not
}

func pieces(list []job.PartUsed) int {
	n := 0
	for _, p := range list {
		n += p.Count
	}
	return n
}

// aboutStep is which step of a plan a record is about; -1: none, or more than one.
func aboutStep(p plan.Plan, a job.Actual) int {
	found := -1
	for k, s := range p.Steps {
		if s.Ref == a.Step {
			return k
		}
		if strings.EqualFold(s.Name, a.Step) && (a.Finding == "" || slices.Contains(s.For, a.Finding)) {
			if found >= 0 {
				found = -2
			} else if found == -1 {
				found = k
			}
		}
	}
	return max(found, -1)
}

// reckoning is what the judge adds up.
type reckoning struct {
	planned, did, left, labour int64
	all                        []stint
}

// add adds the times of one step up, and says which records count.
func (w *reckoning) add(u *untidyJob, at []int, skill string, minutes int64, gone bool) (counted []int) {
	st, bad := u.stints(at, skill)
	if len(st) == 0 {
		return nil
	}
	sum, rest := int64(0), st[len(st)-1].left
	for _, s := range st {
		sum += s.minutes
	}
	if gone { // nobody goes on with it
		rest = 0
	}
	w.planned, w.did, w.left = w.planned+minutes, w.did+sum, w.left+rest
	for _, x := range u.c.Shop.Rates {
		if string(x.Skill) == skill {
			w.labour += hourly(x.Hour.Minor, sum+rest-minutes)
		}
	}
	w.all = append(w.all, st...)
	return slices.DeleteFunc(slices.Clone(at), func(i int) bool { return slices.Contains(bad, i) })
}

func (u *untidyJob) judgeReality(seen map[string]int, fault func(string, ...any)) {
	taken := u.route(u.taken)
	r, told := cost.RealityOf(compare.WayOf(*taken), compare.Ways(u.r.Compare, u.c.Job, u.taken), u.c.Shop, u.c.Job, u.today)
	if told != (len(u.c.Job.Actuals) > 0) {
		fault("told %v, %d records", told, len(u.c.Job.Actuals))
	}
	of, beyond, stray := map[int][]int{}, map[[3]string][]int{}, []int{}
	for i, a := range u.c.Job.Actuals {
		switch k := aboutStep(taken.Plan, a); {
		case a.Unplanned != "":
			key := [3]string{strings.ToLower(a.Step), string(a.Finding), string(a.Skill)}
			beyond[key] = append(beyond[key], i)
		case k >= 0:
			of[k] = append(of[k], i)
		default:
			stray = append(stray, i)
		}
	}
	w := &reckoning{}
	counted := 0
	over := u.doneSince(taken.Plan, of)
	for k, s := range taken.Plan.Steps {
		n := len(w.add(u, of[k], string(s.Skill), milli(s.Minutes), over[k]))
		if counted += n; n == 0 {
			if !over[k] {
				w.left += milli(s.Minutes)
			}
		} else {
			seen["step"]++
		}
	}
	for key, at := range beyond {
		n := len(w.add(u, at, key[2], 0, false))
		if counted += n; n > 0 {
			seen["beyond"]++
		}
	}
	for _, o := range u.otherPlans() { // the agreed route first, then as they are listed
		of := map[int][]int{}
		for _, i := range stray {
			if k := aboutStep(o, u.c.Job.Actuals[i]); k >= 0 {
				of[k] = append(of[k], i)
			}
		}
		for k, at := range of {
			here := w.add(u, at, string(o.Steps[k].Skill), 0, true)
			if counted += len(here); len(here) > 0 {
				seen["elsewhere"]++
			}
			stray = slices.DeleteFunc(stray, func(i int) bool { return slices.Contains(here, i) })
		}
	}
	for _, s := range w.all {
		if s.again != "" {
			seen["again"]++
		}
	}
	if counted < len(u.c.Job.Actuals) {
		seen["unfit"]++
	}
	near := func(m float64, thousandths int64) bool { // sums of minutes are not rounded step by step
		return math.Abs(m*1000-float64(thousandths)) < 50
	}
	if !near(r.Planned, w.planned) || !near(r.Taken, w.did) || !near(r.Left, w.left) || int64(r.Labour) != w.labour {
		fault("planned %d, taken %d, left %d, labour %d; want %d, %d, %d, %d", milli(r.Planned), milli(r.Taken), milli(r.Left), r.Labour, w.planned, w.did, w.left, w.labour)
	}
	if len(r.Unfit)+counted != len(u.c.Job.Actuals) {
		fault("%d records do not count and %d do, of %d", len(r.Unfit), counted, len(u.c.Job.Actuals))
	}
	u.judgeParts(r, taken.Plan, w.all, seen, fault)
}

// doneSince is the steps that are done by what is on record after them: what opened the way
// to a part that is back on, or is being put back on, and moves.
func (u *untidyJob) doneSince(p plan.Plan, of map[int][]int) map[int]bool {
	met, out, at := map[int]bool{}, map[int]bool{}, map[string]int{}
	for k, s := range p.Steps {
		at[s.ID] = k
		st, _ := u.stints(of[k], string(s.Skill))
		met[k] = len(st) > 0
	}
	for k, on := range p.Steps {
		for i, s := range p.Steps {
			if met[k] && strings.HasPrefix(on.Ref, "on ") && s.Phase == plan.PhaseOpen && s.Part == on.Part {
				out[i] = true
			}
		}
	}
	seen := map[int]bool{}
	var back func(k int)
	back = func(k int) {
		if seen[k] {
			return
		}
		seen[k] = true
		if p.Steps[k].Move != nil && !met[k] {
			out[k] = true
		}
		for _, id := range p.Steps[k].After {
			if i, ok := at[id]; ok {
				back(i)
			}
		}
	}
	for k := range p.Steps {
		if met[k] || out[k] {
			back(k)
		}
	}
	return out
}

// otherPlans are the plans of the routes that are not taken.
func (u *untidyJob) otherPlans() []plan.Plan {
	var out []plan.Plan
	agreed := ""
	if n := len(u.c.Job.Agreed); n > 0 {
		agreed = u.c.Job.Agreed[n-1].Route
	}
	for _, first := range []bool{true, false} {
		for _, id := range u.planned() {
			if id != u.taken && (id == agreed) == first {
				out = append(out, u.route(id).Plan)
			}
		}
	}
	return out
}

// judgeParts takes the parts one by one, in the order of days: the first are those planned.
func (u *untidyJob) judgeParts(r cost.Reality, p plan.Plan, all []stint, seen map[string]int, fault func(string, ...any)) {
	free, price := map[string]int{}, map[string]int64{}
	for _, l := range p.Lost {
		x, _ := u.c.Body.Part(l.Part)
		free[string(l.Part)] += l.Quantity
		price[string(l.Part)] = int64(x.Price.Minor)
	}
	for _, t := range p.Takeoff {
		x, _ := u.c.Body.Material(t.Material)
		free[string(t.Material)] += t.Packs
		price[string(t.Material)] = int64(x.Price.Minor)
	}
	slices.SortStableFunc(all, func(a, b stint) int {
		if a.on != b.on {
			return strings.Compare(a.on.String(), b.on.String())
		}
		return a.last - b.last
	})
	beyond, dearer, used := int64(0), int64(0), 0
	for _, s := range all {
		for id, list := range s.parts {
			for _, x := range list {
				for range x.Count {
					used++
					if free[id] > 0 {
						free[id]--
						dearer += int64(x.Price.Minor) - price[id]
					} else {
						beyond += int64(x.Price.Minor)
					}
				}
			}
		}
	}
	got := 0
	for _, x := range r.Used {
		got += x.Used
	}
	if beyond > 0 {
		seen["parts beyond"]++
	}
	if int64(r.Parts) != beyond || int64(r.Dearer) != dearer || got != used {
		fault("%d pieces, %d beyond the plan, %d dearer; want %d, %d, %d", got, r.Parts, r.Dearer, used, beyond, dearer)
	}
}
