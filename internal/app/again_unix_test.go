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
	"fettle/internal/measure"
	"fettle/internal/mesh"
	"fettle/internal/sched"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// finer is a mesh with every edge cut in n, and every face in n times n.
func finer(m *mesh.Mesh, n int) *mesh.Mesh {
	out := &mesh.Mesh{Points: slices.Clone(m.Points)}
	within := map[[3]int32]int32{} // points of an edge, by its ends and how far from the smaller one
	onEdge := func(u, v int32, k int) int32 {
		switch {
		case k == 0:
			return u
		case k == n:
			return v
		case u > v:
			u, v, k = v, u, n-k
		}
		i, ok := within[[3]int32{u, v, int32(k)}]
		if !ok {
			i = int32(len(out.Points))
			within[[3]int32{u, v, int32(k)}] = i
			out.Points = append(out.Points, m.Points[u].Lerp(m.Points[v], float64(k)/float64(n)))
		}
		return i
	}
	row := func(t [3]int32, k int) []int32 { // across a face, k steps from its first corner
		p, q := onEdge(t[0], t[1], k), onEdge(t[0], t[2], k)
		list := []int32{p}
		for i := 1; i < k; i++ {
			if k == n {
				list = append(list, onEdge(t[1], t[2], i))
				continue
			}
			list = append(list, int32(len(out.Points)))
			out.Points = append(out.Points, out.Points[p].Lerp(out.Points[q], float64(i)/float64(k)))
		}
		if k > 0 {
			list = append(list, q)
		}
		return list
	}
	for f, t := range m.Faces {
		above := row(t, 0)
		for k := 1; k <= n; k++ {
			below := row(t, k)
			for i := range above {
				out.Faces = append(out.Faces, [3]int32{above[i], below[i], below[i+1]})
				if i > 0 {
					out.Faces = append(out.Faces, [3]int32{above[i-1], below[i], above[i]})
				}
			}
			above = below
		}
		for range n * n {
			out.Label = append(out.Label, m.Label[f])
		}
	}
	return out
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
	for n, name := range []string{"demo", "520k", "1170k", "2080k"} {
		b.Run(name, func(b *testing.B) {
			_, c, _ := demonstrated(b, demo.Job)
			surfaces := map[body.CastingID]*mesh.Surface{}
			faces := 0
			for _, casting := range c.Vehicle.Castings {
				fine, err := mesh.NewSurface(finer(casting.Surface.Mesh(), n+1))
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
				decide.Run(x.Decide(measure.Result{}, seen))
			}
			verdicts(c.Job)
			var t timed
			asked := 0
			for b.Loop() {
				t.of(b, 10, func(int) {
					verdicts(changed(c.Job, asked))
					asked++
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
		v.Decide, _ = decide.Run(in.Decide(v.Measure, v.Inspect))
		t.of(b, 1, func(int) { assess.Routes(in, v, &known) })
	}
	t.report(b)
}

// All that an assessment is, by a process that has kept nothing: reading the body, the
// chain, and the document with its pictures. The rear job has two findings, and no mesh.
func BenchmarkAssessAndReport(b *testing.B) {
	for _, of := range []struct {
		job      string
		findings int
	}{{demo.RearJob, 0}, {demo.Job, 12}, {demo.Job, 40}} {
		b.Run(fmt.Sprintf("%s/findings=%d", of.job, of.findings), func(b *testing.B) {
			var t timed
			for b.Loop() {
				t.of(b, 1, func(int) {
					a := New(files(), "test")
					c, err := a.Open(b.Context(), of.job)
					if err != nil {
						b.Fatal(err)
					}
					first := c.Job.Findings
					for k := len(first); k < of.findings; k++ { // others a few millimetres beside them
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
