package cost

import (
	"fmt"

	"fettle/internal/unit"
)

// RealityWords is what was done so far in a sentence or two.
func RealityWords(r Reality, currency string) string {
	t := fmt.Sprintf("%.0f minutes were taken for what was planned with %.0f: %s %s at the shop's rates, without tax. Parts and materials beyond the plan: %s %s.",
		r.Taken, r.Planned, addsUp(r.Labour), currency, r.Parts.Grouped(), currency)
	if r.Dearer != 0 {
		t += fmt.Sprintf(" Those of the plan cost %s %s against their prices in it.", addsUp(r.Dearer), currency)
	}
	return t + fmt.Sprintf(" %.0f minutes of work are left.", r.Left)
}

// addsUp is a difference of money with its sign.
func addsUp(m unit.Minor) string {
	if m > 0 {
		return "+" + m.Grouped()
	}
	return m.Grouped()
}
