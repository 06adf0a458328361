//go:build noheic

package photo

import (
	"strings"
	"testing"

	"fettle/internal/diag"
)

// A program that was built without the decoder says so, and what to do.
func TestHEICIsRefusedPlainly(t *testing.T) {
	_, err := New(Usual).Look(t.Context(), fixture(t, "colour.heic"))
	if diag.KindOf(err) != diag.Unsupported || !strings.Contains(err.Error(), "without what reads it; set the phone's camera to save JPEG") {
		t.Error(err)
	}
}
