//go:build unix

package mesh

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"strings"
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

// peerPart is what the benchmarks ask: the tray of 202,496 triangles, or the mesh of the
// file that FETTLE_MESH names, a text PLY of triangles. bench/peers/common.h has the same
// formulas.
type peerPart struct {
	m    *Mesh
	mid  geom.Vec
	size float64 // 0: the tray
}

func newPeerPart(b *testing.B) *peerPart {
	b.Helper()
	file := os.Getenv("FETTLE_MESH")
	if file == "" {
		return &peerPart{m: trayMesh(224)}
	}
	p := &peerPart{m: readPeerMesh(b, file)}
	lo, hi := p.m.Bounds()
	d := hi.Sub(lo)
	p.mid, p.size = lo.Lerp(hi, 0.5), max(d[0], d[1], d[2])
	return p
}

func readPeerMesh(b *testing.B, file string) *Mesh {
	b.Helper()
	f, err := os.Open(file)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	in, m := bufio.NewReader(f), &Mesh{}
	for {
		line, err := in.ReadString('\n')
		if err != nil {
			b.Fatal(err)
		}
		n := 0
		if _, err := fmt.Sscanf(line, "element vertex %d", &n); err == nil {
			m.Points = make([]geom.Vec, n)
		} else if _, err := fmt.Sscanf(line, "element face %d", &n); err == nil {
			m.Faces = make([][3]int32, n)
		} else if strings.HasPrefix(line, "end_header") {
			break
		}
	}
	for i := range m.Points {
		p := &m.Points[i]
		if _, err := fmt.Fscan(in, &p[0], &p[1], &p[2]); err != nil {
			b.Fatal(err)
		}
	}
	for i := range m.Faces {
		n, t := 0, &m.Faces[i]
		if _, err := fmt.Fscan(in, &n, &t[0], &t[1], &t[2]); err != nil || n != 3 {
			b.Fatal(n, err)
		}
	}
	return m
}

// near is a point near the surface.
func (p *peerPart) near(k uint64) geom.Vec {
	if p.size == 0 {
		return scanPoint(k, 224, 1000)
	}
	var u [8]float64
	for q := range u {
		u[q] = uniform(11, 8*k+uint64(q))
	}
	if u[4] >= 0.99 {
		return p.mid.Add(geom.Vec{u[5] - 0.5, u[6] - 0.5, u[7] - 0.5}.Scale(1.2 * p.size))
	}
	f := p.m.Faces[min(int(float64(len(p.m.Faces))*u[0]), len(p.m.Faces)-1)]
	a, c, d := u[1], u[2], 0.0002*p.size*math.Sqrt(-2*math.Log(1-u[3]))*math.Cos(2*math.Pi*u[5])
	if a+c > 1 {
		a, c = 1-a, 1-c
	}
	if u[4] < 0.05 {
		d += p.size * (0.004 + 0.02*u[6])
	}
	at := p.m.Points[f[0]]
	e, g := p.m.Points[f[1]].Sub(at), p.m.Points[f[2]].Sub(at)
	return at.Add(e.Scale(a)).Add(g.Scale(c)).Add(e.Cross(g).Unit().Scale(d))
}

func (p *peerPart) points(n int) []geom.Vec {
	out := make([]geom.Vec, n)
	for k := range out {
		out[k] = p.near(uint64(k))
	}
	return out
}

// camera and random are rays.
func (p *peerPart) camera(k int) (o, d geom.Vec) {
	if p.size == 0 {
		return cameraRay(k)
	}
	o = p.mid.Add(geom.Vec{-0.4, -0.9, 1.2}.Scale(p.size))
	x, y := float64(k%1000)/1000, float64(k/1000)/1000
	return o, p.mid.Add(geom.Vec{1.4 * (x - 0.5), 1.4 * (y - 0.5), 0}.Scale(p.size)).Sub(o)
}

func (p *peerPart) random(k int) (o, d geom.Vec) {
	o, d = randomRay(k)
	if p.size > 0 {
		u, v := uniform(6, 2*uint64(k)), uniform(6, 2*uint64(k)+1)
		o = p.mid.Add(geom.Vec{0.8 * (u - 0.5), 0.8 * (v - 0.5), 0}.Scale(p.size)).Sub(d.Scale(1.5 * p.size))
	}
	return o, d
}

func BenchmarkPeerTree(b *testing.B) {
	m := newPeerPart(b).m
	least := math.Inf(1) // as the drivers tell it
	for b.Loop() {
		from := cpuSeconds()
		newFaceTree(m, trayBoxes(m))
		least = min(least, cpuSeconds()-from)
	}
	b.ReportMetric(least*1e3, "least-cpu-ms")
}

func BenchmarkPeerNewSurface(b *testing.B) {
	m := newPeerPart(b).m
	from := cpuSeconds()
	for b.Loop() {
		surfaceOf(b, m)
	}
	perCPU(b, from, len(m.Faces), "triangles")
}

func BenchmarkPeerClosestOneByOne(b *testing.B) {
	p := newPeerPart(b)
	s, q := surfaceOf(b, p.m), p.points(1_000_000)
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

func benchRays(b *testing.B, ray func(p *peerPart, k int) (o, d geom.Vec)) {
	p := newPeerPart(b)
	s := surfaceOf(b, p.m)
	const n = 1_000_000
	o, d := make([]geom.Vec, n), make([]geom.Vec, n)
	for k := range n {
		o[k], d[k] = ray(p, k)
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

func BenchmarkPeerRaysCamera(b *testing.B) { benchRays(b, (*peerPart).camera) }
func BenchmarkPeerRaysRandom(b *testing.B) { benchRays(b, (*peerPart).random) }

// benchExact is one source to all points, as the drivers do it: point 0, and
// the sum over ten points of the generator as a check.
func benchExact(b *testing.B, m *Mesh) {
	s := surfaceOf(b, m)
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

func BenchmarkPeerExact51k(b *testing.B)  { benchExact(b, trayMesh(112)) }
func BenchmarkPeerExact202k(b *testing.B) { benchExact(b, trayMesh(224)) }

func BenchmarkPeerExactFile(b *testing.B) { benchExact(b, newPeerPart(b).m) }

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
	s := surfaceOf(b, newPeerPart(b).m)
	n, from := 0, cpuSeconds()
	for b.Loop() {
		n = 0
		s.EachWall(func(_, _ int32, _ float64) { n++ })
	}
	perCPU(b, from, len(s.m.Faces), "rays")
	b.ReportMetric(float64(n), "walls")
}
