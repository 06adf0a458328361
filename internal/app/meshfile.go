package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path"
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/format"
	"fettle/internal/geom"
	"fettle/internal/halt"
	"fettle/internal/mesh"
	"fettle/internal/unit"
)

// MeshResult describes a mesh file and its faults.
type MeshResult struct {
	File             string        `json:"file"`
	Points           int           `json:"points"`
	Triangles        int           `json:"triangles"`
	Pieces           int           `json:"pieces"` // that share no edge
	Min              geom.Vec      `json:"minMm"`
	Max              geom.Vec      `json:"maxMm"`
	AreaMM2          float64       `json:"areaMm2"`
	Closed           bool          `json:"closed"`    // encloses a volume with one agreed outside
	VolumeMM3        *float64      `json:"volumeMm3"` // none when not closed
	Cavities         int           `json:"cavities"`  // closed voids within the metal
	Holes            int           `json:"holes"`     // lines of free edges
	OpenEdges        int           `json:"openEdges"`
	Seams            int           `json:"seams"`   // narrow openings between free edges that face each other
	SeamsMM          float64       `json:"seamsMm"` // their length
	SeamPlaces       []MeshSeam    `json:"seamPlaces"`
	TJoints          int           `json:"tJoints"`     // corners within an edge of another side
	GapsLeftOut      bool          `json:"gapsLeftOut"` // too many free edges lie near one another to look at all
	NonManifoldEdges int           `json:"nonManifoldEdges"`
	FlippedEdges     int           `json:"flippedEdges"`
	DegenerateFaces  int           `json:"degenerateFaces"`
	SelfContacts     int           `json:"selfContacts"`    // pairs of triangles that cross, touch or lie on one another
	ContactsLeftOut  bool          `json:"contactsLeftOut"` // too many triangles lie near one another to look at all
	ContactPlaces    []MeshContact `json:"contactPlaces"`
	Zones            []MeshZone    `json:"zones"`
	Notes            []diag.Note   `json:"notes"`
}

// MeshContact is one place where the surface meets itself.
type MeshContact struct {
	Triangles [2]int32 `json:"triangles"`
	At        geom.Vec `json:"atMm"`
}

// MeshSeam is a narrow opening.
type MeshSeam struct {
	At       geom.Vec `json:"atMm"` // where it is widest
	LengthMM float64  `json:"lengthMm"`
	LeastMM  float64  `json:"leastMm"` // across
	WidestMM float64  `json:"widestMm"`
	TJoints  int      `json:"tJoints"`
}

// seamsShown is how many seams are listed, the longest first.
const seamsShown = 10

// MeshZone is what carries one zone number.
type MeshZone struct {
	ID        int32   `json:"id"`
	Triangles int     `json:"triangles"`
	AreaMM2   float64 `json:"areaMm2"`
}

// contactsShown is how many places of self-contact are listed.
const contactsShown = 10

// MeshFile describes a mesh file and its faults.
func (a *App) MeshFile(ctx context.Context, file, lengthUnit string) (MeshResult, error) {
	return computing(ctx, a, func(w *halt.Work) (MeshResult, error) { return a.meshFile(w, file, lengthUnit) })
}

func (a *App) meshFile(w *halt.Work, file, lengthUnit string) (MeshResult, error) {
	m, notes, err := a.readMeshFile(file, lengthUnit)
	if err != nil {
		return MeshResult{}, err
	}
	s, err := mesh.NewSurface(m)
	if err != nil {
		return MeshResult{}, named(file, err)
	}
	s = s.While(w)
	f := m.Faults()
	lo, hi := m.Bounds()
	out := MeshResult{File: file, Points: len(m.Points), Triangles: len(m.Faces), Pieces: f.Components, Min: lo, Max: hi,
		AreaMM2: m.AreaMM2(), Closed: f.Closed(), OpenEdges: f.OpenEdges, NonManifoldEdges: f.NonManifoldEdges,
		FlippedEdges: f.FlippedEdges, DegenerateFaces: f.DegenerateFaces, Zones: labelAreas(m), ContactPlaces: []MeshContact{}, Notes: notes}
	if out.Closed && m.SidesDoubt() == "" { // else a note says why
		v := m.VolumeMM3()
		out.VolumeMM3, out.Cavities = &v, m.Cavities()
	}
	w.Step()
	out.take(s.Gaps())
	for _, r := range s.Rims(math.Pi, 0) {
		if r.Free {
			out.Holes++
		}
	}
	list, n, whole := s.Contacts(contactsShown)
	out.ContactsLeftOut = !whole
	out.SelfContacts = n
	for _, c := range list {
		out.ContactPlaces = append(out.ContactPlaces, MeshContact{c.Faces, c.At})
	}
	if n > 0 && whole {
		out.Notes = append(out.Notes, diag.Say("mesh.self-contact", "{pairs} of triangles cross, touch or lie on one another: inside and outside, and distances there, cannot be trusted", diag.Counted(n, "pair")).Note(diag.Note{Severity: diag.Caution, Where: file, Hint: "repair the mesh there"}))
	}
	if !whole {
		out.Notes = append(out.Notes, diag.Say("mesh.contacts-not-all", "too many triangles lie upon one another to look at all pairs: at least {pairs} of triangles meet: inside and outside, and distances there, cannot be trusted", diag.Counted(n, "pair")).Note(diag.Note{Severity: diag.Caution, Where: file, Hint: "take out triangles that are there more than once, or repair the mesh"}))
	}
	if out.Notes == nil {
		out.Notes = []diag.Note{}
	}
	return out, nil
}

// take takes in what is known of narrow openings.
func (r *MeshResult) take(g mesh.Gaps) {
	r.Seams, r.SeamsMM, r.TJoints, r.GapsLeftOut = len(g.Seams), g.LengthMM(), len(g.TJoints), !g.Whole
	r.SeamPlaces = seamPlaces(g.Seams[:min(seamsShown, len(g.Seams))])
}

func seamPlaces(seams []mesh.Seam) []MeshSeam {
	out := []MeshSeam{}
	for _, s := range seams {
		out = append(out, MeshSeam{s.At, s.LengthMM, s.LeastMM, s.WidestMM, s.TJoints})
	}
	return out
}

// String is the seam for a terminal.
func (s MeshSeam) String() string {
	return fmt.Sprintf("seam %.2f mm long, %s, widest at %.2f, %.2f, %.2f%s", s.LengthMM, acrossText(s.LeastMM, s.WidestMM), s.At[0], s.At[1], s.At[2],
		map[bool]string{true: fmt.Sprintf(", %s", unit.Count(s.TJoints, "T-joint"))}[s.TJoints > 0])
}

// acrossText is how wide something is.
func acrossText(least, widest float64) string {
	a, b := unit.MM(least).Short(), unit.MM(widest).ShortUp()
	if a == b || unit.MM(least).ShortUp() == b {
		return b + " wide"
	}
	return strings.TrimSuffix(a, " mm") + " to " + b + " wide"
}

// MeshGLB is the mesh for a viewer, its zones kept.
func (a *App) MeshGLB(ctx context.Context, file, lengthUnit string) ([]byte, error) {
	return while(ctx, func(*halt.Work) ([]byte, error) {
		m, _, err := a.readMeshFile(file, lengthUnit)
		if err != nil {
			return nil, err
		}
		return format.WriteGLB(m)
	})
}

// String is the mesh for a terminal.
func (r MeshResult) Text(col Column) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %d points, %d triangles, %s\n", r.File, r.Points, r.Triangles, unit.Count(r.Pieces, "piece"))
	fmt.Fprintf(&b, "from %.2f, %.2f, %.2f to %.2f, %.2f, %.2f mm\n", r.Min[0], r.Min[1], r.Min[2], r.Max[0], r.Max[1], r.Max[2])
	fmt.Fprintf(&b, "surface %.1f cm2", r.AreaMM2/100)
	if r.VolumeMM3 != nil {
		fmt.Fprintf(&b, ", volume %.2f cm3, closed", *r.VolumeMM3/1000)
		if r.Cavities > 0 {
			fmt.Fprintf(&b, ", %s within the metal", unit.Count(r.Cavities, "void"))
		}
		b.WriteString("\n")
	} else {
		b.WriteString(map[bool]string{true: ", closed, but it does not say where its metal is: no volume\n", false: ", not closed: no volume\n"}[r.Closed])
	}
	fmt.Fprintf(&b, "faults: %s with %s, %s of three or more triangles, %s, %s without area, %s%s\n",
		unit.Count(r.Holes, "hole"), unit.Count(r.OpenEdges, "open edge"), unit.Count(r.NonManifoldEdges, "edge"), unit.Count(r.FlippedEdges, "flipped edge"),
		unit.Count(r.DegenerateFaces, "triangle"), map[bool]string{true: "at least "}[r.ContactsLeftOut], unit.Count(r.SelfContacts, "self-contact"))
	for _, c := range r.ContactPlaces {
		fmt.Fprintf(&b, "  triangles %d and %d meet at %.2f, %.2f, %.2f\n", c.Triangles[0], c.Triangles[1], c.At[0], c.At[1], c.At[2])
	}
	for _, p := range r.SeamPlaces {
		fmt.Fprintf(&b, "  %s\n", p)
	}
	if n := r.Seams - len(r.SeamPlaces); n > 0 {
		fmt.Fprintf(&b, "  and %s more, all together %.2f mm long\n", unit.Count(n, "seam"), r.SeamsMM)
	}
	for _, z := range r.Zones {
		fmt.Fprintf(&b, "zone %d: %d triangles, %.1f cm2\n", z.ID, z.Triangles, z.AreaMM2/100)
	}
	for _, n := range r.Notes {
		b.WriteString(col.Wrap(fmt.Sprintf("%s: %s", n.Severity, n.Text), "", "  "))
	}
	return b.String()
}

// labelAreas is the faces and area of each label, in order of label.
func labelAreas(m *mesh.Mesh) []MeshZone {
	at := map[int32]*MeshZone{}
	for f, l := range m.Label {
		if at[l] == nil {
			at[l] = &MeshZone{ID: l}
		}
		at[l].Triangles++
		at[l].AreaMM2 += m.FaceAreaMM2(f)
	}
	out := []MeshZone{}
	for _, z := range at {
		out = append(out, *z)
	}
	slices.SortFunc(out, func(a, b MeshZone) int { return int(a.ID) - int(b.ID) })
	return out
}

func (a *App) readMeshFile(file, lengthUnit string) (*mesh.Mesh, []diag.Note, error) {
	data, err := a.read("", file, aMesh, "check the path")
	if err != nil {
		return nil, nil, err
	}
	m, notes, err := format.ReadMesh(path.Base(file), data, lengthUnit)
	if err != nil {
		return nil, nil, named(file, err)
	}
	return m, notes, nil
}

// named gives an error the name of the file, unless it has one: what a mesh
// says of itself names only "mesh" or "surface".
func named(file string, err error) error {
	var e *diag.Error
	if !errors.As(err, &e) {
		return &diag.Error{Kind: diag.Invalid, Op: "read", Subject: file, Msg: err.Error()}
	}
	if e.Subject == "mesh" || e.Subject == "surface" {
		c := *e
		c.Subject = file
		return &c
	}
	return err
}
