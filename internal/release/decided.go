package release

import (
	"fmt"
	"slices"

	"fettle/internal/decide"
	"fettle/internal/job"
	"fettle/internal/shop"
)

// decisions wants, for every finding, a treatment that is allowed, and a person
// who accepted exactly that.
func (r *gate) decisions() {
	if len(r.in.Chosen) == 0 && len(r.in.Job.Findings) > 0 {
		r.missing("", "no treatment has been chosen for any finding", "choose a route that deals with them", "")
		return
	}
	for _, f := range r.in.Job.Findings {
		c, ok := r.chosen(f.ID)
		if !ok {
			r.missing(string(f.ID), "no treatment has been chosen", "choose a route that deals with it", "")
			continue
		}
		name := decide.OptionName(c.Kind, c.Line)
		o, ok := r.option(c)
		if !ok || o.Verdict != decide.Allowed {
			r.missing(string(f.ID), name+" is not allowed: it is "+o.Verdict.String(), o.Because, o.Cite)
		}
		r.acceptedBy(c, o, name)
	}
}

func (r *gate) chosen(id job.FindingID) (Chosen, bool) {
	i := slices.IndexFunc(r.in.Chosen, func(c Chosen) bool { return c.Finding == id })
	if i < 0 {
		return Chosen{}, false
	}
	return r.in.Chosen[i], true
}

func (r *gate) option(c Chosen) (decide.Option, bool) {
	return r.in.Result.Option(c.Finding, c.Kind, c.Line)
}

// acceptance is what was accepted last for a finding.
func (r *gate) acceptance(id job.FindingID) (job.Accepted, bool) {
	var last job.Accepted
	for _, a := range r.in.Job.Accepted {
		if a.Finding == id && !a.On.Before(last.On) {
			last = a
		}
	}
	return last, last.Finding != ""
}

// acceptedBy wants a person who may accept this treatment to have done so, after
// the finding was seen and the answer that allows it was there. That it was
// accepted with a reason where one is compulsory is said by Acceptances.
func (r *gate) acceptedBy(c Chosen, o decide.Option, name string) {
	where := string(c.Finding)
	a, ok := r.acceptance(c.Finding)
	if !ok {
		r.wanting(Missing{Where: where, Text: "nobody has accepted " + name, Hint: "have it accepted by somebody who may ('accepted' in the job)", Cite: o.Cite}, acceptanceWanted(c))
		return
	}
	if a.Kind != c.Kind || a.Line != c.Line {
		r.wanting(Missing{Where: where, Text: fmt.Sprintf("%s accepted %s, but the chosen route has %s", a.By, decide.OptionName(a.Kind, a.Line), name), Hint: "accept the treatment that is used"}, acceptanceWanted(c))
	}
	after := r.seen([]job.FindingID{c.Finding})
	for _, x := range r.in.Job.Answers {
		if x.ID == o.Answer && o.Answer != "" {
			after = append(after, job.Mark{On: x.On, What: "answer " + x.ID + " was given"})
		}
	}
	if !r.stands(where, "the acceptance of "+name, job.Act{By: a.By, On: a.On, After: after}, "have it accepted again") {
		return
	}
	if p, _ := r.in.Shop.Signer(a.By); !slices.Contains(p.Accepts, a.Kind) {
		r.missing(where, fmt.Sprintf("the acceptance of %s does not count: %s may not accept it ('accepts' in the shop file)", name, p.ID), "have it accepted by somebody who may", "")
	}
}

// review wants a second person's look that is not older than anything it is about.
func (r *gate) review() {
	s := r.in.Job
	var last job.Review
	var reasons []string
	for _, v := range s.Reviews {
		if why := r.noReview(v); why != "" {
			reasons = append(reasons, fmt.Sprintf("the review by %s does not count: %s", v.By, why))
			continue
		}
		if last.By == "" || !v.On.Before(last.On) {
			last = v
		}
	}
	if last.By == "" {
		r.wanting(Missing{Text: "nobody has reviewed the decisions", Hint: "have a second person read them ('reviews' in the job)"}, reviewWanted)
		for _, why := range reasons {
			r.missing("", why, "", "")
		}
		return
	}
	for _, m := range r.reviewed() {
		if last.On.Before(m.On) {
			r.wanting(Missing{Where: m.where, Text: fmt.Sprintf("%s on %s, after the last review, of %s", m.What, m.On, last.On), Hint: "have the decisions reviewed again"}, reviewWanted)
		}
	}
	if p, _ := r.in.Shop.Signer(last.By); len(s.Records) > 0 && !slices.ContainsFunc(s.Records, func(x job.Record) bool {
		q, ok := r.in.Shop.Signer(x.By)
		return ok && q.ID != p.ID
	}) {
		r.missing("", fmt.Sprintf("%s reviewed the decisions and gave every proof", p.ID), "have one of the two done by somebody else", "")
	}
}

// noReview says why a review does not count; empty when it does.
func (r *gate) noReview(v job.Review) string {
	if why := r.in.Job.Falls(job.Act{By: v.By, On: v.On, May: shop.MayReview}, r.in.Shop, r.in.Today); why != "" {
		return why
	}
	if r.in.Job.Void(v) {
		return "what it approved was changed since, or sent back"
	}
	p, _ := r.in.Shop.Signer(v.By)
	author, ok := r.in.Shop.Signer(r.in.Job.Author)
	if !ok {
		return fmt.Sprintf("the author of the job, %q, is nobody of the shop file", r.in.Job.Author)
	}
	same := func(by string) bool { q, ok := r.in.Shop.Signer(by); return ok && q.ID == p.ID }
	switch s := r.in.Job; {
	case author.ID == p.ID, slices.ContainsFunc(s.Accepted, func(a job.Accepted) bool { return same(a.By) }),
		slices.ContainsFunc(s.Choices, func(c job.Choice) bool { return same(c.By) }),
		slices.ContainsFunc(s.Answers, func(a job.Answer) bool { return same(a.RecordedBy) }):
		return p.ID + " entered, chose, accepted or recorded what is reviewed"
	}
	return ""
}

// reviewMark is something a review has to have seen.
type reviewMark struct {
	job.Mark
	where string
}

// reviewed is everything the decisions rest on, with its day: nobody has read what
// came after the review.
func (r *gate) reviewed() []reviewMark {
	s := r.in.Job
	var out []reviewMark
	for _, f := range s.Findings {
		out = append(out, reviewMark{job.Mark{On: f.On, What: "the finding was seen"}, string(f.ID)})
	}
	for _, a := range s.Accepted {
		out = append(out, reviewMark{job.Mark{On: a.On, What: "the treatment was accepted"}, string(a.Finding)})
	}
	for _, c := range s.Choices {
		out = append(out, reviewMark{job.Mark{On: c.On, What: "the route was chosen"}, c.Route})
	}
	for _, a := range s.Answers {
		out = append(out, reviewMark{job.Mark{On: a.On, What: "the manufacturer answered"}, a.ID})
	}
	for _, a := range s.Areas {
		out = append(out, reviewMark{job.Mark{On: a.On, What: "the area was looked at"}, a.Area})
	}
	for _, k := range s.Castings {
		out = append(out, reviewMark{job.Mark{On: k.On, What: "the casting was looked over"}, string(k.Casting)})
	}
	for _, x := range s.Setups {
		if x.Stage == job.StageBefore {
			out = append(out, reviewMark{job.Mark{On: x.On, What: "the damage was measured"}, x.ID})
		}
	}
	return out
}
