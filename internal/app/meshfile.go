package app

import (
	"errors"
	"fmt"
	"path"
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/format"
	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// MeshText describes a mesh file and its faults.
func (a *App) MeshText(file, unit string) (string, error) {
	m, notes, err := a.readMeshFile(file, unit)
	if err != nil {
		return "", err
	}
	f := m.Faults()
	lo, hi := m.Bounds()
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %d points, %d triangles, %d piece(s)\n", file, len(m.Points), len(m.Faces), f.Components)
	fmt.Fprintf(&b, "from %.2f, %.2f, %.2f to %.2f, %.2f, %.2f mm\n", lo[0], lo[1], lo[2], hi[0], hi[1], hi[2])
	fmt.Fprintf(&b, "surface %.1f cm2", m.AreaMM2()/100)
	if f.Closed() {
		fmt.Fprintf(&b, ", volume %.2f cm3, closed\n", m.VolumeMM3()/1000)
	} else {
		b.WriteString(", not closed: no volume\n")
	}
	for _, l := range labelAreas(m) {
		fmt.Fprintf(&b, "zone %d: %d triangles\n", l.label, l.faces)
	}
	for _, n := range notes {
		b.WriteString(wrap(fmt.Sprintf("%s: %s", n.Severity, n.Text), "", "  ", 96))
	}
	return b.String(), nil
}

type labelCount struct {
	label int32
	faces int
}

// labelAreas counts the faces of each label, in order of label.
func labelAreas(m *mesh.Mesh) []labelCount {
	var out []labelCount
	count := map[int32]int{}
	for _, l := range m.Label {
		count[l]++
	}
	for l := range count {
		out = append(out, labelCount{l, count[l]})
	}
	slices.SortFunc(out, func(a, b labelCount) int { return int(a.label) - int(b.label) })
	return out
}

// CutResult is a plane cut; its JSON names are a contract.
type CutResult struct {
	Loops        [][]geom.Vec `json:"loops"`
	Closed       bool         `json:"closed"`
	LengthMM     float64      `json:"lengthMm"`
	FacesCrossed int          `json:"facesCrossed"`
	Sides        [2]CutSide   `json:"sides"` // the one with n·x < d first
}

// CutSide is what lies on one side of the cut.
type CutSide struct {
	AreaMM2   float64 `json:"areaMm2"`   // without the cut face
	VolumeMM3 float64 `json:"volumeMm3"` // closed by it; 0 when the cut does not close
}

// CutFile cuts a mesh file by the plane n·x = d.
func (a *App) CutFile(file, unit string, n geom.Vec, d float64) (CutResult, error) {
	m, _, err := a.readMeshFile(file, unit)
	if err != nil {
		return CutResult{}, err
	}
	c, err := m.Cut(n, d)
	if err != nil {
		return CutResult{}, err
	}
	out := CutResult{Loops: [][]geom.Vec{}, Closed: c.Closed, LengthMM: c.LengthMM, FacesCrossed: c.FacesCrossed}
	for _, l := range c.Loops {
		out.Loops = append(out.Loops, l.Points)
	}
	closed := m.Faults().Closed() && (c.Closed || c.FacesCrossed == 0)
	for i, s := range c.Sides {
		out.Sides[i].AreaMM2 = s.AreaMM2
		if closed {
			out.Sides[i].VolumeMM3 = s.VolumeMM3
		}
	}
	return out, nil
}

// String is the cut for a terminal.
func (c CutResult) String() string {
	state := "closed"
	if !c.Closed {
		state = "not closed: it does not prove two pieces"
	}
	return fmt.Sprintf("%d loop(s), %s; length %.3f mm over %d triangles\nside n·x < d: surface %.1f mm2, volume %.1f mm3\nside n·x > d: surface %.1f mm2, volume %.1f mm3\n",
		len(c.Loops), state, c.LengthMM, c.FacesCrossed, c.Sides[0].AreaMM2, c.Sides[0].VolumeMM3, c.Sides[1].AreaMM2, c.Sides[1].VolumeMM3)
}

func (a *App) readMeshFile(file, unit string) (*mesh.Mesh, []diag.Note, error) {
	data, err := a.files.Read(file)
	if err != nil {
		return nil, nil, notRead(file, err, "check the path")
	}
	m, notes, err := format.ReadMesh(path.Base(file), data, unit)
	if err != nil {
		var e *diag.Error
		if !errors.As(err, &e) {
			err = &diag.Error{Kind: diag.Invalid, Op: "read", Subject: file, Msg: err.Error()}
		}
		return nil, nil, err
	}
	return m, notes, nil
}
