package cost

import (
	"cmp"
	"slices"

	"fettle/internal/job"
	"fettle/internal/unit"
)

// parts holds the parts and materials that were used against those of the plan. Of one
// that was used more often than planned the last ones are beyond the plan, at the price
// that is on record; the others are those of the plan, and what they cost more than it
// says is told apart.
func (r *reckoned) parts(of Way) {
	planned, price := map[string]int{}, map[string]unit.Minor{}
	for _, l := range of.Plan.Lost {
		planned[string(l.Part)] += l.Quantity
	}
	for _, t := range of.Plan.Takeoff {
		planned[string(t.Material)] += t.Packs
	}
	for _, l := range of.Bill.Lines {
		if l.Kind == LineParts || l.Kind == LineMaterials {
			price[l.ID[len("P-"):]] = l.Price
		}
	}
	times := slices.Clone(r.times)
	slices.SortStableFunc(times, func(a, b job.Doing) int {
		x, y := a.Records[len(a.Records)-1], b.Records[len(b.Records)-1]
		return cmp.Or(cmp.Compare(a.Last.On.String(), b.Last.On.String()), cmp.Compare(x, y))
	})
	at := map[string]int{}
	for _, d := range times {
		for _, p := range d.Parts {
			k, ok := at[p.ID]
			if !ok {
				k, at[p.ID] = len(r.out.Used), len(r.out.Used)
				r.out.Used = append(r.out.Used, PartReality{ID: p.ID, Planned: planned[p.ID]})
			}
			r.out.Used[k].use(p, price)
		}
	}
	slices.SortFunc(r.out.Used, func(a, b PartReality) int { return cmp.Compare(a.ID, b.ID) })
	for _, u := range r.out.Used {
		r.out.Parts += u.Sum
		r.out.Dearer += u.Dearer
	}
}

// use takes some of a part: first those that were planned.
func (u *PartReality) use(p job.PartUsed, price map[string]unit.Minor) {
	free := min(p.Count, max(0, u.Planned-u.Used))
	u.Used += p.Count
	u.Beyond += p.Count - free
	u.Sum += p.Price.Minor.Times(int64(p.Count-free), 1)
	if was, ok := price[p.ID]; ok && p.Price.Currency != "" {
		u.Dearer += (p.Price.Minor - was).Times(int64(free), 1)
	}
}
