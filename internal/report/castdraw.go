package report

import (
	"math"

	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/picture"
	"fettle/internal/vehicle"
)

// castingPicture is what a drawing of a casting is made of.
type castingPicture struct {
	surface *mesh.Surface // of the casting; without one no section lines are drawn
	parted  *mesh.Mesh    // what is drawn in its place: the casting cut along a section; or nil
	known   *mesh.Mesh    // what parted was made from
	album   *vehicle.Album
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

// solid says that nothing is seen of faces that look away: cut in two a casting is as closed
// as it was.
func (p castingPicture) solid() bool { return p.surface != nil && p.surface.Solid() }

// picture is what the drawing is drawn over, and what is seen in it.
func (p castingPicture) picture(c picture.Camera) (uri string, seen *picture.DepthMap, err error) {
	c.Solid = p.solid()
	if p.parted != nil {
		return p.album.MeshPicture(p.known, p.parted, c, p.zoneOf)
	}
	return p.album.Picture(p.surface, c, p.zoneOf)
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

// Letters are as high as makes them 8 points on paper at least: on drawings across a page, and on
// those that stand beside text, in a third or a half of its width (TestLettersAreLargeEnough).
const (
	lettersAcross = 22.0
	lettersBeside = 26.0
)

// letters is how high the letters of a view are, and the class of a drawing with such.
func (p castingPicture) letters() (size float64, class string) {
	if p.wide > 0 {
		return lettersBeside, " beside"
	}
	return lettersAcross, ""
}

// letters is how high the letters of a close-up are, and the class of a drawing with such.
func (c closeSize) letters() (size float64, class string) {
	if c == closeBeside {
		return lettersBeside, " beside"
	}
	return lettersAcross, ""
}

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
	c := v.Camera.Around(p.mesh().Points, 8, width, maxH)
	uri, dm, err := p.picture(c)
	if err != nil {
		return "", err
	}
	fine := c.Times(2)
	var fs []picture.Flag
	var shown []mark
	for _, m := range p.marks {
		if x, y, ok := p.anchor(dm, fine, m, v.best[m.id]); ok {
			shown = append(shown, m)
			fs = append(fs, picture.Flag{Text: m.id, X: x + side, Y: y + lineRoom})
		}
	}
	left, right, top := side-16, float64(width)+side+16, float64(lineRoom+26)
	foot := picture.RoomFor(fs, left, right, top, lineRoom+max(float64(c.H)-10, 26), flagGap)
	h := float64(c.H) + lineRoom + 54
	_, class := p.letters()
	d := picture.NewDrawing("casting"+class, "Casting seen "+v.Name, float64(width)+2*side, max(h, foot+flagGap/2))
	d.Image(side, lineRoom, float64(c.W), float64(c.H), uri)
	fs = picture.PlaceFlags(fs, left, right, top, foot, flagGap)
	p.sectionLines(d, dm, fine, side, lineRoom)
	p.zoneNames(d, dm, c, side, picture.UnderLeaders(fs, side, lineRoom))
	d.Leaders(fs)
	for _, m := range shown {
		p.trace(d, dm, fine, m, side, lineRoom)
	}
	d.Flags(fs)
	d.ScaleBar(c.Scale, side, h-22)
	return d.Done(), nil
}

// anchor is where a flag points: the middle of the part that is seen. A
// finding that does not face the viewer, or is hidden, is shown only where no
// other view is better.
func (p castingPicture) anchor(dm *picture.DepthMap, fine picture.Camera, m mark, best bool) (x, y float64, ok bool) {
	pts := picture.Samples(m.path, 2)
	var seen []geom.Vec
	for _, q := range pts {
		if dm.Seen(q, surfaceSlackMM) {
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
	x, y, _ = fine.At(seen[len(seen)/2])
	return x / 2, y / 2, true
}

// trace draws a finding: a thick dark line where it is seen, a dashed one where
// it is hidden, a ring for a defect without length.
func (p castingPicture) trace(d *picture.Drawing, dm *picture.DepthMap, fine picture.Camera, m mark, dx, dy float64) {
	p.traceAs(d, dm, fine, m, dx, dy, "")
}

// traceAs is trace in a style of its own.
func (p castingPicture) traceAs(d *picture.Drawing, dm *picture.DepthMap, fine picture.Camera, m mark, dx, dy float64, style string) {
	pts := picture.Samples(m.path, 2)
	var run [][2]float64
	was := false
	flush := func() {
		if len(run) > 1 {
			d.Poly(traceClass(was, "halo")+style, false, run)
			d.Poly(traceClass(was, "trace")+style, false, run)
		}
	}
	for i, q := range pts {
		x, y, _ := fine.At(q)
		at := [2]float64{x/2 + dx, y/2 + dy}
		now := dm.Seen(q, surfaceSlackMM)
		if i > 0 && now != was {
			flush()
			run = run[len(run)-1:]
		}
		run, was = append(run, at), now
	}
	flush()
	if len(pts) == 1 {
		x, y, _ := fine.At(pts[0])
		d.Circle("halo"+style, x/2+dx, y/2+dy, 13)
		d.Circle(traceClass(was, "trace")+style, x/2+dx, y/2+dy, 13)
	}
}

func traceClass(seen bool, class string) string {
	if seen {
		return class
	}
	return class + " hidden"
}

// zoneNames writes the name of every zone where most of it is seen.
func (p castingPicture) zoneNames(d *picture.Drawing, dm *picture.DepthMap, c picture.Camera, side float64, taken [][2]float64) {
	letters, _ := p.letters()
	for _, at := range picture.Roomiest(dm, p.mesh(), 8, append(p.taken(c.Times(2)), taken...)) {
		name := p.names[at.Label]
		if name == "" || at.Room < nameRoom {
			continue
		}
		d.TwoLines("zone", name, at, letters, side, lineRoom, float64(c.W))
	}
}

// taken is where findings are drawn: names of zones keep away from there.
func (p castingPicture) taken(fine picture.Camera) [][2]float64 {
	var out [][2]float64
	for _, m := range p.marks {
		for _, q := range picture.Samples(m.path, 2) {
			x, y, _ := fine.At(q)
			out = append(out, [2]float64{x, y})
		}
	}
	return out
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
	fine := c.Times(2)
	var fs []picture.Flag
	for _, o := range p.marks {
		if x, y, ok := inPicture(dm, fine, o, w, h); ok {
			fs = append(fs, picture.Flag{Text: o.id, X: x + closeUpRoom, Y: y})
		}
	}
	foot := picture.RoomFor(fs, closeUpRoom-12, w+closeUpRoom+12, 20, h-20, flagGap)
	letters, class := p.close.letters()
	d := picture.NewDrawing("closeup"+class, "Close-up of finding "+m.id, w+2*closeUpRoom, max(h+44, foot+flagGap/2))
	d.Image(closeUpRoom, 0, w, h, uri)
	fs = picture.PlaceFlags(fs, closeUpRoom-12, w+closeUpRoom+12, 20, foot, flagGap)
	for _, at := range picture.Roomiest(dm, p.mesh(), 8, append(p.taken(fine), picture.UnderLeaders(fs, closeUpRoom, 0)...)) {
		if name := p.names[at.Label]; name != "" && at.Room > 16 {
			d.TwoLines("zone", name, at, letters, closeUpRoom, 0, w)
		}
	}
	d.Leaders(fs)
	for _, o := range p.marks {
		if _, _, ok := inPicture(dm, fine, o, w, h); ok && o.id != m.id {
			p.traceAs(d, dm, fine, o, closeUpRoom, 0, " other")
		}
	}
	p.trace(d, dm, fine, m, closeUpRoom, 0)
	for _, q := range [2]geom.Vec{m.path[0], m.path[len(m.path)-1]} {
		x, y, _ := fine.At(q)
		if len(m.path) > 1 {
			d.Circle("tip", x/2+closeUpRoom, y/2, 6)
		}
	}
	d.Rect("frame", closeUpRoom+0.5, 0.5, w-1, h-1)
	d.Flags(fs)
	d.ScaleBar(c.Scale, closeUpRoom+6, h+24)
	d.Text("small", "end", w+closeUpRoom-4, h+31, length)
	return d.Done(), nil
}

// inPicture is where a mark is seen in a picture of the given size, the middle
// of what is seen of it.
func inPicture(dm *picture.DepthMap, fine picture.Camera, m mark, w, h float64) (x, y float64, ok bool) {
	var seen [][2]float64
	for _, q := range picture.Samples(m.path, 1) {
		u, v, _ := fine.At(q)
		if u /= 2; u > 4 && u < w-4 && v/2 > 4 && v/2 < h-4 && dm.Seen(q, surfaceSlackMM) {
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
