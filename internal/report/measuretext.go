package report

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/geom"
	"fettle/internal/measure"
	"fettle/internal/unit"
)

// MeasureText is a measurement for a terminal of the given width: the answer in
// plain words, each hypothesis with its points, what is certain, what may be
// wrong, and what to measure next.
func MeasureText(points []body.Point, sections []body.Section, axes body.Axes, r measure.Result, width int) string {
	m := measured{points, sections, wordsOf(axes), r}
	t := &textPage{width: width}
	switch {
	case len(r.Hypotheses) > 0:
	case len(r.Lengths) > 0:
		t.para("No place of any point can be told; the notes say why. What is known is the lengths and heights below, each held against the published one.")
	default:
		t.para("Nothing can be said about the structure; the notes say why.")
	}
	for i, h := range r.Hypotheses {
		if i > 0 {
			t.b.WriteString("\n")
		}
		t.para(m.claim(i))
		t.para("Because " + h.Because + ".")
		for _, g := range h.Sections {
			t.item(m.groupMove(g))
			for _, s := range g.Stations {
				t.item(stationText(s))
			}
		}
		t.table(h)
		for _, l := range outOfTolerance(h) {
			t.para(l)
		}
	}
	t.lengths(r)
	t.list("Lengths that do not agree", disagreeing(r))
	t.list("What the lengths hold", formSays(r.Form))
	t.list("What is certain", m.certainty().lines())
	t.list("Reference points", sentences(m.disagreeing()))
	t.list("Not certain", sentences(r.Why))
	t.list("Readings that may be wrong (nothing was corrected)", m.suspects())
	t.list("What to measure next", m.next())
	t.list("Hole centres", m.holes())
	t.list("Temperature", m.heat())
	var notes []string
	for _, n := range r.Notes {
		if told(n) {
			continue
		}
		notes = append(notes, fmt.Sprintf("%s: %s: %s", n.Severity, n.Where, n.Text))
	}
	t.list("Notes", notes)
	return t.b.String()
}

// told says that a note repeats what stands above in other words. One that
// blocks is never left out.
func told(n diag.Note) bool {
	return !n.Blocks() && (n.Code == measure.CodeReferenceMoved || n.Code == measure.CodePointsMissing || strings.HasPrefix(n.Code, "measure.suspect-"))
}

// textPage is plain text in lines of a width.
type textPage struct {
	b     strings.Builder
	width int
}

func (t *textPage) para(s string) {
	for _, l := range wrapped("", s, t.width) {
		t.b.WriteString(l + "\n")
	}
}

func (t *textPage) item(s string) {
	for _, l := range wrapped("- ", s, t.width) {
		t.b.WriteString(l + "\n")
	}
}

func (t *textPage) list(title string, items []string) {
	if len(items) == 0 {
		return
	}
	t.b.WriteString("\n" + title + "\n")
	for _, s := range items {
		t.item(s)
	}
}

// table is the points of one hypothesis. "certain" is what holds under every
// hypothesis that survives; "missed below" is the size from which a move would
// have been found.
func (t *textPage) table(h measure.Hypothesis) {
	fmt.Fprintf(&t.b, "%-8s %8s %8s %8s %7s %7s  %-5s %9s  %-9s %6s  %s\n", "point", "x mm", "y mm", "z mm", "total", "± k=2", "moved", "missed", "tolerance", "prob.", "certain")
	fmt.Fprintf(&t.b, "%-8s %8s %8s %8s %7s %7s  %-5s %9s\n", "", "", "", "", "mm", "mm", "", "below mm")
	for _, p := range h.Points {
		moved, certain := "no", "no"
		if p.Moved {
			moved = "yes"
		}
		if p.Firm {
			certain = "yes"
		}
		fmt.Fprintf(&t.b, "%-8s %8s %8s %8s %7s %7s  %-5s %9s  %-9s %6s  %s\n", p.ID, unit.Signed(p.ShiftMM[0]), unit.Signed(p.ShiftMM[1]), unit.Signed(p.ShiftMM[2]), unit.Fixed(p.ShiftMM.Norm(), 1),
			unit.Fixed(max(p.ExpandedMM[0], p.ExpandedMM[1], p.ExpandedMM[2]), 1), moved, missedBelow(p), p.Tolerance, shortPercent(p.Probability), certain)
	}
}

// lengths is the lengths and heights against the published ones, each with what it may
// differ while both of its points keep their tolerance.
func (t *textPage) lengths(r measure.Result) {
	if len(r.Lengths) == 0 {
		return
	}
	const layout = "%-28s %9s %9s %14s %14s  %s\n"
	fmt.Fprintf(&t.b, "\nLengths and heights against the published places (mm)\n")
	fmt.Fprintf(&t.b, layout, "", "measured", "published", "diff. ± k=2", "allowed", "tolerance")
	open := map[string][]string{}
	var reasons []string
	verdicts := map[measure.Verdict]bool{}
	for _, l := range r.Lengths {
		text := lengthWord(l.Limit.Verdict).Text
		if l.Differs {
			text += " *"
		}
		what := fmt.Sprintf("%s %s-%s", l.Kind, l.From, l.To)
		fmt.Fprintf(&t.b, layout, what+" ("+l.Setup+")", unit.Fixed(l.MeasuredMM, 1), unit.Fixed(l.NominalMM, 1), unit.Signed(l.DiffMM)+" ± "+unit.Fixed(expanded(l.StdMM), 1), plainSpaces(leeway(l)), text)
		verdicts[l.Limit.Verdict] = true
		if why := l.Limit.Because; l.Limit.Verdict == measure.Undecided {
			if open[why] == nil {
				reasons = append(reasons, why)
			}
			open[why] = append(open[why], what)
		}
	}
	if slices.ContainsFunc(r.Lengths, func(l measure.LengthCheck) bool { return l.Differs }) {
		t.para("* not as published: one that is would read that far off in fewer than " + plainSpaces(percent(geom.AlphaPoint)) + " of cases.")
	}
	if verdicts[measure.NotMet] {
		t.para("Not within: one of its two points is out of its tolerance.")
	}
	if verdicts[measure.Met] {
		t.para("Within: that clears neither point; a length does not see what goes across it, nor two points that went alike.")
	}
	for _, why := range reasons {
		t.para("Cannot be said, " + why + ": " + list(open[why], 12) + ".")
	}
}

// missedBelow is the size of a move that could have stayed unseen.
func missedBelow(p measure.PointResult) string {
	if !(p.Detectable > 0) {
		return "any size"
	}
	return unit.Fixed(p.Detectable, 1)
}

// stationText is how a section moved at one cross-section of the vehicle.
func stationText(s measure.Station) string {
	mash := plusMinus(s.Mash.Value, s.Mash.Std)
	if s.MashMeans != "" {
		mash += " (" + s.MashMeans + ")"
	}
	diamond := "not told by these points"
	if s.DiamondMM != nil {
		diamond = plusMinus(s.DiamondMM.Value, s.DiamondMM.Std)
	}
	return sentence(fmt.Sprintf("%s, x %s: mash %s, sidesway %s, sag %s, twist %s° ± %s°, diamond %s", s.Of, fixed(s.XMM, 0), mash,
		plusMinus(s.Sidesway.Value, s.Sidesway.Std), plusMinus(s.Sag.Value, s.Sag.Std), fixed(s.Twist.Value, 2), fixed(expanded(s.Twist.Std), 2), diamond))
}

// outOfTolerance counts the points by their tolerance, those out of it by name.
func outOfTolerance(h measure.Hypothesis) []string {
	var out []string
	certain, open, within := 0, 0, 0
	for _, p := range h.Points {
		switch p.Tolerance {
		case measure.NotMet:
			out = append(out, string(p.ID))
			if p.Firm {
				certain++
			}
		case measure.Met:
			within++
		default:
			open++
		}
	}
	if len(h.Points) == 0 {
		return nil
	}
	lead := fmt.Sprintf("Out of tolerance: %d of %s, %d of them certain", len(out), unit.Count(len(h.Points), "point"), certain)
	if len(out) > 0 {
		lead += " (" + list(out, 40) + ")"
	}
	return []string{fmt.Sprintf("%s; within it: %d; undecided: %d. Uncertainties are for k = 2.", lead, within, open)}
}

// shortPercent is a probability in six columns; certainty is never claimed by
// rounding.
func shortPercent(p float64) string {
	return strings.NewReplacer("over ", ">", "under ", "<", thin, "").Replace(percent(p))
}
