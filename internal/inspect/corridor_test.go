package inspect

import (
	"fmt"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// windowWall is a closed wall 4 mm thick, 100 mm long (y) and 60 mm high (z) with
// a window of 10 x 10 mm from y = 40 and z = 20, in cells of 5 mm.
func windowWall() *mesh.Mesh {
	m := &mesh.Mesh{}
	at := map[[3]int]int32{}
	point := func(i, j, k int) int32 {
		v, ok := at[[3]int{i, j, k}]
		if !ok {
			v = int32(len(m.Points))
			at[[3]int{i, j, k}] = v
			m.Points = append(m.Points, geom.Vec{4 * float64(i), 5 * float64(j), 5 * float64(k)})
		}
		return v
	}
	solid := func(c [3]int) bool {
		return c[0] == 0 && c[1] >= 0 && c[1] < 20 && c[2] >= 0 && c[2] < 12 && !((c[1] == 8 || c[1] == 9) && (c[2] == 4 || c[2] == 5))
	}
	for j := range 20 {
		for k := range 12 {
			c := [3]int{0, j, k}
			if !solid(c) {
				continue
			}
			for axis := range 3 {
				for side := range 2 {
					n := c
					n[axis] += 2*side - 1
					if solid(n) {
						continue
					}
					b, d := (axis+1)%3, (axis+2)%3
					p := c
					p[axis] += side
					corner := func(x, y int) int32 {
						q := p
						q[b] += x
						q[d] += y
						return point(q[0], q[1], q[2])
					}
					q := [4]int32{corner(0, 0), corner(1, 0), corner(1, 1), corner(0, 1)}
					if side == 0 {
						q[1], q[3] = q[3], q[1]
					}
					m.Faces = append(m.Faces, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
					m.Label = append(m.Label, 1, 1)
				}
			}
		}
	}
	return m
}

// A crack clicked over the top of a wall is measured over the top, whatever
// shorter way there is through a window. Constructed: from z = h over z = 60 to
// the other side it is 2 (60 - h) + 4 mm. Where h is near 43 the way through the
// window is shorter though the shortest way along edges leads over the top.
func TestCrackOverAWallStaysOverIt(t *testing.T) {
	const std = 0.3
	for seed := range uint64(60) {
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
			r := rng(seed)
			y, h := 32+6*r.Float64(), 38+6*r.Float64()
			noise := func() float64 { return std * r.NormFloat64() }
			var trace []geom.Vec
			for k := range 9 {
				p := geom.Vec{0, y + noise(), h + (60-h)*float64(k)/4 + noise()}
				if k == 4 {
					p = geom.Vec{2, y, 60}
				} else if k > 4 {
					p[0], p[2] = 4, h+(60-h)*float64(8-k)/4+noise()
				}
				trace = append(trace, p)
			}
			want := 2*(60-h) + 4
			f := one(t, windowWall(), std, trace...)
			if f.Length.MM+3*f.Length.Std < want || f.Length.MM-3*f.Length.Std > want {
				t.Errorf("%.2f mm with standard uncertainty %.2f, want %.2f", f.Length.MM, f.Length.Std, want)
			}
			for _, p := range f.Path {
				if p[2] < h-3*std {
					t.Fatalf("the way passes %.1f, %.1f, %.1f", p[0], p[1], p[2])
				}
			}
		})
	}
}

// Where a crack lies is judged by all its points: a dent in the row of points
// towards a line counts, though the length may leave it out.
func TestPlaceIsJudgedByAllPoints(t *testing.T) {
	// Constructed: 21 points on a bow whose middle is 4 mm nearer to the border
	// x = 100 than its ends; with 1.5 mm a point no single one is surely off.
	var trace []geom.Vec
	for i := range 21 {
		u := float64(i)/10 - 1
		trace = append(trace, geom.Vec{77.2 - 4*u*u, 20 + 3*float64(i), 0})
	}
	f := one(t, plate(), 1.5, trace...)
	if f.Border == nil || f.Border.MM > 22.8+1e-6 {
		t.Errorf("the border is %+v away, want 22.8 mm", f.Border)
	}
}
