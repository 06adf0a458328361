package revise

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/decide/fixture"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/rule"
	"fettle/internal/unit"
)

// whole is the body of the check procedure with everything that Lacks asks for.
func whole() *body.Body {
	b, _, _, _ := fixture.World()
	b.Thermal = &body.Thermal{}
	b.Joints = []body.Joint{{ID: "J", Layers: []body.PartID{"P-FRONT"}, Along: [][]geom.Vec{{{1, 0, 0}}}}}
	b.Apart = []body.Apart{}
	b.Parts = append(b.Parts, body.Part{ID: "P-HV", Kind: body.PartBattery})
	for i := range b.Parts {
		b.Parts[i].Metal = body.Aluminium
	}
	for _, z := range b.Castings[0].Zones {
		b.Access = append(b.Access, body.Access{To: string(z.ID)})
	}
	for _, l := range b.Lines {
		b.Access = append(b.Access, body.Access{To: string(l.ID)})
	}
	b.Points = []body.Point{{ID: "A", Std: unit.Some(0.2)}}
	for i := range b.Parts {
		b.Parts[i].Delivery = unit.Some(unit.Minutes(0))
		b.Parts[i].Outer = unit.Some(unit.SquareMetre(0))
	}
	b.Tasks = append(b.Tasks, body.Task{ID: "COAT", Step: body.Step{Surface: body.OuterSurface, Bake: &body.Bake{Temp: 60, Hold: 30}}})
	b.Paint = []body.Coating{{Surface: body.OuterSurface, Tasks: []body.TaskID{"COAT"}}}
	b.HeatLimits = []body.HeatLimit{{Rest: true, High: 80}, {Part: "P-HV", High: 60}}
	b.Treatments = nil
	for _, k := range body.TreatmentKinds() {
		b.Treatments = append(b.Treatments, body.Treatment{Kind: k})
	}
	return b
}

var lackDay = fixture.Day(2030, 3, 1)

func lackText(notes []diag.Note) string {
	var out []string
	for _, n := range notes {
		out = append(out, n.Where+": "+n.Text)
	}
	return strings.Join(out, "\n")
}

// TestLacks: a body that has everything lacks nothing; what is taken away is told with what it
// costs. The rows are those of the check procedure that name the fact (fixture.Procedure).
func TestLacks(t *testing.T) {
	if got := Lacks(whole(), lackDay); len(got) > 0 {
		t.Errorf("nothing lacks, and told is\n%s", lackText(got))
	}
	row := func(b *body.Body, fact, cond string, allow ...body.TreatmentKind) {
		r := body.Row{ID: "new-" + fact, When: map[string]string{fact: cond}, Allow: allow}
		if len(allow) == 0 {
			r.Ask = "ask"
		}
		b.Procedures[0].Rows = append(b.Procedures[0].Rows, r)
	}
	for name, c := range map[string]struct {
		take func(*body.Body)
		want string // empty: nothing
	}{
		"joints no row looks at":        {func(b *body.Body) { b.Joints = nil }, ""},
		"access to one zone and a line": {func(b *body.Body) { b.Access = b.Access[1 : len(b.Access)-1] }, "FRONT: without access to 1 zone (OPEN-1) and 1 section line (LINE-2): what has to come off to reach them is not known: every route that works there waits for it, and opening up to inspect leaves them open"},
		"joints": {func(b *body.Body) { b.Joints = nil; row(b, "joint_clearance", ">= 30 mm", body.Weld) },
			"FRONT: without joints: not known: joint clearance; row new-joint_clearance cannot permit"},
		"places of joints": {func(b *body.Body) { b.Joints[0].Along = nil; row(b, "joint_clearance", "< 30 mm") },
			"FRONT: without the places of all joints: not known: joint clearance; what row new-joint_clearance may forbid or ask stays open, and is not permitted"},
		"bores":          {func(b *body.Body) { b.Castings[0].Bores = nil }, "FRONT: without bores: not known: bore clearance; what row bore may forbid or ask stays open, and is not permitted"},
		"no bores there": {func(b *body.Body) { b.Castings[0].Bores = []body.Bore{} }, ""},
		"areas": {func(b *body.Body) {
			b.Inspect = nil
			row(b, "count_in_zone", "<= 2", body.Weld)
			row(b, "spacing", ">= 30 mm", body.Weld)
		},
			"FRONT: without areas of it to be inspected: not known: cracks in the zone, distance to the next crack; rows new-count_in_zone, new-spacing cannot permit"},
		"areas that the procedure finds": {func(b *body.Body) {
			b.Inspect = nil
			row(b, "count_in_zone", "<= 2", body.Weld)
			b.Procedures[0].Areas = []body.AreaRule{{}}
		}, ""},
		"section lines": {func(b *body.Body) { b.Lines = nil; row(b, "section_margin", ">= 20 mm", body.SectionOff) }, "FRONT: without section lines: not known: section margin; row new-section_margin cannot permit"},
		"a mesh":        {func(b *body.Body) { b.Castings[0].Mesh = ""; b.Castings[0].Bores = nil; b.Joints[0].Along = nil }, "FRONT: without a mesh: at each finding by hand: measure the least distance along the surface to a bore (row bore); measure it along the surface from tip to tip, with penetrant at both tips (rows weld-open, plate); measure how far all of it lies outboard of each section line (row section); name every zone it was seen in (rows weld-open, plate, desk)"},
		"neighbours":    {func(b *body.Body) { b.Castings[0].Mesh = "" }, "FRONT: without neighbours of its zones: a crack may reach into every zone, so rows weld-open, plate can permit only where the distance to the border was measured"},
		"a treatment": {func(b *body.Body) {
			b.Treatments = slices.DeleteFunc(b.Treatments, func(x body.Treatment) bool { return x.Kind == body.WeldBacking })
		},
			"FRONT: without a treatment of the kind weld with backing plate: it may be allowed (rows weld-open, plate), but no route does it"},
		"castings": {func(b *body.Body) { b.Castings = nil }, "body.yaml: without castings: no procedure speaks of any finding, so the manufacturer is asked about each"},
		"points":   {func(b *body.Body) { b.Points = nil }, "points.csv: without control points: nothing is known of what moved, and nothing may be handed back"},
		"spread":   {func(b *body.Body) { b.Points[0].Std = unit.Maybe[float64]{} }, "points.csv: without std_mm of 1 of 1 points: "},
		"thermal":  {func(b *body.Body) { b.Thermal = nil }, "body.yaml: without thermal: no reading is corrected"},
		"access":   {func(b *body.Body) { b.Joints, b.Access = nil, nil }, "body.yaml: without access and joints: what has to come off is not known"},
		"paint":    {func(b *body.Body) { b.Paint = nil }, "body.yaml: without paint: no panel that is replaced or straightened is painted"},
		"no panel": {func(b *body.Body) {
			b.Paint = nil
			for i := range b.Parts {
				b.Parts[i].Kind = body.PartModule
			}
		}, ""},
		"areas of parts": {func(b *body.Body) { b.Parts[1].Outer = unit.Maybe[unit.SquareMetre]{} }, "parts.csv: without outer_area and inner_area of 1 part: a route that fits a new one of them, or works on it, has no price ("},
		"areas nobody coats": {func(b *body.Body) {
			b.Parts[1].Outer = unit.Maybe[unit.SquareMetre]{}
			b.Paint[0].BoltOn = body.Yes
			if b.Parts[1].BoltOn {
				b.Paint[0].BoltOn = body.No
			}
		}, ""},
		"no battery": {func(b *body.Body) { b.Parts[len(b.Parts)-1].Kind = "other" }, "parts.csv: without a part of the kind 'battery': nothing is dried with heat on a vehicle unless its job says"},
		"a lamp, no battery": {func(b *body.Body) {
			b.Parts[len(b.Parts)-1].Kind = "other"
			b.Tasks[len(b.Tasks)-1].Step.Bake = &body.Bake{Temp: 60, Hold: 30, Local: true}
		}, ""},
		"heat at it":     {func(b *body.Body) { b.HeatLimits = b.HeatLimits[:1] }, "body.yaml: without heat_limits of P-HV: nothing is dried with heat while the high-voltage battery is in"},
		"limits of heat": {func(b *body.Body) { b.HeatLimits = nil }, "body.yaml: without heat_limits: nothing is dried with heat"},
		"delivery":       {func(b *body.Body) { b.Parts[1].Delivery = unit.Maybe[unit.Minutes]{} }, "parts.csv: without delivery of 1 part: a route that needs a new one of them has no date"},
		"pairs":          {func(b *body.Body) { b.Apart = nil }, "body.yaml: without keep_apart: whether unlike metals have to be kept apart where a joint is closed is not known"},
		"metals": {func(b *body.Body) {
			for i := range b.Parts {
				b.Parts[i].Metal = ""
			}
		}, "body.yaml: without all metals of 1 joint (J): a plan that closes one of them blocks, unless something isolates it"},
		"fasteners": {func(b *body.Body) { b.Joints[0].Methods = []body.JoinMethod{"bolt"} }, "body.yaml: without all metals of 1 joint (J): a plan that closes one of them blocks, unless something isolates it"},
		"isolated":  {func(b *body.Body) { b.Joints[0].Methods, b.Joints[0].Isolates = []body.JoinMethod{"bolt"}, true }, ""},
	} {
		b := whole()
		c.take(b)
		got := lackText(Lacks(b, lackDay))
		if c.want == "" && got != "" || !strings.Contains(got, c.want) {
			t.Errorf("%s: told is\n%s\nwant\n%s", name, got, c.want)
		}
	}
	if got := lackText(Lacks(func() *body.Body { b := whole(); b.Castings[0].Bores = nil; return b }(), fixture.Day(2029, 1, 1))); strings.Contains(got, "bore") {
		t.Errorf("a procedure that is not in force: %s", got) // it permits nothing, whatever the body has
	}
}

// TestRowsThatCannotPermit: of any table, a row that is told not to permit permits nothing while
// the facts that are told as not known are not, whatever else is known; and one that
// is not told can.
func TestRowsThatCannotPermit(t *testing.T) {
	rng := rand.New(rand.NewPCG(18, 70))
	told := 0
	for range 400 {
		b := whole()
		b.Castings[0].Bores, b.Joints, b.Inspect = nil, nil, nil
		p := &b.Procedures[0]
		p.Rows = nil
		for i := range 1 + rng.IntN(6) {
			when := map[string]string{}
			for fact, cond := range map[string]string{"bore_clearance": ">= 8 mm", "joint_clearance": ">= 30 mm", "count_in_zone": "<= 2", "length": "<= 40 mm", "through": "no"} {
				if rng.IntN(3) == 0 {
					when[fact] = cond
				}
			}
			p.Rows = append(p.Rows, body.Row{ID: fmt.Sprintf("W%d", i), When: when, Allow: []body.TreatmentKind{body.Weld}})
		}
		text := lackText(Lacks(b, lackDay))
		known := rule.Facts{"on_casting": rule.BoolValue(true), "kind": rule.TextValue("crack"), "length": rule.NumberValue(20, 0, "mm"), "through": rule.BoolValue(false)}
		for i, r := range decide.Compile(*p, 0.95).Table.Eval(known, 0.95) {
			id := p.Rows[i].ID
			says := false
			for l := range strings.Lines(text) {
				if cut, _, ok := strings.Cut(l, " cannot permit"); ok {
					at := max(strings.LastIndex(cut, "row "), strings.LastIndex(cut, "rows "))
					says = says || slices.Contains(strings.FieldsFunc(cut[at:], func(c rune) bool { return c == ' ' || c == ',' }), id)
				}
			}
			if says {
				told++
			}
			if says == (r.State == rule.Applies) {
				t.Fatalf("row %s %v: told %v, and it is %v\n%s", id, p.Rows[i].When, says, r.State, text)
			}
		}
	}
	if told < 300 {
		t.Errorf("%d rows were told only", told)
	}
}
