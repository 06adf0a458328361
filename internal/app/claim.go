package app

import (
	"fmt"
	"path"
	"regexp"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/shop"
)

// A job may come from anybody, and names its body and its shop wherever they lie: any
// file of the machine. What does not say of itself that it is such a document is not
// judged, so that nothing of it gets into an error; of a folder that is no body not even
// the names are looked at.

// claim is what a document says of itself in its line 'format'.
type claim struct {
	what, format, field string
	line                *regexp.Regexp
}

var (
	aShop   = claimOf("shop file", shop.Format, "shop")
	aBody   = claimOf("body", body.Format, "body")
	mainOf  = "body.yaml"
	meshEnd = []string{".stl", ".ply", ".obj", ".glb"}
)

// claimOf is the line of a format, whatever its version: another version is told as one.
func claimOf(what, format, field string) claim {
	word, _, _ := strings.Cut(format, " ")
	return claim{what, format, field, regexp.MustCompile(`(?m)^format:[ \t]*["']?` + regexp.QuoteMeta(word) + `[ \t]`)}
}

// hold refuses a file that a job names and that does not say that it is what the job
// takes it for.
func (k claim) hold(file string, data []byte) error {
	if k.line.Match(data) {
		return nil
	}
	return &diag.Error{Kind: diag.Denied, Op: "read", Subject: file, Msg: fmt.Sprintf("is no %s: it has no line 'format: %s'; nothing else of it was looked at", k.what, k.format),
		Hint: fmt.Sprintf("correct '%s' in job.yaml, or begin the file with that line", k.field)}
}

// claimedBody refuses a folder that a job names and that holds no body.
func (a *App) claimedBody(dir string) error {
	if !a.files.IsDir(dir) || !a.files.Exists(path.Join(dir, mainOf)) {
		return &diag.Error{Kind: diag.NotFound, Op: "open", Subject: dir, Msg: "there is no such body folder", Hint: "correct 'body' in job.yaml: it names the folder that holds body.yaml"}
	}
	data, err := a.read(dir, mainOf, aDocument, "correct 'body' in job.yaml")
	if err != nil {
		return err
	}
	return aBody.hold(path.Join(dir, mainOf), data)
}

// meshNamed refuses a mesh of a recipe that is not called like one.
func meshNamed(file, recipe string) error {
	if slices.Contains(meshEnd, strings.ToLower(path.Ext(file))) {
		return nil
	}
	return &diag.Error{Kind: diag.Denied, Op: "read", Subject: file, Msg: "is not called like a mesh; nothing of it was looked at",
		Hint: fmt.Sprintf("correct 'mesh' in %s: a mesh ends in %s", recipe, strings.Join(meshEnd, ", "))}
}
