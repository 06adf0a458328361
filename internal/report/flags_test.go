package report

import (
	"fmt"
	"regexp"
	"strconv"
	"testing"

	"fettle/internal/geom"
	"fettle/internal/picture"
)

// However many findings a casting has and wherever they lie, the labels of every
// view and close-up stand inside the drawing and do not overlap.
func TestLabelsStandInTheDrawingAndApartSeed9(t *testing.T) {
	s, err := fixtureSurface()
	if err != nil {
		t.Fatal(err)
	}
	f := frame{geom.Vec{1, 0, 0}, geom.Vec{0, 1, 0}, geom.Vec{0, 0, 1}}
	state := uint64(9)
	random := func(n float64) float64 { // a linear congruential generator (D. Knuth, MMIX constants)
		state = state*6364136223846793005 + 1442695040888963407
		return float64(state>>11) / (1 << 53) * n
	}
	for _, n := range []int{1, 7, 20, 60} {
		p := castingPicture{surface: s, frame: f, zoneOf: map[int32]int{1: 1, 2: 2}, names: map[int32]string{1: "Left tower", 2: "Right tower"}, close: closeBeside, wide: frontWide, album: &fixtureAlbum}
		for i := range n { // most of them crowd on one end of the left side
			at := geom.Vec{-790 + random(120), -450, 510 + random(200)}
			p.marks = append(p.marks, mark{fmt.Sprintf("F%d", i+1), []geom.Vec{at, at.Add(geom.Vec{4 + random(30), 0, random(10)})}, geom.Vec{0, -1, 0}, true})
		}
		view, err := p.view(mostSeen(p.album, s.Mesh(), s.Solid(), f, p.marks))
		if err != nil {
			t.Fatal(err)
		}
		p.wide = 0
		large, err := p.view(mostSeen(p.album, s.Mesh(), s.Solid(), f, p.marks))
		if err != nil {
			t.Fatal(err)
		}
		close, err := p.closeUp(p.marks[0], "")
		if err != nil {
			t.Fatal(err)
		}
		for name, svg := range map[string]string{"small view": view, "view": large, "close-up": close} {
			if k := checkLabels(t, fmt.Sprintf("%d findings, %s", n, name), svg); name != "close-up" && k != n {
				t.Errorf("%d findings, %s: %d labels", n, name, k)
			}
		}
	}
}

var flagRect = regexp.MustCompile(`<rect class="flag" x="([-\d.]+)" y="([-\d.]+)" width="([\d.]+)" height="([\d.]+)"`)

// checkLabels is how many labels a drawing has; it complains of one that stands
// out of it or on another.
func checkLabels(t *testing.T, name, svg string) int {
	t.Helper()
	var w, h float64
	if _, err := fmt.Sscanf(viewBox(svg), "0 0 %f %f", &w, &h); err != nil {
		t.Fatal(err)
	}
	var all []picture.Box
	for _, m := range flagRect.FindAllStringSubmatch(svg, -1) {
		var v [4]float64
		for i := range v {
			var err error
			if v[i], err = strconv.ParseFloat(m[i+1], 64); err != nil {
				t.Fatal(err)
			}
		}
		b := picture.Box{X0: v[0], Y0: v[1], X1: v[0] + v[2], Y1: v[1] + v[3]}
		if b.X0 < 0 || b.Y0 < 0 || b.X1 > w || b.Y1 > h {
			t.Errorf("%s: a label at %.1f, %.1f stands out of the drawing of %.0f x %.0f", name, b.X0, b.Y0, w, h)
		}
		for _, o := range all {
			if b.Overlaps(o) {
				t.Errorf("%s: labels at %.1f, %.1f and %.1f, %.1f overlap", name, b.X0, b.Y0, o.X0, o.Y0)
			}
		}
		all = append(all, b)
	}
	return len(all)
}
