package app

import (
	"strings"
	"testing"

	"fettle/internal/compare"
	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/format"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/plan"
)

// A corner that lies within the edge of another side is a T-joint: the edge is divided there, and
// the block is closed again, with the volume it has by hand.
func TestTJointOfAFileIsClosed(t *testing.T) {
	joint := block(10, 20, 30)
	joint.Points = append(joint.Points, geom.Vec{5, 0, 30})
	joint.Faces = append([][3]int32{{4, 8, 6}, {8, 5, 6}}, append(joint.Faces[:2:2], joint.Faces[3:]...)...)
	a := New(memory{"joint.ply": format.WritePLYFull(joint)}, "test")
	r, data, err := a.MendFile(t.Context(), "joint.ply", "mm", 0.01, "made.GLB")
	if err != nil || len(r.Joined) != 0 || len(r.Divided) != 1 || r.Divided[0].At != (geom.Vec{5, 0, 30}) || r.Divided[0].OffMM != 0 || r.Before.OpenEdges == 0 || r.After.OpenEdges != 0 || r.After.Triangles != 14 || r.VolumeMM3 == nil || !nearly(*r.VolumeMM3, 6000) {
		t.Fatalf("%+v, %v", r, err)
	}
	ends := r.Divided[0].Edge
	if ends[0].Dist(ends[1]) != 10 || ends[0][2] != 30 || ends[1][2] != 30 {
		t.Errorf("divided is the edge %v", ends)
	}
	if back, _, err := format.ReadMesh("made.glb", data, ""); err != nil || !back.Faults().Closed() || len(back.Faces) != 14 {
		t.Errorf("%v", err)
	}
	if got, err := a.MeshFile(t.Context(), "joint.ply", "mm"); err != nil || got.TJoints != 1 || got.Closed || got.VolumeMM3 != nil {
		t.Errorf("%+v, %v", got, err)
	}
	if got, err := a.TraceFile(t.Context(), "joint.ply", TraceOptions{Unit: "mm", Vertices: []int{0, 1}}); err != nil || !strings.Contains(strings.Join(codes(got.Notes), " "), format.NoteTJoints) {
		t.Errorf("%+v, %v", got.Notes, err)
	}
}

// A surface that crosses itself is told of, with the places; what lies on one another too.
func TestSelfContactOfAFile(t *testing.T) {
	cross := block(10, 20, 30)
	other := block(10, 20, 30)
	for i := range other.Points {
		other.Points[i] = other.Points[i].Add(geom.Vec{5, 5, 5})
	}
	for _, f := range other.Faces {
		cross.Faces = append(cross.Faces, [3]int32{f[0] + 8, f[1] + 8, f[2] + 8})
	}
	cross.Points = append(cross.Points, other.Points...)
	r, err := New(memory{"cross.ply": format.WritePLYFull(cross)}, "test").MeshFile(t.Context(), "cross.ply", "mm")
	if err != nil || r.Pieces != 2 || r.SelfContacts == 0 || len(r.ContactPlaces) != min(r.SelfContacts, contactsShown) || !strings.Contains(strings.Join(codes(r.Notes), " "), "mesh.self-contact") || r.ContactsLeftOut {
		t.Fatalf("%+v, %v", r, err)
	}
	for _, p := range r.ContactPlaces {
		for k, far := range []float64{10, 20, 30} { // within both blocks
			if p.At[k] < 5-1e-9 || p.At[k] > far+1e-9 {
				t.Errorf("%+v", p)
			}
		}
	}
}

// A figure is of a step that some route has, by its name in any letters or its identity and for its
// damage; of unplanned work that is on record; else the nearest name is told.
func TestStepOfAFigure(t *testing.T) {
	r := Assessment{}
	r.Compare.Routes = []compare.Route{{Plan: plan.Plan{Steps: []plan.Step{{Name: "Weld", Ref: "weld 1", For: []job.FindingID{"D1"}}}}}, {Plan: plan.Plan{Steps: []plan.Step{{Name: "Seal", Ref: "seal"}}}}}
	c := &Opened{Job: &job.State{Actuals: []job.Actual{{Step: "Sweep", Unplanned: "dirt"}, {Step: "Wax"}}}}
	for _, k := range []struct {
		step    string
		finding job.FindingID
		want    string
	}{
		{"weld", "", ""}, {"WELD", "D1", ""}, {"weld 1", "D9", ""}, {"Seal", "", ""}, {"sweep", "", ""},
		{"Weld", "D2", `no step of any route is called "Weld" and is for D2`},
		{"Seel", "", `no step of any route is called "Seel"; did you mean "Seal"?`},
		{"Wax", "", `no step of any route is called "Wax"; known: Weld, Seal`},
	} {
		told := ""
		(&App{}).unplacedStep(c, r, k.step, k.finding, func(f job.WorkFault) { told = f.Text + "; " + f.Hint })
		if !strings.HasPrefix(told, k.want) || (k.want == "") != (told == "") {
			t.Errorf("%q for %q: %s", k.step, k.finding, told)
		}
	}
}

// On a day before the rear end was repaired it is not released: that is told and blocks the week,
// and it has its sheets all the same, with every step that is left and its time.
func TestSheetsOfAWeek(t *testing.T) {
	a := New(files(), "test").WithBodies(&bodies)
	view, sheets, err := a.WeekSheets(t.Context(), []string{"./" + demo.RearJob}, demo.Day.AddDate(0, 0, -30))
	if err != nil || len(sheets) != 1 || !view.Blocked || len(view.Week.Steps) == 0 {
		t.Fatalf("%d sheets, blocked %v, %d steps, %v", len(sheets), view.Blocked, len(view.Week.Steps), err)
	}
	note := diag.Note{}
	for _, n := range view.Notes {
		if n.Code == "week.not-released" {
			note = n
		}
	}
	if note.Where != sheets[0].Job || note.Remedy == nil || strings.Join(note.Remedy.All("job"), " ") != demo.RearJob || note.Severity != diag.Caution {
		t.Errorf("%+v", note)
	}
	words := wordsOfPage(sheets[0].Page)
	for _, s := range view.Week.Steps {
		if !strings.Contains(words, s.Step) || !strings.Contains(words, s.From.Format("15:04")) {
			t.Errorf("%s at %v is on no sheet", s.Step, s.From)
		}
	}
}
