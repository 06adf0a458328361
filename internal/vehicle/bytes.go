package vehicle

import (
	"reflect"

	"fettle/internal/mesh"
)

// Bytes is about the memory that the vehicle takes now: its meshes, what was worked out
// on them so far, and what is kept of pictures and ways. A mesh that it shares with
// another vehicle counts in both.
func (v *Vehicle) Bytes() int {
	n := v.Album.Bytes()
	for _, c := range v.Castings {
		n += c.bytes()
	}
	return n
}

func (c *Casting) bytes() int {
	if c.Surface == nil {
		return 0
	}
	n := c.Surface.Bytes() + c.asked.keptBytes() + sized(&c.numbers, func(x numbers) int { return bytesOf(x.of) })
	n += sized(&c.view, func(o *outlook) int {
		n := bytesOf(o.edges)
		for _, b := range o.borders {
			n += b.Edges.Bytes()
		}
		return n
	})
	n += sized(&c.regions, func(all []Region) int {
		n := 0
		for _, r := range all {
			n += bytesOf(r.Points) + r.Near.Bytes()
		}
		return n
	})
	n += sized(&c.edges, (*Fixtures).bytes) + sized(&c.joints, (*Fixtures).bytes)
	n += sized(&c.ends, func(e *WallEnds) int { return e.Fixtures.bytes() + mapEntry*len(e.On) })
	n += sized(&c.feet, func(f Feet) int {
		n := 0
		for _, x := range f.By {
			n += bytesOf(x.Points)
		}
		return n
	})
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, d := range c.lines {
		n += sized(&d.of, func(x division) int { return x.parted.bytes() })
	}
	for _, r := range c.rims {
		n += sized(&r.lines, sitesBytes)
	}
	return n
}

// mapEntry is about what an entry of a map from a face to little takes.
const mapEntry = 16

func (f *Fixtures) bytes() int {
	n := bytesOf(f.Targets)
	for _, t := range f.Targets {
		n += t.bytes
	}
	return n
}

func (p *Parted) bytes() int {
	if p == nil {
		return 0
	}
	s := &p.Section
	n := s.Split.Mesh.Bytes() + bytesOf(s.Split.Parent) + bytesOf(s.Rest.Faces) + bytesOf(s.Outer.Faces) + bytesOf(p.outer) + p.cut.Bytes()
	for _, a := range s.Split.Above {
		n += bytesOf(a)
	}
	for _, l := range s.Loops {
		n += bytesOf(l.Points)
	}
	return n + (bytesOf([]int32{0, 0})+3*mapEntry)*len(p.children)
}

func sitesBytes(lines [][]mesh.Site) int {
	n := bytesOf(lines)
	for _, l := range lines {
		n += bytesOf(l)
	}
	return n
}

// bytesOf is the room of a slice, without what its elements point to.
func bytesOf[T any](s []T) int { return cap(s) * int(reflect.TypeFor[T]().Size()) }
