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

// Work is recorded by people, and not all of it. A step that is not on record though a later
// one is may have been done and forgotten, or not been done: a vehicle may be under work that
// was never made safe. Nobody can tell from here, so it is asked, and everything that comes
// after such a step waits for it, through what is on record too.

// Unrecorded is a step that is not on record as done, though a step that comes after it is.
type Unrecorded struct {
	Step  string     `json:"step"` // identity of the step
	Name  string     `json:"name"`
	Going bool       `json:"underWay,omitempty"` // begun, by its record
	Later string     `json:"later"`              // the first recorded step after it
	Done  job.Actual `json:"-"`                  // the record of that
	Makes bool       `json:"dangerous"`          // what it is about is dangerous: see its cautions
}

// UnrecordedOf is every such step of a plan, in its order. A part that is recorded as back on
// was taken off, whether that was written down or not. A record that does not count shows
// nothing to be done, and that work has begun after it all the same.
func UnrecordedOf(p Plan, j *job.State, sh *shop.Shop, today unit.Date) []Unrecorded {
	seen, _ := progress(p, j, sh, today)
	worked := touched(p, j, today)
	for id, a := range seen {
		worked[id] = a
	}
	at := indexed(p)
	later := map[string]string{} // the first recorded step after each
	var back func(id, of string)
	back = func(id, of string) {
		i, ok := at[id]
		if _, known := later[id]; !ok || known {
			return
		}
		later[id] = of
		for _, before := range workBefore(p.Steps[i]) {
			back(before, of)
		}
	}
	for _, s := range p.Steps {
		if _, ok := worked[s.ID]; ok && s.Move == nil {
			for _, before := range workBefore(s) {
				back(before, s.ID)
			}
		}
	}
	var out []Unrecorded
	for _, s := range p.Steps {
		of, ok := later[s.ID]
		a, begun := seen[s.ID]
		if !ok || s.Move != nil || begun && !a.Going {
			continue
		}
		out = append(out, Unrecorded{Step: s.ID, Name: s.Name, Going: begun, Later: of, Done: worked[of], Makes: len(s.Cautions) > 0 && s.Phase != PhaseOpen})
	}
	return out
}

// workBefore is the steps that the work of a step asks for, whatever the order of bays.
func workBefore(s Step) []string {
	if len(s.Needs) > 0 {
		return s.Needs
	}
	return s.After
}

// indexed is where each step of a plan stands.
func indexed(p Plan) map[string]int {
	at := make(map[string]int, len(p.Steps))
	for i, s := range p.Steps {
		at[s.ID] = i
	}
	return at
}

// UnrecordedNotes asks about the steps of a job that are not on record though later ones are.
// Those about which something is dangerous block: whether the vehicle is safe to work on is
// not known.
func UnrecordedNotes(p Plan, j *job.State, sh *shop.Shop, today unit.Date) []diag.Note {
	var out []diag.Note
	for _, dangerous := range []bool{true, false} {
		var which []string
		for _, u := range UnrecordedOf(p, j, sh, today) {
			if u.Makes == dangerous {
				which = append(which, u.words(p))
			}
		}
		if len(which) == 0 {
			continue
		}
		n := diag.Say("plan.unrecorded", "{job}: not on record as done, though work that comes after it is: {steps}", j.ID, strings.Join(which, "; ")).Note(diag.Note{Severity: diag.Caution, Where: j.ID, Hint: "until they are recorded they are planned as still to do, and nothing that comes after them before; were they done? Record them (" + j.Place("actuals") + ")", Remedy: diag.Do(job.ToRecord)})
		if dangerous {
			n.Code, n.Severity = "plan.unrecorded-danger", diag.Blocking
			n.Hint = "stop work until somebody has seen whether they were done, and record them or do them; nothing that comes after them is planned before"
		}
		out = append(out, n)
	}
	return out
}

// words is the step and what was recorded after it.
func (u Unrecorded) words(p Plan) string {
	begun := ""
	if u.Going {
		begun = " (only under way)"
	}
	i := slices.IndexFunc(p.Steps, func(s Step) bool { return s.ID == u.Later })
	return fmt.Sprintf("%s %q%s, before %s %q of %s", u.Step, u.Name, begun, u.Later, p.Steps[i].Name, u.Done.On)
}

// openedByRefit takes what opens the way to a part as done, with the day of the record, when
// the part is recorded as back on.
func openedByRefit(p Plan, seen map[string]job.Actual) {
	for _, on := range p.Steps {
		a, ok := seen[on.ID]
		if word, _, _ := strings.Cut(on.Ref, " "); !ok || word != "on" {
			continue
		}
		for _, s := range p.Steps {
			if b, begun := seen[s.ID]; s.Phase == PhaseOpen && s.Part == on.Part && (!begun || b.Going) {
				a.Going, a.Left = false, 0
				seen[s.ID] = a
			}
		}
	}
}

// twoUnderWay tells of a person who has several steps under way: one of the records is wrong, or
// one of the steps waits.
func (w *week) twoUnderWay(jobs []InShop) {
	var who []string
	by := map[string][]string{}
	for k := range jobs {
		seen, _ := progress(jobs[k].Plan, jobs[k].Job, w.sh, w.from)
		for _, s := range jobs[k].Plan.Steps {
			a, ok := seen[s.ID]
			if !ok || !a.Going {
				continue
			}
			p, ok := w.sh.Signer(a.By)
			if !ok {
				continue
			}
			if len(by[p.ID]) == 0 {
				who = append(who, p.ID)
			}
			by[p.ID] = append(by[p.ID], fmt.Sprintf("%q of %s", s.Name, jobs[k].Job.ID))
		}
	}
	for _, id := range who {
		if len(by[id]) > 1 {
			w.notes = append(w.notes, diag.Say("week.two-under-way", "{job} has {count} steps under way at once: {steps}; they are planned one after the other", id, len(by[id]), list(by[id])).Note(diag.Note{Severity: diag.Caution, Where: id, Hint: "record which of them is done, or who is at the other"}))
		}
	}
}
