package report

import (
	"fmt"
	"html/template"
	"strings"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// partedLine is a section line with the casting divided along it; err says why
// it cannot be drawn at all.
type partedLine struct {
	line   body.Line
	parted *vehicle.Parted
	err    error
}

// partedLines divides the castings that have a mesh along every section line.
func partedLines(in Input) []partedLine {
	var out []partedLine
	for _, l := range in.Body.Lines {
		if in.Vehicle.Surface(l.Casting) != nil {
			p, err := in.Vehicle.Part(l)
			out = append(out, partedLine{l, p, err})
		}
	}
	return out
}

// loops is the line on the surface; a closed loop comes back to its first point.
func (l partedLine) loops() [][]geom.Vec {
	var out [][]geom.Vec
	for _, loop := range l.parted.Section.Loops {
		path := loop.Points
		if loop.Closed {
			path = append(append([]geom.Vec{}, path...), path[0])
		}
		out = append(out, path)
	}
	return out
}

// lineView is a section line in the document: whether it is proven to divide
// its casting, how long the cut is, what the piece has, and how every finding
// lies to it.
type lineView struct {
	ID, Name, Seen, Why string
	Rows                []measureRow
	SVG                 template.HTML
}

func lineViews(in Input, lines []partedLine) ([]lineView, error) {
	var out []lineView
	sights := map[body.CastingID][]sight{} // the lines of a casting are looked for from the same sides
	for _, l := range lines {
		v := lineView{ID: string(l.line.ID), Name: l.line.Name}
		if l.err != nil {
			v.Why = sentence("It cannot be drawn: " + l.err.Error())
			out = append(out, v)
			continue
		}
		c := l.line.Casting
		if sights[c] == nil {
			sights[c] = sightsOf(in.Vehicle.Album, in.Vehicle.Surface(c).Mesh(), in.Vehicle.Surface(c).Solid(), standardViews(frameOf(in.Body.Axes)))
		}
		if err := v.draw(in, l, sights[c]); err != nil {
			return nil, err
		}
		if !l.parted.Section.Divides {
			v.Why = sentence("It does not divide the casting: " + strings.Join(l.parted.Section.Reasons, "; "))
		} else {
			v.Rows = append(dividedRows(in.Body, l), marginRows(in, l.line)...)
		}
		out = append(out, v)
	}
	return out, nil
}

// lineViewWidth is how many pixels wide the picture of a cut is.
const lineViewWidth = 620

// draw draws the casting with what is taken off hatched, from where most of
// the line is seen.
func (v *lineView) draw(in Input, l partedLine, sights []sight) error {
	p := partedPicture(l.parted.Section, in.Body.Axes)
	p.surface, p.sights, p.album = in.Vehicle.Surface(l.line.Casting), sights, in.Vehicle.Album // what lies where did not change
	p.names = map[int32]string{0: "stays", 1: "taken off"}
	p.wide, p.marks = lineViewWidth, findingMarks(in, l.line.Casting)
	p.lines = []lineMark{{string(l.line.ID), l.loops()}}
	view := p.lineView()
	v.Seen = view.Name
	svg, err := p.view(view)
	v.SVG = template.HTML(svg)
	return err
}

// partedPicture is a casting cut along a section: label 1 is the outer part. It
// has no surface, which only section lines need.
func partedPicture(c mesh.Section, axes body.Axes) castingPicture {
	cut := *c.Split.Mesh
	cut.Label = make([]int32, len(cut.Faces))
	for _, f := range c.Outer.Faces {
		cut.Label[f] = 1
	}
	return castingPicture{parted: &cut, known: c.Split.Mesh, frame: frameOf(axes), zoneOf: map[int32]int{1: 1}, album: &vehicle.Album{}}
}

// dividedRows is what is proven of a line and what its piece has. The mass is
// the casting's by the share of its volume.
func dividedRows(b *body.Body, l partedLine) []measureRow {
	c := l.parted.Section
	volume := fixed(c.Outer.VolumeMM3/1000, 0) + "\u2009cm³"
	switch {
	case c.VolumeDoubt != "":
		volume = sentence("not given: " + c.VolumeDoubt)
	case !c.VolumesExact: // up to the smallest cut face
		volume = "about " + fixed(c.Outer.VolumeMM3/1000, 0) + "\u2009±\u2009" + fixed(c.VolumesWithinMM3/1000, 0) + "\u2009cm³"
	}
	share, known := l.parted.Share()
	if known {
		volume += " (" + fixed(100*share, 0) + "\u2009%)"
	}
	rows := []measureRow{
		{"Runs along", courseOf(l.line)},
		{"Divides the casting", "proven: " + unit.Count(len(c.Loops), "loop") + ", all closed"},
		{"Cut along the wall", mm(l.parted.SawMM())},
		{"Piece, surface", fixed(c.Outer.AreaMM2/100, 0) + "\u2009cm²"},
		{"Piece, volume", volume},
	}
	casting, _ := b.Casting(l.line.Casting)
	if part, ok := b.Part(casting.Part); ok && known && part.Mass > 0 {
		rows = append(rows, measureRow{"Piece, mass", fmt.Sprintf("about %s of %s\u2009kg", fixed(share*float64(part.Mass), 1), fixed(float64(part.Mass), 1))})
	}
	return append(rows, measureRow{"Margin asked for", besideMM(float64(l.line.Margin), float64(l.line.Margin))})
}

// courseOf is what a section line runs along.
func courseOf(l body.Line) string {
	switch n := len(l.Cuts()); {
	case len(l.Curve) > 0:
		return "a closed curve through " + unit.Count(len(l.Curve), "point") + " on the surface"
	case n == 1:
		return "one plane"
	default:
		return unit.Count(n, "plane") + " that meet"
	}
}

// marginRows is how every finding lies to a line; findings that stay on the
// casting share a row.
func marginRows(in Input, l body.Line) []measureRow {
	var out []measureRow
	var stay []string
	for _, f := range in.Inspect.Findings {
		for _, s := range f.Sides {
			switch {
			case s.Line != l.ID || f.Casting != l.Casting:
			case s.MarginMM <= 0:
				stay = append(stay, string(f.ID))
			case s.Outboard:
				out = append(out, measureRow{string(f.ID) + " on the piece by", plusMinusBeside(s.MarginMM, s.Std, s.NeedMM) + ": enough"})
			default:
				out = append(out, measureRow{string(f.ID) + " on the piece by", plusMinusBeside(s.MarginMM, s.Std, s.NeedMM) + ": not surely enough"})
			}
		}
	}
	if len(stay) > 0 {
		out = append(out, measureRow{"Not wholly on the piece", list(stay, 20)})
	}
	return out
}
