package app

import (
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/demo"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// paintedFiles is the vehicle of testdata/release with its left fender dented, and with what
// testdata/paint says of painting put into its body, parts and shop.
func paintedFiles(t *testing.T) memory {
	t.Helper()
	m := damagedFiles(t, "fender")
	read := func(name string) string {
		text, err := os.ReadFile("testdata/" + name)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	put := func(text *string, at, more string) {
		if strings.Count(*text, at) != 1 {
			t.Fatalf("%q is not once there", at)
		}
		*text = strings.Replace(*text, at, at+more, 1)
	}
	parts := strings.Split(strings.TrimSpace(read("release/parts.csv")), "\n")
	areas := map[string]string{"id": "outer_area,inner_area", "P-FENDER-L": "0.74 m2,0.35 m2", "P-COWL": "0.5 m2,0 m2"}
	for i, row := range parts {
		id, _, _ := strings.Cut(row, ",")
		if areas[id] == "" {
			areas[id] = "0 m2,0 m2"
		}
		parts[i] += "," + areas[id]
	}
	parts = append(parts, "P-BATTERY,High-voltage battery,battery,9430.00 EUR,310 kg,mixed,yes,no,94 min,118 min,electric,6 d,4 d,13 d,,,,,0 m2,0 m2")
	b, s := read("release/body.yaml"), read("release/shop.yaml")
	put(&b, "\ntasks:\n", read("paint/tasks.yaml"))
	put(&b, "\nmaterials:\n", read("paint/materials.yaml"))
	b += read("paint/paint.yaml")
	put(&s, "\nrates:\n", "  - {skill: paint, name: Painting, per_hour: 90.00 EUR}\n")
	put(&s, "\npeople:\n", "  - {id: T4, skills: [paint]}\n")
	put(&s, "\nbays:\n", "  - {id: B9, kind: booth, name: Spray booth, in: 5 min, out: 5 min}\n")
	m["body/body.yaml"], m["body/parts.csv"], m["shop.yaml"] = []byte(b), []byte(strings.Join(parts, "\n")+"\n"), []byte(s)
	return m
}

// TestPaintThroughTheChain: a fender that is changed is primed inside, painted and baked with the
// figures of testdata/paint: 0.74 m2 outside, 0.35 m2 inside and 0.2 m2 of the cowl into which the
// colour runs out. Priced, in the report and on the day sheets; done as planned and with the
// thickness written down it may be handed back, and without it not.
func TestPaintThroughTheChain(t *testing.T) {
	a := New(paintedFiles(t), "test")
	c, err := a.Open(t.Context(), demo.SoundJob)
	if err != nil {
		t.Fatal(err)
	}
	r := assessedOf(t, a, c, time.Date(2026, time.November, 26, 10, 0, 0, 0, time.UTC))
	routes := takeable(r)
	if len(routes) == 0 {
		t.Fatalf("no route can be taken: %v", r.Compare.Routes)
	}
	route := routes[0]
	find := func(ref string) plan.Step {
		k := slices.IndexFunc(route.Plan.Steps, func(s plan.Step) bool { return s.Ref == ref })
		if k < 0 {
			t.Fatalf("no step %s in %s", ref, route.ID)
		}
		return route.Plan.Steps[k]
	}
	inside, colour, lacquer, fit := find("task K-INSIDE"), find("task K-COLOUR"), find("task K-LACQUER"), find("on P-FENDER-L")
	// 6 + 20 x 0.35; 30 x 0.74; 15 + 40 x 0.94 min
	for _, x := range []struct {
		s    plan.Step
		want float64
	}{{inside, 13}, {colour, 22.2}, {lacquer, 52.6}} {
		if d := x.s.Minutes - x.want; d > 1e-9 || d < -1e-9 {
			t.Errorf("%s takes %g min, want %g (%s)", x.s.Name, x.s.Minutes, x.want, x.s.Sum)
		}
	}
	if lacquer.Bake == nil || lacquer.WaitMin != 35 || fit.From.Before(lacquer.To.Add(35*time.Minute)) || colour.From.Before(inside.To) {
		t.Errorf("inside %s, colour %s, lacquer to %s, baked %v, fitted %s", inside.From, colour.From, lacquer.To, lacquer.Bake, fit.From)
	}
	labour, clear := unit.Minor(-1), unit.Minor(-1)
	for _, l := range route.Bill.Lines {
		switch l.ID {
		case "L-paint": // 13 + 22.2 + 52.6 + 10 x 0.2 (blend) = 89.8 min at 90.00 = 134.70
			labour = l.Sum
		case "M-M-CLEAR": // 0.94 m2 x 60 um / 40 % = 141 ml, with 50 % waste 211.5: one pack of 500
			clear = l.Sum
		}
	}
	if labour != 13470 || clear != 5200 {
		t.Errorf("paint work %d, clear coat %d, want 13470 and 5200: %+v", labour, clear, route.Bill.Lines)
	}
	document, err := a.Report(t.Context(), c, r, true)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Outside of Left fender 0.74 m2 and Cowl tray 0.2 m2 (let the colour run out).", "Dry at 60 C for 35 min", "Dry film thickness, Left fender"} {
		if !strings.Contains(string(document), want) {
			t.Errorf("the report does not say %q", want)
		}
	}
	s, day := follow(t, c, r, route)
	if _, _, got := releasedAfter(a, c, s, day); !got.Ready() {
		t.Errorf("done as planned:\n%s", a.ReleaseText(got, Column{Width: 200}))
	}
	thick := slices.IndexFunc(s.Figures, func(f job.Figure) bool { return f.Reading == "film-P-FENDER-L" })
	if thick < 0 {
		t.Fatal("no figure of the thickness is asked for")
	}
	none := cloneJob(&s)
	none.Figures = slices.Delete(slices.Clone(s.Figures), thick, thick+1)
	thin := cloneJob(&s)
	thin.Figures = slices.Clone(s.Figures)
	thin.Figures[thick].Value.Value = 79.9 // at least 80 um
	for name, x := range map[string]job.State{"not measured": none, "too thin": thin} {
		if _, _, got := releasedAfter(a, c, x, day); got.Ready() {
			t.Errorf("%s: it may be handed back", name)
		}
	}
}

// TestPaintWithoutAreasStops: the same vehicle, the fender's outside not known: no route may be taken.
func TestPaintWithoutAreasStops(t *testing.T) {
	m := paintedFiles(t)
	m["body/parts.csv"] = []byte(strings.Replace(string(m["body/parts.csv"]), "0.74 m2", "", 1))
	a := New(m, "test")
	c, err := a.Open(t.Context(), demo.SoundJob)
	if err != nil {
		t.Fatal(err)
	}
	if p, _ := c.Body.Part("P-FENDER-L"); p.Area(body.OuterSurface).Known {
		t.Fatal("the area is known")
	}
	r := assessedOf(t, a, c, time.Date(2026, time.November, 26, 10, 0, 0, 0, time.UTC))
	for _, x := range takeable(r) {
		if x.Bill.Complete {
			t.Errorf("%s has a whole price", x.ID)
		}
	}
}
