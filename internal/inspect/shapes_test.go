package inspect

import (
	"math"
	"math/rand/v2"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/shop"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// grid makes a sheet of nu by nv cells; at gives the point for u, v in 0..1 and
// label the label of a cell from its middle.
func grid(nu, nv int, at func(u, v float64) geom.Vec, label func(p geom.Vec) int32) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := 0; i <= nu; i++ {
		for j := 0; j <= nv; j++ {
			m.Points = append(m.Points, at(float64(i)/float64(nu), float64(j)/float64(nv)))
		}
	}
	for i := range nu {
		for j := range nv {
			a := int32(i*(nv+1) + j)
			b := a + int32(nv+1)
			l := label(at((float64(i)+.5)/float64(nu), (float64(j)+.5)/float64(nv)))
			m.Faces = append(m.Faces, [3]int32{a, b, b + 1}, [3]int32{a, b + 1, a + 1})
			m.Label = append(m.Label, l, l)
		}
	}
	return m
}

// halves labels everything with x below 100 mm 1, the rest 2.
func halves(p geom.Vec) int32 {
	if p[0] < 100 {
		return 1
	}
	return 2
}

// plate is a flat sheet 200 x 100 mm at z = 0 with two labels that meet at
// x = 100 mm, in cells of 5 mm.
func plate() *mesh.Mesh {
	return grid(40, 20, func(u, v float64) geom.Vec { return geom.Vec{200 * u, 100 * v, 0} }, halves)
}

// slab is a closed plate 200 x 100 x wall mm; its upper face is at z = 0.
func slab(wall float64) *mesh.Mesh {
	m := plate()
	n := int32(len(m.Points))
	for _, p := range m.Points[:n] {
		m.Points = append(m.Points, geom.Vec{p[0], p[1], -wall})
	}
	for f, t := range m.Faces[:len(m.Faces):len(m.Faces)] {
		m.Faces = append(m.Faces, [3]int32{t[0] + n, t[2] + n, t[1] + n})
		m.Label = append(m.Label, m.Label[f])
	}
	var rim []int32 // anticlockwise seen from above
	for i := int32(0); i < 40; i++ {
		rim = append(rim, i*21)
	}
	for j := int32(0); j < 20; j++ {
		rim = append(rim, 40*21+j)
	}
	for i := int32(40); i > 0; i-- {
		rim = append(rim, i*21+20)
	}
	for j := int32(20); j > 0; j-- {
		rim = append(rim, j)
	}
	for k, a := range rim {
		b := rim[(k+1)%len(rim)]
		m.Faces = append(m.Faces, [3]int32{a, a + n, b + n}, [3]int32{a, b + n, b})
		l := halves(m.Points[a].Lerp(m.Points[b], .5))
		m.Label = append(m.Label, l, l)
	}
	return m
}

// quarter is a quarter of a cylinder about the z axis, radius r, height h, in n
// flats around.
func quarter(r, h float64, n int) *mesh.Mesh {
	return grid(n, 10, func(u, v float64) geom.Vec {
		s, c := math.Sincos(u * math.Pi / 2)
		return geom.Vec{r * c, r * s, h * v}
	}, func(geom.Vec) int32 { return 1 })
}

// fold is a sheet that is level up to x = 20 mm and then rises 9 mm on 12.
func fold() *mesh.Mesh {
	return grid(20, 10, func(u, v float64) geom.Vec {
		x := 40 * u
		return geom.Vec{x, 40*v - 10, max(0, x-20) * 9 / 12}
	}, func(geom.Vec) int32 { return 1 })
}

// bench is a body with one casting on the given mesh, and a job for it.
type bench struct {
	body body.Body
	job  job.State
	mesh *mesh.Mesh
}

// benchDay is the day on which everything of a bench is done.
var benchDay = unit.Date{Year: 2026, Month: 5, Day: 1}

func newBench(m *mesh.Mesh) *bench {
	b := &bench{mesh: m}
	b.body.Castings = []body.Casting{{ID: "C", Part: "P", Mesh: "c.ply", MeshStd: 0.1, Wall: 5,
		Zones: []body.Zone{{ID: "A", Label: 1, Name: "A"}, {ID: "B", Label: 2, Name: "B"}}}}
	b.body.Procedures = []body.Procedure{{ID: "R", Revision: "3", Casting: "C",
		Effective: unit.Date{Year: 2026, Month: 1, Day: 1}, TipVisual: 4, GroupGap: 5, Methods: methods()}}
	on := benchDay
	b.job.Castings = []job.Cast{{Casting: "C", Looked: true, By: "T", On: on}}
	b.job.Looks = []job.Inspection{{ID: "VT", Method: "visual", By: "T", On: on, Light: unit.Some(600.0)},
		{ID: "PT", Method: "penetrant", Medium: "colour contrast", By: "T", On: on, Dwell: unit.Some(20.0)}}
	b.job.Opened = benchDay
	return b
}

// boreWalls is how far the axis of a bore reaches to either side of its centre, in walls.
const boreWalls = 3.0

// benchShop is a shop of which only a person is known.
func benchShop() *shop.Shop { return &shop.Shop{People: []shop.Person{{ID: "T"}}} }

// methods is when an inspection of the bench counts. The figures are made up.
func methods() []body.Method {
	return []body.Method{
		{Method: "visual", Finds: 4, Bounds: []body.Bound{{What: "light_lx", Least: unit.Some(500.0), Cite: "test", Status: "memory"}}},
		{Method: "penetrant", Finds: 1, Bounds: []body.Bound{{What: "dwell_min", Least: unit.Some(5.0), Most: unit.Some(60.0), Cite: "test", Status: "memory"}}}}
}

// crack adds a crack with penetrant-verified tips that goes through.
func (b *bench) crack(id job.FindingID, std float64, trace ...geom.Vec) *job.Finding {
	b.job.Findings = append(b.job.Findings, job.Finding{ID: id, Kind: "crack", Part: "P", Trace: trace,
		Std: unit.MM(std), Tips: []body.TipMethod{"penetrant", "penetrant"}, Through: "yes", Look: "PT", By: "T", On: benchDay})
	return &b.job.Findings[len(b.job.Findings)-1]
}

func (b *bench) input(t testing.TB) Input {
	t.Helper()
	s, err := mesh.NewSurface(b.mesh)
	if err != nil {
		t.Fatal(err)
	}
	return Input{Body: &b.body, Job: &b.job, Vehicle: vehicle.New(&b.body, map[body.CastingID]*mesh.Surface{"C": s}),
		Shop: benchShop()}
}

func find(t testing.TB, r Result, id job.FindingID) Finding {
	t.Helper()
	f, ok := r.Finding(id)
	if !ok {
		t.Fatalf("no finding %s", id)
	}
	return f
}

func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.6f, want %.6f +- %g", what, got, want, tol)
	}
}

func rng(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0)) }
