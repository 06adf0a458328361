package report

import (
	"fmt"
	"strings"

	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/picture"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// hatchDefs are the fills of charts, told apart without colour. They stand once
// in the document, before the first chart.
const hatchDefs = `<svg class="defs" width="0" height="0" aria-hidden="true"><defs>` +
	`<pattern id="h-labour" width="8" height="8" patternUnits="userSpaceOnUse"><rect width="8" height="8" fill="#fff"/><path d="M-2,2 l4,-4 M0,8 l8,-8 M6,10 l4,-4" stroke="#0a4652" stroke-width="1.6"/></pattern>` +
	`<pattern id="h-parts" width="8" height="8" patternUnits="userSpaceOnUse"><rect width="8" height="8" fill="#0a4652"/></pattern>` +
	`<pattern id="h-materials" width="7" height="7" patternUnits="userSpaceOnUse"><rect width="7" height="7" fill="#fff"/><circle cx="3.5" cy="3.5" r="1.4" fill="#0a4652"/></pattern>` +
	`<pattern id="h-sublet" width="8" height="8" patternUnits="userSpaceOnUse"><rect width="8" height="8" fill="#fff"/><path d="M0,4 h8 M4,0 v8" stroke="#0a4652" stroke-width="1.2"/></pattern>` +
	`<pattern id="h-storage" width="6" height="6" patternUnits="userSpaceOnUse"><rect width="6" height="6" fill="#fff"/><path d="M0,3 h6" stroke="#0a4652" stroke-width="1.4"/></pattern>` +
	`<pattern id="h-tax" width="8" height="8" patternUnits="userSpaceOnUse"><rect width="8" height="8" fill="#fff"/></pattern>` +
	`<pattern id="h-wait" width="9" height="9" patternUnits="userSpaceOnUse"><rect width="9" height="9" fill="#fff"/><path d="M0,0 l9,9 M-2,7 l4,4 M7,-2 l4,4" stroke="#777" stroke-width="1"/></pattern>` +
	`<pattern id="h-closed" width="5" height="5" patternUnits="userSpaceOnUse"><rect width="5" height="5" fill="#f1f1ee"/></pattern>` +
	`</defs></svg>`

const (
	chartWidth = 1200.0
	nameWidth  = 330.0
)

// billed is the routes that have a bill with money in it.
func billed(rs []compare.Route) []compare.Route {
	var out []compare.Route
	for _, r := range rs {
		if r.Bill.Total > 0 {
			out = append(out, r)
		}
	}
	return out
}

// moneyChart is a bar of money for each route, split by kind, with the value
// of the vehicle as a line.
func moneyChart(routes []compare.Route, value unit.Minor, currency string) string {
	rs := billed(routes)
	if len(rs) == 0 {
		return ""
	}
	top := value
	for _, r := range rs {
		top = max(top, r.Bill.Total)
	}
	const bar, gap = 30.0, 20.0
	names, tops, foot := nameRows(rs, 34, bar+gap)
	h := foot + 66
	d := picture.NewDrawing("chart", "Money of each route, split into labour, parts, materials, storage and tax", chartWidth, h)
	scale := (chartWidth - nameWidth - 180) / float64(top)
	for i, r := range rs {
		y := tops[i]
		routeName(d, names[i], y+bar/2)
		x := nameWidth
		for _, part := range billParts(r) {
			w := float64(float64(part.sum) * scale)
			d.Filled("part", "url(#h-"+string(part.kind)+")", x, y, w, bar)
			x += w
		}
		d.Text("value", "start", x+8, y+22, money(r.Bill.Total, currency))
	}
	if value > 0 {
		x := nameWidth + float64(float64(value)*scale)
		d.Line("limit", x, 22, x, h-62)
		d.Text("small", "middle", min(x, chartWidth-150), 16, "value of the vehicle "+money(value, currency))
	}
	chartKey(d, h-34)
	return d.Done()
}

type billPart struct {
	kind shop.AmountKind
	sum  unit.Minor
}

func billParts(r compare.Route) []billPart {
	b := r.Bill
	return []billPart{{cost.LineLabour, b.Labour}, {cost.LineParts, b.Parts}, {cost.LineMaterials, b.Material}, {cost.LineSublet, b.Sublet}, {cost.LineStorage, b.Storage}, {cost.LineTax, b.Tax}}
}

func chartKey(d *picture.Drawing, y float64) {
	x := nameWidth
	for _, k := range billKinds {
		d.Filled("part", "url(#h-"+string(k.kind)+")", x, y, 34, 20)
		d.Text("small", "start", x+42, y+16, k.name)
		x += 62 + picture.TextWidth(k.name, 19)
	}
}

// daysChart is a bar of working days for each route that has steps.
func daysChart(routes []compare.Route) string {
	var rs []compare.Route
	var texts []string
	top, room := 1, 0.0 // room: of the longest text, right of the bars
	for _, r := range routes {
		if len(r.Plan.Steps) == 0 {
			continue
		}
		text := daysWords(r.Plan)
		if !r.Plan.Finish.IsZero() {
			text += ", until " + r.Plan.Finish.Time().Format("2 Jan 2006")
		}
		if r.Open > 0 {
			text += fmt.Sprintf(", %d open", r.Open)
		}
		rs, texts = append(rs, r), append(texts, text)
		top, room = max(top, r.Plan.WorkDays), max(room, picture.TextWidth(text, 19)+8)
	}
	if len(rs) == 0 {
		return ""
	}
	const bar, gap = 24.0, 20.0
	names, tops, foot := nameRows(rs, 8, bar+gap)
	d := picture.NewDrawing("chart", "Working days of each route", chartWidth, foot+4)
	scale := (chartWidth - nameWidth - room) / float64(top)
	for i, r := range rs {
		y := tops[i]
		routeName(d, names[i], y+bar/2)
		w := float64(float64(r.Plan.WorkDays) * scale)
		d.Rect("days", nameWidth, y, w, bar)
		for k := 1; k < r.Plan.WorkDays; k++ {
			x := nameWidth + float64(float64(k)*scale)
			d.Line("tick", x, y, x, y+bar)
		}
		d.Text("value", "start", nameWidth+w+8, y+20, texts[i])
	}
	return d.Done()
}

// chartLetters is how high the letters of charts are, chartLine from line to line.
const (
	chartLetters = 19.0
	chartLine    = 20.0
)

// nameRows is the names of routes in lines, whole, the place of the top of each row and of the
// end of all: a row is high enough for its name.
func nameRows(rs []compare.Route, top, least float64) (names [][]string, tops []float64, foot float64) {
	for _, r := range rs {
		lines := textLines(r.Name, nameWidth-12, chartLetters)
		high := float64(float64(len(lines)-1) * chartLine)
		more := max(high+chartLetters+4-least, 0) // than the row has
		names, tops = append(names, lines), append(tops, top+more/2)
		top += least + more
	}
	return names, tops, top
}

// routeName writes a name left of the bars; y is the middle of the bar.
func routeName(d *picture.Drawing, lines []string, y float64) {
	y += 7 - float64(float64(len(lines)-1)*chartLine/2)
	for _, l := range lines {
		d.Text("name", "end", nameWidth-12, y, l)
		y += chartLine
	}
}

// textLines is a text in lines no wider than there is room, broken at spaces; only a word that is
// wider by itself is broken within. Nothing is left out. Two lines are as even as they can be.
func textLines(s string, room, letters float64) []string {
	if k := picture.BreakAt(s, 0); k > 0 && picture.TextWidth(s, letters) > room && max(picture.TextWidth(s[:k], letters), picture.TextWidth(s[k+1:], letters)) <= room {
		return []string{s[:k], s[k+1:]}
	}
	var out []string
	line := ""
	for _, word := range strings.Fields(s) {
		if joined := strings.TrimSpace(line + " " + word); picture.TextWidth(joined, letters) <= room {
			line = joined
			continue
		}
		if line != "" {
			out = append(out, line)
		}
		for line = word; picture.TextWidth(line, letters) > room; {
			r := []rune(line)
			n := max(int(room/picture.TextWidth("m", letters)), 1)
			out, line = append(out, string(r[:n])), string(r[n:])
		}
	}
	return append(out, line)
}
