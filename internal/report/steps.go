package report

import (
	"fmt"
	"html/template"
	"sort"
	"strings"

	"fettle/internal/body"
	"fettle/internal/job"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// stepPart is section 6: how it is done, and what is needed for it.
type stepPart struct {
	Released bool
	Steps    []stepCard
	Charts   []template.HTML
	Legend   []legendItem
	Span     string // how many steps, from when to when
	Work     string
	Proof    string
	Takeoff  []takeoffRow
	Critical string
	Cautions []cautionBox // each once
}

type stepCard struct {
	ID, Name, Text, Phase, For, Skill, Minutes, Sum string
	Place, Person, When, Hold, Wait, Together       string
	Cite, Because, After, Equipment, Slack          string
	NewPhase                                        bool
	Cautions                                        []cautionBox
	Records                                         []recordRow
	Notes                                           []string
	Layout                                          layoutBox
	Station                                         string // tool, side and lift
	Titles                                          string // of the cautions
	Brief                                           string // for which findings; many are counted
}

// recordRow is one thing to be written down: what, in which unit, what it has to keep, under
// which identity the job has it (empty for what is written down in words), and what is on record
// of it.
type recordRow struct {
	What, Unit, Limits, Key string
	Recorded                []string
}

// layoutBox is a layout of rivets as it was counted and checked.
type layoutBox struct {
	Text   string
	Checks []string
}

// cautionBox is a caution with its usual warning and the steps it is at.
type cautionBox struct{ Title, Text, At string }

type takeoffRow struct {
	ID, Name, Kind, Net, Gross, Order string
	Lines                             []string
}

func buildSteps(in Input, p pick) stepPart {
	pl := p.Route.Plan
	out := stepPart{Released: permitted(in) && p.Route.Feasible && p.Route.Open == 0,
		Span: unit.Count(len(pl.Steps), "step") + ", " + Span(pl) + ", " + daysWords(pl), Work: minutes(pl.WorkMin), Critical: list(pl.Critical, 40)}
	out.Proof = fmt.Sprintf("From the first to the last step %s pass. No plan can finish in less than %s.", elapsed(pl.SpanMin), elapsed(pl.BoundMin))
	if pl.Finish.IsZero() && len(pl.Steps) > 0 {
		out.Proof = "Not every step has a date, so nobody can say how long it takes."
	} else if pl.Proven {
		out.Proof = fmt.Sprintf("From the first to the last step %s pass; it is proven that no shorter plan exists with these people and bays.", elapsed(pl.SpanMin))
	}
	phase := plan.Phase("")
	figures, _ := figuresAt(in.Job, pl)
	for _, s := range pl.Steps {
		card := stepCardOf(in, s)
		for i := range card.Records {
			card.Records[i].Recorded = figures[[2]string{s.ID, card.Records[i].Key}]
		}
		card.NewPhase = s.Phase != phase
		phase = s.Phase
		out.Steps = append(out.Steps, card)
	}
	out.Charts, out.Cautions = dayCharts(in, pl), allCautions(pl)
	if len(out.Charts) > 0 {
		out.Legend = chartLegend()
	}
	for _, t := range pl.Takeoff {
		out.Takeoff = append(out.Takeoff, takeoffOf(t))
	}
	return out
}

func stepCardOf(in Input, s plan.Step) stepCard {
	c := stepCard{ID: s.ID, Name: s.Name, Text: sentence(s.Text), Phase: phaseName(s.Phase), For: list(findingNames(s.For), 12), Brief: briefly(s.For),
		Skill: skillName(in, s.Skill), Minutes: minutes(s.Minutes), Sum: s.Sum, Person: s.Person,
		Place: or(bayName(in, s), standsWords(in, s)), Hold: sentence(s.Hold), Together: s.Together, Cite: s.Cite, Because: sentence(s.Because),
		After: list(s.After, 12), Equipment: list(s.Equipment, 12), Records: recordsOf(s), Notes: s.Notes, Layout: layoutOf(s.Laid)}
	if !s.From.IsZero() {
		c.When = moment(s.From) + " – " + moment(s.To)
		if s.From.YearDay() == s.To.YearDay() && s.From.Year() == s.To.Year() {
			c.When = moment(s.From) + "–" + s.To.Format("15:04")
		}
	}
	if s.WaitMin > 0 {
		c.Wait = fmt.Sprintf("Then wait: %s, %s.", or(s.WaitName, "wait"), elapsed(s.WaitMin))
	}
	for _, x := range []struct{ name, word string }{{"tool", s.Tool}, {"side", s.Side}, {"lift", s.Lift}} {
		if x.word != "" {
			c.Station += ", " + x.name + " " + x.word
		}
	}
	c.Station = strings.TrimPrefix(c.Station, ", ")
	c.Slack = "decides the finish"
	if s.SlackMin > 0 {
		c.Slack = "may slip by " + elapsed(s.SlackMin)
	}
	var titles []string
	for _, k := range orderedCautions(s.Cautions) {
		title, text := cautionText(k)
		titles = append(titles, title)
		c.Cautions = append(c.Cautions, cautionBox{title, text, s.ID})
	}
	c.Titles = list(titles, 9)
	return c
}

// briefly names up to three findings and counts more.
func briefly(ids []job.FindingID) string {
	if len(ids) > 3 {
		return unit.Count(len(ids), "finding")
	}
	return list(findingNames(ids), 3)
}

// recordsOf is everything that is written down at a step.
func recordsOf(s plan.Step) []recordRow {
	var out []recordRow
	for _, r := range s.Records {
		out = append(out, recordRow{What: r})
	}
	for _, r := range s.Readings {
		row := recordRow{What: r.Name, Limits: limitsOf(r), Key: r.ID}
		if r.Unit != body.TextUnit {
			row.Unit = unitSign(r.Unit)
		}
		out = append(out, row)
	}
	return out
}

func layoutOf(l *plan.Laid) layoutBox {
	if l == nil {
		return layoutBox{}
	}
	rows := unit.Count(l.Rows, "row")
	if l.Rows > 1 {
		rows += " of " + fmt.Sprint(l.PerRow)
	}
	text := fmt.Sprintf("%s, %s: %s apart along %s, the first %s from each end. %s.",
		unit.Count(l.Count, "rivet"), rows, mm(l.PitchMM), mm(l.LengthMM), mm(l.EndMM), l.Name)
	if l.DrillMM > 0 {
		text += fmt.Sprintf(" Drill %s.", mm(l.DrillMM))
	}
	if l.RivetMM > 0 {
		text += fmt.Sprintf(" Rivet %s long.", mm(l.RivetMM))
	}
	return layoutBox{text, l.Checks}
}

// orderedCautions is each caution once, in the order of the list of all.
func orderedCautions(cs []body.Caution) []body.Caution {
	rank := map[body.Caution]int{}
	for i, c := range body.Cautions() {
		rank[c] = i
	}
	seen := map[body.Caution]bool{}
	var out []body.Caution
	for _, c := range cs {
		if !seen[c] {
			seen[c] = true
			out = append(out, c)
		}
	}
	sort.SliceStable(out, func(a, b int) bool {
		ra, ka := rank[out[a]]
		rb, kb := rank[out[b]]
		if ka != kb {
			return ka
		}
		return ra < rb
	})
	return out
}

// allCautions is every caution of the work once, with the steps it is at.
func allCautions(pl plan.Plan) []cautionBox {
	var all []body.Caution
	at := map[body.Caution][]string{}
	for _, s := range pl.Steps {
		for _, k := range orderedCautions(s.Cautions) {
			all = append(all, k)
			at[k] = append(at[k], s.ID)
		}
	}
	var out []cautionBox
	for _, k := range orderedCautions(all) {
		title, text := cautionText(k)
		out = append(out, cautionBox{title, text, list(at[k], len(at[k]))})
	}
	return out
}

func skillName(in Input, id body.SkillID) string {
	for _, r := range in.Shop.Rates {
		if r.Skill == id {
			return r.Name
		}
	}
	return string(id)
}

func bayName(in Input, s plan.Step) string {
	for _, b := range in.Shop.Bays {
		if b.ID == s.BayID {
			return b.Name
		}
	}
	return or(s.BayID, string(s.Bay))
}

// standsWords is where the vehicle stands during a step that needs no bay.
func standsWords(in Input, s plan.Step) string {
	switch s.At {
	case "":
		return ""
	case plan.Yard:
		return "vehicle in the yard"
	}
	return "vehicle in " + bayName(in, plan.Step{BayID: s.At})
}

func takeoffOf(t plan.Takeoff) takeoffRow {
	row := takeoffRow{ID: string(t.Material), Name: t.Name, Kind: string(t.Kind), Net: amount(t.Net, t.Unit), Gross: amount(t.Gross, t.Unit),
		Order: unit.Count(t.Packs, "pack") + " of " + amount(t.Pack, t.Unit)}
	for _, l := range t.Lines {
		row.Lines = append(row.Lines, l.Step+": "+formulaText(l, t.Unit))
	}
	return row
}

// formulaText is how an amount came about, with the amount at its end once.
func formulaText(l plan.TakeoffLine, u string) string {
	sum := amount(l.Amount, u)
	if strings.Contains(l.Formula, "=") {
		return l.Formula
	}
	if said := plainSpaces(sum); l.Formula == said || l.Formula+"s" == said { // 8 piece: 8 pieces
		return sum
	}
	return l.Formula + " = " + sum
}

// holdPoints is the steps at which work stops until somebody has inspected.
func holdPoints(p plan.Plan) []plan.Step {
	var out []plan.Step
	for _, s := range p.Steps {
		if s.Hold != "" {
			out = append(out, s)
		}
	}
	return out
}
