package app

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/doc"
	"fettle/internal/inspect"
	"fettle/internal/unit"
)

// replaying decides many jobs under two revisions. What is the same for all
// jobs of a body is made ready once.
type replaying struct {
	app     *App
	shelf   *shelf
	cache   *ReplayCache
	old     *body.Procedure // nil: the one in force for each body
	fresh   body.Procedure
	on, day unit.Date
	pairs   map[*body.Body]*pair
}

// pair is a body under the old and under the new revision.
type pair struct {
	failed        string
	against       string
	before, under *body.Body
	was, is       *decide.Ready
	keyBefore     string // what the findings were found under; see foundUnder
	keyUnder      string
	alike         bool // both revisions lengthen and group cracks alike
}

// job decides one job under both revisions. A job that cannot be read is listed
// with the reason: it must not be taken for one that does not change. Whether
// its evidence is still the one that was recorded is not looked at: that is
// asked by check and assess.
func (r *replaying) job(dir string) ReplayedJob {
	out := ReplayedJob{Dir: dir, Turned: []decide.Turned{}}
	c, known, err := r.open(dir)
	if err != nil {
		out.Failed = err.Error()
		return out
	}
	out.ID = c.Job.ID
	p := r.pairOf(c.Body)
	if out.Failed, out.Against = p.failed, p.against; p.failed != "" {
		return out
	}
	found := r.seen(known, c, p.before, p.keyBefore)
	was := p.was.Verdicts(decide.Input{Body: p.before, Shop: c.Shop, Job: c.Job, Inspect: found, Today: r.day})
	if !p.alike {
		found = r.seen(known, c, p.under, p.keyUnder)
	}
	is := p.is.Verdicts(decide.Input{Body: p.under, Shop: c.Shop, Job: c.Job, Inspect: found, Today: r.day})
	out.Decided = len(is)
	if turned := decide.TurnedBy(was, is); turned != nil {
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
	p.before, p.under = &bare, decide.Under(b, r.fresh)
	if was != nil {
		p.against = string(was.ID) + " revision " + was.Revision
		p.before = decide.Under(b, *was)
		p.alike = decide.SameGrouping(*was, r.fresh)
	}
	p.keyBefore, p.keyUnder = foundUnder(p.before, r.day), foundUnder(p.under, r.day)
	p.was, p.is = decide.NewReady(p.before), decide.NewReady(p.under)
	return p
}

// seen is where the findings of a job lie under the procedures of a body, taken
// from the cache where it is known.
func (r *replaying) seen(known *cachedJob, c *Case, b *body.Body, key string) inspect.Result {
	if found, ok := known.Found[key]; ok {
		return found
	}
	found := slim(seen(c, b, r.day))
	r.cache.learn(known, key, found)
	return found
}

// foundUnder names everything of the procedures of a body that inspect may look
// at: the content of those in force on the day.
func foundUnder(b *body.Body, day unit.Date) string {
	h := sha256.New()
	for _, c := range b.Castings {
		h.Write([]byte(string(c.ID) + "\n"))
		if f, ok := b.ProcedureFor(c.ID, day); ok {
			h.Write(doc.EncodeYAML(f.Procedure))
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}
