package body

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/golden"
	"fettle/internal/unit"
)

var theGood struct {
	once  sync.Once
	files map[string][]byte
	body  *Body
}

// changed is what is told of the good folder after a change of what was read from it: the
// fields, each as often as it is told of, and all of it in words.
func changed(t *testing.T, change func(*Body)) ([]string, string) {
	t.Helper()
	theGood.once.Do(func() { theGood.files, theGood.body = goodFiles(t), good(t) })
	b := golden.Copied(theGood.body)
	change(b)
	problems := b.validate(theGood.files)
	var fields []string
	for _, p := range problems {
		if p.File == "" || p.Msg == "" {
			t.Errorf("%+v does not say what is wrong where", p)
		}
		fields = append(fields, p.Field)
	}
	slices.Sort(fields)
	return fields, problems.Error()
}

// edge is a number of a body that has limits: numbers on and just within them, and just
// beyond them. Zero is not given where it is not needed.
type edge struct {
	field     string
	set       func(*Body, float64)
	good, bad []float64
}

func edges() []edge {
	const big, tiny = 20000, 1e-6
	notNeg := func(field string, set func(*Body, float64)) edge {
		return edge{field, set, []float64{0, tiny, 3}, []float64{-tiny}}
	}
	pos := func(field string, set func(*Body, float64)) edge {
		return edge{field, set, []float64{tiny, 3}, []float64{0, -tiny}}
	}
	layout := func(b *Body) *Layout { return b.Treatments[1].Steps[1].Layout }
	proc := func(b *Body) *Procedure { return &b.Procedures[0] }
	weld := func(b *Body, change func(*Heat)) {
		h := Heat{Factor: 0.8, Voltage: unit.Amount{Value: 20, Unit: "V"}, Current: unit.Amount{Value: 100, Unit: "A"}, Speed: unit.Amount{Value: 8, Unit: "mm/s"}, High: unit.Amount{Value: 1, Unit: "kJ/mm"}, Cite: "c"}
		change(&h)
		b.Treatments[0].Steps[0].Heat = &h
	}
	level := func(b *Body, change func(*Level)) {
		l := Level{ID: "L", Cite: "c", Ratio: 3, Linear: 2, NonLinear: 4}
		change(&l)
		proc(b).Levels = []Level{l}
	}
	line := func(b *Body, change func(*InLine)) {
		level(b, func(l *Level) {
			l.InLine = &InLine{Least: 3, Gap: 2, Beside: 1, Longest: 0}
			change(l.InLine)
		})
	}
	group := func(b *Body, change func(*Grouping)) {
		g := Grouping{Name: "g", Cite: "c", HalfSum: 1}
		change(&g)
		proc(b).Grouping = &g
	}
	bounds := func(b *Body, change func(*RivetBounds)) {
		r := RivetBounds{ID: "B", Cite: "c", Of: "hole", End: 2, Pitch: 3}
		change(&r)
		b.Bounds = []RivetBounds{r}
	}
	return []edge{
		{"confidence", func(b *Body, v float64) { b.Confidence = unit.Frac(v) }, []float64{0.95, 0.9999}, []float64{0.9499, 1, 0, 2}},
		{"sections[0].about_mm", func(b *Body, v float64) { b.Sections[0].About[2] = v }, []float64{big, -big}, []float64{big + tiny, -big - tiny}},
		{"column x_mm", func(b *Body, v float64) { b.Points[0].X = v }, []float64{big, -big}, []float64{big + 1, -big - 1}},
		{"column y_mm", func(b *Body, v float64) { b.Points[0].Y = v }, []float64{big, -big}, []float64{big + 1, -big - 1}},
		{"column z_mm", func(b *Body, v float64) { b.Points[0].Z = v }, []float64{big, -big}, []float64{big + 1, -big - 1}},
		{"column tol_mm", func(b *Body, v float64) { b.Points[0].Tol.Value = v }, []float64{tiny}, []float64{0, -tiny}},
		{"column tol_z_mm", func(b *Body, v float64) { b.Points[2].TolZ.Value = v }, []float64{tiny}, []float64{0, -tiny}},
		notNeg("column std_mm", func(b *Body, v float64) { b.Points[0].Std.Value = v }),
		{"column price", func(b *Body, v float64) { b.Parts[0].Price.Minor = unit.Minor(v) }, []float64{0, 1}, []float64{-1}},
		notNeg("column mass", func(b *Body, v float64) { b.Parts[0].Mass = unit.Kilogram(v) }),
		notNeg("column off", func(b *Body, v float64) { b.Parts[0].Off = unit.Minutes(v) }),
		notNeg("column on", func(b *Body, v float64) { b.Parts[0].On = unit.Minutes(v) }),
		notNeg("column delivery", func(b *Body, v float64) { b.Parts[1].Delivery.Value = unit.Minutes(v) }),
		{"joints[0].count", func(b *Body, v float64) { b.Joints[0].Count = int(v) }, []float64{1, 10000}, []float64{0, -1, 10001}},
		{"joints[1].length", func(b *Body, v float64) { b.Joints[1].Length = unit.MM(v) }, []float64{tiny}, []float64{0, -tiny}},
		{"joints[0].length", func(b *Body, v float64) { b.Joints[0].Length = unit.MM(v) }, []float64{0, tiny}, []float64{-tiny}},
		notNeg("joints[0].open", func(b *Body, v float64) { b.Joints[0].Open = unit.Minutes(v) }),
		notNeg("joints[0].refit", func(b *Body, v float64) { b.Joints[0].Refit = unit.Minutes(v) }),
		notNeg("joints[0].torque", func(b *Body, v float64) { b.Joints[0].Torque = unit.NewtonMetre(v) }),
		{"joints[1].glue_open", func(b *Body, v float64) { b.Joints[1].GlueOpen = unit.Minutes(v) }, []float64{0, tiny, 33}, []float64{-tiny, 33 + tiny}},
		pos("castings[0].mesh_std", func(b *Body, v float64) { b.Castings[0].MeshStd = unit.MM(v) }),
		pos("castings[0].wall", func(b *Body, v float64) { b.Castings[0].Wall = unit.MM(v) }),
		{"castings[0].bores[0].at_mm", func(b *Body, v float64) { b.Castings[0].Bores[0].At[1] = v }, []float64{big, -big}, []float64{big + 1, -big - 1}},
		pos("castings[0].bores[0].radius", func(b *Body, v float64) { b.Castings[0].Bores[0].Radius = unit.MM(v) }),
		notNeg("castings[0].bores[0].std", func(b *Body, v float64) { b.Castings[0].Bores[0].Std = unit.MM(v) }),
		{"section_lines[0].offset", func(b *Body, v float64) { b.Lines[0].Offset = unit.MM(v) }, []float64{big, -big, 0}, []float64{big + 1, -big - 1}},
		{"section_lines[0].within.min_mm", func(b *Body, v float64) { b.Lines[0].Within.Min[0] = v }, []float64{-big, 399}, []float64{-big - 1}},
		{"section_lines[0].within.max_mm", func(b *Body, v float64) { b.Lines[0].Within.Max[0] = v }, []float64{tiny, big}, []float64{big + 1}},
		{"section_lines[0].within.max_mm", func(b *Body, v float64) { b.Lines[0].Within.Max[1] = v }, []float64{-599}, []float64{-600, -601}},
		notNeg("section_lines[0].margin", func(b *Body, v float64) { b.Lines[0].Margin = unit.MM(v) }),
		pos("section_lines[0].flange_width", func(b *Body, v float64) { b.Lines[0].FlangeWidth = unit.MM(v) }),
		pos("inspection[0].finds", func(b *Body, v float64) { b.Inspect[0].Finds = unit.MM(v) }),
		pos("materials[2].pack", func(b *Body, v float64) { b.Materials[2].Pack.Value = v }),
		{"materials[0].price", func(b *Body, v float64) { b.Materials[0].Price.Minor = unit.Minor(v) }, []float64{0, 1}, []float64{-1}},
		{"materials[0].waste", func(b *Body, v float64) { b.Materials[0].Waste = unit.Frac(v) }, []float64{0, 0.999}, []float64{-tiny, 1}},
		notNeg("materials[0].diameter", func(b *Body, v float64) { b.Materials[0].Diameter = unit.MM(v) }),
		notNeg("materials[0].min_pitch", func(b *Body, v float64) { b.Materials[0].MinPitch = unit.MM(v) }),
		notNeg("materials[0].min_edge", func(b *Body, v float64) { b.Materials[0].MinEdge = unit.MM(v) }),
		notNeg("materials[0].length", func(b *Body, v float64) { b.Materials[0].Length = unit.MM(v) }),
		{"materials[1].drill", func(b *Body, v float64) { b.Materials[1].Drill = unit.MM(v) }, []float64{0, 5, 6}, []float64{-tiny, 4.99, tiny}},
		{"materials[1].grip_high", func(b *Body, v float64) { b.Materials[1].GripLow, b.Materials[1].GripHigh = unit.MM(v), 4 }, []float64{0, 2, 4}, []float64{4.01}},
		{"materials[1].grip_low", func(b *Body, v float64) { b.Materials[1].GripLow, b.Materials[1].GripHigh = unit.MM(v), 4 }, []float64{0, 2, 4}, []float64{-tiny}},
		{"materials[1].grip_high", func(b *Body, v float64) { b.Materials[1].GripHigh = unit.MM(v) }, []float64{0, 4}, []float64{-tiny}},
		{"materials[1].grip_high", func(b *Body, v float64) { b.Materials[1].GripLow = unit.MM(v) }, []float64{0}, []float64{tiny}},
		{"materials[1].max_pitch", func(b *Body, v float64) { b.Materials[1].MaxPitch = unit.MM(v) }, []float64{0, 20, 30}, []float64{19.9, tiny, -tiny}},
		pos("materials[2].cure[1].working", func(b *Body, v float64) { b.Materials[2].Cure[1].Working = unit.Minutes(v) }),
		{"materials[2].cure[1]", func(b *Body, v float64) { b.Materials[2].Cure[1].Working = unit.Minutes(v) }, []float64{45, 70}, []float64{70 + tiny}},
		{"materials[2].cure[1]", func(b *Body, v float64) { b.Materials[2].Cure[1].Handling = unit.Minutes(v) }, []float64{45, 9 * 60}, []float64{45 - tiny, 9*60 + tiny}},
		{"materials[2].cure[1]", func(b *Body, v float64) { b.Materials[2].Cure[1].Full = unit.Minutes(v) }, []float64{5 * 60, 30 * 60}, []float64{5*60 - tiny, 30*60 + tiny}},
		{"materials[2].cure[1].temp", func(b *Body, v float64) { b.Materials[2].Cure[1].Temp = unit.Celsius(v) }, []float64{12 + tiny, 300}, []float64{12, 11, 300.5}},
		{"materials[2].cure[0].temp", func(b *Body, v float64) { b.Materials[2].Cure[0].Temp = unit.Celsius(v) }, []float64{-30, 12}, []float64{-31}},
		{"joints[0].uses[0].each", func(b *Body, v float64) { b.Joints[0].Uses[0].Each.Value = v }, []float64{tiny}, []float64{0, -1}},
		{"joints[1].uses[0].per_metre", func(b *Body, v float64) { b.Joints[1].Uses[0].PerMetre.Value = v }, []float64{tiny}, []float64{0, -1}},
		{"joints[1].uses[0].per_m2", func(b *Body, v float64) {
			b.Joints[1].Uses[0].PerArea, b.Joints[1].Uses[0].Width = unit.Amount{Value: v, Unit: "ml"}, 3
		}, []float64{tiny}, []float64{-1}},
		{"joints[1].uses[0].width", func(b *Body, v float64) {
			b.Joints[1].Uses[0].PerArea, b.Joints[1].Uses[0].Width = unit.Amount{Value: 2, Unit: "ml"}, unit.MM(v)
		}, []float64{tiny}, []float64{0, -1}},
		{"joints[1].uses[0].width", func(b *Body, v float64) { b.Joints[1].Uses[0].Width = unit.MM(v) }, []float64{0}, []float64{tiny, -1}},
		notNeg("treatments[0].steps[0].fixed", func(b *Body, v float64) { b.Treatments[0].Steps[0].Fixed = unit.Minutes(v) }),
		notNeg("treatments[0].steps[0].per_metre", func(b *Body, v float64) { b.Treatments[0].Steps[0].PerMetre = unit.Minutes(v) }),
		{"treatments[0].steps[0].per_rivet", func(b *Body, v float64) { b.Treatments[0].Steps[0].PerRivet = unit.Minutes(v) }, []float64{0}, []float64{-tiny, tiny}},
		notNeg("treatments[1].steps[0].per_rivet", func(b *Body, v float64) { b.Treatments[1].Steps[0].PerRivet = unit.Minutes(v) }),
		{"tasks[0].step.per_rivet", func(b *Body, v float64) { b.Tasks[0].Step.PerRivet = unit.Minutes(v) }, []float64{0}, []float64{-tiny, tiny}},
		notNeg("tasks[0].step.fixed", func(b *Body, v float64) { b.Tasks[0].Step.Fixed = unit.Minutes(v) }),
		{"treatments[1].steps[1].layout.rows", func(b *Body, v float64) { layout(b).Rows = int(v) }, []float64{1, 10000}, []float64{0, -1, 10001}},
		{"treatments[1].steps[1].layout.pitch", func(b *Body, v float64) { layout(b).Pitch = unit.MM(v) }, []float64{20}, []float64{19.99, 0, -1}},
		{"treatments[1].steps[1].layout.end_distance", func(b *Body, v float64) { layout(b).EndDistance = unit.MM(v) }, []float64{11}, []float64{10.99, 0, -1}},
		{"treatments[1].steps[1].layout.rivet", func(b *Body, v float64) { b.Materials[1].MinPitch = unit.MM(v) }, []float64{tiny}, []float64{0}},
		{"treatments[1].steps[1].layout.rivet", func(b *Body, v float64) { b.Materials[1].MinEdge = unit.MM(v) }, []float64{tiny}, []float64{0}},
		notNeg("treatments[1].steps[1].layout.bead_diameter", func(b *Body, v float64) { layout(b).BeadRound = unit.MM(v) }),
		notNeg("treatments[1].steps[1].layout.edge_distance", func(b *Body, v float64) { layout(b).EdgeOff = unit.MM(v) }),
		notNeg("treatments[1].steps[1].layout.row_gap", func(b *Body, v float64) { layout(b).RowGap = unit.MM(v) }),
		notNeg("treatments[1].steps[1].layout.stack", func(b *Body, v float64) { layout(b).Stack = unit.MM(v) }),
		pos("treatments[1].steps[1].layout.bead_width", func(b *Body, v float64) { layout(b).BeadWidth = unit.MM(v) }),
		pos("treatments[1].steps[1].layout.bond_line", func(b *Body, v float64) { layout(b).BondLine = unit.MM(v) }),
		pos("treatments[1].steps[1].layout.plate_overlap", func(b *Body, v float64) {
			b.Materials[0].Kind = "plate"
			layout(b).Plate = "M-CLIP"
			layout(b).PlateOver = unit.MM(v)
		}),
		{"treatments[0].steps[0].wait", func(b *Body, v float64) { b.Treatments[0].Steps[0].Wait = &Wait{Name: "w", Elapsed: unit.Minutes(v)} }, []float64{tiny}, []float64{0}},
		{"treatments[0].steps[0].wait.elapsed", func(b *Body, v float64) { b.Treatments[0].Steps[0].Wait = &Wait{Name: "w", Elapsed: unit.Minutes(v)} }, []float64{tiny}, []float64{-tiny}},
		{"treatments[0].steps[0].heat.factor", func(b *Body, v float64) { weld(b, func(h *Heat) { h.Factor = v }) }, []float64{tiny, 1}, []float64{0, -1, 1 + tiny}},
		{"treatments[0].steps[0].heat.voltage", func(b *Body, v float64) { weld(b, func(h *Heat) { h.Voltage.Value = v }) }, []float64{tiny}, []float64{0, -1}},
		{"treatments[0].steps[0].heat.current", func(b *Body, v float64) { weld(b, func(h *Heat) { h.Current.Value = v }) }, []float64{tiny}, []float64{0, -1}},
		{"treatments[0].steps[0].heat.speed", func(b *Body, v float64) { weld(b, func(h *Heat) { h.Speed.Value = v }) }, []float64{tiny}, []float64{0, -1}},
		{"treatments[0].steps[0].heat.high", func(b *Body, v float64) { weld(b, func(h *Heat) { h.High.Value = v }) }, []float64{tiny, 10}, []float64{0, -1, 10 + tiny}},
		{"treatments[0].steps[0].heat.low", func(b *Body, v float64) { weld(b, func(h *Heat) { h.Low = unit.Amount{Value: v, Unit: "kJ/mm"} }) }, []float64{tiny, 1}, []float64{-1, 1 + tiny}},
		{"treatments[0].steps[0].environment.humidity_high", func(b *Body, v float64) { b.Treatments[0].Steps[0].Air = &Environment{Humidity: unit.Frac(v)} }, []float64{tiny, 1}, []float64{-tiny, 1 + tiny}},
		{"treatments[0].steps[0].environment", func(b *Body, v float64) { b.Treatments[0].Steps[0].Air = &Environment{Humidity: unit.Frac(v)} }, []float64{tiny}, []float64{0}},
		{"treatments[0].steps[0].environment.temperature_low", func(b *Body, v float64) {
			b.Treatments[0].Steps[0].Air = &Environment{Low: unit.Some(unit.Celsius(v)), High: unit.Some(unit.Celsius(30))}
		}, []float64{30, -5}, []float64{30 + tiny}},
		{"treatments[0].steps[0].readings[0].low", func(b *Body, v float64) {
			b.Treatments[0].Steps[0].Readings = []Reading{{ID: "r", Name: "n", Unit: "C", Low: unit.Amount{Value: v, Unit: "C"}, High: unit.Amount{Value: 9, Unit: "C"}}}
		}, []float64{9, -3}, []float64{9 + tiny}},
		{"thermal.reference", func(b *Body, v float64) { b.Thermal.Reference = unit.Celsius(v) }, []float64{-30, 60}, []float64{-30 - tiny, 60 + tiny}},
		{"thermal.low", func(b *Body, v float64) { b.Thermal.Low = unit.Celsius(v) }, []float64{-30, 34}, []float64{-30 - tiny}},
		{"thermal.high", func(b *Body, v float64) { b.Thermal.High = unit.Celsius(v) }, []float64{5 + tiny, 60}, []float64{5, 4, 60 + tiny}},
		{"thermal.materials[0].expansion", func(b *Body, v float64) { b.Thermal.Materials[0].Expansion = unit.PerKelvin(v) }, []float64{tiny, 100}, []float64{0, -1, 100 + tiny}},
		pos("thermal.materials[0].std", func(b *Body, v float64) { b.Thermal.Materials[0].Std = unit.PerKelvin(v) }),
		notNeg("assemblies[0].off", func(b *Body, v float64) { b.Assemblies[0].Off = unit.Minutes(v) }),
		notNeg("assemblies[0].on", func(b *Body, v float64) { b.Assemblies[0].On = unit.Minutes(v) }),
		notNeg("tip_allowance_visual", func(b *Body, v float64) { proc(b).TipVisual = unit.MM(v) }),
		notNeg("group_gap", func(b *Body, v float64) { proc(b).GroupGap = unit.MM(v) }),
		{"levels[0].linear_over", func(b *Body, v float64) { level(b, func(l *Level) { l.Ratio = v }) }, []float64{1, 100}, []float64{0.999, 100.1}},
		{"levels[0].together_under", func(b *Body, v float64) { level(b, func(l *Level) { l.Together = v }) }, []float64{0, 100}, []float64{-tiny, 100.1}},
		{"levels[0].counts_from", func(b *Body, v float64) { level(b, func(l *Level) { l.CountsFrom = unit.MM(v) }) }, []float64{0, 2}, []float64{-tiny, 2 + tiny}},
		{"levels[0].linear", func(b *Body, v float64) { level(b, func(l *Level) { l.Linear = unit.MM(v) }) }, []float64{tiny, 4}, []float64{4 + tiny}},
		{"levels[0].linear", func(b *Body, v float64) { level(b, func(l *Level) { l.Linear = unit.MM(v) }) }, []float64{tiny}, []float64{0}},
		{"levels[0].linear", func(b *Body, v float64) { level(b, func(l *Level) { l.Linear, l.NonLinear = 0, unit.MM(v) }) }, nil, []float64{0, 1}},
		{"levels[0].in_line.least", func(b *Body, v float64) { line(b, func(n *InLine) { n.Least = int(v) }) }, []float64{2, 100}, []float64{1, 0, -1, 101}},
		{"levels[0].in_line", func(b *Body, v float64) { line(b, func(n *InLine) { n.Gap = unit.MM(v) }) }, []float64{tiny}, []float64{0}},
		{"levels[0].in_line.gap", func(b *Body, v float64) { line(b, func(n *InLine) { n.Gap = unit.MM(v) }) }, []float64{tiny}, []float64{-tiny}},
		{"levels[0].in_line", func(b *Body, v float64) { line(b, func(n *InLine) { n.Gap, n.GapTimes = 0, v }) }, []float64{tiny, 100}, []float64{0}},
		{"levels[0].in_line.gap_times", func(b *Body, v float64) { line(b, func(n *InLine) { n.Gap, n.GapTimes = 0, v }) }, []float64{tiny, 100}, []float64{-tiny, 100.1}},
		notNeg("levels[0].in_line.beside", func(b *Body, v float64) { line(b, func(n *InLine) { n.Beside = unit.MM(v) }) }),
		notNeg("levels[0].in_line.longest", func(b *Body, v float64) { line(b, func(n *InLine) { n.Longest = unit.MM(v) }) }),
		{"grouping.half_sum", func(b *Body, v float64) { group(b, func(g *Grouping) { g.HalfSum = v }) }, []float64{tiny, 10}, []float64{-tiny, 10.1}},
		{"grouping.shorter", func(b *Body, v float64) { group(b, func(g *Grouping) { g.Shorter = v }) }, []float64{0, 10}, []float64{-tiny, 10.1}},
		{"grouping.longer", func(b *Body, v float64) { group(b, func(g *Grouping) { g.Longer = v }) }, []float64{0, 10}, []float64{-tiny, 10.1}},
		{"grouping.deeper", func(b *Body, v float64) { group(b, func(g *Grouping) { g.Deeper = v }) }, []float64{0, 10}, []float64{-tiny, 10.1}},
		{"grouping", func(b *Body, v float64) { group(b, func(g *Grouping) { g.HalfSum = v }) }, []float64{tiny}, []float64{0}},
		{"grouping", func(b *Body, v float64) { group(b, func(g *Grouping) { g.HalfSum, g.Deeper = 0, v }) }, []float64{tiny}, []float64{0}},
		{"rivet_bounds[0].end", func(b *Body, v float64) { bounds(b, func(r *RivetBounds) { r.End = v }) }, []float64{1, 20}, []float64{0, 0.99, -1, 20.1}},
		{"rivet_bounds[0].pitch", func(b *Body, v float64) { bounds(b, func(r *RivetBounds) { r.Pitch = v }) }, []float64{1, 20}, []float64{0, 0.99, -1, 20.1}},
		{"rivet_bounds[0].rows", func(b *Body, v float64) { bounds(b, func(r *RivetBounds) { r.Rows = v }) }, []float64{0, 0.5, 20}, []float64{-tiny, 20.1}},
		{"rows[0].with.plate_thickness", func(b *Body, v float64) {
			proc(b).Rows[0].Allow = append(proc(b).Rows[0].Allow, WeldBacking)
			proc(b).Rows[0].With = Manner{Thickness: unit.MM(v), Text: "t"}
		}, []float64{0, tiny}, []float64{-tiny}},
		{"rows[0].with.plate_overlap", func(b *Body, v float64) {
			proc(b).Rows[0].Allow = append(proc(b).Rows[0].Allow, WeldBacking)
			proc(b).Rows[0].With = Manner{Overlap: unit.MM(v), Text: "t"}
		}, []float64{0, tiny}, []float64{-tiny}},
		{"rows[0].with.most_length_in_zone", func(b *Body, v float64) { proc(b).Rows[0].With = Manner{LengthInZone: unit.MM(v), Text: "t"} }, []float64{0}, []float64{-tiny}},
		{"rows[0].with.most_length_on_casting", func(b *Body, v float64) { proc(b).Rows[0].With = Manner{LengthOnCasting: unit.MM(v), Text: "t"} }, []float64{0}, []float64{-tiny}},
		{"rows[0].with.most_in_zone", func(b *Body, v float64) { proc(b).Rows[0].With = Manner{InZone: int(v), Text: "t"} }, []float64{0, 10000}, []float64{-1, 10001}},
		{"rows[0].with.most_on_casting", func(b *Body, v float64) { proc(b).Rows[0].With = Manner{OnCasting: int(v), Text: "t"} }, []float64{0, 10000}, []float64{-1, 10001}},
		{"methods[0].finds", func(b *Body, v float64) {
			proc(b).Methods = []Method{{Method: Penetrant, Finds: unit.MM(v), Cite: "c", Bounds: []Bound{{What: "dwell_min", Least: unit.Some(5.), Cite: "c"}}}}
		}, []float64{tiny}, []float64{0, -1}},
		{"methods[0].conditions[0].most", func(b *Body, v float64) {
			proc(b).Methods = []Method{{Method: Penetrant, Finds: 2, Cite: "c", Bounds: []Bound{{What: "dwell_min", Least: unit.Some(v), Most: unit.Some(5.), Cite: "c"}}}}
		}, []float64{5, 0}, []float64{5 + tiny}},
		{"areas[0].within_of_impact", func(b *Body, v float64) {
			proc(b).Methods = []Method{{Method: Penetrant, Finds: 2, Cite: "c", Bounds: []Bound{{What: "dwell_min", Least: unit.Some(5.), Cite: "c"}}}}
			proc(b).Areas = []AreaRule{{ID: "a", Cite: "c", Of: []AreaKind{AreaZone}, Within: unit.Some(unit.MM(v)), Method: Penetrant}}
		}, []float64{tiny}, []float64{0, -1}},
	}
}

// Every limit of a number of a body holds where it is said to, on both sides of its edge: up to
// it nothing is told, beyond it the field is named. The limits are those that the pages of the
// formats give or, for slips of a unit, our own choice.
func TestLimitsOfABody(t *testing.T) {
	if fields, text := changed(t, func(*Body) {}); len(fields) > 0 {
		t.Fatal(text)
	}
	for _, l := range edges() {
		for _, v := range l.good {
			if fields, text := changed(t, func(b *Body) { l.set(b, v) }); slices.Contains(fields, l.field) {
				t.Errorf("%s %g: %s", l.field, v, text)
			}
		}
		for _, v := range l.bad {
			if fields, text := changed(t, func(b *Body) { l.set(b, v) }); !slices.Contains(fields, l.field) {
				t.Errorf("%s %g is taken: %s", l.field, v, text)
			}
		}
	}
}

// What a body says otherwise than in numbers: each change is told at its field, and nowhere
// else unless it is named.
func TestFaultsOfABody(t *testing.T) {
	proc := func(b *Body) *Procedure { return &b.Procedures[0] }
	layout := func(b *Body) *Layout { return b.Treatments[1].Steps[1].Layout }
	methods := func(b *Body, names ...InspectionMethod) {
		for _, n := range names {
			proc(b).Methods = append(proc(b).Methods, Method{Method: n, Finds: 2, Cite: "c", Bounds: []Bound{{What: "temperature_c", Least: unit.Some(5.), Cite: "c"}}})
		}
	}
	for name, k := range map[string]struct {
		change func(*Body)
		fields string
	}{
		"id":                         {func(b *Body) { b.ID = "a b" }, "id"},
		"currency":                   {func(b *Body) { b.Currency = "eur" }, "column price column price column price column price column price currency materials[0].price materials[1].price materials[2].price"},
		"price in another currency":  {func(b *Body) { b.Materials[1].Price.Currency = "CHF" }, "materials[1].price"},
		"long vin":                   {func(b *Body) { b.VIN.StartsWith = strings.Repeat("A", 18) }, "vin.starts_with"},
		"whole vin":                  {func(b *Body) { b.VIN.StartsWith = strings.Repeat("A", 17) }, ""},
		"letter of no vin":           {func(b *Body) { b.VIN.StartsWith = "TESTO" }, "vin.starts_with"},
		"section twice":              {func(b *Body) { b.Sections = append(b.Sections, b.Sections[0]) }, "sections[1].id"},
		"point twice":                {func(b *Body) { b.Points[2].ID = "Q1R" }, "column id"},
		"joint twice":                {func(b *Body) { b.Joints[1].ID = "J-SKIN" }, "joints[1].id"},
		"line twice":                 {func(b *Body) { b.Lines = append(b.Lines, b.Lines[0]) }, "section_lines[1] section_lines[1].id"},
		"treatment twice":            {func(b *Body) { b.Treatments[0].ID = "CUT" }, "section_lines[0].treatment treatments[1].id"},
		"task twice":                 {func(b *Body) { b.Tasks[1].ID = "SAFE" }, "tasks[1].id triggers[0].after[0]"},
		"material twice":             {func(b *Body) { b.Materials[1].ID = "M-CLIP" }, "materials[1].id treatments[1].steps[1].layout.rivet"},
		"assembly twice":             {func(b *Body) { b.Assemblies = append(b.Assemblies, b.Assemblies[0]) }, "assemblies[1].id"},
		"area twice":                 {func(b *Body) { b.Inspect = append(b.Inspect, b.Inspect[0]) }, "inspection[1].id"},
		"bounds twice":               {func(b *Body) { b.Bounds = []RivetBounds{{ID: "B", End: 2, Pitch: 3}, {ID: "B", End: 2, Pitch: 3}} }, "rivet_bounds[1].id"},
		"bore twice":                 {func(b *Body) { b.Castings[0].Bores = append(b.Castings[0].Bores, b.Castings[0].Bores[0]) }, "castings[0].bores[1].id"},
		"zone twice":                 {func(b *Body) { b.Castings[0].Zones[1].ID = "Z-ROOT" }, "castings[0].zones[1].id rows[0].when.zones tests[0].facts.zones tests[1].facts.zones"},
		"step twice":                 {func(b *Body) { b.Treatments[1].Steps[1].ID = "saw" }, "treatments[1].steps[1].id"},
		"row twice":                  {func(b *Body) { proc(b).Rows[1].ID = "R1" }, "rows[1].id tests[0].expect.rows[0] tests[1].expect.rows[0]"},
		"level twice":                {func(b *Body) { l := Level{ID: "L", Ratio: 3, Linear: 1, NonLinear: 2}; proc(b).Levels = []Level{l, l} }, "levels[1].id"},
		"reading twice":              {func(b *Body) { b.Joints[0].Readings = []Reading{{ID: "r", Unit: "C"}, {ID: "r", Unit: "C"}} }, "joints[0].readings[1].id"},
		"label twice":                {func(b *Body) { b.Castings[0].Zones[1].Label = 1 }, "castings[0].zones[1].label"},
		"layer named twice":          {func(b *Body) { b.Joints[0].Layers[1] = "P-SKIN" }, "joints[0].layers[1]"},
		"one layer":                  {func(b *Body) { b.Joints[0].Layers = b.Joints[0].Layers[:1] }, "joints[0].layers"},
		"destroys nothing there":     {func(b *Body) { b.Joints[1].Destroys[0] = "P-NO" }, "joints[1].destroys[0]"},
		"cures what does not":        {func(b *Body) { b.Joints[1].Cures = "M-CLIP" }, "joints[1].cures"},
		"cures without times":        {func(b *Body) { b.Materials[2].Cure = nil }, "joints[1].cures treatments[1].steps[1].wait.cure"},
		"glue without cure":          {func(b *Body) { b.Joints[1].Cures, b.Joints[1].GlueOpen = "", 3 }, "joints[1].glue_open"},
		"use of nothing":             {func(b *Body) { b.Joints[0].Uses[0].Each = unit.Amount{} }, "joints[0].uses[0]"},
		"use in another unit":        {func(b *Body) { b.Joints[0].Uses[0].Each.Unit = "ml" }, "joints[0].uses[0].each"},
		"use of an unknown material": {func(b *Body) { b.Joints[0].Uses[0].Material = "M-NO" }, "joints[0].uses[0].material"},
		"no method":                  {func(b *Body) { b.Joints[0].Methods = nil }, "joints[0].methods"},
		"method twice":               {func(b *Body) { b.Joints[0].Methods = []JoinMethod{"clip", "clip"} }, "joints[0].methods[1]"},
		"weld without length":        {func(b *Body) { b.Joints[0].Methods = []JoinMethod{JoinWeld} }, "joints[0].length"},
		"hem without length":         {func(b *Body) { b.Joints[0].Methods = []JoinMethod{JoinHem} }, "joints[0].length"},
		"hem without count": {func(b *Body) {
			b.Joints[0].Methods, b.Joints[0].Length, b.Joints[0].Count = []JoinMethod{JoinHem}, 5, 0
		}, ""},
		"casting of no part":          {func(b *Body) { b.Castings[0].Part = "P-NO" }, "castings[0].part"},
		"casting that is a panel":     {func(b *Body) { b.Castings[0].Part = "P-SKIN" }, "castings[0].part"},
		"no mesh":                     {func(b *Body) { b.Castings[0].Mesh = "other.ply" }, "castings[0].mesh"},
		"no zones":                    {func(b *Body) { b.Castings[0].Zones = nil }, "access[1].to castings[0].zones inspection[0].zone rows[0].when.zones rows[1].when.zones tests[0].facts.zones tests[1].facts.zones tests[1].facts.zones"},
		"no mesh, and nothing of it":  {func(b *Body) { meshless(b) }, ""},
		"unit of no mesh":             {func(b *Body) { meshless(b).MeshUnit = "mm" }, "castings[0].mesh_unit"},
		"std of no mesh":              {func(b *Body) { meshless(b).MeshStd = 1 }, "castings[0].mesh_std"},
		"bore of no mesh":             {func(b *Body) { meshless(b).Bores = []Bore{{ID: "D1", Radius: 6}} }, "castings[0].bores"},
		"edge of no mesh":             {func(b *Body) { meshless(b).Edges = []Edge{{ID: "E1", Along: []geom.Vec{{1, 2, 3}}}} }, "castings[0].edges"},
		"line of no casting":          {func(b *Body) { b.Lines[0].Casting = "no" }, "rows[2].when.outboard_of section_lines[0].casting tests[1].facts.outboard_of"},
		"line without direction":      {func(b *Body) { b.Lines[0].Normal = geom.Vec{} }, "section_lines[0].normal"},
		"piece that is a panel":       {func(b *Body) { b.Lines[0].Piece = "P-SKIN" }, "section_lines[0].piece"},
		"line treated by dressing":    {func(b *Body) { b.Lines[0].Treatment = "DRESS" }, "section_lines[0].treatment"},
		"area of no zone":             {func(b *Body) { b.Inspect[0].Zone = "Z-NO" }, "inspection[0].zone"},
		"area of no casting":          {func(b *Body) { b.Inspect[0].Casting = "no" }, "inspection[0].casting inspection[0].zone"},
		"trigger of nothing":          {func(b *Body) { b.Triggers[0].Before, b.Triggers[0].After = nil, nil }, "triggers[0]"},
		"trigger of no part":          {func(b *Body) { b.Triggers[0].Part = "P-NO" }, "triggers[0].part"},
		"trigger of no task":          {func(b *Body) { b.Triggers[0].Before[0] = "NO" }, "triggers[0].before[0]"},
		"point of no section":         {func(b *Body) { b.Points[0].Section = "no" }, "column section"},
		"point of no part":            {func(b *Body) { b.Points[0].Part = "no" }, "column part"},
		"mirror of no point":          {func(b *Body) { b.Points[2].Mirror = "no" }, "column mirror"},
		"mirror of another":           {func(b *Body) { b.Points[2].Mirror = "Q1L" }, "column mirror"},
		"two tolerances":              {func(b *Body) { b.Points[2].Tol = unit.Some(2.) }, ""},
		"no tolerance":                {func(b *Body) { b.Points[0].Tol = unit.Maybe[float64]{} }, ""},
		"assembly of one":             {func(b *Body) { b.Assemblies[0].Parts = b.Assemblies[0].Parts[:1] }, "assemblies[0].parts"},
		"assembly with a casting":     {func(b *Body) { b.Assemblies[0].Parts[1] = "P-BLOCK" }, "assemblies[0].parts[1]"},
		"assembly used once":          {func(b *Body) { b.Assemblies[0].Parts[1] = "P-COVER" }, "assemblies[0].parts[1]"},
		"refit of no part":            {func(b *Body) { b.Refits[0].Part = "P-NO" }, "refit[0].part"},
		"refit after itself":          {func(b *Body) { b.Refits[0].After[0] = "P-FLAP" }, "refit[0].after"},
		"access to nothing":           {func(b *Body) { b.Access[0].To = "P-NO" }, "access[0].to"},
		"access twice":                {func(b *Body) { b.Access[1].To = "P-COVER" }, "access[1].needs[0][0] access[1].to"},
		"access without need":         {func(b *Body) { b.Access[0].Needs = nil }, ""},
		"access without part":         {func(b *Body) { b.Access[0].Needs = [][]PartID{{}} }, "access[0].needs[0]"},
		"access to a line":            {func(b *Body) { b.Access[0].To = "C-1" }, ""},
		"access to an assembly":       {func(b *Body) { b.Access[0].To = "A-SKIN" }, ""},
		"one name for two":            {func(b *Body) { b.Assemblies[0].ID = "P-SKIN" }, "assemblies[0].id"},
		"no such fact":                {func(b *Body) { proc(b).Rows[0].When["colour"] = "red" }, "rows[0].when.colour"},
		"unreadable condition":        {func(b *Body) { proc(b).Rows[0].When["length"] = "short" }, "rows[0].when.length"},
		"takes effect first":          {func(b *Body) { proc(b).Issued = proc(b).Effective.AddDays(1) }, "effective"},
		"on the day of issue":         {func(b *Body) { proc(b).Issued = proc(b).Effective }, ""},
		"rechecked first":             {func(b *Body) { proc(b).Recheck = proc(b).Effective.AddDays(-1) }, "recheck_before"},
		"rechecked on the day":        {func(b *Body) { proc(b).Recheck = proc(b).Effective }, ""},
		"procedure of no casting":     {func(b *Body) { proc(b).Casting = "no" }, "casting rows[0].when.zones rows[1].when.zones rows[2].when.outboard_of tests[0].facts.zones tests[1].facts.outboard_of tests[1].facts.zones tests[1].facts.zones"},
		"procedure with a space":      {func(b *Body) { proc(b).ID = "T B" }, "id"},
		"says nothing":                {func(b *Body) { proc(b).Rows[0].Allow = nil }, "rows[0]"},
		"allows and forbids":          {func(b *Body) { proc(b).Rows[0].Forbid = []TreatmentKind{Dress} }, "rows[0].allow[0]"},
		"allows twice":                {func(b *Body) { proc(b).Rows[0].Allow = []TreatmentKind{Dress, Dress} }, "rows[0].allow[1]"},
		"forbids twice":               {func(b *Body) { proc(b).Rows[1].Forbid = []TreatmentKind{Weld, Weld} }, "rows[1].forbid[1]"},
		"manner of no material":       {func(b *Body) { proc(b).Rows[0].With.Filler = "M-NO" }, "rows[0].with.filler"},
		"filler that is a clip":       {func(b *Body) { proc(b).Rows[0].With.Filler = "M-CLIP" }, "rows[0].with.filler"},
		"plate without its weld":      {func(b *Body) { b.Materials[0].Kind = "plate"; proc(b).Rows[0].With.Plate = "M-CLIP" }, "rows[0].with"},
		"thickness without its weld":  {func(b *Body) { proc(b).Rows[0].With.Thickness = 2 }, "rows[0].with"},
		"overlap without its weld":    {func(b *Body) { proc(b).Rows[0].With.Overlap = 2 }, "rows[0].with"},
		"manner of what is forbidden": {func(b *Body) { proc(b).Rows[1].With.Text = "t" }, "rows[1].with"},
		"two limits of one fact":      {func(b *Body) { proc(b).Rows[0].When["count_in_zone"] = "<= 3"; proc(b).Rows[0].With.InZone = 2 }, "rows[0] rows[0].with.most_in_zone tests[0].expect.rows[0]"},
		"points measured in part":     {func(b *Body) { proc(b).Rows[0].After = []After{{Method: ShowDimensions, What: "one"}} }, "rows[0].after[0].what"},
		"less overlap": {func(b *Body) {
			b.Treatments[0].Kind = WeldBacking
			b.Treatments[0].Steps[0].Layout = layout(b)
			layout(b).PlateOver = 5
			proc(b).Rows[0].Allow = []TreatmentKind{WeldBacking}
			proc(b).Rows[0].With.Overlap = 5.1
		}, "rows[0].with.plate_overlap"},
		"as much overlap": {func(b *Body) {
			b.Treatments[0].Kind = WeldBacking
			b.Treatments[0].Steps[0].Layout = layout(b)
			layout(b).PlateOver = 5
			proc(b).Rows[0].Allow = []TreatmentKind{WeldBacking}
			proc(b).Rows[0].With.Overlap = 5
		}, ""},
		"penetrant without level": {func(b *Body) {
			methods(b, Penetrant)
			proc(b).Acceptance = []Acceptance{{ID: "a", For: []TreatmentKind{Weld}, Show: ShowPenetrant}}
		}, "acceptance[0].level"},
		"penetrant without method": {func(b *Body) {
			proc(b).Levels = []Level{{ID: "L", Ratio: 3, Linear: 1, NonLinear: 2}}
			proc(b).Acceptance = []Acceptance{{ID: "a", For: []TreatmentKind{Weld}, Show: ShowPenetrant, Level: "L"}}
		}, "acceptance[0].show"},
		"level that is not there": {func(b *Body) {
			methods(b, Penetrant)
			proc(b).Acceptance = []Acceptance{{ID: "a", For: []TreatmentKind{Weld}, Show: ShowPenetrant, Level: "L"}}
		}, "acceptance[0].level"},
		"penetrant as it should be": {func(b *Body) {
			methods(b, Penetrant)
			proc(b).Levels = []Level{{ID: "L", Ratio: 3, Linear: 1, NonLinear: 2}}
			proc(b).Acceptance = []Acceptance{{ID: "a", For: []TreatmentKind{Weld}, Show: ShowPenetrant, Level: "L"}}
		}, ""},
		"visual without quality": {func(b *Body) {
			proc(b).Acceptance = []Acceptance{{ID: "a", For: []TreatmentKind{Weld}, Show: ShowVisual}}
		}, "acceptance[0].quality"},
		"acceptance of no zone": {func(b *Body) {
			proc(b).Acceptance = []Acceptance{{ID: "a", For: []TreatmentKind{Weld}, Show: ShowTorque, Zones: []ZoneID{"Z-NO"}}}
		}, "acceptance[0].zones[0]"},
		"acceptance twice for one": {func(b *Body) {
			proc(b).Acceptance = []Acceptance{{ID: "a", Show: ShowTorque, For: []TreatmentKind{Weld, Weld}}}
		}, "acceptance[0].for[1]"},
		"method twice, inspecting":  {func(b *Body) { methods(b, Penetrant, Penetrant) }, "methods[1].method"},
		"method without conditions": {func(b *Body) { methods(b, Penetrant); proc(b).Methods[0].Bounds = nil }, "methods[0].conditions"},
		"condition without bound":   {func(b *Body) { methods(b, Penetrant); proc(b).Methods[0].Bounds[0].Least.Known = false }, "methods[0].conditions[0]"},
		"dwell of looking by eye":   {func(b *Body) { methods(b, Visual); proc(b).Methods[0].Bounds[0].What = "dwell_min" }, "methods[0].conditions[0].what"},
		"kind of penetrant by eye":  {func(b *Body) { methods(b, Visual); proc(b).Methods[0].Bounds[0].For = "fluorescent" }, "methods[0].conditions[0].what"},
		"light of looking by eye":   {func(b *Body) { methods(b, Visual); proc(b).Methods[0].Bounds[0].What = "light_lx" }, ""},
		"dwell of penetrant": {func(b *Body) {
			methods(b, Penetrant)
			proc(b).Methods[0].Bounds[0].What, proc(b).Methods[0].Bounds[0].For = "dwell_min", "fluorescent"
		}, ""},
		"area without method": {func(b *Body) {
			methods(b, Visual)
			proc(b).Areas = []AreaRule{{ID: "a", Of: []AreaKind{AreaZone}, Method: Penetrant}}
		}, "areas[0].method"},
		"area rule twice": {func(b *Body) {
			methods(b, Visual)
			a := AreaRule{ID: "a", Of: []AreaKind{AreaZone}, Method: Visual}
			proc(b).Areas = []AreaRule{a, a}
		}, "areas[1].id"},
		"area rule of one twice": {func(b *Body) {
			methods(b, Visual)
			proc(b).Areas = []AreaRule{{ID: "a", Of: []AreaKind{AreaZone, AreaZone}, Zones: []ZoneID{"Z-TIP", "Z-TIP"}, Method: Visual}}
		}, "areas[0].of[1] areas[0].zones[1]"},
		"area rule of no zone": {func(b *Body) {
			methods(b, Visual)
			proc(b).Areas = []AreaRule{{ID: "a", Of: []AreaKind{AreaZone}, Zones: []ZoneID{"Z-NO"}, Method: Visual}}
		}, "areas[0].zones[0]"},
		"needs no task":            {func(b *Body) { b.Treatments[1].Requires[0] = "NO" }, "treatments[1].requires[0]"},
		"measures first":           {func(b *Body) { b.Tasks[1].Measures = true; b.Treatments[1].Requires[0] = "LOOK" }, "treatments[1].requires[0]"},
		"after it no task":         {func(b *Body) { b.Treatments[0].After = []TaskID{"NO"} }, "treatments[0].after[0]"},
		"no least pitch, no pitch": {func(b *Body) { b.Materials[1].MinPitch, layout(b).Pitch, layout(b).EndDistance = 0, 0, -1 }, "treatments[1].steps[1].layout.end_distance treatments[1].steps[1].layout.pitch treatments[1].steps[1].layout.rivet"},
		"cures twice":              {func(b *Body) { b.Treatments[0].Cures = []FindingKind{Dent, Dent} }, "treatments[0].cures[1]"},
		"no steps":                 {func(b *Body) { b.Treatments[0].Steps = nil }, "treatments[0].steps"},
		"no new part to use":       {func(b *Body) { b.Treatments[0].Steps[0].NewPart = Yes }, "treatments[0].steps[0].new_part"},
		"cut without its piece":    {func(b *Body) { b.Treatments[1].Steps[1].NewPart = No }, "treatments[1].steps[1].new_part"},
		"cut with its piece":       {func(b *Body) { b.Treatments[1].Steps[0].NewPart, b.Treatments[1].Steps[1].NewPart = No, Yes }, ""},
		"new casting":              {func(b *Body) { b.Treatments[0].Kind, b.Treatments[0].Steps[0].NewPart = ReplaceCasting, No }, ""},
		"new bolt-on part":         {func(b *Body) { b.Treatments[0].Kind, b.Treatments[0].Steps[0].NewPart = Exchange, Yes }, ""},
		"task with a new part":     {func(b *Body) { b.Tasks[0].Step.NewPart = Yes }, "tasks[0].step.new_part"},
		"two ways to wait":         {func(b *Body) { b.Treatments[1].Steps[1].Wait.Elapsed = 5 }, "treatments[1].steps[1].wait"},
		"full strength of nothing": {func(b *Body) { b.Treatments[0].Steps[0].Wait = &Wait{Elapsed: 5, Full: true} }, "treatments[0].steps[0].wait.full"},
		"wait for a clip":          {func(b *Body) { b.Treatments[1].Steps[1].Wait.Cure = "M-CLIP" }, "treatments[1].steps[1].wait.cure"},
		"caution twice":            {func(b *Body) { b.Treatments[0].Steps[0].Cautions = []Caution{Eyes, Eyes} }, "treatments[0].steps[0].cautions[1]"},
		"reading in two units": {func(b *Body) {
			b.Treatments[0].Steps[0].Readings = []Reading{{ID: "r", Unit: "C", Low: unit.Amount{Value: 1, Unit: "mm"}, High: unit.Amount{Value: 1, Unit: "C"}}}
		}, "treatments[0].steps[0].readings[0].low"},
		"reading up to another unit": {func(b *Body) {
			b.Treatments[0].Steps[0].Readings = []Reading{{ID: "r", Unit: "C", High: unit.Amount{Value: 1, Unit: "mm"}}}
		}, "treatments[0].steps[0].readings[0].high"},
		"rivet that is a clip":      {func(b *Body) { layout(b).Rivet = "M-CLIP" }, "treatments[1].steps[1].layout.rivet"},
		"plate that is a clip":      {func(b *Body) { layout(b).Plate, layout(b).PlateOver = "M-CLIP", 5 }, "treatments[1].steps[1].layout.plate"},
		"glue that is a clip":       {func(b *Body) { layout(b).Adhesive = "M-CLIP" }, "treatments[1].steps[1].layout.adhesive"},
		"no glue":                   {func(b *Body) { layout(b).Adhesive, layout(b).BeadWidth, layout(b).BondLine = "", 0, 0 }, ""},
		"bounds that are not there": {func(b *Body) { layout(b).Bounds = "B" }, "treatments[1].steps[1].layout.bounds"},
		"glue over no plate":        {func(b *Body) { layout(b).WholePlate = true }, "treatments[1].steps[1].layout.adhesive_over_plate"},
		"glue over a plate": {func(b *Body) {
			b.Materials[0].Kind = "plate"
			layout(b).WholePlate, layout(b).BeadWidth, layout(b).Plate, layout(b).PlateOver = true, 0, "M-CLIP", 9
		}, ""},
		"rolls again only":           {func(b *Body) { b.Tasks[1].Step.Rolls = Yes }, "tasks[1].step.rolls"},
		"rolls again":                {func(b *Body) { b.Tasks[0].Step.Rolls, b.Tasks[1].Step.Rolls = No, Yes }, ""},
		"rolls again in a treatment": {func(b *Body) { b.Treatments[0].Steps[0].Rolls = Yes }, "treatments[0].steps[0].rolls"},
		"treatment that stops it":    {func(b *Body) { b.Treatments[0].Steps[0].Rolls, b.Treatments[1].Steps[0].Rolls = No, Yes }, ""},
		"safe at the end":            {func(b *Body) { b.Tasks[1].Safe = true }, "tasks[1].when"},
		"fixes at the end":           {func(b *Body) { b.Tasks[1].Fixes = true }, "tasks[1].when"},
		"fixes once it is open":      {func(b *Body) { b.Tasks[1].Fixes, b.Tasks[1].When = true, TaskOpen }, ""},
		"fixes at the start":         {func(b *Body) { b.Tasks[0].Fixes = true }, ""},
		"measures at the start":      {func(b *Body) { b.Tasks[0].Measures = true }, "tasks[0].when treatments[1].requires[0]"},
		"needs what comes later":     {func(b *Body) { b.Tasks[0].Needs, b.Tasks[1].Needs = []TaskID{"LOOK"}, nil }, "tasks[0].needs[0]"},
		"follows what comes later":   {func(b *Body) { b.Tasks[0].Follows, b.Tasks[1].Needs = []TaskID{"LOOK"}, nil }, "tasks[0].follows[0]"},
		"follows itself":             {func(b *Body) { b.Tasks[0].Follows = []TaskID{"SAFE"} }, "tasks[0].needs"},
		"follows no task":            {func(b *Body) { b.Tasks[0].Follows = []TaskID{"NO"} }, "tasks[0].follows[0]"},
		"volts of the current": {func(b *Body) {
			b.Treatments[0].Steps[0].Heat = &Heat{Factor: 1, Voltage: unit.Amount{Value: 20, Unit: "A"}, Current: unit.Amount{Value: 20, Unit: "V"}, Speed: unit.Amount{Value: 2, Unit: "km/h"}, High: unit.Amount{Value: 1, Unit: "J"}}
		}, "treatments[0].steps[0].heat.current treatments[0].steps[0].heat.high treatments[0].steps[0].heat.speed treatments[0].steps[0].heat.voltage"},
	} {
		fields, text := changed(t, k.change)
		want := k.fields
		if name == "two tolerances" || name == "no tolerance" { // told of the row as a whole
			if len(fields) != 1 || fields[0] != "" || !strings.Contains(text, "is not clear") {
				t.Errorf("%s: %s", name, text)
			}
			continue
		}
		if got := strings.Join(fields, " "); got != want {
			t.Errorf("%s is told at %q, want %q:\n%s", name, got, want, text)
		}
	}
}

// meshless takes the mesh of the casting away, and what only a mesh shows.
func meshless(b *Body) *Casting {
	k := &b.Castings[0]
	k.Mesh, k.MeshUnit, k.MeshStd, k.Bores, k.Edges = "", "", 0, nil, nil
	return k
}

// What a zone borders on is known where the body says so, and where there is no other zone.
func TestZonesBesideAZone(t *testing.T) {
	k := Casting{Zones: []Zone{{ID: "A", Neighbours: []ZoneID{"B"}}, {ID: "B", Neighbours: []ZoneID{"A"}}, {ID: "C"}, {ID: "D", Neighbours: []ZoneID{}}}}
	for id, want := range map[ZoneID]string{"A": "[B] true", "B": "[A] true", "C": "[] false", "D": "[] true", "E": "[] false"} {
		if zones, said := k.Beside(id); fmt.Sprint(zones, said) != want {
			t.Errorf("beside %s: %v, said: %v; want %s", id, zones, said, want)
		}
	}
	if zones, said := (Casting{Zones: []Zone{{ID: "A"}}}).Beside("A"); len(zones) > 0 || !said {
		t.Errorf("beside the only zone: %v, said: %v", zones, said)
	}
}
