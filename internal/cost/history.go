package cost

import (
	"slices"
	"sort"
	"strconv"
	"strings"
)

// History is what one step took over several jobs of a shop. It is shown and never
// applied.
type History struct {
	Shop    string     `json:"shop"`
	Step    string     `json:"step"`
	Count   int        `json:"count"`
	Planned float64    `json:"plannedMinutes"` // median
	Median  float64    `json:"medianMinutes"`
	Low     float64    `json:"lowMinutes"` // quartiles
	High    float64    `json:"highMinutes"`
	Ratio   *Quartiles `json:"takenOverPlanned,omitempty"` // of the times that had planned minutes
	PerMM   *Quartiles `json:"minutesPerMm,omitempty"`     // of those whose step has a length
	LeftOut []LeftOut  `json:"notCounted,omitempty"`       // records of it that do not count
}

// Quartiles is the median and the middle half of so many values.
type Quartiles struct {
	Count  int     `json:"count"`
	Median float64 `json:"median"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
}

// LeftOut is a record of work that does not count.
type LeftOut struct {
	Job     string  `json:"job"`
	Name    string  `json:"name"`
	On      string  `json:"on"`
	Minutes float64 `json:"minutes"`
	Why     string  `json:"why"`
}

// Sample is one step of one job that was done: all times of it together.
type Sample struct {
	Step     string
	Planned  float64 // minutes; 0: none were planned
	Taken    float64
	LengthMM float64 // of the work; 0: the step has none
}

// HistoryOf sums up what steps took over several jobs of a shop by the name of the step, in
// capitals or not, as it was written first; and says which records do not count.
func HistoryOf(shop string, samples []Sample, out []LeftOut) []History {
	by := map[string][]Sample{}
	left := map[string][]LeftOut{}
	var names []string
	named := func(name string) string {
		if k := slices.IndexFunc(names, func(n string) bool { return strings.EqualFold(n, name) }); k >= 0 {
			return names[k]
		}
		names = append(names, name)
		return name
	}
	for _, x := range samples {
		name := named(x.Step)
		by[name] = append(by[name], x)
	}
	for _, x := range out {
		name := named(x.Name)
		left[name] = append(left[name], x)
	}
	sort.Strings(names)
	var all []History
	for _, n := range names {
		all = append(all, historyOf(shop, n, by[n], left[n]))
	}
	return all
}

func historyOf(shop, step string, samples []Sample, out []LeftOut) History {
	var planned, taken, ratio, perMM []float64
	for _, x := range samples {
		planned, taken = append(planned, x.Planned), append(taken, x.Taken)
		if x.Planned > 0 {
			ratio = append(ratio, x.Taken/x.Planned)
		}
		if x.LengthMM > 0 {
			perMM = append(perMM, x.Taken/x.LengthMM)
		}
	}
	h := History{Shop: shop, Step: step, Count: len(samples), Ratio: quartiles(ratio), PerMM: quartiles(perMM), LeftOut: out}
	if p, t := quartiles(planned), quartiles(taken); t != nil {
		h.Planned, h.Median, h.Low, h.High = p.Median, t.Median, t.Low, t.High
	}
	return h
}

// quartiles sums values up; nil where there are none.
func quartiles(v []float64) *Quartiles {
	if len(v) == 0 {
		return nil
	}
	sort.Float64s(v)
	return &Quartiles{len(v), share(v, 0.5), share(v, 0.25), share(v, 0.75)}
}

// MedianWords is the median with so many decimals, and a dash where there is none.
func MedianWords(q *Quartiles, decimals int) string {
	if q == nil {
		return "-"
	}
	return strconv.FormatFloat(q.Median, 'f', decimals, 64)
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
