package unit

import "testing"

func TestCount(t *testing.T) {
	for want, c := range map[string]struct {
		n    int
		noun string
	}{"1 row": {1, "row"}, "0 rows": {0, "row"}, "2 bodies": {2, "body"}, "3 bays": {3, "bay"}, "1 body": {1, "body"}} {
		if got := Count(c.n, c.noun); got != want {
			t.Errorf("Count(%d, %q) is %q, want %q", c.n, c.noun, got, want)
		}
	}
}
