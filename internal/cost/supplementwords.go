package cost

import (
	"fmt"
	"strings"

	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// changes is what is another than when a bill was agreed: the value of the vehicle, its
// salvage value, the total-loss rules and the prices of its lines. What is not on record with
// the bill cannot be told.
func changes(last job.Agreed, s *shop.Shop, j *job.State) []string {
	var out []string
	if last.Value != (unit.Money{}) {
		v := j.Vehicle
		if v.Value != last.Value {
			out = append(out, fmt.Sprintf("the value of the vehicle is %s instead of %s", v.Value.Minor.Grouped(), last.Value.Minor.Grouped()))
		}
		if v.Salvage != last.Salvage {
			out = append(out, fmt.Sprintf("the salvage value is %s instead of %s", v.Salvage.Minor.Grouped(), last.Salvage.Minor.Grouped()))
		}
	}
	if len(last.Rules) > 0 {
		out = append(out, ruleChanges(last.Rules, s.TotalLoss)...)
	}
	for _, l := range last.Lines {
		if l.Price == (unit.Money{}) {
			continue
		}
		for _, r := range s.Rates {
			if l.ID == "L-"+string(r.Skill) && r.Hour != l.Price {
				out = append(out, fmt.Sprintf("the rate of %s is %s instead of %s an hour", r.Name, r.Hour.Minor.Grouped(), l.Price.Minor.Grouped()))
			}
		}
		for _, x := range s.Sublets {
			if l.ID == "S-"+x.ID && x.Hour != l.Price {
				out = append(out, fmt.Sprintf("the rate of %s is %s instead of %s an hour", x.Name, x.Hour.Minor.Grouped(), l.Price.Minor.Grouped()))
			}
		}
		if l.ID == "D-storage" && s.Storage != l.Price {
			out = append(out, fmt.Sprintf("a day of storage is %s instead of %s", s.Storage.Minor.Grouped(), l.Price.Minor.Grouped()))
		}
		for _, t := range s.Taxes {
			if l.ID == "T-"+t.ID && l.Amount != "" && t.Rate.String() != l.Amount {
				out = append(out, fmt.Sprintf("%s is %s instead of %s", t.Name, t.Rate, l.Amount))
			}
		}
	}
	return out
}

// ruleChanges is which total-loss rules came, went, or say something else.
func ruleChanges(was, is []shop.LossRule) []string {
	var out []string
	find := func(list []shop.LossRule, id string) (shop.LossRule, bool) {
		for _, r := range list {
			if r.ID == id {
				return r, true
			}
		}
		return shop.LossRule{}, false
	}
	for _, a := range was {
		b, ok := find(is, a.ID)
		b.Name = a.Name
		switch {
		case !ok:
			out = append(out, fmt.Sprintf("the total-loss rule %s is no longer there (%s)", a.ID, ruleWords(a)))
		case a != b:
			out = append(out, fmt.Sprintf("the total-loss rule %s is %s instead of %s", a.ID, ruleWords(b), ruleWords(a)))
		}
	}
	for _, b := range is {
		if _, ok := find(was, b.ID); !ok {
			out = append(out, fmt.Sprintf("the total-loss rule %s is new (%s)", b.ID, ruleWords(b)))
		}
	}
	return out
}

// ruleWords is a rule in short.
func ruleWords(r shop.LossRule) string {
	t := "repair plus salvage " + string(r.Operator) + " the value"
	if r.Kind == shop.LossPercentage {
		t = fmt.Sprintf("repair %s %s of the value", r.Operator, r.Percent)
	}
	tax, applies := ", without tax", ", only shown"
	if r.WithTax {
		tax = ", with tax"
	}
	if r.Applies {
		applies = ", which applies"
	}
	return t + tax + applies
}

// words says what a supplement is.
func (s Supplement) words(last job.Agreed, h Held, currency string) string {
	head := fmt.Sprintf("supplement %d to bill %d of %s", s.Number, s.Against, last.On)
	if s.NoBill != "" {
		return head + s.noBill(last, h, currency) + s.lossWords()
	}
	if s.Route != s.Before {
		head += fmt.Sprintf(": another route than was agreed, %s instead of %s", s.Route, s.Before)
		switch a := h.Agreed; {
		case a == nil:
			head += ", which is not among the routes any more"
		case a.Bar != "":
			head += ", which is no longer possible (" + a.Bar + ")"
		case a.Bill.Complete:
			head += fmt.Sprintf(", which would come to %s now", a.Bill.Total.Grouped())
		}
		if head += "; what falls away and what is new stand apart"; len(last.Work) == 0 {
			head += ", but for work: the steps that were agreed are not on record"
		}
	}
	t := fmt.Sprintf("%s: %s %s instead of %s, a difference of %s", head, s.Now.Grouped(), currency, s.Agreed.Grouped(), (s.Now - s.Agreed).Grouped())
	price := unit.Minor(0)
	for _, l := range s.Lines {
		price += l.ByPrice
	}
	if price != 0 {
		t += fmt.Sprintf(", of which other rates and prices make %s without tax", price.Grouped())
	}
	days := fmt.Sprintf("the finish moves by %d days", s.Days)
	if s.Undated {
		days = "by how many days the finish moves is not known"
	}
	return t + "; " + days + s.changedWords() + s.lossWords()
}

func (s Supplement) changedWords() string {
	if len(s.Changed) == 0 {
		return ""
	}
	return "; since it was agreed " + strings.Join(s.Changed, ", ")
}

// noBill says why there is no bill, and what is possible.
func (s Supplement) noBill(last job.Agreed, h Held, currency string) string {
	t := ": there is no bill"
	name := s.Route
	if name == "" {
		name = "any"
	}
	t += fmt.Sprintf(" of route %s: %s; agreed were %s %s for route %s", name, s.NoBill, s.Agreed.Grouped(), currency, last.Route)
	if a := h.Agreed; a != nil && s.Route != s.Before && a.Bar != "" {
		t += ", which is no longer possible (" + a.Bar + ")"
	} else if a == nil && s.Route != s.Before {
		t += ", which is not among the routes any more"
	}
	if len(s.Possible) == 0 {
		return t + "; no route is possible now" + s.changedWords()
	}
	var all []string
	for _, p := range s.Possible {
		all = append(all, fmt.Sprintf("%s for %s (%s)", p.Route, p.Total.Grouped(), addsUp(p.Total-s.Agreed)))
	}
	return t + "; possible now: " + strings.Join(all, ", ") + s.changedWords()
}

// lossWords is what the total-loss rules say: of the agreed bill by what was agreed, and of
// both bills by what holds today.
func (s Supplement) lossWords() string {
	const decide = "; law and insurer decide"
	became := ""
	if s.Was.Known && s.Would.Known && s.Was.IsLoss != s.Would.IsLoss {
		became = fmt.Sprintf("; the agreed bill was %s by the rule and value it was agreed with, and would be %s by those of today", lossWord(s.Was.IsLoss), lossWord(s.Would.IsLoss))
	}
	switch {
	case s.NoBill != "":
		return became + "; without a bill nobody can say whether it is a total loss" + decide
	case !s.Is.Known:
		return became + "; whether it is a total loss is not known: no rule that applies was worked out" + decide
	case s.Is.IsLoss && !s.Was.Known:
		return became + "; a total loss by the rule that applies, and whether it was one when the bill was agreed is not known (the value is not on record with it): stop" + decide
	case s.Is.IsLoss && !s.Was.IsLoss:
		return became + "; by the rule that applies it has become a total loss: stop" + decide
	case s.Is.IsLoss:
		return became + "; a total loss by the rule that applies, as when it was agreed" + decide
	case s.Was.Known && s.Was.IsLoss:
		return became + "; not a total loss by the rule that applies any more" + decide
	}
	return became + "; not a total loss by the rule that applies" + decide
}

func lossWord(loss bool) string {
	if loss {
		return "a total loss"
	}
	return "no total loss"
}

// unsureWords asks about findings of the day on which a bill was agreed.
func unsureWords(ids []job.FindingID) string {
	if len(ids) == 0 {
		return ""
	}
	var names []string
	for _, id := range ids {
		names = append(names, string(id))
	}
	return ". Of the day of the agreed bill, which does not say whether it was made for them: " + strings.Join(names, ", ") + "; list what it was made for under its 'findings'"
}
