package app

import (
	"slices"
	"testing"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/demo"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/mesh"
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
			ready := vehicle.New(c.Body, surfaces)
			verdicts := func(s *job.State) decide.Result {
				x := *c
				x.Job = s
				seen, _ := inspect.Run(inspect.Input{Body: c.Body, Job: s, Vehicle: ready, Shop: c.Shop, Today: unit.DateOf(demo.Day)})
				out, _ := decide.Run(x.on(unit.DateOf(demo.Day)).Decide(seen))
				return out
			}
			verdicts(c.Job)
			b.ReportAllocs()
			b.ResetTimer()
			for i := range b.N {
				s := *c.Job
				s.Findings = slices.Clone(s.Findings)
				f := &s.Findings[i%3]
				f.Trace = slices.Clone(f.Trace)
				f.Trace[0] = f.Trace[0].Lerp(f.Trace[1], 0.001*float64(i%100))
				verdicts(&s)
			}
			b.ReportMetric(float64(faces), "faces")
		})
	}
}
