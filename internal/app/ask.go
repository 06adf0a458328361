package app

import (
	"crypto/sha256"
	"encoding/hex"
	"path"
	"slices"
	"strings"

	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/job"
	"fettle/internal/report"
)

// States of a question for which nothing more has to be recorded.
const (
	Waiting  = decide.Waiting
	Answered = decide.Answered
)

// QuestionFiles is a question ready to be sent: files by name.
type QuestionFiles struct {
	Question decide.Question
	Files    map[string][]byte
	Record   string // the lines for job.yaml once it has been sent
}

// Ask makes the question about a finding: its text, a page with the drawing and
// the photos, and a copy of the evidence. A finding about which there is
// nothing to ask is refused.
func (a *App) Ask(c *Case, r Assessment, finding string) (QuestionFiles, error) {
	i := slices.IndexFunc(r.Decide.Questions, func(q decide.Question) bool { return string(q.Finding) == finding || q.ID == finding })
	if i < 0 {
		return QuestionFiles{}, a.nothingToAsk(c, r, finding)
	}
	q := r.Decide.Questions[i]
	out := QuestionFiles{Question: q, Files: map[string][]byte{}}
	photos, err := a.photos(c, q.Finding, out.Files)
	if err != nil {
		return out, err
	}
	page, err := report.QuestionHTML(reportInput(c, r), q, photos)
	if err != nil {
		return out, err
	}
	out.Files[q.ID+".html"] = page
	text := "Question " + q.ID + " (" + string(q.State) + "), made " + r.Made.Format("2006-01-02") + " by fettle " + a.version + ".\n\n" + q.Text + "\n"
	if len(photos) > 0 {
		text += "\nEnclosed:\n"
	}
	for _, p := range photos {
		text += "- " + p.ID + ", " + p.Text + ": evidence/" + path.Base(p.File) + ", SHA-256 " + p.SHA256 + "\n"
	}
	text += "\nThe answer is used for this vehicle and this finding only.\n"
	out.Files[q.ID+".txt"] = []byte(text)
	out.Record = "questions:\n  - {id: " + q.ID + ", finding: " + string(q.Finding) + ", on: " + r.Made.Format("2006-01-02") + ", by: YOU}"
	return out, nil
}

func (a *App) nothingToAsk(c *Case, r Assessment, finding string) error {
	var ids, asked []string
	for _, f := range c.Job.Findings {
		ids = append(ids, string(f.ID))
	}
	for _, q := range r.Decide.Questions {
		asked = append(asked, string(q.Finding))
	}
	if slices.Contains(ids, finding) {
		hint := "no finding of this job has a question"
		if len(asked) > 0 {
			hint = "there are questions about " + strings.Join(asked, ", ")
		}
		return &diag.Error{Kind: diag.Conflict, Op: "ask", Subject: finding, Msg: "there is nothing to ask the manufacturer about it: what may be done is settled, or can be settled by measuring", Hint: hint}
	}
	return &diag.Error{Kind: diag.NotFound, Op: "ask", Subject: finding, Msg: "the job has no such finding", Hint: doc.DidYouMean(finding, ids)}
}

// photos reads the evidence of a finding and puts a copy of each into files.
func (a *App) photos(c *Case, id job.FindingID, files map[string][]byte) ([]report.Photo, error) {
	var out []report.Photo
	for _, f := range c.Job.Findings {
		if f.ID != id {
			continue
		}
		for _, e := range c.Job.Evidence {
			if !slices.Contains(f.Photos, e.ID) {
				continue
			}
			file := path.Join(c.Dir, e.File)
			data, err := a.files.Read(file)
			if err != nil {
				return nil, notRead(file, err, "bring the evidence back")
			}
			sum := sha256.Sum256(data)
			files["evidence/"+path.Base(e.File)] = data
			p := report.Photo{ID: e.ID, File: e.File, Text: e.Text, SHA256: hex.EncodeToString(sum[:])}
			if media := mediaOf(e.File); media != "" {
				if p.Why = notShown(e.File, data); p.Why == "" {
					p.Media, p.Data = media, data
				}
			}
			out = append(out, p)
		}
	}
	return out, nil
}

// mediaOf is the type of a picture by the ending of its name; empty for
// anything a page does not show.
func mediaOf(file string) string {
	switch strings.ToLower(path.Ext(file)) {
	case ".jpg", ".jpeg":
		return "image/jpeg"
	case ".png":
		return "image/png"
	}
	return ""
}
