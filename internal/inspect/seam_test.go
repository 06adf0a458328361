package inspect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// slit is a mesh opened along the row of edges on which from and to lie, which are parallel to
// the y axis: the points between get doubles for the faces beyond, gap farther on; with no
// gap the faces beyond are divided instead, so that every edge ends in a T-joint.
func slit(m *mesh.Mesh, x, from, to, z, gap float64) *mesh.Mesh {
	on := func(v int32) bool {
		p := m.Points[v]
		return math.Abs(p[0]-x) < 1e-9 && p[1] > from-1e-9 && p[1] < to+1e-9 && math.Abs(p[2]-z) < 1e-9
	}
	beyond := func(f int) bool {
		sum, flat := 0.0, true
		for _, v := range m.Faces[f] {
			sum, flat = sum+m.Points[v][0]-x, flat && math.Abs(m.Points[v][2]-z) < 1e-9
		}
		return sum > 0 && flat
	}
	out := &mesh.Mesh{Points: append([]geom.Vec(nil), m.Points...)}
	double := map[int32]int32{}
	for f, t := range m.Faces {
		faces := [][3]int32{t}
		for k := range 3 {
			u, v := t[k], t[(k+1)%3]
			switch {
			case !beyond(f):
			case gap > 0 && on(u) && m.Points[u][1] > from+1e-9 && m.Points[u][1] < to-1e-9:
				d, ok := double[u]
				if !ok {
					d = int32(len(out.Points))
					double[u] = d
					out.Points = append(out.Points, m.Points[u].Add(geom.Vec{gap, 0, 0}))
				}
				faces[0][k] = d
			case gap == 0 && on(u) && on(v):
				d := int32(len(out.Points))
				out.Points = append(out.Points, m.Points[u].Lerp(m.Points[v], 0.5))
				w := t[(k+2)%3]
				faces = [][3]int32{{u, d, w}, {d, v, w}}
			}
		}
		for _, g := range faces {
			out.Faces, out.Label = append(out.Faces, g), append(out.Label, m.Label[f])
		}
	}
	return out
}

// A seam, a row of T-joints and turned triangles in the mesh never make a finding look better: no
// zone goes, no clearance to a border, a bore or another crack grows, no length and no
// length that is decided with shrinks. Against the same mesh without them; the gap is
// what a clearance may gain.
func TestSeamsPermitNothing(t *testing.T) {
	for seed := range uint64(campaign(7, 600)) {
		r := rand.New(rand.NewPCG(seed, 14))
		whole := []func() *mesh.Mesh{plate, func() *mesh.Mesh { return slab(5) }}[r.IntN(2)]()
		x := 5 * float64(2+r.IntN(36))
		if r.IntN(2) == 0 {
			x = 100 // the border between the zones
		}
		from := 5 * float64(r.IntN(12))
		gap := []float64{0, 1e-5, 0.02, 0.3}[r.IntN(4)]
		open := slit(whole, x, from, from+5*float64(4+r.IntN(9)), 0, gap)
		for range r.IntN(3) * r.IntN(4) { // some triangles turned, too
			t := &open.Faces[r.IntN(len(open.Faces))]
			t[0], t[1] = t[1], t[0]
		}
		b := newBench(whole)
		p := &b.body.Procedures[0]
		p.Rows = []body.Row{{ID: "1", When: map[string]string{"bore_clearance": ">= 6 mm", "border_clearance": ">= 4 mm", "spacing": ">= 8 mm"}},
			{ID: "2", When: map[string]string{"bore_clearance": ">= 15 mm", "border_clearance": ">= 12 mm", "spacing": ">= 25 mm"}}}
		c := &b.body.Castings[0]
		c.Bores = []body.Bore{{ID: "H", At: geom.Vec{x + 30*(r.Float64()-0.5), from + 40*r.Float64(), 0}, Radius: unit.MM(3 + 3*r.Float64()), Axis: geom.Vec{0, 0, 1}}}
		std := []float64{0.2, 0.6}[r.IntN(2)]
		for _, id := range []job.FindingID{"F", "G"} {
			at := geom.Vec{min(190, max(10, x+40*(r.Float64()-0.5))), from + 5 + 40*r.Float64(), 0}
			step := geom.Vec{6 * r.NormFloat64(), 6 * r.NormFloat64(), 0}
			var trace []geom.Vec
			for k := range 3 {
				q := at.Add(step.Scale(float64(k)))
				trace = append(trace, geom.Vec{min(195, max(5, q[0])), min(95, max(5, q[1])), 0})
			}
			b.crack(id, std, trace...)
		}
		want, _ := Run(b.input(t))
		b.mesh = open
		in := b.input(t)
		if len(in.Vehicle.Surface("C").Gaps().Edges) == 0 {
			t.Fatalf("seed %d: no seam in the mesh", seed)
		}
		got, _ := Run(in)
		for i, w := range want.Findings {
			for _, fault := range better(got.Findings[i], w, gap) {
				t.Errorf("seed %d, %s at x = %g, gap %g: %s", seed, w.ID, x, gap, fault)
			}
		}
	}
}

// A foot of a rib that lies along a seam is a foot as well. Constructed: a sheet that comes
// down by atan(9/12) and is flat from x = 20 on, 40 mm long, opened along that line.
func TestFootOfARibAlongASeam(t *testing.T) {
	for _, gap := range []float64{0, 1e-5, 0.02} {
		open := slit(grid(20, 10, func(u, v float64) geom.Vec {
			return geom.Vec{40 * u, 40 * v, max(0, 20-40*u) * 9 / 12}
		}, func(geom.Vec) int32 { return 1 }), 20, 0, 40, 0, gap)
		s, err := mesh.NewSurface(open)
		if err != nil {
			t.Fatal(err)
		}
		g := vehicle.Alone(nil, s)
		if mm := g.RibFeet().By[1].LengthMM; math.Abs(mm-40) > 0.1 {
			t.Errorf("gap %g: feet of %.2f mm, want 40", gap, mm)
		}
	}
}

// better is what a finding says that is milder than what another says, beyond mm.
func better(got, want Finding, mm float64) (out []string) {
	if !got.Located || !want.Located {
		return nil // nothing is said of it, or not by the other
	}
	mm += 1e-6
	for _, z := range want.Zones {
		if !got.in(z.Zone) {
			out = append(out, fmt.Sprintf("zone %s is gone: %+v", z.Zone, got.Zones))
		}
	}
	for name, c := range map[string][2]*Clearance{"border": {got.Border, want.Border}, "bore": {got.Bore, want.Bore}, "spacing": {got.Spacing, want.Spacing}} {
		if c[0] != nil && c[1] != nil && c[0].MM > c[1].MM+mm+closeMM {
			out = append(out, fmt.Sprintf("%s %.3f mm in place of %.3f: %+v", name, c[0].MM, c[1].MM, *c[0]))
		}
	}
	for name, l := range map[string][2]*Length{"length": {got.Length, want.Length}, "decision length": {got.Decision, want.Decision}} {
		if l[1] != nil && l[0] != nil && (l[0].MM+1.645*l[0].Std < l[1].MM+1.645*l[1].Std-mm-1e-3) { // none: it is not known
			out = append(out, fmt.Sprintf("%s %+v in place of %+v", name, l[0], l[1]))
		}
	}
	return out
}
