//go:build outside

package cli

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
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
					for _, want := range []string{"INVENTED", "Has the structure moved?", "Is the casting sound?", "Which route is best?", "Did it work, and may it be handed back?", "What to do next", "Sections 1 to 7 answer"} {
						if !strings.Contains(text, want) {
							t.Errorf("%q is not on the first page:\n%s", want, text)
						}
					}
				}
			}
		})
	}
}

// TestOutsideDaySheetsPrint has Chromium lay out the day sheets of the best route and of
// one that waits: nothing stands out of its side, no line is cut, every step is ticked on
// one page alone, and every page of a day has its head and, where the route may not be
// started, says so, on A4 and on Letter.
func TestOutsideDaySheetsPrint(t *testing.T) {
	dir := demoFolder(t)
	t.Chdir(dir)
	for route, papers := range map[string][]string{"new-casting": {"A4", "letter"}, "section-LINE-2": {"A4"}} { // the browser is slow to start
		if code, _, stderr := run(t, dir, "plan", "fettle-demo/job", "--on", "2026-11-26", "--route", route, "--sheets", "sheets.html"); code != Done {
			t.Fatal(stderr)
		}
		page, err := os.ReadFile("sheets.html")
		if err != nil {
			t.Fatal(err)
		}
		checkWidths(t, dir, string(page))
		for _, paper := range papers {
			html := strings.Replace(string(page), "</head>", "<style>@page { size: "+paper+" }</style></head>", 1)
			checkPages(t, route+", "+paper, printed(t, dir, html), string(page))
		}
	}
}

// narrowPage is run in a page in a frame of 390 units, as wide as a telephone: it writes how wide
// the page is.
const narrowPage = `<body><iframe id="f" src="inner.html" style="width: 390px; height: 2000px; border: 0"></iframe><pre id="o"></pre><script>
document.getElementById("f").onload = () => {
  const d = document.getElementById("f").contentDocument.documentElement;
  document.getElementById("o").textContent = "WIDE " + d.scrollWidth + " OF " + d.clientWidth + ".";
};
</script></body>`

// TestOutsidePagesFitANarrowWindow has Chromium lay out every page in a window of 390 units: none
// is wider than it. A table may be, which then moves by itself.
func TestOutsidePagesFitANarrowWindow(t *testing.T) {
	dir := demoFolder(t)
	t.Chdir(dir)
	run(t, dir, "expose", "fettle-demo/job", "--on", "2026-11-26", "--sheet", "look.html")
	run(t, dir, "lengths", "fettle-demo/job", "--stage", "after", "--std", "0.5", "--on", "2026-11-26", "--page", "lengths.html")
	run(t, dir, "ask", "fettle-demo/job", "D8", "--out", "question", "--on", "2026-11-26")
	for _, name := range []string{"fettle-demo/job/result/report.html", "fettle-demo/job/result/owner.html", "fettle-demo/job/result/sheets.html", "look.html", "lengths.html", "question/Q-D8.html"} {
		page, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for file, text := range map[string]string{"inner.html": string(page), "frame.html": narrowPage} {
			if err := os.WriteFile(filepath.Join(dir, file), []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		out, err := exec.Command("chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--allow-file-access-from-files", "--virtual-time-budget=5000",
			"--disable-background-networking", "--disable-component-update", "--disable-sync", "--user-data-dir="+t.TempDir(), "--dump-dom", "file://"+filepath.Join(dir, "frame.html")).Output()
		if err != nil {
			t.Fatal(err)
		}
		m := regexp.MustCompile(`WIDE (\d+) OF (\d+)\.`).FindStringSubmatch(string(out))
		if m == nil || m[1] != m[2] {
			t.Errorf("%s in a window of 390: %v", name, m)
		}
	}
}

// measureSheets is run in the page: it writes what stands out of the side of a sheet.
const measureSheets = `<pre id="measured"></pre><script>
let out = "", n = 0;
for (const c of document.querySelectorAll("section")) {
  const b = c.getBoundingClientRect(); n++;
  for (const e of c.querySelectorAll("*")) {
    if (e.closest("svg")) continue;
    const r = e.getBoundingClientRect();
    if (r.right > b.right + 1 || e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 0) out += "OUT " + e.tagName + ":" + e.textContent.slice(0, 20).replace(/\s+/g, "_") + "\n";
  }
}
document.getElementById("measured").textContent = out + "SECTIONS " + n;
</script>`

func checkWidths(t *testing.T, dir, page string) {
	t.Helper()
	in := filepath.Join(dir, "measure.html")
	if err := os.WriteFile(in, []byte(strings.Replace(page, "</body>", measureSheets+"</body>", 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
		"--disable-background-networking", "--disable-component-update", "--disable-sync", "--user-data-dir="+t.TempDir(), "--dump-dom", "file://"+in).Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range regexp.MustCompile(`(?m)^(?:.*>)?OUT (.*)$`).FindAllStringSubmatch(string(out), -1) {
		t.Errorf("out of its sheet: %s", m[1])
	}
	if want := fmt.Sprintf("SECTIONS %d", strings.Count(page, "<section")); !strings.Contains(string(out), want) {
		t.Errorf("not measured: %s", want)
	}
}

// checkPages looks at the printed pages: every step's identity and times begin one page
// alone for each of its days, and every page after those that come first has the head of
// its day and the foot.
func checkPages(t *testing.T, what string, pages []string, html string) {
	t.Helper()
	first, days := true, 0
	stopped := strings.Contains(html, "<b>DO NOT START</b>")
	for i, text := range pages {
		if strings.Contains(text, "Ready?") {
			first = false
			continue
		}
		if first || strings.Contains(text, "Is here") {
			continue
		}
		days++
		if !regexp.MustCompile(`(?:Mon|Tue|Wed|Thu|Fri) \d+ [A-Z][a-z]+ 20\d\d`).MatchString(text) || !strings.Contains(text, "qualified people decide") {
			t.Errorf("%s, page %d has no head or no foot:\n%s", what, i+1, text)
		}
		if stopped && !strings.Contains(text, "DO NOT START") {
			t.Errorf("%s, page %d does not say not to start:\n%s", what, i+1, text)
		}
	}
	all := strings.Join(pages, "\n")
	for _, m := range regexp.MustCompile(`<b>(ST-\d+)</b><span>`).FindAllStringSubmatch(html, -1) {
		in := strings.Count(html, "<b>"+m[1]+"</b><span>")
		if n := len(regexp.MustCompile(`(?m)^ *`+m[1]+` {2,}`).FindAllString(all, -1)); n != in {
			t.Errorf("%s: %s begins %d times on paper, %d in the page", what, m[1], n, in)
		}
	}
	if days < 8 {
		t.Errorf("%s: %d pages of days", what, days)
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
