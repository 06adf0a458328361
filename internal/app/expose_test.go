package app

import (
	"context"
	"regexp"
	"strings"
	"testing"

	"fettle/internal/demo"
)

var (
	styles = regexp.MustCompile(`(?s)<style>.*</style>`)
	tags   = regexp.MustCompile(`<[^>]*>`)
)

// wordsOfPage is the words of a page, without its style: a box is [ ].
func wordsOfPage(page []byte) string {
	text := strings.ReplaceAll(styles.ReplaceAllString(string(page), ""), `<span class="box"></span>`, "[ ]")
	var out []string
	for line := range strings.Lines(tags.ReplaceAllString(text, " ")) {
		if words := strings.Join(strings.Fields(line), " "); words != "" {
			out = append(out, words)
		}
	}
	return strings.Join(out, "\n") + "\n"
}

// TestExposeGolden keeps how the vehicles of the demonstration are opened up to inspect them, and
// the sheet to fill in: as far as they are inspected, and with nothing inspected yet but one area
// that could not be reached.
func TestExposeGolden(t *testing.T) {
	for name, job := range map[string]string{"expose": demo.Job, "rear-expose": demo.RearJob} {
		a, c, r := demonstrated(t, job)
		text, sheet := exposeTexts(t, a, c, r)
		all := *c.Job
		all.Areas = nil
		for _, x := range c.Job.Areas {
			if x.State == "not-reachable" {
				all.Areas = append(all.Areas, x)
			}
		}
		blankJob := *c
		blankJob.Job = &all
		more, blank := exposeTexts(t, a, &blankJob, r)
		golden(t, name+".txt", text+"\nWith nothing inspected:\n"+more)
		golden(t, name+"-sheet.txt", sheet+"\nWith nothing inspected:\n"+blank)
	}
}

func exposeTexts(t *testing.T, a *App, c *Opened, r Assessment) (text, sheet string) {
	t.Helper()
	x, err := a.Expose(context.Background(), c, nil, nil, r.Made)
	if err != nil {
		t.Fatal(err)
	}
	page, err := a.ExposedSheet(context.Background(), c, x, r.Made)
	if err != nil {
		t.Fatal(err)
	}
	return a.ExposedText(c, x, plain), wordsOfPage(page)
}
