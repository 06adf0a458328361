package report

import (
	"fmt"
	"strings"

	"fettle/internal/body"
	"fettle/internal/inspect"
)

// sectionLines says of every section line whether it is proven to divide its
// casting, how long the cut is, and what the piece has: surface, volume and
// mass. The mass is the casting's by the share of its volume.
func sectionLines(in Input) []string {
	var out []string
	for _, l := range in.Body.Lines {
		s := in.Surfaces[l.Casting]
		if s == nil {
			continue
		}
		p, err := inspect.Part(l, s)
		switch {
		case err != nil:
			out = append(out, sentence(fmt.Sprintf("%s, %s: %v", l.ID, l.Name, err)))
		case !p.Section.Divides:
			out = append(out, sentence(fmt.Sprintf("%s, %s: it does not divide the casting: %s", l.ID, l.Name, strings.Join(p.Section.Reasons, "; "))))
		default:
			out = append(out, dividedLine(in.Body, l, p))
		}
	}
	return out
}

func dividedLine(b *body.Body, l body.Line, p *inspect.Parted) string {
	text := fmt.Sprintf("%s, %s: proven to divide the casting in two. Cut along the wall %s; the piece taken off has %s\u2009cm² of surface and %s\u2009cm³",
		l.ID, l.Name, mm(p.SawMM()), fixed(p.Section.Outer.AreaMM2/100, 0), fixed(p.Section.Outer.VolumeMM3/1000, 0))
	if !p.Section.VolumesExact {
		text += " (up to the smallest cut face)"
	}
	if share, ok := p.Share(); ok {
		text += fmt.Sprintf(", %s\u2009%% of the casting", fixed(100*share, 0))
		c, _ := b.Casting(l.Casting)
		if part, _ := b.Part(c.Part); part.Mass > 0 {
			text += fmt.Sprintf(", about %s\u2009kg of %s\u2009kg", fixed(share*float64(part.Mass), 1), fixed(float64(part.Mass), 1))
		}
	}
	return text + "."
}
