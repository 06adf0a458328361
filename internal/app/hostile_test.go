package app

import (
	"bytes"
	"image"
	"image/jpeg"
	"strings"
	"testing"

	"fettle/internal/demo"
	"fettle/internal/diag"
)

// TestPagesArePlain: whatever text gets into a result, past every reader, no page,
// question or table holds a character that turns or hides text.
func TestPagesArePlain(t *testing.T) {
	a := New(scenario(t, "", "", ""), "test").WithBodies(&bodies)
	c, err := a.Open(t.Context(), demo.Job)
	if err != nil {
		t.Fatal(err)
	}
	const attack = "\u202egnissim si gnihton\u202c\x1b[2J\u200b"
	for i := range c.Job.Findings {
		c.Job.Findings[i].Text += attack
	}
	c.Job.Hazards[0].Text += attack
	c.Job.Evidence[0].Text += attack
	r := assessedOf(t, a, c, demo.Day)
	for i := range r.Notes {
		r.Notes[i].Text += attack
	}
	plain := func(what string, data []byte, err error) {
		t.Helper()
		if i := bytes.IndexFunc(data, func(r rune) bool { return r != '\n' && r != '\t' && diag.Hidden(r) }); err != nil || i >= 0 {
			t.Errorf("%s: %v, %q", what, err, data[max(0, i-30):min(len(data), max(0, i)+30)])
		}
		if !bytes.Contains(data, []byte(`\u202egnissim`)) {
			t.Errorf("%s: the text is not told at all", what)
		}
	}
	page, err := a.Report(t.Context(), c, r, true)
	plain("report", page, err)
	q, err := a.Ask(t.Context(), c, r, "D8")
	if err != nil {
		t.Fatal(err)
	}
	for name, data := range q.Files {
		plain(name, data, nil)
	}
	route, err := a.Picked(c, r, "")
	if err != nil {
		t.Fatal(err)
	}
	route.Plan.Steps[0].Name += attack
	sheets, err := a.Sheets(t.Context(), c, r, route)
	plain("day sheets", sheets, err)
	sheet := a.OrderSheet(c, r, route)
	sheet.Rows[0][len(sheet.Rows[0])-1] += attack
	table, err := sheet.CSV()
	plain("order list", table, err)
}

// TestProgressivePicturesAreBounded: a progressive JPEG takes more memory than its
// dots while it is unpacked (ISO/IEC 10918-1, G.1.1.1: every coefficient is kept
// until the last scan). It is judged by its head alone.
func TestProgressivePicturesAreBounded(t *testing.T) {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewRGBA(image.Rect(0, 0, 16, 16)), nil); err != nil {
		t.Fatal(err)
	}
	baseline := b.Bytes()
	sof := bytes.Index(baseline, []byte{0xff, 0xc0, 0, 17, 8})
	if sof < 0 {
		t.Fatal("no frame")
	}
	sized := func(marker byte, side int) []byte { // the frame says another size; the scan is cut short by it
		out := bytes.Clone(baseline)
		out[sof+1] = marker
		copy(out[sof+5:], []byte{byte(side >> 8), byte(side), byte(side >> 8), byte(side)})
		return out
	}
	for _, c := range []struct {
		marker byte
		side   int
		want   string
	}{{0xc2, 6000, "unpacked it takes 260 MB, more than 256"}, {0xc2, 9000, "81 million dots (9000 × 9000), more than 67"}, {0xc0, 5000, "damaged or cut short"}} {
		if _, _, got := mapPicture(t.Context(), "a.jpg", sized(c.marker, c.side)); !strings.Contains(got, c.want) {
			t.Errorf("frame %x of %d dots a side: %q, want %q", c.marker, c.side, got, c.want)
		}
	}
	if _, _, why := mapPicture(t.Context(), "a.jpg", baseline); why != "" {
		t.Errorf("as it was: %s", why)
	}
}
