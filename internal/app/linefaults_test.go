package app

import (
	"context"
	"errors"
	"strings"
	"testing"

	"fettle/internal/diag"
)

// TestLinesThatDoNotDivide: a section line that cuts off nothing is told at its own line of
// body.yaml, with what draws why.
func TestLinesThatDoNotDivide(t *testing.T) {
	m := scenario(t, "body/body.yaml", "offset: 268 mm", "offset: -5000 mm")
	_, err := New(m, "test").Open(context.Background(), "job")
	var ps diag.Problems
	if !errors.As(err, &ps) || len(ps) != 1 {
		t.Fatalf("%v", err)
	}
	p := ps[0]
	if p.Field != "section_lines[0].id" || p.File != "body/body.yaml" || p.Line == 0 || !strings.Contains(p.Msg, "LINE-1") || p.Hint != "correct the line or the mesh; this draws why" || p.Remedy == nil {
		t.Errorf("%+v", p)
	}
}
