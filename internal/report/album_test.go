package report

import (
	"sync"
	"testing"

	"fettle/internal/vehicle"
)

// Documents that share an album, one after another and at once, are those that
// are made without one.
func TestSharedAlbumDrawsTheSame(t *testing.T) {
	in := fixture(t)
	in.Vehicle.Album = &vehicle.Album{}
	want, err := HTML(in)
	if err != nil {
		t.Fatal(err)
	}
	in.Vehicle.Album = &vehicle.Album{}
	var done sync.WaitGroup
	for range 2 {
		done.Go(func() {
			if got, err := HTML(in); err != nil || string(got) != string(want) {
				t.Errorf("another document with a shared album (%v)", err)
			}
		})
	}
	done.Wait()
	if in.Vehicle.Album.Bytes() == 0 {
		t.Error("nothing was kept")
	}
}
