package plan

import (
	"os"
	"runtime/debug"
	"testing"
)

// TestMain collects garbage less often: thousands of small plans are made and thrown away, and a quarter
// of the processor time of these tests went into collecting.
func TestMain(m *testing.M) {
	debug.SetGCPercent(800)
	os.Exit(m.Run())
}
