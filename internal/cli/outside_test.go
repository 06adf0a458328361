//go:build outside

package cli

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// Tests against things outside the project: 'make test' installs them.

// TestOutsideSciPyRecomputesTheFit has SciPy adjust the demonstration's
// readings anew and compare every pose and shift.
func TestOutsideSciPyRecomputesTheFit(t *testing.T) {
	script, err := filepath.Abs("../measure/testdata/refit.py")
	if err != nil {
		t.Fatal(err)
	}
	dir := demoFolder(t)
	for job, std := range map[string][]string{ // the set-ups' uncertainty is in job.yaml
		"job": {"--std", "A=0.5", "--std", "B=0.5", "--std", "TRAM=0.7"}, "sound-job": {"--std", "A=0.3"}} {
		code, out, stderr := run(t, dir, "assess", "fettle-demo/"+job, "--on", "2026-11-26", "--json")
		if code != Done && code != Blocked {
			t.Fatal(stderr)
		}
		if err := os.WriteFile("assess.json", []byte(out), 0o644); err != nil {
			t.Fatal(err)
		}
		args := append([]string{script, "fettle-demo/body/points.csv", "fettle-demo/" + job + "/readings.csv", "assess.json",
			"--temperature", "22.6,0.8,20,19,0.6"}, std...) // as in body.yaml and job.yaml
		printed, err := exec.Command("/usr/bin/python3", args...).CombinedOutput()
		if err != nil {
			t.Errorf("%s: %v\n%s", job, err, printed)
		}
	}
}

// TestOutsideReportPrints has Chromium print the report on A4 and on Letter and
// reads the pages back: each says which page of how many it is, none is empty,
// and the seven answers are on the first.
func TestOutsideReportPrints(t *testing.T) {
	dir := demoFolder(t)
	t.Chdir(dir)
	page, err := os.ReadFile("fettle-demo/job/result/report.html")
	if err != nil {
		t.Fatal(err)
	}
	for _, paper := range []string{"A4", "letter"} {
		t.Run(paper, func(t *testing.T) {
			html := strings.Replace(string(page), "</head>", "<style>@page { size: "+paper+" }</style></head>", 1)
			for i, text := range printed(t, dir, html) {
				m := regexp.MustCompile(`page (\d+) of (\d+)`).FindStringSubmatch(text)
				if m == nil {
					t.Fatalf("page %d does not say which page of how many it is:\n%s", i+1, text)
				}
				if len(strings.Fields(text)) < 25 {
					t.Errorf("page %d is nearly empty:\n%s", i+1, text)
				}
				if i == 0 {
					for _, want := range []string{"INVENTED", "Has the structure moved?", "Is the casting sound?", "Which route is best?", "Did it work, and may it be handed back?", "Still open", "Sections 1 to 7 answer"} {
						if !strings.Contains(text, want) {
							t.Errorf("%q is not on the first page:\n%s", want, text)
						}
					}
				}
			}
		})
	}
}

// TestOutsideCardsFitTheirSheets has Chromium lay out the step cards of the best
// route and of one that waits: no card is higher than the half or whole sheet it
// was given (130 and 262 mm, page/cards.css), nothing stands out of its side, no
// line is cut, and on A4 and on Letter no card is split.
func TestOutsideCardsFitTheirSheets(t *testing.T) {
	dir := demoFolder(t)
	t.Chdir(dir)
	all := "" // the routes one after another, so that the browser is started once for each paper
	routes := []string{"new-casting", "section-S-2", "weld"}
	for _, route := range routes {
		if code, _, stderr := run(t, dir, "plan", "fettle-demo/job", "--on", "2026-11-26", "--route", route, "--cards", "cards.html"); code != Done {
			t.Fatal(stderr)
		}
		page, err := os.ReadFile("cards.html")
		if err != nil {
			t.Fatal(err)
		}
		if all == "" {
			all = string(page)
			continue
		}
		_, body, ok := strings.Cut(string(page), "<body>")
		if !ok {
			t.Fatal("the cards have no <body>")
		}
		all = strings.Replace(all, "</body>", `<div style="break-before: page"></div>`+strings.Replace(body, "</body></html>", "", 1)+"</body>", 1)
	}
	checkCards(t, dir, all)
	for _, paper := range []string{"A4", "letter"} {
		html := strings.Replace(all, "</head>", "<style>@page { size: "+paper+" }</style></head>", 1)
		checkSheets(t, paper, printed(t, dir, html), len(routes))
	}
}

// measureCards is run in the page: it writes the height of every card in
// millimetres with the height it was given, and what stands out of it.
const measureCards = `<pre id="measured"></pre><script>
const mm = 96 / 25.4; let out = "";
for (const c of document.querySelectorAll(".card")) {
  const b = c.getBoundingClientRect(); let bad = "";
  for (const e of c.querySelectorAll("*")) {
    if (e.closest("svg")) continue;
    const r = e.getBoundingClientRect();
    if (r.right > b.right + 1 || r.bottom > b.bottom + 1 || e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 0) bad += " " + e.tagName + ":" + e.textContent.slice(0, 20).replace(/\s+/g, "_");
  }
  out += "CARD " + c.querySelector(".no").textContent.replace(/\s+/g, "_") + " " + (c.classList.contains("tall") ? 262 : 130) + " " + (b.height / mm).toFixed(1) + bad + "\n";
}
document.getElementById("measured").textContent = out;
</script>`

func checkCards(t *testing.T, dir, page string) {
	t.Helper()
	in := filepath.Join(dir, "measure.html")
	if err := os.WriteFile(in, []byte(strings.Replace(page, "</body>", measureCards+"</body>", 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
		"--disable-background-networking", "--disable-component-update", "--disable-sync", "--user-data-dir="+t.TempDir(), "--dump-dom", "file://"+in).Output()
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, m := range regexp.MustCompile(`CARD (\S+) (\d+) ([\d.]+)(.*)`).FindAllStringSubmatch(string(out), -1) {
		n++
		given, err1 := strconv.ParseFloat(m[2], 64)
		high, err2 := strconv.ParseFloat(m[3], 64)
		if err1 != nil || err2 != nil || high > given+0.5 || m[4] != "" {
			t.Errorf("card %s is %s mm high of %s; out of it:%s", m[1], m[3], m[2], m[4])
		}
	}
	if want := strings.Count(page, `<section class="card`); n != want || n < 10 {
		t.Errorf("%d cards measured of %d", n, want)
	}
}

// checkSheets says that every card that begins on a sheet ends on it: each has
// one "Done" or, those that come first, none; each route has a title sheet.
func checkSheets(t *testing.T, paper string, sheets []string, routes int) {
	t.Helper()
	heads, done := regexp.MustCompile(`\d+ of \d+`), regexp.MustCompile(`(?m)\bDone\s*$`)
	titles := 0
	more := regexp.MustCompile(`sheet \d+ of \d+`) // of one card
	for i, text := range sheets {
		text = more.ReplaceAllString(text, "sheet ")
		h, d := len(heads.FindAllString(text, -1)), len(done.FindAllString(text, -1))
		if strings.Contains(text, "Released for work") {
			titles++
			continue
		}
		if strings.Contains(text, "Ready?") || strings.Contains(text, "Read before anyone starts") {
			continue
		}
		if h != d && !strings.Contains(text, "sheet ") || h > 2 || h == 0 {
			t.Errorf("%s, sheet %d: %d cards begin and %d end\n%s", paper, i+1, h, d, text)
		}
	}
	if titles != routes {
		t.Errorf("%s: %d title sheets for %d routes", paper, titles, routes)
	}
}

// printed prints a page and is the text of each sheet.
func printed(t *testing.T, dir, html string) []string {
	t.Helper()
	in, out := filepath.Join(dir, "print.html"), filepath.Join(dir, "print.pdf")
	if err := os.WriteFile(in, []byte(html), 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
		"--disable-background-networking", "--disable-component-update", "--disable-sync", "--user-data-dir="+t.TempDir(),
		"--no-pdf-header-footer", "--print-to-pdf="+out, "file://"+in)
	if msg, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, msg)
	}
	text, err := exec.Command("pdftotext", "-layout", out, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(strings.TrimSuffix(string(text), "\f"), "\f")
}
