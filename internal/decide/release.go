package decide

import (
	"fmt"
	"slices"

	"fettle/internal/body"
	"fettle/internal/job"
)

// Missing is one thing that has to be done or shown before the vehicle may be
// released.
type Missing struct {
	Where string `json:"where"` // a finding, a joint, a casting, or empty for the job
	Text  string `json:"text"`
	Hint  string `json:"hint,omitempty"`
	Cite  string `json:"cite,omitempty"`
}

// ReleaseInput is what Release takes.
type ReleaseInput struct {
	Input
	Result Result
	Chosen []Chosen       // what the chosen route does with each finding
	Joints []body.JointID // opened and closed again on that route
	Holds  []Hold         // hold points of the steps of that route
	After  *MeasuredAfter // the control points measured again; nil: not yet
}

// Chosen is the treatment of one finding on the chosen route.
type Chosen struct {
	Finding job.FindingID
	Kind    body.TreatmentKind
	Line    body.LineID
}

// MeasuredAfter is how the control points lie after the repair.
type MeasuredAfter struct {
	NotMet    []body.PointID
	Undecided []body.PointID // verdict open, or another reading of the evidence gives another
	Missing   []body.PointID // not measured
}

// Release says what is still missing: decisions accepted and reviewed by people
// other than those they check, and everything the procedure asks to be shown
// after the treatments that were used. Nothing missing is the only thing that
// permits a release.
func Release(in ReleaseInput) []Missing {
	r := &release{in: in, asked: map[string]bool{}}
	r.procedures()
	if len(in.Chosen) == 0 && len(in.Job.Findings) > 0 {
		r.missing("", "no treatment has been chosen for any finding", "choose a route that deals with them", "")
	} else {
		for _, f := range in.Job.Findings {
			r.finding(f)
		}
	}
	r.holds()
	for _, f := range Acceptances(in.Job, in.Result) {
		if f.Note.Code == CodeAcceptedUnreasoned {
			r.missing(f.Note.Where, f.Note.Text, f.Note.Hint, f.Note.Source)
		}
	}
	r.review()
	return r.out
}

type release struct {
	in    ReleaseInput
	out   []Missing
	asked map[string]bool // what is asked for the job once
}

func (r *release) missing(where, text, hint, cite string) {
	r.out = append(r.out, Missing{where, text, hint, cite})
}

func (r *release) procedures() {
	for _, p := range r.in.Result.Procedures {
		if p.Expired || p.Unchecked {
			r.missing(string(p.Casting), "the procedure may not be relied on: "+p.Why, "look up the manufacturer's current revision and record the check", "")
		}
	}
}

// finding wants a treatment that is allowed and accepted, and what has to be
// shown after it.
func (r *release) finding(f job.Finding) {
	i := slices.IndexFunc(r.in.Chosen, func(c Chosen) bool { return c.Finding == f.ID })
	if i < 0 {
		r.missing(string(f.ID), "no treatment has been chosen", "choose a route that deals with it", "")
		return
	}
	c := r.in.Chosen[i]
	name := optionName(c.Kind, c.Line)
	o, ok := r.option(c)
	if !ok || o.Verdict != Allowed {
		r.missing(string(f.ID), name+" is not allowed: it is "+o.Verdict.String(), o.Because, o.Cite)
	}
	r.acceptedBy(c, o, name)
	r.proofs(f, c, name)
}

func (r *release) option(c Chosen) (Option, bool) {
	return r.in.Result.option(c.Finding, c.Kind, c.Line)
}

// option is the treatment of a finding as it was decided.
func (r Result) option(id job.FindingID, k body.TreatmentKind, l body.LineID) (Option, bool) {
	for _, f := range r.Findings {
		if f.ID != id {
			continue
		}
		for _, o := range f.Options {
			if o.Kind == k && o.Line == l {
				return o, true
			}
		}
	}
	return Option{Because: "no row and no answer speaks of it"}, false
}

// acceptedBy wants a person who accepted exactly this treatment. That it was
// accepted with a reason where one is compulsory is said by Acceptances.
func (r *release) acceptedBy(c Chosen, o Option, name string) {
	for _, a := range r.in.Job.Accepted {
		if a.Finding != c.Finding {
			continue
		}
		switch {
		case a.Kind != c.Kind || a.Line != c.Line:
			r.missing(string(c.Finding), fmt.Sprintf("%s accepted %s, but the chosen route has %s", a.By, optionName(a.Kind, a.Line), name), "accept the treatment that is used", "")
		case r.in.Today.Before(a.On):
			r.missing(string(c.Finding), "the acceptance of "+name+" is dated "+a.On.String()+", after today", "", "")
		}
		return
	}
	r.missing(string(c.Finding), "nobody has accepted "+name, "have it accepted by somebody who may ('accepted' in the job)", o.Cite)
}

// review wants a second person's look that is not older than what it is about.
func (r *release) review() {
	var last job.Review
	for _, v := range r.in.Job.Reviews {
		if !r.in.Today.Before(v.On) && !v.On.Before(last.On) {
			last = v
		}
	}
	if last.By == "" {
		r.missing("", "nobody has reviewed the decisions", "have a second person read them ('reviews' in the job)", "")
		return
	}
	for _, a := range r.in.Job.Accepted {
		if last.On.Before(a.On) {
			r.missing(string(a.Finding), fmt.Sprintf("the acceptance of %s is younger than the last review, of %s", a.On, last.On), "have the decisions reviewed again", "")
		}
	}
}
