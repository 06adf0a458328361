package format

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// What a mesh file is told of: each fault by one note, with its place.
func TestReadMeshTellsOfSeams(t *testing.T) {
	const lower, upper = "v 0 0 0\nv 10 0 0\nv 10 -5 0\nv 0 -5 0\nf 1 4 3\nf 1 3 2\n", "f 5 6 7\nf 5 7 8\n"
	for name, c := range map[string]struct {
		file string
		want map[string]string
	}{
		"one sheet": {lower + "v 10 5 0\nv 0 5 0\nf 1 2 5\nf 1 5 6\n", map[string]string{"mesh.open-edges": "6 open edges"}},
		"a seam": {lower + "v 0 0.25 0\nv 10 0.25 0\nv 10 5 0\nv 0 5 0\n" + upper,
			map[string]string{"mesh.open-edges": "8 open edges", "mesh.pieces": "2 pieces", "mesh.seams": "along 1 seam, together 10 mm long and up to 0.25 mm wide (the longest at 0.00, 0.00, 0.00)"}},
		"a T-joint": {lower + "v 0 0 0\nv 10 0 0\nv 10 5 0\nv 0 5 0\nv 4 0 0\nf 5 9 8\nf 9 7 8\nf 9 6 7\n",
			map[string]string{"mesh.open-edges": "9 open edges", "mesh.points-merged": "2 points", "mesh.pieces": "2 pieces", "mesh.seams": "up to 0 mm wide", "mesh.t-joints": "1 T-joint: a corner of one side lies within an edge of the other, which do not hang together there (the first at 4.00, 0.00, 0.00)"}},
		"turned": {lower + "v 10 5 0\nv 0 5 0\nf 2 1 5\nf 1 5 6\n", map[string]string{"mesh.open-edges": "6 open edges", "mesh.flipped": "disagree about the outside: there is no volume"}},
	} {
		_, notes, err := ReadMesh("part.obj", []byte(c.file), "mm")
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if len(notes) != len(c.want) {
			t.Errorf("%s: %v", name, notes)
		}
		for code, text := range c.want {
			if !slices.ContainsFunc(notes, func(n diag.Note) bool { return n.Code == code && strings.Contains(n.Text, text) }) {
				t.Errorf("%s: no %s with %q in %v", name, code, text, notes)
			}
		}
	}
}

// Narrow openings are told each with its sizes and first place, in words that say how to mend them;
// sides that disagree are counted first. Of no opening nothing is told.
func TestGapNotes(t *testing.T) {
	seam := func(x, length, wide float64, disagree bool) mesh.Seam {
		return mesh.Seam{At: geom.Vec{x, 2, 3}, LengthMM: length, WidestMM: wide, Disagree: disagree}
	}
	for _, c := range []struct {
		g    mesh.Gaps
		want []string
	}{
		{mesh.Gaps{Whole: true}, nil},
		{mesh.Gaps{}, []string{"mesh.gaps-not-all: too many free edges lie near one another"}},
		{mesh.Gaps{Whole: true, Seams: []mesh.Seam{seam(1.005, 30, 0.2, false), seam(9, 20, 0.5, false)}},
			[]string{"mesh.seams: the surface is open along 2 seams, together 50 mm long and up to 0.5 mm wide (the longest at 1.00, 2.00, 3.00): a crack that crosses one is measured round it, or not at all; mending closes seams"}},
		{mesh.Gaps{Whole: true, Seams: []mesh.Seam{seam(1, 30, 0.2, true), seam(9, 20, 0.5, false), seam(9, 10, 0.5, true)}},
			[]string{"mesh.seams: the surface is open along 3 seams, together 60 mm long and up to 0.5 mm wide (the longest at 1.00, 2.00, 3.00): a crack that crosses one is measured round it, or not at all; the sides of 2 of them disagree about the outside: turn the triangles of one side first; mending closes seams"}},
		{mesh.Gaps{TJoints: []geom.Vec{{1, 2, 3}, {4, 5, 6}}},
			[]string{"mesh.t-joints: 2 T-joints: a corner of one side lies within an edge of the other, which do not hang together there (the first at 1.00, 2.00, 3.00): a crack that crosses is measured too long; mending divides", "mesh.gaps-not-all: "}},
	} {
		notes := gapNotes("part", c.g)
		if len(notes) != len(c.want) {
			t.Errorf("%+v: %v", c.g, notes)
			continue
		}
		for i, n := range notes {
			mends := n.Code != NoteGaps
			if got := n.Code + ": " + n.Text + "; " + n.Hint; !strings.HasPrefix(got, c.want[i]) || n.Severity != diag.Caution || n.Where != "part" || (n.Remedy != nil) != mends {
				t.Errorf("told %q, remedy %v, want %q", got, n.Remedy, c.want[i])
			}
		}
	}
}

// Each fault of a surface is told where it is there, and how often.
func TestFaultNotes(t *testing.T) {
	whole := mesh.Faults{Components: 1}
	if notes := faultNotes("p", whole); len(notes) != 0 {
		t.Errorf("of a whole surface: %v", notes)
	}
	all := mesh.Faults{OpenEdges: 2, NonManifoldEdges: 3, FlippedEdges: 4, DegenerateFaces: 5, Components: 6}
	for i, c := range []struct {
		code, text string
		take       func(f *mesh.Faults)
	}{
		{"mesh.open-edges", "the surface has 2 open edges", func(f *mesh.Faults) { f.OpenEdges = 0 }}, {"mesh.non-manifold", "3 edges of three or more triangles", func(f *mesh.Faults) { f.NonManifoldEdges = 0 }},
		{"mesh.flipped", "at 4 edges the two triangles disagree", func(f *mesh.Faults) { f.FlippedEdges = 0 }}, {"mesh.no-area", "5 triangles without area", func(f *mesh.Faults) { f.DegenerateFaces = 0 }}, {"mesh.pieces", "the surface is in 6 pieces", func(f *mesh.Faults) { f.Components = 1 }},
	} {
		less := all
		c.take(&less)
		if n := faultNotes("p", all)[i]; n.Code != c.code || !strings.HasPrefix(n.Text, c.text) || n.Where != "p" || n.Severity != diag.Caution && i < 3 || n.Severity != diag.Info && i > 2 {
			t.Errorf("told %+v, want %s", n, c.text)
		}
		if notes := faultNotes("p", less); len(notes) != 4 || slices.ContainsFunc(notes, func(n diag.Note) bool { return n.Code == c.code }) {
			t.Errorf("without %s: %v", c.code, notes)
		}
	}
}
