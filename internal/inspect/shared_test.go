package inspect

import (
	"fmt"
	"reflect"
	"sync"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/vehicle"
)

// TestVehicleIsSharedByGoroutines inspects several jobs at once on one new vehicle,
// so that whatever it fills when it is first asked is filled by many; each gets
// the answers of a vehicle of its own. The race detector runs this test.
func TestVehicleIsSharedByGoroutines(t *testing.T) {
	b := newBench(slab(5))
	line := body.Line{ID: "S", Casting: "C", Normal: geom.Vec{1, 0, 0}, Offset: 120}
	b.body.Lines = []body.Line{line}
	b.body.Joints = []body.Joint{{ID: "J", Layers: []body.PartID{"P"}, Along: [][]geom.Vec{{{20, 90, 0}, {180, 90, 0}}}}}
	b.body.Procedures[0].Areas = []body.AreaRule{{ID: "R1", Cite: "test", Of: []body.AreaKind{"zone", "ribs", "joints"}, Method: "visual"}}
	for i := range 4 {
		y := 15 + 20*float64(i)
		b.crack(job.FindingID(fmt.Sprintf("F%d", i+1)), 0.5, geom.Vec{60, y, 0}, geom.Vec{80, y, 0}, geom.Vec{110, y + 3, 0})
	}
	in := b.input(t)
	alone, notesAlone := Run(in)
	wantLine, errAlone := vehicle.Part(line, in.Vehicle.Surface("C"))
	in.Vehicle = vehicle.New(in.Body, map[body.CastingID]*mesh.Surface{"C": in.Vehicle.Surface("C")})
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			got, notes := Run(in)
			if !reflect.DeepEqual(got, alone) || !reflect.DeepEqual(notes, notesAlone) {
				t.Error("the shared vehicle gives other answers")
			}
			p, err := in.Vehicle.Part(line)
			if errAlone != nil || err != nil || !reflect.DeepEqual(p, wantLine) {
				t.Errorf("the shared vehicle divides the casting otherwise: %v, %v", err, errAlone)
			}
		})
	}
	wg.Wait()
	if len(alone.Findings) != 4 || !alone.Findings[0].Located {
		t.Errorf("nothing was inspected: %+v", alone.Findings)
	}
}
