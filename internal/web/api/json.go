package api

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strconv"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"fettle/internal/app"
	"fettle/internal/doc"
)

// deepest is how deep a JSON text of a request may be nested.
const deepest = 64

// readJSON reads a JSON text that is one value, not nested too deep, without a member twice.
func readJSON(data []byte, v any) error {
	if err := strict(data); err != nil {
		return err
	}
	return json.Unmarshal(data, v)
}

// strict says what is wrong with a JSON text beside its grammar.
func strict(data []byte) error {
	d := json.NewDecoder(bytes.NewReader(data))
	type level struct {
		object bool
		key    bool // a name comes next
		seen   map[string]bool
	}
	var open []level
	for {
		t, err := d.Token()
		if errors.Is(err, io.EOF) {
			return nil // what is not whole is told when it is read
		}
		if err != nil {
			return fmt.Errorf("byte %d: %w", d.InputOffset(), err)
		}
		top := len(open) - 1
		if name, is := t.(string); is && top >= 0 && open[top].key {
			if open[top].seen[name] {
				return fmt.Errorf("byte %d: %q is there twice", d.InputOffset(), name)
			}
			open[top].seen[name], open[top].key = true, false
			continue
		}
		if top >= 0 && open[top].object {
			open[top].key = true
		}
		switch t {
		case json.Delim('{'):
			open = append(open, level{object: true, key: true, seen: map[string]bool{}})
		case json.Delim('['):
			open = append(open, level{})
		case json.Delim('}'), json.Delim(']'):
			open = open[:top]
			if top > 0 && open[top-1].object {
				open[top-1].key = true
			}
		}
		if len(open) > deepest {
			return fmt.Errorf("byte %d: it is nested deeper than %d", d.InputOffset(), deepest)
		}
	}
}

// writeJSON writes as the command line does.
func writeJSON(w io.Writer, v any) error { return json.NewEncoder(w).Encode(v) }

// Computed is a value that the program computed, described by what it writes.
type Computed[T any] struct{ Of T }

// MarshalJSON writes the value.
func (c Computed[T]) MarshalJSON() ([]byte, error) { return json.Marshal(c.Of) }

// UnmarshalJSON reads the value.
func (c *Computed[T]) UnmarshalJSON(data []byte) error { return json.Unmarshal(data, &c.Of) }

// Schema describes the value, and all that it is made of among the components.
func (c Computed[T]) Schema(r huma.Registry) *huma.Schema {
	t := reflect.TypeFor[T]()
	if t.Kind() == reflect.Slice {
		return &huma.Schema{Type: huma.TypeArray, Nullable: true, Items: component(r, t.Elem())}
	}
	return component(r, t)
}

// component describes a struct among the components.
func component(r huma.Registry, t reflect.Type) *huma.Schema {
	name := t.String()
	if _, there := r.Map()[name]; !there {
		for of, s := range schemasOf(t, name) {
			r.Map()[of] = &huma.Schema{Extensions: s}
		}
	}
	return &huma.Schema{Ref: "#/components/schemas/" + name}
}

// schemasOf is the schemas of a struct that is written, under that name, and of all it is made of, by their names.
func schemasOf(t reflect.Type, name string) map[string]map[string]any {
	text := doc.SchemaOfResult(reflect.Zero(t).Interface(), name, app.Described)
	text = bytes.ReplaceAll(text, []byte("#/$defs/"), []byte("#/components/schemas/"))
	var root map[string]any
	if err := json.Unmarshal(text, &root); err != nil {
		panic(fmt.Sprintf("api: the schema of %s is no JSON: %v", name, err)) // made by this program while it starts
	}
	out := map[string]map[string]any{}
	defs, _ := root["$defs"].(map[string]any)
	for of, s := range defs {
		out[of], _ = s.(map[string]any)
	}
	for _, member := range []string{"$defs", "$schema", "title"} {
		delete(root, member)
	}
	out[name] = root
	for _, s := range out {
		said(s)
	}
	return out
}

// said drops descriptions that say nothing.
func said(v any) {
	switch v := v.(type) {
	case map[string]any:
		if v["description"] == "" {
			delete(v, "description")
		}
		for _, x := range v {
			said(x)
		}
	case []any:
		for _, x := range v {
			said(x)
		}
	}
}

// tagOf is the tag of bytes.
func tagOf(text []byte) string {
	sum := sha256.Sum256(text)
	return tag(hex.EncodeToString(sum[:]))
}

func tag(hash string) string { return strconv.Quote(hash) }

// matches says whether one of the tags that a reader has is this one.
func matches(has, tag string) bool {
	for one := range strings.SplitSeq(has, ",") {
		one = strings.TrimPrefix(strings.TrimSpace(one), "W/")
		if tag != "" && (one == tag || one == "*") {
			return true
		}
	}
	return false
}

func statusText(status int) string { return strconv.Itoa(status) }

// description is the OpenAPI description as it is served and committed.
func description(of *huma.OpenAPI) ([]byte, error) {
	text, err := of.MarshalJSON()
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	err = json.Indent(&out, text, "", " ")
	out.WriteByte('\n')
	return out.Bytes(), err
}
