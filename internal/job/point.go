package job

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// A control point that a route keeps and that is out of its tolerance can only be
// left by the manufacturer's word. The question and the answer name the point in
// place of a finding, and the answer allows or forbids to leave it as it is.

// PointQuestion is the last question about a control point that was sent; false when
// there is none.
func (s *State) PointQuestion(id body.PointID) (Asked, bool) {
	var last Asked
	for _, q := range s.Questions {
		if q.Point == id && id != "" && (last.ID == "" || !q.On.Before(last.On)) {
			last = q
		}
	}
	return last, last.ID != ""
}

// PointAnswer is the last answer about a control point, whatever it is worth; false
// when there is none.
func (s *State) PointAnswer(id body.PointID) (Answer, bool) {
	var last Answer
	for _, a := range s.Answers {
		if a.Point == id && id != "" && (last.ID == "" || !a.On.Before(last.On)) {
			last = a
		}
	}
	return last, last.ID != ""
}

// PointStays says why the manufacturer's answer does not let a control point stay as
// it is on a day; empty when it does. It holds for the vehicle and the point it
// names, until it expires, by words that are kept under their hash, recorded by
// somebody who may; and for the point as it was measured when the question was sent:
// once it is measured again, the new figures are asked about.
func (s *State) PointStays(id body.PointID, sh *shop.Shop, today unit.Date) string {
	a, ok := s.PointAnswer(id)
	if !ok {
		return "the manufacturer has not answered"
	}
	q, asked := s.question(a.Question)
	switch {
	case a.VIN != s.Vehicle.VIN:
		return fmt.Sprintf("answer %s is for vehicle %q", a.ID, a.VIN)
	case !slices.Contains(a.Allow, body.Leave) || slices.Contains(a.Forbid, body.Leave):
		return fmt.Sprintf("answer %s does not allow to leave it", a.ID)
	case !asked || q.Point != id:
		return fmt.Sprintf("answer %s names no question about %s", a.ID, id)
	}
	if why := s.Lapses(a, sh, s.leftOn(a, sh, today), today, Mark{On: q.On, What: "the question was sent"}); why.Text != "" {
		return why.Text
	}
	for _, x := range s.Setups {
		if q.On.Before(x.On) && s.Reads(x.ID, id) {
			return fmt.Sprintf("it was measured again on %s (set-up %s), after question %s was sent on %s: ask about the new figures", x.On, x.ID, q.ID, q.On)
		}
	}
	return ""
}

// leftOn is the day by which an answer about a control point is judged: today, or, once it has
// expired, the day on which a route was chosen last while it held. To leave a point as it is
// takes no work: the choice is the act that the answer allowed.
func (s *State) leftOn(a Answer, sh *shop.Shop, today unit.Date) unit.Date {
	n := len(s.Choices)
	if today.Before(a.Expires) || n == 0 {
		return today
	}
	c := s.Choices[n-1]
	if !c.On.Before(a.On) && c.On.Before(a.Expires) && s.Stands(Act{By: c.By, On: c.On}, sh, today) {
		return c.On
	}
	return today
}

// MeasuredAfter says that a point was measured after a day.
func (s *State) MeasuredAfter(id body.PointID, day unit.Date) bool {
	for _, x := range s.Setups {
		if day.Before(x.On) && s.Reads(x.ID, id) {
			return true
		}
	}
	return false
}

func (s *State) question(id string) (Asked, bool) {
	for _, q := range s.Questions {
		if q.ID == id && id != "" {
			return q, true
		}
	}
	return Asked{}, false
}

// HashOf is the hash of a piece of evidence; empty when nobody recorded it.
func (s *State) HashOf(evidence string) string {
	for _, e := range s.Evidence {
		if e.ID == evidence && evidence != "" {
			return e.SHA256
		}
	}
	return ""
}

// Reads says that a set-up has a reading of a point.
func (s *State) Reads(setup string, id body.PointID) bool {
	for _, r := range s.Readings {
		if r.Setup == setup && (r.From == id || r.To == id) {
			return true
		}
	}
	return false
}

// aboutOne wants a question or an answer to be about one finding or one point.
func (c *checker) aboutOne(at string, f FindingID, p body.PointID) {
	if (f == "") == (p == "") {
		c.fault(at, "it is about one finding, or about one control point", "give 'finding' or 'point'")
	}
}

// pointAnswer checks what an answer about a control point may say.
func (c *checker) pointAnswer(at string, a Answer) {
	if a.Point == "" {
		return
	}
	for _, k := range append(append([]body.TreatmentKind(nil), a.Allow...), a.Forbid...) {
		if k != body.Leave {
			c.fault(at, fmt.Sprintf("a control point is left as it is or not; %q is a treatment of a finding", k), "write 'allow: [leave]' or 'forbid: [leave]'")
		}
	}
	if q, ok := c.s.question(a.Question); ok && q.Point != a.Point {
		c.fault(at+".point", fmt.Sprintf("question %s was about %s, the answer is entered for %s", q.ID, string(q.Finding)+string(q.Point), a.Point), "an answer holds for what was asked about: ask about this one")
	}
}

// pointsAgainst holds the control points of questions and answers against the body.
func (c *checker) pointsAgainst(b *body.Body) {
	known := names(b.Points, func(p body.Point) string { return string(p.ID) })
	for i, q := range c.s.Questions {
		c.ref(fmt.Sprintf("questions[%d].point", i), "control point", string(q.Point), known)
	}
	for i, a := range c.s.Answers {
		c.ref(fmt.Sprintf("answers[%d].point", i), "control point", string(a.Point), known)
	}
}
