//go:build outside

package cli

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// TestOutsideLengthsPrintOnOnePage has Chromium print the page of lengths to take next, as full as
// it may be and with names and lists as long as they come: it is one sheet of A4 with all of its rows.
func TestOutsideLengthsPrintOnOnePage(t *testing.T) {
	dir := demoFolder(t)
	t.Chdir(dir)
	run(t, dir, "lengths", "fettle-demo/job", "--stage", "after", "--std", "0.3", "--longest", "2600", "--page", "lengths.html")
	page, err := os.ReadFile("lengths.html")
	if err != nil {
		t.Fatal(err)
	}
	if sheets := printed(t, dir, string(page)); len(sheets) != 1 || !strings.Contains(sheets[0], "1522.2") {
		t.Errorf("%d pages", len(sheets))
	}
	row := regexp.MustCompile(`(?s)<tr><td class="no r">22</td>.*?</tr>\n`).FindString(string(page))
	lead := regexp.MustCompile(`<p>Open all the same: .*?</p>`).FindString(string(page))
	if row == "" || lead == "" {
		t.Fatal("the page has no row 22 or no lead")
	}
	full := strings.Replace(string(page), row, row+strings.Replace(row, ">22<", ">23<", 1)+strings.Replace(row, ">22<", ">24<", 1), 1)
	full = strings.ReplaceAll(full, "Door hinge, upper left", strings.Repeat("Door hinge on the left side, the upper one ", 4))
	full = strings.Replace(full, lead, strings.Replace(lead, "</p>", strings.Repeat(" LONG-NAME-OF-A-POINT,", 16)+"</p>", 1), 1)
	sheets := printed(t, dir, full)
	if len(sheets) != 1 || !strings.Contains(sheets[0], "clears neither") {
		t.Errorf("%d pages when full", len(sheets))
	}
}
