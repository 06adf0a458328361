package plan

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/golden"
	"fettle/internal/unit"
)

// One step of work is done alike whether the body has it in a treatment or makes a task of it: as long,
// with the same wait, in one go, with the same records and materials, and the same is told of it.
func TestTaskIsDoneAsStepOfTreatment(t *testing.T) {
	glue := func(s *body.Step) { s.Uses = []body.Use{{Material: "glue", Each: amount(7, "ml")}} }
	seen := map[string]bool{}
	for name, change := range map[string]func(s *body.Step){
		"plain":          func(*body.Step) {},
		"bonds":          glue,
		"bonds too long": func(s *body.Step) { glue(s); s.Fixed = 200 },
		"bonds, one day": func(s *body.Step) { glue(s); s.OneDay = true },
		"bonds, waits":   func(s *body.Step) { glue(s); s.Wait = &body.Wait{Name: "rest", Elapsed: 3000} },
		"one day":        func(s *body.Step) { s.OneDay = true },
		"over night":     func(s *body.Step) { s.OneDay, s.Fixed = true, 700 },
		"waits":          func(s *body.Step) { s.Wait = &body.Wait{Name: "rest", Elapsed: 90} },
		"written down": func(s *body.Step) {
			s.Readings, s.Records = []body.Reading{{ID: "gap", Name: "Gap", Unit: "mm", High: amount(0.5, "mm")}}, []string{"batch"}
		},
		"in the air": func(s *body.Step) {
			s.Air = &body.Environment{Low: unit.Some[celsius](30), High: unit.Some[celsius](40), Humidity: 0.7, Cite: "page 4"}
		},
		"held":  func(s *body.Step) { s.HoldPoint, s.Second, s.Cautions = "no gap", true, []body.Caution{body.Dust} },
		"place": func(s *body.Step) { s.Bay, s.Equipment, s.Text = "bench", []string{"welder"}, "Slowly." },
		"uses":  func(s *body.Step) { s.Uses = []body.Use{{Material: "wire", Each: amount(0.1, "kg")}} },
	} {
		st := body.Step{ID: "x", Name: "The step", Skill: "alu", Fixed: 10}
		change(&st)
		in := input(weldF1)
		in.Body.Access, in.Body.Tasks, in.Body.Triggers = nil, nil, nil
		said := func(treatment body.Treatment, tasks ...body.Task) string {
			treatment.ID, treatment.Name, treatment.Kind = "weld", "weld", body.Weld
			in.Body.Treatments, in.Body.Tasks = []body.Treatment{treatment}, tasks
			p, notes := Build(in)
			s := step(t, p, "The step")
			seen[fmt.Sprint(s.Together != "", s.Window, s.WaitMin)] = true
			all := []any{s.Minutes, s.Skill, s.Bay, s.Equipment, s.Text, s.Cautions, s.Hold, s.Second, s.Bonds, s.Records, s.Readings, s.Notes, s.WaitName, s.WaitMin, s.Together != "", s.Window, s.To.Sub(s.From)}
			for _, u := range p.Takeoff {
				all = append(all, u.Material, u.Net, u.Gross, u.Packs)
			}
			var told []string
			for _, n := range notes {
				told = append(told, n.Code+": "+n.Text)
			}
			slices.Sort(told)
			out, err := json.Marshal(append(all, told))
			if err != nil {
				t.Fatal(err)
			}
			return string(out)
		}
		in.Body = golden.Copied(in.Body)
		as := said(body.Treatment{Steps: []body.Step{st}})
		task := said(body.Treatment{Requires: []body.TaskID{"k"}}, body.Task{ID: "k", When: "repair", Step: st})
		if as != task {
			t.Errorf("%s: as a step\n%s\nas a task\n%s", name, as, task)
		}
	}
	if len(seen) < 6 {
		t.Errorf("the steps differ too little: %v", seen)
	}
}
