package api

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/danielgtaylor/huma/v2/adapters/humago"

	"fettle/internal/app"
	"fettle/internal/doc"
	"fettle/internal/golden/folders"
)

func encoded(v any) any { return doc.Encode(v) }

func raw(b []byte) json.RawMessage { return b }

// recipe is a recipe for zones of the demonstration's casting, as the program drafts it.
func (w *world) recipe() []byte {
	w.t.Helper()
	found, err := app.New(folders.Files{"m.ply": w.files["body/front-casting.ply"]}, "test").FindZones(w.t.Context(), "m.ply", "m.ply", "mm", 30, 0.3, 5, 0.01)
	if err != nil || found.Draft == nil {
		w.t.Fatal("no recipe", err)
	}
	return found.Draft
}

// seam is a mesh of two triangles that do not quite meet.
const seam = "v 0 0 0\nv 10 0 0\nv 0 10 0\nv 10.001 0 0\nv 0 10.001 0\nv 10 10 0\nf 1 2 3\nf 4 6 5\n"

func bodyOf(c *contract, id string) any {
	_, body, _ := minimal(c, id, "")
	return body
}

// done does a piece of work as a worker would.
func (c *contract) done(id string) {
	c.t.Helper()
	ctx := c.t.Context()
	t, err := c.w.to.Claim(ctx, []app.TaskKind{app.TaskAssess}, "w", time.Hour, 3)
	for err == nil && t != nil && t.ID != id {
		if err = c.w.to.End(ctx, t, app.TaskEnd{State: app.TaskFailed, Due: noon, Fault: "not wanted"}); err == nil {
			t, err = c.w.to.Claim(ctx, []app.TaskKind{app.TaskAssess}, "w", time.Hour, 3)
		}
	}
	if err != nil || t == nil {
		c.t.Fatal(t, err)
	}
	hash, _, err := c.w.to.Put(ctx, strings.NewReader("what was made"), 100)
	if err == nil {
		err = c.w.to.End(ctx, t, app.TaskEnd{State: app.TaskDone, Due: noon, Result: hash})
	}
	if err != nil {
		c.t.Fatal(err)
	}
}

// TestNoRouteHasATimeForItsBody: how slow a body may be is for the shell to say. A deadline that a route sets goes on while it computes, and where it
// passes the library gives the whole connection up.
func TestNoRouteHasATimeForItsBody(t *testing.T) {
	s := &service{}
	s.api = humago.New(http.NewServeMux(), described())
	for _, limit := range []int64{0, usualBody, pieceBody} {
		if op := s.operation(route{id: "x", method: http.MethodPost, path: "/x", limit: limit}, false); op.BodyReadTimeout >= 0 {
			t.Errorf("a route with bodies of %d bytes gives them %v (0 is 5 s)", limit, op.BodyReadTimeout)
		}
	}
}
