package report

import (
	"fmt"
	"html/template"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/plan"
)

// Room on a card and heights on it in millimetres, as page/cards.css sets them:
// a low card takes half a sheet, a tall one the whole. Widths of letters are
// those of a wide typeface; a test has a browser measure the cards.
const (
	lowRoom   = 130.0
	tallRoom  = 258.0
	cardType  = 4.06 // 11.5 points
	keyType   = 3.35 // 9.5 points
	cardLine  = 5.3
	leftWide  = 104.0
	rightWide = 70.0
	fullWide  = 176.0
)

// lettersWide is how wide a text comes out in a wide typeface.
func lettersWide(s string, size float64) float64 { return float64(len([]rune(s))) * size * 0.52 }

// linesOf is how many lines a text takes in a column, words not broken.
func linesOf(s string, size, width float64) float64 {
	if s == "" {
		return 0
	}
	lines, x := 1.0, 0.0
	for _, w := range strings.Fields(s) {
		n := lettersWide(w+" ", size)
		if x > 0 && x+n-lettersWide(" ", size) > width {
			lines, x = lines+1, 0
		}
		for ; n > width; n -= width { // a word longer than the column is broken
			lines++
		}
		x += n
	}
	return lines
}

// heightOf is how high a card is.
func heightOf(c bayCard) float64 {
	h := max(14, 6.6*linesOf(c.Name, 5.65*1.1, 100)+2) + 3.4
	h += 4.4 + cardLine*max(1+linesOf(c.When, 3.64, 50), linesOf(c.Who, cardType, 40), linesOf(c.Where, cardType, 37), linesOf(c.Use, cardType, 40)) + 1.5
	right := c.rightHeight()
	wide := fullWide
	if right > 0 {
		wide = leftWide
	}
	h += max(c.leftHeight(wide), right) + 1.5
	if len(c.Stop) > 0 {
		h += 15
		for _, s := range c.Stop {
			h += 5.6 * linesOf(s, 4.25, fullWide-14)
		}
	}
	if len(c.Records) > 0 {
		h += 5.6
	}
	for _, r := range c.Records {
		h += max(10.5, 1.4+5*max(linesOf(strings.TrimSpace(r.What+" "+r.Key), cardType, 65), linesOf(r.Limits, cardType*boldWider, 28)))
	}
	h += cardLine * linesOf(c.Keyed, keyType, fullWide)
	next := "Next: " + c.Next
	if c.Before != "" {
		next = "Only when " + c.Before + " are done. " + next
	}
	return h + 4.2 + 4.8*linesOf(next, 3.72*1.04, fullWide) + max(8.6, 4.8*linesOf(c.Cite, 3.72, fullWide-24))
}

func (c bayCard) leftHeight(wide float64) float64 {
	h := 0.0
	para := func(s string) {
		if s != "" {
			h += cardLine*linesOf(s, cardType, wide) + 1
		}
	}
	if c.For != "" {
		para("For " + c.For)
	}
	for _, k := range c.Cautions {
		h += cardLine*linesOf(k.Title+". "+k.Text, cardType, wide-7) + 3.2
	}
	for _, s := range append([]string{c.Text}, c.Notes...) {
		para(s)
	}
	if c.Rivets != "" {
		para("Rivets. " + c.Rivets)
	}
	para(c.Together)
	for _, s := range c.Arrive {
		h += max(8.8, cardLine*linesOf(s+" has arrived", cardType, wide-10)) + 1
	}
	widest := 0.0 // the amounts share a column
	for _, m := range c.Materials {
		widest = max(widest, lettersWide(m.Amount, cardType))
	}
	for _, m := range c.Materials {
		h += max(9.4, cardLine*linesOf(m.Name, cardType, wide*0.62-widest-8)+2)
	}
	return h
}

func (c bayCard) rightHeight() float64 {
	h := 0.0
	if c.Drawing != "" {
		h += min(50, rightWide*aspect(c.Box)) + 1.5
	}
	if c.Hold != "" {
		h += 22.5 + cardLine*linesOf(c.Hold, cardType, rightWide-6)
	}
	if c.Wait != "" {
		h += 23 + cardLine*linesOf("THEN WAIT "+c.Wait, cardType*boldWider, rightWide-6)
	}
	return h
}

// aspect is the height over the width of a viewBox.
func aspect(box string) float64 {
	var x, y, w, h float64
	if n, err := fmt.Sscan(box, &x, &y, &w, &h); n != 4 || err != nil || w <= 0 {
		return 1
	}
	return h / w
}

// fitted makes a card low or tall, and hands records that do not fit to cards
// that go on with the step: nothing is left out and nothing is cut off.
func fitted(c bayCard) []bayCard {
	if heightOf(c) <= lowRoom {
		return []bayCard{c}
	}
	c.Tall = true
	if heightOf(c) <= tallRoom || len(c.Records) < 2 {
		return []bayCard{c}
	}
	rest := c
	for heightOf(c) > tallRoom && len(c.Records) > 1 {
		c.Records = c.Records[:len(c.Records)-1]
	}
	on := bayCard{ID: c.ID, Of: c.Of, Name: c.Name, Phase: c.Phase, Stop: c.Stop, Who: c.Who, Long: c.Long, When: c.When, Where: c.Where, Use: c.Use,
		Next: c.Next, Cite: c.Cite, Before: c.Before, Many: c.Many, Records: rest.Records[len(c.Records):], Keyed: c.Keyed}
	more := fitted(on)
	out := append([]bayCard{c}, more...)
	for i := range out {
		out[i].Part = fmt.Sprintf("sheet %d of %d", i+1, len(out))
	}
	return out
}

// cardDrawing is a drawing that cards point to.
type cardDrawing struct {
	ID, Box string // Box: its viewBox
	SVG     template.HTML
}

// cardDrawings makes every drawing once.
type cardDrawings struct {
	in  Input
	all []cardDrawing
	box map[string]string
}

// add gives a card its drawing: one finding close up, or the casting with all
// that the step is for. Tasks for the whole job have none.
func (d *cardDrawings) add(c *bayCard, s plan.Step) error {
	if strings.HasPrefix(s.Ref, "task ") {
		return nil
	}
	on := map[body.CastingID]int{}
	var casting body.CastingID
	for _, id := range s.For {
		if f := findingByID(d.in.Inspect, id); f.Located && len(f.Path) > 0 {
			if on[f.Casting]++; casting == "" {
				casting = f.Casting
			}
		}
	}
	surface := d.in.Surfaces[casting]
	if casting == "" || surface == nil {
		return nil
	}
	part := d.in
	part.Inspect.Findings = nil
	for _, f := range d.in.Inspect.Findings {
		if slices.Contains(s.For, f.ID) {
			part.Inspect.Findings = append(part.Inspect.Findings, f)
		}
	}
	id := "d-" + string(casting)
	for _, f := range part.Inspect.Findings {
		id += "-" + string(f.ID)
	}
	id += "-" + string(s.Line)
	c.Drawing, c.DrawingOf = id, list(findingNames(s.For), 12)
	if box, ok := d.box[id]; ok {
		c.Box = box
		return nil
	}
	svg, err := cardSVG(part, casting, s.Line)
	if err != nil {
		return err
	}
	c.Box = viewBox(svg)
	if d.box == nil {
		d.box = map[string]string{}
	}
	d.box[id] = c.Box
	d.all = append(d.all, cardDrawing{id, c.Box, template.HTML(svg)})
	return nil
}

// cardSVG is the drawing of some findings of a casting, with a section line.
func cardSVG(in Input, id body.CastingID, line body.LineID) (string, error) {
	casting, _ := in.Body.Casting(id)
	s := in.Surfaces[id]
	p := castingPicture{surface: s, frame: frameOf(in.Body.Axes), zoneOf: zoneHatches(s.Mesh(), casting.Zones), names: map[int32]string{}, wide: frontWide, close: closeBeside, album: in.Album}
	p.marks = findingMarks(in, id)
	if len(p.marks) == 1 && line == "" {
		for _, z := range casting.Zones {
			p.names[int32(z.Label)] = z.Name
		}
		return p.closeUp(p.marks[0], "")
	}
	for _, l := range partedLines(in) {
		if l.line.ID == line && l.line.Casting == id && l.err == nil {
			p.lines = append(p.lines, lineMark{string(l.line.ID), l.loops()})
		}
	}
	if len(p.lines) > 0 {
		return p.view(p.lineView())
	}
	return p.view(in.Album.mostSeen(s.Mesh(), p.frame, p.marks))
}

// viewBox is the viewBox of a drawing made here.
func viewBox(svg string) string {
	_, rest, _ := strings.Cut(svg, `viewBox="`)
	box, _, _ := strings.Cut(rest, `"`)
	return box
}
