package store

import (
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/store/storetest"
)

// Two editors of one job in memory and in a folder; the databases have a test of their own.
func TestEditorsOfOneJob(t *testing.T) {
	t.Run("memory", func(t *testing.T) {
		storetest.TestEditors(t, func(_ *testing.T, now func() time.Time) func() app.Store {
			m := NewMemory(now)
			return func() app.Store { return m }
		}, 5, 40)
	})
	t.Run("folder", func(t *testing.T) {
		storetest.TestEditors(t, func(t *testing.T, now func() time.Time) func() app.Store {
			dir := t.TempDir()
			return func() app.Store { return OpenFolder(dir, now) }
		}, 5, 10)
	})
}
