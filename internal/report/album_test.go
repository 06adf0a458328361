package report

import (
	"sync"
	"testing"

	"fettle/internal/geom"
)

// Documents that share an album, one after another and at once, are those that
// are made without one; and it stays within its bound.
func TestSharedAlbumDrawsTheSame(t *testing.T) {
	in := fixture(t)
	in.Album = &Album{}
	want, err := HTML(in)
	if err != nil {
		t.Fatal(err)
	}
	in.Album = &Album{}
	var done sync.WaitGroup
	for range 2 {
		done.Go(func() {
			if got, err := HTML(in); err != nil || string(got) != string(want) {
				t.Errorf("another document with a shared album (%v)", err)
			}
		})
	}
	done.Wait()
	if len(in.Album.kept) == 0 || in.Album.bytes > mostAlbumBytes {
		t.Errorf("%d sheets of %d bytes", len(in.Album.kept), in.Album.bytes)
	}
	sum := 0
	for _, s := range in.Album.kept {
		sum += s.bytes()
	}
	if sum != in.Album.bytes {
		t.Errorf("%d bytes are counted, %d are kept", in.Album.bytes, sum)
	}
}

// An album that is full lets go of what was asked for longest ago.
func TestAlbumIsBounded(t *testing.T) {
	m := boxMesh()
	above := standardViews(frame{geom.Vec{1, 0, 0}, geom.Vec{0, 1, 0}, geom.Vec{0, 0, 1}})[0].Around(m.Points, 10, 420, 420)
	a := &Album{}
	first := a.seen(m, above)
	one := a.bytes
	a.bytes = mostAlbumBytes - one // as if it were nearly full
	side := above
	side.Left -= 1
	second := a.seen(m, side)
	if a.seen(m, side) != second {
		t.Error("the sheet asked for last was let go")
	}
	side.Left -= 1
	a.seen(m, side)
	if len(a.kept) > 2 || a.seen(m, above) == first {
		t.Errorf("%d sheets are kept, and the oldest is still there", len(a.kept))
	}
}
