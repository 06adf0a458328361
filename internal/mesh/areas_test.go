package mesh

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fettle/internal/elem"
	"fettle/internal/geom"
)

// besides is the faces beside each over edges of two faces, with the half-edge of the first, and
// how far their normals differ, one turned over where the two disagree about the outside.
func besides(m *Mesh) (near [][][2]int32, angle func(h, g int32) float64) {
	near = make([][][2]int32, len(m.Faces))
	of := map[[2]int32][]int32{}
	for f, t := range m.Faces {
		if t[0] == t[1] || t[1] == t[2] || t[0] == t[2] {
			continue
		}
		for k := range int32(3) {
			e := edgeOf(t[k], t[(k+1)%3])
			of[e] = append(of[e], 3*int32(f)+k)
		}
	}
	for _, hs := range of {
		if len(hs) == 2 {
			near[hs[0]/3] = append(near[hs[0]/3], [2]int32{hs[0], hs[1]})
			near[hs[1]/3] = append(near[hs[1]/3], [2]int32{hs[1], hs[0]})
		}
	}
	angle = func(h, g int32) float64 {
		normal := func(f int32) geom.Vec {
			a, b, c := m.corners(int(f))
			return b.Sub(a).Cross(c.Sub(a))
		}
		n, o := normal(h/3), normal(g/3)
		if n == (geom.Vec{}) || o == (geom.Vec{}) {
			return 0
		}
		if m.Faces[h/3][h%3] == m.Faces[g/3][g%3] {
			o = o.Scale(-1)
		}
		return elem.Atan2(n.Cross(o).Norm(), n.Dot(o))
	}
	return near, angle
}

// Regions and grown regions against a flood over the edges as they are defined, on tangled
// meshes with every kind of edge.
func TestRegionsMatchPlainFlood(t *testing.T) {
	r := rand.New(rand.NewPCG(91, 0))
	several, grew := 0, 0
	for k := range 300 {
		m := tangled(r, 5+r.IntN(8), 2+r.IntN(16))
		if k%5 == 0 {
			m = bumpyTorus(8, 6, uint64(k))
		}
		s, err := NewSurface(m)
		if err != nil {
			continue
		}
		near, angle := besides(m)
		most := []float64{0.2, 0.5, 1.6, 3}[k%4]
		want, next := make([]int32, len(m.Faces)), int32(0)
		for f := range want {
			want[f] = -1
		}
		for f := range want {
			if want[f] >= 0 {
				continue
			}
			for todo := []int32{int32(f)}; len(todo) > 0; todo = todo[1:] {
				want[todo[0]] = next
				for _, e := range near[todo[0]] {
					if want[e[1]/3] < 0 && angle(e[0], e[1]) <= most {
						todo = append(todo, e[1]/3)
					}
				}
			}
			next++
		}
		if got := s.Regions(most); !slices.Equal(got, want) {
			t.Fatalf("mesh %d: %v, want %v", k, got, want)
		}
		if next > 1 {
			several++
		}
		seeds := []int{r.IntN(len(m.Faces)), r.IntN(len(m.Faces))}
		total := []float64{0.3, 1, math.Pi}[k%3]
		in := map[int32]bool{}
		for _, seed := range seeds {
			own := map[int32]bool{int32(seed): true}
			for todo := []int32{int32(seed)}; len(todo) > 0; todo = todo[1:] {
				in[todo[0]] = true
				for _, e := range near[todo[0]] {
					if f := e[1] / 3; !own[f] && angle(e[0], e[1]) <= most && angleRad(m.FaceNormal(seed), m.FaceNormal(int(f))) <= total {
						own[f] = true
						todo = append(todo, f)
					}
				}
			}
		}
		got, err := s.GrowRegion(seeds, most, total)
		if err != nil || len(got) != len(in) || !slices.IsSorted(got) || slices.ContainsFunc(got, func(f int32) bool { return !in[f] }) {
			t.Fatalf("mesh %d: grown %v, want %v, %v", k, got, in, err)
		}
		if len(got) > 2 {
			grew++
		}
		for _, bad := range []int{-1, len(m.Faces)} {
			if _, err := s.GrowRegion([]int{0, bad}, 1, 1); err == nil {
				t.Errorf("grown from face %d of %d", bad, len(m.Faces))
			}
			if _, err := s.ResizeRegion([]int32{0, int32(bad)}, 1, 1); err == nil {
				t.Errorf("resized a region with face %d of %d", bad, len(m.Faces))
			}
		}
	}
	if several < 100 || grew < 60 {
		t.Errorf("only %d meshes of several regions, %d grown", several, grew)
	}
}

// A region moved outward has the faces all of whose corners lie so near its border along the
// surface, moved inward it has lost those of which one does; distances from places on the border
// drawn close together, by the search that is held against unfolding elsewhere.
func TestResizedRegionsByDefinition(t *testing.T) {
	r := rand.New(rand.NewPCG(92, 0))
	m := bumpyTorus(24, 14, 5)
	s := surfaceOf(t, m)
	near, _ := besides(m)
	changed := 0
	for range 12 {
		region, err := s.GrowRegion([]int{r.IntN(len(m.Faces))}, 1.5, 0.5+r.Float64())
		if err != nil {
			t.Fatal(err)
		}
		in := make([]bool, len(m.Faces))
		for _, f := range region {
			in[f] = true
		}
		const step = 4.0
		var border []Site
		for f, es := range near {
			for _, e := range es {
				if !in[f] || in[e[1]/3] {
					continue
				}
				a, b := m.Points[m.Faces[f][e[0]%3]], m.Points[m.Faces[f][(e[0]+1)%3]]
				n := math.Ceil(a.Dist(b) / step)
				for i := 0.0; i <= n; i++ {
					border = append(border, s.SiteAt(a.Lerp(b, i/n), f))
				}
			}
		}
		mm := []float64{-30, -12, 9, 25}[r.IntN(4)] * (1 + r.Float64())
		d, err := s.ExactDistances(border, nil, math.Inf(1))
		if err != nil {
			t.Fatal(err)
		}
		var want []int32
		sure := true
		for f, c := range m.Faces {
			far, least := max(d.Points[c[0]], d.Points[c[1]], d.Points[c[2]]), min(d.Points[c[0]], d.Points[c[1]], d.Points[c[2]])
			sure = sure && math.Abs(far-math.Abs(mm)) > 1e-6 && math.Abs(least-math.Abs(mm)) > 1e-6
			if is := in[f] && (mm > 0 || least >= -mm) || !in[f] && mm > 0 && far <= mm; is {
				want = append(want, int32(f))
			}
		}
		got, err := s.ResizeRegion(region, mm, step)
		if err != nil || sure && !slices.Equal(got, want) {
			t.Errorf("moved by %g: %d faces, want %d, %v", mm, len(got), len(want), err)
		}
		if len(got) != len(region) {
			changed++
		}
		if same, err := s.ResizeRegion(region, 0, step); err != nil || !slices.Equal(same, region) {
			t.Errorf("moved by nothing: %v", err)
		}
	}
	all := make([]int32, len(m.Faces))
	for f := range all {
		all[f] = int32(f)
	}
	if got, err := s.ResizeRegion(all, -50, 4); err != nil || !slices.Equal(got, all) {
		t.Errorf("a region without a border has moved it: %d faces, %v", len(got), err)
	}
	if changed < 8 {
		t.Errorf("only %d regions changed", changed)
	}
	for _, c := range [][2]float64{{math.NaN(), 1}, {math.Inf(1), 1}, {math.Inf(-1), 1}, {1, 0}, {1, -1}, {1, math.NaN()}} {
		if _, err := s.ResizeRegion(all, c[0], c[1]); err == nil {
			t.Errorf("moved by %g in steps of %g", c[0], c[1])
		}
	}
}

// Smoothed labels: borders are no longer than before, no face near where they began could take a
// neighbour's label and shorten them, others keep theirs, and every label is still there.
func TestSmoothLabelsByDefinition(t *testing.T) {
	r := rand.New(rand.NewPCG(93, 0))
	for k := range 8 {
		m := bumpyTorus(16, 10, uint64(k))
		for range m.Faces {
			m.Label = append(m.Label, 0)
		}
		for l := range int32(5) {
			region, _ := surfaceOf(t, m).GrowRegion([]int{r.IntN(len(m.Faces))}, 1.2, 0.4+r.Float64())
			for _, f := range region {
				if r.IntN(6) > 0 {
					m.Label[f] = l + 1
				}
			}
		}
		s, sharp, reach := surfaceOf(t, m), 0.15+0.3*r.Float64(), []float64{0, 20, 1000}[k%3]
		label, err := s.SmoothLabels(sharp, reach)
		if err != nil {
			t.Fatal(err)
		}
		near, angle := besides(m)
		cost := func(of []int32, f int32, l int32) (sum float64) { // of the borders round a face with label l
			for _, e := range near[f] {
				if of[e[1]/3] != l && angle(e[0], e[1]) <= sharp {
					u, v := m.halfEnds(e[0])
					sum += m.Points[u].Dist(m.Points[v])
				}
			}
			return sum
		}
		before, after, count := 0.0, 0.0, map[int32]int{}
		var border []Site
		for f := range m.Faces {
			before, after = before+cost(m.Label, int32(f), m.Label[f]), after+cost(label, int32(f), label[f])
			count[label[f]]++
			for _, e := range near[f] {
				if m.Label[e[1]/3] != m.Label[f] {
					for _, v := range [2]int{int(e[0] % 3), int(e[0]+1) % 3} {
						site, _ := s.PointSite(int(m.Faces[f][v]))
						border = append(border, site)
					}
				}
			}
		}
		d, err := s.ExactDistances(border, nil, math.Inf(1))
		if err != nil {
			t.Fatal(err)
		}
		moved := 0
		for f, c := range m.Faces {
			least := min(d.Points[c[0]], d.Points[c[1]], d.Points[c[2]])
			if label[f] != m.Label[f] {
				moved++
				if least > reach {
					t.Errorf("mesh %d: face %d has another label, %g from the border", k, f, least)
				}
			}
			for _, e := range near[f] {
				if l := label[e[1]/3]; least <= reach && count[label[f]] > 1 && cost(label, int32(f), l) < cost(label, int32(f), label[f])*(1-2e-9) {
					t.Errorf("mesh %d: face %d could take label %d", k, f, l)
				}
			}
		}
		for _, l := range m.Label {
			if count[l] == 0 {
				t.Errorf("mesh %d: label %d has vanished", k, l)
			}
		}
		if after > before || moved == 0 {
			t.Errorf("mesh %d: borders of %g were %g, %d faces changed", k, after, before, moved)
		}
	}
	if _, err := surfaceOf(t, boxMesh(1, 1, 1)).SmoothLabels(1, 1); err == nil {
		t.Error("labels that are not there were smoothed")
	}
	one := boxMesh(1, 1, 1)
	one.Label = make([]int32, 12)
	if got, err := surfaceOf(t, one).SmoothLabels(1, 1); err != nil || !slices.Equal(got, one.Label) {
		t.Errorf("one label: %v, %v", got, err)
	}
	one.MergeLabels([]int32{3, 0}, 7)
	if slices.Min(one.Label) != 7 || slices.Max(one.Label) != 7 {
		t.Errorf("merged: %v", one.Label)
	}
	one.Label = []int32{1, 2, 3, 1, 2, 3, 1, 2, 3, 1, 2, 3}
	if one.MergeLabels([]int32{1, 3}, 2); slices.Min(one.Label) != 2 || slices.Max(one.Label) != 2 {
		t.Errorf("merged: %v", one.Label)
	}
}

// Edges are numbered as a map of their ends numbers them, the more there are at a point.
func TestEdgesOfManyFaces(t *testing.T) {
	r := rand.New(rand.NewPCG(94, 0))
	for range 40 {
		m := tangled(r, 4+r.IntN(20), 1+r.IntN(120))
		of, n := m.EdgeOf()
		known, ends := map[[2]int32]int32{}, map[int32][2]int32{}
		for h, e := range of {
			u, v := m.halfEnds(int32(h))
			if was, ok := known[edgeOf(u, v)]; ok && was != e {
				t.Fatalf("edge %d-%d is %d and %d", u, v, was, e)
			}
			if was, ok := ends[e]; ok && was != edgeOf(u, v) {
				t.Fatalf("edge %d is %v and %v", e, was, edgeOf(u, v))
			}
			known[edgeOf(u, v)], ends[e] = e, edgeOf(u, v)
			if e < 0 || int(e) >= n {
				t.Fatalf("edge %d of %d", e, n)
			}
		}
		if len(known) != n {
			t.Fatalf("%d edges, said %d", len(known), n)
		}
		// in order of their points, their half-edges ascending
		var last [2]int32
		seen := map[[2]int32]int{}
		m.edgeGroups(func(u, v int32, halves []int32) {
			e := [2]int32{u, v}
			if len(seen) > 0 && slices.Compare(last[:], e[:]) >= 0 || u > v || !slices.IsSorted(halves) {
				t.Fatalf("edge %v of %v after %v", e, halves, last)
			}
			for _, h := range halves {
				if a, b := m.halfEnds(h); edgeOf(a, b) != e {
					t.Fatalf("half-edge %d is not of %v", h, e)
				}
			}
			last, seen[e] = e, len(halves)
		})
		for _, c := range m.Faces {
			for k := range 3 {
				if !collapsed(c) {
					seen[edgeOf(c[k], c[(k+1)%3])]--
				}
			}
		}
		for e, n := range seen {
			if n != 0 {
				t.Fatalf("edge %v: %d half-edges too many", e, n)
			}
		}
	}
}

// Distances along edges are those that relaxing every edge gives until nothing changes, on open
// and tangled meshes too; beyond the limit there is none.
func TestGraphDistancesByRelaxing(t *testing.T) {
	r := rand.New(rand.NewPCG(95, 0))
	for k := range 60 {
		m := tangled(r, 6+r.IntN(10), 6+r.IntN(12))
		if k%3 == 0 {
			m = bumpyTorus(8, 6, uint64(k))
			m.Faces = m.Faces[:20+r.IntN(60)]
		}
		f := slices.IndexFunc(m.Faces, func(c [3]int32) bool { return !collapsed(c) })
		s, err := NewSurface(m)
		if err != nil {
			continue
		}
		site, limit := s.Site(f, [3]float64{r.Float64(), r.Float64(), r.Float64()}), []float64{2, 80, math.Inf(1)}[r.IntN(3)]
		want := make([]float64, len(m.Points))
		for v := range want {
			want[v] = math.Inf(1)
		}
		for _, v := range m.Faces[f] {
			want[v] = site.At.Dist(m.Points[v])
		}
		for changed := true; changed; {
			changed = false
			for _, c := range m.Faces {
				for i := range 6 {
					u, v := c[i%3], c[(i%3+1+i/3)%3]
					if d := want[u] + m.Points[u].Dist(m.Points[v]); !collapsed(c) && d < want[v]-1e-12 {
						want[v], changed = d, true
					}
				}
			}
		}
		got, err := s.GraphDistances([]Site{site}, limit)
		for v := range want {
			if want[v] > limit {
				want[v] = math.Inf(1)
			}
			if err != nil || math.IsInf(got[v], 1) != math.IsInf(want[v], 1) || !math.IsInf(want[v], 1) && math.Abs(got[v]-want[v]) > 1e-9 {
				t.Fatalf("mesh %d, point %d: %g, want %g, %v", k, v, got[v], want[v], err)
			}
		}
	}
}
