package inspect

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// A condition is met within its bounds, both included; never where nothing is on record, where there
// is no bound, or by what is no number.
func TestConditionsAtTheirBounds(t *testing.T) {
	type maybe = unit.Maybe[float64]
	some := func(v float64) maybe { return unit.Some(v) }
	var none maybe
	for _, c := range []struct {
		least, most, v maybe
		met            bool
		value, bound   string
	}{
		{some(5), some(60), some(5), true, "5 min", "5 min to 60 min"}, {some(5), some(60), some(60), true, "60 min", "5 min to 60 min"},
		{some(5), some(60), some(4.9), false, "4.9 min", "5 min to 60 min"}, {some(5), some(60), some(60.1), false, "60.1 min", "5 min to 60 min"},
		{some(5), some(60), none, false, "not on record", "5 min to 60 min"}, {some(0), some(60), none, false, "not on record", "0 min to 60 min"},
		{some(5), none, some(5), true, "5 min", "at least 5 min"}, {some(5), none, some(4), false, "4 min", "at least 5 min"},
		{none, some(60), some(60), true, "60 min", "at most 60 min"}, {none, some(60), some(61), false, "61 min", "at most 60 min"},
		{none, none, some(1), false, "1 min", "at most 0 min"}, {none, none, none, false, "not on record", "at most 0 min"},
		{some(5), none, some(math.NaN()), false, "NaN min", "at least 5 min"}, {none, some(5), some(math.NaN()), false, "NaN min", "at most 5 min"},
	} {
		got := condition(body.Bound{What: "dwell_min", Least: c.least, Most: c.most, Cite: "p", Status: "s"}, c.v)
		if want := (Condition{"penetration time", c.value, c.bound, c.met, "p", "s"}); got != want {
			t.Errorf("%+v, want %+v", got, want)
		}
	}
	seen := map[string]bool{}
	for _, what := range job.Conditions() {
		name, in := conditionWords(what)
		if name == what || in == "" || seen[name] {
			t.Errorf("%s is called %q in %q", what, name, in)
		}
		seen[name] = true
	}
	if name, in := conditionWords("smell"); name != "smell" || in != "" {
		t.Errorf("%q in %q", name, in)
	}
}

// An inspection counts on the casting it was held against, by its own method; a look counts with
// penetrant too, penetrant not with a look.
func TestWhichInspectionCounts(t *testing.T) {
	r := &run{}
	r.res.Inspections = []Judged{{ID: "I", Casting: "REAR", Method: body.Visual, Counts: true}, {ID: "I", Casting: "C", Method: body.Visual, Why: []string{"dark", "far"}}, {ID: "V", Casting: "C", Method: body.Visual, Counts: true}, {ID: "P", Casting: "C", Method: body.Penetrant, Counts: true}}
	for _, c := range []struct {
		id, casting string
		method      body.InspectionMethod
		why         string
	}{
		{"", "C", body.Visual, "it does not say in which inspection and under which conditions"}, {"X", "C", body.Visual, "inspection X is not on record"},
		{"I", "C", body.Visual, "inspection I does not count: dark; far"}, {"I", "REAR", body.Visual, ""}, {"I", "C", body.Penetrant, "inspection I was visual"},
		{"V", "C", body.Visual, ""}, {"V", "C", body.Penetrant, "inspection V was visual"}, {"P", "C", body.Penetrant, ""}, {"P", "C", body.Visual, ""}, {"V", "REAR", body.Visual, "inspection V is not on record"},
	} {
		p := &place{Casting: &vehicle.Casting{Of: &body.Casting{ID: body.CastingID(c.casting)}}}
		if j, why := r.counts(c.id, p, c.method); why != c.why || why == "" && (j.ID != c.id || string(j.Casting) != c.casting) {
			t.Errorf("%+v: %q", c, why)
		}
	}
}

// The last entry of an area counts, or that of the area it lies in; a word that nobody knows is none.
func TestWhichEntryOfAnArea(t *testing.T) {
	r := &run{in: Input{Job: &job.State{Areas: []job.AreaSeen{{Area: "A", State: job.StateSeen, By: "1"}, {Area: "A.ribs", State: job.StatePenetrant, By: "2"}, {Area: "A.ribs", State: "smelt", By: "3"}, {Area: "B", State: job.StateNotReachable, By: "4"}, {Area: "", State: job.StateSeen, By: "5"}, {Area: "D", State: job.StatePenetrant, By: "6"}}}}}
	for _, c := range []struct {
		id, within string
		state      job.AreaState
		by         string
		own        bool
	}{
		{"A", "", job.StateSeen, "1", true}, {"A.ribs", "A", job.StateNotYet, "3", true}, {"A.bores", "A", job.StateSeen, "1", false}, {"B", "", job.StateNotReachable, "4", true}, {"B.ribs", "B", job.StateNotReachable, "4", false},
		{"C", "", job.StateNotYet, "", false}, {"C.ribs", "C", job.StateNotYet, "", false}, {"D.ribs", "D", job.StatePenetrant, "6", false}, {"A.bores", "", job.StateNotYet, "", false},
	} {
		if e, own := r.entryFor(area{id: c.id, within: c.within}); e.State != c.state || e.By != c.by || own != c.own {
			t.Errorf("%+v: %+v, own %v", c, e, own)
		}
	}
}

// Why an area is not covered, and what is said of one that is.
func TestWordsOfAnArea(t *testing.T) {
	for _, c := range []struct {
		c    Coverage
		want string
	}{
		{Coverage{State: job.StateNotYet}, "not inspected yet"}, {Coverage{State: job.StateNotReachable}, "could not be reached"}, {Coverage{State: job.StateSeen}, "not inspected yet"},
		{Coverage{State: job.StateSeen, Fails: "dark"}, "looked at, but that does not count: dark"}, {Coverage{State: job.StatePenetrant, Fails: "dark"}, "inspected with penetrant, but that does not count: dark"},
	} {
		if got := c.c.why(); got != c.want {
			t.Errorf("%+v: %q", c.c, got)
		}
	}
	c := Coverage{Name: "rib", Zone: "A", State: job.StateSeen, FindsMM: 3}
	if got := coveredText(c, nil); got != "rib: no damage found, inspected by eye; a crack shorter than 3.0 mm may have been missed" {
		t.Errorf("%q", got)
	}
	c.State, c.By = job.StatePenetrant, "T"
	if got := coveredText(c, []job.FindingID{"F1", "F2"}); got != "rib: no damage found in zone A beyond F1 and F2, inspected with penetrant by T; a crack shorter than 3.0 mm may have been missed" {
		t.Errorf("%q", got)
	}
	for n, want := range []string{"", "a", "a and b", "a, b and c"} {
		if got := joinWords([]string{"a", "b", "c"}[:n]); got != want {
			t.Errorf("%d words: %q", n, got)
		}
	}
	if a, b := zoneWords([]job.FindingID{"A"}), zoneWords([]job.FindingID{"A", "B"}); a != "zone A" || b != "zones A and B" {
		t.Errorf("%q, %q", a, b)
	}
	if a, b := placeText(area{name: "rib", zone: "A"}), placeText(area{name: "rib"}); a != "rib (zone A)" || b != "rib" {
		t.Errorf("%q, %q", a, b)
	}
}

// An area that lies in one that is open, and has no entry of its own, is told with that one; with an
// entry of its own, or where the other is covered, it is open for itself.
func TestOpenAreas(t *testing.T) {
	for _, own := range []bool{true, false} {
		for _, covered := range []bool{true, false} {
			for _, whole := range []bool{true, false} {
				r := Result{Coverage: []Coverage{{Area: "A", Covered: whole}, {Area: "A.ribs", Part: "A", Own: own, Covered: covered}, {Area: "B"}, {Area: "J", Part: "", Covered: true}}}
				var got, want []string
				for _, c := range r.Open() {
					got = append(got, c.Area)
				}
				if !whole {
					want = append(want, "A")
				}
				if !covered && (own || whole) {
					want = append(want, "A.ribs")
				}
				if want = append(want, "B"); !slices.Equal(got, want) {
					t.Errorf("own %v, covered %v, the whole %v: open %v, want %v", own, covered, whole, got, want)
				}
			}
		}
	}
}

// Which area of a zone is open: the first that is not covered, of the zone itself or of nobody knows
// where, on its casting; and the zone where no area is in it.
func TestOpenAreaOfAZone(t *testing.T) {
	c := func(id, casting, zone string, covered bool) Coverage {
		return Coverage{Area: id, Casting: body.CastingID(casting), Zone: body.ZoneID(zone), Covered: covered}
	}
	for _, x := range []struct {
		all  []Coverage
		want string
	}{
		{nil, "of zone A"}, {[]Coverage{c("1", "C", "A", true)}, ""}, {[]Coverage{c("1", "C", "A", false)}, "1"}, {[]Coverage{c("1", "D", "A", true)}, "of zone A"}, {[]Coverage{c("1", "C", "B", false)}, "of zone A"},
		{[]Coverage{c("1", "C", "", true)}, "of zone A"}, {[]Coverage{c("1", "C", "", false)}, "1"}, {[]Coverage{c("1", "C", "A", true), c("2", "C", "", true)}, ""},
		{[]Coverage{c("1", "C", "A", true), c("2", "C", "B", false), c("3", "D", "A", false), c("4", "C", "A", false), c("5", "C", "A", false)}, "4"},
		{[]Coverage{c("2", "C", "", true), c("1", "C", "A", true)}, ""},
	} {
		r := &run{res: Result{Coverage: x.all}}
		if got := r.openIn("C", "A"); got != x.want {
			t.Errorf("%+v: %q, want %q", x.all, got, x.want)
		}
	}
}

// How near a place is to the side of the casting that was hit, by the axes of the body: the casting
// is 200 by 100 mm, the place 30 mm from x = 0 and 20 mm from y = 0.
func TestDistanceFromTheSideThatWasHit(t *testing.T) {
	b := newBench(plate())
	rn := &run{in: b.input(t)}
	rn.prepare()
	p := &rn.places[0]
	at := geom.Vec{30, 20, 0}
	for _, forward := range []bool{false, true} {
		for _, leftward := range []bool{false, true} {
			b.body.Axes = body.Axes{}
			front, rear, left, right := 30.0, 170.0, 20.0, 80.0 // X rearward, Y to the right
			if forward {
				b.body.Axes.X = body.Forward
				front, rear = rear, front
			}
			if leftward {
				b.body.Axes.Y = body.Left
				left, right = right, left
			}
			for from, want := range map[string]float64{string(job.FromFront): front, string(job.FromRear): rear, string(job.FromLeft): left, string(job.FromRight): right,
				string(job.FromFrontLeft): math.Hypot(front, left), string(job.FromFrontRight): math.Hypot(front, right), string(job.FromRearLeft): math.Hypot(rear, left), string(job.FromRearRight): math.Hypot(rear, right)} {
				b.job.Impact = job.Impact{From: job.ImpactSide(from)}
				near(t, fmt.Sprint(from, " forward ", forward, " leftward ", leftward), rn.reach(p, []geom.Vec{{100, 50, 0}, at}[1:]), want, 1e-9)
				b.job.Impact.At = []geom.Vec{{30, 20, 7}, {130, 20, 0}}
				near(t, "from the place that was hit", rn.reach(p, []geom.Vec{at}), 7, 1e-12)
			}
		}
	}
	b.job.Impact = job.Impact{From: job.FromFront}
	b.body.Axes = body.Axes{}
	near(t, "the nearest of several", rn.reach(p, []geom.Vec{{90, 0, 0}, {40, 0, 0}, {60, 0, 0}}), 40, 0)
	if got := rn.reach(p, nil); got != 0 {
		t.Errorf("of no point: %g", got)
	}
	b.job.Impact.From = "above"
	if got := rn.reach(p, []geom.Vec{at}); got != 0 {
		t.Errorf("nobody knows where: %g", got)
	}
	b.job.Impact.From = job.FromFront
	bare := &place{Casting: &vehicle.Casting{Of: p.Of}}
	if got := rn.reach(bare, []geom.Vec{at}); got != 0 {
		t.Errorf("without a mesh: %g", got)
	}
	// of a region, by all of its surface: zone B begins at x = 100 mm
	b.job.Impact.At = []geom.Vec{{90, 50, 0}, {60, 50, 0}}
	near(t, "of zone B", rn.reachOf(p, p.Region(p.Of.Zones[1])), 10, 1e-9)
	near(t, "of zone A", rn.reachOf(p, p.Region(p.Of.Zones[0])), 0, 1e-9)
	b.job.Impact.At = nil
	near(t, "of zone B from the front", rn.reachOf(p, p.Region(p.Of.Zones[1])), 100, 1e-9)
	if got := rn.reachOf(p, vehicle.Region{}); got != 0 {
		t.Errorf("of no region: %g", got)
	}
}

// The first rule that fits says by which method an area is asked for, and why; the surest where none
// does. A zone that nobody knows fits rules of every zone and load path.
func TestFirstRuleThatFitsAsks(t *testing.T) {
	within := unit.Some(unit.MM(50))
	for _, c := range []struct {
		name    string
		rules   []body.AreaRule
		zone    body.ZoneID
		reach   float64
		method  body.InspectionMethod
		because string
	}{
		{"none", nil, "A", 0, body.Penetrant, "no rule of R speaks of it, so the surest method is asked for"},
		{"of another sort", []body.AreaRule{{ID: "1", Of: []body.AreaKind{"ribs"}, Method: "visual"}}, "A", 0, body.Penetrant, "no rule of R speaks of it, so the surest method is asked for"},
		{"the first", []body.AreaRule{{ID: "1", Of: []body.AreaKind{"ribs", "zone"}, Method: "visual", Cite: "p"}, {ID: "2", Of: []body.AreaKind{"zone"}, Method: body.Penetrant}}, "A", 0, "visual", "visual asked for by R, rule 1 (p)"},
		{"in its zone", []body.AreaRule{{ID: "1", Of: []body.AreaKind{"zone"}, Zones: []body.ZoneID{"B", "A"}, Method: "visual", Cite: "p"}}, "A", 0, "visual", "visual asked for by R, rule 1 (p)"},
		{"in another zone", []body.AreaRule{{ID: "1", Of: []body.AreaKind{"zone"}, Zones: []body.ZoneID{"B"}, Method: "visual"}}, "A", 0, body.Penetrant, "no rule"},
		{"in a zone nobody knows", []body.AreaRule{{ID: "1", Of: []body.AreaKind{"zone"}, Zones: []body.ZoneID{"B"}, Method: "visual", Cite: "p"}}, "", 0, "visual", "visual asked for by R, rule 1 (p)"},
		{"on the load path", []body.AreaRule{{ID: "1", Of: []body.AreaKind{"zone"}, LoadPath: true, Method: "visual", Cite: "p"}}, "A", 0, "visual", "visual asked for by R, rule 1 (p), on the load path"},
		{"not on the load path", []body.AreaRule{{ID: "1", Of: []body.AreaKind{"zone"}, LoadPath: true, Method: "visual"}}, "B", 0, body.Penetrant, "no rule"},
		{"perhaps on the load path", []body.AreaRule{{ID: "1", Of: []body.AreaKind{"zone"}, LoadPath: true, Method: "visual"}}, "", 0, "visual", "visual asked for"},
		{"near", []body.AreaRule{{ID: "1", Of: []body.AreaKind{"zone"}, Within: within, Method: "visual", Cite: "p"}}, "A", 50, "visual", "visual asked for by R, rule 1 (p): 50.0 mm from the impact, within 50.0 mm"},
		{"far", []body.AreaRule{{ID: "1", Of: []body.AreaKind{"zone"}, Within: within, Method: "visual"}}, "A", 50.1, body.Penetrant, "no rule"},
		{"nobody knows how far", []body.AreaRule{{ID: "1", Of: []body.AreaKind{"zone"}, Within: within, Method: "visual"}}, "A", math.Inf(1), body.Penetrant, "no rule"},
	} {
		b := &body.Body{Castings: []body.Casting{{Zones: []body.Zone{{ID: "A", LoadPath: true}, {ID: "B"}}}}}
		r := &run{in: Input{Body: b}}
		a := area{zone: c.zone, of: body.AreaZone, reachMM: c.reach}
		r.ask(&place{rule: &body.Procedure{ID: "R", Areas: c.rules}}, &a)
		if a.method != c.method || !strings.HasPrefix(a.because, c.because) {
			t.Errorf("%s: %s, %q", c.name, a.method, a.because)
		}
	}
}

// Cracks and breaks of a casting or a zone are counted, those of a group as one; one without a place
// may be one more, and what is no crack is none.
func TestCracksAreCounted(t *testing.T) {
	f := func(kind body.FindingKind, casting, group string, located bool, zones ...body.ZoneID) Finding {
		x := Finding{Kind: kind, Casting: body.CastingID(casting), Group: group, Located: located}
		for _, z := range zones {
			if located {
				x.Zones = append(x.Zones, ZoneShare{Zone: z})
			} else {
				x.MayLieIn = append(x.MayLieIn, z)
			}
		}
		return x
	}
	for _, c := range []struct {
		name           string
		all            []Finding
		casting, zoneA int
	}{
		{"none", nil, 0, 0},
		{"one", []Finding{f("crack", "C", "", true, "A")}, 1, 1},
		{"a break", []Finding{f("break", "C", "", true, "B")}, 1, 0},
		{"a dent", []Finding{f("dent", "C", "", true, "A")}, 0, 0},
		{"on no casting", []Finding{f("crack", "", "", true, "A")}, 0, 0},
		{"on another", []Finding{f("crack", "D", "", true, "A")}, 0, 1},
		{"a group", []Finding{f("crack", "C", "G", true, "A"), f("crack", "C", "G", true, "A"), f("crack", "C", "H", true, "B")}, 2, 1},
		{"alone twice", []Finding{f("crack", "C", "", true, "A"), f("crack", "C", "", true, "A", "B")}, 2, 2},
		{"one without a place in a group", []Finding{f("crack", "C", "G", false, "A", "B"), f("crack", "C", "G", true, "A")}, 2, 2},
		{"the same the other way round", []Finding{f("crack", "C", "G", true, "A"), f("crack", "C", "G", false, "A", "B"), f("crack", "C", "G", true, "A")}, 2, 2},
	} {
		r := Result{Findings: c.all}
		if a, b := r.CracksOnCasting("C"), r.CracksInZone("A"); a != c.casting || b != c.zoneA {
			t.Errorf("%s: %d on the casting, %d in the zone", c.name, a, b)
		}
	}
}

// A finding is found by its identity alone.
func TestFindingOfAResult(t *testing.T) {
	r := Result{Findings: []Finding{{ID: "F1", Part: "P1"}, {ID: "F2", Part: "P2"}}}
	for id, part := range map[job.FindingID]body.PartID{"F1": "P1", "F2": "P2", "F3": "", "": ""} {
		if f, ok := r.Finding(id); ok != (part != "") || f.Part != part {
			t.Errorf("%q: %+v, %v", id, f, ok)
		}
	}
}
