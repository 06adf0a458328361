package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"slices"
	"strings"
	"sync"

	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// UploadLimits protect the machine from those who send.
type UploadLimits struct {
	Own  int    // uploads that one person may have under way
	All  int    // that all may have
	Free uint64 // bytes of the disk that stay free
	// Room is how many bytes of it are free; nil, or not known: nobody looks.
	Room func() (free uint64, known bool, err error)
}

// UsualUploads are limits that a person with a camera keeps (our choice).
var UsualUploads = UploadLimits{Own: 250, All: 1000, Free: 1 << 30}

// Uploader takes files for stored jobs in pieces and puts them on record as evidence. Every call may be made again when its
// answer was lost: a file is on record once. It may be used by many goroutines.
type Uploader struct {
	app    *App
	to     Store
	in     Uploads
	limits UploadLimits
	begins sync.Mutex // uploads are counted and begun one after the other
}

// Uploader takes files for the jobs of a store.
func (a *App) Uploader(to Store, in Uploads, l UploadLimits) *Uploader {
	return &Uploader{app: a, to: to, in: in, limits: l}
}

// Sending is a file that is to be sent, as its sender announces it.
type Sending struct {
	Job    string         `json:"job"`
	Name   string         `json:"name"`   // as the sender has it; what the file is, its bytes say
	SHA256 string         `json:"sha256"` // of all bytes
	Size   int64          `json:"size"`
	Text   string         `json:"text"` // what it shows
	By     string         `json:"by"`   // who took it, as the job names people
	On     unit.Date      `json:"on"`
	For    job.RecordName `json:"for"` // the finding or inspection it is a photo of; empty: of none
}

// Sent is how far an upload is.
type Sent struct {
	ID       string         `json:"id"`
	Size     int64          `json:"size"`
	Have     int64          `json:"have"`     // go on from here
	Ends     string         `json:"ends"`     // when it is given up; empty once it is on record
	Recorded job.RecordName `json:"recorded"` // as what it is on record; empty: it is not yet
}

const (
	mostSent = 1000 // bytes of a text or name that is announced
	mostKey  = 200  // bytes of a key
	sealings = 20   // tries, when others write into the job at the same moment
)

// noteOf is what an upload notes beside its bytes: who sends it, and what it was announced as.
type noteOf struct {
	Who string `json:"who"`
	Sending
}

// changeKey is the key of the change that puts an upload on record.
func changeKey(id string) string { return "upload-" + id }

// Begin announces a file. Who is an opaque name of the person; the key is made by the sender for this file alone, and kept until it is on
// record: begun again with it, it is the same upload, however long ago.
func (u *Uploader) Begin(ctx context.Context, who, key string, f Sending) (Sent, error) {
	if err := announced(who, key, f); err != nil {
		return Sent{}, err
	}
	sum := sha256.Sum256(fmt.Appendf(nil, "%d:%s%d:%s%d:%s", len(who), who, len(f.Job), f.Job, len(key), key))
	id := hex.EncodeToString(sum[:16])
	if was, err := u.recorded(ctx, f.Job, id); err != nil || was.sent.Recorded != "" {
		if err == nil && was.sha256 != f.SHA256 {
			err = &diag.Error{Kind: diag.Conflict, Op: "upload", Subject: f.Name, Msg: fmt.Sprintf("another file was sent with this key, and is %s", was.sent.Recorded), Hint: "make a new key for each file"}
		}
		return was.sent, err
	}
	if err := u.wouldFit(ctx, f); err != nil {
		return Sent{}, err
	}
	note, err := json.Marshal(noteOf{who, f})
	if err != nil {
		return Sent{}, err
	}
	u.begins.Lock()
	defer u.begins.Unlock()
	if err := u.roomFor(ctx, who, id, f); err != nil {
		return Sent{}, err
	}
	is, err := u.in.BeginUpload(ctx, id, string(note), f.SHA256, f.Size)
	return sentOf(is), err
}

func sentOf(u Upload) Sent {
	return Sent{ID: u.ID, Size: u.Size, Have: u.Have, Ends: u.Ends.UTC().Format("2006-01-02T15:04:05Z")}
}

// announced says what is wrong with what is announced.
func announced(who, key string, f Sending) error {
	wrong := func(msg, hint string) error {
		return &diag.Error{Kind: diag.Invalid, Op: "upload", Subject: f.Name, Msg: msg, Hint: hint}
	}
	switch {
	case who == "" || key == "" || len(key) > mostKey:
		return wrong(fmt.Sprintf("nobody sends it, or it has no key of at most %d bytes", mostKey), "make a key for each file, and keep it until the file is on record")
	case f.Name == "" || len(f.Name) > mostSent || len(f.Text) > mostSent || len(f.By) > mostSent || len(f.For) > mostSent:
		return wrong(fmt.Sprintf("its name is missing, or a text has more than %d bytes", mostSent), "give a shorter one")
	case strings.TrimSpace(f.Text) == "":
		return wrong("nobody says what it shows", "give text")
	case f.Size < 1:
		return wrong("the file is empty", "send it again")
	case f.Size > evidence.most:
		return &diag.Error{Kind: diag.Denied, Op: "upload", Subject: f.Name, Msg: fmt.Sprintf("it has %s; %s has %s at most", byteCount(f.Size), evidence.what, byteCount(evidence.most)), Hint: "save it smaller"}
	}
	return nil
}

// wouldFit says why a file could not be put on record, before it is sent.
func (u *Uploader) wouldFit(ctx context.Context, f Sending) error {
	c := &Opened{From: f.Job, store: u.to, storeID: f.Job, alone: true}
	_, err := while(ctx, func(w *halt.Work) (struct{}, error) { return struct{}{}, u.app.readJob(w, c) })
	if err == nil {
		var record []any
		if record, err = f.records(c, sentText); err == nil {
			var events []job.Event
			if events, err = c.stored.Recording(nil, record...); err == nil {
				_, _, err = c.stored.Try(events[0])
			}
		}
	}
	return err
}

// roomFor says why no more is taken at this moment. All that is under way may need its size twice: its pieces, and the whole
// that is made of them.
func (u *Uploader) roomFor(ctx context.Context, who, id string, f Sending) error {
	own, all, need := 0, 0, 2*uint64(f.Size)
	begun := false
	err := u.in.EachUpload(ctx, func(x Upload) error {
		var note noteOf
		begun = begun || x.ID == id
		if x.ID == id || x.Sealed || json.Unmarshal([]byte(x.Note), &note) != nil {
			return nil
		}
		if all++; note.Who == who {
			own++
		}
		need += 2 * uint64(x.Size)
		return nil
	})
	full := func(n int, whose string) error {
		return &diag.Error{Kind: diag.Unavailable, Op: "upload", Subject: f.Name, Msg: fmt.Sprintf("%d uploads%s are under way, and more are not taken", n, whose), Hint: "finish or drop some; those that are left are given up after a week"}
	}
	switch {
	case err != nil || begun:
		return err
	case own >= u.limits.Own:
		return full(own, " of yours")
	case all >= u.limits.All:
		return full(all, "")
	case u.limits.Room == nil:
		return nil
	}
	free, known, err := u.limits.Room()
	if err == nil && known && free < u.limits.Free+need {
		err = &diag.Error{Kind: diag.Unavailable, Op: "upload", Subject: f.Name, Msg: "the disk of the store has no room for it", Hint: "make room there, and send it again; nothing is lost"}
	}
	return err
}

// own is an upload of a person. That of somebody else is none, so that nobody learns of it.
func (u *Uploader) own(ctx context.Context, who, jobID, id string) (Upload, noteOf, error) {
	var note noteOf
	is, err := u.in.UploadOf(ctx, id)
	if err == nil && (json.Unmarshal([]byte(is.Note), &note) != nil || note.Who != who || note.Job != jobID) {
		err = &diag.Error{Kind: diag.NotFound, Op: "upload", Subject: id, Msg: "there is no such upload, or it took too long and was given up", Hint: "begin it anew"}
	}
	if err != nil {
		return Upload{}, noteOf{}, err
	}
	return is, note, nil
}

// State is how far an upload is, or as what it is on record.
func (u *Uploader) State(ctx context.Context, who, jobID, id string) (Sent, error) {
	is, _, err := u.own(ctx, who, jobID, id)
	if diag.KindOf(err) == diag.NotFound {
		was, other := u.recorded(ctx, jobID, id)
		if other == nil && was.sent.Recorded != "" && was.by == who {
			return was.sent, nil
		}
		return Sent{}, errors.Join(err, passing(other))
	}
	if err != nil {
		return Sent{}, err
	}
	return sentOf(is), nil
}

// passing is an error that says nothing of what is asked for: one of the machine.
func passing(err error) error {
	if diag.KindOf(err) == diag.NotFound {
		return nil
	}
	return err
}

// Send adds a piece with its hash, from an offset on. One that did not come whole is not there. What the first bytes say that
// is not taken ends the upload.
func (u *Uploader) Send(ctx context.Context, who, jobID, id string, offset int64, sha string, piece io.Reader) (Sent, error) {
	before, err := u.State(ctx, who, jobID, id)
	if err != nil || before.Recorded != "" {
		return before, err
	}
	is, err := u.in.SendPiece(ctx, id, offset, &wholePiece{Reader: piece, sum: sha256.New(), want: sha, id: id})
	if err != nil {
		return u.doneMeanwhile(ctx, who, jobID, id, err)
	}
	if told := min(leastHead, is.Size); before.Have < told && is.Have >= told {
		if _, err := u.judged(ctx, is); err != nil {
			return u.doneMeanwhile(ctx, who, jobID, id, err)
		}
	}
	return sentOf(is), nil
}

// doneMeanwhile is the answer to what failed, unless another sender of the same file was done with it meanwhile.
func (u *Uploader) doneMeanwhile(ctx context.Context, who, jobID, id string, err error) (Sent, error) {
	if was, other := u.recorded(ctx, jobID, id); other == nil && was.sent.Recorded != "" && was.by == who {
		return was.sent, nil
	}
	return Sent{}, err
}

// wholePiece ends with an error where the bytes are not those of the hash.
type wholePiece struct {
	io.Reader
	sum  hash.Hash
	want string
	id   string
}

func (p *wholePiece) Read(b []byte) (int, error) {
	n, err := p.Reader.Read(b)
	p.sum.Write(b[:n]) // a hash takes all
	if err == io.EOF && hex.EncodeToString(p.sum.Sum(nil)) != p.want {
		err = &diag.Error{Kind: diag.Integrity, Op: "upload", Subject: p.id, Msg: "the piece that came does not have the hash that was sent with it; it was not kept", Hint: "send it again"}
	}
	return n, err
}

// judged is the sort of an upload by its first bytes; one that is not taken is over.
func (u *Uploader) judged(ctx context.Context, is Upload) (sentKind, error) {
	head, err := u.in.UploadHead(ctx, is.ID, mostHead)
	if err != nil {
		return sentKind{}, err
	}
	kind, err := u.app.sentAs(head, is.Size)
	if err != nil {
		return kind, errors.Join(err, u.in.DropUpload(ctx, is.ID))
	}
	return kind, nil
}

// Drop gives an upload up. What is on record stays.
func (u *Uploader) Drop(ctx context.Context, who, jobID, id string) error {
	_, _, err := u.own(ctx, who, jobID, id)
	if err == nil {
		err = u.in.DropUpload(ctx, id)
	}
	return passing(err)
}

// Seal puts an upload on record, if all its bytes are there and are those that were announced. Sealed again, the answer
// is the same.
func (u *Uploader) Seal(ctx context.Context, who, jobID, id string) (Sent, error) {
	var err error
	for range sealings {
		var is Upload
		var note noteOf
		is, note, err = u.own(ctx, who, jobID, id) // looked at first: it goes once it is on record
		was, other := u.recorded(ctx, jobID, id)
		if was.sent.Recorded != "" && was.by == who {
			if err == nil {
				err = u.in.DropUpload(ctx, id)
			}
			return was.sent, passing(err)
		}
		if err = errors.Join(err, passing(other)); err != nil {
			return Sent{}, err
		}
		if err = u.record(ctx, is, note); err != nil && !again(err) {
			return u.doneMeanwhile(ctx, who, jobID, id, err)
		}
	}
	return Sent{}, err
}

// again says that what could not be put on record may be now: somebody else wrote, or sealed the same upload, at the same moment.
func again(err error) bool {
	kind := diag.KindOf(err)
	return !errors.As(err, &settled{}) && (kind == diag.Conflict || kind == diag.NotFound)
}

// settled is an error that stays, however often it is tried.
type settled struct{ error }

func (s settled) Unwrap() error { return s.error }

// record keeps the bytes of an upload and puts them on record.
func (u *Uploader) record(ctx context.Context, is Upload, note noteOf) error {
	if is.Have != is.Size {
		return settled{&diag.Error{Kind: diag.Conflict, Op: "upload", Subject: is.ID, Msg: fmt.Sprintf("only %d of its %d bytes are there", is.Have, is.Size), Hint: fmt.Sprintf("go on at %d", is.Have)}}
	}
	kind, err := u.judged(ctx, is)
	if err == nil {
		err = u.in.SealUpload(ctx, is.ID)
	}
	if is.Sealed && diag.KindOf(err) == diag.NotFound { // sealed days ago, not put on record, and swept
		return settled{errors.Join(err, u.in.DropUpload(ctx, is.ID))}
	}
	if err != nil {
		return err
	}
	c, err := while(ctx, func(w *halt.Work) (*Opened, error) {
		return u.app.openParts(w, &Opened{From: note.Job, store: u.to, storeID: note.Job, alone: true}, newShelf())
	})
	if err != nil {
		return err
	}
	records, err := note.records(c, kind)
	if err != nil {
		return settled{err}
	}
	r, err := u.app.recordEvents(c, func(err error) error { return err }, nil, records...)
	if err != nil {
		return err
	}
	_, err = u.app.Append(ctx, c, r, note.Who, changeKey(is.ID))
	return err
}

// records is what puts a file of a sort on record: a piece of evidence, and the finding or inspection it is a photo of.
func (f Sending) records(c *Opened, k sentKind) ([]any, error) {
	var files []string
	for _, e := range c.Job.Evidence {
		if files = append(files, e.File); e.SHA256 == f.SHA256 {
			return nil, &diag.Error{Kind: diag.Conflict, Op: "upload", Subject: f.Name, Msg: "the job has this file already, as " + e.ID, Hint: "name that"}
		}
	}
	e := job.Evidence{ID: freeID("E", c.Job.Evidence, func(x job.Evidence) string { return x.ID }), File: freeName(safeName(f.Name, k), files), SHA256: f.SHA256, Text: f.Text, By: f.By, On: f.On}
	if f.For == "" {
		return []any{e}, nil
	}
	sort, name, _ := strings.Cut(string(f.For), "/")
	if i := slices.IndexFunc(c.Job.Findings, func(x job.Finding) bool { return string(x.ID) == name }); sort == "finding" && i >= 0 {
		x := c.Job.Findings[i]
		x.Photos = append(slices.Clone(x.Photos), e.ID)
		return []any{e, job.Changed{List: "findings", At: i, Item: x}}, nil
	}
	if i := slices.IndexFunc(c.Job.Looks, func(x job.Inspection) bool { return x.ID == name }); sort == "inspection" && i >= 0 {
		x := c.Job.Looks[i]
		x.Photos = append(slices.Clone(x.Photos), e.ID)
		return []any{e, job.Changed{List: "inspections", At: i, Item: x}}, nil
	}
	return nil, &diag.Error{Kind: diag.Unsupported, Op: "upload", Subject: string(f.For), Msg: "the job has no such finding or inspection", Hint: "name one, as finding/D1, or none"}
}

// wasRecorded is an upload that is on record.
type wasRecorded struct {
	sent   Sent
	by     string
	sha256 string
}

// recorded is as what an upload is on record in a job, by the key of the change that put it there.
func (u *Uploader) recorded(ctx context.Context, jobID, id string) (out wasRecorded, err error) {
	lines, err := u.to.Lines(ctx, jobID)
	for _, l := range lines {
		if l.Change != changeKey(id) || job.EventKind(l.What) != job.EvidenceAdded {
			continue
		}
		var e struct {
			SHA256 string `json:"sha256"`
		}
		if err := json.Unmarshal([]byte(l.Payload), &e); err != nil {
			return out, err
		}
		return wasRecorded{Sent{ID: id, Recorded: job.RecordName(l.About)}, l.By, e.SHA256}, nil
	}
	return out, err
}
