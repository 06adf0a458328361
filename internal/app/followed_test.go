package app

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/demo"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// damage is findings on the body of the demonstration, each with what may be done about
// it: a weld, a plate, a section, a surface that is dressed, a part that is changed.
var damage = map[string]string{
	"weld":   "{kind: crack, part: P-CASTING, trace_mm: [[330, -515, 350], [334, -515, 355.2], [337, -515, 361]], trace_std: 0.5 mm, tips: [penetrant, penetrant], inspection: PT1, through: no, seen: penetrant, by: T2, on: 2026-11-25",
	"plate":  "{kind: crack, part: P-CASTING, trace_mm: [[672, -515, 392], [683.5, -515, 397.6], [695, -515, 400.8], [704, -515, 404.1]], trace_std: 0.5 mm, tips: [penetrant, penetrant], inspection: PT1, through: no, seen: penetrant, by: T2, on: 2026-11-25",
	"nose":   "{kind: crack, part: P-CASTING, trace_mm: [[70, -560, 352], [79, -560, 358]], trace_std: 0.5 mm, tips: [penetrant, penetrant], inspection: PT1, through: no, seen: penetrant, by: T2, on: 2026-11-25",
	"dent":   "{kind: dent, part: P-CASTING, trace_mm: [[1034, 146, 443], [1034, 158, 447]], trace_std: 0.5 mm, depth: 0.5 mm, through: no, seen: visual, by: T1, on: 2026-11-25",
	"fender": "{kind: torn, part: P-FENDER-L, seen: visual, by: T1, on: 2026-11-25",
	"part":   "{kind: torn, part: P-LAMPBR-L, seen: visual, by: T1, on: 2026-11-25",
}

// damagedFiles is the files of it.
func damagedFiles(t *testing.T, kinds ...string) memory {

	t.Helper()
	m := scenario(t, "", "", "")
	text := "findings:\n"
	for i, k := range kinds {
		text += strings.Replace(damage[k], "{", fmt.Sprintf("  - {id: F%d, ", i+1), 1) + "}\n"
	}
	rows, err := os.ReadFile("testdata/release/after.csv")
	if err != nil {
		t.Fatal(err)
	}
	yaml := string(m[demo.SoundJob+"/job.yaml"]) + text
	yaml = strings.Replace(yaml, "\ninspections:", "\n  - {id: B, stage: after, device: Measuring arm M2, calibrated_until: 2027-05-31, std: 0.3 mm, temperature: 19 C, on: 2026-12-08, by: technician T1}\ninspections:", 1)
	m[demo.SoundJob+"/job.yaml"] = []byte(yaml)
	m[demo.SoundJob+"/readings.csv"] = append(slices.Clone(m[demo.SoundJob+"/readings.csv"]), rows...)
	return m
}

// damaged is the second vehicle of the demonstration with some of it.
func damaged(t *testing.T, kinds ...string) (*App, *Opened, Assessment) {
	t.Helper()
	m := damagedFiles(t, kinds...)
	a := New(m, "test").WithBodies(&bodies)
	c, err := a.Open(t.Context(), demo.SoundJob)
	if err != nil {
		t.Fatal(err)
	}
	return a, c, assessedOf(t, a, c, time.Date(2026, time.November, 26, 10, 0, 0, 0, time.UTC))
}

// follower writes down a job that does what a plan says, in its order, at its times.
type follower struct {
	t     *testing.T
	c     *Opened
	r     Assessment
	route compare.Route
	s     job.State
	last  unit.Date
}

// follow is the job of a route that was followed to its end.
func follow(t *testing.T, c *Opened, r Assessment, route compare.Route) (job.State, time.Time) {
	f := follower{t: t, c: c, r: r, route: route, s: cloneJob(c.Job)}
	decided := f.day(2026, 11, 26)
	f.s.Hazards = nil
	f.s.Choices = []job.Choice{{Route: route.ID, By: "P1", On: decided, Reason: "Chosen"}}
	f.s.Reviews = []job.Review{{By: "T3", On: f.day(2026, 11, 27)}}
	for _, i := range route.Items {
		for _, id := range i.Findings {
			f.s.Accepted = append(f.s.Accepted, job.Accepted{Finding: id, Kind: i.Kind, Line: i.Line, By: "P1", On: decided, Reason: "Chosen"})
		}
	}
	for _, step := range route.Plan.Steps {
		f.step(step)
	}
	for _, i := range route.Items {
		f.shown(i)
	}
	end := f.last.AddDays(7) // every adhesive has its full strength
	return f.s, time.Date(end.Year, end.Month, end.Day, 10, 0, 0, 0, time.UTC)
}

func (f *follower) day(y int, m time.Month, d int) unit.Date {
	return unit.Date{Year: y, Month: m, Day: d}
}

func firstOf(ids []job.FindingID) job.FindingID {
	if len(ids) == 0 {
		return ""
	}
	return ids[0]
}

// step puts one step on record with everything its card asks for.
func (f *follower) step(s plan.Step) {
	on, from := unit.DateOf(s.To), unit.DateOf(s.From)
	if f.last.Before(on) {
		f.last = on
	}
	if s.Phase == plan.PhaseOpen {
		return // shown by going back on
	}
	a := job.Actual{Step: s.Name, Finding: firstOf(s.For), Planned: unit.Minutes(s.Minutes), Minutes: unit.Minutes(s.Minutes), By: s.Person, On: on, Ended: s.To.Format("15:04")}
	if from == on {
		a.Began = s.From.Format("15:04")
	} else {
		going := a
		going.On, going.Began, going.Ended, going.Going, going.Left = from, s.From.Format("15:04"), "", true, 1
		f.s.Actuals = append(f.s.Actuals, going)
	}
	f.s.Actuals = append(f.s.Actuals, a)
	if s.Hold != "" {
		f.record(job.Record{Show: body.ShowHold, Step: s.Name, Finding: firstOf(s.For), Met: true, On: on})
	}
	for _, id := range s.Closes {
		j, _ := f.c.Body.Joint(id)
		if j.Torque > 0 {
			f.record(job.Record{Show: body.ShowTorque, Joint: id, Torque: j.Torque, On: on})
		}
		if j.Cures != "" {
			f.bond(job.Record{Joint: id, Material: j.Cures}, s)
		}
	}
	if len(s.Closes) == 0 && s.Phase == plan.PhaseRepair {
		for _, m := range s.Bonds {
			f.bond(job.Record{Finding: firstOf(s.For), Material: m}, s)
		}
	}
	for _, x := range s.Readings {
		f.figure(s, x)
	}
	task, ok := strings.CutPrefix(s.Ref, "task ")
	k, _ := f.c.Body.Task(body.TaskID(task))
	if ok && k.Step.Faults != "" {
		f.s.Faulty = append(f.s.Faulty, job.FaultReading{ID: fmt.Sprintf("FM-%d", len(f.s.Faulty)+1), Stage: k.Step.Faults, Systems: []string{"all"}, Device: "tester", By: s.Person, On: on, At: s.To.Format("15:04")})
	}
	if ok && k.Measures {
		f.s.Setups[1].On, f.s.Setups[1].At, f.s.Setups[1].By = from, s.From.Format("15:04"), s.Person
	}
}

func (f *follower) record(x job.Record) {
	x.ID, x.By = fmt.Sprintf("R-%d", len(f.s.Records)+1), "T1"
	if x.Show == body.ShowTorque || x.Show == body.ShowAdhesive {
		x.Device, x.Calibrated = "device", f.day(2028, 1, 1)
	}
	f.s.Records = append(f.s.Records, x)
}

func (f *follower) bond(x job.Record, s plan.Step) {
	x.Show, x.On, x.Batch, x.UseBefore = body.ShowAdhesive, unit.DateOf(s.To), "B-1", f.day(2027, 9, 1)
	x.Mixed, x.Closed, x.Temp = s.To.Add(-9*time.Minute).Format("15:04"), s.To.Format("15:04"), unit.Some(f.c.Shop.Temp)
	f.record(x)
}

// figure is a value in the middle of what is asked for.
func (f *follower) figure(s plan.Step, x body.Reading) {
	g := job.Figure{Step: s.Name, Finding: firstOf(s.For), Reading: x.ID, By: s.Person, On: unit.DateOf(s.From)}
	switch low, high := x.Low.Value, x.High.Value; {
	case x.Unit == body.TextUnit:
		g.Text, g.UseBefore = "B-1", f.day(2027, 9, 1)
	case strings.HasPrefix(x.ID, body.CureReading("")):
		g.Value = unit.Amount{Value: float64(f.c.Shop.Temp), Unit: x.Unit}
	case high == 0:
		g.Value = unit.Amount{Value: low + 1, Unit: x.Unit}
	default:
		g.Value = unit.Amount{Value: (low + high) / 2, Unit: x.Unit}
	}
	if g.Text == "" {
		g.Device, g.Calibrated = "device", f.day(2028, 1, 1)
	}
	f.s.Figures = append(f.s.Figures, g)
}

// shown is what the procedure asks for after a treatment.
func (f *follower) shown(i plan.Item) {
	for _, id := range i.Findings {
		on := f.day(2026, 11, 27)
		for _, s := range f.route.Plan.Steps {
			if s.Phase == plan.PhaseRepair && slices.Contains(s.For, id) {
				on = unit.DateOf(s.To)
			}
		}
		look := job.Inspection{ID: "L-" + string(id), Method: "penetrant", Medium: "colour contrast", Light: unit.Some(850.), Temp: unit.Some(19.), Dwell: unit.Some(20.), Development: unit.Some(15.),
			Device: "light meter", Calibrated: f.day(2028, 1, 1), By: "T2", On: on}
		f.s.Looks = append(f.s.Looks, look)
		for _, p := range f.c.Body.Procedures {
			if p.Revision != "D" {
				continue
			}
			f.record(job.Record{Show: body.ShowPenetrant, Finding: id, Look: look.ID, None: true, On: on})
			f.record(job.Record{Show: body.ShowVisual, Finding: id, Met: true, On: on})
			for _, row := range p.Rows {
				for _, a := range row.After {
					if a.What != "" && slices.Contains(row.Allow, i.Kind) {
						f.record(job.Record{Show: body.ShowVisual, Finding: id, What: a.What, Met: true, On: on})
					}
				}
			}
		}
	}
}

// takeable is the routes that wait for nothing and deal with every finding.
func takeable(r Assessment) []compare.Route {
	var out []compare.Route
	for _, x := range r.Compare.Routes {
		if x.Feasible && x.Excluded == "" && x.Open == 0 && len(x.Plan.Steps) > 0 && x.ID != "total-loss" {
			out = append(out, x)
		}
	}
	return out
}

// releasedAfter is what a release says of a job on a day, the plan made anew with
// everything on record.
func releasedAfter(a *App, c *Opened, s job.State, today time.Time) (*Opened, Assessment, Release) {
	fresh := *c
	fresh.Job = &s
	r := a.assess(nil, &fresh, today)
	return &fresh, r, a.Release(&fresh, r)
}

// TestAFollowedRouteIsReleased: whatever route may be taken, who does what its plan says,
// in its order and at its times, and writes down what its day sheets ask for, may hand the
// vehicle back; and who leaves out any of it may not. Seed 61 draws the damage, the
// warmth of the shop and its hours.
func TestAFollowedRouteIsReleased(t *testing.T) {
	rng := rand.New(rand.NewPCG(61, 61))
	sets := [][]string{{"weld", "plate", "dent", "part"}, {"nose", "part"}, {"plate", "weld"}}
	kinds, tried := map[body.TreatmentKind]int{}, 0
	for n, set := range sets {
		a, c, r := damaged(t, set...)
		if n > 0 {
			sh := *c.Shop
			sh.Temp = unit.Celsius(15 + rng.IntN(10))
			sh.Calendar.Start = fmt.Sprintf("0%d:%d0", 6+rng.IntN(2), rng.IntN(5))
			c.Shop = &sh
			r = assessedOf(t, a, c, r.Made)
		}
		routes := takeable(r)
		for _, route := range routes {
			s, day := follow(t, c, r, route)
			end, made, got := releasedAfter(a, c, s, day)
			if !got.Ready() {
				t.Errorf("%v by %s, done as planned:\n%s", set, route.ID, a.ReleaseText(got, Column{Width: 200}))
				continue
			}
			for _, i := range route.Items {
				kinds[i.Kind]++
			}
			tried += leaveOut(t, a, end, made, route.ID)
		}
		if len(routes) == 0 {
			t.Errorf("%v: no route can be taken", set)
		}
	}
	if tried < 500 {
		t.Errorf("only %d entries were left out", tried)
	}
	for _, k := range []body.TreatmentKind{body.Dress, body.Weld, body.WeldBacking, body.SectionOff, body.Exchange, body.ReplaceCasting} {
		if kinds[k] == 0 {
			t.Errorf("no route with %s was followed: %v", k, kinds)
		}
	}
}

// leaveOut leaves out one entry after the other and wants a refusal each time.
func leaveOut(t *testing.T, a *App, c *Opened, r Assessment, route string) int {
	t.Helper()
	tried := 0
	without := func(what string, do func(*job.State)) {
		tried++
		fresh, s := *c, cloneJob(c.Job)
		do(&s)
		fresh.Job = &s
		if a.Release(&fresh, r).Ready() {
			t.Errorf("%s without %s: nothing is missing", route, what)
		}
	}
	for _, x := range c.Job.Actuals {
		if strings.HasPrefix(x.Step, "Move ") { // where the vehicle was shows nothing of the repair
			continue
		}
		without("step "+x.Step, func(s *job.State) {
			s.Actuals = slices.DeleteFunc(s.Actuals, func(o job.Actual) bool { return o.Step == x.Step && o.Finding == x.Finding })
		})
	}
	for i, x := range c.Job.Records {
		if x.Show == body.ShowHold {
			without("the hold point of "+x.Step, func(s *job.State) { s.Records = slices.Delete(s.Records, i, i+1) })
		}
	}
	for i, x := range c.Job.Figures {
		if said := strings.HasPrefix(x.Reading, "torque-") || strings.HasPrefix(x.Reading, "open-") || x.Reading == "batch-M-ADHESIVE"; !said { // by a record too
			without("figure "+x.Reading+" at "+x.Step, func(s *job.State) { s.Figures = slices.Delete(s.Figures, i, i+1) })
		}
	}
	for i, x := range c.Job.Accepted {
		without("the acceptance of "+string(x.Finding), func(s *job.State) { s.Accepted = slices.Delete(s.Accepted, i, i+1) })
	}
	without("a choice", func(s *job.State) { s.Choices = nil })
	without("a review", func(s *job.State) { s.Reviews = nil })
	return tried
}
