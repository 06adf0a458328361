package release

import (
	"slices"
	"strings"
	"testing"

	"fettle/internal/diag"
)

// entries is what would show what is missing.
func entries(in *Input) []Wanted { return Gate{Missing: Release(*in), in: *in}.asked() }

// A note that blocks closes the gate whatever its code, whatever it is about and however it
// says that it blocks: only the two milder severities do not.
func TestEveryBlockingNoteBlocks(t *testing.T) {
	w, in := repaired()
	if missing := missingTexts(w, in); missing != "" {
		t.Fatalf("the job is not ready before:\n%s", missing)
	}
	for _, code := range []string{"", "x", "later.unheard-of", "measure.unheard-of", "plan.unheard-of", "decide.accepted-without-reason", "format.seams"} {
		for _, where := range []string{"", "F1", "job", "nowhere"} {
			for severity := diag.Severity(-2); severity < 6; severity++ {
				note := diag.Note{Code: code, Severity: severity, Where: where, Text: "unheard of", Hint: "find out", Source: "CP 99"}
				_, in := repaired()
				in.Notes = []diag.Note{note}
				text := missingTexts(w, in)
				milder := slices.Contains([]diag.Severity{diag.Info, diag.Caution}, severity)
				if milder != (text == "") || !milder && !strings.Contains(text, where+": unheard of") {
					t.Errorf("%+v: missing %q", note, text)
				}
			}
		}
	}
}
