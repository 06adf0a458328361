package cli

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fettle/internal/geom"
)

// traced is what the tests read of the result.
type traced struct {
	LengthMM, StdMM, LowerMM, UpperMM, ChordMM, RawMM, ExactMM, EndsMM float64
	ExactProven                                                        bool
	PointsKept                                                         int
	OffMM                                                              []float64
	Path                                                               []geom.Vec
	Zones                                                              []struct {
		ID       int
		LengthMM float64
	}
}

func trace(t *testing.T, dir string, args ...string) traced {
	t.Helper()
	code, out, stderr := run(t, dir, append([]string{"trace", "--json"}, args...)...)
	if code != Done {
		t.Fatalf("%v: exit code %d: %s", args, code, stderr)
	}
	var r traced
	if err := json.Unmarshal([]byte(out), &r); err != nil {
		t.Fatal(err)
	}
	return r
}

func same(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-9*math.Max(1, math.Abs(want))) {
		t.Errorf("%s: %.12g, want %.12g", what, got, want)
	}
}

// obj is a mesh as an OBJ file.
func obj(t *testing.T, dir, name string, points []geom.Vec, faces [][]int) {
	t.Helper()
	var b strings.Builder
	for _, p := range points {
		fmt.Fprintf(&b, "v %.17g %.17g %.17g\n", p[0], p[1], p[2])
	}
	for _, f := range faces {
		b.WriteString("f")
		for _, v := range f {
			fmt.Fprintf(&b, " %d", v+1)
		}
		b.WriteString("\n")
	}
	if err := os.WriteFile(filepath.Join(dir, name), []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
}

// gridBox is a box whose sides are cut into n by n quadrangles.
func gridBox(size geom.Vec, n int) (points []geom.Vec, faces [][]int) {
	at := map[geom.Vec]int{}
	vertex := func(p geom.Vec) int {
		if i, ok := at[p]; ok {
			return i
		}
		at[p] = len(points)
		points = append(points, p)
		return len(points) - 1
	}
	for axis := range 3 {
		u, v := (axis+1)%3, (axis+2)%3
		for side := range 2 {
			p := func(i, j int) int {
				var q geom.Vec
				q[axis] = size[axis] * float64(side)
				q[u], q[v] = size[u]*float64(i)/float64(n), size[v]*float64(j)/float64(n)
				return vertex(q)
			}
			for i := range n {
				for j := range n {
					q := []int{p(i, j), p(i+1, j), p(i+1, j+1), p(i, j+1)}
					if side == 0 {
						q[1], q[3] = q[3], q[1]
					}
					faces = append(faces, q)
				}
			}
		}
	}
	return points, faces
}

// TestTraceOnPolyhedra: known unfoldings through the command, to a billionth.
// Expected: corner to opposite corner of a box with sides a <= b <= c is
// sqrt((a+b)^2 + c^2) (development of two sides); the room of 30 x 12 x 12 with
// the spider one foot from the ceiling and the fly one foot from the floor is
// 40 (H. E. Dudeney, 1903). A finer mesh of the same box gives the same.
func TestTraceOnPolyhedra(t *testing.T) {
	dir := t.TempDir()
	for _, n := range []int{1, 3, 8} {
		for _, c := range []struct {
			size geom.Vec
			want float64
		}{{geom.Vec{1, 1, 1}, math.Sqrt(5)}, {geom.Vec{1, 1, 2}, math.Sqrt(8)}, {geom.Vec{3, 7, 5}, math.Hypot(8, 7)}} {
			p, f := gridBox(c.size, n)
			obj(t, dir, "box.obj", p, f)
			far := 0
			for i, q := range p {
				if q == c.size {
					far = i
				}
			}
			zero := 0
			for i, q := range p {
				if q == (geom.Vec{}) {
					zero = i
				}
			}
			r := trace(t, dir, "--mesh", "box.obj", "--unit", "cm", "--vertices", fmt.Sprintf("%d,%d", zero, far))
			same(t, "exact", r.ExactMM, 10*c.want)
			same(t, "length", r.LengthMM, 10*c.want)
			same(t, "ends", r.EndsMM, 10*c.want)
			same(t, "chord", r.ChordMM, 10*c.size.Norm())
			if !r.ExactProven || r.RawMM < r.ExactMM*(1-1e-12) || len(r.Path) < 3 {
				t.Errorf("%v in %d parts: %+v", c.size, n, r)
			}
		}
		p, f := gridBox(geom.Vec{30, 12, 12}, n)
		obj(t, dir, "room.obj", p, f)
		r := trace(t, dir, "--mesh", "room.obj", "--unit", "mm", "--at", "0,6,11; 30,6,1")
		same(t, "spider and fly", r.ExactMM, 40)
		same(t, "straight", r.ChordMM, math.Hypot(30, 10))
	}
}

// TestTraceThroughKinks. Expected: constructed, 20 + 15 + sqrt(12^2 + 9^2) = 50
// along a folded plate; chord sqrt(32^2 + 15^2 + 9^2) = 36.469.
func TestTraceThroughKinks(t *testing.T) {
	dir := t.TempDir()
	obj(t, dir, "fold.obj", []geom.Vec{{-10, -20, 0}, {20, -20, 0}, {20, 40, 0}, {-10, 40, 0}, {44, -20, 18}, {44, 40, 18}},
		[][]int{{0, 1, 2, 3}, {1, 4, 5, 2}})
	r := trace(t, dir, "--mesh", "fold.obj", "--unit", "mm", "--at", "0,0,0;20,0,0;20,15,0;32,15,9")
	for what, got := range map[string]float64{"length": r.LengthMM, "raw": r.RawMM, "exact": r.ExactMM, "upper": r.UpperMM} {
		same(t, what, got, 50)
	}
	chord := math.Sqrt(32*32 + 15*15 + 9*9)
	same(t, "chord", r.ChordMM, chord)
	same(t, "lower", r.LowerMM, chord)
	same(t, "end to end", r.EndsMM, math.Hypot(35, 15)) // the fold laid flat
	if r.Zones == nil || len(r.Zones) != 0 || r.PointsKept != 4 {
		t.Errorf("zones %v, %d points kept", r.Zones, r.PointsKept)
	}
	// Off the surface: put on it, and by how much is said.
	r = trace(t, dir, "--mesh", "fold.obj", "--unit", "mm", "--at", "0,0,2;10,0,0", "--std", "0.5")
	same(t, "off", r.OffMM[0], 2)
	same(t, "length of what was put on the surface", r.LengthMM, 10)
	same(t, "std of a straight trace", r.StdMM, 0.5*math.Sqrt2) // JCGM 100:2008 5.1.2, both ends
}

// TestTraceFreesNoise: a straight crack of 40 mm clicked every 2 mm with 0.5 mm
// of noise is 2.6 mm too long through every point on average (Monte Carlo on
// the plane, recomputed in the inspect package); the length is freed of it. The
// clicks are one drawing of that noise.
func TestTraceFreesNoise(t *testing.T) {
	dir := t.TempDir()
	obj(t, dir, "plate.obj", []geom.Vec{{0, 0, 0}, {100, 0, 0}, {100, 60, 0}, {0, 60, 0}}, [][]int{{0, 1, 2, 3}})
	off := []float64{.31, -.52, .72, -.15, .66, -.83, .12, .44, -.61, .25, -.38, .91, -.27, .05, .58, -.74, .33, -.46, .19, -.08, .4}
	var at []string
	for i, y := range off {
		at = append(at, fmt.Sprintf("%d,%g,0", 20+2*i, 30+y))
	}
	r := trace(t, dir, "--mesh", "plate.obj", "--unit", "mm", "--std", "0.5", "--at", strings.Join(at, ";"))
	if math.Abs(r.LengthMM-40) > 0.05 || r.RawMM < 42 || r.UpperMM != r.RawMM || r.PointsKept != 2 || r.ExactMM > r.RawMM+1e-9 {
		t.Errorf("%+v", r)
	}
	exact := trace(t, dir, "--mesh", "plate.obj", "--unit", "mm", "--at", strings.Join(at, ";"))
	same(t, "without a standard uncertainty every point counts", exact.LengthMM, r.RawMM)
}

// TestTraceCountsVerticesByTheFile: repeated points are merged, and the numbers
// stay those of the file; in STL vertex 3 f + k is corner k of triangle f.
// Expected: constructed.
func TestTraceCountsVerticesByTheFile(t *testing.T) {
	dir := t.TempDir()
	obj(t, dir, "twice.obj", []geom.Vec{{0, 0, 0}, {10, 0, 0}, {0, 10, 0}, {10, 0, 0}, {10, 10, 0}, {0, 10, 0}, {99, 99, 99}},
		[][]int{{0, 1, 2}, {3, 4, 5}})
	same(t, "across the seam", trace(t, dir, "--mesh", "twice.obj", "--unit", "mm", "--vertices", "0,4").LengthMM, math.Hypot(10, 10))
	stl := "solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 10 0 0\nvertex 0 10 0\nendloop\nendfacet\n" +
		"facet normal 0 0 1\nouter loop\nvertex 10 0 0\nvertex 10 10 0\nvertex 0 10 0\nendloop\nendfacet\nendsolid a\n"
	ply := "ply\nformat ascii 1.0\nelement vertex 6\nproperty float x\nproperty float y\nproperty float z\nelement face 2\nproperty list uchar int vertex_indices\nproperty int zone\nend_header\n" +
		"0 0 0\n10 0 0\n0 10 0\n10 0 0\n10 10 0\n0 10 0\n3 0 1 2 7\n3 3 4 5 9\n"
	for name, text := range map[string]string{"twice.stl": stl, "twice.ply": ply} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		r := trace(t, dir, "--mesh", name, "--unit", "mm", "--vertices", "0,4")
		same(t, name, r.LengthMM, math.Hypot(10, 10))
		if name == "twice.ply" {
			if len(r.Zones) != 2 || r.Zones[0].ID != 7 || r.Zones[1].ID != 9 {
				t.Fatalf("zones %+v", r.Zones)
			}
			same(t, "zone 7", r.Zones[0].LengthMM, math.Hypot(5, 5))
		}
	}
	if code, _, stderr := run(t, dir, "trace", "--mesh", "twice.obj", "--unit", "mm", "--vertices", "0,6"); code != Refused || !strings.Contains(stderr, "no triangle uses vertex 6") {
		t.Errorf("exit code %d, %q", code, stderr)
	}
}
