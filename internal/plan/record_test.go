package plan

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/unit"
)

func reading(t *testing.T, s Step, id string) body.Reading {
	t.Helper()
	i := slices.IndexFunc(s.Readings, func(r body.Reading) bool { return r.ID == id })
	if i < 0 {
		t.Fatalf("%s has no reading %q: %+v", s.Name, id, s.Readings)
	}
	return s.Readings[i]
}

func codes(notes []note, code string) []string {
	var out []string
	for _, n := range notes {
		if n.Code == code {
			out = append(out, n.Text)
		}
	}
	return out
}

// Q = k U I / (1000 v) of EN 1011-1 with k = 0.8 for MIG (its table 1, from
// memory); 22 V, 150 A at 10 mm/s: 0.264 kJ/mm, computed by hand; 110 A,
// 20.5 V at 48 cm/min = 8 mm/s: 0.2255 kJ/mm.
func TestHeatInput(t *testing.T) {
	in := input(weldF2)
	st := &in.Body.Treatments[0].Steps[1]
	st.Heat = &body.Heat{Process: "131 MIG", Factor: 0.8, Voltage: amount(22, "V"), Current: amount(150, "A"), Speed: amount(10, "mm/s"), High: amount(0.3, "kJ/mm"), Cite: "EN 1011-1"}
	p, notes := Build(in)
	s := step(t, p, "Weld")
	if !slices.ContainsFunc(s.Notes, func(x string) bool { return strings.Contains(x, "= 0.264 kJ/mm") }) || blocking(notes) != "" {
		t.Errorf("%q, %v", s.Notes, notes)
	}
	q := reading(t, s, "heat-input")
	if !q.Keeps(0.3) || q.Keeps(0.3001) || q.Limits() != "at most 0.3 kJ/mm" {
		t.Errorf("%+v", q)
	}
	reading(t, s, "voltage")
	st.Heat.Voltage, st.Heat.Current, st.Heat.Speed = amount(20.5, "V"), amount(110, "A"), amount(48, "cm/min")
	if q, ok := st.Heat.Input(); !ok || num(q*1000) != "225.5" {
		t.Errorf("%g %v", q, ok)
	}
	st.Heat.Speed = amount(30, "cm/min") // 5 mm/s: 0.361 kJ/mm
	if _, notes := Build(in); blocking(notes) != "plan.heat-input" {
		t.Errorf("too much heat: %v", notes)
	}
	st.Heat.Speed = amount(30, "knots")
	if _, notes := Build(in); blocking(notes) != "plan.heat-input" {
		t.Errorf("unknown unit: %v", notes)
	}
	if _, ok := body.HeatInput(0.8, 22, 150, 0); ok {
		t.Error("a standing arc has a heat input")
	}
}

// Constructed: the air of the shop against the limits of a step.
func TestEnvironment(t *testing.T) {
	for _, c := range []struct {
		temp     celsius
		humidity unit.Frac
		block    string
		caution  int
	}{{20, 0.5, "", 0}, {9, 0.5, "plan.environment", 0}, {31, 0.5, "plan.environment", 0}, {20, 0.71, "plan.environment", 0}, {20, 0, "", 1}} {
		in := input(weldF2)
		in.Shop.Temp, in.Shop.Humidity = c.temp, c.humidity
		in.Body.Treatments[0].Steps[1].Air = &body.Environment{Low: unit.Some[celsius](10), High: unit.Some[celsius](30), Humidity: 0.7}
		p, notes := Build(in)
		if blocking(notes) != c.block || len(codes(notes, "plan.humidity-unknown")) != c.caution {
			t.Errorf("%v: %v", c, notes)
		}
		if got := reading(t, step(t, p, "Weld"), "humidity").Limits(); got != "at most 70 %" {
			t.Errorf("humidity %q", got)
		}
	}
}

// Constructed: what is written down at a bond and a torque: the glue can be
// worked for 60 min at 20 C and has times from 15 to 25 C; the bumper's bolts
// are set to 25 Nm.
func TestReadingsOfJoints(t *testing.T) {
	in := input(weldF1)
	in.Body.Materials[0].Batch = true
	in.Body.Joints[1].Hold = "no gap"
	in.Body.Joints[1].Readings = []body.Reading{{ID: "gap", Name: "Gap", Unit: "mm", High: amount(0.5, "mm")}}
	p, _ := Build(in)
	s := step(t, p, "Close skin bond")
	if got := reading(t, s, "open-glue").High; got != amount(60, "min") {
		t.Errorf("open for %v", got)
	}
	if r := reading(t, s, "cure-glue"); r.Limits() != "15 C to 25 C" {
		t.Errorf("cures at %s", r.Limits())
	}
	if reading(t, s, "batch-glue").Unit != "text" || s.Hold != "no gap" || reading(t, s, "gap-J2").High.Value != 0.5 || s.Ref != "close J2" {
		t.Errorf("%+v", s)
	}
	if r := reading(t, step(t, p, "Refit bumper"), "torque-J1"); r.Limits() != "25 Nm" || r.Keeps(24.9) || !r.Keeps(25) {
		t.Errorf("torque %+v", r)
	}
}

// The least distances of three published sets, in multiples of the diameter: 4.8
// mm shank in a 4.9 mm hole. EN 1999-1-1 table 8.2 (least end 1.2 d0, least
// pitch 2.2 d0, from memory); NASA RP-1228 (Barrett 1990, pp. 21 and 34: edge
// distance 2 D, spacing 4 D); EN 1993-1-3 table 8.1 (1.5 d and 3 d, from memory).
func TestPublishedBounds(t *testing.T) {
	sets := []body.RivetBounds{
		{ID: "hole", Cite: "EN 1999-1-1 table 8.2", Of: "hole", End: 1.2, Pitch: 2.2, Rows: 2.4},
		{ID: "nominal", Cite: "NASA RP-1228", Of: body.OfShank, End: 2, Pitch: 4},
		{ID: "thin", Cite: "EN 1993-1-3 table 8.1", Of: body.OfShank, End: 1.5, Pitch: 3},
	}
	for _, c := range []struct {
		bounds     string
		end, pitch unit.MM
		block      string
	}{
		{"hole", 5.88, 10.78, ""}, {"hole", 5.87, 10.78, "plan.edge"}, {"hole", 5.88, 10.5, "plan.pitch"},
		{"nominal", 9.6, 19.6, ""}, {"nominal", 9.5, 19.6, "plan.edge"}, {"nominal", 9.6, 19, "plan.pitch"},
		{"thin", 7.2, 14.6, ""}, {"thin", 7.1, 14.6, "plan.edge"}, {"thin", 7.2, 14.2, "plan.pitch"},
		{"none", 20, 30, "plan.bounds"},
	} {
		in := input(cutS1)
		in.Body.Bounds = sets
		in.Body.Materials[1].MinEdge, in.Body.Materials[1].MinPitch, in.Body.Materials[1].Diameter, in.Body.Materials[1].Drill = 1, 1, 4.8, 4.9
		l := in.Body.Treatments[2].Steps[2].Layout
		l.Bounds, l.EndDistance, l.Pitch = c.bounds, c.end, c.pitch
		in.Seams["S1"] = float64(2*c.end) + 20*float64(c.pitch) // laid out at exactly the pitch
		p, notes := Build(in)
		if blocking(notes) != c.block {
			t.Errorf("%v: %v", c, notes)
		}
		if s := step(t, p, "Set rivets"); c.block == "" && (s.Laid == nil || s.Laid.Count != 21 || len(s.Laid.Checks) < 4 || s.Laid.DrillMM != 4.9) {
			t.Errorf("%v: %+v", c, s.Laid)
		}
	}
}

// Constructed: the thickness clamped lies in the grip range or blocks; a greatest
// pitch is kept.
func TestGripAndGreatestPitch(t *testing.T) {
	for _, c := range []struct {
		stack, most unit.MM
		block       string
	}{{4.5, 0, ""}, {6, 0, ""}, {6.1, 0, "plan.grip"}, {4.4, 0, "plan.grip"}, {5, 29, ""}, {5, 28, "plan.pitch"}} {
		in := input(cutS1)
		in.Body.Materials[1].GripLow, in.Body.Materials[1].GripHigh, in.Body.Materials[1].MaxPitch = 4.5, 6, c.most
		in.Body.Treatments[2].Steps[2].Layout.Stack = c.stack
		if _, notes := Build(in); blocking(notes) != c.block {
			t.Errorf("%v: %v", c, notes)
		}
	}
}

// A round bead of 6 mm is 28.27 ml, one squeezed to 20 x 0.3 mm 6 ml for each
// metre (geometry, by hand); a round bead of 2 mm, 3.14 mm2, does not fill 6 mm2.
func TestAdhesiveVolumes(t *testing.T) {
	glue := func(change func(l *body.Layout)) (float64, string) {
		in := input(cutS1)
		in.Seams["S1"] = 1000
		change(in.Body.Treatments[2].Steps[2].Layout)
		p, notes := Build(in)
		for _, m := range p.Takeoff {
			if m.Material == "glue" {
				return m.Net, blocking(notes)
			}
		}
		return 0, blocking(notes)
	}
	if v, _ := glue(func(l *body.Layout) {}); num(v) != "6" {
		t.Errorf("squeezed %g ml", v)
	}
	if v, b := glue(func(l *body.Layout) { l.BeadRound = 6 }); num(v) != "28.274" || b != "" {
		t.Errorf("round %g ml, %s", v, b)
	}
	if _, b := glue(func(l *body.Layout) { l.BeadRound = 2 }); b != "plan.bead" {
		t.Errorf("a thin bead: %s", b)
	}
	in := input(plateF2) // plate 100 x 50 mm, 0.3 mm thick: 1.5 ml
	in.Body.Treatments[1].Steps[0].Layout.WholePlate = true
	p, _ := Build(in)
	for _, m := range p.Takeoff {
		if m.Material == "glue" && num(m.Net) != "1.5" {
			t.Errorf("whole plate %g ml", m.Net)
		}
	}
}

// Constructed: a coat of 400 ml for each square metre on a strip of 60 mm along
// cracks of 30 and 50 mm: 1.92 ml; its time goes by the length of both.
func TestCoatByAreaOfAll(t *testing.T) {
	in := input(weldF1, weldF2)
	in.Body.Materials = append(in.Body.Materials, body.Material{ID: "coat", Name: "coat", Kind: "primer", Pack: amount(100, "ml"), Price: eur(1000),
		Cure: []body.CureRow{{Temp: 20, Working: 5, Handling: 40, Full: 600}}})
	st := &in.Body.Tasks[2].Step
	st.Uses, st.PerMetre = []body.Use{{Material: "coat", PerArea: amount(400, "ml"), Width: 60}}, 100
	st.Wait = &body.Wait{Name: "drying", Cure: "coat", Full: true}
	p, notes := Build(in)
	s := step(t, p, "Measure")
	if s.Minutes != 38 || s.WaitMin != 600 || blocking(notes) != "" {
		t.Errorf("%g min, then %g: %v", s.Minutes, s.WaitMin, notes)
	}
	for _, m := range p.Takeoff {
		if m.Material == "coat" && num(m.Net) != "1.92" {
			t.Errorf("%g ml", m.Net)
		}
	}
	if p.Saved[1].Minutes != 30 {
		t.Errorf("saved %+v: what goes by length is not saved", p.Saved)
	}
}
