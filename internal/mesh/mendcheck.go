package mesh

import (
	"slices"

	"fettle/internal/geom"
)

// badPlaces is what has to be taken back of a draft.
type badPlaces struct {
	w      *mender
	d      *draft
	found  bool
	groups map[int32]string    // by number
	puts   map[[2]int32]string // by face of the old mesh, and point
}

// giveUp takes back whatever makes the draft worse than the mesh, and says whether
// there was such.
func (w *mender) giveUp(d *draft) (bool, error) {
	b := &badPlaces{w: w, d: d, groups: map[int32]string{}, puts: map[[2]int32]string{}}
	b.faces()
	b.edges()
	if b.takeBack() || w.regroup(d) {
		return true, nil
	}
	if err := b.contacts(); err != nil {
		return false, err
	}
	if b.takeBack() {
		return true, nil
	}
	b.blunt()
	return b.takeBack(), nil
}

// refuse marks what made these points of these faces what they are: the points put
// into their edges, or if there are none the points that became one.
func (b *badPlaces) refuse(points, faces []int32, why string) {
	b.found = true
	any := false
	for _, f := range faces {
		for _, v := range points {
			if key := [2]int32{b.d.parent[f], v}; b.d.put[key] {
				b.puts[key], any = why, true
			}
		}
	}
	for _, v := range points {
		if g := b.w.groupOf(v); g >= 0 && !any {
			b.groups[g] = why
		}
	}
}

// takeBack does away with what was refused. Were nothing to blame, nothing would be
// mended at all.
func (b *badPlaces) takeBack() bool {
	if !b.found {
		return false
	}
	w := b.w
	if len(b.groups)+len(b.puts) == 0 {
		w.group, w.of, w.put = nil, map[int32]int32{}, nil
		return true
	}
	w.put = slices.DeleteFunc(w.put, func(p putPoint) bool {
		why, bad := b.puts[[2]int32{w.free.half[p.edge] / 3, w.now(p.point)}]
		if bad {
			w.left[p.point] = why
		}
		return bad
	})
	for g, why := range b.groups {
		w.dissolve(g, why)
	}
	return true
}

func (w *mender) dissolve(g int32, why string) {
	for _, v := range w.group[g] {
		delete(w.of, v)
		w.left[v] = why
	}
	w.group[g] = nil
}

// faces refuses triangles that turned over or lost their area.
func (b *badPlaces) faces() {
	for f, changed := range b.d.changed {
		if !changed {
			continue
		}
		t := b.d.m.Faces[f]
		was, is := b.w.m.areaVec(int(b.d.parent[f])), b.d.m.areaVec(f)
		if collapsed(t) || was != (geom.Vec{}) && !(was.Dot(is) > 0) {
			b.refuse(t[:], []int32{int32(f)}, leftTurned)
		}
	}
}

// areaVec is twice the area of face f along its normal.
func (m *Mesh) areaVec(f int) geom.Vec {
	a, b, c := m.corners(f)
	return b.Sub(a).Cross(c.Sub(a))
}

// edges refuses edges that got a third triangle, and sides that were brought
// together and lie back to back or disagree about the outside.
func (b *badPlaces) edges() {
	twin := b.w.adj.twin
	b.d.m.edgeGroups(func(u, v int32, halves []int32) {
		if len(halves) < 2 {
			return
		}
		var faces []int32
		was, open := true, true // all of three and more before; all free
		for _, h := range halves {
			o := b.d.origin[h/3][h%3]
			was = was && o != none && twin[o] == crowd
			open = open && o != none && twin[o] == border
			faces = append(faces, h/3)
		}
		switch {
		case len(halves) > 2:
			if !was {
				b.refuse([]int32{u, v}, faces, leftThree)
			}
		case !open: // as before, or within a divided face
		case first(b.d.m.halfEnds(halves[0])) == first(b.d.m.halfEnds(halves[1])):
			b.refuse([]int32{u, v}, faces, leftDisagree)
		case b.d.m.FaceNormal(int(faces[0])).Dot(b.d.m.FaceNormal(int(faces[1]))) < backToBack:
			b.refuse([]int32{u, v}, faces, leftBack)
		}
	})
}

// contacts refuses changed triangles that meet others which their like did not meet
// before.
func (b *badPlaces) contacts() error {
	now, before := contactFinder{m: b.d.m}, contactFinder{m: b.w.m}
	boxes, all := make([]boxed, 0, len(b.d.m.Faces)), make([]boxed, len(b.d.m.Faces))
	for f, t := range b.d.m.Faces {
		p, q, r := b.d.m.corners(f)
		all[f] = boxOf(int32(f), p, q, r)
		now.eps = max(now.eps, maxCoord(p), maxCoord(q), maxCoord(r))
		if !collapsed(t) && b.d.m.areaVec(f) != (geom.Vec{}) {
			boxes = append(boxes, all[f])
		}
	}
	now.eps *= contactRel
	before.eps = now.eps
	t := newTree(boxes)
	pairs := contactPairs + contactPairsPerFace*len(b.d.m.Faces)
	var near []int32
	for f, changed := range b.d.changed {
		if !changed {
			continue
		}
		near = t.overlaps(&all[f], near[:0])
		if pairs -= len(near); pairs < 0 {
			return invalid("too many triangles lie upon one another to see whether the surface would meet itself", "take out triangles that are there more than once")
		}
		for _, g := range near {
			f, g := min(int32(f), g), max(int32(f), g)
			if _, met := now.meet(f, g); !met {
				continue
			}
			p, q := b.d.parent[f], b.d.parent[g]
			if _, met := before.meet(min(p, q), max(p, q)); p == q || !met {
				both := slices.Concat(b.d.m.Faces[f][:], b.d.m.Faces[g][:])
				b.refuse(both, []int32{f, g}, leftContact)
			}
		}
	}
	return nil
}
