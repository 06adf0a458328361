package report

import (
	"fmt"
	"html/template"
	"sort"
	"strings"
	"time"

	"fettle/internal/picture"
	"fettle/internal/plan"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// daysPerChart is how many working days one chart shows.
const daysPerChart = 5

const (
	chartNames = 150.0
	rowHeight  = 46.0
)

// workday is a working day in a chart: its hours and where it is drawn.
type workday struct {
	from, to time.Time
	x0, x1   float64
}

// dayCharts draws who does what where on which day, five working days at a
// time. Nights and days off are narrow gaps, so that a wait can be seen to run
// through them.
func dayCharts(in Input, p plan.Plan) []template.HTML {
	days := workdays(in.Shop.Calendar, p)
	var out []template.HTML
	for i := 0; i < len(days); i += daysPerChart {
		chunk := layDays(days[i:min(i+daysPerChart, len(days))])
		out = append(out, template.HTML(dayChart(in, p, chunk, i/daysPerChart+1)))
	}
	return out
}

// workdays is every day of the plan on which the shop works, and any other day
// on which a step lies all the same.
func workdays(c shop.Calendar, p plan.Plan) []workday {
	var first, last time.Time
	busy := map[unit.Date]bool{}
	for _, s := range p.Steps {
		if s.From.IsZero() {
			continue
		}
		if first.IsZero() || s.From.Before(first) {
			first = s.From
		}
		if s.To.After(last) {
			last = s.To
		}
		busy[unit.DateOf(s.From)], busy[unit.DateOf(s.To)] = true, true
	}
	if first.IsZero() {
		return nil
	}
	var out []workday
	for d := unit.DateOf(first); !unit.DateOf(last).Before(d); d = d.AddDays(1) {
		if open(c, d) || busy[d] {
			out = append(out, hoursOf(c, d, first.Location()))
		}
	}
	return out
}

// open says that the shop works on a day.
func open(c shop.Calendar, d unit.Date) bool {
	for _, h := range c.Holidays {
		if h == d {
			return false
		}
	}
	name := strings.ToLower(d.Time().Weekday().String()[:3])
	for _, n := range c.Days {
		if strings.ToLower(n) == name {
			return true
		}
	}
	return false
}

func hoursOf(c shop.Calendar, d unit.Date, loc *time.Location) workday {
	return workday{from: clock(d, c.Start, "00:00", loc), to: clock(d, c.End, "23:59", loc)}
}

// clock is a time of day on a day; a text that is no time gives the other.
func clock(d unit.Date, s, other string, loc *time.Location) time.Time {
	t, err := time.Parse("15:04", s)
	if err != nil {
		t, _ = time.Parse("15:04", other)
	}
	return time.Date(d.Year, d.Month, d.Day, t.Hour(), t.Minute(), 0, 0, loc)
}

func layDays(days []workday) []workday {
	out := append([]workday(nil), days...)
	gaps := 0.0
	for i := 1; i < len(out); i++ {
		gaps += gapBefore(out, i)
	}
	w := min((chartWidth-chartNames-10-gaps)/daysPerChart, 205)
	x := chartNames
	for i := range out {
		x += gapBefore(out, i)
		out[i].x0, out[i].x1 = x, x+w
		x += w
	}
	return out
}

// gapBefore is the room for a night, or for the days off before a day.
func gapBefore(days []workday, i int) float64 {
	if i == 0 {
		return 0
	}
	off := int(days[i].from.Sub(days[i-1].to).Hours() / 24)
	return 14 + min(float64(off)*7, 40)
}

// place is where a time falls in the chart; before and after it, its edges.
func place(days []workday, t time.Time) float64 {
	last := days[0].x0
	var before time.Time
	for _, d := range days {
		switch {
		case t.Before(d.from):
			if before.IsZero() {
				return d.x0
			}
			return between(t, before, d.from, last, d.x0)
		case !t.After(d.to):
			return between(t, d.from, d.to, d.x0, d.x1)
		}
		before, last = d.to, d.x1
	}
	return last
}

func between(t, a, b time.Time, x0, x1 float64) float64 {
	if !b.After(a) {
		return x0
	}
	return x0 + float64((x1-x0)*(t.Sub(a).Seconds()/b.Sub(a).Seconds()))
}

// bar is one box of a chart.
type bar struct {
	text     string
	from, to time.Time
	phase    plan.Phase // of a step; a wait has none
	hold     bool
}

type chartRow struct {
	name string
	bars []bar
	wait bool
}

func dayChart(in Input, p plan.Plan, days []workday, n int) string {
	rows := chartRows(in, p, days[0].from, days[len(days)-1].to)
	h := 52.0
	for _, r := range rows {
		h += r.high()
	}
	d := picture.NewDrawing("gantt", fmt.Sprintf("Day chart %d", n), chartWidth, h)
	right := days[len(days)-1].x1
	for _, w := range days {
		d.Rect("open", w.x0, 40, w.x1-w.x0, h-46)
		d.Text("small", "middle", (w.x0+w.x1)/2, 16, w.from.Format("Mon 2 Jan"))
		d.Text("tiny", "start", w.x0, 35, w.from.Format("15:04"))
		d.Text("tiny", "end", w.x1, 35, w.to.Format("15:04"))
	}
	y := 44.0
	for _, r := range rows {
		d.Line("grid", 0, y-2, right, y-2)
		for k, l := range r.lines() {
			d.Text("name", "start", 2, y+18+float64(float64(k)*chartLine), l)
		}
		for _, b := range r.bars {
			drawBar(d, days, r, b, y)
		}
		y += r.high()
	}
	return d.Done()
}

// lines is the name of a row, whole.
func (r chartRow) lines() []string { return textLines(r.name, chartNames-8, chartLetters) }

// high is how high a row is: as its bars, or its name where that has many lines.
func (r chartRow) high() float64 {
	return max(rowHeight, float64(float64(len(r.lines()))*chartLine)+6)
}

func drawBar(d *picture.Drawing, days []workday, r chartRow, b bar, y float64) {
	x0, x1 := place(days, b.from), place(days, b.to)
	w := max(x1-x0, 2)
	mid := y + rowHeight/2 + 5
	if r.wait {
		d.Filled("wait", "url(#h-wait)", x0, y+6, w, rowHeight-14)
		if w > picture.TextWidth(b.text, chartLetters) {
			d.Text("tiny halo", "middle", x0+w/2, mid, b.text)
			d.Text("tiny", "middle", x0+w/2, mid, b.text)
		}
		return
	}
	d.Rect("bar "+string(b.phase), x0, y+1, w, rowHeight-5)
	cls := "tiny"
	if b.phase == plan.PhaseRepair {
		cls = "tiny light"
	}
	number := strings.TrimPrefix(b.text, "ST-")
	switch {
	case w >= picture.TextWidth(b.text, chartLetters)+2:
		d.Text(cls, "middle", x0+w/2, mid, b.text)
	case w >= picture.TextWidth(number, chartLetters)+2:
		d.Text(cls, "middle", x0+w/2, mid, number)
	case w >= chartLetters && picture.TextWidth(number, chartLetters) <= rowHeight-7:
		d.TextUp(cls, x0+w/2+6, y+rowHeight/2-1, number)
	}
	if b.hold {
		d.Poly("hold", true, [][2]float64{{x1, y - 3}, {x1 + 6, y + 3}, {x1, y + 9}, {x1 - 6, y + 3}})
	}
}

// chartRows is people, then bays, then waits, each only when it is used.
func chartRows(in Input, p plan.Plan, from, to time.Time) []chartRow {
	var out []chartRow
	add := func(name, prefix string, use func(plan.Step) bool) {
		r := chartRow{name: prefix + name}
		for _, s := range p.Steps {
			if use(s) && s.From.Before(to) && s.To.After(from) {
				r.bars = append(r.bars, bar{s.ID, s.From, s.To, s.Phase, s.Hold != ""})
			}
		}
		if len(r.bars) > 0 {
			out = append(out, r)
		}
	}
	for _, id := range people(in, p) {
		add(id, "", func(s plan.Step) bool { return s.Person == id })
	}
	for _, b := range in.Shop.Bays {
		add(b.Name, "", func(s plan.Step) bool { return s.BayID == b.ID })
	}
	waits := waitRows("wait", cureBars(p), from, to)
	return append(append(out, waits...), waitRows("delivery", deliveryBars(in, p), from, to)...)
}

// people is everybody who has a step, in the order of the shop, then others.
func people(in Input, p plan.Plan) []string {
	var out []string
	seen := map[string]bool{}
	add := func(id string) {
		if !seen[id] {
			seen[id] = true
			out = append(out, id)
		}
	}
	for _, q := range in.Shop.People {
		add(q.ID)
	}
	for _, s := range p.Steps {
		add(s.Person)
	}
	return out
}

// cureBars is the waits after steps.
func cureBars(p plan.Plan) []bar {
	var out []bar
	for _, s := range p.Steps {
		if s.WaitMin > 0 && !s.From.IsZero() {
			out = append(out, bar{text: or(s.WaitName, "wait") + " after " + s.ID, from: s.To, to: s.To.Add(time.Duration(unit.Whole(s.WaitMin*60)) * time.Second)})
		}
	}
	return out
}

// deliveryBars is the parts on their way, counted from the first step.
func deliveryBars(in Input, p plan.Plan) []bar {
	var out []bar
	var first time.Time
	for _, s := range p.Steps {
		if !s.From.IsZero() && (first.IsZero() || s.From.Before(first)) {
			first = s.From
		}
	}
	for _, l := range p.Lost {
		part, _ := in.Body.Part(l.Part)
		if s := in.Job.SupplyOf(string(l.Part), l.Quantity); s.Promised || !s.On.IsZero() {
			if to := latestDay(s.On, s.Expected); !to.IsZero() && !first.IsZero() && first.Before(to.Time()) {
				_, closes := in.Shop.Calendar.Hours()
				out = append(out, bar{text: l.Name, from: first, to: time.Date(to.Year, to.Month, to.Day, 0, int(closes), 0, 0, first.Location())})
			}
			continue
		}
		if part.Delivery.Value > 0 && !first.IsZero() {
			out = append(out, bar{text: l.Name, from: first, to: first.Add(time.Duration(unit.Whole(float64(part.Delivery.Value)*60)) * time.Second)})
		}
	}
	return out
}

// waitRows puts waits in as few rows as they need.
func waitRows(name string, all []bar, from, to time.Time) []chartRow {
	var waits []bar
	for _, w := range all {
		if w.from.Before(to) && w.to.After(from) {
			waits = append(waits, w)
		}
	}
	sort.SliceStable(waits, func(a, b int) bool { return waits[a].from.Before(waits[b].from) })
	var out []chartRow
	for _, w := range waits {
		done := false
		for i := range out {
			if b := out[i].bars; !w.from.Before(b[len(b)-1].to) {
				out[i].bars, done = append(b, w), true
				break
			}
		}
		if !done {
			out = append(out, chartRow{name: name, bars: []bar{w}, wait: true})
		}
	}
	return out
}

func chartLegend() []legendItem {
	var out []legendItem
	for _, p := range []plan.Phase{plan.PhasePrepare, plan.PhaseOpen, plan.PhaseRepair, plan.PhaseCheck, plan.PhaseClose, plan.PhaseFinish} {
		d := picture.NewDrawing("gantt key", phaseName(p), 34, 20)
		d.Rect("bar "+string(p), 1, 1, 32, 18)
		out = append(out, legendItem{template.HTML(d.Done()), phaseName(p)})
	}
	d := picture.NewDrawing("gantt key", "hold point", 20, 20)
	d.Poly("hold", true, [][2]float64{{10, 2}, {18, 10}, {10, 18}, {2, 10}})
	out = append(out, legendItem{template.HTML(d.Done()), "hold point: stop until it is inspected"})
	d = picture.NewDrawing("gantt key", "wait", 34, 20)
	d.Filled("wait", "url(#h-wait)", 1, 1, 32, 18)
	return append(out, legendItem{template.HTML(d.Done()), "wait, or parts on their way"})
}
