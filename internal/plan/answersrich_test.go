package plan

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/golden"
	"fettle/internal/job"
	"fettle/internal/sched"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// richInput is a job in which nearly everything that a body, a shop and a job can say of a
// plan is said: moves, what does not roll, changes of tool, side and lift, an assembly, an
// order of refit, layouts with their bounds, heat, air, readings, hold points, second persons,
// bonds, deliveries that came, are promised or spoil, an answer that is waited for, absences.
func richInput() Input {
	weld, cut := weldF2, cutS1
	weld.Open, weld.Ask = true, true
	in := input(cut, weld, swapF3)
	b, sh, j := in.Body, in.Shop, in.Job
	for i, x := range []struct {
		tool, side, lift string
		mass             unit.Kilogram
	}{{"ratchet", "front", "down", 9}, {"cutter", "left", "half", 4}, {"ratchet", "right", "half", 2}, {"pliers", "front", "", 0.1}, {"", "", "up", 60}, {}, {"", "left", "", 12}} {
		p := &b.Parts[i]
		p.Tool, p.Side, p.Lift, p.Mass = x.tool, x.side, x.lift, x.mass
	}
	b.Parts[0].Rolls = body.No
	b.Parts[6].DeliveryLow, b.Parts[6].DeliveryHigh = 1440, 5*1440
	b.Parts = append(b.Parts, body.Part{ID: "lamp", Name: "lamp", BoltOn: true, Skill: "mech", Off: 3, On: 4, Price: eur(40000), Tool: "pliers", Mass: 3},
		body.Part{ID: "grille", Name: "grille", BoltOn: true, Skill: "body", Off: 2, On: 2, Price: eur(9000), Tool: "ratchet", Mass: 2})
	b.Assemblies = []body.Assembly{{ID: "front end", Name: "front end", Parts: []body.PartID{"lamp", "grille"}, Off: 3, On: 4, Skill: "mech", Tool: "ratchet", Side: "front", Lift: "half"}}
	b.Joints = append(b.Joints, body.Joint{ID: "J5", Name: "lamp bolts", Layers: []body.PartID{"lamp", "cast"}, Methods: []body.JoinMethod{"bolt"}, Open: 2, Refit: 3, Skill: "mech", Torque: 9},
		body.Joint{ID: "J6", Name: "grille clips", Layers: []body.PartID{"grille", "lamp"}, Methods: []body.JoinMethod{"clip"}, Open: 1, Refit: 1, Skill: "body", Hold: "second person: no gap", Second: true})
	b.Joints[1].GlueOpen, b.Joints[1].Hold, b.Joints[1].Readings = 20, "no squeeze-out", []body.Reading{{ID: "gap", Name: "Gap", Unit: "mm", High: amount(0.5, "mm")}}
	b.Access[2].Needs = [][]body.PartID{{"bumper", "lamp"}, {"skin", "lamp"}}
	b.Access = append(b.Access, body.Access{To: "lamp", Needs: [][]body.PartID{{"grille"}}}, body.Access{To: "Z2", Needs: [][]body.PartID{{"lamp", "grille"}, {"skin"}}})
	b.Refits = []body.Refit{{Part: "bumper", After: []body.PartID{"lamp"}}, {Part: "bracket", After: []body.PartID{"bumper"}}}
	b.Triggers = append(b.Triggers, body.Trigger{Part: "lamp", After: []body.TaskID{"aim"}})
	b.Bounds = []body.RivetBounds{{ID: "B", Cite: "table", Of: "hole", End: 2, Pitch: 4, Rows: 5}}
	glue, rivet := &b.Materials[0], &b.Materials[1]
	glue.Batch = true
	rivet.Diameter, rivet.Drill, rivet.GripLow, rivet.GripHigh, rivet.MaxPitch = 4.8, 5, 2, 6, 40
	s := b.Treatments[2].Steps
	l := s[2].Layout
	l.Rows, l.RowGap, l.EdgeOff, l.Stack, l.Bounds = 2, 16, 10, 4, ""
	s[0].Cautions, s[0].OneDay, s[0].NewPart = []body.Caution{body.Dust}, true, "yes"
	b.Treatments[2].Requires = append(b.Treatments[2].Requires, "isolate")
	w := b.Treatments[0].Steps
	w[0].HoldPoint, w[0].Second = "no crack left", true
	w[1].Heat = &body.Heat{Process: "131 MIG", Factor: 0.8, Voltage: amount(22, "V"), Current: amount(150, "A"), Speed: amount(10, "mm/s"), High: amount(0.3, "kJ/mm"), Cite: "EN 1011-1"}
	w[1].Air = &body.Environment{Low: unit.Some[celsius](10), High: unit.Some[celsius](30), Humidity: 0.7, Cite: "page 4"}
	w[1].Readings = []body.Reading{{ID: "runs", Name: "Runs", Unit: "1"}}
	b.Tasks = append(b.Tasks, body.Task{ID: "coat", When: "close", Needs: []body.TaskID{"measure"}, Step: body.Step{Name: "Coat", Skill: "alu", Fixed: 20, PerMetre: 30, Bay: "booth", Wait: &body.Wait{Name: "drying", Elapsed: 200}, Uses: []body.Use{{Material: "wire", PerArea: amount(2, "kg"), Width: 60}}}},
		body.Task{ID: "radar", When: "end", Follows: []body.TaskID{"aim"}, Step: body.Step{Name: "Calibrate", Skill: "radar", Fixed: 45}})
	b.Tasks[2].Measures = true
	b.Treatments[2].After = []body.TaskID{"coat", "measure", "radar"}
	sh.Bays = []shop.Bay{{ID: "b1", Kind: "bench", Name: "Bench", In: 11, Out: 7}, {ID: "b2", Kind: "booth", Name: "Booth", In: 5, Out: 3}, {ID: "b3", Kind: "bench", Name: "Second bench", In: 6, Out: 9}}
	sh.Moving = &shop.Moving{Skill: "mech", Carry: &shop.Carry{More: 9, Equipment: []string{"trolley"}}}
	sh.Equipment = append(sh.Equipment, "trolley", "welder")
	sh.Changes, sh.Humidity, sh.LiftLimit = &shop.Changes{Tool: 1, Side: 2, Lift: 3}, 0.5, 15
	sh.AnswerLow, sh.AnswerHigh = 2*1440, 9*1440
	sh.People[1].May, sh.People[0].May = []shop.Authority{shop.MayInspect}, []shop.Authority{shop.MayInspect}
	sh.People = append(sh.People, shop.Person{ID: "p3", Skills: []body.SkillID{"alu", "body"}})
	sh.Sublets = []shop.Sublet{{ID: "RADAR", Skill: "radar", Name: "Radar", Visit: eur(9000), Hour: eur(11000)}}
	sh.Absences = []shop.Absence{{Person: "p3", From: monday(3), To: monday(4), Reason: "away"}, {Bay: "b3", From: monday(0), To: monday(1)}}
	sh.Calendar.LastStart, sh.Calendar.Holidays = 10, []unit.Date{monday(2)}
	j.ID = "J"
	j.Deliveries = []job.Arrival{{ID: "D1", Item: "glue", Count: 1, On: monday(1), At: "10:00", By: "p1", UseBefore: monday(3)}, {ID: "D2", Item: "rivet", Count: 1, On: monday(1), By: "p1"}, {ID: "D3", Item: "bracket", Count: 1, On: monday(4), By: "p1"}}
	j.Promises = []job.Promised{{ID: "P1", Item: "glue", Count: 1, Expected: monday(8), On: monday(1), By: "p1"}, {ID: "P2", Item: "rivet", Count: 1, Expected: monday(6), On: monday(1), By: "p1"}}
	return in
}

// allOf is a plan, and what is reckoned beside it for comparing choices, whole and in short.
func allOf(in Input, dated bool) (text, figures string) {
	defer func() {
		if recover() != nil { // no document like this is read
			text, figures = "", "contradicts itself"
		}
	}()
	if dated {
		p, notes := Build(in)
		return summed(p, notes, p.Stills)
	}
	p, notes := Outline(in)
	near, all := Alternatives(in)
	w := NewWeigher(in)
	packed := w.Packed()
	weighed := []any{near, all, packed}
	var d Demand
	for i, it := range in.Choice.Items {
		d = d.With(w.Demand(it))
		bare, used := w.Bare(it, packed)
		weighed = append(weighed, bare, used, w.LeastDays(it), w.Work(it), w.NoWorse(it, in.Choice.Items[max(i-1, 0)]))
	}
	least, want := sharedBy(w, d)
	return summed(p, notes, append(weighed, least, want, w.Days(w.WorkOf(d))))
}

// summed is a plan, its notes and what is beside it, whole and in short.
func summed(p Plan, notes []note, more any) (text, figures string) {
	out, err := json.Marshal([]any{p, notes, more})
	if err != nil {
		return err.Error(), "no JSON"
	}
	return string(out), fmt.Sprintf("%d steps, %d off, %d lost, %s to %s, %.1f min of work, notes: %d, blocking: %s", len(p.Steps), len(p.Removal), len(p.Lost), p.Start, p.Finish, p.WorkMin, len(notes), blocking(notes))
}

// oneEach sets each number and yes or no of the first thing of each list to one, or yes, as
// EachField changes them: a limit of exactly one is another thing than none.
func oneEach(v reflect.Value, name string, tell func(name string)) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Field(i).CanSet() {
				oneEach(v.Field(i), name+"."+v.Type().Field(i).Name, tell)
			}
		}
	case reflect.Slice:
		if v.Len() > 0 {
			oneEach(v.Index(v.Len()-1), name, tell)
		}
	case reflect.Pointer:
		if !v.IsNil() {
			oneEach(v.Elem(), name, tell)
		}
	case reflect.Float64, reflect.Int, reflect.Int64:
		was := reflect.New(v.Type()).Elem()
		was.Set(v)
		v.Set(reflect.ValueOf(1).Convert(v.Type()))
		tell(name + " = 1")
		v.Set(was)
	}
}

// TestRichPlansStayAsTheyAre: as TestPlansStayAsTheyAre, for a job of which nearly everything
// is said, with what is weighed beside the plan; and with each number of the last of each list
// set to one.
func TestRichPlansStayAsTheyAre(t *testing.T) {
	var b strings.Builder
	in := richInput()
	in.Known = &sched.Known{}
	for _, of := range []any{in.Body, in.Shop, in.Job} {
		dated := of != any(in.Body)
		plain, figures := allOf(in, dated)
		fmt.Fprintf(&b, "plain, dates %t\t%s\t%.4x\n", dated, figures, sha256.Sum256([]byte(plain)))
		tell := func(name string) {
			if text, figures := allOf(in, dated); text != plain {
				fmt.Fprintf(&b, "%s\t%s\t%.4x\n", name, figures, sha256.Sum256([]byte(text)))
			}
		}
		v := reflect.ValueOf(of).Elem()
		golden.EachField(v, v.Type().String(), tell)
		oneEach(v, v.Type().String(), tell)
	}
	golden.Same(t, "testdata/rich.tsv", b.String())
}
