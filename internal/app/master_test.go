package app

import (
	"fmt"
	"maps"
	"path"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/demo"
	"fettle/internal/job"
	"fettle/internal/plan"
)

// picked says whether a step of a plan is meant.
type picked func(*plan.Step) bool

// ref picks steps by what they are, whatever the finding: "task K-COAT", "off P-*", "*/weld", "joint J-*/seal".
func ref(patterns ...string) picked {
	return func(s *plan.Step) bool {
		what := s.Ref
		if strings.Contains(what, "/") && !strings.HasPrefix(what, "joint ") {
			what, _, _ = strings.Cut(what, " ")
		}
		return slices.ContainsFunc(patterns, func(p string) bool {
			ok, err := path.Match(p, what)
			return ok && err == nil
		})
	}
}

func (p picked) or(q picked) picked  { return func(s *plan.Step) bool { return p(s) || q(s) } }
func (p picked) but(q picked) picked { return func(s *plan.Step) bool { return p(s) && !q(s) } }

var (
	anything = picked(func(s *plan.Step) bool { return s.Move == nil })
	bonded   = picked(func(s *plan.Step) bool { return len(s.Bonds) > 0 })
	hot      = picked(func(s *plan.Step) bool {
		return slices.Contains(s.Cautions, body.Welding) || slices.Contains(s.Cautions, body.BatteryHeat)
	})
	// covering is a part that goes back on over what was repaired; a new casting is itself repaired.
	covering = picked(func(s *plan.Step) bool { return s.Phase == plan.PhaseClose && strings.HasPrefix(s.Ref, "on ") })
	// worked is what is done to the structure itself, an exchanged part's seat left out.
	worked = picked(func(s *plan.Step) bool {
		return s.Phase == plan.PhaseRepair && strings.Contains(s.Ref, "/")
	}).but(ref("T-EXCHANGE/*", "T-BOLT-ON/*", "T-PANEL/*", "joint J-*/*"))
	start = ref("task K-READ", "task K-12V-OFF", "task K-AIRBAG-OFF", "task K-HV-OFF")
	live  = ref("task K-HV-ON", "task K-12V-ON")
)

// inOrder is what a master of the trade looks for in a plan: all that is early is over, what it waits
// for included, when any that is late begins.
type inOrder struct {
	early, late picked
	same        bool // only of the same finding
	in          string
	why, source string
}

const (
	common   = "common practice, no source"
	dead     = "EN 50110-1, dead working: disconnect, secure against re-connection, verify that it is dead; in reverse afterwards (from memory)"
	srs      = "service manuals, notes on restraint systems: read the faults before the negative pole comes off, wait, and only then touch the system (several published ones, read)"
	ac       = "service manuals, air conditioning: recover, open, close, evacuate and watch the vacuum, charge (several published ones, read)"
	rust     = "textbook of an inter-industry conference on collision repair, corrosion protection, 2014: primer, seam sealer, topcoat, anti-corrosion compound last (read in parts)"
	trialled = "EN ISO 15613, qualification by a pre-production welding test, and common practice of bending a trial piece open (from memory)"
	dye      = "ISO 3452-1: the surface is bare and dry, and inspected before anything is laid over it (from memory)"
)

// masterly is the list, for both demonstrations.
var masterly = []inOrder{
	{ref("task K-READ"), anything.but(ref("task K-READ")), false, "van rear", "faults are read before the 12 V battery is off: later nobody knows which of them the work has made", srs},
	{ref("task K-12V-OFF"), ref("task K-AIRBAG-OFF", "task K-HV-OFF"), false, "van rear", "the contactors of the drive battery open with the 12 V, and the airbags have no supply", srs},
	{ref("task K-12V-OFF", "task K-AIRBAG-OFF"), ref("off A-NOSE-SKIN", "off P-BUMPER", "off P-TRIM-*"), false, "van rear", "no trim or sensor near an airbag is touched while it could fire", srs},
	{ref("task K-HV-OFF"), anything.but(start), false, "van rear", "the high voltage is proven dead before anything is taken apart", dead},
	{ref("task K-HV-OFF"), hot, false, "van rear", "nothing is welded or heated near a battery that is not proven dead", dead},
	{ref("task K-DRAIN"), ref("off P-COOLER"), false, "van", "coolant is drained before its hoses are opened", common},
	{ref("task K-RECOVER"), ref("off P-COOLER"), false, "van", "refrigerant is recovered before its circuit is opened", ac},
	{ref("task K-BRAKE-OFF"), ref("off P-AXLE", "off P-CASTING"), false, "van rear", "brake lines are opened and plugged before what carries them comes off", common},
	{ref("off P-WHEELS"), ref("off P-LINER-*", "off P-STRUT-*", "off P-SUBFRAME", "off P-SPRINGS", "off P-AXLE"), false, "van rear", "the wheels are off before anything behind them", common},
	{ref("task K-BENCH"), ref("*/cut", "*/mark", "*/open-up", "*/groove", "off P-CASTING", "off P-REAR", "off P-CLOSER-L"), false, "van rear", "the vehicle is fixed and measured in before anything structural is cut, milled or taken out", common},
	{ref("task K-COVER"), ref("*/weld"), false, "van rear", "glass, cables and battery case are covered before anything is welded", common},
	{ref("*/trial"), ref("*/weld"), true, "van", "a trial piece shows that wire and set values hold before the part is welded", trialled},
	{ref("task K-TRIAL"), ref("*/weld"), false, "rear", "a trial piece shows that wire and set values hold before the part is welded", trialled},
	{ref("*/weld"), live, false, "van rear", "nothing is welded on a vehicle whose batteries are connected", "makers' instructions for welding on vehicles (from memory)"},
	{ref("task K-BENCH"), ref("task K-MEASURE", "task K-MEASURE-LAST"), false, "van rear", "measured as it stands fixed, against what was measured in", common},
	{ref("*/open-up", "*/groove"), ref("*/weld"), true, "van rear", "penetrant shows that the crack is gone before its groove is filled", dye},
	{ref("*/weld"), ref("*/test", "*/plate"), true, "van rear", "welded and cooled before it is inspected, and before a plate is bonded beside it: heat kills the adhesive", common},
	{ref("*/test"), ref("*/form", "*/plate", "task K-COAT", "task K-SEAL", "task K-WAX").or(covering), true, "van rear", "a weld is inspected with penetrant before a plate, a coat or a part covers it", dye},
	{ref("T-DRESS/dress"), ref("T-DRESS/test"), true, "van rear", "what was blended out is inspected: the mark may have been a crack", dye},
	{ref("*/mark"), ref("*/cut"), true, "van rear", "the line is marked and checked before it is cut", common},
	{ref("*/fit"), ref("*/bond"), true, "van rear", "the piece is fitted dry and measured before any adhesive is open", common},
	{ref("T-CASTING/dry-fit"), ref("bond J-*-CELL"), false, "van rear", "so is a new casting", common},
	{worked, covering, false, "van rear", "nothing is covered that is not repaired, dry and inspected", common},
	{worked, ref("task K-COAT"), false, "van rear", "the coat goes on when nothing is ground or welded any more", rust},
	{ref("task K-COAT"), ref("task K-SEAL"), false, "van rear", "sealer lies on a dry coat, not on bare metal", rust},
	{ref("task K-COAT", "task K-SEAL", "joint J-*/seal").or(bonded), ref("task K-WAX"), false, "van rear", "wax comes last: nothing sticks to it, no bond and no sealer", rust},
	{ref("task K-COAT", "task K-SEAL"), covering, false, "van rear", "nothing is covered while it is bare or wet", rust},
	{ref("joint J-CLOSER-L/prime"), ref("bond J-CLOSER-L"), false, "van", "flanges are clean and primed, and the primer has flashed off, before the bead", common},
	{ref("joint J-*-CELL/prime"), ref("bond J-*-CELL"), false, "van rear", "so are those of a new casting", common},
	{ref("bond J-CLOSER-L"), ref("joint J-CLOSER-L/seal"), false, "van", "a joint is sealed when its adhesive has cured", rust},
	{ref("bond J-*-CELL"), ref("joint J-*-CELL/seal"), false, "van rear", "so is that of a new casting", rust},
	{ref("joint J-CLOSER-L/seal"), ref("on P-FENDER-L", "on P-LINER-L"), false, "van", "the seam is dry before the fender hides it", rust},
	{ref("joint J-STRUT-L/isolate"), ref("on P-STRUT-L"), false, "van", "steel does not lie on bare aluminium", common},
	{ref("joint J-SPRINGS/isolate"), ref("on P-SPRINGS"), false, "rear", "steel does not lie on bare aluminium", common},
	{ref("T-STRAIGHTEN/pull"), ref("T-STRAIGHTEN/look"), true, "van rear", "what was pushed back is inspected: it may have cracked", dye},
	{ref("T-STRAIGHTEN/*"), ref("task K-PRIME-OUT"), true, "rear", "a panel is painted when it is straight and free of cracks", common},
	{ref("task K-CLEAR"), ref("on P-BEAM", "on P-BUMPER"), false, "rear", "and what lies over it is fitted when the paint is dry", common},
	{ref("task K-PRIME-IN"), ref("on P-CLOSER-L"), false, "van", "a panel is primed inside while its inside can be reached", rust},
	{ref("task K-PRIME-OUT"), ref("task K-BASE"), false, "van rear", "colour lies on primer that has flashed off", common},
	{ref("task K-BASE"), ref("task K-CLEAR"), false, "van rear", "clear coat lies on colour that has flashed off", common},
	{ref("task K-CLEAR"), ref("on P-BUMPER"), false, "van", "a new part is fitted when its paint is dry", common},
	{bonded, ref("task K-MEASURE-LAST").or(ref("task K-MEASURE").but(func(s *plan.Step) bool { return s.Phase == plan.PhaseCheck })), false, "van rear", "measured with every bond hard", common},
	{ref("task K-MEASURE-LAST", "task K-MEASURE"), ref("task K-UNFIX"), false, "van rear", "measured before the clamps come off", common},
	{covering, ref("task K-UNFIX"), false, "van rear", "the wheels are on before the vehicle stands on them", common},
	{ref("on P-COOLER"), ref("task K-BLEED", "task K-EVACUATE"), false, "van", "circuits are closed before they are filled or evacuated", common},
	{ref("task K-EVACUATE"), ref("task K-CHARGE"), false, "van", "evacuated, and the vacuum held, before it is charged", ac},
	{ref("on P-AXLE", "on P-CASTING"), ref("task K-BRAKE-ON"), false, "van rear", "brake lines are connected when what carries them is in", common},
	{ref("task K-BLEED", "task K-CHARGE", "task K-BRAKE-ON"), live, false, "van rear", "nothing is switched on that would run dry", common},
	{covering, ref("task K-ISOLATION").or(live), false, "van rear", "nobody works on a vehicle that is live again", dead},
	{ref("task K-ISOLATION"), ref("task K-HV-ON"), false, "van rear", "isolation is measured before the high voltage is on", dead},
	{ref("task K-AIRBAG-ON", "task K-HV-ON"), ref("task K-12V-ON"), false, "van rear", "the 12 V comes last, when all that it wakes is plugged in", srs},
	{ref("task K-UNFIX"), ref("task K-RIDE", "task K-ALIGN"), false, "van rear", "alignment and ride height are those of a vehicle on its wheels", common},
	{ref("task K-RIDE"), ref("task K-ALIGN"), false, "rear", "rubber bushes are tightened at ride height, and that before the wheels are aligned", "maker of bushes, technical bulletin on tightening at ride height (read)"},
	{covering.or(ref("task K-12V-ON")), ref("task K-ALIGN", "task K-SENSORS", "task K-LAMPS"), false, "van rear", "sensors and lamps are set when everything is back on and has current", common},
	{ref("task K-ALIGN"), ref("task K-SENSORS", "task K-LAMPS"), false, "van rear", "sensors look along the line in which the vehicle runs", common},
	{ref("on P-WHEELS"), ref("task K-ROAD"), false, "van rear", "wheel bolts are tightened before it is driven", common},
	{anything.but(ref("task K-ROAD", "task K-READ-LAST")), ref("task K-ROAD"), false, "van rear", "the road test comes when everything else is done", common},
	{anything.but(ref("task K-READ-LAST")), ref("task K-READ-LAST"), false, "van rear", "faults are read last, and held against the first list", common},
}

// over is when a step, and what is waited for after it, is over.
func over(s *plan.Step) time.Time {
	return s.To.Add(time.Duration(s.WaitMin * float64(time.Minute)))
}

// held counts the pairs of steps that are in this order, and names those that are not, by the order of the
// steps and by their times.
func (o inOrder) held(steps []plan.Step) (tried int, bad []string) {
	for i := range steps {
		for j := range steps {
			x, y := &steps[i], &steps[j]
			if i == j || !o.early(x) || !o.late(y) || o.same && !slices.ContainsFunc(x.For, func(f job.FindingID) bool { return slices.Contains(y.For, f) }) && len(y.For) > 0 {
				continue
			}
			if tried++; i > j || !x.From.IsZero() && !y.From.IsZero() && over(x).After(y.From) {
				bad = append(bad, fmt.Sprintf("%s (%s) is over %s, %s (%s) begins %s", x.ID, x.Ref, over(x).Format("Mon 15:04"), y.ID, y.Ref, y.From.Format("Mon 15:04")))
			}
		}
	}
	return tried, bad
}

// undone is what is done to a vehicle only for the work, and what undoes it; each is in a plan when, and only
// when, the other is, and comes before it.
var undone = [][2]body.TaskID{
	{"K-READ", "K-READ-LAST"}, {"K-12V-OFF", "K-12V-ON"}, {"K-AIRBAG-OFF", "K-AIRBAG-ON"}, {"K-HV-OFF", "K-HV-ON"}, {"K-HV-OFF", "K-ISOLATION"},
	{"K-DRAIN", "K-BLEED"}, {"K-RECOVER", "K-EVACUATE"}, {"K-RECOVER", "K-CHARGE"}, {"K-BRAKE-OFF", "K-BRAKE-ON"}, {"K-BENCH", "K-UNFIX"},
}

// lacking is what a plan leaves open: drained and not filled, disconnected and not connected, off and not on,
// opened and not closed, bare and not coated, bonded and not sealed, off the wheels and not driven.
func lacking(b *body.Body, p plan.Plan) []string {
	var out []string
	count := func(patterns ...string) (n int) {
		for i := range p.Steps {
			if ref(patterns...)(&p.Steps[i]) {
				n++
			}
		}
		return n
	}
	lacks := func(if_, then []string) {
		if count(if_...) > 0 && count(then...) == 0 {
			out = append(out, fmt.Sprintf("%v without %v", if_, then))
		}
	}
	for _, u := range undone {
		if x, y := count("task "+string(u[0])), count("task "+string(u[1])); x != y || x > 1 {
			out = append(out, fmt.Sprintf("%d times %s, %d times %s", x, u[0], y, u[1]))
		}
	}
	off := map[body.PartID]body.PartID{} // each part that is off, and as what it came off
	for _, r := range p.Removal {
		for _, id := range append([]body.PartID{r.Part}, r.Parts...) {
			off[id] = r.Part
		}
		if count("off "+string(r.Part)) != 1 || count("on "+string(r.Part)) != 1 {
			out = append(out, string(r.Part)+" does not come off and go on once")
		}
	}
	closed := map[body.JointID]int{}
	for _, s := range p.Steps {
		for _, j := range s.Closes {
			closed[j]++
		}
	}
	for _, j := range b.Joints {
		opened, whole := false, off[j.Layers[0]]
		for _, l := range j.Layers {
			as, is := off[l]
			opened = opened || is
			if as != whole || !is {
				whole = ""
			}
		}
		if opened = opened && (whole == "" || len(j.Layers) == 1); opened != (closed[j.ID] == 1) {
			out = append(out, fmt.Sprintf("%s: opened %v, closed %d times", j.ID, opened, closed[j.ID]))
		}
	}
	out = append(out, amiss(p)...)
	lacks([]string{"*/weld"}, []string{"task K-COVER"})
	lacks([]string{"*/weld"}, []string{"*/trial", "task K-TRIAL"})
	lacks([]string{"task K-COVER"}, []string{"task K-UNFIX"})
	lacks([]string{"T-WELD/*", "T-WELD-PLATE/*", "T-PLATE/*", "T-SECTION/*", "T-DRESS/*"}, []string{"task K-COAT"})
	lacks([]string{"T-WELD/*", "T-WELD-PLATE/*", "T-PLATE/*", "T-SECTION/*", "T-CASTING/*"}, []string{"task K-WAX"})
	lacks([]string{"T-WELD-PLATE/*", "T-PLATE/*", "T-SECTION/*"}, []string{"task K-SEAL"})
	lacks([]string{"T-CASTING/*"}, []string{"joint J-*-CELL/seal"})
	lacks([]string{"off P-CLOSER-L"}, []string{"joint J-CLOSER-L/seal"})
	lacks([]string{"off P-CLOSER-L"}, []string{"task K-PRIME-IN"})
	lacks([]string{"off P-STRUT-L"}, []string{"joint J-STRUT-L/isolate"})
	lacks([]string{"off P-SPRINGS"}, []string{"joint J-SPRINGS/isolate"})
	lacks([]string{"T-CASTING/*", "T-SECTION/*", "T-PANEL/*", "T-WELD*/*", "T-PLATE/*"}, []string{"task K-BENCH"})
	lacks([]string{"off P-WHEELS", "off P-STRUT-*", "off P-SPRINGS", "off P-AXLE", "off P-SUBFRAME"}, []string{"task K-ROAD"})
	lacks([]string{"off P-STRUT-*", "off P-SPRINGS", "off P-AXLE", "off P-SUBFRAME", "T-CASTING/*"}, []string{"task K-ALIGN"})
	lacks([]string{"off P-BUMPER", "off A-NOSE-SKIN", "task K-ALIGN"}, []string{"task K-SENSORS"})
	return out
}

// amiss is what single steps of a plan have wrong: faults that nobody keeps as read before or after, what is done
// once for several findings and comes again, and what is left over a night that must not be.
func amiss(p plan.Plan) []string {
	var out []string
	again := map[string]bool{}
	for i := range p.Steps {
		s := &p.Steps[i]
		var stage body.FaultStage
		switch {
		case ref("task K-READ")(s):
			stage = body.FaultsBefore
		case ref("task K-READ-LAST")(s):
			stage = body.FaultsAfter
		}
		if s.Faults != stage {
			out = append(out, fmt.Sprintf("%s: faults are read %q", s.Ref, s.Faults))
		}
		what, _, _ := strings.Cut(s.Ref, " ")
		if ref("*/trial")(s) && again[what] {
			out = append(out, what+" comes again")
		}
		again[what] = true
		if ref("task K-BASE", "task K-CLEAR", "task K-ROAD")(s) && s.From.Format(time.DateOnly) != s.To.Format(time.DateOnly) {
			out = append(out, fmt.Sprintf("%s is left over a night: %s", s.Ref, s.From.Format("Mon 15:04")))
		}
	}
	return out
}

// everyTreatment is a plan for each treatment of the body alone, on the job's first finding.
func everyTreatment(c *Opened, r Assessment) map[string]plan.Plan {
	out := map[string]plan.Plan{}
	f := r.Inspect.Findings[0]
	for _, tr := range c.Body.Treatments {
		it := plan.Item{Treatment: tr.ID, Kind: tr.Kind, Findings: []job.FindingID{f.ID}, Part: f.Part}
		if tr.Kind == body.SectionOff {
			it.Line = c.Body.Lines[0].ID
		}
		if tr.Kind.NewPart() && tr.Kind != body.ReplaceCasting {
			k := slices.IndexFunc(c.Body.Parts, func(p body.Part) bool {
				return !p.BoltOn && p.Kind == "panel" && tr.Kind == body.ReplacePart || p.BoltOn && tr.Kind == body.Exchange
			})
			if k < 0 {
				continue
			}
			it.Part = c.Body.Parts[k].ID
		}
		p, _ := plan.Build(plan.Input{Body: c.Body, Shop: c.Shop, Job: c.Job, Inspect: r.Inspect, Vehicle: c.Vehicle, Choice: plan.Choice{Items: []plan.Item{it}}})
		out[string(tr.ID)] = p
	}
	return out
}

// TestAMasterWouldSign holds every route of the demonstration's jobs, and a plan for each treatment alone,
// against the list above: on the order of the steps and on their days, and for what is left open. Each line of
// the list is tried in the demonstrations that it names, and is broken by any two steps of it whose times are
// exchanged.
func TestAMasterWouldSign(t *testing.T) {
	tried := map[string]int{}
	routes := 0
	for _, d := range []struct{ dir, name string }{{demo.Job, "van"}, {demo.LookedJob, "van"}, {demo.RearJob, "rear"}} {
		_, c, r := demonstrated(t, d.dir)
		plans := everyTreatment(c, r)
		for _, route := range r.Compare.Routes {
			if len(route.Plan.Steps) > 0 {
				plans[route.ID] = route.Plan
				routes++
			}
		}
		for _, id := range slices.Sorted(maps.Keys(plans)) {
			p := plans[id]
			for _, what := range lacking(c.Body, p) {
				t.Errorf("%s, %s: %s", d.dir, id, what)
			}
			for k, o := range masterly {
				n, bad := o.held(p.Steps)
				tried[fmt.Sprint(d.name, k)] += n
				if len(bad) > 0 {
					t.Errorf("%s, %s: not so that %s (%s): %s", d.dir, id, o.why, o.source, bad[0])
				}
				o.refuses(t, p.Steps)
			}
		}
	}
	for k, o := range masterly {
		for _, name := range strings.Fields(o.in) {
			if tried[fmt.Sprint(name, k)] == 0 {
				t.Errorf("%s: nowhere tried that %s", name, o.why)
			}
		}
	}
	if routes < 10 {
		t.Errorf("only %d routes", routes)
	}
}

// refuses exchanges the times of the first two steps that the order speaks of.
func (o inOrder) refuses(t *testing.T, steps []plan.Step) {
	t.Helper()
	i := slices.IndexFunc(steps, func(s plan.Step) bool { return o.early(&s) })
	j := slices.IndexFunc(steps, func(s plan.Step) bool {
		return o.late(&s) && i >= 0 && (!o.same || slices.Equal(s.For, steps[i].For))
	})
	if i < 0 || j < 0 || i == j || steps[i].From.IsZero() || steps[j].From.IsZero() {
		return
	}
	wrong := slices.Clone(steps)
	wrong[i].From, wrong[i].To, wrong[j].From, wrong[j].To = wrong[j].From, wrong[j].To, wrong[i].From, wrong[i].To
	if _, bad := o.held(wrong); len(bad) == 0 {
		t.Errorf("%s and %s exchanged: still so that %s", steps[i].Ref, steps[j].Ref, o.why)
	}
}
