//go:build unix

package format

import (
	"math"
	"runtime"
	"syscall"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// millionTriangles is a closed ring of 999,996 triangles, as in the comparison
// of mesh readers: 50 MB of binary STL with 499,998 different points.
func millionTriangles() *mesh.Mesh {
	const nu, nv = 1002, 499
	m := &mesh.Mesh{}
	for i := range nu {
		for j := range nv {
			a, b := 2*math.Pi*float64(i)/nu, 2*math.Pi*float64(j)/nv
			r := 80 + 12*math.Sin(7*a)*math.Cos(3*b)
			m.Points = append(m.Points, geom.Vec{(220 + r*math.Cos(b)) * math.Cos(a), (220 + r*math.Cos(b)) * math.Sin(a), r * math.Sin(b)})
		}
	}
	at := func(i, j int) int32 { return int32((i%nu)*nv + j%nv) }
	for i := range nu {
		for j := range nv {
			p, q, s, t := at(i, j), at(i+1, j), at(i+1, j+1), at(i, j+1)
			m.Faces = append(m.Faces, [3]int32{p, q, s}, [3]int32{p, s, t})
		}
	}
	return m
}

// cpuSeconds is the time this process has had on a processor.
func cpuSeconds() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return float64(u.Utime.Sec+u.Stime.Sec) + float64(u.Utime.Usec+u.Stime.Usec)*1e-6
}

func peakMB() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return float64(u.Maxrss) / 1024
}

func BenchmarkPeerReadSTL(b *testing.B) {
	data := WriteSTL(millionTriangles())
	b.SetBytes(int64(len(data)))
	runtime.GC()
	from := cpuSeconds()
	for b.Loop() {
		if m, err := readSTL("ring", data); err != nil || len(m.Points) != 499_998 {
			b.Fatal(err)
		}
	}
	b.ReportMetric((cpuSeconds()-from)*1e3/float64(b.N), "cpu-ms/op")
}

func BenchmarkPeerMillionReadAndIndexed(b *testing.B) {
	data := WriteSTL(millionTriangles())
	runtime.GC()
	before, from := peakMB(), cpuSeconds()
	for b.Loop() {
		m, _, err := ReadMesh("ring", data, "mm")
		if err != nil {
			b.Fatal(err)
		}
		if _, err := mesh.NewSurface(m); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric((cpuSeconds()-from)*1e3/float64(b.N), "cpu-ms/op")
	b.ReportMetric(before, "peak-MB-before")
	b.ReportMetric(peakMB(), "peak-MB")
}
