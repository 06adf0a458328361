package plan

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// drawnPaint is a job on paintBody with its areas, coatings, limits and choices drawn so that an
// area is easily forgotten or counted twice, or something heated that must not be: unknown and
// zero areas, patches on parts that are new, dressed or neighbours, coatings for some parts only,
// parts that come off only for access, limits just at, above and below the heat, or none.
func drawnPaint(seed uint64) Input {
	rng := rand.New(rand.NewPCG(seed, 1805))
	some := func(share float64) bool { return rng.Float64() < share }
	items := []Item{}
	skin := rng.IntN(4)
	for k, it := range []Item{weldF1, weldF2, swapF3, cutS1, swapWing,
		{Treatment: "dress", Kind: body.Dress, Findings: []job.FindingID{"F5"}}, {Treatment: "spot", Kind: body.Dress, Findings: []job.FindingID{"F7"}},
		{Treatment: "dress", Kind: body.Dress, Findings: []job.FindingID{"F4"}}, {Treatment: "spot", Kind: body.Dress, Findings: []job.FindingID{"F5"}}} {
		if some(0.35) && !(k == 3 && slices.ContainsFunc(items, func(o Item) bool { return o.Treatment == "weld" })) {
			items = append(items, it)
		}
	}
	if skin == 0 || len(items) == 0 {
		items = append(items, swapSkin)
	} else if skin == 1 {
		items = append(items, Item{Treatment: "spot", Kind: body.Dress, Findings: []job.FindingID{"F6"}})
	}
	in := paintInput(items...)
	b := in.Body
	for i := range b.Parts {
		p := &b.Parts[i]
		for _, a := range []*unit.Maybe[unit.SquareMetre]{&p.Outer, &p.Inner} {
			switch {
			case some(0.05):
				*a = unit.Maybe[unit.SquareMetre]{}
			case some(0.3):
				*a = unit.Some(unit.SquareMetre(float64(rng.IntN(100)) / 100))
			}
		}
	}
	b.Parts[7].BoltOn = some(0.7)
	for i := range b.Paint {
		if b.Paint[i].When = body.CoatLoose; some(0.5) {
			b.Paint[i].When = body.CoatFitted
		}
	}
	if some(0.4) { // loose and fitted apart
		two := b.Paint[1]
		two.BoltOn, two.When, b.Paint[1].BoltOn = body.Yes, body.CoatLoose, body.No
		two.Tasks, two.Blend = []body.TaskID{"prime2", "lacquer2"}, nil
		if some(0.5) {
			two.Blend = []body.TaskID{"blend2", "lacquer2"}
		}
		for _, id := range []body.TaskID{"prime", "blend", "lacquer"} {
			t, _ := b.Task(id)
			t.ID += "2"
			t.Step.Name += "2"
			b.Tasks = append(b.Tasks, t)
		}
		b.Paint = slices.Insert(b.Paint, rng.IntN(3), two)
	}
	drawHeat(b, rng)
	in.Job.Vehicle.Battery = []job.Battery{"", job.BatteryIn, job.BatteryOut, job.BatteryNone}[rng.IntN(4)]
	if some(0.5) {
		b.Parts[slices.IndexFunc(b.Parts, func(p body.Part) bool { return p.ID == "battery" })].Kind = body.PartBattery
	}
	if some(0.3) {
		b.Tasks[len(b.Tasks)-1].Step.Wait = nil
	}
	if some(0.3) {
		b.Blends = append(b.Blends, body.Blend{Part: "wing", Beside: []body.PartID{"skin", "door"}, Area: 0.1})
	}
	if some(0.3) { // the wing lies under the door
		b.Access = append(b.Access, body.Access{To: "wing", Needs: [][]body.PartID{{"door"}}})
	}
	if some(0.3) {
		b.Access = append(b.Access, body.Access{To: "Z2", Needs: [][]body.PartID{{"wing"}, {"battery", "door"}}})
	}
	if some(0.3) { // they come off as one piece
		b.Assemblies = append(b.Assemblies, body.Assembly{ID: "side", Name: "side", Parts: []body.PartID{"wing", "door"}, Off: 1, On: 1, Skill: "body"})
	}
	return in
}

func drawHeat(b *body.Body, rng *rand.Rand) {
	near := func() unit.Celsius { return []unit.Celsius{50, 59.9, 60, 60.1, 90}[rng.IntN(5)] }
	b.HeatLimits = nil
	if rng.IntN(4) > 0 {
		b.HeatLimits = append(b.HeatLimits, body.HeatLimit{Rest: true, High: 60 + 5*unit.Celsius(rng.IntN(3)), Longest: []unit.Minutes{0, 0, 40, 39}[rng.IntN(4)], Cite: "p. 1"})
	}
	if rng.IntN(4) > 0 {
		b.HeatLimits = append(b.HeatLimits, body.HeatLimit{Material: "glue", From: []body.CureState{"", body.CuredHandling, body.CuredFull}[rng.IntN(3)], High: near() + 1, Cite: "p. 2"})
	}
	for _, id := range []body.PartID{"battery", "bumper", "door", "skin"} {
		if rng.IntN(6) == 0 {
			b.HeatLimits = append(b.HeatLimits, body.HeatLimit{Part: id, High: near(), Cite: "p. 3"})
		}
	}
	for i := range b.Tasks {
		if k := b.Tasks[i].Step.Bake; k != nil && rng.IntN(4) == 0 {
			b.Tasks[i].Step.Bake = &body.Bake{Temp: k.Temp, Hold: k.Hold, Local: true}
		}
	}
}

// coatLaw checks a plan with nothing but the body, the choice and the plan's own steps.
type coatLaw struct {
	in    Input
	p     Plan
	notes string
	after map[string]map[string]bool // everything that a step comes after
	t     *testing.T
	seed  uint64
}

func (c *coatLaw) fault(format string, args ...any) {
	c.t.Errorf("seed %d: "+format+"\n  %v", append(append([]any{c.seed}, args...), stepNames(c.p))...)
}

// expected is what has to be painted of a surface, by the documentation: square metres by part,
// -1 where they are unknown.
func (c *coatLaw) expected(s body.Surface) (all, whole map[body.PartID]float64) {
	all, whole = map[body.PartID]float64{}, map[body.PartID]float64{}
	size := func(id body.PartID) float64 {
		p, _ := c.in.Body.Part(id)
		v := p.Outer
		if s == body.InnerSurface {
			v = p.Inner
		}
		if !v.Known {
			return -1
		}
		return float64(v.Value)
	}
	for _, l := range c.p.Lost {
		whole[l.Part] = size(l.Part)
	}
	patches := map[body.PartID]float64{}
	for _, it := range c.in.Choice.Items {
		if it.Kind != body.Dress && it.Kind != body.Weld || s == body.InnerSurface {
			continue
		}
		for _, f := range it.Findings {
			for _, x := range c.in.Inspect.Findings {
				switch {
				case x.ID != f:
				case it.Treatment != "spot":
					whole[x.Part] = size(x.Part)
				case x.Kind == body.Crack:
					patches[x.Part] += 0.02 // (100 + 2 x 50) x (2 x 50) mm
				default:
					patches[x.Part] += 0.04 // (100 + 2 x 50) mm each way
				}
			}
		}
	}
	maps.Copy(all, whole)
	for id, m2 := range patches {
		if _, done := whole[id]; done {
			continue
		}
		if all[id] = m2; size(id) >= 0 && size(id) <= m2 {
			all[id], whole[id] = size(id), size(id)
		}
	}
	return all, whole
}

// areas: each coating task works on just what it has to, each part once.
func (c *coatLaw) areas() {
	for _, s := range []body.Surface{body.OuterSurface, body.InnerSurface} {
		all, whole := c.expected(s)
		got := map[body.PartID]bool{}
		for _, k := range c.in.Body.Paint {
			if k.Surface != s {
				continue
			}
			for _, id := range k.Tasks {
				want := map[body.PartID]float64{}
				for p, m2 := range all {
					part, _ := c.in.Body.Part(p)
					if m2 != 0 && (k.BoltOn == "" || (k.BoltOn == body.Yes) == part.BoltOn) {
						want[p], got[p] = m2, true
					}
				}
				c.holds(id, want, slices.Contains(k.Blend, id))
			}
		}
		for p, m2 := range all {
			if m2 != 0 && !got[p] && !strings.Contains(c.notes, "!plan.not-coated") {
				c.fault("%s of %s is coated by nothing, and that is not told (%s)", s, p, c.notes)
			}
		}
		if s == body.OuterSurface {
			c.neighbours(all, whole)
		}
	}
}

// holds: a step's areas are these, but for those into which the colour runs out.
func (c *coatLaw) holds(id body.TaskID, want map[body.PartID]float64, blends bool) {
	k := stepAt(c.p, string(id))
	if k < 0 {
		if len(want) > 0 {
			c.fault("%s is not planned for %v", id, want)
		}
		return
	}
	st, sum := c.p.Steps[k], 0.0
	unknown := false
	seen := map[body.PartID]bool{}
	for _, a := range st.Areas {
		if seen[a.Part] {
			c.fault("%s: %s is there twice", id, a.Part)
		}
		seen[a.Part], sum, unknown = true, sum+a.M2, unknown || a.Unknown
		w, is := want[a.Part]
		switch {
		case !is && !(blends && a.Blend):
			c.fault("%s works on %s, which nothing asks for", id, a.Part)
		case is && (w < 0) != a.Unknown:
			c.fault("%s: %s is %+v, want %g", id, a.Part, a, w)
		case is && w >= 0 && !near(a.M2, w) && !(blends && a.M2 > w):
			c.fault("%s: %s is %g m2, want %g", id, a.Part, a.M2, w)
		}
	}
	for p := range want {
		if !seen[p] {
			c.fault("%s forgets %s", id, p)
		}
	}
	task, _ := c.in.Body.Task(id)
	if min := float64(task.Step.Fixed) + float64(task.Step.PerArea)*sum; st.Unpriced != unknown || !near(st.Minutes, min) || !near(st.AreaM2, sum) {
		c.fault("%s takes %g min for %g m2 (unpriced %v), want %g for %g", id, st.Minutes, st.AreaM2, st.Unpriced, min, sum)
	}
	if unknown && !strings.Contains(c.notes, "!plan.no-area") {
		c.fault("%s has an area that nobody knows, and that blocks nothing: %s", id, c.notes)
	}
	for _, u := range task.Step.Uses {
		per := u.PerArea.Value
		if u.Film != 0 {
			per = 80 // 40 um at 50 %
		}
		net := 0.0
		for _, x := range c.p.Takeoff {
			for _, l := range x.Lines {
				if x.Material == u.Material && l.Step == st.ID {
					net += l.Amount
				}
			}
		}
		if !near(net, per*sum) {
			c.fault("%s takes %g of %s, want %g", id, net, u.Material, per*sum)
		}
	}
}

// neighbours: each into which the colour runs out is done once, or painted all over itself.
func (c *coatLaw) neighbours(all, whole map[body.PartID]float64) {
	for _, n := range c.in.Body.Blends {
		asked := slices.ContainsFunc(n.Beside, func(p body.PartID) bool { m2, is := whole[p]; return is && m2 != 0 && c.covered(p) })
		times := 0
		for _, s := range c.p.Steps {
			if strings.HasPrefix(s.Name, "blend") {
				for _, a := range s.Areas {
					if a.Part == n.Part {
						if times++; !near(a.M2, float64(n.Area)) {
							part, _ := c.in.Body.Part(n.Part)
							if !part.Outer.Known || !near(a.M2, min(float64(n.Area), float64(part.Outer.Value))) {
								c.fault("the colour runs out into %g m2 of %s, want %s", a.M2, n.Part, n.Area)
							}
						}
					}
				}
			}
		}
		m2, painted := whole[n.Part]
		painted = painted && m2 != 0 && c.covered(n.Part)
		want := 0
		if asked && !painted {
			want = 1
		}
		if times != want && !strings.Contains(c.notes, "!plan.no-blend") {
			c.fault("the colour runs out into %s %d times, want %d", n.Part, times, want)
		}
	}
}

func (c *coatLaw) covered(id body.PartID) bool {
	p, _ := c.in.Body.Part(id)
	return slices.ContainsFunc(c.in.Body.Paint, func(k body.Coating) bool {
		return k.Surface == body.OuterSurface && (k.BoltOn == "" || (k.BoltOn == body.Yes) == p.BoltOn)
	})
}

// isCoat says that a step belongs to a coating.
func (c *coatLaw) isCoat(s Step) (body.Coating, bool) {
	for _, k := range c.in.Body.Paint {
		if slices.Contains(k.Tasks, body.TaskID(s.Name)) || slices.Contains(k.Blend, body.TaskID(s.Name)) {
			return k, true
		}
	}
	return body.Coating{}, false
}

// carrier is the assembly that a part comes off with, or the part itself.
func (c *coatLaw) carrier(id body.PartID) body.PartID {
	for _, r := range c.p.Removal {
		if slices.Contains(r.Parts, id) {
			return r.Part
		}
	}
	return id
}

// off says that a part comes off.
func (c *coatLaw) off(id body.PartID) bool {
	return slices.ContainsFunc(c.p.Removal, func(r Removal) bool { return r.Part == c.carrier(id) })
}

func fits(s Step) bool {
	return strings.HasPrefix(s.Ref, "on ") || strings.HasPrefix(s.Ref, "close ") || strings.HasPrefix(s.Ref, "bond ")
}

// order: what is coated before it is fitted is dry then; what is coated on the vehicle is fitted
// before, all repair is done, and nothing is fitted until it is dry.
func (c *coatLaw) order() {
	for _, s := range c.p.Steps {
		k, is := c.isCoat(s)
		if !is {
			continue
		}
		onCar := false
		for _, a := range s.Areas {
			away := c.off(a.Part) || slices.ContainsFunc(c.p.Lost, func(l Lost) bool { return l.Part == a.Part })
			onCar = onCar || k.When == body.CoatFitted || !away
		}
		for _, o := range c.p.Steps {
			_, coat := c.isCoat(o)
			if coat || o.Move != nil {
				continue
			}
			part := slices.ContainsFunc(s.Areas, func(a Area) bool {
				return (o.Part == a.Part || o.Part == c.carrier(a.Part)) && fits(o) || slices.Contains(o.Takes, a.Part)
			})
			switch {
			case part && k.When == body.CoatLoose:
				c.dry(s, o, "is fitted")
			case part:
				c.sequence(o, s)
			case onCar && fits(o):
				if !c.after[s.ID][o.ID] {
					c.dry(s, o, "is fitted while it is wet, or before it is painted for no reason")
				}
			case onCar && o.Phase == PhaseRepair && !c.after[o.ID][s.ID]:
				c.sequence(o, s)
			case k.Surface == body.OuterSurface && slices.Contains(o.Cautions, body.Dust) && (o.Bay == "" || o.Bay == s.Bay) && !c.after[s.ID][o.ID] && !strings.Contains(c.notes, "plan.dust-after-paint"):
				c.fault("%s makes dust, and is not before %s", o.Name, s.Name)
			}
			for _, f := range o.For { // what works on a part comes before its coat
				for _, x := range c.in.Inspect.Findings {
					if x.ID == f && o.Phase == PhaseRepair && slices.ContainsFunc(s.Areas, func(a Area) bool { return a.Part == x.Part }) && !slices.ContainsFunc(c.p.Lost, func(l Lost) bool { return l.Part == x.Part }) {
						c.sequence(o, s)
					}
				}
			}
		}
	}
}

// sequence: the first step is over, its wait too, when the second begins.
func (c *coatLaw) sequence(first, then Step) {
	if !c.after[then.ID][first.ID] {
		c.fault("%s does not come before %s", first.Name, then.Name)
	}
	if !first.To.IsZero() && !then.From.IsZero() && then.From.Before(first.To.Add(time.Duration(first.WaitMin)*time.Minute)) {
		c.fault("%s begins at %s, %s ends at %s and %g min are waited", then.Name, then.From, first.Name, first.To, first.WaitMin)
	}
}

func (c *coatLaw) dry(coat, fit Step, what string) {
	if !c.after[fit.ID][coat.ID] {
		c.fault("%s %s before %s", fit.Name, what, coat.Name)
		return
	}
	c.sequence(coat, fit)
}

// heat: whatever is on the vehicle, or worked on, when a step bakes is known to take it, and
// adhesives have got what their limit asks for.
func (c *coatLaw) heat() {
	for _, s := range c.p.Steps {
		if s.Bake == nil {
			continue
		}
		k, _ := c.isCoat(s)
		worked := func(id body.PartID) bool {
			return slices.ContainsFunc(s.Areas, func(a Area) bool { return a.Part == id })
		}
		loose := k.When == body.CoatLoose && !slices.ContainsFunc(s.Areas, func(a Area) bool {
			return !c.off(a.Part) && !slices.ContainsFunc(c.p.Lost, func(l Lost) bool { return l.Part == a.Part })
		})
		said := c.in.Job.Vehicle.Battery
		known := said == job.BatteryOut || said == job.BatteryNone || s.Bake.Local || loose || slices.ContainsFunc(c.in.Body.Parts, func(p body.Part) bool { return p.Kind == body.PartBattery })
		if !known {
			c.fault("%s bakes a vehicle of whose battery nobody says where it is", s.Name)
		}
		for _, p := range c.in.Body.Parts {
			if (s.Bake.Local || loose) && !worked(p.ID) || !worked(p.ID) && c.away(p, s) {
				continue
			}
			if p.Kind == body.PartBattery && said == job.BatteryOut && !worked(p.ID) && !c.off(p.ID) {
				continue
			}
			var own, rest *body.HeatLimit
			for i, l := range c.in.Body.HeatLimits {
				if l.Part == p.ID {
					own = &c.in.Body.HeatLimits[i]
				}
				if l.Rest && p.Kind != body.PartBattery {
					rest = &c.in.Body.HeatLimits[i]
				}
			}
			if own == nil {
				own = rest
			}
			if own == nil || s.Bake.Temp > own.High || own.Longest > 0 && s.Bake.Hold > own.Longest {
				c.fault("%s bakes %s, which has %+v", s.Name, p.ID, own)
			}
		}
		for _, o := range c.p.Steps {
			if len(o.Bonds) == 0 || s.Bake.Local || loose || c.after[o.ID][s.ID] {
				continue
			}
			need := 450.0 // handling of glue at 20 C; 2250 its full strength
			l := slices.IndexFunc(c.in.Body.HeatLimits, func(l body.HeatLimit) bool { return l.Material == "glue" })
			if l < 0 || c.in.Body.HeatLimits[l].High < s.Bake.Temp {
				c.fault("%s bakes glue of %s", s.Name, o.Name)
				continue
			}
			if c.in.Body.HeatLimits[l].From != body.CuredHandling {
				need = 2250
			}
			if got := s.From.Sub(o.To).Minutes(); !c.after[s.ID][o.ID] || !s.From.IsZero() && got < need {
				c.fault("%s bakes %g min after %s, want %g", s.Name, got, o.Name, need)
			}
		}
	}
}

// away says that a part is not on the vehicle at a step: it came off, and goes on afterwards; or
// it is a service piece that was not joined yet.
func (c *coatLaw) away(p body.Part, s Step) bool {
	if p.Kind == body.PartPiece {
		return !slices.ContainsFunc(c.p.Steps, func(o Step) bool { return slices.Contains(o.Takes, p.ID) && c.after[s.ID][o.ID] })
	}
	for _, o := range c.p.Steps {
		if o.Ref == "on "+string(p.ID) || o.Ref == "on "+string(c.carrier(p.ID)) {
			return c.after[o.ID][s.ID]
		}
	}
	return false
}

// TestPaintLaws draws jobs that tempt the program to forget an area, to count it twice, to fit on
// wet paint, or to heat what must not be heated.
func TestPaintLaws(t *testing.T) {
	baked, coats, waited, whole := 0, 0, 0, 0
	for seed := range uint64(250) {
		in := drawnPaint(seed)
		p, notes := Build(in)
		c := &coatLaw{in: in, p: p, notes: notesOf(notes), after: map[string]map[string]bool{}, t: t, seed: seed}
		for _, s := range p.Steps { // in an order of work
			c.after[s.ID] = map[string]bool{}
		}
		for changed := true; changed; {
			changed = false
			for _, s := range p.Steps {
				for _, id := range s.After {
					for x := range maps.Keys(c.after[id]) {
						if !c.after[s.ID][x] {
							c.after[s.ID][x], changed = true, true
						}
					}
					if !c.after[s.ID][id] {
						c.after[s.ID][id], changed = true, true
					}
				}
			}
		}
		if strings.Contains(c.notes, "circle") {
			t.Errorf("seed %d: %s", seed, fmt.Sprint(notes))
		}
		if c.carrier("wing") != "wing" {
			whole++
		}
		c.areas()
		c.order()
		c.heat()
		for _, s := range p.Steps {
			if _, is := c.isCoat(s); is {
				coats++
			}
			if s.Bake != nil {
				baked++
			}
			if strings.HasPrefix(s.Ref, "hard ") {
				waited++
			}
		}
	}
	if coats < 500 || baked < 40 || waited < 5 || whole < 3 {
		t.Errorf("%d coats, %d baked, %d waits for full strength, %d assemblies: the draw is too poor", coats, baked, waited, whole)
	}
}
