package format

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"

	"fettle/internal/diag"
)

// A GLB file is a 12-byte header, a JSON chunk that describes a scene, and a
// chunk of numbers. Only what makes the surface is read: the nodes of the
// scene with their placing, and the positions and indices of triangles. Files
// that need anything else to be right (compressed numbers, numbers outside the
// file, skins, sparse accessors) are refused by name.
//
// Source: Khronos Group, glTF 2.0 specification (ISO/IEC 12113:2022), sections
// 3 and 4.4.

const (
	glbMagic    = 0x46546c67 // "glTF"
	glbJSON     = 0x4e4f534a
	glbBIN      = 0x004e4942
	glbMaxItems = 1 << 14 // nodes, meshes, primitives, accessors and views each
	glbMaxJSON  = 64 << 20
)

type gltfNode struct {
	Children    []int     `json:"children"`
	Mesh        *int      `json:"mesh"`
	Skin        *int      `json:"skin"`
	Matrix      []float64 `json:"matrix"`
	Translation []float64 `json:"translation"`
	Rotation    []float64 `json:"rotation"`
	Scale       []float64 `json:"scale"`
}

type gltfMesh struct {
	Primitives json.RawMessage `json:"primitives"`
}

type gltfPrimitive struct {
	Attributes struct {
		Position *int `json:"POSITION"`
	} `json:"attributes"`
	Indices *int            `json:"indices"`
	Mode    *int            `json:"mode"`
	Targets json.RawMessage `json:"targets"`
	Extras  json.RawMessage `json:"extras"`
}

type gltfAccessor struct {
	BufferView    *int            `json:"bufferView"`
	ByteOffset    int64           `json:"byteOffset"`
	ComponentType int             `json:"componentType"`
	Normalized    bool            `json:"normalized"`
	Count         int64           `json:"count"`
	Type          string          `json:"type"`
	Sparse        json.RawMessage `json:"sparse"`
}

type gltfView struct {
	Buffer     int   `json:"buffer"`
	ByteOffset int64 `json:"byteOffset"`
	ByteLength int64 `json:"byteLength"`
	ByteStride int64 `json:"byteStride"`
}

type gltfBuffer struct {
	URI        *string `json:"uri"`
	ByteLength int64   `json:"byteLength"`
}

type gltfScene struct {
	Nodes []int `json:"nodes"`
}

// gltfRoot keeps the lists unread, so that each is counted before it is kept.
type gltfRoot struct {
	Asset struct {
		Version    string `json:"version"`
		MinVersion string `json:"minVersion"`
	} `json:"asset"`
	Required    []string        `json:"extensionsRequired"`
	Scene       *int            `json:"scene"`
	Scenes      json.RawMessage `json:"scenes"`
	Nodes       json.RawMessage `json:"nodes"`
	Meshes      json.RawMessage `json:"meshes"`
	Accessors   json.RawMessage `json:"accessors"`
	BufferViews json.RawMessage `json:"bufferViews"`
	Buffers     json.RawMessage `json:"buffers"`
}

// glbFile is the description, decoded, and the numbers.
type glbFile struct {
	name      string
	size      int // of the whole file
	bin       []byte
	root      gltfRoot
	scenes    []gltfScene
	nodes     []gltfNode
	meshes    [][]gltfPrimitive
	accessors []gltfAccessor
	views     []gltfView
}

func isGLB(data []byte) bool { return bytes.HasPrefix(data, []byte("glTF")) }

// openGLB takes the container apart and decodes the description.
func openGLB(name string, data []byte) (*glbFile, error) {
	text, bin, err := glbChunks(name, data)
	if err != nil {
		return nil, err
	}
	g := &glbFile{name: name, size: len(data), bin: bin}
	if err := json.Unmarshal(text, &g.root); err != nil {
		return nil, badMesh(name, "JSON chunk", shorten(err.Error()), "export the scene again")
	}
	if err := g.checkVersion(); err != nil {
		return nil, err
	}
	if g.scenes, err = gltfList[gltfScene](name, "scenes", g.root.Scenes); err != nil {
		return nil, err
	}
	if g.nodes, err = gltfList[gltfNode](name, "nodes", g.root.Nodes); err != nil {
		return nil, err
	}
	if g.accessors, err = gltfList[gltfAccessor](name, "accessors", g.root.Accessors); err != nil {
		return nil, err
	}
	if g.views, err = gltfList[gltfView](name, "bufferViews", g.root.BufferViews); err != nil {
		return nil, err
	}
	if err := g.readMeshes(); err != nil {
		return nil, err
	}
	return g, g.checkBuffers()
}

// glbChunks checks the container and gives its two chunks. Chunks of other
// kinds are passed over, as the specification asks.
func glbChunks(name string, data []byte) (text, bin []byte, err error) {
	if len(data) < 20 {
		return nil, nil, badMesh(name, atByte(len(data)), "the file is shorter than a GLB header", "the file is cut off: copy or export it again")
	}
	if v := binary.LittleEndian.Uint32(data[4:]); v != 2 {
		return nil, nil, &diag.Error{Kind: diag.Unsupported, Op: "format.ReadMesh", Subject: name,
			Msg: fmt.Sprintf("byte 4: GLB version %d is not read", v), Hint: "export as glTF 2.0 binary"}
	}
	if n := binary.LittleEndian.Uint32(data[8:]); int64(n) != int64(len(data)) {
		return nil, nil, badMesh(name, atByte(8), fmt.Sprintf("the header promises %d bytes, but the file has %d", n, len(data)),
			"the file is cut off or has a tail: copy or export it again")
	}
	for at := 12; at < len(data); {
		if len(data)-at < 8 {
			return nil, nil, badMesh(name, atByte(at), "a chunk header is cut off", "copy or export the file again")
		}
		n, kind := int64(binary.LittleEndian.Uint32(data[at:])), binary.LittleEndian.Uint32(data[at+4:])
		if n > int64(len(data)-at-8) {
			return nil, nil, badMesh(name, atByte(at), fmt.Sprintf("a chunk promises %d bytes, but %d follow", n, len(data)-at-8),
				"the file is cut off: copy or export it again")
		}
		body := data[at+8 : at+8+int(n)]
		switch {
		case at == 12 && kind != glbJSON:
			return nil, nil, badMesh(name, atByte(at+4), "the first chunk is not JSON", "export the file again")
		case at == 12 && n > glbMaxJSON:
			return nil, nil, badMesh(name, atByte(at), fmt.Sprintf("the description has %d bytes; %d are read at most", n, glbMaxJSON), "export the part alone")
		case at == 12:
			text = body
		case kind == glbBIN && bin == nil:
			bin = body
		}
		at += 8 + int(n)
	}
	return text, bin, nil
}

func (g *glbFile) unsupported(msg, hint string) error {
	return &diag.Error{Kind: diag.Unsupported, Op: "format.ReadMesh", Subject: g.name, Msg: msg, Hint: hint}
}

func (g *glbFile) checkVersion() error {
	if v := g.root.Asset.Version; len(v) < 2 || v[:2] != "2." {
		return badMesh(g.name, "asset", fmt.Sprintf("version %q is not 2.x", shorten(v)), "export as glTF 2.0 binary")
	}
	if v := g.root.Asset.MinVersion; v != "" && v != "2.0" {
		return g.unsupported(fmt.Sprintf("the file needs glTF %q", shorten(v)), "export as glTF 2.0 binary")
	}
	if len(g.root.Required) > 0 {
		return g.unsupported(fmt.Sprintf("the file needs extension %q", shorten(g.root.Required[0])), "export without compression and quantisation")
	}
	return nil
}

// gltfList decodes a list, element by element, up to the limit.
func gltfList[T any](name, what string, raw json.RawMessage) ([]T, error) {
	if len(raw) == 0 {
		return nil, nil
	}
	dec := json.NewDecoder(bytes.NewReader(raw))
	if t, err := dec.Token(); err != nil || t != json.Delim('[') {
		return nil, badMesh(name, what, "is not a list", "export the scene again")
	}
	var out []T
	for dec.More() {
		if len(out) == glbMaxItems {
			return nil, badMesh(name, what, fmt.Sprintf("more than %d entries", glbMaxItems), "export the part alone")
		}
		var v T
		if err := dec.Decode(&v); err != nil {
			return nil, badMesh(name, fmt.Sprintf("%s[%d]", what, len(out)), shorten(err.Error()), "export the scene again")
		}
		out = append(out, v)
	}
	if _, err := dec.Token(); err != nil && err != io.EOF {
		return nil, badMesh(name, what, "is not a list", "export the scene again")
	}
	return out, nil
}

// readMeshes decodes the primitives; all meshes share one limit.
func (g *glbFile) readMeshes() error {
	list, err := gltfList[gltfMesh](g.name, "meshes", g.root.Meshes)
	if err != nil {
		return err
	}
	total := 0
	for i, m := range list {
		prims, err := gltfList[gltfPrimitive](g.name, fmt.Sprintf("meshes[%d].primitives", i), m.Primitives)
		if err != nil {
			return err
		}
		if total += len(prims); total > glbMaxItems {
			return badMesh(g.name, "meshes", fmt.Sprintf("more than %d primitives", glbMaxItems), "export the part alone")
		}
		g.meshes = append(g.meshes, prims)
	}
	return nil
}

// checkBuffers allows one buffer, the one in the file.
func (g *glbFile) checkBuffers() error {
	buffers, err := gltfList[gltfBuffer](g.name, "buffers", g.root.Buffers)
	if err != nil {
		return err
	}
	for i, b := range buffers {
		if b.URI != nil {
			return g.unsupported(fmt.Sprintf("buffers[%d] lies outside the file", i), "export as one binary file")
		}
		if i > 0 {
			return badMesh(g.name, fmt.Sprintf("buffers[%d]", i), "only the first buffer can lie in the file", "export as one binary file")
		}
		if b.ByteLength < 0 || b.ByteLength > int64(len(g.bin)) {
			return badMesh(g.name, "buffers[0]", fmt.Sprintf("promises %d bytes, but the chunk has %d", b.ByteLength, len(g.bin)),
				"the file is cut off: copy or export it again")
		}
		g.bin = g.bin[:b.ByteLength]
	}
	if len(buffers) == 0 {
		g.bin = nil
	}
	return nil
}
