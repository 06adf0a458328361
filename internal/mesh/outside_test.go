//go:build outside

package mesh

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"fettle/internal/geom"
)

// These tests need what is not in the repository: the npm package bunny 1.0.1
// (licence field: Public Domain) and CGAL from Debian (libcgal-dev). The set-up
// puts the package into build/node_modules; FETTLE_OUTSIDE names another folder.

func outsideDir(t *testing.T) string {
	t.Helper()
	dir := os.Getenv("FETTLE_OUTSIDE")
	if dir == "" {
		dir = filepath.Join("..", "..", "build")
	}
	return dir
}

// publicMesh reads the package's lists of positions and cells.
func publicMesh(t *testing.T) *Mesh {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(outsideDir(t), "node_modules", "bunny", "index.js"))
	if err != nil {
		t.Fatal(err)
	}
	m := &Mesh{}
	for name, to := range map[string]any{"positions": &m.Points, "cells": &m.Faces} {
		_, rest, ok := strings.Cut(string(text), "exports."+name+"=")
		if !ok {
			t.Fatalf("no %s in the package", name)
		}
		if err := json.NewDecoder(strings.NewReader(rest)).Decode(to); err != nil {
			t.Fatal(err)
		}
	}
	if f := m.Faults(); len(m.Points) != 1839 || len(m.Faces) != 3674 || !f.Closed() {
		t.Fatalf("%d points, %d faces, %+v", len(m.Points), len(m.Faces), f)
	}
	return m
}

// Expected: CGAL 5.5 (Surface_mesh_shortest_path, and its area and volume) on
// the same file; recomputed there for this test.
func TestOutsidePublicMeshDistances(t *testing.T) {
	m := publicMesh(t)
	if a, v := m.AreaMM2(), m.VolumeMM3(); math.Abs(a-218.689271) > 1e-6 || math.Abs(v-194.288372) > 1e-6 {
		t.Errorf("area %.6f, volume %.6f", a, v)
	}
	s := surfaceOf(t, m)
	d := exact(t, s, []Site{siteAtPoint(t, s, 0)}, nil, math.Inf(1))
	g, err := s.GraphDistances([]Site{siteAtPoint(t, s, 0)}, math.Inf(1))
	if err != nil {
		t.Fatal(err)
	}
	for v, want := range map[int][2]float64{100: {7.19764412, 7.654014}, 500: {10.32078444, 10.835594}, 1000: {7.29190511, 7.546513},
		1500: {6.88838532, 7.243868}, 1838: {5.43078798, 5.658241}, 1150: {14.17139360, 14.726615}} {
		if math.Abs(d.Points[v]-want[0]) > 1e-8 || math.Abs(g[v]-want[1]) > 1e-6 {
			t.Errorf("point %d: %.9f and by edges %.7f, want %v", v, d.Points[v], g[v], want)
		}
		p, err := s.ShortestPath(siteAtPoint(t, s, 0), siteAtPoint(t, s, int32(v)))
		if err != nil || !p.Proven || math.Abs(p.LengthMM-want[0]) > 1e-8 {
			t.Errorf("point %d: path %.9f (%v)", v, p.LengthMM, err)
		}
	}
	if far := slices.Index(d.Points, slices.Max(d.Points)); far != 1150 {
		t.Errorf("the farthest point is %d", far)
	}
}

// Expected: computed once with an independent program (NumPy) on the same file.
func TestOutsidePublicMeshCut(t *testing.T) {
	m := publicMesh(t)
	c, err := m.Cut(geom.Vec{0, 1, 0}, 4)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(c.Sides[0].VolumeMM3-123.733289) > 1e-6 || math.Abs(c.Sides[0].AreaMM2-118.247454) > 1e-6 ||
		math.Abs(c.LengthMM-22.532508) > 1e-6 || c.FacesCrossed != 135 {
		t.Errorf("%+v", c.Sides)
	}
	x, err := m.Section([]Plane{{geom.Vec{0, 1, 0}, 4}}, 0)
	if err != nil || math.Abs(x.Rest.VolumeMM3-123.733289) > 1e-6 || math.Abs(x.Rest.AreaMM2-118.247454) > 1e-6 || math.Abs(x.LengthMM-22.532508) > 1e-6 {
		t.Errorf("section: %v, %.6f %.6f %.6f %v", err, x.Rest.VolumeMM3, x.Rest.AreaMM2, x.LengthMM, x.Reasons)
	}
}

// Expected: flood fill over edges with another program on the same file.
func TestOutsidePublicMeshRegions(t *testing.T) {
	s := surfaceOf(t, publicMesh(t))
	for a, want := range map[float64][2]int{20: {161, 2964}, 30: {26, 3562}, 40: {6, 3665}} {
		n := regionSizes(s.Regions(a * deg))
		if len(n) != want[0] || slices.Max(n) != want[1] {
			t.Errorf("%g degrees: %d regions, largest %d, want %v", a, len(n), slices.Max(n), want)
		}
	}
}

// cgal is the driver bench/peers/surface.cpp, compiled once for all tests: reading
// CGAL's headers takes most of the time of these checks.
var cgal = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "fettle-peer-")
	if err != nil {
		return "", err
	}
	cgalDir = dir
	bin := filepath.Join(dir, "surface")
	src := filepath.Join("..", "..", "bench", "peers", "surface.cpp")
	out, err := exec.Command("g++", "-O1", "-std=c++17", src, "-o", bin, "-lgmp", "-lmpfr").CombinedOutput()
	if err != nil {
		err = fmt.Errorf("%w: %s", err, out)
	}
	return bin, err
})

var cgalDir string

func TestMain(m *testing.M) {
	code := m.Run()
	os.RemoveAll(cgalDir)
	os.Exit(code)
}

// askCGAL runs the driver.
func askCGAL(t *testing.T, args ...string) string {
	t.Helper()
	bin, err := cgal()
	if err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(bin, args...).Output()
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

// offFile writes a mesh in OFF.
func offFile(t *testing.T, m *Mesh) string {
	t.Helper()
	var b strings.Builder
	fmt.Fprintf(&b, "OFF\n%d %d 0\n", len(m.Points), len(m.Faces))
	for _, p := range m.Points {
		fmt.Fprintf(&b, "%.17g %.17g %.17g\n", p[0], p[1], p[2])
	}
	for _, f := range m.Faces {
		fmt.Fprintf(&b, "3 %d %d %d\n", f[0], f[1], f[2])
	}
	file := filepath.Join(t.TempDir(), "mesh.off")
	if err := os.WriteFile(file, []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// Expected: CGAL, run here (bench/peers/surface.cpp), all points of three meshes.
func TestOutsideExactDistancesMatchCGAL(t *testing.T) {
	for name, m := range map[string]*Mesh{"public": publicMesh(t), "tray": trayMesh(24), "ring": bumpyTorus(48, 30, 4)} {
		for _, source := range []int32{0, int32(len(m.Points) / 3)} {
			missed := distancesAsCGAL(t, name, m, source)
			t.Logf("%s from point %d: %d points, %d that CGAL has too long", name, source, len(m.Points), missed)
		}
	}
}

// Where borders of holes touch in points, on bent sheets. Expected: CGAL, run here.
func TestOutsideDistancesWhereBordersTouchMatchCGAL(t *testing.T) {
	missed := 0
	for seed := range uint64(12) {
		r := rand.New(rand.NewPCG(seed, 15))
		m, _ := holedSheet(r, 6+r.IntN(6), 0.1+0.3*r.Float64())
		for i, p := range m.Points {
			m.Points[i][2] = 0.7 * math.Sin(p[0]+0.3*float64(seed)) * math.Cos(0.8*p[1])
		}
		missed += distancesAsCGAL(t, fmt.Sprintf("sheet of seed %d", seed), m, int32(r.IntN(len(m.Points))))
	}
	t.Logf("%d points that CGAL has too long", missed)
}

// distancesAsCGAL holds the distances from a point to all points against CGAL's. It
// counts those that CGAL has too long (beside collinear points it misses some): a
// way that is walked proves it.
func distancesAsCGAL(t *testing.T, name string, m *Mesh, source int32) (missed int) {
	t.Helper()
	out := strings.Fields(askCGAL(t, "distances", offFile(t, m), strconv.Itoa(int(source))))
	if len(out) != len(m.Points) {
		t.Fatalf("%s: %d of %d points", name, len(out), len(m.Points))
	}
	s := surfaceOf(t, m)
	d := exact(t, s, []Site{siteAtPoint(t, s, source)}, nil, math.Inf(1))
	for v, text := range out {
		want, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		if want < 0 { // so CGAL says that there is no way
			want = math.Inf(1)
		}
		got, e := d.Points[v], 1e-9*(1+want)
		if got == want || math.Abs(got-want) <= e {
			continue
		}
		if got < want {
			if p, err := s.ShortestPath(siteAtPoint(t, s, source), siteAtPoint(t, s, int32(v))); err == nil && math.Abs(walked(p)-got) < 1e-9*(1+got) {
				missed++
				continue
			}
		}
		t.Errorf("%s from point %d to %d: %.12g, CGAL has %.12g", name, source, v, got, want)
	}
	return missed
}

// walked is the length of a way, summed over its own points.
func walked(p Path) float64 {
	sum := 0.0
	for i := 1; i < len(p.Points); i++ {
		sum += p.Points[i].Dist(p.Points[i-1])
	}
	return sum
}

// Expected: CGAL, run here (bench/peers/surface.cpp, self_intersections), the
// same pairs of faces on three meshes that cross themselves and on one that
// does not. They lie askew: what only touches to a rounding meets here, and need not
// by exact arithmetic.
func TestOutsideContactsMatchCGAL(t *testing.T) {
	public, tray, ring := publicMesh(t), trayMesh(24), bumpyTorus(48, 30, 4)
	ball := icosphere(3)
	for i, p := range ball.Points {
		ball.Points[i] = p.Scale(61.7)
	}
	lo, hi := ring.Bounds()
	folded := &Mesh{Faces: ring.Faces}
	for _, p := range ring.Points { // one side pulled through the other
		folded.Points = append(folded.Points, geom.Vec{p[0] + 1.234 - 0.71*max(0, p[0]-lo[0]-0.513*(hi[0]-lo[0])), 1.013*p[1] + 0.77, p[2] + 0.137*p[0] + 3.31})
	}
	for _, c := range []struct {
		name string
		m    *Mesh
		meet bool
	}{
		{"two public meshes", joined(public, shifted(public, geom.Vec{0.731, 0.417, 0.291})), true},
		{"a ball through a tray", joined(tray, shifted(ball, geom.Vec{701.3, 502.9, 83.1})), true},
		{"a folded ring on a ring", joined(ring, folded), true},
		{"the public mesh", public, false},
	} {
		out := askCGAL(t, "contacts", offFile(t, c.m))
		want := map[[2]int32]bool{}
		for _, line := range strings.Split(strings.TrimSpace(out), "\n") {
			var f, g int32
			if n, err := fmt.Sscan(line, &f, &g); n != 2 {
				if line == "" {
					continue
				}
				t.Fatal(line, err)
			}
			want[[2]int32{min(f, g), max(f, g)}] = true
		}
		list, n, _ := c.m.Contacts(0)
		for _, x := range list {
			if !want[x.Faces] {
				t.Errorf("%s: faces %v meet, not by CGAL", c.name, x.Faces)
			}
			delete(want, x.Faces)
		}
		missed := len(want)
		t.Logf("%s: %d faces, %d pairs meet, %d more by CGAL", c.name, len(c.m.Faces), n, missed)
		if missed > 0 || n != len(list) || (n > 0) != c.meet {
			t.Errorf("%s: %d pairs, CGAL has %d more", c.name, n, missed)
		}
	}
}

// Expected: CGAL, run here (bench/peers/surface.cpp). Meshes cut open at random, with
// points on one side only, are by CGAL no closed surface; mended they are one closed
// surface that does not meet itself and bounds a volume, which is ours.
func TestOutsideMendedMeshesAreSoundToCGAL(t *testing.T) {
	for seed := range uint64(40) {
		r := rand.New(rand.NewPCG(seed, 24))
		m, edge := drawnSolid(r)
		gap := edge * math.Pow(10, -6+5*r.Float64())
		open := cutOpen(r, m, drawnCuts(r, m, 1+r.IntN(4), 2+r.IntN(20)), gap, 0, float64(r.IntN(2))*r.Float64())
		if open.Faults().OpenEdges == 0 {
			continue
		}
		got, err := open.Mend(gap * 1.01)
		if err != nil {
			t.Fatal(err)
		}
		if out := askCGAL(t, "sound", offFile(t, open)); strings.HasPrefix(out, "1 1") {
			t.Errorf("seed %d: cut open it is closed by CGAL: %s", seed, out)
		}
		var valid, closed, free, bounds, pieces int
		var volume float64
		out := askCGAL(t, "sound", offFile(t, got.Mesh))
		if _, err := fmt.Sscan(out, &valid, &closed, &free, &bounds, &pieces, &volume); err != nil {
			t.Fatal(out, err)
		}
		if valid+closed+free+bounds != 4 || pieces != 1 || math.Abs(volume-got.Mesh.VolumeMM3()) > 1e-9*volume {
			t.Errorf("seed %d, gap %g: valid, closed, free of contacts, bounds a volume, pieces, volume: %s; ours %g", seed, gap, out, got.Mesh.VolumeMM3())
		}
	}
}
