package picture

import (
	"math"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// shader turns what is seen into a picture: light grey, labels by hatch and
// border line, edges and outline dark.
type shader struct {
	m      *mesh.Mesh
	px     *Pixels
	c      Camera
	ink    []int     // hatch of each face
	light  []float64 // of each face, -1 when not worked out yet
	normal []geom.Vec
}

// levels of light: few, so that the picture stays small.
const lightLevels = 40

// Shade draws what the pixels, twice as many each way, show of the mesh, and
// halves it.
func (px *Pixels) Shade(m *mesh.Mesh, fine Camera, inkOf map[int32]int) *canvas {
	s := &shader{m: m, px: px, c: fine, ink: make([]int, len(m.Faces)),
		light: filled[float64](nil, len(m.Faces), -1), normal: make([]geom.Vec, len(m.Faces))}
	for i := range s.ink {
		s.ink[i] = inkOf[s.label(int32(i))]
	}
	px.ink = filled[uint8](px.ink, 3*fine.W*fine.H, 255)
	img := &canvas{w: fine.W, h: fine.H, pix: px.ink}
	for y := range fine.H {
		for x := range fine.W {
			if f := px.face[y*fine.W+x]; f >= 0 {
				img.set(x, y, inked(s.ink[f], s.lit(f), hatched(s.ink[f], x, y, 34)))
			}
		}
	}
	s.lines(img)
	return img.halve()
}

func (s *shader) label(f int32) int32 {
	if s.m.Label == nil {
		return 0
	}
	return s.m.Label[f]
}

// lit is how bright a face is: matt, lit from above left of the viewer, from
// both sides alike, so that a face turned the wrong way is not black.
func (s *shader) lit(f int32) float64 {
	if s.light[f] < 0 {
		n := s.m.FaceNormal(int(f))
		if n.Dot(s.c.Toward) < 0 {
			n = n.Scale(-1)
		}
		l := s.c.Toward.Scale(0.80).Add(s.c.Up.Scale(0.45)).Add(s.c.Right.Scale(-0.40)).Unit()
		v := 0.72 + float64(0.28*max(n.Dot(l), 0))
		s.light[f] = math.Round(v*lightLevels) / lightLevels
		s.normal[f] = n
	}
	return s.light[f]
}

// Kinds of line between two neighbouring pixels.
const (
	noLine = iota
	creaseLine
	stepLine
	labelLine
	outline
)

var lineColour = [...][3]uint8{creaseLine: {150, 150, 150}, stepLine: {95, 95, 95}, labelLine: {10, 70, 82}, outline: {40, 40, 40}}

// lines draws outlines, steps in depth, creases and borders of labels.
func (s *shader) lines(img *canvas) {
	for y := range s.px.h {
		for x := range s.px.w {
			kind := noLine
			if x+1 < s.px.w {
				kind = max(kind, s.between(y*s.px.w+x, y*s.px.w+x+1))
			}
			if y+1 < s.px.h {
				kind = max(kind, s.between(y*s.px.w+x, (y+1)*s.px.w+x))
			}
			if kind == noLine {
				continue
			}
			reach := 1
			if kind == labelLine {
				reach = 2
			}
			for dy := range reach + 1 {
				for dx := range reach + 1 {
					if x+dx < img.w && y+dy < img.h {
						img.set(x+dx, y+dy, lineColour[kind])
					}
				}
			}
		}
	}
}

// between is the kind of line between two pixels.
func (s *shader) between(i, j int) int {
	f, g := s.px.face[i], s.px.face[j]
	if f == g {
		return noLine
	}
	if f < 0 || g < 0 {
		return outline
	}
	// A step in depth is more than what a steep face gives over one pixel.
	if math.Abs(s.px.depth[i]-s.px.depth[j]) > 6/s.c.Scale+1.2 {
		return stepLine
	}
	if s.label(f) != s.label(g) {
		return labelLine
	}
	s.lit(f)
	s.lit(g)
	if s.normal[f].Dot(s.normal[g]) < 0.80 {
		return creaseLine
	}
	return noLine
}
