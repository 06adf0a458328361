package vehicle

import (
	"fmt"
	"math"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// partSnapMM is how near a corner of a triangle may lie to a section line and
// still count as on it: a thousandth of what a saw can follow. Our choice, no
// source.
const partSnapMM = 1e-3

// curveGateMM is how far a point of a curve may lie off the surface. Our
// choice, no source.
const curveGateMM = 5.0

// Parted is a casting divided along a section line. The outer part of the
// section is what is taken off.
type Parted struct {
	Section  mesh.Section
	line     body.Line
	cut      *geom.Segments // the line
	surf     *mesh.Surface
	outer    []bool            // by face of the cut mesh
	children map[int32][]int32 // by face of the casting that was cut: its parts
}

// Part divides a casting along a line. An error means that the line cannot be
// drawn at all; Section.Divides says whether it parts the casting in two.
func Part(line body.Line, s *mesh.Surface) (*Parted, error) {
	p := &Parted{line: line, surf: s.While(nil)}
	var err error
	if len(line.Curve) > 0 {
		var off float64
		if p.Section, off, err = s.Mesh().SectionAlong(line.Curve, line.TakenOff, partSnapMM); err == nil && off > curveGateMM {
			err = fmt.Errorf("a point of the curve lies %s off the surface (at most %s)", far(off, curveGateMM), far(curveGateMM, curveGateMM))
		}
		if _, d := s.Closest(line.TakenOff); err == nil && d > curveGateMM {
			err = fmt.Errorf("the point of what is taken off lies %s off the surface (at most %s)", far(d, curveGateMM), far(curveGateMM, curveGateMM))
		}
	} else {
		var planes []mesh.Plane
		for _, c := range line.Cuts() { // turned round: the outer part is what is taken off
			planes = append(planes, mesh.Plane{Normal: c.Normal.Scale(-1), OffsetMM: -float64(c.Offset)})
		}
		var w *mesh.Window
		if !line.Within.Unlimited() {
			w = &mesh.Window{Lo: line.Within.Min, Hi: line.Within.Max}
		}
		p.Section, err = s.SectionWithin(planes, w, partSnapMM)
	}
	if err != nil {
		return nil, err
	}
	p.outer = make([]bool, len(p.Section.Split.Mesh.Faces))
	for _, f := range p.Section.Outer.Faces {
		p.outer[f] = true
	}
	p.cut = cutOf(p.Section.Loops)
	p.children = map[int32][]int32{}
	for f := len(s.Mesh().Faces); f < len(p.outer); f++ {
		of := p.Section.Split.Parent[f]
		p.children[of] = append(p.children[of], int32(f))
	}
	return p, nil
}

// far is a distance in words, with as many digits as tell it from a limit.
func far(mm, limitMM float64) string { return unit.FixedBeside(mm, 1, limitMM) + " mm" }

// SawMM is the length of the wall that is cut: where the mesh shows both faces
// of the wall (every loop is closed) the loops run along it twice. The error is
// about the wall thickness for each loop.
func (p *Parted) SawMM() float64 {
	sum, closed := 0.0, true
	for _, l := range p.Section.Loops {
		sum += l.LengthMM
		closed = closed && l.Closed
	}
	if closed {
		sum /= 2
	}
	return sum
}

// Share is the share of the casting's volume that is taken off; false when the
// line does not divide it.
func (p *Parted) Share() (float64, bool) {
	whole := p.Section.Outer.VolumeMM3 + p.Section.Rest.VolumeMM3
	if !p.Section.Divides || !(whole > 0) {
		return 0, false
	}
	return p.Section.Outer.VolumeMM3 / whole, true
}

// Outboard says that a point of the casting lies on what is taken off.
func (p *Parted) Outboard(q geom.Vec) bool {
	site, _ := p.surf.Closest(q)
	return p.OutboardAt(q, site.Face)
}

// OutboardAt is Outboard for a point of a face of the casting.
func (p *Parted) OutboardAt(q geom.Vec, face int) bool {
	best, at := math.Inf(1), int32(face)
	for _, f := range append([]int32{int32(face)}, p.children[int32(face)]...) {
		if d := p.farFrom(q, f); d < best {
			best, at = d, f
		}
	}
	return p.outer[at]
}

// farFrom is the distance of a point from a face of the cut mesh.
func (p *Parted) farFrom(q geom.Vec, f int32) float64 {
	m := p.Section.Split.Mesh
	t := m.Faces[f]
	return mesh.TriangleDistance(q, m.Points[t[0]], m.Points[t[1]], m.Points[t[2]])
}

// TakesOffAll says that the casting carries the label, and every face that does
// lies on what is taken off.
func (p *Parted) TakesOffAll(label int32) bool {
	found := false
	for f, l := range p.Section.Split.Mesh.Label {
		if l != label {
			continue
		}
		if found = true; !p.outer[f] {
			return false
		}
	}
	return found
}

// LineDistance is the distance of a segment from the line.
func (p *Parted) LineDistance(a, b geom.Vec) float64 { return p.cut.Nearer(math.Inf(1), a, b) }

// cutOf is the segments of a section line.
func cutOf(loops []mesh.Loop) *geom.Segments {
	var out [][2]geom.Vec
	for _, l := range loops {
		for i := range l.Points {
			if i+1 < len(l.Points) || l.Closed {
				out = append(out, [2]geom.Vec{l.Points[i], l.Points[(i+1)%len(l.Points)]})
			}
		}
	}
	return geom.NewSegments(out)
}
