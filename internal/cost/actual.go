package cost

import (
	"slices"
	"sort"
	"strings"

	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Reality is what was done so far against the plan.
type Reality struct {
	Steps   []StepReality `json:"steps"`
	Unknown []string      `json:"unknown,omitempty"` // recorded steps that the plan does not have
	Planned float64       `json:"plannedMinutes"`    // of the steps that were recorded
	Taken   float64       `json:"takenMinutes"`
	Left    float64       `json:"leftMinutes"` // planned minutes of steps without a record, and what is left of those under way
	Labour  unit.Minor    `json:"labourMinor"` // what the difference costs at the shop's rates, without tax
	Parts   unit.Minor    `json:"partsMinor"`  // parts and materials beyond the plan, without tax
}

// StepReality is one step that was recorded.
type StepReality struct {
	Step    string  `json:"step"`
	Name    string  `json:"name"`
	Planned float64 `json:"plannedMinutes"`
	Taken   float64 `json:"takenMinutes"`
	By      string  `json:"by"`
	Going   bool    `json:"underWay,omitempty"` // begun and not done
	Left    float64 `json:"leftMinutes,omitempty"`
}

// RealityOf holds what was recorded against a plan. A record belongs to the steps
// of its name, and of its finding when it names one; the minutes of a step under way
// are those so far, so that a later record of it takes the place of the earlier one.
// What fits none is told.
func RealityOf(p plan.Plan, s *shop.Shop, j *job.State) (Reality, bool) {
	var out Reality
	var order []int // steps in the order they were recorded
	last := map[int]job.Actual{}
	for _, a := range j.Actuals {
		for _, u := range a.Parts {
			out.Parts += u.Price.Minor.Times(int64(u.Count), 1)
		}
		k := -1
		for i := 0; i < len(p.Steps) && k < 0; i++ {
			if old, ok := last[i]; plan.Recorded(p.Steps[i], a) && (!ok || old.Going) {
				k = i
			}
		}
		if k < 0 {
			out.Unknown = append(out.Unknown, a.Step)
			continue
		}
		if _, ok := last[k]; !ok {
			order = append(order, k)
		}
		last[k] = a
	}
	for _, k := range order {
		out.add(p.Steps[k], last[k], s)
	}
	for k, x := range p.Steps {
		if _, ok := last[k]; !ok {
			out.Left += x.Minutes
		}
	}
	return out, len(j.Actuals) > 0
}

// add puts a recorded step to the sums.
func (r *Reality) add(x plan.Step, a job.Actual, s *shop.Shop) {
	r.Steps = append(r.Steps, StepReality{x.ID, x.Name, x.Minutes, float64(a.Minutes), a.By, a.Going, float64(a.Left)})
	r.Planned, r.Taken, r.Left = r.Planned+x.Minutes, r.Taken+float64(a.Minutes), r.Left+float64(a.Left)
	if rate, ok := s.Rate(x.Skill); ok { // sublet work is paid as agreed with whoever does it
		r.Labour += rate.Hour.Minor.Times(thousandths(float64(a.Minutes+a.Left))-thousandths(x.Minutes), 60000)
	}
}

// History is what one step took over several jobs of a shop. It is shown and never
// applied.
type History struct {
	Shop    string  `json:"shop"`
	Step    string  `json:"step"`
	Count   int     `json:"count"`
	Planned float64 `json:"plannedMinutes"` // median
	Median  float64 `json:"medianMinutes"`
	Low     float64 `json:"lowMinutes"` // quartiles
	High    float64 `json:"highMinutes"`
}

// HistoryOf sums up records of several jobs of a shop by the name of the step, in
// capitals or not, as it was written first.
func HistoryOf(shop string, records []job.Actual) []History {
	by := map[string][]job.Actual{}
	var names []string
	for _, a := range records {
		if a.Going { // how long it takes is not known yet
			continue
		}
		name := a.Step
		if k := slices.IndexFunc(names, func(n string) bool { return strings.EqualFold(n, name) }); k >= 0 {
			name = names[k]
		} else {
			names = append(names, name)
		}
		by[name] = append(by[name], a)
	}
	sort.Strings(names)
	var out []History
	for _, n := range names {
		var planned, taken []float64
		for _, a := range by[n] {
			planned, taken = append(planned, float64(a.Planned)), append(taken, float64(a.Minutes))
		}
		sort.Float64s(planned)
		sort.Float64s(taken)
		out = append(out, History{shop, n, len(taken), share(planned, 0.5), share(taken, 0.5), share(taken, 0.25), share(taken, 0.75)})
	}
	return out
}

// share is the quantile of sorted values, linear between them: at place
// 1 + (n - 1) p (Hyndman & Fan 1996, definition 7).
func share(sorted []float64, p float64) float64 {
	at := float64(len(sorted)-1) * p
	k := int(at)
	if k+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[k] + float64((at-float64(k))*(sorted[k+1]-sorted[k]))
}
