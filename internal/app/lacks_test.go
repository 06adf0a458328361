package app

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/revise"
	"fettle/internal/unit"
)

// TestWhatLacksIsUnknown: the demonstration's body lacks nothing that is known of a finding; nothing
// of it puts right what is torn in the cell, which cannot be changed. One thing after the other is taken
// away: what is then told as lacking, the assessment does not know of any finding on the casting,
// though it knew it of some before; what is not told is known as before.
func TestWhatLacksIsUnknown(t *testing.T) {
	_, c, before := demonstrated(t, demo.LookedJob)
	got := slices.DeleteFunc(revise.Lacks(c.Body, unit.DateOf(demo.Day)), func(n diag.Note) bool {
		return n.Where == "P-CELL" && strings.HasPrefix(n.Text, "without a treatment that puts right what is torn there:")
	})
	if len(got) > 0 {
		t.Fatalf("the demonstration lacks %v", got)
	}
	casting := c.Body.Castings[0].Part
	for name, x := range map[string]struct {
		take func(*body.Body)
		told []string
	}{
		"a place": {func(b *body.Body) { firstJoint(b, casting).Along = nil }, []string{body.FactJoint}},
		"bores":   {func(b *body.Body) { b.Castings[0].Bores = nil }, []string{body.FactBore}},
		"thermal": {func(b *body.Body) { b.Thermal = nil }, nil},
		"areas":   {func(b *body.Body) { b.Inspect = nil }, nil}, // the procedure finds its areas
	} {
		files := scenario(t, "", "", "")
		dir := beside(demo.LookedJob, c.Job.Body)
		b, err := body.Decode(under(files, dir))
		if err != nil {
			t.Fatal(err)
		}
		x.take(b)
		for file, data := range body.Encode(b) {
			if !strings.HasPrefix(file, body.ProceduresFolder) {
				files[dir+"/"+file] = data
			}
		}
		a := New(files, "test").WithBodies(&bodies)
		opened, err := a.Open(t.Context(), demo.LookedJob)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		after := assessedOf(t, a, opened, demo.Day)
		var lacking []string
		for _, d := range body.FactDefs() {
			in, _ := opened.Body.ProcedureFor(opened.Body.Castings[0].ID, unit.DateOf(demo.Day))
			if d.Lacks(opened.Body, opened.Body.Castings[0], in.Procedure) != "" {
				lacking = append(lacking, d.Name)
			}
		}
		if !slices.Equal(lacking, x.told) {
			t.Errorf("%s: told as lacking %v, want %v", name, lacking, x.told)
		}
		known := 0
		for i, f := range before.Decide.Findings {
			if g := opened.Job.Findings[i]; g.Part != casting {
				continue
			}
			for k, was := range f.Facts {
				is := after.Decide.Findings[i].Facts[k]
				switch told := slices.Contains(x.told, was.Name); {
				case was.Name != is.Name:
					t.Fatalf("%s: %s is not %s", name, was.Name, is.Name)
				case told && is.Known:
					t.Errorf("%s: %s of %s is told as not known, and is %s", name, is.Name, f.ID, is.Value)
				case !told && strings.Contains(is.From, "has not been inspected"): // a joint without a place has an area of its own, and can be looked at
				case !told && was.Known != is.Known:
					t.Errorf("%s: %s of %s was known %v, is %v: %s", name, is.Name, f.ID, was.Known, is.Known, is.From)
				case told && was.Known:
					known++
				}
			}
		}
		if len(x.told) > 0 && known == 0 {
			t.Errorf("%s: nobody knew it before", name)
		}
	}
}

func firstJoint(b *body.Body, part body.PartID) *body.Joint {
	i := slices.IndexFunc(b.Joints, func(j body.Joint) bool { return slices.Contains(j.Layers, part) })
	return &b.Joints[i]
}

// under is the files below a folder by their names in it.
func under(files memory, dir string) map[string][]byte {
	out := map[string][]byte{}
	for name, data := range files {
		if rest, ok := strings.CutPrefix(name, dir+"/"); ok {
			out[rest] = data
		}
	}
	return out
}
