//go:build unix

package mesh

import (
	"math"
	"syscall"
	"testing"

	"fettle/internal/geom"
)

// cpuSeconds is the time this process has had on a processor: on a machine
// that others share it tells more than the clock on the wall.
func cpuSeconds() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return float64(u.Utime.Sec+u.Stime.Sec) + float64(u.Utime.Usec+u.Stime.Usec)*1e-6
}

// perCPU reports n things a round as things a second of processor time.
func perCPU(b *testing.B, from float64, n int, what string) {
	b.ReportMetric(float64(b.N*n)/(cpuSeconds()-from), what+"/cpu-s")
	b.ReportMetric((cpuSeconds()-from)*1e3/float64(b.N), "cpu-ms/op")
}

func trayBoxes(m *Mesh) []boxed {
	out := make([]boxed, len(m.Faces))
	for f := range m.Faces {
		t := &m.Faces[f]
		out[f] = boxOfFace(int32(f), &m.Points[t[0]], &m.Points[t[1]], &m.Points[t[2]])
	}
	return out
}

func BenchmarkPeerTree(b *testing.B) {
	m := trayMesh(224)
	from := cpuSeconds()
	for b.Loop() {
		newFaceTree(m, trayBoxes(m))
	}
	perCPU(b, from, len(m.Faces), "triangles")
}

func BenchmarkPeerNewSurface(b *testing.B) {
	m := trayMesh(224)
	for b.Loop() {
		surfaceOf(b, m)
	}
}

func BenchmarkPeerClosestOneByOne(b *testing.B) {
	s, q := surfaceOf(b, trayMesh(224)), scanPoints(1_000_000)
	b.ResetTimer()
	from := cpuSeconds()
	for b.Loop() {
		sum, top := 0.0, 0.0
		for _, p := range q {
			_, d := s.Closest(p)
			sum, top = sum+d, max(top, d)
		}
		b.ReportMetric(sum/float64(len(q)), "mean_mm")
		b.ReportMetric(top, "max_mm")
	}
	perCPU(b, from, len(q), "queries")
}

func BenchmarkPeerClosestAll(b *testing.B) {
	s, q := surfaceOf(b, trayMesh(224)), scanPoints(1_000_000)
	out := make([]Near, len(q))
	b.ResetTimer()
	from := cpuSeconds()
	for b.Loop() {
		s.ClosestAll(q, out)
	}
	perCPU(b, from, len(q), "queries")
	sum, top := 0.0, 0.0
	for i := range out {
		sum, top = sum+out[i].DistMM, max(top, out[i].DistMM)
	}
	b.ReportMetric(sum/float64(len(q)), "mean_mm")
	b.ReportMetric(top, "max_mm")
}

func benchRays(b *testing.B, ray func(k int) (o, d geom.Vec)) {
	s := surfaceOf(b, trayMesh(224))
	const n = 1_000_000
	o, d := make([]geom.Vec, n), make([]geom.Vec, n)
	for k := range n {
		o[k], d[k] = ray(k)
	}
	hits := 0
	b.ResetTimer()
	from := cpuSeconds()
	for b.Loop() {
		hits = 0
		for k := range n {
			if _, ok := s.FirstHit(o[k], d[k]); ok {
				hits++
			}
		}
	}
	perCPU(b, from, n, "rays")
	b.ReportMetric(float64(hits), "hits")
}

func benchRaysAll(b *testing.B, ray func(k int) (o, d geom.Vec)) {
	s := surfaceOf(b, trayMesh(224))
	const n = 1_000_000
	rays, out := make([]RayQuestion, n), make([]RayAnswer, n)
	for k := range n {
		rays[k].Origin, rays[k].Dir = ray(k)
	}
	b.ResetTimer()
	from := cpuSeconds()
	for b.Loop() {
		s.FirstHitAll(rays, out)
	}
	perCPU(b, from, n, "rays")
	hits := 0
	for i := range out {
		if out[i].Met {
			hits++
		}
	}
	b.ReportMetric(float64(hits), "hits")
}

func BenchmarkPeerRaysAllCamera(b *testing.B) { benchRaysAll(b, cameraRay) }
func BenchmarkPeerRaysAllRandom(b *testing.B) { benchRaysAll(b, randomRay) }

func BenchmarkPeerRaysCamera(b *testing.B) { benchRays(b, cameraRay) }
func BenchmarkPeerRaysRandom(b *testing.B) { benchRays(b, randomRay) }

// benchExact is one source to all points, as the drivers do it: point 0, and
// the sum over ten points of the generator as a check.
func benchExact(b *testing.B, g int) {
	s := surfaceOf(b, trayMesh(g))
	from := siteAtPoint(b, s, 0)
	sum, start := 0.0, cpuSeconds()
	for b.Loop() {
		d, err := s.ExactDistances([]Site{from}, nil, math.Inf(1))
		if err != nil || !d.Proven {
			b.Fatal(err, d.Doubt)
		}
		sum = 0
		for k := range uint64(10) {
			sum += d.Points[int(float64(len(d.Points))*uniform(42, k))]
		}
	}
	b.ReportMetric((cpuSeconds()-start)*1e3/float64(b.N), "cpu-ms/op")
	b.ReportMetric(sum, "sum10_mm")
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err == nil {
		b.ReportMetric(float64(u.Maxrss)/1024, "peak-MB")
	}
}

func BenchmarkPeerExact51k(b *testing.B)  { benchExact(b, 112) }
func BenchmarkPeerExact202k(b *testing.B) { benchExact(b, 224) }

// Ten targets within 150 mm of a source inside the tray of 202,496 triangles.
func BenchmarkPeerExactNear(b *testing.B) {
	s := surfaceOf(b, trayMesh(224))
	from, _ := s.Closest(geom.Vec{530, 410, 100})
	var to []Site
	for k := range uint64(10) {
		t, _ := s.Closest(geom.Vec{530 + 140*(uniform(7, 2*k)-0.5), 410 + 140*(uniform(7, 2*k+1)-0.5), 100})
		to = append(to, t)
	}
	start := cpuSeconds()
	for b.Loop() {
		d, err := s.ExactDistances([]Site{from}, to, 150)
		if err != nil || !d.Proven {
			b.Fatal(err, d.Doubt)
		}
	}
	b.ReportMetric((cpuSeconds()-start)*1e3/float64(b.N), "cpu-ms/op")
}

// Every wall of the tray of 202,496 triangles, as 'fettle zones find' looks for them.
func BenchmarkPeerWalls(b *testing.B) {
	m := trayMesh(224)
	s := surfaceOf(b, m)
	n, from := 0, cpuSeconds()
	for b.Loop() {
		n = 0
		s.EachWall(func(_, _ int32, _ float64) { n++ })
	}
	perCPU(b, from, len(s.m.Faces), "rays")
	b.ReportMetric(float64(n), "walls")
}
