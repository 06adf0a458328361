package store

import (
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/store/storetest"
)

func TestMemory(t *testing.T) {
	storetest.TestStore(t, func(_ *testing.T, now func() time.Time) func() app.Store {
		m := NewMemory(now)
		return func() app.Store { return m }
	})
}

func TestFolder(t *testing.T) {
	storetest.TestStore(t, func(t *testing.T, now func() time.Time) func() app.Store {
		dir := t.TempDir()
		return func() app.Store { return OpenFolder(dir, now) }
	})
}

func TestShopsOfMemory(t *testing.T) {
	storetest.TestShops(t, func(now func() time.Time) storetest.ShopStore { return NewMemory(now) })
}

func TestListsOfMemory(t *testing.T) {
	storetest.TestLists(t, func(_ *testing.T, now func() time.Time) func() storetest.ListStore {
		m := NewMemory(now)
		return func() storetest.ListStore { return m }
	})
}
