package mesh

import (
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/geom"
)

// Every face of which a place lies within random planes is listed, ascending, and not many
// that lie wholly outside; nil stands for all, and is said only where that is so.
func TestWithinMissesNoFaceSeed9(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 0))
	m := &Mesh{}
	for range 3000 {
		at := geom.Vec{r.Float64() * 100, r.Float64() * 100, r.Float64() * 100}
		for range 3 {
			m.Points = append(m.Points, at.Add(geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}))
		}
		n := int32(len(m.Points))
		m.Faces = append(m.Faces, [3]int32{n - 3, n - 2, n - 1})
	}
	s, err := NewSurface(m)
	if err != nil {
		t.Fatal(err)
	}
	inside := func(planes []Plane, p geom.Vec) bool {
		return !slices.ContainsFunc(planes, func(x Plane) bool { return x.Normal.Dot(p) < x.OffsetMM })
	}
	listed, needed := 0, 0
	for range 200 {
		var planes []Plane
		for range 1 + r.IntN(6) {
			n := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Unit()
			through := geom.Vec{r.Float64() * 100, r.Float64() * 100, r.Float64() * 100}
			planes = append(planes, Plane{n, n.Dot(through) - 20})
		}
		got := s.Within(planes)
		if got == nil {
			if slices.ContainsFunc(m.Points, func(p geom.Vec) bool { return !inside(planes, p) }) {
				t.Fatal("all faces, and not all are within")
			}
			continue
		}
		if !slices.IsSorted(got) {
			t.Fatal("not ascending")
		}
		listed += len(got)
		for f := range m.Faces {
			a, b, c := m.corners(f)
			some := false
			for range 8 {
				some = some || inside(planes, a.Lerp(b, r.Float64()).Lerp(c, r.Float64()))
			}
			if _, found := slices.BinarySearch(got, int32(f)); some && !found {
				t.Fatalf("face %d reaches within and is not listed", f)
			}
			if some {
				needed++
			}
		}
	}
	if listed > needed+needed/2 {
		t.Errorf("%d faces are listed for %d that reach within", listed, needed)
	}
	if s.Within([]Plane{{geom.Vec{1, 0, 0}, -1000}}) != nil {
		t.Error("not all faces where all are within")
	}
	if none := s.Within([]Plane{{geom.Vec{1, 0, 0}, 1000}}); none == nil || len(none) > 0 {
		t.Errorf("%d faces where none is within", len(none))
	}
}
