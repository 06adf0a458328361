package format

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"fettle/internal/geom"
	"fettle/internal/mesh"
)

// MeshAxes is how the axes of a mesh file lie.
type MeshAxes string

// Axes a mesh file can be in.
const (
	// AxesAsFile keeps the coordinates as the file has them.
	AxesAsFile MeshAxes = "file"
	// AxesYUp says that the file has Y up, its front towards +Z and its left
	// towards +X, as glTF 2.0 fixes it; the mesh is turned to X rearward, Y to
	// the right, Z up.
	AxesYUp MeshAxes = "y-up"
)

// fromYUp turns Y up, front +Z, left +X into X rearward, Y right, Z up: a
// rotation of a third of a turn, exact.
func fromYUp(p geom.Vec) geom.Vec { return geom.Vec{-p[2], -p[0], p[1]} }

// toYUp is the way back.
func toYUp(p geom.Vec) geom.Vec { return geom.Vec{-p[1], p[2], -p[0]} }

// WriteGLB is the mesh as a binary glTF 2.0 file for a viewer: metres, Y up
// (the mesh's X rearward, Y right, Z up turned as the specification asks),
// positions as float32, indices as uint32. Every label is one primitive with
// the label in its extras as "zone"; faces of one label keep their order. A
// mesh without labels is one primitive. The mesh must pass Check.
func WriteGLB(m *mesh.Mesh) ([]byte, error) {
	if err := m.Check(); err != nil {
		return nil, err
	}
	groups := labelGroups(m)
	size := 12*len(m.Points) + 12*len(m.Faces)
	if int64(size)+int64(len(groups))*400+4096 > math.MaxUint32 {
		return nil, badMesh("glb", "", "the mesh is too large for one GLB file", "reduce the mesh")
	}
	text, err := json.Marshal(describeGLB(m, groups))
	if err != nil {
		return nil, err
	}
	for len(text)%4 != 0 {
		text = append(text, ' ')
	}
	out := make([]byte, 0, 28+len(text)+size)
	out = putUint32(out, glbMagic)
	out = putUint32(out, 2)
	out = putUint32(out, uint32(28+len(text)+size))
	out = putUint32(out, uint32(len(text)))
	out = putUint32(out, glbJSON)
	out = append(out, text...)
	out = putUint32(out, uint32(size))
	out = putUint32(out, glbBIN)
	for _, p := range m.Points {
		for _, v := range toYUp(p) {
			out = putFloat32(out, v/1000)
		}
	}
	for _, g := range groups {
		for _, f := range g.faces {
			for _, v := range m.Faces[f] {
				out = putUint32(out, uint32(v))
			}
		}
	}
	return out, nil
}

type labelGroup struct {
	label int32
	faces []int32
}

// labelGroups are the faces of each label, labels ascending.
func labelGroups(m *mesh.Mesh) []labelGroup {
	if m.Label == nil {
		all := make([]int32, len(m.Faces))
		for f := range all {
			all[f] = int32(f)
		}
		return []labelGroup{{0, all}}
	}
	labels := slices.Compact(slices.Sorted(slices.Values(m.Label)))
	out := make([]labelGroup, len(labels))
	for i, l := range labels {
		out[i].label = l
	}
	for f, l := range m.Label {
		i, _ := slices.BinarySearch(labels, l)
		out[i].faces = append(out[i].faces, int32(f))
	}
	return out
}

type obj = map[string]any

// describeGLB is the JSON chunk; encoding/json writes keys in order.
func describeGLB(m *mesh.Mesh, groups []labelGroup) obj {
	var lo, hi [3]float32
	for i, p := range m.Points {
		for k, v := range toYUp(p) {
			f := float32(v / 1000)
			if i == 0 {
				lo[k], hi[k] = f, f
			}
			lo[k], hi[k] = min(lo[k], f), max(hi[k], f)
		}
	}
	at := 12 * len(m.Points)
	accessors := []obj{{"bufferView": 0, "componentType": 5126, "count": len(m.Points), "type": "VEC3", "min": lo, "max": hi}}
	views := []obj{{"buffer": 0, "byteOffset": 0, "byteLength": at, "target": 34962}}
	var prims []obj
	for i, g := range groups {
		n := 3 * len(g.faces)
		views = append(views, obj{"buffer": 0, "byteOffset": at, "byteLength": 4 * n, "target": 34963})
		accessors = append(accessors, obj{"bufferView": i + 1, "componentType": 5125, "count": n, "type": "SCALAR"})
		p := obj{"attributes": obj{"POSITION": 0}, "indices": i + 1, "mode": 4}
		if m.Label != nil {
			p["extras"] = obj{"zone": g.label}
		}
		prims = append(prims, p)
		at += 4 * n
	}
	return obj{
		"asset":       obj{"version": "2.0", "generator": "fettle"},
		"scene":       0,
		"scenes":      []obj{{"nodes": []int{0}}},
		"nodes":       []obj{{"mesh": 0, "name": "casting"}},
		"meshes":      []obj{{"primitives": prims, "name": fmt.Sprintf("%d triangles", len(m.Faces))}},
		"accessors":   accessors,
		"bufferViews": views,
		"buffers":     []obj{{"byteLength": at}},
	}
}
