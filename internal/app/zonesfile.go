package app

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"math"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/format"
	"fettle/internal/geom"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/mesh"
	"fettle/internal/report"
	"fettle/internal/unit"
)

// FoundZones is what a mesh file offers to make zones from.
type FoundZones struct {
	body.Features
	Bores []FoundBore `json:"bores"`
	Zones []DraftZone `json:"zones"` // of the draft
	Draft []byte      `json:"-"`     // a recipe to start from

	mesh  *mesh.Mesh
	draft *body.ZoneRecipe
}

// Picture draws the zones of the draft.
func (f FoundZones) Picture() ([]byte, error) {
	r := *f.draft
	r.BoreTolerance = 0 // holes are not drawn
	made, err := r.Apply(f.mesh)
	if err != nil {
		return nil, err
	}
	var zones []body.Zone
	rest := int32(0)
	for _, z := range r.Zones {
		if z.ID == r.Rest {
			rest = int32(z.Label)
			continue
		}
		zones = append(zones, z)
	}
	for k, l := range made.Mesh.Label {
		if l == rest {
			made.Mesh.Label[k] = 0
		}
	}
	return report.ZonesDrawing(made.Mesh, zones, body.Axes{})
}

// FoundBore is a hole.
type FoundBore struct {
	ID       string   `json:"id"`
	At       geom.Vec `json:"atMm"`
	Axis     geom.Vec `json:"axis"`
	RadiusMM float64  `json:"radiusMm"`
	StdMM    float64  `json:"stdMm"` // standard uncertainty of where its rim lies
}

// DraftZone is a zone of the draft.
type DraftZone struct {
	ID   body.ZoneID `json:"id"`
	Name string      `json:"name"`
	At   []geom.Vec  `json:"atMm"` // places it is grown from; none for what is left
}

// FindZones finds regions, holes and free edges of a mesh file, and drafts a
// recipe for it (which names the file as seenAs) in which every region of at least the share of the surface is a zone.
func (a *App) FindZones(ctx context.Context, file, seenAs, meshUnit string, sharpDeg, boreTolMM, wallMM, share float64) (FoundZones, error) {
	return computing(ctx, a, func(w *halt.Work) (FoundZones, error) {
		return a.findZones(w, file, seenAs, meshUnit, sharpDeg, boreTolMM, wallMM, share)
	})
}

func (a *App) findZones(w *halt.Work, file, seenAs, meshUnit string, sharpDeg, boreTolMM, wallMM, share float64) (FoundZones, error) {
	wrong := func(about, given, msg string) error {
		return &diag.Error{Kind: diag.Usage, Op: "zones find", Subject: about, Msg: msg, Hint: "give another", Remedy: job.Give(given)}
	}
	switch {
	case !(sharpDeg > 0 && sharpDeg < 180):
		return FoundZones{}, wrong("sharp edges", job.GiveSharp, "the angle must lie above 0 and below 180 degrees")
	case !(boreTolMM > 0 && boreTolMM < 1000):
		return FoundZones{}, wrong("rims of holes", job.GiveBoreTolerance, "the tolerance must lie above 0 and below 1000 mm")
	case !(wallMM >= 0 && wallMM < 1000):
		return FoundZones{}, wrong("walls", job.GiveWall, "the thickness must lie above 0 and below 1000 mm")
	case !(share >= 0 && share <= 1):
		return FoundZones{}, wrong("least zone", job.GiveLeast, "the share must lie between 0 and 1")
	}
	m, _, err := a.readMeshFile(file, meshUnit)
	if err != nil {
		return FoundZones{}, err
	}
	s, err := mesh.NewSurface(m)
	if err != nil {
		return FoundZones{}, named(file, err)
	}
	sharp, tol := unit.Rad(sharpDeg*math.Pi/180), unit.MM(boreTolMM)
	out := FoundZones{Features: body.FindFeatures(s.While(w), sharp, tol, unit.MM(wallMM)), Bores: []FoundBore{}, mesh: m}
	for _, b := range out.Features.Bores {
		out.Bores = append(out.Bores, FoundBore{b.ID, b.At, b.Axis, float64(b.Radius), float64(b.Std)})
	}
	if meshUnit == "" {
		meshUnit = "m" // only GLB needs no saying, and it is in metres
	}
	draft, err := out.Features.Draft(seenAs, meshUnit, sharp, tol, share)
	if err != nil {
		return FoundZones{}, err
	}
	out.draft, out.Zones = draft, []DraftZone{}
	for _, z := range draft.Zones {
		d := DraftZone{ID: z.ID, Name: z.Name, At: []geom.Vec{}}
		for _, step := range draft.Steps {
			if step.Zone == z.ID {
				d.At = append(d.At, step.From...)
			}
		}
		out.Zones = append(out.Zones, d)
	}
	if len(draft.Zones) == 1 && draft.Rest != "" {
		return out, nil // no region is large enough: nothing to draft
	}
	out.Draft = inDegrees(body.EncodeZoneRecipe(draft))
	return out, nil
}

// inDegrees writes the angles of a recipe in degrees.
func inDegrees(recipe []byte) []byte {
	return angleText.ReplaceAllFunc(recipe, func(text []byte) []byte {
		m := angleText.FindSubmatch(text)
		rad, err := strconv.ParseFloat(string(m[2]), 64)
		if err != nil {
			return text
		}
		return fmt.Appendf(nil, "%s: %g deg", m[1], math.Round(rad*180/math.Pi*1e9)/1e9)
	})
}

var angleText = regexp.MustCompile(`(sharp|spread): ([0-9.e-]+) rad`)

// axesText is a point or direction with so many decimals; what rounds to nothing has no
// sign.
func axesText(p geom.Vec, decimals int) string {
	unit := math.Pow10(decimals)
	for k := range p {
		p[k] = math.Round(p[k]*unit)/unit + 0
	}
	return fmt.Sprintf("%.*f, %.*f, %.*f", decimals, p[0], decimals, p[1], decimals, p[2])
}

// byWalls says that the zones of the draft are walls, ribs and flanges, since regions
// between sharp edges say little.
func (f FoundZones) byWalls() bool {
	return slices.ContainsFunc(f.draft.Steps, func(s body.ZoneStep) bool { return s.Do == body.ZoneFill })
}

// zonesText is the regions, where they are the zones of the draft; else these, and of
// the regions how many there are. With most at or above their number all are listed.
func (f FoundZones) zonesText(b *strings.Builder, col Column, most int) {
	regions := fmt.Sprintf("%s between sharp edges, %.1f cm2 in all", unit.Count(len(f.Regions), "region"), f.AreaMM2/100)
	listed := len(f.Regions)
	if f.byWalls() {
		fmt.Fprintf(b, "%s in the draft: walls, ribs and flanges, because most edges are rounded\n", unit.Count(len(f.Zones), "zone"))
		for _, z := range f.Zones {
			fmt.Fprintf(b, "  %s: %s, at %s\n", z.ID, z.Name, axesText(z.At[0], 1))
		}
		text := fmt.Sprintf("%s, the largest %.0f %% of it: no zones by themselves", regions, 100*f.Regions[0].AreaMM2/f.AreaMM2)
		if most < listed {
			b.WriteString(col.How.Hint(text, job.Give(job.GiveAll)) + "\n")
			return
		}
		b.WriteString(text + "\n")
	} else {
		fmt.Fprintf(b, "%s\n", regions)
	}
	for i, r := range f.Regions {
		if i == most {
			fmt.Fprintf(b, "  %s\n", col.How.Hint(fmt.Sprintf("and %d more regions", listed-most), job.Give(job.GiveAll)))
			return
		}
		fmt.Fprintf(b, "  %d: %.1f cm2, %d triangles, at %s\n", i+1, r.AreaMM2/100, r.Faces, axesText(r.At, 1))
	}
}

// Text is what was found for a terminal; longer lists are cut off.
func (f FoundZones) Text(col Column, most int) string {
	var b strings.Builder
	f.zonesText(&b, col, most)
	more := func(i, n int, what string) bool {
		if i == most && n > most {
			fmt.Fprintf(&b, "  and %d more %s\n", n-most, what)
		}
		return i >= most
	}
	fmt.Fprintf(&b, "%s\n", unit.Count(len(f.Bores), "hole"))
	for i, h := range f.Bores {
		if more(i, len(f.Bores), "holes") {
			break
		}
		fmt.Fprintf(&b, "  %s: radius %.2f mm at %s, axis %s, standard uncertainty %.2f mm\n", h.ID, h.RadiusMM, axesText(h.At, 1), axesText(h.Axis, 2), h.StdMM)
	}
	fmt.Fprintf(&b, "%s of free edges\n", unit.Count(len(f.FreeEdges), "line"))
	for i, e := range f.FreeEdges {
		if more(i, len(f.FreeEdges), "lines") {
			break
		}
		state := "open"
		if e.Closed {
			state = "closed"
		}
		fmt.Fprintf(&b, "  %.1f mm, %s, at %s\n", e.LengthMM, state, axesText(e.At, 1))
	}
	if f.WallMM == 0 {
		b.WriteString("no thin walls, so no wall ends were looked for\n")
		return b.String()
	}
	fmt.Fprintf(&b, "%s, where walls of %.1f mm nominal thickness end\n", unit.Count(len(f.WallEnds), "wall end"), f.WallMM)
	for i, e := range f.WallEnds {
		if more(i, len(f.WallEnds), "wall ends") {
			break
		}
		fmt.Fprintf(&b, "  %.1f mm long, at most %.1f mm thick, at %s\n", e.LengthMM, e.ThickMM, axesText(e.At, 1))
	}
	return b.String()
}

// MadeZones is a mesh with zones and the lines for the body document.
type MadeZones struct {
	PLY  []byte
	YAML []byte
	Mesh string // the mesh file it was made from
	made body.ZonedMesh
}

// zonesMadeHead begins the lines for the body, so that they are known again.
const zonesMadeHead = "# Made by fettle, from the zone recipe"

// IsMadeZones says that a document is lines for the body that were made here.
func IsMadeZones(data []byte) bool { return bytes.HasPrefix(data, []byte(zonesMadeHead)) }

// castingLines is what the body document says of a casting's mesh.
type castingLines struct {
	Mesh     string      `doc:"mesh"`
	MeshUnit string      `doc:"mesh_unit"`
	Zones    []body.Zone `doc:"zones"`
	Bores    []body.Bore `doc:"bores"`
}

// MakeZones applies a recipe; meshName is what the mesh will be called. May says why
// nothing may be written beside the mesh that the recipe names, before work is done.
func (a *App) MakeZones(ctx context.Context, recipe, meshName string, may func(meshFile string) error) (MadeZones, error) {
	return computing(ctx, a, func(w *halt.Work) (MadeZones, error) { return a.makeZones(w, recipe, meshName, may) })
}

func (a *App) makeZones(w *halt.Work, recipe, meshName string, may func(meshFile string) error) (MadeZones, error) {
	data, err := a.read("", recipe, aDocument, "check the path")
	if err != nil {
		return MadeZones{}, err
	}
	r, err := body.DecodeZoneRecipe(recipe, data)
	if err != nil {
		return MadeZones{}, err
	}
	m, file, meshData, err := a.meshOfRecipe(r, recipe)
	if err != nil {
		return MadeZones{}, err
	}
	if err := may(file); err != nil {
		return MadeZones{}, err
	}
	made, err := r.ApplyWhile(w, m)
	if err != nil {
		return MadeZones{}, err
	}
	lines := castingLines{Mesh: meshName, MeshUnit: "mm", Bores: made.Bores}
	for _, z := range made.Zones {
		lines.Zones = append(lines.Zones, z.Zone)
	}
	head := fmt.Sprintf(zonesMadeHead+" %s (SHA-256 %s)\n# and %s (SHA-256 %s).\n# These lines belong to the casting in body.yaml.\n",
		path.Base(recipe), digest(data), path.Base(file), digest(meshData))
	return MadeZones{Mesh: file, PLY: format.WritePLY(made.Mesh), YAML: append([]byte(head), doc.EncodeYAML(lines)...), made: made}, nil
}

// meshOfRecipe is the mesh that a recipe names. A recipe may come from anybody: a mesh in
// its folder is read beneath that folder; of one that lies elsewhere and cannot be read as a
// mesh nothing is told.
func (a *App) meshOfRecipe(r *body.ZoneRecipe, recipe string) (*mesh.Mesh, string, []byte, error) {
	file, dir, name := r.Mesh, path.Dir(recipe), r.Mesh
	inside := !path.IsAbs(file) && fs.ValidPath(path.Clean(file))
	if !path.IsAbs(file) {
		file = path.Join(dir, file)
	}
	if !inside {
		dir, name = "", file
	}
	if err := meshNamed(file, recipe); err != nil {
		return nil, "", nil, err
	}
	data, err := a.read(dir, path.Clean(name), aMesh, "correct 'mesh' in "+recipe)
	if err != nil {
		return nil, "", nil, err
	}
	m, _, err := format.ReadMesh(path.Base(file), data, r.MeshUnit)
	switch {
	case err != nil && inside:
		return nil, "", nil, named(file, err)
	case err != nil:
		return nil, "", nil, &diag.Error{Kind: diag.Denied, Op: "read", Subject: file, Msg: "cannot be read as a mesh; as it does not lie beside the recipe nothing of it is told", Hint: "correct 'mesh' in " + recipe + ", or see what is wrong with the mesh", Remedy: diag.Do(mesh.ToDescribe, "file", file)}
	}
	return m, file, data, nil
}

func digest(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:8])
}

// Picture draws the zones.
func (z MadeZones) Picture() ([]byte, error) {
	var zones []body.Zone
	for _, m := range z.made.Zones {
		zones = append(zones, m.Zone)
	}
	return report.ZonesDrawing(z.made.Mesh, zones, body.Axes{})
}

// String is the zones for a terminal.
func (z MadeZones) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d triangles, %s, %s\n", len(z.made.Mesh.Faces), unit.Count(len(z.made.Zones), "zone"), unit.Count(len(z.made.Bores), "hole"))
	for _, m := range z.made.Zones {
		fmt.Fprintf(&b, "  %s (%d) %s: %.1f cm2, %d triangles, %s\n", m.ID, m.Label, m.Name, m.AreaMM2/100, m.Faces, unit.Count(m.Pieces, "piece"))
	}
	return b.String()
}
