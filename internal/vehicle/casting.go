package vehicle

import (
	"fettle/internal/halt"
	"fmt"
	"reflect"
	"slices"
	"sync"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// sized is the size of what was worked out; 0 before.
func sized[T any](o *halt.Once[T], size func(T) int) int {
	if found, ok := o.Found(); ok {
		return size(found)
	}
	return 0
}

// Casting is a casting of a body with what is asked of it more than once. Without a mesh
// only its regions, its borders and the feet of its ribs may be asked for: it has none.
type Casting struct {
	Of      *body.Casting
	Surface *mesh.Surface // nil: no mesh
	body    *body.Body
	work    *halt.Work // what the questions are part of
	*worked
}

// worked is what was worked out about a casting, for whoever asks. Nothing of it holds the
// work that it was part of.
type worked struct {
	numbers halt.Once[numbers]
	view    halt.Once[*outlook]
	regions halt.Once[[]Region] // of its zones
	edges   halt.Once[*Fixtures]
	ends    halt.Once[*WallEnds]
	joints  halt.Once[*Fixtures]
	feet    halt.Once[Feet]
	seams   halt.Once[[]mesh.SeamEdge]
	asked   asked

	mu    sync.Mutex // of the lists, not of what is in them
	lines []*dividedLine
	rims  []*boreRim
}

// Alone is a casting that no body is known of.
func Alone(of *body.Casting, s *mesh.Surface) *Casting {
	return &Casting{Of: of, Surface: s, worked: &worked{}}
}

// while is the casting for questions that are part of some work.
func (c *Casting) while(w *halt.Work) *Casting {
	return &Casting{Of: c.Of, Surface: c.Surface.While(w), body: c.body, work: w, worked: c.worked}
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
	x := c.numbers.Get(c.work, func() numbers {
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
func (c *Casting) outlook() *outlook { return c.view.Get(c.work, c.lookAround) }

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
func (c *Casting) FreeEdges() *Fixtures { return c.edges.Get(c.work, c.findEdges) }

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
func (c *Casting) Joints() *Fixtures { return c.joints.Get(c.work, c.findJoints) }

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
	of   halt.Once[division]
}

// division is what became of dividing it.
type division struct {
	parted *Parted
	err    error
}

// Part divides the casting along a line, once for every line.
func (c *Casting) Part(l body.Line) (*Parted, error) {
	x := c.dividing(l).of.Get(c.work, func() division {
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
