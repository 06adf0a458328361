package app

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"path"
	"slices"
	"strings"

	"fettle/internal/job"
	"fettle/internal/photo"
	"fettle/internal/report"
)

// Limits on the pictures in a report: it is sent by mail and printed. Our choice: on paper a picture of 2048 dots is as
// sharp as the eye, and 40 of them go into a mail.
const (
	pictureSide      = 2048
	maxPicturesBytes = 40 << 20
	maxPicturesDots  = 1 << 30 // of all originals of a report together
)

// pictures is the photographs that are evidence of findings and inspections,
// in the order of the evidence: each as it is seen, upright and without what else lies in the file, beside the
// hash of the original. One that is too large, cannot be read to its end, or is no picture, is named with the reason and
// not shown.
func (a *App) pictures(ctx context.Context, c *Opened) []report.Photo {
	var out []report.Photo
	sum, dots := 0, 0
	for _, e := range c.Job.Evidence {
		of := evidenceOf(c, e.ID)
		if !pictureName(e.File) || len(of) == 0 {
			continue
		}
		p := report.Photo{ID: e.ID, File: e.File, Text: e.Text, SHA256: e.SHA256, For: of}
		seen, ok := c.seenEvidence(e.ID)
		if ok {
			p.SHA256 = seen.SHA256
		}
		if dots > maxPicturesDots {
			p.Why = fmt.Sprintf("the pictures of this report have more than %d million dots together", maxPicturesDots>>20)
			out = append(out, p)
			continue
		}
		got, err := a.picture(ctx, c, e, seen.SHA256)
		if p.Why, p.Note = got.why, got.note; err != nil {
			p.Why = "the file cannot be read; bring the evidence back"
		}
		dots += got.dots
		if p.Why == "" && sum+len(got.data) > maxPicturesBytes {
			p.Why = fmt.Sprintf("the pictures of this report have more than %d MB together", maxPicturesBytes>>20)
		}
		if p.Why == "" {
			sum += len(got.data)
			p.SHA256, p.Media, p.Data = got.hash, string(photo.JPEG), got.data
		}
		out = append(out, p)
	}
	return out
}

// madePicture is a picture for a page, and why there is none.
type madePicture struct {
	data []byte
	hash string // of the original
	note string // what is to be known of it, for example that its colours may look different
	dots int    // of the original
	why  string
}

// picture is the picture of a piece of evidence as a page shows it: made from the file whose hash stands beside
// it. The error is a trouble of the machine.
func (a *App) picture(ctx context.Context, c *Opened, e job.Evidence, hash string) (madePicture, error) {
	var b bytes.Buffer
	if _, err := a.copyEvidence(ctx, c, e, aPicture.most, &b); err != nil {
		msg, hint := refusedFile(aPicture, err)
		if msg == "" {
			return madePicture{}, notRead(path.Join(c.From, e.File), aPicture, err, "bring the evidence back")
		}
		return madePicture{why: "it " + msg + "; " + hint + " and record that as evidence too"}, nil
	}
	sum := sha256.Sum256(b.Bytes())
	p := madePicture{hash: hex.EncodeToString(sum[:])}
	if hash != "" && p.hash != hash {
		p.why = "the file is not the one whose hash this is"
		return p, nil
	}
	o, made, err := a.maker.Make(ctx, b.Bytes(), pictureSide)
	switch {
	case ctx.Err() != nil:
		return madePicture{}, ctx.Err()
	case err != nil:
		p.why = err.Error()
		return p, nil
	}
	p.data, p.dots, p.note = made[0].Data, o.Width*o.Height, strings.Join(o.Notes, "; ")
	return p, nil
}

// pictureName says that a file is called like a picture. What it is, its content says.
func pictureName(file string) bool {
	return slices.Contains(pictureEndings, strings.ToLower(path.Ext(file)))
}

var pictureEndings = []string{".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif"}

// evidenceOf is the findings and inspections that name a piece of evidence.
func evidenceOf(c *Opened, id string) []string {
	var out []string
	for _, f := range c.Job.Findings {
		if slices.Contains(f.Photos, id) {
			out = append(out, string(f.ID))
		}
	}
	for _, l := range c.Job.Looks {
		if slices.Contains(l.Photos, id) {
			out = append(out, l.ID)
		}
	}
	return out
}
