package cost

import (
	"slices"
	"sort"

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
// of its name, and of its finding when it names one; what fits none is told.
func RealityOf(p plan.Plan, s *shop.Shop, j *job.State) (Reality, bool) {
	var out Reality
	done := map[string]bool{}
	for _, a := range j.Actuals {
		k := slices.IndexFunc(p.Steps, func(x plan.Step) bool { return !done[x.ID] && plan.Recorded(x, a) })
		for _, u := range a.Parts {
			out.Parts += u.Price.Minor.Times(int64(u.Count), 1)
		}
		if k < 0 {
			out.Unknown = append(out.Unknown, a.Step)
			continue
		}
		x := p.Steps[k]
		done[x.ID] = true
		out.Steps = append(out.Steps, StepReality{x.ID, x.Name, x.Minutes, float64(a.Minutes), a.By, a.Going, float64(a.Left)})
		out.Planned, out.Taken, out.Left = out.Planned+x.Minutes, out.Taken+float64(a.Minutes), out.Left+float64(a.Left)
		if r, ok := s.Rate(x.Skill); ok { // sublet work is paid as agreed with whoever does it
			out.Labour += r.Hour.Minor.Times(thousandths(float64(a.Minutes+a.Left))-thousandths(x.Minutes), 60000)
		}
	}
	for _, x := range p.Steps {
		if !done[x.ID] {
			out.Left += x.Minutes
		}
	}
	return out, len(j.Actuals) > 0
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

// HistoryOf sums up records of several jobs of a shop by the name of the step.
func HistoryOf(shop string, records []job.Actual) []History {
	by := map[string][]job.Actual{}
	var names []string
	for _, a := range records {
		if a.Going { // how long it takes is not known yet
			continue
		}
		if by[a.Step] == nil {
			names = append(names, a.Step)
		}
		by[a.Step] = append(by[a.Step], a)
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
