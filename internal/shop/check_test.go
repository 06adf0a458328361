package shop

import (
	"os"
	"path"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
)

// testBody is the test body of package body.
func testBody(t *testing.T) *body.Body {
	t.Helper()
	files := map[string][]byte{}
	for _, name := range []string{"body.yaml", "points.csv", "parts.csv", "procedures/tb-1.yaml", "block.ply"} {
		b, err := os.ReadFile(path.Join("../body/testdata/good", name))
		if err != nil {
			t.Fatal(err)
		}
		files[name] = b
	}
	b, err := body.Decode(files)
	if err != nil {
		t.Fatalf("\n%v", err)
	}
	return b
}

func TestCheckBody(t *testing.T) {
	for name, c := range map[string]struct{ old, by, want string }{
		"good":       {"", "", ""},
		"no rate":    {"skill: body, name: Body work", "skill: bodywork, name: Body work", `body.yaml:50:12: joints[0].skill: the shop has no rate for the skill "body"`},
		"nobody":     {"[body], may: [review, inspect]}\n  - {id: W2, skills: [body, weld]", "[weld]}\n  - {id: W2, skills: [weld]", `parts.csv:2: column skill: nobody in the shop has the skill "body"; add it to a person, or have the work done elsewhere`},
		"no bench":   {"kind: bench", "kind: yard", `body.yaml:62:10: joints[1].bay: the shop has no bay of the kind "bench"; known: yard`},
		"no people":  {"skills: [body]", "skills: [weld]", ""}, // W2 still has it
		"two moneys": {"currency: EUR", "currency: CHF", "body.yaml:8:11: currency: the body's prices are in EUR, the shop works in CHF"},
	} {
		t.Run(name, func(t *testing.T) {
			text := strings.Replace(string(goodFiles(t)["shop.yaml"]), c.old, c.by, 1)
			if name == "no rate" {
				text = strings.ReplaceAll(text, "[body", "[bodywork")
			}
			if name == "two moneys" {
				text = strings.ReplaceAll(text, ".00 EUR", ".00 CHF")
				text = strings.ReplaceAll(text, ".50 EUR", ".50 CHF")
			}
			s, err := Decode("shop.yaml", []byte(text))
			if err != nil {
				t.Fatal(err)
			}
			problems, notes := CheckBody(s, testBody(t))
			if (c.want == "") != (len(problems) == 0) || !strings.Contains(problems.Error(), c.want) {
				t.Errorf("got\n%s\nwant among them\n%s", problems.Error(), c.want)
			}
			if len(notes) != 0 {
				t.Errorf("notes %+v", notes)
			}
			inOrder := slices.Clone(problems)
			if inOrder.Sort(); !slices.Equal(problems, inOrder) {
				t.Errorf("out of the order of their files and lines:\n%s", problems.Error())
			}
		})
	}
}

func TestMissingEquipmentIsANote(t *testing.T) {
	text := strings.Replace(string(goodFiles(t)["shop.yaml"]), "equipment: [cold saw]\n", "", 1)
	text, _, _ = strings.Cut(text, "equipment_tests:")
	s, err := Decode("shop.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	problems, notes := CheckBody(s, testBody(t))
	if len(problems) != 0 || len(notes) != 1 {
		t.Fatalf("%v %+v", problems, notes)
	}
	if n := notes[0]; n.Severity != diag.Caution || n.Where != "cold saw" || !strings.Contains(n.Text, "Saw along the line") {
		t.Errorf("%+v", n)
	}
}

func TestEncodeReadsBack(t *testing.T) {
	s, err := Decode("shop.yaml", goodFiles(t)["shop.yaml"])
	if err != nil {
		t.Fatal(err)
	}
	text := Encode(s)
	again, err := Decode("shop.yaml", text)
	if err != nil || string(Encode(again)) != string(text) {
		t.Errorf("%v\n%s", err, text)
	}
	if r, ok := again.Rate("weld"); !ok || r.Hour.Minor != 9850 {
		t.Errorf("%+v", r)
	}
}

// A name of equipment or of a qualification in a row that the shop nearly has is a
// slip on either side; one that it has not at all is none.
func TestNearlyTheShopsNamesAreRefused(t *testing.T) {
	for _, c := range []struct {
		fact, text string
		refused    bool
	}{{"equipment", "includes cold-saw", false}, {"equipment", "includes cold-swa", true}, {"equipment", "includes laser-tracker", false},
		{"qualifications", "none of welder-castings", false}, {"qualifications", "none of welder-casting", true}, {"qualifications", "includes glider-pilot", false}} {
		s := &Shop{Equipment: []string{"cold saw"}, People: []Person{{ID: "W", Qualified: []Qualification{{For: "welder castings"}}}}}
		b := &body.Body{Procedures: []body.Procedure{{Rows: []body.Row{{ID: "R", When: map[string]string{c.fact: c.text}}}}}}
		problems, _ := CheckBody(s, b)
		if (len(problems) > 0) != c.refused {
			t.Errorf("%s %s: %v", c.fact, c.text, problems)
		}
	}
}

// Whatever of a body asks for a skill, a bay or equipment is held against the shop, each at its
// place and by itself; what the shop has, or has done by others, is none.
func TestEveryPlaceThatAsksOfTheShop(t *testing.T) {
	s := &Shop{
		Currency: "EUR", Equipment: []string{"saw"}, Bays: []Bay{{ID: "B1", Kind: "bench"}, {ID: "B2", Kind: "booth"}},
		Rates:  []Rate{{Skill: "weld"}, {Skill: "idle"}},
		People: []Person{{ID: "W", Skills: []body.SkillID{"weld"}}}, Sublets: []Sublet{{ID: "S", Skill: "radar"}},
	}
	asked := func(skill body.SkillID, bay body.BayKind, equipment ...string) *body.Body {
		step := func(name string) body.Step {
			return body.Step{Name: name, Skill: skill, Bay: bay, Equipment: equipment}
		}
		return &body.Body{
			Currency: "EUR", Parts: []body.Part{{Skill: "weld"}, {Skill: skill}}, Assemblies: []body.Assembly{{Skill: skill}}, Joints: []body.Joint{{Skill: skill, Bay: bay}, {Skill: "weld", Before: []body.Step{{Skill: "weld"}, step("prime")}, After: []body.Step{step("seal")}}},
			Treatments: []body.Treatment{{}, {Steps: []body.Step{{Skill: "weld"}, step("treat")}}}, Tasks: []body.Task{{Step: step("task")}},
		}
	}
	skills := []string{"assemblies[0].skill", "column skill", "joints[0].skill", "joints[1].after_closing[0].skill", "joints[1].before_closing[1].skill", "tasks[0].step.skill", "treatments[1].steps[1].skill"}
	bays := []string{"joints[0].bay", "joints[1].after_closing[0].bay", "joints[1].before_closing[1].bay", "tasks[0].step.bay", "treatments[1].steps[1].bay"}
	for _, c := range []struct {
		b     *body.Body
		at    []string
		msg   string
		notes []string
	}{
		{b: asked("weld", "bench", "saw")},
		{b: asked("weld", "")},
		{b: asked("radar", "booth", "saw")},
		{b: asked("plumb", "booth"), at: skills, msg: `the shop has no rate for the skill "plumb"`},
		{b: asked("idle", "booth"), at: skills, msg: `nobody in the shop has the skill "idle"`},
		{b: asked("weld", "pit"), at: bays, msg: `the shop has no bay of the kind "pit"`},
		{b: asked("weld", "bench", "vice", "saw", "lamp"), notes: []string{
			`lamp: The shop does not have "lamp"; the first step that needs it is "prime".`, `vice: The shop does not have "vice"; the first step that needs it is "prime".`}},
	} {
		problems, notes := CheckBody(s, c.b)
		var at, told []string
		for _, p := range problems {
			if at = append(at, p.Field); p.Msg != c.msg {
				t.Errorf("%s: %s, want %s", p.Field, p.Msg, c.msg)
			}
		}
		slices.Sort(at)
		for _, n := range notes {
			told = append(told, n.Where+": "+n.Text)
		}
		if !slices.Equal(at, c.at) || !slices.Equal(told, c.notes) {
			t.Errorf("faults at %q, notes %q; want %q, %q", at, told, c.at, c.notes)
		}
	}
}
