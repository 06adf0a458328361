package app

import (
	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/job"
	"fettle/internal/shop"
)

// SchemaNames are the documents that have a published schema.
func SchemaNames() []string { return []string{"body", "procedure", "shop", "job", "zones"} }

// Schema is the JSON Schema of a document, made from the same definitions the
// program reads it with.
func Schema(name string) ([]byte, error) {
	switch name {
	case "body":
		return doc.Schema(body.Body{}, "fettle body"), nil
	case "procedure":
		return doc.Schema(body.Procedure{}, "fettle procedure"), nil
	case "shop":
		return doc.Schema(shop.Shop{}, "fettle shop"), nil
	case "job":
		return doc.Schema(job.State{}, "fettle job"), nil
	case "zones":
		return doc.Schema(body.ZoneRecipe{}, "fettle zones"), nil
	}
	return nil, &diag.Error{Kind: diag.Usage, Op: "schema", Subject: name, Msg: "there is no such document", Hint: doc.DidYouMean(name, SchemaNames())}
}
