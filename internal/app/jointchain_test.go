package app

import (
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/body"
	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// jointFiles is the vehicle of testdata/release with its left fender torn. The fender is of
// aluminium and bolted to steel; what testdata/joints says is done at its joint. All other joints isolate.
func jointFiles(t *testing.T, steps func(string) string) memory {
	t.Helper()
	m := damagedFiles(t, "fender")
	read := func(name string) string {
		text, err := os.ReadFile("testdata/" + name)
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	b := strings.ReplaceAll(read("release/body.yaml"), "\n    torque: ", "\n    isolates: yes\n    torque: ")
	b = strings.ReplaceAll(b, "\n    cures: ", "\n    isolates: yes\n    cures: ")
	b = strings.ReplaceAll(b, "    methods: [clip]\n", "    methods: [clip]\n    isolates: yes\n")
	at := "    layers: [P-FENDER-L, P-CELL]\n"
	head, tail, ok := strings.Cut(b, at)
	if !ok {
		t.Fatal("no joint of the fender")
	}
	b = head + at + steps(read("joints/fender.yaml")) + strings.Replace(tail, "    isolates: yes\n", "", 1)
	b = strings.Replace(b, "\nmaterials:\n", "\nmaterials:\n"+read("joints/more.yaml"), 1) + "\nkeep_apart:\n  - {of: [aluminium, steel], cite: Invented sheet 7}\n  - {of: [aluminium, zinc-coated steel], cite: Invented sheet 7}\n"
	parts := strings.Split(strings.TrimSpace(read("release/parts.csv")), "\n")
	metals := map[string]string{"id": "metal", "P-FENDER-L": "aluminium", "P-CELL": "steel"}
	for i, row := range parts {
		id, _, _ := strings.Cut(row, ",")
		parts[i] += "," + metals[id]
	}
	m["body/body.yaml"], m["body/parts.csv"], m["shop.yaml"] = []byte(b), []byte(strings.Join(parts, "\n")+"\n"), []byte(read("release/shop.yaml"))
	return m
}

func jointJob(t *testing.T, steps func(string) string) (*App, *Opened, Assessment) {
	t.Helper()
	a := New(jointFiles(t, steps), "test")
	c, err := a.Open(t.Context(), demo.SoundJob)
	if err != nil {
		t.Fatal(err)
	}
	return a, c, assessedOf(t, a, c, time.Date(2026, time.November, 26, 10, 0, 0, 0, time.UTC))
}

// TestJointStepsThroughTheChain: a fender that is changed has its flanges cleaned and sleeves set
// before it goes on, and its bolts sealed after. With the figures of testdata/joints: 6 + 11 x 1 + 9 + 1
// = 27 min at 78.00 an hour, 35.10, a pack of sleeves and one of sealer, 22.00. In the report and on the
// sheets; done as planned and with the width on record it may be handed back, without the figure, with one
// beyond its limit, without the step or its hold point not.
func TestJointStepsThroughTheChain(t *testing.T) {
	a, c, r := jointJob(t, func(s string) string { return s })
	_, _, bare := jointJob(t, func(string) string { return "    isolates: yes\n" })
	routes, without := takeable(r), takeable(bare)
	if len(routes) == 0 || len(without) == 0 {
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
	clean, sleeves, on, seal := find("joint J-FENDER-L/clean"), find("joint J-FENDER-L/sleeves"), find("on P-FENDER-L"), find("joint J-FENDER-L/heads")
	if clean.From.Before(find("off P-FENDER-L").To) || sleeves.From.Before(clean.To) || on.From.Before(sleeves.To) || seal.From.Before(on.To) || sleeves.Minutes != 11 {
		t.Errorf("clean %s, sleeves %s, on %s, sealed %s", clean.From, sleeves.From, on.From, seal.From)
	}
	for _, s := range route.Plan.Steps { // what had to be off before the fender
		covers := slices.ContainsFunc(route.Plan.Removal, func(x plan.Removal) bool { return x.Part == "P-FENDER-L" && slices.Contains(x.Needs, s.Part) })
		if covers && strings.HasPrefix(s.Ref, "on ") && s.From.Before(seal.To.Add(45*time.Minute)) {
			t.Errorf("%s begins %s, the sealer is dry 45 min after %s", s.Name, s.From, seal.To)
		}
	}
	if more := route.Bill.Net - without[0].Bill.Net; more != 3510+2200 {
		t.Errorf("it costs %d more, want 5710", more)
	}
	for _, n := range r.Notes {
		if strings.HasPrefix(n.Code, "plan.not-kept") || n.Code == "plan.metal-unknown" || n.Code == "plan.pairs-unknown" {
			t.Errorf("told: %v", n)
		}
	}
	document, err := a.Report(t.Context(), c, r, true)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Set isolating sleeves and washers: Left fender to upper rail and sill", "Seal the heads of the bolts", "Width of the sealer", "Isolating sleeve"} {
		if !strings.Contains(string(document), want) {
			t.Errorf("the report does not say %q", want)
		}
	}
	s, day := follow(t, c, r, route)
	if _, _, got := releasedAfter(a, c, s, day); !got.Ready() {
		t.Errorf("done as planned:\n%s", a.ReleaseText(got, Column{Width: 200}))
	}
	for name, change := range map[string]func(s *job.State){
		"width not written down": func(s *job.State) {
			s.Figures = slices.DeleteFunc(s.Figures, func(f job.Figure) bool { return f.Reading == "bead" })
		},
		"too narrow": func(s *job.State) {
			for i := range s.Figures {
				if s.Figures[i].Reading == "bead" {
					s.Figures[i].Value = unit.Amount{Value: 7.9, Unit: "mm"}
				}
			}
		},
		"no sleeves": func(s *job.State) {
			s.Actuals = slices.DeleteFunc(s.Actuals, func(x job.Actual) bool { return x.Step == sleeves.Name })
		},
		"hold point not passed": func(s *job.State) {
			s.Records = slices.DeleteFunc(s.Records, func(x job.Record) bool { return x.Show == body.ShowHold && x.Step == seal.Name })
		},
	} {
		x := cloneJob(&s)
		x.Figures, x.Actuals, x.Records = slices.Clone(s.Figures), slices.Clone(s.Actuals), slices.Clone(s.Records)
		if change(&x); len(x.Figures)+len(x.Actuals)+len(x.Records) == len(s.Figures)+len(s.Actuals)+len(s.Records) && name != "too narrow" {
			t.Errorf("%s: nothing was on record", name)
		}
		if _, _, got := releasedAfter(a, c, x, day); got.Ready() {
			t.Errorf("%s: it may be handed back", name)
		}
	}
}

// TestJointThatNothingIsolatesStops: the same vehicle without what isolates, or with bolts of which nobody
// knows what they are: it is told, and what was done all the same may not be handed back.
func TestJointThatNothingIsolatesStops(t *testing.T) {
	for code, steps := range map[string]func(string) string{
		"plan.not-kept-apart": func(s string) string { return strings.Replace(s, ", isolates: yes", "", 1) },
		"plan.metal-unknown": func(s string) string {
			return strings.Replace(strings.Replace(s, ", isolates: yes", "", 1), "    fastener_metal: zinc-coated steel\n", "", 1)
		},
	} {
		a, c, r := jointJob(t, steps)
		told := false
		for _, n := range r.Notes {
			told = told || n.Code == code && n.Blocks() && n.Where == "J-FENDER-L"
		}
		if !told {
			t.Errorf("%s is not told: %v", code, r.Notes)
		}
		if x := takeable(r); len(x) > 0 {
			t.Errorf("%s: %s waits for nothing", code, x[0].ID)
		}
		for _, route := range r.Compare.Routes {
			if route.ID == r.Compare.Best {
				s, day := follow(t, c, r, route)
				if _, _, got := releasedAfter(a, c, s, day); got.Ready() {
					t.Errorf("%s: it may be handed back", code)
				}
			}
		}
	}
}

// TestABodyThatNamesNoMetalSaysSoOnce: where neither pairs nor metals are in the body, an assessment whose routes close
// joints tells so once, whatever the routes close, and the report prints it; it blocks nothing.
func TestABodyThatNamesNoMetalSaysSoOnce(t *testing.T) {
	a, c, _ := openAssessed(t, files(), demo.RearJob)
	less := *c.Body
	less.Apart, less.Parts, less.Materials, less.Joints = nil, slices.Clone(less.Parts), slices.Clone(less.Materials), slices.Clone(less.Joints)
	for i := range less.Parts {
		less.Parts[i].Metal = ""
	}
	for i := range less.Materials {
		less.Materials[i].Metal = ""
	}
	for i := range less.Joints {
		less.Joints[i].FastenerMetal = ""
	}
	c.Body = &less
	r := assessedOf(t, a, c, demo.Day)
	const said = "neither what its parts and fasteners are made of"
	var told []diag.Note
	for _, n := range r.Notes {
		if strings.Contains(n.Text, said) {
			told = append(told, n)
		}
	}
	if len(told) != 1 || told[0].Blocks() || len(r.Compare.Routes) < 2 {
		t.Errorf("%d routes, told %+v", len(r.Compare.Routes), told)
	}
	page, err := a.Report(t.Context(), c, r, false)
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(page), said); n == 0 {
		t.Error("the report does not say it")
	}
}
