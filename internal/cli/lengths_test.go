package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestLengthsRefusesWhatIsNoGauge(t *testing.T) {
	dir := demoFolder(t)
	const job = "fettle-demo/job"
	for _, c := range []struct {
		args string
		code int
		want string
	}{
		{job + " --std 0", Usage, "--std: is not a number above zero"},
		{job + " --std=-0.5", Usage, "--std: is not a number above zero"},
		{job + " --std nan", Usage, "--std: is not a number above zero"},
		{job + " --std inf", Usage, "--std: is not a number above zero"},
		{job + " --std tape", Usage, `--std: "tape" is given where a number is needed`},
		{job + " --longest=-1", Usage, "--longest: is not a length"},
		{job + " --longest nan", Usage, "--longest: is not a length"},
		{job + " --longest inf", Usage, "--longest: is not a length"},
		{job + " --longest 2,5", Usage, `--longest: "2,5" is given where a number is needed`},
		{job + " --longest", Usage, "--longest"},
		{job + " --most 0", Usage, "--most: is not from 1 to 24"},
		{job + " --most 25", Usage, "--most: is not from 1 to 24"},
		{job + " --most=-3", Usage, "--most: is not from 1 to 24"},
		{job + " --most 2.5", Usage, `--most: "2.5" is given where a whole number is needed`},
		{job + " --most many", Usage, `--most: "many" is given where a whole number is needed`},
		{job + " --stage middle", Usage, `--stage: "middle" is not one of before, during, after`},
		{job + " --on 2026-13-01 --std 1", Usage, "2026-13-01"},
		{"", Usage, "<job> is missing"},
		{"fettle-demo/nothing --std 1", Refused, "nothing"},
		{job + " --stage after", Refused, "it is not known how well the gauge reads one"},
		{job + " --std 1 --page " + job, Refused, "fettle-demo"},
	} {
		code, out, stderr := run(t, dir, append([]string{"lengths"}, strings.Fields(c.args)...)...)
		if code != c.code || !strings.Contains(stderr, c.want) || out != "" {
			t.Errorf("%s: code %d, %q, %q; want %d, %q", c.args, code, out, stderr, c.code, c.want)
		}
	}
}

// The page of a job whose lengths have to be taken, the same in JSON, and a job that needs none.
func TestLengthsOfTheDemonstration(t *testing.T) {
	dir := demoFolder(t)
	code, out, stderr := run(t, dir, "lengths", "fettle-demo/job", "--stage", "after", "--std", "0.3", "--longest", "2600", "--page", "lengths.html", "--on", "2026-11-26")
	page, err := os.ReadFile(filepath.Join(dir, "lengths.html"))
	if code != Done || err != nil || !strings.Contains(out, "would get a place") || !strings.Contains(string(page), "26 Nov 2026") || strings.Count(string(page), "<td></td><td></td><td></td>") != 22 {
		t.Errorf("code %d, %v, %s%s", code, err, out, stderr)
	}
	code, out, _ = run(t, dir, "lengths", "fettle-demo/job", "--stage", "after", "--std", "0.3", "--most", "3", "--json")
	if code != Done || !strings.Contains(out, `"stage": "after"`) || strings.Count(out, `"from"`) != 3 {
		t.Errorf("code %d, %s", code, out)
	}
	code, out, _ = run(t, dir, "lengths", "fettle-demo/job")
	if code != Done || !strings.HasPrefix(out, "No further length of this gauge") {
		t.Errorf("code %d, %s", code, out)
	}
}
