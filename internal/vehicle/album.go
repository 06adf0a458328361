package vehicle

import (
	"fmt"
	"slices"
	"sync"

	"fettle/internal/halt"
	"fettle/internal/mesh"
	"fettle/internal/picture"
)

// Album keeps what the pictures of a body's castings are drawn over: the shaded
// casting seen from a side, and which face is seen in every pixel. Documents about
// the jobs of the body, made one after another or at once, are drawn over the same.
// The zero value is ready, and nil keeps nothing.
type Album struct {
	work *halt.Work // what drawing is part of
	of   *sheets    // kept for all works; nil: own
	own  sheets
}

// sheets is what an album keeps.
type sheets struct {
	mu    sync.Mutex
	kept  []sheet // the one asked for last is the last
	bytes int
	spare []*picture.Pixels
}

// while is the album for pictures that are part of some work: when that is stopped, no more
// are drawn.
func (a *Album) while(w *halt.Work) *Album { return &Album{work: w, of: a.sheets()} }

// sheets is nil where nothing is kept.
func (a *Album) sheets() *sheets {
	switch {
	case a == nil:
		return nil
	case a.of != nil:
		return a.of
	}
	return &a.own
}

// mostAlbumBytes bounds what is kept: a casting's views and the close-ups of some
// ten jobs.
const mostAlbumBytes = 64 << 20

// sheet is one view of a mesh. Nobody changes it.
type sheet struct {
	key  sheetKey
	seen *picture.DepthMap
	uri  string // the shaded picture; empty where only what is seen was asked for
}

// sheetKey is what a sheet shows: of is the mesh, or what it was made from, and
// zones how its labels are hatched.
type sheetKey struct {
	of     *mesh.Mesh
	c      picture.Camera
	zones  string
	shaded bool
}

func (s sheet) bytes() int { return len(s.uri) + s.seen.Bytes() }

// Seen is what is seen of a mesh in every pixel.
func (a *Album) Seen(m *mesh.Mesh, c picture.Camera) *picture.DepthMap {
	s, _ := a.sheet(sheetKey{of: m, c: c}, func(px *picture.Pixels) (string, *picture.DepthMap, error) { return "", px.Seen(m, c), nil })
	return s.seen
}

// Picture draws a surface with twice the pixels each way and halves it.
func (a *Album) Picture(s *mesh.Surface, c picture.Camera, zoneOf map[int32]int) (uri string, seen *picture.DepthMap, err error) {
	return a.drawn(s.Mesh(), s.Mesh(), s, c, zoneOf)
}

// MeshPicture is Picture of a mesh of which there is no surface. Of is what it is known by.
func (a *Album) MeshPicture(of, m *mesh.Mesh, c picture.Camera, zoneOf map[int32]int) (uri string, seen *picture.DepthMap, err error) {
	return a.drawn(of, m, nil, c, zoneOf)
}

func (a *Album) drawn(of, m *mesh.Mesh, tree *mesh.Surface, c picture.Camera, zoneOf map[int32]int) (uri string, seen *picture.DepthMap, err error) {
	fine := c.Times(2)
	s, err := a.sheet(sheetKey{of, fine, fmt.Sprint(zoneOf), true}, func(px *picture.Pixels) (string, *picture.DepthMap, error) {
		return px.Draw(m, tree, fine, zoneOf)
	})
	return s.uri, s.seen, err
}

func (a *Album) sheet(k sheetKey, draw func(*picture.Pixels) (string, *picture.DepthMap, error)) (sheet, error) {
	k.c.Name = ""
	var work *halt.Work
	if a != nil {
		work = a.work
	}
	work.Step()
	all := a.sheets()
	if s, ok := all.find(k); ok {
		return s, nil
	}
	px := all.take()
	px.Work = work
	uri, seen, err := draw(px)
	if err != nil {
		return sheet{}, err
	}
	s := sheet{k, seen, uri}
	all.keep(s, px)
	return s, nil
}

// Bytes is the memory that what is kept takes.
func (a *Album) Bytes() int {
	all := a.sheets()
	all.mu.Lock()
	defer all.mu.Unlock()
	return all.bytes
}

func (a *sheets) find(k sheetKey) (sheet, bool) {
	if a == nil {
		return sheet{}, false
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	i := slices.IndexFunc(a.kept, func(s sheet) bool { return s.key == k })
	if i < 0 {
		return sheet{}, false
	}
	s := a.kept[i]
	a.kept = append(slices.Delete(a.kept, i, i+1), s)
	return s, true
}

// take is room to draw in.
func (a *sheets) take() *picture.Pixels {
	if a != nil {
		a.mu.Lock()
		defer a.mu.Unlock()
		if n := len(a.spare); n > 0 {
			px := a.spare[n-1]
			a.spare = a.spare[:n-1]
			return px
		}
	}
	return &picture.Pixels{}
}

// keep keeps a sheet, and the room it was drawn in for the next one.
func (a *sheets) keep(s sheet, px *picture.Pixels) {
	if a == nil {
		return
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	if px.Work = nil; len(a.spare) == 0 {
		a.spare = append(a.spare, px)
	}
	if slices.ContainsFunc(a.kept, func(o sheet) bool { return o.key == s.key }) {
		return // drawn by somebody else meanwhile
	}
	a.kept, a.bytes = append(a.kept, s), a.bytes+s.bytes()
	for a.bytes > mostAlbumBytes {
		a.bytes -= a.kept[0].bytes()
		a.kept = slices.Delete(a.kept, 0, 1)
	}
}
