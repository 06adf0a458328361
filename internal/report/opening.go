package report

import (
	"fmt"
	"strings"

	"fettle/internal/body"
	"fettle/internal/plan"
)

// openingPart is section 4: what comes off and why, what is lost, and how it
// goes back on.
type openingPart struct {
	Removal []removalRow
	Proof   string
	Changes string // of tool, side and lift
	Leads   []leadRow
	Near    []nearRow
	NearAll bool
	Lost    []lostRow
	Refit   []refitRow
	Back    string
}

type removalRow struct {
	N                              int
	ID, Name, Joints, Word, Pieces string
	Because, Change, Needs         string
}

// leadRow is one thing that has to be reached and the parts on the way to it,
// the last one first.
type leadRow struct{ Goal, For, Way string }

type nearRow struct{ Text, Cost, More string }

type refitRow struct {
	N                               int
	ID, Name, Joints, After, Change string
}

type lostRow struct {
	ID, Name, Quantity, Delivery, Because string
}

func buildOpening(in Input, p pick) openingPart {
	pl := p.Route.Plan
	out := openingPart{NearAll: pl.NearlyAll}
	if len(pl.Removal) == 0 {
		out.Lost = lostRows(in, pl)
		return out
	}
	cur := or(p.Route.Bill.Currency, in.Shop.Currency)
	out.Proof = fmt.Sprintf("Opening and refitting cost %s at the shop's rates, lost parts included; it is proven that no cheaper way exists.", money(pl.OpeningCost, cur))
	if !pl.OpeningProven {
		out.Proof = fmt.Sprintf("Opening and refitting cost %s at the shop's rates, lost parts included; not proven: a cheaper way may exist, none for less than %s.", money(pl.OpeningCost, cur), money(pl.OpeningBound, cur))
	}
	out.Changes, out.Back = changesWords(pl.OffChanges), changesWords(pl.RefitChanges)
	names := partNames(in, pl)
	for i, r := range pl.Removal {
		w := "goes back on"
		if r.Lost {
			w = "is lost"
		}
		out.Removal = append(out.Removal, removalRow{i + 1, string(r.Part), r.Name, jointNames(in, r.Joints), w,
			list(namesOf(names, r.Parts), 12), sentence(r.Because), r.Change, list(namesOf(names, r.Needs), 12)})
	}
	for _, g := range pl.Reached {
		way := wayTo(pl, names, g.Needs)
		if g.Unknown {
			way = "not known: the body does not say"
		}
		out.Leads = append(out.Leads, leadRow{g.Name, g.For, way})
	}
	for _, o := range pl.Nearly {
		out.Near = append(out.Near, nearRow{sentence(o.Text), money(o.Cost, cur), money(o.More, cur)})
	}
	for i, r := range pl.Refit {
		out.Refit = append(out.Refit, refitRow{i + 1, string(r.Part), r.Name, jointNames(in, r.Joints), list(namesOf(names, r.After), 12), r.Change})
	}
	out.Lost = lostRows(in, pl)
	return out
}

// partNames is the name of every part, and of every assembly that comes off.
func partNames(in Input, pl plan.Plan) map[body.PartID]string {
	out := map[body.PartID]string{}
	for _, p := range in.Body.Parts {
		out[p.ID] = p.Name
	}
	for _, r := range pl.Removal {
		out[r.Part] = r.Name
	}
	return out
}

func namesOf(names map[body.PartID]string, ids []body.PartID) []string {
	var out []string
	for _, id := range ids {
		out = append(out, or(names[id], string(id)))
	}
	return out
}

func jointNames(in Input, ids []body.JointID) string {
	joints := make([]string, len(ids))
	for k, id := range ids {
		j, _ := in.Body.Joint(id)
		joints[k] = or(j.Name, string(id))
	}
	return strings.Join(joints, "; ")
}

// wayTo is the way to a goal: the parts that must be off for it, each with what
// must be off for that in turn, each told once.
func wayTo(pl plan.Plan, names map[body.PartID]string, needs []body.PartID) string {
	if len(needs) == 0 {
		return "reached without taking anything off"
	}
	var out []string
	told := map[body.PartID]bool{}
	for queue := needs; len(queue) > 0; queue = queue[1:] {
		id := queue[0]
		if told[id] {
			continue
		}
		told[id] = true
		for _, r := range pl.Removal {
			if r.Part == id {
				text := r.Name
				if len(r.Needs) > 0 {
					text += " (after " + list(namesOf(names, r.Needs), 12) + ")"
				}
				out = append(out, text)
				queue = append(queue, r.Needs...)
			}
		}
	}
	return strings.Join(out, " ← ")
}

// changesWords says what one person changes in an order.
func changesWords(c plan.Changes) string {
	if c.Tool+c.Side+c.Lift == 0 {
		return ""
	}
	text := fmt.Sprintf("One person in this order changes the tool %d, the side %d and the lift %d times", c.Tool, c.Side, c.Lift)
	if c.Counted {
		text += ", " + minutes(c.Minutes) + " by the shop's figures (not billed)"
	}
	switch {
	case c.Proven:
		text += "; it is proven that no order needs less."
	case c.Counted:
		text += "; not proven, no order needs less than " + minutes(c.Least) + "."
	default:
		text += "; not proven to be the least."
	}
	return text + " When several work at once, the day chart rules."
}

func lostRows(in Input, pl plan.Plan) []lostRow {
	var out []lostRow
	for _, l := range pl.Lost {
		part, _ := in.Body.Part(l.Part)
		delivery := "not given"
		switch {
		case part.Delivery.Value > 0:
			delivery = elapsed(float64(part.Delivery.Value))
		case part.Delivery.Known:
			delivery = "in stock"
		}
		if part.DeliveryHigh > 0 {
			delivery += fmt.Sprintf(" (%s to %s)", elapsed(float64(part.DeliveryLow)), elapsed(float64(part.DeliveryHigh)))
		}
		if s := supplyWords(in, l.Part, l.Quantity); s != "" {
			delivery = s
		}
		out = append(out, lostRow{string(l.Part), l.Name, fmt.Sprint(l.Quantity), delivery, sentence(l.Because)})
	}
	return out
}
