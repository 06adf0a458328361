package body

import "testing"

// What a row asks to be inspected afterwards is told with all that it says. Constructed.
func TestAfterInWords(t *testing.T) {
	for _, c := range []struct {
		a    After
		want string
	}{
		{After{Method: ShowPenetrant}, "penetrant"},
		{After{Method: ShowPenetrant, When: "after dressing"}, "penetrant after dressing"},
		{After{Method: ShowPenetrant, What: "both faces"}, "penetrant, both faces"},
		{After{Method: ShowPenetrant, What: "both faces", When: "after dressing"}, "penetrant, both faces, after dressing"},
		{After{Method: ShowVisual, What: "no undercut"}, "look: no undercut"},
		{After{Method: ShowVisual, When: "cold"}, "visual cold"},
		{After{Method: ShowVisual, What: "no undercut", When: "cold"}, "look: no undercut, cold"},
		{After{Method: ShowDimensions}, "control points measured again"},
	} {
		if got := c.a.String(); got != c.want {
			t.Errorf("%+v is %q, want %q", c.a, got, c.want)
		}
	}
}

// What a treatment puts right when the body does not say so: a weld joins what is parted and
// straightens nothing (common practice, no source); what the body says goes before.
func TestTreatmentsCure(t *testing.T) {
	kinds := []string{Crack, Break, Bend, Dent, Torn}
	for _, c := range []struct {
		t               Treatment
		casting, nowise string // those of crack, break, bend, dent, torn that it cures, on a casting and elsewhere
	}{
		{Treatment{Kind: Weld}, "yynny", "yynnn"}, {Treatment{Kind: WeldBacking}, "yynny", "yynnn"},
		{Treatment{Kind: Dress}, "ynnyn", "ynnyn"}, {Treatment{Kind: Leave}, "nnnnn", "nnnnn"},
		{Treatment{Kind: SectionOff}, "yyyyy", "yyyyy"}, {Treatment{Kind: Exchange}, "yyyyy", "yyyyy"},
		{Treatment{Kind: Leave, Cures: []string{Dent}}, "nnnyn", "nnnyn"}, {Treatment{Kind: Weld, Cures: []string{Bend}}, "nnynn", "nnynn"},
	} {
		for i, k := range kinds {
			for on, want := range map[bool]string{true: c.casting, false: c.nowise} {
				if got := c.t.Cure(k, on); got != (want[i] == 'y') {
					t.Errorf("%s %v cures a %s (on a casting: %v): %v", c.t.Kind, c.t.Cures, k, on, got)
				}
			}
		}
	}
}
