package vehicle

import (
	"fmt"
	"reflect"
	"runtime"
	"slices"
	"sync"
	"testing"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/picture"
)

// slabBody is a body with one casting, the slab, a joint, an edge, a bore and two lines.
func slabBody() *body.Body {
	b := &body.Body{}
	b.Castings = []body.Casting{{ID: "C", Part: "P", Wall: 5, Zones: []body.Zone{{ID: "A", Label: 1}, {ID: "B", Label: 2}},
		Edges: []body.Edge{{ID: "E", Along: []geom.Vec{{10, 0, 2}, {190, 0, 2}}}},
		Bores: []body.Bore{{ID: "H", At: geom.Vec{50, 50, 2.5}, Axis: geom.Vec{0, 0, 1}, Radius: 6}}}}
	b.Joints = []body.Joint{{ID: "J", Layers: []body.PartID{"P"}, Along: [][]geom.Vec{{{20, 90, 5}, {180, 90, 5}}}}}
	b.Lines = []body.Line{{ID: "S", Casting: "C", Normal: geom.Vec{1, 0, 0}, Offset: 120}, {ID: "T", Casting: "C", Normal: geom.Vec{1, 1, 0}, Offset: 60}}
	return b
}

func surfaceOf(t testing.TB, m *mesh.Mesh) *mesh.Surface {
	t.Helper()
	s, err := mesh.NewSurface(m)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// answers is what a vehicle says of its casting, without the functions in it.
func answers(v *Vehicle) []any {
	c := v.Castings[0]
	lines := func(f *Fixtures) (out []any) {
		for _, t := range f.Targets {
			out = append(out, t.Name, t.Std, t.Lines(), t.Bound(1e9, geom.Vec{100, 50, 40}, geom.Vec{120, 60, 30}))
		}
		return append(out, f.Missing)
	}
	out := []any{c.Borders(), c.DiagonalMM(), c.Region(c.Of.Zones[1]), lines(c.FreeEdges()), lines(c.Joints()), c.RibFeet(), c.Seams(), lines(&Fixtures{Targets: c.Bores()})}
	for _, l := range v.body.Lines {
		p, err := v.Part(l)
		out = append(out, p, fmt.Sprint(err))
	}
	uri, seen, err := v.Album.Picture(c.Surface, fromAbove.Around(c.Surface.Mesh().Points, 10, 60, 60), map[int32]int{1: 1, 2: 2})
	return append(out, uri, seen, err)
}

// fromAbove is a view of a slab.
var fromAbove = picture.Camera{Right: geom.Vec{1, 0, 0}, Up: geom.Vec{0, 1, 0}, Toward: geom.Vec{0, 0, 1}}

// Made ready at once, or asked by many at once while nothing is worked out yet, a vehicle
// says what one says that is asked question after question. The race detector runs this.
func TestVehicleFilledAtOnceSaysTheSame(t *testing.T) {
	b, s := slabBody(), surfaceOf(t, slab(5))
	surfaces := map[body.CastingID]*mesh.Surface{"C": s}
	want := answers(New(b, surfaces))
	ready, cold := New(b, surfaces), New(b, surfaces)
	ready.Ready()
	if got := answers(ready); !reflect.DeepEqual(got, want) {
		t.Errorf("made ready it says\n%+v, want\n%+v", got, want)
	}
	var all sync.WaitGroup
	for k := range 4 {
		all.Go(func() {
			if k == 0 {
				cold.Ready()
			}
			if got := answers(cold); !reflect.DeepEqual(got, want) {
				t.Error("asked by several at once it says something else")
			}
			if cold.Bytes() < s.Mesh().Bytes() {
				t.Error("it is smaller than its mesh")
			}
		})
	}
	all.Wait()
	if len(cold.Castings[0].lines) != 2 || len(cold.Castings[0].rims) != 1 {
		t.Errorf("%d lines and %d bores are kept, want 2 and 1", len(cold.Castings[0].lines), len(cold.Castings[0].rims))
	}
}

// Of a body whose procedures alone differ it is the same vehicle; of another one whose
// casting has the same mesh it is another, with the lines cut before where they are the
// same.
func TestVehicleIsSharedWhereTheCastingsAre(t *testing.T) {
	b, s := slabBody(), surfaceOf(t, slab(10))
	v := New(b, map[body.CastingID]*mesh.Surface{"C": s})
	v.Ready()
	revised := *b
	revised.Procedures = []body.Procedure{{ID: "R"}}
	if v.For(&revised) != v {
		t.Error("another procedure makes another vehicle")
	}
	other := slabBody()
	other.Lines[1].Offset = 70
	if w := v.For(other); w == v || w.Surface("C") != s {
		t.Error("another body with such a casting has the same vehicle, or another mesh")
	}
	w := New(other, map[body.CastingID]*mesh.Surface{"C": s}, v)
	for i, l := range other.Lines {
		was, _ := v.Part(b.Lines[i])
		if now, err := w.Part(l); err != nil || (now == was) != (i == 0) {
			t.Errorf("line %s: taken over %v, error %v", l.ID, now == was, err)
		}
	}
	if (*Vehicle)(nil).For(b).Surface("C") != nil || (*Vehicle)(nil).Surface("C") != nil {
		t.Error("without a vehicle there is a mesh")
	}
	if _, err := (*Vehicle)(nil).Part(b.Lines[0]); err == nil {
		t.Error("without a mesh a line was cut")
	}
}

// The size a vehicle states is what the heap grew by when it was made, within a quarter:
// the heap is measured by the runtime after its collections.
func TestVehicleStatesItsSize(t *testing.T) {
	heap := func() int {
		var m runtime.MemStats
		for range 3 { // what lies in pools lives through two
			runtime.GC()
		}
		runtime.ReadMemStats(&m)
		return int(m.HeapAlloc)
	}
	before := heap()
	v := New(slabBody(), map[body.CastingID]*mesh.Surface{"C": surfaceOf(t, slab(1.5))})
	if cold := heap() - before; !within(v.Bytes(), cold) {
		t.Errorf("%d bytes are stated before anything is asked, the heap grew by %d", v.Bytes(), cold)
	}
	cold := v.Bytes()
	v.Ready()
	if grown := heap() - before; !within(v.Bytes(), grown) || v.Bytes() < cold*5/4 {
		t.Errorf("%d bytes are stated, the heap grew by %d; %d were before", v.Bytes(), grown, cold)
	}
	if len(v.Castings[0].Surface.Mesh().Faces) < 30_000 || slices.Max(v.Castings[0].Surface.Mesh().Label) != 2 {
		t.Errorf("%d faces", len(v.Castings[0].Surface.Mesh().Faces))
	}
	runtime.KeepAlive(v)
}

func within(stated, grown int) bool { return 4*stated > 3*grown && 3*stated < 4*grown }
