package inspect

import (
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// tapeStd is how well the tape of these tests measures.
const tapeStd = 0.5

// handBench is a casting of three zones in a row, A, B and C, without a mesh, all of it inspected.
// Its procedure adds 4 mm for each tip seen by eye and counts cracks within 5 mm as one.
func handBench() *bench {
	b := newBench(nil)
	k := &b.body.Castings[0]
	k.Mesh, k.MeshStd = "", 0
	k.Zones = []body.Zone{{ID: "A", Name: "A", Neighbours: []body.ZoneID{"B"}}, {ID: "B", Name: "B", Neighbours: []body.ZoneID{"A", "C"}}, {ID: "C", Name: "C", Neighbours: []body.ZoneID{"B"}}}
	b.body.Lines = []body.Line{{ID: "L1", Casting: "C", Margin: 10}}
	for _, z := range k.Zones {
		b.body.Inspect = append(b.body.Inspect, body.Area{ID: "A-" + string(z.ID), Name: string(z.ID), Casting: "C", Zone: z.ID, Method: "visual"})
		b.job.Areas = append(b.job.Areas, job.AreaSeen{Area: "A-" + string(z.ID), State: "penetrant", By: "T", On: benchDay, Look: "PT"})
	}
	return b
}

// said adds a crack in a zone with what was measured of it.
func (b *bench) said(id job.FindingID, zone body.ZoneID, measured ...job.HandReading) *job.Finding {
	f := b.crack(id, 0)
	f.Zones, f.Measured = []body.ZoneID{zone}, measured
	return f
}

// tape is a reading with the tape of the shop.
func tape(what job.ByHand, value float64, to string) job.HandReading {
	return job.HandReading{What: what, Value: unit.Some(unit.MM(value)), Gauge: "tape", To: to}
}

func (b *bench) byHand(t *testing.T) (Result, []diag.Note) {
	t.Helper()
	sh := benchShop()
	sh.Gauges = []shop.Gauge{{ID: "tape", Name: "Tape", Std: tapeStd}}
	return Run(Input{Body: &b.body, Job: &b.job, Vehicle: vehicle.New(&b.body, nil), Shop: sh})
}

func zonesOf(f Finding) string {
	var out []string
	for _, z := range f.Zones {
		w := string(z.Zone)
		if z.Touches {
			w += "?"
		}
		out = append(out, w)
	}
	return strings.Join(out, " ")
}

// TestZonesByHand: the zones that were said, and those that border on them unless the border was
// measured to be surely away (2 standard uncertainties, JCGM 100:2008 6.2), tips allowed for.
func TestZonesByHand(t *testing.T) {
	for _, c := range []struct {
		name string
		set  func(*bench, *job.Finding)
		want string
	}{
		{"nothing is said of the border", func(*bench, *job.Finding) {}, "A B?"},
		{"the border is away", func(_ *bench, f *job.Finding) { f.Measured = []job.HandReading{tape(job.HandBorder, 1.1, "B")} }, "A"},
		{"the border is within the uncertainty", func(_ *bench, f *job.Finding) { f.Measured = []job.HandReading{tape(job.HandBorder, 0.9, "B")} }, "A B?"},
		{"it may run on to the border", func(_ *bench, f *job.Finding) {
			f.Tips, f.Measured = []body.TipMethod{"visual", "penetrant"}, []job.HandReading{tape(job.HandBorder, 5, "B")}
		}, "A B?"},
		{"no border nearer than that", func(_ *bench, f *job.Finding) {
			f.Measured = []job.HandReading{{What: job.HandBorder, Value: unit.Some[unit.MM](30), None: true, Gauge: "tape"}}
		}, "A"},
		{"the body does not say what borders on what", func(b *bench, _ *job.Finding) { b.body.Castings[0].Zones[0].Neighbours = nil }, "A B? C?"},
		{"across a border", func(_ *bench, f *job.Finding) { f.Zones = []body.ZoneID{"A", "B"} }, "A B C?"},
		{"the only zone", func(b *bench, _ *job.Finding) { b.body.Castings[0].Zones = b.body.Castings[0].Zones[:1] }, "A"},
		{"a gauge that the shop does not have", func(_ *bench, f *job.Finding) {
			f.Measured = []job.HandReading{{What: job.HandBorder, Value: unit.Some[unit.MM](30), Gauge: "thread"}}
		}, "A B?"},
		{"its own uncertainty", func(_ *bench, f *job.Finding) {
			f.Measured = []job.HandReading{{What: job.HandBorder, Value: unit.Some[unit.MM](30), Std: 16}}
		}, "A B?"},
	} {
		b := handBench()
		c.set(b, b.said("F1", "A"))
		r, _ := b.byHand(t)
		if got := zonesOf(r.Findings[0]); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// TestLengthsByHand: decision lengths from tapes alone. Of cracks that may count as one the lengths
// and the gaps between them are added; what was not measured leaves it open.
func TestLengthsByHand(t *testing.T) {
	length, next := func(mm float64) job.HandReading { return tape(job.HandLength, mm, "") }, func(mm float64, to string) job.HandReading { return tape(job.HandNext, mm, to) }
	none := job.HandReading{What: job.HandNext, None: true}
	for _, c := range []struct {
		name string
		set  func(*bench)
		want float64 // of F1; 0: not known
	}{
		{"alone, and nobody measured what is next", func(b *bench) { b.said("F1", "A", length(20)) }, 20},
		{"two tips seen by eye", func(b *bench) { b.said("F1", "A", length(20)).Tips = []body.TipMethod{"visual", "visual"} }, 28},
		{"not measured", func(b *bench) { b.said("F1", "A") }, 0},
		{"far from the next", func(b *bench) {
			b.said("F1", "A", length(20), next(9, "F2"))
			b.said("F2", "A", length(7), next(9, "F1"))
		}, 20},
		{"near the next", func(b *bench) { b.said("F1", "A", length(20), next(5.9, "F2")); b.said("F2", "A", length(7)) }, 32.9},
		{"the next one says so alone", func(b *bench) { b.said("F1", "A", length(20)); b.said("F2", "A", length(7), next(4, "F1")) }, 31},
		{"nobody measured between", func(b *bench) { b.said("F1", "A", length(20)); b.said("F2", "A", length(7)) }, 0},
		{"far as allowed for, near with its tips", func(b *bench) {
			b.said("F1", "A", length(20), next(13, "F2")).Tips = []body.TipMethod{"penetrant", "visual"}
			b.said("F2", "A", length(7), next(13, "F1"))
		}, 44},
		{"pairs whose distance nobody measured", func(b *bench) {
			b.said("F1", "A", length(20), next(3, "F2"))
			b.said("F2", "A", length(7), next(3, "F1"))
			b.said("F3", "A", length(7), next(3, "F4"))
			b.said("F4", "A", length(7), next(3, "F3"))
		}, 0},
		{"a chain", func(b *bench) {
			b.said("F1", "A", length(20), next(3, "F2"))
			b.said("F2", "A", length(7), next(3, "F1"))
			b.said("F3", "A", length(7), next(3, "F2"))
		}, 40},
		{"a crack of which nobody knows where", func(b *bench) { b.said("F1", "A", length(20), none); b.said("F2", "A").Zones = nil }, 0},
		{"a dent beside it", func(b *bench) { b.said("F1", "A", length(20)); b.said("F2", "A").Kind = "dent" }, 20},
		{"a group with one of no length", func(b *bench) { b.said("F1", "A", length(20), next(3, "F2")); b.said("F2", "A", next(3, "F1")) }, 0},
		{"a rule beyond the gap", func(b *bench) {
			b.body.Procedures[0].Grouping = &body.Grouping{Name: "half sum", HalfSum: 1}
			b.said("F1", "A", length(20), next(30, "F2"))
			b.said("F2", "A", length(7), next(30, "F1"))
		}, 57},
	} {
		b := handBench()
		c.set(b)
		r, _ := b.byHand(t)
		f := r.Findings[0]
		got := 0.0
		if f.Decision != nil {
			got = f.Decision.MM
		}
		near(t, c.name, got, c.want, 1e-9)
		if c.want == 0 && len(f.Unknown) == 0 {
			t.Errorf("%s: nothing says why", c.name)
		}
	}
}

// TestSpacingByHand: known as it was measured, from the one or the other; and as far as was looked.
func TestSpacingByHand(t *testing.T) {
	next := func(mm float64, to string) job.HandReading { return tape(job.HandNext, mm, to) }
	open := func(b *bench, area string) {
		b.job.Areas = slices.DeleteFunc(b.job.Areas, func(a job.AreaSeen) bool { return a.Area == area })
	}
	for _, c := range []struct {
		name string
		set  func(*bench)
		to   string  // empty: not known
		mm   float64 // nearest that surely is
		open float64 // nearest where something may be; -1: nowhere
	}{
		{"alone on an inspected casting", func(b *bench) { b.said("F1", "A") }, None, 0, -1},
		{"alone, its zone not inspected", func(b *bench) { b.said("F1", "A"); open(b, "A-A") }, None, 0, 0},
		{"another zone not inspected, the border not measured", func(b *bench) { b.said("F1", "A"); open(b, "A-C") }, None, 0, 0},
		{"another zone not inspected, the border measured", func(b *bench) { b.said("F1", "A", tape(job.HandBorder, 30, "B")); open(b, "A-C") }, None, 0, 30},
		{"measured", func(b *bench) { b.said("F1", "A", next(40, "F2")); b.said("F2", "C") }, "F2", 40, -1},
		{"measured from the other alone", func(b *bench) { b.said("F1", "A"); b.said("F2", "C", next(40, "F1")) }, "", 0, 0},
		{"tips of both may run on", func(b *bench) {
			b.said("F1", "A", next(40, "F2")).Tips = []body.TipMethod{"visual", "penetrant"}
			b.said("F2", "C").Tips = []body.TipMethod{"visual", "visual"}
		}, "F2", 32, -1},
		{"nothing nearer than that", func(b *bench) {
			b.said("F1", "A", job.HandReading{What: job.HandNext, None: true, Value: unit.Some[unit.MM](60), Gauge: "tape"})
			b.said("F2", "C")
		}, None, 0, 60},
		{"nobody knows where the other lies", func(b *bench) { b.said("F1", "A", next(40, "F2")); b.said("F2", "A").Zones = nil }, "", 0, 0},
		{"nothing at all is said to be there", func(b *bench) { b.said("F1", "A", job.HandReading{What: job.HandNext, None: true}); b.said("F2", "C") }, "", 0, 0},
	} {
		b := handBench()
		c.set(b)
		r, _ := b.byHand(t)
		f := r.Findings[0]
		if f.Spacing == nil || c.to == "" {
			if f.Spacing != nil || c.to != "" {
				t.Errorf("%s: %+v", c.name, f.Spacing)
			}
			continue
		}
		maybe := -1.0
		for _, e := range f.Spacing.Of {
			if e.Maybe && (maybe < 0 || e.MM < maybe) {
				maybe = e.MM
			}
		}
		if f.Spacing.To != c.to || f.Spacing.MM != c.mm || maybe != c.open {
			t.Errorf("%s: to %s %g, open from %g, want %s %g and %g", c.name, f.Spacing.To, f.Spacing.MM, maybe, c.to, c.mm, c.open)
		}
	}
}

// TestClearancesAndSidesByHand: distances less what a tip may run on, and the side of a section line
// with the margin that it needs (10 mm).
func TestClearancesAndSidesByHand(t *testing.T) {
	b := handBench()
	b.said("F1", "A", tape(job.HandBore, 25, "D1"), tape(job.HandBore, 24.5, "D1"), tape(job.HandEdge, 3, ""), job.HandReading{What: job.HandJoint, None: true}, tape(job.HandLine, 18, "L1")).Tips = []body.TipMethod{"visual", "penetrant"}
	b.said("F2", "C", tape(job.HandLine, 11, "L1"))
	b.said("F3", "C", tape(job.HandLine, 10.5, "L1"))
	r, _ := b.byHand(t)
	f := r.Findings[0]
	if f.Bore == nil || f.Bore.To != "D1" || f.Bore.MM != 20.5 || f.Edge == nil || f.Edge.MM != 0 || f.Joint == nil || f.Joint.To != None || f.Earlier != nil {
		t.Errorf("bore %+v, edge %+v, joint %+v, earlier repair %+v", f.Bore, f.Edge, f.Joint, f.Earlier)
	}
	// Margins 14 and 18 mm with 2.4 and 0.5 mm, 11 mm and 10.5 mm with 0.5 mm, against 10 mm: below it with
	// 4.5 %, 2.3 % and 16 %.
	for i, want := range []bool{true, true, false} {
		if s := r.Findings[i].Sides; len(s) != 1 || s[0].Outboard != want {
			t.Errorf("%s: %+v", r.Findings[i].ID, s)
		}
	}
}

// TestContradictionsBlock: two readings of one thing, and a reading and the trace on a mesh, that their
// uncertainties do not explain.
func TestContradictionsBlock(t *testing.T) {
	blocked := func(notes []diag.Note) bool {
		return slices.ContainsFunc(notes, func(n diag.Note) bool { return n.Code == "inspect.by-hand-contradicts" && n.Blocks() })
	}
	for gap, want := range map[float64]bool{1.4: false, 1.5: true} { // 2 x 0.5 x sqrt 2 = 1.41 mm
		b := handBench()
		b.said("F1", "A", tape(job.HandLength, 20, ""), tape(job.HandLength, 20+gap, ""))
		if r, notes := b.byHand(t); blocked(notes) != want || r.Findings[0].Length.MM != 20+gap {
			t.Errorf("lengths %g mm apart: %v", gap, notes)
		}
		b = handBench()
		b.said("F1", "A", tape(job.HandNext, 20+gap, "F2"))
		b.said("F2", "A", tape(job.HandNext, 20, "F1"))
		if _, notes := b.byHand(t); blocked(notes) != want {
			t.Errorf("distances %g mm apart: %v", gap, notes)
		}
	}
	for _, c := range []struct {
		zones []body.ZoneID
		m     []job.HandReading
		want  bool
	}{
		{nil, []job.HandReading{tape(job.HandLength, 40, "")}, false}, // the trace is 40 mm long, at x 20 to 60 on a plate that changes zone at 100
		{nil, []job.HandReading{tape(job.HandLength, 43, "")}, true},
		{nil, []job.HandReading{tape(job.HandLength, 37, "")}, true},
		{[]body.ZoneID{"A"}, []job.HandReading{tape(job.HandBorder, 40, "")}, false},
		{[]body.ZoneID{"B"}, nil, true},
		{nil, []job.HandReading{tape(job.HandBorder, 30, "")}, true},
	} {
		b := newBench(plate())
		f := b.crack("F1", 0.3, geomVec(20, 50), geomVec(60, 50))
		f.Zones, f.Measured = c.zones, c.m
		in := b.input(t)
		in.Shop.Gauges = []shop.Gauge{{ID: "tape", Name: "Tape", Std: tapeStd}}
		if _, notes := Run(in); blocked(notes) != c.want {
			t.Errorf("%v %+v: %v", c.zones, c.m, notes)
		}
	}
}

func geomVec(x, y float64) [3]float64 { return [3]float64{x, y, 0} }

// Cracks measured by hand that may count as one are a group named after the first of them, as long as
// their lengths and the gaps together, the tips of all allowed for (3 mm each here), with the variances
// added; a torn mount without a length adds none. The group has no length when a crack has none, or not
// all distances were measured, and that is said of each.
func TestGroupByHandByItsFigures(t *testing.T) {
	crack := func(mm, std float64) Finding { return Finding{Kind: body.Crack, Length: &Length{mm, std}} }
	for _, c := range []struct {
		name    string
		found   []Finding // c, a and b by name
		gaps    []handReading
		linked  bool
		mm, std float64
		because string
	}{
		{"three", []Finding{crack(20, 2), crack(7, 1), crack(5, 2)}, []handReading{{mm: 3, std: 2}, {mm: 4, std: 6}}, true, 39, 7, ""},
		{"no gap between them", []Finding{crack(20, 2), crack(7, 1), crack(5, 2)}, nil, true, 32, 3, ""},
		{"a torn mount", []Finding{crack(20, 2), {Kind: body.Torn}, crack(5, 2)}, []handReading{{mm: 3, std: 1}}, true, 28, 3, ""},
		{"one of no length", []Finding{crack(20, 2), {Kind: body.Crack}, crack(5, 2)}, []handReading{{mm: 3, std: 1}}, true, 0, 0, "a, b and c count as one, and the length of one of them is unknown"},
		{"not all measured", []Finding{crack(20, 2), crack(7, 1), crack(5, 2)}, []handReading{{mm: 3, std: 1}}, false, 0, 0, "a, b and c may count as one: not all distances between them were measured"},
		{"neither", []Finding{crack(20, 2), {Kind: body.Crack}, crack(5, 2)}, nil, false, 0, 0, "a, b and c may count as one: not all distances between them were measured"},
	} {
		at := place{Casting: &vehicle.Casting{Of: &body.Casting{ID: "C", Part: "P"}}, rule: &body.Procedure{TipVisual: 3, GroupGap: 5}}
		r := &run{places: []place{at}, hands: map[int]*trace{}}
		tips := 0
		for i, f := range c.found {
			f.ID, f.Casting, f.Part, f.Located = job.FindingID("cab"[i:i+1]), "C", "P", true
			r.found = append(r.found, f)
			r.hands[i] = &trace{in: &job.Finding{Kind: f.Kind}, at: &r.places[0], tips: []body.TipMethod{"visual", "penetrant"}}
			if f.Kind == body.Crack {
				tips++
			}
		}
		r.groupByHand([]int{0, 1, 2}, c.gaps, c.linked)
		if len(r.res.Groups) != 1 {
			t.Fatalf("%s: %+v", c.name, r.res.Groups)
		}
		g, unknown := r.res.Groups[0], c.because != ""
		if g.ID != "G-a" || !slices.Equal(g.Findings, []job.FindingID{"a", "b", "c"}) || g.Unknown != unknown || math.Abs(g.LengthMM-c.mm) > 1e-9 || math.Abs(g.StdMM-c.std) > 1e-9 || unknown && g.Because != c.because {
			t.Errorf("%s: %+v", c.name, g)
		}
		for _, f := range r.found {
			switch {
			case f.Group != "G-a":
				t.Errorf("%s: %s is in group %q", c.name, f.ID, f.Group)
			case unknown && (f.Decision != nil || len(f.Unknown) != 1 || f.Unknown[0] != "decision length: "+c.because):
				t.Errorf("%s: %+v, %q", c.name, f.Decision, f.Unknown)
			case !unknown && (f.Decision == nil || math.Abs(f.Decision.MM-c.mm-3*float64(tips)) > 1e-9 || math.Abs(f.Decision.Std-math.Sqrt(c.std*c.std+3*float64(tips))) > 1e-9):
				t.Errorf("%s: %+v with %d tips", c.name, f.Decision, tips) // a tip adds a variance of 3²/3
			}
		}
	}
}
