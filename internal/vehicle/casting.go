package vehicle

import (
	"fmt"
	"reflect"
	"slices"
	"sync"
	"sync/atomic"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// once is what is worked out when it is first asked for, and only then.
type once[T any] struct {
	do sync.Once
	of atomic.Pointer[T]
}

func (o *once[T]) get(find func() T) T {
	o.do.Do(func() {
		found := find()
		o.of.Store(&found)
	})
	return *o.of.Load()
}

// sized is the size of what was worked out; 0 before.
func (o *once[T]) sized(size func(T) int) int {
	if found := o.of.Load(); found != nil {
		return size(*found)
	}
	return 0
}

// Casting is a casting of a body with what is asked of it more than once. Without a mesh
// only its regions, its borders and the feet of its ribs may be asked for: it has none.
type Casting struct {
	Of      *body.Casting
	Surface *mesh.Surface // nil: no mesh
	body    *body.Body

	numbers once[numbers]
	view    once[*outlook]
	regions once[[]Region] // of its zones
	edges   once[*Fixtures]
	ends    once[*WallEnds]
	joints  once[*Fixtures]
	feet    once[Feet]
	seams   once[[]mesh.SeamEdge]
	asked   asked

	mu    sync.Mutex // of the lists, not of what is in them
	lines []*dividedLine
	rims  []*boreRim
}

func (c *Casting) takeOver(from *Casting, lines []body.Line) {
	from.mu.Lock()
	defer from.mu.Unlock()
	for _, d := range from.lines {
		if slices.ContainsFunc(lines, func(l body.Line) bool { return reflect.DeepEqual(l, d.line) }) {
			c.lines = append(c.lines, d)
		}
	}
}

// numbers is the edges of the mesh, numbered (mesh.EdgeOf).
type numbers struct {
	of []int32
	n  int
}

func (c *Casting) numbered() ([]int32, int) {
	x := c.numbers.get(func() numbers {
		of, n := c.Surface.Mesh().EdgeOf()
		return numbers{of, n}
	})
	return x.of, x.n
}

// outlook is what every finding asks of the mesh.
type outlook struct {
	edges      []borderEdge
	borders    []Border
	diagonalMM float64
}

// Borders is the borders between the labels of the mesh; none without a mesh.
func (c *Casting) Borders() []Border { return c.outlook().borders }

// DiagonalMM is the diagonal of the casting; 0 without a mesh.
func (c *Casting) DiagonalMM() float64 { return c.outlook().diagonalMM }

// outlook is empty without a mesh.
func (c *Casting) outlook() *outlook { return c.view.get(c.lookAround) }

func (c *Casting) lookAround() *outlook {
	if c.Surface == nil {
		return &outlook{}
	}
	lo, hi := c.Surface.Mesh().Bounds()
	edges := append(c.borderEdges(), c.seamBorders()...)
	return &outlook{edges, bordersOf(edges), lo.Dist(hi)}
}

// Fixtures is the lines of one kind on a casting, and those whose place is not
// known.
type Fixtures struct {
	Targets []Target
	Missing []string
}

// FreeEdges is the free edges: those of the mesh, and those in the body's data. A
// closed mesh has none of its own, and then the data have to name them.
func (c *Casting) FreeEdges() *Fixtures { return c.edges.get(c.findEdges) }

func (c *Casting) findEdges() *Fixtures {
	f := &Fixtures{}
	for i, line := range chains(c.freeEdges()) {
		f.Targets = append(f.Targets, fixed(fmt.Sprintf("%d of the mesh", i+1), [][]mesh.Site{c.nearest(line)}, 0))
	}
	var names []string
	var lines [][][]geom.Vec
	for _, e := range c.Of.Edges {
		names, lines = append(names, e.ID), append(lines, [][]geom.Vec{e.Along})
	}
	if len(f.Targets) == 0 && len(names) == 0 {
		f.Missing = []string{"this casting (its mesh is closed and the body names no edges)"}
		return f
	}
	named := c.Lay(names, lines, make([]float64, len(names)))
	f.Targets, f.Missing = append(f.Targets, named.Targets...), named.Missing
	return f
}

// Joints is the joints that hold the casting.
func (c *Casting) Joints() *Fixtures { return c.joints.get(c.findJoints) }

func (c *Casting) findJoints() *Fixtures {
	var names []string
	var lines [][][]geom.Vec
	for _, j := range c.body.JointsOf(c.Of.Part) {
		names, lines = append(names, string(j.ID)), append(lines, j.Along)
	}
	f := c.Lay(names, lines, make([]float64, len(names)))
	if len(names) == 0 { // a casting is joined to something: the list is not there
		f.Missing = []string{"any of them: the body names none"}
	}
	return f
}

// dividedLine is a casting divided along a section line.
type dividedLine struct {
	line body.Line
	of   once[division]
}

// division is what became of dividing it.
type division struct {
	parted *Parted
	err    error
}

// Part divides the casting along a line, once for every line.
func (c *Casting) Part(l body.Line) (*Parted, error) {
	x := c.dividing(l).of.get(func() division {
		p, err := Part(l, c.Surface)
		return division{p, err}
	})
	return x.parted, x.err
}

// dividing is the place of a line in the list.
func (c *Casting) dividing(l body.Line) *dividedLine {
	c.mu.Lock()
	defer c.mu.Unlock()
	i := slices.IndexFunc(c.lines, func(d *dividedLine) bool { return reflect.DeepEqual(d.line, l) })
	if i < 0 {
		i, c.lines = len(c.lines), append(c.lines, &dividedLine{line: l})
	}
	return c.lines[i]
}
