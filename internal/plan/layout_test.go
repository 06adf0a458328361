package plan

import (
	"math"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/unit"
)

// A row has as few rivets as keep the distance, evenly; the judge counts gaps up until they
// keep it. Lengths in quarters of a millimetre, which are exact.
func TestRowHasAsFewRivetsAsKeepThePitch(t *testing.T) {
	for l4 := 0; l4 < 400; l4 += 3 {
		for _, e := range []float64{0, 2.5, 10} {
			for _, p := range []float64{0.25, 7.5, 30} {
				length := float64(l4) / 4
				free := length - 2*e
				r, ok := row(length, e, p)
				if ok != (free >= 0) {
					t.Fatalf("%g mm, %g from each end: a row %t", length, e, ok)
				}
				gaps := 0
				for float64(gaps)*p < free {
					gaps++
				}
				want := rowOf{count: gaps + 1}
				if gaps > 0 {
					want.pitch = free / float64(gaps)
				}
				if ok && r != want {
					t.Fatalf("%g mm, %g from each end, at most %g apart: %+v, want %+v", length, e, p, r, want)
				}
			}
		}
	}
	if _, ok := row(100, 10, 0); ok {
		t.Error("a row without a distance")
	}
	if r, _ := row(80, 10, 30-1e-12); r.count != 3 {
		t.Errorf("60 mm by 30 less than rounding: %d rivets", r.count)
	}
	if r, _ := row(999_999, 0, 1); r.count != 1_000_000 {
		t.Errorf("%d rivets of a million", r.count)
	}
	if r, _ := row(1_000_000, 0, 1); r.count != 1_000_001 || r.pitch != 1 {
		t.Errorf("beyond what is counted: %+v", r)
	}
}

// laidOut is a layout of the plate treatment on so many millimetres, with what is checked,
// used and said.
func laidOut(mm float64, it Item, l body.Layout, change func(in *Input, rivet, sheet *body.Material)) (*builder, *Laid) {
	in := input(it)
	if change != nil {
		change(&in, &in.Body.Materials[1], &in.Body.Materials[3])
	}
	if l.Pitch == 0 {
		l.Pitch = 30
	}
	l.Rivet = "rivet"
	b := newBuilder(in)
	st, m := body.Step{ID: "x", Layout: &l}, measure{mm: mm, known: true}
	laid, formula := b.rivets(it, st, m)
	count := 0
	if laid != nil {
		count = laid.Count
	}
	b.layoutUses(&node{}, it, st, m, count, formula)
	return b, laid
}

// By hand: each distance of a layout is kept at its limit, also where rounding leaves it less
// than a millionth of a millimetre short, and beyond it blocks; what is kept is on record.
func TestDistancesOfALayoutAtTheirLimits(t *testing.T) {
	bounds := func(of body.RivetDiameter, end, pitch, rows float64) func(in *Input, r, s *body.Material) {
		return func(in *Input, r, s *body.Material) {
			in.Body.Bounds = []body.RivetBounds{{ID: "other"}, {ID: "B", Of: of, End: end, Pitch: pitch, Rows: rows, Cite: "table"}}
			r.Diameter, r.Drill, r.MinPitch, r.MinEdge = 4, 5, 0, 0
		}
	}
	rivet := func(f func(r *body.Material)) func(in *Input, r, s *body.Material) {
		return func(in *Input, r, s *body.Material) { r.MinPitch, r.MinEdge = 0, 0; f(r) }
	}
	for name, c := range map[string]struct {
		mm            float64
		l             body.Layout
		change        func(in *Input, r, s *body.Material)
		check, blocks string // a check on record, or a note that blocks: code and the beginning of its text
	}{
		"pitch, at least":          {80, body.Layout{EndDistance: 10}, rivet(func(r *body.Material) { r.MinPitch = 30 }), "distance between rivets 30 mm, at least 30 mm (rivet)", ""},
		"pitch, rounding":          {80, body.Layout{EndDistance: 10}, rivet(func(r *body.Material) { r.MinPitch = 30 + 5e-10 }), "distance between rivets 30 mm", ""},
		"pitch, less":              {80, body.Layout{EndDistance: 10}, rivet(func(r *body.Material) { r.MinPitch = 30 + 2e-9 }), "", "plan.pitch: distance between rivets 30"},
		"pitch of one rivet":       {20, body.Layout{EndDistance: 10}, rivet(func(r *body.Material) { r.MinPitch, r.MaxPitch = 30, 0.1 }), "", ""},
		"pitch, at most":           {80, body.Layout{EndDistance: 10}, rivet(func(r *body.Material) { r.MaxPitch = 30 }), "", ""},
		"pitch, more":              {80, body.Layout{EndDistance: 10}, rivet(func(r *body.Material) { r.MaxPitch = 29.99 }), "", "plan.pitch: distance between rivets 30 mm; rivet allows at most 29.99 mm"},
		"end, at least":            {80, body.Layout{EndDistance: 10}, rivet(func(r *body.Material) { r.MinEdge = 10 }), "first rivet from the end 10 mm, at least 10 mm (rivet)", ""},
		"end, less":                {80, body.Layout{EndDistance: 10}, rivet(func(r *body.Material) { r.MinEdge = 10.01 }), "", "plan.edge: first rivet from the end 10 mm; rivet needs at least 10.01 mm"},
		"edge, at least":           {80, body.Layout{EndDistance: 10, EdgeOff: 8}, rivet(func(r *body.Material) { r.MinEdge = 8 }), "outer row from the edge 8 mm, at least 8 mm (rivet)", ""},
		"edge, less":               {80, body.Layout{EndDistance: 10, EdgeOff: 7.99}, rivet(func(r *body.Material) { r.MinEdge = 8 }), "", "plan.edge: outer row from the edge 7.99 mm; rivet needs at least 8 mm"},
		"bounds of the shank":      {80, body.Layout{EndDistance: 10, Bounds: "B"}, bounds(body.OfShank, 2.5, 7.5, 0), "distance between rivets 30 mm, at least 30 mm (7.5 x 4 mm, table)", ""},
		"bounds of the shank, end": {80, body.Layout{EndDistance: 10, Bounds: "B"}, bounds(body.OfShank, 2.5, 7.5, 0), "first rivet from the end 10 mm, at least 10 mm (2.5 x 4 mm, table)", ""},
		"of the shank, less":       {80, body.Layout{EndDistance: 10, Bounds: "B"}, bounds(body.OfShank, 2.5, 7.6, 0), "", "plan.pitch: distance between rivets 30 mm; 7.6 x 4 mm, table needs at least 30.4 mm"},
		"of the shank, end, less":  {80, body.Layout{EndDistance: 10, Bounds: "B"}, bounds(body.OfShank, 2.6, 7.5, 0), "", "plan.edge: first rivet from the end 10 mm; 2.6 x 4 mm, table needs at least 10.4 mm"},
		"bounds of the hole":       {80, body.Layout{EndDistance: 10, Bounds: "B"}, bounds(body.OfHole, 2, 6, 0), "distance between rivets 30 mm, at least 30 mm (6 x 5 mm, table)", ""},
		"of the hole, less":        {80, body.Layout{EndDistance: 10, Bounds: "B"}, bounds(body.OfHole, 2, 6.1, 0), "", "plan.pitch: distance between rivets 30 mm; 6.1 x 5 mm, table needs at least 30.5 mm"},
		"of one rivet":             {20, body.Layout{EndDistance: 10, Bounds: "B"}, bounds(body.OfHole, 2, 60, 0), "first rivet from the end 10 mm, at least 10 mm (2 x 5 mm, table)", ""},
		"of the edge":              {80, body.Layout{EndDistance: 10, EdgeOff: 10, Bounds: "B"}, bounds(body.OfHole, 2, 6, 0), "outer row from the edge 10 mm, at least 10 mm (2 x 5 mm, table)", ""},
		"of the edge, less":        {80, body.Layout{EndDistance: 10, EdgeOff: 9.5, Bounds: "B"}, bounds(body.OfHole, 2, 6, 0), "", "plan.edge: outer row from the edge 9.5 mm; 2 x 5 mm, table needs at least 10 mm"},
		"rows, by the pitch":       {80, body.Layout{Rows: 2, RowGap: 30, EndDistance: 10, Bounds: "B"}, bounds(body.OfHole, 2, 6, 0), "distance between rows 30 mm, at least 30 mm (6 x 5 mm, table)", ""},
		"rows":                     {80, body.Layout{Rows: 2, RowGap: 15, EndDistance: 10, Bounds: "B"}, bounds(body.OfHole, 2, 6, 3), "distance between rows 15 mm, at least 15 mm (3 x 5 mm, table)", ""},
		"rows, less":               {80, body.Layout{Rows: 2, RowGap: 15, EndDistance: 10, Bounds: "B"}, bounds(body.OfHole, 2, 6, 3.1), "", "plan.pitch: distance between rows 15 mm; 3.1 x 5 mm, table needs at least 15.5 mm"},
		"one row":                  {80, body.Layout{Rows: 1, RowGap: 15, EndDistance: 10, Bounds: "B"}, bounds(body.OfHole, 2, 6, 9), "distance between rivets", ""},
		"no distance of rows":      {80, body.Layout{Rows: 2, EndDistance: 10, Bounds: "B"}, bounds(body.OfHole, 2, 6, 9), "distance between rivets", ""},
		"bounds that are not":      {80, body.Layout{EndDistance: 10, Bounds: "C"}, bounds(body.OfHole, 2, 6, 9), "", `plan.bounds: the layout cannot be checked with "C"`},
		"of no hole": {80, body.Layout{EndDistance: 10, Bounds: "B"}, func(in *Input, r, s *body.Material) {
			bounds(body.OfHole, 2, 6, 9)(in, r, s)
			r.Drill = 0
		}, "", `plan.bounds: the layout cannot be checked with "B": the bounds or the diameter of the hole of rivet`},
		"grip, least":          {80, body.Layout{EndDistance: 10, Stack: 3}, rivet(func(r *body.Material) { r.GripLow, r.GripHigh = 3, 5 }), "clamps 3 mm, grip 3 mm to 5 mm", ""},
		"grip, most":           {80, body.Layout{EndDistance: 10, Stack: 5}, rivet(func(r *body.Material) { r.GripLow, r.GripHigh = 3, 5 }), "clamps 5 mm, grip 3 mm to 5 mm", ""},
		"grip, less":           {80, body.Layout{EndDistance: 10, Stack: 2.9}, rivet(func(r *body.Material) { r.GripLow, r.GripHigh = 3, 5 }), "", "plan.grip: 2.9 mm is to be clamped; rivet clamps 3 mm to 5 mm"},
		"grip, more":           {80, body.Layout{EndDistance: 10, Stack: 5.1}, rivet(func(r *body.Material) { r.GripLow, r.GripHigh = 3, 5 }), "", "plan.grip: 5.1 mm is to be clamped"},
		"grip not given":       {80, body.Layout{EndDistance: 10, Stack: 5.1}, rivet(func(r *body.Material) { r.GripLow = 9 }), "", ""},
		"no stack":             {80, body.Layout{EndDistance: 10}, rivet(func(r *body.Material) { r.GripLow, r.GripHigh = 3, 5 }), "", ""},
		"short":                {19.9, body.Layout{EndDistance: 10}, nil, "", "plan.layout-short: a row of 19.9 mm has no place"},
		"no more than counted": {1e6 + 20, body.Layout{EndDistance: 10, Pitch: 1}, nil, "", "plan.rivets: a row of 1000020 mm with a rivet every 1 mm has more"},
	} {
		b, laid := laidOut(c.mm, weldF1, c.l, c.change)
		if c.blocks != "" {
			if !slices.ContainsFunc(b.notes, func(n note) bool { return strings.HasPrefix(n.Code+": "+n.Text, c.blocks) && n.Hint != "" }) || len(b.notes) != 1 {
				t.Errorf("%s: %+v, want %s", name, b.notes, c.blocks)
			}
			continue
		}
		if blocking(b.notes) != "" || laid == nil {
			t.Fatalf("%s: %+v", name, b.notes)
		}
		if c.check == "" && len(laid.Checks) > 0 || c.check != "" && !slices.ContainsFunc(laid.Checks, func(s string) bool { return strings.HasPrefix(s, c.check) }) {
			t.Errorf("%s: on record is %q, want %q", name, laid.Checks, c.check)
		}
	}
}

// By hand: rows side by side need (rows - 1) gaps and an edge distance on each side of the
// flange of a section; the layout's own where it gives them.
func TestFlangeHoldsItsRows(t *testing.T) {
	for _, c := range []struct {
		it         Item
		l          body.Layout
		flange     float64
		fits, more bool // at that width, and at a hair less
	}{
		{cutS1, body.Layout{Rows: 3}, 2*15 + 2*9, true, false},
		{cutS1, body.Layout{Rows: 1}, 18, true, false},
		{cutS1, body.Layout{}, 18, true, false},
		{cutS1, body.Layout{Rows: 2, RowGap: 20}, 20 + 18, true, false},
		{cutS1, body.Layout{Rows: 2, RowGap: 20, EdgeOff: 10}, 20 + 20, true, false},
		{cutS1, body.Layout{Rows: 9}, 0.0001, false, true}, // below nothing is not given
		{weldF1, body.Layout{Rows: 9}, 10, true, true},
	} {
		c.l.EndDistance = 12
		for less, want := range map[float64]bool{0: c.fits, 0.001: c.more} {
			b, _ := laidOut(400, c.it, c.l, func(in *Input, r, s *body.Material) { in.Body.Lines[0].FlangeWidth = unit.MM(c.flange - less) })
			if got := !strings.Contains(blocking(b.notes), "plan.flange"); got != want {
				t.Errorf("%+v on a flange of %g: fits %t, want %t: %v", c.l, c.flange-less, got, want, b.notes)
			}
		}
	}
}

// By hand: what a layout uses of rivets, adhesive and plate.
func TestLayoutUses(t *testing.T) {
	sheet := func(unit string) func(in *Input, r, s *body.Material) {
		return func(in *Input, r, s *body.Material) { s.Pack.Unit = unit }
	}
	for name, c := range map[string]struct {
		it     Item
		mm     float64
		l      body.Layout
		change func(in *Input, r, s *body.Material)
		mat    body.MaterialID
		want   float64 // nothing: -1
		text   string
	}{
		// (100 + 2 x 25 - 20) / 30 = 4.3: 5 gaps and 6 rivets, in two rows.
		"rivets of a plate": {plateF2, 100, body.Layout{Rows: 2, EndDistance: 10, PlateOver: 25}, nil, "rivet", 12, "2 rows x (ceil((150 mm - 2 x 10 mm) / 30 mm) + 1 = 6), 26 mm apart"},
		// A cut has no overlap: (100 - 20) / 30 = 2.7: 3 gaps.
		"rivets of a section":    {cutS1, 100, body.Layout{EndDistance: 10, PlateOver: 25}, nil, "rivet", 4, "1 row x (ceil((100 mm - 2 x 10 mm) / 30 mm) + 1 = 4), 26.667 mm apart"},
		"rivets of a casting":    {newCast, 100, body.Layout{EndDistance: 10, PlateOver: 25}, nil, "rivet", 4, "100 mm"},
		"no rivets without room": {weldF1, 10, body.Layout{EndDistance: 10}, nil, "rivet", -1, ""},
		"a squeezed bead":        {cutS1, 400, body.Layout{EndDistance: 10, Adhesive: "glue", BeadWidth: 20, BondLine: 0.5}, nil, "glue", 4, "400 mm x 20 mm x 0.5 mm / 1000 = 4 ml"},
		"a bead along a plate":   {plateF2, 350, body.Layout{EndDistance: 10, PlateOver: 25, Adhesive: "glue", BeadWidth: 20, BondLine: 0.5}, nil, "glue", 4, "400 mm x 20 mm"},
		"no bond line":           {cutS1, 400, body.Layout{EndDistance: 10, Adhesive: "glue", BeadWidth: 20}, nil, "glue", -1, ""},
		"no width":               {cutS1, 400, body.Layout{EndDistance: 10, Adhesive: "glue", BondLine: 0.5, BeadRound: 4}, nil, "glue", -1, ""},
		"no adhesive":            {cutS1, 400, body.Layout{EndDistance: 10, BeadWidth: 20, BondLine: 0.5}, nil, "glue", -1, ""},
		// pi / 4 x 16 = 12.566 mm2, 400 mm of it 5.0265 ml.
		"a round bead": {cutS1, 400, body.Layout{EndDistance: 10, Adhesive: "glue", BeadWidth: 20, BondLine: 0.5, BeadRound: 4}, nil, "glue", 400 * math.Pi * 4 / 1000, "400 mm x pi/4 x (4 mm)^2 / 1000 = 5.027 ml"},
		// (100 + 2 x 25) x 2 x 25 = 7500 mm2 by 0.5 mm.
		"the whole plate":      {plateF2, 100, body.Layout{EndDistance: 10, PlateOver: 25, Adhesive: "glue", BondLine: 0.5, WholePlate: true}, nil, "glue", 3.75, "150 mm x 50 mm x 0.5 mm / 1000 = 3.75 ml, over the whole plate"},
		"a plate in mm2":       {plateF2, 100, body.Layout{EndDistance: 10, PlateOver: 25, Plate: "sheet"}, sheet("mm2"), "sheet", 7500, "(100 mm + 2 x 25 mm) x 2 x 25 mm = 150 mm x 50 mm"},
		"a plate in cm2":       {plateF2, 100, body.Layout{EndDistance: 10, PlateOver: 25, Plate: "sheet"}, nil, "sheet", 75, "150 mm x 50 mm"},
		"a plate in m2":        {plateF2, 100, body.Layout{EndDistance: 10, PlateOver: 25, Plate: "sheet"}, sheet("m2"), "sheet", 0.0075, "150 mm x 50 mm"},
		"a plate by the piece": {plateF2, 100, body.Layout{EndDistance: 10, PlateOver: 25, Plate: "sheet"}, sheet("piece"), "sheet", 1, "1 blank of (100 mm"},
		"no plate":             {plateF2, 100, body.Layout{EndDistance: 10, PlateOver: 25}, nil, "sheet", -1, ""},
	} {
		b, _ := laidOut(c.mm, c.it, c.l, c.change)
		got, text := -1.0, ""
		for _, u := range b.uses {
			if u.mat == c.mat {
				got, text = u.amount, u.formula
			}
		}
		if math.Abs(got-c.want) > 1e-9 || !strings.Contains(text, c.text) {
			t.Errorf("%s: %g, %q; want %g, %q", name, got, text, c.want, c.text)
		}
	}
	for round, want := range map[unit.MM]string{4: "", 3.5: "plan.bead"} { // 12.57 and 9.62 mm2 fill 20 x 0.5, or do not
		b, _ := laidOut(400, cutS1, body.Layout{EndDistance: 10, Adhesive: "glue", BeadWidth: 20, BondLine: 0.5, BeadRound: round}, nil)
		if got := blocking(b.notes); got != want {
			t.Errorf("a bead of %s: %q", round, got)
		}
	}
}
