package job

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/doc"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// WorkStep is a step of a plan, as far as records of work are held against it.
type WorkStep struct {
	Ref   string // what it is, in every plan; a record may name it so where its name does not tell
	Name  string
	For   []FindingID
	Skill body.SkillID
}

// Work is what the records of work of a job say of the steps of a plan. A record
// that does not stand is among the faults, and nothing else here rests on it.
type Work struct {
	Steps  []Doings // of each step of the plan, in its order
	Beyond []Beyond // work that no step of the plan has, and that says so
	Faults []WorkFault
}

// Doings is the times that one step was begun or done, the last one last.
type Doings []Doing

// Beyond is work beyond the plan.
type Beyond struct {
	Step    string
	Finding FindingID
	Skill   body.SkillID
	Why     string
	Doings  Doings
}

// Doing is one time that a step was begun or done. A record of a step that is under
// way has the minutes and parts so far, so that the next one takes its place.
type Doing struct {
	Records []int  // places among the actuals, in the order of their days
	Last    Actual // how it stands by the last of them
	Parts   []PartUsed
	Again   string // why it was not the first time
}

// Done says that the step was done, and is not under way again.
func (d Doings) Done() bool { return len(d) > 0 && !d[len(d)-1].Last.Going }

// Minutes is what all times together took so far.
func (d Doings) Minutes() unit.Minutes {
	sum := unit.Minutes(0)
	for _, x := range d {
		sum += x.Last.Minutes
	}
	return sum
}

// Left is what a step under way still takes.
func (d Doings) Left() unit.Minutes {
	if len(d) == 0 {
		return 0
	}
	return d[len(d)-1].Last.Left
}

// WorkFaultKind is a sort of fault of a record of work.
type WorkFaultKind string

// Sorts of faults of a record of work.
const (
	WorkSigner WorkFaultKind = "signer" // signed by nobody, by nobody of the shop, or by somebody who does not do such work
	WorkDay    WorkFaultKind = "day"
	WorkNoStep WorkFaultKind = "no step" // of this plan; another plan may have it
	WorkTwice  WorkFaultKind = "twice"   // the step is on record already
	WorkLess   WorkFaultKind = "less"    // fewer minutes or parts than were on record
)

// WorkFault is why a record of work does not count.
type WorkFault struct {
	At         int    // place among the actuals
	Field      string // "by", "parts[0].count"
	Kind       WorkFaultKind
	Text, Hint string
}

// Work holds the records of work against the steps of a plan. A record counts when
//
//   - it is signed by a person of the shop file who works in the skill of the step,
//     on a day from the opening of the job to today (see Falls);
//   - it is about one step of the plan: by its name, and by its finding where several
//     steps have the name; or it says why no step has it ('unplanned');
//   - the step is not on record as done already, or the record says why it was done
//     again ('again');
//   - it has no fewer minutes and parts than what it takes the place of.
func (s *State) Work(steps []WorkStep, sh *shop.Shop, today unit.Date) Work {
	w := &working{s: s, sh: sh, today: today, steps: steps, out: Work{Steps: make([]Doings, len(steps))}, tried: map[string]bool{}}
	order := make([]int, len(s.Actuals))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		x, y := s.Actuals[a], s.Actuals[b]
		return cmp.Compare(x.On.String(), y.On.String())
	})
	for _, i := range order {
		w.take(i)
	}
	slices.SortStableFunc(w.out.Faults, func(a, b WorkFault) int { return cmp.Compare(a.At, b.At) })
	return w.out
}

// working holds what one call of Work works with.
type working struct {
	s     *State
	sh    *shop.Shop
	today unit.Date
	steps []WorkStep
	out   Work
	tried map[string]bool // steps that any record is about, sound or not
}

func (w *working) fault(i int, field string, kind WorkFaultKind, text, hint string) {
	w.out.Faults = append(w.out.Faults, WorkFault{i, field, kind, text, hint})
}

// take puts one record where it belongs, or says why it does not count.
func (w *working) take(i int) {
	a := w.s.Actuals[i]
	before := len(w.out.Faults)
	w.signed(i, a)
	if a.Unplanned != "" {
		w.skilled(i, a, a.Skill)
		w.priced(i, a.Skill)
		k := w.beyond(a)
		w.doing(i, a, &w.out.Beyond[k].Doings, fmt.Sprintf("beyond %q %q %q", strings.ToLower(a.Step), a.Finding, a.Skill), len(w.out.Faults) > before)
		if len(w.out.Beyond[k].Doings) == 0 {
			w.out.Beyond = slices.Delete(w.out.Beyond, k, k+1)
		}
		return
	}
	about := About(w.steps, a)
	if len(about) != 1 {
		field, text, hint := w.misfit(a, about)
		w.fault(i, field, WorkNoStep, text, hint)
		return
	}
	k := about[0]
	w.skilled(i, a, w.steps[k].Skill)
	w.doing(i, a, &w.out.Steps[k], fmt.Sprint(k), len(w.out.Faults) > before)
}

// signed tells who did not sign a record, and of a day on which it cannot have been.
func (w *working) signed(i int, a Actual) {
	for _, f := range w.s.ActFaults(Act{By: a.By, On: a.On}, w.sh, w.today) {
		w.fault(i, f.Field, f.Kind, f.Text, f.Hint)
	}
}

// ActFaults is why something that is dated and signed does not stand, with the field that
// is at fault: "by" or "on"; see Falls.
func (s *State) ActFaults(a Act, sh *shop.Shop, today unit.Date) []WorkFault {
	var out []WorkFault
	who := signer(a, sh)
	if who != "" {
		hint := ""
		if sh != nil && len(sh.People) <= 12 {
			hint = "people: " + strings.Join(names(sh.People, func(p shop.Person) string { return p.ID }).list, ", ")
		}
		out = append(out, WorkFault{Field: "by", Kind: WorkSigner, Text: who, Hint: hint})
	}
	for _, why := range s.Faults(a, sh, today) {
		if why != who {
			out = append(out, WorkFault{Field: "on", Kind: WorkDay, Text: why, Hint: "enter the day on which it was done"})
		}
	}
	return out
}

// skilled tells of a person who does not do such work. Who signs for work that
// another firm does is not asked for its skill.
func (w *working) skilled(i int, a Actual, skill body.SkillID) {
	if why := Unskilled(a.By, skill, w.sh); why != "" {
		w.fault(i, "by", WorkSigner, why, "say who did it")
	}
}

// Unskilled says that a person does not work in a skill of the shop; empty when the
// person does, when another firm does such work, and of nobody.
func Unskilled(by string, skill body.SkillID, sh *shop.Shop) string {
	if sh == nil || skill == "" {
		return ""
	}
	p, ok := sh.Signer(by)
	if _, sublet := sh.Sublet(skill); ok && !sublet && !slices.Contains(p.Skills, skill) {
		return fmt.Sprintf("%s does not work as %s", p.ID, skill)
	}
	return ""
}

// priced tells of a skill that the shop has no rate for.
func (w *working) priced(i int, skill body.SkillID) {
	if w.sh == nil {
		return
	}
	_, rate := w.sh.Rate(skill)
	if _, sublet := w.sh.Sublet(skill); !rate && !sublet {
		var all []string
		for _, r := range w.sh.Rates {
			all = append(all, string(r.Skill))
		}
		w.fault(i, "skill", WorkSigner, fmt.Sprintf("the shop has no rate for the skill %q", skill), cmp.Or(doc.DidYouMean(string(skill), all), "rates: "+strings.Join(all, ", ")))
	}
}

// beyond is the place of work beyond the plan that a record is about.
func (w *working) beyond(a Actual) int {
	for k, b := range w.out.Beyond {
		if strings.EqualFold(b.Step, a.Step) && b.Finding == a.Finding && b.Skill == a.Skill {
			return k
		}
	}
	w.out.Beyond = append(w.out.Beyond, Beyond{a.Step, a.Finding, a.Skill, a.Unplanned, nil})
	return len(w.out.Beyond) - 1
}

// About is the steps of a plan that a record may be about, by name and finding. A record
// that names no finding is about a step only when no other has its name.
func About(steps []WorkStep, a Actual) []int {
	var out []int
	for k, s := range steps {
		if s.Ref != "" && s.Ref == a.Step {
			return []int{k}
		}
		if strings.EqualFold(s.Name, a.Step) && (a.Finding == "" || slices.Contains(s.For, a.Finding)) {
			out = append(out, k)
		}
	}
	return out
}

// misfit says why a record is about no step, or about more than one.
func (w *working) misfit(a Actual, about []int) (field, text, hint string) {
	var all, findings []string
	for _, s := range w.steps {
		all = append(all, s.Name)
		if strings.EqualFold(s.Name, a.Step) {
			findings = append(findings, fmt.Sprint(s.For))
		}
	}
	switch {
	case len(about) > 1 && a.Finding == "":
		return "step", fmt.Sprintf("%d steps of the plan are called %q", len(about), a.Step), "say with 'finding' which one: of " + strings.Join(findings, ", ")
	case len(about) > 1:
		return "finding", fmt.Sprintf("%d steps of the plan are called %q and are for %s", len(about), a.Step, a.Finding), NameByRef
	case len(findings) > 0:
		return "finding", fmt.Sprintf("no step %q of the plan is for %s", a.Step, a.Finding), "it is for " + strings.Join(findings, ", ")
	}
	hint = "say under 'unplanned' why it was done though no step of the plan has it"
	if len(w.out.Faults) < maxHints {
		if meant := doc.DidYouMean(a.Step, all); meant != "" {
			hint = meant + "; else " + hint
		}
	}
	return "step", fmt.Sprintf("no step of the plan is called %q", a.Step), hint
}

// doing adds a record to the times that its step was done. A record that does not
// stand only tells that the step was tried.
func (w *working) doing(i int, a Actual, to *Doings, key string, fallen bool) {
	tried := w.tried[key]
	w.tried[key] = true
	n := len(*to)
	open := n > 0 && (*to)[n-1].Last.Going && (a.Again == "" || a.Again == (*to)[n-1].Again)
	switch {
	case fallen:
		return
	case a.Again != "" && !tried:
		w.fault(i, "again", WorkTwice, fmt.Sprintf("nothing on record says that %q was done before", a.Step), "leave 'again' out, or record the first time too")
		return
	case n > 0 && !open && a.Again == "":
		last := (*to)[n-1]
		w.fault(i, "step", WorkTwice, fmt.Sprintf("%q is on record as done on %s already (%s)", a.Step, last.Last.On, w.s.place(last.Records[len(last.Records)-1])),
			"say under 'again' why it was done again, or correct the record that there is")
		return
	case !open:
		*to = append(*to, Doing{Records: []int{i}, Last: a, Parts: a.Parts, Again: a.Again})
		return
	}
	d := &(*to)[n-1]
	if field, text := d.less(a); text != "" {
		w.fault(i, field, WorkLess, text, "a record has all minutes and parts of a step so far: those of the records before it count in")
		return
	}
	d.Records, d.Last, d.Parts = append(d.Records, i), a, d.soFar(a)
}

// place is where a record stands.
func (s *State) place(i int) string {
	if id := s.Actuals[i].ID; id != "" {
		return "record " + id
	}
	if p := s.Problem(fmt.Sprintf("actuals[%d]", i), "", ""); p.Line > 0 {
		return fmt.Sprintf("line %d", p.Line)
	}
	return fmt.Sprintf("entry %d", i+1)
}

// less says what a later record of a step has less of than the one before it.
func (d Doing) less(a Actual) (field, text string) {
	if a.Minutes < d.Last.Minutes {
		return "minutes", fmt.Sprintf("%s in all, and %s were on record on %s", a.Minutes, d.Last.Minutes, d.Last.On)
	}
	for k, p := range a.Parts {
		if was, is := countOf(d.Parts, p.ID), countOf(a.Parts, p.ID); is < was {
			return fmt.Sprintf("parts[%d].count", k), fmt.Sprintf("%d of %s in all, and %d were on record on %s", is, p.ID, was, d.Last.On)
		}
	}
	return "", ""
}

// soFar is the parts of a step after one more record of it: what the record names as it
// names it, and what it does not name as it was.
func (d Doing) soFar(a Actual) []PartUsed {
	out := slices.Clone(a.Parts)
	for _, p := range d.Parts {
		if countOf(a.Parts, p.ID) == 0 {
			out = append(out, p)
		}
	}
	return out
}

func countOf(parts []PartUsed, id string) int {
	n := 0
	for _, p := range parts {
		if p.ID == id {
			n += p.Count
		}
	}
	return n
}
