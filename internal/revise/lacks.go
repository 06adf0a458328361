package revise

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/unit"
)

// CodeLacks is of a note on what a body does not have, and what that costs in answers.
const CodeLacks = "body.lacks"

// Lacks says of everything that a body may have and does not have what it costs in answers: which
// facts cannot be known, which rows of the procedures in force on the day hang on them, what no
// route can do. It is read off the rows and the vocabulary of facts. None of it is a fault.
func Lacks(b *body.Body, on unit.Date) []diag.Note {
	l := &lacks{b: b}
	l.points()
	if len(b.Castings) == 0 {
		l.note(body.MainFile, "castings", "no procedure speaks of any finding, so the manufacturer is asked about each", "add the casting with its zones, and its procedure")
	}
	for _, k := range b.Castings {
		if in, ok := b.ProcedureFor(k.ID, on); ok {
			l.facts(k, in.Procedure)
			l.neighbours(k, in.Procedure)
			l.byHand(k, in.Procedure)
			l.treatments(k, in.Procedure)
		}
	}
	l.cures()
	l.opening()
	l.paint()
	return l.notes
}

type lacks struct {
	b     *body.Body
	notes []diag.Note
}

func (l *lacks) note(where, without, cost, hint string) {
	l.notes = append(l.notes, diag.Say(CodeLacks, "without {without}: {cost}", without, cost).Note(diag.Note{Severity: diag.Info, Where: where, Hint: hint}))
}

// rowsOn are the rows of a procedure that have a condition on one of some facts: those that permit
// something, and those that only forbid or ask.
func rowsOn(p body.Procedure, facts []string) (permit, other []string) {
	for _, r := range p.Rows {
		when := r.Conditions()
		if !slices.ContainsFunc(facts, func(f string) bool { _, named := when[f]; return named }) {
			continue
		}
		if len(r.Allow) > 0 {
			permit = append(permit, r.ID)
		} else {
			other = append(other, r.ID)
		}
	}
	return permit, other
}

// hanging says in words what becomes of rows whose condition nobody can settle.
func hanging(permit, other []string) string {
	var out []string
	if len(permit) > 0 {
		out = append(out, rows(permit)+" cannot permit")
	}
	if len(other) > 0 {
		out = append(out, "what "+rows(other)+" may forbid or ask stays open, and is not permitted")
	}
	return strings.Join(out, "; ")
}

func rows(ids []string) string {
	if len(ids) == 1 {
		return "row " + ids[0]
	}
	return "rows " + decide.JoinWords(ids)
}

// facts tells for what the body lacks the facts that rest on it, as far as rows look at them.
func (l *lacks) facts(k body.Casting, p body.Procedure) {
	by := map[string][]string{} // facts by what is lacking
	var order []string
	for _, d := range body.FactDefs() {
		what := d.Lacks(l.b, k, p)
		if permit, other := rowsOn(p, []string{d.Name}); what == "" || len(permit)+len(other) == 0 {
			continue
		}
		if by[what] == nil {
			order = append(order, what)
		}
		by[what] = append(by[what], d.Name)
	}
	for _, what := range order {
		words := make([]string, len(by[what]))
		for i, f := range by[what] {
			words[i] = body.Fact(f).BeforeValue()
		}
		permit, other := rowsOn(p, by[what])
		l.note(string(k.ID), what, "not known: "+strings.Join(words, ", ")+"; "+hanging(permit, other), "add them to the body")
	}
}

// neighbours tells the rows that name zones where nobody says which zones border on one another.
func (l *lacks) neighbours(k body.Casting, p body.Procedure) {
	if k.HasMesh() || !slices.ContainsFunc(k.Zones, func(z body.Zone) bool { _, said := k.Beside(z.ID); return !said }) {
		return
	}
	permit, _ := rowsOn(p, []string{body.FactZones})
	if len(permit) > 0 {
		l.note(string(k.ID), "neighbours of its zones", "a crack may reach into every zone, so "+rows(permit)+" can permit only where the distance to the border was measured", "say under 'zones' which zones border on one another")
	}
}

// byHand tells what has to be measured at each finding where there is no mesh, as far as rows look
// at it.
func (l *lacks) byHand(k body.Casting, p body.Procedure) {
	var by []string
	for _, d := range body.FactDefs() {
		permit, other := rowsOn(p, []string{d.Name})
		if all := append(permit, other...); d.ByHand(k) && len(all) > 0 {
			by = append(by, fmt.Sprintf("%s (%s)", d.Tape, rows(all)))
		}
	}
	if len(by) > 0 {
		l.note(string(k.ID), "a mesh", "at each finding by hand: "+strings.Join(by, "; "), "")
	}
}

// treatments tells what rows allow and no treatment of the body does.
func (l *lacks) treatments(k body.Casting, p body.Procedure) {
	for _, kind := range body.TreatmentKinds() {
		if kind == body.Leave || slices.ContainsFunc(l.b.Treatments, func(t body.Treatment) bool { return t.Kind == kind }) {
			continue
		}
		var allow []string
		for _, r := range p.Rows {
			if slices.Contains(r.Allow, kind) {
				allow = append(allow, r.ID)
			}
		}
		cost := "but no route does it: no steps, days or price"
		if kind.NewPart() {
			cost = "and a route takes the part off and fits a new one, with no other step"
		}
		if len(allow) > 0 {
			l.note(string(k.ID), "a treatment of the kind "+string(kind), "it may be allowed ("+rows(allow)+"), "+cost, "write its steps under 'treatments'")
		}
	}
}

// points tells what is not known of control points.
func (l *lacks) points() {
	if len(l.b.Points) == 0 {
		l.note(body.PointsFile, "control points", "nothing is known of what moved, and nothing may be handed back", "add a row for each point that the maker publishes")
		return
	}
	n := 0
	for _, p := range l.b.Points {
		if !p.Std.Known {
			n++
		}
	}
	if n > 0 {
		l.note(body.PointsFile, fmt.Sprintf("std_mm of %d of %d points", n, len(l.b.Points)), "how well they were built is taken from those that kept their places, and shifts are less certain", "fill in what the maker publishes")
	}
	if l.b.Thermal == nil {
		l.note(body.MainFile, "thermal", "no reading is corrected for temperature", "add what the maker publishes")
	}
}

// paint tells what is not known of painting panels.
func (l *lacks) paint() {
	if len(l.b.Paint) == 0 {
		if slices.ContainsFunc(l.b.Parts, func(p body.Part) bool { return p.Kind == body.PartPanel }) {
			l.note(body.MainFile, "paint", "no panel that is replaced or straightened is painted or protected: no steps, days or price", "say under 'paint' what is done to its surfaces, and how large they are in parts.csv")
		}
		return
	}
	var open []string
	for _, p := range l.b.Parts {
		if slices.ContainsFunc(l.b.Paint, func(k body.Coating) bool { return k.Covers(p) && !p.Area(k.Surface).Known }) {
			open = append(open, string(p.ID))
		}
	}
	if len(open) > 0 {
		l.note(body.PartsFile, "outer_area and inner_area of "+unit.Count(len(open), "part"), "a route that fits a new one of them, or works on it, has no price ("+strings.Join(open, ", ")+")", "fill in the areas, 0 m2 where nothing is coated")
	}
	baked := slices.ContainsFunc(l.b.Tasks, func(t body.Task) bool { return t.Step.Bake != nil })
	if baked && len(l.b.HeatLimits) == 0 {
		l.note(body.MainFile, "heat_limits", "nothing is dried with heat", "write what parts and adhesives may take, with its source")
	}
	whole := slices.ContainsFunc(l.b.Tasks, func(t body.Task) bool { return t.Step.Bake != nil && !t.Step.Bake.Local })
	if whole && len(l.b.HeatLimits) > 0 {
		l.battery()
	}
}

// battery tells what is not known of warming the high-voltage battery.
func (l *lacks) battery() {
	k := slices.IndexFunc(l.b.Parts, func(p body.Part) bool { return p.Kind == body.PartBattery })
	if k < 0 {
		l.note(body.PartsFile, "a part of the kind 'battery'", "nothing is dried with heat on a vehicle unless its job says that the high-voltage battery is out or that there is none", "add the battery, and what it may take under 'heat_limits'")
		return
	}
	if _, ok := l.b.HeatLimitOf(l.b.Parts[k].ID); !ok {
		l.note(body.MainFile, "heat_limits of "+string(l.b.Parts[k].ID), "nothing is dried with heat while the high-voltage battery is in the vehicle", "write what it may take, with its source")
	}
}

// opening tells what is not known of coming apart and of dates.
func (l *lacks) opening() {
	if len(l.b.Parts) == 0 {
		return
	}
	if len(l.b.Access)+len(l.b.Joints) == 0 {
		l.note(body.MainFile, "access and joints", "what has to come off is not known: plans and prices have the work at the finding alone", "write under 'joints' and 'access' what holds and covers the parts")
	}
	l.access()
	l.metals()
	var late []string
	for _, p := range l.b.Parts {
		if !p.Delivery.Known {
			late = append(late, string(p.ID))
		}
	}
	if len(late) > 0 {
		l.note(body.PartsFile, "delivery of "+unit.Count(len(late), "part"), "a route that needs a new one of them has no date", "fill in the likely time")
	}
}

// access tells of each casting the zones and section lines of which nobody says how they are reached.
func (l *lacks) access() {
	for _, k := range l.b.Castings {
		var open, lines []string
		for _, z := range k.Zones {
			if !l.b.SaysAccess(string(z.ID)) {
				open = append(open, string(z.ID))
			}
		}
		for _, s := range l.b.Lines {
			if s.Casting == k.ID && !l.b.SaysAccess(string(s.ID)) {
				lines = append(lines, string(s.ID))
			}
		}
		var what []string
		if len(open) > 0 {
			what = append(what, unit.Count(len(open), "zone")+" ("+decide.JoinWords(open)+")")
		}
		if len(lines) > 0 {
			what = append(what, unit.Count(len(lines), "section line")+" ("+decide.JoinWords(lines)+")")
		}
		if len(what) > 0 {
			l.note(string(k.ID), "access to "+strings.Join(what, " and "), "what has to come off to reach them is not known: every route that works there waits for it, and opening up to inspect leaves them open",
				"write under 'access' what has to be off before each, 'needs: []' where nothing has to be; or record at the vehicle, under 'access' of the job, who found that they can be reached")
		}
	}
}

// metals tells what is not known of metals that touch where they are joined.
func (l *lacks) metals() {
	if len(l.b.Joints) == 0 {
		return
	}
	if l.b.Apart == nil {
		l.note(body.MainFile, "keep_apart", "whether unlike metals have to be kept apart where a joint is closed is not known", "list the pairs of the manufacturer, [] where there are none; fill in 'metal' of the parts and fasteners")
		return
	}
	var unknown []string
	for _, j := range l.b.Joints {
		if !j.Isolates && slices.ContainsFunc(l.b.InJoint(j), func(m body.Member) bool { return m.Metal == "" && !m.Own }) {
			unknown = append(unknown, string(j.ID))
		}
	}
	if len(unknown) > 0 {
		l.note(body.MainFile, "all metals of "+unit.Count(len(unknown), "joint")+" ("+decide.JoinWords(unknown)+")", "a plan that closes one of them blocks, unless something isolates it", "fill in 'metal' of the parts and fasteners, and 'fastener_metal'")
	}
}
