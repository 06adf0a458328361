package app

import (
	"encoding/json"
	"html"
	"regexp"
	"slices"
	"strings"
	"testing"

	"fettle/internal/demo"
	"fettle/internal/explain"
	"fettle/internal/report"
)

// pageText is what a reader sees of a page: without the pictures, a line for each
// block and cell.
func pageText(page []byte) string {
	s := string(page)
	for _, cut := range []string{`(?s)<style.*?</style>`, `(?s)<svg.*?</svg>`} {
		s = regexp.MustCompile(cut).ReplaceAllString(s, "")
	}
	s = regexp.MustCompile(`<[^>]+>`).ReplaceAllString(s, "\n")
	s = strings.NewReplacer("\u00a0", " ", "\u2009", " ", "\u2212", "-").Replace(html.UnescapeString(s))
	return regexp.MustCompile(`\s*\n\s*`).ReplaceAllString(s, "\n")
}

// pictureNames are the names that stand in pictures.
func pictureNames(page []byte) []string {
	var out []string
	for _, m := range regexp.MustCompile(`<text[^>]*>([^<]*)</text>`).FindAllSubmatch(page, -1) {
		out = append(out, identities(html.UnescapeString(string(m[1])))...)
	}
	return out
}

// identity is what names of the trade look like: capitals with a number or a
// hyphen, and the lower-case words of bores, edges and routes.
var identity = regexp.MustCompile(`\b(?:[A-Z]+[0-9]+[A-Z]*|[A-Z]{1,6}(?:-[A-Z0-9]+)+(?:-[LR0-9]+)?|[a-z]+-[LR]-[a-z0-9]+|(?:section|new|total)-[A-Za-z][A-Za-z0-9-]*)\b`)

// notNames look like names and are none: units, citations of manuals and standards,
// words.
var notNames = []string{"T²", "A4", "DD", "MM", "UV-A", "EN", "ISO", "JCGM", "ST", "SHA-256", "P-P", "M-M", "ISO-3452", "BR-HV", "AD-7", "CO-2", "R-7", "RP-1228", "PT-2207", "Q-2", "M1", "G2", "total-loss", "ZZZBPVL4XTN000317"}

func identities(text string) []string {
	var out []string
	for _, s := range identity.FindAllString(text, -1) {
		if !slices.Contains(notNames, s) {
			out = append(out, s)
		}
	}
	return out
}

// printedOnce is what printed gives, for all tests of this process.
var printedOnce struct {
	pages map[string][]byte
	texts map[string]string
}

// printed is everything the demonstration's job prints: pages and commands.
func printed(t testing.TB) (pages map[string][]byte, texts map[string]string) {
	t.Helper()
	if printedOnce.pages == nil {
		a, c, r := demonstrated(t, demo.Job)
		printedOnce.pages, printedOnce.texts = printedOf(t, a, c, r, demo.Job, true)
		files, err := a.Ask(t.Context(), c, r, "D8")
		if err != nil {
			t.Fatal(err)
		}
		printedOnce.texts["question"] = files.Question.Text
	}
	return printedOnce.pages, printedOnce.texts
}

// printedOf is what a job prints; the report and the day sheets only where drawn is asked
// for.
func printedOf(t testing.TB, a *App, c *Opened, r Assessment, dir string, drawn bool) (pages map[string][]byte, texts map[string]string) {
	t.Helper()
	pages, texts = map[string][]byte{}, map[string]string{}
	route, err := a.Picked(c, r, "")
	if err != nil {
		t.Fatal(err)
	}
	if drawn {
		if pages["report"], err = a.Report(t.Context(), c, r, true); err != nil {
			t.Fatal(err)
		}
		if pages["sheets"], err = a.Sheets(t.Context(), c, r, route); err != nil {
			t.Fatal(err)
		}
	}
	sheet, err := a.OrderSheet(c, r, route).CSV()
	if err != nil {
		t.Fatal(err)
	}
	texts["summary"], texts["plan"], texts["routes"] = a.Summary(c, r, 80), a.PlanView(c, r, route).Text(plain), a.RoutesText(r, plain)
	texts["release"], texts["order"] = a.ReleaseText(a.Release(c, r), plain), strings.ReplaceAll(string(sheet), ",", "\n")
	texts["measure"] = report.MeasureText(c.Body.Points, c.Body.Sections, c.Body.Axes, r.Measure, 100)
	if pages["owner"], err = a.OwnerPage(t.Context(), c, r); err != nil {
		t.Fatal(err)
	}
	texts["record"] = a.EntriesText(c, a.OpenEntries(c, r), plain)
	week, err := a.Week(t.Context(), []string{dir}, r.Made)
	if err != nil {
		t.Fatal(err)
	}
	texts["week"] = week.Text(plain)
	for name, page := range pages {
		texts[name] = pageText(page)
	}
	return pages, texts
}

// TestEveryPrintedNameCanBeAsked reads the names off everything that is printed,
// and asks for each.
func TestEveryPrintedNameCanBeAsked(t *testing.T) {
	a, c, r := demonstrated(t, demo.Job)
	pages, texts := printed(t)
	askNames(t, namesFor(a, c, r), pages, texts, 300)
}

// askNames asks for every name on pages and in texts, of which there are at least so many.
func askNames(t *testing.T, n askable, pages map[string][]byte, texts map[string]string, least int) {
	t.Helper()
	asked := map[string]string{}
	for of, text := range texts {
		for _, name := range identities(text) {
			asked[name] = of
		}
	}
	for of, page := range pages {
		for _, name := range pictureNames(page) {
			asked[name] = of
		}
	}
	data, err := json.Marshal(n.r)
	if err != nil {
		t.Fatal(err)
	}
	var tree any
	if err := json.Unmarshal(data, &tree); err != nil {
		t.Fatal(err)
	}
	for _, name := range namesInJSON("", tree) {
		asked[name] = "assessment.json"
	}
	for _, name := range spokenNames(n.c, n.r) {
		asked[name] = "by its name"
	}
	if len(asked) < least {
		t.Fatalf("only %d names were found", len(asked))
	}
	for name, of := range asked {
		if len(n.Find(name)) == 0 {
			t.Errorf("%s prints %q; explain knows nothing of it", of, name)
		}
	}
}

// nameFields are the members of assessment.json whose value is a name.
var nameFields = []string{"id", "area", "zone", "line", "casting", "part", "finding", "row", "route", "step", "material", "setup", "person", "bayId", "inspection", "procedure", "task",
	"answer", "from", "steady", "moved", "missing", "findings", "steps", "critical", "after", "takes", "needs", "stay", "joints", "closes", "bonds", "equipment", "holdPoint", "waitName", "skill", "material", "rivet", "fact", "name", "code", "title", "best", "bore", "rows"}

func namesInJSON(field string, v any) []string {
	var out []string
	switch v := v.(type) {
	case map[string]any:
		for k, x := range v {
			if k == "with" && v["code"] != nil {
				continue // parameters of a sentence: what they name stands in it
			}
			out = append(out, namesInJSON(k, x)...)
		}
	case []any:
		for _, x := range v {
			out = append(out, namesInJSON(field, x)...)
		}
	case string:
		timed := regexp.MustCompile(`^[0-9]{4}-[0-9]{2}-[0-9]{2}`).MatchString(v) // "from" of a step is a time
		sentence := strings.Contains(v, " ") && slices.Contains([]string{"needs", "after", "from", "answer"}, field)
		if slices.Contains(nameFields, field) && v != "" && !timed && !sentence {
			out = append(out, v)
		}
	}
	return out
}

// spokenNames are the names in words that pages print in place of identities.
func spokenNames(c *Opened, r Assessment) []string {
	var out []string
	for _, p := range c.Body.Parts {
		out = append(out, p.Name)
	}
	for _, x := range c.Body.Castings {
		out = append(out, x.Name)
		for _, z := range x.Zones {
			out = append(out, z.Name)
		}
	}
	for _, j := range c.Body.Joints {
		out = append(out, j.Name)
	}
	for _, route := range r.Compare.Routes {
		out = append(out, route.Name)
		for _, s := range route.Plan.Steps {
			out = append(out, s.Name)
		}
		for _, l := range route.Bill.Lines {
			out = append(out, l.Text)
		}
		for _, l := range route.Bill.Loss {
			out = append(out, l.Name)
		}
	}
	if s := r.Compare.Spread; s != nil {
		for _, d := range s.Drivers {
			out = append(out, d.Title)
		}
		out = append(out, "1 in 10 below", "Turns out cheapest")
	}
	for _, s := range c.Job.Setups {
		out = append(out, s.Device)
	}
	for _, rd := range c.Job.Readings {
		if rd.To != "" {
			out = append(out, string(rd.Kind)+" "+string(rd.From)+"–"+string(rd.To)+" ("+rd.Setup+")")
		}
	}
	for _, p := range c.Shop.People {
		out = append(out, p.ID)
	}
	for _, h := range c.Job.Hazards {
		out = append(out, report.CautionTitle(h.Kind))
	}
	return append(out, "Bench", "length", "border clearance")
}

// figure is a printed number with its unit.
var printedFigure = regexp.MustCompile(`[-+]?[0-9][0-9,]*(?:\.[0-9]+)? ?(?:mm|EUR|%|min|h|ml|kg|km|°C|ppm|cm³|cm²|kJ/mm|Nm)(?:\b|$|[ .,;)])`)

// hasFigure says that asking for a figure gives something.
func hasFigure(n askable, what string) bool {
	asked := explain.FiguresIn(what)
	return slices.ContainsFunc(n.Reasoned(), func(t explain.ReasonedThing) bool {
		if !t.Numbers[asked[0][0]] {
			return false
		}
		_, ok := explain.WithFigures(t.Tree, asked, explain.NoUnit)
		return ok
	})
}

// TestEveryPrintedFigureCanBeAsked reads the figures with their units off the
// report and the commands, and asks for each.
func TestEveryPrintedFigureCanBeAsked(t *testing.T) {
	a, c, r := demonstrated(t, demo.Job)
	_, texts := printed(t)
	askFigures(t, namesFor(a, c, r), texts, 300)
}

// askFigures asks for every figure with a unit in texts, of which there are at least so many.
func askFigures(t *testing.T, n askable, texts map[string]string, least int) {
	t.Helper()
	asked := map[string]string{}
	for of, text := range texts {
		for _, f := range printedFigure.FindAllString(text, -1) {
			asked[strings.TrimRight(f, " .,;)")] = of
		}
	}
	if len(asked) < least {
		t.Fatalf("only %d figures were found", len(asked))
	}
	for f, of := range asked {
		if !hasFigure(n, f) {
			t.Errorf("%s prints %q; no reason has it", of, f)
		}
	}
}

// TestNoProbabilityIsPrintedAsSure: in nothing that is printed, on pages, by commands
// and in the reasons of everything, does a probability read as 0 or 100 %. A hundred
// percent that a person wrote stays.
func TestNoProbabilityIsPrintedAsSure(t *testing.T) {
	a, c, r := demonstrated(t, demo.Job)
	_, texts := printed(t)
	all := map[string]string{}
	for of, text := range texts {
		all[of] = text
	}
	for _, x := range namesFor(a, c, r).Reasoned() {
		all[x.Title()] = x.Tree.In(plain)
	}
	sure := regexp.MustCompile(`(?:^|[^0-9.,])(0(?:\.0+)?|100(?:\.0+)?) ?%`)
	for of, text := range all {
		for _, m := range sure.FindAllStringIndex(text, -1) {
			around := text[max(0, m[0]-60):min(len(text), m[1]+20)]
			if !strings.Contains(around, "print at") {
				t.Errorf("%s prints a probability as sure: %q", of, around)
			}
		}
	}
}

// TestOneWordForOnePoint: explain and the report say the same of every control
// point, in the same figures.
func TestOneWordForOnePoint(t *testing.T) {
	a, c, r := demonstrated(t, demo.Job)
	_, texts := printed(t)
	onePoint(t, namesFor(a, c, r), texts["report"])
}

func onePoint(t *testing.T, n askable, page string) {
	t.Helper()
	_, page, _ = strings.Cut(page, "Every control point")
	for _, p := range n.In.Body.Points {
		tree, err := n.Explain(string(p.ID))
		if err != nil {
			t.Fatal(err)
		}
		_, row, ok := strings.Cut(page, "\n"+string(p.ID)+"\n"+p.Name)
		row = row[:min(len(row), 400)]
		said := report.PointSays(n.In, p, n.In.Measure.Hypotheses[0])
		for _, word := range []string{said.Moved, said.Verdict, said.Probability, said.Shift, said.T2} {
			if !ok || !strings.Contains(row, word) || !strings.Contains(tree.In(plain), strings.Fields(word)[0]) {
				t.Errorf("%s: %q is not in both the report (%q) and explain (%q)", p.ID, word, row, tree.Text)
			}
		}
	}
}

// TestNamesThatMeanTwoThings: such a name gives both; with a kind before it, one.
func TestNamesThatMeanTwoThings(t *testing.T) {
	a, c, r := demonstrated(t, demo.Job)
	n := namesFor(a, c, r)
	for what, kinds := range map[string][]string{
		"W1": {"row", "row"}, "row K1": {"row", "row"}, "Front casting": {"price line", "part", "casting"}, "front casting": {"price line", "part", "casting"}, "casting front casting": {"casting"},
		"weld": {"route", "kind of treatment", "step of a treatment", "step of a treatment"}, "hold point ST-4": {"hold point"}, "section-LINE-2/ST-5": {"step"}, "zone RAIL-L": {"zone"}, "readings.csv:2": {"reading"}, "A F01L": {"reading"},
	} {
		var got []string
		for _, x := range n.Find(what) {
			got = append(got, string(x.Kind))
		}
		if !slices.Equal(got, kinds) {
			t.Errorf("%s means %v, want %v", what, got, kinds)
		}
	}
}

// TestAWrongNameIsTold: with the nearest name and what kinds there are.
func TestAWrongNameIsTold(t *testing.T) {
	a, c, r := demonstrated(t, demo.Job)
	_, err := a.Explain(c, r, "RAIL-X")
	for _, want := range []string{`did you mean "RAIL-`, "zone (NOSE)", "total-loss rule (share)", "hold point", "ROUTE/NAME"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v does not say %q", err, want)
		}
	}
	for _, none := range []string{"", " ", "/", "ST-1/", "±", "-", "987654.3 mm", "%", "new-casting/"} {
		if tree, err := a.Explain(c, r, none); err == nil {
			t.Errorf("%q gives %s", none, tree.Text)
		}
	}
}

// TestEveryThingLeadsToItsFile: what is asked for leads to a file and a line, or to a
// citation, unless it is made of the whole.
func TestEveryThingLeadsToItsFile(t *testing.T) {
	a, c, r := demonstrated(t, demo.Job)
	whole := []string{"seed", "group of cracks", "fact", "measurement", "note", "kind of treatment", "caution", "wait", "driver"}
	for _, x := range namesFor(a, c, r).Reasoned() {
		if !isPlaced(x.Tree) && !slices.Contains(whole, string(x.Kind)) {
			t.Errorf("%s leads to no file:\n%s", x.Title(), x.Tree.In(plain))
		}
	}
}

func isPlaced(r explain.Reason) bool {
	return regexp.MustCompile(`:[0-9]+$`).MatchString(r.At) || slices.ContainsFunc(r.Under, isPlaced)
}

// askable is everything that can be asked for, with what it was made from.
type askable struct {
	*explain.Names
	c *Opened
	r Assessment
}

func namesFor(a *App, c *Opened, r Assessment) askable { return askable{a.namesOf(c, r), c, r} }
