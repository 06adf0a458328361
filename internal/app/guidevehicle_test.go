package app

import (
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"fettle/internal/demo"
)

// guideDay is the day by which docs/first-vehicle.md assesses its job.
var guideDay = time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)

// guideFiles are the files that the guide to a first vehicle has in it.
func guideFiles(t testing.TB) memory {
	t.Helper()
	page, err := os.ReadFile("../../docs/first-vehicle.md")
	if err != nil {
		t.Fatal(err)
	}
	m := memory{}
	for _, b := range regexp.MustCompile("(?ms)^```[a-z]+ ([^\n]+)\n(.*?)^```$").FindAllStringSubmatch(string(page), -1) {
		name, more := strings.CutSuffix(strings.TrimSpace(b[1]), " (append)")
		if more {
			b[2] = string(m[name]) + b[2]
		}
		m[name] = []byte(b[2])
	}
	return m
}

// guided is the vehicle of docs/first-vehicle.md: every file of the page, the mesh with its
// zones as the page has it made, and the job as it is at the end.
func guided(t testing.TB) (*App, *Opened, Assessment) {
	t.Helper()
	m := guideFiles(t)
	a := New(m, "test").WithBodies(&bodies)
	made, err := a.MakeZones(t.Context(), "zones.yaml", "channel.ply", func(string) error { return nil })
	if err != nil {
		t.Fatal(err)
	}
	m["van/channel.ply"], m["van/channel.yaml"] = made.PLY, made.YAML
	c, err := a.Open(t.Context(), "job")
	if err != nil {
		t.Fatal(err)
	}
	return a, c, assessedOf(t, a, c, guideDay)
}

// TestGuideSaysOneWord: for the guide's vehicle too, which has no areas, no price but labour,
// points without names and one finding, explain and everything printed have one word and one
// figure for one thing, and everything printed can be asked.
func TestGuideSaysOneWord(t *testing.T) {
	a, c, r := guided(t)
	n := namesFor(a, c, r)
	pages, texts := printedOf(t, a, c, r, "job", true)
	if len(c.Body.Points) != 5 || len(r.Inspect.Findings) != 1 || len(r.Compare.Routes) < 2 {
		t.Fatalf("%d points, %d findings, %d routes: the page was not read", len(c.Body.Points), len(r.Inspect.Findings), len(r.Compare.Routes))
	}
	onePoint(t, n, texts["report"])
	oneThing(t, n, texts)
	askNames(t, n, pages, texts, 30)
	askFigures(t, n, texts, 40)
}

// TestLookedJobCanBeAsked: after somebody has looked, whatever the commands and the owner's
// page print can be asked too; a campaign reads the drawn pages as well.
func TestLookedJobCanBeAsked(t *testing.T) {
	a, c, r := demonstrated(t, demo.LookedJob)
	n := namesFor(a, c, r)
	drawn := os.Getenv("FETTLE_CAMPAIGN") != ""
	pages, texts := printedOf(t, a, c, r, demo.LookedJob, drawn)
	askNames(t, n, pages, texts, 200)
	askFigures(t, n, texts, 120)
	if drawn {
		onePoint(t, n, texts["report"])
		oneThing(t, n, texts)
	}
}
