package report

import (
	"fmt"
	"html/template"
	"strings"

	"fettle/internal/body"
	"fettle/internal/inspect"
	"fettle/internal/job"
)

// castingPart is section 2: the castings, the findings and the coverage.
type castingPart struct {
	Castings []castingView
	Findings []findingRow
	Groups   []string
	Coverage []coverRow
	Rules    []string
	Lines    []string // section lines
	Earlier  []string
}

type castingView struct {
	Name, Alloy string
	Views       []viewPicture
	Zones       []zoneKey
	Closeups    []closeup
	NoDrawing   string
}

type viewPicture struct {
	Name string
	SVG  template.HTML
}

type zoneKey struct {
	Swatch   template.URL
	ID, Name string
}

type closeup struct {
	ID, Text string
	SVG      template.HTML
}

type findingRow struct {
	ID, Kind, Part, Length, Range, Decision, Zones, Tips string
	Clearances, Because, Unknown                         []string
	Text, Seen, Depth                                    string
}

type coverRow struct {
	Area, Name, Zone, Needs, Finds, Who, Text, How string
	Word                                           word
}

func buildCasting(in Input) (castingPart, error) {
	var out castingPart
	for _, c := range in.Body.Castings {
		v, err := castingViewOf(in, c)
		if err != nil {
			return out, err
		}
		out.Castings = append(out.Castings, v)
	}
	for _, f := range in.Inspect.Findings {
		out.Findings = append(out.Findings, findingRowOf(in, f))
	}
	for _, g := range in.Inspect.Groups {
		if len(g.Findings) > 1 {
			out.Groups = append(out.Groups, sentence(fmt.Sprintf("%s count as one crack of %s (k = 2): %s",
				list(findingNames(g.Findings), 20), plusMinus(g.LengthMM, g.StdMM), g.Because)))
		}
	}
	for _, a := range in.Inspect.Coverage {
		out.Coverage = append(out.Coverage, coverRowOf(in, a))
	}
	for _, r := range in.Inspect.Rules {
		out.Rules = append(out.Rules, fmt.Sprintf("%s: grouping distance and tip allowance from %s, revision %s.",
			castingName(in.Body, r.Casting), r.Procedure, r.Revision))
	}
	out.Lines = sectionLines(in)
	for _, e := range in.Job.Earlier {
		out.Earlier = append(out.Earlier, sentence(fmt.Sprintf("%s in zone %s: %s", mm(float64(e.Length)), zoneName(in.Body, e.Zone), e.Text)))
	}
	return out, nil
}

func castingViewOf(in Input, c body.Casting) (castingView, error) {
	v := castingView{Name: c.Name, Alloy: c.Alloy}
	s := in.Surfaces[c.ID]
	if s == nil {
		v.NoDrawing = "There is no mesh of this casting, so it cannot be drawn."
		return v, nil
	}
	p := castingPicture{surface: s, frame: frameOf(in.Body.Axes), zoneOf: map[int32]int{}, names: map[int32]string{}}
	for i, z := range c.Zones {
		uri, err := swatch(i + 1)
		if err != nil {
			return v, err
		}
		p.zoneOf[int32(z.Label)], p.names[int32(z.Label)] = i+1, z.Name
		v.Zones = append(v.Zones, zoneKey{template.URL(uri), string(z.ID), z.Name})
	}
	for _, f := range in.Inspect.Findings {
		if f.Casting == c.ID && f.Located && len(f.Path) > 0 {
			site, _ := s.Closest(middle(f.Path))
			p.marks = append(p.marks, mark{string(f.ID), f.Path, s.Mesh().FaceNormal(site.Face)})
		}
	}
	return v, v.draw(in, p)
}

// draw makes the views and the close-ups of a casting.
func (v *castingView) draw(in Input, p castingPicture) error {
	for _, view := range chooseViews(p.surface.Mesh(), p.frame, p.marks) {
		svg, err := p.view(view)
		if err != nil {
			return err
		}
		v.Views = append(v.Views, viewPicture{view.name, template.HTML(svg)})
	}
	for _, m := range p.marks {
		f := findingByID(in.Inspect, job.FindingID(m.id))
		length := ""
		if f.Length != nil {
			length = plusMinus(f.Length.MM, f.Length.Std) + " (k = 2)"
		}
		svg, err := p.closeUp(m, length)
		if err != nil {
			return err
		}
		c := closeUpCamera(p.frame, m, 100, 100)
		v.Closeups = append(v.Closeups, closeup{m.id,
			fmt.Sprintf("%s, %s, seen from %s", f.Kind, zonesText(in.Body, f), facing(p.frame, c.toward)), template.HTML(svg)})
	}
	return nil
}

func findingByID(r inspect.Result, id job.FindingID) inspect.Finding {
	for _, f := range r.Findings {
		if f.ID == id {
			return f
		}
	}
	return inspect.Finding{ID: id} // nothing known: nothing drawn
}

func jobFinding(j *job.State, id job.FindingID) job.Finding {
	for _, f := range j.Findings {
		if f.ID == id {
			return f
		}
	}
	return job.Finding{ID: id}
}

func findingNames(ids []job.FindingID) []string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = string(id)
	}
	return out
}

// zonesText is where a finding lies, in a few words.
func zonesText(b *body.Body, f inspect.Finding) string {
	if f.Casting == "" {
		return "on " + partName(b, f.Part)
	}
	if !f.Located || len(f.Zones) == 0 {
		return "zone not known"
	}
	var s []string
	for _, z := range f.Zones {
		s = append(s, zoneName(b, z.Zone))
	}
	if len(s) == 1 {
		return "zone " + s[0]
	}
	return "zones " + list(s, 4)
}

func findingRowOf(in Input, f inspect.Finding) findingRow {
	j := jobFinding(in.Job, f.ID)
	row := findingRow{ID: string(f.ID), Kind: f.Kind, Part: partName(in.Body, f.Part), Text: j.Text,
		Because: sentences(f.Because), Unknown: sentences(f.Unknown), Length: "none", Decision: "none"}
	if f.Casting != "" {
		row.Zones = zoneShares(in.Body, f)
	}
	if f.Casting != "" && !f.Located {
		row.Length, row.Decision = "not known", "not known"
	}
	if f.Length != nil {
		row.Length = plusMinus(f.Length.MM, f.Length.Std)
		if f.UpperMM > 0 {
			row.Range = "between " + fixed(f.LowerMM, 1) + " and " + mm(f.UpperMM)
		}
	}
	if f.Decision != nil {
		row.Decision = plusMinus(f.Decision.MM, f.Decision.Std)
		if f.TipAddMM > 0 {
			row.Decision += " (tip allowance " + mm(f.TipAddMM) + " included)"
		}
	}
	row.Tips = tipsText(j.Tips)
	row.Depth = sentence(depthText(j))
	row.Seen = or(j.Seen, "method not said") + ", " + or(j.By, "nobody named") + ", " + day(j.On)
	row.Clearances = clearances(in.Body, f)
	return row
}

func tipsText(tips []string) string {
	if len(tips) == 0 {
		return "not said"
	}
	words := make([]string, len(tips))
	for i, t := range tips {
		words[i] = tipWord(t)
	}
	if len(words) == 2 && words[0] == words[1] {
		return "both " + words[0]
	}
	return strings.Join(words, "; ")
}

func depthText(j job.Finding) string {
	through := map[string]string{"yes": "goes through the wall", "no": "does not go through the wall"}[j.Through]
	s := or(through, "not known whether it goes through the wall")
	if j.Depth.Known {
		s += ", " + mm(float64(j.Depth.Value)) + " deep"
	}
	return s
}

func zoneShares(b *body.Body, f inspect.Finding) string {
	var s []string
	for _, z := range f.Zones {
		if z.Touches {
			s = append(s, zoneName(b, z.Zone)+" (nearer than the uncertainty)")
			continue
		}
		s = append(s, zoneName(b, z.Zone)+" "+mm(z.LengthMM))
	}
	return or(strings.Join(s, "; "), "zone not known")
}

func clearances(b *body.Body, f inspect.Finding) []string {
	var out []string
	for _, c := range []struct {
		what string
		c    *inspect.Clearance
	}{{"border of zone", f.Border}, {"bore", f.Bore}, {"next crack", f.Spacing}} {
		if c.c != nil {
			out = append(out, fmt.Sprintf("%s %s: %s", c.what, clearanceName(b, c.c.To), plusMinus(c.c.MM, c.c.Std)))
		}
	}
	for _, s := range f.Sides {
		side := "not surely outboard of"
		if s.Outboard {
			side = "outboard of"
		}
		out = append(out, fmt.Sprintf("%s section line %s by %s (%s needed)", side, s.Line, plusMinus(s.MarginMM, s.Std), mm(s.NeedMM)))
	}
	return out
}

// clearanceName prefers the name of a zone to its identity.
func clearanceName(b *body.Body, to string) string { return zoneName(b, body.ZoneID(to)) }

func coverRowOf(in Input, c inspect.Coverage) coverRow {
	row := coverRow{Area: c.Area, Name: c.Name, Zone: zoneName(in.Body, c.Zone), Needs: c.Needs,
		Finds: mm(c.FindsMM), Text: sentence(c.Text), Word: areaWord(c.State, c.Covered)}
	for _, a := range in.Job.Areas {
		if a.Area == c.Area && a.By != "" {
			row.Who = a.By + ", " + day(a.On) + "."
		}
		if a.Area == c.Area {
			row.How = sentence(a.Text)
		}
	}
	return row
}

// notCovered is the areas that have not been inspected as asked.
func notCovered(r inspect.Result) []string {
	var out []string
	for _, c := range r.Open() {
		out = append(out, c.Name)
	}
	return out
}

func partName(b *body.Body, id body.PartID) string {
	p, _ := b.Part(id)
	return or(p.Name, string(id))
}

func castingName(b *body.Body, id body.CastingID) string {
	c, _ := b.Casting(id)
	return or(c.Name, string(id))
}

func zoneName(b *body.Body, id body.ZoneID) string {
	z, _ := b.Zone(id)
	return or(z.Name, string(id))
}
