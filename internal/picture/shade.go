package picture

import (
	"math"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// shader turns what is seen into a picture: light grey, labels by hatch and
// border line, edges and outline dark.
type shader struct {
	m       *mesh.Mesh
	px      *Pixels
	c       Camera
	inkOf   map[int32]int
	dm      *DepthMap
	stepMM  float64 // in depth, between neighbouring pixels: more than what a steep face gives
	toLight geom.Vec
	lined   int // rows that have their lines
	halved  int // rows of the picture that are done, in rows before halving
}

// levels of light: few, so that the picture stays small.
const lightLevels = 40

// look is how a face looks in the picture of that round.
type look struct {
	round  uint32
	hatch  uint8
	colour [2]uint32 // beside the lines of its hatch, and on them
	normal geom.Vec  // turned towards the viewer
}

// Draw draws what is seen of the mesh with twice as many pixels each way, and halves
// it. It is a PNG in a data address. With the surface of the mesh, which may be nil, what
// is out of view is passed over.
func (px *Pixels) Draw(m *mesh.Mesh, tree *mesh.Surface, fine Camera, inkOf map[int32]int) (uri string, seen *DepthMap, err error) {
	pic, dm := px.shade(m, tree, fine, inkOf)
	px.Work.Step()
	uri, err = pic.dataURI(&px.shelf)
	return uri, dm, err
}

func (px *Pixels) shade(m *mesh.Mesh, tree *mesh.Surface, fine Camera, inkOf map[int32]int) (*canvas, *DepthMap) {
	s := &shader{m: m, px: px, c: fine, inkOf: inkOf, dm: px.newMap(m, fine), stepMM: 6/fine.Scale + 1.2,
		toLight: fine.Toward.Scale(0.80).Add(fine.Up.Scale(0.45)).Add(fine.Right.Scale(-0.40)).Unit()}
	px.looks = roomFor(px.looks, len(m.Faces))
	px.round++
	px.small = canvas{fine.W / 2, fine.H / 2, roomFor(px.small.pix, 3*(fine.W/2)*(fine.H/2))}
	px.sweep(m, tree, fine, inkRows, s.shade)
	return &px.small, px.tight(s.dm)
}

// inkReach is how many rows below its own a line is drawn in.
const inkReach = 2

// inkRows is how many rows a line is drawn in at most.
const inkRows = inkReach + 1

// shade draws the new rows of a band, the lines as far as all rows they reach into are
// there, and halves what is done.
func (s *shader) shade(top, from, to int) {
	w := s.c.W
	s.dm.add(s.px.face[(from-top)*w:], to-from)
	for y := from; y < to; y++ {
		s.base(s.px.ink[(y-top)*w:(y-top+1)*w], s.dm.row(y), y)
	}
	whole := to - inkReach
	if to == s.c.H {
		whole = to
	}
	for ; s.lined < whole; s.lined++ {
		s.lines(s.lined, top, to)
	}
	for ; s.halved+2 <= s.lined; s.halved += 2 {
		s.halve(s.px.ink[(s.halved-top)*w:(s.halved-top+2)*w], s.halved/2)
	}
}

// base draws a row without lines.
func (s *shader) base(ink []uint32, row []run, y int) {
	for i, r := range row {
		past := len(ink)
		if i+1 < len(row) {
			past = int(row[i+1].from)
		}
		part := ink[r.from:past]
		if r.face < 0 {
			fill(part, white)
			continue
		}
		l := s.look(r.face)
		hatch := &hatchRows[l.hatch][y%hatchPeriod]
		if hatch.none {
			fill(part, l.colour[0])
			continue
		}
		on := hatch.on[int(r.from)%hatchPeriod:]
		for len(part) > 0 {
			n := min(len(part), hatchPeriod)
			for x := range part[:n] {
				part[x] = l.colour[on[x]&1]
			}
			part = part[n:]
		}
	}
}

func (s *shader) label(f int32) int32 {
	if s.m.Label == nil {
		return 0
	}
	return s.m.Label[f]
}

// look is how a face looks: matt, lit from above left of the viewer, from
// both sides alike, so that a face turned the wrong way is not black.
func (s *shader) look(f int32) *look {
	l := &s.px.looks[f]
	if l.round == s.px.round {
		return l
	}
	n := s.m.FaceNormal(int(f))
	if n.Dot(s.c.Toward) < 0 {
		n = n.Scale(-1)
	}
	v := 0.72 + float64(0.28*max(n.Dot(s.toLight), 0))
	level := math.Round(v*lightLevels) / lightLevels
	k := s.inkOf[s.label(f)]
	*l = look{s.px.round, uint8(k % hatches), [2]uint32{packed(inked(k, level, false)), packed(inked(k, level, true))}, n}
	return l
}

// Kinds of line between two neighbouring pixels.
const (
	noLine = iota
	creaseLine
	stepLine
	labelLine
	outline
)

var lineColour = [...]uint32{creaseLine: packed([3]uint8{150, 150, 150}), stepLine: packed([3]uint8{95, 95, 95}), labelLine: packed([3]uint8{10, 70, 82}), outline: packed([3]uint8{40, 40, 40})}

// lines draws what begins in row y of outlines, steps in depth, creases and borders of
// labels; rows down to before past are there.
func (s *shader) lines(y, top, past int) {
	w, i := s.c.W, (y-top)*s.c.W
	row := s.px.face[i : i+w]
	below := row // the last row has none
	if y+1 < s.c.H {
		below = s.px.face[i+w : i+2*w]
	}
	for x, f := range row {
		right := f
		if x+1 < w {
			right = row[x+1]
		}
		if right == f && below[x] == f {
			continue
		}
		kind := noLine
		if right != f {
			kind = s.between(i+x, i+x+1)
		}
		if below[x] != f {
			kind = max(kind, s.between(i+x, i+x+w))
		}
		if kind == noLine {
			continue
		}
		reach := 1
		if kind == labelLine {
			reach = inkReach
		}
		for dy := range min(reach+1, past-y) {
			fill(s.px.ink[i+dy*w+x:i+dy*w+min(x+reach+1, w)], lineColour[kind])
		}
	}
}

// between is the kind of line between two pixels that show different faces.
func (s *shader) between(i, j int) int {
	f, g := s.px.face[i], s.px.face[j]
	if f < 0 || g < 0 {
		return outline
	}
	if math.Abs(s.px.depth[i]-s.px.depth[j]) > s.stepMM {
		return stepLine
	}
	if s.label(f) != s.label(g) {
		return labelLine
	}
	if s.look(f).normal.Dot(s.look(g).normal) < 0.80 {
		return creaseLine
	}
	return noLine
}

// A colour while it is drawn is its three parts in ten bits each: four of them can be
// added.
const white = 255 | 255<<10 | 255<<20

func packed(rgb [3]uint8) uint32 { return uint32(rgb[0]) | uint32(rgb[1])<<10 | uint32(rgb[2])<<20 }

// halve makes row y of the picture of two rows: one pixel of four, their mean, so that
// edges come out smooth.
func (s *shader) halve(two []uint32, y int) {
	w := s.px.small.w
	out := s.px.small.pix[3*y*w : 3*(y+1)*w]
	up, down := two[:2*w], two[s.c.W:s.c.W+2*w]
	for x := range w {
		sum := up[2*x] + up[2*x+1] + down[2*x] + down[2*x+1] + (2 | 2<<10 | 2<<20)
		out[3*x], out[3*x+1], out[3*x+2] = uint8(sum>>2), uint8(sum>>12), uint8(sum>>22)
	}
}
