package entry

import (
	"bytes"
	"net/http/httptest"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"fettle/internal/web"
)

// contract is the committed description, which every answer in these tests is held against.
var contract = sync.OnceValues(func() (*jsonschema.Compiler, error) {
	text, err := os.ReadFile("../../../docs/api/openapi.json")
	if err != nil {
		return nil, err
	}
	whole, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		return nil, err
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	return c, c.AddResource("x:openapi.json", whole)
})

var compiling sync.Mutex // tests make requests at once

// held holds an answer against the description of its route: by its status, and by the schema of that.
func held(t *testing.T, method, path string, got *httptest.ResponseRecorder) {
	t.Helper()
	compiling.Lock()
	defer compiling.Unlock()
	c, err := contract()
	if err != nil {
		t.Fatal(err)
	}
	path, _, _ = strings.Cut(strings.TrimPrefix(path, "/api/v1"), "?")
	if strings.HasPrefix(path, ProviderPath) || strings.HasPrefix(path, "..") { // for the pages of this program alone
		return
	}
	w, is := described(method, path)
	if !is {
		t.Errorf("%s %s is not described", method, path)
		return
	}
	at := "x:openapi.json#/paths/" + strings.NewReplacer("/", "~1", "{", "%7B", "}", "%7D").Replace("/api/v1"+w.Path) + "/" + strings.ToLower(method) + "/responses/" + strconv.Itoa(got.Code)
	kind := got.Header().Get("Content-Type")
	if got.Body.Len() == 0 {
		if w.Gives != nil || got.Code != w.Status {
			t.Errorf("%s %s: %d without a body, described is %d", method, path, got.Code, w.Status)
		}
		return
	}
	s, err := c.Compile(at + "/content/" + strings.ReplaceAll(kind, "/", "~1") + "/schema")
	if err != nil {
		t.Errorf("%s %s: %d %s is not described: %v", method, path, got.Code, kind, err)
		return
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(got.Body.Bytes()))
	if err == nil {
		err = s.Validate(v)
	}
	if err != nil {
		t.Errorf("%s %s: %d is not what is described: %v", method, path, got.Code, err)
	}
}

// described is the route of a request: of two that fit, the one with fewer names in braces.
func described(method, path string) (found web.Way, is bool) {
	parts := strings.Split(path, "/")
	for _, w := range Ways() {
		form := strings.Split(w.Path, "/")
		fits := w.Method == method && len(form) == len(parts)
		for i := 0; fits && i < len(form); i++ {
			fits = form[i] == parts[i] || form[i] != "" && form[i][0] == '{'
		}
		if fits && (!is || strings.Count(w.Path, "{") < strings.Count(found.Path, "{")) {
			found, is = w, true
		}
	}
	return found, is
}
