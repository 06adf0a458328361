package plan

import (
	"fmt"
	"slices"
	"strings"

	"fettle/internal/body"
	"fettle/internal/diag"
	"fettle/internal/inspect"
	"fettle/internal/job"
	"fettle/internal/unit"
)

// Exposed is how a vehicle is opened up so that what has not been inspected yet can be,
// before any treatment is chosen.
type Exposed struct {
	Plan   Plan          `json:"plan"` // opening, inspecting, closing again
	Stages []Stage       `json:"stages"`
	Hidden []ToInspect   `json:"hidden"` // areas to which the data give no way: they stay open
	Seen   int           `json:"inspected"`
	Away   []body.PartID `json:"offAlready,omitempty"` // as somebody said: in no step and no sum
}

// Open is every area that is still to be inspected, in the order of the stages; those to which
// no data lead come last.
func (x Exposed) Open() []ToInspect {
	var out []ToInspect
	for _, s := range x.Stages {
		out = append(out, s.Areas...)
	}
	return append(out, x.Hidden...)
}

// Closed is areas that stay open for one reason.
type Closed struct {
	Text, Hint string
	Areas      []ToInspect
}

// Reasons is the areas to which the data give no way, by why.
func (x Exposed) Reasons() []Closed {
	var out []Closed
	for _, h := range x.Hidden {
		k := slices.IndexFunc(out, func(c Closed) bool { return c.Text == h.Why && c.Hint == h.Hint })
		if k < 0 {
			k = len(out)
			out = append(out, Closed{Text: h.Why, Hint: h.Hint})
		}
		out[k].Areas = append(out[k].Areas, h)
	}
	return out
}

// Stage is parts that come off beyond those of the stages before, and the areas that can
// then be inspected. The first has no parts where something is in sight already.
type Stage struct {
	Off     []body.PartID `json:"off"`
	Lost    []body.PartID `json:"lost"` // of them: cannot be put back
	Cost    unit.Minor    `json:"costMinor"`
	Steps   []string      `json:"steps"`   // of taking off, with the tasks that only this stage needs before
	Minutes float64       `json:"minutes"` // of those steps
	Areas   []ToInspect   `json:"areas"`
}

// ToInspect is an area that has to be inspected.
type ToInspect struct {
	Area    string                `json:"area"`
	Name    string                `json:"name"`
	Casting body.CastingID        `json:"casting"`
	Zones   []body.ZoneID         `json:"zones"`
	Method  body.InspectionMethod `json:"method"`
	Because string                `json:"because,omitempty"` // which rule asks for the method
	So      string                `json:"soFar,omitempty"`   // what stands in the job about it; empty: nothing
	Keep    []inspect.Condition   `json:"conditions"`        // when an inspection by the method counts; none: the procedure does not say
	Trained bool                  `json:"qualified"`         // it counts only from somebody qualified for the method
	With    []string              `json:"with,omitempty"`    // areas in it that are inspected with it: its entry stands for them
	WithIDs []string              `json:"withAreas,omitempty"`
	Bare    bool                  `json:"nothingListed"`  // the body lists nothing in its way
	Alone   unit.Minor            `json:"aloneMinor"`     // cost of reaching this area and no other
	Off     []body.PartID         `json:"aloneOff"`       // what comes off for that
	Proven  bool                  `json:"aloneProven"`    // it is reached for no less
	Step    string                `json:"step,omitempty"` // of the plan, in which it is inspected
	Why     string                `json:"why,omitempty"`  // why it stays open
	Hint    string                `json:"hint,omitempty"`
	impact  float64               // how near it comes to the impact [mm]
	barred  bool                  // it is on record that it could not be reached
}

// exposing is what a plan is to bring into sight, and how it did.
type exposing struct {
	see    []ToInspect
	groups [][]int   // by stage: places in see
	sets   []set     // by stage: what is off when it is done
	looks  [][]*node // by stage: what inspects
	works  [][]*node // by stage: what comes off, with its tasks
	stages []Stage
}

// Expose plans what has to come off so that every area that is not covered can be inspected
// by the method asked for. The parts are the cheapest for all areas together; they come off in
// stages, the next always the one that costs least beyond what is off, of equal ones that
// nearest to the impact. What is in sight is inspected before more comes off. What is off already
// is in no way, and is taken off and put back by no step.
func Expose(in Input, off []body.PartID) (Exposed, []diag.Note) {
	e := &exposing{}
	in.Choice, in.expose = Choice{}, nil
	in.safe, in.Body = madeSafe(in.Body, off), without(withFound(in.Body, in.Inspect.Access), off)
	out := Exposed{Away: off}
	for _, c := range in.Inspect.Coverage {
		if c.Covered {
			out.Seen++
		}
	}
	for _, x := range toInspect(in.Inspect) {
		if x.Why, x.Hint = newBuilder(in).reaches(&x); x.Why != "" {
			out.Hidden = append(out.Hidden, x)
			continue
		}
		e.see = append(e.see, x)
	}
	if len(e.see) == 0 {
		out.Plan = Plan{Start: in.Job.Start, Finish: in.Job.Start, Proven: true, OpeningProven: true}
		return out, nil
	}
	in.expose = e
	p, notes := Build(in)
	out.Plan, out.Stages = p, e.stages
	if out.Stages == nil {
		for _, x := range e.see {
			x.Why, x.Hint = "there is no plan that reaches all areas", "see what blocks it"
			out.Hidden = append(out.Hidden, x)
		}
	}
	return out, notes
}

// toInspect is the areas that are not covered; one that lies in another that is not covered
// either, and asks for the same method, is inspected with it.
func toInspect(r inspect.Result) []ToInspect {
	var out []ToInspect
	asked := map[string]body.InspectionMethod{}
	for _, c := range r.Coverage {
		if !c.Covered {
			asked[c.Area] = c.Needs
		}
	}
	with := func(c inspect.Coverage) bool { return c.Part != "" && !c.Own && asked[c.Part] == c.Needs }
	for _, c := range r.Coverage {
		if c.Covered || with(c) {
			continue
		}
		x := ToInspect{Area: c.Area, Name: c.Name, Casting: c.Casting, Zones: c.Zones, Method: c.Needs, Because: c.Because, So: soFar(c), Keep: c.Keep, Trained: c.Trained, impact: c.ImpactMM, barred: c.State == job.StateNotReachable}
		for _, o := range r.Coverage {
			if !o.Covered && o.Part == c.Area && with(o) {
				x.With, x.WithIDs = append(x.With, o.Name), append(x.WithIDs, o.Area)
			}
		}
		out = append(out, x)
	}
	return out
}

// soFar is what stands in the job about an area that is not covered; empty: nothing.
func soFar(c inspect.Coverage) string {
	switch {
	case c.Fails != "":
		return c.Fails
	case c.State == job.StateNotReachable:
		return fmt.Sprintf("could not be reached (%s, %s)", c.By, c.On)
	}
	return ""
}

// reaches finds what reaching one area alone takes, or says why the data give no way to it.
func (b *builder) reaches(x *ToInspect) (why, hint string) {
	if _, ok := b.in.Body.Casting(x.Casting); !ok {
		return fmt.Sprintf("the body has no casting %s", x.Casting), "check the body folder"
	}
	if len(x.Zones) == 0 || slices.Contains(x.Zones, "") {
		return "the body does not say in which zones all of it lies", "give its place in the body folder; until then see where it is, and reach it by hand"
	}
	k, _ := b.in.Body.Casting(x.Casting)
	if !slices.ContainsFunc(k.Zones, func(z body.Zone) bool { return b.hasAccess(string(z.ID)) }) {
		return fmt.Sprintf("access to no zone of %s is in the body", k.Name), reachHint
	}
	var unknown []string
	x.Bare = true
	for _, z := range x.Zones {
		why := b.reachUnknown(string(z))
		bare := b.unhindered(string(z))
		if why == "" && x.barred && bare {
			why = fmt.Sprintf("zone %s %s, and the body lists nothing in its way", z, x.So)
		}
		x.Bare = x.Bare && bare
		if why != "" {
			unknown = append(unknown, why)
		}
	}
	if len(unknown) > 0 {
		return strings.Join(unknown, "; "), reachHint
	}
	q, many := b.cheapest(nil, goalsOf(*x))
	switch {
	case q.model == nil:
		return fmt.Sprintf("%d parts could be in its way; the search takes %d", many, maxParts), "see whether 'access' in the body folder asks for more than it has to"
	case !q.found.ok:
		return "what is in its way cannot come off: parts wait for one another", "check the 'access' lists of the body"
	}
	x.Alone, x.Proven = minor(q.found.cost), q.found.proven
	for _, i := range q.found.set.items() {
		x.Off = append(x.Off, q.model.ids[i])
	}
	return "", ""
}

// goalsOf is the zones of an area as goals of an opening.
func goalsOf(x ToInspect) []goal {
	var out []goal
	for _, z := range x.Zones {
		out = append(out, goal{to: string(z), name: "zone " + string(z), why: x.Area, casting: x.Casting})
	}
	return out
}
