package mesh

import (
	"fmt"
	"math"
	"slices"

	"fettle/internal/elem"
	"fettle/internal/geom"
)

// shell is a piece of a mesh that encloses a volume with one agreed outside.
type shell struct {
	faces  []int32
	volume float64 // negative where the normals point inward
	lo, hi geom.Vec
	within int  // how many walls lie round it: those of outward shells less those of inward ones
	cross  bool // it lies partly within another
}

// cavity says that the shell encloses a void within metal.
func (s *shell) cavity() bool { return s.volume < 0 && s.within == 1 }

// sound says that there is metal on one side of the shell and none on the other.
func (s *shell) sound() bool {
	return !s.cross && (s.volume > 0 && s.within == 0 || s.cavity())
}

// shellWork is how many faces are looked at to see which shell lies in which. Our
// choice, no source: seconds.
const shellWork = 50000000

// shells is the closed pieces of a mesh in the order of their smallest face, and
// for each face the place of its shell, none without one. Which lies in which is
// told by the solid angle that the one has from a point of the other (A. van
// Oosterom, J. Strackee, The solid angle of a plane triangle, 1983): a full turn
// from within, nothing from outside. Not whole: there are too many to tell.
func (m *Mesh) shells() (list []shell, of []int32, whole bool) {
	parts, sound := newPieces(len(m.Faces)), make([]bool, len(m.Faces))
	for f, t := range m.Faces {
		sound[f] = !collapsed(t)
	}
	var torn []int32 // faces at edges that no closed piece has
	m.edgeGroups(func(_, _ int32, halves []int32) {
		for _, h := range halves[1:] {
			parts.join(halves[0]/3, h/3)
		}
		if len(halves) != 2 || first(m.halfEnds(halves[0])) == first(m.halfEnds(halves[1])) {
			torn = append(torn, halves[0]/3)
		}
	})
	for _, f := range torn {
		sound[parts.root(f)] = false
	}
	of = make([]int32, len(m.Faces))
	for f := range of {
		r := parts.root(int32(f))
		of[f] = none
		if !sound[r] {
			continue
		}
		if r == int32(f) {
			of[f] = int32(len(list))
			list = append(list, shell{lo: m.Points[m.Faces[f][0]], hi: m.Points[m.Faces[f][0]]})
		}
		of[f] = of[r]
		s := &list[of[f]]
		s.faces = append(s.faces, int32(f))
		for _, v := range m.Faces[f] {
			s.lo, s.hi = grow(s.lo, s.hi, m.Points[v])
		}
	}
	for i := range list {
		list[i].volume = m.coneVolume(list[i].faces, list[i].lo.Lerp(list[i].hi, 0.5))
	}
	return list, of, m.nest(list, shellWork)
}

// nest counts what lies round every shell; false when that takes more than some work.
func (m *Mesh) nest(list []shell, work int) bool {
	for i := range list {
		for k := range list {
			if k == i || !list[i].overlaps(&list[k]) {
				continue
			}
			if work -= shellPlaces * len(list[k].faces); work < 0 {
				return false
			}
			turns, same := m.turnsRound(&list[i], &list[k])
			list[i].within += turns
			list[i].cross = list[i].cross || !same
		}
	}
	return true
}

func (s *shell) overlaps(o *shell) bool {
	for k := range 3 {
		if s.lo[k] > o.hi[k] || s.hi[k] < o.lo[k] {
			return false
		}
	}
	return true
}

// shellPlaces is how many places of a shell are asked where they lie. Our choice, no source.
const shellPlaces = 8

// turnsRound is how many times a shell goes round another one, and whether all of
// some places of that say the same. Those that lie on it, where it is half, do not count.
func (m *Mesh) turnsRound(s, round *shell) (turns int, same bool) {
	asked := false
	same = true
	for k := range shellPlaces {
		a, b, c := m.corners(int(s.faces[k*len(s.faces)/shellPlaces]))
		w, on := m.solidAngle(round.faces, a.Add(b).Add(c).Scale(1./3))
		if n := int(math.Round(w / (4 * math.Pi))); !on {
			same = same && (!asked || n == turns)
			turns, asked = n, true
		}
	}
	return turns, same && asked
}

// solidAngle is that of some faces seen from a point, positive where their normals
// point away from it, and whether the point lies on one of them.
func (m *Mesh) solidAngle(faces []int32, p geom.Vec) (sum float64, on bool) {
	for _, f := range faces {
		a, b, c := m.corners(int(f))
		a, b, c = a.Sub(p), b.Sub(p), c.Sub(p)
		x, y, z := a.Norm(), b.Norm(), c.Norm()
		up, along := a.Dot(b.Cross(c)), float64(x*y*z)+float64(a.Dot(b)*z)+float64(b.Dot(c)*x)+float64(c.Dot(a)*y)
		flat := 1e-9 * x * y * z // on an edge along is 0 but for rounding
		on = on || along <= flat && math.Abs(up) <= flat
		sum += 2 * elem.Atan2(up, along)
	}
	return sum, on
}

// shellsDoubt says why the closed pieces of a mesh do not say where its metal is.
func (m *Mesh) shellsDoubt() string {
	list, _, whole := m.shells()
	return m.doubtOf(list, whole)
}

func (m *Mesh) doubtOf(list []shell, whole bool) string {
	if !whole {
		return fmt.Sprintf("the mesh has %d closed pieces, too many to see which lies in which: there is no volume", len(list))
	}
	if !slices.ContainsFunc(list, func(s shell) bool { return s.volume >= 0 }) {
		return "the mesh is inside out, its normals point into the metal: there is no volume"
	}
	for _, s := range list {
		p := m.Points[m.Faces[s.faces[0]][0]]
		switch {
		case s.sound():
		case s.cross:
			return fmt.Sprintf("the closed piece at %.1f, %.1f, %.1f crosses or lies upon another: there is no volume", p[0], p[1], p[2])
		case s.volume < 0:
			return fmt.Sprintf("the closed piece at %.1f, %.1f, %.1f is inside out: there is no volume", p[0], p[1], p[2])
		case s.volume == 0:
			return fmt.Sprintf("the closed piece at %.1f, %.1f, %.1f is flat: there is no volume", p[0], p[1], p[2])
		default:
			return fmt.Sprintf("the closed piece at %.1f, %.1f, %.1f lies within another, and its normals say that it is metal and not a void: there is no volume", p[0], p[1], p[2])
		}
	}
	return ""
}

// Cavities is how many closed voids within its metal a mesh has.
func (m *Mesh) Cavities() int {
	list, _, _ := m.shells()
	n := 0
	for i := range list {
		if list[i].cavity() {
			n++
		}
	}
	return n
}
