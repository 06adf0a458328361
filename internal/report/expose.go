package report

import (
	"fmt"
	"html/template"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/cost"
	"fettle/internal/inspect"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// Exposing is the opening to inspect that the sheet is made of.
type Exposing struct {
	plan.Exposed
	Bill  cost.Bill
	Until unit.Minor // labour and sublet work until the last area is inspected
	Least bool       // no cheaper way exists, by the prices known
	Stop  []string   // dangers that are not made safe
}

// exposePage is what the template of the sheet is filled with.
type exposePage struct {
	CSS      template.CSS
	Head     head
	VIN      string
	Stop     []string
	Hazards  []hazardRow
	Cautions []cautionBox
	First    []exposeStep
	Stages   []exposeStage
	Hidden   []exposeArea
	Lost     []string
	Away     string
	Money    string
	Missing  []string // of which areas the data do not tell
}

// exposeStage is a stage with what comes off and what is inspected.
type exposeStage struct {
	N, Of       int
	Head, Money string
	Off         string // names of what comes off
	Steps       []exposeStep
	Looks       []exposeLook
}

type exposeStep struct {
	ID, Name, Long, Skill, Station, Hold string
	Joints                               []string
	Lost, Second                         bool // Second: the hold point is passed by somebody else
	Records                              []recordRow
	Cautions                             []cautionBox
}

// exposeLook is the areas of a stage that are inspected by one method under the same
// conditions.
type exposeLook struct {
	Method  body.InspectionMethod
	Keep    []inspect.Condition
	Trained bool
	Areas   []exposeArea
}

type exposeArea struct{ ID, Name, With, So, Because, Why string }

// ExposeSheet is the sheet to open a vehicle up by and to fill in at it: what comes off stage by
// stage, and for every area blanks for what was seen, in which light, from how far and by whom.
// Nothing on it is ticked.
func ExposeSheet(in Input, x Exposing) ([]byte, error) {
	if err := complete(in); err != nil {
		return nil, err
	}
	css, err := styleOf("sheets.css")
	if err != nil {
		return nil, err
	}
	more, err := pages.ReadFile("page/expose.css")
	if err != nil {
		return nil, err
	}
	doc := exposePage{CSS: css + template.CSS(more), Head: buildHead(in), VIN: in.Job.Vehicle.VIN, Stop: slices.Clone(x.Stop), Hazards: hazardRows(in), Cautions: allCautions(x.Plan), Money: exposeMoney(x)}
	var away []string
	for _, id := range x.Away {
		p, _ := in.Body.Part(id)
		away = append(away, or(p.Name, string(id)))
	}
	if away != nil {
		doc.Away = list(away, len(away))
	}
	doc.Head.Title = "Opening up to inspect " + in.Job.ID
	for _, n := range in.Notes {
		text := strings.TrimPrefix(n.Where+": "+n.Text, ": ")
		switch {
		case n.Blocks():
			doc.Stop = append(doc.Stop, sentence(text))
		case inspect.AboutAreas(n):
			doc.Missing = append(doc.Missing, sentence(text))
		}
	}
	staged := map[string]bool{}
	for k, s := range x.Stages {
		doc.Stages = append(doc.Stages, exposeStageOf(in, x, k))
		for _, id := range s.Steps {
			staged[id] = true
		}
	}
	for _, s := range x.Plan.Steps {
		if s.Phase == plan.PhasePrepare && !staged[s.ID] {
			doc.First = append(doc.First, exposeStepOf(in, x.Plan, s))
		}
	}
	for _, a := range x.Hidden {
		doc.Hidden = append(doc.Hidden, exposeAreaOf(a))
	}
	for _, l := range x.Plan.Lost {
		doc.Lost = append(doc.Lost, fmt.Sprintf("%s (%s): %s", l.Name, l.Part, l.Because))
	}
	return made("expose.html", doc)
}

// exposeMoney is what the opening costs in a sentence, with what is known of that.
func exposeMoney(x Exposing) string {
	if len(x.Stages) == 0 {
		return ""
	}
	text := fmt.Sprintf("Opened, inspected and closed again: %s with tax; until the last area is seen %s of work, without tax. ", money(x.Bill.Total, x.Bill.Currency), money(x.Until, x.Bill.Currency))
	switch {
	case !x.Bill.Complete:
		text += "Prices are missing: it costs more than that."
	case x.Least:
		text += "No cheaper way to these areas exists."
	default:
		text += "A cheaper way may exist."
	}
	return text
}

func exposeStageOf(in Input, x Exposing, k int) exposeStage {
	s := x.Stages[k]
	out := exposeStage{N: k + 1, Of: len(x.Stages), Head: "Nothing has to come off, by the body's data", Money: ""}
	if len(s.Off) > 0 {
		out.Head = "Take off " + unit.Count(len(s.Off), "part")
		var names []string
		for _, r := range x.Plan.Removal {
			if slices.Contains(s.Off, r.Part) {
				names = append(names, r.Name)
			}
		}
		out.Off = list(names, len(names))
		out.Money = fmt.Sprintf("%s until off · %s with closing again", minutes(s.Minutes), money(s.Cost, x.Bill.Currency))
	}
	for _, st := range x.Plan.Steps {
		if slices.Contains(s.Steps, st.ID) {
			c := exposeStepOf(in, x.Plan, st)
			c.Lost = strings.HasPrefix(st.Ref, "off ") && slices.Contains(s.Lost, st.Part)
			out.Steps = append(out.Steps, c)
		}
	}
	for _, a := range s.Areas {
		same := func(l exposeLook) bool {
			return l.Method == a.Method && l.Trained == a.Trained && slices.Equal(l.Keep, a.Keep)
		}
		i := slices.IndexFunc(out.Looks, same)
		if i < 0 {
			i = len(out.Looks)
			out.Looks = append(out.Looks, exposeLook{Method: a.Method, Keep: a.Keep, Trained: a.Trained})
		}
		out.Looks[i].Areas = append(out.Looks[i].Areas, exposeAreaOf(a))
	}
	return out
}

func exposeStepOf(in Input, p plan.Plan, s plan.Step) exposeStep {
	base := stepCardOf(in, s)
	out := exposeStep{ID: s.ID, Name: s.Name, Long: base.Minutes, Skill: base.Skill, Station: stationWords(base.Place, s, base.Equipment), Hold: base.Hold, Second: s.Second, Records: base.Records, Joints: jointWords(in.Body, p, s)}
	for _, k := range orderedCautions(s.Cautions) {
		title, _ := cautionText(k)
		out.Cautions = append(out.Cautions, cautionBox{title, cautionShort(k), ""})
	}
	return out
}

func exposeAreaOf(a plan.ToInspect) exposeArea {
	var with []string
	for _, name := range a.With { // "Left rail, 2 bores" is "2 bores" in the row of the rail
		with = append(with, strings.TrimPrefix(name, a.Name+", "))
	}
	return exposeArea{ID: a.Area, Name: a.Name, With: list(with, len(with)), So: sentence(a.So), Because: sentence(a.Because), Why: sentence(a.Why + "; " + a.Hint)}
}
