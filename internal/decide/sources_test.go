package decide

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/rule"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// grouped is two cracks that count as one, F2 and F1 by the order of the job.
func grouped() *world {
	w := newWorld()
	w.crack("F2", 20, 1, "OPEN-1")
	w.crack("F1", 30, 2, "OPEN-2")
	for i := range w.in.Inspect.Findings {
		g := &w.in.Inspect.Findings[i]
		g.Group, g.Piece = "G1", "F1"
		g.Spacing = &inspect.Clearance{To: "F9", MM: 50}
	}
	return w
}

// Every fact says where it comes from, and, where it is not known, of which finding that is missing:
// of several that count as one the one it is of. Constructed; what each is follows from its help.
func TestWhereFactsComeFrom(t *testing.T) {
	one := func() *world {
		w := newWorld()
		w.crack("F1", 20, 1, "OPEN-1")
		return w
	}
	g := func(w *world, i int) *inspect.Finding { return &w.in.Inspect.Findings[i] }
	f := func(w *world, i int) *job.Finding { return &w.in.Job.Findings[i] }
	none := func(*world) {}
	for _, k := range []struct {
		world  func() *world
		change func(*world)
		fact   string
		value  string
		from   string
	}{
		{one, none, body.FactKind, "crack", fromTheFinding}, {one, func(w *world) { f(w, 0).Kind = "" }, body.FactKind, "unknown", fromTheFinding},
		{one, none, body.FactOnCasting, "yes", "the part is casting FRONT"}, {one, func(w *world) { f(w, 0).Part = "P-PANEL"; g(w, 0).Casting = "" }, body.FactOnCasting, "no", "the part is no casting of the body"},
		{one, func(w *world) { f(w, 0).Part = "P-X"; g(w, 0).Casting = "" }, body.FactOnCasting, "unknown", `the body has no part "P-X"`},
		{one, none, body.FactBoltOn, "no", "parts.csv, part P-FRONT"}, {one, func(w *world) { f(w, 0).Part = "P-BRKT"; g(w, 0).Casting = "" }, body.FactBoltOn, "yes", "parts.csv, part P-BRKT"},
		{one, func(w *world) { f(w, 0).Part = "P-X" }, body.FactBoltOn, "unknown", `the body has no part "P-X"`},

		{one, none, body.FactDepth, "unknown", saysNothing}, {one, func(w *world) { f(w, 0).Depth = unit.Some(unit.MM(2)) }, body.FactDepth, "2", fromTheFinding + ", taken as exact"},
		{one, func(w *world) { f(w, 0).Depth, f(w, 0).DepthStd = unit.Some(unit.MM(2)), 0.1 }, body.FactDepth, "2 ± 0.2", fromTheFinding},
		{one, func(w *world) { f(w, 0).Depth = unit.Some(unit.MM(-1)) }, body.FactDepth, "unknown", fromTheFinding + ", taken as exact"},
		{grouped, func(w *world) { f(w, 0).Depth = unit.Some(unit.MM(2)) }, body.FactDepth, "unknown", saysNothing + " for F1, which counts as one with it"},
		{grouped, func(w *world) { f(w, 1).Depth = unit.Some(unit.MM(2)) }, body.FactDepth, "unknown", saysNothing},
		{grouped, func(w *world) { f(w, 0).Depth, f(w, 1).Depth = unit.Some(unit.MM(2)), unit.Some(unit.MM(3)) }, body.FactDepth, "3", fromTheFinding + ", taken as exact"},

		{one, none, body.FactTips, "penetrant", fromTheFinding + ", the weaker of the tips"}, {one, func(w *world) { f(w, 0).Tips[1] = body.TipVisual }, body.FactTips, "visual", fromTheFinding + ", the weaker of the tips"},
		{one, func(w *world) { f(w, 0).Tips = []body.TipMethod{body.TipStopHole, body.TipStopHole} }, body.FactTips, "stop-hole", fromTheFinding + ", the weaker of the tips"},
		{one, func(w *world) { f(w, 0).Tips = []body.TipMethod{body.TipStopHole, body.TipPenetrant} }, body.FactTips, "penetrant", fromTheFinding + ", the weaker of the tips"},
		{one, func(w *world) { f(w, 0).Tips = []body.TipMethod{body.TipPenetrant} }, body.FactTips, "unknown", "not entered for both tips"}, {one, func(w *world) { f(w, 0).Tips = nil; g(w, 0).Fork = true }, body.FactTips, "unknown", "not entered for both tips"},
		{one, func(w *world) { f(w, 0).Tips = []body.TipMethod{body.TipPenetrant}; g(w, 0).Fork = true }, body.FactTips, "penetrant", fromTheFinding + ", the weaker of the tips"},
		{one, func(w *world) { f(w, 0).Tips[0] = "x-ray" }, body.FactTips, "unknown", `"x-ray" is no way to find a tip`}, {one, func(w *world) { g(w, 0).Tips = []body.TipMethod{body.TipVisual, body.TipVisual} }, body.FactTips, "visual", fromTheFinding + ", the weaker of the tips"},
		{grouped, func(w *world) { f(w, 1).Tips = nil }, body.FactTips, "unknown", "not entered for both tips for F1, which counts as one with it"},
		{grouped, func(w *world) { f(w, 1).Tips, f(w, 1).Kind = nil, "dent" }, body.FactTips, "penetrant", fromTheFinding + ", the weaker of the tips"},
		{grouped, func(w *world) { f(w, 1).Tips, f(w, 1).Kind = nil, "break" }, body.FactTips, "unknown", "not entered for both tips for F1, which counts as one with it"},
		{grouped, func(w *world) { f(w, 0).Tips, f(w, 0).Kind = nil, "dent" }, body.FactTips, "unknown", "not entered for both tips"},

		{one, none, body.FactThrough, "no", fromTheFinding}, {one, func(w *world) { f(w, 0).Through = "yes" }, body.FactThrough, "yes", fromTheFinding}, {one, func(w *world) { f(w, 0).Through = "unknown" }, body.FactThrough, "unknown", saysNothing},
		{one, func(w *world) { f(w, 0).Through = "" }, body.FactThrough, "unknown", saysNothing}, {one, func(w *world) { g(w, 0).Through = body.Unknown }, body.FactThrough, "unknown", saysNothing},
		{grouped, func(w *world) { f(w, 1).Through = "yes" }, body.FactThrough, "yes", fromTheFinding + " for F1, which counts as one with it"},
		{grouped, func(w *world) { f(w, 1).Through = "unknown" }, body.FactThrough, "unknown", saysNothing + " for F1, which counts as one with it"},
		{grouped, func(w *world) { f(w, 1).Through = "unknown"; f(w, 0).Through = "yes" }, body.FactThrough, "yes", fromTheFinding},
		{grouped, func(w *world) { f(w, 0).Through = ""; f(w, 1).Through = "" }, body.FactThrough, "unknown", saysNothing + " for F1, which counts as one with it"},
		{grouped, func(w *world) { f(w, 0).SameAs = "F1" }, body.FactThrough, "yes", "F1 and F2 are the two faces of one crack"},
		{one, func(w *world) { w.crack("F2", 9, 1, "OPEN-1"); f(w, 1).SameAs = "F1" }, body.FactThrough, "yes", "F1 and F2 are the two faces of one crack"},
		{one, func(w *world) { w.crack("F2", 9, 1, "OPEN-1"); f(w, 1).SameAs = "F1"; g(w, 1).NoFace = true }, body.FactThrough, "no", fromTheFinding},
		{one, func(w *world) { w.crack("F2", 9, 1, "OPEN-1"); w.crack("F3", 9, 1, "OPEN-1"); f(w, 1).SameAs = "F3" }, body.FactThrough, "no", fromTheFinding},

		{one, none, body.FactLength, "20 ± 2", fromTheTrace}, {one, func(w *world) { g(w, 0).TipAddMM = 6 }, body.FactLength, "20 ± 2", fromTheTrace + ", with 6.0 mm for tips seen by eye only"},
		{one, func(w *world) { g(w, 0).Decision = nil }, body.FactLength, "unknown", "inspect found no decision length"}, {one, func(w *world) { g(w, 0).Located = false }, body.FactLength, "unknown", noTraceOnMesh},
		{grouped, none, body.FactLength, "30 ± 4", fromTheTrace + "; group G1 counts as one"}, {grouped, func(w *world) { g(w, 1).Decision = nil }, body.FactLength, "unknown", "inspect found no decision length for F1, which counts as one with it"},
		{one, func(w *world) { g(w, 0).Lengths = []inspect.Length{{MM: 20, Std: 1}, {MM: 19, Std: 3}} }, body.FactLength, "20 ± 2, or 19 ± 6", fromTheTrace},

		{one, none, body.FactZones, "OPEN-1", "every zone crossed or nearer than the uncertainty"}, {grouped, none, body.FactZones, "OPEN-1, OPEN-2", "every zone crossed or nearer than the uncertainty, of all cracks that count as one"},
		{one, func(w *world) { g(w, 0).Zones = nil }, body.FactZones, "unknown", "the trace lies in no zone of the casting's data"},
		{grouped, func(w *world) { g(w, 1).Located = false }, body.FactZones, "unknown", "the trace lies in no zone of the casting's data for F1, which counts as one with it"},

		{one, none, body.FactOutboard, "none", "all of it outboard by the margin, with the uncertainty"}, {one, func(w *world) { g(w, 0).Sides[1].Outboard = true }, body.FactOutboard, "LINE-2", "all of it outboard by the margin, with the uncertainty"},
		{one, func(w *world) { g(w, 0).Sides = g(w, 0).Sides[:1] }, body.FactOutboard, "unknown", "the side of every section line is not known"},
		{grouped, func(w *world) { g(w, 1).Sides = nil }, body.FactOutboard, "unknown", "the side of every section line is not known for F1, which counts as one with it"},
		{grouped, func(w *world) { g(w, 1).Sides[0].Outboard = true }, body.FactOutboard, "none", "all of it outboard by the margin, with the uncertainty"},

		{one, none, body.FactBore, "60 ± 2", "to H1"}, {one, func(w *world) { g(w, 0).Bore = nil }, body.FactBore, "unknown", "it was not found on the surface"},
		{one, func(w *world) { g(w, 0).Bore = nil; w.in.Body.Castings[0].Bores = []body.Bore{} }, body.FactBore, "none near", "the body says the casting has no bores"},
		{one, func(w *world) { g(w, 0).Border = nil; w.in.Body.Castings[0].Zones = w.in.Body.Castings[0].Zones[:1] }, body.FactBorder, "none near", "the casting is one zone"},
		{one, func(w *world) { g(w, 0).Border = nil }, body.FactBorder, "unknown", "it was not found on the surface"}, {one, func(w *world) { g(w, 0).Bore = &inspect.Clearance{To: inspect.None, MM: 99} }, body.FactBore, "none near", inspect.None},
		{one, func(w *world) { g(w, 0).Bore.MM = -1 }, body.FactBore, "unknown", "to H1"},
		{grouped, func(w *world) { g(w, 1).Bore = &inspect.Clearance{To: "H2", MM: 9} }, body.FactBore, "9", "to H2"}, {grouped, func(w *world) { g(w, 1).Bore = nil }, body.FactBore, "unknown", "it was not found on the surface for F1, which counts as one with it"},
		{grouped, func(w *world) {
			g(w, 0).Bore.MM = 9
			g(w, 0).Bore.Std = 0
			g(w, 1).Bore = &inspect.Clearance{To: "H2", MM: 9}
		}, body.FactBore, "9", "to H1"},
		{grouped, func(w *world) {
			g(w, 0).Bore.MM = 9
			g(w, 0).Bore.Std = 0
			g(w, 1).Bore = &inspect.Clearance{To: "H2", MM: 9, Std: 1}
		}, body.FactBore, "9 ± 2", "to H2"},
		{one, func(w *world) { g(w, 0).Edge = &inspect.Clearance{To: "E1", MM: 3} }, body.FactEdge, "3", "to E1"}, {one, func(w *world) { g(w, 0).Joint = &inspect.Clearance{To: "J1", MM: 4} }, body.FactJoint, "4", "to J1"},
		{one, func(w *world) { g(w, 0).Earlier = &inspect.Clearance{To: "R1", MM: 5} }, body.FactEarlier, "5", "to R1"},
		{one, func(w *world) {
			g(w, 0).Bore = &inspect.Clearance{To: "H1", MM: 60, Std: 1, Of: []inspect.Element{{MM: 60, Std: 1}, {MM: 60, Std: 1}, {MM: 61, Std: 5}, {MM: 20, Maybe: true}}}
		}, body.FactBore, "60 ± 2, or 61 ± 10, not looked at from 20 on", "to H1"},

		{one, none, body.FactSpacing, "none near", "nothing else that weakens the wall is on the casting"}, {one, func(w *world) { w.crack("F2", 9, 1, "OPEN-1") }, body.FactSpacing, "unknown", "it was not found on the surface"},
		{one, func(w *world) { w.crack("F2", 9, 1, "OPEN-1"); g(w, 1).Located = false }, body.FactSpacing, "unknown", "crack F2 on the casting has no trace"},
		{one, func(w *world) { w.other("F2", "P-PANEL", "crack") }, body.FactSpacing, "none near", "nothing else that weakens the wall is on the casting"},
		{one, func(w *world) { w.crack("F2", 9, 1, "OPEN-1"); f(w, 1).Kind = "dent"; g(w, 1).Located = false }, body.FactSpacing, "unknown", "it was not found on the surface"},

		{one, func(w *world) { g(w, 0).Sides = nil }, body.FactMargin, "unknown", "the casting has no section line"}, {one, func(w *world) { g(w, 0).Sides[0].MarginMM, g(w, 0).Sides[1].MarginMM = 3, 9 }, body.FactMargin, "9 mm", "to section line LINE-2"},
		{one, func(w *world) { g(w, 0).Sides[0].MarginMM, g(w, 0).Sides[1].MarginMM = 3, -9 }, body.FactMargin, "3 mm", "to section line LINE-1"},
		{grouped, func(w *world) { g(w, 1).Sides = g(w, 1).Sides[1:] }, body.FactMargin, "unknown", "the side of section line LINE-1 is not known for F1, which counts as one with it"},
		{grouped, func(w *world) {
			g(w, 0).Sides = g(w, 0).Sides[:1]
			g(w, 0).Sides[0].MarginMM, g(w, 1).Sides[0].MarginMM = 5, 4
		}, body.FactMargin, "4 mm", "to section line LINE-1 for F1, which counts as one with it"},
		{one, func(w *world) {
			g(w, 0).Sides = []inspect.LineSide{{Line: "LINE-1", MarginMM: 3, Of: []inspect.Element{{MM: 3}, {MM: 4, Std: 2}}}}
		}, body.FactMargin, "3 mm, or 4.0 ± 4.0 mm", "to section line LINE-1"},

		{one, none, body.FactCount, "1", "1 now, cracks that surely are one counted once"}, {grouped, none, body.FactCount, "1", "1 now, cracks that surely are one counted once"},
		{one, func(w *world) { f(w, 0).Kind = "dent" }, body.FactCount, "1", "1 now, cracks that surely are one counted once"},
		{one, func(w *world) { w.crack("F2", 9, 1, "OPEN-1"); f(w, 0).Kind = "dent" }, body.FactCount, "2", "2 now, cracks that surely are one counted once"},
		{one, func(w *world) { w.other("F2", "P-PANEL", "crack") }, body.FactCount, "1", "1 now, cracks that surely are one counted once"},
		{one, func(w *world) { w.in.Job.Earlier = []job.Earlier{{Zone: "OPEN-2"}, {Zone: "elsewhere"}} }, body.FactCount, "2", "1 now and 1 repaired before, cracks that surely are one counted once"},
		{one, func(w *world) { w.in.Job.Earlier = []job.Earlier{{Zone: "OPEN-2"}} }, body.FactInZone, "1", "1 now in OPEN-1, cracks that surely are one counted once"},
		{one, func(w *world) {
			w.in.Job.Earlier = []job.Earlier{{Zone: "OPEN-2"}}
			w.in.Inspect.Earlier = []inspect.EarlierPlace{{Zones: []body.ZoneID{"OPEN-1"}}}
		}, body.FactInZone, "2", "1 now and 1 repaired before in OPEN-1, cracks that surely are one counted once"},
		{one, func(w *world) {
			w.in.Job.Earlier = []job.Earlier{{Zone: "elsewhere"}}
			w.in.Inspect.Earlier = []inspect.EarlierPlace{{Castings: []body.CastingID{"FRONT"}}}
		}, body.FactCount, "2", "1 now and 1 repaired before, cracks that surely are one counted once"},
		{one, func(w *world) {
			g(w, 0).Zones = append(g(w, 0).Zones, inspect.ZoneShare{Zone: "OPEN-2"})
			w.crack("F2", 9, 1, "OPEN-2")
		}, body.FactInZone, "2", "2 now in OPEN-2, cracks that surely are one counted once"},
		{one, func(w *world) { g(w, 0).Zones = nil }, body.FactInZone, "unknown", "the trace lies in no zone of the casting's data"},
		{one, func(w *world) { w.crack("F2", 9, 1, "OPEN-1"); g(w, 1).Located = false }, body.FactInZone, "unknown", "crack F2 on the casting has no trace"},
		{one, func(w *world) { w.in.Inspect.Coverage[0].Covered = false }, body.FactCount, "unknown", "area A-OPEN-1 has not been inspected as the body asks"},
		{one, func(w *world) { w.in.Inspect.Coverage[1].Covered = false }, body.FactInZone, "1", "1 now in OPEN-1, cracks that surely are one counted once"},
		{one, func(w *world) {
			w.in.Inspect.Coverage = append(w.in.Inspect.Coverage, inspect.Coverage{Area: "X", Casting: "FRONT", Zone: "OPEN-1"})
		}, body.FactInZone, "unknown", "area X has not been inspected as the body asks"},
		{one, func(w *world) {
			w.in.Inspect.Coverage = append(w.in.Inspect.Coverage, inspect.Coverage{Area: "X", Casting: "FRONT"})
		}, body.FactInZone, "unknown", "area X has not been inspected as the body asks"},
		{one, func(w *world) {
			w.in.Inspect.Coverage = append(w.in.Inspect.Coverage, inspect.Coverage{Area: "X", Casting: "FRONT", Zone: "OPEN-2"})
		}, body.FactInZone, "1", "1 now in OPEN-1, cracks that surely are one counted once"},
		{one, func(w *world) {
			w.in.Inspect.Coverage = append(w.in.Inspect.Coverage, inspect.Coverage{Area: "X", Casting: "OTHER", Zone: "OPEN-1"})
		}, body.FactCount, "1", "1 now, cracks that surely are one counted once"},
		{one, func(w *world) { w.in.Body.Inspect = w.in.Body.Inspect[1:] }, body.FactCount, "unknown", "zone OPEN-1, in which there is no inspection area, has not been inspected as the body asks"},

		{one, none, body.FactLengthHere, "20.0 ± 2.0 mm", "20.0 mm now in OPEN-1"}, {one, none, body.FactLengthAll, "20.0 ± 2.0 mm", "20.0 mm now"},
		{one, func(w *world) {
			w.in.Job.Earlier = []job.Earlier{{Zone: "OPEN-1", Length: 7}, {Zone: "OPEN-2", Length: 1}}
		}, body.FactLengthHere, "27.0 ± 2.0 mm", "20.0 mm now and 7.0 mm repaired before in OPEN-1"},
		{one, func(w *world) {
			w.in.Job.Earlier = []job.Earlier{{Zone: "OPEN-1", Length: 7}, {Zone: "OPEN-2", Length: 1}}
		}, body.FactLengthAll, "28.0 ± 2.0 mm", "20.0 mm now and 8.0 mm repaired before"},
		{one, func(w *world) { f(w, 0).Kind = "dent"; w.crack("F2", 9, 1, "OPEN-1") }, body.FactLengthHere, "29.0 ± 4.0 mm", "29.0 mm now in OPEN-1"}, {grouped, none, body.FactLengthAll, "30.0 ± 4.0 mm", "30.0 mm now"},
		{one, func(w *world) { w.crack("F2", 9, 1, "OPEN-1"); g(w, 1).Decision = nil }, body.FactLengthHere, "unknown", "the length of F2 is not known: inspect found no decision length"},
		{one, func(w *world) {
			g(w, 0).Zones = append(g(w, 0).Zones, inspect.ZoneShare{Zone: "OPEN-2"})
			w.crack("F2", 9, 1, "OPEN-2")
		}, body.FactLengthHere, "29.0 ± 4.0 mm", "29.0 mm now in OPEN-2"},

		{one, none, body.FactCast, "unknown", saysNothing}, {one, func(w *world) { w.in.Job.Castings[0].CastOn = day(2029, 5, 6) }, body.FactCast, "2029-05-06", "read on the casting by T1"},
		{one, func(w *world) { w.in.Job.Castings[0].CastOn, w.in.Job.Castings[0].By = day(2029, 5, 6), "X" }, body.FactCast, "unknown", `what was read on the casting does not count: "X" names no person of the shop file`},
		{one, func(w *world) { f(w, 0).Part, g(w, 0).Casting = "P-PANEL", "" }, body.FactCast, "unknown", notOnACasting},
		{one, none, body.FactAge, "unknown", "the day the vehicle was built was not entered, or lies ahead"}, {one, func(w *world) { w.in.Job.Vehicle.Built = day(2030, 1, 2) }, body.FactAge, "2 months", "the part is taken to be as old as the vehicle"},
		{one, func(w *world) { w.in.Job.Vehicle.Built = day(2030, 3, 3) }, body.FactAge, "unknown", "the day the vehicle was built was not entered, or lies ahead"}, {one, func(w *world) { w.in.Job.Vehicle.Built = day(2030, 3, 2) }, body.FactAge, "0 months", "the part is taken to be as old as the vehicle"},
		{one, func(w *world) {
			w.in.Job.Vehicle.Built, w.in.Job.Castings[0].FittedOn = day(2020, 1, 2), day(2030, 2, 2)
		}, body.FactAge, "1 months", "fitted on 2030-02-02"},
		{one, func(w *world) { w.in.Job.Castings[0].FittedOn, w.in.Job.Castings[0].By = day(2030, 2, 2), "X" }, body.FactAge, "unknown", `that the part was changed on 2030-02-02 does not count: "X" names no person of the shop file`},

		{one, none, body.FactEquipment, "unknown", "the shop file names none"}, {one, func(w *world) { w.in.Shop.Equipment = []string{"cold  saw", "jig"} }, body.FactEquipment, "cold-saw, jig", shopFile},
		{one, func(w *world) {
			w.in.Shop.Equipment = []string{"jig"}
			w.in.Shop.Tested = []shop.Tested{{Equipment: "jig", Until: day(2030, 3, 1)}}
		}, body.FactEquipment, "none", shopFile + "; its test has run out: jig"},
		{one, func(w *world) { w.in.Shop = nil }, body.FactEquipment, "unknown", "the shop file names none"}, {one, func(w *world) { w.in.Shop = nil }, body.FactQualified, "unknown", "the shop is not known"},
		{one, none, body.FactQualified, "unknown", "the shop file names none"}, {one, func(w *world) {
			w.in.Shop.People[0].Qualified = []shop.Qualification{{For: "welder", Until: day(2030, 3, 1)}}
		}, body.FactQualified, "none", shopFile + "; run out: welder"},

		{one, func(w *world) { w.in.Shop = nil }, body.FactTemp, "unknown", "nobody measured it today"}, {one, func(w *world) { w.in.Shop.Temp = 18 }, body.FactTemp, "unknown", "nobody measured it today, and the shop does not say how far its usual 18 C may be off"},
		{one, func(w *world) { w.in.Shop.Temp, w.in.Shop.TempStd = 18, 2 }, body.FactTemp, "18 ± 4 C", "the usual temperature of the shop"},
		{one, func(w *world) {
			w.in.Job.Workplace = []job.Climate{{Temp: 12, Std: 0.5, By: "T1", On: day(2030, 3, 2)}}
		}, body.FactTemp, "12 ± 1 C", "12 ± 1 C measured by T1 on 2030-03-02"},
		{one, func(w *world) { w.in.Job.Workplace = []job.Climate{{Temp: 12, Std: 0.5, By: "X", On: day(2030, 3, 2)}} }, body.FactTemp, "unknown", "nobody measured it today, and the shop does not say how far its usual 0 C may be off"},
		{one, func(w *world) {
			w.in.Job.Workplace = []job.Climate{{Temp: 12, By: "T1", On: day(2030, 3, 2)}, {Temp: 12, By: "X", On: day(2030, 3, 2)}, {Temp: 12, By: "Y", On: day(2030, 3, 2)}}
		}, body.FactTemp, "12 C", "12 C measured by T1 on 2030-03-02; not signed for by anybody of the shop, and held against the limits too: 12 C, 12 C"},
	} {
		w := k.world()
		k.change(w)
		got := factIn(w, k.fact)
		if got.value.String() != k.value || got.from != k.from {
			t.Errorf("%s is %q (%s), want %q (%s)", k.fact, got.value, got.from, k.value, k.from)
		}
		s := newScene(w.in)
		if _, list := s.factsOf(s.subjects[0], nil); slices.ContainsFunc(list, func(f Fact) bool {
			return f.Name == k.fact && (f.Known != got.value.Known || f.Known && f.From != k.from || !f.Known && f.From != strings.TrimSuffix(k.from, ".")+": "+body.Fact(k.fact).Get)
		}) {
			t.Errorf("%s in the list: %+v", k.fact, list)
		}
	}
}

// How another finding has a say in what may be done about one: as one with it when it may be
// anywhere, counts as one or is the other face; beside it in a zone of its own or as the nearest;
// away on another part, or nowhere near.
func TestHowFindingsTouch(t *testing.T) {
	for name, k := range map[string]struct {
		change func(*world)
		want   job.Touch
	}{
		"another zone":  {func(*world) {}, job.Away},
		"the same zone": {func(w *world) { w.in.Inspect.Findings[1].Zones[0].Zone = "OPEN-1" }, job.Beside},
		"one zone of two": {func(w *world) {
			w.in.Inspect.Findings[1].Zones = append(w.in.Inspect.Findings[1].Zones, inspect.ZoneShare{Zone: "OPEN-1"})
		}, job.Beside},
		"the nearest":     {func(w *world) { w.in.Inspect.Findings[0].Spacing = &inspect.Clearance{To: "F2"} }, job.Beside},
		"not the nearest": {func(w *world) { w.in.Inspect.Findings[0].Spacing = &inspect.Clearance{To: "F3"} }, job.Away},
		"one group":       {func(w *world) { w.in.Inspect.Findings[0].Group, w.in.Inspect.Findings[1].Group = "G", "G" }, job.AsOne},
		"two groups":      {func(w *world) { w.in.Inspect.Findings[0].Group, w.in.Inspect.Findings[1].Group = "G", "H" }, job.Away},
		"other face":      {func(w *world) { w.in.Job.Findings[1].SameAs = "F1" }, job.AsOne},
		"no other face":   {func(w *world) { w.in.Job.Findings[1].SameAs = "F1"; w.in.Inspect.Findings[1].NoFace = true }, job.Away},
		"place not known": {func(w *world) { w.in.Inspect.Findings[1].Located = false }, job.AsOne},
		"own not known":   {func(w *world) { w.in.Inspect.Findings[0].Located = false }, job.AsOne},
		"on another part": {func(w *world) {
			w.in.Job.Findings[1].Part, w.in.Inspect.Findings[1].Casting = "P-PANEL", ""
			w.in.Inspect.Findings[1].Located = false
		}, job.Away},
		"there is none": {func(w *world) { w.in.Job.Findings[1].ID = "F7" }, job.Away},
		"by way of a third": {func(w *world) {
			w.crack("F3", 9, 1, "GUARDED-1")
			w.in.Job.Findings[2].SameAs = "F1"
			w.in.Inspect.Findings[1].Group, w.in.Inspect.Findings[2].Group = "G", "G"
		}, job.AsOne},
	} {
		w := newWorld()
		w.crack("F1", 20, 1, "OPEN-1")
		w.crack("F2", 20, 1, "OPEN-2")
		k.change(w)
		if got := newScene(w.in).touch("F1", "F2"); got != k.want {
			t.Errorf("%s: %v, want %v", name, got, k.want)
		}
	}
}

// What the manufacturer is told is the finding as far as it counts: tips as the inspection bears
// them out, and nothing that an unsigned entry claims.
func TestToldAsFarAsItCounts(t *testing.T) {
	w := newWorld()
	w.crack("F1", 20, 1, "OPEN-1")
	w.in.Job.Findings[0].Depth = unit.Some(unit.MM(2))
	w.in.Inspect.Findings[0].Tips = []body.TipMethod{body.TipVisual, body.TipPenetrant}
	got := Told(w.in, "F1").Findings[0]
	if !slices.Equal(got.Tips, []body.TipMethod{body.TipVisual, body.TipPenetrant}) || got.Through != "no" || !got.Depth.Known {
		t.Errorf("%+v", got)
	}
	w.in.Inspect.Findings[0].Tips = nil
	if got := Told(w.in, "F1").Findings[0]; !slices.Equal(got.Tips, []body.TipMethod{body.TipPenetrant, body.TipPenetrant}) {
		t.Errorf("%+v", got)
	}
	w.in.Job.Findings[0].By = "X"
	if got := Told(w.in, "F1").Findings[0]; !slices.Equal(got.Tips, []body.TipMethod{body.TipVisual, body.TipVisual}) || got.Through != body.Unknown || got.Depth.Known {
		t.Errorf("signed by nobody: %+v", got)
	}
	if Told(w.in, "F9") != nil {
		t.Error("something is told of no finding")
	}
}

// Findings are one crack when names or faces chain them, however they are ordered: against a
// reckoning by pairs, over and over. Drawn: seed 114.
func TestWhatCountsAsOneSeed114(t *testing.T) {
	r := rand.New(rand.NewPCG(114, 114))
	several := 0
	for range 400 {
		w := newWorld()
		n := 2 + r.IntN(6)
		ids := []job.FindingID{"F1", "F2", "F3", "F10", "F20", "F4", "F5"}
		for i := range n {
			g := w.crack(ids[i], 20, 1, "OPEN-1")
			g.Group, g.Piece, g.NoFace = []string{"", "", "G", "H"}[r.IntN(4)], []string{"", "P", "R"}[r.IntN(3)], r.IntN(3) == 0
			if r.IntN(3) == 0 {
				w.in.Job.Findings[i].SameAs = ids[r.IntN(n)]
			}
		}
		s := newScene(w.in)
		for _, kind := range []struct {
			root []int
			name func(inspect.Finding) string
		}{{s.root, func(g inspect.Finding) string { return g.Group }}, {s.piece, func(g inspect.Finding) string { return g.Piece }}} {
			one := make([][]bool, n)
			for i := range one {
				one[i] = make([]bool, n)
				for k := range n {
					a, b := w.in.Inspect.Findings[i], w.in.Inspect.Findings[k]
					one[i][k] = i == k || kind.name(a) != "" && kind.name(a) == kind.name(b) || w.in.Job.Findings[i].SameAs == ids[k] && !a.NoFace || w.in.Job.Findings[k].SameAs == ids[i] && !b.NoFace
				}
			}
			for m := range n {
				for i := range n {
					for k := range n {
						one[i][k] = one[i][k] || one[i][m] && one[m][k]
					}
				}
			}
			for i := range n {
				if first := slices.Index(one[i], true); kind.root[i] != first {
					t.Fatalf("%d of %+v is one with %d, want %d", i, w.in.Job.Findings, kind.root[i], first)
				} else if first < i {
					several++
				}
			}
		}
		for _, m := range s.members {
			if !slices.IsSortedFunc(m, func(a, b *subject) int {
				return slices.Index([]job.FindingID{"F1", "F2", "F3", "F4", "F5", "F10", "F20"}, a.f.ID) - slices.Index([]job.FindingID{"F1", "F2", "F3", "F4", "F5", "F10", "F20"}, b.f.ID)
			}) {
				t.Fatalf("%v not by identity", m)
			}
		}
	}
	if several < 300 {
		t.Errorf("only %d count as one with another", several)
	}
}

// Elements of a distance but the nearest are all kept, once the nearest itself is left out once.
func TestOtherElementsOfADistance(t *testing.T) {
	e := func(mm, std float64, maybe bool) inspect.Element {
		return inspect.Element{MM: mm, Std: std, Maybe: maybe}
	}
	c := &inspect.Clearance{MM: 5, Std: 1, Of: []inspect.Element{e(5, 1, true), e(5, 2, false), e(5, 1, false), e(5, 1, false), e(7, 0, false), e(-1, 0, false)}}
	got := others(c)
	want := []rule.Value{rule.NumberValue(5, 1, ""), rule.NumberValue(5, 2, ""), rule.NumberValue(5, 1, ""), rule.NumberValue(7, 0, ""), {}}
	want[0].Maybe = true
	if len(got) != len(want) {
		t.Fatalf("%+v", got)
	}
	for i := range want {
		if got[i].Number != want[i].Number || got[i].Std != want[i].Std || got[i].Maybe != want[i].Maybe || got[i].Known != want[i].Known {
			t.Errorf("%+v, want %+v", got[i], want[i])
		}
	}
}
