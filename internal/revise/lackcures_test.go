package revise

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"fettle/internal/body"
)

// TestWhatNothingCures: by hand, by what the words for the kinds of treatment mean (routes.md, 5
// and 6): a weld joins what is cracked or broken, and what is torn in a casting; dressing takes off
// cracks and dents, straightening bends and dents; a line is of its casting; what cannot be taken
// out is not changed; a part is changed without a treatment where the body has none of the kind.
func TestWhatNothingCures(t *testing.T) {
	base := func() *body.Body {
		return &body.Body{
			Castings: []body.Casting{{ID: "K", Part: "P-K"}},
			Lines:    []body.Line{{ID: "L", Casting: "OTHER", Treatment: "CUT"}},
			Parts: []body.Part{{ID: "P-K", Kind: body.PartCasting}, {ID: "P-PIECE", Kind: body.PartPiece}, {ID: "P-BOLT", BoltOn: true}, {ID: "P-FIX"}, {ID: "P-FIX2"},
				{ID: "P-CELL", Comes: body.Never}},
			Treatments: []body.Treatment{{ID: "LEAVE", Kind: body.Leave}, {ID: "W", Kind: body.Weld}, {ID: "CUT", Kind: body.SectionOff}},
		}
	}
	add := func(ts ...body.Treatment) func(*body.Body) {
		return func(b *body.Body) { b.Treatments = append(b.Treatments, ts...) }
	}
	for name, c := range map[string]struct {
		change func(*body.Body)
		want   []string
	}{
		"a weld alone":                 {func(*body.Body) {}, []string{"K: bent, dented", "P-CELL: bent, dented, torn"}},
		"a line of the casting":        {func(b *body.Body) { b.Lines[0].Casting = "K" }, []string{"P-CELL: bent, dented, torn"}},
		"a new casting":                {add(body.Treatment{Kind: body.ReplaceCasting}), []string{"P-CELL: bent, dented, torn"}},
		"dressing":                     {add(body.Treatment{Kind: body.Dress}), []string{"K: bent", "P-CELL: bent, torn"}},
		"straightening":                {add(body.Treatment{Kind: body.Straighten}), []string{"P-CELL: torn"}},
		"a plate that cures nothing":   {add(body.Treatment{Kind: body.WeldBacking}), []string{"K: bent, dented", "P-CELL: bent, dented, torn"}},
		"replacing only what is torn":  {add(body.Treatment{Kind: body.ReplacePart, Cures: []body.FindingKind{body.Torn}}), []string{"K: bent, dented", "P-FIX, P-FIX2: bent, dented", "P-CELL: bent, dented, torn"}},
		"exchanging only what is bent": {add(body.Treatment{Kind: body.Exchange, Cures: []body.FindingKind{body.Bend}}), []string{"K: bent, dented", "P-BOLT: dented, torn", "P-CELL: bent, dented, torn"}},
		"nothing at all":               {func(b *body.Body) { b.Treatments = nil }, []string{"K: cracked, broken, bent, dented, torn", "P-CELL: cracked, broken, bent, dented, torn"}},
	} {
		b := base()
		c.change(b)
		l := &lacks{b: b}
		l.cures()
		var got []string
		for _, n := range l.notes {
			states, _, _ := strings.Cut(strings.TrimPrefix(n.Text, "without a treatment that puts right what is "), " there")
			got = append(got, fmt.Sprintf("%s: %s", n.Where, states))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}
