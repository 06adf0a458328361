package inspect

import (
	"math"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

func surfaces(s *mesh.Surface) map[body.CastingID]*mesh.Surface {
	return map[body.CastingID]*mesh.Surface{"C": s}
}

func has(notes []diag.Note, code, where string) *diag.Note {
	for i, n := range notes {
		if n.Code == code && n.Where == where {
			return &notes[i]
		}
	}
	return nil
}

// One point of the trace is read 2.6 to 3.4 mm under a wall of 5 mm: nearer to
// the far side. The crack still lies on the near one, whether the trace is in
// the middle or near an edge of the plate, where the way round is short: there it may
// lead round it twice, up, through and down, and be that much longer.
func TestTraceStaysOnOneSideOfAThinWall(t *testing.T) {
	round := 2 * (math.Hypot(10, 9+5+9) - 10)
	for _, c := range []struct {
		name string
		y    float64
		deep float64
		more float64
	}{{"middle", 50, 2.6, 0}, {"middle, deeper", 50, 3.4, 0}, {"near an edge", 9, 2.6, round}} {
		t.Run(c.name, func(t *testing.T) {
			f := one(t, slab(5), 0.6, geom.Vec{20, c.y, 0.2}, geom.Vec{30, c.y, -0.1}, geom.Vec{40, c.y, -c.deep},
				geom.Vec{50, c.y, 0}, geom.Vec{60, c.y, 0.1})
			near(t, "length", f.Length.MM, 40, 0.01)
			near(t, "raw length", f.UpperMM, 40+c.more, 0.01)
			if f.Length.MM+1.65*f.Length.Std < 40+c.more {
				t.Errorf("%+v does not cover %g", *f.Length, 40+c.more)
			}
			near(t, "farthest point", f.SnapMM, c.deep, 1e-9)
			for _, p := range f.Path {
				if p[2] != 0 {
					t.Fatalf("the path leaves the upper face at %v", p)
				}
			}
		})
	}
	for odd := range 4 { // three points agree against one
		trace := []geom.Vec{{20, 50, 0}, {30, 50, 0}, {40, 50, 0}, {50, 50, 0}}
		trace[odd][2] = -2.9
		for _, p := range one(t, slab(5), 0.6, trace...).Path {
			if p[2] != 0 {
				t.Errorf("point %d pulls the trace to the other side: %v", odd+1, p)
			}
		}
	}
	f := one(t, slab(5), 0.6, geom.Vec{20, 50, -4.8}, geom.Vec{30, 50, -2.4}, geom.Vec{40, 50, -5.1})
	for _, p := range f.Path {
		if p[2] != -5 {
			t.Fatalf("a trace of the lower face leaves it at %v", p)
		}
	}
}

func TestTraceOffTheSurface(t *testing.T) {
	b := newBench(plate())
	b.crack("F", 0.6, geom.Vec{20, 50, 0}, geom.Vec{30, 50, 5.2}, geom.Vec{40, 50, 0})
	b.crack("G", 0.6, geom.Vec{20, 70, 0}, geom.Vec{30, 70, 4.9})
	r, notes := Run(b.input(t))
	f := find(t, r, "F")
	if f.Located || f.Length != nil || f.Decision != nil || len(f.Unknown) == 0 {
		t.Errorf("located off the surface: %+v", f)
	}
	n := has(notes, "inspect.off-surface", "F")
	if n == nil || n.Severity != diag.Blocking || !strings.Contains(n.Text, "point 2 by 5.2 mm") {
		t.Errorf("note %+v", n)
	}
	if !find(t, r, "G").Located {
		t.Error("4.9 mm is within the gate of 5 mm")
	}
	// F may lie in any zone, and next to G.
	if r.CracksInZone("A") != 2 || r.CracksInZone("B") != 1 || r.CracksOnCasting("C") != 2 {
		t.Errorf("counts %d %d %d", r.CracksInZone("A"), r.CracksInZone("B"), r.CracksOnCasting("C"))
	}
	if g := find(t, r, "G"); g.Spacing != nil || len(g.Unknown) == 0 {
		t.Errorf("spacing %+v next to a crack of unknown place", g.Spacing)
	}
}

func TestTraceThatJumpsIsRefused(t *testing.T) {
	// Two sheets 8 mm apart that hang together nowhere.
	m, up := plate(), plate()
	n := int32(len(m.Points))
	for _, p := range up.Points {
		m.Points = append(m.Points, p.Add(geom.Vec{0, 0, 8}))
	}
	for i, f := range up.Faces {
		m.Faces = append(m.Faces, [3]int32{f[0] + n, f[1] + n, f[2] + n})
		m.Label = append(m.Label, up.Label[i])
	}
	b := newBench(m)
	b.crack("F", 0.6, geom.Vec{20, 50, 0}, geom.Vec{30, 50, 0}, geom.Vec{40, 50, 8})
	r, notes := Run(b.input(t))
	note := has(notes, "inspect.trace-jumps", "F")
	if note == nil || note.Severity != diag.Blocking || !strings.Contains(note.Text, "from point 2 to point 3") {
		t.Errorf("note %+v", note)
	}
	if f := find(t, r, "F"); f.Located || f.Decision != nil {
		t.Errorf("%+v", f)
	}
}

func TestTracesThatCannotBeUsed(t *testing.T) {
	b := newBench(plate())
	b.crack("no trace", 0.6)
	b.crack("no std", 0, geom.Vec{20, 50, 0}, geom.Vec{30, 50, 0})
	b.crack("nan std", math.NaN(), geom.Vec{20, 50, 0}, geom.Vec{30, 50, 0})
	b.crack("nan", 0.5, geom.Vec{20, 50, 0}, geom.Vec{30, math.NaN(), 0})
	b.crack("elsewhere", 0.5, geom.Vec{20, 50, 0}, geom.Vec{30, 50, 0}).Part = "bracket"
	b.crack("one point", 0.5, geom.Vec{20, 50, 0})
	r, notes := Run(b.input(t))
	for id, code := range map[string]string{"no trace": "inspect.no-trace", "no std": "inspect.no-uncertainty",
		"nan std": "inspect.no-uncertainty", "nan": "inspect.not-a-number", "one point": "inspect.one-point"} {
		if has(notes, code, id) == nil {
			t.Errorf("%s: no note %s", id, code)
		}
	}
	for _, f := range r.Findings {
		if f.Length != nil || f.Decision != nil {
			t.Errorf("%s has a length", f.ID)
		}
		if f.Located != (f.ID == "one point") {
			t.Errorf("%s: located %v", f.ID, f.Located)
		}
		if f.Casting == "" != (f.ID == "elsewhere") {
			t.Errorf("%s: casting %q", f.ID, f.Casting)
		}
		if len(f.Because)+len(f.Unknown) == 0 {
			t.Errorf("%s says nothing", f.ID)
		}
	}
	in := b.input(t)
	in.Vehicle = nil
	if _, notes := Run(in); has(notes, "inspect.no-surface", "one point") == nil {
		t.Error("no note about the missing mesh")
	}
}
