package api

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/golden/folders"
	"fettle/internal/job"
	"fettle/internal/right"
	"fettle/internal/store"
	"fettle/internal/store/blobs"
	"fettle/internal/store/database"
	"fettle/internal/unit"
)

// world is a group of two shops, each with the demonstration's job, people of every role and nobody.
type world struct {
	t     *testing.T
	api   *API
	to    *database.Database
	files folders.Files
	body  string // hashes of the library
	shop  map[string]string
	photo map[string]string // bytes that a job of a shop names
	dir   string
	use   app.Service
	day   time.Time        // that the service has
	opens map[string][]any // events that open a job of a name
}

// noon is the day of the demonstration.
var noon = demo.Day.Truncate(24 * time.Hour).Add(12 * time.Hour)

func newWorld(t *testing.T) *world {
	t.Helper()
	dir := t.TempDir()
	w := &world{t: t, dir: dir, opens: map[string][]any{}, files: folders.Coarse(), shop: map[string]string{}, photo: map[string]string{}, day: noon}
	clock := func() time.Time { return w.day }
	bytesIn := blobs.NewFolder(dir, "blobs", clock)
	to, err := database.Open(t.Context(), database.Settings{Address: filepath.Join(dir, "fettle.db"), Backups: filepath.Join(dir, "backups"), Blobs: bytesIn, Now: clock, Program: "test"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := to.Close(); err != nil {
			t.Error(err)
		}
	})
	w.to = to
	a := app.New(w.files, "v0-test").WithBodies(&app.Bodies{})
	for _, shop := range []string{"north", "south"} {
		w.keep(a, shop)
	}
	service := app.Service{App: a, In: to, Keeping: keeper{to, bytesIn}, Rights: right.Shipped(), Now: clock,
		Uploads: a.Uploader(to, store.NewUploads(bytesIn, to.NoteBlob), app.UsualUploads),
		IsShop: func(_ context.Context, id string) (bool, error) {
			return id == "north" || id == "south" || id == "north-east", nil
		}}
	w.use = service
	if w.api, err = New(Config{Version: "v0-test", Now: clock, Service: service, Who: whoOf, Stream: http.HandlerFunc(oneTold)}); err != nil {
		t.Fatal(err)
	}
	return w
}

// keep keeps the demonstration's job as a job of a shop.
func (w *world) keep(a *app.App, shop string) {
	w.t.Helper()
	ctx, id := w.t.Context(), shop+"-1"
	w.files["shop.yaml"] = bytes.Replace(w.files["shop.yaml"], []byte("name: Invented structural repair shop"), []byte("name: Invented structural repair shop, "+shop), 1)
	c, err := a.Open(ctx, "job")
	if err != nil {
		w.t.Fatal(err)
	}
	if _, err := a.KeepIn(ctx, c, w.to, id, "p-kept", "keep"); err != nil {
		w.t.Fatal(err)
	}
	data := []byte("a photo that only " + shop + " has")
	hash, _, err := w.to.Put(ctx, bytes.NewReader(data), 1000)
	if err != nil {
		w.t.Fatal(err)
	}
	person := c.Shop.People[0].ID
	day := unit.DateOf(noon)
	_, err = w.to.Append(ctx, id, app.Change{Key: "over", By: "p-kept", Events: []job.Event{
		{Kind: job.JobHandedOver, Data: job.HandedOver{To: shop, By: string(person), On: day, Reason: "begun here"}},
		{Kind: job.EvidenceAdded, Data: job.Evidence{ID: "E-99", File: "only.jpg", SHA256: hash, Text: "only here", By: string(person), On: day}},
	}}, nil)
	if err != nil {
		w.t.Fatal(err)
	}
	chain, err := w.to.Load(ctx, id, 0)
	if err != nil {
		w.t.Fatal(err)
	}
	s, err := job.Read(chain)
	if err != nil {
		w.t.Fatal(err)
	}
	w.photo[shop] = hash
	w.body, _ = job.NamedHash(s.State().Body)
	w.shop[shop], _ = job.NamedHash(s.State().Shop)
}

// whoOf reads who asks from a made-up token: roles with + between them, @, the shop, and what else is so.
func whoOf(r *http.Request) (right.Who, app.Shop, error) {
	text, is := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
	name, in, two := strings.Cut(text, "@")
	if !is || !two {
		return right.Who{}, app.Shop{}, &diag.Error{Kind: diag.Denied, Op: "sign in", Msg: "nobody is signed in"}
	}
	in, more, _ := strings.Cut(in, ",")
	who := right.Who{Person: "p-" + strings.ReplaceAll(name, "+", "-"), Shop: in, Fresh: true}
	for role := range strings.SplitSeq(name, "+") {
		if slices.Contains(right.Roles(), right.Role(role)) {
			who.Roles = append(who.Roles, right.Role(role))
		}
	}
	switch more {
	case "reads":
		who.Token, who.Reads, who.Fresh = "t-1", true, false
	case "program":
		who.Token, who.Fresh = "t-1", false
	case "stale":
		who.Fresh = false
	case "link":
		who.Person, who.Fresh, who.Link = "", false, right.Link{ID: "l-1", Job: "north-1", To: 5, Files: true, Day: "2026-11-26"}
	}
	return who, app.Shop{ID: in, Several: true, First: in == "north", Everybody: true}, nil
}

// oneTold tells of one event.
func oneTold(w http.ResponseWriter, r *http.Request) {
	if _, _, err := whoOf(r); err != nil {
		signedOut.write(w)
		return
	}
	w.Header().Set("Content-Type", "text/event-stream")
	_, _ = w.Write([]byte("id: 1\ndata: {}\n\n"))
}

// keeper looks after the test's database.
type keeper struct {
	*database.Database
	blobs *blobs.Store
}

func held(h database.Hold) app.Hold {
	return app.Hold{ID: h.ID, Job: h.Job, By: h.By, Reason: h.Reason, Begun: h.Begun, Ended: h.Ended}
}

func (k keeper) HoldsOf(ctx context.Context, id string) (out []app.Hold, err error) {
	all, err := k.Holds(ctx, id)
	for _, h := range all {
		out = append(out, held(h))
	}
	return out, err
}

func (k keeper) PutOnHold(ctx context.Context, id, by, reason string) (app.Hold, error) {
	h, err := k.BeginHold(ctx, id, by, reason)
	return held(h), err
}

func (k keeper) LetGo(ctx context.Context, id string) (app.Hold, error) {
	h, err := k.EndHold(ctx, id)
	return held(h), err
}

func (k keeper) Signed(ctx context.Context, leaves int64) (string, string, error) {
	if leaves < 0 {
		c, err := k.Checkpoint(ctx, "test")
		return c.Text(), "a key", err
	}
	c, err := k.CheckpointAt(ctx, "test", leaves)
	return c.Text(), "a key", err
}

func (k keeper) SweepNow(context.Context) (app.Swept, error)    { return app.Swept{}, nil }
func (k keeper) VerifyAll(context.Context) ([][2]string, error) { return nil, nil }
func (w *world) text(name string) string                        { return string(w.files[name]) }
func jsonOf(v any) string                                       { b, _ := json.Marshal(v); return string(b) }
func fileOf(name string, data []byte) map[string]any {
	return map[string]any{"name": name, "data": data}
}
func filesOf(pairs ...any) (out []any) {
	for i := 0; i+1 < len(pairs); i += 2 {
		out = append(out, fileOf(pairs[i].(string), pairs[i+1].([]byte)))
	}
	return out
}

// call is one request.
type call struct {
	as           string // of the token; empty: nobody
	method, path string
	body         any
	kind         string // of the body; JSON unless given
	headers      []string
}

func (w *world) do(c call) *httptest.ResponseRecorder {
	w.t.Helper()
	var body io.Reader = http.NoBody
	switch b := c.body.(type) {
	case nil:
	case []byte:
		body = bytes.NewReader(b)
	case io.Reader:
		body = b
	default:
		body = strings.NewReader(jsonOf(b))
	}
	r := httptest.NewRequest(c.method, Prefix+c.path, body)
	kind := c.kind
	if kind == "" && c.body != nil {
		kind = "application/json"
	}
	if kind != "" {
		r.Header.Set("Content-Type", kind)
	}
	if c.as != "" {
		r.Header.Set("Authorization", "Bearer "+c.as)
	}
	for i := 0; i+1 < len(c.headers); i += 2 {
		r.Header.Set(c.headers[i], c.headers[i+1])
	}
	out := httptest.NewRecorder()
	w.api.ServeHTTP(out, r)
	return out
}
