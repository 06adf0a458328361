package inspect

import (
	"math"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// handRun is cracks F1, F2, … of some lengths on one casting without a mesh, measured with a tape of
// 0.5 mm and a rule of 1.5 mm.
func handRun(rule *body.Procedure, lengths ...float64) *run {
	r := &run{places: []place{{Casting: &vehicle.Casting{Of: &body.Casting{ID: "C", Part: "P"}}, rule: rule}}, hands: map[int]*trace{}}
	r.in.Shop = &shop.Shop{Gauges: []shop.Gauge{{ID: "tape", Std: 0.5}, {ID: "rule", Std: 1.5}}}
	for i, mm := range lengths {
		r.found = append(r.found, Finding{ID: job.FindingID("F" + string(rune('1'+i))), Casting: "C", Part: "P", Kind: body.Crack, Located: true, Length: &Length{mm, 1}})
		r.hands[i] = &trace{in: &job.Finding{Kind: body.Crack}, at: &r.places[0]}
	}
	return r
}

func nextIs(gauge string, value float64, to string) job.HandReading {
	return job.HandReading{What: job.HandNext, Value: unit.Some(unit.MM(value)), Gauge: gauge, To: to}
}

// Two findings surely are apart by what was measured to the next less two standard uncertainties and
// what lies ahead of their ends; what was measured between them counts before what follows from others.
func TestApartByHand(t *testing.T) {
	nothing := nextIs("tape", 60, "")
	nothing.None = true
	for _, c := range []struct {
		name              string
		first, second     []job.HandReading
		ahead             [2]float64
		sure, direct, std float64
	}{
		{"nothing measured", nil, nil, [2]float64{}, 0, math.Inf(1), 0},
		{"from the first", []job.HandReading{nextIs("tape", 40, "F2")}, nil, [2]float64{}, 39, 40, 0.5},
		{"from the second", nil, []job.HandReading{nextIs("tape", 40, "F1")}, [2]float64{}, 39, 40, 0.5},
		{"the same twice, the rougher counts", []job.HandReading{nextIs("tape", 40, "F2")}, []job.HandReading{nextIs("rule", 40, "F1")}, [2]float64{}, 37, 40, 1.5},
		{"the same twice, turned", []job.HandReading{nextIs("rule", 40, "F2")}, []job.HandReading{nextIs("tape", 40, "F1")}, [2]float64{}, 37, 40, 1.5},
		{"the shorter counts", []job.HandReading{nextIs("rule", 41, "F2")}, []job.HandReading{nextIs("tape", 40, "F1")}, [2]float64{}, 39, 40, 0.5},
		{"another is the next", []job.HandReading{nextIs("tape", 50, "F3")}, nil, [2]float64{}, 49, math.Inf(1), 0},
		{"another is the next, and yet", []job.HandReading{nextIs("tape", 50, "F3")}, []job.HandReading{nextIs("tape", 40, "F1")}, [2]float64{}, 39, 40, 0.5},
		{"nothing is nearer", []job.HandReading{nothing}, nil, [2]float64{}, 59, math.Inf(1), 0},
		{"ends that run on", []job.HandReading{nextIs("tape", 40, "F2")}, nil, [2]float64{3, 4}, 33 - 2*math.Sqrt(0.25+49.0/3), 40, 0.5},
		{"nearer than that tells", []job.HandReading{nextIs("tape", 1, "F2")}, nil, [2]float64{0, 4}, -3 - 2*math.Sqrt(0.25+16.0/3), 1, 0.5},
	} {
		r := handRun(nil, 20, 10, 5)
		r.hands[0].in.Measured, r.hands[1].in.Measured = c.first, c.second
		r.hands[0].curve.ahead[1], r.hands[1].curve.ahead[0] = c.ahead[0], c.ahead[1]
		sure, direct := r.apartByHand(0, 1)
		if math.Abs(sure-c.sure) > 1e-12 || direct.mm != c.direct || direct.std != c.std {
			t.Errorf("%s: %v, %+v, want %v, %v ± %v", c.name, sure, direct, c.sure, c.direct, c.std)
		}
		back, again := r.apartByHand(1, 0)
		if back != sure || again.mm != direct.mm || again.std != direct.std {
			t.Errorf("%s: the other way round %v, %+v", c.name, back, again)
		}
	}
}

// The distance up to which cracks count as one: none without a rule, its gap, or the factors of a rule on
// lengths times all lengths on the casting with what lies ahead and between, 28 and more here.
func TestJoinLimitByHand(t *testing.T) {
	grouping := &body.Grouping{HalfSum: 0.5, Shorter: 0.25, Longer: 1}
	for _, c := range []struct {
		name string
		rule *body.Procedure
		set  func(r *run)
		want float64
	}{
		{"no rule", nil, nil, math.Inf(-1)},
		{"no gap", &body.Procedure{}, nil, math.Inf(-1)},
		{"a gap", &body.Procedure{GroupGap: 0.5}, nil, 0.5},
		{"by lengths", &body.Procedure{Grouping: grouping}, nil, 1.75 * 28},
		{"by lengths, and a smaller gap", &body.Procedure{GroupGap: 48, Grouping: grouping}, nil, 49},
		{"by lengths, and a larger gap", &body.Procedure{GroupGap: 50, Grouping: grouping}, nil, 50},
		{"and the way to the next", &body.Procedure{Grouping: grouping}, func(r *run) { r.hands[1].in.Measured = []job.HandReading{nextIs("tape", 4, "F1")} }, 1.75 * 32},
		{"and what lies ahead at both ends", &body.Procedure{Grouping: grouping}, func(r *run) { r.hands[0].curve.ahead = [2]float64{1, 3} }, 1.75 * 34},
		{"one is on another casting", &body.Procedure{Grouping: grouping}, func(r *run) { r.found[1].Casting, r.found[1].Length = "D", nil }, 1.75 * 20},
		{"one is no crack", &body.Procedure{Grouping: grouping}, func(r *run) { r.found[1].Kind, r.found[1].Length = "dent", nil }, 1.75 * 20},
		{"one of no length", &body.Procedure{Grouping: grouping}, func(r *run) { r.found[1].Length = nil }, math.Inf(1)},
		{"by depth too", &body.Procedure{Grouping: &body.Grouping{HalfSum: 0.5, Deeper: 0.25}}, nil, math.Inf(1)},
	} {
		r := handRun(c.rule, 20, 8)
		if c.set != nil {
			c.set(r)
		}
		if got := r.joinLimitByHand(0, []int{0, 1}); got != c.want && !(math.Abs(got-c.want-roundingMM) < 1e-12) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// A finding of which nobody knows the place may count as one with any crack of its casting, where cracks
// count as one at all.
func TestLostByHand(t *testing.T) {
	gap := &body.Procedure{GroupGap: 5}
	for _, c := range []struct {
		name string
		rule *body.Procedure
		set  func(r *run)
		want job.FindingID
	}{
		{"lost", gap, func(r *run) {}, "F2"},
		{"lost, by lengths", &body.Procedure{Grouping: &body.Grouping{HalfSum: 1}}, func(r *run) {}, "F2"},
		{"no rule", nil, func(r *run) {}, ""},
		{"none count as one", &body.Procedure{}, func(r *run) {}, ""},
		{"on another casting", gap, func(r *run) { r.found[1].Casting = "D" }, ""},
		{"a dent", gap, func(r *run) { r.found[1].Kind = "dent" }, ""},
		{"a dent asks", gap, func(r *run) { r.found[0].Kind = "dent" }, ""},
		{"the first of two", gap, func(r *run) { delete(r.hands, 2) }, "F2"},
	} {
		r := handRun(c.rule, 20, 8, 5)
		delete(r.hands, 1)
		c.set(r)
		if got := r.lostByHand(0); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// What is said of spacings and of groups that cannot be told, whole.
func TestWhatIsSaidOfPairsByHand(t *testing.T) {
	for _, c := range []struct {
		name     string
		set      func(b *bench)
		unknown  string // of the first
		contrary string
	}{
		{"not measured", func(b *bench) { b.said("F1", "A"); b.said("F2", "C") }, "spacing: measure the distance along the surface to the next finding", ""},
		{"a place not known", func(b *bench) { b.said("F1", "A", nextIs("tape", 40, "F2")); b.said("F2", "A").Zones = nil }, "spacing: where F2 lies is not known", ""},
		{"nothing said to be there", func(b *bench) { b.said("F1", "A", job.HandReading{What: job.HandNext, None: true}); b.said("F2", "C") }, "", "nothing else is said to be on the casting, but there is F2"},
		{"nearer than the next", func(b *bench) {
			b.said("F1", "A", nextIs("tape", 42, "F3"))
			b.said("F2", "A", nextIs("tape", 40, "F1"))
			b.said("F3", "A")
		}, "", "nothing is said to be nearer to it than 42.0 mm, but F2 was measured 40.0 mm from it"},
	} {
		b := handBench()
		c.set(b)
		r, notes := b.byHand(t)
		if c.unknown != "" && !slices.Contains(r.Findings[0].Unknown, c.unknown) {
			t.Errorf("%s: %q", c.name, r.Findings[0].Unknown)
		}
		said := slices.ContainsFunc(notes, func(n diag.Note) bool {
			return n.Code == "inspect.by-hand-contradicts" && n.Where == "F1" && n.Text == c.contrary
		})
		if said != (c.contrary != "") {
			t.Errorf("%s: %+v", c.name, notes)
		}
	}
}

// A crack of which nobody knows the place leaves the decision length of another open, and says so.
func TestLostCracksLeaveDecisionLengthsOpen(t *testing.T) {
	b := handBench()
	b.said("F1", "A", tape(job.HandLength, 20, ""))
	b.said("F2", "A", tape(job.HandLength, 10, "")).Zones = nil
	r, _ := b.byHand(t)
	if f := r.Findings[0]; f.Decision != nil || !slices.Contains(f.Unknown, "decision length: F2 may count as one with it, and where that lies is not known") {
		t.Errorf("%+v, %q", f.Decision, f.Unknown)
	}
}
