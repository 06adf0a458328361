package report

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/diag"
	"fettle/internal/plan"
	"fettle/internal/unit"
)

// cardsPage is what the template of the step cards is filled with.
type cardsPage struct {
	CSS      template.CSS
	Defs     template.HTML
	Head     head
	Job      jobCard
	Ready    []readyCard
	Cards    []bayCard
	Drawings []cardDrawing
}

// jobCard is the first card: what vehicle, which route, may it start, and the
// cautions of the whole job in full.
type jobCard struct {
	Job, Shop, VIN, Body, Route, Status, Dates, Procedures string
	Stop                                                   []string
	Hazards                                                []hazardRow
	Cautions                                               []cautionBox
	Holds                                                  string
	More                                                   int  // reasons not to start beyond those listed
	Apart                                                  bool // the cautions have a card of their own
}

// readyCard is what has to be there before the work begins.
type readyCard struct {
	Rows []readyRow
	N    string // which of how many; empty when there is one
}

type readyRow struct{ Name, Amount, For string }

// bayCard is one step for the bay.
type bayCard struct {
	ID, Of, Part, Name, Phase                    string
	Stop                                         []string // why it must not be started; empty: it may
	Who, Long, When, Where, Use, For, Text, Cite string
	Before, Next, Wait, Hold, Together, Rivets   string
	Arrive                                       []string // deliveries it waits for
	Cautions                                     []cautionBox
	Notes                                        []string
	Materials                                    []cardMaterial
	Records                                      []recordRow
	Keyed                                        string // where the records go that are figures of the job; empty: none are
	Drawing                                      string // identity of the drawing; empty: none
	DrawingOf                                    string
	Box                                          string // viewBox of the drawing
	Tall                                         bool   // takes a whole sheet
	Many                                         bool   // more than one step has to be done before
}

// cardMaterial is a material of a step; Batch: its batch is not asked for among
// the records, so there is a blank for it here.
type cardMaterial struct {
	Name, Amount string
	Batch        bool
}

// Cards makes the step cards of a route as one self-contained page: one card a
// step, two on a sheet of A4 or Letter, in black and white, with blanks to fill
// in by hand. Nothing on them is ticked. While the route may not be started
// every card says so.
func Cards(in Input, route compare.Route) ([]byte, error) {
	if err := complete(in); err != nil {
		return nil, err
	}
	if len(route.Plan.Steps) == 0 {
		return nil, &diag.Error{Kind: diag.Invalid, Op: "step cards", Subject: "route " + route.ID, Msg: "it has no steps", Hint: "name a route with work"}
	}
	css, err := styleOf("cards.css")
	if err != nil {
		return nil, err
	}
	doc := cardsPage{CSS: css, Defs: template.HTML(hatchDefs), Head: buildHead(in)}
	doc.Head.Title = "Step cards " + in.Job.ID
	stop := stopReasons(in, route)
	doc.Job, doc.Ready = jobCardOf(in, route, stop), readyCards(route.Plan)
	draw := cardDrawings{in: in.withAlbum()}
	for i, s := range route.Plan.Steps {
		c := bayCardOf(in, route, i, stop)
		if err := draw.add(&c, s); err != nil {
			return nil, err
		}
		doc.Cards = append(doc.Cards, fitted(c)...)
	}
	doc.Drawings = draw.all
	return made("cards.html", doc)
}

// stopReasons is why no step of a route may be started; empty only when the
// route may be worked on.
func stopReasons(in Input, r compare.Route) []string {
	if permitted(in) && r.Feasible && r.Open == 0 && r.Excluded == "" {
		return nil
	}
	var out []string
	for _, b := range blocks(in) {
		out = append(out, strings.TrimPrefix(b.Where+": "+b.Text, ": "))
	}
	if r.Excluded != "" {
		out = append(out, "This route is excluded: "+sentence(r.Excluded))
	}
	if r.Open > 0 {
		out = append(out, sentence("this route waits: "+openText(r)))
	}
	if len(out) == 0 {
		out = append(out, "Not every finding has a treatment that is allowed on this route.")
	}
	return out
}

// stepStop is why one step must not be started: first what it waits for itself,
// then what stops the whole route.
func stepStop(s plan.Step, r compare.Route, stop []string) []string {
	var own []string
	for _, id := range s.For {
		if slices.Contains(r.Ask, string(id)) {
			own = append(own, fmt.Sprintf("Waits for the manufacturer's answer on %s.", id))
		}
		if slices.Contains(r.Measure, string(id)) {
			own = append(own, fmt.Sprintf("%s has to be measured or inspected first.", id))
		}
	}
	for _, x := range s.Releases {
		if x.Kind == "answer" {
			own = append(own, sentence("waits for "+x.Name))
		}
	}
	if len(own) > 0 {
		return own
	}
	if len(stop) > 1 {
		return []string{stop[0], "And " + unit.Count(len(stop)-1, "other reason") + ": see the first card."}
	}
	return stop
}

func bayCardOf(in Input, r compare.Route, i int, stop []string) bayCard {
	s := r.Plan.Steps[i]
	base := stepCardOf(in, s)
	c := bayCard{ID: s.ID, Of: fmt.Sprintf("%d of %d", i+1, len(r.Plan.Steps)), Name: s.Name, Phase: base.Phase, Stop: stepStop(s, r, stop),
		Who: strings.Trim(s.Person+", "+base.Skill, ", "), Long: base.Minutes, When: base.When, Where: placeWords(base.Place, s), Use: useWords(s, base.Equipment),
		For: forWords(in, s), Text: base.Text, Cite: citeWords(in, s), Hold: base.Hold, Notes: sentences(s.Notes), Records: base.Records, Rivets: base.Layout.Text}
	if len(s.After) > 0 {
		c.Before, c.Many = list(s.After, len(s.After)), len(s.After) > 1
	}
	for _, x := range s.Releases {
		if x.Kind == "delivery" {
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
	if len(s.Readings) > 0 {
		c.Keyed = "Into the job: one line of “figures” for each word in grey, with the name of this step, device and calibration."
	}
	c.Next, c.Together = nextWords(r.Plan, i), togetherWords(r.Plan, i)
	for _, t := range r.Plan.Takeoff {
		for _, l := range t.Lines {
			if l.Step == s.ID {
				c.Materials = append(c.Materials, cardMaterial{t.Name, amount(l.Amount, t.Unit), !batchAsked(s, t.Material)})
			}
		}
	}
	return c
}

// batchAsked says that the batch of a material is among a step's records.
func batchAsked(s plan.Step, m body.MaterialID) bool {
	return slices.ContainsFunc(s.Readings, func(r body.Reading) bool { return r.ID == body.BatchReading(m) })
}

func placeWords(place string, s plan.Step) string {
	if s.Lift != "" {
		place = strings.TrimPrefix(place+", lift "+s.Lift, ", ")
	}
	return or(place, "no bay named")
}

func useWords(s plan.Step, equipment string) string {
	var out []string
	for _, w := range []string{s.Tool, equipment} {
		if w != "" {
			out = append(out, w)
		}
	}
	use := strings.Join(out, ", ")
	if s.Side != "" {
		use = strings.TrimPrefix(use+"; side: "+s.Side, "; ")
	}
	return or(use, "nothing special named")
}

// forWords is the findings a step is for with where they lie, or how many.
func forWords(in Input, s plan.Step) string {
	if len(s.For) > 3 {
		return list(findingNames(s.For), 12)
	}
	var out []string
	for _, id := range s.For {
		f := findingByID(in.Inspect, id)
		out = append(out, fmt.Sprintf("%s %s, %s", id, or(f.Kind, "finding"), zonesText(in.Body, f)))
	}
	return strings.Join(out, "; ")
}

// citeWords is where the procedure says it, with its revision. A step without a
// place of its own is under the procedure in force.
func citeWords(in Input, s plan.Step) string {
	if s.Cite != "" {
		return s.Cite
	}
	var out []string
	for _, p := range in.Decide.Procedures {
		out = append(out, fmt.Sprintf("%s, revision %s", p.Procedure, p.Revision))
	}
	if len(out) == 0 {
		return "no procedure is in force"
	}
	return "no row of its own; procedure " + list(out, 3)
}

// nextWords is what may come after a step.
func nextWords(p plan.Plan, i int) string {
	var out []string
	name := ""
	for _, s := range p.Steps {
		if slices.Contains(s.After, p.Steps[i].ID) {
			out = append(out, s.ID)
			name = s.Name
		}
	}
	if len(out) == 1 {
		return out[0] + " " + name
	}
	if len(out) > 0 {
		return list(out, 8)
	}
	if i == len(p.Steps)-1 {
		return "this is the last step"
	}
	return "no step waits for this one"
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

// stopMost is how many reasons not to start the first card lists; all are in
// the report. cautionsWithJob is how many cautions and dangers stand on the
// first card before the cautions get one of their own.
const (
	stopMost        = 10
	cautionsWithJob = 8
)

func jobCardOf(in Input, r compare.Route, stop []string) jobCard {
	c := jobCard{Job: in.Job.ID, Shop: in.Shop.Name, VIN: in.Job.Vehicle.VIN, Body: in.Body.Name, Route: r.Name, Stop: stop, Cautions: allCautions(r.Plan),
		Dates:      fmt.Sprintf("%s, %s to %s, %s of work", unit.Count(len(r.Plan.Steps), "step"), day(r.Plan.Start), day(r.Plan.Finish), minutes(r.Plan.WorkMin)),
		Procedures: buildHead(in).Procedures, Status: "Nobody has chosen this route yet."}
	if n := len(in.Job.Choices); n > 0 && in.Job.Choices[n-1].Route == r.ID {
		c.Status = fmt.Sprintf("Chosen by %s on %s.", in.Job.Choices[n-1].By, day(in.Job.Choices[n-1].On))
	}
	c.Hazards = hazardRows(in)
	var holds []string
	for _, s := range holdPoints(r.Plan) {
		holds = append(holds, s.ID)
	}
	c.Holds = list(holds, len(holds))
	c.More = max(len(stop)-stopMost, 0)
	c.Stop = stop[:min(len(stop), stopMost)]
	c.Apart = len(stop) > 0 || len(c.Cautions)+len(c.Hazards) > cautionsWithJob
	return c
}

// readyMost is how many rows a card of what has to be there holds.
const readyMost = 17

// readyCards is the parts and materials that have to be there, a card for as
// many as are legible on one.
func readyCards(p plan.Plan) []readyCard {
	var rows []readyRow
	for _, l := range p.Lost {
		rows = append(rows, readyRow{l.Name, unit.Count(l.Quantity, "part"), ""})
	}
	for _, t := range p.Takeoff {
		var at []string
		for _, l := range t.Lines {
			at = append(at, l.Step)
		}
		rows = append(rows, readyRow{t.Name, amount(whole(t.Gross, t.Unit), t.Unit), list(at, 6)})
	}
	var out []readyCard
	for chunk := range slices.Chunk(rows, readyMost) {
		out = append(out, readyCard{Rows: chunk})
	}
	for i := range out {
		if len(out) > 1 {
			out[i].N = fmt.Sprintf("%d of %d", i+1, len(out))
		}
	}
	return out
}

// whole rounds an amount up where it is counted in pieces.
func whole(v float64, u string) float64 {
	if u == "piece" {
		return math.Ceil(v - 1e-9)
	}
	return v
}
