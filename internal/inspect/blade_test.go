package inspect

import (
	"math"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// bar is a flat bar with sharp edges: long, wide and thick in mm, in triangles of about a
// side.
func bar(long, wide, thick, side float64) *mesh.Mesh {
	w, m := mesh.NewWelder(1000), &mesh.Mesh{}
	face := func(at, u, v geom.Vec) {
		n, k := max(1, int(u.Norm()/side)), max(1, int(v.Norm()/side))
		p := func(i, j int) int32 {
			return w.Add(at.Add(u.Scale(float64(i) / float64(n))).Add(v.Scale(float64(j) / float64(k))))
		}
		for i := range n {
			for j := range k {
				m.Faces = append(m.Faces, [3]int32{p(i, j), p(i+1, j), p(i+1, j+1)}, [3]int32{p(i, j), p(i+1, j+1), p(i, j+1)})
			}
		}
	}
	x, y, z := geom.Vec{long}, geom.Vec{0, wide}, geom.Vec{0, 0, thick}
	face(geom.Vec{}, y, x)
	face(z, x, y)
	face(geom.Vec{}, x, z)
	face(y, z, x)
	face(geom.Vec{}, z, y)
	face(x, y, z)
	m.Points = w.Points
	return m
}

// The law of corridors on flat bars of 1.5 to 3 mm: cracks that lead round their edges,
// clicked so far apart that the points fit more than one way, and either side of the wall.
// The public meshes have such a wall, a blade: see publiclaw_outside_test.go. In the seeds
// of the ordinary tests a margin was once said to be larger than the points show.
func TestCorridorLawOnBars(t *testing.T) {
	for _, seed := range []uint64{25, 37, 47, 72} {
		lawOn(t, bar(120, 23, 1.5, 6), "bar", seed, 1)
	}
	for i, thick := range []float64{1.5, 2, 3}[:campaign(0, 3)] {
		lawOn(t, bar(120, 23, thick, 6), "bar", uint64(i), 60)
	}
}

// onBar is a bench with a bar of two zones, 1 with its lower face and 2 with all else.
func onBar(thick float64) *bench {
	m := bar(120, 23, thick, 6)
	for _, t := range m.Faces {
		label := int32(2)
		if m.Points[t[0]][2]+m.Points[t[1]][2]+m.Points[t[2]][2] == 0 {
			label = 1
		}
		m.Label = append(m.Label, label)
	}
	b := newBench(m)
	b.body.Castings[0].MeshStd = 0
	b.body.Castings[0].Wall = unit.MM(thick)
	return b
}

// A point as near to one face of the wall as to the other lies in the zones of both.
func TestPointInsideAWallLiesOnBothFaces(t *testing.T) {
	for _, c := range []struct {
		z, std float64
		both   bool
	}{{0.9, 0.6, true}, {1.1, 0.6, true}, {0.2, 0.3, false}, {1.8, 0.3, false}} {
		b := onBar(2)
		b.crack("F", c.std, geom.Vec{60, 11, c.z}).Kind = "dent"
		res, notes := Run(b.input(t))
		f := find(t, res, "F")
		if got := len(f.Zones) == 2; got != c.both || c.both && (f.Border == nil || f.Border.MM != 0) {
			t.Errorf("at %g +- %g: zones %+v, border %+v", c.z, c.std, f.Zones, f.Border)
		}
		if n := has(notes, "inspect.way-in-doubt", "F"); (n != nil) != c.both {
			t.Errorf("at %g +- %g: %+v", c.z, c.std, n)
		}
	}
}

// A crack that leads round the edge of a wall and was clicked on both of its faces is not
// put on one of them because the way round the edge is long: it lies in the zones of
// both, or its place is not known.
func TestCrackRoundAnEdgeIsNotPutOnOneFace(t *testing.T) {
	for _, thick := range []float64{1.5, 2, 3, 4} {
		for _, gap := range []float64{4, 8, 10, 14} {
			for _, n := range []int{1, 2, 6} {
				for _, std := range []float64{0.3, 0.6, 1} {
					b := onBar(thick)
					var trace []geom.Vec
					for k := range n { // towards the edge on the upper face, back on the lower one
						trace = append(trace, geom.Vec{40 + 5*float64(k), 23 - gap/2 - 3*float64(n-1-k), thick})
					}
					for k := range n {
						trace = append(trace, geom.Vec{40 + 5*float64(n+k), 23 - gap/2 - 3*float64(k), 0})
					}
					b.crack("F", std, trace...)
					res, notes := Run(b.input(t))
					f := find(t, res, "F")
					if f.Located && len(f.Zones) != 2 || !f.Located && len(f.MayLieIn) != 2 {
						t.Errorf("wall %g, gap %g, %d points on each face, std %g: %+v %+v", thick, gap, n, std, f.Zones, notes)
					}
					if !f.Located {
						continue
					}
					truth := 2*gap/2 + thick // across, at least
					if f.Length.MM+1.645*f.Length.Std < truth {
						t.Errorf("wall %g, gap %g, %d points on each face, std %g: %+v, across are %g", thick, gap, n, std, f.Length, truth)
					}
				}
			}
		}
	}
}

// One wild point of a trace in the middle of a wide wall is noise: the crack does not lead
// to the edge and back for it, and it stays on its face.
func TestWildPointInTheMiddleOfAWall(t *testing.T) {
	b := onBar(2)
	b.crack("F", 1, geom.Vec{30, 11, 2}, geom.Vec{35, 11, 2.1}, geom.Vec{40, 11.5, 0.9}, geom.Vec{45, 11, 2}, geom.Vec{50, 11, 1.9})
	res, _ := Run(b.input(t))
	if f := find(t, res, "F"); !f.Located || math.Abs(f.Length.MM-20) > 1 {
		t.Errorf("%+v", f)
	}
}
