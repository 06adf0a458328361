package report

import (
	"fmt"
	"strings"

	"fettle/internal/body"
	"fettle/internal/geom"
	"fettle/internal/mesh"
	"fettle/internal/picture"
	"fettle/internal/unit"
)

// SectionDrawing draws a section of a casting as an SVG file that needs
// nothing else: the part that is taken off hatched, the line thick, each loop
// with a flag that says whether it closes, and below the views whether and why
// not the line divides the casting.
func SectionDrawing(c mesh.Section, axes body.Axes) ([]byte, error) {
	p := partedPicture(c, axes)
	p.names = map[int32]string{0: "first side", 1: "second side"}
	open := 0
	for _, l := range c.Loops {
		if !l.Closed {
			open++
		}
	}
	for i, l := range c.Loops {
		if len(p.marks) == sectionFlags || open > 0 && l.Closed {
			continue // the ones that matter: those that do not close
		}
		id, path := fmt.Sprintf("L%d", i+1), l.Points
		if l.Closed {
			path = append(append([]geom.Vec{}, path...), path[0])
		} else {
			id = fmt.Sprintf("E%d", i+1)
		}
		p.marks = append(p.marks, mark{id, path, geom.Vec{1, 1, 1}.Unit(), true})
	}
	text := []string{fmt.Sprintf("Cut of %s in %s. It divides the part in two.", mm(c.LengthMM), unit.Count(len(c.Loops), "loop"))}
	if !c.Divides {
		text[0] = "The cut does not divide the part in two:"
		text = append(text, c.Reasons...)
		if open > 0 {
			text = append(text, "E1, E2, ... are the parts of the line that do not close.")
		}
	}
	views := chooseViews(p.album, p.mesh(), p.solid(), p.frame, p.marks)
	return p.sheet(views[:min(2, len(views))], text)
}

// sectionFlags is how many loops get a flag.
const sectionFlags = 8

// sheet puts views and some lines of text below one another.
func (p castingPicture) sheet(from []chosenView, text []string) ([]byte, error) {
	const width = viewWidth + 2*sideRoom
	var views strings.Builder
	y := 20.0
	for _, v := range from {
		svg, err := p.view(v)
		if err != nil {
			return nil, err
		}
		h := float64(v.Camera.Around(p.mesh().Points, 8, viewWidth, viewHeight).H) + lineRoom + 54
		fmt.Fprintf(&views, `<text class="small" x="20" y="%s">Seen %s</text>`, picture.Coord(y+6), picture.Escape(v.Name))
		views.WriteString(strings.Replace(svg, "<svg ", fmt.Sprintf(`<svg x="0" y="%s" width="%d" height="%s" `, picture.Coord(y+14), width, picture.Coord(h)), 1))
		y += h + 40
	}
	for _, line := range text {
		fmt.Fprintf(&views, `<text x="20" y="%s">%s</text>`, picture.Coord(y+24), picture.Escape(line))
		y += 28
	}
	y += 20
	return []byte(fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %s" width="%d" height="%s"><style>%s</style><rect width="100%%" height="100%%" fill="#fff"/>`,
		width, picture.Coord(y), width, picture.Coord(y), sheetStyle) + views.String() + "</svg>\n"), nil
}

// sheetStyle is what a drawing outside a report needs of the report's style.
const sheetStyle = "text{font-family:system-ui,'Noto Sans','DejaVu Sans',Arial,sans-serif;font-size:20px;fill:#1b1f21}" +
	".small{font-size:19px;fill:#3b4448}.halo{fill:none;stroke:#fff;stroke-width:9;stroke-linejoin:round;stroke-linecap:round}" +
	".trace{fill:none;stroke:#000;stroke-width:4.6;stroke-linejoin:round}.halo.hidden{stroke-width:6;stroke-opacity:.7}" +
	".trace.hidden{stroke-width:2.6;stroke-dasharray:7 5}.leader{stroke:#1b1f21;stroke-width:1.6}.leader.halo{stroke:#fff;stroke-width:4.5}" +
	"rect.flag{fill:#fff;stroke:#1b1f21;stroke-width:2}text.flag{font-size:23px;font-weight:700}" +
	".zone{font-size:22px;font-weight:600;fill:#0a4652;paint-order:stroke;stroke:#fff;stroke-width:6px;stroke-linejoin:round}.bar{stroke:#1b1f21;stroke-width:2.4}"
