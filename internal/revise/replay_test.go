package revise

import (
	"fmt"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/decide/fixture"
	"fettle/internal/job"
)

// Each difference between two revisions is told with its direction. Source: the
// definition; a row that allows gets milder when it applies more often, a row
// that forbids gets stricter.
func TestDiff(t *testing.T) {
	for _, tc := range []struct {
		name, want string
		way        Direction
		change     func(*body.Procedure)
	}{
		{"longer limit", "decision length < 60 mm in place of < 50 mm", Milder, func(p *body.Procedure) { p.Rows[0].When["length"] = "< 60 mm" }},
		{"shorter limit", "decision length < 40 mm in place of < 50 mm", Stricter, func(p *body.Procedure) { p.Rows[0].When["length"] = "< 40 mm" }},
		{"limit itself left out", "decision length < 30 mm in place of <= 30 mm", Stricter, func(p *body.Procedure) { p.Rows[1].When["length"] = "< 30 mm" }},
		{"limit of a ban", "bore clearance < 12 mm in place of < 8 mm", Stricter, func(p *body.Procedure) { p.Rows[3].When["bore_clearance"] = "< 12 mm" }},
		{"zone more", "zones now also names GUARDED-1", Milder, func(p *body.Procedure) { p.Rows[0].When["zones"] = "only OPEN-1, OPEN-2, GUARDED-1" }},
		{"zone less", "zones no longer names OPEN-2", Stricter, func(p *body.Procedure) { p.Rows[0].When["zones"] = "only OPEN-1" }},
		{"condition more", "through the wall now has to be no", Stricter, func(p *body.Procedure) { p.Rows[0].When["through"] = "no" }},
		{"condition less", "kind no longer matters", Milder, func(p *body.Procedure) { delete(p.Rows[0].When, "kind") }},
		{"treatment more", "now allows dress", Milder, func(p *body.Procedure) { p.Rows[0].Allow = append(p.Rows[0].Allow, body.Dress) }},
		{"treatment less", "no longer allows weld", Stricter, func(p *body.Procedure) { p.Rows[0].Allow = []body.TreatmentKind{body.WeldBacking} }},
		{"ask", "now asks the manufacturer: why", Stricter, func(p *body.Procedure) { p.Rows[3].Ask = "why" }},
		{"inspection more", "afterwards also: look: plate seen", Stricter, func(p *body.Procedure) {
			p.Rows[0].After = append(p.Rows[0].After, body.After{Method: "visual", What: "plate seen"})
		}},
		{"row dropped", "row dropped: when zones any of CRITICAL-1", Milder, func(p *body.Procedure) { p.Rows = append(p.Rows[:2:2], p.Rows[3:]...) }},
		{"row new", "new row: when decision length <= 5 mm, it allows leave", Milder, func(p *body.Procedure) {
			p.Rows = append(p.Rows, body.Row{ID: "new", When: map[string]string{"length": "<= 5 mm"}, Allow: []body.TreatmentKind{body.Leave}})
		}},
		{"tip allowance", "for each tip seen by eye only 2 mm is added", Milder, func(p *body.Procedure) { p.TipVisual = 2 }},
		{"grouping", "cracks nearer to each other than 30 mm count as one", Stricter, func(p *body.Procedure) { p.GroupGap = 30 }},
		{"acceptance", "before release also: the control points measured again", Stricter, func(p *body.Procedure) {
			p.Acceptance = []body.Acceptance{{ID: "a", For: []body.TreatmentKind{body.Weld}, Show: body.ShowDimensions}}
		}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			p := fixture.Procedure()
			tc.change(&p)
			got := Diff(fixture.Procedure(), p)
			if len(got) != 1 || got[0].Way != tc.way || !strings.Contains(got[0].Text, tc.want) {
				t.Errorf("got %+v, want %q, %s", got, tc.want, tc.way)
			}
		})
	}
	moved := fixture.Procedure()
	moved.Rows[0].Cite = "CP 99"
	if got := Diff(fixture.Procedure(), moved); len(got) != 0 {
		t.Errorf("a page that moved is told as a change: %+v", got)
	}
}

// Which findings two revisions decide differently, and in which direction.
// Source: constructed.
func TestTurnedBy(t *testing.T) {
	w := replayed()
	fixture.Crack(w.Job, &w.Inspect, "F1", 40, 1, "OPEN-1")
	fixture.Crack(w.Job, &w.Inspect, "F2", 20, 1, "GUARDED-1")
	fixture.Crack(w.Job, &w.Inspect, "F3", 20, 1, "OPEN-2")
	fresh := fixture.Procedure()
	fresh.Revision = "C"
	fresh.Rows[0].When["length"] = "< 30 mm"                                // F1 loses the weld
	fresh.Rows[1].Allow = []body.TreatmentKind{body.Weld, body.WeldBacking} // F2 wins it
	verdicts := func(p body.Procedure) []decide.FindingVerdict {
		in := w
		in.Body = Under(w.Body, p)
		return decide.NewReady(in.Body).Verdicts(in)
	}
	got := TurnedBy(verdicts(fixture.Procedure()), verdicts(fresh))
	if len(got) != 2 || got[0].Finding != "F1" || got[0].Way != Stricter || got[1].Finding != "F2" || got[1].Way != Milder {
		t.Fatalf("%+v", got)
	}
	if !strings.Contains(got[1].Text, "is now weld in place of weld with backing plate") {
		t.Errorf("%q", got[1].Text)
	}
	if again := TurnedBy(verdicts(fresh), verdicts(fresh)); len(again) != 0 {
		t.Errorf("nothing changed, and %+v", again)
	}
}

// BenchmarkReplay10000Jobs decides ten thousand jobs of nine findings each under
// two revisions; where the findings lie is known.
func BenchmarkReplay10000Jobs(b *testing.B) {
	w := replayed()
	for i := range 9 {
		fixture.Crack(w.Job, &w.Inspect, job.FindingID(fmt.Sprint("F", i)), 5+float64(6*i), 1, body.ZoneID(fixture.Zones[i%5]))
	}
	fresh := fixture.Procedure()
	fresh.Revision, fresh.Rows[0].When["length"] = "C", "< 30 mm"
	old, under := w, w
	old.Body, under.Body = Under(w.Body, fixture.Procedure()), Under(w.Body, fresh)
	before, after := decide.NewReady(old.Body), decide.NewReady(under.Body)
	for b.Loop() {
		for range 10000 {
			TurnedBy(before.Verdicts(old), after.Verdicts(under))
		}
	}
}

// replayed is a job without findings.
func replayed() decide.Input {
	w := decide.Input{Today: fixture.Day(2030, 3, 2)}
	w.Body, w.Job, w.Shop, w.Inspect = fixture.World()
	return w
}
