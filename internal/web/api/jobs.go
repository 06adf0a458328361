package api

import (
	"context"
	"encoding/json"
	"net/http"
	"slices"
	"strconv"

	"github.com/danielgtaylor/huma/v2"

	"fettle/internal/app"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/ledger"
	"fettle/internal/unit"
)

// Head is the newest event of a job.
type Head struct {
	Seq  int64  `json:"seq" doc:"Its number, from 1."`
	Hash string `json:"hash" doc:"Its hash, which holds all events before."`
}

// JobLine is a job in a list.
type JobLine struct {
	ID      string `json:"id"`
	Head    Head   `json:"head"`
	Changed string `json:"changed,omitempty" doc:"When its newest event was written (UTC)."`
	Vehicle string `json:"vehicle,omitempty" doc:"The end of the vehicle's number."`
	Title   string `json:"title,omitempty" doc:"What the people of the shop call it."`
	Plate   string `json:"plate,omitempty"`
	Waits   string `json:"waits,omitempty" doc:"What it waited for at the event 'at': where that is not its newest one, it may not be so any more. Nothing: nobody has looked yet."`
	Whom    string `json:"whom,omitempty" doc:"On whom."`
	Act     string `json:"act,omitempty" doc:"Which record, part or step it waits for."`
	Since   string `json:"since,omitempty" doc:"Time of the event that made it so."`
	Judged  string `json:"judged,omitempty" doc:"The day on which that was judged."`
	At      int64  `json:"at,omitempty" doc:"Number of the event at which it was so; where it is below that of the newest, it may not be so any more."`
}

func lineOf(l app.JobLine) JobLine {
	return JobLine{l.ID, Head(l.Head), l.Changed, l.Vehicle, l.Title, l.Plate, l.Waits, l.On, l.Act, l.Since, l.Judged, l.At}
}

// Jobs is a page of jobs.
type Jobs struct {
	Jobs []JobLine `json:"jobs"`
	More bool      `json:"more" doc:"There are others behind the last: ask again with after and, where it was found by its time, changed."`
}

func jobsOf(all []app.JobLine, most int) Jobs {
	out := Jobs{Jobs: []JobLine{}, More: len(all) > most}
	for _, l := range all[:min(len(all), most)] {
		out.Jobs = append(out.Jobs, lineOf(l))
	}
	return out
}

// Event is an event as it is sent.
type Event struct {
	Kind  string          `json:"kind" doc:"One of docs/formats/job.md." example:"finding-recorded"`
	About string          `json:"about,omitempty" doc:"The record it is about, where its data do not say it."`
	Seen  int64           `json:"seen" minimum:"0" doc:"Number of the newest event about that record that its author had seen; 0: none."`
	Data  json.RawMessage `json:"data" doc:"The record, as docs/formats/job.md has it, with names and remarks in it."`
}

// File is a file with its name.
type File struct {
	Name string `json:"name" minLength:"1" maxLength:"500"`
	Data Octets `json:"data" doc:"Its bytes."`
}

// Octets is bytes in base64; there may be none.
type Octets []byte

// Schema describes them. The encoding stands beside, so that a text of no bytes is one as well (RFC 4648 section 10); what is no base64 is found
// when it is read.
func (Octets) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{Type: huma.TypeString, Extensions: map[string]any{"contentEncoding": "base64"}}
}

func byName(files []File) map[string][]byte {
	out := map[string][]byte{}
	for _, f := range files {
		out[f.Name] = f.Data
	}
	return out
}

func listed(files map[string][]byte) []File {
	out := []File{}
	for name, data := range files {
		out = append(out, File{name, data})
	}
	slices.SortFunc(out, func(a, b File) int {
		if a.Name < b.Name {
			return -1
		}
		return 1
	})
	return out
}

// Change is events to be written at once: all of them or none.
type Change struct {
	Events []Event `json:"events" minItems:"1" maxItems:"1000"`
	Files  []File  `json:"files,omitempty" maxItems:"100" doc:"Evidence that comes with it; its events name it by the SHA-256."`
	Wants  []Want  `json:"wants,omitempty" maxItems:"10" doc:"Work in the background that is asked for with it."`
}

// Want is work about the job of a change.
type Want struct {
	Kind string `json:"kind" enum:"assess,files"`
	On   string `json:"on" doc:"The day it is judged on." format:"date"`
}

// changing is a change as it is made.
func (c Change) changing(as *app.As, id, key string) (app.Changing, error) {
	out := app.Changing{Key: key}
	for i, e := range c.Events {
		is, err := job.DecodeEvent(job.EventKind(e.Kind), e.Data)
		if err != nil {
			return out, inEvent(err, i)
		}
		is.Of, is.Seen = job.RecordName(e.About), e.Seen
		out.Events = append(out.Events, is)
	}
	for _, f := range c.Files {
		out.Files = append(out.Files, app.NewFile{Name: f.Name, Data: f.Data})
	}
	for _, w := range c.Wants {
		day, err := as.Day(w.On)
		if err != nil {
			return out, err
		}
		want, err := app.AboutJob(app.TaskKind(w.Kind), id, as.Who().Person, unit.DateOf(day))
		if err != nil {
			return out, err
		}
		out.Wants = append(out.Wants, want)
	}
	return out, nil
}

// inEvent tells faults of an event's data at their places in the request.
func inEvent(err error, i int) error {
	p := problemOf(err)
	for k := range p.Faults {
		p.Faults[k].File, p.Faults[k].Field = "", "events["+strconv.Itoa(i)+"].data."+p.Faults[k].Field
	}
	if len(p.Faults) > 0 {
		p.File, p.Field = "", p.Faults[0].Field
	}
	return p
}

// Entries is events as they are kept.
type Entries struct {
	Head    Head                     `json:"head"`
	Entries Computed[[]ledger.Entry] `json:"entries"`
}

// Lines is events with the keys of the changes that wrote them.
type Lines struct {
	Lines Computed[[]job.Line] `json:"lines"`
}

func (s *service) jobs() {
	serve(s, route{id: "jobs", method: http.MethodGet, path: "/jobs", group: "jobs", says: "Jobs of the shop, the one changed last first.",
		more: "A page goes on behind its last job: after and changed are that job's."}, s.find)
	serve(s, route{id: "jobs-by-name", method: http.MethodGet, path: "/jobs-by-name", group: "jobs", says: "Jobs of the shop in the order of their names."},
		func(ctx context.Context, as *app.As, in *struct {
			After string `query:"after" maxLength:"100" doc:"Name of the last job of the page before."`
			Most  int    `query:"most" default:"50" minimum:"1" maximum:"200"`
		}) (*plain[Jobs], error) {
			all, err := as.List(ctx, in.After, in.Most+1)
			return &plain[Jobs]{jobsOf(all, in.Most)}, err
		})
	serve(s, route{id: "begin-job", makes: true, method: http.MethodPut, path: "/jobs/{job}", group: "jobs", status: http.StatusCreated, says: "Begins a job with the events that open it.",
		limit: fileBody, refuses: []int{http.StatusConflict, http.StatusUnprocessableEntity}},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Keyed
			Body Change
		}) (*answer[Head], error) {
			c, err := in.Body.changing(as, in.Job, in.Key)
			if err != nil {
				return nil, err
			}
			head, err := as.Begin(ctx, in.Job, c)
			return &answer[Head]{tag(head.Hash), Head(head)}, err
		})
	serve(s, route{id: "job", method: http.MethodGet, path: "/jobs/{job}", group: "jobs", says: "The newest event of a job.", tagged: true},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Has
		}) (*answer[Head], error) {
			head, err := as.Head(ctx, in.Job)
			if err == nil {
				err = had(in.Has, tag(head.Hash))
			}
			return &answer[Head]{tag(head.Hash), Head(head)}, err
		})
	serve(s, route{id: "change-job", method: http.MethodPost, path: "/jobs/{job}/changes", group: "jobs", says: "Writes events into a job, all of them or none.",
		more:  "Nothing is written over an event that its author had not seen: that is 409 conflict.written-since, with all versions.",
		limit: fileBody, refuses: []int{http.StatusConflict, http.StatusUnprocessableEntity}},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Keyed
			Body Change
		}) (*answer[Head], error) {
			if _, err := as.Head(ctx, in.Job); diag.KindOf(err) == diag.NotFound && err != nil {
				return nil, err
			}
			c, err := in.Body.changing(as, in.Job, in.Key)
			if err != nil {
				return nil, err
			}
			head, err := as.Change(ctx, in.Job, c)
			return &answer[Head]{tag(head.Hash), Head(head)}, err
		})
	serve(s, route{id: "index-job", method: http.MethodPut, path: "/jobs/{job}/line", group: "jobs", status: http.StatusNoContent, says: "Notes the title and plate that lists show of a job.", more: "What a job waits for is worked out by the server after each change.", limit: usualBody, refuses: []int{http.StatusUnprocessableEntity}},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Body struct {
				At    int64  `json:"at" minimum:"1" doc:"Number of the event it was so at; what was noted for a later one stays."`
				Title string `json:"title" maxLength:"200"`
				Plate string `json:"plate" maxLength:"40"`
			}
		}) (*struct{}, error) {
			return nil, as.Index(ctx, in.Job, in.Body.At, func(was app.Shown) app.Shown {
				was.Title, was.Plate = in.Body.Title, in.Body.Plate
				return was
			})
		})
	s.chains()
	s.asides()
}

func (s *service) find(ctx context.Context, as *app.As, in *struct {
	Text    string `query:"text" maxLength:"400" doc:"Only jobs that have all of these: beginnings of names, of parts of the vehicle's number, of findings, their sorts and parts."`
	Waits   string `query:"waits" maxLength:"200" doc:"Only those that wait for this."`
	Whom    string `query:"whom" maxLength:"200" doc:"Only those that wait for this person."`
	After   string `query:"after" maxLength:"100" doc:"Name of the last job of the page before."`
	Changed string `query:"changed" maxLength:"40" doc:"When that was changed, as the page has it."`
	Most    int    `query:"most" default:"50" minimum:"1" maximum:"200"`
}) (*plain[Jobs], error) {
	all, err := as.Find(ctx, app.JobQuery{Text: in.Text, Waits: in.Waits, On: in.Whom, After: app.JobLine{ID: in.After, Changed: in.Changed}, Most: in.Most + 1})
	return &plain[Jobs]{jobsOf(all, in.Most)}, err
}

// chains is the routes of events as they are kept.
func (s *service) chains() {
	serve(s, route{id: "events", method: http.MethodGet, path: "/jobs/{job}/events", group: "jobs", says: "The events of a job as they are kept, from the one after a number.", tagged: true},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Has
			After int64 `query:"after" minimum:"0" doc:"Number of the last event that one has."`
		}) (*answer[Entries], error) {
			head, err := as.Standing(ctx, in.Job)
			if err == nil {
				err = had(in.Has, tag(head.Hash))
			}
			if err != nil {
				return nil, err
			}
			c, err := as.Load(ctx, in.Job, in.After)
			if len(c) > 0 {
				head.Seq, head.Hash = c.Head()
			}
			return &answer[Entries]{tag(head.Hash), Entries{Head(head), Computed[[]ledger.Entry]{c}}}, err
		})
	serve(s, route{id: "history", known: true, method: http.MethodGet, path: "/jobs/{job}/history", group: "jobs", says: "What happened to a job, in words."},
		func(ctx context.Context, as *app.As, in *OfJob) (*plain[Computed[[]app.EventLine]], error) {
			all, err := as.Events(ctx, in.Job)
			return &plain[Computed[[]app.EventLine]]{Computed[[]app.EventLine]{all}}, err
		})
	serve(s, route{id: "lines", method: http.MethodGet, path: "/jobs/{job}/lines", group: "jobs", says: "The events of a job with the keys of the changes that wrote them: all that another store needs."},
		func(ctx context.Context, as *app.As, in *OfJob) (*plain[Lines], error) {
			all, err := as.Lines(ctx, in.Job)
			return &plain[Lines]{Lines{Computed[[]job.Line]{all}}}, err
		})
	serve(s, route{id: "bring-job", makes: true, method: http.MethodPut, path: "/jobs/{job}/lines", group: "jobs", status: http.StatusCreated, says: "Begins a job with the events of another store as they are.",
		more:  "Brought twice it is there once. For whoever looks after the store: what stands in the events was judged elsewhere.",
		limit: fileBody, refuses: []int{http.StatusConflict, http.StatusUnprocessableEntity}},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Body struct {
				Lines Computed[[]job.Line] `json:"lines"`
			}
		}) (*answer[Head], error) {
			head, err := as.Bring(ctx, in.Job, in.Body.Lines.Of)
			return &answer[Head]{tag(head.Hash), Head(head)}, err
		})
}

// Aside is the files that a job was written in by hand.
type Aside struct {
	Files []File `json:"files" maxItems:"100"`
}

// asides is the routes of the files that a job was written in by hand.
func (s *service) asides() {
	serve(s, route{id: "aside", method: http.MethodGet, path: "/jobs/{job}/aside", group: "jobs", says: "The files that a job was written in by hand before it was kept."},
		func(ctx context.Context, as *app.As, in *OfJob) (*plain[Aside], error) {
			files, err := as.Aside(ctx, in.Job)
			return &plain[Aside]{Aside{listed(files)}}, err
		})
	serve(s, route{id: "set-aside", method: http.MethodPut, path: "/jobs/{job}/aside", group: "jobs", status: http.StatusNoContent, says: "Keeps the files that a job was written in by hand; others under the same job are 409.",
		limit: fileBody, refuses: []int{http.StatusConflict, http.StatusUnprocessableEntity}},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Body Aside
		}) (*struct{}, error) {
			return nil, as.SetAside(ctx, in.Job, byName(in.Body.Files))
		})
}
