package app

import (
	"context"
	"fmt"
	"path"
	"strconv"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/halt"
	"fettle/internal/mesh"
	"fettle/internal/report"
	"fettle/internal/unit"
)

// CutOptions say where a mesh is cut: by planes, or along a curve.
type CutOptions struct {
	Unit   string
	Planes []CutPlane
	Window *[2]geom.Vec // corners of a box: planes cut only inside it
	Along  []geom.Vec   // points round the part, near its surface [mm]
	Outer  geom.Vec     // with Along: a point of the second side
}

// CutPlane is n·x = d.
type CutPlane struct {
	Normal   geom.Vec
	OffsetMM float64
}

// CutResult is a cut; its JSON names are a contract.
type CutResult struct {
	Loops        [][]geom.Vec `json:"loops"`
	Closed       bool         `json:"closed"`
	LengthMM     float64      `json:"lengthMm"`
	FacesCrossed int          `json:"facesCrossed"`
	// Sides: the one with n·x < d first. Of several planes, the second is where
	// n·x >= d of all; along a curve, the one asked for.
	Sides [2]CutSide `json:"sides"`
	// Divides says that the cut is proven to part the surface in two: closed
	// loops, and one piece on each side. Reasons says why not.
	Divides      bool     `json:"divides"`
	Reasons      []string `json:"reasons"`
	VolumesExact bool     `json:"volumesExact"` // the cut faces are known
	// VolumesWithinMM3 is how far volumes that are not exact may be off;
	// VolumeDoubt says why none are given.
	VolumesWithinMM3 float64 `json:"volumesWithinMm3"`
	VolumeDoubt      string  `json:"volumeDoubt,omitempty"`
	OffMM            float64 `json:"offMm"` // of the farthest point of a curve from the surface
	section          mesh.Section
	along, several   bool // a curve, several planes
	volumes          bool // those of the sides are known
}

// CutSide is what lies on one side of the cut.
type CutSide struct {
	AreaMM2   float64 `json:"areaMm2"`   // without the cut face
	VolumeMM3 float64 `json:"volumeMm3"` // closed by it; 0 when the cut does not close
}

// cutSnap is how near a corner of a triangle may lie to the cut and still
// count as on it, as a share of the size of the mesh.
const cutSnap = 1e-9

// CutFile cuts a mesh file.
func (a *App) CutFile(ctx context.Context, file string, o CutOptions) (CutResult, error) {
	return computing(ctx, a, func(w *halt.Work) (CutResult, error) { return a.cutFile(w, file, o) })
}

func (a *App) cutFile(w *halt.Work, file string, o CutOptions) (CutResult, error) {
	m, _, err := a.readMeshFile(file, o.Unit)
	if err != nil {
		return CutResult{}, err
	}
	lo, hi := m.Bounds()
	snap := lo.Dist(hi) * cutSnap
	out := CutResult{Loops: [][]geom.Vec{}, along: len(o.Along) > 0, several: len(o.Planes) > 1}
	if len(o.Along) > 0 {
		out.section, out.OffMM, err = m.SectionAlong(o.Along, o.Outer, snap)
	} else {
		var planes []mesh.Plane
		for _, p := range o.Planes {
			planes = append(planes, mesh.Plane(p))
		}
		out.section, err = m.SectionWhile(w, planes, o.window(), snap)
	}
	if err != nil {
		return CutResult{}, named(file, err)
	}
	out.take()
	if len(o.Planes) == 1 && o.Window == nil {
		if err := out.plain(m, o.Planes[0]); err != nil {
			return CutResult{}, named(file, err)
		}
	}
	return out, nil
}

// window is the box with its corners sorted.
func (o CutOptions) window() *mesh.Window {
	if o.Window == nil {
		return nil
	}
	w := &mesh.Window{}
	for k := range 3 {
		w.Lo[k], w.Hi[k] = min(o.Window[0][k], o.Window[1][k]), max(o.Window[0][k], o.Window[1][k])
	}
	return w
}

// cutting is the cut that draws a section line on its casting's mesh. The second side is what
// is taken off.
func cutting(l body.Line, c body.Casting, dir string) *diag.Remedy {
	with := []string{"file", path.Join(dir, c.Mesh), "unit", string(c.MeshUnit)}
	if len(l.Curve) > 0 {
		along := make([]string, len(l.Curve))
		for i, p := range l.Curve {
			along[i] = numbers(p[:]...)
		}
		with = append(with, "along", strings.Join(along, "; "), "outer", numbers(l.TakenOff[:]...))
	}
	for _, p := range l.Cuts() {
		with = append(with, "plane", numbers(-p.Normal[0], -p.Normal[1], -p.Normal[2], -float64(p.Offset)))
	}
	if w := l.Within; len(l.Curve) == 0 && !w.Unlimited() {
		with = append(with, "window", numbers(w.Min[:]...)+"; "+numbers(w.Max[:]...))
	}
	return diag.Do(mesh.ToCut, append(with, "picture", string(l.ID)+".svg")...)
}

// numbers are written one after the other with all their digits; minus zero is
// zero.
func numbers(v ...float64) string {
	s := make([]string, len(v))
	for i, x := range v {
		s[i] = strconv.FormatFloat(x+0, 'g', -1, 64)
	}
	return strings.Join(s, ",")
}

// take fills in the result from the section.
func (c *CutResult) take() {
	s := &c.section
	c.Divides, c.Reasons, c.VolumesExact, c.LengthMM = s.Divides, s.Reasons, s.VolumesExact, s.LengthMM
	c.VolumesWithinMM3, c.VolumeDoubt, c.volumes = s.VolumesWithinMM3, s.VolumeDoubt, s.Divides && s.VolumeDoubt == ""
	if c.Reasons == nil {
		c.Reasons = []string{}
	}
	c.Closed = len(s.Loops) > 0
	for _, l := range s.Loops {
		c.Loops = append(c.Loops, l.Points)
		c.Closed = c.Closed && l.Closed
	}
	c.FacesCrossed = s.FacesCrossed
	for i, p := range [2]mesh.Piece{s.Rest, s.Outer} {
		c.Sides[i].AreaMM2 = p.AreaMM2
		if s.Divides {
			c.Sides[i].VolumeMM3 = p.VolumeMM3
		}
	}
}

// plain takes the figures of one plane from the plane cut: it puts corners that
// lie on the plane on one side, whatever lies beside them.
func (c *CutResult) plain(m *mesh.Mesh, p CutPlane) error {
	cut, err := m.Cut(p.Normal, p.OffsetMM)
	if err != nil {
		return err
	}
	c.Loops, c.Closed, c.LengthMM, c.FacesCrossed = [][]geom.Vec{}, cut.Closed, cut.LengthMM, cut.FacesCrossed
	for _, l := range cut.Loops {
		c.Loops = append(c.Loops, l.Points)
	}
	closed := m.Faults().Closed() && (cut.Closed || cut.FacesCrossed == 0)
	c.volumes = closed && c.VolumeDoubt == ""
	for i, s := range cut.Sides {
		c.Sides[i] = CutSide{AreaMM2: s.AreaMM2}
		if closed {
			c.Sides[i].VolumeMM3 = s.VolumeMM3
		}
	}
	return nil
}

// Picture draws the cut: the second side hatched, the line thick, and where it
// does not close.
func (c CutResult) Picture() ([]byte, error) {
	return report.SectionDrawing(c.section, body.Axes{})
}

// String is the cut for a terminal.
func (c CutResult) Text(col Column) string {
	var b strings.Builder
	state := "closed"
	if !c.Closed {
		state = "not closed: it does not prove two pieces"
	}
	fmt.Fprintf(&b, "%s, %s; length %.3f mm over %d triangles\n", unit.Count(len(c.Loops), "loop"), state, c.LengthMM, c.FacesCrossed)
	for i, name := range [2]string{"side n·x < d: ", "side n·x > d: "} {
		switch {
		case c.along:
			name = [2]string{"the other side: ", "the side asked for: "}[i]
		case c.several:
			name = [2]string{"the rest: ", "where n·x > d of all planes: "}[i]
		}
		fmt.Fprintf(&b, "%ssurface %.1f mm2", name, c.Sides[i].AreaMM2)
		if c.volumes {
			fmt.Fprintf(&b, ", volume %.1f mm3", c.Sides[i].VolumeMM3)
			if c.VolumesWithinMM3 > 0 {
				fmt.Fprintf(&b, " within %.1f", c.VolumesWithinMM3)
			}
		}
		b.WriteString("\n")
	}
	if c.Divides {
		b.WriteString("divides the part in two\n")
	} else {
		b.WriteString(col.Wrap("does not divide the part in two: "+strings.Join(c.Reasons, "; "), "", "  "))
	}
	switch {
	case !c.Divides:
	case c.VolumeDoubt != "":
		b.WriteString(col.Wrap("no volumes: "+c.VolumeDoubt, "", "  "))
	case !c.VolumesExact:
		b.WriteString("the cut face is not flat: volumes are those up to the smallest face that closes each loop\n")
	}
	return b.String()
}
