package app

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"fettle/internal/body"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/doc"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/plan"
	"fettle/internal/report"
	"fettle/internal/unit"
)

// Assessment is what the chain found: the answers to all seven questions.
type Assessment struct {
	Format  string          `json:"format"`
	Made    time.Time       `json:"made"`
	Version string          `json:"version"`
	Build   Build           `json:"build"`
	Inputs  []Input         `json:"inputs"` // every file it was made from
	Hashes  Hashes          `json:"hashes"`
	Measure measure.Result  `json:"measure"`
	During  *measure.Result `json:"measureDuring,omitempty"` // when set-ups of the stage "during" were recorded
	After   *measure.Result `json:"measureAfter,omitempty"`  // when set-ups of the stage "after" were recorded
	// Progress compares the stages: before and during, during and after, before
	// and after, as far as they were measured.
	Progress  []measure.Progress `json:"progress,omitempty"`
	Inspect   inspect.Result     `json:"inspect"`
	Decide    decide.Result      `json:"decide"`
	Compare   compare.Result     `json:"compare"`
	LastEvent *Head              `json:"lastEvent,omitempty"` // of a stored job; a state written by hand has none
	Evidence  []Evidence         `json:"evidence"`            // as it was read
	History   []cost.History     `json:"history,omitempty"`   // what steps took in earlier jobs, when they were named
	// EarlierJobs are the folders of those jobs, from the folder of this one.
	EarlierJobs []string        `json:"earlierJobs,omitempty"`
	Readings    []ReadingRecord `json:"readings"` // as they were read
	Nominals    []Nominal       `json:"nominals"` // likewise
	Notes       []diag.Note     `json:"notes"`
	Blocked     bool            `json:"blocked"` // something blocks the repair
}

// Hashes name the inputs.
type Hashes struct {
	Body     string `json:"body"`
	Shop     string `json:"shop"`
	Job      string `json:"job"`
	Evidence string `json:"evidence"` // of all pieces as they were read
}

// Assess runs the chain. The time is passed in; its day is the day the
// procedures are judged by.
func (a *App) Assess(c *Case, made time.Time, progress Progress) Assessment {
	out := Assessment{Format: AssessmentFormat, Made: made, Version: a.version, Build: a.thisBuild(), Inputs: c.inputs(), Readings: readingRecords(c.Job.Readings), Nominals: nominals(c.Body.Points), Hashes: Hashes{c.BodyHash, c.ShopHash, c.JobHash, evidenceHash(c.Evidence)}, LastEvent: c.lastEvent(), Evidence: append([]Evidence{}, c.Evidence...)}
	out.Notes = append(out.Notes, c.Notes...)
	keep := func(notes []diag.Note) { out.Notes = append(out.Notes, notes...) }
	keep(evidenceNotes(c.Evidence))
	var notes []diag.Note

	progress.say("which points have moved")
	out.Measure, notes = measure.Run(measureInput(c, job.StageBefore))
	keep(notes)
	keep(laterStages(c, &out))
	progress.say("where the findings lie")
	out.Inspect, notes = inspect.Run(inspect.Input{Body: c.Body, Job: c.Job, Vehicle: c.Vehicle, Shop: c.Shop, Today: unit.DateOf(made)})
	keep(notes)
	a.remember(c, out.Inspect, unit.DateOf(made))
	progress.say("what may be done")
	out.Decide, notes = decide.Run(decideInput(c, out))
	keep(notes)
	for _, f := range decide.Acceptances(c.Job, out.Decide) {
		keep([]diag.Note{f.Note})
	}
	progress.say("which routes there are")
	routes := compareInput(c, out)
	routes.Known = a.bodies.schedules()
	out.Compare, notes = compare.Routes(routes)
	keep(notes)
	keep(staleChoice(c, out))
	keep(pastStart(c.Job, unit.DateOf(made), begun(c, out)))
	keep(a.workNotes(c, out))
	nearlyAsCheap(c, &out)
	keep(a.supplementNotes(c, out))
	keep(a.pickedStops(c, out))
	out.Notes = once(out.Notes)
	out.Blocked = !out.Decide.Permits || blocking(out.Notes)
	return out
}

// decideInput is what the decisions of an assessment are made from.
func decideInput(c *Case, r Assessment) decide.Input {
	return decide.Input{Body: c.Body, Shop: c.Shop, Job: c.Job, Inspect: r.Inspect, Today: unit.DateOf(r.Made)}
}

// compareInput is what the routes of an assessment are made from.
func compareInput(c *Case, r Assessment) compare.Input {
	return compare.Input{Body: c.Body, Shop: c.Shop, Job: c.Job, Measure: r.Measure, Inspect: r.Inspect, Decide: r.Decide,
		Left: decide.LeftByAnswer(decideInput(c, r)), Vehicle: c.Vehicle}
}

// pastStart tells when the work was to begin before today and none of it is on record: then
// the plan lies in the past.
func pastStart(j *job.State, today unit.Date, begun bool) []diag.Note {
	start := j.Start
	if start.IsZero() || !start.Before(today) || begun {
		return nil
	}
	days := int(today.Time().Sub(start.Time()).Hours() / 24)
	return []diag.Note{{Code: "plan.start-past", Severity: diag.Caution, Where: "job", Text: fmt.Sprintf("the work was to start on %s, %s ago, and none of it is on record: the days of the plan lie in the past", start, unit.Count(days, "day")),
		Hint: "give the day it starts ('start' in job.yaml), or record what is done"}}
}

// staleChoice tells of a choice that names no route there is: what a person
// decided on cannot be done any more, or never could.
func staleChoice(c *Case, r Assessment) []diag.Note {
	n := len(c.Job.Choices)
	if n == 0 {
		return nil
	}
	last := c.Job.Choices[n-1].Route
	var known []string
	for _, route := range r.Compare.Routes {
		if route.ID == last {
			return nil
		}
		known = append(known, route.ID)
	}
	return []diag.Note{{Code: "choice.no-such-route", Severity: diag.Blocking, Where: last,
		Text: "the route that was chosen is not among the routes", Hint: "choose again; " + doc.DidYouMean(last, known)}}
}

// nearlyAsCheap gives every plan the other openings that cost hardly more.
func nearlyAsCheap(c *Case, out *Assessment) {
	for i := range out.Compare.Routes {
		r := &out.Compare.Routes[i]
		if len(r.Plan.Removal) > 0 {
			r.Plan.Nearly, r.Plan.NearlyAll = plan.Alternatives(plan.Input{Body: c.Body, Shop: c.Shop, Job: c.Job, Inspect: out.Inspect, Choice: plan.Choice{Items: r.Items}})
		}
	}
}

// laterStages analyses what was measured during and after the repair, and holds
// the stages against one another. It gives the notes.
func laterStages(c *Case, out *Assessment) []diag.Note {
	var notes []diag.Note
	stage := func(name string) *measure.Result {
		if !slices.ContainsFunc(c.Job.Setups, func(s job.Setup) bool { return s.Stage == name }) {
			return nil
		}
		r, found := measure.Run(measureInput(c, name))
		notes = append(notes, staged(name, found)...)
		return &r
	}
	out.During, out.After = stage(job.StageDuring), stage(job.StageAfter)
	compared := func(from, to *measure.Result) {
		if from == nil || to == nil {
			return
		}
		p := measure.Compare(c.Body.Points, *from, *to)
		out.Progress = append(out.Progress, p)
		for _, n := range p.Notes {
			n.Severity = min(n.Severity, diag.Caution) // it is the verdicts that do not permit
			notes = append(notes, n)
		}
	}
	compared(&out.Measure, out.During)
	compared(out.During, out.After)
	compared(&out.Measure, out.After)
	return notes
}

// staged says in each note which stage it is about. What was wrong during the
// repair does not block it: only what is measured before and after decides.
func staged(stage string, notes []diag.Note) []diag.Note {
	out := slices.Clone(notes)
	for i := range out {
		out[i].Where = strings.TrimSpace(out[i].Where + ", " + stage + " the repair")
		if stage == job.StageDuring {
			out[i].Severity = min(out[i].Severity, diag.Caution)
		}
	}
	return out
}

// measureInput is what the measuring of one stage takes.
func measureInput(c *Case, stage string) measure.Input {
	return measure.Input{
		Points: c.Body.Points, Sections: c.Body.Sections, Setups: c.Job.Setups, Readings: c.Job.Readings, Stage: stage,
		Impact: c.Job.Impact.From, Axes: c.Body.Axes, Confidence: float64(c.Body.Confidence),
		Thermal: thermalOf(c.Body.Thermal), Seed: uint64(c.Job.Seed),
	}
}

// thermalOf is how the body grows, in the numbers of the measuring stage.
func thermalOf(t *body.Thermal) measure.Thermal {
	if t == nil {
		return measure.Thermal{}
	}
	perK, std := t.Mean()
	return measure.Thermal{BodyPerK: perK * 1e-6, PerKStd: std * 1e-6, ReferenceC: float64(t.Reference), LowC: float64(t.Low), HighC: float64(t.High)}
}

// once drops repeated notes and keeps their order.
func once(notes []diag.Note) []diag.Note {
	seen := map[diag.Note]bool{}
	out := make([]diag.Note, 0, len(notes))
	for _, n := range notes {
		if !seen[n] {
			seen[n] = true
			out = append(out, n)
		}
	}
	return out
}

func blocking(notes []diag.Note) bool {
	return slices.ContainsFunc(notes, diag.Note.Blocks)
}

// reportInput is the assessment as the report takes it.
func reportInput(c *Case, r Assessment) report.Input {
	return report.Input{
		Body: c.Body, Shop: c.Shop, Job: c.Job, Vehicle: c.Vehicle,
		Measure: r.Measure, During: r.During, After: r.After, Progress: r.Progress, Inspect: r.Inspect, Decide: r.Decide, Compare: r.Compare, History: r.History, Notes: r.Notes,
		Meta:     report.Meta{Made: r.Made, Version: r.Version, BodyHash: c.BodyHash, ShopHash: c.ShopHash, JobHash: c.JobHash, History: historyWords(r.LastEvent), HeadHash: r.LastEvent.orNone().Hash, EvidenceHash: r.Hashes.Evidence},
		Evidence: hashesOf(c.Evidence),
	}
}

// Report is the document as one self-contained HTML file; in full with what stands behind
// each finding.
func (a *App) Report(c *Case, r Assessment, full bool) ([]byte, error) {
	in := reportInput(c, r)
	in.Full = full
	in.Photos = a.pictures(c)
	return report.HTML(in)
}

// OwnerPage is one page for the owner of the vehicle, in plain words.
func (a *App) OwnerPage(c *Case, r Assessment) ([]byte, error) {
	return report.Owner(reportInput(c, r))
}

// Sheets is the day sheets of a route as one self-contained HTML file.
func (a *App) Sheets(c *Case, r Assessment, route compare.Route) ([]byte, error) {
	r.Notes = once(append(slices.Clone(r.Notes), routeStops(c, r, route)...))
	return report.Sheets(reportInput(c, r), route)
}

// Summary is the answers in short, for a terminal of the given width.
func (a *App) Summary(c *Case, r Assessment, width int) string {
	return report.Summary(reportInput(c, r), width)
}
