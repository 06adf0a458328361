package plan

import (
	"fmt"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

// times are an adhesive's times at one temperature, in minutes.
type times struct {
	working, handling, full float64
}

// timesAt is the material's times at a temperature: to cure those of the next colder
// row, which are never shorter, to work it that of the next warmer, which is never longer.
// A release counts by the same rows. Nothing is said outside the table: below its coldest
// row an adhesive may never cure.
func timesAt(m body.Material, temp unit.Celsius) (times, bool) {
	working, ok := m.WorkingAt(temp)
	row, also := m.CuringAt(temp)
	if !ok || !also {
		return times{}, false
	}
	return times{float64(working), float64(row.Handling), float64(row.Full)}, true
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
		b.block(where, diag.Say("plan.cure-outside-table", "{material} {table}; the shop is at {temperature}, so no time can be told", m.Name, span, b.in.Shop.Temp),
			"bring the work to a temperature of the table, or ask the maker of the adhesive")
	}
	return t, ok
}
