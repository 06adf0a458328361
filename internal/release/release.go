// Package release is the gate before a vehicle is handed back: what has to be done or
// shown first, and the entries of the job that would show it. It computes no verdict
// of its own on a finding; it holds the record against what the stages found. Nothing
// missing is the only thing that permits a release.
package release

import (
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/decide"
	"fettle/internal/diag"
	"fettle/internal/job"
	"fettle/internal/shop"
	"fettle/internal/unit"
)

// Group is what sort of thing is missing.
type Group string

// Groups of what is missing, in the order they are told.
const (
	GroupBlocks   Group = "blocks"
	GroupRoute    Group = "route"
	GroupSafe     Group = "made safe"
	GroupDecided  Group = "decided"
	GroupReviewed Group = "reviewed"
	GroupWork     Group = "work"
	GroupFigures  Group = "figures"
	GroupShown    Group = "shown"
	GroupHanded   Group = "handed back"
)

// Missing is one thing that has to be done or shown before the vehicle may be
// released.
type Missing struct {
	Group  Group        `json:"group"`
	Where  string       `json:"where"` // a finding, a joint, a casting, or empty for the job
	Text   string       `json:"text"`
	Hint   string       `json:"hint,omitempty"`
	Remedy *diag.Remedy `json:"remedy,omitempty"` // what the hint asks for, where the program does it
	Cite   string       `json:"cite,omitempty"`

	Wants []Wanted `json:"wants,omitempty"` // entries of the job that would show it; empty: more has to be done first
}

// Input is what Release takes.
type Input struct {
	decide.Input
	Result  decide.Result
	Notes   []diag.Note    // of all stages: what blocks there blocks here
	NoRoute string         // why there is no chosen route; empty: there is one
	Waits   []Wait         // what the chosen route waits for
	Left    []body.PointID // control points that the manufacturer lets stay as they are
	Chosen  []Chosen       // what it does with each finding
	Joints  []body.JointID // opened and closed again on it
	Steps   []PlannedStep  // its plan, in order of work
	After   *MeasuredAfter // the control points measured again; nil: not yet
}

// Chosen is the treatment of one finding on the chosen route.
type Chosen struct {
	Finding job.FindingID
	Kind    body.TreatmentKind
	Line    body.LineID
	Item    int               // which item of the route: those of one item are treated together
	Bonds   []body.MaterialID // adhesives of the treatment's own layouts
}

// Wait is something a route waits for before it may be taken.
type Wait struct {
	What string // a finding, a control point or an inspection area
	Ask  bool   // the manufacturer's answer; otherwise to be measured or inspected
}

// PlannedStep is a step of the chosen route's plan, as far as it matters for what
// has to be shown.
type PlannedStep struct {
	ID        string
	Ref       string // what it is, in every plan
	Name      string
	For       []job.FindingID
	Skill     body.SkillID
	Equipment []string
	Asked     bool              // it has to be on record as done; what only comes off is shown by going back on
	Minutes   unit.Minutes      // as planned
	Treats    bool              // a step of a treatment or of what closes after it, as opposed to what prepares
	Prepares  bool              // it prepares or opens: it is not undone by work that is decided while the vehicle is open
	Shuts     bool              // it closes or finishes
	Hold      string            // what has to be inspected before anyone goes on
	Second    bool              // by somebody else than who did the step
	Joints    []body.JointID    // closed with it
	Bonds     []body.MaterialID // that cure after it
	WaitMin   float64           // elapsed minutes before what follows
	Together  string            // steps of one word are done in one go
	After     []string          // steps before it
	Readings  []body.Reading    // what is written down at it, with the limits
	Qualified string            // what whoever does it is qualified for beside the skill
	Faults    body.FaultStage   // the fault memories are read in it
	Uses      []string          // materials it uses and new parts it takes
}

// MeasuredAfter is how the control points lie after the repair.
type MeasuredAfter struct {
	NotMet    []body.PointID
	Undecided []body.PointID // verdict open, or another reading of the evidence gives another
	Missing   []body.PointID // not measured
}

// Release says what is still missing. It is the one gate: it is closed unless each
// of these is shown, and nothing missing is the only thing that permits a release.
//
//   - nothing blocks: no note of any stage, no procedure that may not be relied on;
//   - a route was chosen, and it waits for nothing;
//   - every hazard was made safe;
//   - every finding has a treatment that is allowed and accepted;
//   - somebody else has read all of that since it was last changed;
//   - every step of the plan is done, in its order, by somebody who may;
//   - every figure that a step asks for is on record and keeps its limits;
//   - everything the procedure asks to be shown was shown, after what it shows;
//   - the fault memories were read where they had to be, and nothing that stands in them is left.
//
// Whatever was done is held to one rule, see proven.
func Release(in Input) []Missing {
	if in.Shop == nil {
		in.Shop = &shop.Shop{} // nobody may sign, and no step has its wait
	}
	r := &gate{in: in, asked: map[string]bool{}}
	r.opens, r.closes = in.Shop.Calendar.Hours()
	for _, part := range []struct {
		group Group
		show  func()
	}{
		{GroupBlocks, r.blocks}, {GroupRoute, r.route}, {GroupSafe, r.hazards}, {GroupDecided, r.decisions},
		{GroupReviewed, r.review}, {GroupWork, r.work}, {GroupFigures, r.figures}, {GroupShown, r.shown},
	} {
		r.group = part.group
		part.show()
	}
	return r.out
}

type gate struct {
	in    Input
	out   []Missing
	group Group
	asked map[string]bool       // what is asked for the job once
	done  map[string]job.Actual // the last entry about each step
	leans bool                  // on what was measured after the repair, whoever asks for it
	prev  map[string][]int      // steps on record before each, and after each
	next  map[string][]int

	opens, closes unit.Minutes // of a working day, from midnight
}

func (r *gate) missing(where, text, hint, cite string) {
	r.out = append(r.out, Missing{Group: r.group, Where: where, Text: text, Hint: hint, Cite: cite})
}

// once adds what is not there yet: a fault is told by a stage and found again here.
func (r *gate) once(m Missing) {
	same := func(o Missing) bool { return o.Where == m.Where && o.Text == m.Text }
	if !slices.ContainsFunc(r.out, same) {
		r.out = append(r.out, m)
	}
}

// blocks takes over what blocks, and looks once more itself at what the decisions
// rest on: the procedures, and what was accepted against them.
func (r *gate) blocks() {
	notes := slices.Clone(r.in.Notes)
	for _, f := range decide.Acceptances(r.in.Job, r.in.Result) {
		notes = append(notes, f.Note)
	}
	for _, n := range notes {
		if n.Blocks() {
			r.once(Missing{Group: r.group, Where: n.Where, Text: n.Text, Hint: n.Hint, Remedy: n.Remedy, Cite: n.Source})
		}
	}
	for _, p := range r.in.Result.Procedures {
		told := func(m Missing) bool {
			return m.Where == string(p.Casting) && p.Why != "" && strings.Contains(m.Text, p.Why)
		}
		if (p.Expired || p.Unchecked || p.Procedure == "") && !slices.ContainsFunc(r.out, told) {
			r.wanting(Missing{Where: string(p.Casting), Text: "the procedure may not be relied on: " + p.Why, Hint: "look up the manufacturer's current revision and record the check"},
				Wanted{Entry: WantLookup, About: string(p.Procedure), Must: "the revision that the maker has as current; held here is " + p.Revision})
		}
	}
	for _, e := range r.in.Job.Evidence {
		if e.SHA256 == "" {
			r.wanting(Missing{Where: e.ID, Text: "nothing shows that this evidence (" + e.File + ") is still what was recorded", Hint: "enter the SHA-256 of its file ('sha256')"},
				Wanted{Entry: WantHash, About: e.ID, What: e.File, Must: "somebody has looked that the file is what was recorded: value: as recorded"})
		}
	}
}

// route wants a person's choice that is not older than what it is about, and that
// the chosen route waits for nothing.
func (r *gate) route() {
	if r.in.NoRoute != "" {
		r.wanting(Missing{Text: r.in.NoRoute, Hint: "choose one ('choices' in the job)"}, Wanted{Entry: WantChoice, Must: "the route, and why"})
	}
	if n := len(r.in.Job.Choices); n > 0 {
		x := r.in.Job.Choices[n-1]
		r.stands("", "the choice of route "+x.Route, job.Act{By: x.By, On: x.On, After: r.seen(nil)}, "choose again")
	}
	for _, w := range r.in.Waits {
		switch {
		case w.Ask:
			r.out = append(r.out, Missing{Group: r.group, Where: w.What, Text: "the route waits for the manufacturer's answer on " + w.What, Hint: "ask", Remedy: diag.Do(job.ToAsk, "about", w.What)})
		case isAccess(w.What):
			r.missing(w.What, w.What+": nobody said what has to come off to reach what was worked on there", "write it under 'access' of the body, or record under 'access' of the job who found that it can be reached, and when", "")
		case !r.measuredSince(body.PointID(w.What)):
			r.missing(w.What, "the route keeps "+w.What+", which has to be measured or inspected first", "inspect or measure it, or choose a route that does not keep it", "")
		}
	}
}

func isAccess(name string) bool {
	_, ok := body.OfAccess(name)
	return ok
}

// measuredSince says that what a route waits for is a control point that was measured
// after the repair and is in tolerance: then its set-ups have to count. A finding or
// an area of the same name is none.
func (r *gate) measuredSince(id body.PointID) bool {
	m := r.in.After
	_, point := r.in.Body.Point(id)
	finding := func(f job.Finding) bool { return string(f.ID) == string(id) }
	if m == nil || !point || slices.Contains(r.in.Body.AreaIDs(), string(id)) || slices.ContainsFunc(r.in.Job.Findings, finding) {
		return false
	}
	r.leans = true
	return !slices.Contains(m.NotMet, id) && !slices.Contains(m.Undecided, id) && !slices.Contains(m.Missing, id)
}

// seen is the days on which findings were seen: some of them, or all.
func (r *gate) seen(ids []job.FindingID) []job.Mark {
	var out []job.Mark
	for _, f := range r.in.Job.Findings {
		if ids == nil || slices.Contains(ids, f.ID) {
			out = append(out, job.Mark{On: f.On, What: string(f.ID) + " was seen"})
		}
	}
	return out
}

// stands wants an act to stand, and tells every reason why it does not.
func (r *gate) stands(where, what string, a job.Act, hint string) bool {
	faults := r.in.Job.Faults(a, r.in.Shop, r.in.Today)
	for _, why := range faults {
		r.missing(where, what+" does not count: "+why, hint, "")
	}
	return len(faults) == 0
}

// hazards wants each to have been made safe by somebody who does such work.
func (r *gate) hazards() {
	for _, h := range r.in.Job.Hazards {
		if why := r.in.Job.Unsafe(h, r.in.Body, r.in.Shop, r.in.Today); why != "" {
			r.missing(string(h.Kind), why+": "+h.Text, "have it made safe by somebody qualified, and enter who and when", "")
		}
	}
}
