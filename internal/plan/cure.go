package plan

import (
	"fmt"

	"fettle/internal/body"
	"fettle/internal/unit"
)

// times are an adhesive's times at one temperature, in minutes.
type times struct {
	working, handling, full float64
}

// timesAt interpolates the material's table: between the two rows T1 <= T <= T2
// a time is t1 + (t2 - t1)(T - T1)/(T2 - T1). Nothing is said outside the table:
// below its coldest row an adhesive may never cure.
func timesAt(m body.Material, temp unit.Celsius) (times, bool) {
	for i, r := range m.Cure {
		if r.Temp == temp {
			return times{float64(r.Working), float64(r.Handling), float64(r.Full)}, true
		}
		if i+1 == len(m.Cure) {
			break
		}
		n := m.Cure[i+1]
		if r.Temp < temp && temp < n.Temp {
			share := float64(temp-r.Temp) / float64(n.Temp-r.Temp)
			return times{
				float64(r.Working) + float64(share*float64(n.Working-r.Working)),
				float64(r.Handling) + float64(share*float64(n.Handling-r.Handling)),
				float64(r.Full) + float64(share*float64(n.Full-r.Full)),
			}, true
		}
	}
	return times{}, false
}

// curing is the material's times in this shop; what the table does not cover
// blocks and gives no date.
func (b *builder) curing(id body.MaterialID, where string) (times, bool) {
	m, ok := b.material(id, where)
	if !ok {
		return times{}, false
	}
	t, ok := timesAt(m, b.in.Shop.Temp)
	if !ok {
		span := "has no table of times"
		if n := len(m.Cure); n > 0 {
			span = fmt.Sprintf("has times from %s to %s only", m.Cure[0].Temp, m.Cure[n-1].Temp)
		}
		b.block("plan.cure-outside-table", where, fmt.Sprintf("%s %s; the shop is at %s, so no time can be told", m.Name, span, b.in.Shop.Temp),
			"bring the work to a temperature of the table, or ask the maker of the adhesive")
	}
	return t, ok
}
