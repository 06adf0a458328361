package app

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/png"
	"math"
	"regexp"
	"strings"
	"testing"

	"fettle/internal/demo"
)

// mapped is the demonstration with its mesh taken out: zones are drawn as boxes on a map seen from
// above, 1200 by 1300 units of a millimetre, and the findings pinned there.
func mapped(t *testing.T) memory {
	t.Helper()
	m := files()
	delete(m, "body/front-casting.ply")
	text := string(m["body/body.yaml"])
	cut := func(from, to, by string) {
		i := strings.Index(text, from)
		j := i + strings.Index(text[max(i, 0):], to)
		if i < 0 || j <= i {
			t.Fatalf("%q to %q is not in the body", from, to)
		}
		text = text[:i] + by + text[j:]
	}
	cut("    mesh: front-casting.ply", "    wall: 5 mm", "")
	cut("    bores:\n", "\nsection_lines:", zoneMapText)
	text = regexp.MustCompile(`, label: [0-9]+`).ReplaceAllString(text, "")
	m["body/body.yaml"] = []byte(text)
	m["body/maps/top.png"] = pngOf(t, 120, 130)
	m["body/maps/top.svg"] = []byte(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1200 1300"><rect x="50" y="50" width="1100" height="1200" fill="#dde"/></svg>`)
	work := string(m["job/job.yaml"])
	work = regexp.MustCompile(`(?m)^    trace_mm: (.*)\n    trace_std: .*\n`).ReplaceAllStringFunc(work, func(s string) string {
		var at []string
		for _, p := range regexp.MustCompile(`\[(-?[0-9.]+), (-?[0-9.]+), [0-9.]+\]`).FindAllStringSubmatch(s, -1) {
			var x, y float64
			fmt.Sscan(p[1], &x)
			fmt.Sscan(p[2], &y)
			at = append(at, fmt.Sprintf("[%g, %g]", x+100, y+650))
		}
		return "    pins: [{map: TOP, at_map: [" + strings.Join(at, ", ") + "]}]\n"
	})
	work = regexp.MustCompile(`(?m)^    (other_face_of|branch_of): .*\n`).ReplaceAllString(work, "")
	work = regexp.MustCompile(`(?m)^    tips: \[([a-z-]+)\]$`).ReplaceAllString(work, "    tips: [$1, $1]")
	m["job/job.yaml"] = []byte(work)
	return m
}

const zoneMapText = `    zone_maps:
      - id: TOP
        name: Casting
        view: from above, nose to the left
        picture: maps/top.png
        size: [1200, 1300]
        std: 2
        scale: 1 mm
        source: Drawn for this test
        zones:
          - {zone: NOSE, outline: [[50, 50], [200, 50], [200, 1250], [50, 1250]]}
          - {zone: RAIL-L, outline: [[200, 50], [500, 50], [500, 350], [200, 350]]}
          - {zone: RAIL-R, outline: [[200, 950], [500, 950], [500, 1250], [200, 1250]]}
          - {zone: TOWER-L, outline: [[500, 50], [850, 50], [850, 350], [500, 350]]}
          - {zone: TOWER-R, outline: [[500, 950], [850, 950], [850, 1250], [500, 1250]]}
          - {zone: KNEE-L, outline: [[850, 50], [1050, 50], [1050, 350], [850, 350]]}
          - {zone: KNEE-R, outline: [[850, 950], [1050, 950], [1050, 1250], [850, 1250]]}
          - {zone: WALL, outline: [[1050, 50], [1150, 50], [1150, 1250], [1050, 1250]]}
`

func pngOf(t *testing.T, w, h int) []byte {
	t.Helper()
	var b bytes.Buffer
	white := image.NewGray(image.Rect(0, 0, w, h))
	for i := range white.Pix {
		white.Pix[i] = 0xf4
	}
	if err := png.Encode(&b, white); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestZoneMapsAreDrawn: where there is no mesh the report has the maps with the findings pinned on
// them: whole, with each finding, on the first page and in the day sheets; the picture once.
func TestZoneMapsAreDrawn(t *testing.T) {
	m := mapped(t)
	a := New(m, "test")
	c, err := a.Open(context.Background(), "job")
	if err != nil {
		t.Fatal(err)
	}
	r, err := a.AssessOpened(context.Background(), c, demo.Day)
	if err != nil {
		t.Fatal(err)
	}
	page, err := a.Report(context.Background(), c, r, false)
	if err != nil {
		t.Fatal(err)
	}
	text := string(page)
	if n := strings.Count(text, "data:image/png;base64,"); n != 1 {
		t.Errorf("pictures in the report: %d", n)
	}
	for _, want := range []string{`<symbol id="map-TOP" viewBox="0 0 1200 1300"`, "<figcaption>Casting, seen from above, nose to the left</figcaption>",
		"On the zone map: Casting, seen from above, nose to the left.", `>D8</text>`, `>tower</text>`} {
		if !strings.Contains(text, want) {
			t.Errorf("the report has no %s", want)
		}
	}
	if n := strings.Count(text, `<use href="#map-TOP"`); n < 11 { // ten findings and the whole
		t.Errorf("the map is shown %d times", n)
	}
	if strings.Count(text, "Not drawn") != 1 || // the bracket D7, which is no casting
		strings.Contains(text, "cannot be drawn") {
		t.Error("something is not drawn")
	}
}

// TestPicturesOfZoneMapsAreRefused: a picture that cannot be shown, or is of another shape than its
// map, is told at its line; one that is right is taken, of each kind.
func TestPicturesOfZoneMapsAreRefused(t *testing.T) {
	svg := func(s string) []byte { return []byte(`<svg xmlns="http://www.w3.org/2000/svg" ` + s) }
	for name, c := range map[string]struct {
		file string
		data []byte
		want string // empty: it is taken
	}{
		"PNG":                      {"maps/top.png", nil, ""},
		"SVG":                      {"maps/top.svg", nil, ""},
		"SVG by width and height":  {"maps/top.svg", svg(`width="120mm" height="130mm"><g/></svg>`), ""},
		"SVG with a plain doctype": {"maps/top.svg", append([]byte(`<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "x">`), svg(`viewBox="0,0,12,13"/>`)...), ""},
		"within a hundredth":       {"maps/top.svg", svg(`viewBox="0 0 1211 1300"/>`), ""},
		"wider":                    {"maps/top.svg", svg(`viewBox="0 0 1214 1300"/>`), "has another shape than maps/top.svg"},
		"narrower":                 {"maps/top.png", pngOf(t, 118, 130), "has another shape than maps/top.png"},
		"lying":                    {"maps/top.png", pngOf(t, 130, 120), "has another shape than maps/top.png, which is 1.083 times as wide as high"},
		"no picture":               {"maps/top.png", []byte("PNG"), "maps/top.png: its content is no PNG or JPEG, whatever its name says"},
		"cut off":                  {"maps/top.png", pngOf(t, 120, 130)[:60], "maps/top.png: the file is damaged or cut short"},
		"no SVG":                   {"maps/top.svg", []byte("<html/>"), "it is no SVG drawing"},
		"empty":                    {"maps/top.svg", []byte(" "), "it is no SVG drawing"},
		"SVG cut off":              {"maps/top.svg", svg(`viewBox="0 0 12 13"><g>`), "it is no SVG drawing"},
		"SVG without a size":       {"maps/top.svg", svg(`width="100%" height="100%"/>`), "does not say how wide and how high it is"},
		"SVG without height":       {"maps/top.svg", svg(`viewBox="0 0 12 0"/>`), "does not say how wide and how high it is"},
		"SVG with a program":       {"maps/top.svg", svg(`viewBox="0 0 12 13"><script>1</script></svg>`), "it holds more than a drawing (<script>)"},
		"SVG with a page":          {"maps/top.svg", svg(`viewBox="0 0 12 13"><foreignObject/></svg>`), "it holds more than a drawing (<foreignObject>)"},
		"SVG that reaches out":     {"maps/top.svg", svg(`viewBox="0 0 12 13"><image href="http://x/y.png"/></svg>`), "it takes in what lies outside of it"},
		"SVG within itself":        {"maps/top.svg", svg(`viewBox="0 0 12 13"><use href="#a"/><image href="data:image/png;base64,AA"/></svg>`), ""},
		"SVG with words":           {"maps/top.svg", append([]byte(`<!DOCTYPE svg [<!ENTITY a "b">]>`), svg(`viewBox="0 0 12 13"/>`)...), "it declares words of its own"},
	} {
		m := mapped(t)
		m["body/body.yaml"] = bytes.Replace(m["body/body.yaml"], []byte("maps/top.png"), []byte(c.file), 1)
		if c.data != nil {
			m["body/"+c.file] = c.data
		}
		_, err := New(m, "test").Open(context.Background(), "job")
		switch {
		case c.want == "" && err != nil:
			t.Errorf("%s: %v", name, err)
		case c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want) || !regexp.MustCompile(`^body/body.yaml:[0-9]+:[0-9]+: castings\[0\].zone_maps\[0\].(size|picture): `).MatchString(err.Error())):
			t.Errorf("%s: %v, want %s", name, err, c.want)
		}
	}
}

// TestShapesOfDrawings: width over height as a drawing gives it, by its viewBox first; what is no
// length, or larger or smaller than any drawing, gives none. An element within says nothing of it.
func TestShapesOfDrawings(t *testing.T) {
	for head, want := range map[string]float64{
		`viewBox="0 0 12 6"`: 2, `viewBox="0,0,	6,12"`: 0.5, `viewBox="5 7 12 6" width="1" height="1"`: 2, `width="12mm" height="6mm"`: 2, `height="4" width="1"`: 0.25, `width=" 3in " height="1in"`: 3,
		`viewBox="0 0 12" width="2" height="1"`: 0, `viewBox="0 0 12 6 1"`: 0, `viewBox="0 0 0 6"`: 0, `viewBox="0 0 12 -6"`: 0, `width="12"`: 0, `height="12"`: 0, `width="50%" height="1"`: 0, `width="1" height="x"`: 0, ``: 0,
		`width="0.001" height="1e6"`: 1e-9, `width="1e6" height="0.001"`: 1e9, `width="0.0009" height="1"`: 0, `width="1" height="1000001"`: 0,
	} {
		shape, why := svgShape([]byte("<svg " + head + `><g width="7" height="1"><svg width="9" height="1"/></g></svg>`))
		if math.Abs(shape-want) > 1e-9*want || (why == "") != (want > 0) {
			t.Errorf("%s: %g, %q", head, shape, why)
		}
	}
	for element, want := range map[string]bool{
		`<a href="#x"/>`: true, `<a href=""/>`: true, `<a href="data:image/png;base64,AA"/>`: true, `<a id="http://x"/>`: true, `<a href="data:text/html,x"/>`: false, `<a href="x.png"/>`: false, `<a xmlns:k="l" k:href="x.png"/>`: false, `<a id="b" href="x"/>`: false,
		`<script/>`: false, `<iframe/>`: false, `<g><foreignObject/></g>`: false, `<g><script2/></g>`: true,
	} {
		if _, why := svgShape([]byte(`<svg viewBox="0 0 1 1">` + element + `</svg>`)); (why == "") != want {
			t.Errorf("%s: %q", element, why)
		}
	}
	if _, why := svgShape(append([]byte(`<svg viewBox="0 0 1 1"/>`), bytes.Repeat([]byte(" "), mapLimits.Bytes)...)); !strings.Contains(why, "MB, more than") {
		t.Errorf("too large: %q", why)
	}
}

// FuzzSVGShape: whatever the bytes, a drawing is refused with a reason, or has a shape.
func FuzzSVGShape(f *testing.F) {
	for _, s := range []string{`<svg viewBox="0 0 12 13"/>`, `<svg width="1e308" height="1e-308"/>`, `<svg viewBox="0 0 NaN 1">`, `<!DOCTYPE svg><svg viewBox="0,0,1,2"><a href="x"/></svg>`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		shape, why := svgShape(data)
		if (why == "") != (shape > 0) || math.IsNaN(shape) || why == "" && math.IsInf(shape, 0) {
			t.Errorf("shape %v, %q", shape, why)
		}
	})
}
