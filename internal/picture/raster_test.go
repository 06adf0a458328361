package picture

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// TestRowsOfAFaceSeed3 holds the columns of a row against the edge function in
// every one of them.
func TestRowsOfAFaceSeed3(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 0))
	for range 20000 {
		e, step, wide := r.Int64N(4001)-2000, r.Int64N(401)-200, 1+r.IntN(40)
		first := r.IntN(wide)
		from, past := inside(e, step, first, wide)
		if from < first || past > wide || from > past {
			t.Fatalf("%d %+d: columns %d to %d of %d to %d", e, step, from, past, first, wide)
		}
		for x := first; x < wide; x++ {
			if in := e+int64(x)*step >= 0; in != (x >= from && x < past) {
				t.Fatalf("%d %+d in column %d: inside %v, columns %d to %d", e, step, x, in, from, past)
			}
		}
	}
}

// The pixels of three coordinates are those of the picture whose middle lies between the least and
// the greatest of them, both included: of all whole numbers about a narrow picture.
func TestPixelsAreThoseWithTheirMiddleInside(t *testing.T) {
	const n = 3
	for lo := int32(-2 * subPixel); lo < (n+2)*subPixel; lo++ {
		for hi := lo; hi < (n+2)*subPixel; hi++ {
			var want []int
			for x := range n {
				if mid := int32(x*subPixel + subPixel/2); lo <= mid && mid <= hi {
					want = append(want, x)
				}
			}
			mid := (lo + hi) / 2
			for _, c := range [3][3]int32{{lo, mid, hi}, {hi, lo, mid}, {mid, hi, lo}} {
				var got []int
				from, to := pixelRange(c[0], c[1], c[2], n)
				for x := from; x <= to; x++ {
					got = append(got, x)
				}
				if !slices.Equal(got, want) {
					t.Fatalf("%v: pixels %v, want %v", c, got, want)
				}
			}
		}
	}
}

// A slice of any length is filled, and nothing behind it.
func TestFillFillsAll(t *testing.T) {
	for n := range 70 {
		all := make([]int, n+3)
		fill(all[1:n+1], 7)
		for i, v := range all {
			if want := map[bool]int{true: 7}[i >= 1 && i <= n]; v != want {
				t.Fatalf("%d of %d: %d", i, n, v)
			}
		}
	}
}

// Lines by definition: from every pixel that shows another face than the one to its right or below
// it, a square to the right and downward, in the colour of the strongest kind of line between them;
// those of later pixels over those of earlier ones. Beside them the look of the face, or white.
func TestLinesAreWhereAnotherFaceIsSeen(t *testing.T) {
	kinds := map[int]int{}
	for seed := range uint64(6) {
		r := rand.New(rand.NewPCG(seed, 91))
		m := soup(r, 25)
		c := Camera{Right: geom.Vec{1, 0, 0}, Up: geom.Vec{0, 1, 0}, Toward: geom.Vec{0, 0, 1}}.Around(m.Points, 2, 60, 50)
		px, inkOf := &Pixels{band: c.H}, map[int32]int{1: 1, 2: 7, 3: 12}
		px.shade(m, nil, c, inkOf)
		w, h := c.W, c.H
		face, depth := px.face[:w*h], px.depth[:w*h]
		step := 6/c.Scale + 1.2
		normal := func(f int32) geom.Vec { // towards the viewer
			n := m.FaceNormal(int(f))
			if n[2] < 0 {
				n = n.Scale(-1)
			}
			return n
		}
		kind := func(i, j int) int {
			f, g := face[i], face[j]
			switch {
			case f == g:
				return noLine
			case f < 0 || g < 0:
				return outline
			case max(depth[i]-depth[j], depth[j]-depth[i]) > step:
				return stepLine
			case m.Label[f] != m.Label[g]:
				return labelLine
			case normal(f).Dot(normal(g)) < 0.8:
				return creaseLine
			}
			return noLine
		}
		want := make([]uint32, w*h)
		for i, f := range face {
			if want[i] = white; f >= 0 {
				k := inkOf[m.Label[f]]
				light := max(0, normal(f).Dot(geom.Vec{-0.40, 0.45, 0.80}.Unit()))
				level := math.Round(40*(0.72+0.28*light)) / 40
				want[i] = packed(inked(k, level, hatched(k, i%w, i/w, hatchPeriod)))
			}
		}
		for i := range face {
			k, reach := noLine, 1
			if i%w+1 < w {
				k = kind(i, i+1)
			}
			if i/w+1 < h {
				k = max(k, kind(i, i+w))
			}
			if kinds[k]++; k == labelLine {
				reach = 2
			}
			for y := i / w; k != noLine && y < min(h, i/w+reach+1); y++ {
				for x := i % w; x < min(w, i%w+reach+1); x++ {
					want[y*w+x] = lineColour[k]
				}
			}
		}
		for i := range want {
			if px.ink[i] != want[i] {
				t.Fatalf("seed %d: pixel %d %d is %x, want %x", seed, i%w, i/w, px.ink[i], want[i])
			}
		}
	}
	if kinds[outline] < 300 || kinds[stepLine] < 100 || kinds[labelLine] < 100 || kinds[creaseLine] < 10 {
		t.Errorf("lines of each kind: %v", kinds)
	}
}

// soup is triangles of all sizes, through one another, with labels.
func soup(r *rand.Rand, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for range n {
		at := geom.Vec{100 * r.Float64(), 60 * r.Float64(), 40 * r.Float64()}
		for range 3 {
			m.Points = append(m.Points, at.Add(geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Scale(30*r.Float64())))
		}
		n := int32(len(m.Points))
		m.Faces, m.Label = append(m.Faces, [3]int32{n - 3, n - 2, n - 1}), append(m.Label, int32(r.IntN(4)))
	}
	return m
}

// What is passed over because it is out of view, or cut away, would not have been seen: with
// a search tree the same is drawn as without, close up from all sides, to the byte.
func TestCloseUpsAreDrawnTheSameFromTheTree(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 0))
	m := soup(r, 4000)
	for i := range m.Points { // small ones, so that most are out of view
		m.Points[i] = m.Points[i-i%3].Lerp(m.Points[i], 0.1)
	}
	s, err := mesh.NewSurface(m)
	if err != nil {
		t.Fatal(err)
	}
	px, of, fewer := &Pixels{}, &Pixels{}, 0
	for k := range 40 {
		toward := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Unit()
		up := toward.Cross(geom.Vec{0.1, 0.2, 1}).Unit()
		at := m.Points[r.IntN(len(m.Points))]
		c := Camera{Toward: toward, Up: up, Right: up.Cross(toward)}.Around([]geom.Vec{at}, 5+10*r.Float64(), 60, 60)
		c.W, c.H = 60, 60
		if k%2 == 0 {
			c.Clip = at.Dot(toward) + 3
		}
		pic, dm := px.shade(m, nil, c, map[int32]int{1: 1, 2: 7})
		want := slices.Clone(pic.pix)
		if got, seen := of.shade(m, s, c, map[int32]int{1: 1, 2: 7}); !slices.Equal(got.pix, want) || !reflect.DeepEqual(seen, dm) {
			t.Errorf("view %d: from the tree something else is drawn", k)
		}
		if len(of.faces) < len(m.Faces)/2 {
			fewer++
		}
	}
	if fewer < 30 {
		t.Errorf("only in %d of 40 views faces were passed over", fewer)
	}
}

// However many rows a band has, the same is seen, and drawn to the byte.
func TestBandsDrawTheSame(t *testing.T) {
	m := soup(rand.New(rand.NewPCG(5, 0)), 60)
	c := Camera{Right: geom.Vec{1, 0, 0}, Up: geom.Vec{0, 1, 0}, Toward: geom.Vec{0, 0, 1}}.Around(m.Points, 5, 90, 67)
	c.W, c.H = 91, 67
	inkOf := map[int32]int{1: 1, 2: 7, 3: 12}
	whole := &Pixels{band: c.H}
	seen := whole.Seen(m, c)
	pic, drawn := whole.shade(m, nil, c, inkOf)
	want := slices.Clone(pic.pix)
	if !reflect.DeepEqual(seen, drawn) || len(seen.runs) < 500 {
		t.Fatalf("%d runs are seen, others are drawn", len(seen.runs))
	}
	px := &Pixels{}
	for _, rows := range []int{1, 2, 3, 5, 8, 32, 66} {
		px.band = rows
		if got := px.Seen(m, c); !reflect.DeepEqual(got, seen) {
			t.Errorf("in bands of %d rows something else is seen", rows)
		}
		if pic, dm := px.shade(m, nil, c, inkOf); !slices.Equal(pic.pix, want) || !reflect.DeepEqual(dm, seen) {
			t.Errorf("in bands of %d rows something else is drawn", rows)
		}
	}
}

// Of a closed mesh as much is seen whether faces that look away are drawn or not, from
// whichever side, up to single pixels at outlines; where it is cut open they are drawn.
func TestOfASolidOnlyWhatLooksHereIsSeen(t *testing.T) {
	m := &mesh.Mesh{}
	for i := range 8 {
		m.Points = append(m.Points, geom.Vec{70 * float64(i&1), 50 * float64(i>>1&1), 30 * float64(i>>2&1)})
	}
	for _, q := range [][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.Faces = append(m.Faces, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	r := rand.New(rand.NewPCG(8, 0))
	px := &Pixels{}
	for k := range 60 {
		toward := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Unit()
		up := toward.Cross(geom.Vec{0.1, 0.2, 1}).Unit()
		c := Camera{Toward: toward, Up: up, Right: up.Cross(toward)}
		if k%2 == 1 { // as in a mirror
			c.Right = c.Right.Scale(-1)
		}
		c = c.Around(m.Points, 5, 120, 100)
		all := px.Seen(m, c)
		c.Solid = true
		some := px.Seen(m, c)
		differ, covered := 0, 0
		for y := range c.H {
			for x := range c.W {
				if all.At(x, y) >= 0 {
					covered++
				}
				if all.At(x, y) != some.At(x, y) {
					differ++
				}
			}
		}
		if differ > 4 || covered < 1000 {
			t.Errorf("view %d: %d of %d pixels show another face", k, differ, covered)
		}
		c.Clip = m.Points[0].Lerp(m.Points[7], 0.5).Dot(toward)
		if !reflect.DeepEqual(px.Seen(m, c).runs, px.Seen(m, Camera{Toward: c.Toward, Up: c.Up, Right: c.Right, Scale: c.Scale, Left: c.Left, Top: c.Top, W: c.W, H: c.H, Clip: c.Clip}).runs) {
			t.Errorf("view %d: cut open it is not seen from inside", k)
		}
	}
}
