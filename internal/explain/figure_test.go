package explain

import "testing"

// A figure that is asked for with a unit is found under that unit alone; one that is asked for
// without is found under any. Of a row like "1.0 / 2.0 / 3.0 mm" all have the last one's.
func TestUnitsOfAFigureThatIsAsked(t *testing.T) {
	for _, c := range []struct {
		have, asked  string
		same, orNone bool
	}{
		{"mm", "mm", true, true}, {"mm", "", true, true}, {"", "", true, true}, {"mm", "EUR", false, false}, {"", "mm", false, true},
	} {
		if got := sameUnit(c.have, c.asked); got != c.same {
			t.Errorf("sameUnit(%q, %q) is %v", c.have, c.asked, got)
		}
		if got := NoUnit(c.have, c.asked); got != c.orNone {
			t.Errorf("NoUnit(%q, %q) is %v", c.have, c.asked, got)
		}
	}
}
