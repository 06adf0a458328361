package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/photo"
	"fettle/internal/release"
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
	Copies   []Enclosed // evidence that goes with it, to be copied
}

// Ask makes the question about a finding or a control point: its text, a page with
// the drawing and the photos, and a copy of the evidence. What there is nothing to
// ask about is refused.
func (a *App) Ask(ctx context.Context, c *Opened, r Assessment, about string) (QuestionFiles, error) {
	return while(ctx, func(w *halt.Work) (QuestionFiles, error) { return a.ask(w, c, r, about) })
}

func (a *App) ask(w *halt.Work, c *Opened, r Assessment, about string) (QuestionFiles, error) {
	q, ok := questionAbout(c, r, about)
	if !ok {
		return QuestionFiles{}, a.nothingToAsk(c, r, about)
	}
	out := QuestionFiles{Question: q, Files: map[string][]byte{}}
	photos, copies, err := a.photos(w.Context(), c, q.Finding)
	if err != nil {
		return out, err
	}
	out.Copies = copies
	w.Begin(Drawing)
	page, err := report.QuestionHTML(reportInput(w, c, r), q, photos)
	if err != nil {
		return out, err
	}
	out.Files[q.ID+".html"] = page
	text := "Question " + q.ID + " (" + string(q.State) + "), made " + r.Made.Format("2006-01-02") + " by fettle " + a.version + ".\n\n" + q.Text + "\n"
	if len(photos) > 0 {
		text += "\nEnclosed:\n"
	}
	for _, p := range photos {
		text += "- " + p.ID + ", " + p.Text + ": " + p.File + ", SHA-256 " + p.SHA256 + "\n"
	}
	word := "finding"
	if q.Point != "" {
		word = "control point, as it was measured when this was sent,"
	}
	text += "\nThe answer is used for this vehicle and this " + word + " only.\n"
	out.Files[q.ID+".txt"] = []byte(diag.PlainLines(text))
	return out, nil
}

// questionAbout is the question about something, by that or by its number: one that
// has to be asked, one that may be because a treatment waits for the answer alone,
// or one about a control point that a route keeps.
func questionAbout(c *Opened, r Assessment, about string) (decide.Question, bool) {
	for _, q := range questions(c, r) {
		if q.ID == about || about != "" && (string(q.Finding) == about || string(q.Point) == about) {
			return q, true
		}
	}
	return decide.Question{}, false
}

// questions is every question there is: about findings, with what else a route has to know of
// them, and about control points.
func questions(c *Opened, r Assessment) []decide.Question {
	out := slices.Concat(r.Decide.Questions, r.Decide.Offers)
	in := c.of(r).Decide(r.Measure, r.Inspect)
	for _, f := range c.Job.Findings {
		more := compare.AskLines(r.Compare, f.ID)
		if len(more) == 0 {
			continue
		}
		q, ok := decide.AskFinding(in, f.ID, more)
		k := slices.IndexFunc(out, func(o decide.Question) bool { return o.Finding == f.ID })
		switch {
		case !ok:
		case k >= 0:
			out[k].Text = q.Text
		default:
			out = append(out, q)
		}
	}
	return append(out, pointQuestions(c, r)...)
}

// pointQuestions is the questions about control points: those that a route waits for,
// those that were asked about before, and those that are not in tolerance after the
// repair. The figures are the last that were measured.
func pointQuestions(c *Opened, r Assessment) []decide.Question {
	in := c.of(r).Compare(r.Verdicts)
	m, stage := r.Measure, job.StageBefore
	var out []body.PointID
	if after := release.PointsOf(r.After); after != nil {
		m, stage = *r.After, job.StageAfter
		out = slices.Concat(after.NotMet, after.Undecided)
	}
	for _, p := range c.Body.Points {
		_, asked := c.Job.PointQuestion(p.ID)
		waits := func(route compare.Route) bool { return slices.Contains(route.OpenFor(), string(p.ID)) }
		if !slices.Contains(out, p.ID) && (asked || slices.ContainsFunc(r.Compare.Routes, waits)) {
			out = append(out, p.ID)
		}
	}
	var questions []decide.Question
	for _, id := range out {
		if text, ok := compare.PointText(in, m, stage, id); ok {
			questions = append(questions, decide.AskPoint(c.of(r).Decide(r.Measure, r.Inspect), id, text))
		}
	}
	return questions
}

func (a *App) nothingToAsk(c *Opened, r Assessment, finding string) error {
	var ids, asked []string
	for _, f := range c.Job.Findings {
		ids = append(ids, string(f.ID))
	}
	for _, q := range questions(c, r) {
		asked = append(asked, string(q.Finding)+string(q.Point))
	}
	for _, p := range c.Body.Points {
		ids = append(ids, string(p.ID))
	}
	if slices.Contains(ids, finding) {
		hint := "nothing of this job has a question"
		if len(asked) > 0 {
			hint = "there are questions about " + strings.Join(asked, ", ")
		}
		return &diag.Error{Kind: diag.Conflict, Op: "ask", Subject: finding, Msg: "there is nothing to ask the manufacturer about it: what may be done is settled, or can be settled by measuring", Hint: hint}
	}
	return &diag.Error{Kind: diag.NotFound, Op: "ask", Subject: finding, Msg: "there is no such finding or control point", Hint: doc.DidYouMean(finding, ids)}
}

// aboutWord is what a question or an answer is about, as the job has it.
func aboutWord(f job.FindingID, p body.PointID) string {
	if p != "" {
		return "point: " + string(p)
	}
	return "finding: " + string(f)
}

// Enclosed is a piece of evidence that is copied for a question.
type Enclosed struct {
	Name   string // in the folder of the question
	SHA256 string // of what was read when the job was opened
	of     *Opened
	piece  job.Evidence
}

// photos is the evidence of a finding as the question shows it, and what has to
// be copied. Two files of one name in different folders get names of their own.
func (a *App) photos(ctx context.Context, c *Opened, id job.FindingID) ([]report.Photo, []Enclosed, error) {
	var photos []report.Photo
	var copies []Enclosed
	i := slices.IndexFunc(c.Job.Findings, func(f job.Finding) bool { return f.ID == id })
	if i < 0 {
		return nil, nil, nil
	}
	for _, e := range c.Job.Evidence {
		if !slices.Contains(c.Job.Findings[i].Photos, e.ID) {
			continue
		}
		seen, ok := c.seenEvidence(e.ID)
		if !ok {
			return nil, nil, &diag.Error{Kind: diag.Internal, Op: "ask", Subject: e.ID, Msg: "this evidence was not read when the job was opened"}
		}
		p := report.Photo{ID: e.ID, Text: e.Text, SHA256: seen.SHA256}
		copies, p.File = enclose(copies, c, e, seen)
		if pictureName(e.File) {
			got, err := a.picture(ctx, c, e, seen.SHA256)
			if err != nil {
				return nil, nil, err
			}
			if p.Why, p.Note = got.why, got.note; p.Why == "" {
				p.Media, p.Data = string(photo.JPEG), got.data
			}
		}
		photos = append(photos, p)
	}
	return photos, copies, nil
}

// enclose adds a file to what is copied, unless it is there already, and gives
// the name it has in the question's folder. Names that differ only in small and
// capital letters count as one: many computers take them for one.
func enclose(copies []Enclosed, c *Opened, e job.Evidence, seen Evidence) ([]Enclosed, string) {
	for _, x := range copies {
		if c.keptAs(x.piece) == c.keptAs(e) {
			return copies, x.Name
		}
	}
	base := path.Base(e.File)
	name := "evidence/" + base
	for n := 2; slices.ContainsFunc(copies, func(x Enclosed) bool { return strings.EqualFold(x.Name, name) }); n++ {
		ext := path.Ext(base)
		name = fmt.Sprintf("evidence/%s-%d%s", strings.TrimSuffix(base, ext), n, ext)
	}
	return append(copies, Enclosed{name, seen.SHA256, c, e}), name
}

// CopyEnclosed writes a piece of evidence, and fails when it is not what was
// read when the job was opened: then what was written is not to be kept.
func (a *App) CopyEnclosed(ctx context.Context, x Enclosed, to io.Writer) error {
	h := sha256.New()
	file := path.Join(x.of.From, x.piece.File)
	if _, err := a.copyEvidence(ctx, x.of, x.piece, evidence.most, io.MultiWriter(to, h)); err != nil {
		return notRead(file, evidence, err, "bring the evidence back")
	}
	if hex.EncodeToString(h.Sum(nil)) != x.SHA256 {
		return &diag.Error{Kind: diag.Conflict, Op: "ask", Subject: file, Msg: "the file was changed in the meantime", Hint: "try again"}
	}
	return nil
}
