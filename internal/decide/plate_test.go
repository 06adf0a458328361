package decide

import (
	"sync"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// plate is the world of the check procedure on a real mesh: a plate of 200 x
// 100 mm at z = 0, wall 3 mm, whose zones are bands of 20 mm: OPEN-1 at y 0 to
// 20, then OPEN-2, GUARDED-1, GUARDED-2 and CRITICAL-1. Constructed.
type plate struct {
	*world
	vehicle *vehicle.Vehicle
}

const bandMM = 20.0

// plateMesh is cut into squares of 5 mm.
func plateMesh() *mesh.Mesh {
	const nx, ny, step = 40, 20, 5.0
	m := &mesh.Mesh{}
	for i := range nx + 1 {
		for j := range ny + 1 {
			m.Points = append(m.Points, geom.Vec{step * float64(i), step * float64(j), 0})
		}
	}
	at := func(i, j int) int32 { return int32(i*(ny+1) + j) }
	for i := range nx {
		for j := range ny {
			m.Faces = append(m.Faces, [3]int32{at(i, j), at(i+1, j), at(i+1, j+1)}, [3]int32{at(i, j), at(i+1, j+1), at(i, j+1)})
			label := int32(float64(j)*step/bandMM) + 1
			m.Label = append(m.Label, label, label)
		}
	}
	return m
}

// plateSurface is the mesh of the plate, made once.
func plateSurface(t testing.TB) *mesh.Surface {
	t.Helper()
	s, err := onePlate()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

var onePlate = sync.OnceValues(func() (*mesh.Surface, error) { return mesh.NewSurface(plateMesh()) })

func newPlate(t testing.TB) *plate {
	t.Helper()
	s := plateSurface(t)
	p := &plate{world: newWorld()}
	b := p.in.Body
	c := &b.Castings[0]
	c.Wall, c.MeshStd = 3, 0
	c.Bores = []body.Bore{{ID: "H1", At: geom.Vec{180, 90, 0}, Axis: geom.Vec{0, 0, 1}, Radius: 4}}
	b.Lines = nil
	b.Procedures[0].Methods = []body.Method{{Method: "penetrant", Finds: 1, Cite: "constructed", Bounds: []body.Bound{{What: "dwell_min", Least: unit.Some(5.0), Cite: "constructed", Status: "memory"}}}}
	p.in.Job.Opened = day(2030, 3, 1)
	p.in.Job.Looks = []job.Inspection{{ID: "PT", Method: "penetrant", Medium: "colour contrast", By: "T", On: day(2030, 3, 1), Dwell: unit.Some(20.0)}}
	for i := range b.Inspect {
		b.Inspect[i].Method, b.Inspect[i].Finds, b.Inspect[i].Cite = "penetrant", 1, "constructed"
		p.in.Job.Areas = append(p.in.Job.Areas, job.AreaSeen{Area: b.Inspect[i].ID, State: "penetrant", By: "T", On: day(2030, 3, 1), Look: "PT"})
	}
	p.vehicle = vehicle.New(b, map[body.CastingID]*mesh.Surface{"FRONT": s})
	return p
}

// crack adds a crack whose tips were found with penetrant.
func (p *plate) crack(id string, std float64, trace ...geom.Vec) *job.Finding {
	p.in.Job.Findings = append(p.in.Job.Findings, job.Finding{ID: job.FindingID(id), Kind: "crack", Part: "P-FRONT", Trace: trace, Std: unit.MM(std),
		Tips: []body.TipMethod{"penetrant", "penetrant"}, Through: "no", Look: "PT", Seen: "penetrant", By: "T", On: day(2030, 3, 1)})
	return &p.in.Job.Findings[len(p.in.Job.Findings)-1]
}

// decided is what was found out on the way, and decided.
type decided struct {
	in    inspect.Result
	out   Result
	notes []diag.Note
}

// decide goes the whole path.
func (p *plate) decide() decided {
	in := p.in
	in.Inspect, _ = inspect.Run(inspect.Input{Body: in.Body, Job: in.Job, Vehicle: p.vehicle, Shop: in.Shop, Today: in.Today})
	out, notes := Run(in)
	return decided{in.Inspect, out, notes}
}
