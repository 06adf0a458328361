package mesh

import (
	"fmt"
	"slices"
	"testing"

	"fettle/internal/geom"
)

// drafted is the first draft of what would be mended, before anything is given up.
func drafted(t *testing.T, m *Mesh, tol float64) (*mender, *draft) {
	t.Helper()
	w := &mender{m: m, adj: newAdjacency(m), tol: tol, of: map[int32]int32{}, left: map[int32]string{}}
	w.free = newFreeEdges(m, &w.adj)
	if err := w.propose(); err != nil {
		t.Fatal(err)
	}
	return w, w.draft()
}

// A draft by its definition: a face is changed when it has a point that becomes one with others,
// or is a part of a divided one; each half-edge of it knows the half-edge of the mesh that it lies
// on; labels follow their faces, and each point joined is in the mean of its group.
func TestDraftsByDefinition(t *testing.T) {
	joints := joined(
		&Mesh{Points: []geom.Vec{{0, 0, 0}, {10, 0, 0}, {10, 5, 0}, {0, 5, 0}}, Faces: [][3]int32{{0, 1, 2}, {0, 2, 3}}},
		&Mesh{Points: []geom.Vec{{0, -5, 0}, {10, -5, 0}, {10, 0, 0}, {7, 0, 0}, {4, 0, 0}, {0, 0, 0}}, Faces: [][3]int32{{0, 1, 4}, {1, 3, 4}, {1, 2, 3}, {0, 4, 5}}})
	wedge := sawCut(func(x float64) float64 { return max(0, 6-x) / 10 })
	for name, m := range map[string]*Mesh{"T-joints": joints, "a wedge": wedge, "nothing to do": boxMesh(1, 2, 3)} {
		for _, labelled := range []bool{false, true} {
			if m.Label = nil; labelled {
				for f := range m.Faces {
					m.Label = append(m.Label, int32(100+f))
				}
			}
			w, d := drafted(t, m, 0.25)
			parts := map[int32]int{}
			for _, p := range d.parent {
				parts[p]++
			}
			for v, at := range m.Points {
				if g := w.groupOf(int32(v)); g >= 0 {
					at = geom.Vec{}
					for _, u := range w.group[g] {
						at = at.Add(m.Points[u])
					}
					at = at.Scale(1 / float64(len(w.group[g])))
				}
				if d.m.Points[d.now[v]].Dist(at) > 1e-12 {
					t.Errorf("%s: point %d is at %v, want %v", name, v, d.m.Points[d.now[v]], at)
				}
			}
			if len(d.m.Label) != len(m.Label)*len(d.parent)/len(m.Faces) || labelled != (d.m.Label != nil) {
				t.Errorf("%s: %d labels of %d faces", name, len(d.m.Label), len(d.parent))
			}
			for f, p := range d.parent {
				want := parts[p] > 1 || slices.ContainsFunc(m.Faces[p][:], func(v int32) bool { return w.groupOf(v) >= 0 })
				if d.changed[f] != want {
					t.Errorf("%s: face %d of %d is changed: %t, want %t", name, f, p, !want, want)
				}
				if labelled && d.m.Label[f] != int32(100+p) {
					t.Errorf("%s: face %d of %d has label %d", name, f, p, d.m.Label[f])
				}
				for k, o := range d.origin[f] {
					u, v := d.m.Faces[f][k], d.m.Faces[f][(k+1)%3]
					if o == none && parts[p] > 1 {
						continue
					}
					a, b := m.halfEnds(o)
					on := []int32{d.now[a]}
					for _, x := range w.put {
						if w.free.half[x.edge] == o {
							on = append(on, d.now[x.point])
						}
					}
					on = append(on, d.now[b])
					if i := slices.Index(on, u); o/3 != p || i < 0 || i+1 == len(on) || on[i+1] != v {
						t.Errorf("%s: the edge from %d to %d of face %d lies on %d, over %v", name, u, v, f, o, on)
					}
				}
			}
		}
	}
}

// A face divided in points of one edge, of two and of all: triangles that turn the same way and
// cover it, whose outer edges are the parts of its edges, each once and in order. Expected: by the
// shoelace on a grid of whole numbers, exact.
func TestDividingAFaceCoversIt(t *testing.T) {
	for n := range 27 { // 0 to 2 points in each edge
		count := [3]int{n % 3, n / 3 % 3, n / 9}
		m := &Mesh{Points: []geom.Vec{{0, 0, 0}, {12, 0, 0}, {0, 12, 0}}, Faces: [][3]int32{{2, 1, 0}, {0, 1, 2}}, Label: []int32{7, 8}}
		var in [3][]int32
		var outline [][3]int32 // from, to, and the half-edge
		for k := range 3 {
			a, b := m.Points[k], m.Points[(k+1)%3]
			last := int32(k)
			for i := range count[k] {
				v := int32(len(m.Points))
				m.Points = append(m.Points, a.Add(b.Sub(a).Scale(float64(i+1)/4)))
				in[k] = append(in[k], v)
				outline = append(outline, [3]int32{last, v, int32(3 + k)})
				last = v
			}
			outline = append(outline, [3]int32{last, int32((k + 1) % 3), int32(3 + k)})
		}
		d := &draft{m: &Mesh{Points: m.Points}}
		d.divide(m, 1, m.Faces[1], in)
		area := 0.0
		var rim [][3]int32
		inner := map[[2]int32]int{}
		for f, x := range d.m.Faces {
			a := d.m.areaVec(f)
			if area += a[2] / 2; a[2] <= 0 || d.parent[f] != 1 || !d.changed[f] || d.m.Label[f] != 8 {
				t.Errorf("%v: face %v of %d, changed %t, label %d, area %g", count, x, d.parent[f], d.changed[f], d.m.Label[f], a[2]/2)
			}
			for k, o := range d.origin[f] {
				if u, v := x[k], x[(k+1)%3]; o == none {
					inner[edgeOf(u, v)]++
				} else {
					rim = append(rim, [3]int32{u, v, o})
				}
			}
		}
		inOrder := func(a, b [3]int32) int { return slices.Compare(a[:], b[:]) }
		slices.SortFunc(rim, inOrder)
		slices.SortFunc(outline, inOrder)
		if area != 72 || len(d.m.Faces) != 1+count[0]+count[1]+count[2] || !slices.Equal(rim, outline) {
			t.Errorf("%v: %d triangles of %g mm2 with the outline %v, want %v", count, len(d.m.Faces), area, rim, outline)
		}
		for e, sides := range inner {
			if sides != 2 {
				t.Errorf("%v: the inner edge %v has %d sides", count, e, sides)
			}
		}
	}
}

// What was mended, in full: joined points in the order of the smallest, divided edges in the order
// of the edges, each with its ends and how far off the corner was.
func TestMendedSaysWhatWasDone(t *testing.T) {
	m := joined(
		&Mesh{Points: []geom.Vec{{0, 0, 0}, {10, 0, 0}, {10, 5, 0}, {0, 5, 0}}, Faces: [][3]int32{{0, 1, 2}, {0, 2, 3}}},
		&Mesh{Points: []geom.Vec{{0, -5, 0}, {10, -5, 0}, {10, -0.125, 0}, {7, -0.125, 0}, {4, -0.0625, 0}, {0, -0.25, 0}}, Faces: [][3]int32{{0, 1, 4}, {1, 3, 4}, {1, 2, 3}, {0, 4, 5}}})
	got, err := m.Mend(0.25)
	if err != nil {
		t.Fatal(err)
	}
	joins := fmt.Sprint(got.Joined)
	wantJoins := fmt.Sprint([]JoinedPoints{
		{geom.Vec{0, -0.125, 0}, []geom.Vec{{0, 0, 0}, {0, -0.25, 0}}, 0.25},
		{geom.Vec{10, -0.0625, 0}, []geom.Vec{{10, 0, 0}, {10, -0.125, 0}}, 0.125}})
	edge := [2]geom.Vec{{0, 0, 0}, {10, 0, 0}}
	wantDivided := []DividedEdge{{geom.Vec{4, -0.0625, 0}, 0.0625, edge}, {geom.Vec{7, -0.125, 0}, 0.125, edge}}
	if joins != wantJoins || !slices.Equal(got.Divided, wantDivided) || len(got.Left) != 0 {
		t.Errorf("joined %v, want %v; divided %v, want %v; left %v", joins, wantJoins, got.Divided, wantDivided, got.Left)
	}
	if moved := got.Joined[0].MovedMM(); moved != 0.125 {
		t.Errorf("moved by %g", moved)
	}
	if len(got.Mesh.Points) != 8 || len(got.Mesh.Faces) != 8 || got.Before.Components != 2 || got.After.Components != 1 || !slices.Equal(got.Parent, []int32{0, 0, 0, 1, 2, 3, 4, 5}) {
		t.Errorf("%d points, %d faces of %v, %+v before, %+v after", len(got.Mesh.Points), len(got.Mesh.Faces), got.Parent, got.Before, got.After)
	}
}
