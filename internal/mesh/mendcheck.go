package mesh

import (
	"cmp"
	"slices"

	"fettle/internal/geom"
)

// draft is the mesh as it would be: points keep their numbers.
type draft struct {
	m       *Mesh
	parent  []int32           // face of the old mesh
	origin  [][3]int32        // half-edge of the old mesh that a half-edge lies on, -1 within a divided face
	changed []bool            // other corners, or one that moved
	put     map[[2]int32]bool // face of the old mesh, and point put into an edge of it
	now     []int32           // point of the draft of each point of the mesh
}

// draft makes the mesh of what is meant.
func (w *mender) draft() *draft {
	d := &draft{m: &Mesh{Points: slices.Clone(w.m.Points)}, put: map[[2]int32]bool{}}
	if w.m.Label != nil {
		d.m.Label = []int32{}
	}
	for _, g := range w.group {
		if len(g) > 1 {
			d.m.Points[g[0]] = w.middle(g)
		}
	}
	at := map[int32][]putPoint{} // by half-edge
	for _, p := range w.put {
		h := w.free.half[p.edge]
		at[h] = append(at[h], p)
		d.put[[2]int32{h / 3, w.now(p.point)}] = true
	}
	d.now = make([]int32, len(w.m.Points))
	for v := range d.now {
		d.now[v] = w.now(int32(v))
	}
	for f, t := range w.m.Faces {
		f := int32(f)
		moved := false
		for k := range t {
			moved = moved || len(w.members(t[k])) > 1
			t[k] = w.now(t[k])
		}
		var in [3][]int32
		for k := range in {
			for _, p := range at[3*f+int32(k)] {
				in[k] = append(in[k], w.now(p.point))
			}
		}
		if len(in[0])+len(in[1])+len(in[2]) > 0 {
			d.divide(w.m, f, t, in)
		} else {
			d.add(w.m, f, t, [3]int32{3 * f, 3*f + 1, 3*f + 2}, moved)
		}
	}
	return d
}

// middle is the mean of points.
func (w *mender) middle(g []int32) (mid geom.Vec) {
	for _, v := range g {
		mid = mid.Add(w.m.Points[v].Scale(1 / float64(len(g))))
	}
	return mid
}

func (d *draft) add(from *Mesh, parent int32, t, origin [3]int32, changed bool) {
	d.m.Faces = append(d.m.Faces, t)
	d.parent, d.origin, d.changed = append(d.parent, parent), append(d.origin, origin), append(d.changed, changed)
	if from.Label != nil {
		d.m.Label = append(d.m.Label, from.Label[parent])
	}
}

// divide adds a face of whose edges some are divided in points: triangles from the
// corner opposite the first such edge to its parts; the two outermost of these have
// the other edges, and are divided in turn.
func (d *draft) divide(from *Mesh, f int32, t [3]int32, in [3][]int32) {
	type piece struct {
		t      [3]int32
		origin [3]int32
		in     [3][]int32
	}
	todo := []piece{{t, [3]int32{3 * f, 3*f + 1, 3*f + 2}, in}}
	for len(todo) > 0 {
		p := todo[0]
		todo = todo[1:]
		k := slices.IndexFunc(p.in[:], func(in []int32) bool { return len(in) > 0 })
		if k < 0 {
			d.add(from, f, p.t, p.origin, true)
			continue
		}
		a, b, c := p.t[k], p.t[(k+1)%3], p.t[(k+2)%3]
		chain := append(append([]int32{a}, p.in[k]...), b)
		for i := 0; i+1 < len(chain); i++ {
			q := piece{t: [3]int32{chain[i], chain[i+1], c}, origin: [3]int32{p.origin[k], -1, -1}}
			if i+2 == len(chain) {
				q.origin[1], q.in[1] = p.origin[(k+1)%3], p.in[(k+1)%3]
			}
			if i == 0 {
				q.origin[2], q.in[2] = p.origin[(k+2)%3], p.in[(k+2)%3]
			}
			todo = append(todo, q)
		}
	}
}

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
		var from [2]int32
		was, open := true, true // all of three and more before; all free
		for i, h := range halves {
			o := b.d.origin[h/3][h%3]
			from[min(i, 1)] = o
			was = was && o >= 0 && twin[o] == crowd
			open = open && o >= 0 && twin[o] == border
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

// regroup keeps of points that became one only those whose triangles now hang
// together over edges there, and of points put into edges those that closed
// something; it says whether that changed anything.
func (w *mender) regroup(d *draft) bool {
	at := map[int32][]int32{} // faces at the points that became one or were put in
	for _, g := range w.group {
		if len(g) > 1 {
			at[g[0]] = nil
		}
	}
	for _, p := range w.put {
		at[w.now(p.point)] = nil
	}
	for f, t := range d.m.Faces {
		for _, v := range t {
			if list, ok := at[v]; ok {
				at[v] = append(list, int32(f))
			}
		}
	}
	points := make([]int32, 0, len(at))
	for v := range at {
		points = append(points, v)
	}
	slices.Sort(points)
	changed := false
	drop := map[[2]int32]bool{}
	for _, v := range points {
		members := slices.Clone(w.members(v))
		of, root := w.fans(d, v, at[v], members)
		for _, f := range at[v] {
			key := [2]int32{d.parent[f], v}
			if d.put[key] && !slices.Contains(root, of[f]) {
				drop[key] = true
			}
		}
		if g := w.groupOf(v); g >= 0 && w.splitGroup(g, members, root) {
			changed = true
		}
	}
	n := len(w.put)
	w.put = slices.DeleteFunc(w.put, func(p putPoint) bool {
		return drop[[2]int32{w.free.half[p.edge] / 3, d.now[p.point]}]
	})
	return changed || len(w.put) < n
}

// fans says which fan of triangles at point v each triangle and each of the points
// that became v is of.
func (w *mender) fans(d *draft, v int32, faces, members []int32) (of map[int32]int32, root []int32) {
	p := newPieces(len(faces) + len(members))
	type side struct{ to, face int32 }
	var sides []side
	for i, f := range faces {
		for _, u := range d.m.Faces[f] {
			if u != v {
				sides = append(sides, side{u, int32(i)})
			}
		}
		for k, u := range members {
			if t := &w.m.Faces[d.parent[f]]; t[0] == u || t[1] == u || t[2] == u {
				p.join(int32(i), int32(len(faces)+k))
			}
		}
	}
	slices.SortFunc(sides, func(a, b side) int { return cmp.Or(cmp.Compare(a.to, b.to), cmp.Compare(a.face, b.face)) })
	for i := 0; i < len(sides); {
		k := i
		for k < len(sides) && sides[k].to == sides[i].to {
			k++
		}
		if k-i == 2 {
			p.join(sides[i].face, sides[i+1].face)
		}
		i = k
	}
	of = map[int32]int32{}
	for i, f := range faces {
		of[f] = p.root(int32(i))
	}
	for k := range members {
		root = append(root, p.root(int32(len(faces)+k)))
	}
	return of, root
}

// splitGroup keeps together the members of one root.
func (w *mender) splitGroup(g int32, members, root []int32) bool {
	if slices.Min(root) == slices.Max(root) {
		return false
	}
	w.group[g] = nil
	for _, v := range members {
		delete(w.of, v)
	}
	for i, r := range root {
		if slices.Index(root, r) != i {
			continue
		}
		var part []int32
		for k, v := range members {
			if root[k] == r {
				part = append(part, v)
			}
		}
		if len(part) == 1 {
			w.left[part[0]] = leftPoint
			continue
		}
		for _, v := range part {
			w.of[v] = int32(len(w.group))
		}
		w.group = append(w.group, part)
	}
	return true
}

// blunt refuses the closing of an opening of which an end remains that is narrow
// and has an edge across it.
func (b *badPlaces) blunt() {
	adj := newAdjacency(b.d.m)
	free := newFreeEdges(b.d.m, &adj)
	joined := map[int32]bool{}
	for _, g := range b.w.group {
		if len(g) > 1 {
			joined[g[0]] = true
		}
	}
	for _, p := range b.w.put {
		joined[b.w.now(p.point)] = true
	}
	var runs *closedRuns
	byLine := make([][]int32, len(free.lines))
	for i := range free.half {
		byLine[free.line[i]] = append(byLine[free.line[i]], int32(i))
	}
	for l, edges := range byLine {
		if !free.lines[l].closed {
			continue
		}
		end, ok := b.bluntEnd(free, edges, joined)
		if !ok {
			continue
		}
		if runs == nil {
			runs = b.closedRuns()
		}
		for _, v := range runs.from(end) {
			b.refuse([]int32{v}, runs.hosts[v], leftBlunt)
			b.refuse([]int32{v}, nil, leftBlunt)
		}
	}
}

// bluntEnd is the only point of a closed free line that was joined, if the line is
// the remainder of an opening and no wider than the tolerance.
func (b *badPlaces) bluntEnd(free *freeEdges, edges []int32, joined map[int32]bool) (end int32, ok bool) {
	n, across := 0, false
	var area geom.Vec
	o, _ := free.segment(edges[0])
	far := 0.0
	for _, i := range edges {
		u, v := free.ends(i)
		p, q := free.segment(i)
		if joined[u] {
			end, n = u, n+1
		}
		across = across || !joined[u] && !joined[v] && p.Dist(q) <= b.w.tol
		area = area.Add(p.Sub(o).Cross(q.Sub(o)).Scale(0.5))
		far = max(far, p.Dist(o))
	}
	return end, n == 1 && across && area.Norm() <= b.w.tol*far
}

// closedRuns is the edges that were closed within one free line, by their points.
type closedRuns struct {
	beside map[int32][]int32
	hosts  map[int32][]int32 // faces at such edges
}

func (b *badPlaces) closedRuns() *closedRuns {
	r := &closedRuns{map[int32][]int32{}, map[int32][]int32{}}
	twin, free := b.w.adj.twin, b.w.free
	b.d.m.edgeGroups(func(u, v int32, halves []int32) {
		if len(halves) != 2 {
			return
		}
		var line [2]int32
		for i, h := range halves {
			o := b.d.origin[h/3][h%3]
			if o < 0 || twin[o] != border {
				return
			}
			line[i] = free.line[free.place(o)]
		}
		if line[0] != line[1] {
			return
		}
		r.beside[u], r.beside[v] = append(r.beside[u], v), append(r.beside[v], u)
		for _, h := range halves {
			r.hosts[u], r.hosts[v] = append(r.hosts[u], h/3), append(r.hosts[v], h/3)
		}
	})
	return r
}

// from is the points that hang together with one over closed edges.
func (r *closedRuns) from(v int32) []int32 {
	seen, out := map[int32]bool{v: true}, []int32{v}
	for i := 0; i < len(out); i++ {
		for _, u := range r.beside[out[i]] {
			if !seen[u] {
				seen[u] = true
				out = append(out, u)
			}
		}
	}
	return out
}

// finish is the mended mesh and what was done.
func (w *mender) finish(d *draft) *Mended {
	out := &Mended{Parent: d.parent, Before: w.m.Faults()}
	slices.SortFunc(w.group, func(a, b []int32) int { return slices.Compare(a, b) })
	for _, g := range w.group {
		if len(g) < 2 {
			continue
		}
		j := JoinedPoints{At: d.m.Points[g[0]]}
		for _, u := range g {
			j.From = append(j.From, w.m.Points[u])
			for _, v := range g {
				j.ApartMM = max(j.ApartMM, w.m.Points[u].Dist(w.m.Points[v]))
			}
		}
		out.Joined = append(out.Joined, j)
	}
	for _, p := range w.put {
		a, b := w.free.segment(p.edge)
		out.Divided = append(out.Divided, DividedEdge{d.m.Points[d.now[p.point]], p.offMM, [2]geom.Vec{a, b}})
	}
	adj := newAdjacency(d.m)
	free := newFreeEdges(d.m, &adj)
	for _, v := range w.free.points {
		why, ok := w.left[v]
		if _, open := slices.BinarySearch(free.points, w.now(v)); ok && open {
			out.Left = append(out.Left, LeftOpen{w.m.Points[v], why})
		}
	}
	out.Still = free.gaps()
	out.Mesh = d.m.compact()
	out.After = out.Mesh.Faults()
	return out
}

// compact leaves out points that no face uses.
func (m *Mesh) compact() *Mesh {
	place := make([]int32, len(m.Points))
	out := &Mesh{Faces: slices.Clone(m.Faces), Label: m.Label}
	for _, t := range m.Faces {
		place[t[0]], place[t[1]], place[t[2]] = 1, 1, 1
	}
	for v, used := range place {
		if used != 0 {
			place[v] = int32(len(out.Points))
			out.Points = append(out.Points, m.Points[v])
		}
	}
	for f := range out.Faces {
		for k, v := range out.Faces[f] {
			out.Faces[f][k] = place[v]
		}
	}
	return out
}
