package report

import (
	"strings"
	"testing"
)

// A picture stands in the page itself with its hash; one that is not shown says
// why. The bytes are made up.
func TestPicturesStandInThePage(t *testing.T) {
	in := fixture(t)
	in.Photos = []Photo{{ID: "E7", File: "photos/a.png", Text: "both <tips>", SHA256: strings.Repeat("ab", 32), Media: "image/png", Data: []byte("data"), Note: "its colours <may> differ", For: []string{"F1", "PT"}},
		{ID: "E8", File: "photos/b.jpg", Text: "bore", SHA256: strings.Repeat("cd", 32), Why: "it has 9 MB"}}
	page, err := HTML(in)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`src="data:image/png;base64,ZGF0YQ=="`, strings.Repeat("ab", 32), "both &lt;tips&gt;", "of F1 and PT", "Not shown: it has 9 MB", `<p class="fine">its colours &lt;may&gt; differ.</p>`} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the page does not have %q", want)
		}
	}
}
