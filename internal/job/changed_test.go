package job

import (
	"strings"
	"testing"

	"fettle/internal/doc"
)

// An item on a line of its own is replaced and nothing else; any other way of writing it is
// refused (constructed).
func TestReplaceItem(t *testing.T) {
	h := Hazard{Kind: "airbag", Text: "torn", Cleared: true, By: "T3"}
	want := "# a\nhazards: # two\n  - {kind: eyes, text: x}\n  # b\n  - " + doc.FlowItem(h) + "\nareas:\n  - {area: A}\n"
	got, err := doc.ReplaceItem([]byte("# a\nhazards: # two\n  - {kind: eyes, text: x}\n  # b\n  - {kind: airbag, text: torn}\nareas:\n  - {area: A}\n"), "hazards", 1, h)
	if err == nil && string(got) != want {
		t.Errorf("%s", got)
	}
	if err != nil && !strings.Contains(err.Error(), "by hand") {
		t.Error(err)
	}
	for _, text := range []string{"hazards: [{kind: airbag, text: torn}]\n", "hazards:\n  - kind: airbag\n    text: torn\n", "hazards:\n  - {kind: airbag, text: torn} # why\n", "areas:\n  - {area: A}\n", "hazards:\n  - {kind: airbag,\n     text: torn}\n", "hazards:\nareas:\n  - {area: A}\n"} {
		if got, err := doc.ReplaceItem([]byte(text), "hazards", 0, h); err == nil {
			t.Errorf("%q becomes %q", text, got)
		}
	}
	if got, err := doc.ReplaceItem([]byte("hazards:\n  - {kind: airbag, text: torn}\r\nareas: []\n"), "hazards", 0, h); err != nil || !strings.HasPrefix(string(got), "hazards:\n  - "+doc.FlowItem(h)+"\r\n") {
		t.Errorf("%q %v", got, err)
	}
}
