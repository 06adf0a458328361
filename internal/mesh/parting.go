package mesh

import (
	"fmt"

	"fettle/internal/geom"
)

// parting is a mesh with a line of edges that is to part it in two.
type parting struct {
	m    *Mesh
	line [][2]int32 // its edges, in order of their points
	on   map[[2]int32]bool
	// side is 1 for the faces that belong to the outer part beside the line,
	// 0 for the others. When whole, that holds away from the line as well.
	side    []int32
	whole   bool
	missing string // the reason when there is no line
}

func (p *parting) cut(u, v int32) {
	if p.on == nil {
		p.on = map[[2]int32]bool{}
	}
	if e := edgeOf(u, v); !p.on[e] {
		p.on[e] = true
		p.line = append(p.line, e)
	}
}

// flood joins the faces that hang together without crossing the line, and
// counts the edges of the line and of the surface that have no two sides.
func (p *parting) flood() (parts pieces, open, seams int) {
	parts = newPieces(len(p.m.Faces))
	p.m.edgeGroups(func(u, v int32, halves []int32) {
		switch on := p.on[[2]int32{u, v}]; {
		case on && len(halves) > 2:
			seams++
		case len(halves) == 1:
			open++
		case !on:
			for _, h := range halves[1:] {
				parts.join(halves[0]/3, h/3)
			}
		}
	})
	return parts, open, seams
}

// prove finds the loops and the pieces, and says whether and why not the line
// divides the surface.
func (p *parting) prove(out *Section) {
	parts, open, seams := p.flood()
	why := func(format string, args ...any) { out.Reasons = append(out.Reasons, fmt.Sprintf(format, args...)) }
	loose := 0
	for _, l := range p.loops() {
		out.Loops = append(out.Loops, l)
		out.LengthMM += l.LengthMM
		if !l.Closed {
			loose++
		}
	}
	if len(p.line) == 0 {
		why("%s", p.missing)
	}
	if loose > 0 {
		why("%d parts of the line do not close: they end at a border of the surface, or meet in one point", loose)
	}
	if seams > 0 {
		why("the line runs along %d edges of three or more faces", seams)
	}
	if open > 0 {
		why("the surface has %d open edges, so it has no inside", open)
	}
	p.pieces(parts, out, why)
	out.Divides = len(out.Reasons) == 0
}

// pieces sorts the faces into the two parts and counts what hangs together.
func (p *parting) pieces(parts pieces, out *Section, why func(string, ...any)) {
	beside := map[int32][2]bool{} // piece to sides of the line it lies on
	round := false                // a piece lies on both sides of one place of the line
	p.m.edgeGroups(func(u, v int32, halves []int32) {
		if !p.on[[2]int32{u, v}] {
			return
		}
		for _, h := range halves {
			r := parts.root(h / 3)
			round = round || len(halves) == 2 && h != halves[0] && r == parts.root(halves[0]/3)
			b := beside[r]
			b[p.side[h/3]] = true
			beside[r] = b
		}
	})
	var count [2]int
	apart := 0
	for f, t := range p.m.Faces {
		root := parts.root(int32(f))
		b, touches := beside[root]
		k := p.side[f]
		if touches && b != [2]bool{true, true} {
			k = 0
			if b[1] {
				k = 1
			}
		} else if !touches && !p.whole {
			k = 0
		}
		piece := [2]*Piece{&out.Rest, &out.Outer}[k]
		piece.Faces = append(piece.Faces, int32(f))
		piece.AreaMM2 += p.m.FaceAreaMM2(f)
		if root != int32(f) || collapsed(t) {
			continue
		}
		switch {
		case !touches && !p.whole:
			apart++
		default:
			count[k]++
		}
	}
	if len(p.line) == 0 {
		return
	}
	if round {
		why("both sides of the line hang together: the surface leads round it")
	}
	if apart > 0 {
		why("the surface has %d pieces that the line does not touch", apart)
	}
	for k, name := range [2]string{"the rest", "the outer part"} {
		if count[k] != 1 && !round {
			why("%s is in %d pieces", name, count[k])
		}
	}
}

// loops chains the edges of the line. A line goes on through a point with two
// of its edges; at any other number it ends.
func (p *parting) loops() []Loop {
	s := Surface{m: p.m}
	var edges []borderEdge
	for _, e := range p.line {
		edges = append(edges, borderEdge{u: e[0], v: e[1], a: 0, b: 1})
	}
	var out []Loop
	for _, r := range s.chain(edges, false) {
		l := Loop{Closed: r.Closed, LengthMM: r.LengthMM}
		for _, v := range r.Points {
			l.Points = append(l.Points, p.m.Points[v])
		}
		out = append(out, l)
	}
	return out
}

// fanVolumes closes each piece by fans from the middle of each loop.
func (p *parting) fanVolumes(out *Section) {
	hub := map[int32]geom.Vec{} // by point of the line
	s := Surface{m: p.m}
	var edges []borderEdge
	for _, e := range p.line {
		edges = append(edges, borderEdge{u: e[0], v: e[1], a: 0, b: 1})
	}
	for _, r := range s.chain(edges, false) {
		var mid geom.Vec
		for i, v := range r.Points { // weighted by length, so that it does not hang on the mesh
			w := r.Points[(i+1)%len(r.Points)]
			a, b := p.m.Points[v], p.m.Points[w]
			mid = mid.Add(a.Lerp(b, 0.5).Scale(a.Dist(b)))
		}
		for _, v := range r.Points {
			hub[v] = mid.Scale(1 / r.LengthMM)
		}
	}
	lo, hi := p.m.Bounds()
	o := lo.Lerp(hi, 0.5)
	for _, piece := range [2]*Piece{&out.Rest, &out.Outer} {
		sum := p.m.coneVolume(piece.Faces, o)
		for _, f := range piece.Faces {
			t := p.m.Faces[f]
			for k := range 3 {
				u, v := t[k], t[(k+1)%3]
				if p.on[edgeOf(u, v)] {
					sum += hub[u].Sub(o).Dot(p.m.Points[v].Sub(o).Cross(p.m.Points[u].Sub(o))) / 6
				}
			}
		}
		piece.VolumeMM3 = sum
	}
}
