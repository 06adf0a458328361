package mesh

import "reflect"

// Bytes is about the memory that the surface takes with its mesh: its tables and trees,
// as far as they are made. The room that searches leave for the next ones is not
// counted: it is given back when nobody searches.
func (s *Surface) Bytes() int {
	n := s.m.Bytes() + bytesOf(s.adj.twin) + bytesOf(s.adj.start) + bytesOf(s.adj.corner) + bytesOf(s.pivots.known) + bytesOf(s.pivots.bends)
	t := &s.faces
	n += t.tree.bytes() + bytesOf(t.leaf) + bytesOf(t.points) + bytesOf(t.wide) + bytesOf(t.blocks)
	if t.planes != nil && t.planes.made.Load() {
		n += bytesOf(t.planes.block)
	}
	n += bytesOf(s.borders.edges) + bytesOf(s.borders.labels)
	for i := range s.borders.trees {
		n += s.borders.trees[i].bytes()
	}
	return n
}

// Bytes is the memory that the points, faces and labels take.
func (m *Mesh) Bytes() int { return bytesOf(m.Points) + bytesOf(m.Faces) + bytesOf(m.Label) }

func (t *tree) bytes() int { return bytesOf(t.nodes) + bytesOf(t.items) }

// bytesOf is the room of a slice whose elements hold no pointers.
func bytesOf[T any](s []T) int { return cap(s) * int(reflect.TypeFor[T]().Size()) }
