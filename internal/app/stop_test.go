package app

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
	"time"

	"fettle/internal/assess"
	"fettle/internal/body"
	"fettle/internal/demo"
	"fettle/internal/halt"
	"fettle/internal/mesh"
	"fettle/internal/sched"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// stopsAt is a context that is done when it has been asked so many times: a stop at one step
// of the work, the same in every run.
type stopsAt struct {
	context.Context
	steps, at int
	done      chan struct{}
}

func stopAt(n int) *stopsAt {
	return &stopsAt{Context: context.Background(), at: n, done: make(chan struct{})}
}

func (c *stopsAt) Done() <-chan struct{} {
	if c.steps++; c.steps == c.at {
		close(c.done)
	}
	return c.done
}

func (c *stopsAt) Err() error {
	if c.at > 0 && c.steps >= c.at {
		return context.Canceled
	}
	return nil
}

// chainOf is the stages on a vehicle and schedules that others use too.
func chainOf(c *Opened, v *vehicle.Vehicle, known *sched.Known, w *halt.Work) assess.Result {
	in := c.on(unit.DateOf(demo.Day))
	in.Vehicle, in.Work = v, w
	verdicts, _ := assess.Judge(in)
	r, _ := assess.Routes(in, verdicts, known)
	return r
}

// coldVehicle is the vehicle of a case with nothing worked out.
func coldVehicle(t testing.TB, c *Opened) *vehicle.Vehicle {
	t.Helper()
	surfaces := map[body.CastingID]*mesh.Surface{}
	for _, k := range c.Vehicle.Castings {
		s, err := mesh.NewSurface(k.Surface.Mesh())
		if err != nil {
			t.Fatal(err)
		}
		surfaces[k.Of.ID] = s
	}
	return vehicle.New(c.Body, surfaces)
}

// TestStoppedAnywhereLeavesNothing stops the assessment of the demonstration at steps all over it,
// on one vehicle and one store of schedules that nobody used before. Each stop is told as such, and
// what is asked afterwards is answered as if nobody had ever been stopped.
func TestStoppedAnywhereLeavesNothing(t *testing.T) {
	c, err := New(coarse(t), "test").Open(t.Context(), demo.Job)
	if err != nil {
		t.Fatal(err)
	}
	all := stopAt(0)
	var want assess.Result
	if err := halt.Do(all, func(w *halt.Work) { want = chainOf(c, coldVehicle(t, c), &sched.Known{}, w) }); err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(17, 2))
	var stops []int
	many := 6
	if os.Getenv("FETTLE_CAMPAIGN") != "" {
		many = 300
	}
	for range many {
		stops = append(stops, 1+r.IntN(all.steps))
	}
	slices.Sort(stops)
	v, known := coldVehicle(t, c), &sched.Known{}
	for _, n := range stops {
		at := stopAt(n)
		err := halt.Do(at, func(w *halt.Work) { chainOf(c, v, known, w) })
		if stopped := at.steps >= n; stopped != errors.Is(err, context.Canceled) || !stopped && err != nil { // late ones lie past the end: much is known by then
			t.Errorf("stopped at step %d of %d: %v", n, all.steps, err)
		}
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if page, err := New(coarse(t), "test").Report(ctx, c, Assessment{Result: want, Made: demo.Day}, true); !errors.Is(err, context.Canceled) || page != nil {
		t.Errorf("a report that is stopped is %d bytes, %v", len(page), err)
	}
	var got assess.Result
	if err := halt.Do(context.Background(), func(w *halt.Work) { got = chainOf(c, v, known, w) }); err != nil {
		t.Fatal(err)
	}
	a, errA := json.Marshal(got)
	b, errB := json.Marshal(want)
	if err := errors.Join(errA, errB); err != nil || !bytes.Equal(a, b) {
		t.Errorf("after stops something else is answered (%v)", err)
	}
}

// BenchmarkStop stops the stages of the demonstration, on a vehicle that nobody used before, and all
// that a command does, from reading its files to the document, at random moments: how long it takes
// from the stop until the work has ended.
func BenchmarkStop(b *testing.B) {
	_, c, _ := demonstrated(b, demo.Job)
	b.Run("stages", func(b *testing.B) {
		stopped(b, func(ctx context.Context) {
			_ = halt.Do(ctx, func(w *halt.Work) { chainOf(c, coldVehicle(b, c), &sched.Known{}, w) })
		})
	})
	b.Run("all", func(b *testing.B) {
		stopped(b, func(ctx context.Context) {
			a := New(files(), "test")
			c, err := a.Open(ctx, demo.Job)
			if err != nil {
				return
			}
			if r, err := a.AssessOpened(ctx, c, demo.Day); err == nil {
				_, _ = a.Report(ctx, c, r, false)
			}
		})
	})
}

// stopped tells the times from a stop to the end of the work.
func stopped(b *testing.B, work func(context.Context)) {
	b.Helper()
	began := time.Now()
	work(context.Background())
	whole := time.Since(began)
	r := rand.New(rand.NewPCG(17, 3))
	var took []time.Duration
	for b.Loop() {
		ctx, stop := context.WithCancel(context.Background())
		ended := make(chan time.Time)
		go func() {
			work(ctx)
			ended <- time.Now()
		}()
		time.Sleep(time.Duration(r.Float64() * float64(whole)))
		at := time.Now()
		stop()
		took = append(took, max(0, (<-ended).Sub(at)))
	}
	slices.Sort(took)
	b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "ms-median")
	b.ReportMetric(float64(took[len(took)-1].Microseconds())/1000, "ms-longest")
}
