package api

import (
	"io"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"testing/iotest"

	"fettle/internal/app"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/unit"
)

// signedBy is who takes a deed.
func signedBy(more map[string]any) map[string]any {
	out := map[string]any{"by": "P1", "on": "2026-11-26", "reason": "tried"}
	for k, v := range more {
		out[k] = v
	}
	return out
}

// minimal is a request of a route that its description takes: query, body and media type.
func minimal(c *contract, id, path string) (string, any, string) {
	w := c.w
	mesh := func(more map[string]any) map[string]any {
		out := map[string]any{"files": filesOf("m.ply", w.files["body/front-casting.ply"]), "file": "m.ply", "unit": "mm"}
		for k, v := range more {
			out[k] = v
		}
		return out
	}
	procedure := filesOf("p.yaml", w.files["body/procedures/br-fc-d.yaml"])
	bodies := map[string]any{
		"begin-job":       map[string]any{"events": w.opening("x")},
		"change-job":      map[string]any{"events": []any{map[string]any{"kind": "workplace-measured", "seen": 0, "data": map[string]any{"temperature": "18 C", "std": "1 C", "by": "T1", "on": "2026-11-26"}}}},
		"index-job":       map[string]any{"at": 1, "title": "Grey van", "plate": "AB 1"},
		"bring-job":       map[string]any{"lines": []any{}},
		"set-aside":       map[string]any{"files": filesOf("note.txt", []byte("n"))},
		"put-record":      map[string]any{"text": "{temperature: 19 C, std: 1 C, by: T1, on: 2026-11-26}", "seen": 0},
		"withdraw-record": signedBy(map[string]any{"record": "finding/D99"}),
		"hand-over-job":   signedBy(map[string]any{"to": "south", "seen": 0}),
		"erase-texts":     map[string]any{"record": "finding/D1", "on": "2026-11-26", "reason": "asked for"},
		"renew-job":       map[string]any{},
		"agree-erasure":   signedBy(map[string]any{"record": "evidence/E2", "by": "T3"}),
		"send-to-review":  map[string]any{"part": "whole", "by": "P1", "on": "2026-11-26"},
		"send-back":       signedBy(map[string]any{"part": "whole", "by": "T3"}),
		"approve":         map[string]any{"seen": hashOf([]byte("no event")), "by": "T3", "on": "2026-11-26"},
		"reopen-job":      map[string]any{"by": "T3", "reason": "the door rattles"},
		"propose":         map[string]any{"of": "finding/D77", "record": dentD77, "by": "P1", "on": "2026-11-26"},

		"take-over-proposal": map[string]any{"by": "T1", "on": "2026-11-26"},
		"decline-proposal":   map[string]any{"by": "T1", "on": "2026-11-26"},
		"hand-back":          map[string]any{"to": "owner", "by": "T3"},
		"take-entries":       map[string]any{"table": "entry,about\n"},
		"send-question":      map[string]any{"about": "D9", "by": "P1"},
		"file-answer": map[string]any{"question": "Q-D10", "vin": "ZZZBPVL4XTN000317", "by": "desk", "dated": "2026-11-26", "expires": "2027-01-01", "recordedBy": "P1",
			"document": fileOf("a.txt", []byte("words")), "allow": []string{"dress"}},
		"replay":          map[string]any{"newer": w.text("body/procedures/br-fc-d.yaml"), "older": w.text("body/procedures/br-fc-c.yaml")},
		"recompute":       map[string]any{"assessment": []byte("{}")},
		"keep-content":    map[string]any{"files": filesOf("shop.yaml", w.files["shop.yaml"])},
		"begin-upload":    map[string]any{"name": "p.txt", "sha256": hashOf([]byte("x")), "size": 1, "text": "t", "by": "T1", "on": "2026-11-26"},
		"want-task":       map[string]any{"kind": "assess", "job": "north-1"},
		"want-zones":      map[string]any{"files": filesOf("r.yaml", []byte("x")), "recipe": "r.yaml"},
		"begin-hold":      map[string]any{"reason": "a claim"},
		"ask-procedure":   map[string]any{"files": procedure, "file": "p.yaml", "on": "2026-11-26"},
		"procedure-table": map[string]any{"files": procedure, "file": "p.yaml", "known": []string{"zones=RAIL-L"}, "on": "2026-11-26"},
		"rows":            map[string]any{"files": procedure, "file": "p.yaml"},
		"take-rows":       map[string]any{"files": append(procedure, fileOf("r.csv", []byte("x"))), "file": "p.yaml", "table": "r.csv"},
		"check-files":     map[string]any{"files": filesOf("shop.yaml", w.files["shop.yaml"])},
		"draft-body":      map[string]any{"id": "van"},
		"measure-files":   map[string]any{"files": filesOf("p.csv", w.files["body/points.csv"], "r.csv", w.files["job/readings.csv"]), "points": "p.csv", "readings": "r.csv", "stdMm": 0.5},
		"mesh":            mesh(nil),
		"mesh-glb":        mesh(nil),
		"mend-mesh":       map[string]any{"files": filesOf("m.obj", []byte(seam)), "file": "m.obj", "unit": "mm", "toleranceMm": 0.01, "out": "o.ply"},
		"trace":           mesh(map[string]any{"at": [][]float64{{672, -515, 392}, {704, -515, 404.1}}, "stdMm": 0.5}),
		"cut":             mesh(map[string]any{"planes": []any{map[string]any{"normal": []float64{1, 0, 0}, "offsetMm": 268}}}),
		"find-zones":      mesh(nil),
		"make-zones":      map[string]any{"files": filesOf("r.yaml", []byte("x")), "recipe": "r.yaml", "name": "z"},
	}
	queries := map[string]string{
		"record": "name=job", "put-record": "name=workplace", "question": "about=D9", "agreement": "by=P1", "explain": "what=D2", "week": "jobs=north-1", "times": "jobs=north-1",
		"content-file": "name=body.yaml", "send-piece": "offset=0&sha256=" + hashOf([]byte("x")),
	}
	if q := queries[id]; q != "" {
		path += "?" + q
	}
	if id == "put-bytes" || id == "send-piece" {
		return path, []byte("x"), "application/octet-stream"
	}
	return path, bodies[id], ""
}

// opening is the events that open a job like the demonstration's, with its body and shop.
func (w *world) opening(id string) []any {
	if w.opens[id] != nil {
		return w.opens[id]
	}
	chain, err := w.to.Load(w.t.Context(), "north-1", 0)
	if err != nil {
		w.t.Fatal(err)
	}
	events, err := job.Events(chain)
	if err != nil {
		w.t.Fatal(err)
	}
	var out []any
	for _, e := range events[:3] {
		if o, is := e.Data.(job.Opening); is {
			o.ID = id
			e.Data = o
		}
		out = append(out, wire(w.t, e))
	}
	w.opens[id] = out
	return out
}

// wire is an event as it is sent.
func wire(t *testing.T, e job.Event) map[string]any {
	t.Helper()
	data, err := ledger.Canonical(encoded(e.Data))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]any{"kind": string(e.Kind), "seen": e.Seen, "data": raw(data)}
	if e.Of != "" {
		out["about"] = string(e.Of)
	}
	return out
}

// normally makes the request of a route as it normally is.
func (c *contract) normally(status int, as, id, method, path string, headers ...string) call {
	c.t.Helper()
	one := call{as: as, method: method, headers: append(headers, key(id)...)}
	one.path, one.body, one.kind = minimal(c, id, path)
	c.ask(status, one)
	return one
}

const (
	tech  = "technician@north"
	plan  = "planner@north"
	rev   = "reviewer@north"
	admin = "administrator@north"
)

func jobCalls(c *contract) {
	get := func(status int, as, path string, headers ...string) {
		c.ask(status, call{as: as, method: "GET", path: path, headers: headers})
	}
	get(200, "", "/version")
	get(200, "", "/schemas/job")
	get(200, tech, "/jobs?text=demo&most=1")
	get(403, admin, "/jobs?text=demo")
	get(403, "nobody@north", "/jobs-by-name")
	get(200, tech, "/jobs-by-name")
	get(400, tech, "/jobs?after=north-1")
	c.normally(201, plan, "begin-job", "PUT", "/jobs/north-2")
	c.normally(403, rev, "begin-job", "PUT", "/jobs/north-3")
	c.normally(409, plan, "begin-job", "PUT", "/jobs/north-1")
	c.normally(422, plan, "begin-job", "PUT", "/jobs/south-7")
	c.normally(422, plan, "begin-job", "PUT", "/jobs/north-east-7") // the name of another shop begins with theirs
	head := c.ask(200, call{as: tech, method: "GET", path: "/jobs/north-1"})
	tag := head.Header().Get("ETag")
	get(304, tech, "/jobs/north-1", "If-None-Match", tag)
	get(403, admin, "/jobs/north-1")
	get(200, tech, "/jobs/north-1/events?after=2")
	get(304, tech, "/jobs/north-1/events", "If-None-Match", tag)
	get(403, admin, "/jobs/north-1/events")
	get(200, admin, "/jobs/north-1/history")
	get(404, "reader@north,link", "/jobs/north-1/history")
	get(200, plan, "/jobs/north-1/lines")
	get(403, tech, "/jobs/north-1/lines")
	one := c.normally(200, tech, "change-job", "POST", "/jobs/north-1/changes")
	c.ask(200, one) // sent again with its key
	c.normally(403, rev, "change-job", "POST", "/jobs/north-1/changes")
	find := map[string]any{"events": []any{map[string]any{"kind": "finding-recorded", "seen": 0, "data": map[string]any{"id": "D1", "kind": "crack", "part": "P-CASTING", "seen": "visual", "by": "technician T1", "on": "2026-11-24"}}}}
	c.ask(409, call{as: tech, method: "POST", path: "/jobs/north-1/changes", body: find, headers: key("clash")})
	c.ask(422, call{as: tech, method: "POST", path: "/jobs/north-1/changes", body: map[string]any{"events": []any{map[string]any{"kind": "finding-recorded", "seen": 0, "data": map[string]any{"id": "D77", "wrong": "x"}}}}, headers: key("bad")})
	c.normally(204, plan, "index-job", "PUT", "/jobs/north-1/line")
	c.normally(403, rev, "index-job", "PUT", "/jobs/north-1/line")
	c.ask(422, call{as: plan, method: "PUT", path: "/jobs/north-1/line", body: map[string]any{"at": 9999, "title": "", "plate": ""}})
	c.normally(204, plan, "set-aside", "PUT", "/jobs/north-1/aside")
	c.ask(409, call{as: plan, method: "PUT", path: "/jobs/north-1/aside", body: map[string]any{"files": filesOf("other.txt", []byte("o"))}})
	c.ask(422, call{as: plan, method: "PUT", path: "/jobs/north-2/aside", body: map[string]any{"files": filesOf("../x", []byte("o"))}})
	c.normally(403, rev, "set-aside", "PUT", "/jobs/north-1/aside")
	c.normally(204, plan, "set-aside", "PUT", "/jobs/north-8/aside") // which is begun after
	c.normally(403, rev, "set-aside", "PUT", "/jobs/north-7/aside")
	get(404, plan, "/jobs/north-8/aside")
	get(200, plan, "/jobs/north-1/aside")
	get(403, tech, "/jobs/north-1/aside")
	brings(c)
}

// brings brings a job that another store had.
func brings(c *contract) {
	lines, err := c.w.to.Lines(c.t.Context(), "north-1")
	if err != nil {
		c.t.Fatal(err)
	}
	body := map[string]any{"lines": lines}
	put := func(status int, as, id string, body any) {
		c.ask(status, call{as: as, method: "PUT", path: "/jobs/" + id + "/lines", body: body})
	}
	put(201, admin, "north-5", body)
	put(403, plan, "north-6", body)
	put(409, admin, "north-2", body)
	put(422, admin, "north-6", map[string]any{"lines": []any{}})
	lines[1].By = "p-somebody-else"
	put(422, admin, "north-7", body) // its hashes do not fit: a fault of what was sent, not of the store
}

func recordCalls(c *contract) {
	get := func(status int, as, path string) { c.ask(status, call{as: as, method: "GET", path: path}) }
	get(200, tech, "/jobs/north-1/record?name=finding/D1")
	get(404, tech, "/jobs/north-1/record?name=finding/D77")
	get(403, admin, "/jobs/north-1/record?name=finding/D1")
	c.normally(200, tech, "put-record", "PUT", "/jobs/north-1/record")
	c.normally(403, rev, "put-record", "PUT", "/jobs/north-1/record")
	c.ask(422, call{as: rev, method: "PUT", path: "/jobs/north-1/record?name=review", body: map[string]any{"text": "{by: T3,\n on: yesterday}", "seen": 0}, headers: key("r2")})
	c.ask(409, call{as: tech, method: "PUT", path: "/jobs/north-1/record?name=finding/D1", body: map[string]any{"text": "{id: D1, kind: crack, part: P-CASTING, seen: visual, by: technician T1, on: 2026-11-24}", "seen": 0}, headers: key("r3")})
	withdraw := func(status int, as, record, by string) {
		c.ask(status, call{as: as, method: "POST", path: "/jobs/north-1/withdraw", body: signedBy(map[string]any{"record": record, "by": by}), headers: key("w" + record + by)})
	}
	withdraw(403, tech, "risk/RK-FLANGE", "P1")
	withdraw(200, plan, "risk/RK-FLANGE", "P1")
	withdraw(409, plan, "risk/RK-KNEE", "NOBODY")
	c.ask(422, call{as: "planner+reviewer@north", method: "POST", path: "/jobs/north-1/withdraw", body: signedBy(map[string]any{"record": "vehicle"}), headers: key("w5")})
	c.ask(403, call{as: tech, method: "POST", path: "/jobs/north-5/hand-over", body: signedBy(map[string]any{"to": "south", "seen": 0}), headers: key("h1")})
	c.ask(409, call{as: plan, method: "POST", path: "/jobs/north-5/hand-over", body: signedBy(map[string]any{"to": "south", "seen": 0}), headers: key("h2")})
	c.ask(422, call{as: plan, method: "POST", path: "/jobs/north-5/hand-over", body: signedBy(map[string]any{"to": "west", "seen": 0}), headers: key("h3")})
	shown := c.ask(200, call{as: plan, method: "GET", path: "/jobs/north-5/record?name=owner"})
	c.ask(200, call{as: plan, method: "POST", path: "/jobs/north-5/hand-over", body: signedBy(map[string]any{"to": "south", "seen": field[float64](c, shown, "seen")}), headers: key("h4")})
	get(404, plan, "/jobs/north-5")
	get(200, "planner@south", "/jobs/south-1")
	c.normally(403, admin, "erase-texts", "POST", "/jobs/north-1/erase") // nobody has agreed to it
	c.normally(422, rev, "hand-back", "POST", "/jobs/north-1/hand-back")
	c.normally(403, admin, "hand-back", "POST", "/jobs/north-1/hand-back")
	c.normally(200, plan, "renew-job", "POST", "/jobs/north-1/renew")
	c.normally(403, admin, "renew-job", "POST", "/jobs/north-1/renew")
	c.ask(422, call{as: plan, method: "POST", path: "/jobs/north-1/renew", body: map[string]any{"body": hashOf([]byte("no body"))}, headers: key("n2")})
	reviewCalls(c)
	entriesAndQuestions(c)
}

// dentD77 is a finding that somebody proposes.
const dentD77 = "{id: D77, kind: dent, part: P-FENDER-L, seen: visual, by: planner P1, on: 2026-11-26}"

// reviewCalls takes a job through proposals, review, approval and an erasure that two persons carry out.
func reviewCalls(c *contract) {
	post := func(status int, as, id, path string, body map[string]any, k string) *httptest.ResponseRecorder {
		if body == nil {
			_, b, _ := minimal(c, id, "")
			body = b.(map[string]any)
		}
		return c.ask(status, call{as: as, method: "POST", path: "/jobs/north-1" + path, body: body, headers: key(k)})
	}
	c.ask(200, call{as: tech, method: "GET", path: "/jobs/north-1/proposals"})
	c.ask(403, call{as: admin, method: "GET", path: "/jobs/north-1/proposals"})
	post(200, plan, "propose", "/proposals", nil, "p1")
	post(200, plan, "propose", "/proposals", nil, "p1") // once more: the same answer
	post(403, rev, "propose", "/proposals", nil, "p2")
	post(422, plan, "", "/proposals", map[string]any{"of": "finding/D78", "record": dentD77, "by": "P1", "on": "2026-11-26"}, "p3")
	post(409, plan, "", "/proposals", map[string]any{"of": "finding/D78", "record": strings.Replace(dentD77, "D77", "D78", 1), "by": "P1", "on": "2026-11-26"}, "p1")
	post(403, plan, "take-over-proposal", "/proposals/PP-1/take-over", nil, "p4")
	post(404, tech, "take-over-proposal", "/proposals/PP-9/take-over", nil, "p5")
	post(422, tech, "", "/proposals/PP-1/take-over", map[string]any{"by": "NOBODY", "on": "2026-11-26"}, "p6")
	post(200, tech, "take-over-proposal", "/proposals/PP-1/take-over", nil, "p7")
	post(409, tech, "take-over-proposal", "/proposals/PP-1/take-over", nil, "p8")
	post(200, plan, "propose", "/proposals", map[string]any{"of": "finding/D78", "record": strings.Replace(dentD77, "D77", "D78", 1), "by": "P1", "on": "2026-11-26"}, "p9")
	post(403, plan, "decline-proposal", "/proposals/PP-2/decline", nil, "p10")
	post(422, tech, "", "/proposals/PP-2/decline", map[string]any{"by": "NOBODY", "on": "2026-11-26"}, "p11")
	post(404, tech, "decline-proposal", "/proposals/PP-9/decline", nil, "p12")
	post(200, tech, "decline-proposal", "/proposals/PP-2/decline", nil, "p13")
	post(409, tech, "decline-proposal", "/proposals/PP-2/decline", nil, "p14")

	head := func(status int, as string) string {
		got := c.ask(status, call{as: as, method: "GET", path: "/jobs/north-1/review"})
		if status != 200 {
			return ""
		}
		return field[map[string]any](c, got, "head")["hash"].(string)
	}
	head(403, admin)
	sees := func(hash string) map[string]any { return map[string]any{"seen": hash, "by": "T3", "on": "2026-11-26"} }
	post(409, rev, "", "/review/approve", sees(head(200, rev)), "v1") // it was not sent
	post(403, tech, "send-to-review", "/review/send", nil, "v2")
	post(422, plan, "", "/review/send", map[string]any{"part": "whole", "by": "NOBODY", "on": "2026-11-26"}, "v3")
	post(409, rev, "send-back", "/review/back", nil, "v4")
	post(200, plan, "send-to-review", "/review/send", nil, "v5")
	post(409, plan, "send-to-review", "/review/send", nil, "v6")
	post(403, plan, "send-back", "/review/back", nil, "v7")
	post(422, rev, "", "/review/back", signedBy(map[string]any{"part": "whole", "by": "T1"}), "v8")
	post(200, rev, "send-back", "/review/back", nil, "v9")
	post(200, plan, "send-to-review", "/review/send", nil, "v10")
	seen := head(200, rev)
	post(403, "reviewer@north,stale", "", "/review/approve", sees(seen), "v11")
	post(422, rev, "", "/review/approve", map[string]any{"seen": seen, "by": "T1", "on": "2026-11-26"}, "v12")
	post(200, rev, "", "/review/approve", sees(seen), "v13")
	post(200, rev, "", "/review/approve", sees(seen), "v13")
	post(409, rev, "reopen-job", "/reopen", nil, "v14")
	post(403, tech, "reopen-job", "/reopen", nil, "v15")

	erase := map[string]any{"record": "evidence/E2", "on": "2026-11-26", "reason": "asked for"}
	post(403, admin, "", "/erase", erase, "x1")
	post(403, admin, "agree-erasure", "/erase/agree", nil, "x2")
	post(422, rev, "", "/erase/agree", signedBy(map[string]any{"record": "evidence/E2", "by": "NOBODY"}), "x3")
	post(404, rev, "", "/erase/agree", signedBy(map[string]any{"record": "evidence/E-404", "by": "T3"}), "x4")
	post(200, rev, "agree-erasure", "/erase/agree", nil, "x5")
	post(409, rev, "", "/erase/agree", signedBy(map[string]any{"record": "evidence/E1", "by": "T3"}), "x5")
	post(403, "administrator@north,stale", "", "/erase", erase, "x6")
	post(200, admin, "", "/erase", erase, "x7")
}

func entriesAndQuestions(c *contract) {
	entries := c.ask(200, call{as: tech, method: "GET", path: "/jobs/north-1/entries?on=2026-11-26"})
	c.ask(403, call{as: admin, method: "GET", path: "/jobs/north-1/entries"})
	table := field[string](c, entries, "table")
	head, _, _ := strings.Cut(table, "\n")
	row := make([]string, strings.Count(head, ",")+1)
	for i, name := range strings.Split(strings.TrimSpace(head), ",") {
		row[i] = map[string]string{"entry": "evidence", "by": "T1", "on": "2026-11-26", "value": "x.jpg", "text": "t"}[name]
	}
	lookup := make([]string, len(row))
	for i, name := range strings.Split(strings.TrimSpace(head), ",") {
		lookup[i] = map[string]string{"entry": "setup", "setup": "Z", "what": "before", "by": "T1", "on": "2026-11-26", "device": "Arm", "value": "std=0.5 mm", "calibrated_until": "2027-01-01"}[name]
	}
	take := func(status int, as, k string, rows ...string) {
		c.ask(status, call{as: as, method: "POST", path: "/jobs/north-1/entries?on=2026-11-26", body: map[string]any{"table": head + "\n" + strings.Join(rows, "\n") + "\n"}, headers: key(k)})
	}
	take(422, tech, "e1", strings.Join(row, ","))
	take(200, tech, "e2", strings.Join(lookup, ","))
	take(403, rev, "e3", strings.Replace(strings.Join(lookup, ","), "Z", "Y", 1))
	c.ask(200, call{as: tech, method: "GET", path: "/jobs/north-1/question?about=D9&on=2026-11-26"})
	c.ask(403, call{as: admin, method: "GET", path: "/jobs/north-1/question?about=D9"})
	c.normally(200, tech, "send-question", "POST", "/jobs/north-1/questions")
	c.normally(403, admin, "send-question", "POST", "/jobs/north-1/questions")
	c.ask(409, call{as: tech, method: "POST", path: "/jobs/north-1/questions", body: map[string]any{"about": "D8", "by": "NOBODY"}, headers: key("q3")})
	c.normally(200, tech, "file-answer", "POST", "/jobs/north-1/answers")
	c.normally(403, admin, "file-answer", "POST", "/jobs/north-1/answers")
	c.ask(409, call{as: tech, method: "POST", path: "/jobs/north-1/answers", headers: key("a3"), body: bodyOf(c, "file-answer")})
	c.ask(200, call{as: plan, method: "GET", path: "/jobs/north-1/agreement?by=P1&on=2026-11-26"})
	c.ask(403, call{as: admin, method: "GET", path: "/jobs/north-1/agreement?by=P1"})
}

func answerCalls(c *contract) {
	for _, id := range []string{"assessment", "measurement", "inspection", "decisions", "routes", "plan", "order", "explain", "release", "check", "expose", "expose-sheet", "lengths", "lengths-page", "report", "owner", "sheets"} {
		path := "/jobs/north-1/" + id + "?on=2026-11-26"
		if id == "explain" {
			path += "&what=D2"
		}
		got := c.ask(200, call{as: tech, method: "GET", path: path})
		c.ask(304, call{as: tech, method: "GET", path: path, headers: []string{"If-None-Match", got.Header().Get("ETag")}})
		c.ask(403, call{as: admin, method: "GET", path: path})
	}
	c.ask(404, call{as: tech, method: "GET", path: "/jobs/north-1/explain?what=nonsense-of-nobody"})
	c.ask(422, call{as: tech, method: "GET", path: "/jobs/north-2/lengths"})
	c.ask(422, call{as: tech, method: "GET", path: "/jobs/north-2/lengths-page"})
	c.ask(422, call{as: tech, method: "GET", path: "/jobs/north-1/check?on=2036-11-26"})
	c.ask(400, call{as: tech, method: "GET", path: "/jobs/north-1/plan?on=yesterday"})
}

func severalCalls(c *contract) {
	for _, p := range []string{"/week", "/times"} {
		c.ask(200, call{as: tech, method: "GET", path: p + "?jobs=north-1&on=2026-11-26"})
		c.ask(403, call{as: admin, method: "GET", path: p + "?jobs=north-1"})
		c.ask(404, call{as: tech, method: "GET", path: p + "?jobs=north-1,south-1"})
	}
	c.normally(200, tech, "replay", "POST", "/replay")
	c.ask(403, call{as: admin, method: "POST", path: "/replay", body: map[string]any{"newer": "x", "jobs": []string{"north-1"}}})
	c.ask(404, call{as: tech, method: "POST", path: "/replay", body: map[string]any{"newer": "x", "jobs": []string{"south-1"}}})
	c.ask(422, call{as: tech, method: "POST", path: "/replay", body: map[string]any{"newer": "x: ["}})
	a := c.ask(200, call{as: tech, method: "GET", path: "/jobs/north-1/assessment?on=2026-11-26"})
	c.ask(200, call{as: tech, method: "POST", path: "/jobs/north-1/recompute", body: map[string]any{"assessment": a.Body.Bytes()}})
	c.ask(403, call{as: admin, method: "POST", path: "/jobs/north-1/recompute", body: map[string]any{"assessment": []byte("{}")}})
	c.ask(422, call{as: tech, method: "POST", path: "/jobs/north-1/recompute", body: map[string]any{"assessment": []byte("{}")}})
}

func toolCalls(c *contract) {
	refusesBody := func(id, path string, body map[string]any) {
		c.ask(422, call{as: tech, method: "POST", path: path, body: body})
	}
	bad := filesOf("p.yaml", []byte("x: ["), "m.ply", []byte("ply"), "r.csv", []byte("x"), "r.yaml", []byte("x: ["))
	for id, path := range map[string]string{"ask-procedure": "may", "procedure-table": "may-table", "rows": "rows", "take-rows": "take-rows", "check-files": "check", "draft-body": "body", "measure-files": "measure",
		"mesh": "mesh", "mesh-glb": "mesh-glb", "mend-mesh": "mend", "trace": "trace", "cut": "cut", "find-zones": "zones", "make-zones": "make-zones"} {
		path = "/tools/" + path
		_, body, _ := minimal(c, id, "")
		m, _ := body.(map[string]any)
		switch id {
		case "take-rows":
			rows := c.ask(200, call{as: tech, method: "POST", path: "/tools/rows", body: map[string]any{"files": filesOf("p.yaml", c.w.files["body/procedures/br-fc-d.yaml"]), "file": "p.yaml"}})
			c.ask(200, call{as: tech, method: "POST", path: path, body: map[string]any{"files": filesOf("p.yaml", c.w.files["body/procedures/br-fc-d.yaml"], "r.csv", []byte(field[string](c, rows, "table"))), "file": "p.yaml", "table": "r.csv"}})
		case "draft-body":
			c.ask(200, call{as: tech, method: "POST", path: path, body: map[string]any{"id": "van", "name": "Van", "source": "made up", "revision": "1", "loadState": "unloaded", "currency": "EUR", "invented": true,
				"files": filesOf("p.csv", []byte("id,x [mm],y [mm],z [mm],tol [mm]\nA,0,-500,0,3\nB,1000,500,0,3\nC,2000,-500,0,3\nD,3000,400,100,3\n")), "points": "p.csv", "references": []string{"A", "B", "C"}}})
		case "make-zones":
			c.ask(200, call{as: tech, method: "POST", path: path, body: map[string]any{"files": filesOf("r.yaml", c.w.recipe(), "m.ply", c.w.files["body/front-casting.ply"]), "recipe": "r.yaml", "name": "z"}})
		default:
			c.ask(200, call{as: tech, method: "POST", path: path, body: m})
		}
		c.ask(403, call{as: "nobody@north", method: "POST", path: path, body: m})
		if _, is := m["files"]; is {
			m["files"] = bad
		}
		if id == "mend-mesh" {
			m["files"] = filesOf("m.obj", []byte("f 1 2 9"))
			c.ask(404, call{as: tech, method: "POST", path: path, body: map[string]any{"files": filesOf("m.ply", c.w.files["body/front-casting.ply"]), "file": "m.ply", "unit": "mm", "toleranceMm": 0.01, "out": "o.ply"}})
		}
		if id == "check-files" {
			m["files"] = filesOf("shop.yaml", []byte("x: ["))
		}
		if id == "measure-files" {
			m["points"], m["readings"] = "r.csv", "r.csv"
		}
		refusesBody(id, path, m)
	}
}

// zeros is bytes without an end.
type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

func keptCalls(c *contract) {
	put := c.normally(201, plan, "put-bytes", "POST", "/bytes")
	put.as = admin
	c.ask(403, put)
	put.as, put.body = plan, io.MultiReader(strings.NewReader("half"), iotest.ErrReader(io.ErrUnexpectedEOF))
	c.ask(408, put)
	put.body = io.LimitReader(zeros{}, app.MostBytes+1) // nobody says how many come
	c.ask(413, put)
	hash := hashOf([]byte("x"))
	get := func(status int, as, path string, headers ...string) {
		c.ask(status, call{as: as, method: "GET", path: path, headers: headers})
	}
	get(200, tech, "/bytes/"+hash)
	get(200, tech, "/bytes/"+c.w.photo["north"])
	get(404, tech, "/bytes/"+c.w.photo["south"])
	get(404, tech, "/bytes/"+hashOf([]byte("nobody has it")))
	get(206, tech, "/bytes/"+c.w.photo["north"], "Range", "bytes=2-5")
	get(416, tech, "/bytes/"+c.w.photo["north"], "Range", "bytes=2000-")
	get(304, tech, "/bytes/"+c.w.photo["north"], "If-None-Match", `"`+c.w.photo["north"]+`"`)
	get(403, admin, "/bytes/"+c.w.photo["north"])
	c.ask(200, call{as: tech, method: "POST", path: "/bytes/" + hash + "/retain"})
	c.ask(404, call{as: tech, method: "POST", path: "/bytes/" + c.w.photo["south"] + "/retain"})
	c.ask(403, call{as: rev, method: "POST", path: "/bytes/" + hash + "/retain"})
	c.normally(201, plan, "keep-content", "POST", "/library")
	c.ask(403, call{as: plan, method: "POST", path: "/library", body: map[string]any{"files": filesOf("shop.yaml", []byte("another"))}})
	c.ask(422, call{as: plan, method: "POST", path: "/library", body: map[string]any{"files": filesOf("../body.yaml", []byte("x"), "body.yaml", []byte("x"))}})
	got := c.ask(200, call{as: admin, method: "GET", path: "/library/" + c.w.body})
	get(304, tech, "/library/"+c.w.body, "If-None-Match", got.Header().Get("ETag"))
	get(404, tech, "/library/"+hash)
	get(403, "nobody@north", "/library/"+c.w.body)
	file := "/library/" + c.w.body + "/file?name=body.yaml"
	got = c.ask(200, call{as: tech, method: "GET", path: file})
	get(304, tech, file, "If-None-Match", got.Header().Get("ETag"))
	get(206, tech, file, "Range", "bytes=-5")
	get(416, tech, file, "Range", "bytes=99999999-")
	get(404, tech, "/library/"+c.w.body+"/file?name=none.yaml")
	get(403, "nobody@north", file)
}

func uploadCalls(c *contract) {
	data := []byte("an inspection sheet, typed\n")
	announce := map[string]any{"name": "sheet.txt", "sha256": hashOf(data), "size": len(data), "text": "a sheet", "by": "T1", "on": "2026-11-26"}
	begin := call{as: tech, method: "POST", path: "/jobs/north-1/uploads", body: announce, headers: key("u1")}
	sent := c.ask(201, begin)
	begin.as = rev
	c.ask(403, begin)
	c.ask(422, call{as: tech, method: "POST", path: "/jobs/north-1/uploads", headers: key("u2"), body: map[string]any{"name": "sheet.txt", "sha256": hashOf(data), "size": len(data), "text": " ", "by": "T1", "on": "2026-11-26"}})
	at := "/jobs/north-1/uploads/" + field[string](c, sent, "id")
	c.ask(200, call{as: tech, method: "GET", path: at})
	c.ask(403, call{as: rev, method: "GET", path: at})
	c.ask(404, call{as: plan, method: "GET", path: at}) // somebody else's
	c.ask(409, call{as: tech, method: "POST", path: at + "/seal"})
	piece := call{as: tech, method: "PUT", path: at + "/piece?offset=0&sha256=" + url.QueryEscape(hashOf(data)), body: data, kind: "application/octet-stream"}
	wrong := piece
	wrong.body = []byte("other")
	c.ask(422, wrong)
	c.ask(200, piece)
	piece.as = rev
	c.ask(403, piece)
	c.ask(403, call{as: rev, method: "POST", path: at + "/seal"})
	c.ask(200, call{as: tech, method: "POST", path: at + "/seal"})
	c.ask(409, call{as: tech, method: "POST", path: "/jobs/north-1/uploads", headers: key("u1"), body: map[string]any{"name": "b.txt", "sha256": hashOf([]byte("b")), "size": 1, "text": "b", "by": "T1", "on": "2026-11-26"}})
	sent = c.ask(201, call{as: tech, method: "POST", path: "/jobs/north-1/uploads", headers: key("u4"), body: map[string]any{"name": "b.txt", "sha256": hashOf([]byte("b")), "size": 1, "text": "b", "by": "T1", "on": "2026-11-26"}})
	at = "/jobs/north-1/uploads/" + field[string](c, sent, "id")
	c.ask(200, call{as: tech, method: "PUT", path: at + "/piece?offset=0&sha256=" + hashOf([]byte("c")), body: []byte("c"), kind: "application/octet-stream"})
	c.ask(422, call{as: tech, method: "POST", path: at + "/seal"})
	sent = c.ask(201, call{as: tech, method: "POST", path: "/jobs/north-1/uploads", headers: key("u3"), body: map[string]any{"name": "b.txt", "sha256": hashOf([]byte("b")), "size": 1, "text": "b", "by": "T1", "on": "2026-11-26"}})
	at = "/jobs/north-1/uploads/" + field[string](c, sent, "id")
	c.ask(403, call{as: rev, method: "DELETE", path: at})
	c.ask(204, call{as: tech, method: "DELETE", path: at})
}

func taskCalls(c *contract) {
	asked := c.ask(201, call{as: tech, method: "POST", path: "/tasks", body: map[string]any{"kind": "assess", "job": "north-1", "on": "2026-11-26"}})
	c.ask(404, call{as: tech, method: "POST", path: "/tasks", body: map[string]any{"kind": "assess", "job": "south-1"}})
	c.ask(403, call{as: tech, method: "POST", path: "/tasks", body: map[string]any{"kind": "sweep"}})
	id := field[string](c, asked, "id")
	other, err := c.w.to.Want(c.t.Context(), must(app.AboutJob(app.TaskAssess, "south-1", "p-9", unit.DateOf(noon))))
	if err != nil {
		c.t.Fatal(err)
	}
	c.ask(200, call{as: tech, method: "GET", path: "/tasks"})
	c.ask(403, call{as: "nobody@north", method: "GET", path: "/tasks"})
	for _, p := range []string{"/tasks/" + id, "/tasks/" + id + "/result"} {
		c.ask(403, call{as: "nobody@north", method: "GET", path: p})
		c.ask(404, call{as: tech, method: "GET", path: strings.Replace(p, id, other, 1)})
	}
	c.ask(200, call{as: tech, method: "GET", path: "/tasks/" + id})
	c.ask(409, call{as: tech, method: "GET", path: "/tasks/" + id + "/result"})
	c.ask(409, call{as: plan, method: "POST", path: "/tasks/" + id + "/again"})
	c.ask(204, call{as: plan, method: "POST", path: "/tasks/" + id + "/stop"})
	c.ask(409, call{as: plan, method: "POST", path: "/tasks/" + id + "/stop"})
	c.ask(204, call{as: plan, method: "POST", path: "/tasks/" + id + "/again"})
	for _, p := range []string{"/stop", "/again"} {
		c.ask(403, call{as: tech, method: "POST", path: "/tasks/" + id + p})
		c.ask(404, call{as: plan, method: "POST", path: "/tasks/" + other + p})
	}
	c.done(id)
	at := "/tasks/" + id + "/result"
	got := c.ask(200, call{as: tech, method: "GET", path: at})
	c.ask(304, call{as: tech, method: "GET", path: at, headers: []string{"If-None-Match", got.Header().Get("ETag")}})
	c.ask(206, call{as: tech, method: "GET", path: at, headers: []string{"Range", "bytes=0-3"}})
	c.ask(416, call{as: tech, method: "GET", path: at, headers: []string{"Range", "bytes=99999999-"}})
	zones := map[string]any{"files": filesOf("r.yaml", c.w.recipe(), "m.ply", c.w.files["body/front-casting.ply"]), "recipe": "r.yaml"}
	c.ask(201, call{as: plan, method: "POST", path: "/tasks/zones", body: zones})
	c.ask(403, call{as: tech, method: "POST", path: "/tasks/zones", body: zones})
	c.ask(422, call{as: plan, method: "POST", path: "/tasks/zones", body: map[string]any{"files": filesOf("r.yaml", []byte("x: [")), "recipe": "r.yaml"}})
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func keepingCalls(c *contract) {
	at := "/jobs/north-1/holds"
	h := c.ask(201, call{as: rev, method: "POST", path: at, body: map[string]any{"reason": "a claim at court"}})
	c.ask(403, call{as: tech, method: "POST", path: at, body: map[string]any{"reason": "x"}})
	c.ask(200, call{as: admin, method: "GET", path: at})
	c.ask(404, call{as: "reader@north,link", method: "GET", path: at})
	end := at + "/" + field[string](c, h, "id") + "/end"
	c.ask(403, call{as: tech, method: "POST", path: end})
	c.ask(200, call{as: rev, method: "POST", path: end})
	c.ask(200, call{as: admin, method: "GET", path: "/holds"})
	c.ask(403, call{as: "nobody@north", method: "GET", path: "/holds"})
	c.ask(200, call{as: admin, method: "GET", path: "/checkpoint"})
	c.ask(403, call{as: "nobody@north", method: "GET", path: "/checkpoint"})
	c.ask(200, call{as: admin, method: "POST", path: "/sweep"})
	c.ask(403, call{as: tech, method: "POST", path: "/sweep"})
}
