package api

import (
	"context"
	"fmt"
	"maps"
	"math/rand"
	"net/http/httptest"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/app"
	"fettle/internal/right"
	"fettle/internal/unit"
)

// whole says that all of what a test can do is wanted, and not a cut.
func whole() bool { return os.Getenv("FETTLE_PERMISSIONS") != "" }

// south is the identities of things of the other shop, by what they are. Whatever a person there has written of them has its mark.
func (h *house) south() map[string]string {
	ctx, out := h.t.Context(), map[string]string{}
	for _, stage := range stages {
		out["job, "+stage] = jobAt("south", stage)
		h.must(h.to.Index(ctx, jobAt("south", stage), 1, func(was app.Shown) app.Shown { was.Title = southMark; return was }))
	}
	out["photo"], out["shop file"], out["person"] = h.photo["south"], h.shop["south"], h.victim["south"]
	task, err := h.to.Want(ctx, must(app.AboutJob(app.TaskAssess, "south-1", "p-9", unit.DateOf(noon))))
	h.must(err)
	hold, err := h.to.BeginHold(ctx, "south-1", "p-kept", southMark)
	h.must(err)
	as := h.use.As(right.Who{Person: h.victim["south"], Shop: "south", Roles: []right.Role{right.Technician}, Fresh: true}, app.Shop{ID: "south", Several: true, Everybody: true})
	sent, err := as.BeginUpload(ctx, "u", app.Sending{Job: "south-1", Name: southMark + ".txt", SHA256: hashOf([]byte("x")), Size: 1, Text: southMark, By: "T1", On: unit.DateOf(noon)})
	h.must(err)
	w := right.Who{Person: h.victim["south"], Shop: "south", Roles: []right.Role{right.Technician}, Fresh: true}
	token, _, err := h.in.MakeToken(ctx, w, account.NewToken{Name: southMark, For: time24})
	h.must(err)
	invitation, _, err := h.in.Invite(ctx, h.bossIn("south").Who, []right.Role{right.Planner})
	h.must(err)
	sessions, err := h.in.Sessions(ctx, w)
	h.must(err)
	if len(sessions) == 0 {
		a := &actor{signIn: "victim-2", as: "person", asker: asker{shop: "south", fresh: true}}
		h.enter(a)
		if sessions, err = h.in.Sessions(ctx, w); len(sessions) == 0 {
			h.t.Fatal("the victim of the south has no session", err)
		}
	}
	out["task"], out["hold"], out["upload"], out["token"], out["invitation"], out["session"] = task, hold.ID, sent.ID, token.ID, invitation.ID, sessions[0].ID
	return out
}

// rows is every row of the database that says something of one of some texts.
func (h *house) rows(texts []string) map[string]bool {
	h.t.Helper()
	ctx := context.Background()
	names := []string{}
	h.must(h.to.Read(ctx, "select name from sqlite_master where type = 'table'", nil, func(scan func(...any) error) error {
		var name string
		err := scan(&name)
		names = append(names, name)
		return err
	}))
	out := map[string]bool{}
	for _, name := range names {
		all, err := h.at.QueryContext(ctx, "select * from "+name)
		h.must(err)
		columns, err := all.Columns()
		h.must(err)
		for all.Next() {
			cells := make([]any, len(columns))
			to := make([]any, len(columns))
			for i := range cells {
				to[i] = &cells[i]
			}
			h.must(all.Scan(to...))
			row := name
			for _, c := range cells {
				if b, is := c.([]byte); is {
					c = string(b)
				}
				row += fmt.Sprintf(" %v", c)
			}
			if slices.ContainsFunc(texts, func(t string) bool { return strings.Contains(row, t) }) {
				out[row] = true
			}
		}
		h.must(all.Err())
		h.must(all.Close())
	}
	return out
}

// placed are the requests of a route with an identity in one place of each: path, query, body and header.
func (h *house) placed(c *contract, r Route, a *actor, things map[string]string, id string) (out []call) {
	path := strings.TrimPrefix(r.Path, Prefix)
	of := func(path string) call {
		for name, value := range things {
			path = strings.ReplaceAll(path, name, value)
		}
		path = strings.NewReplacer("{job}", "north-1", "{hash}", h.photo["north"]).Replace(path)
		one := call{method: r.Method, headers: key(fmt.Sprint("k", h.n, len(out)))}
		one.path, one.body, one.kind = minimal(c, r.ID, path)
		if one.body == nil {
			one.body = h.minimalWay(r.ID, a)
		}
		return one
	}
	for _, m := range inBraces.FindAllString(path, -1) {
		out = append(out, of(strings.ReplaceAll(path, m, id)))
	}
	_, op := c.of(r.Method, of(path).path)
	for _, p := range op.Parameters {
		if p.In == "query" {
			one := of(path)
			base, query, _ := strings.Cut(one.path, "?")
			var keep []string
			for part := range strings.SplitSeq(query, "&") {
				if part != "" && !strings.HasPrefix(part, p.Name+"=") {
					keep = append(keep, part)
				}
			}
			one.path = base + "?" + strings.Join(append(keep, p.Name+"="+id), "&")
			out = append(out, one)
		}
	}
	if body, is := of(path).body.(map[string]any); is {
		for name, value := range body {
			if name == "password" { // it would be theirs from then on
				continue
			}
			switch value.(type) {
			case string, []string, []any:
				one := of(path)
				fresh := maps.Clone(body)
				if fresh[name] = any(id); name == "jobs" || name == "roles" {
					fresh[name] = []string{id}
				}
				one.body = fresh
				out = append(out, one)
			}
		}
	}
	for _, name := range []string{"Idempotency-Key", "If-Match", "Last-Event-ID"} {
		one := of(path)
		lighter(&one, r)
		one.headers = append(one.headers, name, id)
		out = append(out, one)
	}
	return out
}

// insiders are people of the north of each role, and one with all of them.
func insiders(all []*actor) (out []*actor) {
	for _, a := range all {
		if a.shop == "north" && !a.gone && (a.as == "link" || a.as == "person" && a.fresh) {
			out = append(out, a)
		}
	}
	return out
}

// TestNothingOfAnotherShop: every identity of a thing of the south, tried by everybody of the north in path, query, body and header of every route: nothing of it is
// read, and nothing of it is changed. FETTLE_PERMISSIONS=all tries all, and otherwise one in so many.
func TestNothingOfAnotherShop(t *testing.T) {
	h := newHouse(t)
	c, rnd := newContract(t, h.world), rand.New(rand.NewSource(1))
	task, err := h.to.Want(t.Context(), must(app.AboutJob(app.TaskAssess, "north-1", "p-9", unit.DateOf(noon))))
	h.must(err)
	everybody, things, ids := insiders(h.actors()), h.objects(task), h.south()
	texts := append(slices.Collect(maps.Values(ids)), "south")
	began, tries, read, changed, byStatus := time.Now(), 0, 0, 0, map[int]int{}
	cut := 200
	if whole() {
		cut = 1
	}
	kept := h.rows(texts)
	for _, r := range h.operations() {
		if needed[r.ID].fixed != 0 {
			continue
		}
		for _, a := range everybody {
			for _, what := range slices.Sorted(maps.Keys(ids)) {
				if rnd.Intn(cut) != 0 {
					continue
				}
				h.enter(a)
				for _, one := range h.placed(c, r, a, things, ids[what]) {
					if (r.ID == "begin-job" || r.ID == "bring-job") && !strings.HasPrefix(what, "job") {
						continue // it is a name that a job of the north may have
					}
					h.enter(a)
					got := h.asks(a, one)
					tries++
					byStatus[got.Code/100*100]++
					text := got.Body.String()
					here, _, _ := strings.Cut(one.path, "?")
					if strings.Contains(text, southMark) || strings.Contains(text, "only south has") || strings.Contains(text, "repair shop, south") || strings.Contains(here, "/"+ids[what]) && got.Code < 300 && r.ID != "drop-upload" { // which ends what is not there as well
						if read++; read < 20 {
							t.Errorf("%s %s of the south (%s) as %s: %d %s", r.ID, one.path, what, a.name, got.Code, short(got))
						}
					}
				}
			}
		}
		if !whole() && r.ID != "withdraw-record" { // the last
			continue
		}
		now := h.rows(texts)
		for row := range kept {
			if !now[row] {
				changed++
				delete(kept, row)
				t.Errorf("%s changes of the south: %.300s", r.ID, row)
			}
		}
	}
	t.Logf("%d tries with %d identities by %d people: %d readable, %d changed; answers %v; %v", tries, len(ids), len(everybody), read, changed, byStatus, time.Since(began).Round(time.Millisecond))
}

var requestID = regexp.MustCompile(`"id":"[0-9a-f]{20}"`)

// alike is an answer without what it says of the request alone.
func alike(r *httptest.ResponseRecorder, id string) string {
	text := requestID.ReplaceAllString(r.Body.String(), `"id":""`)
	return fmt.Sprint(r.Code, " ", r.Header().Get("Content-Type"), " ", strings.ReplaceAll(text, id, "ID"))
}

// TestExistenceIsNotTold: what is there and not yours is what is not there: the same status, the same bytes but for the name that was asked with, and, as far as
// noise goes, the same time.
func TestExistenceIsNotTold(t *testing.T) {
	h := newHouse(t)
	c := newContract(t, h.world)
	everybody, things, ids := insiders(h.actors()), h.objects("x"), h.south()
	pairs := map[string][2]string{"{job}": {"south-1", "south-9"}, "{hash}": {ids["photo"], hashOf([]byte("nobody's"))}, "{task}": {ids["task"], strings.Repeat("0", len(ids["task"]))}, "{hold}": {ids["hold"], strings.Repeat("0", len(ids["hold"]))},
		"{upload}": {ids["upload"], strings.Repeat("0", len(ids["upload"]))}, "{person}": {ids["person"], strings.Repeat("0", len(ids["person"]))}, "{token}": {ids["token"], strings.Repeat("0", len(ids["token"]))},
		"{invitation}": {ids["invitation"], "invitation-0000000000000000"}, "{session}": {ids["session"], "0000000000000000"}}
	compared, told := 0, 0
	ask := func(r Route, a *actor, name, id, body string) *httptest.ResponseRecorder {
		path := strings.ReplaceAll(strings.TrimPrefix(r.Path, Prefix), name, id)
		for n, value := range things {
			path = strings.ReplaceAll(path, n, value)
		}
		path = strings.NewReplacer("{job}", "north-1", "{hash}", h.photo["north"]).Replace(path)
		one := call{method: r.Method, headers: key(fmt.Sprint("e", h.n))}
		one.path, one.body, one.kind = minimal(c, r.ID, path)
		if one.body == nil {
			one.body = h.minimalWay(r.ID, a)
		}
		if m, is := one.body.(map[string]any); is && body != "" {
			if m[body] = any(id); body == "jobs" {
				m[body] = []string{id}
			}
		}
		h.enter(a)
		return h.asks(a, one)
	}
	compare := func(r Route, name, body string, pair [2]string) {
		for _, a := range everybody {
			there, none := alike(ask(r, a, name, pair[0], body), pair[0]), alike(ask(r, a, name, pair[1], body), pair[1])
			if compared++; there != none {
				if told++; told < 20 {
					t.Errorf("%s as %s tells what is there from what is not:\n%.300s\n%.300s", r.ID, a.name, there, none)
				}
			}
		}
	}
	byID := map[string]Route{}
	for _, r := range h.operations() {
		byID[r.ID] = r
		for name, pair := range pairs {
			if strings.Contains(r.Path, name) && r.ID != "begin-job" && r.ID != "bring-job" {
				if strings.HasPrefix(r.ID, "content") {
					pair[0] = h.shop["south"]
				}
				compare(r, name, "", pair)
			}
		}
	}
	compare(byID["replay"], "-", "jobs", pairs["{job}"])
	compare(byID["want-task"], "-", "job", pairs["{job}"])
	tries := 20
	if whole() {
		tries = 1000 / 5
	}
	for id, name := range map[string]string{"job": "{job}", "bytes": "{hash}", "task": "{task}", "person": "{person}", "revoke-token": "{token}"} {
		var took [2][]time.Duration
		a := everybody[slices.IndexFunc(everybody, func(a *actor) bool { return len(a.roles) == 4 })]
		for i := range 2 * tries {
			began := time.Now()
			ask(byID[id], a, name, pairs[name][i%2], "")
			took[i%2] = append(took[i%2], time.Since(began))
		}
		for i := range took {
			slices.Sort(took[i])
		}
		t.Logf("%s: median of %d each: there %v, not there %v", id, tries, took[0][tries/2], took[1][tries/2])
	}
	t.Logf("%d pairs of answers, %d told apart", compared, told)
}
