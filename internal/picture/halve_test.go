package picture

import (
	"math/rand/v2"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// A pixel of the picture is the mean of four, each of its three parts by itself and to the nearest
// level, a half up: reckoned with whole numbers, drawn and at both ends.
func TestAPixelIsTheMeanOfFour(t *testing.T) {
	rng := rand.New(rand.NewPCG(50, 1))
	const wide = 16
	s := &shader{px: &Pixels{small: canvas{wide / 2, 3, make([]uint8, 3*wide/2*3)}}, c: Camera{W: wide, H: 6}}
	parts := make([][3]uint8, 2*wide)
	two := make([]uint32, 2*wide)
	for i := range two {
		for k := range 3 {
			switch i % wide / 2 {
			case 0:
				parts[i][k] = 0
			case 1:
				parts[i][k] = 255
			default:
				parts[i][k] = uint8(rng.IntN(256))
			}
		}
		two[i] = packed(parts[i])
	}
	s.halve(two, 1)
	for i, got := range s.px.small.pix {
		want := 0
		if x, k := i/3-wide/2, i%3; x >= 0 && x < wide/2 {
			want = (int(parts[2*x][k]) + int(parts[2*x+1][k]) + int(parts[wide+2*x][k]) + int(parts[wide+2*x+1][k]) + 2) / 4
		}
		if int(got) != want {
			t.Errorf("part %d: %d, want %d", i, got, want)
		}
	}
}

// What was drawn before leaves nothing behind: a picture drawn with the same pixels after another
// one, larger or smaller, is the picture that is drawn with new ones.
func TestPicturesLeaveNothingBehind(t *testing.T) {
	fan := func(up float64) *mesh.Mesh {
		return &mesh.Mesh{Points: []geom.Vec{{0, 0, 0}, {40, 0, up}, {40, 40, 0}, {0, 40, up}, {20, 60, 0}},
			Faces: [][3]int32{{0, 1, 2}, {0, 2, 3}, {3, 2, 4}}, Label: []int32{1, 2, 1}}
	}
	view := func(wide, high int) Camera {
		return Camera{Toward: geom.Vec{0, 0, 1}, Up: geom.Vec{0, 1, 0}, Right: geom.Vec{1, 0, 0}}.Around(fan(0).Points, 8, wide, high).Times(2)
	}
	used := &Pixels{}
	for i, c := range []struct {
		m    *mesh.Mesh
		view Camera
		inks map[int32]int
	}{
		{fan(0), view(60, 50), map[int32]int{1: 1, 2: 2}}, {fan(30), view(60, 50), map[int32]int{1: 1, 2: 2}}, {fan(30), view(60, 50), map[int32]int{1: 2, 2: 1}},
		{fan(9), view(30, 20), nil}, {fan(30), view(90, 70), map[int32]int{1: 3}},
	} {
		again, _, err := used.Draw(c.m, nil, c.view, c.inks)
		if err != nil {
			t.Fatal(err)
		}
		want, _, err := new(Pixels).Draw(c.m, nil, c.view, c.inks)
		if err != nil || again != want {
			t.Errorf("picture %d is another one after what was drawn before: %v", i, err)
		}
	}
}
