package vehicle

import (
	"math"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// slab is a closed box of 200 x 100 x 5 mm in squares of so many millimetres, label 1 up
// to x = 100 and 2 beyond.
func slab(stepMM float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	known := map[geom.Vec]int32{}
	point := func(p geom.Vec) int32 {
		i, ok := known[p]
		if !ok {
			i = int32(len(m.Points))
			known[p], m.Points = i, append(m.Points, p)
		}
		return i
	}
	side := func(o, u, v geom.Vec) { // seen from where u turns to v anticlockwise
		nu, nv := max(1, math.Round(u.Norm()/stepMM)), max(1, math.Round(v.Norm()/stepMM))
		for i := range int(nu) {
			for k := range int(nv) {
				at := func(i, k int) geom.Vec { return o.Add(u.Scale(float64(i) / nu)).Add(v.Scale(float64(k) / nv)) }
				a, b, c, d := point(at(i, k)), point(at(i+1, k)), point(at(i+1, k+1)), point(at(i, k+1))
				m.Faces = append(m.Faces, [3]int32{a, b, c}, [3]int32{a, c, d})
				label := int32(1)
				if at(i, k).Lerp(at(i+1, k+1), 0.5)[0] > 100 {
					label = 2
				}
				m.Label = append(m.Label, label, label)
			}
		}
	}
	x, y, z := geom.Vec{200, 0, 0}, geom.Vec{0, 100, 0}, geom.Vec{0, 0, 5}
	side(geom.Vec{}, x, z)
	side(y, z, x)
	side(geom.Vec{}, z, y)
	side(x, y, z)
	side(geom.Vec{}, y, x)
	side(z, x, y)
	return m
}

// An album that is full lets go of what was asked for longest ago, and counts what it
// keeps.
func TestAlbumIsBounded(t *testing.T) {
	m := slab(10)
	above := fromAbove.Around(m.Points, 10, 420, 420)
	a := &Album{}
	first := a.Seen(m, above)
	one := a.own.bytes
	a.own.bytes = mostAlbumBytes - one // as if it were nearly full
	side := above
	side.Left -= 1
	second := a.Seen(m, side)
	if a.Seen(m, side) != second {
		t.Error("the sheet asked for last was let go")
	}
	side.Left -= 1
	a.Seen(m, side)
	if len(a.own.kept) > 2 || a.Seen(m, above) == first {
		t.Errorf("%d sheets are kept, and the oldest is still there", len(a.own.kept))
	}
	var whole Album
	for k := range 3 {
		side.Left += float64(k)
		if _, _, err := whole.MeshPicture(m, m, side, map[int32]int{1: 1, 2: 2}); err != nil {
			t.Fatal(err)
		}
	}
	sum := 0
	for _, s := range whole.own.kept {
		sum += s.bytes()
	}
	if sum != whole.own.bytes || len(whole.own.kept) != 3 {
		t.Errorf("%d bytes are counted, %d are kept of %d sheets", whole.own.bytes, sum, len(whole.own.kept))
	}
}
