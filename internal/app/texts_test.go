package app

import (
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/revise"
)

// Texts of single files, whole, for results with everything that they can say, and for those with
// next to nothing. Constructed; the layout is ours.

func volume(v float64) *float64 { return &v }

func read(t *testing.T, what, got, want string) {
	t.Helper()
	if got != want {
		t.Errorf("%s:\n%s\nwant\n%s", what, got, want)
	}
}

func TestTextOfAMesh(t *testing.T) {
	full := MeshResult{File: "a.ply", Points: 8, Triangles: 12, Pieces: 1, Min: geom.Vec{-1, 0, 0}, Max: geom.Vec{10, 20, 30.256}, AreaMM2: 1234, VolumeMM3: volume(6000), Closed: true, Cavities: 2,
		Holes: 1, OpenEdges: 4, Seams: 3, SeamsMM: 7.5, SeamPlaces: []MeshSeam{{At: geom.Vec{1, 2, 3}, LengthMM: 5, LeastMM: 0.1, WidestMM: 0.2, TJoints: 1}, {LengthMM: 2, LeastMM: 0.5, WidestMM: 0.5}},
		NonManifoldEdges: 5, FlippedEdges: 6, DegenerateFaces: 7, SelfContacts: 9, ContactsLeftOut: true, ContactPlaces: []MeshContact{{Triangles: [2]int32{3, 4}, At: geom.Vec{7, 8, 9}}},
		Zones: []MeshZone{{ID: 2, Triangles: 6, AreaMM2: 617}}, Notes: []diag.Note{{Severity: diag.Caution, Text: "look at it"}}}
	read(t, "full", full.Text(Column{Width: 80}), `a.ply: 8 points, 12 triangles, 1 piece
from -1.00, 0.00, 0.00 to 10.00, 20.00, 30.26 mm
surface 12.3 cm2, volume 6.00 cm3, closed, 2 voids within the metal
faults: 1 hole with 4 open edges, 5 edges of three or more triangles, 6 flipped edges, 7 triangles without area, at least 9 self-contacts
  triangles 3 and 4 meet at 7.00, 8.00, 9.00
  seam 5.00 mm long, 0.1 to 0.2 mm wide, widest at 1.00, 2.00, 3.00, 1 T-joint
  seam 2.00 mm long, 0.5 mm wide, widest at 0.00, 0.00, 0.00
  and 1 seam more, all together 7.50 mm long
zone 2: 6 triangles, 6.2 cm2
caution: look at it
`)
	read(t, "open", MeshResult{File: "b.stl", Pieces: 2}.Text(Column{Width: 80}), `b.stl: 0 points, 0 triangles, 2 pieces
from 0.00, 0.00, 0.00 to 0.00, 0.00, 0.00 mm
surface 0.0 cm2, not closed: no volume
faults: 0 holes with 0 open edges, 0 edges of three or more triangles, 0 flipped edges, 0 triangles without area, 0 self-contacts
`)
	read(t, "closed without a side", MeshResult{File: "b.stl", Closed: true}.Text(Column{Width: 80}), `b.stl: 0 points, 0 triangles, 0 pieces
from 0.00, 0.00, 0.00 to 0.00, 0.00, 0.00 mm
surface 0.0 cm2, closed, but it does not say where its metal is: no volume
faults: 0 holes with 0 open edges, 0 edges of three or more triangles, 0 flipped edges, 0 triangles without area, 0 self-contacts
`)
}

func TestTextOfAMendedMesh(t *testing.T) {
	r := MendResult{File: "a.ply", Written: "b.glb", ToleranceMM: 0.5, Before: MendCounts{10, 12, 2, 8, 2, 0}, After: MendCounts{8, 12, 1, 0, 0, 0}, VolumeMM3: volume(6000),
		Joined:   []MendJoin{{geom.Vec{1, 2, 3}, make([]geom.Vec, 2), 0.2, 0.1}, {geom.Vec{4, 5, 6}, make([]geom.Vec, 3), 0.1, 0.3}},
		Divided:  []MendSplit{{geom.Vec{7, 8, 9}, 0.4, [2]geom.Vec{{1, 0, 0}, {2, 0, 0}}}, {geom.Vec{7, 8, 9}, 0.25, [2]geom.Vec{}}},
		LeftOpen: []MendLeft{{geom.Vec{5, 5, 5}, "it is too wide"}}, Wider: []MeshSeam{{LengthMM: 2, LeastMM: 0.5, WidestMM: 0.5}}}
	read(t, "full", r.Text(Column{Width: 80}), `a.ply: closed what lies within 0.5 mm; the mended mesh is b.glb, in metres, as this kind of file always is
before 10 points, 12 triangles, 2 pieces, 8 open edges, 2 edges of three or more triangles, 0 flipped edges
after  8 points, 12 triangles, 1 piece, 0 open edges, 0 edges of three or more triangles, 0 flipped edges, closed, volume 6.00 cm3
pieces that shared no edge are one now: where a gap between them is meant, keep the file that was read
points joined at 2 places, at most 0.2 mm apart and moved by at most 0.3 mm
  2 points at 1.00, 2.00, 3.00, 0.2 mm apart, moved by 0.1 mm
  3 points at 4.00, 5.00, 6.00, 0.1 mm apart, moved by 0.3 mm
edges divided at T-joints: 2, the corner at most 0.4 mm off
  at 7.00, 8.00, 9.00, the corner 0.4 mm off the edge from 1.00, 0.00, 0.00 to 2.00, 0.00, 0.00
  at 7.00, 8.00, 9.00, the corner 0.25 mm off the edge from 0.00, 0.00, 0.00 to 0.00, 0.00, 0.00
no triangle was dropped or turned over
not closed within the tolerance: 1 place
  at 5.00, 5.00, 5.00: it is too wide
still open: 1 seam, 0 open edges in all
  seam 2.00 mm long, 0.5 mm wide, widest at 0.00, 0.00, 0.00
`)
	many := MendResult{File: "a.ply", Written: "b.ply", ToleranceMM: 1, Before: MendCounts{Pieces: 1, OpenEdges: 3}, After: MendCounts{Pieces: 1, OpenEdges: 3}, LeftOpen: make([]MendLeft, 22)}
	text := many.Text(Column{Width: 80, How: func(diag.Remedy) string { return "data" }})
	if strings.Count(text, "  at 0.00, 0.00, 0.00: \n") != 20 || !strings.Contains(text, "and 2 more") || !strings.Contains(text, "in millimetres\n") || strings.Contains(text, "pieces that") || strings.Contains(text, "volume") {
		t.Errorf("many:\n%s", text)
	}
}

func TestTextOfACut(t *testing.T) {
	flat := CutResult{Loops: make([][]geom.Vec, 1), Closed: true, LengthMM: 40, FacesCrossed: 8, Sides: [2]CutSide{{100, 1000}, {200, 2000}}, Divides: true, VolumesExact: true, volumes: true}
	read(t, "flat", flat.Text(Column{Width: 80}), `1 loop, closed; length 40.000 mm over 8 triangles
side n·x < d: surface 100.0 mm2, volume 1000.0 mm3
side n·x > d: surface 200.0 mm2, volume 2000.0 mm3
divides the part in two
`)
	several := flat
	several.several, several.VolumesExact, several.VolumesWithinMM3 = true, false, 5
	read(t, "several", several.Text(Column{Width: 80}), `1 loop, closed; length 40.000 mm over 8 triangles
the rest: surface 100.0 mm2, volume 1000.0 mm3 within 5.0
where n·x > d of all planes: surface 200.0 mm2, volume 2000.0 mm3 within 5.0
divides the part in two
the cut face is not flat: volumes are those up to the smallest face that closes each loop
`)
	along := flat
	along.along, along.volumes, along.VolumeDoubt = true, false, "the mesh is open"
	read(t, "along", along.Text(Column{Width: 80}), `1 loop, closed; length 40.000 mm over 8 triangles
the other side: surface 100.0 mm2
the side asked for: surface 200.0 mm2
divides the part in two
no volumes: the mesh is open
`)
	not := CutResult{Reasons: []string{"it is open", "nothing is there"}, VolumeDoubt: "it is open"}
	read(t, "not", not.Text(Column{Width: 80}), `0 loops, not closed: it does not prove two pieces; length 0.000 mm over 0 triangles
side n·x < d: surface 0.0 mm2
side n·x > d: surface 0.0 mm2
does not divide the part in two: it is open; nothing is there
`)
}

func TestTextOfATrace(t *testing.T) {
	r := TraceResult{LengthMM: 30, StdMM: 0.5, LowerMM: 28, UpperMM: 33, RawMM: 32, ExactMM: 31, EndsMM: 29, PointsKept: 2, OffMM: []float64{0, 0.25, 0.1}, Zones: []TraceZone{{3, 12}}, Notes: []diag.Note{{Severity: diag.Caution, Text: "points are far", Hint: "click again"}}}
	read(t, "full", r.Text(Column{Width: 80}), `length along the surface 30.0 mm ± 1.0 mm (k = 2, through 2 of 3 points)
at least 28.0 mm (straight), at most 33.0 mm
through every point 32.0 mm, shortest 31.0 mm; from end to end 29.0 mm (not proven the shortest)
points were put on the surface, the farthest by 0.25 mm (point 2)
zone 3: 12.0 mm
caution: points are far; click again
`)
	r.ExactProven, r.OffMM, r.Zones, r.Notes = true, []float64{0, 1e-6}, nil, nil
	read(t, "bare", r.Text(Column{Width: 80}), `length along the surface 30.0 mm ± 1.0 mm (k = 2, through 2 of 2 points)
at least 28.0 mm (straight), at most 33.0 mm
through every point 32.0 mm, shortest 31.0 mm; from end to end 29.0 mm (proven the shortest)
`)
}

func TestTextOfAReplay(t *testing.T) {
	turned := func(ways ...revise.Direction) (out []revise.Turned) {
		for _, w := range ways {
			out = append(out, revise.Turned{Finding: "F1", Way: w, Text: "weld"})
		}
		return out
	}
	r := Replayed{Procedure: "P", Revision: "C", Day: date(9), Changes: []revise.Change{{Row: "a", Text: "is gone", Way: revise.Stricter, Cite: "p. 1"}, {Text: "title"}},
		Jobs: []ReplayedJob{{Dir: "one", ID: "J1", Against: "B", Turned: turned(revise.Milder, revise.Milder, revise.Unclear)}, {Dir: "two", ID: "J2", Turned: turned(revise.Stricter)}, {Dir: "three"}, {Dir: "four", Failed: "no body"}}}
	a := New(memory{}, "test")
	read(t, "full", a.ReplayText(r, Column{Width: 80}), `P revision C, judged as of 2026-03-09.

What changed
  row a: is gone (stricter) [p. 1]
  title

Jobs
  J1 (one), against B: 3 findings change: 2 milder, 1 with another verdict but
  nothing more or less allowed.
    F1, milder: weld.
    F1, milder: weld.
    F1, changed: weld.
  J2 (two), against no procedure in force: 1 finding changes: 1 stricter.
    F1, stricter: weld.
  four: could not be decided: no body
  Of 4 jobs 2 change, 1 decide as before and 1 could not be decided.
`)
	read(t, "the same", a.ReplayText(Replayed{Procedure: "P", Revision: "C", Day: date(9), Changes: []revise.Change{}}, Column{Width: 80}), `P revision C, judged as of 2026-03-09.

What changed
  nothing: both files say the same
`)
	read(t, "alone", a.ReplayText(Replayed{Procedure: "P", Revision: "C", Day: date(9)}, Column{Width: 80}), `P revision C, judged as of 2026-03-09.
`)
}

func TestTextOfWhatZonesAreMadeFrom(t *testing.T) {
	f := FoundZones{Bores: []FoundBore{{ID: "B-1", RadiusMM: 6, At: geom.Vec{1, 2, 3}, Axis: geom.Vec{0, 0, 1}, StdMM: 0.05}, {ID: "B-2"}, {ID: "B-3"}, {ID: "B-4"}}}
	f.draft = &body.ZoneRecipe{}
	f.FreeEdges = []body.MeshEdge{{LengthMM: 12, Closed: true, At: geom.Vec{1, 0, 0}}, {LengthMM: 3}}
	_, none, _ := strings.Cut(f.Text(Column{Width: 80}, 2), "4 holes")
	read(t, "without walls", none, `
  B-1: radius 6.00 mm at 1.0, 2.0, 3.0, axis 0.00, 0.00, 1.00, standard uncertainty 0.05 mm
  B-2: radius 0.00 mm at 0.0, 0.0, 0.0, axis 0.00, 0.00, 0.00, standard uncertainty 0.00 mm
  and 2 more holes
2 lines of free edges
  12.0 mm, closed, at 1.0, 0.0, 0.0
  3.0 mm, open, at 0.0, 0.0, 0.0
no thin walls, so no wall ends were looked for
`)
	f.WallMM, f.WallEnds = 5, []body.MeshWallEnd{{LengthMM: 40, ThickMM: 5.5, At: geom.Vec{9, 8, 7}}}
	_, ends, _ := strings.Cut(f.Text(Column{Width: 80}, 2), "1 wall end")
	read(t, "with one", ends, `, where walls of 5.0 mm nominal thickness end
  40.0 mm long, at most 5.5 mm thick, at 9.0, 8.0, 7.0
`)
}
