package api

import (
	"encoding/json"
	"net/http/httptest"
	"os"
	"slices"
	"strings"
	"testing"
)

// The routes that compute are those that the description has among answers and tools.
func TestRoutesThatComputeAreKnown(t *testing.T) {
	text, err := os.ReadFile("../../../docs/api/openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	var d struct {
		Paths map[string]map[string]struct{ Tags []string }
	}
	if err := json.Unmarshal(text, &d); err != nil {
		t.Fatal(err)
	}
	n := 0
	for path, methods := range d.Paths {
		for method, op := range methods {
			want := slices.Contains(op.Tags, "answers") || slices.Contains(op.Tags, "tools")
			if want {
				n++
			}
			r := httptest.NewRequest(strings.ToUpper(method), strings.NewReplacer("{job}", "north-1", "{hash}", "a").Replace(path), nil)
			if got := Computes(r); got != want {
				t.Errorf("%s %s: %v, want %v", method, path, got, want)
			}
		}
	}
	if n < 30 {
		t.Errorf("%d routes compute", n)
	}
}
