package app

import (
	"context"

	"fettle/internal/compare"
	"fettle/internal/cost"
	"fettle/internal/explain"
	"fettle/internal/format"
	"fettle/internal/job"
	"fettle/internal/right"
	"fettle/internal/unit"
)

// Assess is the assessment of a job as of a day.
func (s *As) Assess(ctx context.Context, id, on string) (Assessment, error) {
	_, _, r, err := s.assessed(ctx, id, on, right.ReadReport)
	return r, err
}

// routed opens and assesses a job and picks a route of it.
func (s *As) routed(ctx context.Context, id, on, route string) (*App, *Opened, Assessment, compare.Route, error) {
	a, c, r, err := s.assessed(ctx, id, on, right.ReadReport)
	if err != nil {
		return nil, nil, r, compare.Route{}, err
	}
	picked, err := a.Picked(c, r, route)
	return a, c, r, picked, err
}

// Plan is one route of a job; the chosen or best one unless given.
func (s *As) Plan(ctx context.Context, id, on, route string) (PlanView, error) {
	a, c, r, picked, err := s.routed(ctx, id, on, route)
	if err != nil {
		return PlanView{}, err
	}
	return a.PlanView(c, r, picked), nil
}

// Sheets is the day sheets of a route.
func (s *As) Sheets(ctx context.Context, id, on, route string) ([]byte, error) {
	a, c, r, picked, err := s.routed(ctx, id, on, route)
	if err != nil {
		return nil, err
	}
	return a.Sheets(ctx, c, r, picked)
}

// OrderList is what a route orders, as a table.
func (s *As) OrderList(ctx context.Context, id, on, route string) (format.Sheet, error) {
	a, c, r, picked, err := s.routed(ctx, id, on, route)
	if err != nil {
		return format.Sheet{}, err
	}
	return a.OrderSheet(c, r, picked), nil
}

// Report is the report of a job, and Owner the page for whom the vehicle belongs to.
func (s *As) Report(ctx context.Context, id, on string, full bool) ([]byte, error) {
	a, c, r, err := s.assessed(ctx, id, on, right.ReadReport)
	if err != nil {
		return nil, err
	}
	return a.Report(ctx, c, r, full)
}

// Owner is the page for whom the vehicle belongs to.
func (s *As) Owner(ctx context.Context, id, on string) ([]byte, error) {
	a, c, r, err := s.assessed(ctx, id, on, right.ReadReport)
	if err != nil {
		return nil, err
	}
	return a.OwnerPage(ctx, c, r)
}

// Explain is the reasons behind something that is printed.
func (s *As) Explain(ctx context.Context, id, on, what string) (explain.Reason, error) {
	a, c, r, err := s.assessed(ctx, id, on, right.ReadReport)
	if err != nil {
		return explain.Reason{}, err
	}
	return a.Explain(c, r, what)
}

// Missing is what is still missing before the vehicle may be handed back.
func (s *As) Missing(ctx context.Context, id, on string) (Release, error) {
	a, c, r, err := s.assessed(ctx, id, on, right.ReadReport)
	if err != nil {
		return Release{}, err
	}
	return a.Release(c, r), nil
}

// HandBack records that the vehicle of a job was handed back on a day, where nothing is missing.
func (s *As) HandBack(ctx context.Context, id, key, on string, h job.HandBack) (Recorded, Head, error) {
	today, err := s.today("")
	if err != nil {
		return Recorded{}, Head{}, err
	}
	a, c, r, err := s.assessed(ctx, id, on, right.SeeJob)
	if err != nil {
		return Recorded{}, Head{}, err
	}
	was, err := s.beforeChange(ctx, id, key, c)
	if err == nil && was != c {
		r, err = a.AssessOpened(ctx, was, r.Made)
	}
	if err != nil {
		return Recorded{}, Head{}, err
	}
	return s.write(ctx, id, key, was, func(c *Opened) (Recorded, error) { return a.HandBack(c, r, h, today) })
}

// Reopen opens a job again whose vehicle was handed back.
func (s *As) Reopen(ctx context.Context, id, key, by, because string) (Recorded, Head, error) {
	today, err := s.today("")
	if err != nil {
		return Recorded{}, Head{}, err
	}
	return s.doing(ctx, id, key, doing{act: right.OpenRevision}, func(c *Opened) (Recorded, error) { return s.App.Reopen(c, by, because, today, today) })
}

// Check is the faults of a job and remarks on it.
func (s *As) Check(ctx context.Context, id, on string) (Checked, error) {
	day, err := s.today(on)
	if err != nil {
		return Checked{}, err
	}
	if _, err := s.job(ctx, id, right.ReadReport); err != nil {
		return Checked{}, err
	}
	return s.reading(nil, id).Check(ctx, id, day)
}

// Expose is what comes off so that every area can be inspected, and the sheet of it.
func (s *As) Expose(ctx context.Context, id, on string, off, earlier []string, sheet bool) (Exposed, []byte, error) {
	made, err := s.Day(on)
	if err != nil {
		return Exposed{}, nil, err
	}
	if err := s.all(ctx, append([]string{id}, earlier...), right.ReadReport); err != nil {
		return Exposed{}, nil, err
	}
	a := s.reading(nil, append([]string{id}, earlier...)...)
	c, err := a.Open(ctx, id)
	if err != nil {
		return Exposed{}, nil, err
	}
	x, err := a.Expose(ctx, c, off, earlier, made)
	if err != nil || !sheet {
		return x, nil, err
	}
	page, err := a.ExposedSheet(ctx, c, x, made)
	return x, page, err
}

// Lengths is which lengths to take next, and the page to fill in.
func (s *As) Lengths(ctx context.Context, id, on string, o LengthsOptions, page bool) (NextLengths, []byte, error) {
	made, err := s.Day(on)
	if err != nil {
		return NextLengths{}, nil, err
	}
	a, c, err := s.open(ctx, id, right.ReadReport)
	if err != nil {
		return NextLengths{}, nil, err
	}
	n, err := a.NextLengths(ctx, c, o)
	if err != nil || !page {
		return n, nil, err
	}
	text, err := a.LengthsPage(c, n, made)
	return n, text, err
}

// Week is several jobs in one schedule.
func (s *As) Week(ctx context.Context, ids []string, on string) (WeekView, error) {
	made, err := s.Day(on)
	if err == nil {
		err = s.all(ctx, ids, right.ReadReport)
	}
	if err != nil {
		return WeekView{}, err
	}
	return s.reading(nil, ids...).Week(ctx, ids, made)
}

// History is what steps really took over several jobs.
func (s *As) History(ctx context.Context, ids []string, on string) ([]cost.History, error) {
	made, err := s.Day(on)
	if err == nil {
		err = s.all(ctx, ids, right.ReadReport)
	}
	if err != nil {
		return nil, err
	}
	return s.reading(nil, ids...).History(ctx, ids, made)
}

// Replay decides jobs under a new revision of a procedure, or under an older and a newer one.
func (s *As) Replay(ctx context.Context, older, newer []byte, ids []string, on string) (Replayed, error) {
	made, err := s.Day(on)
	if err == nil {
		err = s.all(ctx, ids, right.ReadReport)
	}
	if err != nil {
		return Replayed{}, err
	}
	if len(ids) == 0 {
		if _, err := s.may(right.SeeBodies, s.inShop()); err != nil {
			return Replayed{}, err
		}
	}
	files := map[string][]byte{newProcedure: newer}
	with := Replaying{Jobs: ids, On: unit.DateOf(made)}
	if older == nil {
		return s.reading(files, ids...).Replay(ctx, newProcedure, with)
	}
	files[oldProcedure] = older
	return s.reading(files, ids...).DiffProcedures(ctx, oldProcedure, newProcedure, with)
}

// Names of procedures that come with a request, for messages.
const (
	newProcedure = "new.yaml"
	oldProcedure = "old.yaml"
)

// Recompute computes an assessment that was kept again.
func (s *As) Recompute(ctx context.Context, id string, assessment []byte, earlier []string) (Recomputed, error) {
	if err := s.all(ctx, append([]string{id}, earlier...), right.ReadReport); err != nil {
		return Recomputed{}, err
	}
	files := map[string][]byte{AssessmentFile: assessment}
	return s.reading(files, append([]string{id}, earlier...)...).Recompute(ctx, AssessmentFile, id, earlier, earlier)
}
