package app

import (
	"context"
	"slices"
	"time"

	"fettle/internal/assess"
	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/report"
	"fettle/internal/unit"
)

// Assessment is what the chain found: the answers to all seven questions.
type Assessment struct {
	Format  string    `json:"format"`
	Made    time.Time `json:"made"`
	Version string    `json:"version"`
	Build   Build     `json:"build"`
	Inputs  []Input   `json:"inputs"` // every file it was made from
	Hashes  Hashes    `json:"hashes"`
	assess.Result
	LastEvent *Head          `json:"lastEvent,omitempty"` // of a stored job; a state written by hand has none
	Evidence  []Evidence     `json:"evidence"`            // as it was read
	History   []cost.History `json:"history,omitempty"`   // what steps took in earlier jobs, when they were named
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
func (a *App) Assess(ctx context.Context, c *Opened, made time.Time) (Assessment, error) {
	return while(ctx, func(w *halt.Work) (Assessment, error) { return a.assess(w, c, made), nil })
}

func (a *App) assess(w *halt.Work, c *Opened, made time.Time) Assessment {
	defer a.turns.Take(w)()
	out := Assessment{Format: AssessmentFormat, Made: made, Version: a.version, Build: a.thisBuild(), Inputs: c.inputs(), Readings: readingRecords(c.Job.Readings), Nominals: nominals(c.Body.Points), Hashes: Hashes{c.BodyHash, c.ShopHash, c.JobHash, evidenceHash(c.Evidence)}, LastEvent: c.lastEvent(), Evidence: append([]Evidence{}, c.Evidence...)}
	out.Notes = append(out.Notes, c.Notes...)
	out.Notes = append(out.Notes, evidenceNotes(c.Evidence)...)
	out.Notes = append(out.Notes, proposalNotes(c.Job)...)
	in := c.on(unit.DateOf(made))
	in.Work = w
	verdicts, notes := assess.Judge(in)
	out.Notes = append(out.Notes, notes...)
	a.remember(w, c, verdicts.Inspect, in.Today)
	out.Result, notes = assess.Routes(in, verdicts, a.bodies.schedules())
	out.Notes = assess.Once(append(out.Notes, notes...))
	out.Blocked = assess.Blocked(verdicts, out.Notes)
	return out
}

// on is the job on a day, as the stages take it.
func (c *Opened) on(day unit.Date) assess.Input {
	return assess.Input{Body: c.Body, Shop: c.Shop, Job: c.Job, Vehicle: c.Vehicle, Today: day}
}

// of is the job on the day of its assessment.
func (c *Opened) of(r Assessment) assess.Input { return c.on(unit.DateOf(r.Made)) }

// reportInput is the assessment as the report takes it.
func reportInput(w *halt.Work, c *Opened, r Assessment) report.Input {
	return report.Input{
		Body: c.Body, Shop: c.Shop, Job: c.Job, Vehicle: c.Vehicle, Work: w,
		Measure: r.Measure, During: r.During, After: r.After, Progress: r.Progress, Inspect: r.Inspect, Decide: r.Decide, Compare: r.Compare, History: r.History, Notes: r.Notes,
		Meta:     report.Meta{Made: r.Made, Version: r.Version, BodyHash: c.BodyHash, ShopHash: c.ShopHash, JobHash: c.JobHash, History: historyWords(r.LastEvent), HeadHash: r.LastEvent.orNone().Hash, EvidenceHash: r.Hashes.Evidence},
		Evidence: hashesOf(c.Evidence), Maps: c.maps,
	}
}

// Report is the document as one self-contained HTML file; in full with what stands behind
// each finding.
func (a *App) Report(ctx context.Context, c *Opened, r Assessment, full bool) ([]byte, error) {
	return computing(ctx, a, func(w *halt.Work) ([]byte, error) {
		w.Begin(Drawing)
		in := reportInput(w, c, r)
		in.Full = full
		in.Photos = a.pictures(w.Context(), c)
		return report.HTML(in)
	})
}

// OwnerPage is one page for the owner of the vehicle, in plain words.
func (a *App) OwnerPage(ctx context.Context, c *Opened, r Assessment) ([]byte, error) {
	return computing(ctx, a, func(w *halt.Work) ([]byte, error) {
		w.Begin(Drawing)
		return report.Owner(reportInput(w, c, r))
	})
}

// Sheets is the day sheets of a route as one self-contained HTML file.
func (a *App) Sheets(ctx context.Context, c *Opened, r Assessment, route compare.Route) ([]byte, error) {
	return computing(ctx, a, func(w *halt.Work) ([]byte, error) { return a.sheets(w, c, r, route) })
}

func (a *App) sheets(w *halt.Work, c *Opened, r Assessment, route compare.Route) ([]byte, error) {
	r.Notes = assess.Once(append(slices.Clone(r.Notes), assess.RouteStops(c.of(r), r.Result, route)...))
	w.Begin(Drawing)
	return report.Sheets(reportInput(w, c, r), route)
}

// Summary is the answers in short, for a terminal of the given width.
func (a *App) Summary(c *Opened, r Assessment, width int) string {
	return report.Summary(reportInput(nil, c, r), width)
}
