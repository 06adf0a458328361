package decide

import (
	"reflect"
	"slices"
	"testing"

	"fettle/internal/body"
)

// The whole list of what would change a verdict, nothing beside it. Expected by the rule: each is
// the least change of one fact with which a row allows the kind and none is in its way. At a
// standard uncertainty of 1 mm "< 50 mm" is met to 95 % from 50 - 1.645 mm down (normal
// distribution), 48.36 mm from 60.00 is 11.65 mm off; with 0.608 mm (k = 2: 1.2) it
// is met at 49 mm. What is still to be gained is rounded up, what may remain down.
func TestWholeListOfSuggestions(t *testing.T) {
	weld, desk := []body.TreatmentKind{body.Weld}, "an answer of the manufacturer"
	row := func(when map[string]string) body.Row { return body.Row{ID: "r", Cite: "c", When: when, Allow: weld} }
	type when = map[string]string
	for _, k := range []struct {
		name   string
		length float64
		rows   []body.Row
		change func(*world)
		want   []string
	}{
		{name: "allowed", length: 20, rows: []body.Row{row(when{"length": "< 50 mm"})}},
		{name: "too long", length: 60, rows: []body.Row{row(when{"length": "< 50 mm"})}, want: []string{"weld: 11.7 mm shorter at this uncertainty (decision length 60.0 ± 2.0 mm, limit 50 mm)", desk}},
		{name: "too uncertain", length: 49, rows: []body.Row{row(when{"length": "< 50 mm"})}, want: []string{"weld: 0.7 mm shorter at this uncertainty (decision length 49.0 ± 2.0 mm, limit 50 mm), or decision length uncertain by no more than ± 1.2 mm (k = 2)", desk}},
		{name: "too short", length: 20, rows: []body.Row{row(when{"length": "> 50 mm"})}, want: []string{"weld: 31.7 mm longer at this uncertainty (decision length 20.0 ± 2.0 mm, limit 50 mm)", desk}},
		{name: "of a kind that it is not", length: 20, rows: []body.Row{row(when{"kind": "bend"})}, want: []string{nothingSingle, desk}},
		{name: "two facts", length: 60, rows: []body.Row{row(when{"length": "< 50 mm", "bore_clearance": "> 80 mm"})}, want: []string{nothingSingle, desk}},
		{name: "one unknown", length: 20, rows: []body.Row{row(when{"depth": "< 2 mm"})}, want: []string{"weld: find out the depth; if < 2 mm, it is allowed (measure the depth)", desk}},
		{name: "too long and one unknown", length: 60, rows: []body.Row{row(when{"length": "< 50 mm", "depth": "< 2 mm"})}, want: []string{"weld: 11.7 mm shorter at this uncertainty (decision length 60.0 ± 2.0 mm, limit 50 mm), and find out the depth: it has to be < 2 mm (measure the depth)", desk}},
		{name: "forbidden by another row", length: 20, rows: []body.Row{row(when{"kind": "crack"}), {ID: "n", Cite: "c", When: when{"bore_clearance": "< 80 mm"}, Forbid: weld}}, want: []string{"weld: 21.7 mm more at this uncertainty (bore clearance 60.0 ± 2.0 mm, limit 80 mm)", desk}},
		{name: "forbidden whatever", length: 20, rows: []body.Row{row(when{"length": "< 10 mm"}), {ID: "n", Cite: "c", When: when{"kind": "crack"}, Forbid: weld}}, want: []string{nothingSingle, desk}},
		{name: "two rows", length: 60, rows: []body.Row{row(when{"length": "< 50 mm"}), row(when{"length": "< 40 mm"})}, want: []string{"weld: 11.7 mm shorter at this uncertainty (decision length 60.0 ± 2.0 mm, limit 50 mm)", desk}},
		{name: "forbidden by an answer", length: 60, rows: []body.Row{row(when{"length": "< 50 mm"})}, change: func(w *world) {
			a := answer()
			a.Allow, a.Forbid = nil, weld
			w.answers(a)
		}, want: []string{nothingSingle}},
		{name: "no procedure", length: 20, change: func(w *world) { w.in.Body.Procedures = nil }, want: []string{desk}},
		{name: "tips by eye", length: 52, rows: []body.Row{row(when{"length": "< 50 mm", "tips": "penetrant"})}, change: func(w *world) {
			w.in.Job.Findings[0].Tips = []body.TipMethod{"visual", "visual"}
			w.in.Inspect.Findings[0].TipAddMM = 6
		}, want: []string{"weld: penetrant at both tips (the allowance of 2 × 3 mm falls away)", desk}},
	} {
		w := newWorld()
		w.crack("F1", k.length, 1, "OPEN-1")
		w.in.Body.Procedures[0].Rows, w.in.Body.Procedures[0].Tests = k.rows, nil
		if k.change != nil {
			k.change(w)
		}
		r, _ := Run(w.in)
		if got := r.Findings[0].Change; !slices.Equal(got, k.want) {
			t.Errorf("%s:\n%q, want\n%q", k.name, got, k.want)
		}
	}
}

// What is missing says what it is: a fact by the vocabulary, the length by how it is measured, since
// what is said is that, and not the decision length.
func TestMissingFactsSayWhatTheyAre(t *testing.T) {
	q := Single{On: day(2030, 3, 1), Said: []Said{{Name: body.FactKind, Value: "crack"}}, Procedure: body.Procedure{ID: "P", Revision: "1", Effective: day(2030, 1, 1), Recheck: day(2031, 1, 1),
		Rows: []body.Row{{ID: "r", Cite: "c", When: map[string]string{"kind": "crack", "length": "< 50 mm", "depth": "< 2 mm"}, Allow: []body.TreatmentKind{body.Weld}}}}}
	r, err := q.Rule()
	if err != nil {
		t.Fatal(err)
	}
	weld := []body.TreatmentKind{body.Weld}
	want := []Missing{{body.FactDepth, "depth of the defect from the surface", weld}, {body.FactLength, "length along the surface, measured from tip to tip", weld}}
	if !reflect.DeepEqual(r.Missing, want) {
		t.Errorf("%+v, want %+v", r.Missing, want)
	}
}
