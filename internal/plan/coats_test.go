package plan

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// paintBody is testBody with a door and a wing that are painted: the skin is bonded over the
// casting and lost when it is taken off, the wing is bolted on.
func paintBody() *body.Body {
	b := testBody()
	m2 := func(v float64) unit.Maybe[unit.SquareMetre] { return unit.Some(unit.SquareMetre(v)) }
	for i := range b.Parts {
		b.Parts[i].Outer, b.Parts[i].Inner = m2(0), m2(0)
	}
	b.Parts[1].Outer, b.Parts[1].Inner = m2(0.8), m2(0.5) // skin
	b.Parts = append(b.Parts,
		body.Part{ID: "wing", Name: "wing", BoltOn: true, Skill: "body", Off: 6, On: 7, Price: eur(15000), Delivery: unit.Some(unit.Minutes(0)), Outer: m2(0.6), Inner: m2(0.4)},
		body.Part{ID: "door", Name: "door", BoltOn: true, Skill: "body", Off: 6, On: 7, Price: eur(15000), Delivery: unit.Some(unit.Minutes(0)), Outer: m2(0.9), Inner: m2(0)},
		body.Part{ID: "battery", Name: "battery", BoltOn: true, Skill: "hv", Off: 60, On: 60, Price: eur(15000), Outer: m2(0), Inner: m2(0)})
	b.Materials = append(b.Materials,
		body.Material{ID: "primer", Name: "primer", Kind: "primer", Pack: amount(100, "ml"), Price: eur(2000), Solids: 0.5, Cure: []body.CureRow{{Temp: 15, Working: 10, Handling: 60, Full: 600}, {Temp: 25, Working: 5, Handling: 30, Full: 300}}},
		body.Material{ID: "clear", Name: "clear", Kind: "other", Pack: amount(1000, "ml"), Price: eur(9000), Waste: 0.2, Cure: []body.CureRow{{Temp: 15, Working: 10, Handling: 900, Full: 6000}, {Temp: 25, Working: 5, Handling: 480, Full: 3000}}})
	task := func(id body.TaskID, s body.Step) body.Task {
		s.Name, s.Skill, s.Bay = string(id), "paint", "booth"
		return body.Task{ID: id, When: body.TaskClose, Step: s}
	}
	b.Tasks = append(b.Tasks,
		task("cavity", body.Step{Surface: body.InnerSurface, Fixed: 5, PerArea: 10, Uses: []body.Use{{Material: "primer", PerArea: amount(60, "ml")}}, Wait: &body.Wait{Name: "drying", Cure: "primer"}}),
		task("prime", body.Step{Surface: body.OuterSurface, PerArea: 12, Uses: []body.Use{{Material: "primer", Film: 40}}, Wait: &body.Wait{Name: "flash-off", Elapsed: 15}}),
		task("blend", body.Step{Surface: body.OuterSurface, PerArea: 9}),
		task("lacquer", body.Step{Surface: body.OuterSurface, Fixed: 10, PerArea: 20, Uses: []body.Use{{Material: "clear", PerArea: amount(120, "ml")}},
			Bake: &body.Bake{Temp: 60, Hold: 40}, Wait: &body.Wait{Name: "drying in the air", Cure: "clear"},
			Readings: []body.Reading{{ID: "film", Name: "Dry film thickness", Unit: "um", Low: amount(90, "um"), High: amount(150, "um")}}}))
	b.Paint = []body.Coating{
		{Surface: body.InnerSurface, When: body.CoatLoose, Tasks: []body.TaskID{"cavity"}},
		{Surface: body.OuterSurface, When: body.CoatFitted, Tasks: []body.TaskID{"prime", "lacquer"}, Blend: []body.TaskID{"blend", "lacquer"}}}
	b.Blends = []body.Blend{{Part: "door", Beside: []body.PartID{"skin", "wing"}, Area: 0.3}}
	b.HeatLimits = []body.HeatLimit{{Rest: true, High: 80, Cite: "p. 1"}, {Material: "glue", From: body.CuredHandling, High: 70, Cite: "p. 2"}}
	b.Treatments = append(b.Treatments,
		body.Treatment{ID: "dress", Name: "dress", Kind: body.Dress, Steps: []body.Step{{ID: "d1", Name: "Dress", Skill: "body", Fixed: 30, Cautions: []body.Caution{body.Dust}, Bay: "bench"}}},
		body.Treatment{ID: "spot", Name: "spot repair", Kind: body.Dress, Repaint: &body.Repaint{Surfaces: []body.Surface{body.OuterSurface}, Margin: 50}, Steps: []body.Step{{ID: "d1", Name: "Spot", Skill: "body", Fixed: 30}}})
	return b
}

var (
	swapWing = Item{Treatment: "swap", Kind: body.Exchange, Findings: []job.FindingID{"F4"}, Part: "wing"}
	swapSkin = Item{Kind: body.ReplacePart, Findings: []job.FindingID{"F6"}, Part: "skin"}
)

func paintInput(items ...Item) Input {
	in := input(items...)
	in.Body, in.Job.Vehicle.Battery = paintBody(), job.BatteryNone
	in.Shop.Rates = append(in.Shop.Rates, shop.Rate{Skill: "paint", Name: "paint", Hour: eur(8000)})
	in.Shop.People = append(in.Shop.People, shop.Person{ID: "p3", Skills: []body.SkillID{"paint"}})
	in.Shop.Bays = append(in.Shop.Bays, shop.Bay{ID: "b2", Kind: "booth"})
	for _, x := range []struct {
		id   job.FindingID
		kind body.FindingKind
		part body.PartID
	}{{"F4", "dent", "wing"}, {"F5", "dent", "door"}, {"F6", "dent", "skin"}, {"F7", "crack", "door"}} {
		in.Job.Findings = append(in.Job.Findings, job.Finding{ID: x.id, Kind: x.kind, Part: x.part})
		f := testInspect().Findings[0]
		f.ID, f.Kind, f.Part, f.Casting, f.Zones = x.id, x.kind, x.part, "", nil
		f.Length = &lengthOf100
		in.Inspect.Findings = append(in.Inspect.Findings, f)
	}
	return in
}

func stepAt(p Plan, name string) int {
	return slices.IndexFunc(p.Steps, func(s Step) bool { return s.Name == name })
}

// notesOf are the codes of the notes, those that block with "!".
func notesOf(notes []note) string {
	var out []string
	for _, n := range notes {
		code := n.Code
		if n.Severity == diag.Blocking {
			code = "!" + code
		}
		if !slices.Contains(out, code) {
			out = append(out, code)
		}
	}
	slices.Sort(out)
	return strings.Join(out, " ")
}

// TestNewPanelIsPainted: a new bonded skin (0.8 m2 outside, 0.5 m2 inside) and the door beside it
// (0.3 m2), reckoned by hand from paintBody: cavity 5 + 0.5 x 10 min; prime 0.8 x 12 min and 40 um /
// 50 % = 80 ml/m2; blend 0.3 x 9; lacquer 10 + 1.1 x 20 min and 1.1 x 120 ml.
func TestNewPanelIsPainted(t *testing.T) {
	p, notes := Build(paintInput(swapSkin))
	if got := notesOf(notes); got != "plan.no-treatment plan.rolls-unknown" && got != "plan.no-treatment" {
		t.Errorf("notes %s", got)
	}
	for _, w := range []struct {
		name    string
		minutes float64
		m2      float64
		wait    float64
	}{{"cavity", 10, 0.5, 60}, {"prime", 9.6, 0.8, 15}, {"blend", 2.7, 0.3, 0}, {"lacquer", 32, 1.1, 40}} {
		s := step(t, p, w.name)
		if !near(s.Minutes, w.minutes) || !near(s.AreaM2, w.m2) || !near(s.WaitMin, w.wait) || s.Unpriced {
			t.Errorf("%s: %g min, %g m2, wait %g, want %+v (%s)", w.name, s.Minutes, s.AreaM2, s.WaitMin, w, s.Sum)
		}
	}
	order := []string{"cavity", "Fit new skin", "prime", "blend", "lacquer", "Refit bumper"}
	for i := range order[1:] {
		a, b := stepAt(p, order[i]), stepAt(p, order[i+1])
		if a < 0 || b < 0 || a >= b && order[i] != "prime" {
			t.Errorf("%s at %d, %s at %d in %v", order[i], a, order[i+1], b, stepNames(p))
		}
	}
	lacquer := step(t, p, "lacquer")
	if b := step(t, p, "Refit bumper"); b.From.Sub(lacquer.To).Minutes() < 40 {
		t.Errorf("the bumper goes on at %s, the lacquer is dry 40 min after %s", b.From, lacquer.To)
	}
	if lacquer.Bake == nil || !slices.Contains(lacquer.Cautions, body.BatteryHeat) {
		t.Errorf("baked %v, cautions %v", lacquer.Bake, lacquer.Cautions)
	}
	var films []string
	for _, r := range lacquer.Readings {
		films = append(films, r.ID+" "+r.Limits())
	}
	if got := strings.Join(films, "; "); got != "film-skin 90 um to 150 um; film-door 90 um to 150 um" && got != "film-skin 90 to 150 um; film-door 90 to 150 um" {
		t.Errorf("readings %s", got)
	}
	for _, x := range p.Takeoff {
		switch x.Material {
		case "primer": // 0.5 x 60 + 0.8 x 80 = 94 ml: one pack of 100
			if !near(x.Net, 94) || x.Packs != 1 {
				t.Errorf("primer %+v", x)
			}
		case "clear": // 132 ml, with 20 % waste 158.4
			if !near(x.Net, 132) || !near(x.Gross, 158.4) {
				t.Errorf("clear %+v", x)
			}
		}
	}
}

var lengthOf100 = inspect.Length{MM: 100}

func near(a, b float64) bool { return a-b < 1e-9 && b-a < 1e-9 }

// TestAreasCountOnce: what is coated and how much, for choices that tempt to forget an area or to
// count it twice. Areas by hand from paintBody; a patch of a 100 mm dent with 50 mm around it is
// 200 mm x 200 mm = 0.04 m2, of a 100 mm crack 200 mm x 100 mm = 0.02 m2.
func TestAreasCountOnce(t *testing.T) {
	dress := func(f job.FindingID) Item {
		return Item{Treatment: "dress", Kind: body.Dress, Findings: []job.FindingID{f}}
	}
	spot := func(fs ...job.FindingID) Item {
		return Item{Treatment: "spot", Kind: body.Dress, Findings: fs}
	}
	for name, c := range map[string]struct {
		items          []Item
		prime, lacquer string
		change         func(*Input)
	}{
		"skin and wing share the door":         {[]Item{swapSkin, swapWing}, "skin 0.8, wing 0.6", "skin 0.8, wing 0.6, door 0.3", nil},
		"the door is painted itself":           {[]Item{swapSkin, dress("F5")}, "skin 0.8, door 0.9", "skin 0.8, door 0.9", nil},
		"dressed twice":                        {[]Item{dress("F5"), dress("F7")}, "door 0.9", "door 0.9", nil},
		"a patch":                              {[]Item{spot("F5")}, "door 0.04", "door 0.04", nil},
		"a patch of a crack":                   {[]Item{spot("F7")}, "door 0.02", "door 0.02", nil},
		"two patches":                          {[]Item{spot("F5"), spot("F7")}, "door 0.06", "door 0.06", nil},
		"a patch in what is dressed":           {[]Item{spot("F5"), dress("F7")}, "door 0.9", "door 0.9", nil},
		"a patch and the colour of the skin":   {[]Item{swapSkin, spot("F5")}, "skin 0.8, door 0.04", "skin 0.8, door 0.34", nil},
		"a patch larger than the part":         {[]Item{spot("F5")}, "door 0.03", "door 0.03", func(in *Input) { partOf(in, "door").Outer.Value = 0.03 }},
		"a patch on a part that is not coated": {[]Item{spot("F5")}, "", "", func(in *Input) { partOf(in, "door").Outer.Value = 0 }},
		"a new part and dressed besides":       {[]Item{swapWing, dress("F4")}, "wing 0.6", "wing 0.6, door 0.3", nil},
		"lost only by opening":                 {[]Item{weldF1}, "skin 0.8", "skin 0.8, door 0.3", nil},
		"only the colour of a spot":            {[]Item{spot("F4")}, "wing 0.04", "wing 0.04", nil},
		"nothing to coat":                      {[]Item{swapF3}, "", "", nil},
	} {
		in := paintInput(c.items...)
		if c.change != nil {
			c.change(&in)
		}
		p, notes := Build(in)
		for _, w := range []struct{ step, want string }{{"prime", c.prime}, {"lacquer", c.lacquer}} {
			got := ""
			if k := stepAt(p, w.step); k >= 0 {
				sum := 0.0
				for _, a := range p.Steps[k].Areas {
					got += ", " + a.Name + " " + num(a.M2)
					sum += a.M2
				}
				if !near(sum, p.Steps[k].AreaM2) {
					t.Errorf("%s: %s: %g is not the sum of %v", name, w.step, p.Steps[k].AreaM2, p.Steps[k].Areas)
				}
			}
			if got = strings.TrimPrefix(got, ", "); got != w.want {
				t.Errorf("%s: %s of %q, want %q (%s)", name, w.step, got, w.want, notesOf(notes))
			}
		}
	}
}

func partOf(in *Input, id body.PartID) *body.Part {
	k := slices.IndexFunc(in.Body.Parts, func(p body.Part) bool { return p.ID == id })
	return &in.Body.Parts[k]
}

// TestUnknownAreaBlocks: an area that nobody gives is told, and the step says that it is not all.
func TestUnknownAreaBlocks(t *testing.T) {
	for name, c := range map[string]struct {
		items  []Item
		change func(*Input)
		notes  string
		step   string
	}{
		"outside of a new part": {[]Item{swapWing}, func(in *Input) { partOf(in, "wing").Outer.Known = false }, "!plan.no-area", "prime"},
		"inside of a new part":  {[]Item{swapWing}, func(in *Input) { partOf(in, "wing").Inner.Known = false }, "!plan.no-area", "cavity"},
		"outside of a dressed part": {[]Item{{Treatment: "dress", Kind: body.Dress, Findings: []job.FindingID{"F5"}}},
			func(in *Input) { partOf(in, "door").Outer.Known = false }, "!plan.no-area", "lacquer"},
		"size of a finding": {[]Item{{Treatment: "spot", Kind: body.Dress, Findings: []job.FindingID{"F5"}}},
			func(in *Input) { in.Inspect.Findings[4].Length = nil }, "!plan.no-area", "prime"},
		"no coating of the inside":    {[]Item{swapWing}, func(in *Input) { in.Body.Paint = in.Body.Paint[1:] }, "!plan.not-coated", ""},
		"no coating of what is loose": {[]Item{swapWing}, func(in *Input) { in.Body.Paint[1].BoltOn = body.No }, "!plan.not-coated", ""},
		"nothing done to neighbours":  {[]Item{swapWing}, func(in *Input) { in.Body.Paint[1].Blend = nil }, "!plan.no-blend", ""},
	} {
		in := paintInput(c.items...)
		c.change(&in)
		p, notes := Build(in)
		if got := notesOf(notes); !strings.Contains(got, c.notes) {
			t.Errorf("%s: notes %s, want %s", name, got, c.notes)
		}
		if c.step != "" && !step(t, p, c.step).Unpriced {
			t.Errorf("%s: %s has a price", name, c.step)
		}
	}
}

// highVoltage makes the battery the high-voltage one, with what the job says of it and, above 0, its own limit.
func highVoltage(in *Input, said job.Battery, high unit.Celsius) {
	k := slices.IndexFunc(in.Body.Parts, func(p body.Part) bool { return p.ID == "battery" })
	in.Body.Parts[k].Kind, in.Job.Vehicle.Battery = body.PartBattery, said
	if high > 0 {
		in.Body.HeatLimits = append(in.Body.HeatLimits, body.HeatLimit{Part: "battery", High: high, Cite: "p. 3"})
	}
}

// TestHeatIsHeldAgainstLimits: what must not be heated keeps the lacquer from being baked; it dries
// in the air, or the plan blocks where the data know no such way.
func TestHeatIsHeldAgainstLimits(t *testing.T) {
	noWait := func(in *Input) { in.Body.Tasks[len(in.Body.Tasks)-1].Step.Wait = nil }
	for name, c := range map[string]struct {
		items  []Item
		change func(*Input)
		baked  bool
		wait   float64
		notes  string
	}{
		"all may":           {[]Item{swapSkin}, func(*Input) {}, true, 40, ""},
		"no limits at all":  {[]Item{swapSkin}, func(in *Input) { in.Body.HeatLimits = nil }, false, 900, "plan.no-bake"},
		"no limit, no wait": {[]Item{swapSkin}, func(in *Input) { in.Body.HeatLimits = nil; noWait(in) }, false, 0, "!plan.no-bake"},
		"a battery": {[]Item{swapSkin}, func(in *Input) {
			in.Body.HeatLimits = append(in.Body.HeatLimits, body.HeatLimit{Part: "battery", High: 59.5, Cite: "p. 3"})
		}, false, 900, "plan.no-bake"},
		"a battery just so": {[]Item{swapSkin}, func(in *Input) {
			in.Body.HeatLimits = append(in.Body.HeatLimits, body.HeatLimit{Part: "battery", High: 60, Longest: 40, Cite: "p. 3"})
		}, true, 40, ""},
		"a battery too long": {[]Item{swapSkin}, func(in *Input) {
			in.Body.HeatLimits = append(in.Body.HeatLimits, body.HeatLimit{Part: "battery", High: 60, Longest: 39, Cite: "p. 3"})
		}, false, 900, "plan.no-bake"},
		"only the panel warm": {[]Item{swapSkin}, func(in *Input) {
			in.Body.HeatLimits = append(in.Body.HeatLimits, body.HeatLimit{Part: "battery", High: 40, Cite: "p. 3"})
			in.Body.Tasks[len(in.Body.Tasks)-1].Step.Bake.Local = true
		}, true, 40, ""},
		"glue without a limit of its own":     {[]Item{swapSkin}, func(in *Input) { in.Body.HeatLimits = in.Body.HeatLimits[:1] }, false, 900, "plan.no-bake"},
		"glue that is too soft":               {[]Item{swapSkin}, func(in *Input) { in.Body.HeatLimits[1].High = 59 }, false, 900, "plan.no-bake"},
		"glue of before":                      {[]Item{swapWing}, func(in *Input) { in.Body.HeatLimits[1].High = 59 }, false, 900, "plan.no-bake"},
		"nobody says whether a battery is in": {[]Item{swapSkin}, func(in *Input) { in.Job.Vehicle.Battery = "" }, false, 900, "plan.no-bake"},
		"a battery in that the body has not":  {[]Item{swapSkin}, func(in *Input) { in.Job.Vehicle.Battery = job.BatteryIn }, false, 900, "plan.no-bake"},
		"that battery out":                    {[]Item{swapSkin}, func(in *Input) { in.Job.Vehicle.Battery = job.BatteryOut }, true, 40, ""},
		"that battery in, the panel warm": {[]Item{swapSkin}, func(in *Input) {
			in.Job.Vehicle.Battery, in.Body.Tasks[len(in.Body.Tasks)-1].Step.Bake.Local = job.BatteryIn, true
		}, true, 40, ""},
		"the high-voltage battery at the limit of the rest": {[]Item{swapSkin}, func(in *Input) { highVoltage(in, job.BatteryIn, 0) }, false, 900, "plan.no-bake"},
		"that and nobody says whether it is in":             {[]Item{swapSkin}, func(in *Input) { highVoltage(in, "", 0) }, false, 900, "plan.no-bake"},
		"that and the job says there is none":               {[]Item{swapSkin}, func(in *Input) { highVoltage(in, job.BatteryNone, 0) }, false, 900, "plan.no-bake"},
		"that and it is out":                                {[]Item{swapSkin}, func(in *Input) { highVoltage(in, job.BatteryOut, 0) }, true, 40, ""},
		"the high-voltage battery at its own":               {[]Item{swapSkin}, func(in *Input) { highVoltage(in, job.BatteryIn, 60) }, true, 40, ""},
		"the high-voltage battery above its own":            {[]Item{swapSkin}, func(in *Input) { highVoltage(in, "", 59.9) }, false, 900, "plan.no-bake"},
		"a sensitive part that is off": {[]Item{swapSkin}, func(in *Input) {
			in.Body.HeatLimits = append(in.Body.HeatLimits, body.HeatLimit{Part: "bumper", High: 40, Cite: "p. 3"})
		}, true, 40, ""},
	} {
		in := paintInput(c.items...)
		c.change(&in)
		p, notes := Build(in)
		s := step(t, p, "lacquer")
		if got := notesOf(notes); (s.Bake != nil) != c.baked || s.WaitMin != c.wait || strings.Contains(got, "no-bake") != (c.notes != "") || !strings.Contains(got, c.notes) {
			t.Errorf("%s: baked %v, wait %g, notes %s, want %+v", name, s.Bake != nil, s.WaitMin, got, c)
		}
	}
}

// TestFullStrengthBeforeHeat: an adhesive that may be heated only at full strength, 2250 min at
// 20 C, is left so long before the lacquer is baked.
func TestFullStrengthBeforeHeat(t *testing.T) {
	in := paintInput(swapSkin)
	in.Body.HeatLimits[1].From = ""
	p, _ := Build(in)
	lacquer := step(t, p, "lacquer")
	for _, s := range p.Steps {
		if len(s.Bonds) > 0 {
			if wait := lacquer.From.Sub(s.To).Minutes(); lacquer.Bake == nil || wait < 2250 {
				t.Errorf("baked %v, %g min after %q", lacquer.Bake, wait, s.Name)
			}
		}
	}
}

// TestNobodyPaints: without the skill in the shop the plan says so; bought in it has dates.
func TestNobodyPaints(t *testing.T) {
	in := paintInput(swapWing)
	in.Shop.People = in.Shop.People[:2]
	if _, notes := Build(in); !strings.Contains(notesOf(notes), "!plan.no-person") {
		t.Errorf("notes %s", notesOf(notes))
	}
	in.Shop.Sublets = []shop.Sublet{{ID: "S1", Skill: "paint", Name: "Paint shop", Visit: eur(5000), Hour: eur(7000)}}
	if p, notes := Build(in); strings.Contains(notesOf(notes), "!") || p.Finish.IsZero() {
		t.Errorf("finish %s, notes %s", p.Finish, notesOf(notes))
	}
}

// TestPaintIsWeighed: of two ways to open, the one that loses a part which has to be painted weighs
// what its paint costs by the area. Zone Z1 is reached by taking off the skin (31000 and glue) or a
// panel of the same joint, 1000 dearer, that is not painted; 0.8 m2 x (12 + 20) min at 80 an hour and
// 0.5 m2 x 10 min are 4080 already.
func TestPaintIsWeighed(t *testing.T) {
	for name, c := range map[string]struct {
		paint bool
		want  string
	}{"painted": {true, "panel"}, "nothing said": {false, "skin"}} {
		in := paintInput(weldF1)
		in.Body.Joints[1].Uses = nil
		panel, joint := in.Body.Parts[1], in.Body.Joints[1]
		panel.ID, panel.Name, panel.Price, panel.Outer, panel.Inner = "panel", "panel", eur(32000), unit.Some(unit.SquareMetre(0)), unit.Some(unit.SquareMetre(0))
		joint.ID, joint.Layers, joint.Destroys = "J9", []body.PartID{"panel", "cast"}, []body.PartID{"panel"}
		in.Body.Parts, in.Body.Joints = append(in.Body.Parts, panel), append(in.Body.Joints, joint)
		in.Body.Access = []body.Access{{To: "Z1", Needs: [][]body.PartID{{"skin"}, {"panel"}}}}
		if !c.paint {
			in.Body.Paint = nil
		}
		p, _ := Build(in)
		if got := removed(p); got != c.want {
			t.Errorf("%s: %s comes off, want %s", name, got, c.want)
		}
	}
}

// TestDustAfterPaint: a dry fit that makes dust takes the new wing, so that it cannot come before the
// wing is painted off the vehicle: told where it is done in the same kind of bay or in one that nobody
// names, and not elsewhere; nor where only the inside is coated, or the paint comes after.
func TestDustAfterPaint(t *testing.T) {
	for name, c := range map[string]struct {
		bay, booth body.BayKind
		when       body.CoatTime
		surface    body.Surface
		told       bool
	}{
		"in the booth":           {"booth", "booth", body.CoatLoose, body.OuterSurface, true},
		"dust anywhere":          {"", "booth", body.CoatLoose, body.OuterSurface, true},
		"paint anywhere":         {"bench", "", body.CoatLoose, body.OuterSurface, true},
		"on the bench":           {"bench", "booth", body.CoatLoose, body.OuterSurface, false},
		"painted when fitted":    {"booth", "booth", body.CoatFitted, body.OuterSurface, false},
		"the inside only is wet": {"booth", "booth", body.CoatLoose, body.InnerSurface, false},
	} {
		in := paintInput(swapWing)
		for i := range in.Body.Treatments {
			if s := in.Body.Treatments[i].Steps; in.Body.Treatments[i].ID == "swap" {
				s[0].Cautions, s[0].Bay, s[0].NewPart = []body.Caution{body.Dust}, c.bay, body.Yes
			}
		}
		for i := range in.Body.Tasks {
			if in.Body.Tasks[i].Step.Surface != "" {
				in.Body.Tasks[i].Step.Bay = c.booth
			}
		}
		partOf(&in, "wing").Inner.Value = 0
		in.Body.Paint[1].When = c.when
		if c.surface == body.InnerSurface {
			partOf(&in, "wing").Inner.Value, partOf(&in, "wing").Outer.Value = 0.4, 0
		}
		_, notes := Build(in)
		if got := strings.Contains(notesOf(notes), "plan.dust-after-paint"); got != c.told {
			t.Errorf("%s: told %v, notes %s", name, got, notesOf(notes))
		}
	}
}

// TestPaintSaysHow: how minutes, amounts and areas came about, in words, and why nothing is baked.
func TestPaintSaysHow(t *testing.T) {
	in := paintInput(swapSkin, Item{Treatment: "spot", Kind: body.Dress, Findings: []job.FindingID{"F5"}})
	in.Body.HeatLimits = append(in.Body.HeatLimits, body.HeatLimit{Part: "battery", High: 45, Longest: 30, Cite: "p. 9"})
	in.Body.HeatLimits[1] = body.HeatLimit{Part: "cast", High: 90, Cite: "p. 8"} // glue has none of its own
	p, notes := Build(in)
	said := func(where, text string, want ...string) {
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("%s: %q does not say %q", where, text, w)
			}
		}
	}
	prime, lacquer := step(t, p, "prime"), step(t, p, "lacquer")
	said("prime", prime.Sum, "12 min for each m2 x 0.84 m2 (skin 0.8 m2 + F5 on door 200 mm x 200 mm) = 10.08 min")
	said("prime", strings.Join(prime.Notes, " "), "Outside of skin 0.8 m2 and door 0.04 m2.")
	said("cavity", strings.Join(step(t, p, "cavity").Notes, " "), "Inside of skin 0.5 m2.")
	said("lacquer", lacquer.Sum, "10 min + 20 min for each m2 x 1.14 m2 (skin 0.8 m2 + F5 on door 200 mm x 200 mm + door 0.3 m2, into which the colour runs out) = 22.8 min = 32.8 min")
	said("lacquer", strings.Join(lacquer.Notes, " "), "Outside of skin 0.8 m2 and door 0.34 m2.")
	if strings.Contains(strings.Join(lacquer.Notes, " "), "Dry at") {
		t.Errorf("it is not baked, and its notes are %v", lacquer.Notes)
	}
	for _, x := range p.Takeoff {
		if x.Material == "primer" {
			said("takeoff", x.Lines[len(x.Lines)-1].Formula, "40 um dry at 50 % solids: 80 ml for each m2 x 0.84 m2 (", ") = 67.2 ml")
			said("takeoff", x.Lines[0].Formula, "60 ml for each m2 x 0.5 m2 (skin 0.5 m2) = 30 ml")
		}
	}
	for _, n := range notes {
		if n.Code == "plan.no-bake" {
			said("no bake", n.Text, `"lacquer" must not dry at 60 C for 40 min: `, "battery may get at most 45 C for 30 min (p. 9)", "nobody says how warm glue may get", "; it dries by its wait instead")
		}
	}
	in = paintInput(swapWing)
	partOf(&in, "wing").Outer.Known = false
	p, notes = Build(in)
	said("unknown", strings.Join(step(t, p, "prime").Notes, " "), "Outside of wing, area not known.")
	for _, n := range notes {
		if n.Code == "plan.no-area" {
			said("unknown", n.Text, "nobody gives the outer area of wing; its minutes and materials by the square metre are left out")
		}
	}
}

// TestWhatIsHeated: by a lamp only the panel and what is bonded to it; in a booth all that is on the
// vehicle: a joint that stays closed counts by its own limit or that of the rest, a service piece that is
// not used not at all.
func TestWhatIsHeated(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Input)
		item   Item
		baked  bool
	}{
		"an old joint at the limit of the rest": {func(in *Input) { in.Body.HeatLimits = in.Body.HeatLimits[:1] }, swapWing, true},
		"an old joint with its own":             {func(in *Input) { in.Body.HeatLimits[1].High = 59 }, swapWing, false},
		"by a lamp, away from the old joint": {func(in *Input) {
			in.Body.HeatLimits[1].High = 59
			bakeOf(in).Local = true
		}, swapWing, true},
		"by a lamp on the part of the old joint": {func(in *Input) {
			in.Body.HeatLimits[1].High = 59
			bakeOf(in).Local = true
		}, Item{Treatment: "dress", Kind: body.Dress, Findings: []job.FindingID{"F6"}}, false},
		"by a lamp on what was bonded in the job": {func(in *Input) {
			in.Body.HeatLimits[1].High = 59
			bakeOf(in).Local = true
		}, swapSkin, false},
		"a service piece that is not used": {func(in *Input) {
			in.Body.HeatLimits = append(in.Body.HeatLimits, body.HeatLimit{Part: "horn", High: 40, Cite: "p. 3"})
		}, swapWing, true},
		"the panel itself": {func(in *Input) {
			bakeOf(in).Local = true
			in.Body.HeatLimits = append(in.Body.HeatLimits, body.HeatLimit{Part: "wing", High: 40, Cite: "p. 3"})
		}, swapWing, false},
		"off the vehicle": {func(in *Input) {
			in.Body.Paint[1].When, in.Body.Blends = body.CoatLoose, nil
			in.Body.HeatLimits = append(in.Body.HeatLimits, body.HeatLimit{Part: "battery", High: 40, Cite: "p. 3"})
		}, swapWing, true},
		"off the vehicle, the colour of the door on it": {func(in *Input) {
			in.Body.Paint[1].When = body.CoatLoose
			in.Body.HeatLimits = append(in.Body.HeatLimits, body.HeatLimit{Part: "battery", High: 40, Cite: "p. 3"})
		}, swapWing, false},
	} {
		in := paintInput(c.item)
		c.change(&in)
		p, notes := Build(in)
		s := step(t, p, "lacquer")
		if (s.Bake != nil) != c.baked {
			t.Errorf("%s: baked %v, notes %v", name, s.Bake != nil, notes)
		}
		if onCar := s.Bake != nil && !s.Bake.Local && in.Body.Paint[1].When == body.CoatFitted; slices.Contains(s.Cautions, body.BatteryHeat) != onCar {
			t.Errorf("%s: cautions %v", name, s.Cautions)
		}
	}
}

func bakeOf(in *Input) *body.Bake { return in.Body.Tasks[len(in.Body.Tasks)-1].Step.Bake }

// TestPaintIsNoWorse: a treatment is not dropped for another that leaves more to be painted, or other
// parts; a spot repair takes the same step as dressing the whole door.
func TestPaintIsNoWorse(t *testing.T) {
	whole, spot := Item{Treatment: "dress", Kind: body.Dress, Findings: []job.FindingID{"F5"}}, Item{Treatment: "spot", Kind: body.Dress, Findings: []job.FindingID{"F5"}}
	for name, c := range map[string]struct {
		change func(*Input)
		want   bool
	}{
		"nothing is painted": {func(in *Input) { in.Body.Paint, in.Body.Blends = nil, nil }, true},
		"more to paint":      {func(in *Input) { in.Body.Blends = nil }, false},
		"as much to paint":   {func(in *Input) { in.Body.Blends = nil; in.Body.Treatments[len(in.Body.Treatments)-1].Repaint = nil }, true},
		"the inside too": {func(in *Input) {
			in.Body.Blends = nil
			in.Body.Treatments[len(in.Body.Treatments)-1].Repaint = &body.Repaint{Surfaces: []body.Surface{"outer", "inner"}}
			partOf(in, "door").Inner.Value = 0.2
		}, false},
		"as much, with neighbours": {func(in *Input) { in.Body.Treatments[len(in.Body.Treatments)-1].Repaint = nil }, false},
		"a task of their own": {func(in *Input) {
			in.Body.Paint, in.Body.Blends = nil, nil
			for i := range in.Body.Treatments {
				if k := &in.Body.Treatments[i]; k.ID == "dress" || k.ID == "spot" {
					k.After = []body.TaskID{"prime"}
				}
			}
		}, false},
	} {
		in := paintInput(whole)
		for i := range in.Body.Treatments {
			if k := &in.Body.Treatments[i]; k.ID == "dress" || k.ID == "spot" {
				k.Steps = []body.Step{{ID: "d1", Name: "Dress", Skill: "body", Fixed: 30}}
			}
		}
		c.change(&in)
		if got := NewWeigher(in).NoWorse(whole, spot); got != c.want {
			t.Errorf("%s: no worse %v", name, got)
		}
	}
}
