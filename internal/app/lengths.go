package app

import (
	"context"
	"time"

	"fettle/internal/diag"
	"fettle/internal/halt"
	"fettle/internal/job"
	"fettle/internal/measure"
	"fettle/internal/report"
	"fettle/internal/unit"
)

// MostLengths is how many lengths fit on the page.
const MostLengths = 24

// LengthsOptions is what may be said beside the job.
type LengthsOptions struct {
	Stage     job.Stage
	StdMM     float64 // standard uncertainty of one length; that of the job's own lengths when 0
	LongestMM float64 // that the gauge reads; 0: any
	Most      int     // lengths at most; what fits on the page when 0
}

// NextLengths is which lengths a job should take next.
type NextLengths struct {
	Stage job.Stage `json:"stage"`
	measure.NextLengths
}

// NextLengths finds the lengths to take next with a tape or a tram gauge.
func (a *App) NextLengths(ctx context.Context, c *Opened, o LengthsOptions) (NextLengths, error) {
	return computing(ctx, a, func(w *halt.Work) (NextLengths, error) {
		if o.Stage == "" {
			o.Stage = job.StageBefore
		}
		if o.Most <= 0 || o.Most > MostLengths {
			o.Most = MostLengths
		}
		in := c.on(unit.Date{})
		in.Work = w
		if o.StdMM == 0 {
			o.StdMM = lengthStd(c.Job, o.Stage)
		}
		if !(o.StdMM > 0) {
			return NextLengths{}, &diag.Error{Kind: diag.Invalid, Op: "lengths", Subject: "job " + c.Job.ID, Msg: "no length was read, so that it is not known how well the gauge reads one",
				Hint: "give the standard uncertainty of one length, by the shop's own trials", Remedy: job.Give(job.GiveStd)}
		}
		return NextLengths{o.Stage, measure.Next(in.Measure(o.Stage), measure.Gauge{StdMM: o.StdMM, LongestMM: o.LongestMM}, o.Most)}, nil
	})
}

// lengthStd is the largest standard uncertainty of the lengths of a stage, or 0.
func lengthStd(j *job.State, stage job.Stage) float64 {
	most := 0.0
	for _, s := range j.Setups {
		of := s.Stage
		if of == "" {
			of = job.StageBefore
		}
		for _, r := range j.Readings {
			if of != stage || r.Setup != s.ID || r.Kind != job.ReadLength {
				continue
			}
			std := float64(s.Std)
			if r.Std.Known {
				std = r.Std.Value
			}
			most = max(most, std)
		}
	}
	return most
}

// LengthsPage is the page to be printed.
func (a *App) LengthsPage(c *Opened, n NextLengths, made time.Time) ([]byte, error) {
	return report.LengthsHTML(report.LengthsInput{Body: c.Body, Job: c.Job, Stage: n.Stage, Next: n.NextLengths, Meta: report.Meta{Made: made, Version: a.version}})
}

// LengthsText is the same for a terminal.
func (a *App) LengthsText(c *Opened, n NextLengths, col Column) string {
	return report.LengthsText(c.Body.Points, n.NextLengths, col.Width)
}
