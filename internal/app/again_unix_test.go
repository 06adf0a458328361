//go:build unix

package app

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"syscall"
	"testing"
	"time"

	"fettle/internal/assess"
	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/demo"
	"fettle/internal/geom"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/sched"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// finer is a mesh with every face cut in four, so many times.
func finer(m *mesh.Mesh, times int) *mesh.Mesh {
	for range times {
		out := &mesh.Mesh{Points: slices.Clone(m.Points)}
		middle := map[[2]int32]int32{}
		at := func(u, v int32) int32 {
			k := [2]int32{min(u, v), max(u, v)}
			i, ok := middle[k]
			if !ok {
				i = int32(len(out.Points))
				middle[k], out.Points = i, append(out.Points, m.Points[u].Lerp(m.Points[v], 0.5))
			}
			return i
		}
		for f, t := range m.Faces {
			a, b, c := at(t[0], t[1]), at(t[1], t[2]), at(t[2], t[0])
			out.Faces = append(out.Faces, [3]int32{t[0], a, c}, [3]int32{a, t[1], b}, [3]int32{c, b, t[2]}, [3]int32{a, b, c})
			for range 4 {
				out.Label = append(out.Label, m.Label[f])
			}
		}
		m = out
	}
	return m
}

// processorTime is what the process has used so far, the garbage collector's included: it
// says more than the clock on the wall where others use the machine.
func processorTime(b *testing.B) time.Duration {
	b.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// timed is the processor time that work takes in each of a batch, the least of the batches
// there were, and what it allocates.
type timed struct {
	least float64 // ms
	bytes float64
}

func (t *timed) of(b *testing.B, batch int, work func(k int)) {
	b.Helper()
	if t.least == 0 {
		t.least = math.Inf(1)
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	start := processorTime(b)
	for k := range batch {
		work(k)
	}
	t.least = min(t.least, float64(processorTime(b)-start)/1e6/float64(batch))
	runtime.ReadMemStats(&after)
	t.bytes = float64(after.TotalAlloc-before.TotalAlloc) / float64(batch)
}

func (t *timed) report(b *testing.B) {
	b.ReportMetric(t.least, "least-cpu-ms")
	b.ReportMetric(t.bytes/1e6, "MB-allocated")
	b.ReportMetric(0, "ns/op")
}

// changed is the demonstration's job with one finding a little longer or shorter.
func changed(j *job.State, k int) *job.State {
	s := *j
	s.Findings = slices.Clone(s.Findings)
	f := &s.Findings[k%3]
	f.Trace = slices.Clone(f.Trace)
	f.Trace[0] = f.Trace[0].Lerp(f.Trace[1], 0.001*float64(1+k%100))
	return &s
}

// One finding of the demonstration is changed, and the verdicts are asked for again, on a
// body that was used before; faces is how many the casting has.
func BenchmarkVerdictsAfterOneChange(b *testing.B) {
	for times, name := range []string{"demo", "4x", "16x"} {
		b.Run(name, func(b *testing.B) {
			_, c, _ := demonstrated(b, demo.Job)
			surfaces := map[body.CastingID]*mesh.Surface{}
			faces := 0
			for _, casting := range c.Vehicle.Castings {
				fine, err := mesh.NewSurface(finer(casting.Surface.Mesh(), times))
				if err != nil {
					b.Fatal(err)
				}
				surfaces[casting.Of.ID], faces = fine, faces+len(fine.Mesh().Faces)
			}
			in := c.on(unit.DateOf(demo.Day))
			in.Vehicle = vehicle.New(c.Body, surfaces)
			verdicts := func(s *job.State) {
				x := in
				x.Job = s
				seen, _ := inspect.Run(inspect.Input{Body: c.Body, Job: s, Vehicle: in.Vehicle, Shop: c.Shop, Today: in.Today})
				decide.Run(x.Decide(seen))
			}
			verdicts(c.Job)
			var t timed
			n := 0
			for b.Loop() {
				t.of(b, 10, func(int) {
					verdicts(changed(c.Job, n))
					n++
				})
			}
			t.report(b)
			b.ReportMetric(float64(faces), "faces")
			b.ReportMetric(float64(in.Vehicle.Bytes())/1e6, "MB-kept")
		})
	}
}

// One finding of the demonstration is changed, and the routes are asked for again, with
// the schedules that were made before.
func BenchmarkRoutesAfterOneChange(b *testing.B) {
	_, c, r := demonstrated(b, demo.Job)
	var known sched.Known
	in := c.of(r)
	assess.Routes(in, r.Verdicts, &known)
	var t timed
	for n := 0; b.Loop(); n++ {
		in.Job = changed(c.Job, n)
		v := r.Verdicts
		v.Inspect, _ = inspect.Run(inspect.Input{Body: c.Body, Job: in.Job, Vehicle: c.Vehicle, Shop: c.Shop, Today: in.Today})
		v.Decide, _ = decide.Run(in.Decide(v.Inspect))
		t.of(b, 1, func(int) { assess.Routes(in, v, &known) })
	}
	t.report(b)
}

// All that an assessment is, by a process that has kept nothing: reading the body, the
// chain, and the document with its pictures.
func BenchmarkAssessAndReport(b *testing.B) {
	for _, findings := range []int{12, 40} {
		b.Run(fmt.Sprintf("findings=%d", findings), func(b *testing.B) {
			var t timed
			for b.Loop() {
				t.of(b, 1, func(int) {
					a := New(files(), "test")
					c, err := a.Open(b.Context(), demo.Job)
					if err != nil {
						b.Fatal(err)
					}
					first := c.Job.Findings
					for k := len(first); k < findings; k++ { // others a few millimetres beside them
						f := first[k%len(first)]
						f.ID, f.SameAs, f.BranchOf, f.Trace = job.FindingID(fmt.Sprint("E", k)), "", "", slices.Clone(f.Trace)
						for i := range f.Trace {
							f.Trace[i] = f.Trace[i].Add(geom.Vec{float64(k%5) - 2, float64(k%3) - 1, 0})
						}
						c.Job.Findings = append(c.Job.Findings, f)
					}
					if _, err := a.Report(b.Context(), c, assessedOf(b, a, c, demo.Day), false); err != nil {
						b.Fatal(err)
					}
				})
			}
			t.report(b)
		})
	}
}
