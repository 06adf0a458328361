package api

import (
	"context"
	"encoding/json"
	"net/http"

	"fettle/internal/app"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// Record is a record of a job.
type Record struct {
	Record string          `json:"record" doc:"Its name, for example finding/D1."`
	Seen   int64           `json:"seen" doc:"Number of the newest event about it."`
	Text   string          `json:"text" doc:"As a person writes it, in YAML."`
	Data   json.RawMessage `json:"data" doc:"As events have it."`
}

// Written is what was written.
type Written struct {
	Head Head   `json:"head"`
	Text string `json:"text" doc:"What was recorded, in words."`
}

func written(r app.Recorded, h app.Head, err error) (*answer[Written], error) {
	return &answer[Written]{tag(h.Hash), Written{Head(h), r.Text}}, err
}

// Signed is who takes a deed and when.
type Signed struct {
	By     string `json:"by" minLength:"1" maxLength:"200" doc:"Person of the shop file."`
	On     string `json:"on" format:"date" doc:"The day (year-month-day)."`
	Reason string `json:"reason" minLength:"1" maxLength:"2000"`
}

func dayOf(as *app.As, on string) (unit.Date, error) {
	t, err := as.Day(on)
	return unit.DateOf(t), err
}

var writes = []int{http.StatusConflict, http.StatusUnprocessableEntity}

func (s *service) records() {
	serve(s, route{id: "record", method: http.MethodGet, path: "/jobs/{job}/record", group: "records", says: "A record of a job as it is."},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Name string `query:"name" required:"true" maxLength:"200" doc:"Its name, as events have it in about." example:"finding/D1"`
		}) (*plain[Record], error) {
			r, err := as.Record(ctx, in.Job, job.RecordName(in.Name))
			return &plain[Record]{Record{string(r.Record), r.Seen, r.Text, r.Data}}, err
		})
	serve(s, route{id: "put-record", method: http.MethodPut, path: "/jobs/{job}/record", group: "records", says: "Writes a record: a new one, or one in the place of what was seen.", limit: tableBody, refuses: writes,
		more: "Faults are told with line and column of the text."},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Keyed
			Name string `query:"name" required:"true" maxLength:"200" doc:"Its name; of a new one without identity the sort alone." example:"finding/D1"`
			Body struct {
				File string `json:"file,omitempty" maxLength:"200" doc:"What the text is called in messages."`
				Text string `json:"text" doc:"The record in YAML or JSON."`
				Seen int64  `json:"seen" minimum:"0" doc:"Number of the newest event about it that its author had seen; 0: none."`
			}
		}) (*answer[Written], error) {
			name := in.Body.File
			if name == "" {
				name = "record.yaml"
			}
			return written(as.Put(ctx, in.Job, in.Key, job.RecordName(in.Name), name, in.Body.Text, in.Body.Seen))
		})
	serve(s, route{id: "withdraw-record", method: http.MethodPost, path: "/jobs/{job}/withdraw", group: "records", says: "Takes a record back: it and its withdrawal stay in the chain.", limit: usualBody, refuses: writes},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Keyed
			Body struct {
				Signed
				Record string `json:"record" minLength:"1" maxLength:"200"`
			}
		}) (*answer[Written], error) {
			day, err := dayOf(as, in.Body.On)
			if err != nil {
				return nil, err
			}
			return written(as.Withdraw(ctx, in.Job, in.Key, job.RecordName(in.Body.Record), job.Withdrawal{By: in.Body.By, On: day, Reason: in.Body.Reason}))
		})
	serve(s, route{id: "hand-over-job", method: http.MethodPost, path: "/jobs/{job}/hand-over", group: "records", says: "Hands a job over to another shop of the group, whose it is from then on.", limit: usualBody, refuses: writes},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Keyed
			Body struct {
				Signed
				To   string `json:"to" minLength:"1" maxLength:"40" doc:"The shop."`
				Seen int64  `json:"seen" minimum:"0" doc:"Number of the newest event about the record owner; 0: none."`
			}
		}) (*answer[Written], error) {
			day, err := dayOf(as, in.Body.On)
			if err != nil {
				return nil, err
			}
			over := job.HandedOver{To: in.Body.To, By: in.Body.By, On: day, Reason: in.Body.Reason}
			head, err := as.Change(ctx, in.Job, app.Changing{Key: in.Key, Events: []job.Event{{Kind: job.JobHandedOver, Seen: in.Body.Seen, Data: over}}})
			return written(app.Recorded{Text: "Handed over to " + in.Body.To + "."}, head, err)
		})
	serve(s, route{id: "erase-texts", method: http.MethodPost, path: "/jobs/{job}/erase", group: "records", says: "Takes names and remarks of people out of a record, or out of all records of a person.",
		more: "Another person has to have agreed to it. This cannot be undone; the chain still verifies.", limit: usualBody}, erase)
	serve(s, route{id: "renew-job", method: http.MethodPost, path: "/jobs/{job}/renew", group: "records", says: "Makes a job work with a body and a shop that are kept, from now on.", limit: usualBody, refuses: toolRefuses},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Keyed
			Body struct {
				BodyHash string `json:"body,omitempty" pattern:"^([0-9a-f]{64})?$" doc:"Hash of a body; the one it has unless given."`
				ShopHash string `json:"shop,omitempty" pattern:"^([0-9a-f]{64})?$" doc:"Likewise of a shop."`
			}
		}) (*answer[Written], error) {
			return written(as.Renew(ctx, in.Job, in.Key, in.Body.BodyHash, in.Body.ShopHash))
		})
	serve(s, route{id: "hand-back", method: http.MethodPost, path: "/jobs/{job}/hand-back", group: "records", says: "Records that the vehicle was handed back, where nothing is missing.", limit: usualBody, refuses: writes},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Keyed
			OnDay
			Body struct {
				To     string `json:"to" enum:"owner,agent of the owner,agent of the payer,carrier"`
				By     string `json:"by" minLength:"1" maxLength:"200" doc:"Person of the shop file."`
				Second string `json:"second,omitempty" maxLength:"200" doc:"A second person, where the first gave a proof."`
				Text   string `json:"text,omitempty" maxLength:"2000"`
			}
		}) (*answer[Written], error) {
			day, err := dayOf(as, s.day(in.On))
			if err != nil {
				return nil, err
			}
			b := in.Body
			return written(as.HandBack(ctx, in.Job, in.Key, s.day(in.On), job.HandBack{To: job.Receiver(b.To), By: b.By, On: day, Second: b.Second, Text: b.Text}))
		})
	s.agreeErasure()
	s.review()
	s.entries()
	s.questions()
}

func erase(ctx context.Context, as *app.As, in *struct {
	OfJob
	Keyed
	Body struct {
		Record string `json:"record,omitempty" maxLength:"200" doc:"The record; none where a person is erased."`
		Person string `json:"person,omitempty" maxLength:"200" doc:"Every record that names this person."`
		Wrote  string `json:"wrote,omitempty" maxLength:"200" doc:"Every record that this opaque name has written a text of."`
		On     string `json:"on" format:"date"`
		Reason string `json:"reason" minLength:"1" maxLength:"2000" doc:"Why, without a name."`
	}
}) (*answer[Written], error) {
	b := in.Body
	day, err := dayOf(as, b.On)
	if err != nil {
		return nil, err
	}
	e := job.Erasure{On: day, Reason: b.Reason}
	if b.Record != "" {
		return written(as.Erase(ctx, in.Job, in.Key, job.RecordName(b.Record), e))
	}
	return written(as.ErasePerson(ctx, in.Job, in.Key, job.Person{Names: []string{b.Person}, Wrote: b.Wrote}, e))
}

// Entry is an entry that is open in a job: what is to be recorded, as a row of the table.
type Entry struct {
	Entry   string `json:"entry" doc:"Its sort."`
	About   string `json:"about" doc:"The step, joint, section line, procedure, area, part or material."`
	Finding string `json:"finding"`
	What    string `json:"what"`
	Must    string `json:"mustBe" doc:"What it has to be."`
}

// OpenEntries is the entries that are open.
type OpenEntries struct {
	Entries []Entry `json:"entries"`
	Table   string  `json:"table" doc:"The same as CSV with blanks, to be filled in and sent back."`
}

// entries is the routes of the table of open entries.
func (s *service) entries() {
	serve(s, route{id: "open-entries", method: http.MethodGet, path: "/jobs/{job}/entries", group: "records", says: "The entries that are open in a job."},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			OnDay
		}) (*plain[OpenEntries], error) {
			es, table, err := as.OpenEntries(ctx, in.Job, s.day(in.On))
			o := &plain[OpenEntries]{OpenEntries{Entries: []Entry{}, Table: string(table)}}
			for _, e := range es {
				o.Body.Entries = append(o.Body.Entries, Entry{string(e.Entry), e.About, string(e.Finding), e.What, e.Must})
			}
			return o, err
		})
	serve(s, route{id: "take-entries", method: http.MethodPost, path: "/jobs/{job}/entries", group: "records", says: "Puts on record every row of a filled-in table that names a person.", limit: tableBody, refuses: toolRefuses},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Keyed
			OnDay
			Body struct {
				Name  string `json:"name,omitempty" maxLength:"200" doc:"What the table is called in messages."`
				Table string `json:"table" doc:"CSV."`
			}
		}) (*answer[Written], error) {
			name := in.Body.Name
			if name == "" {
				name = "entries.csv"
			}
			return written(as.TakeEntries(ctx, in.Job, in.Key, s.day(in.On), name, []byte(in.Body.Table)))
		})
}

// Question is a question to the manufacturer, ready to be sent.
type Question struct {
	ID      string `json:"id"`
	State   string `json:"state" doc:"As the decisions have it: to be sent; sent, no answer yet; answered; or why it has to be asked again." example:"to be sent"`
	Finding string `json:"finding,omitempty"`
	Point   string `json:"point,omitempty"`
	Text    string `json:"text"`
	Files   []File `json:"files" doc:"Text and page."`
}

// Answer is an answer of the manufacturer as a person enters it.
type Answer struct {
	Question   string            `json:"question" minLength:"1" maxLength:"200"`
	VIN        string            `json:"vin" minLength:"1" maxLength:"40" doc:"The vehicle the answer names."`
	Allow      []string          `json:"allow,omitempty" maxItems:"50"`
	Forbid     []string          `json:"forbid,omitempty" maxItems:"50"`
	When       map[string]string `json:"when,omitempty" doc:"Conditions that the finding has to meet, by fact."`
	Conditions string            `json:"conditions,omitempty" maxLength:"10000"`
	By         string            `json:"by" minLength:"1" maxLength:"200" doc:"Who answered: a role, not a name."`
	Dated      string            `json:"dated" format:"date"`
	Expires    string            `json:"expires" format:"date" doc:"Day from which it no longer holds."`
	RecordedBy string            `json:"recordedBy" minLength:"1" maxLength:"200" doc:"Person of the shop file."`
	Document   File              `json:"document" doc:"The manufacturer's own words."`
}

// RecordText is a record as put-record takes it.
type RecordText struct {
	Text string `json:"text" doc:"YAML."`
}

// questions is the routes of what is asked of the manufacturer.
func (s *service) questions() {
	serve(s, route{id: "question", method: http.MethodGet, path: "/jobs/{job}/question", group: "records", says: "The question to the manufacturer about a finding or a control point, complete."},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			OnDay
			About string `query:"about" required:"true" maxLength:"200" doc:"A finding, a control point, or the number of a question."`
		}) (*plain[Question], error) {
			q, err := as.Ask(ctx, in.Job, s.day(in.On), in.About)
			return &plain[Question]{Question{q.Question.ID, string(q.Question.State), string(q.Question.Finding), string(q.Question.Point), q.Question.Text, listed(q.Files)}}, err
		})
	serve(s, route{id: "send-question", method: http.MethodPost, path: "/jobs/{job}/questions", group: "records", says: "Records that a question was sent.", limit: usualBody, refuses: []int{http.StatusConflict}},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Keyed
			OnDay
			Body struct {
				About string `json:"about" minLength:"1" maxLength:"200"`
				By    string `json:"by" minLength:"1" maxLength:"200" doc:"Person of the shop file."`
			}
		}) (*answer[Written], error) {
			return written(as.Sent(ctx, in.Job, in.Key, s.day(in.On), in.Body.About, in.Body.By))
		})
	serve(s, route{id: "file-answer", method: http.MethodPost, path: "/jobs/{job}/answers", group: "records", says: "Records the manufacturer's answer to a question, with its document.", limit: fileBody, refuses: []int{http.StatusConflict}},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			Keyed
			OnDay
			Body Answer
		}) (*answer[Written], error) {
			b := in.Body
			g := app.Given{Question: b.Question, VIN: b.VIN, Allow: b.Allow, Forbid: b.Forbid, When: b.When, Conditions: b.Conditions, By: b.By, Document: b.Document.Name, RecordedBy: b.RecordedBy}
			var err error
			if g.Dated, err = dayOf(as, b.Dated); err != nil {
				return nil, err
			}
			if g.Expires, err = dayOf(as, b.Expires); err != nil {
				return nil, err
			}
			return written(as.Answer(ctx, in.Job, in.Key, s.day(in.On), g, b.Document.Data))
		})
	serve(s, route{id: "agreement", method: http.MethodGet, path: "/jobs/{job}/agreement", group: "records", says: "The record that keeps the bill of a route as agreed by somebody; nothing is written."},
		func(ctx context.Context, as *app.As, in *struct {
			OfJob
			OnDay
			Route string `query:"route" maxLength:"200"`
			By    string `query:"by" required:"true" maxLength:"200"`
		}) (*plain[RecordText], error) {
			text, err := as.Agreement(ctx, in.Job, s.day(in.On), in.Route, in.By)
			return &plain[RecordText]{RecordText{text}}, err
		})
}
