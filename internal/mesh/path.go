package mesh

import (
	"math"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/geom"
)

// Path is a way along the surface. Consecutive points lie in one face:
// Faces[i] holds the segment from Points[i] to Points[i+1].
type Path struct {
	Points      []geom.Vec
	Faces       []int
	LengthMM    float64 // along the surface
	EdgeGraphMM float64 // along mesh edges: an upper bound, for comparison
	ChordMM     float64 // straight through space: a lower bound
	// Proven says that no shorter way along the surface exists, up to rounding:
	// LengthMM is the distance, not only the length of a locally shortest path.
	Proven bool
	Doubt  string // why Proven is false
}

// lengthRounding is the relative error a length along some thousand faces may
// carry; two lengths closer than that count as equal.
const lengthRounding = 1e-12

// Path is a locally shortest way along the surface from a to b: no small change
// makes it shorter. It starts from the shortest way along mesh edges and is
// straightened exactly (docs/methods/surface-path.md). Where several such ways
// exist, round a hole or a boss for example, it need not be the shortest of
// them: Proven is set only when the way is straight through space, and
// ShortestPath decides otherwise.
//
// Edges of three or more faces are passed only at their ends.
func (s *Surface) Path(a, b Site) (Path, error) {
	from, err := s.anchor(a)
	if err != nil {
		return Path{}, err
	}
	to, err := s.anchor(b)
	if err != nil {
		return Path{}, err
	}
	return s.path(&from, &to)
}

func (s *Surface) path(a, b *anchor) (Path, error) {
	chord := a.at.Dist(b.at)
	if f := s.sharedFace(a, b); f >= 0 {
		return Path{[]geom.Vec{a.at, b.at}, []int{int(f)}, chord, chord, chord, true, ""}, nil
	}
	points, graphMM, err := s.edgePath(a, b)
	if err != nil {
		return Path{}, err
	}
	out := Path{EdgeGraphMM: graphMM, ChordMM: chord, Points: []geom.Vec{a.at}}
	for _, p := range s.strips(points, *a, *b) {
		line := s.straighten(p)
		for i, q := range line.points[1:] {
			out.add(q, line.faces[line.place[i]])
		}
	}
	out.measure()
	if out.LengthMM > graphMM*(1+lengthRounding) {
		return s.alongEdges(points, a, b, graphMM), nil
	}
	return out, nil
}

// alongEdges is the way along mesh edges itself. It stands where straightening
// makes a way longer: that happens only where several faces without area fold
// back over one another.
func (s *Surface) alongEdges(points []int32, a, b *anchor, graphMM float64) Path {
	out := Path{EdgeGraphMM: graphMM, ChordMM: a.at.Dist(b.at), Points: []geom.Vec{a.at}}
	last := *a
	for _, v := range points {
		next := s.pointAnchor(v)
		out.add(next.at, s.sharedFace(&last, &next))
		last = next
	}
	out.add(b.at, s.sharedFace(&last, b))
	out.measure()
	return out
}

// add extends the way to q through a face; it adds no segment without length,
// unless the whole way has none.
func (p *Path) add(q geom.Vec, face int32) {
	if q != p.Points[len(p.Points)-1] {
		p.Points, p.Faces = append(p.Points, q), append(p.Faces, int(face))
	}
}

// measure sets the length from the points, and Proven if it cannot be beaten.
func (p *Path) measure() {
	p.LengthMM = geom.PolylineLength(p.Points)
	p.Proven = p.LengthMM <= p.ChordMM*(1+lengthRounding)
	if !p.Proven {
		p.Doubt = "other ways were not searched"
	}
}

func noPath() error {
	return &diag.Error{Kind: diag.NotFound, Op: "mesh.Path", Subject: "surface",
		Msg:  "the two points lie on pieces of the surface that are not connected",
		Hint: "choose points on one piece; where a narrow seam parts it, mending the mesh closes it", Remedy: diag.Do(ToMend)}
}

// sharedFace is the first face that contains both anchors, or -1.
func (s *Surface) sharedFace(a, b *anchor) int32 {
	for _, f := range s.around(a) {
		if s.holds(f, b) {
			return f
		}
	}
	return none
}

// maxRounds bounds the rounds of straightening. Each makes the path shorter, so
// the bound only guards against rounding; 20 are usual.
const maxRounds = 2000

// straighten makes a path through one strip locally shortest: the shortest way
// through the unfolded strip, then, wherever that bends round a point of the
// mesh with less than half a turn of surface on its outer side, the strip is
// moved to that side, until no such point is left.
func (s *Surface) straighten(p strip) polyline {
	s.trim(&p)
	line := s.throughStrip(&p)
	for range maxRounds {
		next := p
		next.faces, next.exits = slices.Clone(p.faces), slices.Clone(p.exits)
		if !s.relax(&next, &line) {
			break
		}
		s.trim(&next)
		shorter := s.throughStrip(&next)
		if !(shorter.lengthMM < line.lengthMM) {
			break
		}
		p, line = next, shorter
	}
	return line
}

// relax moves the strip to the other side of every bend where that is shorter;
// it says whether there was one.
func (s *Surface) relax(p *strip, line *polyline) bool {
	moved := false
	faces, exits := p.faces, p.exits
	for i := len(line.bends) - 1; i >= 0; i-- { // from the end: places stay valid
		b := line.bends[i]
		in, out := line.place[b.point-1], line.place[b.point]
		if in >= out {
			continue
		}
		round, ok := s.outerSide(faces, exits, &b, in, out)
		if !ok {
			continue
		}
		moved = true
		tail := slices.Clone(exits[out:])
		exits = append(exits[:in], round...)
		exits = append(exits, tail...)
	}
	if !moved {
		return false
	}
	start := faces[0]
	p.faces, p.exits = []int32{start}, nil
	for _, h := range exits {
		p.cross(h, s.adj.twin[h])
	}
	return true
}

// outerSide walks from face in to face out of the strip round the bend on the
// side the strip does not take, and gives the half-edges crossed if there is
// less than half a turn of surface on that side.
func (s *Surface) outerSide(faces, exits []int32, b *bend, in, out int32) ([]int32, bool) {
	h := s.otherHalfAt(faces[in], b.v, exits[in])
	goal := s.otherHalfAt(faces[out], b.v, s.adj.twin[exits[out-1]])
	turn := b.inRad + b.outRad
	var crossed []int32
	for turn < math.Pi-bendRad {
		t := s.adj.twin[h]
		if t < 0 {
			return nil, false
		}
		crossed = append(crossed, h)
		if t == goal {
			return crossed, true
		}
		turn += s.cornerAtRad(t/3, b.v)
		h = s.otherHalfAt(t/3, b.v, t)
	}
	return nil, false
}

// bendRad is how much less than half a turn the outer side of a bend must be
// before the strip is moved; the length gained below it is lost in rounding.
const bendRad = 1e-9

// otherHalfAt is the half-edge of face f that touches point v, other than h.
func (s *Surface) otherHalfAt(f, v, h int32) int32 {
	k := s.cornerAt(f, v)
	if k == h {
		return prevHalf(k)
	}
	return k
}

// cornerAt is the half-edge of face f that starts from point v.
func (s *Surface) cornerAt(f, v int32) int32 {
	t := &s.m.Faces[f]
	for k := range int32(3) {
		if t[k] == v {
			return 3*f + k
		}
	}
	return 3 * f
}

func (s *Surface) cornerAtRad(f, v int32) float64 { return s.cornerRad(s.cornerAt(f, v)) }
