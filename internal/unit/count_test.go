package unit

import "testing"

func TestCount(t *testing.T) {
	for want, c := range map[string]struct {
		n    int
		noun string
	}{"1 row": {1, "row"}, "0 rows": {0, "row"}, "2 bodies": {2, "body"}, "3 bays": {3, "bay"}, "1 body": {1, "body"}, "2 queries": {2, "query"}, "-1 rows": {-1, "row"}} {
		if got := Count(c.n, c.noun); got != want {
			t.Errorf("Count(%d, %q) is %q, want %q", c.n, c.noun, got, want)
		}
	}
}

// Pieces are counted when they are whole; other units keep the text.
func TestPieces(t *testing.T) {
	for want, c := range map[string]struct {
		text string
		v    float64
		of   string
	}{"64 pieces": {"64.0", 64, "piece"}, "1 piece": {"1.0", 1, "piece"}, "1.5 piece": {"1.5", 1.5, "piece"}, "65.6 ml": {"65.6", 65.6, "ml"},
		"9007199254740992 pieces": {"x", 1 << 53, "piece"}, "x piece": {"x", 1<<53 + 2, "piece"}, "-1 pieces": {"x", -1, "piece"}, "3 ml": {"3", 3, "ml"}} {
		if got := Pieces(c.text, c.v, c.of); got != want {
			t.Errorf("Pieces(%q, %g, %q) is %q, want %q", c.text, c.v, c.of, got, want)
		}
	}
}
