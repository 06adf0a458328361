package revise

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide/fixture"
	"fettle/internal/unit"
)

// ruled is the check procedure with levels, things to be shown, and a row of each sort.
func ruled() body.Procedure {
	p := fixture.Procedure()
	p.Levels = []body.Level{{ID: "1", Cite: "L1", Status: "memory", Ratio: 3, Linear: 2, NonLinear: 4}, {ID: "2", Cite: "L2", Status: "memory", Ratio: 3, Linear: 4, NonLinear: 6}}
	weld := []body.TreatmentKind{body.Weld}
	p.Acceptance = []body.Acceptance{{ID: "a", Cite: "A1", For: weld, Show: body.ShowPenetrant, Level: "2"}, {ID: "b", Cite: "A2", For: weld, Show: body.ShowVisual, Quality: "no undercut"}}
	p.Rows[1].Ask = "why"
	p.Rows[1].With.Text = "two passes"
	return p
}

// TestDifferencesInWords: every sort of difference between two revisions, each with its words, its
// direction and its place, there and back: what is milder one way is stricter the other. Source:
// the definition of a direction.
func TestDifferencesInWords(t *testing.T) {
	type p = body.Procedure
	for _, c := range []struct {
		name        string
		change      func(*p)
		there, back string
	}{
		{"identity", func(p *p) { p.ID = "OTHER" }, "changed  : these are two procedures: CHECK and OTHER", "changed  : these are two procedures: OTHER and CHECK"},
		{"casting", func(p *p) { p.Casting = "REAR" }, "changed  : for casting REAR in place of FRONT", "changed  : for casting FRONT in place of REAR"},
		{"effective", func(p *p) { p.Effective = fixture.Day(2030, 2, 2) }, "changed  : in effect from 2030-02-02 (revision B: from 2030-02-01)", "changed  : in effect from 2030-02-01 (revision B: from 2030-02-02)"},
		{"recheck", func(p *p) { p.Recheck = fixture.Day(2030, 9, 2) }, "changed  : to be looked up again before 2030-09-02 (revision B: before 2030-09-01)", "changed  : to be looked up again before 2030-09-01 (revision B: before 2030-09-02)"},
		{"tips", func(p *p) { p.TipVisual = 4 }, "stricter  : for each tip seen by eye only 4 mm is added to a crack in place of 3 mm", "milder  : for each tip seen by eye only 3 mm is added to a crack in place of 4 mm"},
		{"grouping", func(p *p) { p.GroupGap = 21 }, "stricter  : cracks nearer to each other than 21 mm count as one (revision B: 20 mm)", "milder  : cracks nearer to each other than 20 mm count as one (revision B: 21 mm)"},
		{"title", func(p *p) { p.Title = "x" }, "changed  : title: x in place of check procedure", "changed  : title: check procedure in place of x"},
		{"linear", func(p *p) { p.Levels[1].Linear = 5 }, "milder  L2: level 2 accepts linear indications up to 5 mm in place of 4 mm", "stricter  L2: level 2 accepts linear indications up to 4 mm in place of 5 mm"},
		{"non-linear", func(p *p) { p.Levels[1].NonLinear = 7 }, "milder  L2: level 2 accepts non-linear indications up to 7 mm in place of 6 mm", "stricter  L2: level 2 accepts non-linear indications up to 6 mm in place of 7 mm"},
		{"ratio", func(p *p) { p.Levels[1].Ratio = 2.5 }, "changed  L2: level 2 calls an indication linear over 2.5 times its width in place of 3", "changed  L2: level 2 calls an indication linear over 3 times its width in place of 2.5"},
		{"what counts", func(p *p) { p.Levels[1].CountsFrom = 1 }, "changed  L2: level 2, counts from: 1 mm in place of nothing", "changed  L2: level 2, counts from: nothing in place of 1 mm"},
		{"a level more", func(p *p) { p.Levels = append(p.Levels, body.Level{ID: "3", Cite: "L3"}) }, "changed  L3: new level 3", "changed  L3: level 3 is dropped"},
		{"levels turned", func(p *p) { slices.Reverse(p.Levels) }, "changed  : the levels stand in another order: 2, 1", "changed  : the levels stand in another order: 1, 2"},
		{"shown otherwise", func(p *p) { p.Acceptance[0].Level = "1" }, "changed  A1: before release penetrant inspection to level 1 after weld in place of penetrant inspection to level 2 after weld",
			"changed  A1: before release penetrant inspection to level 2 after weld in place of penetrant inspection to level 1 after weld"},
		{"shown in zones", func(p *p) { p.Acceptance[1].Zones = []body.ZoneID{"OPEN-1", "OPEN-2"} }, "changed  A2: before release visual inspection (no undercut) after weld in OPEN-1, OPEN-2 in place of visual inspection (no undercut) after weld",
			"changed  A2: before release visual inspection (no undercut) after weld in place of visual inspection (no undercut) after weld in OPEN-1, OPEN-2"},
		{"shown beside its words", func(p *p) { p.Acceptance[0].Quality = "x" }, "changed  A1: before release, a, quality: x in place of nothing", "changed  A1: before release, a, quality: nothing in place of x"},
		{"shown turned", func(p *p) { slices.Reverse(p.Acceptance) }, "changed  : what has to be shown stands in another order: b, a", "changed  : what has to be shown stands in another order: a, b"},
		{"torque shown", func(p *p) {
			p.Acceptance = append(p.Acceptance, body.Acceptance{ID: "c", Cite: "A3", For: []body.TreatmentKind{body.Weld, body.Dress}, Show: body.ShowTorque})
		}, "stricter  A3: before release also: the torque of each joint on record after weld, dress", "milder  A3: before release no longer: the torque of each joint on record after weld, dress"},
		{"adhesive shown", func(p *p) {
			p.Acceptance = append(p.Acceptance, body.Acceptance{ID: "c", Cite: "A3", For: []body.TreatmentKind{body.Weld}, Show: body.ShowAdhesive})
		}, "stricter  A3: before release also: the adhesive of each bond on record after weld", "milder  A3: before release no longer: the adhesive of each bond on record after weld"},
		{"points shown", func(p *p) {
			p.Acceptance = append(p.Acceptance, body.Acceptance{ID: "c", Cite: "A3", For: []body.TreatmentKind{body.Weld}, Show: body.ShowDimensions})
		}, "stricter  A3: before release also: the control points measured again after weld", "milder  A3: before release no longer: the control points measured again after weld"},
		{"something shown that nobody knows", func(p *p) {
			p.Acceptance = append(p.Acceptance, body.Acceptance{ID: "c", Cite: "A3", For: []body.TreatmentKind{body.Weld}, Show: "smell"})
		}, "stricter  A3: before release also: smell after weld", "milder  A3: before release no longer: smell after weld"},
		{"rows turned", func(p *p) { p.Rows[0], p.Rows[1] = p.Rows[1], p.Rows[0] }, "changed  : the rows stand in another order: plate, weld-open, desk, bore, bracket, section, casting", "changed  : the rows stand in another order: weld-open, plate, desk, bore, bracket, section, casting"},
		{"a row more", func(p *p) {
			p.Rows = append(p.Rows, body.Row{ID: "new", Cite: "CP 9", When: when{"length": "<= 5 mm"}, Allow: []body.TreatmentKind{body.Leave}, After: []body.After{{Method: "visual", When: "after a day"}}})
		}, "milder new CP 9: new row: when decision length <= 5 mm, it allows leave; afterwards: visual after a day", "stricter new CP 9: row dropped: when decision length <= 5 mm, it allowed leave"},
		{"a ban more", func(p *p) { p.Rows = append(p.Rows, forbids("new", when{}, body.Leave)) }, "stricter new : new row: when anything, it forbids leave", "milder new : row dropped: when anything, it forbade leave"},
		{"a question more", func(p *p) { p.Rows = append(p.Rows, body.Row{ID: "new", Ask: "why"}) }, "stricter new : new row: when anything, it asks the manufacturer: why", "milder new : row dropped: when anything, it asked the manufacturer: why"},
		{"both more", func(p *p) {
			p.Rows = append(p.Rows, body.Row{ID: "new", Allow: []body.TreatmentKind{body.Weld}, Forbid: []body.TreatmentKind{body.Leave}})
		}, "changed new : new row: when anything, it allows weld; forbids leave", "changed new : row dropped: when anything, it allowed weld; forbade leave"},
		{"nothing more", func(p *p) { p.Rows = append(p.Rows, body.Row{ID: "new"}) }, "changed new : new row: when anything, it says nothing about a treatment", "changed new : row dropped: when anything, it says nothing about a treatment"},
		{"a condition more", func(p *p) { p.Rows[0].When["through"] = "no" }, "stricter weld-open CP 1: through the wall now has to be no", "milder weld-open CP 1: through the wall no longer matters (it had to be no)"},
		{"a condition more of a ban", func(p *p) { p.Rows[3].When["through"] = "no" }, "milder bore CP 4: through the wall now has to be no", "stricter bore CP 4: through the wall no longer matters (it had to be no)"},
		{"a condition more of what does both", func(p *p) { p.Rows[1].When["through"] = "no" }, "changed plate CP 2: through the wall now has to be no", "changed plate CP 2: through the wall no longer matters (it had to be no)"},
		{"a condition spaced out", func(p *p) { p.Rows[0].When["length"] = " <   50 mm" }, "", ""},
		{"a condition cannot be read", func(p *p) { p.Rows[0].When["length"] = "short" }, "changed weld-open CP 1: decision length short in place of < 50 mm", "changed weld-open CP 1: decision length < 50 mm in place of short"},
		{"another limit, neither within", func(p *p) { p.Rows[0].When["length"] = "> 9 mm" }, "changed weld-open CP 1: decision length > 9 mm in place of < 50 mm", "changed weld-open CP 1: decision length < 50 mm in place of > 9 mm"},
		{"the same limit in other words", func(p *p) { p.Rows[0].When["length"] = "< 5 cm" }, "changed weld-open CP 1: decision length < 5 cm in place of < 50 mm", "changed weld-open CP 1: decision length < 50 mm in place of < 5 cm"},
		{"other zones", func(p *p) { p.Rows[0].When["zones"] = "only OPEN-1, GUARDED-1" }, "changed weld-open CP 1: zones now also names GUARDED-1 and no longer names OPEN-2 (only OPEN-1, GUARDED-1)", "changed weld-open CP 1: zones now also names OPEN-2 and no longer names GUARDED-1 (only OPEN-1, OPEN-2)"},
		{"zones turned", func(p *p) { p.Rows[0].When["zones"] = "only OPEN-2, OPEN-1" }, "changed weld-open CP 1: zones only OPEN-2, OPEN-1 in place of only OPEN-1, OPEN-2", "changed weld-open CP 1: zones only OPEN-1, OPEN-2 in place of only OPEN-2, OPEN-1"},
		{"another word of zones", func(p *p) { p.Rows[0].When["zones"] = "any of OPEN-1" }, "changed weld-open CP 1: zones any of OPEN-1 in place of only OPEN-1, OPEN-2", "changed weld-open CP 1: zones only OPEN-1, OPEN-2 in place of any of OPEN-1"},
		{"allows more", func(p *p) { p.Rows[0].Allow = append(p.Rows[0].Allow, body.Dress) }, "milder weld-open CP 1: now allows dress", "stricter weld-open CP 1: no longer allows dress"},
		{"forbids more", func(p *p) { p.Rows[3].Forbid = append(p.Rows[3].Forbid, body.Dress) }, "stricter bore CP 4: now forbids dress", "milder bore CP 4: no longer forbids dress"},
		{"asks", func(p *p) { p.Rows[0].Ask = "why" }, "stricter weld-open CP 1: now asks the manufacturer: why", "milder weld-open CP 1: no longer asks the manufacturer (why)"},
		{"asks otherwise", func(p *p) { p.Rows[1].Ask = "how" }, "changed plate CP 2: asks the manufacturer for another reason: how", "changed plate CP 2: asks the manufacturer for another reason: why"},
		{"inspected more", func(p *p) { p.Rows[0].After = append(p.Rows[0].After, body.After{Method: "visual"}) }, "stricter weld-open CP 1: afterwards also: visual", "milder weld-open CP 1: afterwards no longer: visual"},
		{"done with more", func(p *p) { p.Rows[0].With.Filler = "WIRE" }, "changed weld-open CP 1: now has to be done with: filler WIRE", "changed weld-open CP 1: no longer has to be done with: filler WIRE"},
		{"a remark", func(p *p) { p.Rows[0].Note = "x" }, "changed weld-open CP 1: note: x in place of nothing", "changed weld-open CP 1: note: nothing in place of x"},
		{"a test more", func(p *p) { p.Tests = append(p.Tests, body.RowTest{Name: "n"}, body.RowTest{Name: "m"}) }, "changed  : new tests inside it: n; m", "changed  : tests inside it dropped: n; m"},
		{"tests changed", func(p *p) { p.Tests[0].Expect.Ask, p.Tests[2].Expect.Ask = true, true }, "changed  : tests inside it changed: open, just under; open, far over", "changed  : tests inside it changed: open, just under; open, far over"},
		{"tests turned", func(p *p) { p.Tests[0], p.Tests[1] = p.Tests[1], p.Tests[0] }, "changed  : the tests inside it stand in another order", "changed  : the tests inside it stand in another order"},
		{"tests turned, one more", func(p *p) {
			p.Tests[0], p.Tests[1] = p.Tests[1], p.Tests[0]
			p.Tests = append(p.Tests, body.RowTest{Name: "n"})
		}, "changed  : new tests inside it: n", "changed  : tests inside it dropped: n"},
	} {
		old, fresh := ruled(), ruled()
		c.change(&fresh)
		for _, x := range []struct {
			a, b body.Procedure
			want string
		}{{old, fresh, c.there}, {fresh, old, c.back}} {
			var got []string
			for _, d := range Diff(x.a, x.b) {
				got = append(got, fmt.Sprintf("%s %s %s: %s", d.Way, d.Row, d.Cite, d.Text))
			}
			if strings.Join(got, "\n") != x.want {
				t.Errorf("%s:\n%s\nwant\n%s", c.name, strings.Join(got, "\n"), x.want)
			}
		}
	}
}

// TestFieldsInWords: the fields of two values that differ, each by its path: what is in both, what
// is in one alone, what stands in another order, and items that have the same words.
func TestFieldsInWords(t *testing.T) {
	type inner struct {
		ID   string              `doc:"id"`
		Cite string              `doc:"cite"`
		Most unit.Maybe[float64] `doc:"most"`
		Yes  bool                `doc:"is_so"`
		Own  int                 // of no document
		Off  string              `doc:"-"`
	}
	type outer struct {
		Name  string            `doc:"name,required"`
		Ref   *inner            `doc:"ref"`
		Items []inner           `doc:"items"`
		Words []string          `doc:"words"`
		By    map[string]string `doc:"by_word"`
		On    unit.Date         `doc:"on"`
	}
	i := func(id string, most float64) inner { return inner{ID: id, Most: unit.Some(most)} }
	for _, c := range []struct {
		name       string
		old, fresh outer
		worded     []string
		want       []string
	}{
		{"the same", outer{Name: "x"}, outer{Name: "x"}, nil, nil},
		{"a word", outer{Name: "x"}, outer{Name: "y"}, nil, []string{"name: y in place of x"}},
		{"a word that has words of its own", outer{Name: "x"}, outer{Name: "y"}, []string{"name"}, nil},
		{"a day", outer{}, outer{On: unit.Date{Year: 2030, Month: 1, Day: 2}}, nil, []string{"on: 2030-01-02 in place of nothing"}},
		{"in it", outer{Ref: &inner{ID: "a"}}, outer{Ref: &inner{ID: "b"}}, nil, []string{"ref, id: b in place of a"}},
		{"in it, with words of its own", outer{Ref: &inner{ID: "a"}}, outer{Ref: &inner{ID: "b"}}, []string{"ref, id"}, nil},
		{"it itself", outer{}, outer{Ref: &inner{ID: "b", Yes: true, Cite: "p 1", Own: 3, Off: "x"}}, nil, []string{"ref: id b, is so yes in place of nothing"}},
		{"it no more", outer{Ref: &inner{ID: "b", Most: unit.Some(2.5)}}, outer{}, nil, []string{"ref: nothing in place of id b, most 2.5"}},
		{"where it stands", outer{Ref: &inner{Cite: "p 1"}}, outer{Ref: &inner{Cite: "p 2"}}, nil, nil},
		{"what is in no document", outer{Ref: &inner{Own: 1, Off: "a"}}, outer{Ref: &inner{Own: 2, Off: "b"}}, nil, nil},
		{"yes and no", outer{Ref: &inner{Yes: true}}, outer{Ref: &inner{}}, nil, []string{"ref, is so: no in place of yes"}},
		{"unknown and nothing", outer{Ref: &inner{Most: unit.Some(0.0)}}, outer{Ref: &inner{}}, nil, []string{"ref, most: nothing in place of 0"}},
		{"in an item", outer{Items: []inner{i("a", 1), i("b", 1)}}, outer{Items: []inner{i("a", 1), i("b", 2)}}, nil, []string{"items, b, most: 2 in place of 1"}},
		{"an item more", outer{Items: []inner{i("a", 1)}}, outer{Items: []inner{i("b", 2), i("a", 1)}}, nil, []string{"items: now also id b, most 2"}},
		{"an item less", outer{Items: []inner{i("b", 2), i("a", 1)}}, outer{Items: []inner{i("a", 1)}}, nil, []string{"items: no longer id b, most 2"}},
		{"items turned", outer{Items: []inner{i("b", 2), i("a", 1)}}, outer{Items: []inner{i("a", 1), i("b", 2)}}, nil, []string{"items: in another order: a, b in place of b, a"}},
		{"words", outer{Words: []string{"x", "y"}}, outer{Words: []string{"y", "z"}}, nil, []string{"words: now also z", "words: no longer x"}},
		{"the same word again", outer{Words: []string{"x", "x", "x"}}, outer{Words: []string{"x"}}, nil, []string{"words: no longer x", "words: no longer x"}},
		{"the same item again", outer{Items: []inner{i("a", 1), i("a", 2)}}, outer{Items: []inner{i("a", 1), i("a", 3)}}, nil, []string{"items, a (2), most: 3 in place of 2"}},
		{"a third of the same", outer{Items: []inner{i("a", 1), i("a", 2), i("a", 3)}}, outer{Items: []inner{i("a", 1), i("a", 2), i("a", 4)}}, nil, []string{"items, a (3), most: 4 in place of 3"}},
		{"by word", outer{By: map[string]string{"b_c": "1", "a": "1", "d": "1"}}, outer{By: map[string]string{"b_c": "2", "a": "3", "e": "1"}}, nil,
			[]string{"by word, a: 3 in place of 1", "by word, b c: 2 in place of 1", "by word, d: nothing in place of 1", "by word, e: 1 in place of nothing"}},
		{"all by word", outer{}, outer{By: map[string]string{"e": "1"}}, nil, []string{"by word, e: 1 in place of nothing"}},
	} {
		if got := differences(c.old, c.fresh, c.worded); !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}
