package picture

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// A label stands where its leader meets it, outside of it to the left or right, as wide as its
// text and no narrower than 44, with its text in its middle.
func TestFlagsStandAtTheirLeaders(t *testing.T) {
	d := NewDrawing("x", "flags", 200, 100)
	d.Flags([]Flag{{Text: "A", px: 60, py: 50, left: true}, {Text: "A", px: 140, py: 50}})
	got := d.Done()
	for _, want := range []string{`x="16" y="33" width="44" height="34"`, `x="140" y="33" width="44" height="34"`, `x="38" y="58"`, `x="162" y="58"`} {
		if !strings.Contains(got, want) {
			t.Errorf("no %s in %s", want, got)
		}
	}
}

// grid is a square of n by n cells in the plane z = 0, a unit each, with a label of each cell.
func grid(n int, label func(x, y int) int32) *mesh.Mesh {
	m := &mesh.Mesh{}
	for y := range n {
		for x := range n {
			k := int32(len(m.Points))
			for _, c := range [4][2]int{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
				m.Points = append(m.Points, geom.Vec{float64(x + c[0]), float64(y + c[1]), 0})
			}
			m.Faces = append(m.Faces, [3]int32{k, k + 1, k + 2}, [3]int32{k, k + 2, k + 3})
			m.Label = append(m.Label, label(x, y), label(x, y))
		}
	}
	return m
}

// The place of a label lies on it, has the room that it says around it, and has nearly the most
// there is (85 %, our choice); labels come in their order. Against every cell, counted square.
func TestRoomiestPlacesSeed8(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 0))
	for range 6 {
		cut, across := 2+r.IntN(6), 2+r.IntN(6)
		m := grid(10, func(x, y int) int32 {
			switch {
			case x < cut:
				return 1
			case y < across:
				return 2
			}
			return 3
		})
		c := Camera{Right: geom.Vec{1, 0, 0}, Up: geom.Vec{0, 1, 0}, Toward: geom.Vec{0, 0, 1}}.Around(m.Points, 1, 60, 60)
		c.W, c.H = 60, 60
		dm := (&Pixels{}).Seen(m, c)
		const cell = 4
		w := c.W / cell
		lab := func(x, y int) int32 {
			if x < 0 || y < 0 || x >= w || y >= w || dm.At(x*cell+cell/2, y*cell+cell/2) < 0 {
				return -1
			}
			return m.Label[dm.At(x*cell+cell/2, y*cell+cell/2)]
		}
		room := func(x, y int) int {
			for k := 1; ; k++ {
				for dy := -k; dy <= k; dy++ {
					for dx := -k; dx <= k; dx++ {
						if lab(x+dx, y+dy) != lab(x, y) {
							return k
						}
					}
				}
			}
		}
		most := map[int32]int{}
		for y := range w {
			for x := range w {
				if l := lab(x, y); l >= 0 {
					most[l] = max(most[l], room(x, y))
				}
			}
		}
		places := Roomiest(dm, m, cell, nil)
		if !slices.IsSortedFunc(places, func(a, b Place) int { return int(a.Label - b.Label) }) || len(places) != len(most) || len(most) != 3 {
			t.Fatalf("%+v of %v", places, most)
		}
		for _, p := range places {
			x, y := int(math.Floor(p.X*2/cell)), int(math.Floor(p.Y*2/cell))
			if lab(x, y) != p.Label || p.Room*2/cell != float64(room(x, y)) || 100*room(x, y) < 85*most[p.Label] {
				t.Errorf("%+v lies on %d with room %d, there is %d", p, lab(x, y), room(x, y), most[p.Label])
			}
			taken := Roomiest(dm, m, cell, [][2]float64{{2 * p.X, 2 * p.Y}})
			for _, q := range taken {
				if q.Label == p.Label && q.X == p.X && q.Y == p.Y {
					t.Errorf("%+v stands where something stands already", q)
				}
			}
		}
	}
}
