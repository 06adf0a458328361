package picture

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// plainSeen is what is seen in a pixel by definition: of all faces over its middle, corners on
// the grid, the one nearest to the viewer that is not cut away; depths of others nearly as near
// make it unsure.
func plainSeen(m *mesh.Mesh, c Camera, x, y int) (face int32, depth float64, sure bool) {
	face, depth, sure = -1, math.Inf(-1), true
	second := math.Inf(-1)
	px, py := int64(16*x+8), int64(16*y+8)
	for f, t := range m.Faces {
		var u, v [3]int64
		var z [3]float64
		for k, i := range t {
			a, b, d := c.At(m.Points[i])
			u[k], v[k], z[k] = int64(math.Floor(16*a)), int64(math.Floor(16*b)), d
		}
		var e [3]int64
		for k := range 3 {
			i, j := (k+1)%3, (k+2)%3
			e[k] = (u[j]-u[i])*(py-v[i]) - (v[j]-v[i])*(px-u[i])
		}
		area := e[0] + e[1] + e[2]
		up := slices.Min(e[:]) >= 0
		if area == 0 || !up && slices.Max(e[:]) > 0 {
			continue
		}
		if looksAway := (area > 0) == (c.Right.Cross(c.Up).Dot(c.Toward) > 0); c.Solid && math.IsInf(c.Clip, 1) && looksAway {
			continue
		}
		d := (float64(e[0])*z[0] + float64(e[1])*z[1] + float64(e[2])*z[2]) / float64(area)
		if d > c.Clip {
			sure = sure && d > c.Clip+1e-9
			continue
		}
		if d > depth {
			face, depth, second = int32(f), d, depth
		} else {
			second = max(second, d)
		}
	}
	return face, depth, sure && depth-second > 1e-9
}

// What is seen in every pixel against all faces one by one, from all sides, mirrored, cut away,
// of solids too, in wide and narrow pictures; and which points are seen by that.
func TestWhatIsSeenMatchesPlainScan(t *testing.T) {
	r := rand.New(rand.NewPCG(81, 0))
	seenFaces, pointsSeen, pointsHidden := 0, 0, 0
	for k := range 24 {
		m := soup(r, 1+r.IntN(25))
		toward := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Unit()
		up := toward.Cross(geom.Vec{0.1, 0.2, 1}).Unit()
		c := Camera{Toward: toward, Up: up, Right: up.Cross(toward), Solid: k%3 == 0}
		if k%2 == 1 {
			c.Right = c.Right.Scale(-1)
		}
		c = c.Around(m.Points, 3, 20+r.IntN(40), 44)
		if k%4 == 0 { // part of it is out of the picture
			c.Left, c.Top, c.W, c.H = c.Left+8/c.Scale, c.Top-6/c.Scale, c.W-14, max(4, c.H-9)
		}
		if k%5 == 0 {
			c.Clip = m.Points[0].Dot(toward)
		}
		dm := (&Pixels{band: 1 + r.IntN(20)}).Seen(m, c)
		runs := 0
		at := make([]int32, c.W*c.H)
		depths := make([]float64, c.W*c.H)
		for y := range c.H {
			for x := range c.W {
				want, depth, sure := plainSeen(m, c, x, y)
				got := dm.At(x, y)
				if sure && got != want {
					t.Fatalf("view %d, pixel %d %d: face %d is seen, want %d", k, x, y, got, want)
				}
				if got >= 0 && sure && math.Abs(dm.depth(got, x, y)-depth) > 1e-6 {
					t.Fatalf("view %d, pixel %d %d: at %g, want %g", k, x, y, dm.depth(got, x, y), depth)
				}
				if got >= 0 {
					seenFaces++
				}
				at[y*c.W+x], depths[y*c.W+x] = got, depth
				if x == 0 || at[y*c.W+x-1] != got {
					runs++
				}
			}
		}
		if dm.Bytes() != 8*runs+4*(c.H+1) {
			t.Errorf("view %d: %d bytes of %d runs in %d rows", k, dm.Bytes(), runs, c.H)
		}
		for range 60 {
			f := m.Faces[r.IntN(len(m.Faces))]
			p := m.Points[f[0]].Lerp(m.Points[f[1]], r.Float64()).Lerp(m.Points[f[2]], r.Float64())
			slack := 2 * r.Float64()
			x, y, d := c.At(p)
			want, sure := false, true
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					u, v := int(math.Floor(x))+dx, int(math.Floor(y))+dy
					if u >= 0 && v >= 0 && u < c.W && v < c.H && at[v*c.W+u] >= 0 {
						want = want || depths[v*c.W+u] <= d+slack
						sure = sure && math.Abs(depths[v*c.W+u]-d-slack) > 1e-6
					}
				}
			}
			if got := dm.Seen(p, slack); sure && got != want {
				t.Fatalf("view %d: point %v is seen: %v", k, p, got)
			} else if got {
				pointsSeen++
			} else {
				pointsHidden++
			}
		}
	}
	if seenFaces < 4000 || pointsSeen < 200 || pointsHidden < 200 {
		t.Errorf("%d pixels, %d points seen and %d hidden", seenFaces, pointsSeen, pointsHidden)
	}
}

// A camera round points shows them all with the margin on every side, as large as the picture
// lets it, in the middle of its width.
func TestCameraAroundPoints(t *testing.T) {
	r := rand.New(rand.NewPCG(82, 0))
	for range 200 {
		var pts []geom.Vec
		for range 1 + r.IntN(9) {
			pts = append(pts, geom.Vec{50 * r.NormFloat64(), 20 * r.NormFloat64(), 30 * r.NormFloat64()})
		}
		toward := geom.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Unit()
		up := toward.Cross(geom.Vec{0.1, 0.2, 1}).Unit()
		margin, w, h := 1+5*r.Float64(), 10+r.IntN(90), 10+r.IntN(90)
		c := Camera{Toward: toward, Up: up, Right: up.Cross(toward)}.Around(pts, margin, w, h)
		x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
		for _, p := range pts {
			x, y, depth := c.At(p)
			x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
			if math.Abs(depth-p.Dot(toward)) > 1e-9 {
				t.Fatalf("%v lies at %g", p, depth)
			}
		}
		edge := margin * c.Scale
		full := math.Abs(x0-edge) < 1e-6 || math.Abs(y1-y0+2*edge-float64(h)) < 1e-6
		if c.W != w || c.H > h || math.Abs(y0-edge) > 1e-6 || y1+edge > float64(c.H)+1e-6 || y1+edge < float64(c.H)-1 || x0 < edge-1e-6 || math.Abs(x0-(float64(w)-x1)) > 1e-6 || !full || !math.IsInf(c.Clip, 1) {
			t.Errorf("%d x %d for %g to %g, %g to %g with %g round it in %d x %d", c.W, c.H, x0, x1, y0, y1, edge, w, h)
		}
		if k := c.Times(3); k.W != 3*c.W || k.H != 3*c.H || k.Scale != 3*c.Scale || k.Left != c.Left || k.Top != c.Top {
			t.Errorf("three times: %+v", k)
		}
	}
}

// A picture with the surface of its mesh is the one without, and its file is what was shaded.
func TestDrawIsWhatIsShaded(t *testing.T) {
	m := step()
	c := above.Around(m.Points, 2, 48, 40).Times(2)
	s, err := mesh.NewSurface(m)
	if err != nil {
		t.Fatal(err)
	}
	inks := map[int32]int{1: 1, 2: 4, 3: 12}
	uri, seen, err := (&Pixels{}).Draw(m, s, c, inks)
	pic, dm := (&Pixels{}).shade(m, nil, c, inks)
	want, bad := pic.dataURI(&pngShelf{})
	if err != nil || bad != nil || uri != want || !strings.HasPrefix(uri, "data:image/png;base64,iVBOR") || fmt.Sprint(seen.runs) != fmt.Sprint(dm.runs) {
		t.Errorf("%v, %v: another picture is drawn than shaded", err, bad)
	}
}

// Two line pieces cross where a place within both is the same: by its shares of them, in whole
// numbers, so that ends that touch and pieces that lie along each other are seen for what they are.
func TestCrossingOfLinePieces(t *testing.T) {
	r := rand.New(rand.NewPCG(83, 0))
	crossed := 0
	for range 20000 {
		var p [8]int
		for i := range p {
			p[i] = r.IntN(6)
		}
		ux, uy, vx, vy := p[2]-p[0], p[3]-p[1], p[6]-p[4], p[7]-p[5]
		den := ux*vy - uy*vx
		s, q := (p[4]-p[0])*vy-(p[5]-p[1])*vx, (p[4]-p[0])*uy-(p[5]-p[1])*ux // shares times den
		if den < 0 {
			den, s, q = -den, -s, -q
		}
		want := den > 0 && s > 0 && s < den && q > 0 && q < den
		f := func(i int) float64 { return float64(p[i]) / 4 }
		if got := crosses(f(0), f(1), f(2), f(3), f(4), f(5), f(6), f(7)); got != want {
			t.Fatalf("%v: cross %v", p, got)
		}
		if want {
			crossed++
		}
	}
	if crossed < 1000 {
		t.Errorf("only %d cross", crossed)
	}
}

// Labels go to the nearer column, those in the middle to the right; they are in the order of what
// they name, inside the room where it is enough, and as near to it as that and the gap let them:
// one that could come nearer touches another or the end. The room asked for is enough.
func TestFlagsAreNearWhatTheyName(t *testing.T) {
	r := rand.New(rand.NewPCG(84, 0))
	const x0, x1, gap = 80.0, 560.0, 40.0
	for range 300 {
		var fs []Flag
		for i := range 1 + r.IntN(12) {
			fs = append(fs, Flag{Text: fmt.Sprint(i), X: []float64{x0 + (x1-x0)*r.Float64(), (x0 + x1) / 2}[r.IntN(2)], Y: 10 * float64(r.IntN(50))})
		}
		left := 0
		for _, f := range fs {
			if f.X < (x0+x1)/2 {
				left++
			}
		}
		need := 20 + gap*float64(max(left, len(fs)-left)-1)
		y1 := RoomFor(fs, x0, x1, 20, 90, gap)
		if y1 != max(90, need) {
			t.Fatalf("room down to %g for %d and %d, want %g", y1, left, len(fs)-left, max(90, need))
		}
		y1 = max(y1, []float64{0, 300, 500}[r.IntN(3)])
		out := PlaceFlags(fs, x0, x1, 20, y1, gap)
		for i, f := range out {
			if f.Text != fs[i].Text || f.left != (f.X < (x0+x1)/2) || f.px != map[bool]float64{true: x0, false: x1}[f.left] || f.py < 20-1e-9 || f.py > y1+1e-9 {
				t.Fatalf("%+v of %+v between 20 and %g", f, fs[i], y1)
			}
			free := map[float64]bool{-1: f.py > 20+1e-9, 1: f.py < y1-1e-9} // to go up, and down
			for j, g := range out {
				if j == i || g.left != f.left {
					continue
				}
				if math.Abs(g.py-f.py) < gap-1e-9 {
					t.Fatalf("%+v and %+v are too near", f, g)
				}
				free[-1] = free[-1] && math.Abs(f.py-gap-g.py) > 1e-9
				free[1] = free[1] && math.Abs(f.py+gap-g.py) > 1e-9
			}
			if f.py > f.Y+1e-9 && free[-1] || f.py < f.Y-1e-9 && free[1] {
				t.Fatalf("%+v could come nearer", f)
			}
		}
		under := UnderLeaders(out, 30, 7)
		for i, f := range out {
			for k := range 101 {
				want := [2]float64{2 * (f.X + (f.px-f.X)*float64(k)/100 - 30), 2 * (f.Y + (f.py-f.Y)*float64(k)/100 - 7)}
				if got := under[101*i+k]; math.Abs(got[0]-want[0])+math.Abs(got[1]-want[1]) > 1e-6 {
					t.Fatalf("place %d under leader %d: %v, want %v", k, i, got, want)
				}
			}
		}
		if len(under) != 101*len(out) {
			t.Fatalf("%d places under %d leaders", len(under), len(out))
		}
	}
}

// More labels that all touch than there are hatches: each takes the hatch of its place in the
// list once no other is left.
func TestMoreLabelsThanHatches(t *testing.T) {
	m := &mesh.Mesh{Points: []geom.Vec{{0, 0, 0}}}
	var labels []int32
	for i := range int32(hatches + 3) {
		n := int32(len(m.Points))
		m.Points = append(m.Points, geom.Vec{1, float64(i), 0}, geom.Vec{1, float64(i + 1), 0})
		m.Faces, m.Label = append(m.Faces, [3]int32{0, n, n + 1}), append(m.Label, 7*i)
		labels = append(labels, 7*i)
	}
	of := HatchLabels(m, labels)
	used := map[int]int{}
	for i, l := range labels {
		if want := i%(hatches-1) + 1; of[l] != want {
			t.Errorf("label %d has hatch %d, want %d", i, of[l], want)
		}
		used[of[l]]++
	}
	if len(used) != hatches-1 {
		t.Errorf("%v", used)
	}
	m.Label = nil // nothing touches where there are no labels
	if of := HatchLabels(m, labels[:3]); of[0] != 1 || of[7] != 2 || of[14] != 3 {
		t.Errorf("%v", of)
	}
}

// Steps to a border against all cells one by one; the place of a label is the one with nearly the
// most room that is nearest to its middle, the first of several.
func TestStepsToTheBorder(t *testing.T) {
	r := rand.New(rand.NewPCG(85, 0))
	for range 60 {
		w, h := 1+r.IntN(14), 1+r.IntN(11)
		lab := make([]int32, w*h)
		for i := range lab {
			if lab[i] = 1; r.IntN(12) == 0 || i%w > 9 {
				lab[i] = int32(r.IntN(3)) - 1
			}
		}
		at := func(x, y int) int32 {
			if x < 0 || y < 0 || x >= w || y >= h {
				return -99
			}
			return lab[y*w+x]
		}
		want := make([]int, w*h)
		most, n, sx, sy := map[int32]int{}, map[int32]int{}, map[int32]int{}, map[int32]int{}
		for i, l := range lab {
			for k := 1; want[i] == 0; k++ {
				for dy := -k; dy <= k; dy++ {
					for dx := -k; dx <= k; dx++ {
						if at(i%w+dx, i/w+dy) != l {
							want[i] = k
						}
					}
				}
			}
			most[l], n[l], sx[l], sy[l] = max(most[l], want[i]), n[l]+1, sx[l]+i%w, sy[l]+i/w
		}
		dist := borderSteps(lab, w, h)
		if !slices.Equal(dist, want) {
			t.Fatalf("%d x %d of %v: %v, want %v", w, h, lab, dist, want)
		}
		best := map[int32]int{}
		away := func(i int) int {
			l := lab[i]
			dx, dy := i%w-sx[l]/n[l], i/w-sy[l]/n[l]
			return dx*dx + dy*dy
		}
		for i, l := range lab {
			if b, ok := best[l]; l >= 0 && 100*want[i] >= 85*most[l] && (!ok || away(i) < away(b)) {
				best[l] = i
			}
		}
		if got := central(lab, dist, w); fmt.Sprint(got) != fmt.Sprint(best) {
			t.Fatalf("%d x %d of %v: %v, want %v", w, h, lab, got, best)
		}
	}
}

// Samples lie on the path in order, at most a step apart, and have all its corners; the middle
// has as much of it before as behind; its extent is that of the two points farthest apart; and
// the share of it that is seen is that of its samples.
func TestPathsByDefinition(t *testing.T) {
	r := rand.New(rand.NewPCG(86, 0))
	m := soup(r, 12)
	c := above.Around(m.Points, 3, 60, 60)
	dm := (&Pixels{}).Seen(m, c)
	for range 200 {
		var path []geom.Vec
		for range 1 + r.IntN(5) {
			p := m.Points[r.IntN(len(m.Points))]
			for range 1 + r.IntN(2) {
				path = append(path, p) // now and then twice
			}
		}
		step := 0.5 + 20*r.Float64()
		samples := Samples(path, step)
		length, at, extent := 0.0, 0, 0.0
		for i, p := range path {
			for at < len(samples) && samples[at].Dist(p) > 1e-9 {
				at++
			}
			if i > 0 {
				length += path[i-1].Dist(p)
			}
			for _, q := range path {
				extent = max(extent, p.Dist(q))
			}
		}
		sum := 0.0
		for i := 1; i < len(samples); i++ {
			d := samples[i-1].Dist(samples[i])
			sum += d
			if d > step+1e-9 {
				t.Fatalf("samples %g apart, at most %g", d, step)
			}
		}
		if at == len(samples) || samples[len(samples)-1].Dist(path[len(path)-1]) > 1e-9 || samples[0] != path[0] || math.Abs(sum-length) > 1e-6 || len(samples) > 1+2*len(path)+int(length/step) {
			t.Fatalf("%d samples at most %g apart of %d corners over %g: %g", len(samples), step, len(path), length, sum)
		}
		if math.Abs(Extent(path)-extent) > 1e-9 {
			t.Errorf("extent %g, want %g", Extent(path), extent)
		}
		mid, before, nearest := Middle(path), 0.0, math.Inf(1)
		for i := 1; i < len(path); i++ {
			a, b := path[i-1], path[i]
			if a.Dist(mid)+mid.Dist(b)-a.Dist(b) < 1e-9 {
				nearest = min(nearest, math.Abs(before+a.Dist(mid)-length/2))
			}
			before += a.Dist(b)
		}
		if length > 0 && nearest > 1e-6 || length == 0 && mid != path[0] {
			t.Errorf("the middle is %g off half of %g", nearest, length)
		}
		seen := 0
		for _, p := range Samples(path, 2) {
			if dm.Seen(p, 0.3) {
				seen++
			}
		}
		if got, want := dm.Share(path, 0.3), float64(seen)/float64(len(Samples(path, 2))); got != want {
			t.Errorf("a share of %g, want %g", got, want)
		}
	}
}

// The step of a scale is the largest of 1, 2 and 5 times a power of ten that is not above a
// length, from 0.001 to 5 million; names break at the space nearest to their middle.
func TestStepsAndBreaks(t *testing.T) {
	r := rand.New(rand.NewPCG(87, 0))
	for range 2000 {
		v := math.Pow(10, 11*r.Float64()-4)
		want := 1e-3
		for k := -3; k <= 6; k++ {
			for _, m := range []float64{1, 2, 5} {
				if s := m * math.Pow(10, float64(k)); s <= v*(1+1e-12) {
					want = max(want, s)
				}
			}
		}
		if got := NiceStep(v); math.Abs(got/want-1) > 1e-9 {
			t.Errorf("%g: %g, want %g", v, got, want)
		}
		var b strings.Builder
		for range r.IntN(30) {
			b.WriteByte("ab  c"[r.IntN(5)])
		}
		s := b.String()
		best, far := 0, math.MaxInt
		for i := 1; i < len(s); i++ {
			if d := max(2*i-len(s), len(s)-2*i); s[i] == ' ' && len(s) > 16 && d < far {
				best, far = i, d
			}
		}
		if got := BreakAt(s, 16); got != best {
			t.Errorf("%q breaks at %d, want %d", s, got, best)
		}
	}
}

// However many colours a picture has, each pixel is drawn in the colour of the palette nearest to
// its own in steps; a colour that more pixels have than one with a number has its own number.
func TestPalettesAreTheMostFrequent(t *testing.T) {
	r := rand.New(rand.NewPCG(88, 0))
	for _, n := range []int{1, 5, 256, 257, 400, 3000} {
		colours := make([][3]uint8, n)
		for i := range colours {
			colours[i] = [3]uint8{uint8(r.IntN(256)), uint8(r.IntN(256)), uint8(r.IntN(256))}
		}
		const w, h = 90, 80
		c, count := newCanvas(w, h), map[[3]int]int{}
		pick := make([]int, w*h)
		for i := range pick {
			pick[i] = min(r.IntN(n), r.IntN(n)) // the first ones more often
			c.set(i%w, i/w, colours[pick[i]])
		}
		img := c.paletted(&pngShelf{})
		stepped := func(i, step int) (out [3]int) {
			for k, v := range colours[pick[i]] {
				out[k] = (int(v) + step/2) / step * step
			}
			return out
		}
		step := fewSteps
		all := map[[3]int]bool{}
		for i := range pick {
			all[stepped(i, fewSteps)] = true
		}
		if len(all) > 256 {
			step = manySteps
		}
		for i := range pick {
			count[stepped(i, step)]++
		}
		palette := map[[3]int]bool{}
		for _, p := range img.Palette {
			red, green, blue, _ := p.RGBA()
			palette[[3]int{int(red >> 8), int(green >> 8), int(blue >> 8)}] = true
		}
		most := 0 // pixels of a colour without a number
		for rgb, n := range count {
			if !palette[[3]int{rgb[0] & 255, rgb[1] & 255, rgb[2] & 255}] {
				most = max(most, n)
			}
		}
		off := func(a, b [3]int) int {
			return (a[0]-b[0])*(a[0]-b[0]) + (a[1]-b[1])*(a[1]-b[1]) + (a[2]-b[2])*(a[2]-b[2])
		}
		for i := range pick {
			red, green, blue, _ := img.At(i%w, i/w).RGBA()
			got, want := [3]int{int(red >> 8), int(green >> 8), int(blue >> 8)}, stepped(i, step)
			nearest := math.MaxInt
			for p := range palette {
				nearest = min(nearest, off(p, want))
			}
			if off(got, want) != nearest || count[want] > most && nearest != 0 {
				t.Fatalf("%d colours: pixel %d is drawn %v, its own is %v", n, i, got, want)
			}
		}
		if len(img.Palette) > 256 || len(count) <= 256 && len(img.Palette) != len(count) || len(palette) != len(img.Palette) {
			t.Errorf("%d colours: %d of %d have a number", n, len(img.Palette), len(count))
		}
	}
}
