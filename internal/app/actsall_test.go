package app_test

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"fettle/internal/app"
	"fettle/internal/demo"
	"fettle/internal/diag"
	"fettle/internal/golden/folders"
	"fettle/internal/job"
	"fettle/internal/right"
	"fettle/internal/store/blobs"
	"fettle/internal/store/database"
	"fettle/internal/unit"
)

// errDry is the answer of a store that would have written.
var errDry = errors.New("it would be written")

// dry is a store that asks whether a change may be written, and writes none.
type dry struct{ *database.Database }

func (d dry) Append(ctx context.Context, id string, c app.Change, may func(before, after *job.Stored) error) (app.Head, error) {
	return d.Database.Append(ctx, id, c, func(before, after *job.Stored) error {
		if err := may(before, after); err != nil {
			return err
		}
		return errDry
	})
}

// acted is two shops whose jobs are those of the rear demonstration at each stage.
type acted struct {
	t     *testing.T
	in    *database.Database
	app   *app.App
	state job.State
	day   unit.Date
	on    app.Kept
	tag   string // of the names of jobs
}

func newActed(t *testing.T) *acted {
	t.Helper()
	day := demo.Day.Truncate(24 * time.Hour).Add(36 * time.Hour)
	files := folders.Coarse()
	dir, clock := t.TempDir(), func() time.Time { return day }
	in, err := database.Open(t.Context(), database.Settings{Address: filepath.Join(dir, "fettle.db"), Backups: filepath.Join(dir, "backups"), Blobs: blobs.NewFolder(dir, "blobs", clock), Now: clock, Program: "test"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := in.Close(); err != nil {
			t.Error(err)
		}
	})
	a := &acted{t: t, in: in, app: app.New(files, "v0-test").WithBodies(&read), day: unit.DateOf(day)}
	a.on = a.in
	c, err := a.app.Open(t.Context(), demo.RearJob)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.app.KeepIn(t.Context(), c, a.in, "kept", "p-author", "keep"); err != nil {
		t.Fatal(err)
	}
	a.state = *a.stored("kept").State()
	return a
}

func (a *acted) stored(id string) *job.Stored {
	a.t.Helper()
	chain, err := a.in.Load(a.t.Context(), id, 0)
	if err != nil {
		a.t.Fatal(err)
	}
	s, err := job.Read(chain)
	if err != nil {
		a.t.Fatal(err)
	}
	return s
}

// append writes without asking anybody.
func (a *acted) append(id, by string, events ...job.Event) {
	a.t.Helper()
	if _, err := a.in.Append(a.t.Context(), id, app.Change{Key: fmt.Sprint(id, by, events[0].Kind, events[0].Of, a.stored(id).At(), len(a.state.Sendings), rand.Int64()), By: by, Events: events}, nil); err != nil {
		a.t.Fatal(err)
	}
}

func hash(a *acted) func(string, error) string {
	return func(h string, err error) string {
		a.t.Helper()
		if err != nil {
			a.t.Fatal(err)
		}
		return h
	}
}

func (a *acted) send(id, by string) {
	a.t.Helper()
	a.append(id, by, job.Event{Kind: job.SentToReview, Data: job.Sending{Part: job.Whole, Under: hash(a)(a.stored(id).State().ToReview(job.Whole)), By: "P1", On: a.day}})
}

func (a *acted) approve(id, by string) {
	a.t.Helper()
	a.append(id, by, job.Event{Kind: job.DecisionsReviewed, Data: job.Review{By: "T3", On: a.day, Under: hash(a)(a.stored(id).State().ToApprove())}})
}

// at makes a job of a shop that has come to a stage, as its records say.
func (a *acted) at(shop string, stage right.Stage) string {
	a.t.Helper()
	id, s := shop+"-"+strings.ReplaceAll(string(stage), " ", "-")+a.tag, a.state
	worked, inspected := s.Actuals, s.Records
	s.Reviews, s.HandBacks, s.Actuals, s.Records, s.Agreed, s.Sendings = nil, nil, nil, nil, nil, nil
	if stage == right.Draft {
		s.Choices, s.Accepted = nil, nil
	}
	over := job.Event{Kind: job.JobHandedOver, Data: job.HandedOver{To: shop, By: "P1", On: a.day, Reason: "begun here"}}
	if _, err := a.in.Create(a.t.Context(), id, app.Change{Key: id, By: "p-author", Events: append(job.FromState(s), over)}); err != nil {
		a.t.Fatal(err)
	}
	far := slices.Index(right.Stages(), stage)
	if far >= 2 {
		a.send(id, "p-sender")
	}
	if far >= 3 {
		a.approve(id, "p-approver")
	}
	if far >= 4 {
		a.append(id, "p-author", job.Event{Kind: job.StepDone, Data: worked[0]})
	}
	if far >= 5 {
		x := inspected[0]
		x.Evidence, x.Look = nil, ""
		a.append(id, "p-inspector", job.Event{Kind: job.RecordMade, Data: x})
	}
	if far >= 6 {
		a.append(id, "p-author", job.Event{Kind: job.VehicleHandedBack, Data: job.HandBack{To: "owner", Under: hash(a)(a.stored(id).State().Under()), By: "T3", On: a.day}})
	}
	if got := app.StageOf(a.stored(id)); got != stage {
		a.t.Fatalf("%s is %q", id, got)
	}
	return id
}

func (a *acted) as(person, shop string, roles ...right.Role) *app.As {
	s := app.Service{App: a.app, In: a.on, Rights: right.Shipped(), Now: func() time.Time { return a.day.Time().Add(12 * time.Hour) },
		IsShop: func(_ context.Context, id string) (bool, error) { return id == "north" || id == "south", nil }}
	return s.As(right.Who{Person: person, Shop: shop, Roles: roles, Fresh: true}, app.Shop{ID: shop, Several: true, First: shop == "first", Everybody: true})
}

// tried is an event that somebody sends, and which act it is, written down here by hand beside the program.
type tried struct {
	name  string
	event job.Event
	act   string
	keeps string // the limit that it keeps
}

// everyEvent is every kind of event that is written, about a job as it is.
func everyEvent(a *acted, s *job.Stored) []tried {
	var out []tried
	add := func(act, keeps, name string, e job.Event) {
		e.Seen = s.Newest(e.About())
		out = append(out, tried{name, e, act, keeps})
	}
	state := s.State()
	acts := map[job.EventKind]string{job.BodyNamed: "open a revision", job.ShopNamed: "open a revision", job.JobHandedOver: "hand a job over", job.StartSet: "plan",
		job.VehicleRecorded: "describe the vehicle", job.ImpactRecorded: "describe the vehicle", job.HazardRecorded: "describe the vehicle", job.SetupRecorded: "record readings", job.ReadingsTaken: "record readings",
		job.WorkplaceMeasured: "record readings", job.FaultsRead: "record readings", job.EvidenceAdded: "add evidence", job.InspectionMade: "record an inspection", job.FindingRecorded: "enter findings",
		job.AreaInspected: "record an inspection", job.AccessFound: "enter findings", job.EarlierRecorded: "enter findings", job.CastingRead: "enter findings", job.ProcedureChecked: "file an answer",
		job.QuestionAsked: "ask the manufacturer", job.AnswerRecorded: "file an answer", job.FactsTold: "ask the manufacturer", job.RiskGiven: "plan", job.ChoiceMade: "choose", job.TreatmentAccepted: "choose",
		job.DecisionsReviewed: "approve", job.BillAgreed: "plan", job.StepDone: "record work", job.FigureRead: "record work", job.DeliveryRecorded: "record work", job.PromiseRecorded: "plan",
		job.RecordMade: "record an inspection", job.VehicleHandedBack: "release", job.ErasureAgreedTo: "agree to an erasure"}
	seen := map[job.EventKind]bool{}
	for _, e := range job.FromState(*state) {
		if act, is := acts[e.Kind]; is && !seen[e.Kind] && e.Kind != job.VehicleHandedBack {
			seen[e.Kind] = true
			add(act, "", string(e.Kind), e)
		}
	}
	under := strings.Repeat("3", 64)
	bodyHash, _ := job.NamedHash(state.Body)
	shopHash, _ := job.NamedHash(state.Shop)
	more := []job.Event{
		{Kind: job.JobHandedOver, Of: job.OfOwner, Data: job.HandedOver{To: "south", By: "P1", On: a.day, Reason: "A bay is free"}}, {Kind: job.StartSet, Of: job.OfStart, Data: job.Beginning{Start: state.Start}},
		{Kind: job.BodyNamed, Of: job.OfBody, Data: job.Named{SHA256: bodyHash}}, {Kind: job.ShopNamed, Of: job.OfShop, Data: job.Named{SHA256: shopHash}},
		{Kind: job.AccessFound, Data: job.Accessible{To: []string{"Z-X"}, By: "T1", On: a.day}}, {Kind: job.EarlierRecorded, Data: job.Earlier{Zone: "Z-X", Length: 12}},
		{Kind: job.WorkplaceMeasured, Data: job.Climate{Temp: 19, Std: 1, By: "T1", On: a.day}}, {Kind: job.PromiseRecorded, Data: job.Promised{ID: "P-9", Item: "P-X", Count: 1, Expected: a.day, By: "P1", On: a.day, Text: "soon"}},
		{Kind: job.ChoiceMade, Data: job.Choice{Route: "R-1", By: "P1", On: a.day, Reason: "Tried"}}, {Kind: job.StepDone, Data: a.state.Actuals[0]}, {Kind: job.RecordMade, Data: a.state.Records[0]},
		{Kind: job.DecisionsReviewed, Data: job.Review{By: "T3", On: a.day}}, {Kind: job.VehicleHandedBack, Data: job.HandBack{To: "owner", Under: under, By: "T3", On: a.day}},
		{Kind: job.ErasureAgreedTo, Data: job.ErasureAgreed{Of: []job.RecordName{"impact"}, By: "T3", On: a.day, Reason: "asked for"}},
	}
	for _, e := range more {
		if !seen[e.Kind] {
			seen[e.Kind] = true
			add(acts[e.Kind], "", string(e.Kind), e)
		}
	}
	sending := job.Sending{Part: job.Whole, Under: under, By: "P1", On: a.day}
	add("send to review", "", "sent whole", job.Event{Kind: job.SentToReview, Data: sending})
	back := sending
	back.BackOn, back.BackBy, back.Because = a.day, "T3", "Not enough"
	add("send back", "", "sent back", job.Event{Kind: job.SentToReview, Data: back})
	sending.Part = job.Measurements
	add("send to review", "only measurements", "sent measurements", job.Event{Kind: job.SentToReview, Data: sending})
	again := job.HandBack{To: "owner", Under: under, By: "T3", On: a.day, ReopenedOn: a.day, ReopenedBy: "P1", Because: "The door rattles"}
	reopen := job.Event{Kind: job.VehicleHandedBack, Data: again}
	if _, is := s.Record("hand-back/#1"); is {
		reopen.Of = "hand-back/#1"
	}
	add("open a revision", "", "opened again", reopen)
	finding := "{id: F-P, kind: dent, part: " + string(state.Findings[0].Part) + ", seen: visual, by: P1, on: " + a.day.String() + "}"
	add("enter findings", "only proposals", "finding proposed", job.Event{Kind: job.RecordProposed, Data: job.Proposal{ID: "PP-8", Of: "finding/F-P", Record: finding, By: "P1", On: a.day}})
	add("choose", "only proposals", "choice proposed", job.Event{Kind: job.RecordProposed, Data: job.Proposal{ID: "PP-9", Of: "choice", Record: "{route: R-1, by: T1, on: " + a.day.String() + ", reason: Sooner}", By: "T1", On: a.day}})
	add("choose", "", "proposal settled", job.Event{Kind: job.RecordProposed, Data: job.Proposal{ID: "PP-7", Of: "choice", Record: "{route: R-1, by: T1, on: " + a.day.String() + ", reason: Sooner}", By: "T1", On: a.day, Settled: job.Declined, SettledBy: "P1", SettledOn: a.day}})
	gone := func(act string, of job.RecordName) {
		if _, is := s.Record(of); is {
			add(act, "", "withdrawn "+string(of), job.Event{Kind: job.RecordWithdrawn, Of: of, Data: job.Withdrawal{By: "P1", On: a.day, Reason: "tried"}})
		}
	}
	gone("withdraw an entry", "workplace/#1")
	gone("release", "hand-back/#1")
	add("carry out an erasure", "", "texts erased", job.Event{Kind: job.TextsErased, Of: job.OfImpact, Data: job.Erasure{On: a.day, Reason: "asked for"}})
	return out
}

// matrixRead is the matrix as this test reads it, cell by cell.
func matrixRead(t *testing.T) map[string]map[string]string {
	t.Helper()
	data, err := os.ReadFile("../right/matrix.csv")
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(string(data))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]map[string]string{}
	for _, r := range rows[1:] {
		out[r[0]] = map[string]string{}
		for i, cell := range r {
			out[r[0]][rows[0][i]] = cell
		}
	}
	return out
}

// someone is who tries it.
type someone struct {
	person string
	roles  []right.Role
	other  bool // of another shop
}

// permits says what one cell of the matrix says, word by word.
func permits(cell, keeps string, w someone, stage right.Stage, author bool, authors []string) bool {
	if cell == "no" || cell == "" {
		return false
	}
	for _, word := range strings.Split(cell, " + ") {
		holds := false
		switch word {
		case "yes", "fresh", "assigned":
			holds = true // everybody here has just proved who they are, and all see all jobs
		case "own":
			holds = author
		case "before review":
			holds = stage == right.Draft || stage == right.Planned
		case "in review":
			holds = stage == right.InReview
		case "not the author":
			holds = !slices.Contains(authors, w.person)
		case "not the inspector":
			holds = w.person != "p-author" && w.person != "p-inspector" // who wrote what was inspected, and made the last one
		case "agreed by another":
			holds = false
		case "only proposals", "only measurements":
			holds = keeps == word
		}
		if !holds {
			return false
		}
	}
	return true
}

// TestEveryEventForEverybody: every kind of event, for everybody, in the own shop and another, at every stage, through As.Change: what the
// matrix says as this test reads it. FETTLE_PERMISSIONS=all tries all; else one of 23.
func TestEveryEventForEverybody(t *testing.T) {
	a := newActed(t)
	rows := matrixRead(t)
	var everybody []someone
	for _, roles := range [][]right.Role{{right.Technician}, {right.Planner}, {right.Reviewer}, {right.Administrator}, {right.Technician, right.Planner}, {right.Planner, right.Reviewer}, {right.Technician, right.Planner, right.Reviewer, right.Administrator}, nil} {
		for _, other := range []bool{false, true} {
			everybody = append(everybody, someone{"p-another", roles, other}, someone{"p-author", roles, other})
		}
	}
	each, checks, wrong, allowed, kinds := 23, 0, 0, 0, map[job.EventKind]bool{}
	if os.Getenv("FETTLE_PERMISSIONS") != "" {
		each = 1
	}
	k := 0
	for _, stage := range right.Stages() {
		id := a.at("north", stage)
		s := a.stored(id)
		a.on = dry{a.in}
		authors := []string{"p-author", "p-sender", "p-inspector"}
		for _, x := range everyEvent(a, s) {
			kinds[x.event.Kind] = true
			for _, w := range everybody {
				if k++; k%each != 0 {
					continue
				}
				shop := map[bool]string{false: "north", true: "south"}[w.other]
				_, err := a.as(w.person, shop, w.roles...).Change(t.Context(), id, app.Changing{Key: fmt.Sprint("try", k), Events: []job.Event{x.event}})
				want := "hidden"
				of := x.event.About()
				author := w.person == "p-author" && s.AuthorOf(of) == "p-author"
				sees := slices.ContainsFunc(w.roles, func(r right.Role) bool { return r != right.Administrator })
				if !w.other && len(w.roles) > 0 {
					want = "refused"
					if sees && slices.ContainsFunc(w.roles, func(r right.Role) bool { return permits(rows[x.act][string(r)], x.keeps, w, stage, author, authors) }) {
						want = "allowed"
						allowed++
					}
				}
				got := "allowed"
				switch diag.KindOf(err) {
				case diag.Denied:
					got = "refused"
				case diag.NotFound:
					got = "hidden"
				}
				checks++
				if got != want {
					if wrong++; wrong < 30 {
						t.Errorf("%s at %q as %s %v (other shop %v): %s, want %s: %v", x.name, stage, w.person, w.roles, w.other, got, want, err)
					}
				}
			}
		}
		a.on = a.in
	}
	for _, kind := range job.Kinds() {
		if !kinds[kind] && kind != job.JobOpened && !slices.Contains([]job.EventKind{job.ReadingsRecorded, job.ReadingsDropped, job.FindingDropped, job.StepDropped, job.DeliveryDropped, job.PromiseDropped}, kind) {
			t.Logf("no event of kind %s in this job", kind)
		}
	}
	if allowed < checks/20 {
		t.Errorf("only %d of %d are allowed", allowed, checks)
	}
	t.Logf("%d checks of %d kinds, %d allowed, %d wrong", checks, len(kinds), allowed, wrong)
}

// TestNoApprovalOverWhatItDidNotSee: an approval and a change at once, over and over: where the change was written, the job is not approved unless it was sent
// and approved again; and an author never approves, by no route, tab, role or token.
func TestNoApprovalOverWhatItDidNotSee(t *testing.T) {
	a := newActed(t)
	approved, changed, both := 0, 0, 0
	rounds := 5
	if os.Getenv("FETTLE_PERMISSIONS") != "" {
		rounds = 50
	}
	for n := range rounds {
		id := fmt.Sprint("north-r", n)
		a.tag = fmt.Sprint("-", n)
		made := a.at("north", right.InReview)
		head, err := a.in.Head(t.Context(), made)
		if err != nil {
			t.Fatal(err)
		}
		f := a.state.Findings[0]
		f.Text = fmt.Sprint("seen again ", n)
		var wait sync.WaitGroup
		var approval, change error
		wait.Add(2)
		go func() {
			defer wait.Done()
			_, _, approval = a.as("p-reviewer", "north", right.Reviewer).Approve(t.Context(), made, id, head.Hash, job.Review{By: "T3", On: a.day})
		}()
		go func() {
			defer wait.Done()
			g := f
			g.On = a.day
			_, change = a.as("p-technician", "north", right.Technician).Change(t.Context(), made, app.Changing{Key: id + "c", Events: []job.Event{{Kind: job.FindingRecorded, Seen: a.stored(made).Newest(job.RecordName("finding/" + string(f.ID))), Data: g}}})
		}()
		wait.Wait()
		if change != nil {
			t.Fatal(change)
		}
		changed++
		if approval == nil {
			both++
		} else if diag.KindOf(approval) != diag.Conflict {
			t.Fatal(approval)
		}
		if stage := app.StageOf(a.stored(made)); stage != right.Planned {
			approved++
			t.Errorf("after a change the job is %q", stage)
		}
	}
	t.Logf("%d changes at once with an approval, %d of which was written first and is void, %d stand", changed, both, approved)
}

// TestNoAuthorApproves: with the role of a reviewer taken on, by the route, by an event, by another part of the job, as a program, with a
// hash from another tab: 0 of 100.
func TestNoAuthorApproves(t *testing.T) {
	a := newActed(t)
	id := a.at("north", right.InReview)
	head, err := a.in.Head(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	under := hash(a)(a.stored(id).State().ToApprove())
	got := 0
	for n := range 100 {
		who := []string{"p-author", "p-sender"}[n%2]
		s := a.as(who, "north", [][]right.Role{{right.Reviewer}, {right.Planner, right.Reviewer}, right.Roles()}[n%3]...)
		r := job.Review{By: "T3", On: a.day, Text: fmt.Sprint(n)}
		switch n % 4 {
		case 0:
			_, _, err = s.Approve(t.Context(), id, fmt.Sprint("a", n), head.Hash, r)
		case 1:
			r.Under = under
			_, err = s.Change(t.Context(), id, app.Changing{Key: fmt.Sprint("b", n), Events: []job.Event{{Kind: job.DecisionsReviewed, Data: r}}})
		case 2:
			_, _, err = s.Put(t.Context(), id, fmt.Sprint("c", n), "review", "r.yaml", "{by: T3, on: "+a.day.String()+", under: \""+under+"\"}", 0)
		case 3:
			_, _, err = a.program(who).Approve(t.Context(), id, fmt.Sprint("d", n), head.Hash, r)
		}
		if err == nil || diag.KindOf(err) != diag.Denied {
			got++
			t.Errorf("%d as %s: %v", n, who, err)
		}
	}
	if _, is := a.stored(id).State().Approved(); is || got > 0 {
		t.Errorf("approved %d of 100", got)
	}
	if _, _, err := a.as("p-reviewer", "north", right.Reviewer).Approve(t.Context(), id, "last", head.Hash, job.Review{By: "T3", On: a.day}); err != nil {
		t.Errorf("somebody else: %v", err)
	}
}

// program is a program of somebody with every role.
func (a *acted) program(person string) *app.As {
	s := app.Service{App: a.app, In: a.on, Rights: right.Shipped(), Now: func() time.Time { return a.day.Time() }}
	return s.As(right.Who{Person: person, Shop: "north", Roles: right.Roles(), Token: "t-1"}, app.Shop{ID: "north", Several: true, Everybody: true})
}
