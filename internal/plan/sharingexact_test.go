package plan

import (
	"fmt"
	"testing"

	"fettle/internal/body"
	"fettle/internal/unit"
)

// sharedBy is the least cost of what a demand shares: by the things that are told, and by the
// search for an opening.
func sharedBy(w *Weigher, d Demand) (least, want int64) {
	least = -1
	for _, s := range w.Sharing(d) {
		if c := leastOf(s, s.Of(d)); least < 0 || c >= 0 && c < least {
			least = c
		}
	}
	want, _ = w.Shared(d)
	return least, want
}

// Where parts do not wait for one another in a circle, the things told cost as much as what
// they stand for: for every set of six items, with one-time parts, parts that two joints
// destroy, that are lost either way, and with ways of several parts (constructed).
func TestSharingIsExactOnTheTestBody(t *testing.T) {
	all := []Item{weldF1, weldF2, plateF2, swapF3, cutS1, newCast}
	for name, change := range map[string]func(b *body.Body){
		"as it is":               func(b *body.Body) {},
		"one-time and destroyed": func(b *body.Body) { b.Parts[1].OneTime = true },
		"destroyed twice": func(b *body.Body) {
			b.Joints = append(b.Joints, body.Joint{ID: "J5", Layers: []body.PartID{"skin", "seal"}, Destroys: []body.PartID{"skin", "bracket"}, Open: 7, Skill: "body"})
		},
		"steps at joints": func(b *body.Body) {
			b.Parts[1].OneTime = true
			for i := range b.Joints {
				b.Joints[i].Before = []body.Step{{ID: "clean", Skill: "alu", Fixed: 3}, {ID: "prime", Skill: "alu", Fixed: unit.Minutes(5 + i), NewPart: body.Yes}}
				b.Joints[i].After = []body.Step{{ID: "seal", Skill: "body", Fixed: 2, NewPart: body.Yes, Uses: []body.Use{{Material: "wire", Each: amount(0.1, "kg")}}}}
			}
			b.Joints = append(b.Joints, body.Joint{ID: "J5", Layers: []body.PartID{"skin", "seal"}, Destroys: []body.PartID{"seal", "bracket"}, Open: 7, Skill: "body", Before: []body.Step{{ID: "new", Skill: "mech", Fixed: 9, NewPart: body.Yes}}})
		},
		"two ways of two parts": func(b *body.Body) {
			b.Access[0].Needs = [][]body.PartID{{"bumper", "bracket"}, {"seal", "skin"}, {"bracket", "sill"}}
			b.Access = append(b.Access, body.Access{To: "Z2", Needs: [][]body.PartID{{"bumper", "bracket"}}})
		},
		"tasks of several parts": func(b *body.Body) {
			b.Tasks = append(b.Tasks, body.Task{ID: "more", When: "end", Needs: []body.TaskID{"aim"}, Step: body.Step{Skill: "mech", Fixed: 9, Uses: []body.Use{{Material: "wire", Each: amount(0.1, "kg")}}}})
			b.Triggers = append(b.Triggers, body.Trigger{Part: "seal", After: []body.TaskID{"more", "measure"}}, body.Trigger{Part: "bracket", Before: []body.TaskID{"bench", "more"}})
		},
	} {
		in := input()
		change(in.Body)
		w := NewWeigher(in)
		var ds []Demand
		for _, it := range all {
			ds = append(ds, w.Demand(it))
		}
		for mask := 1; mask < 1<<len(all); mask++ {
			var d Demand
			casting := mask>>5&1 == 1
			for k := range all {
				if mask>>k&1 == 1 {
					d = d.With(ds[k])
				}
			}
			if least, want := sharedBy(w, d); least != want && !casting || least > want || least < want/2 { // what lies over a casting waits for it in a circle
				t.Errorf("%s, items %b: %d, and opening costs %d", name, mask, least, want)
			}
		}
	}
}

// At most 64 tasks that parts bring are weighed; where there may be more, the things told leave
// all of them out, and never cost more than what is weighed.
func TestSharingOfMoreTasksThanAreWeighed(t *testing.T) {
	for _, n := range []int{1, 61, 62, 63, 64, 70} { // beside isolate and aim
		in := input()
		for k := range n {
			id := body.TaskID(fmt.Sprintf("t%02d", k))
			in.Body.Tasks = append(in.Body.Tasks, body.Task{ID: id, When: "end", Step: body.Step{Skill: "mech", Fixed: 5}})
			in.Body.Triggers = append(in.Body.Triggers, body.Trigger{Part: "bumper", After: []body.TaskID{id}})
		}
		w := NewWeigher(in)
		least, want := sharedBy(w, w.Demand(weldF1))
		if least > want || n+2 < 64 && least != want {
			t.Errorf("%d tasks: %d, and opening costs %d", n+2, least, want)
		}
	}
}
