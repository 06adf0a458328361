package app

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/demo"
	"fettle/internal/job"
)

// A panel is torn of which the body does not know everything: every route that changes it waits, and the
// question names the finding, its kind, the part and just what is missing; likewise a part that no
// treatment puts right. Constructed.
func TestMissingOpeningDataAreAsked(t *testing.T) {
	a, c, made := demonstrated(t, demo.SoundJob)
	for _, k := range []struct {
		name string
		do   func(*body.Body)
		want []string
	}{
		{"minutes", func(b *body.Body) { partOf(b, "P-FENDER-L").Off = 0 }, []string{"P-FENDER-L", "the minutes it takes to come off"}},
		{"a joint", func(b *body.Body) {
			b.Joints = slices.DeleteFunc(b.Joints, func(j body.Joint) bool { return j.ID == "J-CLOSER-L" })
		}, []string{"P-CLOSER-L", "the joints that hold it"}},
		{"what closes it", func(b *body.Body) {
			for i := range b.Joints {
				if b.Joints[i].ID == "J-CLOSER-L" {
					b.Joints[i].Uses = nil
				}
			}
			for i := range b.Treatments {
				if b.Treatments[i].Kind == body.ReplacePart {
					b.Treatments[i].Steps = b.Treatments[i].Steps[:0]
				}
			}
		}, []string{"P-CLOSER-L", "what joint J-CLOSER-L is closed with"}},
		{"no cure", func(b *body.Body) { partOf(b, "P-CLOSER-L").Comes = body.Never }, []string{"do not put it right"}},
	} {
		fresh, b, s := *c, *c.Body, cloneJob(c.Job)
		b.Parts, b.Joints, b.Treatments = slices.Clone(b.Parts), slices.Clone(b.Joints), slices.Clone(b.Treatments)
		k.do(&b)
		s.Findings = append(s.Findings, job.Finding{ID: "X1", Kind: body.Torn, Part: "P-CLOSER-L", On: s.Opened, Seen: "visual"})
		fresh.Body, fresh.Job = &b, &s
		r := assessedOf(t, a, &fresh, made.Made)
		for _, x := range r.Compare.Routes {
			if x.Feasible && len(x.Plan.Removal) > 0 && !slices.Contains(x.Ask, "X1") {
				t.Errorf("%s: %s waits for %v", k.name, x.ID, x.Ask)
			}
		}
		q, err := a.Ask(t.Context(), &fresh, r, "X1")
		for _, w := range append(k.want, "X1", "torn", s.Vehicle.VIN) {
			if err != nil || !strings.Contains(q.Question.Text, w) {
				t.Errorf("%s: %v, the question does not say %q:\n%s", k.name, err, w, q.Question.Text)
			}
		}
	}
}

func partOf(b *body.Body, id body.PartID) *body.Part {
	return &b.Parts[slices.IndexFunc(b.Parts, func(p body.Part) bool { return p.ID == id })]
}
