package mesh

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"fettle/internal/geom"
	"fettle/internal/halt"
)

// tangled is a mesh of faces drawn among few points on a grid: open, crowded and flipped
// edges, corners that are equal, faces without area and faces that are there twice.
func tangled(r *rand.Rand, points, faces int) *Mesh {
	m := &Mesh{}
	for range points {
		m.Points = append(m.Points, geom.Vec{float64(r.IntN(4)), float64(r.IntN(4)), float64(r.IntN(3))})
	}
	for range faces {
		m.Faces = append(m.Faces, [3]int32{r.Int32N(int32(points)), r.Int32N(int32(points)), r.Int32N(int32(points))})
		m.Label = append(m.Label, r.Int32N(3))
	}
	return m
}

// plainFaults counts faults by their definitions, edge by edge.
func plainFaults(m *Mesh) Faults {
	var out Faults
	of, turned := map[[2]int32][]int32{}, map[[2]int32]int{}
	for f, t := range m.Faces {
		a, b, c := m.corners(f)
		if b.Sub(a).Cross(c.Sub(a)) == (geom.Vec{}) {
			out.DegenerateFaces++
		}
		if t[0] == t[1] || t[1] == t[2] || t[0] == t[2] {
			continue
		}
		for k := range 3 {
			u, v := t[k], t[(k+1)%3]
			of[edgeOf(u, v)] = append(of[edgeOf(u, v)], int32(f))
			if u < v {
				turned[edgeOf(u, v)]++
			}
		}
	}
	near := map[int32][]int32{}
	for e, fs := range of {
		switch {
		case len(fs) == 1:
			out.OpenEdges++
		case len(fs) > 2:
			out.NonManifoldEdges++
		case turned[e] != 1:
			out.FlippedEdges++
		}
		for _, f := range fs {
			near[f] = append(near[f], fs...)
		}
	}
	seen := map[int32]bool{}
	for f := range near {
		if !seen[f] {
			out.Components++
		}
		for todo := []int32{f}; len(todo) > 0; todo = todo[1:] {
			if g := todo[0]; !seen[g] {
				seen[g] = true
				todo = append(todo, near[g]...)
			}
		}
	}
	return out
}

// Faults are what their definitions say, also those a surface finds from its neighbours; so are
// its contacts, its openings and what keeps it from having sides. Labelled anew it answers as
// a surface built of the other labels, and so it does as part of some work.
func TestSurfaceAnswersAsItsMesh(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 0))
	closed, crowds := 0, 0
	for k := range 400 {
		m := tangled(r, 4+r.IntN(9), 1+r.IntN(14))
		if k%4 == 0 {
			m = &Mesh{}
			addTetra(m, geom.Vec{float64(r.IntN(3)), 0, 0}, 1+r.Float64(), r.IntN(2) == 0)
			addTetra(m, geom.Vec{0.1, 0.1, 0.1}, 0.2+float64(r.IntN(2)), r.IntN(2) == 0)
		}
		want := plainFaults(m)
		if got := m.Faults(); got != want {
			t.Fatalf("mesh %d: %+v, want %+v", k, got, want)
		}
		s, err := NewSurface(m)
		if err != nil {
			continue // no face with three different corners
		}
		if got := s.faults(); got != want {
			t.Fatalf("mesh %d: the surface finds %+v, want %+v", k, got, want)
		}
		if want.NonManifoldEdges > 0 {
			crowds++
		}
		if want.OpenEdges+want.NonManifoldEdges+want.FlippedEdges == 0 {
			closed++
		}
		if s.Mesh() != m || s.SidesDoubt() != m.SidesDoubt() || s.Solid() != (want.Closed() && m.SidesDoubt() == "") || !reflect.DeepEqual(s.Gaps(), m.Gaps()) {
			t.Errorf("mesh %d: doubt %q, %q, solid %v, openings %+v, %+v", k, s.SidesDoubt(), m.SidesDoubt(), s.Solid(), s.Gaps(), m.Gaps())
		}
		a, n, whole := s.Contacts(3)
		b, o, all := m.Contacts(3)
		if !slices.Equal(a, b) || n != o || whole != all {
			t.Errorf("mesh %d: contacts %v, want %v", k, a, b)
		}
		label := make([]int32, len(m.Faces))
		for f := range label {
			label[f] = r.Int32N(3)
		}
		other, fresh := s.Labelled(label), surfaceOf(t, &Mesh{Points: m.Points, Faces: m.Faces, Label: label})
		if !reflect.DeepEqual(other.LabelBorders(), fresh.LabelBorders()) || !reflect.DeepEqual(other.m, fresh.m) || !reflect.DeepEqual(other.borders, fresh.borders) {
			t.Errorf("mesh %d: labelled anew it has other borders", k)
		}
		if !s.Same(s) || s.Same(other) || s.Same(nil) || (*Surface)(nil).Same(nil) || (*Surface)(nil).Same(s) {
			t.Errorf("mesh %d: which surface is the same", k)
		}
	}
	if closed < 100 || crowds < 100 {
		t.Errorf("only %d closed meshes and %d with crowds", closed, crowds)
	}
}

// addTetra adds a tetrahedron with a corner at a point.
func addTetra(m *Mesh, at geom.Vec, size float64, inward bool) {
	n := int32(len(m.Points))
	m.Points = append(m.Points, at, at.Add(geom.Vec{size, 0, 0}), at.Add(geom.Vec{0, size, 0}), at.Add(geom.Vec{0, 0, size}))
	for _, f := range [][3]int32{{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}} {
		if inward {
			f[1], f[2] = f[2], f[1]
		}
		m.Faces = append(m.Faces, [3]int32{n + f[0], n + f[1], n + f[2]})
	}
}

// counted is a context that is done when it has been asked so many times.
type counted struct {
	asked, last int
	done        chan struct{}
}

func (c *counted) Deadline() (time.Time, bool) { return time.Time{}, false }
func (c *counted) Value(any) any               { return nil }
func (c *counted) Done() <-chan struct{} {
	if c.asked++; c.asked == c.last {
		close(c.done)
	}
	return c.done
}
func (c *counted) Err() error {
	if c.asked >= c.last {
		return context.Canceled
	}
	return nil
}

// asks is how often work asks whether it is stopped, its beginning left out.
func asks(t *testing.T, f func(w *halt.Work)) int {
	t.Helper()
	c := &counted{last: math.MaxInt, done: make(chan struct{})}
	if err := halt.Do(c, f); err != nil {
		t.Error(err)
	}
	return c.asked - 1
}

// Long work asks often enough whether it is stopped: at least so often on the mesh given, by
// what it loops over; and when it is, it ends at once, with nothing kept that is half made.
func TestLongWorkIsStopped(t *testing.T) {
	m := bumpyTorus(20, 12, 4)
	for f := range m.Faces {
		m.Label = append(m.Label, int32(f/24%3))
	}
	open := &Mesh{Points: m.Points, Faces: m.Faces[:400]}
	fresh, torn := surfaceOf(t, m), surfaceOf(t, open)
	a, b := siteAtPoint(t, fresh, 0), siteAtPoint(t, fresh, 130)
	planes, box := []Plane{{Normal: geom.Vec{1, 0, 0}}}, &Window{Lo: geom.Vec{-400, 0, -400}, Hi: geom.Vec{400, 400, 400}}
	for name, c := range map[string]struct {
		least int
		ask   func(w *halt.Work)
	}{
		"closest":        {1, func(w *halt.Work) { fresh.While(w).Closest(m.Points[3]) }},
		"closest facing": {1, func(w *halt.Work) { fresh.While(w).ClosestFacing(m.Points[3], geom.Vec{0, 0, 1}, 1, 1e9) }},
		"walls":          {len(m.Faces), func(w *halt.Work) { fresh.While(w).EachWall(func(_, _ int32, _ float64) {}) }},
		"contacts":       {len(m.Faces), func(w *halt.Work) { fresh.While(w).Contacts(0) }},
		"distances":      {1, func(w *halt.Work) { _, _ = fresh.While(w).ExactDistances([]Site{a}, nil, math.Inf(1)) }},
		"shortest path":  {1, func(w *halt.Work) { _, _ = fresh.While(w).ShortestPath(a, b) }},
		"path":           {1, func(w *halt.Work) { _, _ = fresh.While(w).Path(a, b) }},
		"graph":          {1, func(w *halt.Work) { _, _ = fresh.While(w).GraphDistances([]Site{a}, 0) }},
		"patches":        {2, func(w *halt.Work) { _, _ = fresh.While(w).Patches(0.3, 0.6, 10) }},
		"holes":          {100, func(w *halt.Work) { fresh.While(w).Holes(100, 1) }},
		"ends of walls":  {2, func(w *halt.Work) { fresh.While(w).WallEnds(200, nil) }},
		"cut":            {5, func(w *halt.Work) { _, _ = fresh.While(w).SectionWithin(planes, nil, 1e-6) }},
		"cut in window":  {5, func(w *halt.Work) { _, _ = m.SectionWhile(w, planes, box, 1e-6) }},
		"mend":           {2*len(newFreeEdges(open, &torn.adj).points) + 2, func(w *halt.Work) { _, _ = open.MendWhile(w, 0.01) }},
		"clearance":      {2, func(w *halt.Work) { _, _ = fresh.While(w).CurveDistance([]Site{a}, []Site{b}, 300) }},
	} {
		n := asks(t, c.ask)
		if n < c.least {
			t.Errorf("%s: it asks %d times whether it is stopped, at least %d are needed", name, n, c.least)
		}
		for _, at := range []int{2, 1 + n/2, n + 1} { // the first is that of the beginning
			stop := &counted{last: max(at, 2), done: make(chan struct{})}
			if err := halt.Do(stop, c.ask); !errors.Is(err, context.Canceled) || stop.asked != max(at, 2) {
				t.Errorf("%s: stopped at %d of %d it went on to %d, %v", name, at, n+1, stop.asked, err)
			}
		}
		if again := asks(t, c.ask); again != n {
			t.Errorf("%s: after a stop it asks %d times, before %d", name, again, n)
		}
	}
	if same := fresh.While(nil); same != fresh || torn.While(nil) != torn || (*Surface)(nil).While(nil) != nil {
		t.Error("a surface that is part of no work is another one")
	}
}
