package cost

import (
	"slices"
	"sort"
	"strings"

	"fettle/internal/job"
)

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
	at := float64(float64(len(sorted)-1) * p)
	k := int(at)
	if k+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[k] + float64((at-float64(k))*(sorted[k+1]-sorted[k]))
}
