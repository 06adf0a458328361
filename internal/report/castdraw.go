package report

import (
	"math"
	"sort"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// castingPicture is what a drawing of a casting is made of.
type castingPicture struct {
	surface *mesh.Surface // of the casting; without one no section lines are drawn
	parted  *mesh.Mesh    // what is drawn in its place: the casting cut along a section; or nil
	known   *mesh.Mesh    // what parted was made from
	album   *Album
	frame   frame
	zoneOf  map[int32]int    // label to hatch
	names   map[int32]string // label to name of the zone
	marks   []mark
	lines   []lineMark // section lines
	sights  []sight    // of the standard views; nil: found when needed
	wide    int        // pixels of a view across; viewWidth when 0
	close   closeSize
}

// mesh is what is drawn.
func (p castingPicture) mesh() *mesh.Mesh {
	if p.parted != nil {
		return p.parted
	}
	return p.surface.Mesh()
}

// picture is what the drawing is drawn over, and what is seen in it.
func (p castingPicture) picture(c camera) (uri string, seen *depthMap, err error) {
	if p.parted != nil {
		return p.album.picture(p.known, p.parted, c, p.zoneOf)
	}
	return p.album.picture(p.surface.Mesh(), p.surface.Mesh(), c, p.zoneOf)
}

// closeSize is the size of the picture of a close-up, in drawing units.
type closeSize struct{ w, h int }

// Close-ups stand beside the figures of a finding, or alone on a page: the
// letters in them are as high as the text around.
var (
	closeBeside = closeSize{340, 300}
	closeAlone  = closeSize{620, 400}
)

const (
	viewWidth  = 1200 // pixels of a view, across
	viewHeight = 820  // at most
	sideRoom   = 110  // drawing units left and right of the picture for flags
	flagGap    = 40
	lineRoom   = 26 // drawing units above for the names of section lines
)

// size is the room of a view in pixels, and beside it for flags.
func (p castingPicture) size() (w, maxH int, side float64) {
	if p.wide > 0 {
		return p.wide, p.wide * 3 / 4, closeUpRoom
	}
	return viewWidth, viewHeight, sideRoom
}

// view draws one view with its flags. Pixels and drawing units are the same.
func (p castingPicture) view(v chosenView) (string, error) {
	width, maxH, side := p.size()
	c := v.camera.around(p.mesh().Points, 8, width, maxH)
	uri, dm, err := p.picture(c)
	if err != nil {
		return "", err
	}
	fine := c.times(2)
	var fs []flag
	var shown []mark
	for _, m := range p.marks {
		if x, y, ok := p.anchor(dm, fine, m, v.best[m.id]); ok {
			shown = append(shown, m)
			fs = append(fs, flag{text: m.id, x: x + side, y: y + lineRoom})
		}
	}
	left, right, top := side-16, float64(width)+side+16, float64(lineRoom+26)
	foot := roomFor(fs, left, right, top, lineRoom+max(float64(c.h)-10, 26), flagGap)
	h := float64(c.h) + lineRoom + 54
	d := newDrawing("casting", "Casting seen "+v.name, float64(width)+2*side, max(h, foot+flagGap/2))
	d.picture(side, lineRoom, float64(c.w), float64(c.h), uri)
	fs = placeFlags(fs, left, right, top, foot, flagGap)
	p.sectionLines(d, dm, fine, side, lineRoom)
	p.zoneNames(d, dm, c, side, underLeaders(fs, side, lineRoom))
	drawLeaders(d, fs)
	for _, m := range shown {
		p.trace(d, dm, fine, m, side, lineRoom)
	}
	drawFlags(d, fs)
	scaleBar(d, c.scale, side, h-22)
	return d.done(), nil
}

// twoLines writes a name at a place, on two lines when it is long. It is kept
// to the picture that begins at left and top; a name that would have to be
// moved out of the room there is at the place is left out.
func twoLines(d *drawing, class, name string, at roomyPlace, size, left, top, width float64) {
	lines := []string{name}
	if k := breakAt(name, 16); k > 0 {
		lines = []string{name[:k], name[k+1:]}
	}
	half := 0.0
	for _, l := range lines {
		half = max(half, textWidth(l, size*boldWider)/2)
	}
	x := min(max(at.x, half+4), width-half-4)
	if abs(x-at.x) > at.room {
		return
	}
	y := top + at.y + float64(size*0.36) - float64(size*0.55*float64(len(lines)-1))
	for _, l := range lines {
		d.text(class, "middle", x+left, y, l)
		y += float64(size * 1.1)
	}
}

// boldWider is how much wider bold letters are, with their white border.
const boldWider = 1.15

// breakAt is the space nearest to the middle of a text of more than n bytes,
// or 0.
func breakAt(s string, n int) int {
	best := 0
	for i := range s {
		if len(s) > n && s[i] == ' ' && (best == 0 || abs(float64(2*i-len(s))) < abs(float64(2*best-len(s)))) {
			best = i
		}
	}
	return best
}

// anchor is where a flag points: the middle of the part that is seen. A
// finding that does not face the viewer, or is hidden, is shown only where no
// other view is better.
func (p castingPicture) anchor(dm *depthMap, fine camera, m mark, best bool) (x, y float64, ok bool) {
	pts := samples(m.path, 2)
	var seen []geom.Vec
	for _, q := range pts {
		if dm.seen(q, surfaceSlackMM) {
			seen = append(seen, q)
		}
	}
	poor := len(seen)*3 < len(pts) || m.facing(fine) < 0.3
	if poor && !best || len(pts) == 0 {
		return 0, 0, false
	}
	if len(seen) == 0 {
		seen = pts
	}
	x, y, _ = fine.at(seen[len(seen)/2])
	return x / 2, y / 2, true
}

// trace draws a finding: a thick dark line where it is seen, a dashed one where
// it is hidden, a ring for a defect without length.
func (p castingPicture) trace(d *drawing, dm *depthMap, fine camera, m mark, dx, dy float64) {
	p.traceAs(d, dm, fine, m, dx, dy, "")
}

// traceAs is trace in a style of its own.
func (p castingPicture) traceAs(d *drawing, dm *depthMap, fine camera, m mark, dx, dy float64, style string) {
	pts := samples(m.path, 2)
	var run [][2]float64
	was := false
	flush := func() {
		if len(run) > 1 {
			d.poly(traceClass(was, "halo")+style, false, run)
			d.poly(traceClass(was, "trace")+style, false, run)
		}
	}
	for i, q := range pts {
		x, y, _ := fine.at(q)
		at := [2]float64{x/2 + dx, y/2 + dy}
		now := dm.seen(q, surfaceSlackMM)
		if i > 0 && now != was {
			flush()
			run = run[max(len(run)-1, 0):]
		}
		run, was = append(run, at), now
	}
	flush()
	if len(pts) == 1 {
		x, y, _ := fine.at(pts[0])
		d.circle("halo"+style, x/2+dx, y/2+dy, 13)
		d.circle(traceClass(was, "trace")+style, x/2+dx, y/2+dy, 13)
	}
}

func traceClass(seen bool, class string) string {
	if seen {
		return class
	}
	return class + " hidden"
}

// zoneNames writes the name of every zone where most of it is seen.
func (p castingPicture) zoneNames(d *drawing, dm *depthMap, c camera, side float64, taken [][2]float64) {
	for _, at := range roomiest(dm, p.mesh(), 8, append(p.taken(c.times(2)), taken...)) {
		name := p.names[at.label]
		if name == "" || at.room < nameRoom {
			continue
		}
		twoLines(d, "zone", name, at, 22, side, lineRoom, float64(c.w))
	}
}

// taken is where findings are drawn: names of zones keep away from there.
func (p castingPicture) taken(fine camera) [][2]float64 {
	var out [][2]float64
	for _, m := range p.marks {
		for _, q := range samples(m.path, 2) {
			x, y, _ := fine.at(q)
			out = append(out, [2]float64{x, y})
		}
	}
	return out
}

// roomyPlace is the place of a label with the most room around it.
type roomyPlace struct {
	label int32
	x, y  float64 // pixels of the picture
	room  float64 // distance to the next other label [pixels]
}

// roomiest finds, for every label that is seen, the place farthest from any
// other label and from what is taken, in order of label. Distances are in steps
// of cell fine pixels, counted square (eight neighbours).
func roomiest(dm *depthMap, m *mesh.Mesh, cell int, taken [][2]float64) []roomyPlace {
	w, h := dm.c.w/cell, dm.c.h/cell
	lab := make([]int32, w*h)
	for y := range h {
		for x := range w {
			lab[y*w+x] = -1
			if f := dm.at(x*cell+cell/2, y*cell+cell/2); f >= 0 {
				lab[y*w+x] = 0
				if m.Label != nil {
					lab[y*w+x] = m.Label[f]
				}
			}
		}
	}
	for _, q := range taken {
		if x, y := int(q[0])/cell, int(q[1])/cell; x >= 0 && y >= 0 && x < w && y < h {
			lab[y*w+x] = -1
		}
	}
	dist := borderSteps(lab, w, h)
	var out []roomyPlace
	best := central(lab, dist, w)
	s := float64(cell) / 2
	for l, i := range best {
		out = append(out, roomyPlace{l, (float64(i%w) + 0.5) * s, (float64(i/w) + 0.5) * s, float64(dist[i]) * s})
	}
	sort.Slice(out, func(a, b int) bool { return out[a].label < out[b].label })
	return out
}

// central is, for every label, a cell with nearly the most room (at least
// 85 %) that is nearest to the middle of all cells of the label; ties go to the
// first.
func central(lab []int32, dist []int, w int) map[int32]int {
	type sum struct{ n, x, y, most int }
	sums := map[int32]sum{}
	for i, l := range lab {
		if s := sums[l]; l >= 0 {
			sums[l] = sum{s.n + 1, s.x + i%w, s.y + i/w, max(s.most, dist[i])}
		}
	}
	best := map[int32]int{}
	away := map[int32]int{}
	for i, l := range lab {
		s := sums[l]
		if l < 0 || 100*dist[i] < 85*s.most {
			continue
		}
		dx, dy := i%w-s.x/s.n, i/w-s.y/s.n
		if d, ok := away[l]; !ok || dx*dx+dy*dy < d {
			best[l], away[l] = i, dx*dx+dy*dy
		}
	}
	return best
}

// borderSteps is, for every cell, how many steps it is to another label or to
// the edge, by two sweeps over the grid.
func borderSteps(lab []int32, w, h int) []int {
	dist := make([]int, w*h)
	sweep := func(x, y int, back int) {
		i := y*w + x
		d := w + h
		if back > 0 {
			d = dist[i]
		}
		for _, n := range [4][2]int{{-1, 0}, {-1, -1}, {0, -1}, {1, -1}} {
			u, v := x+n[0], y+n[1]
			if back > 0 {
				u, v = x-n[0], y-n[1]
			}
			if u < 0 || v < 0 || u >= w || v >= h || lab[v*w+u] != lab[i] {
				d = min(d, 1)
				continue
			}
			d = min(d, dist[v*w+u]+1)
		}
		dist[i] = d
	}
	for y := range h {
		for x := range w {
			sweep(x, y, 0)
		}
	}
	for y := h - 1; y >= 0; y-- {
		for x := w - 1; x >= 0; x-- {
			sweep(x, y, 1)
		}
	}
	return dist
}

func drawLeaders(d *drawing, fs []flag) {
	for _, f := range fs {
		d.line("leader halo", f.x, f.y, f.px, f.py)
		d.line("leader", f.x, f.y, f.px, f.py)
	}
}

func drawFlags(d *drawing, fs []flag) {
	for _, f := range fs {
		w := max(textWidth(f.text, 24)+16, 44)
		x := f.px
		if f.left {
			x -= w
		}
		d.rect("flag", x, f.py-17, w, 34)
		d.text("flag", "middle", x+w/2, f.py+8, f.text)
	}
}

// scaleBar draws a bar of a round length; scale is drawing units for each mm.
func scaleBar(d *drawing, scale, x, y float64) {
	length := niceStep(220 / scale)
	w := float64(length * scale)
	d.line("bar", x, y, x+w, y)
	d.line("bar", x, y-7, x, y+7)
	d.line("bar", x+w, y-7, x+w, y+7)
	d.text("small", "start", x+w+12, y+7, fixed(length, 0)+" mm")
}

// closeUpRoom is the room left and right of a close-up for flags.
const closeUpRoom = 80

// closeUp draws one finding along the surface normal, and thinner, with its
// flag, every other that is seen there.
func (p castingPicture) closeUp(m mark, length string) (string, error) {
	c := closeUpCamera(p.frame, m, p.close.w, p.close.h)
	w, h := float64(p.close.w), float64(p.close.h)
	uri, dm, err := p.picture(c)
	if err != nil {
		return "", err
	}
	fine := c.times(2)
	var fs []flag
	for _, o := range p.marks {
		if x, y, ok := inPicture(dm, fine, o, w, h); ok {
			fs = append(fs, flag{text: o.id, x: x + closeUpRoom, y: y})
		}
	}
	foot := roomFor(fs, closeUpRoom-12, w+closeUpRoom+12, 20, h-20, flagGap)
	d := newDrawing("closeup", "Close-up of finding "+m.id, w+2*closeUpRoom, max(h+44, foot+flagGap/2))
	d.picture(closeUpRoom, 0, w, h, uri)
	fs = placeFlags(fs, closeUpRoom-12, w+closeUpRoom+12, 20, foot, flagGap)
	for _, at := range roomiest(dm, p.mesh(), 8, append(p.taken(fine), underLeaders(fs, closeUpRoom, 0)...)) {
		if name := p.names[at.label]; name != "" && at.room > 16 {
			twoLines(d, "zone small", name, at, 20, closeUpRoom, 0, w)
		}
	}
	drawLeaders(d, fs)
	for _, o := range p.marks {
		if _, _, ok := inPicture(dm, fine, o, w, h); ok && o.id != m.id {
			p.traceAs(d, dm, fine, o, closeUpRoom, 0, " other")
		}
	}
	p.trace(d, dm, fine, m, closeUpRoom, 0)
	for _, q := range [2]geom.Vec{m.path[0], m.path[len(m.path)-1]} {
		x, y, _ := fine.at(q)
		if len(m.path) > 1 {
			d.circle("tip", x/2+closeUpRoom, y/2, 6)
		}
	}
	d.rect("frame", closeUpRoom+0.5, 0.5, w-1, h-1)
	drawFlags(d, fs)
	scaleBar(d, c.scale, closeUpRoom+6, h+24)
	d.text("small", "end", w+closeUpRoom-4, h+31, length)
	return d.done(), nil
}

// underLeaders is points along leaders, in fine pixels of a picture that begins
// at left and top: names of zones keep away from there.
func underLeaders(fs []flag, left, top float64) [][2]float64 {
	var out [][2]float64
	for _, f := range fs {
		for k := range 101 {
			t := float64(k) / 100
			out = append(out, [2]float64{2 * (f.x + float64(t*(f.px-f.x)) - left), 2 * (f.y + float64(t*(f.py-f.y)) - top)})
		}
	}
	return out
}

// inPicture is where a mark is seen in a picture of the given size, the middle
// of what is seen of it.
func inPicture(dm *depthMap, fine camera, m mark, w, h float64) (x, y float64, ok bool) {
	var seen [][2]float64
	for _, q := range samples(m.path, 1) {
		u, v, _ := fine.at(q)
		if u /= 2; u > 4 && u < w-4 && v/2 > 4 && v/2 < h-4 && dm.seen(q, surfaceSlackMM) {
			seen = append(seen, [2]float64{u, v / 2})
		}
	}
	if len(seen) == 0 {
		return 0, 0, false
	}
	at := seen[len(seen)/2]
	return at[0], at[1], true
}

// facing says from where a close-up looks, in words.
func facing(f frame, n geom.Vec) string {
	best, name := math.Inf(-1), ""
	for _, v := range []struct {
		d    geom.Vec
		name string
	}{{f.up, "above"}, {f.up.Scale(-1), "below"}, {f.right.Scale(-1), "the left"}, {f.right, "the right"},
		{f.rear.Scale(-1), "the front"}, {f.rear, "behind"}} {
		if s := n.Dot(v.d); s > best+1e-9 {
			best, name = s, v.name
		}
	}
	return name
}
