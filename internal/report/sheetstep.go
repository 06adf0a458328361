package report

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// sheetStep is one step on a day sheet.
type sheetStep struct {
	ID, Name                                    string
	Stop                                        []string // why it waits by itself; empty: nothing of its own
	Skill, Long, When, Station, For, Text, Cite string
	Order, Wait, Hold, Together, Rivets         string
	Second                                      bool     // the hold point is passed by somebody else
	Joints                                      []string // what is opened or closed, with its fasteners
	Arrive                                      []string // deliveries it waits for
	Cautions                                    []cautionBox
	Notes                                       []string
	Materials                                   []sheetMaterial
	Records                                     []recordRow
	Keyed                                       bool   // some records are figures of the job
	Goes                                        string // that it goes on on another day
	Ends                                        bool   // it ends on this sheet, and is ticked here
	Drawing                                     string // identity of the drawing; empty: none
	DrawingOf                                   string
	Box                                         string // viewBox of the drawing
}

// sheetMaterial is a material of a step; Batch: its batch is not asked for among
// the records, so there is a blank for it here.
type sheetMaterial struct {
	Name, Amount string
	Batch        bool
}

// part is the step on the sheet of the n-th of the days that it is worked on. Before the
// last it has nothing to be written down or ticked; after the first, nothing to wait for.
func (c sheetStep) part(s plan.Step, n, days int) sheetStep {
	if n > 0 {
		c.Goes, c.Arrive = "Goes on from "+moment(s.From)+".", nil
	}
	if n < days-1 {
		c.Goes = strings.TrimSpace(c.Goes + " Ends " + moment(s.To) + ".")
		c.Ends, c.Records, c.Keyed, c.Hold, c.Wait, c.Materials = false, nil, false, "", "", nil
	}
	return c
}

func sheetStepOf(in Input, r compare.Route, i int) sheetStep {
	s := r.Plan.Steps[i]
	base := stepCardOf(in, s)
	c := sheetStep{ID: s.ID, Name: s.Name, Stop: stepStop(s, r), Skill: base.Skill, Long: base.Minutes, When: clockWords(s), Station: stationWords(base.Place, s, base.Equipment), Ends: true,
		For: forWords(in, s), Text: base.Text, Cite: s.Cite, Hold: base.Hold, Second: s.Second, Notes: sentences(s.Notes), Records: base.Records, Keyed: len(s.Readings) > 0,
		Rivets: base.Layout.Text, Joints: jointWords(in.Body, r.Plan, s), Order: orderWords(r.Plan, i), Together: togetherWords(r.Plan, i)}
	for _, x := range s.Awaits {
		if x.Kind == plan.Delivery {
			c.Arrive = append(c.Arrive, x.Name)
		}
	}
	for _, k := range orderedCautions(s.Cautions) {
		title, _ := cautionText(k)
		c.Cautions = append(c.Cautions, cautionBox{title, cautionShort(k), ""})
	}
	if s.WaitMin > 0 {
		c.Wait = fmt.Sprintf("%s (%s)", elapsed(s.WaitMin), or(s.WaitName, "wait"))
	}
	for _, t := range r.Plan.Takeoff {
		if used, sum := usedAt(t, s.ID); used {
			c.Materials = append(c.Materials, sheetMaterial{t.Name, amount(sum, t.Unit), !batchAsked(s, t.Material)})
		}
	}
	return c
}

// usedAt is how much of a material a step uses, all its lines together.
func usedAt(t plan.Takeoff, step string) (used bool, sum float64) {
	for _, l := range t.Lines {
		if l.Step == step {
			used, sum = true, sum+l.Amount
		}
	}
	return used, sum
}

// stepStop is what a step waits for itself.
func stepStop(s plan.Step, r compare.Route) []string {
	var own []string
	for _, id := range s.For {
		if slices.Contains(r.Ask, string(id)) {
			own = append(own, fmt.Sprintf("Waits for the manufacturer's answer on %s.", id))
		}
		if slices.Contains(r.Measure, string(id)) {
			own = append(own, fmt.Sprintf("%s has to be measured or inspected first.", id))
		}
	}
	for _, x := range s.Awaits {
		if x.Kind == plan.Answer {
			own = append(own, sentence("waits for "+x.Name))
		}
	}
	return own
}

// batchAsked says that the batch of a material is among a step's records.
func batchAsked(s plan.Step, m body.MaterialID) bool {
	return slices.ContainsFunc(s.Readings, func(r body.Reading) bool { return r.ID == body.BatchReading(m) })
}

// clockWords is from when to when on its own sheet, with the day of its end where that is
// another one; that it goes on is also in
// the words about going on.
func clockWords(s plan.Step) string {
	if s.From.IsZero() {
		return "no time yet"
	}
	if to := s.To.Format("15:04"); unit.DateOf(s.From) == unit.DateOf(s.To) {
		return s.From.Format("15:04") + "–" + to
	}
	return s.From.Format("15:04") + "– " + s.To.Format("Mon\u00a015:04")
}

// stationWords is where a step is done and with what.
func stationWords(place string, s plan.Step, equipment string) string {
	var out []string
	for _, w := range []string{place, prefixed("lift ", s.Lift), s.Tool, equipment, prefixed("side: ", s.Side)} {
		if w != "" {
			out = append(out, w)
		}
	}
	return strings.Join(out, " · ")
}

func prefixed(word, s string) string {
	if s == "" {
		return ""
	}
	return word + s
}

// jointWords is what is opened or closed at a step: how it is joined, how many fasteners,
// and how tight.
func jointWords(b *body.Body, p plan.Plan, s plan.Step) []string {
	ids, closing := s.Closes, true
	if strings.HasPrefix(s.Ref, "off ") {
		closing = false
		for _, r := range p.Removal {
			if r.Part == s.Part {
				ids = r.Joints
			}
		}
	}
	var out []string
	for _, id := range ids {
		i := slices.IndexFunc(b.Joints, func(j body.Joint) bool { return j.ID == id })
		if i < 0 {
			continue
		}
		j := b.Joints[i]
		text := j.Name + ": "
		if j.Count > 0 {
			text += fmt.Sprintf("%d × ", j.Count)
		}
		text += list(texts(j.Methods), len(j.Methods))
		if closing && j.Torque > 0 {
			text += fmt.Sprintf(", %s", amount(float64(j.Torque), "Nm"))
		}
		out = append(out, text)
	}
	return out
}

// forWords is the findings a step is for with where they lie, or how many.
func forWords(in Input, s plan.Step) string {
	if len(s.For) > 3 {
		return list(findingNames(s.For), 12)
	}
	var out []string
	for _, id := range s.For {
		f := findingByID(in.Inspect, id)
		out = append(out, fmt.Sprintf("%s %s, %s", id, or(string(f.Kind), "finding"), zonesText(in.Body, f)))
	}
	return strings.Join(out, "; ")
}

// orderWords is which steps have to be done before a step, and which wait for it.
func orderWords(p plan.Plan, i int) string {
	var out, wait []string
	for _, s := range p.Steps {
		if slices.Contains(s.After, p.Steps[i].ID) {
			wait = append(wait, s.ID)
		}
	}
	if before := p.Steps[i].After; len(before) > 0 {
		out = append(out, "Only after "+list(before, len(before)))
	}
	if len(wait) > 0 {
		out = append(out, "before "+list(wait, 8))
	}
	return sentence(strings.Join(out, "; "))
}

// togetherWords is the other steps that have to be done in one go with it.
func togetherWords(p plan.Plan, i int) string {
	var out []string
	for k, s := range p.Steps {
		if k != i && s.Together != "" && s.Together == p.Steps[i].Together {
			out = append(out, s.ID)
		}
	}
	if len(out) == 0 {
		return ""
	}
	text := "In one go with " + list(out, 6)
	if w := p.Steps[i].Window; w > 0 {
		text += ", all within " + elapsed(w)
	}
	return text + "."
}
