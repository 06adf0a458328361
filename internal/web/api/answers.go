package api

import (
	"context"
	"net/http"

	"fettle/internal/app"
	"fettle/internal/compare"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/explain"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/measure"
)

// Asking is what an answer about a job is asked with.
type Asking struct {
	OfJob
	OnDay
	Has
}

// Routed is that with a route.
type Routed struct {
	Asking
	Route string `query:"route" maxLength:"200" doc:"The route; the chosen or best one unless given."`
}

// computes makes a route whose answer is computed from a job as it stands, and tagged by that.
func computes[I, T any](s *service, r route, of func(*I) (Asking, []any), do func(context.Context, *app.As, *I, string) (T, error)) {
	r.method, r.tagged = http.MethodGet, true
	r.group = "answers"
	serve(s, r, func(ctx context.Context, as *app.As, in *I) (*answer[Computed[T]], error) {
		a, more := of(in)
		day := s.day(a.On)
		made, err := s.fresh(ctx, as, a.Has, []string{a.Job}, append(more, r.id, day)...)
		if err != nil {
			return nil, err
		}
		v, err := do(ctx, as, in, day)
		return &answer[Computed[T]]{made, Computed[T]{v}}, err
	})
}

// draws is computes of a page.
func draws[I any](s *service, r route, of func(*I) (Asking, []any), do func(context.Context, *app.As, *I, string) ([]byte, error)) {
	r.method, r.tagged, r.gives = http.MethodGet, true, "text/html; charset=utf-8"
	r.group = "answers"
	serve(s, r, func(ctx context.Context, as *app.As, in *I) (*file, error) {
		a, more := of(in)
		day := s.day(a.On)
		made, err := s.fresh(ctx, as, a.Has, []string{a.Job}, append(more, r.id, day)...)
		if err != nil {
			return nil, err
		}
		text, err := do(ctx, as, in, day)
		return &file{made, r.gives, text}, err
	})
}

func ofAsking(in *Asking) (Asking, []any) { return *in, nil }
func ofRouted(in *Routed) (Asking, []any) { return in.Asking, []any{in.Route} }

// partOf is a part of an assessment.
func partOf[T any](of func(app.Assessment) T) func(context.Context, *app.As, *Asking, string) (T, error) {
	return func(ctx context.Context, as *app.As, in *Asking, day string) (T, error) {
		r, err := as.Assess(ctx, in.Job, day)
		return of(r), err
	}
}

// Checked is what was found to be sound, and remarks that are no faults.
type Checked struct {
	Documents []string    `json:"documents"`
	Notes     []diag.Note `json:"notes"`
}

// Order is what a route orders, as a table.
type Order struct {
	Columns []string   `json:"columns"`
	Rows    [][]string `json:"rows"`
}

func (s *service) answers() {
	computes(s, route{id: "assessment", path: "/jobs/{job}/assessment", says: "Everything that is computed of a job, from readings to routes."}, ofAsking, partOf(func(r app.Assessment) app.Assessment { return r }))
	computes(s, route{id: "measurement", path: "/jobs/{job}/measurement", says: "Which points have moved: the verdicts of the control points."}, ofAsking, partOf(func(r app.Assessment) measure.Result { return r.Measure }))
	computes(s, route{id: "inspection", path: "/jobs/{job}/inspection", says: "Where the findings lie on the casting."}, ofAsking, partOf(func(r app.Assessment) inspect.Result { return r.Inspect }))
	computes(s, route{id: "decisions", path: "/jobs/{job}/decisions", says: "What may be done about each finding, and what has to be asked."}, ofAsking, partOf(func(r app.Assessment) decide.Result { return r.Decide }))
	computes(s, route{id: "routes", path: "/jobs/{job}/routes", says: "Every way through, ranked."}, ofAsking, partOf(func(r app.Assessment) compare.Result { return r.Compare }))
	computes(s, route{id: "plan", path: "/jobs/{job}/plan", says: "One way through: what comes off, steps by day, what to order, what it costs."}, ofRouted,
		func(ctx context.Context, as *app.As, in *Routed, day string) (app.PlanView, error) {
			return as.Plan(ctx, in.Job, day, in.Route)
		})
	computes(s, route{id: "order", path: "/jobs/{job}/order", says: "What a route orders, as a table."}, ofRouted,
		func(ctx context.Context, as *app.As, in *Routed, day string) (Order, error) {
			sheet, err := as.OrderList(ctx, in.Job, day, in.Route)
			out := Order{Rows: sheet.Rows}
			for _, c := range sheet.Columns {
				out.Columns = append(out.Columns, c.Name)
			}
			return out, err
		})
	type what struct {
		Asking
		What string `query:"what" required:"true" maxLength:"400" doc:"Anything by the name it is printed with, or a figure as it is printed."`
	}
	computes(s, route{id: "explain", path: "/jobs/{job}/explain", says: "The reasons behind anything that is printed."}, func(in *what) (Asking, []any) { return in.Asking, []any{in.What} },
		func(ctx context.Context, as *app.As, in *what, day string) (explain.Reason, error) {
			return as.Explain(ctx, in.Job, day, in.What)
		})
	computes(s, route{id: "release", path: "/jobs/{job}/release", says: "What is still missing before the vehicle may be handed back."}, ofAsking,
		func(ctx context.Context, as *app.As, in *Asking, day string) (app.Release, error) {
			return as.Missing(ctx, in.Job, day)
		})
	computes(s, route{id: "check-job", path: "/jobs/{job}/check", says: "The faults of a job, and remarks that are none.", refuses: toolRefuses}, ofAsking,
		func(ctx context.Context, as *app.As, in *Asking, day string) (Checked, error) {
			return checked(as.Check(ctx, in.Job, day))
		})
	s.opening()
	draws(s, route{id: "report", path: "/jobs/{job}/report", says: "The report, as a page."}, func(in *struct {
		Asking
		Full bool `query:"full" doc:"With the annex: every fact behind each finding."`
	}) (Asking, []any) {
		return in.Asking, []any{in.Full}
	},
		func(ctx context.Context, as *app.As, in *struct {
			Asking
			Full bool `query:"full" doc:"With the annex: every fact behind each finding."`
		}, day string) ([]byte, error) {
			return as.Report(ctx, in.Job, day, in.Full)
		})
	draws(s, route{id: "owner-page", path: "/jobs/{job}/owner", says: "The page for whom the vehicle belongs to."}, ofAsking,
		func(ctx context.Context, as *app.As, in *Asking, day string) ([]byte, error) {
			return as.Owner(ctx, in.Job, day)
		})
	draws(s, route{id: "sheets", path: "/jobs/{job}/sheets", says: "The day sheets for the bay, one for each person and day."}, ofRouted,
		func(ctx context.Context, as *app.As, in *Routed, day string) ([]byte, error) {
			return as.Sheets(ctx, in.Job, day, in.Route)
		})
}

func checked(c app.Checked, err error) (Checked, error) {
	return Checked{c.Documents, c.Notes}, err
}

// opening is what comes off to inspect, and which lengths to take next.
func (s *service) opening() {
	type off struct {
		Asking
		Off []string `query:"off" doc:"Parts that are off already, commas between."`
	}
	ofOff := func(in *off) (Asking, []any) { return in.Asking, []any{in.Off} }
	computes(s, route{id: "expose", path: "/jobs/{job}/expose", says: "What comes off so that every area that is not inspected yet can be."}, ofOff,
		func(ctx context.Context, as *app.As, in *off, day string) (app.Exposed, error) {
			x, _, err := as.Expose(ctx, in.Job, day, in.Off, nil, false)
			return x, err
		})
	draws(s, route{id: "expose-sheet", path: "/jobs/{job}/expose-sheet", says: "The same as a sheet."}, ofOff,
		func(ctx context.Context, as *app.As, in *off, day string) ([]byte, error) {
			_, page, err := as.Expose(ctx, in.Job, day, in.Off, nil, true)
			return page, err
		})
	type gauge struct {
		Asking
		Stage   string  `query:"stage" enum:"before,during,after" default:"before"`
		Std     float64 `query:"std" minimum:"0" doc:"Standard uncertainty of one length in millimetres; 0: that of the job's."`
		Longest float64 `query:"longest" minimum:"0" doc:"Longest length that the gauge reads in millimetres; 0: any."`
		Most    int     `query:"most" minimum:"1" maximum:"24" default:"24"`
	}
	ofGauge := func(in *gauge) (Asking, []any) { return in.Asking, []any{in.Stage, in.Std, in.Longest, in.Most} }
	options := func(in *gauge) app.LengthsOptions {
		return app.LengthsOptions{Stage: job.Stage(in.Stage), StdMM: in.Std, LongestMM: in.Longest, Most: in.Most}
	}
	computes(s, route{id: "lengths", path: "/jobs/{job}/lengths", says: "Which lengths to take next with a tape or tram gauge.", refuses: toolRefuses}, ofGauge,
		func(ctx context.Context, as *app.As, in *gauge, day string) (app.NextLengths, error) {
			n, _, err := as.Lengths(ctx, in.Job, day, options(in), false)
			return n, err
		})
	draws(s, route{id: "lengths-page", path: "/jobs/{job}/lengths-page", says: "The same as a page to fill in by hand.", refuses: toolRefuses}, ofGauge,
		func(ctx context.Context, as *app.As, in *gauge, day string) ([]byte, error) {
			_, page, err := as.Lengths(ctx, in.Job, day, options(in), true)
			return page, err
		})
}
