package report

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// pointsPerMM is a point of print: 1/72 inch, which is 25.4 mm.
const pointsPerMM = 72 / 25.4

// least is how small letters on paper may be [points]. 8 is common practice for print that is
// read at arm's length; no source.
const least = 8.0

// TestLettersAreLargeEnough: no style of any document has letters of less than 8 points, and none
// of a drawing across a page less than that when the drawing of 1200 units has the width of an A4
// page without its margins (186 mm). The first page that has much to say is made smaller as a
// whole; that is written out here.
func TestLettersAreLargeEnough(t *testing.T) {
	inPoints, inUnits := regexp.MustCompile(`([^{}]*)\{[^{}]*font(?:-size)?: (?:\d+ )?([\d.]+)pt`), regexp.MustCompile(`([^{}]*)\{[^{}]*font-size: ([\d.]+)px`)
	for _, name := range []string{"report.css", "sheets.css", "owner.css", "lengths.css", "expose.css", "drawing.css"} {
		css, err := pages.ReadFile("page/" + name)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range inPoints.FindAllStringSubmatch(string(css), -1) {
			if v, _ := strconv.ParseFloat(m[2], 64); v < least {
				t.Errorf("%s: %s has letters of %v points", name, strings.TrimSpace(m[1]), v)
			}
		}
		for _, m := range inUnits.FindAllStringSubmatch(string(css), -1) {
			v, _ := strconv.ParseFloat(m[2], 64)
			if printed := v / chartWidth * 186 * pointsPerMM; printed < least {
				t.Errorf("%s: %s has letters of %.1f points on paper", name, strings.TrimSpace(m[1]), printed)
			}
		}
		for _, m := range regexp.MustCompile(`zoom: ([\d.]+)`).FindAllStringSubmatch(string(css), -1) {
			if name != "report.css" || m[1] != "0.92" {
				t.Errorf("%s makes letters smaller, by %s", name, m[1])
			}
		}
	}
	css, _ := pages.ReadFile("page/drawing.css")
	for what, c := range map[string]struct{ letters, width, mm float64 }{ // mm: as wide as the drawing stands on paper
		"a view across a page":     {lettersAcross, viewWidth + 2*sideRoom, 186},
		"close-up beside figures":  {lettersBeside, float64(closeBeside.w) + 2*closeUpRoom, 56},
		"view on the first page":   {lettersBeside, frontWide + 2*closeUpRoom, 66},
		"a section line of two":    {lettersBeside, lineViewWidth + 2*closeUpRoom, (186 - 6) / 2},
		"close-up on a day sheet":  {lettersBeside, float64(closeBeside.w) + 2*closeUpRoom, 64},
		"casting on a day sheet":   {lettersBeside, frontWide + 2*closeUpRoom, 64},
		"map close up without bar": {lettersAcross, float64(closeBeside.w), 56},
	} {
		if printed := c.letters / c.width * c.mm * pointsPerMM; printed < least-0.05 {
			t.Errorf("%s: letters of %.2f points on paper", what, printed)
		}
		if size := fmt.Sprintf("font-size: %vpx", c.letters); !strings.Contains(string(css), size) {
			t.Errorf("%s: drawing.css has no %s", what, size)
		}
	}
}
