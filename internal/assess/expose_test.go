package assess

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// exposed is the world with one area to be inspected: behind the left cover, 200 min of handling
// at 60.00 an hour, or the right one, 201 (constructed).
func exposed() Input {
	in, _ := world()
	in.Body.Inspect = []body.Area{{ID: "A-Z", Name: "zone", Casting: "front", Zone: "Z", Method: "visual", Finds: 4}}
	return in
}

// The bill is that of the plan, and what is done until the area is seen is told apart:
// half of the handling.
func TestExposeIsPriced(t *testing.T) {
	x, notes := Expose(exposed(), nil, nil)
	if x.Plan.OpeningCost != 20000 || x.Bill.Total != 20000 || x.First != 10000 || !x.Least || len(Stopping(notes)) > 0 || len(x.Stages) != 1 {
		t.Errorf("cost %d, total %d, until seen %d, cheapest %v, %v", x.Plan.OpeningCost, x.Bill.Total, x.First, x.Least, notes)
	}
}

// Nothing is called the cheapest where a price is missing, and nobody starts on a vehicle that
// is not made safe; a zone of which nothing says what to inspect is told.
func TestExposeFailsClosed(t *testing.T) {
	in := exposed()
	in.Shop.Rates = nil
	if x, notes := Expose(in, nil, nil); x.Least || x.Bill.Complete || len(Stopping(notes)) == 0 {
		t.Errorf("without a rate: cheapest %v, %v", x.Least, notes)
	}
	in = exposed()
	in.Shop.People = nil
	if x, notes := Expose(in, nil, nil); x.Least || len(Stopping(notes)) == 0 {
		t.Errorf("without people: cheapest %v, %v", x.Least, notes)
	}
	in = exposed()
	in.Job.Hazards = []job.Hazard{{Kind: body.HighVoltage, Text: "plug torn."}}
	if x, _ := Expose(in, nil, nil); !slices.Equal(x.Stop, []string{"plug torn: not made safe yet"}) {
		t.Errorf("%q", x.Stop)
	}
	in.Job.Hazards[0].Cleared, in.Job.Hazards[0].By, in.Job.Hazards[0].On = true, "W1", unit.Date{Year: 2026, Month: 3, Day: 3}
	if x, _ := Expose(in, nil, nil); x.Stop != nil {
		t.Errorf("made safe: %q", x.Stop)
	}
	in = exposed()
	in.Body.Inspect = nil
	if x, notes := Expose(in, nil, nil); len(x.Open()) != 0 || !strings.Contains(strings.Join(codes(notes), " "), "inspect.zone-without-area") {
		t.Errorf("%v", notes)
	}
}

// What earlier jobs found where this one is to be inspected: one in which the area was
// inspected and a crack lay in its zone, one in which it was not inspected, and one of another
// body, which says nothing (constructed).
func TestExposeTellsWhatEarlierJobsFound(t *testing.T) {
	in := exposed()
	in.Body.ID = "van"
	in.Body.Procedures = []body.Procedure{{ID: "P", Revision: "A", Casting: "front", Effective: unit.Date{Year: 2026, Month: 1, Day: 1},
		Methods: []body.Method{{Method: "visual", Finds: 4, Bounds: []body.Bound{{What: "light_lx", Least: unit.Some(350.0)}}}}}}
	x, _ := Expose(in, nil, nil)
	earlier := func(inspected bool) Input {
		o := in
		s := *in.Job
		s.Areas, s.Looks = nil, []job.Inspection{{ID: "VT", Method: "visual", Light: unit.Some(500.0), By: "W1", On: unit.Date{Year: 2026, Month: 3, Day: 3}}}
		s.Checks = []job.Check{{Procedure: "P", Revision: "A", By: "W1", On: unit.Date{Year: 2026, Month: 3, Day: 3}}}
		if inspected {
			s.Areas = []job.AreaSeen{{Area: "A-Z", State: job.StateSeen, Look: "VT", By: "W1", On: unit.Date{Year: 2026, Month: 3, Day: 3}}}
		}
		o.Job = &s
		return o
	}
	other := earlier(true)
	b := *in.Body
	b.ID = "car"
	other.Body = &b
	if left := x.Earlier(in, []Input{earlier(true), earlier(false), other}); left != 1 || len(x.Sums.Before) != 1 || x.Sums.Before[0] != (cost.Before{Area: "A-Z", Found: 1, Of: 1}) {
		t.Errorf("%d left, %+v", left, x.Sums.Before)
	}
	if x.Earlier(in, []Input{earlier(false)}); len(x.Sums.Before) != 0 {
		t.Errorf("%+v", x.Sums.Before)
	}
}
