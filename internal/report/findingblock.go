package report

import (
	"fmt"
	"html/template"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/rule"
	"fettle/internal/unit"
)

// findingBlock is all there is to say about one finding, in one place: the
// drawing, how long it is and how that came about, how near to what, what may
// be done by which row, what is done on the route shown, what would change it,
// and below the reasons line by line.
type findingBlock struct {
	ID, What, Because, Answer string
	Word                      word
	SVG                       template.HTML // empty: not drawn
	Seen, Found               string        // from where the drawing looks, or why there is none; how it was found
	Size, Near                []measureRow
	OnRoute                   string // what the route shown does with it
	Options                   []optionRow
	Rows                      []ruleRow
	NoRow                     string // treatments no row speaks of
	Change, After             []string
	Questions                 []questionRow
	Unknown                   []string
	Photos                    string // which photographs of section 2 show it
}

// findingBlocks is a block for every finding, in the order of the decisions;
// one that was found and not decided about is shown as that.
func findingBlocks(in Input, p pick, c castingPart) []findingBlock {
	drawn := map[string]closeup{}
	for _, v := range c.Castings {
		for _, u := range v.Closeups {
			drawn[u.ID] = u
		}
	}
	all := slices.Clone(in.Decide.Findings)
	for _, f := range in.Inspect.Findings {
		if !slices.ContainsFunc(all, func(d decide.Finding) bool { return d.ID == f.ID }) {
			all = append(all, decide.Finding{ID: f.ID, Because: "nothing has been decided about this finding"})
		}
	}
	var out []findingBlock
	for _, d := range all {
		b := findingBlockOf(in, p, d)
		if u, ok := drawn[b.ID]; ok {
			b.SVG, b.Seen = u.SVG, "Seen from "+u.From+"."
		}
		out = append(out, b)
	}
	return out
}

func findingBlockOf(in Input, p pick, d decide.Finding) findingBlock {
	f := findingByID(in.Inspect, d.ID)
	j := jobFinding(in.Job, d.ID)
	b := findingBlock{ID: string(d.ID), What: or(string(f.Kind), "finding") + ", " + zonesText(in.Body, f), Because: sentence(d.Because),
		Word: verdictWord(d.Verdict), Change: sentences(d.Change), After: d.After, Answer: answerUsed(d), Unknown: sentences(f.Unknown),
		Seen: "Not drawn: it has no trace on the surface of a casting.", Found: foundText(j), Size: sizeRows(in, f, j), Near: clearances(in.Body, f), OnRoute: onRoute(in, p, d.ID)}
	if c, ok := in.Body.Casting(f.Casting); ok && !c.HasMesh() && in.Vehicle.Surface(c.ID) == nil && f.Located {
		b.Seen = "Not drawn: there is no mesh of the casting. Where it lies was said, and it was measured by hand."
		if svg, title, ok := mapCloseUp(in, c, f.ID, closeBeside); ok {
			b.SVG, b.Seen = svg, "On the zone map: "+title+"."
		}
	}
	b.Options, b.NoRow = optionRows(d)
	if slices.ContainsFunc(d.Options, func(o decide.Option) bool { return len(o.After) > 0 }) {
		b.After = nil // each treatment has its own
	}
	for _, r := range d.Rows {
		if r.State != decide.RowNotApplying {
			b.Rows = append(b.Rows, ruleRowOf(r, Confidence(in.Body)))
		}
	}
	for _, q := range in.Decide.Questions {
		if q.Finding == d.ID {
			b.Questions = append(b.Questions, questionOf(in, q))
		}
	}
	var photos []string
	for _, ph := range in.Photos {
		if slices.Contains(ph.For, b.ID) {
			photos = append(photos, ph.ID)
		}
	}
	b.Photos = list(photos, 9)
	return b
}

// answerUsed is the answer that was used, unless the decision says it already.
func answerUsed(d decide.Finding) string {
	if name := strings.Join(strings.Fields(d.Answer)[:min(2, len(strings.Fields(d.Answer)))], " "); name != "" && strings.Contains(d.Because, name) {
		return ""
	}
	return sentence(d.Answer)
}

// sizeRows is the length with how it came about, one step a row, and what else
// is known of the finding itself.
func sizeRows(in Input, f inspect.Finding, j job.Finding) []measureRow {
	var out []measureRow
	add := func(what, value string) { out = append(out, measureRow{what, value}) }
	switch {
	case f.Length != nil:
		add("Along the surface", plusMinus(f.Length.MM, f.Length.Std))
		if f.UpperMM > 0 {
			add("Straight, end to end", mm(f.LowerMM))
			add("Through all points", mm(f.UpperMM))
		}
	case f.Casting != "":
		add("Along the surface", "not known")
	}
	if others := countsWith(in, f); others != "" {
		add("As one crack with", others)
	}
	if f.TipAddMM > 0 {
		add("Added for tips", mm(f.TipAddMM))
	}
	switch {
	case f.Decision != nil:
		add("Held against limits", plusMinus(f.Decision.MM, f.Decision.Std))
		add("so between", fixed(f.Decision.MM-expanded(f.Decision.Std), 1)+" and "+mm(f.Decision.MM+expanded(f.Decision.Std)))
	case f.Casting != "":
		add("Held against limits", "not known")
	}
	if f.Casting != "" {
		if s := zoneShares(in.Body, f); strings.ContainsAny(s, ";(") {
			add("In", s) // one zone alone is in the heading
		}
		add("Ends", tipsText(j.Tips))
		add("Through the wall", throughText(j))
	}
	if j.Depth.Known {
		add("Deep", rule.NumberValue(float64(j.Depth.Value), float64(j.DepthStd), "mm").String())
	}
	return append(out, bentRows(in, j)...)
}

// bentRows is what was said of a bent part.
func bentRows(in Input, j job.Finding) []measureRow {
	var out []measureRow
	for _, h := range j.Measured {
		if std, ok := h.Uncertainty(in.Shop); h.What == job.HandShape && h.Value.Known {
			text := plusMinus(float64(h.Value.Value), std)
			if !ok {
				text = mm(float64(h.Value.Value)) + ", uncertainty not said"
			}
			out = append(out, measureRow{"Out of shape", text})
		}
	}
	if j.Kinked == body.Yes || j.Kinked == body.No {
		out = append(out, measureRow{"Kinked", string(j.Kinked)})
	}
	if j.Straight.Known {
		out = append(out, measureRow{"Straightened before", unit.Count(j.Straight.Value, "time")})
	}
	return out
}

// foundText is how, by whom and when a finding was seen.
func foundText(j job.Finding) string {
	return or(string(j.Seen), "method not said") + ", " + or(j.By, "nobody named") + ", " + day(j.On)
}

func throughText(j job.Finding) string {
	if j.Through == body.Yes || j.Through == body.No {
		return string(j.Through)
	}
	return "not known"
}

// countsWith is the findings that count as one crack with this one.
func countsWith(in Input, f inspect.Finding) string {
	for _, g := range in.Inspect.Groups {
		if g.ID != f.Group {
			continue
		}
		var others []string
		for _, id := range g.Findings {
			if id != f.ID {
				others = append(others, string(id))
			}
		}
		return list(others, 8)
	}
	return ""
}

// onRoute is what the route shown does with a finding.
func onRoute(in Input, p pick, id job.FindingID) string {
	for _, it := range p.Route.Items {
		if !slices.Contains(it.Findings, id) {
			continue
		}
		t, _ := in.Body.Treatment(it.Treatment)
		s := or(t.Name, string(it.Kind))
		if it.Line != "" {
			s += " (" + string(it.Line) + ")"
		}
		return s + assumedWord(it)
	}
	return ""
}

// optionRows is the treatments a row or an answer speaks of, those that are
// allowed first, with the same words once; and those no row speaks of.
func optionRows(d decide.Finding) (rows []optionRow, noRow string) {
	var silent []string
	for _, v := range []decide.Verdict{decide.Allowed, decide.Undecided, decide.Ask, decide.Forbidden} {
		for _, o := range d.Options {
			if o.Verdict != v {
				continue
			}
			if v == decide.Ask && len(o.Rows) == 0 {
				silent = append(silent, string(o.Kind))
				continue
			}
			rows = joinOption(rows, o)
		}
	}
	return rows, list(silent, 12)
}

// joinOption adds a treatment, to the row before it when that says the same.
func joinOption(rows []optionRow, o decide.Option) []optionRow {
	r := optionRow{Kind: string(o.Kind), Cite: source(o), Because: because(o), Word: verdictWord(o.Verdict), Manner: mannerOf(o)}
	if o.Line != "" {
		r.Kind += " along " + string(o.Line)
	}
	if n := len(rows); n > 0 {
		last := &rows[n-1]
		if last.Word == r.Word && last.Cite == r.Cite && last.Because == r.Because && slices.Equal(last.Manner, r.Manner) {
			last.Kind += " or " + strings.TrimPrefix(r.Kind, string(o.Kind)+" along ")
			return rows
		}
	}
	return append(rows, r)
}

// source is the rows that decided a treatment and where they stand.
func source(o decide.Option) string {
	if len(o.Rows) == 0 {
		return o.Cite
	}
	return fmt.Sprintf("row %s: %s", list(o.Rows, 9), o.Cite)
}

// because is why a treatment got its verdict, when that is more than that the
// row says so.
func because(o decide.Option) string {
	plain := o.Answer == "" && len(o.Rows) > 0 && (o.Verdict == decide.Allowed || o.Verdict == decide.Forbidden)
	if plain && (plainlySaid(o.Because)) {
		return ""
	}
	return sentence(o.Because)
}

// plainlySaid says that a reason only names the rows.
func plainlySaid(s string) bool {
	for _, end := range []string{"permits it", "permit it", "forbids it", "forbid it"} {
		if strings.HasSuffix(s, end) {
			return true
		}
	}
	return false
}

// annexRow is what stands behind a finding's block: the rows that do not speak
// of it, the facts they were held against, and how its figures came about.
type annexRow struct {
	ID       string
	Silent   []string
	Facts    []factRow
	Because  []string
	Question []string // the text of each question about it
}

// annexRows is the annex of every finding.
func annexRows(in Input) []annexRow {
	var out []annexRow
	for _, d := range in.Decide.Findings {
		f := findingByID(in.Inspect, d.ID)
		a := annexRow{ID: string(d.ID), Because: sentences(f.Because)}
		if odds := in.Inspect.Odds(in.Body, f); odds != "" {
			a.Because = append(a.Because, sentence(odds))
		}
		for _, r := range d.Rows {
			if r.State == decide.RowNotApplying {
				a.Silent = append(a.Silent, silentText(r))
			}
		}
		for _, x := range d.Facts {
			value := x.Value
			if !x.Known {
				value = "not known"
			}
			a.Facts = append(a.Facts, factRow{factName(x.Name), value, x.From})
		}
		for _, q := range in.Decide.Questions {
			if q.Finding == d.ID {
				a.Question = append(a.Question, q.Text)
			}
		}
		out = append(out, a)
	}
	return out
}
