package app

import (
	_ "embed"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/job"
	"fettle/internal/shop"
)

//go:embed assessment.tsv
var assessmentTable string

// described says what a member of assessment.json is, with its unit, by its type
// and its name.
var described = describedIn(assessmentTable)

func describedIn(table string) map[string]string {
	out := map[string]string{}
	for line := range strings.Lines(table) {
		if f := strings.SplitN(strings.TrimSuffix(line, "\n"), "\t", 3); len(f) == 3 {
			out[f[0]+" "+f[1]] = f[2]
		}
	}
	return out
}

// Described says what a member of a result is, with its unit; nothing where the name says it.
func Described(of, member string) string { return described[of+" "+member] }

// SchemaNames are the documents that have a published schema.
func SchemaNames() []string {
	return []string{"body", "procedure", "shop", "job", "zones", "assessment"}
}

// titled is the title of the schema of a document.
func titled(document string) string { return "fettle: " + document }

// Schema is the JSON Schema of a document, made from the same definitions the
// program reads it with.
func Schema(name string) ([]byte, error) {
	switch name {
	case "body":
		return doc.Schema(body.Body{}, titled("body")), nil
	case "procedure":
		return doc.Schema(body.Procedure{}, titled("procedure")), nil
	case "shop":
		return doc.Schema(shop.Shop{}, titled("shop")), nil
	case "job":
		return doc.Schema(job.State{}, titled("job")), nil
	case "zones":
		return doc.Schema(body.ZoneRecipe{}, titled("zones")), nil
	}
	if name == "assessment" {
		return doc.SchemaOfResult(Assessment{}, titled("assessment"), Described), nil
	}
	return nil, &diag.Error{Kind: diag.Usage, Op: "schema", Subject: name, Msg: "there is no such document", Hint: doc.DidYouMean(name, SchemaNames())}
}
