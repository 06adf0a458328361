package report

import (
	"fmt"

	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/unit"
)

// realityPart is what was agreed, what was done, and what earlier jobs took.
type realityPart struct {
	Supplement *supplementPart
	Done       *donePart
	Earlier    []earlierRow
	LeftOut    []string // records of earlier jobs that do not count
}

// supplementPart is how the bill differs from the one that was agreed last.
type supplementPart struct {
	Title, Because, Findings string
	NoBill                   bool
	Word                     word
	Lines                    []differenceRow
	Away, New                []movedRow // what only one of the two plans has
	Loss                     []lossRow
	Was, Is, By              string
}

type differenceRow struct{ Text, ID, Was, Is, By, Why string }

type movedRow struct{ ID, Name, Much string }

// donePart is what was recorded against the plan.
type donePart struct {
	Head   string
	Steps  []doneRow
	Beyond []beyondRow // work that no step of the plan has
	Used   []usedRow
	Unfit  []string // records that do not count
}

type doneRow struct{ Step, Name, Planned, Taken, Left, By, Again string }

type beyondRow struct{ Name, Taken, By, Why string }

type usedRow struct{ ID, Planned, Used, Beyond, Sum string }

type earlierRow struct{ Shop, Step, Times, Planned, Median, Half, Ratio, PerMM string }

func buildReality(in Input, p pick) realityPart {
	out := realityPart{}
	if p.Found {
		r := p.Route
		if s, ok := compare.SupplementOf(in.Compare, r, in.Shop, in.Job); ok {
			out.Supplement = buildSupplement(in, s)
		}
		if d, ok := cost.RealityOf(compare.WayOf(r), compare.Ways(in.Compare, in.Job, r.ID), in.Shop, in.Job, unit.DateOf(in.Meta.Made)); ok {
			out.Done = buildDone(in, d)
		}
	}
	for _, h := range in.History {
		out.Earlier = append(out.Earlier, earlierRow{h.Shop, h.Step, fmt.Sprint(h.Count), minutesText(h.Planned), minutesText(h.Median),
			minutesText(h.Low) + " to " + minutesText(h.High), cost.MedianWords(h.Ratio, 2), cost.MedianWords(h.PerMM, 3)})
		for _, x := range h.LeftOut {
			out.LeftOut = append(out.LeftOut, fmt.Sprintf("%s of %s in job %s, %s min: %s", x.Name, x.On, x.Job, minutesText(x.Minutes), x.Why))
		}
	}
	return out
}

func minutesText(m float64) string { return fmt.Sprintf("%.0f", m) }

func buildSupplement(in Input, s cost.Supplement) *supplementPart {
	out := &supplementPart{Title: fmt.Sprintf("Supplement %d to bill %d", s.Number, s.Against), Because: sentence(s.Because), NoBill: s.NoBill != "",
		Findings: list(findingNames(s.Findings), 12), Was: s.Agreed.Grouped(), Is: s.Now.Grouped(), By: addsUp(s.Now - s.Agreed), Word: supplementWord(s)}
	for _, l := range s.Is.Rules {
		out.Loss = append(out.Loss, lossOf(l, currencyOf(in)))
	}
	for _, l := range s.Lines {
		out.Lines = append(out.Lines, differenceRow{l.Text, l.ID, l.Was.Grouped(), l.Is.Grouped(), addsUp(l.By()), l.Why})
	}
	out.Away, out.New = movedRows(s.Away), movedRows(s.New)
	return out
}

// supplementWord is what the total-loss rules say, in short.
func supplementWord(s cost.Supplement) word {
	switch {
	case s.NoBill != "":
		return word{"no bill", toneBad}
	case !s.Is.Known:
		return word{"total loss: not known", toneOpen}
	case s.BecameLoss():
		return word{"total loss: stop", toneBad}
	case s.Is.IsLoss:
		return word{"total loss, as agreed", toneBad}
	}
	return word{"not a total loss", toneGood}
}

func movedRows(list []cost.Moved) []movedRow {
	var out []movedRow
	for _, m := range list {
		much := m.Sum.Grouped()
		if m.Skill != "" {
			much = minutesText(m.Minutes) + thin + "min"
		}
		out = append(out, movedRow{m.ID, m.Name, much})
	}
	return out
}

// addsUp is a difference of money with its sign.
func addsUp(m unit.Minor) string {
	if m > 0 {
		return "+" + m.Grouped()
	}
	return m.Grouped()
}

func buildDone(in Input, d cost.Reality) *donePart {
	cur := currencyOf(in)
	out := &donePart{Head: cost.RealityWords(d, cur)}
	for _, s := range d.Steps {
		left := "done"
		if s.Going {
			left = minutesText(s.Left) + " left"
		}
		row := doneRow{s.Step, s.Name, minutesText(s.Planned), minutesText(s.Taken), left, s.By, ""}
		if len(s.Again) > 0 {
			row.Again = "done again: " + list(s.Again, 6)
		}
		out.Steps = append(out.Steps, row)
	}
	for _, w := range d.Beyond {
		out.Beyond = append(out.Beyond, beyondRow{w.Name, minutesText(w.Taken), w.By, w.Why})
	}
	for _, u := range d.Used {
		out.Used = append(out.Used, usedRow{u.ID, fmt.Sprint(u.Planned), fmt.Sprint(u.Used), fmt.Sprint(u.Beyond), u.Sum.Grouped() + thin + cur})
	}
	for _, u := range d.Unfit {
		out.Unfit = append(out.Unfit, fmt.Sprintf("%s, %s, %s min: %s", u.Name, u.On, minutesText(u.Minutes), u.Why))
	}
	return out
}
