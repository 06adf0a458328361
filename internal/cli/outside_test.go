//go:build outside

package cli

import (
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
	dir := t.TempDir()
	for job, std := range map[string][]string{ // the set-ups' uncertainty is in job.yaml
		"job": {"--std", "A=0.5", "--std", "B=0.5", "--std", "TRAM=0.7"}, "sound-job": {"--std", "A=0.3"}} {
		if code, _, stderr := run(t, dir, "demo"); code != Done {
			t.Fatal(stderr)
		}
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
	dir := t.TempDir()
	if code, _, stderr := run(t, dir, "demo"); code != Done {
		t.Fatal(stderr)
	}
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
					for _, want := range []string{"INVENTED", "Has the structure moved?", "Is the casting sound?", "Which route is best?", "Did it work?"} {
						if !strings.Contains(text, want) {
							t.Errorf("%q is not on the first page:\n%s", want, text)
						}
					}
				}
			}
		})
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
