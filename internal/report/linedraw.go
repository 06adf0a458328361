package report

import (
	"math"
	"slices"

	"fettle/internal/geom"
	"fettle/internal/picture"
)

// lineMark is a section line to be drawn on a casting.
type lineMark struct {
	id    string
	loops [][]geom.Vec
}

// Section lines are drawn where the viewer looks at the surface, not along it:
// a line seen end on is not told from an outline.
const (
	lineFacing = 0.2 // least cosine between the surface's normal and the view
	lineStepMM = 3.0
	lineShown  = 0.03 // a line of which a smaller share is seen is not drawn in that view
)

// lineRuns are the stretches of a line that are seen, in drawing units, and how
// large their share of it is; none when that is too small to tell anything.
func (p castingPicture) lineRuns(dm *picture.DepthMap, fine picture.Camera, l lineMark) (runs [][][2]float64, share float64) {
	seen, all := 0.0, 0.0
	for _, loop := range l.loops {
		var run [][2]float64
		var last geom.Vec
		for i, q := range picture.Samples(loop, lineStepMM) {
			if i > 0 {
				all += last.Dist(q)
			}
			was := last
			last = q
			site, _ := p.surface.Closest(q)
			facing := p.surface.Mesh().FaceNormal(site.Face).Dot(fine.Toward)
			if math.Abs(facing) < lineFacing || !dm.Seen(q, surfaceSlackMM) {
				if len(run) > 1 {
					runs = append(runs, run)
				}
				run = nil
				continue
			}
			if len(run) > 0 {
				seen += was.Dist(q)
			}
			x, y, _ := fine.At(q)
			run = append(run, [2]float64{x / 2, y / 2})
		}
		if len(run) > 1 {
			runs = append(runs, run)
		}
	}
	if seen <= lineShown*all {
		return nil, 0
	}
	return runs, seen / all
}

// sectionLines draws the section lines in dashes and dots, each with its name
// above and below. Names that would lie on one another move apart.
func (p castingPicture) sectionLines(d *picture.Drawing, dm *picture.DepthMap, fine picture.Camera, dx, dy float64) {
	var taken []picture.Box
	for _, l := range p.lines {
		runs, _ := p.lineRuns(dm, fine, l)
		if len(runs) == 0 {
			continue
		}
		top, bottom := [2]float64{0, math.Inf(1)}, [2]float64{0, math.Inf(-1)}
		for _, run := range runs {
			for i, q := range run {
				run[i] = [2]float64{q[0] + dx, q[1] + dy}
				if run[i][1] < top[1] {
					top = run[i]
				}
				if run[i][1] > bottom[1] {
					bottom = run[i]
				}
			}
			d.Poly("section halo", false, run)
			d.Poly("section", false, run)
		}
		letters, _ := p.letters()
		taken = lineName(d, l.id, letters, top[0], top[1]-9, taken)
		taken = lineName(d, l.id, letters, bottom[0], bottom[1]+letters+2, taken)
	}
}

// lineName writes a name where no other is.
func lineName(d *picture.Drawing, name string, size, x, y float64, taken []picture.Box) []picture.Box {
	half := float64(picture.TextWidth(name, size*picture.BoldWider) / 2)
	b := picture.Box{X0: x - half, Y0: y - size, X1: x + half, Y1: y + 4}
	for moved := true; moved; {
		moved = false
		for _, o := range taken {
			if b.Overlaps(o) {
				by := o.X1 - b.X0 + 1
				b.X0, b.X1, moved = b.X0+by, b.X1+by, true
			}
		}
	}
	d.Text("line", "middle", (b.X0+b.X1)/2, y, name)
	return append(taken, b)
}

// sight is what is seen of a casting from one side.
type sight struct {
	camera picture.Camera
	seen   *picture.DepthMap
}

// lineView is the standard view that shows most of the lines and of the
// findings, both counted alike; ties go to the earlier. A view that does not
// show the line is not taken while another does.
func (p castingPicture) lineView() chosenView {
	views := standardViews(p.frame)
	line, marks := make([]float64, len(views)), make([]float64, len(views))
	if p.sights == nil {
		p.sights = sightsOf(p.album, p.surface.Mesh(), p.solid(), views)
	}
	for i, s := range p.sights {
		fine, dm := s.camera, s.seen
		for _, l := range p.lines {
			_, seen := p.lineRuns(dm, fine, l)
			line[i] += seen
		}
		for _, m := range p.marks {
			marks[i] += dm.Share(m.path, surfaceSlackMM) * m.facing(fine) / float64(len(p.marks))
		}
	}
	return chosenView{Camera: views[mostOfBoth(line, marks)]}
}

// mostOfBoth is the view that shows most, the earlier of equals: how much of the line each shows,
// as a share of the most that any does, and beside it the share of the marks. One that shows
// something of the line comes before one that shows nothing.
func mostOfBoth(line, marks []float64) int {
	best, most := 0, math.Inf(-1)
	for i := range line {
		score := marks[i]
		if line[i] > 0 {
			score += 1 + line[i]/slices.Max(line)
		}
		if score > most+1e-9 {
			best, most = i, score
		}
	}
	return best
}
