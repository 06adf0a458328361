package report

import (
	"encoding/base64"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/picture"
)

// MapPicture is the picture of a zone map, as it stands in the folder of the body.
type MapPicture struct {
	Media string
	Data  []byte
}

// mapPin is a finding on a map. Where nobody pinned it, the zones that it lies in are all that is
// known.
type mapPin struct {
	id    job.FindingID
	at    []geom.Flat
	known bool
}

// mapPins is the findings of a casting that are seen on a map: those pinned there, and those that
// are pinned nowhere and lie in a zone that is drawn there.
func mapPins(in Input, k body.Casting, m body.ZoneMap) []mapPin {
	var out []mapPin
	taken := map[body.ZoneID]float64{}
	for _, f := range in.Inspect.Findings {
		if f.Casting != k.ID || !f.Located {
			continue
		}
		pins := jobFinding(in.Job, f.ID).Pins
		i := slices.IndexFunc(pins, func(p job.Pin) bool { return p.Map == m.ID })
		switch {
		case i >= 0:
			out = append(out, mapPin{f.ID, pins[i].At, true})
		case len(pins) == 0:
			if at, zone, ok := roomIn(m, f.Zones); ok {
				at[1] += taken[zone] // beside the others of the zone
				taken[zone] += math.Max(m.Size[0], m.Size[1]) / 20
				out = append(out, mapPin{f.ID, []geom.Flat{at}, false})
			}
		}
	}
	return out
}

// roomIn is a place in the first zone of a finding that a map shows.
func roomIn(m body.ZoneMap, zones []inspect.ZoneShare) (geom.Flat, body.ZoneID, bool) {
	for _, s := range zones {
		if s.Touches {
			continue
		}
		if at, room := roomiestOf(m, s.Zone); room > 0 {
			return at, s.Zone, true
		}
	}
	return geom.Flat{}, "", false
}

// roomiestOf is where a zone has the most room on a map, of all its outlines.
func roomiestOf(m body.ZoneMap, z body.ZoneID) (at geom.Flat, room float64) {
	for _, o := range m.Zones {
		if o.Zone == z {
			if a, r := o.Outline.Roomiest(); r > room {
				at, room = a, r
			}
		}
	}
	return at, room
}

// mapWindow is the part of a map that is drawn, in its units.
type mapWindow struct{ low, high geom.Flat }

// allOf is the whole of a map.
func allOf(m body.ZoneMap) mapWindow { return mapWindow{high: m.Size} }

// around is the part about a pin, a third of the map at least.
func around(m body.ZoneMap, p mapPin, shape float64) mapWindow {
	low, high := p.at[0], p.at[0]
	for _, q := range p.at {
		for k := range q {
			low[k], high[k] = math.Min(low[k], q[k]), math.Max(high[k], q[k])
		}
	}
	wide := math.Max(math.Max(high[0]-low[0], (high[1]-low[1])*shape)*1.5, math.Max(m.Size[0], m.Size[1]*shape)/3)
	half := geom.Flat{wide / 2, wide / shape / 2}
	var out mapWindow
	for k := range low {
		mid := (low[k] + high[k]) / 2
		if half[k] <= m.Size[k]/2 { // nothing beside the map is shown
			mid = math.Min(math.Max(mid, half[k]), m.Size[k]-half[k])
		}
		out.low[k], out.high[k] = mid-half[k], mid+half[k]
	}
	return out
}

// mapDrawing draws a part of a map with the findings pinned on it, so wide and at most so high, and
// on both sides room for their flags.
type mapDrawing struct {
	in         Input
	of         body.ZoneMap
	pins       []mapPin
	wide, high float64
	side       float64
}

func (d mapDrawing) draw(w mapWindow) template.HTML {
	size := geom.Flat{w.high[0] - w.low[0], w.high[1] - w.low[1]}
	scale := math.Min(d.wide/size[0], d.high/size[1])
	at := func(q geom.Flat) (x, y float64) {
		return d.side + float64((q[0]-w.low[0])*scale), mapTop + float64((q[1]-w.low[1])*scale)
	}
	width, height := float64(size[0]*scale), float64(size[1]*scale)
	var fs []picture.Flag
	h := mapTop + height + mapFoot
	if d.side > 0 {
		fs = d.flags(at)
		left, right, top := d.side-16, width+d.side+16, mapTop+20.0
		foot := picture.RoomFor(fs, left, right, top, math.Max(mapTop+height-20, top), flagGap)
		fs, h = picture.PlaceFlags(fs, left, right, top, foot, flagGap), math.Max(h, foot+flagGap/2)
	}
	s := picture.NewDrawing("casting zonemap"+d.class(), "Zone map "+d.of.Name, width+float64(2*d.side), h)
	x0, y0 := at(geom.Flat{})
	s.Rect("hull", d.side, mapTop, width, height)
	if _, ok := d.in.Maps[d.of.ID]; ok {
		s.Use(mapName(d.of.ID), x0, y0, float64(d.of.Size[0]*scale), float64(d.of.Size[1]*scale))
	}
	d.zones(s, at, scale, picture.Box{X0: d.side, Y0: mapTop, X1: d.side + width, Y1: mapTop + height})
	if d.side == 0 { // what lies beside the part that is shown
		s.Filled("beyond", "#fff", 0, 0, width, mapTop)
		s.Filled("beyond", "#fff", 0, mapTop+height, width, mapFoot)
	}
	s.Leaders(fs)
	d.drawPins(s, at)
	s.Flags(fs)
	if d.of.Scale > 0 {
		s.ScaleBar(scale/float64(d.of.Scale), d.side, mapTop+height+26)
	}
	return template.HTML(s.Done())
}

// letters is how high the letters are; a drawing with room for flags beside text is the smaller
// on paper.
func (d mapDrawing) letters() float64 {
	if d.side == closeUpRoom {
		return lettersBeside
	}
	return lettersAcross
}

func (d mapDrawing) class() string {
	if d.letters() == lettersBeside {
		return " beside"
	}
	return ""
}

const (
	mapTop    = 10.0 // drawing units above a map
	mapFoot   = 44.0 // below it, for the scale
	mapHeight = 680  // of the largest drawing of a map, at most
)

func mapName(id body.MapID) string { return "map-" + string(id) }

func (d mapDrawing) flags(at func(geom.Flat) (x, y float64)) []picture.Flag {
	var out []picture.Flag
	for _, p := range d.pins {
		x, y := at(p.at[len(p.at)/2])
		out = append(out, picture.Flag{Text: string(p.id), X: x, Y: y})
	}
	return out
}

// zones draws the outlines, and the names where they have room.
func (d mapDrawing) zones(s *picture.Drawing, at func(geom.Flat) (x, y float64), scale float64, shown picture.Box) {
	_, pictured := d.in.Maps[d.of.ID]
	for _, z := range d.of.Zones {
		pts := make([][2]float64, len(z.Outline))
		for i, q := range z.Outline {
			pts[i][0], pts[i][1] = at(q)
		}
		if !pictured {
			s.Poly("mapzone plain", true, pts)
		}
		s.Poly("mapzone halo", true, pts)
		s.Poly("mapzone", true, pts)
	}
	taken := d.pinBoxes(at)
	named := map[body.ZoneID]bool{}
	for _, z := range d.of.Zones {
		if named[z.Zone] {
			continue
		}
		named[z.Zone] = true
		q, room := roomiestOf(d.of, z.Zone)
		lines := mapLines(zoneName(d.in.Body, z.Zone), float64(room*scale), d.letters(), d.side == sideRoom)
		for _, down := range []float64{0, -2, 2, -3, 3, -4, 4} { // lines of letters
			by := float64(down * d.letters())
			if down != 0 && float64(z.Outline.Depth(geom.Flat{q[0], q[1] + by/scale})*scale) < d.letters() {
				continue
			}
			x, y := at(q)
			if box, ok := d.freeFor(lines, x, y+by, shown, taken); ok {
				taken = append(taken, box)
				for _, line := range lines {
					s.Text("zone", "middle", (box.X0+box.X1)/2, y+by+line.down, line.text)
				}
				break
			}
		}
	}
}

// pinBoxes is where the pins and what is written at them lie.
func (d mapDrawing) pinBoxes(at func(geom.Flat) (x, y float64)) []picture.Box {
	var out []picture.Box
	for _, p := range d.pins {
		for _, q := range p.at {
			x, y := at(q)
			out = append(out, picture.BoxAt(x, y, 16, 16))
		}
		if d.side == 0 {
			x, y := at(p.at[0])
			out = append(out, pinName(string(p.id), x, y, d.letters()))
		}
	}
	return out
}

// pinName is the box of the name beside a pin.
func pinName(id string, x, y, letters float64) picture.Box {
	return picture.Box{X0: x + 18, Y0: y - 12 - letters, X1: x + 18 + picture.TextWidth(id, letters*picture.BoldWider), Y1: y - 8}
}

// freeFor is the box of a name at a place, moved along so that it lies in what is shown; false
// where there is none, or where something else lies. On the largest drawing of the map nothing
// is left out.
func (d mapDrawing) freeFor(lines []mapLine, x, y float64, shown picture.Box, taken []picture.Box) (picture.Box, bool) {
	if len(lines) == 0 {
		return picture.Box{}, false
	}
	letters, half := d.letters(), 0.0
	for _, l := range lines {
		half = max(half, picture.TextWidth(l.text, letters*picture.BoldWider)/2)
	}
	b := picture.Box{X0: x - half, Y0: y + lines[0].down - letters, X1: x + half, Y1: y + lines[len(lines)-1].down + 4}
	always := d.side == sideRoom
	if y < shown.Y0 || y > shown.Y1 || x < shown.X0 || x > shown.X1 {
		return b, false
	}
	by := max(shown.X0+2-b.X0, 0) + min(shown.X1-2-b.X1, 0)
	b.X0, b.X1 = b.X0+by, b.X1+by
	inside := b.X0 >= shown.X0 && b.X1 <= shown.X1 && b.Y0 >= shown.Y0 && b.Y1 <= shown.Y1
	clear := !slices.ContainsFunc(taken, b.Overlaps)
	return b, always || inside && clear
}

type mapLine struct {
	text string
	down float64
}

// mapLines is a name in one line or two, whichever has room. Where it has none it is left out, but
// for the largest drawing of the map, on which every zone is named.
func mapLines(name string, room, letters float64, always bool) []mapLine {
	half := func(s string) float64 { return picture.TextWidth(s, letters) / 2 }
	if half(name) <= room {
		return []mapLine{{name, math.Round(letters * 0.36)}}
	}
	if k := picture.BreakAt(name, 10); k > 0 && (always || max(half(name[:k]), half(name[k+1:])) <= room) {
		return []mapLine{{name[:k], -math.Round(letters * 0.18)}, {name[k+1:], math.Round(letters * 0.92)}}
	}
	if always {
		return []mapLine{{name, math.Round(letters * 0.36)}}
	}
	return nil
}

func (d mapDrawing) drawPins(s *picture.Drawing, at func(geom.Flat) (x, y float64)) {
	for _, p := range d.pins {
		var pts [][2]float64
		for _, q := range p.at {
			x, y := at(q)
			pts = append(pts, [2]float64{x, y})
		}
		hidden := ""
		if !p.known {
			hidden = " hidden"
		}
		if len(pts) > 1 {
			s.Poly("halo", false, pts)
			s.Poly("trace", false, pts)
		} else {
			s.Circle("halo"+hidden, pts[0][0], pts[0][1], 13)
			s.Circle("trace"+hidden, pts[0][0], pts[0][1], 13)
		}
		if d.side == 0 {
			s.Text("line", "start", pts[0][0]+18, pts[0][1]-12, string(p.id))
		}
	}
}

// mapViews are the zone maps of a casting with its findings.
func mapViews(in Input, k body.Casting, wide, high, side float64) []viewPicture {
	var out []viewPicture
	for _, m := range k.Maps {
		d := mapDrawing{in, m, mapPins(in, k, m), wide, high, side}
		out = append(out, viewPicture{Title: mapTitle(m), SVG: d.draw(allOf(m))})
	}
	return out
}

func mapTitle(m body.ZoneMap) string {
	if m.View != "" {
		return m.Name + ", seen " + m.View
	}
	return m.Name
}

// bestMap is the map on which the most of some findings are pinned, of equals the most seen, of those
// that on which they are drawn largest; false when none shows any.
func bestMap(in Input, k body.Casting) (m body.ZoneMap, pins []mapPin, ok bool) {
	most, largest := 0, 0.0
	for _, c := range k.Maps {
		all, n := mapPins(in, k, c), 0
		for _, p := range all {
			if n++; p.known {
				n += len(in.Inspect.Findings)
			}
		}
		if large := largeOn(c, all); n > most || n == most && large > largest {
			m, pins, most, largest, ok = c, all, n, large, true
		}
	}
	return m, pins, ok
}

// largeOn is how long some findings are drawn on a map, together, as a share of its size.
func largeOn(m body.ZoneMap, pins []mapPin) float64 {
	long := 0.0
	for _, p := range pins {
		for i, q := range p.at[1:] {
			long += p.at[i].Dist(q)
		}
	}
	return long / math.Max(m.Size[0], m.Size[1])
}

// mapCloseUp is one finding on the map it is pinned on, or where its zone is drawn.
func mapCloseUp(in Input, k body.Casting, id job.FindingID, size closeSize) (svg template.HTML, title string, ok bool) {
	part := in
	part.Inspect.Findings = []inspect.Finding{findingByID(in.Inspect, id)}
	m, pins, ok := bestMap(part, k)
	if !ok {
		return "", "", false
	}
	d := mapDrawing{in: part, of: m, pins: pins, wide: float64(size.w), high: float64(size.h)}
	w := allOf(m)
	if pins[0].known {
		w = around(m, pins[0], d.wide/d.high)
	}
	return d.draw(w), mapTitle(m), true
}

// mapDefs is the pictures of all maps, each once: drawings refer to them.
func mapDefs(in Input) string {
	var b strings.Builder
	for _, k := range in.Body.Castings {
		for _, m := range k.Maps {
			p, ok := in.Maps[m.ID]
			if !ok || in.Vehicle.Surface(k.ID) != nil {
				continue
			}
			fmt.Fprintf(&b, `<symbol id="%s" viewBox="0 0 %s %s" preserveAspectRatio="none"><image width="%[2]s" height="%[3]s" preserveAspectRatio="none" href="data:%s;base64,%s"/></symbol>`,
				mapName(m.ID), picture.Coord(m.Size[0]), picture.Coord(m.Size[1]), p.Media, base64.StdEncoding.EncodeToString(p.Data))
		}
	}
	if b.Len() == 0 {
		return ""
	}
	return `<svg class="defs" width="0" height="0" aria-hidden="true"><defs>` + b.String() + `</defs></svg>`
}
