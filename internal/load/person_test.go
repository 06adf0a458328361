//go:build linux

package load

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"fettle/internal/app"
	"fettle/internal/body"
	"fettle/internal/doc"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/right"
	"fettle/internal/unit"
	"fettle/internal/web/api"
)

// answered is an answer to a request.
type answered struct {
	status int
	body   []byte
	by     *server
}

// problem is what the test reads of a problem document.
type problem struct{ Code string }

// request is a request of somebody, who sends it to any server until it is answered.
type request struct {
	kind         string // for the figures
	method, path string
	key          string
	body         any
	secret       string // instead of one's own; "-": none
	at           *server
}

// ask sends a request until it is answered, each time to another server.
func (g *group) ask(ctx context.Context, p *person, r request) (answered, error) {
	var text []byte
	if r.body != nil {
		var err error
		if text, err = json.Marshal(r.body); err != nil {
			return answered{}, err
		}
	}
	for began := time.Now(); ; {
		to := r.at
		if to == nil {
			to = g.servers[rand.IntN(len(g.servers))]
		}
		sent := time.Now()
		got, err := g.send(ctx, p, to, r, text)
		switch {
		case err != nil:
			g.tally.told(r.kind, "no answer")
		case got.status == http.StatusServiceUnavailable || got.status == http.StatusTooManyRequests:
			var x problem
			if err := json.Unmarshal(got.body, &x); err != nil {
				return got, fmt.Errorf("%d without a problem document: %w", got.status, err)
			}
			g.tally.told(r.kind, fmt.Sprint(got.status, " ", x.Code))
		default:
			g.tally.answered(r.kind, got.status, time.Since(sent), time.Since(began))
			if got.status >= 500 {
				err = fmt.Errorf("%s %s: %d: %.300s", r.method, r.path, got.status, got.body)
			}
			return got, err
		}
		if time.Since(began) > time.Minute {
			return got, fmt.Errorf("%s %s: not answered in a minute: %d %w", r.method, r.path, got.status, err)
		}
		time.Sleep(time.Duration(5+rand.IntN(45)) * time.Millisecond)
	}
}

func (g *group) send(ctx context.Context, p *person, to *server, r request, text []byte) (answered, error) {
	q, err := http.NewRequestWithContext(ctx, r.method, "http://"+to.address+api.Prefix+r.path, bytes.NewReader(text))
	if err != nil {
		return answered{}, err
	}
	secret := p.secret
	if r.secret != "" {
		secret = r.secret
	}
	switch {
	case secret == "-":
	case strings.HasPrefix(secret, "fettle_"):
		q.Header.Set("Authorization", "Bearer "+secret)
	default:
		q.AddCookie(&http.Cookie{Name: "fettle", Value: secret})
	}
	if text != nil {
		q.Header.Set("Content-Type", "application/json")
	}
	if r.key != "" {
		q.Header.Set("Idempotency-Key", r.key)
	}
	got, err := p.client.Do(q)
	if err != nil {
		return answered{by: to}, err
	}
	data, err := io.ReadAll(got.Body)
	return answered{got.StatusCode, data, to}, errors.Join(err, got.Body.Close())
}

// may is the status that the matrix wants, for somebody who wants to do things about a job of a shop, within limits that the route keeps.
func (p *person) may(in *shop, on right.On, keeps []right.Limit, acts ...right.Act) int {
	if len(p.roles) == 0 {
		return http.StatusUnauthorized
	}
	if in != p.shop {
		return http.StatusNotFound
	}
	on.Shop, on.Everybody = in.id, in.everybody
	for _, a := range acts {
		v := right.Shipped().May(p.who(), a, on)
		if v.Answer == right.Hidden {
			return http.StatusNotFound
		}
		if v.Answer == right.Refused || slices.ContainsFunc(v.Limits, func(l right.Limit) bool { return !slices.Contains(keeps, l) }) {
			return http.StatusForbidden
		}
	}
	return http.StatusOK
}

// wants holds an answer against what the matrix wants.
func (g *group) wants(p *person, r request, got answered, want int) bool {
	g.tally.judged(want)
	if got.status == want || want == http.StatusOK && got.status/100 == 2 {
		return true
	}
	g.fault("%v of %s (%s) %s %s at server %d: %d, and the matrix wants %d: %.300s", p.roles, p.shop.id, p.id, r.method, r.path, got.by.n, got.status, want, got.body)
	return false
}

// deed is a change that somebody tries.
type deed struct {
	events []job.Event
	files  []api.File
	act    right.Act
	own    bool // the last event is their own finding
}

func dent(id job.FindingID, part, text string, on unit.Date) job.Finding {
	return job.Finding{ID: id, Kind: body.Dent, Part: body.PartID(part), Through: body.Unknown, Seen: body.Visual, By: "technician T1", On: on, Text: text}
}

// deeds that somebody can try. Each has its key in it, so that one that is there twice or by half is found.
const deedKinds = 5

func (p *person) deed(kind int, id, key string) deed {
	on := unit.DateOf(time.Now())
	found := job.Event{Kind: job.FindingRecorded, Seen: p.seen[id], Data: dent(job.FindingID("F"+p.id), "P-FENDER-L", key, on)}
	data := []byte(strings.Repeat(key+"\n", 80))
	sum := sha256.Sum256(data)
	photo := job.Event{Kind: job.EvidenceAdded, Data: job.Evidence{ID: "E" + key, File: "evidence/" + key + ".txt", SHA256: hex.EncodeToString(sum[:]), Text: key, By: "technician T1", On: on}}
	file := api.File{Name: "evidence/" + key + ".txt", Data: data}
	switch kind {
	case 0:
		return deed{events: []job.Event{found}, act: right.EnterFindings, own: true}
	case 1:
		return deed{events: []job.Event{photo, found}, files: []api.File{file}, act: right.EnterFindings, own: true}
	case 2:
		return deed{events: []job.Event{photo}, files: []api.File{file}, act: right.AddEvidence}
	case 3:
		return deed{events: []job.Event{{Kind: job.ErasureAgreedTo, Data: job.ErasureAgreed{Of: []job.RecordName{"impact"}, By: "T3", On: on, Reason: key}}}, act: right.AgreeErasure}
	}
	return deed{events: []job.Event{{Kind: job.PromiseRecorded, Data: job.Promised{ID: "P" + key, Item: "P-FENDER-L", Count: 1, Expected: unit.DateOf(time.Now().AddDate(0, 0, 5)), By: "planner P1", On: on, Text: key}}}, act: right.Plan}
}

// usual is what somebody does about a job who may.
func (p *person) usual(r *rand.Rand) int {
	switch p.was[0] {
	case right.Technician:
		return r.IntN(2)
	case right.Planner:
		return []int{2, 4}[r.IntN(2)]
	case right.Reviewer:
		if p.token == "" {
			return 3
		}
	}
	return r.IntN(deedKinds)
}

func sentOf(d deed) (api.Change, error) {
	c := api.Change{Files: d.files}
	for _, e := range d.events {
		data, err := ledger.Canonical(doc.Encode(e.Data))
		if err != nil {
			return c, err
		}
		c.Events = append(c.Events, api.Event{Kind: string(e.Kind), About: string(e.Of), Seen: e.Seen, Data: data})
	}
	return c, nil
}

// change is a change that was acknowledged, or that was refused.
type change struct {
	key, job string
	events   int
	head     app.Head
	files    []api.File
	refused  bool
}

// changes writes something into a job of a shop, and holds the answer against the matrix.
func (g *group) change(ctx context.Context, p *person, in *shop, id string, kind int, at *server) error {
	p.n++
	key := "load" + unique()
	d := p.deed(kind, id, key)
	c, err := sentOf(d)
	if err != nil {
		return err
	}
	on := right.On{Job: id, Authors: []string{"p-fill"}}
	if p.wrote[id] {
		on.Authors = append(on.Authors, p.id)
	}
	want := p.may(in, on, nil, d.act)
	wavers := d.act == right.Approve && p.wavers()
	r := request{at: at, kind: "change", method: http.MethodPost, path: "/jobs/" + id + "/changes", key: key, body: c}
	if want != http.StatusOK {
		r.kind = "change, refused"
	}
	got, err := g.ask(ctx, p, r)
	if err != nil {
		return err
	}
	made := change{key: key, job: id, events: len(d.events), files: d.files, refused: got.status != http.StatusOK}
	if !wavers && !g.wants(p, r, got, want) && made.refused {
		return nil
	}
	if !made.refused {
		var head api.Head
		if err := json.Unmarshal(got.body, &head); err != nil {
			return err
		}
		if made.head = app.Head(head); d.own {
			p.seen[id] = head.Seq
		}
		p.wrote[id] = p.wrote[id] || d.act != right.Approve
		got.by.acknowledged()
	}
	g.noted(made)
	return nil
}

// noted keeps a change for the end.
func (g *group) noted(c change) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.changes = append(g.changes, c)
	if !c.refused {
		g.newest[c.job] = max(g.newest[c.job], c.head.Seq)
		g.writtenAt[place{c.job, c.head.Seq}] = time.Now()
	}
}

func (g *group) known(id string) int64 {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.newest[id]
}

// aboutJob is a route about a job that reads, and what the matrix is asked about it.
type aboutJob struct {
	kind, path string
	keeps      []right.Limit
	acts       []right.Act
}

// One is asked for most, the last ones seldom.
var readings = []aboutJob{
	{"job", "", []right.Limit{right.OnlyRolesAndIDs}, []right.Act{right.ReadReport}},
	{"events", "/events?after=5", []right.Limit{right.OnlyRolesAndIDs}, []right.Act{right.ReadReport, right.SeeJob}},
	{"record", "/record?name=finding/D1", nil, []right.Act{right.SeeJob}},
	{"history", "/history", []right.Limit{right.OnlyNoContents}, []right.Act{right.ReadHistory}},
	{"assessment", "/assessment", []right.Limit{right.OnlyRolesAndIDs}, []right.Act{right.ReadReport}},
}

// reads reads a job.
func (g *group) reads(ctx context.Context, p *person, in *shop, id string, of aboutJob) error {
	least := g.known(id)
	want := p.may(in, right.On{Job: id}, of.keeps, of.acts...)
	r := request{kind: of.kind, method: http.MethodGet, path: "/jobs/" + id + of.path}
	if want != http.StatusOK {
		r.kind = "read, refused"
	}
	got, err := g.ask(ctx, p, r)
	if err != nil || !g.wants(p, r, got, want) || got.status != http.StatusOK {
		return err
	}
	if of.kind == "job" {
		var head api.Head
		if err := json.Unmarshal(got.body, &head); err != nil {
			return err
		}
		if head.Seq < least {
			g.fault("%s at server %d: event %d, and %d was acknowledged before", id, got.by.n, head.Seq, least)
		}
	}
	return nil
}

// lists asks for jobs of the shop: none of another one may be among them, and who may know the list alone is told no more.
func (g *group) lists(ctx context.Context, p *person, r *rand.Rand) error {
	q := request{kind: "list", method: http.MethodGet, path: "/jobs?most=50"}
	want := p.may(p.shop, right.On{}, []right.Limit{right.OnlyListed}, right.SeeJobs)
	switch r.IntN(3) {
	case 0:
		q.kind, q.path = "list by name", "/jobs-by-name?most=50&after="+fmt.Sprintf("%s-%06d", p.shop.id, r.IntN(max(1, g.size.jobs/g.size.shops)))
	case 1:
		words := []string{"dent", "P-FENDER", "P-COWL D2", "P-CASTING", fmt.Sprintf("%02d", r.IntN(100)), drawnVIN(r)[14:]}
		q.kind, q.path = "find", "/jobs?most=50&text="+url.QueryEscape(words[r.IntN(len(words))])
		want = p.may(p.shop, right.On{}, nil, right.SeeJobs)
	}
	if want != http.StatusOK {
		q.kind = "list, refused"
	}
	got, err := g.ask(ctx, p, q)
	if err != nil || !g.wants(p, q, got, want) || got.status != http.StatusOK {
		return err
	}
	var page api.Jobs
	if err := json.Unmarshal(got.body, &page); err != nil {
		return err
	}
	listed := p.may(p.shop, right.On{}, nil, right.SeeJobs) != http.StatusOK
	for _, l := range page.Jobs {
		if !strings.HasPrefix(l.ID, p.shop.id+"-") && !g.handedNow(l.ID, p.shop) {
			g.fault("%s of %s is told of %s in a list", p.id, p.shop.id, l.ID)
		}
		if listed && (l.Vehicle != "" || l.Title != "" || l.Plate != "") {
			g.fault("%s of %s may know the list alone, and is told what %s is", p.id, p.shop.id, l.ID)
		}
	}
	if len(page.Jobs) == 0 && q.kind == "list" {
		g.fault("%s has no jobs at server %d", p.shop.id, got.by.n)
	}
	return nil
}

// tries is what they try that they may not: jobs of others, acts of others, and to be somebody else.
func (g *group) tries(ctx context.Context, p *person, r *rand.Rand) error {
	other := g.shops[r.IntN(len(g.shops))]
	for other == p.shop {
		other = g.shops[r.IntN(len(g.shops))]
	}
	id := other.jobs[r.IntN(len(other.jobs))]
	own := p.shop.jobs[r.IntN(len(p.shop.jobs))]
	switch r.IntN(6) {
	case 0:
		return g.change(ctx, p, other, id, r.IntN(deedKinds), nil)
	case 1:
		return g.change(ctx, p, p.shop, own, r.IntN(deedKinds), nil)
	case 2:
		return g.nobody(ctx, p, own, r)
	case 3:
		return g.keeps(ctx, p, own)
	}
	return g.hidden(ctx, p, other, id, r)
}

// hidden asks for a job of another shop, and for one that is nowhere: nobody can tell the one from the other.
func (g *group) hidden(ctx context.Context, p *person, other *shop, id string, r *rand.Rand) error {
	of := readings[r.IntN(len(readings))]
	var told []string
	for _, name := range []string{id, other.id + "-nothing"} {
		q := request{kind: "another shop's", method: http.MethodGet, path: "/jobs/" + name + of.path}
		got, err := g.ask(ctx, p, q)
		if err != nil || !g.wants(p, q, got, http.StatusNotFound) {
			return err
		}
		told = append(told, string(got.body))
	}
	if told[0] != told[1] {
		g.fault("a job of another shop is told from none: %s and %s", told[0], told[1])
	}
	return nil
}

// nobody asks without anything to show, and with what is good for nothing.
func (g *group) nobody(ctx context.Context, p *person, id string, r *rand.Rand) error {
	q := request{kind: "nobody's", method: http.MethodGet, path: "/jobs/" + id, secret: []string{"-", "fettle_" + unique(), unique(), p.secret[:len(p.secret)-2] + "xx"}[r.IntN(4)]}
	got, err := g.ask(ctx, p, q)
	if err == nil {
		g.wants(p, q, got, http.StatusUnauthorized)
	}
	return err
}

// keeps tries what is for whoever looks after the store, where they do not.
func (g *group) keeps(ctx context.Context, p *person, id string) error {
	if want := p.may(p.shop, right.On{Job: id}, nil, right.HoldJob); want != http.StatusOK {
		q := request{kind: "keeping, refused", method: http.MethodPost, path: "/jobs/" + id + "/holds", body: map[string]any{"reason": "tried"}}
		got, err := g.ask(ctx, p, q)
		if err != nil || !g.wants(p, q, got, want) {
			return err
		}
	}
	if want := p.may(p.shop, right.On{}, nil, right.LookAfterStore); want != http.StatusOK {
		q := request{kind: "keeping, refused", method: http.MethodPost, path: "/sweep"}
		got, err := g.ask(ctx, p, q)
		if err == nil {
			g.wants(p, q, got, want)
		}
		return err
	}
	return nil
}

// works is what somebody does until it is over: a change, reads of the job and of lists, and what they may not.
func (g *group) works(ctx context.Context, n int, p *person) error {
	r := rand.New(rand.NewPCG(uint64(n), 20))
	thinks := g.size.thinks
	think := func(share int64) bool {
		timer := time.NewTimer(thinks/time.Duration(2*share) + time.Duration(r.Int64N(int64(thinks)/share)))
		defer timer.Stop()
		select {
		case <-ctx.Done():
			return false
		case <-timer.C:
			return true
		}
	}
	always := context.WithoutCancel(ctx) // what was begun is ended
	for think(1) {
		id := p.shop.jobs[r.IntN(len(p.shop.jobs))]
		do := []func() error{
			func() error { return g.change(always, p, p.shop, id, p.usual(r), nil) },
			func() error { return g.reads(always, p, p.shop, id, readings[0]) },
			func() error { return g.lists(always, p, r) },
			func() error { return g.tries(always, p, r) },
			func() error {
				of := readings[1+r.IntN(3)]
				if r.IntN(10) == 0 {
					of = readings[4]
				}
				return g.reads(always, p, p.shop, id, of)
			},
		}
		for i, one := range do {
			p.mu.Lock()
			err := one()
			p.mu.Unlock()
			if err != nil {
				return fmt.Errorf("%s of %s: %w", p.id, p.shop.id, err)
			}
			if i == 2 && !think(1) {
				return nil
			}
		}
	}
	return nil
}
