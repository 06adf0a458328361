package inspect

import (
	"fmt"
	"reflect"
	"slices"
	"sync"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/vehicle"
)

// Ground is what of the castings of one body does not depend on a job: borders,
// edges, joints, ribs, and the castings divided along their section lines. It
// is worked out when first asked for; jobs that share a Ground, one after another
// or at once, share that work and get the same answers.
type Ground struct {
	body     *body.Body
	surfaces map[body.CastingID]*mesh.Surface
	castings []*grounded // in the order of the body
}

// NewGround is the ground of a body and its castings' meshes; neither may
// change afterwards. It costs nothing until it is used.
func NewGround(b *body.Body, surfaces map[body.CastingID]*mesh.Surface) *Ground {
	g := &Ground{body: b, surfaces: surfaces}
	for i := range b.Castings {
		c := &b.Castings[i]
		g.castings = append(g.castings, &grounded{body: b, casting: c, surf: surfaces[c.ID]})
	}
	return g
}

// Sharing takes over what the grounds of other bodies know of castings with the
// very same surface: how lines divide them that the body has too.
func (g *Ground) Sharing(others []*Ground) *Ground {
	for _, c := range g.castings {
		for _, o := range others {
			for _, k := range o.castings {
				if k.surf == c.surf && c.surf != nil {
					c.takeOver(k, g.body.Lines)
				}
			}
		}
	}
	return g
}

func (g *grounded) takeOver(from *grounded, lines []body.Line) {
	from.mu.Lock()
	defer from.mu.Unlock()
	for _, d := range from.lines {
		if slices.ContainsFunc(lines, func(l body.Line) bool { return reflect.DeepEqual(l, d.line) }) {
			g.lines = append(g.lines, d)
		}
	}
}

// ground is the one handed in where it is of this body, whatever its procedures
// are, otherwise a new one.
func (in Input) ground() *Ground {
	if g := in.Ground; g != nil && sameSlice(g.body.Castings, in.Body.Castings) && sameSlice(g.body.Joints, in.Body.Joints) {
		return g
	}
	return NewGround(in.Body, in.Surfaces)
}

// sameSlice: the same elements in memory, not just equal ones.
func sameSlice[T any](a, b []T) bool {
	return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0])
}

// once is what is worked out when it is first asked for, and only then.
type once[T any] struct {
	do sync.Once
	of T
}

func (o *once[T]) get(find func() T) T {
	o.do.Do(func() { o.of = find() })
	return o.of
}

// grounded is a casting with what is asked of it more than once.
type grounded struct {
	body    *body.Body
	casting *body.Casting
	surf    *mesh.Surface // nil: no mesh

	view    once[*outlook]
	regions once[[]region] // of its zones
	edges   once[*fixtures]
	ends    once[*foundEnds]
	joints  once[*fixtures]
	feet    once[feet]
	seams   once[[]mesh.SeamEdge]
	asked   asked

	mu    sync.Mutex // of the lists, not of what is in them
	lines []*dividedLine
	rims  []*boreRim
}

// outlook is what every finding asks of the mesh.
type outlook struct {
	borders    []borderEdge
	between    []borderSet // borders, by the labels they are between
	diagonalMM float64
}

// outlook is empty without a mesh.
func (g *grounded) outlook() *outlook { return g.view.get(g.lookAround) }

func (g *grounded) lookAround() *outlook {
	if g.surf == nil {
		return &outlook{}
	}
	lo, hi := g.surf.Mesh().Bounds()
	borders := append(borderEdges(g.surf.Mesh()), g.seamBorders()...)
	return &outlook{borders, borderSets(borders), lo.Dist(hi)}
}

// fixtures is the lines of one kind on a casting, and those whose place is not
// known.
type fixtures struct {
	targets []target
	missing []string
}

// freeEdgesOf is the free edges: those of the mesh, and those in the body's data. A
// closed mesh has none of its own, and then the data have to name them.
func (g *grounded) freeEdgesOf() *fixtures { return g.edges.get(g.findEdges) }

func (g *grounded) findEdges() *fixtures {
	f := &fixtures{}
	for i, c := range chains(freeEdges(g.surf.Mesh())) {
		var line []mesh.Site
		for _, q := range c {
			s, _ := g.surf.Closest(q)
			line = append(line, s)
		}
		f.targets = append(f.targets, fixed(fmt.Sprintf("%d of the mesh", i+1), [][]mesh.Site{line}, 0))
	}
	var names []string
	var lines [][][]geom.Vec
	for _, e := range g.casting.Edges {
		names, lines = append(names, e.ID), append(lines, [][]geom.Vec{e.Along})
	}
	if len(f.targets) == 0 && len(names) == 0 {
		f.missing = []string{"this casting (its mesh is closed and the body names no edges)"}
		return f
	}
	more, missing := g.lineTargets(names, lines, make([]float64, len(names)))
	f.targets, f.missing = append(f.targets, more...), missing
	return f
}

// jointsOf is the joints that hold the casting.
func (g *grounded) jointsOf() *fixtures { return g.joints.get(g.findJoints) }

func (g *grounded) findJoints() *fixtures {
	var names []string
	var lines [][][]geom.Vec
	for _, j := range g.body.JointsOf(g.casting.Part) {
		names, lines = append(names, string(j.ID)), append(lines, j.Along)
	}
	f := &fixtures{}
	f.targets, f.missing = g.lineTargets(names, lines, make([]float64, len(names)))
	if len(names) == 0 { // a casting is joined to something: the list is not there
		f.missing = []string{"any of them: the body names none"}
	}
	return f
}

// dividedLine is a casting divided along a section line.
type dividedLine struct {
	line   body.Line
	do     sync.Once
	parted *vehicle.Parted
	err    error
}

// Part is vehicle.Part, once for every line: a line that was asked for before is not
// cut anew. Without a ground, or for a surface that is not of it, it is.
func (g *Ground) Part(l body.Line, s *mesh.Surface) (*vehicle.Parted, error) {
	if g != nil {
		for _, c := range g.castings {
			if c.surf == s && s != nil {
				return c.parted(l)
			}
		}
	}
	return vehicle.Part(l, s)
}

// parted divides the casting along a line, once.
func (g *grounded) parted(l body.Line) (*vehicle.Parted, error) {
	d := g.dividing(l)
	d.do.Do(func() { d.parted, d.err = vehicle.Part(l, g.surf) })
	return d.parted, d.err
}

// dividing is the place of a line in the list.
func (g *grounded) dividing(l body.Line) *dividedLine {
	g.mu.Lock()
	defer g.mu.Unlock()
	i := slices.IndexFunc(g.lines, func(d *dividedLine) bool { return reflect.DeepEqual(d.line, l) })
	if i < 0 {
		i, g.lines = len(g.lines), append(g.lines, &dividedLine{line: l})
	}
	return g.lines[i]
}

// boreRim is a bore with its rim on the surface.
type boreRim struct {
	bore  body.Bore
	lines once[[][]mesh.Site]
}

// rim is the rim of a bore on the surface, worked out once.
func (g *grounded) rim(b body.Bore) [][]mesh.Site {
	g.mu.Lock()
	i := slices.IndexFunc(g.rims, func(r *boreRim) bool { return r.bore == b })
	if i < 0 {
		i, g.rims = len(g.rims), append(g.rims, &boreRim{bore: b})
	}
	r := g.rims[i]
	g.mu.Unlock()
	return r.lines.get(func() [][]mesh.Site { return g.boreLines(b) })
}
