package vehicle

import (
	"crypto/sha256"
	"encoding/binary"
	"math"
	"slices"
	"sync"

	"fettle/internal/mesh"
)

// asked keeps what a surface was asked for along itself, and the answers: of many
// findings one changes at a time, and the ways between the others are asked for again
// with the very same places. It is known by the bits of all that was asked. Goroutines
// may share it; what two ask for at once is answered twice, alike. The zero value is
// ready.
type asked struct {
	mu         sync.Mutex
	young, old map[[sha256.Size]byte]answer // old is what was asked for before; the rest is forgotten
	bytes      int                          // of the young
	oldBytes   int
}

// answer is one of a way, a clearance, distances to targets, and numbers.
type answer struct {
	path      mesh.Path
	clearance mesh.Clearance
	distances mesh.Distances
	numbers   []float64
	err       error
}

// mostAskedBytes bounds each half of what is kept of one surface: some thousand ways.
const mostAskedBytes = 8 << 20

func (x *answer) bytes() int {
	return 400 + 24*len(x.path.Points) + 8*len(x.path.Faces) + 8*len(x.distances.Targets) + 8*len(x.numbers)
}

// question is what is asked, bit by bit.
type question struct{ bits []byte }

func ask(what byte, numbers ...float64) *question {
	q := &question{bits: []byte{what}}
	q.add(numbers...)
	return q
}

func (q *question) add(numbers ...float64) {
	for _, n := range numbers {
		q.bits = binary.LittleEndian.AppendUint64(q.bits, math.Float64bits(n))
	}
}

func (q *question) of(sites ...mesh.Site) *question {
	q.bits = binary.LittleEndian.AppendUint64(q.bits, uint64(len(sites)))
	for _, s := range sites {
		q.bits = binary.LittleEndian.AppendUint64(q.bits, uint64(s.Face))
		q.add(s.Bary[:]...)
		q.add(s.At[:]...)
	}
	return q
}

// answered is the answer that is kept, or the one found now.
func (a *asked) answered(q *question, find func() answer) answer {
	key := sha256.Sum256(q.bits)
	if x, ok := a.known(key); ok {
		return x
	}
	x := find()
	a.keep(key, x)
	return x
}

func (a *asked) known(key [sha256.Size]byte) (answer, bool) {
	a.mu.Lock()
	x, ok := a.young[key]
	old, was := a.old[key]
	a.mu.Unlock()
	if !ok && was {
		a.keep(key, old)
		return old, true
	}
	return x, ok
}

func (a *asked) keep(key [sha256.Size]byte, x answer) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.young == nil || a.bytes > mostAskedBytes {
		a.young, a.old, a.bytes, a.oldBytes = map[[sha256.Size]byte]answer{}, a.young, 0, a.bytes
	}
	if _, twice := a.young[key]; !twice {
		a.young[key] = x
		a.bytes += x.bytes()
	}
}

func (a *asked) keptBytes() int {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.bytes + a.oldBytes
}

// Way is Path of the surface. The caller may change what it is given; so with the others.
func (c *Casting) Way(from, to mesh.Site) (mesh.Path, error) {
	return c.asked.way(ask('w').of(from, to), func() (mesh.Path, error) { return c.Surface.Path(from, to) })
}

// ShortestWay is ShortestPath of the surface.
func (c *Casting) ShortestWay(from, to mesh.Site) (mesh.Path, error) {
	return c.asked.way(ask('s').of(from, to), func() (mesh.Path, error) { return c.Surface.ShortestPath(from, to) })
}

func (a *asked) way(q *question, find func() (mesh.Path, error)) (mesh.Path, error) {
	x := a.answered(q, func() (x answer) {
		x.path, x.err = find()
		return x
	})
	x.path.Points, x.path.Faces = slices.Clone(x.path.Points), slices.Clone(x.path.Faces)
	return x.path, x.err
}

// Clearance is CurveDistance of the surface.
func (c *Casting) Clearance(a, b []mesh.Site, need float64) (mesh.Clearance, error) {
	x := c.asked.answered(ask('c', need).of(a...).of(b...), func() (x answer) {
		x.clearance, x.err = c.Surface.CurveDistance(a, b, need)
		return x
	})
	return x.clearance, x.err
}

// DistancesTo is TargetDistances of the surface from one place.
func (c *Casting) DistancesTo(from mesh.Site, targets []mesh.Site, limitMM float64) (mesh.Distances, error) {
	x := c.asked.answered(ask('d', limitMM).of(from).of(targets...), func() (x answer) {
		x.distances, x.err = c.Surface.TargetDistances([]mesh.Site{from}, targets, limitMM)
		return x
	})
	x.distances.Targets = slices.Clone(x.distances.Targets)
	return x.distances, x.err
}

// Kept is the numbers that something is found to be: what names it, and of is all that it
// hangs on beside the casting, which is always the same. They are found once, and nobody
// changes them.
func (c *Casting) Kept(what string, of []float64, find func() []float64) []float64 {
	q := ask('n', of...)
	q.bits = append(q.bits, what...)
	return c.asked.answered(q, func() answer { return answer{numbers: find()} }).numbers
}
