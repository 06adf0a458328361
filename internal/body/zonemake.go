package body

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/elem"
	"fettle/internal/geom"
	"fettle/internal/halt"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

func words(s string) []string { return strings.Fields(s) }

// ZonedMesh is a mesh whose faces carry zones, and what the body document says
// of it.
type ZonedMesh struct {
	Mesh  *mesh.Mesh
	Zones []MadeZone // in the order of the recipe
	Bores []Bore
}

// MadeZone is a zone as it came out.
type MadeZone struct {
	Zone
	Faces   int
	AreaMM2 float64
	Pieces  int // that share no edge
}

// Limits of the making. Our choices, common practice, no source.
const (
	seedGateMM = 5.0  // a point to grow from may be so far off the surface
	cutSnapMM  = 0.01 // points so near to a cutting plane count as on it
	borderStep = 0.5  // steps along a border when it is widened, as a share of the distance
)

// zoneMaker carries the mesh from step to step; labels are those of the zones,
// 0 for none.
type zoneMaker struct {
	work  *halt.Work
	r     *ZoneRecipe
	m     *mesh.Mesh
	surf  *mesh.Surface // nil: to be built
	label map[ZoneID]int32
}

// Apply makes the zones on a mesh that passes Check. The error is
// diag.Problems with the place in the recipe: a step that takes nothing, a zone
// without faces and a face without zone are faults.
func (r *ZoneRecipe) Apply(m *mesh.Mesh) (ZonedMesh, error) { return r.ApplyWhile(nil, m) }

// ApplyWhile does so as part of some work: when that is stopped, it is.
func (r *ZoneRecipe) ApplyWhile(work *halt.Work, m *mesh.Mesh) (ZonedMesh, error) {
	k := &zoneMaker{work: work, r: r, label: map[ZoneID]int32{NoZone: 0}}
	k.m = &mesh.Mesh{Points: m.Points, Faces: slices.Clone(m.Faces), Label: make([]int32, len(m.Faces))}
	for _, z := range r.Zones {
		k.label[z.ID] = int32(z.Label)
	}
	for f := range k.m.Label {
		k.m.Label[f] = k.label[r.Rest]
	}
	for i, s := range r.Steps {
		work.Step()
		before := slices.Clone(k.m.Label)
		if err := k.step(fmt.Sprintf("steps[%d]", i), s); err != nil {
			return ZonedMesh{}, err
		}
		if s.Do != ZoneSmooth && slices.Equal(before, k.m.Label) {
			return ZonedMesh{}, k.fault(fmt.Sprintf("steps[%d]", i), "the step changes no face", "correct it, or leave it out")
		}
	}
	return k.finish()
}

func (k *zoneMaker) fault(path, msg, hint string) error {
	return diag.Problems{k.r.pos.Problem(path, msg, hint)}
}

// surface is the mesh as it is now.
func (k *zoneMaker) surface() (*mesh.Surface, error) {
	if k.surf == nil {
		s, err := mesh.NewSurface(k.m)
		if err != nil {
			return nil, err
		}
		k.surf = s.While(k.work)
	}
	return k.surf, nil
}

// relabel gives the faces new labels.
func (k *zoneMaker) relabel(label []int32) {
	k.m = &mesh.Mesh{Points: k.m.Points, Faces: k.m.Faces, Label: label}
	if k.surf != nil {
		k.surf = k.surf.Labelled(label)
	}
}

// give gives the faces that are chosen, and in the zones of only, to a zone.
func (k *zoneMaker) give(zone ZoneID, only []ZoneID, chosen func(f int) bool) {
	label := slices.Clone(k.m.Label)
	for f, l := range label {
		allowed := len(only) == 0 || slices.ContainsFunc(only, func(z ZoneID) bool { return k.label[z] == l })
		if allowed && chosen(f) {
			label[f] = k.label[zone]
		}
	}
	k.relabel(label)
}

func (k *zoneMaker) step(path string, s ZoneStep) error {
	switch s.Do {
	case ZoneCut:
		return k.cut(path, s)
	case ZoneMerge:
		k.give(s.Zone, s.Merge, func(int) bool { return true })
		return nil
	case ZoneGrow:
		return k.grow(path, s)
	case ZoneFill:
		surf, err := k.surface()
		if err == nil {
			k.relabel(surf.Fill(k.m.Label, k.label[NoZone]))
		}
		return err
	case ZoneSmooth:
		return k.smooth(path, s)
	}
	return k.resize(path, s)
}

func (k *zoneMaker) cut(path string, s ZoneStep) error {
	var planes []mesh.Plane
	for _, p := range s.Planes {
		planes = append(planes, mesh.Plane{Normal: p.Normal, OffsetMM: float64(p.Offset)})
	}
	sp, err := k.m.SplitByPlanes(planes, cutSnapMM)
	if err != nil {
		return k.fault(path+".planes", "the mesh cannot be cut: "+err.Error(), "give each plane a normal that has a direction, and its offset")
	}
	k.m, k.surf = sp.Mesh, nil
	k.give(s.Zone, s.Only, func(f int) bool {
		for _, above := range sp.Above {
			if !above[f] {
				return false
			}
		}
		return true
	})
	return nil
}

func (k *zoneMaker) grow(path string, s ZoneStep) error {
	surf, err := k.surface()
	if err != nil {
		return err
	}
	var seeds []int
	for i, p := range s.From {
		site, mm := surf.Closest(p)
		if !(mm <= seedGateMM) {
			return k.fault(fmt.Sprintf("%s.from_mm[%d]", path, i), fmt.Sprintf("the point lies %.1f mm off the surface", mm),
				fmt.Sprintf("at most %g mm; the nearest place is %.1f, %.1f, %.1f", seedGateMM, site.At[0], site.At[1], site.At[2]))
		}
		seeds = append(seeds, site.Face)
	}
	angle, spread := float64(s.Angle), float64(s.Spread)
	if angle == 0 {
		angle = float64(k.r.Sharp)
	}
	if spread == 0 {
		spread = math.Pi
	}
	region, err := surf.GrowRegion(seeds, angle, spread)
	if err != nil {
		return err
	}
	k.give(s.Zone, s.Only, in(region))
	return nil
}

// in says which faces an ascending list holds.
func in(region []int32) func(int) bool {
	return func(f int) bool {
		_, found := slices.BinarySearch(region, int32(f))
		return found
	}
}

// resize widens or shrinks a zone.
func (k *zoneMaker) resize(path string, s ZoneStep) error {
	surf, err := k.surface()
	if err != nil {
		return err
	}
	var region []int32
	for f, l := range k.m.Label {
		if l == k.label[s.Zone] {
			region = append(region, int32(f))
		}
	}
	if len(region) == 0 {
		return k.fault(path+".zone", fmt.Sprintf("zone %q has no faces yet", s.Zone), "let a step before give it some")
	}
	by := float64(s.By)
	if s.Do == ZoneWiden {
		region, err = surf.ResizeRegion(region, by, by*borderStep)
		if err == nil {
			k.give(s.Zone, s.Only, in(region))
		}
		return err
	}
	if region, err = surf.ResizeRegion(region, -by, by*borderStep); err != nil {
		return err
	}
	stays := in(region)
	k.give(s.To, []ZoneID{s.Zone}, func(f int) bool { return !stays(f) })
	return nil
}

func (k *zoneMaker) smooth(path string, s ZoneStep) error {
	surf, err := k.surface()
	if err != nil {
		return err
	}
	label, err := surf.SmoothLabels(float64(k.r.Sharp), float64(s.Reach))
	if err != nil {
		return k.fault(path, err.Error(), "give faces to zones before their borders are smoothed")
	}
	k.relabel(label)
	return nil
}

// finish counts the zones and finds the bores.
func (k *zoneMaker) finish() (ZonedMesh, error) {
	var problems diag.Problems
	out := ZonedMesh{Mesh: k.m}
	for i, z := range k.r.Zones {
		made := MadeZone{Zone: z}
		var part mesh.Mesh
		for f, l := range k.m.Label {
			if l == int32(z.Label) {
				made.Faces++
				made.AreaMM2 += k.m.FaceAreaMM2(f)
				part.Faces = append(part.Faces, k.m.Faces[f])
			}
		}
		part.Points = k.m.Points
		made.Pieces = part.Faults().Components
		if made.Faces == 0 {
			problems = append(problems, k.r.pos.Problem(at("zones", i, "id"), fmt.Sprintf("no face is in zone %q at the end", z.ID), "give it faces in a step, or leave it out"))
		}
		out.Zones = append(out.Zones, made)
	}
	if n, at := k.bare(); n > 0 {
		problems = append(problems, k.r.pos.Problem("rest", fmt.Sprintf("%d faces are in no zone at the end, one of them at %s", n, at),
			"name the zone they belong to with 'rest', or give them to a zone in a step"))
	}
	if k.r.BoreTolerance > 0 {
		surf, err := k.surface()
		if err != nil {
			return ZonedMesh{}, err
		}
		out.Bores = FindBores(surf, k.r.Sharp, k.r.BoreTolerance)
	}
	return out, problems.OrNil()
}

// bare counts the faces without zone, and says where one of them lies.
func (k *zoneMaker) bare() (n int, where string) {
	for f, l := range k.m.Label {
		if l == 0 {
			if n++; n == 1 {
				p := k.m.FaceMiddle(f)
				where = fmt.Sprintf("%.1f, %.1f, %.1f", p[0], p[1], p[2])
			}
		}
	}
	return n, where
}

// maxHole is the largest radius of a hole that is looked for by its wall: above
// it lie the insides of towers and tubes. Our choice, no source.
const maxHole unit.MM = 60

// leastBoreStd is what the standard uncertainty of a bore that was found is at least:
// what a mesh says is taken no surer than two hundredths of a millimetre. Our choice.
const leastBoreStd = 0.02

// FindBores lists the holes of a surface as the body document takes them: rims
// of holes on one axis are one bore, given at its middle. Then come holes that
// have no round rim, found by their walls. Where a wall says otherwise than a rim,
// as on slanted, tapered, chamfered and rounded holes, the wall counts.
func FindBores(s *mesh.Surface, sharp unit.Rad, tolerance unit.MM) []Bore {
	rims, walls := s.Rims(float64(sharp), float64(tolerance)), s.Holes(float64(maxHole), float64(tolerance))
	paired, listed := map[int]bool{}, make([]bool, len(walls))
	var out []Bore
	add := func(at, axis geom.Vec, radius, std float64) {
		out = append(out, Bore{ID: fmt.Sprintf("hole-%d", len(out)+1), At: tidy(at, 1e3),
			Axis: tidy(axis, 1e6), Radius: unit.MM(math.Round(radius*1e3) / 1e3), Std: unit.MM(math.Ceil(math.Max(leastBoreStd, std)*1e3) / 1e3)})
	}
	rim := func(at, axis geom.Vec, radius, std float64) {
		if k, ok := wallOf(walls, at, axis, radius); ok {
			if k < 0 {
				return
			}
			listed[k] = true
			h := &walls[k] // surer than the rims
			at, axis, radius, std = h.Centre, h.Axis, h.RadiusMM, h.StdMM()
		}
		add(at, axis, radius, std)
	}
	for _, b := range mesh.Bores(rims) {
		other := rims[b.Rims[1]].Circle
		along := other.Centre.Sub(b.Circle.Centre).Dot(b.Circle.Axis)
		rim(b.Circle.Centre.Add(b.Circle.Axis.Scale(along/2)), b.Circle.Axis, max(b.Circle.RadiusMM, other.RadiusMM), max(b.Circle.StdMM(), other.StdMM()))
		paired[b.Rims[0]], paired[b.Rims[1]] = true, true
	}
	for i, r := range rims {
		if r.Hole && !paired[i] {
			rim(r.Circle.Centre, r.Circle.Axis, r.Circle.RadiusMM, r.Circle.StdMM())
		}
	}
	for i, h := range walls {
		if !listed[i] {
			add(h.Centre, h.Axis, h.RadiusMM, h.StdMM())
		}
	}
	return out
}

// Limits on what counts as the rim of a hole that was found by its wall. Our
// choices, no source.
const (
	rimAlikeMM = 0.05 // difference of the radii of one hole
	rimRoundMM = 2.5  // how much wider a chamfer or round makes a rim
)

// wallOf says of a rim, or a pair of rims, whether there is a wall at its place
// (ok), and which one it agrees with, -1 when with none: it is then not listed.
func wallOf(walls []mesh.Hole, at, axis geom.Vec, radius float64) (which int, ok bool) {
	which = -1
	for i, h := range walls {
		off := at.Sub(h.Centre)
		along := off.Dot(h.Axis)
		turn := math.Abs(h.Axis.Dot(axis))
		if turn < elem.Cos(math.Pi/4) || off.Sub(h.Axis.Scale(along)).Norm() > h.RadiusMM/2 ||
			math.Abs(along) > h.DepthMM/2+rimRoundMM || radius < 0.5*h.NarrowMM || radius > max(1.3*h.RadiusMM, h.RadiusMM+rimRoundMM) {
			continue
		}
		ok = true
		if turn > elem.Cos(2*math.Pi/180) && math.Abs(radius-h.RadiusMM) <= rimAlikeMM {
			return i, true
		}
	}
	return which, ok
}
