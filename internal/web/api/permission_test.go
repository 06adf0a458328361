package api

import (
	"fmt"
	"net/http"
	"os"
	"slices"
	"strings"
	"testing"

	"fettle/internal/app"
	"fettle/internal/job"
	"fettle/internal/right"
	"fettle/internal/unit"
)

// needs is what a route is for somebody: the acts that all have to be allowed, and the limits that it keeps.
type needs struct {
	acts  []right.Act
	keeps []right.Limit
	job   bool // it is about a job, which of another shop is not there
	found bool // or about something else that of another shop is not there
}

func act(a ...right.Act) needs           { return needs{acts: a} }
func ofJob(a ...right.Act) needs         { return needs{acts: a, job: true} }
func (n needs) keep(l right.Limit) needs { n.keeps = append(n.keeps, l); return n }
func (n needs) elsewhere() needs         { n.found = true; return n }
func report() needs                      { return ofJob(right.ReadReport) }

// needed is what each route is, written down beside the matrix by hand: a route that is not here fails.
var needed = map[string]needs{
	"jobs": act(right.SeeJobs).keep(right.OnlyListed), "jobs-by-name": act(right.SeeJobs).keep(right.OnlyListed),
	"begin-job": act(right.BeginJob), "bring-job": act(right.LookAfterStore),
	"job": report().keep(right.OnlyRolesAndIDs), "events": ofJob(right.ReadReport, right.SeeJob), "history": ofJob(right.ReadHistory).keep(right.OnlyNoContents),
	"lines": ofJob(right.DownloadJob), "aside": ofJob(right.DownloadJob), "set-aside": ofJob(right.SeeJob, right.BeginJob),
	"change-job": ofJob(right.SeeJob, right.Approve), "index-job": ofJob(right.DescribeVehicle),
	"record": ofJob(right.SeeJob), "put-record": ofJob(right.SeeJob, right.Approve), "withdraw-record": ofJob(right.SeeJob, right.WithdrawEntry),
	"hand-over-job": ofJob(right.SeeJob, right.HandOver), "erase-texts": ofJob(right.CarryOutErasure), "renew-job": ofJob(right.SeeJob), "hand-back": ofJob(right.SeeJob),
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
	"all-holds":  act(right.SeeJobs).keep(right.OnlyListed),
	"checkpoint": act(right.VerifyLog), "sweep": act(right.LookAfterStore),
}

// people are those who try each route.
func people() []string {
	var out []string
	for _, shop := range []string{"north", "south"} {
		for _, roles := range []string{"technician", "planner", "reviewer", "administrator", "technician+planner", "planner+reviewer", "technician+planner+reviewer+administrator", "nobody"} {
			for _, so := range []string{"", ",stale", ",program", ",reads"} {
				out = append(out, roles+"@"+shop+so)
			}
		}
	}
	return append(out, "reader@north,link", "reader@south,link")
}

// onOf is what is known of the job of the north as it stands, found out from its chain by the test itself.
func (w *world) onOf() right.On {
	w.t.Helper()
	chain, err := w.to.Load(w.t.Context(), "north-1", 0)
	if err != nil {
		w.t.Fatal(err)
	}
	on := right.On{Shop: "north", Job: "north-1", Everybody: true, Stage: right.Planned, To: 5}
	for _, e := range chain {
		switch job.EventKind(e.What) {
		case job.DecisionsReviewed:
			on.Stage = right.Approved
		case job.StepDone:
			w.t.Fatal("the job is in repair, which the test does not know of")
		default:
			on.Authors = append(on.Authors, e.By)
		}
		if e.About == "risk/RK-BRACE" {
			on.Author = e.By
		}
	}
	return on
}

// expected is what the matrix says of a request: the status of a refusal, or 0.
func expected(m right.Matrix, who right.Who, n needs, on right.On) int {
	for _, a := range n.acts {
		about := on
		if !n.job && a != right.ReadReport {
			about = right.On{Shop: who.Shop, Person: who.Person}
		}
		v := m.May(who, a, about)
		switch {
		case n.job && who.Shop != "north":
			return http.StatusNotFound
		case v.Answer == right.Hidden:
			return http.StatusNotFound
		case v.Answer != right.Allowed:
			return http.StatusForbidden
		case slices.ContainsFunc(v.Limits, func(l right.Limit) bool { return !slices.Contains(n.keeps, l) }):
			return http.StatusForbidden
		case n.found && who.Shop != "north":
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
		body["files"] = filesOf("none", []byte("x"))
	}
}

// TestEveryRouteForEverybody: each route for each role, in the own shop and in another, in person, with an old proof, as a program and as one that
// only reads: what the matrix says, and nothing of another shop. FETTLE_PERMISSIONS=all tries everybody with every route.
func TestEveryRouteForEverybody(t *testing.T) {
	w := newWorld(t)
	c := newContract(t, w)
	m := right.Shipped()
	task, err := w.to.Want(t.Context(), must(app.AboutJob(app.TaskAssess, "north-1", "p-9", unit.DateOf(noon))))
	if err != nil {
		t.Fatal(err)
	}
	hashes := map[bool]string{false: w.photo["north"], true: w.shop["north"]}
	checks, wrong := 0, 0
	each := 4 // of four one, another with each route
	if os.Getenv("FETTLE_PERMISSIONS") != "" {
		each = 1
	}
	for k, r := range w.api.Routes() {
		n, is := needed[r.ID]
		if !is && r.ID != "version" && r.ID != "schema" && r.ID != "stream" {
			t.Errorf("nobody has said what one may be asked for with %s", r.ID)
		}
		if !is {
			continue
		}
		target := strings.NewReplacer("{job}", "north-1", "{hash}", hashes[strings.HasPrefix(r.ID, "content")], "{upload}", "x", "{task}", task, "{hold}", "x").Replace(strings.TrimPrefix(r.Path, Prefix))
		for i, somebody := range people() {
			if (i+k)%each != 0 {
				continue
			}
			one := call{as: somebody, method: r.Method, headers: key(fmt.Sprint(r.ID, checks))}
			one.path, one.body, one.kind = minimal(c, r.ID, target)
			if r.ID == "withdraw-record" {
				one.body = signedBy(map[string]any{"record": "risk/RK-BRACE", "by": "NOBODY"})
			}
			if i%16 != 0 { // the rest of what is allowed is not computed
				lighter(&one, r)
			}
			req, _ := http.NewRequest(r.Method, "/", nil)
			req.Header.Set("Authorization", "Bearer "+somebody)
			who, _, err := whoOf(req)
			if err != nil {
				t.Fatal(err)
			}
			want := expected(m, who, n, w.onOf())
			got := w.do(one)
			checks++
			refused := got.Code == http.StatusForbidden || got.Code == http.StatusUnauthorized || got.Code >= 500
			there := got.Code != http.StatusNotFound
			if want == 0 && refused || want != 0 && got.Code != want || n.job && who.Shop != "north" && there {
				wrong++
				if wrong < 40 {
					t.Errorf("%s %s as %s: %d, want %d (0: allowed): %s", r.Method, one.path, somebody, got.Code, want, short(got))
				}
			}
		}
		if one := (call{method: r.Method}); true {
			one.path, one.body, one.kind = minimal(c, r.ID, target)
			if got := w.do(one); got.Code != http.StatusUnauthorized {
				t.Errorf("%s as nobody: %d, want 401", r.ID, got.Code)
			}
			checks++
		}
	}
	if checks*each < 5000 {
		t.Errorf("%d checks of one in %d, want 5000 of all", checks, each)
	}
	t.Logf("%d checks, %d wrong", checks, wrong)
}
