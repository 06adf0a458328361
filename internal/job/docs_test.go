package job

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"fettle/internal/body"
	"fettle/internal/shop"
)

// block is a fenced block of a page whose first line names a file.
var block = regexp.MustCompile("(?m)^```(?:yaml|csv) (\\S+)\n((?:.*\n)*?)```$")

// pageFiles puts the blocks of a page of docs/formats together, by file.
func pageFiles(t *testing.T, pages ...string) map[string][]byte {
	t.Helper()
	files := map[string][]byte{}
	for _, page := range pages {
		text, err := os.ReadFile("../../docs/formats/" + page)
		if err != nil {
			t.Fatal(err)
		}
		blocks := block.FindAllStringSubmatch(string(text), -1)
		if len(blocks) < 3 {
			t.Fatalf("%s has %d blocks", page, len(blocks))
		}
		for _, b := range blocks {
			files[b[1]] = append(files[b[1]], b[2]...)
		}
	}
	return files
}

// TestFormatPages: the examples of the format pages, put together, are a body,
// a shop and a job that fit each other.
func TestFormatPages(t *testing.T) {
	files := pageFiles(t, "body.md", "procedure.md")
	files["block.ply"] = nil
	b, err := body.Decode(files)
	if err != nil {
		t.Fatalf("body.md and procedure.md:\n%v", err)
	}
	s, err := shop.Decode("shop.yaml", pageFiles(t, "shop.md")["shop.yaml"])
	if err != nil {
		t.Fatalf("shop.md:\n%v", err)
	}
	j, err := Decode(pageFiles(t, "job.md"))
	if err != nil {
		t.Fatalf("job.md:\n%v", err)
	}
	problems, notes := CheckAgainst(j, b, s)
	more, notes2 := shop.CheckBody(s, b)
	if len(problems)+len(notes)+len(more)+len(notes2) > 0 {
		t.Errorf("they do not fit: %v %v %v %v", problems, notes, more, notes2)
	}
}

// TestFormatPageListsEveryFact: the table of facts is the program's own.
func TestFormatPageListsEveryFact(t *testing.T) {
	text, err := os.ReadFile("../../docs/formats/procedure.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range body.FactDefs() {
		if !strings.Contains(string(text), "| `"+d.Name+"` |") || !strings.Contains(string(text), d.Help) {
			t.Errorf("the page does not have the fact %s as it is", d.Name)
		}
	}
}
