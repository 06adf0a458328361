package app

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"image"
	"image/color"
	_ "image/jpeg" // read to the end before it is shown
	_ "image/png"  // so too
	"path"
	"slices"

	"fettle/internal/job"
	"fettle/internal/report"
)

// Limits on the pictures in a report: it is sent by mail and printed. Our
// choice: a photo straight from a camera of today fits.
const (
	maxPictureBytes  = 8 << 20
	maxPicturesBytes = 40 << 20
	maxPictureDots   = 64 << 20
	maxPicturesDots  = 1 << 30   // of all pictures of a report together
	maxPictureMemory = 256 << 20 // bytes that one takes when it is unpacked
)

// pictures is the photographs that are evidence of findings and inspections,
// in the order of the evidence. One that is too large, cannot be read to its
// end, or whose content is not what its name says, is named with its hash and
// the reason and not shown.
func (a *App) pictures(ctx context.Context, c *Opened) []report.Photo {
	var out []report.Photo
	sum, dots := 0, 0
	for _, e := range c.Job.Evidence {
		of := evidenceOf(c, e.ID)
		if mediaOf(e.File) == "" || len(of) == 0 {
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
		data, why, err := a.picture(ctx, c, e, seen.SHA256)
		if p.Why = why; err != nil {
			p.Why = "the file cannot be read; bring the evidence back"
		}
		dots += dotsOf(data)
		if p.Why == "" && sum+len(data) > maxPicturesBytes {
			p.Why = fmt.Sprintf("the pictures of this report have more than %d MB together", maxPicturesBytes>>20)
		}
		if p.Why == "" {
			hash := sha256.Sum256(data)
			p.SHA256 = hex.EncodeToString(hash[:])
			sum += len(data)
			p.Media, p.Data = mediaOf(e.File), data
		}
		out = append(out, p)
	}
	return out
}

// picture is a picture that is evidence, and why it is not shown: what is shown
// is the file whose hash stands beside it. The error is a trouble of the machine.
func (a *App) picture(ctx context.Context, c *Opened, e job.Evidence, hash string) (data []byte, why string, err error) {
	var b bytes.Buffer
	if _, err := a.copyEvidence(ctx, c, e, aPicture.most, &b); err != nil {
		msg, hint := refusedFile(aPicture, err)
		if msg == "" {
			return nil, "", notRead(path.Join(c.From, e.File), aPicture, err, "bring the evidence back")
		}
		return nil, "it " + msg + "; " + hint + " and record that as evidence too", nil
	}
	if sum := sha256.Sum256(b.Bytes()); hash != "" && hex.EncodeToString(sum[:]) != hash {
		return nil, "the file is not the one whose hash this is", nil
	}
	return b.Bytes(), notShown(e.File, b.Bytes()), nil
}

// dotsOf is how many dots a picture says it has.
func dotsOf(data []byte) int {
	w, h := sizeOf(data)
	if float64(w)*float64(h) > maxPictureDots {
		return 0 // it is not unpacked
	}
	return w * h
}

// sizeOf is how many dots a picture says it has across and down; none where it is no picture.
func sizeOf(data []byte) (w, h int) {
	size, _, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return 0, 0
	}
	return size.Width, size.Height
}

// memoryOf is the bytes that a dot takes at most while a picture is unpacked: a
// progressive JPEG keeps a coefficient of four bytes for each value of a dot.
func memoryOf(data []byte, m color.Model) int {
	kept := 0
	if progressive(data) {
		kept = 4
	}
	switch m {
	case color.RGBA64Model, color.NRGBA64Model:
		return 8
	case color.GrayModel:
		return 1 + kept
	case color.Gray16Model:
		return 2
	case color.YCbCrModel:
		return 3 + 3*kept
	}
	if _, ok := m.(color.Palette); ok {
		return 1
	}
	return 4 + 4*kept
}

// progressive says that a JPEG has a progressive frame: the marker SOF2 stands
// before the first scan (ISO/IEC 10918-1, B.1.1.3 and B.2.2).
func progressive(data []byte) bool {
	if pictureKind(data) != "image/jpeg" {
		return false
	}
	for i := 2; i+4 <= len(data) && data[i] == 0xff; {
		switch marker := data[i+1]; marker {
		case 0xff: // a filling byte
			i++
			continue
		case 0xc2:
			return true
		case 0xda: // the scan begins
			return false
		}
		i += 2 + int(data[i+2])<<8 + int(data[i+3])
	}
	return false
}

// notShown is why a picture cannot be shown; empty when it can. It is read to
// its end: half a photograph shows half a crack.
func notShown(file string, data []byte) string {
	switch {
	case pictureKind(data) != mediaOf(file):
		return "the file is not the picture that its name says"
	case len(data) > maxPictureBytes:
		return fmt.Sprintf("it has %d MB, more than %d; save it smaller and record that as evidence too", len(data)>>20, maxPictureBytes>>20)
	}
	size, _, err := image.DecodeConfig(bytes.NewReader(data))
	if err == nil && float64(size.Width)*float64(size.Height) > maxPictureDots {
		return fmt.Sprintf("it has %.0f million dots, more than %d", float64(size.Width)*float64(size.Height)/(1<<20), maxPictureDots>>20)
	}
	if err == nil && size.Width*size.Height*memoryOf(data, size.ColorModel) > maxPictureMemory {
		return fmt.Sprintf("unpacked it has %d MB, more than %d", size.Width*size.Height*memoryOf(data, size.ColorModel)>>20, maxPictureMemory>>20)
	}
	if err == nil {
		_, _, err = image.Decode(bytes.NewReader(data))
	}
	if err != nil {
		return "the file is damaged or cut short: " + err.Error()
	}
	return ""
}

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

// pictureKind is the type of a picture by its first bytes (PNG: ISO/IEC 15948,
// 5.2; JPEG: ISO/IEC 10918-1, start of image); empty for anything else.
func pictureKind(data []byte) string {
	switch {
	case bytes.HasPrefix(data, []byte("\x89PNG\r\n\x1a\n")):
		return "image/png"
	case bytes.HasPrefix(data, []byte{0xff, 0xd8, 0xff}):
		return "image/jpeg"
	}
	return ""
}
