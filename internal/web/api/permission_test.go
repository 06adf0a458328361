package api

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"fettle/internal/account"
	"fettle/internal/app"
	"fettle/internal/right"
	"fettle/internal/unit"
)

// needs is what a route is for somebody: the acts that all have to be allowed, and the limits that it keeps.
type needs struct {
	acts  []right.Act
	keeps []right.Limit
	job   bool // it is about a job, which of another shop is not there
	past  bool // it names the revision, which a link is for
	found bool // or about something else that of another shop is not there

	first bool // of another shop it is not there, also for who may not do it in their own
	group bool // every shop of the group may be told of the others
	fixed int  // anybody may ask, and this is what they are told
	bare  bool // whoever is signed in may ask
	else4 bool // who may do it is refused for another reason, or does not find what is not there
}

func act(a ...right.Act) needs           { return needs{acts: a} }
func ofJob(a ...right.Act) needs         { return needs{acts: a, job: true} }
func (n needs) keep(l right.Limit) needs { n.keeps = append(n.keeps, l); return n }
func (n needs) elsewhere() needs         { n.found = true; return n }
func report() needs                      { return ofJob(right.ReadReport) }
func anybody(status int) needs           { return needs{fixed: status} }
func (n needs) before() needs            { n.first = true; return n }
func (n needs) otherwise() needs         { n.else4 = true; return n }

// revision is a route that shows a job as it was at an event.
func revision(a right.Act) needs {
	n := ofJob(a).keep(right.OnlyRolesAndIDs).otherwise()
	n.past = true
	return n
}

// needed is what each route is, written down beside the matrix by hand: a route that is not here fails.
var needed = map[string]needs{
	"jobs": act(right.SeeJobs).keep(right.OnlyListed), "jobs-by-name": act(right.SeeJobs).keep(right.OnlyListed),
	"begin-job": act(right.BeginJob), "bring-job": act(right.LookAfterStore),
	"job": report().keep(right.OnlyRolesAndIDs), "events": ofJob(right.ReadReport, right.SeeJob), "history": ofJob(right.ReadHistory).keep(right.OnlyNoContents),
	"lines": ofJob(right.DownloadJob), "aside": ofJob(right.DownloadJob), "set-aside": ofJob(right.SeeJob, right.BeginJob),
	"change-job": ofJob(right.SeeJob, right.RecordReadings), "index-job": ofJob(right.DescribeVehicle),
	"record": ofJob(right.SeeJob), "put-record": ofJob(right.SeeJob, right.RecordReadings), "withdraw-record": ofJob(right.SeeJob, right.WithdrawEntry),
	"hand-over-job": ofJob(right.SeeJob, right.HandOver), "erase-texts": ofJob(right.CarryOutErasure), "renew-job": ofJob(right.SeeJob), "hand-back": ofJob(right.SeeJob),
	"agree-erasure": ofJob(right.AgreeErasure), "review": ofJob(right.SeeJob), "send-to-review": ofJob(right.SeeJob, right.SendToReview), "send-back": ofJob(right.SeeJob, right.SendBack), "approve": ofJob(right.SeeJob, right.Approve),
	"reopen-job": ofJob(right.SeeJob, right.OpenRevision), "proposals": ofJob(right.SeeJob), "propose": ofJob(right.SeeJob, right.EnterFindings).keep(right.OnlyProposals), "take-over-proposal": ofJob(right.SeeJob, right.EnterFindings), "decline-proposal": ofJob(right.SeeJob, right.EnterFindings),
	"open-entries": ofJob(right.SeeJob), "take-entries": ofJob(right.SeeJob), "question": report(), "send-question": ofJob(right.AskManufacturer),
	"file-answer": ofJob(right.FileAnswer), "agreement": report(),
	"assessment": report(), "measurement": report(), "inspection": report(), "decisions": report(), "routes": report(), "plan": report(), "order": report(),
	"explain": report(), "release": report(), "check-job": report(), "expose": report(), "expose-sheet": report(), "lengths": report(), "lengths-page": report(),
	"report": report(), "owner-page": report(), "sheets": report(), "week": report(), "times": report(), "recompute": report(), "replay": act(right.SeeBodies),
	"ask-procedure": act(right.SeeBodies), "procedure-table": act(right.SeeBodies), "rows": act(right.SeeBodies), "take-rows": act(right.SeeBodies),
	"check-files": act(right.SeeBodies), "draft-body": act(right.SeeBodies), "measure-files": act(right.SeeBodies), "mesh": act(right.SeeBodies),
	"mesh-glb": act(right.SeeBodies), "mend-mesh": act(right.SeeBodies), "trace": act(right.SeeBodies), "cut": act(right.SeeBodies),
	"find-zones": act(right.SeeBodies), "make-zones": act(right.SeeBodies),
	"put-bytes": act(right.BeginJob), "bytes": act(right.SeeJobs).elsewhere(), "retain-bytes": act(right.BeginJob).elsewhere(),
	"keep-content": act(right.SeeBodies), "content": act(right.SeeBodies).elsewhere(), "content-file": act(right.SeeBodies).elsewhere(),
	"begin-upload": ofJob(right.AddEvidence), "upload": ofJob(right.AddEvidence), "send-piece": ofJob(right.AddEvidence), "seal-upload": ofJob(right.AddEvidence), "drop-upload": ofJob(right.AddEvidence),
	"tasks": act(right.SeeTasks), "want-task": ofJob(right.Assess), "want-zones": act(right.LoadBody), "task": act(right.SeeTasks).elsewhere(),
	"stop-task": act(right.StopTasks).elsewhere(), "again-task": act(right.StopTasks).elsewhere(), "task-result": act(right.SeeTasks, right.ReadReport).elsewhere(),
	"holds": ofJob(right.ReadHistory).keep(right.OnlyNoContents), "begin-hold": ofJob(right.HoldJob), "end-hold": ofJob(right.EndHold),
	"revision-report": revision(right.ReadReport), "revision-owner": revision(right.ReadReport), "revision-assessment": revision(right.ReadReport), "revision-proof": revision(right.ReadReport),
	"revision-files": revision(right.DownloadJob), "revision-history": revision(right.ReadHistory).keep(right.OnlyNoContents),
	"all-holds":  act(right.SeeJobs).keep(right.OnlyListed),
	"checkpoint": act(right.VerifyLog), "sweep": act(right.LookAfterStore),

	"make-link": ofJob(right.MakeLink), "links": ofJob(right.ReadHistory).keep(right.OnlyNoContents), "revoke-link": ofJob(right.RevokeLink), "open-link": anybody(403),

	"version": anybody(200), "schema": anybody(200), "stream": {bare: true},
	"first": anybody(403), "sign-in": anybody(200), "sign-out": anybody(204), "set-password": anybody(403), "begin-passkey-sign-in": anybody(200), "sign-in-by-passkey": anybody(403), "go-to-provider": anybody(404),
	"session": {bare: true}, "prove": act(right.ProveOneself), "choose-shop": act(right.ChooseShop), "begin-passkey-proof": act(right.ProveOneself), "prove-by-passkey": act(right.ProveOneself).otherwise(),
	"passkeys": act(right.SeeAccount), "begin-passkey": act(right.ChangeSignIn), "add-passkey": act(right.ChangeSignIn).otherwise(), "remove-passkey": act(right.ChangeSignIn).otherwise(),
	"codes": act(right.SeeAccount), "begin-codes": act(right.ChangeSignIn), "confirm-codes": act(right.ChangeSignIn).otherwise(), "remove-codes": act(right.ChangeSignIn), "change-password": act(right.ChangeSignIn),
	"sessions": act(right.SeeAccount), "end-session": act(right.EndSessions).otherwise(), "end-other-sessions": act(right.EndSessions),
	"own-shops": act(right.SeeAccount), "join-shop": act(right.JoinOrLeave).otherwise(), "leave-shop": act(right.JoinOrLeave).otherwise(),
	"provider": act(right.SeeAccount), "untie-provider": act(right.ChangeSignIn),
	"people": act(right.SeePeople), "person": act(right.SeePeople).elsewhere(), "add-person": act(right.ManagePeople), "erase-person": act(right.ManagePeople).before(), "give-roles": act(right.GiveRoles).before(),
	"set-state": act(right.ManagePeople).before(), "reset-link": act(right.ManagePeople).before(),
	"tokens": act(right.SeeAccount), "make-token": act(right.MakeToken), "revoke-token": act(right.ManageTokens).elsewhere(),
	"invitations": act(right.ManagePeople), "invite": act(right.ManagePeople), "take-invitation-back": act(right.ManagePeople).elsewhere(), "security-log": act(right.ReadSecurityLog),
	"shops": act(right.SeePeople), "shop": act(right.SeePeople), "add-shop": act(right.ChangeGroup), "set-shop": {acts: []right.Act{right.ChangeSettings}, group: true},
}

// absent are routes of which who may ask finds nothing, because what is asked for is nobody's.
var absent = []string{"upload", "send-piece", "seal-upload", "drop-upload", "end-hold"}

// want is what the second reading says of a request: the status of a refusal, or 0.
func want(m sheet, a *actor, n needs, on thing) int {
	switch {
	case n.fixed != 0:
		return 0
	case a.gone, a.as == "link" && !n.past: // what a link gives is good for its revision, and for nothing else
		return http.StatusUnauthorized
	case n.bare:
		return 0
	case (n.job || n.first) && a.shop != on.shop:
		return http.StatusNotFound
	}
	for _, act := range n.acts {
		about := on
		if !n.job && !n.group && act != right.ReadReport {
			about.shop, about.job = a.shop, ""
		}
		if m[act]["about"] == "self" {
			about.person = a.person
		}
		status, limits := m.says(act, a.asker, about)
		switch {
		case status != 0:
			return status
		case slices.ContainsFunc(limits, func(l string) bool { return !slices.Contains(n.keeps, right.Limit(l)) }):
			return http.StatusForbidden
		case n.found && a.shop != on.shop:
			return http.StatusNotFound
		}
	}
	return 0
}

// lighter makes a request one that takes less once it is allowed: of an answer that one has, or with files that cannot be read.
func lighter(one *call, r Route) {
	body, is := one.body.(map[string]any)
	switch {
	case r.Method == http.MethodGet:
		one.headers = append(one.headers, "If-None-Match", "*")
	case is && strings.Contains(r.Path, "/tools/") && body["files"] != nil:
		for _, f := range body["files"].([]any) {
			f.(map[string]any)["data"] = []byte("x")
		}
	}
}

// minimalWay is a request of a way, which who may ask is not refused but for what stands in needed.
func (h *house) minimalWay(id string, a *actor) any {
	h.names++
	fresh := fmt.Sprint("n", h.names)
	switch id {
	case "make-link":
		return map[string]any{}
	case "open-link":
		return map[string]any{"secret": "x"}
	case "first":
		return map[string]any{"secret": "x", "shop": "new", "shop_name": "New", "name": "N", "sign_in": "n", "password": houseWord}
	case "sign-in":
		return map[string]any{"name": "boss", "password": houseWord}
	case "set-password":
		return map[string]any{"secret": "x", "password": houseWord}
	case "sign-in-by-passkey", "prove-by-passkey":
		return map[string]any{"answer": map[string]any{}}
	case "go-to-provider":
		return map[string]any{"for": "sign in"}
	case "prove":
		return map[string]any{"password": houseWord}
	case "choose-shop":
		return map[string]any{"shop": a.shop}
	case "add-passkey":
		return map[string]any{"name": "p", "answer": map[string]any{}}
	case "confirm-codes":
		return map[string]any{"code": "000000"}
	case "change-password":
		return map[string]any{"password": houseWord}
	case "join-shop":
		return map[string]any{"secret": "x"}
	case "add-person":
		return map[string]any{"name": "N", "sign_in": fresh, "roles": []string{"planner"}}
	case "give-roles":
		return map[string]any{"roles": []string{"technician"}}
	case "set-state":
		return map[string]any{"active": true}
	case "reset-link":
		return map[string]any{"lost": false}
	case "make-token":
		return map[string]any{"name": "t", "days": 1}
	case "invite":
		return map[string]any{"roles": []string{"planner"}}
	case "add-shop":
		return map[string]any{"shop": "south", "name": "S"} // it is there
	case "set-shop":
		return map[string]any{"name": "North", "everybody": true, "alone": false}
	}
	return nil
}

// objects are those of the north that routes are about.
func (h *house) objects(task string) map[string]string {
	ctx := h.t.Context()
	out := map[string]string{"{upload}": "x", "{hold}": "x", "{event}": "999999", "{link}": "x", "{task}": task, "{person}": h.victim["north"], "{session}": "x", "{passkey}": "x", "{shop}": "north", "{document}": "job", "{proposal}": "PP-9"}
	w := right.Who{Person: h.victim["north"], Shop: "north", Roles: []right.Role{right.Technician}, Fresh: true}
	token, _, err := h.in.MakeToken(ctx, w, account.NewToken{Name: "of the victim", For: time24})
	h.must(err)
	i, _, err := h.in.Invite(ctx, h.bossIn("north").Who, []right.Role{right.Planner})
	h.must(err)
	out["{token}"], out["{invitation}"] = token.ID, i.ID
	return out
}

// changesJob are routes that write into a job where one may: each is tried on one of its own then.
func changesJob(r Route) bool {
	return strings.Contains(r.Path, "{job}") && r.Method != http.MethodGet && !strings.Contains(r.Path, "/uploads")
}

// try is one request of an actor, and what it is about.
type try struct {
	h      *house
	c      *contract
	m      sheet
	r      Route
	n      needs
	a      *actor
	stage  string
	things map[string]string
	light  bool
}

// about is what is known of what is asked for.
func (x try) about() thing {
	return thing{shop: "north", job: jobAt("north", x.stage), stage: x.stage, author: "p-kept", authors: []string{"p-kept"}, person: x.h.victim["north"], administratorLeft: true}
}

// request is what is asked; what is allowed has things of its own where it uses them up.
func (x try) request(allowed bool) call {
	h, r := x.h, x.r
	id, things := jobAt("north", x.stage), x.things
	if allowed && changesJob(r) {
		h.names++
		id = fmt.Sprint("north-j", h.names)
		if r.ID != "begin-job" && r.ID != "bring-job" {
			h.newJob("north", id, x.stage)
		}
	}
	if allowed && slices.Contains([]string{"erase-person", "revoke-token", "take-invitation-back"}, r.ID) {
		things = h.objects(x.things["{task}"])
		if r.ID == "erase-person" {
			things["{person}"] = h.person("north", "erased", right.Technician)
		}
	}
	path := strings.TrimPrefix(r.Path, Prefix)
	if x.n.past && (!x.light || x.a.as == "link") { // otherwise one that is not there
		head, err := h.to.Head(h.t.Context(), id)
		h.must(err)
		path = strings.ReplaceAll(path, "{event}", fmt.Sprint(head.Seq))
	}
	if r.ID == "revoke-link" {
		path = strings.ReplaceAll(path, "{link}", h.linkOf(id))
	}
	for name, value := range things {
		path = strings.ReplaceAll(path, name, value)
	}
	hash := h.photo["north"]
	if strings.HasPrefix(r.ID, "content") {
		hash = h.shop["north"]
	}
	path = strings.NewReplacer("{job}", id, "{hash}", hash).Replace(path)
	one := call{method: r.Method, headers: key(fmt.Sprint(r.ID, h.n))}
	one.path, one.body, one.kind = minimal(x.c, r.ID, path)
	one.path = strings.Replace(one.path, "/file?name=body.yaml", "/file?name=shop.yaml", 1)
	if r.ID == "withdraw-record" {
		one.body = signedBy(map[string]any{"record": "risk/RK-BRACE", "by": "NOBODY"})
	}
	if one.body == nil {
		one.body = h.minimalWay(r.ID, x.a)
	}
	if x.light {
		lighter(&one, r)
	}
	return one
}

// wrong says what is wrong with an answer; empty: nothing.
func (x try) wrong(want int, got *httptest.ResponseRecorder, changed bool) string {
	refused := got.Code == http.StatusForbidden || got.Code == http.StatusUnauthorized || got.Code == http.StatusNotFound
	mine := strings.HasPrefix(detail(got), "one may not ") || strings.HasPrefix(detail(got), "one may ")
	safe := x.r.Method == http.MethodGet
	switch {
	case got.Code >= 500:
		return "a fault"
	case x.n.fixed != 0 && got.Code != x.n.fixed:
		return fmt.Sprint("want ", x.n.fixed)
	case want != 0 && got.Code != want:
		return fmt.Sprint("want ", want)
	case want == 0 && x.n.fixed == 0 && refused && mine:
		return "it is refused, and is allowed"
	case want == 0 && x.n.fixed == 0 && refused && !x.n.else4 && !(got.Code == http.StatusNotFound && slices.Contains(absent, x.r.ID)):
		return "it is refused for another reason"
	case (want != 0 || safe) && changed:
		return "something was written"
	}
	return ""
}

// TestEveryRouteForEverybody: every operation of the description, for everybody there is, in the own shop and in another, with a draft, a job that is
// approved and one that was released: what the second reading of the matrix says. What is refused, and what only reads, writes nothing.
// FETTLE_PERMISSIONS=all tries everybody with every route.
func TestEveryRouteForEverybody(t *testing.T) {
	h := newHouse(t)
	c, m := newContract(t, h.world), readSheet(t)
	task, err := h.to.Want(t.Context(), must(app.AboutJob(app.TaskAssess, "north-1", "p-9", unit.DateOf(noon))))
	if err != nil {
		t.Fatal(err)
	}
	everybody, things := h.actors(), h.objects(task)
	each, began := 17, time.Now()
	if os.Getenv("FETTLE_PERMISSIONS") != "" {
		each = 1
	}
	checks, all, wrong, byStatus := 0, 0, 0, map[int]int{}
	for k, r := range h.operations() {
		n, is := needed[r.ID]
		if !is {
			t.Errorf("nobody has said what one may be asked for with %s (%s %s)", r.ID, r.Method, r.Path)
			continue
		}
		of := stages[:1]
		if strings.Contains(r.Path, "{job}") {
			of = stages
		}
		for _, stage := range of {
			for i, a := range everybody {
				if all++; (i+k+all/len(everybody))%each != 0 {
					continue
				}
				x := try{h, c, m, r, n, a, stage, things, (i+k)%16 != 0}
				want := want(m, a, n, x.about())
				one := x.request(want == 0)
				h.enter(a)
				before := h.written()
				got := h.asks(a, one)
				checks++
				byStatus[want]++
				if why := x.wrong(want, got, h.written() != before); why != "" {
					if wrong++; wrong < 40 {
						t.Errorf("%s %s with a job that is %s, as %s: %d, %s: %s", r.Method, one.path, stage, a.name, got.Code, why, short(got))
					}
				}
			}
		}
	}
	if all < 5000 || checks < all/each {
		t.Errorf("%d checks of %d, want 5000 of all", checks, all)
	}
	for what := range h.lacks {
		t.Errorf("without a header: %s", what)
	}
	t.Logf("%d checks of %d with %d operations and %d who ask, %d wrong; refused as %v (0: allowed); %v", checks, all, len(h.operations()), len(everybody), wrong, byStatus, time.Since(began).Round(time.Millisecond))
}
