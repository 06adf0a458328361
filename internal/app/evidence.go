package app

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"

	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/job"
)

// Evidence is a piece of evidence as it was read.
type Evidence struct {
	ID     string `json:"id"`
	File   string `json:"file"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"` // of the file
	Noted  bool   `json:"noted"`  // the job notes this hash
}

// evidenceOfJob reads every piece of evidence once, and names those whose file
// is not there, may not be read, or is not the one that was recorded.
func (a *App) evidenceOfJob(w *halt.Work, c *Opened) ([]Evidence, diag.Problems, error) {
	var out []Evidence
	var problems diag.Problems
	read := map[string]Evidence{} // by file: two pieces may lie in one file
	sum := int64(0)
	for i, e := range c.Job.Evidence {
		fault := func(field, msg, hint string) {
			problems = append(problems, c.Job.Problem(fmt.Sprintf("evidence[%d].%s", i, field), msg, hint))
		}
		seen, again := read[c.keptAs(e)]
		if !again {
			hash, n, err := a.sumOf(w.Context(), c, e)
			w.Step() // stopped meanwhile it is no answer
			if err != nil {
				msg, hint := evidenceFault(c, e, err)
				if msg == "" {
					return nil, nil, c.evidenceNotRead(e, err)
				}
				fault("file", msg, hint)
				continue
			}
			seen = Evidence{File: e.File, Bytes: n, SHA256: hash}
			read[c.keptAs(e)] = seen
			if sum += n; sum > maxEvidenceBytes {
				fault("file", fmt.Sprintf("the evidence of this job has more than %s together", byteCount(maxEvidenceBytes)), "save the largest files smaller")
				break
			}
		}
		seen.ID, seen.Noted = e.ID, e.SHA256 == seen.SHA256
		if e.SHA256 != "" && !seen.Noted {
			fault("sha256", "the file "+e.File+" is not the one that was recorded: its hash is "+seen.SHA256, "bring the original back, or record the new file as evidence of its own")
			continue
		}
		out = append(out, seen)
	}
	return out, located(problems, c.From), nil
}

// evidenceNotRead is the error for evidence of which nobody knows what it is: its store, which has not said that it is gone, may give it
// the next time.
func (c *Opened) evidenceNotRead(e job.Evidence, err error) error {
	p := path.Join(c.From, e.File)
	if c.store == nil {
		return notRead(p, evidence, err, "check that the file may be read")
	}
	return &diag.Error{Kind: diag.Unavailable, Op: "read", Subject: p, Msg: "cannot be read from the store now", Hint: "try again", Err: err}
}

// keptAs is what a piece of evidence is found by: of a stored job its hash, else its file.
func (c *Opened) keptAs(e job.Evidence) string {
	if c.store != nil {
		return e.SHA256
	}
	return path.Clean(e.File)
}

// copyEvidence hands the content of a piece of evidence to a writer: what the store of a stored job
// keeps under its hash, or the file beside a job that was written by hand.
func (a *App) copyEvidence(ctx context.Context, c *Opened, e job.Evidence, most int64, to io.Writer) (n int64, err error) {
	if c.store == nil {
		return a.files.Copy(c.From, e.File, most, to)
	}
	r, size, err := c.store.Get(ctx, e.SHA256)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	if size > most {
		return 0, &TooLarge{size, most}
	}
	return io.Copy(to, io.LimitReader(r, most))
}

// sumOf is the SHA-256 of a piece of evidence and its size; it is streamed, so that a large one
// takes no memory.
func (a *App) sumOf(ctx context.Context, c *Opened, e job.Evidence) (string, int64, error) {
	h := sha256.New()
	n, err := a.copyEvidence(ctx, c, e, evidence.most, h)
	return hex.EncodeToString(h.Sum(nil)), n, err
}

// keepEvidence puts the evidence that something is about to be recorded of into the store, before
// any event names it. What is there already is retained, so that no sweep takes it before the event is written.
func (a *App) keepEvidence(ctx context.Context, c *Opened, r Recorded) error {
	for _, event := range r.Events {
		e, ok := event.Data.(job.Evidence)
		if !ok {
			continue
		}
		if e.SHA256 == "" {
			return &diag.Error{Kind: diag.Invalid, Op: "record", Subject: "evidence/" + e.ID, Msg: "a stored job names evidence by the hash of its content", Hint: "give sha256"}
		}
		_, err := c.store.Retain(ctx, e.SHA256)
		if kind := diag.KindOf(err); err != nil && (kind == diag.NotFound || kind == diag.Integrity) {
			err = a.keepNew(ctx, c, e, r.Files)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// keepNew puts one piece of evidence into the store: as it was given, or as it lies in the folder
// of the job.
func (a *App) keepNew(ctx context.Context, c *Opened, e job.Evidence, given []NewFile) error {
	for _, f := range given {
		if f.Name == e.File {
			hash, _, err := c.store.Put(ctx, bytes.NewReader(f.Data), evidence.most)
			return errors.Join(err, sameContent(e.File, hash, e.SHA256))
		}
	}
	if c.alone {
		return &diag.Error{Kind: diag.NotFound, Op: "record", Subject: "evidence/" + e.ID, Msg: "the store keeps nothing under its hash", Hint: "put the file into the store first"}
	}
	return a.keepFile(ctx, c.store, c.From, e.File, e.SHA256)
}

// keepFile puts a file of the folder of a job into a store; it has to be the one of the hash.
func (a *App) keepFile(ctx context.Context, to Store, dir, name, want string) error {
	r, w := io.Pipe()
	copied := make(chan error, 1)
	go func() {
		_, err := a.files.Copy(dir, name, evidence.most, w)
		copied <- err
		w.CloseWithError(err)
	}()
	hash, _, err := to.Put(ctx, r, evidence.most)
	r.Close() // ends a copy that is not read to its end; of a pipe it never fails
	if failed := <-copied; failed != nil && !errors.Is(failed, io.ErrClosedPipe) {
		return notRead(path.Join(dir, name), evidence, failed, "check that the file may be read")
	}
	if err != nil {
		return err
	}
	return sameContent(path.Join(dir, name), hash, want)
}

func sameContent(name, hash, want string) error {
	if hash == want {
		return nil
	}
	return &diag.Error{Kind: diag.Conflict, Op: "record", Subject: name, Msg: "it is not the file whose hash is recorded; nothing was recorded", Hint: "bring the original back"}
}

// evidenceFault is what is wrong with a file, in the words of the job; empty
// when it is a trouble of the machine.
func evidenceFault(c *Opened, e job.Evidence, err error) (msg, hint string) {
	if c.store != nil && slices.Contains([]diag.Kind{diag.NotFound, diag.Integrity}, diag.KindOf(err)) {
		return e.File + ": " + err.Error(), "bring it back from a backup of the store"
	}
	if missing(err) {
		return "the file " + e.File + " does not exist", "put it into the job's folder or correct the path"
	}
	if msg, hint = refusedFile(evidence, err); msg != "" {
		msg = "the file " + e.File + " " + msg
	}
	return msg, hint
}

// evidenceHash names the evidence as it was read: SHA-256 over the identity, the
// file name and the hash of each piece in the order of the job, each preceded by
// its length.
func evidenceHash(list []Evidence) string {
	h := sha256.New()
	for _, e := range list {
		for _, text := range []string{e.ID, e.File, e.SHA256} {
			fmt.Fprintf(h, "%d:%s", len(text), text)
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}

// evidenceNotes has a caution for every piece whose hash the job does not note:
// nobody could tell if the file were another one tomorrow.
func evidenceNotes(list []Evidence) []diag.Note {
	var out []diag.Note
	for _, e := range list {
		if !e.Noted {
			out = append(out, diag.Say(CodeEvidenceWithoutHash, "the job notes no hash of {file}, so nobody can tell whether it is still the file that was recorded", e.File).Note(diag.Note{Severity: diag.Caution, Where: e.ID, Hint: "write into the job: sha256: " + e.SHA256}))
		}
	}
	return out
}

// CodeEvidenceWithoutHash marks evidence whose hash is not noted.
const CodeEvidenceWithoutHash = "evidence.no-hash"

// seenEvidence is a piece as it was read.
func (c *Opened) seenEvidence(id string) (Evidence, bool) {
	for _, e := range c.Evidence {
		if e.ID == id {
			return e, true
		}
	}
	return Evidence{}, false
}

// hashesOf is the hash of each piece of evidence by its identity.
func hashesOf(list []Evidence) map[string]string {
	out := map[string]string{}
	for _, e := range list {
		out[e.ID] = e.SHA256
	}
	return out
}
