package app

import (
	"slices"
	"time"

	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/report"
	"fettle/internal/unit"
)

// Assessment is what the chain found: the answers to all seven questions.
type Assessment struct {
	Made    time.Time       `json:"made"`
	Version string          `json:"version"`
	Hashes  Hashes          `json:"hashes"`
	Measure measure.Result  `json:"measure"`
	After   *measure.Result `json:"measureAfter,omitempty"` // when set-ups of the stage "after" were recorded
	Inspect inspect.Result  `json:"inspect"`
	Decide  decide.Result   `json:"decide"`
	Compare compare.Result  `json:"compare"`
	Notes   []diag.Note     `json:"notes"`
	Blocked bool            `json:"blocked"` // something blocks the repair
}

// Hashes name the inputs.
type Hashes struct {
	Body string `json:"body"`
	Shop string `json:"shop"`
	Job  string `json:"job"`
}

// Assess runs the chain. The time is passed in; its day is the day the
// procedures are judged by.
func (a *App) Assess(c *Case, made time.Time, progress Progress) Assessment {
	out := Assessment{Made: made, Version: a.version, Hashes: Hashes{c.BodyHash, c.ShopHash, c.JobHash}}
	out.Notes = append(out.Notes, c.Notes...)
	keep := func(notes []diag.Note) { out.Notes = append(out.Notes, notes...) }
	var notes []diag.Note

	progress.say("which points have moved")
	out.Measure, notes = measure.Run(measureInput(c, "before"))
	keep(notes)
	if slices.ContainsFunc(c.Job.Setups, func(s job.Setup) bool { return s.Stage == "after" }) {
		after, notes := measure.Run(measureInput(c, "after"))
		out.After = &after
		keep(notes)
	}
	progress.say("where the findings lie")
	out.Inspect, notes = inspect.Run(inspect.Input{Body: c.Body, Job: c.Job, Surfaces: c.Surfaces, Today: unit.DateOf(made)})
	keep(notes)
	progress.say("what may be done")
	out.Decide, notes = decide.Run(decide.Input{Body: c.Body, Job: c.Job, Inspect: out.Inspect, Today: unit.DateOf(made)})
	keep(notes)
	progress.say("which routes there are")
	out.Compare, notes = compare.Routes(compare.Input{Body: c.Body, Shop: c.Shop, Job: c.Job,
		Measure: out.Measure, Inspect: out.Inspect, Decide: out.Decide, Surfaces: c.Surfaces})
	keep(notes)
	keep(a.supplementNotes(c, out))
	out.Notes = once(out.Notes)
	out.Blocked = !out.Decide.Permits || blocking(out.Notes)
	return out
}

// measureInput is what the measuring of one stage takes.
func measureInput(c *Case, stage string) measure.Input {
	return measure.Input{
		Points: c.Body.Points, Sections: c.Body.Sections, Setups: c.Job.Setups, Readings: c.Job.Readings, Stage: stage,
		Impact: c.Job.Impact.From, Axes: c.Body.Axes, Confidence: float64(c.Body.Confidence),
	}
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
	for _, n := range notes {
		if n.Severity == diag.Blocking {
			return true
		}
	}
	return false
}

// reportInput is the assessment as the report takes it.
func reportInput(c *Case, r Assessment) report.Input {
	return report.Input{
		Body: c.Body, Shop: c.Shop, Job: c.Job, Surfaces: c.Surfaces,
		Measure: r.Measure, After: r.After, Inspect: r.Inspect, Decide: r.Decide, Compare: r.Compare, Notes: r.Notes,
		Meta: report.Meta{Made: r.Made, Version: r.Version, BodyHash: c.BodyHash, ShopHash: c.ShopHash, JobHash: c.JobHash},
	}
}

// Report is the document as one self-contained HTML file.
func (a *App) Report(c *Case, r Assessment) ([]byte, error) { return report.HTML(reportInput(c, r)) }

// Summary is the answers in short, for a terminal of the given width.
func (a *App) Summary(c *Case, r Assessment, width int) string {
	return report.Summary(reportInput(c, r), width)
}
