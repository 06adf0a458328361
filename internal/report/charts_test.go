package report

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/picture"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// number is an attribute of an element of a drawing.
func (e *drawn) number(t *testing.T, name string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(e.attr[name], 64)
	if err != nil {
		t.Fatalf("%s of %s: %v", name, e.class, err)
	}
	return v
}

// close says that two places of a drawing are the same to the tenth that drawings are written in.
func near(a, b float64) bool { return math.Abs(a-b) < 0.11 }

// TestMoneyChartShowsTheBillsSeed8: of whatever bills, the bars are as long as their money, all to
// one scale, each part behind the one before, with the sum behind the last; the value of the vehicle
// is a line at its place. Read from the drawing.
func TestMoneyChartShowsTheBillsSeed8(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 0))
	for range 30 {
		var routes, billed []compare.Route
		top := unit.Minor(rng.IntN(3) * 800000)
		value := top
		for k := range 1 + rng.IntN(4) {
			b := cost.Bill{Labour: unit.Minor(rng.IntN(500000)), Parts: unit.Minor(rng.IntN(500000)), Material: unit.Minor(rng.IntN(90000)), Sublet: unit.Minor(rng.IntN(2) * 70000), Storage: unit.Minor(rng.IntN(2) * 50000), Tax: unit.Minor(rng.IntN(200000))}
			if rng.IntN(4) == 0 {
				b = cost.Bill{}
			}
			b.Total = b.Labour + b.Parts + b.Material + b.Sublet + b.Storage + b.Tax
			r := compare.Route{Name: fmt.Sprintf("Route %d", k), Bill: b}
			if rng.IntN(2) == 0 {
				r.Name = fmt.Sprintf("Route %d with a name of two lines", k)
			}
			routes, top = append(routes, r), max(top, b.Total)
			if b.Total > 0 {
				billed = append(billed, r)
			}
		}
		svg := moneyChart(routes, value, "EUR")
		if len(billed) == 0 {
			if svg != "" {
				t.Fatal("a chart of no bill")
			}
			continue
		}
		page := readPage(t, svg)
		var bars []*drawn
		for _, e := range page.all("rect", "part") {
			if near(e.number(t, "height"), 30) {
				bars = append(bars, e)
			}
		}
		names, sums := page.all("text", "name"), textOf(page.all("text", "value"))
		scale := (1200 - 330 - 180) / float64(top)
		for i, r := range billed {
			x, y := 330.0, 34+50*float64(i)
			for k, m := range []unit.Minor{r.Bill.Labour, r.Bill.Parts, r.Bill.Material, r.Bill.Sublet, r.Bill.Storage, r.Bill.Tax} {
				b := bars[0]
				if bars = bars[1:]; !near(b.number(t, "x"), x) || !near(b.number(t, "y"), y) || !near(b.number(t, "width"), float64(m)*scale) || !strings.Contains(b.attr["fill"]+b.attr["style"], []string{"labour", "parts", "materials", "sublet", "storage", "tax"}[k]) {
					t.Fatalf("part %d of %+v lies at %v", k, r.Bill, b.attr)
				}
				x += float64(m) * scale
			}
			if want := strings.ReplaceAll(money(r.Bill.Total, "EUR"), thin, " "); strings.ReplaceAll(sums[i], thin, " ") != want {
				t.Errorf("the sum is %q, want %q", sums[i], want)
			}
			if end := page.all("text", "value")[i]; !near(end.number(t, "x"), x+8) || !near(end.number(t, "y"), y+22) {
				t.Errorf("the sum stands at %v, the bar ends at %.1f", end.attr, x)
			}
			names = nameBeside(t, names, r.Name, y+15)
		}
		if len(bars) > 0 || len(names) > 0 {
			t.Errorf("%d bars and %d names too many", len(bars), len(names))
		}
		limit := page.all("line", "limit")
		if (value > 0) != (len(limit) == 1) || value > 0 && !near(limit[0].number(t, "x1"), 330+float64(value)*scale) {
			t.Errorf("the value %d is drawn at %v", value, limit)
		}
	}
}

// nameBeside takes the name of a bar off the names of a chart: on one line at the middle of the bar, on
// two above and below it.
func nameBeside(t *testing.T, names []*drawn, name string, middle float64) []*drawn {
	t.Helper()
	at := []float64{middle + 7}
	if picture.BreakAt(name, 28) > 0 {
		at = []float64{middle - 3, middle + 17}
	}
	if len(names) < len(at) || strings.Join(textOf(names[:len(at)]), " ") != name {
		t.Fatalf("the name is %q, want %q", textOf(names), name)
	}
	for i, y := range at {
		if !near(names[i].number(t, "y"), y) || !near(names[i].number(t, "x"), 318) {
			t.Errorf("line %d of %q stands at %v, want %.1f", i, name, names[i].attr, y)
		}
	}
	return names[len(at):]
}

// TestDaysChartShowsTheDaysSeed9: the same of the working days, with a tick for each day between.
func TestDaysChartShowsTheDaysSeed9(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 0))
	for range 30 {
		var routes, worked []compare.Route
		for k := range rng.IntN(5) {
			r := compare.Route{Name: fmt.Sprintf("Route %d", k), Open: rng.IntN(3), Plan: plan.Plan{WorkDays: 1 + rng.IntN(9), Finish: d(4 + rng.IntN(20))}}
			if rng.IntN(3) > 0 {
				r.Plan.Steps = make([]plan.Step, 1)
				worked = append(worked, r)
			}
			routes = append(routes, r)
		}
		svg := daysChart(routes)
		if len(worked) == 0 {
			if svg != "" {
				t.Fatal("a chart of no days")
			}
			continue
		}
		var texts []string
		top, room := 1, 0.0
		for _, r := range worked {
			text := unit.Count(r.Plan.WorkDays, "working day") + ", until " + r.Plan.Finish.Time().Format("2 Jan 2006")
			if r.Open > 0 {
				text += fmt.Sprintf(", %d open", r.Open)
			}
			texts = append(texts, text)
			top, room = max(top, r.Plan.WorkDays), max(room, picture.TextWidth(text, 19)+8)
		}
		page := readPage(t, svg)
		bars, ticks, names, values := page.all("rect", "days"), page.all("line", "tick"), page.all("text", "name"), page.all("text", "value")
		scale := (1200 - 330 - room) / float64(top)
		if len(bars) != len(worked) || !slices.Equal(textOf(values), texts) {
			t.Fatalf("%d bars with %q, want %q", len(bars), textOf(values), texts)
		}
		for i, r := range worked {
			y, w := 8+44*float64(i), float64(r.Plan.WorkDays)*scale
			if b := bars[i]; !near(b.number(t, "x"), 330) || !near(b.number(t, "y"), y) || !near(b.number(t, "width"), w) || !near(b.number(t, "height"), 24) || !near(values[i].number(t, "x"), 338+w) || !near(values[i].number(t, "y"), y+20) {
				t.Fatalf("%d of %d days are drawn as %v, %v", r.Plan.WorkDays, top, b.attr, values[i].attr)
			}
			for k := 1; k < r.Plan.WorkDays; k++ {
				tick := ticks[0]
				if ticks = ticks[1:]; !near(tick.number(t, "x1"), 330+float64(k)*scale) || !near(tick.number(t, "x2"), tick.number(t, "x1")) || !near(tick.number(t, "y1"), y) || !near(tick.number(t, "y2"), y+24) {
					t.Fatalf("day %d is marked at %v", k, tick.attr)
				}
			}
			names = nameBeside(t, names, r.Name, y+12)
		}
		if len(ticks) > 0 || len(names) > 0 {
			t.Errorf("%d ticks and %d names too many", len(ticks), len(names))
		}
		if box := strings.Fields(page.inside[0].attr["viewBox"]); len(box) != 4 || box[3] != fmt.Sprint(44*len(worked)+12) {
			t.Errorf("the drawing is %v", box)
		}
	}
}

// TestPickedViewsByDefinitionSeed10: two views at least and three at most, each the one that adds most to
// what is seen already, the earlier of equals, a third one only where it adds a quarter of a mark; each
// mark is drawn in the first view, or in a later one that shows surely more of it. Reckoned anew by
// trying every view; shares are drawn from few numbers, so that many are equal.
func TestPickedViewsByDefinitionSeed10(t *testing.T) {
	rng := rand.New(rand.NewPCG(10, 0))
	for range 3000 {
		views, marks := 2+rng.IntN(5), rng.IntN(5)
		share := make([][]float64, views)
		for v := range share {
			for range marks {
				share[v] = append(share[v], []float64{0, 0.0625, 0.125, 0.25, 0.5, 0.75, 1}[rng.IntN(7)])
			}
		}
		best, from := make([]float64, marks), make([]int, marks)
		var want []int
		for n := range 3 {
			v, gain := -1, -1.0
			for k := range views {
				g := 0.0
				for m := range marks {
					g += max(0, share[k][m]-best[m])
				}
				if !slices.Contains(want, k) && g > gain {
					v, gain = k, g
				}
			}
			if v < 0 || n == 2 && gain < 0.25 {
				break
			}
			for m := range marks {
				if n == 0 || share[v][m] > best[m]+0.15 {
					best[m], from[m] = share[v][m], v
				}
			}
			want = append(want, v)
		}
		if got, of := pickViews(share, marks); !slices.Equal(got, want) || !slices.Equal(of, from) {
			t.Fatalf("of %v: views %v with marks in %v, want %v, %v", share, got, of, want, from)
		}
	}
}

// TestNamesInChartsAreWholeSeed21: of whatever names of routes, people and bays, a chart has every
// letter of each, no line is wider than its room, and no two lines lie on one another.
func TestNamesInChartsAreWholeSeed21(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 0))
	name := func() string {
		var words []string
		for range 1 + rng.IntN(12) {
			words = append(words, strings.Repeat(string("abcdefghiö"[rng.IntN(9)]), 1+rng.IntN(40)))
		}
		return strings.Join(words, " ")
	}
	for range 60 {
		in := fixture(t)
		in.Shop.Bays[0].Name = name()
		var routes []compare.Route
		for range 1 + rng.IntN(4) {
			r := in.Compare.Routes[0]
			r.Name, r.Bill.Total = name(), 100
			routes = append(routes, r)
		}
		var of []string
		for _, r := range routes {
			of = append(of, r.Name)
		}
		checkNames(t, moneyChart(routes, 0, "EUR"), nameWidth-12, of...)
		checkNames(t, daysChart(routes), nameWidth-12, of...)
		used := slices.ContainsFunc(routes[0].Plan.Steps, func(s plan.Step) bool { return s.BayID == in.Shop.Bays[0].ID })
		for _, svg := range dayCharts(in, routes[0].Plan) {
			if used {
				checkNames(t, string(svg), chartNames-8, in.Shop.Bays[0].Name)
			}
		}
	}
}

// checkNames reads the lines of names in a chart.
func checkNames(t *testing.T, svg string, room float64, names ...string) {
	t.Helper()
	lines := readPage(t, svg).all("text", "name")
	all, foot := "", math.Inf(-1)
	for _, l := range lines {
		text := textOf([]*drawn{l})[0]
		if w := picture.TextWidth(text, chartLetters); w > room {
			t.Errorf("%q is %.0f wide in a room of %.0f", text, w, room)
		}
		y := l.number(t, "y")
		if y-0.72*chartLetters < foot-0.11 {
			t.Errorf("%q begins at %.1f, the line above ends at %.1f", text, y-0.72*chartLetters, foot)
		}
		foot, all = y+0.22*chartLetters, all+text
	}
	for _, n := range names {
		if !strings.Contains(strings.ReplaceAll(all, " ", ""), strings.ReplaceAll(n, " ", "")) {
			t.Errorf("%q is not whole in %q", n, all)
		}
	}
}
