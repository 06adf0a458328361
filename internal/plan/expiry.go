package plan

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// An answer of the manufacturer holds until a day. A step that it allows and that is planned
// for that day or a later one is not allowed by it, whatever is decided today.

// Rests is what of a plan rests on an answer.
type Rests struct {
	Answer job.Answer
	For    []job.FindingID // the steps of their treatments
	Whole  bool            // something is left as it is: every step that is still to do, once the way is open
	What   string          // in words: "weld of F2"
}

// Outlasted is a step that is still to do and not over before its answer expires.
type Outlasted struct {
	Answer  string    `json:"answer"`
	Expires unit.Date `json:"expires"`
	What    string    `json:"what"`
	Step    string    `json:"step"`
	Name    string    `json:"name"`
	On      unit.Date `json:"on"` // the day it is over; zero: not known
}

// OutlastedBy is every step of a plan that is not on record as done and is not over before the
// answer that it rests on expires. What has no date may be later, and what was to be done before
// today and is not on record is done today at the earliest.
func OutlastedBy(p Plan, j *job.State, sh *shop.Shop, on []Rests, today unit.Date) []Outlasted {
	var out []Outlasted
	seen, _ := progress(p, j, sh, today)
	for _, r := range on {
		for _, s := range p.Steps {
			if a, ok := seen[s.ID]; ok && !a.Going || !r.holds(s) {
				continue
			}
			x := Outlasted{Answer: r.Answer.ID, Expires: r.Answer.Expires, What: r.What, Step: s.ID, Name: s.Name}
			if !s.From.IsZero() {
				if x.On = unit.DateOf(s.To); x.On.Before(today) {
					x.On = today
				}
			}
			if x.On.IsZero() || !x.On.Before(r.Answer.Expires) {
				out = append(out, x)
			}
		}
	}
	return out
}

// holds says that a step does what an answer allowed.
func (r Rests) holds(s Step) bool {
	if s.Move != nil {
		return false
	}
	return r.Whole && s.Phase != PhaseOpen || s.Phase == PhaseRepair && slices.ContainsFunc(r.For, func(f job.FindingID) bool { return slices.Contains(s.For, f) })
}

// OutlastedNotes tells of them, one note for each answer: it blocks.
func OutlastedNotes(p Plan, j *job.State, sh *shop.Shop, on []Rests, today unit.Date) []diag.Note {
	var out []diag.Note
	for _, r := range on {
		steps := OutlastedBy(p, j, sh, []Rests{r}, today)
		if len(steps) == 0 {
			continue
		}
		var words []string
		for i, x := range steps {
			if more := len(steps) - i; i == namedSteps && more > 1 {
				words = append(words, fmt.Sprintf("and %d more", more))
				break
			}
			when := "no date is known"
			if !x.On.IsZero() {
				when = x.On.String()
			}
			words = append(words, fmt.Sprintf("%s %q (%s)", x.Step, x.Name, when))
		}
		out = append(out, diag.Say("plan.answer-expires", "{job}: answer {answer}, on which {what} rests, holds until the day before {until}; planned for later: {steps}", j.ID, r.Answer.ID, r.What, r.Answer.Until(), strings.Join(words, ", ")).Note(diag.Note{Severity: diag.Blocking, Where: j.ID, Hint: "ask the manufacturer again before those steps, do them earlier, or take a route that does not rest on it", Source: r.Answer.Document}))
	}
	return out
}

// namedSteps is how many steps a note names.
const namedSteps = 6
