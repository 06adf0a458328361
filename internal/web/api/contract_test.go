package api

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"maps"
	"net/http"
	"net/http/httptest"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// contract holds answers against the description, and knows what of it was reached.
type contract struct {
	t       *testing.T
	w       *world
	paths   map[string]map[string]operation
	schemas *jsonschema.Compiler
	reached map[string]map[string]bool // of each route, the statuses that were reached
	checks  int
}

type operation struct {
	OperationID string
	Security    []any
	Parameters  []struct {
		Name, In string
		Required bool
	}
	RequestBody *struct {
		Content map[string]any
	}
	Responses map[string]struct {
		Content map[string]any
		Headers map[string]any
	}
}

const descriptionURL = "https://example.invalid/openapi.json"

func newContract(t *testing.T, w *world) *contract {
	t.Helper()
	c := &contract{t: t, w: w, reached: map[string]map[string]bool{}}
	var d struct {
		Paths map[string]map[string]operation
	}
	if err := json.Unmarshal(w.api.Description(), &d); err != nil {
		t.Fatal(err)
	}
	c.paths = d.Paths
	whole, err := jsonschema.UnmarshalJSON(bytes.NewReader(w.api.Description()))
	if err != nil {
		t.Fatal(err)
	}
	c.schemas = jsonschema.NewCompiler()
	c.schemas.DefaultDraft(jsonschema.Draft2020)
	if err := c.schemas.AddResource(descriptionURL, whole); err != nil {
		t.Fatal(err)
	}
	return c
}

// of is the route that a request goes to, as the description has it.
func (c *contract) of(method, target string) (path string, op operation) {
	target, _, _ = strings.Cut(target, "?")
	best := -1
	for p, methods := range c.paths {
		o, is := methods[strings.ToLower(method)]
		if !is || !fits(strings.TrimPrefix(p, Prefix), target) {
			continue
		}
		if fixed := len(p) - 100*strings.Count(p, "{"); path == "" || fixed > best {
			path, op, best = p, o, fixed
		}
	}
	return path, op
}

// fits says whether a target has the form of a path with names in braces.
func fits(pattern, target string) bool {
	a, b := strings.Split(pattern, "/"), strings.Split(target, "/")
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if a[i] != b[i] && !strings.HasPrefix(a[i], "{") {
			return false
		}
	}
	return true
}

// held holds an answer against the description of its route.
func (c *contract) held(what call, got *httptest.ResponseRecorder) {
	c.t.Helper()
	c.checks++
	path, op := c.of(what.method, what.path)
	status := strconv.Itoa(got.Code)
	r, is := op.Responses[status]
	if !is {
		c.t.Errorf("%s (%s %s): status %s is not described: %s", op.OperationID, what.method, what.path, status, short(got))
		return
	}
	if c.reached[op.OperationID] == nil {
		c.reached[op.OperationID] = map[string]bool{}
	}
	c.reached[op.OperationID][status] = true
	kind := got.Header().Get("Content-Type")
	if len(r.Content) == 0 {
		if got.Body.Len() > 0 {
			c.t.Errorf("%s %s: it has a body, and none is described: %s", op.OperationID, status, short(got))
		}
		return
	}
	if _, is := r.Content[kind]; !is {
		c.t.Errorf("%s %s: it is %q, and described are %v", op.OperationID, status, kind, slices.Collect(maps.Keys(r.Content)))
		return
	}
	if !strings.HasSuffix(kind, "json") {
		return
	}
	pointer := strings.NewReplacer("~", "~0", "/", "~1")
	at := descriptionURL + "#/paths/" + pointer.Replace(path) + "/" + strings.ToLower(what.method) + "/responses/" + status + "/content/" + pointer.Replace(kind) + "/schema"
	schema, err := c.schemas.Compile(strings.ReplaceAll(at, "{", "%7B"))
	if err != nil {
		schema, err = c.schemas.Compile(at)
	}
	if err != nil {
		c.t.Fatalf("%s %s: its schema cannot be read: %v", op.OperationID, status, err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(got.Body.Bytes()))
	if err == nil {
		err = schema.Validate(v)
	}
	if err != nil {
		c.t.Errorf("%s %s: the answer is not what is described: %v\n%s", op.OperationID, status, err, short(got))
	}
}

func short(r *httptest.ResponseRecorder) string {
	text := r.Body.String()
	return text[:min(len(text), 400)]
}

// ask makes a request, holds its answer against the description and wants a status.
func (c *contract) ask(status int, what call) *httptest.ResponseRecorder {
	c.t.Helper()
	got := c.w.do(what)
	c.held(what, got)
	if got.Code != status {
		c.t.Errorf("%s %s as %s: %d, want %d: %s", what.method, what.path, what.as, got.Code, status, short(got))
	}
	return got
}

// field is a member of an answer.
func field[T any](c *contract, r *httptest.ResponseRecorder, names ...string) T {
	c.t.Helper()
	var v any
	if err := json.Unmarshal(r.Body.Bytes(), &v); err != nil {
		c.t.Fatalf("%v: %s", err, short(r))
	}
	for _, name := range names {
		m, _ := v.(map[string]any)
		v = m[name]
	}
	out, is := v.(T)
	if !is {
		c.t.Fatalf("%v is %T: %s", names, v, short(r))
	}
	return out
}

func key(k string) []string { return []string{"Idempotency-Key", k} }

// all is somebody who has every role of a shop.
const all = "technician+planner+reviewer+administrator@north"

func hashOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// TestContract: over every route each answer is what is described, each status that is described is reached, and no other. A route that
// is served is described, and the other way round.
func TestContract(t *testing.T) {
	w := newWorld(t)
	c := newContract(t, w)
	for _, part := range []func(*contract){jobCalls, recordCalls, answerCalls, severalCalls, toolCalls, keptCalls, uploadCalls, taskCalls, keepingCalls, revisionCalls, sharedCalls} {
		part(c)
	}
	n := 0
	for path, methods := range c.paths {
		for method, op := range methods {
			n++
			for status := range op.Responses {
				if status != "default" && !c.reached[op.OperationID][status] && !strings.Contains(unreached[op.OperationID], status) {
					t.Errorf("%s (%s %s): %s is described, and was not reached", op.OperationID, method, path, status)
				}
			}
		}
	}
	if n != len(w.api.Routes()) {
		t.Errorf("%d routes are described, and %d are served", n, len(w.api.Routes()))
	}
	t.Logf("%d answers of %d routes held against the description", c.checks, n)
}

// unreached is what nobody can reach yet, and why.
var unreached = map[string]string{"hand-back": "200 409", "reopen-job": "200 422"} // something is missing of the job here: TestOutsideClientTakesTheJob and TestReopenedByAnother reach it

// TestRoutesAreDescribed: what the mux answers is what is described, tried with every method and path.
func TestRoutesAreDescribed(t *testing.T) {
	a := made(t)
	var d struct {
		Paths map[string]map[string]operation
	}
	if err := json.Unmarshal(a.Description(), &d); err != nil {
		t.Fatal(err)
	}
	for path, methods := range d.Paths {
		for _, method := range []string{"GET", "POST", "PUT", "PATCH", "DELETE"} {
			target := path
			for _, name := range []string{"{job}", "{hash}", "{upload}", "{task}", "{hold}", "{document}", "{proposal}"} {
				target = strings.ReplaceAll(target, name, "x")
			}
			code := asked(t, a, method, target, "").Code
			_, is := methods[strings.ToLower(method)]
			other, _ := (&contract{paths: d.Paths}).of(method, strings.TrimPrefix(target, Prefix))
			if there := code != http.StatusMethodNotAllowed && code != http.StatusNotFound; there != is && other == "" {
				t.Errorf("%s %s: served %v (%d), described %v", method, path, there, code, is)
			}
		}
	}
}

// sharedCalls is what every route refuses in the same way.
func sharedCalls(c *contract) {
	for path, methods := range c.paths {
		for method, op := range methods {
			target := strings.NewReplacer("{job}", "north-1", "{hash}", c.w.photo["north"], "{upload}", "x", "{task}", "x", "{hold}", "x", "{document}", "job", "{event}", "5", "{proposal}", "PP-9").Replace(strings.TrimPrefix(path, Prefix))
			one := call{as: all, method: strings.ToUpper(method), path: target}
			one.path += "?nonsense=1"
			if op.RequestBody != nil {
				one.body = map[string]any{}
				if _, raw := op.RequestBody.Content["application/octet-stream"]; raw {
					one.body, one.kind = []byte("x"), "application/octet-stream"
				}
			}
			if op.OperationID == "stream" {
				one.path = target
				c.ask(http.StatusOK, one)
			} else {
				c.ask(http.StatusBadRequest, one)
			}
			if len(op.Security) > 0 {
				one.as = ""
				c.ask(http.StatusUnauthorized, one)
			}
			one.as, one.path = all, target
			if _, is := op.Responses["415"]; is {
				one.kind, one.body, one.headers = "text/plain", []byte("{}"), key("k")
				c.ask(http.StatusUnsupportedMediaType, one)
			}
			if _, is := op.Responses["413"]; is {
				one.kind, one.body, one.headers = "application/json", make([]byte, limitOf(c.w.api, op.OperationID)+1), key("k")
				if op.RequestBody.Content["application/octet-stream"] != nil {
					one.kind = "application/octet-stream"
				}
				c.ask(http.StatusRequestEntityTooLarge, one)
			}
			if strings.Contains(path, "{job}") {
				c.hidden(one, target, op)
			}
		}
	}
}

// hidden: a job of another shop is what is not there, to the byte.
func (c *contract) hidden(one call, target string, op operation) {
	c.t.Helper()
	var bodies []string
	ids := []string{"south-1", "north-9", "nobody", "a b"}
	if op.OperationID == "set-aside" {
		ids[1] = "south-9" // of the own shop it is for a job to come
	}
	for _, id := range ids {
		one.path, one.kind, one.body, one.headers = strings.Replace(target, "north-1", strings.ReplaceAll(id, " ", "%20"), 1), "", nil, key("k")
		one.path, one.body, one.kind = minimal(c, op.OperationID, one.path)
		if op.OperationID == "begin-job" || op.OperationID == "bring-job" {
			return // what is not there is begun
		}
		got := c.w.do(one)
		c.held(one, got)
		if got.Code != http.StatusNotFound {
			c.t.Errorf("%s of %s: %d, want 404: %s", op.OperationID, id, got.Code, short(got))
		}
		bodies = append(bodies, got.Body.String())
	}
	for _, b := range bodies {
		if b != bodies[0] {
			c.t.Errorf("%s tells a job of another shop from none: %s and %s", op.OperationID, bodies[0], b)
		}
	}
}

func limitOf(a *API, id string) int64 {
	for _, r := range a.Routes() {
		if r.ID == id {
			return r.Limit
		}
	}
	return 0
}
