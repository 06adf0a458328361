package app

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/halt"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/revise"
	"fettle/internal/unit"
)

// replaying decides many jobs under two revisions. What is the same for all
// jobs of a body is made ready once.
type replaying struct {
	app     *App
	work    *halt.Work
	shelf   *shelf
	old     *body.Procedure // nil: the one in force for each body
	fresh   body.Procedure
	on, day unit.Date
	pairs   map[*body.Body]*pair
}

// pair is a body under the old and under the new revision.
type pair struct {
	failed        string
	other         bool // the body has neither the casting nor a revision of the procedure
	against       string
	before, under *body.Body
	was, is       *decide.Ready
	keyBefore     string // what the findings were found under; see foundUnder
	keyUnder      string
}

// job decides one job under both revisions. A job that cannot be read is listed
// with the reason: it must not be taken for one that does not change. Whether
// its evidence is still the one that was recorded is not looked at: that is
// asked by check and assess.
func (r *replaying) job(dir string) ReplayedJob {
	out := ReplayedJob{Dir: dir, Turned: []revise.Turned{}}
	c, known, err := r.open(dir)
	if err != nil {
		out.Failed = err.Error()
		return out
	}
	out.ID = c.Job.ID
	p := r.pairOf(c.Body)
	if out.Failed, out.Against, out.other = p.failed, p.against, p.other; p.failed != "" {
		return out
	}
	measured := c.measuredOnce(r.work, r.day)
	was := p.was.Verdicts(decide.Input{Body: p.before, Shop: c.Shop, Job: c.Job, Inspect: r.seen(known, c, p.before, p.keyBefore), Today: r.day, Acts: job.Whenever, Measure: measured})
	is := p.is.Verdicts(decide.Input{Body: p.under, Shop: c.Shop, Job: c.Job, Inspect: r.seen(known, c, p.under, p.keyUnder), Today: r.day, Acts: job.Whenever, Measure: measured})
	r.app.keep(dir, known)
	out.Decided = len(is)
	if turned := revise.TurnedBy(was, is); turned != nil {
		out.Turned = turned
	}
	return out
}

// pairOf is the two revisions for the jobs of a body.
func (r *replaying) pairOf(b *body.Body) *pair {
	if p, ok := r.pairs[b]; ok {
		return p
	}
	p := &pair{}
	r.pairs[b] = p
	if _, ok := b.Casting(r.fresh.Casting); !ok {
		p.failed = fmt.Sprintf("its body has no casting %s", r.fresh.Casting)
		p.other = !slices.ContainsFunc(b.Procedures, func(o body.Procedure) bool { return o.ID == r.fresh.ID })
		return p
	}
	if faults := body.CheckProcedure(b, r.fresh); len(faults) > 0 {
		p.failed = "revision " + r.fresh.Revision + " does not fit its body: " + faults.Error()
		return p
	}
	was := r.old
	if was == nil {
		if f, ok := b.ProcedureFor(r.fresh.Casting, r.on); ok {
			was = &f.Procedure
		}
	}
	bare := *b
	bare.Procedures = nil
	p.before, p.under = &bare, revise.Under(b, r.fresh)
	if was != nil {
		p.against = string(was.ID) + " revision " + was.Revision
		p.before = revise.Under(b, *was)
	}
	p.keyBefore, p.keyUnder = foundUnder(p.before, r.day), foundUnder(p.under, r.day)
	p.was, p.is = decide.NewReady(p.before), decide.NewReady(p.under)
	return p
}

// seen is where the findings of a job lie under the procedures of a body, taken
// from what was kept where it is known.
func (r *replaying) seen(known *keptJob, c *Opened, b *body.Body, key string) inspect.Result {
	if !known.has(key) {
		known.learn(key, slim(asOnRecord(r.work, c, b, r.day)))
	}
	return known.Found[key]
}

// open is a job with its body and shop, as read now or as read before and not
// changed since.
func (r *replaying) open(dir string) (*Opened, *keptJob, error) {
	if known := r.app.kept(dir); known != nil {
		c, err := r.reopen(dir, known)
		if c != nil || err != nil {
			return c, known, err
		}
	}
	c, err := r.app.openParts(r.work, &Opened{From: dir}, r.shelf)
	if err == nil {
		err = r.app.fits(c, dir)
	}
	if err != nil {
		return nil, nil, err
	}
	known := newKept(c)
	known.changed = true
	return c, known, nil
}

// reopen is the job that was kept, if it has not changed and still fits; nil
// otherwise.
func (r *replaying) reopen(dir string, known *keptJob) (*Opened, error) {
	c := &Opened{From: dir, Job: &known.Job}
	files, _, err := r.app.written(r.work, c)
	if err != nil {
		return nil, err
	}
	if c.fileHash = hashOfJob(files); c.fileHash != known.JobHash || r.app.bodyOf(r.work, r.shelf, c, dir) != nil || r.app.shopOf(r.work, r.shelf, c, dir) != nil || !known.of(c) {
		return nil, nil // read anew, which tells what is wrong
	}
	if c.BodyHash != known.BodyHash { // its procedures are others
		if r.app.fits(c, dir) != nil {
			return nil, nil
		}
		known.BodyHash, known.changed = c.BodyHash, true
	}
	return c, nil
}
