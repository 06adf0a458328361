package report

import (
	"fmt"
	"strings"

	"fettle/internal/body"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// supplyWords is what is on record about the delivery of a part; empty: nothing.
func supplyWords(in Input, id body.PartID, need int) string {
	s := in.Job.SupplyOf(string(id), need)
	came := ""
	if s.Arrived > 0 && need > 1 {
		came = fmt.Sprintf(", %d of %d came", s.Arrived, need)
	}
	switch {
	case !s.On.IsZero():
		return fmt.Sprintf("here since %s (%s)", day(s.On), s.By)
	case s.Promised && s.Unnamed > 0:
		return "promised for no day" + came
	case s.Promised:
		return fmt.Sprintf("promised for %s (%s)%s", day(s.Expected), s.By, came)
	case came != "":
		return came[2:]
	}
	return ""
}

// promisedLine is what is promised for another day than its usual time says, or not at all, for
// page 1; empty: nothing.
func promisedLine(in Input, pl plan.Plan) string {
	var out []string
	for _, l := range pl.Lost {
		s := in.Job.SupplyOf(string(l.Part), l.Quantity)
		if s.Promised && s.On.IsZero() {
			out = append(out, l.Name+", "+supplyWords(in, l.Part, l.Quantity))
		}
	}
	if len(out) == 0 {
		return ""
	}
	return sentence("Parts on their way: " + list(out, 4))
}

// arrivalWords is when a part arrives, after its name.
func arrivalWords(delivery string) string {
	if strings.HasPrefix(delivery, "here since") || strings.HasPrefix(delivery, "promised") {
		return ", " + delivery
	}
	return ", arrives in " + delivery
}

// latestDay is the later of two days.
func latestDay(a, b unit.Date) unit.Date {
	if a.Before(b) {
		return b
	}
	return a
}
