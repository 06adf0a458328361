package report

import (
	"fmt"
	"html/template"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/picture"
)

// castingPart is section 2: the castings, the findings and the coverage.
type castingPart struct {
	Castings []castingView
	Findings []findingRow
	Groups   []string
	Coverage []coverRow
	Rules    []string
	Lines    []lineView
	Earlier  []string
	Photos   []photoView
	Looks    []sessionRow
}

// sessionRow is one inspection of the job with its conditions.
type sessionRow struct {
	ID, What, Who, Why string
	Conditions         []conditionRow
	Word               word
}

type conditionRow struct {
	What, Value, Bound, Source string
	Met                        bool
}

func sessionRowOf(in Input, j inspect.Judged) sessionRow {
	row := sessionRow{ID: j.ID, What: string(j.Method) + " inspection", Who: j.By + ", " + day(j.On), Word: word{"counts", toneGood}}
	if j.Qualified != "" {
		row.Who += "; qualified: " + j.Qualified
	}
	for _, l := range in.Job.Looks {
		if l.ID == j.ID {
			for _, s := range []string{l.Medium, l.Product, l.Text} {
				if s != "" {
					row.What += "; " + s
				}
			}
		}
	}
	if !j.Counts {
		row.Word, row.Why = word{"does not count", toneBad}, sentence(strings.Join(j.Why, "; "))
	} else {
		row.Why = "Finds cracks from " + mm(j.FindsMM) + "."
	}
	for _, c := range j.Conditions {
		row.Conditions = append(row.Conditions, conditionRow{c.What, c.Value, c.Bound, c.Cite + " (" + statusWords(c.Status) + ")", c.Met})
	}
	return row
}

// statusWords says how sure a published figure is.
func statusWords(s string) string {
	switch s {
	case "manufacturer":
		return "from the procedure"
	case "standard":
		return "read in the standard"
	case "secondary":
		return "from a secondary source"
	}
	return "from memory, to be checked"
}

type castingView struct {
	Name, Alloy string
	Views       []viewPicture
	Maps        []viewPicture // zone maps, where there is no mesh
	Zones       []zoneKey
	Closeups    []closeup
	NoDrawing   string
	Lined       bool // section lines are drawn
}

// viewPicture is a view of a casting: its title, or from where it is seen.
type viewPicture struct {
	Name, Title string
	SVG         template.HTML
}

type zoneKey struct {
	Swatch   template.URL
	ID, Name string
}

type closeup struct {
	ID, Text, From string // From: from where it is seen
	SVG            template.HTML
}

// measureRow is a figure with what it is of.
type measureRow struct{ What, Value string }

type findingRow struct {
	ID, Kind, Where, Length, Decision, Ends, Seen, Text string
	Word                                                word
}

type coverRow struct {
	Area, Name, Zone, Finds, Who, Text, How, Asked string
	With                                           []string // ribs, bores and joints that stand in this row
	Word                                           word
}

func buildCasting(in Input) (castingPart, error) {
	var out castingPart
	lines := partedLines(in)
	for _, c := range in.Body.Castings {
		v, err := castingViewOf(in, c, lines, closeBeside)
		if err != nil {
			return out, err
		}
		out.Castings = append(out.Castings, v)
	}
	for _, f := range in.Inspect.Findings {
		out.Findings = append(out.Findings, findingRowOf(in, f))
	}
	var err error
	if out.Lines, err = lineViews(in, lines); err != nil {
		return out, err
	}
	for _, g := range in.Inspect.Groups {
		if len(g.Findings) > 1 {
			out.Groups = append(out.Groups, sentence(fmt.Sprintf("%s count as one crack of %s (k = 2): %s",
				list(findingNames(g.Findings), 20), plusMinus(g.LengthMM, g.StdMM), g.Because)))
		}
	}
	out.Coverage = coverRows(in)
	for _, j := range in.Inspect.Inspections {
		out.Looks = append(out.Looks, sessionRowOf(in, j))
	}
	for _, p := range in.Photos {
		out.Photos = append(out.Photos, shown(p))
	}
	for _, r := range in.Inspect.Rules {
		out.Rules = append(out.Rules, fmt.Sprintf("%s: grouping distance and tip allowance from %s, revision %s.",
			castingName(in.Body, r.Casting), r.Procedure, r.Revision))
	}
	for _, e := range in.Job.Earlier {
		out.Earlier = append(out.Earlier, sentence(fmt.Sprintf("%s in zone %s: %s", mm(float64(e.Length)), zoneName(in.Body, e.Zone), e.Text)))
	}
	return out, nil
}

func castingViewOf(in Input, c body.Casting, lines []partedLine, close closeSize) (castingView, error) {
	v := castingView{Name: c.Name, Alloy: c.Alloy}
	s := in.Vehicle.Surface(c.ID)
	if s == nil {
		if len(c.Maps) == 0 {
			v.NoDrawing = "There is no mesh of this casting and no zone map, so it cannot be drawn."
		}
		v.Maps = mapViews(in, c, viewWidth, mapHeight, sideRoom)
		return v, nil
	}
	p := castingPicture{surface: s, frame: frameOf(in.Body.Axes), zoneOf: zoneHatches(s.Mesh(), c.Zones), names: map[int32]string{}, close: close, album: in.Vehicle.Album}
	for _, z := range c.Zones {
		uri, err := picture.Swatch(p.zoneOf[int32(z.Label)])
		if err != nil {
			return v, err
		}
		p.names[int32(z.Label)] = z.Name
		v.Zones = append(v.Zones, zoneKey{template.URL(uri), string(z.ID), z.Name})
	}
	p.marks = findingMarks(in, c.ID)
	for _, l := range lines {
		if l.line.Casting == c.ID && l.err == nil {
			p.lines = append(p.lines, lineMark{string(l.line.ID), l.loops()})
			v.Lined = true
		}
	}
	return v, v.draw(in, p)
}

// findingMarks is the findings of a casting that can be drawn on it.
func findingMarks(in Input, c body.CastingID) []mark {
	var out []mark
	s := in.Vehicle.Surface(c)
	for _, f := range in.Inspect.Findings {
		if f.Casting == c && f.Located && len(f.Path) > 0 {
			site, _ := s.Closest(picture.Middle(f.Path))
			out = append(out, mark{string(f.ID), f.Path, s.Mesh().FaceNormal(site.Face), f.Through == body.Yes || s.SidesDoubt() != ""})
		}
	}
	return out
}

// draw makes the views and the close-ups of a casting.
func (v *castingView) draw(in Input, p castingPicture) error {
	views := chooseViews(p.album, p.mesh(), p.solid(), p.frame, p.marks)
	if p.close == closeAlone { // a page about one finding: where it is, and close up
		views = []chosenView{mostSeen(p.album, p.mesh(), p.solid(), p.frame, p.marks)}
	}
	for _, view := range views {
		svg, err := p.view(view)
		if err != nil {
			return err
		}
		v.Views = append(v.Views, viewPicture{Name: view.Name, SVG: template.HTML(svg)})
	}
	for _, m := range p.marks {
		f := findingByID(in.Inspect, job.FindingID(m.id))
		length := ""
		if f.Length != nil && p.close == closeAlone { // beside the figures it is one of them
			length = plusMinus(f.Length.MM, f.Length.Std) + " (k = 2)"
		}
		svg, err := p.closeUp(m, length)
		if err != nil {
			return err
		}
		c := closeUpCamera(p.frame, m, 100, 100)
		v.Closeups = append(v.Closeups, closeup{m.id,
			fmt.Sprintf("%s, %s", f.Kind, zonesText(in.Body, f)), facing(p.frame, c.Toward), template.HTML(svg)})
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
	row := findingRow{ID: string(f.ID), Kind: string(f.Kind), Where: strings.TrimPrefix(strings.TrimPrefix(zonesText(in.Body, f), "on "), "zone "), Text: j.Text, Length: "none", Decision: "none",
		Ends: "ends: " + tipsText(j.Tips), Word: verdictWord(decide.Ask)}
	if f.Casting != "" && (!f.Located || (f.Kind == body.Crack || f.Kind == body.Break) && f.Length == nil) {
		row.Length, row.Decision = "not known", "not known"
	}
	if f.Length != nil {
		row.Length = plusMinus(f.Length.MM, f.Length.Std)
	}
	if f.Decision != nil {
		row.Decision = plusMinus(f.Decision.MM, f.Decision.Std)
		switch {
		case f.TipAddMM > 0:
			row.Decision += " with " + mm(f.TipAddMM) + " for tips"
		case countsWith(in, f) != "":
			row.Decision += " with " + countsWith(in, f)
		}
	}
	for _, d := range in.Decide.Findings {
		if d.ID == f.ID {
			row.Word = verdictWord(d.Verdict)
		}
	}
	row.Seen = foundText(j)
	return row
}

func tipsText(tips []body.TipMethod) string {
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

func zoneShares(b *body.Body, f inspect.Finding) string {
	var s, may []string
	k, _ := b.Casting(f.Casting)
	for _, z := range f.Zones {
		switch {
		case z.Touches && !k.HasMesh() && len(f.Path) == 0:
			may = append(may, zoneName(b, z.Zone))
		case z.Touches:
			s = append(s, zoneName(b, z.Zone)+" (nearer than the uncertainty)")
		case z.LengthMM == 0 && len(f.Path) == 0: // nobody measured how much of it
			s = append(s, zoneName(b, z.Zone))
		default:
			s = append(s, zoneName(b, z.Zone)+" "+mm(z.LengthMM))
		}
	}
	if len(may) > 0 {
		s = append(s, "may reach "+list(may, 4))
	}
	return or(strings.Join(s, "; "), "zone not known")
}

// clearances is a row for each kind of thing a finding is held away from.
// Section lines have their own place in the document.
func clearances(b *body.Body, f inspect.Finding) []measureRow {
	var out []measureRow
	for _, c := range []struct {
		what string
		c    *inspect.Clearance
	}{{"Border of", f.Border}, {"Bore", f.Bore}, {"Edge", f.Edge}, {"Joint", f.Joint}, {"Earlier repair", f.Earlier}, {"Next crack", f.Spacing}} {
		switch {
		case c.c == nil:
		case c.c.To == inspect.None:
			out = append(out, measureRow{strings.TrimSuffix(c.what, " of"), "none"})
		default:
			out = append(out, measureRow{c.what + " " + clearanceName(b, c.c.To), clearanceFigure(*c.c)})
		}
	}
	return out
}

// clearanceFigure is what is held against a limit; a lower bound has a sign of its own.
func clearanceFigure(c inspect.Clearance) string {
	s := plusMinus(c.MM, c.Std)
	if c.UpperMM == 0 || c.UpperMM-c.SeenMM > 0.15 {
		s = "≥ " + s
	}
	return s
}

// clearanceName prefers the name of a zone to its identity.
func clearanceName(b *body.Body, to string) string { return zoneName(b, body.ZoneID(to)) }

// coverRows is a row for every area; ribs, bores and joints that have no entry
// of their own and are asked for like their zone stand in its row.
func coverRows(in Input) []coverRow {
	var out []coverRow
	at := map[string]int{}
	of := map[string]inspect.Coverage{}
	for _, c := range in.Inspect.Coverage {
		z, ok := of[c.Part]
		if ok && !c.Own && z.Needs == c.Needs && z.State == c.State && z.Covered == c.Covered && z.FindsMM == c.FindsMM {
			row := &out[at[c.Part]]
			row.With = append(row.With, withText(c, z))
			continue
		}
		at[c.Area], of[c.Area] = len(out), c
		out = append(out, coverRowOf(in, c))
	}
	return out
}

// withText is what a part of an area is called in its row.
func withText(c, of inspect.Coverage) string {
	s := strings.TrimPrefix(c.Name, of.Name+", ")
	if c.SizeMM > 0 {
		s += " (" + fixed(c.SizeMM/1000, 1) + " m)"
	}
	return s
}

func coverRowOf(in Input, c inspect.Coverage) coverRow {
	row := coverRow{Area: c.Area, Name: c.Name, Finds: mm(c.FindsMM), Text: coverText(c), Word: areaWord(c.State, c.Covered), Asked: sentence(or(c.Because, string(c.Needs)))}
	if zone := or(zoneName(in.Body, c.Zone), "zone not known, or several"); zone != c.Name {
		row.Zone = zone
	}
	row.Who = strings.TrimPrefix(c.By+", inspection "+c.Look, ", ")
	if c.Look == "" {
		row.Who = c.By
	}
	if c.By != "" {
		row.Who += ", " + day(c.On) + "."
	}
	if c.Part != "" && !c.Own && c.State != job.StateNotYet {
		row.How = "Entered for " + c.Part + "."
	}
	if !c.Covered {
		row.Finds = "nothing"
	}
	for _, a := range in.Job.Areas {
		if a.Area == c.Area {
			row.How = sentence(a.Text)
		}
	}
	return row
}

// coverText is what is said of an area, without what stands in the other
// columns: its name, how and by whom it was inspected, and what the method finds.
func coverText(c inspect.Coverage) string {
	text := strings.TrimPrefix(c.Text, c.Name+": ")
	if said, _, ok := strings.Cut(text, ", inspected "); ok && c.Covered {
		text = said
	}
	return sentence(text)
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
