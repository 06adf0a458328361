// Package assess is the chain of the stages: measure, inspect and decide give the
// verdicts on a vehicle, compare gives the routes that they leave. It knows documents
// as values and the day; it reads nothing, keeps nothing and asks nobody.
package assess

import (
	"slices"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/sched"
	"fettle/internal/shop"
	"fettle/internal/unit"
	"fettle/internal/vehicle"
)

// Input is one job with its documents, on one day.
type Input struct {
	Body    *body.Body
	Shop    *shop.Shop
	Job     *job.State
	Vehicle *vehicle.Vehicle
	Today   unit.Date  // the procedures are judged by it
	Work    *halt.Work // what this is part of; nil: it is not stopped
}

// Verdicts is what is known of the vehicle and what may be done with it, whatever way is
// taken: a changed finding gives new verdicts, and routes follow when somebody asks.
type Verdicts struct {
	Measure measure.Result  `json:"measure"`
	During  *measure.Result `json:"measureDuring,omitempty"` // when set-ups of the stage "during" were recorded
	After   *measure.Result `json:"measureAfter,omitempty"`  // when set-ups of the stage "after" were recorded
	// Progress compares the stages: before and during, during and after, before
	// and after, as far as they were measured.
	Progress []measure.Progress `json:"progress,omitempty"`
	Inspect  inspect.Result     `json:"inspect"`
	Decide   decide.Result      `json:"decide"`
}

// Result is the verdicts with the routes they leave.
type Result struct {
	Verdicts
	Compare compare.Result `json:"compare"`
}

// What is being done, as progress names it.
const (
	Measuring  = "measure"
	Inspecting = "inspect"
	Deciding   = "decide"
	Comparing  = "compare"
)

// Judge measures, inspects and decides.
func Judge(in Input) (Verdicts, []diag.Note) {
	var out Verdicts
	var all, notes []diag.Note
	keep := func(notes []diag.Note) { all = append(all, notes...) }
	in.Work.Begin(Measuring)
	out.Measure, notes = measure.Run(in.Measure(job.StageBefore))
	keep(notes)
	keep(movedUnspoken(in, out.Measure))
	keep(out.laterStages(in))
	in.Work.Begin(Inspecting)
	out.Inspect, notes = inspect.Run(inspect.Input{Body: in.Body, Job: in.Job, Vehicle: in.Vehicle, Shop: in.Shop, Today: in.Today, Axes: axesBy(in.Job, &out.Measure), Work: in.Work})
	keep(notes)
	in.Work.Begin(Deciding)
	out.Decide, notes = decide.Run(in.Decide(out.Measure, out.Inspect))
	keep(notes)
	for _, f := range decide.Acceptances(in.Job, out.Decide) {
		keep([]diag.Note{f.Note})
	}
	return out, all
}

// Routes are the ways that the verdicts leave, and what speaks against those that the job
// goes by. Known is schedules that were found before; nil: none.
func Routes(in Input, v Verdicts, known *sched.Known) (Result, []diag.Note) {
	out := Result{Verdicts: v}
	in.Work.Begin(Comparing)
	routes := in.Compare(v)
	routes.Known = known
	var all []diag.Note
	out.Compare, all = compare.Routes(routes)
	all = append(all, metalsUnnamed(in.Body, out.Compare.Routes)...)
	all = append(all, staleChoice(in, out)...)
	all = append(all, pastStart(in.Job, in.Today, begun(in, out))...)
	all = append(all, workNotes(in, out)...)
	nearlyAsCheap(in, &out)
	all = append(all, supplementNotes(in, out)...)
	return out, append(all, pickedStops(in, out)...)
}

// Blocked says that something blocks the repair.
func Blocked(v Verdicts, notes []diag.Note) bool {
	return !v.Decide.Permits || slices.ContainsFunc(notes, diag.Note.Blocks)
}

// Decide is what the decisions are made from.
func (in Input) Decide(measured measure.Result, found inspect.Result) decide.Input {
	return decide.Input{Body: in.Body, Shop: in.Shop, Job: in.Job, Inspect: found, Today: in.Today, Measure: func() measure.Result { return measured }}
}

// Compare is what the routes are made from.
func (in Input) Compare(v Verdicts) compare.Input {
	return compare.Input{Body: in.Body, Shop: in.Shop, Job: in.Job, Measure: v.Measure, Inspect: v.Inspect, Decide: v.Decide,
		Left: decide.LeftByAnswer(in.Decide(v.Measure, v.Inspect)), Vehicle: in.Vehicle, Work: in.Work}
}

// Once drops repeated notes and keeps their order.
func Once(notes []diag.Note) []diag.Note {
	seen := map[diag.Note]bool{}
	out := make([]diag.Note, 0, len(notes))
	for _, n := range notes {
		said := n
		said.Remedy, said.With = nil, nil // the same sentence asks for the same, and is made of the same
		if !seen[said] {
			seen[said] = true
			out = append(out, n)
		}
	}
	return out
}

// Stopping is the notes that block.
func Stopping(notes []diag.Note) []diag.Note {
	var out []diag.Note
	for _, n := range notes {
		if n.Blocks() {
			out = append(out, n)
		}
	}
	return out
}
