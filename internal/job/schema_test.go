package job

import (
	"bytes"
	"os"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"fettle/internal/body"
	"fettle/internal/doc"
	"fettle/internal/shop"
)

// TestSchemas: an independent validator accepts the good documents under the
// schemas made from the types, and finds a misspelt field in each.
func TestSchemas(t *testing.T) {
	for name, c := range map[string]struct {
		of   any
		file string
	}{
		"body":      {body.Body{}, "../body/testdata/good/body.yaml"},
		"procedure": {body.Procedure{}, "../body/testdata/good/procedures/tb-1.yaml"},
		"shop":      {shop.Shop{}, "../shop/testdata/good/shop.yaml"},
		"job":       {State{}, "testdata/good/job.yaml"},
	} {
		t.Run(name, func(t *testing.T) {
			schema := compile(t, doc.Schema(c.of, name))
			text, err := os.ReadFile(c.file)
			if err != nil {
				t.Fatal(err)
			}
			var tree map[string]any
			if err := yaml.Unmarshal(text, &tree); err != nil {
				t.Fatal(err)
			}
			if err := schema.Validate(any(tree)); err != nil {
				t.Error(err)
			}
			tree["formt"] = "x"
			if err := schema.Validate(any(tree)); err == nil {
				t.Error("a misspelt field passes")
			}
		})
	}
}

func compile(t *testing.T, text []byte) *jsonschema.Schema {
	t.Helper()
	tree, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("s.json", tree); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("s.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}
