package doc

import (
	"strings"
	"testing"
)

// TestReplaceList: the items of one list at the top level are replaced, and nothing else.
func TestReplaceList(t *testing.T) {
	type item struct {
		ID string `doc:"id"`
	}
	items := []item{{"A"}, {"B"}}
	for _, c := range []struct{ text, want string }{
		{"a: 1\nrows:\n  - id: X\n    # of X\n    more: yes\n\n# before b\nb: 2\n", "a: 1\nrows:\n  - {id: A}\n  - {id: B}\n\n# before b\nb: 2\n"},
		{"rows:\n- id: X\n- {id: Y}\nb: 2\n", "rows:\n  - {id: A}\n  - {id: B}\nb: 2\n"},
		{"rows: [{id: X},\n  {id: Y}\n]\nb: 2\n", "rows:\n  - {id: A}\n  - {id: B}\nb: 2\n"},
		{"rows: []\n", "rows:\n  - {id: A}\n  - {id: B}\n"},
		{"rows:\r\n  - id: X\r\nb: 2\r\n", "rows:\r\n  - {id: A}\r\n  - {id: B}\r\nb: 2\r\n"},
		{"\uFEFFrows:\n  - id: X\nrowsize: 2\n", "\uFEFFrows:\n  - {id: A}\n  - {id: B}\nrowsize: 2\n"},
		{"rows:\n  - id: X", "rows:\n  - {id: A}\n  - {id: B}\n"},
	} {
		if got, err := ReplaceList([]byte(c.text), "rows", items); err != nil || string(got) != c.want {
			t.Errorf("%q became %q (%v), want %q", c.text, got, err, c.want)
		}
	}
	if _, err := ReplaceList([]byte("b: 2\n"), "rows", items); err == nil || !strings.Contains(err.Error(), "no such list") {
		t.Errorf("a document without the list: %v", err)
	}
}
