package report

import (
	"fmt"
	"html/template"
	"maps"
	"slices"

	"fettle/internal/compare"
	"fettle/internal/unit"
)

// ownerPage is what the template of the owner's page is filled with: one page in plain
// words, without the names that only the shop uses.
type ownerPage struct {
	CSS                template.CSS
	Head               head
	Shop, Vehicle, VIN string
	Found, Safe, Plan  []string
	Before, Open       []string
	Money              []ownerRow
	Loss               string
	Work               bool // something is repaired on the route
}

// ownerRow is a figure with what it is.
type ownerRow struct{ What, Figure string }

// Owner makes the page for the owner of the vehicle: what was found, what is proposed and
// what it costs, what is not known yet, and what happens before the vehicle comes back.
func Owner(in Input) ([]byte, error) {
	if err := complete(in); err != nil {
		return nil, err
	}
	in.Vehicle = in.Vehicle.While(in.Work)
	css, err := styleOf("owner.css")
	if err != nil {
		return nil, err
	}
	p := picked(in)
	doc := ownerPage{CSS: css, Head: buildHead(in), Shop: in.Shop.Name, Vehicle: in.Body.Name, VIN: in.Job.Vehicle.VIN,
		Found: append(ownerMoved(in), ownerCasting(in)...), Safe: ownerSafe(in), Plan: ownerPlan(in, p), Money: ownerMoney(in, p), Open: ownerOpen(in, p),
		Loss: ownerLoss(p.Route), Work: len(p.Route.Plan.Steps) > 0, Before: ownerBefore(in, p)}
	doc.Head.Title = "About your vehicle, job " + in.Job.ID
	return made("owner.html", doc)
}

// ownerMoved is whether the structure moved.
func ownerMoved(in Input) []string {
	if _, ok := in.Measure.Best(); !ok {
		return []string{"The structure has not been measured so that it can be judged. Nothing is known about whether it has moved."}
	}
	c := countMoved(in)
	places := unit.Count(c.total, "place")
	var out []string
	switch {
	case in.Measure.Ambiguous:
		out = append(out, "We measured "+places+" of the structure. The readings allow more than one answer: whether it has moved is not certain yet.")
	case len(c.moved) > 0:
		out = append(out, fmt.Sprintf("The structure has moved: of %s that were measured, %d are no longer where they belong%s.", places, len(c.moved), ownerOut(c)))
	case len(c.maybe) > 0:
		out = append(out, fmt.Sprintf("We measured %s of the structure. None has surely moved; of %d it is not certain.", places, len(c.maybe)))
	default:
		out = append(out, "We measured "+places+" of the structure. None has moved as far as the readings can tell.")
	}
	if n := len(missingPoints(in.Body, in.Measure)); n > 0 {
		out = append(out, unit.Count(n, "place")+" could not be measured or have not been yet.")
	}
	return out
}

// ownerOut is how many of the places are farther off than the maker allows.
func ownerOut(c movedCount) string {
	s := ""
	if len(c.out) > 0 {
		s = fmt.Sprintf(", %d farther than the maker allows", len(c.out))
	}
	if len(c.unsure) > 0 {
		s += fmt.Sprintf("; of %d that is not certain", len(c.unsure))
	}
	return s
}

// ownerCasting is what was found on castings and other parts.
func ownerCasting(in Input) []string {
	on, longest, kinds := 0, 0.0, map[string]int{}
	for _, f := range in.Inspect.Findings {
		if f.Casting != "" {
			on++
			kinds[or(string(f.Kind), "finding")]++
			longest = max(longest, lengthOf(f))
		}
	}
	var out []string
	if on > 0 {
		var words []string
		for _, k := range slices.Sorted(maps.Keys(kinds)) {
			words = append(words, unit.Count(kinds[k], k))
		}
		s := "On the large aluminium casting that carries the vehicle's end we found " + list(words, 6)
		if longest > 0 {
			s += fmt.Sprintf("; the longest is %s", mm(longest))
		}
		out = append(out, s+".")
	}
	if rest := len(in.Inspect.Findings) - on; rest > 0 {
		out = append(out, fmt.Sprintf("%s on other parts.", unit.Count(rest, "finding")))
	}
	if on == 0 {
		out = append(out, "We found no damage on the large aluminium casting so far.")
	}
	if n := len(notCovered(in.Inspect)); n > 0 || len(in.Inspect.Coverage) == 0 {
		s := "Not all of the casting has been inspected as the maker asks"
		if n > 0 {
			s += ": " + unit.Count(n, "area") + " missing"
		}
		out = append(out, s+". More damage may be found there.")
	}
	return out
}

// ownerSafe is what the owner may not do, and which dangers of the vehicle are dealt with.
// No state of a job lets this page say that a vehicle may be driven: it is handed back by
// people who sign for it.
func ownerSafe(in Input) []string {
	out := []string{"Do not drive it, and let nobody drive it, before it is handed back to you and signed for: nothing here allows it."}
	for _, h := range in.Job.Hazards {
		title, _ := cautionText(h.Kind)
		if unsafe(in, h) != "" {
			out = append(out, title+": the vehicle has not been made safe. Stay away from it.")
		} else {
			out = append(out, title+": made safe on "+day(h.On)+" by "+or(h.By, "nobody named")+".")
		}
	}
	return out
}

// ownerPlan is what is proposed, and whether it may be done.
func ownerPlan(in Input, p pick) []string {
	if !p.Found {
		return []string{"There is no way to repair it that we can propose yet."}
	}
	r := p.Route
	var out []string
	switch {
	case r.Plan.Unplanned != "":
		out = append(out, r.Name+". It cannot be planned yet, so nobody can say how long it takes.")
	case len(r.Plan.Steps) > 0 && r.Plan.Finish.IsZero():
		out = append(out, r.Name+". It has no date yet, so nobody can say how long it takes.")
	case len(r.Plan.Steps) == 0:
		out = append(out, r.Name+". No work would be done on the vehicle.")
	case p.Word.Tone == toneGood:
		out = append(out, fmt.Sprintf("%s. It takes %s, %s, if nothing else is found.", r.Name, unit.Count(r.Plan.WorkDays, "working day"), Span(r.Plan)))
	default:
		out = append(out, fmt.Sprintf("%s. It may not begin yet, and the dates hold only once it may: %s, %s.", r.Name, unit.Count(r.Plan.WorkDays, "working day"), Span(r.Plan)))
	}
	if n := len(forcing(in.Decide, r)); n > 0 {
		out = append(out, "It goes this far because the maker allows nothing milder for "+unit.Count(n, "finding")+".")
	}
	var lost []string
	for _, l := range r.Plan.Lost {
		lost = append(lost, l.Name)
	}
	if len(lost) > 0 {
		out = append(out, "New parts: "+list(lost, 8)+".")
	}
	if _, first := lookFirst(in, p); first {
		out = append(out, "We advise to look more closely first: it costs little and may open a cheaper way.")
	}
	if p.Choice.Route == "" && len(r.Plan.Steps) > 0 {
		out = append(out, "Nobody has decided for it yet.")
	}
	return out
}

// ownerMoney is the figures of the route.
func ownerMoney(in Input, p pick) []ownerRow {
	b := p.Route.Bill
	if b.Currency == "" {
		return nil
	}
	what := "By this plan, with tax"
	if !b.Complete {
		what = "By this plan, with tax, at least: a price is missing"
	}
	out := []ownerRow{{what, money(b.Total, b.Currency)}}
	if s := in.Compare.Spread; s != nil {
		for _, r := range s.Routes {
			if r.Route == p.Route.ID {
				out = append(out, ownerRow{"On average, with what may still turn up", money(r.Mean, b.Currency)},
					ownerRow{"In 8 of 10 cases between", r.P10.Grouped() + " and " + money(r.P90, b.Currency)})
			}
		}
	}
	v := in.Job.Vehicle
	if v.Value.Minor > 0 {
		out = append(out, ownerRow{"Value of the vehicle before the damage, as the job states it", money(v.Value.Minor, v.Value.Currency)})
	}
	for _, r := range in.Compare.Routes {
		if r.ID != p.Route.ID && r.Excluded == "" && r.Bill.Currency != "" && len(r.Plan.Steps) > 0 {
			if s := ownerOther(in, r); s != "" {
				out = append(out, ownerRow{s, money(r.Bill.Total, r.Bill.Currency)})
			}
		}
	}
	return out
}

// ownerOther is another way in words: whether it could be taken.
func ownerOther(in Input, r compare.Route) string {
	s := "Another way: " + r.Name + ", " + daysWords(r.Plan)
	if !r.Feasible || r.Open > 0 || !permitted(in) {
		s += "; not permitted as things stand"
	}
	return s
}

// ownerLoss is whether it counts as a total loss.
func ownerLoss(r compare.Route) string {
	for _, l := range r.Bill.Loss {
		if l.Applies && l.IsLoss {
			return "By the rule that applies here this counts as a total loss. Your insurer and the law decide."
		}
		if l.Applies && l.Unsure {
			return "Whether it counts as a total loss is not certain: a price is missing. Your insurer and the law decide."
		}
		if l.Applies {
			return "By the rule that applies here this is a repair and no total loss. Your insurer and the law decide."
		}
	}
	return "Whether it counts as a total loss was not worked out. Your insurer and the law decide."
}

// ownerOpen is what is not settled.
func ownerOpen(in Input, p pick) []string {
	var out []string
	if n := len(blocks(in)); n > 0 {
		out = append(out, unit.Count(n, "thing")+" still stand in the way of any work; the report lists them.")
	}
	if n := len(p.Route.Ask); n > 0 {
		out = append(out, unit.Count(n, "question")+" to the maker's engineers without an answer.")
	}
	if n := len(p.Route.Measure); n > 0 {
		out = append(out, unit.Count(n, "place")+" to be measured or inspected first.")
	}
	open := 0
	for _, k := range in.Job.Risks {
		if k.Open() {
			open++
		}
	}
	if n := open; n > 0 {
		out = append(out, unit.Count(n, "thing")+" that may turn up on the way; they are in the average above.")
	}
	return out
}

// ownerBefore is what happens before the vehicle comes back.
func ownerBefore(in Input, p pick) []string {
	if in.After != nil && len(p.Route.Plan.Steps) > 0 {
		if answerAfter(in).Word.Tone != toneGood {
			return []string{"It was measured again after the repair, and not every place is shown to be where it belongs yet."}
		}
		return []string{"It was measured again after the repair: every place is where it belongs, within what the maker allows."}
	}
	n := len(holdPoints(p.Route.Plan))
	out := []string{"The structure is measured again. It is handed back only when every place is shown to be where it belongs."}
	if n > 0 {
		out = append(out, fmt.Sprintf("At %s the work stops until somebody has inspected it and signed.", unit.Count(n, "point")))
	}
	return append(out, "Two people sign: who directed the work, and somebody else who inspected it.",
		"You get the repair report with every measurement, inspection and signature. Keep it with the vehicle.")
}
