package app

import (
	"encoding/json"
	"fmt"
	"maps"
	"os"
	"strings"
	"sync"
	"testing"

	"fettle/internal/decide"
	"fettle/internal/demo"
	"fettle/internal/golden/folders"
	"fettle/internal/inspect"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// coarse is the demonstration with the coarse mesh of its casting: it takes less of a machine
// that looks for races.
func coarse(testing.TB) memory { return memory(folders.Coarse()) }

// Commands that open and assess jobs of one body all at once, before anybody has read it,
// say to the byte what each says alone: verdicts of the damaged vehicle and all of the
// sound one; where the race detector runs the test all of both, and in the campaign with
// their documents.
func TestJobsOfOneBodyAtOnce(t *testing.T) {
	m, campaign := coarse(t), os.Getenv("FETTLE_CAMPAIGN") != ""
	assessed := func(b *Bodies, job string) (string, *vehicle.Vehicle) {
		a := New(m, "test").WithBodies(b)
		c, err := a.Open(t.Context(), job)
		if err != nil {
			t.Error(err)
			return "", nil
		}
		var r Assessment
		if underRace || campaign || job == demo.SoundJob {
			r = assessedOf(t, a, c, demo.Day)
		} else {
			r.Made = demo.Day
			r.Inspect, r.Notes = inspect.Run(inspect.Input{Body: c.Body, Job: c.Job, Vehicle: c.Vehicle, Shop: c.Shop, Today: unit.DateOf(demo.Day)})
			r.Decide, _ = decide.Run(c.of(r).Decide(r.Measure, r.Inspect))
		}
		out, err := json.Marshal(r)
		if err != nil {
			t.Error(err)
		}
		if !campaign {
			return string(out), c.Vehicle
		}
		document, err := a.Report(t.Context(), c, r, true)
		if err != nil {
			t.Error(err)
		}
		return string(out) + string(document), c.Vehicle
	}
	jobs := []string{demo.Job, demo.SoundJob, demo.SoundJob}
	alone, read := map[string]string{}, &Bodies{}
	for _, job := range jobs {
		if alone[job] == "" {
			alone[job], _ = assessed(read, job)
		}
	}
	shared := &Bodies{}
	var all sync.WaitGroup
	of := make([]*vehicle.Vehicle, len(jobs))
	for i, job := range jobs {
		all.Go(func() {
			var got string
			if got, of[i] = assessed(shared, job); got != alone[job] {
				t.Errorf("%s, with others at once, is assessed otherwise than alone", job)
			}
		})
	}
	all.Wait()
	for _, v := range of {
		if v == nil || v != of[0] {
			t.Error("the body was read more than once")
		}
	}
	if len(shared.kept) != 1 || len(shared.turns) != 0 {
		t.Errorf("%d bodies are kept, and %d turns", len(shared.kept), len(shared.turns))
	}
}

// However many ask at once for bodies of the same castings, the castings are read once; a
// faulty body is refused to each and kept for none.
func TestBodyIsReadOnceHoweverManyAsk(t *testing.T) {
	other := coarse(t)
	file := "body/procedures/br-fc-d.yaml"
	other[file] = append([]byte("# another file\n"), other[file]...)
	faulty := maps.Clone(other)
	faulty["body/body.yaml"] = []byte(strings.Replace(string(faulty["body/body.yaml"]), "label: 1", "label: 199", 1))
	b := &Bodies{}
	var all sync.WaitGroup
	var of [6]*Opened
	for i := range of {
		all.Go(func() {
			m := []memory{coarse(t), other, faulty}[i%3]
			c, err := New(m, "test").WithBodies(b).Open(t.Context(), demo.SoundJob)
			if (err != nil) != (i%3 == 2) {
				t.Errorf("body %d: %v", i%3, err)
			}
			of[i] = c
		})
	}
	all.Wait()
	for i := range of {
		if i%3 != 2 && (of[i] == nil || of[i].Vehicle != of[0].Vehicle || of[i].Body != of[i%3].Body) {
			t.Errorf("command %d has a body of its own", i)
		}
	}
	if len(b.kept) != 2 || len(b.turns) != 0 {
		t.Errorf("%d bodies are kept, and %d turns", len(b.kept), len(b.turns))
	}
}

// Bodies are let go of, the one asked for longest ago first, until they take no more
// memory than they may; a vehicle that several share counts once, and the last is kept.
func TestBodiesAreBoundedByMemory(t *testing.T) {
	a := New(coarse(t), "test")
	var opened []Opened
	for range 2 {
		c, err := a.Open(t.Context(), demo.SoundJob)
		if err != nil {
			t.Fatal(err)
		}
		opened = append(opened, *c)
	}
	b := &Bodies{}
	for i := range 4 { // two share each vehicle
		c := opened[i/2]
		c.BodyHash = fmt.Sprint(i)
		b.keep(c)
	}
	one := opened[0].Vehicle.Bytes()
	if b.bytes() != one+opened[1].Vehicle.Bytes() || one < 12_000*12 {
		t.Errorf("%d bytes are counted for two vehicles of %d", b.bytes(), one)
	}
	b.letGo(2 * one)
	if len(b.kept) != 4 {
		t.Errorf("%d of 4 are kept where all have room", len(b.kept))
	}
	b.letGo(2*one - 1)
	if len(b.kept) != 2 || b.kept[0].BodyHash != "2" {
		t.Errorf("%d are kept where one vehicle has room", len(b.kept))
	}
	b.letGo(0)
	if len(b.kept) != 1 || b.kept[0].BodyHash != "3" {
		t.Errorf("%d are kept where none has room", len(b.kept))
	}
}
