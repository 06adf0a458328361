// Package right says who may do what. The matrix is data (matrix.csv): a row for each act, a cell for each role. It is
// asked with what is known of the person and the thing; what is not known never permits.
package right

import "slices"

// Role is what somebody is in a shop. A person may have several.
type Role string

// Roles.
const (
	Technician    Role = "technician"
	Planner       Role = "planner"
	Reviewer      Role = "reviewer"
	Administrator Role = "administrator" // runs the machine, not the evidence
	Reader        Role = "reader"        // from outside, by a link; nobody of a shop
)

// Roles is all of them, as the columns of the matrix.
func Roles() []Role { return []Role{Technician, Planner, Reviewer, Administrator, Reader} }

// Stage is how far a job is.
type Stage string

// Stages in their order.
const (
	Draft     Stage = "draft"
	Planned   Stage = "planned"
	InReview  Stage = "in review"
	Approved  Stage = "approved"
	InRepair  Stage = "in repair"
	Inspected Stage = "inspected"
	Released  Stage = "released"
)

// Stages is all of them.
func Stages() []Stage {
	return []Stage{Draft, Planned, InReview, Approved, InRepair, Inspected, Released}
}

// Who is somebody who wants something: as they are now, read anew for every request.
type Who struct {
	Person  string // an opaque name; empty for a reader from outside
	Shop    string // the one they work in now
	Roles   []Role // in that shop
	Fresh   bool   // has proved who they are within the last few minutes; never a program
	Console bool   // sits at the machine itself
	Token   string // of the program that acts for the person; empty: the person does
	Reads   bool   // a program that may change nothing
	Link    Link   // of a reader from outside
}

// Link is what a link for a reader from outside opens.
type Link struct {
	ID    string
	Job   string
	To    int64  // number of the newest event that is shown
	Files bool   // all may be taken along in one file
	Day   string // on which it is judged, as year-month-day
	Seal  string // hash of what is shown of it; what has another is not shown
}

// On is what is known of the thing an act is about. What is left empty is not known, and no condition about it holds.
type On struct {
	Shop       string   // whose job or setting it is
	Job        string   // its name
	To         int64    // number of the newest event that is wanted of it, for a reader from outside
	Stage      Stage    // of the job
	Everybody  bool     // the shop lets all see all its jobs, not only those who are assigned
	Assigned   []string // to the job
	Author     string   // of the record, link or draft
	Authors    []string // of anything in the revision
	Requester  string   // of what has to be granted or put into force
	Inspectors []string // of the final inspection
	Agreed     string   // who has agreed to an erasure
	Person     string   // whose roles, tokens or sign-in it is about
	Alone      bool     // the shop has one person who reviews, and says so in its reports
	Only       bool     // there is no other administrator
	Stays      bool     // an administrator is left after it
}

// Answer is what the matrix says. The zero value refuses.
type Answer int

// Answers.
const (
	Refused Answer = iota
	Hidden         // refused, and they may not know whether it is there
	Allowed
)

// String is the word of an answer.
func (a Answer) String() string {
	switch a {
	case Hidden:
		return "hidden"
	case Allowed:
		return "allowed"
	}
	return "refused"
}

// Verdict is an answer with its reasons.
type Verdict struct {
	Answer Answer
	Role   Role        // the role that was used
	Limits []Limit     // within which it is allowed
	Lacks  []Condition // what would have to hold; none: no role of theirs may
}

// Limited says whether a limit goes with it.
func (v Verdict) Limited(l Limit) bool { return slices.Contains(v.Limits, l) }

// May says whether somebody may do something. An act that is not in the matrix is refused.
func (m Matrix) May(w Who, a Act, on On) Verdict {
	r, known := m.rows[a]
	if !known || (w.Person == "") == (w.Link.ID == "") { // nobody, or two at once
		return Verdict{}
	}
	if hidden := m.hides(r, w, on); hidden {
		return Verdict{Answer: Hidden}
	}
	if w.Reads && r.changes || r.about == aboutSelf && (w.Person == "" || on.Person != w.Person) {
		return Verdict{}
	}
	if r.about == aboutJob {
		if v := m.May(w, SeeJob, on); v.Answer != Allowed {
			return v
		}
	}
	return r.best(w, on)
}

// hides says whether somebody may not know of the thing at all.
func (m Matrix) hides(r row, w Who, on On) bool {
	switch r.about {
	case aboutGroup, aboutSelf:
		return false
	case aboutShop:
		return on.Shop == "" || on.Shop != w.Shop
	}
	if on.Shop == "" || on.Shop != w.Shop || on.Job == "" {
		return true
	}
	// a job: whoever sees it, or sees it in a list, knows of it
	see, list := m.rows[SeeJob].best(w, on), Verdict{}
	if slices.Contains(w.Roles, Administrator) {
		list = m.rows[SeeJobs].best(Who{Person: w.Person, Shop: w.Shop, Roles: []Role{Administrator}}, on)
	}
	return see.Answer != Allowed && list.Answer != Allowed
}

// best is the answer by the role that allows most: of those that allow, the one with the fewest limits.
func (r row) best(w Who, on On) Verdict {
	var out Verdict
	for _, role := range Roles() {
		if !slices.Contains(w.Roles, role) || (role == Reader) != (w.Link.ID != "") {
			continue
		}
		v := r.cells[role].ask(w, on)
		v.Role = role
		better := v.Answer == Allowed && len(v.Limits) < len(out.Limits)
		nearer := v.Answer != Allowed && out.Answer != Allowed && len(v.Lacks) > 0 && (len(out.Lacks) == 0 || len(v.Lacks) < len(out.Lacks))
		if out.Role == "" || v.Answer == Allowed && out.Answer != Allowed || better || nearer {
			out = v
		}
	}
	return out
}

// ask is what one cell says.
func (c cell) ask(w Who, on On) Verdict {
	if !c.granted {
		return Verdict{}
	}
	var lacks []Condition
	for _, k := range c.conditions {
		if holds, known := conditions[k]; !known || !holds(w, on) {
			lacks = append(lacks, k)
		}
	}
	if len(lacks) > 0 {
		return Verdict{Lacks: lacks}
	}
	return Verdict{Answer: Allowed, Limits: c.limits}
}
