package compare

import (
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/shop"
)

// By hand: a line takes the findings of its casting for which it is allowed and that nothing took
// before; a new casting takes all on it, waits for what is not allowed, and is refused where it is
// forbidden for one. Their findings stand by their names, however they hang together.
func TestWhatALineAndANewCastingTake(t *testing.T) {
	ids := func(s ...job.FindingID) []job.FindingID { return s }
	line := func(v decide.Verdict) option { return option{body.SectionOff, "L1", v, ""} }
	whole := func(v decide.Verdict) option { return option{body.ReplaceCasting, "", v, "so it is"} }
	set := func(w ...ward) *finder {
		in := Input{Body: &body.Body{Parts: []body.Part{{ID: "P", Off: 1, On: 1, Comes: body.Freely}}, Treatments: []body.Treatment{{ID: "T-C", Kind: body.ReplaceCasting}}, Castings: []body.Casting{{ID: "K", Part: "P"}, {ID: "O"}}, Lines: []body.Line{{ID: "L1", Casting: "K", Treatment: "T-S", Piece: "PIECE"}, {ID: "L2", Casting: "K"}}}}
		return &finder{wards: w, in: in, weigh: plan.NewWeigher(plan.Input{Body: in.Body, Job: &job.State{}, Shop: &shop.Shop{}}), gaps: map[string][]plan.Gap{}}
	}
	for _, c := range []struct {
		act     action
		done    map[int]int
		wards   []ward
		want    []job.FindingID
		waits   []string
		refused bool
		ask     bool
	}{
		{action{line: "L1", casting: "K"}, map[int]int{}, []ward{{findings: ids("F2", "F9"), casting: "K", options: []option{line(decide.Allowed)}}, {findings: ids("F1"), casting: "K", options: []option{line(decide.Allowed)}}, {findings: ids("F4"), casting: "K", options: []option{line(decide.Ask)}},
			{findings: ids("F5"), casting: "O", options: []option{line(decide.Allowed)}}, {findings: ids("F6"), casting: "K"}}, ids("F1", "F2", "F9"), nil, false, false},
		{action{line: "L1", casting: "K"}, map[int]int{0: 7}, []ward{{findings: ids("F2"), casting: "K", options: []option{line(decide.Allowed)}}, {findings: ids("F1"), casting: "K", options: []option{line(decide.Allowed)}}}, ids("F1"), nil, false, false},
		{action{casting: "K"}, map[int]int{}, []ward{{findings: ids("F5"), casting: "O"}, {findings: ids("F2", "F9"), casting: "K", options: []option{whole(decide.Allowed)}}, {findings: ids("F1"), casting: "K"}}, ids("F1", "F2", "F9"), []string{"F1"}, false, true},
		{action{casting: "K"}, map[int]int{}, []ward{{findings: ids("F2"), casting: "K", options: []option{whole(decide.Undecided)}}, {findings: ids("F1"), casting: "K", options: []option{whole(decide.Ask)}}, {findings: ids("F3"), casting: "K", options: []option{whole(decide.Undecided)}}}, ids("F1", "F2", "F3"), []string{"F2", "F1", "F3"}, false, true},
		{action{casting: "K"}, map[int]int{}, []ward{{findings: ids("F2"), casting: "K", options: []option{whole(decide.Forbidden)}}}, ids("F2"), nil, true, false},
	} {
		it, waits, refusal := set(c.wards...).cover(c.act, 3, c.done)
		if !slices.Equal(it.Findings, c.want) || !slices.Equal(waits, c.waits) || (refusal != "") != c.refused || it.Ask != c.ask || it.Open != (len(c.waits) > 0) {
			t.Errorf("%+v: %+v, waits %v, refused %q", c.act, it, waits, refusal)
		}
		if c.act.line != "" && (it.Kind != body.SectionOff || it.Line != "L1" || it.Treatment != "T-S" || it.Part != "PIECE") || c.act.line == "" && (it.Kind != body.ReplaceCasting || it.Part != "P") {
			t.Errorf("%+v: %+v", c.act, it)
		}
		for k, w := range c.wards {
			taken := slices.Contains(c.want, w.findings[0])
			if at, ok := c.done[k]; ok != (taken || at == 7) || taken && at != 3 {
				t.Errorf("%+v: ward %d is taken by %d: %v", c.act, k, at, ok)
			}
		}
	}
}

// Storage of 90.00 for three days is 30.00 a day where days are drawn, with a tax of a tenth 33.00;
// of one day all of it. Where none are drawn, or the plan has none, it is a sum as it stands.
func TestStorageByTheDay(t *testing.T) {
	for _, c := range []struct {
		id            string
		calendar      int
		drawn         bool
		perDay, net   float64
		fixed, fixed0 float64
	}{{"D", 3, true, 3300, 3000, 0, 0}, {"D", 1, true, 9900, 9000, 0, 0}, {"D", 0, true, 0, 0, 9900, 9000}, {"D", 3, false, 0, 0, 9900, 9000}, {"", 3, true, 0, 0, 0, 0}} {
		d := &drawing{in: Input{Shop: &shop.Shop{Taxes: []shop.Tax{{ID: "t", Rate: 0.1, On: []shop.AmountKind{cost.LineStorage}}, {ID: "o", Rate: 0.5, On: []shop.AmountKind{cost.LineParts}}}}},
			routes: []contender{{route: Route{Plan: plan.Plan{Calendar: c.calendar}}, storage: cost.Line{ID: c.id, Kind: cost.LineStorage, Sum: 9000}, gross: map[string]float64{}, net: map[string]float64{}}}}
		if c.drawn {
			d.days = []*duration{{}}
		}
		d.stores()
		near := func(a, b float64) bool { return a-b < 1e-9 && b-a < 1e-9 }
		if r := d.routes[0]; !near(r.perDay, c.perDay) || !near(r.perNet, c.net) || !near(r.fixed, c.fixed) || !near(r.fixedNet, c.fixed0) {
			t.Errorf("%+v: %+v", c, r)
		}
	}
}
