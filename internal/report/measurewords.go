package report

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"fettle/internal/body"
	"fettle/internal/measure"
	"fettle/internal/unit"
)

// measured is a measurement with what is needed to put it in plain words: the
// same words in the document and on a terminal.
type measured struct {
	points   []body.Point
	sections []body.Section
	axes     axisWords
	r        measure.Result
}

func measuredOf(in Input) measured {
	return measured{in.Body.Points, in.Body.Sections, wordsOf(in.Body.Axes), in.Measure}
}

// where puts a set of points in words by the sections of the body: "all of the
// rear structure", "most of the front structure (8 of 12 points)", and the
// points by name where they are fewer.
func (m measured) where(h measure.Hypothesis, ids []body.PointID) string {
	total, mine := map[body.SectionID]int{}, map[body.SectionID][]string{}
	var order []body.SectionID
	for _, p := range m.points {
		if _, ok := h.Point(p.ID); !ok {
			continue
		}
		if total[p.Section]++; total[p.Section] == 1 {
			order = append(order, p.Section)
		}
		if slices.Contains(ids, p.ID) {
			mine[p.Section] = append(mine[p.Section], string(p.ID))
		}
	}
	var whole, single []string
	for _, s := range order {
		n, of := len(mine[s]), total[s]
		switch name := m.sectionName(s); {
		case s == "" || 2*n <= of:
			single = append(single, mine[s]...)
		case n == of:
			whole = append(whole, fmt.Sprintf("all of the %s (%s)", name, unit.Count(of, "point")))
		default:
			whole = append(whole, fmt.Sprintf("most of the %s (%d of %d points)", name, n, of))
		}
	}
	return list(append(whole, single...), 40)
}

// sectionName is the name of a section within a sentence.
func (m measured) sectionName(id body.SectionID) string {
	for _, s := range m.sections {
		if s.ID == id && s.Name != "" {
			r := []rune(s.Name)
			if len(r) > 1 && unicode.IsLower(r[1]) {
				r[0] = unicode.ToLower(r[0])
			}
			return string(r)
		}
	}
	return string(id) + " section"
}

// standing is how many hypotheses nothing speaks against.
func (m measured) standing() int {
	n := 0
	for _, h := range m.r.Hypotheses {
		if h.Survives {
			n++
		}
	}
	return n
}

// nothingFirm: a reading is suspected, and nothing certain can be said of any point.
func (m measured) nothingFirm() bool {
	c := m.certainty()
	return len(m.r.Suspects) > 0 && len(c.moved) == 0 && len(c.still) == 0
}

// claim is one reading of the evidence in a sentence.
func (m measured) claim(i int) string {
	h := m.r.Hypotheses[i]
	moved := "nothing else moved"
	if len(h.Moved) > 0 {
		moved = m.where(h, h.Moved) + " moved"
	}
	lead, sep, tail := "If ", ", ", ""
	switch {
	case !h.Survives:
		lead = "Weighed and set aside: if "
	case m.standing() == 1 && m.nothingFirm():
		lead, sep = "If every reading is as it was meant: ", "; "
	case m.standing() == 1:
		lead, sep = "The readings allow one answer: ", "; "
	case i == 0:
		tail = " The evidence puts this answer first."
	}
	return lead + m.where(h, h.Steady) + " held" + sep + moved + "." + tail
}

// disagreeing is the nominated reference points that the first reading of the
// evidence went on without, with what shows that they moved.
func (m measured) disagreeing() []string {
	h, ok := m.r.Best()
	if !ok || h.Datum != measure.ByReference {
		return nil
	}
	var agree []string
	for _, p := range m.points {
		if p.Reference && slices.Contains(h.Steady, p.ID) {
			agree = append(agree, string(p.ID))
		}
	}
	var out []string
	for _, p := range m.points {
		r, ok := h.Point(p.ID)
		if !p.Reference || !ok || r.Steady {
			continue
		}
		t2, above := unit.Pair(r.T2, m.r.Test.MovedAboveT2, 1)
		out = append(out, fmt.Sprintf("Reference point %s disagrees with %s; went on without it. It stands %s off, %s (T² = %s, expected below %s if it had not moved; seen in %s); its tolerance is %s.",
			p.ID, list(agree, 20), mm(r.ShiftMM.Norm()), or(m.axes.mainly(r.ShiftMM), "in no clear direction"), t2, above, list(r.Readings, 4), r.Tolerance))
	}
	return out
}

// certainty sorts the points by what holds under every reading of the evidence
// that survives.
type certainty struct{ moved, still, open []string }

func (m measured) certainty() certainty {
	var c certainty
	h, _ := m.r.Best()
	for _, p := range h.Points {
		switch stateOf(p) {
		case hasMoved:
			c.moved = append(c.moved, string(p.ID))
		case stands:
			c.still = append(c.still, string(p.ID)+" ("+missedFrom(p)+")")
		default:
			c.open = append(c.open, string(p.ID))
		}
	}
	return c
}

// missedFrom is the size up to which a move of a point could have been missed.
func missedFrom(p measure.PointResult) string {
	if !(p.Detectable > 0) {
		return "any size"
	}
	return mm(p.Detectable)
}

// lines is the certainty in sentences.
func (c certainty) lines() []string {
	var out []string
	put := func(lead string, ids []string) {
		if len(ids) > 0 {
			out = append(out, lead+list(ids, 60)+".")
		}
	}
	put("Certain, moved: ", c.moved)
	put("Certain, no move larger than the size beside each would have been missed: ", c.still)
	put("Only under an assumption, or too near to call: ", c.open)
	return out
}

// next is what to measure next: which point, how often, how well.
func (m measured) next() []string {
	var out []string
	h, ok := m.r.Best()
	var missing []string
	for _, p := range m.points {
		if _, there := h.Point(p.ID); !there {
			missing = append(missing, string(p.ID))
		}
	}
	if len(missing) > 0 {
		out = append(out, "Measure "+list(missing, 40)+".")
	}
	if ok && m.standing() > 1 {
		out = append(out, "No reading of these points tells which of them held. Record where the vehicle was hit, or measure the reference points that the manufacturer nominates.")
	}
	out = append(out, needed(h.Points)...)
	for _, s := range m.r.Suspects {
		out = append(out, "Measure again: "+sentence(s.Text))
	}
	for _, o := range m.r.Holes {
		if !o.Used {
			out = append(out, fmt.Sprintf("Take the rim of %s again in set-up %s, six points all round.", o.ID, o.Setup))
		}
	}
	return out
}

// suspects is the readings that may be wrong, each with what would explain it
// and how much better the rest then fits.
func (m measured) suspects() []string {
	var out []string
	for _, s := range m.r.Suspects {
		text := sentence(s.Text)
		if s.Chi2Now > 0 {
			text += fmt.Sprintf(" Weighted squares now %s, %s if that were so.", fixed(s.Chi2Now, 1), fixed(s.Chi2If, 1))
		}
		out = append(out, text)
	}
	return out
}

// heat is what temperature did to the readings, a sentence for each way.
func (m measured) heat() []string {
	var out []string
	who := map[string][]string{}
	for _, t := range m.r.Thermal {
		what := t.Text
		if t.Corrected != 0 || t.StdPPM != 0 {
			what = fmt.Sprintf("%s: lengths corrected by %s ± %s parts per million (k = 2)", t.Text, signed(t.Corrected), fixed(expanded(t.StdPPM), 0))
		}
		if who[what] == nil {
			out = append(out, what)
		}
		who[what] = append(who[what], t.Setup)
	}
	for i, what := range out {
		out[i] = "Temperature in " + list(who[what], 12) + ": " + sentence(strings.TrimSpace(what))
	}
	return out
}

// holes is the centres found from rim points.
func (m measured) holes() []string {
	var out []string
	for _, h := range m.r.Holes {
		text := fmt.Sprintf("%s in %s: centre from %s over %s°, radius %s ± %s mm", h.ID, h.Setup, unit.Count(h.RimPoints, "rim point"), fixed(h.ArcDeg, 0), fixed(h.RadiusMM, 2), fixed(expanded(h.RadiusStd), 2))
		if h.DOF > 0 {
			text += ", a circle as good as stated misfits more in " + percent(h.P) + " of cases"
		}
		if !h.Used {
			text += "; not used"
		}
		out = append(out, sentence(text))
	}
	return out
}
