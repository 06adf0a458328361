package report

import (
	"fmt"
	"html/template"
	"sort"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/inspect"
	"fettle/internal/mesh"
	"fettle/internal/vehicle"
)

// frontFindings is the list of findings on the first page with a drawing of the
// casting: what is cracked where, how long, and the mildest treatment that is
// allowed.
type frontFindings struct {
	Rows []frontRow
	More int // findings beyond the rows
	SVG  template.HTML
	Seen string // from where the drawing looks
	Map  string // or what zone map it is
	Cuts string // the section lines that the page speaks of, with their names
}

type frontRow struct {
	ID, Kind, Where, Length, May string
	Allowed                      bool
}

// mostRows is how many findings the first page lists; of more, those without an
// allowed treatment and then the longest.
const mostRows = 10

// buildFrontFindings is the table of so many findings at most, and their drawing.
func buildFrontFindings(in Input, mostRows int) (frontFindings, error) {
	fs := append([]inspect.Finding(nil), in.Inspect.Findings...)
	if len(fs) > mostRows {
		sort.SliceStable(fs, func(i, j int) bool {
			a, b := allowed(in, fs[i]), allowed(in, fs[j])
			if a != b {
				return b
			}
			return lengthOf(fs[i]) > lengthOf(fs[j])
		})
	}
	out := frontFindings{More: max(len(fs)-mostRows, 0)}
	fs = fs[:min(len(fs), mostRows)]
	for _, f := range fs {
		r := frontRow{ID: string(f.ID), Kind: string(f.Kind), Allowed: allowed(in, f), May: verdictWord(verdictOf(in, f)).Text,
			Where: placeText(in, f)}
		switch {
		case f.Length != nil:
			r.Length = plusMinus(f.Length.MM, f.Length.Std)
		case f.Casting != "":
			r.Length = "not known"
		}
		if r.Allowed {
			r.May = mildest(in, f)
		}
		out.Rows = append(out.Rows, r)
	}
	return out, out.draw(in, fs)
}

// cutsText names the section lines that the first page speaks of: under the picture of the
// casting, because the names of routes hold their codes.
func cutsText(in Input, f frontPart) string {
	var said strings.Builder
	for _, r := range f.Findings.Rows {
		said.WriteString(r.May + "\n")
	}
	for _, a := range f.Answers {
		said.WriteString(a.Text + "\n" + strings.Join(a.Lines, "\n") + "\n")
	}
	said.WriteString(strings.Join(f.Next, "\n"))
	n := &frontNames{map[string]string{}, map[string]bool{}}
	for _, l := range in.Body.Lines {
		n.add(string(l.ID), l.Name)
	}
	n.in(said.String())
	var out []string
	for _, l := range in.Body.Lines {
		if n.said[string(l.ID)] {
			out = append(out, sentence(string(l.ID)+": "+l.Name))
		}
	}
	return strings.Join(out, " ")
}

// placeText is where a finding lies, without the words around it.
func placeText(in Input, f inspect.Finding) string {
	return strings.TrimPrefix(strings.TrimPrefix(strings.TrimPrefix(zonesText(in.Body, f), "on "), "zones "), "zone ")
}

func lengthOf(f inspect.Finding) float64 {
	if f.Length == nil {
		return 0
	}
	return f.Length.MM
}

// verdictOf is the decision about a finding; to be asked when there is none.
func verdictOf(in Input, f inspect.Finding) decide.Verdict {
	for _, d := range in.Decide.Findings {
		if d.ID == f.ID {
			return d.Verdict
		}
	}
	return decide.Ask
}

func allowed(in Input, f inspect.Finding) bool { return verdictOf(in, f) == decide.Allowed }

// mildest is the first treatment that is allowed, with the rows that say so.
func mildest(in Input, f inspect.Finding) string {
	for _, d := range in.Decide.Findings {
		if d.ID != f.ID {
			continue
		}
		for _, o := range d.Options {
			if o.Verdict != decide.Allowed {
				continue
			}
			s := string(o.Kind)
			if o.Line != "" {
				s += " along " + string(o.Line)
			}
			switch {
			case o.Answer != "":
				s += " (by answer)"
			case len(o.Rows) > 0:
				s += " (" + list(o.Rows, 3) + ")"
			}
			return s
		}
	}
	return verdictWord(decide.Ask).Text
}

// frontWide is the width in pixels of the drawing on the first page.
const frontWide = 420

// draw makes the drawing of the casting that has most of the findings, from
// where most of them are seen.
func (l *frontFindings) draw(in Input, fs []inspect.Finding) error {
	on := map[body.CastingID]int{}
	for _, f := range fs {
		if f.Located && len(f.Path) > 0 {
			on[f.Casting]++
		}
	}
	var best body.Casting
	most := 0
	for _, c := range in.Body.Castings {
		if in.Vehicle.Surface(c.ID) != nil && on[c.ID] > most {
			best, most = c, on[c.ID]
		}
	}
	if most == 0 {
		l.drawMap(in, fs)
		return nil
	}
	part := in
	part.Inspect.Findings = fs
	s := in.Vehicle.Surface(best.ID)
	p := castingPicture{surface: s, frame: frameOf(in.Body.Axes), zoneOf: zoneHatches(s.Mesh(), best.Zones), wide: frontWide, album: in.Vehicle.Album}
	p.marks = findingMarks(part, best.ID)
	view := mostSeen(in.Vehicle.Album, s.Mesh(), s.Solid(), p.frame, p.marks)
	svg, err := p.view(view)
	l.SVG, l.Seen = template.HTML(svg), view.Name
	return err
}

// drawMap draws the zone map on which most of the findings are pinned, where no casting with a
// mesh has any.
func (l *frontFindings) drawMap(in Input, fs []inspect.Finding) {
	part := in
	part.Inspect.Findings = fs
	most := 0
	for _, k := range in.Body.Castings {
		if m, pins, ok := bestMap(part, k); ok && len(pins) > most && in.Vehicle.Surface(k.ID) == nil {
			most = len(pins)
			l.SVG, l.Map = mapDrawing{part, m, pins, frontWide, frontWide * 3 / 4, closeUpRoom}.draw(allOf(m)), mapTitle(m)
		}
	}
}

// mostSeen is the view in which most findings are seen best.
func mostSeen(a *vehicle.Album, m *mesh.Mesh, solid bool, f frame, marks []mark) chosenView {
	views := chooseViews(a, m, solid, f, marks)
	best := views[0]
	for _, v := range views[1:] {
		if len(v.best) > len(best.best) {
			best = v
		}
	}
	return best
}

// routeProof says how well the route shown is proven.
func routeProof(in Input, p pick) string {
	pl := p.Route.Plan
	var s []string
	if p.Route.ID == in.Compare.Best && p.Route.Because != "" {
		_, why, more := strings.Cut(p.Route.Because, "; ") // money and days stand above it
		if !more {
			why = p.Route.Because
		}
		s = append(s, why)
	}
	if len(pl.Removal) > 0 {
		s = append(s, proven(pl.OpeningProven, "no cheaper way to open up", "a cheaper way to open up may exist, none for less than "+money(pl.OpeningBound, currencyOf(in))))
	}
	if len(pl.Steps) > 0 {
		s = append(s, proven(pl.Proven, "no quicker plan with these people and bays", "a quicker plan may exist, none under "+elapsed(pl.BoundMin)))
	}
	if len(s) == 0 {
		return ""
	}
	return sentence("proof: " + strings.Join(s, "; "))
}

func proven(yes bool, what, bound string) string {
	if yes {
		return what + ", proven"
	}
	return "not proven: " + bound
}

// tenths is the expected money and in which range it falls in eight of ten draws.
func tenths(in Input, p pick) string {
	if in.Compare.Spread == nil {
		return ""
	}
	for _, r := range in.Compare.Spread.Routes {
		if r.Route == p.Route.ID {
			return fmt.Sprintf("Expected %s: what its risks and prices come to on average; in 8 of 10 draws between %s and %s.", r.Mean.Grouped(), r.P10.Grouped(), money(r.P90, currencyOf(in)))
		}
	}
	return ""
}
